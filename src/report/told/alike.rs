//! Sizes whose patterns read alike but for their figures, joined into one.

use super::by_size::BySize;
use crate::instructions::{Chapter, Count, Instruction, Telling, Token, chapters};
use knit::body::Body;
use knit::grade::Finished;
use knit::size_run::{Made, SizeResult, SizeRun};
use knit::yarn::SectionYarn;
use serde_json::Value;
use units::LengthUnit;

/// Sizes whose patterns read alike but for their figures.
pub(crate) struct AlikeSizes<'a> {
    pub sizes: BySize<'a, (&'a SizeResult, &'a Made)>,
    pub chapters: Vec<ToldChapter<'a>>,
    /// Measure by measure.
    pub finished: Vec<BySize<'a, &'a Finished>>,
    /// Section by section.
    pub sections: Vec<BySize<'a, &'a SectionYarn>>,
}

/// A piece, or the finishing, for several sizes.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct ToldChapter<'a> {
    pub title: String,
    /// The names of the pieces it stands for.
    pub pieces: BySize<'a, Vec<String>>,
    pub lines: Vec<ToldInstruction<'a>>,
}

/// An instruction for several sizes.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct ToldInstruction<'a> {
    /// Those that have it; all of them unless it stands in a pattern for a class.
    pub sizes: BySize<'a, ()>,
    pub depth: usize,
    pub numbered: bool,
    /// How many tokens at the front say where the row counter and the carriage should be.
    pub lead: usize,
    /// How often what follows is repeated; `None`: not a repeat.
    pub times: Option<BySize<'a, u32>>,
    pub tokens: Vec<ToldToken<'a>>,
    /// The step as data, where the line is one for every size.
    pub step: Option<BySize<'a, Value>>,
    /// The line in full, where it may be told size by size.
    whole: Option<BySize<'a, String>>,
}

/// Wording that the sizes share, or what may differ between them.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ToldToken<'a> {
    Word(String),
    Figure(BySize<'a, String>),
    List(BySize<'a, String>),
    /// Figures with their noun.
    Count(BySize<'a, Count>),
}

/// The sizes that can be knitted, in order, next to each other where they read alike.
pub(crate) fn groups(run: &SizeRun, unit: LengthUnit, telling: Telling) -> Vec<AlikeSizes<'_>> {
    groups_from(run, unit, telling, (0, 0))
}

/// Each size by itself.
pub(crate) fn groups_apart(run: &SizeRun, unit: LengthUnit) -> Vec<AlikeSizes<'_>> {
    let all = run.good().map(|(size, made)| {
        AlikeSizes::of(size, made, &chapters_of(run, made, unit, Telling::Folded, (0, 0)))
    });
    all.collect()
}

/// For a sheet of many sizes: what reads alike is told once wherever its sizes are in the run, in its order,
/// and a line that some of them have is told as theirs.
pub(crate) fn groups_for_class(run: &SizeRun, unit: LengthUnit) -> Vec<AlikeSizes<'_>> {
    let mut groups: Vec<AlikeSizes<'_>> = Vec::new();
    for (size, made) in run.good() {
        let own = chapters_of(run, made, unit, Telling::Folded, (0, 0));
        let joined = groups
            .iter_mut()
            .find_map(|group| group.merged_with(size, made, &own).map(|joined| *group = joined));
        if joined.is_none() {
            groups.push(AlikeSizes::of(size, made, &own));
        }
    }
    groups
}

fn chapters_of(
    run: &SizeRun,
    made: &Made,
    unit: LengthUnit,
    telling: Telling,
    from: (usize, usize),
) -> Vec<Chapter> {
    chapters(&made.garment, &made.graded.run, &run.gauges, unit, telling, from)
}

/// The same from a piece on of which so many steps are done.
pub(crate) fn groups_from(
    run: &SizeRun,
    unit: LengthUnit,
    telling: Telling,
    from: (usize, usize),
) -> Vec<AlikeSizes<'_>> {
    let mut groups: Vec<AlikeSizes<'_>> = Vec::new();
    for (size, made) in run.good() {
        let own = chapters_of(run, made, unit, telling, from);
        match groups.last_mut().and_then(|group| group.with(size, made, &own)) {
            Some(joined) => {
                groups.pop();
                groups.push(joined);
            }
            None => groups.push(AlikeSizes::of(size, made, &own)),
        }
    }
    groups
}

impl<'a> AlikeSizes<'a> {
    fn of(size: &'a SizeResult, made: &'a Made, own: &[Chapter]) -> Self {
        let body = &size.body;
        AlikeSizes {
            sizes: BySize::new(body, (size, made)),
            chapters: own.iter().map(|chapter| ToldChapter::of(chapter, body)).collect(),
            finished: made.graded.finished.iter().map(|f| BySize::new(body, f)).collect(),
            sections: made.graded.yarn.sections.iter().map(|s| BySize::new(body, s)).collect(),
        }
    }

