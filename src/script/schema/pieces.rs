//! Pieces, views and names of needles.

use super::bounds::MOST_NEEDLES;
use super::function::{CallForm, FunctionSpec, Handler, HostFunction};

use super::records::{EDGE_FIELDS, PIECE_FIELDS, VIEW_FIELDS};
use super::spec::{ValueKind, optional, required};

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
        returns: "EdgeValue",
        returns_doc: "An edge, for `graft`, `seam`, `sew_on`, `gather_edge` and `pick_up`.",
        doc: "An edge of a piece, or a stretch of one, as a value one can compute with: `name` for loops that wait, or `piece` and `side`. It has these fields, and `count` where `to` is given; it can't be changed; two of the same stretch are equal, and `tostring` writes it out.",
        since: 2,
        example: "local e = edge{ piece = \"front\", side = \"left\", from = 40, to = 100 }\nassert(e.to == 100 and e.count == 60 and tostring(e) == \"left of front, 40 to 100\")",
        handler: Handler::Edge(HostFunction::Edge),
    },
    FunctionSpec {
        name: "mark",
        form: CallForm::Positional,
        args: &[required("name", ValueKind::Name, "what is tallied")],
        returns: "Mark",
        returns_doc: "The mark. It has `name` and `rows`, which is 0.",
        doc: "A tally mark as a value: `step.mark` sets it, and whatever takes the name of a mark takes it too. A stretch of a selvedge may begin or end there, or some rows from it.",
        since: 2,
        example: "local armhole = mark(\"armhole\")\nlocal s = step.mark{ name = armhole }\nlocal e = edge{ piece = \"front\", side = \"left\", from = armhole, to = armhole:shift(40) }\nassert(e.from == armhole and tostring(e.to) == \"armhole + 40\")",
        handler: Handler::Mark(HostFunction::Mark),
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
        returns: "Span",
        returns_doc: "The needles: with API 1 a text such as `\"L24-R23\"`, with API 2 a value.",
        doc: "`n` needles about the centre of the bed; the odd one goes to the right.",
        since: 1,
        example: "assert(tostring(needles.centred(47)) == \"L23-R24\")",
        handler: Handler::Span(HostFunction::Centred),
    },
    FunctionSpec {
        name: "needles.span",
        form: CallForm::Positional,
        args: &[
            required("first", ValueKind::Needles, "the leftmost needle, or needles as a text"),
            optional(
                "last",
                ValueKind::Needle,
                "the rightmost needle; that of `first` when left out",
            ),
        ],
        returns: "Span",
        returns_doc: "The needles.",
        doc: "Needles as a value one can compute with. It has `first` and `last`, both texts, and `count`; it can't be changed; two of the same needles are equal, and `tostring` and `..` write it as the text that every field for needles takes too.",
        since: 2,
        example: "local bed = needles.span(\"L24\", \"R23\")\nassert(bed.count == 47 and bed.first == \"L24\" and bed.last == \"R23\")\nassert(bed == needles.span(\"L24-R23\") and \"over \" .. bed == \"over L24-R23\")",
        handler: Handler::Span(HostFunction::SpanOf),
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
        returns: "Span",
        returns_doc: "The needles, as `needles.centred` gives them.",
        doc: "Some of `n` centred needles.",
        since: 1,
        example: "assert(tostring(needles.slice(48, 1, 12)) == \"L24-L13\")",
        handler: Handler::Span(HostFunction::Slice),
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
