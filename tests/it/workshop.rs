//! The workshop of a garment's author: a new garment, the faults a check must find, the cases,
//! the shelf that keeps the last good version.

use std::fs;
use std::path::{Path, PathBuf};

use app::{GarmentShelf, Workbench, WorkbenchSources};
use diag::{Code, Diagnostic, Diagnostics, Severity};
use store::shipped_plugin_ids;
use tempfile::TempDir;

use crate::support::{Ran, bench, oddments_in};

const NAME: &str = "sea-band";

/// A garment as `garment new` makes it, in a folder of its own.
struct Fresh {
    _hold: TempDir,
    folder: PathBuf,
}

impl Fresh {
    fn new() -> Fresh {
        let hold = tempfile::tempdir().expect("a folder");
        let folder = bench().new_garment(NAME, hold.path()).expect("a new garment");
        Fresh { _hold: hold, folder }
    }

    fn name(&self) -> &str {
        self.folder.to_str().expect("a plain path")
    }

    fn read(&self, file: &str) -> String {
        fs::read_to_string(self.folder.join(file)).expect("a file of the garment")
    }

    fn write(&self, file: &str, text: &str) {
        fs::write(self.folder.join(file), text).expect("written");
    }

    fn change(&self, file: &str, from: &str, to: &str) {
        let text = self.read(file);
        assert_eq!(text.matches(from).count(), 1, "`{from}` should stand once in {file}");
        self.write(file, &text.replace(from, to));
    }

    fn check(&self) -> Diagnostics {
        bench().check_garment(self.name()).expect("it can be read").findings
    }
}

fn oddments(arguments: &[&str], at: &Path) -> Ran {
    oddments_in(at, arguments)
}

#[test]
fn a_new_garment_grades_and_passes_its_check_and_its_case() {
    let hold = tempfile::tempdir().expect("a folder");
    let at = hold.path();
    let made = oddments(&["garment", "new", NAME], at);
    assert_eq!(made.code, Some(0), "{}", made.err);
    let stubs = fs::read_to_string(at.join(NAME).join("oddments.d.luau")).expect("stubs");
    assert!(stubs.contains("declare"), "the editor's stubs");
    for machine in ["fine", "standard", "mid", "bulky"] {
        let graded = oddments(&["grade", NAME, "--machine", machine], at);
        assert_eq!(graded.code, Some(0), "{machine}: {}", graded.err);
    }
    let checked = oddments(&["garment", "check", NAME], at);
    assert_eq!((checked.code, checked.err.as_str()), (Some(0), ""));
    assert!(checked.out.contains("nothing found wrong"), "{}", checked.out);
    let tested = oddments(&["garment", "test", NAME], at);
    assert_eq!(tested.code, Some(0), "{}{}", tested.out, tested.err);
    assert_eq!(tested.out, "cases/women-m.toml: 6 figures as expected\n");
    let pattern = oddments(&["pattern", NAME, "--size", "y4"], at);
    assert_eq!(pattern.code, Some(0), "{}", pattern.err);
}

#[test]
fn a_new_garment_overwrites_nothing_and_needs_a_good_name() {
    let hold = tempfile::tempdir().expect("a folder");
    let at = hold.path();
    fs::create_dir(at.join("garments")).expect("made");
    assert_eq!(oddments(&["garment", "new", NAME, "--in", "garments"], at).code, Some(0));
    let again = oddments(&["garment", "new", NAME, "--in", "garments"], at);
    assert_eq!(again.code, Some(1));
    assert!(again.err.contains("already") && again.err.contains("hint:"), "{}", again.err);
    for (name, words) in [("Sea Band", "`sea-band` can"), ("../up", "`up` can"), ("9", "letter")] {
        let bad = oddments(&["garment", "new", name], at);
        assert_eq!(bad.code, Some(1), "{name}");
        assert!(bad.err.contains(words), "{name}: {}", bad.err);
    }
    fs::write(at.join("notes"), "").expect("written");
    assert_eq!(oddments(&["garment", "new", "x", "--in", "notes"], at).code, Some(1));
    assert_eq!(fs::read_dir(at).expect("listed").count(), 2, "only what was asked for");
}

/// A change to the good garment.
enum Plant {
    Change(&'static str, &'static str, &'static str),
    Changes(&'static [(&'static str, &'static str, &'static str)]),
    Write(&'static str, &'static str),
    Remove(&'static str),
}
use Plant::{Change, Changes, Remove, Write};

