//! The parts a garment is made with: found, checked and compiled beside its own sources.

use std::collections::{BTreeMap, BTreeSet};

use diag::{Code, Diagnostic, Diagnostics, Place, nearest};

use super::code::{INIT, Module, compile, is_source, part_module, utf8};
use super::manifest::{Declared, Manifest, ManifestKind, major};
use super::plugin_source::PluginSource;

/// More sources than any garment needs, or any part.
pub(crate) const MOST_MODULES: usize = 64;

/// Parts that one garment is made with, those of its parts among them.
const MOST_PARTS: usize = 32;

/// The parts of one garment.
pub(crate) struct Library<'a> {
    sources: &'a BTreeMap<String, PluginSource>,
    known: &'a [String],
    /// The API of the garment.
    api: u32,
    /// What has been looked at, good or not.
    done: BTreeSet<String>,
    /// From the garment's own to the one in hand.
    chain: Vec<String>,
    pub modules: BTreeMap<String, Module>,
    /// By who asks (empty: the garment): the parts asked for.
    pub asked: BTreeMap<String, BTreeSet<String>>,
    pub faults: Diagnostics,
}

/// Who asks for parts, and where it says so.
pub(crate) struct Asker<'a> {
    /// The name of a part, empty for the garment.
    pub name: &'a str,
    pub manifest: &'a Manifest,
    /// The file and the text of its manifest.
    pub file: &'a str,
    pub text: &'a str,
}

impl<'a> Library<'a> {
    pub fn new(
        sources: &'a BTreeMap<String, PluginSource>,
        known: &'a [String],
        api: u32,
    ) -> Library<'a> {
        Library {
            sources,
            known,
            api,
            done: BTreeSet::new(),
            chain: Vec::new(),
            modules: BTreeMap::new(),
            asked: BTreeMap::new(),
            faults: Diagnostics::new(),
        }
    }

    /// Takes in what `asker` asks for, and what that asks for.
    pub fn take(&mut self, asker: &Asker<'_>) {
        let names = asker.manifest.parts.keys().cloned().collect();
        self.asked.insert(asker.name.to_owned(), names);
        for (name, wanted) in &asker.manifest.parts {
            if let Some(at) = self.chain.iter().position(|each| each == name) {
                let mut ring: Vec<&str> = self.chain[at..].iter().map(String::as_str).collect();
                ring.push(name);
                let message = format!("parts ask for one another in a ring: {}", ring.join(" -> "));
                self.push(asker, name, message, "move what both need into a third part");
                continue;
            }
            self.part(asker, name, *wanted);
        }
    }

    fn part(&mut self, asker: &Asker<'_>, name: &str, wanted: u32) {
        let Some(source) = self.sources.get(name) else {
            let hint = match nearest(name, self.known.iter().map(String::as_str)) {
                Some(near) => format!("did you mean `{near}`?"),
                None if self.known.is_empty() => "there are no parts at hand".to_owned(),
                None => format!("the parts are {}", self.known.join(", ")),
            };
            return self.push(asker, name, format!("there is no part `{name}`"), &hint);
        };
        let file = format!("{}/{}", source.folder, ManifestKind::Part.file());
        let Some((manifest, text)) = self.manifest(name, source, &file) else { return };
        if major(&manifest.version) != Some(wanted) {
            let message = format!(
                "part `{name}` is at version {} here, and version {wanted} is asked for",
                manifest.version
            );
            let hint = format!(
                "see {}/README.md for what changed, or put version {wanted} into garments/parts/{name}",
                source.folder
            );
            self.push(asker, name, message, &hint);
        }
        if manifest.api != self.api {
            let message = format!(
                "part `{name}` is written for script API {}, and the garment for API {}",
                manifest.api, self.api
            );
            let hint = format!("set `api = {}` in plugin.toml, or take another part", manifest.api);
            self.push(asker, name, message, &hint);
        }
        if !self.done.insert(name.to_owned()) {
            return;
        }
        if self.done.len() > MOST_PARTS {
            let message = format!("the garment is made with more than {MOST_PARTS} parts");
            return self.push(asker, name, message, "join some of them");
        }
        self.compile(name, source);
        self.chain.push(name.to_owned());
        self.take(&Asker { name, manifest: &manifest, file: &file, text: &text });
        self.chain.pop();
    }

    /// What part.toml says. Faults in it are told once, whoever asks.
    fn manifest(
        &mut self,
        name: &str,
        source: &PluginSource,
        file: &str,
    ) -> Option<(Manifest, String)> {
        let first = !self.done.contains(name);
        let bytes = source.files.get(ManifestKind::Part.file()).cloned().unwrap_or_default();
        let read = utf8(&source.folder, ManifestKind::Part.file(), &bytes)
            .map_err(Diagnostics::from)
            .and_then(|text| {
                Manifest::read(ManifestKind::Part, file, &text, None)
                    .map(|manifest| (manifest, text))
            });
        match read {
            Ok((manifest, text)) if manifest.id == name => Some((manifest, text)),
            Ok((manifest, text)) => {
                let fault = Diagnostic::error(
                    Code::PluginPart,
                    format!("the part in folder `{name}` calls itself `{}`", manifest.id),
                )
                .hint("give both the same name");
                let span = Declared::Key("id").span(&text).unwrap_or(0..0);
                self.told(first, fault.at(Place::from_span(file, &text, span)).into());
                self.done.insert(name.to_owned());
                None
            }
            Err(faults) => {
                self.told(first, faults);
                self.done.insert(name.to_owned());
                None
            }
        }
    }

    fn told(&mut self, first: bool, faults: Diagnostics) {
        if first {
            self.faults.extend(faults);
        }
    }

    fn compile(&mut self, name: &str, source: &PluginSource) {
        let mut sources: Vec<(&String, &Vec<u8>)> =
            source.files.iter().filter(|(path, _)| is_source(path)).collect();
        if !source.files.contains_key(INIT) {
            let fault = Diagnostic::error(
                Code::PluginMissing,
                format!("{} has no `{INIT}`", source.folder),
            );
            self.faults.push(fault.hint("a part is a folder with part.toml and init.luau"));
        }
        if sources.len() > MOST_MODULES {
            let message = format!(
                "{} has {} .luau files, over the {MOST_MODULES} allowed",
                source.folder,
                sources.len()
            );
            let fault = Diagnostic::error(Code::ScriptSize, message).hint("join some of them");
            self.faults.push(fault);
            sources.clear();
        }
        for (path, bytes) in sources {
            match compile(&source.folder, path, bytes) {
                Ok(module) => {
                    self.modules.insert(part_module(name, path), module);
                }
                Err(fault) => self.faults.push(fault),
            }
        }
    }

    /// Notes what is wrong with a part, where it is asked for.
    fn push(&mut self, asker: &Asker<'_>, name: &str, message: String, hint: &str) {
        let span = Declared::Name("parts", name).span(asker.text).unwrap_or(0..0);
        let fault = Diagnostic::error(Code::PluginPart, message).hint(hint);
        self.faults.push(fault.at(Place::from_span(asker.file, asker.text, span)));
    }
}
