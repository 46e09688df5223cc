//! One size's program and run as lines of instruction. Every number comes from the run's traces;
//! tokens that may differ from size to size are kept apart, so that sizes can be merged.

mod edges;
mod finishing;
mod instruction;

use edges::{Origin, edge_phrase, makes, on_waste_yarn, words_of};
pub(super) use finishing::finishing_line;
use finishing::said_once;
use instruction::note;
pub use instruction::{Chapter, Instruction, Token};

use knit::bed::step_size;
use knit::garment::Garment;
use knit::needle::{Needle, Side};
use knit::program::{
    Action, Beds, CastOnMethod, HangLoops, Piece, Program, Step, Structure, Which,
};
use knit::run::{Moment, PieceRun, Run, StepTrace};
use knit::swatch::Gauge;
use units::LengthUnit;

/// All pieces in knitting order, then the finishing. Pieces that read alike are one chapter.
pub fn chapters(garment: &Garment, run: &Run, gauges: &[Gauge], unit: LengthUnit) -> Vec<Chapter> {
    let mut all: Vec<(Chapter, u32)> = Vec::new();
    for (piece, knitted) in garment.program.pieces.iter().zip(&run.pieces) {
        let writer = Writer { program: &garment.program, run, knitted, gauges };
        let chapter = writer.piece(piece);
        match all.last_mut() {
            Some((last, times)) if *last == chapter => *times += 1,
            _ => all.push((chapter, 1)),
        }
    }
    let mut chapters: Vec<Chapter> = all
        .into_iter()
        .map(|(mut chapter, times)| {
            if times > 1 {
                chapter.title = format!("{} (knit {times} alike)", chapter.title);
            }
            chapter
        })
        .collect();
    let lines = garment
        .program
        .finishing
        .iter()
        .map(|step| finishing_line(&step.action, &garment.program, run, unit))
        .collect();
    chapters.push(Chapter { title: "Finishing".to_owned(), lines: said_once(lines) });
    chapters
}

/// Words for the steps of one piece.
pub(super) struct Writer<'a> {
    pub program: &'a Program,
    pub run: &'a Run,
    pub knitted: &'a PieceRun,
    pub gauges: &'a [Gauge],
}

/// What a piece begins with where no cast-on says so.
pub(super) const SET_OUT: &str = "Set the row counter to 000, carriage on the right.";

/// Whether the piece must be told to begin with [`SET_OUT`].
pub(super) fn sets_out(piece: &Piece) -> bool {
    let silent =
        |step: &&Step| matches!(step.action, Action::Note(_) | Action::Mark(_) | Action::Dial(_));
    let first = piece.steps.iter().find(|step| !silent(step));
    !first.is_some_and(|step| matches!(step.action, Action::CastOn { .. }))
}