/// A planted fault and what the check must say of it.
struct Planted {
    plant: Plant,
    severity: Severity,
    code: &'static str,
    /// Must be in the finding: message, notes or hints.
    words: &'static [&'static str],
    /// The file it must be placed in, and words that only the right line of it has.
    at: (&'static str, &'static str),
}

const TOML: &str = "plugin.toml";
const INIT: &str = "init.luau";
const CASE: &str = "cases/women-m.toml";
const E: Severity = Severity::Error;
const W: Severity = Severity::Warning;
/// Where steps can be put in front of the rows of the band.
const KNIT: &str = "step.knit({ rows = rows }),";

const PLANTED: &[Planted] = &[
    // The manifest.
    Planted {
        plant: Change(TOML, "pair = false", "pairs = false"),
        severity: E,
        code: "plugin::manifest",
        words: &["no key `pairs`", "did you mean `pair`?"],
        at: (TOML, "pairs ="),
    },
    Planted {
        plant: Change(
            TOML,
            "measures = [\"head_girth\"]",
            "measures = [\"head_girth\", \"head_grith\"]",
        ),
        severity: E,
        code: "plugin::manifest",
        words: &["not a body measure", "did you mean `head_girth`?"],
        at: (TOML, "measures = ["),
    },
    Planted {
        plant: Change(TOML, "default = -10", "default = -30"),
        severity: E,
        code: "option",
        words: &["from -25 % to 5 %"],
        at: (TOML, "default = -30"),
    },
    Planted {
        plant: Change(TOML, "min = \"2 cm\"", "min = \"2 cmm\""),
        severity: E,
        code: "plugin::manifest",
        words: &["`cmm` is not a unit of length"],
        at: (TOML, "2 cmm"),
    },
    Planted {
        plant: Change(TOML, "api = 2", "api = 99"),
        severity: E,
        code: "plugin::api",
        words: &["script API 99", "update oddments"],
        at: (TOML, "api = 99"),
    },
    // What the manifest declares and nothing uses.
    Planted {
        plant: Change(
            TOML,
            "[options.depth]",
            "[options.lining]\ntype = \"flag\"\ndefault = false\nhelp = \"Line it.\"\n\n[options.depth]",
        ),
        severity: E,
        code: "option-unread",
        words: &["`lining` is never read"],
        at: (TOML, "[options.lining]"),
    },
    // Named in the script, but not as an option.
    Planted {
        plant: Change(
            TOML,
            "[options.depth]",
            "[options.band]\ntype = \"flag\"\ndefault = false\nhelp = \"Band.\"\n\n[options.depth]",
        ),
        severity: W,
        code: "option-unread",
        words: &["`band` is never read", "the script names it"],
        at: (TOML, "[options.band]"),
    },
    Planted {
        plant: Change(
            TOML,
            "measures = [\"head_girth\"]",
            "measures = [\"head_girth\", \"hand_girth\"]",
        ),
        severity: E,
        code: "measure-unread",
        words: &["`hand_girth` is never read"],
        at: (TOML, "measures = ["),
    },
    Planted {
        plant: Change(TOML, "structures = [\"plain\"]", "structures = [\"plain\", \"rib 2x2\"]"),
        severity: E,
        code: "structure-unused",
        words: &["`rib 2x2`", "swatch"],
        at: (TOML, "structures = ["),
    },
    Planted {
        plant: Change(TOML, "band = \"Band\"", "band = \"Band\"\nhem = \"Hem\""),
        severity: E,
        code: "section-unused",
        words: &["section `hem`"],
        at: (TOML, "hem = \"Hem\""),
    },
    Planted {
        plant: Change(TOML, "grows = [\"stitches\", \"rows\"]", "grows = [\"stitchs\", \"rows\"]"),
        severity: E,
        code: "grows-unknown",
        words: &["no count is called `stitchs`", "did you mean `stitches`?"],
        at: (TOML, "grows = ["),
    },
    Planted {
        plant: Write("brim.luau", "return {}\n"),
        severity: W,
        code: "module-unused",
        words: &["`brim.luau` is never required"],
        at: ("brim.luau", "return {}"),
    },
    // The script.
    Planted {
        plant: Change(
            INIT,
            "local head = input.body.head_girth",
            "local head == input.body.head_girth",
        ),
        severity: E,
        code: "script::compile",
        words: &["not Luau"],
        at: (INIT, "local head =="),
    },
    Planted {
        plant: Change(INIT, "input.body.head_girth", "input.body.head_grith"),
        severity: E,
        code: "script::unknown_input",
        words: &["did you mean `head_girth`?", "every size on every machine"],
        at: (INIT, "head_grith"),
    },
    Planted {
        plant: Change(
            INIT,
            "local depth = options.depth or DEPTH * head",
            "local depth = options.depth * 1",
        ),
        severity: E,
        code: "script::error",
        words: &["auto is nil"],
        at: (INIT, "options.depth * 1"),
    },
    Planted {
        plant: Change(
            INIT,
            "\t-- What is aimed at.",
            "\tif head < 400 then error(\"too small\") end",
        ),
        severity: E,
        code: "script::error",
        words: &["too small", "newborn and m0-3 on every machine"],
        at: (INIT, "error(\"too small\")"),
    },
    Planted {
        plant: Change(INIT, KNIT, "step.knit({ rowz = rows }),"),
        severity: E,
        code: "script::unknown_field",
        words: &["`rowz`", "did you mean `rows`?"],
        at: (INIT, "rowz"),
    },
    Planted {
        plant: Change(INIT, "section = \"band\"", "section = \"bnad\""),
        severity: E,
        code: "script::unknown_section",
        words: &["did you mean `band`?"],
        at: (INIT, "piece({"),
    },
    Planted {
        plant: Change(INIT, "if stitches > machine.needles then", "if true then"),
        severity: E,
        code: "refuses-all",
        words: &["every size is refused on every machine"],
        at: (INIT, "--!strict"),
    },
    Planted {
        plant: Change(
            INIT,
            "\t-- What is aimed at.",
            "\tif head > 600 then refuse({ reason = \"too large\" }) end",
        ),
        severity: W,
        code: "bare-refusal",
        words: &["too large", "women-xl, men-xl on every machine"],
        at: (INIT, "too large"),
    },
    Planted {
        plant: Change(
            INIT,
            "\t-- What is aimed at.",
            "\tif options.depth == 200 then error(\"too deep\") end",
        ),
        severity: E,
        code: "script::error",
        words: &["too deep", "--set \"depth=200 mm\""],
        at: (INIT, "too deep"),
    },
    // The program on the bed.
    Planted {
        plant: Change(INIT, "\t\t\tstep.graft({ first = \"start\", second = \"end\" }),\n", ""),
        severity: E,
        code: "loops-left",
        words: &["edge `start`", "left over", "every size on every machine"],
        at: (INIT, "step.cast_on("),
    },
    Planted {
        // The second version eases one edge into the other.
        plant: Changes(&[
            (TOML, "api = 2", "api = 1"),
            (
                INIT,
                "step.scrap_off({ edge = \"end\" }),",
                "step.decrease({ side = \"left\" }), step.knit({}), step.scrap_off({ edge = \"end\" }),",
            ),
        ]),
        severity: E,
        code: "graft-mismatch",
        words: &["can't be grafted", "same width"],
        at: (INIT, "step.graft("),
    },
    Planted {
        plant: Change(INIT, "step.scrap_off({ edge = \"end\" }),", ""),
        severity: E,
        code: "stitches-left",
        words: &["still on the bed"],
        at: (INIT, KNIT),
    },
    Planted {
        plant: Change(
            INIT,
            KNIT,
            "step.knit({ rows = rows }), step.hold({ side = \"left\", count = 2 }),\n\t\t\t\t\tstep.knit({ rows = 2 }), -- the turn\n\t\t\t\t\tstep.bring_back({ all = true }), step.knit({ rows = 2 }),",
        ),
        severity: W,
        code: "unwrapped-turn",
        words: &["without a wrap", "every size on every machine"],
        at: (INIT, "-- the turn"),
    },
    Planted {
        plant: Change(
            INIT,
            KNIT,
            "step.knit({ rows = rows - 1 }), step.hold({ side = \"left\", count = stitches // 2 }),\n\t\t\t\t\tstep.knit({ rows = 1 }), -- far\n\t\t\t\t\tstep.bring_back({ all = true }), step.knit({ rows = 2 }),",
        ),
        severity: W,
        code: "long-float",
        words: &["floats over", "on fine"],
        at: (INIT, "-- far"),
    },
    Planted {
        plant: Change(
            INIT,
            KNIT,
            "step.decrease({ side = \"left\" }), step.decrease({ side = \"left\" }),\n\t\t\t\t\tstep.knit({ rows = rows }), -- load\n\t\t\t\t\tstep.increase({ side = \"left\", count = 2 }), step.knit({ rows = 2 }),",
        ),
        severity: W,
        code: "crowded-needle",
        words: &["loops on one needle"],
        at: (INIT, "-- load"),
    },
    Planted {
        plant: Change(
            INIT,
            "structure = \"plain\", method = \"waste\"",
            "structure = \"rib 1x1\", method = \"waste\"",
        ),
        severity: E,
        code: "no-ribber",
        words: &["needs a ribber", "every size on mid", "refuse the size"],
        at: (INIT, "step.cast_on("),
    },
    Planted {
        plant: Change(
            INIT,
            "structure = \"plain\", method = \"waste\"",
            "structure = \"rib 1x1\", method = \"waste\"",
        ),
        severity: E,
        code: "structure-undeclared",
        words: &["rib 1x1", "`structures`"],
        at: (INIT, "step.cast_on("),
    },
    Planted {
        plant: Change(INIT, "needles.centred(stitches)", "needles.centred(stitches * 30)"),
        severity: E,
        code: "off-bed",
        words: &["are off the bed", "every size on every machine", "refuse the size"],
        at: (INIT, "step.cast_on("),
    },
    Planted {
        plant: Change(INIT, KNIT, "step.mark({ name = \"middle\" }), step.knit({ rows = rows }),"),
        severity: W,
        code: "mark-unused",
        words: &["mark `middle` is never counted"],
        at: (INIT, "step.mark("),
    },
    // What is read off the run.
    Planted {
        plant: Change(INIT, "parts = { { piece = \"band\", width = true } }", "parts = {}"),
        severity: E,
        code: "no-parts",
        words: &["`depth` has no parts"],
        at: (INIT, "name = \"depth\""),
    },
    Planted {
        plant: Change(INIT, "ease_low = -0.25", "ease_low = -0.05"),
        severity: W,
        code: "ease-out-of-range",
        words: &["-5 to +5 % is usual", "every size on every machine"],
        at: (INIT, "name = \"girth\""),
    },
    Planted {
        plant: Change(INIT, "ease_low = -0.25, ", ""),
        severity: E,
        code: "script::conflict",
        words: &["both `ease_low` and `ease_high`"],
        at: (INIT, "name = \"girth\""),
    },
    Planted {
        plant: Change(INIT, "over_mm = head,", "over_mm = 2 * head,"),
        severity: E,
        code: "cannot-be-put-on",
        words: &["must pass over the head"],
        at: (INIT, "name = \"girth\""),
    },
    Planted {
        plant: Change(INIT, "rows = \"band\" }", "marks = \"bands\" }"),
        severity: E,
        code: "count",
        words: &["`rows` has nothing to count"],
        at: (INIT, "marks = \"bands\""),
    },
    Planted {
        plant: Change(
            INIT,
            "fit.to_multiple(girth / plain.row_mm, 2, 0, \"nearest\")",
            "fit.to_multiple(40000 / girth, 2, 0, \"nearest\")",
        ),
        severity: E,
        code: "grows-falls",
        words: &["`rows` is said to grow and falls", "on bulky", "fit.best"],
        at: (TOML, "grows = ["),
    },
    Planted {
        plant: Change(INIT, "width = true }", "width = true, times = 2 }"),
        severity: W,
        code: "off-target",
        words: &["Depth is", "aimed at", "every size on every machine"],
        at: (INIT, "name = \"depth\""),
    },
    // Cases and other files.
    Planted {
        plant: Remove(CASE),
        severity: W,
        code: "no-cases",
        words: &["has no cases"],
        at: (TOML, "id ="),
    },
    Planted {
        plant: Change(CASE, "stitches = 24", "stiches = 24"),
        severity: E,
        code: "case-stale",
        words: &["no count `stiches`", "did you mean `stitches`?"],
        at: (CASE, "stiches"),
    },
    Planted {
        plant: Change(CASE, "size = \"women-m\"", "size = \"woman-m\""),
        severity: E,
        code: "case-stale",
        words: &["no size `woman-m`", "did you mean `women-m`?"],
        at: (CASE, "woman-m"),
    },
    Planted {
        plant: Change(CASE, "ease = \"-10 %\"", "easy = \"-10 %\""),
        severity: E,
        code: "case-stale",
        words: &["no option `easy`", "did you mean `ease`?"],
        at: (CASE, "easy"),
    },
    Planted {
        plant: Change(CASE, "rows = 202", "rows = 200"),
        severity: E,
        code: "case-fails",
        words: &["counts.rows should be 200 and is 202"],
        at: (CASE, "rows = 200"),
    },
    Planted {
        plant: Change(CASE, "[expect.counts]", "[expect.count]"),
        severity: E,
        code: "toml",
        words: &["did you mean `counts`?"],
        at: (CASE, "[expect.count]"),
    },
    Planted {
        plant: Remove("README.md"),
        severity: W,
        code: "no-readme",
        words: &["README.md"],
        at: (TOML, "id ="),
    },
    Planted {
        plant: Change(TOML, "id = \"sea-band\"", "id = \"sea-bend\""),
        severity: W,
        code: "other-folder",
        words: &["`sea-bend`", "`sea-band`"],
        at: (TOML, "id ="),
    },
];

