//! Steps: `step`.

use super::bounds::{MOST_NEEDLES, MOST_ROWS};
use super::function::{FunctionSpec, StepOp, step_entry};
use super::records::PIECE_SIDE;
use super::spec::{FieldSpec, ValueKind, default, optional, required};

const HELD: &[FieldSpec] = &[
    optional("needles", ValueKind::Needles, "these needles"),
    optional("side", ValueKind::Side, "the needles at this end"),
    optional("count", ValueKind::Whole(1, MOST_NEEDLES), "so many of them, with `side`"),
    optional("all", ValueKind::Flag, "`true`: all of them"),
];

const SHAPED: &[FieldSpec] = &[
    required("side", ValueKind::Sides, "at which end; with API 2 also `\"both\"`"),
    default("count", ValueKind::Whole(1, MOST_NEEDLES), "1", "how many, at each end"),
    optional(
        "inset",
        ValueKind::Whole(0, MOST_NEEDLES),
        "so many stitches stay whole outside the shaping: they are moved together; 0 when left out",
    )
    .since(2),
    optional(
        "at",
        ValueKind::Needle,
        "instead of `inset`, at this needle: the outermost that comes to hold two stitches, or the innermost that gets a new one",
    )
    .since(2),
];

const BEDS: ValueKind = ValueKind::Word(&["main", "ribber"]);
const PITCH: ValueKind = ValueKind::Word(&["facing", "between"]);
const RIBS: ValueKind = ValueKind::Word(&["rib 1x1", "rib 2x2"]);

