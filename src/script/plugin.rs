use std::collections::BTreeMap;
use std::sync::Arc;

use mlua::chunk::Compiler;

use diag::{Code, Diagnostic, Diagnostics, Place};

use super::limits::MOST_SOURCE_BYTES;
use super::manifest::{Declared, Manifest};
use super::sandbox;

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
    pub manifest: Arc<Manifest>,
    pub(super) code: Arc<Sources>,
}

#[derive(Debug)]
pub(super) struct Sources {
    pub folder: String,
    /// The text of plugin.toml, for placing what is said about it later.
    pub manifest: String,
    /// By file name inside the folder, `init.luau` among them.
    pub modules: BTreeMap<String, Module>,
}

#[derive(Debug)]
pub(super) struct Module {
    pub text: String,
    /// Compiled here from `text`, never read from a file: the machine trusts bytecode blindly.
    pub bytecode: Vec<u8>,
}

pub(super) const INIT: &str = "init.luau";
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

    /// The first line of a module, by its path in the folder.
    pub fn module_at(&self, module: &str) -> Option<Place> {
        self.code.place(module, 1)
    }

    /// Paths of the modules, init.luau among them.
    pub fn modules(&self) -> impl Iterator<Item = &str> {
        self.code.modules.keys().map(String::as_str)
    }
}

impl Sources {
    pub fn place(&self, module: &str, line: usize) -> Option<Place> {
        let file = format!("{}/{module}", self.folder);
        self.modules.get(module).map(|m| Place::from_line(&file, &m.text, line))
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
        modules.sort_by_key(|(name, _)| *name != INIT);
        modules.into_iter().find_map(|(name, module)| {
            let found = module.text.match_indices(word).filter(|(at, _)| {
                let (before, after) = (&module.text[..*at], &module.text[at + word.len()..]);
                !before.ends_with(inner) && !after.starts_with(inner)
            });
            let all: Vec<usize> = found.map(|(at, _)| at).collect();
            let at = pick(&module.text, &all)?;
            let file = format!("{}/{name}", self.folder);
            Some(Place::from_span(&file, &module.text, at..at + word.len()))
        })
    }
}

/// Whether a character may stand inside a name.
fn inner(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// What is compiled: not the stubs an editor reads (`*.d.luau`).
fn is_source(path: &str) -> bool {
    path.ends_with(".luau") && !path.ends_with(".d.luau")
}

fn missing(folder: &str, file: &str) -> Diagnostic {
    Diagnostic::error(Code::PluginMissing, format!("{folder} has no `{file}`"))
        .hint("a garment is a folder with plugin.toml and init.luau")
}

fn utf8(folder: &str, path: &str, bytes: &[u8]) -> Result<String, Diagnostic> {
    let refuse = |code, message: String, hint: &str| {
        Err(Diagnostic::error(code, message).hint(hint).at(Place::from_line(
            &format!("{folder}/{path}"),
            "",
            1,
        )))
    };
    if bytes.len() > MOST_SOURCE_BYTES {
        return refuse(
            Code::ScriptSize,
            format!(
                "`{path}` has {} KB, over the {} KB allowed",
                bytes.len() / 1024,
                MOST_SOURCE_BYTES / 1024
            ),
            "split it into modules, or compute what it lists",
        );
    }
    // Compiled chunks start with a low version byte or an escape; no text holds either.
    if bytes.iter().any(|b| *b < 0x20 && !matches!(b, b'\t' | b'\n' | b'\r' | 0x0c)) {
        return refuse(
            Code::ScriptBinary,
            format!("`{path}` is not a text: it holds control bytes"),
            "only source text is run, never a compiled chunk",
        );
    }
    match String::from_utf8(bytes.to_vec()) {
        Ok(text) => Ok(text),
        Err(error) => {
            let line = bytes[..error.utf8_error().valid_up_to()].split(|b| *b == b'\n').count();
            Err(Diagnostic::error(Code::ScriptUtf8, format!("`{path}` is not UTF-8 text"))
                .hint("save it as UTF-8")
                .at(Place::from_line(
                    &format!("{folder}/{path}"),
                    &String::from_utf8_lossy(bytes),
                    line,
                )))
        }
    }
}

fn compile(folder: &str, path: &str, bytes: &[u8]) -> Result<Module, Diagnostic> {
    if !is_module_path(path) {
        return Err(Diagnostic::error(
            Code::ScriptRequire,
            format!("`{path}` can't be the name of a module"),
        )
        .hint("use a to z, 0 to 9, `_` and `-`, at most 100 in all"));
    }
    let text = utf8(folder, path, bytes)?;
    let compiler = Compiler::new()
        // No inlining: line numbers stay those of the source.
        .set_optimization_level(1)
        .set_debug_level(1)
        .set_disabled_builtins(sandbox::REPLACED);
    match compiler.compile(&text) {
        Ok(bytecode) => Ok(Module { text, bytecode }),
        Err(error) => {
            let message = match error {
                mlua::Error::SyntaxError { message, .. } => message,
                other => other.to_string(),
            };
            let (line, message) = message
                .trim_start_matches(':')
                .split_once(':')
                .and_then(|(line, rest)| Some((line.trim().parse().ok()?, rest.trim())))
                .unwrap_or((1, message.as_str()));
            Err(Diagnostic::error(Code::ScriptCompile, format!("this is not Luau: {message}"))
                .at(Place::from_line(&format!("{folder}/{path}"), &text, line))
                .hint("the mistake is often on the line before"))
        }
    }
}

/// Whether a file may be required: plain names in folders, nothing that climbs.
pub(super) fn is_module_path(path: &str) -> bool {
    path.len() <= 100
        && path.strip_suffix(".luau").is_some_and(|stem| {
            stem.split('/').all(|part| {
                !part.is_empty()
                    && part.chars().all(|c| {
                        c.is_ascii_lowercase() || c.is_ascii_digit() || matches!(c, '_' | '-')
                    })
            })
        })
}
