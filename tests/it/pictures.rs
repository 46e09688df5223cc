//! Pictures as eyes take them: no words over words, a sock's two sides as one sock, every stitch drawn.

use app::{Colouring, YarnRequest, stripes_of};
use knit::program::Structure;
use knit::size_run::SizeRun;
use report::drawing::{
    Drawing, Weight, row_charts, schematic, stamp, stitches, stripes, text_width, worn,
};
use roxmltree::{Document, Node};
use units::LengthUnit;

use crate::support::{bench, demo, grade};

fn run_of(garment: &str, size: &str) -> SizeRun {
    grade(garment, "standard", &demo("standard"), size, &[]).expect("a sound request")
}

/// What is drawn of a run in the demo's stripes.
fn drawn<T>(run: &SizeRun, draw: impl FnOnce(&report::drawing::StripesSheet<'_>) -> T) -> T {
    let (_, made) = run.good().next().expect("knittable");
    let colouring = Colouring::read(&YarnRequest::default(), run).expect("the demo's yarn");
    let coloured = colouring.apply(run, made);
    draw(&stripes_of(run, &coloured, Vec::new()).expect("one size"))
}

/// Left, top, right, bottom.
type Ink = (f64, f64, f64, f64);

/// Where words and dimension lines lie on a picture: moved groups and parts within parts are followed.
fn inked(drawing: &Drawing) -> (Vec<(String, Ink)>, Vec<Ink>) {
    let svg = drawing.svg();
    let document = Document::parse(&svg).expect("well formed");
    let (mut words, mut lines) = (Vec::new(), Vec::new());
    walk(document.root_element(), (0.0, 0.0, 1.0), &mut words, &mut lines);
    (words, lines)
}

fn walk(
    node: Node<'_, '_>,
    at: (f64, f64, f64),
    words: &mut Vec<(String, Ink)>,
    lines: &mut Vec<Ink>,
) {
    let number = |name: &str| -> f64 {
        node.attribute(name).and_then(|text| text.parse().ok()).unwrap_or_default()
    };
    let at = node.attribute("transform").map_or(at, |transform| {
        assert!(!transform.contains("rotate"), "a turned group: {transform}");
        let inside = |name: &str| -> Option<Vec<f64>> {
            let (_, rest) = transform.split_once(&format!("{name}("))?;
            let (inside, _) = rest.split_once(')')?;
            Some(inside.split(' ').map(|n| n.parse().expect("a number")).collect())
        };
        let moved = inside("translate").expect("groups are moved");
        let scale = inside("scale").map_or(1.0, |scale| scale[0]);
        (at.0 + moved[0] * at.2, at.1 + moved[1] * at.2, at.2 * scale)
    });
    let place = |x: f64, y: f64| (at.0 + x * at.2, at.1 + y * at.2);
    if node.has_tag_name("text") {
        let text = node.text().unwrap_or_default();
        let weight =
            if node.attribute("font-weight").is_some() { Weight::Bold } else { Weight::Regular };
        let size = number("font-size");
        let wide = text_width(text, size, weight);
        let left = match node.attribute("text-anchor") {
            Some("middle") => -wide / 2.0,
            Some("end") => -wide,
            _ => 0.0,
        };
        // Capitals above the baseline, and what hangs below: figures don't.
        let (x, y) = (number("x") + left, number("y"));
        let below = if text.contains(|c: char| "gjpqyQ,;()".contains(c)) { 0.22 } else { 0.01 };
        let (from, to) = (place(x, y - 0.74 * size), place(x + wide, y + below * size));
        words.push((text.to_owned(), (from.0, from.1, to.0, to.1)));
    }
    if node.has_tag_name("line") && node.attribute("stroke-dasharray").is_none() {
        let (a, b) = (place(number("x1"), number("y1")), place(number("x2"), number("y2")));
        lines.push((a.0.min(b.0), a.1.min(b.1), a.0.max(b.0), a.1.max(b.1)));
    }
    for child in node.children() {
        walk(child, at, words, lines);
    }
}

fn meet(one: &Ink, other: &Ink) -> bool {
    const HAIR: f64 = 0.05;
    one.0 + HAIR < other.2
        && other.0 + HAIR < one.2
        && one.1 + HAIR < other.3
        && other.1 + HAIR < one.3
}

fn no_words_over_words(what: &str, drawing: &Drawing) -> usize {
    let (words, _) = inked(drawing);
    for (nth, (text, ink)) in words.iter().enumerate() {
        assert!(ink.0 > -0.1 && ink.2 < drawing.width_mm + 0.1, "{what}: `{text}` leaves the page");
        assert!(
            ink.1 > -0.1 && ink.3 < drawing.height_mm + 0.6,
            "{what}: `{text}` leaves the page"
        );
        for (other, over) in &words[nth + 1..] {
            assert!(!meet(ink, over), "{what}: `{text}` lies over `{other}`: {ink:?} {over:?}");
        }
    }
    words.len()
}

/// A baby, a child, a tall man, and several together.
#[test]
fn no_words_lie_over_words_or_off_the_page() {
    let mut seen = 0;
    for garment in bench().garment_ids() {
        for size in ["m6-12", "y7-8", "men-xl"] {
            let run = run_of(&garment, size);
            let Some((_, made)) = run.good().next() else { continue };
            let what = format!("{garment} {size}");
            for units in [&[LengthUnit::Cm][..], &[LengthUnit::Cm, LengthUnit::In]] {
                let pieces = schematic(&run, units).expect("pieces");
                seen += no_words_over_words(&format!("{what}, pieces"), &pieces);
            }
            for chart in row_charts(made, &what) {
                seen += no_words_over_words(&format!("{what}, rows"), &chart);
            }
            let pictures = drawn(&run, |sheet| [stripes(sheet, LengthUnit::Cm), worn(sheet)]);
            for picture in &pictures {
                seen += no_words_over_words(&format!("{what}, stripes"), picture);
            }
        }
        let several = run_of(&garment, "m6-12,y7-8,men-xl");
        if let Some(pieces) = schematic(&several, &[LengthUnit::Cm]) {
            seen += no_words_over_words(&format!("{garment}, sizes"), &pieces);
        }
    }
    assert!(seen > 2000, "{seen} words");
}

/// Of one size each dimension line has its figure, which no line runs through.
#[test]
fn figures_stand_on_the_lines_of_one_size() {
    for garment in ["tam", "sock", "mitten", "pullover", "bootee"] {
        for size in ["m6-12", "y7-8", "men-xl"] {
            let run = run_of(garment, size);
            if run.good().next().is_none() {
                continue;
            }
            let (words, lines) = inked(&schematic(&run, &[LengthUnit::Cm]).expect("pieces"));
            let figures: Vec<&(String, Ink)> = words
                .iter()
                .filter(|(text, _)| text.parse::<f64>().is_ok_and(|mm| mm > 0.0))
                .collect();
            for (text, ink) in &figures {
                let through = lines.iter().find(|line| meet(ink, line) || crosses(ink, line));
                assert_eq!(through, None, "{garment} {size}: a line through {text} at {ink:?}");
            }
            // Each stands twice: on its line and in the table.
            for (text, _) in &figures {
                let count = figures.iter().filter(|(other, _)| other == text).count();
                assert!(
                    count >= 2 && count % 2 == 0,
                    "{garment} {size}: {text} stands {count} times"
                );
            }
            let lettered = words.iter().any(|(text, _)| matches!(text.as_str(), "a" | "b" | "c"));
            assert!(!lettered, "{garment} {size} still has letters");
        }
    }
}

/// A line has no width of its own.
fn crosses(ink: &Ink, line: &Ink) -> bool {
    let inside = |from: f64, to: f64, a: f64, b: f64| a < to - 0.05 && b > from + 0.05;
    inside(ink.0, ink.2, line.0, line.2) && inside(ink.1, ink.3, line.1, line.3)
}

/// Left and right edge of each part of each view, in mm of fabric, as drawn.
fn parts(svg: &str) -> Vec<Vec<(f64, f64)>> {
    let document = Document::parse(svg).expect("well formed");
    let class =
        |name: &'static str| move |node: &Node<'_, '_>| node.attribute("class") == Some(name);
    let views = document.descendants().filter(class("view"));
    views
        .map(|view| {
            let scale: f64 = view.attribute("data-scale").expect("a scale").parse().expect("one");
            let edges = |part: Node<'_, '_>| {
                let path = part.descendants().find(|n| n.has_tag_name("path")).expect("an outline");
                let xs = across(path.attribute("d").expect("data"));
                let left = xs.iter().copied().fold(f64::INFINITY, f64::min);
                (left / scale, xs.iter().copied().fold(f64::NEG_INFINITY, f64::max) / scale)
            };
            view.descendants().filter(class("part")).map(edges).collect()
        })
        .collect()
}

/// The places across of a path of moves and relative lines.
fn across(d: &str) -> Vec<f64> {
    let mut all = Vec::new();
    for outline in d.split('Z').filter(|part| !part.is_empty()) {
        let spaced = outline.trim_start_matches('M').replace('l', " ").replace('-', " -");
        let numbers: Vec<f64> =
            spaced.split_whitespace().map(|n| n.parse().expect("a number")).collect();
        let mut x = 0.0;
        for pair in numbers.chunks(2) {
            x += pair[0];
            all.push(x);
        }
    }
    all
}

/// The two sides of a sock are one sock: each stretch of the leg is as wide on both, and none stands out
/// over the next.
#[test]
fn the_two_sides_of_a_sock_are_one_sock() {
    for size in ["m6-12", "y7-8", "women-m", "men-xl"] {
        let run = run_of("sock", size);
        let picture = drawn(&run, |sheet| stripes(sheet, LengthUnit::Cm)).svg();
        let views = parts(&picture);
        let [right, left] = views.as_slice() else { panic!("two sides, not {}", views.len()) };
        for (nth, (one, other)) in right.iter().zip(left).enumerate() {
            let (one, other) = (one.1 - one.0, other.1 - other.0);
            assert!((one - other).abs() < 0.5, "{size}, part {nth}: {one:.1} and {other:.1} mm");
        }
        // What is taken in between top and ankle is no wider than they are.
        for side in [right, left] {
            let [top, between, ankle] =
                [side[0], side[1], side[2]].map(|(left, right)| right - left);
            assert!(between < top.max(ankle) + 2.0, "{size}: {between:.1} mm above {ankle:.1}");
        }
    }
}

/// A V or a bow for each stitch of the run.
#[test]
fn each_stitch_is_drawn_on_close_view() {
    for (garment, size) in [("tam", "women-m"), ("mitten", "y7-8"), ("pullover", "m6-12")] {
        let run = run_of(garment, size);
        let (_, made) = run.good().next().expect("knittable");
        for piece in &made.graded.run.pieces {
            let picture = drawn(&run, |sheet| stitches(sheet, &piece.name)).expect("a picture");
            let svg = picture.svg();
            let document = Document::parse(&svg).expect("well formed");
            let of = |class: &'static str, numbers: usize| -> usize {
                let paths = document.descendants().filter(|n| n.attribute("class") == Some(class));
                let d = paths.map(|n| n.attribute("d").expect("data"));
                d.flat_map(|d| d.split('M').skip(1))
                    .map(|streak| {
                        let (_, loops) = streak.split_once(['l', 'q']).expect("loops");
                        loops.replace('-', " -").split_whitespace().count() / numbers
                    })
                    .sum()
            };
            let round = |row: &&knit::run::RowRun| row.structure == Structure::Circular;
            let behind: u32 = piece
                .rows
                .iter()
                .filter(round)
                .filter(|row| piece.spans_of(row).iter().all(|span| span.ribber))
                .map(|row| row.stitches)
                .sum();
            let knitted: u32 = piece.rows.iter().map(|row| row.stitches).sum();
            let drawn = of("knit", 4) + of("purl", 4);
            assert_eq!(drawn as u32, knitted - behind, "{garment} {}", piece.name);
            assert!(picture.about.starts_with(&format!("{drawn} stitches")), "{}", picture.about);
        }
        assert!(drawn(&run, |sheet| stitches(sheet, "no such piece")).is_none());
    }
}

