//! What a program asks to have graded: one shape for the commands, the command line's batch and the
//! server. Its fields are the table in `request_keys`.

use super::{Ask, Person};
use diag::{Code, Diagnostic, Diagnostics};
use knit::body::Measures;
use knit::stash::Words;
use units::{Length, LengthUnit};

impl Ask {
    /// The garment asked for.
    ///
    /// # Errors
    /// None is, or what could only be a path.
    pub fn garment(&self) -> Result<&str, Diagnostic> {
        match self.garment.as_deref() {
            Some(id) if id.contains(['/', '\\', '.', '\0']) => Err(Diagnostic::error(
                Code::NoGarment,
                "garments are asked for by id, not by folder",
            )
            .hint("`oddments garment list` shows them, and so does /api/v1/garments")),
            Some(id) => Ok(id),
            None => Err(Diagnostic::error(Code::NoGarment, "no garment is asked for")
                .hint("say which: garment=tam")),
        }
    }

    /// # Errors
    /// Another unit.
    pub fn unit(&self) -> Result<LengthUnit, Diagnostic> {
        match self.units.as_deref() {
            None | Some("cm") => Ok(LengthUnit::Cm),
            Some("in") => Ok(LengthUnit::In),
            Some(_) => Err(Diagnostic::error(Code::Units, "that is no unit of length to print in")
                .hint("units are cm or in")),
        }
    }

    /// Whose words of the trade are printed.
    ///
    /// # Errors
    /// Others than there are.
    pub fn words(&self) -> Result<Words, Diagnostic> {
        let Some(name) = self.words.as_deref() else { return Ok(Words::Usual) };
        Words::named(name).ok_or_else(|| {
            Diagnostic::error(Code::Word, format!("`{name}` is not a choice of words"))
                .hint(format!("use one of: {}; or leave it out", Words::NAMES.join(", ")))
        })
    }

    /// What is said of a body measure.
    pub fn measure(&self, name: &str) -> Option<&str> {
        self.measures.iter().find(|(known, _)| known == name).map(|(_, text)| text.as_str())
    }

    /// Whom to make to measure for, if anyone. `known` are the measures there are.
    ///
    /// # Errors
    /// Unknown measures, and lengths that are none.
    pub fn person(&self, known: &Measures) -> Result<Option<Person>, Diagnostics> {
        if self.measures.is_empty() {
            return Ok(None);
        }
        let mut faults = Diagnostics::new();
        let mut measures = Vec::new();
        for (name, value) in &self.measures {
            let measure = known.named(name).map_err(|fault| faults.push(fault)).ok();
            let length = value.parse::<Length>().map_err(|e| faults.push(e.into_diagnostic())).ok();
            measures.extend(measure.zip(length));
        }
        let name = self.name.clone().unwrap_or_else(|| "Made to measure".to_owned());
        faults.into_result(Some(Person { name, measures }))
    }
}
