//! The pattern sheet: what is printed and taken to the machine. One document, built from the same
//! walk as the text pattern (`report::told`), and two writers of it, HTML and PDF. No wording of
//! instructions lives here, and no figure is worked out here.

mod build;
mod document;
mod how;
mod html;
mod paper;
#[cfg(feature = "pdf")]
mod pdf;
mod ticks;

pub(crate) use build::plain_sheet;
pub use build::{SheetPicture, pattern_sheet};
pub use document::{Block, Document, SheetStep};
pub use html::sheet_html;
pub use paper::Paper;
#[cfg(feature = "pdf")]
pub use pdf::sheet_pdf;
pub use ticks::{Tick, Ticks};
