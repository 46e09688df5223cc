//! Finished measures, ratios, stretches and counts.

use mlua::Value;

use knit::garment::{
    CountSpec, Counted, Extent, FinishedSpec, MeasuredPart, RatioSpec, StretchSpec,
};
use knit::program::Structure;

use super::garment_reader::{GarmentReader, OrEnough};
use crate::schema::{COUNT, FINISHED, PART, RATIO, STRETCH};
use crate::values::{What, worded};

impl GarmentReader<'_> {
    pub(super) fn finished(
        &mut self,
        entry: &Value,
        at: usize,
        pieces: &[String],
    ) -> OrEnough<Option<FinishedSpec>> {
        let what = worded(|f| write!(f, "finished measure {at}"));
        let Some(table) = self.table(entry, &what)? else { return Ok(None) };
        let fields = self.fields(&table, &FINISHED, &what, 0)?;
        let mut parts = Vec::new();
        for (i, entry) in self.entries(&fields, "parts", &what)?.iter().enumerate() {
            let what = worded(|f| write!(f, "part {} of {what}", i + 1));
            let part = self.inside("parts", i + 1, |reader| reader.part(entry, &what, pieces))?;
            parts.extend(part);
        }
        let (Some(name), Some(target_mm)) = (fields.text("name"), fields.number("target")) else {
            return Ok(None);
        };
        match (fields.number("ease_low"), fields.number("ease_high")) {
            (Some(low), Some(high)) if low > high => {
                self.push_conflict(&what, "an `ease_low` that is not above `ease_high`", None)?;
            }
            (Some(_), None) | (None, Some(_)) => {
                self.push_conflict(&what, "both `ease_low` and `ease_high`, or neither", None)?;
            }
            _ => {}
        }
        let measure = fields.text("measure");
        if let Some(measure) = &measure {
            let known: Vec<&str> = self.manifest.measures.iter().map(String::as_str).collect();
            self.known(measure, &known, "body measure of plugin.toml", &what)?;
        }
        let title = fields.text("title").unwrap_or_else(|| name.clone());
        Ok(Some(FinishedSpec {
            name,
            title,
            parts,
            target_mm,
            measure,
            ease: fields.number("ease"),
            ease_range: fields.number("ease_low").zip(fields.number("ease_high")),
        }))
    }

    fn part(
        &mut self,
        entry: &Value,
        what: What<'_>,
        pieces: &[String],
    ) -> OrEnough<Option<MeasuredPart>> {
        let Some(table) = self.table(entry, what)? else { return Ok(None) };
        let fields = self.fields(&table, &PART, what, 0)?;
        let Some(piece) = fields.text("piece") else { return Ok(None) };
        self.known(&piece, pieces, "piece", what)?;
        let extents = [
            fields.flag("width").then_some(Extent::Width),
            fields.needles("needles").map(Extent::Needles),
            fields.side("rows_at").map(Extent::RowsAt),
            fields.needle("rows_on").map(|needle| Extent::RowsOn {
                needle,
                from: fields.text("from"),
                to: fields.text("to"),
            }),
        ];
        let mut given = extents.into_iter().flatten();
        match (given.next(), given.next()) {
            (Some(extent), None) => Ok(Some(MeasuredPart {
                piece,
                what: extent,
                times: fields.number("times").unwrap_or(1.0),
                structure: fields.structure("structure"),
            })),
            _ => {
                let choice = "exactly one of `width`, `needles`, `rows_at` and `rows_on`";
                self.push_conflict(what, choice, None)?;
                Ok(None)
            }
        }
    }

    pub(super) fn ratio(
        &mut self,
        entry: &Value,
        at: usize,
        finished: &[String],
    ) -> OrEnough<Option<RatioSpec>> {
        let what = worded(|f| write!(f, "ratio {at}"));
        let Some(table) = self.table(entry, &what)? else { return Ok(None) };
        let fields = self.fields(&table, &RATIO, &what, 0)?;
        let (Some(name), Some(of), Some(over)) =
            (fields.text("name"), fields.text("of"), fields.text("over"))
        else {
            return Ok(None);
        };
        self.known(&of, finished, "finished measure", &what)?;
        self.known(&over, finished, "finished measure", &what)?;
        let title = fields.text("title").unwrap_or_else(|| name.clone());
        let (Some(low), Some(high)) = (fields.number("low"), fields.number("high")) else {
            return Ok(None);
        };
        if low > high {
            self.push_conflict(&what, "a `low` that is not above `high`", None)?;
        }
        let factor = fields.number("factor").unwrap_or(1.0);
        Ok(Some(RatioSpec { name, title, of, over, factor, low, high }))
    }

    pub(super) fn stretch(
        &mut self,
        entry: &Value,
        at: usize,
        finished: &[String],
    ) -> OrEnough<Option<StretchSpec>> {
        let what = worded(|f| write!(f, "stretch {at}"));
        let Some(table) = self.table(entry, &what)? else { return Ok(None) };
        let fields = self.fields(&table, &STRETCH, &what, 0)?;
        let (Some(of), Some(over), Some(over_mm)) =
            (fields.text("of"), fields.text("over"), fields.number("over_mm"))
        else {
            return Ok(None);
        };
        self.known(&of, finished, "finished measure", &what)?;
        let structure = fields.structure("structure").unwrap_or(Structure::Plain);
        Ok(Some(StretchSpec { of, over, over_mm, structure }))
    }

    pub(super) fn count(
        &mut self,
        entry: &Value,
        at: usize,
        pieces: &[String],
    ) -> OrEnough<Option<CountSpec>> {
        let what = worded(|f| write!(f, "count {at}"));
        let Some(table) = self.table(entry, &what)? else { return Ok(None) };
        let fields = self.fields(&table, &COUNT, &what, 0)?;
        let Some(name) = fields.text("name") else { return Ok(None) };
        for field in ["needles", "rows"] {
            if let Some(piece) = fields.text(field) {
                self.known(&piece, pieces, "piece", &what)?;
            }
        }
        let kinds = [
            fields.text("needles").map(Counted::Needles),
            fields.text("rows").map(Counted::Rows),
            fields.text("marks").map(Counted::Marks),
            fields.text("loops").map(Counted::EdgeLoops),
            fields.text("hang_points").map(Counted::HangPoints),
            fields.text("pieces").map(Counted::Pieces),
        ];
        let mut given = kinds.into_iter().flatten();
        match (given.next(), given.next()) {
            (Some(counted), None) => {
                let title = fields.text("title").unwrap_or_else(|| name.clone());
                Ok(Some(CountSpec { name, title, what: counted }))
            }
            _ => {
                let choice = "exactly one of `needles`, `rows`, `marks`, `loops`, `hang_points` and `pieces`";
                self.push_conflict(&what, choice, None)?;
                Ok(None)
            }
        }
    }
}
