//! Sizes told together where some have steps that others don't: a wedge more, a repeat of their own. Each
//! line knows whose it is, and no size loses a line or the order of its lines.

use super::alike::{AlikeSizes, ToldChapter, ToldInstruction};
use super::by_size::BySize;
use crate::instructions::{Chapter, Instruction};
use knit::body::Body;
use knit::size_run::{Made, SizeResult};

/// What two lines count for where they are told as one; figures that are the same count beside it, so that of
/// two lines with the same words the nearer one is taken.
const LINE: u32 = 8;

/// Of the lines that a size brings, at least so many in a hundred are told already: with fewer it is quicker
/// read by itself.
const LEAST_SHARED: usize = 50;

/// A line with those inside it.
struct Tree<'l, L> {
    line: &'l L,
    below: Vec<Tree<'l, L>>,
}

impl<'l, L> Tree<'l, L> {
    fn of(lines: &'l [L], depth: fn(&L) -> usize) -> Vec<Tree<'l, L>> {
        let mut trees = Vec::new();
        let mut rest = lines;
        while let Some((line, after)) = rest.split_first() {
            let inside = after.iter().take_while(|other| depth(other) > depth(line)).count();
            let (below, next) = after.split_at(inside);
            trees.push(Tree { line, below: Tree::of(below, depth) });
            rest = next;
        }
        trees
    }

    fn lines(&self) -> Vec<&'l L> {
        let below = self.below.iter().flat_map(Tree::lines);
        std::iter::once(self.line).chain(below).collect()
    }
}

/// Which entries of two lists are told as one, in an order that is true to both.
struct Alignment {
    /// Places in the one list and in the other.
    pairs: Vec<(Option<usize>, Option<usize>)>,
    weight: u32,
}

impl Alignment {
    /// The heaviest one: `weigh` gives nothing for entries that can't be one.
    fn of<A, B>(all: &[A], own: &[B], weigh: impl Fn(&A, &B) -> Option<u32>) -> Alignment {
        let weights: Vec<Vec<Option<u32>>> =
            all.iter().map(|a| own.iter().map(|b| weigh(a, b)).collect()).collect();
        // best[i][j]: what is left from i and from j on.
        let mut best = vec![vec![0u32; own.len() + 1]; all.len() + 1];
        for i in (0..all.len()).rev() {
            for j in (0..own.len()).rev() {
                let both = weights[i][j].map_or(0, |weight| weight + best[i + 1][j + 1]);
                best[i][j] = both.max(best[i + 1][j]).max(best[i][j + 1]);
            }
        }
        let (mut i, mut j, mut pairs) = (0, 0, Vec::new());
        while i < all.len() && j < own.len() {
            if weights[i][j].is_some_and(|weight| weight + best[i + 1][j + 1] == best[i][j]) {
                pairs.push((Some(i), Some(j)));
                (i, j) = (i + 1, j + 1);
            } else if best[i + 1][j] == best[i][j] {
                pairs.push((Some(i), None));
                i += 1;
            } else {
                pairs.push((None, Some(j)));
                j += 1;
            }
        }
        pairs.extend((i..all.len()).map(|i| (Some(i), None)));
        pairs.extend((j..own.len()).map(|j| (None, Some(j))));
        Alignment { pairs, weight: best[0][0] }
    }
}

/// The lines of several sizes and of one more.
type Told<'l, 'a> = Tree<'l, ToldInstruction<'a>>;
type Own<'l> = Tree<'l, Instruction>;

fn aligned(all: &[Told<'_, '_>], own: &[Own<'_>]) -> Alignment {
    Alignment::of(all, own, |all, own| {
        let same = all.line.same_figures(own.line)?;
        Some(LINE + same.min(LINE - 1) + aligned(&all.below, &own.below).weight)
    })
}

/// Lines as they are told, and how many of the size's own were told before.
struct Merged<'a> {
    lines: Vec<ToldInstruction<'a>>,
    shared: usize,
}

impl<'a> Merged<'a> {
    fn of(all: &[Told<'_, 'a>], own: &[Own<'_>], body: &'a Body) -> Merged<'a> {
        let mut merged = Merged { lines: Vec::new(), shared: 0 };
        for pair in aligned(all, own).pairs {
            match pair {
                (Some(i), Some(j)) => merged.one(&all[i], &own[j], body),
                (Some(i), None) => merged.theirs(&all[i]),
                (None, Some(j)) => merged.own(&own[j], body),
                (None, None) => {}
            }
        }
        merged
    }

