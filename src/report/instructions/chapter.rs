//! A piece as a chapter: its steps in order, where the counter stands at each, its repeats.

use super::edges::edge_phrase;
use super::instruction::{Chapter, Instruction, PieceNames};
use super::piece_words::PieceWords;
use super::rounds::Node;
use super::step_data::{bed_step, hang_exceptions, set_out};
use super::words::{counter, side_code};
use knit::bed::step_size;
use knit::program::{Action, Piece, Step};
use knit::run::{Moment, StepTrace};

/// What a piece begins with where no cast-on says so.
pub(crate) const SET_OUT: &str = "Set the row counter to 000, carriage on the right.";

/// Whether the piece must be told to begin with [`SET_OUT`].
pub(crate) fn sets_out(piece: &Piece) -> bool {
    let silent = |step: &&Step| {
        matches!(
            step.action,
            Action::Note(_) | Action::Mark(_) | Action::Dial(_) | Action::Pitch(_)
        )
    };
    let first = piece.steps.iter().find(|step| !silent(step));
    !first.is_some_and(|step| matches!(step.action, Action::CastOn { .. }))
}

impl PieceWords<'_> {
    /// The piece from a step of its top level on: those before it are done.
    pub(super) fn piece(&self, piece: &Piece, done: usize) -> Chapter {
        let mut lines = Vec::new();
        let mut listed = Vec::new();
        let (past, rest) = piece.steps.split_at(done.min(piece.steps.len()));
        let mut id = size_of(past);
        let mut remarks = self.remarks(piece).from(id);
        if done == 0 && sets_out(piece) {
            lines.push(Instruction::new(0, true).word(SET_OUT).with_step(set_out()));
        }
        for step in rest {
            // The exceptions stand before the step that needs them.
            let mut edges = Vec::new();
            hung_edges(std::slice::from_ref(step), &mut edges);
            edges.retain(|edge| !listed.contains(edge));
            for edge in &edges {
                self.hang_list(edge, past, &mut lines);
            }
            listed.extend(edges);
            remarks.tell(id + step_size(step), &mut lines);
            self.step(step, id, 0, false, &mut lines);
            id += step_size(step);
        }
        Chapter { title: piece.title.clone(), pieces: PieceNames(vec![piece.name.clone()]), lines }
    }

    /// The same in as few lines as say it all.
    pub(super) fn folded_piece(&self, piece: &Piece, done: usize) -> Chapter {
        let mut lines = Vec::new();
        let mut listed = Vec::new();
        if done == 0 && sets_out(piece) {
            lines.push(Instruction::new(0, true).word(SET_OUT).with_step(set_out()));
        }
        let (past, rest) = piece.steps.split_at(done.min(piece.steps.len()));
        let mut remarks = self.remarks(piece).from(size_of(past));
        // Steps up to one that hangs an edge for the first time, whose exceptions stand before it.
        let mut upto = Vec::new();
        for node in self.nodes(rest, size_of(past)) {
            let mut edges = Vec::new();
            if let Node::Step(step, _) = &node {
                hung_edges(std::slice::from_ref(*step), &mut edges);
            }
            edges.retain(|edge| !listed.contains(edge));
            if !edges.is_empty() {
                self.tell_minded(std::mem::take(&mut upto), &mut remarks, &mut lines);
            }
            for edge in &edges {
                self.hang_list(edge, past, &mut lines);
            }
            listed.extend(edges);
            upto.push(node);
        }
        self.tell_minded(upto, &mut remarks, &mut lines);
        Chapter { title: piece.title.clone(), pieces: PieceNames(vec![piece.name.clone()]), lines }
    }

    /// `inside`: within a repeat, where the counter differs from round to round.
    fn steps(
        &self,
        steps: &[Step],
        first_id: usize,
        depth: usize,
        inside: bool,
        lines: &mut Vec<Instruction>,
    ) {
        let mut id = first_id;
        for step in steps {
            self.step(step, id, depth, inside, lines);
            id += step_size(step);
        }
    }

    fn step(
        &self,
        step: &Step,
        id: usize,
        depth: usize,
        inside: bool,
        lines: &mut Vec<Instruction>,
    ) {
        let trace = &self.knitted.traces[id];
        let (Some(first), Some(after)) = (trace.first, trace.after) else { return };
        let Action::Repeat { times, steps } = &step.action else {
            let line = self.at(depth, trace, first, inside);
            let said = self.say(line, &step.action, trace, first, after, inside);
            lines.extend(said.map(|line| line.with_step(bed_step(&step.action, trace))));
            return;
        };
        let Some(last) = trace.last else { return };
        let rows = match trace.by_hand {
            Some(_) => 0,
            None => after.counter.saturating_sub(last.counter),
        };
        match times {
            0 => {}
            1 => self.steps(steps, id + 1, depth, inside, lines),
            _ => {
                let line = repeated(self.at(depth, trace, first, inside), *times, steps);
                lines.push(line.with_step(bed_step(&step.action, trace)));
                self.steps(steps, id + 1, depth + 1, true, lines);
                if rows > 0 {
                    lines.push(rounds(depth + 1, *times, first, after, rows, inside));
                }
            }
        }
    }

    /// A line that begins with where the row counter and the carriage should be.
    pub(super) fn at(
        &self,
        depth: usize,
        trace: &StepTrace,
        moment: Moment,
        inside: bool,
    ) -> Instruction {
        let line = Instruction::new(depth, true);
        // On a pair of needles there is neither counter nor carriage.
        if trace.by_hand.is_some() {
            return line;
        }
        match (inside, trace.either_side) {
            // Reached from both sides in turn: neither can be named.
            (true, true) => line,
            (true, false) => line.word(format!("{}: ", side_code(moment.carriage))).led(),
            (false, _) => line
                .word("RC ")
                .figure(counter(moment.counter))
                .word(format!(" {}: ", side_code(moment.carriage)))
                .led(),
        }
    }

    /// Where hang points and loops don't match one to one.
    /// Visits to hang loops of an edge in the first steps of the piece, and in the pieces before it.
    fn hung_in(&self, edge: &str, done: &[Step]) -> u32 {
        if done.is_empty() {
            return 0;
        }
        let pieces = self.program.pieces.iter().zip(&self.run.pieces);
        let before = pieces
            .take_while(|(_, knitted)| knitted.name != self.knitted.name)
            .map(|(piece, knitted)| visits(&piece.steps, &knitted.traces, edge));
        before.sum::<u32>() + visits(done, &self.knitted.traces, edge)
    }

    /// `done` are the steps of the piece that are done: what was met there is not told.
    fn hang_list(&self, name: &str, done: &[Step], lines: &mut Vec<Instruction>) {
        let hung = self.hung_in(name, done);
        let Some(edge) = self.run.edge(name) else { return };
        let what = edge_phrase(self.program, name);
        for (points, doing) in [(&edge.skipped, "Hang nothing"), (&edge.doubled, "Hang two loops")]
        {
            if points.is_empty() {
                continue;
            }
            let to_come = points.iter().filter(|point| point.point > hung);
            let counters: Vec<String> = to_come.map(|p| counter(p.counter)).collect();
            if counters.is_empty() {
                continue;
            }
            lines.push(
                Instruction::new(0, true)
                    .word(format!("In what follows {what} has "))
                    .figure(edge.loops)
                    .word(" loops for ")
                    .figure(edge.points)
                    .word(format!(" hang points. {doing} where the row counter shows "))
                    .list(&counters)
                    .word(".")
                    .with_step(hang_exceptions(edge)),
            );
        }
    }
}

