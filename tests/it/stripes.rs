//! How the stripes fall, checked from outside: the SVG is parsed again, its areas are measured and
//! held against stitches and gauge; the legend's words against the yarn needed; pairs against each
//! other, stitch by stitch.

use std::collections::BTreeMap;

use app::{ColouredSize, Colouring, YarnRequest, only_size};
use knit::cloth::Cloth;
use knit::colouring::{Coloured, Feed, piece_starts};
use knit::colours::{Colour, ColourSequence};
use knit::look::{boldness, unevenness};
use knit::size_run::{Made, SizeRun};
use knit::thread::{Ball, Supply};
use knit::view::{Form, check};
use report::ColourNote;
use report::drawing::{StripesSheet, contact_sheet, stripes};
use resvg::usvg;
use units::LengthUnit;

use crate::support::{bench, demo, grade, oddments};

fn families() -> Vec<(String, SizeRun)> {
    let ids = bench().garment_ids();
    ids.into_iter()
        .map(|id| {
            let size = if matches!(&*id, "bootee" | "helmet") { "m6-12" } else { "women-m" };
            let run = grade(&id, "standard", &demo("standard"), size, &[]).expect("a run");
            (id, run)
        })
        .collect()
}

fn coloured(run: &SizeRun, request: &YarnRequest) -> ColouredSize {
    let (_, made) = only_size(run).expect("one size");
    Colouring::read(request, run).expect("a sound request").apply(run, made)
}

/// The sentences for the knitter.
fn said(size: &ColouredSize) -> Vec<String> {
    size.notes.iter().map(ColourNote::text).collect()
}

fn yarns(yarns: &[&str]) -> YarnRequest {
    YarnRequest { yarns: yarns.iter().map(|y| (*y).to_owned()).collect(), ..Default::default() }
}

fn sheet<'a>(run: &'a SizeRun, coloured: &'a Coloured, notes: Vec<String>) -> StripesSheet<'a> {
    let (size, made) = only_size(run).expect("one size");
    StripesSheet {
        title: format!("{}, {}", run.garment.title, size.body.label),
        views: &made.garment.views,
        run: &made.graded.run,
        swatches: &run.swatches,
        coloured,
        sections: made.graded.run.sections.iter().map(|s| s.name.clone()).collect(),
        notes,
    }
}

fn svg(run: &SizeRun, size: &ColouredSize) -> String {
    stripes(&sheet(run, &size.coloured, said(size)), LengthUnit::Cm).svg()
}

/// Area inside the subpaths of a path written as `M x y l dx dy ... Z`, in square units; each
/// subpath counts with its own sign dropped.
fn area_of(d: &str) -> f64 {
    let mut tree = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"9\" height=\"9\"><path d=\"",
    );
    tree.push_str(d);
    tree.push_str("\"/></svg>");
    let tree = usvg::Tree::from_str(&tree, &usvg::Options::default()).expect("a picture");
    let mut area = 0.0;
    for node in tree.root().children() {
        let usvg::Node::Path(path) = node else { continue };
        let mut ring: Vec<(f64, f64)> = Vec::new();
        for segment in path.data().segments() {
            use usvg::tiny_skia_path::PathSegment;
            match segment {
                PathSegment::MoveTo(p) => ring = vec![(f64::from(p.x), f64::from(p.y))],
                PathSegment::LineTo(p) => ring.push((f64::from(p.x), f64::from(p.y))),
                PathSegment::Close => {
                    let next = ring.iter().cycle().skip(1);
                    let twice: f64 =
                        ring.iter().zip(next).map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum();
                    area += twice.abs() / 2.0;
                }
                _ => panic!("only straight lines are drawn"),
            }
        }
    }
    area
}

/// Of the `nth` part of a view, the area of each fill in square millimetres of the garment.
fn part_areas(svg: &str, view: usize, nth: usize) -> BTreeMap<String, f64> {
    let document = roxmltree::Document::parse(svg).expect("well formed");
    let views: Vec<_> =
        document.descendants().filter(|n| n.attribute("class") == Some("view")).collect();
    let view = views[view];
    let scale: f64 = view.attribute("data-scale").expect("a scale").parse().expect("a number");
    let part = view
        .children()
        .filter(|n| n.attribute("class") == Some("part"))
        .nth(nth)
        .expect("there are so many parts");
    let mut areas = BTreeMap::new();
    for path in part.children().filter(|n| n.has_tag_name("path")) {
        let fill = path.attribute("fill").expect("a fill");
        if fill != "none" {
            let area = area_of(path.attribute("d").expect("data")) / scale.powi(2);
            *areas.entry(fill.to_owned()).or_insert(0.0) += area;
        }
    }
    areas
}

