use super::reading::{LinkKind, NAMES, is_name};
use diag::{Code, Diagnostic};
use knit::body::SizeGroup;
use knit::stash::Contents;

/// What has a name that other places in a workspace point to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Named {
    Yarn,
    Remnant,
    Swatch,
    Person,
    Knitter,
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
            Named::Knitter => LinkKind::Knitter,
            Named::Gift => LinkKind::Gift,
        }
    }

    /// The folder in which a file has that name, where the name is a file's.
    pub(super) const fn folder(self) -> Option<&'static str> {
        match self {
            Named::Yarn => Some("yarns"),
            Named::Swatch => Some("swatches"),
            Named::Remnant | Named::Person | Named::Knitter | Named::Gift => None,
        }
    }

    /// Whether a word of that kind may say the name.
    pub(super) fn is_said_by(self, kind: LinkKind) -> bool {
        kind == self.kind()
            || (self == Named::Person && matches!(kind, LinkKind::Wearer | LinkKind::KeptFor))
            || (self == Named::Gift && kind == LinkKind::KeptFor)
            || (self == Named::Yarn && kind == LinkKind::KnittedIn)
    }
}

/// Refuses what can't be a person's name: nothing, several lines, and what sizes are called by, since
/// a record's `size` says either.
///
/// # Errors
/// Such a name.
pub fn can_be_a_person(contents: &Contents, name: &str) -> Result<(), Diagnostic> {
    let name = name.trim();
    if !is_name(name) {
        let told = Diagnostic::error(Code::Name, "this can't be a person's name").hint(NAMES);
        let shown: String = name.lines().next().unwrap_or_default().chars().take(40).collect();
        let told = if shown == name { told } else { told.context(format!("it begins `{shown}`")) };
        return Err(told);
    }
    let word = name.to_lowercase();
    let groups = SizeGroup::ALL.iter().any(|group| group.name() == word);
    if groups || word == "all" || word.contains("..") || word.contains(',') {
        let fault = format!("`{name}` names sizes, and can't be a person's name");
        return Err(Diagnostic::error(Code::Name, fault)
            .hint("sizes are named wherever a person can be: choose another name"));
    }
    match contents.sizes.get(&word) {
        Some(size) => {
            let fault =
                format!("`{name}` is a size ({}), and can't be a person's name", size.label);
            Err(Diagnostic::error(Code::Name, fault)
                .hint("a size is named wherever a person can be: choose another name"))
        }
        None => Ok(()),
    }
}
