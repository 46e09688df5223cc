//! Commands, and what lies in their way on the disk.

use std::fs;
use std::path::Path;

use super::example::Example;
use super::example::How::{By, In, Run};
use super::example::{coded, codes, small, told};
use app::{GradeRequest, Person};
use diag::Code;
use knit::size_run::SizeRun;

use crate::demo::Demo;
use crate::support::{bench, demo, grade, oddments_in, swatches};

/// A garment with a stitch that crosses over its neighbour.
const CROSSED: &str = "id = \"crossed\"\ntitle = \"Crossed\"\nversion = \"1.0.0\"\napi = 2\n\
    summary = \"Crosses a stitch.\"\nmeasures = [\"head_girth\"]\nmeasure = \"head_girth\"\n\
    structures = [\"plain\"]\ngrows = [\"rows\"]\n[sections]\nbody = \"Body\"\n";
const CROSSES: &str = "return function(input)\n\
    local steps = { step.cast_on{ needles = 'L9-R9', method = 'wound' }, step.knit{ rows = 2 },\n\
    step.transfer{ from = 'L1', to = 'R2', emptied = 'work' }, step.knit{ rows = 2 }, step.cast_off() }\n\
    local near = { name = 'near', target = 900, parts = { { piece = 'body', width = true } } }\n\
    return { pieces = { piece{ name = 'body', steps = steps } }, finished = { near } }\nend\n";