fn all_words(finding: &Diagnostic) -> String {
    let notes = finding.context.iter().chain(&finding.hints);
    notes.fold(finding.message.clone(), |all, note| format!("{all}\n{note}"))
}

#[test]
fn check_finds_every_planted_fault_at_its_line() {
    assert!(PLANTED.len() >= 25);
    let clean = Fresh::new().check();
    assert!(clean.is_empty(), "{clean}");
    let mut missed = Vec::new();
    for planted in PLANTED {
        let fresh = Fresh::new();
        match planted.plant {
            Change(file, from, to) => fresh.change(file, from, to),
            Changes(all) => all.iter().for_each(|(file, from, to)| fresh.change(file, from, to)),
            Write(file, text) => fresh.write(file, text),
            Remove(file) => fs::remove_file(fresh.folder.join(file)).expect("removed"),
        }
        let (file, line_has) = planted.at;
        let text = fresh.read(file);
        let lines: Vec<usize> = (1..)
            .zip(text.lines())
            .filter(|(_, line)| line.contains(line_has))
            .map(|(number, _)| number)
            .collect();
        assert!(!lines.is_empty(), "{}: no line of {file} has `{line_has}`", planted.code);
        let findings = fresh.check();
        let found = findings.iter().any(|f| {
            let words = all_words(f);
            f.severity == planted.severity
                && f.code.as_str() == planted.code
                && planted.words.iter().all(|w| words.contains(w))
                && !f.hints.is_empty()
                && f.place.as_ref().is_some_and(|p| {
                    p.line == lines[0] && Path::new(&p.file) == fresh.folder.join(file)
                })
        });
        if !found {
            missed.push(format!(
                "{} at {file}:{} ({:?}), but found:\n{findings}\n",
                planted.code, lines[0], planted.words
            ));
        }
    }
    assert!(missed.is_empty(), "{}", missed.join("\n"));
}

