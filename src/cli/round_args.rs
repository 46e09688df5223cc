//! The arguments of the picture in the round.

use clap::{Args as ClapArgs, ValueEnum};

use knit::round::{Detail, Pose};
use report::drawing::{Shown, Side};

/// How a garment is looked at.
#[derive(ClapArgs, Debug, Default)]
#[command(next_help_heading = "The garment in the round")]
pub(super) struct RoundArgs {
    /// With --picture round: the side it is seen from; left out: three-quarters
    #[arg(long, value_enum, value_name = "SIDE")]
    pub from: Option<SideArg>,
    /// With --picture round or --format glb: what it lies on; left out: worn, on the part of the body
    /// that it is for
    #[arg(long, value_enum, value_name = "WHAT")]
    pub on: Option<PoseArg>,
    /// With --picture round or --format glb: a point a stitch, or one for some rows and needles
    /// together, which is quicker; left out: full for one size, coarse for several
    #[arg(long, value_enum, value_name = "DETAIL")]
    pub detail: Option<DetailArg>,
    /// With --picture round: what its colours tell; left out: the yarn
    #[arg(long, value_enum, value_name = "WHAT")]
    pub show: Option<ShownArg>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum SideArg {
    Front,
    Back,
    Left,
    Right,
    Above,
    ThreeQuarters,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum PoseArg {
    /// On the part of the body that it is for
    Worn,
    /// On the plate it is blocked on
    Plate,
    /// On nothing
    Nothing,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum DetailArg {
    Coarse,
    Full,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum ShownArg {
    /// The colours of the yarn
    Yarn,
    /// How far the cloth is stretched, or how much of it is to spare
    Stretch,
}

impl RoundArgs {
    /// Whether anything of it was given.
    pub fn given(&self) -> bool {
        self.from.is_some() || self.on.is_some() || self.detail.is_some() || self.show.is_some()
    }

    pub fn side(&self) -> Side {
        match self.from {
            Some(SideArg::Front) => Side::Front,
            Some(SideArg::Back) => Side::Back,
            Some(SideArg::Left) => Side::Left,
            Some(SideArg::Right) => Side::Right,
            Some(SideArg::Above) => Side::Above,
            Some(SideArg::ThreeQuarters) | None => Side::ThreeQuarters,
        }
    }

    pub fn pose(&self) -> Pose {
        match self.on {
            Some(PoseArg::Worn) | None => Pose::Worn,
            Some(PoseArg::Plate) => Pose::Blocked,
            Some(PoseArg::Nothing) => Pose::Off,
        }
    }

    /// Of so many sizes.
    pub fn detail(&self, sizes: usize) -> Detail {
        match (self.detail, sizes) {
            (Some(DetailArg::Full), _) | (None, ..=1) => Detail::Full,
            (Some(DetailArg::Coarse), _) | (None, _) => Detail::Coarse,
        }
    }

    pub fn shown(&self) -> Shown {
        match self.show {
            Some(ShownArg::Stretch) => Shown::Stretch,
            Some(ShownArg::Yarn) | None => Shown::Yarn,
        }
    }
}
