//! A piece stitch by stitch, in its colours: a knit stitch is a V, a purl stitch a bow. Drawn from the
//! stitches the run made, each where its row lies.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::canvas::{Canvas, Look};
use super::finished::Drawing;
use super::shades::INK;
use super::stripes::StripesSheet;
use super::worn::{Fabric, Heights};
use knit::cloth::{Cloth, Column};
use knit::colours::Shade;
use knit::needle::Span;
use knit::program::Structure;
use knit::run::PieceRun;
use knit::thread::Paint;

const MARGIN: f64 = 4.0;
/// The yarn's width as a share of a stitch's.
const STRAND: f64 = 0.34;
/// How much larger than life.
const LARGER: f64 = 2.0;
/// Steps of a millimetre in which stitches are placed: whole numbers keep the file small.
const STEPS: f64 = 20.0;

/// A stitch of a row.
struct Loop {
    needle: i32,
    ribber: bool,
    paint: Paint,
}

/// The stitches of a piece, row by row.
struct Loops<'a> {
    piece: &'a PieceRun,
    needles: Span,
    heights: Heights,
    rows: Vec<Vec<Loop>>,
}

impl<'a> Loops<'a> {
    fn of(fabric: &Fabric<'a>, piece: &'a PieceRun, cloth: &Cloth) -> Option<Loops<'a>> {
        let needles = piece.needles?;
        let heights = Heights::of(piece, |row| fabric.row_mm(piece, row));
        let mut rows: Vec<Vec<Loop>> = piece.rows.iter().map(|_| Vec::new()).collect();
        for column in &cloth.columns {
            put(piece, column, &mut rows);
        }
        for row in &mut rows {
            row.sort_by_key(|one| (one.needle, one.ribber));
        }
        Some(Loops { piece, needles, heights, rows })
    }
}

/// Puts a column's stitches into their rows. Of a tube the half on the ribber lies behind.
fn put(piece: &PieceRun, column: &Column, rows: &mut [Vec<Loop>]) {
    for (row, paint) in column.rows.iter().zip(&column.paints) {
        let round = piece.rows[*row as usize].structure == Structure::Circular;
        if !(round && column.ribber) {
            let one = Loop { needle: column.needle.0, ribber: column.ribber, paint: *paint };
            rows[*row as usize].push(one);
        }
    }
}

/// Stitches of one colour side by side in a row, in steps.
struct Streak {
    x: i64,
    /// The row's lower edge.
    y: i64,
    count: u32,
    wide: i64,
    tall: i64,
    purl: bool,
}

impl Streak {
    fn of_knit(&self, d: &mut String) {
        let half = self.wide / 2;
        // Writing to a string can't fail.
        let _ = write!(d, "M{} {}l", self.x, self.y - self.tall);
        for nth in 0..self.count {
            let gap = if nth == 0 { "" } else { " " };
            let _ = write!(d, "{gap}{half} {tall} {half}-{tall}", tall = self.tall);
        }
    }

    fn of_purl(&self, d: &mut String) {
        let (half, bow) = (self.wide / 2, self.tall / 2);
        let _ = write!(d, "M{} {}q", self.x, self.y - bow / 2);
        for nth in 0..self.count {
            let gap = if nth == 0 { "" } else { " " };
            let _ = write!(d, "{gap}{half}-{bow} {} 0", 2 * half);
        }
    }
}