/// The same fault in many sizes is told once, errors end with 1, warnings alone with 0.
#[test]
fn check_tells_a_fault_once_and_ends_with_1() {
    let fresh = Fresh::new();
    fresh.change(INIT, "\t\t\tstep.graft({ first = \"start\", second = \"end\" }),\n", "");
    let ran = oddments(&["garment", "check", fresh.name()], &fresh.folder);
    assert_eq!(ran.code, Some(1));
    assert_eq!(ran.err.matches("error[loops-left]").count(), 2, "one an edge: {}", ran.err);
    assert!(ran.err.contains("init.luau:"), "{}", ran.err);
    assert!(ran.out.contains("21 failed") && ran.out.contains("2 errors"), "{}", ran.out);
    assert!(!ran.err.contains("case-fails"), "that the case fails only follows: {}", ran.err);
    let fresh = Fresh::new();
    fs::remove_file(fresh.folder.join(CASE)).expect("removed");
    let ran = oddments(&["garment", "check", fresh.name()], &fresh.folder);
    assert_eq!(ran.code, Some(0));
    assert!(ran.out.ends_with("1 warning\n"), "{}", ran.out);
}

/// Walking the options with `pairs` is odd but works: it must not look like reading none.
#[test]
fn options_that_are_walked_count_as_read() {
    let fresh = Fresh::new();
    fresh.change(
        INIT,
        "local girth = head * (1 + options.ease)",
        "local all = 1\n\tfor name, value in pairs(options) do if name == \"ea\" .. \"se\" then all += value end end\n\tlocal girth = head * all",
    );
    fresh.change(INIT, "ease = options.ease, ", "ease = all - 1, ");
    let findings = fresh.check();
    assert!(findings.iter().all(|f| f.code != Code::OptionUnread), "{findings}");
}

