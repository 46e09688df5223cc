//! The pattern as data against a simulation that knows nothing of the bed: it reads the JSON, knits
//! it on needles of its own, and says where the two disagree.

use std::fmt::Display;

use app::GradeRequest;
use knit::size_run::SizeRun;
use loom::schema;
use report::pattern_json;
use serde_json::value::Index;
use serde_json::{Value, json};
use units::LengthUnit;

use crate::support::{bench, demo, oddments};

const SAMPLER: &str = "fixtures/sampler";

const MACHINES: [&str; 4] = ["fine", "standard", "mid", "bulky"];

/// Garments made otherwise than as they come, a word or a number at a time.
const VARIANTS: [(&str, &[(&str, &str)]); 32] = [
    ("bootee", &[("cuff", "ribbed")]),
    ("bootee", &[("cuff", "hem")]),
    ("cardigan", &[("welts", "hem"), ("buttonholes", "left")]),
    ("cuff", &[("structure", "plain"), ("thumb", "slit")]),
    ("cuff", &[("structure", "rib 2x2"), ("thumb", "seam")]),
    ("cuff", &[("structure", "plain"), ("edge", "rolled")]),
    ("hat", &[("brim", "rib 1x1")]),
    ("hat", &[("brim", "rib 2x2"), ("join", "seamed"), ("band_pieces", "2")]),
    ("headband", &[("fabric", "rib 2x2")]),
    ("headband", &[("direction", "upright")]),
    ("leg-warmer", &[("top", "over-knee"), ("ends", "rib 2x2")]),
    ("leg-warmer", &[("ends", "hem")]),
    ("mitred-square", &[("mitre", "decreases")]),
    ("mitt", &[("thumb", "opening"), ("edge", "rolled"), ("cuff_structure", "rib 2x2")]),
    ("mitt", &[("cuff_structure", "plain"), ("contrast_cuff", "true")]),
    ("mitten", &[("cuff_structure", "plain"), ("tip", "gathered")]),
    ("mitten", &[("cuff_structure", "rib 2x2"), ("contrast_cuff", "true")]),
    ("mitten", &[("thumb", "none")]),
    ("neck-ring", &[("fabric", "plain")]),
    ("neck-ring", &[("fabric", "rib 2x2")]),
    ("pullover", &[("welts", "hem")]),
    ("scarf", &[("fabric", "plain"), ("ends", "rib")]),
    ("scarf", &[("fabric", "doubled")]),
    ("shawl", &[("rim", "band")]),
    ("slipover", &[("welts", "hem")]),
    ("sock", &[("leg", "knee")]),
    ("sock", &[("leg", "mid-calf"), ("top", "hem")]),
    ("sock", &[("top", "rib 2x2"), ("leg", "ankle")]),
    ("sock-flat", &[("leg", "knee"), ("top", "hem")]),
    ("sock-flat", &[("mirror", "false"), ("top", "rib 2x2")]),
    ("tam", &[("band_structure", "plain")]),
    ("tam", &[("band_structure", "rib 2x2"), ("join", "seamed")]),
];

fn graded(garment: &str, machine: &str, sizes: &str, set: &[(&str, &str)]) -> SizeRun {
    let bench = bench();
    let plugin = bench.garment(garment).expect("a garment");
    bench
        .grade(&GradeRequest {
            plugin: &plugin,
            machine: bench.machine(machine).expect("a profile"),
            swatch: &demo(machine),
            options: set.iter().map(|(n, v)| ((*n).to_owned(), (*v).to_owned())).collect(),
            sizes: sizes.to_owned(),
            person: None,
        })
        .unwrap_or_else(|faults| panic!("{garment} on {machine}, {set:?}: {faults:?}"))
}

/// What is read: the text, and nothing else.
fn read(run: &SizeRun) -> Value {
    loom::read(&pattern_json(run, LengthUnit::Cm))
}

fn all(value: &Value, key: impl Index + Display) -> &[Value] {
    value.get(&key).and_then(Value::as_array).unwrap_or_else(|| panic!("no {key}"))
}

