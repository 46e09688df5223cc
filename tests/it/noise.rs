//! Noise: files, scripts and requests that are damaged or made up at random never bring the
//! program down, and what is said of a file is said at a line of it.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::str::FromStr;
use std::time::Duration;

use app::Workspace;
use axum::body::Body;
use axum::http::{Method, header};
use diag::{Code, Diagnostics};
use proptest::prelude::*;
use script::{Limits, Manifest, Plugin, ScriptHost};
use store::workspace::{Folder, Seen, UndoAsk};
use store::{self, shipped_plugin, shipped_plugin_ids};
use units::{Length, Mass, PerTen, YarnCount};

use crate::demo::Demo;
use crate::hostile::input;
use crate::server::{Server, request};
use crate::support::tries;

/// Noise that trips is told in full: nothing is written beside the tests.
fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..tries(cases) }
}

/// What tends to trip a reader.
const PIECES: [&str; 34] = [
    "",
    "\"",
    "'",
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "=",
    ",",
    "\n",
    "#",
    "-",
    "0",
    "-1",
    "nan",
    "inf",
    "1e308",
    "99999999999999999999",
    "0.0000001",
    "true",
    "é",
    "\u{301}",
    "\u{feff}",
    "\u{202e}",
    "\u{7f}",
    "\"\"\"",
    "..",
    "\\u0000",
    "2026-02-30",
    " cm",
    "%",
    "/0 g",
];

/// A damage: where (as a share), how much is taken out, what is put in.
type Damage = (f64, usize, usize);

fn damages() -> impl Strategy<Value = Vec<Damage>> {
    let cut = prop_oneof![6 => 0..3usize, 3 => 3..20usize, 1 => 20..4000usize];
    proptest::collection::vec((0.0..1.0f64, cut, 0..PIECES.len()), 1..5)
}

fn damaged(text: &str, damages: &[Damage]) -> String {
    let mut chars: Vec<char> = text.chars().collect();
    for (share, cut, piece) in damages {
        let at = ((chars.len() as f64) * share) as usize;
        let end = (at + cut).min(chars.len());
        chars.splice(at..end, PIECES[*piece].chars());
    }
    chars.into_iter().collect()
}

/// Every fault that has a place has it inside the file, with that line shown.
fn placed(file: &str, text: &str, faults: &Diagnostics) -> Result<(), TestCaseError> {
    for fault in faults.iter() {
        prop_assert!(!fault.message.is_empty());
        let Some(place) = &fault.place else {
            prop_assert!(false, "no place: {fault:?}");
            continue;
        };
        prop_assert_eq!(place.file.as_str(), file);
        let lines = text.split('\n').count();
        prop_assert!((1..=lines).contains(&place.line), "{fault:?} in {lines} lines");
    }
    Ok(())
}

fn there_and_back<T>(text: &str) -> Result<(), TestCaseError>
where
    T: FromStr<Err = units::UnitError> + ToString,
{
    match text.parse::<T>() {
        Ok(value) => {
            let shown = value.to_string();
            let again = shown.parse::<T>();
            prop_assert!(again.is_ok(), "{text:?} shows as {shown:?}: {:?}", again.err());
            prop_assert_eq!(again.map(|value| value.to_string()).ok(), Some(shown));
        }
        Err(error) => prop_assert!(!error.message.is_empty() && !error.hint.is_empty()),
    }
    Ok(())
}

fn any_quantity() -> impl Strategy<Value = String> {
    let number = prop_oneof![
        "[0-9]{1,9}",
        "[0-9]{0,6}\\.[0-9]{0,6}",
        "[0-9]{1,3} [0-9]/[0-9]{1,2}",
        "\\PC{0,4}"
    ];
    let unit = proptest::sample::select(vec![
        "cm",
        "mm",
        "in",
        "\"",
        "m",
        "g",
        "kg",
        "oz",
        "tex",
        "den",
        "dtex",
        "NeC",
        "NeW",
        "Nm",
        "m/100 g",
        "yd/50 g",
        "yd/oz",
        " per 10 cm",
        "/10cm",
        " sts / 4 in",
        " per in",
        "",
        "/",
        "%",
        "½",
        "−",
    ]);
    prop_oneof![
        3 => (number, " ?", unit).prop_map(|(number, space, unit)| number + &space + unit),
        1 => "\\PC{0,40}",
        1 => proptest::collection::vec(any::<char>(), 0..30).prop_map(|all| all.into_iter().collect()),
    ]
}

proptest! {
    #![proptest_config(cases(600))]

    #[test]
    fn quantities_are_refused_or_show_as_what_is_read_back(text in any_quantity()) {
        there_and_back::<Length>(&text)?;
        there_and_back::<Mass>(&text)?;
        there_and_back::<YarnCount>(&text)?;
        there_and_back::<PerTen>(&text)?;
        let _ = units::parse_share(&text);
        if let Ok(all) = units::readings(&text) {
            prop_assert_eq!(units::readings(&all.join("; ")), Ok(all));
        }
    }
}

