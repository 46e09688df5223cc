//! How a garment is put on: where its openings and its tips come to lie before cloth finds its rest.

use super::cover::cover;
use super::places::Places;
use super::{Form, Net, Point};

/// What a garment is put on, and where.
#[derive(Clone, Debug, Default)]
pub struct Stance {
    /// What cloth lies on in the end.
    pub form: Option<Form>,
    /// The places of a body that it is laid out by, also where nothing of it is worn.
    pub places: Option<Places>,
    /// Numbers of the pieces that are worn in front, where the garment says so.
    pub front: Vec<u32>,
    /// Pieces whose open edges are buttoned together.
    pub buttoned: Vec<[u32; 2]>,
}

impl Stance {
    /// The same for the other of a pair: left for right.
    pub(super) fn mirrored(&self) -> Stance {
        Stance {
            form: self.form.as_ref().map(Form::mirrored),
            places: self.places.map(Places::mirrored),
            ..self.clone()
        }
    }

    /// The same where the thumb lies within, beside the palm: a bag on a hand that has no thumb of its own.
    pub(super) fn tucked(&self, net: &Net) -> Option<Stance> {
        let (Some(form), Some(Places::Hand { .. })) = (&self.form, self.places) else {
            return None;
        };
        let seat = Seat::of(net, self)?;
        (seat.rims.len() == 1 && seat.tips.len() == 1)
            .then(|| Stance { form: Some(form.without_thumb()), ..self.clone() })
    }
}

/// Where an opening lies, and which way one looks out of it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Site {
    pub at: Point,
    pub out: Point,
    /// How far from the opening its cloth is a plain tube.
    pub tube: f64,
}

/// Where the openings and tips of a net go.
#[derive(Clone, Debug, Default)]
pub(super) struct Seat {
    /// By rim of the net.
    pub rims: Vec<Site>,
    /// Nodes that are tips: of a toe, a heel, a thumb, a crown.
    pub tips: Vec<(u32, Point)>,
}

/// More rims than a garment is put on by.
const MOST_RIMS: usize = 4;
/// A bag has more cloth than a flat piece with its edge could have; by how much more it is sure to be one.
const BAGGY: f64 = 1.3;

impl Seat {
    /// Flat cloth with one edge, the right side up: its edge in a circle, so that nothing lies double.
    pub fn flat(net: &Net) -> Option<Seat> {
        let site = Site { at: Point::default(), out: DOWN, tube: 0.0 };
        is_flat(net).then(|| Seat { rims: vec![site], tips: Vec::new() })
    }

    /// How a net is laid out, if it has openings by which it can be.
    pub fn of(net: &Net, stance: &Stance) -> Option<Seat> {
        let places = stance.places.as_ref()?;
        let far: Vec<Vec<f64>> = net.rims.iter().map(|rim| net.distances(rim)).collect();
        match (places, net.rims.len()) {
            (_, 0) => None,
            _ if is_flat(net) => None,
            (Places::Torso { .. }, 3..=MOST_RIMS) => torso(net, &far, places, &stance.front),
            (Places::Hand { .. }, 3) => mitt(net, &far, places),
            (_, 2) => Some(tube(net, &far, places)),
            (_, 1) => bag(net, &far[0], places),
            _ => None,
        }
    }
}

/// Whether a net is flat cloth with one edge.
pub(super) fn is_flat(net: &Net) -> bool {
    net.rims.len() == 1 && !is_bag(net)
}

/// Whether a net with one edge is a bag: the largest flat piece with that edge is a round one.
pub(super) fn is_bag(net: &Net) -> bool {
    let Some(rim) = net.rims.first() else { return false };
    let edge = net.length_round(rim);
    let flat = edge * edge / (4.0 * std::f64::consts::PI);
    let radius = net.radius_mm();
    4.0 * std::f64::consts::PI * radius * radius > BAGGY * flat
}

fn farthest(far: impl Iterator<Item = f64>) -> Option<u32> {
    let mut most: Option<(f64, u32)> = None;
    for (n, far) in far.enumerate().filter(|(_, far)| far.is_finite()) {
        if most.is_none_or(|(other, _)| far > other) {
            most = Some((far, n as u32));
        }
    }
    most.map(|(_, n)| n)
}

