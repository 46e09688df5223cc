//! Shapes whose rest is known in closed form.

use super::*;

const W: f64 = 100.0 / 28.0;
const H: f64 = 2.5;

/// Cloth of so many rows and needles; closed to a tube where `round`.
fn sheet(rows: i32, wales: i32, round: bool) -> Net {
    let mut net = Net::default();
    let node = |row: i32, wale: i32| (row * wales + wale) as u32;
    for row in 0..rows {
        for wale in 0..wales {
            net.cells.push(Cell { piece: 0, row, wale, layer: 0 });
        }
    }
    let spring = |a, b, rest_mm, along| {
        let (tension, compression) = if along { (1.0, 0.3) } else { (0.25, 0.1) };
        Spring { a, b, rest_mm, tension, compression, along }
    };
    let diagonal = (W * W + H * H).sqrt();
    let last = if round { wales } else { wales - 1 };
    let next = |wale: i32| (wale + 1) % wales;
    for row in 0..rows {
        for wale in 0..wales {
            if wale < last {
                net.springs.push(spring(node(row, wale), node(row, next(wale)), W, true));
            }
            if row + 1 < rows {
                net.springs.push(spring(node(row, wale), node(row + 1, wale), H, true));
            }
            if row + 1 < rows && wale < last {
                let (a, b) = (node(row, wale), node(row, next(wale)));
                let (c, d) = (node(row + 1, next(wale)), node(row + 1, wale));
                net.springs.push(spring(a, c, diagonal, false));
                net.springs.push(spring(b, d, diagonal, false));
                net.faces.push([a, b, c]);
                net.faces.push([a, c, d]);
            }
            if row > 0 && row + 1 < rows {
                let nodes = [node(row - 1, wale), node(row, wale), node(row + 1, wale)];
                net.bends.push(Bend { nodes, stiffness: 0.02 });
            }
            if round || (wale > 0 && wale + 1 < wales) {
                let before = (wale + wales - 1) % wales;
                let nodes = [node(row, before), node(row, wale), node(row, next(wale))];
                net.bends.push(Bend { nodes, stiffness: 0.02 });
            }
        }
    }
    net
}

fn at_rest(net: &Net, setting: &Setting) -> Relaxed {
    settle(net, setting)
}

fn girth(at: &[Point], row: i32, wales: i32) -> f64 {
    let node = |wale: i32| at[(row * wales + wale % wales) as usize];
    (0..wales).map(|wale| (node(wale + 1) - node(wale)).length()).sum()
}

#[test]
fn a_flat_piece_stays_flat_and_as_large_as_its_gauge() {
    let net = sheet(40, 28, false);
    let at = at_rest(&net, &Setting { steps: 3000, still_mm: 1e-5, ..Setting::default() }).at;
    let wide = (at[20 * 28 + 27] - at[20 * 28]).length();
    let tall = (at[39 * 28 + 14] - at[14]).length();
    println!("{wide} of {}, {tall} of {}", 27.0 * W, 39.0 * H);
    assert!((wide / (27.0 * W) - 1.0).abs() < 0.005, "{wide}");
    assert!((tall / (39.0 * H) - 1.0).abs() < 0.005, "{tall}");
}

#[test]
fn tubes_have_the_girth_of_their_stitches() {
    for wales in [40, 80] {
        let net = sheet(60, wales, true);
        let setting =
            Setting { pressure: 0.0001, steps: 3000, still_mm: 1e-4, ..Setting::default() };
        let rested = at_rest(&net, &setting);
        let there = girth(&rested.at, 30, wales);
        println!("{wales}: {there} of {} in {} steps", f64::from(wales) * W, rested.steps);
        assert!((there / (f64::from(wales) * W) - 1.0).abs() < 0.005, "{there}");
    }
}

#[test]
fn energy_never_rises_and_the_same_net_gives_the_same_bytes() {
    let net = sheet(40, 40, true);
    let setting = Setting { pressure: 0.0002, ..Setting::default() };
    let (one, two) = (at_rest(&net, &setting), at_rest(&net, &setting));
    assert_eq!(one, two);
    assert!(one.energy.windows(2).all(|pair| pair[1] <= pair[0]));
    assert!(one.energy.len() > 20);
}

#[test]
fn a_coarser_net_is_as_large_as_the_cloth() {
    let net = sheet(60, 81, true);
    let coarse = net.coarser(3).net;
    assert_eq!(coarse.len(), 20 * 27);
    let along = |rows: bool| {
        let of = |s: &&Spring| {
            let (a, b) = (coarse.cells[s.a as usize], coarse.cells[s.b as usize]);
            s.along && (a.row != b.row) == rows
        };
        let own: Vec<f64> = coarse.springs.iter().filter(of).map(|s| s.rest_mm).collect();
        own.iter().sum::<f64>() / own.len() as f64
    };
    assert!((along(false) - 3.0 * W).abs() < 1e-9, "{}", along(false));
    assert!((along(true) - 3.0 * H).abs() < 1e-9, "{}", along(true));
}

