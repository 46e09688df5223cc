//! A garment that goes on from its middle: where the work stands, what changes, and the pattern from
//! there.

use serde_json::{Value, json};

use super::drawing::Holding;
use super::instructions::{Telling, counter, side_code};
use super::letters::small;
use super::pattern::{TextPage, chapters_data};
use super::print_look::PrintLook;
use super::told::{groups_from, title};
use super::vocabulary::said;
use crate::grade_json::round;
use knit::carry::{CarriedOn, CarriedSize, Uneven};
use knit::garment::Decision;
use knit::needle::Side;
use knit::run::PieceRun;
use units::LengthUnit;

/// How the work stands on the bed.
struct Standing<'a> {
    piece: &'a PieceRun,
    title: &'a str,
    counter: u32,
    carriage: Side,
    /// Stitches on needles that are not held.
    in_work: u32,
    held: String,
}

impl<'a> Standing<'a> {
    fn of(carried: &'a CarriedOn) -> Option<Standing<'a>> {
        let (_, made) = carried.after.good().next()?;
        let piece = made.graded.run.pieces.get(carried.at.piece)?;
        let rows = carried.at.rows;
        let last = rows.checked_sub(1).and_then(|last| piece.rows.get(last as usize));
        let mut held = Holding::default();
        let done = piece.events.iter().filter(|event| event.after_rows < rows);
        let in_work = done.fold(0, |_, event| {
            held.take(event);
            event.in_work
        });
        let held: Vec<String> = held.spans().map(|span| span.to_string()).collect();
        Some(Standing {
            piece,
            title: &piece.title,
            counter: last.map_or(0, |row| row.counter),
            carriage: last.map_or(Side::Right, |row| row.from.other()),
            in_work,
            held: held.join(" "),
        })
    }

    fn line(&self, rows: u32) -> String {
        if rows == 0 {
            return format!("{}: not begun yet.", self.title);
        }
        let held = match self.held.as_str() {
            "" => String::new(),
            held => format!("; in holding position: {held}"),
        };
        format!(
            "{}: {rows} of its {} rows are done. The row counter shows {}, {}; {} stitches{held}.",
            self.title,
            self.piece.rows.len(),
            counter(self.counter),
            side_code(self.carriage),
            self.in_work,
        )
    }
}

/// What is told before the pattern goes on, a line each.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CarryLines {
    pub standing: String,
    pub changes: Vec<String>,
    pub sizes: Vec<String>,
    pub yarn: Vec<String>,
}

/// What is told before the pattern goes on.
pub fn carry_lines(carried: &CarriedOn, look: PrintLook) -> CarryLines {
    let lines = usual_lines(carried, look.unit);
    let all = |texts: Vec<String>| texts.iter().map(|text| said(look.words, text)).collect();
    CarryLines {
        standing: said(look.words, &lines.standing),
        changes: all(lines.changes),
        sizes: all(lines.sizes),
        yarn: all(lines.yarn),
    }
}

fn usual_lines(carried: &CarriedOn, unit: LengthUnit) -> CarryLines {
    let standing = Standing::of(carried);
    let sizes = carried.sizes.iter().map(|size| size_line(size, unit));
    CarryLines {
        standing: standing.map_or_else(String::new, |standing| standing.line(carried.at.rows)),
        changes: changes(carried),
        sizes: sizes.chain(carried.uneven.iter().map(uneven_line)).collect(),
        yarn: yarn_lines(carried),
    }
}

/// The page as text, or as markdown.
pub fn carry_text(carried: &CarriedOn, look: PrintLook, markdown: bool) -> String {
    let mut page = TextPage::new(markdown, look.words);
    let from = (carried.at.piece, carried.done);
    let groups = groups_from(&carried.after, look.unit, Telling::Folded, from);
    let Some(group) = groups.first() else { return page.into_text() };
    let lines = usual_lines(carried, look.unit);
    page.heading(1, &format!("{}, carried on", title(&carried.after, group)));
    page.heading(2, "Where the work stands");
    page.items(&[lines.standing]);
    page.heading(2, "What changes");
    page.items(&lines.changes);
    page.heading(2, "Finished sizes");
    page.items(&lines.sizes);
    page.heading(2, "Yarn still to come");
    page.items(&lines.yarn);
    page.chapters(group);
    page.into_text()
}

