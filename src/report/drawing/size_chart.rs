//! Sizes as a picture: for each measure a panel, for each size a line from nought to its length with
//! the figures behind it.

use super::shades::{INK, QUIET, RULE};
use super::words::{fitted, wrapped};
use super::{Anchor, Canvas, Drawing, Look, Weight, text_width};
use crate::grid::capital;
use knit::body::{Measure, SizeTable};
use knit::size_run::SizeRun;
use units::LengthUnit;

const PAGE_MM: f64 = 178.0;
const BETWEEN: f64 = 8.0;
const TEXT: f64 = 3.2;
const LINE: f64 = 4.3;
const LEAST_BAR: f64 = 22.0;

/// One measure over the sizes.
struct Panel {
    title: String,
    /// Label of the size, its length in mm, and the body measure it answers to.
    sizes: Vec<(String, Option<f64>, Option<f64>)>,
}

/// Body measures of the sizes named.
pub fn body_picture(
    table: &SizeTable,
    sizes: &[&str],
    measures: &[Measure],
    units: &[LengthUnit],
) -> Drawing {
    let panels: Vec<Panel> = measures
        .iter()
        .map(|measure| Panel {
            title: capital(measure.label()),
            sizes: sizes
                .iter()
                .filter_map(|id| table.get(id))
                .map(|size| (size.label.clone(), size.mm(measure.name()), None))
                .collect(),
        })
        .collect();
    draw("Body measures", "", &panels, units)
}

/// Finished measures of a run, each beside the body measure it answers to.
pub fn finished_picture(run: &SizeRun, units: &[LengthUnit]) -> Drawing {
    let mut names: Vec<(&str, &str)> = Vec::new();
    for (_, made) in run.good() {
        for f in &made.graded.finished {
            if names.iter().all(|(name, _)| *name != f.name) {
                names.push((&f.name, &f.title));
            }
        }
    }
    let panels: Vec<Panel> = names
        .into_iter()
        .map(|(name, title)| Panel {
            title: title.to_owned(),
            sizes: run
                .sizes
                .iter()
                .map(|size| {
                    let made = size.good();
                    let found =
                        made.and_then(|m| m.graded.finished.iter().find(|f| f.name == name));
                    let measure = found.and_then(|f| f.measure.as_deref());
                    let body = measure.and_then(|name| size.body.mm(name));
                    (size.body.label.clone(), found.map(|f| f.mm), body)
                })
                .collect(),
        })
        .collect();
    let ring = panels.iter().flat_map(|p| &p.sizes).any(|(_, _, body)| body.is_some());
    let note = if ring {
        " The ring is the body measure it is for: what lies between is ease."
    } else {
        ""
    };
    draw(&format!("{}: finished sizes", run.garment.title), note, &panels, units)
}

fn draw(title: &str, note: &str, panels: &[Panel], units: &[LengthUnit]) -> Drawing {
    let mut canvas = Canvas::new();
    let short = fitted(title, 4.4, PAGE_MM, Weight::Bold);
    canvas.text((0.0, 5.0), 4.4, (Anchor::Start, Weight::Bold), INK, &short);
    let mut y = 11.0;
    let words = format!(
        "A line for each size, from nought to its dot; within a panel all to one scale, marked below \
         in {}.{note}",
        units.iter().map(|u| u.symbol()).collect::<Vec<_>>().join(" and ")
    );
    for line in wrapped(&words, TEXT, PAGE_MM) {
        canvas.text((0.0, y), TEXT, (Anchor::Start, Weight::Regular), QUIET, &line);
        y += LINE;
    }
    y += 3.0;
    let columns = if panels.len() > 1 { 2 } else { 1 };
    let width = (PAGE_MM - BETWEEN * (columns as f64 - 1.0)) / columns as f64;
    let mut cuts = Vec::new();
    for pair in panels.chunks(columns) {
        cuts.push(y - 1.0);
        let mut tall: f64 = 0.0;
        for (nth, panel) in pair.iter().enumerate() {
            canvas.open_placed((nth as f64 * (width + BETWEEN), y), 1.0, 0.0);
            tall = tall.max(panel.draw(&mut canvas, width, units));
            canvas.close_group();
        }
        y += tall + 7.0;
    }
    let mut about = format!("{title} as lines of their length.");
    for panel in panels {
        let lengths = || panel.sizes.iter().filter_map(|(label, mm, _)| Some((label, (*mm)?)));
        let (least, most) = (
            lengths().min_by(|a, b| a.1.total_cmp(&b.1)),
            lengths().max_by(|a, b| a.1.total_cmp(&b.1)),
        );
        if let (Some((small, low)), Some((large, high))) = (least, most) {
            let show = |mm: f64| units.iter().map(|u| u.show(mm)).collect::<Vec<_>>().join(" / ");
            about.push_str(&format!(
                " {}: {} ({small}) to {} ({large}).",
                panel.title,
                show(low),
                show(high)
            ));
        }
    }
    canvas.finish(title, &about, PAGE_MM, y.max(20.0)).with_cuts(cuts.into_iter().skip(1))
}

