use mlua::{Table, Value};

use diag::{Code, Diagnostic, Diagnostics};
use knit::garment::Garment;
use knit::program::{Piece, Program};

use super::garment_reader::{Enough, GarmentReader, OrEnough, line_of};
use super::steps::{Unfolded, Within};
use super::views::MOST_VIEWS;
use crate::schema::{GARMENT, PIECE};
use crate::values::{describe, worded};

impl GarmentReader<'_> {
    /// The garment a returned value is.
    ///
    /// # Errors
    /// Everything that is wrong with the returned value, each at a line of the script.
    pub fn read(mut self, returned: &Value) -> Result<Garment, Diagnostics> {
        let Value::Table(table) = returned else {
            let fault = Diagnostic::error(
                Code::ScriptWrongType,
                format!("the garment function must return a table, not {}", describe(returned)),
            )
            .hint("end it with `return { pieces = { ... } }`");
            return Err(self.at_function(fault).into());
        };
        match self.garment(table) {
            Ok(garment) => self.faults.into_result(garment),
            Err(Enough) => Err(self.faults),
        }
    }

    fn garment(&mut self, table: &Table) -> OrEnough<Garment> {
        let fields = self.fields(table, &GARMENT, &"the garment", 0)?;
        let mut unfolded = Unfolded::default();
        let made =
            self.each(&fields, "pieces", |r, entry, at| r.piece(entry, at, &mut unfolded))?;
        let (pieces, mates) = made.into_iter().unzip();
        let mut program = Program { pieces, ..Program::default() };
        if let Some(list) = fields.table("finishing") {
            let within = Within { what: &"`finishing` of the garment", depth: 0, line: 0 };
            self.steps(&list, within, &mut unfolded, &mut program.finishing)?;
        }
        let pieces: Vec<String> = program.pieces.iter().map(|p| p.name.clone()).collect();
        self.unique(pieces.iter(), "pieces")?;
        let mut garment = Garment {
            cautions: fields.texts("cautions").unwrap_or_default(),
            program,
            mates,
            ..Garment::default()
        };
        garment.finished =
            self.each(&fields, "finished", |r, entry, at| r.finished(entry, at, &pieces))?;
        let finished: Vec<String> = garment.finished.iter().map(|f| f.name.clone()).collect();
        self.unique(finished.iter(), "finished measures")?;
        garment.ratios =
            self.each(&fields, "ratios", |r, entry, at| r.ratio(entry, at, &finished))?;
        garment.stretches =
            self.each(&fields, "stretches", |r, entry, at| r.stretch(entry, at, &finished))?;
        garment.counts =
            self.each(&fields, "counts", |r, entry, at| r.count(entry, at, &pieces))?;
        self.unique(garment.counts.iter().map(|c| &c.name), "counts")?;
        let views = self.entries_up_to(&fields, "views", &"the garment", MOST_VIEWS)?;
        for (at, entry) in views.iter().enumerate() {
            let view = self.inside("views", at + 1, |r| r.view(entry, at + 1, &pieces))?;
            garment.views.extend(view);
        }
        Ok(garment)
    }

    fn piece(
        &mut self,
        entry: &Value,
        at: usize,
        unfolded: &mut Unfolded,
    ) -> OrEnough<Option<(Piece, Option<u32>)>> {
        let what = worded(|f| write!(f, "piece {at}"));
        let Some(table) = self.table(entry, &what)? else { return Ok(None) };
        let line = line_of(&table);
        let fields = self.fields(&table, &PIECE, &what, line)?;
        let (Some(name), Some(list)) = (fields.text("name"), fields.table("steps")) else {
            return Ok(None);
        };
        let section = fields.text("section").unwrap_or_else(|| name.clone());
        self.known_section(&section, line)?;
        let what = worded(|f| write!(f, "`steps` of piece `{name}`"));
        let mut steps = Vec::new();
        // Steps are made anywhere: what is wrong with them lies there, and not where the piece stands.
        let path = std::mem::take(&mut self.path);
        self.steps(&list, Within { what: &what, depth: 0, line }, unfolded, &mut steps)?;
        self.path = path;
        let title = fields.text("title").unwrap_or_else(|| name.clone());
        Ok(Some((Piece { name, title, section, steps }, fields.whole("mate"))))
    }
}
