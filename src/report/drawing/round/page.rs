//! Sizes in the round on one page.

use std::collections::{BTreeMap, BTreeSet};

use knit::colours::Shade;
use knit::round::{Pose, ShapePart};
use units::LengthUnit;

use super::InRound;
use super::contour::contours;
use super::eye::{Eye, Side};
use super::raster::{Extent, Raster, Seen, Square, TONES};
use super::stretch::{self, STEPS};
use crate::drawing::canvas::{Anchor, Canvas, Fill, Look, Point};
use crate::drawing::finished::Drawing;
use crate::drawing::shades::{INK, QUIET, RULE};
use crate::drawing::typeface::{Weight, text_width};
use crate::round_mesh::Mesh;

/// What the colours of a still tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// The colours of the yarn.
    Yarn,
    /// How far the cloth is stretched, or how much of it is to spare.
    Stretch,
}

/// A still of a garment, its sizes side by side at one scale.
#[derive(Clone, Debug)]
pub struct RoundSheet<'r> {
    /// The garment's title.
    pub title: &'r str,
    /// At least one.
    pub sizes: Vec<InRound<'r>>,
    /// From where it is looked at.
    pub from: Side,
    /// How it lies.
    pub pose: Pose,
    /// What its colours tell.
    pub shown: Shown,
    /// What its measures are told in.
    pub unit: LengthUnit,
}

const PAGE_MM: f64 = 180.0;
const EDGE: f64 = 4.0;
/// Views are together at most so tall: with the words a still fits on a page of a sheet.
const TALLEST_MM: f64 = 175.0;
const GAP: f64 = 6.0;
const TEXT: f64 = 3.3;
const HEAD: f64 = 15.0;
/// Between two lines of text.
const LINE: f64 = 4.6;
/// Width of the squares that are looked at, on paper.
const SQUARE: f64 = 0.3;
/// Said under every still.
const MODEL: &str = "A picture of a model: where cloth would lie, not a promise.";

/// A part of a size, before it has a place.
struct View<'r> {
    size: usize,
    part: &'r ShapePart,
    cloth: Mesh,
    form: Option<Mesh>,
    extent: Extent,
}

/// A view with its left upper corner on paper, in mm.
struct Placed<'v, 'r> {
    view: &'v View<'r>,
    at: Point,
}

/// Views of a size stand together over its label.
struct Group {
    views: Vec<usize>,
    width: f64,
    height: f64,
}

