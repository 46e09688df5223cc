//! Reads the table a garment function returned. Every value is checked, counted and copied; all
//! faults are gathered, up to a number worth reading.

#![allow(clippy::disallowed_methods, reason = "the clock stops a script; it never shapes a result")]

use std::collections::BTreeSet;

use mlua::{Table, Value};

use diag::{Code, Diagnostic, Diagnostics, Place, nearest};
use knit::garment::{
    CountSpec, Counted, Extent, FinishedSpec, Garment, MeasuredPart, RatioSpec, StretchSpec,
};
use knit::program::{Action, Piece, Program, Step, Structure};
use knit::view::{Form, Lie, Patch, Round, Strand, View, ViewPart};

use super::api::{
    self, COUNT, FINISHED, GARMENT, PART, PIECE, RATIO, Record, SHOWN, STRAND, STRETCH, VIEW,
};
use super::fields::{Fields, describe, items, number, pairs, read, read_pairs, stray_key};
use super::kept_steps::KeptSteps;
use super::limits::Limits;
use super::manifest::Manifest;
use super::plugin::{INIT, Sources};
use super::steps;
use super::stopwatch::Stopwatch;

/// Repeats inside repeats.
const MOST_DEPTH: usize = 16;
/// Pieces, finished measures, counts: entries of any list but steps.
const MOST_ENTRIES: usize = 200;
const MOST_FAULTS: usize = 20;
/// Bytes of an op that are looked at: more than any has.
const MOST_OP: usize = 100;
/// Bytes of text in all steps. One text in the script can be in a million steps, and is copied
/// for each.
const MOST_STEP_TEXT: usize = 4 << 20;
/// Views of a garment, and parts of a view: more would not fit on a page.
const MOST_VIEWS: usize = 12;
const MOST_PARTS: usize = 40;

pub(super) struct GarmentReader<'a> {
    pub manifest: &'a Manifest,
    pub code: &'a Sources,
    pub limits: &'a Limits,
    /// Where the garment function begins, for faults with no better place.
    pub function_line: usize,
    kept: &'a KeptSteps,
    /// Steps in the lists begun so far, steps read, and bytes of their texts.
    steps: usize,
    seen: usize,
    text: usize,
    /// Reading has as long as running had.
    started: Stopwatch,
    faults: Diagnostics,
}

/// What a list of steps unfolds to.
#[derive(Clone, Copy, Default)]
struct Unfolded {
    steps: u64,
    passes: u64,
}

/// Reading stops here: going on would cost more than it tells.
struct Enough;

type Reading<T> = Result<T, Enough>;

impl<'a> GarmentReader<'a> {
    pub fn new(
        manifest: &'a Manifest,
        code: &'a Sources,
        limits: &'a Limits,
        function_line: usize,
        kept: &'a KeptSteps,
    ) -> Self {
        let (started, faults) = (Stopwatch::start(), Diagnostics::new());
        GarmentReader {
            manifest,
            code,
            limits,
            function_line,
            kept,
            steps: 0,
            seen: 0,
            text: 0,
            started,
            faults,
        }
    }

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

    fn garment(&mut self, table: &Table) -> Reading<Garment> {
        let fields = self.fields(table, &GARMENT, "the garment", 0)?;
        let mut program = Program::default();
        let mut unfolded = Unfolded::default();
        let mut mates = Vec::new();
        for (at, entry) in self.entries(&fields, "pieces", "the garment")?.iter().enumerate() {
            if let Some((piece, mate)) = self.piece(entry, at + 1, &mut unfolded)? {
                program.pieces.push(piece);
                mates.push(mate);
            }
        }
        if let Some(list) = fields.table("finishing") {
            let what = "`finishing` of the garment";
            program.finishing = self.steps(&list, what, 0, &mut unfolded)?;
        }
        let pieces: Vec<String> = program.pieces.iter().map(|p| p.name.clone()).collect();
        self.unique(pieces.iter(), "pieces")?;
        let mut garment = Garment {
            cautions: fields.texts("cautions").unwrap_or_default(),
            program,
            mates,
            ..Garment::default()
        };
        for (at, entry) in self.entries(&fields, "finished", "the garment")?.iter().enumerate() {
            if let Some(spec) = self.finished(entry, at + 1, &pieces)? {
                garment.finished.push(spec);
            }
        }
        let finished: Vec<String> = garment.finished.iter().map(|f| f.name.clone()).collect();
        self.unique(finished.iter(), "finished measures")?;
        for (at, entry) in self.entries(&fields, "ratios", "the garment")?.iter().enumerate() {
            if let Some(spec) = self.ratio(entry, at + 1, &finished)? {
                garment.ratios.push(spec);
            }
        }
        for (at, entry) in self.entries(&fields, "stretches", "the garment")?.iter().enumerate() {
            if let Some(spec) = self.stretch(entry, at + 1, &finished)? {
                garment.stretches.push(spec);
            }
        }
        for (at, entry) in self.entries(&fields, "counts", "the garment")?.iter().enumerate() {
            if let Some(spec) = self.count(entry, at + 1, &pieces)? {
                garment.counts.push(spec);
            }
        }
        self.unique(garment.counts.iter().map(|c| &c.name), "counts")?;
        let views = self.entries_up_to(&fields, "views", "the garment", MOST_VIEWS)?;
        for (at, entry) in views.iter().enumerate() {
            if let Some(view) = self.view(entry, at + 1, &pieces)? {
                garment.views.push(view);
            }
        }
        Ok(garment)
    }

