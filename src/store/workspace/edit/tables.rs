//! Values put into the tables of a file.

use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

use super::given::{Fields, Given};
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

pub(super) fn table_of(fields: &Fields) -> Table {
    let mut table = Table::new();
    set(&mut table, fields);
    table
}

pub(super) fn set(table: &mut Table, fields: &Fields) {
    for (key, given) in fields {
        match given {
            Given::Nothing => {
                table.remove(key);
            }
            Given::Tables(all) => {
                let mut tables = ArrayOfTables::new();
                tables.extend(all.iter().map(table_of));
                table.insert(key, Item::ArrayOfTables(tables));
            }
            Given::Merge(inner) if table.get(key).is_some_and(Item::is_table_like) => {
                let empty = merge(table.get_mut(key).and_then(Item::as_table_like_mut), inner);
                if empty {
                    table.remove(key);
                }
            }
            Given::Merge(inner) if inner.iter().all(|(_, given)| is_empty(given)) => {}
            other => {
                let mut value = value_of(other);
                match table.get_mut(key) {
                    Some(item) => {
                        // What stands behind the old value (a comment) stays behind the new one.
                        if let Some(old) = item.as_value() {
                            *value.decor_mut() = old.decor().clone();
                        }
                        *item = Item::Value(value);
                    }
                    None => {
                        table.insert(key, Item::Value(value));
                    }
                }
            }
        }
    }
}

fn is_empty(given: &Given) -> bool {
    matches!(given, Given::Nothing) || matches!(given, Given::Texts(texts) if texts.is_empty())
}

/// Sets keys of an inner table. Gives whether nothing is left in it.
fn merge(table: Option<&mut dyn TableLike>, fields: &Fields) -> bool {
    let Some(table) = table else { return false };
    for (key, given) in fields {
        if is_empty(given) {
            table.remove(key);
            continue;
        }
        let mut value = value_of(given);
        match table.get_mut(key) {
            Some(item) => {
                if let Some(old) = item.as_value() {
                    *value.decor_mut() = old.decor().clone();
                }
                *item = Item::Value(value);
            }
            None => {
                table.insert(key, Item::Value(value));
            }
        }
    }
    table.is_empty()
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
            for (key, given) in fields.iter().filter(|(_, given)| !is_empty(given)) {
                table.insert(key, value_of(given));
            }
            table.into()
        }
        Given::Tables(_) | Given::Nothing => Array::new().into(),
    }
}
