use std::collections::{BTreeMap, BTreeSet};

use diag::{Code, Diagnostic, Diagnostics};

use super::{Instance, Made, Plan, Points};

/// Whether a plan keeps every rule of its instance: one error for each that it breaks.
///
/// Works from the instance and the plan alone and shares no code with the solver, so that a
/// mistake of the one does not hide in the other.
pub fn check(instance: &Instance, plan: &Plan) -> Diagnostics {
    let mut faults = instance.validate();
    if faults.has_errors() {
        return faults;
    }
    if plan.gifts.len() != instance.gifts.len() {
        faults.push(Diagnostic::error(
            Code::PlanGifts,
            format!("{} gifts planned, {} wanted", plan.gifts.len(), instance.gifts.len()),
        ));
        return faults;
    }
    let mut drawn: BTreeMap<usize, u64> = BTreeMap::new();
    for (g, made) in plan.gifts.iter().enumerate() {
        let gift = &instance.gifts[g];
        match made {
            None if gift.must || gift.pinned.is_some() => {
                faults.push(
                    Diagnostic::error(Code::PlanMust, "has to be made, and is not")
                        .context(format!("gift {g}")),
                );
            }
            None => {}
            Some(made) => {
                for fault in check_made(instance, g, made) {
                    faults.push(fault.context(format!("gift {g}")));
                }
                for chunk in made.sections.iter().flatten() {
                    *drawn.entry(chunk.remnant).or_default() += u64::from(chunk.dg);
                }
            }
        }
    }
    for (r, dg) in drawn {
        if let Some(remnant) = instance.remnants.get(r)
            && dg > u64::from(remnant.usable_dg)
        {
            faults.push(
                Diagnostic::error(
                    Code::PlanOverdrawn,
                    format!("{dg} dg drawn from a remnant with {} dg", remnant.usable_dg),
                )
                .context(format!("remnant {r}")),
            );
        }
    }
    for (d, deadline) in instance.deadlines.iter().enumerate() {
        let mut minutes = 0u64;
        for (gift, made) in instance.gifts.iter().zip(&plan.gifts) {
            if let (Some(due), Some(made)) = (gift.due, made)
                && due <= d
                && let Some(option) = gift.options.get(made.option)
            {
                minutes += u64::from(option.minutes);
            }
        }
        if minutes > deadline.minutes {
            faults.push(
                Diagnostic::error(
                    Code::PlanHours,
                    format!("{minutes} minutes of work in {}", deadline.minutes),
                )
                .context(format!("deadline {d}")),
            );
        }
    }
    faults
}

fn check_made(instance: &Instance, g: usize, made: &Made) -> Diagnostics {
    let mut faults = Diagnostics::new();
    let mut say = |code, message: String| faults.push(Diagnostic::error(code, message));
    let gift = &instance.gifts[g];
    let Some(option) = gift.options.get(made.option) else {
        say(Code::PlanOption, format!("made in option {} of {}", made.option, gift.options.len()));
        return faults;
    };
    if gift.pinned.is_some_and(|pinned| pinned != made.option) {
        say(Code::PlanPinned, format!("made in option {}, pinned to another", made.option));
    }
    if made.sections.len() != option.sections.len() {
        say(
            Code::PlanSections,
            format!("{} of {} sections", made.sections.len(), option.sections.len()),
        );
        return faults;
    }
    // The group of each section, where it has one and only one.
    let mut groups: Vec<Option<usize>> = Vec::new();
    for (s, (section, chunks)) in option.sections.iter().zip(&made.sections).enumerate() {
        let mut seen_groups = BTreeSet::new();
        let mut seen_remnants = BTreeSet::new();
        let mut total = 0u64;
        for chunk in chunks {
            match instance.remnants.get(chunk.remnant) {
                Some(remnant) => {
                    seen_groups.insert(remnant.group);
                }
                None => {
                    say(Code::PlanRemnant, format!("section {s}: no remnant {}", chunk.remnant))
                }
            }
            if !seen_remnants.insert(chunk.remnant) {
                say(Code::PlanRemnant, format!("section {s}: remnant {} twice", chunk.remnant));
            }
            total += u64::from(chunk.dg);
        }
        if seen_groups.len() > 1 {
            say(Code::PlanGroups, format!("section {s}: yarns of {} groups", seen_groups.len()));
        }
        let group = if seen_groups.len() == 1 { seen_groups.first().copied() } else { None };
        groups.push(group);
        let Some(group) = group else {
            if chunks.is_empty() {
                say(Code::PlanYarn, format!("section {s}: no yarn"));
            }
            continue;
        };
        let Some(need) = section.need_dg.get(&group).copied() else {
            say(Code::PlanGroups, format!("section {s}: group {group} does not suit"));
            continue;
        };
        if total != u64::from(need) {
            say(Code::PlanYarn, format!("section {s}: {total} dg for a need of {need} dg"));
        }
        if chunks.len() > 1 {
            if !section.joinable {
                say(Code::PlanJoin, format!("section {s}: can't be joined"));
            }
            if u64::from(need) < 2 * u64::from(instance.min_chunk_dg) {
                say(Code::PlanJoin, format!("section {s}: too small to be joined"));
            }
            if chunks.len() > instance.max_join {
                say(Code::PlanJoin, format!("section {s}: {} remnants joined", chunks.len()));
            }
            for chunk in chunks {
                if chunk.dg < instance.min_chunk_dg {
                    say(Code::PlanChunk, format!("section {s}: a chunk of {} dg", chunk.dg));
                }
            }
        }
    }
    for (s, section) in option.sections.iter().enumerate() {
        if let Some(other) = section.same_as
            && groups[s] != groups[other]
        {
            say(Code::PlanSame, format!("section {s}: not of the group of section {other}"));
        }
        if let Some(other) = section.differs_from
            && groups[s].is_some()
            && groups[s] == groups[other]
        {
            say(Code::PlanContrast, format!("section {s}: no contrast to section {other}"));
        }
    }
    faults
}

/// What a plan is worth, whether or not it keeps the rules. Parts of it that refer to nothing in
/// the instance count for nothing.
pub fn objective(instance: &Instance, plan: &Plan) -> Points {
    let mut tenths = 0i64;
    let mut drawn: BTreeMap<usize, i64> = BTreeMap::new();
    for (gift, made) in instance.gifts.iter().zip(&plan.gifts) {
        let Some(made) = made else { continue };
        let Some(option) = gift.options.get(made.option) else { continue };
        tenths += instance.weights.priority.0 * gift.priority;
        tenths += instance.weights.pref.0 * option.pref;
        for chunks in &made.sections {
            for (n, chunk) in chunks.iter().enumerate() {
                if n > 0 {
                    tenths -= instance.weights.join.0;
                }
                *drawn.entry(chunk.remnant).or_default() += i64::from(chunk.dg);
            }
        }
    }
    for (r, dg) in drawn {
        if let Some(remnant) = instance.remnants.get(r) {
            let left = i64::from(remnant.usable_dg) - dg;
            if left <= i64::from(instance.drib_dg) {
                tenths -= instance.weights.drib.0 * left.max(0);
            }
        }
    }
    Points(tenths)
}
