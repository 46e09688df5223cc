//! Swatches and the gauge they give, with its error, and the loop that the model makes of it.

mod check;
mod gauge;
mod readings;
mod set;

pub use gauge::{Counted, Gauge};
pub use readings::{FabricState, Readings, Swatch, Weighed};
pub use set::SwatchSet;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::program::Structure;
    use diag::Diagnostics;
    use units::YarnCount;

    fn swatch(structure: Structure, stitches: &[f64], rows: &[f64]) -> Swatch {
        Swatch {
            structure,
            state: FabricState::Washed,
            dial: Some(7.0),
            stitches: Readings { count: 40, over_mm: stitches.to_vec() },
            rows: Readings { count: 60, over_mm: rows.to_vec() },
            weighed: None,
        }
    }

    fn set(swatches: &[Swatch]) -> Result<(SwatchSet, Diagnostics), Diagnostics> {
        SwatchSet::new(YarnCount::from_tex(250.0).expect("tex"), "blue".into(), swatches)
    }

    #[test]
    fn readings_that_scatter_give_a_wider_error() {
        let (steady, _) = set(&[swatch(Structure::Plain, &[142.0; 3], &[150.0; 3])]).expect("ok");
        let (loose, _) =
            set(&[swatch(Structure::Plain, &[136.0, 142.0, 148.0], &[150.0; 3])]).expect("ok");
        assert!((steady.plain().stitches.per_ten.per_10_cm() - 28.17).abs() < 0.01);
        assert!(
            loose.plain().stitches.standard_error()
                > 2.0 * steady.plain().stitches.standard_error()
        );
    }

    #[test]
    fn a_missing_rib_is_estimated_and_flagged() {
        let (set, _) = set(&[swatch(Structure::Plain, &[142.0], &[150.0])]).expect("ok");
        let rib = set.gauge(Structure::Rib1x1);
        assert_eq!(rib.measured, None);
        let narrower = set.plain().stitches.pitch_mm() * 0.7;
        assert!((rib.stitches.pitch_mm() - narrower).abs() < 1e-9);
        assert!((rib.stitches.pitch.standard_error - 0.08).abs() < 1e-12);
        // What the plain one misses by comes on top.
        let width = rib.reckoned.pitch(crate::estimate::Side::Across);
        assert!(width.sd_of_mean() / width.mean() > 0.08);
    }

    #[test]
    fn a_slip_of_the_tape_is_named_and_leaves_the_other_direction_alone() {
        let error = |widths: &[f64]| {
            let heights = [150.0, 151.0, 149.0];
            let (set, odd) = set(&[swatch(Structure::Plain, widths, &heights)]).expect("ok");
            let told: Vec<String> = odd.iter().map(|fault| fault.message.clone()).collect();
            (set.plain().rows.half_width(), told)
        };
        let (steady, none) = error(&[143.0, 142.0, 143.0]);
        assert_eq!(none, [""; 0]);
        for (slip, said) in [(163.0, "16.3 cm"), (412.0, "41.2 cm"), (120.0, "12.0 cm")] {
            let (rows, told) = error(&[143.0, slip, 143.0]);
            assert!(rows < 1.5 * steady, "{slip}: {rows} beside {steady}");
            assert!(told[0].contains(said) && told[0].contains("14.3 cm"), "{told:?}");
        }
        // Of two nobody can say which it is: either may be told.
        assert_eq!(error(&[143.0, 163.0]).1.len(), 1);
    }

    #[test]
    fn odd_ratios_warn_and_every_fault_is_gathered() {
        let (_, warnings) = set(&[swatch(Structure::Plain, &[142.0], &[250.0])]).expect("ok");
        assert_eq!(warnings.iter().map(|w| w.code.as_str()).collect::<Vec<_>>(), ["odd-gauge"]);
        let faults = set(&[
            swatch(Structure::Plain, &[], &[150.0]),
            swatch(Structure::Rib1x1, &[0.0], &[150.0]),
        ])
        .expect_err("two faults");
        assert_eq!(
            faults.iter().map(|w| w.code.as_str()).collect::<Vec<_>>(),
            ["no-readings", "no-width"]
        );
    }
}
