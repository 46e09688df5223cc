//! What an eye sees of cloth at rest: creases, cloth that has flown off what it lies on, and insides turned out.

use super::form_mesh::FormMesh;
use super::{Form, Point, ShapePart};

/// How cloth looks, in shares of what is seen of it: 0 where it lies as well as can be.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Looks {
    /// Bent more sharply than what it lies on: creases, crumpled cloth.
    pub creased: f64,
    /// Off what it lies on, though drawn tight there.
    pub flown: f64,
    /// With its inside out.
    pub inside_out: f64,
    /// Of all faces, seen or not, those that look the other way than the cloth about them.
    pub turned_over: f64,
}

/// From how many sides it is looked at, all round and from a little above.
const SIDES: usize = 8;
const ABOVE: f64 = 0.2;
/// Points of a picture along the longest way through the cloth.
const PICTURE: f64 = 200.0;
/// How much thinner than it is a form is seen, as it is drawn.
const SKIN_MM: f64 = 2.5;
/// How far about each point of the cloth it is looked how sharply it is bent: about two finger-breadths across.
const ABOUT_MM: f64 = 9.0;
/// How much farther its directions may be spread there than those of what it lies on: a gentle wave of a hand's
/// breadth stays below, a crease that throws a shadow does not.
const WORN: f64 = 15.0;
/// The same where it lies on nothing, and turns round its own edge.
const LYING: f64 = 35.0;
/// Cloth drawn longer than this is drawn tight.
const TIGHT: f32 = 0.02;
/// How far off is flown off.
const FLOWN_MM: f64 = 8.0;

impl Looks {
    /// Of a part at rest.
    pub fn of(part: &ShapePart) -> Looks {
        let form = part.form.as_ref();
        let areas: Vec<Point> = part.faces.iter().map(|face| area(part, face)).collect();
        let (seen, inside_out) = seen(part, form.map(Form::mesh).as_ref());
        // By point, the cloth about it that is seen: which way it looks, and how much it is.
        let mut own = vec![(Point::default(), 0.0); part.at.len()];
        for ((face, area), _) in part.faces.iter().zip(&areas).zip(&seen).filter(|(_, seen)| **seen)
        {
            for node in face {
                let (way, much) = &mut own[*node as usize];
                *way += *area;
                *much += area.length();
            }
        }
        let about = |node: usize| form.map(|form| form.nearest(part.at[node]));
        let lies: Vec<Option<(f64, Point)>> = (0..part.at.len()).map(about).collect();
        let patches = Patches::of(part);
        let (mut all, mut creased, mut flown) = (0.0, 0.0, 0.0);
        for node in (0..part.at.len()).filter(|node| own[*node].1 > 0.0) {
            let much = own[node].1;
            all += much;
            let near = patches.about(node);
            let ahead = near.iter().fold(Point::default(), |sum, near| sum + own[*near].0).unit();
            // What looks aside from there counts for less, as it shows less of itself: an edge that is rolled over is
            // a line along the cloth and no crease.
            let (mut way, mut asked, mut sum) = (Point::default(), Point::default(), 0.0);
            for near in near {
                let (area, much) = own[near];
                let shown = area.dot(ahead).max(0.0) / much.max(1e-9);
                way += area * shown;
                sum += much * shown;
                asked += lies[near].map_or(Point::default(), |(_, out)| out * (much * shown));
            }
            let spread =
                |way: Point| (way.length() / sum.max(1e-9)).clamp(0.0, 1.0).acos().to_degrees();
            let most = if form.is_some() { spread(asked) + WORN } else { LYING };
            if spread(way) > most {
                creased += much;
            }
            let off = lies[node].map_or(0.0, |(deep, _)| -deep);
            if off > FLOWN_MM && part.stretch[node] > TIGHT {
                flown += much;
            }
        }
        let share = |of: f64| if all > 0.0 { of / all } else { 0.0 };
        Looks {
            creased: share(creased),
            flown: share(flown),
            inside_out,
            turned_over: turned_over(part, &areas),
        }
    }
}

