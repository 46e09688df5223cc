//! What a garment script hands over: plain data, a tree of steps for a needle bed. Nothing here
//! is counted or checked; the [`bed`](super::bed) does that by running it.

use std::fmt;

use super::edge::EdgeRange;
use super::needle::{BedSpan, Needle, Side, Span};
use super::turns::InTurn;

/// A whole garment: its pieces in knitting order, then the work off the machine.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Program {
    /// In knitting order.
    pub pieces: Vec<Piece>,
    /// Steps away from the bed: graft, gather, seam, block.
    pub finishing: Vec<Step>,
    /// Sections that are knitted from balls in turn: the program has the balls in their place.
    pub turns: Vec<InTurn>,
}

/// One piece of fabric, from an empty bed back to an empty bed.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Short id, unique in the program: `band`, `crown`.
    pub name: String,
    /// What the pattern calls it.
    pub title: String,
    /// The yarn section its main-yarn passes count towards, unless a step says otherwise.
    pub section: String,
    /// From casting on to the last loop taken off.
    pub steps: Vec<Step>,
}

/// One instruction, and the script line it came from (0 when unknown).
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Line of the script, from 1; 0 when unknown.
    pub line: u32,
    /// What is done.
    pub action: Action,
}

/// How a fabric is made: which needles carry loops and which beds a pass knits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Structure {
    /// Single bed, every needle.
    Plain,
    /// Two beds, one stitch in front, one behind.
    Rib1x1,
    /// Two beds, two and two.
    Rib2x2,
    /// Two beds knitted alternately: a tube of plain fabric.
    Circular,
}

impl Structure {
    /// All four, plain first.
    pub const ALL: [Structure; 4] =
        [Structure::Plain, Structure::Rib1x1, Structure::Rib2x2, Structure::Circular];

    /// The words in files, scripts and JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Structure::Plain => "plain",
            Structure::Rib1x1 => "rib 1x1",
            Structure::Rib2x2 => "rib 2x2",
            Structure::Circular => "circular",
        }
    }

    /// The structure of that [`name`](Self::name), exactly.
    pub fn parse(text: &str) -> Option<Structure> {
        Structure::ALL.into_iter().find(|s| s.name() == text)
    }

    /// Whether it takes two beds.
    pub const fn needs_ribber(self) -> bool {
        !matches!(self, Structure::Plain)
    }

    /// A tube is plain fabric: it is gauged on the plain swatch.
    pub const fn gauged_as(self) -> Structure {
        match self {
            Structure::Circular => Structure::Plain,
            other => other,
        }
    }

    /// How many times its relaxed girth the fabric stretches to without strain (common practice,
    /// no source).
    pub const fn stretches_to(self) -> f64 {
        match self {
            Structure::Plain | Structure::Circular => 1.6,
            Structure::Rib1x1 => 2.0,
            Structure::Rib2x2 => 2.2,
        }
    }
}

impl fmt::Display for Structure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// Which needles an action means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// A fixed run of needles.
    Span(Span),
    /// So many, counted from where the action makes sense on that side: the outermost working
    /// needles for hold, the held needles nearest the working ones for return.
    AtSide(Side, u32),
    /// All that the action makes sense for.
    All,
}

