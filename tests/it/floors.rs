//! The floor plan, read from the manifests. That a floor can't reach past what its manifest names is
//! the compiler's doing; that no manifest names what the plan keeps from it is looked at here.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use toml::{Table, Value};

/// The floors from the lowest up. Those that share a height know nothing of each other.
const PLAN: [&[&str]; 7] = [
    &["diag"],
    &["units"],
    &["knit", "plan"],
    &["script"],
    &["store", "report"],
    &["app"],
    &["cli", "web"],
];

/// Outside crates that belong to some floors alone: engine, disk, terminal, network, drawing.
const KEPT: [(&str, &[&str]); 20] = [
    ("mlua", &["script"]),
    ("tempfile", &["store"]),
    ("toml_edit", &["store"]),
    ("include_dir", &["store"]),
    ("fnv", &["store"]),
    ("schemars", &["store"]),
    ("tabled", &["report"]),
    ("csv", &["report"]),
    ("krilla", &["report"]),
    ("askama", &["report", "web"]),
    ("clap", &["cli"]),
    ("clap_complete", &["cli"]),
    ("clap_mangen", &["cli"]),
    ("ctrlc", &["cli"]),
    ("indicatif", &["cli"]),
    ("open", &["cli"]),
    ("fast_qr", &["report"]),
    ("axum", &["web"]),
    ("hyper", &["web"]),
    ("tokio", &["web"]),
];

fn height(floor: &str) -> Option<usize> {
    PLAN.iter().position(|floors| floors.contains(&floor))
}

/// What a manifest names under `[dependencies]`, and under that of any target; by its own name where
/// it is used under another.
fn dependencies(manifest: &Table) -> Vec<String> {
    let own_name = |(key, value): (&String, &Value)| {
        value.get("package").and_then(Value::as_str).unwrap_or(key).to_owned()
    };
    let named = |table: &Table| -> Vec<String> {
        let table = table.get("dependencies").and_then(Value::as_table);
        table.into_iter().flatten().map(own_name).collect()
    };
    let targets = manifest.get("target").and_then(Value::as_table);
    let targets = targets.into_iter().flat_map(Table::values).filter_map(Value::as_table);
    targets.flat_map(named).chain(named(manifest)).collect()
}

/// Floors that must not reach for anything outside: one list of bans for them all. `app` and `report`
/// leave the disk to `store` and the terminal to `cli`.
const PURE: [&str; 7] = ["diag", "units", "knit", "plan", "script", "report", "app"];

/// What each floor may use that a pure one may not, by the words its bans lack.
const MAY: [(&str, &[&str]); 3] = [
    ("store", &["std::fs::", "std::path::", "std::os::unix::fs::", "getrandom::"]),
    ("cli", &["std::thread::", "std::io::", "std::env::args_os"]),
    ("web", &["std::thread::", "std::io::stderr", "getrandom::"]),
];

/// What is wrong with the manifest of a floor.
fn faults_of(floor: &str, text: &str) -> Vec<String> {
    let manifest: Table = match text.parse() {
        Ok(manifest) => manifest,
        Err(error) => return vec![format!("{floor}: {error}")],
    };
    let Some(own) = height(floor) else {
        return vec![format!("{floor} is no floor of the plan")];
    };
    let mut faults = Vec::new();
    for name in dependencies(&manifest) {
        if height(&name).is_some_and(|other| other >= own) {
            faults.push(format!("{floor} rests on {name}, which does not lie below it"));
        }
        if KEPT.iter().any(|(kept, floors)| *kept == name && !floors.contains(&floor)) {
            faults.push(format!("{floor} uses {name}, which is not for it"));
        }
    }
    faults
}

/// The root's manifest, and each floor's by the name of its folder.
fn manifests() -> (Table, BTreeMap<String, String>) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let read = |path: &Path| fs::read_to_string(path).expect("a manifest");
    let floors = fs::read_dir(root.join("src"))
        .expect("the floors")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.is_dir())
        .map(|path| {
            let name = path.file_name().expect("a name").to_string_lossy().into_owned();
            (name, read(&path.join("Cargo.toml")))
        })
        .collect();
    (read(&root.join("Cargo.toml")).parse().expect("TOML"), floors)
}

fn list(value: &Value) -> Vec<String> {
    let entries = value.as_array().expect("a list");
    entries.iter().map(|entry| entry.as_str().expect("a text").to_owned()).collect()
}

