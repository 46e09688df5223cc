//! Whole commands: output, diagnostics, exit codes.

use std::fs;
use std::process::Output;

use assert_cmd::Command;
use serde_json::Value;

fn oddments(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_oddments"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("NO_COLOR", "1")
        .args(arguments)
        .output()
        .expect("the program starts")
}

fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("text")
}

fn stderr(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("text")
}

fn json(arguments: &[&str]) -> (Value, Output) {
    let output = oddments(arguments);
    let value = serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|e| panic!("{e}: {}{}", stdout(&output), stderr(&output)));
    (value, output)
}

#[test]
fn grade_shows_the_tables() {
    let output = oddments(&["grade", "tam", "--sizes", "newborn,y5-6,women-m,men-xl"]);
    assert_eq!(output.status.code(), Some(0));
    insta::assert_snapshot!("grade_tam", stdout(&output));
}

/// One size may be asked for as `pattern` is asked.
#[test]
fn one_size_is_graded_by_either_name() {
    let one = oddments(&["grade", "tam", "--size", "women-m"]);
    assert_eq!((one.status.code(), stderr(&one)), (Some(0), String::new()));
    assert_eq!(stdout(&one), stdout(&oddments(&["grade", "tam", "--sizes", "women-m"])));
    let both = oddments(&["grade", "tam", "--size", "women-m", "--sizes", "y4"]);
    assert_eq!(both.status.code(), Some(2));
}

#[test]
fn pattern_for_one_size() {
    insta::assert_snapshot!(
        "pattern_one",
        stdout(&oddments(&["pattern", "tam", "--size", "y5-6"]))
    );
}

#[test]
fn pattern_for_several_sizes() {
    let output = oddments(&["pattern", "tam", "--sizes", "y4,y9-10,women-m", "--units", "in"]);
    insta::assert_snapshot!("pattern_several", stdout(&output));
}

/// Two band pieces instead of one read differently: those sizes get a pattern of their own.
#[test]
fn sizes_that_read_differently_get_patterns_of_their_own() {
    let text = stdout(&oddments(&["pattern", "tam", "--sizes", "women-l,women-xl"]));
    assert_eq!(text.matches("WEDGE TAM, SIZE").count(), 2, "{text}");
    assert!(text.contains("Band (knit 2 alike)"), "{text}");
}

#[test]
fn the_json_keeps_its_keys() {
    let (run, output) =
        json(&["grade", "tam", "--sizes", "women-m", "--set", "wedges=6", "--format", "json"]);
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(run["garment"], "tam");
    assert_eq!(run["machine"]["needles"], 200);
    assert!(run["swatches"]["plain"]["stitches_per_10_cm"].is_f64());
    let size = &run["sizes"][0];
    assert_eq!(size["size"], "women-m");
    assert_eq!(size["body"]["head_girth"], 560.0);
    assert_eq!(size["knittable"], true);
    assert_eq!(size["counts"]["wedges"], 6);
    for key in ["name", "mm", "target_mm", "measure", "ease"] {
        assert!(size["finished"][0].get(key).is_some(), "finished.{key}");
    }
    let hat = &size["pieces"][1];
    let needles = hat["needles"]["left"].as_u64().zip(hat["needles"]["right"].as_u64());
    let (left, right) = needles.expect("needles");
    assert_eq!(left + right, size["counts"]["needles"].as_u64().expect("needles"));
    let yarn = &size["yarn"];
    let total: f64 = yarn["sections"]
        .as_array()
        .expect("sections")
        .iter()
        .map(|s| s["grams"].as_f64().expect("grams"))
        .sum();
    assert!((total - yarn["grams"].as_f64().expect("grams")).abs() < 0.11);
    assert!(yarn["grams_low"].as_f64() < yarn["grams"].as_f64());
    for key in ["passes", "hand_moves", "minutes"] {
        assert!(size["work"][key].is_number(), "work.{key}");
    }
    assert!(size["warnings"].is_array() && size["cautions"].is_array());
}

