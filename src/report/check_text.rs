use diag::{Diagnostics, Place, Severity};

/// What a garment's check came to on one machine.
#[derive(Clone, Debug, PartialEq)]
pub struct MachineTally {
    pub machine: String,
    /// Sizes that can be knitted.
    pub made: usize,
    /// Sizes that failed, by a fault of the garment's.
    pub failed: usize,
    /// Sizes the garment refuses: the reason, and the ids of the sizes.
    pub refused: Vec<(String, Vec<String>)>,
}

/// The check in short: what was knitted, which edges are free, then how much was found. The findings
/// themselves are diagnostics. `free_edges` are told of one size, which stands first.
pub fn check_text(
    title: &str,
    machines: &[MachineTally],
    free_edges: &[String],
    findings: &Diagnostics,
) -> String {
    let mut text = format!("{title}\n");
    let width = machines.iter().map(|m| m.machine.chars().count()).max().unwrap_or(0);
    for tally in machines {
        let refused: usize = tally.refused.iter().map(|(_, sizes)| sizes.len()).sum();
        let mut parts = vec![format!("{} sizes knitted", tally.made)];
        if tally.failed > 0 {
            parts.push(format!("{} failed", tally.failed));
        }
        if refused > 0 {
            parts.push(format!("{refused} refused"));
        }
        text.push_str(&format!("  {:width$}  {}\n", tally.machine, parts.join(", ")));
        for (reason, sizes) in &tally.refused {
            let indent = " ".repeat(width + 4);
            text.push_str(&format!("{indent}{}: {reason}\n", sizes.join(", ")));
        }
    }
    if let [of, edges @ ..] = free_edges {
        text.push_str(&format!("joined to nothing ({of}); is it meant so?\n"));
        for edge in edges {
            text.push_str(&format!("  {edge}\n"));
        }
    }
    let count = |severity| findings.iter().filter(|f| f.severity == severity).count();
    let many = |n: usize, what: &str| format!("{n} {what}{}", if n == 1 { "" } else { "s" });
    let (errors, warnings) = (count(Severity::Error), count(Severity::Warning));
    text.push_str(&match (errors, warnings) {
        (0, 0) => "nothing found wrong\n".to_owned(),
        (0, _) => format!("{}\n", many(warnings, "warning")),
        (_, 0) => format!("{}\n", many(errors, "error")),
        _ => format!("{}, {}\n", many(errors, "error"), many(warnings, "warning")),
    });
    text
}

/// What a script shows its author at one line.
#[derive(Clone, Debug)]
pub struct TraceLine {
    /// Where it is shown.
    pub place: Option<Place>,
    /// What is shown.
    pub text: String,
    /// For which sizes and machines, in words.
    pub holds_for: String,
}

/// What a script shows its author, below the line it is shown at; empty where it shows nothing.
pub fn trace_text(traces: &[TraceLine]) -> String {
    let mut text = String::new();
    let mut at = None;
    for trace in traces {
        let place = trace.place.as_ref().map(|p| format!("{}:{}", p.file, p.line));
        if at.as_ref() != Some(&place) {
            text.push_str(&format!("trace at {}\n", place.as_deref().unwrap_or("no line")));
            at = Some(place);
        }
        text.push_str(&format!("  {}  ({})\n", trace.text, trace.holds_for));
    }
    text
}
