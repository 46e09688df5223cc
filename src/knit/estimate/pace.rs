use std::collections::BTreeMap;

use super::belief::Belief;
use super::filter::{Miss, Seen, Variant, settle};
use super::lesson::collapsed;
use super::matrix::Square;
use super::record::possible;
use super::{Judged, Lesson, Likely, Minutes, PaceEffect, Source, Standing};

/// How far one piece is from the next in time, as a share: interruptions (practice).
const PIECE_SPREAD: f64 = 0.20;

/// A piece whose minutes were noted.
#[derive(Clone, Debug, PartialEq, PartialOrd)]
pub struct PaceRecord {
    /// Names it, for who is asked about it.
    pub id: String,
    /// Id of the kind of garment.
    pub kind: String,
    /// The how many-th of its kind, from 1.
    pub nth: u32,
    /// Minutes by the operations, from [`TimeTable::minutes`](super::TimeTable::minutes).
    pub model: f64,
    /// Minutes it took.
    pub took: f64,
    /// The knitter was asked, and says that it is right.
    pub stood_by: bool,
}

/// How fast somebody works, once all minutes noted are in.
#[derive(Clone, Debug)]
pub struct Pace {
    variants: Vec<Variant<PaceEffect>>,
    /// Of the spread of what is believed.
    root: Square,
    judged: Vec<Judged>,
    pieces: BTreeMap<PaceEffect, u32>,
    /// Average of what was taken in over its model, by logarithms.
    raw: f64,
    /// How many of those were not the first of their kind.
    practised: u32,
}

/// The effects of a piece, and by how much the logarithm of its minutes moves with each.
fn effects(kind: &str, nth: u32) -> [(PaceEffect, f64); 3] {
    [
        (PaceEffect::Knitter, 1.0),
        (PaceEffect::Kind(kind.to_owned()), 1.0),
        (PaceEffect::Practice, -f64::from(nth.max(1)).ln()),
    ]
}

struct Timed<'r> {
    record: &'r PaceRecord,
    row: Vec<f64>,
}

impl Seen for Timed<'_> {
    fn at(&self, mean: &[f64]) -> (Vec<Vec<f64>>, Vec<f64>) {
        let expected: f64 = self.row.iter().zip(mean).map(|(r, m)| r * m).sum();
        let miss = (self.record.took / self.record.model).ln() - expected;
        (vec![self.row.clone()], vec![miss])
    }

    fn noise(&self, unevenness: f64) -> Square {
        Square::of(1, |_, _| unevenness.powi(2))
    }

    fn stood_by(&self) -> bool {
        self.record.stood_by
    }
}

impl PaceRecord {
    /// Whether anything can be learnt of it.
    pub fn makes_sense(&self) -> bool {
        self.model > 0.0 && possible(self.took / self.model)
    }
}

impl Pace {
    /// Before any minutes were noted.
    pub fn nothing() -> Pace {
        Pace::from(&[])
    }

