//! What an eye sees of garments in the round, of each family at three sizes.

use app::{InTheRound, in_the_round};
use knit::round::{Detail, Looks, Point, Pose, ShapePart};
use rayon::prelude::*;

use crate::support::{demo, grade};

/// The most that may be seen of each, in percent: creased, flown off, inside out, turned over.
type Most = [f64; 4];

/// What lies close about the body, drawn tight or nearly so: hardly a crease.
const CLOSE: Most = [5.0, 1.0, 1.0, 0.5];
/// What has room about the body hangs in folds and stands off.
const ROOMY: Most = [15.0, 100.0, 1.0, 1.0];
/// Few points: each cell is as wide as a crease.
const ROUGH: Most = [25.0, 5.0, 2.0, 7.0];
/// What lies on a table, on nothing: an opening is looked into.
const LYING: Most = [10.0, 0.0, 40.0, 0.5];

/// A garment with what may be seen of it where it is worn and where it lies.
struct Family {
    garment: &'static str,
    sizes: &'static str,
    worn: Most,
    lying: Most,
}

const fn close(garment: &'static str, sizes: &'static str) -> Family {
    Family { garment, sizes, worn: CLOSE, lying: LYING }
}

const THREE: &str = "newborn,y7-8,women-m";

/// Families that are small enough to be looked at with a point a loop.
fn families() -> Vec<Family> {
    vec![
        close("cuff", THREE),
        close("hat", "newborn,m3-6,y7-8,women-m"),
        close("leg-warmer", "y7-8,women-m"),
        // Cloth spans the corner between thumb and palm.
        Family { worn: [5.0, 3.0, 1.0, 0.5], ..close("mitt", "y7-8,women-m") },
        // A baby's is a round bag about a flat hand, and has room before and behind it.
        Family { worn: [5.0, 5.0, 1.0, 0.5], ..close("mitten", "newborn,m3-6,y7-8,women-m") },
        close("neck-ring", "y7-8,women-m"),
        // The line of a folded edge is a crease: two of some 5 mm on a band of 6 cm.
        Family {
            worn: [15.0, 1.0, 1.0, 0.5],
            lying: [15.0, 0.0, 40.0, 0.5],
            ..close("headband", THREE)
        },
        // Not good yet, as stands in the README: its flaps are narrow and show their lining.
        Family { worn: [15.0, 5.0, 6.0, 0.5], ..close("helmet", "newborn,m3-6,y7-8") },
        // Not good yet: rows crowd where a foot bends, and lying a small one turns about itself.
        Family {
            worn: [5.0, 1.0, 1.5, 1.3],
            lying: [30.0, 0.0, 40.0, 0.5],
            ..close("sock", THREE)
        },
        Family {
            worn: [5.0, 1.0, 1.5, 1.3],
            lying: [30.0, 0.0, 40.0, 0.5],
            ..close("sock-flat", THREE)
        },
        Family {
            worn: [5.0, 1.0, 1.5, 0.6],
            lying: [20.0, 0.0, 40.0, 0.5],
            ..close("bootee", "newborn,m3-6")
        },
        // Not good yet: slack cloth that falls in folds, and goes through itself in them.
        Family {
            worn: [80.0, 5.0, 10.0, 0.5],
            lying: [30.0, 0.0, 40.0, 0.5],
            ..close("tam", THREE)
        },
    ]
}

fn percent(looks: &Looks) -> Most {
    [looks.creased, looks.flown, looks.inside_out, looks.turned_over].map(|share| share * 100.0)
}

/// The worst of the parts.
fn seen(round: &InTheRound) -> Most {
    let all = round.shape.parts.iter().map(|part| percent(&Looks::of(part)));
    all.fold([0.0; 4], |worst, own| [0, 1, 2, 3].map(|n| f64::max(worst[n], own[n])))
}

