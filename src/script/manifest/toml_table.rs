//! plugin.toml as tables with spans, and readings of one value that note what is wrong with it.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use diag::{Code, Diagnostic, Diagnostics, Place, is_control, nearest};
use units::Length;

use super::kind::ManifestKind;
use super::names::{did_you_mean, is_name};

/// Options, sections, words of a choice, measures.
const MOST_ENTRIES: usize = 100;

/// A table of the file, where it begins and what to call it.
pub(super) struct TomlTable<'a> {
    pub table: &'a DeTable<'a>,
    pub span: Range<usize>,
    pub what: &'a str,
}

/// The value of a key, if it is there.
pub(super) type TomlEntry<'a> = Option<&'a Spanned<DeValue<'a>>>;

impl<'a> TomlTable<'a> {
    pub fn get(&self, key: &str) -> TomlEntry<'a> {
        self.table.get(key)
    }

    /// TomlTable with their values as they stand in the file, not sorted by name.
    pub fn in_order(&self) -> Vec<(&'a str, Range<usize>, &'a Spanned<DeValue<'a>>)> {
        let mut all: Vec<_> =
            self.table.iter().map(|(k, v)| (k.get_ref().as_ref(), k.span(), v)).collect();
        all.sort_by_key(|(_, span, _)| span.start);
        all
    }
}

/// Gathers the faults of a plugin.toml.
pub(super) struct ManifestReader<'a> {
    pub kind: ManifestKind,
    pub file: &'a str,
    pub text: &'a str,
    pub faults: Diagnostics,
    /// Tables and keys of theirs that something misspelt must have been meant for.
    pub misspelt: Vec<(String, String)>,
}

