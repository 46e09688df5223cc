//! What stands before the instructions.

use super::alike::AlikeSizes;
use super::figures::MOST_IN_BRACKETS;
use crate::decisions::fixed_of;
use crate::grade_tables::body_measures;
use crate::grid::capital;
use crate::minutes_told::MinutesTold;
use knit::body::Measure;
use knit::run::Run;
use knit::size_run::{Made, SizeResult, SizeRun};
use knit::swatch::Gauge;
use units::LengthUnit;

/// What stands before the instructions. A line each, unless it says otherwise.
pub(crate) struct Front {
    /// How to read the brackets, where there are several sizes.
    pub brackets: Option<&'static str>,
    /// The numbers that were fixed.
    pub fixed: Option<String>,
    /// What the body measures, apart from what is knitted.
    pub body: Vec<String>,
    pub finished: Vec<String>,
    pub machine: String,
    /// By section.
    pub yarn: Vec<String>,
    pub yarn_in_all: String,
    /// None where no size uses any.
    pub waste: Option<String>,
    pub gauges: Vec<String>,
    pub time: String,
    /// A paragraph.
    pub words_used: String,
    pub care: Vec<String>,
}

pub(crate) const BRACKETS: &str = "Figures for the first size stand before the bracket, those for the others inside it, in \
    order. One figure alone is for all sizes.";

const WORDS_USED: &str = "RC: row counter. COL, COR: carriage on the left, on the right, before the step is \
    done. L1, L2... and R1, R2...: needles left and right of the bed's centre. Non-working, \
    working, upper working, holding: the four needle positions. Held needles keep their \
    loops and do not knit while the hold lever is on; those put back to upper working \
    position knit with the next row. Waste rows are not counted.";

/// For what has a piece for the left and one for the right.
const LEFT_AND_RIGHT: &str = " Left and right in the name of a piece, or of loops that wait, are the \
    wearer's. A selvedge is left or right as the piece hung on the bed, its purl side towards you.";

fn words_used(run: &Run) -> String {
    let sided = |title: &str| title.split(' ').any(|word| word.eq_ignore_ascii_case("left"));
    let more = if run.pieces.iter().any(|piece| sided(&piece.title)) { LEFT_AND_RIGHT } else { "" };
    format!("{WORDS_USED}{more}")
}

pub(crate) fn title(run: &SizeRun, group: &AlikeSizes<'_>) -> String {
    let pair = if run.garment.pair { " (a pair)" } else { "" };
    let (first, _) = group.sizes.first();
    let whose = if first.is_person { "for" } else { "size" };
    let labels: Vec<&str> = group.labels().values().copied().collect();
    let labels = match labels.as_slice() {
        // Sizes may have one figure and yet two names.
        [first, rest @ ..] if !rest.is_empty() && labels.len() <= MOST_IN_BRACKETS => {
            format!("{first} ({})", rest.join(", "))
        }
        [one] => (*one).to_owned(),
        all => return format!("{}{pair}, {} sizes", run.garment.title, all.len()),
    };
    format!("{}{pair}, {whose} {labels}", run.garment.title)
}

pub(crate) fn front(run: &SizeRun, group: &AlikeSizes<'_>, unit: LengthUnit) -> Front {
    Front {
        brackets: (!group.sizes.is_one()).then_some(BRACKETS),
        fixed: fixed_of(run),
        body: body_lines(run, group, unit),
        finished: finished_lines(group, unit),
        machine: machine_line(run),
        yarn: section_lines(run, group, unit),
        yarn_in_all: yarn_line(run, group, unit),
        waste: waste_line(group, unit),
        gauges: run.used_gauges().map(|gauge| gauge_line(gauge, unit)).collect(),
        time: time_line(group),
        words_used: words_used(&group.sizes.first().1.graded.run),
        care: care(group.sizes.values().copied(), unit),
    }
}

/// A figure of what was made, in brackets where sizes differ.
fn across(group: &AlikeSizes<'_>, figure: impl Fn(&Made) -> String) -> String {
    group.sizes.bracketed(|(_, made)| figure(made))
}

/// A metre at least where there is any.
fn waste_line(group: &AlikeSizes<'_>, unit: LengthUnit) -> Option<String> {
    let metres = |made: &Made| made.graded.yarn.waste_metres;
    let used = group.sizes.values().any(|(_, made)| metres(made) > 0.0);
    let waste = across(group, |made| match metres(made) {
        none if none <= 0.0 => "0".to_owned(),
        some => format!("{:.0}", unit.long(some).max(1.0)),
    });
    used.then(|| format!("Waste yarn of the same thickness: {waste} {}", unit.long_symbol()))
}

/// To five minutes, which is nearer than anybody knows.
fn time_line(group: &AlikeSizes<'_>) -> String {
    let minutes = |figure: fn(MinutesTold) -> f64| {
        across(group, |made| {
            let told = MinutesTold::of(&made.graded.minutes);
            format!("{:.0}", (figure(told) / 5.0).round() * 5.0)
        })
    };
    format!(
        "About {} minutes of work, finishing included; 95 times in a hundred {} to {}",
        minutes(|told| told.mean),
        minutes(|told| told.low),
        minutes(|told| told.high)
    )
}

