//! What a value has to be. The types name one another: a list is of tables, and the fields of a table
//! have kinds.

/// What a value given by a script has to be.
#[derive(Clone, Copy, Debug)]
pub enum ValueKind {
    /// The word the garment uses for a piece, an edge, a mark...: letters, digits, `_` and `-`.
    Name,
    /// Words for the knitter, 2,000 characters at most.
    Text,
    /// A list of such texts, 100 at most.
    Texts,
    /// `"L3"` or `"R12"`.
    Needle,
    /// `"L24-R23"`, or one needle.
    Needles,
    /// `"left"` or `"right"`.
    Side,
    /// `"left"`, `"right"` or `"both"`.
    Sides,
    /// The name of an open edge, or a table of an edge or a stretch of one.
    Edge,
    /// The name of a tally mark, or a mark that is a value.
    Mark,
    /// A whole number from the first bound, or a mark: a place along an edge.
    Place(u32, u32),
    /// The name of a structure, such as `"rib 1x1"`.
    Structure,
    /// `"waste"`, `"wound"` or `"rib"`.
    CastOnMethod,
    /// A whole number between two bounds, both included.
    Whole(u32, u32),
    /// A whole number of any sign.
    Integer,
    /// Any finite number.
    Number,
    /// Finite and between two bounds, both included.
    Between(f64, f64),
    /// `true` or `false`.
    Flag,
    /// `"nearest"`, `"up"` or `"down"`.
    Rounding,
    /// `"one"` or `"both"`.
    Ends,
    /// One of these words.
    Word(&'static [&'static str]),
    /// A function of the script.
    Function,
    /// `{ from, to }` or `{ from, to, step }`, whole numbers; five at most.
    Ranges,
    /// By name `{ from, to, step, title =, may =, follows = }`; eight at most.
    Decisions,
    /// A function of the script: numbers by name in, and which of them are fixed; a number out, or nil.
    Chooser,
    /// `{ height, width }` in mm, each from 0 up; 200 at most.
    Points,
    /// A list of steps.
    Steps,
    /// A table with these fields.
    Record(&'static RecordSpec),
    /// A list of tables with these fields.
    List(&'static RecordSpec),
}

/// Whether a field may be left out, and what is taken then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    /// It must be there.
    Required,
    /// Nothing is taken.
    Optional,
    /// As the reference shows it.
    Default(&'static str),
}

/// An argument, or a field of a table.
#[derive(Clone, Copy, Debug)]
pub struct FieldSpec {
    /// As the script writes it.
    pub name: &'static str,
    /// What it has to be.
    pub kind: ValueKind,
    /// Whether it may be left out.
    pub need: Need,
    /// What it is for, a phrase: the reference, the stubs and hints show it.
    pub doc: &'static str,
    /// The API number it came with, where that is later than its function's or its table's.
    pub since: u32,
}

impl FieldSpec {
    /// The same field, come with a later API.
    pub(super) const fn since(mut self, api: u32) -> FieldSpec {
        self.since = api;
        self
    }
}

/// A table with named fields.
#[derive(Debug)]
pub struct RecordSpec {
    /// The type name in the stubs and a heading in the reference.
    pub name: &'static str,
    /// What it is, in sentences.
    pub doc: &'static str,
    /// In the order of the reference.
    pub fields: &'static [FieldSpec],
}

pub(super) const fn required(name: &'static str, kind: ValueKind, doc: &'static str) -> FieldSpec {
    FieldSpec { name, kind, need: Need::Required, doc, since: 1 }
}

pub(super) const fn optional(name: &'static str, kind: ValueKind, doc: &'static str) -> FieldSpec {
    FieldSpec { name, kind, need: Need::Optional, doc, since: 1 }
}

pub(super) const fn default(
    name: &'static str,
    kind: ValueKind,
    value: &'static str,
    doc: &'static str,
) -> FieldSpec {
    FieldSpec { name, kind, need: Need::Default(value), doc, since: 1 }
}
