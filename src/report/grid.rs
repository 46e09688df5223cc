pub(crate) use super::letters::capital;
use super::vocabulary::said;
use knit::stash::Words;
use tabled::builder::Builder;
use tabled::settings::object::{Columns, Rows};
use tabled::settings::{Alignment, Modify, Style, Width};
use units::{LengthUnit, decimal_inches};

/// How rows are written out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    Table,
    Json,
    Csv,
    Markdown,
}

impl Format {
    pub const ALL: [Format; 4] = [Format::Table, Format::Json, Format::Csv, Format::Markdown];

    /// What it is asked for by.
    pub const fn name(self) -> &'static str {
        match self {
            Format::Table => "table",
            Format::Json => "json",
            Format::Csv => "csv",
            Format::Markdown => "markdown",
        }
    }

    pub fn named(name: &str) -> Option<Format> {
        Format::ALL.into_iter().find(|format| format.name() == name)
    }
}

/// A table of texts: what every row report is before it is written out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Grid {
    pub title: String,
    pub headings: Vec<String>,
    /// As many cells as headings.
    pub rows: Vec<Vec<String>>,
    /// For each row the tag of what it is about, by which a change says what it saw; only JSON tells
    /// it. Empty where rows have none.
    pub tags: Vec<String>,
    /// Words rather than figures: columns begin at the left and long cells are wrapped.
    pub wordy: bool,
    /// Columns of inches, as they are printed: programs are given them as decimals.
    pub inches: Vec<usize>,
}

impl Grid {
    pub fn new(title: impl Into<String>, headings: Vec<String>) -> Grid {
        Grid { title: title.into(), headings, ..Grid::default() }
    }

    /// The same in these words of the trade.
    #[must_use]
    pub fn in_words(&self, words: Words) -> Grid {
        self.map_texts(|text| said(words, text))
    }

    /// Itself, or, where it would be wider than so many characters as a table, parts of it below each
    /// other, the first column in each.
    pub(crate) fn parts(&self, format: Format, width: usize) -> Vec<Grid> {
        let column = |at: usize| -> usize {
            let cells = self.rows.iter().map(|row| row[at].chars().count());
            let head = folded(&self.headings[at]);
            cells.chain(head.lines().map(|line| line.chars().count())).max().unwrap_or(0) + 2
        };
        let wide: Vec<usize> = (0..self.headings.len()).map(column).collect();
        if format != Format::Table || self.wordy || wide.iter().sum::<usize>() <= width + 2 {
            return vec![self.clone()];
        }
        let mut parts: Vec<Vec<usize>> = Vec::new();
        let mut used = width + 3;
        for at in 1..wide.len() {
            if used + wide[at] > width + 2 {
                parts.push(vec![0]);
                used = wide[0];
            }
            used += wide[at];
            if let Some(part) = parts.last_mut() {
                part.push(at);
            }
        }
        let part = |(nth, columns): (usize, &Vec<usize>)| {
            let of = |row: &[String]| columns.iter().map(|at| row[*at].clone()).collect();
            let title = match nth {
                0 => self.title.clone(),
                _ => format!("{} (continued)", self.title),
            };
            Grid {
                rows: self.rows.iter().map(|row| of(row)).collect(),
                ..Grid::new(title, of(&self.headings))
            }
        };
        parts.iter().enumerate().map(part).collect()
    }

    /// The same with each of its texts said otherwise.
    pub(crate) fn map_texts(&self, say: impl Fn(&str) -> String) -> Grid {
        let all = |texts: &[String]| texts.iter().map(|text| say(text)).collect();
        Grid {
            title: say(&self.title),
            headings: all(&self.headings),
            rows: self.rows.iter().map(|row| all(row)).collect(),
            ..self.clone()
        }
    }

    /// A cell as programs are given it.
    fn plain(&self, column: usize, cell: &str) -> String {
        if self.inches.contains(&column) { decimal_inches(cell) } else { cell.to_owned() }
    }

    /// Writes the grid out; ends with a newline. `Json` is an array of objects keyed by heading.
    pub fn write(&self, format: Format) -> String {
        match format {
            Format::Table => self.table(),
            Format::Markdown => self.markdown(),
            Format::Csv => self.csv(),
            Format::Json => self.json(),
        }
    }

