//! The dial for a wished gauge, from a workspace's own swatches.

use super::unknown;
use diag::Diagnostic;
use knit::dial::{DialAdvice, DialPoint, advise};
use knit::program::Structure;
use store::workspace::Contents;
use units::PerTen;

/// Fits the swatches of a yarn (and of others as thick) on one machine and proposes the number.
///
/// # Errors
/// An unknown yarn; as [`advise`].
pub fn dial_for(
    contents: &Contents,
    yarn: &str,
    machine: &str,
    structure: Structure,
    wished: PerTen,
) -> Result<DialAdvice, Diagnostic> {
    let count =
        contents.yarns.get(yarn).map(|yarn| yarn.count).ok_or_else(|| {
            unknown("yarn", yarn, contents.yarns.keys().map(String::as_str), "yarn")
        })?;
    let points: Vec<DialPoint> = contents
        .swatches
        .values()
        .filter(|file| file.machine.as_deref().unwrap_or(machine) == machine)
        .filter(|file| file.set.yarn.knits_like(count))
        .filter(|file| file.set.is_measured(structure))
        .filter_map(|file| {
            let gauge = file.set.gauge(structure);
            Some(DialPoint {
                dial: gauge.dial?,
                stitch_mm: gauge.stitches.pitch_mm(),
                row_mm: gauge.rows.pitch_mm(),
            })
        })
        .collect();
    advise(&points, wished.pitch_mm())
}
