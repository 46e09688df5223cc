/// A file that is a list of entries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum List {
    Stash,
    People,
    Knitters,
    Gifts,
    Records,
    Plan,
}

impl List {
    pub(crate) const fn path(self) -> &'static str {
        match self {
            List::Stash => "stash.toml",
            List::People => "people.toml",
            List::Knitters => "knitters.toml",
            List::Gifts => "gifts.toml",
            List::Records => "records.toml",
            List::Plan => "plan.toml",
        }
    }

    /// The name of its tables, and the key an entry is known by. Records and what is set aside have none: of
    /// the records a change names the number, from one.
    pub(crate) const fn names(self) -> (&'static str, &'static str) {
        match self {
            List::Stash => ("remnant", "id"),
            List::People => ("person", "name"),
            List::Knitters => ("knitter", "name"),
            List::Gifts => ("gift", "id"),
            List::Records => ("record", ""),
            List::Plan => ("reservation", ""),
        }
    }
}
