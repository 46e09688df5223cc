//! What was learnt set out: as a page, as rows, as data. Each kind of thing that is learnt has a part of its
//! own: yarn, and the pieces it was learnt from.

use serde_json::{Value, json};

use super::grade_tables::WITHIN;
use super::grid::{Format, Grid};
use super::learnt_words as words;
use super::record_page::SAME_ROOM;
use knit::estimate::PaceEffect;
use knit::taught::{Counts, Habit, HabitOf, PaceHabit, PieceTold, Taught, TimeTold};

/// What was learnt, written out: CSV has the pieces alone, a row each.
pub fn learnt_page(taught: &Taught, format: Format) -> String {
    match format {
        Format::Json => format!("{:#}\n", learnt_value(taught)),
        // For programs, sizes go by their ids.
        Format::Csv => table_of(taught, |piece| piece.size.clone()).write(format),
        Format::Table | Format::Markdown => page(taught, format),
    }
}

/// What was learnt of the yarn in a stitch, a line each.
pub fn learnt_lines(taught: &Taught) -> Vec<String> {
    let mut lines = words::habits(taught);
    lines.push(words::unevenness(taught));
    lines
}

/// What was learnt of the time that work takes, a line each.
pub fn pace_lines(taught: &Taught) -> Vec<String> {
    words::paces(taught)
}

/// What to do about each piece and swatch that doesn't count, a line each.
pub fn odd_lines(taught: &Taught) -> Vec<String> {
    let of_piece = |piece| words::advice(piece).into_iter().chain(words::time_advice(piece));
    let pieces = taught.pieces.iter().flat_map(of_piece);
    pieces.chain(taught.odd_swatches.iter().map(words::swatch_advice)).collect()
}

/// What an interval is, and how to weigh.
pub const WEIGHING: [&str; 2] = [WITHIN, SAME_ROOM];

/// All that belongs below the pieces.
fn notes(taught: &Taught) -> Vec<String> {
    let mut lines = odd_lines(taught);
    lines.extend(WEIGHING.map(str::to_owned));
    lines
}

fn page(taught: &Taught, format: Format) -> String {
    let (yarn, time, point) = match format {
        Format::Markdown => ("### Yarn in a stitch\n\n", "### Time at work\n\n", "- "),
        _ => ("Yarn in a stitch\n", "Time at work\n", ""),
    };
    let lines = |lines: Vec<String>| -> String {
        lines.into_iter().map(|line| format!("{point}{line}\n")).collect()
    };
    let pieces = if taught.pieces.is_empty() {
        String::new()
    } else {
        format!("{}\n", piece_table(taught).write(format))
    };
    format!(
        "{yarn}{}\n{time}{}\n{pieces}{}",
        lines(learnt_lines(taught)),
        lines(pace_lines(taught)),
        lines(notes(taught))
    )
}

/// The pieces, a row each.
pub fn piece_table(taught: &Taught) -> Grid {
    table_of(taught, |piece| piece.label.clone())
}

fn table_of(taught: &Taught, size: impl Fn(&PieceTold) -> String) -> Grid {
    let headings = [
        "Record",
        "Garment",
        "Size",
        "Day",
        "Yarn",
        "Expected g",
        "95 % from",
        "to g",
        "Took g",
        "Differs",
        "Counts",
        "Expected min",
        "Took min",
        "Minutes count",
    ];
    let mut grid = Grid::new(
        "Finished pieces, each against what all others and the swatches say",
        headings.map(str::to_owned).to_vec(),
    );
    grid.rows.extend(taught.pieces.iter().map(|piece| row(piece, size(piece))));
    grid
}

fn row(piece: &PieceTold, size: String) -> Vec<String> {
    let grams = |grams: Option<f64>| grams.map_or_else(nothing, |grams| format!("{grams:.1}"));
    let whole = |grams: Option<f64>| grams.map_or_else(nothing, |grams| format!("{grams:.0}"));
    let (expected, time) = (piece.expected, piece.time.as_ref());
    let entries: Vec<String> = piece.entries.iter().map(ToString::to_string).collect();
    vec![
        entries.join(", "),
        piece.garment.clone(),
        size,
        piece.date.map_or_else(nothing, |date| date.to_string()),
        piece.yarns.join(", "),
        grams(expected.map(|likely| likely.middle)),
        whole(expected.map(|likely| likely.low)),
        whole(expected.map(|likely| likely.high)),
        grams(Some(piece.took_g)),
        piece.differs().map_or_else(nothing, differs),
        words::counts(piece).to_owned(),
        whole(time.and_then(|time| time.expected).map(|likely| likely.middle)),
        whole(time.map(|time| time.took)),
        time.map_or_else(nothing, |time| words::time_counts(time).to_owned()),
    ]
}

