//! One size's program and run as lines of instruction. Every number comes from the run's traces;
//! tokens that may differ from size to size are kept apart, so that sizes can be merged.

use crate::knit::bed::step_size;
use crate::knit::garment::Garment;
use crate::knit::needle::{Needle, Side};
use crate::knit::program::{
    Action, Beds, Block, CastOnMethod, HangLoops, Piece, Program, Step, Structure, Which,
};
use crate::knit::run::{Moment, PieceRun, Run, StepTrace};
use crate::knit::swatch::Gauge;
use crate::units::LengthUnit;

/// A piece of a line: wording, or a figure that may differ between sizes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Token {
    Word(String),
    Figure(String),
    /// Several figures in a row, such as row counters: with many sizes each gets a line.
    List(String),
}

/// One instruction, `depth` steps in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    pub depth: usize,
    /// Whether it gets a number or letter of its own.
    pub numbered: bool,
    /// How many tokens at the front say where the row counter and the carriage should be.
    pub lead: usize,
    /// How often what follows is repeated, a figure for each size; empty: not a repeat.
    pub times: Vec<u32>,
    pub tokens: Vec<Token>,
}

/// A piece, or the finishing, as text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chapter {
    pub title: String,
    pub lines: Vec<Line>,
}

impl Line {
    pub(super) fn new(depth: usize, numbered: bool) -> Self {
        Line { depth, numbered, lead: 0, times: Vec::new(), tokens: Vec::new() }
    }

    fn word(mut self, text: impl Into<String>) -> Self {
        self.tokens.push(Token::Word(text.into()));
        self
    }

    fn list(mut self, items: &[String]) -> Self {
        self.tokens.push(Token::List(items.join(" ")));
        self
    }

    /// The line of one size as plain text.
    pub fn text(&self) -> String {
        self.tokens
            .iter()
            .map(|token| match token {
                Token::Word(text) | Token::Figure(text) | Token::List(text) => text.as_str(),
            })
            .collect()
    }

    fn figure(mut self, text: impl ToString) -> Self {
        self.tokens.push(Token::Figure(text.to_string()));
        self
    }

    /// What stands so far is the lead.
    fn led(mut self) -> Self {
        self.lead = self.tokens.len();
        self
    }
}

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

