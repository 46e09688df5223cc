//! Going on from the middle of a garment when life differs: where the work stands, what of a run is
//! knitted by then, the same program cut in two there, and what another gauge from there on makes of
//! the finished sizes and of the yarn that is still to come.
//!
//! Nothing here chooses a number: what is chosen anew, the use case says.

mod carried_on;
mod cut;
mod drift;
mod joined;
mod place;
mod so_far;

pub use carried_on::{CarriedOn, CarriedSize};
pub use cut::{Cut, cut};
pub use drift::{Drift, Gauged, MixedWidth};
pub use joined::{Uneven, uneven_joins};
pub use place::{PlaceFault, WorkPlace};
pub use so_far::{Differs, differs_so_far, knitted, rest, same_row_again};
