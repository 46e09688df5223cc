use knit::dial::DialAdvice;
use knit::program::Structure;

/// A dial number in the thirds a dial shows, and what to expect of it.
pub fn dial_page(advice: &DialAdvice, structure: Structure) -> String {
    let thirds = (advice.dial * 3.0).round() as i64;
    let (whole, rest) = (thirds.div_euclid(3), thirds.rem_euclid(3));
    let number = if rest == 0 { whole.to_string() } else { format!("{whole} {rest}/3") };
    let stitches = 100.0 / advice.stitch_mm;
    let spread =
        advice.stitch_within_mm.map(|mm| format!(" ± {:.1}", stitches * mm / advice.stitch_mm));
    let mut page = format!(
        "Dial {number} for {structure}: expect {stitches:.1}{} stitches and {:.1} rows to 10 cm.\n",
        spread.as_deref().unwrap_or_default(),
        100.0 / advice.row_mm
    );
    if spread.is_none() {
        page += "Two swatches fit any line: knit a third to see how far it can be trusted.\n";
    }
    if advice.beyond > 0.0 {
        page += &format!(
            "It is {:.1} numbers beyond your swatches: knit one there before you trust it.\n",
            advice.beyond
        );
    }
    page
}
