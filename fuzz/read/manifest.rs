//! Any text as plugin.toml: never a panic, and every fault lies inside the text.

use script::Manifest;

/// One input.
pub fn read(text: &str) {
    if let Err(faults) = Manifest::parse("plugin.toml", text, &["head_girth", "hand_girth"]) {
        assert!(faults.has_errors());
        for place in faults.iter().filter_map(|fault| fault.place.as_ref()) {
            assert!(place.line >= 1 && place.line <= text.split('\n').count(), "{place:?}");
        }
    }
}
