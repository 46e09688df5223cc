//! Whole numbers that fit: `fit`.

use super::function::{CallForm, FunctionSpec, Handler, HostFunction};
use super::spec::{ValueKind, default, required};

pub(super) static NUMBERS: &[FunctionSpec] = &[
    FunctionSpec {
        name: "fit.best",
        form: CallForm::Named,
        args: &[
            required(
                "over",
                ValueKind::Ranges,
                "one to five ranges `{ from, to }` or `{ from, to, step }`; 1,000,000 combinations at most",
            ),
            required(
                "cost",
                ValueKind::Function,
                "gets one number from each range; returns how bad that choice is, or nil when it can't be",
            ),
        ],
        returns: "...number?",
        returns_doc: "The chosen numbers and then their cost; nil when no choice can be. Of equals, the first in order wins (the last range runs fastest).",
        doc: "Tries every combination of whole numbers and takes the one with the least cost.",
        since: 1,
        example: "local wide, tall, cost = fit.best{\n  over = { { 10, 20 }, { 4, 12, 4 } },\n  cost = function(wide, tall)\n    if wide % 2 == 1 then return nil end\n    return math.abs(wide * tall - 100)\n  end,\n}\nassert(wide == 12 and tall == 8 and cost == 4)",
        handler: Handler::Search,
    },
    FunctionSpec {
        name: "fit.to_multiple",
        form: CallForm::Positional,
        args: &[
            required("x", ValueKind::Between(-1e9, 1e9), "any number"),
            required("multiple", ValueKind::Whole(1, 1_000_000), "of what"),
            default("plus", ValueKind::Integer, "0", "what is added to the multiple"),
            default(
                "rounding",
                ValueKind::Rounding,
                "\"nearest\"",
                "`\"nearest\"` (the half goes up), `\"up\"` or `\"down\"`",
            ),
        ],
        returns: "number",
        returns_doc: "The whole number.",
        doc: "The whole number of the form `multiple * k + plus` next to `x`.",
        since: 1,
        example: "assert(fit.to_multiple(45.2, 4) == 44)\nassert(fit.to_multiple(45.2, 4, 2) == 46)\nassert(fit.to_multiple(45.2, 4, 0, \"up\") == 48)",
        handler: Handler::Call(HostFunction::ToMultiple),
    },
    FunctionSpec {
        name: "fit.round",
        form: CallForm::Positional,
        args: &[required("x", ValueKind::Between(-1e9, 1e9), "any number")],
        returns: "number",
        returns_doc: "The whole number.",
        doc: "The nearest whole number; the half goes away from zero.",
        since: 1,
        example: "assert(fit.round(2.5) == 3 and fit.round(-2.5) == -3)",
        handler: Handler::Call(HostFunction::Round),
    },
    FunctionSpec {
        name: "fit.spread",
        form: CallForm::Positional,
        args: &[
            required("total", ValueKind::Whole(0, 1_000_000), "what is shared out"),
            required("parts", ValueKind::Whole(1, 10_000), "among how many"),
        ],
        returns: "{ number }",
        returns_doc: "`parts` whole numbers that add up to `total`.",
        doc: "Shares out a whole number as evenly as whole numbers can.",
        since: 1,
        example: "assert(table.concat(fit.spread(10, 4), \" \") == \"2 3 2 3\")",
        handler: Handler::Call(HostFunction::Spread),
    },
];