fn close(one: f64, other: f64, share: f64, what: &str) {
    assert!((one - other).abs() <= share * other.abs(), "{what}: {one} for {other}");
}

/// Every shipped garment says how it is worn, with pieces, needles and marks that the run has, and
/// its pairs name both mates alike.
#[test]
fn each_family_has_views_of_what_it_knits() {
    for (id, run) in families() {
        let (_, made) = only_size(&run).expect("knittable");
        let garment = &made.garment;
        assert!(!garment.views.is_empty(), "{id}");
        assert_eq!(check(&garment.views, &made.graded.run), [], "{id}");
        for view in &garment.views {
            assert!(!view.parts.is_empty() && !view.title.is_empty(), "{id}");
            for part in &view.parts {
                assert!(made.graded.run.piece(&part.patch.piece).is_some(), "{id}");
            }
        }
        let of = |mate| garment.mates.iter().filter(|m| **m == Some(mate)).count();
        if run.garment.pair {
            assert_eq!((of(1), of(2)), (garment.mates.len() / 2, garment.mates.len() / 2), "{id}");
        } else {
            assert_eq!((of(1), of(2)), (0, 0), "{id}");
        }
    }
}

/// Flat and tube parts without a turn: each colour's area is its stitches times stitch and row.
#[test]
fn areas_are_stitches_times_gauge() {
    let mut seen = 0;
    for (id, run) in families() {
        let size = coloured(&run, &yarns(&[]));
        let picture = svg(&run, &size);
        let (_, made) = only_size(&run).expect("knittable");
        let knit = &made.graded.run;
        let cloths = size.coloured.cloths(knit);
        for (v, view) in made.garment.views.iter().enumerate() {
            for (n, part) in view.parts.iter().enumerate() {
                let straight = match &part.form {
                    Form::Flat(_) | Form::Side(_) => true,
                    // The front of a bent tube slants, and is squeezed by it.
                    Form::Tube { .. } | Form::Rings(_) | Form::Band(_) => false,
                };
                if !straight || part.patch.share != (0.0, 1.0) {
                    continue;
                }
                let index =
                    knit.pieces.iter().position(|p| p.name == part.patch.piece).expect("there");
                let piece = &knit.pieces[index];
                let rows = part.patch.rows(piece);
                let mut wanted: BTreeMap<String, f64> = BTreeMap::new();
                let mut widths = BTreeMap::new();
                for column in part.patch.strand.columns(&cloths[index]) {
                    for (row, paint) in column.rows.iter().zip(&column.paints) {
                        if !rows.contains(row) {
                            continue;
                        }
                        let structure = piece.rows[*row as usize].structure.gauged_as();
                        let gauge = run.swatches.gauge(structure);
                        let paint = usize::from(paint.expect("enough yarn"));
                        let shade = size.coloured.palette.colours[paint].shade.to_string();
                        *wanted.entry(shade).or_default() +=
                            gauge.stitches.pitch_mm() * gauge.rows.pitch_mm();
                        widths.insert(structure, ());
                    }
                }
                if widths.len() != 1 {
                    continue;
                }
                let drawn = part_areas(&picture, v, n);
                let (whole, total): (f64, f64) = (drawn.values().sum(), wanted.values().sum());
                close(whole, total, 0.005, &format!("{id}, {}", view.title));
                for (shade, area) in &wanted {
                    let got = drawn.get(shade).copied().unwrap_or(0.0);
                    // A colour of a few stitches is a few hundredths of a millimetre on paper.
                    let slack = 0.005 * area + 0.001 * total;
                    assert!((got - area).abs() <= slack, "{id} {shade}: {got} for {area}");
                }
                seen += 1;
            }
        }
    }
    assert!(seen >= 15, "{seen} parts were looked at");
}

