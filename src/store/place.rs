use serde::{Deserialize, Serialize};

use diag::{Code, Diagnostic};

/// How far a piece is at the machine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Place {
    /// What is knitted, as the page's address says it.
    pub query: String,
    /// What is knitted, in words.
    pub title: String,
    /// Stops done, and stops in all.
    pub stop: u32,
    pub of: u32,
    /// Goes up with each change; that of the first is 1.
    pub revision: u64,
}

impl Place {
    /// More stops than any piece has.
    const MOST_STOPS: u32 = 1_000_000;
    /// Scripts on pages count no further than this without a slip.
    const LAST_REVISION: u64 = (1 << 53) - 1;
    /// Bytes of a title, and of a page's address.
    const LONGEST: usize = 64 << 10;

    /// Whether it can be so, and be kept.
    ///
    /// # Errors
    /// One diagnostic where it can't.
    pub fn check(&self) -> Result<(), Diagnostic> {
        let lies_in = self.stop <= self.of && self.of <= Place::MOST_STOPS;
        let counted = (1..=Place::LAST_REVISION).contains(&self.revision);
        let short = self.title.len().max(self.query.len()) <= Place::LONGEST;
        if lies_in && counted && short {
            return Ok(());
        }
        Err(Diagnostic::error(Code::Place, "there is no such place in a piece"))
    }
}

/// Whether a text is a place's id, and so may be part of a file's name.
pub fn is_place_id(id: &str) -> bool {
    id.len() == 16 && id.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b))
}
