//! What a person chose, against what the manifest offers.

use std::collections::{BTreeMap, BTreeSet};

use diag::{Code, Diagnostic, Diagnostics, nearest};

use super::manifest::Manifest;
use super::option::OptionValue;

impl Manifest {
    /// Checks the options a person gave (name, text) and fills in the defaults. An option left
    /// on "auto" is not in the map.
    ///
    /// # Errors
    /// Every unknown name, repeated name and value outside its range, all at once.
    pub fn parse_options(
        &self,
        given: &[(String, String)],
    ) -> Result<BTreeMap<String, OptionValue>, Diagnostics> {
        let mut faults = Diagnostics::new();
        let mut seen = BTreeSet::new();
        let mut values: BTreeMap<String, OptionValue> = self
            .options
            .iter()
            .filter_map(|o| o.default.clone().map(|value| (o.name.clone(), value)))
            .collect();
        for (name, text) in given {
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
        faults.into_result(values)
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
