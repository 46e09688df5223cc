//! Edges: which loops of one still wait, what a stretch of one measures, and what is joined to it,
//! at the bed and off it.

use super::finish::{SEAM_EASE, SEAM_ROWS};
use super::*;
use crate::edge::{EdgeLength, EdgePlace, EdgeRange, EdgeUnit, MarkedEdge, RowAt, spread};
use crate::program::Joint;

/// More rows than this to a stitch, or more stitches than rows, pucker or stretch a seam between
/// the two (common practice, no source).
const MOST_ROWS_TO_A_STITCH: u32 = 2;

/// An edge of open loops.
pub(super) struct Edge {
    pub run: EdgeRun,
    pub section: usize,
    /// Script line of the step that made it.
    pub line: u32,
    /// Its loops wait on waste yarn, which is drawn out in the end.
    on_waste: bool,
    /// Loops the edge held when a spread hanging began.
    pub spread_from: Option<u32>,
    /// Loops that still wait, by their place on the edge: from, and up to but without. In order, and
    /// `EdgeRun::left` in all.
    free: Vec<(u32, u32)>,
}

/// Whether a closed edge begins fabric or ends it.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Closing {
    CastOn,
    CastOff,
}

/// What a stretch of an edge came to.
struct Stretch {
    length: EdgeLength,
    /// The yarn section that sews it.
    section: usize,
    /// Of an open edge: which, and the loops meant; `None` for all that are left.
    open: Option<(usize, Option<(u32, u32)>)>,
}

impl Edge {
    fn new(run: EdgeRun, section: usize, line: u32, on_waste: bool) -> Edge {
        let free = if run.left > 0 { vec![(0, run.left)] } else { Vec::new() };
        Edge { run, section, line, on_waste, spread_from: None, free }
    }

    /// More loops behind those that are there.
    fn add(&mut self, loops: u32) {
        let (from, to) = (self.run.loops, self.run.loops + loops);
        match self.free.last_mut() {
            Some((_, end)) if *end == from => *end = to,
            _ if loops > 0 => self.free.push((from, to)),
            _ => {}
        }
        self.run.loops = to;
        self.run.left += loops;
    }

    /// Uses the next so many, in order; there are as many.
    pub fn take_next(&mut self, loops: u32) {
        self.run.left -= loops;
        let mut due = loops;
        while due > 0
            && let Some((from, to)) = self.free.first_mut()
        {
            let taken = due.min(*to - *from);
            *from += taken;
            due -= taken;
            if from == to {
                self.free.remove(0);
            }
        }
    }

    /// Uses all that are left, and tells how many.
    pub fn take_all(&mut self) -> u32 {
        self.free.clear();
        std::mem::take(&mut self.run.left)
    }

    fn waits(&self, from: u32, to: u32) -> bool {
        self.free.iter().any(|(a, b)| *a <= from && to <= *b)
    }

    /// Uses a stretch; all of it waits.
    fn take(&mut self, from: u32, to: u32) {
        let Some(at) = self.free.iter().position(|(a, b)| *a <= from && to <= *b) else { return };
        let (a, b) = self.free[at];
        let rest = [(a, from), (to, b)].into_iter().filter(|(a, b)| a < b);
        self.free.splice(at..=at, rest);
        self.run.left -= to - from;
    }

    /// "0 to 12, 20 to 31", for a hint.
    fn free_words(&self) -> String {
        let words: Vec<String> =
            self.free.iter().take(5).map(|(a, b)| format!("{a} to {b}")).collect();
        if words.is_empty() { "none".to_owned() } else { words.join(", ") }
    }
}

