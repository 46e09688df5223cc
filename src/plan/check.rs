use std::collections::{BTreeMap, BTreeSet};

use super::{
    Breach, Chunk, Faults, GiftOption, Instance, Made, MadeBreach, Plan, Points, Section,
    SectionBreach,
};

/// Whether a plan keeps every rule of its instance: one breach for each that it breaks.
///
/// Works from the instance and the plan alone and shares no code with the solver, so that a
/// mistake of the one does not hide in the other.
pub fn check(instance: &Instance, plan: &Plan) -> Faults<Breach> {
    let unsound = instance.validate();
    if !unsound.is_empty() {
        return unsound.into_iter().map(Breach::from).collect();
    }
    let (planned, wanted) = (plan.gifts.len(), instance.gifts.len());
    let mut faults = Faults::default();
    if planned != wanted {
        faults.push(Breach::Gifts { planned, wanted });
        return faults;
    }
    for (gift, made) in plan.gifts.iter().enumerate() {
        let wanted = &instance.gifts[gift];
        match made {
            None if wanted.must || wanted.pinned.is_some() => faults.push(Breach::Must { gift }),
            None => {}
            Some(made) => check_made(instance, gift, made, &mut |breach| {
                faults.push(Breach::Made { gift, breach });
            }),
        }
    }
    check_remnants(instance, plan, &mut faults);
    check_hours(instance, plan, &mut faults);
    check_matches(instance, plan, &mut faults);
    faults
}

/// No remnant gives more than it holds.
fn check_remnants(instance: &Instance, plan: &Plan, faults: &mut Faults<Breach>) {
    let mut drawn: BTreeMap<usize, u64> = BTreeMap::new();
    for chunk in plan.gifts.iter().flatten().flat_map(|made| made.sections.iter().flatten()) {
        *drawn.entry(chunk.remnant).or_default() += u64::from(chunk.dg);
    }
    for (r, drawn_dg) in drawn {
        if let Some(remnant) = instance.remnants.get(r)
            && drawn_dg > u64::from(remnant.usable_dg)
        {
            let usable_dg = remnant.usable_dg;
            faults.push(Breach::Overdrawn { remnant: r, drawn_dg, usable_dg });
        }
    }
}

/// What is due by a deadline can be done by then.
fn check_hours(instance: &Instance, plan: &Plan, faults: &mut Faults<Breach>) {
    for (d, deadline) in instance.deadlines.iter().enumerate() {
        for (knitter, there) in deadline.minutes.iter().enumerate() {
            let mut minutes = 0u64;
            for (gift, made) in instance.gifts.iter().zip(&plan.gifts) {
                if let (Some(due), Some(made)) = (gift.due, made)
                    && due <= d
                    && let Some(option) = gift.options.get(made.option)
                    && option.knitter == knitter
                {
                    minutes += u64::from(option.minutes);
                }
            }
            if minutes > *there {
                faults.push(Breach::Hours { deadline: d, knitter, minutes, there: *there });
            }
        }
    }
}

/// All sections of a match are of the yarn group of the first of them, or of the one that it is bound to.
fn check_matches(instance: &Instance, plan: &Plan, faults: &mut Faults<Breach>) {
    let mut first: BTreeMap<usize, (Option<usize>, usize)> =
        instance.match_group.iter().map(|(number, group)| (*number, (None, *group))).collect();
    for (gift, made) in plan.gifts.iter().enumerate() {
        let option = made.as_ref().and_then(|made| instance.gifts[gift].options.get(made.option));
        let Some((made, option)) = made.as_ref().zip(option) else { continue };
        for (s, (section, chunks)) in option.sections.iter().zip(&made.sections).enumerate() {
            let group = chunks.first().and_then(|chunk| instance.remnants.get(chunk.remnant));
            let Some((number, remnant)) = section.matched.zip(group) else { continue };
            let (with, wanted) = *first.entry(number).or_insert((Some(gift), remnant.group));
            if remnant.group != wanted {
                let breach =
                    MadeBreach::Section { section: s, breach: SectionBreach::NoMatch(with) };
                faults.push(Breach::Made { gift, breach });
            }
        }
    }
}

