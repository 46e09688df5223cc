//! What is said of gifts left out, and what to buy, against brute force over all plans of tiny
//! stashes. All figures are invented.

use std::collections::{BTreeMap, BTreeSet};

use plan::{
    Budget, Chunk, Deadline, Gift, GiftOption, Instance, Made, Obstacle, Offer, Plan, Points,
    Reason, Remedy, Remnant, Section, SolveSettings, check, explain, objective, shop_for,
    shop_within, solve,
};

const CASES: u64 = 200;

/// Small whole numbers from a recurrence.
struct Draw(u64);

impl Draw {
    fn of(seed: u64) -> Draw {
        let mut draw = Draw(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) + 1);
        draw.from(0, 1);
        draw
    }

    fn from(&mut self, least: u32, most: u32) -> u32 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        least + u32::try_from((self.0 >> 33) % u64::from(most - least + 1)).expect("small")
    }

    fn one_in(&mut self, n: u32) -> bool {
        self.from(1, n) == 1
    }

    fn section(&mut self, groups: u32) -> Section {
        let needs = (0..self.from(1, 2)).map(|_| {
            let group = self.from(0, groups - 1);
            (group as usize, self.from(1, 7))
        });
        let need_dg: BTreeMap<usize, u32> = needs.collect();
        Section { joinable: self.one_in(2), need_dg, ..Section::default() }
    }

    fn option(&mut self, groups: u32) -> GiftOption {
        let mut sections = vec![self.section(groups)];
        if self.one_in(4) {
            let mut second = self.section(groups);
            match self.from(0, 3) {
                0 => second.same_as = Some(0),
                1 => second.differs_from = Some(0),
                _ => {}
            }
            sections.push(second);
        }
        GiftOption {
            pref: i64::from(self.from(0, 20)),
            minutes: self.from(0, 5),
            sections,
            ..GiftOption::default()
        }
    }

    fn instance(&mut self, groups: u32, stash_groups: u32) -> Instance {
        let remnants = (0..self.from(1, 3)).map(|_| {
            let dg = self.from(1, 9);
            let group = self.from(0, stash_groups - 1) as usize;
            Remnant { group, usable_dg: dg, mass_dg: dg, ..Remnant::default() }
        });
        let remnants: Vec<Remnant> = remnants.collect();
        let gifts = (0..self.from(2, 3)).map(|_| Gift {
            priority: i64::from(self.from(0, 4)),
            must: self.one_in(6),
            due: self.one_in(3).then_some(0),
            options: (0..self.from(1, 2)).map(|_| self.option(groups)).collect(),
            ..Gift::default()
        });
        let gifts: Vec<Gift> = gifts.collect();
        let mut instance = Instance {
            remnants,
            gifts,
            deadlines: vec![Deadline { minutes: vec![u64::from(self.from(3, 10))] }],
            min_chunk_dg: 2,
            max_join: 2,
            drib_dg: 2,
            ..Instance::default()
        };
        // Small gains beside the costs, so that joins and ends decide as much as gifts.
        instance.weights.priority = Points(20);
        instance.weights.pref = Points(1);
        instance.weights.join = Points(7);
        instance.weights.drib = Points(4);
        if self.one_in(4) {
            let gift = self.from(0, 1) as usize;
            instance.remnants[0].kept_for = Some([gift].into());
        }
        // Now and then gifts are to match.
        if self.one_in(3) {
            for option in instance.gifts.iter_mut().flat_map(|gift| &mut gift.options) {
                option.sections[0].matched = (!self.one_in(4)).then_some(0);
            }
            if self.one_in(4) {
                instance.match_group = [(0, self.from(0, groups - 1) as usize)].into();
            }
        }
        instance
    }
}

// ---- Brute force -------------------------------------------------------------------------

/// Every way to draw a section from the remnants as they are, rules of chunks and all.
fn ways(instance: &Instance, gift: usize, section: &Section, room: &[u32]) -> Vec<Vec<Chunk>> {
    let may = |r: usize, group: usize| {
        let remnant = &instance.remnants[r];
        remnant.group == group
            && remnant.kept_for.as_ref().is_none_or(|gifts| gifts.contains(&gift))
            && section.only_from.as_ref().is_none_or(|only| only.contains(&r))
    };
    let mut all = Vec::new();
    for (group, need) in &section.need_dg {
        let own: Vec<usize> = (0..room.len()).filter(|r| may(*r, *group)).collect();
        for (n, a) in own.iter().enumerate() {
            if room[*a] >= *need {
                all.push(vec![Chunk { remnant: *a, dg: *need }]);
            }
            let least = instance.min_chunk_dg;
            if !section.joinable || *need < 2 * least {
                continue;
            }
            for b in &own[n + 1..] {
                for dg in least..=(need - least).min(room[*a]) {
                    if need - dg <= room[*b] {
                        let chunks = [(*a, dg), (*b, need - dg)];
                        all.push(chunks.map(|(remnant, dg)| Chunk { remnant, dg }).to_vec());
                    }
                }
            }
        }
    }
    all
}

