//! The written pattern: one size, or several with the figures in brackets.

use serde_json::json;

use super::grid::capital;
use super::instructions::{Chapter, Line, Token, chapters};
use crate::knit::size_run::{Made, SizeResult, SizeRun};
use crate::units::LengthUnit;

/// Width that text is wrapped to.
const WIDTH: usize = 96;

/// Sizes whose patterns read alike but for their figures.
struct Group<'a> {
    sizes: Vec<(&'a SizeResult, &'a Made)>,
    chapters: Vec<Chapter>,
}

fn groups(run: &SizeRun, unit: LengthUnit) -> Vec<Group<'_>> {
    let mut groups: Vec<Group<'_>> = Vec::new();
    for (size, made) in run.good() {
        let own = chapters(&made.garment, &made.graded.run, &run.gauges, unit);
        if let Some(group) = groups.last_mut()
            && let Some(merged) = merge(&group.chapters, &own, group.sizes.len())
        {
            group.chapters = merged;
            group.sizes.push((size, made));
            continue;
        }
        groups.push(Group { sizes: vec![(size, made)], chapters: own });
    }
    groups
}

/// Joins the figures of one more size to those of `many` sizes. `None` where the wording differs.
fn merge(before: &[Chapter], own: &[Chapter], many: usize) -> Option<Vec<Chapter>> {
    if before.len() != own.len() {
        return None;
    }
    before
        .iter()
        .zip(own)
        .map(|(a, b)| {
            if a.title != b.title || a.lines.len() != b.lines.len() {
                return None;
            }
            let lines: Option<Vec<Line>> =
                a.lines.iter().zip(&b.lines).map(|(a, b)| merge_line(a, b, many)).collect();
            Some(Chapter { title: a.title.clone(), lines: lines? })
        })
        .collect()
}

/// Figures of several sizes are kept in one token with this between them until they are shown.
const BETWEEN: char = '\u{1f}';

fn merge_line(a: &Line, b: &Line, many: usize) -> Option<Line> {
    if a.depth != b.depth || a.numbered != b.numbered || a.tokens.len() != b.tokens.len() {
        return None;
    }
    let tokens: Option<Vec<Token>> = a
        .tokens
        .iter()
        .zip(&b.tokens)
        .map(|pair| match pair {
            (Token::Word(a), Token::Word(b)) if a == b => Some(Token::Word(a.clone())),
            (Token::Figure(a), Token::Figure(b)) => {
                debug_assert_eq!(a.split(BETWEEN).count(), many);
                Some(Token::Figure(format!("{a}{BETWEEN}{b}")))
            }
            (Token::List(a), Token::List(b)) => Some(Token::List(format!("{a}{BETWEEN}{b}"))),
            _ => None,
        })
        .collect();
    Some(Line { depth: a.depth, numbered: a.numbered, tokens: tokens? })
}

fn shown(line: &Line) -> String {
    line.tokens
        .iter()
        .map(|token| match token {
            Token::Word(text) => text.clone(),
            Token::Figure(figures) => bracketed(&by_size(figures)),
            Token::List(lists) => match one_for_all(&by_size(lists)) {
                Some(list) => list.to_owned(),
                None => "(listed by size below)".to_owned(),
            },
        })
        .collect()
}

fn by_size(figures: &str) -> Vec<&str> {
    figures.split(BETWEEN).collect()
}

fn one_for_all<'a>(figures: &[&'a str]) -> Option<&'a str> {
    figures.iter().all(|figure| *figure == figures[0]).then(|| figures[0])
}

/// The lists of a line that differ by size, for a line each: index of the size and its list.
/// Sizes with the same list stand together.
fn lists_by_size(line: &Line) -> Vec<(Vec<usize>, &str)> {
    let mut all: Vec<(Vec<usize>, &str)> = Vec::new();
    for token in &line.tokens {
        let Token::List(lists) = token else { continue };
        let lists = by_size(lists);
        if one_for_all(&lists).is_some() {
            continue;
        }
        for (i, list) in lists.into_iter().enumerate() {
            match all.iter_mut().find(|(_, known)| *known == list) {
                Some((sizes, _)) => sizes.push(i),
                None => all.push((vec![i], list)),
            }
        }
    }
    all
}

/// "47", or "39 (43, 47)" where sizes differ.
fn bracketed(figures: &[&str]) -> String {
    let (first, rest) = (figures[0], &figures[1..]);
    if one_for_all(figures).is_some() {
        return first.to_owned();
    }
    format!("{first} ({})", rest.join(", "))
}