#[test]
fn test_shows_what_differs_and_bless_takes_it_over() {
    let fresh = Fresh::new();
    let good = fresh.read(CASE);
    fresh.write(
        CASE,
        &good
            .replace("rows = 202", "rows = 200")
            .replace("girth = 505.0", "girth = 480")
            .replace("low = 16", "low = 10")
            .replace("high = 20", "high = 15"),
    );
    fresh.write(
        "cases/refused.toml",
        "size = \"y4\"\n[expect]\nknittable = false\nreason = \"bed\"\n",
    );
    let ran = oddments(&["garment", "test", fresh.name()], &fresh.folder);
    assert_eq!(ran.code, Some(1));
    insta::assert_snapshot!("garment_test", ran.out);
    let blessed = oddments(&["garment", "test", fresh.name(), "--bless"], &fresh.folder);
    assert_eq!(blessed.code, Some(1), "a size that can be knitted is not blessed away");
    assert!(blessed.out.contains("cases/women-m.toml: 6 figures as expected"), "{}", blessed.out);
    let rewritten = fresh.read(CASE);
    let expected = good.replace("low = 16", "low = 10").replace("high = 20", "high = 17");
    assert_eq!(rewritten, expected, "comments stay");
    let shipped = oddments(&["garment", "test", "tam", "--bless"], &fresh.folder);
    assert_eq!(shipped.code, Some(1));
    assert!(shipped.err.contains("built in"), "{}", shipped.err);
}

