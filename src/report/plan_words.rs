//! A plan of gifts in words: what it takes, why gifts are left out, what would let them in, how good
//! it is, what went wrong. The one place for each of these sentences.

use diag::{Code, Diagnostic, Diagnostics, Severity};
use knit::gift_plan::{
    Change, Excluded, ExcludedYarn, GiftPlan, Hindrance, LeftOut, NotMade, OutOfTime, PlanWarning,
    PlannedGift, PlannedSection, UnmetGift, UnmetWhy, Way, YarnRule,
};

use super::grid::Grid;
use super::minutes_told::MinutesTold;

/// Said of a gift whose yarn nobody swatched.
pub const UNSWATCHED: &str = "No swatch of such yarn: the gauge is an estimate. Swatch first.";

/// Said once of the times of a plan.
pub const TIMES: &str = "Times are of work, finishing included. In brackets: between what they will lie, 95 times in \
    a hundred.";

/// Reasons told of one gift, and gifts named in one.
const MOST_REASONS: usize = 5;
const MOST_NAMED: usize = 4;
/// Rules told of one gift, and yarns named in one.
const MOST_EXCLUDED: usize = 8;
const MOST_YARNS: usize = 6;
/// Garments that refuse the size told of one gift.
const MOST_REFUSALS: usize = 2;

/// What went wrong or was noticed: warnings first, then an error for each gift that must be made
/// and is not.
pub fn diagnostics(plan: &GiftPlan) -> Diagnostics {
    let mut told = Diagnostics::new();
    for warning in &plan.warnings {
        match warning {
            PlanWarning::Found(found) => told.extend(found.clone()),
            PlanWarning::GarmentLeftOut { garment, faults } => {
                let context = format!("garment `{garment}` is left out");
                told.extend(faults.iter().map(|fault| {
                    Diagnostic { severity: Severity::Warning, ..fault.clone() }.context(&*context)
                }));
            }
            PlanWarning::GiftLeftOut { gift, faults } => {
                let told_of = |fault: &Diagnostic| {
                    let fault = Diagnostic { severity: Severity::Warning, ..fault.clone() };
                    about_gift(fault, gift).hint(format!(
                        "the plan leaves it out: `oddments gifts change {gift}` with `--set NAME=` or \
                         `--pin SECTION=` takes that out"
                    ))
                };
                told.extend(faults.iter().map(told_of));
            }
            PlanWarning::Overdue { gift, due, today } => {
                let told_of = match today {
                    true => format!("`{gift}` is due today"),
                    false => format!("`{gift}` was due on {due}"),
                };
                told.push(Diagnostic::warning(Code::Overdue, told_of)
                    .hint(
                        "it is planned as early as gifts that matter as much and have a day to come let \
                         it: give it a new day",
                    ));
            }
        }
    }
    told.extend(plan.unmet.iter().map(unmet));
    told
}

/// A fault of what a gift asks for, told of that gift.
pub fn about_gift(fault: Diagnostic, gift: &str) -> Diagnostic {
    fault.context(format!("gift `{gift}`"))
}

/// More would be set aside of a remnant than it weighs.
pub fn stash_changed(remnant: &str, grams: f64, there: f64) -> Diagnostic {
    Diagnostic::error(
        Code::StashChanged,
        format!("{grams:.1} g of {remnant} would be set aside, and it weighs {there:.1} g"),
    )
    .hint("the stash has changed since: plan again")
}

/// No bed at hand takes a yarn.
pub fn no_bed(yarn: &str) -> Diagnostic {
    Diagnostic::error(Code::NoBed, format!("no machine at hand takes the yarn `{yarn}`"))
        .hint("knit a swatch of it and name it with `oddments swatch add`")
}

/// The gauge of a yarn is an estimate.
pub fn unswatched(yarn: &str) -> Diagnostic {
    Diagnostic::warning(
        Code::Unswatched,
        format!("there is no swatch of {yarn}: its gauge is estimated from its thickness"),
    )
    .hint("knit one before you count on the figures")
}

