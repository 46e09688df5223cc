use super::Likely;
use super::filter::Variant;

/// What was learnt of one effect, to be put into words.
#[derive(Clone, Debug, PartialEq)]
pub struct Lesson<E> {
    /// Of what.
    pub effect: E,
    /// A factor on what the model says, and where it lies with 95 %.
    pub factor: Likely,
    /// Standard deviation of it, as a share, before anything was learnt.
    pub spread_before: f64,
    /// And now.
    pub spread_now: f64,
    /// Pieces it was learnt from: whole pieces, not their sections.
    pub pieces: u32,
    /// Swatches it was learnt from.
    pub swatches: u32,
}

/// Mean and standard deviation over all variants of what each of them says: a mean and a variance.
pub(super) fn collapsed<'v, K: 'v>(
    variants: impl Iterator<Item = &'v Variant<K>>,
    of: impl Fn(&Variant<K>) -> (f64, f64),
) -> (f64, f64) {
    let all: Vec<(f64, (f64, f64))> = variants.map(|v| (v.weight, of(v))).collect();
    let mean = all.iter().map(|(weight, (mean, _))| weight * mean).sum::<f64>();
    let variance: f64 = all.iter().map(|(w, (m, v))| w * (v + (m - mean).powi(2))).sum();
    (mean, variance.max(0.0).sqrt())
}