/// A tube that does not turn lies straight: seen from either side, a leg in one colour has the area of half
/// the stitches round it, wherever they are divided.
#[test]
fn a_tube_is_as_large_as_its_stitches_where_it_is_straight() {
    // Nothing bends where no turn follows within reach: the rib of a knee sock is far from the heel.
    let run =
        grade("sock", "standard", &demo("standard"), "women-m", &["leg=knee"]).expect("a run");
    let size = coloured(&run, &yarns(&["slate"]));
    let picture = svg(&run, &size);
    let (_, made) = only_size(&run).expect("knittable");
    let knit = &made.graded.run;
    let cloths = size.coloured.cloths(knit);
    let mut stitches = 0;
    let mut wanted = 0.0;
    for view in &made.garment.views {
        let part = &view.parts[0];
        let Form::Tube { front, .. } = &part.form else {
            panic!("the first part is the top's tube")
        };
        let piece = knit.piece(&part.patch.piece).expect("there");
        let index = knit.pieces.iter().position(|p| p.name == piece.name).expect("there");
        let rows = part.patch.rows(piece);
        let gauge = run.swatches.gauge(piece.rows[0].structure.gauged_as());
        for strand in [&part.patch.strand, front] {
            for column in strand.columns(&cloths[index]) {
                let own = column.rows.iter().filter(|r| rows.contains(r)).count();
                stitches += own;
                wanted += own as f64 * gauge.stitches.pitch_mm() * gauge.rows.pitch_mm();
            }
        }
    }
    assert_eq!(made.garment.views.len(), 2);
    assert!(stitches > 1000, "{stitches}");
    for side in 0..2 {
        let drawn: f64 = part_areas(&picture, side, 0).values().sum();
        close(drawn, wanted / 2.0, 0.005, "the rib of a knee sock");
    }
}

/// From above each ring of a disc is whole: its colours have the shares of the needle's rows.
#[test]
fn a_disc_gives_each_stitch_its_angle() {
    let run = grade("tam", "standard", &demo("standard"), "women-m", &[]).expect("a run");
    let size = coloured(&run, &yarns(&[]));
    let picture = svg(&run, &size);
    let (_, made) = only_size(&run).expect("knittable");
    let knit = &made.graded.run;
    let part = &made.garment.views[0].parts[0];
    let index = knit.pieces.iter().position(|p| p.name == part.patch.piece).expect("there");
    let cloth: &Cloth = &size.coloured.cloths(knit)[index];
    let columns = part.patch.strand.columns(cloth);
    let stitch = run.swatches.plain().stitches.pitch_mm();
    let mut wanted: BTreeMap<String, f64> = BTreeMap::new();
    for (i, column) in columns.iter().enumerate() {
        let (outer, inner) =
            ((columns.len() - i) as f64 * stitch, (columns.len() - i - 1) as f64 * stitch);
        let ring = std::f64::consts::PI * (outer.powi(2) - inner.powi(2));
        for paint in &column.paints {
            let paint = usize::from(paint.expect("enough"));
            let shade = size.coloured.palette.colours[paint].shade.to_string();
            *wanted.entry(shade).or_default() += ring / column.paints.len() as f64;
        }
    }
    let drawn = part_areas(&picture, 0, 0);
    for (shade, area) in &wanted {
        close(drawn[shade], *area, 0.01, shade);
    }
    close(drawn.values().sum(), wanted.values().sum(), 0.005, "the disc");
}

/// Lengths as the legend's words give them, in metres.
fn legend_metres(picture: &str) -> Vec<f64> {
    let document = roxmltree::Document::parse(picture).expect("well formed");
    document
        .descendants()
        .filter(|n| n.attribute("class") == Some("colour"))
        .map(|entry| {
            let texts = entry.descendants().filter_map(|n| n.text());
            let mut words = texts.filter(|t| t.contains(" m,") || t.ends_with(" m short"));
            let words = words.next().expect("a length");
            words.split(" m").next().and_then(|m| m.parse().ok()).expect("a number")
        })
        .collect()
}