impl Bed<'_> {
    /// Adds loops to the edge of that name, new or already waiting.
    pub(super) fn open_edge(&mut self, name: &str, loops: u32, on_waste: bool) {
        let full = self.edges.len() >= MOST_EDGES;
        match self.edges.iter_mut().find(|e| e.run.name == name) {
            Some(edge) => edge.add(loops),
            None if full => {
                self.stop(self.line, format!("the program makes more than {MOST_EDGES} edges"));
            }
            None => {
                let run = EdgeRun {
                    name: name.to_owned(),
                    piece: self.piece_name.clone(),
                    loops,
                    left: loops,
                    points: 0,
                    skipped: Vec::new(),
                    doubled: Vec::new(),
                };
                self.edges.push(Edge::new(run, self.section, self.line, on_waste));
            }
        }
    }

    /// The loops of the edge have found their places.
    pub(super) fn draw_waste_out(&mut self, edge: usize) {
        self.took(Operation::WasteDrawnOut, u32::from(self.edges[edge].on_waste));
    }

    pub(super) fn edge_index(&self, name: &str) -> Result<usize, Diagnostic> {
        self.edges.iter().position(|e| e.run.name == name).ok_or_else(|| {
            let known = self.edges.iter().take(100).map(|e| e.run.name.as_str());
            Diagnostic::error(Code::NoSuchEdge, format!("no open edge is called `{name}`"))
                .maybe_hint(diag::nearest(name, known).map(|n| format!("did you mean `{n}`?")))
                .hint(
                    "edges are made by a waste-yarn cast-on or a scrap-off, earlier in the program",
                )
        })
    }

    /// Keeps where stitches were closed, so that something can be joined there.
    pub(super) fn close_edge(&mut self, how: Closing, needles: Span, stitches: u32) {
        let edges = match how {
            Closing::CastOn => &mut self.closed.0,
            Closing::CastOff => &mut self.closed.1,
        };
        edges.push(ClosedEdge { needles, stitches });
        let entries = edges.len();
        self.check_log(entries);
    }

    /// The closed edges of the piece on the bed, from left to right; none are kept.
    pub(super) fn take_closed(&mut self) -> (Vec<ClosedEdge>, Vec<ClosedEdge>) {
        let (mut on, mut off) = std::mem::take(&mut self.closed);
        on.sort_by_key(|edge| edge.needles.left);
        off.sort_by_key(|edge| edge.needles.left);
        (on, off)
    }

    /// What a stretch of an edge measures, and whether it is there.
    fn stretch(&self, edge: &EdgeRange) -> Result<Stretch, Diagnostic> {
        let (whole, unit, section, open) = match &edge.place {
            EdgePlace::Open(name) => {
                let index = self.edge_index(name)?;
                let found = &self.edges[index];
                if edge.from == 0 && edge.to.is_none() {
                    let length = EdgeLength { count: found.run.left, unit: EdgeUnit::Loops };
                    if length.count == 0 {
                        return Err(used_up(name));
                    }
                    return Ok(Stretch {
                        length,
                        section: found.section,
                        open: Some((index, None)),
                    });
                }
                (found.run.loops, EdgeUnit::Loops, found.section, Some(index))
            }
            EdgePlace::Selvedge(piece, side) => {
                let (rows, section) = self.rows_at(piece, *side)?;
                (rows, EdgeUnit::Rows, section, None)
            }
            EdgePlace::Marked(marked) => return self.stretch(&self.between_marks(marked)?),
            EdgePlace::Inner(piece, side) => {
                let (rows, section) = self.inner_at(piece, *side)?;
                (rows, EdgeUnit::Rows, section, None)
            }
            EdgePlace::CastOn(piece) | EdgePlace::CastOff(piece) => {
                let how = match edge.place {
                    EdgePlace::CastOn(_) => Closing::CastOn,
                    _ => Closing::CastOff,
                };
                let (stitches, section) = self.closed_at(piece, how)?;
                (stitches, EdgeUnit::Stitches, section, None)
            }
        };
        let to = edge.to.unwrap_or(whole);
        if edge.from >= to || to > whole {
            let words = unit.word(2);
            return Err(Diagnostic::error(
                Code::EdgeRange,
                format!("{words} {} to {to} are not on an edge of {whole} {words}", edge.from),
            )
            .hint(format!("`from` and `to` lie between 0 and {whole}, `from` first")));
        }
        if let Some(index) = open
            && !self.edges[index].waits(edge.from, to)
        {
            let found = &self.edges[index];
            return Err(Diagnostic::error(
                Code::EdgeEmpty,
                format!(
                    "loops {} to {to} of edge `{}` don't all wait any more",
                    edge.from, found.run.name
                ),
            )
            .hint(format!("those that wait: {}", found.free_words())));
        }
        let length = EdgeLength { count: to - edge.from, unit };
        Ok(Stretch { length, section, open: open.map(|index| (index, Some((edge.from, to)))) })
    }

    /// Rows of a selvedge, of a finished piece or of the one on the bed, and its yarn section.
    fn rows_at(&self, piece: &str, side: Side) -> Result<(u32, usize), Diagnostic> {
        if self.on_the_bed(piece) {
            let rows = match side {
                Side::Left => self.selvedges.0,
                Side::Right => self.selvedges.1,
            };
            if rows > 0 {
                return Ok((rows, self.section));
            }
        }
        Ok((self.selvedge(piece, side)?, self.section_of(piece)))
    }

    /// Rows along the edge inside a piece, of a finished one or of the one on the bed, and its yarn section.
    fn inner_at(&self, piece: &str, side: Side) -> Result<(u32, usize), Diagnostic> {
        let (sides, section) = self.sides_of(piece)?;
        let (left, right) = sides.inner;
        let rows = if side == Side::Left { left } else { right };
        if rows > 0 {
            return Ok((rows, section));
        }
        Err(Diagnostic::error(
            Code::NoSuchEdge,
            format!("piece `{piece}` has no row that ends inside it on its {side}"),
        )
        .hint(format!(
            "there is one where some needles are held while others knit on: `inner_{side}` is the {side} \
             end of what is knitted"
        )))
    }

    fn sides_of(&self, piece: &str) -> Result<(&SideRuns, usize), Diagnostic> {
        if self.on_the_bed(piece) {
            return Ok((&self.sides, self.section));
        }
        Ok((&self.finished_piece(piece)?.sides, self.section_of(piece)))
    }

    /// The stretch in numbers, where it is one that marks give.
    fn in_rows(&self, edge: &EdgeRange) -> EdgeRange {
        match &edge.place {
            EdgePlace::Marked(marked) => {
                self.between_marks(marked).unwrap_or_else(|_| edge.clone())
            }
            _ => edge.clone(),
        }
    }

    /// A stretch between tally marks, in rows.
    fn between_marks(&self, edge: &MarkedEdge) -> Result<EdgeRange, Diagnostic> {
        let piece = edge.piece.clone();
        let ((whole, _), place) = match edge.inner {
            true => (self.inner_at(&piece, edge.side)?, EdgePlace::Inner(piece, edge.side)),
            false => (self.rows_at(&piece, edge.side)?, EdgePlace::Selvedge(piece, edge.side)),
        };
        let sides = self.sides_of(&edge.piece)?.0;
        let Some((from, to)) = sides.stretch(edge, whole) else {
            let unpassed =
                [Some(&edge.from), edge.to.as_ref()].into_iter().flatten().find_map(|at| {
                    let RowAt::Mark(name, _) = at else { return None };
                    (!sides.at_mark.contains_key(name)).then_some(name)
                });
            let name = unpassed.map_or("", String::as_str);
            let known = sides.at_mark.keys().map(String::as_str);
            let near = diag::nearest(name, known).map(|near| format!("did you mean `{near}`?"));
            let message = format!("mark `{name}` is not passed in piece `{}`", edge.piece);
            return Err(Diagnostic::error(Code::EdgeRange, message)
                .maybe_hint(near)
                .hint("set it where the stretch begins: step.mark{ name = ... }"));
        };
        match (u32::try_from(from), u32::try_from(to)) {
            (Ok(from), Ok(to)) => Ok(EdgeRange { place, from, to: Some(to) }),
            _ => Err(Diagnostic::error(
                Code::EdgeRange,
                format!("rows {from} to {to} are not on an edge of {whole} rows"),
            )
            .hint("count from a mark that lies further on")),
        }
    }

    /// Stitches of the closed edges of a piece.
    fn closed_at(&self, piece: &str, how: Closing) -> Result<(u32, usize), Diagnostic> {
        let (edges, section) = if self.on_the_bed(piece) {
            let edges = match how {
                Closing::CastOn => &self.closed.0,
                Closing::CastOff => &self.closed.1,
            };
            (edges, self.section)
        } else {
            let found = self.finished_piece(piece)?;
            let edges = match how {
                Closing::CastOn => &found.cast_on,
                Closing::CastOff => &found.cast_off,
            };
            (edges, self.section_of(piece))
        };
        let stitches: u32 = edges.iter().map(|edge| edge.stitches).sum();
        if stitches > 0 {
            return Ok((stitches, section));
        }
        let what = match how {
            Closing::CastOn => "cast-on",
            Closing::CastOff => "cast-off",
        };
        let open = self.edges.iter().find(|edge| edge.run.piece == piece);
        let hint = match open {
            Some(edge) => {
                format!("its open loops have a name: edge{{ name = \"{}\" }}", edge.run.name)
            }
            None => "name a selvedge, or a piece with such an edge".to_owned(),
        };
        let message = format!("piece `{piece}` has no closed {what} edge");
        Err(Diagnostic::error(Code::NoSuchEdge, message).hint(hint))
    }

    fn on_the_bed(&self, piece: &str) -> bool {
        self.piece_name == piece && !self.done.iter().any(|done| done.name == piece)
    }

    fn take_stretch(&mut self, stretch: &Stretch) {
        let Some((index, range)) = stretch.open else { return };
        match range {
            None => {
                self.edges[index].take_all();
            }
            Some((from, to)) => self.edges[index].take(from, to),
        }
        if self.edges[index].run.left == 0 {
            self.draw_waste_out(index);
        }
    }

    pub(super) fn pick_up(&mut self, edge: &EdgeRange, span: Span) -> Result<Span, Diagnostic> {
        self.single_bed("pick up")?;
        let range = self.on_bed(span)?;
        let stretch = self.stretch(edge)?;
        let (places, needles) = (stretch.length.count, span.len());
        let taken = self.main[range.clone()].iter().filter(|n| n.in_work()).count() as u32;
        if taken != 0 && taken != needles {
            return Err(Diagnostic::error(
                Code::NeedleTaken,
                format!("{taken} needles of {span} are in work already, the others are empty"),
            )
            .hint("pick up on empty needles, or on needles that all carry a loop (to join)"));
        }
        let open = stretch.open.is_some();
        if places < needles && (taken == 0 || !open) {
            let words = stretch.length.unit.word(places);
            return Err(Diagnostic::error(
                Code::PickUpShort,
                format!("{places} {words} give no loop for each of {needles} needles"),
            )
            .hint("pick up on fewer needles, and increase in the first rows"));
        }
        let begins = self.in_work == 0;
        let mut loops = 0;
        for (nth, i) in range.clone().enumerate() {
            // Of a closed edge a loop a needle, the places between left out; open loops all.
            let share = if open { spread(places, needles, nth as u32) } else { 1 };
            let needle = &mut self.main[i];
            let stands = u32::from(needle.loops > 0);
            self.tally.made += share;
            self.tally.taken_in += (share + stands).saturating_sub(1);
            needle.loops = needle.loops.saturating_add(share.min(255) as u8);
            if needle.position == Position::NonWorking {
                needle.position = Position::Working;
            }
            loops += share;
        }
        self.take_stretch(&stretch);
        self.work.hand_moves += loops;
        self.work.picked_up += loops;
        self.took(Operation::LoopPickedUp, loops);
        if begins {
            self.structure = Structure::Plain;
            // Where nothing is knitted yet the piece's own first end is meant.
            if self.rows.is_empty() {
                self.yarn_at = None;
                self.broken = false;
            } else {
                self.begin_yarn();
            }
        }
        self.recount(Some(range));
        self.note(Deed::PickUp, span, (loops, places), None);
        Ok(span)
    }

    pub(super) fn join(
        &mut self,
        how: Joint,
        first: &EdgeRange,
        second: &EdgeRange,
        number: u32,
    ) -> Result<(), Diagnostic> {
        let a = self.stretch(first)?;
        let b = self.stretch(second)?;
        if overlap(&self.in_rows(first), &self.in_rows(second)) {
            return Err(Diagnostic::error(
                Code::GraftItself,
                "the two edges are one, or share a stretch",
            )
            .hint("name two edges, or stretches that don't overlap; or gather this one"));
        }
        self.check_ease(a.length, b.length);
        self.check_graft(how, a.length, b.length);
        let open = a.open.or(b.open).is_some();
        // A row of sewn stitches has one for each loop; a seam runs along rows or closed stitches.
        let counted = [a.length, b.length];
        let most = |unit: EdgeUnit| {
            counted.iter().filter(|l| l.unit == unit).map(|l| l.count).max().unwrap_or(0)
        };
        let stitches = most(EdgeUnit::Loops).max(most(EdgeUnit::Stitches));
        let (laying, sewn) = match (how, open, most(EdgeUnit::Rows)) {
            (_, true, _) => {
                (Laying::SewnLoops(most(EdgeUnit::Loops)), most(EdgeUnit::Loops).max(stitches))
            }
            (Joint::Graft, false, rows) => {
                let loops = if stitches > 0 { stitches } else { rows };
                (Laying::SewnLoops(loops), loops)
            }
            (_, false, 0) => (Laying::SeamStitches(stitches), stitches),
            (_, false, rows) => (Laying::SeamRows(rows), rows),
        };
        let section = if a.open.is_none() && b.open.is_some() { b.section } else { a.section };
        self.take_stretch(&a);
        self.take_stretch(&b);
        let operation = match (laying, how) {
            (Laying::SewnLoops(_), Joint::Graft) => Operation::LoopGrafted,
            (Laying::SewnLoops(_), _) => Operation::LoopSewnOn,
            _ => Operation::RowSeamed,
        };
        // A seam that goes on along the edge that the step before it sewed wants no end of its own.
        let seam = (number, [self.in_rows(first), self.in_rows(second)]);
        let goes_on = how == Joint::Seam
            && self.last_seam.as_ref().is_some_and(|(before, edges)| {
                before + 1 == number
                    && seam.1.iter().any(|own| edges.iter().any(|edge| own.goes_on_from(edge)))
            });
        self.last_seam = (how == Joint::Seam).then_some(seam);
        self.sew(section, laying, sewn, operation, goes_on);
        self.joins.insert(number, JoinRun { first: a.length, second: Some(b.length) });
        Ok(())
    }

    pub(super) fn gather(&mut self, edge: &EdgeRange, number: u32) -> Result<(), Diagnostic> {
        let stretch = self.stretch(edge)?;
        let count = stretch.length.count;
        let (laying, operation) = match stretch.length.unit {
            EdgeUnit::Loops => (Laying::SewnLoops(count), Operation::LoopGathered),
            EdgeUnit::Stitches => (Laying::SeamStitches(count), Operation::LoopGathered),
            EdgeUnit::Rows => (Laying::SeamRows(count), Operation::RowGathered),
        };
        self.take_stretch(&stretch);
        self.sew(stretch.section, laying, count, operation, false);
        self.joins.insert(number, JoinRun { first: stretch.length, second: None });
        Ok(())
    }

    /// Sews with an end of its own.
    fn sew(&mut self, section: usize, laying: Laying, sewn: u32, how: Operation, goes_on: bool) {
        if section < self.sections.len() {
            self.lay_for(section, None, laying);
            self.lay_for(section, None, Laying::Tails(if goes_on { 0 } else { 2 }));
        }
        self.work.sewn += sewn;
        self.took_for(Some(section), Operation::SewingBegun, u32::from(!goes_on));
        self.took_for(Some(section), how, sewn);
    }

    /// Warns where more must be eased in than goes in by itself.
    fn check_ease(&mut self, a: EdgeLength, b: EdgeLength) {
        if is_uneven(a, b) {
            let words = |l: EdgeLength| format!("{} {}", l.count, l.unit.word(l.count));
            let fault = Diagnostic::warning(
                Code::SeamUneven,
                format!("{} are joined to {}", words(a), words(b)),
            )
            .hint("ease the longer edge in, or make the two more alike");
            self.fault_at(self.line, fault);
        }
    }
}