fn changes(carried: &CarriedOn) -> Vec<String> {
    if carried.changed.is_empty() {
        return vec!["No number: go on as the pattern says.".to_owned()];
    }
    let line =
        |(was, is): &(Decision, Decision)| format!("{}: {}, not {}", is.title, is.value, was.value);
    carried.changed.iter().map(line).collect()
}

fn size_line(size: &CarriedSize, unit: LengthUnit) -> String {
    let cell = |mm: f64| unit.cell(mm);
    let (was, is) = (cell(size.before.mm), cell(size.after.mm));
    let mixed = size.mixed.map_or_else(String::new, |mixed| {
        format!(" ({} so far, {} from here on)", cell(mixed.before_mm), cell(mixed.after_mm))
    });
    let symbol = unit.symbol();
    if was == is {
        return format!("{}: {is} {symbol}, as promised{mixed}", size.after.title);
    }
    format!("{}: {is} {symbol} instead of {was}{mixed}", size.after.title)
}

/// Sewn row to row it would pull.
fn uneven_line(uneven: &Uneven) -> String {
    let Uneven { longer, shorter, by } = uneven;
    if longer == shorter {
        return format!(
            "{longer}: one side comes out {:.0} % longer than the other: ease it in",
            by * 100.0
        );
    }
    format!(
        "{longer} comes out {:.0} % longer than {shorter}, to which it is sewn: ease it in, or make up for it in the rows",
        by * 100.0,
        shorter = small(shorter)
    )
}

fn yarn_lines(carried: &CarriedOn) -> Vec<String> {
    let section = |section: &knit::yarn::SectionYarn| {
        let title = carried.after.garment.section_title(&section.name).to_lowercase();
        format!("{title}: {:.0} g", section.need.grams())
    };
    let need = &carried.to_come.need;
    let in_all = format!(
        "In all {:.0} g; 95 times in a hundred {:.0} to {:.0} g",
        need.grams(),
        need.next_within().low.floor(),
        need.next_within().high.ceil()
    );
    let sections = carried.to_come.sections.iter().filter(|s| s.need.grams() >= 0.5);
    sections.map(section).chain([in_all]).collect()
}

/// The page as data, the pattern from the place on with it. Lengths are mm, yarn grams.
pub fn carry_json(carried: &CarriedOn, unit: LengthUnit) -> String {
    let mut text = serde_json::to_string_pretty(&carry_value(carried, unit)).expect("plain data");
    text.push('\n');
    text
}

/// The same, as a value.
pub fn carry_value(carried: &CarriedOn, unit: LengthUnit) -> Value {
    let groups =
        groups_from(&carried.after, unit, Telling::AsProgrammed, (carried.at.piece, carried.done));
    let standing = Standing::of(carried);
    let sizes: Vec<Value> = carried
        .sizes
        .iter()
        .map(|size| {
            json!({
                "name": size.after.name,
                "title": size.after.title,
                "before_mm": round(size.before.mm, 1),
                "after_mm": round(size.after.mm, 1),
                "so_far_mm": size.mixed.map(|mixed| round(mixed.before_mm, 1)),
                "from_here_mm": size.mixed.map(|mixed| round(mixed.after_mm, 1)),
            })
        })
        .collect();
    let changed: Vec<Value> = carried
        .changed
        .iter()
        .map(|(was, is)| json!({ "name": is.name, "before": was.value, "after": is.value }))
        .collect();
    let need = &carried.to_come.need;
    json!({
        "garment": carried.after.garment.id,
        "stands": standing.map(|standing| json!({
            "piece": standing.piece.name,
            "rows_done": carried.at.rows,
            "rows": standing.piece.rows.len(),
            "counter": standing.counter,
            "carriage": standing.carriage.name(),
            "stitches": standing.in_work,
            "held": standing.held,
        })),
        "settled": carried.spent,
        "changed": changed,
        "finished": sizes,
        "uneven": carried.uneven.iter().map(|one| json!({
            "longer": one.longer, "shorter": one.shorter, "by": round(one.by, 4),
        })).collect::<Vec<_>>(),
        "yarn_to_come": {
            "grams": round(need.grams(), 1),
            "low": round(need.next_within().low, 1),
            "high": round(need.next_within().high, 1),
        },
        "chapters": groups.first().map(chapters_data),
    })
}