/// Twice its area, the way it looks.
fn area(part: &ShapePart, face: &[u32; 3]) -> Point {
    let [a, b, c] = face.map(|node| part.at[node as usize]);
    (b - a).cross(c - a)
}

fn turned_over(part: &ShapePart, areas: &[Point]) -> f64 {
    let mut about = vec![Point::default(); part.at.len()];
    for (face, area) in part.faces.iter().zip(areas) {
        for node in face {
            about[*node as usize] += *area;
        }
    }
    let over = part.faces.iter().zip(areas).filter(|(face, area)| {
        let sum = face.iter().fold(Point::default(), |sum, node| sum + about[*node as usize]);
        area.dot(sum) < 0.0
    });
    over.count() as f64 / part.faces.len().max(1) as f64
}

/// Points near each along the cloth.
struct Patches<'a> {
    part: &'a ShapePart,
    beside: Vec<Vec<u32>>,
    far: f64,
}

impl Patches<'_> {
    fn of(part: &ShapePart) -> Patches<'_> {
        let mut beside: Vec<Vec<u32>> = vec![Vec::new(); part.at.len()];
        for face in &part.faces {
            for n in 0..3 {
                beside[face[n] as usize].extend([face[(n + 1) % 3], face[(n + 2) % 3]]);
            }
        }
        let (mut sum, mut count) = (0.0, 0);
        for (node, own) in beside.iter_mut().enumerate() {
            own.sort_unstable();
            own.dedup();
            count += own.len();
            sum += own.iter().map(|o| (part.at[*o as usize] - part.at[node]).length()).sum::<f64>();
        }
        // Of coarse cells at least those beside each.
        let far = f64::max(ABOUT_MM, 1.3 * sum / count.max(1) as f64);
        Patches { part, beside, far }
    }

    fn about(&self, node: usize) -> Vec<usize> {
        let here = self.part.at[node];
        let mut found = vec![node];
        let mut done = 0;
        while done < found.len() {
            for other in &self.beside[found[done]] {
                let other = *other as usize;
                if (self.part.at[other] - here).length() < self.far && !found.contains(&other) {
                    found.push(other);
                }
            }
            done += 1;
        }
        found
    }
}

/// By face of the cloth, whether its outside is seen from anywhere; and what part of all that is seen of it, on what
/// it lies on, is its inside.
fn seen(part: &ShapePart, form: Option<&FormMesh>) -> (Vec<bool>, f64) {
    let mut seen = vec![false; part.faces.len()];
    let (mut outside, mut inside) = (0, 0);
    for side in 0..SIDES {
        let angle = side as f64 / SIDES as f64 * std::f64::consts::TAU;
        let back = Point::new(angle.sin(), ABOVE, angle.cos()).unit();
        let mut picture = Picture::of(&part.at, back);
        for (n, face) in part.faces.iter().enumerate() {
            picture.draw(face.map(|node| part.at[node as usize]), n as u32, 0.0);
        }
        for face in form
            .iter()
            .flat_map(|form| form.faces.iter().map(|face| face.map(|n| form.at[n as usize])))
        {
            picture.draw(face, u32::MAX, SKIN_MM);
        }
        for face in picture.what.into_iter().filter(|face| *face != u32::MAX) {
            let is_outside = area(part, &part.faces[face as usize]).dot(back) > 0.0;
            seen[face as usize] |= is_outside;
            *(if is_outside { &mut outside } else { &mut inside }) += 1;
        }
    }
    (seen, f64::from(inside) / f64::from(outside + inside).max(1.0))
}

/// What is seen from one side.
struct Picture {
    right: Point,
    up: Point,
    back: Point,
    low: (f64, f64),
    step: f64,
    wide: usize,
    near: Vec<f64>,
    /// The number of a face; the most where there is none.
    what: Vec<u32>,
}

