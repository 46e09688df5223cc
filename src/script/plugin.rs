use std::collections::BTreeMap;
use std::sync::Arc;

use diag::{Code, Diagnostic, Diagnostics, Place};

use super::code::{INIT, Module, Sources, compile, is_source, split_module, utf8};
use super::garment_source::GarmentSource;
use super::manifest::{Declared, FIX, IN_TURN, Manifest, ManifestKind, major};
use super::parts::{Asker, Library, MOST_MODULES};
use super::plugin_source::PluginSource;

/// A plugin that may be run: its manifest is checked and its sources are compiled. Cheap to
/// clone and to share between threads.
#[derive(Clone, Debug)]
pub struct Plugin {
    /// What plugin.toml says, checked.
    pub manifest: Arc<Manifest>,
    pub(crate) code: Arc<Sources>,
}

/// What a part's cases knit: a garment made with the part.
const SAMPLE: &str = "sample.luau";

impl Plugin {
    /// Checks the manifest, and compiles every `.luau` file and the parts it is made with. Runs no code.
    /// `known_measures` are the body measures a manifest may ask for. The folder of a part is loaded as
    /// the garment that its sample is.
    ///
    /// # Errors
    /// All faults of the manifests and of the sources, each at file:line.
    pub fn load(
        source: impl Into<GarmentSource>,
        known_measures: &[&str],
    ) -> Result<Plugin, Diagnostics> {
        let source = source.into();
        let has = |file: &str| source.own.files.contains_key(file);
        if has(ManifestKind::Part.file()) && !has(ManifestKind::Garment.file()) {
            return Plugin::load_sample(source, known_measures);
        }
        let folder = &source.own.folder;
        let mut faults = Diagnostics::new();
        let read = Plugin::manifest(ManifestKind::Garment, &source.own, known_measures);
        let (manifest, text) = read.map_err(|found| faults.extend(found)).ok().unzip();
        if faults.iter().any(|f| f.code == Code::PluginApi) {
            // Written for another API: complaints about its code would mislead.
            return Err(faults);
        }
        let sources: Vec<_> = source.own.files.iter().filter(|(path, _)| is_source(path)).collect();
        if !sources.iter().any(|(path, _)| *path == INIT) {
            faults.push(missing(folder, INIT));
        }
        if sources.len() > MOST_MODULES {
            let message = format!(
                "{folder} has {} .luau files, over the {MOST_MODULES} allowed",
                sources.len()
            );
            faults.push(Diagnostic::error(Code::ScriptSize, message).hint("join some of them"));
            return Err(faults);
        }
        let mut modules = BTreeMap::new();
        for (path, bytes) in sources {
            match compile(folder, path, bytes) {
                Ok(module) => {
                    modules.insert(path.clone(), module);
                }
                Err(fault) => faults.push(fault),
            }
        }
        let (Some(manifest), Some(text)) = (manifest, text) else { return Err(faults) };
        let made = Made { kind: ManifestKind::Garment, manifest, text, modules, faults };
        made.with_parts(&source)
    }

    /// The garment that the sample of a part is.
    fn load_sample(
        mut source: GarmentSource,
        known_measures: &[&str],
    ) -> Result<Plugin, Diagnostics> {
        let folder = &source.own.folder;
        let (mut manifest, text) =
            Plugin::manifest(ManifestKind::Part, &source.own, known_measures)?;
        let mut faults = Diagnostics::new();
        let mut modules = BTreeMap::new();
        match source.own.files.get(SAMPLE).map(|bytes| compile(folder, SAMPLE, bytes)) {
            Some(Ok(module)) => {
                modules.insert(INIT.to_owned(), module);
            }
            Some(Err(fault)) => faults.push(fault),
            None => faults.push(
                Diagnostic::error(Code::PluginMissing, format!("{folder} has no `{SAMPLE}`")).hint(
                    "like init.luau of a garment, it returns a function: the cases knit what it makes with the part",
                ),
            ),
        }
        // The sample is made with the part itself, and may use what that uses.
        if let Some(major) = major(&manifest.version) {
            manifest.parts.insert(manifest.id.clone(), major);
        }
        let mut part = source.own.clone();
        part.files.remove(SAMPLE);
        source.parts.insert(manifest.id.clone(), part);
        let made = Made { kind: ManifestKind::Part, manifest, text, modules, faults };
        made.with_parts(&source)
    }

