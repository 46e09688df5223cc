//! The written pattern: one size, or several with the figures in brackets.

use serde_json::{Value, json};

use super::grid::{Format, Grid};
use super::instructions::{Count, Telling};
use super::knitting_json::{knitting_data, machine_data};
use super::print_look::PrintLook;
use super::sheet::{Block, Document, Paper, plain_sheet};
use super::techniques::Technique;
use super::told::{
    AlikeSizes, Figures, Front, MOST_IN_BRACKETS, ToldInstruction, ToldToken, front, groups,
    groups_apart, groups_for_class, shown, steps, title,
};
use super::vocabulary::{called_elsewhere, said};
use knit::body::Body;
use knit::size_run::SizeRun;
use knit::stash::Words;
use units::{LengthUnit, decimal_inches};

const WORDS_USED: &str = "Words used";

/// Width that text is wrapped to.
const WIDTH: usize = 96;

/// The whole pattern as text for a page of `WIDTH` characters; markdown where `markdown`. Of more
/// sizes than brackets hold, the words once and tables with a column a size.
pub fn pattern_text(run: &SizeRun, look: &PrintLook, markdown: bool) -> String {
    let mut page = TextPage::new(markdown, look.words);
    if run.good().count() > MOST_IN_BRACKETS && !look.each {
        page.sheet(&plain_sheet(run, look.unit, Paper::A4));
        return page.text;
    }
    let groups = match look.each {
        true => groups_apart(run, look.unit),
        false => groups(run, look.unit, Telling::Folded),
    };
    for (i, group) in groups.iter().enumerate() {
        if i > 0 {
            page.blank();
            page.blank();
        }
        page.heading(1, &title(run, group));
        front_matter(&mut page, &front(run, group, look.unit));
        page.chapters(group);
    }
    page.text
}

/// How things are done by hand, as the pattern's text has it.
pub fn techniques_text(techniques: &[Technique], words: Words, markdown: bool) -> String {
    let mut page = TextPage::new(markdown, words);
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
    if !front.body.is_empty() {
        page.heading(2, "Body measures");
        page.items(&front.body);
    }
    page.heading(2, "Finished sizes");
    page.items(&front.finished);
    page.heading(2, "What you need");
    page.item(&front.machine);
    page.items(&front.yarn);
    page.item(&front.yarn_in_all);
    if let Some(waste) = &front.waste {
        page.item(waste);
    }
    page.items(&front.gauges);
    page.item(&front.time);
    page.heading(2, WORDS_USED);
    page.words_used(&front.words_used);
    if !front.care.is_empty() {
        page.heading(2, "Take care");
        page.items(&front.care);
    }
}

pub(crate) struct TextPage {
    text: String,
    markdown: bool,
    words: Words,
}

impl TextPage {
    pub fn new(markdown: bool, words: Words) -> TextPage {
        TextPage { text: String::new(), markdown, words }
    }

    /// A sheet without its pictures and boxes.
    fn sheet(&mut self, sheet: &Document) {
        self.heading(1, &sheet.title);
        let mut of_words = false;
        for block in &sheet.blocks {
            match block {
                Block::Heading { level, text } => {
                    self.heading(usize::from(*level), text);
                    of_words = text == WORDS_USED;
                }
                Block::Paragraph(text) if std::mem::take(&mut of_words) => self.words_used(text),
                Block::Paragraph(text) => self.paragraph(text),
                Block::Bullets(items) | Block::Cautions(items) => self.items(items),
                Block::Steps(steps) => {
                    for step in steps {
                        let text = format!("{}{}{}", step.only, step.lead, step.text);
                        self.step(step.depth, &step.label, &text);
                        for remark in &step.remarks {
                            self.step(step.depth + 1, "", remark);
                        }
                    }
                }
                Block::Table(grid) => self.table(grid),
                Block::Picture(_) | Block::PageBreak => {}
            }
        }
    }

    fn table(&mut self, grid: &Grid) {
        if !self.text.ends_with("\n\n") {
            self.blank();
        }
        let format = if self.markdown { Format::Markdown } else { Format::Table };
        for part in grid.in_words(self.words).parts(format, WIDTH) {
            self.text.push_str(&part.write(format));
            self.blank();
        }
    }

    /// What words stand for, and what they are called elsewhere.
    fn words_used(&mut self, text: &str) {
        self.paragraph(text);
        if let Some(elsewhere) = called_elsewhere(self.words) {
            self.wrapped("", "", elsewhere);
            self.blank();
        }
    }

