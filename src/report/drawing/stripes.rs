//! How the stripes fall: the finished garment in the colours of its yarn.

use super::canvas::{Anchor, Canvas, Fill, Look, Point};
use super::finished::Drawing;
use super::shades::{INK, PAPER, QUIET};
use super::typeface::Weight;
use super::typeface::text_width;
use super::words::{fitted, wrapped};
use super::worn::{Fabric, LaidPart, LaidView};
use knit::colouring::Coloured;
use knit::colours::Shade;
use knit::run::Run;
use knit::swatch::SwatchSet;
use knit::thread::Paint;
use knit::view::{View, plain_views};
use units::LengthUnit;

/// Paper, in mm.
const WIDTH: f64 = 178.0;
const TEXT: f64 = 3.2;
const MARGIN: f64 = 8.0;
const VIEWS_HIGH: f64 = 165.0;
const GAP: f64 = 8.0;
const VIEW_TITLE: f64 = 6.0;
const OUTLINE: f64 = 0.65;
/// By half of this a colour lies over its neighbours, so that no hairline of what is below shows.
const LAP: f64 = 0.2;
const LEGEND_ROW: f64 = 5.4;
/// Entries in one column of the legend before it has another.
const LEGEND_ROWS: usize = 8;

/// What is drawn.
pub struct StripesSheet<'a> {
    /// Garment and size.
    pub title: String,
    pub views: &'a [View],
    pub run: &'a Run,
    pub swatches: &'a SwatchSet,
    pub coloured: &'a Coloured,
    /// By section of the run, what people call it.
    pub sections: Vec<String>,
    /// What else to tell: how a pair is matched, what stands in.
    pub notes: Vec<String>,
}

impl StripesSheet<'_> {
    /// What stands over the picture of one size.
    pub fn title_of(garment: &str, size: &str) -> String {
        format!("{garment}, {size}")
    }
}

/// A colour of the legend.
struct LegendColour {
    paint: Paint,
    name: String,
    mm: f64,
    share: f64,
}

impl LegendColour {
    fn figures(&self) -> String {
        match self.paint {
            Some(_) => format!("{}, {:.1} %", metres(self.mm), 100.0 * self.share),
            None => format!("{} short", metres(self.mm)),
        }
    }
}

/// A line of the legend, for who sets it in a page.
#[derive(Clone, Debug, PartialEq)]
pub struct LegendLine {
    /// As it stands on the colour.
    pub number: usize,
    /// None where yarn is missing.
    pub shade: Option<Shade>,
    pub name: String,
    /// Length and share.
    pub figures: String,
}

