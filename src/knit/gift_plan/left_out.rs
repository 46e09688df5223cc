use crate::stash::{ColourFamily, Date};

/// A gift that is not made.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOut {
    /// Its id in the workspace.
    pub id: String,
    /// Name of the person it is for.
    pub person: String,
    /// As wished; more matters more.
    pub priority: u8,
    /// The day it is wanted by.
    pub due: Option<Date>,
    /// Why: one for each garment, gauge and colouring it could be, in the solver's order, then
    /// garments that can't be at all. Many may say the same.
    pub reasons: Vec<NotMade>,
    /// Yarns of the stash that won't do, rule by rule, those first that come nearest.
    pub excluded: Vec<Excluded>,
    /// Ways to let it in, best first, each told alone: two of them may want the same yarn.
    pub ways: Vec<Way>,
}

/// Yarns that a rule excludes from a gift.
#[derive(Clone, Debug, PartialEq)]
pub struct Excluded {
    /// Why they won't do.
    pub rule: YarnRule,
    /// The yarns, each once, in the order of the stash.
    pub yarns: Vec<ExcludedYarn>,
}

/// A yarn that won't do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ExcludedYarn {
    /// Its id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// The dye lot, where the rule is about what there is of it.
    pub lot: Option<String>,
}

/// Why a yarn won't do for a gift.
#[derive(Clone, Debug, PartialEq)]
pub enum YarnRule {
    /// It would do, but there is too little of it.
    TooLittle {
        /// Title of the garment.
        title: String,
        /// Title of the section, `None` where the garment has but one.
        section: Option<String>,
        /// What that takes, in grams.
        need_g: f64,
        /// The most in hand, in grams: in one remnant, or in as many as may be joined.
        most_g: f64,
    },
    /// The person doesn't wear the colour.
    Colour {
        /// Name of the person.
        person: String,
        /// The colour.
        colour: ColourFamily,
    },
    /// The person doesn't wear the fibre, or can't wash it, in words.
    Objection(String),
    /// A garment can't be knitted at the gauge of that yarn.
    Refused {
        /// Id of the garment.
        garment: String,
        /// In its own words.
        reason: String,
    },
    /// No machine at hand knits it.
    NoBed,
}

/// Why a gift is not made, or not as one of the garments it could be.
#[derive(Clone, Debug, PartialEq)]
pub enum NotMade {
    /// No yarn of the stash suits: thickness, fibres, colours, washing.
    NoYarnSuits,
    /// It names an option or a section that none of its garments has, in words.
    Unknown(String),
    /// Nobody who may knit it has a machine that it could be knitted on, or none of them has time.
    NoKnitter {
        /// The machine's title.
        machine: String,
        /// Who is to knit it; `None`: anybody.
        knitter: Option<String>,
    },
    /// Something stands in the way of a garment.
    Hindered {
        /// The garment's title.
        title: String,
        /// What stands in its way, first of all.
        by: Hindrance,
    },
    /// A garment refuses the size.
    Refused {
        /// Id of the garment.
        garment: String,
        /// In its own words.
        reason: String,
    },
}

/// What stands in the way of a garment. `section` is a section's title, `None` where the garment
/// has but one. Gifts are named by id.
#[derive(Clone, Debug, PartialEq)]
pub enum Hindrance {
    /// There is no yarn at all that suits a section.
    NoYarn {
        /// Which section.
        section: Option<String>,
    },
    /// Of the yarn that comes nearest there is too little, even untouched.
    TooLittle {
        /// Which section.
        section: Option<String>,
        /// What the section takes, in grams.
        need_g: f64,
        /// The yarn's name.
        yarn: String,
        /// Its dye lot, where it is known.
        lot: Option<String>,
        /// The most in hand, in grams: in one remnant, or in as many as may be joined.
        most_g: f64,
    },
    /// The yarn would do, but goes to other gifts.
    Taken {
        /// Which section.
        section: Option<String>,
        /// The gifts it goes to.
        to: Vec<String>,
        /// Whether each of them alone would leave enough; if not, no one of them does.
        alone: bool,
    },
    /// It is to match what is made of a yarn of which too little is left for it, or that doesn't suit.
    Unmatched {
        /// Which section.
        section: Option<String>,
        /// What it is to match.
        with: Vec<String>,
        /// The name of the yarn of that.
        yarn: String,
        /// Its dye lot, where it is known.
        lot: Option<String>,
        /// Whether the yarn would suit.
        suits: bool,
    },
    /// Each section alone would do, but not all together.
    NotTogether {
        /// The gifts that the yarn goes to.
        to: Vec<String>,
        /// Whether each of them alone would leave enough; if not, no one of them does.
        alone: bool,
    },
    /// It takes longer than there is time.
    NoHours {
        /// Minutes that it takes.
        minutes: f64,
        /// Minutes that are left.
        spare: f64,
        /// Until this day.
        until: Date,
    },
    /// The gift is pinned to something else.
    Pinned,
    /// Joins and useless ends would cost more than it is worth.
    NotWorthIt,
}

/// What would let a gift in.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Yarn to add, in one piece. `None`: it is enough that others go.
    pub add: Option<YarnToAdd>,
    /// Title of the garment it would be.
    pub title: String,
    /// The size it would be made in, as labelled.
    pub size_label: String,
    /// Gifts that would go for it, by id.
    pub displaced: Vec<String>,
    /// Gifts that would be made otherwise than now, or from other yarn, by id.
    pub changed: Vec<String>,
    /// What the plan would gain by it, or lose, in points.
    pub change: f64,
}

/// One piece of yarn more.
#[derive(Clone, Debug, PartialEq)]
pub struct YarnToAdd {
    /// Id of the yarn.
    pub yarn: String,
    /// The yarn's name.
    pub name: String,
    /// Its dye lot, where it matters.
    pub lot: Option<String>,
    /// At least so many grams.
    pub grams: f64,
}
