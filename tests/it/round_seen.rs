//! A garment in the round as it is seen: as a still, as a solid, packed for a page.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use ::units::LengthUnit;
use app::{Colouring, InTheRound, RoundSizes, YarnRequest};
use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use knit::colours::{Colour, Shade};
use knit::round::{Detail, Form, Point, Pose, Shape, ShapePart, Solid};
use knit::size_run::SizeRun;
use knit::thread::Palette;
use report::YarnPlace;
use report::drawing::{InRound, RoundSheet, Shown, Side};

use crate::server::{Server, request};
use crate::support::{demo, grade};

/// A tube of two colours, the half towards larger z of the first, its axis upright; half as wide where
/// it ends.
fn tube() -> (Shape, Vec<Vec<Option<u16>>>) {
    let (round, tall) = (40u32, 30u32);
    let mut part = ShapePart {
        at: Vec::new(),
        loops: Vec::new(),
        faces: Vec::new(),
        stretch: Vec::new(),
        along_row: Vec::new(),
        along_wale: Vec::new(),
        form: None,
    };
    let mut paints = Vec::new();
    for row in 0..=tall {
        for n in 0..round {
            let angle = (f64::from(n) + 0.5) / f64::from(round) * std::f64::consts::TAU;
            let (x, z) = (angle.cos() * 50.0, angle.sin() * 50.0);
            part.at.push(Point::new(x, f64::from(row) * 4.0, z));
            part.loops.push(part.loops.len() as u32);
            part.stretch.push(if z > 0.0 { 0.2 } else { -0.2 });
            paints.push(Some(u16::from(z < 0.0)));
        }
    }
    let node = |row: u32, n: u32| row * round + n % round;
    for row in 0..tall {
        for n in 0..round {
            let (a, b) = (node(row, n), node(row, n + 1));
            let (c, d) = (node(row + 1, n + 1), node(row + 1, n));
            // Angles grow from x towards z: seen from outside to the left.
            part.faces.extend([[b, a, d], [b, d, c]]);
        }
    }
    (Shape { parts: vec![part] }, vec![paints])
}

fn palette() -> Palette {
    let colour = |name: &str, rgb: [u8; 3]| Colour {
        name: name.to_owned(),
        shade: Shade { red: rgb[0], green: rgb[1], blue: rgb[2] },
    };
    Palette { colours: vec![colour("lamp", [220, 40, 40]), colour("sea", [40, 40, 220])] }
}

fn still(shape: &Shape, paints: &[Vec<Option<u16>>], from: Side, shown: Shown) -> String {
    let palette = palette();
    let sizes = vec![InRound { label: "One", shape, paints, palette: &palette, told: &[] }];
    let sheet =
        RoundSheet { title: "Tube", sizes, from, pose: Pose::Off, shown, unit: LengthUnit::Cm };
    sheet.drawing().svg()
}

/// Fills of all that is drawn of the cloth itself.
fn fills(svg: &str) -> Vec<Shade> {
    let document = roxmltree::Document::parse(svg).expect("well formed");
    let cloth = document.descendants().filter(|n| n.attribute("class") == Some("in-the-round"));
    let paths = cloth.flat_map(|group| group.descendants().filter(|n| n.has_tag_name("path")));
    paths.filter_map(|n| n.attribute("fill")?.parse().ok()).collect()
}

