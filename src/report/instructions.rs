//! One size's program and run as lines of instruction. Every number comes from the run's traces;
//! tokens that may differ from size to size are kept apart, so that sizes can be merged.

use crate::knit::bed::step_size;
use crate::knit::garment::Garment;
use crate::knit::needle::Side;
use crate::knit::program::{
    Action, Beds, Block, CastOnMethod, HangLoops, Piece, Program, Step, Structure, Which,
};
use crate::knit::run::{HangPoint, Moment, PieceRun, Run, StepTrace};
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
    pub tokens: Vec<Token>,
}

/// A piece, or the finishing, as text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chapter {
    pub title: String,
    pub lines: Vec<Line>,
}

impl Line {
    fn new(depth: usize, numbered: bool) -> Self {
        Line { depth, numbered, tokens: Vec::new() }
    }

    fn word(mut self, text: impl Into<String>) -> Self {
        self.tokens.push(Token::Word(text.into()));
        self
    }

    fn list(mut self, items: &[String]) -> Self {
        self.tokens.push(Token::List(items.join(" ")));
        self
    }

    fn figure(mut self, text: impl ToString) -> Self {
        self.tokens.push(Token::Figure(text.to_string()));
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
    chapters.push(Chapter { title: "Finishing".to_owned(), lines });
    chapters
}

struct Writer<'a> {
    program: &'a Program,
    run: &'a Run,
    knitted: &'a PieceRun,
    gauges: &'a [Gauge],
}

