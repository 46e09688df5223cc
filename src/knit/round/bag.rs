//! A bag laid out about an upright axis: over a head, or over a plate and under it.

use super::cover::{beyond, squares};
use super::stance::{Seat, across, laid, mean};
use super::{Net, Places, Point};

/// The way down that the cloth is laid along, from the tip to the rim.
enum Guide {
    /// As wide at each place as the cloth there, and in all so far down.
    Down(f64),
    /// Over a plate, round its edge and inwards below it.
    Plate { radius: f64, half: f64 },
}

/// Radius and height below the tip.
type Outline = Vec<(f64, f64)>;

/// A bag about an upright axis: its angles are those of [`laid`], its outline follows from the ways to the tip
/// and to the opening. What lies behind the opening, as a hem that is closed inside, hangs down from it.
pub(super) fn turned_round(net: &Net, seat: &Seat, places: &Places) -> Option<Vec<Point>> {
    let ([site], [(tip, crown)]) = (&seat.rims[..], &seat.tips[..]) else { return None };
    let guide = match *places {
        Places::Head { .. } => Guide::Down(crown.y - site.at.y),
        Places::Plate { radius, half } => Guide::Plate { radius, half },
        _ => return None,
    };
    let (from_rim, from_tip) = (net.distances(&net.rims[0]), net.distances(&[*tip]));
    let long = mean(&from_tip, &net.rims[0]);
    let part = |n: usize| (from_tip[n] / (from_tip[n] + from_rim[n]).max(1e-9)).clamp(0.0, 1.0);
    let beyond = beyond(net, &from_rim, &from_tip);
    let bins = ((net.len() as f64).sqrt() / 2.0).clamp(6.0, 30.0) as usize;
    let mut area = vec![0.0; bins];
    for (n, square) in squares(net).into_iter().enumerate().filter(|(n, _)| !beyond[*n]) {
        area[((part(n) * bins as f64) as usize).min(bins - 1)] += square;
    }
    let rim = net.length_round(&net.rims[0]) / std::f64::consts::TAU;
    let outline = match guide {
        Guide::Down(down) => outline_down(&area, long, down),
        Guide::Plate { radius, half } => outline_on_plate((radius, half), (bins, long), rim),
    };
    let (one, two) = across(site.out);
    let mut aside: Vec<Point> = (laid(net, seat).into_iter())
        .map(|point| {
            let from = point - *crown;
            (one * from.dot(one) + two * from.dot(two)).unit()
        })
        .collect();
    hung_down(net, &from_rim, &beyond, &mut aside);
    let at = aside.into_iter().enumerate().map(|(n, aside)| {
        let place = part(n) * bins as f64;
        let bin = (place as usize).min(bins - 1);
        let within = place - bin as f64;
        let (low, high) = (outline[bin], outline[bin + 1]);
        let (radius, down) = if beyond[n] {
            (outline[bins].0, outline[bins].1 + from_rim[n])
        } else {
            (low.0 + (high.0 - low.0) * within, low.1 + (high.1 - low.1) * within)
        };
        *crown + site.out * down + aside * radius
    });
    Some(at.collect())
}

/// Whether cloth hangs down behind the rim of a bag.
pub(super) fn hangs(net: &Net, seat: &Seat) -> bool {
    let ([_], [(tip, _)]) = (&seat.rims[..], &seat.tips[..]) else { return false };
    let beyond = beyond(net, &net.distances(&net.rims[0]), &net.distances(&[*tip]));
    beyond.iter().filter(|beyond| **beyond).count() * 20 > net.len()
}

/// What hangs down behind the rim lies below the nodes that it hangs from.
fn hung_down(net: &Net, from_rim: &[f64], beyond: &[bool], aside: &mut [Point]) {
    let neighbours = net.neighbours();
    let mut order: Vec<usize> = (0..net.len()).filter(|n| beyond[*n]).collect();
    order.sort_by(|a, b| from_rim[*a].total_cmp(&from_rim[*b]));
    for n in order {
        let own = neighbours[n].iter().map(|(other, _)| *other as usize);
        let nearer = own.filter(|other| from_rim[*other] < from_rim[n]);
        let sum = nearer.fold(Point::default(), |sum, other| sum + aside[other]);
        if sum.length() > 0.0 {
            aside[n] = sum.unit();
        }
    }
}

/// As wide as the cloth, and steep enough to come so far down, as far as its length allows.
fn outline_down(area: &[f64], long: f64, down: f64) -> Outline {
    let step = long / area.len() as f64;
    let with = |slant: f64| {
        let mut outline = vec![(0.0, 0.0)];
        for n in 0..area.len() {
            let ahead = area.get(n + 1).copied().unwrap_or(area[n]);
            let radius = f64::midpoint(area[n], ahead) / step / std::f64::consts::TAU;
            let (before, low) = outline[n];
            let radius = radius.clamp(before - slant * step, before + slant * step);
            let down = (step * step - (radius - before) * (radius - before)).max(0.0).sqrt();
            outline.push((radius, low + down));
        }
        outline
    };
    let (mut steep, mut wide) = (0.0, 1.0);
    for _ in 0..20 {
        let slant = f64::midpoint(steep, wide);
        let reached = with(slant).last().map_or(0.0, |last| last.1);
        if reached < down { wide = slant } else { steep = slant }
    }
    // What is wide enough to lie so far down need not be made steeper.
    with(if steep > 0.999 { 1.0 } else { steep.max(0.05) })
}

/// Over a plate to its edge, round it, and below it inwards as far as the rim is wide; from there down.
fn outline_on_plate((radius, half): (f64, f64), (bins, long): (usize, f64), rim: f64) -> Outline {
    let flat = radius - half;
    let quarter = half * std::f64::consts::FRAC_PI_2;
    // What is as wide as the plate reaches to the middle of its edge.
    let scale = (flat + quarter) / radius;
    let inner = rim.clamp(radius * 0.2, flat);
    let place = |n: usize| {
        let way = n as f64 / bins as f64 * long * scale;
        let round = way - flat;
        if round < 0.0 {
            return (way, 0.0);
        }
        if round < 2.0 * quarter {
            let angle = round / half;
            return (flat + half * angle.sin(), half * (1.0 - angle.cos()));
        }
        let back = round - 2.0 * quarter;
        let past = (back - (flat - inner)).max(0.0);
        ((flat - back).max(inner), 2.0 * half + past)
    };
    (0..=bins).map(place).collect()
}
