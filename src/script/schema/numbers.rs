//! Whole numbers that fit: `fit`, and those a knitter may fix: `decide`.

use super::function::{CallForm, FunctionSpec, Handler, HostFunction};
use super::spec::{FieldSpec, ValueKind, default, optional, required};

const ROUNDING: FieldSpec = default(
    "rounding",
    ValueKind::Rounding,
    "\"nearest\"",
    "`\"nearest\"` (the half goes up), `\"up\"` or `\"down\"`",
);

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
            ROUNDING,
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
    FunctionSpec {
        name: "decide",
        form: CallForm::Named,
        args: &[
            required(
                "of",
                ValueKind::Decisions,
                "by its name for each number `{ from, to }` or `{ from, to, step }`, with `title` as people read it and `may = { from, to, step }`, the wider range a knitter may fix within (left out: the range); or `{ follows = function, may = { from, to } }` for one that follows from the others and is not searched",
            ),
            optional(
                "cost",
                ValueKind::Chooser,
                "gets the numbers by name, and by name which are fixed; returns how bad that choice is, or nil when it can't be; left out: the first that can be",
            ),
        ],
        returns: "({ [string]: number }?, { [string]: boolean })",
        returns_doc: "The chosen numbers by name, and `true` by name for each that the knitter fixed; nil when no choice can be. Of equals, the first in order wins: the names in the order of the alphabet, the last running fastest.",
        doc: "Chooses whole numbers by their names, each of which a knitter may fix.\n\nTries every combination of the ranges, 1,000,000 at most, and takes the one with the least cost. What a knitter fixes (`--fix stitches=52`) is tried alone, and the rest is chosen anew around it; where that can't be, the size is refused with the nearest that can. A function that `follows` gets the numbers searched and returns its own, or nil when it can't be. It and `cost` get the same table each time: copy what you keep. Each name is decided once.",
        since: 2,
        example: "local c, fixed = decide{\n  of = {\n    stitches = { 40, 60, 2, title = \"Stitches round\", may = { 20, 100, 2 } },\n    rows = { may = { 1, 200 }, follows = function(c) return c.stitches / 2 end },\n  },\n  cost = function(c) return math.abs(c.stitches - 50) end,\n}\nassert(c.stitches == 50 and c.rows == 25 and not fixed.stitches)",
        handler: Handler::Decide,
    },
    FunctionSpec {
        name: "decide_count",
        form: CallForm::Named,
        args: &[
            required("name", ValueKind::Name, "what a knitter fixes it by"),
            optional("title", ValueKind::Text, "what people read; left out: made of the name"),
            required("mm", ValueKind::Between(0.0, 1e6), "the length to fill"),
            required(
                "per",
                ValueKind::Between(0.01, 1e6),
                "mm that one takes, such as a gauge's `stitch_mm`",
            ),
            default("multiple", ValueKind::Whole(1, 1_000), "1", "of what it is a multiple"),
            default("plus", ValueKind::Integer, "0", "what is added to the multiple"),
            optional(
                "least",
                ValueKind::Between(0.0, 1e6),
                "the least it may be; left out: half of what is chosen",
            ),
            optional(
                "most",
                ValueKind::Between(0.0, 1e6),
                "the most; left out: twice of what is chosen",
            ),
            ROUNDING,
        ],
        returns: "number",
        returns_doc: "The whole number: the one next to `mm / per` within `least` and `most`, or what the knitter fixed.",
        doc: "So many stitches or rows for so many millimetres, a number a knitter may fix.",
        since: 2,
        example: "assert(decide_count{ name = \"cast_on\", mm = 200, per = 4.1, multiple = 2, most = 60 } == 48)",
        handler: Handler::Call(HostFunction::DecideCount),
    },
];
