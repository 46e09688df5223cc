//! The tables a script returns.

use super::bounds::{MM, MOST_ROWS};
use super::spec::{FieldSpec, RecordSpec, ValueKind, default, optional, required};

/// A selvedge of a piece.
pub static PIECE_SIDE: RecordSpec = RecordSpec {
    name: "PieceSide",
    doc: "A selvedge.",
    fields: &[
        required("piece", ValueKind::Name, "the piece"),
        required("side", ValueKind::Side, "which of its selvedges"),
    ],
};

/// An edge of a piece, or a stretch of one.
pub static EDGE: RecordSpec = RecordSpec {
    name: "Edge",
    doc: "An edge of a piece, whole or in part: `name` for loops that wait, or `piece` and `side`. Make it with `edge`. Open, cast-on and cast-off edges are counted in stitches from the left, selvedges in rows from the cast-on.",
    fields: EDGE_FIELDS,
};

pub(super) const EDGE_FIELDS: &[FieldSpec] = &[
    optional("name", ValueKind::Name, "the name of an open edge").since(2),
    optional("piece", ValueKind::Name, "the piece"),
    optional(
        "side",
        ValueKind::Word(&["left", "right", "cast_on", "cast_off", "inner_left", "inner_right"]),
        "which of its edges: a selvedge; with API 2 also its closed cast-on or cast-off, or the edge inside it, beside stitches that are held or taken off on their own: the left or the right end of what is knitted there",
    ),
    default(
        "from",
        ValueKind::Place(0, MOST_ROWS),
        "0",
        "so many rows or stitches are left out before it begins; of rows, a mark will do too",
    )
    .since(2),
    optional(
        "to",
        ValueKind::Place(1, MOST_ROWS),
        "where it ends, counted from the same end, or a mark; at the end of the edge when left out",
    )
    .since(2),
];

/// A piece of fabric.
pub static PIECE: RecordSpec = RecordSpec {
    name: "Piece",
    doc: "One piece of fabric, from an empty bed back to an empty bed. Make it with `piece`.",
    fields: PIECE_FIELDS,
};

pub(super) const PIECE_FIELDS: &[FieldSpec] = &[
    required("name", ValueKind::Name, "short, unique in the garment"),
    default("title", ValueKind::Text, "`name`", "what the pattern calls it"),
    default(
        "section",
        ValueKind::Name,
        "`name`",
        "the yarn section it counts towards, from `[sections]` in plugin.toml",
    ),
    optional(
        "mate",
        ValueKind::Whole(1, 2),
        "which of a pair it belongs to: the second is knitted after the first, and its stripes can be matched",
    ),
    required("steps", ValueKind::Steps, "in working order"),
];

const BED: ValueKind = ValueKind::Word(&["main", "ribber"]);

/// Needles side by side, of one piece.
pub static STRAND: RecordSpec = RecordSpec {
    name: "Strand",
    doc: "Needles side by side.",
    fields: &[
        optional("needles", ValueKind::Needles, "which; all of the piece when left out"),
        optional("bed", BED, "of which bed; of either when left out"),
        default("flip", ValueKind::Flag, "false", "`true`: from right to left"),
    ],
};