#[test]
fn a_case_may_expect_a_refusal() {
    let fresh = Fresh::new();
    let case = |reason: &str| {
        format!(
            "size = \"men-xl\"\nmachine = \"bulky\"\n[expect]\nknittable = false\nreason = \"{reason}\"\n"
        )
    };
    fresh.change(
        INIT,
        "\t-- What is aimed at.",
        "\tif head > 600 then refuse({ reason = \"No head is so large.\", hints = { \"measure again\" } }) end",
    );
    fresh.write("cases/large.toml", &case("so large"));
    assert_eq!(oddments(&["garment", "test", fresh.name()], &fresh.folder).code, Some(0));
    let checked = oddments(&["garment", "check", fresh.name()], &fresh.folder);
    assert_eq!(
        (checked.code, checked.err.as_str()),
        (Some(0), ""),
        "an honest refusal is no fault"
    );
    assert!(checked.out.contains("men-xl: No head is so large."), "{}", checked.out);
    fresh.write("cases/large.toml", &case("so small"));
    let ran = oddments(&["garment", "test", fresh.name()], &fresh.folder);
    assert_eq!(ran.code, Some(1));
    assert!(ran.out.contains("got       No head is so large."), "{}", ran.out);
}

#[test]
fn every_shipped_garment_passes_its_check_and_its_cases() {
    let bench = bench();
    let mut faults = Vec::new();
    for id in shipped_plugin_ids() {
        let check = bench.check_garment(id).expect("shipped");
        faults.extend(
            check.findings.iter().filter(|f| f.severity == E).map(|f| format!("{id}: {f}")),
        );
        let test = bench.test_garment(id).expect("it loads");
        for case in test.cases.iter().filter(|case| !case.passed()) {
            faults.push(format!("{id} {}: {:?} {}", case.name, case.differences, case.faults));
        }
    }
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
}

#[test]
fn show_draws_the_pieces_to_scale() {
    let fresh = Fresh::new();
    let ran = oddments(&["garment", "show", fresh.name()], &fresh.folder);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    insta::assert_snapshot!("garment_show", ran.out);
}

#[test]
fn an_own_garment_that_hides_a_shipped_one_says_so() {
    let hold = tempfile::tempdir().expect("a folder");
    let garments = hold.path().join("garments");
    fs::create_dir(&garments).expect("made");
    bench().new_garment("tam", &garments).expect("made");
    let own = garments.to_str().expect("plain");
    for command in [vec!["grade", "tam"], vec!["garment", "show", "tam"], vec!["garment", "list"]] {
        let arguments = [command.as_slice(), &["--garments", own]].concat();
        let ran = oddments(&arguments, hold.path());
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        let both = format!("{own}/tam is taken and hides the shipped garment (plugins/tam)");
        assert!(ran.err.contains(&both), "{command:?}: {}", ran.err);
    }
    let list = oddments(&["garment", "list", "--garments", own], hold.path());
    assert!(list.out.contains("A headband knitted sideways"), "the own one wins: {}", list.out);
    // Named by its folder there is no doubt.
    let outright = oddments(&["grade", &format!("{own}/tam"), "--garments", own], hold.path());
    assert_eq!(outright.err, "");
}

