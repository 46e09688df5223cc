//! How edges come to be, and what they are called by it.

use super::instruction::Instruction;
use super::titles::numbered_title;
use knit::edge::{Ease, EdgePlace, EdgeRange, EdgeUnit};
use knit::needle::Side;
use knit::program::{Action, CastOnMethod, Piece, Program, Step};
use knit::run::Run;

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
        made_edges(&piece.steps, &mut made);
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
        // Pieces that end alike may end in one edge.
        let others = || program.pieces.iter().filter(|other| other.name != piece.name);
        let mut others = others().filter(|other| makes(&other.steps, edge, |_| true));
        return if let Some(other) = others.next() {
            let other = other.title.to_lowercase();
            let loops = words_of(edge, &title);
            if other == title {
                format!("the {loops} loops of each {title}")
            } else {
                format!("the {loops} loops of the {title} and of each {other}")
            }
        } else if starts {
            format!("the cast-on edge of the {title}")
        } else if ends && scrapped == 1 {
            format!("the last row of the {title}")
        } else {
            format!("the {} loops of the {title}", words_of(edge, &title))
        };
    }
    format!("`{edge}`")
}

/// What loops that come off a piece are called later, where they are not all that come off it: "the neck
/// loops".
pub(super) fn called_later(piece: &Piece, edge: &str) -> Option<String> {
    let mut made = Vec::new();
    made_edges(&piece.steps, &mut made);
    let several = made.iter().filter(|(_, by)| *by == Origin::ScrapOff).count() > 1;
    let words = words_of(edge, &piece.title.to_lowercase());
    (several && !words.is_empty()).then(|| format!("the {words} loops"))
}

/// An edge, or a stretch of one, after what the line already says.
pub(super) fn edge_words(
    line: Instruction,
    (program, run): (&Program, &Run),
    edge: &EdgeRange,
) -> Instruction {
    if let Some(group) = group_cast_off(program, run, edge) {
        return line.word(group);
    }
    let title = |piece: &str| numbered_title(program, piece);
    let (line, unit, counted) = match &edge.place {
        EdgePlace::Open(name) => {
            (line.word(edge_phrase(program, name)), EdgeUnit::Loops, " from the left")
        }
        EdgePlace::Selvedge(piece, side) => {
            let words = format!("the {side} selvedge of the {}", title(piece));
            (line.word(words), EdgeUnit::Rows, "")
        }
        EdgePlace::Inner(piece, side) => {
            let words = format!("the {side} inner edge of the {}", title(piece));
            (line.word(words), EdgeUnit::Rows, "")
        }
        // What the bed refused: numbers stand in its place otherwise.
        EdgePlace::Marked(marked) => {
            let words = format!("the {} selvedge of the {}", marked.side, title(&marked.piece));
            (line.word(words), EdgeUnit::Rows, "")
        }
        EdgePlace::CastOn(piece) => {
            let words = format!("the cast-on edge of the {}", title(piece));
            (line.word(words), EdgeUnit::Stitches, " from the left")
        }
        EdgePlace::CastOff(piece) => {
            let words = format!("the cast-off edge of the {}", title(piece));
            (line.word(words), EdgeUnit::Stitches, " from the left")
        }
    };
    let line = match (edge.from, edge.to) {
        (0, None) => return line,
        (from, Some(to)) if to == from + 1 => line.word(format!(" ({} ", unit.word(1))).figure(to),
        (from, Some(to)) => {
            line.word(format!(" ({} ", unit.word(2))).figure(from + 1).word(" to ").figure(to)
        }
        (from, None) => line.word(format!(" (from {} ", unit.word(1))).figure(from + 1).word(" on"),
    };
    line.word(format!("{counted})"))
}

/// What was cast off at once on one side of a piece that has cast off on both: to the knitter they are two
/// edges, however they are counted.
fn group_cast_off(program: &Program, run: &Run, edge: &EdgeRange) -> Option<String> {
    let (EdgePlace::CastOff(name), Some(to)) = (&edge.place, edge.to) else { return None };
    let closed = &run.piece(name)?.cast_off;
    let (mut left, mut right) = (0, 0);
    for part in closed {
        match part.needles.split() {
            (_, 0) => left += part.stitches,
            (0, _) => right += part.stitches,
            _ => return None,
        }
    }
    let side = match (edge.from, to) {
        _ if left == 0 || right == 0 => return None,
        (0, to) if to == left => Side::Left,
        (from, to) if from == left && to == left + right => Side::Right,
        _ => return None,
    };
    let stitches = EdgeUnit::Stitches.word(to - edge.from);
    let title = numbered_title(program, name);
    Some(format!("the {stitches} cast off on the {side} of the {title}"))
}

/// How an edge is eased into so many of something else, or the other way round: "2 rows to a loop".
pub(super) fn eased(one: (u32, &str), other: (u32, EdgeUnit)) -> String {
    let Some(ease) = Ease::of(one.0, other.0) else {
        return "one to one".to_owned();
    };
    let (single, of) = if one.0 < other.0 {
        (one.1.to_owned(), other.1.word(2).to_owned())
    } else {
        (other.1.word(1).to_owned(), format!("{}s", one.1).replace("stitchs", "stitches"))
    };
    let singular = of.strip_suffix("es").filter(|w| w.ends_with("ch")).or(of.strip_suffix('s'));
    let word = |count: u32| match (count, singular) {
        (1, Some(word)) => word.to_owned(),
        _ => of.clone(),
    };
    let each = format!("{} {} to a {single}", ease.each, word(ease.each));
    match ease.spare {
        0 => each,
        spare => format!("{each}, and {} at {spare} of them, spread evenly", ease.each + 1),
    }
}

/// How the loops of an edge come to wait.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Origin {
    WasteCastOn,
    /// Wound loosely: on no waste yarn.
    WoundCastOn,
    ScrapOff,
}

/// Edges that steps make, and how.
pub(super) fn made_edges<'a>(steps: &'a [Step], found: &mut Vec<(&'a str, Origin)>) {
    for step in steps {
        match &step.action {
            Action::CastOn { edge: Some(name), method: CastOnMethod::Waste, .. } => {
                found.push((name, Origin::WasteCastOn));
            }
            Action::CastOn { edge: Some(name), .. } => found.push((name, Origin::WoundCastOn)),
            Action::ScrapOff { edge, .. } => found.push((edge, Origin::ScrapOff)),
            Action::Repeat { steps, .. } => made_edges(steps, found),
            _ => {}
        }
    }
}

/// Whether these steps make the edge in a way that `how` takes.
pub(super) fn makes(steps: &[Step], edge: &str, how: impl Fn(Origin) -> bool) -> bool {
    let mut made = Vec::new();
    made_edges(steps, &mut made);
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