/// Every way to make a gift in an option from the remnants as they are, hours left aside.
fn makes(instance: &Instance, gift: usize, option: usize, room: &[u32]) -> Vec<Made> {
    let sections = &instance.gifts[gift].options[option].sections;
    let mut all: Vec<(Vec<Vec<Chunk>>, Vec<u32>)> = vec![(Vec::new(), room.to_vec())];
    for section in sections {
        let mut next = Vec::new();
        for (so_far, room) in &all {
            for chunks in ways(instance, gift, section, room) {
                let mut room = room.clone();
                for chunk in &chunks {
                    room[chunk.remnant] -= chunk.dg;
                }
                next.push(([so_far.as_slice(), &[chunks]].concat(), room));
            }
        }
        all = next;
    }
    let group = |chunks: &[Chunk]| instance.remnants[chunks[0].remnant].group;
    let linked = |made: &Vec<Vec<Chunk>>| {
        sections.iter().enumerate().all(|(s, section)| {
            let own = group(&made[s]);
            section.same_as.is_none_or(|other| group(&made[other]) == own)
                && section.differs_from.is_none_or(|other| group(&made[other]) != own)
        })
    };
    all.into_iter()
        .map(|(sections, _)| sections)
        .filter(linked)
        .map(|sections| Made { option, sections })
        .collect()
}

fn left(instance: &Instance, plan: &Plan) -> Vec<u32> {
    let mut room: Vec<u32> = instance.remnants.iter().map(|r| r.usable_dg).collect();
    for chunk in plan.gifts.iter().flatten().flat_map(|made| made.sections.iter().flatten()) {
        room[chunk.remnant] -= chunk.dg;
    }
    room
}

fn spare(instance: &Instance, plan: &Plan) -> i64 {
    let booked = instance.gifts.iter().zip(&plan.gifts).filter_map(|(gift, made)| {
        gift.due?;
        Some(i64::from(gift.options[made.as_ref()?.option].minutes))
    });
    i64::try_from(instance.deadlines[0].minutes[0]).expect("small") - booked.sum::<i64>()
}

fn has_hours(instance: &Instance, plan: &Plan, gift: usize, option: usize) -> bool {
    let minutes = i64::from(instance.gifts[gift].options[option].minutes);
    instance.gifts[gift].due.is_none() || minutes <= spare(instance, plan)
}

/// The groups of the sections that are to match, of which there may be one.
fn matched(instance: &Instance, plan: &Plan) -> BTreeSet<usize> {
    let made = instance.gifts.iter().zip(&plan.gifts);
    let made = made.filter_map(|(gift, made)| Some((gift, made.as_ref()?)));
    let of_gift = |(gift, made): (&Gift, &Made)| {
        let sections = gift.options[made.option].sections.iter().zip(&made.sections);
        let own = sections.filter(|(section, _)| section.matched.is_some());
        own.map(|(_, chunks)| instance.remnants[chunks[0].remnant].group).collect::<Vec<_>>()
    };
    made.flat_map(of_gift).collect()
}

fn matches(instance: &Instance, plan: &Plan) -> bool {
    let mut groups = matched(instance, plan);
    if !groups.is_empty() {
        groups.extend(instance.match_group.values());
    }
    groups.len() <= 1
}

/// Whether an option can be made beside a plan.
fn fits(instance: &Instance, plan: &Plan, gift: usize, option: usize) -> bool {
    let goes = |made: Made| {
        let mut with = plan.clone();
        with.gifts[gift] = Some(made);
        matches(instance, &with)
    };
    has_hours(instance, plan, gift, option)
        && makes(instance, gift, option, &left(instance, plan)).into_iter().any(goes)
}

/// The best plan that makes all of `musts`; of those that may be left out, any.
fn best(instance: &Instance, musts: &BTreeSet<usize>) -> Option<Points> {
    fn gift(
        instance: &Instance,
        musts: &BTreeSet<usize>,
        g: usize,
        plan: &mut Plan,
        best: &mut Option<Points>,
    ) {
        if g == instance.gifts.len() {
            let worth = objective(instance, plan);
            if best.is_none_or(|best| worth > best) && matches(instance, plan) {
                *best = Some(worth);
            }
            return;
        }
        if !musts.contains(&g) {
            gift(instance, musts, g + 1, plan, best);
        }
        for o in 0..instance.gifts[g].options.len() {
            if !has_hours(instance, plan, g, o) {
                continue;
            }
            for made in makes(instance, g, o, &left(instance, plan)) {
                plan.gifts[g] = Some(made);
                gift(instance, musts, g + 1, plan, best);
                plan.gifts[g] = None;
            }
        }
    }
    let mut found = None;
    gift(instance, musts, 0, &mut Plan::empty(instance.gifts.len()), &mut found);
    found
}

