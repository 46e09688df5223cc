//! How much of each joined remnant goes into which section, once the sets are chosen.

use super::layout::{Chunks, Layout};
use super::problem::Problem;

/// The amounts for sections that are joined from given remnants of a layout, at the least cost of
/// useless ends, or `None` if they can't be had.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Amounts {
    /// In the order of the joins given.
    pub chunks: Vec<Chunks>,
    /// Whether it is sure that there are none better.
    pub exact: bool,
}

/// Sections that share remnants are settled together; past this many remnants not every way to
/// use up or keep each is tried.
const MOST_TRIED: usize = 12;

pub(super) fn settle(
    problem: &Problem,
    layout: &Layout,
    joins: &[(usize, Vec<usize>)],
) -> Option<Amounts> {
    let mut chunks = vec![Chunks::default(); joins.len()];
    let mut exact = true;
    let mut seen = vec![false; joins.len()];
    for first in 0..joins.len() {
        if seen[first] {
            continue;
        }
        let members = tied_to(first, joins, &mut seen);
        let knot = Knot::of(problem, layout, joins, members)?;
        exact &= knot.settle(&mut chunks)?;
    }
    Some(Amounts { chunks, exact })
}

/// The joins that share remnants with one, directly or over others, by rising index.
fn tied_to(first: usize, joins: &[(usize, Vec<usize>)], seen: &mut [bool]) -> Vec<usize> {
    let mut members = vec![first];
    let mut remnants: Vec<usize> = joins[first].1.clone();
    seen[first] = true;
    let mut grew = true;
    while grew {
        grew = false;
        for (n, (_, from)) in joins.iter().enumerate() {
            if !seen[n] && from.iter().any(|r| remnants.contains(r)) {
                seen[n] = true;
                grew = true;
                members.push(n);
                remnants.extend(from);
            }
        }
    }
    members.sort_unstable();
    members
}

/// Joins that are settled together. A slot is the place of a remnant in `remnants`.
struct Knot<'a> {
    problem: &'a Problem,
    joins: &'a [(usize, Vec<usize>)],
    /// Which of the joins.
    members: Vec<usize>,
    /// All that they are joined from, by rising index.
    remnants: Vec<usize>,
    /// By slot, what is left once every chunk has its least.
    rooms: Vec<i64>,
    /// By member, what is still needed then.
    needs: Vec<i64>,
}

/// What remnants have to give and can give, by slot.
struct Terms<'a> {
    must: &'a [i64],
    may: &'a [i64],
    /// What a decigram beyond `must` is worth.
    value: &'a dyn Fn(usize) -> i64,
}

/// Decigrams by member and slot, beyond the least of every chunk; and by slot all that it gives.
struct Flow {
    by_member: Vec<Vec<i64>>,
    drawn: Vec<i64>,
}

/// Which remnants and members a flow could be changed through.
struct FlowReach {
    /// By slot: the member before it and, for that member, the slot it gives up.
    slots: Vec<Option<(usize, Option<usize>)>>,
    /// By member: the slot it gives up, none where its own need is open.
    members: Vec<Option<Option<usize>>>,
}