impl StripesSheet<'_> {
    fn entries(&self) -> Vec<LegendColour> {
        let lengths = self.coloured.lengths();
        let whole: f64 = lengths.iter().map(|(_, mm)| mm).sum();
        let mut entries: Vec<LegendColour> = lengths
            .into_iter()
            .map(|(paint, mm)| LegendColour {
                paint,
                name: match paint {
                    Some(paint) => self.coloured.palette.colours[usize::from(paint)].name.clone(),
                    None => "no yarn left".to_owned(),
                },
                mm,
                share: if whole > 0.0 { mm / whole } else { 0.0 },
            })
            .collect();
        // What is missing comes last, whenever it begins.
        entries.sort_by_key(|e| e.paint.is_none());
        entries
    }

    /// The legend: a line for each colour.
    pub fn legend(&self) -> Vec<LegendLine> {
        let line = |(nth, entry): (usize, &LegendColour)| LegendLine {
            number: nth + 1,
            shade: entry.paint.map(|p| self.coloured.palette.colours[usize::from(p)].shade),
            name: entry.name.clone(),
            figures: entry.figures(),
        };
        self.entries().iter().enumerate().map(line).collect()
    }

    /// The garment's views and its colours in words.
    fn about(&self, views: &[LaidView]) -> String {
        let titles: Vec<&str> = views.iter().map(|view| view.title.as_str()).collect();
        format!("{}: {}. {}", self.title, titles.join(", "), self.lines().join(" "))
    }

    /// The legend, the balls and the notes as plain lines, for who can't see the picture.
    pub fn lines(&self) -> Vec<String> {
        let mut lines: Vec<String> = self
            .entries()
            .iter()
            .enumerate()
            .map(|(i, entry)| match entry.paint {
                Some(_) => format!(
                    "{}. {}: {} ({:.1} %)",
                    i + 1,
                    entry.name,
                    metres(entry.mm),
                    100.0 * entry.share
                ),
                None => format!("No yarn left: {} short.", metres(entry.mm)),
            })
            .collect();
        lines.extend(self.ball_lines());
        lines.extend(self.notes.iter().cloned());
        lines
    }

    /// The balls, a line each: what is taken of them and what is left.
    pub fn ball_lines(&self) -> Vec<String> {
        let mut lines = Vec::new();
        let several = self.coloured.feeds.len() > 1;
        for feed in &self.coloured.feeds {
            let used: f64 = feed.sections.iter().map(|s| self.coloured.path.used_mm[*s]).sum();
            let mut drawn = vec![(0.0, 0.0); feed.supply.balls.len()];
            feed.supply.draw(used, |ball, from, to| {
                drawn[ball].0 += to - from;
                drawn[ball].1 = to;
            });
            let names: Vec<&str> = feed
                .sections
                .iter()
                .filter_map(|s| self.sections.get(*s))
                .map(String::as_str)
                .collect();
            let of = if several { format!("{}, ", names.join(" and ")) } else { String::new() };
            let single = feed.supply.balls.len() == 1;
            for (nth, (ball, (mm, last))) in feed.supply.balls.iter().zip(&drawn).enumerate() {
                let which = if single { "ball".to_owned() } else { format!("ball {}", nth + 1) };
                let mut line = format!("{of}{which}: {}", ball.name);
                if ball.start_mm > 0.0 {
                    line.push_str(&format!(", from {} on", metres(ball.start_mm)));
                }
                if *mm <= 0.0 {
                    line.push_str(", not needed");
                } else {
                    line.push_str(&format!(", {} used", metres(*mm)));
                    if ball.end_mm().is_finite() {
                        let left = ball.end_mm() - last;
                        line.push_str(&if left < 0.5 {
                            ", all of it".to_owned()
                        } else {
                            format!(", {} left", metres(left))
                        });
                    }
                }
                line.push('.');
                let mut chars = line.chars();
                let first = chars.next().map(|c| c.to_uppercase().collect::<String>());
                lines.push(first.unwrap_or_default() + chars.as_str());
            }
        }
        lines
    }

    fn laid(&self) -> Vec<LaidView> {
        let cloths = self.coloured.cloths(self.run);
        let fabric = Fabric { pieces: &self.run.pieces, cloths: &cloths, swatches: self.swatches };
        let plain;
        let views = if self.views.is_empty() {
            plain = plain_views(self.run);
            &plain
        } else {
            self.views
        };
        fabric.lay_all(views)
    }
}

fn metres(mm: f64) -> String {
    format!("{:.2} m", mm / 1000.0)
}

/// Views in a box: one scale for all, side by side, in rows.
struct ViewLayout {
    scale: f64,
    /// Top left corner of each view's fabric.
    at: Vec<Point>,
    size: (f64, f64),
}

fn size_of(view: &LaidView) -> (f64, f64) {
    (view.bounds.2 - view.bounds.0, view.bounds.3 - view.bounds.1)
}

