//! See `read/script.rs`.

#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| oddments_fuzz::script::read(text));