impl<'a> Knot<'a> {
    /// `None` if some chunk can't have its least.
    fn of(
        problem: &'a Problem,
        layout: &Layout,
        joins: &'a [(usize, Vec<usize>)],
        members: Vec<usize>,
    ) -> Option<Knot<'a>> {
        let mut remnants: Vec<usize> =
            members.iter().flat_map(|m| joins[*m].1.iter().copied()).collect();
        remnants.sort_unstable();
        remnants.dedup();
        let mut rooms: Vec<i64> = remnants.iter().map(|r| layout.room[*r]).collect();
        let mut needs = Vec::new();
        for m in &members {
            let (section, from) = &joins[*m];
            let group = problem.group_of[from[0]];
            let parts = i64::try_from(from.len()).unwrap_or(i64::MAX);
            needs.push(problem.sections[*section].need(group)? - parts * problem.min_chunk);
            for r in from {
                rooms[remnants.binary_search(r).ok()?] -= problem.min_chunk;
            }
        }
        let sound = rooms.iter().chain(&needs).all(|dg| *dg >= 0);
        sound.then_some(Knot { problem, joins, members, remnants, rooms, needs })
    }

    /// Fills in the chunks of the members; says whether it is sure that there are none better.
    fn settle(&self, chunks: &mut [Chunks]) -> Option<bool> {
        let drib = self.problem.drib;
        let tried = self.remnants.len().min(MOST_TRIED);
        let mut best: Option<(i64, Flow)> = None;
        for used_up in 0..1u32 << tried {
            // Past the tried ones, those that can be kept are.
            let keeps = |slot: usize| {
                if slot < tried { used_up & (1 << slot) == 0 } else { self.rooms[slot] > drib }
            };
            if (0..self.rooms.len()).any(|slot| keeps(slot) && self.rooms[slot] <= drib) {
                continue;
            }
            let Some((left, flow)) = self.share(&keeps) else { continue };
            if best.as_ref().is_none_or(|(least, _)| left < *least) {
                best = Some((left, flow));
            }
        }
        let (_, flow) = best?;
        for (i, m) in self.members.iter().enumerate() {
            let mut own = Chunks::default();
            for r in &self.joins[*m].1 {
                let slot = self.remnants.binary_search(r).ok()?;
                own.push(*r, self.problem.min_chunk + flow.by_member[i][slot]);
            }
            chunks[*m] = own;
        }
        Some(self.remnants.len() <= MOST_TRIED)
    }

    /// A cheapest flow from needs to rooms: kept remnants end above the limit of useless ends, the
    /// others at or below it, with as little left as can be. Gives what is left in those.
    fn share(&self, keeps: &dyn Fn(usize) -> bool) -> Option<(i64, Flow)> {
        let (rooms, drib) = (&self.rooms, self.problem.drib);
        // Each remnant takes in up to two steps: what it must (worth most), what it may (worth 1 a
        // dg if it is used up, nothing if it is kept).
        let must: Vec<i64> = (0..rooms.len())
            .map(|slot| if keeps(slot) { 0 } else { (rooms[slot] - drib).max(0) })
            .collect();
        let may: Vec<i64> = (0..rooms.len())
            .map(|slot| if keeps(slot) { rooms[slot] - drib - 1 } else { rooms[slot] })
            .collect();
        let value = |slot| i64::from(!keeps(slot));
        let flow = self.route(&Terms { must: &must, may: &may, value: &value })?;
        let used_up = (0..rooms.len()).filter(|slot| !keeps(*slot));
        let left = used_up.map(|slot| rooms[slot] - flow.drawn[slot]).sum();
        Some((left, flow))
    }

    /// Routes all needs so that each remnant gives what it must and at most what it may, and what
    /// it gives beyond is worth as much as can be. Paths never take from a remnant what it gave, so
    /// that taking the most valuable each time is best.
    fn route(&self, terms: &Terms) -> Option<Flow> {
        let slots = self.remnants.len();
        let mut flow =
            Flow { by_member: vec![vec![0; slots]; self.members.len()], drawn: vec![0; slots] };
        let mut open = self.needs.clone();
        // A flow of whole decigrams, pushed along the most valuable path each time. Paths run from
        // a section with an open need to a remnant, perhaps over others' exchanges.
        while open.iter().any(|need| *need > 0) {
            let reach = self.reach(&open, &flow)?;
            let (_, target) = (0..slots)
                .filter(|slot| reach.slots[*slot].is_some())
                .filter_map(|slot| {
                    terms.worth(slot, flow.drawn[slot]).map(|(value, _)| (value, slot))
                })
                .max_by_key(|(value, slot)| (*value, std::cmp::Reverse(*slot)))?;
            let (_, most) = terms.worth(target, flow.drawn[target])?;
            flow.push(&reach, target, most, &mut open)?;
        }
        (0..slots).all(|slot| flow.drawn[slot] >= terms.must[slot]).then_some(flow)
    }

    /// All that can be reached from the members with open needs.
    fn reach(&self, open: &[i64], flow: &Flow) -> Option<FlowReach> {
        let mut slots: Vec<Option<(usize, Option<usize>)>> = vec![None; self.remnants.len()];
        let mut members: Vec<Option<Option<usize>>> =
            open.iter().map(|need| (*need > 0).then_some(None)).collect();
        let mut changed = true;
        while changed {
            changed = false;
            for (i, m) in self.members.iter().enumerate() {
                let Some(via) = members[i] else { continue };
                for r in &self.joins[*m].1 {
                    let slot = self.remnants.binary_search(r).ok()?;
                    if slots[slot].is_none() {
                        slots[slot] = Some((i, via));
                        changed = true;
                    }
                }
            }
            for (member, given) in members.iter_mut().zip(&flow.by_member) {
                if member.is_some() {
                    continue;
                }
                let gives = (0..self.remnants.len())
                    .find(|slot| slots[*slot].is_some() && given[*slot] > 0);
                if let Some(slot) = gives {
                    *member = Some(Some(slot));
                    changed = true;
                }
            }
        }
        Some(FlowReach { slots, members })
    }
}

