//! What came off the bed: per piece the rows as they were knitted, per edge the loops, per yarn
//! section the stitches, per program step where the row counter stood. Reports read this and
//! nothing else.

use std::collections::BTreeMap;

use super::edge::{EdgeLength, MarkedEdge, RowAt};
pub use super::needle::BedSpan;
use super::needle::{Needle, Side, Span};
use super::operation::{Operation, OperationCounts};
use super::program::{Pitch, Structure};
use diag::Diagnostic;

/// All that came off the bed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Run {
    /// In knitting order.
    pub pieces: Vec<PieceRun>,
    /// Loops that waited, in the order in which the edges were opened.
    pub edges: Vec<EdgeRun>,
    /// What each yarn section took, in the order in which they were met.
    pub sections: Vec<SectionRun>,
    /// What was done in each of them, in their order. What is done once for all, getting ready and blocking,
    /// is in [`Run::work`] alone.
    pub section_work: Vec<OperationCounts>,
    /// Good yarn in the order in which it left the feed or the needle: adds up to `sections`.
    pub laid: Vec<Laid>,
    /// By name: how often a tally mark was passed, in all pieces.
    pub marks: BTreeMap<String, u32>,
    /// Passes and hand work, all pieces together.
    pub work: Work,
    /// Waste yarn, all pieces together.
    pub waste: Waste,
    /// What edges that were joined off the bed measured, by the number of the finishing step, from 0.
    pub joins: BTreeMap<u32, JoinRun>,
    /// What the bed refused or warns of, in order of its finding.
    pub faults: Vec<Fault>,
}

impl Run {
    /// The piece of that name.
    pub fn piece(&self, name: &str) -> Option<&PieceRun> {
        self.pieces.iter().find(|p| p.name == name)
    }

    /// The edge of that name.
    pub fn edge(&self, name: &str) -> Option<&EdgeRun> {
        self.edges.iter().find(|e| e.name == name)
    }

    /// Whether any stitch is knitted in fabric that this structure gauges.
    pub fn knits(&self, structure: Structure) -> bool {
        self.sections.iter().any(|s| s.stitches.contains_key(&structure.gauged_as()))
    }

    /// What was done in a section and how often, with its share of what is done once for all of them: by what
    /// its own takes in `minutes` among the others.
    pub fn work_in(
        &self,
        section: &str,
        minutes: impl Fn(Operation, f64) -> f64,
    ) -> Vec<(Operation, f64)> {
        let times = |counts: &OperationCounts, operation| f64::from(counts.of(operation));
        let of = |counts: &OperationCounts| -> f64 {
            Operation::ALL.into_iter().map(|own| minutes(own, times(counts, own))).sum()
        };
        // What has no stitch is weighed by nobody: its work is done for the others.
        let knitted = || {
            let all = self.sections.iter().zip(&self.section_work);
            all.filter(|(section, _)| !section.stitches.is_empty())
        };
        let Some((_, own)) = knitted().find(|(own, _)| own.name == section) else {
            return Vec::new();
        };
        let all: f64 = knitted().map(|(_, counts)| of(counts)).sum();
        let share = if all > 0.0 { of(own) / all } else { 1.0 };
        let of_operation = |operation| {
            let each: f64 = knitted().map(|(_, counts)| times(counts, operation)).sum();
            let shared = times(&self.work.operations, operation) - each;
            (operation, times(own, operation) + share * shared)
        };
        Operation::ALL.into_iter().map(of_operation).filter(|(_, times)| *times > 0.0).collect()
    }

    /// Whether it can be knitted: no fault is an error.
    pub fn knittable(&self) -> bool {
        !self.faults.iter().any(|f| f.diagnostic.severity == diag::Severity::Error)
    }
}

/// Something the bed refused or warns of, and the script line of the step that led to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// Line of the script; 0 when unknown.
    pub line: u32,
    /// What is wrong.
    pub diagnostic: Diagnostic,
}

