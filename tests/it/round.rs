//! Garments in the round, looked at from outside: small ones at coarse detail.

use app::{InTheRound, in_the_round};
use knit::round::{Detail, Point, Pose, ShapePart};

use crate::support::{demo, grade};

/// A garment of each of those sizes.
fn shapes(garment: &str, sizes: &str, pose: Pose) -> Vec<InTheRound> {
    let run = grade(garment, "standard", &demo("standard"), sizes, &[]).expect("a run");
    run.good()
        .map(|(size, made)| {
            in_the_round(&run, size, made, None, (pose, Detail::Coarse)).expect("a shape")
        })
        .collect()
}

/// From the least to the most along each axis.
fn extent(part: &ShapePart) -> [f64; 3] {
    let along = |of: fn(&Point) -> f64| {
        let all = || part.at.iter().map(of);
        all().fold(f64::NEG_INFINITY, f64::max) - all().fold(f64::INFINITY, f64::min)
    };
    [along(|p| p.x), along(|p| p.y), along(|p| p.z)]
}

/// The part of its faces that look away from the middle of the cloth.
fn outwards(part: &ShapePart) -> f64 {
    let sum = part.at.iter().fold(Point::default(), |sum, point| sum + *point);
    let middle = sum * (1.0 / part.at.len() as f64);
    let away = part.faces.iter().filter(|face| {
        let [a, b, c] = face.map(|at| part.at[at as usize]);
        (b - a).cross(c - a).dot(a - middle) > 0.0
    });
    away.count() as f64 / part.faces.len() as f64
}

#[test]
fn a_hat_is_put_on_the_right_way_out_and_grows_with_the_head() {
    let hats = shapes("hat", "newborn,y7-8", Pose::Worn);
    let wide: Vec<f64> = hats
        .iter()
        .map(|hat| {
            let part = &hat.shape.parts[0];
            assert!(outwards(part) > 0.9, "{}", outwards(part));
            let form = part.form.as_ref().expect("a head");
            let deep = part.at.iter().filter_map(|at| Some((form.outside(*at)? - *at).length()));
            let deep = deep.fold(0.0, f64::max);
            assert!(deep < 3.0, "{deep} mm inside the head");
            // Its crown lies on the head's, and what is left of it hangs below.
            let top = part.at.iter().map(|at| at.y).fold(f64::NEG_INFINITY, f64::max);
            let crown = form.mesh().at.iter().map(|at| at.y).fold(f64::NEG_INFINITY, f64::max);
            assert!((top - crown).abs() < 12.0, "{top} and {crown}");
            extent(part)[0]
        })
        .collect();
    assert!(wide[1] > 1.2 * wide[0], "{wide:?}");
}

#[test]
fn flat_pieces_lie_flat_and_are_as_large_as_their_stitches() {
    let square = shapes("mitred-square", "women-m", Pose::Off).remove(0).shape;
    let [wide, high, deep] = extent(&square.parts[0]);
    assert!(high < 0.5, "{high}");
    assert!(wide > 100.0 && deep > 100.0, "{wide} by {deep}");
    let up = square.parts[0].faces.iter().filter(|face| {
        let [a, b, c] = face.map(|at| square.parts[0].at[at as usize]);
        (b - a).cross(c - a).y > 0.0
    });
    let up = up.count() as f64 / square.parts[0].faces.len() as f64;
    assert!(up > 0.95, "{up} of it with the right side up");
}

#[test]
fn the_two_of_a_pair_lie_beside_each_other_and_the_threads_make_no_difference() {
    let mittens = || shapes("mitten", "newborn", Pose::Worn).remove(0).shape;
    let pool = |threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    let one = pool(1).expect("a pool").install(mittens);
    let two = pool(2).expect("a pool").install(mittens);
    assert_eq!(one, two);
    let [left, right] = &one.parts[..] else { panic!("{} parts", one.parts.len()) };
    let most = left.at.iter().map(|at| at.x).fold(f64::NEG_INFINITY, f64::max);
    let least = right.at.iter().map(|at| at.x).fold(f64::INFINITY, f64::min);
    assert!(least > most, "{least} and {most}");
    assert!(outwards(left) > 0.9 && outwards(right) > 0.9);
}
