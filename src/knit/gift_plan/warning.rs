use diag::Diagnostics;

use crate::stash::Date;

/// What was noticed while a plan was made.
#[derive(Clone, Debug, PartialEq)]
pub enum PlanWarning {
    /// What those who read the stash, its swatches and its records found.
    Found(Diagnostics),
    /// A garment that does not load is no gift.
    GarmentLeftOut {
        /// Its id.
        garment: String,
        /// Why it does not load.
        faults: Diagnostics,
    },
    /// A gift that names what none of its garments has is not planned.
    GiftLeftOut {
        /// Id of the gift.
        gift: String,
        /// What it names.
        faults: Diagnostics,
    },
    /// The day of a gift has come or is past.
    Overdue {
        /// Id of the gift.
        gift: String,
        /// The day it was wanted by.
        due: Date,
        /// It is this very day.
        today: bool,
    },
}

/// A gift that must be made and is not.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnmetGift {
    /// Its id in the workspace.
    pub gift: String,
    /// Why it is not made.
    pub why: UnmetWhy,
}

/// Why a gift that must be made is not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UnmetWhy {
    /// It names what none of its garments has.
    LeftOut,
    /// It can't be knitted from the stash in time, even alone.
    NotEvenAlone,
    /// It is sure that it can't be made beside the others.
    NotBesideOthers,
    /// No way was found with the work allowed.
    NotFound,
}
