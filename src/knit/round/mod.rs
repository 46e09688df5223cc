//! In the round: the shape that cloth takes, from nothing but how its loops hang together.
//!
//! A [`Net`] is cloth as springs: a node a loop, a spring to each neighbour as long as the gauge says.
//! [`Net::coarser`] makes it smaller by cells of the same piece, [`settle`] goes from nothing to rest,
//! coarse first, and [`relax`] from a given layout. [`Shape::put_on`] lays a garment out by its openings and tips,
//! as a [`Stance`] says, on a [`Form`] where it is worn or blocked, else on a table. A model: what it shows is where
//! cloth would lie, not a promise.
//!
//! Pure: no clock, no chance, no threads; sums are taken in one order, so that the same net gives the
//! same bytes. Work is bounded by steps, never by time.

mod bag;
mod contact;
mod cover;
mod dress;
mod fabric;
mod form;
mod form_mesh;
mod gathers;
mod looks;
mod measured;
mod neighbours;
mod net;
mod places;
mod point;
mod relax;
mod settle;
mod shape;
mod stance;
mod touching;
mod worn;

pub use fabric::StitchSize;
pub use form::{Form, Solid};
pub use form_mesh::FormMesh;
pub use looks::Looks;
pub use measured::{Measured, measured};
pub use net::{Bend, Cell, Coarser, Net, Spring};
pub use places::{Arc, Places};
pub use point::Point;
pub use relax::{Pin, Relaxed, Setting, relax};
pub use settle::settle;
pub use shape::{Detail, Pose, Shape, ShapePart};
pub use stance::Stance;

#[cfg(test)]
mod tests;
#[cfg(test)]
mod wedges_test;
