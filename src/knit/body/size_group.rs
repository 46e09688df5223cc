use std::fmt;
use std::str::FromStr;

use diag::{Code, Diagnostic, nearest};

/// The four stretches of the size run. A measure is expected to grow within a group, not from
/// one group to the next: men's S follows women's XL.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SizeGroup {
    /// Up to two years, by age in months.
    Babies,
    /// From two years on, by age in years.
    Children,
    /// Grown women.
    Women,
    /// Grown men.
    Men,
}

impl SizeGroup {
    /// All four, in the order of the run.
    pub const ALL: [SizeGroup; 4] =
        [SizeGroup::Babies, SizeGroup::Children, SizeGroup::Women, SizeGroup::Men];

    /// The word in files and selections.
    pub const fn name(self) -> &'static str {
        match self {
            SizeGroup::Babies => "babies",
            SizeGroup::Children => "children",
            SizeGroup::Women => "women",
            SizeGroup::Men => "men",
        }
    }

    /// Whether it is one of the two grown ones.
    pub const fn is_adult(self) -> bool {
        matches!(self, SizeGroup::Women | SizeGroup::Men)
    }
}

impl FromStr for SizeGroup {
    type Err = Diagnostic;

    fn from_str(text: &str) -> Result<Self, Diagnostic> {
        let text = text.trim();
        SizeGroup::ALL.into_iter().find(|g| g.name() == text).ok_or_else(|| {
            let names = SizeGroup::ALL.map(SizeGroup::name);
            Diagnostic::error(Code::SizeTable, format!("`{text}` is not a group of sizes")).hint(
                match nearest(text, names) {
                    Some(name) => format!("did you mean `{name}`?"),
                    None => format!("the groups are {}", names.join(", ")),
                },
            )
        })
    }
}

impl fmt::Display for SizeGroup {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
