//! The walk at the machine against the run it unfolds: same rows, same needles, same words.

use knit::needle::Side;
use knit::run::Deed;
use report::{self, Walk};
use units::LengthUnit;

use crate::support::{bench, demo, grade};

/// Every shipped garment in several sizes, and one that shapes in every way there is.
fn each(mut check: impl FnMut(&str, &knit::size_run::Made, &Walk)) {
    let swatch = demo("standard");
    let mut walked = 0;
    let shaped = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/sampler");
    for id in bench().garment_ids().into_iter().chain([shaped.to_owned()]) {
        let run =
            grade(&id, "standard", &swatch, "m6-12,y5-6,women-m,men-xl", &[]).expect("graded");
        for (size, made) in run.good() {
            let walk = report::walk(&run, made, LengthUnit::Cm);
            assert!(walk.whole, "{id}");
            check(&format!("{id} {}", size.body.id), made, &walk);
            walked += 1;
        }
    }
    assert!(walked > 25, "only {walked} walks");
}

#[test]
fn its_rows_are_the_rows_of_the_run() {
    each(|name, made, walk| {
        for (index, piece) in made.graded.run.pieces.iter().enumerate() {
            let stops: Vec<_> =
                walk.stops.iter().filter(|s| s.piece == Some(index as u32)).collect();
            let passes: Vec<_> = stops.iter().filter(|s| s.pass.is_some()).collect();
            assert_eq!(passes.len(), piece.rows.len(), "{name} {}", piece.name);
            for (stop, row) in passes.iter().zip(&piece.rows) {
                assert_eq!(stop.counter.1, row.counter, "{name} {}", piece.name);
                assert_eq!(stop.carriage, (row.from, row.from.other()), "{name} {}", piece.name);
                let pass = stop.pass.as_ref().expect("a pass");
                assert_eq!(pass.spans, piece.spans_of(row), "{name} {}", piece.name);
                let to = row.from.other();
                assert_eq!(pass.text, format!("Knit 1 row to the {to}."), "{name}");
            }
        }
        let rows: usize = made.graded.run.pieces.iter().map(|p| p.rows.len()).sum();
        assert_eq!(walk.rows as usize, rows, "{name}");
        assert_eq!(walk.stops.last().expect("stops").rows.1 as usize, rows, "{name}");
    });
}

#[test]
fn every_deed_of_the_run_is_told_once_and_in_order() {
    each(|name, made, walk| {
        for (index, piece) in made.graded.run.pieces.iter().enumerate() {
            let told: Vec<_> = walk
                .stops
                .iter()
                .filter(|s| s.piece == Some(index as u32))
                .flat_map(|s| &s.deeds)
                .filter_map(|d| Some((d.deed?, d.needles?)))
                .collect();
            // Where no loop is due, nothing is done.
            let due = piece.events.iter().filter(|e| e.deed != Deed::Hang || e.loops > 0);
            let done: Vec<_> = due.map(|e| (e.deed, e.needles)).collect();
            assert_eq!(told.len(), done.len(), "{name} {}", piece.name);
            let parted = told.iter().zip(&done).position(|(told, done)| told != done);
            assert_eq!(parted, None, "{name} {}", piece.name);
        }
        let hung: u32 = walk.stops.iter().flat_map(|s| &s.deeds).map(|d| d.loops).sum();
        let events = made.graded.run.pieces.iter().flat_map(|p| &p.events);
        let due: u32 = events.filter(|e| e.deed == Deed::Hang).map(|e| e.loops).sum();
        assert_eq!(hung, due, "{name}");
    });
}

#[test]
fn each_stop_takes_up_where_the_last_one_left_off() {
    each(|name, _, walk| {
        for pair in walk.stops.windows(2).filter(|pair| pair[0].piece == pair[1].piece) {
            let [before, after] = pair else { unreachable!("windows of two") };
            assert_eq!(before.rows.1, after.rows.0, "{name}");
            if before.piece.is_some() {
                // Setting the counter back is part of the stop that does it.
                let reset = after.deeds.iter().any(|d| d.text.contains("row counter to 000"));
                assert!(before.counter.1 == after.counter.0 || reset, "{name}: {after:?}");
                assert!(before.carriage.1 == after.carriage.0 || reset, "{name}: {after:?}");
            }
        }
    });
}