/// A thumb ends at least so far before its crotch, as a share of the way from the opening to the tip.
const THUMB: f64 = 0.1;
/// How far a heel lies from the tip of the toe at least, as a share of the foot.
const HEEL: f64 = 0.6;
/// By how much more cloth a bag for a head has than the head below it, that it is sure to be slack.
const SLACK: f64 = 1.3;

pub(super) const UP: Point = Point::new(0.0, 1.0, 0.0);
const DOWN: Point = Point::new(0.0, -1.0, 0.0);

/// A bag: its tip lies farthest from the opening. A heel lies farthest from both; a thumb ends farther from
/// the opening than all cloth about it.
fn bag(net: &Net, far: &[f64], places: &Places) -> Option<Seat> {
    let tip = farthest(far.iter().copied())?;
    let long = far[tip as usize];
    let side = match places {
        // Small mittens have no thumb.
        Places::Hand { .. } => {
            second_peak(net, far).filter(|(back, _)| *back > THUMB * long).map(|(_, node)| node)
        }
        // A toe has corners too; a heel lies most of a foot from it.
        Places::Foot { toe, heel, .. } => {
            let (from_tip, foot) = (net.distances(&[tip]), (*toe - *heel).length());
            let ways = far.iter().zip(&from_tip);
            farthest(ways.map(|(a, b)| if *b > HEEL * foot { a + b } else { 0.0 }))
        }
        _ => None,
    };
    let seat = match places {
        Places::Head { crown, arc, .. } => {
            let down = arc.below(long);
            // Slack cloth falls over a band that sits round the forehead; close cloth is drawn down.
            let is_slack = cover(net, tip, far) > SLACK * arc.surface(long);
            let down = if is_slack { down.min(arc.axes.1) } else { down };
            let at = Point::new(0.0, crown.y - down, 0.0);
            Seat { rims: vec![Site { at, out: DOWN, tube: 0.0 }], tips: vec![(tip, *crown)] }
        }
        Places::Plate { half, .. } => {
            let site = Site { at: Point::new(0.0, -half, 0.0), out: DOWN, tube: 0.0 };
            Seat { rims: vec![site], tips: vec![(tip, Point::new(0.0, *half, 0.0))] }
        }
        Places::Foot { toe, heel, leg, .. } => {
            let side = side?;
            let high = far[side as usize] + heel.y;
            let at = Point::new(leg.x, high, leg.z);
            let tube = 0.7 * far[side as usize];
            Seat { rims: vec![Site { at, out: UP, tube }], tips: vec![(tip, *toe), (side, *heel)] }
        }
        Places::Hand { tip: end, thumb, .. } => {
            let at = Point::new(0.0, end.y + long, 0.0);
            let tube = 0.4 * side.map_or(long, |side| far[side as usize]);
            let mut tips = vec![(tip, *end)];
            tips.extend(side.map(|side| (side, *thumb)));
            Seat { rims: vec![Site { at, out: UP, tube }], tips }
        }
        Places::Torso { .. } => return None,
    };
    Some(seat)
}

/// Of all nodes that lie farther off than all about them, the one from which one must come back the most to
/// reach a node still farther off.
/// How far back that is comes with it.
fn second_peak(net: &Net, far: &[f64]) -> Option<(f64, u32)> {
    let neighbours = net.neighbours();
    let mut order: Vec<u32> =
        (0..net.len() as u32).filter(|n| far[*n as usize].is_finite()).collect();
    order.sort_by(|a, b| far[*b as usize].total_cmp(&far[*a as usize]));
    // By node met so far, the peak of the land that it belongs to.
    let mut peak = vec![u32::MAX; net.len()];
    let top = |peak: &[u32], mut at: u32| {
        while peak[at as usize] != at {
            at = peak[at as usize];
        }
        at
    };
    let mut best: Option<(f64, u32)> = None;
    for node in order {
        peak[node as usize] = node;
        for (other, _) in &neighbours[node as usize] {
            if peak[*other as usize] == u32::MAX {
                continue;
            }
            let (a, b) = (top(&peak, node), top(&peak, *other));
            let (low, high) = if far[a as usize] < far[b as usize] { (a, b) } else { (b, a) };
            if low != high {
                let back = far[low as usize] - far[node as usize];
                if best.is_none_or(|(most, _)| back > most) && back > 0.0 {
                    best = Some((back, low));
                }
                peak[low as usize] = high;
            }
        }
    }
    best
}