/// Knits whatever is in the document: how many sizes, and how many passes.
fn knit(document: &Value) -> Result<(usize, u64), String> {
    let (mut sizes, mut passes) = (0, 0);
    for group in document.as_array().ok_or("no groups")? {
        for size in all(group, "knitting") {
            let knitted = loom::knit(&group["machine"], size);
            passes += knitted.map_err(|fault| format!("{}: {fault}", size["size"]))?;
            sizes += 1;
        }
    }
    Ok((sizes, passes))
}

fn shipped() -> Vec<String> {
    bench().garment_ids()
}

/// Every shipped garment in all sizes that can be knitted on a machine.
fn by_the_page(machine: &str, least: usize) {
    let mut seen = 0;
    for garment in shipped() {
        let run = graded(&garment, machine, "all", &[]);
        let (sizes, passes) =
            knit(&read(&run)).unwrap_or_else(|fault| panic!("{garment} on {machine}, {fault}"));
        assert_eq!(sizes, run.good().count(), "{garment} on {machine}");
        let made = run.good().map(|(_, made)| &made.graded.run);
        let rows = made.flat_map(|run| run.pieces.iter().map(|piece| piece.rows.len() as u64));
        assert_eq!(passes, rows.sum::<u64>(), "{garment} on {machine}");
        seen += sizes;
    }
    assert!(seen >= least, "{seen} sizes on {machine}");
}

#[test]
fn every_garment_is_knitted_by_the_page_on_the_fine_bed() {
    by_the_page("fine", 300);
}

#[test]
fn every_garment_is_knitted_by_the_page_on_the_standard_bed() {
    by_the_page("standard", 300);
}

#[test]
fn every_garment_is_knitted_by_the_page_on_the_mid_bed() {
    by_the_page("mid", 280);
}

#[test]
fn every_garment_is_knitted_by_the_page_on_the_bulky_bed() {
    by_the_page("bulky", 300);
}

#[test]
fn garments_made_otherwise_are_knitted_by_the_page_too() {
    for (garment, set) in VARIANTS {
        let mut seen = 0;
        for machine in ["standard", "mid"] {
            let sizes = if garment == "mitred-square" { "all" } else { "y4,men-m" };
            let document = read(&graded(garment, machine, sizes, set));
            let knitted = knit(&document);
            seen += knitted.unwrap_or_else(|fault| panic!("{garment} {set:?}: {fault}")).0;
        }
        // A bootee is for a baby, and some are for a ribber.
        assert!(seen > 0 || garment == "bootee", "{garment} {set:?}");
    }
}

/// What API 2 can do and no shipped garment does: eyelets, darts, yarn broken on the way.
#[test]
fn the_sampler_is_knitted_by_the_page() {
    for machine in MACHINES {
        let run = graded(SAMPLER, machine, "all", &[]);
        let knitted = knit(&read(&run)).unwrap_or_else(|fault| panic!("{machine}, {fault}"));
        assert!(knitted.0 > 0, "{machine}");
    }
}

/// The simulation is no check of the bed where it leans on it.
#[test]
fn the_simulation_shares_no_code_with_the_bed() {
    let manifest: toml::Table = include_str!("../loom/Cargo.toml").parse().expect("TOML");
    let uses: Vec<&String> = manifest["dependencies"].as_table().expect("a table").keys().collect();
    assert_eq!(uses, ["serde_json"]);
    for text in [include_str!("../loom/loom.rs"), include_str!("../loom/schema.rs")] {
        for line in text.lines().map(str::trim_start).filter(|line| line.starts_with("use ")) {
            let own = ["use std::", "use serde_json::"].iter().any(|own| line.starts_with(own));
            assert!(own, "{line}");
        }
        for floor in ["knit::", "report::", "app::", "script::", "units::", "crate::", "super::"] {
            let uses = text.lines().filter(|line| line.contains(floor)).count();
            assert_eq!(uses, 0, "{floor}");
        }
    }
}

