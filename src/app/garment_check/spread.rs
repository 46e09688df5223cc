//! Which sizes and machines a finding holds for, in few words.

use std::collections::BTreeSet;

/// "every size on every machine", "newborn to m3-6 on bulky; y4 on fine and mid".
pub(super) fn spread(
    holds_for: &BTreeSet<(usize, usize)>,
    machines: &[&str],
    ids: &[&str],
) -> String {
    let mut by_sizes: Vec<(Vec<usize>, Vec<usize>)> = Vec::new();
    for machine in 0..machines.len() {
        let sizes: Vec<usize> =
            holds_for.iter().filter(|(m, _)| *m == machine).map(|(_, s)| *s).collect();
        if sizes.is_empty() {
            continue;
        }
        match by_sizes.iter_mut().find(|(known, _)| *known == sizes) {
            Some((_, on)) => on.push(machine),
            None => by_sizes.push((sizes, vec![machine])),
        }
    }
    let parts: Vec<String> = by_sizes
        .iter()
        .map(|(sizes, on)| {
            let on = if on.len() == machines.len() {
                "every machine".to_owned()
            } else {
                listed(&on.iter().map(|m| machines[*m].to_owned()).collect::<Vec<_>>())
            };
            format!("{} on {on}", sizes_in_words(sizes, ids))
        })
        .collect();
    parts.join("; ")
}

fn sizes_in_words(sizes: &[usize], ids: &[&str]) -> String {
    if let [_] = ids {
        // Nobody wears it, or it comes in one size: that has no name worth telling.
        return "the one size".to_owned();
    }
    if sizes.len() == ids.len() {
        return "every size".to_owned();
    }
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for size in sizes {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == *size => *last = *size,
            _ => runs.push((*size, *size)),
        }
    }
    let name = |at: usize| ids.get(at).copied().unwrap_or("?");
    let parts: Vec<String> = runs
        .iter()
        .map(|(first, last)| match last - first {
            0 => name(*first).to_owned(),
            1 => format!("{} and {}", name(*first), name(*last)),
            _ => format!("{} to {}", name(*first), name(*last)),
        })
        .collect();
    parts.join(", ")
}

/// "a", "a and b", "a, b and c".
fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [before @ .., last] => format!("{} and {last}", before.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_it_holds_is_said_in_few_words() {
        let ids = ["newborn", "y4", "women-m", "men-m"];
        let machines = ["fine", "mid", "bulky"];
        let told =
            |holds: &[(usize, usize)]| spread(&holds.iter().copied().collect(), &machines, &ids);
        let all: Vec<_> = (0..3).flat_map(|m| (0..4).map(move |s| (m, s))).collect();
        assert_eq!(told(&all), "every size on every machine");
        assert_eq!(
            told(&[(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (2, 3)]),
            "newborn to women-m on fine and mid; men-m on bulky"
        );
        assert_eq!(told(&[(0, 0), (0, 2), (0, 3)]), "newborn, women-m and men-m on fine");
        let one = [(0, 0), (2, 0)].into();
        assert_eq!(spread(&one, &machines, &["one"]), "the one size on fine and bulky");
    }
}