fn least(far: &[f64], rim: &[u32]) -> f64 {
    rim.iter().map(|node| far[*node as usize]).fold(f64::INFINITY, f64::min)
}

pub(super) fn mean(far: &[f64], rim: &[u32]) -> f64 {
    rim.iter().map(|node| far[*node as usize]).sum::<f64>() / rim.len().max(1) as f64
}

/// A tube about a limb, its narrower end towards the hand or the foot; about the neck the wider one below.
fn tube(net: &Net, far: &[Vec<f64>], places: &Places) -> Seat {
    let long = mean(&far[0], &net.rims[1]);
    let round = |n: usize| net.length_round(&net.rims[n]);
    let narrow = usize::from(round(1) < round(0));
    let girth = f64::midpoint(round(0), round(1));
    let (low, x, z, below) = match places {
        Places::Head { .. } if goes_round_head(girth, long, places) => {
            (BROW - long * 0.5, 0.0, 0.0, 1 - narrow)
        }
        Places::Head { neck, .. } => (neck.y - long * 0.5, neck.x, neck.z, 1 - narrow),
        Places::Hand { .. } => (-0.3 * long, 0.0, 0.0, narrow),
        Places::Foot { leg, .. } => (leg.y, leg.x, leg.z, narrow),
        Places::Torso { .. } | Places::Plate { .. } => (-long * 0.5, 0.0, 0.0, 1 - narrow),
    };
    let site = |n: usize| {
        if n == below {
            Site { at: Point::new(x, low, z), out: DOWN, tube: 0.5 * long }
        } else {
            Site { at: Point::new(x, low + long, z), out: UP, tube: 0.5 * long }
        }
    };
    Seat { rims: vec![site(0), site(1)], tips: Vec::new() }
}

/// The height of the middle of a headband: where the girth of a head is taken, over the brows.
pub(super) const BROW: f64 = 0.0;

/// Whether a ring so wide and so tall is worn round the head: it is drawn tight there, which it is not about the
/// neck, and covers neither the eyes nor the crown.
fn goes_round_head(girth: f64, tall: f64, places: &Places) -> bool {
    let Places::Head { arc, collar, .. } = places else { return false };
    let (wide, up) = arc.axes;
    let head = wide * std::f64::consts::TAU;
    f64::midpoint(*collar, head) < girth && girth < head && tall < up
}

/// How wide and how tall a ring is that has no edge to be seen: its cloth lies double. From a point of it the
/// farthest lies half way round both ways, along rows and wales; both ways make up the cloth.
pub(super) fn ring_size(net: &Net) -> (f64, f64) {
    let far = net.distances(&[0]).into_iter().filter(|far| far.is_finite()).fold(0.0, f64::max);
    let ball = net.radius_mm();
    let cloth = 4.0 * std::f64::consts::PI * ball * ball;
    let girth = far + (far * far - cloth).max(0.0).sqrt();
    (girth, 0.5 * cloth / girth.max(1.0))
}

/// Whether a tube or a ring is a headband.
pub(super) fn is_headband(net: &Net, places: &Places) -> bool {
    let (girth, tall) = match &net.rims[..] {
        [] => ring_size(net),
        [one, two] => {
            let girth = f64::midpoint(net.length_round(one), net.length_round(two));
            (girth, mean(&net.distances(one), two))
        }
        _ => return false,
    };
    goes_round_head(girth, tall, places)
}