    /// From all minutes noted, in whatever order. What stands out is asked about, as grams are.
    pub fn from(records: &[PaceRecord]) -> Pace {
        let mut order: Vec<usize> =
            (0..records.len()).filter(|i| records[*i].makes_sense()).collect();
        let by_content = |a: &usize, b: &usize| records[*a].partial_cmp(&records[*b]);
        order.sort_by(|a, b| by_content(a, b).unwrap_or(std::cmp::Ordering::Equal));
        let all = order.iter().flat_map(|i| effects(&records[*i].kind, records[*i].nth));
        let priors = all.map(|(effect, _)| {
            let prior = effect.prior();
            (effect, prior)
        });
        let prior = Belief::prior(priors.collect());
        let timed = |i: &usize| {
            let record = &records[*i];
            let mut row = vec![0.0; prior.keys().len()];
            for (effect, by) in effects(&record.kind, record.nth) {
                if let Some(index) = prior.index(&effect) {
                    row[index] = by;
                }
            }
            Timed { record, row }
        };
        let things: Vec<Timed<'_>> = order.iter().map(timed).collect();
        let settled = settle(&prior, &things, &[(PIECE_SPREAD, 0.0)]);
        let mut verdicts: Vec<Option<(Miss, bool)>> = vec![None; records.len()];
        let mut pieces: BTreeMap<PaceEffect, u32> = BTreeMap::new();
        for (place, index) in order.iter().enumerate() {
            let taken = settled.taken[place];
            verdicts[*index] = settled.misses[place].first().map(|miss| (*miss, taken));
            let record = &records[*index];
            let touched =
                effects(&record.kind, record.nth).into_iter().filter(|(_, by)| *by != 0.0);
            for (effect, _) in touched.filter(|_| taken) {
                *pieces.entry(effect).or_default() += 1;
            }
        }
        let judged = records.iter().zip(verdicts).map(|(r, verdict)| judge(r, verdict)).collect();
        let root = settled
            .variants
            .first()
            .map_or_else(|| Square::of(0, |_, _| 0.0), |variant| variant.belief.spread().root());
        let practised = pieces.get(&PaceEffect::Practice).copied().unwrap_or_default();
        let logs = order.iter().enumerate().filter(|(place, _)| settled.taken[*place]);
        let logs: Vec<f64> =
            logs.map(|(_, i)| (records[*i].took / records[*i].model).ln()).collect();
        let raw = (logs.iter().sum::<f64>() / logs.len().max(1) as f64).exp();
        Pace { variants: settled.variants, root, judged, pieces, raw, practised }
    }

    /// What the pieces that it was learnt from took as they stand, practice and all: the average of the
    /// logarithms, as a factor on the minutes by their operations. `None` where practice has no part in it.
    pub fn as_they_stand(&self) -> Option<f64> {
        (self.practised > 0).then_some(self.raw)
    }

    /// Each piece against the minutes expected of it, in the order of the records.
    pub fn judged(&self) -> &[Judged] {
        &self.judged
    }

    /// What was learnt: of the knitter and of each kind a factor on the minutes, of practice the factor
    /// for twice as many made.
    pub fn lessons(&self) -> Vec<Lesson<PaceEffect>> {
        let keys = self.variants.first().map_or(&[][..], |v| v.belief.keys());
        let lesson = |(index, effect): (usize, &PaceEffect)| {
            let (mean, sd) = collapsed(self.variants.iter(), |variant| {
                let belief = &variant.belief;
                (belief.mean()[index], belief.spread().at(index, index))
            });
            let by = if *effect == PaceEffect::Practice { -std::f64::consts::LN_2 } else { 1.0 };
            Lesson {
                factor: Likely::log_normal((mean * by).exp(), sd * by.abs()),
                spread_before: effect.prior().1 * by.abs(),
                spread_now: sd * by.abs(),
                pieces: self.pieces.get(effect).copied().unwrap_or_default(),
                swatches: 0,
                effect: effect.clone(),
            }
        };
        keys.iter().enumerate().map(lesson).collect()
    }

    /// Minutes of the piece named: the `nth` of its kind, from 1, with `model` minutes by its operations.
    pub fn minutes(&self, piece: &str, kind: &str, nth: u32, model: f64) -> Minutes {
        let Some(variant) = self.variants.first() else { return Minutes::none() };
        let belief = &variant.belief;
        let mut row = vec![0.0; belief.keys().len()];
        let mut log = 0.0;
        let mut sources = vec![(Source::PieceTime(piece.into()), variant.unevenness)];
        for (effect, by) in effects(kind, nth) {
            match belief.index(&effect) {
                Some(index) => {
                    row[index] = by;
                    log += by * belief.mean()[index];
                }
                None => {
                    let (mean, sd) = effect.prior();
                    log += by * mean;
                    sources.push((Source::UnseenPace(effect), by * sd));
                }
            }
        }
        for column in 0..row.len() {
            let part: f64 = (column..row.len()).map(|r| row[r] * self.root.at(r, column)).sum();
            sources.push((Source::LearntPace(column as u32), part));
        }
        Minutes::of_piece(model * log.exp(), sources)
    }
}

