//! The lines of a chapter with their numbers and letters, ready to be set.

use super::alike::{ToldChapter, ToldInstruction, ToldToken};
use super::by_size::BySize;
use super::figures::Figures;
use super::only::only;
use crate::instructions::Count;
use knit::body::Body;

/// One line of a pattern, ready to be set.
pub(crate) struct ToldStep {
    pub depth: usize,
    /// "1.", "a."; empty for a remark on what stands before it.
    pub label: String,
    /// "Sizes Women S to Women L only: " where others have no such step; nothing within a repeat of the same
    /// ones.
    pub only: String,
    /// Where row counter and carriage should be: "RC 034 COR: ", or nothing.
    pub lead: String,
    pub text: String,
    /// How often what follows is repeated, by size; empty where nothing is.
    pub times: Vec<u32>,
    /// Lists that differ by size, each with its sizes before it.
    pub lists: Vec<String>,
}

/// A chapter's lines with their numbers and letters.
pub(crate) fn steps<'a>(chapter: &ToldChapter<'a>, figures: &mut Figures<'a>) -> Vec<ToldStep> {
    let mut counts = [0usize; 8];
    let mut steps = Vec::new();
    let mut whose = Whose::of(chapter);
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
        let (lead, text) = line.tokens.split_at(line.lead);
        let (lead, text) = (words(lead, figures), words(text, figures));
        let times =
            line.times.as_ref().map_or_else(Vec::new, |times| times.values().copied().collect());
        steps.push(ToldStep {
            depth,
            label,
            only: whose.only(line),
            lead,
            text,
            times,
            lists: lists_by_size(line, figures),
        });
    }
    steps
}

/// Whose the lines are that a step stands in: of each its depth and its sizes.
struct Whose<'a> {
    all: Vec<&'a Body>,
    around: Vec<(usize, Vec<&'a Body>)>,
}

impl<'a> Whose<'a> {
    fn of(chapter: &ToldChapter<'a>) -> Self {
        Whose { all: chapter.pieces.bodies(), around: Vec::new() }
    }

    fn only(&mut self, line: &ToldInstruction<'a>) -> String {
        self.around.retain(|(depth, _)| *depth < line.depth);
        let own = line.sizes.bodies();
        let within = self.around.last().map_or(&self.all, |(_, sizes)| sizes);
        let told = if own.len() == within.len() { String::new() } else { only(&self.all, &own) };
        self.around.push((line.depth, own));
        told
    }
}

/// The line in full, for data.
pub(crate) fn shown(line: &ToldInstruction<'_>) -> String {
    words(&line.tokens, &mut Figures::Data)
}

const BELOW: &str = "(listed by size below)";

fn words<'a>(tokens: &[ToldToken<'a>], figures: &mut Figures<'a>) -> String {
    tokens
        .iter()
        .map(|token| match token {
            ToldToken::Word(text) => text.clone(),
            ToldToken::Figure(all) if figures.lists(all) => BELOW.to_owned(),
            ToldToken::Figure(all) => figures.told(all),
            ToldToken::Count(counts) => match apart(counts, figures) {
                Some(texts) if figures.lists(&texts) => BELOW.to_owned(),
                Some(texts) => figures.told(&texts),
                None => counted(counts, figures),
            },
            ToldToken::List(lists) => match lists.one_for_all() {
                Some(list) => list.clone(),
                None => BELOW.to_owned(),
            },
        })
        .collect()
}

/// The counts in full, where one of a column is single: "1 row to the left" and "2 rows" have no noun in common.
fn apart<'a>(counts: &BySize<'a, Count>, figures: &Figures<'a>) -> Option<BySize<'a, String>> {
    let single = counts.values().any(|count| count.n == 1) && counts.one_for_all().is_none();
    (single && figures.in_columns()).then(|| counts.map(Count::text))
}

/// "3 rows", or "2 (3, 4) rows".
fn counted<'a>(counts: &BySize<'a, Count>, figures: &mut Figures<'a>) -> String {
    match counts.one_for_all() {
        Some(one) => one.text(),
        None => {
            let Count { before, many, .. } = counts.first();
            format!("{before}{}{many}", figures.told(&counts.map(|count| count.n.to_string())))
        }
    }
}

/// The lists of a line that differ by size, a line each. Sizes with the same list stand together.
fn lists_by_size<'a>(line: &ToldInstruction<'a>, figures: &Figures<'a>) -> Vec<String> {
    let mut all: Vec<(Vec<&str>, String)> = Vec::new();
    for token in &line.tokens {
        let counts;
        let lists = match token {
            ToldToken::List(lists) => lists,
            ToldToken::Figure(all) if figures.lists(all) => all,
            ToldToken::Count(all) => match apart(all, figures) {
                Some(texts) if figures.lists(&texts) => {
                    counts = texts;
                    &counts
                }
                _ => continue,
            },
            _ => continue,
        };
        if lists.one_for_all().is_some() {
            continue;
        }
        for (body, list) in lists.iter() {
            match all.iter_mut().find(|(_, known)| known == list) {
                Some((sizes, _)) => sizes.push(&body.label),
                None => all.push((vec![&body.label], list.clone())),
            }
        }
    }
    all.into_iter().map(|(sizes, list)| format!("{}: {list}", sizes.join(", "))).collect()
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
