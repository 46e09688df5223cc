use super::grid::Grid;
use knit::estimate::OnScale;
use knit::stash::Reserve;

/// One garment and size (or run of sizes) as a row of the table.
#[derive(Clone, Debug, PartialEq)]
pub struct ReachRow<'a> {
    pub title: &'a str,
    /// The largest size covered, and how many sizes are.
    pub label: &'a str,
    pub sizes: usize,
    /// The section knitted from the remnant; `None`: everything.
    pub part: Option<&'a str>,
    /// Grams expected.
    pub grams: f64,
    pub to_have: f64,
    pub chance: Option<f64>,
    /// Of a garment that grows with an option: its name and the largest value, as typed.
    pub scaled: Option<(&'a str, &'a str)>,
}

/// The table, in grams. `have` is the remnant's weight.
pub fn reach_grid(
    rows: &[ReachRow<'_>],
    have: Option<OnScale>,
    reserve: Reserve,
    each: bool,
) -> Grid {
    let title = match have {
        Some(have) => match reserve {
            Reserve::Risk(risk) => format!(
                "What {:.0} g reaches, at a chance of running out of {} or less",
                have.grams,
                percent(risk)
            ),
            Reserve::Share(share) => {
                format!("What {:.0} g reaches, with {} kept back", have.grams, percent(share))
            }
        },
        None => match reserve {
            Reserve::Risk(risk) => {
                format!("What to have, for a chance of running out of {}", percent(risk))
            }
            Reserve::Share(share) => format!("What to have, with {} kept back", percent(share)),
        },
    };
    let mut headings = vec!["Garment".to_owned(), "In this yarn".to_owned()];
    headings.push(if each { "Size" } else { "Largest size" }.to_owned());
    if !each {
        headings.push("Sizes".to_owned());
    }
    headings.extend(["Needs g", "To have g"].map(str::to_owned));
    if have.is_some() {
        headings.extend(["Left g", "Runs out"].map(str::to_owned));
    }
    // Only where something grows with the yarn: the other tables stay as they are.
    let grows = rows.iter().any(|row| row.scaled.is_some());
    if grows {
        headings.push("As large as".to_owned());
    }
    let mut grid = Grid::new(title, headings);
    for row in rows {
        let part = row.part.map_or_else(|| "all".to_owned(), str::to_lowercase);
        let mut cells = vec![row.title.to_owned(), part, row.label.to_owned()];
        if !each {
            cells.push(row.sizes.to_string());
        }
        cells.push(format!("{:.1}", row.grams));
        cells.push(format!("{:.1}", row.to_have));
        if let (Some(have), Some(chance)) = (have, row.chance) {
            cells.push(format!("{:.0}", (have.grams - row.grams).max(0.0)));
            cells.push(percent(chance));
        }
        if grows {
            cells.push(
                row.scaled.map_or_else(String::new, |(name, value)| format!("{name} {value}")),
            );
        }
        grid.rows.push(cells);
    }
    grid
}

/// A chance in per cent, as fine as it means something.
fn percent(share: f64) -> String {
    match share * 100.0 {
        p if p > 0.0 && p < 0.1 => "under 0.1 %".to_owned(),
        p if p < 10.0 && (p - p.round()).abs() > 0.05 => format!("{p:.1} %"),
        p => format!("{p:.0} %"),
    }
}
