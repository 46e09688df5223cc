//! What the shapes of a chart mean.

use super::marks::{MARK, edge_mark, mark, slant};
use super::{BLOCK, Chart, ChartLine, TEXT};
use crate::drawing::shades::{HELD, INK, MAIN_BED, RIBBER, RULE};
use crate::drawing::words::wrapped;
use crate::drawing::{Anchor, Canvas, Look, Weight};
use knit::run::Deed;

impl Chart<'_> {
    /// What the shapes of this chart mean, in two columns. Gives where it ends.
    pub(super) fn draw_key(&self, canvas: &mut Canvas, top: f64, width: f64) -> f64 {
        let mut deeds: Vec<Deed> = self.piece.events.iter().map(|e| e.deed).collect();
        deeds.sort_unstable();
        deeds.dedup();
        let on = |ribber: bool| self.piece.spans.iter().any(|s| s.ribber == ribber);
        let mut entries: Vec<(KeyEntry, &str)> = Vec::new();
        if on(false) {
            entries.push((KeyEntry::Main, "knitted on the main bed"));
        }
        if on(true) {
            entries.push((KeyEntry::Ribber, "knitted on the ribber: the upper half of a line"));
        }
        let held = |line: &ChartLine| match line {
            ChartLine::Row { held, .. } | ChartLine::Plain { held, .. } => !held.is_empty(),
            ChartLine::Hand { .. } => false,
        };
        if self.lines.iter().any(held) {
            entries.push((KeyEntry::Held, "held: keeps its loop and does not knit"));
        }
        entries.extend(deeds.into_iter().map(|deed| (KeyEntry::Done(deed), words_of(deed))));
        canvas.text((0.0, top), TEXT, (Anchor::Start, Weight::Bold), INK, "Key");
        let column = width / 2.0;
        let mut y = top + 4.6;
        for pair in entries.chunks(2) {
            let mut tall: f64 = 1.0;
            for (nth, (entry, words)) in pair.iter().enumerate() {
                let x = column * nth as f64;
                entry.draw(canvas, x, y - 0.9);
                let lines = wrapped(words, TEXT, column - 15.0);
                tall = tall.max(lines.len() as f64);
                for (i, line) in lines.iter().enumerate() {
                    let at = (x + 12.0, y + 3.4 * i as f64);
                    canvas.text(at, TEXT, (Anchor::Start, Weight::Regular), INK, line);
                }
            }
            y += 1.2 + 3.4 * tall;
        }
        y
    }
}

enum KeyEntry {
    Main,
    Ribber,
    Held,
    Done(Deed),
}

impl KeyEntry {
    fn draw(&self, canvas: &mut Canvas, x: f64, y: f64) {
        let run = [(x + 0.5, x + 10.0)];
        match self {
            KeyEntry::Main => canvas.strokes(y, &run, Look::edged(MAIN_BED, BLOCK)),
            KeyEntry::Ribber => {
                canvas.strokes(y - BLOCK / 4.0, &run, Look::edged(RIBBER, BLOCK / 2.0));
                let base = [(x + 0.5, y + BLOCK / 2.0), (x + 10.0, y + BLOCK / 2.0)];
                canvas.line(base[0], base[1], Look::edged(RULE, 0.15));
            }
            KeyEntry::Held => canvas.strokes(y, &run, Look::edged(HELD, 0.35)),
            KeyEntry::Done(deed) => match deed {
                Deed::CastOn | Deed::ScrapOff | Deed::CastOff => {
                    edge_mark(canvas, *deed, run[0], y, 2.0);
                }
                Deed::Decrease => {
                    slant(canvas, (x + 3.5, y), 1.0);
                    slant(canvas, (x + 7.0, y), -1.0);
                }
                Deed::Hold
                | Deed::Return
                | Deed::TransferToMain
                | Deed::Rehang
                | Deed::ToRib
                | Deed::LatchUp
                | Deed::PickUp => {
                    let (a, b) = (x + 1.8, x + 8.8);
                    let inset = MARK / 2.0;
                    canvas.line((a + inset, y), (b - inset, y), Look::edged(INK, 0.3));
                    mark(canvas, *deed, (a, y), 1);
                    mark(canvas, *deed, (b, y), 1);
                }
                Deed::Hang => {
                    mark(canvas, *deed, (x + 3.5, y), 1);
                    mark(canvas, *deed, (x + 7.0, y), 0);
                }
                deed => mark(canvas, *deed, (x + 5.3, y), 1),
            },
        }
    }
}

fn words_of(deed: Deed) -> &'static str {
    match deed {
        Deed::CastOn => "cast on these needles",
        Deed::Hold => "push to holding position",
        Deed::Return => "bring back from holding: they knit again",
        Deed::Wrap => "lay the yarn under this held needle",
        Deed::Hang => "hang a waiting loop here (a number: so many; open: none this time)",
        Deed::Rehang => "hang waiting loops back on these needles",
        Deed::TransferToMain => "move the ribber's loops to the main bed",
        Deed::Decrease => "work the end stitch into its neighbour, inwards",
        Deed::Increase => "bring one more needle beside the end to work",
        Deed::ScrapOff => "knit off onto waste yarn: open loops that wait",
        Deed::CastOff => "cast off: loops are closed",
        Deed::Transfer => "move this loop to another needle, as the pattern says",
        Deed::ToRib => "rib from here on, as the pattern says",
        Deed::LatchUp => "latch the purl stitches of the rib up",
        Deed::PickUp => "pick loops of an edge up on these needles",
    }
}