/// What came off the bed for one piece.
#[derive(Clone, Debug, PartialEq)]
pub struct PieceRun {
    /// Its short id, unique in the program.
    pub name: String,
    /// What the pattern calls it.
    pub title: String,
    /// What most of its stitches are: the swatch that gauges it.
    pub structure: Structure,
    /// The outermost needles ever in work.
    pub needles: Option<Span>,
    /// The most stitches in work at one time (both beds).
    pub widest: u32,
    /// Its passes, in order.
    pub rows: Vec<RowRun>,
    /// The needles knitted, by row: `RowRun::spans` indexes into this.
    pub spans: Vec<BedSpan>,
    /// Stitches of all rows and both beds.
    pub stitches: u64,
    /// Rows knitted on each needle of `needles`, left to right, on the busier bed.
    pub rows_at: Vec<u32>,
    /// Rows along the left and the right selvedge: passes that knit the outermost needle in work.
    pub selvedges: (u32, u32),
    /// Rows along edges inside the piece, and where tally marks lie along all of them.
    pub sides: SideRuns,
    /// By tally mark: the rows on each needle of the bed, left to right, when it was first passed.
    pub rows_at_mark: BTreeMap<String, Vec<u32>>,
    /// By tally mark: the rows of the piece done when it was first passed.
    pub mark_rows: BTreeMap<String, u32>,
    /// The closed stitches it was cast on with, by needle.
    pub cast_on: Vec<ClosedEdge>,
    /// The stitches cast off, by needle.
    pub cast_off: Vec<ClosedEdge>,
    /// What became of its stitches.
    pub tally: StitchTally,
    /// What was done to needles between rows, in order.
    pub events: Vec<NeedleEvent>,
    /// What happened at each step of the piece's program, in pre-order of the tree.
    pub traces: Vec<StepTrace>,
}

/// Rows along the sides of a piece, beside [`PieceRun::selvedges`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SideRuns {
    /// Rows whose left or right end lies inside the piece: beside stitches that are held, or that were
    /// taken off the bed on their own.
    pub inner: (u32, u32),
    /// By tally mark: the rows along each selvedge, and along each inner edge, when it was first passed.
    pub at_mark: BTreeMap<String, SidesAtMark>,
}

/// Rows along selvedges and inner edges at one time, left and right.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SidesAtMark {
    /// Along the selvedges.
    pub selvedges: (u32, u32),
    /// Along the inner edges.
    pub inner: (u32, u32),
}

impl SideRuns {
    /// Numbers for a stretch between marks, of a side with so many rows: from, and up to. What lies off
    /// the side is left so, for the bed to refuse. `None` where a mark was never passed.
    pub fn stretch(&self, edge: &MarkedEdge, whole: u32) -> Option<(i64, i64)> {
        let row = |at: &RowAt| match at {
            RowAt::Row(row) => Some(i64::from(*row)),
            RowAt::Mark(name, rows) => {
                let at = self.at_mark.get(name)?;
                let (left, right) = if edge.inner { at.inner } else { at.selvedges };
                let row = if edge.side == Side::Left { left } else { right };
                Some(i64::from(row) + i64::from(*rows))
            }
        };
        let to = match &edge.to {
            Some(to) => row(to)?,
            None => i64::from(whole),
        };
        Some((row(&edge.from)?, to))
    }
}

impl PieceRun {
    /// The needles a row knitted.
    pub fn spans_of(&self, row: &RowRun) -> &[BedSpan] {
        &self.spans[row.spans.0 as usize..row.spans.1 as usize]
    }

    /// Rows along the selvedge of a side.
    pub fn rows_at_side(&self, side: Side) -> u32 {
        match side {
            Side::Left => self.selvedges.0,
            Side::Right => self.selvedges.1,
        }
    }

    /// Rows knitted on a needle between two tally marks (the start and the end, where `None`).
    /// `None` for a needle never in work or a mark never passed. `bed` is the whole bed.
    pub fn rows_on(
        &self,
        bed: Span,
        needle: Needle,
        from: Option<&str>,
        to: Option<&str>,
    ) -> Option<u32> {
        let own = self.needles?;
        if !own.contains(needle) {
            return None;
        }
        let at_mark = |name: &str| {
            self.rows_at_mark.get(name)?.get((needle.0 - bed.left.0) as usize).copied()
        };
        let from = from.map_or(Some(0), at_mark)?;
        let to = match to {
            Some(name) => at_mark(name)?,
            None => self.rows_at[(needle.0 - own.left.0) as usize],
        };
        Some(to.saturating_sub(from))
    }

    /// The most rows on any needle.
    pub fn tallest(&self) -> u32 {
        self.rows_at.iter().copied().max().unwrap_or(0)
    }
}

/// One pass of the carriage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RowRun {
    /// What the row counter shows when the pass is done.
    pub counter: u32,
    /// Where the carriage set out from.
    pub from: Side,
    /// Index into [`Run::sections`].
    pub section: u16,
    /// What it knitted.
    pub structure: Structure,
    /// Stitches knitted.
    pub stitches: u32,
    /// From where up to but without where in [`PieceRun::spans`].
    pub spans: (u32, u32),
}

/// Stitches closed in one go, side by side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClosedEdge {
    /// On these needles.
    pub needles: Span,
    /// So many: twice the needles for a tube.
    pub stitches: u32,
}

/// What became of every stitch of a piece. Those made are all of the other four.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct StitchTally {
    /// Cast on, increased, hung, picked up, or made by a pass on an empty needle.
    pub made: u32,
    /// Worked into another: a needle held both.
    pub taken_in: u32,
    /// Closed and off.
    pub cast_off: u32,
    /// Off on waste yarn.
    pub scrapped: u32,
    /// Still on the bed at the end, which is a fault.
    pub left: u32,
}

