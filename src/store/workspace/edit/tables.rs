//! Values put into the tables of a file.

use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

use super::comments::{Above, below};
use super::given::{FIXED, Fields, Given};
use super::texts::retext;
use diag::{Code, Diagnostic, Diagnostics};

pub(super) fn array<'d>(
    document: &'d mut DocumentMut,
    name: &str,
    path: &str,
) -> Result<&'d mut ArrayOfTables, Diagnostics> {
    let empty = document
        .get(name)
        .is_some_and(|item| item.as_array().is_some_and(|a| a.is_empty()) || item.is_none());
    if empty {
        document.remove(name);
    }
    let item = document.entry(name).or_insert(Item::ArrayOfTables(ArrayOfTables::new()));
    Ok(item.as_array_of_tables_mut().ok_or_else(|| {
        Diagnostic::error(
            Code::OneLineList,
            format!("{path} lists its entries as `{name} = [...]`"),
        )
        .hint(format!("write each as a [[{name}]] table of its own, so that it can be changed"))
    })?)
}

/// Adds a table at the end of a list. Comments below what stood there last stay with it, and the
/// file's last words stay last.
pub(super) fn push(
    document: &mut DocumentMut,
    name: &str,
    path: &str,
    fields: &Fields,
) -> Result<(), Diagnostics> {
    let first = document.is_empty();
    let end = document.trailing().as_str().unwrap_or("").to_owned();
    let mut table = table_of(fields);
    let parted = below(&end).filter(|_| !first);
    if let Some((own, _)) = parted {
        table.decor_mut().set_prefix(format!("{own}\n"));
    }
    array(document, name, path)?.push(table);
    if let Some((_, last)) = parted {
        document.set_trailing(last);
    }
    Ok(())
}

pub(super) fn table_of(fields: &Fields) -> Table {
    let mut table = Table::new();
    set(&mut table, fields);
    table
}

/// Sets keys of a table. Gives the comments that stood above what went, were not about it and
/// found no place in the table: they belong before whatever follows it.
pub(super) fn set(table: &mut Table, fields: &Fields) -> String {
    let mut homeless = String::new();
    for (key, given) in fields {
        let lists_tables = table.get(key).is_some_and(Item::is_array_of_tables);
        homeless.push_str(&match given {
            Given::Tables(all) => retable(table, key, all),
            given if lists_tables && given.is_nothing() => {
                let homeless = retable(table, key, &[]);
                table.remove(key);
                homeless
            }
            Given::Nothing => take_out(table, key),
            Given::Merge(inner) if !table.get(key).is_some_and(Item::is_table_like) => {
                if !inner.iter().all(|(_, given)| is_blank(given)) {
                    put(table, key, given);
                }
                String::new()
            }
            given => put(table, key, given),
        });
    }
    homeless
}

fn is_empty(given: &Given) -> bool {
    matches!(given, Given::Nothing) || matches!(given, Given::Texts(texts) if texts.is_empty())
}

/// Whether nothing would be written where nothing is yet.
fn is_blank(given: &Given) -> bool {
    match given {
        Given::Merge(inner) => inner.iter().all(|(_, given)| is_blank(given)),
        given => is_empty(given),
    }
}

/// Sets one key, and leaves alone of the old value what stays. Gives homeless comments.
fn put(table: &mut dyn TableLike, key: &str, given: &Given) -> String {
    let Some(item) = table.get_mut(key) else {
        table.insert(key, Item::Value(value_of(given)));
        return String::new();
    };
    match (given, item.as_value()) {
        (Given::Merge(inner), _) if item.is_table_like() => {
            let Some(own) = item.as_table_like_mut() else { return String::new() };
            let homeless = merge(own, inner);
            if own.is_empty() { homeless + &take_out(table, key) } else { homeless }
        }
        (given, Some(old)) if is_same(old, given) => String::new(),
        (Given::Texts(texts), Some(Value::Array(_))) => {
            if let Some(array) = item.as_array_mut() {
                retext(array, texts);
            }
            String::new()
        }
        (given, old) => {
            let mut value = value_of(given);
            // What stands behind the old value (a comment) stays behind the new one.
            if let Some(old) = old {
                *value.decor_mut() = old.decor().clone();
            }
            *item = Item::Value(value);
            String::new()
        }
    }
}

/// Sets keys of an inner table.
fn merge(table: &mut dyn TableLike, fields: &Fields) -> String {
    let each = fields.iter().map(|(key, given)| {
        if is_empty(given) {
            take_out(table, key)
        } else if is_blank(given) && table.get(key).is_none() {
            String::new()
        } else {
            put(table, key, given)
        }
    });
    each.collect()
}

/// Takes a key out, with its own comment. Others above it move to the next key; where there is
/// none they are given back.
fn take_out(table: &mut dyn TableLike, key: &str) -> String {
    let lines = table
        .key(key)
        .and_then(|key| Some(key.leaf_decor().prefix()?.as_str()?.to_owned()))
        .unwrap_or_default();
    let next = table.iter().skip_while(|(own, _)| *own != key).nth(1);
    let next = next.filter(|(_, item)| item.is_value()).map(|(next, _)| next.to_owned());
    table.remove(key);
    let above = Above::of(&lines);
    if above.is_empty() {
        return String::new();
    }
    let Some(mut next) = next.and_then(|next| table.key_mut(&next)) else {
        return above.kept.to_owned();
    };
    let own = next.leaf_decor().prefix().and_then(|p| p.as_str()).unwrap_or("").to_owned();
    next.leaf_decor_mut().set_prefix(above.before(&own));
    String::new()
}

