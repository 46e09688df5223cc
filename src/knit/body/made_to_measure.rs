//! Fills in the measures nobody took.

use std::collections::BTreeMap;

use super::fill::{Known, spread};
use super::{Body, Measure, Size, SizeGroup, SizeId, SizeTable, Stage};
use diag::{Code, Diagnostic, Diagnostics};
use units::Length;

/// A body from the measures in `given`; the others are estimated, each with its spread.
///
/// Which lines are used follows from the most telling measure given (stature before foot, hand,
/// girths and, last, the head), held against the table: from the smallest adult size upwards
/// the adult lines, below the smallest children's size the table's babies interpolated, between
/// them the children's lines. For each missing measure the line with the least spread wins; one
/// that has no line from a measure taken is reached through others, whose spreads then add in
/// quadrature.
///
/// # Errors
/// No measure, a measure given twice or known here with another meaning, and values that no one near the table has (under half its
/// least or over 1.6 times its greatest figure). All are gathered.
pub fn made_to_measure(
    table: &SizeTable,
    given: &[(Measure, Length)],
    label: &str,
) -> Result<Body, Diagnostics> {
    let mut faults = Diagnostics::new();
    if given.is_empty() {
        faults.push(
            Diagnostic::error(Code::Body, format!("no measure is given for {label}"))
                .hint("give at least one, for instance `head_girth = \"56 cm\"`"),
        );
    }
    let mut known: BTreeMap<Measure, Known> = BTreeMap::new();
    for (given, length) in given {
        // What another garment alone knows tells nothing here.
        let Some(measure) = table.known().get(given.name()) else { continue };
        if given.how() != measure.how() {
            faults.push(
                Diagnostic::error(
                    Code::MeasureClash,
                    format!("{given} means two things: {}, and {}", given.how(), measure.how()),
                )
                .hint("two garments have one name for them: rename one in its manifest"),
            );
            continue;
        }
        let taken = Known::measured(measure.clone(), length.mm());
        if known.insert(measure.clone(), taken).is_some() {
            faults.push(
                Diagnostic::error(Code::Body, format!("{measure} is given twice"))
                    .hint("keep the one you trust"),
            );
        }
        faults.extend(implausible(table, measure, length.mm()));
    }
    let mut known = faults.into_result(known).map_err(|faults| faults.with_context(label))?;

    let stage = stage(table, &known);
    if stage == Stage::Baby {
        interpolate(&mut known, table);
    }
    spread(&mut known, &table.known().both_ways(stage));
    let values = known.into_iter().map(|(measure, known)| (measure, known.into_value())).collect();
    Ok(Body { id: SizeId::from_label(label), label: label.to_owned(), values })
}

/// Says so where a measure is far from any in the table, with the slip of the unit that it may be.
pub fn implausible(table: &SizeTable, measure: &Measure, mm: f64) -> Option<Diagnostic> {
    let (least, most) = table.range(measure.name())?;
    if (least * 0.5..=most * 1.6).contains(&mm) {
        return None;
    }
    // The slips of unit that put a figure this far out, tried against the table itself: 22 mm
    // was meant as inches, though 22 cm would pass for a very small head.
    let slips = [
        (10.0, "mm", "cm"),
        (0.01, "m", "cm"),
        (0.1, "cm", "mm"),
        (25.4, "mm", "in"),
        (2.54, "cm", "in"),
        (1.0 / 2.54, "in", "cm"),
        (1.0 / 25.4, "in", "mm"),
    ];
    let hint = slips.iter().find(|(factor, _, _)| (least..=most).contains(&(mm * factor)));
    let hint = hint.map_or_else(
        || format!("measure again: {}", measure.how()),
        |(factor, written, meant)| {
            let cm = mm * factor / 10.0;
            format!("is the unit right? {meant} for {written} would make it {cm:.1} cm")
        },
    );
    let fault = format!(
        "a {} of {:.1} cm is nobody's: the size table goes from {:.1} to {:.1} cm",
        measure.label(),
        mm / 10.0,
        least / 10.0,
        most / 10.0
    );
    Some(Diagnostic::error(Code::Body, fault).hint(hint))
}

