//! What a knitter has and whom it is for: yarns, remnants, people, gifts, finished pieces, what a
//! plan has set aside. Plain values with their own rules (fibres add up, a date exists); no file
//! format, no gauge and no choice of what to knit from what.

mod aim;
mod blend;
mod care;
mod colour_family;
mod contents;
mod fibre;
mod finished_piece;
mod gift_piece;
mod gift_stage;
mod gift_state;
mod gift_wish;
mod knitted_in;
mod knitted_section;
mod knitter;
mod named_swatches;
mod person;
mod plan_weights;
mod remnant;
mod reservation;
mod section_sets;
mod settings;
mod sure;
mod weight_class;
mod whole_piece;
mod words;
mod yarn;

pub use aim::{Aim, AimWeights};
pub use blend::Blend;
pub use care::{Care, WashEffort};
pub use colour_family::ColourFamily;
pub use contents::Contents;
pub use fibre::Fibre;
pub use finished_piece::{FinishedPiece, WeighedSection};
pub use gift_piece::GiftPiece;
pub use gift_stage::GiftStage;
pub use gift_state::GiftState;
pub use gift_wish::{GarmentChoice, GiftWish};
pub use knitted_in::KnittedIn;
pub use knitted_section::KnittedSection;
pub use knitter::{Knitter, same_place};
pub use named_swatches::NamedSwatches;
pub use person::Person;
pub use plan_weights::PlanWeights;
pub use remnant::Remnant;
pub use reservation::{KnittedAs, Reservation};
pub use section_sets::{LoneSection, SectionSets, merged, section_sets, section_words};
pub use settings::{Reserve, Settings};
pub use sure::Sure;
pub use weight_class::WeightClass;
pub use whole_piece::WholePiece;
pub use words::Words;
pub use yarn::Yarn;

/// A day of the Gregorian calendar, printed by ISO 8601 (`2026-12-24`). Reading one from text, and
/// what day it is today, are for the edges.
pub use jiff::civil::Date;
