//! A plan of gifts as a page to work from, as rows, as JSON.

use serde_json::{Value, json};

use super::grid::{Format, Grid};
use super::group_words::{self, bed_of, with_person};
use super::minutes_told::MinutesTold;
use super::plan_words::{self, UNSWATCHED, goodness, reasons, remnants_left, takes, ways_in};
use knit::gift_plan::{
    Change, Excluded, GiftPlan, LeftOut, OutOfTime, PlannedGift, PlannedSection, Way,
};
use knit::stash::Date;

/// Writes a plan out.
pub fn plan_page(plan: &GiftPlan, format: Format) -> String {
    Written(plan).write(format)
}

/// A plan as data.
pub fn plan_value(plan: &GiftPlan) -> Value {
    Written(plan).json()
}

struct Written<'a>(&'a GiftPlan);

impl Written<'_> {
    fn write(&self, format: Format) -> String {
        match format {
            Format::Json => format!("{:#}\n", self.json()),
            Format::Csv => self.rows().write(format),
            Format::Table | Format::Markdown => self.page(format),
        }
    }

    /// A row for each remnant in each section.
    fn rows(&self) -> Grid {
        let headings = [
            "Gift",
            "For",
            "Due",
            "Garment",
            "Size",
            "Section",
            "Yarn",
            "Lot",
            "Remnant",
            "Grams",
            "Needs g",
            "Runs out %",
            "Machine",
            "Minutes",
            "95 % from",
            "to min",
        ];
        let several = self.0.gifts.iter().any(|gift| gift.knitter.is_some());
        let mut grid = Grid::new("", headings.map(str::to_owned).to_vec());
        grid.headings.extend(several.then(|| "Knitter".to_owned()));
        for gift in &self.0.gifts {
            let minutes = MinutesTold::of(&gift.minutes);
            for section in &gift.sections {
                for (remnant, grams) in &section.chunks {
                    let mut row = vec![
                        gift.id.clone(),
                        gift.person.clone(),
                        day(gift.due),
                        gift.garment.clone(),
                        gift.size_label.clone(),
                        section.name.clone(),
                        section.yarn.clone(),
                        section.lot.clone().unwrap_or_default(),
                        remnant.clone(),
                        format!("{grams:.1}"),
                        format!("{:.1}", section.need.grams()),
                        format!("{:.2}", section.chance * 100.0),
                        gift.machine.clone(),
                        format!("{:.0}", minutes.mean),
                        format!("{:.0}", minutes.low),
                        format!("{:.0}", minutes.high),
                    ];
                    row.extend(several.then(|| gift.knitter.clone().unwrap_or_default()));
                    grid.rows.push(row);
                }
            }
        }
        grid
    }

    fn page(&self, format: Format) -> String {
        let markdown = format == Format::Markdown;
        let plan = self.0;
        let all = plan.gifts.len() + plan.left_out.len();
        let title = format!("{} of {all} gifts can be made", plan.gifts.len());
        let mut text = if markdown { format!("# {title}\n") } else { format!("{title}\n") };
        if let Some(changes) = plan_words::changes(plan) {
            text.push_str(&format!("\n{changes}\n"));
        }
        if !plan.gifts.is_empty() {
            text.push_str(&heading("In the order of work", markdown));
            text.push_str(&format!("{}\n\n", plan_words::TIMES));
        }
        for (nth, gift) in plan.gifts.iter().enumerate() {
            text.push_str(&gift_lines(nth + 1, gift, markdown));
        }
        for (title, lines) in group_words::lists(plan) {
            text.push_str(&listed(title, &lines, markdown));
        }
        text.push_str(&self.cautions(markdown));
        if !plan.left_out.is_empty() {
            text.push_str(&heading("Left out", markdown));
        }
        for (name, gift) in group_words::left_out(plan) {
            text.push_str(&left_out_lines(&name, gift));
        }
        let unexplained = |gift: &LeftOut| reasons(gift).is_empty() && ways_in(gift).is_empty();
        if plan.left_out.iter().any(unexplained) {
            text.push_str("\n`oddments plan --explain` says of each why.\n");
        }
        let late = plan_words::not_in_time(plan);
        if !late.is_empty() {
            text.push_str(&heading("Too few hours", markdown));
        }
        for line in late {
            text.push_str(&format!("- {line}\n"));
        }
        if plan_words::adds_yarn(plan) {
            text.push_str(&format!("\n{}\n", plan_words::EACH_ALONE));
        }
        text.push_str(&self.stash_after(format));
        text.push_str(&heading("How good the plan is", markdown));
        text.push_str(&format!("{}\n", goodness(plan)));
        text.extend(group_words::aim(plan).map(|aim| format!("{aim}\n")));
        text
    }

    fn cautions(&self, markdown: bool) -> String {
        let cautions = self.0.cautions();
        let mut text = String::new();
        if !cautions.is_empty() {
            text.push_str(&heading("Take care", markdown));
        }
        for (caution, gifts) in cautions {
            let numbers: Vec<String> = gifts.iter().map(usize::to_string).collect();
            let whose = if gifts.len() == self.0.gifts.len() && gifts.len() > 1 {
                "All".to_owned()
            } else {
                numbers.join(", ")
            };
            text.push_str(&format!("- {whose}: {caution}\n"));
        }
        text
    }

    /// What is left of the stash, and what waste yarn it takes.
    fn stash_after(&self, format: Format) -> String {
        let markdown = format == Format::Markdown;
        let mut text = String::new();
        let (left, rest) = remnants_left(self.0);
        if !left.rows.is_empty() {
            text.push_str(&heading("What is left of each remnant used", markdown));
            text.push_str(&left.write(format));
            let are = if rest == 1 { "remnant is" } else { "remnants are" };
            text.push_str(&format!("\n{rest} {are} not touched.\n"));
        }
        if !self.0.waste_m.is_empty() {
            text.push_str(&heading("Waste yarn to have", markdown));
            for (machine, metres) in self.0.waste() {
                text.push_str(&format!(
                    "- {machine}: {metres:.0} m if none is used twice; it can be, again and again\n"
                ));
            }
        }
        text
    }

    fn json(&self) -> Value {
        let plan = self.0;
        let gifts: Vec<Value> = plan.gifts.iter().map(gift_json).collect();
        let left_out: Vec<Value> = plan.left_out.iter().map(left_out_json).collect();
        let remnants: Vec<Value> = plan
            .remnants
            .iter()
            .map(|r| {
                json!({"remnant": r.id, "yarn": r.yarn, "had_grams": r.had_g,
                       "left_grams": r.left_g, "drib": r.drib})
            })
            .collect();
        let waste: Vec<Value> = plan
            .waste_m
            .iter()
            .map(|(machine, metres)| json!({"machine": machine, "metres": metres.round()}))
            .collect();
        let mut value = json!({
            "gifts": gifts, "left_out": left_out, "remnants": remnants, "waste_yarn": waste,
            "objective": plan.worth.objective, "bound": plan.worth.bound,
            "gap": (plan.worth.gap * 1e6).round() / 1e6, "proven": plan.worth.proven,
            "work": plan.work_done, "stopped": plan.stopped,
            "made_on": plan.made_on,
            "out_of_time": plan.out_of_time.iter().map(late_json).collect::<Vec<_>>(),
            "since_before": plan.since.as_ref().map(|since| json!({
                "gifts": since.gifts, "changed": since.changed,
                "other_balls": since.other_balls, "dropped": since.dropped,
            })),
        });
        for (key, own) in group_words::keys(plan) {
            value[key] = own;
        }
        value
    }
}

