use serde::Deserialize;
use toml::Spanned;

use super::field::Reading;
use crate::diag::{Diagnostic, Diagnostics, toml_text};
use crate::knit::machine::Machine;
use crate::units::Length;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MachinesToml {
    #[serde(default)]
    machine: Vec<MachineToml>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MachineToml {
    id: Spanned<String>,
    title: Option<String>,
    pitch: Spanned<String>,
    needles: Spanned<u32>,
    ribber: bool,
    #[serde(default)]
    source: String,
}

/// Reads machine profiles: `[[machine]]` tables of id, title, pitch, needles, ribber, source.
///
/// # Errors
/// All faults of the file, each at its place.
pub fn parse_machines(file: &str, text: &str) -> Result<Vec<Machine>, Diagnostics> {
    let parsed: MachinesToml = toml_text::parse(file, text)?;
    let mut reading = Reading::new(file, text);
    let mut machines: Vec<Machine> = Vec::new();
    for entry in parsed.machine {
        let pitch_mm = reading.quantity::<Length>(&entry.pitch).map(Length::mm);
        if let Some(pitch_mm) = pitch_mm
            && !(1.5..=20.0).contains(&pitch_mm)
        {
            reading.fault(
                &entry.pitch,
                Diagnostic::error("pitch", format!("no hand machine has a pitch of {pitch_mm} mm"))
                    .hint("hand machines run from 3.6 mm (fine) to 9 mm (bulky)"),
            );
        }
        if !(10..=1000).contains(entry.needles.get_ref()) {
            reading.fault(
                &entry.needles,
                Diagnostic::error(
                    "needles",
                    format!("a bed of {} needles", entry.needles.get_ref()),
                )
                .hint("hand machines have 50 to 300 needles"),
            );
        }
        if entry.id.get_ref().is_empty() || machines.iter().any(|m| m.id == *entry.id.get_ref()) {
            reading.fault(
                &entry.id,
                Diagnostic::error(
                    "machine-id",
                    format!("`{}` is empty or taken", entry.id.get_ref()),
                )
                .hint("give each machine an id of its own"),
            );
        }
        machines.push(Machine {
            title: entry.title.unwrap_or_else(|| entry.id.get_ref().clone()),
            id: entry.id.into_inner(),
            pitch_mm: pitch_mm.unwrap_or_default(),
            needles: entry.needles.into_inner(),
            ribber: entry.ribber,
            source: entry.source,
        });
    }
    if machines.is_empty() {
        reading.faults.push(
            Diagnostic::error("no-machine", format!("{file} has no machine"))
                .hint("begin a profile with [[machine]]"),
        );
    }
    reading.faults.into_result(machines)
}