/// The finishing of a pair is told once where its halves read alike, as is a step that is done to
/// one and then to the other.
fn said_once(mut lines: Vec<Line>) -> Vec<Line> {
    let same = "Do the same with the other one.";
    let half = lines.len() / 2;
    if half > 0 && lines.len().is_multiple_of(2) && lines[..half] == lines[half..] {
        lines.truncate(half);
        lines.push(Line::new(0, true).word(same));
        return lines;
    }
    let mut told: Vec<Line> = Vec::new();
    for line in lines {
        match told.last_mut() {
            Some(last) if *last == line => *last = line.word(format!(" {same}")),
            _ => told.push(line),
        }
    }
    told
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
            lines.push(Line::new(0, true).word(SET_OUT));
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
        lines: &mut Vec<Line>,
    ) {
        let mut id = first_id;
        for step in steps {
            self.step(step, id, depth, inside, lines);
            id += step_size(step);
        }
    }

    fn step(&self, step: &Step, id: usize, depth: usize, inside: bool, lines: &mut Vec<Line>) {
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
                line.times = vec![*times];
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
    ) -> Option<Line> {
        self.say(self.at(depth, trace, first, inside), action, trace, first, after, inside)
    }

    /// The words of an action, after what `line` already says. The trace may be of many visits or
    /// of one.
    pub(super) fn say(
        &self,
        line: Line,
        action: &Action,
        trace: &StepTrace,
        first: Moment,
        after: Moment,
        inside: bool,
    ) -> Option<Line> {
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
                self.cast_on(Line::new(depth, true), *span, *structure, *method)
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
                line.figure(crate::knit::bed::WASTE_ROWS)
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
            Action::Note(text) => note(Line::new(depth, true), text),
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

    fn hang(&self, line: Line, edge: &str, needle: Needle, loops: u32) -> Line {
        let what = self.loops_of(edge);
        match loops {
            1 => line.word(format!("Hang the next loop of {what} on ")),
            _ => line.word("Hang the next ").figure(loops).word(format!(" loops of {what} on ")),
        }
        .figure(needle)
    }

    /// One visit to hang loops, of which so many were due.
    pub(super) fn hung(&self, edge: &str, needle: Needle, loops: u32) -> Line {
        self.hang(Line::new(0, true), edge, needle, loops).word(".")
    }

    fn cast_on(
        &self,
        line: Line,
        span: crate::knit::needle::Span,
        structure: Structure,
        method: CastOnMethod,
    ) -> Line {
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
                .figure(crate::knit::bed::WASTE_ROWS)
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
    fn at(&self, depth: usize, trace: &StepTrace, moment: Moment, inside: bool) -> Line {
        let line = Line::new(depth, true);
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
    fn hang_list(&self, name: &str, lines: &mut Vec<Line>) {
        let Some(edge) = self.run.edge(name) else { return };
        let what = edge_phrase(self.program, name);
        for (points, doing) in [(&edge.skipped, "Hang nothing"), (&edge.doubled, "Hang two loops")]
        {
            if points.is_empty() {
                continue;
            }
            let counters: Vec<String> = points.iter().map(|p| counter(p.counter)).collect();
            lines.push(
                Line::new(0, true)
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

/// A note in the script's words; its numbers, and needles such as R25, may differ from size to
/// size.
fn note(mut line: Line, text: &str) -> Line {
    let mut rest = text;
    while let Some(digit) = rest.find(|c: char| c.is_ascii_digit()) {
        let named = rest[..digit].ends_with(['L', 'R'])
            && !rest[..digit - 1].ends_with(|c: char| c.is_alphanumeric());
        let start = if named { digit - 1 } else { digit };
        let end = rest[digit..]
            .char_indices()
            .find(|(i, c)| {
                let after = &rest[digit + i + 1..];
                let decimal = *c == '.' && after.starts_with(|c: char| c.is_ascii_digit());
                !c.is_ascii_digit() && !decimal
            })
            .map_or(rest.len(), |(i, _)| digit + i);
        line = line.word(&rest[..start]).figure(&rest[start..end]);
        rest = &rest[end..];
    }
    line.word(rest)
}

/// How many stitches a repeated shaping leaves, the first and the last time.
fn stitches_left(line: Line, trace: &StepTrace) -> Line {
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
fn first_and_last(line: Line, trace: &StepTrace) -> Line {
    match (trace.first_needles, trace.last_needles) {
        (Some(first), Some(last)) if first != last => {
            line.word(": first ").figure(first).word(", last ").figure(last)
        }
        (Some(first), _) => line.word(": ").figure(first),
        _ => line,
    }
}

/// Where the row counter stands after each round of a repeat, or how many rows it was.
fn rounds(depth: usize, times: u32, first: Moment, after: Moment, rows: u32, inside: bool) -> Line {
    /// A longer list is told by its step and its end.
    const LONGEST: u32 = 12;
    let line = Line::new(depth, false);
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

/// Names an edge by the piece whose steps make it; by its own name too, where the piece has
/// several that come off it.
fn edge_phrase(program: &Program, edge: &str) -> String {
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
enum Origin {
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
fn makes(steps: &[Step], edge: &str, how: impl Fn(Origin) -> bool) -> bool {
    let mut made = Vec::new();
    edges_made(steps, &mut made);
    made.iter().any(|(name, by)| *name == edge && how(*by))
}

/// Whether the loops of an edge wait on waste yarn.
fn on_waste_yarn(program: &Program, edge: &str) -> bool {
    program.pieces.iter().any(|piece| makes(&piece.steps, edge, |by| by != Origin::WoundCastOn))
}

/// A name as words, without numbers and without the words of `title`: `left-toe-2` of the left
/// foot is "toe".
fn words_of(name: &str, title: &str) -> String {
    name.split(['-', '_'])
        .filter(|word| word.parse::<u32>().is_err() && !title.split(' ').any(|t| t == *word))
        .collect::<Vec<_>>()
        .join(" ")
}

pub(super) fn finishing_line(
    action: &Action,
    program: &Program,
    run: &Run,
    unit: LengthUnit,
) -> Line {
    let line = Line::new(0, true);
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
            }),
        Action::GatherEdge { edge } => line
            .word(format!("Draw an end through {}, ", edge_phrase(program, edge)))
            .figure(run.edge(edge).map_or(0, |e| e.loops))
            .word(" loops, pull it tight and fasten it off."),
        Action::GatherSelvedge { piece, side } => line.word(format!(
            "Run an end through the edge stitches along the {side} selvedge of the {}, pull it tight \
             to close that end, and fasten it off.",
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

/// A piece's title; where several bear the same one, with its number: "second band".
fn numbered_title(program: &Program, name: &str) -> String {
    const ORDINALS: [&str; 4] = ["first", "second", "third", "fourth"];
    let Some(piece) = program.pieces.iter().find(|p| p.name == name) else {
        return name.to_owned();
    };
    let title = piece.title.to_lowercase();
    let alike: Vec<&Piece> = program.pieces.iter().filter(|p| p.title == piece.title).collect();
    match alike.iter().position(|p| p.name == name) {
        Some(nth) if alike.len() > 1 && nth < ORDINALS.len() => {
            format!("{} {title}", ORDINALS[nth])
        }
        _ => title,
    }
}

fn block_line(line: Line, block: &Block, unit: LengthUnit) -> Line {
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