fn unmet(unmet: &UnmetGift) -> Diagnostic {
    let (message, hint) = match unmet.why {
        UnmetWhy::LeftOut => (
            "has to be made, and names what none of its garments has",
            "put that right, or let the plan do without it: take `must` out",
        ),
        UnmetWhy::NotEvenAlone => (
            "has to be made, and can't be",
            "no option of it can be knitted from this stash in time, even alone",
        ),
        UnmetWhy::NotBesideOthers => (
            "has to be made, and can't be beside the others",
            "allow it more options or a later day, or let another go",
        ),
        UnmetWhy::NotFound => (
            "has to be made, and no way was found",
            "allow more work, more options or a later day, or let another go",
        ),
    };
    let fault = Diagnostic::error(Code::PlanMust, message).hint(hint);
    about_gift(fault, &unmet.gift).hint("`oddments plan --explain` says what is missing")
}

/// What the plan is worth, and how much better one could be.
pub fn goodness(plan: &GiftPlan) -> String {
    let worth = plan.worth;
    // Weights may be small: only their ratios count. Then a tenth of a point says nothing.
    let digits = match worth.objective.abs().max(worth.bound.abs()) {
        most if most > 0.0 && most < 1.0 => (1.0 - most.log10().floor()).min(15.0) as usize + 2,
        _ => 1,
    };
    let told = format!("It is worth {:.digits$} points", worth.objective);
    if worth.proven {
        return format!("{told}, and no plan is worth more.");
    }
    let end = if plan.stopped { " It was stopped before its limit." } else { "" };
    format!(
        "{told}; no plan is worth more than {:.digits$} ({:.2} % more).{end}",
        worth.bound,
        worth.gap * 100.0
    )
}

/// The same without points: whether a better plan could be made, in plain words.
pub fn worth_plainly(plan: &GiftPlan) -> String {
    let worth = plan.worth;
    let told = if worth.proven {
        "No better plan can be made of this yarn and these wishes.".to_owned()
    } else if worth.gap < SLIGHT {
        "It is as good as a plan of this yarn and these wishes can be, or very nearly.".to_owned()
    } else {
        format!(
            "A better plan may be found by looking longer: by {:.0} % at most, as you weigh gifts, tastes, \
             joins and scraps.",
            (worth.gap * 100.0).ceil()
        )
    };
    let end = if plan.stopped { " The search was stopped before its end." } else { "" };
    format!("{told}{end}")
}

/// A plan that may be better by less than this, as a share, is as good.
const SLIGHT: f64 = 0.005;

/// How many gifts a plan changes, where gifts of an accepted one were planned again.
pub fn changes(plan: &GiftPlan) -> Option<String> {
    let since = plan.since.as_ref()?;
    let gifts = |n: usize| if n == 1 { "gift" } else { "gifts" };
    let changed = match since.changed {
        0 => format!(
            "None of the {} {} that were planned before changes.",
            since.gifts,
            gifts(since.gifts)
        ),
        1 => {
            format!("1 of {} {} that were planned before changes.", since.gifts, gifts(since.gifts))
        }
        n => format!("{n} of {} gifts that were planned before change.", since.gifts),
    };
    let dropped = match since.dropped.as_slice() {
        [] => String::new(),
        [one] => format!(" {one} is left out now."),
        all => format!(" {} are left out now.", listed(all)),
    };
    let balls = match since.other_balls {
        0 => String::new(),
        1 => " 1 takes other balls of the same lot.".to_owned(),
        n => format!(" {n} take other balls of the same lots."),
    };
    Some(format!("{changed}{dropped}{balls}"))
}

