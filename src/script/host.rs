use std::panic::{AssertUnwindSafe, catch_unwind};
use std::rc::Rc;

use mlua::{Function, MultiValue, Value};

use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::garment::{Decision, Garment};

use super::code::{INIT, Sources, Spot, chunk_of};
use super::faults::{explain, explain_error, memory_fault};
use super::garment_input::GarmentInput;
use super::limits::Limits;
use super::plugin::Plugin;
use super::reader::GarmentReader;
use super::reads::Reads;
use super::sandbox::{CallState, Halt, Sandbox, input_table, panic_text, unlimited};
use super::values::describe;

/// Bytes that earlier calls may leave behind; far less than the room kept beyond a script's own.
const MOST_GARBAGE: usize = 4 << 20;

/// Runs garment scripts, one after another, in one virtual machine. Not `Send`: each worker
/// thread makes its own.
pub struct ScriptHost {
    limits: Limits,
    /// Made when first needed, thrown away after a fault.
    sandbox: Option<Sandbox>,
}

/// Why there is no garment.
#[derive(Clone, Debug, PartialEq)]
pub enum ScriptFailure {
    /// The script called `refuse`: an honest "this size can't be made".
    Refused(Diagnostics),
    /// The script is at fault, or hostile.
    Fault(Diagnostics),
}

impl ScriptFailure {
    /// What is said of it, at the lines of the plugin it is about.
    pub fn diagnostics(&self) -> &Diagnostics {
        match self {
            ScriptFailure::Refused(found) | ScriptFailure::Fault(found) => found,
        }
    }
}

impl ScriptHost {
    /// A host whose calls may go as far as `limits`. Its machine is made by the first call.
    pub fn new(limits: Limits) -> ScriptHost {
        ScriptHost { limits, sandbox: None }
    }

    /// Runs the garment function of `plugin` for one body and reads what it returns.
    ///
    /// # Errors
    /// [`ScriptFailure`]; every diagnostic names the plugin and the size. The host stays fit for
    /// use whatever the script did.
    pub fn garment(
        &mut self,
        plugin: &Plugin,
        input: &GarmentInput,
    ) -> Result<Garment, ScriptFailure> {
        self.called(plugin, input, None)
    }

    /// As [`garment`](Self::garment), and notes what the script reads of its input. The tables it
    /// is given are hollow then, so that no read goes unseen: a script that walks them with
    /// `pairs`, or reads them raw, makes something else of it than it does unwatched.
    pub fn watch(
        &mut self,
        plugin: &Plugin,
        input: &GarmentInput,
    ) -> (Result<Garment, ScriptFailure>, Reads) {
        let mut reads = Reads::default();
        let made = self.called(plugin, input, Some(&mut reads));
        (made, reads)
    }

    fn called(
        &mut self,
        plugin: &Plugin,
        input: &GarmentInput,
        reads: Option<&mut Reads>,
    ) -> Result<Garment, ScriptFailure> {
        let result = catch_unwind(AssertUnwindSafe(|| self.run(plugin, input, reads)))
            .unwrap_or_else(|panic| {
                Err(ScriptFailure::Fault(broken(&panic_text(panic.as_ref())).into()))
            });
        result.map_err(|failure| {
            let named = |found: Diagnostics| {
                let manifest = &plugin.manifest;
                let found =
                    found.with_context(&format!("garment {} {}", manifest.id, manifest.version));
                if input.size_id.is_empty() {
                    found
                } else {
                    found.with_context(&format!("size {}", input.size_id))
                }
            };
            match failure {
                ScriptFailure::Refused(found) => ScriptFailure::Refused(named(found)),
                ScriptFailure::Fault(found) => {
                    // Whatever it left behind goes with the machine.
                    self.sandbox = None;
                    ScriptFailure::Fault(named(found))
                }
            }
        })
    }

