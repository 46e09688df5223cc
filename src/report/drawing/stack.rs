//! Pictures one below the other.

use super::{Canvas, Drawing};

const GAP_MM: f64 = 8.0;

/// One picture of several, each at its own size, from the top down.
pub fn stacked(title: &str, drawings: &[Drawing]) -> Drawing {
    let mut canvas = Canvas::new();
    let mut y = 0.0;
    let mut width: f64 = 0.0;
    let mut about: Vec<&str> = Vec::new();
    for (i, drawing) in drawings.iter().enumerate() {
        if i > 0 {
            y += GAP_MM;
        }
        canvas.place(drawing, (0.0, y), 1.0);
        y += drawing.height_mm;
        width = width.max(drawing.width_mm);
        about.push(&drawing.about);
    }
    canvas.finish(title, &about.join(" "), width, y)
}
