use super::reading::LinkKind;

/// What has a name that other places in a workspace point to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Named {
    Yarn,
    Remnant,
    Swatch,
    Person,
    Gift,
}

impl Named {
    /// In a sentence.
    pub const fn word(self) -> &'static str {
        self.kind().words().0
    }

    pub(super) const fn kind(self) -> LinkKind {
        match self {
            Named::Yarn => LinkKind::Yarn,
            Named::Remnant => LinkKind::Remnant,
            Named::Swatch => LinkKind::Swatch,
            Named::Person => LinkKind::Person,
            Named::Gift => LinkKind::Gift,
        }
    }

    /// The folder in which a file has that name, where the name is a file's.
    pub(super) const fn folder(self) -> Option<&'static str> {
        match self {
            Named::Yarn => Some("yarns"),
            Named::Swatch => Some("swatches"),
            Named::Remnant | Named::Person | Named::Gift => None,
        }
    }

    /// Whether a word of that kind may say the name.
    pub(super) fn is_said_by(self, kind: LinkKind) -> bool {
        kind == self.kind() || (self == Named::Person && kind == LinkKind::Wearer)
    }
}
