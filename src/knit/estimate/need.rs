use super::mixture::{Way, beyond, passed_with};
use super::{Likely, OnScale, Source};

/// Grams that something takes: a section, a piece, or all of a plan.
///
/// How uneven the knitter's pieces are is not known for sure, so there are grams for each unevenness
/// that may be, with its weight. Sums are taken one by one: what two needs share adds up.
#[derive(Clone, Debug, PartialEq)]
pub struct Need {
    /// Where the errors of all variants come from: sorted, none twice.
    sources: Vec<Source>,
    variants: Vec<Variant>,
}

#[derive(Clone, Debug, PartialEq)]
pub(super) struct Variant {
    pub(super) weight: f64,
    /// Grams in all.
    pub(super) grams: f64,
    /// Of these in ends and seams, which do not grow with the loop.
    pub(super) fixed_g: f64,
    /// By source: by how much the grams move when it is one standard deviation up.
    pub(super) parts: Vec<f64>,
}

/// Whether a source counts.
type Counts = fn(&Source) -> bool;

fn of_all(_: &Source) -> bool {
    true
}

fn of_all_pieces(source: &Source) -> bool {
    !source.of_one_piece()
}

impl Need {
    /// Variants whose parts are of these sources, in their order. A source that is named twice counts
    /// with the sum of its parts.
    pub(super) fn of(sources: Vec<Source>, variants: Vec<Variant>) -> Need {
        let mut order: Vec<usize> = (0..sources.len()).collect();
        order.sort_by(|a, b| sources[*a].cmp(&sources[*b]));
        let mut place = vec![0; sources.len()];
        let mut sorted: Vec<usize> = Vec::with_capacity(sources.len());
        for index in order {
            if sorted.last().is_none_or(|last| sources[*last] != sources[index]) {
                sorted.push(index);
            }
            place[index] = sorted.len() - 1;
        }
        let in_order = |variant: Variant| {
            let mut parts = vec![0.0; sorted.len()];
            for (part, place) in variant.parts.iter().zip(&place) {
                parts[*place] += part;
            }
            Variant { parts, ..variant }
        };
        let variants = variants.into_iter().map(in_order).collect();
        Need { sources: sorted.into_iter().map(|index| sources[index].clone()).collect(), variants }
    }

    /// Both together. They must come from the same [`Learnt`](super::Learnt).
    pub fn plus(&self, other: &Need) -> Need {
        debug_assert_eq!(self.variants.len(), other.variants.len(), "needs of two beliefs");
        let (sources, places) = merged(&self.sources, &other.sources);
        let part = |variant: &Variant, place: Option<usize>| {
            place.and_then(|place| variant.parts.get(place)).copied().unwrap_or(0.0)
        };
        let sum = |(a, b): (&Variant, &Variant)| Variant {
            weight: a.weight,
            grams: a.grams + b.grams,
            fixed_g: a.fixed_g + b.fixed_g,
            parts: places.iter().map(|(own, others)| part(a, *own) + part(b, *others)).collect(),
        };
        Need { sources, variants: self.variants.iter().zip(&other.variants).map(sum).collect() }
    }

