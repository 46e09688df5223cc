//! Work at the bed by hand: casting on, holding, hanging, transferring, scrapping off.

use super::edges::Closing;
use super::*;
use crate::edge::spread;
use crate::program::{Beds, CastOnMethod, HangLoops};
use crate::run::HangPoint;
use diag::Code;

impl Bed<'_> {
    pub(super) fn cast_on(
        &mut self,
        span: Span,
        structure: Structure,
        method: CastOnMethod,
        edge: Option<&str>,
    ) -> Result<Span, Diagnostic> {
        let range = self.on_bed(span)?;
        self.check_cast_on(span, range.clone(), structure)?;
        if method == CastOnMethod::Waste && edge.is_none() {
            return Err(Diagnostic::error(
                Code::EdgeUnnamed,
                "a waste-yarn cast-on leaves open loops, and they need a name",
            )
            .hint("give the step an `edge`, so that the loops can be grafted or hung later"));
        }
        // Needles added beside fabric on the bed change neither its structure nor the counter.
        let first = self.in_work == 0;
        if !first && (structure != Structure::Plain || method != CastOnMethod::Wound) {
            return Err(Diagnostic::error(
                Code::CastOnBeside,
                "beside fabric on the bed only plain stitches can be cast on, wound by hand",
            )
            .hint("use method = \"wound\" and structure = \"plain\", or begin a new piece"));
        }
        match structure {
            Structure::Plain => {}
            Structure::Circular => self.need_pitch(Pitch::Between)?,
            // In rib each needle faces an empty one: both settings do.
            _ if self.pitch_said => {}
            Structure::Rib1x1 | Structure::Rib2x2 => {
                self.pitch = Pitch::Facing;
                self.mind.pitch = Some(Pitch::Facing);
            }
        }
        let loops = self.make_loops(range.clone(), structure);
        self.tally.made += loops;
        if first {
            self.begin_fabric(structure);
        }
        self.recount(Some(range));
        self.work.hand_moves += loops;
        match method {
            CastOnMethod::Waste => {
                self.waste.stitches += u64::from(loops * WASTE_ROWS);
                self.waste_passes(2);
                self.open_edge(edge.unwrap_or_default(), loops, true);
            }
            CastOnMethod::Wound => {
                self.lay(Laying::SewnLoops(loops));
                self.took(Operation::LoopWound, loops);
                if first {
                    self.yarn_at = Some(span.right.0);
                }
                match edge {
                    Some(edge) => self.open_edge(edge, loops, false),
                    None => self.close_edge(Closing::CastOn, span, loops),
                }
            }
            CastOnMethod::Rib if self.by_hand(structure) => {
                self.cast_on_by_hand(structure, loops);
                self.yarn_at = Some(span.right.0);
                self.close_edge(Closing::CastOn, span, loops);
            }
            CastOnMethod::Rib => {
                // The zigzag pass takes a loop a needle, the two tubular passes one more between
                // them; the carriage ends on the right and the counter is set to 000.
                self.add_stitches(structure, u64::from(2 * loops));
                self.lay(Laying::Start { structure, stitches: 2 * loops });
                self.add_passes(3);
                self.took(Operation::RibSetUp, 1);
                self.yarn_at = Some(span.right.0);
                self.close_edge(Closing::CastOn, span, loops);
            }
        }
        Ok(span)
    }

    /// The carriage on the right, the counter at nought, yarn in the feed.
    fn begin_fabric(&mut self, structure: Structure) {
        self.structure = structure;
        self.counter = 0;
        self.carriage = Side::Right;
        self.yarn_at = None;
        self.broken = false;
    }

    /// Whether the machine has the beds for it, and the needles are empty.
    fn check_cast_on(
        &self,
        span: Span,
        range: std::ops::RangeInclusive<usize>,
        structure: Structure,
    ) -> Result<(), Diagnostic> {
        if structure.needs_ribber() && !self.machine.ribber && !self.by_hand(structure) {
            return Err(Diagnostic::error(
                Code::NoRibber,
                format!("{structure} needs a ribber, and {} has none", self.machine.title),
            )
            .hint("choose a plain structure, or a machine profile with a ribber"));
        }
        if self.main[range.clone()].iter().any(|n| n.in_work())
            || self.ribber.get(range).is_some_and(|r| r.iter().any(|n| n.in_work()))
        {
            return Err(Diagnostic::error(
                Code::NeedleTaken,
                format!("some needles of {span} are in work already"),
            )
            .hint("cast on beside them, or take the fabric off first"));
        }
        Ok(())
    }

    /// A loop on each needle that the structure knits on; tells how many.
    fn make_loops(&mut self, range: std::ops::RangeInclusive<usize>, structure: Structure) -> u32 {
        let mut loops = 0;
        for (nth, i) in range.enumerate() {
            let (on_main, on_ribber) = match structure {
                Structure::Plain => (true, false),
                Structure::Rib1x1 => (nth % 2 == 0, nth % 2 == 1),
                Structure::Rib2x2 => (nth % 4 < 2, nth % 4 >= 2),
                Structure::Circular => (true, true),
            };
            let fresh = NeedleState { position: Position::Working, loops: 1, wraps: 0, rows: 0 };
            if on_main {
                self.main[i] = fresh;
                loops += 1;
            }
            if on_ribber {
                self.ribber[i] = fresh;
                loops += 1;
            }
        }
        loops
    }

    pub(super) fn hold(&mut self, which: Which) -> Result<Span, Diagnostic> {
        let range = match which {
            Which::Span(span) => self.on_bed(span)?,
            Which::All => {
                let (first, last) = self.working_ends().ok_or_else(nothing_in_work)?;
                first..=last
            }
            Which::AtSide(side, count) => {
                let knitting = || self.reach().filter(|i| self.main[*i].knits());
                match outermost(knitting(), side, count) {
                    Some((near, far)) => near.min(far)..=near.max(far),
                    None => {
                        let there = knitting().count();
                        return Err(Diagnostic::error(
                            Code::HoldTooMany,
                            format!("can't hold {count} needles: {there} are in working position"),
                        )
                        .hint("hold fewer, or bring some back first"));
                    }
                }
            }
        };
        if let Some(i) = range.clone().find(|i| !self.main[*i].in_work()) {
            return Err(Diagnostic::error(
                Code::HoldEmpty,
                format!("needle {} is not in work, so it can't be held", self.needle(i)),
            )
            .hint("name needles that carry loops"));
        }
        let mut moved = 0;
        for i in range.clone() {
            if self.main[i].position != Position::Holding {
                self.main[i].position = Position::Holding;
                moved += 1;
            }
        }
        if moved == 0 {
            return Err(Diagnostic::error(Code::HoldTwice, "all these needles are held already")
                .hint("leave the step out, or bring them back in between"));
        }
        self.work.hand_moves += moved;
        self.took(Operation::NeedleMoved, moved);
        Ok(self.span(range))
    }

    /// `side_said`: the step before says where the carriage is.
    pub(super) fn bring_back(&mut self, which: Which, side_said: bool) -> Result<Span, Diagnostic> {
        let held = || self.reach().filter(|i| self.main[*i].position == Position::Holding);
        let too_many = |wanted: usize, there: usize| {
            Diagnostic::error(
                Code::ReturnTooMany,
                format!("can't bring back {wanted} needles: {there} are held there"),
            )
            .hint("hold more needles first, or bring back fewer at each step")
        };
        let range = match which {
            Which::Span(span) => {
                let range = self.on_bed(span)?;
                if let Some(i) = range.clone().find(|i| self.main[*i].position != Position::Holding)
                {
                    return Err(Diagnostic::error(
                        Code::ReturnNotHeld,
                        format!(
                            "needle {} is not held, so it can't be brought back",
                            self.needle(i)
                        ),
                    )
                    .hint("name needles that were held before"));
                }
                range
            }
            Which::All => match (held().next(), held().next_back()) {
                (Some(first), Some(last)) => first..=last,
                _ => return Err(too_many(1, 0)),
            },
            Which::AtSide(side, count) => {
                let (first, last) = self.knitting_ends();
                // Only the needles beyond the working ones on that side, nearest first.
                let beyond = |i: &usize| match side {
                    Side::Left => *i < first,
                    Side::Right => *i > last,
                };
                match outermost(held().filter(beyond), side.other(), count) {
                    Some((near, far)) => near.min(far)..=near.max(far),
                    None => return Err(too_many(count as usize, held().filter(beyond).count())),
                }
            }
        };
        self.mind_yarn(&range);
        if self.mind.under_yarn && !side_said {
            self.yarn_across(self.span(range.clone()));
        }
        for i in range.clone() {
            if self.main[i].position == Position::Holding {
                self.main[i].position = Position::UpperWorking;
                self.work.hand_moves += 1;
                self.took(Operation::NeedleMoved, 1);
            }
        }
        Ok(self.span(range))
    }

    /// Outermost needles in working position; where none is, the whole bed's middle counts.
    pub(super) fn knitting_ends(&self) -> (usize, usize) {
        let mut knitting = self.reach().filter(|i| self.main[*i].knits());
        let first = knitting.next();
        match (first, knitting.next_back().or(first)) {
            (Some(first), Some(last)) => (first, last),
            _ => (self.main.len(), 0),
        }
    }

    pub(super) fn wrap(&mut self) -> Result<Span, Diagnostic> {
        let (first, last) = self.knitting_ends();
        let beside = match self.carriage {
            Side::Left => first.checked_sub(1),
            Side::Right => Some(last + 1),
        };
        let held = beside
            .filter(|i| self.main.get(*i).is_some_and(|n| n.position == Position::Holding))
            .ok_or_else(|| {
                Diagnostic::error(
                    Code::WrapNothing,
                    format!("there is no held needle on the {} to wrap", self.carriage),
                )
                .hint("wrap on the carriage's side, next to the working needles")
            })?;
        self.main[held].wraps = self.main[held].wraps.saturating_add(1);
        self.lay(Laying::Floats(2));
        self.work.hand_moves += 1;
        self.took(Operation::NeedleWrapped, 1);
        Ok(self.span(held..=held))
    }

    pub(super) fn hang(
        &mut self,
        name: &str,
        needle: Needle,
        loops: HangLoops,
    ) -> Result<Span, Diagnostic> {
        let span = Span { left: needle, right: needle };
        let at = *self.on_bed(span)?.start();
        if !self.main[at].in_work() {
            return Err(Diagnostic::error(
                Code::HangOutOfWork,
                format!("needle {needle} is not in work, so nothing can be hung on it"),
            )
            .hint("hang on the needle at the edge of the fabric"));
        }
        let index = self.edge_index(name)?;
        let edge = &mut self.edges[index];
        let due = match loops {
            HangLoops::Each(n) => n,
            HangLoops::SpreadOver(points) => {
                let total = *edge.spread_from.get_or_insert(edge.run.left);
                let visit = edge.run.points;
                if visit >= points {
                    return Err(Diagnostic::error(
                        Code::HangOver,
                        format!("edge `{name}` was to be spread over {points} points, and this is one more"),
                    )
                    .hint("make `over` the number of times the step is reached"));
                }
                spread(total, points, visit)
            }
        };
        if due > edge.run.left {
            return Err(Diagnostic::error(
                Code::EdgeEmpty,
                format!("edge `{name}` has {} loops left, and {due} should be hung", edge.run.left),
            )
            .hint("fewer hang points, or more loops on the edge"));
        }
        edge.run.points += 1;
        edge.take_next(due);
        let point = HangPoint { point: edge.run.points, counter: self.counter, loops: due };
        match due {
            0 => edge.run.skipped.push(point),
            1 => {}
            _ => edge.run.doubled.push(point),
        }
        let state = &mut self.main[at];
        let joined = if state.loops > 0 { due } else { due.saturating_sub(1) };
        state.loops = state.loops.saturating_add(due.min(255) as u8);
        self.tally.made += due;
        self.tally.taken_in += joined;
        self.hung(index, due);
        self.note_event(Deed::Hang, span, due);
        Ok(span)
    }

    /// So many loops of the edge have been hung one after the other.
    fn hung(&mut self, edge: usize, loops: u32) {
        self.work.hand_moves += loops;
        self.took(Operation::LoopHung, loops);
        if loops > 0 && self.edges[edge].run.left == 0 {
            self.draw_waste_out(edge);
        }
    }

    pub(super) fn transfer_to_main(&mut self) -> Result<Span, Diagnostic> {
        if self.hand_rib.is_some() {
            return self.latch_up();
        }
        if self.ribber.iter().all(|n| !n.in_work()) {
            return Err(Diagnostic::error(
                Code::RibberEmpty,
                "the ribber holds no loops to transfer",
            )
            .hint("leave the step out, or cast on a two-bed structure first"));
        }
        self.need_pitch(Pitch::Facing)?;
        for i in 0..self.ribber.len() {
            let from = std::mem::take(&mut self.ribber[i]);
            if from.in_work() {
                let to = &mut self.main[i];
                if !to.in_work() {
                    to.position = Position::Working;
                    to.rows = to.rows.max(from.rows);
                }
                self.tally.taken_in += u32::from(to.loops > 0 && from.loops > 0);
                to.loops = to.loops.saturating_add(from.loops);
                self.work.hand_moves += 1;
                if !self.in_hand.now {
                    self.took(Operation::LoopTransferred, 1);
                }
            }
        }
        self.structure = Structure::Plain;
        self.recount(None);
        if self.in_hand.now {
            self.put_on_bed(self.in_work);
        }
        let (first, last) = self.working_ends().ok_or_else(nothing_in_work)?;
        let span = self.span(first..=last);
        self.note_event(Deed::TransferToMain, span, span.len());
        Ok(span)
    }

    pub(super) fn decrease(&mut self, side: Side, count: u32) -> Result<Span, Diagnostic> {
        self.single_bed("decrease")?;
        let (first, last) = self.working_ends().ok_or_else(nothing_in_work)?;
        let count = count as usize;
        if count == 0 || count > last - first {
            return Err(Diagnostic::error(
                Code::DecreaseTooMany,
                format!("can't take {count} stitches in: {} are in work", last - first + 1),
            )
            .hint("cast off or gather the last stitches instead"));
        }
        let pair = |nth: usize| match side {
            Side::Left => (first + nth, first + nth + 1),
            Side::Right => (last - nth, last - nth - 1),
        };
        if let Some(gap) = (0..count).map(|n| pair(n).1).find(|i| !self.main[*i].in_work()) {
            return Err(Diagnostic::error(
                Code::DecreaseIntoGap,
                format!("needle {} beside the end stitch is empty", self.needle(gap)),
            )
            .hint("a stitch can only be worked into a neighbour that carries one"));
        }
        for nth in 0..count {
            let (outer, inner) = pair(nth);
            let gone = std::mem::take(&mut self.main[outer].loops);
            self.main[outer].position = Position::NonWorking;
            self.tally.taken_in += u32::from(gone > 0 && self.main[inner].loops > 0);
            self.main[inner].loops = self.main[inner].loops.saturating_add(gone);
        }
        self.work.hand_moves += count as u32;
        self.took(Operation::StitchDecreased, count as u32);
        self.recount(None);
        Ok(match side {
            Side::Left => self.span(first..=first + count - 1),
            Side::Right => self.span(last + 1 - count..=last),
        })
    }

    pub(super) fn increase(&mut self, side: Side, count: u32) -> Result<Span, Diagnostic> {
        self.single_bed("increase")?;
        let (first, last) = self.working_ends().ok_or_else(nothing_in_work)?;
        let (first, last) = (self.needle(first).0, self.needle(last).0);
        if count == 0 {
            return Err(Diagnostic::error(Code::IncreaseNone, "an increase of no stitches"));
        }
        // More needles than there are lie off the bed just the same.
        let count = count.min(self.machine.needles()) as i32;
        let span = match side {
            Side::Left => Span { left: Needle(first - count), right: Needle(first - 1) },
            Side::Right => Span { left: Needle(last + 1), right: Needle(last + count) },
        };
        let range = self.on_bed(span)?;
        for i in range.clone() {
            self.main[i] = NeedleState { position: Position::Working, loops: 1, wraps: 0, rows: 0 };
        }
        self.wound(side, count as u32);
        self.tally.made += count as u32;
        self.work.hand_moves += count as u32;
        self.took(Operation::StitchIncreased, count as u32);
        self.recount(Some(range));
        Ok(span)
    }

    pub(super) fn scrap_off(&mut self, name: &str, which: Which) -> Result<Span, Diagnostic> {
        self.single_bed("scrap off")?;
        let range = self.chosen(which)?;
        let loops = self.take_off(range.clone());
        let whole = self.live_loops() == 0;
        self.waste.stitches += u64::from(loops * WASTE_ROWS);
        self.tally.scrapped += loops;
        if whole && self.off_needles() {
            self.took(Operation::LoopScrapped, loops);
            self.end_yarn();
        } else if whole {
            self.waste_passes(1);
            self.end_yarn();
        } else {
            self.took(Operation::LoopScrapped, loops);
        }
        self.open_edge(name, loops, true);
        self.recount(None);
        Ok(self.span(range))
    }

    pub(super) fn work_beds(&mut self, beds: Beds) -> Result<(), Diagnostic> {
        if self.ribber.iter().all(|n| !n.in_work()) {
            return Err(Diagnostic::error(
                Code::RibberEmpty,
                "the ribber holds no loops to rest or to knit",
            )
            .hint("leave the step out: there is one bed at work"));
        }
        self.structure = match beds {
            Beds::Main => Structure::Plain,
            Beds::Both => Structure::Circular,
        };
        Ok(())
    }

    pub(super) fn rehang(
        &mut self,
        name: &str,
        span: Span,
        beds: Beds,
    ) -> Result<Span, Diagnostic> {
        let range = self.on_bed(span)?;
        let index = self.edge_index(name)?;
        let waiting = self.edges[index].run.left;
        let needles = match beds {
            Beds::Main => span.len(),
            Beds::Both => 2 * span.len(),
        };
        if needles != waiting {
            return Err(Diagnostic::error(
                Code::RehangMismatch,
                format!("edge `{name}` has {waiting} loops, and {span} is {needles} needles"),
            )
            .hint("hang one loop on each needle"));
        }
        if beds == Beds::Both {
            return self.rehang_tube(index, span);
        }
        let taken = self.main[range.clone()].iter().filter(|n| n.in_work()).count() as u32;
        if taken != 0 && taken != waiting {
            return Err(Diagnostic::error(
                Code::NeedleTaken,
                format!("{taken} needles of {span} are in work already, the others are empty"),
            )
            .hint("hang on empty needles, or on needles that all carry a loop (to close a hem)"));
        }
        for i in range.clone() {
            let needle = &mut self.main[i];
            if needle.in_work() {
                needle.loops = needle.loops.saturating_add(1);
            } else {
                *needle = NeedleState {
                    position: Position::Working,
                    loops: 1,
                    wraps: 0,
                    rows: needle.rows,
                };
            }
        }
        self.edges[index].take_all();
        self.tally.made += waiting;
        self.tally.taken_in += taken;
        self.work.hand_moves += waiting;
        self.took(Operation::LoopRehung, waiting);
        self.draw_waste_out(index);
        if taken == 0 {
            self.begin_yarn();
        }
        self.recount(Some(range));
        Ok(span)
    }

    /// Half the loops on the main bed, the other half facing them on the ribber.
    fn rehang_tube(&mut self, index: usize, span: Span) -> Result<Span, Diagnostic> {
        if !self.machine.ribber {
            return Err(Diagnostic::error(
                Code::NoRibber,
                format!("a tube needs a ribber, and {} has none", self.machine.title),
            )
            .hint("knit it flat and seam it, or choose a machine with a ribber"));
        }
        if self.in_work > 0 {
            return Err(Diagnostic::error(Code::NeedleTaken, "there is fabric on the bed already")
                .hint("a tube is hung on an empty bed"));
        }
        let range = self.on_bed(span)?;
        self.need_pitch(Pitch::Between)?;
        for i in range.clone() {
            let fresh = NeedleState { position: Position::Working, loops: 1, wraps: 0, rows: 0 };
            self.main[i] = fresh;
            self.ribber[i] = fresh;
        }
        let loops = self.edges[index].take_all();
        self.structure = Structure::Circular;
        self.tally.made += loops;
        self.work.hand_moves += loops;
        self.took(Operation::LoopRehung, loops);
        self.draw_waste_out(index);
        self.begin_yarn();
        self.recount(Some(range));
        Ok(span)
    }

    pub(super) fn cast_off(&mut self, which: Which) -> Result<Span, Diagnostic> {
        self.single_bed("cast off")?;
        let range = self.chosen(which)?;
        let loops = self.take_off(range.clone());
        self.lay(Laying::SewnLoops(loops));
        self.tally.cast_off += loops;
        self.work.hand_moves += loops;
        self.took(Operation::LoopCastOff, loops);
        if self.live_loops() == 0 {
            self.off_needles();
            self.end_yarn();
        }
        self.recount(None);
        let span = self.span(range);
        self.carry_yarn_along(span);
        self.close_edge(Closing::CastOff, span, loops);
        Ok(span)
    }

    /// Casting off from the end where the yarn hangs takes it along, to the stitch beside the last.
    fn carry_yarn_along(&mut self, span: Span) {
        let hangs_there = |at: i32| (span.left.0..=span.right.0).contains(&at);
        if self.yarn_at.is_some_and(hangs_there) {
            self.yarn_at = Some(match self.carriage {
                Side::Left => span.right.0,
                Side::Right => span.left.0,
            });
        }
    }

    /// The needles meant by a step that takes fabric off the bed.
    pub(super) fn chosen(
        &self,
        which: Which,
    ) -> Result<std::ops::RangeInclusive<usize>, Diagnostic> {
        let (first, last) = self.working_ends().ok_or_else(nothing_in_work)?;
        let range = match which {
            Which::All => first..=last,
            Which::Span(span) => self.on_bed(span)?,
            Which::AtSide(side, count) => {
                let count = count as usize;
                if count == 0 || count > last - first + 1 {
                    return Err(Diagnostic::error(
                        Code::TooManyNeedles,
                        format!("{count} needles asked for, {} in work", last - first + 1),
                    )
                    .hint("ask for fewer"));
                }
                match side {
                    Side::Left => first..=first + count - 1,
                    Side::Right => last + 1 - count..=last,
                }
            }
        };
        if let Some(i) = range.clone().find(|i| self.main[*i].loops == 0) {
            return Err(Diagnostic::error(
                Code::NoLoop,
                format!("needle {} holds no loop", self.needle(i)),
            )
            .hint("name needles that carry loops, with no gap between them"));
        }
        Ok(range)
    }

    fn take_off(&mut self, range: std::ops::RangeInclusive<usize>) -> u32 {
        let mut taken = 0;
        for i in range {
            let needle = &mut self.main[i];
            // Loops that share a needle come off as one stitch.
            taken += u32::from(needle.loops > 0);
            needle.position = Position::NonWorking;
            needle.loops = 0;
            needle.wraps = 0;
        }
        taken
    }

    pub(super) fn single_bed(&self, doing: &str) -> Result<(), Diagnostic> {
        if self.hand_rib.is_some() {
            return Err(Diagnostic::error(
                Code::RibberLoaded,
                format!("can't {doing} before the rib's purl stitches are latched up"),
            )
            .hint("end the rib with a transfer to the main bed first"));
        }
        // A resting ribber is out of the way.
        if self.structure == Structure::Plain {
            return Ok(());
        }
        if self.ribber.iter().any(|n| n.in_work()) {
            return Err(Diagnostic::error(
                Code::RibberLoaded,
                format!("can't {doing} while the ribber holds loops"),
            )
            .hint("transfer the ribber's loops to the main bed first, or let the ribber rest"));
        }
        Ok(())
    }

    pub(super) fn span(&self, range: std::ops::RangeInclusive<usize>) -> Span {
        Span { left: self.needle(*range.start()), right: self.needle(*range.end()) }
    }
}

/// The first and the last of `count` needles counted from one side of those that there are; `None`
/// where there are fewer.
fn outermost(
    mut needles: impl DoubleEndedIterator<Item = usize>,
    side: Side,
    count: u32,
) -> Option<(usize, usize)> {
    let rest = (count as usize).checked_sub(2);
    match side {
        Side::Left => {
            let near = needles.next()?;
            Some((near, rest.map_or(Some(near), |nth| needles.nth(nth))?))
        }
        Side::Right => {
            let near = needles.next_back()?;
            Some((near, rest.map_or(Some(near), |nth| needles.nth_back(nth))?))
        }
    }
    .filter(|_| count > 0)
}

pub(super) fn nothing_in_work() -> Diagnostic {
    Diagnostic::error(Code::NothingInWork, "no needle is in work").hint("cast on first")
}
