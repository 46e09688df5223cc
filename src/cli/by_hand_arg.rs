//! `--by-hand` stands alone or before what is made by hand. Alone it may stand before a garment, so only words that
//! name such work are taken to belong to it.

use std::ffi::OsString;

use knit::by_hand::HandWork;

const FLAG: &str = "--by-hand";

/// The arguments with what belongs to `--by-hand` joined to it.
pub(super) fn joined(given: Vec<OsString>) -> Vec<OsString> {
    let mut all: Vec<OsString> = Vec::with_capacity(given.len());
    for argument in given {
        match all.last_mut() {
            Some(flag) if flag == FLAG && names_work(&argument) => {
                flag.push("=");
                flag.push(argument);
            }
            _ => all.push(argument),
        }
    }
    all
}

fn names_work(argument: &OsString) -> bool {
    let Some(text) = argument.to_str() else { return false };
    // A list is meant for it even where a word of it is misspelt.
    let list = text.contains(',') && !text.contains(['/', '=']);
    !text.starts_with('-') && (list || HandWork::parse(text).is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_made_by_hand_belongs_to_it_and_a_garment_does_not() {
        for (given, whole) in [
            ("pattern tam --by-hand", "pattern tam --by-hand"),
            ("pattern --by-hand tam", "pattern --by-hand tam"),
            ("pattern tam --by-hand rib", "pattern tam --by-hand=rib"),
            ("pattern --by-hand toe,grafting sock", "pattern --by-hand=toe,grafting sock"),
            ("pattern tam --by-hand rip,toe", "pattern tam --by-hand=rip,toe"),
            ("pattern tam --by-hand --size y4", "pattern tam --by-hand --size y4"),
        ] {
            let given = given.split(' ').map(OsString::from).collect();
            let told: Vec<String> =
                joined(given).into_iter().map(|text| text.to_string_lossy().into_owned()).collect();
            assert_eq!(told.join(" "), whole);
        }
    }
}
