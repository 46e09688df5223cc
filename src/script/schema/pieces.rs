//! Pieces, views and names of needles.

use super::bounds::MOST_NEEDLES;
use super::function::{CallForm, FunctionSpec, Handler, HostFunction};

use super::records::{EDGE_FIELDS, PIECE_FIELDS, VIEW_FIELDS};
use super::spec::{ValueKind, required};

pub(super) static PIECES: &[FunctionSpec] = &[
    FunctionSpec {
        name: "piece",
        form: CallForm::Named,
        args: PIECE_FIELDS,
        returns: "Piece",
        returns_doc: "A piece, for `pieces` of the garment.",
        doc: "One piece of fabric, from an empty bed back to an empty bed.",
        since: 1,
        example: "local p = piece{ name = \"body\", title = \"Body\", steps = {\n  step.cast_on{ needles = \"L10-R10\", method = \"wound\" },\n  step.knit{ rows = 20 },\n  step.cast_off(),\n} }\nassert(p.section == \"body\")",
        handler: Handler::Piece,
    },
    FunctionSpec {
        name: "edge",
        form: CallForm::Named,
        args: EDGE_FIELDS,
        returns: "Edge",
        returns_doc: "An edge, for `graft`, `seam`, `sew_on`, `gather_edge` and `pick_up`.",
        doc: "An edge of a piece, or a stretch of one: `name` for loops that wait, or `piece` and `side`.",
        since: 2,
        example: "local e = edge{ piece = \"front\", side = \"left\", from = 40, to = 100 }\nassert(e.to == 100)",
        handler: Handler::Call(HostFunction::Edge),
    },
    FunctionSpec {
        name: "view",
        form: CallForm::Named,
        args: VIEW_FIELDS,
        returns: "View",
        returns_doc: "A view, for `views` of the garment.",
        doc: "What is seen of the finished garment from one side.",
        since: 1,
        example: "local v = view{ title = \"Front\", parts = { { form = \"flat\", piece = \"body\", needles = needles.slice(40, 1, 20), flip = true } } }\nassert(v.title == \"Front\")",
        handler: Handler::View,
    },
];

pub(super) static NEEDLES: &[FunctionSpec] = &[
    FunctionSpec {
        name: "needles.centred",
        form: CallForm::Positional,
        args: &[required("n", ValueKind::Whole(1, MOST_NEEDLES), "how many needles")],
        returns: "Needles",
        returns_doc: "The needles, such as `\"L24-R23\"`.",
        doc: "`n` needles about the centre of the bed; the odd one goes to the right.",
        since: 1,
        example: "assert(needles.centred(47) == \"L23-R24\")",
        handler: Handler::Call(HostFunction::Centred),
    },
    FunctionSpec {
        name: "needles.slice",
        form: CallForm::Positional,
        args: &[
            required("n", ValueKind::Whole(1, MOST_NEEDLES), "how many needles in all"),
            required(
                "first",
                ValueKind::Whole(1, MOST_NEEDLES),
                "the first wanted, counted from the left, from 1",
            ),
            required("last", ValueKind::Whole(1, MOST_NEEDLES), "the last wanted"),
        ],
        returns: "Needles",
        returns_doc: "The needles.",
        doc: "Some of `n` centred needles.",
        since: 1,
        example: "assert(needles.slice(48, 1, 12) == \"L24-L13\")",
        handler: Handler::Call(HostFunction::Slice),
    },
    FunctionSpec {
        name: "needles.at",
        form: CallForm::Positional,
        args: &[
            required("n", ValueKind::Whole(1, MOST_NEEDLES), "how many needles in all"),
            required(
                "i",
                ValueKind::Whole(1, MOST_NEEDLES),
                "which one, counted from the left, from 1",
            ),
        ],
        returns: "Needle",
        returns_doc: "The needle.",
        doc: "One of `n` centred needles.",
        since: 1,
        example: "assert(needles.at(48, 1) == \"L24\")\nassert(needles.at(48, 48) == \"R24\")",
        handler: Handler::Call(HostFunction::At),
    },
];