#[test]
fn the_legend_adds_up_to_the_yarn_needed() {
    for (id, run) in families() {
        let (_, made) = only_size(&run).expect("knittable");
        for request in
            [yarns(&[]), yarns(&["slate@10g", "shoreline@4g", "slate"]), yarns(&["lamp"])]
        {
            let size = coloured(&run, &request);
            let metres: f64 = legend_metres(&svg(&run, &size)).iter().sum();
            close(metres, made.graded.yarn.metres, 0.005, &id);
        }
    }
}

#[test]
fn the_same_is_drawn_twice_and_is_small() {
    for (id, run) in families() {
        let once = svg(&run, &coloured(&run, &yarns(&[])));
        assert_eq!(once, svg(&run, &coloured(&run, &yarns(&[]))), "{id}");
        assert!(once.len() < 1_000_000, "{id}: {} bytes", once.len());
        let tree = usvg::Tree::from_str(&once, &usvg::Options::default());
        assert!(tree.is_ok(), "{id}");
    }
}

/// Both of a pair begin alike and stay alike: at every stitch of every piece the second has the
/// colour of the first, or that of the stitch beside it.
#[test]
fn matched_pairs_match() {
    for (id, run) in families().into_iter().filter(|(_, run)| run.garment.pair) {
        let request = YarnRequest { matched: true, ..yarns(&["shoreline"]) };
        let size = coloured(&run, &request);
        let (_, made) = only_size(&run).expect("knittable");
        let knit = &made.graded.run;
        let of = |mate: u32| -> Vec<usize> {
            (0..knit.pieces.len()).filter(|p| made.garment.mates[*p] == Some(mate)).collect()
        };
        assert_eq!(size.wound_off.len(), of(2).len(), "{id}");
        assert!(size.wound_off.iter().any(|w| w.off_mm > 0.0), "{id}");
        let feed = &size.coloured.feeds[0];
        let starts = piece_starts(knit, &size.coloured.path, &feed.sections);
        let line = &size.coloured.fed[0];
        let loop_mm = size.coloured.path.loop_mm(knit::program::Structure::Plain);
        for (first, second) in of(1).into_iter().zip(of(2)) {
            let (one, other) = (starts[first].expect("used"), starts[second].expect("used"));
            // A mirrored piece may have a row fewer, to end on the other side: it says so, and
            // matches up to there.
            let (one_has, other_has) = (knit.pieces[first].stitches, knit.pieces[second].stitches);
            let mut stitches = one_has;
            if one_has != other_has {
                assert!(said(&size).iter().any(|n| n.contains("stitches fewer")), "{id}");
                stitches = one_has / 4;
            }
            for nth in 0..stitches {
                let along = nth as f64 * loop_mm * 0.9;
                let wanted = [-loop_mm, 0.0, loop_mm].map(|off| line.at(one + along + off));
                let got = line.at(other + along);
                assert!(wanted.contains(&got), "{id}, piece {second}, {along} mm along");
            }
        }
        assert!(said(&size).iter().any(|n| n.contains("wind off")), "{id}: {:?}", said(&size));
        // Without it they don't match, or the test could not fail.
        let plain = coloured(&run, &yarns(&["shoreline"]));
        assert!(plain.coloured.feeds.iter().all(|f| f.supply.skips.is_empty()));
    }
}

#[test]
fn what_can_not_be_matched_says_so() {
    let run = grade("mitten", "standard", &demo("standard"), "women-m", &[]).expect("a run");
    for (yarn, word) in
        [(&["lamp"][..], "halve the ball"), (&["slate@9g", "lamp"], "Several balls")]
    {
        let size = coloured(&run, &YarnRequest { matched: true, ..yarns(yarn) });
        assert!(said(&size).iter().any(|n| n.contains(word)), "{:?}", said(&size));
        assert!(size.wound_off.is_empty());
    }
    let run = grade("tam", "standard", &demo("standard"), "women-m", &[]).expect("a run");
    let size = coloured(&run, &YarnRequest { matched: true, ..yarns(&["shoreline"]) });
    assert!(said(&size).iter().any(|n| n.contains("second of a pair")), "{:?}", said(&size));
}

fn long_sequence(count: usize, names: impl Fn(usize) -> String) -> ColourSequence {
    let stretches = (0..count)
        .map(|i| {
            let shade = format!("#{:02x}{:02x}{:02x}", i % 256, (i * 7) % 256, (i * 13) % 256);
            let colour = Colour { name: names(i), shade: shade.parse().expect("a shade") };
            (colour, 200.0 + (i % 7) as f64 * 100.0)
        })
        .collect();
    ColourSequence::new(stretches, true).expect("sound")
}

