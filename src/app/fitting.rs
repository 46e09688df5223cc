//! The size a person of the workspace is graded in.

use super::{GradeRequest, Person as Measured};
use knit::body::Measure;
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
    let measured = (!person.measures.is_empty()).then(|| Measured {
        name: person.name.clone(),
        measures: measures(contents, person, &plugin.manifest.sized_by),
    });
    GradeRequest {
        plugin,
        machine,
        swatch,
        options: Vec::new(),
        sizes: person.size.as_ref().map_or_else(String::new, ToString::to_string),
        person: measured,
    }
}

/// What was taken, and the rest of the size's figures: those that go with the measure `by` on average,
/// as it was taken or as the size has it.
fn measures(contents: &Contents, person: &Person, by: &str) -> Vec<(Measure, Length)> {
    let mut measures = person.measures.clone();
    if let Some(size) = person.size.as_ref().and_then(|id| contents.sizes.get(id.as_str())) {
        let taken = |measure: &Measure| person.measures.iter().find(|(own, _)| own == measure);
        let by_mm = person.measures.iter().find(|(measure, _)| measure.name() == by);
        let by_mm = by_mm.map(|(_, length)| length.mm());
        let size = size.sized_by(contents.sizes.known(), by, by_mm);
        let others = size.values.iter().filter(|(measure, _)| taken(measure).is_none());
        measures.extend(others.filter_map(|(measure, value)| {
            Some((measure.clone(), Length::from_mm(value.mm).ok()?))
        }));
    }
    measures
}