    fn run(
        &mut self,
        plugin: &Plugin,
        input: &GarmentInput,
        reads: Option<&mut Reads>,
    ) -> Result<Garment, ScriptFailure> {
        let sandbox = match self.sandbox.take() {
            Some(sandbox) => sandbox,
            None => Sandbox::new(Rc::new(CallState::new(self.limits)))
                .map_err(|e| ScriptFailure::Fault(broken(&e.to_string()).into()))?,
        };
        // Back in place first, so that a panic below leaves it to be thrown away.
        let sandbox = self.sandbox.insert(sandbox);
        // Garbage of earlier calls doesn't count against this one: the limit begins at what is in use
        // now. Only where it has grown is it worth a walk over all that is alive.
        let full = || sandbox.lua.used_memory() > sandbox.empty + MOST_GARBAGE;
        let collected = || -> mlua::Result<()> {
            if full() {
                sandbox.lua.gc_collect()?;
            }
            if full() {
                sandbox.loader.forget();
                sandbox.lua.gc_collect()?;
            }
            Ok(())
        };
        if let Err(error) = collected() {
            return Err(ScriptFailure::Fault(broken(&error.to_string()).into()));
        }
        // Nothing is collected within a call: when it happened would show through weak tables, and
        // it happens by the clock and by what ran before.
        sandbox.lua.gc_stop();
        let (code, api) = (plugin.code.clone(), plugin.manifest.api);
        sandbox.state.begin(code, api, input.fixed.clone(), sandbox.lua.used_memory());
        sandbox.state.reads.replace(reads.is_some().then(Reads::default));
        let outcome = produce(sandbox, plugin, input);
        sandbox.lua.gc_restart();
        if let (Some(reads), Some(noted)) = (reads, sandbox.state.reads.take()) {
            *reads = noted;
        }
        let decided = sandbox.state.decided.take();
        let raised_at = sandbox.state.raised_at.take();
        let (stop, warnings) = sandbox.state.end();
        if let Some((stop, spot)) = stop {
            let fixed = decided.all_fixed();
            return Err(stopped(stop, spot, &plugin.code, &self.limits, &fixed));
        }
        match outcome {
            Ok(mut garment) => {
                garment.warnings = warnings;
                garment.decisions = decided.decisions();
                let unmet = unmet(&decided.unmet(), &garment.decisions, plugin);
                if unmet.has_errors() { Err(ScriptFailure::Refused(unmet)) } else { Ok(garment) }
            }
            Err(Ended::Found(found)) => Err(ScriptFailure::Fault(found)),
            Err(Ended::Raised(value)) => {
                Err(ScriptFailure::Fault(explain(&value, &plugin.code, raised_at)))
            }
            Err(Ended::Broke(error)) => {
                Err(ScriptFailure::Fault(explain_error(&error, &plugin.code, raised_at)))
            }
        }
    }
}

/// How a run ended without a garment.
enum Ended {
    Found(Diagnostics),
    /// An error value left the script.
    Raised(Value),
    /// The machine itself failed while we used it.
    Broke(mlua::Error),
}

impl From<mlua::Error> for Ended {
    fn from(error: mlua::Error) -> Self {
        Ended::Broke(error)
    }
}

fn produce(sandbox: &Sandbox, plugin: &Plugin, input: &GarmentInput) -> Result<Garment, Ended> {
    let manifest = &plugin.manifest;
    let table = unlimited(&sandbox.lua, || {
        input_table(&sandbox.lua, &sandbox.state, &sandbox.input_metas, manifest, input)
    })?;
    let chunk = sandbox.load(INIT)?;
    let returned = single(sandbox.call(&chunk, MultiValue::new())?.map_err(Ended::Raised)?);
    let Value::Function(function) = returned else {
        return Err(Ended::Found(no_function(&plugin.code, &returned)));
    };
    let line = defined_at(&function);
    let mut arguments = MultiValue::new();
    arguments.push_back(Value::Table(table));
    let returned = single(sandbox.call(&function, arguments)?.map_err(Ended::Raised)?);
    let steps = sandbox.state.steps.borrow();
    let reader = GarmentReader::new(manifest, &plugin.code, &sandbox.state.limits, line, &steps);
    unlimited(&sandbox.lua, || Ok(reader.read(&returned)))?.map_err(Ended::Found)
}

