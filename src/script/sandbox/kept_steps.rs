//! Steps as their constructors checked them, so that they are not read a second time.

use std::cell::{Cell, OnceCell};

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
    /// In the order they were made.
    steps: Vec<(usize, KeptStep)>,
    text: usize,
    /// The place after the step that was asked for last: most are read in the order they were made.
    next: Cell<usize>,
    /// Where each step is, by where its table lies; made when one is first asked for out of turn.
    places: OnceCell<Vec<(usize, usize)>>,
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
            self.places.take();
            self.steps.push((made.to_pointer() as usize, step));
        }
    }

    pub fn of(&self, table: &Table) -> Option<&KeptStep> {
        let wanted = table.to_pointer() as usize;
        let next = self.next.get();
        let at = match self.steps.get(next) {
            Some((place, _)) if *place == wanted => next,
            _ => self.place_of(wanted)?,
        };
        self.next.set(at + 1);
        Some(&self.steps[at].1)
    }

    fn place_of(&self, wanted: usize) -> Option<usize> {
        let places = self.places.get_or_init(|| {
            let steps = self.steps.iter().enumerate();
            let mut places: Vec<(usize, usize)> = steps.map(|(at, step)| (step.0, at)).collect();
            places.sort_unstable();
            places
        });
        let found = places.binary_search_by_key(&wanted, |(place, _)| *place).ok()?;
        Some(places[found].1)
    }
}
