//! What is asked for, as a query string: the same shape for pages and programs.

use std::collections::BTreeMap;

use serde::Deserialize;
use utoipa::IntoParams;

use super::{Ask, SwatchAsk, SwatchEntry};
use diag::{Code, Diagnostic, Diagnostics, nearest};

/// Texts of a request, and how many of them.
const LONGEST: usize = 400;
const MOST_PAIRS: usize = 120;

/// The same in a query string. Beside these: `o.NAME` for an option, `m.NAME` for a body measure,
/// and for the swatch of one's own `yarn`, `plain.stitches`, `plain.widths`, `plain.rows`,
/// `plain.heights` (also `state`, `dial`, `weight`, `weighed_stitches`, `weighed_rows`,
/// `scale_step`; and `rib.` for rib 1x1, `rib2.` for rib 2x2).
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[allow(dead_code, reason = "describes the query, which is read by hand")]
pub struct AskQuery {
    /// A garment's id.
    #[param(example = "tam")]
    garment: String,
    /// A machine profile's id.
    #[param(example = "standard")]
    machine: Option<String>,
    /// A list, a range, a group or `all`.
    #[param(example = "y4..women-m")]
    sizes: Option<String>,
    /// `cm` or `in`.
    units: Option<String>,
    /// Whom the measures are of.
    name: Option<String>,
    /// A swatch of the workspace, by its id.
    swatch_id: Option<String>,
    /// The yarn of one's own swatch, like `400 m/100 g`.
    yarn: Option<String>,
    /// How the answer is written out.
    format: Option<String>,
    /// Which picture, as `svg`: `schematic`, `rows` or `stripes`.
    picture: Option<String>,
    /// What a sheet is printed on: `a4` or `letter`.
    paper: Option<String>,
    /// A ball for the picture of the stripes, as `[SECTION=]YARN[@WEIGHT]`; may be given several
    /// times.
    ball: Option<String>,
    /// Where in its colours a first ball begins, as `[SECTION=]LENGTH`.
    start: Option<String>,
    /// `yes`: match the second of a pair to the first.
    r#match: Option<String>,
}

/// Names of a swatch's structures in query strings.
pub const STRUCTURES: [(&str, &str); 3] =
    [("plain", "plain"), ("rib", "rib 1x1"), ("rib2", "rib 2x2")];

const KEYS: [&str; 15] = [
    "garment",
    "machine",
    "sizes",
    "units",
    "name",
    "yarn",
    "format",
    "picture",
    "paper",
    "swatch_name",
    "range",
    "swatch_id",
    "ball",
    "start",
    "match",
];
/// Known to pages alone.
const PAGE_KEYS: [&str; 1] = ["at"];
const ENTRY_KEYS: [&str; 11] = [
    "state",
    "dial",
    "stitches",
    "widths",
    "rows",
    "heights",
    "weight",
    "weighed_stitches",
    "weighed_rows",
    "scale_step",
    "structure",
];

pub type Pairs = Vec<(String, String)>;

/// Splits a query string or a form.
///
/// # Errors
/// More pairs, or longer ones, than any page sends.
pub fn pairs(query: &str) -> Result<Pairs, Diagnostic> {
    let pairs: Pairs = serde_urlencoded::from_str(query).map_err(|error| {
        Diagnostic::error(Code::Query, format!("can't read the query: {error}"))
    })?;
    if pairs.len() > MOST_PAIRS {
        return Err(Diagnostic::error(Code::Query, "too many things are asked for at once")
            .hint(format!("{MOST_PAIRS} at most")));
    }
    if pairs.iter().any(|(key, value)| key.len() > LONGEST || value.len() > LONGEST) {
        return Err(Diagnostic::error(Code::Query, "something in the query is too long")
            .hint(format!("{LONGEST} bytes at most")));
    }
    Ok(pairs)
}