impl ManifestReader<'_> {
    pub fn fault(&self, span: Range<usize>, message: impl Into<String>) -> Diagnostic {
        Diagnostic::error(Code::PluginManifest, message)
            .at(Place::from_span(self.file, self.text, span))
    }

    pub fn push(
        &mut self,
        span: Range<usize>,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) {
        let fault = Diagnostic::error(Code::PluginManifest, message).hint(hint);
        self.faults.push_placed(fault, self.file, self.text, span);
    }

    pub fn unknown_keys(&mut self, keys: &TomlTable<'_>, known: &[&str]) {
        for (key, span, _) in keys.in_order() {
            if !known.contains(&key) {
                let message = format!("{} has no key `{key}`", keys.what);
                self.push(span, message, did_you_mean(key, known.iter().copied()));
                let absent = known.iter().copied().filter(|known| keys.get(known).is_none());
                if let Some(meant) = nearest(key, absent) {
                    self.misspelt.push((keys.what.to_owned(), meant.to_owned()));
                }
            }
        }
    }

    /// Whether a key is missing because it is misspelt, which was told.
    pub fn is_misspelt(&self, keys: &TomlTable<'_>, key: &str) -> bool {
        self.misspelt.iter().any(|(what, meant)| what == keys.what && meant == key)
    }

    /// A text that must be there and not be blank; empty when it is not (and a fault is noted).
    pub fn text_of(&mut self, keys: &TomlTable<'_>, key: &str) -> String {
        match keys.get(key) {
            None if self.is_misspelt(keys, key) => String::new(),
            None => {
                let message = format!("{} has no `{key}`", keys.what);
                self.push(keys.span.clone(), message, format!("add `{key} = \"...\"`"));
                String::new()
            }
            Some(value) => match value.get_ref().as_str().map(str::trim) {
                Some(text)
                    if !text.is_empty()
                        && text.chars().count() <= 2000
                        && !text.contains(is_control) =>
                {
                    text.to_owned()
                }
                _ => {
                    let message = format!(
                        "`{key}` must be a text of at most 2000 characters, without control characters"
                    );
                    self.push(value.span(), message, format!("write `{key} = \"...\"`"));
                    String::new()
                }
            },
        }
    }

    pub fn flag_of(&mut self, keys: &TomlTable<'_>, key: &str) -> bool {
        let Some(value) = keys.get(key) else { return false };
        value.get_ref().as_bool().unwrap_or_else(|| {
            self.push(
                value.span(),
                format!("`{key}` must be true or false"),
                "leave the quotes out",
            );
            false
        })
    }

    /// A list of texts with their spans. Absent is empty.
    pub fn list_of(&mut self, keys: &TomlTable<'_>, key: &str) -> Vec<(String, Range<usize>)> {
        let Some(value) = keys.get(key) else { return Vec::new() };
        let Some(array) = value.get_ref().as_array() else {
            let message = format!("`{key}` must be a list of texts");
            self.push(value.span(), message, format!("write `{key} = [\"...\"]`"));
            return Vec::new();
        };
        if array.len() > MOST_ENTRIES {
            let message = format!("`{key}` lists more than {MOST_ENTRIES} entries");
            self.push(value.span(), message, "no garment needs so many");
            return Vec::new();
        }
        let mut texts: Vec<(String, Range<usize>)> = Vec::new();
        for item in array.iter() {
            match item.get_ref().as_str() {
                Some(text) if texts.iter().any(|(seen, _)| seen == text) => {
                    self.push(item.span(), format!("`{text}` is listed twice"), "leave one out");
                }
                Some(text) => texts.push((text.to_owned(), item.span())),
                None => self.push(
                    item.span(),
                    format!("`{key}` must be a list of texts"),
                    "put quotes round each",
                ),
            }
        }
        texts
    }

    pub fn names_of(&mut self, keys: &TomlTable<'_>, key: &str) -> Vec<String> {
        let listed = self.list_of(keys, key);
        let mut names = Vec::new();
        for (name, span) in listed {
            self.check_name(&name, span);
            names.push(name);
        }
        names
    }

    pub fn check_name(&mut self, name: &str, span: Range<usize>) {
        if !is_name(name) {
            self.push(
                span,
                format!("`{name}` is not a name"),
                "begin with a letter and use a to z, 0 to 9 and `_`, 40 at most",
            );
        }
    }

    pub fn table_of<'t>(&mut self, keys: &TomlTable<'t>, key: &'t str) -> Option<TomlTable<'t>> {
        let value = keys.get(key)?;
        match value.get_ref().as_table() {
            Some(table) if table.len() > MOST_ENTRIES => {
                let message = format!("`{key}` holds more than {MOST_ENTRIES} entries");
                self.push(value.span(), message, "no garment needs so many");
                None
            }
            Some(table) => Some(TomlTable { table, span: value.span(), what: key }),
            None => {
                self.push(
                    value.span(),
                    format!("`{key}` must be a table"),
                    format!("write `[{key}]`"),
                );
                None
            }
        }
    }

    pub fn bound<'t>(&mut self, keys: &TomlTable<'t>, key: &str) -> TomlEntry<'t> {
        let value = keys.get(key);
        if value.is_none() {
            let message = format!("{} has no `{key}`", keys.what);
            self.push(keys.span.clone(), message, format!("add `{key} = ...`"));
        }
        value
    }

    pub fn whole(&mut self, keys: &TomlTable<'_>, key: &str, absent: Option<i64>) -> Option<i64> {
        if absent.is_some() && keys.get(key).is_none() {
            return absent;
        }
        let value = self.bound(keys, key)?;
        let number = value.get_ref().as_integer().and_then(|i| i.to_string().parse().ok());
        if number.is_none() {
            self.push(
                value.span(),
                format!("`{key}` must be a whole number"),
                "leave the quotes out",
            );
        }
        number
    }

    pub fn real(&mut self, keys: &TomlTable<'_>, key: &str) -> Option<f64> {
        let value = self.bound(keys, key)?;
        let text = match value.get_ref() {
            DeValue::Integer(number) => number.to_string(),
            DeValue::Float(number) => number.to_string(),
            _ => String::new(),
        };
        let number = text.parse::<f64>().ok().filter(|n| n.is_finite());
        if number.is_none() {
            self.push(value.span(), format!("`{key}` must be a number"), "leave the quotes out");
        }
        number
    }

    pub fn length(&mut self, keys: &TomlTable<'_>, key: &str) -> Option<f64> {
        let value = self.bound(keys, key)?;
        let text = value.get_ref().as_str().unwrap_or_default();
        match text.parse::<Length>() {
            Ok(length) => Some(length.mm()),
            Err(error) => {
                self.push(value.span(), format!("`{key}`: {}", error.message), error.hint);
                None
            }
        }
    }
}
