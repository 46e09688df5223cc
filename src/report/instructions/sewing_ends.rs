//! Ends of yarn that the finishing is sewn with: how long each is, and where it comes from. The
//! shares are common practice, no source.

use super::edges::{Origin, made_edges, makes};
use super::instruction::Instruction;
use knit::edge::{EdgeLength, EdgePlace, EdgeRange, EdgeUnit};
use knit::needle::Side;
use knit::program::{Action, CastOnMethod, Joint, Piece, Program, Structure};
use knit::run::{PieceRun, Run};
use knit::swatch::Gauge;
use units::LengthUnit;

/// How often as long as the edge an end is that grafts it, and one that sews it.
const GRAFTED: f64 = 3.0;
const SEWN: f64 = 1.5;
/// What is left over to hold: of a graft, a seam, an edge that is drawn up.
const GRAFT_SPARE_MM: f64 = 100.0;
const SEAM_SPARE_MM: f64 = 200.0;
const GATHER_SPARE_MM: f64 = 300.0;

/// What an end is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Use {
    Graft,
    Gather,
    Seam,
}

impl Use {
    pub fn words(self) -> &'static str {
        match self {
            Use::Graft => "to graft with",
            Use::Gather => "to draw the edge up with",
            Use::Seam => "to sew the side with",
        }
    }
}

/// Where an end comes from.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum From {
    /// The yarn is broken where the last edge of this piece is taken off.
    TakenOff(String),
    /// It is left where this piece is cast on.
    CastOn(String),
    /// What is left of the end of an earlier step, by its number.
    Same(usize),
    /// It was left where the yarn was threaded again amid a piece, at the loops of this edge.
    Rejoined(String),
    /// The loops were wound with a length of their own, which hangs there.
    Wound,
    /// A length of its own.
    Own,
}

#[derive(Clone, Debug, PartialEq)]
pub(crate) struct SewingEnd {
    pub mm: f64,
    pub to: Use,
    pub from: From,
}

/// "45 cm", rounded up to what a hand measures.
pub(super) fn about(line: Instruction, mm: f64, unit: LengthUnit) -> Instruction {
    match unit {
        LengthUnit::Cm => line.figure((mm / 50.0).ceil() * 5.0).word(" cm"),
        LengthUnit::In => line.figure((mm / 25.4).ceil()).word(" in"),
    }
}

/// The end of each step of the finishing; none for one that sews nothing.
pub(crate) fn sewing_ends(
    program: &Program,
    run: &Run,
    gauges: &[Gauge],
) -> Vec<Option<SewingEnd>> {
    let measure = Measure { run, gauges };
    let mut ends: Vec<Option<SewingEnd>> = Vec::with_capacity(program.finishing.len());
    for (number, step) in program.finishing.iter().enumerate() {
        let end = measure.needed(number, &step.action).map(|(mm, to)| {
            // What goes on has something to hold already.
            if let Some(before) = gone_on_from(program, number) {
                let from = From::Same(begun_at(before, &ends));
                return SewingEnd { mm: mm - SEAM_SPARE_MM, to, from };
            }
            let from = rejoined(program, run, &step.action)
                .unwrap_or_else(|| source(program, run, &step.action, to, &ends));
            SewingEnd { mm, to, from }
        });
        if let Some(SewingEnd { mm, from: From::Same(first), .. }) = end
            && let Some(Some(first)) = ends.get_mut(first)
        {
            first.mm += mm;
        }
        ends.push(end);
    }
    ends
}

struct Measure<'a> {
    run: &'a Run,
    gauges: &'a [Gauge],
}