fn with_balls(instance: &Instance, offers: &[Offer], balls: &[u32]) -> Instance {
    let mut richer = instance.clone();
    for (offer, n) in offers.iter().zip(balls) {
        for _ in 0..*n {
            richer.remnants.push(new_ball(offer.group, offer.ball_dg));
        }
    }
    richer
}

fn new_ball(group: usize, dg: u32) -> Remnant {
    Remnant { group, usable_dg: dg, mass_dg: dg, ..Remnant::default() }
}

fn thorough() -> SolveSettings {
    SolveSettings { work_limit: 20_000, threads: 1, ..SolveSettings::default() }
}

// ---- Explanations ------------------------------------------------------------------------

/// Holds what is said of one option against all that could be.
fn judge(instance: &Instance, plan: &Plan, g: usize, told: &Obstacle) -> &'static str {
    let whole: Vec<u32> = instance.remnants.iter().map(|r| r.usable_dg).collect();
    let option = &instance.gifts[g].options[told.option];
    let there = |s: usize, room: &[u32]| !ways(instance, g, &option.sections[s], room).is_empty();
    let room = left(instance, plan);
    let each = |room: &[u32]| (0..option.sections.len()).all(|s| there(s, room));
    let makes_room = |other: &usize| {
        let mut without = plan.clone();
        without.gifts[*other].take().is_some() && fits(instance, &without, g, told.option)
    };
    let alone: Vec<usize> = (0..plan.gifts.len()).filter(makes_room).collect();
    let blockers = |by: &[usize], each_alone: bool| {
        if each_alone {
            assert_eq!(by, alone);
        } else {
            assert_eq!(alone, [0; 0], "{told:?}");
            assert!(by.iter().all(|other| plan.gifts[*other].is_some()));
        }
    };
    match &told.reason {
        Reason::NoYarn { section, groups } => {
            assert!(!there(*section, &whole));
            assert!(groups.iter().all(|group| {
                option.sections[*section].need_dg.contains_key(group)
                    && instance.remnants.iter().all(|remnant| {
                        let kept = remnant.kept_for.as_ref();
                        remnant.group != *group || kept.is_some_and(|gifts| !gifts.contains(&g))
                    })
            }));
            "no yarn"
        }
        Reason::TooLittle { section, group, need_dg, most_dg } => {
            assert!(!there(*section, &whole) && most_dg < need_dg);
            assert_eq!(option.sections[*section].need_dg[group], *need_dg);
            "too little"
        }
        Reason::NoHours { minutes, spare: told_spare, .. } => {
            assert!(!has_hours(instance, plan, g, told.option) && each(&whole));
            assert_eq!(i64::try_from(*told_spare).expect("small"), spare(instance, plan));
            assert_eq!(*minutes, option.minutes);
            "no hours"
        }
        Reason::Unmatched { section, group, by } => {
            assert!(each(&whole) && !fits(instance, plan, g, told.option));
            let own = &option.sections[*section];
            let needed = own.need_dg.get(group).map(|need| (*group, *need));
            let alone = Section { need_dg: needed.into_iter().collect(), ..own.clone() };
            assert!(own.matched.is_some() && ways(instance, g, &alone, &room).is_empty());
            match instance.match_group.get(&0) {
                Some(there) => assert!(there == group && by.is_empty()),
                None => {
                    let all = plan.gifts.iter().enumerate().filter_map(|(other, made)| {
                        let option = &instance.gifts[other].options[made.as_ref()?.option];
                        option.sections.iter().any(|s| s.matched.is_some()).then_some(other)
                    });
                    assert_eq!(*by, all.collect::<Vec<_>>());
                    assert_eq!(matched(instance, plan), [*group].into());
                }
            }
            "unmatched"
        }
        Reason::Taken { section, by, alone, .. } => {
            assert!(there(*section, &whole) && !there(*section, &room));
            blockers(by, *alone);
            "taken"
        }
        Reason::NotTogether { by, alone } => {
            assert!(each(&room) && !fits(instance, plan, g, told.option));
            blockers(by, *alone);
            "not together"
        }
        Reason::NotWorthIt => {
            assert!(fits(instance, plan, g, told.option));
            "not worth it"
        }
        Reason::Pinned => panic!("nothing is pinned"),
    }
}

