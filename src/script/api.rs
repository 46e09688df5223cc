//! Everything a script can call or must return, in one table: names, arguments, types, defaults,
//! texts and examples. [`ENTRIES`] and [`RECORDS`] drive the registered functions, the checking of
//! arguments and of the returned garment, the reference in `plugins/README.md` and the stubs in
//! `plugins/oddments.d.luau`.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use super::{functions, shaping};

/// What a value given by a script has to be.
#[derive(Clone, Copy, Debug)]
pub enum Kind {
    /// The word the garment uses for a piece, an edge, a mark...: letters, digits, `_` and `-`.
    Name,
    /// Words for the knitter, 2,000 characters at most.
    Text,
    Texts,
    /// `"L3"` or `"R12"`.
    Needle,
    /// `"L24-R23"`, or one needle.
    Needles,
    Side,
    Structure,
    CastOnMethod,
    /// A whole number between two bounds, both included.
    Whole(u32, u32),
    /// A whole number of any sign.
    Integer,
    /// Any finite number.
    Number,
    /// Finite and between two bounds, both included.
    Between(f64, f64),
    Flag,
    /// `"nearest"`, `"up"` or `"down"`.
    Rounding,
    /// `"one"` or `"both"`.
    Ends,
    /// One of these words.
    Word(&'static [&'static str]),
    Function,
    /// `{ from, to }` or `{ from, to, step }`, whole numbers.
    Ranges,
    /// `{ height, width }` in mm, each from 0 up.
    Points,
    Steps,
    Record(&'static Record),
    List(&'static Record),
}

/// Whether a field may be left out, and what is taken then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    Required,
    Optional,
    /// As the reference shows it.
    Default(&'static str),
}

/// An argument, or a field of a table.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    pub name: &'static str,
    pub kind: Kind,
    pub need: Need,
    pub doc: &'static str,
}

/// A table with named fields.
#[derive(Debug)]
pub struct Record {
    /// The type name in the stubs and a heading in the reference.
    pub name: &'static str,
    pub doc: &'static str,
    pub fields: &'static [Field],
}

/// How a function takes its arguments.
#[derive(Clone, Copy, Debug)]
pub enum Form {
    /// One table: `step.knit{ rows = 2 }`.
    Named,
    /// One after another: `needles.at(47, 1)`.
    Positional,
}

/// What stands behind a function.
#[derive(Clone, Copy)]
pub(super) enum Handler {
    /// A step: the checked table comes back with `op` and `line`.
    Step,
    /// A piece: the checked table comes back with `line`.
    Piece,
    /// A view: the checked table comes back with `line`.
    View,
    /// `fit.best`: the prelude searches, the host checks.
    Search,
    Call(functions::Call),
    /// The sandbox has its own.
    Require,
}

/// One function of the API.
pub struct Entry {
    /// `step.knit`; a name without a dot is a global function.
    pub name: &'static str,
    pub form: Form,
    pub args: &'static [Field],
    /// Type in the stubs, empty for nothing.
    pub returns: &'static str,
    pub returns_doc: &'static str,
    /// The first paragraph stands alone in the stubs; the reference shows all.
    pub doc: &'static str,
    /// The API number it came with.
    pub since: u32,
    /// Statements that run as they stand inside a garment function.
    pub example: &'static str,
    pub(super) handler: Handler,
}

impl Entry {
    /// `("step", "knit")`, or `(None, "warn")`.
    pub fn split(&self) -> (Option<&'static str>, &'static str) {
        match self.name.split_once('.') {
            Some((table, member)) => (Some(table), member),
            None => (None, self.name),
        }
    }
}

/// The entry of a step by its `op`.
pub(super) fn step(op: &str) -> Option<&'static Entry> {
    static STEPS: LazyLock<BTreeMap<&str, &Entry>> =
        LazyLock::new(|| steps().map(|entry| (entry.split().1, entry)).collect());
    STEPS.get(op).copied()
}

pub(super) fn steps() -> impl Iterator<Item = &'static Entry> {
    ENTRIES.iter().filter(|entry| matches!(entry.handler, Handler::Step))
}

const fn required(name: &'static str, kind: Kind, doc: &'static str) -> Field {
    Field { name, kind, need: Need::Required, doc }
}

const fn optional(name: &'static str, kind: Kind, doc: &'static str) -> Field {
    Field { name, kind, need: Need::Optional, doc }
}

const fn default(name: &'static str, kind: Kind, value: &'static str, doc: &'static str) -> Field {
    Field { name, kind, need: Need::Default(value), doc }
}

const fn step_entry(
    name: &'static str,
    args: &'static [Field],
    doc: &'static str,
    example: &'static str,
) -> Entry {
    Entry {
        name,
        form: Form::Named,
        args,
        returns: "Step",
        returns_doc: "A step.",
        doc,
        since: 1,
        example,
        handler: Handler::Step,
    }
}

/// Most rows in one `knit` and most times in one `again`.
pub(super) const MOST_ROWS: u32 = 100_000;
const MOST_NEEDLES: u32 = 1_000;
const MM: Kind = Kind::Between(0.0, 100_000.0);