impl RoundSheet<'_> {
    /// The still. Each number in it is rounded: the same shape is the same bytes.
    pub fn drawing(&self) -> Drawing {
        let eye = Eye::on(self.from);
        let views = self.views(eye);
        let (scale, placed, bottom) = self.laid_out(&views);
        let mut canvas = Canvas::new();
        self.heading(&mut canvas, scale);
        for place in &placed {
            self.draw_view(&mut canvas, eye, place, scale);
        }
        let mut base = self.labels(&mut canvas, &views, &placed, scale);
        base = self.legend(&mut canvas, base.max(bottom) + LINE + 1.0);
        canvas.text((EDGE, base), TEXT, (Anchor::Start, Weight::Regular), QUIET, MODEL);
        canvas.finish(&self.headline(), &self.about(&views), PAGE_MM, base + EDGE)
    }

    /// What it shows, line by line: what stands under the picture for who can't see it.
    pub fn lines(&self) -> Vec<String> {
        let mut lines = vec![format!("{}.", self.headline())];
        lines.extend(self.facts(&self.views(Eye::on(self.from))));
        lines.push(MODEL.to_owned());
        lines
    }

    fn views(&self, eye: Eye) -> Vec<View<'_>> {
        let mut views = Vec::new();
        for (size, own) in self.sizes.iter().enumerate() {
            for part in own.shape.parts.iter().filter(|part| !part.faces.is_empty()) {
                let cloth = Mesh::of_cloth(part);
                let form = part.form.as_ref().map(Mesh::of_form);
                let extent = Extent::of(eye, [&cloth]).with_some_of(eye, form.as_ref());
                views.push(View { size, part, cloth, form, extent });
            }
        }
        views
    }

    /// The scale at which all fits, where each view lies, and where the lowest ends.
    fn laid_out<'v, 'r>(&self, views: &'v [View<'r>]) -> (f64, Vec<Placed<'v, 'r>>, f64) {
        let mut scale = 1.0;
        loop {
            let groups = self.groups(views, scale);
            let (rows, height, width) = rows(&groups);
            // Smaller than this nothing is seen; a page is rather taller then.
            if (height <= TALLEST_MM && width <= PAGE_MM - 2.0 * EDGE) || scale < 0.02 {
                return self.placed(views, &groups, &rows, scale);
            }
            scale *= 0.94;
        }
    }

    fn groups(&self, views: &[View<'_>], scale: f64) -> Vec<Group> {
        let of_size = |size: usize| {
            let own = || views.iter().enumerate().filter(move |(_, view)| view.size == size);
            let sizes = own().map(|(_, view)| view.extent.size());
            let (mut width, mut height) = (0.0, 0.0f64);
            for (wide, high) in sizes {
                width += wide * scale + if width > 0.0 { GAP } else { 0.0 };
                height = height.max(high * scale);
            }
            let label = text_width(self.sizes[size].label, TEXT, Weight::Bold);
            let views = own().map(|(n, _)| n).collect();
            Group { views, width: f64::max(width, label), height }
        };
        (0..self.sizes.len()).map(of_size).collect()
    }

    fn placed<'v, 'r>(
        &self,
        views: &'v [View<'r>],
        groups: &[Group],
        rows: &[Vec<usize>],
        scale: f64,
    ) -> (f64, Vec<Placed<'v, 'r>>, f64) {
        let mut placed = Vec::new();
        let mut top = HEAD;
        for row in rows {
            let height = row.iter().map(|n| groups[*n].height).fold(0.0, f64::max);
            let wide: f64 = row.iter().map(|n| groups[*n].width + GAP).sum::<f64>() - GAP;
            let mut left = ((PAGE_MM - wide) / 2.0).max(EDGE);
            for group in row.iter().map(|n| &groups[*n]) {
                let own: f64 = group.views.iter().map(|n| views[*n].extent.size().0 * scale).sum();
                let gaps = GAP * (group.views.len().max(1) - 1) as f64;
                let mut x = left + (group.width - own - gaps) / 2.0;
                for view in group.views.iter().map(|n| &views[*n]) {
                    let (width, high) = view.extent.size();
                    // All stand on one line.
                    placed.push(Placed { view, at: (x, top + height - high * scale) });
                    x += width * scale + GAP;
                }
                left += group.width + GAP;
            }
            top += height + LINE + GAP;
        }
        (scale, placed, top - GAP)
    }

    fn heading(&self, canvas: &mut Canvas, scale: f64) {
        canvas.text((EDGE, 6.0), 4.6, (Anchor::Start, Weight::Bold), INK, self.title);
        let size =
            if scale < 0.995 { format!("1 : {:.1}", 1.0 / scale) } else { "life-size".into() };
        let words =
            format!("In the round, {}, seen {}; {size}", self.pose_words(), self.from.words());
        canvas.text((EDGE, 11.0), TEXT, (Anchor::Start, Weight::Regular), QUIET, &words);
    }

    fn draw_view(&self, canvas: &mut Canvas, eye: Eye, place: &Placed<'_, '_>, scale: f64) {
        let view = place.view;
        let mut raster = Raster::of(eye, view.extent, SQUARE / scale);
        if let Some(form) = &view.form {
            raster.put(form, Seen::Form, &[]);
        }
        raster.put(&view.cloth, Seen::Cloth, &self.marks(view));
        raster.shade_folds();
        let size = &self.sizes[view.size];
        canvas.open_group("in-the-round", &[("size", size.label.to_owned())]);
        let on_page = |outline: &Vec<Point>| -> Vec<Point> {
            let tenth = |mm: f64| (mm * 10.0).round() / 10.0;
            // The grid has a square of room round the view.
            let x = |squares: f64| tenth(place.at.0 + (squares - 1.0) * SQUARE);
            let y = |squares: f64| tenth(place.at.1 + (squares - 1.0) * SQUARE);
            outline.iter().map(|(c, r)| (x(*c), y(*r))).collect()
        };
        let outlines = contours(&raster.squares, raster.wide, Square::default());
        for (square, outlines) in &outlines {
            let outlines: Vec<Vec<Point>> = outlines.iter().map(on_page).collect();
            let shade = self.shade(size, *square);
            // In its own shade, so that no hairline of paper is left between neighbours.
            let edge = Some((shade, 0.12));
            canvas.areas(outlines.iter().map(Vec::as_slice), Fill::Shade(shade), edge);
        }
        let seen: Vec<Seen> = raster.squares.iter().map(|square| square.seen).collect();
        for (seen, outlines) in contours(&seen, raster.wide, Seen::Nothing) {
            let outlines: Vec<Vec<Point>> = outlines.iter().map(on_page).collect();
            let edge = if seen == Seen::Cloth { (INK, 0.2) } else { (RULE, 0.15) };
            canvas.areas(outlines.iter().map(Vec::as_slice), Fill::Clear, Some(edge));
        }
        canvas.close_group();
    }

    /// By point of the cloth: its paint, or the step of its stretch.
    fn marks(&self, view: &View<'_>) -> Vec<u16> {
        if self.shown == Shown::Stretch {
            return view.part.stretch.iter().map(|stretch| stretch::step_of(*stretch)).collect();
        }
        let size = &self.sizes[view.size];
        let is_own = |part: &ShapePart| std::ptr::eq(part, view.part);
        let nth = size.shape.parts.iter().position(is_own);
        let paints = nth.and_then(|nth| size.paints.get(nth));
        let mark = |paint: &Option<u16>| paint.unwrap_or(UNPAINTED);
        paints.map(|paints| paints.iter().map(mark).collect()).unwrap_or_default()
    }

    fn shade(&self, size: &InRound<'_>, square: Square) -> Shade {
        let light = f64::from(square.tone) / f64::from(TONES - 1);
        if square.seen == Seen::Form {
            // A skin of paper: light, and without a hue of its own.
            return toned(FORM, 0.86 + 0.16 * light);
        }
        if self.shown == Shown::Stretch {
            let step = &STEPS[usize::from(square.mark).min(STEPS.len() - 1)];
            // Little shade: lightness tells the stretch.
            return toned(step.shade, 0.92 + 0.12 * light);
        }
        let own = size.palette.colours.get(usize::from(square.mark)).map(|colour| colour.shade);
        toned(own.unwrap_or(BARE), 0.58 + 0.50 * light)
    }

    /// Under each size what it is called. Gives where the lowest stands.
    fn labels(
        &self,
        canvas: &mut Canvas,
        views: &[View<'_>],
        placed: &[Placed<'_, '_>],
        scale: f64,
    ) -> f64 {
        let mut lowest = HEAD;
        for (size, own) in self.sizes.iter().enumerate() {
            let of = || placed.iter().filter(|place| place.view.size == size);
            let right = |place: &Placed<'_, '_>| place.at.0 + place.view.extent.size().0 * scale;
            let left = of().map(|place| place.at.0).fold(f64::INFINITY, f64::min);
            let right = of().map(right).fold(0.0, f64::max);
            let low = of().map(|place| place.at.1 + place.view.extent.size().1 * scale);
            let base = low.fold(HEAD, f64::max) + LINE;
            let middle = if views.is_empty() { PAGE_MM / 2.0 } else { f64::midpoint(left, right) };
            let label = (Anchor::Middle, Weight::Bold);
            canvas.text((middle, base), TEXT, label, INK, own.label);
            lowest = lowest.max(base);
        }
        lowest
    }

    /// What the colours stand for, from `base` on. Gives the base line after it.
    fn legend(&self, canvas: &mut Canvas, base: f64) -> f64 {
        let entries: Vec<(Shade, String)> = match self.shown {
            Shown::Stretch => {
                STEPS.iter().map(|step| (step.shade, step.words.to_owned())).collect()
            }
            Shown::Yarn => self.colours().into_iter().map(|(name, shade)| (shade, name)).collect(),
        };
        let (mut x, mut y) = (EDGE, base);
        for (shade, words) in &entries {
            let width = 5.0 + text_width(words, TEXT, Weight::Regular) + 4.0;
            if x + width > PAGE_MM - EDGE && x > EDGE {
                (x, y) = (EDGE, y + LINE);
            }
            canvas.rect(
                x,
                y - 2.8,
                3.4,
                3.4,
                Look::filled(*shade).and_edge(RULE, 0.15).class("colour"),
            );
            canvas.text((x + 5.0, y), TEXT, (Anchor::Start, Weight::Regular), INK, words);
            x += width;
        }
        y + if entries.is_empty() { 0.0 } else { LINE + 0.6 }
    }

    /// The colours that some point of the cloth has, by name.
    fn colours(&self) -> Vec<(String, Shade)> {
        let mut seen = BTreeSet::new();
        let mut all: BTreeMap<usize, (String, Shade)> = BTreeMap::new();
        for size in &self.sizes {
            for paint in size.paints.iter().flatten() {
                let own = paint.and_then(|paint| size.palette.colours.get(usize::from(paint)));
                let (name, shade) = own.map_or((NO_YARN.to_owned(), BARE), |colour| {
                    (colour.name.clone(), colour.shade)
                });
                if seen.insert((name.clone(), shade)) {
                    // In the order of the palette; what has no yarn stands last.
                    let place = paint.map_or(usize::MAX / 2, usize::from);
                    let free = (place..).find(|place| !all.contains_key(place));
                    all.insert(free.unwrap_or(place), (name, shade));
                }
            }
        }
        all.into_values().collect()
    }

    fn pose_words(&self) -> &'static str {
        let on_form = self.sizes.iter().flat_map(|size| &size.shape.parts);
        match self.pose {
            Pose::Worn if on_form.clone().any(|part| part.form.is_some()) => "worn",
            Pose::Blocked if on_form.clone().any(|part| part.form.is_some()) => "on its plate",
            _ => "on nothing",
        }
    }

    fn headline(&self) -> String {
        let labels: Vec<&str> = self.sizes.iter().map(|size| size.label).collect();
        format!("{}, {}, in the round", self.title, labels.join(", "))
    }

    fn about(&self, views: &[View<'_>]) -> String {
        let mut words = self.facts(views);
        words.push(MODEL.to_owned());
        words.join(" ")
    }

    fn facts(&self, views: &[View<'_>]) -> Vec<String> {
        let pose = self.pose_words();
        let mut facts = vec![format!("Seen {}, {pose}.", self.from.words())];
        for (size, own) in self.sizes.iter().enumerate() {
            let of: Vec<&View<'_>> = views.iter().filter(|view| view.size == size).collect();
            let Some(first) = of.first() else { continue };
            let alone = Extent::of(Eye::on(self.from), [&first.cloth]).size();
            let parts = match of.len() {
                1 => String::new(),
                2 => ", two of them side by side, each".to_owned(),
                more => format!(", {more} parts, the first"),
            };
            let (wide, high) = (self.unit.show(alone.0), self.unit.show(alone.1));
            facts.push(format!("{}{parts}: as seen {wide} wide and {high} tall.", own.label));
            if self.shown == Shown::Stretch {
                facts.push(format!("{}.", stretch::told(own.shape)));
            }
            facts.extend(own.told.iter().map(|told| format!("{told}.")));
        }
        let colours: Vec<String> = self.colours().into_iter().map(|(name, _)| name).collect();
        if self.shown == Shown::Yarn && !colours.is_empty() {
            facts.push(format!("Colours: {}.", colours.join(", ")));
        }
        facts
    }
}

/// Rows of groups that fit beside each other, how tall they are together, and how wide the widest is.
fn rows(groups: &[Group]) -> (Vec<Vec<usize>>, f64, f64) {
    let mut rows: Vec<Vec<usize>> = Vec::new();
    let (mut width, mut widest) = (0.0, 0.0f64);
    for (n, group) in groups.iter().enumerate() {
        let more = width + GAP + group.width;
        match rows.last_mut().filter(|_| more <= PAGE_MM - 2.0 * EDGE) {
            Some(row) => {
                row.push(n);
                width = more;
            }
            None => {
                rows.push(vec![n]);
                width = group.width;
            }
        }
        widest = widest.max(width);
    }
    let tall = |row: &Vec<usize>| row.iter().map(|n| groups[*n].height).fold(0.0, f64::max);
    let height = rows.iter().map(|row| tall(row) + LINE + GAP).sum();
    (rows, height, widest)
}

/// The mark of a point without a colour.
const UNPAINTED: u16 = u16::MAX;
const NO_YARN: &str = "no yarn";
/// Cloth of no known colour.
const BARE: Shade = Shade { red: 0xd9, green: 0xd4, blue: 0xc7 };
/// What cloth lies on.
const FORM: Shade = Shade { red: 0xec, green: 0xe8, blue: 0xe2 };

/// Darker below 1, lighter above.
fn toned(shade: Shade, light: f64) -> Shade {
    let channel = |own: u8| {
        let own = f64::from(own);
        let lit = if light <= 1.0 { own * light } else { own + (255.0 - own) * (light - 1.0) };
        lit.round().clamp(0.0, 255.0) as u8
    };
    Shade { red: channel(shade.red), green: channel(shade.green), blue: channel(shade.blue) }
}