/// Open at the wrist, the thumb and the fingers: the thumb is the narrowest, the fingers are nearer to it.
fn mitt(net: &Net, far: &[Vec<f64>], places: &Places) -> Option<Seat> {
    let Places::Hand { thumb_root, thumb, .. } = places else { return None };
    let narrowest = |a: &usize, b: &usize| {
        net.length_round(&net.rims[*a]).total_cmp(&net.length_round(&net.rims[*b]))
    };
    let small = (0..3).min_by(narrowest)?;
    let mut others: Vec<usize> = (0..3).filter(|n| *n != small).collect();
    others.sort_by(|a, b| {
        least(&far[small], &net.rims[*a]).total_cmp(&least(&far[small], &net.rims[*b]))
    });
    let (fingers, wrist) = (others[0], others[1]);
    let out = (*thumb - *thumb_root).unit();
    let long = mean(&far[wrist], &net.rims[fingers]);
    let to_thumb = least(&far[fingers], &net.rims[small]);
    // The crotch of thumb and hand tells how far down the fingers' edge lies.
    let low = thumb_root.y - (to_thumb * 0.5).min(long * 0.4);
    let mut rims = vec![Site { at: thumb_root.lerp(*thumb, 0.5), out, tube: 0.0 }; 3];
    rims[fingers] = Site { at: Point::new(0.0, low, 0.0), out: DOWN, tube: 0.0 };
    rims[wrist] = Site { at: Point::new(0.0, low + long, 0.0), out: UP, tube: 0.3 * long };
    Some(Seat { rims, tips: Vec::new() })
}

/// The arms' openings are the two most alike; below lies the widest of the others.
fn torso(net: &Net, far: &[Vec<f64>], places: &Places, front: &[u32]) -> Option<Seat> {
    let Places::Torso { shoulder, root, arm, deep } = places else { return None };
    let round: Vec<f64> = net.rims.iter().map(|rim| net.length_round(rim)).collect();
    let mut pairs: Vec<(usize, usize)> =
        (0..round.len()).flat_map(|a| (a + 1..round.len()).map(move |b| (a, b))).collect();
    let unlike = |(a, b): &(usize, usize)| (round[*a] / round[*b]).ln().abs();
    pairs.sort_by(|a, b| unlike(a).total_cmp(&unlike(b)));
    let (a, b) = *pairs.first()?;
    let mut others: Vec<usize> = (0..round.len()).filter(|n| *n != a && *n != b).collect();
    others.sort_by(|a, b| round[*b].total_cmp(&round[*a]));
    let seat = |left: usize, right: usize| {
        let mut rims = vec![Site { at: Point::default(), out: UP, tube: 0.0 }; round.len()];
        let top = others.last().copied().unwrap_or(left);
        // From the neck's edge over the end of the shoulder, then down the arm.
        let neck = (round[top] / std::f64::consts::TAU).min(shoulder.x.abs() * 0.6);
        let over = (*shoulder - Point::new(neck, 0.0, 0.0)).length();
        let begins = (*shoulder - *root).dot(*arm);
        let reach = (least(&far[top], &net.rims[left]) - over + begins).max(10.0);
        for (n, side) in [(left, -1.0), (right, 1.0)] {
            let mirrored = |p: &Point| Point::new(p.x.abs() * side, p.y, p.z);
            let out = mirrored(arm);
            rims[n] = Site { at: mirrored(root) + out * reach, out, tube: 0.7 * reach };
        }
        if let [hem, neck] = others[..] {
            let long = mean(&far[neck], &net.rims[hem]);
            rims[hem] = Site { at: Point::new(0.0, -long, 0.0), out: DOWN, tube: 0.5 * long };
            rims[neck] = Site { at: Point::default(), out: UP, tube: 0.0 };
        } else if let [edge] = others[..] {
            // From the back of the neck down to the front of the hem.
            let half = round[edge] * 0.16;
            let ahead = Point::new(0.0, 0.4, 0.9).unit();
            rims[edge] = Site { at: Point::new(0.0, -half, *deep * 0.6), out: ahead, tube: 0.0 };
        }
        Seat { rims, tips: Vec::new() }
    };
    let (one, other) = (seat(a, b), seat(b, a));
    let faces = |seat: &Seat| frontal(net, far, seat, front);
    Some(if faces(&one) >= faces(&other) { one } else { other })
}