impl Picture {
    fn of(at: &[Point], back: Point) -> Picture {
        let right = Point::new(back.z, 0.0, -back.x).unit();
        let up = back.cross(right);
        let (mut low, mut high) =
            ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY));
        for point in at {
            let (x, y) = (point.dot(right), point.dot(up));
            low = (low.0.min(x), low.1.min(y));
            high = (high.0.max(x), high.1.max(y));
        }
        let step = f64::max(high.0 - low.0, high.1 - low.1).max(1.0) / PICTURE;
        let count = |low: f64, high: f64| ((high - low) / step).max(0.0) as usize + 1;
        let (wide, tall) = (count(low.0, high.0), count(low.1, high.1));
        let near = vec![f64::NEG_INFINITY; wide * tall];
        Picture { right, up, back, low, step, wide, near, what: vec![u32::MAX; wide * tall] }
    }

    /// A triangle, so much farther off than it is.
    fn draw(&mut self, corners: [Point; 3], number: u32, farther: f64) {
        let place = |p: Point| {
            (
                (p.dot(self.right) - self.low.0) / self.step,
                (p.dot(self.up) - self.low.1) / self.step,
                p.dot(self.back) - farther,
            )
        };
        let [a, b, c] = corners.map(place);
        let whole = (b.0 - a.0) * (c.1 - a.1) - (c.0 - a.0) * (b.1 - a.1);
        if whole == 0.0 {
            return;
        }
        let reach = |a: f64, b: f64, c: f64, count: usize| {
            let low = a.min(b).min(c).max(0.0) as usize;
            let high = a.max(b).max(c);
            low..if high < 0.0 { 0 } else { (high as usize + 1).min(count) }
        };
        for row in reach(a.1, b.1, c.1, self.near.len() / self.wide) {
            for column in reach(a.0, b.0, c.0, self.wide) {
                let (x, y) = (column as f64 + 0.5, row as f64 + 0.5);
                let of_a = ((b.0 - x) * (c.1 - y) - (c.0 - x) * (b.1 - y)) / whole;
                let of_b = ((c.0 - x) * (a.1 - y) - (a.0 - x) * (c.1 - y)) / whole;
                let of_c = 1.0 - of_a - of_b;
                if of_a < 0.0 || of_b < 0.0 || of_c < 0.0 {
                    continue;
                }
                let near = of_a * a.2 + of_b * b.2 + of_c * c.2;
                let at = row * self.wide + column;
                if near > self.near[at] {
                    (self.near[at], self.what[at]) = (near, number);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::round::Solid;

    const RADIUS: f64 = 45.0;
    const ROUND: u32 = 90;
    const TALL: u32 = 40;

    /// A tube of cloth about a limb, drawn tight.
    fn tube() -> ShapePart {
        let limb = Solid::Limb {
            from: Point::new(0.0, -60.0, 0.0),
            to: Point::new(0.0, 180.0, 0.0),
            radii: (RADIUS, RADIUS),
            flat: 1.0,
        };
        let point = |n: u32| {
            let angle = f64::from(n % ROUND) / f64::from(ROUND) * std::f64::consts::TAU;
            let high = f64::from(n / ROUND) * 3.0;
            Point::new(angle.sin() * RADIUS, high, angle.cos() * RADIUS)
        };
        let node = |row: u32, n: u32| row * ROUND + n % ROUND;
        let mut faces = Vec::new();
        for row in 0..TALL - 1 {
            for n in 0..ROUND {
                let (a, b) = (node(row, n), node(row, n + 1));
                let (c, d) = (node(row + 1, n + 1), node(row + 1, n));
                faces.extend([[a, b, c], [a, c, d]]);
            }
        }
        let count = ROUND * TALL;
        let tight = vec![0.1; count as usize];
        ShapePart {
            at: (0..count).map(point).collect(),
            loops: (0..count).collect(),
            faces,
            stretch: tight.clone(),
            along_row: tight.clone(),
            along_wale: tight,
            form: Some(Form { solids: vec![limb] }),
        }
    }

    /// Each point so much farther from the axis, by its angle and its height.
    fn moved_out(mut part: ShapePart, by: impl Fn(f64, f64) -> f64) -> ShapePart {
        for point in &mut part.at {
            let out = Point::new(point.x, 0.0, point.z).unit();
            *point += out * by(out.x.atan2(out.z), point.y);
        }
        part
    }

    /// Up and down between 0 and 1, as a saw with both sides alike.
    fn zigzag(way: f64, long: f64) -> f64 {
        (2.0 * (way / long).rem_euclid(1.0) - 1.0).abs()
    }

    #[test]
    fn what_lies_as_its_form_does_looks_well_and_so_does_a_gentle_wave() {
        let looks = Looks::of(&tube());
        assert_eq!((looks.creased, looks.flown, looks.turned_over), (0.0, 0.0, 0.0));
        assert!(looks.inside_out < 0.001, "{looks:?}");
        let wave = moved_out(tube(), |angle, _| 3.0 * (1.0 + (5.0 * angle).sin()));
        let looks = Looks::of(&wave);
        // Where it stands off at its upper edge one looks into it.
        assert!(looks.creased < 0.02 && looks.inside_out < 0.02, "{looks:?}");
        let bare = ShapePart { form: None, ..tube() };
        assert_eq!(Looks::of(&bare).creased, 0.0);
    }

    #[test]
    fn creases_are_seen_whichever_way_they_run() {
        for long in [12.0, 20.0] {
            let along = moved_out(tube(), |angle, _| 6.0 * zigzag(angle * RADIUS, long));
            let round = moved_out(tube(), |_, high| 6.0 * zigzag(high, long));
            let chevrons = moved_out(tube(), |angle, high| {
                6.0 * zigzag(high + 20.0 * zigzag(angle * RADIUS, 60.0), long)
            });
            for (name, part) in [("along", along), ("round", round), ("chevrons", chevrons)] {
                let looks = Looks::of(&part);
                assert!(looks.creased > 0.5, "{name} {long}: {looks:?}");
                let bare = ShapePart { form: None, ..part };
                assert!(long > 12.0 || Looks::of(&bare).creased > 0.3, "{name} on nothing");
            }
        }
        // In a quarter of it only.
        let some =
            moved_out(tube(), |_, high| if high < 30.0 { 6.0 * zigzag(high, 12.0) } else { 0.0 });
        let looks = Looks::of(&some);
        assert!((0.15..0.4).contains(&looks.creased), "{looks:?}");
    }

    #[test]
    fn a_piece_that_has_flown_off_is_seen() {
        let lifted = |angle: f64, high: f64| {
            let off = (angle * RADIUS).hypot(high - 60.0);
            (30.0 - off).clamp(0.0, 15.0)
        };
        let looks = Looks::of(&moved_out(tube(), lifted));
        // A round of 22 mm, of 283 by 117.
        assert!((0.03..0.07).contains(&looks.flown), "{looks:?}");
        // What is slack may stand off.
        let mut slack = moved_out(tube(), lifted);
        slack.stretch.fill(0.0);
        assert_eq!(Looks::of(&slack).flown, 0.0);
    }

    #[test]
    fn cloth_that_is_turned_is_seen() {
        let mut part = tube();
        let band = |face: &&mut [u32; 3]| face[0] / ROUND < TALL / 4;
        part.faces.iter_mut().filter(band).for_each(|face| face.swap(1, 2));
        let looks = Looks::of(&part);
        assert!((looks.inside_out - 0.25).abs() < 0.05, "{looks:?}");
        // A point that is drawn past the next: the faces between are turned over.
        let mut part = tube();
        for nth in [1000, 1500, 2000] {
            part.at[nth] = part.at[nth + 1].lerp(part.at[nth + 2], 0.5);
        }
        let looks = Looks::of(&part);
        let faces = part.faces.len() as f64;
        assert!((3.0..=12.0).contains(&(looks.turned_over * faces)), "{looks:?}");
    }
}
