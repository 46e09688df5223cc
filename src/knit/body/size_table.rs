use super::{Body, Measure, Size, SizeId};
use diag::{Code, Diagnostic};

/// Sizes in the order of the run. No two answer to the same name; that is checked on every way
/// in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SizeTable {
    sizes: Vec<Size>,
}

impl SizeTable {
    /// A table of no sizes.
    pub fn new() -> Self {
        Self::default()
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
        self.sizes.push(size);
        Ok(())
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

    /// Every measure that some size of the table has, head to foot.
    pub fn measures(&self) -> Vec<Measure> {
        Measure::ALL
            .into_iter()
            .filter(|m| self.sizes.iter().any(|size| size.values.contains_key(m)))
            .collect()
    }

    /// The least and the greatest value of a measure, in mm.
    pub fn range(&self, measure: Measure) -> Option<(f64, f64)> {
        self.sizes.iter().filter_map(|size| size.mm(measure)).fold(None, |range, mm| match range {
            None => Some((mm, mm)),
            Some((least, most)) => Some((least.min(mm), most.max(mm))),
        })
    }

    /// `other` laid over this table. A size of the same id takes `other`'s label, group, age,
    /// aliases and figures, and keeps the figures `other` does not state. A new size goes
    /// before the first older size of its group, or to the end of the group. Where a name of
    /// `other` is an alias here, the alias moves to `other`'s size.
    pub fn merged_with(&self, other: &SizeTable) -> SizeTable {
        let mut sizes = self.sizes.clone();
        for new in &other.sizes {
            for old in &mut sizes {
                old.aliases.retain(|alias| !new.answers_to(alias.as_str()));
            }
            let mut new = new.clone();
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
        SizeTable { sizes }
    }

    /// Where a measure gets smaller from one size to the next of the same group.
    pub fn falls(&self) -> Vec<(Measure, &Size, &Size)> {
        let mut falls = Vec::new();
        for measure in Measure::ALL {
            for (i, size) in self.sizes.iter().enumerate() {
                let Some(mm) = size.mm(measure) else { continue };
                let before = self.sizes[..i]
                    .iter()
                    .rfind(|earlier| earlier.group == size.group && earlier.mm(measure).is_some());
                if let Some(earlier) = before
                    && earlier.mm(measure).is_some_and(|before_mm| before_mm > mm)
                {
                    falls.push((measure, earlier, size));
                }
            }
        }
        falls
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
