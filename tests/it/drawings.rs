//! Pictures measured from outside: the SVG is read back and its lengths and areas are compared with
//! the run's stitches and the gauge.

use knit::program::Structure;
use knit::run::{Deed, PieceRun};
use knit::size_run::SizeRun;
use report::drawing::{
    Drawing, RowChartOptions, body_picture, finished_picture, row_chart, row_charts, schematic,
};
use resvg::usvg;
use roxmltree::{Document, Node};
use units::LengthUnit;

use crate::made_fabric::irregular;
use crate::support::{Ran, bench, demo, grade, oddments};

const BOTH: [LengthUnit; 2] = [LengthUnit::Cm, LengthUnit::In];
const MACHINES: [&str; 4] = ["fine", "standard", "mid", "bulky"];

fn run_of(garment: &str, machine: &str, sizes: &str) -> SizeRun {
    grade(garment, machine, &demo(machine), sizes, &[]).expect("a sound request")
}

/// Reads a picture back, with both readers.
fn checked(drawing: &Drawing) -> String {
    let svg = drawing.svg();
    let tree = usvg::Tree::from_str(&svg, &usvg::Options::default()).expect("an SVG");
    assert!((f64::from(tree.size().width()) * 25.4 / 96.0 - drawing.width_mm).abs() < 0.1);
    let document = Document::parse(&svg).expect("well formed");
    let said = |name: &str| {
        let node = document.root_element().children().find(|n| n.has_tag_name(name));
        node.and_then(|n| n.text().map(str::to_owned)).unwrap_or_default()
    };
    assert!(said("title").len() > 3, "a title");
    assert!(said("desc").len() > 20, "words for who can't see it");
    svg
}

fn number(node: &Node, name: &str) -> f64 {
    let text = node.attribute(name).unwrap_or_else(|| panic!("{name} of {node:?}"));
    text.parse().unwrap_or_else(|_| panic!("{name}=\"{text}\""))
}

fn within<'a, 'd>(node: Node<'a, 'd>, class: &'static str) -> impl Iterator<Item = Node<'a, 'd>> {
    node.descendants().filter(move |n| n.attribute("class") == Some(class))
}

/// With a sign: a hole runs the other way round.
fn area(points: &str) -> f64 {
    let points: Vec<(f64, f64)> = points
        .split(' ')
        .map(|p| p.split_once(',').expect("x,y"))
        .map(|(x, y)| (x.parse().expect("x"), y.parse().expect("y")))
        .collect();
    let doubled: f64 = points
        .iter()
        .zip(points.iter().cycle().skip(1))
        .map(|((ax, ay), (bx, by))| ax * by - bx * ay)
        .sum();
    doubled / 2.0
}

/// What a piece covers laid flat, straight from its rows: of a tube's rows only those of the main
/// bed, since the ribber's lie below.
fn fabric_mm2(piece: &PieceRun, run: &SizeRun) -> f64 {
    let rows = piece.rows.iter().filter(|row| {
        row.structure != Structure::Circular || piece.spans_of(row).iter().any(|s| !s.ribber)
    });
    rows.map(|row| {
        let gauge = run.swatches.gauge(row.structure.gauged_as());
        f64::from(row.stitches) * gauge.stitches.pitch_mm() * gauge.rows.pitch_mm()
    })
    .sum()
}

#[test]
fn outlines_cover_what_the_stitches_cover() {
    let mut seen = 0;
    for garment in bench().garment_ids() {
        for sizes in ["m6-12", "women-m"] {
            let run = run_of(&garment, "standard", sizes);
            let Some((_, made)) = run.good().next() else { continue };
            let svg = checked(&schematic(&run, &BOTH).expect("pieces"));
            let document = Document::parse(&svg).expect("well formed");
            for drawn in within(document.root(), "piece") {
                let name = drawn.attribute("data-piece").expect("a name");
                let scale = number(&drawn, "data-scale");
                let covered: f64 = within(drawn, "outline")
                    .map(|n| area(n.attribute("points").expect("points")))
                    .sum::<f64>()
                    .abs()
                    * scale
                    * scale;
                let wanted = fabric_mm2(made.graded.run.piece(name).expect("a piece"), &run);
                assert!(
                    (covered / wanted - 1.0).abs() < 0.005,
                    "{garment} {sizes} {name}: {covered:.0} mm2 drawn, {wanted:.0} knitted"
                );
                seen += 1;
            }
        }
    }
    assert!(seen >= 25, "{seen}");
}

