//! The workspace: files with comments, changes that lose nothing, undo, kills, other writers.

use diag::Code;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};
use std::time::Duration;

use app::{Workspace, WorkspaceEdit, init_workspace};
use assert_cmd::Command;
use proptest::prelude::*;
use store::workspace::{Edit, Folder, Given, List, UndoAsk, schema, schema_names};

fn demo() -> (tempfile::TempDir, PathBuf) {
    let hold = tempfile::tempdir().expect("a folder");
    let folder = hold.path().join("skerry");
    init_workspace(&folder, true).expect("the demo is sound");
    (hold, folder)
}

/// A small workspace: one yarn, two remnants, one person.
fn small() -> (tempfile::TempDir, PathBuf) {
    let hold = tempfile::tempdir().expect("a folder");
    let folder = hold.path().to_owned();
    for (path, text) in [
        ("oddments.toml", "# Ours.\nunits = \"cm\"\n"),
        (
            "yarns/slate.toml",
            "yarn = \"400 m/100 g\"\n[[colour]]\nname = \"slate\"\nshade = \"#5a6570\"\n",
        ),
        ("stash.toml", STASH),
        ("people.toml", "[[person]]\nname = \"Ruan\"\nsize = \"men-l\"\n"),
    ] {
        write(&folder, path, text);
    }
    (hold, folder)
}

const STASH: &str = "# The chest under the stairs.\n\n# By the door.\n[[remnant]]\nid   = 'a'  # old\n\
    yarn = \"slate\"\nweight = \"20 g\" # on the letter scale\n\n# Under the oilskin.\n[[remnant]]\n\
    id = \"b\"\nyarn = \"slate\"\nweight = \"30 g\"\n\n# Nothing below.\n";

fn write(folder: &Path, path: &str, text: &str) {
    let path = folder.join(path);
    fs::create_dir_all(path.parent().expect("a folder")).expect("made");
    fs::write(path, text).expect("written");
}

fn read(folder: &Path, path: &str) -> String {
    fs::read_to_string(folder.join(path)).expect("a text")
}

fn run(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_oddments"))
        .current_dir(folder)
        .args(args)
        .output()
        .expect("the program starts")
}

fn good(folder: &Path, args: &[&str]) -> String {
    let run = run(folder, args);
    let told = String::from_utf8_lossy(&run.stderr);
    assert!(run.status.success(), "{args:?}: {told}");
    String::from_utf8_lossy(&run.stdout).into_owned()
}

/// What a refused command says.
fn refused(folder: &Path, args: &[&str], code: i32) -> String {
    let run = run(folder, args);
    let told = String::from_utf8_lossy(&run.stderr).into_owned();
    assert_eq!(run.status.code(), Some(code), "{args:?}: {told}");
    told
}

/// Every file but the program's own, with its bytes.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    for path in ["oddments.toml", "stash.toml", "people.toml", "gifts.toml", "plan.toml"] {
        if let Ok(bytes) = fs::read(folder.join(path)) {
            found.insert(path.to_owned(), bytes);
        }
    }
    for inner in ["yarns", "swatches"] {
        for entry in fs::read_dir(folder.join(inner)).into_iter().flatten().flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            found.insert(format!("{inner}/{name}"), fs::read(entry.path()).expect("a file"));
        }
    }
    found
}

fn contents(folder: &Path) -> store::workspace::Contents {
    Workspace::require(Some(folder)).expect("sound").contents
}

#[test]
fn the_demo_is_a_valid_workspace_and_large_enough() {
    let (_hold, folder) = demo();
    let workspace = Workspace::require(Some(&folder)).expect("sound");
    assert!(workspace.warnings.is_empty(), "{}", workspace.warnings);
    let all = &workspace.contents;
    assert!(all.people.len() >= 30 && all.remnants.len() >= 60 && all.yarns.len() >= 20);
    assert!(all.yarns.values().filter(|y| !y.colours.is_plain()).count() >= 5);
    assert!(["fine", "standard", "mid", "bulky"].iter().all(|id| all.swatches.contains_key(*id)));
    assert!(all.gifts.len() >= 20 && !all.records.is_empty());
    // Every baby can be knitted for: some yarn washes in the machine.
    let baby = all.person("Hedra").expect("the newborn");
    let group = all.group_of(baby);
    let washable =
        |y: &knit::stash::Yarn| baby.objections(group, y.fibres.as_ref(), y.care).is_empty();
    assert!(all.yarns.values().any(washable) && !all.yarns.values().all(washable));
    // The fixture itself is a workspace too, not only what is embedded of it.
    let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/demo");
    assert_eq!(contents(&fixture).remnants, all.remnants);
}