fn shipped_file(id: &str, path: &str) -> String {
    let source = shipped_plugin(id).expect("shipped");
    String::from_utf8(source.files[path].clone()).expect("text")
}

fn project(path: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).expect("a file")
}

proptest! {
    #![proptest_config(cases(300))]

    #[test]
    fn damaged_tables_are_told_at_their_lines(damages in damages(), kind in 0..5usize) {
        let file = ["swatches/standard.toml", "yarns/tide.toml"].get(kind);
        let text = match (kind, file) {
            (_, Some(file)) => project(&format!("fixtures/demo/{file}")),
            (2, _) => project("fixtures/square/cases/women-m.toml"),
            (3, _) => "[[machine]]\nid = \"shed\"\ntitle = \"Shed\"\npitch = \"4.5 mm\"\n\
                needles = 180\nribber = true\n".to_owned(),
            // The shipped table is long; the first sizes will do.
            _ => "unit = \"mm\"\n[measures.head_girth]\nsource = \"measured\"\n[[size]]\n\
                id = \"giant\"\nlabel = \"Giant\"\ngroup = \"men\"\nbody = { head_girth = 640 }\n"
                .to_owned(),
        };
        let text = damaged(&text, &damages);
        let faults = match kind {
            0 => store::parse_swatches("x.toml", &text).err(),
            1 => store::parse_yarn("x.toml", &text).err(),
            2 => store::parse_case("x.toml", &text).err(),
            3 => store::parse_machines("x.toml", &text).err(),
            _ => store::parse_size_table("x.toml", &text).err(),
        };
        if let Some(faults) = faults {
            prop_assert!(faults.has_errors());
            placed("x.toml", &text, &faults)?;
        }
    }

    #[test]
    fn damaged_manifests_are_told_at_their_lines(
        damages in damages(),
        id in proptest::sample::select(shipped_plugin_ids()),
    ) {
        let text = damaged(&shipped_file(id, "plugin.toml"), &damages);
        let known = ["head_girth", "hand_girth", "foot_length"];
        if let Err(faults) = Manifest::parse("plugin.toml", &text, &known) {
            prop_assert!(faults.has_errors());
            placed("plugin.toml", &text, &faults)?;
        }
    }
}

proptest! {
    #![proptest_config(cases(200))]

    /// A damaged script does not compile, fails at a line, or still makes a garment.
    #[test]
    fn damaged_scripts_end_in_a_garment_or_in_words(
        damages in damages(),
        id in proptest::sample::select(shipped_plugin_ids()),
    ) {
        let mut source = shipped_plugin(id).expect("shipped");
        let text = damaged(&shipped_file(id, "init.luau"), &damages);
        source.files.insert("init.luau".into(), text.clone().into_bytes());
        let manifest = shipped_file(id, "plugin.toml");
        let measures: toml::Table = manifest.parse().expect("sound");
        let measures: Vec<String> = measures["measures"].as_array().into_iter().flatten()
            .filter_map(|measure| measure.as_str().map(str::to_owned)).collect();
        let known: Vec<&str> = measures.iter().map(String::as_str).collect();
        let plugin = match Plugin::load(source, &known) {
            Ok(plugin) => plugin,
            Err(faults) => {
                prop_assert!(faults.has_errors());
                return Ok(());
            }
        };
        let mut input = input();
        input.body = measures.iter().map(|measure| (measure.clone(), 400.0)).collect();
        let gauge = input.gauges["plain"];
        input.gauges = plugin.manifest.structures.iter().map(|s| (s.name().to_owned(), gauge)).collect();
        let limits = Limits { deadline: Duration::from_millis(100), ..Limits::default() };
        if let Err(failure) = ScriptHost::new(limits).garment(&plugin, &input) {
            let faults = failure.diagnostics();
            prop_assert!(faults.has_errors());
            for fault in faults.iter() {
                prop_assert!(fault.code != Code::ScriptHost, "{fault:?}");
                prop_assert!(!fault.message.contains("0x"), "{fault:?}");
            }
        }
    }
}

const FILES: [&str; 9] = [
    "oddments.toml",
    "stash.toml",
    "people.toml",
    "gifts.toml",
    "records.toml",
    "plan.toml",
    "machines.toml",
    "yarns/tide.toml",
    "swatches/standard.toml",
];