    /// All of these together; `None` where there are none.
    pub fn sum<'n>(needs: impl IntoIterator<Item = &'n Need>) -> Option<Need> {
        needs.into_iter().fold(None, |sum: Option<Need>, need| {
            Some(sum.map_or_else(|| need.clone(), |sum| sum.plus(need)))
        })
    }

    /// What is expected, in grams.
    pub fn grams(&self) -> f64 {
        self.variants.iter().map(|v| v.weight * v.grams).sum()
    }

    /// The standard deviation of what it will take, in grams, over all that may be.
    pub fn sd_of_next(&self) -> f64 {
        self.sd(of_all)
    }

    /// The standard deviation of what many such would take on average, in grams.
    pub fn sd_of_mean(&self) -> f64 {
        self.sd(of_all_pieces)
    }

    fn sd(&self, counts: Counts) -> f64 {
        let middle = self.grams();
        let square = |v: &Variant| self.sd_of(v, counts).powi(2) + (v.grams - middle).powi(2);
        self.variants.iter().map(|v| v.weight * square(v)).sum::<f64>().sqrt()
    }

    fn sd_of(&self, variant: &Variant, counts: Counts) -> f64 {
        let parts = self.sources.iter().zip(&variant.parts);
        parts.filter(|(source, _)| counts(source)).map(|(_, c)| c * c).sum::<f64>().sqrt()
    }

    fn ways(&self, counts: Counts, other_sd: f64) -> Vec<Way> {
        let way = |v: &Variant| {
            let median = v.grams - v.fixed_g;
            let sd = self.sd_of(v, counts).hypot(other_sd);
            let log_sd = if median > 0.0 { sd / median } else { 0.0 };
            Way { weight: v.weight, fixed: v.fixed_g, median, log_sd }
        };
        self.variants.iter().map(way).collect()
    }

    fn within(&self, counts: Counts) -> Likely {
        let ways = self.ways(counts, 0.0);
        Likely {
            middle: passed_with(&ways, 0.5),
            low: passed_with(&ways, 0.975),
            high: passed_with(&ways, 0.025),
        }
    }

    /// 95 % of what it will take, in grams: what a knitter is told.
    pub fn next_within(&self) -> Likely {
        self.within(of_all)
    }

    /// 95 % of what many such would take on average: how sure the estimate itself is.
    pub fn mean_within(&self) -> Likely {
        self.within(of_all_pieces)
    }

    /// The chance, 0 to 1, that what is there is not enough.
    pub fn chance_short(&self, have: OnScale) -> f64 {
        beyond(&self.ways(of_all, have.sd), have.grams)
    }

    /// Grams to have on a scale of that error, so that the chance of running out is `risk` (0 to 1, kept
    /// within 0.000001 and 0.999999).
    pub fn to_have(&self, risk: f64, scale_sd_g: f64) -> f64 {
        passed_with(&self.ways(of_all, scale_sd_g), risk)
    }
}

/// Where a source stands in each of two lists, if it does.
type InBoth = (Option<usize>, Option<usize>);

/// Two sorted lists of sources as one, and where each stood.
fn merged(own: &[Source], others: &[Source]) -> (Vec<Source>, Vec<InBoth>) {
    let most = own.len() + others.len();
    let (mut sources, mut places) = (Vec::with_capacity(most), Vec::with_capacity(most));
    let (mut left, mut right) = (0, 0);
    while let Some(next) = match (own.get(left), others.get(right)) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    } {
        let here = |list: &[Source], at: usize| (list.get(at) == Some(next)).then_some(at);
        let place = (here(own, left), here(others, right));
        sources.push(next.clone());
        left += usize::from(place.0.is_some());
        right += usize::from(place.1.is_some());
        places.push(place);
    }
    (sources, places)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn need(grams: f64, fixed_g: f64, ends: f64) -> Need {
        let parts = vec![ends];
        Need::of(vec![Source::Ends], vec![Variant { weight: 1.0, grams, fixed_g, parts }])
    }

    /// By hand: 8 g fixed, 12 g that lie within exp(1.96 x 2 / 12) of that.
    #[test]
    fn what_is_fixed_adds_up_and_does_not_spread() {
        let both = need(10.0, 4.0, 1.0).plus(&need(10.0, 4.0, 1.0));
        assert_eq!((both.grams(), both.sd_of_next()), (20.0, 2.0));
        let (within, spread) = (both.next_within(), (1.959_964f64 * 2.0 / 12.0).exp());
        for (grams, by_hand) in [
            (within.middle, 20.0),
            (within.low, 8.0 + 12.0 / spread),
            (within.high, 8.0 + 12.0 * spread),
        ] {
            assert!((grams - by_hand).abs() < 1e-5, "{grams}, by hand {by_hand}");
        }
    }
}