pub static PIECE_SIDE: Record = Record {
    name: "PieceSide",
    doc: "A selvedge.",
    fields: &[
        required("piece", Kind::Name, "the piece"),
        required("side", Kind::Side, "which of its selvedges"),
    ],
};

pub static PIECE: Record = Record {
    name: "Piece",
    doc: "One piece of fabric, from an empty bed back to an empty bed. Make it with `piece`.",
    fields: PIECE_FIELDS,
};

const PIECE_FIELDS: &[Field] = &[
    required("name", Kind::Name, "short, unique in the garment"),
    default("title", Kind::Text, "`name`", "what the pattern calls it"),
    default(
        "section",
        Kind::Name,
        "`name`",
        "the yarn section it counts towards, from `[sections]` in plugin.toml",
    ),
    optional(
        "mate",
        Kind::Whole(1, 2),
        "which of a pair it belongs to: the second is knitted after the first, and its stripes can be matched",
    ),
    required("steps", Kind::Steps, "in working order"),
];

const BED: Kind = Kind::Word(&["main", "ribber"]);

pub static STRAND: Record = Record {
    name: "Strand",
    doc: "Needles side by side.",
    fields: &[
        optional("needles", Kind::Needles, "which; all of the piece when left out"),
        optional("bed", BED, "of which bed; of either when left out"),
        default("flip", Kind::Flag, "false", "`true`: from right to left"),
    ],
};

pub static SHOWN: Record = Record {
    name: "Shown",
    doc: "Some fabric of a view, and how it lies. `\"flat\"`: needles across, rows upwards. `\"side\"`: rows run round the wearer from right to left, needles from the top down; the half of each round that is seen. `\"rings\"`: rows run round, each needle is a ring, the first outermost. `\"band\"`: needles run round, each row is a ring, the first outermost. `\"tube\"`: a tube folded flat and seen from the side, first downwards, each tube going on from the one before; `needles` are its back half from the outer edge to the middle, `front` the other half from the middle to the outer edge.",
    fields: &[
        required("form", Kind::Word(&["flat", "side", "rings", "band", "tube"]), "how it lies"),
        required("piece", Kind::Name, "the piece it belongs to"),
        optional("needles", Kind::Needles, "these needles; all of the piece when left out"),
        optional("bed", BED, "of which bed; of either when left out"),
        default("flip", Kind::Flag, "false", "`true`: the needles from right to left"),
        optional("from", Kind::Name, "rows from the first time this mark was passed"),
        optional("to", Kind::Name, "rows up to the first time this mark was passed"),
        default(
            "first",
            Kind::Between(0.0, 1.0),
            "0",
            "of those rows, from this share on: 0.5 for the second half",
        ),
        default("last", Kind::Between(0.0, 1.0), "1", "of those rows, up to this share"),
        default(
            "turn",
            Kind::Between(0.0, 270.0),
            "0",
            "degrees: `flat` and `side` clockwise, in quarters; `band` 180 for the last row outermost; a `tube` by so many to the front about its middle, a heel 90, a toe 180",
        ),
        default(
            "lean",
            Kind::Between(-90.0, 90.0),
            "0",
            "`flat` and `side`: degrees clockwise about the middle of the lower edge",
        ),
        optional(
            "x",
            Kind::Between(-10_000.0, 10_000.0),
            "`flat` and `side`: where the middle of the lower edge goes, in mm right of the middle of the lower edge of the first part without `x`; hung from the part before when left out",
        ),
        optional("y", Kind::Between(-10_000.0, 10_000.0), "with `x`: in mm above it"),
        default(
            "arc_from",
            Kind::Between(0.0, 360.0),
            "0",
            "`rings` and `band`: where in the round it begins, in degrees clockwise from the top",
        ),
        default(
            "arc_to",
            Kind::Between(0.0, 360.0),
            "360",
            "where in the round it ends; below `arc_from`, it runs anticlockwise",
        ),
        default(
            "beside",
            Kind::Flag,
            "false",
            "`rings` and `band`: `true` for as far from the centre as the ring before",
        ),
        optional(
            "radius",
            Kind::Between(0.0, 10_000.0),
            "`rings` and `band`: mm from the centre to its outer edge; inside the ring before when left out, the first so that the last ends at the centre",
        ),
        optional("front", Kind::Record(&STRAND), "`tube`: the front half, of the same piece"),
    ],
};

pub static VIEW: Record = Record {
    name: "View",
    doc: "What is seen of the finished garment from one side, for pictures in the colours of the yarn. Make it with `view`. Nothing is measured by it.",
    fields: VIEW_FIELDS,
};

const VIEW_FIELDS: &[Field] = &[
    required("title", Kind::Text, "from where: `From above`"),
    default("mirror", Kind::Flag, "false", "`true`: left and right change places"),
    required("parts", Kind::List(&SHOWN), "from the top down, or from the outside in"),
];

