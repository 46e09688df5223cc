//! What the planner's solver is held to on instances made afresh: that it proves, that it keeps to its
//! work, and that a checker which shares no code with it agrees.

use std::path::Path;
use std::process::Command;

use plan::{Gift, GiftOption, Instance, Outcome, Points, Section, solve};
use serde_json::{Map, Value, json};

use crate::plan::{household, settings, solved};

#[path = "../../benches/fresh.rs"]
mod fresh;

use fresh::Yarn;

#[test]
fn thirty_small_instances_are_all_proven() {
    for seed in 1..=15 {
        for yarn in [Yarn::Plenty, Yarn::Tight] {
            let instance = fresh::instance(7, 14, yarn, seed);
            let outcome = solved(&instance, &settings(30_000, 2));
            assert!(
                outcome.proven,
                "{}{seed}: {} of {}",
                yarn.letter(),
                outcome.objective,
                outcome.bound
            );
        }
    }
}

/// Where yarn is tight, sets that are hard to pack must not eat up the work.
#[test]
fn ten_gifts_on_tight_yarn_are_proven_within_little_work() {
    for seed in [101, 105, 107] {
        let instance = fresh::instance(10, 20, Yarn::Tight, seed);
        let outcome = solved(&instance, &settings(60_000, 2));
        assert!(outcome.proven, "{seed}: {} of {}", outcome.objective, outcome.bound);
    }
}

/// A round may go beyond the limit by the least step of each of its turns, a few evaluations of the
/// bound: a twentieth of this limit.
#[test]
fn a_large_instance_keeps_to_its_work() {
    let tight = fresh::instance(500, 500, Yarn::Tight, 1);
    for (instance, limit) in [(tight, 24_000), (household(300, 300, 3), 12_000)] {
        let mut told = Vec::new();
        let outcome = solve(&instance, &settings(limit, 2), &mut |p| told.push(p)).expect("sound");
        assert!(outcome.work_done >= limit, "{}", outcome.work_done);
        assert!(outcome.work_done <= limit + limit / 20, "{} of {limit}", outcome.work_done);
        // It speaks up at least every so often.
        assert!(told.windows(2).all(|w| w[1].work - w[0].work <= 12_000), "{told:?}");
        let first = told.first().expect("told at once");
        assert!(outcome.objective > first.objective && outcome.bound < first.bound);
    }
}

/// Where half the yarn is missing, what it is worth has to be known from the start.
#[test]
fn many_gifts_on_tight_yarn_come_near_the_bound_within_little_work() {
    let instance = fresh::instance(500, 500, Yarn::Tight, 2);
    let outcome = solved(&instance, &settings(20_000, 2));
    assert!(outcome.gap < 0.05, "{} of {}", outcome.objective, outcome.bound);
}

#[test]
fn tied_groups_and_early_ends_are_the_same_on_any_number_of_threads() {
    for (instance, limit) in
        [(fresh::instance(10, 20, Yarn::Tight, 4), 4_000), (household(60, 90, 7), 6_000)]
    {
        let one = solved(&instance, &settings(limit, 1));
        assert_eq!(one, solved(&instance, &settings(limit, 3)));
    }
}

// ---- A checker from outside --------------------------------------------------------------

fn by_number<T: Into<Value>>(all: impl Iterator<Item = (usize, T)>) -> Map<String, Value> {
    all.map(|(number, value)| (number.to_string(), value.into())).collect()
}

fn section(of: &Section) -> Value {
    let need = by_number(of.need_dg.iter().map(|(group, dg)| (*group, *dg)));
    json!({
        "joinable": of.joinable, "need": need, "same_as": of.same_as, "differs_from": of.differs_from,
        "matched": of.matched, "gain": by_number(of.gain.iter().map(|(group, gain)| (*group, gain.0))),
    })
}

fn option(of: &GiftOption) -> Value {
    let sections: Vec<Value> = of.sections.iter().map(section).collect();
    json!({
        "pref": of.pref, "gain": of.gain.0, "minutes": of.minutes, "kind": of.kind,
        "contrasts": of.contrasts, "one_lot": of.one_lot, "sections": sections,
    })
}

fn gift(of: &Gift) -> Value {
    let options: Vec<Value> = of.options.iter().map(option).collect();
    json!({
        "priority": of.priority, "must": of.must, "pinned": of.pinned, "due": of.due, "options": options,
    })
}

fn told(instance: &Instance) -> Value {
    let remnants = instance.remnants.iter();
    let remnants: Vec<Value> =
        remnants.map(|r| json!({"group": r.group, "usable_dg": r.usable_dg})).collect();
    let deadlines = instance.deadlines.iter();
    let deadlines: Vec<Value> = deadlines.map(|d| json!({"minutes": d.minutes})).collect();
    json!({
        "min_chunk_dg": instance.min_chunk_dg, "max_join": instance.max_join,
        "ball_dg": by_number(instance.ball_dg.iter().map(|(group, dg)| (*group, *dg))),
        "yarn_of": by_number(instance.yarn_of.iter().map(|(group, yarn)| (*group, *yarn))),
        "match_group": by_number(instance.match_group.iter().map(|(number, group)| (*number, *group))),
        "variety": instance.variety,
        "drib_dg": instance.drib_dg, "remnants": remnants, "deadlines": deadlines,
        "gifts": instance.gifts.iter().map(gift).collect::<Vec<_>>(),
    })
}