impl Bed<'_> {
    /// Warns where a graft has loops left over that aren't enough to be told as uneven.
    fn check_graft(&mut self, how: Joint, a: EdgeLength, b: EdgeLength) {
        let loops = |length: EdgeLength| length.unit == EdgeUnit::Loops;
        let grafted = how == Joint::Graft && loops(a) && loops(b);
        if grafted && a.count != b.count && !is_uneven(a, b) {
            let fault = Diagnostic::warning(
                Code::GraftEased,
                format!("{} loops are grafted to {}: they don't meet one to one", a.count, b.count),
            )
            .hint("make both edges the same width, or seam them");
            self.fault_at(self.line, fault);
        }
    }
}

/// Whether more must be eased in than goes in by itself.
fn is_uneven(a: EdgeLength, b: EdgeLength) -> bool {
    let rows = |l: EdgeLength| l.unit == EdgeUnit::Rows;
    if rows(a) == rows(b) {
        let spare = a.count.abs_diff(b.count);
        return spare > SEAM_ROWS && f64::from(spare) > SEAM_EASE * f64::from(a.count.max(b.count));
    }
    let (rows, stitches) = if rows(a) { (a.count, b.count) } else { (b.count, a.count) };
    stitches > rows || rows > MOST_ROWS_TO_A_STITCH * stitches
}

/// Whether two stretches have a place in common.
fn overlap(first: &EdgeRange, second: &EdgeRange) -> bool {
    let end = |edge: &EdgeRange| edge.to.unwrap_or(u32::MAX);
    first.place == second.place && first.from < end(second) && second.from < end(first)
}

fn used_up(name: &str) -> Diagnostic {
    Diagnostic::error(Code::EdgeEmpty, format!("edge `{name}` has no loops left"))
        .hint("each loop is used once: look where they were hung or joined before")
}
