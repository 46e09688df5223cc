use std::collections::BTreeMap;
use std::sync::Arc;

use diag::{Code, Diagnostic, Diagnostics, Place};

use super::code::{INIT, Sources, compile, utf8};
use super::manifest::{Declared, FIX, Manifest};

/// The bytes of a plugin folder, as `store` read them.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PluginSource {
    /// What to show before a file name: `plugins/tam`.
    pub folder: String,
    /// By path inside the folder, with `/`.
    pub files: BTreeMap<String, Vec<u8>>,
}

/// A plugin that may be run: its manifest is checked and its sources are compiled. Cheap to
/// clone and to share between threads.
#[derive(Clone, Debug)]
pub struct Plugin {
    /// What plugin.toml says, checked.
    pub manifest: Arc<Manifest>,
    pub(crate) code: Arc<Sources>,
}

const MANIFEST: &str = "plugin.toml";
/// More sources than any garment needs.
const MOST_MODULES: usize = 64;

impl Plugin {
    /// Checks the manifest and compiles every `.luau` file. Runs no code of the plugin.
    /// `known_measures` are the body measures a manifest may ask for.
    ///
    /// # Errors
    /// All faults of the manifest and of the sources, each at file:line.
    pub fn load(source: PluginSource, known_measures: &[&str]) -> Result<Plugin, Diagnostics> {
        let folder = source.folder;
        let mut faults = Diagnostics::new();
        let mut manifest_text = String::new();
        let manifest = match source.files.get(MANIFEST) {
            None => Err(missing(&folder, MANIFEST).into()),
            Some(bytes) => {
                utf8(&folder, MANIFEST, bytes).map_err(Diagnostics::from).and_then(|text| {
                    manifest_text.clone_from(&text);
                    Manifest::parse(&format!("{folder}/{MANIFEST}"), &text, known_measures)
                })
            }
        };
        let manifest = manifest.map_err(|found| faults.extend(found)).ok();
        if faults.iter().any(|f| f.code == Code::PluginApi) {
            // Written for another API: complaints about its code would mislead.
            return Err(faults);
        }
        let mut modules = BTreeMap::new();
        let sources: Vec<_> =
            source.files.into_iter().filter(|(path, _)| is_source(path)).collect();
        if !sources.iter().any(|(path, _)| path == INIT) {
            faults.push(missing(&folder, INIT));
        }
        if sources.len() > MOST_MODULES {
            faults.push(
                Diagnostic::error(
                    Code::ScriptSize,
                    format!(
                        "{folder} has {} .luau files, over the {MOST_MODULES} allowed",
                        sources.len()
                    ),
                )
                .hint("join some of them"),
            );
            return Err(faults);
        }
        for (path, bytes) in sources {
            match compile(&folder, &path, &bytes) {
                Ok(module) => {
                    modules.insert(path, module);
                }
                Err(fault) => faults.push(fault),
            }
        }
        match manifest {
            Some(manifest) => faults.into_result(Plugin {
                manifest: Arc::new(manifest),
                code: Arc::new(Sources { folder, manifest: manifest_text, modules }),
            }),
            None => Err(faults),
        }
    }

    /// Where a step came from: its [`line`](knit::program::Step::line) in `init.luau`.
    /// `None` for line 0, a step made without the constructors.
    pub fn place(&self, line: u32) -> Option<Place> {
        (line > 0).then(|| self.code.place(INIT, line as usize)).flatten()
    }

    /// Where plugin.toml says it. `None` for what it doesn't say.
    pub fn declared_at(&self, what: Declared<'_>) -> Option<Place> {
        let span = what.span(&self.code.manifest)?;
        let file = format!("{}/{MANIFEST}", self.code.folder);
        Some(Place::from_span(&file, &self.code.manifest, span))
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

    /// Whether a choice of that name is one of its options, or fixes a number it may decide.
    pub fn takes(&self, choice: &str) -> bool {
        match choice.strip_prefix(FIX) {
            Some(decision) => self.decides(decision),
            None => self.manifest.options.iter().any(|option| option.name == choice),
        }
    }

    /// The first line of a module, by its path in the folder.
    pub fn module_at(&self, module: &str) -> Option<Place> {
        self.code.place(module, 1)
    }

    /// Paths of the modules, init.luau among them.
    pub fn modules(&self) -> impl Iterator<Item = &str> {
        self.code.modules.keys().map(String::as_str)
    }
}

/// What is compiled: not the stubs an editor reads (`*.d.luau`).
fn is_source(path: &str) -> bool {
    path.ends_with(".luau") && !path.ends_with(".d.luau")
}

fn missing(folder: &str, file: &str) -> Diagnostic {
    Diagnostic::error(Code::PluginMissing, format!("{folder} has no `{file}`"))
        .hint("a garment is a folder with plugin.toml and init.luau")
}
