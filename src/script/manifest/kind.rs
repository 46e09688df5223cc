/// Which of the two manifests a text is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ManifestKind {
    Garment,
    Part,
}

impl ManifestKind {
    /// The name of its file.
    pub const fn file(self) -> &'static str {
        match self {
            ManifestKind::Garment => "plugin.toml",
            ManifestKind::Part => "part.toml",
        }
    }

    /// What it is of.
    pub const fn noun(self) -> &'static str {
        match self {
            ManifestKind::Garment => "garment",
            ManifestKind::Part => "part",
        }
    }
}
