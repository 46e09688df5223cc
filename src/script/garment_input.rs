use std::collections::BTreeMap;

use crate::manifest::OptionValue;

/// One body, the chosen options, the gauges and the machine. Only the measures the manifest
/// declares reach the script.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GarmentInput {
    /// The size, as people type it; named in every diagnostic unless it is empty.
    pub size_id: String,
    /// The size, as people read it.
    pub size_label: String,
    /// `babies`, `children`, `women` or `men`.
    pub size_group: String,
    /// Mean age in years of the size, or of the nearest one; `None` for adults.
    pub size_age: Option<f64>,
    /// Millimetres by measure name.
    pub body: BTreeMap<String, f64>,
    /// As [`Manifest::parse_options`](crate::Manifest::parse_options) gives them; an option on
    /// "auto" is absent.
    pub options: BTreeMap<String, OptionValue>,
    /// Numbers fixed by the knitter, which the script meets in `decide` alone.
    pub fixed: BTreeMap<String, i64>,
    /// By structure name.
    pub gauges: BTreeMap<String, GaugeInput>,
    /// The bed.
    pub machine: MachineInput,
}

/// Millimetres one stitch and one row take.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct GaugeInput {
    /// How many times its relaxed width the fabric stretches to.
    pub stretch: f64,
    /// Width of a stitch in mm.
    pub stitch_mm: f64,
    /// Height of a row in mm.
    pub row_mm: f64,
}

/// The bed a garment is made for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MachineInput {
    /// The machine, as people type it.
    pub id: String,
    /// Needles of the main bed.
    pub needles: u32,
    /// From needle to needle, in mm.
    pub pitch_mm: f64,
    /// Whether it has a ribber.
    pub ribber: bool,
}