impl Ask {
    /// Reads a query string. What is blank counts as left out, as forms send it.
    ///
    /// # Errors
    /// All keys that mean nothing, and figures that are none.
    pub fn from_pairs(pairs: &[(String, String)]) -> Result<Ask, Diagnostics> {
        let mut faults = Diagnostics::new();
        let mut ask = Ask::default();
        let (mut yarn, mut swatch_name) = (None, None);
        let mut entries: BTreeMap<usize, Pairs> = BTreeMap::new();
        let unit = pairs.iter().find(|(k, _)| k == "units").map_or("cm", |(_, v)| v.as_str());
        for (key, value) in pairs {
            let value = value.trim();
            let given = || Some(value.to_owned());
            if let Some(name) = key.strip_prefix("o.") {
                if !value.is_empty() {
                    ask.options.insert(name.to_owned(), value.into());
                }
                continue;
            }
            if let Some(name) = key.strip_prefix("m.") {
                if !value.is_empty() {
                    ask.measures.insert(name.to_owned(), with_unit(value, unit));
                }
                continue;
            }
            if let Some((prefix, field)) = key.split_once('.')
                && let Some(at) = STRUCTURES.iter().position(|(short, _)| *short == prefix)
                && ENTRY_KEYS.contains(&field)
            {
                if !value.is_empty() {
                    entries.entry(at).or_default().push((field.to_owned(), value.to_owned()));
                }
                continue;
            }
            if !KEYS.contains(&key.as_str()) && !PAGE_KEYS.contains(&key.as_str()) {
                let key: String = key.chars().take(60).collect();
                faults.push(
                    Diagnostic::error(Code::UnknownKey, format!("`{key}` is nothing to ask for"))
                        .maybe_hint(
                            nearest(&key, KEYS).map(|near| format!("did you mean `{near}`?")),
                        )
                        .hint("options are o.NAME, body measures m.NAME"),
                );
                continue;
            }
            if value.is_empty() {
                continue;
            }
            match key.as_str() {
                "garment" => ask.garment = given(),
                "machine" => ask.machine = given(),
                "sizes" => ask.sizes = ask.sizes.or_else(given),
                // Typed beside the list of sizes, it is what is meant.
                "range" => ask.sizes = given(),
                "units" => ask.units = given(),
                "name" => ask.name = given(),
                "swatch_id" => ask.swatch_id = given(),
                "yarn" => yarn = given(),
                "swatch_name" => swatch_name = given(),
                "format" => ask.format = given(),
                "picture" => ask.picture = given(),
                "paper" => ask.paper = given(),
                "ball" => ask.balls.push(value.to_owned()),
                "start" => ask.starts.push(with_unit(value, "m")),
                "match" => ask.matched = value == "yes",
                _ => {}
            }
        }
        // A yarn or a state alone is no swatch yet: someone is still typing, or a form sent what
        // stands in it anyway.
        entries.retain(|_, fields| fields.iter().any(|(field, _)| field != "state"));
        if !entries.is_empty() {
            let swatches = entries
                .into_iter()
                .map(|(at, fields)| entry(STRUCTURES[at].1, &fields, unit, &mut faults))
                .collect();
            ask.swatch = Some(SwatchAsk {
                name: swatch_name,
                machine: None,
                yarn: yarn.unwrap_or_default(),
                swatches,
            });
        }
        faults.into_result(ask)
    }

    /// The query string that asks for the same, in a fixed order: equal requests have equal ones.
    pub fn query(&self) -> String {
        let mut pairs: Vec<(String, String)> = Vec::new();
        let mut push = |key: &str, value: &Option<String>| {
            pairs.extend(value.iter().map(|value| (key.to_owned(), value.clone())));
        };
        push("garment", &self.garment);
        push("machine", &self.machine);
        push("sizes", &self.sizes);
        push("units", &self.units);
        push("name", &self.name);
        push("swatch_id", &self.swatch_id);
        if let Some(swatch) = &self.swatch {
            push("swatch_name", &swatch.name);
            push("yarn", &Some(swatch.yarn.clone()).filter(|yarn| !yarn.is_empty()));
        }
        for (name, value) in self.typed_options() {
            pairs.push((format!("o.{name}"), value));
        }
        for (name, value) in &self.measures {
            pairs.push((format!("m.{name}"), value.clone()));
        }
        pairs.extend(self.balls.iter().map(|ball| ("ball".to_owned(), ball.clone())));
        pairs.extend(self.starts.iter().map(|start| ("start".to_owned(), start.clone())));
        if self.matched {
            pairs.push(("match".to_owned(), "yes".to_owned()));
        }
        for swatch in self.swatch.iter().flat_map(|swatch| &swatch.swatches) {
            let Some((short, _)) = STRUCTURES.iter().find(|(_, long)| *long == swatch.structure)
            else {
                continue;
            };
            for (field, value) in swatch.fields() {
                pairs.push((format!("{short}.{field}"), value));
            }
        }
        serde_urlencoded::to_string(pairs).unwrap_or_default()
    }
}