#[test]
fn the_far_side_of_a_tube_is_hidden() {
    let (shape, paints) = tube();
    let reddish = |shade: &Shade| shade.red > shade.blue;
    let front = fills(&still(&shape, &paints, Side::Front, Shown::Yarn));
    // From a little above one looks into it: its inside is of the far colour, on top alone.
    assert!(front.iter().filter(|shade| reddish(shade)).count() > 3, "{front:?}");
    let areas = |from: Side| {
        let picture = pixels(&still(&shape, &paints, from, Shown::Yarn));
        let count = |of: fn(&[u8; 4]) -> bool| picture.iter().filter(|p| of(p)).count();
        (count(|p| p[0] > 100 && p[2] < 60), count(|p| p[2] > 100 && p[0] < 60))
    };
    let ((lamp, sea), (lamp_behind, sea_behind)) = (areas(Side::Front), areas(Side::Back));
    assert!(lamp > 10 * sea, "{lamp} {sea}");
    assert!(sea_behind > 10 * lamp_behind, "{lamp_behind} {sea_behind}");
    let (lamp, sea) = areas(Side::Left);
    assert!(lamp > sea / 3 && sea > lamp / 3, "{lamp} {sea}");
}

/// The picture, point by point.
fn pixels(svg: &str) -> Vec<[u8; 4]> {
    use resvg::{tiny_skia, usvg};
    let tree = usvg::Tree::from_str(svg, &usvg::Options::default()).expect("a picture");
    let size = tree.size().to_int_size();
    let mut map = tiny_skia::Pixmap::new(size.width(), size.height()).expect("room");
    resvg::render(&tree, tiny_skia::Transform::default(), &mut map.as_mut());
    map.pixels().iter().map(|p| [p.red(), p.green(), p.blue(), p.alpha()]).collect()
}

#[test]
fn what_lies_in_cloth_is_hidden_by_it() {
    let (mut shape, paints) = tube();
    let bare = still(&shape, &paints, Side::Front, Shown::Yarn);
    let ball = |radius: f64| Form {
        solids: vec![Solid::Ball {
            middle: Point::new(0.0, 60.0, 0.0),
            radii: Point::new(radius, radius, radius),
        }],
    };
    shape.parts[0].form = Some(ball(30.0));
    assert_eq!(fills(&bare), fills(&still(&shape, &paints, Side::Front, Shown::Yarn)));
    // One that stands out on all sides is seen.
    shape.parts[0].form = Some(ball(80.0));
    let form = fills(&still(&shape, &paints, Side::Front, Shown::Yarn));
    let greyish = |shade: &&Shade| shade.red.abs_diff(shade.blue) < 30 && shade.red > 150;
    assert!(form.iter().filter(greyish).count() >= 3, "{form:?}");
}

#[test]
fn stretch_is_told_in_shades_and_in_words() {
    let (shape, paints) = tube();
    let svg = still(&shape, &paints, Side::Front, Shown::Stretch);
    let luminance: Vec<f64> = fills(&svg).iter().map(|shade| shade.luminance()).collect();
    assert!(luminance.iter().filter(|light| **light < 0.1).count() >= 2, "{luminance:?}");
    let document = roxmltree::Document::parse(&svg).expect("well formed");
    let about = document.descendants().find(|n| n.has_tag_name("desc")).and_then(|n| n.text());
    let about = about.expect("words");
    for words in ["50 % of the cloth: stretched more than 15 %", "15 % to spare", "not a promise"] {
        assert!(about.contains(words), "{about}");
    }
}

fn run_of(garment: &str, sizes: &str) -> SizeRun {
    grade(garment, "standard", &demo("standard"), sizes, &[]).expect("a run")
}

/// A mitten of the smallest, coarse: the quickest pair.
fn mittens() -> &'static RoundSizes {
    static MITTENS: OnceLock<RoundSizes> = OnceLock::new();
    MITTENS.get_or_init(|| {
        let run = run_of("mitten", "y7-8");
        let colouring = Colouring::read(&YarnRequest::default(), &run).expect("colours");
        RoundSizes::of(&run, &colouring, (Pose::Worn, Detail::Coarse)).expect("drawn")
    })
}

