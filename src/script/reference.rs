//! The API table as people and editors read it: the reference in `plugins/README.md` and the
//! type stubs in `plugins/oddments.d.luau`; with them the body measures that are known. Texts only; the
//! caller reads and writes the files.

use std::fmt::Write;

use knit::body::Measures;

use super::manifest::Manifest;
use super::own_types::own_types;
use super::schema::{
    CallForm, FieldSpec, FunctionSpec, Handler, Need, RECORDS, RecordSpec, ValueKind, functions,
    methods,
};

/// The line of `plugins/README.md` after which [`splice`] puts the reference.
pub const BEGIN: &str =
    "<!-- Generated from the API table in the code: edits here are overwritten. -->";
/// The line of `plugins/README.md` before which [`splice`] puts the reference.
pub const END: &str = "<!-- End of the generated part. -->";

/// The line of `plugins/README.md` after which [`splice_measures`] puts the body measures.
pub const MEASURES_BEGIN: &str =
    "<!-- Generated from the shipped size table: edits here are overwritten. -->";
/// The line of `plugins/README.md` before which [`splice_measures`] puts the body measures.
pub const MEASURES_END: &str = "<!-- End of the measures. -->";

/// `page` with what stands between the two marks replaced by the reference. `None` when a mark is
/// missing.
pub fn splice(page: &str) -> Option<String> {
    between(page, BEGIN, END, &markdown())
}

/// `page` with what stands between the other two marks replaced by the body measures that are known.
/// `None` when a mark is missing.
pub fn splice_measures(page: &str, known: &Measures) -> Option<String> {
    between(page, MEASURES_BEGIN, MEASURES_END, &measures(known))
}

fn between(page: &str, begin: &str, end: &str, text: &str) -> Option<String> {
    let (before, rest) = page.split_once(begin)?;
    let (_, after) = rest.split_once(end)?;
    Some(format!("{before}{begin}\n\n{text}\n{end}{after}"))
}

/// The body measures, a row each.
pub fn measures(known: &Measures) -> String {
    let mut page =
        String::from("| Measure | Where the tape goes | With the chest |\n|---|---|---|\n");
    for measure in known.iter() {
        let goes = known.companions("chest_girth").any(|companion| companion.of == *measure);
        let cells = [measure.how().replace('|', "\\|"), if goes { "yes" } else { "" }.to_owned()];
        line(&mut page, &format!("| `{}` | {} |", measure.name(), cells.join(" | ")));
    }
    page
}

/// The reference: every function, then every table a script returns.
pub fn markdown() -> String {
    let mut page = String::new();
    let mut group = "";
    for entry in documented() {
        let next = heading(entry);
        if next != group {
            group = next;
            line(&mut page, &format!("## {group}\n"));
        }
        function(&mut page, entry);
    }
    line(&mut page, "## What the garment function returns\n");
    for record in RECORDS {
        line(&mut page, &format!("### {}\n\n{}\n", record.name, record.doc));
        fields(&mut page, record.fields);
    }
    page
}

/// Functions and methods, those of needles where needles are told of.
fn documented() -> impl Iterator<Item = &'static FunctionSpec> {
    let behind = |entry: &FunctionSpec| match (entry.name, entry.split().0) {
        ("mark", _) => &["edge", "mark"][..],
        ("needles.at", _) => &["span"][..],
        _ => &[],
    };
    functions().flat_map(move |entry| {
        let values = behind(entry);
        let of = move |m: &&FunctionSpec| m.split().0.is_some_and(|value| values.contains(&value));
        std::iter::once(entry).chain(methods().filter(of))
    })
}

fn heading(entry: &FunctionSpec) -> &'static str {
    match entry.split() {
        (Some("step"), _) => "Steps",
        (Some("needles" | "span"), _) => "Needles",
        (Some("fit"), _) | (None, "decide" | "decide_count") => "Whole numbers that fit",
        (Some("shape"), _) => "Shaping",
        (Some("edge" | "mark"), _) | (None, "piece" | "edge" | "mark") => "Pieces and edges",
        (None, "view") => "Views",
        _ => "Talking to the knitter, and modules",
    }
}

