//! What pictures are drawn on.

use std::fmt::Write as _;

use super::finished::{Drawing, HATCHING};
use super::numbers::{Mm, escape, short};
use super::typeface::Weight;
use knit::colours::Shade;

/// Right of and below a picture's top left corner, in mm.
pub type Point = (f64, f64);

/// What an area is filled with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fill {
    Shade(Shade),
    /// Slanted lines: there is nothing to fill it with.
    Hatched,
    Clear,
}

/// Where a picture is drawn. Elements come out in the order they are put on.
#[derive(Debug, Default)]
pub struct Canvas {
    elements: String,
    /// Hundredths of a millimetre to which areas are drawn, where that is more than one.
    coarse: i64,
}

/// How a shape is filled and edged.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Look {
    pub fill: Option<Shade>,
    /// Shade and width in mm.
    pub edge: Option<(Shade, f64)>,
    /// Lengths in mm of dash and gap.
    pub dash: Option<(f64, f64)>,
    /// A word that tells what the shape stands for: becomes its class.
    pub class: Option<&'static str>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

impl Look {
    pub fn filled(fill: Shade) -> Look {
        Look { fill: Some(fill), ..Look::default() }
    }

    pub fn edged(edge: Shade, width_mm: f64) -> Look {
        Look { edge: Some((edge, width_mm)), ..Look::default() }
    }

    pub fn and_edge(self, edge: Shade, width_mm: f64) -> Look {
        Look { edge: Some((edge, width_mm)), ..self }
    }

    pub fn dashed(self, dash_mm: f64, gap_mm: f64) -> Look {
        Look { dash: Some((dash_mm, gap_mm)), ..self }
    }

    pub fn class(self, class: &'static str) -> Look {
        Look { class: Some(class), ..self }
    }
}

impl Canvas {
    pub fn new() -> Canvas {
        Canvas::default()
    }

    /// Draws areas to so many hundredths of a millimetre: a small picture is a small file.
    pub(super) fn coarse(hundredths: i64) -> Canvas {
        Canvas { coarse: hundredths, ..Canvas::default() }
    }

    // Writing to a string can't fail: the results of `write!` are left aside.
    fn look(&mut self, look: Look) {
        let out = &mut self.elements;
        if let Some(class) = look.class {
            let _ = write!(out, " class=\"{class}\"");
        }
        let _ = match look.fill {
            Some(fill) => write!(out, " fill=\"{fill}\""),
            None => write!(out, " fill=\"none\""),
        };
        if let Some((edge, width)) = look.edge {
            let _ = write!(out, " stroke=\"{edge}\" stroke-width=\"{}\"", Mm(width));
        }
        if let Some((dash, gap)) = look.dash {
            let _ = write!(out, " stroke-dasharray=\"{} {}\"", Mm(dash), Mm(gap));
        }
        out.push_str("/>\n");
    }

    pub fn rect(&mut self, x: f64, y: f64, width: f64, height: f64, look: Look) {
        let _ = write!(
            self.elements,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"",
            Mm(x),
            Mm(y),
            Mm(width),
            Mm(height)
        );
        self.look(look);
    }

