//! Faults of the disk, the clock and the journal: the knitter's files are what they were before
//! or what the command made of them, never anything between.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use app::{Workspace, WorkspaceEdit};
use store::workspace::{Edit, Folder, Given, List, UndoAsk};

use crate::demo::Demo;
use crate::support::oddments_in;

const STASH: &str =
    "# The chest.\n\n[[remnant]]\nid = 'a'  # old\nyarn = \"slate\"\nweight = \"20 g\"\n";

/// One yarn, one remnant, one person, one gift.
fn small() -> (tempfile::TempDir, PathBuf) {
    let hold = tempfile::tempdir().expect("a folder");
    let folder = hold.path().to_owned();
    fs::create_dir(folder.join("yarns")).expect("made");
    for (path, text) in [
        ("oddments.toml", "units = \"cm\"\n"),
        (
            "yarns/slate.toml",
            "yarn = \"400 m/100 g\"\n[[colour]]\nname = \"slate\"\nshade = \"#5a6570\"\n",
        ),
        ("stash.toml", STASH),
        ("people.toml", "[[person]]\nname = \"Ruan\"\nsize = \"men-l\"\n"),
        ("gifts.toml", "[[gift]]\nid = \"g\"\nperson = \"Ruan\"\ngarment = \"tam\"\n"),
    ] {
        fs::write(folder.join(path), text).expect("written");
    }
    (hold, folder)
}

/// Every file but the program's own, with its bytes.
fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(next).expect("listed").flatten() {
            let path = entry.path();
            if path.is_dir() {
                if entry.file_name() != ".oddments" {
                    folders.push(path);
                }
            } else {
                found.insert(path.clone(), fs::read(&path).expect("read"));
            }
        }
    }
    found
}

fn edits(folder: &Path, command: &str, all: Vec<Edit>) -> Result<(), diag::Diagnostics> {
    WorkspaceEdit::open(Some(folder))?.edits(command, |_| Ok((all, ())))
}

fn weigh(grams: u32) -> Edit {
    Edit::reweigh("a", format!("{grams} g").parse().expect("a mass"))
}

/// Touches two files.
fn rename(from: &str, to: &str) -> Vec<Edit> {
    let change = |list, key: &str, field: &str| Edit::Change {
        list,
        key: key.into(),
        fields: vec![(field.into(), Given::text(to))],
    };
    vec![change(List::People, from, "name"), change(List::Gifts, "g", "person")]
}

fn folder_of(path: &Path) -> Folder {
    Folder::find(Some(path)).expect("found").expect("there")
}

/// A disk that is full at every size in turn: writes end in an error, or in a signal.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_loses_nothing() {
    let demo = Demo::new();
    let note = "n".repeat(200);
    let (mut done, mut refused) = (0, 0);
    for ignored in [true, false] {
        // Half kilobytes a file may have: from none to more than any of these files needs.
        for blocks in (0..20).map(|n| n * n) {
            let before = files(&demo.path);
            let id = format!("f{blocks}-{ignored}");
            let trap = if ignored { "trap '' XFSZ; " } else { "" };
            let script = format!(
                "{trap}ulimit -f {blocks} && exec \"$0\" stash add --yarn slate --weight '7 g' --id {id} --note {note}"
            );
            let run = Command::new("sh")
                .args(["-c", &script, env!("CARGO_BIN_EXE_oddments")])
                .current_dir(&demo.path)
                .output()
                .expect("a shell");
            let told = String::from_utf8_lossy(&run.stderr);
            let after = Workspace::require(Some(&demo.path)).expect("never a broken file");
            let there = after.contents.remnant(&id).is_some();
            if run.status.success() {
                done += 1;
                assert!(there, "{blocks}: reported and lost");
            } else {
                refused += 1;
                if ignored && blocks > 0 {
                    assert!(told.contains("can't write"), "{blocks}: {told}");
                }
                assert!(!ignored || !there, "{blocks}: refused and there: {told}");
                if !there {
                    assert_eq!(files(&demo.path), before, "{blocks}");
                }
            }
            if there {
                let undone = oddments_in(&demo.path, &["undo"]);
                assert_eq!(undone.code, Some(0), "{}", undone.err);
            }
            assert_eq!(files(&demo.path), before, "{blocks}");
        }
    }
    eprintln!("full disk: {done} done, {refused} refused, 0 lost");
    assert!(done > 2 && refused > 10, "{done} done, {refused} refused");
}

