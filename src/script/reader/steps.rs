//! Lists of steps, unfolded only as far as to count them.

use mlua::{Table, Value};

use diag::{Code, Diagnostic, nearest};
use knit::program::{Action, Step};

use super::garment_reader::{Enough, GarmentReader, OrEnough, line_in};
use crate::sandbox::KeptStep;
use crate::schema::{self, FunctionSpec};
use crate::values::{
    CheckedFields, FieldFault, What, clip, describe, newer, raw_fields, read, read_raw,
    step_action, stray_key, worded,
};

/// Repeats and lists inside one another.
const MOST_DEPTH: usize = 16;
/// Bytes of an op that are looked at: more than any has.
const MOST_OP: usize = 100;
/// Bytes of text in all steps. One text in the script can be in a million steps, and is copied
/// for each.
const MOST_STEP_TEXT: usize = 4 << 20;

/// Fields of every step beside those of its constructor.
const OWN: [&str; 2] = ["op", "line"];
const USE_CONSTRUCTORS: &str = "make steps with step.knit{ ... } and its like";

/// What a list of steps unfolds to.
#[derive(Clone, Copy, Default)]
pub(super) struct Unfolded {
    steps: u64,
    passes: u64,
}

/// Where a list of steps stands.
#[derive(Clone, Copy)]
pub(super) struct Within<'a> {
    /// What it is called in faults.
    pub what: What<'a>,
    /// How many repeats and lists it lies in.
    pub depth: usize,
    /// The line of the piece or the repeat it is of; 0 where none is known.
    pub line: usize,
}

impl Within<'_> {
    /// The line of what a list lies in that is not a piece's own.
    fn inner_line(self) -> usize {
        if self.depth == 0 { 0 } else { self.line }
    }
}

