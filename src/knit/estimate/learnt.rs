use std::collections::BTreeMap;

use super::belief::Belief;
use super::filter::{Miss, Seen, Variant, settle};
use super::lesson::collapsed;
use super::matrix::Square;
use super::need;
use super::record::{Record, Weighed, WeighedSection};
use super::{
    Effect, HeldAgainst, Id, Judged, Lesson, Likely, Need, Piece, PieceNeed, PieceSection, Source,
    Standing, Stitches, Unevenness,
};

/// What is believed of the yarn in a stitch once everything weighed is in.
///
/// Stitches of a fabric take the model's grams times a factor, whose logarithm is the sum of their
/// [`Effect`]s. These are a joint normal, updated by every weighing at once over all fabrics and yarns it
/// has, by their shares of the yarn; so a surprise is counted once however many fabrics share it. How
/// uneven pieces are is learnt along with it, so that records may widen an interval too.
#[derive(Clone, Debug, PartialEq)]
pub struct Learnt {
    variants: Vec<(Variant<Effect>, Square)>,
    judged: Vec<Judged>,
    wholes: Vec<HeldAgainst>,
    /// By effect: pieces and swatches that were learnt from.
    counts: BTreeMap<Effect, (u32, u32)>,
    priors: BTreeMap<Effect, f64>,
}

/// Swatch to piece: the yarn in a stitch, as a share (practice).
const SWATCH_SPREAD: f64 = 0.03;
/// Of what a piece takes more or less than its twin, the share that all its sections have in common
/// (practice: 2 % of a usual 3 %).
const IN_COMMON: f64 = 2.0 / 3.0;
/// Share by which ends and sewing may miss (common practice, no source).
const ENDS_SPREAD: f64 = 0.25;

/// A record in the numbers of the effects.
pub(super) struct Weighing<'r> {
    record: &'r Record,
    effects: usize,
    /// By section: grams of the model, and the effects they depend on.
    parts: Vec<Vec<(f64, Vec<usize>)>>,
}

/// By effect how the logarithm of the grams moves, and the logarithm itself.
fn linear(parts: &[(f64, Vec<usize>)], mean: &[f64]) -> (Vec<f64>, f64) {
    let expected = |(grams, effects): &(f64, Vec<usize>)| {
        grams * effects.iter().map(|i| mean[*i]).sum::<f64>().exp()
    };
    let each: Vec<f64> = parts.iter().map(expected).collect();
    let total: f64 = each.iter().sum();
    let mut row = vec![0.0; mean.len()];
    for (grams, (_, effects)) in each.iter().zip(parts) {
        for effect in effects {
            row[*effect] += grams / total;
        }
    }
    (row, total.ln())
}

impl Seen for Weighing<'_> {
    fn at(&self, mean: &[f64]) -> (Vec<Vec<f64>>, Vec<f64>) {
        debug_assert_eq!(mean.len(), self.effects);
        let sections = self.record.sections.iter().zip(&self.parts);
        let each = sections.map(|(section, parts)| {
            let (row, log) = linear(parts, mean);
            (row, section.knitted_g().ln() - log)
        });
        each.unzip()
    }

    fn noise(&self, unevenness: f64) -> Square {
        let own = match self.record.what {
            Weighed::Piece => unevenness,
            Weighed::Swatch => SWATCH_SPREAD,
        };
        let sections = &self.record.sections;
        let common = if sections.len() > 1 { (IN_COMMON * own).powi(2) } else { 0.0 };
        let variance = |section: &WeighedSection| {
            let scale = section.scale_sd_g / section.knitted_g();
            own.powi(2) + section.moisture.spread().powi(2) + scale.powi(2)
        };
        let cell = |r: usize, c: usize| common + if r == c { variance(&sections[r]) } else { 0.0 };
        Square::of(sections.len(), cell)
    }

    fn stood_by(&self) -> bool {
        self.record.stood_by
    }
}

pub(super) fn all_effects<'r>(records: impl Iterator<Item = &'r Record>) -> BTreeMap<Effect, f64> {
    let mut priors: BTreeMap<Effect, f64> = BTreeMap::new();
    let stitches = records.flat_map(|r| &r.sections).flat_map(|s| &s.stitches);
    for (effect, sd) in stitches.flat_map(Stitches::effects) {
        let known = priors.entry(effect).or_insert(sd);
        *known = known.max(sd);
    }
    priors
}

