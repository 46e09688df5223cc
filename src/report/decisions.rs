//! The whole numbers that a garment chose, and those a knitter fixed.

use crate::letters::small;
use knit::garment::Decision;
use knit::size_run::SizeRun;

/// `Fixed: band stitches 190, steps 33`, where something is.
pub(crate) fn fixed_line<'d>(decisions: impl IntoIterator<Item = &'d Decision>) -> Option<String> {
    let fixed: Vec<String> = decisions
        .into_iter()
        .filter(|decision| decision.fixed)
        .map(|decision| format!("{} {}", small(&decision.title), decision.value))
        .collect();
    (!fixed.is_empty()).then(|| format!("Fixed: {}", fixed.join(", ")))
}

/// What is fixed in a run: the same for every size that comes out.
pub fn fixed_of(run: &SizeRun) -> Option<String> {
    run.good().find_map(|(_, made)| fixed_line(&made.garment.decisions))
}

/// The numbers one size came to, a line each, as a garment's page lists them.
pub fn decisions_text(decisions: &[Decision], size: &str) -> String {
    if decisions.is_empty() {
        return String::new();
    }
    let mut text = format!("\nNumbers it chooses, as --fix NAME=NUMBER (here for {size}):\n");
    for decision in decisions {
        let Decision { name, title, value, from, to, step, .. } = decision;
        let steps = if *step == 1 { String::new() } else { format!(" in steps of {step}") };
        text.push_str(&format!("  {name} = {value}  ({title}; from {from} to {to}{steps})\n"));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_fixed_is_told_and_nothing_else() {
        let decision = |name: &str, fixed| Decision {
            name: name.to_owned(),
            title: "Band stitches".to_owned(),
            value: 190,
            from: 100,
            to: 200,
            step: 2,
            fixed,
        };
        let all = [decision("band_stitches", true), decision("steps", false)];
        assert_eq!(fixed_line(&all).as_deref(), Some("Fixed: band stitches 190"));
        assert_eq!(fixed_line(&all[1..]), None);
        let told = decisions_text(&all[..1], "Women M");
        assert!(
            told.contains("band_stitches = 190  (Band stitches; from 100 to 200 in steps of 2)"),
            "{told}"
        );
    }
}
