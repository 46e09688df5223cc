//! A net brought to rest as a stance says: laid out by its openings and tips, drawn out under a gentle
//! pressure, then a form grown inside it.

use super::bag::{hangs, turned_round};
use super::settle::{CELL, FEW, LARGE, Levels, spread_out};
use super::stance::{Seat, UP, is_bag, laid};
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
/// How strongly the band of a bag grips the head at the height where it was put on.
const GRIPS: f64 = 0.02;
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
    let setting = Setting {
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
    // Cells as wide as a plate is thick would slip through its edge, and a flap has no shape with few of them.
    let plate = matches!(stance.places, Some(Places::Plate { .. }));
    let hanging = seat.as_ref().is_some_and(|seat| hangs(looked_at, seat));
    let fine = plate || hanging;
    // Where a hem hangs from the rim, that alone is held.
    let band = if hanging { 0.0 } else { BAND_MM };
    let cells = net.len();
    let small = |net: &Net| match seat {
        Some(_) if fine => net.len() * 4 < cells,
        Some(_) => is_small(net),
        None => net.len() <= FEW,
    };
    let levels = Levels::of(net, by, rough, &small);
    let grips = |net: &Net| gripping(net, seat.as_ref(), stance, band);
    let begin = |net: &Net| begun(net, stance, &Setting { pins: &grips(net), ..setting.clone() });
    let mut at = levels.settle(&setting, &begin, &grips).at;
    let first = levels.into_first();
    if net.rims.is_empty() {
        apart(first.as_ref().map_or(net, |first| &first.net), &mut at);
    }
    (first, at)
}

/// A bag on a head doesn't slip up to where the head is narrower.
fn gripping(net: &Net, seat: Option<&Seat>, stance: &Stance, band: f64) -> Vec<Pin> {
    let (Some(Places::Head { .. }), Some(_)) = (&stance.places, &stance.form) else {
        return Vec::new();
    };
    let Some([site]) = seat.map(|seat| &seat.rims[..]) else { return Vec::new() };
    let Some(rim) = net.rims.first() else { return Vec::new() };
    let far = net.distances(rim);
    let near = (0..net.len() as u32).filter(|node| far[*node as usize] <= band);
    near.map(|node| {
        let to = site.at + UP * far[node as usize];
        Pin { node, to, stiffness: GRIPS, way: Some(UP) }
    })
    .collect()
}

/// Whether a net is laid out as it is: coarser, its rims would have no shape.
fn is_small(net: &Net) -> bool {
    let narrowest = net.rims.iter().map(Vec::len).min().unwrap_or(0);
    net.len() <= FEW || narrowest < ROUND.0 || (net.len() < MANY && narrowest < ROUND.1)
}

/// The coarsest net.
fn begun(net: &Net, stance: &Stance, setting: &Setting<'_>) -> Relaxed {
    let radius = net.radius_mm();
    let Some(seat) = Seat::of(net, stance) else {
        let free = Setting { form: None, weight: 0.0, floor: None, pins: &[], ..setting.clone() };
        if let Some(seat) = Seat::flat(net) {
            // In the plane from the first: there it has no fold to come out of.
            let at = relax(net, laid(net, &seat), &Setting { steps: 800, ..free }).at;
            return grown(net, lowered(upright(net, at), stance), stance, setting, &[]);
        }
        let at = spread_out(net, 3, setting);
        let blown = Setting { pressure: setting.pressure * 5.0, ..free };
        let at = upright(net, relax(net, at, &blown).at);
        return grown(net, lowered(at, stance), stance, setting, &[]);
    };
    let bag = stance.places.as_ref().and_then(|places| turned_round(net, &seat, places));
    let is_bag = bag.is_some();
    let mut at = bag.unwrap_or_else(|| laid(net, &seat));
    let pins = pins(net, &seat, &at);
    if is_bag {
        if stance.form.is_some() {
            apart(net, &mut at);
        }
        return grown(net, lowered(at, stance), stance, setting, &pins);
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
    grown(net, lowered(at, stance), stance, setting, &pins)
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
    let mut out = vec![Point::default(); at.len()];
    for face in &net.faces {
        let [a, b, c] = face.map(|node| at[node as usize]);
        let normal = (b - a).cross(c - a);
        for node in face {
            out[*node as usize] += normal;
        }
    }
    for (point, out) in at.iter_mut().zip(out) {
        *point += out.unit() * HALF_THICK_MM;
    }
}

fn pins(net: &Net, seat: &Seat, at: &[Point]) -> Vec<Pin> {
    let rims = net.rims.iter().take(seat.rims.len()).flatten();
    let tips = seat.tips.iter().map(|(node, _)| node);
    rims.chain(tips)
        .map(|node| Pin { node: *node, to: at[*node as usize], stiffness: HELD, way: None })
        .collect()
}

/// A form grown inside the cloth; then nothing is held any more.
fn grown(
    net: &Net,
    mut at: Vec<Point>,
    stance: &Stance,
    setting: &Setting<'_>,
    pins: &[Pin],
) -> Relaxed {
    if let Some(form) = &stance.form {
        let pressure = BLOWN.1 / net.radius_mm();
        // A plate is laid round from the first.
        let laid = matches!(stance.places, Some(Places::Plate { .. }));
        for size in GROWN.into_iter().filter(|size| !laid || *size >= 1.0) {
            let small: Form = form.shrunk(size);
            let growing =
                Setting { form: Some(&small), pressure, pins, steps: 80, ..setting.clone() };
            at = relax(net, at, &growing).at;
        }
    }
    relax(net, at, setting)
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