pub(super) fn weighing<'r>(record: &'r Record, belief: &Belief<Effect>) -> Weighing<'r> {
    let of_stitches = |stitches: &Stitches| {
        let effects = stitches.effects();
        (stitches.grams, effects.iter().filter_map(|(effect, _)| belief.index(effect)).collect())
    };
    let of_section = |section: &WeighedSection| section.stitches.iter().map(of_stitches).collect();
    let parts = record.sections.iter().map(of_section).collect();
    Weighing { record, effects: belief.keys().len(), parts }
}

impl Learnt {
    /// Before anything was weighed.
    pub fn nothing(unevenness: &Unevenness) -> Learnt {
        Learnt::from(&[], unevenness)
    }

    /// From everything that was weighed, in whatever order it is listed. What stands out beyond 3.5
    /// standard deviations from all others, and is not stood by, is left aside and marked
    /// [`Standing::Asked`].
    pub fn from(records: &[Record], unevenness: &Unevenness) -> Learnt {
        let mut order: Vec<usize> =
            (0..records.len()).filter(|i| records[*i].makes_sense()).collect();
        order.sort_by(|a, b| records[*a].order(&records[*b]));
        let priors = all_effects(order.iter().map(|i| &records[*i]));
        let prior = Belief::prior(priors.iter().map(|(e, sd)| (e.clone(), (0.0, *sd))).collect());
        let things: Vec<Weighing<'_>> =
            order.iter().map(|i| weighing(&records[*i], &prior)).collect();
        let settled = settle(&prior, &things, unevenness.tried());
        let mut verdicts: Vec<Option<Verdict<'_>>> = vec![None; records.len()];
        let mut counts: BTreeMap<Effect, (u32, u32)> = BTreeMap::new();
        for (place, index) in order.iter().enumerate() {
            let (misses, taken) = (settled.misses[place].as_slice(), settled.taken[place]);
            verdicts[*index] = Some(Verdict { misses, spread: &settled.spreads[place], taken });
            if taken {
                count(&records[*index], &mut counts);
            }
        }
        let each = || records.iter().zip(&verdicts);
        let judged = each().flat_map(|(r, verdict)| judge(r, verdict.as_ref())).collect();
        let wholes = each().map(|(r, verdict)| whole(r, verdict.as_ref())).collect();
        let with_root = |variant: Variant<Effect>| {
            let root = variant.belief.spread().root();
            (variant, root)
        };
        Learnt {
            variants: settled.variants.into_iter().map(with_root).collect(),
            judged,
            wholes,
            counts,
            priors,
        }
    }

    /// Each section that was weighed against what was expected of it, in the order of the records.
    pub fn judged(&self) -> &[Judged] {
        &self.judged
    }

    /// Each record as a whole against what was expected of it, in the order of the records.
    pub fn wholes(&self) -> &[HeldAgainst] {
        &self.wholes
    }

    /// How uneven pieces are held to be, as a share: the standard deviation of one from its twin.
    pub fn unevenness(&self) -> f64 {
        let square = |(v, _): &(Variant<Effect>, Square)| v.weight * v.unevenness.powi(2);
        self.variants.iter().map(square).sum::<f64>().sqrt()
    }

    fn variants(&self) -> impl Iterator<Item = &Variant<Effect>> {
        self.variants.iter().map(|(variant, _)| variant)
    }

    /// Pieces and swatches that an effect was learnt from.
    pub fn seen(&self, effect: &Effect) -> (u32, u32) {
        self.counts.get(effect).copied().unwrap_or_default()
    }

    /// What was learnt of each effect that a record touches, in their order.
    pub fn lessons(&self) -> Vec<Lesson<Effect>> {
        let lesson = |(index, (effect, before)): (usize, (&Effect, &f64))| {
            let (mean, sd) = collapsed(self.variants(), |variant| {
                let belief = &variant.belief;
                (belief.mean()[index], belief.spread().at(index, index))
            });
            let (pieces, swatches) = self.seen(effect);
            Lesson {
                effect: effect.clone(),
                factor: Likely::log_normal(mean.exp(), sd),
                spread_before: *before,
                spread_now: sd,
                pieces,
                swatches,
            }
        };
        self.priors.iter().enumerate().map(lesson).collect()
    }

