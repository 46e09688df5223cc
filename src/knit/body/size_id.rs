use std::fmt;
use std::str::FromStr;

use super::SizeGroup;
use diag::{Code, Diagnostic};

/// The short name of a size: `m3-6`, `y4`, `women-l`. Lower-case letters and digits in words
/// joined by single hyphens, and none of the words a selection gives a meaning of its own.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SizeId(String);

/// Words a selection reads as several sizes at once.
pub(super) const EVERY: &str = "all";
pub(super) const ADULTS: &str = "adults";

impl SizeId {
    const LONGEST: usize = 40;

    /// The id as it is written.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// An id made out of any text, for a body with a person's name: "Anna K." is `anna-k`.
    pub fn from_label(label: &str) -> SizeId {
        let mut id = String::new();
        for c in label.chars().flat_map(char::to_lowercase) {
            if c.is_alphanumeric() {
                id.push(c);
            } else if !id.is_empty() && !id.ends_with('-') {
                id.push('-');
            }
        }
        let id: String = id.chars().take(Self::LONGEST).collect();
        let id = id.trim_end_matches('-');
        SizeId(if id.is_empty() { "made-to-measure".to_owned() } else { id.to_owned() })
    }
}

impl FromStr for SizeId {
    type Err = Diagnostic;

    fn from_str(text: &str) -> Result<Self, Diagnostic> {
        let refuse = |why: &str| {
            Err(Diagnostic::error(
                Code::SizeTable,
                format!("`{text}` can't be the id of a size: {why}"),
            )
            .hint("write it like `y4`, `m3-6` or `women-l`"))
        };
        if text.is_empty() {
            return refuse("it is empty");
        }
        if text.chars().count() > Self::LONGEST {
            return refuse("it is longer than 40 characters");
        }
        if text.split('-').any(|word| {
            word.is_empty()
                || word.contains(|c: char| !(c.is_ascii_lowercase() || c.is_ascii_digit()))
        }) {
            return refuse("it takes small letters and digits, joined by single hyphens");
        }
        if text == EVERY || text == ADULTS || SizeGroup::ALL.iter().any(|g| g.name() == text) {
            return refuse("the word stands for several sizes");
        }
        Ok(SizeId(text.to_owned()))
    }
}

impl fmt::Display for SizeId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_plain_words_and_never_a_selection() {
        for good in ["newborn", "m0-3", "y4", "women-xl"] {
            assert_eq!(good.parse::<SizeId>().map(|id| id.to_string()), Ok(good.to_owned()));
        }
        for bad in ["", "Y4", "y 4", "y4..y5", "a,b", "-a", "a--b", "all", "men", "adults"] {
            assert!(bad.parse::<SizeId>().is_err(), "{bad}");
        }
    }

    #[test]
    fn a_label_becomes_an_id() {
        assert_eq!(SizeId::from_label("Anna K.").as_str(), "anna-k");
        assert_eq!(SizeId::from_label("Émile").as_str(), "émile");
        assert_eq!(SizeId::from_label(" ?! ").as_str(), "made-to-measure");
    }
}