#[test]
fn a_pair_in_its_colours_is_small_and_the_same_each_time() {
    let sheet = mittens().sheet((Side::ThreeQuarters, Shown::Yarn), LengthUnit::Cm);
    let svg = sheet.drawing().svg();
    assert_eq!(svg, sheet.drawing().svg());
    assert!(svg.len() < 150_000, "{}", svg.len());
    let document = roxmltree::Document::parse(&svg).expect("well formed");
    let of = |class: &str| {
        let own = document.descendants().filter(|n| n.attribute("class") == Some(class));
        own.collect::<Vec<_>>()
    };
    assert_eq!(of("in-the-round").len(), 2, "one for each hand");
    let legend: BTreeSet<Shade> =
        of("colour").iter().filter_map(|n| n.attribute("fill")?.parse().ok()).collect();
    let round = mittens().first().expect("a size");
    let each = mittens().each();
    let worn: BTreeSet<Shade> = round
        .paints
        .iter()
        .flatten()
        .flatten()
        .map(|paint| each[0].palette.colours[usize::from(*paint)].shade)
        .collect();
    assert!(worn.len() > 2, "stripes: {worn:?}");
    assert_eq!(legend, worn);
    assert!(sheet.lines()[1].starts_with("Seen from the front"), "{:?}", sheet.lines());
}

#[test]
fn each_detail_and_side_draws_all_that_can_be_seen() {
    for side in Side::ALL {
        let sheet = mittens().sheet((side, Shown::Yarn), LengthUnit::In);
        assert!(fills(&sheet.drawing().svg()).len() > 10, "{side:?}");
    }
}

#[test]
fn the_solid_is_read_by_others_as_it_was_written() {
    let bytes = report::round_glb("Mittens", &mittens().each());
    let read = gltf::Gltf::from_slice(&bytes).expect("a valid file");
    let blob = read.blob.clone().expect("its bytes");
    let parts = &mittens().first().expect("a size").shape.parts;
    let cloth: Vec<_> =
        read.nodes().filter(|n| !n.name().unwrap_or_default().contains("lies on")).collect();
    assert_eq!(cloth.len(), parts.len());
    let forms = parts.iter().filter(|part| part.form.is_some()).count();
    assert_eq!(read.nodes().count(), parts.len() + forms);
    for (node, part) in cloth.iter().zip(parts) {
        let mesh = node.mesh().expect("a mesh");
        let primitive = mesh.primitives().next().expect("triangles");
        let reader = primitive.reader(|_| Some(&blob));
        let at: Vec<[f32; 3]> = reader.read_positions().expect("places").collect();
        assert_eq!(at.len(), part.at.len());
        let corners: Vec<u32> = reader.read_indices().expect("triangles").into_u32().collect();
        assert_eq!(corners, part.faces.concat());
        for (metres, point) in at.iter().zip(&part.at) {
            let off = (f64::from(metres[1]) * 1000.0 - point.y).abs();
            assert!(off < 0.001, "{metres:?} {point:?}");
        }
        for normal in reader.read_normals().expect("normals") {
            let long: f32 = normal.iter().map(|part| part * part).sum();
            assert!((long - 1.0).abs() < 1e-3, "{normal:?}");
        }
        let colours = reader.read_colors(0).expect("colours").into_rgba_u8();
        assert!(colours.collect::<BTreeSet<_>>().len() > 2);
    }
    let asset = &read.document.as_json().asset;
    assert!(asset.generator.as_deref().is_some_and(|by| by.starts_with("oddments ")));
    assert!(asset.extras.as_ref().is_some_and(|words| words.get().contains("not a promise")));
}

/// Reads what is packed, by the layout in the README of `report` alone.
struct Unpacked<'b>(&'b [u8]);

struct Part {
    at: Vec<[f64; 3]>,
    faces: Vec<[i64; 3]>,
    paints: Vec<Option<u16>>,
    places: Vec<YarnPlace>,
    stretch: Vec<i8>,
    form: (Vec<[f64; 3]>, Vec<[i64; 3]>),
}