    /// The factor on the model's grams that some effects come to together, as the knitter and a rib: its
    /// middle, and where it lies with 95 %. One of which nothing was learnt counts with its own spread;
    /// a gauge of which nothing was learnt counts for nothing.
    pub fn factor(&self, effects: &[Effect]) -> Likely {
        let with_spread = |effect: &Effect| (effect.clone(), effect.spread().unwrap_or(0.0));
        let (mean, sd) = self.log_factor(&effects.iter().map(with_spread).collect::<Vec<_>>());
        Likely::log_normal(mean.exp(), sd)
    }

    /// The same of all that these stitches depend on, whatever their grams: what the model's loop is to be
    /// multiplied by.
    pub fn stitch_factor(&self, stitches: &Stitches) -> Likely {
        let (mean, sd) = self.log_factor(&stitches.effects());
        Likely::log_normal(mean.exp(), sd)
    }

    /// What the grams of these stitches by the model are to be multiplied by for what is expected:
    /// [`Need::grams`] is made of these.
    pub fn multiplier(&self, stitches: &Stitches) -> f64 {
        let believed = self.resting(stitches).believed;
        let of_variant = |variant: &Variant<Effect>| {
            let log: f64 = believed.iter().map(|index| variant.belief.mean()[*index]).sum();
            variant.weight * log.exp()
        };
        self.variants().map(of_variant).sum()
    }

    /// Mean and standard deviation of the logarithm of a factor, from effects and the spread of each before
    /// anything is learnt.
    pub(super) fn log_factor(&self, effects: &[(Effect, f64)]) -> (f64, f64) {
        collapsed(self.variants(), |variant| {
            let belief = &variant.belief;
            let mut row = vec![0.0; belief.keys().len()];
            let mut unseen = 0.0;
            for (effect, spread) in effects {
                match belief.index(effect) {
                    Some(index) => row[index] += 1.0,
                    None => unseen += spread.powi(2),
                }
            }
            let mean = row.iter().zip(belief.mean()).map(|(r, m)| r * m).sum();
            (mean, belief.spread().between(&row, &row) + unseen)
        })
    }

    /// What some stitches rest on; the effects believed of are the same ones in all variants.
    fn resting(&self, stitches: &Stitches) -> Resting {
        let belief = self.variants().next().map(|variant| &variant.belief);
        let mut resting = Resting { grams: stitches.grams, ..Resting::default() };
        for (effect, spread) in stitches.effects() {
            match belief.and_then(|belief| belief.index(&effect)) {
                Some(index) => resting.believed.push(index),
                None => resting.unseen.push((effect, spread)),
            }
        }
        resting
    }

    /// What a piece takes, section by section and in all.
    pub fn need(&self, piece: &Piece) -> PieceNeed {
        let alone = piece.sections.len() == 1;
        let believed = self.variants().next().map_or(0, |variant| variant.belief.keys().len());
        let of_section = |section: &PieceSection| {
            let knitted: Vec<Resting> =
                section.stitches.iter().map(|stitches| self.resting(stitches)).collect();
            let of_variant = |(variant, root): &(Variant<Effect>, Square)| {
                section_need((section, &knitted), alone, variant, root)
            };
            Need::of(
                section_sources(piece, (section, &knitted), alone, believed),
                self.variants.iter().map(of_variant).collect(),
            )
        };
        let sections: Vec<(Id, Need)> =
            piece.sections.iter().map(|s| (s.name.clone(), of_section(s))).collect();
        let whole = Need::sum(sections.iter().map(|(_, need)| need)).unwrap_or_else(|| {
            let nothing = |(variant, _): &(Variant<Effect>, Square)| need::Variant {
                weight: variant.weight,
                grams: 0.0,
                fixed_g: 0.0,
                parts: Vec::new(),
            };
            Need::of(Vec::new(), self.variants.iter().map(nothing).collect())
        });
        PieceNeed { sections, whole }
    }
}

fn count(record: &Record, counts: &mut BTreeMap<Effect, (u32, u32)>) {
    for effect in all_effects(std::iter::once(record)).into_keys() {
        let (pieces, swatches) = counts.entry(effect).or_default();
        match record.what {
            Weighed::Piece => *pieces += 1,
            Weighed::Swatch => *swatches += 1,
        }
    }
}

/// What became of a record, in the numbers of its sections.
#[derive(Clone, Copy)]
struct Verdict<'s> {
    misses: &'s [Miss],
    /// How these spread together.
    spread: &'s Square,
    taken: bool,
}

impl Verdict<'_> {
    fn standing(&self) -> Standing {
        if self.taken { Standing::Taken } else { Standing::Asked }
    }
}