    fn table(&self) -> String {
        let mut builder = Builder::default();
        if self.wordy {
            builder.push_record(&self.headings);
        } else {
            builder.push_record(self.headings.iter().map(|heading| folded(heading)));
        }
        for row in &self.rows {
            builder.push_record(row);
        }
        let mut table = builder.build();
        table.with(Style::blank().remove_verticals().horizontals([(
            1,
            tabled::settings::style::HorizontalLine::new('-').intersection('-'),
        )]));
        table.with(tabled::settings::Padding::new(0, 2, 0, 0));
        if self.wordy {
            table.with(Modify::new(Columns::new(1..)).with(Width::wrap(60).keep_words(true)));
        } else if self.headings.len() > 1 {
            table.with(Modify::new(Columns::new(1..)).with(Alignment::right()));
        }
        table.with(Modify::new(Rows::first()).with(Alignment::bottom()));
        let mut text = String::new();
        if !self.title.is_empty() {
            text.push_str(&self.title);
            text.push('\n');
        }
        for line in table.to_string().lines() {
            text.push_str(line.trim_end());
            text.push('\n');
        }
        text
    }

    fn markdown(&self) -> String {
        let mut text = String::new();
        if !self.title.is_empty() {
            text.push_str(&format!("### {}\n\n", self.title));
        }
        let clean = |cell: &String| cell.replace('|', "\\|").replace('\n', " ");
        let line = |cells: &[String]| {
            format!("| {} |\n", cells.iter().map(clean).collect::<Vec<_>>().join(" | "))
        };
        text.push_str(&line(&self.headings));
        let rules: Vec<String> = (0..self.headings.len())
            .map(|i| if i == 0 { "---".to_owned() } else { "---:".to_owned() })
            .collect();
        text.push_str(&line(&rules));
        for row in &self.rows {
            text.push_str(&line(row));
        }
        text
    }

    fn csv(&self) -> String {
        let mut writer = csv::Writer::from_writer(Vec::new());
        let one_line = |cell: &String| guarded(cell.replace('\n', " "));
        // Writing into memory can't fail; a row of another length would, and is a bug here.
        let mut all = vec![self.headings.iter().map(one_line).collect::<Vec<_>>()];
        all.extend(self.rows.iter().map(|row| {
            row.iter().enumerate().map(|(i, cell)| one_line(&self.plain(i, cell))).collect()
        }));
        for record in all {
            writer.write_record(&record).expect("rows as long as the headings");
        }
        let bytes = writer.into_inner().expect("memory takes all");
        String::from_utf8(bytes).expect("text in, text out")
    }

    fn json(&self) -> String {
        let rows: Vec<serde_json::Value> = self
            .rows
            .iter()
            .enumerate()
            .map(|(i, row)| {
                let row = row.iter().enumerate().map(|(i, cell)| self.plain(i, cell));
                let cells = self.headings.iter().zip(row);
                let tag = self.tags.get(i).map(|tag| ("tag".to_owned(), tag.as_str().into()));
                let object: serde_json::Map<String, serde_json::Value> = cells
                    .map(|(heading, cell)| (heading.replace('\n', " "), typed(&cell)))
                    .chain(tag)
                    .collect();
                serde_json::Value::Object(object)
            })
            .collect();
        let mut text = serde_json::to_string_pretty(&rows).expect("plain data");
        text.push('\n');
        text
    }
}

/// The columns that are inches, where the columns of these units stand behind the first.
pub(super) fn inch_columns<'u>(units: impl Iterator<Item = &'u LengthUnit>) -> Vec<usize> {
    units.enumerate().filter(|(_, unit)| **unit == LengthUnit::In).map(|(i, _)| i + 1).collect()
}

/// A heading on several short lines, so that columns are no wider than their figures.
fn folded(heading: &str) -> String {
    const NARROW: usize = 8;
    let mut lines: Vec<String> = vec![String::new()];
    for word in heading.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.is_empty() => line.push_str(word),
            Some(line) if line.chars().count() + 1 + word.chars().count() <= NARROW => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines.join("\n")
}