fn lay_out(views: &[LaidView], (wide, high): (f64, f64), title: f64, gap: f64) -> ViewLayout {
    // Sizes are bounded, so the search is: from life size down in steps of two per cent.
    let mut scale = 1.0;
    loop {
        let mut rows: Vec<(Vec<usize>, f64, f64)> = Vec::new();
        let mut fits = true;
        for (i, view) in views.iter().enumerate() {
            let (w, h) = size_of(view);
            let (w, h) = (w * scale, h * scale);
            // A narrow view still needs room for its title.
            let w =
                w.max(if title > 0.0 { text_width(&view.title, 3.6, Weight::Bold) } else { 0.0 });
            fits &= w <= wide || scale < 1e-4;
            match rows.last_mut() {
                Some((row, used, tall)) if *used + gap + w <= wide => {
                    row.push(i);
                    *used += gap + w;
                    *tall = tall.max(h);
                }
                _ => rows.push((vec![i], w, h)),
            }
        }
        let whole: f64 = rows.iter().map(|(_, _, tall)| tall + title).sum::<f64>()
            + gap * rows.len().saturating_sub(1) as f64;
        if (fits && whole <= high) || scale < 1e-4 {
            let mut at = vec![(0.0, 0.0); views.len()];
            let mut y = 0.0;
            for (row, used, tall) in &rows {
                let mut x = (wide - used) / 2.0;
                for i in row {
                    let (w, h) = size_of(&views[*i]);
                    let box_w = (w * scale).max(if title > 0.0 {
                        text_width(&views[*i].title, 3.6, Weight::Bold)
                    } else {
                        0.0
                    });
                    at[*i] = (x + (box_w - w * scale) / 2.0, y + title + (tall - h * scale) / 2.0);
                    x += box_w + gap;
                }
                y += tall + title + gap;
            }
            return ViewLayout { scale, at, size: (wide, (y - gap).max(0.0)) };
        }
        scale *= 0.98;
    }
}

/// Draws one view, its fabric's top left corner at `at`.
fn draw_view(
    canvas: &mut Canvas,
    view: &LaidView,
    coloured: &Coloured,
    (at, scale): (Point, f64),
    numbers: Option<&[LegendColour]>,
) {
    canvas.open_group("view", &[("title", view.title.clone()), ("scale", format!("{scale:.6}"))]);
    let place =
        |(x, y): Point| (at.0 + (x - view.bounds.0) * scale, at.1 + (y - view.bounds.1) * scale);
    let mut put = Vec::new();
    for (nth, part) in view.parts.iter().enumerate() {
        canvas.open_group("part", &[("piece", part.piece.clone()), ("form", part.form.to_owned())]);
        // Parts of one fabric are outlined together, before any of them hides the lines between them.
        let rest = view.parts[nth + 1..].iter().take_while(|next| next.goes_on);
        let together = std::iter::once(part).chain(rest).filter(|_| !part.goes_on);
        let outlines: Vec<Vec<Point>> = together
            .flat_map(|part| &part.silhouette)
            .map(|outline| outline.iter().map(|p| place(*p)).collect())
            .collect();
        if !outlines.is_empty() {
            canvas.areas(outlines.iter().map(Vec::as_slice), Fill::Clear, Some((INK, OUTLINE)));
        }
        let mut paints: Vec<Paint> = part.areas.iter().map(|a| a.paint).collect();
        paints.sort_unstable();
        paints.dedup();
        for paint in paints {
            let outlines: Vec<Vec<Point>> = part
                .areas
                .iter()
                .filter(|a| a.paint == paint)
                .map(|a| a.outline.iter().map(|p| place(*p)).collect())
                .collect();
            let (fill, edge) = match paint {
                Some(paint) => {
                    let shade = coloured.palette.colours[usize::from(paint)].shade;
                    (Fill::Shade(shade), Some((shade, LAP)))
                }
                None => (Fill::Hatched, None),
            };
            canvas.areas(outlines.iter().map(Vec::as_slice), fill, edge);
        }
        // At once, so that what lies over this part hides its numbers too.
        if let Some(entries) = numbers {
            draw_numbers(canvas, part, coloured, (&place, scale), (entries, &mut put));
        }
        canvas.close_group();
    }
    canvas.close_group();
}

