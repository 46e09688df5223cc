//! See `read/manifest.rs`.

#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| oddments_fuzz::manifest::read(text));
