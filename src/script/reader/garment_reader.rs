//! What all parts of the reading share: the faults found so far and where they lie, and tables and lists
//! read with their faults noted.

use std::collections::BTreeSet;

use mlua::{Table, Value};

use diag::{Code, Diagnostic, Diagnostics, Place, nearest};

use crate::code::{INIT, InList, Sources};
use crate::limits::Limits;
use crate::manifest::Manifest;
use crate::sandbox::{KeptSteps, Stopwatch};
use crate::schema::RecordSpec;
use crate::values::{CheckedFields, FieldFault, What, describe, items, number, read};

/// Pieces, finished measures, counts: entries of any list but steps.
const MOST_ENTRIES: usize = 200;
const MOST_FAULTS: usize = 20;

/// The reading of one garment.
pub(crate) struct GarmentReader<'a> {
    pub(super) manifest: &'a Manifest,
    pub(super) code: &'a Sources,
    pub(super) limits: &'a Limits,
    /// Where the garment function begins, for faults with no better place.
    pub(super) function_line: usize,
    pub(super) kept: &'a KeptSteps,
    /// Steps in the lists begun so far, steps read, and bytes of their texts.
    pub(super) steps: usize,
    pub(super) seen: usize,
    pub(super) text: usize,
    /// The entry that is being read, and those it lies in, outermost first.
    pub(super) path: Vec<InList>,
    /// Reading has as long as running had.
    pub(super) started: Stopwatch,
    pub(super) faults: Diagnostics,
}

/// Reading stops here: going on would cost more than it tells.
pub(super) struct Enough;