const NUMBER: f64 = TEXT;
/// A number is not repeated nearer than this.
const NUMBER_APART: f64 = 9.0;
const MOST_NUMBERS: usize = 200;

fn draw_numbers(
    canvas: &mut Canvas,
    part: &LaidPart,
    coloured: &Coloured,
    (place, scale): (&dyn Fn(Point) -> Point, f64),
    (entries, put): (&[LegendColour], &mut Vec<(Paint, Point)>),
) {
    for area in &part.areas {
        let (across, along) = (area.size.0 * scale, area.size.1 * scale);
        let Some(number) = entries.iter().position(|e| e.paint == area.paint) else { continue };
        let words = (number + 1).to_string();
        let wide = text_width(&words, NUMBER, Weight::Bold) + 1.0;
        if across.max(along) < wide
            || across.min(along) < NUMBER + 0.2
            || across.min(along) < wide * 0.7
        {
            continue;
        }
        let (x, y) = place(area.middle);
        let near = |(paint, (px, py)): &(Paint, Point)| {
            let apart = (px - x).hypot(py - y);
            apart < if *paint == area.paint { NUMBER_APART } else { 3.0 }
        };
        if put.iter().any(near) || put.len() >= MOST_NUMBERS {
            continue;
        }
        put.push((area.paint, (x, y)));
        let ground = area.paint.map_or(PAPER, |p| coloured.palette.colours[usize::from(p)].shade);
        let ink = if INK.contrast(ground) >= PAPER.contrast(ground) { INK } else { PAPER };
        canvas.text((x, y + 0.36 * NUMBER), NUMBER, (Anchor::Middle, Weight::Bold), ink, &words);
    }
}

fn draw_legend(
    canvas: &mut Canvas,
    sheet: &StripesSheet<'_>,
    entries: &[LegendColour],
    top: f64,
) -> f64 {
    let columns = entries.len().div_ceil(LEGEND_ROWS).clamp(1, 3);
    let rows = entries.len().div_ceil(columns);
    let wide = (WIDTH - 2.0 * MARGIN) / columns as f64;
    let wide = if columns == 1 { wide * 0.6 } else { wide };
    for (i, entry) in entries.iter().enumerate() {
        let x = MARGIN + (i / rows) as f64 * wide;
        let y = top + (i % rows) as f64 * LEGEND_ROW;
        canvas.open_group("colour", &[]);
        let base = y + 3.6;
        canvas.text((x + 5.0, base), TEXT, (Anchor::End, Weight::Bold), INK, &(i + 1).to_string());
        let swatch =
            [(x + 6.5, y + 0.6), (x + 14.5, y + 0.6), (x + 14.5, y + 4.6), (x + 6.5, y + 4.6)];
        let fill = match entry.paint {
            Some(p) => Fill::Shade(sheet.coloured.palette.colours[usize::from(p)].shade),
            None => Fill::Hatched,
        };
        canvas.areas([&swatch[..]], fill, Some((INK, 0.25)));
        let figures = entry.figures();
        let figures_wide = text_width(&figures, TEXT, Weight::Regular);
        canvas.text((x + wide - 6.0, base), TEXT, (Anchor::End, Weight::Regular), INK, &figures);
        let room = wide - 6.0 - 16.5 - figures_wide - 2.0;
        let name = fitted(&entry.name, TEXT, room, Weight::Regular);
        canvas.text((x + 16.5, base), TEXT, (Anchor::Start, Weight::Regular), INK, &name);
        canvas.close_group();
    }
    top + rows as f64 * LEGEND_ROW
}

