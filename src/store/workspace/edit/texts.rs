//! A list of texts changed in place.

use toml_edit::{Array, Decor, Value};

use super::comments::Above;

/// Makes a list hold these texts. What stays keeps its place, comments and quotes; what is new
/// is written as the list's own items are.
pub(super) fn retext(array: &mut Array, texts: &[String]) {
    let mut layout = Layout::of(array);
    let mut used = vec![false; layout.items.len()];
    let wanted: Vec<Option<usize>> = texts
        .iter()
        .map(|text| {
            let is = |at: &usize| !used[*at] && layout.items[*at].value.as_str() == Some(text);
            let at = (0..used.len()).find(is)?;
            used[at] = true;
            Some(at)
        })
        .collect();
    layout.drop_items(&used);
    layout.write(array, &wanted, texts);
}

/// An item with what is about it: the lines above, and what follows on its own line.
struct Item {
    value: Value,
    lead: String,
    tail: String,
    /// As it stood before and behind the value, around the commas.
    prefix: String,
    suffix: String,
    /// Whether comments of a neighbour that goes were put above it.
    moved: bool,
}

struct Layout {
    /// What follows `[` on its own line.
    head: String,
    items: Vec<Item>,
    /// From the end of the last item's line to `]`.
    closing: String,
    trailing: String,
    comma: bool,
    moved: bool,
}

/// What belongs to the line that ends in a gap, and what to the lines after it.
fn split(gap: &str) -> (&str, &str) {
    match gap.find('\n') {
        Some(at) => gap.split_at(at),
        None => ("", gap),
    }
}

/// The last line of a gap with no comments: where the next item begins.
fn place_in(lead: &str) -> &str {
    &lead[lead.rfind('\n').unwrap_or(0)..]
}

impl Layout {
    fn of(array: &Array) -> Layout {
        let trailing = array.trailing().as_str().unwrap_or("").to_owned();
        let mut items: Vec<Item> = Vec::new();
        let mut head = String::new();
        let mut gap = String::new();
        for (i, value) in array.iter().enumerate() {
            let side = |raw: Option<&toml_edit::RawString>, usual: &str| {
                raw.and_then(|raw| raw.as_str()).unwrap_or(usual).to_owned()
            };
            let prefix = side(value.decor().prefix(), if i == 0 { "" } else { " " });
            let suffix = side(value.decor().suffix(), "");
            gap.push_str(&prefix);
            let (tail, lead) = split(&gap);
            match items.last_mut() {
                Some(last) => tail.clone_into(&mut last.tail),
                None => tail.clone_into(&mut head),
            }
            let lead = lead.to_owned();
            gap.clone_from(&suffix);
            let (value, tail) = (value.clone(), String::new());
            items.push(Item { value, lead, tail, prefix, suffix, moved: false });
        }
        gap.push_str(&trailing);
        let (tail, closing) = split(&gap);
        match items.last_mut() {
            Some(last) => tail.clone_into(&mut last.tail),
            None => tail.clone_into(&mut head),
        }
        let (closing, comma) = (closing.to_owned(), array.trailing_comma());
        Layout { head, items, closing, trailing, comma, moved: false }
    }

    /// Comments above an item that goes, and not about it, move to what follows.
    fn drop_items(&mut self, used: &[bool]) {
        for at in (0..used.len()).filter(|at| !used[*at]) {
            let lead = self.items[at].lead.clone();
            let Some(lines) = lead.strip_prefix('\n') else { continue };
            let above = Above::of(lines);
            if above.is_empty() {
                continue;
            }
            if let Some(next) = self.items.get_mut(at + 1) {
                let own = next.lead.strip_prefix('\n');
                let own = own.unwrap_or_else(|| place_in(&lead).trim_start_matches('\n'));
                next.lead = format!("\n{}", above.before(own));
                next.moved = true;
            } else {
                let own = self.closing.strip_prefix('\n').unwrap_or("");
                self.closing = format!("\n{}", above.before_end(own));
                self.moved = true;
            }
        }
    }

