//! A size of a garment in the round, in the colours of its yarn.

use std::collections::BTreeMap;

use knit::cloth::Cloth;
use knit::colouring::Coloured;
use knit::graph::{Graph, NotDrawn};
use knit::round::{Detail, Form, Pose, Shape, StitchSize};
use knit::size_run::{Made, SizeResult, SizeRun};
use knit::thread::Paint;

/// A garment in the round, and the colour of each of its points.
#[derive(Clone, Debug)]
pub struct InTheRound {
    /// At rest.
    pub shape: Shape,
    /// By part and point; `None` where no yarn is known, or it has run out.
    pub paints: Vec<Vec<Paint>>,
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
    let form = form(run, size, pose);
    let shape = Shape::of(&graph, stitch, form.as_ref(), detail);
    let paints = paints(&graph, &shape, made, coloured);
    Ok(InTheRound { shape, paints })
}

fn form(run: &SizeRun, size: &SizeResult, pose: Pose) -> Option<Form> {
    match pose {
        Pose::Worn => {
            let part = run.garment.measure.as_ref()?.spec().part?;
            Form::of(part, |name| size.body.mm(name))
        }
        Pose::Blocked | Pose::Off => None,
    }
}

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
    let paint = |at: &u32| {
        let stitch = &graph.loops[*at as usize];
        let column = columns.get(&(usize::from(stitch.piece), stitch.ribber, stitch.needle))?;
        // What no row made, as a loop cast on, is of the yarn of the next stitch of its needle.
        let nth = column.rows.partition_point(|row| *row < stitch.row).min(column.rows.len() - 1);
        column.paints[nth]
    };
    shape.parts.iter().map(|part| part.loops.iter().map(paint).collect()).collect()
}