/// The picture of one size.
pub fn stripes(sheet: &StripesSheet<'_>, unit: LengthUnit) -> Drawing {
    let mut canvas = Canvas::new();
    let wide = WIDTH - 2.0 * MARGIN;
    let title = fitted(&sheet.title, 5.0, wide, Weight::Bold);
    canvas.text((MARGIN, 11.0), 5.0, (Anchor::Start, Weight::Bold), INK, &title);
    let views = sheet.laid();
    let entries = sheet.entries();
    let layout = lay_out(&views, (wide, VIEWS_HIGH), VIEW_TITLE, GAP);
    let top = 16.0;
    for (view, at) in views.iter().zip(&layout.at) {
        let (w, _) = size_of(view);
        let at = (MARGIN + at.0, top + at.1);
        let row_top = at.1;
        let words = fitted(&view.title, 3.6, wide, Weight::Bold);
        canvas.text(
            (at.0 + w * layout.scale / 2.0, row_top - 2.2),
            3.6,
            (Anchor::Middle, Weight::Bold),
            INK,
            &words,
        );
        draw_view(&mut canvas, view, sheet.coloured, (at, layout.scale), Some(&entries));
    }
    let y = top + layout.size.1 + 7.0;
    draw_bar(&mut canvas, unit, layout.scale, y);
    let y = draw_legend(&mut canvas, sheet, &entries, y + 4.0) + 3.0;
    let y = draw_notes(&mut canvas, sheet, &entries, y);
    let about = sheet.about(&views);
    canvas.finish(&format!("How the stripes fall: {}", sheet.title), &about, WIDTH, y + MARGIN)
}

/// The paper of the garment alone, in mm: its words can be read on a phone.
const ALONE: f64 = 120.0;
const ALONE_HIGH: f64 = 100.0;
const ALONE_MARGIN: f64 = 2.0;
/// The same as small as a stamp.
const STAMP: f64 = 60.0;
const STAMP_HIGH: f64 = 42.0;
/// Hundredths of a millimetre to which it is drawn.
const STAMP_STEP: i64 = 8;

/// The garment of the picture alone, with its numbers; what stands beside it, others say.
pub fn worn(sheet: &StripesSheet<'_>) -> Drawing {
    let mut canvas = Canvas::new();
    let views = sheet.laid();
    let entries = sheet.entries();
    let wide = ALONE - 2.0 * ALONE_MARGIN;
    let layout = lay_out(&views, (wide, ALONE_HIGH), VIEW_TITLE, GAP);
    for (view, at) in views.iter().zip(&layout.at) {
        let (w, _) = size_of(view);
        let at = (ALONE_MARGIN + at.0, at.1);
        if views.len() > 1 {
            let words = fitted(&view.title, 3.6, wide, Weight::Bold);
            let middle = at.0 + w * layout.scale / 2.0;
            let above = (Anchor::Middle, Weight::Bold);
            canvas.text((middle, at.1 - 2.2), 3.6, above, INK, &words);
        }
        draw_view(&mut canvas, view, sheet.coloured, (at, layout.scale), Some(&entries));
    }
    let title = format!("How the stripes fall: {}", sheet.title);
    canvas.finish(&title, &sheet.about(&views), ALONE, layout.size.1 + ALONE_MARGIN)
}

/// The garment as small as a stamp, without words on it.
pub fn stamp(sheet: &StripesSheet<'_>) -> Drawing {
    let mut canvas = Canvas::coarse(STAMP_STEP);
    let views = sheet.laid();
    let views = &views[..views.len().min(2)];
    let wide = STAMP - 2.0 * ALONE_MARGIN;
    let layout = lay_out(views, (wide, STAMP_HIGH - 2.0 * ALONE_MARGIN), 0.0, 4.0);
    let down = (STAMP_HIGH - layout.size.1) / 2.0;
    for (view, at) in views.iter().zip(&layout.at) {
        let at = (ALONE_MARGIN + at.0, down + at.1);
        draw_view(&mut canvas, view, sheet.coloured, (at, layout.scale), None);
    }
    canvas.finish(&sheet.title, &sheet.about(views), STAMP, STAMP_HIGH)
}

