use super::grid::{Format, Grid};
use crate::knit::dial::DialAdvice;
use crate::knit::program::Structure;
use crate::knit::record::{Learnt, TakenSection};

/// A dial number in the thirds a dial shows, and what to expect of it.
pub fn dial_page(advice: &DialAdvice, structure: Structure) -> String {
    let thirds = (advice.dial * 3.0).round() as i64;
    let (whole, rest) = (thirds.div_euclid(3), thirds.rem_euclid(3));
    let number = if rest == 0 { whole.to_string() } else { format!("{whole} {rest}/3") };
    let spread = advice.stitch_sd_mm.map_or_else(
        || " (two swatches fit any line: knit a third to see how far it can be trusted)".to_owned(),
        |sd| format!(" ± {:.1}", 100.0 / advice.stitch_mm * sd / advice.stitch_mm),
    );
    let beyond = if advice.beyond > 0.0 {
        format!(
            "It is {:.1} numbers beyond your swatches: knit one there before you trust it.\n",
            advice.beyond
        )
    } else {
        String::new()
    };
    format!(
        "Dial {number} for {structure}: expect {:.1}{spread} stitches and {:.1} rows to 10 cm.\n{beyond}",
        100.0 / advice.stitch_mm,
        100.0 / advice.row_mm
    )
}

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
