//! Any text as each kind of table: never a panic, and every fault lies inside the text. The first
//! byte picks the kind.

use diag::Diagnostics;

fn inside(text: &str, faults: &Diagnostics) {
    for place in faults.iter().filter_map(|fault| fault.place.as_ref()) {
        assert_eq!(place.file, "file.toml");
        assert!(place.line >= 1 && place.line <= text.split('\n').count(), "{place:?}");
    }
}

/// One input.
pub fn read(data: (u8, &str)) {
    let (kind, text) = data;
    let faults = match kind % 5 {
        0 => store::parse_swatches("file.toml", text).err(),
        1 => store::parse_size_table("file.toml", text).err(),
        2 => store::parse_machines("file.toml", text).err(),
        3 => store::parse_yarn("file.toml", text).err(),
        _ => store::parse_case("file.toml", text).err(),
    };
    if let Some(faults) = faults {
        assert!(faults.has_errors());
        inside(text, &faults);
    }
}
