/// Where an evenly spaced row of shapings leaves plain stitches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ends {
    /// A gap before each shaping: the last shaping is at the very end.
    One,
    /// A gap at both ends too: one gap more than there are shapings.
    Both,
}

impl Ends {
    /// As scripts write it.
    pub fn parse(text: &str) -> Option<Ends> {
        match text {
            "one" => Some(Ends::One),
            "both" => Some(Ends::Both),
            _ => None,
        }
    }
}

/// The plain stitches (or rows) between `shapings` spread over `total`: division with remainder,
/// the longer gaps as far apart from each other as whole numbers allow. The gaps sum to `total` and
/// differ by one at most; more shapings than stitches make gaps of nought.
pub fn gaps(total: u32, shapings: u32, ends: Ends) -> Vec<u32> {
    let count = u64::from(shapings) + u64::from(ends == Ends::Both);
    let total = u64::from(total);
    // Half a gap ahead, so that the longer ones don't all crowd towards the far end.
    let upto = |n: u64| (2 * n * total + count) / (2 * count);
    (0..count).map(|n| (upto(n + 1) - upto(n)) as u32).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published: 7 increases in 100 stitches are 5 groups of 14 and 2 of 15, spread.
    #[test]
    fn seven_increases_in_a_hundred_stitches() {
        assert_eq!(gaps(100, 7, Ends::One), [14, 15, 14, 14, 14, 15, 14]);
    }

    #[test]
    fn both_ends_stay_plain() {
        assert_eq!(gaps(10, 4, Ends::Both), [2, 2, 2, 2, 2]);
        assert_eq!(gaps(11, 4, Ends::Both), [2, 2, 3, 2, 2]);
        assert_eq!(gaps(9, 0, Ends::Both), [9]);
        assert_eq!(gaps(9, 0, Ends::One), [0; 0]);
    }

    #[test]
    fn gaps_sum_to_the_whole_and_differ_by_one_at_most() {
        for ends in [Ends::One, Ends::Both] {
            for total in 0..80 {
                for shapings in 1..40 {
                    let gaps = gaps(total, shapings, ends);
                    assert_eq!(gaps.len() as u32, shapings + u32::from(ends == Ends::Both));
                    assert_eq!(gaps.iter().sum::<u32>(), total);
                    let (least, most) = (gaps.iter().min(), gaps.iter().max());
                    assert!(most.zip(least).is_some_and(|(most, least)| most - least <= 1));
                }
            }
        }
    }
}
