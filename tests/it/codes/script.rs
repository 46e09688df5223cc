//! Garments as they are read and run.

use std::collections::BTreeMap;

use super::example::How::{By, Script, Sizes, Sources, Steps};
use super::example::{Example, codes};
use diag::Code;
use script::{GarmentInput, Limits, ScriptHost};

use crate::hostile::{input, load};

fn lacking(input: &GarmentInput) -> Vec<Code> {
    let plugin = load(&[("init.luau", b"return function() return { pieces = {} } end")]);
    let plugin = plugin.expect("a sound garment");
    let outcome = ScriptHost::new(Limits::default()).garment(&plugin, input);
    outcome.err().map_or_else(Vec::new, |failure| codes(failure.diagnostics()))
}

pub const EXAMPLES: &[Example] = &[
    Example { code: Code::ScriptApi, how: Steps("step.break_yarn()") },
    Example { code: Code::ScriptArguments, how: Script("fit.round(1, 2)") },
    Example { code: Code::ScriptBinary, how: Sources(&[("init.luau", b"return 1\0")]) },
    Example { code: Code::ScriptCompile, how: Sources(&[("init.luau", b"return function(")]) },
    Example {
        code: Code::ScriptConflict,
        how: Steps("step.hold{ side = \"left\", count = 1, all = true }"),
    },
    Example { code: Code::ScriptDeadline, how: Script("while true do end") },
    Example { code: Code::ScriptError, how: Script("error('no')") },
    Example { code: Code::ScriptList, how: Steps("step.knit(), first = step.knit()") },
    Example { code: Code::ScriptMemory, how: Script("return string.rep('x', 1000000000)") },
    Example { code: Code::ScriptMissingField, how: Script("return {}") },
    Example { code: Code::ScriptName, how: Steps("step.mark{ name = string.rep('x', 61) }") },
    Example { code: Code::ScriptNeedle, how: Steps("step.decrease{ side = 'lef' }") },
    Example {
        code: Code::ScriptNesting,
        how: Script(
            "local s = { op = 'again', times = 1 }\ns.steps = { s }\n\
             return { pieces = { piece{ name = 'body', steps = { s } } } }",
        ),
    },
    Example { code: Code::ScriptNoFunction, how: Sources(&[("init.luau", b"return 1")]) },
    Example { code: Code::ScriptNumber, how: Steps("step.knit{ rows = 0/0 }") },
    Example { code: Code::ScriptRefused, how: Script("refuse{ reason = 'no' }") },
    Example { code: Code::ScriptRequire, how: Script("require('../../x')") },
    Example {
        code: Code::ScriptRows,
        how: Steps("step.again{ times = 100000, steps = { step.knit{ rows = 100000 } } }"),
    },
    Example { code: Code::ScriptSize, how: Script("for i = 1, 1000 do warn('x') end") },
    Example {
        code: Code::ScriptStack,
        how: Script("local function f() return 1 + f() end\nreturn f()"),
    },
    Example {
        code: Code::ScriptSteps,
        how: Steps(
            "step.again{ times = 100000, steps = { step.again{ times = 100, steps = { \
             step.mark{ name = 'x' } } } } }",
        ),
    },
    Example { code: Code::ScriptText, how: Steps("step.note{ text = '\\xff' }") },
    Example { code: Code::ScriptUnknownField, how: Steps("step.knit{ rosw = 2 }") },
    Example { code: Code::ScriptUnknownInput, how: Script("return input.body.waist") },
    Example { code: Code::ScriptUnknownName, how: Script("return os") },
    Example { code: Code::ScriptUnknownSection, how: Steps("step.section{ name = 'bodi' }") },
    Example { code: Code::ScriptUnknownStep, how: Steps("{ op = 'knot' }") },
    Example { code: Code::ScriptUtf8, how: Sources(&[("init.luau", b"local x = '\xff'")]) },
    Example {
        code: Code::ScriptWord,
        how: Steps("step.cast_on{ needles = 'L1-R1', method = 'wand' }"),
    },
    Example { code: Code::ScriptWrongType, how: Script("return 1") },
    Example {
        code: Code::PluginApi,
        how: Sources(&[("plugin.toml", b"api = 99"), ("init.luau", b"")]),
    },
    Example {
        code: Code::PluginManifest,
        how: Sources(&[("plugin.toml", b"api = 1"), ("init.luau", b"")]),
    },
    Example { code: Code::PluginMissing, how: Sources(&[]) },
    Example {
        code: Code::PluginPart,
        how: Sources(&[
            (
                "plugin.toml",
                b"id = 'a'\ntitle = 'A'\nversion = '1.0.0'\napi = 2\nsummary = 'A.'\nmeasures = []\n\
                  structures = ['plain']\n[parts]\nheel = '1'",
            ),
            ("init.luau", b"return 1"),
        ]),
    },
    Example {
        code: Code::PluginToml,
        how: Sources(&[("plugin.toml", b"api ="), ("init.luau", b"")]),
    },
    // A body or a gauge that the script host is not given.
    Example {
        code: Code::ScriptMeasure,
        how: By(|| lacking(&GarmentInput { body: BTreeMap::new(), ..input() })),
    },
    Example {
        code: Code::ScriptGauge,
        how: By(|| lacking(&GarmentInput { gauges: BTreeMap::new(), ..input() })),
    },
    // Shaping that can't be.
    Example { code: Code::HeelBounds, how: Script("shape.short_row_heel{ stitches = 4, to = 4 }") },
    Example { code: Code::ShapeCrowded, how: Script("shape.schedule{ shapings = 9, rows = 4 }") },
    Example {
        code: Code::Outline,
        how: Script("shape.along{ points = { { 0, 150 } }, stitch_mm = 2.5, row_mm = 2 }"),
    },
    // What is read off the run.
    Example { code: Code::Garment, how: Script("warn('mind the sleeve')\nreturn { pieces = {} }") },
    Example {
        code: Code::Finished,
        how: Script("return { pieces = { PIECE }, finished = { FAR } }"),
    },
    Example {
        code: Code::Ratio,
        how: Script(
            "return { pieces = { PIECE }, finished = { FAR },\n\
             ratios = { { name = 'r', of = 'far', over = 'far', low = 1, high = 2 } } }",
        ),
    },
    Example {
        code: Code::RatioOutOfRange,
        how: Script(
            "return { pieces = { PIECE }, finished = { NEAR },\n\
             ratios = { { name = 'r', of = 'near', over = 'near', low = 2, high = 3 } } }",
        ),
    },
    Example {
        code: Code::Stretch,
        how: Script(
            "return { pieces = { PIECE }, finished = { FAR },\n\
             stretches = { { of = 'far', over = 'the head', over_mm = 9, structure = 'plain' } } }",
        ),
    },
    Example {
        code: Code::Count,
        how: Script("return { pieces = { PIECE }, counts = { { name = 'n', marks = 'none' } } }"),
    },
    Example {
        code: Code::OffTarget,
        how: Script("return { pieces = { PIECE }, finished = { NEAR } }"),
    },
    Example {
        code: Code::View,
        how: Script(
            "return { pieces = { PIECE }, views = { view{ title = 'Flat', parts = {\n\
             { form = 'flat', piece = 'body', from = 'nowhere' } } } } }",
        ),
    },
    Example {
        code: Code::Falls,
        how: Sizes(
            "local rows = fit.round(40000 / input.body.head_girth)\n\
             return { pieces = { piece{ name = 'body', steps = { CAST_ON,\n\
             step.knit{ rows = rows }, step.cast_off() } } },\n\
             counts = { { name = 'rows', rows = 'body' } } }",
        ),
    },
    Example { code: Code::SameSize, how: Sizes("return { pieces = { PIECE } }") },
];
