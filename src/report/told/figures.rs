//! How figures that differ by size are told: in brackets, or by a letter whose table has a column a
//! size.

use super::by_size::BySize;
use crate::Grid;
use knit::body::Body;

/// So many sizes are told in brackets; more are not read at a machine without a slip.
pub(crate) const MOST_IN_BRACKETS: usize = 3;

/// As many columns as stand beside each other on a page upright.
const COLUMNS: usize = 8;

/// Characters that a column holds without being wider than its neighbours.
const LONGEST: usize = 16;

/// In the column of a size that has no such step.
const NO_FIGURE: &str = "-";

/// Without those that are taken for a figure or a stroke.
const LETTERS: &[u8] = b"abcdefghjkmnpqrstuvwxyz";

/// The figures of a pattern, as they are met.
pub(crate) enum Figures<'a> {
    /// "20 (34, 38)".
    Brackets,
    /// The same for data: lengths in inches as decimals.
    Data,
    /// "[c]": whose the columns are, the rows of the table so far, and how many letters were given before.
    Letters { sizes: Vec<&'a Body>, rows: Vec<(String, BySize<'a, String>)>, before: usize },
}

impl<'a> Figures<'a> {
    /// For these sizes, in their order.
    pub fn for_sizes(sizes: Vec<&'a Body>) -> Figures<'a> {
        if sizes.len() > MOST_IN_BRACKETS {
            Figures::Letters { sizes, rows: Vec::new(), before: 0 }
        } else {
            Figures::Brackets
        }
    }

    /// Whether each size has a column.
    pub fn in_columns(&self) -> bool {
        matches!(self, Figures::Letters { .. })
    }

    /// Whether these are better told size by size below the line than looked up: no column is wide
    /// enough for them.
    pub fn lists(&self, all: &BySize<'a, String>) -> bool {
        let long = || all.values().any(|text| text.chars().count() > LONGEST);
        self.in_columns() && all.one_for_all().is_none() && long()
    }

    pub fn told(&mut self, all: &BySize<'a, String>) -> String {
        match self {
            Figures::Brackets => all.bracketed(String::clone),
            Figures::Data => all.bracketed(|figure| units::decimal_inches(figure)),
            Figures::Letters { rows, before, .. } => {
                if let Some(one) = all.one_for_all() {
                    return one.clone();
                }
                let tail = common_tail(all);
                let all = &all.map(|text| text[..text.len() - tail.len()].to_owned());
                let known = rows.iter().find(|(_, row)| row == all);
                let letter = known.map(|(letter, _)| letter.clone()).unwrap_or_else(|| {
                    let letter = letter(*before + rows.len());
                    rows.push((letter.clone(), all.clone()));
                    letter
                });
                format!("[{letter}]{tail}")
            }
        }
    }

    /// The table of what was told since, in parts that a page is wide enough for. Letters go on after
    /// it, so that none is used twice. A size that has none of them has no column.
    pub fn take_tables(&mut self) -> Vec<Grid> {
        let Figures::Letters { sizes, rows, before } = self else { return Vec::new() };
        let rows = std::mem::take(rows);
        *before += rows.len();
        let has = |size: &&&Body| rows.iter().any(|(_, row)| row.of(size).is_some());
        let sizes: Vec<&Body> = sizes.iter().filter(has).copied().collect();
        if sizes.is_empty() {
            return Vec::new();
        }
        let parts = sizes.len().div_ceil(COLUMNS);
        // Parts of one width rather than a full one and a rest.
        let wide = sizes.len().div_ceil(parts);
        let part = |own: &[&Body]| {
            let title = match (parts, own) {
                (2.., [first, .., last]) => {
                    format!("Figures by size, {} to {}", first.label, last.label)
                }
                (2.., [one]) => format!("Figures by size, {}", one.label),
                _ => "Figures by size".to_owned(),
            };
            let mut headings = vec!["Figure".to_owned()];
            headings.extend(own.iter().map(|size| size.label.clone()));
            let mut grid = Grid::new(title, headings);
            let cell = |row: &BySize<'_, String>, size: &Body| {
                row.of(size).cloned().unwrap_or_else(|| NO_FIGURE.to_owned())
            };
            grid.rows = rows
                .iter()
                .map(|(letter, row)| {
                    let cells = own.iter().map(|size| cell(row, size));
                    std::iter::once(format!("[{letter}]")).chain(cells).collect()
                })
                .collect();
            grid
        };
        sizes.chunks(wide).map(part).collect()
    }
}

