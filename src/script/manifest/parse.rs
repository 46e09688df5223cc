use toml::de::DeTable;

use diag::{Code, Diagnostic, Diagnostics};

use super::kind::ManifestKind;
use super::manifest::Manifest;
use super::toml_table::{ManifestReader, TomlTable};

impl Manifest {
    /// Reads and checks `text`. `file` is only a name to show.
    ///
    /// # Errors
    /// Every fault, each at its key or value; only the one sentence on `api` when that does not
    /// fit, since nothing else can then be judged.
    pub fn parse(file: &str, text: &str, known_measures: &[&str]) -> Result<Manifest, Diagnostics> {
        Manifest::read(ManifestKind::Garment, file, text, Some(known_measures))
    }

    /// The same, of a garment or of a part. Without `known_measures` any may be asked for: what a part's
    /// sample measures is nothing to those who are made with the part.
    pub(crate) fn read(
        kind: ManifestKind,
        file: &str,
        text: &str,
        known_measures: Option<&[&str]>,
    ) -> Result<Manifest, Diagnostics> {
        let (root, syntax) = DeTable::parse_recoverable(text);
        let mut reader =
            ManifestReader { kind, file, text, faults: Diagnostics::new(), misspelt: Vec::new() };
        for error in syntax {
            let fault = Diagnostic::error(Code::PluginToml, error.message().trim().to_owned());
            reader.faults.push_placed(fault, file, text, error.span().unwrap_or(0..0));
        }
        if reader.faults.has_errors() {
            return Err(reader.faults);
        }
        let root = TomlTable { table: root.get_ref(), span: 0..0, what: kind.file() };
        if let Some(fault) = reader.api_misfit(&root) {
            return Err(fault.into());
        }
        let manifest = reader.manifest(&root, known_measures);
        reader.faults.into_result(manifest)
    }
}