/// What is seen, of each way that each of some sizes is looked at, and whether it is more than may be.
fn told(garment: &str, sizes: &str, looks: &[(Pose, Detail, Most)]) -> Vec<(String, bool)> {
    let run = grade(garment, "standard", &demo("standard"), sizes, &[]).expect("a run");
    assert_eq!(run.good().count(), sizes.split(',').count(), "{garment}");
    let mut all = Vec::new();
    for (size, made) in run.good() {
        for (pose, detail, most) in looks {
            let look = (*pose, *detail);
            let is = seen(&in_the_round(&run, size, made, None, look).expect("a shape"));
            let told = format!("{garment} {} {look:?}: {is:.2?} of {most:?}", size.body.label);
            all.push((told, is.iter().zip(most).any(|(is, most)| is > most)));
        }
    }
    all
}

#[test]
fn what_is_small_looks_well_worn_and_lying() {
    let each = families();
    let all = each.par_iter().flat_map(|family| {
        let rough = [0, 1, 2, 3].map(|n| f64::max(family.worn[n], ROUGH[n]));
        let looks = [
            (Pose::Worn, Detail::Full, family.worn),
            (Pose::Worn, Detail::Coarse, rough),
            (Pose::Off, Detail::Full, family.lying),
        ];
        told(family.garment, family.sizes, &looks)
    });
    let all: Vec<(String, bool)> = all.collect();
    all.iter().for_each(|(told, _)| println!("{told}"));
    let wrong: Vec<&str> = all.iter().filter(|(_, bad)| *bad).map(|own| own.0.as_str()).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn what_is_large_looks_well_worn() {
    let all = ["cardigan", "pullover", "slipover"].into_par_iter().flat_map(|garment| {
        // Not good yet: a newborn's bands stand off at its arms.
        let most = if garment == "slipover" { [15.0, 100.0, 3.0, 1.0] } else { ROOMY };
        let rough = [ROUGH[0], 100.0, ROUGH[2], ROUGH[3]];
        let mut all = told(garment, "newborn", &[(Pose::Worn, Detail::Full, most)]);
        all.extend(told(garment, THREE, &[(Pose::Worn, Detail::Coarse, rough)]));
        all
    });
    let all: Vec<(String, bool)> = all.collect();
    all.iter().for_each(|(told, _)| println!("{told}"));
    let wrong: Vec<&str> = all.iter().filter(|(_, bad)| *bad).map(|own| own.0.as_str()).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The worn shape of one size, its first part.
fn worn(garment: &str, size: &str) -> ShapePart {
    let run = grade(garment, "standard", &demo("standard"), size, &[]).expect("a run");
    let (size, made) = run.good().next().expect("a size");
    let round = in_the_round(&run, size, made, None, (Pose::Worn, Detail::Full)).expect("a shape");
    round.shape.parts.into_iter().next().expect("a part")
}

#[test]
fn creases_put_into_a_garment_are_seen() {
    // Of a headband a zigzag as deep as a finger, from its one edge to the other.
    let mut band = worn("headband", "y7-8");
    for point in &mut band.at {
        let out = Point::new(point.x, 0.0, point.z).unit();
        let way = (out.x.atan2(out.z) * 80.0 + point.y).rem_euclid(20.0);
        *point += out * (way - 10.0).abs();
    }
    let creased = Looks::of(&band).creased;
    assert!(creased > 0.3, "{creased}");
    // Of a sock a piece of its foot drawn off by two fingers.
    let mut sock = worn("sock", "women-m");
    let top = sock
        .at
        .iter()
        .copied()
        .filter(|at| at.z > 0.0)
        .fold(Point::default(), |top, at| if at.y > top.y { at } else { top });
    for point in &mut sock.at {
        let off = (*point - top).length();
        *point += Point::new(0.0, (60.0 - off).clamp(0.0, 30.0), 0.0);
    }
    let flown = Looks::of(&sock).flown;
    assert!(flown > 0.01, "{flown}");
}
