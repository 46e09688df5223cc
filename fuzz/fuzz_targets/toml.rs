//! See `read/toml.rs`.

#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: (u8, &str)| oddments_fuzz::toml::read(data));
