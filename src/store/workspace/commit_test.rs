//! A change of several files that stops half-way: all of it is there, or nothing.

use std::fs;

use diag::Code;

use super::folder::Folder;
use super::journal::{FileChange, Journal};
use super::{change_of, lock};

fn workspace() -> (tempfile::TempDir, Folder) {
    let root = tempfile::tempdir().expect("a folder");
    for (name, text) in
        [("oddments.toml", ""), ("stash.toml", "# one\n"), ("people.toml", "# two\n")]
    {
        fs::write(root.path().join(name), text).expect("written");
    }
    let folder = Folder::find(Some(root.path())).expect("found").expect("a workspace");
    lock::make_own(&folder).expect("made");
    (root, folder)
}

fn both() -> Vec<FileChange> {
    let stash = FileChange::between("stash.toml", Some("# one\n"), Some("# three\n"));
    let people = FileChange::between("people.toml", Some("# two\n"), Some("# four\n"));
    vec![stash, people]
}

fn texts(folder: &Folder) -> [String; 2] {
    ["stash.toml", "people.toml"].map(|name| fs::read_to_string(folder.path(name)).expect("there"))
}

#[test]
fn what_was_written_is_put_back_where_the_rest_can_not_be() {
    let (_root, folder) = workspace();
    let mut journal = Journal::default();
    let mut files = both();
    // It can't be made of the text that is there.
    files[1].after = Some("0".to_owned());
    let change = change_of(&journal, "stash add", files);
    let faults = folder.commit(&mut journal, change, &folder.snapshot()).expect_err("refused");
    assert!(faults.iter().any(|fault| fault.code == Code::ChangedSince), "{faults}");
    assert_eq!(texts(&folder), ["# one\n", "# two\n"]);
    let read = Journal::read(&folder).expect("read");
    assert_eq!((read.pending(), read.number()), (None, 0));
}

#[test]
fn what_was_cut_short_is_finished_once() {
    let (_root, folder) = workspace();
    let mut journal = Journal::default();
    let change = change_of(&journal, "stash add", both());
    journal.begin(&folder, change).expect("begun");
    fs::write(folder.path("stash.toml"), "# three\n").expect("written");
    let (_, told) = folder.recovered().expect("recovered");
    assert_eq!(told.iter().map(|told| told.code).collect::<Vec<_>>(), [Code::Finished]);
    assert_eq!(texts(&folder), ["# three\n", "# four\n"]);
    let (read, told) = folder.recovered().expect("nothing to recover");
    assert_eq!((told.iter().count(), read.pending(), read.number()), (0, None, 1));
}