impl GarmentReader<'_> {
    /// Notes a yarn section that plugin.toml doesn't have.
    pub(super) fn known_section(&mut self, section: &str, line: usize) -> OrEnough<()> {
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

    /// A list of steps, into `steps`; a list in it stands for its own steps, in order. `within` names
    /// it.
    pub(super) fn steps(
        &mut self,
        list: &Table,
        within: Within<'_>,
        unfolded: &mut Unfolded,
        steps: &mut Vec<Step>,
    ) -> OrEnough<()> {
        let what = within.what;
        if within.depth > MOST_DEPTH {
            let fault = Diagnostic::error(
                Code::ScriptNesting,
                format!("steps are nested over {MOST_DEPTH} deep"),
            )
            .hint("a repeat must not hold itself, nor a list of steps");
            let fault = self.at_line_or_word(fault, within.line, "again");
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
            let kept = self.kept;
            let kept = entry.as_table().and_then(|table| kept.of(table));
            match &entry {
                Value::Table(inner) if kept.is_none() && is_list(inner) => {
                    self.inner_list(inner, at, within, unfolded, steps)?;
                }
                _ => steps.extend(self.step(&entry, kept, at, within, unfolded)?),
            }
        }
        let Ok(stray) = stray_key(list, length) else { return Err(Enough) };
        if let Some(key) = stray {
            let fault = Diagnostic::error(
                Code::ScriptList,
                format!("{what} must be a list without gaps or names; it has {key}"),
            )
            .hint("a nil inside a list makes a gap: leave such entries out");
            let fault = self.at_line_or_word(fault, within.inner_line(), "steps");
            self.push(fault)?;
        }
        Ok(())
    }

    /// A list that stands in a list of steps, as a helper returns it.
    fn inner_list(
        &mut self,
        list: &Table,
        at: usize,
        within: Within<'_>,
        unfolded: &mut Unfolded,
        steps: &mut Vec<Step>,
    ) -> OrEnough<()> {
        let what = worded(|f| write!(f, "list {at} in {}", within.what));
        if self.manifest.api < 2 {
            let fault = newer(&format!("a list of steps inside another ({what})"), 2, 1);
            let fault = self.at_line_or_word(fault, within.line, "steps");
            return self.push(fault);
        }
        let inner = Within { what: &what, depth: within.depth + 1, ..within };
        self.steps(list, inner, unfolded, steps)
    }

    /// One step; `kept` is what its constructor checked, where that is known.
    fn step(
        &mut self,
        entry: &Value,
        kept: Option<&KeptStep>,
        at: usize,
        within: Within<'_>,
        unfolded: &mut Unfolded,
    ) -> OrEnough<Option<Step>> {
        let what = || format!("step {at} in {}", within.what);
        let Value::Table(table) = entry else {
            let fault = Diagnostic::error(
                Code::ScriptWrongType,
                format!("{} must be a step, not {}", what(), describe(entry)),
            )
            .hint(USE_CONSTRUCTORS);
            let fault = match within.inner_line() {
                0 => self.at_function(fault),
                line => self.at_line_or_word(fault, line, "steps"),
            };
            self.push(fault)?;
            return Ok(None);
        };
        let (line, mut action, text) = match kept {
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
                let what = worded(|f| write!(f, "`steps` of step.again ({})", what()));
                let within = Within { what: &what, depth: within.depth + 1, line };
                self.steps(&list, within, &mut once, steps)?;
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
    ) -> OrEnough<Option<(usize, Action, usize)>> {
        let raw = raw_fields(table);
        let field = |name: &str| match &raw {
            Some(raw) => raw.iter().find(|(key, _)| key == name).map(|(_, value)| value.clone()),
            None => table.raw_get::<Value>(name).ok(),
        };
        let line = line_in(field("line").as_ref());
        let op = op_of(field("op").as_ref());
        let Some((spec, does)) = schema::step(&op) else {
            let fault = self.at_line_or_word(unknown_step(&op, &what()), line, &op);
            self.push(fault)?;
            return Ok(None);
        };
        let api = self.manifest.api;
        if spec.since > api {
            let fault = newer(spec.name, spec.since, api).context(what());
            let fault = self.at_line_or_word(fault, line, &op);
            self.push(fault)?;
            return Ok(None);
        }
        let quick = raw.as_ref().and_then(|raw| read_raw(raw, spec.args, &OWN));
        let fields = match quick {
            Some(fields) => fields,
            None => match self.odd_step(table, spec, what, line)? {
                Some(fields) => fields,
                None => return Ok(None),
            },
        };
        if let Some(FieldFault { field, fault }) = fields.newer_than(api, &spec.name).next() {
            let fault = self.at_line_or_word(fault.context(what()), line, &field);
            self.push(fault)?;
            return Ok(None);
        }
        match step_action(does, &op, &fields, api) {
            Ok(action) => Ok(Some((line, action, fields.text_bytes()))),
            Err(fault) => {
                let fault = self.at_line_or_word(fault.context(what()), line, &op);
                self.push(fault)?;
                Ok(None)
            }
        }
    }

    /// The fields of a step that something is odd about; `None` where they are wrong, and noted.
    fn odd_step(
        &mut self,
        table: &Table,
        spec: &'static FunctionSpec,
        what: &impl Fn() -> String,
        line: usize,
    ) -> OrEnough<Option<CheckedFields>> {
        let mut faults = Vec::new();
        let Ok(fields) = read(table, spec.args, &spec.name, &OWN, &mut faults) else {
            return Err(Enough);
        };
        if faults.is_empty() {
            return Ok(Some(fields));
        }
        for FieldFault { field, fault } in faults {
            let fault = self.at_line_or_word(fault.context(what()), line, &field);
            self.push(fault)?;
        }
        Ok(None)
    }

    fn check_unfolded(&mut self, unfolded: Unfolded, line: usize) -> OrEnough<()> {
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
}

/// Whether a table that no constructor made is a list: it is no step, and has entries without a name, or
/// nothing at all.
fn is_list(table: &Table) -> bool {
    let is_nil = |value: mlua::Result<Value>| value.is_ok_and(|value| value.is_nil());
    is_nil(table.raw_get("op")) && (table.raw_len() > 0 || table.is_empty())
}

/// The op of a step, as far as it is worth looking at; empty where there is none.
fn op_of(value: Option<&Value>) -> String {
    match value {
        Some(Value::String(op)) => {
            let bytes = op.as_bytes();
            String::from_utf8_lossy(&bytes[..bytes.len().min(MOST_OP)]).into_owned()
        }
        _ => String::new(),
    }
}

fn unknown_step(op: &str, what: &str) -> Diagnostic {
    if op.is_empty() {
        return Diagnostic::error(Code::ScriptUnknownStep, format!("{what} has no `op`"))
            .hint(USE_CONSTRUCTORS);
    }
    let message = format!("{what} has the unknown op `{}`", clip(op));
    let fault = Diagnostic::error(Code::ScriptUnknownStep, message);
    match nearest(op, schema::steps().map(|step| step.split().1)) {
        Some(near) => fault.hint(format!("did you mean `{near}`?")),
        None => fault.hint(USE_CONSTRUCTORS),
    }
}
