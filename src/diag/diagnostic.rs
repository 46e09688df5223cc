use std::fmt;
use std::sync::Arc;

use crate::{Class, Code};

/// How bad it is. `Error` means the work could not be done as asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// It was done, and something about it should be known.
    Warning,
    /// It could not be done as asked.
    Error,
}

/// A spot in a text the user can open: 1-based line and column (columns count characters),
/// the line's own text and how many characters of it are meant.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// The file as it was named, or a word for a text that is no file.
    pub file: String,
    /// The line, from 1.
    pub line: usize,
    /// The column in characters, from 1.
    pub column: usize,
    /// The line's own text, without its end; no more of it than is worth showing.
    pub line_text: String,
    /// How many characters are meant, at least 1.
    pub length: usize,
}

impl Place {
    /// The place of the byte range `span` in `text`.
    pub fn from_span(file: &str, text: &str, span: std::ops::Range<usize>) -> Place {
        let start = floor_boundary(text, span.start);
        let end = floor_boundary(text, span.end).max(start);
        let before = &text[..start];
        let line_start = before.rfind('\n').map_or(0, |i| i + 1);
        let line_text = text[line_start..].lines().next().unwrap_or("");
        let line_end = line_start + line_text.len();
        Place {
            file: file.to_owned(),
            line: before.matches('\n').count() + 1,
            column: text[line_start..start].chars().count() + 1,
            line_text: clipped(line_text),
            length: text[start..end.min(line_end).max(start)].chars().count().max(1),
        }
    }

    /// The whole of 1-based `line` of `text`, leading blanks left out.
    pub fn from_line(file: &str, text: &str, line: usize) -> Place {
        let line_text = text.lines().nth(line.saturating_sub(1)).unwrap_or("");
        let indent = line_text.chars().take_while(|c| c.is_whitespace()).count();
        Place {
            file: file.to_owned(),
            line,
            column: indent + 1,
            line_text: clipped(line_text),
            length: line_text.trim().chars().count().max(1),
        }
    }
}

/// A line is shown, and kept, up to this many characters.
const LONGEST_LINE: usize = 400;

fn clipped(line: &str) -> String {
    line.chars().take(LONGEST_LINE).collect()
}

fn floor_boundary(text: &str, index: usize) -> usize {
    let mut index = index.min(text.len());
    while !text.is_char_boundary(index) {
        index -= 1;
    }
    index
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}", self.file, self.line, self.column)
    }
}

/// One fault, warning or refusal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// How bad it is.
    pub severity: Severity,
    /// What it is, for programs; steers the exit status and HTTP's.
    pub code: Code,
    /// What it is, for people: one sentence without a full stop.
    pub message: String,
    /// Where in a text, where there is one.
    pub place: Option<Place>,
    /// What to do about it, one sentence each.
    pub hints: Vec<String>,
    /// What it is about when there is no text to point at: a size, a step, a row.
    pub context: Vec<String>,
}

impl Diagnostic {
    /// What could not be done; no place, no hint yet.
    pub fn error(code: Code, message: impl Into<String>) -> Self {
        Self::new(Severity::Error, code, message.into())
    }

    /// What should be known; no place, no hint yet.
    pub fn warning(code: Code, message: impl Into<String>) -> Self {
        Self::new(Severity::Warning, code, message.into())
    }

    fn new(severity: Severity, code: Code, message: String) -> Self {
        Diagnostic { severity, code, message, place: None, hints: Vec::new(), context: Vec::new() }
    }

    /// With the place it points at.
    pub fn at(mut self, place: Place) -> Self {
        self.place = Some(place);
        self
    }

    /// With one more hint, behind those there are.
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    /// With one more hint, if there is one.
    pub fn maybe_hint(mut self, hint: Option<impl Into<String>>) -> Self {
        self.hints.extend(hint.map(Into::into));
        self
    }

    /// With one more word on what it is about: a size, a step, a row.
    pub fn context(mut self, context: impl Into<String>) -> Self {
        self.context.push(context.into());
        self
    }
}

