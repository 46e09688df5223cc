//! The size a person of the workspace is graded in.

use super::{GradeRequest, Person as Measured};
use knit::body::{Measure, SizeTable};
use knit::machine::Machine;
use knit::stash::NamedSwatches;
use knit::stash::Person;
use script::Plugin;
use store::workspace::Contents;
use units::Length;

/// A request for one person, without options: by the size of the table, or by what was measured,
/// with what the table's size says of the rest.
pub(super) fn request_for<'a>(
    contents: &Contents,
    person: &Person,
    plugin: &'a Plugin,
    machine: &'a Machine,
    swatch: &'a NamedSwatches,
) -> GradeRequest<'a> {
    let (sizes, person) = fitted(contents, person, plugin);
    GradeRequest { plugin, machine, swatch, options: Vec::new(), sizes, person }
}

/// The size of the table that a person has, blank where it is not known, and what was measured.
pub(super) fn fitted(
    contents: &Contents,
    person: &Person,
    plugin: &Plugin,
) -> (String, Option<Measured>) {
    let measured = (!person.measures.is_empty()).then(|| Measured {
        name: person.name.clone(),
        measures: measures(&contents.sizes, person, &plugin.manifest.sized_by),
    });
    (person.size.as_ref().map_or_else(String::new, ToString::to_string), measured)
}

/// What was taken, and the rest of the size's figures: those that go with the measure `by` on average,
/// as it was taken or as the size has it.
fn measures(sizes: &SizeTable, person: &Person, by: &str) -> Vec<(Measure, Length)> {
    let mut measures = person.measures.clone();
    if let Some(size) = person.size.as_ref().and_then(|id| sizes.get(id.as_str())) {
        let taken = |measure: &Measure| person.measures.iter().find(|(own, _)| own == measure);
        let by_mm = person.measures.iter().find(|(measure, _)| measure.name() == by);
        let by_mm = by_mm.map(|(_, length)| length.mm());
        let size = size.sized_by(sizes.known(), by, by_mm);
        let others = size.values.iter().filter(|(measure, _)| taken(measure).is_none());
        measures.extend(others.filter_map(|(measure, value)| {
            Some((measure.clone(), Length::from_mm(value.mm).ok()?))
        }));
    }
    measures
}

#[cfg(test)]
mod tests {
    use super::*;

    fn person(size: &str, measures: Vec<(Measure, Length)>) -> Person {
        Person { name: "Ruan".into(), measures, ..Person::of_size(size.parse().expect("an id")) }
    }

    /// ANSUR II 2012, men: arm on chest, 518.3 + 0.0706 x chest.
    #[test]
    fn what_was_not_taken_goes_with_the_chest_that_was() {
        let sizes = store::default_size_table().expect("sound");
        let chest = sizes.known().named("chest_girth").expect("known");
        let arm = |person: &Person, by: &str| {
            let measures = measures(&sizes, person, by);
            let arm = measures.iter().find(|(measure, _)| measure.name() == "arm_length");
            assert_eq!(measures.len(), sizes.known().iter().count(), "each once");
            arm.expect("an arm").1.mm()
        };
        let taken = vec![(chest, Length::from_mm(1300.0).expect("a length"))];
        let wide = person("men-xl", taken);
        assert_eq!(arm(&wide, "chest_girth"), 610.0);
        assert_eq!(arm(&wide, "head_girth"), 653.0);
        assert_eq!(arm(&person("men-xl", Vec::new()), "chest_girth"), 605.0);
    }
}
