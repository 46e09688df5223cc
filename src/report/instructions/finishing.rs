//! Words for what is done off the bed.

use super::edges::{Origin, eased, edge_phrase, edge_words, makes, on_waste_yarn};
use super::instruction::{Instruction, note};
use super::sewing_ends::{From, SewingEnd, Use, about};
use super::step_data::{both_steps, finishing_step, same_again};
use super::titles::numbered_title;
use knit::edge::{EdgeLength, EdgePlace, EdgeRange};
use knit::program::{Action, Block, Joint, Piece, Program, Step};
use knit::run::{JoinRun, Run};
use units::LengthUnit;

/// The finishing of a pair is told once where its halves read alike, as is a step that is done to
/// one and then to the other.
pub(super) fn said_once(mut lines: Vec<Instruction>) -> Vec<Instruction> {
    let same = "Do the same with the other one.";
    let half = lines.len() / 2;
    if half > 0 && lines.len().is_multiple_of(2) && lines[..half] == lines[half..] {
        let others = lines.split_off(half);
        let others = others.into_iter().filter_map(|line| line.step.0).collect();
        lines.push(Instruction::new(0, true).word(same).with_step(same_again(others)));
        return lines;
    }
    let mut told: Vec<Instruction> = Vec::new();
    for line in lines {
        match told.last_mut() {
            Some(last) if *last == line => {
                // The data is of both: what is written once is still done twice.
                let both = [last.step.0.take(), line.step.0.clone()].into_iter().flatten();
                *last = line.word(format!(" {same}")).with_step(both_steps(both.collect()));
            }
            _ => told.push(line),
        }
    }
    told
}

/// The finishing step of that number, from 0. `ends` are those of all steps.
pub(crate) fn finishing_line(
    number: usize,
    program: &Program,
    run: &Run,
    ends: &[Option<SewingEnd>],
    unit: LengthUnit,
) -> Instruction {
    let Some(step) = program.finishing.get(number) else { return Instruction::new(0, true) };
    let joined = u32::try_from(number).ok().and_then(|number| run.joins.get(&number));
    let line = match (&step.action, joined) {
        (Action::Join { how, first, second }, Some(joined)) => {
            join(*how, (first, second), joined, (program, run))
        }
        (Action::Gather(edge), Some(joined)) => gather(edge, joined, (program, run)),
        (action, _) => finishing_words(action, program, run, unit),
    };
    let line = match ends.get(number).and_then(Option::as_ref) {
        Some(end) => sewn_with(line, end, unit),
        None => line,
    };
    line.with_step(finishing_step(&step.action, joined))
}

/// Which end it is sewn with; none for the one that hangs there.
fn sewn_with(line: Instruction, end: &SewingEnd, unit: LengthUnit) -> Instruction {
    match &end.from {
        From::TakenOff(_) | From::Rejoined(_) if end.to == Use::Seam => {
            line.word(" Sew with the end that hangs there.")
        }
        From::TakenOff(_) | From::Rejoined(_) | From::Wound => line,
        From::CastOn(_) => line.word(" Sew with the end at the cast-on edge."),
        From::Same(_) => line.word(" Sew with what is left of the same end."),
        From::Own => about(line.word(" Take "), end.mm, unit).word(" of the yarn for it."),
    }
}

/// Past the turn of a piece in short rows the loops of its two ends don't lie alike.
fn apart(program: &Program, first: &str, second: &str) -> &'static str {
    let begins = |piece: &&Piece| {
        let made = |edge: &str, how: Origin| makes(&piece.steps, edge, |by| by == how);
        (made(first, Origin::WasteCastOn) && made(second, Origin::ScrapOff))
            || (made(second, Origin::WasteCastOn) && made(first, Origin::ScrapOff))
    };
    match program.pieces.iter().find(begins) {
        Some(piece) if holds(&piece.steps) => {
            " Past the turn to the top the loops of one edge may stand farther apart than the other's: \
             go on loop for loop."
        }
        _ => "",
    }
}

fn holds(steps: &[Step]) -> bool {
    steps.iter().any(|step| match &step.action {
        Action::Hold(_) => true,
        Action::Repeat { steps, .. } => holds(steps),
        _ => false,
    })
}