#[test]
fn init_refuses_a_folder_with_something_in_it_and_makes_an_empty_one() {
    let hold = tempfile::tempdir().expect("a folder");
    good(hold.path(), &["init", "mine"]);
    let told = refused(hold.path(), &["init", "mine", "--demo"], 1);
    assert!(told.contains("mine is not empty"), "{told}");
    let mine = hold.path().join("mine");
    assert!(contents(&mine).remnants.is_empty());
    assert!(read(&mine, "stash.toml").starts_with("#:schema ./.oddments/schemas/stash.json\n"));
    assert!(mine.join(".oddments/schemas/stash.json").is_file());
    good(
        &mine,
        &[
            "yarn",
            "add",
            "tide",
            "--yarn",
            "400 m/100 g",
            "--colour",
            "ebb #8fb8c9 5 m",
            "--colour",
            "deep water #24557a 6 m",
            "--fibres",
            "75 % wool, 25 % nylon",
        ],
    );
    good(&mine, &["stash", "add", "--yarn", "tide", "--weight", "34 g"]);
    good(&mine, &["people", "add", "Tamsin", "--size", "women-m", "--likes-colour", "blue"]);
    good(
        &mine,
        &[
            "gifts",
            "add",
            "--person",
            "Tamsin",
            "--garment",
            "tam,hat",
            "--set",
            "wedges=6",
            "--due",
            "2026-12-24",
            "--must",
            "--pin",
            "band=tide-1",
        ],
    );
    let all = contents(&mine);
    assert_eq!(all.remnants[0].id, "tide-1");
    assert_eq!(all.gifts[0].id, "tamsin-1");
    assert_eq!(all.gifts[0].options, [("wedges".to_owned(), "6".to_owned())]);
    assert_eq!(all.gifts[0].pinned, [("band".to_owned(), vec!["tide-1".to_owned()])]);
    assert!(all.gifts[0].must);
    assert_eq!(all.yarns["tide"].colours.stretches()[1].0.name, "deep water");
}

#[test]
fn a_change_keeps_comments_order_and_every_other_byte() {
    let (_hold, folder) = small();
    good(&folder, &["stash", "change", "a", "--weight", "12 g"]);
    assert_eq!(read(&folder, "stash.toml"), STASH.replace("20 g", "12 g"));
    good(&folder, &["stash", "add", "--yarn", "slate", "--weight", "5 g", "--note", "new"]);
    let text = read(&folder, "stash.toml");
    assert!(text.starts_with(&STASH.replace("20 g", "12 g").replace("\n# Nothing below.\n", "")));
    assert!(text.contains(
        "[[remnant]]\nid = \"slate-1\"\nyarn = \"slate\"\nweight = \"5 g\"\nnote = \"new\"\n"
    ));
    good(&folder, &["stash", "change", "slate-1", "--note", ""]);
    assert!(!read(&folder, "stash.toml").contains("note"));
    good(&folder, &["stash", "remove", "b", "slate-1"]);
    let text = read(&folder, "stash.toml");
    assert!(text.contains("# The chest under the stairs.") && text.contains("# Nothing below."));
    assert!(!text.contains("oilskin"), "the comment on the entry goes with it: {text}");
    for _ in 0..4 {
        good(&folder, &["undo"]);
    }
    assert_eq!(read(&folder, "stash.toml"), STASH);
    assert!(refused(&folder, &["undo"], 1).contains("nothing to undo"));
    good(&folder, &["undo", "--redo"]);
    assert_eq!(read(&folder, "stash.toml"), STASH.replace("20 g", "12 g"));
}

