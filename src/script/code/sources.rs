use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use diag::Place;

use super::module_path::split_module;
use super::tables::{entry, is_code, table_at};

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

/// An entry of a list that a script returns.
#[derive(Clone, Debug)]
pub(crate) struct InList {
    /// The field that the list is.
    pub list: &'static str,
    /// Which of its entries, from 1.
    pub nth: usize,
    /// What the entry says its name is.
    pub name: Option<String>,
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

    /// The numbers that calls of `decide` and `decide_count` name as texts, in the modules of the garment
    /// itself.
    pub fn decisions(&self) -> Vec<(String, Place)> {
        let mut all: Vec<(String, Place)> = Vec::new();
        for (_, module) in self.modules.iter().filter(|(name, _)| split_module(name).0.is_empty()) {
            for span in decided_in(&module.text) {
                let name = &module.text[span.clone()];
                if !all.iter().any(|(known, _)| known == name) {
                    let place = Place::from_span(&module.file, &module.text, span.clone());
                    all.push((name.to_owned(), place));
                }
            }
        }
        all
    }

    /// Where a word stands in an entry of a list in a list..., outermost first: as a key rather than as
    /// anything else. Where the word is not in it, the entry itself. `None` where the sources write no such
    /// entry, as when a loop makes them.
    pub fn find_in_entry(&self, path: &[InList], word: &str) -> Option<Place> {
        let module = self.modules.get(INIT)?;
        let text = &module.text;
        let mut within = 0..text.len();
        for step in path {
            within = entry_in(text, within, step)?;
        }
        let spots = || words_in(text, word).filter(|at| within.contains(at));
        let key = spots().find(|at| is_key(text, at + word.len()));
        let place = |range| Some(Place::from_span(&module.file, text, range));
        match key.or_else(|| spots().next()) {
            Some(at) => place(at..at + word.len()),
            None => {
                let begins = text[within.clone()].find(|c: char| !c.is_whitespace())?;
                let at = within.start + begins;
                place(at..at + text[at..].chars().next().map_or(0, char::len_utf8))
            }
        }
    }

    /// Where a word stands in the sources: as a key or as a text rather than in a comment, if it is
    /// there as one.
    pub fn find_word(&self, word: &str) -> Option<Place> {
        self.find(word, |text, all| {
            let used = all.iter().copied().find(|at| {
                let end = at + word.len();
                is_key(text, end) || text[end..].trim_start().starts_with('"')
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
            let all: Vec<usize> = words_in(&module.text, word).collect();
            let at = pick(&module.text, &all)?;
            Some(Place::from_span(&module.file, &module.text, at..at + word.len()))
        })
    }
}

/// Where `word` stands as a whole word.
fn words_in<'a>(text: &'a str, word: &'a str) -> impl Iterator<Item = usize> + 'a {
    let found = text.match_indices(word).filter(move |(at, _)| {
        let (before, after) = (&text[..*at], &text[at + word.len()..]);
        !word.is_empty() && !before.ends_with(inner) && !after.starts_with(inner)
    });
    found.map(|(at, _)| at)
}

/// Where names of decided numbers stand: the keys of `of` in a call of `decide`, `name` in one of
/// `decide_count`.
fn decided_in(text: &str) -> Vec<Range<usize>> {
    let tables = |call: &'static str| {
        words_in(text, call).filter_map(move |at| {
            let after = text[at + call.len()..].trim_start();
            let after = after.strip_prefix('(').map_or(after, str::trim_start);
            let begins = text.len() - after.len();
            let sound = after.starts_with('{') && is_code(text, at);
            sound.then(|| table_at(text, begins + 1)).flatten()
        })
    };
    let keys = |table: Range<usize>| {
        let entries = (1..).map_while(move |nth| entry(text, table.clone(), nth));
        entries.filter_map(|entry| {
            let part = &text[entry.clone()];
            let at = entry.start + part.find(|c: char| !c.is_whitespace())?;
            let end = text[at..].find(|c| !inner(c)).map_or(text.len(), |end| at + end);
            (end > at && is_key(text, end)).then_some((at..end, entry.end))
        })
    };
    let of = tables("decide").flat_map(keys).filter(|(key, _)| &text[key.clone()] == "of");
    let of = of.filter_map(|(key, _)| {
        let begins = key.end + text[key.end..].find('{')?;
        let given = text[key.end..begins].trim();
        (given == "=").then(|| table_at(text, begins + 1)).flatten()
    });
    let mut all: Vec<Range<usize>> = of.flat_map(keys).map(|(key, _)| key).collect();
    let names =
        tables("decide_count").flat_map(keys).filter(|(key, _)| &text[key.clone()] == "name");
    all.extend(names.filter_map(|(key, end)| {
        let given = text[key.end..end].trim_start().strip_prefix('=')?.trim();
        let name = given.strip_prefix('"')?.strip_suffix('"')?;
        let at = key.end + text[key.end..end].find('"')? + 1;
        (!name.contains('"')).then_some(at..at + name.len())
    }));
    all
}

/// Whether a word that ends at `end` is a key that is given something.
fn is_key(text: &str, end: usize) -> bool {
    let after = text[end..].trim_start();
    after.starts_with('=') && !after.starts_with("==")
}

/// Where an entry stands in a part of a text: the table that says its name, else by its number in the
/// list.
fn entry_in(text: &str, within: Range<usize>, step: &InList) -> Option<Range<usize>> {
    let list = words_in(text, step.list).filter(|at| within.contains(at));
    let lists = list.filter_map(|at| {
        let after = text[at + step.list.len()..].trim_start().strip_prefix('=')?.trim_start();
        let begins = text.len() - after.len();
        after.starts_with('{').then(|| table_at(text, begins + 1)).flatten()
    });
    lists.into_iter().find_map(|list| {
        let named = |name: &String| {
            let quoted = format!("\"{name}\"");
            let all: Vec<usize> =
                text[list.clone()].match_indices(&quoted).map(|(at, _)| at).collect();
            let is_name = |at: &usize| {
                let before =
                    text[..list.start + at].trim_end().strip_suffix('=').map(str::trim_end);
                before.is_some_and(|before| before.ends_with("name"))
            };
            match all.iter().filter(|at| is_name(at)).collect::<Vec<_>>()[..] {
                // The table at its brace, so that nothing before it is taken for a part of it.
                [at] => table_at(text, list.start + at),
                _ => None,
            }
        };
        step.name.as_ref().and_then(named).or_else(|| entry(text, list.clone(), step.nth))
    })
}

/// Whether a character may stand inside a name.
fn inner(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}
