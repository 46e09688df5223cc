//! The domain, pure: bodies, swatches, machines, programs, the virtual bed and grading.
//!
//! No clock, randomness, files, environment or hash order: the same input gives the same result
//! on any machine. All faults are gathered as [`diag::Diagnostics`].

#![warn(missing_docs)]

pub mod bed;
pub mod bed_place;
pub mod body;
pub mod by_hand;
pub mod carry;
pub mod case;
pub mod caution;
pub mod cloth;
pub mod colouring;
pub mod colours;
pub mod dial;
pub mod edge;
pub mod estimate;
pub mod garment;
pub mod gift_plan;
pub mod grade;
pub mod graph;
mod hand_work;
pub mod in_turn;
pub mod joined_edges;
pub mod look;
pub mod machine;
pub mod marked;
pub mod needle;
pub mod operation;
pub mod program;
pub mod record;
pub mod round;
pub mod run;
pub mod shaping;
pub mod size_run;
pub mod stash;
pub mod swatch;
pub mod taught;
pub mod thread;
pub mod turns;
pub mod view;
pub mod working_time;
pub mod yarn;
