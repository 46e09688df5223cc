//! What a script shows its author with `trace`, gathered over all sizes and machines.

use std::collections::BTreeSet;

use super::spread::spread;
use report::TraceLine;
use script::Trace;

/// Different texts of one line that are told.
const MOST_OF_A_LINE: usize = 12;

/// What was shown, and in which runs.
#[derive(Default)]
pub(super) struct Traces {
    shown: Vec<(Trace, BTreeSet<(usize, usize)>)>,
}

impl Traces {
    /// Takes what was shown for a size (its place in the table) on a machine.
    pub fn take(&mut self, traces: &[Trace], at: (usize, usize)) {
        for trace in traces {
            match self.shown.iter_mut().find(|(known, _)| known == trace) {
                Some((_, holds_for)) => {
                    holds_for.insert(at);
                }
                None => self.shown.push((trace.clone(), BTreeSet::from([at]))),
            }
        }
    }

    /// By line; of one line no more than can be read.
    pub fn told(&self, machines: &[&str], sizes: &[&str]) -> Vec<TraceLine> {
        let mut shown: Vec<_> = self.shown.iter().collect();
        let place = |trace: &Trace| trace.place.as_ref().map(|p| (p.file.clone(), p.line));
        // Stable: what one line showed stays in the order of sizes.
        shown.sort_by_key(|(trace, _)| place(trace));
        let mut lines = Vec::new();
        for of_a_line in shown.chunk_by(|(a, _), (b, _)| place(a) == place(b)) {
            for (trace, holds_for) in of_a_line.iter().take(MOST_OF_A_LINE) {
                lines.push(TraceLine {
                    place: trace.place.clone(),
                    text: trace.text.clone(),
                    holds_for: spread(holds_for, machines, sizes),
                });
            }
            if let Some((trace, _)) = of_a_line.get(MOST_OF_A_LINE) {
                let more = of_a_line.len() - MOST_OF_A_LINE;
                lines.push(TraceLine {
                    place: trace.place.clone(),
                    text: "...".to_owned(),
                    holds_for: format!("{more} more"),
                });
            }
        }
        lines
    }
}
