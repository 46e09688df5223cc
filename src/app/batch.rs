//! Many requests, a line each: how lines are told apart, what one asks for, and what is said of one
//! that can't be read.

use serde_json::Value;

use super::Ask;
use diag::{Code, Diagnostic};

/// Bytes of a line.
pub const LONGEST_LINE: usize = 64 << 10;

/// Which number an answer bears.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LineNumbers {
    /// That of its line, counted from the start of the batch.
    Counted,
    /// What the request has as `line`, if it has it.
    FromRequest,
    LeftOut,
}

/// One line of a batch, read.
#[derive(Clone, Debug)]
pub struct BatchLine {
    /// The number that the answer bears, if any.
    pub line: Option<u64>,
    /// Whatever the sender knows it by; null where there is none.
    pub id: Value,
    pub ask: Result<Ask, Diagnostic>,
}

impl BatchLine {
    /// Reads a request that has no number.
    pub fn read(text: &[u8]) -> BatchLine {
        BatchLine::parse(text, false)
    }

    fn parse(text: &[u8], numbered: bool) -> BatchLine {
        let bad = |error: serde_json::Error| {
            Diagnostic::error(Code::Json, format!("can't read the line: {error}")).hint(
                "a line is a request like {\"garment\": \"tam\", \"sizes\": \"women-m\"}, and may have an `id`",
            )
        };
        let mut value: Value = match serde_json::from_slice(text) {
            Ok(value) => value,
            Err(error) => return BatchLine { line: None, id: Value::Null, ask: Err(bad(error)) },
        };
        let mut take = |key| value.as_object_mut().and_then(|object| object.shift_remove(key));
        let id = take("id").unwrap_or_default();
        let line = match numbered.then(|| take("line")).flatten() {
            None | Some(Value::Null) => Ok(None),
            Some(number) => number.as_u64().map(Some).ok_or_else(|| {
                Diagnostic::error(Code::Json, format!("`line` is {number}, which numbers no line"))
                    .hint("write a whole number, or leave `line` out")
            }),
        };
        match line {
            Ok(line) => BatchLine { line, id, ask: serde_json::from_value(value).map_err(bad) },
            Err(fault) => BatchLine { line: None, id, ask: Err(fault) },
        }
    }
}

/// A line as it came.
#[derive(Debug)]
pub struct RawLine {
    /// From the start of the batch, blank lines counted.
    pub number: u64,
    pub text: Result<Vec<u8>, Diagnostic>,
}

impl RawLine {
    pub fn is_blank(&self) -> bool {
        self.text.as_ref().is_ok_and(|text| text.iter().all(u8::is_ascii_whitespace))
    }

    /// A blank line is passed over unless every line is to have its answer: this one then says
    /// that there was no request.
    pub fn refuse_blank(mut self) -> RawLine {
        if self.is_blank() {
            self.text = Err(Diagnostic::error(Code::BlankLine, "the line is blank")
                .hint("send a request on every line"));
        }
        self
    }

    pub fn read(self, numbers: LineNumbers) -> BatchLine {
        let from_request = numbers == LineNumbers::FromRequest;
        let read = match self.text {
            Ok(text) => BatchLine::parse(&text, from_request),
            Err(fault) => BatchLine { line: None, id: Value::Null, ask: Err(fault) },
        };
        match numbers {
            LineNumbers::Counted => BatchLine { line: Some(self.number), ..read },
            LineNumbers::FromRequest | LineNumbers::LeftOut => read,
        }
    }
}

/// Cuts what comes in parts into lines. Holds no more than one of them, and of one that is too long
/// nothing.
#[derive(Debug)]
pub struct LineSplitter {
    longest: usize,
    /// Of the line that is being gathered.
    number: u64,
    line: Vec<u8>,
    /// In the middle of a line that is too long.
    skipping: bool,
}

impl LineSplitter {
    /// For lines of at most `longest` bytes, the first of them with the number `first`.
    pub fn new(longest: usize, first: u64) -> LineSplitter {
        LineSplitter { longest, number: first, line: Vec::new(), skipping: false }
    }

    /// The number of the line whose end has not come yet.
    pub fn number(&self) -> u64 {
        self.number
    }

    /// Takes from a part up to the next end of a line. Gives how many bytes that is, and the line
    /// if its end was among them.
    pub fn take(&mut self, part: &[u8]) -> (usize, Option<RawLine>) {
        let end = part.iter().position(|byte| *byte == b'\n');
        let text = &part[..end.unwrap_or(part.len())];
        if self.line.len() + text.len() > self.longest {
            self.skipping = true;
            self.line = Vec::new();
        }
        if !self.skipping {
            self.line.extend_from_slice(text);
        }
        match end {
            Some(end) => (end + 1, Some(self.whole())),
            None => (part.len(), None),
        }
    }

