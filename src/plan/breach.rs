use super::InstanceFault;

/// A rule that a plan breaks. Gifts, remnants and deadlines are indices of the instance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Breach {
    /// The instance itself is none.
    Instance(InstanceFault),
    /// The plan is one for another number of gifts.
    Gifts {
        /// In the plan.
        planned: usize,
        /// In the instance.
        wanted: usize,
    },
    /// There is no such gift to ask about.
    NoGift(usize),
    /// A gift has to be made, and is not.
    Must {
        /// Which.
        gift: usize,
    },
    /// More is drawn from a remnant than it holds.
    Overdrawn {
        /// Which.
        remnant: usize,
        /// Decigrams drawn from it.
        drawn_dg: u64,
        /// Decigrams that it holds.
        usable_dg: u32,
    },
    /// There is more work until a deadline than there is time.
    Hours {
        /// Which.
        deadline: usize,
        /// Whose hours.
        knitter: usize,
        /// Minutes of work.
        minutes: u64,
        /// Minutes that there are.
        there: u64,
    },
    /// Something about how a gift is made.
    Made {
        /// Which.
        gift: usize,
        /// What about it.
        breach: MadeBreach,
    },
}

/// A rule that a gift made breaks. Options and sections are indices of the gift and the option.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MadeBreach {
    /// It is made in an option that it has not.
    NoOption {
        /// The option it is made in.
        option: usize,
        /// How many it has.
        options: usize,
    },
    /// It is pinned to another option.
    Pinned {
        /// The option it is made in.
        option: usize,
    },
    /// It is made with too few sections or too many.
    Sections {
        /// Sections made.
        made: usize,
        /// Sections of the option.
        wanted: usize,
    },
    /// Something about the yarn of a section.
    Section {
        /// Which.
        section: usize,
        /// What about it.
        breach: SectionBreach,
    },
}

/// A rule that the yarn of a section breaks. Groups and remnants are those of the instance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SectionBreach {
    /// It draws from a remnant that there is not.
    NoRemnant(usize),
    /// It draws from a remnant twice.
    Twice(usize),
    /// It mixes yarns of so many groups.
    Groups(usize),
    /// It has no yarn.
    NoYarn,
    /// Yarn of this group does not suit it.
    Unsuited(usize),
    /// It has more yarn than it needs, or less.
    Amount {
        /// Decigrams it has.
        total_dg: u64,
        /// Decigrams it needs.
        need_dg: u32,
    },
    /// It is joined and can't be.
    NotJoinable,
    /// It is joined and needs too little for that.
    TooSmallToJoin,
    /// It is joined from so many remnants, more than are allowed.
    TooManyJoined(usize),
    /// A chunk holds so many decigrams, less than is worth joining in.
    SmallChunk(u32),
    /// It draws from a remnant that is kept for others.
    Kept(usize),
    /// It draws from a remnant that is none of those it may be knitted from.
    NotFrom(usize),
    /// It is not of the group of this section, and should be.
    NotSame(usize),
    /// It is of the group of this section, and should not be.
    NoContrast(usize),
    /// It is not of the group that it should match: that of this gift, or of what is there already.
    NoMatch(Option<usize>),
}

impl Breach {
    /// The gift it is about, if it is about one.
    pub fn gift(&self) -> Option<usize> {
        match self {
            Breach::Instance(fault) => fault.gift(),
            Breach::Must { gift } | Breach::Made { gift, .. } | Breach::NoGift(gift) => Some(*gift),
            Breach::Gifts { .. } | Breach::Overdrawn { .. } | Breach::Hours { .. } => None,
        }
    }

    /// The section of that gift, if it is about one.
    pub fn section(&self) -> Option<usize> {
        match self {
            Breach::Made { breach: MadeBreach::Section { section, .. }, .. } => Some(*section),
            _ => None,
        }
    }
}

impl From<InstanceFault> for Breach {
    fn from(fault: InstanceFault) -> Breach {
        Breach::Instance(fault)
    }
}
