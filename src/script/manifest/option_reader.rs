//! One `[options.NAME]` of plugin.toml.

use toml::Spanned;
use toml::de::DeValue;

use diag::Place;

use super::names::did_you_mean;
use super::option::{OptionKind, OptionSpec, OptionValue};
use super::toml_table::{ManifestReader, TomlTable};

impl ManifestReader<'_> {
    pub fn options(&mut self, root: &TomlTable<'_>) -> Vec<OptionSpec> {
        let Some(table) = self.table_of(root, "options") else { return Vec::new() };
        let mut options = Vec::new();
        for (name, span, value) in table.in_order() {
            self.check_name(name, span.clone());
            let what = format!("option `{name}`");
            match value.get_ref().as_table() {
                Some(table) => {
                    let keys = TomlTable { table, span: span.clone(), what: &what };
                    let option = self.option(name, &keys);
                    if option.as_ref().is_some_and(|own| own.scales)
                        && options.iter().any(|other: &OptionSpec| other.scales)
                    {
                        let message = format!("{what} is the second that scales");
                        self.push(span, message, "let the garment grow with one of them alone");
                    }
                    options.extend(option);
                }
                None => self.push(
                    value.span(),
                    format!("{what} must be a table"),
                    format!("write `[options.{name}]` and its keys below"),
                ),
            }
        }
        options
    }

    fn option(&mut self, name: &str, keys: &TomlTable<'_>) -> Option<OptionSpec> {
        let word = self.option_type(keys)?;
        let own: &[&str] = match word.as_str() {
            "integer" => &["type", "title", "help", "default", "min", "max", "step", "scales"],
            "choice" => &["type", "title", "help", "default", "of"],
            "flag" => &["type", "title", "help", "default"],
            _ => &["type", "title", "help", "default", "min", "max", "scales"],
        };
        self.unknown_keys(keys, own);
        let help = self.text_of(keys, "help");
        let title = match keys.get("title") {
            Some(_) => self.text_of(keys, "title"),
            None => in_words(name),
        };
        let kind = self.option_kind(keys, &word)?;
        if is_upside_down(&kind) {
            let message = format!("{} has `min` above `max`", keys.what);
            self.push(keys.span.clone(), message, "swap them");
            return None;
        }
        let default = self.default(keys, &kind)?;
        let scales = self.scales(keys, default.as_ref())?;
        Some(OptionSpec { name: name.to_owned(), title, help, kind, default, scales })
    }

    /// Whether the garment grows with the option: only one that is left to the script can be.
    fn scales(&mut self, keys: &TomlTable<'_>, default: Option<&OptionValue>) -> Option<bool> {
        let Some(value) = keys.get("scales") else { return Some(false) };
        let DeValue::Boolean(scales) = value.get_ref() else {
            self.push(value.span(), "`scales` must be true or false", "leave it out for false");
            return None;
        };
        if *scales && default.is_some() {
            self.push(
                value.span(),
                format!("{} scales, and has a default of its own", keys.what),
                "write `default = \"auto\"`: the yarn decides, and where none is weighed the script",
            );
            return None;
        }
        Some(*scales)
    }

    /// One of the words for a type.
    fn option_type(&mut self, keys: &TomlTable<'_>) -> Option<String> {
        const TYPES: [&str; 6] = ["integer", "number", "percent", "length", "choice", "flag"];
        let word = self.text_of(keys, "type");
        if word.is_empty() {
            return None;
        }
        if !TYPES.contains(&word.as_str()) {
            let span = keys.get("type").map_or(0..0, Spanned::span);
            let message = format!("`{word}` is not a type of option");
            self.push(span, message, did_you_mean(&word, TYPES));
            return None;
        }
        Some(word)
    }

    /// What may be chosen, by the word for its type.
    fn option_kind(&mut self, keys: &TomlTable<'_>, word: &str) -> Option<OptionKind> {
        Some(match word {
            "integer" => {
                let (min, max) = (self.whole(keys, "min", None)?, self.whole(keys, "max", None)?);
                let step = self.whole(keys, "step", Some(1))?;
                if step < 1 {
                    self.push(keys.span.clone(), "`step` must be 1 or more", "leave it out for 1");
                    return None;
                }
                OptionKind::Integer { min, max, step }
            }
            "number" => {
                OptionKind::Number { min: self.real(keys, "min")?, max: self.real(keys, "max")? }
            }
            "percent" => {
                OptionKind::Percent { min: self.real(keys, "min")?, max: self.real(keys, "max")? }
            }
            "length" => OptionKind::Length {
                min_mm: self.length(keys, "min")?,
                max_mm: self.length(keys, "max")?,
            },
            "choice" => {
                let of: Vec<String> =
                    self.list_of(keys, "of").into_iter().map(|(text, _)| text).collect();
                if of.len() < 2 {
                    let message = format!("{} offers no choice", keys.what);
                    self.push(keys.span.clone(), message, "add `of = [\"...\", \"...\"]`");
                    return None;
                }
                OptionKind::Choice { of }
            }
            _ => OptionKind::Flag,
        })
    }

    /// Outer `None`: a fault. Inner `None`: "auto".
    fn default(&mut self, keys: &TomlTable<'_>, kind: &OptionKind) -> Option<Option<OptionValue>> {
        let Some(value) = keys.get("default") else {
            let hint = "add `default = ...`, or `default = \"auto\"` if the script decides";
            self.push(keys.span.clone(), format!("{} has no `default`", keys.what), hint);
            return None;
        };
        let text = match value.get_ref() {
            DeValue::String(text) if text == "auto" => return Some(None),
            DeValue::String(text)
                if matches!(kind, OptionKind::Length { .. } | OptionKind::Choice { .. }) =>
            {
                text.to_string()
            }
            DeValue::Integer(number) if number_like(kind) => number.to_string(),
            DeValue::Float(number) if number_like(kind) => number.to_string(),
            DeValue::Boolean(flag) if *kind == OptionKind::Flag => flag.to_string(),
            _ => {
                let message = format!("`default` of {} must be {}", keys.what, kind.describe());
                let unit = matches!(kind, OptionKind::Length { .. }) && number(value.get_ref());
                let hint = if unit {
                    "write it with its unit, such as \"20 cm\"; or \"auto\" if the script decides"
                } else {
                    "or \"auto\" if the script decides"
                };
                self.push(value.span(), message, hint);
                return None;
            }
        };
        match kind.parse(&text) {
            Ok(parsed) => Some(Some(parsed)),
            Err(fault) => {
                let fault = fault.at(Place::from_span(self.file, self.text, value.span()));
                let hint = "the default must be a value a knitter may choose, or \"auto\" if the script decides";
                self.faults.push(fault.context(keys.what.to_owned()).hint(hint));
                None
            }
        }
    }
}

fn is_upside_down(kind: &OptionKind) -> bool {
    match kind {
        OptionKind::Integer { min, max, .. } => min > max,
        OptionKind::Number { min, max } | OptionKind::Percent { min, max } => min > max,
        OptionKind::Length { min_mm, max_mm } => min_mm > max_mm,
        OptionKind::Choice { .. } | OptionKind::Flag => false,
    }
}

fn number_like(kind: &OptionKind) -> bool {
    matches!(
        kind,
        OptionKind::Integer { .. } | OptionKind::Number { .. } | OptionKind::Percent { .. }
    )
}

fn number(value: &DeValue<'_>) -> bool {
    matches!(value, DeValue::Integer(_) | DeValue::Float(_))
}

/// `top_style` as people read it: "Top style".
fn in_words(name: &str) -> String {
    let words = name.replace(['_', '-'], " ");
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
