//! Forms by the measures of a body: simple closed shapes, only as true as a picture needs. The girths
//! are the body's; how a head or a palm is flattened is written beside each.

use super::form::PLATE_HALF;
use super::{Form, Point, Solid};
use crate::body::BodyPart;

/// Breadth of a head over its depth (ANSUR II 2012: 154 over 198 mm).
const HEAD_BREADTH: f64 = 0.78;
/// From the widest girth of a head up to its top, over that girth (from memory: 130 mm of 570).
const HEAD_TOP: f64 = 0.23;
/// Radius of a neck over half the depth of the head above it (from memory: 375 mm round of 560).
pub(super) const NECK: f64 = 0.6;
/// Radius of a thumb over half the breadth of the palm (from memory: 20 over 85 mm).
const THUMB: f64 = 0.24;
/// Thickness of a palm over its breadth (from memory: 28 over 85 mm).
const PALM: f64 = 0.35;
/// Depth of a trunk over its breadth (from memory: 24 over 33 cm).
const TRUNK: f64 = 0.72;
/// Height of the foot at its ball over its breadth (from memory).
const BALL: f64 = 0.62;

impl Form {
    /// What a garment for that part of the body is shown on. `mm` gives measures by name.
    ///
    /// A head looks to the front, its widest girth at height 0. An arm hangs from above, the wrist at
    /// height 0 and the hand below it. A leg stands with its heel on the floor at height 0, the foot to
    /// the front. A trunk has the base of its neck at height 0. `None` where a measure is missing, or for a part that has no form.
    pub fn of(part: BodyPart, mm: impl Fn(&str) -> Option<f64>) -> Option<Form> {
        let solids = match part {
            BodyPart::Head => head(mm("head_girth")?),
            BodyPart::Hand => hand(&mm)?,
            BodyPart::Foot | BodyPart::Leg => foot(&mm)?,
            BodyPart::Torso => torso(&mm)?,
        };
        Some(Form { solids })
    }

    /// A hand whose thumb lies within its breadth.
    pub(super) fn without_thumb(&self) -> Form {
        Form { solids: self.solids[..self.solids.len().min(HAND)].to_vec() }
    }

    /// A plate to block on, of that girth.
    pub fn plate(girth_mm: f64) -> Form {
        let radius = girth_mm / std::f64::consts::TAU;
        let middle = Point::default();
        Form { solids: vec![Solid::Plate { middle, radius, half: PLATE_HALF }] }
    }
}

/// Half the longer axis of an ellipse of that girth, the other `flat` times as long (Ramanujan's first
/// approximation, within 0.1 % for what is drawn here).
fn half_axis(girth: f64, flat: f64) -> f64 {
    let round = 3.0 * (1.0 + flat) - ((3.0 + flat) * (1.0 + 3.0 * flat)).sqrt();
    girth / (std::f64::consts::PI * round)
}

/// A head: a ball drawn out.
pub(super) struct HeadShape {
    pub radii: Point,
}

impl HeadShape {
    pub fn of(girth: f64) -> HeadShape {
        let deep = half_axis(girth, HEAD_BREADTH);
        HeadShape { radii: Point::new(deep * HEAD_BREADTH, girth * HEAD_TOP, deep) }
    }
}

fn head(girth: f64) -> Vec<Solid> {
    let radii = HeadShape::of(girth).radii;
    let back = -radii.z * 0.1;
    let limb = |from: f64, to: f64, radii: (f64, f64), flat: f64| Solid::Limb {
        from: Point::new(0.0, from, back),
        to: Point::new(0.0, to, back),
        radii,
        flat,
    };
    vec![
        Solid::Ball { middle: Point::default(), radii },
        // A jaw, a neck and the slope of the shoulders.
        Solid::Ball {
            middle: Point::new(0.0, -radii.y * 0.5, radii.z * 0.18),
            radii: Point::new(radii.x * 0.75, radii.y * 0.55, radii.z * 0.72),
        },
        limb(-girth * 0.46, -girth * 0.1, (radii.z * NECK, radii.z * NECK), 1.0),
        limb(-girth * 0.62, -girth * 0.42, (radii.z * 1.9, radii.z * 0.6), 0.6),
    ]
}

/// Where the parts of a hand lie.
pub(super) struct HandShape {
    pub tip: Point,
    /// Its root and its tip.
    pub thumb: (Point, Point),
    palm: f64,
    arm: f64,
    length: f64,
}

pub(super) fn hand_shape(mm: &impl Fn(&str) -> Option<f64>) -> Option<HandShape> {
    let (girth, wrist, length) = (mm("hand_girth")?, mm("wrist_girth")?, mm("hand_length")?);
    let palm = half_axis(girth, PALM);
    let crotch = mm("thumb_crotch").unwrap_or(length * 0.7);
    let thumb = mm("thumb_length").unwrap_or(length * 0.35);
    // Its inner side leaves the edge of the palm at the crotch.
    let along = Point::new(-0.5, -1.0, 0.0).unit();
    let out = Point::new(along.y, -along.x, 0.0);
    let root = Point::new(-palm, -(length - crotch), 0.0) + out * (palm * THUMB);
    Some(HandShape {
        tip: Point::new(0.0, -length, 0.0),
        thumb: (root, root + along * thumb),
        palm,
        arm: half_axis(wrist, 0.7),
        length,
    })
}