    fn view(&mut self, entry: &Value, at: usize, pieces: &[String]) -> Reading<Option<View>> {
        let what = format!("view {at}");
        let Some(table) = self.table(entry, &what)? else { return Ok(None) };
        let line = line_of(&table);
        let fields = self.fields(&table, &VIEW, &what, line)?;
        let mut parts = Vec::new();
        let entries = self.entries_up_to(&fields, "parts", &what, MOST_PARTS)?;
        for (i, entry) in entries.iter().enumerate() {
            let what = format!("part {} of {what}", i + 1);
            if let Some(part) = self.shown(entry, &what, line, pieces)? {
                parts.push(part);
            }
        }
        let Some(title) = fields.text("title") else { return Ok(None) };
        let line = u32::try_from(line).unwrap_or(0);
        Ok(Some(View { title, mirror: fields.flag("mirror"), parts, line }))
    }

    fn shown(
        &mut self,
        entry: &Value,
        what: &str,
        line: usize,
        pieces: &[String],
    ) -> Reading<Option<ViewPart>> {
        let Some(table) = self.table(entry, what)? else { return Ok(None) };
        let fields = self.fields(&table, &SHOWN, what, line)?;
        let (Some(form), Some(piece)) = (fields.text("form"), fields.text("piece")) else {
            return Ok(None);
        };
        self.known(&piece, pieces, "piece", what)?;
        let share = (fields.number("first").unwrap_or(0.0), fields.number("last").unwrap_or(1.0));
        let arc =
            (fields.number("arc_from").unwrap_or(0.0), fields.number("arc_to").unwrap_or(360.0));
        let turn = fields.number("turn").unwrap_or(0.0);
        let quarters = turn.rem_euclid(360.0) / 90.0;
        for (sound, choice) in [
            (share.0 < share.1, "a `first` that lies below `last`"),
            (arc.0 != arc.1, "an `arc_to` other than its `arc_from`"),
            (
                !matches!(form.as_str(), "flat" | "side") || quarters.fract() == 0.0,
                "a `turn` of 0, 90, 180 or 270: other angles are for `lean`",
            ),
            (
                fields.number("x").is_some() == fields.number("y").is_some(),
                "both `x` and `y`, or neither",
            ),
            (
                (form == "tube") == fields.table("front").is_some(),
                "a `front` where it is a tube, and only there",
            ),
        ] {
            if !sound {
                let place = self.code.place(INIT, line).filter(|_| line > 0);
                self.push_conflict(what, choice, place)?;
                return Ok(None);
            }
        }
        let lie = Lie {
            quarters: quarters as u8 % 4,
            lean: fields.number("lean").unwrap_or(0.0),
            at: fields.number("x").zip(fields.number("y")),
        };
        let round = Round {
            arc,
            beside: fields.flag("beside"),
            radius_mm: fields.number("radius"),
            turned: turn == 180.0,
        };
        let form = match form.as_str() {
            "side" => Form::Side(lie),
            "rings" => Form::Rings(round),
            "band" => Form::Band(round),
            "tube" => {
                let Some(front) = fields.table("front") else { return Ok(None) };
                let front = self.fields(&front, &STRAND, &format!("`front` of {what}"), line)?;
                Form::Tube { front: strand(&front), turn }
            }
            _ => Form::Flat(lie),
        };
        let patch = Patch {
            piece,
            strand: strand(&fields),
            from: fields.text("from"),
            to: fields.text("to"),
            share,
        };
        Ok(Some(ViewPart { patch, form }))
    }

