//! Sizes of a run in the round, in the colours of their yarn: what pictures, files and pages take.

use super::{Colouring, InTheRound, in_the_round};
use diag::{Code, Diagnostic, Diagnostics};
use knit::graph::NotDrawn;
use knit::round::{Detail, Pose};
use knit::size_run::{Made, SizeResult, SizeRun};
use knit::thread::Palette;
use report::drawing::{InRound, RoundSheet, Shown, Side};
use units::LengthUnit;

/// Sizes of one garment in the round.
#[derive(Clone, Debug)]
pub struct RoundSizes {
    title: String,
    pose: Pose,
    sizes: Vec<RoundSize>,
}

#[derive(Clone, Debug)]
struct RoundSize {
    label: String,
    round: InTheRound,
    palette: Palette,
    used_mm: Vec<f64>,
}

impl RoundSizes {
    /// All sizes of a run that can be knitted.
    ///
    /// # Errors
    /// What a size does that can't be drawn.
    pub fn of(
        run: &SizeRun,
        colouring: &Colouring,
        look: (Pose, Detail),
    ) -> Result<RoundSizes, Diagnostics> {
        let one = |(size, made): (&SizeResult, &Made)| {
            RoundSize::of(run, (size, made), colouring, look)
                .map_err(|why| Diagnostics::from(not_drawn(&why).context(size.body.label.clone())))
        };
        let sizes = run.good().map(one).collect::<Result<_, _>>()?;
        Ok(RoundSizes { title: run.garment.title.clone(), pose: look.0, sizes })
    }

    /// As pictures and files take them.
    pub fn each(&self) -> Vec<InRound<'_>> {
        self.sizes.iter().map(RoundSize::shown).collect()
    }

    /// A still from a side, the sizes side by side.
    pub fn sheet(&self, (from, shown): (Side, Shown), unit: LengthUnit) -> RoundSheet<'_> {
        let (title, pose) = (&self.title, self.pose);
        RoundSheet { title, sizes: self.each(), from, pose, shown, unit }
    }

    /// The first size, packed for a page; `None` where there is no size.
    pub fn packed(&self) -> Option<Vec<u8>> {
        let size = self.sizes.first()?;
        Some(report::round_packed(&size.shown(), &size.round.places, &size.used_mm))
    }

    /// The first size with its places along the yarn.
    pub fn first(&self) -> Option<&InTheRound> {
        self.sizes.first().map(|size| &size.round)
    }
}

impl RoundSize {
    fn of(
        run: &SizeRun,
        (size, made): (&SizeResult, &Made),
        colouring: &Colouring,
        look: (Pose, Detail),
    ) -> Result<RoundSize, NotDrawn> {
        let coloured = colouring.apply(run, made).coloured;
        let round = in_the_round(run, size, made, Some(&coloured), look)?;
        Ok(RoundSize {
            label: size.body.label.clone(),
            round,
            palette: coloured.palette,
            used_mm: coloured.path.used_mm,
        })
    }

    fn shown(&self) -> InRound<'_> {
        InRound {
            label: &self.label,
            shape: &self.round.shape,
            paints: &self.round.paints,
            palette: &self.palette,
            told: &self.round.told,
        }
    }
}

/// Said to who asked for the picture.
fn not_drawn(why: &NotDrawn) -> Diagnostic {
    Diagnostic::error(Code::NotDrawn, format!("it can't be shown in the round: {why}"))
        .hint("it can be knitted all the same; its other pictures don't need this one")
}
