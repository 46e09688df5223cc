use super::Points;

/// What makes an instance none. Gifts, options, sections, remnants and deadlines are indices of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InstanceFault {
    /// So many remnants are allowed in a section: none, or more than can be.
    Joins(usize),
    /// The least chunk is nothing.
    NoChunk,
    /// A remnant is heavier than [`Instance::HEAVIEST_DG`](super::Instance::HEAVIEST_DG), in
    /// decigrams.
    Mass {
        /// Which.
        remnant: usize,
        /// What it is said to hold, in decigrams.
        usable_dg: u32,
    },
    /// A deadline leaves fewer minutes than the one before it.
    Hours {
        /// The later of the two.
        deadline: usize,
    },
    /// Gifts that ought to differ: one that there is not, or one that is named twice.
    Variety(usize),
    /// A remnant is kept for a gift that there is not.
    Kept {
        /// Which.
        remnant: usize,
        /// The gift.
        gift: usize,
    },
    /// A weight is below nothing or out of reason.
    Weight(WeightOf, Points),
    /// All points together would be too many to add up.
    TooManyPoints,
    /// Something about one gift.
    Gift {
        /// Which.
        gift: usize,
        /// What about it.
        fault: GiftFault,
    },
}

/// What a weight is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum WeightOf {
    /// A gift made, by its priority.
    Priority,
    /// The liking of an option.
    Liking,
    /// A join.
    Join,
    /// A useless end.
    UselessEnd,
    /// Gifts that ought to differ and don't.
    Alike,
    /// Opening a remnant.
    Opening,
    /// Bringing a remnant to a knitter.
    Travel,
}

/// What is wrong with a gift of an instance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GiftFault {
    /// Its priority is out of reason.
    Priority(i64),
    /// It is due by a deadline that there is not.
    NoDeadline,
    /// It is pinned to an option that it has not.
    NoOption,
    /// The liking of an option is out of reason.
    Pref {
        /// Which option.
        option: usize,
        /// Its liking.
        pref: i64,
    },
    /// What an option or a section gains is out of reason.
    Gain {
        /// Which option.
        option: usize,
        /// What it gains.
        gain: Points,
    },
    /// An option is knitted by somebody whose minutes are not listed.
    NoKnitter {
        /// Which option.
        option: usize,
        /// The knitter.
        knitter: usize,
    },
    /// A section may be knitted from a remnant that there is not.
    NoRemnant {
        /// Of which option.
        option: usize,
        /// The section.
        section: usize,
        /// The remnant.
        remnant: usize,
    },
    /// A section is linked to one that there is not.
    NoSection {
        /// Of which option.
        option: usize,
        /// The section with the link.
        section: usize,
    },
    /// A section is to differ from itself.
    NotItself {
        /// Of which option.
        option: usize,
        /// The section.
        section: usize,
    },
    /// A section needs nothing of a group, or more than there can be.
    Need {
        /// Of which option.
        option: usize,
        /// The section.
        section: usize,
        /// The yarn group.
        group: usize,
        /// Decigrams of it.
        need_dg: u32,
    },
}

impl InstanceFault {
    /// The gift it is about, if it is about one.
    pub fn gift(&self) -> Option<usize> {
        match self {
            InstanceFault::Gift { gift, .. } => Some(*gift),
            _ => None,
        }
    }
}
