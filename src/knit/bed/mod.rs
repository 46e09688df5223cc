//! The virtual needle bed: runs a [`Program`] stitch by stitch and refuses what can't be knitted.
//!
//! Invariants: it is the only source of counts; it knows no gauge and no body, only needles and
//! loops; a step that is refused leaves the bed as it was, so that later steps are still checked.

mod by_hand;
mod edges;
mod fashion;
mod finish;
mod hand;
mod pass;
mod pitch;
mod rib;
mod turn;

use std::collections::{BTreeMap, BTreeSet};

use self::by_hand::InHand;
use self::edges::Edge;
use self::rib::HandRib;
use self::turn::Resting;
use super::edge::EdgeRange;
use super::machine::Machine;
use super::needle::{Needle, Side, Span};
use super::operation::{Operation, OperationCounts};
use super::program::{Action, Joint, Piece, Pitch, Program, Step, Structure, Which};
use super::run::{
    BallsTaken, BedSpan, ByHand, ClosedEdge, Deed, EdgeRun, Fault, JoinRun, Laid, Laying, Mind,
    Moment, NeedleEvent, PieceRun, RowRun, Run, SectionRun, SideRuns, SidesAtMark, StepTrace,
    StitchTally, Waste, Work,
};
use super::turns::InTurn;
use diag::{Code, Diagnostic, Severity};

/// More passes than any garment takes: a program beyond it is a mistake, and is stopped.
pub const MOST_PASSES: u32 = 20_000;
/// Steps carried out, repeats unfolded.
const MOST_STEPS: u64 = 2_000_000;
/// Things looked at on the way: edges searched, steps passed over. A program beyond it is made to
/// be slow.
const MOST_EFFORT: u64 = 100_000_000;
/// Deeds and lengths of yarn kept for the pictures, each.
const MOST_EVENTS: usize = 200_000;
/// Edges a garment may have.
const MOST_EDGES: usize = 1_000;
/// Times the same error may come back before the bed gives up.
const MOST_REPEATS: u32 = 200;
/// Different faults reported; the rest only repeat them.
const MOST_FAULTS: usize = 20;
/// Rows of waste yarn at an open edge (common practice, no source).
pub const WASTE_ROWS: u32 = 8;
/// Rows after which the weights are hung anew (common practice, no source).
pub const ROWS_TO_A_WEIGHT: u32 = 20;
/// A float over more needles than this catches on fingers (common practice, no source).
const LONG_FLOAT: i32 = 5;

