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
    let measured = (!person.measures.is_empty())
        .then(|| Measured { name: person.name.clone(), measures: measures(contents, person) });
    GradeRequest {
        plugin,
        machine,
        swatch,
        options: Vec::new(),
        sizes: person.size.as_ref().map_or_else(String::new, ToString::to_string),
        person: measured,
    }
}

fn measures(contents: &Contents, person: &Person) -> Vec<(Measure, Length)> {
    let mut measures = person.measures.clone();
    if let Some(size) = person.size.as_ref().and_then(|id| contents.sizes.get(id.as_str())) {
        let taken: Vec<Measure> = measures.iter().map(|(measure, _)| *measure).collect();
        measures.extend(
            Measure::ALL
                .into_iter()
                .filter(|measure| !taken.contains(measure))
                .filter_map(|m| Some((m, Length::from_mm(size.mm(m)?).ok()?))),
        );
    }
    measures
}