    fn manifest(
        kind: ManifestKind,
        source: &PluginSource,
        known_measures: &[&str],
    ) -> Result<(Manifest, String), Diagnostics> {
        let (folder, file) = (&source.folder, kind.file());
        let bytes = source.files.get(file).ok_or_else(|| missing(folder, file))?;
        let text = utf8(folder, file, bytes)?;
        let manifest =
            Manifest::read(kind, &format!("{folder}/{file}"), &text, Some(known_measures))?;
        Ok((manifest, text))
    }

    /// Where a step came from: its [`line`](knit::program::Step::line) in `init.luau`.
    /// `None` for line 0, a step made without the constructors.
    pub fn place(&self, line: u32) -> Option<Place> {
        (line > 0).then(|| self.code.place(INIT, line as usize)).flatten()
    }

    /// Where plugin.toml says it. `None` for what it doesn't say.
    pub fn declared_at(&self, what: Declared<'_>) -> Option<Place> {
        let span = what.span(&self.code.manifest)?;
        Some(Place::from_span(&self.code.manifest_file, &self.code.manifest, span))
    }

    /// The first line of the sources that holds `word` as a whole word, init.luau first. A line
    /// that gives something that name goes before one where it is a key or a text, and that before
    /// one where it is, say, in a comment.
    pub fn mentioned_at(&self, word: &str) -> Option<Place> {
        self.code.find_name(word)
    }

    /// Whether a number of that name stands in the sources as one that may be decided: a key with a
    /// table, or a `name`. Which a script decides for a size is known when it has run.
    pub fn decides(&self, name: &str) -> bool {
        self.manifest.api > 1 && self.code.declares(name)
    }

    /// The numbers that its own modules write out to be decided, each where it stands first. A name that is
    /// put together while the script runs is not among them.
    pub fn decisions_in_sources(&self) -> Vec<(String, Place)> {
        if self.manifest.api < 2 { Vec::new() } else { self.code.decisions() }
    }

    /// Whether a choice of that name is one of its options, fixes a number it may decide, or has a
    /// section of it knitted in turn.
    pub fn takes(&self, choice: &str) -> bool {
        if let Some(section) = choice.strip_prefix(IN_TURN) {
            return self.manifest.sections.iter().any(|own| own.name == section);
        }
        match choice.strip_prefix(FIX) {
            Some(decision) => self.decides(decision),
            None => {
                self.manifest.is_by_hand(choice)
                    || self.manifest.options.iter().any(|option| option.name == choice)
            }
        }
    }

    /// The first line of a module, by its path in the folder.
    pub fn module_at(&self, module: &str) -> Option<Place> {
        self.code.place(module, 1)
    }

    /// Paths of the modules, init.luau among them; those of parts are not.
    pub fn modules(&self) -> impl Iterator<Item = &str> {
        self.code.modules.keys().map(String::as_str).filter(|name| split_module(name).0.is_empty())
    }

    /// Whether it is the sample of a part.
    pub fn is_sample(&self) -> bool {
        self.code.manifest_file.ends_with(ManifestKind::Part.file())
    }
}

/// A garment whose own files are read and compiled.
struct Made {
    kind: ManifestKind,
    manifest: Manifest,
    text: String,
    modules: BTreeMap<String, Module>,
    faults: Diagnostics,
}

impl Made {
    /// The plugin, with the parts that it asks for.
    fn with_parts(mut self, source: &GarmentSource) -> Result<Plugin, Diagnostics> {
        let file = format!("{}/{}", source.own.folder, self.kind.file());
        let mut library = Library::new(&source.parts, &source.known_parts, self.manifest.api);
        let asker = Asker { name: "", manifest: &self.manifest, file: &file, text: &self.text };
        library.take(&asker);
        let Library { modules, asked, faults, .. } = library;
        self.faults.extend(faults);
        self.modules.extend(modules);
        self.faults.into_result(Plugin {
            manifest: Arc::new(self.manifest),
            code: Arc::new(Sources {
                manifest_file: file,
                manifest: self.text,
                modules: self.modules,
                parts: asked,
            }),
        })
    }
}

fn missing(folder: &str, file: &str) -> Diagnostic {
    Diagnostic::error(Code::PluginMissing, format!("{folder} has no `{file}`"))
        .hint("a garment is a folder with plugin.toml and init.luau")
}