fn check_made(instance: &Instance, g: usize, made: &Made, say: &mut dyn FnMut(MadeBreach)) {
    let gift = &instance.gifts[g];
    let Some(option) = gift.options.get(made.option) else {
        let options = gift.options.len();
        say(MadeBreach::NoOption { option: made.option, options });
        return;
    };
    if gift.pinned.is_some_and(|pinned| pinned != made.option) {
        say(MadeBreach::Pinned { option: made.option });
    }
    let (count, wanted) = (made.sections.len(), option.sections.len());
    if count != wanted {
        say(MadeBreach::Sections { made: count, wanted });
        return;
    }
    // The group of each section, where it has one and only one.
    let mut groups: Vec<Option<usize>> = Vec::new();
    for (s, (section, chunks)) in option.sections.iter().zip(&made.sections).enumerate() {
        let mut say = |breach| say(MadeBreach::Section { section: s, breach });
        check_allowed(instance, g, section, chunks, &mut say);
        groups.push(check_yarn(instance, section, chunks, &mut say));
    }
    check_links(option, &groups, say);
    check_pairs(instance, option, &groups, say);
}

/// Yarn kept for others stays theirs, and a section that names its remnants has those.
fn check_allowed(
    instance: &Instance,
    gift: usize,
    section: &Section,
    chunks: &[Chunk],
    say: &mut dyn FnMut(SectionBreach),
) {
    for chunk in chunks {
        let kept = instance.remnants.get(chunk.remnant).and_then(|r| r.kept_for.as_ref());
        if kept.is_some_and(|gifts| !gifts.contains(&gift)) {
            say(SectionBreach::Kept(chunk.remnant));
        }
        if section.only_from.as_ref().is_some_and(|only| !only.contains(&chunk.remnant)) {
            say(SectionBreach::NotFrom(chunk.remnant));
        }
    }
}

/// Looks at what a section is knitted from. Gives its group, where it has one and only one.
fn check_yarn(
    instance: &Instance,
    section: &Section,
    chunks: &[Chunk],
    say: &mut dyn FnMut(SectionBreach),
) -> Option<usize> {
    let mut groups = BTreeSet::new();
    let mut seen = BTreeSet::new();
    let mut total_dg = 0u64;
    for chunk in chunks {
        match instance.remnants.get(chunk.remnant) {
            Some(remnant) => {
                groups.insert(remnant.group);
            }
            None => say(SectionBreach::NoRemnant(chunk.remnant)),
        }
        if !seen.insert(chunk.remnant) {
            say(SectionBreach::Twice(chunk.remnant));
        }
        total_dg += u64::from(chunk.dg);
    }
    if groups.len() > 1 {
        say(SectionBreach::Groups(groups.len()));
        return None;
    }
    let Some(group) = groups.first().copied() else {
        if chunks.is_empty() {
            say(SectionBreach::NoYarn);
        }
        return None;
    };
    match section.need_dg.get(&group).copied() {
        None => say(SectionBreach::Unsuited(group)),
        Some(need_dg) => {
            if total_dg != u64::from(need_dg) {
                say(SectionBreach::Amount { total_dg, need_dg });
            }
            if chunks.len() > 1 {
                check_joined(instance, section, (group, need_dg), chunks, say);
            }
        }
    }
    Some(group)
}

fn check_joined(
    instance: &Instance,
    section: &Section,
    (group, need_dg): (usize, u32),
    chunks: &[Chunk],
    say: &mut dyn FnMut(SectionBreach),
) {
    if !section.joinable {
        say(SectionBreach::NotJoinable);
    }
    if u64::from(need_dg) < 2 * u64::from(instance.min_chunk_dg) {
        say(SectionBreach::TooSmallToJoin);
    }
    if chunks.len() > instance.most_joined(group, need_dg) {
        say(SectionBreach::TooManyJoined(chunks.len()));
    }
    for chunk in chunks {
        if chunk.dg < instance.min_chunk_dg {
            say(SectionBreach::SmallChunk(chunk.dg));
        }
    }
}