    fn piece(
        &mut self,
        entry: &Value,
        at: usize,
        unfolded: &mut Unfolded,
    ) -> Reading<Option<(Piece, Option<u32>)>> {
        let what = format!("piece {at}");
        let Some(table) = self.table(entry, &what)? else { return Ok(None) };
        let line = line_of(&table);
        let fields = self.fields(&table, &PIECE, &what, line)?;
        let (Some(name), Some(list)) = (fields.text("name"), fields.table("steps")) else {
            return Ok(None);
        };
        let section = fields.text("section").unwrap_or_else(|| name.clone());
        self.known_section(&section, line)?;
        let what = format!("`steps` of piece `{name}`");
        let steps = self.steps(&list, &what, 0, unfolded)?;
        let title = fields.text("title").unwrap_or_else(|| name.clone());
        Ok(Some((Piece { name, title, section, steps }, fields.whole("mate"))))
    }

    fn known_section(&mut self, section: &str, line: usize) -> Reading<()> {
        if self.manifest.sections.iter().any(|s| s.name == section) {
            return Ok(());
        }
        let fault = Diagnostic::error(
            Code::ScriptUnknownSection,
            format!("plugin.toml has no yarn section `{section}`"),
        );
        let near = nearest(section, self.manifest.sections.iter().map(|s| s.name.as_str()));
        let fault = match near {
            Some(near) => fault.hint(format!("did you mean `{near}`?")),
            None => fault.hint(format!("add `{section} = \"...\"` under [sections]")),
        };
        let fault = self.at_line_or_word(fault, line, section);
        self.push(fault)
    }

    /// A list of steps. `what` names it, `depth` is how many repeats it lies in.
    fn steps(
        &mut self,
        list: &Table,
        what: &str,
        depth: usize,
        unfolded: &mut Unfolded,
    ) -> Reading<Vec<Step>> {
        if depth > MOST_DEPTH {
            let fault = Diagnostic::error(
                Code::ScriptNesting,
                format!("steps are nested over {MOST_DEPTH} deep"),
            )
            .hint("a repeat must not hold itself");
            let fault = self.at_line_or_word(fault, 0, "again");
            return self.give_up(fault);
        }
        let length = list.raw_len();
        if self.steps.saturating_add(length) > self.limits.steps {
            let fault = Diagnostic::error(
                Code::ScriptSteps,
                format!("the program has over {} steps", self.limits.steps),
            )
            .hint("fold repeats with step.again");
            let fault = self.at_line_or_word(fault, 0, "steps");
            return self.give_up(fault);
        }
        self.steps += length;
        // One entry at a time: a handle for each of a million would not fit in the machine.
        let mut steps = Vec::new();
        for at in 1..=length {
            self.seen += 1;
            // Counted over all lists: short ones can hold as much as a long one.
            if self.seen.is_multiple_of(256) && self.started.is_past(self.limits.deadline) {
                let fault = Diagnostic::error(
                    Code::ScriptSteps,
                    format!("the program has too many steps to read ({} so far)", self.steps),
                )
                .hint("fold repeats with step.again");
                let fault = self.at_line_or_word(fault, 0, "steps");
                return self.give_up(fault);
            }
            let Ok(entry) = list.raw_get::<Value>(at) else { return Err(Enough) };
            steps.extend(self.step(&entry, what, at, depth, unfolded)?);
        }
        let Ok(stray) = stray_key(list, length) else { return Err(Enough) };
        if let Some(key) = stray {
            let fault = Diagnostic::error(
                Code::ScriptList,
                format!("{what} must be a list without gaps or names; it has {key}"),
            )
            .hint("a nil inside a list makes a gap: leave such entries out");
            let fault = self.at_line_or_word(fault, 0, "steps");
            self.push(fault)?;
        }
        Ok(steps)
    }