/// What can't be done by its day, and what would help, a line each.
pub fn not_in_time(plan: &GiftPlan) -> Vec<String> {
    let line = |late: &OutOfTime| {
        let OutOfTime { gift, due, minutes, spare, hours_a_week, by, .. } = late;
        let set_aside = if late.held { ", whose yarn is set aside," } else { "" };
        let later = late.later.as_ref().map(|other| format!(", or if {other} is done later"));
        let whose = late.knitter.as_ref().map(|name| format!(" of {name}"));
        format!(
            "{gift}{set_aside} takes {}, and {} are left until {due}. It could be done with \
             {hours_a_week:.1} hours a week{}, or by {by}{}.",
            hours(*minutes),
            hours(*spare),
            whose.unwrap_or_default(),
            later.unwrap_or_default()
        )
    };
    plan.out_of_time.iter().map(line).collect()
}

/// What has become of a gift since the accepted plan; nothing of one that is as it was.
pub fn change_of(gift: &PlannedGift) -> Option<&'static str> {
    match gift.change? {
        Change::New => Some("New in the plan."),
        Change::AsBefore => None,
        Change::OtherBalls => Some("As before, from other balls of the same lot."),
        Change::OtherYarn => Some("Changed: the same garment, from other yarn than before."),
        Change::OtherSize => Some("Changed: the same garment, made as large as the yarn goes now."),
        Change::OtherGauge => {
            Some("Changed: the same garment, on another machine or swatch than before.")
        }
        Change::OtherGarment => Some("Changed: another garment than before."),
        Change::OtherKnitter => Some("Changed: the same garment, knitted by somebody else."),
    }
}

/// What is left of each remnant used, and how many are not touched.
pub fn remnants_left(plan: &GiftPlan) -> (Grid, usize) {
    let headings = ["Remnant", "Yarn", "Had g", "Left g", ""].map(str::to_owned).to_vec();
    let mut grid = Grid::new("", headings);
    for remnant in plan.remnants.iter().filter(|remnant| remnant.left_g < remnant.had_g) {
        grid.rows.push(vec![
            remnant.id.clone(),
            remnant.yarn.clone(),
            format!("{:.1}", remnant.had_g),
            format!("{:.1}", remnant.left_g),
            if remnant.drib { "a drib" } else { "" }.to_owned(),
        ]);
    }
    let rest = plan.remnants.len() - grid.rows.len();
    (grid, rest)
}

/// What each section of a gift takes from where, a line each.
pub fn takes(gift: &PlannedGift) -> Vec<String> {
    let alone = gift.sections.len() == 1;
    let line = |section: &PlannedSection| {
        let lot = section.lot.as_ref().map_or(String::new(), |lot| format!(", lot {lot}"));
        let takes: Vec<String> = section
            .chunks
            .iter()
            .map(|(remnant, grams)| format!("{grams:.1} g of {remnant}"))
            .collect();
        let whole = if alone { String::new() } else { format!("{}: ", section.title) };
        format!(
            "{whole}{} ({}{lot}); takes about {:.0} g, runs out {} in a hundred",
            takes.join(", then "),
            section.yarn_name,
            section.need.grams(),
            times(section.chance)
        )
    };
    gift.sections.iter().map(line).collect()
}

/// Time of work on a gift; how much has gone by when it is done, and the chance that it is too late.
pub fn hours_of(gift: &PlannedGift) -> (String, String) {
    let done = MinutesTold::of(&gift.done_after).about();
    let late =
        gift.late.map_or(String::new(), |late| format!(", too late {} in a hundred", times(late)));
    (MinutesTold::of(&gift.minutes).about(), format!("{done} when it is done{late}"))
}