fn in_sequence(run: &SizeRun, made: &Made, colours: ColourSequence) -> Coloured {
    let ball = Ball { name: "wild".into(), colours, start_mm: 0.0, length_mm: None };
    let feed = Feed {
        sections: (0..made.graded.run.sections.len()).collect(),
        supply: Supply { balls: vec![ball], skips: Vec::new() },
    };
    Coloured::of(&made.graded.run, &run.swatches, vec![feed])
}

#[test]
fn hostile_names_and_five_hundred_colours_are_drawn() {
    let run = grade("tam", "standard", &demo("standard"), "men-xl", &[]).expect("a run");
    let (_, made) = only_size(&run).expect("knittable");
    let wild = |i: usize| match i % 4 {
        0 => format!("</text><script>{i}</script>"),
        1 => format!("\u{202e}\u{0}&amp; {i} {}", "x".repeat(3000)),
        2 => format!("{i}, 9.99 m"),
        _ => "\"'><![CDATA[".to_owned(),
    };
    let coloured = in_sequence(&run, made, long_sequence(500, wild));
    let picture = stripes(&sheet(&run, &coloured, Vec::new()), LengthUnit::In).svg();
    let document = roxmltree::Document::parse(&picture).expect("well formed");
    assert!(document.descendants().all(|n| !n.has_tag_name("script")));
    assert!(picture.len() < 2_000_000, "{} bytes", picture.len());
    let entries = document.descendants().filter(|n| n.attribute("class") == Some("colour")).count();
    assert!(entries > 300, "{entries}");
}

/// A yarn that runs out is hatched, and the words say by how much.
#[test]
fn yarn_that_runs_out_is_hatched() {
    let run = grade("hat", "standard", &demo("standard"), "women-m", &[]).expect("a run");
    let (_, made) = only_size(&run).expect("knittable");
    let size = coloured(&run, &yarns(&["shoreline@20g"]));
    let picture = svg(&run, &size);
    assert!(picture.contains("url(#hatching)"));
    // 20 g of 400 m/100 g are 80 m.
    let short = made.graded.yarn.metres - 80.0;
    close(size.coloured.short_mm() / 1000.0, short, 1e-6, "what is missing");
    assert!(picture.contains("no yarn left"), "the legend says so");
    assert!(picture.contains(&format!("{short:.2} m short")));
    assert!(said(&size).iter().any(|n| n.contains("runs out")));
    let enough = svg(&run, &coloured(&run, &yarns(&["shoreline"])));
    assert!(!enough.contains("hatching"));
}

/// One ball for all sections is one length of yarn: the second section goes on where the first
/// ended.
#[test]
fn sections_share_a_ball_in_the_order_of_use() {
    let run = grade("tam", "standard", &demo("standard"), "women-m", &[]).expect("a run");
    let (_, made) = only_size(&run).expect("knittable");
    let once = ColourSequence::new(
        vec![
            (Colour { name: "first".into(), shade: "#111111".parse().expect("") }, 30_000.0),
            (Colour { name: "then".into(), shade: "#eeeeee".parse().expect("") }, 9e9),
        ],
        false,
    )
    .expect("sound");
    let shared = in_sequence(&run, made, once);
    let lengths: f64 = shared.lengths().iter().filter(|(p, _)| *p == Some(0)).map(|(_, l)| l).sum();
    close(lengths, 30_000.0, 1e-9, "the first colour is there once");
    // The band is knitted first: it has the first colour, the hat only what the band left of it.
    let hat = made.graded.run.sections.iter().position(|s| s.name == "hat").expect("a section");
    let band = shared.path.used_mm[1 - hat];
    let left = (30_000.0 - band).max(0.0);
    let in_hat: f64 =
        shared.lines[hat].stretches().filter(|(_, p)| *p == Some(0)).map(|(l, _)| l).sum();
    // Sewing with the band's yarn comes last, after the hat.
    assert!(in_hat >= left - 1e-6 && in_hat < 30_000.0, "{in_hat} {left}");
}