pub(super) static STEPS: &[FunctionSpec] = &[
    step_entry(
        StepOp::CastOn,
        "step.cast_on",
        &[
            required("needles", ValueKind::Needles, "which needles"),
            default(
                "structure",
                ValueKind::Structure,
                "\"plain\"",
                "how the fabric that follows is made",
            ),
            required(
                "method",
                ValueKind::CastOnMethod,
                "`\"waste\"`: open loops on waste yarn; `\"wound\"`: a closed edge wound by hand; `\"rib\"`: the closed edge of a rib",
            ),
            optional(
                "edge",
                ValueKind::Name,
                "with `\"waste\"`: the name under which the open loops wait; with `\"wound\"`: wound loosely, its loops to be picked up later under this name",
            ),
        ],
        "Makes loops on empty needles.",
        "local s = step.cast_on{ needles = needles.centred(48), method = \"waste\", edge = \"start\" }\nassert(s.op == \"cast_on\" and tostring(s.needles) == \"L24-R24\")",
    ),
    step_entry(
        StepOp::Knit,
        "step.knit",
        &[default("rows", ValueKind::Whole(0, MOST_ROWS), "1", "passes of the carriage")],
        "Passes of the carriage over the needles in working position.",
        "local s = step.knit{ rows = 2 }\nassert(s.rows == 2)",
    ),
    step_entry(
        StepOp::CarriageAt,
        "step.carriage_at",
        &[required("side", ValueKind::Side, "where the carriage must be by now")],
        "Checks the carriage's side: the bed refuses the program where it is on the other.",
        "local s = step.carriage_at{ side = \"right\" }\nassert(s.side == \"right\")",
    ),
    step_entry(
        StepOp::Again,
        "step.again",
        &[
            required("times", ValueKind::Whole(0, MOST_ROWS), "how often"),
            required("steps", ValueKind::Steps, "what is repeated"),
        ],
        "Does steps over and over. Kept folded in the pattern.",
        "local s = step.again{ times = 10, steps = { step.decrease{ side = \"left\" }, step.knit{ rows = 2 } } }\nassert(#s.steps == 2)",
    ),
    step_entry(
        StepOp::Hold,
        "step.hold",
        HELD,
        "Pushes needles to holding position; they keep their loops and don't knit. Give `needles`, or `side` and `count` (counted from that end of the working needles), or `all`.",
        "local s = step.hold{ side = \"right\", count = 3 }\nassert(s.count == 3)",
    ),
    step_entry(
        StepOp::BringBack,
        "step.bring_back",
        HELD,
        "Returns held needles to work. Give `needles`, or `side` and `count` (the held needles of that side nearest the working ones), or `all`.",
        "local s = step.bring_back{ all = true }\nassert(s.all)",
    ),
    step_entry(
        StepOp::Wrap,
        "step.wrap",
        &[],
        "Lays the yarn round the held needle beside the yarn, so that no slit stays at the turn.",
        "local s = step.wrap()\nassert(s.op == \"wrap\")",
    ),
    step_entry(
        StepOp::Hang,
        "step.hang",
        &[
            required("edge", ValueKind::Name, "where the loops wait"),
            required("needle", ValueKind::Needle, "where they are hung"),
            optional(
                "loops",
                ValueKind::Whole(0, 100),
                "so many each time; 1 when neither is given",
            ),
            optional(
                "over",
                ValueKind::Whole(1, MOST_ROWS),
                "all loops of the edge over so many visits in all, spread evenly",
            ),
        ],
        "Hangs loops of a detached edge on a needle, in order. Give `loops` or `over`.",
        "local s = step.hang{ edge = \"band\", needle = needles.at(40, 1), over = 56 }\nassert(s.over == 56)",
    ),
    step_entry(
        StepOp::TransferToMain,
        "step.transfer_to_main",
        &[],
        "Moves every loop of the ribber to the main bed.",
        "local s = step.transfer_to_main()\nassert(s.op == \"transfer_to_main\")",
    ),
    step_entry(
        StepOp::Decrease,
        "step.decrease",
        SHAPED,
        "Works an end stitch into its neighbour. With API 2 at the end of the working needles, whatever is held beside them, and as far in as `inset` or `at` say; with API 1 at the end of all needles in work, held ones too.",
        "local s = step.decrease{ side = \"left\" }\nassert(s.side == \"left\")",
    ),
    step_entry(
        StepOp::Increase,
        "step.increase",
        SHAPED,
        "Brings an empty needle beside the end into work. With API 2 at the end of the working needles; some stitches in, the new stitch is lifted from its neighbour, two side by side at most.",
        "local s = step.increase{ side = \"right\", count = 2 }\nassert(s.count == 2)",
    ),
    step_entry(
        StepOp::ScrapOff,
        "step.scrap_off",
        &[
            required(
                "edge",
                ValueKind::Name,
                "the name under which the open loops wait, behind what already waits there",
            ),
            optional("needles", ValueKind::Needles, "which needles; all when left out"),
        ],
        "Knits off onto waste yarn, leaving open loops.",
        "local s = step.scrap_off{ edge = \"top\" }\nassert(s.edge == \"top\")",
    ),
    step_entry(
        StepOp::Rehang,
        "step.rehang",
        &[
            required("edge", ValueKind::Name, "where the loops wait"),
            required("needles", ValueKind::Needles, "one loop each, the first loop leftmost"),
            optional(
                "tube",
                ValueKind::Flag,
                "`true`: half the loops on the main bed, half on the ribber, to knit round",
            ),
        ],
        "Puts the loops of a detached edge back: on empty needles to knit on, or on needles that all carry a loop, to close a hem.",
        "local s = step.rehang{ edge = \"top\", needles = needles.centred(20) }\nassert(tostring(s.needles) == \"L10-R10\")",
    ),
    step_entry(
        StepOp::RestRibber,
        "step.rest_ribber",
        &[],
        "With loops on both beds: the ribber's rest while the passes that follow knit the main bed alone, as for a heel.",
        "local s = step.rest_ribber()\nassert(s.op == \"rest_ribber\")",
    ),
    step_entry(
        StepOp::BothBeds,
        "step.both_beds",
        &[],
        "After `rest_ribber`: both beds knit again, round and round.",
        "local s = step.both_beds()\nassert(s.op == \"both_beds\")",
    ),
    step_entry(
        StepOp::Pitch,
        "step.pitch",
        &[required(
            "needles",
            PITCH,
            "`\"facing\"`: full pitch, each needle faces one of the other bed, so that loops can be \
             transferred; `\"between\"`: half a pitch apart, so that all needles of both beds can knit",
        )],
        "How the two beds stand to each other from here on. In a piece without this step, casting on \
         a tube, hanging one, transferring between the beds and knitting round set it themselves, and \
         the pattern says so. In a piece with it they don't: a transfer while the needles lie between \
         each other is refused, and so is a row in which needles that face each other would both knit. \
         Rib is cast on at full pitch, as each of its needles faces an empty one (common practice, no \
         source); it knits at either.",
        "local s = step.pitch({ needles = \"between\" })\nassert(s.needles == \"between\")",
    )
    .since(2),
    step_entry(
        StepOp::CastOff,
        "step.cast_off",
        &[optional("needles", ValueKind::Needles, "which needles; all when left out")],
        "Casts off: the loops are closed.",
        "local s = step.cast_off()\nassert(s.op == \"cast_off\")",
    ),
    step_entry(
        StepOp::Dial,
        "step.dial",
        &[required("value", ValueKind::Between(0.0, 100.0), "the number on the dial")],
        "Sets the tension dial for what follows. A reminder: gauge comes from the swatch.",
        "local s = step.dial{ value = 7.5 }\nassert(s.value == 7.5)",
    ),
    step_entry(
        StepOp::Section,
        "step.section",
        &[required("name", ValueKind::Name, "from `[sections]` in plugin.toml")],
        "Counts the yarn of what follows towards another section.",
        "local s = step.section{ name = \"body\" }\nassert(s.name == \"body\")",
    ),
    step_entry(
        StepOp::ResetCounter,
        "step.reset_counter",
        &[],
        "Sets the row counter to nought.",
        "local s = step.reset_counter()\nassert(s.op == \"reset_counter\")",
    ),
    step_entry(
        StepOp::Note,
        "step.note",
        &[required("text", ValueKind::Text, "what to say")],
        "A sentence for the written pattern.",
        "local s = step.note{ text = \"Hang weights on both ends.\" }\nassert(#s.text > 0)",
    ),
    step_entry(
        StepOp::Mark,
        "step.mark",
        &[required("name", ValueKind::Mark, "what is tallied")],
        "A tally mark, so that a count such as wedges comes from the run and not from the script.",
        "local s = step.mark{ name = \"wedge\" }\nassert(s.name == \"wedge\")",
    ),
    step_entry(
        StepOp::Transfer,
        "step.transfer",
        &[
            required("from", ValueKind::Needles, "whose loops are moved"),
            optional(
                "to",
                ValueKind::Needles,
                "where they go, as many needles, in order, 3 needles away at most; those facing them when left out",
            ),
            default("from_bed", BEDS, "\"main\"", "on which bed they lie"),
            default("to_bed", BEDS, "`from_bed`", "to which bed they go"),
            optional(
                "emptied",
                ValueKind::Word(&["work", "out"]),
                "`\"work\"`: the emptied needles stay in work, and the next row makes an eyelet on each; `\"out\"`: they are pushed out of work. `\"work\"` when left out, between beds `\"out\"`",
            ),
            default(
                "structure",
                RIBS,
                "\"rib 1x1\"",
                "what follows is gauged as, where these are the first loops on the ribber",
            ),
        ],
        "Moves loops to other needles, of the same bed or of the other: eyelets, darts, ribs.",
        "local s = step.transfer{ from = \"L3\", to = \"L2\" }\nassert(s.to == \"L2\")",
    )
    .since(2),
    step_entry(
        StepOp::ToRib,
        "step.to_rib",
        &[
            required("structure", RIBS, "which rib follows"),
            optional("needles", ValueKind::Needles, "over which needles; all when left out"),
        ],
        "Turns plain fabric into rib for the rows that follow, until `transfer_to_main`. The first stitch on the left stays on the main bed. On a bed without a ribber the rows are knitted plain, and `transfer_to_main` has the purl stitches dropped and latched up by hand: the same script does for both.",
        "local s = step.to_rib{ structure = \"rib 1x1\" }\nassert(s.structure == \"rib 1x1\")",
    )
    .since(2),
    step_entry(
        StepOp::PickUp,
        "step.pick_up",
        &[
            required("edge", ValueKind::Edge, "where the loops come from"),
            required("needles", ValueKind::Needles, "where they go"),
        ],
        "Picks loops up along any edge, spread evenly: on empty needles to begin a piece or to knit on beside what is there, or on needles that all carry a loop, to join. Of rows and closed stitches each needle gets one loop; open loops all go on.",
        "local s = step.pick_up{ edge = edge{ piece = \"front\", side = \"left\" }, needles = needles.centred(45) }\nassert(tostring(s.needles) == \"L22-R23\")",
    )
    .since(2),
    step_entry(
        StepOp::BreakYarn,
        "step.break_yarn",
        &[],
        "Breaks the yarn and leaves an end. No row is knitted until it is joined.",
        "local s = step.break_yarn()\nassert(s.op == \"break_yarn\")",
    )
    .since(2),
    step_entry(
        StepOp::JoinYarn,
        "step.join_yarn",
        &[optional(
            "side",
            ValueKind::Side,
            "where the carriage is taken first, without knitting; where it is when left out",
        )],
        "Joins the yarn after a break.",
        "local s = step.join_yarn{ side = \"left\" }\nassert(s.side == \"left\")",
    )
    .since(2),
    step_entry(
        StepOp::Graft,
        "step.graft",
        &[
            required("first", ValueKind::Edge, "an open edge; with API 2 any edge"),
            required(
                "second",
                ValueKind::Edge,
                "another, with as many loops; with API 2 any, and the longer is eased into the shorter",
            ),
        ],
        "Joins two open edges loop by loop.",
        "local s = step.graft{ first = \"start\", second = \"top\" }\nassert(s.first == \"start\")",
    ),
    step_entry(
        StepOp::GatherEdge,
        "step.gather_edge",
        &[required("edge", ValueKind::Edge, "an open edge; with API 2 any edge")],
        "Draws one end through the loops of an edge and pulls it up.",
        "local s = step.gather_edge{ edge = \"top\" }\nassert(s.edge == \"top\")",
    ),
    step_entry(
        StepOp::GatherSelvedge,
        "step.gather_selvedge",
        PIECE_SIDE.fields,
        "Runs an end through a selvedge and draws it up.",
        "local s = step.gather_selvedge{ piece = \"crown\", side = \"right\" }\nassert(s.side == \"right\")",
    ),
    step_entry(
        StepOp::Seam,
        "step.seam",
        &[
            required("first", ValueKind::Edge, "a selvedge; with API 2 any edge"),
            required(
                "second",
                ValueKind::Edge,
                "the selvedge sewn to it; with API 2 any edge, and the longer is eased into the shorter",
            ),
        ],
        "Sews two selvedges together.",
        "local s = step.seam{ first = { piece = \"band\", side = \"left\" }, second = { piece = \"band\", side = \"right\" } }\nassert(s.first.piece == \"band\")",
    ),
    step_entry(
        StepOp::SewOn,
        "step.sew_on",
        &[
            required("edge", ValueKind::Edge, "an open edge; with API 2 any edge"),
            optional("piece", ValueKind::Name, "the piece it is sewn to, with `side`"),
            optional("side", ValueKind::Side, "along which selvedge"),
            optional("to", ValueKind::Edge, "instead of `piece` and `side`: the edge it is sewn to")
                .since(2),
        ],
        "Sews an open edge loop by loop along a selvedge, spread evenly.",
        "local s = step.sew_on{ edge = \"band\", piece = \"crown\", side = \"left\" }\nassert(s.edge == \"band\")",
    ),
    step_entry(
        StepOp::Block,
        "step.block",
        &[
            required("form", ValueKind::Text, "what it is dried on"),
            optional("width_mm", ValueKind::Between(1.0, 10_000.0), "how wide the form is"),
            default("steam", ValueKind::Flag, "false", "whether it is steamed"),
            default("note", ValueKind::Text, "nothing", "anything else to say"),
        ],
        "Washes or steams the garment into shape.",
        "local s = step.block{ form = \"a plate\", width_mm = 270 }\nassert(s.form == \"a plate\")",
    ),
];