impl SwatchEntry {
    /// The fields as texts, those left out left out.
    fn fields(&self) -> Vec<(&'static str, String)> {
        let mut fields = vec![
            ("stitches", self.stitches.to_string()),
            ("widths", self.widths.join(", ")),
            ("rows", self.rows.to_string()),
            ("heights", self.heights.join(", ")),
        ];
        let mut push = |key: &'static str, value: Option<String>| {
            fields.extend(value.map(|value| (key, value)));
        };
        push("state", self.state.clone());
        push("dial", self.dial.map(|dial| dial.to_string()));
        push("weight", self.weight.clone());
        push("weighed_stitches", self.weighed_stitches.map(|n| n.to_string()));
        push("weighed_rows", self.weighed_rows.map(|n| n.to_string()));
        push("scale_step", self.scale_step.clone());
        fields
    }
}

/// A swatch from the fields of a form.
fn entry(
    structure: &str,
    fields: &[(String, String)],
    unit: &str,
    faults: &mut Diagnostics,
) -> SwatchEntry {
    let field = |name: &str| fields.iter().find(|(key, _)| key == name).map(|(_, v)| v.clone());
    let mut count = |name: &str| -> Option<u32> {
        let text = field(name)?;
        text.parse().map_err(|_| faults.push(no_count(structure, name, &text))).ok()
    };
    let (stitches, rows) = (count("stitches"), count("rows"));
    let (weighed_stitches, weighed_rows) = (count("weighed_stitches"), count("weighed_rows"));
    let dial = field("dial").and_then(|text| {
        text.parse().map_err(|_| faults.push(no_count(structure, "dial", &text))).ok()
    });
    let lengths = |name: &str| -> Vec<String> {
        let text = field(name).unwrap_or_default();
        let parts = text.split([',', ';']).map(str::trim).filter(|part| !part.is_empty());
        parts.map(|part| with_unit(part, unit)).collect()
    };
    SwatchEntry {
        structure: structure.to_owned(),
        state: field("state"),
        dial,
        stitches: stitches.unwrap_or_default(),
        widths: lengths("widths"),
        rows: rows.unwrap_or_default(),
        heights: lengths("heights"),
        weight: field("weight").map(|text| with_unit(&text, "g")),
        weighed_stitches,
        weighed_rows,
        scale_step: field("scale_step").map(|text| with_unit(&text, "g")),
    }
}

fn no_count(structure: &str, name: &str, text: &str) -> Diagnostic {
    let name = name.replace('_', " ");
    Diagnostic::error(Code::Count, format!("`{text}` is not a number ({name}, {structure} swatch)"))
        .hint("write a plain number, like 40")
}

/// A bare number gets the unit of the form it stands in.
fn with_unit(text: &str, unit: &str) -> String {
    if text.parse::<f64>().is_ok() { format!("{text} {unit}") } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(query: &str) -> Result<Ask, Diagnostics> {
        Ask::from_pairs(&pairs(query)?)
    }

    #[test]
    fn a_query_reads_back_as_what_it_was_made_of() {
        let query = "garment=tam&machine=mid&sizes=y4..y8&units=in&yarn=400+m%2F100+g&o.wedges=6\
                     &m.head_girth=58+cm&plain.stitches=40&plain.widths=5.4%2C+5.5&plain.rows=60\
                     &plain.heights=6";
        let first = ask(query).expect("reads");
        assert_eq!(
            first.swatch.as_ref().expect("a swatch").swatches[0].widths,
            ["5.4 in", "5.5 in"]
        );
        assert_eq!(ask(&first.query()).expect("reads"), first);
    }

    #[test]
    fn what_means_nothing_is_said_at_once() {
        let faults = ask("garmnet=tam&plain.stitches=x&plain.rows=y").expect_err("faults");
        let codes: Vec<_> = faults.iter().map(|f| f.code.as_str()).collect();
        assert_eq!(codes, ["unknown-key", "count", "count"]);
        assert!(ask("garment=a/b").expect("reads").garment().is_err());
        assert!(ask("garment=..").expect("reads").garment().is_err());
    }
}
