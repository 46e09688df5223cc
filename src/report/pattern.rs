//! The written pattern: one size, or several with the figures in brackets.

use serde_json::{Value, json};

use super::instructions::{Count, Telling};
use super::knitting_json::{knitting_data, machine_data};
use super::techniques::Technique;
use super::told::{
    AlikeSizes, Front, ToldInstruction, ToldToken, front, groups, shown, steps, title,
};
use knit::size_run::SizeRun;
use units::LengthUnit;

/// Width that text is wrapped to.
const WIDTH: usize = 96;

/// The whole pattern as text for a page of `WIDTH` characters; markdown where `markdown`.
pub fn pattern_text(run: &SizeRun, unit: LengthUnit, markdown: bool) -> String {
    let mut page = TextPage::new(markdown);
    let groups = groups(run, unit, Telling::Folded);
    for (i, group) in groups.iter().enumerate() {
        if i > 0 {
            page.blank();
            page.blank();
        }
        page.heading(1, &title(run, group));
        front_matter(&mut page, &front(run, group, unit));
        page.chapters(group);
    }
    page.text
}

/// How things are done by hand, as the pattern's text has it.
pub fn techniques_text(techniques: &[Technique], markdown: bool) -> String {
    let mut page = TextPage::new(markdown);
    page.heading(1, "How it is done");
    for technique in techniques {
        page.heading(2, technique.title());
        page.paragraph(technique.when());
        for (nth, step) in technique.steps().iter().enumerate() {
            page.step(0, &format!("{}.", nth + 1), step);
        }
        page.blank();
        page.paragraph(technique.mind());
    }
    page.into_text()
}

fn front_matter(page: &mut TextPage, front: &Front) {
    if let Some(brackets) = front.brackets {
        page.paragraph(brackets);
    }
    if let Some(fixed) = &front.fixed {
        page.paragraph(fixed);
    }
    page.heading(2, "Finished sizes");
    page.items(&front.finished);
    page.heading(2, "What you need");
    page.item(&front.machine);
    page.items(&front.yarn);
    page.item(&front.yarn_in_all);
    page.item(&front.waste);
    page.items(&front.gauges);
    page.item(&front.time);
    page.heading(2, "Words used");
    page.paragraph(front.words_used);
    if !front.care.is_empty() {
        page.heading(2, "Take care");
        page.items(&front.care);
    }
}

pub(crate) struct TextPage {
    text: String,
    markdown: bool,
}

impl TextPage {
    pub fn new(markdown: bool) -> TextPage {
        TextPage { text: String::new(), markdown }
    }

    pub fn into_text(self) -> String {
        self.text
    }

    /// The chapters of one group of sizes, each step with its number.
    pub fn chapters(&mut self, group: &AlikeSizes<'_>) {
        for chapter in &group.chapters {
            self.heading(2, &chapter.title);
            for step in steps(chapter) {
                self.step(step.depth, &step.label, &format!("{}{}", step.lead, step.text));
                for list in &step.lists {
                    self.step(step.depth + 1, "", list);
                }
            }
        }
    }

    fn blank(&mut self) {
        self.text.push('\n');
    }

    pub fn heading(&mut self, level: usize, title: &str) {
        if !self.text.is_empty() && !self.text.ends_with("\n\n") {
            self.blank();
        }
        if self.markdown {
            self.text.push_str(&format!("{} {title}\n\n", "#".repeat(level)));
        } else if level == 1 {
            self.wrapped("", "", &title.to_uppercase());
            self.blank();
        } else {
            self.text.push_str(&format!("{title}\n{}\n", "-".repeat(title.chars().count())));
        }
    }

    pub fn paragraph(&mut self, text: &str) {
        self.wrapped("", "", text);
        self.blank();
    }

    fn item(&mut self, text: &str) {
        self.wrapped("- ", "  ", text);
    }

    pub fn items(&mut self, texts: &[String]) {
        for text in texts {
            self.item(text);
        }
    }

    fn step(&mut self, depth: usize, label: &str, text: &str) {
        let indent = if self.markdown { "    " } else { "   " }.repeat(depth);
        if label.is_empty() {
            self.wrapped(&format!("{indent}   "), &format!("{indent}   "), text);
            return;
        }
        let first = format!("{indent}{label} ");
        let rest = " ".repeat(first.chars().count());
        self.wrapped(&first, &rest, text);
    }

    /// Wraps at blanks; a word that is too long stands alone.
    fn wrapped(&mut self, first: &str, rest: &str, text: &str) {
        let mut line = first.to_owned();
        let mut empty = true;
        for word in text.split_whitespace() {
            if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
                self.text.push_str(line.trim_end());
                self.text.push('\n');
                line = rest.to_owned();
                empty = true;
            }
            if !empty {
                line.push(' ');
            }
            line.push_str(word);
            empty = false;
        }
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }
}

/// The pattern as data: per group of sizes the chapters step by step, each line with its figures by
/// size. `folded` is the pattern as it is written for people: what reads alike but for its figures
/// is told once, and more sizes together. It stands at the group that its first size is in.
/// `knitting` is the same without words, size by size: all that it takes to knit from. The shape is
/// [`PATTERN_SCHEMA`](crate::PATTERN_SCHEMA).
pub fn pattern_json(run: &SizeRun, unit: LengthUnit) -> String {
    let folded = groups(run, unit, Telling::Folded);
    let document: Vec<_> = groups(run, unit, Telling::AsProgrammed)
        .iter()
        .map(|group| {
            let begins = |folded: &&AlikeSizes<'_>| {
                let first = &folded.sizes.first().0.body.id;
                group.sizes.values().any(|(size, _)| size.body.id == *first)
            };
            json!({
                "garment": run.garment.id,
                "sizes": sizes_data(group),
                "machine": machine_data(&run.machine),
                "knitting": knitting_data(group),
                "chapters": chapters_data(group),
                "folded": folded.iter().filter(begins).map(|folded| json!({
                    "sizes": sizes_data(folded),
                    "chapters": chapters_data(folded),
                })).collect::<Vec<_>>(),
            })
        })
        .collect();
    let mut text = serde_json::to_string_pretty(&document).expect("plain data");
    text.push('\n');
    text
}

fn sizes_data(group: &AlikeSizes<'_>) -> Value {
    group.sizes.values().map(|(size, _)| Value::from(size.body.id.to_string())).collect()
}

/// The chapters as data, each line with its figures by size.
pub(crate) fn chapters_data(group: &AlikeSizes<'_>) -> Value {
    let chapters = group.chapters.iter().map(|chapter| {
        let lines: Vec<Value> = chapter.lines.iter().map(line_data).collect();
        let pieces: Vec<_> = chapter.pieces.values().collect();
        json!({ "title": chapter.title, "pieces": pieces, "lines": lines })
    });
    chapters.collect()
}

fn line_data(line: &ToldInstruction<'_>) -> Value {
    let figures = line.tokens.iter().filter_map(|token| match token {
        ToldToken::Figure(all) | ToldToken::List(all) => Some(all.values().cloned().collect()),
        ToldToken::Count(all) => Some(all.values().map(Count::text).collect::<Vec<_>>()),
        ToldToken::Word(_) => None,
    });
    json!({
        "depth": line.depth,
        "numbered": line.numbered,
        "text": shown(line),
        "steps": line.step.as_ref().map(|step| step.values().collect::<Vec<_>>()),
        "figures": figures.collect::<Vec<_>>(),
    })
}