    pub fn circle(&mut self, x: f64, y: f64, radius: f64, look: Look) {
        let _ =
            write!(self.elements, "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"", Mm(x), Mm(y), Mm(radius));
        self.look(look);
    }

    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), look: Look) {
        let _ = write!(
            self.elements,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"",
            Mm(from.0),
            Mm(from.1),
            Mm(to.0),
            Mm(to.1)
        );
        self.look(look);
    }

    /// A closed outline through the points.
    pub fn polygon(&mut self, points: &[(f64, f64)], look: Look) {
        self.elements.push_str("<polygon points=\"");
        for (i, (x, y)) in points.iter().enumerate() {
            let gap = if i == 0 { "" } else { " " };
            let _ = write!(self.elements, "{gap}{},{}", Mm(*x), Mm(*y));
        }
        self.elements.push('"');
        self.look(look);
    }

    /// A smooth line through the points, open at both ends: a thread.
    pub fn curve(&mut self, points: &[Point], look: Look) {
        let Some((first, _)) = points.split_first() else { return };
        let out = &mut self.elements;
        let _ = write!(out, "<path d=\"M{} {}", Mm(first.0), Mm(first.1));
        for nth in 1..points.len() {
            // Catmull and Rom's curve: each point's direction is that of its two neighbours.
            let at = |n: usize| points[n.min(points.len() - 1)];
            let (before, from, to, after) =
                (at(nth.saturating_sub(2)), at(nth - 1), at(nth), at(nth + 1));
            let leaves = (from.0 + (to.0 - before.0) / 6.0, from.1 + (to.1 - before.1) / 6.0);
            let comes = (to.0 - (after.0 - from.0) / 6.0, to.1 - (after.1 - from.1) / 6.0);
            let all = [leaves, comes, to];
            let _ = write!(out, "C");
            for (i, (x, y)) in all.iter().enumerate() {
                let gap = if i == 0 { "" } else { " " };
                let _ = write!(out, "{gap}{} {}", Mm(*x), Mm(*y));
            }
        }
        out.push_str("\" stroke-linecap=\"round\" stroke-linejoin=\"round\"");
        self.look(look);
    }

    /// Lines given as the data of a path: more of them than there is room for as elements.
    pub(super) fn strands(&mut self, d: &str, look: Look) {
        let _ = write!(self.elements, "<path d=\"{d}\" stroke-linejoin=\"round\"");
        self.look(look);
    }

    /// Level strokes from `x` to `x` at one height, as one element: a line of a chart.
    pub fn strokes(&mut self, y: f64, runs: &[(f64, f64)], look: Look) {
        if runs.is_empty() {
            return;
        }
        self.elements.push_str("<path d=\"");
        for (from, to) in runs {
            let _ = write!(self.elements, "M{} {}H{}", Mm(*from), Mm(y), Mm(*to));
        }
        self.elements.push('"');
        self.look(look);
    }

    /// Closed outlines of one fill as one element, to a hundredth of a millimetre. With an edge in
    /// the fill's own shade, neighbours leave no hairline of background between them.
    pub fn areas<'p>(
        &mut self,
        outlines: impl IntoIterator<Item = &'p [Point]>,
        fill: Fill,
        edge: Option<(Shade, f64)>,
    ) {
        let out = &mut self.elements;
        out.push_str("<path d=\"");
        let step = self.coarse.max(1);
        let hundredths = |v: f64| (v * 100.0 / step as f64).round() as i64 * step;
        let mut pen: (i64, i64) = (0, 0);
        for outline in outlines {
            let points = outline.iter().map(|(x, y)| (hundredths(*x), hundredths(*y)));
            for (i, to) in corners(points).into_iter().enumerate() {
                if i == 1 {
                    out.push('l');
                } else if i == 0 {
                    out.push('M');
                    pen = (0, 0);
                }
                short(out, to.0 - pen.0, i < 2);
                short(out, to.1 - pen.1, false);
                pen = to;
            }
            out.push('Z');
        }
        let _ = match fill {
            Fill::Shade(shade) => write!(out, "\" fill=\"{shade}\""),
            Fill::Hatched => write!(out, "\" fill=\"url(#{HATCHING})\""),
            Fill::Clear => write!(out, "\" fill=\"none\""),
        };
        if let Some((edge, width)) = edge {
            let _ = write!(
                out,
                " stroke=\"{edge}\" stroke-width=\"{}\" stroke-linejoin=\"round\"",
                Mm(width)
            );
        }
        out.push_str("/>\n");
    }

    /// A piece of a ring round a centre, from one angle to another, in degrees clockwise from
    /// twelve o'clock; `inner` may be nought. A full round is drawn as two halves.
    pub fn ring(
        &mut self,
        centre: (f64, f64),
        (inner, outer): (f64, f64),
        (from, to): (f64, f64),
        look: Look,
    ) {
        if to - from > 359.999 {
            let half = (from + to) / 2.0;
            self.ring(centre, (inner, outer), (from, half), look);
            self.ring(centre, (inner, outer), (half, to), look);
            return;
        }
        let at = |radius: f64, degrees: f64| {
            let (sin, cos) = degrees.to_radians().sin_cos();
            (centre.0 + radius * sin, centre.1 - radius * cos)
        };
        let large = u8::from(to - from > 180.0);
        let ((ax, ay), (bx, by)) = (at(outer, from), at(outer, to));
        let out = &mut self.elements;
        let _ = write!(
            out,
            "<path d=\"M{} {}A{r} {r} 0 {large} 1 {} {}",
            Mm(ax),
            Mm(ay),
            Mm(bx),
            Mm(by),
            r = Mm(outer)
        );
        if inner > 0.0 {
            let ((cx, cy), (dx, dy)) = (at(inner, to), at(inner, from));
            let _ = write!(
                out,
                "L{} {}A{r} {r} 0 {large} 0 {} {}Z\"",
                Mm(cx),
                Mm(cy),
                Mm(dx),
                Mm(dy),
                r = Mm(inner)
            );
        } else {
            let _ = write!(out, "L{} {}Z\"", Mm(centre.0), Mm(centre.1));
        }
        self.look(look);
    }

    /// A line of text; `y` is its baseline and `size` its em, in mm.
    pub fn text(
        &mut self,
        (x, y): (f64, f64),
        size: f64,
        (anchor, weight): (Anchor, Weight),
        ink: Shade,
        text: &str,
    ) {
        let _ = write!(
            self.elements,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"{ink}\"",
            Mm(x),
            Mm(y),
            Mm(size)
        );
        self.elements.push_str(match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        });
        if weight == Weight::Bold {
            self.elements.push_str(" font-weight=\"700\"");
        }
        let _ = writeln!(self.elements, ">{}</text>", escape(text));
    }

    /// Opens a group, with data for who reads the file: `data-NAME="value"`. Close it.
    pub fn open_group(&mut self, class: &str, data: &[(&str, String)]) {
        let _ = write!(self.elements, "<g class=\"{}\"", escape(class));
        for (name, value) in data {
            let _ = write!(self.elements, " data-{name}=\"{}\"", escape(value));
        }
        self.elements.push_str(">\n");
    }

    /// Opens a group that is moved, scaled and turned by degrees clockwise, in that order.
    pub fn open_placed(&mut self, (x, y): (f64, f64), scale: f64, turn: f64) {
        let _ = write!(self.elements, "<g transform=\"translate({} {})", Mm(x), Mm(y));
        if scale != 1.0 {
            let _ = write!(self.elements, " scale({scale:.5})");
        }
        if turn != 0.0 {
            let _ = write!(self.elements, " rotate({})", Mm(turn));
        }
        self.elements.push_str("\">\n");
    }

    pub fn close_group(&mut self) {
        self.elements.push_str("</g>\n");
    }

    /// Puts another picture on this one, its top left corner at `at`.
    pub fn place(&mut self, drawing: &Drawing, at: (f64, f64), scale: f64) {
        self.open_placed(at, scale, 0.0);
        self.elements.push_str(&drawing.elements);
        self.close_group();
    }

    pub fn finish(self, title: &str, about: &str, width_mm: f64, height_mm: f64) -> Drawing {
        Drawing {
            title: title.to_owned(),
            about: about.to_owned(),
            width_mm,
            height_mm,
            elements: self.elements,
            cuts: Vec::new(),
        }
    }
}

