use serde_json::{Value, json};

use super::grid::{Format, Grid};
use knit::record::{Learnt, TakenSection};

/// What a finished piece took against what was expected, and what was learnt.
pub fn record_page(sections: &[TakenSection], learnt: &[Learnt]) -> String {
    let headings = ["Section", "Yarn", "Took g", "Expected g", "Differs"].map(str::to_owned);
    let mut grid = Grid::new("What it took", headings.to_vec());
    for section in sections {
        let expected = section.expected.mean;
        let differs = if expected > 0.0 {
            format!("{:+.0} %", (section.took_g / expected - 1.0) * 100.0)
        } else {
            "-".to_owned()
        };
        grid.rows.push(vec![
            section.section.clone(),
            section.yarn.clone(),
            format!("{:.1}", section.took_g),
            format!("{expected:.1} ± {:.1}", section.expected.sd),
            differs,
        ]);
    }
    let mut text = grid.write(Format::Table);
    for one in learnt {
        text.push_str(&format!(
            "{}, {}: a stitch takes {:.2} mm ± {:.1} % now; before, {:.2} mm ± {:.1} % (from {})\n",
            one.yarn,
            one.structure,
            one.after.mm,
            one.after.relative_error * 100.0,
            one.before.mm,
            one.before.relative_error * 100.0,
            one.before.basis.words()
        ));
    }
    text
}

/// The same as a value.
pub fn record_value(sections: &[TakenSection], learnt: &[Learnt]) -> Value {
    let sections: Vec<Value> = sections
        .iter()
        .map(|s| {
            json!({ "section": s.section, "yarn": s.yarn, "took_grams": s.took_g,
                "expected_grams": s.expected.mean, "expected_error": s.expected.sd })
        })
        .collect();
    let learnt: Vec<Value> = learnt
        .iter()
        .map(|one| {
            json!({ "yarn": one.yarn, "structure": one.structure.name(),
                "stitch_mm": one.after.mm, "relative_error": one.after.relative_error,
                "before_mm": one.before.mm, "before_relative_error": one.before.relative_error })
        })
        .collect();
    json!({ "sections": sections, "learnt": learnt })
}