/// How far in front the pieces that belong there come to lie about the lowest rim.
fn frontal(net: &Net, far: &[Vec<f64>], seat: &Seat, front: &[u32]) -> f64 {
    let own: Vec<u32> =
        (0..net.len() as u32).filter(|n| front.contains(&net.cells[*n as usize].piece)).collect();
    if own.is_empty() {
        return 0.0;
    }
    let lowest =
        (0..seat.rims.len()).min_by(|a, b| seat.rims[*a].at.y.total_cmp(&seat.rims[*b].at.y));
    let Some(lowest) = lowest else { return 0.0 };
    let laid = ring(net, far, seat, lowest);
    let mut sum = 0.0;
    for (node, at) in net.rims[lowest].iter().zip(laid) {
        let is_front = front.contains(&net.cells[*node as usize].piece);
        sum += if is_front { at.z } else { -at.z };
    }
    sum
}

/// The nodes of a rim laid round its site, turned so that each other site lies in the direction in which
/// the way there is shortest.
pub(super) fn ring(net: &Net, far: &[Vec<f64>], seat: &Seat, n: usize) -> Vec<Point> {
    let (rim, site) = (&net.rims[n], seat.rims[n]);
    let count = rim.len() as f64;
    let (one, two) = across(site.out);
    let angle = |nth: usize| nth as f64 / count * std::f64::consts::TAU;
    let (mut cos, mut sin) = (0.0, 0.0);
    let mut towards = |place: Point, far: &[f64]| {
        let way = place - site.at;
        let (x, y) = (way.dot(one), way.dot(two));
        let (mut a, mut b) = (0.0, 0.0);
        for (nth, node) in rim.iter().enumerate() {
            let far = far[*node as usize];
            a -= far * angle(nth).cos();
            b -= far * angle(nth).sin();
        }
        // The turn that brings (a, b) to (x, y), as strong as both are sure.
        let sure = 1.0 / (x.hypot(y) + way.length()).max(1e-9);
        cos += (a * x + b * y) * sure;
        sin += (a * y - b * x) * sure;
    };
    for (m, other) in seat.rims.iter().enumerate().filter(|(m, _)| *m != n) {
        towards(other.at, &far[m]);
    }
    for (m, (_, at)) in seat.tips.iter().enumerate() {
        towards(*at, &far[seat.rims.len() + m]);
    }
    if cos.hypot(sin) < 1e-9 {
        // All lies on one axis: what is in front decides.
        let ahead = Point::new(0.0, 0.0, 1.0);
        let (x, y) = (ahead.dot(one), ahead.dot(two));
        let (mut a, mut b) = (0.0, 0.0);
        for (nth, front) in in_front(net, rim).into_iter().enumerate() {
            a += front * angle(nth).cos();
            b += front * angle(nth).sin();
        }
        if a.hypot(b) > 0.05 * count {
            (cos, sin) = (a * x + b * y, a * y - b * x);
        }
    }
    let turn = if cos == 0.0 && sin == 0.0 { 0.0 } else { sin.atan2(cos) };
    let radius = net.length_round(rim) / std::f64::consts::TAU;
    (0..rim.len())
        .map(|nth| {
            let angle = angle(nth) + turn;
            site.at + one * (radius * angle.cos()) + two * (radius * angle.sin())
        })
        .collect()
}

/// By node of a rim, how far in front it belongs: of cloth that was knitted flat the middle of the bed, its seam
/// behind; of a tube the one bed.
fn in_front(net: &Net, rim: &[u32]) -> Vec<f64> {
    let cell = |node: &u32| net.cells[*node as usize];
    if rim.iter().any(|node| cell(node).layer > 0) {
        return rim.iter().map(|node| if cell(node).layer > 0 { -1.0 } else { 1.0 }).collect();
    }
    let wales = || rim.iter().map(|node| f64::from(cell(node).wale));
    let (low, high) = wales().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), wale| {
        (low.min(wale), high.max(wale))
    });
    let half = ((high - low) / 2.0).max(1.0);
    wales().map(|wale| 1.0 - 2.0 * (wale - f64::midpoint(low, high)).abs() / half).collect()
}

/// Two directions at right angles to one and to each other, so that the three turn to the right.
pub(super) fn across(out: Point) -> (Point, Point) {
    let aside =
        if out.x.abs() < 0.8 { Point::new(1.0, 0.0, 0.0) } else { Point::new(0.0, 1.0, 0.0) };
    let two = out.cross(aside).unit();
    (two.cross(out), two)
}