    /// What stands before a new item that is not the first.
    fn style(&self) -> String {
        let lines = self.items.iter().rev().find(|item| item.lead.contains('\n'));
        match (lines, self.items.get(1)) {
            (Some(item), _) => place_in(&item.lead).to_owned(),
            (None, Some(second)) => second.lead.clone(),
            (None, None) => " ".to_owned(),
        }
    }

    /// What stands before an item that is not the first, behind the comma of another than before.
    fn lead(&self, at: Option<usize>, tail: &str) -> String {
        let lead = match at {
            Some(0) if !self.items[0].lead.contains('\n') => self.style(),
            Some(at) => self.items[at].lead.clone(),
            None => self.style(),
        };
        let open = tail.contains('#') && !lead.contains('\n');
        format!("{tail}{}{lead}", if open { "\n" } else { "" })
    }

    fn first_lead(&mut self, at: Option<usize>) -> String {
        let own = at.map(|at| self.items[at].lead.clone()).filter(|lead| lead.contains('\n'));
        let lead = match (own, self.items.first()) {
            (Some(own), _) => own,
            (None, Some(first)) => place_in(&first.lead).to_owned(),
            // An empty list with a comment in it: the item comes below.
            (None, None) => match self.closing.rfind('\n') {
                Some(end) => {
                    let lines = self.closing[..end].to_owned();
                    self.closing.drain(..end);
                    self.comma = true;
                    format!("{lines}\n{}", indent_of(&lines))
                }
                None => std::mem::take(&mut self.closing),
            },
        };
        format!("{}{lead}", self.head)
    }

    fn write(mut self, array: &mut Array, wanted: &[Option<usize>], texts: &[String]) {
        array.clear();
        for (i, (&at, text)) in wanted.iter().zip(texts).enumerate() {
            let before = i.checked_sub(1).map(|before| wanted[before]);
            let follows = match before {
                None => at == Some(0),
                Some(before) => at.is_some() && before.map(|before| before + 1) == at,
            };
            let prefix = match (at.filter(|at| follows && !self.items[*at].moved), before) {
                (Some(at), _) => self.items[at].prefix.clone(),
                (None, None) => self.first_lead(at),
                (None, Some(before)) => {
                    self.lead(at, before.map_or("", |before| &self.items[before].tail))
                }
            };
            let mut value =
                at.map_or_else(|| Value::from(text.as_str()), |at| self.items[at].value.clone());
            let suffix = at.filter(|at| self.stays_before(*at, wanted.get(i + 1).copied()));
            let suffix = suffix.map_or(String::new(), |at| self.items[at].suffix.clone());
            *value.decor_mut() = Decor::new(prefix, suffix);
            array.push_formatted(value);
        }
        self.close(array, wanted.last().copied());
    }

    /// Whether an item is followed by what it was followed by: another item, or the end.
    fn stays_before(&self, at: usize, next: Option<Option<usize>>) -> bool {
        match next {
            Some(next) => {
                next == Some(at + 1) && self.items.get(at + 1).is_some_and(|next| !next.moved)
            }
            None => at + 1 == self.items.len() && !self.moved,
        }
    }

    /// The end of the list, with `last` as its last item, if it has one.
    fn close(self, array: &mut Array, last: Option<Option<usize>>) {
        array.set_trailing_comma(self.comma);
        let tail = match last {
            Some(Some(at)) if self.stays_before(at, None) => {
                array.set_trailing(self.trailing);
                return;
            }
            Some(Some(at)) => self.items[at].tail.as_str(),
            Some(None) => "",
            None => &self.head,
        };
        let open = tail.contains('#') && !self.closing.contains('\n');
        array.set_trailing(format!("{tail}{}{}", if open { "\n" } else { "" }, self.closing));
    }
}

/// The blanks that the last of these lines begins with.
fn indent_of(lines: &str) -> &str {
    let line = &lines[lines.rfind('\n').map_or(0, |at| at + 1)..];
    if line.is_empty() { "    " } else { &line[..line.len() - line.trim_start().len()] }
}
