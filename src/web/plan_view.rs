//! A plan as its page shows it: gifts in the order of work, many of a kind as one; each ball emptying into
//! gifts; who knits what in which week.

use super::chip::Chip;
use super::knit_now::{Knit, next_planned, of_planned};
use super::page_parts::TableView;
use super::plan_jobs::Planned;
use super::state::Shared;
use knit::gift_plan::{GiftPlan, PlannedGift};
use knit::stash::{Contents, Date};
use report::{group_words, plan_words};

pub(super) struct MadeView {
    pub title: String,
    /// Whether there is any yarn to set aside.
    pub acceptable: bool,
    pub next: Option<Knit>,
    pub rows: Vec<GiftRow>,
    pub shelf: Vec<Ball>,
    pub calendars: Vec<Calendar>,
    /// That nobody said how many hours a week there are, where nobody did.
    pub hoursless: bool,
    pub left_out: Vec<LeftOutView>,
    /// That ways in which add yarn are told each alone.
    pub each_alone: &'static str,
    pub cautions: Vec<(String, String)>,
    pub remnants: TableView,
    pub untouched: usize,
    pub waste: Vec<String>,
    pub times: &'static str,
    pub worth: String,
    /// The same in points, for whoever weighs them.
    pub points: String,
    /// How many gifts change, where gifts of an accepted plan were planned again.
    pub changes: String,
    /// What can't be done by its day.
    pub not_in_time: Vec<String>,
    pub aim: String,
    /// Who knits, what travels, what is kept: headings and lines.
    pub groups: Vec<(&'static str, Vec<String>)>,
}

/// A gift, or many of a kind that are made alike.
pub(super) struct GiftRow {
    /// Its number in the order of work.
    pub nth: usize,
    pub gift: String,
    pub count: usize,
    pub person: String,
    pub what: String,
    pub due: String,
    pub machine: String,
    /// At the machine, and gone by when it is done.
    pub hours: (String, String),
    pub unswatched: &'static str,
    /// What has become of it since the accepted plan.
    pub change: &'static str,
    pub knit: Option<Knit>,
    pub takes: Vec<String>,
}

/// A ball of the shelf.
pub(super) struct Ball {
    pub id: String,
    pub name: String,
    pub chip: Option<Chip>,
    /// Its width beside the heaviest, and its parts, in hundredths.
    pub wide: String,
    pub parts: Vec<Part>,
    pub words: String,
}

pub(super) struct Part {
    pub at: String,
    pub wide: String,
    pub middle: String,
    /// The number of the gift; blank where there is no room for it.
    pub nth: String,
    pub shade: &'static str,
}

/// The weeks of a knitter.
pub(super) struct Calendar {
    /// Whose, where several knit.
    pub whose: String,
    pub hours: String,
    pub weeks: Vec<Week>,
}

pub(super) struct Week {
    pub begins: String,
    pub hours: String,
    /// Parts of the week in hundredths, as those of a ball.
    pub parts: Vec<Part>,
    pub words: String,
}

pub(super) struct LeftOutView {
    /// The gift, and whom it is for.
    pub name: String,
    pub about: String,
    pub reasons: Vec<String>,
    pub ways: Vec<String>,
}

impl MadeView {
    pub fn of(shared: &Shared, planned: &Planned, from: Date) -> MadeView {
        let (plan, contents) = (&planned.plan, &planned.seen.contents);
        let rows = rows_of(plan);
        let all = plan.gifts.len() + plan.left_out.len();
        let cautions = plan.cautions().into_iter().map(|(caution, gifts)| {
            let whose: Vec<&str> =
                gifts.iter().filter_map(|nth| plan.gifts.get(nth - 1)).map(|g| &*g.id).collect();
            (whose.join(", "), caution.to_owned())
        });
        let (mut remnants, untouched) = plan_words::remnants_left(plan);
        "What is left of each remnant used".clone_into(&mut remnants.title);
        let calendars = calendars(plan, contents, &rows, from);
        MadeView {
            title: format!("{} of {all} gifts can be made", plan.gifts.len()),
            acceptable: !plan.gifts.is_empty(),
            next: next_planned(shared, contents, plan).map(|(_, knit)| knit),
            shelf: shelf(plan, contents, &rows),
            hoursless: calendars.is_empty() && !plan.gifts.is_empty(),
            calendars,
            left_out: left_out(plan),
            each_alone: if plan_words::adds_yarn(plan) {
                plan_words::EACH_ALONE_ON_PAGE
            } else {
                ""
            },
            cautions: cautions.collect(),
            untouched,
            remnants: remnants.into(),
            waste: plan.waste().map(|(machine, m)| format!("{machine}: {m:.0} m")).collect(),
            times: plan_words::TIMES,
            worth: plan_words::worth_plainly(plan),
            points: plan_words::goodness(plan),
            not_in_time: plan_words::not_in_time(plan),
            changes: plan_words::changes(plan).unwrap_or_default(),
            aim: group_words::aim(plan).unwrap_or_default(),
            groups: group_words::lists(plan),
            rows: rows
                .iter()
                .enumerate()
                .map(|(at, row)| row_view(shared, contents, plan, at, row))
                .collect(),
        }
    }
}

fn due(day: Option<Date>) -> String {
    day.map_or_else(String::new, |day| format!("due {day}"))
}

fn left_out(plan: &GiftPlan) -> Vec<LeftOutView> {
    let view = |(name, gift): (String, &knit::gift_plan::LeftOut)| LeftOutView {
        name,
        about: [format!("priority {}", gift.priority), due(gift.due)]
            .into_iter()
            .filter(|text| !text.is_empty())
            .collect::<Vec<_>>()
            .join(", "),
        reasons: plan_words::reasons(gift),
        ways: plan_words::ways_in_plainly(gift),
    };
    group_words::left_out(plan).into_iter().map(view).collect()
}

/// Gifts by their place in the plan, those of a row together: of many of a kind those that follow each other
/// and are made alike.
fn rows_of(plan: &GiftPlan) -> Vec<Vec<usize>> {
    let mut rows: Vec<Vec<usize>> = Vec::new();
    for (at, gift) in plan.gifts.iter().enumerate() {
        let entry = group_words::entry_of(plan, &gift.id);
        let alike = |before: &Vec<usize>| {
            let other = &plan.gifts[before[0]];
            let same = |gift: &PlannedGift| {
                (gift.garment.clone(), gift.size_told(), gift.machine.clone(), gift.knitter.clone())
            };
            entry.is_some()
                && entry == group_words::entry_of(plan, &other.id)
                && same(gift) == same(other)
        };
        match rows.last_mut().filter(|row| alike(row)) {
            Some(row) => row.push(at),
            None => rows.push(vec![at]),
        }
    }
    rows
}

fn row_view(
    shared: &Shared,
    contents: &Contents,
    plan: &GiftPlan,
    at: usize,
    row: &[usize],
) -> GiftRow {
    let (first, last) = (&plan.gifts[row[0]], &plan.gifts[row[row.len() - 1]]);
    let many = row.len() > 1;
    let (mut hours, done) = plan_words::hours_of(first);
    if many {
        hours.push_str(" each");
    }
    let after = if many { plan_words::hours_of(last).1 } else { done };
    let takes = if many { taken_together(plan, row) } else { plan_words::takes(first) };
    GiftRow {
        nth: at + 1,
        gift: if many { format!("{} to {}", first.id, last.id) } else { first.id.clone() },
        count: row.len(),
        person: first.person.clone(),
        what: format!("{}, {}", first.title, first.size_told()),
        due: due(first.due),
        machine: group_words::bed_of(first),
        hours: (hours, after),
        unswatched: if first.swatch.is_none() { plan_words::UNSWATCHED } else { "" },
        change: plan_words::change_of(first).unwrap_or_default(),
        knit: of_planned(shared, contents, first),
        takes,
    }
}

/// What many of a kind take of each remnant, all together.
fn taken_together(plan: &GiftPlan, row: &[usize]) -> Vec<String> {
    let mut taken: Vec<(&str, &str, f64)> = Vec::new();
    for section in row.iter().flat_map(|at| &plan.gifts[*at].sections) {
        for (remnant, grams) in &section.chunks {
            match taken.iter_mut().find(|(own, ..)| own == remnant) {
                Some((.., sum)) => *sum += grams,
                None => taken.push((remnant, &section.yarn_name, *grams)),
            }
        }
    }
    let line = |(remnant, yarn, grams): (&str, &str, f64)| {
        format!("{grams:.1} g of {remnant} ({yarn}), all together")
    };
    taken.into_iter().map(line).collect()
}

/// Each ball that is used, emptying into gifts.
fn shelf(plan: &GiftPlan, contents: &Contents, rows: &[Vec<usize>]) -> Vec<Ball> {
    let used = plan.remnants.iter().filter(|remnant| remnant.left_g < remnant.had_g);
    let heaviest = used.clone().map(|remnant| remnant.had_g).fold(1.0, f64::max);
    let ball = |remnant: &knit::gift_plan::RemnantLeft| {
        let yarn = contents.yarns.get(&remnant.yarn);
        let takers = takers(plan, rows, &remnant.id);
        let shares: Vec<(usize, f64)> =
            takers.iter().map(|(nth, _, grams)| (*nth, grams / remnant.had_g)).collect();
        let told: Vec<String> = takers
            .iter()
            .map(|(nth, name, grams)| format!("{grams:.1} g to {nth}, {name}"))
            .collect();
        let left = match remnant.left_g {
            left if left < 0.05 => "nothing is left".to_owned(),
            left if remnant.drib => format!("{left:.1} g are left, too little to be of use"),
            left => format!("{left:.1} g are left"),
        };
        Ball {
            id: remnant.id.clone(),
            name: yarn.map_or_else(|| remnant.yarn.clone(), |yarn| yarn.name.clone()),
            chip: yarn.map(Chip::of),
            wide: format!("{:.1}", (remnant.had_g / heaviest * 100.0).max(12.0)),
            parts: parts(&shares),
            words: format!("{:.1} g: {}; {left}.", remnant.had_g, told.join("; ")),
        }
    };
    used.map(ball).collect()
}

/// Who takes how much of a remnant: the number of the row, its gift, grams.
fn takers(plan: &GiftPlan, rows: &[Vec<usize>], remnant: &str) -> Vec<(usize, String, f64)> {
    let of_row = |(at, row): (usize, &Vec<usize>)| {
        let sections = row.iter().flat_map(|gift| &plan.gifts[*gift].sections);
        let chunks = sections.flat_map(|section| &section.chunks);
        let grams: f64 = chunks.filter(|(own, _)| own == remnant).map(|(_, grams)| grams).sum();
        let first = &plan.gifts[row[0]];
        let name = group_words::entry_of(plan, &first.id).filter(|_| row.len() > 1);
        (grams > 0.0).then(|| (at + 1, name.unwrap_or(&first.id).to_owned(), grams))
    };
    rows.iter().enumerate().filter_map(of_row).collect()
}

/// Parts one after the other, by the number that each has and its share of the whole. Two beside each other
/// differ in lightness, so that they are told apart in grey.
fn parts(shares: &[(usize, f64)]) -> Vec<Part> {
    /// Below this share of the whole there is no room for a number.
    const ROOM: f64 = 0.07;
    let mut at = 0.0_f64;
    let part = |(place, (nth, share)): (usize, &(usize, f64))| {
        let share = share.clamp(0.0, (1.0 - at).max(0.0));
        let part = Part {
            at: format!("{:.2}", at * 100.0),
            wide: format!("{:.2}", share * 100.0),
            middle: format!("{:.2}", (at + share / 2.0) * 100.0),
            nth: if share < ROOM { String::new() } else { nth.to_string() },
            shade: if place % 2 == 0 { "deep" } else { "pale" },
        };
        at += share;
        part
    };
    shares.iter().enumerate().map(part).collect()
}

/// The weeks of each who knits; nothing of those of whom nobody knows how many hours they have.
fn calendars(
    plan: &GiftPlan,
    contents: &Contents,
    rows: &[Vec<usize>],
    from: Date,
) -> Vec<Calendar> {
    let mut knitters: Vec<Option<&str>> = Vec::new();
    for gift in &plan.gifts {
        if !knitters.contains(&gift.knitter.as_deref()) {
            knitters.push(gift.knitter.as_deref());
        }
    }
    let calendar = |knitter: Option<&str>| {
        let own = knitter.and_then(|name| contents.knitter(name)?.hours_a_week);
        let hours = own.or(contents.settings.hours_a_week)?;
        let weeks = plan.weeks(knitter, from, hours);
        Some(Calendar {
            whose: knitter.unwrap_or_default().to_owned(),
            hours: format!("{hours:.1}").trim_end_matches(".0").to_owned(),
            weeks: weeks.iter().map(|week| week_view(plan, rows, hours, week)).collect(),
        })
    };
    let all = knitters.into_iter().filter_map(calendar);
    all.filter(|calendar| !calendar.weeks.is_empty()).collect()
}

fn week_view(
    plan: &GiftPlan,
    rows: &[Vec<usize>],
    hours: f64,
    week: &knit::gift_plan::PlanWeek,
) -> Week {
    // Pieces of many of a kind count as one.
    let mut work: Vec<(usize, f64, usize)> = Vec::new();
    for own in &week.work {
        let row = rows.iter().position(|row| row.contains(&own.gift)).unwrap_or_default();
        let done = usize::from(own.done);
        match work.iter_mut().find(|(other, ..)| *other == row) {
            Some((_, minutes, all)) => {
                *minutes += own.minutes;
                *all += done;
            }
            None => work.push((row, own.minutes, done)),
        }
    }
    let shares: Vec<(usize, f64)> =
        work.iter().map(|(row, minutes, _)| (row + 1, minutes / (hours * 60.0))).collect();
    let line = |(row, minutes, done): &(usize, f64, usize)| {
        let first = &plan.gifts[rows[*row][0]];
        let many = rows[*row].len() > 1;
        let name = group_words::entry_of(plan, &first.id).filter(|_| many).unwrap_or(&first.id);
        let done = match done {
            0 => "",
            _ if many => ", some are done",
            _ => ", done",
        };
        format!("{}, {name}: {}{done}", row + 1, plan_words::hours(*minutes))
    };
    let all: f64 = work.iter().map(|(_, minutes, _)| minutes).sum();
    Week {
        begins: week.begins.to_string(),
        hours: plan_words::hours(all),
        parts: parts(&shares),
        words: work.iter().map(line).collect::<Vec<_>>().join("; "),
    }
}
