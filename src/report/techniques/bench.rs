//! What drawings of hand work are made of: a bed seen from the knitter's chair, its needles pointing at
//! her, and yarn.

use crate::drawing::{Anchor, Canvas, Drawing, Look, Point, Weight};
use knit::colours::Shade;

use crate::drawing::shades::{CURRENT, INK, MAIN_BED, QUIET, RIBBER, RULE};

pub(super) const WIDTH: f64 = 96.0;
pub(super) const HEIGHT: f64 = 54.0;

const BED: Shade = Shade { red: 0xe4, green: 0xe7, blue: 0xe9 };
/// Where the bed ends and the needles come out.
pub(super) const EDGE: f64 = 16.0;
const TEXT: f64 = 3.2;

/// How far a needle is pushed out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Lies {
    NonWorking,
    Working,
    UpperWorking,
    Holding,
}

impl Lies {
    /// Where its tip is.
    pub const fn tip(self) -> f64 {
        match self {
            Lies::NonWorking => EDGE + 1.5,
            Lies::Working => EDGE + 6.0,
            Lies::UpperWorking => EDGE + 11.0,
            Lies::Holding => EDGE + 17.0,
        }
    }
}

/// A yarn of the drawing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Yarn {
    Good,
    Waste,
    /// What the words are about.
    Now,
}

pub(super) struct Bench {
    canvas: Canvas,
    left: f64,
    pitch: f64,
}

impl Bench {
    /// Needle 0 stands at `left`.
    pub fn new(left: f64, pitch: f64) -> Bench {
        Bench { canvas: Canvas::new(), left, pitch }
    }

    pub fn x(&self, needle: i32) -> f64 {
        self.left + f64::from(needle) * self.pitch
    }

    /// The bed over all the picture's width.
    pub fn bed(&mut self) {
        self.canvas.rect(3.0, 5.0, WIDTH - 6.0, EDGE - 5.0, Look::filled(BED).and_edge(RULE, 0.3));
    }

    /// The other bed, its needles pointing away from her.
    pub fn ribber(&mut self) {
        let top = HEIGHT - 12.0;
        self.canvas.rect(3.0, top, WIDTH - 6.0, 9.0, Look::filled(BED).and_edge(RULE, 0.3));
    }

    pub fn needle(&mut self, needle: i32, lies: Lies) {
        let (x, tip) = (self.x(needle), lies.tip());
        self.stem((x, EDGE - 8.0), (x, tip), 1.0);
    }

    pub fn ribber_needle(&mut self, needle: i32) {
        let x = self.x(needle) + self.pitch / 2.0;
        self.stem((x, HEIGHT - 6.0), (x, HEIGHT - 18.0), -1.0);
    }

    /// A needle from its stem to its hook; `down` is 1 where it points at the knitter, else -1.
    fn stem(&mut self, from: Point, (x, tip): Point, down: f64) {
        let thin = Look::edged(INK, 0.45);
        self.canvas.line(from, (x, tip), thin);
        let hook = [
            (x, tip - 0.2 * down),
            (x + 0.5, tip + 0.7 * down),
            (x + 1.1, tip + 0.3 * down),
            (x + 1.0, tip - 1.0 * down),
        ];
        self.canvas.curve(&hook, thin);
        self.canvas.line(
            (x, tip - 4.2 * down),
            (x + 1.3, tip - 5.4 * down),
            Look::edged(INK, 0.35),
        );
    }

    /// A stitch round the stem of a needle, and the legs that go down into the fabric.
    pub fn stitch(&mut self, needle: i32, lies: Lies, yarn: Yarn) {
        let x = self.x(needle);
        // Behind the latch where the needle is far out, in the hook where it knits.
        let y = match lies {
            Lies::NonWorking | Lies::Working => lies.tip() - 1.2,
            Lies::UpperWorking | Lies::Holding => EDGE + 4.2,
        };
        self.loop_at((x, y), yarn);
    }

