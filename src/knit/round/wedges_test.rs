//! Wedges of short rows about a point, from the bed to rest: cones and half discs in closed form.
//!
//! A wedge has two rows on the stitch beside the point and two more on each that lies farther out, so that the
//! rows on the stitch `n` lie on a circle of radius `n` widths: `k` wedges make the sector of `2 k h / w`.

use super::net::Cloth;
use super::*;
use crate::bed;
use crate::graph::{Graph, Surface};
use crate::machine::Machine;
use crate::needle::Side;
use crate::program::{Action, CastOnMethod, Piece, Program, Step, Structure, Which};

/// Stitches from the point to the rim.
const NEEDLES: u32 = 20;
/// Stitch width.
const WIDE: f64 = 4.0;

/// So many wedges, a row `high` high; the last row grafted to the first where `closed`.
fn wedges(count: u32, high: f64, closed: bool) -> Net {
    let steps = |actions: Vec<Action>| -> Vec<Step> {
        actions.into_iter().zip(1..).map(|(action, line)| Step { line, action }).collect()
    };
    let shorter = vec![
        Action::Hold(Which::AtSide(Side::Left, 1)),
        Action::Knit { rows: 1 },
        Action::Wrap,
        Action::Knit { rows: 1 },
    ];
    // The row that was cast on is the first row of the round.
    let wedge = |rows: u32| {
        vec![
            Action::Repeat { times: NEEDLES - 1, steps: steps(shorter.clone()) },
            Action::Return(Which::All),
            Action::Knit { rows },
        ]
    };
    let span = format!("L{}-R{}", NEEDLES / 2, NEEDLES / 2).parse().expect("a span");
    let (method, edge, end) = if closed {
        let end = Action::ScrapOff { edge: "head".into(), which: Which::All };
        (CastOnMethod::Waste, Some("foot".into()), end)
    } else {
        (CastOnMethod::Wound, None, Action::CastOff { which: Which::All })
    };
    let mut all = vec![
        Action::CastOn { span, structure: Structure::Plain, method, edge },
        Action::Repeat { times: count - 1, steps: steps(wedge(2)) },
    ];
    all.extend(wedge(if closed { 1 } else { 2 }));
    all.push(end);
    let piece =
        Piece { name: "p".into(), title: "p".into(), section: "yarn".into(), steps: steps(all) };
    let graft = Action::Graft { first: "head".into(), second: "foot".into() };
    let finishing = if closed { steps(vec![graft]) } else { Vec::new() };
    let program = Program { pieces: vec![piece], finishing, ..Program::default() };
    let run = bed::run(&program, &Machine::new("test", "Test bed", 4.5, 200, true));
    let graph = Graph::of(&program, &run).expect("drawn");
    let surface = Surface::of(&graph);
    Net::made(&graph, &surface, 0, &|_| StitchSize { wide: WIDE, high }, Cloth::HANGING).0
}

fn at_rest(net: &Net) -> Vec<Point> {
    settle(net, &Setting { steps: 4000, still_mm: 1e-5, ..Setting::default() }).at
}

fn middle(points: &[Point]) -> Point {
    points.iter().fold(Point::default(), |sum, p| sum + *p) * (1.0 / points.len() as f64)
}

/// The nodes of a wale in the order in which they were made.
fn wale(net: &Net, at: &[Point], wale: i32) -> Vec<Point> {
    let own = net.cells.iter().zip(at).filter(|(cell, _)| cell.wale == wale);
    own.map(|(_, point)| *point).collect()
}

fn outermost(net: &Net) -> i32 {
    net.cells.iter().map(|cell| cell.wale).max().unwrap_or_default()
}

/// Laid out as the cone of closed form: the radius of each stitch over its way from the point.
fn laid_as_cone(net: &Net, share: f64) -> Vec<Point> {
    let first = outermost(net) - NEEDLES as i32 + 1;
    let steep = (1.0 - share * share).sqrt();
    let rows = |wale: i32| net.cells.iter().filter(|cell| cell.wale == wale).count() as f64;
    let mut met = std::collections::BTreeMap::<i32, f64>::new();
    let place = |cell: &Cell| {
        let nth = met.entry(cell.wale).or_default();
        let angle = *nth / rows(cell.wale) * std::f64::consts::TAU;
        *nth += 1.0;
        let way = f64::from(cell.wale - first + 1) * WIDE;
        Point::new(share * way * angle.cos(), steep * way, share * way * angle.sin())
    };
    net.cells.iter().map(place).collect()
}

/// Mean radius of the rim.
fn rim_radius(net: &Net, at: &[Point]) -> f64 {
    let rim = wale(net, at, outermost(net));
    let centre = middle(&rim);
    rim.iter().map(|p| (*p - centre).length()).sum::<f64>() / rim.len() as f64
}

#[test]
fn wedges_of_short_rows_make_the_cone_that_their_rows_tell() {
    let high = WIDE / 2.0;
    for count in 2..=6 {
        let net = wedges(count, high, true);
        let share = f64::from(count) * 2.0 * high / WIDE / std::f64::consts::TAU;
        let expected = share * f64::from(NEEDLES) * WIDE;
        let setting = Setting { steps: 2000, still_mm: 1e-4, ..Setting::default() };
        let laid = relax(&net, laid_as_cone(&net, share), &setting);
        assert!(laid.energy.windows(2).all(|pair| pair[1] <= pair[0]), "{count} wedges");
        let (kept, found) = (rim_radius(&net, &laid.at), rim_radius(&net, &at_rest(&net)));
        println!("{count} wedges: a rim of {kept:.1} and {found:.1}, {expected:.1} by its rows");
        // The rows of a wedge lean a little, and its line is a shallow fold.
        assert!((kept / expected - 1.0).abs() < 0.06, "{count}: {kept} of {expected}");
        // From nothing the folds are deeper.
        assert!((found / expected - 1.0).abs() < 0.15, "{count}: {found} of {expected}");
    }
}

#[test]
fn a_half_circle_of_wedges_is_half_a_disc() {
    let high = WIDE * std::f64::consts::PI / 6.0;
    let net = wedges(3, high, false);
    let (_, at) = super::dress::dressed(&net, 1, &Stance::default());
    let rim = wale(&net, &at, outermost(&net));
    let origin = (rim[0] + rim[rim.len() - 1]) * 0.5;
    let radius = rim.iter().map(|p| (*p - origin).length()).sum::<f64>() / rim.len() as f64;
    let wanted = f64::from(NEEDLES) * WIDE;
    assert!((radius / wanted - 1.0).abs() < 0.04, "{radius} of {wanted}");
    let corners = |face: &[u32; 3]| face.map(|node| at[node as usize]);
    let square = |[a, b, c]: [Point; 3]| 0.5 * (b - a).cross(c - a).length();
    let area: f64 = net.faces.iter().map(|face| square(corners(face))).sum();
    let disc = std::f64::consts::FRAC_PI_2 * (wanted * wanted - WIDE * WIDE);
    println!("radius {radius:.1} of {wanted:.1}, area {area:.0} of {disc:.0}");
    assert!((area / disc - 1.0).abs() < 0.06, "{area} of {disc}");
}
