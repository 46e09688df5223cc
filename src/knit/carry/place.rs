use crate::run::Run;

/// Where the work stands: in a piece, after so many of its rows, before anything that comes next.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct WorkPlace {
    /// Index into the program's pieces.
    pub piece: usize,
    /// Rows of the piece that are done.
    pub rows: u32,
}

/// Why a place can't be found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PlaceFault {
    /// The counter never shows that in the piece; what it shows at most.
    Never(u32),
    /// It shows that several times: after so many rows of the piece each.
    Often(Vec<u32>),
}

impl WorkPlace {
    /// The place in a piece at which the row counter shows that.
    ///
    /// # Errors
    /// It never does, or more than once, since a piece may set the counter back.
    pub fn at_counter(run: &Run, piece: usize, counter: u32) -> Result<WorkPlace, PlaceFault> {
        let rows = run.pieces.get(piece).map_or(&[][..], |piece| &piece.rows);
        let begin = (counter == 0).then_some(0);
        let shown = rows.iter().zip(1..).filter(|(row, _)| row.counter == counter);
        let found: Vec<u32> = begin.into_iter().chain(shown.map(|(_, done)| done)).collect();
        match found.as_slice() {
            [rows] => Ok(WorkPlace { piece, rows: *rows }),
            [] => Err(PlaceFault::Never(rows.iter().map(|row| row.counter).max().unwrap_or(0))),
            _ => Err(PlaceFault::Often(found)),
        }
    }
}
