//! A piece in as few lines as say it all: what `rounds` found, in words.

use super::chapter::repeated;
use super::edges::called_later;
use super::instruction::{Count, Instruction};
use super::piece_words::PieceWords;
use super::remarks::Remarks;
use super::rounds::{Doing, Leaf, Node, Place, folded, paired};
use super::say::under_yarn;
use super::shaping::{Shaped, made, needle_word, taken_in};
use super::turns::Turns;
use super::words::{counter, first_and_last, needles, side_code, stitches_left};
use knit::bed::step_size;
use knit::needle::Side;
use knit::program::{Action, Step, Transfer};
use knit::run::{Moment, StepTrace};

/// Row counters that are listed; a longer list is told by its step and its end.
const MOST_STOPS: usize = 12;
/// Steps of a repeat that is folded with what stands beside it.
const MOST_STEPS: usize = 16;

impl<'a> PieceWords<'a> {
    /// Steps as nodes; what was never reached, or says nothing, is left out.
    pub(super) fn nodes<'s>(&self, steps: &'s [Step], first_id: usize) -> Vec<Node<'s>> {
        let mut nodes = Vec::new();
        let mut id = first_id;
        for step in steps {
            let trace = &self.knitted.traces[id];
            match &step.action {
                _ if trace.first.is_none() || trace.after.is_none() => {}
                Action::CarriageAt(_) | Action::Mark(_) | Action::Repeat { times: 0, .. } => {}
                Action::Repeat { times: 1, steps } => nodes.extend(self.nodes(steps, id + 1)),
                Action::Repeat { times, steps } => nodes.push(self.rounds(step, *times, steps, id)),
                _ => nodes.push(match Leaf::of(step, id, trace) {
                    Some(leaf) => Node::Leaf(leaf),
                    None => Node::Step(step, id),
                }),
            }
            id += step_size(step);
        }
        nodes
    }

    /// A repeat; one that is counted by a name keeps it.
    fn rounds<'s>(&self, step: &'s Step, times: u32, steps: &'s [Step], id: usize) -> Node<'s> {
        let named = steps.first().is_some_and(|step| matches!(step.action, Action::Mark(_)));
        let inner = paired(self.nodes(steps, id + 1));
        let leaves: Option<Vec<Leaf<'s>>> = inner
            .into_iter()
            .map(|node| if let Node::Leaf(leaf) = node { Some(leaf) } else { None })
            .collect();
        match leaves {
            Some(leaves) if !named && (1..=MOST_STEPS).contains(&leaves.len()) => {
                Node::Rounds { times, leaves }
            }
            _ => Node::Step(step, id),
        }
    }

    /// Writes steps out, folded.
    pub(super) fn tell(
        &self,
        nodes: Vec<Node<'_>>,
        depth: usize,
        inside: bool,
        lines: &mut Vec<Instruction>,
    ) {
        let nodes = folded(nodes);
        let mut at = 0;
        while at < nodes.len() {
            at += self.tell_next(&nodes[at..], depth, inside, lines);
        }
    }

    /// The same at the top of a piece, with what is to be minded before each of them.
    pub(super) fn tell_minded(
        &self,
        nodes: Vec<Node<'_>>,
        remarks: &mut Remarks,
        lines: &mut Vec<Instruction>,
    ) {
        let nodes = folded(nodes);
        let mut at = 0;
        while let Some(node) = nodes.get(at) {
            remarks.tell(nodes.get(at + 1).map_or(node.end(), Node::first), lines);
            at += self.tell_next(&nodes[at..], 0, false, lines);
        }
    }

    /// Writes out the first of the nodes, and those that are told in its line. How many it were.
    fn tell_next(
        &self,
        nodes: &[Node<'_>],
        depth: usize,
        inside: bool,
        lines: &mut Vec<Instruction>,
    ) -> usize {
        match nodes.first() {
            Some(Node::Leaf(leaf)) => lines.extend(self.leaf(leaf, depth, inside)),
            Some(Node::Rounds { times, leaves }) => {
                self.tell_rounds(*times, leaves, depth, inside, lines);
            }
            Some(Node::Step(step, id)) => {
                let more = self.tell_several(nodes, depth, inside, lines);
                if more > 1 {
                    return more;
                }
                self.tell_step(step, *id, depth, inside, lines);
            }
            None => {}
        }
        1
    }

    fn tell_step(
        &self,
        step: &Step,
        id: usize,
        depth: usize,
        inside: bool,
        lines: &mut Vec<Instruction>,
    ) {
        let trace = &self.knitted.traces[id];
        let (Some(first), Some(last), Some(after)) = (trace.first, trace.last, trace.after) else {
            return;
        };
        let Action::Repeat { times, steps } = &step.action else {
            let line = self.at(depth, trace, first, inside);
            lines.extend(self.say(line, &step.action, trace, first, after, inside));
            return;
        };
        lines.push(repeated(self.at(depth, trace, first, inside), *times, steps));
        self.tell(self.nodes(steps, id + 1), depth + 1, true, lines);
        let rows = after.counter.saturating_sub(last.counter);
        if rows > 0 && trace.by_hand.is_none() {
            let each = if rows.is_multiple_of(*times) { Some(rows / times) } else { None };
            let each = each.map(|rows| Turns::of(rows, *times));
            lines.push(stops(depth + 1, each.as_ref(), rows, first, after, inside));
        }
    }

    fn tell_rounds(
        &self,
        times: u32,
        leaves: &[Leaf<'_>],
        depth: usize,
        inside: bool,
        lines: &mut Vec<Instruction>,
    ) {
        let (Some(begin), Some(end)) = (leaves.first(), leaves.last()) else { return };
        let (Some(first), Some(after)) = (begin.trace.first, end.trace.after) else { return };
        // The repeat as a whole is reached once, where it stands in no other.
        let whole = StepTrace { either_side: inside && begin.trace.either_side, ..begin.trace };
        lines.push(repeated(self.at(depth, &whole, first, inside), times, &[]));
        for leaf in leaves {
            lines.extend(self.leaf(leaf, depth + 1, true));
        }
        let each = rows_a_round(leaves, times);
        let rows = each
            .runs()
            .iter()
            .fold(0u32, |all, (rows, times)| all.saturating_add(rows.saturating_mul(*times)));
        if rows > 0 {
            lines.push(stops(depth + 1, Some(&each), rows, first, after, inside));
        }
    }

    fn leaf(&self, leaf: &Leaf<'_>, depth: usize, inside: bool) -> Option<Instruction> {
        let (first, after) = (leaf.trace.first?, leaf.trace.after?);
        let line = self.at(depth, &leaf.trace, first, inside);
        Some(match (leaf.doing, leaf.own) {
            (Doing::Knit, _) => {
                let line = knit(line, leaf, first);
                match inside {
                    true => line.word("."),
                    false => line
                        .word(". RC ")
                        .figure(counter(after.counter))
                        .word(format!(", {}.", side_code(after.carriage))),
                }
            }
            (Doing::Hold, _) => {
                let line = told(line.word("Push "), &leaf.counts, ends);
                let line =
                    line.word(format!("{} to holding position, hold lever on", at(leaf.place)));
                dealt_with(line, leaf).word(".")
            }
            (Doing::Return, _) => {
                let line = told(line.word("Bring "), &leaf.counts, nearest);
                let line = line.word(format!("{} back to upper working position", at(leaf.place)));
                under_yarn(dealt_with(line, leaf).word("."), &leaf.trace)
            }
            (_, Some(own)) => {
                return self.say(line, &own.action, &leaf.trace, first, after, inside);
            }
            (Doing::Wrap, _) => {
                let line = line
                    .word("Wrap: lay the yarn under the next held needle, so that no slit stays");
                dealt_with(line, leaf).word(".")
            }
            (Doing::Decrease, _) => {
                let line = told(line.word("Take "), &leaf.counts, stitches);
                let each = if leaf.counts.one() == Some(1) { "" } else { ", a stitch at a time" };
                let line = line.word(format!(
                    " in{}: move the end stitch to its neighbour and push the empty needle back to \
                     non-working position{each}",
                    at(leaf.place)
                ));
                stitches_left(dealt_with(line, leaf).word("."), &leaf.trace)
            }
            (Doing::Narrow, _) => {
                let line = narrowed(line, leaf);
                stitches_left(dealt_with(line, leaf).word("."), &leaf.trace)
            }
            (Doing::Increase | Doing::Widen, _) => {
                let line = widened(line, leaf);
                stitches_left(dealt_with(line, leaf).word("."), &leaf.trace)
            }
        })
    }

    /// Loops moved one after the other, or taken off group by group, in one line. How many steps
    /// it tells; none where the first stands alone.
    fn tell_several(
        &self,
        nodes: &[Node<'_>],
        depth: usize,
        inside: bool,
        lines: &mut Vec<Instruction>,
    ) -> usize {
        let steps = nodes.iter().map_while(|node| match node {
            Node::Step(step, id) => Some((*step, &self.knitted.traces[*id])),
            _ => None,
        });
        let steps: Vec<(&Step, &StepTrace)> = steps.collect();
        let Some((first, trace)) = steps.first() else { return 0 };
        let Some(moment) = trace.first else { return 0 };
        let at_once = |other: &StepTrace| (other.first, other.last) == (trace.first, trace.last);
        let line = self.at(depth, trace, moment, inside);
        if let Some(model) = moved(first) {
            let all = steps.iter().map_while(|(step, trace)| {
                let same = moved(step).filter(|_| at_once(trace))?;
                (same.eyelets == model.eyelets)
                    .then(|| format!("{} to {}", same.from.span, same.to.span))
            });
            let all: Vec<String> = all.collect();
            if all.len() > 1 {
                lines.push(moved_loops(line, &all, model.eyelets));
            }
            return all.len();
        }
        let all = steps.iter().map_while(|(step, trace)| {
            let partly = trace.in_work > 0 && !trace.broken && at_once(trace);
            let Action::ScrapOff { edge, .. } = &step.action else { return None };
            let called = || self.own().and_then(|piece| called_later(piece, edge));
            partly.then(|| (needles(trace), called()))
        });
        let all: Vec<(String, Option<String>)> = all.collect();
        if all.len() > 1 {
            lines.push(taken_off(line, &all));
        }
        all.len()
    }
}

/// A move of one loop on the main bed.
fn moved(step: &Step) -> Option<&Transfer> {
    match &step.action {
        Action::Transfer(moved)
            if !moved.from.ribber && !moved.to.ribber && moved.from.span.len() == 1 =>
        {
            Some(moved)
        }
        _ => None,
    }
}

fn moved_loops(line: Instruction, moves: &[String], eyelets: bool) -> Instruction {
    let line = line.word("Move one loop after the other: ").list(&[moves.join(", ")]);
    line.word(if eyelets {
        ". Leave the emptied needles in working position: the next row makes an eyelet on each."
    } else {
        ". Push the emptied needles back to non-working position."
    })
}

/// Groups of needles, and what their loops are called later, where that tells them apart.
fn taken_off(line: Instruction, groups: &[(String, Option<String>)]) -> Instruction {
    let alike = groups.windows(2).all(|two| two[0].1 == two[1].1);
    let told = groups.iter().map(|(needles, called)| match called {
        Some(called) if !alike => format!("{needles} ({called})"),
        _ => needles.clone(),
    });
    let groups: Vec<String> = told.collect();
    line.word("Leave the yarn hanging. Group after group knit ")
        .figure(knit::bed::WASTE_ROWS)
        .word(" rows of waste yarn over these needles only and take those loops off: ")
        .list(&[groups.join(", then ")])
        .word(". They wait on the waste yarn. Push the empty needles back to non-working position.")
}

/// The words of a count that is the same in all rounds, or of its turns.
fn told(line: Instruction, counts: &Turns, count: fn(u32) -> Count) -> Instruction {
    match counts.one() {
        Some(one) => line.count(count(one)),
        None => line.list(&[counts.told(|n| count(n).text(), &count(0).many)]),
    }
}

fn ends(n: u32) -> Count {
    Count { n, one: "the end needle".into(), before: "the ".into(), many: " end needles".into() }
}

fn nearest(n: u32) -> Count {
    let one = "the nearest held needle".into();
    Count { n, one, before: "the nearest ".into(), many: " held needles".into() }
}

fn stitches(n: u32) -> Count {
    Count { n, one: "1".into(), before: String::new(), many: String::new() }
}

fn knit(line: Instruction, leaf: &Leaf<'_>, first: Moment) -> Instruction {
    let rows =
        |n: u32| Count { n, one: "1 row".into(), before: String::new(), many: " rows".into() };
    let line = line.word("Knit ");
    match leaf.counts.one() {
        Some(1) if !leaf.trace.either_side => {
            let one = format!("1 row to the {}", first.carriage.other());
            line.count(Count { one, ..rows(1) })
        }
        Some(n) => line.count(rows(n)),
        None => line.list(&[leaf.counts.told(|n| rows(n).text(), " rows")]),
    }
}

fn at(place: Place) -> &'static str {
    match place {
        Place::Anywhere => "",
        Place::At(Side::Left) => " on the left",
        Place::At(Side::Right) => " on the right",
        Place::Both => " on each side",
        Place::Near => " on the side where the carriage is",
        Place::Far => " on the side away from the carriage",
    }
}

/// Which needles, the first and the last time; of both sides, each by itself.
fn dealt_with(line: Instruction, leaf: &Leaf<'_>) -> Instruction {
    let on = |line: Instruction, track: &super::rounds::Track| {
        if track.first == track.last {
            line.figure(track.first)
        } else {
            line.word("first ").figure(track.first).word(", last ").figure(track.last)
        }
    };
    match leaf.tracks.as_slice() {
        [] if leaf.place == Place::Both => line,
        [] => first_and_last(line, &leaf.trace),
        [one] => on(line.word(": "), one),
        [one, rest @ ..] => {
            let line = on(line.word(format!(": on the {} ", one.side)), one);
            rest.iter()
                .fold(line, |line, track| on(line.word(format!("; on the {} ", track.side)), track))
        }
    }
}

fn narrowed(line: Instruction, leaf: &Leaf<'_>) -> Instruction {
    let place = at(leaf.place);
    if let (Some(count), Some(inset)) = (leaf.counts.one(), leaf.insets.one()) {
        return taken_in(line, Shaped { place, count, inset });
    }
    let line = told(line.word("Take "), &leaf.counts, taken).word(format!(" in{place}"));
    inset(line, &leaf.insets).word(
        ": move the working stitches that lie outside, together, inwards over as many needles, onto \
         the stitches there, and push the emptied needles back to non-working position",
    )
}

fn taken(n: u32) -> Count {
    Count { n, one: "1 stitch".into(), before: String::new(), many: " stitches".into() }
}

fn inset(line: Instruction, insets: &Turns) -> Instruction {
    match insets.one() {
        Some(0) => line,
        Some(inset) => line.word(", ").figure(inset).word(" in from the end"),
        None => {
            line.word(", in from the end ").list(&[insets.told(|n| taken(n).text(), " stitches")])
        }
    }
}

fn widened(line: Instruction, leaf: &Leaf<'_>) -> Instruction {
    let place = at(leaf.place);
    let outside = leaf.insets.one() == Some(0);
    match (leaf.counts.one(), leaf.insets.one()) {
        (Some(count), Some(inset)) => made(line, Shaped { place, count, inset }),
        (None, _) if outside => told(line.word("Bring "), &leaf.counts, empty).word(format!(
            " beside the last working stitch{place} into work, winding the yarn round each; where \
             the carriage is on the other side, a length of spare yarn"
        )),
        _ => {
            let line = told(line.word("Make "), &leaf.counts, taken).word(place);
            inset(line, &leaf.insets).word(format!(
                ": move the working stitches that lie outside, together, outwards over as many \
                 needles, and hang the loop below the neighbouring stitch on the {} left empty amid \
                 the fabric",
                needle_word(leaf.counts.one().unwrap_or(2))
            ))
        }
    }
}

fn empty(n: u32) -> Count {
    Count { n, one: "1 empty needle".into(), before: String::new(), many: " empty needles".into() }
}

/// Rows of each of so many rounds: those of all steps that knit.
fn rows_a_round(leaves: &[Leaf<'_>], times: u32) -> Turns {
    let knits = leaves.iter().filter(|leaf| leaf.doing == Doing::Knit);
    let mut knits: Vec<Vec<(u32, u32)>> = knits
        .map(|leaf| match leaf.counts.one() {
            Some(rows) => vec![(rows, times)],
            None => leaf.counts.runs().iter().rev().copied().collect(),
        })
        .collect();
    let mut each = Turns::none();
    let mut left = times;
    while left > 0 && !knits.is_empty() {
        // Rounds up to the next change in any of them.
        let now: Vec<(u32, u32)> = knits.iter().filter_map(|runs| runs.last().copied()).collect();
        let rounds = now.iter().map(|(_, times)| *times).fold(left, u32::min).max(1);
        each.join(now.iter().fold(0, |all, (rows, _)| all.saturating_add(*rows)), rounds);
        for runs in &mut knits {
            match runs.last_mut() {
                Some((_, times)) if *times > rounds => *times -= rounds,
                _ => drop(runs.pop()),
            }
        }
        left = left.saturating_sub(rounds);
    }
    each
}

/// Where the row counter stands after each round of a repeat, or how many rows it was.
fn stops(
    depth: usize,
    each: Option<&Turns>,
    rows: u32,
    first: Moment,
    after: Moment,
    inside: bool,
) -> Instruction {
    let line = Instruction::new(depth, false).told_by_size();
    let side = side_code(after.carriage);
    let Some(each) = each.filter(|_| !inside) else {
        return line.word("That is ").figure(rows).word(format!(" rows; carriage then {side}."));
    };
    let rounds: u32 = each.runs().iter().map(|(_, times)| *times).sum();
    if let Some(round) = each.one().filter(|_| rounds as usize > MOST_STOPS) {
        return line
            .word("The row counter goes up by ")
            .figure(round)
            .word(" each round, to ")
            .figure(counter(after.counter))
            .word(format!("; carriage then {side}."));
    }
    let mut stands = first.counter;
    let mut stops = Vec::new();
    for (rows, times) in each.runs() {
        for _ in 0..*times {
            stands = stands.saturating_add(*rows);
            stops.push(counter(stands));
        }
    }
    let line = line.word("The row counter shows ").list(&stops).word(" after each round");
    // An odd round ends on either side in turn.
    let even = each.runs().iter().all(|(rows, _)| rows.is_multiple_of(2));
    if even { line.word(format!(", carriage {side}.")) } else { line.word(".") }
}
