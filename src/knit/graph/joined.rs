//! Two rows of ends joined, the longer one eased into the shorter.

use super::cloth_edge::Group;
use super::draw::Draw;
use super::end::End;
use super::link::{JoinKind, Link, LinkKind};
use super::slot::Slot;
use super::stitch::Made;
use crate::edge::spread;

/// Farther up a side than any link by its number.
const ABOVE: i32 = 1 << 30;

impl Draw<'_> {
    /// Makes two loops neighbours, each behind those that the row of ends has passed already.
    pub(super) fn link(&mut self, a: End, b: End, kind: LinkKind) {
        self.link_below(a, b, kind, (false, false));
    }

    /// The same, but for either end whether it goes before what its slot holds already: in a selvedge, below.
    pub(super) fn link_below(&mut self, a: End, b: End, kind: LinkKind, below: (bool, bool)) {
        let number = self.links.len() as i32 + 1;
        let place = |end: End, below: bool| if end.ahead == below { -number } else { number };
        self.used[a.at as usize] |= 1 << a.slot as u8;
        self.used[b.at as usize] |= 1 << b.slot as u8;
        self.links.push(Link {
            a: a.at,
            b: b.at,
            slot_a: a.slot,
            slot_b: b.slot,
            kind,
            turned: a.ahead == b.ahead,
            order: (place(a, below.0), place(b, below.1)),
        });
    }

    /// Makes a loop that was wound above a row the neighbour of one of that row: whatever is joined to the side
    /// of that one later, as by a seam, passes below.
    pub(super) fn link_above(&mut self, row: End, wound: End) {
        self.link(row, wound, LinkKind::Row);
        if let Some(link) = self.links.last_mut() {
            link.order.0 += if row.ahead { ABOVE } else { -ABOVE };
        }
    }

    pub(super) fn is_used(&self, at: u32, slot: Slot) -> bool {
        self.used[at as usize] & 1 << slot as u8 != 0
    }

    /// What lay on one needle to what lay on another: all of both.
    pub(super) fn link_groups(&mut self, a: &[End], b: &[End], kind: JoinKind) {
        let most = a.len().max(b.len());
        if a.is_empty() || b.is_empty() {
            return;
        }
        for nth in 0..most {
            let (x, y) = (a[nth * a.len() / most], b[nth * b.len() / most]);
            self.link(x, y, LinkKind::Join(kind));
        }
    }

    /// Joins two edges so that the same side of the cloth stays out: the second is read backwards where
    /// they run alike.
    pub(super) fn join_edges(&mut self, a: &[Group], mut b: Vec<Group>, kind: JoinKind) -> u32 {
        if runs_ahead(a) == runs_ahead(&b) {
            turn_back(&mut b);
        }
        let (fewer, more) = (a.len().min(b.len()) as u32, a.len().max(b.len()) as u32);
        let mut at = 0;
        for nth in 0..fewer {
            for _ in 0..spread(more, fewer, nth) {
                let (of_a, of_b) = if a.len() <= b.len() { (nth, at) } else { (at, nth) };
                if let (Some(x), Some(y)) = (a.get(of_a as usize), b.get(of_b as usize)) {
                    self.link_groups(x, y, kind);
                }
                at += 1;
            }
        }
        more
    }

    /// Draws an edge together.
    pub(super) fn draw_together(&mut self, edge: &[Group]) {
        let Some(first) = edge.iter().flatten().next() else { return };
        let (ahead, like) = (first.ahead, self.loops[first.at as usize]);
        let end = self.add(super::Stitch {
            made: Made::Drawing,
            piece: self.pieces_in_all(),
            leaning: None,
            ..like
        });
        for one in edge.iter().flatten() {
            let spoke = End { at: end, slot: Slot::Below, ahead: !ahead, by: None };
            self.link(*one, spoke, LinkKind::Join(JoinKind::Gathered));
        }
    }
}

/// How most of a row of ends runs round its loops.
pub(super) fn runs_ahead(edge: &[Group]) -> bool {
    let (mut ahead, mut all) = (0, 0);
    for end in edge.iter().flatten() {
        ahead += usize::from(end.ahead);
        all += 1;
    }
    2 * ahead > all
}

/// Reads a row of ends from the other side.
pub(super) fn turn_back(edge: &mut [Group]) {
    edge.reverse();
    for group in edge {
        group.reverse();
        for end in group {
            *end = end.back();
        }
    }
}
