use knit::dial::DialAdvice;
use knit::program::Structure;

/// A dial number in the thirds a dial shows, and what to expect of it.
pub fn dial_page(advice: &DialAdvice, structure: Structure) -> String {
    let thirds = (advice.dial * 3.0).round() as i64;
    let (whole, rest) = (thirds.div_euclid(3), thirds.rem_euclid(3));
    let number = if rest == 0 { whole.to_string() } else { format!("{whole} {rest}/3") };
    let spread = advice.stitch_within_mm.map_or_else(
        || " (two swatches fit any line: knit a third to see how far it can be trusted)".to_owned(),
        |within| format!(" ± {:.1}", 100.0 / advice.stitch_mm * within / advice.stitch_mm),
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
