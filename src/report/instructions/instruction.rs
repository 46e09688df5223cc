//! Lines of instruction: words apart from the figures that may differ between sizes.

use serde_json::Value;

/// A piece of a line: wording, or a figure that may differ between sizes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Token {
    Word(String),
    Figure(String),
    /// Several figures in a row, such as row counters: with many sizes each gets a line.
    List(String),
    /// A figure with its noun.
    Count(Count),
}

/// So many of something: "the end needle", "the 3 end needles".
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Count {
    pub n: u32,
    /// All of it, where it is one.
    pub one: String,
    /// What stands before a figure above one.
    pub before: String,
    /// What stands behind it.
    pub many: String,
}

impl Count {
    /// Whether two sizes have the same noun. One may be "1 row to the left" and another "2 rows";
    /// "1 row to the right" is another matter.
    pub(crate) fn alike(&self, other: &Count) -> bool {
        let nouns = (&self.before, &self.many) == (&other.before, &other.many);
        nouns && (self.n != 1 || other.n != 1 || self.one == other.one)
    }

    pub(crate) fn text(&self) -> String {
        if self.n == 1 {
            return self.one.clone();
        }
        format!("{}{}{}", self.before, self.n, self.many)
    }
}

/// One instruction, `depth` steps in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Instruction {
    pub depth: usize,
    /// Whether it gets a number or letter of its own.
    pub numbered: bool,
    /// How many tokens at the front say where the row counter and the carriage should be.
    pub lead: usize,
    /// How often what follows is repeated; `None`: not a repeat.
    pub times: Option<u32>,
    pub tokens: Vec<Token>,
    /// The step as data, where the line is one.
    pub step: StepData,
    /// Whether sizes that say it in other words may each have it to themselves.
    pub by_size: bool,
}

/// A step as data. To a knitter lines are alike that read alike: data makes no difference.
#[derive(Clone, Debug, Default)]
pub struct StepData(pub Option<Value>);

impl PartialEq for StepData {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Eq for StepData {}

/// The pieces a chapter stands for, by name. To a knitter chapters are alike that read alike.
#[derive(Clone, Debug, Default)]
pub struct PieceNames(pub Vec<String>);

impl PartialEq for PieceNames {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Eq for PieceNames {}

/// A piece, or the finishing, as text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chapter {
    pub title: String,
    /// Of the finishing none.
    pub pieces: PieceNames,
    pub lines: Vec<Instruction>,
}

impl Instruction {
    pub(crate) fn new(depth: usize, numbered: bool) -> Self {
        Instruction {
            depth,
            numbered,
            lead: 0,
            times: None,
            tokens: Vec::new(),
            step: StepData::default(),
            by_size: false,
        }
    }

    pub(crate) fn word(mut self, text: impl Into<String>) -> Self {
        let text = text.into();
        // The lead stays apart; else words that follow each other are one, however they came.
        match self.tokens[self.lead..].last_mut() {
            Some(Token::Word(before)) => before.push_str(&text),
            _ => self.tokens.push(Token::Word(text)),
        }
        self
    }

    pub(crate) fn list(mut self, items: &[String]) -> Self {
        self.tokens.push(Token::List(items.join(" ")));
        self
    }

    /// The line of one size as plain text.
    pub fn text(&self) -> String {
        self.tokens
            .iter()
            .map(|token| match token {
                Token::Word(text) | Token::Figure(text) | Token::List(text) => text.clone(),
                Token::Count(count) => count.text(),
            })
            .collect()
    }

    pub(super) fn count(mut self, count: Count) -> Self {
        self.tokens.push(Token::Count(count));
        self
    }

    pub(crate) fn figure(mut self, text: impl ToString) -> Self {
        self.tokens.push(Token::Figure(text.to_string()));
        self
    }

    pub(super) fn with_step(mut self, step: Value) -> Self {
        self.step = StepData(Some(step));
        self
    }

    pub(super) fn told_by_size(mut self) -> Self {
        self.by_size = true;
        self
    }

    /// What stands so far is the lead.
    pub(super) fn led(mut self) -> Self {
        self.lead = self.tokens.len();
        self
    }
}

/// A note in the script's words; its numbers, and needles such as R25, may differ from size to
/// size.
pub(super) fn note(mut line: Instruction, text: &str) -> Instruction {
    let mut rest = text;
    while let Some(digit) = rest.find(|c: char| c.is_ascii_digit()) {
        let named = rest[..digit].ends_with(['L', 'R'])
            && !rest[..digit - 1].ends_with(|c: char| c.is_alphanumeric());
        let start = if named { digit - 1 } else { digit };
        let end = rest[digit..]
            .char_indices()
            .find(|(i, c)| {
                let after = &rest[digit + i + 1..];
                let decimal = *c == '.' && after.starts_with(|c: char| c.is_ascii_digit());
                !c.is_ascii_digit() && !decimal
            })
            .map_or(rest.len(), |(i, _)| digit + i);
        line = line.word(&rest[..start]).figure(&rest[start..end]);
        rest = &rest[end..];
    }
    line.word(rest)
}