/// "+5 %", "-3 %", "0 %": nothing has no sign.
fn differs(share: f64) -> String {
    match (share * 100.0).round() {
        0.0 => "0 %".to_owned(),
        percent => format!("{percent:+.0} %"),
    }
}

fn nothing() -> String {
    "-".to_owned()
}

/// What was learnt as a value.
pub fn learnt_value(taught: &Taught) -> Value {
    let habits: Vec<Value> = taught.habits.iter().map(habit_value).collect();
    let unknown: Vec<&str> = taught.unknown.iter().map(|fabric| fabric.name()).collect();
    let paces: Vec<Value> = taught.pace.iter().map(pace_value).collect();
    let pieces: Vec<Value> = taught.pieces.iter().map(piece_value).collect();
    json!({
        "yarn": { "habits": habits, "unknown": unknown, "unevenness": taught.unevenness,
            "usual_unevenness": taught.usual_unevenness, "words": learnt_lines(taught) },
        "minutes": { "habits": paces, "words": pace_lines(taught) },
        "pieces": pieces,
        "notes": notes(taught),
    })
}

fn pace_value(habit: &PaceHabit) -> Value {
    let (of, garment) = match &habit.of {
        PaceEffect::Knitter => ("all", None),
        PaceEffect::Kind(garment) => ("garment", Some(garment.as_str())),
        PaceEffect::Practice => ("practice", None),
    };
    json!({ "of": of, "garment": garment, "factor": habit.factor.middle, "low": habit.factor.low,
        "high": habit.factor.high, "pieces": habit.pieces, "as_they_stand": habit.as_they_stand,
        "words": words::pace(habit) })
}

fn habit_value(habit: &Habit) -> Value {
    let (of, names) = match &habit.of {
        HabitOf::All => ("all", Vec::new()),
        HabitOf::Fabric(fabric) => ("fabric", vec![fabric.name().to_owned()]),
        HabitOf::Yarn { knitted, .. } => ("yarn", knitted.clone()),
        HabitOf::Swatch(id) => ("swatch", vec![id.clone()]),
        HabitOf::Guess(yarn) => ("guess", vec![yarn.clone()]),
        HabitOf::FormerSwatch(id) => ("former swatch", vec![id.clone()]),
        HabitOf::FormerGuess(yarn) => ("former guess", vec![yarn.clone()]),
    };
    json!({ "of": of, "names": names, "factor": habit.factor.middle, "low": habit.factor.low,
        "high": habit.factor.high, "pieces": habit.pieces, "swatches": habit.swatches,
        "words": words::habit(habit) })
}

fn time_value(piece: &PieceTold, time: &TimeTold) -> Value {
    json!({ "took": time.took, "expected": time.expected.map(|likely| likely.middle),
        "expected_low": time.expected.map(|likely| likely.low),
        "expected_high": time.expected.map(|likely| likely.high),
        "counts": Counts::Held(time.standing).name(), "sure": time.sure,
        "advice": words::time_advice(piece) })
}

fn piece_value(piece: &PieceTold) -> Value {
    json!({ "records": piece.entries, "garment": piece.garment, "size": piece.size,
        "yarns": piece.yarns, "date": piece.date.map(|date| date.to_string()), "note": piece.note,
        "took_grams": piece.took_g, "expected_grams": piece.expected.map(|likely| likely.middle),
        "expected_low": piece.expected.map(|likely| likely.low),
        "expected_high": piece.expected.map(|likely| likely.high),
        "differs": piece.differs(), "counts": piece.counts.name(), "sure": piece.sure,
        "advice": words::advice(piece), "label": piece.label, "lines": piece.lines,
        "minutes": piece.time.as_ref().map(|time| time_value(piece, time)) })
}