    /// The same with one more size. `None` where that one is not like them: in its wording, in what
    /// is measured of it, or in its sections of yarn.
    fn with(&self, size: &'a SizeResult, made: &'a Made, own: &[Chapter]) -> Option<Self> {
        let body = &size.body;
        let finished = each_with(&self.finished, &made.graded.finished, |all, f| {
            (all.first().name == f.name).then(|| all.clone().and(body, f))
        })?;
        let sections = each_with(&self.sections, &made.graded.yarn.sections, |all, s| {
            (all.first().name == s.name).then(|| all.clone().and(body, s))
        })?;
        let chapters = each_with(&self.chapters, own, |all, own| all.with(own, body))?;
        let sizes = self.sizes.clone().and(body, (size, made));
        Some(AlikeSizes { sizes, chapters, finished, sections })
    }

    /// What people call the sizes, in order.
    pub fn labels(&self) -> BySize<'a, &'a str> {
        self.sizes.map(|(size, _)| size.body.label.as_str())
    }
}

/// Two lists joined entry by entry. `None` where one is longer, or where two entries don't join:
/// nothing is left out in silence.
fn each_with<'l, 'o, A, B, C>(
    all: &'l [A],
    own: &'o [B],
    join: impl Fn(&'l A, &'o B) -> Option<C>,
) -> Option<Vec<C>> {
    if all.len() != own.len() {
        return None;
    }
    all.iter().zip(own).map(|(all, own)| join(all, own)).collect()
}

impl<'a> ToldChapter<'a> {
    pub(super) fn of(own: &Chapter, body: &'a Body) -> Self {
        let lines = own.lines.iter().map(|line| ToldInstruction::of(line, body)).collect();
        let pieces = BySize::new(body, own.pieces.0.clone());
        ToldChapter { title: own.title.clone(), pieces, lines }
    }

    fn with(&self, own: &Chapter, body: &'a Body) -> Option<Self> {
        if self.title != own.title {
            return None;
        }
        let lines = each_with(&self.lines, &own.lines, |all, own| all.with(own, body))?;
        let pieces = self.pieces.clone().and(body, own.pieces.0.clone());
        Some(ToldChapter { title: self.title.clone(), pieces, lines })
    }
}

impl<'a> ToldInstruction<'a> {
    pub(super) fn of(own: &Instruction, body: &'a Body) -> Self {
        ToldInstruction {
            sizes: BySize::new(body, ()),
            depth: own.depth,
            numbered: own.numbered,
            lead: own.lead,
            times: own.times.map(|times| BySize::new(body, times)),
            tokens: own.tokens.iter().map(|token| ToldToken::of(token, body)).collect(),
            step: own.step.0.as_ref().map(|step| BySize::new(body, step.clone())),
            whole: own.by_size.then(|| BySize::new(body, own.text())),
        }
    }

    /// How many figures one more size has as they are told of others. `None` where its line is not like
    /// theirs.
    pub(super) fn same_figures(&self, own: &Instruction) -> Option<u32> {
        let told = (self.depth, self.numbered, self.lead, self.whole.is_some());
        let own_told = (own.depth, own.numbered, own.lead, own.by_size);
        if told != own_told || self.times.is_some() != own.times.is_some() {
            return None;
        }
        let like = self.tokens.len() == own.tokens.len()
            && self.tokens.iter().zip(&own.tokens).all(|(all, own)| all.is_like(own));
        if !like {
            // Where the row counter stands may be told in two ways: then each size has its own line.
            return self.whole.as_ref().map(|_| 0);
        }
        let same = self.tokens.iter().zip(&own.tokens).filter(|(all, own)| all.tells(own));
        Some(u32::try_from(same.count()).unwrap_or(u32::MAX))
    }

    pub(super) fn with(&self, own: &Instruction, body: &'a Body) -> Option<Self> {
        self.same_figures(own)?;
        let times = match (&self.times, own.times) {
            (Some(all), Some(own)) => Some(all.clone().and(body, own)),
            _ => None,
        };
        let whole = self.whole.as_ref().map(|whole| whole.clone().and(body, own.text()));
        let tokens = each_with(&self.tokens, &own.tokens, |all, own| all.with(own, body));
        let apart = |whole: &BySize<'a, String>| {
            vec![ToldToken::Word(EACH_ROUND.to_owned()), ToldToken::List(whole.clone())]
        };
        let tokens = tokens.or_else(|| whole.as_ref().map(apart))?;
        let step = match (&self.step, &own.step.0) {
            (Some(all), Some(own)) => Some(all.clone().and(body, own.clone())),
            _ => None,
        };
        let sizes = self.sizes.clone().and(body, ());
        Some(ToldInstruction { sizes, times, tokens, step, whole, ..*self })
    }
}

const EACH_ROUND: &str = "After each round: ";

