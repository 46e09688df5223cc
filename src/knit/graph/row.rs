//! A pass of the carriage, loop by loop.

use std::cmp::Ordering;

use super::draw::Draw;
use super::end::{End, facing};
use super::link::{JoinKind, LinkKind};
use super::stitch::{Leaning, Made, Stitch};
use super::{MOST_LOOPS, NotDrawn};
use crate::needle::Side;
use crate::run::RowRun;

use super::cloth_edge::nth;

/// A loop and its place on the bed.
type Placed = (u32, usize);

impl Draw<'_> {
    pub(super) fn pass(&mut self) -> Result<(), NotDrawn> {
        let piece = self.piece.ok_or_else(|| self.differs("no piece"))?;
        let row = piece.rows.get(self.rows_done).ok_or_else(|| self.differs("rows"))?;
        let mut places = Vec::with_capacity(row.stitches as usize);
        for run in piece.spans_of(row) {
            for needle in run.span.left.0..=run.span.right.0 {
                places.push(self.place(crate::needle::Needle(needle), run.ribber)?);
            }
        }
        places.sort_unstable();
        let ends = self.side_ends(row, &places);
        if self.loops.len() + places.len() > MOST_LOOPS {
            return Err(NotDrawn::TooLarge { stitches: self.loops.len() as u64 });
        }
        let new = self.draw_loops(row, &places);
        for pair in new.windows(2) {
            if !self.stands_between(&new, pair[0].1, pair[1].1) {
                self.beside(pair[0].0, pair[1].0, LinkKind::Row);
            }
        }
        self.turn(row.from, &new);
        self.keep_sides(&new, ends);
        self.yarn = match row.from {
            Side::Left => new.last().copied(),
            Side::Right => new.first().copied(),
        };
        self.rows_done += 1;
        Ok(())
    }

    /// A new loop on each needle, in the order of the yarn; given back from left to right.
    fn draw_loops(&mut self, row: &RowRun, places: &[usize]) -> Vec<Placed> {
        let mut new: Vec<Placed> = Vec::with_capacity(places.len());
        let mut nth = self.made.get(usize::from(row.section)).copied().unwrap_or_default();
        for turn in 0..places.len() {
            let from_left = row.from == Side::Left;
            let place = if from_left { places[turn] } else { places[places.len() - 1 - turn] };
            let at = self.draw_loop(row, place, nth);
            nth += 1;
            new.push((at, place));
        }
        if let Some(made) = self.made.get_mut(usize::from(row.section)) {
            *made = nth;
        }
        if row.from == Side::Right {
            new.reverse();
        }
        new
    }

    fn draw_loop(&mut self, row: &RowRun, place: usize, nth: u64) -> u32 {
        let on = &mut self.bed[place];
        let (ends, over) = (std::mem::take(&mut on.ends), std::mem::take(&mut on.over));
        let mirrored = self.mirrored(place);
        let at = self.add(Stitch {
            made: if ends.is_empty() { Made::Laid } else { Made::Knitted },
            piece: self.number as u16,
            row: self.rows_done as u32,
            needle: self.needle(place),
            ribber: place % 2 == 1,
            structure: row.structure,
            section: row.section,
            nth,
            leaning: self.leaning(place, &ends),
            mirrored,
        });
        for end in ends {
            let kind = end.by.map_or(LinkKind::Drawn, LinkKind::Join);
            self.link(end, End::foot(at, mirrored), kind);
        }
        for end in over {
            self.over.push((End::head(at, mirrored), end, end.by.unwrap_or(JoinKind::Hung)));
        }
        self.bed[place].ends.push(End::head(at, mirrored));
        at
    }

    /// From which side a stitch came that lies with another of the piece.
    fn leaning(&self, place: usize, ends: &[End]) -> Option<Leaning> {
        let own = self.needle(place);
        let came = ends.iter().filter(|_| ends.len() > 1).find_map(|end| {
            let stitch = &self.loops[end.at as usize];
            let moved = end.by.is_none() && stitch.needle != own && stitch.made != Made::Wrap;
            moved.then_some(stitch.needle)
        })?;
        Some(Leaning(if came < own { Side::Left } else { Side::Right }))
    }

    /// Whether a loop that the row did not knit lies between two places.
    fn stands_between(&self, new: &[Placed], a: usize, b: usize) -> bool {
        self.between(a, b) && {
            let (a, b) = (a.min(b), a.max(b));
            let step = if self.ring { 2 } else { 1 };
            (a + step..b).step_by(step).any(|place| {
                self.live(place) && new.binary_search_by_key(&place, |placed| placed.1).is_err()
            })
        }
    }

    /// The left and the right of two loops, as the needles lie, side by side.
    pub(super) fn beside(&mut self, left: u32, right: u32, kind: LinkKind) {
        let a = self.side_of(left, Side::Right);
        let b = self.side_of(right, Side::Left);
        self.link(a, b, kind);
    }

    pub(super) fn side_of(&self, at: u32, side: Side) -> End {
        End::of_side(at, facing(side, self.loops[at as usize].mirrored))
    }

    /// The yarn on its way from the row before: round wraps, past needles that are held now or came back,
    /// and from bed to bed of a tube.
    fn turn(&mut self, from: Side, new: &[Placed]) {
        let wraps = std::mem::take(&mut self.wraps);
        let first = match from {
            Side::Left => new.first(),
            Side::Right => new.last(),
        };
        let Some(&(first, at)) = first else { return };
        let (out, inwards) = (from, from.other());
        let yarn = self.yarn.take();
        for (wrap, _) in &wraps {
            let a = self.side_of(*wrap, inwards);
            let b = self.side_of(first, out);
            self.link(a, b, LinkKind::Turn);
        }
        let Some((last, was)) = yarn else { return };
        if self.ring && was % 2 != at % 2 {
            if !self.beyond(was, out) && !self.beyond(at, out) {
                let (a, b) = (self.side_of(last, out), self.side_of(first, out));
                self.link(a, b, LinkKind::Turn);
            }
            return;
        }
        match outward(out, was, at) {
            Ordering::Equal => {
                // The wrap closes the turn: it lies beside both rows.
                for (wrap, _) in &wraps {
                    let a = self.side_of(last, out);
                    let b = self.side_of(*wrap, inwards);
                    self.link_below(a, b, LinkKind::Turn, (true, true));
                }
            }
            Ordering::Less => self.turn_beyond(out, (last, was), new),
            Ordering::Greater => {
                if !self.stands_between(new, was, at) {
                    let (a, b) = (self.side_of(last, inwards), self.side_of(first, out));
                    self.link(a, b, LinkKind::Turn);
                }
            }
        }
    }

    /// Needles came back between the last loop and the carriage: the first of them goes on from it.
    fn turn_beyond(&mut self, out: Side, (last, was): Placed, new: &[Placed]) {
        let farther = |placed: &&Placed| outward(out, was, placed.1) == Ordering::Less;
        let next = match out {
            Side::Right => new.iter().find(farther),
            Side::Left => new.iter().rev().find(farther),
        };
        let Some(&(next, at)) = next else { return };
        let a = self.side_of(last, out);
        if self.is_used(a.at, a.slot) || self.stands_between(new, was, at) {
            return;
        }
        let b = self.side_of(next, out.other());
        self.link_below(a, b, LinkKind::Turn, (false, true));
    }

    /// Whether the row ends at the selvedges, and whether inside the piece; as the bed counts them.
    fn side_ends(&mut self, row: &RowRun, places: &[usize]) -> [(bool, bool); 2] {
        let (Some(first), Some(last)) = (places.first(), places.last()) else {
            return [(false, false); 2];
        };
        let (first, last) = (self.needle(*first).0, self.needle(*last).0);
        let (left, right) = self.ends().unwrap_or((first, last));
        let (left, right) = (left.min(first), right.max(last));
        if row.structure == crate::program::Structure::Circular {
            return [(left == first, false), (right == last, false)];
        }
        self.cuts.retain(|cut| *cut <= first || *cut > last);
        let before = self.cuts.range(..=first).next().is_some();
        let behind = self.cuts.range(last + 1..).next().is_some();
        if left < first {
            self.cuts.insert(first);
        }
        if last < right {
            self.cuts.insert(last + 1);
        }
        let inside = (left < first || before, last < right || behind);
        [(!inside.0, inside.0), (!inside.1, inside.1)]
    }

    fn keep_sides(&mut self, new: &[Placed], ends: [(bool, bool); 2]) {
        for (side, outermost) in [(Side::Left, new.first()), (Side::Right, new.last())] {
            let Some((at, _)) = outermost else { continue };
            let end = self.side_of(*at, side);
            let own = &mut self.edges[self.number];
            let (at_end, inside) = ends[nth(side)];
            if at_end {
                own.selvedges[nth(side)].push(end);
            }
            if inside {
                own.inner[nth(side)].push(end);
            }
        }
    }
}

/// How far out one place lies against another, towards a side: of a bed, or of both where they are one row.
fn outward(side: Side, one: usize, other: usize) -> Ordering {
    match side {
        Side::Right => one.cmp(&other),
        Side::Left => other.cmp(&one),
    }
}
