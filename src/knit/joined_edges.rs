//! Which edges of a garment are joined, twice or not at all. No count is wrong where a seam is
//! forgotten or sewn to the wrong side: only its author can say, so she is told.

use std::collections::BTreeMap;

use super::edge::{EdgePlace, EdgeRange};
use super::needle::Side;
use super::program::{Action, Program, Step};
use super::run::{Deed, PieceRun, Run};

/// A stretch of an edge of a piece.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// Name of the piece.
    pub piece: String,
    /// Which edge of it, in words.
    pub edge: &'static str,
    /// Rows or stitches left out before it, from the cast-on or from the left.
    pub from: u32,
    /// Where it ends.
    pub to: u32,
}

/// What was found of the edges.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct JoinedEdges {
    /// Joined more than once; with the script's line of the later joining, 0 when unknown.
    pub twice: Vec<(u32, Stretch)>,
    /// Joined to nothing.
    pub free: Vec<Stretch>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Edge {
    Left,
    Right,
    CastOff,
}

impl Edge {
    const ALL: [Edge; 3] = [Edge::Left, Edge::Right, Edge::CastOff];

    const fn words(self) -> &'static str {
        match self {
            Edge::Left => "left selvedge",
            Edge::Right => "right selvedge",
            Edge::CastOff => "cast-off edge",
        }
    }

    const fn of(side: Side) -> Edge {
        match side {
            Side::Left => Edge::Left,
            Side::Right => Edge::Right,
        }
    }

    fn length(self, piece: &PieceRun) -> u32 {
        match self {
            Edge::Left => piece.rows_at_side(Side::Left),
            Edge::Right => piece.rows_at_side(Side::Right),
            Edge::CastOff => piece.cast_off.iter().map(|closed| closed.stitches).sum(),
        }
    }
}

/// By piece and edge: stretches that are joined, and the line that says so.
type Uses = BTreeMap<(String, Edge), Vec<(u32, u32, u32)>>;

/// Looks at every joining of the program, in order.
pub fn joined_edges(program: &Program, run: &Run) -> JoinedEdges {
    let mut uses = Uses::new();
    for piece in &program.pieces {
        picked_up(&piece.steps, run, &mut uses);
    }
    for step in &program.finishing {
        joined(step, run, &mut uses);
    }
    let mut found = JoinedEdges::default();
    for piece in &run.pieces {
        let hung = hung_side(piece);
        // Of a piece that nothing is sewn to there is nothing to tell.
        let sewn = Edge::ALL.iter().any(|edge| uses.contains_key(&(piece.name.clone(), *edge)));
        for edge in Edge::ALL {
            let stretch = |from: u32, to: u32| Stretch {
                piece: piece.name.clone(),
                edge: edge.words(),
                from,
                to,
            };
            let (length, mut upto) = (edge.length(piece), 0);
            let mut own = uses.remove(&(piece.name.clone(), edge)).unwrap_or_default();
            let mut met: Vec<(u32, u32)> = Vec::new();
            for (from, to, line) in &own {
                let over = met.iter().find_map(|(a, b)| {
                    let (a, b) = (*a.max(from), *b.min(to));
                    (a < b).then_some((a, b))
                });
                found.twice.extend(over.map(|(a, b)| (*line, stretch(a, b))));
                met.push((*from, *to));
            }
            if !sewn || hung.is_some_and(|side| Edge::of(side) == edge) {
                continue;
            }
            own.sort_unstable();
            for (from, to, _) in own.into_iter().chain([(length, length, 0)]) {
                if from > upto {
                    found.free.push(stretch(upto, from));
                }
                upto = upto.max(to);
            }
        }
    }
    found
}

/// The side at which an edge was hung while the piece grew.
fn hung_side(piece: &PieceRun) -> Option<Side> {
    let hung = piece.events.iter().find(|event| event.deed == Deed::Hang)?;
    let ends = piece.needles?;
    let (left, right) = (hung.needles.left.0 - ends.left.0, ends.right.0 - hung.needles.right.0);
    Some(if left < right { Side::Left } else { Side::Right })
}

fn picked_up(steps: &[Step], run: &Run, uses: &mut Uses) {
    for step in steps {
        match &step.action {
            Action::Repeat { steps, .. } => picked_up(steps, run, uses),
            Action::PickUp { edge, .. } => range(edge, step.line, run, uses),
            _ => {}
        }
    }
}