/// Something else stands where the program wants to write.
#[test]
fn what_is_in_the_way_is_told_and_nothing_is_changed() {
    type Block = fn(&Path);
    let blocks: [(&str, Block); 5] = [
        ("a file for the program's folder", |f| {
            fs::write(f.join(".oddments"), "x").expect("written");
        }),
        ("a folder for the lock", |f| fs::create_dir_all(f.join(".oddments/lock")).expect("made")),
        ("a folder for the journal", |f| {
            fs::create_dir_all(f.join(".oddments/journal/x")).expect("made");
        }),
        ("a folder for the file", |f| {
            fs::remove_file(f.join("stash.toml")).expect("gone");
            fs::create_dir(f.join("stash.toml")).expect("made");
        }),
        ("a folder for the damaged journal", |f| {
            fs::create_dir_all(f.join(".oddments/journal.damaged/x")).expect("made");
            fs::write(f.join(".oddments/journal"), "{\"sum\"").expect("written");
        }),
    ];
    for (name, block) in blocks {
        let (_hold, folder) = small();
        block(&folder);
        let before = files(&folder);
        let ran = oddments_in(&folder, &["stash", "change", "a", "--weight", "1 g"]);
        assert_eq!(ran.code, Some(1), "{name}: {}", ran.err);
        assert!(
            ran.err.contains("can't write") || ran.err.contains("can't read"),
            "{name}: {}",
            ran.err
        );
        assert!(ran.err.contains("hint"), "{name}: {}", ran.err);
        assert_eq!(files(&folder), before, "{name}");
    }
}

/// Between the reading of a file and its writing someone takes it away, or saves their own.
#[test]
fn what_changes_between_reading_and_writing_is_not_written_over() {
    for own in [None, Some("# Mine.\n"), Some("")] {
        for path in ["people.toml", "gifts.toml"] {
            let (_hold, folder) = small();
            let mut edit = WorkspaceEdit::open(Some(&folder)).expect("a workspace");
            let before = files(&folder);
            let told = edit.edits("people change", |_| {
                match own {
                    None => fs::remove_file(folder.join(path)).expect("gone"),
                    Some(text) => fs::write(folder.join(path), text).expect("written"),
                }
                Ok((rename("Ruan", "Jago"), ()))
            });
            let told = told.expect_err("refused").to_string();
            assert!(told.contains("changed at this very moment"), "{told}");
            assert_eq!(fs::read_to_string(folder.join(path)).ok().as_deref(), own, "{path}");
            let mut after = files(&folder);
            let mut wanted = before;
            after.remove(&folder.join(path));
            wanted.remove(&folder.join(path));
            assert_eq!(after, wanted, "the other file is as it was");
        }
    }
}

/// The sum the journal has over each line (FNV-1a, 64 bits).
fn sealed(record: &str) -> String {
    let hash = record.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    });
    format!("{{\"sum\":\"{hash:016x}\",\"record\":{record}}}\n")
}

#[test]
fn a_clock_that_jumps_changes_nothing() {
    for time in
        ["9999-12-31T23:59:59Z", "1970-01-01T00:00:00Z", "-009999-01-01T00:00:00Z", "soon", ""]
    {
        let (_hold, folder) = small();
        let before = files(&folder);
        for grams in 1..4 {
            edits(&folder, "stash change", vec![weigh(grams)]).expect("changed");
        }
        let journal = folder.join(".oddments/journal");
        let lines: String = fs::read_to_string(&journal)
            .expect("there")
            .lines()
            .map(|line| {
                let record = &line[line.find("\"record\":").expect("a record") + 9..line.len() - 1];
                let record = match record.split_once("\"time\":\"") {
                    Some((front, rest)) => {
                        let rest = &rest[rest.find('"').expect("an end")..];
                        format!("{front}\"time\":\"{time}{rest}")
                    }
                    None => record.to_owned(),
                };
                sealed(&record)
            })
            .collect();
        fs::write(&journal, lines).expect("written");
        fs::write(
            folder.join("records.toml"),
            "[[record]]\ngarment = \"tam\"\nsize = \"men-l\"\nyarn = \"slate\"\nmachine = \"standard\"\n\
             sections = { band = { before = \"20 g\", after = \"9 g\" } }\ndate = \"9999-12-31\"\n",
        )
        .expect("written");
        let listed = oddments_in(&folder, &["stash", "list"]);
        assert_eq!((listed.code, listed.err.as_str()), (Some(0), ""), "{time}");
        edits(&folder, "stash change", vec![weigh(9)]).expect("goes on");
        fs::remove_file(folder.join("records.toml")).expect("gone");
        for _ in 0..4 {
            let undone = oddments_in(&folder, &["undo"]);
            assert_eq!(undone.code, Some(0), "{time}: {}", undone.err);
        }
        assert_eq!(files(&folder), before, "{time}");
    }
}