impl Unpacked<'_> {
    fn take(&mut self, count: usize) -> &[u8] {
        let (own, rest) = self.0.split_at(count);
        self.0 = rest;
        own
    }

    fn float(&mut self) -> f64 {
        f64::from(f32::from_le_bytes(self.take(4).try_into().expect("four bytes")))
    }

    fn number(&mut self) -> u64 {
        let (mut number, mut shift) = (0, 0);
        loop {
            let byte = self.take(1)[0];
            number |= u64::from(byte & 0x7f) << shift;
            shift += 7;
            if byte & 0x80 == 0 {
                return number;
            }
        }
    }

    fn signed(&mut self) -> i64 {
        let number = self.number();
        (number >> 1) as i64 ^ -((number & 1) as i64)
    }

    fn sums(&mut self, count: usize) -> Vec<i64> {
        let mut sum = 0;
        (0..count)
            .map(|_| {
                sum += self.signed();
                sum
            })
            .collect()
    }

    fn marks(&mut self, count: usize) -> Vec<Option<u16>> {
        (0..count).map(|_| self.number().checked_sub(1).map(|mark| mark as u16)).collect()
    }

    fn mesh(&mut self, step: f64, low: [f64; 3]) -> (Vec<[f64; 3]>, Vec<[i64; 3]>) {
        let (points, count) = (self.number() as usize, self.number() as usize);
        let axes: Vec<Vec<i64>> = (0..3).map(|_| self.sums(points)).collect();
        let at = (0..points)
            .map(|n| [0, 1, 2].map(|axis: usize| low[axis] + axes[axis][n] as f64 * step))
            .collect();
        let mut faces: Vec<[i64; 3]> = Vec::new();
        for n in 0..count {
            let before = if n < 2 { [0; 3] } else { faces[n - 2] };
            faces.push(before.map(|corner| corner + self.signed()));
        }
        (at, faces)
    }

    /// Palette, yarn of each section, step, and the parts.
    fn whole(mut self) -> (Vec<[u8; 3]>, Vec<f64>, f64, Vec<Part>) {
        assert_eq!(self.take(4), b"RND1");
        let [colours, sections, parts] = [0; 3].map(|_: i32| self.number() as usize);
        let step = self.float();
        let low = [0; 3].map(|_: i32| self.float());
        let palette = (0..colours).map(|_| self.take(3).try_into().expect("a shade")).collect();
        let used = (0..sections).map(|_| self.float()).collect();
        let mut all = Vec::new();
        for _ in 0..parts {
            let (at, faces) = self.mesh(step, low);
            let paints = self.marks(at.len());
            let sections = self.marks(at.len());
            let along = self.sums(at.len());
            let places = sections.iter().zip(along).map(|(section, mm)| YarnPlace {
                section: section.expect("a section"),
                mm: mm as f64,
            });
            let places = places.collect();
            let stretch = self.take(at.len()).iter().map(|byte| *byte as i8).collect();
            let form = self.mesh(step, low);
            all.push(Part { at, faces, paints, places, stretch, form });
        }
        assert!(self.0.is_empty(), "{} bytes are left", self.0.len());
        (palette, used, step, all)
    }
}