    fn theirs(&mut self, all: &Told<'_, 'a>) {
        self.lines.extend(all.lines().into_iter().cloned());
    }

    fn own(&mut self, own: &Own<'_>, body: &'a Body) {
        self.lines.extend(own.lines().into_iter().map(|line| ToldInstruction::of(line, body)));
    }

    fn one(&mut self, all: &Told<'_, 'a>, own: &Own<'_>, body: &'a Body) {
        // What is weighed can be joined.
        let Some(line) = all.line.with(own.line, body) else {
            self.theirs(all);
            self.own(own, body);
            return;
        };
        self.lines.push(line);
        self.shared += 1;
        let below = Merged::of(&all.below, &own.below, body);
        self.lines.extend(below.lines);
        self.shared += below.shared;
    }
}

impl<'a> ToldChapter<'a> {
    /// The same with one more size, and how many of its lines were told before.
    fn merged_with(&self, own: &Chapter, body: &'a Body) -> (Self, usize) {
        let all = Tree::of(&self.lines, |line| line.depth);
        let merged = Merged::of(&all, &Tree::of(&own.lines, |line| line.depth), body);
        let pieces = self.pieces.clone().and(body, own.pieces.0.clone());
        (ToldChapter { title: self.title.clone(), pieces, lines: merged.lines }, merged.shared)
    }

    fn weight_with(&self, own: &Chapter) -> Option<u32> {
        let all = Tree::of(&self.lines, |line| line.depth);
        let lines = || aligned(&all, &Tree::of(&own.lines, |line| line.depth)).weight;
        (self.title == own.title).then(|| LINE + lines())
    }
}

impl<'a> AlikeSizes<'a> {
    /// The same with one more size, whose steps need not all be theirs. `None` where it has too little in
    /// common with them.
    pub(super) fn merged_with(
        &self,
        size: &'a SizeResult,
        made: &'a Made,
        own: &[Chapter],
    ) -> Option<Self> {
        let body = &size.body;
        let mut shared = 0;
        let mut chapters = Vec::new();
        let pairs = Alignment::of(&self.chapters, own, ToldChapter::weight_with).pairs;
        for pair in pairs {
            match pair {
                (Some(i), Some(j)) => {
                    let (chapter, lines) = self.chapters[i].merged_with(&own[j], body);
                    shared += lines;
                    chapters.push(chapter);
                }
                (Some(i), None) => chapters.push(self.chapters[i].clone()),
                (None, Some(j)) => chapters.push(ToldChapter::of(&own[j], body)),
                (None, None) => {}
            }
        }
        let lines: usize = own.iter().map(|chapter| chapter.lines.len()).sum();
        (shared * 100 >= lines * LEAST_SHARED).then(|| AlikeSizes {
            sizes: self.sizes.clone().and(body, (size, made)),
            chapters,
            finished: by_name(&self.finished, &made.graded.finished, body, |f| &f.name),
            sections: by_name(&self.sections, &made.graded.yarn.sections, body, |s| &s.name),
        })
    }
}