/// Runs the whole program on the machine.
///
/// Always gives a [`Run`]; whether it can be knitted is [`Run::knittable`].
pub fn run(program: &Program, machine: &Machine) -> Run {
    let mut bed = Bed { turns: &program.turns, ..Bed::new(machine) };
    for (i, piece) in program.pieces.iter().enumerate() {
        if program.pieces[..i].iter().any(|p| p.name == piece.name) {
            bed.fault_at(
                0,
                Diagnostic::error(
                    Code::PieceTwice,
                    format!("two pieces are called `{}`", piece.name),
                )
                .hint("give each piece a name of its own"),
            );
        }
        bed.knit_piece(piece);
    }
    bed.finish(&program.finishing);
    bed.into_run()
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Position {
    #[default]
    NonWorking,
    Working,
    /// Back from holding: knits with the next pass.
    UpperWorking,
    Holding,
}

#[derive(Clone, Copy, Debug, Default)]
struct NeedleState {
    position: Position,
    loops: u8,
    /// Turns of yarn laid round the shank beside the stitch.
    wraps: u8,
    rows: u32,
}

impl NeedleState {
    fn in_work(self) -> bool {
        self.position != Position::NonWorking
    }

    fn knits(self) -> bool {
        matches!(self.position, Position::Working | Position::UpperWorking)
    }
}

struct Bed<'a> {
    machine: &'a Machine,
    whole: Span,
    main: Vec<NeedleState>,
    ribber: Vec<NeedleState>,
    structure: Structure,
    pitch: Pitch,
    /// A step of this piece has set the pitch: from then on only steps do.
    pitch_said: bool,
    carriage: Side,
    counter: u32,
    /// The needle the yarn last left, if there is yarn in the feed.
    yarn_at: Option<i32>,
    /// The yarn was broken by a step, and none has been joined since.
    broken: bool,
    /// A needle in work may be empty: it gets a loop from the next pass over it.
    emptied: bool,
    /// Rib knitted on a bed without a ribber, to be latched up.
    hand_rib: Option<HandRib>,
    /// Work on a pair of needles.
    in_hand: InHand,
    section: usize,
    /// Sections that are knitted from balls in turn.
    turns: &'a [InTurn],
    /// Their balls that hang at an edge of the piece.
    resting: Vec<Resting>,
    /// How the step in hand brought a ball into the feed.
    balls: BallsTaken,
    sections: Vec<SectionRun>,
    /// What was done in each of them.
    section_work: Vec<OperationCounts>,
    laid: Vec<Laid>,
    edges: Vec<Edge>,
    joins: BTreeMap<u32, JoinRun>,
    /// The number and the edges of the step before, where it sewed a seam.
    last_seam: Option<(u32, [EdgeRange; 2])>,
    marks: BTreeMap<String, u32>,
    waste: Waste,
    work: Work,
    /// Hands are at the needles since the latest pass.
    hands_there: bool,
    faults: Vec<Fault>,
    /// By script line and code (and message, where no line is known): index and times met.
    fault_index: BTreeMap<(u32, Code, String), (usize, u32)>,
    steps_done: u64,
    effort: u64,
    stopped: bool,
    /// A piece could not be begun: it is passed over, and so are faults that follow from it.
    abandoned: bool,
    any_abandoned: bool,
    /// The piece being knitted.
    piece_name: String,
    /// Script line of the latest step that has one.
    line: u32,
    rows: Vec<RowRun>,
    spans: Vec<BedSpan>,
    traces: Vec<StepTrace>,
    /// Outermost needles ever in work in this piece, as offsets into `main`.
    extent: Option<(usize, usize)>,
    widest: u32,
    in_work: u32,
    /// Outermost needles in work now, as offsets.
    ends: Option<(usize, usize)>,
    selvedges: (u32, u32),
    sides: SideRuns,
    /// Where the piece is divided: needles from here on were knitted without those before, which were held,
    /// and no row has gone over both since.
    cuts: BTreeSet<usize>,
    rows_at_mark: BTreeMap<String, Vec<u32>>,
    mark_rows: BTreeMap<String, u32>,
    events: Vec<NeedleEvent>,
    tally: StitchTally,
    /// Closed edges of this piece: cast on, and cast off.
    closed: (Vec<ClosedEdge>, Vec<ClosedEdge>),
    /// What the step in hand counts: [`StepTrace::loops`] and [`StepTrace::over`].
    counted: (u32, u32),
    /// What the step in hand asks of the hands besides.
    mind: Mind,
    /// The step before said where the carriage is.
    side_said: bool,
    stitches: BTreeMap<Structure, u64>,
    done: Vec<PieceRun>,
    /// The latest pass over the same needles, while nothing has been done to them since: of a tube
    /// one for each bed.
    again: [Option<SamePass>; 2],
}

/// A pass that would knit the same needles as the one before, all with one loop each. Its rows are
/// counted here and added to the needles when something next looks at them.
struct SamePass {
    first: usize,
    last: usize,
    /// As [`RowRun::spans`].
    spans: (u32, u32),
    stitches: u32,
    at_ends: (bool, bool),
    /// Whether an end lies inside the piece.
    inside: (bool, bool),
    rows_due: u32,
}

