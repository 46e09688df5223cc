//! Passes of the carriage.

use super::*;

/// Loops on one needle from which the bed warns, and from which the needle jams (common
/// practice, no source).
const CROWDED: u8 = 3;
const JAMMED: u8 = 6;

impl Bed<'_> {
    pub(super) fn check_carriage(&self, side: Side) -> Result<(), Diagnostic> {
        if self.carriage == side {
            return Ok(());
        }
        Err(Diagnostic::error(
            "carriage-side",
            format!("the carriage is on the {} but should be on the {side}", self.carriage),
        )
        .hint("an odd number of rows came before: knit one more or one less"))
    }

    pub(super) fn knit(&mut self, rows: u32, line: u32) -> Result<(), Diagnostic> {
        for _ in 0..rows {
            if self.work.passes >= MOST_PASSES {
                self.stop(line, format!("the program knits on past {MOST_PASSES} passes"));
                return Ok(());
            }
            self.pass(line)?;
        }
        Ok(())
    }

    /// One pass: every loop in working or upper working position is knitted.
    fn pass(&mut self, line: u32) -> Result<(), Diagnostic> {
        let from = self.carriage;
        let (uses_main, uses_ribber) = match self.structure {
            Structure::Plain => (true, false),
            Structure::Rib1x1 | Structure::Rib2x2 => (true, true),
            // A tube: out along one bed, home along the other.
            Structure::Circular => (from == Side::Left, from == Side::Right),
        };
        let Some((first, last)) = self.working_range(uses_main, uses_ribber) else {
            return Err(Diagnostic::error(
                "nothing-to-knit",
                "no needle is in working position, so the fabric would drop off",
            )
            .hint("cast on, or bring needles back from holding, before this pass"));
        };
        let ends = self.ends;
        let mut at_ends = (false, false);
        let mut span_start = self.spans.len();
        let mut stitches = 0;
        let mut crowded = None;
        for (is_ribber, used) in [(false, uses_main), (true, uses_ribber)] {
            if !used {
                continue;
            }
            let needles = if is_ribber { &mut self.ribber } else { &mut self.main };
            let mut open: Option<usize> = None;
            for i in first..=last + 1 {
                let knits = i <= last && needles.get(i).is_some_and(|n| n.knits());
                if knits {
                    let needle = &mut needles[i];
                    // A turn wraps a needle once, and once more on the way back: that much is usual.
                    let load = needle.loops.saturating_add(needle.wraps.saturating_sub(2));
                    if load >= CROWDED && crowded.is_none_or(|(_, most)| load > most) {
                        crowded = Some((i, load));
                    }
                    needle.position = Position::Working;
                    needle.loops = 1;
                    needle.wraps = 0;
                    needle.rows += 1;
                    stitches += 1;
                    at_ends.0 |= ends.is_some_and(|(left, _)| left == i);
                    at_ends.1 |= ends.is_some_and(|(_, right)| right == i);
                    open.get_or_insert(i);
                } else if let Some(start) = open.take() {
                    self.spans.push(BedSpan {
                        ribber: is_ribber,
                        span: Span {
                            left: Needle(self.whole.left.0 + start as i32),
                            right: Needle(self.whole.left.0 + i as i32 - 1),
                        },
                    });
                }
            }
        }
        // Rows on the same needles share their spans: fabric then costs a record a row.
        let mut span_end = self.spans.len();
        if let Some(last) = self.rows.last() {
            let (start, end) = (last.spans.0 as usize, last.spans.1 as usize);
            if end == span_start && self.spans[start..end] == self.spans[span_start..] {
                self.spans.truncate(span_start);
                (span_start, span_end) = (start, end);
            }
        }
        let (entry, exit) = match from {
            Side::Left => (first, last),
            Side::Right => (last, first),
        };
        // A tube's rows are its rounds: each selvedge, its fold, is passed once a round by each bed.
        self.selvedges.0 += u32::from(at_ends.0);
        self.selvedges.1 += u32::from(at_ends.1);
        self.check_float(entry, line);
        self.yarn_at = Some(self.needle(exit).0);
        self.carriage = from.other();
        self.counter += 1;
        self.work.passes += 1;
        let structure = self.structure;
        self.add_stitches(structure, u64::from(stitches));
        let row = self.rows.len() as u32;
        self.lay(Laying::Rows { first: row, end: row + 1 });
        self.rows.push(RowRun {
            counter: self.counter,
            from,
            section: self.section as u16,
            structure,
            stitches,
            spans: (span_start as u32, span_end as u32),
        });
        if let Some((i, load)) = crowded {
            self.crowded(i, load, line);
        }
        Ok(())
    }

    fn crowded(&mut self, offset: usize, load: u8, line: u32) {
        let at = format!("piece `{}`, RC {:03}", self.piece_name, self.counter);
        let fault = if load >= JAMMED {
            Diagnostic::error(
                "jam",
                format!("{load} loops on needle {} would jam the carriage", self.needle(offset)),
            )
            .hint("knit a row between the loads, or spread the loops over more needles")
        } else {
            Diagnostic::warning("crowded-needle", format!("{load} loops on one needle"))
                .hint("bring that needle forward by hand so that it clears the loops")
        };
        self.fault_at(line, fault.context(at));
    }

    /// The outermost needles that would knit, over the beds the pass uses: a resting ribber is
    /// wider than a heel's short rows.
    fn working_range(&self, uses_main: bool, uses_ribber: bool) -> Option<(usize, usize)> {
        let knits = |i: usize| {
            uses_main && self.main[i].knits()
                || uses_ribber && self.ribber.get(i).is_some_and(|n| n.knits())
        };
        // Search inwards from where the piece has ever been, not across the whole bed.
        let (left, right) = self.extent?;
        let first = (left..=right).find(|i| knits(*i))?;
        let last = (left..=right).rev().find(|i| knits(*i))?;
        Some((first, last))
    }

    /// Warns of slits at turns and of long floats where the pass begins.
    fn check_float(&mut self, entry: usize, line: u32) {
        let from = self.carriage;
        let beyond = match from {
            Side::Left => entry.checked_sub(1),
            Side::Right => Some(entry + 1),
        };
        if self.yarn_at.is_some()
            && let Some(held) = beyond.and_then(|i| self.main.get(i))
            && held.position == Position::Holding
            && held.wraps == 0
        {
            let fault = Diagnostic::warning(
                "unwrapped-turn",
                "a turn beside a held needle without a wrap leaves a slit",
            )
            .context(format!(
                "piece `{}`, RC {:03}, needle {}",
                self.piece_name,
                self.counter,
                self.needle(entry)
            ))
            .hint("wrap the held needle before the pass");
            self.fault_at(line, fault);
        }
        if let Some(at) = self.yarn_at {
            let gap = (at - self.needle(entry).0).abs() - 1;
            if gap > 0 {
                self.lay(Laying::Floats(gap as u32));
            }
            if gap > LONG_FLOAT {
                let fault = Diagnostic::warning(
                    "long-float",
                    format!("the yarn floats over {gap} needles before it is knitted"),
                )
                .context(format!("piece `{}`, RC {:03}", self.piece_name, self.counter))
                .hint("turn at the other end, or break the yarn");
                self.fault_at(line, fault);
            }
        }
    }
}