/// Two colours in bands of one height: boldness is about their distance times that height; one
/// colour has neither boldness nor unevenness.
#[test]
fn looks_are_what_they_are_said_to_be() {
    let run =
        grade("cuff", "standard", &demo("standard"), "women-m", &["thumb=none"]).expect("a run");
    let (_, made) = only_size(&run).expect("knittable");
    let knit = &made.graded.run;
    let row = knit.pieces[0].rows[2];
    let structure = row.structure.gauged_as();
    let shades = |a: &str, b: &str, rows: f64| {
        let path = knit::thread::YarnPath::of(knit, &run.swatches);
        let mm = rows * f64::from(row.stitches) * path.loop_mm(row.structure);
        let colour =
            |name: &str, shade: &str| Colour { name: name.into(), shade: shade.parse().expect("") };
        ColourSequence::new(vec![(colour("a", a), mm), (colour("b", b), mm)], true).expect("sound")
    };
    let measure = |colours: ColourSequence| {
        let coloured = in_sequence(&run, made, colours);
        let cloths = coloured.cloths(knit);
        (
            boldness(knit, &cloths, &coloured.palette, &run.swatches),
            unevenness(knit, &cloths, &coloured.palette, &run.swatches),
        )
    };
    let row_mm = run.swatches.gauge(structure).rows.pitch_mm();
    let (bold, _) = measure(shades("#ffffff", "#000000", 4.0));
    // 100 dE in bands of four rows; the first and last band are cut.
    let whole = 100.0 * 4.0 * row_mm;
    assert!(bold > 0.7 * whole && bold <= 1.01 * whole, "{bold} of {whole}");
    let (wider, _) = measure(shades("#ffffff", "#000000", 8.0));
    assert!(wider > 1.4 * bold, "wider bands are bolder: {wider} {bold}");
    let (paler, even) = measure(shades("#ffffff", "#dddddd", 4.0));
    assert!(paler < 0.3 * bold, "{paler} {bold}");
    assert!(even < 15.0);
    let (none, level) = measure(shades("#445566", "#445566", 4.0));
    assert!(none.abs() < 1e-9 && level.abs() < 1e-9, "{none} {level}");
}

const PICTURE: [&str; 6] = ["--size", "women-m", "--format", "svg", "--picture", "stripes"];

/// Standard output, standard error and exit code.
fn ran(args: &[&str]) -> (String, String, Option<i32>) {
    let ran = oddments(args);
    (ran.out, ran.err, ran.code)
}

fn drawn(garment: &str, more: &[&str]) -> (String, String, Option<i32>) {
    let mut args = vec!["pattern", garment];
    args.extend(PICTURE);
    args.extend(more);
    ran(&args)
}

#[test]
fn a_contact_sheet_has_as_many_alternatives_as_were_asked_for() {
    for (more, wanted) in [
        (&["--contact", "5", "--look", "bold"][..], 5),
        (&["--contact", "4"], 4),
        // The option goes in steps of two: 5 is passed over.
        (&["--contact", "6", "--look", "even", "--vary", "stripe=4..6"], 6),
    ] {
        let (out, err, code) = drawn("cuff", more);
        assert_eq!(code, Some(0), "{err}");
        let document = roxmltree::Document::parse(&out).expect("well formed");
        let captions: Vec<_> = document
            .descendants()
            .filter(|n| n.attribute("class") == Some("alternative"))
            .filter_map(|n| n.attribute("data-caption"))
            .collect();
        assert_eq!(captions.len(), wanted, "{captions:?}");
        assert!(captions.iter().all(|c| c.contains("start")), "{captions:?}");
        assert_eq!(drawn("cuff", more).0, out, "the same twice");
    }
    // The best comes first, and a search shows it.
    let (out, err, _) = drawn("mitten", &["--look", "bold"]);
    assert!(out.contains("this is the boldest"), "{err}");
}

#[test]
fn the_sheet_of_nothing_is_a_sheet() {
    let svg = contact_sheet("nothing", &[]).svg();
    assert!(roxmltree::Document::parse(&svg).is_ok());
}

