//! A net brought to rest as a stance says: laid out by its openings and tips, drawn out under a gentle
//! pressure, then a form grown inside it.

use super::bag::{hangs, turned_round};
use super::relax::volume;
use super::settle::{CELL, FEW, LARGE, Levels, bounded, slowest, spread_out};
use super::stance::{BROW, Seat, UP, is_bag, is_headband, laid, ring_size};
use super::{Coarser, Form, Net, Pin, Places, Point, Relaxed, Setting, Stance, relax};

/// By how much a gentle pressure may stretch a ball of the cloth: while it is laid out, and at rest.
const BLOWN: (f64, f64) = (0.12, 0.006);
/// What a square millimetre of cloth weighs, in what a spring pulls at 1 mm: so much that half a
/// metre of it hangs longer by 1 %, and that it falls in folds of the width of a thumb.
const WEIGHT: f64 = 4e-5;
/// Half the thickness of knitted cloth.
const HALF_THICK_MM: f64 = 1.0;
/// How strongly rims and tips are held while a net is laid out.
const HELD: f64 = 0.3;
/// How strongly the band of a bag grips the body at the height where it was put on.
const GRIPS: f64 = 0.02;
/// How strongly each point of a band clings to the head where it lies.
const CLINGS: f64 = 0.005;
/// How much of the cloth behind its rim grips.
const BAND_MM: f64 = 25.0;
/// Nodes of a rim below which a net gets no coarser: at all, and while it is not large.
const ROUND: (usize, usize) = (18, 36);
/// Nodes from which a net is large.
const MANY: usize = 1500;
/// How large a form is, step by step, while it grows inside the cloth.
const GROWN: [f64; 6] = [0.3, 0.5, 0.7, 0.85, 0.95, 1.0];

/// A net at rest by cells of so many rows and needles: the smaller net, unless they are 1, and its nodes.
pub(super) fn dressed(net: &Net, by: i32, stance: &Stance) -> (Option<Coarser>, Vec<Point>) {
    let form = stance.form.as_ref();
    let is_closed = net.rims.len() != 1 || is_bag(net);
    let mut setting = Setting {
        form,
        pressure: if is_closed { BLOWN.1 / net.radius_mm() } else { 0.0 },
        weight: WEIGHT,
        // A table, where there is no body.
        floor: if form.is_none() { Some(0.0) } else { None },
        steps: 1200,
        still_mm: 3e-4,
        ..Setting::default()
    };
    let rough = net.coarser(by.max(CELL));
    // Of a large net the ways are long to find, and a cell more or less is little.
    let looked_at = if net.len() > LARGE { &rough.net } else { net };
    let seat = Seat::of(looked_at, stance);
    let headband = stance.places.is_some_and(|places| is_headband(looked_at, &places));
    let ring = match stance.places {
        Some(Places::Head { neck, .. }) if net.rims.is_empty() && form.is_some() => {
            let (girth, tall) = ring_size(looked_at);
            let high = if headband { BROW } else { neck.y };
            Some(Ring { girth, tall, high })
        }
        _ => None,
    };
    // Cells as wide as a plate is thick would slip through its edge. A hem that hangs has no shape with few of them: on
    // a head it is laid out as fine as it will be seen.
    let plate = matches!(stance.places, Some(Places::Plate { .. }));
    let hanging = seat.as_ref().is_some_and(|seat| hangs(looked_at, seat));
    if hanging {
        setting.above_mm = 2.0 * HALF_THICK_MM;
    }
    // Where a hem hangs from the rim, that alone is held.
    let band = if hanging { 0.0 } else { BAND_MM };
    let cells = net.len();
    let small = |net: &Net| match seat {
        Some(_) if hanging && form.is_some() => true,
        Some(_) if plate || hanging => net.len() * 4 < cells,
        Some(_) => is_small(net),
        None => net.len() <= FEW,
    };
    let levels = Levels::of(net, by, rough, &small);
    let fit = Fit { stance, seat, band_mm: band, headband, ring };
    let begin = |net: &Net| begun(net, &fit, &setting);
    let mut at = levels.settle(&setting, &begin, &|net, at| fit.grips(net, at)).at;
    let first = levels.into_first();
    if net.rims.is_empty() {
        apart(first.as_ref().map_or(net, |first| &first.net), &mut at);
    }
    (first, at)
}

