//! The data of a pattern, read and knitted by what shares nothing with the program: a loom, and as much of JSON
//! Schema as the data's own schema uses. Values are read, compared and dropped here too, where it is quick.

mod loom;
pub mod schema;

use serde_json::Value;

pub use loom::knit;

/// What is written, as values.
///
/// # Panics
/// It is no JSON.
pub fn read(text: &str) -> Value {
    serde_json::from_str(text).expect("JSON")
}