/// The band, the loops, the hang points: the JSON tells where they don't match, and they add up.
#[test]
fn every_band_loop_is_hung_once() {
    let (run, _) = json(&["grade", "tam", "--format", "json"]);
    let sizes = run["sizes"].as_array().expect("sizes");
    assert_eq!(sizes.len(), 21);
    for size in sizes {
        let edges = size["edges"].as_array().expect("edges");
        let band = edges.iter().find(|e| e["name"] == "band").expect("band");
        let len = |key: &str| band[key].as_array().expect(key).len() as u64;
        let points = band["hang_points"].as_u64().expect("points");
        assert_eq!(points - len("points_without_loop"), band["loops"].as_u64().expect("loops"));
        assert_eq!(len("points_with_more"), 0);
    }
}

#[test]
fn all_four_machines_knit_the_whole_run() {
    for machine in ["fine", "standard", "mid", "bulky"] {
        let (run, output) = json(&["grade", "tam", "--machine", machine, "--format", "json"]);
        assert_eq!(output.status.code(), Some(0), "{machine}: {}", stderr(&output));
        assert!(run["sizes"].as_array().expect("sizes").iter().all(|s| s["knittable"] == true));
    }
}

#[test]
fn a_size_that_cannot_be_knitted_keeps_its_place_and_says_why() {
    let (run, output) = json(&[
        "grade",
        "tam",
        "--sizes",
        "women-m,women-xl",
        "--set",
        "band_pieces=1",
        "--format",
        "json",
    ]);
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(run["sizes"][0]["knittable"], true);
    let refused = &run["sizes"][1];
    assert_eq!(refused["knittable"], false);
    let hints = refused["refused"][0]["hints"].to_string();
    assert!(hints.contains("band_pieces=2") && hints.contains("looser pitch"), "{hints}");
    assert!(stderr(&output).contains("Women XL"), "{}", stderr(&output));
}

