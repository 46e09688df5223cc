//! Which pieces of the sizes are drawn over each other.

use crate::drawing::laid_flat::LaidFlat;
use knit::run::PieceRun;
use knit::size_run::{Made, SizeResult, SizeRun};

/// Pieces of one title, one to a size: those that are drawn over each other.
pub(super) struct ShapeGroup<'a> {
    title: &'a str,
    /// Titles of pieces that are the same, or its mirror image.
    twins: Vec<(&'a str, bool)>,
    /// How many to knit; the same for all sizes, or the words say so.
    times: Vec<usize>,
    /// By index of the size shown.
    pub(super) shapes: Vec<(usize, LaidFlat, &'a PieceRun)>,
}

pub(super) fn groups<'a>(
    run: &SizeRun,
    shown: &[(&'a SizeResult, &'a Made)],
) -> Vec<ShapeGroup<'a>> {
    let mut groups: Vec<ShapeGroup<'a>> = Vec::new();
    for (index, (_, made)) in shown.iter().enumerate() {
        let mut own: Vec<(&PieceRun, LaidFlat, usize)> = Vec::new();
        for piece in &made.graded.run.pieces {
            let Some(flat) = LaidFlat::of(piece, &run.swatches) else { continue };
            let before = own.iter_mut().find(|(p, f, _)| p.title == piece.title && *f == flat);
            match before {
                Some((_, _, times)) => *times += 1,
                None => own.push((piece, flat, 1)),
            }
        }
        let mut nth_of: Vec<&str> = Vec::new();
        for (piece, flat, times) in own {
            let nth = nth_of.iter().filter(|t| **t == piece.title).count();
            nth_of.push(&piece.title);
            // The nth shape of a title goes with the nth of the other sizes.
            let same: Vec<usize> =
                (0..groups.len()).filter(|g| groups[*g].title == piece.title).collect();
            match same.get(nth) {
                Some(g) => {
                    groups[*g].times.push(times);
                    groups[*g].shapes.push((index, flat, piece));
                }
                None => groups.push(ShapeGroup {
                    title: &piece.title,
                    twins: Vec::new(),
                    times: vec![times],
                    shapes: vec![(index, flat, piece)],
                }),
            }
        }
    }
    let mut apart: Vec<ShapeGroup<'a>> = Vec::new();
    for group in groups {
        match apart.iter_mut().find_map(|before| Some((before.twin(&group)?, before))) {
            Some((mirrored, before)) => before.twins.push((group.title, mirrored)),
            None => apart.push(group),
        }
    }
    apart
}

impl ShapeGroup<'_> {
    /// Whether the other's shapes are these, in every size; `Some(true)`: mirrored.
    fn twin(&self, other: &ShapeGroup<'_>) -> Option<bool> {
        if self.times != other.times || self.shapes.len() != other.shapes.len() {
            return None;
        }
        let pairs = || self.shapes.iter().zip(&other.shapes);
        let same_sizes = pairs().all(|(a, b)| a.0 == b.0);
        if same_sizes && pairs().all(|(a, b)| a.1 == b.1) {
            return Some(false);
        }
        (same_sizes && pairs().all(|(a, b)| a.1.mirrors(&b.1))).then_some(true)
    }

    pub(super) fn heading(&self) -> String {
        let mut heading = self.counted_title();
        for (twin, mirrored) in &self.twins {
            heading.push_str(if *mirrored { "; mirrored: " } else { "; alike: " });
            heading.push_str(twin);
        }
        heading
    }

    fn counted_title(&self) -> String {
        let (least, most) = (
            self.times.iter().copied().min().unwrap_or(1),
            self.times.iter().copied().max().unwrap_or(1),
        );
        match (least, most) {
            (1, 1) => self.title.to_owned(),
            (a, b) if a == b => format!("{} (knit {a})", self.title),
            (a, b) => format!("{} (knit {a} to {b})", self.title),
        }
    }

    /// Outlines to draw. Notches over notches can't be read: of those, the smallest and the largest.
    pub(super) fn drawn(&self) -> Vec<usize> {
        let toothed = self.shapes.iter().any(|(_, f, _)| f.notched);
        let last = self.shapes.len() - 1;
        if toothed && last > 1 { vec![0, last] } else { (0..=last).collect() }
    }
}
