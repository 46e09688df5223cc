//! Shaping: `shape`.

use super::bounds::{LOOP_MM, MOST_NEEDLES, MOST_ROWS, MOST_SHAPINGS};
use super::function::{CallForm, FunctionSpec, Handler, HostFunction};
use super::spec::{FieldSpec, ValueKind, default, optional, required};

const POINTS: FieldSpec = required(
    "points",
    ValueKind::Points,
    "`{ height, width }` in mm, from the cast-on upwards, heights rising; straight in between",
);
const STITCH_MM: FieldSpec = required("stitch_mm", LOOP_MM, "width of a stitch");
const ROW_MM: FieldSpec = required("row_mm", LOOP_MM, "height of a row");
const EVERY: FieldSpec = default(
    "every",
    ValueKind::Whole(1, 1_000),
    "2",
    "shape only after a multiple of so many rows; 2 keeps the carriage on its side",
);
const SYMMETRIC: FieldSpec = default(
    "symmetric",
    ValueKind::Flag,
    "true",
    "`true`: both sides alike; `false`: one side only",
);

pub(super) static SHAPES: &[FunctionSpec] = &[
    FunctionSpec {
        name: "shape.gaps",
        form: CallForm::Positional,
        args: &[
            required("total", ValueKind::Whole(0, 1_000_000), "stitches or rows in all"),
            required("shapings", ValueKind::Whole(1, MOST_SHAPINGS), "increases or decreases"),
            default(
                "ends",
                ValueKind::Ends,
                "\"one\"",
                "`\"one\"`: a gap before each shaping; `\"both\"`: another after the last",
            ),
        ],
        returns: "{ number }",
        returns_doc: "The gaps in order. They add up to `total` and differ by one at most.",
        doc: "Spaces increases or decreases evenly: the plain stitches or rows between them.\n\nDivision with remainder, the longer gaps spread (a published example: 7 increases in 100 stitches are 5 groups of 14 and 2 of 15).\n\n```text\nshape.gaps(10, 4)            ---o--o---o--o\nshape.gaps(10, 4, \"both\")    --o--o--o--o--\n```",
        since: 1,
        example: "assert(table.concat(shape.gaps(100, 7), \" \") == \"14 15 14 14 14 15 14\")\nassert(table.concat(shape.gaps(10, 4, \"both\"), \" \") == \"2 2 2 2 2\")",
        handler: Handler::Call(HostFunction::Gaps),
    },
    FunctionSpec {
        name: "shape.schedule",
        form: CallForm::Named,
        args: &[
            required("shapings", ValueKind::Whole(0, MOST_SHAPINGS), "how often is shaped"),
            required("rows", ValueKind::Whole(0, MOST_ROWS), "over how many rows"),
            default(
                "multiple",
                ValueKind::Whole(1, 1_000),
                "1",
                "every interval is a multiple of so many rows; 2 keeps the carriage on its side",
            ),
            default(
                "ends",
                ValueKind::Ends,
                "\"one\"",
                "`\"one\"`: the last shaping is at the end; `\"both\"`: an interval more stays plain after it",
            ),
        ],
        returns: "({ { every: number, times: number } }, number)",
        returns_doc: "A list of `{ every, times }`, the shorter interval first, and the rows left plain after the last shaping. More shapings than there is room for are an error.",
        doc: "Spreads shapings over rows as a pattern words it: every 3rd row 4 times, then every 4th row 32 times.\n\nDivision with remainder; the rows of all intervals and the plain ones add up to `rows` (a published example: 36 shapings over 140 rows, as below).\n\n```text\n36 shapings over 140 rows\n  --o--o--o--o  4 times every 3rd row\n  ---o---o ...  32 times every 4th row\n```",
        since: 1,
        example: "local steps = {}\nfor _, each in shape.schedule{ shapings = 36, rows = 140 } do\n  table.insert(steps, step.again{ times = each.times, steps = {\n    step.knit{ rows = each.every },\n    step.decrease{ side = \"left\" },\n  } })\nend\nassert(steps[1].times == 4 and steps[1].steps[1].rows == 3)\nassert(steps[2].times == 32 and steps[2].steps[1].rows == 4)",
        handler: Handler::Call(HostFunction::Schedule),
    },
    FunctionSpec {
        name: "shape.short_row_heel",
        form: CallForm::Named,
        args: &[
            required(
                "stitches",
                ValueKind::Whole(2, MOST_NEEDLES),
                "needles in working position; half of a tube's",
            ),
            optional(
                "to",
                ValueKind::Whole(1, MOST_NEEDLES),
                "stitches still at work at the turn; a third, with as many held on each side, when left out",
            ),
            default(
                "carriage",
                ValueKind::Side,
                "\"right\"",
                "where the carriage is, before and after",
            ),
            optional(
                "resting",
                ValueKind::Side,
                "other needles wait in holding position beyond this side, so the turns there are wrapped too",
            ),
            optional("turn", ValueKind::Name, "a tally mark between the way out and the way back"),
            optional("tally", ValueKind::Name, "a tally mark at each row of the way out"),
        ],
        returns: "{ Step }",
        returns_doc: "Steps, to be put into those of a piece in order.",
        doc: "Short rows out and back: the heel or toe of a foot, knitted on the needles in working position.\n\nOut: one more needle is held at each row, on the side away from the carriage, and wrapped. Back: one more needle knits at each row, and the next held one is wrapped. Both ways take `stitches - to` rows, so the carriage ends where it began (craft handbooks: over half of a tube's stitches, down to a third of those and back; a published example: 15 stitches, 10 rows down, 5 left, 10 rows back).\n\n```text\n7 stitches to 3        # knits   . is held\n\nrow 8   -> # # # # # # #\nrow 7   <- # # # # # # .\nrow 6   -> . # # # # # .\nrow 5   <- . # # # # . .\nrow 4   -> . . # # # . .\nrow 3   <- . . # # # # .\nrow 2   -> . # # # # # .\nrow 1   <- . # # # # # #\n```",
        since: 1,
        example: "local steps = { step.knit{ rows = 20 } }\nfor _, each in shape.short_row_heel{ stitches = 15, to = 5 } do\n  table.insert(steps, each)\nend\ntable.insert(steps, step.carriage_at{ side = \"right\" })\nassert(steps[2].op == \"again\")",
        handler: Handler::Call(HostFunction::ShortRowHeel),
    },
    FunctionSpec {
        name: "shape.wedges",
        form: CallForm::Named,
        args: &[
            required("step", ValueKind::Whole(1, 100), "needles brought back at every second row"),
            STITCH_MM,
            ROW_MM,
            default(
                "fullness",
                ValueKind::Between(0.01, 100.0),
                "1",
                "the rim over that of a flat round: below 1 it domes, above 1 it ruffles",
            ),
        ],
        returns: "(number, number)",
        returns_doc: "The exact number, and the nearest whole one.",
        doc: "How many short-row wedges make a round.\n\npi x step x row gauge / stitch gauge x fullness (geometry: the rim of N wedges over S stitches is N x 2 S / step rows, and round a flat disc it is 2 pi S stitches).\n\n```text\none wedge, step = 2\n\ncentre            rim\n  # # # # # # # # #    rows 9, 10\n  . . # # # # # # #    rows 7, 8\n  . . . . # # # # #    rows 5, 6\n  . . . . . . # # #    rows 3, 4\n  . . . . . . . . #    rows 1, 2\n```",
        since: 1,
        example: "local exact, whole = shape.wedges{ step = 1, stitch_mm = 5, row_mm = 2.5 }\nassert(whole == 6 and math.abs(exact - 2 * math.pi) < 1e-9)",
        handler: Handler::Call(HostFunction::Wedges),
    },
    FunctionSpec {
        name: "shape.along",
        form: CallForm::Named,
        args: &[POINTS, STITCH_MM, ROW_MM, EVERY, SYMMETRIC],
        returns: "(number, { { rows: number, change: number } })",
        returns_doc: "Stitches to cast on, and a list of `{ rows, change }`: knit `rows`, then change each shaped side by `change` stitches, fewer when negative. The last `change` is 0.",
        doc: "Follows an outline by whole stitches and rows.\n\nThe rows are the multiple of `every` nearest the height. Between two shapings the fabric is at most half a stitch off the outline on each shaped side, where the outline runs through that stretch of `every` rows; the first stretch is as wide as the outline begins and the last as it ends. One stitch always stays. Steeper than a stitch in `every` rows the change is more than 1: take a smaller `every`, for the bed warns of two stitches decreased at once.\n\n```text\n  outline              knitted\n\n   /  \\                 ####      { 90, 40 }, in mm\n  /    \\               ######\n /      \\             ########\n |      |             ########    { 60, 140 }\n |      |             ########\n +------+             ########    { 0, 140 }, cast on\n```",
        since: 1,
        example: "local cast_on, shaping = shape.along{ points = { { 0, 150 }, { 280, 200 } }, stitch_mm = 2.5, row_mm = 2 }\nlocal rows, stitches = 0, cast_on\nfor _, each in shaping do\n  rows += each.rows\n  stitches += 2 * each.change\nend\nassert(cast_on == 60 and rows == 140 and stitches == 80)",
        handler: Handler::Call(HostFunction::Along),
    },
    FunctionSpec {
        name: "shape.steps_along",
        form: CallForm::Named,
        args: &[
            POINTS,
            STITCH_MM,
            ROW_MM,
            EVERY,
            SYMMETRIC,
            optional("side", ValueKind::Side, "with `symmetric = false`: the side that is shaped"),
        ],
        returns: "(number, { Step })",
        returns_doc: "Stitches to cast on, and the steps: knit, then increase or decrease at both ends. Put them into those of a piece in order.",
        doc: "`shape.along` as steps.",
        since: 1,
        example: "local cast_on, steps = shape.steps_along{ points = { { 0, 150 }, { 280, 200 } }, stitch_mm = 2.5, row_mm = 2 }\nlocal all = { step.cast_on{ needles = needles.centred(cast_on), method = \"wound\" } }\nfor _, each in steps do\n  table.insert(all, each)\nend\nassert(all[2].op == \"knit\" and all[3].op == \"increase\")",
        handler: Handler::Call(HostFunction::StepsAlong),
    },
];
