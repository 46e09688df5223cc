//! The pattern in words, before it is laid out: what the text, the data and the printed sheet all
//! read. Sizes that read alike but for their figures are told together, the figures in brackets.

use super::grid::capital;
use super::instructions::{Chapter, Line, Token, chapters};
use knit::size_run::{Made, SizeResult, SizeRun};
use knit::swatch::Gauge;
use knit::yarn::SectionYarn;
use units::LengthUnit;

/// Sizes whose patterns read alike but for their figures.
pub(super) struct Group<'a> {
    pub sizes: Vec<(&'a SizeResult, &'a Made)>,
    pub chapters: Vec<Chapter>,
}

/// The sizes that can be knitted, in order, next to each other where they read alike.
pub(super) fn groups(run: &SizeRun, unit: LengthUnit) -> Vec<Group<'_>> {
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
    if a.depth != b.depth
        || a.numbered != b.numbered
        || a.lead != b.lead
        || a.times.is_empty() != b.times.is_empty()
        || a.tokens.len() != b.tokens.len()
    {
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
    let times = a.times.iter().chain(&b.times).copied().collect();
    Some(Line { times, tokens: tokens?, ..*a })
}

/// The line in full.
pub(super) fn shown(line: &Line) -> String {
    words(&line.tokens)
}

fn words(tokens: &[Token]) -> String {
    tokens
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

pub(super) fn by_size(figures: &str) -> Vec<&str> {
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

/// One line of a pattern, ready to be set.
pub(super) struct Step {
    pub depth: usize,
    /// "1.", "a."; empty for a remark on what stands before it.
    pub label: String,
    /// Where row counter and carriage should be: "RC 034 COR: ", or nothing.
    pub lead: String,
    pub text: String,
    /// How often what follows is repeated, by size; empty where nothing is.
    pub times: Vec<u32>,
    /// Lists that differ by size, each with its sizes before it.
    pub lists: Vec<String>,
}

/// A chapter's lines with their numbers and letters.
pub(super) fn steps(chapter: &Chapter, labels: &[&str]) -> Vec<Step> {
    let mut counts = [0usize; 8];
    let mut steps = Vec::new();
    for line in &chapter.lines {
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
        let lists = lists_by_size(line)
            .into_iter()
            .map(|(sizes, list)| {
                let sizes: Vec<&str> = sizes.into_iter().map(|i| labels[i]).collect();
                format!("{}: {list}", sizes.join(", "))
            })
            .collect();
        let (lead, text) = line.tokens.split_at(line.lead);
        let (lead, text) = (words(lead), words(text));
        steps.push(Step { depth, label, lead, text, times: line.times.clone(), lists });
    }
    steps
}

pub(super) fn labels<'a>(group: &Group<'a>) -> Vec<&'a str> {
    group.sizes.iter().map(|(s, _)| s.body.label.as_str()).collect()
}

pub(super) fn title(run: &SizeRun, group: &Group<'_>) -> String {
    let pair = if run.garment.pair { " (a pair)" } else { "" };
    let (first, _) = group.sizes[0];
    let whose = if first.is_person { "for" } else { "size" };
    format!("{}{pair}, {whose} {}", run.garment.title, bracketed(&labels(group)))
}

/// What stands before the instructions. A line each, unless it says otherwise.
pub(super) struct Front {
    /// How to read the brackets, where there are several sizes.
    pub brackets: Option<&'static str>,
    pub finished: Vec<String>,
    pub machine: String,
    /// By section.
    pub yarn: Vec<String>,
    pub yarn_in_all: String,
    pub waste: String,
    pub gauges: Vec<String>,
    pub time: String,
    /// A paragraph.
    pub words_used: &'static str,
    pub care: Vec<String>,
}

