//! A shopping list as a page, as rows, as JSON.

use serde_json::{Value, json};

use super::grid::{Format, Grid};
use super::plan_page::plan_value;
use knit::gift_plan::{ShoppingFor, ShoppingList, ToBuy};

/// Writes a shopping list out.
pub fn shopping_page(list: &ShoppingList, format: Format) -> String {
    match format {
        Format::Json => format!("{:#}\n", shopping_value(list)),
        Format::Csv => shopping_rows(list).write(format),
        Format::Table | Format::Markdown => page(list, format),
    }
}

/// A shopping list as data.
pub fn shopping_value(list: &ShoppingList) -> Value {
    let (balls, grams, price) = list.total();
    let row = |row: &ToBuy| {
        json!({"yarn": row.yarn, "balls": row.balls, "ball_grams": row.ball_g,
               "ball_assumed": row.assumed, "grams": f64::from(row.balls) * row.ball_g,
               "price": row.price.map(hundredth), "left_grams": tenth(row.left_g)})
    };
    json!({
        "buy": list.rows.iter().map(row).collect::<Vec<_>>(),
        "balls": balls, "grams": tenth(grams), "price": price.map(hundredth),
        "sparing": list.sparing.name(), "cost": list.cost, "least": list.least,
        "proven": list.proven, "possible": list.possible, "missing": list.missing,
        "plan": plan_value(&list.plan),
    })
}

fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn hundredth(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// What to buy yarn by yarn, a row each.
pub fn shopping_rows(list: &ShoppingList) -> Grid {
    let headings = ["Yarn", "Name", "Balls", "Grams", "Price", "Left over g"];
    let mut grid = Grid::new("", headings.map(str::to_owned).to_vec());
    for row in &list.rows {
        grid.rows.push(vec![
            row.yarn.clone(),
            row.name.clone(),
            row.balls.to_string(),
            format!("{:.0}", f64::from(row.balls) * row.ball_g),
            row.price.map_or_else(String::new, |price| format!("{price:.2}")),
            format!("{:.1}", row.left_g),
        ]);
    }
    grid
}

fn page(list: &ShoppingList, format: Format) -> String {
    let title = "What to buy";
    let line = "-".repeat(title.len());
    let mut text = match format {
        Format::Markdown => format!("# {title}\n\n"),
        _ => format!("{title}\n{line}\n"),
    };
    if !list.rows.is_empty() {
        text.push_str(&shopping_rows(list).write(format));
        text.push('\n');
    }
    for line in shopping_lines(list) {
        text.push_str(&format!("{line}\n"));
    }
    for caution in shopping_cautions(list) {
        text.push_str(&format!("- {caution}\n"));
    }
    text
}

/// What is said below the rows: what they come to, how good the list is, what is then made.
pub fn shopping_lines(list: &ShoppingList) -> Vec<String> {
    let nothing = || "Nothing: what can be made is made from the stash.".to_owned();
    let all = list.plan.gifts.len() + list.plan.left_out.len();
    let mut lines = vec![if list.rows.is_empty() { nothing() } else { total(list) }];
    // Of no ball at all it needs no saying that fewer won't do.
    if !list.rows.is_empty() || !list.proven {
        lines.push(goodness(list));
    }
    lines.push(format!("{} of {all} gifts are then made.", list.plan.gifts.len()));
    if !list.possible.is_empty() {
        lines.push(format!("Possible by it: {}.", list.possible.join(", ")));
    }
    if !list.missing.is_empty() {
        let why = "no yarn of yours lets them in beside the others in time";
        lines.push(format!("Not made even so ({why}): {}.", list.missing.join(", ")));
    }
    lines
}

fn total(list: &ShoppingList) -> String {
    let (balls, grams, price) = list.total();
    let price = price.map_or(String::new(), |price| format!(", for {price:.2}"));
    let balls_are = if balls == 1 { "1 ball".to_owned() } else { format!("{balls} balls") };
    format!("{balls_are}, {grams:.0} g{price}.")
}

/// How sure it is that no list is better.
fn goodness(list: &ShoppingList) -> String {
    if let ShoppingFor::Money(money) = list.wanted {
        let worth = list.plan.worth;
        return if list.proven {
            format!(
                "Proven: {money:.2} buy no plan worth more than its {:.1} points.",
                worth.objective
            )
        } else {
            format!(
                "Its plan is worth {:.1} points; {money:.2} buy none worth more than {:.1} ({:.1} % more).",
                worth.objective,
                worth.bound,
                worth.gap * 100.0
            )
        };
    }
    let what = list.sparing.name();
    if list.proven {
        format!("Proven least: no list with less {what} makes these gifts.")
            .replace("less balls", "fewer balls")
            .replace("less grams", "fewer grams")
    } else if list.least > 0.0 {
        let more = (list.cost / list.least - 1.0) * 100.0;
        format!("At most {more:.0} % more {what} than the least that could do.")
    } else {
        "How much less could do is not known: allow more --work.".to_owned()
    }
}

/// What to mind when buying.
pub fn shopping_cautions(list: &ShoppingList) -> Vec<String> {
    let mut told = Vec::new();
    if list.rows.iter().any(|row| row.balls > 1) {
        told.push(
            "Buy all balls of a yarn in one go, of the same dye lot: the list counts on it."
                .to_owned(),
        );
    }
    if !list.rows.is_empty() {
        told.push(
            "A new ball is not joined to yarn that you have: its dye lot may be another."
                .to_owned(),
        );
    }
    let assumed: Vec<&str> =
        list.rows.iter().filter(|row| row.assumed).map(|row| row.yarn.as_str()).collect();
    if !assumed.is_empty() {
        told.push(format!(
            "A ball is taken to weigh 50 g where nothing says otherwise: {}. Write `ball_g = 100` into the \
             yarn's file where it weighs 100 g.",
            assumed.join(", ")
        ));
    }
    told
}
