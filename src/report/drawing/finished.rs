//! A finished picture, and cutting one across.

use super::numbers::{Mm, escape};
use super::typeface::FAMILY;

/// The id of the hatching, in a picture that needs it.
pub(super) const HATCHING: &str = "hatching";

/// A finished picture: its size on paper and its SVG elements.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// One line, read out in place of the picture.
    pub title: String,
    /// What it shows, for who can't see it.
    pub about: String,
    pub width_mm: f64,
    pub height_mm: f64,
    pub(super) elements: String,
    /// Heights at which it may be cut across without cutting through anything, from the top.
    pub(super) cuts: Vec<f64>,
}

impl Drawing {
    /// The same, with the heights at which it may be cut, in any order.
    pub fn with_cuts(mut self, cuts: impl IntoIterator<Item = f64>) -> Drawing {
        self.cuts = cuts.into_iter().filter(|y| (0.0..self.height_mm).contains(y)).collect();
        self.cuts.sort_by(f64::total_cmp);
        self
    }

    /// The same with its words said otherwise; what is drawn stays.
    pub(crate) fn map_texts(&self, say: impl Fn(&str) -> String) -> Drawing {
        // Between a tag's end and the next tag's beginning are words; within a tag are none.
        let mut elements = String::with_capacity(self.elements.len());
        for (nth, part) in self.elements.split('<').enumerate() {
            if nth > 0 {
                elements.push('<');
            }
            let (tag, text) = part.split_at(part.rfind('>').map_or(0, |at| at + 1));
            elements.push_str(tag);
            elements.push_str(&say(text));
        }
        Drawing { title: say(&self.title), about: say(&self.about), elements, ..self.clone() }
    }

    /// Cut across into parts of at most `tallest_mm`, from the top, where it may be cut; a part that may
    /// not be cut stays taller.
    pub fn parts(&self, tallest_mm: f64) -> Vec<Drawing> {
        let mut parts = Vec::new();
        let mut from = 0.0;
        while self.height_mm - from > tallest_mm {
            let last = self.cuts.iter().rev().find(|y| **y > from && **y - from <= tallest_mm);
            // What can't be cut low enough is a part of its own, and the others are not taller for it.
            let next = || self.cuts.iter().find(|y| **y > from);
            let Some(to) = last.or_else(next) else { break };
            parts.push(self.part(from, *to));
            from = *to;
        }
        if parts.is_empty() {
            return vec![self.clone()];
        }
        parts.push(self.part(from, self.height_mm));
        parts
    }

    /// The same number of parts, cut so that the tallest is as low as can be: none is a strip beside a full
    /// one.
    pub fn even_parts(&self, tallest_mm: f64) -> Vec<Drawing> {
        let all = self.parts(tallest_mm);
        let (mut least, mut most) = (self.height_mm / all.len() as f64, tallest_mm);
        let mut best = all;
        // To a tenth of a millimetre of a page.
        for _ in 0..12 {
            let tried = (least + most) / 2.0;
            let parts = self.parts(tried);
            if parts.len() <= best.len() && parts.iter().all(|part| part.height_mm <= tried) {
                (best, most) = (parts, tried);
            } else {
                least = tried;
            }
        }
        best
    }

    fn part(&self, from: f64, to: f64) -> Drawing {
        let (width, height) = (Mm(self.width_mm), Mm(to - from));
        Drawing {
            height_mm: to - from,
            elements: format!(
                "<svg width=\"{width}\" height=\"{height}\" viewBox=\"0 {} {width} {height}\">\n{}</svg>\n",
                Mm(from),
                self.elements
            ),
            cuts: Vec::new(),
            ..self.clone()
        }
    }

    /// The whole file. White behind, so that it reads on any page.
    pub fn svg(&self) -> String {
        let (w, h) = (Mm(self.width_mm), Mm(self.height_mm));
        let hatching = if self.elements.contains("url(#hatching)") {
            format!(
                "<defs><pattern id=\"{HATCHING}\" width=\"1.4\" height=\"1.4\" \
                 patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
                 <rect width=\"1.4\" height=\"1.4\" fill=\"#ffffff\"/>\
                 <rect width=\"0.35\" height=\"1.4\" fill=\"#404040\"/></pattern></defs>\n"
            )
        } else {
            String::new()
        };
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" \
             viewBox=\"0 0 {w} {h}\" role=\"img\" font-family=\"'{FAMILY}', sans-serif\">\n\
             <title>{}</title>\n<desc>{}</desc>\n{hatching}\
             <rect width=\"{w}\" height=\"{h}\" fill=\"#ffffff\"/>\n{}</svg>\n",
            escape(&self.title),
            escape(&self.about),
            self.elements
        )
    }
}