fn line(page: &mut String, text: &str) {
    page.push_str(text);
    page.push('\n');
}

fn function(page: &mut String, entry: &FunctionSpec) {
    line(page, &format!("### `{}`\n\n{}\n", signature(entry), entry.doc));
    let args = match entry.form {
        CallForm::Method => entry.args.get(1..).unwrap_or_default(),
        _ => entry.args,
    };
    if !args.is_empty() {
        fields(page, args);
    }
    let returns = if entry.returns.is_empty() {
        String::new()
    } else {
        format!("Returns: {} ", entry.returns_doc)
    };
    line(page, &format!("{returns}Since API {}.\n", entry.since));
    line(page, &format!("```lua\n{}\n```\n", entry.example));
}

/// The doc up to its first blank line: what comes behind, drawings too, is for the reference.
fn summary(entry: &FunctionSpec) -> &'static str {
    entry.doc.split("\n\n").next().unwrap_or(entry.doc)
}

fn signature(entry: &FunctionSpec) -> String {
    let given = entry.args.iter().skip(usize::from(matches!(entry.form, CallForm::Method)));
    let names = given.map(|field| match (entry.form, field.need) {
        (CallForm::Positional | CallForm::Method, Need::Optional | Need::Default(_)) => {
            format!("[{}]", field.name)
        }
        _ => field.name.to_owned(),
    });
    let names = names.collect::<Vec<_>>().join(", ");
    if matches!(entry.handler, Handler::Trace) {
        return format!("{}(...)", entry.name);
    }
    match entry.form {
        CallForm::Named if names.is_empty() => format!("{}()", entry.name),
        CallForm::Named => format!("{}{{ {names} }}", entry.name),
        CallForm::Positional | CallForm::Method => format!("{}({names})", entry.name),
    }
}

fn fields(page: &mut String, fields: &[FieldSpec]) {
    line(page, "| Field | What | Left out | |\n|---|---|---|---|");
    for field in fields {
        let absent = match field.need {
            Need::Required => "not allowed".to_owned(),
            Need::Optional => "none".to_owned(),
            Need::Default(value) => value.replace('|', "\\|"),
        };
        let mut doc = field.doc.replace('|', "\\|");
        if field.since > 1 {
            // Writing to a String can't fail.
            let _ = write!(doc, " (since API {})", field.since);
        }
        line(page, &format!("| `{}` | {} | {absent} | {doc} |", field.name, words(field.kind)));
    }
    page.push('\n');
}

fn words(kind: ValueKind) -> String {
    match kind {
        ValueKind::Name => "name".to_owned(),
        ValueKind::Text => "text".to_owned(),
        ValueKind::Texts => "list of texts".to_owned(),
        ValueKind::Needle => "needle: `\"L3\"`".to_owned(),
        ValueKind::Needles => "needles: `\"L24-R23\"`, or Span".to_owned(),
        ValueKind::Side => "`\"left\"` or `\"right\"`".to_owned(),
        ValueKind::Sides => "`\"left\"`, `\"right\"` or `\"both\"`".to_owned(),
        ValueKind::Edge => "name of an open edge, or Edge".to_owned(),
        ValueKind::Mark => "name, or Mark".to_owned(),
        ValueKind::Place(low, high) => format!("whole number, {low} to {high}, or Mark"),
        ValueKind::Structure => "structure".to_owned(),
        ValueKind::CastOnMethod | ValueKind::Rounding | ValueKind::Ends => "word".to_owned(),
        ValueKind::Word(known) => {
            known.iter().map(|word| format!("`\"{word}\"`")).collect::<Vec<_>>().join(", ")
        }
        ValueKind::Whole(low, high) => format!("whole number, {low} to {high}"),
        ValueKind::Integer => "whole number".to_owned(),
        ValueKind::Number => "number".to_owned(),
        ValueKind::Between(low, high) => format!("number, {low} to {high}"),
        ValueKind::Flag => "true or false".to_owned(),
        ValueKind::Function => "function".to_owned(),
        ValueKind::Ranges => "list of ranges".to_owned(),
        ValueKind::Decisions => "ranges by name".to_owned(),
        ValueKind::Chooser => "function".to_owned(),
        ValueKind::Points => "list of points".to_owned(),
        ValueKind::Steps => "list of steps".to_owned(),
        ValueKind::Record(record) => record.name.to_owned(),
        ValueKind::List(record) => format!("list of {}", record.name),
    }
}

