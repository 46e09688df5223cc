use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use diag::{Code, Diagnostic, Diagnostics, Place, is_control, nearest};
use knit::program::Structure;
use units::Length;

use super::option::{OptionKind, OptionSpec, OptionValue};

/// The script API this build speaks. Raised when a script that ran before might not run after.
pub const API_VERSION: u32 = 1;

/// `plugin.toml`, checked: what a garment is called, what it needs and what may be chosen. Read
/// before any code of the plugin runs.
#[derive(Clone, Debug, PartialEq)]
pub struct Manifest {
    /// Lower-case letters, digits and `-`: what a person types.
    pub id: String,
    pub title: String,
    pub version: String,
    pub api: u32,
    pub summary: String,
    /// Body measures the script may read; none for a thing that no one wears, graded once.
    pub measures: Vec<String>,
    /// The one of them that orders a run of sizes.
    pub measure: String,
    /// Structures the script needs a gauge for.
    pub structures: Vec<Structure>,
    /// Whether a person needs two.
    pub pair: bool,
    /// Counts that never fall as the measure grows.
    pub grows: Vec<String>,
    /// Sections in which several remnants of one yarn may be joined without spoiling it.
    pub joinable: Vec<String>,
    /// In the order of the file.
    pub options: Vec<OptionSpec>,
    /// Yarn sections, in the order of the file.
    pub sections: Vec<SectionSpec>,
}

/// A part of the garment whose yarn is counted on its own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SectionSpec {
    pub name: String,
    pub title: String,
}

/// Something plugin.toml says, to find again in its text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Declared<'a> {
    /// A key of the file itself: `measures`.
    Key(&'a str),
    /// A text in a list: `measures`, `head_girth`.
    Item(&'a str, &'a str),
    /// A name in a table: `options`, `ease`.
    Name(&'a str, &'a str),
}

impl Declared<'_> {
    pub(super) fn span(self, text: &str) -> Option<Range<usize>> {
        let (root, _) = DeTable::parse_recoverable(text);
        let root = root.get_ref();
        match self {
            Declared::Key(key) => root.get_key_value(key).map(|(key, _)| key.span()),
            Declared::Item(list, item) => {
                let list = root.get(list)?.get_ref().as_array()?;
                list.iter().find(|i| i.get_ref().as_str() == Some(item)).map(Spanned::span)
            }
            Declared::Name(table, name) => {
                let table = root.get(table)?.get_ref().as_table()?;
                table.get_key_value(name).map(|(key, _)| key.span())
            }
        }
    }
}

/// Options, sections, words of a choice, measures.
const MOST_ENTRIES: usize = 100;

const KEYS: [&str; 13] = [
    "id",
    "title",
    "version",
    "api",
    "summary",
    "measures",
    "measure",
    "structures",
    "pair",
    "grows",
    "joinable",
    "sections",
    "options",
];

impl Manifest {
    /// Reads and checks `text`. `file` is only a name to show.
    ///
    /// # Errors
    /// Every fault, each at its key or value; only the one sentence on `api` when that does not
    /// fit, since nothing else can then be judged.
    pub fn parse(file: &str, text: &str, known_measures: &[&str]) -> Result<Manifest, Diagnostics> {
        let (root, syntax) = DeTable::parse_recoverable(text);
        let mut reader = Reader { file, text, faults: Diagnostics::new() };
        for error in syntax {
            let fault = Diagnostic::error(Code::PluginToml, error.message().trim().to_owned());
            reader.faults.push_placed(fault, file, text, error.span().unwrap_or(0..0));
        }
        if reader.faults.has_errors() {
            return Err(reader.faults);
        }
        let root = Keys { table: root.get_ref(), span: 0..0, what: "plugin.toml" };
        if let Some(fault) = reader.api_misfit(&root) {
            return Err(fault.into());
        }
        let manifest = reader.manifest(&root, known_measures);
        reader.faults.into_result(manifest)
    }

    /// The title of a yarn section, or its name when the manifest has none.
    pub fn section_title<'a>(&'a self, name: &'a str) -> &'a str {
        self.sections.iter().find(|s| s.name == name).map_or(name, |s| &s.title)
    }
}

/// A table of the file, where it begins and what to call it.
struct Keys<'a> {
    table: &'a DeTable<'a>,
    span: Range<usize>,
    what: &'a str,
}

type Entry<'a> = Option<&'a Spanned<DeValue<'a>>>;