/// Why a gift is left out, in the order in which something can be done about it: yarn that there is
/// too little of, nearest first; yarns that a rule excludes, rule by rule; hours; who has the yarn;
/// garments that can't be.
pub fn reasons(gift: &LeftOut) -> Vec<String> {
    let mut told: Vec<String> = gift.excluded.iter().map(excluded).collect();
    told.truncate(MOST_EXCLUDED);
    told.extend(hindrances(gift));
    for reason in &gift.reasons {
        match reason {
            NotMade::NoYarnSuits if gift.excluded.is_empty() => {
                told.push("no yarn in the stash suits: thickness, fibres, colours, washing".into());
            }
            NotMade::Unknown(what) => told.push(what.clone()),
            NotMade::NoKnitter { machine, knitter } => told.push(no_knitter(machine, knitter)),
            NotMade::NoYarnSuits | NotMade::Hindered { .. } | NotMade::Refused { .. } => {}
        }
    }
    // Told with the yarns at whose gauge it is, if it is told there.
    let by_yarn = |garment: &str| {
        gift.excluded.iter().any(
            |e| matches!(&e.rule, YarnRule::Refused { garment: other, .. } if other == garment),
        )
    };
    let refusals = gift.reasons.iter().filter_map(|reason| match reason {
        NotMade::Refused { garment, reason } if !by_yarn(garment) => {
            Some(format!("{garment} can't be knitted: {reason}"))
        }
        _ => None,
    });
    told.extend(refusals.take(MOST_REFUSALS));
    told
}

/// What stands in the way of each garment, one line a garment: hours before those who have the yarn.
/// The same garment in another yarn is hindered by the same gifts, more or fewer: those that would
/// make room are told together, of all else the longest.
fn hindrances(gift: &LeftOut) -> Vec<String> {
    let short = |title: &str| {
        gift.excluded
            .iter()
            .any(|e| matches!(&e.rule, YarnRule::TooLittle { title: other, .. } if other == title))
    };
    let mut told: Vec<(&str, Hindrance)> = Vec::new();
    for reason in &gift.reasons {
        let NotMade::Hindered { title, by } = reason else { continue };
        if matches!(by, Hindrance::TooLittle { .. }) && short(title) {
            continue;
        }
        match told.iter_mut().find(|(garment, _)| garment == title) {
            Some((_, before)) => *before = told_together(title, before, by),
            None => told.push((title, by.clone())),
        }
    }
    told.sort_by_key(|(_, by)| match by {
        Hindrance::TooLittle { .. } => 0,
        Hindrance::NoHours { .. } => 1,
        _ => 2,
    });
    told.truncate(MOST_REASONS);
    told.iter().map(|(title, by)| hindrance(title, by)).collect()
}

fn told_together(title: &str, before: &Hindrance, by: &Hindrance) -> Hindrance {
    use Hindrance::{NotTogether, Taken};
    match (before, by) {
        (Taken { section, to, alone }, Taken { to: more, alone: also, .. }) if alone == also => {
            let fresh = more.iter().filter(|gift| !to.contains(gift));
            let to = to.iter().chain(fresh).cloned().collect();
            Taken { section: section.clone(), to, alone: *alone }
        }
        // Who makes room alone says more than who does not.
        (Taken { alone: true, .. }, Taken { .. } | NotTogether { alone: false, .. }) => {
            before.clone()
        }
        (Taken { .. } | NotTogether { alone: false, .. }, Taken { alone: true, .. }) => by.clone(),
        _ if hindrance(title, before).len() < hindrance(title, by).len() => by.clone(),
        _ => before.clone(),
    }
}

/// The yarns that a rule excludes, and the rule.
fn excluded(excluded: &Excluded) -> String {
    let of = |yarn: &ExcludedYarn| yarn_of(&yarn.name, yarn.lot.as_deref());
    let names: Vec<String> = excluded.yarns.iter().map(of).collect();
    let yarns = if names.len() > MOST_YARNS {
        format!("{} and {} more yarns", names[..MOST_YARNS].join(", "), names.len() - MOST_YARNS)
    } else {
        listed(&names)
    };
    let are = if names.len() == 1 { "is" } else { "are" };
    match &excluded.rule {
        YarnRule::TooLittle { .. } => format!("{}: {yarns}", because(&excluded.rule)),
        YarnRule::Refused { .. } => format!("{}: {yarns}", because(&excluded.rule)),
        YarnRule::Colour { .. } | YarnRule::Objection(_) | YarnRule::NoBed => {
            format!("{yarns} {are} out: {}", because(&excluded.rule))
        }
    }
}

