//! Edges as rows of loops: open ones, selvedges, those cast on and cast off.

use super::end::End;
use crate::needle::Side;

/// What comes off one needle: as many ends as loops lay on it, from left to right.
pub(super) type Group = Vec<End>;

/// Loops that wait under a name; those that were used are `None`.
pub(super) struct Open {
    pub name: String,
    pub groups: Vec<Option<Group>>,
    /// None before it waits any more.
    next: usize,
}

impl Open {
    pub fn new(name: &str) -> Open {
        Open { name: name.to_owned(), groups: Vec::new(), next: 0 }
    }

    /// The next so many, in order.
    pub fn take_next(&mut self, mut count: u32) -> Vec<Group> {
        let mut taken = Vec::new();
        while count > 0
            && let Some(group) = self.groups.get_mut(self.next)
        {
            if let Some(group) = group.take() {
                taken.push(group);
                count -= 1;
            }
            self.next += 1;
        }
        taken
    }

    /// All that are left.
    pub fn take_all(&mut self) -> Vec<Group> {
        self.next = self.groups.len();
        self.groups.iter_mut().filter_map(Option::take).collect()
    }

    /// A stretch of it.
    pub fn take(&mut self, from: u32, to: u32) -> Vec<Group> {
        let (from, to) = (from as usize, (to as usize).min(self.groups.len()));
        self.groups.get_mut(from..to).into_iter().flatten().filter_map(Option::take).collect()
    }
}

/// Stitches closed in one go, from the needle on the left.
pub(super) struct Closed {
    pub left: i32,
    pub groups: Vec<Group>,
}

/// The edges of a piece, all but those that wait.
#[derive(Default)]
pub(super) struct PieceEdges {
    /// Left and right, upwards.
    pub selvedges: [Vec<End>; 2],
    /// Left and right ends inside the piece, upwards.
    pub inner: [Vec<End>; 2],
    /// The ends of what was cast on, below the first row.
    pub feet: [Vec<End>; 2],
    pub cast_on: Vec<Closed>,
    pub cast_off: Vec<Closed>,
}

impl PieceEdges {
    /// Closed stitches from left to right.
    pub fn closed(&self, cast_on: bool) -> Vec<Group> {
        let edges = if cast_on { &self.cast_on } else { &self.cast_off };
        let mut sorted: Vec<&Closed> = edges.iter().collect();
        sorted.sort_by_key(|edge| edge.left);
        sorted.into_iter().flat_map(|edge| edge.groups.iter().cloned()).collect()
    }
}

/// Where a side's edges are kept.
pub(super) const fn nth(side: Side) -> usize {
    match side {
        Side::Left => 0,
        Side::Right => 1,
    }
}