/// Two edges joined off the bed, or one gathered: what each measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct JoinRun {
    /// The first edge.
    pub first: EdgeLength,
    /// The other; `None` where there was one alone.
    pub second: Option<EdgeLength>,
}

/// Something done by hand to needles, and when.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NeedleEvent {
    /// Rows of the piece done before it.
    pub after_rows: u32,
    /// What was done.
    pub deed: Deed,
    /// The outermost needles it was done to.
    pub needles: Span,
    /// Loops hung, moved, picked up or latched up; otherwise the needles of the span.
    pub loops: u32,
    /// Places of the edge that loops were picked up from, rows that stitches were latched up over,
    /// or columns of a rib that is to be latched up; otherwise 0.
    pub over: u32,
    /// At which end, where the deed belongs to one and not to the other.
    pub side: Option<Side>,
    /// Stitches in work when it is done.
    pub in_work: u32,
}

/// What hands do to needles.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Deed {
    /// Empty needles put to work.
    CastOn,
    /// Needles to holding position.
    Hold,
    /// Held needles back to work.
    Return,
    /// Yarn laid round a held needle.
    Wrap,
    /// Also a visit at which no loop was due.
    Hang,
    /// Loops of an edge back on needles of their own.
    Rehang,
    /// The ribber's loops over to the main bed.
    TransferToMain,
    /// An end stitch worked into its neighbour.
    Decrease,
    /// An empty needle beside the end put to work.
    Increase,
    /// Loops off on waste yarn.
    ScrapOff,
    /// Loops closed and off.
    CastOff,
    /// Loops moved to other needles, of the same bed or of the other.
    Transfer,
    /// Stitches of plain fabric made into rib: over to the ribber, or to be latched up by hand.
    ToRib,
    /// Stitches dropped and latched up again from the other side.
    LatchUp,
    /// Loops of any edge picked up onto needles.
    PickUp,
}

impl Deed {
    /// In one word, for programs and style sheets.
    pub const fn name(self) -> &'static str {
        match self {
            Deed::CastOn => "cast-on",
            Deed::Hold => "hold",
            Deed::Return => "return",
            Deed::Wrap => "wrap",
            Deed::Hang => "hang",
            Deed::Rehang => "rehang",
            Deed::TransferToMain => "transfer",
            Deed::Decrease => "decrease",
            Deed::Increase => "increase",
            Deed::ScrapOff => "scrap-off",
            Deed::CastOff => "cast-off",
            Deed::Transfer => "move",
            Deed::ToRib => "to-rib",
            Deed::LatchUp => "latch-up",
            Deed::PickUp => "pick-up",
        }
    }
}

/// A length of good yarn used up, in the order of use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Laid {
    /// Index into [`Run::sections`].
    pub section: u16,
    /// Index into [`Run::pieces`]; `None` for work off the machine.
    pub piece: Option<u32>,
    /// What it was used for.
    pub what: Laying,
}

/// What a length of yarn was used for, and how much of it in its own count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Laying {
    /// Rows of the piece, `first` up to but without `end`.
    Rows {
        /// Index of the first row.
        first: u32,
        /// Index behind the last row.
        end: u32,
    },
    /// The stitches of a rib's zigzag and tubular rows.
    Start {
        /// The rib.
        structure: Structure,
        /// Stitches of those rows, both beds.
        stitches: u32,
    },
    /// Loops grafted, gathered, cast off or wound by hand.
    SewnLoops(u32),
    /// Needles' breadths of floats and wraps.
    Floats(u32),
    /// Rows of selvedge sewn along.
    SeamRows(u32),
    /// Closed stitches of a cast-on or cast-off edge sewn along.
    SeamStitches(u32),
    /// Ends left to darn in.
    Tails(u32),
}

/// Loops that waited on waste yarn, and how they were used.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgeRun {
    /// Unique in the program.
    pub name: String,
    /// Name of the piece it was made on.
    pub piece: String,
    /// All loops that ever waited here.
    pub loops: u32,
    /// Loops that still wait.
    pub left: u32,
    /// Visits to hang loops of it.
    pub points: u32,
    /// Hang points at which no loop was due, and those at which more than one was.
    pub skipped: Vec<HangPoint>,
    /// Points at which more than one loop was due.
    pub doubled: Vec<HangPoint>,
}

/// One visit to hang loops: its number from 1, what the row counter showed, the loops hung.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HangPoint {
    /// Its number, from 1.
    pub point: u32,
    /// What the row counter showed.
    pub counter: u32,
    /// Loops hung.
    pub loops: u32,
}