/// A rule that excludes yarns, in words.
pub fn because(rule: &YarnRule) -> String {
    match rule {
        YarnRule::TooLittle { title, section, need_g, most_g } => {
            let part =
                section.as_ref().map_or(String::new(), |s| format!(", {}", s.to_lowercase()));
            format!("{title}{part}: takes {need_g:.1} g, and {most_g:.1} g are there")
        }
        YarnRule::Colour { person, colour } => format!("{person} avoids {}", colour.name()),
        YarnRule::Objection(why) => why.clone(),
        YarnRule::Refused { garment, reason } => {
            format!("{garment} can't be knitted ({reason}) at the gauge of")
        }
        YarnRule::NoBed => "no machine at hand knits it".to_owned(),
    }
}

fn no_knitter(machine: &str, knitter: &Option<String>) -> String {
    match knitter {
        Some(knitter) => {
            format!("{knitter}, who is to knit it, has no {machine}, or no time")
        }
        None => format!("nobody who has time has the {machine} it would be knitted on"),
    }
}

fn hindrance(title: &str, by: &Hindrance) -> String {
    let part = |section: &Option<String>| match section {
        None => title.to_owned(),
        Some(section) => format!("{title}, {}", section.to_lowercase()),
    };
    let room = |to: &[String], alone: bool| match (to.len(), alone) {
        (0 | 1, true) => "",
        (_, true) => "; any one of them would leave enough",
        (0 | 1, false) => ", and that alone would not be enough",
        (_, false) => ", and no one of them alone would leave enough",
    };
    match by {
        Hindrance::NoYarn { section } => format!("{}: no yarn in the stash suits", part(section)),
        Hindrance::TooLittle { section, need_g, yarn, lot, most_g } => format!(
            "{}: it takes {need_g:.1} g of {}, and the most in hand is {most_g:.1} g",
            part(section),
            yarn_of(yarn, lot.as_deref()),
        ),
        Hindrance::Taken { section, to, alone } => {
            format!("{}: the yarn goes to {}{}", part(section), named(to), room(to, *alone))
        }
        Hindrance::Unmatched { section, with, yarn, lot, suits } => {
            let yarn = yarn_of(yarn, lot.as_deref());
            let why = if *suits {
                format!("too little is left of {yarn}")
            } else {
                format!("can't be of {yarn}")
            };
            format!("{}: it is to match {}, and {why}", part(section), named(with))
        }
        Hindrance::NotTogether { to, alone } => format!(
            "{title}: not all its yarn is left; it goes to {}{}",
            named(to),
            room(to, *alone)
        ),
        Hindrance::NoHours { minutes, spare, until } => format!(
            "{title}: takes {}, and {} are left until {until}",
            hours(*minutes),
            hours(*spare)
        ),
        Hindrance::Pinned => format!("{title}: the gift is pinned to something else"),
        Hindrance::NotWorthIt => format!("{title}: it would cost more than it is worth"),
    }
}

/// The ways to let a gift in, those that only add yarn for one garment in one line.
pub fn ways_in(gift: &LeftOut) -> Vec<String> {
    ways_told(gift, points)
}

/// The same without points.
pub fn ways_in_plainly(gift: &LeftOut) -> Vec<String> {
    ways_told(gift, |change| {
        let word = if change < 0.0 { "loses" } else { "gains" };
        format!("; all in all the plan {word} by it")
    })
}

fn ways_told(gift: &LeftOut, gain: impl Fn(f64) -> String) -> Vec<String> {
    let mut lines: Vec<(String, Vec<String>)> = Vec::new();
    for way in &gift.ways {
        let line = way_in(way, &gain);
        match lines.iter_mut().find(|(start, yarns)| *start == line.0 && !yarns.is_empty()) {
            Some((_, yarns)) => yarns.extend(line.1),
            None => lines.push(line),
        }
    }
    lines.into_iter().map(|(start, yarns)| format!("{start}{}", yarns.join(", or "))).collect()
}

