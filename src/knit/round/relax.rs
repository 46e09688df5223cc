//! Rest: the least energy that springs, bends, a form, weight and a gentle pressure leave, found by steps
//! that each lower it.

use super::contact::Contact;
use super::touching::touching;
use super::{Form, Net, Point};

/// Steps after which cloth that comes near to itself is looked for anew.
const LOOKED_AFTER: u32 = 40;
/// Times that a step which would raise the energy is tried again, half as long.
const SHORTENED: u32 = 6;

/// What acts on a net, and for how long.
#[derive(Clone, Debug)]
pub struct Setting<'a> {
    /// What it lies on.
    pub form: Option<&'a Form>,
    /// How far above the form cloth lies whose outside looks away from it, in millimetres: where it lies double, there
    /// is room for what lies below, which looks the other way.
    pub above_mm: f64,
    /// How strongly it is kept out of the form, and above the floor.
    pub contact: f64,
    /// Pushes each face outwards, per square millimetre of it: what keeps a bag from falling flat.
    pub pressure: f64,
    /// What a square millimetre of cloth weighs: it pulls downwards.
    pub weight: f64,
    /// The height of a table below which nothing sinks.
    pub floor: Option<f64>,
    /// Nodes that are held, each towards a place.
    pub pins: &'a [Pin],
    /// How thick the cloth is, where it is to be kept from going through itself, in millimetres.
    pub thick_mm: Option<f64>,
    /// Steps at most.
    pub steps: u32,
    /// Ends once no node moves farther than this in a step, on average, in millimetres.
    pub still_mm: f64,
}

/// A node held towards a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pin {
    /// Which.
    pub node: u32,
    /// Where to.
    pub to: Point,
    /// How strongly: 1 as a spring along the cloth.
    pub stiffness: f64,
    /// Only in this direction, as a band that grips: it gives way across. `None`: in each.
    pub way: Option<Point>,
}

impl Pin {
    /// From the place that it is held towards, as far as it is held.
    fn off(&self, at: Point) -> Point {
        let off = at - self.to;
        self.way.map_or(off, |way| way * off.dot(way))
    }
}

impl Default for Setting<'_> {
    fn default() -> Self {
        Setting {
            form: None,
            above_mm: 0.0,
            contact: 2.0,
            pressure: 0.0,
            weight: 0.0,
            floor: None,
            pins: &[],
            thick_mm: None,
            steps: 600,
            still_mm: 1e-3,
        }
    }
}

/// A net at rest, or as near as the steps took it.
#[derive(Clone, Debug, PartialEq)]
pub struct Relaxed {
    /// By node.
    pub at: Vec<Point>,
    /// Steps taken.
    pub steps: u32,
    /// The energy before each step that was kept: never rises.
    pub energy: Vec<f64>,
}

/// Moves the nodes of a net until it rests.
///
/// Each step goes down the slope of the energy by as much as is sure to lower it (a majorising
/// quadratic with one stiffness a node: a spring pulls no harder than a straight one of its stiffness),
/// carried on by momentum, which is dropped as soon as the energy would rise. Of pressure and of a form,
/// which have no bound of that kind, the promise is kept by the test alone, with ever shorter steps.
///
/// Where cloth has a thickness, what has come near to itself is looked for anew every so many steps; the
/// energy of [`Relaxed`] is that since the last time.
pub fn relax(net: &Net, at: Vec<Point>, setting: &Setting<'_>) -> Relaxed {
    let mut pull = Pull::new(net, &at, setting);
    let Some(thick_mm) = setting.thick_mm else {
        return go_down(net, &pull, at, setting, setting.steps);
    };
    let mut at = at;
    let mut steps = 0;
    loop {
        pull.apart = touching(net, &at, thick_mm);
        let some = LOOKED_AFTER.min(setting.steps - steps);
        let gone = go_down(net, &pull, at, setting, some);
        steps += gone.steps;
        if gone.steps < some || steps >= setting.steps {
            return Relaxed { steps, ..gone };
        }
        at = gone.at;
    }
}

/// The springs of a net by node, for sums that are gathered and not strewn.
struct Pull {
    /// Those of a node: `starts[n]..starts[n + 1]` of `to`.
    starts: Vec<u32>,
    to: Vec<Half>,
    /// What keeps cloth from going through itself.
    apart: Vec<super::Spring>,
    /// What it lies on.
    contact: Option<Contact>,
    /// By node, how far above that it lies.
    above: Vec<f64>,
    /// Cloth to a node, in square millimetres.
    area: f64,
}

/// A spring as seen from one of its ends.
#[derive(Clone, Copy)]
struct Half {
    other: u32,
    rest_mm: f32,
    tension: f32,
    compression: f32,
}

