/// What of a finished piece the knitter stands by, however odd it looks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Sure {
    /// What it weighed.
    pub grams: bool,
    /// The minutes it took.
    pub minutes: bool,
}

impl Sure {
    /// All of it.
    pub const ALL: Sure = Sure { grams: true, minutes: true };
    /// What may be named, as in files.
    pub const NAMES: [&str; 2] = ["grams", "minutes"];

    /// The part of that name, in files and at the keyboard.
    pub fn named(name: &str) -> Option<Sure> {
        match name {
            "grams" => Some(Sure { grams: true, minutes: false }),
            "minutes" => Some(Sure { grams: false, minutes: true }),
            _ => None,
        }
    }

    /// What either stands by.
    #[must_use]
    pub const fn or(self, other: Sure) -> Sure {
        Sure { grams: self.grams || other.grams, minutes: self.minutes || other.minutes }
    }

    /// The parts by name.
    pub fn names(self) -> impl Iterator<Item = &'static str> {
        let [grams, minutes] = Sure::NAMES;
        let own = [(self.grams, grams), (self.minutes, minutes)];
        own.into_iter().filter(|(sure, _)| *sure).map(|(_, name)| name)
    }
}