/// A part of a view.
pub static SHOWN: RecordSpec = RecordSpec {
    name: "Shown",
    doc: "Some fabric of a view, and how it lies. `\"flat\"`: needles across, rows upwards. `\"side\"`: rows run round the wearer from right to left, needles from the top down; the half of each round that is seen. `\"rings\"`: rows run round, each needle is a ring, the first outermost. `\"band\"`: needles run round, each row is a ring, the first outermost. `\"tube\"`: a tube folded flat and seen from the side, first downwards, each tube going on from the one before; `needles` are its back half from the outer edge to the middle, `front` the other half from the middle to the outer edge.",
    fields: &[
        required(
            "form",
            ValueKind::Word(&["flat", "side", "rings", "band", "tube"]),
            "how it lies",
        ),
        required("piece", ValueKind::Name, "the piece it belongs to"),
        optional("needles", ValueKind::Needles, "these needles; all of the piece when left out"),
        optional("bed", BED, "of which bed; of either when left out"),
        default("flip", ValueKind::Flag, "false", "`true`: the needles from right to left"),
        optional("from", ValueKind::Mark, "rows from the first time this mark was passed"),
        optional("to", ValueKind::Mark, "rows up to the first time this mark was passed"),
        default(
            "first",
            ValueKind::Between(0.0, 1.0),
            "0",
            "of those rows, from this share on: 0.5 for the second half",
        ),
        default("last", ValueKind::Between(0.0, 1.0), "1", "of those rows, up to this share"),
        default(
            "turn",
            ValueKind::Between(0.0, 270.0),
            "0",
            "degrees: `flat` and `side` clockwise, in quarters; `band` 180 for the last row outermost; a `tube` by so many to the front about its middle, a heel 90, a toe 180",
        ),
        default(
            "lean",
            ValueKind::Between(-90.0, 90.0),
            "0",
            "`flat` and `side`: degrees clockwise about the middle of the lower edge",
        ),
        optional(
            "x",
            ValueKind::Between(-10_000.0, 10_000.0),
            "`flat` and `side`: where the middle of the lower edge goes, in mm right of the middle of the lower edge of the first part without `x`; hung from the part before when left out",
        ),
        optional("y", ValueKind::Between(-10_000.0, 10_000.0), "with `x`: in mm above it"),
        default(
            "arc_from",
            ValueKind::Between(0.0, 360.0),
            "0",
            "`rings` and `band`: where in the round it begins, in degrees clockwise from the top",
        ),
        default(
            "arc_to",
            ValueKind::Between(0.0, 360.0),
            "360",
            "where in the round it ends; below `arc_from`, it runs anticlockwise",
        ),
        default(
            "beside",
            ValueKind::Flag,
            "false",
            "`rings` and `band`: `true` for as far from the centre as the ring before",
        ),
        optional(
            "radius",
            ValueKind::Between(0.0, 10_000.0),
            "`rings` and `band`: mm from the centre to its outer edge; inside the ring before when left out, the first so that the last ends at the centre",
        ),
        optional("front", ValueKind::Record(&STRAND), "`tube`: the front half, of the same piece"),
    ],
};

/// A side of the finished garment.
pub static VIEW: RecordSpec = RecordSpec {
    name: "View",
    doc: "What is seen of the finished garment from one side, for pictures in the colours of the yarn. Make it with `view`. Nothing is measured by it.",
    fields: VIEW_FIELDS,
};

pub(super) const VIEW_FIELDS: &[FieldSpec] = &[
    required("title", ValueKind::Text, "from where: `From above`"),
    default("mirror", ValueKind::Flag, "false", "`true`: left and right change places"),
    required("parts", ValueKind::List(&SHOWN), "from the top down, or from the outside in"),
];

/// A length that goes into a finished measure.
pub static PART: RecordSpec = RecordSpec {
    name: "Part",
    doc: "One length that goes into a finished measure. Give exactly one of `width`, `needles`, `rows_at` and `rows_on`.",
    fields: &[
        required("piece", ValueKind::Name, "the piece it is taken from"),
        optional("width", ValueKind::Flag, "`true`: the most stitches ever in work"),
        optional("needles", ValueKind::Needles, "the width of these needles"),
        optional("rows_at", ValueKind::Side, "the rows along the selvedge of that side"),
        optional("rows_on", ValueKind::Needle, "the rows knitted on this needle"),
        optional(
            "from",
            ValueKind::Mark,
            "with `rows_on`: count from the first time this mark was passed",
        ),
        optional(
            "to",
            ValueKind::Mark,
            "with `rows_on`: count up to the first time this mark was passed",
        ),
        default(
            "times",
            ValueKind::Between(-1000.0, 1000.0),
            "1",
            "how often it counts; 0.5 for half",
        ),
        optional(
            "structure",
            ValueKind::Structure,
            "the fabric that gauges it, where it is not what most of the piece is",
        ),
    ],
};