/// Spreadsheets take a cell that begins like a formula for one, whoever wrote it: such a cell begins
/// with an apostrophe instead, as the Open Worldwide Application Security Project advises ("CSV
/// Injection"). Figures stay figures; a mere stroke, and `+/-` with what follows, begin no formula.
fn guarded(cell: String) -> String {
    const BEGINS: [char; 8] = ['=', '+', '-', '@', '＝', '＋', '－', '＠'];
    let first = cell.trim_start_matches(|c: char| c.is_whitespace() || c.is_control());
    let risky = first.starts_with(BEGINS) || cell.starts_with(['\t', '\r']);
    let ours = cell == "-" || cell.starts_with("+/-") || is_figure(&cell);
    if risky && !ours { format!("'{cell}") } else { cell }
}

/// Whether a cell is a number and nothing else, or so many per cent.
fn is_figure(cell: &str) -> bool {
    let cell = cell.strip_suffix(" %").unwrap_or(cell);
    let bare = cell.strip_prefix(['+', '-']).unwrap_or(cell);
    let (whole, part) = bare.split_once('.').unwrap_or((bare, "0"));
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    digits(whole) && digits(part)
}

/// A cell that is a number in full becomes a number.
fn typed(cell: &str) -> serde_json::Value {
    cell.parse::<f64>()
        .ok()
        .filter(|n| n.is_finite())
        .and_then(|n| {
            if cell.contains('.') {
                serde_json::Number::from_f64(n)
            } else {
                Some((n as i64).into())
            }
        })
        .map_or_else(|| cell.into(), serde_json::Value::Number)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample() -> Grid {
        let mut grid = Grid::new("Heads", vec!["Size".into(), "Girth, cm".into()]);
        grid.rows.push(vec!["5-6 y, \"tall\"".into(), "50.8".into()]);
        grid
    }

    #[test]
    fn csv_quotes_and_markdown_escapes() {
        let mut grid = sample();
        assert_eq!(grid.write(Format::Csv), "Size,\"Girth, cm\"\n\"5-6 y, \"\"tall\"\"\",50.8\n");
        grid.rows[0][0] = "a|b".into();
        assert!(grid.write(Format::Markdown).contains("| a\\|b | 50.8 |"));
    }

    #[test]
    fn csv_gives_spreadsheets_nothing_to_work_out() {
        for risky in [
            "=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", " =1", "＝1", "-", "+", "--1",
            "-1.5.2", "-8.0 cm", "-inf", "+5 %%", "\n=1", "-1e9", "- %",
        ] {
            let cell = guarded(risky.replace('\n', " "));
            assert_eq!(cell.starts_with('\''), risky != "-", "{risky:?}");
        }
        for plain in
            ["+/-", "+/- rows", "-8.0", "+3", "8", "-12 %", "+5 %", "", "a=b", "'=1", "5-6 y"]
        {
            assert_eq!(guarded(plain.to_owned()), plain);
        }
        let mut grid = sample();
        grid.headings[0] = "=HYPERLINK(\"x\")".into();
        grid.rows[0][0] = "@x, y".into();
        let csv = "\"'=HYPERLINK(\"\"x\"\")\",\"Girth, cm\"\n\"'@x, y\",50.8\n";
        assert_eq!(grid.write(Format::Csv), csv);
    }

    #[test]
    fn json_tells_numbers_from_words() {
        let json: serde_json::Value =
            serde_json::from_str(&sample().write(Format::Json)).expect("json");
        assert_eq!(json[0]["Girth, cm"], 50.8);
        assert_eq!(json[0]["Size"], "5-6 y, \"tall\"");
    }

    #[test]
    fn inches_are_fractions_to_read_and_decimals_for_programs() {
        let mut grid = Grid { inches: vec![1], ..sample() };
        grid.rows = vec![vec!["1/2".into(), "9 1/4".into()]];
        assert!(grid.write(Format::Table).contains("9 1/4"));
        assert!(grid.write(Format::Csv).ends_with("1/2,9.25\n"));
        let json: serde_json::Value =
            serde_json::from_str(&grid.write(Format::Json)).expect("json");
        assert_eq!((&json[0]["Size"], &json[0]["Girth, cm"]), (&"1/2".into(), &9.25.into()));
    }

    #[test]
    fn a_table_has_no_trailing_blanks() {
        assert!(sample().write(Format::Table).lines().all(|l| l == l.trim_end()));
    }
}
