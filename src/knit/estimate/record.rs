use std::cmp::Ordering;

use super::{Moisture, Stitches};

/// Something that was weighed: a finished piece, or a swatch.
#[derive(Clone, Debug, PartialEq, PartialOrd)]
pub struct Record {
    /// Names it, for who is asked about it.
    pub id: String,
    /// What was weighed.
    pub what: Weighed,
    /// Its yarn sections that were weighed, each on its own.
    pub sections: Vec<WeighedSection>,
    /// The knitter was asked, and says that it is right: it counts however far off it is.
    pub stood_by: bool,
}

/// What kind of thing was on the scale.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weighed {
    /// A finished piece, by the yarn before and after.
    Piece,
    /// A swatch.
    Swatch,
}

/// A section on the scale.
#[derive(Clone, Debug, PartialEq, PartialOrd)]
pub struct WeighedSection {
    /// As the garment names it.
    pub name: String,
    /// What was knitted, each against the swatch it was knitted to.
    pub stitches: Vec<Stitches>,
    /// Grams in ends, seams and sewing.
    pub other_g: f64,
    /// Grams on the scale.
    pub used_g: f64,
    /// Standard deviation of them, from [`difference_sd`](super::difference_sd) or
    /// [`weighing_sd`](super::weighing_sd).
    pub scale_sd_g: f64,
    /// How the wool may have dried or dampened meanwhile.
    pub moisture: Moisture,
}

/// Beyond this factor of the model a record can't be right, whoever stands by it.
const IMPOSSIBLE: f64 = 100.0;

/// Whether something may be so many times what the model says.
pub(super) fn possible(times: f64) -> bool {
    (1.0 / IMPOSSIBLE..=IMPOSSIBLE).contains(&times)
}

impl WeighedSection {
    /// Grams in the stitches.
    pub fn knitted_g(&self) -> f64 {
        self.used_g - self.other_g
    }

    fn model_g(&self) -> f64 {
        self.stitches.iter().map(|s| s.grams).sum()
    }

    /// How far it is from one fabric alone, 0 to 1.
    fn mixed(&self) -> f64 {
        let most = self.stitches.iter().map(|s| s.grams).fold(0.0, f64::max);
        1.0 - most / self.model_g()
    }

    fn makes_sense(&self) -> bool {
        let stitches = self.stitches.iter();
        let each = stitches.flat_map(|s| [s.grams, s.gauge_spread]);
        let all = each.chain([self.other_g, self.used_g, self.scale_sd_g]);
        all.into_iter().all(|g| g.is_finite() && g >= 0.0)
            && possible(self.knitted_g() / self.model_g())
    }
}

impl Record {
    /// Whether anything can be learnt of it: every section has stitches, and more on the scale than its
    /// ends and seams weigh, though not a hundred times what it should.
    pub fn makes_sense(&self) -> bool {
        !self.sections.is_empty() && self.sections.iter().all(WeighedSection::makes_sense)
    }

    /// An order that is the same however records are listed: those of one fabric come first, since
    /// what they say needs no guess at the shares of others.
    pub(super) fn order(&self, other: &Record) -> Ordering {
        let mixed =
            |record: &Record| record.sections.iter().map(WeighedSection::mixed).fold(0.0, f64::max);
        let order = mixed(self).total_cmp(&mixed(other));
        order.then_with(|| self.partial_cmp(other).unwrap_or(Ordering::Equal))
    }
}
