//! Which pictures belong on a pattern's sheet.

use super::{ColouredSize, Colouring, RoundSizes, only_size};
use diag::Diagnostics;
use knit::round::{Detail, Pose};
use knit::size_run::SizeRun;
use report::ColourNote;
use report::PrintLook;
use report::drawing::{self, Drawing, Shown, Side, StripesSheet};
use report::sheet::{Document, Paper, SheetPicture, pattern_sheet};
use units::LengthUnit;

/// The garment in the colours of its yarn, ready to be drawn. `notes` stand before what the colours
/// themselves have to tell.
///
/// # Errors
/// As [`only_size`].
pub fn stripes_of<'a>(
    run: &'a SizeRun,
    coloured: &'a ColouredSize,
    notes: Vec<String>,
) -> Result<StripesSheet<'a>, Diagnostics> {
    let (size, made) = only_size(run)?;
    let knit = &made.graded.run;
    Ok(StripesSheet {
        title: StripesSheet::title_of(&run.garment.title, &size.body.label),
        views: &made.garment.views,
        run: knit,
        swatches: &run.swatches,
        coloured: &coloured.coloured,
        sections: knit
            .sections
            .iter()
            .map(|s| run.garment.section_title(&s.name).to_owned())
            .collect(),
        notes: notes.into_iter().chain(coloured.notes.iter().map(ColourNote::text)).collect(),
    })
}

/// The sheet of a run with its pictures; where each size is asked for apart, their sheets in one file.
///
/// # Errors
/// As [`sheet_pictures`].
pub fn run_sheet(
    run: &SizeRun,
    look: &PrintLook,
    paper: Paper,
    colouring: &Colouring,
) -> Result<Document, Diagnostics> {
    let one = |run: &SizeRun, look: &PrintLook| -> Result<Document, Diagnostics> {
        Ok(pattern_sheet(run, look, paper, sheet_pictures(run, look, colouring)?))
    };
    if !look.each || run.good().count() < 2 {
        return one(run, look);
    }
    // Many sheets at a time: bringing each size into the round would take far longer than all the rest.
    let look = PrintLook { flat: true, ..*look };
    let sheets = run
        .sizes
        .iter()
        .filter(|size| size.good().is_some())
        .map(|size| one(&SizeRun { sizes: vec![size.clone()], ..run.clone() }, &look));
    let sheets = sheets.collect::<Result<Vec<_>, _>>()?;
    Ok(Document::bound(format!("{}, {} sheets", run.garment.title, sheets.len()), sheets))
}

/// What fits on a page of either paper below a heading, in mm.
const TALLEST_MM: f64 = 215.0;

/// A picture as parts that lie on a page at their own size.
fn parts(of: &Drawing, part: fn(usize, usize, Drawing) -> SheetPicture) -> Vec<SheetPicture> {
    let parts = of.even_parts(TALLEST_MM);
    let all = parts.len();
    parts.into_iter().enumerate().map(|(nth, drawing)| part(nth, all, drawing)).collect()
}

/// The garment in the round, where it is wanted and can be drawn.
fn in_round(run: &SizeRun, look: &PrintLook, colouring: &Colouring) -> Option<Drawing> {
    if look.flat {
        return None;
    }
    let sizes = RoundSizes::of(run, colouring, (Pose::Worn, Detail::Coarse)).ok()?;
    Some(sizes.sheet((Side::ThreeQuarters, Shown::Yarn), look.unit).drawing())
}

/// The schematic; of a single size also its row charts, its stripes and its shape in the round, of several a chart of the
/// finished sizes. Nothing where no size can be knitted.
///
/// # Errors
/// As [`stripes_of`].
pub fn sheet_pictures(
    run: &SizeRun,
    look: &PrintLook,
    colouring: &Colouring,
) -> Result<Vec<SheetPicture>, Diagnostics> {
    let mut pictures = Vec::new();
    let both = [LengthUnit::Cm, LengthUnit::In];
    let schematic = drawing::schematic(run, &both);
    let schematic = schematic.iter().flat_map(|all| parts(all, SheetPicture::schematic));
    let mut good = run.good();
    match (good.next(), run.sizes.len()) {
        (Some((_, made)), 1) => {
            pictures.extend(schematic);
            for chart in drawing::row_charts(made, "") {
                let parts = chart.even_parts(TALLEST_MM);
                let all = parts.len();
                // A chart is read from the bottom up: its lowest part comes first.
                for (nth, part) in parts.into_iter().rev().enumerate() {
                    pictures.push(SheetPicture::row_chart(&chart.title, nth, all, part));
                }
            }
            let coloured = colouring.apply(run, made);
            let sheet = stripes_of(run, &coloured, Vec::new())?;
            pictures.push(SheetPicture::stripes(drawing::stripes(&sheet, look.unit)));
            pictures.extend(in_round(run, look, colouring).map(SheetPicture::in_the_round));
        }
        (Some(_), _) => {
            let finished = drawing::finished_picture(run, &both);
            // Of few sizes it is small, and stands below the finishing.
            pictures.extend(parts(&finished, SheetPicture::finished_sizes));
            pictures.extend(schematic);
        }
        (None, _) => pictures.extend(schematic),
    }
    Ok(pictures)
}
