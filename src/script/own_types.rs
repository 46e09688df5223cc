//! The types of one garment's input: its measures, its options, its gauges and its parts, as an editor
//! completes them.

use std::fmt::Write;

use knit::body::Measures;

use super::manifest::{Manifest, OptionKind, OptionSpec};

/// `Body`, `Options`, `Gauges` and `Section`; the measures are those that the garment lists, of `known`,
/// which are those of the size tables in force and its own.
pub(crate) fn own_types(manifest: &Manifest, known: &Measures) -> String {
    let mut page = String::new();
    let measures = manifest.measures.iter().map(|name| {
        let how = known.get(name).map_or("", |measure| measure.how());
        (name.as_str(), how.to_owned(), "number".to_owned())
    });
    table(&mut page, "Body", measures);
    let options = manifest.options.iter();
    table(&mut page, "Options", options.map(|o| (o.name.as_str(), told(o), option_type(o))));
    let gauges = manifest.structures.iter();
    let gauge = |name: &'static str| (name, String::new(), "Gauge".to_owned());
    table(&mut page, "Gauges", gauges.map(|structure| gauge(structure.name())));
    let sections = manifest.sections.iter().map(|section| section.name.as_str());
    words(
        &mut page,
        "Section",
        "Yarn sections, for `section` of a piece and `step.section`.",
        sections,
    );
    let parts: Vec<String> = manifest.parts.keys().map(|name| format!("parts/{name}")).collect();
    words(
        &mut page,
        "Part",
        "What may be required beside its own files.",
        parts.iter().map(String::as_str),
    );
    page
}

/// `export type NAME = { ... }`: each key with what is told of it, and its type.
fn table<'a>(
    page: &mut String,
    name: &str,
    fields: impl Iterator<Item = (&'a str, String, String)>,
) {
    // Writing to a String can't fail.
    let _ = writeln!(page, "export type {name} = {{");
    for (key, doc, kind) in fields {
        let doc = doc.replace(['\n', '\r'], " ");
        if !doc.is_empty() {
            let _ = writeln!(page, "\t--- {doc}");
        }
        let _ = match is_word(key) {
            true => writeln!(page, "\t{key}: {kind},"),
            false => writeln!(page, "\t[{}]: {kind},", quoted(key)),
        };
    }
    page.push_str("}\n");
}

/// `export type NAME = "a" | "b"`; nothing where there is no word.
fn words<'a>(page: &mut String, name: &str, doc: &str, words: impl Iterator<Item = &'a str>) {
    let words: Vec<String> = words.map(quoted).collect();
    if !words.is_empty() {
        // Writing to a String can't fail.
        let _ = writeln!(page, "--- {doc}\nexport type {name} = {}", words.join(" | "));
    }
}

/// What an option is for, and what may be chosen.
fn told(option: &OptionSpec) -> String {
    let help = option.help.trim_end_matches('.');
    match option.kind {
        OptionKind::Choice { .. } | OptionKind::Flag => format!("{help}."),
        OptionKind::Percent { .. } => {
            format!(
                "{help}. {}, read as the share: -8 % is -0.08.",
                capital(&option.kind.describe())
            )
        }
        OptionKind::Length { .. } => {
            format!("{help}. {}, read in mm.", capital(&option.kind.describe()))
        }
        _ => format!("{help}. {}.", capital(&option.kind.describe())),
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn option_type(option: &OptionSpec) -> String {
    let kind = match &option.kind {
        OptionKind::Choice { of } => of.iter().map(|w| quoted(w)).collect::<Vec<_>>().join(" | "),
        OptionKind::Flag => "boolean".to_owned(),
        _ => "number".to_owned(),
    };
    // Left on auto it is nil.
    match (&option.default, kind.contains('|')) {
        (Some(_), _) => kind,
        (None, true) => format!("({kind})?"),
        (None, false) => format!("{kind}?"),
    }
}

fn is_word(key: &str) -> bool {
    let begins = key.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_');
    let keyword = [
        "and", "break", "do", "else", "elseif", "end", "false", "for", "function", "if", "in",
        "local", "nil", "not", "or", "repeat", "return", "then", "true", "until", "while",
    ];
    begins && key.chars().all(|c| c.is_ascii_alphanumeric() || c == '_') && !keyword.contains(&key)
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::code::compiled;
    use crate::manifest::ManifestKind;
    use crate::reference;

    const MANIFEST: &str = r#"
id = "mitt"
title = "Mitt"
version = "1.0.0"
api = 2
summary = "A mitt."
measures = ["hand_girth", "ring_girth"]
structures = ["plain", "rib 1x1"]
[own_measures.ring_girth]
title = "ring girth"
meaning = "round the root of the ring finger"
source = "a guess, no source"
[sections]
hand = "Hand"
[parts]
hand = "1"
[options.ease]
type = "percent"
min = -10
max = 10
default = 0
help = "Ease round the hand."
[options.length]
type = "length"
min = "5 cm"
max = "40 cm"
default = "auto"
help = "How long."
[options.cuff]
type = "choice"
of = ["rib", "it's \"plain\""]
default = "auto"
help = "The cuff."
[options.end]
type = "flag"
default = true
help = "Close it."
"#;

    /// Declarations as code of the same types: our compiler reads no definitions.
    fn as_code(stubs: &str) -> String {
        let mut code = String::new();
        for line in stubs.lines() {
            code.push_str(&match line.strip_prefix("declare ") {
                None => line.to_owned(),
                Some(rest) if rest.starts_with("function ") => {
                    format!("local {rest} return nil :: any end")
                }
                Some(rest) => format!("export type declared_{rest}").replacen(':', " =", 1),
            });
            code.push('\n');
        }
        code
    }

    #[test]
    fn the_types_of_a_garment_name_what_it_has_and_are_of_the_language() {
        let manifest = Manifest::read(ManifestKind::Garment, "plugin.toml", MANIFEST, None);
        let manifest = manifest.unwrap_or_else(|found| panic!("{found}"));
        let mut known = Measures::new();
        known.extend(&manifest.own_measures).expect("new names");
        let stubs = reference::garment_stubs(&manifest, &known);
        for wanted in [
            "export type Body = {\n\thand_girth: number,\n\t--- round the root of the ring finger\n\tring_girth: number,\n}\n",
            "\t--- Ease round the hand. From -10 % to 10 %, read as the share: -8 % is -0.08.\n\tease: number,\n",
            "\tlength: number?,\n",
            "\tcuff: (\"rib\" | \"it's \\\"plain\\\"\")?,\n",
            "\t[\"end\"]: boolean,\n",
            "\tplain: Gauge,\n\t[\"rib 1x1\"]: Gauge,\n",
            "export type Section = \"hand\"\n",
            "export type Part = \"parts/hand\"\n",
            "\tbody: Body,\n\toptions: Options,\n\tgauges: Gauges,\n",
        ] {
            assert!(stubs.contains(wanted), "{wanted}\nis not in\n{stubs}");
        }
        assert!(!stubs.contains("foot_girth"), "only what it lists can be read");
        for stubs in [stubs, reference::stubs(&Measures::new())] {
            let code = as_code(&stubs);
            assert!(compiled(&code).is_ok(), "{:?}\n{code}", compiled(&code).err());
        }
        assert!(compiled(&as_code("export type A = {\n\tend: number,\n}")).is_err());
    }
}
