//! Passes of the carriage.

use super::*;
use diag::Code;

/// Loops on one needle from which the bed warns, and from which the needle jams (common
/// practice, no source).
const CROWDED: u8 = 3;
const JAMMED: u8 = 6;

/// A needle, as an offset into its bed, and the loops it carried.
type Load = (usize, u8);

impl Bed<'_> {
    pub(super) fn check_carriage(&self, side: Side) -> Result<(), Diagnostic> {
        if self.carriage == side {
            return Ok(());
        }
        Err(Diagnostic::error(
            Code::CarriageSide,
            format!("the carriage is on the {} but should be on the {side}", self.carriage),
        )
        .hint("an odd number of rows came before: knit one more or one less"))
    }

    pub(super) fn knit(&mut self, rows: u32, line: u32) -> Result<(), Diagnostic> {
        if self.broken && rows > 0 {
            return Err(Diagnostic::error(
                Code::YarnBroken,
                "the yarn is broken, so this pass would drop every stitch",
            )
            .hint("join the yarn before it"));
        }
        for _ in 0..rows {
            if self.work.passes.saturating_add(self.in_hand.rows) >= MOST_PASSES {
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
        let memory = usize::from(self.structure == Structure::Circular && from == Side::Left);
        let (same, crowded) = match self.again[memory].take() {
            Some(mut same) => {
                same.rows_due += 1;
                (same, None)
            }
            None => self.knit_needles(from)?,
        };
        let (entry, exit) = match from {
            Side::Left => (same.first, same.last),
            Side::Right => (same.last, same.first),
        };
        self.mind_held(entry);
        // A tube's rows are its rounds: each selvedge, its fold, is passed once a round by each bed.
        self.selvedges.0 += u32::from(same.at_ends.0);
        self.selvedges.1 += u32::from(same.at_ends.1);
        self.sides.inner.0 += u32::from(same.inside.0);
        self.sides.inner.1 += u32::from(same.inside.1);
        self.check_float(entry, line);
        self.yarn_at = Some(self.needle(exit).0);
        self.carriage = from.other();
        self.counter += 1;
        let structure = self.structure;
        let stitches = same.stitches;
        if self.in_hand.now {
            self.row_by_hand(stitches);
        } else {
            self.add_passes(1);
        }
        self.hands_there = false;
        self.add_stitches(structure, u64::from(stitches));
        let row = self.rows.len() as u32;
        self.lay(Laying::Rows { first: row, end: row + 1 });
        self.rows.push(RowRun {
            counter: self.counter,
            from,
            section: self.section as u16,
            structure,
            stitches,
            spans: same.spans,
        });
        self.again[memory] = Some(same);
        if let Some((i, load)) = crowded {
            self.crowded(i, load, line);
        }
        Ok(())
    }

    /// Knits each needle that knits, with the fullest one that carried too much.
    fn knit_needles(&mut self, from: Side) -> Result<(SamePass, Option<Load>), Diagnostic> {
        self.check_facing()?;
        let before = self.spans.len();
        let crowded = self.knit_beds(from);
        self.check_spans(before);
        let new = &self.spans[before..];
        let outermost = |pick: fn(&BedSpan) -> Needle| new.iter().map(pick);
        let (Some(first), Some(last)) =
            (outermost(|s| s.span.left).min(), outermost(|s| s.span.right).max())
        else {
            return Err(Diagnostic::error(
                Code::NothingToKnit,
                "no needle is in working position, so the fabric would drop off",
            )
            .hint("cast on, or bring needles back from holding, before this pass"));
        };
        let (first, last) = (self.offset(first), self.offset(last));
        let stitches = new.iter().map(|s| s.span.len()).sum();
        let (at_ends, inside) = self.ends_of_pass(first, last);
        let same = SamePass {
            first,
            last,
            spans: self.shared_spans(before),
            stitches,
            at_ends,
            inside,
            rows_due: 0,
        };
        Ok((same, crowded))
    }

    /// Whether a pass over needles `first` to `last` ends at the selvedges, and whether it ends inside the
    /// piece, left and right. Where it ends beside held needles the piece is divided until a row goes over
    /// both; what is knitted when those are off the bed still ends inside.
    fn ends_of_pass(&mut self, first: usize, last: usize) -> ((bool, bool), (bool, bool)) {
        let Some((left, right)) = self.ends else { return ((false, false), (false, false)) };
        if self.structure == Structure::Circular {
            return ((left == first, right == last), (false, false));
        }
        let healed: Vec<usize> = self.cuts.range(first + 1..last + 1).copied().collect();
        for cut in healed {
            self.cuts.remove(&cut);
        }
        let cut_before = self.cuts.range(..=first).next().is_some();
        let cut_behind = self.cuts.range(last + 1..).next().is_some();
        if left < first {
            self.cuts.insert(first);
        }
        if last < right {
            self.cuts.insert(last + 1);
        }
        let inside = (left < first || cut_before, last < right || cut_behind);
        ((!inside.0, !inside.1), inside)
    }

    /// Knits the beds that a pass from that side knits, and adds the runs of needles to `spans`.
    fn knit_beds(&mut self, from: Side) -> Option<Load> {
        let (uses_main, uses_ribber) = match self.structure {
            Structure::Plain => (true, false),
            Structure::Rib1x1 | Structure::Rib2x2 => (true, true),
            // A tube: out along one bed, home along the other.
            Structure::Circular => (from == Side::Left, from == Side::Right),
        };
        // Not the whole bed, only where the piece has ever been.
        let reach = self.reach();
        if self.emptied {
            self.fill_emptied(uses_main, uses_ribber);
        }
        let mut crowded: Option<Load> = None;
        for (is_ribber, used) in [(false, uses_main), (true, uses_ribber)] {
            let bed = if is_ribber { &mut self.ribber } else { &mut self.main };
            if used && let Some(needles) = bed.get_mut(reach.clone()) {
                let left = self.whole.left.0 + reach.start as i32;
                knit_runs(needles, |run, fullest| {
                    if let Some((i, load)) = fullest
                        && crowded.is_none_or(|(_, most)| load > most)
                    {
                        crowded = Some((reach.start + i, load));
                    }
                    let (first, end) = (left + run.start as i32, left + run.end as i32);
                    self.spans.push(BedSpan {
                        ribber: is_ribber,
                        span: Span { left: Needle(first), right: Needle(end - 1) },
                    });
                });
            }
        }
        crowded
    }

    /// Lays the yarn over the empty needles that this pass knits: a loop on each.
    fn fill_emptied(&mut self, uses_main: bool, uses_ribber: bool) {
        let reach = self.reach();
        self.emptied = false;
        let mut wide = None;
        for (bed, used) in [(&mut self.main, uses_main), (&mut self.ribber, uses_ribber)] {
            let mut before = None;
            for i in reach.clone() {
                let Some(needle) = bed.get_mut(i) else { break };
                if !needle.in_work() || needle.loops > 0 {
                    continue;
                }
                if !used || !needle.knits() {
                    // Held, or on a bed that rests: later.
                    self.emptied = true;
                    continue;
                }
                needle.loops = 1;
                self.tally.made += 1;
                if before.is_some_and(|before| before + 1 == i) {
                    wide = wide.or(before);
                }
                before = Some(i);
            }
        }
        if let Some(i) = wide {
            self.wide_eyelet(i);
        }
    }

    fn wide_eyelet(&mut self, offset: usize) {
        self.warn_at(self.line, Code::WideEyelet, |bed| {
            let needle = bed.needle(offset);
            (
                format!("needle {needle} and the one beside it are both empty in work"),
                bed.at_counter(),
                "leave a loop between two eyelets, or push one of the needles out of work",
            )
        });
    }

    /// Warns where the yarn lies loose over many needles within the row; of a pass that is done
    /// again this has been said.
    fn check_spans(&mut self, before: usize) {
        // A rib is all gaps, and none of them wide.
        if matches!(self.structure, Structure::Rib1x1 | Structure::Rib2x2) {
            return;
        }
        let pairs = self.spans[before..].windows(2);
        let gaps = pairs.filter(|pair| pair[0].ribber == pair[1].ribber);
        let gap = gaps.map(|pair| pair[1].span.left.0 - pair[0].span.right.0 - 1).max();
        if let Some(gap) = gap.filter(|gap| *gap > LONG_FLOAT) {
            self.warn_at(self.line, Code::LongFloat, |bed| {
                (
                    format!("the yarn floats over {gap} needles within the row"),
                    bed.at_counter(),
                    "hold one part while the other is knitted, with a yarn for each",
                )
            });
        }
    }

    /// Where in `spans` the needles of this pass, added from `before` on, are to be found. Rows on
    /// the same needles share their spans: fabric then costs a record a row.
    fn shared_spans(&mut self, before: usize) -> (u32, u32) {
        if let Some(last) = self.rows.last() {
            let (start, end) = (last.spans.0 as usize, last.spans.1 as usize);
            if end == before && self.spans[start..end] == self.spans[before..] {
                self.spans.truncate(before);
                return last.spans;
            }
        }
        (before as u32, self.spans.len() as u32)
    }

    /// Adds the rows that are due to their needles: to be done before anything looks at a needle's
    /// rows or changes what is in work.
    pub(super) fn settle(&mut self) {
        for same in self.again.iter_mut().filter_map(Option::take).filter(|s| s.rows_due > 0) {
            for span in &self.spans[same.spans.0 as usize..same.spans.1 as usize] {
                let bed = if span.ribber { &mut self.ribber } else { &mut self.main };
                let left = (span.span.left.0 - self.whole.left.0) as usize;
                for needle in &mut bed[left..left + span.span.len() as usize] {
                    needle.rows += same.rows_due;
                }
            }
        }
    }

    fn crowded(&mut self, offset: usize, load: u8, line: u32) {
        if load < JAMMED {
            return self.warn_at(line, Code::CrowdedNeedle, |bed| {
                (
                    format!("{load} loops on one needle"),
                    bed.at_counter(),
                    "bring that needle forward by hand so that it clears the loops",
                )
            });
        }
        let fault = Diagnostic::error(
            Code::Jam,
            format!("{load} loops on needle {} would jam the carriage", self.needle(offset)),
        )
        .hint("knit a row between the loads, or spread the loops over more needles");
        self.fault_at(line, fault.context(self.at_counter()));
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
            self.warn_at(line, Code::UnwrappedTurn, |bed| {
                (
                    "a turn beside a held needle without a wrap leaves a slit".to_owned(),
                    format!("{}, needle {}", bed.at_counter(), bed.needle(entry)),
                    "wrap the held needle before the pass",
                )
            });
        }
        if let Some(at) = self.yarn_at {
            let gap = (at - self.needle(entry).0).abs() - 1;
            if gap > 0 {
                self.lay(Laying::Floats(gap as u32));
            }
            if gap > LONG_FLOAT {
                self.warn_at(line, Code::LongFloat, |bed| {
                    (
                        format!("the yarn floats over {gap} needles before it is knitted"),
                        bed.at_counter(),
                        "turn at the other end, or break the yarn",
                    )
                });
            }
        }
    }
}

/// Knits the needles that knit and tells of each run of them: which, and of those that carried too
/// much the fullest, with its load.
fn knit_runs(
    needles: &mut [NeedleState],
    mut tell: impl FnMut(std::ops::Range<usize>, Option<Load>),
) {
    let mut at = 0;
    while at < needles.len() {
        if !needles[at].knits() {
            at += 1;
            continue;
        }
        let start = at;
        let mut fullest: Option<Load> = None;
        while let Some(needle) = needles.get_mut(at).filter(|needle| needle.knits()) {
            // A turn wraps a needle once, and once more on the way back: that much is usual.
            let load = needle.loops.saturating_add(needle.wraps.saturating_sub(2));
            if load >= CROWDED && fullest.is_none_or(|(_, most)| load > most) {
                fullest = Some((at, load));
            }
            let rows = needle.rows + 1;
            *needle = NeedleState { position: Position::Working, loops: 1, wraps: 0, rows };
            at += 1;
        }
        tell(start..at, fullest);
    }
}
