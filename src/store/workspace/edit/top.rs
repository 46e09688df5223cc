//! What a file begins with stays where it is when the first entry comes.

use toml_edit::{DocumentMut, Item, Table};

use super::comments::{Above, begins_blank};

/// Makes an edit that may put the first thing into a file. The comments of a file that holds
/// nothing else stay above it, and so do those at the top of a file when keys come before its
/// tables.
pub(super) fn topped<T>(document: &mut DocumentMut, edit: impl FnOnce(&mut DocumentMut) -> T) -> T {
    let (first_key, had_table) = (first_key(document), first_table(document).is_some());
    let done = edit(document);
    if first_key.is_some() {
        return done;
    }
    if !had_table {
        let words = document.trailing().as_str().unwrap_or("").to_owned();
        if let Some(key) = self::first_key(document) {
            lead(document, &key, &words);
        } else if let Some(table) = first_table(document) {
            let gap = if words.is_empty() || words.ends_with("\n\n") { "" } else { "\n" };
            table.decor_mut().set_prefix(format!("{words}{gap}"));
        } else {
            return done;
        }
        document.set_trailing("");
    } else if let Some(key) = self::first_key(document) {
        let Some(table) = first_table(document) else { return done };
        let lines = super::tables::prefix_of(table).to_owned();
        let above = Above::of(&lines);
        let (words, own) = match above.kept {
            // With no blank line between, the first words are the table's own, but for the schema.
            "" if lines.starts_with("#:schema") => {
                lines.split_at(lines.find('\n').map_or(0, |end| end + 1))
            }
            kept => lines.split_at(kept.len()),
        };
        let gap = if begins_blank(own) { "" } else { "\n" };
        table.decor_mut().set_prefix(format!("{gap}{own}"));
        let words = words.to_owned();
        lead(document, &key, &words);
    }
    done
}

fn lead(document: &mut DocumentMut, key: &str, words: &str) {
    if let Some(mut key) = document.as_table_mut().key_mut(key) {
        key.leaf_decor_mut().set_prefix(words);
    }
}

/// The first key at the top of the file.
fn first_key(document: &DocumentMut) -> Option<String> {
    let plain = |item: &Item| item.is_value() || item.as_table().is_some_and(Table::is_dotted);
    document.iter().find(|(_, item)| plain(item)).map(|(key, _)| key.to_owned())
}

/// The table that comes first.
fn first_table(document: &mut DocumentMut) -> Option<&mut Table> {
    let tables = document.iter_mut().filter_map(|(_, item)| match item {
        Item::Table(table) if !table.is_dotted() => Some(table),
        Item::ArrayOfTables(tables) => tables.get_mut(0),
        _ => None,
    });
    tables.min_by_key(|table| table.position().unwrap_or(isize::MAX))
}
