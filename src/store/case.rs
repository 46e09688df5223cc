use std::collections::BTreeMap;
use std::ops::Range;

use serde::Deserialize;
use toml::Spanned;

use super::field::Reading;
use diag::{Code, Diagnostic, Diagnostics, Place, toml_text};
use knit::case::{Case, Expect, Figures};

/// How far a finished measure may be off where the case does not say.
const TOLERANCE_MM: f64 = 0.5;
/// With more, a case would pass whatever comes out.
const MOST_TOLERANCE_MM: f64 = 50.0;
const MACHINE: &str = "standard";

/// A case as its file holds it, with the text, so that what is said of a figure can be placed
/// there and a figure replaced.
#[derive(Clone, Debug)]
pub struct CaseFile {
    pub name: String,
    pub text: String,
    pub case: Case,
    /// It says of a size and not what should come of it.
    pub empty: bool,
    /// By key, as in `counts.wedges`, `size` or `options.ease`: where its value stands.
    spans: BTreeMap<String, Range<usize>>,
}

impl CaseFile {
    /// Where the value of a key stands; where the file has none, its size.
    pub fn place(&self, key: &str) -> Place {
        let span = self.spans.get(key).or_else(|| self.spans.get("size")).cloned();
        Place::from_span(&self.name, &self.text, span.unwrap_or(0..0))
    }

    /// The text of an empty case, with what it should expect behind it.
    pub fn filled(&self, expect: &Expect) -> String {
        let mut text = format!("{}\n\n[expect]\n", self.text.trim_end());
        let mut line = |words: String| {
            text.push_str(&words);
            text.push('\n');
        };
        match expect {
            Expect::Refused { reason } => {
                line("knittable = false".to_owned());
                line(format!("reason = {}", toml::Value::from(reason.as_str())));
            }
            Expect::Knittable(figures) => {
                line("knittable = true".to_owned());
                if !figures.counts.is_empty() {
                    line("\n[expect.counts]".to_owned());
                }
                figures.counts.iter().for_each(|(name, n)| line(format!("{} = {n}", key(name))));
                if !figures.finished_mm.is_empty() {
                    line("\n[expect.finished]".to_owned());
                }
                for (name, mm) in &figures.finished_mm {
                    line(format!("{} = {mm:.1}", key(name)));
                }
                if let Some((low, high)) = figures.grams {
                    line(format!("\n[expect.grams]\nlow = {low}\nhigh = {high}"));
                }
            }
        }
        text
    }

    /// The text with the values of some keys replaced; those the file doesn't have are left out.
    pub fn with_values(&self, values: &[(String, String)]) -> String {
        let mut found: Vec<(Range<usize>, &str)> = values
            .iter()
            .filter_map(|(key, value)| Some((self.spans.get(key)?.clone(), value.as_str())))
            .collect();
        // From the end, so that the spans before stay right.
        found.sort_by_key(|(span, _)| std::cmp::Reverse(span.start));
        let mut text = self.text.clone();
        for (span, value) in found {
            text.replace_range(span, value);
        }
        text
    }
}

