//! Finished pieces on the scale: what was expected of each, and what it took.

use super::shades::{CURRENT, INK, PAPER, QUIET, RULE};
use super::words::{fitted, wrapped};
use super::{Anchor, Canvas, Drawing, Look, Weight, text_width};
use crate::learnt_words::{counts, piece_name};
use knit::estimate::Likely;
use knit::taught::{PieceTold, Taught};

/// Narrow, so that its words can be read on a phone.
const PAGE_MM: f64 = 110.0;
const TEXT: f64 = 3.4;
const LINE: f64 = 4.6;
/// From a piece to the next.
const ROW: f64 = 11.5;
/// What is left free left and right.
const EDGE: f64 = 2.0;
/// Left and right of the scale, for its outermost words.
const MARGIN: f64 = 9.0;
const BAR: f64 = 2.6;

/// An odd piece makes the scale no wider than this: the others would be too small to see.
const ODD: f64 = 30.0;
/// Per cent on either side of what was expected, and the step of the lines between.
const SPANS: [(f64, f64); 4] = [(10.0, 5.0), (20.0, 10.0), (30.0, 10.0), (60.0, 20.0)];

const TITLE: &str = "Expected against taken";

/// All pieces to one scale, in per cent of what was expected: a bar in which 19 of 20 lie, and a dot for
/// what it took. A hollow diamond is a piece that estimates don't learn from.
pub fn weighed_picture(taught: &Taught) -> Drawing {
    let mut canvas = Canvas::new();
    canvas.text((EDGE, 6.0), 4.6, (Anchor::Start, Weight::Bold), INK, TITLE);
    let mut y = 12.0;
    for line in wrapped(&key_words(taught), TEXT, PAGE_MM - 2.0 * EDGE) {
        canvas.text((EDGE, y), TEXT, (Anchor::Start, Weight::Regular), QUIET, &line);
        y += LINE;
    }
    let held: Vec<(&PieceTold, Likely)> =
        taught.pieces.iter().filter_map(|piece| Some((piece, piece.expected?))).collect();
    if !held.is_empty() {
        let scale = Scale::of(&held);
        let (top, bottom) = (y + 3.0, y + 3.0 + held.len() as f64 * ROW);
        scale.draw(&mut canvas, top, bottom);
        for (nth, (piece, likely)) in held.iter().enumerate() {
            scale.draw_piece(&mut canvas, top + nth as f64 * ROW, piece, *likely);
        }
        y = bottom + 6.0;
    }
    canvas.finish(TITLE, &about(taught, &held), PAGE_MM, y.max(20.0))
}

fn key_words(taught: &Taught) -> String {
    match taught.pieces.iter().filter(|piece| piece.expected.is_some()).count() {
        0 => "No finished piece was weighed yet, so there is nothing to see.".to_owned(),
        _ => "A bar for each piece, in which 19 of 20 such lie; the dot is what it took. A diamond is asked \
              about and not learnt from."
            .to_owned(),
    }
}

/// What the picture says, for who can't see it.
fn about(taught: &Taught, held: &[(&PieceTold, Likely)]) -> String {
    if held.is_empty() {
        return key_words(taught);
    }
    let within = held.iter().filter(|(piece, likely)| likely.contains(piece.took_g)).count();
    let mut about = format!(
        "Each finished piece, with what was expected and what it took. {within} of {} lie where 19 of 20 \
         were expected.",
        held.len()
    );
    for (piece, likely) in held {
        about.push_str(&format!(
            " {}: took {:.1} g, expected {:.1} g ({:.0} to {:.0}).",
            piece_name(piece),
            piece.took_g,
            likely.middle,
            likely.low,
            likely.high
        ));
        if !piece.counts.is_learnt_from() {
            about.push_str(" It is asked about.");
        }
    }
    about
}

/// Per cent of what was expected, on paper.
struct Scale {
    span: f64,
    step: f64,
}

impl Scale {
    /// Wide enough for what can be seen; what lies beyond is drawn at the edge.
    fn of(held: &[(&PieceTold, Likely)]) -> Scale {
        let far = |(piece, likely): &(&PieceTold, Likely)| {
            let taken = percent(piece.took_g, *likely).abs();
            let taken = if piece.counts.is_learnt_from() { taken } else { taken.min(ODD) };
            let ends = [likely.low, likely.high].map(|grams| percent(grams, *likely).abs());
            ends.into_iter().fold(taken, f64::max)
        };
        let most = held.iter().map(far).fold(0.0, f64::max);
        let widest = SPANS[SPANS.len() - 1];
        let (span, step) = SPANS.into_iter().find(|(span, _)| *span >= most).unwrap_or(widest);
        Scale { span, step }
    }