/// The nodes of the tube behind a rim: straight behind the node of the rim that they are nearest to, as far
/// out as the cloth there is wide.
fn behind(net: &Net, n: usize, site: &Site, ring: &[Point], far: &[f64]) -> Vec<(u32, Point)> {
    if site.tube <= 0.0 {
        return Vec::new();
    }
    let neighbours = net.neighbours();
    let mut order: Vec<u32> =
        (0..net.len() as u32).filter(|node| far[*node as usize] < site.tube).collect();
    order.sort_by(|a, b| far[*a as usize].total_cmp(&far[*b as usize]));
    // The direction out of the axis, from the neighbours that lie nearer to the rim.
    let mut aside = vec![Point::default(); net.len()];
    for (node, at) in net.rims[n].iter().zip(ring) {
        aside[*node as usize] = (*at - site.at).unit();
    }
    let square = |node: u32| {
        let own = &neighbours[node as usize];
        own.iter().map(|(_, spring)| net.springs[*spring as usize].rest_mm.powi(2)).sum::<f64>()
            / 4.0
    };
    let bins = ((order.len() as f64).sqrt() / 2.0).clamp(1.0, 20.0) as usize;
    let bin = |far: f64| ((far / site.tube * bins as f64) as usize).min(bins - 1);
    let mut area = vec![0.0; bins];
    for node in &order {
        area[bin(far[*node as usize])] += square(*node);
    }
    let mut placed = Vec::new();
    for node in order {
        let n = node as usize;
        if far[n] <= 0.0 {
            continue;
        }
        let nearer = neighbours[n].iter().filter(|(other, _)| far[*other as usize] < far[n]);
        let sum = nearer.fold(Point::default(), |sum, (other, _)| sum + aside[*other as usize]);
        aside[n] = sum.unit();
        let radius = area[bin(far[n])] / (site.tube / bins as f64) / std::f64::consts::TAU;
        placed.push((node, site.at - site.out * far[n] + aside[n] * radius));
    }
    placed
}

/// All nodes between the rims and the tips of a seat: each in the middle of its neighbours.
pub(super) fn laid(net: &Net, seat: &Seat) -> Vec<Point> {
    let mut far: Vec<Vec<f64>> = net.rims.iter().map(|rim| net.distances(rim)).collect();
    far.extend(seat.tips.iter().map(|(node, _)| net.distances(&[*node])));
    let mut at = vec![Point::default(); net.len()];
    let mut fixed = vec![false; net.len()];
    let mut nearest = vec![(f64::INFINITY, Point::default()); net.len()];
    let mut hold = |node: u32, to: Point, at: &mut Vec<Point>| {
        at[node as usize] = to;
        fixed[node as usize] = true;
    };
    for n in 0..seat.rims.len() {
        let ring = ring(net, &far, seat, n);
        for (node, to) in net.rims[n].iter().zip(&ring) {
            hold(*node, *to, &mut at);
        }
        let nearest = |node: usize| (0..seat.rims.len()).all(|m| far[n][node] <= far[m][node]);
        for (node, to) in behind(net, n, &seat.rims[n], &ring, &far[n]) {
            if nearest(node as usize) {
                hold(node, to, &mut at);
            }
        }
    }
    for (node, to) in &seat.tips {
        hold(*node, *to, &mut at);
    }
    let whole = seat.rims.iter().map(|site| site.at).chain(seat.tips.iter().map(|tip| tip.1));
    for (m, place) in whole.enumerate() {
        for (n, nearest) in nearest.iter_mut().enumerate() {
            if far[m][n] < nearest.0 {
                *nearest = (far[m][n], place);
            }
        }
    }
    for n in 0..net.len() {
        if !fixed[n] {
            at[n] = nearest[n].1;
        }
    }
    let neighbours = net.neighbours();
    for _ in 0..400 {
        for n in 0..net.len() {
            if !fixed[n] && !neighbours[n].is_empty() {
                let sum = neighbours[n]
                    .iter()
                    .fold(Point::default(), |sum, (o, _)| sum + at[*o as usize]);
                // Farther than the middle: it comes to rest the sooner.
                at[n] = at[n].lerp(sum * (1.0 / neighbours[n].len() as f64), 1.85);
            }
        }
    }
    at
}
