use schemars::JsonSchema;
use serde::Deserialize;

use super::reading::{FileLink, LinkKind, share};
use crate::field::{Field, Reading};
use crate::shape;
use diag::{Code, Diagnostic};
use knit::stash::{Aim, PlanWeights, Reserve, Settings, Words};
use units::LengthUnit;

/// How one knitter works. Every key may be left out.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SettingsToml {
    /// "cm" or "in".
    units: Option<Field<String>>,
    /// "american" (bind off, gauge) or "british" (cast off, tension): the words patterns are printed in.
    words: Option<Field<String>>,
    /// The machine profile: fine, standard, mid, bulky, or one of your own.
    machine: Option<Field<String>>,
    /// The swatch that is graded on where none is named.
    swatch: Option<Field<String>>,
    /// Hours a week at the machine.
    hours_a_week: Option<Field<f64>>,
    /// The share of every need kept back on top of it: "5 %". Not with risk.
    reserve: Option<Field<String>>,
    /// The chance of running out that is taken: "5 %". Not with reserve.
    risk: Option<Field<String>>,
    /// A chunk smaller than this is of no use: "5 g".
    least_useful: Option<Field<String>>,
    /// A rest below this is a drib: "8 g".
    drib_limit: Option<Field<String>>,
    /// Joins taken within one section.
    most_joins: Option<Field<i64>>,
    /// What the kitchen scale shows: "1 g".
    scale_step: Option<Field<String>>,
    /// What a plan is to be good at: "most gifts", "use up", "few balls" or "least time".
    #[schemars(extend("enum" = Aim::NAMES))]
    aim: Option<Field<String>>,
    weights: Option<WeightsToml>,
}

/// What a plan gains and loses by; only the ratios count.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WeightsToml {
    /// A gift, by each point of its priority.
    priority: Option<Field<f64>>,
    /// A colour or garment that is liked.
    preference: Option<Field<f64>>,
    /// Each join in a section.
    join: Option<Field<f64>>,
    /// Each drib left over.
    drib: Option<Field<f64>>,
    /// Each gift that a new plan would knit otherwise than the accepted one; 0 lets a plan change all of
    /// them for a point.
    change: Option<Field<f64>>,
    /// Each remnant that is brought to another place, where several knit.
    travel: Option<Field<f64>>,
    /// Each two gifts of one person that are of one kind, and again if they are of one yarn.
    alike: Option<Field<f64>>,
    /// Gained by each gram knitted; left out: as the aim has it, as are the two below.
    gram: Option<Field<f64>>,
    /// Each remnant begun.
    ball: Option<Field<f64>>,
    /// Each hour of work.
    hour: Option<Field<f64>>,
}

/// The settings a file gives, over the defaults.
pub(super) fn read(reading: &mut Reading<'_>) -> (Settings, Vec<FileLink>) {
    let mut settings = Settings::default();
    let mut links = Vec::new();
    let Some(given) = shape::read::<SettingsToml>(reading) else { return (settings, links) };
    if let Some(field) = &given.units {
        settings.units = unit(reading, field).unwrap_or_default();
    }
    if let Some(field) = &given.words {
        let named = reading.word(field, "choice of words", &Words::NAMES, Words::named);
        settings.words = named.unwrap_or_default();
    }
    let mut link = |kind, field: &Option<Field<String>>| {
        let link = FileLink::to(kind, field.as_ref()?);
        let id = link.id.clone();
        links.push(link);
        Some(id)
    };
    settings.machine = link(LinkKind::Machine, &given.machine);
    settings.swatch = link(LinkKind::Swatch, &given.swatch);
    settings.hours_a_week =
        given.hours_a_week.as_ref().and_then(|field| within(reading, field, 0.1, 168.0));
    if let Some(kept) = reserve(reading, &given) {
        settings.reserve = kept;
    }
    for (field, target) in [
        (&given.least_useful, &mut settings.least_useful),
        (&given.drib_limit, &mut settings.drib_limit),
        (&given.scale_step, &mut settings.scale_step),
    ] {
        if let Some(mass) = field.as_ref().and_then(|field| reading.quantity(field)) {
            *target = mass;
        }
    }
    if let Some(most) = given.most_joins.as_ref().and_then(|field| joins(reading, field)) {
        settings.most_joins = most;
    }
    if let Some(field) = &given.aim {
        settings.aim = reading.word(field, "aim of a plan", &Aim::NAMES, Aim::parse);
    }
    if let Some(given) = &given.weights {
        weigh(reading, given, &mut settings.weights);
    }
    (settings, links)
}

fn unit(reading: &mut Reading<'_>, field: &Field<String>) -> Option<LengthUnit> {
    reading.word(field, "unit of length", &["cm", "in"], |word| match word {
        "cm" => Some(LengthUnit::Cm),
        "in" => Some(LengthUnit::In),
        _ => None,
    })
}

fn reserve(reading: &mut Reading<'_>, given: &SettingsToml) -> Option<Reserve> {
    if let (Some(_), Some(risk)) = (&given.reserve, &given.risk) {
        let fault = Diagnostic::error(Code::Contrary, "there is a reserve and a risk")
            .hint("keep one: a share held back, or a chance of running out");
        reading.fault(risk, fault);
    }
    // Half as much again is no reserve but a second ball; half a chance is no risk but a bet.
    let kept = given.reserve.as_ref().and_then(|field| share(reading, field, 0.5));
    let risk = given.risk.as_ref().and_then(|field| share(reading, field, 0.5));
    risk.map(Reserve::Risk).or(kept.map(Reserve::Share))
}

fn joins(reading: &mut Reading<'_>, field: &Field<i64>) -> Option<u32> {
    let joins = u32::try_from(*field.get_ref()).ok().filter(|joins| *joins <= 1000);
    if joins.is_none() {
        let fault = Diagnostic::error(Code::Joins, format!("{} joins", field.get_ref()))
            .hint("write how many joins a section may have, from 0 to 1000");
        reading.fault(field, fault);
    }
    joins
}

fn weigh(reading: &mut Reading<'_>, given: &WeightsToml, weights: &mut PlanWeights) {
    for (field, target) in [
        (&given.priority, &mut weights.priority),
        (&given.preference, &mut weights.preference),
        (&given.join, &mut weights.join),
        (&given.drib, &mut weights.drib),
        (&given.change, &mut weights.change),
        (&given.travel, &mut weights.travel),
        (&given.alike, &mut weights.alike),
    ] {
        if let Some(weight) = field.as_ref().and_then(|f| within(reading, f, 0.0, 1.0e6)) {
            *target = weight;
        }
    }
    for (field, target) in [
        (&given.gram, &mut weights.gram),
        (&given.ball, &mut weights.ball),
        (&given.hour, &mut weights.hour),
    ] {
        if let Some(weight) = field.as_ref().and_then(|f| within(reading, f, 0.0, 1.0e6)) {
            *target = Some(weight);
        }
    }
}

fn within(reading: &mut Reading<'_>, field: &Field<f64>, least: f64, most: f64) -> Option<f64> {
    let number = *field.get_ref();
    if (least..=most).contains(&number) {
        return Some(number);
    }
    let fault = Diagnostic::error(Code::Range, format!("{number} is out of range"))
        .hint(format!("give a number from {least} to {most}"));
    reading.fault(field, fault);
    None
}