/// Sections that must be alike are, and contrasts are contrasts.
fn check_links(option: &GiftOption, groups: &[Option<usize>], say: &mut dyn FnMut(MadeBreach)) {
    for (s, section) in option.sections.iter().enumerate() {
        let mut say = |breach| say(MadeBreach::Section { section: s, breach });
        if let Some(other) = section.same_as
            && groups[s] != groups[other]
        {
            say(SectionBreach::NotSame(other));
        }
        if let Some(other) = section.differs_from
            && groups[s].is_some()
            && groups[s] == groups[other]
        {
            say(SectionBreach::NoContrast(other));
        }
    }
}

/// Pairs that must differ do, and pairs of one yarn are of one lot of it.
fn check_pairs(
    instance: &Instance,
    option: &GiftOption,
    groups: &[Option<usize>],
    say: &mut dyn FnMut(MadeBreach),
) {
    let mut say = |section, breach| say(MadeBreach::Section { section, breach });
    for (a, b) in &option.contrasts {
        if groups[*a].is_some() && groups[*a] == groups[*b] {
            say(*a, SectionBreach::NoContrast(*b));
        }
    }
    for (a, b) in &option.one_lot {
        if let (Some(one), Some(other)) = (groups[*a], groups[*b])
            && one != other
            && let (Some(yarn), Some(its)) =
                (instance.yarn_of.get(&one), instance.yarn_of.get(&other))
            && yarn == its
        {
            say(*a, SectionBreach::NotSame(*b));
        }
    }
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
        tenths += instance.weights.pref.0 * option.pref + option.gain.0;
        for (section, chunks) in option.sections.iter().zip(&made.sections) {
            let group = chunks.first().and_then(|chunk| instance.remnants.get(chunk.remnant));
            let gain = group.and_then(|remnant| section.gain.get(&remnant.group));
            tenths += gain.map_or(0, |gain| gain.0);
        }
        tenths -= travel(instance, option, made);
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
            tenths -= remnant.opening.0;
        }
    }
    Points(tenths - alike(instance, plan))
}

/// What it costs to bring the remnants of a gift to its knitter, each once.
fn travel(instance: &Instance, option: &GiftOption, made: &Made) -> i64 {
    let Some(places) = instance.travel.get(option.knitter) else { return 0 };
    let remnants: BTreeSet<usize> = made.sections.iter().flatten().map(|c| c.remnant).collect();
    let there = remnants.iter().filter_map(|r| instance.remnants.get(*r));
    there.filter_map(|remnant| places.get(remnant.place)).map(|points| points.0).sum()
}

/// What is lost by gifts that ought to differ and don't.
fn alike(instance: &Instance, plan: &Plan) -> i64 {
    // By gift that is made, what it is and the groups it is made from.
    let made = |gift: &usize| {
        let made = plan.gifts.get(*gift)?.as_ref()?;
        let kind = instance.gifts.get(*gift)?.options.get(made.option)?.kind;
        let chunks = made.sections.iter().flatten();
        let remnants = chunks.filter_map(|chunk| instance.remnants.get(chunk.remnant));
        Some((kind, remnants.map(|remnant| remnant.group).collect::<BTreeSet<_>>()))
    };
    let mut times = 0;
    for set in &instance.variety {
        let made: Vec<_> = set.iter().filter_map(made).collect();
        for (n, (kind, groups)) in made.iter().enumerate() {
            for (other, theirs) in &made[n + 1..] {
                times += i64::from(kind == other) + i64::from(!groups.is_disjoint(theirs));
            }
        }
    }
    times * instance.weights.alike.0
}