#[test]
fn the_data_is_as_its_schema_says() {
    let schema = loom::read(report::PATTERN_SCHEMA);
    let shown = oddments(&["schema", "pattern"]);
    assert_eq!((shown.code, shown.out.as_str()), (Some(0), report::PATTERN_SCHEMA));
    assert!(oddments(&["schema"]).out.lines().any(|kind| kind == "pattern"));
    let check = |garment: &str, document: &Value| {
        schema::check(&schema, document).unwrap_or_else(|fault| panic!("{garment}: {fault}"));
    };
    for garment in shipped() {
        let sizes = if garment == "mitred-square" { "all" } else { "newborn,y4,women-m,men-xl" };
        for machine in ["standard", "bulky"] {
            check(&garment, &read(&graded(&garment, machine, sizes, &[])));
        }
    }
    for (garment, set) in VARIANTS {
        let sizes = if garment == "mitred-square" { "all" } else { "m6-12,women-m" };
        check(garment, &read(&graded(garment, "standard", sizes, set)));
    }
    let mut document = read(&graded(SAMPLER, "standard", "all", &[]));
    check(SAMPLER, &document);
    // It is not so wide that all goes through.
    for (place, wrong) in [
        ("/0/knitting/0/pieces/0/steps/0/op", json!("cast_onto")),
        ("/0/knitting/0/pieces/0/steps/0/done/times", json!(-1)),
        ("/0/knitting/0/pieces/0/steps/0/needles", json!(7)),
        ("/0/knitting/0/pieces/0/found/loops/made", json!("many")),
        ("/0/machine", json!({})),
        ("/0/chapters/0/lines/0/steps", json!([{ "op": "knit", "rows": 4 }])),
        ("/0/folded/0/sizes", Value::Null),
    ] {
        let right = std::mem::replace(document.pointer_mut(place).expect("a place"), wrong);
        assert!(schema::check(&schema, &document).is_err(), "{place}");
        *document.pointer_mut(place).expect("a place") = right;
    }
    check(SAMPLER, &document);
}

/// Steps that have a line: the others stand in the counter, or in what is written around them.
fn told(steps: &[Value], into: &mut Vec<Value>) {
    for step in steps {
        let op = step["op"].as_str().expect("an op");
        let once = op == "again" && step["times"] == 1;
        let silent = once || matches!(op, "mark" | "carriage_at");
        let reached = step["done"]["from"].is_object() && step["times"] != 0;
        if reached && !silent {
            let mut line = step.clone();
            line.as_object_mut().expect("a step").remove("of");
            into.push(line);
        }
        if reached && op == "again" {
            told(all(step, "of"), into);
        }
    }
}

/// Lines with words and steps without are the same ones, and a chapter names its pieces: where it stands for
/// several, they are alike step by step.
#[test]
fn the_words_have_the_steps_of_the_pieces_they_name() {
    let mut shared = 0;
    for garment in shipped() {
        let sizes = if garment == "mitred-square" { "all" } else { "m6-12,y4,women-m" };
        let document = read(&graded(&garment, "standard", sizes, &[]));
        for group in document.as_array().expect("groups") {
            for (nth, size) in all(group, "knitting").iter().enumerate() {
                assert_eq!(size["size"], group["sizes"][nth]);
                let pieces = all(size, "pieces");
                let mut named = Vec::new();
                for chapter in all(group, "chapters") {
                    let own = all(&chapter["pieces"], nth);
                    let Some(first) = own.first() else { continue };
                    shared += usize::from(own.len() > 1);
                    let of = |name: &Value| {
                        let piece = pieces.iter().find(|piece| piece["name"] == *name);
                        let mut steps = Vec::new();
                        told(all(piece.expect("a piece"), "steps"), &mut steps);
                        steps
                    };
                    let lines = all(chapter, "lines").iter();
                    let steps = lines.filter_map(|line| line["steps"].get(nth)).cloned();
                    let more = ["set_out", "hang_exceptions", "remark"];
                    let steps = steps.filter(|step| more.iter().all(|op| step["op"] != *op));
                    assert_eq!(steps.collect::<Vec<_>>(), of(first), "{garment}: {first}");
                    for other in own {
                        let ops = |steps: Vec<Value>| {
                            steps.into_iter().map(|step| step["op"].clone()).collect::<Vec<_>>()
                        };
                        assert_eq!(ops(of(other)), ops(of(first)), "{garment}: {other}");
                    }
                    named.extend(own.to_vec());
                }
                let all: Vec<Value> = pieces.iter().map(|piece| piece["name"].clone()).collect();
                assert_eq!(named, all, "{garment}");
            }
        }
    }
    assert!(shared > 5, "{shared} chapters of several pieces");
}