    /// The last line, where nothing ends it: no more will come.
    pub fn rest(&mut self) -> Option<RawLine> {
        (self.skipping || !self.line.is_empty()).then(|| self.whole())
    }

    fn whole(&mut self) -> RawLine {
        let number = self.number;
        self.number = self.number.saturating_add(1);
        let line = std::mem::take(&mut self.line);
        let text = if std::mem::take(&mut self.skipping) {
            let most = self.longest;
            Err(Diagnostic::error(Code::LineTooLong, format!("{most} bytes a line at most")))
        } else {
            Ok(line)
        };
        RawLine { number, text }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_the_same_whatever_the_parts_they_come_in() {
        let text = "a\n\n12345678\n123456789\nfar too long for this\nb\r\n  \nlast";
        for size in 1..=text.len() {
            let mut lines = LineSplitter::new(8, 7);
            let mut seen = Vec::new();
            for mut part in text.as_bytes().chunks(size) {
                while !part.is_empty() {
                    let (taken, line) = lines.take(part);
                    part = &part[taken..];
                    seen.extend(line);
                }
            }
            assert_eq!(lines.number(), 14);
            seen.extend(lines.rest());
            assert!(lines.rest().is_none());
            let told: Vec<_> = seen
                .into_iter()
                .map(|line| {
                    let blank = line.is_blank();
                    (line.number, blank, line.text.map(|t| t.len()).map_err(|f| f.code.as_str()))
                })
                .collect();
            let long = || Err("line-too-long");
            let expected = [
                (7, false, Ok(1)),
                (8, true, Ok(0)),
                (9, false, Ok(8)),
                (10, false, long()),
                (11, false, long()),
                (12, false, Ok(2)),
                (13, true, Ok(2)),
                (14, false, Ok(4)),
            ];
            assert_eq!(told, expected, "in parts of {size}");
        }
    }

    #[test]
    fn an_answer_bears_the_number_it_is_meant_to() {
        use LineNumbers::{Counted, FromRequest, LeftOut};
        let read = |text: &str, numbers| {
            let line = RawLine { number: 7, text: Ok(text.into()) };
            let read = line.read(numbers);
            (read.line, read.ask.map(|_| ()).map_err(|fault| fault.code.as_str()))
        };
        let plain = r#"{"garment": "tam"}"#;
        assert_eq!(read(plain, Counted), (Some(7), Ok(())));
        assert_eq!(read(plain, FromRequest), (None, Ok(())));
        assert_eq!(read(plain, LeftOut), (None, Ok(())));
        let numbered = r#"{"line": 18446744073709551615, "garment": "tam"}"#;
        assert_eq!(read(numbered, FromRequest), (Some(u64::MAX), Ok(())));
        assert_eq!(read(r#"{"line": null, "garment": "tam"}"#, FromRequest), (None, Ok(())));
        // Nothing else takes it for a number: it is as unknown a key as any.
        assert_eq!(read(numbered, Counted), (Some(7), Err("json")));
        assert_eq!(read(numbered, LeftOut), (None, Err("json")));
        for bad in ["-1", "1.5", "\"7\"", "[7]", "18446744073709551616"] {
            let text = format!(r#"{{"line": {bad}, "garment": "tam"}}"#);
            assert_eq!(read(&text, FromRequest), (None, Err("json")), "{bad}");
        }
        assert_eq!(read("7", FromRequest), (None, Err("json")));
        // A known number stays where the rest is wrong.
        assert_eq!(read(r#"{"line": 3, "wool": 1}"#, FromRequest), (Some(3), Err("json")));
    }

    #[test]
    fn a_blank_line_is_refused_only_where_it_is_blank() {
        let code = |text: &str| {
            let line = RawLine { number: 1, text: Ok(text.into()) };
            line.refuse_blank().text.map_err(|fault| fault.code.as_str())
        };
        assert_eq!(code(" \t\r"), Err("blank-line"));
        assert_eq!(code(""), Err("blank-line"));
        assert_eq!(code("{}"), Ok(b"{}".to_vec()));
    }

    #[test]
    fn a_line_without_end_is_not_kept() {
        let mut lines = LineSplitter::new(8, 1);
        for _ in 0..1000 {
            assert!(lines.take(&[b'x'; 100]).1.is_none());
            assert_eq!(lines.line.capacity(), 0);
        }
        let rest = lines.rest().expect("a line");
        assert_eq!(rest.text.map_err(|fault| fault.code.as_str()), Err("line-too-long"));
    }
}