impl Writer<'_> {
    fn piece(&self, piece: &Piece) -> Chapter {
        let mut lines = Vec::new();
        self.steps(&piece.steps, 0, 0, false, &mut lines);
        self.hang_lists(piece, &mut lines);
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
                let mut line = at(depth, first, inside);
                line = match steps.first().map(|s| &s.action) {
                    Some(Action::Mark(name)) => line
                        .word("Work what follows ")
                        .figure(times)
                        .word(format!(" times, once for each {name}:")),
                    _ => line.word("Do this ").figure(times).word(times_word(*times)),
                };
                lines.push(line);
                self.steps(steps, id + 1, depth + 1, true, lines);
                let round = rows / times;
                let done = Line::new(depth + 1, false);
                lines.push(if inside || rows % times != 0 {
                    done.word("That is ")
                        .figure(rows)
                        .word(format!(" rows; carriage {}.", side_code(after.carriage)))
                } else {
                    let stops: Vec<String> =
                        (1..=*times).map(|n| counter(first.counter + n * round)).collect();
                    done.word("The row counter shows ")
                        .list(&brief_list(stops))
                        .word(format!(" after each round, carriage {}.", side_code(after.carriage)))
                });
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
        let line = at(depth, first, inside);
        Some(match action {
            Action::CastOn { span, structure, method, .. } => {
                self.cast_on(Line::new(depth, true), *span, *structure, *method)
            }
            Action::Knit { rows } => {
                let line = line.word("Knit ").figure(rows);
                let line = if *rows == 1 {
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
            Action::Hold(_) => line
                .word("Push ")
                .figure(trace.first_needles.map_or(0, |span| span.len()))
                .word(" needles, ")
                .figure(needles(trace))
                .word(", to holding position, hold lever on."),
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
                let line = line.word("Wrap: lay the yarn under the next held needle");
                first_and_last(line, trace).word(", so that no slit stays.")
            }
            Action::Hang { edge, needle, loops } => {
                let what = self.loops_of(edge);
                match loops {
                    HangLoops::Each(n) if *n > 1 => {
                        line.word("Hang the next ").figure(n).word(format!(" loops of {what} on "))
                    }
                    _ => line.word(format!("Hang the next loop of {what} on ")),
                }
                .figure(needle)
                .word(self.hang_exception(edge))
            }
            Action::TransferToMain => {
                line.word("Transfer every ribber loop to the empty main-bed needle facing it: ")
                    .figure(trace.in_work)
                    .word(" needles in work. Drop the ribber.")
            }
            Action::Decrease { side, count } => line
                .word("Take ")
                .figure(count)
                .word(format!(" in on the {side}: move the end stitch to its neighbour, leave its needle empty. "))
                .figure(trace.in_work)
                .word(" left."),
            Action::Increase { side, count } => line
                .word("Bring ")
                .figure(count)
                .word(format!(" empty beside the {side} end into work, wound round with yarn. "))
                .figure(trace.in_work)
                .word(" in work."),
            Action::ScrapOff { .. } => line
                .word("Break the yarn. Knit ")
                .figure(crate::knit::bed::WASTE_ROWS)
                .word(" rows of waste yarn over ")
                .figure(needles(trace))
                .word(" and take the fabric off: the open loops wait on the waste yarn."),
            Action::WorkBeds(Beds::Main) => {
                line.word("Let the ribber rest (its loops stay, it does not knit): the main bed knits alone.")
            }
            Action::WorkBeds(Beds::Both) => line.word("Both beds knit again, round and round."),
            Action::Rehang { edge, beds: Beds::Both, .. } => line
                .word(format!("Hang {} back as a tube on needles ", self.loops_of(edge)))
                .figure(needles(trace))
                .word(": the first half on the main bed, left to right, the second half on the ribber, right to left."),
            Action::Rehang { edge, .. } => line
                .word(format!("Hang {} back on needles ", self.loops_of(edge)))
                .figure(needles(trace))
                .word(", one on each, the first on the left."),
            Action::CastOff { .. } => {
                line.word("Cast off ").figure(needles(trace)).word(" loosely.")
            }
            Action::Dial(dial) => line.word("Dial ").figure(dial).word("."),
            Action::Section(name) => line.word(format!("Change to the yarn for: {name}.")),
            Action::ResetCounter => line.word("Set the row counter to 000."),
            Action::Note(text) => Line::new(depth, true).word(text.clone()),
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

    fn cast_on(
        &self,
        line: Line,
        span: crate::knit::needle::Span,
        structure: Structure,
        method: CastOnMethod,
    ) -> Line {
        let on = line.word("Cast on ").figure(span.len()).word(" needles, ").figure(span).word(",");
        let dial = self
            .gauges
            .iter()
            .find(|g| g.structure == structure.gauged_as())
            .and_then(|g| g.dial)
            .map_or(String::new(), |dial| format!(" Dial {dial}."));
        let on = match method {
            CastOnMethod::Waste => on
                .word(" with waste yarn and knit ")
                .figure(crate::knit::bed::WASTE_ROWS)
                .word(" rows, ending with the carriage on the right. Thread the good yarn."),
            CastOnMethod::Wound => {
                on.word(" by winding the yarn round each needle; carriage on the right.")
            }
            CastOnMethod::Rib => {
                let share = match structure {
                    Structure::Rib2x2 => "two needles on the main bed, two on the ribber, in turn",
                    Structure::Circular => "the same needles on both beds",
                    Structure::Plain | Structure::Rib1x1 => {
                        "one needle on the main bed, one on the ribber, in turn"
                    }
                };
                on.word(format!(
                    " for {structure}: {share}, the first on the left on the main bed. Knit the zigzag \
                     row to the right, hang the comb and weights, then two tubular rows."
                ))
            }
        };
        on.word(format!("{dial} Set the row counter to 000, COR."))
    }

    /// "the band": the open loops of an edge by the piece they belong to.
    fn loops_of(&self, edge: &str) -> String {
        edge_phrase(self.program, edge)
    }

    fn hang_exception(&self, edge: &str) -> String {
        match self.run.edge(edge) {
            Some(edge) if !edge.skipped.is_empty() || !edge.doubled.is_empty() => {
                " (but see the list below).".to_owned()
            }
            _ => ".".to_owned(),
        }
    }

    /// After the steps: where hang points and loops don't match one to one.
    fn hang_lists(&self, piece: &Piece, lines: &mut Vec<Line>) {
        let mut edges = Vec::new();
        hung_edges(&piece.steps, &mut edges);
        for name in edges {
            let Some(edge) = self.run.edge(name) else { continue };
            let what = edge_phrase(self.program, name);
            let mut list = |points: &[HangPoint], doing: &str| {
                if points.is_empty() {
                    return;
                }
                let counters: Vec<String> = points.iter().map(|p| counter(p.counter)).collect();
                lines.push(
                    Line::new(0, false)
                        .word(format!("Loops of {what}: "))
                        .figure(edge.loops)
                        .word(", hang points: ")
                        .figure(edge.points)
                        .word(format!(". {doing} at the ones where the row counter shows "))
                        .list(&counters)
                        .word("."),
                );
            };
            list(&edge.skipped, "Hang nothing");
            list(&edge.doubled, "Hang two loops");
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

/// A line that begins with where the row counter and the carriage should be.
fn at(depth: usize, moment: Moment, inside: bool) -> Line {
    let line = Line::new(depth, true);
    if inside {
        line.word(format!("{}: ", side_code(moment.carriage)))
    } else {
        line.word("RC ")
            .figure(counter(moment.counter))
            .word(format!(" {}: ", side_code(moment.carriage)))
    }
}

fn counter(rows: u32) -> String {
    format!("{rows:03}")
}

fn side_code(side: Side) -> &'static str {
    match side {
        Side::Left => "COL",
        Side::Right => "COR",
    }
}

fn times_word(times: u32) -> &'static str {
    if times == 1 { " time:" } else { " times:" }
}

fn needles(trace: &StepTrace) -> String {
    trace.first_needles.map_or_else(String::new, |span| span.to_string())
}

/// Which needles a repeated step deals with, the first and the last time.
fn first_and_last(line: Line, trace: &StepTrace) -> Line {
    match (trace.first_needles, trace.last_needles) {
        (Some(first), Some(last)) if first != last => {
            line.word(" (").figure(first).word(" the first time, ").figure(last).word(" the last)")
        }
        (Some(first), _) => line.word(" (").figure(first).word(")"),
        _ => line,
    }
}

/// All of a short list; the ends of a long one.
fn brief_list(mut items: Vec<String>) -> Vec<String> {
    if items.len() > 12 {
        items.splice(3..items.len() - 1, ["...".to_owned()]);
    }
    items
}

/// Names an edge by the piece whose steps make it, and by which end of it.
fn edge_phrase(program: &Program, edge: &str) -> String {
    for piece in &program.pieces {
        let title = piece.title.to_lowercase();
        for step in &piece.steps {
            match &step.action {
                Action::CastOn { edge: Some(name), .. } if name == edge => {
                    return format!("the cast-on edge of the {title}");
                }
                Action::ScrapOff { edge: name, .. } if name == edge => {
                    // A name that the piece itself bears needs no end to it.
                    return if edge == piece.name || piece.name.starts_with(&format!("{edge}-")) {
                        format!("the {title}")
                    } else {
                        format!("the last row of the {title}")
                    };
                }
                _ => {}
            }
        }
    }
    format!("`{edge}`")
}

fn finishing_line(action: &Action, program: &Program, run: &Run, unit: LengthUnit) -> Line {
    let line = Line::new(0, true);
    let title = |name: &str| {
        program
            .pieces
            .iter()
            .find(|p| p.name == name)
            .map_or_else(|| name.to_owned(), |p| p.title.to_lowercase())
    };
    match action {
        Action::Graft { first, second } => line
            .word(format!(
                "Graft {} to {}, loop to loop: ",
                edge_phrase(program, first),
                edge_phrase(program, second)
            ))
            .figure(run.edge(first).map_or(0, |e| e.loops))
            .word(" loops. Take the waste yarn out as you go."),
        Action::GatherEdge { edge } => line
            .word(format!("Draw an end through {}, ", edge_phrase(program, edge)))
            .figure(run.edge(edge).map_or(0, |e| e.loops))
            .word(" loops, pull it tight and fasten it off."),
        Action::GatherSelvedge { piece, side } => line.word(format!(
            "Run an end through the edge stitches along the {side} side of the {}, pull it tight \
             and fasten it off.",
            title(piece)
        )),
        Action::Seam { first, second } if first.0 == second.0 => {
            line.word(format!("Sew the two ends of the {} together, row to row.", title(&first.0)))
        }
        Action::Seam { first, second } => line.word(format!(
            "Sew the {} end of {} to the {} end of {}, row to row.",
            first.1, first.0, second.1, second.0
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
        Action::Note(text) => line.word(text.clone()),
        other => line.word(format!("{other:?}")),
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
