//! What a shape in the round tells, in words: where its cloth is stretched and where it hangs in folds, and what
//! it goes over when it is put on.

use std::collections::BTreeMap;

use knit::graph::Graph;
use knit::round::{Measured, Point, Shape, ShapePart};
use knit::size_run::Made;

/// Below this share cloth is as at rest.
const AT_REST: f64 = 0.02;
/// Between two cuts across a shape.
const CUT_MM: f64 = 5.0;

/// Sentences, without a full stop. `folds` where the shape stands upright, so that cuts across it go round it.
pub(super) fn round_told(
    graph: &Graph,
    shape: &Shape,
    made: &Made,
    measured: &[Measured],
    folds: bool,
) -> Vec<String> {
    let mut told = Vec::new();
    // Where cloth lies double, a cut across meets it twice.
    let folds = folds && graph.inside.is_empty();
    for (nth, section) in made.graded.run.sections.iter().enumerate() {
        let own = |at: u32| usize::from(graph.loops[at as usize].section) == nth;
        let Some((wide, high)) = stretched(shape, &own) else { continue };
        let mut words = format!(
            "{}: {} along the rows, {} across them",
            capital(&section.name),
            share_words(wide),
            share_words(high)
        );
        let spare = if folds { to_spare(shape, &own) } else { 0.0 };
        if spare > 0.1 {
            words.push_str(&format!("; {:.0} % more round it than lies flat there", spare * 100.0));
        }
        told.push(words);
    }
    told.extend(goes_over(made));
    let of = |own: &Measured| format!("{} {:.0} %", own.title, own.share * 100.0);
    let all: Vec<String> = measured.iter().map(of).collect();
    if !all.is_empty() {
        told.push(format!("Along the cloth as it lies, of what was counted: {}", all.join(", ")));
    }
    told
}

fn capital(name: &str) -> String {
    let mut letters = name.chars();
    letters
        .next()
        .map_or(String::new(), |first| first.to_uppercase().collect::<String>() + letters.as_str())
}

fn share_words(share: f64) -> String {
    let percent = (share * 100.0).abs();
    if share.abs() < AT_REST {
        "as at rest".to_owned()
    } else if share > 0.0 {
        format!("stretched {percent:.0} %")
    } else {
        format!("pushed together {percent:.0} %")
    }
}

/// How much longer some loops' cloth lies than at rest, along its rows and along its wales.
fn stretched(shape: &Shape, own: &dyn Fn(u32) -> bool) -> Option<(f64, f64)> {
    let (mut sum, mut count) = ((0.0, 0.0), 0u32);
    for part in &shape.parts {
        for ((at, wide), high) in part.loops.iter().zip(&part.along_row).zip(&part.along_wale) {
            if own(*at) {
                sum = (sum.0 + f64::from(*wide), sum.1 + f64::from(*high));
                count += 1;
            }
        }
    }
    (count > 0).then(|| (sum.0 / f64::from(count), sum.1 / f64::from(count)))
}

/// How much more cloth there is round the shape than a line drawn tight about it is long, as a share.
fn to_spare(shape: &Shape, own: &dyn Fn(u32) -> bool) -> f64 {
    let (mut cloth, mut tight) = (0.0, 0.0);
    for part in &shape.parts {
        for (length, points) in cuts(part, own) {
            let round = round_of(points);
            // What a cut meets on one side only is no girth.
            if length >= round {
                cloth += length;
                tight += round;
            }
        }
    }
    if tight > 0.0 { cloth / tight - 1.0 } else { 0.0 }
}

/// By height, how much cloth a level cut meets, and where.
fn cuts(part: &ShapePart, own: &dyn Fn(u32) -> bool) -> Vec<(f64, Vec<(f64, f64)>)> {
    let mut cuts: BTreeMap<i64, (f64, Vec<(f64, f64)>)> = BTreeMap::new();
    for face in part.faces.iter().filter(|face| face.iter().all(|at| own(part.loops[*at as usize])))
    {
        let corners = face.map(|at| part.at[at as usize]);
        let low = corners.iter().map(|p| p.y).fold(f64::INFINITY, f64::min);
        let high = corners.iter().map(|p| p.y).fold(f64::NEG_INFINITY, f64::max);
        for level in (low / CUT_MM).ceil() as i64..=(high / CUT_MM).floor() as i64 {
            let met = met(&corners, level as f64 * CUT_MM);
            if let [a, b] = met[..] {
                let cut = cuts.entry(level).or_default();
                cut.0 += (a.0 - b.0).hypot(a.1 - b.1);
                cut.1.extend([a, b]);
            }
        }
    }
    cuts.into_values().collect()
}

/// Where a level meets the sides of a triangle.
fn met(corners: &[Point; 3], level: f64) -> Vec<(f64, f64)> {
    let side = |n: usize| {
        let (a, b) = (corners[n], corners[(n + 1) % 3]);
        let crosses = (a.y < level) != (b.y < level);
        crosses.then(|| {
            let there = a.lerp(b, (level - a.y) / (b.y - a.y));
            (there.x, there.z)
        })
    };
    (0..3).filter_map(side).collect()
}

/// How long a line drawn tight about points is.
fn round_of(mut points: Vec<(f64, f64)>) -> f64 {
    points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let half = |points: &mut dyn Iterator<Item = &(f64, f64)>| {
        let mut line: Vec<(f64, f64)> = Vec::new();
        for point in points {
            while let [.., a, b] = line[..] {
                let turn = (b.0 - a.0) * (point.1 - a.1) - (b.1 - a.1) * (point.0 - a.0);
                if turn > 0.0 {
                    break;
                }
                line.pop();
            }
            line.push(*point);
        }
        line.windows(2).map(|two| (two[1].0 - two[0].0).hypot(two[1].1 - two[0].1)).sum::<f64>()
    };
    half(&mut points.iter()) + half(&mut points.iter().rev())
}

/// What each girth goes over when it is put on, by the garment's own list.
fn goes_over(made: &Made) -> Vec<String> {
    let finished = &made.graded.finished;
    let told = made.garment.stretches.iter().filter_map(|stretch| {
        let girth = finished.iter().find(|girth| girth.name == stretch.of)?;
        let asked = stretch.over_mm / girth.mm - 1.0;
        let gives = stretch.structure.stretches_to() - 1.0;
        let (title, over) = (&girth.title, &stretch.over);
        Some(if asked <= 0.0 {
            format!("{title}: goes over {over} without stretching")
        } else {
            let (asked, gives) = (asked * 100.0, gives * 100.0);
            let goes = if asked <= gives { "goes" } else { "does not go" };
            let fabric = stretch.structure;
            format!(
                "{title}: {goes} over {over}, stretched {asked:.0} %; {fabric} gives {gives:.0} %"
            )
        })
    });
    told.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_drawn_tight_leaves_out_what_lies_inside() {
        let square = vec![(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0), (1.0, 1.0), (1.0, 0.5)];
        assert!((round_of(square) - 8.0).abs() < 1e-12);
    }

    #[test]
    fn shares_are_told_as_a_knitter_says_them() {
        assert_eq!(share_words(0.081), "stretched 8 %");
        assert_eq!(share_words(-0.3), "pushed together 30 %");
        assert_eq!(share_words(0.004), "as at rest");
    }
}