#[test]
fn made_to_measure_says_what_is_estimated() {
    let (run, output) = json(&[
        "grade",
        "fixtures/square",
        "--measure",
        "head_girth=58cm",
        "--name",
        "Ruan",
        "--format",
        "json",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let size = &run["sizes"][0];
    assert_eq!(size["label"], "Ruan");
    assert_eq!(size["body"]["head_girth"], 580.0);
    let hand = &size["estimated"]["hand_girth"];
    assert!(hand["sd_mm"].as_f64().expect("spread") > 5.0, "{hand}");
    assert!(size["estimated"].get("head_girth").is_none());
}

/// A garment nobody built in: two files in a folder.
#[test]
fn a_ten_line_garment_in_a_folder_works() {
    let folder = tempfile::tempdir().expect("a folder");
    let square = folder.path().join("square");
    fs::create_dir(&square).expect("made");
    for file in ["plugin.toml", "init.luau"] {
        let from = format!("{}/fixtures/square/{file}", env!("CARGO_MANIFEST_DIR"));
        fs::copy(from, square.join(file)).expect("copied");
    }
    let script = fs::read_to_string(square.join("init.luau")).expect("read");
    assert!(script.lines().count() <= 10, "{} lines", script.lines().count());
    let garments = folder.path().to_str().expect("a plain path");
    for arguments in [
        vec!["grade", "square", "--garments", garments, "--format", "json"],
        vec!["grade", square.to_str().expect("plain"), "--format", "json"],
    ] {
        let (run, output) = json(&arguments);
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        for size in run["sizes"].as_array().expect("sizes") {
            let width = size["finished"][0]["mm"].as_f64().expect("width");
            let hand = size["body"]["hand_girth"].as_f64().expect("hand");
            assert!((width - hand).abs() < 4.0, "{width} for {hand}");
        }
    }
    let list = oddments(&["garment", "list", "--garments", garments]);
    assert!(stdout(&list).contains("Square with a ribbed edge"));
}

/// A thing that no one wears has no sizes: it is graded once, whatever sizes are asked for.
#[test]
fn a_thing_that_no_one_wears_is_graded_once() {
    let folder = tempfile::tempdir().expect("a folder");
    let cloth = folder.path().join("cloth");
    fs::create_dir(&cloth).expect("made");
    let manifest = "id = \"cloth\"\ntitle = \"Dishcloth\"\nversion = \"1.0.0\"\napi = 1\n\
                    summary = \"A square for the kitchen.\"\nmeasures = []\nstructures = [\"plain\"]\n\
                    [sections]\ncloth = \"Cloth\"\n";
    fs::write(cloth.join("plugin.toml"), manifest).expect("written");
    let script = "return function(input)\n\
                  local n = fit.round(240 / input.gauges.plain.stitch_mm)\n\
                  return { pieces = { piece{ name = \"cloth\", title = \"Cloth\", steps = {\n\
                  step.cast_on{ needles = needles.centred(n), method = \"wound\" },\n\
                  step.knit{ rows = 96 }, step.cast_off{} } } } }\nend\n";
    fs::write(cloth.join("init.luau"), script).expect("written");
    let path = cloth.to_str().expect("plain");
    let (run, output) = json(&["grade", path, "--sizes", "babies", "--format", "json"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let sizes = run["sizes"].as_array().expect("sizes");
    assert_eq!(sizes.len(), 1);
    assert_eq!(sizes[0]["label"], "One size");
    assert_eq!(sizes[0]["cautions"].as_array().map(Vec::len), Some(0), "no baby wears it");
    let pattern = stdout(&oddments(&["pattern", path]));
    assert!(pattern.starts_with("DISHCLOTH"), "{pattern}");
    assert!(!pattern.contains("For a"), "{pattern}");
}

/// Wrong in each way a user can be wrong: exit code, and words that must be in the message.
#[test]
fn bad_input_is_told_with_a_hint() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = |name: &str, text: &str| {
        let path = folder.path().join(name);
        fs::write(&path, text).expect("written");
        path.to_str().expect("plain").to_owned()
    };
    let empty = file("empty.toml", "");
    let no_plain = file(
        "rib.toml",
        "yarn = \"400 m/100 g\"\n[[swatch]]\nstructure = \"rib 1x1\"\nstitches = 40\nwidths = [\"10 cm\"]\nrows = 40\nheights = [\"10 cm\"]\n",
    );
    let absurd = file(
        "absurd.toml",
        "yarn = \"400 m/100 g\"\n[[swatch]]\nstructure = \"plain\"\nstitches = 40\nwidths = [\"14 m\"]\nrows = 60\nheights = [\"15 cm\"]\n",
    );
    let broken = file(
        "broken.toml",
        "[[size]]\nid = \"x\"\nlabel = \"X\"\ngroup = \"men\"\n[size.body]\nhead_grith = 500\n",
    );
    let machines = file(
        "machines.toml",
        "[[machine]]\nid = \"m\"\npitch = \"45 mm\"\nneedles = 0\nribber = true\n",
    );
    let cases: Vec<(i32, Vec<&str>, &[&str])> = vec![
        (2, vec![], &["Usage"]),
        (2, vec!["grade"], &["<GARMENT>"]),
        (2, vec!["grade", "tam", "--format", "xml"], &["xml", "possible values"]),
        (1, vec!["grade", "tom"], &["did you mean `tam`?"]),
        (1, vec!["grade", "./nowhere"], &["plugin.toml"]),
        (1, vec!["grade", "tam", "--sizes", "womenm"], &["women-m"]),
        (1, vec!["grade", "tam", "--sizes", "men-xl..y4"], &["men-xl..y4"]),
        (1, vec!["grade", "tam", "--machine", "standart"], &["did you mean `standard`?"]),
        (1, vec!["grade", "tam", "--set", "wedgs=6"], &["did you mean `wedges`?"]),
        (
            1,
            vec!["grade", "tam", "--set", "wedges=six", "--set", "ease=90%"],
            &["wedges", "ease", "whole number"],
        ),
        (2, vec!["grade", "tam", "--set", "wedges"], &["name=value"]),
        (2, vec!["grade", "tam", "--units", "both"], &["charts"]),
        (2, vec!["chart", "--machine", "fine"], &["no machine"]),
        (1, vec!["grade", "tam", "--measure", "head_girth=58"], &["58 cm"]),
        (1, vec!["grade", "tam", "--measure", "head_girht=58 cm"], &["head_girth"]),
        (1, vec!["grade", "tam", "--measure", "head_girth=58 m"], &["head", "unit"]),
        (1, vec!["grade", "tam", "--swatch", "nowhere.toml"], &["nowhere.toml", "check the name"]),
        (1, vec!["grade", "tam", "--swatch", &empty], &["empty.toml", "yarn"]),
        (1, vec!["grade", "tam", "--swatch", &no_plain], &["no plain swatch", "rib.toml"]),
        (1, vec!["grade", "tam", "--swatch", &absurd], &["absurd.toml", "check the unit"]),
        (1, vec!["grade", "tam", "--size-table", &broken], &["broken.toml:6", "head_girth"]),
        (1, vec!["grade", "tam", "--machines", &machines], &["machines.toml:3", "machines.toml:4"]),
        (1, vec!["chart", "--measures", "head_girth,shoe"], &["shoe"]),
        (1, vec!["grade", "tam", "--output", "/nowhere/x.txt"], &["/nowhere/x.txt", "folder"]),
    ];
    for (code, arguments, words) in cases {
        let output = oddments(&arguments);
        assert_eq!(output.status.code(), Some(code), "{arguments:?}: {}", stderr(&output));
        let told = stderr(&output);
        for word in words {
            assert!(told.contains(word), "{arguments:?} should say `{word}`:\n{told}");
        }
        if told.starts_with("error[") {
            assert!(told.contains("hint:"), "{arguments:?} gives no hint:\n{told}");
        }
    }
}

#[test]
fn charts_come_in_every_format_and_both_units() {
    let chart = [
        "chart",
        "--measures",
        "head_girth,foot_length",
        "--units",
        "both",
        "--sizes",
        "newborn,men-xl",
    ];
    let csv = stdout(&oddments(&[&chart[..], &["--format", "csv"]].concat()));
    let mut lines = csv.lines();
    assert_eq!(
        lines.next(),
        Some("Size,Head girth cm,Head girth in,Foot length cm,Foot length in")
    );
    assert_eq!(lines.next(), Some("Newborn (0-1 month),35.5,14,8.2,3.25"));
    let (rows, _) = json(&[&chart[..], &["--format", "json"]].concat());
    assert_eq!(rows[1]["Head girth cm"], 60.5);
    let markdown = stdout(&oddments(&[&chart[..], &["--format", "markdown"]].concat()));
    assert!(markdown.contains("| Men XL | 60.5 | 23 3/4 |"), "{markdown}");
    assert!(markdown.contains("ANSUR II") && markdown.contains("WHO"), "sources: {markdown}");
}

#[test]
fn output_goes_to_a_file_when_asked() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("tam.csv");
    let name = path.to_str().expect("plain");
    let output = oddments(&["grade", "tam", "--format", "csv", "--output", name]);
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(stdout(&output), "");
    let csv = fs::read_to_string(&path).expect("written");
    assert_eq!(csv.lines().count(), 22, "a heading and 21 sizes");
}

#[test]
fn a_closed_pipe_is_no_fault() {
    use std::process::{Command, Stdio};
    let mut child = Command::new(env!("CARGO_BIN_EXE_oddments"))
        .args(["grade", "tam", "--format", "json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program starts");
    drop(child.stdout.take());
    assert_eq!(child.wait().expect("ends").code(), Some(0));
}
