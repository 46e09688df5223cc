use schemars::JsonSchema;
use serde::Deserialize;

use super::field::{Field, Reading};
use super::shape;
use diag::{Code, Diagnostic, Diagnostics, Place};
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
    #[schemars(required)]
    needles: Option<Field<u32>>,
    #[schemars(required)]
    ribber: Option<bool>,
    /// Where the figures come from.
    #[serde(default)]
    source: String,
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
        let (Some(id), Some(pitch), Some(needles), Some(ribber)) =
            (entry.id, entry.pitch, entry.needles, entry.ribber)
        else {
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
        if !(10..=1000).contains(needles.get_ref()) {
            reading.fault(
                &needles,
                Diagnostic::error(Code::Needles, format!("a bed of {} needles", needles.get_ref()))
                    .hint("hand machines have 50 to 300 needles"),
            );
        }
        if id.get_ref().is_empty() || machines.iter().any(|m| m.id == *id.get_ref()) {
            reading.fault(
                &id,
                Diagnostic::error(Code::MachineId, format!("`{}` is empty or taken", id.get_ref()))
                    .hint("give each machine an id of its own"),
            );
        }
        machines.push(Machine {
            title: entry.title.unwrap_or_else(|| id.get_ref().clone()),
            id: id.get_ref().clone(),
            pitch_mm: pitch_mm.unwrap_or_default(),
            needles: *needles.get_ref(),
            ribber,
            source: entry.source,
        });
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
