//! One `[own_measures.NAME]` of plugin.toml: a body measure that the garment makes known.

use std::ops::Range;

use toml::de::DeTable;

use diag::{Diagnostics, Place};
use knit::body::{FillRule, Fit, MeasureSpec, Measures, OwnMeasure};

use super::kind::ManifestKind;
use super::toml_table::{ManifestReader, TomlTable};

const KEYS: [&str; 5] = ["title", "meaning", "source", "part", "fill"];
const LINE_KEYS: [&str; 8] = ["from", "times", "plus", "spread", "for", "r2", "mean", "source"];

/// The measures that a plugin.toml makes known, whatever else is wrong with it. Those that can't be
/// read are left out: loading the garment says why.
pub fn own_measures(text: &str) -> Vec<OwnMeasure> {
    let (root, _) = DeTable::parse_recoverable(text);
    let mut reader = ManifestReader {
        kind: ManifestKind::Garment,
        file: "",
        text,
        faults: Diagnostics::new(),
        misspelt: Vec::new(),
    };
    let root = TomlTable { table: root.get_ref(), span: 0..0, what: "plugin.toml" };
    reader.own_measures(&root, None)
}

impl ManifestReader<'_> {
    /// `known` are the measures there are already; without them nothing is said of where lines come
    /// from.
    pub fn own_measures(
        &mut self,
        root: &TomlTable<'_>,
        known: Option<&[&str]>,
    ) -> Vec<OwnMeasure> {
        let Some(table) = self.table_of(root, "own_measures") else { return Vec::new() };
        if table.table.len() > MOST_MEASURES {
            self.push(
                table.span.clone(),
                format!("plugin.toml makes more than {MOST_MEASURES} body measures known"),
                "put those that others use too into a size table",
            );
            return Vec::new();
        }
        let mut own = Vec::new();
        let mut places: Vec<Vec<Range<usize>>> = Vec::new();
        for (name, span, value) in table.in_order() {
            let what = format!("body measure `{name}`");
            let Some(table) = value.get_ref().as_table() else {
                self.push(
                    value.span(),
                    format!("{what} must be a table"),
                    format!("write `[own_measures.{name}]` and its keys below"),
                );
                continue;
            };
            if let Err(fault) = MeasureSpec::check_name(name) {
                self.faults.push_placed(fault, self.file, self.text, span);
                continue;
            }
            let keys = TomlTable { table, span, what: &what };
            if let Some((measure, lines)) = self.own_measure(name, &keys) {
                own.push(measure);
                places.push(lines);
            }
        }
        if let Some(known) = known {
            self.check_lines(known, &own, &places);
        }
        own
    }

    /// The measure, and where each of its lines stands.
    fn own_measure(
        &mut self,
        name: &str,
        keys: &TomlTable<'_>,
    ) -> Option<(OwnMeasure, Vec<Range<usize>>)> {
        self.unknown_keys(keys, &KEYS);
        let told = self.faults.iter().count();
        let [title, meaning, source] =
            ["title", "meaning", "source"].map(|key| self.text_of(keys, key));
        let part = keys.get("part").and_then(|value| {
            let word = self.text_of(keys, "part");
            match word.parse() {
                Ok(part) => Some(part),
                Err(fault) => {
                    self.faults.push_placed(fault, self.file, self.text, value.span());
                    None
                }
            }
        });
        let (mut fill, mut places) = (Vec::new(), Vec::new());
        for (line, span) in self.lines_of(keys) {
            let line = TomlTable { table: line, span: span.clone(), what: "this line" };
            if let Some(rule) = self.fill_rule(name, &source, &line) {
                fill.push(rule);
                places.push(span);
            }
        }
        let sound = self.faults.iter().count() == told;
        let spec = MeasureSpec { part, ..MeasureSpec::new(name, &title, &meaning, &source) };
        sound.then_some((OwnMeasure { spec, fill }, places))
    }

    fn lines_of<'t>(&mut self, keys: &TomlTable<'t>) -> Vec<(&'t DeTable<'t>, Range<usize>)> {
        let Some(value) = keys.get("fill") else { return Vec::new() };
        let lines = value.get_ref().as_array().filter(|lines| lines.len() <= MOST_LINES);
        let lines = lines.and_then(|lines| {
            let tables = lines.iter().map(|line| Some((line.get_ref().as_table()?, line.span())));
            tables.collect::<Option<Vec<_>>>()
        });
        if lines.is_none() {
            self.push(
                value.span(),
                format!("`fill` must be a list of lines, {MOST_LINES} at most"),
                "write `fill = [{ from = \"hand_girth\", times = 0.3, plus = 2, spread = 4 }]`",
            );
        }
        lines.unwrap_or_default()
    }

    fn fill_rule(&mut self, of: &str, source: &str, line: &TomlTable<'_>) -> Option<FillRule> {
        self.unknown_keys(line, &LINE_KEYS);
        let from = self.text_of(line, "from");
        let times = self.real(line, "times");
        let plus_mm = if line.get("plus").is_some() { self.real(line, "plus") } else { Some(0.0) };
        let spread_mm = self.real(line, "spread");
        let fit = if line.get("r2").is_some() || line.get("mean").is_some() {
            let (r2, mean_x_mm) = (self.real(line, "r2"), self.real(line, "mean"));
            Some(Fit { r2: r2?, mean_x_mm: mean_x_mm? })
        } else {
            None
        };
        let mut stages = Vec::new();
        for (word, span) in self.list_of(line, "for") {
            match word.parse() {
                Ok(stage) => stages.push(stage),
                Err(fault) => self.faults.push_placed(fault, self.file, self.text, span),
            }
        }
        let source = match line.get("source") {
            Some(_) => self.text_of(line, "source"),
            None => source.to_owned(),
        };
        Some(FillRule {
            of: of.to_owned(),
            from,
            stages,
            times: times?,
            plus_mm: plus_mm?,
            spread_mm: spread_mm?,
            fit,
            source,
        })
    }

    /// Lines that come from nothing known, that go in a circle, and figures that can't be. What the
    /// known measures mean isn't known here: that is held against them when the garment is loaded.
    fn check_lines(&mut self, known: &[&str], own: &[OwnMeasure], places: &[Vec<Range<usize>>]) {
        let mut measures = Measures::new();
        let names = own.iter().map(|own| own.spec.name.as_str());
        for name in known.iter().copied().chain(names) {
            // A name that is known twice is one here.
            let _ = measures.add(MeasureSpec::new(name, "", "", ""));
        }
        for (own, places) in own.iter().zip(places) {
            for (rule, span) in own.fill.iter().zip(places) {
                if let Err(fault) = measures.fill(rule) {
                    let place = Place::from_span(self.file, self.text, span.clone());
                    self.faults.push(fault.at(place));
                }
            }
        }
    }
}

/// More than any garment needs, and few enough that a circle among them is found at once.
const MOST_MEASURES: usize = 40;
const MOST_LINES: usize = 12;