/// A part of the demo, so that one reading is quick.
fn part_of_the_demo() -> (tempfile::TempDir, BTreeMap<&'static str, String>) {
    let hold = tempfile::tempdir().expect("a folder");
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/demo");
    let mut texts = BTreeMap::new();
    for folder in ["yarns", "swatches"] {
        fs::create_dir(hold.path().join(folder)).expect("made");
        for entry in fs::read_dir(demo.join(folder)).expect("listed").flatten() {
            fs::copy(entry.path(), hold.path().join(folder).join(entry.file_name()))
                .expect("copied");
        }
    }
    for file in FILES {
        let text = match file {
            "plan.toml" => "[[reservation]]\ngift = \"ruan-tam\"\nsection = \"band\"\n\
                remnant = \"slate-1\"\nweight = \"2 g\"\n"
                .to_owned(),
            "machines.toml" => "[[machine]]\nid = \"shed\"\npitch = \"4.5 mm\"\nneedles = 180\n\
                ribber = true\n"
                .to_owned(),
            _ => fs::read_to_string(demo.join(file)).expect("a file"),
        };
        fs::write(hold.path().join(file), &text).expect("written");
        texts.insert(file, text);
    }
    (hold, texts)
}

#[test]
fn a_damaged_workspace_is_told_at_its_lines_and_never_written_over() {
    let (hold, texts) = part_of_the_demo();
    let folder = Folder::find(Some(hold.path())).expect("found").expect("there");
    folder.read().unwrap_or_else(|faults| panic!("sound: {faults}"));
    let mut runner = proptest::test_runner::TestRunner::new(cases(120));
    let strategy = (damages(), proptest::sample::select(FILES.to_vec()));
    let result = runner.run(&strategy, |(damages, file)| {
        let text = damaged(&texts[file], &damages);
        let path = hold.path().join(file);
        fs::write(&path, &text).expect("written");
        let read = folder.read();
        let faults = match read {
            Ok(seen) => seen.warnings,
            Err(faults) => faults,
        };
        for fault in faults.iter() {
            let Some(place) = &fault.place else { continue };
            let told = fs::read_to_string(&place.file).expect("a file of the workspace");
            let lines = told.split('\n').count();
            prop_assert!((1..=lines).contains(&place.line), "{fault:?} in {lines} lines");
        }
        prop_assert_eq!(fs::read_to_string(&path).expect("there"), text);
        fs::write(&path, &texts[file]).expect("written");
        Ok(())
    });
    if let Err(failure) = result {
        panic!("{failure}");
    }
}

/// Requests that are right, to be damaged. Those that begin a plan are left out: it runs on.
const ASKED: [(&str, &str, &str); 22] = [
    ("GET", "/api/v1/grade?garment=cuff&sizes=women-m&units=in", ""),
    ("GET", "/api/v1/pattern?garment=cuff&sizes=women-m&format=svg", ""),
    ("GET", "/api/v1/chart?sizes=women-m&measures=head_girth", ""),
    ("GET", "/api/v1/reach?weight=34+g&sizes=women-m&garment=cuff", ""),
    ("GET", "/api/v1/lists/stash?format=csv", ""),
    ("GET", "/api/v1/lists/people/Ruan", ""),
    ("GET", "/api/v1/walk?garment=cuff&size=women-m", ""),
    ("GET", "/api/v1/garments/tam", ""),
    ("GET", "/api/v1/plans/1", ""),
    ("GET", "/grade?garment=cuff&sizes=women-m", ""),
    ("GET", "/machine?garment=cuff&size=women-m", ""),
    ("GET", "/chart?sizes=women-m", ""),
    (
        "POST",
        "/api/v1/grade",
        "{\"garment\":\"cuff\",\"sizes\":\"women-m\",\"options\":{\"ease\":\"-5 %\"}}",
    ),
    (
        "POST",
        "/api/v1/swatch",
        "{\"swatch\":{\"yarn\":\"400 m/100 g\",\"swatch\":[{\"structure\":\"plain\",\"stitches\":40,\"widths\":[\"14.2 cm\"],\"rows\":60,\"heights\":[\"15 cm\"]}]},\"garment\":\"cuff\",\"size\":\"women-m\"}",
    ),
    ("POST", "/api/v1/lists/stash", "{\"yarn\":\"tide\",\"weight\":\"18 g\",\"lot\":\"B2\"}"),
    (
        "POST",
        "/api/v1/lists/people",
        "{\"name\":\"Endelyn\",\"size\":\"y5-6\",\"likes\":{\"colours\":[\"blue\"]}}",
    ),
    (
        "POST",
        "/api/v1/lists/gifts",
        "{\"person\":\"Ruan\",\"garment\":[\"hat\"],\"priority\":4,\"due\":\"2026-12-20\"}",
    ),
    ("PATCH", "/api/v1/lists/stash/slate-1", "{\"weight\":\"12.5 g\",\"lot\":null}"),
    (
        "POST",
        "/api/v1/records",
        "{\"garment\":\"tam\",\"size\":\"women-m\",\"used\":[\"hat:tide-1=1 g\"]}",
    ),
    ("POST", "/api/v1/undo", "{\"redo\":true}"),
    ("POST", "/api/v1/batch", "{\"garment\":\"cuff\",\"sizes\":\"women-m\"}\n"),
    ("PUT", "/api/v1/places/b1", "{\"garment\":\"cuff\",\"size\":\"women-m\",\"row\":3}"),
];