/// The whole pattern as text for a page of `WIDTH` characters; markdown where `markdown`.
pub fn pattern_text(run: &SizeRun, unit: LengthUnit, markdown: bool) -> String {
    let mut page = Page { text: String::new(), markdown };
    let groups = groups(run, unit);
    for (i, group) in groups.iter().enumerate() {
        if i > 0 {
            page.blank();
            page.blank();
        }
        page.heading(1, &title(run, group));
        front_matter(&mut page, run, group, unit);
        let labels: Vec<&str> = group.sizes.iter().map(|(s, _)| s.body.label.as_str()).collect();
        for chapter in &group.chapters {
            page.heading(2, &chapter.title);
            write_lines(&mut page, &chapter.lines, &labels);
        }
    }
    page.text
}

fn title(run: &SizeRun, group: &Group<'_>) -> String {
    let labels: Vec<&str> = group.sizes.iter().map(|(s, _)| s.body.label.as_str()).collect();
    let pair = if run.garment.pair { " (a pair)" } else { "" };
    let (first, _) = group.sizes[0];
    let whose = if first.is_person { "for" } else { "size" };
    format!("{}{pair}, {whose} {}", run.garment.title, bracketed(&labels))
}

fn front_matter(page: &mut Page, run: &SizeRun, group: &Group<'_>, unit: LengthUnit) {
    let across = |of: &dyn Fn(&SizeResult, &Made) -> String| -> String {
        let figures: Vec<String> = group.sizes.iter().map(|(s, m)| of(s, m)).collect();
        bracketed(&figures.iter().map(String::as_str).collect::<Vec<_>>())
    };
    if group.sizes.len() > 1 {
        page.paragraph(
            "Figures for the first size stand before the bracket, those for the others inside it, in \
             order. One figure alone is for all sizes.",
        );
    }
    page.heading(2, "Finished sizes");
    let (_, first) = group.sizes[0];
    if let Some(measure) = run.garment.measure {
        let mm = across(&|s, _| s.body.mm(measure).map_or_else(String::new, |mm| unit.cell(mm)));
        page.item(&format!("For a {} of {mm} {}", measure.label().to_lowercase(), unit.symbol()));
    }
    for (i, finished) in first.graded.finished.iter().enumerate() {
        let mm =
            across(&|_, m| m.graded.finished.get(i).map_or_else(String::new, |f| unit.cell(f.mm)));
        page.item(&format!("{}: {mm} {}", finished.title, unit.symbol()));
    }
    page.heading(2, "What you need");
    let machine = &run.machine;
    page.item(&format!(
        "Machine: {} ({} needles{})",
        machine.title,
        machine.needles,
        if machine.ribber { ", with ribber" } else { ", no ribber" }
    ));
    for (i, section) in first.graded.yarn.sections.iter().enumerate() {
        let of = |f: &dyn Fn(&crate::knit::yarn::SectionYarn) -> String| {
            across(&|_, m| m.graded.yarn.sections.get(i).map_or_else(String::new, f))
        };
        page.item(&format!(
            "Yarn, {}: {} g, {} {}",
            run.garment.section_title(&section.name).to_lowercase(),
            of(&|s| format!("{:.0}", s.grams)),
            of(&|s| format!("{:.0}", unit.long(s.metres))),
            unit.long_symbol(),
        ));
    }
    let yarn_g = across(&|_, m| format!("{:.0}", m.graded.yarn.grams));
    let high_g = across(&|_, m| format!("{:.0}", m.graded.yarn.grams_high.ceil()));
    page.item(&format!(
        "In all{} {yarn_g} g of {}, {:.0} {}/100 g. To be safe have {high_g} g ({}).",
        if run.garment.pair { ", for the pair," } else { "" },
        run.swatches.yarn_name,
        unit.long(run.swatches.yarn.metres_per_100_g()),
        unit.long_symbol(),
        first.graded.yarn.basis.words()
    ));
    let waste = across(&|_, m| format!("{:.0}", unit.long(m.graded.yarn.waste_metres)));
    page.item(&format!("Waste yarn of the same thickness: {waste} {}", unit.long_symbol()));
    let (over, over_mm) = unit.gauge_over();
    for gauge in run.used_gauges() {
        let dial = gauge.dial.map_or(String::new(), |d| format!(", dial {d} on the swatch"));
        let state = gauge.measured.map_or("ESTIMATED from the plain swatch", |s| s.name());
        page.item(&format!(
            "Gauge, {}: {:.1} stitches and {:.1} rows to {over} ({state}{dial})",
            gauge.structure,
            gauge.stitches.per_ten.per_mm() * over_mm,
            gauge.rows.per_ten.per_mm() * over_mm
        ));
    }
    let minutes = across(&|_, m| format!("{:.0}", (m.graded.minutes / 5.0).round() * 5.0));
    page.item(&format!("About {minutes} minutes (rough)"));
    page.heading(2, "Words used");
    page.paragraph(
        "RC: row counter. COL, COR: carriage on the left, on the right, before the step is done. L1, \
         L2... and R1, R2...: needles left and right of the bed's centre. Non-working, working, upper \
         working, holding: the four needle positions. Held needles keep their loops and do not knit \
         while the hold lever is on; those put back to upper working position knit with the next row. \
         Waste rows are not counted.",
    );
    let mut cautions: Vec<String> = Vec::new();
    for (size, made) in &group.sizes {
        for caution in &made.cautions {
            if !cautions.contains(caution) {
                cautions.push(caution.clone());
            }
        }
        for diagnostic in made.diagnostics.iter() {
            let diagnostic = capital(&diagnostic.to_string());
            let text = match group.sizes.len() {
                1 => diagnostic,
                _ => format!("Size {}: {diagnostic}", size.body.label),
            };
            cautions.push(text);
        }
    }
    if !cautions.is_empty() {
        page.heading(2, "Take care");
        for caution in cautions {
            page.item(&caution);
        }
    }
}

