//! How things are done by hand at the machine and off it: words and drawings of our own, for those who
//! do one of them for the first time. What each says is common practice; no source.

mod bench;
mod pictures;
mod technique;
mod told;
mod words;

pub use technique::{Technique, used_in};