fn judge(record: &PaceRecord, verdict: Option<(Miss, bool)>) -> Judged {
    let Some((miss, taken)) = verdict else {
        return Judged::senseless(&record.id, None, record.took);
    };
    Judged {
        record: record.id.clone(),
        section: None,
        taken: record.took,
        expected: Some(record.took * (-miss.by).exp()),
        spread: Some(miss.sd),
        off: miss.far(),
        standing: if taken { Standing::Taken } else { Standing::Asked },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::NORMAL_95;

    fn sock(nth: u32, took: f64) -> PaceRecord {
        let (id, kind) = (format!("sock {nth}"), "socks".into());
        PaceRecord { id, kind, nth, model: 84.0, took, stood_by: false }
    }

    fn three() -> Vec<PaceRecord> {
        vec![sock(1, 110.0), sock(2, 95.0), sock(3, 88.0)]
    }

    fn at(pace: &Pace, effect: &PaceEffect) -> (f64, f64) {
        let belief = &pace.variants[0].belief;
        let index = belief.index(effect).expect("touched");
        (belief.mean()[index], belief.spread().at(index, index).sqrt())
    }

    /// Worked outside with a numerical library; the power law is Wright's of 1936.
    #[test]
    fn three_pieces_teach_pace_kind_and_practice() {
        let pace = Pace::from(&three());
        for (effect, mean, sd) in [
            (PaceEffect::Knitter, 0.18250, 0.16866),
            (PaceEffect::Kind("socks".into()), 0.03352, 0.13902),
            (PaceEffect::Practice, 0.14981, 0.05818),
        ] {
            let (m, s) = at(&pace, &effect);
            assert!((m - mean).abs() < 1e-4 && (s - sd).abs() < 1e-4, "{effect:?}: {m} {s}");
        }
        let fourth = pace.minutes("next", "socks", 4, 84.0);
        let within = fourth.next_within();
        assert!((within.middle - 84.7).abs() < 0.05, "{within:?}");
        assert!((fourth.log_sd() - 0.234).abs() < 5e-4);
        assert!((within.low - 54.0).abs() < 0.6 && (within.high - 134.0).abs() < 0.6, "{within:?}");
        assert!((fourth.mean() - 87.0).abs() < 0.06, "{}", fourth.mean());
        let other = pace.minutes("next", "hat", 1, 100.0);
        assert!((other.next_within().middle - 120.0).abs() < 0.05);
        assert!((other.log_sd() - 0.302).abs() < 5e-4, "{}", other.log_sd());
    }

    /// The pace is one for all: ten gifts are nearly as unsure, as a share, as one.
    #[test]
    fn the_pace_does_not_average_out_over_a_plan() {
        let pace = Pace::nothing();
        let gifts =
            (0..10).map(|i| pace.minutes(&format!("gift {i}"), &format!("kind {i}"), 1, 60.0));
        let all = gifts.fold(Minutes::none(), |sum, gift| sum.plus(&gift));
        // By hand: the pace in full, kind and piece a tenth of their variance.
        let by_hand = (0.35f64.powi(2) + (0.15f64.powi(2) + 0.20f64.powi(2)) / 10.0).sqrt();
        assert!((all.log_sd() - by_hand).abs() < 1e-9, "{} {by_hand}", all.log_sd());
        // Of one kind that part is shared too.
        let hats = (0..10).map(|i| pace.minutes(&format!("gift {i}"), "hat", 1, 60.0));
        let hats = hats.fold(Minutes::none(), |sum, gift| sum.plus(&gift));
        let by_hand = (0.35f64.powi(2) + 0.15f64.powi(2) + 0.20f64.powi(2) / 10.0).sqrt();
        assert!((hats.log_sd() - by_hand).abs() < 1e-9);
        // How sure the pace is says nothing of how the work on a piece goes.
        let one = pace.minutes("gift", "hat", 1, 60.0).mean_within();
        let log_sd = (one.high / one.middle).ln() / NORMAL_95;
        assert!((log_sd - 0.35f64.hypot(0.15)).abs() < 1e-9, "{log_sd}");
        let within = all.next_within();
        assert!((all.chance_longer(within.high) - 0.025).abs() < 1e-6);
        assert!((all.chance_longer(within.middle) - 0.5).abs() < 1e-9);
    }

    #[test]
    fn an_evening_with_the_telephone_is_asked_about() {
        let mut records = three();
        records.push(sock(4, 600.0));
        let pace = Pace::from(&records);
        let standings: Vec<Standing> = pace.judged().iter().map(|j| j.standing).collect();
        assert_eq!(standings[3], Standing::Asked);
        assert!(standings[..3].iter().all(|s| *s == Standing::Taken));
        assert_eq!(
            at(&pace, &PaceEffect::Knitter),
            at(&Pace::from(&three()), &PaceEffect::Knitter)
        );
        // The knitter says that it is right: it counts.
        records[3].stood_by = true;
        let stood_by = Pace::from(&records);
        assert!(at(&stood_by, &PaceEffect::Knitter).0 > 0.3);
        records[3].took = 0.0;
        assert_eq!(Pace::from(&records).judged()[3].standing, Standing::Senseless);
    }

    /// What is told of a lesson and of a piece is what is believed, by hand from the figures above.
    #[test]
    fn lessons_and_pieces_are_told_as_they_are_believed() {
        let pace = Pace::from(&three());
        let lessons = pace.lessons();
        let told = |effect: PaceEffect| {
            lessons.iter().find(|lesson| lesson.effect == effect).expect("learnt").factor
        };
        let knitter = told(PaceEffect::Knitter);
        assert!((knitter.middle - 0.18250f64.exp()).abs() < 1e-4, "{knitter:?}");
        assert!((knitter.high - (0.18250 + 1.96 * 0.16866f64).exp()).abs() < 1e-3, "{knitter:?}");
        // For twice as many made it takes so much less.
        let practice = told(PaceEffect::Practice);
        let twice = 0.14981 * std::f64::consts::LN_2;
        assert!((practice.middle - (-twice).exp()).abs() < 1e-4, "{practice:?}");
        assert!(practice.low < practice.middle && practice.middle < practice.high);
        let lesson = lessons.iter().find(|lesson| lesson.effect == PaceEffect::Practice);
        let lesson = lesson.expect("learnt");
        let spreads = [0.06, 0.05818].map(|sd| sd * std::f64::consts::LN_2);
        assert!((lesson.spread_before - spreads[0]).abs() < 1e-9, "{lesson:?}");
        assert!((lesson.spread_now - spreads[1]).abs() < 1e-4, "{lesson:?}");
        let up = practice.high / practice.middle;
        assert!((up - (1.96 * spreads[1]).exp()).abs() < 1e-3, "{practice:?}");
        // A piece that took longer than the others make of it was expected to take less.
        for (judged, record) in pace.judged().iter().zip(three()) {
            let expected = judged.expected.expect("it makes sense");
            assert_eq!(judged.taken, record.took);
            assert!((100.0..130.0).contains(&expected) || record.nth > 1, "{expected}");
        }
        let mut slow = three();
        slow[1].took = 190.0;
        let judged = Pace::from(&slow).judged()[1].expected.expect("it makes sense");
        assert!((90.0..130.0).contains(&judged), "{judged}");
    }

    /// The fourth is quicker than the first before anything is known, by Wright's law: 4 to the power of -0.15.
    #[test]
    fn practice_is_expected_before_it_is_seen() {
        let middle = |nth| Pace::nothing().minutes("next", "socks", nth, 84.0).next_within().middle;
        let times = middle(4) / middle(1);
        assert!((times - 4f64.powf(-0.15)).abs() < 1e-9, "{times}");
    }

    /// What is stood by pulls as if it lay just not too far off, on either side.
    #[test]
    fn one_that_is_sure_pulls_as_hard_as_what_is_believed_unasked() {
        for took in [9.0, 900.0] {
            let with = |took: f64, stood_by: bool| {
                let sure = PaceRecord { stood_by, ..sock(4, took) };
                Pace::from(&[three(), vec![sure]].concat())
            };
            let asked = with(took, false);
            let judged = &asked.judged()[3];
            assert_eq!(judged.standing, Standing::Asked);
            let (expected, sd) = (judged.expected.expect("told"), judged.spread.expect("told"));
            let just = expected * ((took / expected).ln().signum() * 3.4999 * sd).exp();
            let knitter = |pace: &Pace| at(pace, &PaceEffect::Knitter).0;
            let (sure, unasked) = (with(took, true), with(just, false));
            assert_eq!(unasked.judged()[3].standing, Standing::Taken, "{took}: {just}");
            assert!((knitter(&sure) - knitter(&unasked)).abs() < 1e-3, "{took}");
            assert!((knitter(&sure) - knitter(&asked)).abs() > 0.05, "{took}");
        }
    }

    #[test]
    fn minutes_that_are_certain_are_passed_or_not() {
        let certain = Minutes::of_piece(10.0, []);
        assert_eq!([9.0, 10.0, 11.0].map(|m| certain.chance_longer(m)), [1.0, 0.0, 0.0]);
        let half = certain.times(0.5);
        assert_eq!((half.mean(), half.next_within().middle), (5.0, 5.0));
        let unsure = Minutes::of_piece(10.0, [(Source::PieceTime("a".into()), 0.2)]);
        assert_eq!([0.0, -1.0].map(|m| unsure.chance_longer(m)), [1.0, 1.0]);
    }

    /// The average of the logarithms of 110, 95 and 88 over 84 minutes, practice and all.
    #[test]
    fn what_pieces_took_as_they_stand_is_told_where_practice_is_part_of_it() {
        let raw = Pace::from(&three()).as_they_stand().expect("two that were not the first");
        let by_hand = (110.0f64 * 95.0 * 88.0).cbrt() / 84.0;
        assert!((raw - by_hand).abs() < 1e-12, "{raw} {by_hand}");
        assert_eq!(Pace::from(&three()[..1]).as_they_stand(), None);
        assert_eq!(Pace::nothing().as_they_stand(), None);
    }

    #[test]
    fn the_order_of_the_list_makes_no_difference() {
        let mut turned = three();
        turned.rotate_left(1);
        turned.swap(0, 1);
        let (a, b) = (Pace::from(&three()), Pace::from(&turned));
        assert_eq!(a.lessons(), b.lessons());
    }

    #[test]
    fn work_of_no_time_takes_no_time() {
        let none = Pace::nothing().minutes("next", "socks", 1, 0.0);
        let within = none.next_within();
        assert_eq!((none.mean(), within.low, within.high, none.log_sd()), (0.0, 0.0, 0.0, 0.0));
        assert_eq!(none.plus(&none).mean_within().high, 0.0);
    }

    #[test]
    fn lessons_count_the_pieces_that_teach() {
        let mut records = three();
        records.push(PaceRecord { kind: "hat".into(), ..sock(1, 90.0) });
        let lessons = Pace::from(&records).lessons();
        let pieces: Vec<(PaceEffect, u32)> =
            lessons.iter().map(|l| (l.effect.clone(), l.pieces)).collect();
        assert_eq!(
            pieces,
            [
                (PaceEffect::Knitter, 4),
                (PaceEffect::Kind("hat".into()), 1),
                (PaceEffect::Kind("socks".into()), 3),
                // The first of a kind has no practice to show.
                (PaceEffect::Practice, 2),
            ]
        );
        assert!(lessons.iter().all(|l| l.spread_now < l.spread_before));
    }
}
