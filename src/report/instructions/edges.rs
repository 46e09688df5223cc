//! How edges come to be, and what they are called by it.

use knit::program::{Action, CastOnMethod, Program, Step};

/// Names an edge by the piece whose steps make it; by its own name too, where the piece has
/// several that come off it.
pub(super) fn edge_phrase(program: &Program, edge: &str) -> String {
    for piece in &program.pieces {
        let title = piece.title.to_lowercase();
        // A name that the piece itself bears needs no end to it.
        if piece.name == edge || piece.name.starts_with(&format!("{edge}-")) {
            return format!("the {title}");
        }
        let mut made = Vec::new();
        edges_made(&piece.steps, &mut made);
        if !made.iter().any(|(name, _)| *name == edge) {
            continue;
        }
        // Only the outer ends of a piece are named by what they are.
        let scrapped = made.iter().filter(|(_, by)| *by == Origin::ScrapOff).count();
        let bed_step = |step: &&Step| !matches!(step.action, Action::Note(_) | Action::Mark(_));
        let starts = piece.steps.iter().find(bed_step).is_some_and(
            |s| matches!(&s.action, Action::CastOn { edge: Some(name), .. } if name == edge),
        );
        let ends = piece.steps.iter().rfind(bed_step).is_some_and(
            |s| matches!(&s.action, Action::ScrapOff { edge: name, .. } if name == edge),
        );
        return if starts {
            format!("the cast-on edge of the {title}")
        } else if ends && scrapped == 1 {
            format!("the last row of the {title}")
        } else {
            format!("the {} loops of the {title}", words_of(edge, &title))
        };
    }
    format!("`{edge}`")
}

/// How the loops of an edge come to wait.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Origin {
    WasteCastOn,
    /// Wound loosely: on no waste yarn.
    WoundCastOn,
    ScrapOff,
}

/// Edges that steps make, and how.
fn edges_made<'a>(steps: &'a [Step], found: &mut Vec<(&'a str, Origin)>) {
    for step in steps {
        match &step.action {
            Action::CastOn { edge: Some(name), method: CastOnMethod::Waste, .. } => {
                found.push((name, Origin::WasteCastOn));
            }
            Action::CastOn { edge: Some(name), .. } => found.push((name, Origin::WoundCastOn)),
            Action::ScrapOff { edge, .. } => found.push((edge, Origin::ScrapOff)),
            Action::Repeat { steps, .. } => edges_made(steps, found),
            _ => {}
        }
    }
}

/// Whether these steps make the edge in a way that `how` takes.
pub(super) fn makes(steps: &[Step], edge: &str, how: impl Fn(Origin) -> bool) -> bool {
    let mut made = Vec::new();
    edges_made(steps, &mut made);
    made.iter().any(|(name, by)| *name == edge && how(*by))
}

/// Whether the loops of an edge wait on waste yarn.
pub(super) fn on_waste_yarn(program: &Program, edge: &str) -> bool {
    program.pieces.iter().any(|piece| makes(&piece.steps, edge, |by| by != Origin::WoundCastOn))
}

/// A name as words, without numbers and without the words of `title`: `left-toe-2` of the left
/// foot is "toe".
pub(super) fn words_of(name: &str, title: &str) -> String {
    name.split(['-', '_'])
        .filter(|word| word.parse::<u32>().is_err() && !title.split(' ').any(|t| t == *word))
        .collect::<Vec<_>>()
        .join(" ")
}
