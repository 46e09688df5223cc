/// A row of small boxes, one to tick each time round.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ticks {
    /// What the row is for where there are several: "round 2".
    pub label: String,
    /// How many rounds a box stands for.
    pub each: u32,
    pub boxes: Vec<Tick>,
}

/// One box of a row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tick {
    pub nth: u32,
    /// The rounds done once it is ticked, where that is told behind it.
    pub done: Option<u32>,
}

/// Longer rows are ticked by tens.
const MOST_SINGLE: u32 = 60;
const MOST_ROWS: u32 = 12;
const MOST_BOXES: u32 = 240;

impl Ticks {
    /// Boxes for a repeat of `times` rounds, a figure for each size: as many as the size with the
    /// most needs, the count told behind each fifth box and where a size is done.
    pub fn new(times: &[u32]) -> Ticks {
        let most = times.iter().copied().max().unwrap_or_default();
        let each = if most > MOST_SINGLE { 10 } else { 1 };
        let boxes = (1..=most.div_ceil(each))
            .map(|nth| {
                let rounds = (nth * each).min(most);
                let before = (nth - 1) * each;
                // A size that is done within a box of ten is told exactly.
                let size = times.iter().copied().filter(|t| *t > before && *t <= rounds).max();
                Tick { nth, done: size.or((nth % 5 == 0).then_some(rounds)) }
            })
            .collect();
        Ticks { label: String::new(), each, boxes }
    }

    /// Boxes with the figure that counts them.
    pub fn groups(&self) -> impl Iterator<Item = &[Tick]> {
        self.boxes.split_inclusive(|tick| tick.done.is_some())
    }

    /// The same row for each of `outer` rounds it is worked in, where that stays a page's business;
    /// else nothing: the row counter has to do.
    pub fn within(times: &[u32], outer: u32) -> Vec<Ticks> {
        let one = Ticks::new(times);
        if outer <= 1 {
            return vec![one];
        }
        if outer > MOST_ROWS || outer * one.boxes.len() as u32 > MOST_BOXES {
            return Vec::new();
        }
        (1..=outer).map(|n| Ticks { label: format!("round {n}"), ..one.clone() }).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(times: &[u32]) -> (u32, usize, Vec<(usize, u32)>) {
        let ticks = Ticks::new(times);
        let done = ticks.boxes.iter().enumerate();
        let done = done.filter_map(|(i, tick)| Some((i + 1, tick.done?))).collect();
        (ticks.each, ticks.boxes.len(), done)
    }

    #[test]
    fn a_box_a_round_and_the_ends_of_sizes_are_told() {
        assert_eq!(told(&[6]), (1, 6, vec![(5, 5), (6, 6)]));
        assert_eq!(told(&[3, 7, 4]), (1, 7, vec![(3, 3), (4, 4), (5, 5), (7, 7)]));
    }

    #[test]
    fn long_rows_go_by_tens() {
        assert_eq!(told(&[60]).1, 60);
        assert_eq!(told(&[61]), (10, 7, vec![(5, 50), (7, 61)]));
        assert_eq!(told(&[64, 100]), (10, 10, vec![(5, 50), (7, 64), (10, 100)]));
    }

    #[test]
    fn rows_within_rounds_stay_few() {
        assert_eq!(Ticks::within(&[22], 6).len(), 6);
        assert_eq!(Ticks::within(&[22], 6)[5].label, "round 6");
        assert!(Ticks::within(&[22], 13).is_empty());
        assert!(Ticks::within(&[60], 6).is_empty());
    }
}