    pub fn into_text(self) -> String {
        self.text
    }

    /// The chapters of one group of sizes, each step with its number.
    pub fn chapters(&mut self, group: &AlikeSizes<'_>) {
        for chapter in &group.chapters {
            self.heading(2, &chapter.title);
            for step in steps(chapter, &mut Figures::Brackets) {
                let text = format!("{}{}{}", step.only, step.lead, step.text);
                self.step(step.depth, &step.label, &text);
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
        let title = said(self.words, title);
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
        self.wrapped("", "", &said(self.words, text));
        self.blank();
    }

    fn item(&mut self, text: &str) {
        self.wrapped("- ", "  ", &said(self.words, text));
    }

    pub fn items(&mut self, texts: &[String]) {
        for text in texts {
            self.item(text);
        }
    }

    fn step(&mut self, depth: usize, label: &str, text: &str) {
        let text = &said(self.words, text);
        let indent = if self.markdown { "    " } else { "   " }.repeat(depth);
        if label.is_empty() {
            self.wrapped(&format!("{indent}   "), &format!("{indent}   "), text);
            return;
        }
        let first = format!("{indent}{label} ");
        let rest = " ".repeat(first.chars().count());
        self.wrapped(&first, &rest, text);
    }

    /// Wraps at blanks, but not before a fraction; a word that is too long stands alone.
    fn wrapped(&mut self, first: &str, rest: &str, text: &str) {
        let mut line = first.to_owned();
        let mut empty = true;
        let mut words = text.split_whitespace().peekable();
        while let Some(word) = words.next() {
            let fraction = words.next_if(|next| is_fraction_of(word, next));
            let word = match fraction {
                Some(fraction) => format!("{word} {fraction}"),
                None => word.to_owned(),
            };
            if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
                self.text.push_str(line.trim_end());
                self.text.push('\n');
                line = rest.to_owned();
                empty = true;
            }
            if !empty {
                line.push(' ');
            }
            line.push_str(&word);
            empty = false;
        }
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }
}

/// Whether that is "1/4" behind a whole number.
fn is_fraction_of(word: &str, next: &str) -> bool {
    let fraction = next.split_once('/').is_some_and(|(above, below)| {
        above.len() == 1 && ["2", "4", "8"].iter().any(|known| below.starts_with(known))
    });
    fraction && word.ends_with(|c: char| c.is_ascii_digit())
}

/// The pattern as data: per group of sizes the chapters step by step, each line with its figures by
/// size. `folded` is the pattern as it is written for people: what reads alike but for its figures
/// is told once, and more sizes together. `together` is the same with as many sizes told as one as may be, as a
/// sheet for a class has it: its chapters and lines name their sizes, since some have steps that others don't.
/// Each stands at the group that its first size is in.
/// `knitting` is the same without words, size by size: all that it takes to knit from. The shape is
/// [`PATTERN_SCHEMA`](crate::PATTERN_SCHEMA).
pub fn pattern_json(run: &SizeRun, unit: LengthUnit) -> String {
    let folded = groups(run, unit, Telling::Folded);
    let together = match run.good().count() {
        0 | 1 => Vec::new(),
        _ => groups_for_class(run, unit),
    };
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
                "together": together.iter().filter(begins).map(|class| json!({
                    "sizes": sizes_data(class),
                    "chapters": class_chapters_data(class),
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

/// The same, each chapter and each line with the sizes that have it.
fn class_chapters_data(class: &AlikeSizes<'_>) -> Value {
    let ids = |bodies: Vec<&Body>| -> Value {
        bodies.into_iter().map(|body| Value::from(body.id.to_string())).collect()
    };
    let chapters = class.chapters.iter().map(|chapter| {
        let lines = chapter.lines.iter().map(|line| {
            let mut data = line_data(line);
            data["sizes"] = ids(line.sizes.bodies());
            data
        });
        json!({
            "title": chapter.title,
            "sizes": ids(chapter.pieces.bodies()),
            "pieces": chapter.pieces.values().collect::<Vec<_>>(),
            "lines": lines.collect::<Vec<_>>(),
        })
    });
    chapters.collect()
}

fn line_data(line: &ToldInstruction<'_>) -> Value {
    let figures = line.tokens.iter().filter_map(|token| match token {
        ToldToken::Figure(all) => Some(all.values().map(|one| decimal_inches(one)).collect()),
        ToldToken::List(all) => Some(all.values().cloned().collect()),
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