pub const EXAMPLES: &[Example] = &[
    Example { code: Code::Usage, how: Run(&["grade", "tam", "--set", "wedges"]) },
    Example { code: Code::Price, how: Run(&["shop", "--money=-1"]) },
    Example {
        code: Code::BlankLine,
        how: By(|| {
            let hold = small(&[("blank.jsonl", "\n")]);
            let args = ["batch", "blank.jsonl", "--blank", "answer"];
            coded(&oddments_in(hold.path(), &args).out)
        }),
    },
    Example {
        code: Code::CannotCarryOn,
        how: Run(&["carry-on", "tam", "--size", "women-m", "--at", "hat:100", "--extra-rows", "3"]),
    },
    Example {
        code: Code::GaugeNow,
        how: Run(&["carry-on", "tam", "--size", "women-m", "--at", "hat:100", "--now", "plain=27"]),
    },
    Example {
        code: Code::NoPieceNoted,
        how: Run(&[
            "record",
            "tam",
            "--size",
            "women-m",
            "--used",
            "hat:beacon-1=10 g",
            "--piece",
            "none",
        ]),
    },
    Example {
        code: Code::SwatchOpen,
        how: In(
            &[("swatches/one.toml", SWATCH), ("swatches/two.toml", SWATCH)],
            &["grade", "hat", "--sizes", "women-m"],
        ),
    },
    Example {
        code: Code::NoTimeCounted,
        how: Run(&[
            "record",
            "tam",
            "--size",
            "women-m",
            "--used",
            "hat:beacon-1=9 g",
            "--minutes",
            "counted",
        ]),
    },
    Example { code: Code::NoPlugin, how: Run(&["grade", "./nowhere"]) },
    Example { code: Code::Measure, how: Run(&["chart", "--measures", "shoe"]) },
    Example { code: Code::Shipped, how: Run(&["garment", "test", "tam", "--bless"]) },
    Example {
        code: Code::OddPitch,
        how: Run(&["grade", "cuff", "--swatch", "fine", "--machine", "bulky", "--sizes", "y4"]),
    },
    Example {
        code: Code::OtherMachine,
        how: Run(&["grade", "cuff", "--swatch", "mid", "--machine", "standard", "--sizes", "y4"]),
    },
    Example {
        code: Code::OtherThickness,
        how: Run(&[
            "pattern",
            "cuff",
            "--size",
            "y4",
            "--format",
            "svg",
            "--picture",
            "stripes",
            "--yarn",
            "gannet",
        ]),
    },
    Example { code: Code::EstimatedGauge, how: By(no_rib_swatch) },
    Example { code: Code::EstimatedMeasure, how: By(only_a_head) },
    Example {
        code: Code::Listen,
        how: By(|| {
            let taken = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
            let address = taken.local_addr().expect("an address").to_string();
            let hold = tempfile::tempdir().expect("a folder");
            told(&oddments_in(hold.path(), &["serve", "--listen", &address]))
        }),
    },
    // The workspace.
    Example { code: Code::Occupied, how: Run(&["init", "."]) },
    Example { code: Code::NoWorkspace, how: Run(&["stash", "list", "--workspace", "yarns"]) },
    Example { code: Code::Nothing, how: Run(&["stash", "change", "none", "--weight", "1 g"]) },
    Example {
        code: Code::NoSection,
        how: Run(&[
            "gifts",
            "add",
            "--person",
            "Ruan",
            "--garment",
            "tam",
            "--pin",
            "sleeve=slate-1",
        ]),
    },
    Example {
        code: Code::NotDrawn,
        how: In(
            &[("crossed/plugin.toml", CROSSED), ("crossed/init.luau", CROSSES)],
            &["pattern", "./crossed", "--size", "women-m", "--format", "svg", "--picture", "round"],
        ),
    },
    Example { code: Code::InUse, how: In(&[("plan.toml", ASIDE)], &["gifts", "remove", "g"]) },
    Example {
        code: Code::GiftOver,
        how: In(
            &[(
                "gifts.toml",
                "[[gift]]\nid = \"g\"\nperson = \"Ruan\"\ngarment = \"cuff\"\nstate = \"done\"\n",
            )],
            &["gifts", "begin", "g"],
        ),
    },
    Example {
        code: Code::OtherGift,
        how: In(&[], &["record", "hat", "--size", "men-l", "--used", "hat:a=9 g", "--gift", "g"]),
    },
    Example {
        code: Code::Heavier,
        how: Run(&["record", "hat", "--size", "women-m", "--used", "hat:shoreline-1=900 g"]),
    },
    Example {
        code: Code::NoBed,
        how: In(
            &[(
                "yarns/slate.toml",
                "yarn = \"20 m/100 g\"\n[[colour]]\nname = \"rope\"\nshade = \"#5a6570\"\n",
            )],
            &["reach", "--remnant", "a", "--garment", "hat"],
        ),
    },
    Example {
        code: Code::Unswatched,
        how: In(&[], &["reach", "--remnant", "a", "--garment", "hat"]),
    },
    Example {
        code: Code::RecordOdd,
        how: In(
            &[(
                "records.toml",
                "[[record]]\ngarment = \"hat\"\nsize = \"women-m\"\nyarn = \"slate\"\n\
                 sections = { hat = { before = \"50 g\", after = \"42 g\" } }\n",
            )],
            &["plan", "--today", "2026-09-01", "--work", "1"],
        ),
    },
    Example {
        code: Code::RecordUnused,
        how: In(
            &[(
                "records.toml",
                "[[record]]\ngarment = \"hat\"\nsize = \"women-m\"\nyarn = \"slate\"\n\
                 sections = { sleeve = { before = \"50 g\", after = \"9 g\" } }\n",
            )],
            &["plan", "--today", "2026-09-01", "--work", "1"],
        ),
    },
    Example {
        code: Code::Overdue,
        how: In(
            &[(
                "gifts.toml",
                "[[gift]]\nid = \"g\"\nperson = \"Ruan\"\ngarment = \"cuff\"\ndue = \"2026-01-01\"\n",
            )],
            &["plan", "--today", "2026-09-01", "--work", "1"],
        ),
    },
    // What an older plan set aside is no longer there.
    Example {
        code: Code::StashChanged,
        how: In(
            &[(
                "plan.toml",
                "[[reservation]]\ngift = \"g\"\nsection = \"band\"\nremnant = \"a\"\nweight = \"90 g\"\n",
            )],
            &["plan", "--accept", "--today", "2026-09-01", "--work", "1"],
        ),
    },
    Example {
        code: Code::OneLineList,
        how: In(
            &[("stash.toml", "remnant = [{ id = \"a\", yarn = \"slate\", weight = \"60 g\" }]\n")],
            &["stash", "change", "a", "--weight", "1 g"],
        ),
    },
    Example {
        code: Code::UnsafeEdit,
        how: In(
            &[(
                "people.toml",
                "[[person]]\nname = \"Ruan\"\nsize = \"men-l\"\nlikes.colours = [\"red\"]\n\
                 note = \"keeper\"\nlikes.garments = [\"tam\"]\n",
            )],
            &["people", "change", "Ruan", "--note", "the keeper"],
        ),
    },
    // The disk.
    Example { code: Code::Read, how: Run(&["grade", "tam", "--machines", "nowhere.toml"]) },
    Example {
        code: Code::Write,
        how: Run(&["grade", "cuff", "--sizes", "y4", "--output", "yarns/none/cuff.txt"]),
    },
    Example { code: Code::NotText, how: By(|| machines(b"id = \"\xff\"\n")) },
    Example { code: Code::TooLarge, how: By(|| machines(&vec![b'#'; (4 << 20) + 1])) },
    #[cfg(unix)]
    Example {
        code: Code::Outside,
        how: By(|| {
            let (hold, outside) = (small(&[]), tempfile::tempdir().expect("a folder"));
            let (here, there) = (hold.path().join("stash.toml"), outside.path().join("stash.toml"));
            fs::rename(&here, &there).expect("moved");
            std::os::unix::fs::symlink(&there, &here).expect("linked");
            told(&oddments_in(hold.path(), &["stash", "change", "a", "--weight", "1 g"]))
        }),
    },
    // Other writers, and hands.
    Example { code: Code::Locked, how: By(|| told(&super::locked(&Demo::new()))) },
    Example {
        code: Code::ChangedSince,
        how: By(|| told(&super::undone_over_a_change(&Demo::new()))),
    },
    Example {
        code: Code::KeptBeside,
        how: In(
            &[(
                ".oddments/.out-0123456789abcdef-fedcba9876543210-AbCdEf-stash.toml",
                "# By hand.\n",
            )],
            &["stash", "change", "a", "--weight", "1 g"],
        ),
    },
    Example { code: Code::Unfinished, how: By(cut_short) },
    Example { code: Code::InTheWay, how: By(undone_past_another) },
];

