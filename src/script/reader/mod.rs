//! Reads the table a garment function returned. Every value is checked, counted and copied; all
//! faults are gathered, up to a number worth reading.

mod garment;
mod garment_reader;
mod measures;
mod steps;
mod views;

pub(crate) use garment_reader::GarmentReader;