impl Writer<'_> {
    fn piece(&self, piece: &Piece) -> Chapter {
        let mut lines = Vec::new();
        let mut listed = Vec::new();
        let mut id = 0;
        if sets_out(piece) {
            lines.push(Instruction::new(0, true).word(SET_OUT));
        }
        for step in &piece.steps {
            // The exceptions stand before the step that needs them.
            let mut edges = Vec::new();
            hung_edges(std::slice::from_ref(step), &mut edges);
            edges.retain(|edge| !listed.contains(edge));
            for edge in &edges {
                self.hang_list(edge, &mut lines);
            }
            listed.extend(edges);
            self.step(step, id, 0, false, &mut lines);
            id += step_size(step);
        }
        Chapter { title: piece.title.clone(), lines }
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
        match &step.action {
            Action::Repeat { times, steps } => {
                let Some(last) = trace.last else { return };
                let rows = after.counter.saturating_sub(last.counter);
                if *times == 0 {
                    return;
                }
                if *times == 1 {
                    self.steps(steps, id + 1, depth, inside, lines);
                    return;
                }
                let mut line = self.at(depth, trace, first, inside);
                line.times = Some(*times);
                let line = match steps.first().map(|s| &s.action) {
                    Some(Action::Mark(name)) => line
                        .word("Work what follows ")
                        .figure(format!("{times} times"))
                        .word(format!(", once for each {name}:")),
                    _ => line.word("Do this ").figure(format!("{times} times")).word(":"),
                };
                lines.push(line);
                self.steps(steps, id + 1, depth + 1, true, lines);
                if rows > 0 {
                    lines.push(rounds(depth + 1, *times, first, after, rows, inside));
                }
            }
            action => {
                if let Some(line) = self.line(action, trace, first, after, depth, inside) {
                    lines.push(line);
                }
            }
        }
    }

    fn line(
        &self,
        action: &Action,
        trace: &StepTrace,
        first: Moment,
        after: Moment,
        depth: usize,
        inside: bool,
    ) -> Option<Instruction> {
        self.say(self.at(depth, trace, first, inside), action, trace, first, after, inside)
    }

    /// The words of an action, after what `line` already says. The trace may be of many visits or
    /// of one.
    pub(super) fn say(
        &self,
        line: Instruction,
        action: &Action,
        trace: &StepTrace,
        first: Moment,
        after: Moment,
        inside: bool,
    ) -> Option<Instruction> {
        let depth = line.depth;
        Some(match action {
            Action::CastOn { span, structure, method, .. } => {
                // Beside fabric on the bed the counter runs on.
                if trace.first_in_work > span.len() && *structure == Structure::Plain {
                    return Some(
                        line.word("Cast on ")
                            .figure(span.len())
                            .word(" more needles, ")
                            .figure(span)
                            .word(", by winding the yarn round each."),
                    );
                }
                self.cast_on(Instruction::new(depth, true), *span, *structure, *method)
            }
            Action::Knit { rows } => {
                let line = line.word("Knit ").figure(rows);
                let line = if *rows == 1 && trace.either_side {
                    line.word(" row.")
                } else if *rows == 1 {
                    line.word(format!(" row to the {}.", first.carriage.other()))
                } else {
                    line.word(" rows.")
                };
                if inside {
                    line
                } else {
                    line.word(" RC ").figure(counter(after.counter)).word(format!(", {}.", side_code(after.carriage)))
                }
            }
            Action::Hold(which) => {
                let line = match which {
                    Which::AtSide(side, 1) => {
                        line.word(format!("Push the end needle on the {side}"))
                    }
                    Which::AtSide(side, count) => line
                        .word("Push the ")
                        .figure(count)
                        .word(format!(" end needles on the {side}")),
                    Which::Span(_) | Which::All => line
                        .word("Push ")
                        .figure(trace.first_needles.map_or(0, |span| span.len()))
                        .word(" needles"),
                };
                first_and_last(line.word(" to holding position, hold lever on"), trace).word(".")
            }
            Action::Return(which) => match which {
                Which::AtSide(side, count) => {
                    let line = match count {
                        1 => line.word(format!("Bring the nearest held needle on the {side}")),
                        _ => line
                            .word("Bring the nearest ")
                            .figure(count)
                            .word(format!(" held needles on the {side}")),
                    };
                    first_and_last(line.word(" back to upper working position"), trace).word(".")
                }
                Which::Span(_) | Which::All => line
                    .word("Bring needles ")
                    .figure(needles(trace))
                    .word(" back to upper working position."),
            },
            Action::Wrap => {
                let line = line.word("Wrap: lay the yarn under the next held needle, so that no slit stays");
                first_and_last(line, trace).word(".")
            }
            Action::Hang { edge, needle, loops } => {
                let loops = match loops {
                    HangLoops::Each(n) => *n,
                    HangLoops::SpreadOver(_) => 1,
                };
                self.hang(line, edge, *needle, loops).word(self.hang_exception(edge))
            }
            Action::TransferToMain => {
                line.word("Transfer every ribber loop to the main-bed needle facing it: ")
                    .figure(trace.in_work)
                    .word(format!(" needles in work. Drop the ribber.{}", self.dial(Structure::Plain)))
            }
            Action::Decrease { side, count } => stitches_left(
                line.word("Take ").figure(count).word(format!(
                    " in on the {side}: move the end stitch to its neighbour and push the empty needle back to non-working position."
                )),
                trace,
            ),
            Action::Increase { side, count: 1 } => stitches_left(
                line.word(format!(
                    "Bring the empty needle beside the {side} end into working position: the next \
                     row makes its stitch."
                )),
                trace,
            ),
            Action::Increase { side, count } => {
                let yarn = if first.carriage == *side { "the yarn" } else { "a length of spare yarn" };
                stitches_left(
                    line.word("Bring ").figure(count).word(format!(
                        " empty needles beside the {side} end into work, winding {yarn} round each."
                    )),
                    trace,
                )
            }
            Action::ScrapOff { edge, .. } => {
                let line = match (trace.in_work == 0, self.is_sewn(edge)) {
                    (true, true) => line.word(
                        "Break the yarn, leaving an end three times as long as the row is wide. Knit ",
                    ),
                    (true, false) => line.word("Break the yarn. Knit "),
                    (false, _) => line.word("Leave the yarn hanging. Knit "),
                };
                line.figure(knit::bed::WASTE_ROWS)
                    .word(" rows of waste yarn over ")
                    .figure(needles(trace))
                    .word(if trace.in_work == 0 {
                        " and take the fabric off: the open loops wait on the waste yarn."
                    } else {
                        " only and take those loops off: they wait on the waste yarn. Push the \
                         empty needles back to non-working position."
                    })
            }
            Action::WorkBeds(Beds::Main) => line
                .word("Let the ribber rest: set its carriage to slip both ways and the main carriage to knit both ways."),
            Action::WorkBeds(Beds::Both) => line.word("Set both carriages to knit round again."),
            Action::Rehang { edge, beds: Beds::Both, .. } => line
                .word(format!("Hang {} back as a tube on needles ", self.loops_of(edge)))
                .figure(needles(trace))
                .word(": the first half on the main bed, left to right, the second half on the ribber, right to left. Take the waste yarn out."),
            Action::Rehang { edge, .. } if self.casts_on(edge) => line
                .word("Close the hem: fold it with the purl sides together and hang the loops of the first row back on needles ")
                .figure(needles(trace))
                .word(", one beside each loop there. Take the waste yarn out."),
            Action::Rehang { edge, .. } => line
                .word(format!("Hang {} back on needles ", self.loops_of(edge)))
                .figure(needles(trace))
                .word(if on_waste_yarn(self.program, edge) {
                    ", one on each, the first on the left. Take the waste yarn out."
                } else {
                    ", one on each, the first on the left."
                }),
            Action::CastOff { .. } => {
                line.word("Cast off ").figure(needles(trace)).word(" loosely.")
            }
            Action::Dial(dial) => line.word("Dial ").figure(dial).word("."),
            Action::Section(name) => line.word(format!("Change yarn: {} follows.", words_of(name, ""))),
            Action::ResetCounter => line.word("Set the row counter to 000."),
            Action::Note(text) => note(Instruction::new(depth, true), text),
            // Seen in the counter or in the wording around them.
            Action::CarriageAt(_) | Action::Mark(_) | Action::Repeat { .. } => return None,
            Action::Graft { .. }
            | Action::GatherEdge { .. }
            | Action::GatherSelvedge { .. }
            | Action::Seam { .. }
            | Action::SewOn { .. }
            | Action::Block(_) => return None,
        })
    }

    fn hang(&self, line: Instruction, edge: &str, needle: Needle, loops: u32) -> Instruction {
        let what = self.loops_of(edge);
        match loops {
            1 => line.word(format!("Hang the next loop of {what} on ")),
            _ => line.word("Hang the next ").figure(loops).word(format!(" loops of {what} on ")),
        }
        .figure(needle)
    }

    /// One visit to hang loops, of which so many were due.
    pub(super) fn hung(&self, edge: &str, needle: Needle, loops: u32) -> Instruction {
        self.hang(Instruction::new(0, true), edge, needle, loops).word(".")
    }

    fn cast_on(
        &self,
        line: Instruction,
        span: knit::needle::Span,
        structure: Structure,
        method: CastOnMethod,
    ) -> Instruction {
        let on = line.word("Cast on ").figure(span.len()).word(" needles, ").figure(span);
        let dial = self.dial(structure);
        let share = match structure {
            Structure::Plain => String::new(),
            Structure::Rib1x1 => {
                format!(
                    ", for {structure}: one needle on the main bed, one on the ribber, in turn, the first on the left on the main bed"
                )
            }
            Structure::Rib2x2 => {
                format!(
                    ", for {structure}: two needles on the main bed, two on the ribber, in turn, the first on the left on the main bed"
                )
            }
            Structure::Circular => ", to knit round: the same needles on both beds".to_owned(),
        };
        let on = on.word(share);
        let on = match method {
            CastOnMethod::Waste => on
                .word(", with waste yarn, and knit ")
                .figure(knit::bed::WASTE_ROWS)
                .word(" rows, ending with the carriage on the right. Thread the good yarn."),
            CastOnMethod::Wound => {
                on.word(", by winding the yarn round each needle; carriage on the right.")
            }
            CastOnMethod::Rib => on.word(
                ". Knit the zigzag row to the right, hang the comb and weights, then two tubular rows.",
            ),
        };
        on.word(format!("{dial} Set the row counter to 000, COR."))
    }

    /// A line that begins with where the row counter and the carriage should be.
    fn at(&self, depth: usize, trace: &StepTrace, moment: Moment, inside: bool) -> Instruction {
        let line = Instruction::new(depth, true);
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

    /// " Dial 7.", as on the swatch of the structure; for a rib without one, the usual advice.
    fn dial(&self, structure: Structure) -> String {
        let gauge = self.gauges.iter().find(|g| g.structure == structure.gauged_as());
        match gauge.and_then(|g| g.dial) {
            Some(dial) => format!(" Dial {dial}."),
            // Published: ribs are knitted 2 to 5 numbers tighter than the body.
            None if matches!(structure, Structure::Rib1x1 | Structure::Rib2x2) => {
                " Dial 2 to 5 numbers tighter than for plain.".to_owned()
            }
            None => String::new(),
        }
    }

    /// Whether the edge is later sewn through with an end of its own yarn.
    fn is_sewn(&self, edge: &str) -> bool {
        self.program.finishing.iter().any(|step| match &step.action {
            Action::Graft { first, second } => first == edge || second == edge,
            Action::GatherEdge { edge: name } => name == edge,
            _ => false,
        })
    }

    /// Whether this piece itself casts the edge on: its loops then close a hem.
    fn casts_on(&self, edge: &str) -> bool {
        let mut own = self.program.pieces.iter().filter(|p| p.name == self.knitted.name);
        own.any(|piece| makes(&piece.steps, edge, |by| by == Origin::WasteCastOn))
    }

    /// "the band": the open loops of an edge by the piece they belong to.
    fn loops_of(&self, edge: &str) -> String {
        edge_phrase(self.program, edge)
    }

    fn hang_exception(&self, edge: &str) -> String {
        match self.run.edge(edge) {
            Some(edge) if !edge.skipped.is_empty() || !edge.doubled.is_empty() => {
                " (not at the counts listed above).".to_owned()
            }
            _ => ".".to_owned(),
        }
    }

    /// Where hang points and loops don't match one to one.
    fn hang_list(&self, name: &str, lines: &mut Vec<Instruction>) {
        let Some(edge) = self.run.edge(name) else { return };
        let what = edge_phrase(self.program, name);
        for (points, doing) in [(&edge.skipped, "Hang nothing"), (&edge.doubled, "Hang two loops")]
        {
            if points.is_empty() {
                continue;
            }
            let counters: Vec<String> = points.iter().map(|p| counter(p.counter)).collect();
            lines.push(
                Instruction::new(0, true)
                    .word(format!("In what follows {what} has "))
                    .figure(edge.loops)
                    .word(" loops for ")
                    .figure(edge.points)
                    .word(format!(" hang points. {doing} where the row counter shows "))
                    .list(&counters)
                    .word("."),
            );
        }
    }
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

/// How many stitches a repeated shaping leaves, the first and the last time.
fn stitches_left(line: Instruction, trace: &StepTrace) -> Instruction {
    if trace.visits > 1 {
        line.word(" ")
            .figure(trace.first_in_work)
            .word(" in work after the first time, ")
            .figure(trace.in_work)
            .word(" after the last.")
    } else {
        line.word(" ").figure(trace.in_work).word(" in work.")
    }
}

pub(super) fn counter(rows: u32) -> String {
    format!("{rows:03}")
}

pub(super) fn side_code(side: Side) -> &'static str {
    match side {
        Side::Left => "COL",
        Side::Right => "COR",
    }
}

fn needles(trace: &StepTrace) -> String {
    trace.first_needles.map_or_else(String::new, |span| span.to_string())
}

/// Which needles a repeated step deals with, the first and the last time.
fn first_and_last(line: Instruction, trace: &StepTrace) -> Instruction {
    match (trace.first_needles, trace.last_needles) {
        (Some(first), Some(last)) if first != last => {
            line.word(": first ").figure(first).word(", last ").figure(last)
        }
        (Some(first), _) => line.word(": ").figure(first),
        _ => line,
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