impl<'a> Bed<'a> {
    fn new(machine: &'a Machine) -> Self {
        let whole = machine.rail;
        let needles = machine.needles() as usize;
        Bed {
            machine,
            whole,
            main: vec![NeedleState::default(); needles],
            ribber: vec![NeedleState::default(); if machine.ribs() { needles } else { 0 }],
            structure: Structure::Plain,
            pitch: Pitch::default(),
            pitch_said: false,
            carriage: Side::Right,
            counter: 0,
            yarn_at: None,
            broken: false,
            emptied: false,
            hand_rib: None,
            in_hand: InHand::default(),
            section: 0,
            turns: &[],
            resting: Vec::new(),
            balls: BallsTaken::default(),
            sections: Vec::new(),
            section_work: Vec::new(),
            laid: Vec::new(),
            edges: Vec::new(),
            joins: BTreeMap::new(),
            last_seam: None,
            marks: BTreeMap::new(),
            waste: Waste::default(),
            work: Work::default(),
            hands_there: false,
            faults: Vec::new(),
            fault_index: BTreeMap::new(),
            steps_done: 0,
            effort: 0,
            stopped: false,
            abandoned: false,
            any_abandoned: false,
            piece_name: String::new(),
            line: 0,
            rows: Vec::new(),
            spans: Vec::new(),
            traces: Vec::new(),
            extent: None,
            widest: 0,
            in_work: 0,
            ends: None,
            selvedges: (0, 0),
            sides: SideRuns::default(),
            cuts: BTreeSet::new(),
            rows_at_mark: BTreeMap::new(),
            mark_rows: BTreeMap::new(),
            events: Vec::new(),
            tally: StitchTally::default(),
            closed: (Vec::new(), Vec::new()),
            counted: (0, 0),
            mind: Mind::default(),
            side_said: false,
            stitches: BTreeMap::new(),
            done: Vec::new(),
            again: [None, None],
        }
    }

    fn into_run(mut self) -> Run {
        self.took_for(None, Operation::GettingReady, 1);
        for section in 0..self.sections.len() {
            self.took_for(Some(section), Operation::EndDarned, self.sections[section].tails);
        }
        for (index, times) in self.fault_index.into_values().filter(|(_, times)| *times > 1) {
            self.faults[index].diagnostic.context.push(format!("{times} times in all"));
        }
        Run {
            pieces: self.done,
            edges: self.edges.into_iter().map(|e| e.run).collect(),
            sections: self.sections,
            section_work: self.section_work,
            laid: self.laid,
            marks: self.marks,
            work: self.work,
            waste: self.waste,
            joins: self.joins,
            faults: self.faults,
        }
    }

    fn knit_piece(&mut self, piece: &Piece) {
        self.piece_name.clone_from(&piece.name);
        self.section = self.section_index(&piece.section);
        self.lay(Laying::Tails(1));
        self.counter = 0;
        self.carriage = Side::Right;
        self.yarn_at = None;
        self.hands_there = false;
        self.broken = false;
        self.emptied = false;
        self.hand_rib = None;
        self.in_hand = InHand::default();
        self.extent = None;
        self.widest = 0;
        self.in_work = 0;
        self.ends = None;
        self.structure = Structure::Plain;
        self.pitch = Pitch::default();
        self.pitch_said = false;
        self.cuts.clear();
        self.traces = vec![StepTrace::default(); tree_size(&piece.steps)];
        self.line = 0;
        self.abandoned = false;
        self.do_steps(&piece.steps, 0);
        self.close_piece(piece);
    }

    /// Checks that nothing is left on the bed, clears it and files the piece.
    fn close_piece(&mut self, piece: &Piece) {
        self.settle();
        self.end_resting();
        let left: u32 = self.live_loops();
        self.tally.left = left;
        if left > 0 && !self.stopped {
            self.fault_at(
                self.line,
                Diagnostic::error(
                    Code::StitchesLeft,
                    format!("{left} stitches are still on the bed"),
                )
                .context(format!("piece `{}`, at its end, RC {:03}", piece.name, self.counter))
                .hint("end the piece with a scrap-off, a cast-off or a graft"),
            );
        }
        let needles =
            self.extent.map(|(l, r)| Span { left: self.needle(l), right: self.needle(r) });
        let rows_at =
            self.extent.map_or_else(Vec::new, |(l, r)| self.rows_on_needles()[l..=r].to_vec());
        let stitches = std::mem::take(&mut self.stitches);
        let (cast_on, cast_off) = self.take_closed();
        let structure = stitches
            .iter()
            .max_by_key(|(_, n)| **n)
            .map_or(Structure::Plain, |(structure, _)| *structure);
        self.done.push(PieceRun {
            name: piece.name.clone(),
            title: piece.title.clone(),
            structure,
            needles,
            widest: self.widest,
            rows: std::mem::take(&mut self.rows),
            spans: std::mem::take(&mut self.spans),
            stitches: stitches.values().sum(),
            rows_at,
            selvedges: std::mem::take(&mut self.selvedges),
            sides: std::mem::take(&mut self.sides),
            rows_at_mark: std::mem::take(&mut self.rows_at_mark),
            mark_rows: std::mem::take(&mut self.mark_rows),
            cast_on,
            cast_off,
            tally: std::mem::take(&mut self.tally),
            events: std::mem::take(&mut self.events),
            traces: std::mem::take(&mut self.traces),
        });
        if let Some(piece) = self.done.last() {
            let (rows, by_hand) = (piece.rows.len() as u32, self.in_hand.rows);
            self.took(Operation::WeightsMoved, (rows - by_hand) / ROWS_TO_A_WEIGHT);
            // A piece that never comes to the bed needs no bed made ready.
            self.took(Operation::PieceSetUp, u32::from(by_hand == 0 || by_hand < rows));
        }
        self.main.fill(NeedleState::default());
        self.ribber.fill(NeedleState::default());
    }