/// Of points along an outline those where it turns: what lies on the last one, or on the way to the next, only
/// makes a picture heavy and slow to draw.
fn corners(points: impl Iterator<Item = (i64, i64)>) -> Vec<(i64, i64)> {
    let mut kept: Vec<(i64, i64)> = Vec::new();
    for to in points {
        if kept.last() == Some(&to) {
            continue;
        }
        if let [.., before, at] = kept[..] {
            let (a, b) = (at.0 - before.0, at.1 - before.1);
            let (c, d) = (to.0 - at.0, to.1 - at.1);
            if a * d == b * c && a * c + b * d > 0 {
                kept.pop();
            }
        }
        kept.push(to);
    }
    if kept.len() > 1 && kept.first() == kept.last() {
        kept.pop();
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_outline_has_its_corners_and_no_more() {
        let corners = |points: &[(i64, i64)]| corners(points.iter().copied());
        let square = [(0, 0), (4, 0), (4, 4), (0, 4)];
        let slow = [(0, 0), (1, 0), (1, 0), (3, 0), (4, 0), (4, 2), (4, 4), (4, 4), (0, 4), (0, 0)];
        assert_eq!(corners(&slow), square);
        // Where it goes back on itself it turns; a slant that rounds to another is one.
        assert_eq!(corners(&[(0, 0), (4, 0), (2, 0)]), [(0, 0), (4, 0), (2, 0)]);
        assert_eq!(corners(&[(0, 0), (2, 1), (4, 3)]), [(0, 0), (2, 1), (4, 3)]);
        assert_eq!(corners(&[(5, 5), (5, 5)]), [(5, 5)]);
    }

    #[test]
    fn numbers_are_short_and_never_minus_nought() {
        let show = |v: f64| Mm(v).to_string();
        assert_eq!(show(-0.0001), "0");
        assert_eq!(show(1.5), "1.5");
        assert_eq!(show(-12.3456), "-12.346");
        assert_eq!(show(0.07), "0.07");
        assert_eq!(show(1000.0), "1000");
    }

    #[test]
    fn hostile_words_stay_words() {
        let mut canvas = Canvas::new();
        let ink = "#000000".parse().expect("a shade");
        canvas.open_group("a\"b", &[("name", "<&>".to_owned())]);
        canvas.text((0.0, 0.0), 3.0, (Anchor::Start, Weight::Regular), ink, "</text>\u{0}<script>");
        canvas.close_group();
        let svg = canvas.finish("<t>", "&", 10.0, 10.0).svg();
        let parsed = roxmltree::Document::parse(&svg).expect("well formed");
        let text = parsed.descendants().find(|n| n.has_tag_name("text")).expect("there");
        assert_eq!(text.text(), Some("</text>\u{fffd}<script>"));
    }

    #[test]
    fn a_tall_picture_is_cut_where_it_may_be() {
        let drawing =
            Canvas::new().finish("t", "a", 10.0, 100.0).with_cuts([90.0, 30.0, 55.0, 70.0]);
        let heights = |tallest: f64| -> Vec<f64> {
            drawing.parts(tallest).iter().map(|part| part.height_mm).collect()
        };
        assert_eq!(heights(100.0), [100.0]);
        assert_eq!(heights(60.0), [55.0, 45.0]);
        assert_eq!(heights(40.0), [30.0, 40.0, 30.0]);
        // Where nothing may be cut within ten, the part is taller.
        assert_eq!(heights(10.0), [30.0, 25.0, 15.0, 20.0, 10.0]);
        let svg = drawing.parts(60.0)[1].svg();
        assert!(svg.contains("viewBox=\"0 55 10 45\""), "{svg}");
    }

    #[test]
    fn groups_are_placed() {
        let mut canvas = Canvas::new();
        canvas.open_placed((1.0, 2.0), 0.5, 90.0);
        canvas.close_group();
        canvas.open_placed((1.0, 2.0), 1.0, 0.0);
        canvas.close_group();
        let svg = canvas.finish("t", "a", 10.0, 10.0).svg();
        assert!(
            svg.contains("<g transform=\"translate(1 2) scale(0.50000) rotate(90)\">"),
            "{svg}"
        );
        assert!(svg.contains("<g transform=\"translate(1 2)\">"), "{svg}");
    }
}
