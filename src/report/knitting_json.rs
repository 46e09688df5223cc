//! A size as data to knit from without the words: every piece with its steps, repeats with theirs
//! inside them, and what the bed counted. Nothing is counted here. The schema beside this file says
//! what each key means.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};

use super::instructions::{finishing_step, hang_points, step_tree};
use super::told::AlikeSizes;
use knit::machine::Machine;
use knit::program::Structure;
use knit::run::{EdgeRun, PieceRun, Run, SectionRun};
use knit::size_run::{Made, SizeResult};

/// The JSON Schema of `pattern --format json`.
pub const PATTERN_SCHEMA: &str = include_str!("pattern.schema.json");

/// The bed that a pattern is for.
pub(super) fn machine_data(machine: &Machine) -> Value {
    let out: Vec<String> = machine.out_of_work.iter().map(ToString::to_string).collect();
    json!({
        "name": machine.id,
        "title": machine.title,
        "pitch_mm": machine.pitch_mm,
        "needles": machine.rail.to_string(),
        "out_of_work": out,
        "ribber": machine.ribber,
    })
}

/// What is knitted of each size of a group.
pub(super) fn knitting_data(group: &AlikeSizes<'_>) -> Value {
    group.sizes.values().map(|(size, made)| size_data(size, made)).collect()
}

fn size_data(size: &SizeResult, made: &Made) -> Value {
    let (program, run) = (&made.garment.program, &made.graded.run);
    let pieces = program.pieces.iter().zip(&run.pieces).map(|(piece, knitted)| {
        json!({
            "name": piece.name,
            "title": piece.title,
            "section": piece.section,
            "steps": step_tree(&piece.steps, &knitted.traces, 0),
            "found": piece_found(knitted),
        })
    });
    let finishing = program.finishing.iter().enumerate().map(|(number, step)| {
        let joined = u32::try_from(number).ok().and_then(|number| run.joins.get(&number));
        finishing_step(&step.action, joined)
    });
    json!({
        "size": size.body.id.to_string(),
        "pieces": pieces.collect::<Vec<_>>(),
        "finishing": finishing.collect::<Vec<_>>(),
        "found": run_found(run),
    })
}

fn piece_found(piece: &PieceRun) -> Value {
    let tally = piece.tally;
    let mut rows_of: BTreeMap<&str, u32> = BTreeMap::new();
    for row in &piece.rows {
        *rows_of.entry(row.structure.name()).or_default() += 1;
    }
    json!({
        "rows": piece.rows.len(),
        "rows_of": rows_of,
        "needles": piece.needles.map(|span| span.to_string()),
        "widest": piece.widest,
        "stitches": piece.stitches,
        "selvedges": { "left": piece.selvedges.0, "right": piece.selvedges.1 },
        "loops": {
            "made": tally.made, "taken_in": tally.taken_in, "cast_off": tally.cast_off,
            "scrapped": tally.scrapped, "left": tally.left,
        },
    })
}

fn run_found(run: &Run) -> Value {
    json!({
        "edges": run.edges.iter().map(edge_found).collect::<Vec<_>>(),
        "sections": run.sections.iter().map(section_found).collect::<Vec<_>>(),
        "marks": run.marks,
    })
}

fn edge_found(edge: &EdgeRun) -> Value {
    json!({
        "name": edge.name, "piece": edge.piece, "loops": edge.loops, "points": edge.points,
        "skipped": hang_points(&edge.skipped), "doubled": hang_points(&edge.doubled),
    })
}

fn section_found(section: &SectionRun) -> Value {
    let of = |(structure, stitches): (&Structure, &u64)| {
        (structure.name().to_owned(), Value::from(*stitches))
    };
    let stitches: Map<String, Value> = section.stitches.iter().map(of).collect();
    json!({ "name": section.name, "stitches": stitches, "ends": section.tails })
}