pub static PART: Record = Record {
    name: "Part",
    doc: "One length that goes into a finished measure. Give exactly one of `width`, `needles`, `rows_at` and `rows_on`.",
    fields: &[
        required("piece", Kind::Name, "the piece it is taken from"),
        optional("width", Kind::Flag, "`true`: the most stitches ever in work"),
        optional("needles", Kind::Needles, "the width of these needles"),
        optional("rows_at", Kind::Side, "the rows along the selvedge of that side"),
        optional("rows_on", Kind::Needle, "the rows knitted on this needle"),
        optional(
            "from",
            Kind::Name,
            "with `rows_on`: count from the first time this mark was passed",
        ),
        optional(
            "to",
            Kind::Name,
            "with `rows_on`: count up to the first time this mark was passed",
        ),
        default("times", Kind::Between(-1000.0, 1000.0), "1", "how often it counts; 0.5 for half"),
        optional(
            "structure",
            Kind::Structure,
            "the fabric that gauges it, where it is not what most of the piece is",
        ),
    ],
};

pub static FINISHED: Record = Record {
    name: "Finished",
    doc: "A measure of the finished garment. The length comes from the run on the virtual bed; the script only says which lengths and what was aimed at.",
    fields: &[
        required("name", Kind::Name, "a key in the output, such as `head_girth`"),
        default("title", Kind::Text, "`name`", "what people read"),
        required("target", MM, "what it was meant to be, in mm"),
        optional("measure", Kind::Name, "the body measure it answers to"),
        optional(
            "ease",
            Kind::Between(-1.0, 10.0),
            "its ease as a share of that measure: -0.08 is 8 % smaller",
        ),
        optional(
            "ease_low",
            Kind::Between(-1.0, 10.0),
            "the least ease that still fits; outside it the output warns",
        ),
        optional("ease_high", Kind::Between(-1.0, 10.0), "the most ease that still fits"),
        required("parts", Kind::List(&PART), "what is added up"),
    ],
};

pub static RATIO: Record = Record {
    name: "Ratio",
    doc: "A check on the shape: `factor * of / over` should lie between `low` and `high`.",
    fields: &[
        required("name", Kind::Name, "a key in the output"),
        default("title", Kind::Text, "`name`", "what people read"),
        required("of", Kind::Name, "name of a finished measure"),
        required("over", Kind::Name, "name of a finished measure"),
        default("factor", Kind::Number, "1", "what the quotient is multiplied with"),
        required("low", Kind::Number, "least it should be"),
        required("high", Kind::Number, "most it should be"),
    ],
};

pub static COUNT: Record = Record {
    name: "Count",
    doc: "A whole number read off the run. Give exactly one of the last six.",
    fields: &[
        required("name", Kind::Name, "a key in the output"),
        default("title", Kind::Text, "`name`", "what people read"),
        optional("needles", Kind::Name, "most needles of this piece ever in work"),
        optional("rows", Kind::Name, "passes of the carriage in this piece"),
        optional("marks", Kind::Name, "tally marks of this name, in all pieces"),
        optional("loops", Kind::Name, "loops that ever waited on this edge"),
        optional("hang_points", Kind::Name, "times the knitter stops to hang loops of this edge"),
        optional(
            "pieces",
            Kind::Name,
            "pieces of this name, or of this name with `-1`, `-2`... behind it",
        ),
    ],
};

pub static STRETCH: Record = Record {
    name: "Stretch",
    doc: "A girth that must stretch over something to be put on: a cuff over the hand, a leg over the heel. A size that can't is refused.",
    fields: &[
        required("of", Kind::Name, "name of a finished measure"),
        required("over", Kind::Text, "what it must pass, in words: `the hand`"),
        required("over_mm", MM, "the girth of that"),
        default("structure", Kind::Structure, "\"plain\"", "the fabric that stretches"),
    ],
};

pub static GARMENT: Record = Record {
    name: "Garment",
    doc: "What the garment function returns.",
    fields: &[
        required("pieces", Kind::List(&PIECE), "in knitting order"),
        optional(
            "finishing",
            Kind::Steps,
            "the work off the machine: graft, gather, seam, sew on, block",
        ),
        optional("finished", Kind::List(&FINISHED), "finished measures"),
        optional("ratios", Kind::List(&RATIO), "checks on the shape"),
        optional("stretches", Kind::List(&STRETCH), "what must stretch over what to be put on"),
        optional("counts", Kind::List(&COUNT), "numbers worth printing"),
        optional("views", Kind::List(&VIEW), "how the finished garment looks, for pictures"),
        optional("cautions", Kind::Texts, "what the knitter should know about every size"),
    ],
};

/// The tables a script returns, outermost first.
pub static RECORDS: [&Record; 11] = [
    &GARMENT,
    &PIECE,
    &FINISHED,
    &PART,
    &RATIO,
    &STRETCH,
    &COUNT,
    &PIECE_SIDE,
    &VIEW,
    &SHOWN,
    &STRAND,
];

const HELD: &[Field] = &[
    optional("needles", Kind::Needles, "these needles"),
    optional("side", Kind::Side, "the needles at this end"),
    optional("count", Kind::Whole(1, MOST_NEEDLES), "so many of them, with `side`"),
    optional("all", Kind::Flag, "`true`: all of them"),
];

const AT_SIDE: &[Field] = &[
    required("side", Kind::Side, "at which end"),
    default("count", Kind::Whole(1, MOST_NEEDLES), "1", "how many"),
];

