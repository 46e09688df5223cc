//! Steps as their constructors checked them, so that they are not read a second time.

use std::collections::BTreeMap;

use mlua::Table;

use knit::program::Action;

/// Steps that are kept, and bytes of their texts; those beyond are read again.
const MOST_STEPS: usize = 20_000;
const MOST_TEXT: usize = 1 << 20;

/// The steps made in one call, by the tables that stand for them in the script. A table is known
/// by where it lies: nothing is collected within a call, so no other comes to lie there; and it is
/// frozen, so that it stays what was checked.
#[derive(Default)]
pub(crate) struct KeptSteps {
    steps: BTreeMap<usize, KeptStep>,
    text: usize,
}

pub(crate) struct KeptStep {
    pub line: u32,
    /// A repeat's own steps are not in it.
    pub action: Action,
    /// Bytes of its texts.
    pub text: usize,
}

impl KeptSteps {
    pub fn keep(&mut self, made: &Table, step: KeptStep) {
        if self.steps.len() < MOST_STEPS && self.text + step.text <= MOST_TEXT {
            self.text += step.text;
            self.steps.insert(made.to_pointer() as usize, step);
        }
    }

    pub fn of(&self, table: &Table) -> Option<&KeptStep> {
        self.steps.get(&(table.to_pointer() as usize))
    }
}
