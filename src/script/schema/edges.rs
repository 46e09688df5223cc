//! What can be done with an edge or a mark that is a value.

use super::bounds::MOST_ROWS;
use super::function::{CallForm, FunctionSpec, Handler, HostFunction};
use super::spec::{FieldSpec, ValueKind, required};

/// What stands before the colon.
const SELF: FieldSpec = required("edge", ValueKind::Edge, "what stands before the colon");
const MANY: ValueKind = ValueKind::Whole(1, MOST_ROWS);

const fn method(
    name: &'static str,
    args: &'static [FieldSpec],
    doc: &'static str,
    example: &'static str,
    does: HostFunction,
) -> FunctionSpec {
    FunctionSpec {
        name,
        form: CallForm::Method,
        args,
        returns: "EdgeValue",
        returns_doc: "The edge.",
        doc,
        since: 2,
        example,
        handler: Handler::Edge(does),
    }
}

pub(super) static EDGES: &[FunctionSpec] = &[
    method(
        "edge:slice",
        &[
            SELF,
            required(
                "from",
                ValueKind::Whole(0, MOST_ROWS),
                "so many rows or stitches of it are left out first",
            ),
            required("to", MANY, "where it ends, counted from the same place"),
        ],
        "A stretch of the edge, counted from where the edge begins.",
        "local e = edge{ piece = \"front\", side = \"left\", from = 40 }:slice(10, 30)\nassert(e.from == 50 and e.to == 70)",
        HostFunction::EdgeSlice,
    ),
    method(
        "edge:first",
        &[SELF, required("n", MANY, "how many rows or stitches")],
        "The beginning of the edge.",
        "assert(edge{ name = \"top\" }:first(12).count == 12)",
        HostFunction::EdgeFirst,
    ),
    method(
        "edge:last",
        &[SELF, required("n", MANY, "how many rows or stitches")],
        "The end of the edge, where it is known: of one that was given `to`.",
        "assert(edge{ name = \"top\", to = 40 }:last(12).from == 28)",
        HostFunction::EdgeLast,
    ),
    method(
        "edge:after",
        &[
            SELF,
            required("n", ValueKind::Whole(0, MOST_ROWS), "how many rows or stitches are left out"),
        ],
        "The edge without its beginning.",
        "local e = edge{ name = \"top\" }:after(12)\nassert(e.from == 12 and e.to == nil)",
        HostFunction::EdgeAfter,
    ),
    method(
        "edge:shift",
        &[
            SELF,
            required("by", ValueKind::Integer, "rows or stitches further on; below 0 further back"),
        ],
        "As long a stretch, moved along the edge.",
        "local e = edge{ name = \"top\", from = 4, to = 10 }:shift(-2)\nassert(e.from == 2 and e.to == 8)",
        HostFunction::EdgeShift,
    ),
    method(
        "edge:other_side",
        &[SELF],
        "The same stretch of the selvedge on the other side.",
        "assert(edge{ piece = \"front\", side = \"left\", to = 40 }:other_side().side == \"right\")",
        HostFunction::EdgeOther,
    ),
    method(
        "edge:of",
        &[SELF, required("piece", ValueKind::Name, "which piece")],
        "The same stretch of another piece.",
        "local e = edge{ piece = \"front\", side = \"left\", to = 40 }:of(\"back\")\nassert(e.piece == \"back\" and e.to == 40)",
        HostFunction::EdgeOf,
    ),
    FunctionSpec {
        name: "mark:shift",
        form: CallForm::Method,
        args: &[
            required("mark", ValueKind::Place(0, MOST_ROWS), "what stands before the colon"),
            required("by", ValueKind::Integer, "rows further on; below 0 further back"),
        ],
        returns: "Mark",
        returns_doc: "The place, for `from` and `to` of an edge.",
        doc: "A place so many rows of the selvedge behind the mark.",
        since: 2,
        example: "assert(mark(\"waist\"):shift(6):shift(-2).rows == 4)",
        handler: Handler::Mark(HostFunction::MarkShift),
    },
];
