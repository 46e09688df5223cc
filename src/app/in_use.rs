//! What still speaks of something that is to be taken away.

use diag::{Code, Diagnostic};
use knit::stash::{Contents, FinishedPiece};

/// Who uses a swatch: the settings, yarns, records. `None`: nobody.
pub(super) fn swatch_in_use(contents: &Contents, id: &str) -> Option<Diagnostic> {
    let mut users = Vec::new();
    if contents.settings.swatch.as_deref() == Some(id) {
        users.push("oddments.toml has it as the usual one".to_owned());
    }
    let yarns = contents.yarns.values().filter(|yarn| yarn.swatches.iter().any(|own| own == id));
    let yarns: Vec<&str> = yarns.map(|yarn| yarn.id.as_str()).collect();
    match yarns.as_slice() {
        [] => {}
        [only] => users.push(format!("the yarn {only} is knitted to it")),
        all => users.push(format!("the yarns {} are knitted to it", all.join(", "))),
    }
    users.extend(records_that(contents, |record| record.swatch.as_deref() == Some(id)));
    (!users.is_empty()).then(|| {
        let fault = format!("the swatch `{id}` is in use: {}", users.join("; "));
        Diagnostic::error(Code::InUse, fault).hint(
            "name another swatch in those places first, or leave it: a record needs the swatch that its \
             piece was knitted to",
        )
    })
}

/// Gifts that name a knitter; `None`: there are none.
pub(super) fn knitter_in_gifts(contents: &Contents, name: &str) -> Option<Diagnostic> {
    let theirs = contents.gifts.iter().filter(|gift| contents.knitter_of(gift) == Some(name));
    let mut ids: Vec<&str> = theirs.map(|gift| gift.id.as_str()).collect();
    let more = ids.len().saturating_sub(MOST);
    ids.truncate(MOST);
    let first = *ids.first()?;
    let others = if more > 0 { format!(" and {more} more") } else { String::new() };
    let fault = format!("`{name}` is to knit {}{others}", ids.join(", "));
    Some(Diagnostic::error(Code::InUse, fault).hint(format!(
        "let another knit them, or whoever can: `oddments gifts change {first} --knitter \"\"`; what is set \
         aside for one is free with `oddments gifts free {first}`"
    )))
}

/// Records of a yarn; `None`: there are none.
pub(super) fn yarn_in_records(contents: &Contents, id: &str) -> Option<Diagnostic> {
    let users = records_that(contents, |record| record.yarn == id)?;
    let fault = format!("the yarn `{id}` is in use: {users}");
    Some(Diagnostic::error(Code::InUse, fault).hint(
        "leave it, with no remnants it stands in nobody's way: `oddments stash remove ID` takes a remnant \
         out alone; or take those records out of records.toml first, and lose what they taught",
    ))
}

/// "record 2 is of it (hat in women-m, records.toml:16)".
fn records_that(contents: &Contents, uses: impl Fn(&FinishedPiece) -> bool) -> Option<String> {
    let own = contents.records.iter().enumerate().filter(|(_, record)| uses(record));
    let each: Vec<String> = own
        .map(|(entry, record)| {
            let line = contents.record_lines.get(entry).map_or(0, |line| *line);
            format!("{} in {} (records.toml:{line})", record.garment, record.size)
        })
        .collect();
    match each.len() {
        0 => None,
        1 => Some(format!("a record is of it: {}", each.join(""))),
        n if n > MOST => {
            Some(format!("{n} records are of it: {} and others", each[..MOST].join(", ")))
        }
        n => Some(format!("{n} records are of it: {}", each.join(", "))),
    }
}

/// More are not named one by one.
const MOST: usize = 6;