#[test]
fn the_shelf_keeps_the_last_good_version() {
    let fresh = Fresh::new();
    let bench = Workbench::open(&WorkbenchSources::default()).expect("sound");
    let mut shelf = GarmentShelf::new();
    let first = shelf.reload(&bench, fresh.name());
    assert!(first.changed && first.faults.is_empty(), "{}", first.faults);
    let version = |plugin: &Option<script::Plugin>| {
        plugin.as_ref().expect("a good version").manifest.version.clone()
    };
    assert_eq!(version(&first.plugin), "1.0.0");
    assert!(!shelf.reload(&bench, fresh.name()).changed, "the same files");

    // A manifest that can't be read, then a script that fails only when it runs.
    let good = fresh.read(TOML);
    fresh.change(TOML, "version = \"1.0.0\"", "version = \"2\"");
    let broken = shelf.reload(&bench, fresh.name());
    assert!(broken.changed && broken.faults.has_errors());
    assert_eq!(version(&broken.plugin), "1.0.0");
    let again = shelf.reload(&bench, fresh.name());
    assert!(!again.changed && again.faults.has_errors(), "the faults stay while the files do");
    fresh.write(TOML, &good.replace("1.0.0", "1.1.0"));
    let script = fresh.read(INIT);
    fresh.change(INIT, "input.body.head_girth", "input.body.head_grith");
    let failing = shelf.reload(&bench, fresh.name());
    assert_eq!(failing.faults.iter().count(), 1, "once, not a size: {}", failing.faults);
    assert_eq!(version(&failing.plugin), "1.0.0");

    fresh.write(INIT, &script);
    let mended = shelf.reload(&bench, fresh.name());
    assert!(mended.faults.is_empty(), "{}", mended.faults);
    assert_eq!(version(&mended.plugin), "1.1.0");
    fs::remove_file(fresh.folder.join(TOML)).expect("removed");
    let gone = shelf.reload(&bench, fresh.name());
    assert!(gone.faults.has_errors());
    assert_eq!(version(&gone.plugin), "1.1.0");
}