    /// Where so many per cent lie, kept on the scale.
    fn x(&self, percent: f64) -> f64 {
        let half = PAGE_MM / 2.0 - MARGIN;
        PAGE_MM / 2.0 + half * (percent / self.span).clamp(-1.0, 1.0)
    }

    fn draw(&self, canvas: &mut Canvas, top: f64, bottom: f64) {
        let steps = (self.span / self.step).round() as i32;
        for nth in -steps..=steps {
            let at = f64::from(nth) * self.step;
            let x = self.x(at);
            let look = if nth == 0 { Look::edged(INK, 0.3) } else { Look::edged(RULE, 0.15) };
            canvas.line((x, top), (x, bottom), look);
            let words = if nth == 0 { "as expected".to_owned() } else { format!("{at:+.0} %") };
            canvas.text((x, bottom + 4.2), 3.0, (Anchor::Middle, Weight::Regular), QUIET, &words);
        }
    }

    fn draw_piece(&self, canvas: &mut Canvas, top: f64, piece: &PieceTold, likely: Likely) {
        let data = [("taken", piece.took_g), ("expected", likely.middle)];
        let data = data.map(|(name, grams)| (name, format!("{grams:.1}")));
        canvas.open_group("piece", &data);
        self.draw_words(canvas, top + 4.0, piece, likely);
        let level = top + 7.7;
        let (low, high) =
            (self.x(percent(likely.low, likely)), self.x(percent(likely.high, likely)));
        let bar = Look::filled(RULE).class("expected");
        canvas.rect(low, level - BAR / 2.0, high - low, BAR, bar);
        let middle = self.x(0.0);
        canvas.line(
            (middle, level - BAR / 2.0),
            (middle, level + BAR / 2.0),
            Look::edged(INK, 0.4),
        );
        let taken = percent(piece.took_g, likely);
        let x = self.x(taken);
        if !piece.counts.is_learnt_from() {
            let corners = [(x - 2.0, level), (x, level - 2.0), (x + 2.0, level), (x, level + 2.0)];
            let look = Look::filled(PAPER).and_edge(CURRENT, 0.6).class("asked");
            canvas.polygon(&corners, look);
        } else {
            let look = Look::filled(INK).and_edge(PAPER, 0.4).class("taken");
            canvas.circle(x, level, 1.6, look);
        }
        if taken.abs() > self.span {
            let out = 3.0 * taken.signum();
            let tip = x + 2.0 * out;
            let arrow = [(tip, level), (x + out, level - 1.3), (x + out, level + 1.3)];
            canvas.polygon(&arrow, Look::filled(INK).class("beyond"));
        }
        canvas.close_group();
    }

    /// Which piece it is at the left, its figures at the right.
    fn draw_words(&self, canvas: &mut Canvas, base: f64, piece: &PieceTold, likely: Likely) {
        let mut figures = format!("{:.1} g, expected {:.1}", piece.took_g, likely.middle);
        if !piece.counts.is_learnt_from() {
            figures = format!("{}: {figures}", counts(piece));
        }
        let plain = (Anchor::End, Weight::Regular);
        let room = PAGE_MM - text_width(&figures, TEXT, Weight::Regular) - 2.0 * EDGE - 3.0;
        // The scale's lines don't run through words.
        let behind = Look::filled(PAPER);
        canvas.rect(0.0, base - TEXT, PAGE_MM, TEXT + 1.1, behind);
        let name = format!("{}, {}", piece_name(piece), piece.yarns.join(", "));
        let name = fitted(&name, TEXT, room, Weight::Bold);
        canvas.text((EDGE, base), TEXT, (Anchor::Start, Weight::Bold), INK, &name);
        canvas.text((PAGE_MM - EDGE, base), TEXT, plain, INK, &figures);
    }
}

fn percent(grams: f64, likely: Likely) -> f64 {
    (grams / likely.middle - 1.0) * 100.0
}