const LOOP_MM: Kind = Kind::Between(0.1, 1_000.0);
const MOST_SHAPINGS: u32 = 10_000;
const POINTS: Field = required(
    "points",
    Kind::Points,
    "`{ height, width }` in mm, from the cast-on upwards, heights rising; straight in between",
);
const STITCH_MM: Field = required("stitch_mm", LOOP_MM, "width of a stitch");
const ROW_MM: Field = required("row_mm", LOOP_MM, "height of a row");
const EVERY: Field = default(
    "every",
    Kind::Whole(1, 1_000),
    "2",
    "shape only after a multiple of so many rows; 2 keeps the carriage on its side",
);
const SYMMETRIC: Field =
    default("symmetric", Kind::Flag, "true", "`true`: both sides alike; `false`: one side only");

/// Every function of the API, in the order of the reference.
pub static ENTRIES: &[Entry] = &[
    step_entry(
        "step.cast_on",
        &[
            required("needles", Kind::Needles, "which needles"),
            default(
                "structure",
                Kind::Structure,
                "\"plain\"",
                "how the fabric that follows is made",
            ),
            required(
                "method",
                Kind::CastOnMethod,
                "`\"waste\"`: open loops on waste yarn; `\"wound\"`: a closed edge wound by hand; `\"rib\"`: the closed edge of a rib",
            ),
            optional(
                "edge",
                Kind::Name,
                "with `\"waste\"`: the name under which the open loops wait; with `\"wound\"`: wound loosely, its loops to be picked up later under this name",
            ),
        ],
        "Makes loops on empty needles.",
        "local s = step.cast_on{ needles = needles.centred(48), method = \"waste\", edge = \"start\" }\nassert(s.op == \"cast_on\" and s.needles == \"L24-R24\")",
    ),
    step_entry(
        "step.knit",
        &[default("rows", Kind::Whole(0, MOST_ROWS), "1", "passes of the carriage")],
        "Passes of the carriage over the needles in working position.",
        "local s = step.knit{ rows = 2 }\nassert(s.rows == 2)",
    ),
    step_entry(
        "step.carriage_at",
        &[required("side", Kind::Side, "where the carriage must be by now")],
        "Checks the carriage's side: the bed refuses the program where it is on the other.",
        "local s = step.carriage_at{ side = \"right\" }\nassert(s.side == \"right\")",
    ),
    step_entry(
        "step.again",
        &[
            required("times", Kind::Whole(0, MOST_ROWS), "how often"),
            required("steps", Kind::Steps, "what is repeated"),
        ],
        "Does steps over and over. Kept folded in the pattern.",
        "local s = step.again{ times = 10, steps = { step.decrease{ side = \"left\" }, step.knit{ rows = 2 } } }\nassert(#s.steps == 2)",
    ),
    step_entry(
        "step.hold",
        HELD,
        "Pushes needles to holding position; they keep their loops and don't knit. Give `needles`, or `side` and `count` (counted from that end of the working needles), or `all`.",
        "local s = step.hold{ side = \"right\", count = 3 }\nassert(s.count == 3)",
    ),
    step_entry(
        "step.bring_back",
        HELD,
        "Returns held needles to work. Give `needles`, or `side` and `count` (the held needles of that side nearest the working ones), or `all`.",
        "local s = step.bring_back{ all = true }\nassert(s.all)",
    ),
    step_entry(
        "step.wrap",
        &[],
        "Lays the yarn round the held needle beside the yarn, so that no slit stays at the turn.",
        "local s = step.wrap()\nassert(s.op == \"wrap\")",
    ),
    step_entry(
        "step.hang",
        &[
            required("edge", Kind::Name, "where the loops wait"),
            required("needle", Kind::Needle, "where they are hung"),
            optional("loops", Kind::Whole(0, 100), "so many each time; 1 when neither is given"),
            optional(
                "over",
                Kind::Whole(1, MOST_ROWS),
                "all loops of the edge over so many visits in all, spread evenly",
            ),
        ],
        "Hangs loops of a detached edge on a needle, in order. Give `loops` or `over`.",
        "local s = step.hang{ edge = \"band\", needle = needles.at(40, 1), over = 56 }\nassert(s.over == 56)",
    ),
    step_entry(
        "step.transfer_to_main",
        &[],
        "Moves every loop of the ribber to the main bed.",
        "local s = step.transfer_to_main()\nassert(s.op == \"transfer_to_main\")",
    ),
    step_entry(
        "step.decrease",
        AT_SIDE,
        "Works an end stitch into its neighbour.",
        "local s = step.decrease{ side = \"left\" }\nassert(s.side == \"left\")",
    ),
    step_entry(
        "step.increase",
        AT_SIDE,
        "Brings an empty needle beside the end into work.",
        "local s = step.increase{ side = \"right\", count = 2 }\nassert(s.count == 2)",
    ),
    step_entry(
        "step.scrap_off",
        &[
            required(
                "edge",
                Kind::Name,
                "the name under which the open loops wait, behind what already waits there",
            ),
            optional("needles", Kind::Needles, "which needles; all when left out"),
        ],
        "Knits off onto waste yarn, leaving open loops.",
        "local s = step.scrap_off{ edge = \"top\" }\nassert(s.edge == \"top\")",
    ),
    step_entry(
        "step.rehang",
        &[
            required("edge", Kind::Name, "where the loops wait"),
            required("needles", Kind::Needles, "one loop each, the first loop leftmost"),
            optional(
                "tube",
                Kind::Flag,
                "`true`: half the loops on the main bed, half on the ribber, to knit round",
            ),
        ],
        "Puts the loops of a detached edge back: on empty needles to knit on, or on needles that all carry a loop, to close a hem.",
        "local s = step.rehang{ edge = \"top\", needles = needles.centred(20) }\nassert(s.needles == \"L10-R10\")",
    ),
    step_entry(
        "step.rest_ribber",
        &[],
        "With loops on both beds: the ribber's rest while the passes that follow knit the main bed alone, as for a heel.",
        "local s = step.rest_ribber()\nassert(s.op == \"rest_ribber\")",
    ),
    step_entry(
        "step.both_beds",
        &[],
        "After `rest_ribber`: both beds knit again, round and round.",
        "local s = step.both_beds()\nassert(s.op == \"both_beds\")",
    ),
    step_entry(
        "step.cast_off",
        &[optional("needles", Kind::Needles, "which needles; all when left out")],
        "Casts off: the loops are closed.",
        "local s = step.cast_off()\nassert(s.op == \"cast_off\")",
    ),
    step_entry(
        "step.dial",
        &[required("value", Kind::Between(0.0, 100.0), "the number on the dial")],
        "Sets the tension dial for what follows. A reminder: gauge comes from the swatch.",
        "local s = step.dial{ value = 7.5 }\nassert(s.value == 7.5)",
    ),
    step_entry(
        "step.section",
        &[required("name", Kind::Name, "from `[sections]` in plugin.toml")],
        "Counts the yarn of what follows towards another section.",
        "local s = step.section{ name = \"body\" }\nassert(s.name == \"body\")",
    ),
    step_entry(
        "step.reset_counter",
        &[],
        "Sets the row counter to nought.",
        "local s = step.reset_counter()\nassert(s.op == \"reset_counter\")",
    ),
    step_entry(
        "step.note",
        &[required("text", Kind::Text, "what to say")],
        "A sentence for the written pattern.",
        "local s = step.note{ text = \"Hang weights on both ends.\" }\nassert(#s.text > 0)",
    ),
    step_entry(
        "step.mark",
        &[required("name", Kind::Name, "what is tallied")],
        "A tally mark, so that a count such as wedges comes from the run and not from the script.",
        "local s = step.mark{ name = \"wedge\" }\nassert(s.name == \"wedge\")",
    ),
    step_entry(
        "step.graft",
        &[
            required("first", Kind::Name, "an open edge"),
            required("second", Kind::Name, "another, with as many loops"),
        ],
        "Joins two open edges loop by loop.",
        "local s = step.graft{ first = \"start\", second = \"top\" }\nassert(s.first == \"start\")",
    ),
    step_entry(
        "step.gather_edge",
        &[required("edge", Kind::Name, "an open edge")],
        "Draws one end through the loops of an edge and pulls it up.",
        "local s = step.gather_edge{ edge = \"top\" }\nassert(s.edge == \"top\")",
    ),
    step_entry(
        "step.gather_selvedge",
        PIECE_SIDE.fields,
        "Runs an end through a selvedge and draws it up.",
        "local s = step.gather_selvedge{ piece = \"crown\", side = \"right\" }\nassert(s.side == \"right\")",
    ),
    step_entry(
        "step.seam",
        &[
            required("first", Kind::Record(&PIECE_SIDE), "a selvedge"),
            required("second", Kind::Record(&PIECE_SIDE), "the selvedge sewn to it"),
        ],
        "Sews two selvedges together.",
        "local s = step.seam{ first = { piece = \"band\", side = \"left\" }, second = { piece = \"band\", side = \"right\" } }\nassert(s.first.piece == \"band\")",
    ),
    step_entry(
        "step.sew_on",
        &[
            required("edge", Kind::Name, "an open edge"),
            required("piece", Kind::Name, "the piece it is sewn to"),
            required("side", Kind::Side, "along which selvedge"),
        ],
        "Sews an open edge loop by loop along a selvedge, spread evenly.",
        "local s = step.sew_on{ edge = \"band\", piece = \"crown\", side = \"left\" }\nassert(s.edge == \"band\")",
    ),
    step_entry(
        "step.block",
        &[
            required("form", Kind::Text, "what it is dried on"),
            optional("width_mm", Kind::Between(1.0, 10_000.0), "how wide the form is"),
            default("steam", Kind::Flag, "false", "whether it is steamed"),
            default("note", Kind::Text, "nothing", "anything else to say"),
        ],
        "Washes or steams the garment into shape.",
        "local s = step.block{ form = \"a plate\", width_mm = 270 }\nassert(s.form == \"a plate\")",
    ),
    Entry {
        name: "piece",
        form: Form::Named,
        args: PIECE_FIELDS,
        returns: "Piece",
        returns_doc: "A piece, for `pieces` of the garment.",
        doc: "One piece of fabric, from an empty bed back to an empty bed.",
        since: 1,
        example: "local p = piece{ name = \"body\", title = \"Body\", steps = {\n  step.cast_on{ needles = \"L10-R10\", method = \"wound\" },\n  step.knit{ rows = 20 },\n  step.cast_off(),\n} }\nassert(p.section == \"body\")",
        handler: Handler::Piece,
    },
    Entry {
        name: "view",
        form: Form::Named,
        args: VIEW_FIELDS,
        returns: "View",
        returns_doc: "A view, for `views` of the garment.",
        doc: "What is seen of the finished garment from one side.",
        since: 1,
        example: "local v = view{ title = \"Front\", parts = { { form = \"flat\", piece = \"body\", needles = needles.slice(40, 1, 20), flip = true } } }\nassert(v.title == \"Front\")",
        handler: Handler::View,
    },
    Entry {
        name: "needles.centred",
        form: Form::Positional,
        args: &[required("n", Kind::Whole(1, MOST_NEEDLES), "how many needles")],
        returns: "Needles",
        returns_doc: "The needles, such as `\"L24-R23\"`.",
        doc: "`n` needles about the centre of the bed; the odd one goes to the right.",
        since: 1,
        example: "assert(needles.centred(47) == \"L23-R24\")",
        handler: Handler::Call(functions::centred),
    },
    Entry {
        name: "needles.slice",
        form: Form::Positional,
        args: &[
            required("n", Kind::Whole(1, MOST_NEEDLES), "how many needles in all"),
            required(
                "first",
                Kind::Whole(1, MOST_NEEDLES),
                "the first wanted, counted from the left, from 1",
            ),
            required("last", Kind::Whole(1, MOST_NEEDLES), "the last wanted"),
        ],
        returns: "Needles",
        returns_doc: "The needles.",
        doc: "Some of `n` centred needles.",
        since: 1,
        example: "assert(needles.slice(48, 1, 12) == \"L24-L13\")",
        handler: Handler::Call(functions::slice),
    },
    Entry {
        name: "needles.at",
        form: Form::Positional,
        args: &[
            required("n", Kind::Whole(1, MOST_NEEDLES), "how many needles in all"),
            required("i", Kind::Whole(1, MOST_NEEDLES), "which one, counted from the left, from 1"),
        ],
        returns: "Needle",
        returns_doc: "The needle.",
        doc: "One of `n` centred needles.",
        since: 1,
        example: "assert(needles.at(48, 1) == \"L24\")\nassert(needles.at(48, 48) == \"R24\")",
        handler: Handler::Call(functions::at),
    },
    Entry {
        name: "fit.best",
        form: Form::Named,
        args: &[
            required(
                "over",
                Kind::Ranges,
                "one to five ranges `{ from, to }` or `{ from, to, step }`; 1,000,000 combinations at most",
            ),
            required(
                "cost",
                Kind::Function,
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
    Entry {
        name: "fit.to_multiple",
        form: Form::Positional,
        args: &[
            required("x", Kind::Between(-1e9, 1e9), "any number"),
            required("multiple", Kind::Whole(1, 1_000_000), "of what"),
            default("plus", Kind::Integer, "0", "what is added to the multiple"),
            default(
                "rounding",
                Kind::Rounding,
                "\"nearest\"",
                "`\"nearest\"` (the half goes up), `\"up\"` or `\"down\"`",
            ),
        ],
        returns: "number",
        returns_doc: "The whole number.",
        doc: "The whole number of the form `multiple * k + plus` next to `x`.",
        since: 1,
        example: "assert(fit.to_multiple(45.2, 4) == 44)\nassert(fit.to_multiple(45.2, 4, 2) == 46)\nassert(fit.to_multiple(45.2, 4, 0, \"up\") == 48)",
        handler: Handler::Call(functions::to_multiple),
    },
    Entry {
        name: "fit.round",
        form: Form::Positional,
        args: &[required("x", Kind::Between(-1e9, 1e9), "any number")],
        returns: "number",
        returns_doc: "The whole number.",
        doc: "The nearest whole number; the half goes away from zero.",
        since: 1,
        example: "assert(fit.round(2.5) == 3 and fit.round(-2.5) == -3)",
        handler: Handler::Call(functions::round),
    },
    Entry {
        name: "fit.spread",
        form: Form::Positional,
        args: &[
            required("total", Kind::Whole(0, 1_000_000), "what is shared out"),
            required("parts", Kind::Whole(1, 10_000), "among how many"),
        ],
        returns: "{ number }",
        returns_doc: "`parts` whole numbers that add up to `total`.",
        doc: "Shares out a whole number as evenly as whole numbers can.",
        since: 1,
        example: "assert(table.concat(fit.spread(10, 4), \" \") == \"2 3 2 3\")",
        handler: Handler::Call(functions::spread),
    },
    Entry {
        name: "shape.gaps",
        form: Form::Positional,
        args: &[
            required("total", Kind::Whole(0, 1_000_000), "stitches or rows in all"),
            required("shapings", Kind::Whole(1, MOST_SHAPINGS), "increases or decreases"),
            default(
                "ends",
                Kind::Ends,
                "\"one\"",
                "`\"one\"`: a gap before each shaping; `\"both\"`: another after the last",
            ),
        ],
        returns: "{ number }",
        returns_doc: "The gaps in order. They add up to `total` and differ by one at most.",
        doc: "Spaces increases or decreases evenly: the plain stitches or rows between them.\n\nDivision with remainder, the longer gaps spread (a published example: 7 increases in 100 stitches are 5 groups of 14 and 2 of 15).\n\n```text\nshape.gaps(10, 4)            ---o--o---o--o\nshape.gaps(10, 4, \"both\")    --o--o--o--o--\n```",
        since: 1,
        example: "assert(table.concat(shape.gaps(100, 7), \" \") == \"14 15 14 14 14 15 14\")\nassert(table.concat(shape.gaps(10, 4, \"both\"), \" \") == \"2 2 2 2 2\")",
        handler: Handler::Call(shaping::gaps),
    },
    Entry {
        name: "shape.schedule",
        form: Form::Named,
        args: &[
            required("shapings", Kind::Whole(0, MOST_SHAPINGS), "how often is shaped"),
            required("rows", Kind::Whole(0, MOST_ROWS), "over how many rows"),
            default(
                "multiple",
                Kind::Whole(1, 1_000),
                "1",
                "every interval is a multiple of so many rows; 2 keeps the carriage on its side",
            ),
            default(
                "ends",
                Kind::Ends,
                "\"one\"",
                "`\"one\"`: the last shaping is at the end; `\"both\"`: an interval more stays plain after it",
            ),
        ],
        returns: "({ { every: number, times: number } }, number)",
        returns_doc: "A list of `{ every, times }`, the shorter interval first, and the rows left plain after the last shaping. More shapings than there is room for are an error.",
        doc: "Spreads shapings over rows as a pattern words it: every 3rd row 4 times, then every 4th row 32 times.\n\nDivision with remainder; the rows of all intervals and the plain ones add up to `rows` (a published example: 36 shapings over 140 rows, as below).\n\n```text\n36 shapings over 140 rows\n  --o--o--o--o  4 times every 3rd row\n  ---o---o ...  32 times every 4th row\n```",
        since: 1,
        example: "local steps = {}\nfor _, each in shape.schedule{ shapings = 36, rows = 140 } do\n  table.insert(steps, step.again{ times = each.times, steps = {\n    step.knit{ rows = each.every },\n    step.decrease{ side = \"left\" },\n  } })\nend\nassert(steps[1].times == 4 and steps[1].steps[1].rows == 3)\nassert(steps[2].times == 32 and steps[2].steps[1].rows == 4)",
        handler: Handler::Call(shaping::schedule),
    },
    Entry {
        name: "shape.short_row_heel",
        form: Form::Named,
        args: &[
            required(
                "stitches",
                Kind::Whole(2, MOST_NEEDLES),
                "needles in working position; half of a tube's",
            ),
            optional(
                "to",
                Kind::Whole(1, MOST_NEEDLES),
                "stitches still at work at the turn; a third, with as many held on each side, when left out",
            ),
            default("carriage", Kind::Side, "\"right\"", "where the carriage is, before and after"),
            optional(
                "resting",
                Kind::Side,
                "other needles wait in holding position beyond this side, so the turns there are wrapped too",
            ),
            optional("turn", Kind::Name, "a tally mark between the way out and the way back"),
            optional("tally", Kind::Name, "a tally mark at each row of the way out"),
        ],
        returns: "{ Step }",
        returns_doc: "Steps, to be put into those of a piece in order.",
        doc: "Short rows out and back: the heel or toe of a foot, knitted on the needles in working position.\n\nOut: one more needle is held at each row, on the side away from the carriage, and wrapped. Back: one more needle knits at each row, and the next held one is wrapped. Both ways take `stitches - to` rows, so the carriage ends where it began (craft handbooks: over half of a tube's stitches, down to a third of those and back; a published example: 15 stitches, 10 rows down, 5 left, 10 rows back).\n\n```text\n7 stitches to 3        # knits   . is held\n\nrow 8   -> # # # # # # #\nrow 7   <- # # # # # # .\nrow 6   -> . # # # # # .\nrow 5   <- . # # # # . .\nrow 4   -> . . # # # . .\nrow 3   <- . . # # # # .\nrow 2   -> . # # # # # .\nrow 1   <- . # # # # # #\n```",
        since: 1,
        example: "local steps = { step.knit{ rows = 20 } }\nfor _, each in shape.short_row_heel{ stitches = 15, to = 5 } do\n  table.insert(steps, each)\nend\ntable.insert(steps, step.carriage_at{ side = \"right\" })\nassert(steps[2].op == \"again\")",
        handler: Handler::Call(shaping::short_row_heel),
    },
    Entry {
        name: "shape.wedges",
        form: Form::Named,
        args: &[
            required("step", Kind::Whole(1, 100), "needles brought back at every second row"),
            STITCH_MM,
            ROW_MM,
            default(
                "fullness",
                Kind::Between(0.01, 100.0),
                "1",
                "the rim over that of a flat round: below 1 it domes, above 1 it ruffles",
            ),
        ],
        returns: "(number, number)",
        returns_doc: "The exact number, and the nearest whole one.",
        doc: "How many short-row wedges make a round.\n\npi x step x row gauge / stitch gauge x fullness (geometry: the rim of N wedges over S stitches is N x 2 S / step rows, and round a flat disc it is 2 pi S stitches).\n\n```text\none wedge, step = 2\n\ncentre            rim\n  # # # # # # # # #    rows 9, 10\n  . . # # # # # # #    rows 7, 8\n  . . . . # # # # #    rows 5, 6\n  . . . . . . # # #    rows 3, 4\n  . . . . . . . . #    rows 1, 2\n```",
        since: 1,
        example: "local exact, whole = shape.wedges{ step = 1, stitch_mm = 5, row_mm = 2.5 }\nassert(whole == 6 and math.abs(exact - 2 * math.pi) < 1e-9)",
        handler: Handler::Call(shaping::wedges),
    },
    Entry {
        name: "shape.along",
        form: Form::Named,
        args: &[POINTS, STITCH_MM, ROW_MM, EVERY, SYMMETRIC],
        returns: "(number, { { rows: number, change: number } })",
        returns_doc: "Stitches to cast on, and a list of `{ rows, change }`: knit `rows`, then change each shaped side by `change` stitches, fewer when negative. The last `change` is 0.",
        doc: "Follows an outline by whole stitches and rows.\n\nThe rows are the multiple of `every` nearest the height. Between two shapings the fabric is at most half a stitch off the outline on each shaped side, where the outline runs through that stretch of `every` rows; the first stretch is as wide as the outline begins and the last as it ends. One stitch always stays. Steeper than a stitch in `every` rows the change is more than 1: take a smaller `every`, for the bed warns of two stitches decreased at once.\n\n```text\n  outline              knitted\n\n   /  \\                 ####      { 90, 40 }, in mm\n  /    \\               ######\n /      \\             ########\n |      |             ########    { 60, 140 }\n |      |             ########\n +------+             ########    { 0, 140 }, cast on\n```",
        since: 1,
        example: "local cast_on, shaping = shape.along{ points = { { 0, 150 }, { 280, 200 } }, stitch_mm = 2.5, row_mm = 2 }\nlocal rows, stitches = 0, cast_on\nfor _, each in shaping do\n  rows += each.rows\n  stitches += 2 * each.change\nend\nassert(cast_on == 60 and rows == 140 and stitches == 80)",
        handler: Handler::Call(shaping::along),
    },
    Entry {
        name: "shape.steps_along",
        form: Form::Named,
        args: &[
            POINTS,
            STITCH_MM,
            ROW_MM,
            EVERY,
            SYMMETRIC,
            optional("side", Kind::Side, "with `symmetric = false`: the side that is shaped"),
        ],
        returns: "(number, { Step })",
        returns_doc: "Stitches to cast on, and the steps: knit, then increase or decrease at both ends. Put them into those of a piece in order.",
        doc: "`shape.along` as steps.",
        since: 1,
        example: "local cast_on, steps = shape.steps_along{ points = { { 0, 150 }, { 280, 200 } }, stitch_mm = 2.5, row_mm = 2 }\nlocal all = { step.cast_on{ needles = needles.centred(cast_on), method = \"wound\" } }\nfor _, each in steps do\n  table.insert(all, each)\nend\nassert(all[2].op == \"knit\" and all[3].op == \"increase\")",
        handler: Handler::Call(shaping::steps_along),
    },
    Entry {
        name: "warn",
        form: Form::Positional,
        args: &[required("text", Kind::Text, "one sentence")],
        returns: "",
        returns_doc: "",
        doc: "Tells the knitter something about this size. The size is still made. 100 at most.",
        since: 1,
        example: "warn(\"The brim folds over 3 rows.\")",
        handler: Handler::Call(functions::warn),
    },
    Entry {
        name: "refuse",
        form: Form::Named,
        args: &[
            required("reason", Kind::Text, "why this size can't be made"),
            optional("hints", Kind::Texts, "what to change"),
        ],
        returns: "",
        returns_doc: "",
        doc: "Ends the script: this size can't be made. The other sizes still are. A `pcall` does not stop it.",
        since: 1,
        example: "if input.machine.needles < 10 then\n  refuse{ reason = \"The bed is too short.\", hints = { \"Take a longer bed.\" } }\nend",
        handler: Handler::Call(functions::refuse),
    },
    Entry {
        name: "require",
        form: Form::Positional,
        args: &[required(
            "path",
            Kind::Text,
            "`\"./shapes\"` for `shapes.luau` beside the file that asks",
        )],
        returns: "any",
        returns_doc: "The one value the module returns.",
        doc: "Runs another module of the same plugin, once in a call, and returns its value. Nothing outside the plugin's folder can be reached.",
        since: 1,
        example: "-- shapes.luau: return { wedge = 8 }\nlocal shapes = require(\"./shapes\")\nassert(shapes.wedge == 8)",
        handler: Handler::Require,
    },
];