/// Of a long chart the key comes first, of a short one last.
#[test]
fn the_key_of_a_long_chart_comes_before_it() {
    let mut first = 0;
    for garment in ["pullover", "cuff", "tam"] {
        let run = run_of(garment, "women-m");
        let (_, made) = run.good().next().expect("knittable");
        for chart in row_charts(made, garment) {
            let svg = chart.svg();
            let key = svg.find(">Key</text>").expect("a key");
            let row = svg.find("class=\"row\"").expect("a row");
            let (words, _) = inked(&chart);
            let (_, ink) = words.iter().find(|(text, _)| text == "Key").expect("a key");
            let above = ink.1 < chart.height_mm / 3.0;
            assert_eq!(key < row, above, "{garment}: {}", chart.title);
            assert!(above || chart.height_mm < 260.0, "{}: {} mm", chart.title, chart.height_mm);
            first += usize::from(above);
        }
    }
    assert!(first > 0, "no chart is long");
}

#[test]
fn a_stamp_is_small_and_has_no_words() {
    for garment in bench().garment_ids() {
        let run = run_of(
            &garment,
            if matches!(&*garment, "bootee" | "helmet") { "m6-12" } else { "women-m" },
        );
        let picture = drawn(&run, stamp);
        assert!((picture.width_mm, picture.height_mm) == (60.0, 42.0));
        let svg = picture.svg();
        assert!(!svg.contains("<text") && svg.len() < 300_000, "{garment}: {} bytes", svg.len());
    }
}
