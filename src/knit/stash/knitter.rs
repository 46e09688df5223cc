/// Someone who knits. Where a workspace names none, whoever keeps it knits all.
#[derive(Clone, Debug, PartialEq)]
pub struct Knitter {
    /// What they are called; no two are alike.
    pub name: String,
    /// Ids of the machines they have; none: any.
    pub machines: Vec<String>,
    /// Hours a week at the machine; `None`: as in the settings.
    pub hours_a_week: Option<f64>,
    /// Where they are, by the name of the place.
    pub place: Option<String>,
    /// In the knitter's words.
    pub note: Option<String>,
}

impl Knitter {
    /// Whether they have the machine of that id.
    pub fn has(&self, machine: &str) -> bool {
        self.machines.is_empty() || self.machines.iter().any(|own| own == machine)
    }
}

/// Whether two names are of one place: capitals and blanks around them don't count.
pub fn same_place(one: &str, other: &str) -> bool {
    one.trim().to_lowercase() == other.trim().to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_names_no_machine_has_any() {
        let mut wenna = Knitter {
            name: "Wenna".into(),
            machines: Vec::new(),
            hours_a_week: None,
            place: None,
            note: None,
        };
        assert!(wenna.has("standard"));
        wenna.machines.push("bulky".into());
        assert!(wenna.has("bulky") && !wenna.has("standard"));
    }

    #[test]
    fn a_place_is_the_same_however_it_is_written() {
        assert!(same_place("Skerry Light", " skerry light "));
        assert!(!same_place("Skerry Light", "Gull Rock"));
    }
}