impl<'a> Keys<'a> {
    fn get(&self, key: &str) -> Entry<'a> {
        self.table.get(key)
    }

    /// Keys with their values as they stand in the file, not sorted by name.
    fn in_order(&self) -> Vec<(&'a str, Range<usize>, &'a Spanned<DeValue<'a>>)> {
        let mut all: Vec<_> =
            self.table.iter().map(|(k, v)| (k.get_ref().as_ref(), k.span(), v)).collect();
        all.sort_by_key(|(_, span, _)| span.start);
        all
    }
}

struct Reader<'a> {
    file: &'a str,
    text: &'a str,
    faults: Diagnostics,
}

impl<'a> Reader<'a> {
    fn fault(&self, span: Range<usize>, message: impl Into<String>) -> Diagnostic {
        Diagnostic::error(Code::PluginManifest, message)
            .at(Place::from_span(self.file, self.text, span))
    }

    fn push(&mut self, span: Range<usize>, message: impl Into<String>, hint: impl Into<String>) {
        let fault = Diagnostic::error(Code::PluginManifest, message).hint(hint);
        self.faults.push_placed(fault, self.file, self.text, span);
    }

    fn api_misfit(&self, root: &Keys<'a>) -> Option<Diagnostic> {
        let value = root.get("api")?;
        let api: i64 = value.get_ref().as_integer()?.to_string().parse().ok()?;
        let misfit = |message: String, hint: &str| {
            Some(
                Diagnostic::error(Code::PluginApi, message)
                    .at(Place::from_span(self.file, self.text, value.span()))
                    .hint(hint),
            )
        };
        if api > i64::from(API_VERSION) {
            misfit(
                format!(
                    "this garment is written for script API {api}, newer than the {API_VERSION} known here"
                ),
                "update oddments, or use an older version of the garment",
            )
        } else if api < 1 {
            misfit(
                format!("there never was a script API {api}"),
                "write `api = 1` and check the script against plugins/README.md",
            )
        } else {
            None
        }
    }

    fn manifest(&mut self, root: &Keys<'a>, known_measures: &[&str]) -> Manifest {
        self.unknown_keys(root, &KEYS);
        let id = self.text_of(root, "id");
        if let Some(value) = root.get("id")
            && !id.is_empty()
            && !is_garment_id(&id)
        {
            self.push(
                value.span(),
                format!("`{id}` is not a garment id"),
                "begin with a letter and use a to z, 0 to 9 and `-`, 40 at most",
            );
        }
        let version = self.text_of(root, "version");
        if let Some(value) = root.get("version")
            && !version.is_empty()
            && !is_version(&version)
        {
            self.push(value.span(), format!("`{version}` is not a version"), "write it like 1.0.0");
        }
        let measures = self.measures(root, known_measures);
        let measure = match root.get("measure") {
            None => measures.first().cloned().unwrap_or_default(),
            Some(value) => {
                let name = self.text_of(root, "measure");
                if !name.is_empty() && !measures.contains(&name) {
                    let fault = self
                        .fault(value.span(), format!("`{name}` is not among `measures`"))
                        .hint(did_you_mean(&name, measures.iter().map(String::as_str)));
                    self.faults.push(fault);
                }
                name
            }
        };
        let sections = self.sections(root);
        let joinable = self.joinable(root, &sections);
        Manifest {
            title: self.text_of(root, "title"),
            api: self.api(root),
            summary: self.text_of(root, "summary"),
            structures: self.structures(root),
            pair: self.flag_of(root, "pair"),
            grows: self.names_of(root, "grows"),
            options: self.options(root),
            sections,
            joinable,
            id,
            version,
            measures,
            measure,
        }
    }

    fn joinable(&mut self, root: &Keys<'a>, sections: &[SectionSpec]) -> Vec<String> {
        let listed = self.list_of(root, "joinable");
        for (name, span) in &listed {
            if !sections.iter().any(|section| section.name == *name) {
                let known = sections.iter().map(|section| section.name.as_str());
                let message = format!("`{name}` is not among `[sections]`");
                self.push(span.clone(), message, did_you_mean(name, known));
            }
        }
        listed.into_iter().map(|(name, _)| name).collect()
    }

    fn unknown_keys(&mut self, keys: &Keys<'a>, known: &[&str]) {
        for (key, span, _) in keys.in_order() {
            if !known.contains(&key) {
                let message = format!("{} has no key `{key}`", keys.what);
                self.push(span, message, did_you_mean(key, known.iter().copied()));
            }
        }
    }

