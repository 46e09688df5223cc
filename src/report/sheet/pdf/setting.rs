//! Text and boxes as ink.

use super::ink::{Ink, InkShape, LEADING, RISE, SMALL};
use super::lines::{SetWords, lines};
use crate::drawing::{Weight, text_width};
use crate::sheet::Ticks;

/// Text in lines at a place; gives its height.
pub(super) fn set<'a>(
    texts: &[(&str, Weight)],
    size: f64,
    width: f64,
    x: f64,
    y: f64,
    element: usize,
) -> (f64, Vec<Ink<'a>>) {
    let set = lines(texts, size, width);
    let step = size * LEADING;
    let mut ink = Vec::new();
    let last = set.len() - 1;
    for (i, line) in set.iter().enumerate() {
        let end = line.len().saturating_sub(1);
        for (j, words) in line.iter().enumerate() {
            let SetWords { x: along, text, weight } = words;
            // The blank at the line's end is there for who copies or listens.
            let blank = if i < last && j == end { " " } else { "" };
            let shape = InkShape::Text { size, weight: *weight, text: format!("{text}{blank}") };
            let y = y + i as f64 * step + size * RISE;
            ink.push(Ink { x: x + along, y, shape, element: Some(element) });
        }
    }
    (set.len() as f64 * step, ink)
}

/// A row of boxes with the figures behind them, on as many lines as it takes.
pub(super) fn ticks<'a>(row: &Ticks, x: f64, width: f64) -> (f64, Vec<Ink<'a>>) {
    const SIDE: f64 = 8.5;
    const GAP: f64 = 3.2;
    const FIGURES: f64 = SMALL;
    const LINE: f64 = 14.0;
    let mut ink = Vec::new();
    let (mut along, mut y) = (0.0, 2.0);
    let figure = |ink: &mut Vec<Ink<'a>>, along: &mut f64, y: f64, text: String| {
        let wide = text_width(&text, FIGURES, Weight::Regular);
        let shape = InkShape::Text { size: FIGURES, weight: Weight::Regular, text };
        ink.push(Ink { x: x + *along, y: y + 7.6, shape, element: None });
        *along += wide + 5.0;
    };
    let mut before = row.label.clone();
    if row.each > 1 {
        let tens = format!("a box for each {} rounds", row.each);
        before = if before.is_empty() { tens } else { format!("{before}, {tens}") };
    }
    if !before.is_empty() {
        figure(&mut ink, &mut along, y, format!("{before}:"));
    }
    let indent = along;
    for group in row.groups() {
        // Boxes stay with the figure that counts them.
        let told = group.last().and_then(|tick| tick.done).map(|done| done.to_string());
        let told = told.unwrap_or_default();
        let needed =
            group.len() as f64 * (SIDE + GAP) + text_width(&told, FIGURES, Weight::Regular);
        if along > indent && along + needed > width {
            along = indent;
            y += LINE;
        }
        for _ in group {
            ink.push(Ink { x: x + along, y, shape: InkShape::Tick { side: SIDE }, element: None });
            along += SIDE + GAP;
        }
        figure(&mut ink, &mut along, y, told);
    }
    (y + LINE, ink)
}
