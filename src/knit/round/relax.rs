//! Rest: the least energy that springs, bends, a form and a gentle pressure leave, found by steps that
//! each lower it.

use super::touching::touching;
use super::{Form, Net, Point};

/// Steps after which cloth that comes near to itself is looked for anew.
const LOOKED_AFTER: u32 = 40;

/// What acts on a net, and for how long.
#[derive(Clone, Debug)]
pub struct Setting<'a> {
    /// What it lies on.
    pub form: Option<&'a Form>,
    /// How strongly it is kept out of the form.
    pub contact: f64,
    /// Pushes each face outwards, per square millimetre of it: what keeps a bag from falling flat.
    pub pressure: f64,
    /// How thick the cloth is, where it is to be kept from going through itself, in millimetres.
    pub thick_mm: Option<f64>,
    /// Steps at most.
    pub steps: u32,
    /// Ends once no node moves farther than this in a step, on average, in millimetres.
    pub still_mm: f64,
}

impl Default for Setting<'_> {
    fn default() -> Self {
        Setting {
            form: None,
            contact: 2.0,
            pressure: 0.0,
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
/// carried on by momentum, which is dropped as soon as the energy would rise. Under pressure, which has
/// no bound of that kind, the promise is kept by the test alone.
///
/// Where cloth has a thickness, what has come near to itself is looked for anew every so many steps; the
/// energy of [`Relaxed`] is that since the last time.
pub fn relax(net: &Net, at: Vec<Point>, setting: &Setting<'_>) -> Relaxed {
    let Some(thick_mm) = setting.thick_mm else { return go_down(net, at, setting, setting.steps) };
    let mut at = at;
    let mut steps = 0;
    loop {
        let mut thick = net.clone();
        thick.springs.extend(touching(net, &at, thick_mm));
        let some = LOOKED_AFTER.min(setting.steps - steps);
        let gone = go_down(&thick, at, setting, some);
        steps += gone.steps;
        if gone.steps < some || steps >= setting.steps {
            return Relaxed { steps, ..gone };
        }
        at = gone.at;
    }
}

/// As [`relax`], with springs as they are and so many steps at most.
fn go_down(net: &Net, at: Vec<Point>, setting: &Setting<'_>, most: u32) -> Relaxed {
    let stiffness = stiffness(net, setting);
    let mut energy = Vec::new();
    let mut here = at;
    let mut before = here.clone();
    let mut ahead = here.clone();
    let mut slope = vec![Point::default(); here.len()];
    let (mut run, mut steps) = (0u32, 0);
    let mut least = f64::INFINITY;
    while steps < most {
        let now = slope_at(net, setting, &ahead, &mut slope);
        if now > least && run > 0 {
            // Momentum overshot: back to where it is sure to be lower.
            ahead.clone_from(&here);
            run = 0;
            steps += 1;
            continue;
        }
        if now > least {
            break;
        }
        least = now;
        energy.push(now);
        steps += 1;
        std::mem::swap(&mut before, &mut here);
        let mut moved = 0.0;
        for n in 0..ahead.len() {
            let to = ahead[n] - slope[n] * (1.0 / stiffness[n]);
            let way = to - ahead[n];
            moved += way.dot(way);
            here[n] = to;
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

/// By node, how steep the energy can become about it.
fn stiffness(net: &Net, setting: &Setting<'_>) -> Vec<f64> {
    let contact = if setting.form.is_some() { setting.contact } else { 0.0 };
    let mut all = vec![contact + 1e-9; net.len()];
    for spring in &net.springs {
        let most = 2.0 * spring.tension.max(spring.compression);
        all[spring.a as usize] += most;
        all[spring.b as usize] += most;
    }
    for bend in &net.bends {
        for (node, share) in bend.nodes.iter().zip([4.0, 8.0, 4.0]) {
            all[*node as usize] += share * bend.stiffness;
        }
    }
    all
}

/// The energy, and by node its slope.
fn slope_at(net: &Net, setting: &Setting<'_>, at: &[Point], slope: &mut [Point]) -> f64 {
    slope.fill(Point::default());
    let mut energy = 0.0;
    for spring in &net.springs {
        let (a, b) = (spring.a as usize, spring.b as usize);
        let way = at[a] - at[b];
        let length = way.length();
        let longer = length - spring.rest_mm;
        let stiff = if longer > 0.0 { spring.tension } else { spring.compression };
        energy += 0.5 * stiff * longer * longer;
        if length > 0.0 {
            let pull = way * (stiff * longer / length);
            slope[a] += pull;
            slope[b] -= pull;
        }
    }
    for bend in &net.bends {
        let [a, b, c] = bend.nodes.map(|node| node as usize);
        let off = at[a] - at[b] * 2.0 + at[c];
        energy += 0.5 * bend.stiffness * off.dot(off);
        let pull = off * bend.stiffness;
        slope[a] += pull;
        slope[b] -= pull * 2.0;
        slope[c] += pull;
    }
    if let Some(form) = setting.form {
        for (n, point) in at.iter().enumerate() {
            if let Some(there) = form.outside(*point) {
                let off = *point - there;
                energy += 0.5 * setting.contact * off.dot(off);
                slope[n] += off * setting.contact;
            }
        }
    }
    if setting.pressure > 0.0 {
        energy -= press(net, setting.pressure, at, slope);
    }
    energy
}

/// Pushes faces outwards. Gives what the volume inside is worth.
fn press(net: &Net, pressure: f64, at: &[Point], slope: &mut [Point]) -> f64 {
    let mut volume = 0.0;
    // What pushes all together would carry it away: that part is left out, which is as if the hole of
    // an open bag were closed by a lid.
    let mut all = Point::default();
    let mut push = vec![Point::default(); at.len()];
    for face in &net.faces {
        let [a, b, c] = face.map(|node| at[node as usize]);
        volume += a.dot(b.cross(c)) / 6.0;
        let out = (b - a).cross(c - a) * (pressure / 6.0);
        for node in face {
            push[*node as usize] += out;
            all += out;
        }
    }
    let mean = all * (1.0 / at.len().max(1) as f64);
    for (slope, push) in slope.iter_mut().zip(push) {
        *slope -= push - mean;
    }
    volume * pressure
}