/// Line, column, and words of what is said.
type Expected = (usize, usize, &'static str);

/// Every fault that a file can have: the file, its text, and where what is said.
#[test]
fn every_fault_of_every_file_is_told_at_once_at_its_place() {
    let (_hold, folder) = small();
    let texts: [(&str, &str, &[Expected]); 9] = [
        (
            "oddments.toml",
            "units = \"ft\"\nmachnie = \"mid\"\nhours_a_week = 400\nreserve = \"90 %\"\nrisk = \"x\"\n\
             most_joins = -1\nscale_step = \"1\"\nmachine = \"standrad\"\nswatch = \"none\"\n\
             [weights]\nprioritty = 1\ndrib = -2\n",
            &[
                (1, 9, "`ft` is not a unit of length"),
                (2, 1, "did you mean `machine`?"),
                (3, 16, "400 is out of range"),
                (4, 11, "`90 %` is not a share"),
                (5, 8, "there is a reserve and a risk"),
                (5, 8, "`x` is not a share"),
                (6, 14, "-1 joins"),
                (7, 14, "has no unit"),
                (8, 11, "did you mean `standard`?"),
                (9, 10, "there is no swatch `none`"),
                (11, 1, "did you mean `priority`?"),
                (12, 8, "-2 is out of range"),
            ],
        ),
        (
            "yarns/slate.toml",
            "yarn = \"400 m\"\nclass = 9\nfibres = \"75 % wool, 20 % polyamid\"\ncare = \"cold\"\n\
             swatches = [\"none\"]\n[[colour]]\nname = \"slate\"\nshade = \"5a6570\"\nlenght = \"2 m\"\n",
            &[
                (1, 8, "is not a yarn count"),
                (2, 9, "9 is not a weight class"),
                (3, 10, "did you mean `polyamide`?"),
                (4, 8, "`cold` is not a way to wash"),
                (5, 13, "there is no swatch `none`"),
                (8, 9, "is not a colour"),
                (9, 1, "did you mean `length`?"),
            ],
        ),
        (
            "yarns/blend.toml",
            "yarn = \"400 m/100 g\"\nfibres = \"75 % wool, 20 % silk\"\ncolour = 3\n",
            &[(2, 10, "add up to 95 %"), (3, 10, "this is a whole number, not a list")],
        ),
        (
            "stash.toml",
            "[[remnant]]\nid = \"A b\"\nyarn = \"slat\"\nweight = \"0 g\"\n[[remnant]]\nid = \"x\"\n\
             weight = 20\nstart = \"2 mm m\"\n[[remnant]]\nid = \"x\"\nyarn = \"slate\"\nweight = \"2 g\"\n\
             [[remant]]\n",
            &[
                (2, 6, "`A b` can't be an id"),
                (3, 8, "did you mean `slate`?"),
                (4, 10, "nothing weighs nothing"),
                (5, 1, "there is no `yarn`"),
                (7, 10, "this is a whole number, not a text"),
                (8, 9, "is not a unit of length"),
                (10, 6, "there are two remnants `x`"),
                (13, 3, "did you mean `remnant`?"),
            ],
        ),
        (
            "people.toml",
            "[[person]]\nname = \"Ruan\"\nsize = \"men-ll\"\nlikes = { colours = [\"blu\", \"red\"], garments = [\"tamm\"] }\n\
             avoid = { fibres = [\"mohir\"], colours = [\"red\"] }\nwash = \"never\"\n[[person]]\nname = \"ruan\"\n\
             [[person]]\nname = \" \"\nhead_girth = \"56\"\nhead_grith = \"56 cm\"\n",
            &[
                (3, 8, "did you mean `men-l`?"),
                (4, 22, "`blu` is not a colour"),
                (4, 49, "did you mean `tam`?"),
                (5, 21, "did you mean `mohair`?"),
                (5, 42, "red is liked and avoided"),
                (6, 8, "`never` is not a way to wash"),
                (8, 8, "there are two people called `ruan`"),
                (8, 8, "how large this person is"),
                (10, 8, "this can't be a name"),
                (11, 14, "has no unit"),
                (12, 1, "did you mean `head_girth`?"),
            ],
        ),
        (
            "gifts.toml",
            "[[gift]]\nid = \"g\"\nperson = \"Ruann\"\ngarment = [\"tam\", \"hatt\"]\npriority = 6\ndue = \"24.12.2026\"\n\
             must = \"yes\"\npinned = { band = [\"y\"] }\n[[gift]]\nid = \"g\"\nperson = \"Ruan\"\ngarment = []\ndue = 2026-12-24\n",
            &[
                (3, 10, "did you mean `Ruan`?"),
                (4, 11, "there is no garment `hatt`"),
                (5, 12, "a priority of 6"),
                (6, 7, "`24.12.2026` is not a day"),
                (7, 8, "this is a text, not true or false"),
                (8, 19, "there is no remnant `y`"),
                (10, 6, "there are two gifts `g`"),
                (12, 11, "no garment is named"),
                (13, 7, "a date without quotes, not a text"),
            ],
        ),
        (
            "records.toml",
            "[[record]]\ngarment = \"tam\"\nyarn = \"slate\"\nmachine = \"mud\"\n\
             sections = { band = { before = \"5 g\", after = \"9 g\" }, hat = { before = \"5 g\" } }\n",
            &[
                (1, 1, "there is no `size`"),
                (4, 11, "did you mean `mid`?"),
                (5, 47, "the band took no yarn"),
                (5, 62, "there is no `after`"),
            ],
        ),
        (
            "plan.toml",
            "[[reservation]]\ngift = \"h\"\nsection = \"band\"\nremnant = \"z\"\nweight = \"2 g\"\n",
            &[(2, 8, "there is no gift `h`"), (4, 11, "there is no remnant `z`")],
        ),
        (
            "swatches/own.toml",
            "machine = \"stand\"\nyarn = \"x\"\n[[swatch]]\nstructure = \"plan\"\nstitches = 4\nrows = 4\nwidths = [\"2\"]\n",
            &[
                (1, 11, "there is no machine profile `stand`"),
                (2, 8, "is not a yarn count"),
                (3, 1, "there is no `heights`"),
                (4, 13, "did you mean `plain`?"),
                (7, 11, "has no unit"),
            ],
        ),
    ];
    for (path, text, _) in &texts {
        write(&folder, path, text);
    }
    write(&folder, "yarns/My Yarn.toml", "");
    write(&folder, "machines.toml", "[[machine]\nid = 3\nx\n");
    let faults = Workspace::require(Some(&folder)).expect_err("many faults");
    let told: Vec<String> = faults.iter().map(ToString::to_string).collect();
    for (path, _, expected) in &texts {
        let file = folder.join(path).display().to_string();
        for (line, column, words) in *expected {
            let place = format!("{file}:{line}:{column}: ");
            let hit = told.iter().any(|t| t.starts_with(&place) && t.contains(words));
            assert!(hit, "{place}{words}\n{}", told.join("\n"));
        }
        let of_file = told.iter().filter(|t| t.starts_with(&format!("{file}:"))).count();
        assert_eq!(of_file, expected.len(), "{path}\n{}", told.join("\n"));
    }
    assert!(told.iter().any(|t| t.contains("My Yarn.toml has a name that can't be an id")));
    assert!(
        told.iter().filter(|t| t.contains("machines.toml:")).count() >= 2,
        "both faults of syntax"
    );
    assert!(faults.iter().all(|f| !f.hints.is_empty()), "{faults}");
    // And as a person sees it: exit code 1, the line, the hint.
    let shown = refused(&folder, &["stash", "list"], 1);
    assert!(shown.contains("stash.toml:3:8") && shown.contains("yarn = \"slat\""), "{shown}");
}

#[test]
fn a_file_that_cannot_be_read_is_never_written_over() {
    let (_hold, folder) = small();
    let add = ["stash", "add", "--yarn", "slate", "--weight", "5 g"];
    for bad in ["[[remnant]]\nid = \n".as_bytes(), &[b'#', 0xff, b'\n']] {
        fs::write(folder.join("stash.toml"), bad).expect("written");
        let told = refused(&folder, &add, 1);
        assert!(told.contains("stash.toml"), "{told}");
        assert_eq!(fs::read(folder.join("stash.toml")).expect("there"), bad);
    }
    fs::write(folder.join("stash.toml"), vec![b'#'; (4 << 20) + 1]).expect("written");
    assert!(refused(&folder, &add, 1).contains("at most 4194304"), "too large");
    // A fault elsewhere is no reason not to change a sound file.
    write(&folder, "stash.toml", STASH);
    write(&folder, "gifts.toml", "[[gift]]\nid = 3\n");
    good(&folder, &add);
    // Nor is a list in one line silently made into another shape.
    write(
        &folder,
        "stash.toml",
        "remnant = [{ id = \"a\", yarn = \"slate\", weight = \"5 g\" }]\n",
    );
    assert!(refused(&folder, &add, 1).contains("[[remnant]]"));
}

#[test]
fn a_change_that_would_bring_a_fault_is_refused_with_what_is_wrong() {
    let (_hold, folder) = small();
    let before = files(&folder);
    for (args, words) in [
        (&["stash", "add", "--yarn", "slat", "--weight", "5 g"][..], "did you mean `slate`?"),
        (&["stash", "add", "--yarn", "slate", "--weight", "5 gg"], "`gg` is not a unit of mass"),
        (&["stash", "add", "--yarn", "slate", "--weight", "5 g", "--id", "a"], "two remnants `a`"),
        (&["stash", "remove", "c"], "there is no remnant `c`"),
        (&["yarn", "remove", "slate"], "there is no yarn `slate`"),
        (&["yarn", "add", "slate", "--yarn", "1 m/1 g", "--colour", "a #000000"], "already"),
        (&["yarn", "add", "../x", "--yarn", "4 m/1 g", "--colour", "a #000000"], "can't be an id"),
        (&["yarn", "change", "slat", "--class", "2"], "did you mean `slate`?"),
        (&["people", "add", "Ruan", "--size", "men-m"], "two people called `Ruan`"),
        (&["gifts", "add", "--person", "Ruan", "--garment", "tamm"], "did you mean `tam`?"),
        (
            &[
                "swatch",
                "add",
                "own",
                "--stitches",
                "40",
                "--widths",
                "14 cm",
                "--rows",
                "60",
                "--heights",
                "15 cm",
            ],
            "there is no `yarn`",
        ),
    ] {
        let told = refused(&folder, args, 1);
        assert!(told.contains(words), "{args:?}: {told}");
        assert_eq!(files(&folder), before, "{args:?}");
    }
    for args in [
        &["stash", "change", "a"][..],
        &["gifts", "add", "--person", "Ruan"],
        &["yarn", "change", "slate", "--colour", "slate"],
        &["schema", "stach"],
    ] {
        refused(&folder, args, 2);
    }
    let away = tempfile::tempdir().expect("a folder");
    assert!(refused(away.path(), &["stash", "list"], 1).contains("oddments init"));
    assert!(
        refused(away.path(), &["stash", "list", "--workspace", "."], 1).contains("no workspace")
    );
}

#[test]
fn several_files_change_together_and_back_together() {
    let (_hold, folder) = small();
    good(&folder, &["gifts", "add", "--person", "Ruan", "--garment", "anything warm"]);
    let before = files(&folder);
    good(&folder, &["people", "change", "Ruan", "--name", "Ruan the keeper", "--wash", "machine"]);
    let all = contents(&folder);
    assert_eq!((all.gifts[0].person.as_str(), all.people.len()), ("Ruan the keeper", 1));
    good(&folder, &["undo"]);
    assert_eq!(files(&folder), before);
    good(&folder, &["yarn", "remove", "slate", "--and-remnants"]);
    assert!(contents(&folder).remnants.is_empty() && !folder.join("yarns/slate.toml").exists());
    good(&folder, &["people", "remove", "Ruan", "--and-gifts"]);
    assert!(contents(&folder).gifts.is_empty());
    good(&folder, &["undo"]);
    good(&folder, &["undo"]);
    assert_eq!(files(&folder), before);
    good(&folder, &["undo", "--redo"]);
    assert!(contents(&folder).remnants.is_empty());
    // What was edited by hand since is not lost to an undo.
    write(&folder, "stash.toml", "# Mine.\n");
    assert!(refused(&folder, &["undo"], 1).contains("changed by hand since"));
    assert_eq!(read(&folder, "stash.toml"), "# Mine.\n");
}

#[test]
fn a_swatch_is_noted_shown_and_graded_on() {
    let (_hold, folder) = small();
    good(
        &folder,
        &[
            "swatch",
            "add",
            "harbour",
            "--machine",
            "standard",
            "--yarn",
            "400 m/100 g",
            "--state",
            "washed",
            "--dial",
            "7",
            "--stitches",
            "40",
            "--widths",
            "14.3 cm,14.2 cm",
            "--rows",
            "60",
            "--heights",
            "15.0 cm,14.9 cm",
            "--name",
            "harbour green",
        ],
    );
    good(
        &folder,
        &[
            "swatch",
            "add",
            "harbour",
            "--structure",
            "rib 1x1",
            "--stitches",
            "60",
            "--widths",
            "15.4 cm",
            "--rows",
            "40",
            "--heights",
            "10.1 cm",
        ],
    );
    let shown = good(&folder, &["swatch", "show", "harbour", "--format", "json"]);
    let rows: serde_json::Value = serde_json::from_str(&shown).expect("json");
    assert_eq!(rows[0]["Stitches to 10 cm"], 28.1);
    assert_eq!(rows[1]["Structure"], "rib 1x1");
    assert!(
        good(&folder, &["swatch", "list", "--format", "csv"]).contains("harbour,harbour green")
    );
    // In a workspace the swatch, the units and one's own machines and sizes are at hand.
    let graded = good(&folder, &["grade", "tam", "--sizes", "women-m"]);
    assert!(graded.contains("harbour green") && graded.contains("Finished sizes, cm"), "{graded}");
    write(&folder, "oddments.toml", "units = \"in\"\nmachine = \"shed\"\n");
    write(
        &folder,
        "machines.toml",
        "[[machine]]\nid = \"shed\"\npitch = \"4.5 mm\"\nneedles = 180\nribber = true\n",
    );
    write(
        &folder,
        "size-tables/own.toml",
        "unit = \"mm\"\n[measures.head_girth]\nsource = \"measured\"\n[[size]]\nid = \"giant\"\n\
         group = \"men\"\nbody = { head_girth = 640 }\n",
    );
    let graded = good(&folder, &["grade", "tam", "--sizes", "giant", "--swatch", "harbour"]);
    assert!(graded.contains("shed") && graded.contains("Finished sizes, in"), "{graded}");
    let graded = good(
        &folder,
        &[
            "grade",
            "tam",
            "--sizes",
            "women-m",
            "--swatch",
            "harbour",
            "--machine",
            "standard",
            "--units",
            "cm",
        ],
    );
    assert!(graded.contains("Finished sizes, cm") && graded.contains("200 needles"), "{graded}");
    let far = tempfile::tempdir().expect("a folder");
    let named = folder.display().to_string();
    let chart = good(
        far.path(),
        &["chart", "--sizes", "giant", "--measures", "head_girth", "--workspace", &named],
    );
    assert!(chart.contains("25 1/4"), "{chart}");
    assert!(
        refused(&folder, &["grade", "tam", "--swatch", "harbor"], 1)
            .contains("did you mean `harbour`?")
    );
    good(&folder, &["swatch", "remove", "harbour"]);
    assert!(!folder.join("swatches/harbour.toml").exists());
}

#[test]
fn schemas_are_made_from_what_reads_the_files() {
    for name in schema_names() {
        let text = schema(name).expect("there is one");
        let schema: serde_json::Value = serde_json::from_str(&text).expect("json");
        assert_eq!(schema["type"], "object", "{name}");
        assert_eq!(schema["additionalProperties"], false, "{name}");
        assert!(schema["properties"].as_object().is_some_and(|p| !p.is_empty()), "{name}");
        assert!(!text.contains("null"), "{name}: TOML has no null");
    }
    let stash: serde_json::Value =
        serde_json::from_str(&schema("stash").expect("there")).expect("json");
    let remnant = &stash["properties"]["remnant"]["items"];
    assert_eq!(remnant["required"], serde_json::json!(["id", "yarn", "weight"]));
    assert_eq!(remnant["properties"]["lot"]["description"], "The dye lot on the band.");
}

fn add_edit(id: &str, grams: u32) -> Edit {
    let fields = vec![
        ("id".to_owned(), Given::text(id)),
        ("yarn".to_owned(), Given::text("slate")),
        ("weight".to_owned(), Given::text(format!("{grams} g"))),
    ];
    Edit::Add { list: List::Stash, fields }
}

#[derive(Clone, Debug)]
enum Step {
    Add(u8),
    Reweigh(usize, u32),
    Remove(usize),
    Note(usize, String),
    Person(u8),
    Undo,
    Redo,
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let step = prop_oneof![
        4 => (0..40_u8).prop_map(Step::Add),
        3 => (0..9_usize, 1..99_u32).prop_map(|(at, grams)| Step::Reweigh(at, grams)),
        3 => (0..9_usize).prop_map(Step::Remove),
        2 => (0..9_usize, "[a-z é\"#\\\\]{0,8}").prop_map(|(at, note)| Step::Note(at, note)),
        1 => (0..5_u8).prop_map(Step::Person),
        1 => Just(Step::Undo),
        1 => Just(Step::Redo),
    ];
    prop::collection::vec(step, 1..14)
}

proptest! {
    #![proptest_config(crate::support::tries(12))]

    /// Whatever is done, taking it all back gives the first bytes, whatever they were.
    #[test]
    fn all_undone_is_as_it_was(steps in steps(), ends in prop::sample::select(vec!["\n", "\r\n"])) {
        let (_hold, folder) = small();
        write(&folder, "stash.toml", &STASH.replace('\n', ends));
        let before = files(&folder);
        let mut edit = WorkspaceEdit::open(Some(&folder)).expect("a workspace");
        for step in steps {
            let ids: Vec<String> =
                contents(&folder).remnants.iter().map(|r| r.id.clone()).collect();
            let pick = |at: usize| ids.get(at % ids.len().max(1)).cloned();
            let one = |edits: Vec<Edit>| move |_: &_| Ok((edits, ()));
            let done = match step {
                Step::Add(n) => edit.edits("stash add", one(vec![add_edit(&format!("n{n}"), 5)])),
                Step::Reweigh(at, grams) => pick(at).map_or(Ok(()), |id| {
                    let mass = format!("{grams} g").parse().expect("a mass");
                    edit.edits("stash change", one(vec![Edit::reweigh(&id, mass)]))
                }),
                Step::Remove(at) => pick(at).map_or(Ok(()), |key| {
                    edit.edits("stash remove", one(vec![Edit::Remove { list: List::Stash, key }]))
                }),
                Step::Note(at, note) => pick(at).map_or(Ok(()), |key| {
                    let fields = vec![("note".to_owned(), Given::text(note))];
                    let change = Edit::Change { list: List::Stash, key, fields };
                    edit.edits("stash change", one(vec![change]))
                }),
                Step::Person(n) => {
                    let fields = vec![
                        ("name".to_owned(), Given::text(format!("P{n}"))),
                        ("size".to_owned(), Given::text("y4")),
                    ];
                    let both = vec![Edit::Add { list: List::People, fields }, add_edit(&format!("p{n}"), 9)];
                    edit.edits("people add", one(both))
                }
                Step::Undo => edit.undo(&UndoAsk::default()).map(|_| ()),
                Step::Redo => edit.undo(&UndoAsk::again()).map(|_| ()),
            };
            // Only what must be refused is: an id that is taken, nothing to take back.
            if let Err(faults) = done {
                let known = |code| ["twice", "nothing"].contains(&code);
                prop_assert!(faults.iter().all(|f| known(f.code.as_str())), "{}", faults);
            }
            contents(&folder);
        }
        while edit.undo(&UndoAsk::default()).is_ok() {}
        prop_assert!(files(&folder) == before);
    }
}

#[test]
fn eight_programs_at_once_lose_nothing() {
    let (_hold, folder) = small();
    let workers: Vec<_> = (0..8)
        .map(|worker| {
            let folder = folder.clone();
            std::thread::spawn(move || {
                for i in 0..10 {
                    // Half of them with ids of their own, half numbered under the lock.
                    let id = format!("w{worker}-{i}");
                    let own: &[&str] = if worker % 2 == 0 { &["--id", &id] } else { &[] };
                    let args = ["stash", "add", "--yarn", "slate", "--weight", "7 g"];
                    good(&folder, &[&args, own].concat());
                }
            })
        })
        .collect();
    for worker in workers {
        worker.join().expect("all added");
    }
    let all = contents(&folder);
    assert_eq!(all.remnants.len(), 2 + 80);
    for (worker, i) in (0..8).step_by(2).flat_map(|w| (0..10).map(move |i| (w, i))) {
        assert!(all.remnant(&format!("w{worker}-{i}")).is_some());
    }
    assert!(all.remnant("slate-40").is_some(), "numbered without a gap");
}

/// Kills the program at a random moment of a change, `times` over. A change that was reported is
/// there; no other is there by half.
#[allow(clippy::print_stderr, reason = "the long run tells what it did")]
fn kill_often(times: u32) {
    let (_hold, folder) = small();
    good(&folder, &["gifts", "add", "--person", "Ruan", "--garment", "tam", "--id", "g"]);
    let (mut reported, mut killed, mut finished) = (2, 0, 0);
    // A small generator of our own: the delays only need to differ.
    let mut seed: u64 = 0x5eed;
    let mut most = 30_000;
    for i in 0..times {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        let delay = Duration::from_micros((seed >> 33) % most);
        let id = format!("k{i}");
        // One in two touches two files.
        let name = contents(&folder).people[0].name.clone();
        let next = format!("Ruan {i}");
        let args: Vec<&str> = if i % 2 == 0 {
            vec!["stash", "add", "--yarn", "slate", "--weight", "7 g", "--id", &id]
        } else {
            vec!["people", "change", &name, "--name", &next]
        };
        let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_oddments"))
            .current_dir(&folder)
            .args(&args)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("starts");
        std::thread::sleep(delay);
        child.kill().expect("killed, or gone already");
        let done = child.wait().expect("ended").success();
        let workspace = Workspace::require(Some(&folder)).expect("never a broken file");
        finished += usize::from(workspace.warnings.iter().any(|w| w.code == Code::Finished));
        let all = workspace.contents;
        if i % 2 == 0 {
            assert!(!done || all.remnant(&id).is_some(), "{id} was reported and is lost");
            reported += usize::from(all.remnant(&id).is_some());
        } else {
            assert!(!done || all.people[0].name == next, "{next} was reported and is lost");
        }
        assert_eq!(all.gifts[0].person, all.people[0].name, "both files or none");
        assert_eq!(all.remnants.len(), reported, "nothing that was there is lost");
        killed += usize::from(!done);
        // Keep to the span in which about half are killed, whatever the machine.
        most = if done { (most * 9 / 10).max(2_000) } else { (most * 10 / 9).min(400_000) };
    }
    eprintln!("{times} runs: {killed} killed, {finished} finished afterwards");
    assert!(killed > times as usize / 10, "only {killed} of {times} were killed");
    // No litter is left once the next change has swept up.
    good(&folder, &["stash", "change", "a", "--weight", "1 g"]);
    let own: Vec<String> = fs::read_dir(folder.join(".oddments"))
        .expect("there")
        .flatten()
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    assert!(own.iter().all(|name| ["lock", "journal"].contains(&name.as_str())), "{own:?}");
}

#[test]
fn a_kill_at_any_moment_loses_nothing() {
    kill_often(60);
}

/// `cargo test --test it kill_a_thousand -- --ignored --nocapture`
#[test]
#[ignore = "takes minutes"]
fn kill_a_thousand_times() {
    kill_often(1000);
}

#[test]
fn a_change_cut_short_between_two_files_is_finished_and_said() {
    let (_hold, folder) = small();
    good(&folder, &["gifts", "add", "--person", "Ruan", "--garment", "tam"]);
    let before = files(&folder);
    good(&folder, &["people", "change", "Ruan", "--name", "Jago"]);
    let after = files(&folder);
    let journal = read(&folder, ".oddments/journal");
    // As a kill leaves it: written down, not marked done, one file written and the other not.
    let open = journal.trim_end().rsplit_once('\n').expect("lines").0.to_owned() + "\n";
    let old = String::from_utf8(before["gifts.toml"].clone()).expect("text");
    write(&folder, ".oddments/journal", &open);
    write(&folder, "gifts.toml", &old);
    let told = run(&folder, &["gifts", "list"]);
    let told = String::from_utf8_lossy(&told.stderr).into_owned();
    assert!(
        told.contains("`people change` was cut short: it is finished now (gifts.toml)"),
        "{told}"
    );
    assert_eq!(files(&folder), after);
    assert!(run(&folder, &["gifts", "list"]).stderr.is_empty(), "said once");
    // A file that someone changed meanwhile is left alone, and said so.
    write(&folder, ".oddments/journal", &open);
    write(&folder, "gifts.toml", "# Mine now.\n");
    let told = run(&folder, &["gifts", "list"]);
    let told = String::from_utf8_lossy(&told.stderr).into_owned();
    assert!(told.contains("gifts.toml was changed since"), "{told}");
    assert_eq!(read(&folder, "gifts.toml"), "# Mine now.\n");
}

#[test]
fn a_damaged_journal_is_told_and_stops_nothing() {
    let (_hold, folder) = small();
    for weight in ["5 g", "6 g", "7 g"] {
        good(&folder, &["stash", "add", "--yarn", "slate", "--weight", weight]);
    }
    let journal = read(&folder, ".oddments/journal");
    let torn = &journal[..journal.len() - 9];
    for damaged in
        [torn.to_owned(), "\u{0}\u{0}\n".to_owned() + &journal, journal.clone() + "{\"sum\""]
    {
        write(&folder, ".oddments/journal", &damaged);
        let seen = run(&folder, &["stash", "list"]);
        assert!(seen.status.success(), "reading goes on");
        assert_eq!(String::from_utf8_lossy(&seen.stdout).lines().count(), 2 + 5);
    }
    let told = String::from_utf8_lossy(&run(&folder, &["stash", "list"]).stderr).into_owned();
    assert!(told.contains("journal is damaged") || told.contains("is damaged from line"), "{told}");
    good(&folder, &["stash", "add", "--yarn", "slate", "--weight", "8 g"]);
    assert!(folder.join(".oddments/journal.damaged").is_file(), "set aside");
    assert!(run(&folder, &["stash", "list"]).stderr.is_empty(), "and told no more");
    // What the sound lines say can still be taken back.
    for _ in 0..4 {
        good(&folder, &["undo"]);
    }
    assert_eq!(read(&folder, "stash.toml"), STASH);
    // Bytes that are no text at all.
    fs::write(folder.join(".oddments/journal"), [0xff; 300]).expect("written");
    assert!(run(&folder, &["stash", "list"]).status.success());
    good(&folder, &["stash", "change", "a", "--weight", "3 g"]);
}

#[cfg(unix)]
#[test]
fn a_link_out_of_the_workspace_is_not_written_through() {
    use std::os::unix::fs::symlink;
    let (_hold, folder) = small();
    let outside = tempfile::tempdir().expect("a folder");
    let stash = outside.path().join("stash.toml");
    fs::rename(folder.join("stash.toml"), &stash).expect("moved");
    symlink(&stash, folder.join("stash.toml")).expect("linked");
    let told = refused(&folder, &["stash", "change", "a", "--weight", "1 g"], 1);
    assert!(told.contains("leads out of the workspace"), "{told}");
    assert_eq!(fs::read_to_string(&stash).expect("there"), STASH);
    // One that stays inside is followed, and stays a link.
    fs::remove_file(folder.join("stash.toml")).expect("unlinked");
    write(&folder, "kept/real.toml", STASH);
    symlink("kept/real.toml", folder.join("stash.toml")).expect("linked");
    good(&folder, &["stash", "change", "a", "--weight", "1 g"]);
    assert!(fs::symlink_metadata(folder.join("stash.toml")).expect("there").is_symlink());
    assert!(read(&folder, "kept/real.toml").contains("\"1 g\""));
    // A whole folder that leads out, and one that leads nowhere.
    symlink(outside.path(), folder.join("swatches")).expect("linked");
    let add = [
        "swatch",
        "add",
        "own",
        "--yarn",
        "400 m/100 g",
        "--stitches",
        "40",
        "--widths",
        "14 cm",
        "--rows",
        "60",
        "--heights",
        "15 cm",
    ];
    assert!(refused(&folder, &add, 1).contains("leads out of the workspace"));
    assert!(!outside.path().join("own.toml").exists());
    symlink("nowhere.toml", folder.join("people.tmp")).expect("linked");
    fs::rename(folder.join("people.tmp"), folder.join("people.toml")).expect("moved");
    refused(&folder, &["people", "add", "Jago", "--size", "men-m"], 1);
}

#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_written_to_is_read_and_refuses_changes() {
    use std::os::unix::fs::PermissionsExt;
    let (_hold, folder) = small();
    fs::set_permissions(&folder, fs::Permissions::from_mode(0o555)).expect("set");
    let bound = fs::write(folder.join("probe"), "").is_err();
    let listed = good(&folder, &["stash", "list"]);
    assert_eq!(listed.lines().count(), 4, "{listed}");
    // Who may write everywhere (root) is not kept out by a mode.
    if bound {
        let told = refused(&folder, &["stash", "change", "a", "--weight", "1 g"], 1);
        assert!(told.contains("can't write"), "{told}");
        assert_eq!(read(&folder, "stash.toml"), STASH);
    }
    fs::set_permissions(&folder, fs::Permissions::from_mode(0o755)).expect("set");
    let _ = fs::remove_file(folder.join("probe"));
    // A write that fails halfway: the folder of a second file is in the way.
    write(&folder, ".oddments/keep", "");
    write(&folder, "swatches", "a file where a folder should be");
    let before = files(&folder);
    let edit = WorkspaceEdit::open(Some(&folder)).expect("a workspace").edits("test", |_| {
        let path = "swatches/x.toml".to_owned();
        let fields = vec![("name".to_owned(), Given::text("x"))];
        Ok((vec![add_edit("z", 5), Edit::Set { path, fields }], ()))
    });
    assert!(edit.is_err());
    assert_eq!(files(&folder), before);
}