/// One line without the source snippet: `message (context) [place] hint`.
impl fmt::Display for Diagnostic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = &self.place {
            write!(f, "{place}: ")?;
        }
        f.write_str(&self.message)?;
        if !self.context.is_empty() {
            write!(f, " ({})", self.context.join(", "))?;
        }
        if !self.hints.is_empty() {
            write!(f, "; {}", self.hints.join("; "))?;
        }
        Ok(())
    }
}

/// All that was found wrong, in the order it was found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Diagnostics(Vec<Diagnostic>);

impl Diagnostics {
    /// The message of the first of them, alone; empty where there is none.
    pub fn first_message(&self) -> String {
        self.iter().next().map_or_else(String::new, |fault| fault.message.clone())
    }

    /// Faults worth telling of one text.
    pub const MOST_PLACED: usize = 50;

    /// Nothing found so far.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds one at the end.
    pub fn push(&mut self, diagnostic: Diagnostic) {
        self.0.push(diagnostic);
    }

    /// Adds a fault of a text at the byte range `span` of it. Past [`Self::MOST_PLACED`] faults no
    /// more are taken, since placing each costs a walk through the text; the first error always is.
    pub fn push_placed(
        &mut self,
        diagnostic: Diagnostic,
        file: &str,
        text: &str,
        span: std::ops::Range<usize>,
    ) {
        let first_error = diagnostic.severity == Severity::Error && !self.has_errors();
        if self.0.len() < Self::MOST_PLACED || first_error {
            self.0.push(diagnostic.at(Place::from_span(file, text, span)));
        }
    }

    /// Adds some at the end.
    pub fn extend(&mut self, others: impl IntoIterator<Item = Diagnostic>) {
        self.0.extend(others);
    }

    /// Whether nothing was found.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether any is an error; warnings alone let the work go on.
    pub fn has_errors(&self) -> bool {
        self.0.iter().any(|d| d.severity == Severity::Error)
    }

    /// The gravest class among the errors, or among the warnings where there is no error.
    /// `None` where nothing was gathered.
    pub fn class(&self) -> Option<Class> {
        let only_errors = self.has_errors();
        let counts = |fault: &&Diagnostic| fault.severity == Severity::Error || !only_errors;
        self.0.iter().filter(counts).map(|fault| fault.code.class()).max()
    }

    /// In the order they were found.
    pub fn iter(&self) -> std::slice::Iter<'_, Diagnostic> {
        self.0.iter()
    }

    /// `Ok(value)` unless an error was gathered; warnings alone are dropped.
    ///
    /// # Errors
    /// All that was gathered, warnings too, when any of it is an error.
    pub fn into_result<T>(self, value: T) -> Result<T, Diagnostics> {
        if self.has_errors() { Err(self) } else { Ok(value) }
    }

    /// Adds the same context to every entry, for a caller who knows more than the callee did.
    pub fn with_context(mut self, context: &str) -> Self {
        for diagnostic in &mut self.0 {
            diagnostic.context.push(context.to_owned());
        }
        self
    }
}

impl IntoIterator for Diagnostics {
    type Item = Diagnostic;
    type IntoIter = std::vec::IntoIter<Diagnostic>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

impl From<Diagnostic> for Diagnostics {
    fn from(diagnostic: Diagnostic) -> Self {
        Diagnostics(vec![diagnostic])
    }
}

impl From<Arc<Diagnostics>> for Diagnostics {
    fn from(shared: Arc<Diagnostics>) -> Self {
        Arc::unwrap_or_clone(shared)
    }
}

impl fmt::Display for Diagnostics {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, diagnostic) in self.0.iter().enumerate() {
            if i > 0 {
                f.write_str("\n")?;
            }
            write!(f, "{diagnostic}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Diagnostics {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn placed_faults_are_capped_and_an_error_is_never_lost_behind_warnings() {
        let mut faults = Diagnostics::new();
        for _ in 0..200 {
            faults.push_placed(Diagnostic::warning(Code::Usage, "odd"), "f", "text", 0..1);
        }
        assert_eq!(faults.iter().count(), Diagnostics::MOST_PLACED);
        for _ in 0..200 {
            faults.push_placed(Diagnostic::error(Code::Usage, "wrong"), "f", "text", 0..1);
        }
        assert_eq!(faults.iter().count(), Diagnostics::MOST_PLACED + 1);
        assert!(faults.has_errors());
    }
}