fn body_lines(run: &SizeRun, group: &AlikeSizes<'_>, unit: LengthUnit) -> Vec<String> {
    let line = |measure: &Measure| {
        let mm = group.sizes.bracketed(|(size, _)| {
            size.body.mm(measure.name()).map_or_else(|| "-".to_owned(), |mm| unit.cell(mm))
        });
        format!("{}: {mm} {}", capital(measure.label()), unit.symbol())
    };
    body_measures(run).into_iter().map(line).collect()
}

fn finished_lines(group: &AlikeSizes<'_>, unit: LengthUnit) -> Vec<String> {
    let finished = group.finished.iter().map(|finished| {
        let mm = finished.bracketed(|f| unit.cell(f.mm));
        format!("{}: {mm} {}", finished.first().title, unit.symbol())
    });
    finished.collect()
}

fn machine_line(run: &SizeRun) -> String {
    let machine = &run.machine;
    let ribber = match (machine.ribber, machine.by_hand.rib) {
        (true, false) => ", with ribber",
        (false, false) => ", no ribber",
        (true, true) => ", with ribber; ribs by hand, on a pair of needles",
        (false, true) => ", no ribber; ribs by hand, on a pair of needles",
    };
    format!("Machine: {} ({}{ribber})", machine.title, machine.needles_told())
}

fn section_lines(run: &SizeRun, group: &AlikeSizes<'_>, unit: LengthUnit) -> Vec<String> {
    let lines = group.sections.iter().map(|section| {
        format!(
            "Yarn, {}: {} g, {} {}",
            run.garment.section_title(&section.first().name).to_lowercase(),
            section.bracketed(|s| format!("{:.0}", s.need.grams())),
            section.bracketed(|s| format!("{:.0}", unit.long(s.metres))),
            unit.long_symbol(),
        )
    });
    lines.collect()
}

fn yarn_line(run: &SizeRun, group: &AlikeSizes<'_>, unit: LengthUnit) -> String {
    let (_, first) = group.sizes.first();
    let grams = across(group, |made| format!("{:.0}", made.graded.yarn.need.grams()));
    let high = across(group, |made| {
        format!("{:.0}", run.reserve.to_have(&made.graded.yarn.need, 0.0).ceil())
    });
    format!(
        "In all{} {grams} g of {}, {:.0} {}/100 g. To be safe have {high} g ({}).",
        if run.garment.pair { ", for the pair," } else { "" },
        run.swatches.yarn_name,
        unit.long(run.swatches.yarn.metres_per_100_g()),
        unit.long_symbol(),
        first.graded.yarn.basis.words()
    )
}

fn gauge_line(gauge: &Gauge, unit: LengthUnit) -> String {
    let (over, over_mm) = unit.gauge_over();
    let dial = gauge.dial.map_or(String::new(), |d| format!(", dial {d} on the swatch"));
    let state = gauge.measured.map_or("ESTIMATED from the plain swatch", |s| s.name());
    format!(
        "Gauge, {}: {:.1} stitches and {:.1} rows to {over} ({state}{dial})",
        gauge.structure,
        gauge.stitches.per_ten.per_mm() * over_mm,
        gauge.rows.per_ten.per_mm() * over_mm
    )
}

/// A warning is worded in centimetres, before anyone has said in what it is read.
pub(crate) fn in_unit(text: &str, unit: LengthUnit) -> String {
    if unit == LengthUnit::Cm {
        return text.to_owned();
    }
    let mut words: Vec<String> = text.split(' ').map(str::to_owned).collect();
    for at in 1..words.len() {
        let (before, behind) = words.split_at_mut(at);
        let (Some(number), Some(cm)) = (before.last_mut(), behind.first_mut()) else { continue };
        let Some(rest) = cm.strip_prefix("cm") else { continue };
        if rest.starts_with(char::is_alphanumeric) {
            continue;
        }
        if let Ok(length) = number.parse::<f64>() {
            *cm = format!("{}{rest}", unit.symbol());
            *number = unit.cell(length * 10.0);
        }
    }
    words.join(" ")
}

/// What could hurt someone, each once; then what the engine warns of, with the sizes it is of.
pub(crate) fn care<'a>(
    sizes: impl Iterator<Item = (&'a SizeResult, &'a Made)>,
    unit: LengthUnit,
) -> Vec<String> {
    let sizes: Vec<_> = sizes.collect();
    let mut cautions: Vec<String> = Vec::new();
    let mut warned: Vec<(String, Vec<&str>)> = Vec::new();
    for (size, made) in &sizes {
        for caution in &made.cautions {
            if !cautions.contains(caution) {
                cautions.push(caution.clone());
            }
        }
        for diagnostic in made.diagnostics.iter() {
            let told = in_unit(&capital(&diagnostic.to_string()), unit);
            match warned.iter_mut().find(|(known, _)| *known == told) {
                Some((_, labels)) => labels.push(&size.body.label),
                None => warned.push((told, vec![&size.body.label])),
            }
        }
    }
    cautions.extend(warned.into_iter().map(|(told, labels)| match labels.as_slice() {
        _ if sizes.len() == 1 => told,
        [one] => format!("Size {one}: {told}"),
        all if all.len() == sizes.len() => format!("All sizes: {told}"),
        all => format!("Sizes {}: {told}", all.join(", ")),
    }));
    cautions
}
