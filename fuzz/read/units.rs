//! Any text: either no quantity, or one that is read back from how it shows.

use std::fmt::Display;
use std::str::FromStr;

use units::{Length, Mass, PerTen, YarnCount, parse_share, readings};

fn there_and_back<T: FromStr<Err: std::fmt::Debug> + Display>(text: &str) {
    if let Ok(value) = text.parse::<T>() {
        let shown = value.to_string();
        let again: T =
            shown.parse().unwrap_or_else(|e| panic!("{text:?} shows as {shown:?}: {e:?}"));
        assert_eq!(again.to_string(), shown, "{text:?}");
    }
}

/// One input.
pub fn read(text: &str) {
    there_and_back::<Length>(text);
    there_and_back::<Mass>(text);
    there_and_back::<YarnCount>(text);
    if let Ok(density) = text.parse::<PerTen>() {
        assert!(density.per_10_cm().is_finite());
    }
    // Its range is the caller's.
    let _ = parse_share(text);
    if let Ok(all) = readings(text) {
        assert_eq!(readings(&all.join("; ")), Ok(all), "{text:?}");
    }
}
