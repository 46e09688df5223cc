//! Hints as a page gives them. A hint may name a command; whoever reads a page has none, but has a page
//! that does the same.

/// What a command begins with, and where a page does the same. The first that fits counts.
const PAGES: [(&str, &str); 16] = [
    ("oddments stash", "the page Stash"),
    ("oddments yarn", "the page Stash"),
    ("oddments people", "the page People"),
    ("oddments knitters", "the list of who knits"),
    ("oddments gifts", "the page Wishes"),
    ("oddments plan", "the page Plan"),
    ("oddments shop", "the page What to buy"),
    ("oddments record", "the page Finished"),
    ("oddments learnt", "the page What was learnt"),
    ("oddments undo", "the button Take back"),
    ("oddments swatch", "the page Swatch"),
    ("oddments garment", "the page Garments"),
    ("oddments chart", "the page Size charts"),
    ("oddments grade", "the page Grade"),
    ("oddments pattern", "the page Grade"),
    ("oddments carry-on", "the page at the machine"),
];

/// The hint with pages in place of commands; nothing where it is about a flag, which no page has.
pub(super) fn for_page(hint: &str) -> Option<String> {
    let mut told = String::new();
    for (nth, part) in hint.split('`').enumerate() {
        // What stands between two marks is every other part.
        if nth % 2 == 0 {
            told.push_str(part);
            continue;
        }
        if part.starts_with("--") {
            return None;
        }
        if !part.starts_with("oddments ") {
            told.push_str(&format!("`{part}`"));
            continue;
        }
        let (_, page) = PAGES.iter().find(|(command, _)| part.starts_with(command))?;
        told.push_str(page);
        // Two commands may be of one page.
        told = told.replace(&format!("{page} or {page}"), page);
    }
    Some(told).filter(|told| !told.contains(" --"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hint_names_pages_and_no_commands() {
        let told = |hint: &str| for_page(hint);
        assert_eq!(told("write it like 12 g").as_deref(), Some("write it like 12 g"));
        assert_eq!(told("did you mean `slate`?").as_deref(), Some("did you mean `slate`?"));
        assert_eq!(
            told("`oddments gifts list` shows for which gifts yarn is set aside").as_deref(),
            Some("the page Wishes shows for which gifts yarn is set aside")
        );
        assert_eq!(
            told("knit a swatch of it and name it with `oddments swatch add`").as_deref(),
            Some("knit a swatch of it and name it with the page Swatch")
        );
        assert_eq!(told("`--free` frees it; `--keep-yarn` leaves it set aside"), None);
        assert_eq!(
            told("`oddments gifts free a` or `oddments gifts free b`").as_deref(),
            Some("the page Wishes")
        );
        assert_eq!(told("start it in one, or with --workspace FOLDER"), None);
        assert_eq!(told("`oddments serve` does it"), None);
    }
}