#[test]
fn another_writer_is_waited_for() {
    let (_hold, folder) = small();
    good(&folder, &["stash", "change", "a", "--weight", "1 g"]);
    let lock = fs::File::options().write(true).open(folder.join(".oddments/lock")).expect("there");
    lock.lock().expect("held");
    let waiting = {
        let folder = folder.clone();
        std::thread::spawn(move || good(&folder, &["stash", "change", "a", "--weight", "2 g"]))
    };
    std::thread::sleep(Duration::from_millis(200));
    assert!(read(&folder, "stash.toml").contains("\"1 g\""), "nothing is written meanwhile");
    drop(lock);
    waiting.join().expect("done");
    assert!(read(&folder, "stash.toml").contains("\"2 g\""));
}

#[test]
fn ten_thousand_remnants_are_no_trouble() {
    let (_hold, folder) = small();
    let mut text = String::from("# Many.\n");
    for i in 0..10_000 {
        text.push_str(&format!(
            "\n[[remnant]]\nid = \"r{i}\"\nyarn = \"slate\"\nweight = \"{} g\"\n",
            5 + i % 90
        ));
    }
    write(&folder, "stash.toml", &text);
    let mut edit = WorkspaceEdit::open(Some(&folder)).expect("a workspace");
    let mass = "1 g".parse().expect("a mass");
    edit.edits("stash change", |_| Ok((vec![Edit::reweigh("r5000", mass)], ()))).expect("changed");
    assert_eq!(contents(&folder).remnants.len(), 10_000);
    let line = "id = \"r5000\"\nyarn = \"slate\"\nweight = ";
    assert_eq!(
        read(&folder, "stash.toml"),
        text.replace(&format!("{line}\"55 g\""), &format!("{line}\"1 g\""))
    );
    // The journal holds what changed, not the whole file.
    assert!(fs::metadata(folder.join(".oddments/journal")).expect("there").len() < 1000);
    let folder = Folder::find(Some(&folder)).expect("found").expect("there");
    folder.undo(&UndoAsk::default()).expect("undone");
}