/// A finished measure, in mm.
pub static FINISHED: RecordSpec = RecordSpec {
    name: "Finished",
    doc: "A measure of the finished garment. The length comes from the run on the virtual bed; the script only says which lengths and what was aimed at.",
    fields: &[
        required("name", ValueKind::Name, "a key in the output, such as `head_girth`"),
        default("title", ValueKind::Text, "`name`", "what people read"),
        required("target", MM, "what it was meant to be, in mm"),
        optional("measure", ValueKind::Name, "the body measure it answers to"),
        optional(
            "ease",
            ValueKind::Between(-1.0, 10.0),
            "its ease as a share of that measure: -0.08 is 8 % smaller",
        ),
        optional(
            "ease_low",
            ValueKind::Between(-1.0, 10.0),
            "the least ease that still fits; outside it the output warns",
        ),
        optional("ease_high", ValueKind::Between(-1.0, 10.0), "the most ease that still fits"),
        required("parts", ValueKind::List(&PART), "what is added up"),
    ],
};

/// A check on the shape.
pub static RATIO: RecordSpec = RecordSpec {
    name: "Ratio",
    doc: "A check on the shape: `factor * of / over` should lie between `low` and `high`.",
    fields: &[
        required("name", ValueKind::Name, "a key in the output"),
        default("title", ValueKind::Text, "`name`", "what people read"),
        required("of", ValueKind::Name, "name of a finished measure"),
        required("over", ValueKind::Name, "name of a finished measure"),
        default("factor", ValueKind::Number, "1", "what the quotient is multiplied with"),
        required("low", ValueKind::Number, "least it should be"),
        required("high", ValueKind::Number, "most it should be"),
    ],
};

/// A whole number read off the run.
pub static COUNT: RecordSpec = RecordSpec {
    name: "Count",
    doc: "A whole number read off the run. Give exactly one of the last six.",
    fields: &[
        required("name", ValueKind::Name, "a key in the output"),
        default("title", ValueKind::Text, "`name`", "what people read"),
        optional("needles", ValueKind::Name, "most needles of this piece ever in work"),
        optional("rows", ValueKind::Name, "passes of the carriage in this piece"),
        optional("marks", ValueKind::Mark, "tally marks of this name, in all pieces"),
        optional("loops", ValueKind::Name, "loops that ever waited on this edge"),
        optional(
            "hang_points",
            ValueKind::Name,
            "times the knitter stops to hang loops of this edge",
        ),
        optional(
            "pieces",
            ValueKind::Name,
            "pieces of this name, or of this name with `-1`, `-2`... behind it",
        ),
    ],
};

/// A girth that must stretch over something, in mm.
pub static STRETCH: RecordSpec = RecordSpec {
    name: "Stretch",
    doc: "A girth that must stretch over something to be put on: a cuff over the hand, a leg over the heel. A size that can't is refused.",
    fields: &[
        required("of", ValueKind::Name, "name of a finished measure"),
        required("over", ValueKind::Text, "what it must pass, in words: `the hand`"),
        required("over_mm", MM, "the girth of that"),
        default("structure", ValueKind::Structure, "\"plain\"", "the fabric that stretches"),
    ],
};

/// What the garment function returns.
pub static GARMENT: RecordSpec = RecordSpec {
    name: "Garment",
    doc: "What the garment function returns.",
    fields: &[
        required("pieces", ValueKind::List(&PIECE), "in knitting order"),
        optional(
            "finishing",
            ValueKind::Steps,
            "the work off the machine: graft, gather, seam, sew on, block",
        ),
        optional("finished", ValueKind::List(&FINISHED), "finished measures"),
        optional("ratios", ValueKind::List(&RATIO), "checks on the shape"),
        optional(
            "stretches",
            ValueKind::List(&STRETCH),
            "what must stretch over what to be put on",
        ),
        optional("counts", ValueKind::List(&COUNT), "numbers worth printing"),
        optional("views", ValueKind::List(&VIEW), "how the finished garment looks, for pictures"),
        optional("cautions", ValueKind::Texts, "what the knitter should know about every size"),
    ],
};

/// The tables a script returns, outermost first.
pub static RECORDS: [&RecordSpec; 12] = [
    &GARMENT,
    &PIECE,
    &FINISHED,
    &PART,
    &RATIO,
    &STRETCH,
    &COUNT,
    &PIECE_SIDE,
    &EDGE,
    &VIEW,
    &SHOWN,
    &STRAND,
];
