//! What a record itself says of what was knitted: the same whatever has become of the person, the garment,
//! the swatch since.

use super::yarn_gauge::{Former, yarn_id};
use knit::estimate::{PieceSection, Stitches};
use knit::program::Structure;
use knit::stash::{Contents, FinishedPiece};
use knit::swatch::SwatchSet;
use units::YarnCount;

/// Loops that differ by less are of one fabric, measured again: the newer figure is the better one.
const ALIKE: f64 = 0.02;

/// A section as the record has it; `None` where it does not say enough.
pub(super) fn section_of(
    contents: &Contents,
    record: &FinishedPiece,
    section: &str,
) -> Option<PieceSection> {
    let knitted = record.knitted(section)?;
    let gauges = Gauges::of(contents, record)?;
    let each = knitted.stitches.iter();
    let stitches: Vec<Stitches> =
        each.map(|(fabric, count)| gauges.stitches(*fabric, *count)).collect::<Option<_>>()?;
    let other_g = gauges.yarn.grams_of(knitted.sewing_m * 1000.0);
    (!stitches.is_empty()).then(|| PieceSection { name: section.into(), stitches, other_g })
}

/// The gauge that a record was knitted to.
struct Gauges<'r> {
    contents: &'r Contents,
    record: &'r FinishedPiece,
    yarn: YarnCount,
    /// The gauge as it is today, where there still is one.
    now: Option<SwatchSet>,
}

impl<'r> Gauges<'r> {
    fn of(contents: &'r Contents, record: &'r FinishedPiece) -> Option<Gauges<'r>> {
        let now = match &record.swatch {
            Some(id) => contents.swatches.get(id).map(|file| file.set.clone()),
            None => Former::guess(contents, &record.yarn),
        };
        let known = contents.yarns.get(&record.yarn).map(|yarn| yarn.count);
        let yarn = known.or(now.as_ref().map(|set| set.yarn))?;
        Some(Gauges { contents, record, yarn, now })
    }

    fn stitches(&self, fabric: Structure, count: u64) -> Option<Stitches> {
        let fabric = fabric.gauged_as();
        let then_mm = self.record.loop_of(fabric)?;
        let now_mm = self.now.as_ref().map(|set| set.model_loop_mm(fabric));
        let same = now_mm.filter(|now| (now / then_mm).ln().abs() <= ALIKE);
        let of_now = self.now.as_ref().map(|set| set.stitches(fabric, count));
        let (gauge, gauge_spread) = match (same, of_now) {
            (Some(_), Some(now)) => (now.gauge, now.gauge_spread),
            (_, now) => {
                let former = Former::of(self.record);
                (former.id(), now.map_or(former.spread(), |now| now.gauge_spread))
            }
        };
        Some(Stitches {
            yarn: yarn_id(self.contents, &self.record.yarn),
            fabric,
            gauge,
            gauge_spread,
            grams: self.yarn.grams_of(count as f64 * same.unwrap_or(then_mm)),
        })
    }
}