/// What one yarn section took.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionRun {
    /// As the program names it.
    pub name: String,
    /// By the structure that gauges them.
    pub stitches: BTreeMap<Structure, u64>,
    /// Loops grafted, gathered, cast off or wound by hand, each about a stitch of yarn.
    pub sewn_loops: u64,
    /// Rows of selvedge seamed, gathered or sewn along.
    pub seam_rows: u64,
    /// Closed stitches seamed, gathered or sewn along.
    pub seam_stitches: u64,
    /// Needles' breadths of yarn in floats and wraps.
    pub float_needles: u64,
    /// Ends left hanging, to be darned in.
    pub tails: u32,
}

/// Passes and hand work.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Work {
    /// Passes of the carriage, those over waste yarn included.
    pub passes: u32,
    /// Needles or loops moved by hand.
    pub hand_moves: u32,
    /// Loops and rows sewn off the machine.
    pub sewn: u32,
    /// The same and all else that takes time, each kind apart.
    pub operations: OperationCounts,
    /// Of `hand_moves`: loops moved from needle to needle with a tool, in fashioning and transfers.
    pub transferred: u32,
    /// Of `hand_moves`: stitches latched up by hand, each row of each column.
    pub latched: u32,
    /// Of `hand_moves`: loops picked up along an edge.
    pub picked_up: u32,
    /// Yarns joined in the middle of a piece, after a break.
    pub yarns_joined: u32,
}

/// Waste yarn used.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Waste {
    /// Stitches knitted in it.
    pub stitches: u64,
}

/// Where things stood when a step was reached.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// What the row counter showed.
    pub counter: u32,
    /// The side the carriage was on.
    pub carriage: Side,
}

/// A step's history in the run. A step inside a repeat is reached many times: the first and the
/// last time are kept.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StepTrace {
    /// How often it was reached.
    pub visits: u32,
    /// When it was reached first.
    pub first: Option<Moment>,
    /// When it was reached last.
    pub last: Option<Moment>,
    /// When the step was done with, the last time.
    pub after: Option<Moment>,
    /// The needles it dealt with, the first and the last time.
    pub first_needles: Option<Span>,
    /// The needles it dealt with the last time.
    pub last_needles: Option<Span>,
    /// Whether the yarn was broken when it was reached, the last time.
    pub broken: bool,
    /// Whether the carriage was not always on the same side when the step was reached.
    pub either_side: bool,
    /// Stitches in work after the step, the first and the last time.
    pub first_in_work: u32,
    /// Stitches in work after the step, the last time.
    pub in_work: u32,
    /// As [`NeedleEvent::loops`], the last time; 0 for a step that makes no such count.
    pub loops: u32,
    /// As [`NeedleEvent::over`], the last time.
    pub over: u32,
    /// What the hands must mind at it, at any time it was reached.
    pub mind: Mind,
    /// Of balls in turn: how often the ball that follows was taken up where it hung at the edge, and how
    /// often it was joined.
    pub balls: BallsTaken,
    /// What of it was done by hand, on a pair of needles.
    pub by_hand: Option<ByHand>,
}

/// What a step asks of the hands that no step says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Mind {
    /// The beds must be set so before it.
    pub pitch: Option<Pitch>,
    /// Its first pass goes over held needles on that side before it comes to those that knit.
    pub past_held: Option<Side>,
    /// Needles come back on the side where the yarn runs from the work to the carriage.
    pub under_yarn: bool,
}

impl Mind {
    /// What is to be minded at another time too.
    pub fn and(&mut self, other: Mind) {
        self.pitch = self.pitch.or(other.pitch);
        self.past_held = self.past_held.or(other.past_held);
        self.under_yarn |= other.under_yarn;
    }
}

/// What is done on a pair of needles, or between them and the bed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ByHand {
    /// Cast on, for fabric of that structure.
    CastOn(Structure),
    /// Rows of it.
    Rows(Structure),
    /// From the bed onto the needles.
    FromBed(Structure),
    /// From the needles onto the bed.
    OntoBed,
    /// They stay on the needles: what follows takes them off.
    Stay,
    /// Off the needles, on a strand of waste yarn or closed.
    Off,
}

impl ByHand {
    /// The word in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            ByHand::CastOn(_) => "cast on",
            ByHand::Rows(_) => "rows",
            ByHand::FromBed(_) => "from the bed",
            ByHand::OntoBed => "onto the bed",
            ByHand::Stay => "stay",
            ByHand::Off => "off",
        }
    }
}

/// How the balls of a section that is knitted in turn came into the feed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BallsTaken {
    /// Carried up the edge.
    pub carried: u32,
    /// Joined with a new end.
    pub joined: u32,
}

impl StepTrace {
    /// Notes that the step was reached once more.
    pub(super) fn reached(&mut self, at: Moment, broken: bool) {
        self.visits += 1;
        let first = self.first.get_or_insert(at);
        self.either_side |= first.carriage != at.carriage;
        self.last = Some(at);
        self.broken = broken;
    }
}
