//! A table being read: what is told of it, and where.

use std::ops::Range;
use std::str::FromStr;

use toml::Spanned;

use diag::{Diagnostic, Diagnostics};

/// A table being read, and the faults so far.
pub(super) struct TableReader<'a> {
    pub file: &'a str,
    pub text: &'a str,
    pub faults: Diagnostics,
}

impl TableReader<'_> {
    pub fn fault(&mut self, diagnostic: Diagnostic, span: Range<usize>) {
        self.faults.push_placed(diagnostic, self.file, self.text, span);
    }

    /// Parses the text of `spanned`; a failure is placed at it.
    pub fn parse<T: FromStr<Err = Diagnostic>>(&mut self, spanned: &Spanned<String>) -> Option<T> {
        match spanned.get_ref().parse() {
            Ok(value) => Some(value),
            Err(fault) => {
                self.fault(fault, spanned.span());
                None
            }
        }
    }
}
