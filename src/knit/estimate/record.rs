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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::program::Structure;

    fn weighed(id: &str, sections: &[&[f64]]) -> Record {
        let stitches = |grams: &f64| Stitches {
            yarn: "blue".into(),
            fabric: Structure::Plain,
            gauge: "blue".into(),
            gauge_spread: 0.0,
            grams: *grams,
        };
        let section = |grams: &&[f64]| WeighedSection {
            name: "all".into(),
            stitches: grams.iter().map(stitches).collect(),
            other_g: 1.0,
            used_g: 41.0,
            scale_sd_g: 0.8,
            moisture: Moisture::SameRoom,
        };
        let sections = sections.iter().map(section).collect();
        Record { id: id.into(), what: Weighed::Piece, sections, stood_by: false }
    }

    /// What one of a single fabric says needs no guess at shares; a piece is as mixed as its most mixed section.
    #[test]
    fn the_less_mixed_is_taken_in_first() {
        let pure = weighed("z", &[&[40.0]]);
        let little = weighed("y", &[&[40.0], &[36.0, 4.0]]);
        let half = weighed("x", &[&[20.0, 20.0], &[40.0]]);
        let mut all = [&half, &pure, &little];
        all.sort_by(|a, b| a.order(b));
        assert_eq!(all.map(|record| record.id.as_str()), ["z", "y", "x"]);
    }

    /// A hundred times the model, either way, can't be right; nor can less than nothing.
    #[test]
    fn a_record_that_can_not_be_right_makes_no_sense() {
        let with = |used_g: f64| {
            let mut record = weighed("a", &[&[40.0], &[40.0]]);
            record.sections[1].used_g = used_g;
            record.makes_sense()
        };
        assert!(with(41.0) && with(1.0 + 0.41) && with(1.0 + 3_999.0));
        assert!(![0.5, 1.0 + 0.39, 1.0 + 4_001.0, f64::NAN].into_iter().any(with));
        assert!(!weighed("a", &[]).makes_sense());
        let mut less_than_nothing = weighed("a", &[&[40.0]]);
        less_than_nothing.sections[0].scale_sd_g = -0.8;
        assert!(!less_than_nothing.makes_sense());
    }
}
