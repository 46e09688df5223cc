//! What can be done with needles that are a value.

use super::bounds::MOST_NEEDLES;
use super::function::{CallForm, FunctionSpec, Handler, HostFunction};
use super::spec::{FieldSpec, ValueKind, required};

/// What stands before the colon.
const SELF: FieldSpec = required("span", ValueKind::Needles, "what stands before the colon");

const fn method(
    name: &'static str,
    args: &'static [FieldSpec],
    doc: &'static str,
    example: &'static str,
    handler: Handler,
) -> FunctionSpec {
    let returns = if matches!(handler, Handler::Span(_)) { "Span" } else { "Needle" };
    FunctionSpec {
        name,
        form: CallForm::Method,
        args,
        returns,
        returns_doc: if matches!(handler, Handler::Span(_)) {
            "The needles."
        } else {
            "The needle, a text."
        },
        doc,
        since: 2,
        example,
        handler,
    }
}

pub(super) static SPANS: &[FunctionSpec] = &[
    method(
        "span:left",
        &[SELF, required("n", ValueKind::Whole(1, MOST_NEEDLES), "how many of them")],
        "The leftmost of the needles.",
        "assert(tostring(needles.centred(8):left(3)) == \"L4-L2\")",
        Handler::Span(HostFunction::SpanLeft),
    ),
    method(
        "span:right",
        &[SELF, required("n", ValueKind::Whole(1, MOST_NEEDLES), "how many of them")],
        "The rightmost of the needles.",
        "assert(tostring(needles.centred(8):right(1)) == \"R4\")",
        Handler::Span(HostFunction::SpanRight),
    ),
    method(
        "span:shift",
        &[SELF, required("by", ValueKind::Integer, "needles to the right; below 0 to the left")],
        "As many needles, moved along the bed.",
        "assert(tostring(needles.centred(8):shift(-1)) == \"L5-R3\")",
        Handler::Span(HostFunction::SpanShift),
    ),
    method(
        "span:slice",
        &[
            SELF,
            required(
                "first",
                ValueKind::Whole(1, MOST_NEEDLES),
                "the first wanted, counted from the left, from 1",
            ),
            required("last", ValueKind::Whole(1, MOST_NEEDLES), "the last wanted"),
        ],
        "Some of the needles.",
        "assert(tostring(needles.centred(8):slice(2, 4)) == \"L3-L1\")",
        Handler::Span(HostFunction::SpanSlice),
    ),
    method(
        "span:at",
        &[
            SELF,
            required(
                "i",
                ValueKind::Whole(1, MOST_NEEDLES),
                "which one, counted from the left, from 1",
            ),
        ],
        "One of the needles.",
        "assert(needles.centred(8):at(5) == \"R1\")",
        Handler::Call(HostFunction::SpanAt),
    ),
];