/// What a step does. What the bed asks of each, and when it refuses, is the bed's.
#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    /// Put empty needles to work and make loops on them.
    CastOn {
        /// The needles to be filled.
        span: Span,
        /// How the fabric is made that follows.
        structure: Structure,
        /// How the loops are made.
        method: CastOnMethod,
        /// Name under which the first loops wait, where they do.
        edge: Option<String>,
    },
    /// So many passes of the carriage over the needles in working position.
    Knit {
        /// Passes of the carriage.
        rows: u32,
    },
    /// Says on which side the carriage must be by now; the bed checks it.
    CarriageAt(Side),
    /// Steps done over and over. Kept folded; the bed unfolds it as it runs.
    Repeat {
        /// How often.
        times: u32,
        /// What is done each time.
        steps: Vec<Step>,
    },
    /// Needles to holding position: they keep their loops and don't knit.
    Hold(Which),
    /// Held needles back to knit with the next pass.
    Return(Which),
    /// Lay the yarn round the held needle next to the yarn, so that no slit stays at the turn.
    Wrap,
    /// Hang loops of a detached edge on a needle, in order.
    Hang {
        /// Name of the edge.
        edge: String,
        /// Where its loops go.
        needle: Needle,
        /// How many now.
        loops: HangLoops,
    },
    /// Every loop of the ribber over to the main bed.
    TransferToMain,
    /// Work one end stitch into its neighbour, so many times (each on its own side).
    Decrease {
        /// At which end.
        side: Side,
        /// How often.
        count: u32,
    },
    /// Bring so many empty needles beside the end into work.
    Increase {
        /// At which end.
        side: Side,
        /// How many needles.
        count: u32,
    },
    /// Knit off onto waste yarn; the open loops wait under this name (added behind what already
    /// waits there).
    ScrapOff {
        /// Name under which the loops wait.
        edge: String,
        /// The needles taken off.
        which: Which,
    },
    /// Which beds the passes that follow knit, where both carry loops: a tube's heel is knitted on
    /// the main bed alone while the ribber rests.
    WorkBeds(Beds),
    /// How the needles of the two beds stand to each other from here on. Where no step of a piece
    /// says so, casting on, transferring and knitting round set it themselves.
    Pitch(Pitch),
    /// Put the loops of a detached edge back on needles, one each, first loop leftmost: on empty
    /// needles to go on knitting, or on needles that all carry a loop, to close a hem.
    /// With both beds, half the loops go to the main bed and half to the ribber: a tube.
    Rehang {
        /// Name of the edge.
        edge: String,
        /// Where its loops go: as many needles as loops (half as many for a tube).
        span: Span,
        /// On which beds.
        beds: Beds,
    },
    /// Cast off: the loops are closed.
    CastOff {
        /// The needles taken off.
        which: Which,
    },
    /// Set the dial for what follows (a reminder; gauge comes from the swatch).
    Dial(f64),
    /// Count what follows towards another yarn section.
    Section(String),
    /// Row counter to nought.
    ResetCounter,
    /// A word to the knitter.
    Note(String),
    /// A tally mark, so that a count such as wedges comes from the run and not from the script.
    Mark(String),
    /// Join two open edges loop by loop with one row of sewn stitches.
    Graft {
        /// Name of one edge.
        first: String,
        /// Name of the other; not the same.
        second: String,
    },
    /// Close the loops of an edge by drawing one end through them.
    GatherEdge {
        /// Name of the edge.
        edge: String,
    },
    /// Run an end through the selvedge of a piece and draw it up.
    GatherSelvedge {
        /// Name of the piece.
        piece: String,
        /// Which of its selvedges.
        side: Side,
    },
    /// Sew two selvedges (or one piece's both) together.
    Seam {
        /// Piece and selvedge.
        first: (String, Side),
        /// The other piece and selvedge; may be of the same piece.
        second: (String, Side),
    },
    /// Sew an open edge loop by loop along a selvedge, spread evenly.
    SewOn {
        /// Name of the edge.
        edge: String,
        /// Name of the piece it is sewn to.
        piece: String,
        /// Along which of its selvedges.
        side: Side,
    },
    /// Take stitches in at the working needles, whatever is held.
    Narrow(Fashion),
    /// Make stitches at the working needles, whatever is held.
    Widen(Fashion),
    /// Move loops to other needles.
    Transfer(Transfer),
    /// Turn plain fabric into rib for the passes that follow, until `TransferToMain`. A bed with a
    /// ribber moves loops to it; on one without they are knitted plain, and then dropped and
    /// latched up by hand.
    ToRib {
        /// A rib.
        structure: Structure,
        /// The stitches that become rib; the first on the left stays as it is.
        which: Which,
    },
    /// Hang loops of an edge on needles, spread evenly: on empty ones to knit on, or on needles
    /// that all carry a loop, to join the fabrics.
    PickUp {
        /// Where the loops come from.
        edge: EdgeRange,
        /// Where they go.
        span: Span,
    },
    /// Break the yarn and leave an end.
    BreakYarn,
    /// Join the yarn again, with the carriage taken to that side first, where one is named.
    JoinYarn(Option<Side>),
    /// Join two edges off the bed, the longer one eased into the shorter.
    Join {
        /// In which way.
        how: Joint,
        /// One edge.
        first: EdgeRange,
        /// The other.
        second: EdgeRange,
    },
    /// Draw an end through an edge and pull it up.
    Gather(EdgeRange),
    /// Wash and dry in shape.
    Block(Block),
}