/// By the measure that tells the age best, held against the table. The head comes last: a
/// five-year-old's is nine tenths of an adult's.
fn stage(table: &SizeTable, known: &BTreeMap<Measure, Known>) -> Stage {
    let telling = known
        .iter()
        .filter_map(|(measure, known)| Some((measure.spec().tells?, measure.name(), known.mm)));
    let Some((_, measure, mm)) = telling.min_by_key(|(tells, _, _)| *tells) else {
        return Stage::Adult;
    };
    let least = |belongs: fn(SizeGroup) -> bool| {
        let sizes = table.sizes().iter().filter(|size| belongs(size.group));
        sizes.filter_map(|size| size.mm(measure)).reduce(f64::min)
    };
    let reaches = |bound: Option<f64>| bound.is_some_and(|bound| mm >= bound);
    let babies = least(|g| g == SizeGroup::Babies);
    let children = least(|g| g == SizeGroup::Children);
    let adults = least(SizeGroup::is_adult);
    if reaches(adults) || (adults.is_none() && children.is_none() && babies.is_none()) {
        Stage::Adult
    } else if reaches(children) || babies.is_none() {
        Stage::Child
    } else {
        Stage::Baby
    }
}

const INTERPOLATED: &str = "interpolated between the babies' sizes of the table; the spread is \
                            assumed to be 7 % (3 % for head girth, 3.5 % for stature)";

/// The share of a measure by which babies of one age differ (standard deviation). Where the table
/// states none: 7 %, as of the 2 to 3.5-year-olds of Snyder et al. 1977 (hand 7.0, foot 7.2, wrist
/// 7.4, calf 7.1 %).
fn baby_spread(measure: &Measure) -> f64 {
    measure.spec().babies_differ.unwrap_or(0.07)
}

/// Reads the missing measures off the table at the place where a given one lies. The spread is
/// the measure's own at that place, and that of the place: a big head may be an older baby's.
fn interpolate(known: &mut BTreeMap<Measure, Known>, table: &SizeTable) {
    let first_child = table.sizes().iter().find(|size| size.group == SizeGroup::Children);
    let sizes: Vec<&Size> = table
        .sizes()
        .iter()
        .filter(|size| size.group == SizeGroup::Babies)
        .chain(first_child)
        .collect();
    let given: Vec<(Measure, f64)> = known.iter().map(|(m, known)| (m.clone(), known.mm)).collect();
    for y in table.known().iter().filter(|y| !given.iter().any(|(x, _)| x == *y)) {
        let best = given
            .iter()
            .filter_map(|(x, mm)| {
                let (y_mm, slope) = on_curve(&sizes, x, y, *mm)?;
                let own = baby_spread(y) * y_mm;
                let place = slope * baby_spread(x) * mm;
                Some((own.hypot(place), y_mm, x))
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((sd_mm, mm, x)) = best {
            let (way, sources) = (vec![x.clone(), y.clone()], vec![INTERPOLATED.into()]);
            known.insert(y.clone(), Known { mm, sd_mm, way, sources });
        }
    }
}

/// `y` and its slope at the place on the table's curve where `x` is `x_mm`. Before the first
/// size both shrink in proportion; past the last the last stretch is carried on.
fn on_curve(sizes: &[&Size], x: &Measure, y: &Measure, x_mm: f64) -> Option<(f64, f64)> {
    let mut points: Vec<(f64, f64)> =
        sizes.iter().filter_map(|size| Some((size.mm(x.name())?, size.mm(y.name())?))).collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    points.dedup_by(|a, b| a.0 == b.0);
    let (first_x, first_y) = *points.first()?;
    if x_mm <= first_x || points.len() == 1 {
        let slope = first_y / first_x;
        return Some((slope * x_mm, slope));
    }
    let at = points.iter().position(|p| p.0 >= x_mm).unwrap_or(points.len() - 1);
    let ((x0, y0), (x1, y1)) = (points[at - 1], points[at]);
    let slope = (y1 - y0) / (x1 - x0);
    Some((y0 + slope * (x_mm - x0), slope))
}
