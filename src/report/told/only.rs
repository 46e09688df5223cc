//! Whose a line is that not all sizes have, in words.

use knit::body::Body;

/// "Newborn to Women L, Men S": neighbours among all of them stand together.
pub(crate) fn spans(all: &[&Body], own: &[&Body]) -> Vec<String> {
    let mut spans: Vec<(&str, &str)> = Vec::new();
    let mut neighbours = false;
    for size in all {
        let label = size.label.as_str();
        let ours = own.iter().any(|own| own.id == size.id);
        match spans.last_mut() {
            Some((_, to)) if ours && neighbours => *to = label,
            _ if ours => spans.push((label, label)),
            _ => {}
        }
        neighbours = ours;
    }
    let span = |(from, to): (&str, &str)| match from == to {
        true => from.to_owned(),
        false => format!("{from} to {to}"),
    };
    spans.into_iter().map(span).collect()
}

/// "Sizes Women M to Women XL, Men S only: ", or "All sizes but Men S: " where that is shorter. Nothing where
/// it is all of them.
pub(crate) fn only(all: &[&Body], own: &[&Body]) -> String {
    let is_own = |size: &&&Body| own.iter().any(|own| own.id == size.id);
    let others: Vec<&Body> = all.iter().filter(|size| !is_own(size)).copied().collect();
    let (theirs, others) = (spans(all, own), spans(all, &others));
    if others.is_empty() {
        return String::new();
    }
    // One that is left out is sooner found than all that are meant.
    if others.len() < theirs.len() {
        return format!("All sizes but {}: ", others.join(", "));
    }
    let sizes = if own.len() == 1 { "Size" } else { "Sizes" };
    format!("{sizes} {} only: ", theirs.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bodies() -> Vec<Body> {
        let body = |label: &str| Body {
            id: format!("s{label}").to_lowercase().parse().expect("an id"),
            label: label.to_owned(),
            values: std::collections::BTreeMap::new(),
        };
        ["A", "B", "C", "D", "E"].map(body).to_vec()
    }

    #[test]
    fn whose_a_line_is_is_told_in_as_few_words_as_may_be() {
        let bodies = bodies();
        let all: Vec<&Body> = bodies.iter().collect();
        for (own, told) in [
            ("A B C D E", ""),
            ("C", "Size C only: "),
            ("A B", "Sizes A to B only: "),
            ("A B E", "All sizes but C to D: "),
            ("B D", "Sizes B, D only: "),
            ("A C D E", "All sizes but B: "),
            ("A C E", "All sizes but B, D: "),
        ] {
            let of: Vec<&Body> =
                all.iter().copied().filter(|body| own.contains(&body.label)).collect();
            assert_eq!(only(&all, &of), told, "{own}");
        }
    }
}