impl Panel {
    /// Draws the panel from its top left corner and gives its height.
    fn draw(&self, canvas: &mut Canvas, width: f64, units: &[LengthUnit]) -> f64 {
        let text = |s: &str| text_width(s, TEXT, Weight::Regular);
        let title = fitted(&self.title, 3.2, width - 24.0, Weight::Bold);
        canvas.text((0.0, 3.2), 3.2, (Anchor::Start, Weight::Bold), INK, &title);
        let figures: Vec<f64> = units
            .iter()
            .map(|unit| {
                let cells = self.sizes.iter().filter_map(|(_, mm, _)| mm.map(|mm| unit.cell(mm)));
                cells.map(|cell| text(&cell)).fold(text(unit.symbol()), f64::max) + 2.6
            })
            .collect();
        let right = width - figures.iter().sum::<f64>();
        let labels = self.sizes.iter().map(|(label, _, _)| text(label)).fold(0.0, f64::max);
        let left = (labels + 2.0).min(right - LEAST_BAR);
        let most =
            self.sizes.iter().flat_map(|(_, mm, body)| [*mm, *body]).flatten().fold(0.0, f64::max);
        let long = right - left - 3.0;
        let scale = if most > 0.0 { long / most } else { 0.0 };
        let mut x = right;
        for (unit, wide) in units.iter().zip(&figures) {
            x += wide;
            canvas.text((x, 3.2), TEXT, (Anchor::End, Weight::Regular), QUIET, unit.symbol());
        }
        let mut y = 5.0;
        let foot = y + LINE * self.sizes.len() as f64;
        canvas.line((left, y), (left, foot), Look::edged(RULE, 0.3));
        for (label, mm, body) in &self.sizes {
            let (base, level) = (y + 2.9, y + LINE / 2.0);
            let label = fitted(label, TEXT, left - 1.5, Weight::Regular);
            canvas.text((0.0, base), TEXT, (Anchor::Start, Weight::Regular), INK, &label);
            let ring = Look::edged(INK, 0.3).class("body");
            if let Some(mm) = mm {
                let end = left + mm * scale;
                canvas.line((left, level), (end, level), Look::edged(INK, 0.45).class("length"));
                canvas.circle(end, level, 0.9, Look::filled(INK).class("size"));
                if let Some(body) = body {
                    canvas.circle(left + body * scale, level, 1.15, ring);
                }
            }
            let mut x = right;
            for (unit, wide) in units.iter().zip(&figures) {
                x += wide;
                let cell = mm.map_or_else(|| "-".to_owned(), |mm| unit.cell(mm));
                canvas.text((x, base), TEXT, (Anchor::End, Weight::Regular), INK, &cell);
            }
            y += LINE;
        }
        let mut bottom = foot;
        for unit in units {
            bottom = self.draw_scale(canvas, (left, bottom), (most, scale), *unit);
        }
        bottom
    }

    /// A scale below the lines; gives where it ends.
    fn draw_scale(
        &self,
        canvas: &mut Canvas,
        (left, top): (f64, f64),
        (most, scale): (f64, f64),
        unit: LengthUnit,
    ) -> f64 {
        const STEPS: [f64; 10] = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0];
        let whole = most / unit.mm();
        let room = text_width("000 in", TEXT, Weight::Regular) + 2.0;
        let step = STEPS
            .into_iter()
            .find(|step| step * unit.mm() * scale >= room)
            .unwrap_or(STEPS[STEPS.len() - 1]);
        let look = Look::edged(RULE, 0.25);
        canvas.line((left, top), (left + most * scale, top), look);
        let mut nth = 0.0;
        while nth * step <= whole + 1e-9 && most > 0.0 {
            let x = left + nth * step * unit.mm() * scale;
            canvas.line((x, top), (x, top + 1.0), look);
            let words = format!("{}", nth * step);
            let words = if nth == 0.0 { format!("{words} {}", unit.symbol()) } else { words };
            let anchor = if nth == 0.0 { Anchor::Start } else { Anchor::Middle };
            let x = if nth == 0.0 { x - 0.8 } else { x };
            canvas.text((x, top + 3.7), TEXT, (anchor, Weight::Regular), QUIET, &words);
            nth += 1.0;
        }
        top + 4.6
    }
}