/// The finishing as it is written has every step of the finishing, said twice or "with the other one".
#[test]
fn the_finishing_that_is_told_is_all_of_it() {
    fn unfold(step: &Value, into: &mut Vec<Value>) {
        if step["op"] == "same_again" {
            for step in all(step, "of") {
                unfold(step, into);
            }
            return;
        }
        let mut own = step.clone();
        let then = own.as_object_mut().expect("a step").remove("then");
        into.push(own);
        for step in then.iter().flat_map(|then| then.as_array().expect("steps")) {
            unfold(step, into);
        }
    }
    for garment in shipped() {
        let sizes = if garment == "mitred-square" { "all" } else { "m6-12,women-m" };
        let document = read(&graded(&garment, "standard", sizes, &[]));
        for group in document.as_array().expect("groups") {
            let chapter = all(group, "chapters").last().expect("the finishing");
            for (nth, size) in all(group, "knitting").iter().enumerate() {
                let mut steps = Vec::new();
                for line in all(chapter, "lines") {
                    unfold(&line["steps"][nth], &mut steps);
                }
                assert_eq!(steps, all(size, "finishing"), "{garment}: {}", size["size"]);
            }
        }
    }
}

// Faults planted, one at a time: each must be found.

/// Steps that do nothing to fabric or counter.
const WORDS: [&str; 5] = ["note", "dial", "block", "carriage_at", "pitch"];

/// Every place in a value, with what stands there.
fn places(value: &Value, at: &str, into: &mut Vec<String>) {
    into.push(at.to_owned());
    match value {
        Value::Object(keys) => {
            for (key, inner) in keys {
                places(inner, &format!("{at}/{key}"), into);
            }
        }
        Value::Array(items) => {
            for (nth, inner) in items.iter().enumerate() {
                places(inner, &format!("{at}/{nth}"), into);
            }
        }
        _ => {}
    }
}

/// The needle beside, to the right.
fn beside(needle: &str) -> Option<String> {
    let number: i32 = needle.get(1..)?.parse().ok()?;
    Some(match (needle.as_bytes().first()?, number) {
        (b'L', 1) => "R1".to_owned(),
        (b'L', n) => format!("L{}", n - 1),
        (b'R', n) => format!("R{}", n + 1),
        _ => return None,
    })
}

/// The same word or number, wrong: needles one over, counts one more, the other side, another name.
fn wrong(key: &str, value: &Value) -> Option<Value> {
    Some(match value {
        Value::Number(n) if key != "width_mm" && key != "value" => json!(n.as_u64()? + 1),
        Value::Bool(flag) if matches!(key, "tube" | "yarn_broken" | "all") => json!(!flag),
        Value::String(text) => match (key, text.as_str()) {
            (_, "left") => json!("right"),
            (_, "right") => json!("left"),
            ("needles" | "needle" | "from" | "to" | "at" | "first_needles" | "last_needles", _) => {
                let ends: Option<Vec<String>> = text.split('-').map(beside).collect();
                json!(ends?.join("-"))
            }
            ("structure", "plain") => json!("circular"),
            ("structure", _) => json!("plain"),
            ("emptied", "work") => json!("out"),
            ("from_bed" | "to_bed", "main") => json!("ribber"),
            ("edge" | "name" | "piece" | "section", _) => json!(format!("{text}-x")),
            _ => return None,
        },
        _ => return None,
    })
}