fn heading(text: &str, markdown: bool) -> String {
    if markdown {
        format!("\n## {text}\n\n")
    } else {
        format!("\n{text}\n{}\n", "-".repeat(text.chars().count()))
    }
}

/// A heading and a line each.
fn listed(title: &str, lines: &[String], markdown: bool) -> String {
    let lines: Vec<String> = lines.iter().map(|line| format!("- {line}\n")).collect();
    format!("{}{}", heading(title, markdown), lines.concat())
}

fn gift_json(gift: &PlannedGift) -> Value {
    let sections: Vec<Value> = gift.sections.iter().map(section_json).collect();
    let (minutes, done) = (MinutesTold::of(&gift.minutes), MinutesTold::of(&gift.done_after));
    let mut value = json!({
        "gift": gift.id, "person": person(&gift.person), "priority": gift.priority,
        "due": gift.due.map(|day| day.to_string()), "garment": gift.garment, "size": gift.size_label,
        "machine": gift.machine, "swatch": gift.swatch,
        "options": gift.scaled.iter().cloned().collect::<std::collections::BTreeMap<_, _>>(),
        "minutes": minutes.mean, "minutes_low": minutes.low, "minutes_high": minutes.high,
        "done_after_minutes": done.mean, "done_after_minutes_low": done.low,
        "done_after_minutes_high": done.high,
        "chance_of_being_late": gift.late.map(|late| (late * 1e3).round() / 1e3),
        "sections": sections, "cautions": gift.cautions,
        "change": gift.change.map(Change::name),
    });
    if let Some(knitter) = &gift.knitter {
        value["knitter"] = Value::from(knitter.as_str());
    }
    value
}