/// A way in, and the yarn that it is enough to add.
fn way_in(way: &Way, gain: impl Fn(f64) -> String) -> (String, Vec<String>) {
    let what = format!("{}, {}", way.title.to_lowercase(), way.size_label);
    let yarn = way.add.as_ref().map(|add| {
        format!("{:.0} g of {}", add.grams.ceil(), yarn_of(&add.name, add.lot.as_deref()))
    });
    match (yarn, way.displaced.as_slice()) {
        (None, _) => {
            (format!("{what} can be made if {}{}", price(way), gain(way.change)), Vec::new())
        }
        (Some(yarn), []) => (format!("for {what}, one more piece of yarn: "), vec![yarn]),
        (Some(yarn), _) => {
            (format!("for {what}, {yarn} more, if {}{}", price(way), gain(way.change)), Vec::new())
        }
    }
}

/// What a way in costs: who goes, and who is knitted otherwise.
fn price(way: &Way) -> String {
    let goes = if way.displaced.len() == 1 { "goes" } else { "go" };
    let gone = (!way.displaced.is_empty()).then(|| format!("{} {goes}", listed(&way.displaced)));
    let are = if way.changed.len() == 1 { "is" } else { "are" };
    let other = (!way.changed.is_empty())
        .then(|| format!("{} {are} made of other yarn or otherwise", named(&way.changed)));
    match (gone, other) {
        (None, None) => "it takes yarn that is left".to_owned(),
        (gone, other) => gone.into_iter().chain(other).collect::<Vec<_>>().join(" and "),
    }
}

fn points(change: f64) -> String {
    if change < 0.0 {
        format!("; the plan is then worth {:.1} points less", -change)
    } else {
        format!("; the plan is then worth {change:.1} points more")
    }
}

/// Said once where ways in are told that add yarn.
pub const EACH_ALONE: &str = "Each of these ways is told alone: two of them may count on the same yarn, and what they add \
    does not add up. `oddments shop` lists the least to buy for all gifts together.";

/// The same where it is read on a page.
pub const EACH_ALONE_ON_PAGE: &str = "Each of these ways is told alone: two of them may count on the same yarn, and what they \
    add does not add up. What to buy lists the least for all gifts together.";

/// Whether some way in adds yarn.
pub fn adds_yarn(plan: &GiftPlan) -> bool {
    plan.left_out.iter().flat_map(|gift| &gift.ways).any(|way| way.add.is_some())
}

/// A chance, as so many times in a hundred.
fn times(chance: f64) -> String {
    match chance * 100.0 {
        p if p < 0.5 => "less than once".to_owned(),
        p if p < 1.5 => "once".to_owned(),
        p => format!("{p:.0} times"),
    }
}

/// Minutes in hours, as a week's work is told.
pub fn hours(minutes: f64) -> String {
    format!("{:.1} h", minutes / 60.0)
}

fn yarn_of(name: &str, lot: Option<&str>) -> String {
    lot.map_or_else(|| name.to_owned(), |lot| format!("{name}, lot {lot}"))
}

/// The first few of many gifts.
fn named(ids: &[String]) -> String {
    if ids.len() > MOST_NAMED {
        let more = ids.len() - MOST_NAMED;
        format!("{} and {more} more gifts", ids[..MOST_NAMED].join(", "))
    } else {
        ids.join(", ")
    }
}