/// What was taken back, done again and taken back once more is as if it had never been: it stands in no
/// one's way.
#[test]
fn what_went_to_and_fro_stands_in_no_ones_way() {
    let (_hold, folder) = small();
    let before = files(&folder);
    let mut edit = WorkspaceEdit::open(Some(&folder)).expect("a workspace");
    let id = contents(&folder).remnants[0].id.clone();
    let mut change = |edits: Vec<Edit>| {
        edit.edits("stash change", |_: &_| Ok((edits, ()))).expect("changed");
    };
    change(vec![Edit::reweigh(&id, "1 g".parse().expect("a mass"))]);
    let reweighed = files(&folder);
    change(vec![Edit::Remove { list: List::Stash, key: id }]);
    let gone = files(&folder);
    let mut undo = |ask: &UndoAsk| edit.undo(ask).map(|undone| undone.change);
    for _ in 0..3 {
        assert_eq!(undo(&UndoAsk::default()).expect("back"), 2);
        assert!(files(&folder) == reweighed);
        assert_eq!(undo(&UndoAsk::again()).expect("again"), 2);
        assert!(files(&folder) == gone);
    }
    assert_eq!(undo(&UndoAsk::default()).expect("back"), 2);
    assert_eq!(undo(&UndoAsk::default()).expect("back"), 1);
    assert!(files(&folder) == before);
}
