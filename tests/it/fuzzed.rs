//! What is fuzzed reads its seeds here, so that it is built at each run and holds of what is known.

use std::fs;
use std::process::Command;

#[path = "../../fuzz/read/http.rs"]
mod http;
#[path = "../../fuzz/read/manifest.rs"]
mod manifest;
#[path = "../../fuzz/read/script.rs"]
mod script;
#[path = "../../fuzz/read/steps.rs"]
mod steps;
#[path = "../../fuzz/read/toml.rs"]
mod toml;
#[path = "../../fuzz/read/units.rs"]
mod units;

/// The seeds of a target, as `fuzz/seeds.sh` lays them out.
fn seeds(target: &str) -> Vec<Vec<u8>> {
    let folder = tempfile::tempdir().expect("a folder");
    let laid = Command::new("bash")
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/fuzz/seeds.sh"))
        .arg(folder.path())
        .output()
        .expect("run");
    assert!(laid.status.success(), "{}", String::from_utf8_lossy(&laid.stderr));
    let files = fs::read_dir(folder.path().join(target)).expect("seeds of the target");
    files.map(|file| fs::read(file.expect("an entry").path()).expect("a seed")).collect()
}

fn texts(target: &str) -> Vec<String> {
    let text = |bytes| String::from_utf8(bytes).expect("text");
    seeds(target).into_iter().map(text).collect()
}

#[test]
fn units_read_their_seeds() {
    texts("units").iter().for_each(|text| units::read(text));
}

#[test]
fn tables_read_their_seeds() {
    for text in texts("toml") {
        // The kind is the first byte.
        toml::read((text.as_bytes()[0], &text[1..]));
    }
}

#[test]
fn manifests_read_their_seeds() {
    texts("manifest").iter().for_each(|text| manifest::read(text));
}

#[test]
fn scripts_read_their_seeds() {
    texts("script").iter().for_each(|text| script::read(text));
}

#[test]
fn steps_read_their_seeds() {
    seeds("steps").iter().for_each(|bytes| steps::read(bytes));
}

/// Each is a request that is worth trying.
#[test]
fn requests_read_their_seeds() {
    for bytes in seeds("http") {
        assert!(http::read(&bytes), "no request: {}", String::from_utf8_lossy(&bytes));
    }
}