/// Each of a size's joins those of its name; one that none has is told of this size alone.
fn by_name<'a, T>(
    all: &[BySize<'a, &'a T>],
    own: &'a [T],
    body: &'a Body,
    name: fn(&T) -> &str,
) -> Vec<BySize<'a, &'a T>> {
    let mut all = all.to_vec();
    for one in own {
        match all.iter_mut().find(|told| name(told.first()) == name(one)) {
            Some(told) => *told = told.clone().and(body, one),
            None => all.push(BySize::new(body, one)),
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instructions::{Count, PieceNames, Token};
    use crate::told::ToldToken;

    fn body(label: &str) -> Body {
        let id = label.to_lowercase().parse().expect("an id");
        Body { id, label: label.to_owned(), values: std::collections::BTreeMap::new() }
    }

    fn chapter(lines: &[Instruction]) -> Chapter {
        let pieces = PieceNames::default();
        Chapter { title: "Crown".to_owned(), pieces, lines: lines.to_vec() }
    }

    fn knit(depth: usize, rows: u32) -> Instruction {
        let noun =
            Count { n: rows, one: "1 row".into(), before: String::new(), many: " rows".into() };
        let line = Instruction::new(depth, true).word("Knit ");
        Instruction {
            tokens: [line.tokens, vec![Token::Count(noun)]].concat(),
            ..Instruction::new(depth, true)
        }
    }

    fn again(times: u32) -> Instruction {
        let line =
            Instruction::new(0, true).word("Do this ").figure(format!("{times} times")).word(":");
        Instruction { times: Some(times), ..line }
    }

    fn wedge(depth: usize, needle: &str) -> Instruction {
        Instruction::new(depth, true).word("Hold ").figure(needle).word(".")
    }

    /// What a size reads of lines that are told of many.
    fn read(told: &ToldChapter<'_>, size: &Body) -> Vec<(usize, String)> {
        let own = told.lines.iter().filter(|line| line.sizes.of(size).is_some());
        let text = |token: &ToldToken<'_>| match token {
            ToldToken::Word(text) => text.clone(),
            ToldToken::Figure(all) | ToldToken::List(all) => all.of(size).expect("its own").clone(),
            ToldToken::Count(all) => all.of(size).expect("its own").text(),
        };
        own.map(|line| (line.depth, line.tokens.iter().map(text).collect())).collect()
    }

    #[test]
    fn each_size_reads_its_own_lines_in_their_order() {
        let sizes = ["A", "B", "C", "D"].map(body);
        let round = |times, needle| [again(times), wedge(1, needle), knit(1, 2)];
        let own: [Vec<Instruction>; 4] = [
            [&[knit(0, 4)][..], &round(3, "L5"), &[knit(0, 6)]].concat(),
            // A wedge of its own before the repeat, and none behind.
            [&[knit(0, 4), wedge(0, "L9"), knit(0, 1)][..], &round(2, "L9"), &[knit(0, 6)]]
                .concat(),
            // No repeat, and another end.
            vec![knit(0, 4), wedge(0, "L2"), knit(0, 8), wedge(0, "L1")],
            // More inside the repeat.
            [&[knit(0, 4)][..], &round(5, "L7"), &[wedge(1, "R7"), knit(1, 1), knit(0, 6)]]
                .concat(),
        ];
        let mut told = ToldChapter::of(&chapter(&own[0]), &sizes[0]);
        let mut shared = Vec::new();
        for (size, own) in sizes.iter().zip(&own).skip(1) {
            let (more, lines) = told.merged_with(&chapter(own), size);
            told = more;
            shared.push((lines, own.len()));
        }
        for (size, own) in sizes.iter().zip(&own) {
            let lines: Vec<(usize, String)> =
                own.iter().map(|line| (line.depth, line.text())).collect();
            assert_eq!(read(&told, size), lines, "{}", size.label);
        }
        assert_eq!(shared, [(5, 7), (3, 4), (5, 7)], "{told:?}");
        // All begin alike; what C has behind that it has in common with B's wedge, and the end is the others'.
        let whose =
            |count: usize| told.lines.iter().filter(move |line| line.sizes.bodies().len() == count);
        assert_eq!((whose(4).count(), whose(3).count()), (1, 4), "{told:?}");
        assert!(told.lines.len() < own.iter().map(Vec::len).sum::<usize>(), "{told:?}");
    }

    #[test]
    fn of_two_lines_with_the_same_words_the_nearer_one_is_taken() {
        let sizes = ["A", "B"].map(body);
        let told = ToldChapter::of(&chapter(&[knit(0, 2), knit(0, 8)]), &sizes[0]);
        let (told, _) = told.merged_with(&chapter(&[knit(0, 8)]), &sizes[1]);
        let whose: Vec<usize> = told.lines.iter().map(|line| line.sizes.bodies().len()).collect();
        assert_eq!(whose, [1, 2]);
    }

    #[test]
    fn a_line_inside_a_repeat_is_none_outside_it() {
        let sizes = ["A", "B"].map(body);
        let told = ToldChapter::of(&chapter(&[again(2), knit(1, 2)]), &sizes[0]);
        let (told, shared) = told.merged_with(&chapter(&[knit(0, 2)]), &sizes[1]);
        assert_eq!((told.lines.len(), shared), (3, 0));
    }
}
