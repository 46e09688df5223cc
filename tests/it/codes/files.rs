//! What the files of a workspace and beside it say.

use super::example::Example;
use super::example::How::{By, File};
use super::example::{codes, failed, one};
use diag::Code;
use knit::dial::{DialPoint, advise};
use knit::stash::NamedSwatches;
use store::parse_swatches;

pub const EXAMPLES: &[Example] = &[
    // How a file is written.
    Example { code: Code::Toml, how: File("stash.toml", "[[remnant]\n") },
    Example { code: Code::Key, how: File("oddments.toml", "machnie = \"mid\"\n") },
    Example { code: Code::Kind, how: File("oddments.toml", "hours_a_week = \"5\"\n") },
    Example { code: Code::Missing, how: File("stash.toml", "[[remnant]]\nid = \"a\"\n") },
    Example { code: Code::Word, how: File("people.toml", PERSON_WASH) },
    Example { code: Code::Unit, how: File("oddments.toml", "scale_step = \"1\"\n") },
    Example { code: Code::Id, how: File("yarns/My Yarn.toml", "") },
    Example { code: Code::Unknown, how: File("oddments.toml", "machine = \"standrad\"\n") },
    // Settings.
    Example { code: Code::Range, how: File("oddments.toml", "hours_a_week = 400\n") },
    Example { code: Code::Share, how: File("oddments.toml", "reserve = \"90 %\"\n") },
    Example { code: Code::Joins, how: File("oddments.toml", "most_joins = -1\n") },
    Example {
        code: Code::Contrary,
        how: File("oddments.toml", "reserve = \"5 %\"\nrisk = \"5 %\"\n"),
    },
    // The stash.
    Example {
        code: Code::Mass,
        how: File("stash.toml", "[[remnant]]\nid = \"a\"\nyarn = \"slate\"\nweight = \"0 g\"\n"),
    },
    Example {
        code: Code::Twice,
        how: File("people.toml", "[[person]]\nname = \"Ruan\"\n[[person]]\nname = \"ruan\"\n"),
    },
    Example {
        code: Code::Overdrawn,
        how: File(
            "plan.toml",
            "[[reservation]]\ngift = \"g\"\nsection = \"band\"\nremnant = \"a\"\nweight = \"90 g\"\n",
        ),
    },
    // People, gifts, records.
    Example { code: Code::Name, how: File("people.toml", "[[person]]\nname = \" \"\n") },
    Example { code: Code::NoSize, how: File("people.toml", "[[person]]\nname = \"Ruan\"\n") },
    Example {
        code: Code::Date,
        how: File(
            "gifts.toml",
            "[[gift]]\nid = \"g\"\nperson = \"Ruan\"\ngarment = \"tam\"\ndue = \"24.12.2026\"\n",
        ),
    },
    Example {
        code: Code::Priority,
        how: File(
            "gifts.toml",
            "[[gift]]\nid = \"g\"\nperson = \"Ruan\"\ngarment = \"tam\"\npriority = 6\n",
        ),
    },
    Example {
        code: Code::GarmentUnnamed,
        how: File("gifts.toml", "[[gift]]\nid = \"g\"\nperson = \"Ruan\"\ngarment = []\n"),
    },
    Example {
        code: Code::NoYarnUsed,
        how: File(
            "records.toml",
            "[[record]]\ngarment = \"tam\"\nsize = \"women-m\"\nyarn = \"slate\"\n\
             sections = { band = { before = \"5 g\", after = \"9 g\" } }\n",
        ),
    },
    // Yarns.
    Example { code: Code::Class, how: File("yarns/slate.toml", "class = 9\n") },
    Example {
        code: Code::Shade,
        how: File("yarns/slate.toml", "[[colour]]\nname = \"slate\"\nshade = \"5a6570\"\n"),
    },
    Example {
        code: Code::ColourLength,
        how: File(
            "yarns/tide.toml",
            "[[colour]]\nname = \"ebb\"\nshade = \"#8fb8c9\"\n[[colour]]\nname = \"flood\"\n\
             shade = \"#24557a\"\n",
        ),
    },
    Example { code: Code::NoColours, how: File("yarns/tide.toml", "colour = []\n") },
    Example {
        code: Code::ShortColour,
        how: File(
            "yarns/tide.toml",
            "[[colour]]\nname = \"ebb\"\nshade = \"#8fb8c9\"\nlength = \"0.1 mm\"\n",
        ),
    },
    Example {
        code: Code::TooManyColours,
        how: By(|| {
            let colour = "[[colour]]\nname = \"ebb\"\nshade = \"#8fb8c9\"\nlength = \"2 m\"\n";
            let text = format!("yarn = \"400 m/100 g\"\n{}", colour.repeat(501));
            failed(store::parse_yarn("tide.toml", &text))
        }),
    },
    // Swatches.
    Example { code: Code::Dial, how: By(|| swatches(&plain("dial = 30\n"))) },
    Example { code: Code::Weighed, how: By(|| swatches(&plain("weight = \"20 g\"\n"))) },
    Example { code: Code::WeighedNothing, how: By(|| swatches(&weighed("20 g", 0, 90))) },
    Example { code: Code::OddWeight, how: By(|| swatches(&weighed("200 g", 60, 90))) },
    Example { code: Code::CoarseScale, how: By(|| swatches(&weighed("3 g", 60, 90))) },
    Example { code: Code::NoReadings, how: By(|| swatches(&counted(0, "14 cm"))) },
    Example { code: Code::NoWidth, how: By(|| swatches(&counted(40, "0 cm"))) },
    Example { code: Code::Gauge, how: By(|| swatches(&counted(40, "14 m"))) },
    Example { code: Code::OddGauge, how: By(|| swatches(&counted(40, "5 cm"))) },
    Example {
        code: Code::SwatchTwice,
        how: By(|| swatches(&format!("{}{}", plain(""), entry("plain", 40, "14 cm")))),
    },
    Example {
        code: Code::NoPlainSwatch,
        how: By(|| swatches(&format!("{YARN}{}", entry("rib 1x1", 40, "14 cm")))),
    },
    Example { code: Code::DialFew, how: By(|| dial(&[(7.0, 3.5)], 3.5)) },
    Example { code: Code::DialDisorder, how: By(|| dial(&[(6.0, 3.5), (7.0, 3.4)], 3.5)) },
    Example { code: Code::DialFar, how: By(|| dial(&[(6.0, 3.2), (7.0, 3.5)], 4.2)) },
    // Machines and sizes.
    Example {
        code: Code::Pitch,
        how: File(
            "machines.toml",
            "[[machine]]\nid = \"m\"\ntitle = \"M\"\npitch = \"45 mm\"\nneedles = 200\nribber = true\n",
        ),
    },
    Example {
        code: Code::Needles,
        how: File(
            "machines.toml",
            "[[machine]]\nid = \"m\"\ntitle = \"M\"\npitch = \"4.5 mm\"\nneedles = 0\nribber = true\n",
        ),
    },
    Example {
        code: Code::MachineId,
        how: File(
            "machines.toml",
            "[[machine]]\nid = \"\"\npitch = \"4.5 mm\"\nneedles = 200\nribber = true\n",
        ),
    },
    Example { code: Code::SizeTable, how: File("size-tables/own.toml", "title = \"Own\"\n") },
    Example {
        code: Code::MeasureClash,
        how: File(
            "size-tables/own.toml",
            "[measures.head_girth]\ntitle = \"head girth\"\nmeaning = \"round the hat\"\n\
             source = \"x\"\n",
        ),
    },
    Example {
        code: Code::FillRule,
        how: File(
            "size-tables/own.toml",
            "[[fill]]\nsource = \"x\"\nlines = [{ of = \"stature\", from = \"hand_length\", \
             times = 9, spread = 70 }]\n",
        ),
    },
    // The journal of changes.
    Example { code: Code::Journal, how: File(".oddments/journal", "no journal\n") },
];