impl Measure<'_> {
    fn gauge(&self, structure: Structure) -> Option<&Gauge> {
        let of = structure.gauged_as();
        self.gauges.iter().find(|gauge| gauge.structure == of).or(self.gauges.first())
    }

    fn loops(&self, count: u32) -> f64 {
        let plain = self.gauge(Structure::Plain);
        f64::from(count) * plain.map_or(0.0, |gauge| gauge.stitches.pitch_mm())
    }

    /// So many rows of a piece, as high as its rows are on the average.
    fn rows(&self, piece: &str, count: u32) -> f64 {
        let Some(piece) = self.run.piece(piece).filter(|piece| !piece.rows.is_empty()) else {
            return 0.0;
        };
        let height = |structure| self.gauge(structure).map_or(0.0, |g| g.rows.pitch_mm());
        let all: f64 = piece.rows.iter().map(|row| height(row.structure)).sum();
        f64::from(count) * all / piece.rows.len() as f64
    }

    fn side(&self, piece: &str, side: Side) -> f64 {
        self.rows(piece, self.run.piece(piece).map_or(0, |piece| piece.rows_at_side(side)))
    }

    fn edge(&self, edge: &EdgeRange, length: EdgeLength) -> f64 {
        match (&edge.place, length.unit) {
            (EdgePlace::Selvedge(piece, _) | EdgePlace::Inner(piece, _), EdgeUnit::Rows) => {
                self.rows(piece, length.count)
            }
            _ => self.loops(length.count),
        }
    }

    /// How long an end a step of the finishing takes, and what for.
    fn needed(&self, number: usize, action: &Action) -> Option<(f64, Use)> {
        let open = |name: &str| self.loops(self.run.edge(name).map_or(0, |edge| edge.loops));
        let joined = u32::try_from(number).ok().and_then(|number| self.run.joins.get(&number));
        Some(match action {
            Action::Graft { first, .. } => (GRAFTED * open(first) + GRAFT_SPARE_MM, Use::Graft),
            Action::GatherEdge { edge } => (open(edge) + GATHER_SPARE_MM, Use::Gather),
            Action::GatherSelvedge { piece, side } => {
                (self.side(piece, *side) + GATHER_SPARE_MM, Use::Gather)
            }
            Action::Seam { first, .. } => {
                (SEWN * self.side(&first.0, first.1) + SEAM_SPARE_MM, Use::Seam)
            }
            Action::SewOn { piece, side, .. } => {
                (SEWN * self.side(piece, *side) + SEAM_SPARE_MM, Use::Seam)
            }
            Action::Join { how, first, .. } => {
                let long = self.edge(first, joined?.first);
                match how {
                    Joint::Graft => (GRAFTED * long + GRAFT_SPARE_MM, Use::Graft),
                    Joint::Seam | Joint::SewOn => (SEWN * long + SEAM_SPARE_MM, Use::Seam),
                }
            }
            Action::Gather(edge) => (self.edge(edge, joined?.first) + GATHER_SPARE_MM, Use::Gather),
            _ => return None,
        })
    }
}

fn open_edge(edge: &EdgeRange) -> Option<&str> {
    match &edge.place {
        EdgePlace::Open(name) => Some(name),
        _ => None,
    }
}

/// The open edges that a step sews through.
fn open_edges(action: &Action) -> Vec<&str> {
    match action {
        Action::Graft { first, second } => vec![first, second],
        Action::GatherEdge { edge } => vec![edge],
        Action::Gather(edge) => open_edge(edge).into_iter().collect(),
        Action::Join { first, second, .. } => {
            [first, second].into_iter().filter_map(open_edge).collect()
        }
        _ => Vec::new(),
    }
}

fn selvedge_of(edge: &EdgeRange) -> Option<&str> {
    match &edge.place {
        EdgePlace::Selvedge(piece, _) => Some(piece),
        _ => None,
    }
}

/// The pieces whose sides a step sews.
fn sides(action: &Action) -> Vec<&str> {
    match action {
        Action::Seam { first, second } => vec![&first.0, &second.0],
        Action::Join { first, second, .. } => {
            [first, second].into_iter().filter_map(selvedge_of).collect()
        }
        _ => Vec::new(),
    }
}

fn source(
    program: &Program,
    run: &Run,
    action: &Action,
    to: Use,
    before: &[Option<SewingEnd>],
) -> From {
    let free = |from: &From| !before.iter().flatten().any(|end| end.from == *from);
    // Of two edges the one that was taken off last: its yarn is at hand.
    let pieces = || program.pieces.iter().zip(&run.pieces);
    let edges = open_edges(action);
    let ending = |(piece, knitted)| Some((piece, ends_with(piece, knitted)?));
    let mut ending = pieces().filter_map(ending).filter(|(_, edge)| edges.contains(edge));
    if let Some((last, edge)) = ending.clone().next_back() {
        // Of pieces that end in one edge one has the end: one that is told by itself, so that those knit
        // alike stay alike.
        let told_alone = |piece: &&Piece| {
            program.pieces.iter().filter(|other| other.title == piece.title).count() == 1
        };
        let alone = ending.find(|(piece, own)| *own == edge && told_alone(piece));
        let from = From::TakenOff(alone.map_or(last, |(piece, _)| piece).name.clone());
        if free(&from) {
            return from;
        }
    }
    let wound = |edge: &str| {
        program.pieces.iter().any(|p| makes(&p.steps, edge, |by| by == Origin::WoundCastOn))
    };
    if to != Use::Seam {
        return if edges.iter().any(|edge| wound(edge)) { From::Wound } else { From::Own };
    }
    let sides = sides(action);
    // The first side that has an end left: two pieces sewn to each other at both sides give one each.
    let own = || sides.iter().filter_map(|side| pieces().find(|(piece, _)| piece.name == **side));
    let mut begun = own().filter(|(piece, _)| begins_closed(piece));
    let begun = begun.find_map(|(piece, _)| Some(From::CastOn(piece.name.clone())).filter(free));
    if let Some(from) = begun {
        return from;
    }
    let taken_off = |(piece, knitted)| ends_with(piece, knitted).is_some();
    for (piece, _) in own().filter(|both: &(&Piece, &PieceRun)| taken_off(*both)) {
        let from = From::TakenOff(piece.name.clone());
        if free(&from) {
            return from;
        }
        let drawn = before.iter().position(|end| {
            end.as_ref().is_some_and(|end| end.from == from && end.to == Use::Gather)
        });
        if let Some(first) = drawn {
            return From::Same(first);
        }
    }
    From::Own
}