/// What a count can't tell: how far in from its end a row is shaped or a loop moved, which of two edges of
/// one length is sewn, what a piece is called that nothing speaks of.
fn is_a_choice(size: &Value, place: &str, key: &str) -> bool {
    let keys: Vec<&str> = place.split('/').collect();
    let edge = keys.contains(&"finishing") || keys.contains(&"edge");
    let step = place.rsplit_once('/').and_then(|(step, _)| size.pointer(step));
    let moved = step.is_some_and(|step| step["op"] == "transfer");
    match key {
        "inset" | "at" | "past_held" => true,
        "side" | "piece" => edge,
        "name" => keys.len() == 4 && keys[1] == "pieces",
        "to" | "structure" => moved,
        _ => false,
    }
}

/// How many faults were planted in a size, at each of so many places, and those that went unseen.
fn planted(machine: &Value, size: &Value, every: usize) -> (usize, Vec<String>) {
    let mut at = Vec::new();
    places(size, "", &mut at);
    let (mut planted, mut unseen) = (0, Vec::new());
    let mut faulty = size.clone();
    for place in at.into_iter().step_by(every) {
        let value = size.pointer(&place).expect("a place");
        let key = place.rsplit('/').next().unwrap_or_default();
        let wrong = wrong(key, value).filter(|_| !is_a_choice(size, &place, key));
        if let Some(wrong) = wrong {
            planted += 1;
            *faulty.pointer_mut(&place).expect("a place") = wrong.clone();
            if loom::knit(machine, &faulty).is_ok() {
                unseen.push(format!("{place}: {wrong} for {value}"));
            }
            *faulty.pointer_mut(&place).expect("a place") = value.clone();
        }
        let (Some(op), Some((list, nth))) = (value["op"].as_str(), place.rsplit_once('/')) else {
            continue;
        };
        let nth: usize = nth.parse().expect("a number");
        if WORDS.contains(&op) {
            continue;
        }
        planted += 1;
        let steps = |faulty: &mut Value, put: Option<Value>| {
            let steps = faulty.pointer_mut(list).and_then(Value::as_array_mut).expect("steps");
            match put {
                Some(step) => steps.insert(nth, step),
                None => drop(steps.remove(nth)),
            }
        };
        steps(&mut faulty, None);
        if loom::knit(machine, &faulty).is_ok() {
            unseen.push(format!("{place}: no {op}"));
        }
        steps(&mut faulty, Some(value.clone()));
    }
    assert_eq!(&faulty, size, "put right again");
    (planted, unseen)
}

#[test]
fn a_fault_in_the_data_does_not_go_unseen() {
    let mut all_planted = 0;
    // The larger ones are tried at some places only: their steps are much alike.
    for (garment, size, set, every) in [
        ("tam", "newborn", &[][..], 1),
        ("sock", "m3-6", &[], 7),
        ("mitten", "m12-18", &[], 5),
        ("hat", "newborn", &[("brim", "rib 1x1")], 3),
        ("slipover", "newborn", &[], 7),
        (SAMPLER, "all", &[], 1),
    ] {
        let document = read(&graded(garment, "standard", size, set));
        let group = &document[0];
        let (machine, size) = (&group["machine"], &group["knitting"][0]);
        assert_eq!(loom::knit(machine, size).map(|passes| passes > 0), Ok(true), "{garment}");
        let (planted, unseen) = planted(machine, size, every);
        all_planted += planted;
        assert!(unseen.is_empty(), "{garment}: {} of {planted} unseen: {unseen:#?}", unseen.len());
    }
    assert!(all_planted > 1500, "{all_planted} faults");
}

/// The bed it is knitted on is part of it.
#[test]
fn a_bed_too_short_or_without_ribber_does_not_go_unseen() {
    let document = read(&graded("sock", "standard", "women-m", &[]));
    let (machine, size) = (&document[0]["machine"], &document[0]["knitting"][0]);
    assert!(loom::knit(machine, size).is_ok());
    for (key, wrong) in
        [("needles", json!("L20-R20")), ("ribber", json!(false)), ("out_of_work", json!(["L2"]))]
    {
        let mut machine = machine.clone();
        machine[key] = wrong;
        assert!(loom::knit(&machine, size).is_err(), "{key}");
    }
}
