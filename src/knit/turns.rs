//! Which balls take turns in a section, as a knitter asks for it. What becomes of a garment by it is
//! [`in_turn`](super::in_turn)'s.

use std::fmt::Write;

use diag::{Code, Diagnostic};

/// Rows up to which resting yarn is carried up the edge: over more it would draw in (common practice).
pub const MOST_CARRIED: u32 = 4;
/// Balls that anyone keeps apart at the machine.
const BALLS: std::ops::RangeInclusive<usize> = 2..=6;
/// Rows of one stripe.
const STRIPE: std::ops::RangeInclusive<u32> = 1..=500;

/// A section of a garment, and how many rows each ball of it knits before the next one follows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InTurn {
    /// The section, as the garment names it.
    pub section: String,
    /// Rows of each ball, the first ball first.
    pub rows: Vec<u32>,
}

impl InTurn {
    /// Reads `4,4`: rows of the first ball, of the second one, and so on. `None` for nothing, or `off`.
    ///
    /// # Errors
    /// What is no list of whole numbers, or a list nobody would knit.
    pub fn parse(section: &str, text: &str) -> Result<Option<InTurn>, Diagnostic> {
        if matches!(text.trim(), "" | "off") {
            return Ok(None);
        }
        let shown: String = text.trim().chars().take(40).collect();
        let fault = |what: String| {
            Diagnostic::error(Code::InTurn, format!("`{section}` in turn: {what}")).hint(
                "write the rows of each ball with a comma between: 4,4 for two balls and four rows of each",
            )
        };
        let each = text.split(',').map(|rows| rows.trim().parse::<u32>().ok());
        let rows: Vec<u32> = each
            .map(|rows| rows.filter(|rows| STRIPE.contains(rows)))
            .collect::<Option<_>>()
            .ok_or_else(|| {
                let (least, most) = (STRIPE.start(), STRIPE.end());
                fault(format!("`{shown}` is no list of rows from {least} to {most}"))
            })?;
        if !BALLS.contains(&rows.len()) {
            let (least, most) = (BALLS.start(), BALLS.end());
            return Err(fault(format!("{} balls, where {least} to {most} may be", rows.len())));
        }
        Ok(Some(InTurn { section: section.to_owned(), rows }))
    }

    /// What one would type: `4,4`.
    pub fn typed(&self) -> String {
        self.rows.iter().map(u32::to_string).collect::<Vec<_>>().join(",")
    }

    /// The section of a ball, counted from 0: `hat 1`.
    pub fn ball(&self, nth: usize) -> String {
        format!("{} {}", self.section, nth + 1)
    }

    /// The sections of its balls with their titles: "Hat, first ball".
    pub fn titled(&self, title: &str) -> Vec<(String, String)> {
        const NTH: [&str; 6] = ["first", "second", "third", "fourth", "fifth", "sixth"];
        let balls = (0..self.rows.len()).zip(NTH);
        balls.map(|(nth, word)| (self.ball(nth), format!("{title}, {word} ball"))).collect()
    }

    /// Which ball a section of the program is, from 0, and in what turn.
    pub fn of_ball<'t>(turns: &'t [InTurn], section: &str) -> Option<(&'t InTurn, usize)> {
        turns.iter().find_map(|turn| {
            let nth = (0..turn.rows.len()).find(|nth| turn.ball(*nth) == section)?;
            Some((turn, nth))
        })
    }

    /// Whether a ball is near enough to be carried from one of its stripes to the next: few rows, and an
    /// even number of them, so that the carriage is back where it hangs.
    pub fn carries(&self, nth: usize) -> bool {
        let others = self.cycle() - self.rows.get(nth).copied().unwrap_or_default();
        others <= MOST_CARRIED && others.is_multiple_of(2)
    }

    pub(super) fn cycle(&self) -> u32 {
        self.rows.iter().sum()
    }

    /// The ball that knits a row of the turn, how many of its rows are done, and how many are to come.
    pub(super) fn at(&self, row: u32) -> (usize, u32, u32) {
        let mut before = 0;
        for (nth, rows) in self.rows.iter().enumerate() {
            if row < before + rows {
                return (nth, row - before, before + rows - row);
            }
            before += rows;
        }
        (0, 0, self.rows.first().copied().unwrap_or(1))
    }

    /// What a knitter is told before a piece is begun.
    pub(super) fn told(&self) -> String {
        let count = ["Two", "Three", "Four", "Five", "Six"].get(self.rows.len() - 2);
        let mut told = format!("{} balls in turn:", count.unwrap_or(&"Several"));
        for (nth, rows) in self.rows.iter().enumerate() {
            let comma = if nth == 0 { "" } else { "," };
            let word = if *rows == 1 { "row" } else { "rows" };
            let _ = write!(told, "{comma} {rows} {word} of ball {}", nth + 1);
        }
        told.push_str(", and so on from the first again. ");
        let carried = (0..self.rows.len()).filter(|nth| self.carries(*nth)).count();
        told.push_str(if carried == self.rows.len() {
            "The ball that rests hangs at the edge and is carried up: lay it over the working yarn at each \
             change, loosely, so that the edge doesn't draw in."
        } else if carried == 0 {
            "Break the yarn at each change and leave an end to darn in: the next stripe of the same ball \
             is too far off, or begins at the other edge."
        } else {
            "A ball that is wanted again at the same edge a few rows on hangs there and is carried up, \
             loosely; the others are broken, with an end to darn in."
        });
        told
    }
}
