//! The bed again, with a name for each loop. What the steps come to is known from the run: which needles
//! a pass knitted, and which a deed dealt with. Here is only which loops lie on them.

use std::collections::BTreeSet;

use super::cloth_edge::{Group, Open, PieceEdges};
use super::end::End;
use super::link::{Inside, JoinKind, Link};
use super::stitch::{Made, Stitch};
use super::{Graph, NotDrawn, Slot};
use crate::needle::{Needle, Side, Span};
use crate::program::{Action, Piece, Step, Structure};
use crate::run::{Deed, NeedleEvent, PieceRun, Run};

/// What lies on one needle.
#[derive(Clone, Default)]
pub(super) struct OnNeedle {
    /// From left to right.
    pub ends: Group,
    /// Loops of another sheet of cloth, hung over the others.
    pub over: Group,
    pub held: bool,
}

pub(super) struct Draw<'a> {
    pub run: &'a Run,
    pub loops: Vec<Stitch>,
    /// Which slots of each loop have a neighbour.
    pub used: Vec<u8>,
    pub links: Vec<Link>,
    pub inside: Vec<Inside>,
    /// Loops over which another sheet was hung: one of the two above, if it has room in the end.
    pub over: Vec<(End, End, JoinKind)>,
    pub open: Vec<Open>,
    pub edges: Vec<PieceEdges>,
    pub hung: u32,
    pub rehung: u32,
    pub picked_up: u32,
    /// Stitches of each section so far.
    pub made: Vec<u64>,
    // The piece on the bed.
    pub name: String,
    pub line: u32,
    pub number: usize,
    pub piece: Option<&'a PieceRun>,
    /// Both beds, a needle of the main bed before that of the ribber, from needle `left` on.
    pub bed: Vec<OnNeedle>,
    pub left: i32,
    pub section: u16,
    /// The beds carry a tube.
    pub ring: bool,
    pub rows_done: usize,
    events_done: usize,
    /// The loop that the yarn left last, and its place on the bed.
    pub yarn: Option<(u32, usize)>,
    /// Wraps since the latest pass, and their places.
    pub wraps: Vec<(u32, usize)>,
    /// As the bed's.
    pub cuts: BTreeSet<i32>,
}

impl<'a> Draw<'a> {
    pub fn new(run: &'a Run) -> Self {
        Draw {
            run,
            loops: Vec::new(),
            used: Vec::new(),
            links: Vec::new(),
            inside: Vec::new(),
            over: Vec::new(),
            open: Vec::new(),
            edges: Vec::new(),
            hung: 0,
            rehung: 0,
            picked_up: 0,
            made: vec![0; run.sections.len()],
            name: String::new(),
            line: 0,
            number: 0,
            piece: None,
            bed: Vec::new(),
            left: 0,
            section: 0,
            ring: false,
            rows_done: 0,
            events_done: 0,
            yarn: None,
            wraps: Vec::new(),
            cuts: BTreeSet::new(),
        }
    }

    pub fn piece(&mut self, number: usize, piece: &Piece) -> Result<(), NotDrawn> {
        self.name.clone_from(&piece.name);
        self.line = 0;
        let found = self.run.pieces.get(number).filter(|found| found.name == piece.name);
        let found = found.ok_or_else(|| self.differs("no such piece in the run"))?;
        self.number = number;
        self.piece = Some(found);
        let needles = found.needles.unwrap_or(Span { left: Needle(0), right: Needle(0) });
        self.left = needles.left.0;
        self.bed = vec![OnNeedle::default(); 2 * needles.len() as usize];
        self.ring = false;
        self.rows_done = 0;
        self.events_done = 0;
        self.yarn = None;
        self.wraps.clear();
        self.cuts.clear();
        self.change_section(&piece.section);
        self.edges.push(PieceEdges::default());
        self.steps(&piece.steps)?;
        self.compare(found)
    }

    fn steps(&mut self, steps: &[Step]) -> Result<(), NotDrawn> {
        for step in steps {
            if step.line > 0 {
                self.line = step.line;
            }
            match &step.action {
                Action::Repeat { times, steps } => {
                    for _ in 0..*times {
                        self.steps(steps)?;
                    }
                }
                Action::Knit { rows } => {
                    for _ in 0..*rows {
                        self.pass()?;
                    }
                }
                action => self.by_hand(action)?,
            }
        }
        Ok(())
    }

    /// All that the run counts of the piece is here too.
    fn compare(&mut self, found: &PieceRun) -> Result<(), NotDrawn> {
        let own = &self.edges[self.number];
        let sides = |of: &[Vec<End>; 2]| (of[0].len() as u32, of[1].len() as u32);
        let (rows, events) = (self.rows_done, self.events_done);
        if (rows, events) != (found.rows.len(), found.events.len()) {
            return Err(self.differs("rows or deeds are left over"));
        }
        if sides(&own.selvedges) != found.selvedges || sides(&own.inner) != found.sides.inner {
            return Err(self.differs("rows along the selvedges"));
        }
        Ok(())
    }

