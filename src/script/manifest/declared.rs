use std::ops::Range;

use toml::Spanned;
use toml::de::DeTable;

/// Something plugin.toml says, to find again in its text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Declared<'a> {
    /// A key of the file itself: `measures`.
    Key(&'a str),
    /// A text in a list: `measures`, `head_girth`.
    Item(&'a str, &'a str),
    /// A name in a table: `options`, `ease`.
    Name(&'a str, &'a str),
}

impl Declared<'_> {
    /// Where `text`, a plugin.toml, says it.
    pub(crate) fn span(self, text: &str) -> Option<Range<usize>> {
        let (root, _) = DeTable::parse_recoverable(text);
        let root = root.get_ref();
        match self {
            Declared::Key(key) => root.get_key_value(key).map(|(key, _)| key.span()),
            Declared::Item(list, item) => {
                let list = root.get(list)?.get_ref().as_array()?;
                list.iter().find(|i| i.get_ref().as_str() == Some(item)).map(Spanned::span)
            }
            Declared::Name(table, name) => {
                let table = root.get(table)?.get_ref().as_table()?;
                table.get_key_value(name).map(|(key, _)| key.span())
            }
        }
    }
}