#[test]
fn each_floor_rests_on_lower_ones_and_keeps_to_its_own_crates() {
    let (_, floors) = manifests();
    let planned: Vec<&str> = PLAN.concat();
    assert_eq!(floors.len(), planned.len(), "{:?}", floors.keys());
    let faults: Vec<String> =
        floors.iter().flat_map(|(floor, text)| faults_of(floor, text)).collect();
    assert!(faults.is_empty(), "{faults:#?}");
    // A name that no floor uses any more would keep nothing out.
    let used: Vec<String> =
        floors.values().flat_map(|text| dependencies(&text.parse().expect("TOML"))).collect();
    for (kept, _) in KEPT {
        assert!(used.iter().any(|name| name == kept), "no floor uses {kept}");
    }
}

#[test]
fn every_floor_is_a_member_and_is_tested_by_default() {
    let (root, floors) = manifests();
    let folders: Vec<String> = floors.keys().map(|floor| format!("src/{floor}")).collect();
    let sorted = |mut names: Vec<String>| {
        names.sort();
        names
    };
    let workspace = root["workspace"].as_table().expect("a workspace");
    assert_eq!(sorted(list(&workspace["members"])), folders);
    let mut tested = sorted(list(&workspace["default-members"]));
    assert_eq!(tested.remove(0), ".", "the program itself");
    assert_eq!(tested, folders);
    for (floor, text) in &floors {
        let manifest: Table = text.parse().expect("TOML");
        assert_eq!(manifest["package"]["name"].as_str(), Some(&**floor), "named after its folder");
        assert_eq!(manifest["lints"]["workspace"].as_bool(), Some(true), "{floor} has the lints");
    }
}

/// What clippy keeps from a floor: methods, then types.
fn bans(floor: &str) -> [Vec<String>; 2] {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("src").join(floor).join("clippy.toml");
    let bans: Table = fs::read_to_string(file).expect("bans").parse().expect("TOML");
    ["disallowed-methods", "disallowed-types"].map(|key| {
        let entries = bans[key].as_array().expect("a list").iter();
        entries.map(|entry| entry["path"].as_str().expect("a path").to_owned()).collect()
    })
}

/// Clippy reads the nearest file above a manifest and no other: a floor without one of its own would
/// fall under the program's, which is made for tests too.
#[test]
fn the_pure_floors_have_the_same_bans_and_the_others_lack_only_what_they_may() {
    let (_, floors) = manifests();
    let named = PURE.len() + MAY.len();
    assert_eq!(named, floors.len(), "a floor has no list of bans");
    let text = |floor: &str| {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        fs::read_to_string(root.join("src").join(floor).join("clippy.toml")).expect("bans")
    };
    for floor in PURE {
        assert!(text(floor) == text("knit"), "{floor} has other bans than knit");
    }
    let pure = bans("knit");
    assert!(pure[0].len() > 80 && pure[1].len() > 15, "{pure:?}");
    for (floor, may) in MAY {
        for (all, own) in pure.iter().zip(bans(floor)) {
            let lacks = all.iter().filter(|path| !own.contains(path));
            for path in lacks {
                assert!(may.iter().any(|word| path.starts_with(word)), "{floor} may not {path}");
            }
        }
    }
}

#[test]
fn a_planted_breach_is_found() {
    for (floor, manifest, told) in [
        ("knit", "[dependencies]\nplan.workspace = true", "knit rests on plan"),
        ("plan", "[dependencies]\nknit = { path = '../knit' }", "plan rests on knit"),
        ("web", "[dependencies.cli]\nworkspace = true", "web rests on cli"),
        ("cli", "[dependencies]\nweb.workspace = true", "cli rests on web"),
        ("store", "[dependencies]\napp.workspace = true", "store rests on app"),
        ("report", "[dependencies]\nstore.workspace = true", "report rests on store"),
        ("store", "[dependencies.report]\nworkspace = true", "store rests on report"),
        (
            "diag",
            "[target.'cfg(unix)'.dependencies]\nunits.workspace = true",
            "diag rests on units",
        ),
        ("app", "[dependencies]\nmlua = '0.12'", "app uses mlua"),
        ("knit", "[target.'cfg(unix)'.dependencies]\ntokio.workspace = true", "knit uses tokio"),
        ("report", "[dependencies]\ntempfile = '3'", "report uses tempfile"),
        ("plan", "[dependencies]\nlua = { package = 'mlua', version = '0.12' }", "plan uses mlua"),
        ("cellar", "[dependencies]", "cellar is no floor"),
        ("knit", "[dependencies", "knit: TOML"),
    ] {
        let faults = faults_of(floor, manifest);
        assert!(faults.len() == 1 && faults[0].starts_with(told), "{told}: {faults:?}");
    }
    let sound = "[dependencies]\ndiag.workspace = true\nunits.workspace = true\nlibm = '0.2'\n\
                 [dev-dependencies]\ntempfile = '3'";
    assert!(faults_of("knit", sound).is_empty());
}
