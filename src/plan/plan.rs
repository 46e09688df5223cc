/// Yarn out of one remnant, in decigrams.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Chunk {
    /// Index of the remnant.
    pub remnant: usize,
    /// How much, in decigrams.
    pub dg: u32,
}

/// A gift in the plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Made {
    /// Index of the option it is made in.
    pub option: usize,
    /// For each section of that option, the remnants it is knitted from, by rising index.
    pub sections: Vec<Vec<Chunk>>,
}

/// What is made of which yarn: for each gift of the instance, how it is made, if at all.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Plan {
    /// By gift; `None`: not made.
    pub gifts: Vec<Option<Made>>,
}

impl Plan {
    /// Nothing made.
    pub fn empty(gifts: usize) -> Plan {
        Plan { gifts: vec![None; gifts] }
    }
}