fn joined(step: &Step, run: &Run, uses: &mut Uses) {
    let mut whole = |piece: &str, side: Side| {
        let place = EdgePlace::Selvedge(piece.to_owned(), side);
        range(&EdgeRange { place, from: 0, to: None }, step.line, run, uses);
    };
    match &step.action {
        Action::Seam { first, second } => {
            whole(&first.0, first.1);
            whole(&second.0, second.1);
        }
        Action::SewOn { piece, side, .. } | Action::GatherSelvedge { piece, side } => {
            whole(piece, *side);
        }
        Action::Join { first, second, .. } => {
            range(first, step.line, run, uses);
            range(second, step.line, run, uses);
        }
        Action::Gather(edge) => range(edge, step.line, run, uses),
        _ => {}
    }
}

fn range(edge: &EdgeRange, line: u32, run: &Run, uses: &mut Uses) {
    let (name, kind) = match &edge.place {
        EdgePlace::Selvedge(piece, side) => (piece, Edge::of(*side)),
        EdgePlace::CastOff(piece) => (piece, Edge::CastOff),
        // Loops that are left over, and cast-on edges, which mostly stay free.
        EdgePlace::Open(_) | EdgePlace::CastOn(_) | EdgePlace::Inner(..) | EdgePlace::Marked(_) => {
            return;
        }
    };
    let Some(piece) = run.piece(name) else { return };
    let length = kind.length(piece);
    let (from, to) = (edge.from.min(length), edge.to.unwrap_or(length).min(length));
    uses.entry((name.clone(), kind)).or_default().push((from, to, line));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bed;
    use crate::machine::Machine;
    use crate::program::{CastOnMethod, Joint, Piece, Structure, Which};

    fn step(line: u32, action: Action) -> Step {
        Step { line, action }
    }

    /// A square of 20 stitches and 30 rows, cast off.
    fn square(name: &str) -> Piece {
        let span = "L10-R10".parse().expect("a span");
        let cast_on = Action::CastOn {
            span,
            structure: Structure::Plain,
            method: CastOnMethod::Wound,
            edge: None,
        };
        let steps = vec![
            step(1, cast_on),
            step(2, Action::Knit { rows: 30 }),
            step(3, Action::CastOff { which: Which::All }),
        ];
        Piece { name: name.into(), title: name.into(), section: "all".into(), steps }
    }

    fn seam(
        line: u32,
        a: (&str, Side, u32, Option<u32>),
        b: (&str, Side, u32, Option<u32>),
    ) -> Step {
        let edge = |(piece, side, from, to): (&str, Side, u32, Option<u32>)| EdgeRange {
            place: EdgePlace::Selvedge(piece.to_owned(), side),
            from,
            to,
        };
        step(line, Action::Join { how: Joint::Seam, first: edge(a), second: edge(b) })
    }

    #[test]
    fn what_is_joined_twice_and_what_is_free_is_found() {
        let finishing = vec![
            seam(11, ("front", Side::Left, 0, Some(20)), ("back", Side::Right, 0, Some(20))),
            seam(12, ("front", Side::Left, 15, None), ("back", Side::Left, 15, None)),
        ];
        let program = Program {
            pieces: vec![square("front"), square("back")],
            finishing,
            ..Program::default()
        };
        let run = bed::run(&program, &Machine::new("test", "Test bed", 4.5, 100, false));
        let found = joined_edges(&program, &run);
        let told = |s: &Stretch| format!("{} {} {}-{}", s.piece, s.edge, s.from, s.to);
        let twice: Vec<(u32, String)> = found.twice.iter().map(|(n, s)| (*n, told(s))).collect();
        assert_eq!(twice, [(12, "front left selvedge 15-20".to_owned())]);
        let free: Vec<String> = found.free.iter().map(told).collect();
        assert_eq!(
            free,
            [
                "front right selvedge 0-30",
                "front cast-off edge 0-20",
                "back left selvedge 0-15",
                "back right selvedge 20-30",
                "back cast-off edge 0-20",
            ]
        );
        // A piece that nothing is sewn to is meant to be free.
        let alone = Program { pieces: vec![square("scarf")], ..Program::default() };
        let run = bed::run(&alone, &Machine::new("test", "Test bed", 4.5, 100, false));
        assert_eq!(joined_edges(&alone, &run), JoinedEdges::default());
    }
}