/// Shaping at an end of the working needles, some stitches in. The end stitches are moved
/// together, so that the selvedge runs on beside the shaping.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fashion {
    /// At which end, or at both.
    pub ends: WorkingEnds,
    /// Stitches taken in or made, at each of them.
    pub count: u32,
    /// How far in.
    pub inset: Inset,
}

/// Ends of the working needles.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WorkingEnds {
    /// One of them.
    One(Side),
    /// Both at once.
    Both,
}

impl WorkingEnds {
    /// The sides, the left one first.
    pub fn sides(self) -> impl Iterator<Item = Side> {
        [Side::Left, Side::Right].into_iter().filter(move |side| match self {
            WorkingEnds::One(one) => one == *side,
            WorkingEnds::Both => true,
        })
    }
}

/// How far from the end stitches are shaped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Inset {
    /// So many stitches stay whole outside the shaping.
    Stitches(u32),
    /// At this needle: of those that come to hold two stitches the outermost, or of those that get
    /// a new stitch the innermost.
    Needle(Needle),
}

/// Loops moved from needles to needles, in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Transfer {
    /// From where.
    pub from: BedSpan,
    /// To where: as many needles.
    pub to: BedSpan,
    /// Whether the emptied needles stay in work, so that the next pass makes a loop on them: an
    /// eyelet.
    pub eyelets: bool,
    /// What the passes that follow are, where the first loops come to an empty ribber.
    pub structure: Structure,
}

/// How two edges are joined off the bed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Joint {
    /// By a row of sewn stitches, so that no seam shows.
    Graft,
    /// Edge to edge.
    Seam,
    /// One laid on along the other.
    SewOn,
}

impl Joint {
    /// The word in scripts and JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Joint::Graft => "graft",
            Joint::Seam => "seam",
            Joint::SewOn => "sew_on",
        }
    }
}

/// Which beds a step is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beds {
    /// The main bed alone.
    Main,
    /// Main bed and ribber.
    Both,
}

/// How the needles of the two beds stand to each other (common practice, no source).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pitch {
    /// Full pitch: each needle faces one of the other bed, so loops can go from the one to the
    /// other. Two needles that face each other must not both knit.
    #[default]
    Facing,
    /// Half a pitch apart: each stands between two of the other bed, so all of both can knit.
    Between,
}

impl Pitch {
    /// The word in scripts and JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Pitch::Facing => "facing",
            Pitch::Between => "between",
        }
    }
}

/// How the first loops are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CastOnMethod {
    /// A few rows of waste yarn first: the loops stay open, under the edge name of the step.
    Waste,
    /// Wound round each needle by hand. With an edge name, loosely, so that its loops can be
    /// picked up again later: they must be.
    Wound,
    /// The zigzag row and tubular rows that start a rib: a closed, springy edge.
    Rib,
}

/// How many loops of an edge are hung on one visit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HangLoops {
    /// So many every time.
    Each(u32),
    /// All loops of the edge over this many visits in all, spread evenly.
    SpreadOver(u32),
}

/// Blocking: on what, how big, how.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// What it dries on or over.
    pub form: String,
    /// The width it is stretched to, in mm.
    pub width_mm: Option<f64>,
    /// Whether steam is used.
    pub steam: bool,
    /// What else to mind.
    pub note: String,
}