/// Holds one way in against the best there is.
fn judge_way(instance: &Instance, plan: &Plan, g: usize, way: &Remedy) {
    let mut richer = instance.clone();
    if let Some((group, dg)) = way.add {
        richer.remnants.push(new_ball(group, dg));
        let fits_with = |dg: u32| {
            let mut richer = instance.clone();
            richer.remnants.push(new_ball(group, dg));
            (0..richer.gifts[g].options.len()).any(|o| fits(&richer, plan, g, o))
        };
        assert!(fits_with(dg) && (1..dg).all(|less| !fits_with(less)));
    }
    let unmet = |breach: &plan::Breach| matches!(breach, plan::Breach::Must { .. });
    assert!(check(&richer, &way.plan).iter().all(unmet));
    assert_eq!(objective(&richer, &way.plan) - objective(instance, plan), way.change);
    let pairs = || plan.gifts.iter().zip(&way.plan.gifts).enumerate();
    let gone: Vec<usize> =
        pairs().filter(|(_, (a, b))| a.is_some() && b.is_none()).map(|p| p.0).collect();
    assert_eq!(way.displaced, gone);
    let other: Vec<usize> =
        pairs().filter(|(_, (a, b))| a.is_some() && b.is_some() && a != b).map(|p| p.0).collect();
    assert_eq!(way.changed, other);
}

#[test]
fn what_is_said_of_gifts_left_out_is_what_brute_force_finds() {
    let mut seen: BTreeMap<&str, u32> = BTreeMap::new();
    for seed in 0..CASES {
        let instance = Draw::of(seed).instance(3, 3);
        let outcome = solve(&instance, &thorough(), &mut |_| {}).expect("a sound instance");
        let plan = &outcome.plan;
        for g in (0..plan.gifts.len()).filter(|g| plan.gifts[*g].is_none()) {
            let told = explain(&instance, plan, g).expect("a sound plan");
            for obstacle in &told.obstacles {
                *seen.entry(judge(&instance, plan, g, obstacle)).or_default() += 1;
            }
            for way in &told.remedies {
                judge_way(&instance, plan, g, way);
            }
            // A group of which new yarn alone would do is told, and no other.
            let sections = instance.gifts[g].options.iter().flat_map(|o| &o.sections);
            let groups: BTreeSet<usize> =
                sections.flat_map(|s| s.need_dg.keys().copied()).collect();
            let helps = |group: &usize| {
                let mut richer = instance.clone();
                richer.remnants.push(new_ball(*group, 20));
                (0..richer.gifts[g].options.len()).any(|o| fits(&richer, plan, g, o))
            };
            let helpful: BTreeSet<usize> = groups.into_iter().filter(helps).collect();
            let added: BTreeSet<usize> =
                told.remedies.iter().filter_map(|way| Some(way.add?.0)).collect();
            assert_eq!(added, helpful, "case {seed}, gift {g}");
            // What it costs at least to let it in from the stash as it is.
            let musts = (0..plan.gifts.len()).filter(|other| {
                *other == g || (instance.gifts[*other].is_must() && plan.gifts[*other].is_some())
            });
            let mut others = instance.clone();
            for (other, gift) in others.gifts.iter_mut().enumerate() {
                if gift.is_must() && plan.gifts[other].is_none() && other != g {
                    gift.options.clear();
                }
            }
            let least = best(&others, &musts.collect()).map(|worth| worth - outcome.objective);
            let way = told.remedies.iter().find(|way| way.add.is_none());
            assert_eq!(way.map(|way| way.change), least, "case {seed}, gift {g}");
            *seen.entry("way in").or_default() += u32::from(way.is_some());
        }
    }
    // Each thing that can be said was said, and judged.
    let said =
        ["no yarn", "too little", "no hours", "unmatched", "taken", "not worth it", "way in"];
    for said in said {
        assert!(seen.contains_key(said), "{said}: {seen:?}");
    }
}

// ---- What to buy -------------------------------------------------------------------------

const OFFERED: [usize; 2] = [3, 4];

/// Gifts that may be made from two yarns of the stash and two on offer.
fn shop(seed: u64) -> (Instance, Vec<Offer>) {
    let mut draw = Draw::of(seed + 10_000);
    let mut instance = draw.instance(5, 3);
    // The brute force below tries lists up to a length: no more sections than that.
    instance.gifts.truncate(2);
    if let Some(kept) = &mut instance.remnants[0].kept_for {
        kept.retain(|gift| *gift < 2);
    }
    let offers =
        OFFERED.map(|group| Offer { group, ball_dg: draw.from(3, 9), cost: draw.from(1, 5) });
    (instance, offers.to_vec())
}