#[test]
fn requests_that_can_not_be_met_say_why_and_what_to_do() {
    for (more, words) in [
        (&["--yarn", "bandd=slate"][..], "did you mean `band`?"),
        (&["--yarn", "shorline"], "did you mean `shoreline`?"),
        (&["--yarn", "slate@12"], "has no unit"),
        (&["--yarn", "slate@heavy"], "--yarn slate@heavy"),
        (&["--start", "5"], "has no unit"),
        (&["--start", "band=5 m"], "no yarn of its own"),
        (&["--yarn", "no/such/file.toml"], "no/such/file.toml"),
        (&["--vary", "wedges=4..9"], "--look bold"),
        (&["--look", "bold", "--vary", "wedges=9..4"], "wedges=4..9"),
        (&["--look", "bold", "--vary", "wedges=1..900"], "narrower range"),
        (&["--look", "bold", "--vary", "wedgs=4..5"], "wedges"),
        (&["--contact", "0"], "--contact 9"),
        (&["--contact", "4000000000"], "--contact 9"),
    ] {
        let (out, err, code) = drawn("tam", more);
        assert!(code == Some(1) || code == Some(2), "{more:?}: {code:?}");
        assert!(err.contains(words), "{more:?}: {err}");
        assert_eq!(out, "", "{more:?}");
    }
    let (_, err, code) = ran(&["pattern", "tam", "--format", "svg", "--picture", "stripes"]);
    assert!(code == Some(2) && err.contains("--size women-m"), "{err}");
    // A yarn of another thickness is drawn, with a warning.
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("thick.toml");
    let text = "yarn = \"100 m/100 g\"\n[[colour]]\nname = \"tar\"\nshade = \"#101010\"\n";
    std::fs::write(&path, text).expect("written");
    let (out, err, code) = drawn("tam", &["--yarn", path.to_str().expect("a path")]);
    assert!(code == Some(0) && err.contains("1000 tex") && out.contains("tar"), "{err}");
}

/// Remnants are told one by one, in the order in which they are joined.
#[test]
fn remnants_are_told_in_their_order() {
    let (out, _, code) =
        drawn("hat", &["--yarn", "slate@12g", "--yarn", "lamp@10g", "--yarn", "shoreline"]);
    assert_eq!(code, Some(0));
    let one = out.find("Ball 1: Skerry slate, 48.00 m used, all of it").expect("the first");
    let two = out.find("Ball 2: Skerry lamp, 40.00 m used, all of it").expect("the second");
    let three = out.find("Ball 3: Skerry shoreline").expect("the third");
    assert!(one < two && two < three);
    let numbers: Vec<_> = ["slate", "dusk", "deep water"]
        .iter()
        .map(|name| out.find(&format!(">{name}</text>")).expect("in the legend"))
        .collect();
    assert!(numbers.is_sorted(), "in the order of first use");
}

