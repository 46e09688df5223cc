/// Many of a kind, and how many of them a plan makes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Many {
    /// The id of their entry.
    pub entry: String,
    /// How many there are to be.
    pub of: u32,
    /// How many the plan makes.
    pub made: usize,
    /// How many need no plan any more: done, begun, or their yarn set aside.
    pub before: usize,
    /// How many the plan makes in each size, by its label, in the order of the table.
    pub sizes: Vec<(String, usize)>,
}
