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
