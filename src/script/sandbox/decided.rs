use std::collections::BTreeMap;

use knit::garment::Decision;

use crate::values::SearchRange;

/// The whole numbers of the call in hand: those the knitter fixed, and those that were decided.
#[derive(Debug, Default)]
pub(crate) struct Decided {
    fixed: BTreeMap<String, i64>,
    asked: Vec<Asked>,
    /// How often the script has asked.
    times: usize,
}

/// A number that the script asked for.
#[derive(Debug)]
pub(super) struct Asked {
    pub name: String,
    pub title: String,
    pub may: SearchRange,
    /// With which others it was asked for.
    pub turn: usize,
    pub value: Option<i64>,
}

impl Decided {
    pub fn with(fixed: BTreeMap<String, i64>) -> Decided {
        Decided { fixed, ..Decided::default() }
    }

    /// What the knitter fixed that number to.
    pub(super) fn fixed(&self, name: &str) -> Option<i64> {
        self.fixed.get(name).copied()
    }

    /// Everything that is fixed, `steps 33, wedges 6`; blank where nothing is.
    pub fn all_fixed(&self) -> String {
        let each = self.fixed.iter().map(|(name, n)| format!("{name} {n}"));
        each.collect::<Vec<_>>().join(", ")
    }

    pub(super) fn has(&self, name: &str) -> bool {
        self.asked.iter().any(|asked| asked.name == name)
    }

    pub(super) fn next_turn(&mut self) -> usize {
        self.times += 1;
        self.times
    }

    pub(super) fn ask(&mut self, asked: Asked) {
        self.asked.push(asked);
    }

    pub(super) fn count(&self) -> usize {
        self.asked.len()
    }

    /// Those that were asked for together.
    pub(super) fn of_turn(&mut self, turn: usize) -> impl Iterator<Item = &mut Asked> {
        self.asked.iter_mut().filter(move |asked| asked.turn == turn)
    }

    /// Those of them that the knitter fixed, and to what.
    pub(super) fn fixed_of(&self, turn: usize) -> Vec<(String, i64)> {
        let together = self.asked.iter().filter(|asked| asked.turn == turn);
        together.filter_map(|asked| Some((asked.name.clone(), self.fixed(&asked.name)?))).collect()
    }

    /// Nothing came of it: the names are free again.
    pub(super) fn give_up(&mut self, turn: usize) {
        self.asked.retain(|asked| asked.turn != turn);
    }

    /// What was decided, in the order in which it was asked for.
    pub fn decisions(&self) -> Vec<Decision> {
        let decision = |asked: &Asked| {
            Some(Decision {
                name: asked.name.clone(),
                title: asked.title.clone(),
                value: asked.value?,
                from: asked.may.from,
                to: asked.may.last(),
                step: asked.may.step,
                fixed: self.fixed.contains_key(&asked.name),
            })
        };
        self.asked.iter().filter_map(decision).collect()
    }

    /// What is fixed and was not decided.
    pub fn unmet(&self) -> Vec<(String, i64)> {
        let met = |name: &str| self.asked.iter().any(|a| a.name == name && a.value.is_some());
        let unmet = self.fixed.iter().filter(|(name, _)| !met(name));
        unmet.map(|(name, n)| (name.clone(), *n)).collect()
    }
}