impl Pull {
    fn new(net: &Net, at: &[Point], setting: &Setting<'_>) -> Pull {
        let mut starts = vec![0u32; net.len() + 1];
        for spring in &net.springs {
            starts[spring.a as usize + 1] += 1;
            starts[spring.b as usize + 1] += 1;
        }
        for n in 0..net.len() {
            starts[n + 1] += starts[n];
        }
        let none = Half { other: 0, rest_mm: 0.0, tension: 0.0, compression: 0.0 };
        let mut to = vec![none; 2 * net.springs.len()];
        let mut next = starts.clone();
        for spring in &net.springs {
            for (own, other) in [(spring.a, spring.b), (spring.b, spring.a)] {
                let place = &mut next[own as usize];
                to[*place as usize] = Half {
                    other,
                    rest_mm: spring.rest_mm as f32,
                    tension: spring.tension as f32,
                    compression: spring.compression as f32,
                };
                *place += 1;
            }
        }
        let radius = net.radius_mm();
        let area = 4.0 * std::f64::consts::PI * radius * radius / net.len().max(1) as f64;
        let contact = setting.form.map(Contact::of);
        let above = match setting.form {
            Some(form) if setting.above_mm > 0.0 => above(net, at, form, setting.above_mm),
            _ => vec![0.0; net.len()],
        };
        Pull { starts, to, apart: Vec::new(), contact, above, area }
    }

    fn of(&self, node: usize) -> &[Half] {
        &self.to[self.starts[node] as usize..self.starts[node + 1] as usize]
    }

    /// By node, how steep the energy can become about it.
    fn stiffness(&self, net: &Net, setting: &Setting<'_>) -> Vec<f64> {
        let contact = if setting.form.is_some() { setting.contact } else { 0.0 };
        let floor = if setting.floor.is_some() { setting.contact } else { 0.0 };
        let mut all: Vec<f64> = (0..net.len())
            .map(|n| {
                let springs = self.of(n).iter().map(|half| half.tension.max(half.compression));
                1e-9 + contact + floor + springs.map(|stiff| 2.0 * f64::from(stiff)).sum::<f64>()
            })
            .collect();
        for spring in &self.apart {
            all[spring.a as usize] += 2.0 * spring.compression;
            all[spring.b as usize] += 2.0 * spring.compression;
        }
        for bend in &net.bends {
            for (node, share) in bend.nodes.iter().zip([4.0, 8.0, 4.0]) {
                all[*node as usize] += share * bend.stiffness;
            }
        }
        for pin in setting.pins {
            all[pin.node as usize] += pin.stiffness;
        }
        all
    }

    /// The energy of the springs, and by node its slope.
    fn slope(&self, at: &[Point], slope: &mut [Point]) -> f64 {
        let mut energy = 0.0;
        for (n, slope) in slope.iter_mut().enumerate() {
            let here = at[n];
            let mut sum = Point::default();
            for half in self.of(n) {
                let way = here - at[half.other as usize];
                let length = way.length();
                let longer = length - f64::from(half.rest_mm);
                let stiff = f64::from(if longer > 0.0 { half.tension } else { half.compression });
                // Each spring is met from both its ends.
                energy += 0.25 * stiff * longer * longer;
                if length > 0.0 {
                    sum += way * (stiff * longer / length);
                }
            }
            *slope = sum;
        }
        for spring in &self.apart {
            let (a, b) = (spring.a as usize, spring.b as usize);
            let way = at[a] - at[b];
            let length = way.length();
            let longer = length - spring.rest_mm;
            if longer < 0.0 && length > 0.0 {
                energy += 0.5 * spring.compression * longer * longer;
                let pull = way * (spring.compression * longer / length);
                slope[a] += pull;
                slope[b] -= pull;
            }
        }
        energy
    }
}

/// By node, how far above a form it lies: the farther, the more its cloth looks away from it.
fn above(net: &Net, at: &[Point], form: &Form, most: f64) -> Vec<f64> {
    let ways = net.ways(at);
    let share =
        |(at, way): (&Point, Point)| f64::midpoint(1.0, way.dot(form.nearest(*at).1)) * most;
    at.iter().zip(ways).map(share).collect()
}