/// How long ten centimetres are in the picture.
fn draw_bar(canvas: &mut Canvas, unit: LengthUnit, scale: f64, y: f64) {
    let (mm, words) = match unit {
        LengthUnit::Cm => (100.0, "10 cm"),
        LengthUnit::In => (4.0 * 25.4, "4 in"),
    };
    let bar = mm * scale;
    let right = WIDTH - MARGIN;
    canvas.line((right - bar, y), (right, y), Look::edged(INK, 0.4));
    for x in [right - bar, right] {
        canvas.line((x, y - 1.0), (x, y + 1.0), Look::edged(INK, 0.4));
    }
    let at = (right - bar - 2.0, y + 1.0);
    canvas.text(at, TEXT, (Anchor::End, Weight::Regular), QUIET, words);
}

/// How much yarn, which balls, and what else is to be told; gives where it ends.
fn draw_notes(
    canvas: &mut Canvas,
    sheet: &StripesSheet<'_>,
    entries: &[LegendColour],
    mut y: f64,
) -> f64 {
    canvas.open_group("notes", &[]);
    let whole: f64 = entries.iter().map(|e| e.mm).sum();
    let mut lines = vec![format!(
        "{} of yarn in all, tails and sewing counted. Colours are numbered in the order in which they are first used.",
        metres(whole)
    )];
    lines.extend(sheet.ball_lines());
    lines.extend(sheet.notes.iter().cloned());
    for line in lines.iter().flat_map(|line| wrapped(line, TEXT, WIDTH - 2.0 * MARGIN)) {
        y += 4.4;
        canvas.text((MARGIN, y), TEXT, (Anchor::Start, Weight::Regular), INK, &line);
    }
    canvas.close_group();
    y
}

/// Several ways to colour a garment, small, each with its caption.
pub fn contact_sheet(title: &str, alternatives: &[(StripesSheet<'_>, Vec<String>)]) -> Drawing {
    let mut canvas = Canvas::new();
    let wide = WIDTH - 2.0 * MARGIN;
    canvas.text(
        (MARGIN, 11.0),
        5.0,
        (Anchor::Start, Weight::Bold),
        INK,
        &fitted(title, 5.0, wide, Weight::Bold),
    );
    let columns = match alternatives.len() {
        0..=2 => 2,
        3..=9 => 3,
        _ => 4,
    };
    let cell = wide / columns as f64;
    let inner = cell - 6.0;
    let laid: Vec<Vec<LaidView>> = alternatives.iter().map(|(sheet, _)| sheet.laid()).collect();
    let layouts: Vec<ViewLayout> =
        laid.iter().map(|views| lay_out(views, (inner, inner * 0.9), 0.0, 3.0)).collect();
    let high = layouts.iter().map(|l| l.size.1).fold(0.0, f64::max);
    let mut about = Vec::new();
    let mut y = 15.0;
    for (first, row) in alternatives.chunks(columns).enumerate() {
        let captions = row.iter().map(|(_, lines)| lines.len()).max().unwrap_or(0);
        for (nth, (sheet, lines)) in row.iter().enumerate() {
            let x = MARGIN + nth as f64 * cell + 3.0;
            canvas.open_group("alternative", &[("caption", lines.join("; "))]);
            let (views, layout) = (&laid[first * columns + nth], &layouts[first * columns + nth]);
            let down = (high - layout.size.1) / 2.0;
            for (view, at) in views.iter().zip(&layout.at) {
                let at = (x + at.0, y + down + at.1);
                draw_view(&mut canvas, view, sheet.coloured, (at, layout.scale), None);
            }
            for (i, line) in lines.iter().enumerate() {
                let weight = if i == 0 { Weight::Bold } else { Weight::Regular };
                canvas.text(
                    (x + inner / 2.0, y + high + 4.5 + 4.0 * i as f64),
                    TEXT,
                    (Anchor::Middle, weight),
                    INK,
                    &fitted(line, 3.0, cell - 2.0, weight),
                );
            }
            canvas.close_group();
            about.push(lines.join(", "));
        }
        y += high + 6.0 + 4.0 * captions as f64 + 2.0;
    }
    canvas.finish(title, &about.join(". "), WIDTH, y + 2.0)
}
