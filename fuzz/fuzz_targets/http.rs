//! See `read/http.rs`.

#![no_main]

use libfuzzer_sys::{Corpus, fuzz_target};

fuzz_target!(|data: &[u8]| -> Corpus {
    if oddments_fuzz::http::read(data) { Corpus::Keep } else { Corpus::Reject }
});