fn seamed(action: &Action) -> Option<[&EdgeRange; 2]> {
    match action {
        Action::Join { how: Joint::Seam, first, second } => Some([first, second]),
        _ => None,
    }
}

/// The seam of the step before, where this one goes on along an edge of it.
fn gone_on_from(program: &Program, number: usize) -> Option<usize> {
    let own = seamed(&program.finishing.get(number)?.action)?;
    let before = seamed(&program.finishing.get(number.checked_sub(1)?)?.action)?;
    let goes_on = own.iter().any(|edge| before.iter().any(|other| edge.goes_on_from(other)));
    goes_on.then_some(number - 1)
}

/// The step whose end that of a step is what is left of: itself, where it has its own.
fn begun_at(step: usize, ends: &[Option<SewingEnd>]) -> usize {
    match ends.get(step) {
        Some(Some(SewingEnd { from: From::Same(first), .. })) => *first,
        _ => step,
    }
}

/// Where the yarn is threaded again amid a piece, at a tally mark, an end hangs on the carriage's side: a seam
/// that begins there is sewn with it.
fn rejoined(program: &Program, run: &Run, action: &Action) -> Option<From> {
    let begins = |sewn: &EdgeRange| {
        let EdgePlace::Selvedge(name, side) = &sewn.place else { return None };
        let pieces = program.pieces.iter().zip(&run.pieces);
        let (piece, knitted) = pieces.into_iter().find(|(p, _)| p.name == *name)?;
        let traces = top_traces(piece, knitted);
        let again = piece.steps.iter().enumerate().skip(1).filter_map(|(at, step)| {
            let Action::Rehang { edge, .. } = &step.action else { return None };
            let there = traces.get(at).and_then(|trace| trace.first)?;
            (there.carriage == *side).then_some((at, edge))
        });
        let mut marks = again.filter_map(|(at, edge)| {
            let to_come = piece.steps[at + 1..].iter().map(|step| &step.action);
            let mut still = to_come.take_while(|action| {
                matches!(action, Action::Note(_) | Action::Mark(_) | Action::ResetCounter)
            });
            let mark = still.find_map(|action| match action {
                Action::Mark(name) => knitted.sides.at_mark.get(name),
                _ => None,
            })?;
            Some((mark.selvedges, edge))
        });
        let from = |(left, right)| if *side == Side::Left { left } else { right };
        marks.find(|(selvedges, _)| from(*selvedges) == sewn.from).map(|(_, edge)| edge.clone())
    };
    seamed(action)?.into_iter().find_map(begins).map(From::Rejoined)
}

/// The edge that a piece ends with, where its yarn is broken there.
fn ends_with<'a>(piece: &'a Piece, knitted: &PieceRun) -> Option<&'a str> {
    let mut made = Vec::new();
    made_edges(&piece.steps, &mut made);
    let last = made.iter().rev().find(|(_, by)| *by == Origin::ScrapOff)?.0;
    let bed_step = |action: &Action| !matches!(action, Action::Note(_) | Action::Mark(_));
    let (ending, trace) = piece
        .steps
        .iter()
        .zip(top_traces(piece, knitted))
        .rfind(|(step, _)| bed_step(&step.action))?;
    match &ending.action {
        Action::ScrapOff { edge, .. } if edge == last && !trace.broken => Some(last),
        _ => None,
    }
}

fn top_traces<'a>(piece: &Piece, knitted: &'a PieceRun) -> Vec<&'a knit::run::StepTrace> {
    let mut id = 0;
    let mut all = Vec::with_capacity(piece.steps.len());
    for step in &piece.steps {
        all.extend(knitted.traces.get(id));
        id += knit::bed::step_size(step);
    }
    all
}

/// Whether the first loops are closed, so that an end at them is free to sew with.
fn begins_closed(piece: &Piece) -> bool {
    let first = piece.steps.iter().find(|step| matches!(step.action, Action::CastOn { .. }));
    first.is_some_and(|step| {
        matches!(
            step.action,
            Action::CastOn { method: CastOnMethod::Rib | CastOnMethod::Wound, edge: None, .. }
        )
    })
}
