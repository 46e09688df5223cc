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

/// How many points of a part lie so deep in what it lies on.
fn deep(part: &ShapePart, mm: f64) -> usize {
    let Some(form) = &part.form else { return 0 };
    let is_deep = |at: &&Point| form.outside(**at).is_some_and(|out| (out - **at).length() > mm);
    part.at.iter().filter(is_deep).count()
}

fn heights(part: &ShapePart) -> (f64, f64) {
    part.at
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| (low.min(at.y), high.max(at.y)))
}

#[test]
fn a_slack_bag_sits_round_the_forehead_and_falls_outwards() {
    for tam in shapes("tam", "m3-6,men-l", Pose::Worn) {
        let part = &tam.shape.parts[0];
        let form = part.form.as_ref().expect("a head").mesh();
        let crown = form.at.iter().map(|at| at.y).fold(f64::NEG_INFINITY, f64::max);
        let (low, high) = heights(part);
        // The head is widest at height 0; the band neither slips up nor turns in.
        assert!(low.abs() < 0.12 * crown, "{low} below the widest place, the crown at {crown}");
        assert!(high < crown + 25.0, "{high} over {crown}");
        let band = part.at.iter().filter(|at| at.y < low + 8.0);
        let [mut wide, mut deep_mm] = [(0.0f64, 0.0f64); 2];
        for at in band {
            wide = (wide.0.min(at.x), wide.1.max(at.x));
            deep_mm = (deep_mm.0.min(at.z), deep_mm.1.max(at.z));
        }
        let rim = [wide.1 - wide.0, deep_mm.1 - deep_mm.0];
        let all = extent(part);
        assert!(all[0] > 1.1 * rim[0] && all[2] > 1.02 * rim[1], "{all:?} over a rim of {rim:?}");
        assert!(deep(part, 3.0) * 50 < part.at.len(), "{} in the head", deep(part, 3.0));
    }
}

#[test]
fn a_tam_on_its_plate_is_flat_and_as_wide_as_the_plate() {
    let tam = shapes("tam", "y7-8", Pose::Blocked).remove(0).shape;
    let [wide, high, broad] = extent(&tam.parts[0]);
    assert!((wide / broad - 1.0).abs() < 0.08, "{wide} by {broad}");
    assert!(high < 0.45 * wide, "{high} of {wide}");
    let part = &tam.parts[0];
    let form = part.form.as_ref().expect("a plate").mesh();
    let plate = 2.0 * form.at.iter().map(|at| at.x).fold(0.0, f64::max);
    assert!((wide / plate - 1.0).abs() < 0.12, "{wide} on {plate}");
    assert!(deep(part, 4.0) * 50 < part.at.len(), "{} in the plate", deep(part, 4.0));
}

#[test]
fn a_helmet_is_on_the_head_and_its_flaps_hang_beside_it() {
    let helmet = shapes("helmet", "y7-8", Pose::Worn).remove(0).shape;
    let part = &helmet.parts[0];
    let (low, high) = heights(part);
    let crown = part.form.as_ref().expect("a head").mesh();
    let crown = crown.at.iter().map(|at| at.y).fold(f64::NEG_INFINITY, f64::max);
    assert!((high - crown).abs() < 20.0, "{high} and {crown}");
    // What hangs lowest hangs at the ears, on both sides.
    for side in [-1.0, 1.0] {
        let own = part.at.iter().filter(|at| at.x * side > 0.0);
        let lowest = own.min_by(|a, b| a.y.total_cmp(&b.y)).expect("a point");
        assert!(lowest.x.abs() > lowest.z.abs(), "{lowest:?}");
        assert!(lowest.y < low + 15.0, "{lowest:?} and {low}");
    }
    assert!(deep(part, 4.0) * 50 < part.at.len(), "{} in the head", deep(part, 4.0));
}

#[test]
fn sizes_grow_with_the_body() {
    for garment in ["cuff", "mitten", "bootee", "tam"] {
        let sizes = if garment == "bootee" { "m3-6,m6-12" } else { "m3-6,y7-8,men-l" };
        let large: Vec<f64> = shapes(garment, sizes, Pose::Worn)
            .iter()
            .map(|round| extent(&round.shape.parts[0]).iter().product())
            .collect();
        assert!(large.len() > 1, "{garment}");
        assert!(large.is_sorted_by(|a, b| a < b), "{garment}: {large:?}");
    }
}

#[test]
fn a_small_sock_is_on_the_foot_to_its_toes() {
    for garment in ["sock", "sock-flat"] {
        let run = grade(garment, "standard", &demo("standard"), "newborn", &[]).expect("a run");
        let (size, made) = run.good().next().expect("a size");
        let foot = size.body.mm("foot_length").expect("a foot");
        for detail in [Detail::Coarse, Detail::Full] {
            let round =
                in_the_round(&run, size, made, None, (Pose::Worn, detail)).expect("a shape");
            for part in &round.shape.parts {
                let ends = part
                    .at
                    .iter()
                    .fold((0.0f64, 0.0f64), |(heel, toe), at| (heel.min(at.z), toe.max(at.z)));
                // The foot lies from half its length behind to half its length before.
                assert!(ends.0 < -0.45 * foot && ends.1 > 0.45 * foot, "{garment}: {ends:?}");
                let (low, high) = heights(part);
                assert!(low < 0.05 * foot && high > 0.4 * foot, "{garment}: {low} {high}");
                assert!(deep(part, 4.0) * 50 < part.at.len(), "{garment} in the foot");
            }
        }
    }
}

