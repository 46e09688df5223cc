//! What the host remembers of the call in hand, out of a script's reach: the clock, the limit
//! that was hit, warnings, loaded modules.

use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use mlua::{Lua, Value, VmState};

use super::decided::Decided;
use super::kept_steps::KeptSteps;
use super::stack::spot;
use super::stopwatch::Stopwatch;
use crate::code::{Sources, Spot};
use crate::limits::Limits;
use crate::reads::Reads;

/// The clock is read once in so many interrupts...
const STRIDE: u32 = 1024;
/// ...but at each one while the script holds more bytes than this: with long strings about, a
/// single call into the string library takes long enough to matter.
const LARGE: usize = 512 * 1024;

/// What ended the script for good. A `pcall` can't undo it.
#[derive(Clone, Debug)]
pub(crate) enum Halt {
    Deadline,
    Memory,
    Refused {
        reason: String,
        hints: Vec<String>,
    },
    /// A number that the knitter fixed can't be.
    Unfixable {
        reason: String,
        hint: String,
    },
    /// Our own code panicked.
    Panic(String),
}

/// A module of the plugin in the call in hand.
pub(crate) enum ModuleState {
    Loading,
    Ready(Value),
}

/// The call in hand.
pub(crate) struct CallState {
    pub limits: Limits,
    /// The script API the garment is written for.
    pub api: Cell<u32>,
    started: Cell<Stopwatch>,
    ticks: Cell<u32>,
    /// Bytes in use that end the script, and that count as large.
    most_memory: Cell<usize>,
    large_memory: Cell<usize>,
    stopped: Cell<bool>,
    stop: RefCell<Option<(Halt, Option<Spot>)>>,
    /// Where the error in hand was raised.
    pub raised_at: RefCell<Option<Spot>>,
    pub warnings: RefCell<Vec<String>>,
    /// What is fixed by the knitter, and what was decided so far.
    pub decided: RefCell<Decided>,
    pub steps: RefCell<KeptSteps>,
    pub modules: RefCell<BTreeMap<String, ModuleState>>,
    pub code: RefCell<Option<Arc<Sources>>>,
    /// What the script has read so far, in a call that is watched.
    pub reads: RefCell<Option<Reads>>,
}

impl CallState {
    pub fn new(limits: Limits) -> CallState {
        CallState {
            limits,
            api: Cell::new(1),
            started: Cell::new(Stopwatch::start()),
            ticks: Cell::new(0),
            most_memory: Cell::new(usize::MAX),
            large_memory: Cell::new(usize::MAX),
            stopped: Cell::new(false),
            stop: RefCell::new(None),
            raised_at: RefCell::new(None),
            warnings: RefCell::new(Vec::new()),
            decided: RefCell::default(),
            steps: RefCell::default(),
            modules: RefCell::new(BTreeMap::new()),
            code: RefCell::new(None),
            reads: RefCell::new(None),
        }
    }

    /// Begins a call of a garment written for `api`; `in_use` is what the machine takes before the
    /// script runs.
    pub fn begin(&self, code: Arc<Sources>, api: u32, fixed: BTreeMap<String, i64>, in_use: usize) {
        self.decided.replace(Decided::with(fixed));
        self.api.set(api);
        self.started.set(Stopwatch::start());
        self.ticks.set(0);
        self.most_memory.set(in_use + self.limits.memory);
        self.large_memory.set(in_use + LARGE);
        self.stopped.set(false);
        self.stop.take();
        self.raised_at.take();
        self.warnings.take();
        self.steps.take();
        self.modules.take();
        self.code.replace(Some(code));
    }

    /// Ends a call: what the script may have left is dropped.
    pub fn end(&self) -> (Option<(Halt, Option<Spot>)>, Vec<String>) {
        self.steps.take();
        self.modules.take();
        self.code.take();
        // Nothing runs between calls, but should it, no old deadline may stop it.
        self.most_memory.set(usize::MAX);
        self.large_memory.set(usize::MAX);
        self.stopped.set(false);
        (self.stop.take(), self.warnings.take())
    }

    /// Notes what a watched script reads.
    pub fn note(&self, of: fn(&mut Reads) -> &mut BTreeSet<String>, name: &str) {
        if let Some(reads) = self.reads.borrow_mut().as_mut() {
            of(reads).insert(name.to_owned());
        }
    }

    /// The interrupt. Reads counters and the call stack only, never the value stack.
    pub fn tick(&self, lua: &Lua) -> mlua::Result<VmState> {
        if self.stopped.get() {
            return Err(stopped());
        }
        let ticks = self.ticks.get().wrapping_add(1);
        self.ticks.set(ticks);
        let used = lua.used_memory();
        if used > self.most_memory.get() {
            return Err(self.halt(lua, Halt::Memory));
        }
        if ticks.is_multiple_of(STRIDE) || used > self.large_memory.get() {
            self.check_clock(lua)?;
        }
        Ok(VmState::Continue)
    }

    /// For our own loops, which no interrupt sees.
    pub fn check_clock(&self, lua: &Lua) -> mlua::Result<()> {
        if self.stopped.get() {
            return Err(stopped());
        }
        if self.started.get().is_past(self.limits.deadline) {
            return Err(self.halt(lua, Halt::Deadline));
        }
        Ok(())
    }

    /// Remembers the first thing that ends the script, and gives the error to raise.
    pub fn halt(&self, lua: &Lua, stop: Halt) -> mlua::Error {
        if !self.stopped.replace(true) {
            self.stop.replace(Some((stop, spot(lua))));
        }
        stopped()
    }
}

fn stopped() -> mlua::Error {
    mlua::Error::runtime("the script was stopped")
}