fn listed(names: &[String]) -> String {
    match names {
        [] => "none".to_owned(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plan() -> GiftPlan {
        GiftPlan {
            made_on: 0,
            gifts: Vec::new(),
            left_out: Vec::new(),
            remnants: Vec::new(),
            travels: Vec::new(),
            kept: Vec::new(),
            many: Vec::new(),
            aim: None,
            waste_m: Default::default(),
            worth: Default::default(),
            work_done: 0,
            stopped: false,
            warnings: Vec::new(),
            unmet: Vec::new(),
            since: None,
            out_of_time: Vec::new(),
        }
    }

    fn hindered(title: &str, by: Hindrance) -> NotMade {
        NotMade::Hindered { title: title.to_owned(), by }
    }

    fn ids(ids: &[&str]) -> Vec<String> {
        ids.iter().map(|id| (*id).to_owned()).collect()
    }

    #[test]
    fn warnings_come_before_what_is_unmet_and_keep_their_gift() {
        let mut plan = plan();
        let why = UnmetWhy::NotBesideOthers;
        plan.unmet.push(UnmetGift { gift: "jago-hat".to_owned(), why });
        plan.warnings.push(PlanWarning::GarmentLeftOut {
            garment: "tam".to_owned(),
            faults: Diagnostic::error(Code::NoSize, "it does not load").into(),
        });
        let told = diagnostics(&plan);
        assert_eq!(
            told.to_string(),
            "it does not load (garment `tam` is left out)\n\
             has to be made, and can't be beside the others (gift `jago-hat`); allow it more \
             options or a later day, or let another go; `oddments plan --explain` says what is \
             missing"
        );
        let severities: Vec<Severity> = told.iter().map(|fault| fault.severity).collect();
        assert_eq!(severities, [Severity::Warning, Severity::Error]);
    }

    #[test]
    fn of_a_garment_the_longest_reason_is_told_and_refusals_come_last() {
        let taken = |to: &[&str]| Hindrance::Taken { section: None, to: ids(to), alone: true };
        let gift = LeftOut {
            id: "wenna-hat".to_owned(),
            person: "Wenna".to_owned(),
            priority: 3,
            due: None,
            reasons: vec![
                NotMade::Refused { garment: "sock".to_owned(), reason: "too small".to_owned() },
                hindered("Hat", taken(&["a"])),
                hindered("Tam", Hindrance::NotWorthIt),
                hindered("Hat", taken(&["a", "b", "c", "d", "e", "f"])),
                hindered("Hat", taken(&["a", "b"])),
            ],
            excluded: Vec::new(),
            ways: Vec::new(),
        };
        assert_eq!(
            reasons(&gift),
            [
                "Hat: the yarn goes to a, b, c, d and 2 more gifts; any one of them would leave enough",
                "Tam: it would cost more than it is worth",
                "sock can't be knitted: too small",
            ]
        );
    }

    #[test]
    fn too_little_yarn_is_told_with_its_lot_and_section() {
        let by = Hindrance::TooLittle {
            section: Some("Ribbed Cuff".to_owned()),
            need_g: 12.34,
            yarn: "Kelp".to_owned(),
            lot: Some("7".to_owned()),
            most_g: 9.0,
        };
        assert_eq!(
            hindrance("Mitten", &by),
            "Mitten, ribbed cuff: it takes 12.3 g of Kelp, lot 7, and the most in hand is 9.0 g"
        );
    }

    #[test]
    fn a_plans_worth_is_told_without_points() {
        let mut plan = plan();
        plan.worth =
            knit::gift_plan::PlanWorth { objective: 90.0, bound: 92.0, gap: 0.0222, proven: false };
        assert!(worth_plainly(&plan).contains("by 3 % at most"), "{}", worth_plainly(&plan));
        plan.worth.gap = 0.001;
        plan.stopped = true;
        assert!(
            worth_plainly(&plan)
                .ends_with("or very nearly. The search was stopped before its end.")
        );
        plan.worth.proven = true;
        plan.stopped = false;
        assert_eq!(
            worth_plainly(&plan),
            "No better plan can be made of this yarn and these wishes."
        );
        assert!(!worth_plainly(&plan).contains("point"));
    }

    #[test]
    fn a_plans_worth_is_told_in_tenths() {
        let mut plan = plan();
        plan.worth =
            knit::gift_plan::PlanWorth { objective: -0.3, bound: 12.1, gap: 0.5, proven: false };
        plan.stopped = true;
        assert_eq!(
            goodness(&plan),
            "It is worth -0.3 points; no plan is worth more than 12.1 (50.00 % more). It was \
             stopped before its limit."
        );
    }
}
