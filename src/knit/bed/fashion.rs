//! Shaping anywhere: at the ends of the working needles, some stitches in, from needle to needle;
//! and the yarn broken and joined.

use super::hand::nothing_in_work;
use super::*;
use crate::program::{Fashion, Inset, Transfer, WorkingEnds};

/// A loop is not drawn further than over so many needles (common practice, no source).
const FARTHEST: u32 = 3;
/// Stitches made side by side within the fabric: each is lifted from a neighbour on one side.
const MOST_LIFTED: u32 = 2;

/// Needles shaped at one end, as offsets: `nth(0)` is the end itself, inwards from there.
#[derive(Clone, Copy)]
struct End {
    side: Side,
    end: usize,
    inset: u32,
}

impl End {
    /// The `nth` needle inwards; outwards, where it is negative. May lie off the bed.
    fn nth(self, nth: i64) -> i64 {
        match self.side {
            Side::Left => self.end as i64 + nth,
            Side::Right => self.end as i64 - nth,
        }
    }
}

impl Bed<'_> {
    pub(super) fn narrow(&mut self, fashion: &Fashion) -> Result<Span, Diagnostic> {
        self.single_bed("decrease")?;
        let count = fashion.count;
        if count > FARTHEST {
            return Err(too_far(count, "take fewer in at a time, or cast them off"));
        }
        let ends = self.fashioned_ends(fashion, |away| away.checked_sub(count))?;
        // The stitches that move, and those that they come to lie on.
        for end in &ends {
            self.check_end(*end, end.inset.saturating_add(2 * count), fashion.ends)?;
        }
        let mut touched: Option<Span> = None;
        for end in ends {
            let moved = end.inset + count;
            for nth in (0..moved).rev() {
                let (from, to) = (end.nth(i64::from(nth)), end.nth(i64::from(nth + count)));
                self.move_loop(from as usize, to as usize);
            }
            for nth in 0..count {
                self.main[end.nth(i64::from(nth)) as usize].position = Position::NonWorking;
            }
            self.recount(None);
            let needles = self.run_of(end, 0, i64::from(count) - 1);
            self.fashioned(Deed::Decrease, needles, moved, end.side);
            touched = Some(touched.map_or(needles, |before| hull(before, needles)));
        }
        touched.ok_or_else(nothing_in_work)
    }

    pub(super) fn widen(&mut self, fashion: &Fashion) -> Result<Span, Diagnostic> {
        self.single_bed("increase")?;
        let count = fashion.count;
        // At a needle: that one gets the innermost of the new stitches.
        let ends = self.fashioned_ends(fashion, |away| Some(away + 1))?;
        for end in &ends {
            self.check_widening(*end, count, fashion.ends)?;
        }
        let mut touched: Option<Span> = None;
        for end in ends {
            let range = self.on_bed(self.run_of(end, -i64::from(count), -1))?;
            for i in range.clone() {
                self.main[i].position = Position::Working;
            }
            for nth in 0..end.inset {
                let (from, to) =
                    (end.nth(i64::from(nth)), end.nth(i64::from(nth) - i64::from(count)));
                self.move_loop(from as usize, to as usize);
            }
            let (outer, inner) =
                (i64::from(end.inset) - i64::from(count), i64::from(end.inset) - 1);
            for nth in outer..=inner {
                self.main[end.nth(nth) as usize].loops = 1;
            }
            self.tally.made += count;
            if end.inset == 0 {
                self.wound(end.side, count);
            }
            self.recount(Some(range));
            let needles = self.run_of(end, outer, inner);
            self.fashioned(Deed::Increase, needles, end.inset + count, end.side);
            touched = Some(touched.map_or(needles, |before| hull(before, needles)));
        }
        touched.ok_or_else(nothing_in_work)
    }

    fn fashioned(&mut self, deed: Deed, needles: Span, moved: u32, side: Side) {
        self.work.hand_moves += moved;
        self.work.transferred += moved;
        self.took(Operation::LoopTransferred, moved);
        self.note(deed, needles, (needles.len(), 0), Some(side));
    }

    /// New stitches beside the end are wound by hand with the yarn, which is best on their side.
    pub(super) fn wound(&mut self, side: Side, count: u32) {
        if count > 1 && side != self.carriage && self.yarn_at.is_some() {
            self.warn_at(self.line, Code::IncreaseAway, |bed| {
                (
                    format!("{count} needles are wound on the {side}, away from the carriage and its yarn"),
                    bed.at_counter(),
                    "increase by more than one on the carriage's side, or wind them with spare yarn",
                )
            });
        }
        self.lay(Laying::SewnLoops(count));
    }

    /// The ends that are meant. `inset` turns how far a needle lies from the end into stitches left
    /// whole outside the shaping.
    fn fashioned_ends(
        &self,
        fashion: &Fashion,
        inset: impl Fn(u32) -> Option<u32>,
    ) -> Result<Vec<End>, Diagnostic> {
        let (first, last) = self.knitting_ends();
        if first > last {
            return Err(nothing_in_work());
        }
        if fashion.count == 0 {
            return Err(Diagnostic::error(Code::ShapeOutside, "a shaping of no stitches")
                .hint("leave the step out"));
        }
        let of = |side: Side| {
            let end = match side {
                Side::Left => first,
                Side::Right => last,
            };
            let inset = match fashion.inset {
                Inset::Stitches(stitches) => stitches,
                Inset::Needle(needle) => {
                    let end = self.needle(end).0;
                    let away = match side {
                        Side::Left => needle.0 - end,
                        Side::Right => end - needle.0,
                    };
                    u32::try_from(away).ok().and_then(&inset).ok_or_else(|| {
                        Diagnostic::error(
                            Code::ShapeOutside,
                            format!(
                                "needle {needle} lies too near the end of the working needles, or \
                                 outside them: they run {} to {}",
                                self.needle(first),
                                self.needle(last)
                            ),
                        )
                        .hint("name a needle further in, or give `inset`")
                    })?
                }
            };
            Ok(End { side, end, inset })
        };
        fashion.ends.sides().map(of).collect()
    }

    /// Whether so many needles from an end inwards carry a loop and knit, and whether both ends have
    /// their own.
    fn check_end(&self, end: End, needed: u32, ends: WorkingEnds) -> Result<(), Diagnostic> {
        let knitting = self.reach().filter(|i| self.main[*i].knits()).count() as u64;
        let all = match ends {
            WorkingEnds::One(_) => u64::from(needed),
            WorkingEnds::Both => 2 * u64::from(needed),
        };
        if all > knitting {
            return Err(Diagnostic::error(
                Code::DecreaseTooMany,
                format!(
                    "this shaping takes {all} stitches together, and {knitting} are in working \
                     position"
                ),
            )
            .hint("shape fewer, or nearer to the end; cast off or gather the last stitches"));
        }
        for nth in 0..i64::from(needed) {
            let at = end.nth(nth);
            let needle = usize::try_from(at).ok().and_then(|i| self.main.get(i));
            if !needle.is_some_and(|n| n.knits() && n.loops > 0) {
                return Err(Diagnostic::error(
                    Code::DecreaseIntoGap,
                    format!(
                        "needle {} is empty or held, and the stitches beside it are to be moved \
                         together",
                        Needle(self.whole.left.0 + at as i32)
                    ),
                )
                .hint("shape on the other side of it, or bring it back to work first"));
            }
        }
        Ok(())
    }

    fn check_widening(&self, end: End, count: u32, ends: WorkingEnds) -> Result<(), Diagnostic> {
        self.check_end(end, end.inset, ends)?;
        if end.inset > 0 && count > MOST_LIFTED {
            return Err(Diagnostic::error(
                Code::IncreaseTooMany,
                format!("{count} stitches side by side have no neighbours to be lifted from"),
            )
            .hint(format!("make {MOST_LIFTED} at most, or make them beside the end")));
        }
        let span = self.run_of(end, -i64::from(count.min(self.machine.needles())), -1);
        let range = self.on_bed(span)?;
        let full = range.clone().find(|i| self.main[*i].in_work());
        if let Some(i) = full {
            return Err(Diagnostic::error(
                Code::NeedleTaken,
                format!("needle {} beside the end is in work already", self.needle(i)),
            )
            .hint("there is no room for a new stitch: bring held needles back instead"));
        }
        Ok(())
    }

    fn run_of(&self, end: End, outer: i64, inner: i64) -> Span {
        let (a, b) = (end.nth(outer) as i32, end.nth(inner) as i32);
        let left = self.whole.left.0;
        Span { left: Needle(left + a.min(b)), right: Needle(left + a.max(b)) }
    }

    /// What a needle of the main bed carries, over to another of it.
    fn move_loop(&mut self, from: usize, to: usize) {
        let (loops, wraps) = {
            let needle = &mut self.main[from];
            (std::mem::take(&mut needle.loops), std::mem::take(&mut needle.wraps))
        };
        let needle = &mut self.main[to];
        self.tally.taken_in += u32::from(needle.loops > 0 && loops > 0);
        needle.loops = needle.loops.saturating_add(loops);
        needle.wraps = needle.wraps.saturating_add(wraps);
    }

    pub(super) fn transfer(&mut self, transfer: &Transfer) -> Result<Span, Diagnostic> {
        let Transfer { from, to, eyelets, structure } = *transfer;
        let (source, target) = (self.on_bed(from.span)?, self.on_bed(to.span)?);
        self.check_transfer(transfer)?;
        let ribber_was_empty = self.ribber.iter().all(|n| !n.in_work());
        let mut moving = Vec::with_capacity(source.clone().count());
        for i in source.clone() {
            let needle = &mut self.bed_of(from)[i];
            moving.push((std::mem::take(&mut needle.loops), std::mem::take(&mut needle.wraps)));
            needle.position = if eyelets { Position::Working } else { Position::NonWorking };
        }
        self.emptied |= eyelets;
        let moved = moving.len() as u32;
        for (i, (loops, wraps)) in target.clone().zip(moving) {
            let needle = &mut self.bed_of(to)[i];
            if needle.position == Position::NonWorking {
                needle.position = Position::Working;
            }
            let both = u32::from(needle.loops > 0 && loops > 0);
            needle.loops = needle.loops.saturating_add(loops);
            needle.wraps = needle.wraps.saturating_add(wraps);
            self.tally.taken_in += both;
        }
        if to.ribber && ribber_was_empty && self.structure == Structure::Plain {
            self.structure = structure;
        }
        let rib = matches!(self.structure, Structure::Rib1x1 | Structure::Rib2x2);
        if rib && self.ribber.iter().all(|n| !n.in_work()) {
            self.structure = Structure::Plain;
        }
        self.work.hand_moves += moved;
        self.work.transferred += moved;
        self.took(Operation::LoopTransferred, moved);
        self.recount(Some(target));
        self.note(Deed::Transfer, from.span, (moved, 0), None);
        Ok(from.span)
    }

    fn bed_of(&mut self, on: BedSpan) -> &mut [NeedleState] {
        if on.ribber { &mut self.ribber } else { &mut self.main }
    }

    fn check_transfer(&mut self, transfer: &Transfer) -> Result<(), Diagnostic> {
        let Transfer { from, to, .. } = *transfer;
        if (from.ribber || to.ribber) && !self.machine.ribber {
            return Err(Diagnostic::error(
                Code::NoRibber,
                format!("{} has no ribber to transfer from or to", self.machine.title),
            )
            .hint("turn to rib instead: without a ribber it is latched up by hand"));
        }
        if self.hand_rib.is_some() {
            self.single_bed("transfer")?;
        }
        if from.span.len() != to.span.len() || from == to {
            return Err(Diagnostic::error(
                Code::TransferMismatch,
                format!("the loops of {} can't go to {}, one to one", from.span, to.span),
            )
            .hint("name as many needles as loops, and other ones"));
        }
        let far = to.span.left.0.abs_diff(from.span.left.0);
        if far > FARTHEST {
            return Err(too_far(
                far,
                "move the loops in between along too, a few needles at a time",
            ));
        }
        let source = self.on_bed(from.span)?;
        let bed = if from.ribber { &self.ribber } else { &self.main };
        if let Some(i) = source.clone().find(|i| bed[*i].loops == 0) {
            return Err(Diagnostic::error(
                Code::NoLoop,
                format!("needle {} holds no loop to transfer", self.needle(i)),
            )
            .hint("name needles that carry loops"));
        }
        if from.ribber == to.ribber {
            self.check_crossing(from.span, to.span, from.ribber);
        } else {
            self.need_pitch(Pitch::Facing)?;
        }
        Ok(())
    }

    /// Warns where a loop is drawn across others that stay: between where the outermost loop was and
    /// where it goes.
    fn check_crossing(&mut self, from: Span, to: Span, ribber: bool) {
        let crossed = if to.left > from.left {
            from.right.0 + 1..to.right.0
        } else {
            to.left.0 + 1..from.left.0
        };
        let bed = if ribber { &self.ribber } else { &self.main };
        let at = crossed.map(Needle).find(|n| bed[self.offset(*n)].loops > 0);
        if let Some(needle) = at {
            self.warn_at(self.line, Code::CrossedLoops, |bed| {
                (
                    format!("the loops of {from} cross over the loop of needle {needle}"),
                    bed.at_counter(),
                    "move the nearer loops first, so that none lies across another",
                )
            });
        }
    }

    pub(super) fn break_yarn(&mut self) -> Result<(), Diagnostic> {
        if self.broken {
            return Err(Diagnostic::error(Code::YarnBroken, "the yarn is broken already")
                .hint("join it in between"));
        }
        self.end_yarn();
        self.broken = true;
        Ok(())
    }

    pub(super) fn join_yarn(&mut self, side: Option<Side>) -> Result<(), Diagnostic> {
        if !self.broken {
            return Err(Diagnostic::error(Code::YarnJoined, "there is yarn in the feed already")
                .hint("break it first, where the carriage is to begin elsewhere"));
        }
        self.begin_yarn();
        self.work.yarns_joined += 1;
        self.took(Operation::YarnChanged, 1);
        if let Some(side) = side {
            self.carriage = side;
        }
        Ok(())
    }

    /// Leaves an end, unless one was left when the yarn was broken.
    pub(super) fn end_yarn(&mut self) {
        if !self.broken {
            self.lay(Laying::Tails(1));
        }
        self.yarn_at = None;
        if self.live_loops() == 0 {
            self.end_resting();
        }
    }

    /// Begins with a new end.
    pub(super) fn begin_yarn(&mut self) {
        self.lay(Laying::Tails(1));
        self.yarn_at = None;
        self.broken = false;
    }
}

fn hull(a: Span, b: Span) -> Span {
    Span { left: a.left.min(b.left), right: a.right.max(b.right) }
}

fn too_far(needles: u32, hint: &str) -> Diagnostic {
    Diagnostic::error(
        Code::TransferFar,
        format!("a loop does not reach over {needles} needles: {FARTHEST} at most"),
    )
    .hint(hint)
}