    fn do_steps(&mut self, steps: &[Step], first_id: usize) {
        let mut id = first_id;
        for (nth, step) in steps.iter().enumerate() {
            if self.stopped || self.abandoned {
                return;
            }
            self.in_hand.taken_off_next = by_hand::taken_off_next(&steps[nth + 1..]);
            self.steps_done += 1;
            let size = step_size(step);
            self.effort += (size + self.edges.len()) as u64;
            if self.steps_done > MOST_STEPS {
                self.stop(step.line, format!("the program runs on past {MOST_STEPS} steps"));
                return;
            }
            if self.effort > MOST_EFFORT {
                self.stop(step.line, "the program walks past too many steps and edges".to_owned());
                return;
            }
            self.do_step(step, id);
            id += size;
        }
    }

    fn do_step(&mut self, step: &Step, id: usize) {
        if step.line > 0 {
            self.line = step.line;
        }
        let before = self.moment();
        self.traces[id].reached(before, self.broken);
        let outcome = match &step.action {
            Action::Repeat { times, steps } => {
                for _ in 0..*times {
                    if self.stopped || self.abandoned {
                        break;
                    }
                    self.do_steps(steps, id + 1);
                }
                Ok(None)
            }
            action => {
                self.counted = (0, 0);
                self.mind = Mind::default();
                let outcome = self.act(action, step.line);
                self.traces[id].mind.and(self.mind);
                outcome
            }
        };
        match outcome {
            Ok(needles) => {
                self.note_deed(&step.action, needles);
                let trace = &mut self.traces[id];
                if needles.is_some() {
                    trace.first_needles = trace.first_needles.or(needles);
                    trace.last_needles = needles;
                    (trace.loops, trace.over) = self.counted;
                }
            }
            Err(diagnostic) => {
                let unbegun = begins(&step.action) && self.extent.is_none();
                let context = format!(
                    "piece `{}`, {}, RC {:03}, carriage {}",
                    self.piece_name,
                    action_name(&step.action),
                    before.counter,
                    before.carriage
                );
                self.fault_at(step.line, diagnostic.context(context));
                // Only now: it is no fault that follows.
                self.abandoned |= unbegun;
                self.any_abandoned |= unbegun;
            }
        }
        let after = self.moment();
        let in_work = self.in_work;
        let balls = std::mem::take(&mut self.balls);
        let by_hand = self.in_hand.done.take().or_else(|| self.amid_rows_by_hand(&step.action));
        let trace = &mut self.traces[id];
        trace.by_hand = trace.by_hand.or(by_hand);
        trace.balls.carried += balls.carried;
        trace.balls.joined += balls.joined;
        trace.after = Some(after);
        trace.in_work = in_work;
        if trace.visits == 1 {
            trace.first_in_work = in_work;
        }
    }

    fn moment(&self) -> Moment {
        Moment { counter: self.counter, carriage: self.carriage }
    }

