//! The yarns that won't do for a gift, gathered while its options are drawn up.

use super::DraftOption;
use knit::gift_plan::{Excluded, ExcludedYarn, YarnRule};
use knit::stash::Yarn;
use plan::GiftOption;

/// Garments told of a yarn that there is too little of.
const MOST_SHORT: usize = 8;

/// Rules and the yarns that they exclude.
#[derive(Debug, Default)]
pub(super) struct ExcludedYarns(Vec<Excluded>);

impl ExcludedYarns {
    /// Notes that a rule excludes a yarn, once.
    pub fn add(&mut self, rule: YarnRule, yarn: &Yarn) {
        let (id, name) = (yarn.id.clone(), yarn.name.clone());
        self.put(rule, ExcludedYarn { id, name, lot: None });
    }

    fn put(&mut self, rule: YarnRule, yarn: ExcludedYarn) {
        match self.0.iter_mut().find(|excluded| excluded.rule == rule) {
            Some(excluded) if excluded.yarns.contains(&yarn) => {}
            Some(excluded) => excluded.yarns.push(yarn),
            None => self.0.push(Excluded { rule, yarns: vec![yarn] }),
        }
    }

    /// Notes of each section which yarns would do and are too little. `most` gives the decigrams of a
    /// group that a section which needs so much could have, joined or not.
    pub fn short<'y>(
        &mut self,
        options: &[(DraftOption, GiftOption)],
        yarn_of: impl Fn(usize) -> Option<(&'y Yarn, Option<String>)>,
        most: impl Fn(usize, bool, u32) -> u32,
    ) {
        let mut told: Vec<(u32, YarnRule, ExcludedYarn)> = Vec::new();
        for (draft, option) in options.iter().filter(|(draft, _)| draft.scaled.is_none()) {
            for (section, (_, titled)) in option.sections.iter().zip(&draft.sections) {
                for (group, need) in &section.need_dg {
                    let have = most(*group, section.joinable, *need);
                    let Some((yarn, lot)) = yarn_of(*group).filter(|_| have < *need) else {
                        continue;
                    };
                    let rule = YarnRule::TooLittle {
                        title: draft.title.clone(),
                        section: (option.sections.len() > 1).then(|| titled.clone()),
                        need_g: f64::from(*need) / 10.0,
                        most_g: f64::from(have) / 10.0,
                    };
                    let yarn = ExcludedYarn { id: yarn.id.clone(), name: yarn.name.clone(), lot };
                    told.push((need - have, rule, yarn));
                }
            }
        }
        // Nearest first; of a yarn and a garment the nearest alone.
        told.sort_by_key(|a| a.0);
        let mut seen: Vec<(String, ExcludedYarn)> = Vec::new();
        let mut nearest = ExcludedYarns::default();
        for (_, rule, yarn) in told {
            let YarnRule::TooLittle { title, .. } = &rule else { continue };
            let key = (title.clone(), yarn.clone());
            if !seen.contains(&key) && seen.len() < MOST_SHORT {
                seen.push(key);
                nearest.put(rule, yarn);
            }
        }
        nearest.0.append(&mut self.0);
        self.0 = nearest.0;
    }

    pub fn told(self) -> Vec<Excluded> {
        self.0
    }
}
