//! What is wrong with a garment's folder and its cases, beside what the script does.

use super::placed;
use crate::Workbench;
use diag::{Code, Diagnostic, Diagnostics, Place};
use script::{Declared, Plugin, PluginSource};

impl Workbench {
    /// What is wrong with the cases: unreadable, of another garment, not what comes out.
    pub(super) fn case_faults(
        &self,
        plugin: &Plugin,
        cases: Vec<(String, Result<store::CaseFile, Diagnostics>)>,
    ) -> Result<Diagnostics, Diagnostics> {
        let mut faults = Diagnostics::new();
        if cases.is_empty() {
            faults.push(placed(
                Diagnostic::warning(
                    Code::NoCases,
                    "the garment has no cases: nothing tells when it changes",
                )
                .hint("add cases/NAME.toml with a size and what should come of it"),
                plugin.declared_at(Declared::Key("id")),
            ));
        }
        for outcome in self.run_cases(plugin, cases)? {
            faults.extend(outcome.faults);
            let Some(file) = outcome.file else { continue };
            for difference in outcome.differences {
                let key = &difference.what;
                let fault = match difference.unknown {
                    Some(hint) => Diagnostic::error(
                        Code::CaseStale,
                        format!("the garment gives no {}", words(key)),
                    )
                    .hint(hint),
                    None => Diagnostic::error(
                        Code::CaseFails,
                        format!(
                            "{key} should be {} and is {}",
                            difference.expected, difference.got
                        ),
                    )
                    .hint("`oddments garment test` shows all that differs"),
                };
                faults.push(fault.at(file.place(key)));
            }
        }
        Ok(faults)
    }
}

/// `counts.wedges` in words.
fn words(key: &str) -> String {
    match key.split_once('.') {
        Some(("counts", name)) => format!("count `{name}`"),
        Some((_, name)) => format!("finished measure `{name}`"),
        None => format!("`{key}`"),
    }
}

pub(super) fn folder_faults(source: &PluginSource, plugin: &Plugin) -> Diagnostics {
    let mut faults = Diagnostics::new();
    let id = plugin.declared_at(Declared::Key("id"));
    if !source.files.contains_key("README.md") {
        faults.push(placed(
            Diagnostic::warning(Code::NoReadme, "the garment has no README.md")
                .hint("tell knitters what it is, how it is made and what may be chosen"),
            id.clone(),
        ));
    }
    let folder = std::path::Path::new(&source.folder).file_name().and_then(|name| name.to_str());
    if let Some(folder) = folder
        && folder != plugin.manifest.id
        && folder != "."
    {
        faults.push(placed(
            Diagnostic::warning(
                Code::OtherFolder,
                format!("garment `{}` lies in a folder called `{folder}`", plugin.manifest.id),
            )
            .hint("with --garments it is found by its folder's name: give both the same"),
            id,
        ));
    }
    for path in source.files.keys().filter(|path| path.ends_with(".lua")) {
        faults.push(
            Diagnostic::warning(Code::NotRead, format!("`{path}` is never read"))
                .hint(format!("call it `{path}u` to require it"))
                .at(Place::from_line(&format!("{}/{path}", source.folder), "", 1)),
        );
    }
    faults
}