    /// Carries out one step that is not a repeat. `Ok` names the needles dealt with.
    fn act(&mut self, action: &Action, line: u32) -> Result<Option<Span>, Diagnostic> {
        if looks_at_needles(action) {
            self.settle();
        }
        let side_said = std::mem::take(&mut self.side_said);
        match action {
            Action::Repeat { .. } => unreachable!("unfolded by the caller"),
            Action::CastOn { span, structure, method, edge } => {
                self.cast_on(*span, *structure, *method, edge.as_deref()).map(Some)
            }
            Action::Knit { rows } => self.knit(*rows, line).map(|()| None),
            Action::CarriageAt(side) => {
                self.check_carriage(*side)?;
                self.side_said = true;
                Ok(None)
            }
            Action::Hold(which) => self.hold(*which).map(Some),
            Action::Return(which) => self.bring_back(*which, side_said).map(Some),
            Action::Wrap => self.wrap().map(Some),
            Action::Hang { edge, needle, loops } => self.hang(edge, *needle, *loops).map(Some),
            Action::TransferToMain => self.transfer_to_main().map(Some),
            Action::Decrease { side, count } => self.decrease(*side, *count).map(Some),
            Action::Increase { side, count } => self.increase(*side, *count).map(Some),
            Action::Narrow(fashion) => self.narrow(fashion).map(Some),
            Action::Widen(fashion) => self.widen(fashion).map(Some),
            Action::Transfer(transfer) => self.transfer(transfer).map(Some),
            Action::ToRib { structure, which } => self.turn_to_rib(*structure, *which).map(Some),
            Action::PickUp { edge, span } => self.pick_up(edge, *span).map(Some),
            Action::BreakYarn => self.break_yarn().map(|()| None),
            Action::JoinYarn(side) => self.join_yarn(*side).map(|()| None),
            Action::ScrapOff { edge, which } => self.scrap_off(edge, *which).map(Some),
            Action::WorkBeds(beds) => self.work_beds(*beds).map(|()| None),
            Action::Pitch(pitch) => self.set_pitch(*pitch).map(|()| None),
            Action::Rehang { edge, span, beds } => self.rehang(edge, *span, *beds).map(Some),
            Action::CastOff { which } => self.cast_off(*which).map(Some),
            Action::Dial(_) | Action::Note(_) => Ok(None),
            Action::Section(name) => {
                self.change_section(name);
                Ok(None)
            }
            Action::ResetCounter => {
                self.counter = 0;
                Ok(None)
            }
            Action::Mark(name) => {
                self.mark(name);
                Ok(None)
            }
            Action::Graft { .. }
            | Action::GatherEdge { .. }
            | Action::GatherSelvedge { .. }
            | Action::Seam { .. }
            | Action::SewOn { .. }
            | Action::Join { .. }
            | Action::Gather(_)
            | Action::Block(_) => Err(Diagnostic::error(
                Code::OffTheBed,
                "this step belongs after the knitting, off the machine",
            )
            .hint("move it into the garment's `finishing`")),
        }
    }

    fn change_section(&mut self, name: &str) {
        let section = self.section_index(name);
        if section != self.section && self.in_one_turn(name) {
            self.change_ball(section);
        } else if section != self.section {
            // One end where the old yarn stops and one where the new begins.
            if !std::mem::take(&mut self.broken) {
                self.lay(Laying::Tails(1));
            }
            self.took(Operation::YarnChanged, 1);
            self.section = section;
            self.lay(Laying::Tails(1));
        }
    }

    fn mark(&mut self, name: &str) {
        if !self.rows_at_mark.contains_key(name) {
            let rows = self.rows_on_needles();
            self.rows_at_mark.insert(name.to_owned(), rows);
            self.mark_rows.insert(name.to_owned(), self.rows.len() as u32);
            let sides = SidesAtMark { selvedges: self.selvedges, inner: self.sides.inner };
            self.sides.at_mark.insert(name.to_owned(), sides);
        }
        *self.marks.entry(name.to_owned()).or_insert(0) += 1;
    }

    fn section_index(&mut self, name: &str) -> usize {
        if let Some(i) = self.sections.iter().position(|s| s.name == name) {
            return i;
        }
        self.sections.push(SectionRun {
            name: name.to_owned(),
            stitches: BTreeMap::new(),
            sewn_loops: 0,
            seam_rows: 0,
            seam_stitches: 0,
            float_needles: 0,
            tails: 0,
        });
        self.section_work.push(OperationCounts::default());
        self.sections.len() - 1
    }