#[test]
fn no_held_needle_is_knitted() {
    let mut held_somewhere = 0;
    each(|name, _, walk| {
        for stop in walk.stops.iter() {
            let Some(pass) = &stop.pass else { continue };
            held_somewhere += stop.held.len();
            for span in pass.spans.iter().filter(|span| !span.ribber) {
                for held in &stop.held {
                    let apart = held.right < span.span.left || span.span.right < held.left;
                    assert!(
                        apart,
                        "{name} RC {}: {held} held, {} knitted",
                        stop.counter.1, span.span
                    );
                }
            }
        }
    });
    assert!(held_somewhere > 100);
}

/// The walk of a tam says the same as its pattern, for one visit instead of for all.
#[test]
fn its_words_are_those_of_the_pattern() {
    let run = grade("tam", "standard", &demo("standard"), "women-m", &[]).expect("graded");
    let (_, made) = run.good().next().expect("knittable");
    let walk = report::walk(&run, made, LengthUnit::Cm);
    let texts: Vec<&str> =
        walk.stops.iter().flat_map(|s| &s.deeds).map(|d| d.text.as_str()).collect();
    let pattern = report::pattern_text(&run, &report::PrintLook::new(LengthUnit::Cm), true)
        .replace(['\n'], " ");
    let pattern = pattern.split_whitespace().collect::<Vec<_>>().join(" ");
    // Whatever names no single needle is in the pattern word by word.
    let mut whole = 0;
    for text in &texts {
        if ["Cast on", "Transfer", "Graft", "Draw an end", "Block", "Set the row counter"]
            .iter()
            .any(|begin| text.starts_with(begin))
        {
            assert!(pattern.contains(text), "{text}");
            whole += 1;
        }
    }
    assert!(whole >= 4, "{texts:?}");
    assert!(
        texts.iter().any(|t| t.starts_with("Hang the next loop of the band on R")),
        "{texts:?}"
    );
    assert_eq!(walk.stops[0].carriage, (Side::Right, Side::Right));
}

#[test]
fn a_program_of_endless_hand_work_is_cut_and_says_so() {
    let folder = tempfile::tempdir().expect("a folder");
    let source = script::PluginSource {
        folder: folder.path().display().to_string(),
        files: [
            (
                "plugin.toml".to_owned(),
                b"id = \"endless\"\ntitle = \"Endless\"\nversion = \"1.0.0\"\napi = 1\nsummary = \"x\"\n\
                  measures = [\"head_girth\"]\nmeasure = \"head_girth\"\nstructures = [\"plain\"]\n\
                  [sections]\nmain = \"Main\"\n"
                    .to_vec(),
            ),
            ("init.luau".to_owned(), ENDLESS.as_bytes().to_vec()),
        ]
        .into(),
    };
    let bench = bench();
    let measures: Vec<&str> = bench.sizes.known().iter().map(knit::body::Measure::name).collect();
    let plugin = script::Plugin::load(source, &measures).expect("loads");
    let swatch = demo("standard");
    let run = bench
        .grade(&app::GradeRequest {
            plugin: &plugin,
            machine: bench.machine("standard").expect("known"),
            swatch: &swatch,
            options: Vec::new(),
            sizes: "women-m".to_owned(),
            person: None,
        })
        .expect("graded");
    let (_, made) = run.good().next().unwrap_or_else(|| panic!("{:?}", run.refusals()));
    let walk = report::walk(&run, made, LengthUnit::Cm);
    assert!(!walk.whole);
    assert!(walk.stops.len() <= 25_000);
    assert!(walk.stops.iter().map(|s| s.deeds.len()).sum::<usize>() <= 100_000);
}

const ENDLESS: &str = r#"return function(input)
	local steps = {
		step.cast_on({ needles = needles.centred(20), structure = "plain", method = "wound" }),
		step.again({ times = 50000, steps = { step.note({ text = "look at it" }) } }),
		step.again({ times = 60000, steps = { step.note({ text = "look again" }) } }),
		step.knit({ rows = 10 }), step.cast_off({}),
	}
	return { pieces = { piece({ name = "long", title = "Long", section = "main", steps = steps }) },
		finished = { { name = "width", title = "Width", target = 100, parts = { { piece = "long", width = true } } } } }
end
"#;
