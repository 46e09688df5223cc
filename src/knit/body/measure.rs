use std::cmp::Ordering;
use std::fmt;
use std::sync::Arc;

use super::BodyPart;
use diag::{Code, Diagnostic};

/// What is known of a body measure before it has its place among the others: data, read from a
/// size table or from a garment's manifest.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasureSpec {
    /// In files, scripts and JSON: `head_girth`.
    pub name: String,
    /// In sentences and headings: "head girth".
    pub title: String,
    /// Where the tape goes, in one line.
    pub meaning: String,
    /// Who measures it so: a survey, a standard, or an author's own word.
    pub source: String,
    /// What it is a measure of, where that matters to charts and cautions.
    pub part: Option<BodyPart>,
    /// Whether a size chart shows it unless others are asked for.
    pub main: bool,
    /// How well it tells the age, the least number best; `None`: not at all.
    pub tells: Option<u32>,
    /// The share by which babies of one age differ in it (standard deviation).
    pub babies_differ: Option<f64>,
}

impl MeasureSpec {
    /// A measure that is no more than its words.
    pub fn new(name: &str, title: &str, meaning: &str, source: &str) -> MeasureSpec {
        MeasureSpec {
            name: name.to_owned(),
            title: title.to_owned(),
            meaning: meaning.to_owned(),
            source: source.to_owned(),
            part: None,
            main: false,
            tells: None,
            babies_differ: None,
        }
    }

    /// Whether a measure may be called so.
    ///
    /// # Errors
    /// Anything but small letters, digits and single `_` after a letter, 40 at most; a word that
    /// means something else beside measures, as a person's `size` does.
    pub fn check_name(name: &str) -> Result<(), Diagnostic> {
        let refuse = |why: &str| {
            let fault = format!("`{name}` can't be the name of a body measure: {why}");
            Err(Diagnostic::error(Code::Measure, fault).hint("write it like `ring_girth`"))
        };
        if name.is_empty() {
            return refuse("it is empty");
        }
        if name.chars().count() > Self::LONGEST {
            return refuse("it is longer than 40 letters");
        }
        let sound = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
        if !name.starts_with(|c: char| c.is_ascii_lowercase())
            || !name.chars().all(sound)
            || name.ends_with('_')
            || name.contains("__")
        {
            return refuse("it takes small letters, digits and single `_`, a letter first");
        }
        if Self::TAKEN.contains(&name) || BodyPart::ALL.iter().any(|part| part.name() == name) {
            return refuse("the word means something else beside measures");
        }
        Ok(())
    }

    const LONGEST: usize = 40;
    /// Keys of a person, which stand beside their measures, and words of a chart.
    const TAKEN: [&str; 8] = ["name", "size", "likes", "avoid", "wash", "note", "all", "main"];
}

/// A body measure, known by its name among [`Measures`](super::Measures). Cheap to clone: a
/// handle on what is known of it, which every value of every body shares.
///
/// The shipped ones stand in the shipped size table. Their names follow ISO 8559-1 where it has
/// the measure; foot girth, heel-ankle girth, palm length, thumb crotch, thumb length, fist girth
/// and scye depth are terms of footwear, of the trade and of the surveys.
#[derive(Clone)]
pub struct Measure(Arc<Placed>);

struct Placed {
    /// The place among the known ones: the order tables are shown in.
    place: usize,
    spec: MeasureSpec,
}

impl Measure {
    pub(super) fn new(place: usize, spec: MeasureSpec) -> Measure {
        Measure(Arc::new(Placed { place, spec }))
    }

    /// The name in files, scripts and JSON: `head_girth`.
    pub fn name(&self) -> &str {
        &self.0.spec.name
    }

    /// The name in sentences and headings: "head girth".
    pub fn label(&self) -> &str {
        &self.0.spec.title
    }

    /// Where the tape goes, in one line.
    pub fn how(&self) -> &str {
        &self.0.spec.meaning
    }

    /// All that is known of it.
    pub fn spec(&self) -> &MeasureSpec {
        &self.0.spec
    }
}

/// The same measure in the same place. That one name means one thing is checked where measures
/// become known.
impl PartialEq for Measure {
    fn eq(&self, other: &Measure) -> bool {
        Arc::ptr_eq(&self.0, &other.0) || self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Measure {}

impl Ord for Measure {
    fn cmp(&self, other: &Measure) -> Ordering {
        self.0.place.cmp(&other.0.place).then_with(|| self.name().cmp(other.name()))
    }
}

impl PartialOrd for Measure {
    fn partial_cmp(&self, other: &Measure) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl fmt::Debug for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl fmt::Display for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_snake_case_and_no_word_of_another_meaning() {
        for good in ["head_girth", "a", "x9", "ring_girth_2"] {
            assert_eq!(MeasureSpec::check_name(good), Ok(()), "{good}");
        }
        let long = "a".repeat(41);
        for bad in [
            "",
            "Ring",
            "ring girth",
            "ring-girth",
            "_ring",
            "ring_",
            "ring__girth",
            "9ring",
            "ringø",
            "size",
            "note",
            "torso",
            "all",
            &long,
        ] {
            assert!(MeasureSpec::check_name(bad).is_err(), "{bad}");
        }
    }
}
