//! Edits to the knitter's files that leave alone what they are not about: comments, order,
//! blanks, line ends.

mod comments;
mod edits;
mod given;
mod line_ends;
mod list;
mod schema_line;
mod step;
mod tables;
mod texts;
mod top;

pub(super) use edits::Edits;
pub use given::{Fields, Given, flat};
pub use list::List;
pub(super) use schema_line::header;
pub use step::Edit;

#[cfg(test)]
mod kept_tests;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::workspace::folder::Snapshot;

    const STASH: &str = "# The stash.\n\n[[remnant]]\nid   = 'a'   # by the door\nyarn = \"slate\"\n\
        weight = \"20 g\" # weighed\n\n# The good one.\n[[remnant]]\nid = \"b\"\nyarn = \"slate\"\n\
        weight = \"30 g\"\n# The end.\n";

    /// The text of a file after a change; `None`: there is none yet.
    pub(super) fn edited_in(
        path: &str,
        text: Option<&str>,
        edits: &[Edit],
        schemas: bool,
    ) -> String {
        let mut before = Snapshot::default();
        before.texts.extend(text.map(|text| (path.to_owned(), text.to_owned())));
        let mut all = Edits::new(&before, schemas);
        for edit in edits {
            all.apply(edit).expect("applies");
        }
        let mut texts = all.finish().expect("finished");
        texts.remove(path).flatten().unwrap_or_else(|| text.unwrap_or_default().to_owned())
    }

    pub(super) fn edited_at(path: &str, text: Option<&str>, edits: &[Edit]) -> String {
        edited_in(path, text, edits, false)
    }

    pub(super) fn edit_of(key: &str, field: &str, given: Given) -> Edit {
        Edit::Change { list: List::Stash, key: key.into(), fields: vec![(field.to_owned(), given)] }
    }

    fn edited(text: &str, edits: &[Edit]) -> String {
        edited_at("stash.toml", Some(text), edits)
    }

    fn weight(key: &str, weight: &str) -> Edit {
        Edit::reweigh(key, weight.parse().expect("a mass"))
    }

    fn add(id: &str) -> Edit {
        let fields = [("id", id), ("yarn", "slate"), ("weight", "5 g")];
        let fields = fields.map(|(k, v)| (k.to_owned(), Given::text(v))).to_vec();
        Edit::Add { list: List::Stash, fields }
    }

    fn remove(key: &str) -> Edit {
        Edit::Remove { list: List::Stash, key: key.into() }
    }

    #[test]
    fn a_change_leaves_every_other_byte_alone() {
        assert_eq!(edited(STASH, &[weight("a", "12 g")]), STASH.replace("20 g", "12 g"));
        let crlf = STASH.replace('\n', "\r\n");
        assert_eq!(edited(&crlf, &[weight("b", "12 g")]), crlf.replace("30 g", "12 g"));
        let marked = format!("\u{feff}{STASH}");
        assert_eq!(edited(&marked, &[weight("b", "12 g")]), marked.replace("30 g", "12 g"));
        // One odd line end among others stays odd.
        let mixed = STASH.replace("'a'   # by the door\n", "'a'   # by the door\r\n");
        assert_eq!(edited(&mixed, &[weight("b", "12 g")]), mixed.replace("30 g", "12 g"));
    }

    #[test]
    fn a_new_entry_comes_last_and_the_old_ones_are_as_they_were() {
        let text = edited(STASH, &[add("c")]);
        let new = "\n[[remnant]]\nid = \"c\"\nyarn = \"slate\"\nweight = \"5 g\"\n";
        assert_eq!(text, STASH.replace("# The end.\n", "") + new + "# The end.\n");
    }

    #[test]
    fn an_entry_goes_with_its_comment_and_no_other() {
        let without_a = "# The stash.\n\n# The good one.\n[[remnant]]\nid = \"b\"\nyarn = \"slate\"\n\
            weight = \"30 g\"\n# The end.\n";
        assert_eq!(edited(STASH, &[remove("a")]), without_a);
        let text = edited(STASH, &[remove("b")]);
        assert!(text.starts_with(&STASH[..STASH.find("\n# The good").expect("there")]), "{text}");
        assert!(!text.contains("good one") && text.ends_with("# The end.\n"), "{text}");
        let text = edited(STASH, &[remove("a"), remove("b")]);
        assert!(text.starts_with("# The stash.\n") && text.contains("# The end."), "{text}");
        assert!(!text.contains("remnant") && !text.contains("good one"), "{text}");
    }

    #[test]
    fn what_is_not_there_is_said_with_the_nearest() {
        let mut before = Snapshot::default();
        before.texts.insert("stash.toml".into(), STASH.replace("'a'", "'skerry-1'"));
        let mut edits = Edits::new(&before, false);
        let fault = edits.apply(&remove("skery-1")).expect_err("not there");
        assert!(fault.to_string().contains("did you mean `skerry-1`?"), "{fault}");
    }
}