const PERSON_WASH: &str = "[[person]]\nname = \"Ruan\"\nsize = \"men-l\"\nwash = \"never\"\n";
const YARN: &str = "yarn = \"400 m/100 g\"\n";

fn entry(structure: &str, stitches: u32, width: &str) -> String {
    format!(
        "[[swatch]]\nstructure = \"{structure}\"\nstitches = {stitches}\nwidths = [\"{width}\"]\n\
         rows = 60\nheights = [\"15 cm\"]\n"
    )
}

fn counted(stitches: u32, width: &str) -> String {
    format!("{YARN}{}", entry("plain", stitches, width))
}

/// A sound swatch with these keys more.
fn plain(more: &str) -> String {
    format!("{}{more}", counted(40, "14 cm"))
}

fn weighed(weight: &str, stitches: u32, rows: u32) -> String {
    plain(&format!("weight = \"{weight}\"\nweighed_stitches = {stitches}\nweighed_rows = {rows}\n"))
}

fn swatches(text: &str) -> Vec<Code> {
    let told = |found: NamedSwatches| codes(&found.warnings);
    parse_swatches("own.toml", text).map_or_else(|faults| codes(&faults), told)
}

/// Asks for a stitch so wide of swatches at these numbers, each with its width.
fn dial(points: &[(f64, f64)], stitch_mm: f64) -> Vec<Code> {
    let points: Vec<DialPoint> = points
        .iter()
        .map(|(dial, mm)| DialPoint { dial: *dial, stitch_mm: *mm, row_mm: mm / 1.4 })
        .collect();
    one(advise(&points, stitch_mm))
}