fn judge(record: &Record, verdict: Option<&Verdict<'_>>) -> Vec<Judged> {
    let Some(verdict) = verdict else {
        let senseless = |s: &WeighedSection| Judged::senseless(&record.id, Some(&s.name), s.used_g);
        return record.sections.iter().map(senseless).collect();
    };
    let of_section = |(section, miss): (&WeighedSection, &Miss)| Judged {
        record: record.id.clone(),
        section: Some(section.name.clone()),
        taken: section.used_g,
        expected: Some(section.knitted_g() * (-miss.by).exp() + section.other_g),
        spread: Some(miss.sd),
        off: miss.far(),
        standing: verdict.standing(),
    };
    record.sections.iter().zip(verdict.misses).map(of_section).collect()
}

/// All sections of a record together: their misses count by their shares of what was expected.
fn whole(record: &Record, verdict: Option<&Verdict<'_>>) -> HeldAgainst {
    let sum = |of: fn(&WeighedSection) -> f64| record.sections.iter().map(of).sum::<f64>();
    let (taken, other_g) = (sum(|s| s.used_g), sum(|s| s.other_g));
    let held = HeldAgainst {
        record: record.id.clone(),
        taken,
        expected: None,
        standing: Standing::Senseless,
    };
    let Some(verdict) = verdict else { return held };
    let of_section =
        |(section, miss): (&WeighedSection, &Miss)| section.knitted_g() * (-miss.by).exp();
    let each: Vec<f64> = record.sections.iter().zip(verdict.misses).map(of_section).collect();
    let knitted: f64 = each.iter().sum();
    let shares: Vec<f64> = each.iter().map(|grams| grams / knitted).collect();
    let sd = verdict.spread.between(&shares, &shares).max(0.0).sqrt();
    let of_knitted = Likely::log_normal(knitted, sd);
    let expected = Likely {
        middle: of_knitted.middle + other_g,
        low: of_knitted.low + other_g,
        high: of_knitted.high + other_g,
    };
    HeldAgainst { expected: Some(expected), standing: verdict.standing(), ..held }
}

/// Grams of the model, and what they rest on.
#[derive(Default)]
struct Resting {
    grams: f64,
    /// Effects of which something is believed, by their place.
    believed: Vec<usize>,
    /// Those of which nothing was learnt, with the spread of each.
    unseen: Vec<(Effect, f64)>,
}

/// What the grams of a section depend on, whatever the variant; `knitted` are its stitches.
fn section_sources(
    piece: &Piece,
    (section, knitted): (&PieceSection, &[Resting]),
    alone: bool,
    believed: usize,
) -> Vec<Source> {
    let unseen = knitted.iter().flat_map(|stitches| &stitches.unseen);
    let mut sources: Vec<Source> =
        unseen.map(|(effect, _)| Source::Unseen(effect.clone())).collect();
    sources.extend((0..believed).map(|column| Source::Learnt(column as u32)));
    sources.push(Source::Piece(piece.id.clone()));
    if !alone {
        sources.push(Source::Section(piece.id.clone(), section.name.clone()));
    }
    sources.push(Source::Ends);
    sources
}

/// Grams of a section, and how they move with each of its [`section_sources`].
fn section_need(
    (section, knitted): (&PieceSection, &[Resting]),
    alone: bool,
    variant: &Variant<Effect>,
    root: &Square,
) -> need::Variant {
    let belief = &variant.belief;
    let mut row = vec![0.0; belief.keys().len()];
    let mut parts: Vec<f64> = Vec::new();
    let mut total = 0.0;
    for stitches in knitted {
        let log: f64 = stitches.believed.iter().map(|index| belief.mean()[*index]).sum();
        let grams = stitches.grams * log.exp();
        total += grams;
        for index in &stitches.believed {
            row[*index] += grams;
        }
        parts.extend(stitches.unseen.iter().map(|(_, sd)| grams * sd));
    }
    // The spread of the belief in independent parts: row x root.
    for column in 0..row.len() {
        parts.push((column..row.len()).map(|r| row[r] * root.at(r, column)).sum());
    }
    let own = variant.unevenness * total;
    if alone {
        parts.push(own);
    } else {
        parts.extend([IN_COMMON * own, own]);
    }
    parts.push(ENDS_SPREAD * section.other_g);
    need::Variant {
        weight: variant.weight,
        grams: total + section.other_g,
        fixed_g: section.other_g,
        parts,
    }
}