/// Yarn set aside for a gift.
const ASIDE: &str =
    "[[reservation]]\ngift = \"g\"\nsection = \"cuff\"\nremnant = \"a\"\nweight = \"9 g\"\n";

/// A garment with a rib, graded on a swatch of plain fabric alone.
fn no_rib_swatch() -> Vec<Code> {
    let square = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/square");
    let run = grade(square, "standard", &swatches(250.0, 28.0, 40.0, None), "women-m", &[]);
    run.map_or_else(|faults| codes(&faults), |run| codes(&run.warnings))
}

/// A garment for a hand, made for someone whose head alone was measured.
fn only_a_head() -> Vec<Code> {
    let bench = bench();
    let square = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/square");
    let head = "58 cm".parse().expect("a length");
    let measure = bench.sizes.known().named("head_girth").expect("a measure");
    let run = bench.grade(&GradeRequest {
        plugin: &bench.garment(square).expect("a garment"),
        machine: bench.machine("standard").expect("built in"),
        swatch: &demo("standard"),
        options: Vec::new(),
        sizes: String::new(),
        person: Some(Person { name: "Ruan".into(), measures: vec![(measure, head)] }),
    });
    let told = |run: SizeRun| run.sizes.iter().flat_map(|s| codes(s.diagnostics())).collect();
    run.map_or_else(|faults| codes(&faults), told)
}

/// Grades with a file of machines of these bytes.
fn machines(bytes: &[u8]) -> Vec<Code> {
    let hold = tempfile::tempdir().expect("a folder");
    fs::write(hold.path().join("own.toml"), bytes).expect("written");
    told(&oddments_in(hold.path(), &["grade", "cuff", "--machines", "own.toml"]))
}

/// A change of two files as a kill in between leaves it, with the other file changed since.
fn cut_short() -> Vec<Code> {
    let hold = small(&[]);
    let at = |file: &str| hold.path().join(file);
    let read = |path: &Path| fs::read_to_string(path).expect("a text");
    let ran = oddments_in(hold.path(), &["people", "change", "Ruan", "--name", "Jago"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let journal = read(&at(".oddments/journal"));
    let (open, _) = journal.trim_end().rsplit_once('\n').expect("a change and its end");
    fs::write(at(".oddments/journal"), format!("{open}\n")).expect("written");
    fs::write(at("gifts.toml"), "# Mine now.\n").expect("written");
    told(&oddments_in(hold.path(), &["gifts", "list"]))
}

/// A remnant is weighed twice, and the first weighing is to be taken back.
fn undone_past_another() -> Vec<Code> {
    let demo = Demo::new();
    for weight in ["7 g", "6 g"] {
        let ran = demo.run(&["stash", "change", "shoreline-1", "--weight", weight]);
        assert_eq!(ran.code, Some(0), "{}", ran.err);
    }
    told(&demo.run(&["undo", "--change", "1"]))
}

const SWATCH: &str = "yarn = \"400 m/100 g\"\nmachine = \"standard\"\n\n[[swatch]]\nstructure = \"plain\"\n\
    stitches = 40\nwidths = [\"14 cm\"]\nrows = 60\nheights = [\"15 cm\"]\n";