/// The stubs: what an editor needs to complete and check a script. `known` are the measures that a
/// manifest may list; those that a garment makes known are beside them.
pub fn stubs(known: &Measures) -> String {
    let own = body_type(known)
        + "export type Options = { [string]: any }\nexport type Gauges = { [string]: Gauge }\n";
    stubs_with(
        "-- Types of the oddments script API, for editors. Generated from the API table in the code.",
        &own,
    )
}

/// The stubs for one garment: it reads these measures, options and gauges and no others. `known` are
/// the measures of the size tables in force and its own.
pub fn garment_stubs(manifest: &Manifest, known: &Measures) -> String {
    let front = format!(
        "-- Types of the oddments script API for the garment `{}`, for editors. Generated from its plugin.toml\n\
         -- and from the API table in the code; `oddments garment check` writes them anew.",
        manifest.id
    );
    stubs_with(&front, &own_types(manifest, known))
}

fn stubs_with(front: &str, own: &str) -> String {
    let mut page = format!("{front}\n\n");
    page.push_str(
        "export type Side = \"left\" | \"right\"\n\
         export type Needle = string\n\
         export type Step = { op: string, line: number, [string]: any }\n\
         --- Steps in working order; a list among them stands for its own steps (API 2).\n\
         export type Steps = { Step | Steps }\n\
         export type Gauge = { stitch_mm: number, row_mm: number, stretch: number }\n",
    );
    page.push_str(&span_type());
    page.push_str(own);
    page.push_str(
        "export type Input = {\n\
         \tsize: { id: string, label: string, group: string, age: number? },\n\
         \tbody: Body,\n\
         \toptions: Options,\n\
         \tgauges: Gauges,\n\
         \tmachine: { id: string, needles: number, pitch_mm: number, ribber: boolean },\n\
         }\n",
    );
    page.push_str(&mark_type());
    for record in RECORDS {
        record_type(&mut page, record);
    }
    let mut group: Option<&str> = None;
    for entry in functions().filter(|entry| entry.name != "require") {
        let (namespace, member) = entry.split();
        if namespace != group {
            if group.is_some() {
                line(&mut page, "}");
            }
            page.push('\n');
            if let Some(name) = namespace {
                line(&mut page, &format!("declare {name}: {{"));
            }
            group = namespace;
        }
        match namespace {
            Some(_) => {
                line(&mut page, &format!("\t--- {}", summary(entry)));
                line(
                    &mut page,
                    &format!("\t{member}: ({}) -> {},", arguments(entry), returns(entry)),
                );
            }
            None => {
                line(&mut page, &format!("--- {}", summary(entry)));
                line(
                    &mut page,
                    &format!("declare function {member}({}): {}", arguments(entry), returns(entry)),
                );
            }
        }
    }
    if group.is_some() {
        line(&mut page, "}");
    }
    page
}

/// Needles as a value, and whatever is taken for needles.
fn span_type() -> String {
    let mut span = String::from(
        "--- Needles one can compute with (API 2; a text with API 1).\n\
         export type Span = {\n\tfirst: Needle,\n\tlast: Needle,\n\tcount: number,\n",
    );
    methods_of(&mut span, "span", "Span");
    span.push_str("}\nexport type Needles = string | Span\n");
    span
}

/// A mark as a value.
fn mark_type() -> String {
    let mut mark = String::from(
        "--- A tally mark, or a place some rows from it (API 2).\n\
         export type Mark = {\n\tname: string,\n\trows: number,\n",
    );
    methods_of(&mut mark, "mark", "Mark");
    mark.push_str("}\n");
    mark
}

/// What can be done with a value of some type.
fn methods_of(page: &mut String, value: &str, own: &str) {
    for entry in methods().filter(|entry| entry.split().0 == Some(value)) {
        let given = entry.args.iter().skip(1).map(|f| format!(", {}: {}", f.name, field_type(f)));
        let given: String = given.collect();
        let (member, returns) = (entry.split().1, entry.returns);
        line(page, &format!("\t--- {}\n\t{member}: (self: {own}{given}) -> {returns},", entry.doc));
    }
}

