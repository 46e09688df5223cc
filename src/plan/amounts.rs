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
        remnants.sort_unstable();
        remnants.dedup();
        let sure = settle_together(problem, layout, joins, &members, &remnants, &mut chunks)?;
        exact &= sure;
    }
    Some(Amounts { chunks, exact })
}

fn settle_together(
    problem: &Problem,
    layout: &Layout,
    joins: &[(usize, Vec<usize>)],
    members: &[usize],
    remnants: &[usize],
    chunks: &mut [Chunks],
) -> Option<bool> {
    let (rooms, needs) = beyond_the_least(problem, layout, joins, members, remnants)?;
    let tried = remnants.len().min(MOST_TRIED);
    let mut best: Option<(i64, Vec<Vec<i64>>)> = None;
    for used_up in 0..1u32 << tried {
        // Past the tried ones, those that can be kept are.
        let keeps = |slot: usize| {
            if slot < tried { used_up & (1 << slot) == 0 } else { rooms[slot] > problem.drib }
        };
        if (0..rooms.len()).any(|slot| keeps(slot) && rooms[slot] <= problem.drib) {
            continue;
        }
        let Some((left, flow)) = share(problem, joins, members, remnants, &rooms, &needs, &keeps)
        else {
            continue;
        };
        if best.as_ref().is_none_or(|(least, _)| left < *least) {
            best = Some((left, flow));
        }
    }
    let (_, flow) = best?;
    for (i, m) in members.iter().enumerate() {
        let mut own = Chunks::default();
        for r in &joins[*m].1 {
            let slot = remnants.binary_search(r).ok()?;
            own.push(*r, problem.min_chunk + flow[i][slot]);
        }
        chunks[*m] = own;
    }
    Some(remnants.len() <= MOST_TRIED)
}

/// Rooms and needs once every chunk has its least, or `None` if it can't have that.
fn beyond_the_least(
    problem: &Problem,
    layout: &Layout,
    joins: &[(usize, Vec<usize>)],
    members: &[usize],
    remnants: &[usize],
) -> Option<(Vec<i64>, Vec<i64>)> {
    let mut rooms: Vec<i64> = remnants.iter().map(|r| layout.room[*r]).collect();
    let mut needs = Vec::new();
    for m in members {
        let (section, from) = &joins[*m];
        let group = problem.group_of[from[0]];
        let parts = i64::try_from(from.len()).unwrap_or(i64::MAX);
        needs.push(problem.sections[*section].need(group)? - parts * problem.min_chunk);
        for r in from {
            rooms[remnants.binary_search(r).ok()?] -= problem.min_chunk;
        }
    }
    let sound = rooms.iter().chain(&needs).all(|dg| *dg >= 0);
    sound.then_some((rooms, needs))
}

/// A cheapest flow from needs to rooms: kept remnants end above the limit of useless ends, the
/// others at or below it, with as little left as can be. Gives what is left in those and the
/// flow by section and remnant.
#[allow(clippy::too_many_arguments, reason = "one step of `settle_together`")]
fn share(
    problem: &Problem,
    joins: &[(usize, Vec<usize>)],
    members: &[usize],
    remnants: &[usize],
    rooms: &[i64],
    needs: &[i64],
    keeps: &dyn Fn(usize) -> bool,
) -> Option<(i64, Vec<Vec<i64>>)> {
    // Each remnant takes in up to two steps: what it must (worth most), what it may (worth 1 a dg
    // if it is used up, nothing if it is kept).
    let must: Vec<i64> = (0..rooms.len())
        .map(|slot| if keeps(slot) { 0 } else { (rooms[slot] - problem.drib).max(0) })
        .collect();
    let may: Vec<i64> = (0..rooms.len())
        .map(|slot| if keeps(slot) { rooms[slot] - problem.drib - 1 } else { rooms[slot] })
        .collect();
    let (flow, drawn) =
        route(joins, members, remnants, needs, &must, &may, &|slot| i64::from(!keeps(slot)))?;
    let left = (0..rooms.len()).filter(|slot| !keeps(*slot)).map(|s| rooms[s] - drawn[s]).sum();
    Some((left, flow))
}

