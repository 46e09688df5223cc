use super::Gauged;
use crate::edge::EdgePlace;
use crate::garment::{Extent, Garment, MeasuredPart};
use crate::machine::Machine;
use crate::needle::Side;
use crate::program::Action;
use crate::run::Run;

/// Two sides that are sewn together, of which one comes out longer than it was meant to.
#[derive(Clone, Debug, PartialEq)]
pub struct Uneven {
    /// The piece that comes out longer, as the pattern calls it.
    pub longer: String,
    /// The piece it is sewn to.
    pub shorter: String,
    /// By which share more than before.
    pub by: f64,
}

/// A share that goes into a seam unseen (common practice, no source).
const UNSEEN: f64 = 0.015;

/// Sides sewn together that went well with each other at the gauge before, and don't now.
pub fn uneven_joins(
    garment: &Garment,
    run: &Run,
    machine: &Machine,
    (before, now): (Gauged<'_>, Gauged<'_>),
) -> Vec<Uneven> {
    let mut found: Vec<Uneven> = Vec::new();
    for step in &garment.program.finishing {
        let Some((first, second)) = sides_of(&step.action) else { continue };
        let ratio = |gauged: Gauged<'_>| {
            let mm = |side: PieceSide<'_>| length(side, run, machine, gauged);
            mm(first).zip(mm(second)).filter(|(_, b)| *b > 0.0).map(|(a, b)| a / b)
        };
        let Some((was, is)) = ratio(before).zip(ratio(now)) else { continue };
        let by = is / was - 1.0;
        if by.abs() <= UNSEEN {
            continue;
        }
        let (longer, shorter) = if by > 0.0 { (first.0, second.0) } else { (second.0, first.0) };
        let title = |name: &str| run.piece(name).map_or(name, |piece| &piece.title).to_owned();
        let by = if by > 0.0 { by } else { was / is - 1.0 };
        let one = Uneven { longer: title(longer), shorter: title(shorter), by };
        if found.iter().all(|known| (&known.longer, &known.shorter) != (&one.longer, &one.shorter))
        {
            found.push(one);
        }
    }
    found
}

/// A side of the piece of that name.
type PieceSide<'a> = (&'a str, Side);

/// The sides of pieces that a step joins.
fn sides_of(action: &Action) -> Option<(PieceSide<'_>, PieceSide<'_>)> {
    match action {
        Action::Seam { first, second } => Some(((&first.0, first.1), (&second.0, second.1))),
        Action::Join { first, second, .. } => match (&first.place, &second.place) {
            (EdgePlace::Selvedge(a, left), EdgePlace::Selvedge(b, right)) => {
                Some(((a, *left), (b, *right)))
            }
            _ => None,
        },
        _ => None,
    }
}

fn length(
    (piece, side): PieceSide<'_>,
    run: &Run,
    machine: &Machine,
    gauged: Gauged<'_>,
) -> Option<f64> {
    let part = MeasuredPart {
        piece: piece.to_owned(),
        what: Extent::RowsAt(side),
        times: 1.0,
        structure: None,
    };
    let mut parts = Vec::with_capacity(2);
    gauged.add_parts(&part, (run, machine), &mut parts)?;
    Some(parts.iter().map(crate::estimate::FinishedPart::mm).sum())
}