impl<'a> ToldToken<'a> {
    fn of(own: &Token, body: &'a Body) -> Self {
        match own {
            Token::Word(text) => ToldToken::Word(text.clone()),
            Token::Figure(text) => ToldToken::Figure(BySize::new(body, text.clone())),
            Token::List(text) => ToldToken::List(BySize::new(body, text.clone())),
            Token::Count(count) => ToldToken::Count(BySize::new(body, count.clone())),
        }
    }

    /// Whether one more size can be told with them.
    fn is_like(&self, own: &Token) -> bool {
        match (self, own) {
            (ToldToken::Word(all), Token::Word(own)) => all == own,
            (ToldToken::Figure(_), Token::Figure(_)) => true,
            (ToldToken::Count(all), Token::Count(own)) => all.values().all(|one| one.alike(own)),
            // What is the same in all rounds for one size may take turns for another.
            (ToldToken::List(_), Token::List(_) | Token::Count(_))
            | (ToldToken::Count(_), Token::List(_)) => true,
            _ => false,
        }
    }

    /// Whether it is a figure of theirs too.
    fn tells(&self, own: &Token) -> bool {
        match (self, own) {
            (ToldToken::Figure(all), Token::Figure(own))
            | (ToldToken::List(all), Token::List(own)) => all.values().any(|one| one == own),
            (ToldToken::Count(all), Token::Count(own)) => all.values().any(|one| one == own),
            _ => false,
        }
    }

    fn with(&self, own: &Token, body: &'a Body) -> Option<Self> {
        if !self.is_like(own) {
            return None;
        }
        Some(match (self, own) {
            (ToldToken::Figure(all), Token::Figure(own)) => {
                ToldToken::Figure(all.clone().and(body, own.clone()))
            }
            (ToldToken::List(all), Token::List(own)) => {
                ToldToken::List(all.clone().and(body, own.clone()))
            }
            (ToldToken::Count(all), Token::Count(own)) => {
                ToldToken::Count(all.clone().and(body, own.clone()))
            }
            (ToldToken::Count(all), Token::List(own)) => {
                ToldToken::List(all.map(Count::text).and(body, own.clone()))
            }
            (ToldToken::List(all), Token::Count(own)) => {
                ToldToken::List(all.clone().and(body, own.text()))
            }
            _ => self.clone(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instructions::PieceNames;

    fn body(label: &str) -> Body {
        let id = label.parse().expect("an id");
        Body { id, label: label.to_owned(), values: std::collections::BTreeMap::new() }
    }

    fn chapter(lines: Vec<Instruction>) -> Chapter {
        Chapter { title: "Crown".to_owned(), pieces: PieceNames::default(), lines }
    }

    fn knit(rows: u32) -> Instruction {
        Instruction::new(0, true).word("Knit ").figure(rows).word(" rows.")
    }

    #[test]
    fn each_figure_is_told_with_its_owner() {
        let (small, large) = (body("y4"), body("men-l"));
        let told = ToldChapter::of(&chapter(vec![knit(20)]), &small);
        let told = told.with(&chapter(vec![knit(34)]), &large).expect("alike");
        let ToldToken::Figure(figures) = &told.lines[0].tokens[1] else { panic!("{told:?}") };
        let owners: Vec<(&str, &str)> =
            figures.iter().map(|(body, text)| (body.label.as_str(), text.as_str())).collect();
        assert_eq!(owners, [("y4", "20"), ("men-l", "34")]);
        assert_eq!(figures.bracketed(String::clone), "20 (34)");
    }

    #[test]
    fn what_is_shaped_otherwise_is_not_joined() {
        let (small, large) = (body("y4"), body("men-l"));
        let told = ToldChapter::of(&chapter(vec![knit(20), knit(4)]), &small);
        let repeat = Instruction { times: Some(3), ..knit(4) };
        let listed = Instruction::new(0, true).word("Knit ").list(&["4".into()]).word(" rows.");
        let longer = knit(4).word(" Turn.");
        for (what, lines) in [
            ("a line less", vec![knit(20)]),
            ("a line more", vec![knit(20), knit(4), knit(4)]),
            ("a repeat", vec![knit(20), repeat]),
            ("a list for a figure", vec![knit(20), listed]),
            ("a token more", vec![knit(20), longer]),
            ("another depth", vec![knit(20), Instruction { depth: 1, ..knit(4) }]),
            ("a lead", vec![knit(20), Instruction { lead: 1, ..knit(4) }]),
        ] {
            assert_eq!(told.with(&chapter(lines), &large), None, "{what}");
        }
        let other = Chapter { title: "Band".to_owned(), ..chapter(vec![knit(20), knit(4)]) };
        assert_eq!(told.with(&other, &large), None, "another title");
        assert!(told.with(&chapter(vec![knit(20), knit(4)]), &large).is_some());
    }
}