    fn step(
        &mut self,
        entry: &Value,
        what: &str,
        at: usize,
        depth: usize,
        unfolded: &mut Unfolded,
    ) -> Reading<Option<Step>> {
        let what = || format!("step {at} in {what}");
        let Value::Table(table) = entry else {
            let fault = Diagnostic::error(
                Code::ScriptWrongType,
                format!("{} must be a step, not {}", what(), describe(entry)),
            )
            .hint("make steps with step.knit{ ... } and its like");
            let fault = self.at_function(fault);
            self.push(fault)?;
            return Ok(None);
        };
        let (line, mut action, text) = match self.kept.of(table) {
            Some(kept) => (kept.line as usize, kept.action.clone(), kept.text),
            None => match self.unkept_step(table, &what)? {
                Some(read) => read,
                None => return Ok(None),
            },
        };
        self.text = self.text.saturating_add(text);
        if self.text > MOST_STEP_TEXT {
            let fault = Diagnostic::error(
                Code::ScriptText,
                format!("the steps hold over {} MB of text", MOST_STEP_TEXT >> 20),
            )
            .hint("say it once, or inside a step.again");
            let fault = self.at_line_or_word(fault, line, "text");
            return self.give_up(fault);
        }
        let mut inner = Unfolded { steps: 1, passes: 0 };
        match &mut action {
            Action::Knit { rows } => inner.passes = u64::from(*rows),
            Action::Section(name) => self.known_section(name, line)?,
            Action::Repeat { times, steps } => {
                let Ok(list) = table.raw_get::<Table>("steps") else { return Err(Enough) };
                let mut once = Unfolded::default();
                let what = format!("`steps` of step.again ({})", what());
                *steps = self.steps(&list, &what, depth + 1, &mut once)?;
                let times = u64::from(*times);
                inner.steps = inner.steps.saturating_add(once.steps.saturating_mul(times));
                inner.passes = once.passes.saturating_mul(times);
            }
            _ => {}
        }
        unfolded.steps = unfolded.steps.saturating_add(inner.steps);
        unfolded.passes = unfolded.passes.saturating_add(inner.passes);
        self.check_unfolded(*unfolded, line)?;
        Ok(Some(Step { line: u32::try_from(line).unwrap_or(0), action }))
    }

