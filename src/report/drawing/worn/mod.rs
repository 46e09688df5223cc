//! Where each stitch of a view lies, in mm of the garment: the run's fabric, cut into areas of one
//! colour. Stitches are as wide and as high as the gauge of their fabric says.

mod fabric;
mod heights;
mod laid;
mod plane;
mod stacks;
mod tube;

pub(super) use fabric::Fabric;
pub(super) use heights::Heights;
pub(super) use laid::{LaidPart, LaidView};

use std::collections::BTreeMap;

use laid::Area;
use plane::{CHORD, PlaneLaying, Strip, placed, polar};
use stacks::{cells, placed_cells, share_of, stacks};
use tube::{Tube, eased, evened};

use super::canvas::Point;
use knit::cloth::Cloth;
use knit::run::PieceRun;
use knit::thread::Paint;
use knit::view::{Form, Lie, Patch, Round, View};

impl Fabric<'_> {
    /// The views of one garment, where a tube is as wide in each as in the others.
    pub fn lay_all(&self, views: &[View]) -> Vec<LaidView> {
        let mut tubes: Vec<Vec<Option<Tube>>> = views.iter().map(|view| self.tubes(view)).collect();
        evened(&mut tubes);
        for tubes in &mut tubes {
            eased(tubes);
        }
        views.iter().zip(&tubes).map(|(view, tubes)| self.lay(view, tubes)).collect()
    }

    fn lay(&self, view: &View, tubes: &[Option<Tube>]) -> LaidView {
        let mut parts: Vec<LaidPart> = Vec::new();
        let mut below = None;
        let radii = self.radii(view);
        let mut heights: BTreeMap<&str, Heights> = BTreeMap::new();
        for (index, part) in view.parts.iter().enumerate() {
            let Some((piece, cloth)) = self.find(&part.patch.piece) else { continue };
            let heights = heights
                .entry(&part.patch.piece)
                .or_insert_with(|| Heights::of(piece, |row| self.row_mm(piece, row)));
            let (form, (areas, silhouette)) = match &part.form {
                Form::Flat(lie) => {
                    ("flat", self.flat(piece, cloth, &part.patch, heights, lie, &mut below))
                }
                Form::Side(lie) => ("side", self.side(piece, cloth, &part.patch, lie, &mut below)),
                Form::Rings(round) => {
                    ("rings", self.rings(piece, cloth, &part.patch, round, radii[index]))
                }
                Form::Band(round) => {
                    ("band", self.band(piece, cloth, &part.patch, heights, round, radii[index]))
                }
                Form::Tube { .. } => match &tubes[index] {
                    Some(tube) => ("tube", tube.lay()),
                    None => continue,
                },
            };
            let set = |form: &Form| matches!(form, Form::Flat(lie) if lie.at.is_some());
            let goes_on =
                set(&part.form) && parts.last().is_some_and(|last| last.piece == piece.name);
            parts.push(LaidPart { piece: piece.name.clone(), form, goes_on, areas, silhouette });
        }
        if view.mirror {
            for part in &mut parts {
                let mirrored = |p: &mut Point| p.0 = -p.0;
                part.silhouette.iter_mut().flatten().for_each(mirrored);
                for area in &mut part.areas {
                    area.outline.iter_mut().for_each(mirrored);
                    mirrored(&mut area.middle);
                }
            }
        }
        let mut bounds = (f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
        for (x, y) in parts.iter().flat_map(|p| &p.silhouette).flatten() {
            bounds = (bounds.0.min(*x), bounds.1.min(*y), bounds.2.max(*x), bounds.3.max(*y));
        }
        if bounds.0 > bounds.2 {
            bounds = (0.0, 0.0, 0.0, 0.0);
        }
        LaidView { title: view.title.clone(), parts, bounds }
    }

    /// Columns of a patch as strips, each stitch as high above the lowest as it lies in the flat
    /// piece.
    fn upright(
        &self,
        piece: &PieceRun,
        cloth: &Cloth,
        patch: &Patch,
        heights: &Heights,
        width: impl Fn(usize, usize) -> (f64, f64),
    ) -> Vec<Strip> {
        let rows = Self::rows(piece, patch);
        let columns = stacks(&patch.strand, cloth, &rows);
        let mut strips: Vec<Strip> = (0..columns.len())
            .map(|i| Strip { u: width(i, columns.len()), runs: Vec::new() })
            .collect();
        let placed: Vec<Vec<(u32, f64, Paint)>> =
            columns.iter().map(|stack| placed_cells(stack, &rows, heights)).collect();
        let lowest = placed.iter().flatten().map(|(_, at, _)| *at).fold(f64::INFINITY, f64::min);
        for (strip, cells) in strips.iter_mut().zip(placed) {
            for (row, at, paint) in cells {
                let from = at - lowest;
                strip.push(from, from + self.row_mm(piece, row), paint);
            }
        }
        strips
    }

    fn flat(
        &self,
        piece: &PieceRun,
        cloth: &Cloth,
        patch: &Patch,
        heights: &Heights,
        lie: &Lie,
        below: &mut Option<Point>,
    ) -> (Vec<Area>, Vec<Vec<Point>>) {
        let stitch = self.stitch_mm(piece, Self::rows(piece, patch));
        let strips = self.upright(piece, cloth, patch, heights, |i, _| {
            (i as f64 * stitch, (i + 1) as f64 * stitch)
        });
        placed(&strips, |u, v| (u, -v), lie, below)
    }

    fn side(
        &self,
        piece: &PieceRun,
        cloth: &Cloth,
        patch: &Patch,
        lie: &Lie,
        below: &mut Option<Point>,
    ) -> (Vec<Area>, Vec<Vec<Point>>) {
        let rows = patch.rows(piece);
        let stitch = self.stitch_mm(piece, rows.clone());
        let strips: Vec<Strip> = stacks(&patch.strand, cloth, &rows)
            .iter()
            .enumerate()
            .map(|(i, stack)| {
                let part = share_of(stack, &rows, patch.share);
                let long: f64 = part.iter().map(|(r, _)| self.row_mm(piece, *r)).sum();
                let mut strip =
                    Strip { u: (i as f64 * stitch, (i + 1) as f64 * stitch), runs: Vec::new() };
                let mut at = -long / 2.0;
                for (row, paint) in part {
                    let next = at + self.row_mm(piece, row);
                    strip.push(at, next, paint);
                    at = next;
                }
                strip
            })
            .filter(|strip| !strip.runs.is_empty())
            .collect();
        // From right to left: as the rows run round when they are seen from the knit side.
        placed(&strips, |u, v| (-v, u), lie, below)
    }

    /// From the centre to the outer edge of each round part.
    fn radii(&self, view: &View) -> Vec<f64> {
        let depth = |index: usize| -> f64 {
            let part = &view.parts[index];
            let Some((piece, cloth)) = self.find(&part.patch.piece) else { return 0.0 };
            let rows = Self::rows(piece, &part.patch);
            match part.form {
                Form::Rings(_) => {
                    stacks(&part.patch.strand, cloth, &rows).len() as f64
                        * self.stitch_mm(piece, rows)
                }
                Form::Band(_) => stacks(&part.patch.strand, cloth, &rows)
                    .iter()
                    .map(|c| cells(c, &rows).iter().map(|(r, _)| self.row_mm(piece, *r)).sum())
                    .fold(0.0, f64::max),
                _ => 0.0,
            }
        };
        let rounds: Vec<Option<&Round>> = view
            .parts
            .iter()
            .map(|part| match &part.form {
                Form::Rings(round) | Form::Band(round) => Some(round),
                _ => None,
            })
            .collect();
        let whole: f64 = (0..view.parts.len())
            .filter(|i| rounds[*i].is_some_and(|r| !r.beside))
            .map(depth)
            .sum();
        let (mut outer, mut inner) = (whole, whole);
        let mut radii = Vec::with_capacity(view.parts.len());
        for (index, round) in rounds.iter().enumerate() {
            if let Some(round) = round {
                outer = round.radius_mm.unwrap_or(if round.beside { outer } else { inner });
                inner = outer - depth(index);
            }
            radii.push(outer);
        }
        radii
    }

    fn rings(
        &self,
        piece: &PieceRun,
        cloth: &Cloth,
        patch: &Patch,
        round: &Round,
        radius: f64,
    ) -> (Vec<Area>, Vec<Vec<Point>>) {
        let rows = patch.rows(piece);
        let stitch = self.stitch_mm(piece, rows.clone());
        let degrees = (round.arc.1 - round.arc.0).abs();
        let strips: Vec<Strip> = stacks(&patch.strand, cloth, &rows)
            .iter()
            .enumerate()
            .map(|(i, stack)| {
                let part = share_of(stack, &rows, patch.share);
                let each = degrees / part.len().max(1) as f64;
                let mut strip =
                    Strip { u: (i as f64 * stitch, (i + 1) as f64 * stitch), runs: Vec::new() };
                for (n, (_, paint)) in part.iter().enumerate() {
                    let at = n as f64 * each;
                    strip.push(at, at + each, *paint);
                }
                strip
            })
            .filter(|strip| !strip.runs.is_empty())
            .collect();
        let map = |u: f64, v: f64| polar((radius - u).max(0.0), round.at(v));
        PlaneLaying { map: &map, steps: (f64::INFINITY, CHORD), bend: None }.lay(&strips)
    }

    fn band(
        &self,
        piece: &PieceRun,
        cloth: &Cloth,
        patch: &Patch,
        heights: &Heights,
        round: &Round,
        radius: f64,
    ) -> (Vec<Area>, Vec<Vec<Point>>) {
        let degrees = (round.arc.1 - round.arc.0).abs();
        let strips = self.upright(piece, cloth, patch, heights, |i, n| {
            let each = degrees / n.max(1) as f64;
            (i as f64 * each, (i + 1) as f64 * each)
        });
        let deep = strips.iter().flat_map(|s| &s.runs).map(|r| r.to).fold(0.0, f64::max);
        let map = |u: f64, v: f64| {
            let in_from_edge = if round.turned { deep - v } else { v };
            polar((radius - in_from_edge).max(0.0), round.at(u))
        };
        PlaneLaying { map: &map, steps: (CHORD, f64::INFINITY), bend: None }.lay(&strips)
    }
}