fn texts(svg: &str) -> Vec<String> {
    let document = Document::parse(svg).expect("well formed");
    document
        .descendants()
        .filter(|n| n.has_tag_name("text"))
        .filter_map(|n| n.text().map(str::to_owned))
        .collect()
}

#[test]
fn figures_on_the_schematic_are_the_runs_own() {
    for garment in ["hat", "headband", "neck-ring", "sock-flat"] {
        let run = run_of(garment, "standard", "women-m");
        let (_, made) = run.good().next().expect("knittable");
        let svg = checked(&schematic(&run, &BOTH).expect("pieces"));
        let texts = texts(&svg);
        for piece in &made.graded.run.pieces {
            let widest = piece.rows.iter().max_by_key(|row| row.stitches).expect("rows");
            let gauge = run.swatches.gauge(widest.structure.gauged_as());
            let mm = f64::from(widest.stitches) * gauge.stitches.pitch_mm();
            for unit in BOTH {
                assert!(texts.contains(&unit.cell(mm)), "{garment} {}: {mm} {unit:?}", piece.name);
            }
            assert!(
                texts.contains(&format!("{} stitches", piece.widest)),
                "{garment} {}",
                piece.name
            );
        }
        for finished in &made.graded.finished {
            let line = format!(
                "{}: {} cm; {} in",
                finished.title,
                LengthUnit::Cm.cell(finished.mm),
                LengthUnit::In.cell(finished.mm)
            );
            assert!(texts.contains(&line), "{garment}: {line}");
        }
    }
}

#[test]
fn of_many_sizes_the_ends_and_some_between_are_drawn() {
    let run = run_of("cuff", "standard", "all");
    let good: Vec<String> = run.good().map(|(size, _)| size.body.id.to_string()).collect();
    assert!(good.len() > 6);
    let svg = checked(&schematic(&run, &BOTH).expect("pieces"));
    let document = Document::parse(&svg).expect("well formed");
    let mut drawn: Vec<&str> =
        within(document.root(), "piece").filter_map(|n| n.attribute("data-size")).collect();
    drawn.dedup();
    assert_eq!(drawn.len(), 6, "{drawn:?}");
    assert_eq!((drawn[0], drawn[5]), (good[0].as_str(), good[good.len() - 1].as_str()));
    let told = format!("6 of {} sizes are drawn", good.len());
    assert!(texts(&svg).join(" ").contains(&told), "{told}");
}

/// Lengths of the strokes of a class in a row.
fn strokes(row: Node, class: &'static str) -> f64 {
    within(row, class)
        .map(|path| {
            let d = path.attribute("d").expect("strokes");
            d.split('M')
                .filter(|part| !part.is_empty())
                .map(|part| {
                    let (start, to) = part.split_once('H').expect("a level stroke");
                    let from = start.split(' ').next().expect("x");
                    to.parse::<f64>().expect("x") - from.parse::<f64>().expect("x")
                })
                .sum::<f64>()
        })
        .sum()
}

/// Checks the stitches of each row shown, and gives the rows that all of them stand for.
fn check_rows(piece: &PieceRun, svg: &str) -> u32 {
    let document = Document::parse(svg).expect("well formed");
    let rows: Vec<Node> = within(document.root(), "row").collect();
    // Needles are as wide in all rows: the widest row tells how wide.
    let shown = |node: &Node| &piece.rows[number(node, "data-row") as usize - 1];
    let single: Vec<&Node> = rows.iter().filter(|n| n.attribute("data-rows").is_none()).collect();
    let width = |n: &Node| strokes(*n, "main") + strokes(*n, "ribber");
    let reference = rows.iter().max_by_key(|n| shown(n).stitches).expect("rows");
    let both = match (reference.attribute("data-rows"), shown(reference).structure) {
        // A folded tube shows a round: a row on each bed.
        (Some(_), Structure::Circular) => 2.0,
        _ => 1.0,
    };
    let cell = width(reference) / f64::from(shown(reference).stitches) / both;
    for node in single {
        let cells = width(node) / cell;
        assert_eq!(cells.round() as u32, shown(node).stitches, "row {:?}", node);
        assert!((cells - cells.round()).abs() < 0.05, "{cells}");
        assert_eq!(number(node, "data-stitches") as u32, shown(node).stitches);
    }
    // A fold stands for its rows, and in a repeat each as often as it is knitted.
    let repeats: Vec<(u32, u32, u32)> = within(document.root(), "repeat")
        .map(|n| ["data-row", "data-rows", "data-times"].map(|name| number(&n, name) as u32))
        .map(|[first, rows, times]| (first, rows, times))
        .collect();
    rows.iter()
        .map(|node| {
            let row = number(node, "data-row") as u32;
            let rows: u32 =
                node.attribute("data-rows").map_or(1, |rows| rows.parse().expect("rows"));
            let inside =
                |(first, period, _): &&(u32, u32, u32)| (*first..first + period).contains(&row);
            rows * repeats.iter().filter(inside).map(|(_, _, times)| times).product::<u32>()
        })
        .sum()
}