/// Solids of a hand before its thumb.
const HAND: usize = 2;

fn hand(mm: &impl Fn(&str) -> Option<f64>) -> Option<Vec<Solid>> {
    let HandShape { thumb, palm, arm, length, .. } = hand_shape(mm)?;
    let down = |far: f64| Point::new(0.0, -far, 0.0);
    let forearm = Solid::Limb {
        from: Point::new(0.0, length * 1.2, 0.0),
        to: down(0.0),
        radii: (arm * 1.35, arm),
        flat: 0.7,
    };
    let flat = Solid::Limb {
        from: down(length * 0.2),
        to: down(length - palm),
        radii: (palm, palm),
        flat: PALM,
    };
    let thick = palm * THUMB;
    let way = thumb.1 - thumb.0;
    let far = (way.length() - thick).max(0.0);
    // Its ball grows out of the palm.
    let ball = Solid::Limb {
        from: Point::new(-palm * 0.5, palm * 0.3 - length * 0.2, 0.0),
        to: thumb.0,
        radii: (palm * PALM * 0.9, thick),
        flat: 1.0,
    };
    let thumb = Solid::Limb {
        from: thumb.0,
        to: thumb.0 + way.unit() * far,
        radii: (thick, thick),
        flat: 1.0,
    };
    Some(vec![forearm, flat, ball, thumb])
}

/// Where the parts of a foot lie.
pub(super) struct FootShape {
    pub toe: Point,
    pub heel: Point,
    /// The middle of the ankle.
    pub leg: Point,
    ball: f64,
    ankle: f64,
    calf: f64,
    knee: f64,
}

pub(super) fn foot_shape(mm: &impl Fn(&str) -> Option<f64>) -> Option<FootShape> {
    let girth = mm("foot_girth").or_else(|| mm("ankle_girth"))?;
    let length = mm("foot_length").unwrap_or(girth * 1.07);
    let ball = half_axis(girth, BALL);
    let ankle = mm("minimum_leg_girth").unwrap_or(girth * 0.9) / std::f64::consts::TAU;
    let back = -length / 2.0;
    Some(FootShape {
        toe: Point::new(0.0, ball * BALL * 0.6, length / 2.0),
        heel: Point::new(0.0, ankle * 0.3, back),
        leg: Point::new(0.0, ankle * 2.2, back + ankle * 1.1),
        ball,
        ankle,
        calf: mm("calf_girth").unwrap_or(girth * 1.4) / std::f64::consts::TAU,
        knee: mm("knee_height").unwrap_or(length * 1.9),
    })
}

fn foot(mm: &impl Fn(&str) -> Option<f64>) -> Option<Vec<Solid>> {
    let FootShape { toe, heel, leg, ball, ankle, calf, knee } = foot_shape(mm)?;
    // Balls that overlap, from the heel to the toes: ever wider and lower. The heel sticks out behind the leg.
    let deep = ankle * 1.15;
    let first = Point::new(0.0, ankle * 0.95, heel.z + deep);
    let last = toe.z - ball * 0.9;
    let mut solids: Vec<Solid> = (0..9)
        .map(|n| {
            let at = f64::from(n) / 8.0;
            let wide = ankle * 0.85 + (ball - ankle * 0.85) * at.min(0.75) / 0.75;
            // The instep falls from the ankle to the toes.
            let high = ankle * 1.25 * (1.0 - at) + ball * BALL * 0.8 * at;
            let wide = if n == 8 { wide * 0.88 } else { wide };
            let middle = Point::new(0.0, high, first.z + (last - first.z) * at);
            let long = deep + (ball * 0.9 - deep) * at;
            Solid::Ball { middle, radii: Point::new(wide, high, long) }
        })
        .collect();
    let upright = |from: f64, to: f64, radii| Solid::Limb {
        from: Point::new(0.0, from, leg.z),
        to: Point::new(0.0, to, leg.z),
        radii,
        flat: 1.0,
    };
    solids.push(upright(ankle, knee * 0.35, (ankle, ankle * 1.05)));
    solids.push(upright(knee * 0.35, knee * 0.75, (ankle * 1.05, calf)));
    solids.push(upright(knee * 0.75, knee, (calf, calf * 0.95)));
    Some(solids)
}

/// Where the parts of a trunk lie, the neck at the origin.
pub(super) struct TorsoShape {
    /// The right one.
    pub shoulder: Point,
    /// Where the middle of the right arm begins.
    pub root: Point,
    /// The direction of the right arm.
    pub arm: Point,
    upper: f64,
    /// From the middle to the front.
    pub deep: f64,
    chest: f64,
    neck: f64,
}