/// The flow by section and remnant, and what each remnant gives.
type Flow = (Vec<Vec<i64>>, Vec<i64>);

/// Routes all needs so that each remnant gives at least `must` and at most `may`, and what it
/// gives beyond is worth as much as can be at `value` a decigram. Paths never take from a remnant
/// what it gave, so that taking the most valuable each time is best.
fn route(
    joins: &[(usize, Vec<usize>)],
    members: &[usize],
    remnants: &[usize],
    needs: &[i64],
    must: &[i64],
    may: &[i64],
    value: &dyn Fn(usize) -> i64,
) -> Option<Flow> {
    let mut flow = vec![vec![0i64; remnants.len()]; members.len()];
    let mut drawn = vec![0i64; remnants.len()];
    let mut open = needs.to_vec();
    let worth = |slot: usize, drawn: i64| {
        if drawn < must[slot] {
            Some((1_000_000, must[slot] - drawn))
        } else if drawn < may[slot] {
            Some((value(slot), may[slot] - drawn))
        } else {
            None
        }
    };
    // A flow of whole decigrams, pushed along the most valuable path each time. Paths run from a
    // section with an open need to a remnant, perhaps over others' exchanges.
    while open.iter().any(|need| *need > 0) {
        // By remnant: the section before it and, for that section, the remnant it gives up.
        let mut reached: Vec<Option<(usize, Option<usize>)>> = vec![None; remnants.len()];
        let mut sections_reached: Vec<Option<Option<usize>>> =
            open.iter().map(|need| (*need > 0).then_some(None)).collect();
        let mut changed = true;
        while changed {
            changed = false;
            for i in 0..members.len() {
                let Some(via) = sections_reached[i] else { continue };
                for r in &joins[members[i]].1 {
                    let slot = remnants.binary_search(r).ok()?;
                    if reached[slot].is_none() {
                        reached[slot] = Some((i, via));
                        changed = true;
                    }
                }
            }
            for i in 0..members.len() {
                if sections_reached[i].is_some() {
                    continue;
                }
                let gives =
                    (0..remnants.len()).find(|slot| reached[*slot].is_some() && flow[i][*slot] > 0);
                if let Some(slot) = gives {
                    sections_reached[i] = Some(Some(slot));
                    changed = true;
                }
            }
        }
        let (_, target) = (0..remnants.len())
            .filter(|slot| reached[*slot].is_some())
            .filter_map(|slot| worth(slot, drawn[slot]).map(|(value, _)| (value, slot)))
            .max_by_key(|(value, slot)| (*value, std::cmp::Reverse(*slot)))?;
        let (_, mut push) = worth(target, drawn[target])?;
        // Walk back once for the width, once to push.
        let mut path = Vec::new();
        let mut slot = target;
        let source = loop {
            let (i, _) = reached[slot]?;
            path.push((i, slot, true));
            match sections_reached[i]? {
                None => break i,
                Some(given) => {
                    push = push.min(flow[i][given]);
                    path.push((i, given, false));
                    slot = given;
                }
            }
        };
        push = push.min(open[source]);
        for (i, slot, forward) in path {
            flow[i][slot] += if forward { push } else { -push };
        }
        open[source] -= push;
        drawn[target] += push;
    }
    (0..remnants.len()).all(|slot| drawn[slot] >= must[slot]).then_some((flow, drawn))
}

/// Whether the joins can be had at all, whatever the ends cost.
pub(super) fn fits(problem: &Problem, layout: &Layout, joins: &[(usize, Vec<usize>)]) -> bool {
    let mut remnants: Vec<usize> = joins.iter().flat_map(|(_, from)| from.clone()).collect();
    remnants.sort_unstable();
    remnants.dedup();
    let members: Vec<usize> = (0..joins.len()).collect();
    let Some((rooms, needs)) = beyond_the_least(problem, layout, joins, &members, &remnants) else {
        return false;
    };
    // Nothing is kept and nothing must be used up: any flow will do.
    let loose = vec![0; rooms.len()];
    route(joins, &members, &remnants, &needs, &loose, &rooms, &|_| 0).is_some()
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