/// As [`relax`], with springs as they are and so many steps at most.
fn go_down(net: &Net, pull: &Pull, at: Vec<Point>, setting: &Setting<'_>, most: u32) -> Relaxed {
    let stiffness = pull.stiffness(net, setting);
    let mut energy = Vec::new();
    let mut here = at;
    let mut before = here.clone();
    let mut ahead = here.clone();
    let mut slope = vec![Point::default(); here.len()];
    let (mut run, mut steps, mut shortened) = (0u32, 0, 0);
    let mut least = f64::INFINITY;
    while steps < most {
        let now = slope_at(net, pull, setting, &ahead, &mut slope);
        // What is no number is no rest either.
        if now.is_nan() || now > least {
            steps += 1;
            if run > 0 {
                // Momentum overshot: back to where it is sure to be lower.
                ahead.clone_from(&here);
                run = 0;
                continue;
            }
            // So did the step itself, where it met a form: half as far.
            shortened += 1;
            if shortened > SHORTENED {
                here.clone_from(&before);
                break;
            }
            for n in 0..here.len() {
                here[n] = before[n] + (here[n] - before[n]) * 0.5;
            }
            ahead.clone_from(&here);
            continue;
        }
        least = now;
        energy.push(now);
        steps += 1;
        shortened = 0;
        std::mem::swap(&mut before, &mut here);
        let mut moved = 0.0;
        for n in 0..ahead.len() {
            let way = slope[n] * (1.0 / stiffness[n]);
            moved += way.dot(way);
            here[n] = ahead[n] - way;
        }
        if run == 0 {
            before.clone_from(&ahead);
        }
        if (moved / here.len().max(1) as f64).sqrt() < setting.still_mm {
            break;
        }
        run += 1;
        let carry = f64::from(run - 1) / f64::from(run + 2);
        for n in 0..ahead.len() {
            ahead[n] = here[n] + (here[n] - before[n]) * carry;
        }
    }
    Relaxed { at: here, steps, energy }
}

/// The energy, and by node its slope.
fn slope_at(
    net: &Net,
    pull: &Pull,
    setting: &Setting<'_>,
    at: &[Point],
    slope: &mut [Point],
) -> f64 {
    let mut energy = pull.slope(at, slope);
    for bend in &net.bends {
        let [a, b, c] = bend.nodes.map(|node| node as usize);
        let off = at[a] - at[b] * 2.0 + at[c];
        energy += 0.5 * bend.stiffness * off.dot(off);
        let pull = off * bend.stiffness;
        slope[a] += pull;
        slope[b] -= pull * 2.0;
        slope[c] += pull;
    }
    for pin in setting.pins {
        let off = pin.off(at[pin.node as usize]);
        energy += 0.5 * pin.stiffness * off.dot(off);
        slope[pin.node as usize] += off * pin.stiffness;
    }
    if let Some(contact) = &pull.contact {
        for (n, point) in at.iter().enumerate() {
            if let Some(there) = contact.outside(*point, pull.above[n]) {
                let off = *point - there;
                energy += 0.5 * setting.contact * off.dot(off);
                slope[n] += off * setting.contact;
            }
        }
    }
    let weight = setting.weight * pull.area;
    for (point, slope) in at.iter().zip(slope.iter_mut()) {
        energy += weight * point.y;
        slope.y += weight;
        let deep = setting.floor.map_or(0.0, |floor| (floor - point.y).max(0.0));
        energy += 0.5 * setting.contact * deep * deep;
        slope.y -= setting.contact * deep;
    }
    if setting.pressure > 0.0 {
        energy -= press(net, setting.pressure, at, slope);
    }
    energy
}

/// What cloth holds with lids on its open edges, in cubic millimetres: below 0 where it is inside out.
pub(super) fn volume(net: &Net, at: &[Point]) -> f64 {
    press(net, 1.0, at, &mut vec![Point::default(); at.len()])
}

/// Pushes faces outwards; open edges as if a lid lay on them, so that nothing is carried away. Gives what
/// the volume inside is worth.
fn press(net: &Net, pressure: f64, at: &[Point], slope: &mut [Point]) -> f64 {
    let mut volume = 0.0;
    let sixth = pressure / 6.0;
    for face in &net.faces {
        let [a, b, c] = face.map(|node| at[node as usize]);
        let (ab, bc, ca) = (a.cross(b), b.cross(c), c.cross(a));
        volume += a.dot(bc);
        slope[face[0] as usize] -= bc * sixth;
        slope[face[1] as usize] -= ca * sixth;
        slope[face[2] as usize] -= ab * sixth;
    }
    for rim in net.rims.iter().filter(|rim| rim.len() > 2) {
        let share = 1.0 / rim.len() as f64;
        let sum = rim.iter().fold(Point::default(), |sum, node| sum + at[*node as usize]);
        let (middle, mut all) = (sum * share, Point::default());
        for (n, node) in rim.iter().enumerate() {
            let next = rim[(n + 1) % rim.len()];
            let (a, b) = (at[*node as usize], at[next as usize]);
            let across = a.cross(b);
            volume += middle.dot(across);
            all += across;
            slope[*node as usize] -= b.cross(middle) * sixth;
            slope[next as usize] -= middle.cross(a) * sixth;
        }
        for node in rim {
            slope[*node as usize] -= all * (sixth * share);
        }
    }
    volume * sixth
}