#[test]
fn a_headband_is_worn_round_the_head_and_a_neck_ring_round_the_neck() {
    let widest_at_brow = |garment: &str, options: &[&str], sizes: &str| {
        let run = grade(garment, "standard", &demo("standard"), sizes, options).expect("a run");
        let is_on = run.good().map(|(size, made)| {
            let look = (Pose::Worn, Detail::Coarse);
            let round = in_the_round(&run, size, made, None, look).expect("a shape");
            let part = &round.shape.parts[0];
            let form = part.form.as_ref().expect("a head").mesh();
            let crown = form.at.iter().map(|at| at.y).fold(f64::NEG_INFINITY, f64::max);
            let (low, high) = heights(part);
            assert!(deep(part, 4.0) * 50 < part.at.len(), "{garment} in the head");
            // The head is widest at height 0.
            (low < 0.0 && high > 0.0 && high < 0.9 * crown && low > -0.6 * crown, high < 0.0)
        });
        is_on.collect::<Vec<_>>()
    };
    for fabric in ["fabric=plain", "fabric=rib 1x1"] {
        let band = widest_at_brow("headband", &[fabric], "m3-6,y7-8,women-m");
        assert_eq!(band, [(true, false); 3], "{fabric}");
    }
    let ring = widest_at_brow("neck-ring", &[], "y7-8,women-m");
    assert_eq!(ring, [(false, true); 2]);
}

/// Edges of faces that belong to one, and to more than two.
fn edges(part: &ShapePart) -> (usize, usize) {
    let mut met = std::collections::BTreeMap::<[u32; 2], usize>::new();
    for face in &part.faces {
        for n in 0..3 {
            let (a, b) = (face[n], face[(n + 1) % 3]);
            *met.entry([a.min(b), a.max(b)]).or_default() += 1;
        }
    }
    let of = |which: fn(&usize) -> bool| met.values().filter(|count| which(count)).count();
    (of(|count| *count == 1), of(|count| *count > 2))
}

#[test]
fn cloth_is_one_surface_whose_only_edges_are_its_openings() {
    for garment in ["hat", "tam", "sock", "mitten", "bootee"] {
        let run = grade(garment, "standard", &demo("standard"), "m3-6", &[]).expect("a run");
        let (size, made) = run.good().next().expect("a size");
        for detail in [Detail::Coarse, Detail::Full] {
            let round = in_the_round(&run, size, made, None, (Pose::Off, detail)).expect("a shape");
            for part in &round.shape.parts {
                let (open, crossed) = edges(part);
                assert_eq!(crossed, 0, "{garment} {detail:?}");
                assert!(open > 8 && open * 8 < part.faces.len(), "{garment} {detail:?}: {open}");
            }
        }
    }
}

/// The part of the faces that look the other way than the cloth about them.
fn inverted(round: &InTheRound) -> f64 {
    let (mut wrong, mut all) = (0, 0);
    for part in &round.shape.parts {
        let normal = |face: &[u32; 3]| {
            let [a, b, c] = face.map(|at| part.at[at as usize]);
            (b - a).cross(c - a)
        };
        let mut about = vec![Point::default(); part.at.len()];
        for face in &part.faces {
            for at in face {
                about[*at as usize] += normal(face);
            }
        }
        for face in &part.faces {
            let sum = face.iter().fold(Point::default(), |sum, at| sum + about[*at as usize]);
            all += 1;
            wrong += i32::from(normal(face).dot(sum) < 0.0);
        }
    }
    f64::from(wrong) / f64::from(all)
}

#[test]
fn what_was_counted_is_found_along_the_cloth() {
    let mut wrong = Vec::new();
    for garment in ["hat", "tam", "mitten", "sock", "cuff"] {
        let run = grade(garment, "standard", &demo("standard"), "y7-8", &[]).expect("a run");
        let (size, made) = run.good().next().expect("a size");
        let look = (Pose::Off, Detail::Full);
        let round = in_the_round(&run, size, made, None, look).expect("a shape");
        assert!(!round.measured.is_empty(), "{garment}");
        for own in &round.measured {
            println!("{garment} {}: {:.1} %", own.title, own.share * 100.0);
            // So narrow a tube is drawn in by what it is bent.
            let within = if own.name == "thumb_girth" { 0.04 } else { 0.02 };
            if (own.share - 1.0).abs() > within {
                wrong.push(format!("{garment} {}: {}", own.title, own.share));
            }
        }
        let inverted = inverted(&round);
        println!("{garment}: {:.2} % inverted", inverted * 100.0);
        if inverted > 0.005 {
            wrong.push(format!("{garment}: {inverted} inverted"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