/// Makes a list of tables hold these. What stays keeps its place and comments. Gives homeless
/// comments.
fn retable(table: &mut Table, key: &str, all: &[Fields]) -> String {
    let Some(Item::ArrayOfTables(tables)) = table.get_mut(key) else {
        let tables: ArrayOfTables = all.iter().map(table_of).collect();
        table.insert(key, Item::ArrayOfTables(tables));
        return String::new();
    };
    let mut old: Vec<Table> = tables.iter().cloned().collect();
    let places = places_in(&old, all);
    for at in 0..old.len() {
        let homeless = match places.iter().position(|place| *place == Some(at)) {
            Some(wanted) => set_whole(&mut old[at], &all[wanted]),
            None => Above::of(prefix_of(&old[at])).kept.to_owned(),
        };
        if let Some(next) = old.get_mut(at + 1) {
            put_before(next, &Above { kept: &homeless, blank: "" });
        } else if !homeless.trim().is_empty() {
            return rebuilt(tables, &old, &places, all, homeless);
        }
    }
    rebuilt(tables, &old, &places, all, String::new())
}

/// For each table wanted, which of the old ones it is: the same, or one that begins the same.
fn places_in(old: &[Table], all: &[Fields]) -> Vec<Option<usize>> {
    let mut places: Vec<Option<usize>> = vec![None; all.len()];
    for wholly in [true, false] {
        for (i, fields) in all.iter().enumerate() {
            let is = |table: &Table| match fields.first() {
                Some((key, given)) if !wholly => table
                    .get(key)
                    .and_then(Item::as_value)
                    .is_some_and(|value| is_same(value, given)),
                _ => differing(table, fields).is_some_and(|keys| keys.is_empty()),
            };
            let free = |at: &usize| !places.contains(&Some(*at)) && is(&old[*at]);
            if places[i].is_none() {
                places[i] = (0..old.len()).find(free);
            }
        }
    }
    places
}

fn rebuilt(
    tables: &mut ArrayOfTables,
    old: &[Table],
    places: &[Option<usize>],
    all: &[Fields],
    homeless: String,
) -> String {
    // The editor orders tables by where they were.
    let mut spots: Vec<isize> =
        places.iter().flatten().filter_map(|at| old[*at].position()).collect();
    spots.sort_unstable();
    let mut spots = spots.into_iter();
    tables.clear();
    for (place, fields) in places.iter().zip(all) {
        tables.push(match place {
            Some(at) => {
                let mut table = old[*at].clone();
                table.set_position(spots.next());
                table
            }
            None => table_of(fields),
        });
    }
    homeless
}

/// Sets the keys of a table, and takes out all others.
fn set_whole(table: &mut Table, fields: &Fields) -> String {
    let gone: Vec<String> = table
        .iter()
        .map(|(key, _)| key.to_owned())
        .filter(|key| fields.iter().all(|(own, _)| own != key))
        .collect();
    let gone = gone.into_iter().map(|key| (key, Given::Nothing));
    set(table, &gone.chain(fields.iter().cloned()).collect())
}

/// The keys whose values differ; `None` where the keys themselves do.
pub(super) fn differing<'f>(table: &Table, fields: &'f Fields) -> Option<Vec<&'f str>> {
    let own = |key: &str| table.get(key).and_then(Item::as_value);
    let named = table.len() == fields.len() && fields.iter().all(|(key, _)| own(key).is_some());
    let differ = fields.iter().filter(|(key, given)| !own(key).is_some_and(|v| is_same(v, given)));
    named.then(|| differ.map(|(key, _)| key.as_str()).collect())
}

pub(super) fn prefix_of(table: &Table) -> &str {
    table.decor().prefix().and_then(|prefix| prefix.as_str()).unwrap_or("\n")
}

/// Puts lines before a table, apart from its own comment.
pub(super) fn put_before(table: &mut Table, above: &Above<'_>) {
    if !above.is_empty() {
        let prefix = above.before(prefix_of(table));
        table.decor_mut().set_prefix(prefix);
    }
}

fn is_same(value: &Value, given: &Given) -> bool {
    match (given, value) {
        (Given::Text(text), Value::String(own)) => own.value() == text,
        (Given::Whole(number), Value::Integer(own)) => own.value() == number,
        (Given::Number(number), Value::Float(own)) => own.value().to_bits() == number.to_bits(),
        (Given::Flag(flag), Value::Boolean(own)) => own.value() == flag,
        _ => false,
    }
}

fn value_of(given: &Given) -> Value {
    match given {
        Given::Text(text) => text.as_str().into(),
        Given::Whole(number) => (*number).into(),
        Given::Number(number) => (*number).into(),
        Given::Flag(flag) => (*flag).into(),
        Given::Texts(texts) => texts.iter().map(String::as_str).collect::<Array>().into(),
        Given::Table(fields) | Given::Merge(fields) => {
            let mut table = InlineTable::new();
            for (key, given) in fields.iter().filter(|(_, given)| !is_blank(given)) {
                let mut value = value_of(given);
                // `fix.stitches = 52`, as it would be typed.
                if let (FIXED, Value::InlineTable(inner)) = (key.as_str(), &mut value) {
                    inner.set_dotted(true);
                }
                table.insert(key, value);
            }
            table.into()
        }
        Given::Tables(_) | Given::Nothing => Array::new().into(),
    }
}
