//! A size of a garment in the round, in the colours of its yarn.

use std::collections::BTreeMap;

use super::round_told::round_told;
use knit::body::{BodyPart, Measure};
use knit::cloth::Cloth;
use knit::colouring::Coloured;
use knit::graph::{Graph, Made as StitchMade, NotDrawn, Stitch, Surface};
use knit::round::{
    Detail, Form, Measured, Places, Pose, Shape, ShapePart, Stance, StitchSize, measured,
};
use knit::size_run::{Made, SizeResult, SizeRun};
use knit::thread::{Paint, YarnPath};
use rayon::prelude::*;
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
    /// What it tells, a sentence each: where it is stretched, what it goes over.
    pub told: Vec<String>,
    /// Finished measures as the cloth lies, beside those counted; none at coarse detail.
    pub measured: Vec<Measured>,
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
    let (part_of_body, stance) = stance(run, size, made, pose);
    let surface = Surface::of(&graph);
    let part = |part| ShapePart::put_on(&graph, &surface, part, stitch, &stance, detail);
    // The two of a pair at once; each is worked out by itself, so that the bytes stay the same.
    let parts = (0..surface.components).into_par_iter().map(part).collect();
    let shape = Shape::beside(parts);
    let paints = paints(&graph, &shape, made, coloured);
    let places = places(&graph, &shape, &YarnPath::of(&made.graded.run, &run.swatches), made);
    let measured = match detail {
        Detail::Full => measured(&graph, &shape, stitch, &made.garment.finished, &made.graded.run),
        Detail::Coarse => Vec::new(),
    };
    let upright = part_of_body == Some(BodyPart::Head) && stance.form.is_some();
    let told = round_told(&graph, &shape, made, &measured, upright);
    Ok(InTheRound { shape, paints, places, told, measured })
}

/// What it is put on: by the part of the body that its sizes go by, or that its first finished measure answers to.
fn stance(run: &SizeRun, size: &SizeResult, made: &Made, pose: Pose) -> (Option<BodyPart>, Stance) {
    let of = |measure: &Measure| measure.spec().part;
    let answers = made.garment.finished.iter().filter_map(|finished| finished.measure.as_deref());
    let mut answers = answers.filter_map(|name| size.body.measure(name));
    let part = run.garment.measure.as_ref().and_then(of).or_else(|| answers.find_map(of));
    let mm = |name: &str| size.body.mm(name);
    let pieces = &made.garment.program.pieces;
    let number = |name: &str| pieces.iter().position(|piece| piece.name == name);
    let front = (0..pieces.len()).filter(|at| pieces[*at].name.contains("front"));
    // What is knitted twice, for the left and for the right, and lies at one open edge closes it.
    let bands = pieces.iter().enumerate().filter_map(|(at, piece)| {
        let other = number(&format!("right-{}", piece.name.strip_prefix("left-")?))?;
        Some([at as u32, other as u32])
    });
    let mut stance = Stance {
        form: None,
        places: part.and_then(|part| Places::of(part, mm)),
        front: front.map(|at| at as u32).collect(),
        buttoned: bands.collect(),
    };
    match pose {
        Pose::Worn => stance.form = part.and_then(|part| Form::of(part, mm)),
        Pose::Blocked if part == Some(BodyPart::Head) => {
            if let Some(girth) = plate_mm(made) {
                stance.form = Some(Form::plate(girth));
                stance.places = Some(Places::plate(girth));
            }
        }
        Pose::Blocked | Pose::Off => {}
    }
    (part, stance)
}

/// The ways in which a size can lie that are not the same: on what it is for, on a plate, on nothing.
pub fn poses(run: &SizeRun, size: &SizeResult, made: &Made) -> Vec<Pose> {
    let on = |pose: &Pose| *pose == Pose::Off || stance(run, size, made, *pose).1.form.is_some();
    [Pose::Worn, Pose::Blocked, Pose::Off].into_iter().filter(on).collect()
}

/// The girth of the plate for a bag that is wider than its opening: that of its widest place, where the
/// garment tells one.
fn plate_mm(made: &Made) -> Option<f64> {
    let rim = |name: &str| made.graded.finished.iter().find(|finished| finished.name == name);
    let (disc, under) = (rim("disc")?.mm, rim("rim")?.mm);
    // Its disc lies flat on the plate; the rim holds more than that, and hangs in folds.
    Some((disc * std::f64::consts::PI).min(under))
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