#[test]
fn charts_show_every_stitch_and_every_row_once() {
    let mut folded = 0;
    for garment in bench().garment_ids() {
        let size = if matches!(&*garment, "bootee" | "helmet") { "m6-12" } else { "women-m" };
        let run = run_of(&garment, "standard", size);
        let (_, made) = run.good().next().expect("knittable");
        for piece in &made.graded.run.pieces {
            let svg = checked(&row_chart(piece, &RowChartOptions::default()));
            assert_eq!(
                check_rows(piece, &svg),
                piece.rows.len() as u32,
                "{garment} {}",
                piece.name
            );
            folded += svg.matches("class=\"repeat\"").count();
            let document = Document::parse(&svg).expect("well formed");
            for deed in [Deed::Hang, Deed::Wrap, Deed::ScrapOff] {
                let done = piece.events.iter().any(|e| e.deed == deed);
                let name = match deed {
                    Deed::Hang => "hang",
                    Deed::Wrap => "wrap",
                    _ => "scrap-off",
                };
                let shown = document.descendants().any(|n| n.attribute("data-deed") == Some(name));
                assert_eq!(done, shown, "{garment} {} {name}", piece.name);
            }
        }
    }
    assert!(folded >= 2, "{folded} repeats: the wedges of tam and hat come back");
}

#[test]
fn the_row_at_the_machine_is_framed_wherever_it_is_folded() {
    let run = run_of("hat", "standard", "women-m");
    let (_, made) = run.good().next().expect("knittable");
    let piece = &made.graded.run.pieces[0];
    for row in [1, 20, 60, 120, piece.rows.len() as u32] {
        let options = RowChartOptions { current_row: Some(row), ..RowChartOptions::default() };
        let svg = checked(&row_chart(piece, &options));
        let document = Document::parse(&svg).expect("well formed");
        let framed: Vec<Node> = within(document.root(), "current").collect();
        assert_eq!(framed.len(), 1, "row {row}");
        assert_eq!(number(&framed[0], "data-row") as u32, row);
        let frame = framed[0].children().find(|n| n.has_tag_name("rect")).expect("a frame");
        let middle = number(&frame, "y") + number(&frame, "height") / 2.0;
        // The row framed has the same needles as the row asked for.
        let shown = within(document.root(), "row")
            .find(|n| {
                let path = n.children().find(|c| c.attribute("class") == Some("main"));
                let d = path.and_then(|p| p.attribute("d").map(str::to_owned)).unwrap_or_default();
                let y = d.trim_start_matches('M').split([' ', 'H']).nth(1);
                y.and_then(|y| y.parse::<f64>().ok()).is_some_and(|y| (y - middle).abs() < 0.01)
            })
            .expect("a row in the frame");
        let (here, asked) =
            (&piece.rows[number(&shown, "data-row") as usize - 1], &piece.rows[row as usize - 1]);
        assert_eq!(piece.spans_of(here), piece.spans_of(asked), "row {row}");
    }
    for beyond in [0, 100_000] {
        let options = RowChartOptions { current_row: Some(beyond), ..RowChartOptions::default() };
        assert!(!row_chart(piece, &options).svg().contains("class=\"current\""));
    }
}

