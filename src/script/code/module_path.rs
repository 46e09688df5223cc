/// What no path in a folder begins with: before the name of a part.
const PART: char = '@';

/// What a module of a part is called among those of a garment.
pub(crate) fn part_module(part: &str, path: &str) -> String {
    format!("{PART}{part}/{path}")
}

/// The part a module is of, empty for the garment's own, and its path there.
pub(crate) fn split_module(module: &str) -> (&str, &str) {
    module.strip_prefix(PART).and_then(|rest| rest.split_once('/')).unwrap_or(("", module))
}

/// A module as messages show it.
pub(crate) fn shown_module(module: &str) -> String {
    match split_module(module) {
        ("", path) => path.to_owned(),
        (part, path) => format!("parts/{part}/{path}"),
    }
}

/// What is compiled: not the stubs an editor reads (`*.d.luau`).
pub(crate) fn is_source(path: &str) -> bool {
    path.ends_with(".luau") && !path.ends_with(".d.luau")
}

/// Whether a file may be required: plain names in folders, nothing that climbs.
pub(crate) fn is_module_path(path: &str) -> bool {
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