/// A body, whose measures an editor completes.
fn body_type(known: &Measures) -> String {
    let mut body = String::from("export type Body = {\n");
    for measure in known.iter() {
        line(&mut body, &format!("\t--- {}\n\t{}: number,", measure.how(), measure.name()));
    }
    body.push_str("\t[string]: number,\n}\n");
    body
}

fn record_type(page: &mut String, record: &RecordSpec) {
    line(page, &format!("\n--- {}\nexport type {} = {{", record.doc, record.name));
    for field in record.fields {
        line(page, &format!("\t--- {}\n\t{}: {},", field.doc, field.name, field_type(field)));
    }
    // What a script writes as a table may lack what only the value has.
    line(page, "}");
    if record.name == "Edge" {
        line(page, "\n--- An edge as `edge` gives it (API 2).\nexport type EdgeValue = Edge & {");
        line(page, "\t--- How long it is, where both ends are known.\n\tcount: number?,");
        methods_of(page, "edge", "EdgeValue");
        line(page, "}");
    }
}

fn returns(entry: &FunctionSpec) -> &'static str {
    if entry.returns.is_empty() { "()" } else { entry.returns }
}

fn arguments(entry: &FunctionSpec) -> String {
    if matches!(entry.handler, Handler::Trace) {
        return "...: any".to_owned();
    }
    let mut text = String::new();
    for (at, field) in entry.args.iter().enumerate() {
        let comma = if at > 0 { ", " } else { "" };
        // Writing to a String can't fail.
        let _ = write!(text, "{comma}{}: {}", field.name, field_type(field));
    }
    match entry.form {
        CallForm::Positional | CallForm::Method => text,
        CallForm::Named if text.is_empty() => text,
        CallForm::Named => {
            let all_optional = entry.args.iter().all(|field| field.need != Need::Required);
            format!("fields: {{ {text} }}{}", if all_optional { "?" } else { "" })
        }
    }
}

fn field_type(field: &FieldSpec) -> String {
    let kind = match field.kind {
        ValueKind::Name | ValueKind::Text => "string".to_owned(),
        ValueKind::Texts => "{ string }".to_owned(),
        ValueKind::Needle => "Needle".to_owned(),
        ValueKind::Needles => "Needles".to_owned(),
        ValueKind::Side => "Side".to_owned(),
        ValueKind::Sides => union(&["left", "right", "both"]),
        ValueKind::Edge => "string | Edge".to_owned(),
        ValueKind::Mark => "string | Mark".to_owned(),
        ValueKind::Place(..) => "number | string | Mark".to_owned(),
        ValueKind::Structure => union(&knit::program::Structure::ALL.map(|s| s.name())),
        ValueKind::CastOnMethod => union(&["waste", "wound", "rib"]),
        ValueKind::Rounding => union(&["nearest", "up", "down"]),
        ValueKind::Ends => union(&["one", "both"]),
        ValueKind::Word(known) => union(known),
        ValueKind::Whole(..) | ValueKind::Integer | ValueKind::Number | ValueKind::Between(..) => {
            "number".to_owned()
        }
        ValueKind::Flag => "boolean".to_owned(),
        ValueKind::Function => "(...number) -> number?".to_owned(),
        ValueKind::Decisions => "{ [string]: any }".to_owned(),
        ValueKind::Chooser => "({ [string]: number }, { [string]: boolean }) -> number?".to_owned(),
        ValueKind::Ranges | ValueKind::Points => "{ { number } }".to_owned(),
        ValueKind::Steps => "Steps".to_owned(),
        ValueKind::Record(record) => record.name.to_owned(),
        ValueKind::List(record) => format!("{{ {} }}", record.name),
    };
    match field.need {
        Need::Required => kind,
        _ if kind.contains(' ') && !kind.starts_with('{') => format!("({kind})?"),
        _ => format!("{kind}?"),
    }
}

fn union(words: &[&str]) -> String {
    words.iter().map(|word| format!("\"{word}\"")).collect::<Vec<_>>().join(" | ")
}