/// The journal of three changes, whole and with the last one cut short: one byte in `stride`
/// altered in turn, and cut there.
#[allow(clippy::print_stderr, reason = "the figures, for who runs it")]
fn damage_the_journal(stride: usize) {
    let (_hold, folder) = small();
    edits(&folder, "stash change", vec![weigh(5)]).expect("changed");
    edits(&folder, "people change", rename("Ruan", "Jago")).expect("changed");
    let before = files(&folder);
    edits(&folder, "people change", rename("Jago", "Tamsin")).expect("changed");
    let after = files(&folder);
    let path = folder.join(".oddments/journal");
    let whole = fs::read(&path).expect("there");
    let last = whole[..whole.len() - 1].iter().rposition(|b| *b == b'\n').expect("lines") + 1;
    let workspace = folder_of(&folder);
    let (mut tries, mut warned) = (0, 0);
    let restore = |files: &BTreeMap<PathBuf, Vec<u8>>| {
        for (path, bytes) in files {
            fs::write(path, bytes).expect("written");
        }
    };
    // Whether the last change was cut short between its two files.
    for (open, length) in [(false, whole.len()), (true, last)] {
        let sound = &whole[..length];
        let damages = (0..length)
            .flat_map(|at| [(at, Some(0x01)), (at, Some(0x80)), (at, None)])
            .filter(|(at, _)| at % stride == 0);
        for (at, flip) in damages {
            let mut bytes = sound.to_vec();
            match flip {
                Some(bit) => bytes[at] ^= bit,
                None => bytes.truncate(at),
            }
            let mut now = after.clone();
            if open {
                let gifts = folder.join("gifts.toml");
                now.insert(gifts.clone(), before[&gifts].clone());
                restore(&now);
            }
            fs::write(&path, &bytes).expect("written");
            let read = workspace.read();
            tries += 1;
            let found = files(&folder);
            assert!(found == now || found == after, "{at} {flip:?}: a file is neither old nor new");
            // A gift for someone who isn't there is a fault of the files, told as one.
            let told = read.map_or_else(|faults| faults, |seen| seen.warnings);
            let between = at == 0 || bytes.ends_with(b"\n");
            if flip.is_some() || !between {
                assert!(!told.is_empty(), "{at} {flip:?}: nothing is said");
            }
            warned += usize::from(!told.is_empty());
            // A change goes on, and what the sound lines say can be taken back.
            if at % 290 == 0 {
                let stood = files(&folder);
                edits(&folder, "stash change", vec![weigh(77)]).expect("goes on");
                workspace.undo(&UndoAsk::default()).expect("taken back");
                assert_eq!(files(&folder), stood, "{at} {flip:?}");
            }
        }
        restore(&after);
    }
    eprintln!("journal: {tries} damages, {warned} told, 0 files lost");
}

#[test]
fn a_journal_damaged_at_some_bytes_costs_no_file() {
    damage_the_journal(29);
}

/// `cargo test --test it journal_damaged_at_every_byte -- --ignored --nocapture`
#[test]
#[ignore = "takes minutes"]
fn a_journal_damaged_at_every_byte_costs_no_file() {
    damage_the_journal(1);
}

/// Kilobytes the process holds.
#[cfg(target_os = "linux")]
fn resident_kb() -> u64 {
    let status = fs::read_to_string("/proc/self/status").expect("there");
    let line = status.lines().find(|line| line.starts_with("VmRSS:")).expect("a line");
    line.split_whitespace().nth(1).and_then(|kb| kb.parse().ok()).expect("a number")
}

/// Small changes and undos in turn; gives the largest the journal was.
fn soak(folder: &Path, changes: u32) -> u64 {
    let remnant = Workspace::require(Some(folder)).expect("sound").contents.remnants[0].id.clone();
    let workspace = folder_of(folder);
    let before = files(folder);
    let mut most = 0;
    for i in 0..changes / 2 {
        let mass = format!("{} g", 1001 + i % 97).parse().expect("a mass");
        edits(folder, "stash change", vec![Edit::reweigh(&remnant, mass)]).expect("changed");
        workspace.undo(&UndoAsk::default()).expect("taken back");
        most = most.max(fs::metadata(folder.join(".oddments/journal")).expect("there").len());
    }
    assert_eq!(files(folder), before, "back where it began");
    let own = fs::read_dir(folder.join(".oddments")).expect("listed").flatten();
    let own: Vec<String> = own.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
    assert!(
        own.iter().all(|name| ["lock", "journal", "schemas"].contains(&name.as_str())),
        "no litter: {own:?}"
    );
    most
}

#[test]
fn many_changes_leave_nothing_behind() {
    let (_hold, folder) = small();
    let most = soak(&folder, 200);
    assert!(most < 200_000, "{most} bytes of journal");
}

/// `cargo test --test it soak_twenty_thousand -- --ignored --nocapture`
#[cfg(target_os = "linux")]
#[test]
#[ignore = "takes long"]
fn soak_twenty_thousand_changes() {
    let demo = Demo::new();
    soak(&demo.path, 200);
    let before = resident_kb();
    let most = soak(&demo.path, 20_000);
    let after = resident_kb();
    eprintln!("20,000 changes: journal at most {most} bytes, memory {before} to {after} KB");
    // Four megabytes, and one change beyond it.
    assert!(most < (4 << 20) + 10_000, "{most}");
    assert!(after < before + 64 * 1024, "memory grew from {before} to {after} KB");
}
