//! Forms by the measures of a body: simple closed shapes, only as true as a picture needs. The girths
//! are the body's; how a head or a palm is flattened is written beside each.

use super::{Form, Point, Solid};
use crate::body::BodyPart;

/// Breadth of a head over its depth (ANSUR II 2012: 154 over 198 mm).
const HEAD_BREADTH: f64 = 0.78;
/// From the widest girth of a head up to its top, over that girth (from memory: 130 mm of 570).
const HEAD_TOP: f64 = 0.23;
/// Thickness of a palm over its breadth (from memory: 28 over 85 mm).
const PALM: f64 = 0.35;
/// Height of the foot at its ball over its breadth (from memory).
const BALL: f64 = 0.62;

impl Form {
    /// What a garment for that part of the body is shown on. `mm` gives measures by name.
    ///
    /// A head looks to the front, its widest girth at height 0. An arm hangs from above, the wrist at
    /// height 0 and the hand below it. A leg stands with its heel on the floor at height 0, the foot to
    /// the front. `None` where a measure is missing, or for a part that has no form.
    pub fn of(part: BodyPart, mm: impl Fn(&str) -> Option<f64>) -> Option<Form> {
        let solids = match part {
            BodyPart::Head => head(mm("head_girth")?),
            BodyPart::Hand => hand(&mm)?,
            BodyPart::Foot | BodyPart::Leg => foot(&mm)?,
            _ => return None,
        };
        Some(Form { solids })
    }

    /// A plate to block on, of that girth.
    pub fn plate(girth_mm: f64) -> Form {
        let radius = girth_mm / std::f64::consts::TAU;
        let middle = Point::default();
        Form { solids: vec![Solid::Plate { middle, radius, half: 3.0 }] }
    }
}

/// Half the longer axis of an ellipse of that girth, the other `flat` times as long (Ramanujan's first
/// approximation, within 0.1 % for what is drawn here).
fn half_axis(girth: f64, flat: f64) -> f64 {
    let round = 3.0 * (1.0 + flat) - ((3.0 + flat) * (1.0 + 3.0 * flat)).sqrt();
    girth / (std::f64::consts::PI * round)
}

fn head(girth: f64) -> Vec<Solid> {
    let deep = half_axis(girth, HEAD_BREADTH);
    let radii = Point::new(deep * HEAD_BREADTH, girth * HEAD_TOP, deep);
    let neck = Solid::Limb {
        from: Point::new(0.0, -girth * 0.5, -deep * 0.1),
        to: Point::new(0.0, -girth * 0.1, -deep * 0.1),
        radii: (deep * 0.6, deep * 0.6),
        flat: 1.0,
    };
    vec![Solid::Ball { middle: Point::default(), radii }, neck]
}

fn hand(mm: &impl Fn(&str) -> Option<f64>) -> Option<Vec<Solid>> {
    let (girth, wrist, length) = (mm("hand_girth")?, mm("wrist_girth")?, mm("hand_length")?);
    let palm = half_axis(girth, PALM);
    let arm = half_axis(wrist, 0.7);
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
    let crotch = mm("thumb_crotch").unwrap_or(length * 0.7);
    let thumb = mm("thumb_length").unwrap_or(length * 0.35);
    let root = Point::new(-palm * 0.7, -(length - crotch), 0.0);
    let along = Point::new(-0.5, -1.0, 0.0).unit();
    let thick = palm * 0.24;
    let thumb = Solid::Limb {
        from: root,
        to: root + along * (thumb - thick).max(0.0),
        radii: (thick, thick),
        flat: 1.0,
    };
    Some(vec![forearm, flat, thumb])
}

fn foot(mm: &impl Fn(&str) -> Option<f64>) -> Option<Vec<Solid>> {
    let (length, girth) = (mm("foot_length")?, mm("foot_girth")?);
    let ball = half_axis(girth, BALL);
    let ankle = mm("minimum_leg_girth").unwrap_or(girth * 0.9) / std::f64::consts::TAU;
    let calf = mm("calf_girth").unwrap_or(girth * 1.4) / std::f64::consts::TAU;
    let knee = mm("knee_height").unwrap_or(length * 1.9);
    let heel = ankle * 0.95;
    let back = Point::new(0.0, heel, -length / 2.0 + heel);
    let front = Point::new(0.0, ball * BALL, length / 2.0 - ball);
    // Along z the sole is flattened upright: a limb is flattened along z alone, so the foot is made of
    // balls that overlap.
    let mut solids: Vec<Solid> = (0..9)
        .map(|n| {
            let at = f64::from(n) / 8.0;
            let wide = heel + (ball - heel) * at;
            let high = heel * (1.0 - at) * 1.2 + ball * BALL * at;
            let middle = Point::new(0.0, high, back.z + (front.z - back.z) * at);
            Solid::Ball { middle, radii: Point::new(wide, high, ball) }
        })
        .collect();
    let leg = |from: f64, to: f64, radii| Solid::Limb {
        from: Point::new(0.0, from, back.z),
        to: Point::new(0.0, to, back.z),
        radii,
        flat: 1.0,
    };
    solids.push(leg(heel, knee * 0.35, (ankle, ankle * 1.05)));
    solids.push(leg(knee * 0.35, knee * 0.75, (ankle * 1.05, calf)));
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
