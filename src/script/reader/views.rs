//! How the finished garment looks from each side.

use mlua::Value;

use knit::view::{Form, Lie, Patch, Round, Strand, View, ViewPart};

use super::garment_reader::{GarmentReader, OrEnough, line_of};
use crate::code::INIT;
use crate::schema::{SHOWN, STRAND, VIEW};
use crate::values::{CheckedFields, What, worded};

/// Views of a garment, and parts of a view: more would not fit on a page.
pub(super) const MOST_VIEWS: usize = 12;
const MOST_PARTS: usize = 64;

impl GarmentReader<'_> {
    pub(super) fn view(
        &mut self,
        entry: &Value,
        at: usize,
        pieces: &[String],
    ) -> OrEnough<Option<View>> {
        let what = worded(|f| write!(f, "view {at}"));
        let Some(table) = self.table(entry, &what)? else { return Ok(None) };
        let line = line_of(&table);
        let fields = self.fields(&table, &VIEW, &what, line)?;
        let mut parts = Vec::new();
        let entries = self.entries_up_to(&fields, "parts", &what, MOST_PARTS)?;
        for (i, entry) in entries.iter().enumerate() {
            let what = worded(|f| write!(f, "part {} of {what}", i + 1));
            let part =
                self.inside("parts", i + 1, |reader| reader.shown(entry, &what, line, pieces))?;
            parts.extend(part);
        }
        let Some(title) = fields.text("title") else { return Ok(None) };
        let line = u32::try_from(line).unwrap_or(0);
        Ok(Some(View { title, mirror: fields.flag("mirror"), parts, line }))
    }

    fn shown(
        &mut self,
        entry: &Value,
        what: What<'_>,
        line: usize,
        pieces: &[String],
    ) -> OrEnough<Option<ViewPart>> {
        let Some(table) = self.table(entry, what)? else { return Ok(None) };
        let fields = self.fields(&table, &SHOWN, what, line)?;
        let (Some(form), Some(piece)) = (fields.text("form"), fields.text("piece")) else {
            return Ok(None);
        };
        self.known(&piece, pieces, "piece", what)?;
        let lies = Lying::of(form, &fields);
        if let Some(choice) = lies.conflict() {
            let place = self.code.place(INIT, line).filter(|_| line > 0);
            self.push_conflict(what, choice, place)?;
            return Ok(None);
        }
        let front = match fields.table("front") {
            Some(front) => {
                let front = self.fields(
                    &front,
                    &STRAND,
                    &worded(|f| write!(f, "`front` of {what}")),
                    line,
                )?;
                Some(strand(&front))
            }
            None => None,
        };
        let patch = Patch {
            piece,
            strand: strand(&fields),
            from: fields.text("from"),
            to: fields.text("to"),
            share: lies.share,
        };
        Ok(Some(ViewPart { patch, form: lies.form(front) }))
    }
}

/// How a part of a view lies, as the script gives it.
struct Lying {
    form: String,
    /// Of the rows, from and to.
    share: (f64, f64),
    /// Degrees clockwise from the top, from and to.
    arc: (f64, f64),
    /// Degrees.
    turn: f64,
    lean: f64,
    /// In mm from the middle of the lower edge of the first part.
    x: Option<f64>,
    y: Option<f64>,
    beside: bool,
    radius_mm: Option<f64>,
    has_front: bool,
}

impl Lying {
    fn of(form: String, fields: &CheckedFields) -> Lying {
        let number = |name: &str, absent: f64| fields.number(name).unwrap_or(absent);
        Lying {
            form,
            share: (number("first", 0.0), number("last", 1.0)),
            arc: (number("arc_from", 0.0), number("arc_to", 360.0)),
            turn: number("turn", 0.0),
            lean: number("lean", 0.0),
            x: fields.number("x"),
            y: fields.number("y"),
            beside: fields.flag("beside"),
            radius_mm: fields.number("radius"),
            has_front: fields.table("front").is_some(),
        }
    }

    fn quarters(&self) -> f64 {
        self.turn.rem_euclid(360.0) / 90.0
    }

    /// What it should have where its fields don't go together.
    fn conflict(&self) -> Option<&'static str> {
        let form = self.form.as_str();
        let rules = [
            (self.share.0 < self.share.1, "a `first` that lies below `last`"),
            (self.arc.0 != self.arc.1, "an `arc_to` other than its `arc_from`"),
            (
                !matches!(form, "flat" | "side") || self.quarters().fract() == 0.0,
                "a `turn` of 0, 90, 180 or 270: other angles are for `lean`",
            ),
            (self.x.is_some() == self.y.is_some(), "both `x` and `y`, or neither"),
            ((form == "tube") == self.has_front, "a `front` where it is a tube, and only there"),
        ];
        rules.into_iter().find_map(|(sound, choice)| (!sound).then_some(choice))
    }

    /// `front` is the front half of a tube, and there for a tube alone.
    fn form(&self, front: Option<Strand>) -> Form {
        let lie =
            || Lie { quarters: self.quarters() as u8 % 4, lean: self.lean, at: self.x.zip(self.y) };
        let round = || Round {
            arc: self.arc,
            beside: self.beside,
            radius_mm: self.radius_mm,
            turned: self.turn == 180.0,
        };
        match (front, self.form.as_str()) {
            (Some(front), _) => Form::Tube { front, turn: self.turn },
            (None, "side") => Form::Side(lie()),
            (None, "rings") => Form::Rings(round()),
            (None, "band") => Form::Band(round()),
            (None, _) => Form::Flat(lie()),
        }
    }
}

/// The needles a table of a view names.
fn strand(fields: &CheckedFields) -> Strand {
    Strand {
        needles: fields.needles("needles"),
        ribber: fields.text("bed").map(|bed| bed == "ribber"),
        flip: fields.flag("flip"),
    }
}
