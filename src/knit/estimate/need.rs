use super::mixture::{Way, beyond, passed_with};
use super::{Figure, Likely, OnScale};

/// Grams that something takes: a section, a piece, or all of a plan.
///
/// How uneven the knitter's pieces are is not known for sure, so there is a figure for each unevenness
/// that may be, with its weight. Sums are taken figure by figure: what two needs share adds up.
#[derive(Clone, Debug, PartialEq)]
pub struct Need {
    variants: Vec<Variant>,
}

#[derive(Clone, Debug, PartialEq)]
pub(super) struct Variant {
    pub(super) weight: f64,
    /// Grams in all.
    pub(super) figure: Figure,
    /// Of these in ends and seams, which do not grow with the loop.
    pub(super) fixed_g: f64,
}

impl Need {
    pub(super) fn of(variants: Vec<Variant>) -> Need {
        Need { variants }
    }

    /// Both together. They must come from the same [`Learnt`](super::Learnt).
    pub fn plus(&self, other: &Need) -> Need {
        debug_assert_eq!(self.variants.len(), other.variants.len(), "needs of two beliefs");
        let sum = |(a, b): (&Variant, &Variant)| Variant {
            weight: a.weight,
            figure: a.figure.plus(&b.figure),
            fixed_g: a.fixed_g + b.fixed_g,
        };
        Need { variants: self.variants.iter().zip(&other.variants).map(sum).collect() }
    }

    /// All of these together; `None` where there are none.
    pub fn sum<'n>(needs: impl IntoIterator<Item = &'n Need>) -> Option<Need> {
        needs.into_iter().fold(None, |sum: Option<Need>, need| {
            Some(sum.map_or_else(|| need.clone(), |sum| sum.plus(need)))
        })
    }

    /// What is expected, in grams.
    pub fn grams(&self) -> f64 {
        self.variants.iter().map(|v| v.weight * v.figure.mean()).sum()
    }

    /// The standard deviation of what it will take, in grams, over all that may be.
    pub fn sd_of_next(&self) -> f64 {
        self.sd(Figure::sd_of_next)
    }

    /// The standard deviation of what many such would take on average, in grams.
    pub fn sd_of_mean(&self) -> f64 {
        self.sd(Figure::sd_of_mean)
    }

    fn sd(&self, of: fn(&Figure) -> f64) -> f64 {
        let middle = self.grams();
        let square = |v: &Variant| of(&v.figure).powi(2) + (v.figure.mean() - middle).powi(2);
        self.variants.iter().map(|v| v.weight * square(v)).sum::<f64>().sqrt()
    }

    fn ways(&self, of: fn(&Figure) -> f64, other_sd: f64) -> Vec<Way> {
        let way = |v: &Variant| {
            let median = v.figure.mean() - v.fixed_g;
            let sd = of(&v.figure).hypot(other_sd);
            let log_sd = if median > 0.0 { sd / median } else { 0.0 };
            Way { weight: v.weight, fixed: v.fixed_g, median, log_sd }
        };
        self.variants.iter().map(way).collect()
    }

    fn within(&self, of: fn(&Figure) -> f64) -> Likely {
        let ways = self.ways(of, 0.0);
        Likely {
            middle: passed_with(&ways, 0.5),
            low: passed_with(&ways, 0.975),
            high: passed_with(&ways, 0.025),
        }
    }

    /// 95 % of what it will take, in grams: what a knitter is told.
    pub fn next_within(&self) -> Likely {
        self.within(Figure::sd_of_next)
    }

    /// 95 % of what many such would take on average: how sure the estimate itself is.
    pub fn mean_within(&self) -> Likely {
        self.within(Figure::sd_of_mean)
    }

    /// The chance, 0 to 1, that what is there is not enough.
    pub fn chance_short(&self, have: OnScale) -> f64 {
        beyond(&self.ways(Figure::sd_of_next, have.sd), have.grams)
    }

    /// Grams to have on a scale of that error, so that the chance of running out is `risk` (0 to 1, kept
    /// within 0.000001 and 0.999999).
    pub fn to_have(&self, risk: f64, scale_sd_g: f64) -> f64 {
        passed_with(&self.ways(Figure::sd_of_next, scale_sd_g), risk)
    }
}
