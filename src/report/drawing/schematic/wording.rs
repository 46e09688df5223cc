//! The words round the pieces: title, notes, finished measures, the description.

use super::groups::ShapeGroup;
use super::measures::dims;
use super::page::{PAGE_MM, Schematic, TEXT};
use crate::drawing::laid_flat::LaidFlat;
use crate::drawing::words::wrapped;
use knit::size_run::Made;
use units::LengthUnit;

fn figures(mm: f64, units: &[LengthUnit]) -> String {
    let all: Vec<String> = units.iter().map(|unit| unit.show(mm)).collect();
    all.join(" / ")
}

impl Schematic<'_> {
    pub(super) fn title(&self) -> String {
        let labels: Vec<&str> = self.shown.iter().map(|(s, _)| s.body.label.as_str()).collect();
        let pair = if self.run.garment.pair { " (a pair)" } else { "" };
        let sizes = match labels.as_slice() {
            [first, .., last] => format!("{first} to {last}"),
            labels => labels.concat(),
        };
        format!("{}{pair}: pieces, {sizes}", self.run.garment.title)
    }

    /// How the pieces are drawn, in words.
    pub(super) fn head_lines(&self, scale: f64) -> Vec<String> {
        let flats = || {
            self.shown
                .iter()
                .flat_map(|(_, made)| &made.graded.run.pieces)
                .filter_map(|piece| LaidFlat::of(piece, &self.run.swatches))
        };
        let mut text = format!(
            "All at 1 : {scale}. Needles across, cast-on below, rows upwards, as the fabric lies flat \
             off the bed, before it is blocked or sewn."
        );
        if flats().any(|f| f.notched) {
            text.push_str(
                " Short rows are drawn opened out: the notches close as they are knitted.",
            );
        }
        if flats().any(|f| f.tube) {
            text.push_str(
                " A tube is drawn folded flat, the back that is knitted on the main bed: it is twice \
                 that width round.",
            );
        }
        if flats().any(|f| !f.openings.is_empty()) {
            text.push_str(
                " A row of beads is an opening: loops come off there and new ones are cast on.",
            );
        }
        if self.nested() {
            text.push_str(" Sizes lie over each other, the middle of the cast-on in one place.");
            if self.shown.len() > 2 && flats().any(|f| f.notched) {
                text.push_str(
                    " Of pieces with short rows only the smallest and the largest are drawn.",
                );
            }
        }
        if self.left_out > 0 {
            text.push_str(&format!(
                " {} of {} sizes are drawn: the smallest, the largest and some between.",
                self.shown.len(),
                self.shown.len() + self.left_out
            ));
        }
        wrapped(&text, TEXT, PAGE_MM)
    }

    /// Finished measures, the first size before the bracket.
    pub(super) fn key_lines(&self) -> Vec<String> {
        let mut names: Vec<(&str, &str)> = Vec::new();
        for (_, made) in self.shown {
            for f in &made.graded.finished {
                if names.iter().all(|(name, _)| *name != f.name) {
                    names.push((&f.name, &f.title));
                }
            }
        }
        let mut lines = Vec::new();
        for (name, title) in names {
            let of =
                |made: &Made| made.graded.finished.iter().find(|f| f.name == name).map(|f| f.mm);
            let parts: Vec<String> = self
                .units
                .iter()
                .map(|unit| {
                    let cells: Vec<String> = self
                        .shown
                        .iter()
                        .map(|(_, made)| of(made).map_or_else(|| "-".into(), |mm| unit.cell(mm)))
                        .collect();
                    let rest = match cells.len() {
                        1 => String::new(),
                        _ => format!(" ({})", cells[1..].join(", ")),
                    };
                    format!("{}{rest} {}", cells[0], unit.symbol())
                })
                .collect();
            lines.extend(wrapped(&format!("{title}: {}", parts.join("; ")), TEXT, PAGE_MM));
        }
        lines
    }

    pub(super) fn about(&self, groups: &[ShapeGroup<'_>]) -> String {
        let sizes: Vec<&str> = (0..self.shown.len()).map(|index| self.label(index)).collect();
        let mut text = format!(
            "Outlines to scale with their measures. {}. Sizes drawn: {}. ",
            self.title(),
            sizes.join(", ")
        );
        for group in groups {
            let Some((index, flat, _)) = group.shapes.last() else { continue };
            let parts: Vec<String> = dims(flat)
                .iter()
                .map(|d| {
                    format!("{} {}, {} {}", d.what, figures(d.mm, self.units), d.count, d.counted)
                })
                .collect();
            text.push_str(&format!(
                "{}, {}: {}. ",
                group.heading(),
                self.label(*index),
                parts.join("; ")
            ));
        }
        text.trim_end().to_owned()
    }
}
