//! Fills in what nobody took, from what is known.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::{Basis, Body, BodyValue, Measure, Regression, SizeGroup, SizeTable, Stage};

/// A measure with how it came to be known; `sd_mm` is 0 and `way` the measure itself when it
/// was taken.
#[derive(Clone, Debug)]
pub(super) struct Known {
    pub mm: f64,
    pub sd_mm: f64,
    pub way: Vec<Measure>,
    pub sources: Vec<Arc<str>>,
}

impl Known {
    pub fn measured(measure: Measure, mm: f64) -> Known {
        Known { mm, sd_mm: 0.0, way: vec![measure], sources: Vec::new() }
    }

    pub fn into_value(mut self) -> BodyValue {
        let basis = if self.sources.is_empty() {
            Basis::Measured
        } else {
            self.way.pop();
            Basis::Estimated {
                from: self.way,
                sd_mm: self.sd_mm,
                source: self.sources.join("; then "),
            }
        };
        BodyValue { mm: self.mm, basis }
    }
}

/// Fills in what has a line from a measure taken, by the line with the least spread; then what
/// has one from those, and so on. A direct line goes before any chain, even a seemingly
/// narrower one: a chain's spread is right only if the measures at its ends have nothing in
/// common but the middle one, which the direct line tells and the chain can't.
pub(super) fn spread(known: &mut BTreeMap<Measure, Known>, lines: &[Regression]) {
    loop {
        let mut found: BTreeMap<Measure, Known> = BTreeMap::new();
        for line in lines.iter().filter(|line| !known.contains_key(&line.y)) {
            let Some(x) = known.get(&line.x) else { continue };
            let sd_mm = line.sd_mm.hypot(line.slope * x.sd_mm);
            let mm = line.at(x.mm);
            // Far from its sample a line can end below nought: nobody's measure.
            if mm > 0.0 && found.get(&line.y).is_none_or(|y| sd_mm < y.sd_mm) {
                let mut y = x.clone();
                y.mm = mm;
                y.sd_mm = sd_mm;
                y.way.push(line.y.clone());
                if y.sources.last().is_none_or(|last| *last != line.source) {
                    y.sources.push(Arc::clone(&line.source));
                }
                found.insert(line.y.clone(), y);
            }
        }
        if found.is_empty() {
            return;
        }
        known.append(&mut found);
    }
}

impl SizeTable {
    /// A body of a size of this table, with those of `needed` that the table has no figure for
    /// filled by the lines of its group, and flagged as estimated.
    pub fn filled(&self, mut body: Body, group: SizeGroup, needed: &[&str]) -> Body {
        let lacks = |name: &&&str| body.get(name).is_none() && self.known().get(name).is_some();
        let missing: Vec<&str> = needed.iter().filter(lacks).copied().collect();
        if missing.is_empty() {
            return body;
        }
        let mut known: BTreeMap<Measure, Known> = body
            .values
            .iter()
            .map(|(measure, value)| (measure.clone(), Known::measured(measure.clone(), value.mm)))
            .collect();
        spread(&mut known, &self.known().both_ways(Stage::of(group)));
        for name in missing {
            if let Some((measure, filled)) = known.remove_entry_named(name) {
                body.values.insert(measure, filled.into_value());
            }
        }
        body
    }
}

/// Taking an entry out by its measure's name.
trait Named {
    fn remove_entry_named(&mut self, name: &str) -> Option<(Measure, Known)>;
}

impl Named for BTreeMap<Measure, Known> {
    fn remove_entry_named(&mut self, name: &str) -> Option<(Measure, Known)> {
        let measure = self.keys().find(|measure| measure.name() == name)?.clone();
        self.remove_entry(&measure)
    }
}
