//! The marks for what is done by hand, and the arrow of the carriage.

use crate::drawing::shades::{INK, PAPER};
use crate::drawing::{Canvas, Look};
use knit::needle::Side;
use knit::run::{Deed, NeedleEvent};

pub(super) const MARK: f64 = 2.0;

/// A number behind a mark: loops hung together.
pub(super) fn count_of(event: &NeedleEvent) -> Option<String> {
    (event.deed == Deed::Hang && event.loops > 1).then(|| event.loops.to_string())
}

/// Which way the carriage goes.
pub(super) fn arrow(canvas: &mut Canvas, (x, y): (f64, f64), from: Side) {
    let way = if from == Side::Left { 1.0 } else { -1.0 };
    canvas.line((x - 1.6 * way, y), (x + 0.5 * way, y), Look::edged(INK, 0.3));
    let head = [(x + 1.6 * way, y), (x + 0.2 * way, y - 0.75), (x + 0.2 * way, y + 0.75)];
    canvas.polygon(&head, Look::filled(INK));
}

/// A stitch leaning inwards.
pub(super) fn slant(canvas: &mut Canvas, (x, y): (f64, f64), inwards: f64) {
    let h = MARK / 2.0;
    canvas.line((x - 0.5 * inwards, y + h), (x + 0.5 * inwards, y - h), Look::edged(INK, 0.55));
}

/// A mark on one needle.
pub(super) fn mark(canvas: &mut Canvas, deed: Deed, (x, y): (f64, f64), loops: u32) {
    let h = MARK / 2.0;
    let open = Look::filled(PAPER).and_edge(INK, 0.3);
    let full = Look::filled(INK).and_edge(INK, 0.3);
    let up = [(x, y - h), (x + h, y + 0.8 * h), (x - h, y + 0.8 * h)];
    match deed {
        Deed::Hold => canvas.rect(x - 0.75 * h, y - 0.75 * h, 1.5 * h, 1.5 * h, open),
        Deed::Return => canvas.rect(x - 0.75 * h, y - 0.75 * h, 1.5 * h, 1.5 * h, full),
        Deed::Wrap => {
            canvas.circle(x, y, 0.85 * h, open);
            canvas.circle(x, y, 0.3 * h, Look::filled(INK));
        }
        Deed::Hang => canvas.polygon(&up, if loops == 0 { open } else { full }),
        Deed::Rehang => {
            let wedge = [(x, y - h), (x + 0.7 * h, y), (x, y + h), (x - 0.7 * h, y)];
            canvas.polygon(&wedge, full);
        }
        Deed::Transfer => canvas.circle(x, y, 0.85 * h, open),
        Deed::PickUp => {
            let wedge = [(x, y - h), (x + 0.7 * h, y), (x, y + h), (x - 0.7 * h, y)];
            canvas.polygon(&wedge, open);
        }
        Deed::LatchUp => {
            for x in [x - 0.4 * h, x + 0.4 * h] {
                canvas.line((x, y - h), (x, y + h), Look::edged(INK, 0.5));
            }
        }
        Deed::ToRib => {
            let down = [(x, y + h), (x + h, y - 0.8 * h), (x - h, y - 0.8 * h)];
            canvas.polygon(&down, open);
        }
        Deed::TransferToMain => {
            let down = [(x, y + h), (x + h, y - 0.8 * h), (x - h, y - 0.8 * h)];
            canvas.polygon(&down, full);
        }
        _ => {
            canvas.line((x - h, y), (x + h, y), Look::edged(INK, 0.5));
            canvas.line((x, y - h), (x, y + h), Look::edged(INK, 0.5));
        }
    }
}

/// How an edge is made, from end to end.
pub(super) fn edge_mark(canvas: &mut Canvas, deed: Deed, (a, b): (f64, f64), y: f64, cell: f64) {
    let beads = ((b - a) / cell.max(1.8)).round().max(1.0) as u32;
    let at = |nth: u32| a + (b - a) * (f64::from(nth) + 0.5) / f64::from(beads);
    match deed {
        Deed::CastOn => {
            canvas.line((a, y + 0.7), (b, y + 0.7), Look::edged(INK, 0.5));
            for nth in 0..beads {
                canvas.line((at(nth), y + 0.7), (at(nth), y - 0.7), Look::edged(INK, 0.3));
            }
        }
        Deed::ScrapOff => {
            for nth in 0..beads {
                canvas.circle(at(nth), y, 0.55, Look::filled(PAPER).and_edge(INK, 0.28));
            }
        }
        _ => {
            for y in [y - 0.5, y + 0.5] {
                canvas.line((a, y), (b, y), Look::edged(INK, 0.4));
            }
            for x in [a, b] {
                canvas.line((x, y - 1.0), (x, y + 1.0), Look::edged(INK, 0.4));
            }
        }
    }
}