#[test]
fn what_is_packed_is_the_shape_within_half_a_step() {
    let packed = mittens().packed().expect("a size");
    assert_eq!(packed, mittens().packed().expect("a size"));
    let round: &InTheRound = mittens().first().expect("a size");
    let (palette, used, step, parts) = Unpacked(&packed).whole();
    let each = mittens().each();
    let shades = each[0].palette.colours.iter().map(|colour| colour.shade);
    assert_eq!(palette, shades.map(|s| [s.red, s.green, s.blue]).collect::<Vec<_>>());
    assert_eq!(parts.len(), round.shape.parts.len());
    assert!(step < 0.3, "{step}");
    for (nth, (part, own)) in parts.iter().zip(&round.shape.parts).enumerate() {
        assert_eq!(part.at.len(), own.at.len());
        for (at, point) in part.at.iter().zip(&own.at) {
            let off = [at[0] - point.x, at[1] - point.y, at[2] - point.z];
            assert!(off.iter().all(|mm| mm.abs() <= step * 0.51), "{at:?} {point:?}");
        }
        let faces = own.faces.iter().map(|face| face.map(i64::from)).collect::<Vec<_>>();
        assert_eq!(part.faces, faces);
        assert_eq!(part.paints, round.paints[nth]);
        assert_eq!(part.form.0.is_empty(), own.form.is_none());
        assert!(part.form.1.iter().flatten().all(|n| (*n as usize) < part.form.0.len()));
        for (place, own) in part.places.iter().zip(&round.places[nth]) {
            assert_eq!(place.section, own.section);
            assert!((place.mm - own.mm).abs() <= 0.5, "{place:?} {own:?}");
            assert!(place.mm <= used[usize::from(place.section)] + 1.0, "{place:?} {used:?}");
        }
        for (percent, share) in part.stretch.iter().zip(&own.stretch) {
            let told = f32::from(*percent);
            assert!((told - (share * 100.0).clamp(-127.0, 127.0)).abs() <= 0.51, "{told} {share}");
        }
    }
}

#[test]
fn a_place_along_the_yarn_tells_its_colour() {
    let run = run_of("mitten", "y7-8");
    let (_, made) = run.good().next().expect("it can be knitted");
    let colouring = Colouring::read(&YarnRequest::default(), &run).expect("colours");
    let coloured = colouring.apply(&run, made).coloured;
    let round = mittens().first().expect("a size");
    let (mut alike, mut all) = (0, 0);
    for (paints, places) in round.paints.iter().zip(&round.places) {
        for (paint, place) in paints.iter().zip(places) {
            all += 1;
            alike += i32::from(coloured.lines[usize::from(place.section)].at(place.mm) == *paint);
        }
    }
    assert!(f64::from(alike) > 0.9 * f64::from(all), "{alike} of {all}");
}

#[test]
fn the_packed_shape_is_served_with_a_tag_and_deflated_for_who_takes_it() {
    let server = Server::new();
    let path = "/api/v1/garments/mitten/round?sizes=y7-8&detail=coarse&pose=worn";
    let whole = server.get(path);
    assert_eq!(whole.status, StatusCode::OK, "{}", String::from_utf8_lossy(&whole.bytes));
    assert_eq!(whole.header(header::CONTENT_TYPE), "application/octet-stream");
    assert_eq!(whole.bytes, mittens().packed().expect("a size"));
    let asked = |name, value: &str| {
        let asked = request(Method::GET, path).header(name, value);
        server.send(asked.body(Body::empty()).expect("a request"))
    };
    let known = asked(header::IF_NONE_MATCH, whole.header(header::ETAG));
    assert_eq!(known.status, StatusCode::NOT_MODIFIED);
    let less = asked(header::ACCEPT_ENCODING, "gzip, deflate;q=0.5");
    assert_eq!(less.header(header::CONTENT_ENCODING), "deflate");
    assert!(less.bytes.len() < whole.bytes.len() / 2 + 20_000, "{}", less.bytes.len());
    let opened = miniz_oxide::inflate::decompress_to_vec_zlib(&less.bytes).expect("deflated");
    assert_eq!(opened, whole.bytes);
    let plain = asked(header::ACCEPT_ENCODING, "gzip, deflate;q=0");
    assert!(!plain.headers.contains_key(header::CONTENT_ENCODING));
    println!("{} bytes, {} deflated", whole.bytes.len(), less.bytes.len());
}

#[test]
fn words_that_mean_nothing_are_refused() {
    let server = Server::new();
    let status = |query: &str| server.get(&format!("/api/v1/garments/{query}")).status;
    assert_eq!(status("tma/round?sizes=y4"), StatusCode::NOT_FOUND);
    for wrong in ["pose=hung", "detail=fine", "sizes=y4,y5-6", "turn=left"] {
        let status = status(&format!("cuff/round?{wrong}"));
        assert!(status.is_client_error(), "{wrong}: {status}");
    }
}