/// A name as the key of a table, in quotes where it has to be.
fn key(name: &str) -> String {
    let bare = !name.is_empty()
        && name.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-'));
    if bare { name.to_owned() } else { toml::Value::from(name).to_string() }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CaseToml {
    size: Spanned<String>,
    machine: Option<Spanned<String>>,
    #[serde(default)]
    options: BTreeMap<Spanned<String>, Spanned<toml::Value>>,
    expect: Option<Spanned<ExpectToml>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ExpectToml {
    knittable: Option<Spanned<bool>>,
    reason: Option<Spanned<String>>,
    tolerance: Option<Spanned<f64>>,
    #[serde(default)]
    counts: BTreeMap<Spanned<String>, Spanned<i64>>,
    #[serde(default)]
    finished: BTreeMap<Spanned<String>, Spanned<f64>>,
    grams: Option<GramsToml>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GramsToml {
    low: Spanned<f64>,
    high: Spanned<f64>,
}

/// Reads a case: a size, perhaps a machine and options, and what should come of it.
///
/// # Errors
/// All faults of the file, each at its place. Whether the names in it are the garment's is for
/// the caller to say.
pub fn parse_case(file: &str, text: &str) -> Result<CaseFile, Diagnostics> {
    let parsed: CaseToml = toml_text::parse(file, text)?;
    let mut reading = Reading::new(file, text);
    let mut spans = BTreeMap::from([("size".to_owned(), parsed.size.span())]);
    if let Some(machine) = &parsed.machine {
        spans.insert("machine".to_owned(), machine.span());
    }
    let options = options(&parsed.options, &mut spans, &mut reading);
    let empty = parsed.expect.is_none();
    let expect = match &parsed.expect {
        Some(given) => expect(given, &mut spans, &mut reading),
        None => Expect::Knittable(Figures::default()),
    };
    reading.faults.into_result(CaseFile {
        name: file.to_owned(),
        text: text.to_owned(),
        case: Case {
            size: parsed.size.into_inner(),
            machine: parsed.machine.map_or_else(|| MACHINE.to_owned(), Spanned::into_inner),
            options,
            expect,
        },
        empty,
        spans,
    })
}

/// In the order of the file.
fn in_order<T>(map: &BTreeMap<Spanned<String>, Spanned<T>>) -> Vec<(&str, &Spanned<T>)> {
    let mut all: Vec<_> = map.iter().collect();
    all.sort_by_key(|(key, _)| key.span().start);
    all.into_iter().map(|(key, value)| (key.get_ref().as_str(), value)).collect()
}

fn options(
    given: &BTreeMap<Spanned<String>, Spanned<toml::Value>>,
    spans: &mut BTreeMap<String, Range<usize>>,
    reading: &mut Reading<'_>,
) -> Vec<(String, String)> {
    let mut options = Vec::new();
    for (name, value) in in_order(given) {
        spans.insert(format!("options.{name}"), value.span());
        // Numbers that are fixed: `fix.stitches = 52`, or a table of its own.
        let inner = value.get_ref().as_table().into_iter().flatten();
        for (key, number) in inner {
            spans.insert(format!("options.{name}.{key}"), value.span());
            options.extend(typed(number).map(|text| (format!("{name}.{key}"), text)));
        }
        let faulty = match value.get_ref() {
            toml::Value::Table(table) => !table.values().all(|value| typed(value).is_some()),
            one => {
                let text = typed(one);
                options.extend(text.clone().map(|text| (name.to_owned(), text)));
                text.is_none()
            }
        };
        if faulty {
            let fault = Diagnostic::error(Code::Case, format!("option `{name}` is not a text"))
                .hint("write it as you would type it after --set, in double quotes");
            reading.fault(value, fault);
        }
    }
    options
}

/// A value as it would be typed.
fn typed(value: &toml::Value) -> Option<String> {
    match value {
        toml::Value::String(text) => Some(text.clone()),
        toml::Value::Integer(number) => Some(number.to_string()),
        toml::Value::Float(number) => Some(number.to_string()),
        toml::Value::Boolean(flag) => Some(flag.to_string()),
        _ => None,
    }
}

fn expect(
    entry: &Spanned<ExpectToml>,
    spans: &mut BTreeMap<String, Range<usize>>,
    reading: &mut Reading<'_>,
) -> Expect {
    let table = entry.get_ref();
    if let Some(knittable) = &table.knittable {
        spans.insert("knittable".to_owned(), knittable.span());
    }
    if table.knittable.as_ref().is_some_and(|k| !k.get_ref()) {
        return Expect::Refused { reason: refusal(entry, spans, reading) };
    }
    if let Some(reason) = &table.reason {
        let fault = Diagnostic::error(Code::Case, "a size that can be knitted has no `reason`")
            .hint("leave it out, or write `knittable = false`");
        reading.fault(reason, fault);
    }
    Expect::Knittable(Figures {
        tolerance_mm: tolerance(table.tolerance.as_ref(), reading),
        counts: counts(&table.counts, spans),
        finished_mm: finished(&table.finished, spans, reading),
        grams: table.grams.as_ref().map(|grams| bounds(grams, spans, reading)),
    })
}

/// Why a size is refused, in words of the message; it has no figures.
fn refusal(
    entry: &Spanned<ExpectToml>,
    spans: &mut BTreeMap<String, Range<usize>>,
    reading: &mut Reading<'_>,
) -> String {
    let table = entry.get_ref();
    let other = in_order(&table.counts).first().map(|(_, value)| value.span());
    let other = other.or(in_order(&table.finished).first().map(|(_, value)| value.span()));
    if let Some(span) = other.or(table.grams.as_ref().map(|g| g.low.span())) {
        let fault = Diagnostic::error(Code::Case, "a size that is refused has no figures")
            .hint("leave the figures out, or write `knittable = true`");
        reading.fault(&Spanned::new(span, ()), fault);
    }
    let Some(reason) = &table.reason else {
        let fault = Diagnostic::error(Code::Case, "the case doesn't say why the size is refused")
            .hint("add `reason = \"words of the message\"`");
        reading.fault(entry, fault);
        return String::new();
    };
    spans.insert("reason".to_owned(), reason.span());
    reason.get_ref().clone()
}

fn tolerance(given: Option<&Spanned<f64>>, reading: &mut Reading<'_>) -> f64 {
    let Some(tolerance) = given else { return TOLERANCE_MM };
    let mm = *tolerance.get_ref();
    if !(0.0..=MOST_TOLERANCE_MM).contains(&mm) {
        let fault = Diagnostic::error(Code::Case, format!("a tolerance of {mm} mm"))
            .hint("write the millimetres a finished measure may be off, such as 0.5");
        reading.fault(tolerance, fault);
    }
    mm
}

fn counts(
    given: &BTreeMap<Spanned<String>, Spanned<i64>>,
    spans: &mut BTreeMap<String, Range<usize>>,
) -> Vec<(String, i64)> {
    let mut counts = Vec::new();
    for (name, value) in in_order(given) {
        spans.insert(format!("counts.{name}"), value.span());
        counts.push((name.to_owned(), *value.get_ref()));
    }
    counts
}

fn finished(
    given: &BTreeMap<Spanned<String>, Spanned<f64>>,
    spans: &mut BTreeMap<String, Range<usize>>,
    reading: &mut Reading<'_>,
) -> Vec<(String, f64)> {
    let mut finished = Vec::new();
    for (name, value) in in_order(given) {
        if !value.get_ref().is_finite() {
            let fault = Diagnostic::error(Code::Case, format!("`{name}` is no length"))
                .hint("write the millimetres that come out");
            reading.fault(value, fault);
        }
        spans.insert(format!("finished.{name}"), value.span());
        finished.push((name.to_owned(), *value.get_ref()));
    }
    finished
}

fn bounds(
    grams: &GramsToml,
    spans: &mut BTreeMap<String, Range<usize>>,
    reading: &mut Reading<'_>,
) -> (f64, f64) {
    for bound in [&grams.low, &grams.high] {
        if !bound.get_ref().is_finite() {
            let fault =
                Diagnostic::error(Code::Case, "a bound that is no mass").hint("write grams");
            reading.fault(bound, fault);
        }
    }
    spans.insert("grams".to_owned(), grams.low.span());
    spans.insert("grams.low".to_owned(), grams.low.span());
    spans.insert("grams.high".to_owned(), grams.high.span());
    if grams.low.get_ref() > grams.high.get_ref() {
        let fault = Diagnostic::error(Code::Case, "`low` is above `high`").hint("swap them");
        reading.fault(&grams.low, fault);
    }
    (*grams.low.get_ref(), *grams.high.get_ref())
}

#[cfg(test)]
mod tests {
    use super::*;

    const CASE: &str = "# A case.\nsize = \"women-m\"\n[options]\nwedges = 6\nease = \"-8 %\"\n\
        [expect.counts]\nwedges = 6\nneedles = 80\n[expect.finished]\ngirth = 512\n\
        [expect.grams]\nlow = 50\nhigh = 62.5\n";

    #[test]
    fn a_case_is_read_in_order_and_figures_are_replaced_in_place() {
        let file = parse_case("c.toml", CASE).expect("sound");
        assert_eq!(file.case.machine, "standard");
        assert_eq!(file.case.options[1], ("ease".to_owned(), "-8 %".to_owned()));
        assert_eq!(file.case.figures(), 5);
        assert_eq!(file.place("finished.girth").line, 10);
        let text = file.with_values(&[
            ("counts.needles".to_owned(), "120".to_owned()),
            ("grams.high".to_owned(), "70".to_owned()),
            ("counts.none".to_owned(), "1".to_owned()),
        ]);
        assert_eq!(text, CASE.replace("80", "120").replace("62.5", "70"));
    }

    #[test]
    fn fixed_numbers_are_read_as_keys_or_as_a_table() {
        let fixed = [("fix.rows", "8"), ("fix.wedges", "6")];
        let fixed = fixed.map(|(name, text)| (name.to_owned(), text.to_owned()));
        for options in
            ["[options]\nfix.wedges = 6\nfix.rows = 8", "[options.fix]\nrows = 8\nwedges = \"6\""]
        {
            let text = format!("size = \"y4\"\n{options}\n[expect]\n");
            let file = parse_case("c.toml", &text).expect("sound");
            assert_eq!(file.case.options, fixed, "{text}");
            assert!(file.place("options.fix.rows").line >= 2, "{text}");
        }
        let deep = "size = \"y4\"\n[options.fix]\nrows = [8]\n[expect]\n";
        assert!(parse_case("c.toml", deep).is_err());
    }

    #[test]
    fn an_empty_case_is_filled_with_what_can_be_read_again() {
        let file = parse_case("c.toml", "# Why.\nsize = \"women-m\"\n").expect("a size is enough");
        assert!(file.empty && !parse_case("c.toml", CASE).expect("sound").empty);
        let figures = Figures {
            counts: vec![("wedges".to_owned(), 6)],
            finished_mm: vec![("girth".to_owned(), 512.04)],
            grams: Some((50.0, 51.0)),
            tolerance_mm: TOLERANCE_MM,
        };
        let text = file.filled(&Expect::Knittable(figures.clone()));
        assert!(text.starts_with("# Why.\nsize = \"women-m\"\n\n[expect]\n"), "{text}");
        let again = parse_case("c.toml", &text).expect("reads again");
        let finished_mm = vec![("girth".to_owned(), 512.0)];
        assert_eq!(again.case.expect, Expect::Knittable(Figures { finished_mm, ..figures }));
        let refused = Expect::Refused { reason: "no \"ribber\"".to_owned() };
        let again = parse_case("c.toml", &file.filled(&refused)).expect("reads again");
        assert!(!again.empty);
        assert_eq!(again.case.expect, refused);
    }

    #[test]
    fn faults_are_placed_and_a_nearer_word_offered() {
        let cases = [
            ("size = \"y4\"\n[expect]\nknitable = true\n", 3, "did you mean `knittable`?"),
            ("size = \"y4\"\n[expect]\nknittable = false\n", 2, "reason"),
            (
                "size = \"y4\"\n[expect]\nknittable = false\nreason = \"x\"\n[expect.counts]\na = 1\n",
                6,
                "leave the figures out",
            ),
            ("size = \"y4\"\n[expect]\nreason = \"x\"\n", 3, "knittable = false"),
            ("size = \"y4\"\n[expect.grams]\nlow = 9\nhigh = 8\n", 3, "swap"),
            ("size = \"y4\"\n[expect.counts]\na = 1.5\n", 3, "numbers"),
            ("size = \"y4\"\n[options]\na = [1]\n[expect]\n", 3, "--set"),
            ("[expect]\nknittable = true\n", 1, "size"),
        ];
        for (text, line, words) in cases {
            let faults = parse_case("c.toml", text).expect_err(text);
            let fault = faults.iter().next().expect("one");
            assert_eq!(fault.place.as_ref().expect("placed").line, line, "{text}: {fault}");
            assert!(fault.hints.iter().any(|h| h.contains(words)), "{text}: {fault}");
        }
    }
}