pub(super) type OrEnough<T> = Result<T, Enough>;

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
            path: Vec::new(),
            started,
            faults,
        }
    }

    /// Notes that `what` must have something else than it has.
    pub(super) fn push_conflict(
        &mut self,
        what: What<'_>,
        choice: &str,
        place: Option<Place>,
    ) -> OrEnough<()> {
        let fault = Diagnostic::error(Code::ScriptConflict, format!("{what} must have {choice}"))
            .hint("plugins/README.md says what each is");
        let fault = match place {
            Some(place) => fault.at(place),
            None => self.at_line_or_word(fault, 0, "name"),
        };
        self.push(fault)
    }

    /// Notes a name that is none of `known`.
    pub(super) fn known<T: AsRef<str>>(
        &mut self,
        name: &str,
        known: &[T],
        kind: &str,
        what: What<'_>,
    ) -> OrEnough<()> {
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

    /// Notes names that are there twice.
    pub(super) fn unique<'n>(
        &mut self,
        names: impl Iterator<Item = &'n String>,
        what: &str,
    ) -> OrEnough<()> {
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

    /// The entries of a list field of the garment, each read by `one` with its number from 1. Those
    /// with faults are left out.
    pub(super) fn each<T>(
        &mut self,
        fields: &CheckedFields,
        field: &'static str,
        mut one: impl FnMut(&mut Self, &Value, usize) -> OrEnough<Option<T>>,
    ) -> OrEnough<Vec<T>> {
        let mut all = Vec::new();
        for (at, entry) in self.entries(fields, field, &"the garment")?.iter().enumerate() {
            all.extend(self.inside(field, at + 1, |reader| one(reader, entry, at + 1))?);
        }
        Ok(all)
    }

    /// Reads the `nth` entry of a list: faults lie in it.
    pub(super) fn inside<T>(
        &mut self,
        list: &'static str,
        nth: usize,
        read: impl FnOnce(&mut Self) -> OrEnough<T>,
    ) -> OrEnough<T> {
        self.path.push(InList { list, nth, name: None });
        let read = read(self);
        self.path.pop();
        read
    }

    /// A list field as its entries; empty when it is absent or wrong (and noted).
    pub(super) fn entries(
        &mut self,
        fields: &CheckedFields,
        field: &str,
        what: What<'_>,
    ) -> OrEnough<Vec<Value>> {
        self.entries_up_to(fields, field, what, MOST_ENTRIES)
    }

    /// The same, of a list of at most `most`.
    pub(super) fn entries_up_to(
        &mut self,
        fields: &CheckedFields,
        field: &str,
        what: What<'_>,
        most: usize,
    ) -> OrEnough<Vec<Value>> {
        let Some(list) = fields.table(field) else { return Ok(Vec::new()) };
        match items(&list, most) {
            Ok(entries) => Ok(entries),
            Err(misfit) => {
                let fault = misfit.at(field, &what.to_string());
                let fault = self.at_line_or_word(fault, 0, field);
                self.push(fault)?;
                Ok(Vec::new())
            }
        }
    }

    /// The table an entry has to be.
    pub(super) fn table(&mut self, entry: &Value, what: What<'_>) -> OrEnough<Option<Table>> {
        if let Value::Table(table) = entry {
            return Ok(Some(table.clone()));
        }
        let fault = Diagnostic::error(
            Code::ScriptWrongType,
            format!("{what} must be a table, not {}", describe(entry)),
        )
        .hint("see plugins/README.md for its fields");
        let fault = self.at_line_or_word(fault, 0, "");
        self.push(fault)?;
        Ok(None)
    }

    /// The fields of a table; what is wrong with them is noted.
    pub(super) fn fields(
        &mut self,
        table: &Table,
        record: &'static RecordSpec,
        what: What<'_>,
        line: usize,
    ) -> OrEnough<CheckedFields> {
        let mut faults = Vec::new();
        let Ok(fields) = read(table, record.fields, what, &["line"], &mut faults) else {
            return Err(Enough);
        };
        faults.extend(fields.newer_than(self.manifest.api, what));
        let named = fields.text("name");
        if let Some(entry) = self.path.last_mut() {
            entry.name = entry.name.take().or_else(|| named.clone());
        }
        for FieldFault { field, fault } in faults {
            // The misspelt or wrong field itself says best where it is; a missing one is nowhere,
            // so the name of its table has to do.
            let word = match fault.code {
                Code::ScriptMissingField => named.as_deref().unwrap_or_default(),
                _ => &field,
            };
            let fault = self.at_line_or_word(fault, line, word);
            self.push(fault)?;
        }
        Ok(fields)
    }

    /// Notes a fault, up to a number worth reading.
    pub(super) fn push(&mut self, fault: Diagnostic) -> OrEnough<()> {
        self.faults.push(fault);
        if self.faults.iter().count() >= MOST_FAULTS { Err(Enough) } else { Ok(()) }
    }

    /// Notes a fault after which reading on is of no use.
    pub(super) fn give_up<T>(&mut self, fault: Diagnostic) -> OrEnough<T> {
        self.faults.push(fault);
        Err(Enough)
    }

    /// Puts the fault where the garment function begins.
    pub(super) fn at_function(&self, fault: Diagnostic) -> Diagnostic {
        match self.code.place(INIT, self.function_line) {
            Some(place) => fault.at(place),
            None => fault,
        }
    }

    /// Puts the fault at the line a constructor noted; else where the entry in hand holds `word`, or at
    /// that entry; else at the first line of the sources that holds `word`; else where the garment
    /// function begins.
    pub(super) fn at_line_or_word(&self, fault: Diagnostic, line: usize, word: &str) -> Diagnostic {
        if line > 0
            && let Some(place) = self.code.place(INIT, line)
            && !place.line_text.is_empty()
        {
            return fault.at(place);
        }
        let inside = || self.code.find_in_entry(&self.path, word);
        let inside = if self.path.is_empty() { None } else { inside() };
        match inside.or_else(|| self.code.find_word(word)) {
            Some(place) => fault.at(place),
            None => self.at_function(fault),
        }
    }
}

/// The line a constructor noted in its table.
pub(super) fn line_of(table: &Table) -> usize {
    line_in(table.raw_get::<Value>("line").ok().as_ref())
}

/// The same, of a value that is there or not.
pub(super) fn line_in(value: Option<&Value>) -> usize {
    match value.and_then(number) {
        Some(line) if (1.0..=1.0e6).contains(&line) && line.fract() == 0.0 => line as usize,
        _ => 0,
    }
}
