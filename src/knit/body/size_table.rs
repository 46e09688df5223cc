use std::sync::Arc;

use super::{Body, BodyPart, Measure, Measures, OwnMeasure, Size, SizeId};
use diag::{Code, Diagnostic, Diagnostics, nearest};

/// Sizes in the order of the run, and the measures that are known. No two sizes answer to the same
/// name; that is checked on every way in. Cheap to clone.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SizeTable {
    sizes: Arc<Vec<Size>>,
    known: Arc<Measures>,
}

impl SizeTable {
    /// A table of no sizes.
    pub fn new() -> Self {
        Self::default()
    }

    /// A table of no sizes whose figures are of these measures.
    pub fn of(known: Measures) -> Self {
        SizeTable { sizes: Arc::default(), known: Arc::new(known) }
    }

    /// The measures that are known, whether the table has figures for them or not.
    pub fn known(&self) -> &Measures {
        &self.known
    }

    /// The table with a garment's measures known as well.
    ///
    /// # Errors
    /// As [`Measures::extend`].
    pub fn knowing(&self, own: &[OwnMeasure]) -> Result<SizeTable, Vec<(String, Diagnostic)>> {
        let mut table = self.clone();
        if !own.is_empty() {
            Arc::make_mut(&mut table.known).extend(own)?;
        }
        Ok(table)
    }

    /// The table with each size's figures those that go with one of its measures on average; see
    /// [`Size::sized_by`].
    #[must_use]
    pub fn sized_by(&self, name: &str) -> SizeTable {
        if self.known.companions(name).next().is_none() {
            return self.clone();
        }
        let sizes = self.sizes.iter().map(|size| size.sized_by(&self.known, name, None)).collect();
        SizeTable { sizes: Arc::new(sizes), known: Arc::clone(&self.known) }
    }

    /// Adds a size at the end of the run.
    ///
    /// # Errors
    /// When another size has the same id or alias.
    pub fn push(&mut self, size: Size) -> Result<(), Diagnostic> {
        for name in std::iter::once(&size.id).chain(&size.aliases) {
            if let Some(other) = self.get(name.as_str()) {
                return Err(Diagnostic::error(
                    Code::SizeTable,
                    format!("two sizes answer to `{name}`"),
                )
                .hint(format!("`{}` ({}) has the name already", other.id, other.label)));
            }
        }
        Arc::make_mut(&mut self.sizes).push(size);
        Ok(())
    }

    /// As [`sized_by`](Self::sized_by), for a name that someone typed.
    ///
    /// # Errors
    /// No such measure, or one that nothing goes with.
    pub fn sized_by_named(&self, name: &str) -> Result<SizeTable, Diagnostic> {
        let measure = self.known.named(name)?;
        if self.known.companions(measure.name()).next().is_some() {
            return Ok(self.sized_by(measure.name()));
        }
        let with = |m: &&Measure| self.known.companions(m.name()).next().is_some();
        let known: Vec<&str> = self.known.iter().filter(with).map(Measure::name).collect();
        let fault = format!("the size table doesn't say what goes with {measure} on average");
        let fault = Diagnostic::error(Code::Measure, fault);
        Err(if known.is_empty() {
            fault.hint("leave it out: each measure then stands for itself")
        } else {
            fault.hint(format!("it does for {}", known.join(", ")))
        })
    }

    /// All sizes, in the order of the run.
    pub fn sizes(&self) -> &[Size] {
        &self.sizes
    }

    /// The size with this id or alias.
    pub fn get(&self, name: &str) -> Option<&Size> {
        self.sizes.iter().find(|size| size.answers_to(name))
    }

    /// The body of the size with this id or alias; `None` where there is none.
    pub fn body(&self, id: &SizeId) -> Option<Body> {
        self.get(id.as_str()).map(Body::from)
    }

    /// Every measure that some size of the table has, in the order they are known.
    pub fn measures(&self) -> Vec<Measure> {
        self.known
            .iter()
            .filter(|m| self.sizes.iter().any(|size| size.values.contains_key(m)))
            .cloned()
            .collect()
    }

    /// The least and the greatest value of a measure, in mm, by its name.
    pub fn range(&self, name: &str) -> Option<(f64, f64)> {
        self.sizes.iter().filter_map(|size| size.mm(name)).fold(None, |range, mm| match range {
            None => Some((mm, mm)),
            Some((least, most)) => Some((least.min(mm), most.max(mm))),
        })
    }