/// `wedges` wedges of short rows about one point, each of so many rows at its rim, sewn round.
fn cone(rim: i32, rings: i32) -> Net {
    // Rings of ever fewer stitches would be another cloth: here each ring has the rim's, ever shorter.
    let mut net = sheet(rings, rim, true);
    let length = |row: i32| f64::from(rings - row) * H * 0.8;
    for spring in &mut net.springs {
        let (a, b) = (net.cells[spring.a as usize], net.cells[spring.b as usize]);
        let arc = |row: i32| 2.0 * std::f64::consts::PI * length(row) / f64::from(rim);
        let mean = (arc(a.row) + arc(b.row)) / 2.0;
        spring.rest_mm = match (a.row == b.row, spring.along) {
            (true, _) => mean,
            (false, true) => H,
            (false, false) => (mean * mean + H * H).sqrt(),
        };
    }
    net
}

#[test]
fn a_cone_has_the_rim_that_its_rows_make() {
    // Each ring is 0.8 of the girth of a flat disc: a cone whose radius is 0.8 of its slant.
    let (rim, rings) = (60, 24);
    let net = cone(rim, rings);
    let setting = Setting { steps: 3000, still_mm: 1e-4, ..Setting::default() };
    let rested = at_rest(&net, &setting);
    let at = &rested.at;
    let middle = (0..rim).fold(Point::default(), |sum, wale| sum + at[wale as usize]);
    let middle = middle * (1.0 / f64::from(rim));
    let radius = (0..rim).map(|w| (at[w as usize] - middle).length()).sum::<f64>() / f64::from(rim);
    let expected = f64::from(rings) * H * 0.8;
    println!("rim {radius} of {expected} in {} steps", rested.steps);
    assert!((radius / expected - 1.0).abs() < 0.03, "{radius} of {expected}");
}

#[test]
fn cloth_on_a_form_lies_outside_it() {
    let net = sheet(40, 44, true);
    let girth_mm = 44.0 * W;
    let radius = girth_mm / (2.0 * std::f64::consts::PI) * 1.1;
    let limb = Solid::Limb {
        from: Point::new(0.0, -200.0, 0.0),
        to: Point::new(0.0, 200.0, 0.0),
        radii: (radius, radius),
        flat: 1.0,
    };
    let form = Form { solids: vec![limb] };
    // Begun about it, as it would be drawn on.
    let at = net.cells.iter().map(|cell| {
        let angle = f64::from(cell.wale) / 44.0 * 2.0 * std::f64::consts::PI;
        Point::new(angle.cos() * radius, f64::from(cell.row) * H, angle.sin() * radius)
    });
    let setting = Setting { form: Some(&form), steps: 1500, ..Setting::default() };
    let at = relax(&net, at.collect(), &setting).at;
    let there = girth(&at, 20, 44);
    println!("{there} about {}", girth_mm * 1.1);
    assert!((there / (girth_mm * 1.1) - 1.0).abs() < 0.03, "{there}");
}

#[test]
fn cloth_does_not_go_through_itself() {
    // A tube pressed flat, its front begun behind its back.
    let (rows, wales) = (20, 40);
    let net = sheet(rows, wales, true);
    let at: Vec<Point> = net
        .cells
        .iter()
        .map(|cell| {
            let behind = cell.wale >= wales / 2;
            let along = if behind { wales - cell.wale } else { cell.wale };
            let out = f64::from(along.min(wales / 2 - along)) * 0.02;
            let z = if behind { -out } else { out };
            Point::new(f64::from(along) * W, f64::from(cell.row) * H, z)
        })
        .collect();
    let thin = relax(&net, at.clone(), &Setting { steps: 400, ..Setting::default() }).at;
    let thick = Setting { thick_mm: Some(2.0), steps: 400, ..Setting::default() };
    let thick = relax(&net, at, &thick).at;
    let apart = |at: &[Point]| {
        let between = |wale: i32| {
            let (front, back) = (10 * wales + wale, 10 * wales + wales - wale);
            (at[front as usize] - at[back as usize]).length()
        };
        (5..wales / 2 - 5).map(between).fold(f64::INFINITY, f64::min)
    };
    println!("apart {} and {}", apart(&thin), apart(&thick));
    assert!(apart(&thick) > 1.6, "{}", apart(&thick));
    assert!(apart(&thin) < apart(&thick));
}
