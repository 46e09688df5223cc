/// What a new plan makes of a gift that an accepted one has set yarn aside for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Change {
    /// Nothing was set aside for it.
    New,
    /// The same garment from the very balls.
    AsBefore,
    /// The same garment from the same lots, but from other balls of them.
    OtherBalls,
    /// The same garment, some of it from another yarn or dye lot.
    OtherYarn,
    /// The same garment made larger or smaller, for the yarn there is.
    OtherSize,
    /// The same garment on another machine or swatch.
    OtherGauge,
    /// Another garment.
    OtherGarment,
    /// The same garment, knitted by somebody else.
    OtherKnitter,
}

impl Change {
    /// Whether it is to be knitted otherwise than the knitter was told. Another ball of the same lot is not.
    pub const fn is_change(self) -> bool {
        !matches!(self, Change::New | Change::AsBefore | Change::OtherBalls)
    }

    /// As a knitter reads it, and as JSON has it.
    pub const fn name(self) -> &'static str {
        match self {
            Change::New => "new",
            Change::AsBefore => "as before",
            Change::OtherBalls => "other balls",
            Change::OtherYarn => "other yarn",
            Change::OtherSize => "other size",
            Change::OtherGauge => "other gauge",
            Change::OtherGarment => "other garment",
            Change::OtherKnitter => "other knitter",
        }
    }
}

/// How a plan of gifts that were planned before stands to the plan that was accepted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SinceBefore {
    /// Gifts of the accepted plan that were planned again.
    pub gifts: usize,
    /// How many of them are knitted otherwise.
    pub changed: usize,
    /// Of those that are knitted as before, how many are from other balls of the same lots.
    pub other_balls: usize,
    /// Those that are left out now, by id.
    pub dropped: Vec<String>,
}
