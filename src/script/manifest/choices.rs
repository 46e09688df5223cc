//! What a person chose, against what the manifest offers.

use std::collections::{BTreeMap, BTreeSet};

use diag::{Code, Diagnostic, Diagnostics, nearest};

use knit::by_hand::HandWork;
use knit::in_turn::InTurn;

use super::manifest::Manifest;
use super::option::OptionValue;

/// What the name of a choice begins with that fixes a number the garment decides.
pub const FIX: &str = "fix.";

/// What the name of a choice begins with by which a section is knitted from balls in turn.
pub const IN_TURN: &str = "in_turn.";

/// The choice of any garment that says what of it is made by hand, whatever the machine's entry says.
pub const BY_HAND: &str = "by_hand";

/// Larger than any count of stitches or rows.
const MOST_FIXED: i64 = 1_000_000_000;

/// What a person chose, checked as far as the manifest knows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Choices {
    /// The options with their defaults; one left on "auto" is not among them.
    pub options: BTreeMap<String, OptionValue>,
    /// Numbers that the garment would decide, by name. Whether it does is known when it runs.
    pub fixed: BTreeMap<String, i64>,
    /// Sections that are knitted from balls in turn, each once.
    pub turns: Vec<InTurn>,
    /// What is made by hand, where it is said.
    pub by_hand: Option<HandWork>,
}

impl Manifest {
    /// Checks what a person chose (name, text) and fills in the defaults of options. A choice
    /// `fix.NAME` is a number that the garment would decide, `in_turn.SECTION` the rows of each ball.
    ///
    /// # Errors
    /// Every unknown name, repeated name and value outside its range, all at once.
    pub fn parse_options(&self, given: &[(String, String)]) -> Result<Choices, Diagnostics> {
        let mut faults = Diagnostics::new();
        let mut seen = BTreeSet::new();
        let mut values: BTreeMap<String, OptionValue> = self
            .options
            .iter()
            .filter_map(|o| o.default.clone().map(|value| (o.name.clone(), value)))
            .collect();
        let mut fixed = BTreeMap::new();
        let mut turns = Vec::new();
        let mut by_hand = None;
        for (name, text) in given {
            if self.is_by_hand(name) {
                match HandWork::parse(text) {
                    Ok(work) => by_hand = Some(work.asked()),
                    Err(fault) => faults.push(fault.context(format!("option `{name}`"))),
                }
                continue;
            }
            if let Some(section) = name.strip_prefix(IN_TURN) {
                match self.turn(section, text) {
                    Ok(Some(_)) if !seen.insert(name) => faults.push(
                        Diagnostic::error(
                            Code::InTurn,
                            format!("`{section}` is knitted in turn twice"),
                        )
                        .hint("say the rows of all its balls at once: 4,4"),
                    ),
                    Ok(turn) => turns.extend(turn),
                    Err(fault) => faults.push(fault),
                }
                continue;
            }
            if let Some(decision) = name.strip_prefix(FIX) {
                match self.fixed(decision, text) {
                    Ok(Some(_)) if !seen.insert(name) => faults.push(Diagnostic::error(
                        Code::Option,
                        format!("`{decision}` is fixed twice"),
                    )),
                    Ok(number) => fixed.extend(number.map(|n| (decision.to_owned(), n))),
                    Err(fault) => faults.push(fault),
                }
                continue;
            }
            let Some(option) = self.options.iter().find(|o| o.name == *name) else {
                faults.push(self.unknown_option(name));
                continue;
            };
            if !seen.insert(name) {
                faults.push(Diagnostic::error(
                    Code::Option,
                    format!("option `{name}` is given twice"),
                ));
                continue;
            }
            if text.trim() == "auto" && option.default.is_none() {
                continue;
            }
            match option.kind.parse(text) {
                Ok(value) => {
                    values.insert(name.clone(), value);
                }
                Err(fault) => {
                    let auto = option.default.is_none().then_some("`auto` lets the garment decide");
                    faults.push(fault.context(format!("option `{name}`")).maybe_hint(auto));
                }
            }
        }
        faults.into_result(Choices { options: values, fixed, turns, by_hand })
    }

    /// Whether the choice says what is made by hand: an option of the garment's own of that name goes before.
    pub fn is_by_hand(&self, name: &str) -> bool {
        name == BY_HAND && self.options.iter().all(|option| option.name != BY_HAND)
    }

    /// The balls in turn of a section; `None` where it is switched off.
    fn turn(&self, section: &str, text: &str) -> Result<Option<InTurn>, Diagnostic> {
        let names = || self.sections.iter().map(|own| own.name.as_str());
        if !names().any(|name| name == section) {
            let fault = Diagnostic::error(
                Code::NoSection,
                format!("`{}` has no yarn section `{section}`", self.id),
            );
            return Err(match nearest(section, names()) {
                Some(near) => fault.hint(format!("did you mean `{near}`?")),
                None => fault
                    .hint(format!("its sections are {}", names().collect::<Vec<_>>().join(", "))),
            });
        }
        InTurn::parse(section, text)
    }

    /// The number that is fixed; `None` for "auto", which leaves it to the garment.
    fn fixed(&self, name: &str, text: &str) -> Result<Option<i64>, Diagnostic> {
        if self.api < 2 {
            let fault = format!("`{}` decides no numbers that can be fixed", self.id);
            return Err(Diagnostic::error(Code::Decision, fault).maybe_hint(
                self.options
                    .iter()
                    .any(|option| option.name == name)
                    .then(|| format!("`{name}` is an option: --set {name}=...")),
            ));
        }
        if matches!(text.trim(), "" | "auto") {
            return Ok(None);
        }
        let number = text.trim().parse().ok();
        let number = number.filter(|n: &i64| n.abs() <= MOST_FIXED);
        let number = number.ok_or_else(|| {
            let shown: String = text.trim().chars().take(40).collect();
            Diagnostic::error(
                Code::Decision,
                format!("`{name}` can't be fixed to `{shown}`, which is no whole number"),
            )
            .hint("write a number such as 52, or `auto` to leave it to the garment")
        })?;
        Ok(Some(number))
    }

    fn unknown_option(&self, name: &str) -> Diagnostic {
        let names = || self.options.iter().map(|o| o.name.as_str());
        let fault =
            Diagnostic::error(Code::Option, format!("`{}` has no option `{name}`", self.id));
        match nearest(name, names()) {
            Some(near) => fault.hint(format!("did you mean `{near}`?")),
            None if self.options.is_empty() => fault.hint("it takes no options"),
            None => fault.hint(format!("it has {}", names().collect::<Vec<_>>().join(", "))),
        }
    }
}