    /// A loop whose head is at the point.
    pub fn loop_at(&mut self, (x, y): Point, yarn: Yarn) {
        let half = self.pitch * 0.36;
        self.thread(
            &[
                (x - half * 1.15, y + 6.5),
                (x - half * 0.75, y + 3.2),
                (x - half * 0.8, y + 0.9),
                (x, y - 0.7),
                (x + half * 0.8, y + 0.9),
                (x + half * 0.75, y + 3.2),
                (x + half * 1.15, y + 6.5),
            ],
            yarn,
        );
    }

    /// Fabric below the needles from one to the other: rows of purl bumps from `top` down.
    pub fn fabric(&mut self, needles: (i32, i32), top: f64, rows: u32) {
        for row in 0..rows {
            self.row(needles, top + f64::from(row) * 3.0, Yarn::Good);
        }
    }

    /// A row of purl bumps below the needles from one to the other.
    pub fn row(&mut self, (from, to): (i32, i32), y: f64, yarn: Yarn) {
        for needle in from..=to {
            let (x, half) = (self.x(needle), self.pitch * 0.46);
            let bump = [
                (x - half, y + 0.9),
                (x - half * 0.4, y),
                (x + half * 0.4, y),
                (x + half, y + 0.9),
            ];
            self.thread(&bump, yarn);
        }
    }

    pub fn thread(&mut self, points: &[Point], yarn: Yarn) {
        let look = match yarn {
            Yarn::Good => Look::edged(MAIN_BED, 0.9),
            Yarn::Waste => Look::edged(RIBBER, 0.9).dashed(1.6, 0.9),
            Yarn::Now => Look::edged(CURRENT, 1.1),
        };
        self.canvas.curve(points, look);
    }

    /// The carriage, over the bed.
    pub fn carriage(&mut self, x: f64) {
        self.canvas.rect(x - 9.0, 2.5, 18.0, 10.5, Look::filled(QUIET).and_edge(INK, 0.3));
        self.label((x, 9.0), Anchor::Middle, Shade { red: 255, green: 255, blue: 255 }, "carriage");
    }

    /// A tool with one eye, its eye at the point.
    pub fn tool(&mut self, (x, y): Point, to: Point) {
        self.canvas.line((x, y), to, Look::edged(QUIET, 1.3));
        self.canvas.circle(x, y, 0.9, Look::edged(QUIET, 0.6));
    }

    /// A weight with its claw.
    pub fn weight(&mut self, x: f64, y: f64) {
        for claw in [-1.6, 0.0, 1.6] {
            self.canvas.line((x + claw, y), (x + claw, y + 3.0), Look::edged(INK, 0.5));
        }
        self.canvas.rect(x - 3.2, y + 3.0, 6.4, 5.0, Look::filled(QUIET).and_edge(INK, 0.3));
    }

    pub fn arrow(&mut self, from: Point, to: Point) {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length = dx.hypot(dy).max(0.1);
        let (ux, uy) = (dx / length, dy / length);
        let neck = (to.0 - 2.2 * ux, to.1 - 2.2 * uy);
        self.canvas.line(from, neck, Look::edged(INK, 0.5));
        let head =
            [to, (neck.0 - 1.1 * uy, neck.1 + 1.1 * ux), (neck.0 + 1.1 * uy, neck.1 - 1.1 * ux)];
        self.canvas.polygon(&head, Look::filled(INK));
    }

    /// A rung or a knot: a short stroke that tells where something is.
    pub fn stroke(&mut self, from: Point, to: Point, yarn: Yarn) {
        self.thread(&[from, to], yarn);
    }

    pub fn say(&mut self, at: Point, text: &str) {
        self.label(at, Anchor::Middle, INK, text);
    }

    pub fn say_from(&mut self, at: Point, text: &str) {
        self.label(at, Anchor::Start, INK, text);
    }

    fn label(&mut self, at: Point, anchor: Anchor, ink: Shade, text: &str) {
        self.canvas.text(at, TEXT, (anchor, Weight::Regular), ink, text);
    }

    pub fn finish(self, title: &str, about: &str) -> Drawing {
        self.canvas.finish(title, about, WIDTH, HEIGHT)
    }
}
