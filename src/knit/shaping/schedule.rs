use super::Ends;
use diag::{Code, Diagnostic};

/// "Every `every`th row, `times` times."
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Interval {
    /// Rows from one shaping to the next.
    pub every: u32,
    /// How often.
    pub times: u32,
}

/// Shapings over rows as a pattern words it: one interval, or two neighbours, the shorter first;
/// then the rows left plain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Schedule {
    /// One, or two neighbours with the shorter first; none without a shaping.
    pub intervals: Vec<Interval>,
    /// Rows after the last shaping.
    pub plain: u32,
}

/// `shapings` over `rows`, each after its interval, a multiple of `multiple` rows: division with
/// remainder. The rows of all intervals and the plain ones sum to `rows`.
///
/// # Errors
/// More shapings than the rows have multiples.
pub fn schedule(
    shapings: u32,
    rows: u32,
    multiple: u32,
    ends: Ends,
) -> Result<Schedule, Diagnostic> {
    let multiple = multiple.max(1);
    let parts = shapings + u32::from(ends == Ends::Both);
    if parts == 0 {
        return Ok(Schedule { intervals: Vec::new(), plain: rows });
    }
    let (units, odd) = (rows / multiple, rows % multiple);
    let (every, longer) = (units / parts, units % parts);
    if every == 0 {
        return Err(Diagnostic::error(
            Code::ShapeCrowded,
            if multiple == 1 {
                format!("{shapings} shapings don't fit in {rows} rows")
            } else {
                format!("{shapings} shapings {multiple} rows apart don't fit in {rows} rows")
            },
        )
        .hint("shape more stitches at a time, or on both sides, or over more rows"));
    }
    // The plain stretch is one of the shorter ones: `longer` < `parts`, so there always is one.
    let plain = odd + if ends == Ends::Both { every * multiple } else { 0 };
    let intervals = [
        Interval { every: every * multiple, times: shapings - longer },
        Interval { every: (every + 1) * multiple, times: longer },
    ];
    Ok(Schedule { intervals: intervals.into_iter().filter(|i| i.times > 0).collect(), plain })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published: 36 shapings over 140 rows are 4 times every 3rd and 32 times every 4th row.
    #[test]
    fn thirty_six_shapings_over_a_hundred_and_forty_rows() {
        let made = schedule(36, 140, 1, Ends::One).expect("it fits");
        let expected = [Interval { every: 3, times: 4 }, Interval { every: 4, times: 32 }];
        assert_eq!((made.intervals.as_slice(), made.plain), (&expected[..], 0));
    }

    #[test]
    fn rows_and_shapings_add_up() {
        for (ends, multiple) in [(Ends::One, 1), (Ends::Both, 1), (Ends::One, 2), (Ends::Both, 3)] {
            for rows in 0..90 {
                for shapings in 0..50 {
                    let parts = shapings + u32::from(ends == Ends::Both);
                    let Ok(made) = schedule(shapings, rows, multiple, ends) else {
                        assert!(rows / multiple < parts, "{shapings} over {rows}");
                        continue;
                    };
                    let spent: u32 = made.intervals.iter().map(|i| i.every * i.times).sum();
                    assert_eq!(spent + made.plain, rows);
                    assert_eq!(made.intervals.iter().map(|i| i.times).sum::<u32>(), shapings);
                    assert!(made.intervals.windows(2).all(|w| w[0].every + multiple == w[1].every));
                    assert!(made.intervals.iter().all(|i| i.every.is_multiple_of(multiple)));
                    assert!(if ends == Ends::One {
                        made.plain < multiple || shapings == 0
                    } else {
                        made.plain >= multiple || shapings == 0
                    });
                }
            }
        }
    }

    #[test]
    fn more_shapings_than_rows_are_refused() {
        let refused = schedule(5, 4, 1, Ends::One).expect_err("too many");
        assert_eq!(refused.message, "5 shapings don't fit in 4 rows");
        assert!(!refused.hints.is_empty());
    }
}