    /// A text that must be there and not be blank; empty when it is not (and a fault is noted).
    fn text_of(&mut self, keys: &Keys<'a>, key: &str) -> String {
        match keys.get(key) {
            None => {
                let message = format!("{} has no `{key}`", keys.what);
                self.push(keys.span.clone(), message, format!("add `{key} = \"...\"`"));
                String::new()
            }
            Some(value) => match value.get_ref().as_str().map(str::trim) {
                Some(text)
                    if !text.is_empty()
                        && text.chars().count() <= 2000
                        && !text.contains(is_control) =>
                {
                    text.to_owned()
                }
                _ => {
                    let message = format!(
                        "`{key}` must be a text of at most 2000 characters, without control characters"
                    );
                    self.push(value.span(), message, format!("write `{key} = \"...\"`"));
                    String::new()
                }
            },
        }
    }

    fn api(&mut self, root: &Keys<'a>) -> u32 {
        match root.get("api") {
            Some(value) if value.get_ref().is_integer() => {}
            Some(value) => {
                self.push(value.span(), "`api` must be a whole number", "write `api = 1`")
            }
            None => self.push(0..0, "plugin.toml has no `api`", "add `api = 1`"),
        }
        API_VERSION
    }

    fn flag_of(&mut self, keys: &Keys<'a>, key: &str) -> bool {
        let Some(value) = keys.get(key) else { return false };
        value.get_ref().as_bool().unwrap_or_else(|| {
            self.push(
                value.span(),
                format!("`{key}` must be true or false"),
                "leave the quotes out",
            );
            false
        })
    }

    /// A list of texts with their spans. Absent is empty.
    fn list_of(&mut self, keys: &Keys<'a>, key: &str) -> Vec<(String, Range<usize>)> {
        let Some(value) = keys.get(key) else { return Vec::new() };
        let Some(array) = value.get_ref().as_array() else {
            let message = format!("`{key}` must be a list of texts");
            self.push(value.span(), message, format!("write `{key} = [\"...\"]`"));
            return Vec::new();
        };
        if array.len() > MOST_ENTRIES {
            let message = format!("`{key}` lists more than {MOST_ENTRIES} entries");
            self.push(value.span(), message, "no garment needs so many");
            return Vec::new();
        }
        let mut texts: Vec<(String, Range<usize>)> = Vec::new();
        for item in array.iter() {
            match item.get_ref().as_str() {
                Some(text) if texts.iter().any(|(seen, _)| seen == text) => {
                    self.push(item.span(), format!("`{text}` is listed twice"), "leave one out");
                }
                Some(text) => texts.push((text.to_owned(), item.span())),
                None => self.push(
                    item.span(),
                    format!("`{key}` must be a list of texts"),
                    "put quotes round each",
                ),
            }
        }
        texts
    }

    fn names_of(&mut self, keys: &Keys<'a>, key: &str) -> Vec<String> {
        let listed = self.list_of(keys, key);
        let mut names = Vec::new();
        for (name, span) in listed {
            self.check_name(&name, span);
            names.push(name);
        }
        names
    }

    fn check_name(&mut self, name: &str, span: Range<usize>) {
        if !is_name(name) {
            self.push(
                span,
                format!("`{name}` is not a name"),
                "begin with a letter and use a to z, 0 to 9 and `_`, 40 at most",
            );
        }
    }

    fn measures(&mut self, root: &Keys<'a>, known: &[&str]) -> Vec<String> {
        let listed = self.list_of(root, "measures");
        if root.get("measures").is_none() {
            self.push(
                0..0,
                "plugin.toml names no body measure",
                "list what the script reads: `measures = [\"head_girth\"]`, or `[]` for a thing that no \
                 one wears",
            );
        }
        for (name, span) in &listed {
            if !known.contains(&name.as_str()) {
                let message = format!("`{name}` is not a body measure");
                self.push(span.clone(), message, did_you_mean(name, known.iter().copied()));
            }
        }
        listed.into_iter().map(|(name, _)| name).collect()
    }

    fn structures(&mut self, root: &Keys<'a>) -> Vec<Structure> {
        let listed = self.list_of(root, "structures");
        if listed.is_empty() {
            let span = root.get("structures").map_or(0..0, Spanned::span);
            self.push(
                span,
                "plugin.toml names no structure",
                "list what the garment is knitted in: `structures = [\"plain\"]`",
            );
        }
        let mut structures = Vec::new();
        for (name, span) in listed {
            match Structure::parse(&name) {
                Some(structure) => structures.push(structure),
                None => {
                    let known = Structure::ALL.map(Structure::name);
                    self.push(
                        span,
                        format!("`{name}` is not a structure"),
                        did_you_mean(&name, known),
                    );
                }
            }
        }
        structures
    }