/// Nobody by name is none.
fn person(name: &str) -> Option<&str> {
    (!name.is_empty()).then_some(name)
}

fn section_json(section: &PlannedSection) -> Value {
    let chunks: Vec<Value> = section
        .chunks
        .iter()
        .map(|(remnant, grams)| json!({"remnant": remnant, "grams": grams}))
        .collect();
    json!({
        "name": section.name, "yarn": section.yarn, "lot": section.lot,
        "need_grams": tenth(section.need.grams()),
        "chance_of_running_out": (section.chance * 1e6).round() / 1e6,
        "takes": chunks,
    })
}

fn left_out_json(gift: &LeftOut) -> Value {
    let ways: Vec<Value> = gift.ways.iter().map(way_json).collect();
    json!({
        "gift": gift.id, "person": person(&gift.person), "priority": gift.priority,
        "due": gift.due.map(|day| day.to_string()), "reasons": reasons(gift), "ways": ways,
        "excluded": gift.excluded.iter().map(excluded_json).collect::<Vec<_>>(),
    })
}

fn late_json(late: &OutOfTime) -> Value {
    let mut value = json!({
        "gift": late.gift, "due": late.due.to_string(), "held": late.held,
        "minutes": late.minutes.round(), "minutes_left": late.spare.round(),
        "hours_a_week": late.hours_a_week, "by": late.by.to_string(), "later": late.later,
    });
    if let Some(knitter) = &late.knitter {
        value["knitter"] = Value::from(knitter.as_str());
    }
    value
}

fn excluded_json(excluded: &Excluded) -> Value {
    let yarns: Vec<Value> =
        excluded.yarns.iter().map(|yarn| json!({"yarn": yarn.id, "lot": yarn.lot})).collect();
    json!({"because": plan_words::because(&excluded.rule), "yarns": yarns})
}

fn day(due: Option<Date>) -> String {
    due.map_or_else(String::new, |day| day.to_string())
}

fn way_json(way: &Way) -> Value {
    let add = way.add.as_ref().map(|add| json!({"yarn": add.yarn, "grams": tenth(add.grams)}));
    json!({
        "add": add, "garment": way.title, "size": way.size_label, "displaced": way.displaced,
        "changed": way.changed, "change": tenth(way.change),
    })
}

fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn gift_lines(nth: usize, gift: &PlannedGift, markdown: bool) -> String {
    let due = gift.due.map_or(String::new(), |day| format!(", due {day}"));
    let (hours, done_after) = plan_words::hours_of(gift);
    let strong = if markdown { "**" } else { "" };
    let mut text = format!(
        "{nth}. {strong}{}{strong}: {}, {}{due}\n   {} on {}, {}\n",
        with_person(&gift.id, &gift.person),
        gift.title,
        gift.size_told(),
        hours,
        bed_of(gift),
        done_after
    );
    if gift.swatch.is_none() {
        text.push_str(&format!("   {}\n", UNSWATCHED));
    }
    if let Some(change) = plan_words::change_of(gift) {
        text.push_str(&format!("   {change}\n"));
    }
    for line in takes(gift) {
        text.push_str(&format!("   - {line}\n"));
    }
    text
}

fn left_out_lines(name: &str, gift: &LeftOut) -> String {
    let due = gift.due.map_or(String::new(), |day| format!(", due {day}"));
    let mut text = format!("- {name} (priority {}{due})\n", gift.priority);
    for reason in reasons(gift) {
        text.push_str(&format!("  - {reason}\n"));
    }
    for way in ways_in(gift) {
        text.push_str(&format!("  - To let it in: {way}\n"));
    }
    text
}
