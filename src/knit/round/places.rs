//! Places of a body that garments are put on by, in the coordinates of [`Form::of`](super::Form::of).

use super::Point;
use super::form::PLATE_HALF;
use super::worn::{HeadShape, NECK, foot_shape, hand_shape, torso_shape};
use crate::body::BodyPart;

/// Where the ends and turns of a part of the body lie, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Places {
    /// A head with its neck.
    Head {
        /// Its top.
        crown: Point,
        /// The middle of the neck.
        neck: Point,
        /// The way down from its top.
        arc: Arc,
        /// How much there is round the neck.
        collar: f64,
    },
    /// A hand that hangs down.
    Hand {
        /// The tip of the fingers.
        tip: Point,
        /// Where the thumb leaves the palm.
        thumb_root: Point,
        /// The tip of the thumb.
        thumb: Point,
    },
    /// A foot and its leg.
    Foot {
        /// The tip of the toes.
        toe: Point,
        /// The back of the heel, at the floor.
        heel: Point,
        /// The middle of the ankle.
        leg: Point,
    },
    /// A plate to block on, about the origin.
    Plate {
        /// Its radius.
        radius: f64,
        /// Half its thickness.
        half: f64,
    },
    /// A trunk, its neck at the origin.
    Torso {
        /// The right end of the shoulders.
        shoulder: Point,
        /// Where the middle of the right arm begins.
        root: Point,
        /// The direction of the right arm.
        arm: Point,
        /// From the middle to the front.
        deep: f64,
    },
}

/// A quarter of an ellipse, from its top down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// Its half axes, across and up.
    pub axes: (f64, f64),
}

impl Arc {
    /// What so long a way over it covers, turned round its axis.
    pub(super) fn surface(self, long: f64) -> f64 {
        let (across, up) = self.axes;
        let (mut way, mut before, mut sum) = (0.0, (0.0, up), 0.0);
        for n in 1..=90 {
            let angle = f64::from(n).to_radians();
            let here = (across * angle.sin(), up * angle.cos());
            let step = (here.0 - before.0).hypot(here.1 - before.1).min(long - way);
            sum += std::f64::consts::TAU * f64::midpoint(here.0, before.0) * step;
            way += step;
            before = here;
        }
        sum + std::f64::consts::TAU * across * (long - way)
    }

    /// How far below the top one is after so long a way over it; straight down from its widest place on.
    pub(super) fn below(self, long: f64) -> f64 {
        let (across, up) = self.axes;
        let (mut way, mut before) = (0.0, (0.0, up));
        for n in 1..=90 {
            let angle = f64::from(n).to_radians();
            let here = (across * angle.sin(), up * angle.cos());
            let step = (here.0 - before.0).hypot(here.1 - before.1);
            if way + step >= long {
                return up - before.1 - (here.1 - before.1) * ((long - way) / step);
            }
            way += step;
            before = here;
        }
        up + long - way
    }
}

impl Places {
    /// Those of the other of a pair.
    pub(super) fn mirrored(self) -> Places {
        let turned = |p: Point| Point::new(-p.x, p.y, p.z);
        match self {
            Places::Hand { tip, thumb_root, thumb } => Places::Hand {
                tip: turned(tip),
                thumb_root: turned(thumb_root),
                thumb: turned(thumb),
            },
            other => other,
        }
    }

    /// Those of a plate to block on, of that girth: what is a crown lies on its middle.
    pub fn plate(girth_mm: f64) -> Places {
        Places::Plate { radius: girth_mm / std::f64::consts::TAU, half: PLATE_HALF }
    }

    /// Those of a part of the body, by its measures; `None` where one is missing.
    pub fn of(part: BodyPart, mm: impl Fn(&str) -> Option<f64>) -> Option<Places> {
        let places = match part {
            BodyPart::Head => {
                let head = HeadShape::of(mm("head_girth")?);
                let arc = Arc { axes: (f64::midpoint(head.radii.x, head.radii.z), head.radii.y) };
                let crown = Point::new(0.0, head.radii.y, 0.0);
                let neck = Point::new(0.0, -head.radii.y * 1.25, -head.radii.z * 0.1);
                let collar = head.radii.z * NECK * std::f64::consts::TAU;
                Places::Head { crown, neck, arc, collar }
            }
            BodyPart::Hand => {
                let hand = hand_shape(&mm)?;
                Places::Hand { tip: hand.tip, thumb_root: hand.thumb.0, thumb: hand.thumb.1 }
            }
            BodyPart::Foot | BodyPart::Leg => {
                let foot = foot_shape(&mm)?;
                Places::Foot { toe: foot.toe, heel: foot.heel, leg: foot.leg }
            }
            BodyPart::Torso => {
                let torso = torso_shape(&mm)?;
                Places::Torso {
                    shoulder: torso.shoulder,
                    root: torso.root,
                    arm: torso.arm,
                    deep: torso.deep,
                }
            }
        };
        Some(places)
    }
}
