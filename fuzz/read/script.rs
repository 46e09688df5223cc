//! Any text as init.luau: a garment or diagnostics, twice the same, and the host stays fit.

use std::collections::BTreeMap;
use std::time::Duration;

use script::{GarmentInput, GaugeInput, Limits, MachineInput, Plugin, PluginSource, ScriptHost};

const MANIFEST: &str = "id = \"fuzz\"\ntitle = \"Fuzz\"\nversion = \"1.0.0\"\napi = 1\n\
    summary = \"Any script.\"\nmeasures = [\"head_girth\"]\nstructures = [\"plain\"]\n\
    [sections]\nbody = \"Body\"\n";

fn input() -> GarmentInput {
    GarmentInput {
        size_id: "adult-m".into(),
        size_label: "Adult M".into(),
        size_group: "adult".into(),
        body: BTreeMap::from([("head_girth".into(), 560.0)]),
        gauges: BTreeMap::from([(
            "plain".into(),
            GaugeInput { stitch_mm: 3.5, row_mm: 2.5, stretch: 1.6 },
        )]),
        machine: MachineInput { id: "standard".into(), needles: 200, pitch_mm: 4.5, ribber: false },
        ..GarmentInput::default()
    }
}

/// One input.
pub fn read(text: &str) {
    let files = BTreeMap::from([
        ("plugin.toml".to_owned(), MANIFEST.as_bytes().to_vec()),
        ("init.luau".to_owned(), text.as_bytes().to_vec()),
    ]);
    let source = PluginSource { folder: "plugins/fuzz".into(), files };
    let Ok(plugin) = Plugin::load(source, &["head_girth"]) else { return };
    let limits =
        Limits { deadline: Duration::from_millis(50), memory: 8 << 20, ..Limits::default() };
    let mut host = ScriptHost::new(limits);
    let first = host.garment(&plugin, &input());
    let second = host.garment(&plugin, &input());
    let stopped = |outcome: &Result<_, script::ScriptFailure>| {
        outcome.as_ref().is_err_and(|failure| {
            failure.diagnostics().iter().any(|fault| fault.code.as_str() == "script::deadline")
        })
    };
    for failure in [&first, &second].into_iter().filter_map(|outcome| outcome.as_ref().err()) {
        assert!(failure.diagnostics().iter().all(|fault| fault.code.as_str() != "script::host"));
    }
    // Where the clock ran out it may have done so at another line, or not at all.
    if !stopped(&first) && !stopped(&second) {
        assert_eq!(first, second);
    }
}
