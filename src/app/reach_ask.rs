use super::{Reach, ReachRequest, Remnant, Workbench};
use diag::Diagnostics;
use knit::stash::Reserve;
use units::Mass;

/// What one wants to know of a remnant, or of what garments need.
#[derive(Clone, Debug, PartialEq)]
pub struct ReachAsk {
    /// What the remnant weighs.
    pub weight: Option<Mass>,
    /// The scale's smallest step; `None`: as the settings have it.
    pub scale_step: Option<Mass>,
    /// A remnant of the workspace, in place of a weight.
    pub remnant: Option<String>,
    /// The chance of running out that is accepted, 0 to 1; `None`: as the settings have it.
    pub risk: Option<f64>,
    /// Garments by id, or where files are allowed by folder; empty: all at hand.
    pub garments: Vec<String>,
    pub sizes: String,
    /// Choices of the garments, as they would be typed: sections in turn, what is made by hand, options.
    pub options: Vec<(String, String)>,
    pub machine: Option<String>,
    /// A swatch of the workspace, or where files are allowed of a file.
    pub swatch_id: Option<String>,
    /// A row for every size.
    pub each: bool,
}

impl Default for ReachAsk {
    fn default() -> Self {
        ReachAsk {
            weight: None,
            scale_step: None,
            remnant: None,
            risk: None,
            garments: Vec::new(),
            sizes: "all".to_owned(),
            options: Vec::new(),
            machine: None,
            swatch_id: None,
            each: false,
        }
    }
}

impl ReachAsk {
    /// Whether it says neither of which remnant nor of which garment it wants to know.
    pub fn is_empty(&self) -> bool {
        self.weight.is_none() && self.remnant.is_none() && self.garments.is_empty()
    }

    /// # Errors
    /// As [`Workbench::reach`].
    pub fn of(&self, bench: &Workbench, remnant: &Remnant) -> Result<Reach, Diagnostics> {
        bench.reach(&ReachRequest {
            machine: &remnant.machine,
            swatch: &remnant.swatch,
            have: remnant.have,
            garments: self.garments.clone(),
            sizes: self.sizes.clone(),
            options: self.options.clone(),
            reserve: self.reserve(bench),
        })
    }

    /// How one guards against running out: as asked, else as the settings have it.
    pub fn reserve(&self, bench: &Workbench) -> Reserve {
        self.risk.map_or(bench.reserve, Reserve::Risk)
    }
}
