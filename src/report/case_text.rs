use knit::case::Difference;

/// One case: that it came out as expected, or each figure that did not, expected above got.
pub fn case_text(name: &str, figures: usize, differences: &[Difference]) -> String {
    let plural = if figures == 1 { "" } else { "s" };
    if differences.is_empty() {
        return format!("{name}: {figures} figure{plural} as expected\n");
    }
    let verb = if differences.len() == 1 { "differs" } else { "differ" };
    let mut text = format!("{name}: {} of {figures} figure{plural} {verb}\n", differences.len());
    for difference in differences {
        text.push_str(&format!("  {}\n", difference.what));
        text.push_str(&format!("    expected  {}\n", difference.expected));
        let hint = difference.unknown.as_ref().map_or(String::new(), |hint| format!(" ({hint})"));
        text.push_str(&format!("    got       {}{hint}\n", difference.got));
    }
    text
}