/// How a garment sits, by its whole cloth.
struct Fit<'a> {
    stance: &'a Stance,
    seat: Option<Seat>,
    /// How much of the cloth behind its rim grips.
    band_mm: f64,
    /// Whether it is a ring that is worn round the head.
    headband: bool,
    /// Where it is worn, if it is a ring that has no edge to be seen.
    ring: Option<Ring>,
}

/// A ring about an upright axis.
#[derive(Clone, Copy)]
struct Ring {
    girth: f64,
    tall: f64,
    /// The height of its middle.
    high: f64,
}

impl Fit<'_> {
    /// A bag doesn't slip up to where a head is narrower, nor off a foot or a hand that stretches it; a headband
    /// stays where it was put on.
    fn grips(&self, net: &Net, at: &[Point]) -> Vec<Pin> {
        let grips = matches!(
            self.stance.places,
            Some(Places::Head { .. } | Places::Foot { .. } | Places::Hand { .. })
        );
        if !grips || self.stance.form.is_none() {
            return Vec::new();
        }
        let pin = |node, to, stiffness, way| Pin { node, to, stiffness, way: Some(way) };
        if self.headband {
            // As a whole it stays where it is worn; each point slides a little.
            let mean = at.iter().map(|point| point.y).sum::<f64>() / at.len().max(1) as f64;
            let to = |point: &Point| *point + UP * (BROW - mean);
            return at.iter().zip(0..).map(|(at, node)| pin(node, to(at), CLINGS, UP)).collect();
        }
        let (Some([site]), [rim]) = (self.seat.as_ref().map(|seat| &seat.rims[..]), &net.rims[..])
        else {
            return Vec::new();
        };
        let far = net.distances(rim);
        let near = (0..net.len() as u32).filter(|node| far[*node as usize] <= self.band_mm);
        let to = |node: u32| site.at - site.out * far[node as usize];
        near.map(|node| pin(node, to(node), GRIPS, site.out)).collect()
    }
}

/// A ring about an upright axis that has no edge to be seen, as a band that lies double: its slowest waves go round
/// it, the next of another kind round its cloth.
fn ring_laid(net: &Net, ring: Ring) -> Vec<Point> {
    let waves = slowest(net, 3);
    let most = waves.iter().fold(1e-9, |most: f64, wave| most.max(wave.z.abs()));
    let radius = ring.girth / std::f64::consts::TAU;
    let place = |wave: &Point| {
        let angle = wave.y.atan2(wave.x);
        let up = 0.5 - (wave.z / most).clamp(-1.0, 1.0).acos() / std::f64::consts::PI;
        Point::new(radius * angle.cos(), ring.high + ring.tall * up, radius * angle.sin())
    };
    let mut at: Vec<Point> = waves.iter().map(place).collect();
    let mut laid = at.clone();
    apart(net, &mut laid);
    if volume(net, &laid) < 0.0 {
        at.iter_mut().for_each(|point| point.x = -point.x);
        laid = at;
        apart(net, &mut laid);
    }
    laid
}

/// Whether a net is laid out as it is: coarser, its rims would have no shape.
fn is_small(net: &Net) -> bool {
    let narrowest = net.rims.iter().map(Vec::len).min().unwrap_or(0);
    net.len() <= FEW || narrowest < ROUND.0 || (net.len() < MANY && narrowest < ROUND.1)
}

