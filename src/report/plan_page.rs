//! A plan of gifts as a page to work from, as rows, as JSON.

use serde_json::{Value, json};

use super::gift_plan::{GiftPlan, PlannedGift, Way};
use super::grid::{Format, Grid};
use knit::stash::Date;

/// Writes a plan out.
pub fn plan_page(plan: &GiftPlan, format: Format) -> String {
    Page(plan).write(format)
}

/// A plan as data.
pub fn plan_value(plan: &GiftPlan) -> Value {
    Page(plan).json()
}

struct Page<'a>(&'a GiftPlan);

impl Page<'_> {
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
        ];
        let mut grid = Grid::new("", headings.map(str::to_owned).to_vec());
        for gift in &self.0.gifts {
            for section in &gift.sections {
                for (remnant, grams) in &section.chunks {
                    grid.rows.push(vec![
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
                        format!("{:.1}", section.need.mean),
                        format!("{:.2}", section.chance * 100.0),
                        gift.machine.clone(),
                        format!("{:.0}", gift.minutes),
                    ]);
                }
            }
        }
        grid
    }

    fn page(&self, format: Format) -> String {
        let markdown = format == Format::Markdown;
        let heading = |text: &str| {
            if markdown {
                format!("\n## {text}\n\n")
            } else {
                format!("\n{text}\n{}\n", "-".repeat(text.chars().count()))
            }
        };
        let all = self.0.gifts.len() + self.0.left_out.len();
        let title = format!("{} of {all} gifts can be made", self.0.gifts.len());
        let mut text = if markdown { format!("# {title}\n") } else { format!("{title}\n") };
        if !self.0.gifts.is_empty() {
            text.push_str(&heading("In the order of work"));
        }
        for (nth, gift) in self.0.gifts.iter().enumerate() {
            text.push_str(&gift_lines(nth + 1, gift, markdown));
        }
        let cautions = self.0.cautions();
        if !cautions.is_empty() {
            text.push_str(&heading("Take care"));
            for (caution, gifts) in cautions {
                let numbers: Vec<String> = gifts.iter().map(usize::to_string).collect();
                let whose = if gifts.len() == self.0.gifts.len() && gifts.len() > 1 {
                    "All".to_owned()
                } else {
                    numbers.join(", ")
                };
                text.push_str(&format!("- {whose}: {caution}\n"));
            }
        }
        if !self.0.left_out.is_empty() {
            text.push_str(&heading("Left out"));
        }
        for gift in &self.0.left_out {
            let due = gift.due.map_or(String::new(), |day| format!(", due {day}"));
            text.push_str(&format!(
                "- {} for {} (priority {}{due})\n",
                gift.id, gift.person, gift.priority
            ));
            for reason in &gift.reasons {
                text.push_str(&format!("  - {reason}\n"));
            }
            for way in gift.ways_in() {
                text.push_str(&format!("  - To let it in: {way}\n"));
            }
        }
        let (left, rest) = self.0.remnants_left();
        if !left.rows.is_empty() {
            text.push_str(&heading("What is left of each remnant used"));
            text.push_str(&left.write(format));
            let are = if rest == 1 { "remnant is" } else { "remnants are" };
            text.push_str(&format!("\n{rest} {are} not touched.\n"));
        }
        if !self.0.waste_m.is_empty() {
            text.push_str(&heading("Waste yarn to have"));
            for (machine, metres) in self.0.waste() {
                text.push_str(&format!(
                    "- {machine}: {metres:.0} m if none is used twice; it can be, again and again\n"
                ));
            }
        }
        text.push_str(&heading("How good the plan is"));
        text.push_str(&format!("{}\n", self.0.goodness()));
        text
    }

    fn json(&self) -> Value {
        let gifts: Vec<Value> = self
            .0
            .gifts
            .iter()
            .map(|gift| {
                let sections: Vec<Value> = gift
                    .sections
                    .iter()
                    .map(|s| {
                        let chunks: Vec<Value> = s
                            .chunks
                            .iter()
                            .map(|(remnant, grams)| json!({"remnant": remnant, "grams": grams}))
                            .collect();
                        json!({
                            "name": s.name, "yarn": s.yarn, "lot": s.lot,
                            "need_grams": tenth(s.need.mean),
                            "chance_of_running_out": (s.chance * 1e6).round() / 1e6,
                            "takes": chunks,
                        })
                    })
                    .collect();
                json!({
                    "gift": gift.id, "person": gift.person, "priority": gift.priority,
                    "due": gift.due.map(|day| day.to_string()), "garment": gift.garment, "size": gift.size_label,
                    "machine": gift.machine, "swatch": gift.swatch,
                    "minutes": gift.minutes.round(), "done_after_minutes": gift.done_after.round(),
                    "sections": sections, "cautions": gift.cautions,
                })
            })
            .collect();
        let left_out: Vec<Value> = self
            .0
            .left_out
            .iter()
            .map(|gift| {
                let ways: Vec<Value> = gift.ways.iter().map(way_json).collect();
                json!({
                    "gift": gift.id, "person": gift.person, "priority": gift.priority,
                    "due": gift.due.map(|day| day.to_string()), "reasons": gift.reasons, "ways": ways,
                })
            })
            .collect();
        let remnants: Vec<Value> = self
            .0
            .remnants
            .iter()
            .map(|r| {
                json!({"remnant": r.id, "yarn": r.yarn, "had_grams": r.had_g,
                       "left_grams": r.left_g, "drib": r.drib})
            })
            .collect();
        let waste: Vec<Value> = self
            .0
            .waste_m
            .iter()
            .map(|(machine, metres)| json!({"machine": machine, "metres": metres.round()}))
            .collect();
        json!({
            "gifts": gifts, "left_out": left_out, "remnants": remnants, "waste_yarn": waste,
            "objective": self.0.objective.as_f64(), "bound": self.0.bound.as_f64(),
            "gap": (self.0.gap * 1e6).round() / 1e6, "proven": self.0.proven,
            "work": self.0.work_done, "stopped": self.0.stopped,
        })
    }
}

fn day(due: Option<Date>) -> String {
    due.map_or_else(String::new, |day| day.to_string())
}

fn way_json(way: &Way) -> Value {
    let add = way.add.as_ref().map(|(id, _, grams)| json!({"yarn": id, "grams": tenth(*grams)}));
    json!({
        "add": add, "garment": way.title, "size": way.size_label, "displaced": way.displaced,
    })
}

fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn gift_lines(nth: usize, gift: &PlannedGift, markdown: bool) -> String {
    let due = gift.due.map_or(String::new(), |day| format!(", due {day}"));
    let (hours, done_after) = gift.hours();
    let strong = if markdown { "**" } else { "" };
    let mut text = format!(
        "{nth}. {strong}{} for {}{strong}: {}, {}{due}\n   {} on {}, {} when it is done\n",
        gift.id, gift.person, gift.title, gift.size_label, hours, gift.machine_title, done_after
    );
    if gift.swatch.is_none() {
        text.push_str(&format!("   {}\n", PlannedGift::UNSWATCHED));
    }
    for line in gift.takes() {
        text.push_str(&format!("   - {line}\n"));
    }
    text
}