/// Two edges joined, the longer eased into the shorter.
fn join(
    how: Joint,
    (first, second): (&EdgeRange, &EdgeRange),
    joined: &JoinRun,
    (program, run): (&Program, &Run),
) -> Instruction {
    let line = Instruction::new(0, true);
    let (begin, to) = match how {
        Joint::Graft => ("Graft ", " to "),
        Joint::Seam => ("Sew ", " to "),
        Joint::SewOn => ("Sew ", " on along "),
    };
    let line = edge_words(line.word(begin), (program, run), first).word(to);
    let line = edge_words(line, (program, run), second).word(": ");
    let a = joined.first;
    // Numbers apart from their words: sizes that differ in numbers alone are told in one line.
    let counted = |line: Instruction, of: EdgeLength| {
        line.figure(of.count).word(format!(" {}", of.unit.word(of.count)))
    };
    let line = counted(line, a);
    let line = match joined.second {
        Some(b) if a == b => line.word(", one to one"),
        Some(b) => counted(line.word(" to "), b)
            .word(", ")
            .figure(eased((a.count, a.unit.word(1)), (b.count, b.unit))),
        None => line,
    };
    let waste = [first, second].into_iter().any(|edge| on_waste(program, edge));
    let line = line.word(if waste { ". Take the waste yarn out as you go." } else { "." });
    match (how, &first.place, &second.place) {
        (Joint::Graft, EdgePlace::Open(first), EdgePlace::Open(second)) => {
            line.word(apart(program, first, second))
        }
        _ => line,
    }
}

fn on_waste(program: &Program, edge: &EdgeRange) -> bool {
    matches!(&edge.place, EdgePlace::Open(name) if on_waste_yarn(program, name))
}

fn gather(edge: &EdgeRange, joined: &JoinRun, knitted: (&Program, &Run)) -> Instruction {
    let line = Instruction::new(0, true).word("Draw an end through ");
    let length = joined.first;
    edge_words(line, knitted, edge)
        .word(", ")
        .figure(length.count)
        .word(format!(" {}", length.unit.word(length.count)))
        .word(", go round once more and a stitch or two farther, pull it tight and fasten it off.")
}

fn finishing_words(action: &Action, program: &Program, run: &Run, unit: LengthUnit) -> Instruction {
    let line = Instruction::new(0, true);
    let title = |name: &str| numbered_title(program, name);
    match action {
        Action::Graft { first, second } => line
            .word(format!(
                "Graft {} to {}, loop to loop: ",
                edge_phrase(program, first),
                edge_phrase(program, second)
            ))
            .figure(run.edge(first).map_or(0, |e| e.loops))
            .word(if on_waste_yarn(program, first) || on_waste_yarn(program, second) {
                " loops. Take the waste yarn out as you go."
            } else {
                " loops."
            })
            .word(apart(program, first, second)),
        Action::GatherEdge { edge } => line
            .word(format!("Draw an end through {}, ", edge_phrase(program, edge)))
            .figure(run.edge(edge).map_or(0, |e| e.loops))
            .word(" loops, go round once more and a stitch or two farther, pull it tight and fasten it off."),
        Action::GatherSelvedge { piece, side } => line.word(format!(
            "Run an end through the edge stitches along the {side} selvedge of the {}, go \
             round once more and a stitch or two farther, pull it tight to close that end, and fasten it \
             off.",
            title(piece)
        )),
        Action::Seam { first, second } if first.0 == second.0 => line
            .word(format!("Sew the two selvedges of the {} together, row to row: ", title(&first.0)))
            .figure(run.piece(&first.0).map_or(0, |p| p.rows_at_side(first.1)))
            .word(" rows."),
        Action::Seam { first, second } => line.word(format!(
            "Sew the {} selvedge of the {} to the {} selvedge of the {}, row to row.",
            first.1,
            title(&first.0),
            second.1,
            title(&second.0)
        )),
        Action::SewOn { edge, piece, side } => line
            .word(format!(
                "Sew {} on along the {side} side of the {}: ",
                edge_phrase(program, edge),
                title(piece)
            ))
            .figure(run.edge(edge).map_or(0, |e| e.loops))
            .word(" loops spread evenly along ")
            .figure(run.piece(piece).map_or(0, |p| p.rows_at_side(*side)))
            .word(" rows."),
        Action::Block(block) => block_line(line, block, unit),
        Action::Note(text) => note(line, text),
        // On the bed, not off it: the bed has refused it, so there is no pattern to print.
        _ => line,
    }
}

fn block_line(line: Instruction, block: &Block, unit: LengthUnit) -> Instruction {
    let line = line.word(format!("Block on {}", block.form));
    let line = match block.width_mm {
        Some(mm) => {
            line.word(", ").figure(unit.cell(mm)).word(format!(" {} across", unit.symbol()))
        }
        None => line,
    };
    let line = line.word(if block.steam { ", with steam." } else { "." });
    if block.note.is_empty() { line } else { line.word(" ").word(block.note.clone()) }
}