    /// The next deed of the run, which is of that kind.
    pub fn event(&mut self, deed: Deed) -> Result<NeedleEvent, NotDrawn> {
        let events = self.piece.map_or(&[][..], |piece| &piece.events);
        let event = events.get(self.events_done).filter(|event| event.deed == deed).copied();
        self.events_done += 1;
        event.ok_or_else(|| self.differs(deed.name()))
    }

    pub fn next_deed(&self) -> Option<Deed> {
        self.piece?.events.get(self.events_done).map(|event| event.deed)
    }

    pub fn differs(&self, what: &str) -> NotDrawn {
        NotDrawn::Differs { piece: self.name.clone(), line: self.line, what: what.to_owned() }
    }

    pub fn not_yet(&self, action: &'static str) -> NotDrawn {
        NotDrawn::NotYet { action, piece: self.name.clone(), line: self.line }
    }

    pub fn change_section(&mut self, name: &str) {
        let found = self.run.sections.iter().position(|section| section.name == name);
        self.section = found.unwrap_or_default() as u16;
    }

    pub fn add(&mut self, stitch: Stitch) -> u32 {
        self.loops.push(stitch);
        self.used.push(0);
        self.loops.len() as u32 - 1
    }

    /// A loop made by hand on a place of the bed.
    pub fn add_at(&mut self, made: Made, place: usize, structure: Structure) -> u32 {
        let nth = self.made.get(usize::from(self.section)).copied().unwrap_or_default();
        self.add(Stitch {
            made,
            piece: self.number as u16,
            row: self.rows_done as u32,
            needle: self.needle(place),
            ribber: place % 2 == 1,
            structure,
            section: self.section,
            nth,
            leaning: None,
            mirrored: self.mirrored(place),
        })
    }

    /// Whether what is made there has its left on the right.
    pub fn mirrored(&self, place: usize) -> bool {
        self.ring && place % 2 == 1
    }

    pub fn needle(&self, place: usize) -> Needle {
        Needle(self.left + (place / 2) as i32)
    }

    /// A place of the bed.
    pub fn place(&self, needle: Needle, ribber: bool) -> Result<usize, NotDrawn> {
        let place = 2 * i64::from(needle.0 - self.left) + i64::from(ribber);
        let place = usize::try_from(place).ok().filter(|place| *place < self.bed.len());
        place.ok_or_else(|| self.differs("a needle that was never in work"))
    }

    pub fn live(&self, place: usize) -> bool {
        self.bed.get(place).is_some_and(|needle| !needle.ends.is_empty())
    }

    /// Whether a loop lies strictly between two places; of a tube, on their bed.
    pub fn between(&self, a: usize, b: usize) -> bool {
        let (a, b) = (a.min(b), a.max(b));
        let step = if self.ring { 2 } else { 1 };
        (a + step..b).step_by(step).any(|place| self.live(place))
    }

    /// Whether a loop lies beyond a place, to a side, on its bed.
    pub fn beyond(&self, place: usize, side: Side) -> bool {
        match side {
            Side::Left => (place % 2..place).step_by(2).any(|at| self.live(at)),
            Side::Right => (place + 2..self.bed.len()).step_by(2).any(|at| self.live(at)),
        }
    }

    /// The outermost needles that carry a loop.
    pub fn ends(&self) -> Option<(i32, i32)> {
        let mut live = (0..self.bed.len()).filter(|place| self.live(*place));
        let first = live.next()?;
        let last = live.next_back().unwrap_or(first);
        Some((self.needle(first).0, self.needle(last).0))
    }

    pub fn pieces_in_all(&self) -> u16 {
        self.run.pieces.len() as u16
    }

    pub fn into_graph(mut self) -> Graph {
        for (own, over, kind) in std::mem::take(&mut self.over) {
            if self.is_used(own.at, own.slot) {
                self.inside.push(Inside { a: own.at, b: over.at, kind });
            } else {
                self.link(own, over, super::LinkKind::Join(kind));
            }
        }
        let mut halves: Vec<(u32, Slot, i32, u32)> = Vec::with_capacity(2 * self.links.len());
        for (number, link) in self.links.iter().enumerate() {
            let half = 2 * number as u32;
            halves.push((link.a, link.slot_a, link.order.0, half));
            halves.push((link.b, link.slot_b, link.order.1, half + 1));
        }
        halves.sort_unstable();
        let mut starts = vec![0u32; self.loops.len() + 1];
        for (at, ..) in &halves {
            starts[*at as usize + 1] += 1;
        }
        for at in 0..self.loops.len() {
            starts[at + 1] += starts[at];
        }
        Graph {
            loops: self.loops,
            links: self.links,
            inside: self.inside,
            hung: self.hung,
            rehung: self.rehung,
            picked_up: self.picked_up,
            starts,
            around: halves.into_iter().map(|half| half.3).collect(),
        }
    }
}