impl Terms<'_> {
    /// What a remnant's next decigrams are worth, and how many they are.
    fn worth(&self, slot: usize, drawn: i64) -> Option<(i64, i64)> {
        if drawn < self.must[slot] {
            Some((1_000_000, self.must[slot] - drawn))
        } else if drawn < self.may[slot] {
            Some(((self.value)(slot), self.may[slot] - drawn))
        } else {
            None
        }
    }
}

impl Flow {
    /// Pushes up to `most` along the path to a slot.
    fn push(
        &mut self,
        reach: &FlowReach,
        target: usize,
        most: i64,
        open: &mut [i64],
    ) -> Option<()> {
        // Walk back once for the width, once to push.
        let mut push = most;
        let mut path = Vec::new();
        let mut slot = target;
        let source = loop {
            let (i, _) = reach.slots[slot]?;
            path.push((i, slot, true));
            match reach.members[i]? {
                None => break i,
                Some(given) => {
                    push = push.min(self.by_member[i][given]);
                    path.push((i, given, false));
                    slot = given;
                }
            }
        };
        push = push.min(open[source]);
        for (i, slot, forward) in path {
            self.by_member[i][slot] += if forward { push } else { -push };
        }
        open[source] -= push;
        self.drawn[target] += push;
        Some(())
    }
}

/// Whether the joins can be had at all, whatever the ends cost.
pub(super) fn fits(problem: &Problem, layout: &Layout, joins: &[(usize, Vec<usize>)]) -> bool {
    let Some(knot) = Knot::of(problem, layout, joins, (0..joins.len()).collect()) else {
        return false;
    };
    // Nothing is kept and nothing must be used up: any flow will do.
    let loose = vec![0; knot.rooms.len()];
    knot.route(&Terms { must: &loose, may: &knot.rooms, value: &|_| 0 }).is_some()
}

/// Shares out anew what the joined sections of a layout draw, leaving sets as they are.
pub(super) fn resettle(problem: &Problem, layout: &mut Layout) {
    let mut joins = Vec::new();
    let mut before = Vec::new();
    for section in 0..problem.sections.len() {
        let chunks = layout.chunks[section];
        if chunks.len() > 1 {
            let mut from: Vec<usize> = chunks.iter().map(|(r, _)| r).collect();
            from.sort_unstable();
            joins.push((section, from));
            before.push((section, chunks));
        }
    }
    if joins.is_empty() {
        return;
    }
    let value = layout.value;
    for (section, _) in &before {
        layout.lift(problem, *section);
    }
    if let Some(amounts) = settle(problem, layout, &joins) {
        for ((section, _), chunks) in joins.iter().zip(&amounts.chunks) {
            layout.place(problem, *section, *chunks);
        }
        if layout.value >= value {
            return;
        }
        for (section, _) in &before {
            layout.lift(problem, *section);
        }
    }
    for (section, chunks) in before {
        layout.place(problem, section, chunks);
    }
}