/// How often these steps, the first of a piece, came to hang loops of an edge.
fn visits(steps: &[Step], traces: &[StepTrace], edge: &str) -> u32 {
    let mut id = 0;
    let mut sum = 0;
    for step in steps {
        sum += match &step.action {
            Action::Hang { edge: own, .. } if own == edge => traces.get(id).map_or(0, |t| t.visits),
            Action::Repeat { steps, .. } => {
                visits(steps, traces.get(id + 1..).unwrap_or(&[]), edge)
            }
            _ => 0,
        };
        id += step_size(step);
    }
    sum
}

fn size_of(steps: &[Step]) -> usize {
    steps.iter().map(step_size).sum()
}

fn hung_edges<'a>(steps: &'a [Step], found: &mut Vec<&'a str>) {
    for step in steps {
        match &step.action {
            Action::Hang { edge, .. } if !found.contains(&edge.as_str()) => found.push(edge),
            Action::Repeat { steps, .. } => hung_edges(steps, found),
            _ => {}
        }
    }
}

/// What begins a repeat.
pub(super) fn repeated(mut line: Instruction, times: u32, steps: &[Step]) -> Instruction {
    line.times = Some(times);
    match steps.first().map(|s| &s.action) {
        Some(Action::Mark(name)) => line
            .word("Work what follows ")
            .figure(format!("{times} times"))
            .word(format!(", once for each {name}:")),
        _ => line.word("Do this ").figure(format!("{times} times")).word(":"),
    }
}

/// Where the row counter stands after each round of a repeat, or how many rows it was.
fn rounds(
    depth: usize,
    times: u32,
    first: Moment,
    after: Moment,
    rows: u32,
    inside: bool,
) -> Instruction {
    /// A longer list is told by its step and its end.
    const LONGEST: u32 = 12;
    let line = Instruction::new(depth, false);
    let round = rows / times;
    let side = side_code(after.carriage);
    if inside || !rows.is_multiple_of(times) {
        return line.word("That is ").figure(rows).word(format!(" rows; carriage then {side}."));
    }
    if times > LONGEST {
        return line
            .word("The row counter goes up by ")
            .figure(round)
            .word(" each round, to ")
            .figure(counter(after.counter))
            .word(format!("; carriage then {side}."));
    }
    let stops: Vec<String> = (1..=times).map(|n| counter(first.counter + n * round)).collect();
    let line = line.word("The row counter shows ").list(&stops).word(" after each round");
    // An odd round ends on either side in turn.
    if round.is_multiple_of(2) { line.word(format!(", carriage {side}.")) } else { line.word(".") }
}
