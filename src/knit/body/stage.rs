use std::fmt;
use std::str::FromStr;

use super::SizeGroup;
use diag::{Code, Diagnostic, nearest};

/// The stretch of life whose lines a body is estimated by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stage {
    /// Up to two years.
    Baby,
    /// From two years on.
    Child,
    /// Grown women and men.
    Adult,
}

impl Stage {
    /// All three, youngest first.
    pub const ALL: [Stage; 3] = [Stage::Baby, Stage::Child, Stage::Adult];

    /// The word in files.
    pub const fn name(self) -> &'static str {
        match self {
            Stage::Baby => "babies",
            Stage::Child => "children",
            Stage::Adult => "adults",
        }
    }

    /// The stage of a group of sizes.
    pub const fn of(group: SizeGroup) -> Stage {
        match group {
            SizeGroup::Babies => Stage::Baby,
            SizeGroup::Children => Stage::Child,
            SizeGroup::Women | SizeGroup::Men => Stage::Adult,
        }
    }
}

impl FromStr for Stage {
    type Err = Diagnostic;

    fn from_str(text: &str) -> Result<Self, Diagnostic> {
        let text = text.trim();
        Stage::ALL.into_iter().find(|stage| stage.name() == text).ok_or_else(|| {
            let names = Stage::ALL.map(Stage::name);
            let fault = Diagnostic::error(
                Code::FillRule,
                format!("`{text}` does not say whom a line is for"),
            );
            fault.hint(match nearest(text, names) {
                Some(name) => format!("did you mean `{name}`?"),
                None => format!("a line is for {}; left out, for all", names.join(", ")),
            })
        })
    }
}

impl fmt::Display for Stage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
