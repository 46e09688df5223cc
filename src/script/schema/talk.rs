//! Talking to the knitter, and modules.

use super::function::{CallForm, FunctionSpec, Handler, HostFunction};
use super::spec::{ValueKind, optional, required};

pub(super) static TALK: &[FunctionSpec] = &[
    FunctionSpec {
        name: "warn",
        form: CallForm::Positional,
        args: &[required("text", ValueKind::Text, "one sentence")],
        returns: "",
        returns_doc: "",
        doc: "Tells the knitter something about this size. The size is still made. 100 at most.",
        since: 1,
        example: "warn(\"The brim folds over 3 rows.\")",
        handler: Handler::Call(HostFunction::Warn),
    },
    FunctionSpec {
        name: "trace",
        form: CallForm::Positional,
        args: &[],
        returns: "",
        returns_doc: "",
        doc: "Shows the author some values, of any kind and number: `garment check` lists them with their line and the sizes they hold for, and nothing else does. 100 a call at most are kept; a table is shown as its first entries.",
        since: 2,
        example: "trace(\"wedges\", 6, needles.centred(48))",
        handler: Handler::Trace,
    },
    FunctionSpec {
        name: "refuse",
        form: CallForm::Named,
        args: &[
            required("reason", ValueKind::Text, "why this size can't be made"),
            optional("hints", ValueKind::Texts, "what to change"),
        ],
        returns: "",
        returns_doc: "",
        doc: "Ends the script: this size can't be made. The other sizes still are. A `pcall` does not stop it.",
        since: 1,
        example: "if input.machine.needles < 10 then\n  refuse{ reason = \"The bed is too short.\", hints = { \"Take a longer bed.\" } }\nend",
        handler: Handler::Call(HostFunction::Refuse),
    },
    FunctionSpec {
        name: "require",
        form: CallForm::Positional,
        args: &[required(
            "path",
            ValueKind::Text,
            "`\"./shapes\"` for `shapes.luau` beside the file that asks; `\"parts/heel\"` for a part listed under `[parts]` (since API 2)",
        )],
        returns: "any",
        returns_doc: "The one value the module returns.",
        doc: "Runs another module of the same plugin, or a part that plugin.toml asks for, once in a call, and returns its value. Nothing else outside the plugin's folder can be reached.",
        since: 1,
        example: "-- shapes.luau: return { wedge = 8 }\nlocal shapes = require(\"./shapes\")\nassert(shapes.wedge == 8)",
        handler: Handler::Require,
    },
];