pub(super) fn front(run: &SizeRun, group: &Group<'_>, unit: LengthUnit) -> Front {
    let across = |of: &dyn Fn(&SizeResult, &Made) -> String| -> String {
        let figures: Vec<String> = group.sizes.iter().map(|(s, m)| of(s, m)).collect();
        bracketed(&figures.iter().map(String::as_str).collect::<Vec<_>>())
    };
    let (_, first) = group.sizes[0];
    let mut finished = Vec::new();
    if let Some(measure) = run.garment.measure {
        let mm = across(&|s, _| s.body.mm(measure).map_or_else(String::new, |mm| unit.cell(mm)));
        let label = measure.label().to_lowercase();
        finished.push(format!("For a {label} of {mm} {}", unit.symbol()));
    }
    for (i, of) in first.graded.finished.iter().enumerate() {
        let mm =
            across(&|_, m| m.graded.finished.get(i).map_or_else(String::new, |f| unit.cell(f.mm)));
        finished.push(format!("{}: {mm} {}", of.title, unit.symbol()));
    }
    let section = |(i, section): (usize, &SectionYarn)| {
        let of = |f: &dyn Fn(&SectionYarn) -> String| {
            across(&|_, m| m.graded.yarn.sections.get(i).map_or_else(String::new, f))
        };
        format!(
            "Yarn, {}: {} g, {} {}",
            run.garment.section_title(&section.name).to_lowercase(),
            of(&|s| format!("{:.0}", s.grams)),
            of(&|s| format!("{:.0}", unit.long(s.metres))),
            unit.long_symbol(),
        )
    };
    let machine = &run.machine;
    let yarn_g = across(&|_, m| format!("{:.0}", m.graded.yarn.grams));
    let high_g = across(&|_, m| format!("{:.0}", m.graded.yarn.grams_high.ceil()));
    let waste = across(&|_, m| format!("{:.0}", unit.long(m.graded.yarn.waste_metres)));
    let minutes = across(&|_, m| format!("{:.0}", (m.graded.minutes / 5.0).round() * 5.0));
    Front {
        brackets: (group.sizes.len() > 1).then_some(
            "Figures for the first size stand before the bracket, those for the others inside it, in \
             order. One figure alone is for all sizes.",
        ),
        finished,
        machine: format!(
            "Machine: {} ({} needles{})",
            machine.title,
            machine.needles,
            if machine.ribber { ", with ribber" } else { ", no ribber" }
        ),
        yarn: first.graded.yarn.sections.iter().enumerate().map(section).collect(),
        yarn_in_all: format!(
            "In all{} {yarn_g} g of {}, {:.0} {}/100 g. To be safe have {high_g} g ({}).",
            if run.garment.pair { ", for the pair," } else { "" },
            run.swatches.yarn_name,
            unit.long(run.swatches.yarn.metres_per_100_g()),
            unit.long_symbol(),
            first.graded.yarn.basis.words()
        ),
        waste: format!("Waste yarn of the same thickness: {waste} {}", unit.long_symbol()),
        gauges: run.used_gauges().map(|gauge| gauge_line(gauge, unit)).collect(),
        time: format!("About {minutes} minutes (rough)"),
        words_used: "RC: row counter. COL, COR: carriage on the left, on the right, before the step is \
             done. L1, L2... and R1, R2...: needles left and right of the bed's centre. Non-working, \
             working, upper working, holding: the four needle positions. Held needles keep their \
             loops and do not knit while the hold lever is on; those put back to upper working \
             position knit with the next row. Waste rows are not counted.",
        care: care(group),
    }
}

fn gauge_line(gauge: &Gauge, unit: LengthUnit) -> String {
    let (over, over_mm) = unit.gauge_over();
    let dial = gauge.dial.map_or(String::new(), |d| format!(", dial {d} on the swatch"));
    let state = gauge.measured.map_or("ESTIMATED from the plain swatch", |s| s.name());
    format!(
        "Gauge, {}: {:.1} stitches and {:.1} rows to {over} ({state}{dial})",
        gauge.structure,
        gauge.stitches.per_ten.per_mm() * over_mm,
        gauge.rows.per_ten.per_mm() * over_mm
    )
}

/// What could hurt someone, each once; then what the engine warns of, with its size.
fn care(group: &Group<'_>) -> Vec<String> {
    let mut cautions: Vec<String> = Vec::new();
    for (size, made) in &group.sizes {
        for caution in &made.cautions {
            if !cautions.contains(caution) {
                cautions.push(caution.clone());
            }
        }
        for diagnostic in made.diagnostics.iter() {
            let diagnostic = capital(&diagnostic.to_string());
            cautions.push(match group.sizes.len() {
                1 => diagnostic,
                _ => format!("Size {}: {diagnostic}", size.body.label),
            });
        }
    }
    cautions
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
