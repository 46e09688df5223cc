use statrs::distribution::{ContinuousCDF, StudentsT};

use super::NORMAL_95;

/// The 97.5 % quantile of Student's t: half-width of a 95 % interval, in standard errors. Degrees may
/// be broken, and are taken as 1 below that; beyond ten thousand it is the normal's.
pub fn t_975(degrees: f64) -> f64 {
    if degrees > 1e4 {
        return NORMAL_95;
    }
    let t = StudentsT::new(0.0, 1.0, degrees.max(1.0));
    t.map_or(NORMAL_95, |t| t.inverse_cdf(0.975))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Percentage points as any printed table of Student's t has them, to three decimals.
    #[test]
    fn quantiles_are_those_of_the_printed_table() {
        let table = [
            (1.0, 12.706),
            (2.0, 4.303),
            (3.0, 3.182),
            (4.0, 2.776),
            (5.0, 2.571),
            (6.0, 2.447),
            (7.0, 2.365),
            (8.0, 2.306),
            (9.0, 2.262),
            (10.0, 2.228),
            (15.0, 2.131),
            (20.0, 2.086),
            (30.0, 2.042),
            (60.0, 2.000),
            (120.0, 1.980),
        ];
        for (degrees, t) in table {
            assert!((t_975(degrees) - t).abs() < 6e-4, "{degrees}: {}", t_975(degrees));
        }
        assert!((t_975(9_999.0) - t_975(10_001.0)).abs() < 3e-4);
    }
}