/// A pipe in a garment's folder is passed over: a reader would wait for ever at it.
#[cfg(unix)]
#[test]
fn a_pipe_in_the_folder_hangs_nobody() {
    let folder = tempfile::tempdir().expect("a folder");
    let garment = folder.path().join("square");
    std::fs::create_dir(&garment).expect("made");
    for file in ["plugin.toml", "init.luau"] {
        let from = format!("{}/fixtures/square/{file}", env!("CARGO_MANIFEST_DIR"));
        std::fs::copy(from, garment.join(file)).expect("copied");
    }
    let made = std::process::Command::new("mkfifo").arg(garment.join("notes.md")).status();
    assert!(made.expect("mkfifo runs").success());
    let output = assert_cmd::Command::new(env!("CARGO_BIN_EXE_oddments"))
        .args(["grade", garment.to_str().expect("plain"), "--sizes", "y4"])
        .timeout(std::time::Duration::from_secs(60))
        .output()
        .expect("it ends");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

/// What a script says can't drive the terminal it is shown in.
#[test]
fn escapes_in_a_script_s_words_are_refused_or_replaced() {
    let folder = tempfile::tempdir().expect("a folder");
    let garment = folder.path().join("square");
    std::fs::create_dir(&garment).expect("made");
    let manifest = format!("{}/fixtures/square/plugin.toml", env!("CARGO_MANIFEST_DIR"));
    std::fs::copy(manifest, garment.join("plugin.toml")).expect("copied");
    for script in [
        r#"return function(input) refuse{ reason = "x", hints = { "\27]52;c;AAAA\7\27[2J" } } end"#,
        r#"return function(input) warn("\27[2J") end"#,
        r#"return function(input) error("\27[2J\nerror[x]: forged") end"#,
    ] {
        std::fs::write(garment.join("init.luau"), script).expect("written");
        let output = assert_cmd::Command::new(env!("CARGO_BIN_EXE_oddments"))
            .args(["grade", garment.to_str().expect("plain"), "--sizes", "y4"])
            .output()
            .expect("it ends");
        let said = [output.stdout, output.stderr].concat();
        assert!(!said.contains(&0x1b), "{script}: {}", String::from_utf8_lossy(&said));
        let text = String::from_utf8_lossy(&said);
        assert!(!text.lines().any(|line| line.starts_with("error[x]")), "{text}");
    }
}

/// What nobody wears comes in one size, and no size of the table is named for it.
#[test]
fn what_has_one_size_is_told_of_as_that() {
    let fresh = Fresh::new();
    fresh.change(TOML, "measures = [\"head_girth\"]\nmeasure = \"head_girth\"", "measures = []");
    fresh.change(INIT, "input.body.head_girth", "560");
    fresh.change(INIT, "measure = \"head_girth\", ease = options.ease, ", "");
    fresh.change(INIT, "ease_low = -0.25, ease_high = 0.05, ", "");
    fresh.change(INIT, "width = true }", "width = true, times = 2 }");
    let findings = fresh.check();
    let off = findings.iter().find(|f| f.code == Code::OffTarget).expect("off its target");
    assert_eq!(off.context[0], "the one size on every machine", "{off:?}");
    assert!(findings.iter().all(|f| !all_words(f).contains("newborn")), "{findings}");
}

/// A number decided in a branch that no try leads to, and a measure made known that nothing can read.
#[test]
fn what_is_never_decided_and_never_listed_is_told() {
    let own =
        "[own_measures.NAME]\ntitle = \"NAME\"\nmeaning = \"round it\"\nsource = \"a guess\"\n";
    let own = |name: &str| own.replace("NAME", name);
    let fresh = Fresh::new();
    let text =
        fresh.read(TOML).replace("[sections]", &format!("{}\n[sections]", own("ring_girth")));
    fresh.write(TOML, &text);
    fresh.change(
        INIT,
        "\t-- What is aimed at.",
        "\tif machine.needles < 0 then\n\t\tdecide({ of = { turns = { 1, 9 }, wide = { 1, 2 } } })\n\tend\n\t-- decide_count{ name = \"not_code\" }\n\tdecide_count({ name = \"ply\", mm = 9, per = 3 })\n\t-- What is aimed at.",
    );
    let findings = fresh.check();
    let told: Vec<(Code, &str)> = findings
        .iter()
        .map(|f| (f.code, f.message.split('`').nth(1).unwrap_or_default()))
        .collect();
    assert_eq!(
        told,
        [
            (Code::DecisionUnreached, "turns"),
            (Code::DecisionUnreached, "wide"),
            (Code::MeasureUnread, "ring_girth")
        ],
        "{findings}"
    );
    assert_eq!(
        findings.iter().map(|f| f.place.as_ref().map(|p| p.line_text.clone())).nth(2),
        Some(Some("[own_measures.ring_girth]".to_owned()))
    );
    // One from which another is filled is of use.
    let line = "fill = [{ from = \"ring_girth\", times = 1.0, spread = 2 }]\n";
    let text = text
        .replace("[\"head_girth\"]", "[\"head_girth\", \"toe_girth\"]")
        .replace("[sections]", &format!("{}{line}[sections]", own("toe_girth")));
    fresh.write(TOML, &text);
    let findings = fresh.check();
    assert!(findings.iter().all(|f| !f.message.contains("ring_girth")), "{findings}");
}

/// The stubs are those of the very garment: its options and measures, and written anew by the check.
#[test]
fn an_editor_knows_the_garments_own_options() {
    let fresh = Fresh::new();
    let stubs = fresh.read("oddments.d.luau");
    assert!(
        stubs.contains("\tease: number,\n") && stubs.contains("\tdepth: number?,\n"),
        "{stubs}"
    );
    assert!(stubs.contains("head_girth: number") && !stubs.contains("foot_girth"), "{stubs}");
    fresh.change(TOML, "[options.depth]", "[options.edge]\ntype = \"choice\"\nof = [\"rolled\", \"hemmed\"]\ndefault = \"rolled\"\nhelp = \"The edge.\"\n\n[options.depth]");
    fresh.check();
    assert!(fresh.read("oddments.d.luau").contains("\tedge: \"rolled\" | \"hemmed\",\n"));
    fs::remove_file(fresh.folder.join("oddments.d.luau")).expect("removed");
    fresh.check();
    assert!(!fresh.folder.join("oddments.d.luau").exists(), "who took them out is left without");
}