fn claimed(outcome: &Outcome) -> Value {
    let gifts: Vec<Value> = outcome
        .plan
        .gifts
        .iter()
        .map(|made| {
            let Some(made) = made else { return Value::Null };
            let sections: Vec<Vec<Value>> = made
                .sections
                .iter()
                .map(|s| s.iter().map(|c| json!({"remnant": c.remnant, "dg": c.dg})).collect())
                .collect();
            json!({"option": made.option, "sections": sections})
        })
        .collect();
    json!({
        "gifts": gifts, "objective": outcome.objective.0, "bound": outcome.bound.0,
        "unmet": outcome.unmet.iter().map(|unmet| unmet.gift).collect::<Vec<_>>(),
    })
}

/// What the checker says of a plan; nothing where it finds nothing.
fn checked(folder: &Path, instance: &Instance, outcome: &Outcome) -> String {
    let (of, planned) = (folder.join("instance.json"), folder.join("plan.json"));
    std::fs::write(&of, told(instance).to_string()).expect("written");
    std::fs::write(&planned, claimed(outcome).to_string()).expect("written");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/check_plan.py");
    let run =
        Command::new("python3").arg(script).arg(of).arg(planned).output().expect("Python runs");
    let said = String::from_utf8_lossy(&run.stdout).into_owned();
    let errors = String::from_utf8_lossy(&run.stderr);
    assert!(errors.is_empty(), "{errors}");
    assert_eq!(run.status.success(), said.is_empty(), "{said}");
    said
}

/// Gifts of which each two neighbours are to match, in contrasts and single lots, for people with two each.
fn matched() -> Instance {
    let mut instance = fresh::instance(14, 30, Yarn::Plenty, 3);
    let groups = instance.remnants.iter().map(|r| r.group).max().unwrap_or(0) + 1;
    instance.yarn_of = (0..groups).map(|group| (group, group / 2)).collect();
    for (g, gift) in instance.gifts.iter_mut().enumerate() {
        for (o, option) in gift.options.iter_mut().enumerate() {
            option.sections[0].matched = Some(g / 2);
            option.kind = o % 2;
            if option.sections.len() > 1 {
                let pairs = if g % 3 == 0 { &mut option.contrasts } else { &mut option.one_lot };
                pairs.push((0, 1));
            }
        }
    }
    instance.variety = (0..7).map(|n| vec![n, n + 7]).collect();
    instance
}

/// The match of the first gift that is made, and the group of its first section.
fn first_match(instance: &Instance, outcome: &Outcome) -> (usize, usize) {
    let made =
        outcome.plan.gifts.iter().enumerate().find_map(|(g, made)| Some((g, made.as_ref()?)));
    let (g, made) = made.expect("something is made");
    let number = instance.gifts[g].options[made.option].sections[0].matched.expect("a match");
    (number, instance.remnants[made.sections[0][0].remnant].group)
}

#[test]
fn the_checker_agrees_on_matches_contrasts_and_lots() {
    let folder = tempfile::tempdir().expect("a folder");
    let instance = matched();
    let outcome = solved(&instance, &settings(6_000, 2));
    let pair = |n: usize| (0..2).all(|own| outcome.plan.gifts[2 * n + own].is_some());
    assert!((0..7).filter(|n| pair(*n)).count() >= 3, "{:?}", outcome.plan);
    assert_eq!(checked(folder.path(), &instance, &outcome), "");
    let (number, group) = first_match(&instance, &outcome);
    let mut elsewhere = instance.clone();
    elsewhere.match_group = [(number, group + 1)].into();
    assert!(checked(folder.path(), &elsewhere, &outcome).contains("does not match"));
    // Where all yarn is one, there are no contrasts and no lots to tell apart.
    let mut plain = instance.clone();
    let mut alike = instance.clone();
    for option in plain.gifts.iter_mut().flat_map(|gift| &mut gift.options) {
        option.contrasts.clear();
        option.one_lot.clear();
    }
    let free = solved(&plain, &settings(6_000, 2));
    for option in alike.gifts.iter_mut().flat_map(|gift| &mut gift.options) {
        for s in 1..option.sections.len() {
            option.contrasts.push((0, s));
            option.one_lot.push((0, s));
        }
    }
    alike.yarn_of.values_mut().for_each(|yarn| *yarn = 0);
    let said = checked(folder.path(), &alike, &free);
    assert!(said.contains("no contrast") && said.contains("another lot"), "{said}");
}

#[test]
fn a_checker_that_shares_no_code_agrees_and_finds_planted_faults() {
    let folder = tempfile::tempdir().expect("a folder");
    let instances = [
        household(14, 24, 5),
        household(24, 40, 11),
        fresh::instance(10, 20, Yarn::Tight, 1),
        fresh::instance(40, 60, Yarn::Plenty, 2),
    ];
    for instance in &instances {
        let outcome = solved(instance, &settings(2_000, 2));
        assert_eq!(checked(folder.path(), instance, &outcome), "");
        let mut dearer = outcome.clone();
        dearer.objective += Points(1);
        assert!(checked(folder.path(), instance, &dearer).contains("worth"));
        let mut heavier = outcome.clone();
        let made = heavier.plan.gifts.iter_mut().flatten().next().expect("something is made");
        made.sections[0][0].dg += 1;
        assert!(checked(folder.path(), instance, &heavier).contains("instead of"));
        let mut elsewhere = outcome.clone();
        let made = elsewhere.plan.gifts.iter_mut().flatten().next().expect("something is made");
        made.sections.pop();
        assert!(checked(folder.path(), instance, &elsewhere).contains("number of sections"));
        let mut lower = outcome;
        lower.bound = lower.objective - Points(1);
        assert!(checked(folder.path(), instance, &lower).contains("above the bound"));
    }
}