fn single(mut values: MultiValue) -> Value {
    values.pop_front().unwrap_or(Value::Nil)
}

/// The line of `init.luau` a function begins at; the first for one from elsewhere.
fn defined_at(function: &Function) -> usize {
    let info = function.info();
    match info.source.as_deref().and_then(chunk_of) {
        Some(INIT) => info.line_defined.unwrap_or(1).max(1),
        _ => 1,
    }
}

fn no_function(code: &Sources, returned: &Value) -> Diagnostics {
    let fault = Diagnostic::error(
        Code::ScriptNoFunction,
        format!("init.luau must return a function, not {}", describe(returned)),
    )
    .hint("write `return function(input) ... return { pieces = { ... } } end`");
    let last = code.modules.get(INIT).map_or(1, |m| m.text.trim_end().lines().count().max(1));
    match code.place(INIT, last) {
        Some(place) => fault.at(place),
        None => fault,
    }
    .into()
}

/// Why numbers that are fixed were not decided.
fn unmet(unmet: &[(String, i64)], decided: &[Decision], plugin: &Plugin) -> Diagnostics {
    let names = || decided.iter().map(|decision| decision.name.as_str());
    let listed = || names().collect::<Vec<_>>().join(", ");
    let id = &plugin.manifest.id;
    let mut faults = Diagnostics::new();
    for (name, n) in unmet {
        let is_option = plugin.manifest.options.iter().any(|option| option.name == *name);
        let (told, hint) = if plugin.decides(name) {
            (
                format!("{name} can't be {n}: as it is asked for, `{id}` decides no {name}"),
                format!("leave it out, or change what it hangs on; here it decides {}", listed()),
            )
        } else {
            let told = format!("`{id}` decides no `{name}`");
            let hint = match nearest(name, names()) {
                _ if is_option => format!("`{name}` is an option: --set {name}=..."),
                _ if decided.is_empty() => "it decides no number that can be fixed".to_owned(),
                Some(near) => format!("it decides {}; did you mean `{near}`?", listed()),
                None => format!("it decides {}", listed()),
            };
            (told, hint)
        };
        faults.push(Diagnostic::error(Code::Decision, told).hint(hint));
    }
    faults
}

fn stopped(
    stop: Halt,
    spot: Option<Spot>,
    code: &Sources,
    limits: &Limits,
    fixed: &str,
) -> ScriptFailure {
    let (fault, refused) = match stop {
        Halt::Deadline => {
            let fault = Diagnostic::error(
                Code::ScriptDeadline,
                format!("the script ran longer than {} ms", limits.deadline.as_millis()),
            );
            (fault.hint("look for a loop without an end near this line"), false)
        }
        Halt::Memory => (memory_fault(limits.memory), false),
        Halt::Panic(text) => (broken(&text), false),
        Halt::Refused { reason, hints } => {
            let fault = Diagnostic::error(Code::ScriptRefused, reason);
            let fault = hints.into_iter().fold(fault, Diagnostic::hint);
            // It may be refused for what is fixed alone.
            let freed = format!("or leave to the garment what is fixed: {fixed}");
            (fault.maybe_hint((!fixed.is_empty()).then_some(freed)), true)
        }
        Halt::Unfixable { reason, hint } => {
            (Diagnostic::error(Code::Decision, reason).hint(hint), true)
        }
    };
    let place = spot.and_then(|spot| code.place(&spot.module, spot.line));
    let fault = match place {
        Some(place) => fault.at(place),
        None => fault,
    };
    if refused { ScriptFailure::Refused(fault.into()) } else { ScriptFailure::Fault(fault.into()) }
}

fn broken(why: &str) -> Diagnostic {
    Diagnostic::error(Code::ScriptHost, format!("the script host failed: {why}"))
        .hint("this is a fault of oddments, not of the garment: please report it")
}