/// A path that can stand in a request line; what can't is sent as escapes.
fn escaped(path: &str) -> String {
    let mut out = String::new();
    for byte in path.bytes() {
        if byte.is_ascii_alphanumeric() || b"/?&=+-._~%:,".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    if out.starts_with('/') { out } else { format!("/{out}") }
}

#[test]
fn damaged_requests_are_the_askers_fault_never_the_servers() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let mut runner = proptest::test_runner::TestRunner::new(cases(250));
    let strategy = (0..ASKED.len(), damages(), 0..3u8);
    let result = runner.run(&strategy, |(which, damages, what)| {
        let (method, path, body) = ASKED[which];
        let path =
            if what != 1 && method != "GET" { path.to_owned() } else { damaged(path, &damages) };
        // What would ask for all sizes of all garments is slow, not wrong.
        prop_assume!(
            !path.contains("grade") && !path.contains("pattern") || path.contains("women-m")
        );
        let body = if what == 1 { body.to_owned() } else { damaged(body, &damages) };
        prop_assume!(!path.contains("grade") || body.is_empty() || body.contains("women-m"));
        let method = Method::from_bytes(method.as_bytes()).expect("a method");
        let asked = request(method, &escaped(&path))
            .header(header::CONTENT_TYPE, "application/json")
            .body(Body::from(body.clone()));
        let Ok(asked) = asked else { return Ok(()) };
        let answer = server.send(asked);
        prop_assert!(
            !answer.status.is_server_error(),
            "{which}: {path} {body}: {} {}",
            answer.status,
            String::from_utf8_lossy(&answer.bytes)
        );
        Ok(())
    });
    if let Err(failure) = result {
        panic!("{failure}");
    }
    // And the workspace is as sound as before.
    let read = Workspace::require(Some(&demo.path));
    assert!(read.is_ok(), "{}", read.err().unwrap_or_default());
}

/// A line of a journal with the sum that is due to it, as anyone can make one (FNV-1a, 64 bits).
fn sealed(record: &str) -> String {
    let sum = record.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |sum, byte| {
        (sum ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    });
    format!("{{\"sum\":\"{sum:016x}\",\"record\":{record}}}\n")
}

#[test]
fn a_forged_journal_leads_nowhere() {
    const NOTHING: &str = "cbf29ce484222325";
    let demo = Demo::new();
    let home = demo.path.parent().expect("a home");
    let beside = |folder: &Path| fs::read_dir(folder).expect("listed").count();
    let before = (beside(home), beside(&demo.path));
    let absolute = home.join("new.toml");
    for path in [
        "../made/new.toml",
        "../new.toml",
        absolute.to_str().expect("text"),
        "yarns/../new.toml",
        "yarns/in/new.toml",
        "yarns/.new.toml",
        "made/new.toml",
        "new.toml",
        ".oddments/new.toml",
        "",
    ] {
        let record = serde_json::json!({ "change": {
            "seq": 7, "time": "", "command": "forged", "files": [{
                "path": path, "before": null, "after": NOTHING, "at": 0, "old": "", "new": "" }] } });
        let journal = demo.path.join(".oddments/journal");
        fs::write(&journal, sealed(&record.to_string())).expect("written");
        let folder = Folder::find(Some(&demo.path)).expect("found").expect("there");
        let Seen { warnings, .. } = folder.read().expect("the files are sound");
        assert!(warnings.iter().any(|fault| fault.code == Code::Journal), "{path}: {warnings:?}");
        let faults = folder.undo(&UndoAsk::default()).expect_err("nothing of ours to take back");
        assert!(faults.iter().any(|fault| fault.code == Code::Nothing), "{path}: {faults:?}");
        assert_eq!((beside(home), beside(&demo.path)), before, "{path}");
        assert!(!demo.path.join(".oddments/new.toml").exists());
    }
}

#[test]
fn a_journal_that_counted_to_its_end_is_set_aside() {
    let demo = Demo::new();
    let record = format!(
        "{{\"change\":{{\"seq\":{},\"time\":\"\",\"command\":\"forged\",\"files\":[]}}}}",
        u64::MAX
    );
    fs::write(demo.path.join(".oddments/journal"), sealed(&record)).expect("written");
    let before = demo.text("stash.toml");
    let ran = demo.run(&["stash", "change", "bracken-1", "--weight", "9 g"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert_ne!(demo.text("stash.toml"), before);
    let ran = demo.run(&["undo"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert_eq!(demo.text("stash.toml"), before);
}
