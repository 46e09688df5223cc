//! What a garment script hands over: plain data, a tree of steps for a needle bed. Nothing here
//! is counted or checked; the [`bed`](super::bed) does that by running it.

use std::fmt;

use super::needle::{Needle, Side, Span};

/// A whole garment: its pieces in knitting order, then the work off the machine.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Program {
    pub pieces: Vec<Piece>,
    /// Steps away from the bed: graft, gather, seam, block.
    pub finishing: Vec<Step>,
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
    pub steps: Vec<Step>,
}

/// One instruction, and the script line it came from (0 when unknown).
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    pub line: u32,
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
    pub const ALL: [Structure; 4] =
        [Structure::Plain, Structure::Rib1x1, Structure::Rib2x2, Structure::Circular];

    pub const fn name(self) -> &'static str {
        match self {
            Structure::Plain => "plain",
            Structure::Rib1x1 => "rib 1x1",
            Structure::Rib2x2 => "rib 2x2",
            Structure::Circular => "circular",
        }
    }

    pub fn parse(text: &str) -> Option<Structure> {
        Structure::ALL.into_iter().find(|s| s.name() == text)
    }

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
    All,
}

#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    /// Put empty needles to work and make loops on them.
    CastOn {
        span: Span,
        structure: Structure,
        method: CastOnMethod,
        edge: Option<String>,
    },
    /// So many passes of the carriage over the needles in working position.
    Knit {
        rows: u32,
    },
    /// Says on which side the carriage must be by now; the bed checks it.
    CarriageAt(Side),
    /// Steps done over and over. Kept folded; the bed unfolds it as it runs.
    Repeat {
        times: u32,
        steps: Vec<Step>,
    },
    Hold(Which),
    Return(Which),
    /// Lay the yarn round the held needle next to the yarn, so that no slit stays at the turn.
    Wrap,
    /// Hang loops of a detached edge on a needle, in order.
    Hang {
        edge: String,
        needle: Needle,
        loops: HangLoops,
    },
    /// Every loop of the ribber over to the main bed.
    TransferToMain,
    /// Work one end stitch into its neighbour, so many times (each on its own side).
    Decrease {
        side: Side,
        count: u32,
    },
    /// Bring so many empty needles beside the end into work.
    Increase {
        side: Side,
        count: u32,
    },
    /// Knit off onto waste yarn; the open loops wait under this name (added behind what already
    /// waits there).
    ScrapOff {
        edge: String,
        which: Which,
    },
    /// Which beds the passes that follow knit, where both carry loops: a tube's heel is knitted on
    /// the main bed alone while the ribber rests.
    WorkBeds(Beds),
    /// Put the loops of a detached edge back on needles, one each, first loop leftmost: on empty
    /// needles to go on knitting, or on needles that all carry a loop, to close a hem.
    /// With both beds, half the loops go to the main bed and half to the ribber: a tube.
    Rehang {
        edge: String,
        span: Span,
        beds: Beds,
    },
    /// Cast off: the loops are closed.
    CastOff {
        which: Which,
    },
    /// Set the dial for what follows (a reminder; gauge comes from the swatch).
    Dial(f64),
    /// Count what follows towards another yarn section.
    Section(String),
    /// Row counter to nought.
    ResetCounter,
    Note(String),
    /// A tally mark, so that a count such as wedges comes from the run and not from the script.
    Mark(String),
    /// Join two open edges loop by loop with one row of sewn stitches.
    Graft {
        first: String,
        second: String,
    },
    /// Close the loops of an edge by drawing one end through them.
    GatherEdge {
        edge: String,
    },
    /// Run an end through the selvedge of a piece and draw it up.
    GatherSelvedge {
        piece: String,
        side: Side,
    },
    /// Sew two selvedges (or one piece's both) together.
    Seam {
        first: (String, Side),
        second: (String, Side),
    },
    /// Sew an open edge loop by loop along a selvedge, spread evenly.
    SewOn {
        edge: String,
        piece: String,
        side: Side,
    },
    Block(Block),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beds {
    Main,
    Both,
}

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
    pub form: String,
    pub width_mm: Option<f64>,
    pub steam: bool,
    pub note: String,
}