#[test]
fn a_large_irregular_chart_stays_under_a_megabyte() {
    let piece = irregular(200, 200);
    let svg = checked(&row_chart(&piece, &RowChartOptions::default()));
    assert_eq!(check_rows(&piece, &svg), 200);
    assert!(svg.len() < 1_000_000, "{} bytes", svg.len());
}

#[test]
fn every_family_is_drawn_on_every_bed_the_same_each_time() {
    let sizes = bench().sizes;
    let ids = ["m3-6", "y7-8", "men-l"];
    checked(&body_picture(&sizes, &ids, &sizes.known().main(), &BOTH));
    for (of, garment) in bench().garment_ids().into_iter().enumerate() {
        for (on, machine) in MACHINES.into_iter().enumerate() {
            let run = run_of(&garment, machine, "m3-6,y7-8,men-l");
            checked(&finished_picture(&run, &BOTH));
            let Some(picture) = schematic(&run, &[LengthUnit::Cm]) else {
                assert_eq!(run.good().count(), 0, "{garment} {machine}");
                continue;
            };
            assert_eq!(checked(&picture), schematic(&run, &[LengthUnit::Cm]).expect("too").svg());
            // Each garment in each of its sizes on some bed, and on each bed in one.
            let nth = (of + on) % run.good().count().max(1);
            for (size, made) in run.good().skip(nth).take(1) {
                let charts = row_charts(made, &size.body.label);
                for chart in &charts {
                    checked(chart);
                }
                assert_eq!(charts, row_charts(made, &size.body.label));
            }
        }
    }
}