pub(super) fn torso_shape(mm: &impl Fn(&str) -> Option<f64>) -> Option<TorsoShape> {
    let chest = mm("chest_girth")?;
    let half = half_axis(chest, TRUNK);
    let broad = mm("shoulder_breadth").unwrap_or(chest * 0.4) / 2.0;
    let neck = mm("neck_base_girth").unwrap_or(chest * 0.4) / std::f64::consts::TAU;
    let arm = Point::new(0.6, -0.8, 0.0);
    let shoulder = Point::new(broad, -broad * 0.28, 0.0);
    let upper = mm("upper_arm_girth").unwrap_or(half * 1.8) / std::f64::consts::TAU;
    let root = shoulder - Point::new(upper * 0.75, upper * 0.95, 0.0);
    Some(TorsoShape { shoulder, root, arm, upper, deep: half * TRUNK, chest: half, neck })
}

fn torso(mm: &impl Fn(&str) -> Option<f64>) -> Option<Vec<Solid>> {
    let TorsoShape { shoulder, root, arm, upper, chest, neck, .. } = torso_shape(mm)?;
    let back = mm("back_length").unwrap_or(chest * 2.6);
    let wrist = mm("wrist_girth").unwrap_or(chest) / std::f64::consts::TAU;
    let long = mm("arm_length").unwrap_or(back * 1.4);
    let point = |y: f64| Point::new(0.0, y, 0.0);
    let limb = |from, to, radii, flat| Solid::Limb { from, to, radii, flat };
    let scye = shoulder.y - upper * 1.5;
    let mut solids = vec![
        limb(point(-back * 1.5), point(-back), (chest, chest * 0.92), TRUNK),
        limb(point(-back), point(scye), (chest * 0.92, chest), TRUNK),
        // From the chest to the shoulders, and to the neck.
        limb(point(scye), point(shoulder.y), (chest, shoulder.x * 0.8), TRUNK * 0.8),
        limb(point(shoulder.y), point(neck * 0.3), (shoulder.x * 0.62, neck), 0.75),
        limb(point(0.0), point(neck * 1.6), (neck * 0.97, neck * 0.9), 1.0),
    ];
    for side in [-1.0, 1.0] {
        let mirrored = |p: Point| Point::new(p.x * side, p.y, p.z);
        let top = mirrored(root);
        let way = mirrored(arm);
        solids.push(limb(top, top + way * (long * 0.45), (upper, upper * 0.88), 1.0));
        solids.push(limb(top + way * (long * 0.45), top + way * long, (upper * 0.88, wrist), 1.0));
    }
    Some(solids)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Round the form at a height, found from outside.
    fn girth(form: &Form, height: f64) -> f64 {
        let ray = |n: i32| {
            let angle = f64::from(n) / 720.0 * std::f64::consts::TAU;
            let at = |far: f64| Point::new(angle.cos() * far, height, angle.sin() * far);
            let (mut inside, mut outside) = (0.0, 400.0);
            for _ in 0..40 {
                let middle = (inside + outside) / 2.0;
                if form.outside(at(middle)).is_some() { inside = middle } else { outside = middle }
            }
            at(outside)
        };
        (0..720).map(|n| (ray(n + 1) - ray(n)).length()).sum()
    }

    #[test]
    fn forms_have_the_girths_of_the_body() {
        let woman = |name: &str| {
            let all = [("head_girth", 560.0), ("hand_girth", 187.0), ("wrist_girth", 155.0)];
            let more = [("hand_length", 181.0), ("foot_length", 246.0), ("foot_girth", 231.0)];
            let legs =
                [("minimum_leg_girth", 216.0), ("calf_girth", 370.0), ("knee_height", 500.0)];
            all.into_iter().chain(more).chain(legs).find(|(n, _)| *n == name).map(|(_, mm)| mm)
        };
        let close = |is: f64, wanted: f64| {
            assert!((is / wanted - 1.0).abs() < 0.01, "{is} instead of {wanted}");
        };
        close(girth(&Form::of(BodyPart::Head, woman).unwrap(), 0.0), 560.0);
        close(girth(&Form::of(BodyPart::Hand, woman).unwrap(), -125.0), 187.0);
        close(girth(&Form::plate(880.0), 0.0), 880.0);
        assert_eq!(Form::of(BodyPart::Hand, |_| None), None);
    }

    #[test]
    fn what_lies_outside_is_left_there_and_what_lies_inside_is_brought_to_the_surface() {
        let head = Form::of(BodyPart::Head, |_| Some(560.0)).unwrap();
        assert_eq!(head.outside(Point::new(0.0, 200.0, 0.0)), None);
        let mut point = Point::new(20.0, 30.0, 10.0);
        for _ in 0..20 {
            point = head.outside(point).unwrap_or(point);
        }
        assert!(head.outside(point).is_none_or(|p| (p - point).length() < 0.5), "{point:?}");
    }
}