    /// A step that no constructor made, or one too many to be kept: its line, what is done without
    /// the steps of a repeat, and bytes of its texts.
    fn unkept_step(
        &mut self,
        table: &Table,
        what: &impl Fn() -> String,
    ) -> Reading<Option<(usize, Action, usize)>> {
        let pairs = pairs(table);
        let field = |name: &str| match &pairs {
            Some(pairs) => {
                pairs.iter().find(|(key, _)| key == name).map(|(_, value)| value.clone())
            }
            None => table.raw_get::<Value>(name).ok(),
        };
        let line = line_in(field("line").as_ref());
        let op = match field("op") {
            Some(Value::String(op)) => {
                let bytes = op.as_bytes();
                String::from_utf8_lossy(&bytes[..bytes.len().min(MOST_OP)]).into_owned()
            }
            _ => String::new(),
        };
        let Some(found) = api::step(&op) else {
            let fault = if op.is_empty() {
                Diagnostic::error(Code::ScriptUnknownStep, format!("{} has no `op`", what()))
                    .hint("make steps with step.knit{ ... } and its like")
            } else {
                let names = api::steps().map(|entry| entry.split().1);
                let shown = super::fields::clip(&op);
                Diagnostic::error(
                    Code::ScriptUnknownStep,
                    format!("{} has the unknown op `{shown}`", what()),
                )
                .hint(match nearest(&op, names) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => "make steps with step.knit{ ... } and its like".to_owned(),
                })
            };
            let fault = self.at_line_or_word(fault, line, &op);
            self.push(fault)?;
            return Ok(None);
        };
        let mut faults = Vec::new();
        let own = ["op", "line"];
        let quick = pairs.as_ref().and_then(|pairs| read_pairs(pairs, found.args, &own));
        let fields = match quick {
            Some(fields) => fields,
            None => match read(table, found.args, found.name, &own, &mut faults) {
                Ok(fields) => fields,
                Err(_) => return Err(Enough),
            },
        };
        if !faults.is_empty() {
            for fault in faults {
                let word = quoted(&fault.message).unwrap_or_default();
                let fault = self.at_line_or_word(fault.context(what()), line, &word);
                self.push(fault)?;
            }
            return Ok(None);
        }
        match steps::action(&op, &fields) {
            Ok(action) => Ok(Some((line, action, fields.text_bytes()))),
            Err(fault) => {
                let fault = self.at_line_or_word(fault.context(what()), line, &op);
                self.push(fault)?;
                Ok(None)
            }
        }
    }

    fn check_unfolded(&mut self, unfolded: Unfolded, line: usize) -> Reading<()> {
        let fault = if unfolded.passes > self.limits.passes {
            Diagnostic::error(
                Code::ScriptRows,
                format!("the program knits over {} rows", self.limits.passes),
            )
        } else if unfolded.steps > self.limits.steps as u64 {
            Diagnostic::error(
                Code::ScriptSteps,
                format!("the program has over {} steps when unfolded", self.limits.steps),
            )
        } else {
            return Ok(());
        };
        let fault = fault.hint("no garment needs so many: check the repeats");
        let fault = self.at_line_or_word(fault, line, "again");
        self.give_up(fault)
    }

    fn finished(
        &mut self,
        entry: &Value,
        at: usize,
        pieces: &[String],
    ) -> Reading<Option<FinishedSpec>> {
        let what = format!("finished measure {at}");
        let Some(table) = self.table(entry, &what)? else { return Ok(None) };
        let fields = self.fields(&table, &FINISHED, &what, 0)?;
        let mut parts = Vec::new();
        for (i, entry) in self.entries(&fields, "parts", &what)?.iter().enumerate() {
            let what = format!("part {} of {what}", i + 1);
            if let Some(part) = self.part(entry, &what, pieces)? {
                parts.push(part);
            }
        }
        let (Some(name), Some(target_mm)) = (fields.text("name"), fields.number("target")) else {
            return Ok(None);
        };
        match (fields.number("ease_low"), fields.number("ease_high")) {
            (Some(low), Some(high)) if low > high => {
                self.push_conflict(
                    &what,
                    "an `ease_low` that is not above `ease_high`",
                    self.code.find_name(&name),
                )?;
            }
            (Some(_), None) | (None, Some(_)) => {
                self.push_conflict(
                    &what,
                    "both `ease_low` and `ease_high`, or neither",
                    self.code.find_name(&name),
                )?;
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
        what: &str,
        pieces: &[String],
    ) -> Reading<Option<MeasuredPart>> {
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
                let place = self.code.find_word(&piece);
                self.push_conflict(what, choice, place)?;
                Ok(None)
            }
        }
    }

    fn ratio(
        &mut self,
        entry: &Value,
        at: usize,
        finished: &[String],
    ) -> Reading<Option<RatioSpec>> {
        let what = format!("ratio {at}");
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
            self.push_conflict(
                &what,
                "a `low` that is not above `high`",
                self.code.find_name(&name),
            )?;
        }
        let factor = fields.number("factor").unwrap_or(1.0);
        Ok(Some(RatioSpec { name, title, of, over, factor, low, high }))
    }

    fn stretch(
        &mut self,
        entry: &Value,
        at: usize,
        finished: &[String],
    ) -> Reading<Option<StretchSpec>> {
        let what = format!("stretch {at}");
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

    fn count(&mut self, entry: &Value, at: usize, pieces: &[String]) -> Reading<Option<CountSpec>> {
        let what = format!("count {at}");
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
                self.push_conflict(&what, choice, self.code.find_name(&name))?;
                Ok(None)
            }
        }
    }

    fn push_conflict(&mut self, what: &str, choice: &str, place: Option<Place>) -> Reading<()> {
        let fault = Diagnostic::error(Code::ScriptConflict, format!("{what} must have {choice}"))
            .hint("see plugins/README.md");
        let fault = match place {
            Some(place) => fault.at(place),
            None => self.at_function(fault),
        };
        self.push(fault)
    }

    fn known<T: AsRef<str>>(
        &mut self,
        name: &str,
        known: &[T],
        kind: &str,
        what: &str,
    ) -> Reading<()> {
        if known.iter().any(|k| k.as_ref() == name) {
            return Ok(());
        }
        let names: Vec<&str> = known.iter().map(AsRef::as_ref).collect();
        let fault = Diagnostic::error(
            Code::ScriptUnknownName,
            format!("{what} names `{name}`, which is no {kind}"),
        )
        .hint(match nearest(name, names.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None if names.is_empty() => format!("there is no {kind} at all"),
            None => format!("there is {}", names.join(", ")),
        });
        let fault = self.at_line_or_word(fault, 0, name);
        self.push(fault)
    }

    fn unique<'n>(&mut self, names: impl Iterator<Item = &'n String>, what: &str) -> Reading<()> {
        let mut seen = BTreeSet::new();
        for name in names {
            if !seen.insert(name) {
                let fault = Diagnostic::error(
                    Code::ScriptConflict,
                    format!("two {what} are called `{name}`"),
                )
                .hint("give each its own name");
                let fault = self.at_line_or_word(fault, 0, name);
                self.push(fault)?;
            }
        }
        Ok(())
    }

    /// A list field as its entries; empty when it is absent or wrong (and noted).
    fn entries(&mut self, fields: &Fields, field: &str, what: &str) -> Reading<Vec<Value>> {
        self.entries_up_to(fields, field, what, MOST_ENTRIES)
    }

    fn entries_up_to(
        &mut self,
        fields: &Fields,
        field: &str,
        what: &str,
        most: usize,
    ) -> Reading<Vec<Value>> {
        let Some(list) = fields.table(field) else { return Ok(Vec::new()) };
        match items(&list, most) {
            Ok(entries) => Ok(entries),
            Err(problem) => {
                let fault = problem.at(field, what);
                let fault = self.at_line_or_word(fault, 0, field);
                self.push(fault)?;
                Ok(Vec::new())
            }
        }
    }

    fn table(&mut self, entry: &Value, what: &str) -> Reading<Option<Table>> {
        if let Value::Table(table) = entry {
            return Ok(Some(table.clone()));
        }
        let fault = Diagnostic::error(
            Code::ScriptWrongType,
            format!("{what} must be a table, not {}", describe(entry)),
        )
        .hint("see plugins/README.md for its fields");
        let fault = self.at_function(fault);
        self.push(fault)?;
        Ok(None)
    }

    fn fields(
        &mut self,
        table: &Table,
        record: &'static Record,
        what: &str,
        line: usize,
    ) -> Reading<Fields> {
        let mut faults = Vec::new();
        let Ok(fields) = read(table, record.fields, what, &["line"], &mut faults) else {
            return Err(Enough);
        };
        let named = fields.text("name");
        for fault in faults {
            // The misspelt or wrong field itself says best where it is; a missing one is nowhere,
            // so the name of its table has to do.
            let word = match fault.code {
                Code::ScriptMissingField => named.clone().unwrap_or_default(),
                _ => quoted(&fault.message).unwrap_or_default(),
            };
            let fault = self.at_line_or_word(fault, line, &word);
            self.push(fault)?;
        }
        Ok(fields)
    }

    fn push(&mut self, fault: Diagnostic) -> Reading<()> {
        self.faults.push(fault);
        if self.faults.iter().count() >= MOST_FAULTS { Err(Enough) } else { Ok(()) }
    }

    fn give_up<T>(&mut self, fault: Diagnostic) -> Reading<T> {
        self.faults.push(fault);
        Err(Enough)
    }

    fn at_function(&self, fault: Diagnostic) -> Diagnostic {
        match self.code.place(INIT, self.function_line) {
            Some(place) => fault.at(place),
            None => fault,
        }
    }

    /// Puts the fault at the line a constructor noted; else at the first line of the sources
    /// that holds `word`; else where the garment function begins.
    fn at_line_or_word(&self, fault: Diagnostic, line: usize, word: &str) -> Diagnostic {
        if line > 0
            && let Some(place) = self.code.place(INIT, line)
            && !place.line_text.is_empty()
        {
            return fault.at(place);
        }
        match self.code.find_word(word) {
            Some(place) => fault.at(place),
            None => self.at_function(fault),
        }
    }
}

/// The needles a table of a view names.
fn strand(fields: &Fields) -> Strand {
    Strand {
        needles: fields.needles("needles"),
        ribber: fields.text("bed").map(|bed| bed == "ribber"),
        flip: fields.flag("flip"),
    }
}

/// The line a constructor noted in its table.
fn line_of(table: &Table) -> usize {
    line_in(table.raw_get::<Value>("line").ok().as_ref())
}

fn line_in(value: Option<&Value>) -> usize {
    match value.and_then(number) {
        Some(line) if (1.0..=1.0e6).contains(&line) && line.fract() == 0.0 => line as usize,
        _ => 0,
    }
}

/// The first text in back quotes of a message: the field it is about.
fn quoted(message: &str) -> Option<String> {
    message.split('`').nth(1).map(str::to_owned)
}
