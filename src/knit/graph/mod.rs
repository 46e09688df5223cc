//! The stitch graph: which loop was drawn through which, and beside which, and what was joined to what.
//!
//! A second run over a program that the bed has found knittable, at the level of single loops. The bed
//! counts; here each loop has a name. Every loop keeps its neighbours in the order in which they lie
//! round it ([`Slot`]), and whether cloth is turned over between two of them ([`Link::turned`]). That is
//! enough to trace every face and every open edge of the garment ([`Surface`]): none is filled in.
//!
//! No gauge is applied, and nothing is drawn.

mod cloth_edge;
mod crossed;
mod draw;
mod end;
mod finish;
mod hands;
mod joined;
mod link;
mod not_drawn;
mod row;
mod slot;
mod stitch;
mod surface;

pub use self::crossed::Crossed;
pub use self::link::{Inside, JoinKind, Link, LinkKind};
pub use self::not_drawn::NotDrawn;
pub use self::slot::Slot;
pub use self::stitch::{Leaning, Made, Stitch};
pub use self::surface::{Face, Opening, Surface};

use super::program::Program;
use super::run::Run;

/// More loops than any garment has: a program beyond it is not drawn.
pub const MOST_LOOPS: usize = 2_000_000;

/// All loops of a garment and what joins them.
#[derive(Clone, Debug, PartialEq)]
pub struct Graph {
    /// In the order in which they were made; those of a pass in the order of the yarn.
    pub loops: Vec<Stitch>,
    /// What joins two loops.
    pub links: Vec<Link>,
    /// Where a third sheet of cloth is joined on the inside: no part of the surface.
    pub inside: Vec<Inside>,
    /// Loops hung by hand, as the run counts them: step by step through edges, back on needles, and
    /// picked up.
    pub hung: u32,
    /// Loops put back on needles of their own.
    pub rehung: u32,
    /// Loops picked up.
    pub picked_up: u32,
    /// Half links round each loop, anticlockwise from its left as it hangs on the main bed: `starts[i]..starts[i + 1]` of `around`.
    starts: Vec<u32>,
    /// Twice the number of a link, and one more for its second end.
    around: Vec<u32>,
}

impl Graph {
    /// The graph of a program and of its run.
    ///
    /// # Errors
    /// When the run was refused, is not of this program, is too large, or does what is not drawn yet.
    pub fn of(program: &Program, run: &Run) -> Result<Graph, NotDrawn> {
        if !run.knittable() {
            return Err(NotDrawn::Refused);
        }
        let stitches: u64 = run.pieces.iter().map(|piece| piece.stitches).sum();
        if stitches as usize > MOST_LOOPS {
            return Err(NotDrawn::TooLarge { stitches });
        }
        let mut draw = draw::Draw::new(run);
        for (number, piece) in program.pieces.iter().enumerate() {
            draw.piece(number, piece)?;
        }
        draw.finishing(&program.finishing)?;
        Ok(draw.into_graph())
    }

    /// What joins a loop to others, anticlockwise from its left as it hangs on the main bed, its purl side
    /// towards the knitter: the number of the link, the loop across, and the slot here.
    pub fn around(&self, at: u32) -> impl Iterator<Item = (u32, u32, Slot)> {
        self.halves(at).iter().map(|half| {
            let link = &self.links[(half / 2) as usize];
            let (across, slot) = link.across(*half);
            (half / 2, across, slot)
        })
    }

    /// The loops that a loop was drawn through, or hung together with, from its left to its right.
    pub fn parents(&self, at: u32) -> impl Iterator<Item = u32> {
        self.around(at).filter(|(_, _, slot)| *slot == Slot::Below).map(|(_, across, _)| across)
    }

    /// The loops drawn through it, or joined to its head.
    pub fn children(&self, at: u32) -> impl Iterator<Item = u32> {
        self.around(at).filter(|(_, _, slot)| *slot == Slot::Above).map(|(_, across, _)| across)
    }

    /// The pairs of loops joined in that way, in the order of the work.
    pub fn joins(&self, kind: JoinKind) -> impl Iterator<Item = (u32, u32)> {
        let of = LinkKind::Join(kind);
        self.links.iter().filter(move |link| link.kind == of).map(|link| (link.a, link.b))
    }

    fn halves(&self, at: u32) -> &[u32] {
        let at = at as usize;
        &self.around[self.starts[at] as usize..self.starts[at + 1] as usize]
    }
}

#[cfg(test)]
mod tests;