/// A piece of the sheet's size, twice as large as life, as it is seen from its knit side. None where there is no such
/// piece, or nothing is knitted in it.
pub fn stitches(sheet: &StripesSheet<'_>, name: &str) -> Option<Drawing> {
    let cloths = sheet.coloured.cloths(sheet.run);
    let fabric = Fabric { pieces: &sheet.run.pieces, cloths: &cloths, swatches: sheet.swatches };
    let (piece, cloth) = fabric.find(name)?;
    let loops = Loops::of(&fabric, piece, cloth)?;
    let streaks = streaks(&loops, &fabric);
    let all = || streaks.values().flatten();
    let left = all().map(|s| s.x).min()?;
    let right = all().map(|s| s.x + i64::from(s.count) * s.wide).max()?;
    let top = all().map(|s| s.y - s.tall).min()?;
    let mm = |steps: i64| LARGER * steps as f64 / STEPS;
    let mut canvas = Canvas::new();
    canvas.open_placed((MARGIN - mm(left), MARGIN - mm(top)), LARGER / STEPS, 0.0);
    for streak in all() {
        let (wide, tall) = (f64::from(streak.count) * streak.wide as f64, streak.tall as f64);
        canvas.rect(streak.x as f64, streak.y as f64 - tall, wide, tall, Look::filled(INK));
    }
    for (paint, streaks) in &streaks {
        draw(&mut canvas, shade_of(sheet, *paint), streaks);
    }
    canvas.close_group();
    let count: usize = loops.rows.iter().map(Vec::len).sum();
    let title = format!("{}, {}: stitch by stitch", sheet.title, piece.title.to_lowercase());
    let about = about(piece, count);
    let (width, height) = (mm(right - left) + 2.0 * MARGIN, -mm(top) + 2.0 * MARGIN);
    Some(canvas.finish(&title, &about, width, height))
}

fn about(piece: &PieceRun, count: usize) -> String {
    let behind = match piece.rows.iter().any(|row| row.structure == Structure::Circular) {
        true => " Of the tube the half on the main bed is drawn.",
        false => "",
    };
    format!(
        "{count} stitches of {} rows, cast-on below, each where its row lies: a V is a knit stitch, a \
         bow a purl stitch.{behind}",
        piece.rows.len()
    )
}

fn shade_of(sheet: &StripesSheet<'_>, paint: Paint) -> Shade {
    paint.map_or(super::shades::PAPER, |p| sheet.coloured.palette.colours[usize::from(p)].shade)
}

/// The stitches of each colour. A rib's lie close together about the middle of their needles, as its
/// gauge has them.
fn streaks(loops: &Loops<'_>, fabric: &Fabric<'_>) -> BTreeMap<Paint, Vec<Streak>> {
    let steps = |mm: f64| (mm * STEPS).round() as i64;
    let plain = fabric.swatches.gauge(Structure::Plain).stitches.pitch_mm();
    let mut all: BTreeMap<Paint, Vec<Streak>> = BTreeMap::new();
    for (index, row) in loops.rows.iter().enumerate() {
        let structure = loops.piece.rows[index].structure;
        let gauge = fabric.swatches.gauge(structure.gauged_as());
        // An even number of steps, so that both legs of a V are alike.
        let wide = 2 * steps(gauge.stitches.pitch_mm() / 2.0);
        let tall = steps(gauge.rows.pitch_mm()).max(1);
        let ribbed = matches!(structure, Structure::Rib1x1 | Structure::Rib2x2);
        let (Some(first), Some(last)) = (row.first(), row.last()) else { continue };
        let middle = f64::from(first.needle + last.needle + 1) / 2.0;
        let middle = steps((middle - f64::from(loops.needles.left.0)) * plain);
        for (nth, one) in row.iter().enumerate() {
            let height = loops.heights.at(index as u32, one.ribber, one.needle);
            let Some(y) = height.map(|mm| -steps(mm)) else { continue };
            let x = match ribbed {
                true => middle + (2 * nth as i64 - row.len() as i64) * wide / 2,
                false => i64::from(one.needle - loops.needles.left.0) * wide,
            };
            let streaks = all.entry(one.paint).or_default();
            match streaks.last_mut() {
                Some(before)
                    if before.y == y
                        && before.purl == one.ribber
                        && before.x + i64::from(before.count) * before.wide == x =>
                {
                    before.count += 1;
                }
                _ => streaks.push(Streak { x, y, count: 1, wide, tall, purl: one.ribber }),
            }
        }
    }
    all
}

fn draw(canvas: &mut Canvas, shade: Shade, streaks: &[Streak]) {
    for purl in [false, true] {
        let mut d = String::new();
        for streak in streaks.iter().filter(|streak| streak.purl == purl) {
            if purl { streak.of_purl(&mut d) } else { streak.of_knit(&mut d) }
        }
        let wide = streaks.first().map_or(0, |streak| streak.wide) as f64 * STRAND;
        if !d.is_empty() {
            let class = if purl { "purl" } else { "knit" };
            canvas.strands(&d, Look::edged(shade, wide).class(class));
        }
    }
}
