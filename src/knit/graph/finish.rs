//! Work off the bed: which loops of which edges meet.

use super::NotDrawn;
use super::cloth_edge::{Group, nth};
use super::draw::Draw;
use super::end::End;
use super::link::{JoinKind, LinkKind};
use crate::edge::{EdgePlace, EdgeRange};
use crate::needle::Side;
use crate::program::{Action, Joint, Step};

impl Draw<'_> {
    pub(super) fn finishing(&mut self, steps: &[Step]) -> Result<(), NotDrawn> {
        self.name = "finishing".to_owned();
        for (number, step) in steps.iter().enumerate() {
            self.line = step.line;
            let joined = self.finish(&step.action)?;
            let counted = self.run.joins.get(&(number as u32));
            let counted = counted.map(|join| {
                let second = join.second.map_or(0, |second| second.count);
                join.first.count.max(second)
            });
            if joined != counted {
                return Err(self.differs("places joined"));
            }
        }
        Ok(())
    }

    /// Tells at how many places it joins, where it does.
    fn finish(&mut self, action: &Action) -> Result<Option<u32>, NotDrawn> {
        let whole = |piece: &str, side: Side| EdgeRange {
            place: EdgePlace::Selvedge(piece.to_owned(), side),
            from: 0,
            to: None,
        };
        let (first, second, kind) = match action {
            Action::Graft { first, second } => {
                let (first, second) = (self.take_all(first)?, self.take_all(second)?);
                return Ok(Some(self.join_edges(&first, second, JoinKind::Grafted)));
            }
            Action::GatherEdge { edge } => {
                let edge = self.take_all(edge)?;
                self.draw_together(&edge);
                return Ok(Some(edge.len() as u32));
            }
            Action::GatherSelvedge { piece, side } => {
                let edge = self.stretch(&whole(piece, *side))?;
                self.draw_together(&edge);
                return Ok(Some(edge.len() as u32));
            }
            Action::Gather(edge) => {
                let edge = self.stretch(edge)?;
                self.draw_together(&edge);
                return Ok(Some(edge.len() as u32));
            }
            Action::SewOn { edge, piece, side } => {
                let (first, second) = (self.take_all(edge)?, self.stretch(&whole(piece, *side))?);
                return Ok(Some(self.join_edges(&first, second, JoinKind::SewnOn)));
            }
            Action::Seam { first, second } => {
                (whole(&first.0, first.1), whole(&second.0, second.1), JoinKind::Seamed)
            }
            Action::Join { how, first, second } => {
                let kind = match how {
                    Joint::Graft => JoinKind::Grafted,
                    Joint::Seam => JoinKind::Seamed,
                    Joint::SewOn => JoinKind::SewnOn,
                };
                (first.clone(), second.clone(), kind)
            }
            _ => return Ok(None),
        };
        let (a, b) = (self.stretch(&first)?, self.stretch(&second)?);
        self.join_feet(&first, &second, kind);
        Ok(Some(self.join_edges(&a, b, kind)))
    }

    /// A seam from the first row on begins at what was cast on.
    fn join_feet(&mut self, first: &EdgeRange, second: &EdgeRange, kind: JoinKind) {
        let (a, b) = (self.feet(first), self.feet(second));
        if a.is_empty() || b.is_empty() || first == second {
            return;
        }
        // Those of a rib are two rows: the upper ones meet the upper ones.
        let fewer = a.len().min(b.len());
        for (x, y) in a[a.len() - fewer..].iter().zip(&b[b.len() - fewer..]) {
            if x.ahead != y.ahead {
                self.link(*x, *y, LinkKind::Join(kind));
            }
        }
    }

    fn feet(&self, edge: &EdgeRange) -> Vec<End> {
        match &edge.place {
            EdgePlace::Selvedge(piece, side) if edge.from == 0 => self
                .piece_number(piece)
                .map_or_else(Vec::new, |at| self.edges[at].feet[nth(*side)].clone()),
            _ => Vec::new(),
        }
    }

    fn piece_number(&self, name: &str) -> Option<usize> {
        // The one on the bed has its edges too.
        self.run
            .pieces
            .iter()
            .position(|piece| piece.name == name)
            .filter(|at| *at < self.edges.len())
    }

    /// The loops of a stretch of an edge, in its order; those that wait are taken.
    pub(super) fn stretch(&mut self, edge: &EdgeRange) -> Result<Vec<Group>, NotDrawn> {
        let (from, to) = (edge.from, edge.to);
        let whole: Vec<Group> = match &edge.place {
            EdgePlace::Open(name) if from == 0 && to.is_none() => return self.take_all(name),
            EdgePlace::Open(name) => {
                let at = self.open.iter().position(|open| open.name == *name);
                let at = at.ok_or_else(|| self.differs("no such edge"))?;
                let to = to.unwrap_or(self.open[at].groups.len() as u32);
                return Ok(self.open[at].take(from, to));
            }
            EdgePlace::Selvedge(piece, side) => self.side(piece, *side, false)?,
            EdgePlace::Inner(piece, side) => self.side(piece, *side, true)?,
            EdgePlace::CastOn(piece) => self.closed(piece, true)?,
            EdgePlace::CastOff(piece) => self.closed(piece, false)?,
            EdgePlace::Marked(marked) => {
                let whole = self.side(&marked.piece, marked.side, marked.inner)?;
                let run = self.run.piece(&marked.piece);
                let found = run.and_then(|run| run.sides.stretch(marked, whole.len() as u32));
                let (from, to) = found.ok_or_else(|| self.differs("no such mark"))?;
                return self.part(&whole, from.max(0) as usize, to.max(0) as usize);
            }
        };
        let to = to.map_or(whole.len(), |to| to as usize);
        self.part(&whole, from as usize, to)
    }

    fn part(&self, whole: &[Group], from: usize, to: usize) -> Result<Vec<Group>, NotDrawn> {
        let part = whole.get(from..to).map(<[Group]>::to_vec);
        part.ok_or_else(|| self.differs("an edge that is shorter"))
    }

    fn side(&self, piece: &str, side: Side, inner: bool) -> Result<Vec<Group>, NotDrawn> {
        let at = self.piece_number(piece).ok_or_else(|| self.differs("no such piece"))?;
        let own = &self.edges[at];
        let ends = if inner { &own.inner } else { &own.selvedges };
        Ok(ends[nth(side)].iter().map(|end| vec![*end]).collect())
    }

    fn closed(&self, piece: &str, cast_on: bool) -> Result<Vec<Group>, NotDrawn> {
        let at = self.piece_number(piece).ok_or_else(|| self.differs("no such piece"))?;
        Ok(self.edges[at].closed(cast_on))
    }
}
