//! The pieces of a garment as a small picture in text characters, to scale.

use knit::program::Structure;
use knit::run::PieceRun;
use knit::size_run::{Made, SizeRun};

/// The picture of the widest piece and of the tallest fits in so many characters and lines.
const MOST_COLUMNS: f64 = 60.0;
const MOST_LINES: f64 = 24.0;
/// A character is about twice as tall as it is wide.
const TALL: f64 = 2.0;
/// No finer than this, so that a baby's cuff isn't drawn larger than life.
const LEAST_MM: f64 = 5.0;

/// Each piece of a made size as it leaves the bed, cast-on edge below: `#` its outline, inside it
/// the fabric. Pieces of one title and shape are drawn once.
pub fn garment_picture(run: &SizeRun, label: &str, made: &Made) -> String {
    let mut drawn: Vec<(&PieceRun, ShownShape, usize)> = Vec::new();
    for piece in made.graded.run.pieces.iter().filter(|p| p.needles.is_some()) {
        let shape = ShownShape::of(piece, run);
        match drawn.iter_mut().find(|(p, s, _)| p.title == piece.title && *s == shape) {
            Some((_, _, times)) => *times += 1,
            None => drawn.push((piece, shape, 1)),
        }
    }
    let most = |of: fn(&ShownShape) -> f64| drawn.iter().map(|(_, s, _)| of(s)).fold(0.0, f64::max);
    let cell_mm = (most(|s| s.width_mm()) / MOST_COLUMNS)
        .max(most(|s| s.height_mm()) / (MOST_LINES * TALL))
        .max(LEAST_MM);
    let mut text = format!(
        "The pieces of {label}, as they leave the bed; a character is {:.1} cm wide:\n",
        cell_mm / 10.0
    );
    for (piece, shape, times) in &drawn {
        let Some(needles) = piece.needles else { continue };
        let times = if *times > 1 { format!(" ({times} alike)") } else { String::new() };
        text.push_str(&format!(
            "\n{}{times}: {} needles ({needles}) x {} rows, {:.1} x {:.1} cm\n",
            piece.title,
            needles.len(),
            piece.rows.len(),
            shape.width_mm() / 10.0,
            shape.height_mm() / 10.0
        ));
        for line in shape.draw(cell_mm) {
            text.push_str(&format!("  {line}\n"));
        }
    }
    text.push_str("\n# edge   . plain   | rib   : tube\n");
    text
}

/// Where stitches were knitted: a row of flags a pass, and how much height the pass adds.
#[derive(Clone, Debug, PartialEq)]
struct ShownShape {
    stitch_mm: f64,
    passes: Vec<ShownPass>,
    needles: usize,
}

#[derive(Clone, Debug, PartialEq)]
struct ShownPass {
    knitted: Vec<bool>,
    height_mm: f64,
    fabric: char,
}

impl ShownShape {
    fn of(piece: &PieceRun, run: &SizeRun) -> ShownShape {
        let gauge = run.swatches.gauge(piece.structure);
        let left = piece.needles.map_or(0, |span| span.left.0);
        let needles = piece.needles.map_or(0, |span| span.len() as usize);
        let passes = piece
            .rows
            .iter()
            .map(|row| {
                let mut knitted = vec![false; needles];
                for span in piece.spans_of(row) {
                    for needle in span.span.left.0..=span.span.right.0 {
                        if let Some(cell) = knitted.get_mut((needle - left) as usize) {
                            *cell = true;
                        }
                    }
                }
                let row_mm = run.swatches.gauge(row.structure).rows.pitch_mm();
                // A round of a tube is a pass on each bed.
                let (share, fabric) = match row.structure {
                    Structure::Circular => (0.5, ':'),
                    Structure::Plain => (1.0, '.'),
                    Structure::Rib1x1 | Structure::Rib2x2 => (1.0, '|'),
                };
                ShownPass { knitted, height_mm: share * row_mm, fabric }
            })
            .collect();
        let stitch_mm = gauge.stitches.pitch_mm();
        ShownShape { stitch_mm, passes, needles }
    }

    fn width_mm(&self) -> f64 {
        self.needles as f64 * self.stitch_mm
    }

    fn height_mm(&self) -> f64 {
        self.passes.iter().map(|p| p.height_mm).sum()
    }

    /// Lines of text, the last pass on top.
    fn draw(&self, cell_mm: f64) -> Vec<String> {
        let cells = |mm: f64, cell: f64| ((mm / cell).round() as usize).max(1);
        let columns = cells(self.width_mm(), cell_mm);
        let lines = cells(self.height_mm(), cell_mm * TALL);
        let mut grid = vec![vec![' '; columns]; lines];
        let total = self.height_mm();
        for (line, row) in grid.iter_mut().enumerate() {
            // The passes whose middle lies in this line.
            let (low, high) =
                (line as f64 * total / lines as f64, (line + 1) as f64 * total / lines as f64);
            let mut at = 0.0;
            let mut here: Vec<&ShownPass> = Vec::new();
            for pass in &self.passes {
                let middle = at + pass.height_mm / 2.0;
                at += pass.height_mm;
                if (low..high).contains(&middle) {
                    here.push(pass);
                }
            }
            for (column, cell) in row.iter_mut().enumerate() {
                let from = column * self.needles / columns;
                let to = ((column + 1) * self.needles / columns)
                    .clamp(from + 1, self.needles.max(from + 1));
                let (mut knitted, mut all) = (0usize, 0usize);
                for pass in &here {
                    let part = pass.knitted.get(from..to).unwrap_or_default();
                    knitted += part.iter().filter(|k| **k).count();
                    all += part.len();
                }
                if 2 * knitted >= all && knitted > 0 {
                    *cell = here[here.len() / 2].fabric;
                }
            }
        }
        let filled = |line: Option<usize>, column: Option<usize>| {
            line.zip(column).and_then(|(l, c)| grid.get(l)?.get(c)).is_some_and(|c| *c != ' ')
        };
        let edge = |line: usize, column: usize| {
            !(filled(line.checked_sub(1), Some(column))
                && filled(Some(line + 1), Some(column))
                && filled(Some(line), column.checked_sub(1))
                && filled(Some(line), Some(column + 1)))
        };
        (0..lines)
            .rev()
            .map(|line| {
                let row: String = (0..columns)
                    .map(|column| match grid[line][column] {
                        ' ' => ' ',
                        _ if edge(line, column) => '#',
                        fabric => fabric,
                    })
                    .collect();
                row.trim_end().to_owned()
            })
            .collect()
    }
}
