use schemars::JsonSchema;
use serde::Deserialize;

use super::field::{Field, Reading};
use super::shape;
use diag::{Code, Diagnostic, Diagnostics, Place};
use knit::by_hand::HandWork;
use knit::machine::Machine;
use units::Length;

/// Machine profiles.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct MachinesToml {
    #[serde(default)]
    machine: Vec<MachineToml>,
}

/// What a bed offers.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct MachineToml {
    #[schemars(required)]
    id: Option<Field<String>>,
    title: Option<String>,
    /// From needle to needle: "4.5 mm".
    #[schemars(required)]
    pitch: Option<Field<String>>,
    /// How many there are, about the centre of the bed.
    needles: Option<Field<u32>>,
    /// The first and the last one, in place of their number: "L90-R95".
    bed: Option<Field<String>>,
    /// Needles that don't knit: "L17", "R3-R4".
    #[serde(default)]
    out_of_work: Vec<Field<String>>,
    #[schemars(required)]
    ribber: Option<bool>,
    /// What is made by hand: `true`, all of it; or what of it, "rib, toe, grafting": ribs on a pair of needles,
    /// round ends drawn up and edges cast off together where they would be grafted.
    by_hand: Option<Field<ByHandToml>>,
    /// Where the figures come from.
    #[serde(default)]
    source: String,
}

/// All that can be made by hand, or what of it.
#[derive(Deserialize, JsonSchema)]
#[serde(untagged, expecting = "true, false, or what is made by hand, like \"rib, toe\"")]
enum ByHandToml {
    All(bool),
    Of(String),
}

fn hand_work(reading: &mut Reading<'_>, given: &Field<ByHandToml>) -> HandWork {
    let read = match given.get_ref() {
        ByHandToml::All(true) => Ok(HandWork::ALL),
        ByHandToml::All(false) => Ok(HandWork::default()),
        ByHandToml::Of(text) => HandWork::parse(text),
    };
    read.unwrap_or_else(|fault| {
        reading.fault(given, fault);
        HandWork::default()
    })
}

/// Reads machine profiles: `[[machine]]` tables of id, title, pitch, needles, ribber, source.
///
/// # Errors
/// All faults of the file, each at its place.
pub fn parse_machines(file: &str, text: &str) -> Result<Vec<Machine>, Diagnostics> {
    let mut reading = Reading::new(file, text);
    let machines = read_machines(&mut reading);
    reading.faults.into_result(machines)
}

pub(super) fn read_machines(reading: &mut Reading<'_>) -> Vec<Machine> {
    let Some(parsed) = shape::read::<MachinesToml>(reading) else { return Vec::new() };
    let (file, text) = (reading.file, reading.text);
    let mut machines: Vec<Machine> = Vec::new();
    let mut faulty = false;
    for entry in parsed.machine {
        let (Some(id), Some(pitch), Some(ribber)) = (entry.id, entry.pitch, entry.ribber) else {
            // What is missing was told; what is there can wait for it.
            faulty = true;
            continue;
        };
        let pitch_mm = reading.quantity::<Length>(&pitch).map(Length::mm);
        if let Some(pitch_mm) = pitch_mm
            && !(1.5..=20.0).contains(&pitch_mm)
        {
            reading.fault(
                &pitch,
                Diagnostic::error(
                    Code::Pitch,
                    format!("no hand machine has a pitch of {pitch_mm} mm"),
                )
                .hint("hand machines run from 3.6 mm (fine) to 9 mm (bulky)"),
            );
        }
        if id.get_ref().is_empty() || machines.iter().any(|m| m.id == *id.get_ref()) {
            reading.fault(
                &id,
                Diagnostic::error(Code::MachineId, format!("`{}` is empty or taken", id.get_ref()))
                    .hint("give each machine an id of its own"),
            );
        }
        let title = entry.title.unwrap_or_else(|| id.get_ref().clone());
        let plain =
            Machine::new(id.get_ref(), &title, pitch_mm.unwrap_or_default(), USUAL_NEEDLES, ribber);
        let needles =
            NeedleFields { needles: entry.needles, bed: entry.bed, out: entry.out_of_work };
        let machine = with_needles(reading, &id, plain, needles);
        let by_hand = entry.by_hand.map(|given| hand_work(reading, &given)).unwrap_or_default();
        machines.push(Machine { source: entry.source, by_hand, ..machine });
    }
    if machines.is_empty() && !faulty {
        reading.faults.push(
            Diagnostic::error(Code::NoMachine, format!("{file} has no machine"))
                .hint("begin a profile with [[machine]]")
                .at(Place::from_line(file, text, 1)),
        );
    }
    machines
}

/// Of a bed whose needles can't be read, so that the rest of its file still is.
const USUAL_NEEDLES: u32 = 200;

/// What an entry tells of its needles.
struct NeedleFields {
    needles: Option<Field<u32>>,
    bed: Option<Field<String>>,
    out: Vec<Field<String>>,
}

/// The machine with the needles that its entry tells of.
fn with_needles(
    reading: &mut Reading<'_>,
    id: &Field<String>,
    plain: Machine,
    NeedleFields { needles, bed, out }: NeedleFields,
) -> Machine {
    let mut machine = plain.clone();
    let mut read =
        |reading: &mut Reading<'_>, place: std::ops::Range<usize>, text: &str| match plain
            .clone()
            .with_needles(text)
        {
            Ok(found) => machine = found,
            Err(fault) => reading.faults.push_placed(fault, reading.file, reading.text, place),
        };
    match (needles, bed) {
        (Some(needles), Some(_)) => reading.fault(
            &needles,
            Diagnostic::error(Code::Needles, "the needles are told twice")
                .hint("keep `needles`, how many there are, or `bed`, the first and the last one"),
        ),
        (None, None) => reading.fault(
            id,
            Diagnostic::error(Code::Missing, "the machine has no `needles`")
                .hint("say how many there are, needles = 200, or which, bed = \"L90-R95\""),
        ),
        (Some(count), None) => read(reading, count.span(), &count.get_ref().to_string()),
        (None, Some(bed)) => read(reading, bed.span(), bed.get_ref()),
    }
    for text in out {
        match machine.clone().without(text.get_ref()) {
            Ok(found) => machine = found,
            Err(fault) => reading.fault(&text, fault),
        }
    }
    machine
}
