use super::Move;
use super::moves::fold;
use crate::needle::Side;
use diag::{Code, Diagnostic};

/// More rows than any piece has.
const MOST_ROWS: f64 = 100_000.0;
/// Wider than any bed.
const MOST_STITCHES: f64 = 10_000.0;

/// The outline of a piece: widths at rising heights, straight between them. In mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// Height and width; two points or more.
    points: Vec<(f64, f64)>,
}

/// How an outline is turned into stitches and rows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Follow {
    /// Width of a stitch, in mm.
    pub stitch_mm: f64,
    /// Height of a row, in mm.
    pub row_mm: f64,
    /// Shaping falls on every so many rows, and the rows are a multiple of it.
    pub every: u32,
    /// Both sides alike, or one side only.
    pub symmetric: bool,
}

/// Rows knitted, then the change on each shaped side: stitches more, or fewer when negative. The
/// last of an outline has no change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// Rows knitted before the change.
    pub rows: u32,
    /// Stitches on each shaped side.
    pub change: i32,
}

impl Outline {
    /// # Errors
    /// Fewer than two points, heights that don't rise, widths below nought.
    pub fn new(points: Vec<(f64, f64)>) -> Result<Outline, Diagnostic> {
        let fault = |message: String| {
            Err(Diagnostic::error(Code::Outline, message)
                .hint("give { height, width } in mm from the cast-on upwards"))
        };
        if points.len() < 2 {
            return fault("an outline takes two points or more".to_owned());
        }
        if let Some(pair) = points.windows(2).find(|pair| pair[1].0 <= pair[0].0) {
            return fault(format!("the outline goes from {} mm up to {} mm", pair[0].0, pair[1].0));
        }
        if let Some((_, width)) = points.iter().find(|(_, width)| *width < 0.0) {
            return fault(format!("the outline is {width} mm wide"));
        }
        Ok(Outline { points })
    }

    /// From the first point to the last.
    fn height_mm(&self) -> f64 {
        match (self.points.first(), self.points.last()) {
            (Some(first), Some(last)) => last.0 - first.0,
            _ => 0.0,
        }
    }

    /// The width at a share of the height, 0 to 1.
    pub fn width_mm(&self, share: f64) -> f64 {
        let height = self.points[0].0 + share * self.height_mm();
        let pair = self
            .points
            .windows(2)
            .find(|pair| height <= pair[1].0)
            .unwrap_or(&self.points[self.points.len() - 2..]);
        let ((low, from), (high, to)) = (pair[0], pair[1]);
        from + (to - from) * ((height - low) / (high - low)).clamp(0.0, 1.0)
    }

    /// Stitches to cast on, and the stretches that follow the outline.
    ///
    /// The rows are the multiple of `every` nearest the height, in blocks of `every` rows of one
    /// width. The first block is as wide as the outline begins, the last as it ends, and each is the
    /// whole number of stitches nearest the outline somewhere along that block: half a stitch off
    /// on each shaped side at most. Of the two cast-ons next to the first width the one with the
    /// least squared error over all blocks is taken. One stitch always stays.
    ///
    /// # Errors
    /// An outline beyond anything that is knitted.
    pub fn follow(&self, follow: Follow) -> Result<(u32, Vec<Stretch>), Diagnostic> {
        let every = follow.every.max(1);
        let rows = self.height_mm() / follow.row_mm;
        let widest = self.points.iter().map(|p| p.1).fold(0.0, f64::max) / follow.stitch_mm;
        if !(rows <= MOST_ROWS && widest <= MOST_STITCHES) {
            return Err(Diagnostic::error(
                Code::Outline,
                format!("the outline takes {rows:.0} rows and {widest:.0} stitches"),
            )
            .hint("heights and widths are in mm, and so are stitch_mm and row_mm"));
        }
        let blocks = (rows / f64::from(every)).round().max(1.0) as u32;
        let wanted: Vec<f64> = (0..blocks)
            .map(|block| {
                // One block alone is as wide as the middle.
                let share =
                    if blocks == 1 { 0.5 } else { f64::from(block) / f64::from(blocks - 1) };
                self.width_mm(share) / follow.stitch_mm
            })
            .collect();
        let sides = if follow.symmetric { 2 } else { 1 };
        let first = wanted[0];
        let mut best: Option<(f64, Vec<i32>)> = None;
        // The nearer one first: of equals it is kept.
        let near = first.round();
        let other = if near > first { first.floor() } else { first.ceil() };
        for cast_on in [near, other] {
            let cast_on = (cast_on as i32).max(1);
            let widths: Vec<i32> =
                wanted.iter().map(|wanted| nearest(*wanted, cast_on, sides)).collect();
            let error: f64 = widths
                .iter()
                .zip(&wanted)
                .map(|(width, wanted)| (f64::from(*width) - wanted).powi(2))
                .sum();
            // Only a real gain is worth a cast-on that is further off.
            if best.as_ref().is_none_or(|(least, _)| error < least - 1e-9) {
                best = Some((error, widths));
            }
        }
        let (_, widths) = best.unwrap_or_default();
        let mut stretches = Vec::new();
        let mut plain = 0;
        for (block, width) in widths.iter().enumerate() {
            plain += every;
            let next = widths.get(block + 1);
            if next != Some(width) {
                let change = next.map_or(0, |next| (next - width) / sides);
                stretches.push(Stretch { rows: plain, change });
                plain = 0;
            }
        }
        Ok((widths.first().map_or(1, |width| *width as u32), stretches))
    }
}