    /// Good yarn used now, for the piece on the bed.
    fn lay(&mut self, what: Laying) {
        self.lay_for(self.section, Some(self.done.len() as u32), what);
    }

    /// Adds to the section's sums and to the order of use. Rows are added to the sums by
    /// [`Self::add_stitches`].
    fn lay_for(&mut self, section: usize, piece: Option<u32>, what: Laying) {
        let sums = &mut self.sections[section];
        match what {
            Laying::Rows { .. } | Laying::Start { .. } => {}
            Laying::SewnLoops(loops) => sums.sewn_loops += u64::from(loops),
            Laying::Floats(needles) => sums.float_needles += u64::from(needles),
            Laying::SeamRows(rows) => sums.seam_rows += u64::from(rows),
            Laying::SeamStitches(stitches) => sums.seam_stitches += u64::from(stitches),
            Laying::Tails(tails) => sums.tails += tails,
        }
        let section = section as u16;
        if let (Some(last), Laying::Rows { first, end }) = (self.laid.last_mut(), what)
            && last.section == section
            && last.piece == piece
            && let Laying::Rows { end: before, .. } = &mut last.what
            && *before == first
        {
            *before = end;
            return;
        }
        self.laid.push(Laid { section, piece, what });
        self.check_log(self.laid.len());
    }

    /// Time is spent on it, so often, in the section that is knitted.
    fn took(&mut self, operation: Operation, times: u32) {
        self.took_for(Some(self.section), operation, times);
    }

    /// The same in a section of that number; `None`: in what is done once for all of them.
    fn took_for(&mut self, section: Option<usize>, operation: Operation, times: u32) {
        self.work.operations.add(operation, times);
        if let Some(own) = section.and_then(|section| self.section_work.get_mut(section)) {
            own.add(operation, times);
        }
    }

    fn add_passes(&mut self, passes: u32) {
        self.work.passes += passes;
        self.took(Operation::Pass, passes);
    }

    /// Passes over waste yarn, which is threaded so many times, or the good yarn again.
    fn waste_passes(&mut self, threaded: u32) {
        self.add_passes(WASTE_ROWS);
        self.took(Operation::WasteThreaded, threaded);
    }

    fn note_event(&mut self, deed: Deed, needles: Span, loops: u32) {
        self.note(deed, needles, (loops, 0), None);
    }

    /// Notes a deed with all that is counted of it, for the step in hand too.
    fn note(&mut self, deed: Deed, needles: Span, counted: (u32, u32), side: Option<Side>) {
        let (loops, over) = counted;
        self.counted = counted;
        self.events.push(NeedleEvent {
            after_rows: self.rows.len() as u32,
            deed,
            needles,
            loops,
            over,
            side,
            in_work: self.in_work,
        });
        self.check_log(self.events.len());
    }

    /// What was done to needles, if it was done to any.
    fn note_deed(&mut self, action: &Action, needles: Option<Span>) {
        let Some(span) = needles else { return };
        // What is done between two passes is done in one go.
        if !std::mem::replace(&mut self.hands_there, true) {
            self.took(Operation::HandsToNeedles, 1);
        }
        if let Some(deed) = deed(action) {
            self.note_event(deed, span, span.len());
        }
    }

    fn check_log(&mut self, entries: usize) {
        if entries > MOST_EVENTS && !self.stopped {
            self.stop(self.line, format!("more than {MOST_EVENTS} things are done by hand"));
        }
    }

    fn add_stitches(&mut self, structure: Structure, count: u64) {
        let gauged = structure.gauged_as();
        *self.sections[self.section].stitches.entry(gauged).or_insert(0) += count;
        *self.stitches.entry(structure).or_insert(0) += count;
    }