fn write_lines(page: &mut Page, lines: &[Line], labels: &[&str]) {
    let mut counts = [0usize; 8];
    for line in lines {
        let depth = line.depth.min(counts.len() - 1);
        let label = if line.numbered {
            counts[depth] += 1;
            for deeper in &mut counts[depth + 1..] {
                *deeper = 0;
            }
            label(depth, counts[depth])
        } else {
            String::new()
        };
        page.step(depth, &label, &shown(line));
        for (sizes, list) in lists_by_size(line) {
            let sizes: Vec<&str> = sizes.into_iter().map(|i| labels[i]).collect();
            page.step(depth + 1, "", &format!("{}: {list}", sizes.join(", ")));
        }
    }
}

/// 1. then a. then i. then 1) for the depths.
fn label(depth: usize, nth: usize) -> String {
    const ROMAN: [&str; 12] =
        ["i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x", "xi", "xii"];
    match depth {
        0 => format!("{nth}."),
        1 if nth <= 26 => format!("{}.", (b'a' + nth as u8 - 1) as char),
        2 if nth <= ROMAN.len() => format!("{}.", ROMAN[nth - 1]),
        _ => format!("{nth})"),
    }
}

struct Page {
    text: String,
    markdown: bool,
}

impl Page {
    fn blank(&mut self) {
        self.text.push('\n');
    }

    fn heading(&mut self, level: usize, title: &str) {
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

    fn paragraph(&mut self, text: &str) {
        self.wrapped("", "", text);
        self.blank();
    }

    fn item(&mut self, text: &str) {
        self.wrapped("- ", "  ", text);
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

/// The pattern as data: per group of sizes the chapters, each line with its figures by size.
pub fn pattern_json(run: &SizeRun, unit: LengthUnit) -> String {
    let document: Vec<_> = groups(run, unit)
        .iter()
        .map(|group| {
            json!({
                "garment": run.garment.id,
                "sizes": group.sizes.iter().map(|(s, _)| s.body.id.to_string()).collect::<Vec<_>>(),
                "chapters": group.chapters.iter().map(|chapter| json!({
                    "title": chapter.title,
                    "lines": chapter.lines.iter().map(|line| json!({
                        "depth": line.depth,
                        "numbered": line.numbered,
                        "text": shown(line),
                        "figures": line.tokens.iter().filter_map(|t| match t {
                            Token::Figure(f) | Token::List(f) => Some(by_size(f)),
                            Token::Word(_) => None,
                        }).collect::<Vec<_>>(),
                    })).collect::<Vec<_>>(),
                })).collect::<Vec<_>>(),
            })
        })
        .collect();
    let mut text = serde_json::to_string_pretty(&document).expect("plain data");
    text.push('\n');
    text
}