/// WCAG 2.2 contrast from its text, apart from the product's own.
fn contrast(a: &str, b: &str) -> f64 {
    let luminance = |shade: &str| {
        let channel = |at: usize| {
            let c = f64::from(u8::from_str_radix(&shade[at..at + 2], 16).expect("hex")) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    };
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn words_can_be_read_and_lie_on_the_page() {
    for garment in bench().garment_ids() {
        let run = run_of(&garment, "standard", "m6-12,y7-8,women-m");
        let mut pictures: Vec<Drawing> = schematic(&run, &BOTH).into_iter().collect();
        pictures.push(finished_picture(&run, &BOTH));
        for (_, made) in run.good() {
            pictures.extend(row_charts(made, "size"));
        }
        for picture in pictures {
            let svg = picture.svg();
            let document = Document::parse(&svg).expect("well formed");
            for text in document.descendants().filter(|n| n.has_tag_name("text")) {
                assert!(number(&text, "font-size") >= 2.5, "{text:?}");
                let ink = text.attribute("fill").expect("ink");
                assert!(contrast(ink, "#ffffff") >= 4.5, "{ink}");
                let words = text.text().unwrap_or_default();
                let (mut x, mut y) = (number(&text, "x"), number(&text, "y"));
                for group in text.ancestors() {
                    if let Some(moved) = group.attribute("transform") {
                        let inside = moved.trim_start_matches("translate(").trim_end_matches(')');
                        let (dx, dy) = inside.split_once(' ').expect("x y");
                        x += dx.parse::<f64>().expect("x");
                        y += dy.parse::<f64>().expect("y");
                    }
                }
                let bold = text.attribute("font-weight").is_some();
                let weight = if bold {
                    report::drawing::Weight::Bold
                } else {
                    report::drawing::Weight::Regular
                };
                let wide = report::drawing::text_width(words, number(&text, "font-size"), weight);
                let left = match text.attribute("text-anchor") {
                    Some("middle") => x - wide / 2.0,
                    Some("end") => x - wide,
                    _ => x,
                };
                assert!(
                    left >= -0.5 && left + wide <= picture.width_mm + 0.5,
                    "{garment}: `{words}` from {left:.1} to {:.1} on {:.1} mm",
                    left + wide,
                    picture.width_mm
                );
                assert!(y > 0.0 && y <= picture.height_mm + 0.5, "{garment}: `{words}` at {y}");
            }
            for shape in document.descendants() {
                for stroke in shape.attribute("stroke").into_iter().filter(|s| *s != "#ffffff") {
                    assert!(contrast(stroke, "#ffffff") >= 3.0, "{garment}: {stroke}");
                }
            }
        }
    }
}

#[test]
fn hostile_titles_stay_words() {
    let hostile = "</text><script>alert(1)</script>\u{1}\"'& \u{202e}x";
    let mut run = run_of("cuff", "standard", "women-m,men-m");
    run.garment.title = hostile.into();
    for size in &mut run.sizes {
        size.body.label = hostile.repeat(20);
        let made = size.made.as_mut().expect("made");
        for piece in &mut made.graded.run.pieces {
            piece.title = hostile.into();
            piece.name = hostile.into();
        }
        for finished in &mut made.graded.finished {
            finished.title = hostile.into();
        }
    }
    let (_, made) = run.good().next().expect("knittable");
    let mut pictures: Vec<Drawing> = row_charts(made, hostile);
    pictures.extend(schematic(&run, &BOTH));
    pictures.push(finished_picture(&run, &BOTH));
    for picture in &pictures {
        let svg = checked(picture);
        let document = Document::parse(&svg).expect("well formed");
        assert!(document.descendants().all(|n| !n.has_tag_name("script")));
        assert!(svg.len() < 300_000);
    }
}

#[test]
fn the_command_line_prints_pictures_and_refuses_them_where_there_are_none() {
    let rows = ["pattern", "tam", "--size", "women-m", "--format", "svg", "--picture", "rows"];
    for args in [
        &["pattern", "tam", "--sizes", "y4,women-m", "--format", "svg", "--units", "both"][..],
        &rows,
        &["chart", "tam", "--sizes", "women", "--format", "svg"],
        &["chart", "--format", "svg", "--units", "in"],
    ] {
        let Ran { code, out, err } = oddments(args);
        assert_eq!(code, Some(0), "{args:?}: {err}");
        Document::parse(&out).expect("well formed");
        assert_eq!(oddments(args).out, out, "the same bytes");
    }
    let many = ["pattern", "tam", "--sizes", "women", "--format", "svg", "--picture", "rows"];
    let Ran { code, out, err } = oddments(&many);
    assert_eq!((code, out.as_str()), (Some(2), ""), "{err}");
    assert!(err.contains("one size") && err.contains("--size"), "{err}");
    let Ran { code, err, .. } = oddments(&["grade", "tam", "--format", "svg"]);
    assert_eq!(code, Some(2));
    assert!(err.contains("possible values: table, json, csv, markdown]"), "{err}");
}

/// What `garment show` writes of a piece stands in the schematic: its name, which are alike, its height
/// and rows, and no less than its widest fabric.
#[test]
fn garment_show_has_the_figures_of_the_schematic() {
    let (mut pieces, mut as_wide) = (0, 0);
    for id in bench().garment_ids() {
        for size in ["y2-3", "women-m"] {
            let run = grade(&id, "standard", &demo("standard"), size, &[]).expect("graded");
            let Some((size, made)) = run.good().next() else { continue };
            let label = &size.body.label;
            let about = schematic(&run, &[LengthUnit::Cm]).expect("drawn").about;
            let picture = report::garment_picture(&run, label, size, made);
            let heads = picture.lines().filter(|line| line.contains(" needles (")).count();
            assert_eq!(heads, about.matches(&format!(", {label}: ")).count(), "{id} {label}");
            for line in picture.lines().filter(|line| line.contains(" needles (")) {
                let (head, figures) = line.rsplit_once(": ").expect("a heading");
                let start = format!(". {head}, {label}: ");
                let (_, told) = about.split_once(&start).unwrap_or_else(|| panic!("{id}: {start}"));
                let told = told.split(". ").next().expect("a piece").trim_end_matches('.');
                let (rows, size) =
                    figures.split_once(") x ").and_then(|(_, f)| f.split_once(", ")).expect("rows");
                let (wide, high) = size.split_once(" x ").expect("two lengths");
                assert!(told.contains(&format!("{high}, {rows}")), "{id}: {line}: {told}");
                let widths = told.split("; ").filter(|part| part.starts_with("width"));
                let widest = widths
                    .filter_map(|part| part.split(" cm").next()?.rsplit(' ').next()?.parse().ok())
                    .fold(0.0, f64::max);
                let wide: f64 = wide.parse().expect("a length");
                assert!(wide >= widest - 0.05, "{id}: {line}: {told}");
                as_wide += usize::from((wide - widest).abs() < 0.05);
                pieces += 1;
            }
        }
    }
    assert!(pieces > 60 && as_wide * 10 > pieces * 9, "{as_wide} of {pieces} pieces");
}
