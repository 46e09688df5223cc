//! Fresh instances by seed: a stash of ends and balls, gifts in a few options each.

use std::collections::BTreeMap;

use plan::{Gift, GiftOption, Instance, Remnant, Section};

/// Whether there is yarn for most gifts, or for some.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Yarn {
    /// Garments of all sizes, and some 2.4 times the yarn that all need at least.
    Plenty,
    /// Large garments, and about as much as all need at least.
    Tight,
}

impl Yarn {
    /// In the names of instances.
    pub fn letter(self) -> char {
        match self {
            Yarn::Plenty => 's',
            Yarn::Tight => 't',
        }
    }
}

/// A garment by its parts, each with the grams it takes, from and to; and how often it is wished for,
/// in plenty and when yarn is tight.
type Garment = (&'static [(f64, f64)], f64, f64);

const GARMENTS: [Garment; 10] = [
    (&[(6.0, 14.0), (22.0, 42.0)], 3.0, 4.0),
    (&[(25.0, 45.0), (6.0, 14.0)], 3.0, 4.0),
    (&[(22.0, 40.0), (4.0, 8.0), (3.0, 7.0)], 1.5, 3.0),
    (&[(5.0, 11.0), (14.0, 30.0)], 2.0, 1.0),
    (&[(5.0, 9.0), (12.0, 26.0), (3.0, 6.0)], 1.5, 1.0),
    (&[(25.0, 45.0)], 1.5, 2.0),
    (&[(12.0, 26.0)], 1.5, 0.0),
    (&[(4.0, 8.0), (9.0, 18.0)], 1.5, 0.0),
    (&[(3.0, 10.0)], 1.0, 0.3),
    (&[(4.0, 9.0), (7.0, 15.0)], 1.5, 0.0),
];

/// As many yarn groups as a household has; more only where a whole club's yarn is planned.
fn groups(gifts: usize) -> usize {
    (gifts / 40).max(12)
}

/// A generator of its own, so that a seed means the same wherever this is built.
struct Dice(u64);

impl Dice {
    /// From 0 to below 1.
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.unit()
    }

    fn below(&mut self, end: usize) -> usize {
        ((self.unit() * end as f64) as usize).min(end - 1)
    }

    /// One of several, each as often as its weight says.
    fn of(&mut self, weights: &[f64]) -> usize {
        let mut left = self.unit() * weights.iter().sum::<f64>();
        weights
            .iter()
            .position(|weight| {
                left -= weight;
                left < 0.0
            })
            .unwrap_or(weights.len() - 1)
    }

    /// Normally distributed about 0, with spread 1: twelve throws added up.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

/// An instance that depends on its arguments alone.
pub fn instance(gifts: usize, remnants: usize, yarn: Yarn, seed: u64) -> Instance {
    let kind = u64::from(yarn == Yarn::Tight);
    let mut dice = Dice(seed.wrapping_mul(1_000_003) ^ ((gifts as u64) << 20) ^ (kind << 60));
    let groups = groups(gifts);
    let often: Vec<f64> = (0..groups).map(|_| dice.between(0.5, 1.5)).collect();
    let stash = (0..remnants).map(|_| {
        let group = dice.of(&often);
        let grams = loop {
            let grams = (22f64.ln() + 0.75 * dice.normal()).exp();
            if (4.0..=95.0).contains(&grams) {
                break grams;
            }
        };
        let mass_dg = (grams * 10.0).round() as u32;
        Remnant { group, mass_dg, usable_dg: mass_dg - 10, ..Remnant::default() }
    });
    let remnants = stash.collect();
    let gifts = (0..gifts).map(|_| gift(&mut dice, groups, yarn)).collect();
    Instance { remnants, gifts, ..Instance::default() }
}

fn gift(dice: &mut Dice, groups: usize, yarn: Yarn) -> Gift {
    let often: Vec<f64> = GARMENTS
        .iter()
        .map(|(_, plenty, tight)| if yarn == Yarn::Tight { *tight } else { *plenty })
        .collect();
    let liked: Vec<usize> = (0..[1, 2, 2][dice.below(3)]).map(|_| dice.of(&often)).collect();
    let options = (0..[2, 3, 3, 4][dice.below(4)])
        .map(|_| {
            let garment = liked[dice.below(liked.len())];
            let size = dice.between(0.9, 1.1);
            let parts = GARMENTS[garment].0.iter();
            let sections = parts.map(|part| section(dice, groups, yarn, *part, size)).collect();
            GiftOption { pref: dice.below(51) as i64, sections, ..GiftOption::default() }
        })
        .collect();
    Gift { priority: 1 + dice.below(5) as i64, options, ..Gift::default() }
}

fn section(
    dice: &mut Dice,
    groups: usize,
    yarn: Yarn,
    (low, high): (f64, f64),
    size: f64,
) -> Section {
    let low = if yarn == Yarn::Tight { f64::midpoint(low, high) } else { low };
    let grams = (dice.between(low, high) * size).clamp(3.0, 45.0);
    let wanted = 2 + dice.below(4);
    let mut need_dg = BTreeMap::new();
    while need_dg.len() < wanted {
        let need = (10.0 * grams * dice.between(0.75, 1.25)).round().clamp(30.0, 450.0);
        need_dg.entry(dice.below(groups)).or_insert(need as u32);
    }
    Section { joinable: dice.below(3) == 0, need_dg, ..Section::default() }
}