/// The words that all of them end in, as " times" of "21 times" and "24 times".
fn common_tail(all: &BySize<'_, String>) -> String {
    let first = all.first();
    let tail = first.find(' ').map_or("", |at| &first[at..]);
    let alike = all.values().all(|text| text.ends_with(tail) && text.len() > tail.len());
    if alike { tail.to_owned() } else { String::new() }
}

/// a, b, ... z, aa, ab, ...
fn letter(nth: usize) -> String {
    let one = |nth: usize| char::from(LETTERS[nth % LETTERS.len()]);
    match nth.checked_sub(LETTERS.len()) {
        None => one(nth).to_string(),
        Some(rest) => format!("{}{}", letter(rest / LETTERS.len()), one(rest)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bodies(count: usize) -> Vec<Body> {
        let body = |n: usize| Body {
            id: format!("s{n}").parse().expect("an id"),
            label: format!("Size {n}"),
            values: std::collections::BTreeMap::new(),
        };
        (0..count).map(body).collect()
    }

    fn row<'a>(bodies: &'a [Body], of: impl Fn(usize) -> usize) -> BySize<'a, String> {
        let first = BySize::new(&bodies[0], of(0).to_string());
        let rest = bodies.iter().enumerate().skip(1);
        rest.fold(first, |all, (n, body)| all.and(body, of(n).to_string()))
    }

    #[test]
    fn each_figure_is_in_the_column_of_its_size() {
        let bodies = bodies(21);
        let mut figures = Figures::for_sizes(bodies.iter().collect());
        assert_eq!(figures.told(&row(&bodies, |_| 8)), "8");
        assert_eq!(figures.told(&row(&bodies, |n| n)), "[a]");
        assert_eq!(figures.told(&row(&bodies, |n| n * 2)), "[b]");
        assert_eq!(figures.told(&row(&bodies, |n| n)), "[a]");
        let tables = figures.take_tables();
        assert_eq!(tables.len(), 3);
        let mut seen = Vec::new();
        for table in &tables {
            for (column, label) in table.headings.iter().enumerate().skip(1) {
                let n: usize = label.trim_start_matches("Size ").parse().expect("a number");
                assert_eq!(table.rows[0][column], n.to_string());
                assert_eq!(table.rows[1][column], (n * 2).to_string());
                seen.push(n);
            }
        }
        assert_eq!(seen, (0..21).collect::<Vec<_>>());
        assert!(figures.take_tables().is_empty());
        assert_eq!(figures.told(&row(&bodies, |n| n)), "[c]", "no letter is used twice");
    }

    #[test]
    fn who_has_no_such_step_has_no_figure() {
        let bodies = bodies(12);
        let mut figures = Figures::for_sizes(bodies.iter().collect());
        let few = BySize::new(&bodies[1], "4".to_owned()).and(&bodies[10], "6".to_owned());
        assert_eq!(figures.told(&few), "[a]");
        let tables = figures.take_tables();
        assert_eq!(tables[0].headings, ["Figure", "Size 1", "Size 10"]);
        assert_eq!(tables[0].rows, [["[a]", "4", "6"]]);
        figures.told(&few);
        figures.told(&row(&bodies, |n| n));
        let tables = figures.take_tables();
        assert_eq!(tables[0].rows[0], ["[b]", "-", "4", "-", "-", "-", "-"]);
        assert_eq!(tables[1].rows[0], ["[b]", "-", "-", "-", "-", "6", "-"]);
    }

    #[test]
    fn words_that_all_end_in_stay_in_the_line_and_long_ones_are_lists() {
        let bodies = bodies(4);
        let mut figures = Figures::for_sizes(bodies.iter().collect());
        let times = row(&bodies, |n| n).map(|n| format!("{n} times"));
        assert_eq!(figures.told(&times), "[a] times");
        assert_eq!(figures.take_tables()[0].rows[0], ["[a]", "0", "1", "2", "3"]);
        let long = times.map(|text| format!("{text}, then two more of them"));
        assert!(figures.lists(&long) && !figures.lists(&times) && !Figures::Brackets.lists(&long));
    }

    #[test]
    fn few_sizes_are_in_brackets() {
        let bodies = bodies(3);
        let mut figures = Figures::for_sizes(bodies.iter().collect());
        assert_eq!(figures.told(&row(&bodies, |n| n)), "0 (1, 2)");
        assert!(figures.take_tables().is_empty());
    }

    #[test]
    fn letters_go_on_in_pairs() {
        let all: Vec<String> = (0..700).map(letter).collect();
        assert_eq!((&*all[0], &*all[22], &*all[23], &*all[46]), ("a", "z", "aa", "ba"));
        let mut once = all.clone();
        once.sort_unstable();
        once.dedup();
        assert_eq!(once.len(), all.len());
    }
}