    fn sections(&mut self, root: &Keys<'a>) -> Vec<SectionSpec> {
        let Some(table) = self.table_of(root, "sections") else { return Vec::new() };
        let mut sections = Vec::new();
        for (name, span, value) in table.in_order() {
            self.check_name(name, span);
            match value.get_ref().as_str() {
                Some(title) if title.chars().count() <= 200 && !title.contains(is_control) => {
                    sections.push(SectionSpec { name: name.to_owned(), title: title.to_owned() });
                }
                _ => self.push(
                    value.span(),
                    format!("section `{name}` must have a title, a plain text"),
                    format!("write `{name} = \"...\"`"),
                ),
            }
        }
        sections
    }

    fn table_of(&mut self, keys: &Keys<'a>, key: &'a str) -> Option<Keys<'a>> {
        let value = keys.get(key)?;
        match value.get_ref().as_table() {
            Some(table) if table.len() > MOST_ENTRIES => {
                let message = format!("`{key}` holds more than {MOST_ENTRIES} entries");
                self.push(value.span(), message, "no garment needs so many");
                None
            }
            Some(table) => Some(Keys { table, span: value.span(), what: key }),
            None => {
                self.push(
                    value.span(),
                    format!("`{key}` must be a table"),
                    format!("write `[{key}]`"),
                );
                None
            }
        }
    }

    fn options(&mut self, root: &Keys<'a>) -> Vec<OptionSpec> {
        let Some(table) = self.table_of(root, "options") else { return Vec::new() };
        let mut options = Vec::new();
        for (name, span, value) in table.in_order() {
            self.check_name(name, span.clone());
            let what = format!("option `{name}`");
            match value.get_ref().as_table() {
                Some(table) => {
                    let keys = Keys { table, span, what: &what };
                    options.extend(self.option(name, &keys));
                }
                None => self.push(
                    value.span(),
                    format!("{what} must be a table"),
                    format!("write `[options.{name}]` and its keys below"),
                ),
            }
        }
        options
    }

    fn option(&mut self, name: &str, keys: &Keys<'_>) -> Option<OptionSpec> {
        // The keys borrow a text made here, so they are read through a reader of that lifetime.
        let mut reader = Reader { file: self.file, text: self.text, faults: Diagnostics::new() };
        let option = reader.option_inner(name, keys);
        self.faults.extend(reader.faults);
        option
    }

    fn option_inner(&mut self, name: &str, keys: &Keys<'a>) -> Option<OptionSpec> {
        const TYPES: [&str; 6] = ["integer", "number", "percent", "length", "choice", "flag"];
        let kind = self.text_of(keys, "type");
        if kind.is_empty() {
            return None;
        }
        if !TYPES.contains(&kind.as_str()) {
            let span = keys.get("type").map_or(0..0, Spanned::span);
            self.push(
                span,
                format!("`{kind}` is not a type of option"),
                did_you_mean(&kind, TYPES),
            );
            return None;
        }
        let own: &[&str] = match kind.as_str() {
            "integer" => &["type", "help", "default", "min", "max", "step"],
            "choice" => &["type", "help", "default", "of"],
            "flag" => &["type", "help", "default"],
            _ => &["type", "help", "default", "min", "max"],
        };
        self.unknown_keys(keys, own);
        let help = self.text_of(keys, "help");
        let kind = match kind.as_str() {
            "integer" => {
                let (min, max) = (self.whole(keys, "min", None)?, self.whole(keys, "max", None)?);
                let step = self.whole(keys, "step", Some(1))?;
                if step < 1 {
                    self.push(keys.span.clone(), "`step` must be 1 or more", "leave it out for 1");
                    return None;
                }
                OptionKind::Integer { min, max, step }
            }
            "number" => {
                OptionKind::Number { min: self.real(keys, "min")?, max: self.real(keys, "max")? }
            }
            "percent" => {
                OptionKind::Percent { min: self.real(keys, "min")?, max: self.real(keys, "max")? }
            }
            "length" => OptionKind::Length {
                min_mm: self.length(keys, "min")?,
                max_mm: self.length(keys, "max")?,
            },
            "choice" => {
                let of: Vec<String> =
                    self.list_of(keys, "of").into_iter().map(|(text, _)| text).collect();
                if of.len() < 2 {
                    self.push(
                        keys.span.clone(),
                        format!("{} offers no choice", keys.what),
                        "add `of = [\"...\", \"...\"]`",
                    );
                    return None;
                }
                OptionKind::Choice { of }
            }
            _ => OptionKind::Flag,
        };
        let upside_down = match &kind {
            OptionKind::Integer { min, max, .. } => min > max,
            OptionKind::Number { min, max } | OptionKind::Percent { min, max } => min > max,
            OptionKind::Length { min_mm, max_mm } => min_mm > max_mm,
            OptionKind::Choice { .. } | OptionKind::Flag => false,
        };
        if upside_down {
            self.push(
                keys.span.clone(),
                format!("{} has `min` above `max`", keys.what),
                "swap them",
            );
            return None;
        }
        let default = self.default(keys, &kind)?;
        Some(OptionSpec { name: name.to_owned(), help, kind, default })
    }

    /// Outer `None`: a fault. Inner `None`: "auto".
    fn default(&mut self, keys: &Keys<'a>, kind: &OptionKind) -> Option<Option<OptionValue>> {
        let Some(value) = keys.get("default") else {
            let hint = "add `default = ...`, or `default = \"auto\"` if the script decides";
            self.push(keys.span.clone(), format!("{} has no `default`", keys.what), hint);
            return None;
        };
        let text = match value.get_ref() {
            DeValue::String(text) if text == "auto" => return Some(None),
            DeValue::String(text)
                if matches!(kind, OptionKind::Length { .. } | OptionKind::Choice { .. }) =>
            {
                text.to_string()
            }
            DeValue::Integer(number) if number_like(kind) => number.to_string(),
            DeValue::Float(number) if number_like(kind) => number.to_string(),
            DeValue::Boolean(flag) if *kind == OptionKind::Flag => flag.to_string(),
            _ => {
                let message = format!("`default` of {} must be {}", keys.what, kind.describe());
                self.push(value.span(), message, "or \"auto\" if the script decides");
                return None;
            }
        };
        match kind.parse(&text) {
            Ok(parsed) => Some(Some(parsed)),
            Err(fault) => {
                let fault = fault.at(Place::from_span(self.file, self.text, value.span()));
                let hint = "the default must be a value a knitter may choose, or \"auto\" if the script decides";
                self.faults.push(fault.context(keys.what.to_owned()).hint(hint));
                None
            }
        }
    }

    fn bound(&mut self, keys: &Keys<'a>, key: &str) -> Entry<'a> {
        let value = keys.get(key);
        if value.is_none() {
            let message = format!("{} has no `{key}`", keys.what);
            self.push(keys.span.clone(), message, format!("add `{key} = ...`"));
        }
        value
    }

    fn whole(&mut self, keys: &Keys<'a>, key: &str, absent: Option<i64>) -> Option<i64> {
        if absent.is_some() && keys.get(key).is_none() {
            return absent;
        }
        let value = self.bound(keys, key)?;
        let number = value.get_ref().as_integer().and_then(|i| i.to_string().parse().ok());
        if number.is_none() {
            self.push(
                value.span(),
                format!("`{key}` must be a whole number"),
                "leave the quotes out",
            );
        }
        number
    }

    fn real(&mut self, keys: &Keys<'a>, key: &str) -> Option<f64> {
        let value = self.bound(keys, key)?;
        let text = match value.get_ref() {
            DeValue::Integer(number) => number.to_string(),
            DeValue::Float(number) => number.to_string(),
            _ => String::new(),
        };
        let number = text.parse::<f64>().ok().filter(|n| n.is_finite());
        if number.is_none() {
            self.push(value.span(), format!("`{key}` must be a number"), "leave the quotes out");
        }
        number
    }

    fn length(&mut self, keys: &Keys<'a>, key: &str) -> Option<f64> {
        let value = self.bound(keys, key)?;
        let text = value.get_ref().as_str().unwrap_or_default();
        match text.parse::<Length>() {
            Ok(length) => Some(length.mm()),
            Err(error) => {
                self.push(value.span(), format!("`{key}`: {}", error.message), error.hint);
                None
            }
        }
    }
}

fn number_like(kind: &OptionKind) -> bool {
    matches!(
        kind,
        OptionKind::Integer { .. } | OptionKind::Number { .. } | OptionKind::Percent { .. }
    )
}

fn did_you_mean<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    let known: Vec<&str> = known.into_iter().collect();
    match nearest(word, known.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("known are {}", known.join(", ")),
    }
}

/// Whether a garment may be called so.
pub fn is_garment_id(text: &str) -> bool {
    text.len() <= 40
        && text.starts_with(|c: char| c.is_ascii_lowercase())
        && text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
}

fn is_name(text: &str) -> bool {
    text.len() <= 40
        && text.starts_with(|c: char| c.is_ascii_lowercase())
        && text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}

fn is_version(text: &str) -> bool {
    let parts: Vec<&str> = text.split('.').collect();
    parts.len() == 3 && parts.iter().all(|part| part.parse::<u32>().is_ok())
}
