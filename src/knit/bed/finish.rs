//! Work off the machine: what joins must match, and every open loop must be used up.

use super::*;
use crate::edge::{EdgeLength, EdgeUnit};
use crate::program::Action;
use diag::Code;

/// Two selvedges may differ by this share and still be eased together (common practice).
pub(super) const SEAM_EASE: f64 = 0.05;
/// As few rows as this are eased into any seam (common practice): a heel or toe of short rows
/// gives its own side so many more.
pub(super) const SEAM_ROWS: u32 = 4;

impl Bed<'_> {
    pub(super) fn finish(&mut self, steps: &[Step]) {
        self.piece_name = "finishing".to_owned();
        for (number, step) in steps.iter().enumerate() {
            self.line = step.line;
            if let Err(diagnostic) = self.finish_step(&step.action, number as u32) {
                let context = format!("finishing, {}", action_name(&step.action));
                self.fault_at(step.line, diagnostic.context(context));
            }
        }
        self.check_edges_used();
    }

    fn check_edges_used(&mut self) {
        if self.stopped || self.any_abandoned {
            return;
        }
        let left: Vec<Fault> = self
            .edges
            .iter()
            .filter(|e| e.run.left > 0)
            .take(MOST_FAULTS)
            .map(|e| {
                let diagnostic = Diagnostic::error(
                    Code::LoopsLeft,
                    format!(
                        "{} of {} loops of edge `{}` are left over at the end",
                        e.run.left, e.run.loops, e.run.name
                    ),
                )
                .context(format!("edge of piece `{}`", e.run.piece))
                .hint("hang, graft, gather, sew on or cast off every loop");
                Fault { line: e.line, diagnostic }
            })
            .collect();
        // Edges made at one line of the script are each worth a word.
        self.faults.extend(left);
    }

    fn finish_step(&mut self, action: &Action, number: u32) -> Result<(), Diagnostic> {
        match action {
            Action::Graft { first, second } => self.graft(first, second, number),
            Action::GatherEdge { edge } => {
                let index = self.edge_index(edge)?;
                self.measured(number, (self.edges[index].run.left, EdgeUnit::Loops), None);
                self.use_edge(index, Operation::LoopGathered);
                Ok(())
            }
            Action::GatherSelvedge { piece, side } => {
                let rows = self.selvedge(piece, *side)?;
                self.measured(number, (rows, EdgeUnit::Rows), None);
                self.sew_rows(piece, rows, Operation::RowGathered);
                Ok(())
            }
            Action::Seam { first, second } => {
                let a = self.selvedge(&first.0, first.1)?;
                let b = self.selvedge(&second.0, second.1)?;
                let spare = a.abs_diff(b);
                if spare > SEAM_ROWS && f64::from(spare) > SEAM_EASE * f64::from(a.max(b)) {
                    let fault = Diagnostic::warning(
                        Code::SeamUneven,
                        format!(
                            "the seam joins {a} rows of `{}` to {b} rows of `{}`",
                            first.0, second.0
                        ),
                    )
                    .hint("ease the longer edge in");
                    self.fault_at(self.line, fault);
                }
                self.measured(number, (a, EdgeUnit::Rows), Some((b, EdgeUnit::Rows)));
                self.sew_rows(&first.0, a.max(b), Operation::RowSeamed);
                Ok(())
            }
            Action::SewOn { edge, piece, side } => {
                let index = self.edge_index(edge)?;
                let rows = self.selvedge(piece, *side)?;
                let loops = self.edges[index].run.left;
                if loops > rows {
                    return Err(Diagnostic::error(
                        Code::SewOnMismatch,
                        format!("{loops} loops can't be spread along {rows} rows"),
                    )
                    .hint("the edge needs fewer loops or the piece more rows"));
                }
                self.measured(number, (loops, EdgeUnit::Loops), Some((rows, EdgeUnit::Rows)));
                self.use_edge(index, Operation::LoopSewnOn);
                Ok(())
            }
            Action::Join { how, first, second } => self.join(*how, first, second, number),
            Action::Gather(edge) => self.gather(edge, number),
            Action::Block(_) => {
                self.took_for(None, Operation::Blocked, 1);
                Ok(())
            }
            Action::Note(_) => Ok(()),
            other => Err(Diagnostic::error(
                Code::OnTheBed,
                format!("`{}` is done at the machine, not in the finishing", action_name(other)),
            )
            .hint("move it into a piece's steps")),
        }
    }

    /// Keeps what the edges of a finishing step came to.
    fn measured(&mut self, number: u32, first: (u32, EdgeUnit), second: Option<(u32, EdgeUnit)>) {
        let length = |(count, unit)| EdgeLength { count, unit };
        let joined = JoinRun { first: length(first), second: second.map(length) };
        self.joins.insert(number, joined);
    }

    fn graft(&mut self, first: &str, second: &str, number: u32) -> Result<(), Diagnostic> {
        let a = self.edge_index(first)?;
        let b = self.edge_index(second)?;
        if a == b {
            return Err(Diagnostic::error(
                Code::GraftItself,
                format!("edge `{first}` can't be grafted to itself"),
            )
            .hint("name two edges, or gather this one"));
        }
        let (loops_a, loops_b) = (self.edges[a].run.left, self.edges[b].run.left);
        if loops_a != loops_b {
            return Err(Diagnostic::error(
                Code::GraftMismatch,
                format!(
                    "edge `{first}` has {loops_a} loops and edge `{second}` has {loops_b}: \
                     they can't be grafted loop to loop"
                ),
            )
            .hint("make both edges the same width"));
        }
        if loops_a == 0 {
            return Err(Diagnostic::error(
                Code::EdgeEmpty,
                "both edges are empty: nothing to graft",
            ));
        }
        self.measured(number, (loops_a, EdgeUnit::Loops), Some((loops_b, EdgeUnit::Loops)));
        // One sewn row joins both edges: its loops are counted once.
        self.use_edge(a, Operation::LoopGrafted);
        self.edges[b].take_all();
        self.draw_waste_out(b);
        Ok(())
    }

    /// All loops of the edge are sewn through with an end of its own.
    fn use_edge(&mut self, index: usize, how: Operation) {
        let edge = &mut self.edges[index];
        let loops = edge.take_all();
        let section = edge.section;
        self.lay_for(section, None, Laying::SewnLoops(loops));
        self.lay_for(section, None, Laying::Tails(2));
        self.work.sewn += loops;
        self.took_for(Some(section), Operation::SewingBegun, 1);
        self.took_for(Some(section), how, loops);
        self.draw_waste_out(index);
    }

    fn sew_rows(&mut self, piece: &str, rows: u32, how: Operation) {
        let section = self.section_of(piece);
        if section < self.sections.len() {
            self.lay_for(section, None, Laying::SeamRows(rows));
            self.lay_for(section, None, Laying::Tails(2));
        }
        self.work.sewn += rows;
        self.took_for(Some(section), Operation::SewingBegun, 1);
        self.took_for(Some(section), how, rows);
    }

    /// The yarn section of a finished piece's first row.
    pub(super) fn section_of(&self, piece: &str) -> usize {
        let found = self.done.iter().find(|p| p.name == piece);
        found.and_then(|p| p.rows.first()).map_or(0, |row| usize::from(row.section))
    }

    pub(super) fn finished_piece(&self, piece: &str) -> Result<&PieceRun, Diagnostic> {
        let known = self.done.iter().map(|p| p.name.as_str());
        self.done.iter().find(|p| p.name == piece).ok_or_else(|| {
            Diagnostic::error(Code::NoSuchPiece, format!("no piece is called `{piece}`"))
                .maybe_hint(diag::nearest(piece, known).map(|n| format!("did you mean `{n}`?")))
        })
    }

    /// Rows along a selvedge of a finished piece.
    pub(super) fn selvedge(&self, piece: &str, side: Side) -> Result<u32, Diagnostic> {
        let rows = self.finished_piece(piece)?.rows_at_side(side);
        if rows == 0 {
            return Err(Diagnostic::error(
                Code::NoSelvedge,
                format!("piece `{piece}` has no rows on its {side}"),
            )
            .hint("its outermost needle there was never knitted"));
        }
        Ok(rows)
    }
}
