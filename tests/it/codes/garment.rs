//! What the check of an author's garment finds.

use super::example::Example;
use super::example::How::{By, Change, Remove, Write};
use super::example::{codes, fresh, told};
use diag::Code;

use crate::support::{bench, oddments_in};

const TOML: &str = "plugin.toml";
const INIT: &str = "init.luau";
const CASE: &str = "cases/women-m.toml";
/// The rows of the band, and a line before which anything may stand.
const KNIT: &str = "step.knit({ rows = rows }),";
const AIM: &str = "\t-- What is aimed at.";

pub const EXAMPLES: &[Example] = &[
    // What the manifest declares and nothing uses, or the other way round.
    Example {
        code: Code::OptionUnread,
        how: Change(
            TOML,
            "[options.depth]",
            "[options.lining]\ntype = \"flag\"\ndefault = false\nhelp = \"Line it.\"\n\n[options.depth]",
        ),
    },
    Example {
        code: Code::MeasureUnread,
        how: Change(TOML, "[\"head_girth\"]", "[\"head_girth\", \"hand_girth\"]"),
    },
    Example {
        code: Code::DecisionUnreached,
        how: By(|| {
            let (_hold, name) = fresh(&|folder| {
                let edit = |file: &str, from: &str, to: &str| {
                    let path = folder.join(file);
                    let text = std::fs::read_to_string(&path).expect("read");
                    assert!(text.contains(from), "{file}: {from}");
                    std::fs::write(&path, text.replace(from, to)).expect("written");
                };
                let never = "\tif machine.needles < 0 then\n\t\tdecide_count({ name = \"turns\", mm = 9, per = 3 })\n\tend\n";
                edit(INIT, AIM, &format!("{never}{AIM}"));
            });
            let check = bench().check_garment(&name);
            check.map_or_else(|faults| codes(&faults), |check| codes(&check.findings))
        }),
    },
    Example {
        code: Code::StructureUnused,
        how: Change(TOML, "[\"plain\"]", "[\"plain\", \"rib 2x2\"]"),
    },
    Example {
        code: Code::StructureUndeclared,
        how: Change(
            INIT,
            "structure = \"plain\", method = \"waste\"",
            "structure = \"rib 1x1\", method = \"waste\"",
        ),
    },
    Example {
        code: Code::NoRibber,
        how: Change(
            INIT,
            "structure = \"plain\", method = \"waste\"",
            "structure = \"rib 2x2\", method = \"waste\"",
        ),
    },
    Example {
        code: Code::SectionUnused,
        how: Change(TOML, "band = \"Band\"", "band = \"Band\"\nhem = \"Hem\""),
    },
    Example {
        code: Code::GrowsUnknown,
        how: Change(TOML, "[\"stitches\", \"rows\"]", "[\"stitchs\", \"rows\"]"),
    },
    Example {
        code: Code::GrowsFalls,
        how: Change(INIT, "fit.round(depth / plain.stitch_mm)", "fit.round(4000 / depth)"),
    },
    Example {
        code: Code::MarkUnused,
        how: Change(INIT, KNIT, "step.mark({ name = \"middle\" }), step.knit({ rows = rows }),"),
    },
    Example {
        code: Code::EdgeTwice,
        how: Change(
            INIT,
            "step.graft({ first = \"start\", second = \"end\" }),",
            "step.graft({ first = \"start\", second = \"end\" }),
             step.gather_selvedge({ piece = \"band\", side = \"left\" }),
             step.gather_selvedge({ piece = \"band\", side = \"left\" }),",
        ),
    },
    Example {
        code: Code::OpenHole,
        how: Change(
            INIT,
            KNIT,
            "step.knit({ rows = rows }),
             step.hold({ side = \"left\", count = 8 }),
             step.knit({ rows = 20 }),
             step.bring_back({ all = true }),
             step.knit({ rows = 10 }),",
        ),
    },
    Example {
        code: Code::CrossedJoin,
        // A tube, its two ends sewn together for a stretch.
        how: Change(
            INIT,
            "step.graft({ first = \"start\", second = \"end\" }),",
            "step.graft({ first = \"start\", second = \"end\" }),
             step.seam({
                first = edge({ piece = \"band\", side = \"left\", to = 9 }),
                second = edge({ piece = \"band\", side = \"right\", to = 9 }),
             }),",
        ),
    },
    // Files.
    Example { code: Code::ModuleUnused, how: Write("brim.luau", b"return {}\n") },
    Example { code: Code::NotRead, how: Write("brim.lua", b"return {}\n") },
    Example { code: Code::NoReadme, how: Remove("README.md") },
    Example {
        code: Code::OtherFolder,
        how: Change(TOML, "id = \"sea-band\"", "id = \"sea-bend\""),
    },
    Example {
        code: Code::TooManyFiles,
        how: By(|| {
            let (_hold, name) = fresh(&|folder| {
                for nth in 0..=200 {
                    std::fs::write(folder.join(format!("{nth}.md")), "").expect("written");
                }
            });
            let check = bench().check_garment(&name);
            check.map_or_else(|faults| codes(&faults), |check| codes(&check.findings))
        }),
    },
    Example { code: Code::NoCases, how: Remove(CASE) },
    Example { code: Code::Case, how: Change(CASE, "knittable = true", "knittable = false") },
    Example { code: Code::CaseStale, how: Change(CASE, "stitches = 24", "stiches = 24") },
    Example { code: Code::CaseFails, how: Change(CASE, "rows = 202", "rows = 200") },
    // Refusals.
    Example {
        code: Code::RefusesAll,
        how: Change(INIT, "if stitches > machine.needles then", "if true then"),
    },
    Example {
        code: Code::BareRefusal,
        how: Change(INIT, AIM, "if head > 520 then refuse({ reason = \"too large\" }) end"),
    },
    // What comes out.
    Example {
        code: Code::NoFinished,
        how: Write(INIT, b"return function() return { pieces = {} } end\n"),
    },
    Example {
        code: Code::NoParts,
        how: Change(INIT, "parts = { { piece = \"band\", width = true } }", "parts = {}"),
    },
    Example {
        code: Code::EaseOfNothing,
        how: Change(INIT, "measure = \"head_girth\", ease = options.ease", "ease = options.ease"),
    },
    Example {
        code: Code::EaseOutOfRange,
        how: Change(INIT, "ease_low = -0.25", "ease_low = -0.05"),
    },
    Example {
        code: Code::CannotBePutOn,
        how: Change(INIT, "over_mm = head,", "over_mm = 2 * head,"),
    },
    Example { code: Code::TriesCut, how: By(many_words) },
    // Of a folder of garments.
    Example { code: Code::GarmentName, how: By(|| new_garment(&["9"])) },
    Example { code: Code::Exists, how: By(|| new_garment(&["band", "band"])) },
    Example {
        code: Code::GarmentClash,
        how: By(|| {
            let hold = tempfile::tempdir().expect("a folder");
            bench().new_garment("tam", hold.path()).expect("made");
            let own = hold.path().to_str().expect("a plain path");
            told(&oddments_in(hold.path(), &["garment", "list", "--garments", own]))
        }),
    },
];

/// Makes garments of these names one after another.
fn new_garment(names: &[&str]) -> Vec<Code> {
    let hold = tempfile::tempdir().expect("a folder");
    names
        .iter()
        .flat_map(|name| told(&oddments_in(hold.path(), &["garment", "new", name])))
        .collect()
}

/// Options with more words to choose from than a check tries.
fn many_words() -> Vec<Code> {
    let words: Vec<String> = (0..30).map(|nth| format!("\"w{nth}\"")).collect();
    let (_hold, name) = fresh(&|folder| {
        let path = folder.join(TOML);
        let mut text = std::fs::read_to_string(&path).expect("read");
        for nth in 0..10 {
            text += &format!(
                "\n[options.cut{nth}]\ntype = \"choice\"\nof = [{}]\ndefault = \"w0\"\nhelp = \"A cut.\"\n",
                words.join(", ")
            );
        }
        std::fs::write(path, text).expect("written");
        // Quick to run: each try is a garment graded.
        let script = "return function() return { pieces = {} } end\n";
        std::fs::write(folder.join(INIT), script).expect("written");
    });
    let check = bench().check_garment(&name);
    check.map_or_else(|faults| codes(&faults), |check| codes(&check.findings))
}
