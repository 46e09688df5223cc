use super::{Aim, PlanWeights, Words};
use crate::estimate::{Need, OnScale};
use units::{LengthUnit, Mass};

/// How one knitter works, and what a plan is to weigh.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// The unit that lengths are printed in.
    pub units: LengthUnit,
    /// The trade's words that are printed.
    pub words: Words,
    /// Id of the machine profile.
    pub machine: Option<String>,
    /// Id of the swatch that is graded on where none is named.
    pub swatch: Option<String>,
    /// Hours a week at the machine.
    pub hours_a_week: Option<f64>,
    /// What is kept back against running out.
    pub reserve: Reserve,
    /// What a plan is to be good at, where the knitter says.
    pub aim: Option<Aim>,
    /// What a plan is to weigh.
    pub weights: PlanWeights,
    /// A chunk smaller than this is of no use in a garment.
    pub least_useful: Mass,
    /// What is left of a remnant below this is a drib: waste but for its colour.
    pub drib_limit: Mass,
    /// Joins taken within one section.
    pub most_joins: u32,
    /// What the kitchen scale shows.
    pub scale_step: Mass,
}

/// How a plan guards against running out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reserve {
    /// The share of every need that is kept back on top of it.
    Share(f64),
    /// The chance of running out that is taken.
    Risk(f64),
}

impl Reserve {
    /// What to have of a yarn on a scale of that error in grams, so as to be safe: one meaning for a plan, a
    /// remnant and a pattern.
    pub fn to_have(self, need: &Need, scale_sd_g: f64) -> f64 {
        match self {
            Reserve::Share(share) => need.grams() * (1.0 + share),
            Reserve::Risk(risk) => need.to_have(risk, scale_sd_g),
        }
    }

    /// Whether what there is of a yarn is enough, so as to be safe.
    pub fn is_kept(self, need: &Need, have: OnScale) -> bool {
        match self {
            Reserve::Share(_) => have.grams >= self.to_have(need, have.sd),
            Reserve::Risk(risk) => need.chance_short(have) <= risk,
        }
    }

    /// The same for each of so many sections of one piece: a chance is shared out over them.
    #[must_use]
    pub fn of_each(self, sections: f64) -> Reserve {
        match self {
            Reserve::Share(share) => Reserve::Share(share),
            Reserve::Risk(risk) => Reserve::Risk(risk / sections),
        }
    }
}

/// Where nothing is said: a choice of ours, not measured.
impl Default for Reserve {
    fn default() -> Self {
        Reserve::Risk(0.05)
    }
}

/// Where a workspace is silent. The figures are a choice of ours, not measured.
impl Default for Settings {
    fn default() -> Self {
        let grams = |g| Mass::from_grams(g).unwrap_or_default();
        Settings {
            units: LengthUnit::Cm,
            words: Words::Usual,
            machine: None,
            swatch: None,
            hours_a_week: None,
            reserve: Reserve::default(),
            aim: None,
            weights: PlanWeights {
                priority: 1000.0,
                preference: 20.0,
                join: 3.0,
                drib: 1.0,
                change: 30.0,
                travel: 5.0,
                alike: 5.0,
                gram: None,
                ball: None,
                hour: None,
            },
            least_useful: grams(5.0),
            drib_limit: grams(8.0),
            most_joins: 2,
            scale_step: grams(1.0),
        }
    }
}
