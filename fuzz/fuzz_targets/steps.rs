//! See `read/steps.rs`.

#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| oddments_fuzz::steps::read(data));
