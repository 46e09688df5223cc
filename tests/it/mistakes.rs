//! Thirty mistakes as a new author makes them, and what the check says of each: a page to be read, in
//! `snapshots`.

use std::fmt::Write as _;
use std::fs;

use crate::support::bench;

const TOML: &str = "plugin.toml";
const INIT: &str = "init.luau";

const MANIFEST: &str = r#"id = "strip"
title = "Strip"
version = "1.0.0"
api = 2
summary = "A strip with a border picked up along its side."
measures = ["hand_girth"]
structures = ["plain"]

[sections]
strip = "Strip"

[options.length]
type = "length"
min = "10 cm"
max = "60 cm"
default = "20 cm"
help = "How long it is."
"#;

const SCRIPT: &str = r#"return function(input)
	local plain = input.gauges.plain
	local length = input.options.length
	local stitches = decide_count{ name = "stitches", mm = input.body.hand_girth / 2, per = plain.stitch_mm, multiple = 2 }
	local rows = fit.to_multiple(length / plain.row_mm, 2)
	local bed = needles.centred(stitches)
	local middle = mark("middle")
	local strip = {
		step.cast_on{ needles = bed, method = "wound" },
		step.knit{ rows = rows / 2 // 1 },
		step.mark{ name = middle },
		step.decrease{ side = "both" },
		step.knit{ rows = 2 },
		step.increase{ side = "both" },
		step.knit{ rows = rows - 2 - rows / 2 // 1 },
		step.cast_off(),
	}
	local side = edge{ piece = "strip", side = "left", from = middle }
	return {
		pieces = {
			piece{ name = "strip", title = "Strip", steps = strip },
			piece{ name = "border", title = "Border", section = "strip", steps = {
				step.pick_up{ edge = side, needles = needles.centred(8) },
				step.knit{ rows = 6 },
				step.scrap_off{ edge = "end" },
			} },
		},
		finishing = { step.gather_edge{ edge = "end" } },
		finished = {
			{ name = "width", title = "Width", target = stitches * plain.stitch_mm, parts = { { piece = "strip", width = true } } },
			{ name = "length", title = "Length", target = length, parts = { { piece = "strip", rows_on = "R1" } } },
		},
		counts = {
			{ name = "stitches", title = "Stitches", needles = "strip" },
			{ name = "rows", title = "Rows", rows = "strip" },
		},
	}
end
"#;

/// What the author meant, the file, what stood there and what was written.
type Mistake = (&'static str, &'static str, &'static str, &'static str);

const MISTAKES: &[Mistake] = &[
    ("a key of the manifest misspelt", TOML, "structures = ", "structure = "),
    ("a measure misspelt", TOML, "[\"hand_girth\"]", "[\"hand_grith\"]"),
    ("an option without its unit", TOML, "default = \"20 cm\"", "default = 20"),
    (
        "an option whose default is out of its range",
        TOML,
        "default = \"20 cm\"",
        "default = \"2 m\"",
    ),
    ("a measure read that is not listed", INIT, "hand_girth / 2", "foot_girth / 2"),
    ("an option misspelt", INIT, "input.options.length", "input.options.lenght"),
    ("a gauge that is not asked for", INIT, "input.gauges.plain", "input.gauges[\"rib 1x1\"]"),
    ("a step misspelt by a letter left out", INIT, "step.cast_off(),", "step.cast_of(),"),
    ("a field misspelt", INIT, "needles = bed, method", "needle = bed, method"),
    ("a word that is none", INIT, "method = \"wound\"", "method = \"e-wrap\""),
    ("a number that is not whole", INIT, "rows = rows / 2 // 1 }", "rows = rows / 2 + 0.5 }"),
    ("a number out of its range", INIT, "step.knit{ rows = 6 }", "step.knit{ rows = -6 }"),
    ("no needles at all", INIT, "needles.centred(8)", "needles.centred(0)"),
    (
        "centimetres taken for millimetres",
        INIT,
        "mm = input.body.hand_girth / 2",
        "mm = input.body.hand_girth / 20",
    ),
    ("an end forgotten", INIT, "\tlocal rows = ", "\tif length then\n\tlocal rows = "),
    ("a comma forgotten", INIT, "step.mark{ name = middle },", "step.mark{ name = middle }"),
    ("nothing returned", INIT, "\treturn {\n\t\tpieces", "\tlocal garment = {\n\t\tpieces"),
    ("a variable that was never set", INIT, "needles = bed, method", "needles = beds, method"),
    ("a global assigned", INIT, "\tlocal rows = ", "\trows = "),
    (
        "a decision without a number between its bounds",
        INIT,
        "multiple = 2 }",
        "multiple = 2, least = 90, most = 50 }",
    ),
    (
        "a decision with an empty range",
        INIT,
        "\tlocal rows = ",
        "\tlocal n = decide{ of = { n = { 20, 10 } } }.n\n\tlocal rows = ",
    ),
    (
        "a decision that is never come to",
        INIT,
        "\tlocal rows = ",
        "\tif length < 0 then decide_count{ name = \"turns\", mm = 9, per = 3 } end\n\tlocal rows = ",
    ),
    (
        "an edge of a piece that is none",
        INIT,
        "edge{ piece = \"strip\"",
        "edge{ piece = \"stripe\"",
    ),
    (
        "an edge that has no such name",
        INIT,
        "gather_edge{ edge = \"end\" }",
        "gather_edge{ edge = \"ends\" }",
    ),
    ("a mark that is never set", INIT, "from = middle }", "from = mark(\"midle\") }"),
    ("a stretch beyond the end of an edge", INIT, "from = middle }", "from = 10, to = 9000 }"),
    (
        "a transfer from an empty needle",
        INIT,
        "\t\tstep.cast_off(),",
        "\t\tstep.transfer{ from = \"L90\", to = \"L89\" },\n\t\tstep.cast_off(),",
    ),
    ("stitches left on the bed", INIT, "\t\tstep.cast_off(),\n", ""),
    ("loops that nothing is done with", INIT, "step.gather_edge{ edge = \"end\" }", ""),
    (
        "a wrong value in the second of two measures",
        INIT,
        "target = length,",
        "target = \"length\",",
    ),
    (
        "a count without what is counted",
        INIT,
        "title = \"Rows\", rows = \"strip\" }",
        "title = \"Rows\" }",
    ),
    ("an empty count", INIT, "{ name = \"rows\", title = \"Rows\", rows = \"strip\" }", "{}"),
    (
        "a finished measure that is of two kinds",
        INIT,
        "rows_on = \"R1\"",
        "rows_on = \"R1\", width = true",
    ),
    ("a step without its table", INIT, "step.knit{ rows = 6 }", "step.knit(6)"),
];

/// What the check says where this is the script or the manifest.
fn told(mistake: &Mistake) -> String {
    let hold = tempfile::tempdir().expect("a folder");
    let folder = hold.path().join("strip");
    fs::create_dir_all(folder.join("cases")).expect("made");
    let (_, at, from, to) = *mistake;
    for (file, text) in [(TOML, MANIFEST), (INIT, SCRIPT)] {
        let text = if file == at && !from.is_empty() {
            assert_eq!(text.matches(from).count(), 1, "`{from}` should stand once");
            text.replace(from, to)
        } else {
            text.to_owned()
        };
        fs::write(folder.join(file), text).expect("written");
    }
    fs::write(folder.join("README.md"), "# Strip\n").expect("written");
    fs::write(folder.join("cases/y4.toml"), "size = \"y4\"\n[expect]\nknittable = true\n")
        .expect("written");
    let check = bench().check_garment(folder.to_str().expect("plain")).expect("it can be read");
    let shown: Vec<String> = check.findings.iter().map(|f| diag::render(f, false)).collect();
    shown.join("\n\n").replace(&format!("{}/", folder.display()), "")
}

/// Each is told at a line and with what to do about it, and one mistake is told as one.
#[test]
fn a_new_authors_mistakes_are_told_as_what_they_are() {
    assert!(MISTAKES.len() >= 30);
    assert_eq!(told(&("none", INIT, "", "")), "", "the garment itself is sound");
    let mut page = String::new();
    for (nth, mistake) in MISTAKES.iter().enumerate() {
        let said = told(mistake);
        let found = said.lines().filter(|l| l.starts_with("error") || l.starts_with("warning"));
        let found = found.count();
        assert!((1..=2).contains(&found), "{}: {found} findings\n{said}", mistake.0);
        assert!(said.contains("-->") && said.contains("hint:"), "{}:\n{said}", mistake.0);
        let _ = writeln!(page, "{}. {}\n\n{}\n", nth + 1, mistake.0, said.trim_end());
    }
    insta::assert_snapshot!("mistakes", page);
}
