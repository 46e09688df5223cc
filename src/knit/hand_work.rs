//! What is made by hand, as it is chosen.

use std::fmt;

use diag::{Code, Diagnostic, nearest};

/// Which work is done by hand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct HandWork {
    /// Ribs on a pair of needles, whatever beds there are.
    pub rib: bool,
    /// The round end of a foot or a hand drawn up instead of grafted.
    pub toe: bool,
    /// Edges cast off together instead of grafted.
    pub grafting: bool,
    /// Whether it was said of this garment: what it has nothing of is a mistake then. A machine's entry says it
    /// of all.
    pub asked: bool,
}

impl HandWork {
    /// All that can be done by hand.
    pub const ALL: HandWork = HandWork { rib: true, toe: true, grafting: true, asked: false };

    /// What there is to choose of, in the order in which it is told.
    pub const NAMES: [&'static str; 3] = ["rib", "toe", "grafting"];

    /// Nothing.
    pub fn is_none(self) -> bool {
        self.names().is_empty()
    }

    /// All that there is to choose of.
    pub(super) fn is_all(self) -> bool {
        self.names() == Self::NAMES
    }

    /// The same, said of one garment.
    #[must_use]
    pub fn asked(self) -> HandWork {
        HandWork { asked: true, ..self }
    }

    /// What of it is chosen, by name.
    pub fn names(self) -> Vec<&'static str> {
        let chosen = [self.rib, self.toe, self.grafting];
        let named = Self::NAMES.into_iter().zip(chosen);
        named.filter_map(|(name, chosen)| chosen.then_some(name)).collect()
    }

    /// As it is typed: `yes`, all of it; `no`; or what of it with commas between, `rib,toe`.
    ///
    /// # Errors
    /// A word that is none of them.
    pub fn parse(text: &str) -> Result<HandWork, Diagnostic> {
        let mut work = HandWork::default();
        match text.trim() {
            "yes" | "true" => return Ok(HandWork::ALL),
            "no" | "false" => return Ok(work),
            _ => {}
        }
        for name in text.split(',').map(str::trim) {
            match name {
                "rib" => work.rib = true,
                "toe" => work.toe = true,
                "grafting" => work.grafting = true,
                _ => {
                    let shown: String = name.chars().take(40).collect();
                    let fault = Diagnostic::error(
                        Code::Option,
                        format!("`{shown}` is no work that is done by hand"),
                    );
                    return Err(match nearest(name, Self::NAMES) {
                        Some(near) if !name.is_empty() => fault.hint(format!("did you mean `{near}`?")),
                        _ => fault.hint(
                            "it is rib, toe or grafting, with commas between; or `yes` for all of it, `no` \
                             for nothing",
                        ),
                    });
                }
            }
        }
        Ok(work)
    }
}

impl fmt::Display for HandWork {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            work if work.is_all() => f.write_str("yes"),
            work if work.is_none() => f.write_str("no"),
            work => f.write_str(&work.names().join(",")),
        }
    }
}
