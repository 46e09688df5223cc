//! What hands do at the bed: which loops go where.

use super::NotDrawn;
use super::cloth_edge::{Closed, Group, Open, nth};
use super::draw::Draw;
use super::end::End;
use super::joined::{runs_ahead, turn_back};
use super::link::{JoinKind, LinkKind};
use super::slot::Slot;
use super::stitch::Made;
use crate::edge::{EdgePlace, EdgeRange, spread};
use crate::needle::{Needle, Side, Span};
use crate::program::{
    Action, Beds, CastOnMethod, Fashion, Inset, Structure, Transfer, WorkingEnds,
};
use crate::run::Deed;

impl Draw<'_> {
    pub(super) fn by_hand(&mut self, action: &Action) -> Result<(), NotDrawn> {
        match action {
            Action::CastOn { structure, method, edge, .. } => {
                self.cast_on(*structure, *method, edge.as_deref())
            }
            Action::Hold(_) => self.hold(Deed::Hold, true),
            Action::Return(_) => self.hold(Deed::Return, false),
            Action::Wrap => self.wrap(),
            Action::Hang { edge, .. } => self.hang(edge),
            Action::TransferToMain => self.transfer_to_main(),
            Action::Decrease { side, .. } => self.decrease(*side),
            Action::Increase { side, .. } => self.increase(*side),
            Action::Narrow(fashion) => self.narrow(fashion),
            Action::Widen(fashion) => self.widen(fashion),
            Action::Transfer(transfer) => self.transfer(transfer),
            Action::ToRib { structure, .. } => self.turn_to_rib(*structure),
            Action::PickUp { edge, .. } => self.pick_up(edge),
            Action::ScrapOff { edge, .. } => self.scrap_off(edge),
            Action::Rehang { edge, beds, .. } => self.rehang(edge, *beds),
            Action::CastOff { .. } => self.cast_off(),
            Action::BreakYarn | Action::JoinYarn(_) => {
                self.yarn = None;
                Ok(())
            }
            Action::Section(name) => {
                self.change_section(name);
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn cast_on(
        &mut self,
        structure: Structure,
        method: CastOnMethod,
        edge: Option<&str>,
    ) -> Result<(), NotDrawn> {
        let span = self.event(Deed::CastOn)?.needles;
        let first = self.ends().is_none();
        if first {
            self.ring = structure == Structure::Circular;
            self.yarn = None;
        }
        let places = self.cast_on_places(span, structure)?;
        let mut feet: Vec<(u32, usize)> = Vec::new();
        for place in places {
            let at = self.add_at(Made::CastOn, place, structure);
            self.bed[place].held = false;
            self.bed[place].ends = vec![End::head(at, self.mirrored(place))];
            feet.push((at, place));
        }
        self.row_of(&feet, structure);
        if !first {
            self.close_up(&feet);
        }
        // Of a tube too: its row goes round it.
        let groups: Vec<Group> = feet.iter().map(|(at, _)| vec![End::foot(*at, false)]).collect();
        match edge {
            Some(edge) => self.wait(edge, groups),
            None => self.edges[self.number].cast_on.push(Closed { left: span.left.0, groups }),
        }
        if first && self.rows_done == 0 && !self.ring {
            self.keep_feet(&feet);
        }
        if method == CastOnMethod::Rib {
            self.start_rib(&feet, structure);
        }
        Ok(())
    }

    /// Where the loops of a cast-on lie, from left to right; of a tube round it.
    fn cast_on_places(&self, span: Span, structure: Structure) -> Result<Vec<usize>, NotDrawn> {
        let mut places = Vec::new();
        let mut back = Vec::new();
        for (nth, needle) in (span.left.0..=span.right.0).map(Needle).enumerate() {
            let (main, ribber) = match structure {
                Structure::Plain => (true, false),
                Structure::Rib1x1 => (nth % 2 == 0, nth % 2 == 1),
                Structure::Rib2x2 => (nth % 4 < 2, nth % 4 >= 2),
                Structure::Circular => (true, true),
            };
            if main {
                places.push(self.place(needle, false)?);
            }
            if ribber {
                let own = if structure == Structure::Circular { &mut back } else { &mut places };
                own.push(self.place(needle, true)?);
            }
        }
        places.extend(back.into_iter().rev());
        Ok(places)
    }

    /// Loops side by side; of a tube once round.
    fn row_of(&mut self, row: &[(u32, usize)], structure: Structure) {
        let link = |draw: &mut Self, a: u32, b: u32| {
            let (a, b) = (End::of_side(a, Slot::Right), End::of_side(b, Slot::Left));
            draw.link(a, b, LinkKind::Row);
        };
        for pair in row.windows(2) {
            link(self, pair[0].0, pair[1].0);
        }
        if let (Structure::Circular, [first, .., last]) = (structure, row) {
            link(self, last.0, first.0);
        }
    }

    /// Loops wound beside others close up to them.
    fn close_up(&mut self, row: &[(u32, usize)]) {
        let (Some(first), Some(last)) = (row.first(), row.last()) else { return };
        let before = (0..first.1).rev().find(|place| self.live(*place));
        let behind = (last.1 + 1..self.bed.len()).find(|place| self.live(*place));
        let top = |draw: &Self, place: usize, side: Side| {
            let ends = &draw.bed[place].ends;
            if side == Side::Right { ends.last() } else { ends.first() }.map(|end| end.at)
        };
        // A needle or two out of work do not keep them apart; what was taken off between them does.
        if let Some(beside) = before.filter(|place| first.1 - place <= 2)
            && let Some(at) = top(self, beside, Side::Right)
        {
            let (row, wound) = (self.side_of(at, Side::Right), self.side_of(first.0, Side::Left));
            self.link_above(row, wound);
        }
        if let Some(beside) = behind.filter(|place| place - last.1 <= 2)
            && let Some(at) = top(self, beside, Side::Left)
        {
            let (row, wound) = (self.side_of(at, Side::Left), self.side_of(last.0, Side::Right));
            self.link_above(row, wound);
        }
    }

    fn keep_feet(&mut self, row: &[(u32, usize)]) {
        if let (Some(first), Some(last)) = (row.first(), row.last()) {
            let (left, right) =
                (self.side_of(first.0, Side::Left), self.side_of(last.0, Side::Right));
            let feet = &mut self.edges[self.number].feet;
            feet[nth(Side::Left)].push(left);
            feet[nth(Side::Right)].push(right);
        }
    }

    /// The tubular rows take one more loop a needle.
    fn start_rib(&mut self, feet: &[(u32, usize)], structure: Structure) {
        let mut row = Vec::with_capacity(feet.len());
        let section = usize::from(self.section);
        // Those of the zigzag row are counted too.
        for (nth, (foot, _)) in feet.iter().enumerate() {
            let before = self.made.get(section).copied().unwrap_or_default();
            self.loops[*foot as usize].nth = before + nth as u64;
        }
        for (nth, (_, place)) in feet.iter().enumerate() {
            let at = self.add_at(Made::Start, *place, structure);
            self.loops[at as usize].nth += (feet.len() + nth) as u64;
            let mirrored = self.mirrored(*place);
            for end in std::mem::take(&mut self.bed[*place].ends) {
                self.link(end, End::foot(at, mirrored), LinkKind::Drawn);
            }
            self.bed[*place].ends.push(End::head(at, mirrored));
            row.push((at, *place));
        }
        if let Some(made) = self.made.get_mut(section) {
            *made += 2 * feet.len() as u64;
        }
        self.row_of(&row, structure);
        if !self.ring {
            self.keep_feet(&row);
        }
    }

    fn hold(&mut self, deed: Deed, held: bool) -> Result<(), NotDrawn> {
        let span = self.event(deed)?.needles;
        for needle in (span.left.0..=span.right.0).map(Needle) {
            let place = self.place(needle, false)?;
            self.bed[place].held = held;
        }
        Ok(())
    }

    fn wrap(&mut self) -> Result<(), NotDrawn> {
        let needle = self.event(Deed::Wrap)?.needles.left;
        let place = self.place(needle, false)?;
        let at = self.add_at(Made::Wrap, place, Structure::Plain);
        let end = End::head(at, self.mirrored(place));
        // On the side of the needles that knit.
        if self.working_end(Side::Left).is_some_and(|first| first < needle.0) {
            self.bed[place].ends.insert(0, end);
        } else {
            self.bed[place].ends.push(end);
        }
        self.wraps.push((at, place));
        Ok(())
    }

    fn edge(&mut self, name: &str) -> Result<&mut Open, NotDrawn> {
        match self.open.iter().position(|open| open.name == name) {
            Some(at) => Ok(&mut self.open[at]),
            None => Err(self.differs("no such edge")),
        }
    }

    pub(super) fn take_all(&mut self, name: &str) -> Result<Vec<Group>, NotDrawn> {
        Ok(self.edge(name)?.take_all())
    }

    fn wait(&mut self, name: &str, groups: Vec<Group>) {
        let at = self.open.iter().position(|open| open.name == name).unwrap_or_else(|| {
            self.open.push(Open::new(name));
            self.open.len() - 1
        });
        self.open[at].groups.extend(groups.into_iter().map(Some));
    }

    fn hang(&mut self, name: &str) -> Result<(), NotDrawn> {
        let event = self.event(Deed::Hang)?;
        let place = self.place(event.needles.left, false)?;
        let taken = self.edge(name)?.take_next(event.loops);
        if taken.len() != event.loops as usize {
            return Err(self.differs("loops to hang"));
        }
        self.hung += event.loops;
        // Along a selvedge the edge runs upwards: the next loop lies further out.
        let side = match self.ends() {
            Some((left, _)) if left == event.needles.left.0 => Some(Side::Left),
            Some((_, right)) if right == event.needles.left.0 => Some(Side::Right),
            _ => None,
        };
        for end in taken.into_iter().flatten() {
            let end = End { by: Some(JoinKind::Hung), ..end };
            let on = &mut self.bed[place];
            match side {
                Some(Side::Right) => on.ends.push(end),
                Some(Side::Left) => on.ends.insert(0, end.back()),
                None => on.over.push(end),
            }
        }
        Ok(())
    }

    fn transfer_to_main(&mut self) -> Result<(), NotDrawn> {
        if self.next_deed() == Some(Deed::LatchUp) {
            self.event(Deed::LatchUp)?;
            return Ok(());
        }
        self.event(Deed::TransferToMain)?;
        for ribber in (1..self.bed.len()).step_by(2) {
            let moved = std::mem::take(&mut self.bed[ribber].ends);
            let main = &mut self.bed[ribber - 1];
            // The two sides of a tube come to lie on each other.
            if self.ring && !main.ends.is_empty() { &mut main.over } else { &mut main.ends }
                .extend(moved);
        }
        if self.yarn.is_some_and(|(_, place)| place % 2 == 1) {
            self.yarn = self.yarn.filter(|_| !self.ring).map(|(at, place)| (at, place - 1));
        }
        self.ring = false;
        Ok(())
    }

    /// What one needle carries, over to another: it comes to lie on the side that it came from.
    fn move_loops(&mut self, from: usize, to: usize) {
        let ends = std::mem::take(&mut self.bed[from].ends);
        let over = std::mem::take(&mut self.bed[from].over);
        let target = &mut self.bed[to];
        target.over.extend(over);
        if from < to {
            target.ends.splice(0..0, ends);
        } else {
            target.ends.extend(ends);
        }
        if let Some((_, place)) = &mut self.yarn
            && *place == from
        {
            *place = to;
        }
    }

    fn decrease(&mut self, side: Side) -> Result<(), NotDrawn> {
        let span = self.event(Deed::Decrease)?.needles;
        for nth in 0..span.len() as i32 {
            let (outer, inner) = match side {
                Side::Left => (span.left.0 + nth, span.left.0 + nth + 1),
                Side::Right => (span.right.0 - nth, span.right.0 - nth - 1),
            };
            let (outer, inner) =
                (self.place(Needle(outer), false)?, self.place(Needle(inner), false)?);
            self.move_loops(outer, inner);
        }
        Ok(())
    }

    fn increase(&mut self, side: Side) -> Result<(), NotDrawn> {
        let span = self.event(Deed::Increase)?.needles;
        self.wind(side, span)
    }

    /// Stitches wound beside the end, one after the other.
    fn wind(&mut self, side: Side, span: Span) -> Result<(), NotDrawn> {
        let mut row = Vec::new();
        for needle in (span.left.0..=span.right.0).map(Needle) {
            let place = self.place(needle, false)?;
            row.push((self.add_at(Made::Increased, place, Structure::Plain), place));
        }
        for pair in row.windows(2) {
            self.beside(pair[0].0, pair[1].0, LinkKind::Row);
        }
        let own: Vec<_> = match side {
            Side::Left => row.last().into_iter().copied().collect(),
            Side::Right => row.first().into_iter().copied().collect(),
        };
        // Only towards the fabric: on the other side there is none.
        self.close_up(&own);
        for (at, place) in row {
            self.bed[place].held = false;
            self.bed[place].ends = vec![End::head(at, false)];
        }
        Ok(())
    }

    /// The working end of the main bed on a side.
    fn working_end(&self, side: Side) -> Option<i32> {
        let mut knits = (0..self.bed.len())
            .step_by(2)
            .filter(|place| self.live(*place) && !self.bed[*place].held);
        let place = if side == Side::Left { knits.next() } else { knits.next_back() };
        place.map(|place| self.needle(place).0)
    }

    /// Needles inwards from the end of a side.
    fn inwards(side: Side, end: i32, nth: i32) -> Needle {
        Needle(if side == Side::Left { end + nth } else { end - nth })
    }

    /// The ends of a shaping that are meant, as needles.
    fn shaped_ends(&self, ends: WorkingEnds) -> Vec<(Side, i32)> {
        ends.sides().filter_map(|side| Some((side, self.working_end(side)?))).collect()
    }

    /// Stitches left whole outside a shaping.
    fn inset(fashion: &Fashion, side: Side, end: i32, extra: i32) -> i32 {
        match fashion.inset {
            Inset::Stitches(stitches) => stitches as i32,
            Inset::Needle(at) if side == Side::Left => at.0 - end + extra,
            Inset::Needle(at) => end - at.0 + extra,
        }
    }

    fn narrow(&mut self, fashion: &Fashion) -> Result<(), NotDrawn> {
        let count = fashion.count as i32;
        if count > 1 {
            return Err(self.not_yet("several stitches taken in at once, which cross over others"));
        }
        for (side, end) in self.shaped_ends(fashion.ends) {
            self.event(Deed::Decrease)?;
            let inset = Self::inset(fashion, side, end, -count);
            for nth in (0..inset + count).rev() {
                let from = self.place(Self::inwards(side, end, nth), false)?;
                let to = self.place(Self::inwards(side, end, nth + count), false)?;
                self.move_loops(from, to);
            }
        }
        Ok(())
    }

    fn widen(&mut self, fashion: &Fashion) -> Result<(), NotDrawn> {
        let count = fashion.count as i32;
        for (side, end) in self.shaped_ends(fashion.ends) {
            let needles = self.event(Deed::Increase)?.needles;
            let inset = Self::inset(fashion, side, end, 1);
            if inset == 0 {
                self.wind(side, needles)?;
                continue;
            }
            for nth in 0..inset {
                let from = self.place(Self::inwards(side, end, nth), false)?;
                let to = self.place(Self::inwards(side, end, nth - count), false)?;
                self.move_loops(from, to);
            }
            // The innermost first: the next is lifted beside it.
            for nth in (inset - count..inset).rev() {
                let place = self.place(Self::inwards(side, end, nth), false)?;
                let beside = self.place(Self::inwards(side, end, nth + 1), false)?;
                self.lift(side, place, beside);
            }
        }
        Ok(())
    }

    /// A stitch lifted from its neighbour: it lies beside it, above the row.
    fn lift(&mut self, side: Side, place: usize, beside: usize) {
        let at = self.add_at(Made::Increased, place, Structure::Plain);
        let ends = &self.bed[beside].ends;
        let near = if side == Side::Left { ends.first() } else { ends.last() };
        if let Some(near) = near.map(|end| end.at) {
            let (left, right) = if side == Side::Left { (at, near) } else { (near, at) };
            self.beside(left, right, LinkKind::Row);
        }
        self.bed[place].held = false;
        self.bed[place].ends = vec![End::head(at, false)];
    }

    fn transfer(&mut self, transfer: &Transfer) -> Result<(), NotDrawn> {
        self.event(Deed::Transfer)?;
        let Transfer { from, to, .. } = *transfer;
        if self.ring {
            return Err(self.not_yet("loops moved in a tube"));
        }
        let crossed = if to.span.left > from.span.left {
            from.span.right.0 + 1..to.span.right.0
        } else {
            to.span.left.0 + 1..from.span.left.0
        };
        for needle in crossed.filter(|_| from.ribber == to.ribber).map(Needle) {
            if self.live(self.place(needle, from.ribber)?) {
                return Err(self.not_yet("loops that cross over others"));
            }
        }
        let by = to.span.left.0 - from.span.left.0;
        let mut needles: Vec<i32> = (from.span.left.0..=from.span.right.0).collect();
        // The foremost first, so that none comes to lie on one that still moves.
        if by > 0 {
            needles.reverse();
        }
        for needle in needles {
            let source = self.place(Needle(needle), from.ribber)?;
            let target = self.place(Needle(needle + by), to.ribber)?;
            self.move_loops(source, target);
        }
        Ok(())
    }

    fn turn_to_rib(&mut self, structure: Structure) -> Result<(), NotDrawn> {
        let event = self.event(Deed::ToRib)?;
        // Without a ribber they stay where they are, to be latched up.
        if event.loops == 0 {
            return Ok(());
        }
        for (nth, needle) in (event.needles.left.0..=event.needles.right.0).enumerate() {
            let moved = match structure {
                Structure::Rib1x1 => nth % 2 == 1,
                Structure::Rib2x2 => nth % 4 >= 2,
                Structure::Plain | Structure::Circular => false,
            };
            if moved {
                let place = self.place(Needle(needle), false)?;
                self.move_loops(place, place + 1);
            }
        }
        Ok(())
    }

    fn pick_up(&mut self, edge: &EdgeRange) -> Result<(), NotDrawn> {
        let event = self.event(Deed::PickUp)?;
        let open = matches!(edge.place, EdgePlace::Open(_));
        let mut groups = self.stretch(edge)?;
        let (places, needles) = (groups.len() as u32, event.needles.len());
        if places != event.over {
            return Err(self.differs("places of an edge"));
        }
        self.picked_up += event.loops;
        // A closed edge is picked up so that its cloth goes on with the same side out.
        if !open && runs_ahead(&groups) {
            turn_back(&mut groups);
        }
        let mut at = 0;
        for (nth, needle) in (event.needles.left.0..=event.needles.right.0).enumerate() {
            let place = self.place(Needle(needle), false)?;
            let share = spread(places, needles, nth as u32) as usize;
            let own = &groups[at.min(groups.len())..(at + share).min(groups.len())];
            at += share;
            let full = self.live(place);
            if open {
                self.put_on(place, own.concat(), JoinKind::PickedUp, full);
            } else if let Some(middle) = own.get(own.len() / 2) {
                let drawn = self.draw_through(place, middle);
                self.put_on(place, vec![drawn], JoinKind::PickedUp, full);
            }
        }
        Ok(())
    }

    /// A loop drawn through an edge; its head.
    fn draw_through(&mut self, place: usize, edge: &[End]) -> End {
        let at = self.add_at(Made::PickedUp, place, Structure::Plain);
        for end in edge {
            self.link(*end, End::foot(at, false), LinkKind::Join(JoinKind::PickedUp));
        }
        End::head(at, false)
    }

    /// Loops of an edge onto a needle: on an empty one to knit on, on a full one to join two sheets.
    fn put_on(&mut self, place: usize, ends: Group, kind: JoinKind, full: bool) {
        let on = &mut self.bed[place];
        if full {
            on.over.extend(ends.into_iter().map(|end| End { by: Some(kind), ..end }));
        } else {
            on.held = false;
            on.ends.extend(ends.into_iter().map(|end| End { by: end.by.or(Some(kind)), ..end }));
        }
    }

    fn rehang(&mut self, name: &str, beds: Beds) -> Result<(), NotDrawn> {
        let span = self.event(Deed::Rehang)?.needles;
        let mut groups = self.take_all(name)?;
        self.rehung += groups.len() as u32;
        let mut places = Vec::new();
        for needle in (span.left.0..=span.right.0).map(Needle) {
            places.push(self.place(needle, false)?);
        }
        let full = places.iter().any(|place| self.live(*place));
        if beds == Beds::Both {
            self.ring = true;
            places.extend(places.clone().into_iter().rev().map(|place| place + 1));
        }
        if places.len() != groups.len() {
            return Err(self.differs("loops to hang back"));
        }
        // Laid on full needles two sheets meet, the same side out on both.
        if full {
            let under: Vec<Group> = places.iter().map(|at| self.bed[*at].ends.clone()).collect();
            if runs_ahead(&under) == runs_ahead(&groups) {
                turn_back(&mut groups);
            }
        } else {
            self.yarn = None;
        }
        for (place, group) in places.into_iter().zip(groups) {
            let turned = self.mirrored(place);
            let ends = group.into_iter().map(|end| if turned { end.back() } else { end });
            let kind = if full { JoinKind::Hung } else { JoinKind::Rehung };
            self.put_on(place, ends.collect(), kind, full);
        }
        Ok(())
    }

    /// What lies on the needles of a run, off the bed: two sheets on one needle are closed together.
    fn take_off(&mut self, span: Span, closing: bool) -> Result<Vec<Group>, NotDrawn> {
        let mut groups = Vec::with_capacity(span.len() as usize);
        for needle in (span.left.0..=span.right.0).map(Needle) {
            let place = self.place(needle, false)?;
            let on = std::mem::take(&mut self.bed[place]);
            if on.ends.is_empty() {
                return Err(self.differs("a needle without a loop"));
            }
            if let Some(over) = on.over.first() {
                if !closing {
                    return Err(self.not_yet("two sheets of cloth taken off on waste yarn"));
                }
                let kind = over.by.unwrap_or(JoinKind::Hung);
                self.link_groups(&on.ends, &on.over, kind);
            }
            if self.yarn.is_some_and(|(_, at)| at == place) {
                self.yarn = None;
            }
            groups.push(on.ends);
        }
        if self.ends().is_none() {
            self.ring = false;
            self.yarn = None;
        }
        Ok(groups)
    }

    fn scrap_off(&mut self, edge: &str) -> Result<(), NotDrawn> {
        let span = self.event(Deed::ScrapOff)?.needles;
        let groups = self.take_off(span, false)?;
        self.wait(edge, groups);
        Ok(())
    }

    fn cast_off(&mut self) -> Result<(), NotDrawn> {
        let span = self.event(Deed::CastOff)?.needles;
        let groups = self.take_off(span, true)?;
        self.edges[self.number].cast_off.push(Closed { left: span.left.0, groups });
        Ok(())
    }
}