    /// `other` laid over this table; it was read with this table's measures known. A size of the same id takes `other`'s label, group, age,
    /// aliases and figures, and keeps the figures `other` does not state. A new size goes
    /// before the first older size of its group, or to the end of the group. Where a name of
    /// `other` is an alias here, the alias moves to `other`'s size.
    pub fn merged_with(&self, other: &SizeTable) -> SizeTable {
        let mut sizes = self.sizes.as_ref().clone();
        for new in other.sizes.iter() {
            for old in &mut sizes {
                old.aliases.retain(|alias| !new.answers_to(alias.as_str()));
            }
            let mut new = new.clone();
            new.values.values_mut().for_each(|value| value.laid_over = true);
            // An id is the stronger name: a new alias gives way to an older size's id.
            new.aliases.retain(|alias| sizes.iter().all(|old| old.id != *alias));
            if let Some(at) = sizes.iter().position(|old| old.id == new.id) {
                let old = sizes.remove(at);
                let (group, age) = (old.group, old.age_years);
                for (measure, value) in old.values {
                    new.values.entry(measure).or_insert(value);
                }
                new.age_years = new.age_years.or(age);
                for alias in old.aliases {
                    if !new.aliases.contains(&alias) {
                        new.aliases.push(alias);
                    }
                }
                let at = if new.group == group { at } else { place_for(&sizes, &new) };
                sizes.insert(at, new);
            } else {
                sizes.insert(place_for(&sizes, &new), new);
            }
        }
        let both = [&self.known, &other.known];
        let [own, others] = both.map(|known| known.iter().count());
        let known = Arc::clone(if others < own { &self.known } else { &other.known });
        SizeTable { sizes: Arc::new(sizes), known }
    }

    /// Where a measure gets smaller from one size to the next of the same group.
    pub fn falls(&self) -> Vec<(Measure, &Size, &Size)> {
        let mut falls = Vec::new();
        for measure in self.known.iter() {
            for (i, size) in self.sizes.iter().enumerate() {
                let Some(mm) = size.mm(measure.name()) else { continue };
                let before = self.sizes[..i].iter().rfind(|earlier| {
                    earlier.group == size.group && earlier.mm(measure.name()).is_some()
                });
                if let Some(earlier) = before
                    && earlier.mm(measure.name()).is_some_and(|before_mm| before_mm > mm)
                {
                    falls.push((measure.clone(), earlier, size));
                }
            }
        }
        falls
    }

    /// The measures that `words` choose, each once: a name, a part of the body (`torso`), `main` or
    /// `all`, which is every measure that the table has a figure for. No word chooses the main ones.
    ///
    /// # Errors
    /// All the words that choose nothing.
    pub fn chosen_measures(&self, words: &[&str]) -> Result<Vec<Measure>, Diagnostics> {
        let mut faults = Diagnostics::new();
        let mut chosen: Vec<Measure> = Vec::new();
        let words = if words.is_empty() { &["main"] } else { words };
        for word in words {
            let found = match (word.trim(), word.trim().parse::<BodyPart>()) {
                ("all", _) => self.measures(),
                ("main", _) => self.known().main(),
                (_, Ok(part)) => self.known().of_part(part),
                (name, Err(_)) => match self.known().named(name) {
                    Ok(measure) => vec![measure],
                    Err(fault) => {
                        faults.push(with_nearest_part(name, fault));
                        Vec::new()
                    }
                },
            };
            for measure in found {
                if !chosen.contains(&measure) {
                    chosen.push(measure);
                }
            }
        }
        faults.into_result(chosen)
    }
}

/// The fault of a word that chooses no measure, where it is like a part of the body and no measure.
fn with_nearest_part(word: &str, fault: Diagnostic) -> Diagnostic {
    let parts = BodyPart::ALL.map(BodyPart::name);
    match nearest(word, parts) {
        Some(part) if !fault.hints.iter().any(|hint| hint.starts_with("did you mean")) => {
            Diagnostic { hints: vec![format!("did you mean `{part}`?")], ..fault }
        }
        _ => fault,
    }
}

fn place_for(sizes: &[Size], new: &Size) -> usize {
    let older = new.age_years.and_then(|age| {
        sizes.iter().position(|s| s.group == new.group && s.age_years.is_some_and(|a| a > age))
    });
    older.unwrap_or_else(|| {
        sizes.iter().rposition(|s| s.group <= new.group).map_or(0, |last| last + 1)
    })
}
