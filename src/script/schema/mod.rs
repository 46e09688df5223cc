//! Everything a script can call or must return, in one table: names, arguments, types, defaults,
//! texts and examples. [`functions`] and [`RECORDS`] drive the registered functions, the checking
//! of arguments and of the returned garment, the reference in `plugins/README.md` and the stubs in
//! `plugins/oddments.d.luau`.
//!
//! Data alone: what a function does stands in the sandbox, and nothing here knows the machine.

mod bounds;
mod edges;
mod function;
mod numbers;
mod pieces;
mod records;
mod shapes;
mod spans;
mod spec;
mod steps;
mod talk;

use std::collections::BTreeMap;
use std::sync::LazyLock;

pub use function::{CallForm, FunctionSpec};
pub(crate) use function::{Handler, HostFunction, StepOp};
pub use records::{
    COUNT, EDGE, FINISHED, GARMENT, PART, PIECE, PIECE_SIDE, RATIO, RECORDS, SHOWN, STRAND,
    STRETCH, VIEW,
};
pub use spec::{FieldSpec, Need, RecordSpec, ValueKind};

/// Every function of the API, in the order of the reference.
pub fn functions() -> impl Iterator<Item = &'static FunctionSpec> {
    [steps::STEPS, pieces::PIECES, pieces::NEEDLES, numbers::NUMBERS, shapes::SHAPES, talk::TALK]
        .into_iter()
        .flatten()
}

/// What can be done with a value that a function gave, in the order of the reference.
pub fn methods() -> impl Iterator<Item = &'static FunctionSpec> {
    spans::SPANS.iter().chain(edges::EDGES)
}

/// The constructor of a step by its `op`, and what such a step does.
pub(crate) fn step(op: &str) -> Option<(&'static FunctionSpec, StepOp)> {
    type Step = (&'static FunctionSpec, StepOp);
    static BY_NAME: LazyLock<BTreeMap<&str, Step>> = LazyLock::new(|| {
        let named = |function: &'static FunctionSpec| match function.handler {
            Handler::Step(op) => Some((function.split().1, (function, op))),
            _ => None,
        };
        steps().filter_map(named).collect()
    });
    BY_NAME.get(op).copied()
}

/// The constructors of steps.
pub(crate) fn steps() -> impl Iterator<Item = &'static FunctionSpec> {
    steps::STEPS.iter()
}
