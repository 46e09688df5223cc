use std::collections::{BTreeMap, BTreeSet};

use diag::Place;

use super::module_path::split_module;

/// The sources of one plugin.
#[derive(Debug)]
pub(crate) struct Sources {
    /// The manifest, for placing what is said about it later: its file and its text.
    pub manifest_file: String,
    pub manifest: String,
    /// By file name inside the folder, `init.luau` among them, and those of parts
    /// ([`part_module`](super::part_module)).
    pub modules: BTreeMap<String, Module>,
    /// By who asks (empty: the garment itself): the parts it may require.
    pub parts: BTreeMap<String, BTreeSet<String>>,
}

/// One `.luau` file.
#[derive(Debug)]
pub(crate) struct Module {
    /// What to show as its file: `plugins/tam/init.luau`.
    pub file: String,
    pub text: String,
    /// Compiled here from `text`, never read from a file: the machine trusts bytecode blindly.
    pub bytecode: Vec<u8>,
}

/// A line of a module.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Spot {
    pub module: String,
    pub line: usize,
}

/// The module that gives the garment function.
pub(crate) const INIT: &str = "init.luau";

impl Sources {
    pub fn place(&self, module: &str, line: usize) -> Option<Place> {
        self.modules.get(module).map(|m| Place::from_line(&m.file, &m.text, line))
    }

    /// Where something is given that name; else as [`find_word`](Self::find_word).
    pub fn find_name(&self, name: &str) -> Option<Place> {
        let given = |text: &str, at: usize| {
            let before = text[..at].strip_suffix('"').map(str::trim_end);
            let before = before.and_then(|b| b.strip_suffix('=')).map(str::trim_end);
            before.and_then(|b| b.strip_suffix("name")).is_some_and(|b| !b.ends_with(inner))
        };
        self.find(name, |text, all| all.iter().copied().find(|at| given(text, *at)))
            .or_else(|| self.find_word(name))
    }

    /// Whether that name stands in the sources as a key with a table, or as what something is called.
    pub fn declares(&self, name: &str) -> bool {
        let table = |text: &str, at: usize| {
            let after = text[at + name.len()..].trim_start().strip_prefix('=');
            after.is_some_and(|after| after.trim_start().starts_with('{'))
        };
        let named = |text: &str, at: usize| {
            let before = text[..at].strip_suffix(['"', '\'']).map(str::trim_end);
            let before = before.and_then(|b| b.strip_suffix('=')).map(str::trim_end);
            before.is_some_and(|b| b.ends_with("name"))
        };
        let stands = |text: &str, at: usize| table(text, at) || named(text, at);
        self.find(name, |text, all| all.iter().copied().find(|at| stands(text, *at))).is_some()
    }

    /// Where a word stands in the sources: as a key or as a text rather than in a comment, if it is
    /// there as one.
    pub fn find_word(&self, word: &str) -> Option<Place> {
        self.find(word, |text, all| {
            let used = all.iter().copied().find(|at| {
                let after = text[at + word.len()..].trim_start();
                after.starts_with('=') && !after.starts_with("==") || after.starts_with('"')
            });
            used.or(all.first().copied())
        })
    }

    /// Looks through the sources, init.luau first, until `pick` takes one of the spots where `word`
    /// stands as a whole word.
    fn find(&self, word: &str, pick: impl Fn(&str, &[usize]) -> Option<usize>) -> Option<Place> {
        if word.is_empty() {
            return None;
        }
        let mut modules: Vec<_> = self.modules.iter().collect();
        modules.sort_by_key(|(name, _)| (*name != INIT, !split_module(name).0.is_empty()));
        modules.into_iter().find_map(|(_, module)| {
            let found = module.text.match_indices(word).filter(|(at, _)| {
                let (before, after) = (&module.text[..*at], &module.text[at + word.len()..]);
                !before.ends_with(inner) && !after.starts_with(inner)
            });
            let all: Vec<usize> = found.map(|(at, _)| at).collect();
            let at = pick(&module.text, &all)?;
            Some(Place::from_span(&module.file, &module.text, at..at + word.len()))
        })
    }
}

/// Whether a character may stand inside a name.
fn inner(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}