/// The width nearest `wanted` that `cast_on` stitches reach by as many on each of `sides`.
fn nearest(wanted: f64, cast_on: i32, sides: i32) -> i32 {
    let steps = ((wanted - f64::from(cast_on)) / f64::from(sides)).round() as i32;
    let width = cast_on + sides * steps;
    if width >= 1 { width } else { width + sides * ((sides - width) / sides) }
}

impl Stretch {
    /// The moves of a list of stretches: knit, then change `sides`. What comes again is folded.
    pub fn moves(stretches: &[Stretch], sides: &[Side]) -> Vec<Move> {
        let groups: Vec<Vec<Move>> = stretches
            .iter()
            .map(|stretch| {
                let count = stretch.change.unsigned_abs();
                let changes = sides.iter().filter(|_| count > 0).map(|side| {
                    if stretch.change > 0 {
                        Move::Increase(*side, count)
                    } else {
                        Move::Decrease(*side, count)
                    }
                });
                std::iter::once(Move::Knit(stretch.rows)).chain(changes).collect()
            })
            .collect();
        fold(&groups, 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GAUGE: Follow = Follow { stitch_mm: 2.5, row_mm: 2.0, every: 2, symmetric: true };

    fn outline(points: &[(f64, f64)]) -> Outline {
        Outline::new(points.to_vec()).expect("a sound outline")
    }

    #[test]
    fn a_straight_piece_is_one_stretch() {
        let (cast_on, stretches) =
            outline(&[(0.0, 100.0), (200.0, 100.0)]).follow(GAUGE).expect("small");
        assert_eq!((cast_on, stretches), (40, vec![Stretch { rows: 100, change: 0 }]));
    }

    #[test]
    fn a_taper_begins_and_ends_as_wide_as_it_should() {
        let (cast_on, stretches) =
            outline(&[(0.0, 150.0), (280.0, 200.0)]).follow(GAUGE).expect("small");
        assert_eq!(cast_on, 60);
        assert_eq!(stretches.iter().map(|s| s.rows).sum::<u32>(), 140);
        assert_eq!(stretches.iter().map(|s| s.change).sum::<i32>(), 10);
        assert!(stretches.iter().all(|s| s.rows.is_multiple_of(2)));
        // Evenly: but for the ends, which are half a gap, the gaps differ by one block at most.
        let inner: Vec<u32> = stretches[1..stretches.len() - 1].iter().map(|s| s.rows).collect();
        let (least, most) = (inner.iter().min(), inner.iter().max());
        assert!(most.zip(least).is_some_and(|(most, least)| most - least <= 2), "{inner:?}");
    }

    #[test]
    fn a_point_keeps_a_stitch() {
        for width in [95.0, 97.5, 100.0] {
            for symmetric in [true, false] {
                let follow = Follow { symmetric, ..GAUGE };
                let (cast_on, stretches) =
                    outline(&[(0.0, width), (150.0, 0.0)]).follow(follow).expect("small");
                let sides = if symmetric { 2 } else { 1 };
                let lost: i32 = stretches.iter().map(|s| sides * s.change).sum();
                let left = cast_on as i32 + lost;
                assert!((1..=2).contains(&left), "{width}: {left}");
            }
        }
    }

    #[test]
    fn one_block_is_as_wide_as_the_middle() {
        let (cast_on, stretches) =
            outline(&[(0.0, 50.0), (4.0, 100.0)]).follow(GAUGE).expect("small");
        assert_eq!((cast_on, stretches), (30, vec![Stretch { rows: 2, change: 0 }]));
    }

    #[test]
    fn moves_are_folded_and_shape_both_sides() {
        let stretches = [
            Stretch { rows: 4, change: -1 },
            Stretch { rows: 4, change: -1 },
            Stretch { rows: 6, change: 0 },
        ];
        let moves = Stretch::moves(&stretches, &[Side::Left, Side::Right]);
        let round =
            vec![Move::Knit(4), Move::Decrease(Side::Left, 1), Move::Decrease(Side::Right, 1)];
        assert_eq!(moves, [Move::Again(2, round), Move::Knit(6)]);
    }

    #[test]
    fn what_is_no_outline_is_refused() {
        for points in [
            vec![],
            vec![(0.0, 10.0)],
            vec![(0.0, 10.0), (0.0, 20.0)],
            vec![(5.0, 10.0), (4.0, 20.0)],
            vec![(0.0, -1.0), (4.0, 20.0)],
        ] {
            assert!(Outline::new(points.clone()).is_err(), "{points:?}");
        }
        assert!(outline(&[(0.0, 1.0), (1e9, 1.0)]).follow(GAUGE).is_err());
    }
}