    /// A warning that comes back with each round of a repeat: worded the first time, and counted after that.
    /// `word` gives what is said, where, and what helps.
    fn warn_at(
        &mut self,
        line: u32,
        code: Code,
        word: impl FnOnce(&Self) -> (String, String, &'static str),
    ) {
        let told = (line > 0).then(|| self.fault_index.get_mut(&(line, code, String::new())));
        if let Some((_, times)) = told.flatten() {
            *times += 1;
            return;
        }
        let (message, place, hint) = word(self);
        self.fault_at(line, Diagnostic::warning(code, message).context(place).hint(hint));
    }

    /// Where the work stands, as warnings tell it.
    fn at_counter(&self) -> String {
        format!("piece `{}`, RC {:03}", self.piece_name, self.counter)
    }

    fn fault_at(&mut self, line: u32, diagnostic: Diagnostic) {
        // Whatever lacks the abandoned piece or its edges says nothing new.
        const FOLLOW: [Code; 6] = [
            Code::EdgeRange,
            Code::NoSuchEdge,
            Code::NoSuchPiece,
            Code::NoSelvedge,
            Code::GraftMismatch,
            Code::LoopsLeft,
        ];
        if self.any_abandoned && FOLLOW.contains(&diagnostic.code) {
            return;
        }
        // A fault inside a repeat comes back every time round: report it once and count.
        let message = if line == 0 { diagnostic.message.clone() } else { String::new() };
        let key = (line, diagnostic.code, message);
        if let Some((_, times)) = self.fault_index.get_mut(&key) {
            *times += 1;
            // What fails so often will go on failing, and each failure is explained at a cost.
            if diagnostic.severity == Severity::Error && *times >= MOST_REPEATS {
                self.stopped = true;
            }
            return;
        }
        if diagnostic.severity == Severity::Error
            && self.faults.iter().filter(|f| f.diagnostic.severity == Severity::Error).count()
                >= MOST_FAULTS
        {
            self.stopped = true;
            return;
        }
        self.fault_index.insert(key, (self.faults.len(), 1));
        self.faults.push(Fault { line, diagnostic });
    }

    fn stop(&mut self, line: u32, message: String) {
        self.stopped = true;
        self.fault_at(
            line,
            Diagnostic::error(Code::TooLong, message)
                .context(self.at_counter())
                .hint("look for a repeat or a row count with too many noughts"),
        );
    }

    fn needle(&self, offset: usize) -> Needle {
        Needle(self.whole.left.0 + offset as i32)
    }

    fn offset(&self, needle: Needle) -> usize {
        (needle.0 - self.whole.left.0) as usize
    }

    /// # Errors
    /// When any needle of the span is off the bed.
    fn on_bed(&self, span: Span) -> Result<std::ops::RangeInclusive<usize>, Diagnostic> {
        if span.left < self.whole.left || span.right > self.whole.right {
            return Err(Diagnostic::error(
                Code::OffBed,
                format!(
                    "needles {span} are off the bed, which runs {} ({} needles)",
                    self.whole,
                    self.machine.needles()
                ),
            )
            .hint("use fewer stitches, two pieces, or a machine with a looser pitch"));
        }
        Ok(self.offset(span.left)..=self.offset(span.right))
    }

    fn live_loops(&self) -> u32 {
        self.main.iter().chain(&self.ribber).map(|n| u32::from(n.loops > 0)).sum()
    }

    /// Brings `extent`, `widest` and `in_work` up to date after needles came into or left work.
    /// `touched` are those that may have come into work for the first time.
    fn recount(&mut self, touched: Option<std::ops::RangeInclusive<usize>>) {
        let mut reach = self.extent;
        if let Some(range) = touched {
            let (from, to) = (*range.start(), *range.end());
            reach = Some(reach.map_or((from, to), |(l, r)| (l.min(from), r.max(to))));
        }
        let mut in_work = 0;
        let mut ends: Option<(usize, usize)> = None;
        for i in reach.map_or(0..0, |(l, r)| l..r + 1) {
            let here = u32::from(self.main[i].in_work())
                + u32::from(self.ribber.get(i).is_some_and(|n| n.in_work()));
            if here > 0 {
                ends = Some(ends.map_or((i, i), |(l, _)| (l, i)));
                in_work += here;
            }
        }
        self.ends = ends;
        self.extent = match (self.extent, ends) {
            (Some((a, b)), Some((l, r))) => Some((a.min(l), b.max(r))),
            (before, now) => before.or(now),
        };
        self.in_work = in_work;
        self.widest = self.widest.max(in_work);
    }

    /// The needles that may be in work: those that ever were, in this piece.
    fn reach(&self) -> std::ops::Range<usize> {
        self.extent.map_or(0..0, |(left, right)| left..right + 1)
    }

    /// Rows knitted on each needle of the bed, on the busier of the two.
    fn rows_on_needles(&self) -> Vec<u32> {
        let ribber = self.ribber.iter().map(|n| n.rows).chain(std::iter::repeat(0));
        self.main.iter().zip(ribber).map(|(main, ribber)| main.rows.max(ribber)).collect()
    }

    /// The needles of the main bed that are in work, outermost ones.
    fn working_ends(&self) -> Option<(usize, usize)> {
        let first = self.reach().find(|i| self.main[*i].in_work())?;
        let last = self.reach().rev().find(|i| self.main[*i].in_work())?;
        Some((first, last))
    }
}

/// Whether an action brings the first loops of a piece onto the needles.
fn begins(action: &Action) -> bool {
    matches!(action, Action::CastOn { .. } | Action::PickUp { .. } | Action::Rehang { .. })
}

/// Whether an action asks what is on the needles, or changes it: rows that are due must be on them
/// by then.
fn looks_at_needles(action: &Action) -> bool {
    !matches!(
        action,
        Action::Knit { .. }
            | Action::CarriageAt(_)
            | Action::Dial(_)
            | Action::Note(_)
            | Action::Section(_)
            | Action::ResetCounter
            | Action::BreakYarn
            | Action::JoinYarn(_)
    )
}

/// What an action does to needles; hanging notes itself, with its loops.
fn deed(action: &Action) -> Option<Deed> {
    Some(match action {
        Action::CastOn { .. } => Deed::CastOn,
        Action::Hold(_) => Deed::Hold,
        Action::Return(_) => Deed::Return,
        Action::Wrap => Deed::Wrap,
        Action::Decrease { .. } => Deed::Decrease,
        Action::Increase { .. } => Deed::Increase,
        Action::ScrapOff { .. } => Deed::ScrapOff,
        Action::Rehang { .. } => Deed::Rehang,
        Action::CastOff { .. } => Deed::CastOff,
        _ => return None,
    })
}

fn action_name(action: &Action) -> &'static str {
    match action {
        Action::CastOn { .. } => "cast on",
        Action::Knit { .. } => "knit",
        Action::Repeat { .. } => "repeat",
        Action::CarriageAt(_) => "carriage check",
        Action::Hold(_) => "hold",
        Action::Return(_) => "bring back",
        Action::Wrap => "wrap",
        Action::Hang { .. } => "hang",
        Action::TransferToMain => "transfer to the main bed",
        Action::Decrease { .. } => "decrease",
        Action::Increase { .. } => "increase",
        Action::ScrapOff { .. } => "scrap off",
        Action::WorkBeds(_) => "choose beds",
        Action::Pitch(_) => "set the pitch",
        Action::Rehang { .. } => "rehang",
        Action::CastOff { .. } => "cast off",
        Action::Dial(_) => "dial",
        Action::Section(_) => "section",
        Action::ResetCounter => "reset the counter",
        Action::Note(_) => "note",
        Action::Mark(_) => "mark",
        Action::Graft { .. } => "graft",
        Action::GatherEdge { .. } | Action::GatherSelvedge { .. } => "gather",
        Action::Seam { .. } => "seam",
        Action::SewOn { .. } => "sew on",
        Action::Narrow(_) => "decrease",
        Action::Widen(_) => "increase",
        Action::Transfer(_) => "transfer",
        Action::ToRib { .. } => "turn to rib",
        Action::PickUp { .. } => "pick up",
        Action::BreakYarn => "break the yarn",
        Action::JoinYarn(_) => "join the yarn",
        Action::Join { how, .. } => match how {
            Joint::Graft => "graft",
            Joint::Seam => "seam",
            Joint::SewOn => "sew on",
        },
        Action::Gather(_) => "gather",
        Action::Block(_) => "block",
    }
}

/// Steps in a list, those inside repeats included: the number of traces it needs.
pub fn tree_size(steps: &[Step]) -> usize {
    steps.iter().map(step_size).sum()
}

/// A step and all steps inside it.
pub fn step_size(step: &Step) -> usize {
    match &step.action {
        Action::Repeat { steps, .. } => 1 + tree_size(steps),
        _ => 1,
    }
}

#[cfg(test)]
mod tests;