/// What a script may get wrong in its views, each with the line and a way out.
#[test]
fn faults_in_views_are_placed() {
    let script = |view: &str| {
        format!(
            "return function(input)\n  return {{\n    pieces = {{ piece{{ name = \"square\", steps = {{\n      \
             step.cast_on{{ needles = \"L10-R10\", method = \"wound\" }},\n      step.knit{{ rows = 20 }},\n      \
             step.cast_off(),\n    }} }} }},\n    views = {{\n      {view}\n    }},\n  }}\nend\n"
        )
    };
    let toml = "id = \"square\"\ntitle = \"Square\"\nversion = \"1.0.0\"\napi = 1\nsummary = \"A square.\"\n\
                measures = []\nstructures = [\"plain\"]\n[sections]\nsquare = \"Square\"\n";
    let grade = |view: &str| {
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::write(folder.path().join("plugin.toml"), toml).expect("written");
        std::fs::write(folder.path().join("init.luau"), script(view)).expect("written");
        let (_, err, code) = ran(&["grade", folder.path().to_str().expect("a path")]);
        (err, code)
    };
    let part = |fields: &str| format!("view{{ title = \"V\", parts = {{ {{ {fields} }} }} }},");
    let (err, code) = grade(&part("form = \"flat\", piece = \"square\""));
    assert_eq!(code, Some(0), "{err}");
    for (view, words) in [
        (part("form = \"flat\", piece = \"sqare\""), "did you mean `square`?"),
        (part("form = \"flt\", piece = \"square\""), "did you mean `flat`?"),
        (part("form = \"flat\", piece = \"square\", needles = \"L90-R90\""), "it uses L10-R10"),
        (part("form = \"flat\", piece = \"square\", from = \"heel\""), "set one with step.mark"),
        (part("form = \"flat\", piece = \"square\", turn = 45"), "`lean`"),
        (part("form = \"flat\", piece = \"square\", turn = 0/0"), "0/0"),
        (part("form = \"flat\", piece = \"square\", x = math.huge, y = 0"), "division by zero"),
        (part("form = \"flat\", piece = \"square\", x = 3"), "both `x` and `y`"),
        (part("form = \"rings\", piece = \"square\", radius = 1e9"), "from 0 to 10000"),
        (part("form = \"rings\", piece = \"square\", arc_from = 9, arc_to = 9"), "arc_to"),
        (part("form = \"flat\", piece = \"square\", first = 0.5, last = 0.5"), "below `last`"),
        (part("form = \"tube\", piece = \"square\""), "`front`"),
        (part("form = \"flat\", piece = \"square\", ring = true"), "ring"),
        ("(function() local parts = table.create(1000, { form = \"rings\", piece = \"square\" }) return view{ title = \"V\", parts = parts } end)(),".to_owned(), "1000 entries"),
        ("(function() local parts = {} for i = 1, 1e9 do parts[i] = { form = \"rings\", piece = \"square\" } end return view{ title = \"V\", parts = parts } end)(),".to_owned(), "init.luau"),
        ("view{ title = \"V\" },".to_owned(), "needs `parts`"),
        ("7,".to_owned(), "must be a table"),
    ] {
        let (err, code) = grade(&view);
        assert_eq!(code, Some(1), "{view}: {err}");
        assert!(err.contains(words), "{view}: {err}");
        assert!(err.contains("init.luau"), "{view}: {err}");
    }
}

/// A mitred square is drawn as the square it is: turned fabric lies across what it was turned from.
#[test]
fn a_mitred_square_is_drawn_square() {
    for mitre in ["mitre=short rows", "mitre=decreases"] {
        for side in ["side=12cm", "side=16cm"] {
            let run =
                grade("mitred-square", "standard", &demo("standard"), "women-m", &[mitre, side])
                    .expect("a run");
            let size = coloured(&run, &yarns(&[]));
            let (_, made) = only_size(&run).expect("knittable");
            let svg = svg(&run, &size);
            let parts = made.garment.views[0].parts.len();
            let drawn: f64 =
                (0..parts).flat_map(|nth| part_areas(&svg, 0, nth).into_values()).sum();
            let wanted: f64 = if side == "side=12cm" { 120.0 } else { 160.0 };
            // Along the diagonal each block is as wide as its longer row.
            close(drawn, wanted * wanted, 0.1, &format!("{mitre} {side}"));
            let (wide, high) = drawn_box(&svg);
            close(wide, wanted, 0.03, &format!("{mitre} {side}, across"));
            close(high, wanted, 0.03, &format!("{mitre} {side}, upwards"));
        }
    }
}

/// How wide and how high the colours of the first view are, in mm of the garment.
fn drawn_box(svg: &str) -> (f64, f64) {
    let document = roxmltree::Document::parse(svg).expect("well formed");
    let view = document.descendants().find(|n| n.attribute("class") == Some("view")).expect("one");
    let scale: f64 = view.attribute("data-scale").expect("a scale").parse().expect("a number");
    let mut bounds = [f32::MAX, f32::MAX, 0.0, 0.0];
    for path in view.descendants().filter(|n| n.has_tag_name("path")) {
        let Some(d) = path.attribute("d").filter(|_| path.attribute("fill") != Some("none")) else {
            continue;
        };
        let text = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"9\" height=\"9\"><path d=\"{d}\"/></svg>"
        );
        let tree = usvg::Tree::from_str(&text, &usvg::Options::default()).expect("a picture");
        let of = tree.root().abs_bounding_box();
        bounds = [
            bounds[0].min(of.left()),
            bounds[1].min(of.top()),
            bounds[2].max(of.right()),
            bounds[3].max(of.bottom()),
        ];
    }
    (f64::from(bounds[2] - bounds[0]) / scale, f64::from(bounds[3] - bounds[1]) / scale)
}