/// The coarsest net.
fn begun(net: &Net, fit: &Fit<'_>, setting: &Setting<'_>) -> Relaxed {
    let stance = fit.stance;
    let grown = |at, pins: &[Pin]| grown(net, lowered(at, stance), fit, setting, pins);
    let radius = net.radius_mm();
    let Some(seat) = Seat::of(net, stance) else {
        let free = Setting { form: None, weight: 0.0, floor: None, pins: &[], ..setting.clone() };
        if let Some(seat) = Seat::flat(net) {
            // In the plane from the first: there it has no fold to come out of.
            let at = relax(net, laid(net, &seat), &Setting { steps: 800, ..free }).at;
            return grown(upright(net, at), &[]);
        }
        if let Some(ring) = fit.ring {
            return grown(ring_laid(net, ring), &[]);
        }
        let at = spread_out(net, 3, setting);
        let blown = Setting { pressure: setting.pressure * 5.0, ..free };
        return grown(upright(net, relax(net, at, &blown).at), &[]);
    };
    let bag = stance.places.as_ref().and_then(|places| turned_round(net, &seat, places));
    let is_bag = bag.is_some();
    let mut at = bag.unwrap_or_else(|| laid(net, &seat));
    let pins = pins(net, &seat, &at);
    if is_bag {
        if stance.form.is_some() {
            apart(net, &mut at);
        }
        return grown(at, &pins);
    }
    for (times, steps) in [(1.0, 400), (0.3, 300)] {
        let blown = Setting {
            form: None,
            weight: 0.0,
            floor: None,
            pressure: times * BLOWN.0 / radius,
            pins: &pins,
            steps,
            ..setting.clone()
        };
        at = relax(net, at, &blown).at;
    }
    if stance.form.is_none() {
        at = upright(net, at);
    }
    grown(at, &pins)
}

/// Onto the table, where there is no body.
fn lowered(mut at: Vec<Point>, stance: &Stance) -> Vec<Point> {
    if stance.form.is_none() {
        let low = at.iter().map(|point| point.y).fold(f64::INFINITY, f64::min);
        for point in &mut at {
            point.y -= low;
        }
    }
    at
}

/// Cloth that is laid double: each layer half its thickness out of the other.
fn apart(net: &Net, at: &mut [Point]) {
    let ways = net.ways(at);
    for (point, way) in at.iter_mut().zip(ways) {
        *point += way * HALF_THICK_MM;
    }
}

fn pins(net: &Net, seat: &Seat, at: &[Point]) -> Vec<Pin> {
    let rims: Vec<&u32> = net.rims.iter().take(seat.rims.len()).flatten().collect();
    let pin = |node: u32, stiffness| Pin { node, to: at[node as usize], stiffness, way: None };
    // A tip is as well held as an opening, or cloth would be drawn off it.
    let tip = HELD * rims.len() as f64 / seat.rims.len().max(1) as f64;
    let tips = seat.tips.iter().map(|(node, _)| pin(*node, tip));
    rims.iter().map(|node| pin(**node, HELD)).chain(tips).collect()
}

/// A form grown inside the cloth; then nothing is held any more but by what grips.
fn grown(
    net: &Net,
    mut at: Vec<Point>,
    fit: &Fit<'_>,
    setting: &Setting<'_>,
    pins: &[Pin],
) -> Relaxed {
    let stance = fit.stance;
    if let Some(form) = &stance.form {
        let pressure = BLOWN.1 / net.radius_mm();
        // A plate is laid round from the first.
        let laid = matches!(stance.places, Some(Places::Plate { .. }));
        let own = if pins.is_empty() { fit.grips(net, &at) } else { pins.to_vec() };
        for size in GROWN.into_iter().filter(|size| !laid || *size >= 1.0) {
            let small: Form = form.shrunk(size);
            let growing =
                Setting { form: Some(&small), pressure, pins: &own, steps: 80, ..setting.clone() };
            at = relax(net, at, &growing).at;
        }
    }
    let grip = fit.grips(net, &at);
    let steps = bounded(setting.steps, net);
    relax(net, at, &Setting { pins: &grip, steps, ..setting.clone() })
}

/// Turned so that it is least high, the right side up where it is flat.
fn upright(net: &Net, at: Vec<Point>) -> Vec<Point> {
    let middle =
        at.iter().fold(Point::default(), |sum, p| sum + *p) * (1.0 / at.len().max(1) as f64);
    let axes = super::settle::axes(&at, middle);
    let mut turned: Vec<Point> = at
        .iter()
        .map(|point| {
            let from = *point - middle;
            Point::new(from.dot(axes[0]), from.dot(axes[2]), -from.dot(axes[1]))
        })
        .collect();
    let up: f64 = net
        .faces
        .iter()
        .map(|face| {
            let [a, b, c] = face.map(|node| turned[node as usize]);
            (b - a).cross(c - a).y
        })
        .sum();
    if up < 0.0 {
        for point in &mut turned {
            *point = Point::new(point.x, -point.y, -point.z);
        }
    }
    turned
}
