//! A garment is the same whether its keys are guarded or not, to the line of each of its steps and faults.

#![allow(clippy::disallowed_methods, reason = "the test reads the shipped garments")]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::code::{Module, Sources, compiled};
use crate::{
    GarmentInput, GarmentSource, GaugeInput, Limits, MachineInput, Plugin, PluginSource, ScriptHost,
};

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");

/// The folders of all garments that lie here: those shipped, the fixture and the one to begin with.
fn folders() -> Vec<PathBuf> {
    let root = Path::new(ROOT);
    let shipped = std::fs::read_dir(root.join("plugins"))
        .expect("listed")
        .map(|entry| entry.expect("there").path());
    let mut all: Vec<PathBuf> = shipped.filter(|path| path.join("plugin.toml").exists()).collect();
    all.push(root.join("fixtures/square"));
    all
}

/// The garment with all shipped parts at hand.
fn garment(folder: &Path) -> GarmentSource {
    let parts = std::fs::read_dir(Path::new(ROOT).join("plugins/parts")).expect("listed");
    let part = |entry: std::io::Result<std::fs::DirEntry>| {
        let path = entry.expect("there").path();
        Some((path.file_name()?.to_str()?.to_owned(), source(&path)))
    };
    GarmentSource { parts: parts.filter_map(part).collect(), ..source(folder).into() }
}

fn source(folder: &Path) -> PluginSource {
    let mut files = BTreeMap::new();
    for entry in std::fs::read_dir(folder).expect("listed") {
        let path = entry.expect("there").path();
        if path.is_file() {
            let name = path.file_name().and_then(|name| name.to_str()).expect("a name").to_owned();
            files.insert(name, std::fs::read(&path).expect("read"));
        }
    }
    PluginSource { folder: folder.display().to_string(), files }
}

/// The same garment with its code as the compiler gives it.
fn unguarded(plugin: &Plugin) -> Plugin {
    let code = &plugin.code;
    let bare = |(name, module): (&String, &Module)| {
        let bytecode = compiled(&module.text).expect("compiles");
        (name.clone(), Module { file: module.file.clone(), text: module.text.clone(), bytecode })
    };
    Plugin {
        manifest: Arc::clone(&plugin.manifest),
        code: Arc::new(Sources {
            manifest_file: code.manifest_file.clone(),
            parts: code.parts.clone(),
            manifest: code.manifest.clone(),
            modules: code.modules.iter().map(bare).collect(),
        }),
    }
}

/// A body of so many times a hand's breadth in all measures, on a fabric of so many mm a stitch.
fn input(plugin: &Plugin, times: f64, stitch_mm: f64) -> GarmentInput {
    let manifest = &plugin.manifest;
    let gauge = GaugeInput { stitch_mm, row_mm: stitch_mm * 0.7, stretch: 1.6 };
    GarmentInput {
        size_id: "some".to_owned(),
        body: manifest.measures.iter().map(|name| (name.clone(), 90.0 * times)).collect(),
        gauges: manifest.structures.iter().map(|s| (s.name().to_owned(), gauge)).collect(),
        machine: MachineInput {
            id: "standard".to_owned(),
            needles: 200,
            pitch_mm: 4.5,
            ribber: true,
        },
        ..GarmentInput::default()
    }
}

#[test]
fn a_guard_changes_no_garment() {
    let (mut made, mut refused) = (0, 0);
    let mut host = ScriptHost::new(Limits::default());
    for folder in folders() {
        let text = std::fs::read_to_string(folder.join("plugin.toml")).expect("read");
        let names: Vec<&str> = text.split('"').collect();
        let plugin = Plugin::load(garment(&folder), &names).expect("loads");
        let bare = unguarded(&plugin);
        for times in 1..=9 {
            for stitch_mm in [2.4, 3.5, 6.1] {
                let input = input(&plugin, f64::from(times), stitch_mm);
                let (guarded, plain) = (host.garment(&plugin, &input), host.garment(&bare, &input));
                assert_eq!(guarded, plain, "{}, {times} times", folder.display());
                *(if guarded.is_ok() { &mut made } else { &mut refused }) += 1;
            }
        }
    }
    assert!(made > 50 && refused > 10, "{made} made, {refused} refused: too few of one kind");
}