/// All lists of up to so many balls of each offer.
fn lists(most: u32) -> impl Iterator<Item = [u32; 2]> {
    (0..=most).flat_map(move |a| (0..=most).map(move |b| [a, b]))
}

fn cost_of(offers: &[Offer], balls: &[u32]) -> u64 {
    offers.iter().zip(balls).map(|(offer, n)| u64::from(offer.cost) * u64::from(*n)).sum()
}

#[test]
fn the_shopping_list_costs_the_least_that_brute_force_finds() {
    let (mut met, mut bought) = (0, 0);
    for seed in 0..CASES {
        let (instance, offers) = shop(seed);
        let wanted: BTreeSet<usize> = (0..instance.gifts.len()).collect();
        let told = shop_for(&instance, &offers, &wanted, &thorough(), &mut |_| {})
            .expect("a sound instance");
        let mut by_cost: Vec<[u32; 2]> = lists(8).collect();
        by_cost.sort_by_key(|balls| cost_of(&offers, balls));
        let least = by_cost.into_iter().find(|balls| {
            // One list that makes them all is enough: no worth is compared.
            can_make_all(&with_balls(&instance, &offers, balls))
        });
        match least {
            Some(balls) => {
                assert!(told.unmet.is_empty(), "case {seed}: {:?}", told.unmet);
                assert_eq!(told.cost, cost_of(&offers, &balls), "case {seed}");
                assert!(told.proven && told.least == told.cost, "case {seed}");
                assert_eq!(told.cost, cost_of(&offers, &told.balls));
                let stash = with_balls(&instance, &offers, &told.balls);
                assert_eq!(stash.remnants, told.instance.remnants, "case {seed}");
                assert!(check(&told.instance, &told.plan).is_empty());
                assert!(told.plan.gifts.iter().all(Option::is_some));
                assert_eq!(Some(told.worth), best(&stash, &wanted), "case {seed}");
                met += 1;
                bought += u32::from(told.cost > 0);
            }
            None => assert!(!told.unmet.is_empty(), "case {seed}"),
        }
    }
    assert!(met > 50 && bought > 20, "{met} lists, {bought} with something on them");
}

fn can_make_all(instance: &Instance) -> bool {
    fn from(instance: &Instance, g: usize, plan: &mut Plan) -> bool {
        if g == instance.gifts.len() {
            return matches(instance, plan);
        }
        (0..instance.gifts[g].options.len()).any(|o| {
            has_hours(instance, plan, g, o)
                && makes(instance, g, o, &left(instance, plan)).into_iter().any(|made| {
                    plan.gifts[g] = Some(made);
                    let all = from(instance, g + 1, plan);
                    plan.gifts[g] = None;
                    all
                })
        })
    }
    from(instance, 0, &mut Plan::empty(instance.gifts.len()))
}

#[test]
fn what_a_budget_buys_is_within_it_and_its_bound_holds() {
    let (mut exact, mut proven, mut all) = (0, 0, 0);
    for seed in 0..CASES {
        let (mut instance, offers) = shop(seed);
        for gift in &mut instance.gifts {
            gift.must = false;
        }
        let budget = u64::from(Draw::of(seed + 20_000).from(0, 9));
        let told = shop_within(&instance, &offers, Budget(budget), &thorough(), &mut |_| {})
            .expect("a sound instance");
        let within = lists(8).filter(|balls| cost_of(&offers, balls) <= budget);
        let none = BTreeSet::new();
        let most = within.filter_map(|balls| best(&with_balls(&instance, &offers, &balls), &none));
        let most = most.max().expect("buying nothing is within it");
        assert!(told.cost <= budget && told.cost == cost_of(&offers, &told.balls), "case {seed}");
        let stash = with_balls(&instance, &offers, &told.balls);
        assert_eq!(stash.remnants, told.instance.remnants, "case {seed}");
        assert!(check(&told.instance, &told.plan).is_empty());
        assert_eq!(objective(&told.instance, &told.plan), told.worth);
        assert!(told.worth <= most && most <= told.bound, "case {seed}: {most} {}", told.bound);
        assert!(!told.proven || told.worth == most, "case {seed}");
        all += 1;
        exact += u32::from(told.worth == most);
        proven += u32::from(told.proven);
    }
    eprintln!("{exact} of {all} as good as can be, {proven} proven");
    assert!(exact * 100 >= all * 95 && proven * 2 >= all, "{exact}, {proven} of {all}");
}
