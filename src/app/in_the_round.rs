//! A size of a garment in the round, in the colours of its yarn.

use std::collections::BTreeMap;

use knit::cloth::Cloth;
use knit::colouring::Coloured;
use knit::graph::{Graph, Made as StitchMade, NotDrawn, Stitch};
use knit::round::{Detail, Form, Places, Pose, Shape, Stance, StitchSize};
use knit::size_run::{Made, SizeResult, SizeRun};
use knit::thread::{Paint, YarnPath};
use report::YarnPlace;

/// A garment in the round, and the colour of each of its points.
#[derive(Clone, Debug)]
pub struct InTheRound {
    /// At rest.
    pub shape: Shape,
    /// By part and point; `None` where no yarn is known, or it has run out.
    pub paints: Vec<Vec<Paint>>,
    /// By part and point, where on the yarn its loop lies.
    pub places: Vec<Vec<YarnPlace>>,
}

/// Brings a size of a run into the round. `coloured` gives the colours, where the yarn is known.
///
/// # Errors
/// What the garment does that can't be drawn.
pub fn in_the_round(
    run: &SizeRun,
    size: &SizeResult,
    made: &Made,
    coloured: Option<&Coloured>,
    (pose, detail): (Pose, Detail),
) -> Result<InTheRound, NotDrawn> {
    let graph = Graph::of(&made.garment.program, &made.graded.run)?;
    let stitch = |structure| {
        let gauge = run.swatches.gauge(structure);
        StitchSize { wide: gauge.stitches.pitch_mm(), high: gauge.rows.pitch_mm() }
    };
    let shape = Shape::put_on(&graph, stitch, &stance(run, size, pose), detail);
    let paints = paints(&graph, &shape, made, coloured);
    let places = places(&graph, &shape, &YarnPath::of(&made.graded.run, &run.swatches), made);
    Ok(InTheRound { shape, paints, places })
}

/// What it is put on, and the places of the body that it is laid out by.
fn stance(run: &SizeRun, size: &SizeResult, pose: Pose) -> Stance {
    let mm = |name: &str| size.body.mm(name);
    let part = run.garment.measure.as_ref().and_then(|measure| measure.spec().part);
    let places = part.and_then(|part| Places::of(part, mm));
    let form = match pose {
        Pose::Worn => part.and_then(|part| Form::of(part, mm)),
        Pose::Blocked | Pose::Off => None,
    };
    Stance { form, places, ..Stance::default() }
}

/// Loops that are looked through for one that lies on a needle.
const FAR_BACK: usize = 2000;

fn paints(
    graph: &Graph,
    shape: &Shape,
    made: &Made,
    coloured: Option<&Coloured>,
) -> Vec<Vec<Paint>> {
    let cloths: Vec<Cloth> =
        coloured.map(|coloured| coloured.cloths(&made.graded.run)).unwrap_or_default();
    let mut columns = BTreeMap::new();
    for (piece, cloth) in cloths.iter().enumerate() {
        for column in &cloth.columns {
            columns.insert((piece, column.ribber, column.needle), column);
        }
    }
    let own = |at: u32| {
        let stitch = &graph.loops[at as usize];
        let column = columns.get(&(usize::from(stitch.piece), stitch.ribber, stitch.needle))?;
        // What no row made, as a loop cast on, is of the yarn of the next stitch of its needle.
        let nth = column.rows.partition_point(|row| *row < stitch.row).min(column.rows.len() - 1);
        Some(column.paints[nth])
    };
    // What is made off the bed, as a grafted row, is of the yarn of the loop before it.
    let paint = |at: &u32| (0..=*at).rev().take(FAR_BACK).find_map(own).flatten();
    shape.parts.iter().map(|part| part.loops.iter().map(paint).collect()).collect()
}

/// Where on its section's yarn each loop lies: in the row that made it, by the order of the yarn.
fn places(graph: &Graph, shape: &Shape, path: &YarnPath, made: &Made) -> Vec<Vec<YarnPlace>> {
    let run = &made.graded.run;
    let starts: Vec<Vec<f64>> =
        (0..run.pieces.len()).map(|piece| path.row_starts(run, piece)).collect();
    let mut before = 0.0;
    let mut rows: BTreeMap<(u16, u32), u32> = BTreeMap::new();
    let place = |stitch: &Stitch| {
        let nth = rows.entry((stitch.piece, stitch.row)).or_default();
        let start = starts.get(usize::from(stitch.piece));
        let start = start.and_then(|starts| starts.get(stitch.row as usize));
        let knitted = matches!(stitch.made, StitchMade::Knitted | StitchMade::Laid);
        if let Some(start) = start {
            before = start + (f64::from(*nth) + 0.5) * path.loop_mm(stitch.structure);
            *nth += u32::from(knitted);
        }
        YarnPlace { section: stitch.section, mm: before }
    };
    let all: Vec<YarnPlace> = graph.loops.iter().map(place).collect();
    let of = |loops: &Vec<u32>| loops.iter().map(|at| all[*at as usize]).collect();
    shape.parts.iter().map(|part| of(&part.loops)).collect()
}
