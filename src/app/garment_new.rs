use std::path::{Path, PathBuf};

use super::Workbench;
use super::workbench::load;
use diag::{Code, Diagnostic, Diagnostics, Severity};
use script::{Manifest, Plugin, PluginSource, is_garment_id, reference};

/// The types of the script API for the very garment, for editors. Not run: `Plugin::load` passes `*.d.luau`
/// over.
const STUBS: &str = "oddments.d.luau";

impl Workbench {
    /// Makes the folder of a garment to begin with, and gives where it is.
    ///
    /// # Errors
    /// A name that can't be a garment's, something of that name already there, a parent that
    /// can't be written.
    pub fn new_garment(&self, name: &str, parent: &Path) -> Result<PathBuf, Diagnostics> {
        if !is_garment_id(name) {
            let near = Some(slug(name)).filter(|near| is_garment_id(near));
            return Err(Diagnostic::error(
                Code::GarmentName,
                format!("`{name}` can't be a garment's name"),
            )
            .maybe_hint(near.map(|near| format!("`{near}` can")))
            .hint("begin with a letter and use a to z, 0 to 9 and `-`, 40 at most")
            .into());
        }
        let mut files = store::new_garment_files(name, &title(name));
        let bytes = files.iter().map(|(path, text)| (path.clone(), text.clone().into_bytes()));
        let source = PluginSource { folder: name.to_owned(), files: bytes.collect() };
        let stubs = self.stubs_of(&load(source.into(), &self.sizes)?.manifest);
        files.push((STUBS.to_owned(), stubs));
        Ok(store::write_new_folder(parent, name, &files)?)
    }

    /// What an editor needs to know of one garment: its own measures and options, and the measures of the
    /// size tables in force.
    fn stubs_of(&self, manifest: &Manifest) -> String {
        reference::garment_stubs(manifest, self.sizes_knowing(manifest).known())
    }

    /// Writes the stubs in a garment's folder anew where they are there and no longer right. An author who
    /// took them out is left without.
    pub(super) fn renew_stubs(&self, folder: &Path, plugin: &Plugin) -> Option<Diagnostic> {
        let path = folder.join(STUBS);
        let stubs = self.stubs_of(&plugin.manifest);
        let there = store::read_text(&path).ok()?;
        if there == stubs {
            return None;
        }
        let fault = store::write_output(&path, stubs.as_bytes()).err()?;
        Some(Diagnostic { severity: Severity::Warning, ..fault })
    }
}

/// The nearest name: what is not a letter or digit becomes a hyphen.
fn slug(name: &str) -> String {
    let lower = name.trim().to_lowercase();
    let words: Vec<&str> =
        lower.split(|c: char| !c.is_ascii_alphanumeric()).filter(|w| !w.is_empty()).collect();
    words.join("-").trim_start_matches(|c: char| c.is_ascii_digit() || c == '-').to_owned()
}

/// `sea-band` as people read it: "Sea band".
fn title(id: &str) -> String {
    let words = id.replace('-', " ");
    let mut letters = words.trim().chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bad_name_becomes_the_nearest_good_one() {
        assert_eq!(slug("Sea Band!"), "sea-band");
        assert_eq!(slug("2nd_hat"), "nd-hat");
        assert_eq!(title("sea-band"), "Sea band");
    }
}
