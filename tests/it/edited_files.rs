//! Files that people edit, by hand and by command, one after the other and at once; and what lies
//! in the place of a file and is none.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::time::Duration;

use app::{Places, Put, init_workspace};
use axum::http::{Method, StatusCode};
use diag::Code;
use serde_json::json;
use store::workspace::{Basis, Edit, Folder};
use web::Setup;

use crate::server::{Server, json_request, setup};

struct Ran {
    code: Option<i32>,
    out: String,
    err: String,
}

/// Runs the program, which is to end by itself.
fn run(folder: &Path, args: &[&str]) -> Ran {
    let output = assert_cmd::Command::new(env!("CARGO_BIN_EXE_oddments"))
        .current_dir(folder)
        .args(args)
        .timeout(Duration::from_secs(60))
        .output()
        .expect("it starts");
    let text = |bytes: Vec<u8>| String::from_utf8_lossy(&bytes).into_owned();
    Ran { code: output.status.code(), out: text(output.stdout), err: text(output.stderr) }
}

fn good(folder: &Path, args: &[&str]) {
    let ran = run(folder, args);
    assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.err);
}

const STASH: &str = "# The chest.\n\n# By the door.\n[[remnant]]\nid = 'a'\nyarn = \"slate\"\n\
    weight = \"20 g\" # weighed\nnote = '''\nOf the\nblue hat'''\n\n# Under the oilskin.\n\
    [[remnant]]\nid = \"b\"\nyarn = \"slate\"\nweight = \"30 g\"\n";
const PEOPLE: &str = "[[person]]\nname = \"Ruan\"\nsize = \"men-l\"\n[person.likes]\n\
    colours = [\n    # Of the sea.\n    'blue', # his boat's\n    \"green\",\n]\n";

fn workspace() -> (tempfile::TempDir, PathBuf) {
    let hold = tempfile::tempdir().expect("a folder");
    let folder = hold.path().join("own");
    init_workspace(&folder, false).expect("made");
    let yarn = "yarn = \"400 m/100 g\"\n[[colour]]\nname = \"slate\"\nshade = \"#5a6570\"\n";
    fs::create_dir(folder.join("yarns")).expect("made");
    for (path, text) in [("yarns/slate.toml", yarn), ("stash.toml", STASH)] {
        fs::write(folder.join(path), text).expect("written");
    }
    (hold, folder)
}

fn read(folder: &Path, path: &str) -> String {
    fs::read_to_string(folder.join(path)).expect("a text")
}

#[test]
fn the_first_entry_leaves_the_top_of_a_new_file_on_top() {
    let (_hold, folder) = workspace();
    for path in ["people.toml", "gifts.toml"] {
        let before = read(&folder, path);
        assert!(before.starts_with("#:schema "), "{before}");
        match path {
            "people.toml" => good(&folder, &["people", "add", "Ruan", "--size", "men-l"]),
            _ => good(&folder, &["gifts", "add", "--person", "Ruan", "--garment", "tam"]),
        }
        let after = read(&folder, path);
        assert!(after.starts_with(&before), "{after}");
    }
    good(&folder, &["yarn", "add", "kelp", "--yarn", "400 m/100 g", "--colour", "kelp #4f6b3a"]);
    let yarn = read(&folder, "yarns/kelp.toml");
    assert!(yarn.starts_with("#:schema ../.oddments/schemas/yarn.json\nyarn = "), "{yarn}");
}

#[test]
fn a_file_with_other_line_ends_is_edited_like_any() {
    let (_hold, folder) = workspace();
    let crlf = STASH.replace('\n', "\r\n");
    fs::write(folder.join("stash.toml"), &crlf).expect("written");
    good(&folder, &["stash", "change", "a", "--weight", "12 g"]);
    assert_eq!(read(&folder, "stash.toml"), crlf.replace("20 g", "12 g"));
    good(&folder, &["undo"]);
    assert_eq!(read(&folder, "stash.toml"), crlf);
    good(&folder, &["stash", "remove", "a"]);
    let start = crlf.find("# By the door").expect("there");
    let end = crlf.find("# Under the oilskin").expect("there");
    assert_eq!(read(&folder, "stash.toml"), format!("{}{}", &crlf[..start], &crlf[end..]));
    // No line end at the end, either.
    let cut = STASH.trim_end();
    fs::write(folder.join("stash.toml"), cut).expect("written");
    good(&folder, &["stash", "change", "a", "--weight", "12 g"]);
    assert_eq!(read(&folder, "stash.toml"), cut.replace("20 g", "12 g"));
}

#[test]
fn a_list_of_colours_keeps_its_comments() {
    let (_hold, folder) = workspace();
    fs::write(folder.join("people.toml"), PEOPLE).expect("written");
    let change = |colours: &[&str]| {
        let colours = colours.iter().flat_map(|colour| ["--likes-colour", *colour]);
        let args: Vec<&str> = ["people", "change", "Ruan"].into_iter().chain(colours).collect();
        good(&folder, &args);
        read(&folder, "people.toml")
    };
    assert_eq!(
        change(&["blue", "green", "grey"]),
        PEOPLE.replace("\"green\",\n", "\"green\",\n    \"grey\",\n")
    );
    assert_eq!(change(&["blue"]), PEOPLE.replace("    \"green\",\n", ""));
}

#[test]
fn what_is_said_below_the_last_entry_stays_with_it() {
    let (_hold, folder) = workspace();
    let (own, last) = ("# On Ruan, below.\n", "\n# The end of the file.\n");
    for end in ["\n", "\r\n"] {
        let before = format!("{PEOPLE}{own}{last}").replace('\n', end);
        fs::write(folder.join("people.toml"), &before).expect("written");
        good(&folder, &["people", "add", "Ewan", "--size", "men-m"]);
        let new = "\n[[person]]\nname = \"Ewan\"\nsize = \"men-m\"\n";
        let after = format!("{PEOPLE}{own}{new}{last}").replace('\n', end);
        assert_eq!(read(&folder, "people.toml"), after);
        good(&folder, &["undo"]);
        assert_eq!(read(&folder, "people.toml"), before);
    }
    let yarn = read(&folder, "yarns/slate.toml") + "# Its only colour.\n\n# So far.\n";
    fs::write(folder.join("yarns/slate.toml"), yarn).expect("written");
    good(&folder, &["yarn", "change", "slate", "--name", "Slate"]);
    assert!(read(&folder, "yarns/slate.toml").ends_with("# Its only colour.\n\n# So far.\n"));
}

#[cfg(unix)]
#[test]
fn a_file_that_is_read_only_is_left_alone() {
    use std::os::unix::fs::PermissionsExt;
    let (_hold, folder) = workspace();
    let mode = |path: &str, mode: u32| {
        fs::set_permissions(folder.join(path), fs::Permissions::from_mode(mode)).expect("set");
    };
    good(&folder, &["stash", "change", "a", "--weight", "12 g"]);
    let stash = read(&folder, "stash.toml");
    mode("stash.toml", 0o444);
    let refused = |args: &[&str], path: &str| {
        let ran = run(&folder, args);
        assert_eq!(ran.code, Some(1), "{args:?}: {}{}", ran.out, ran.err);
        assert!(ran.err.contains(&format!("{path}: the file is read-only")), "{}", ran.err);
        assert!(ran.err.contains("chmod u+w"), "{}", ran.err);
    };
    refused(&["stash", "change", "a", "--weight", "13 g"], "stash.toml");
    refused(&["undo"], "stash.toml");
    // A change of several files writes none of them.
    let yarn = read(&folder, "yarns/slate.toml");
    refused(&["yarn", "change", "slate", "--new-id", "kelp"], "stash.toml");
    assert_eq!((read(&folder, "stash.toml"), read(&folder, "yarns/slate.toml")), (stash, yarn));
    mode("stash.toml", 0o644);
    mode("yarns/slate.toml", 0o444);
    refused(&["yarn", "remove", "slate", "--and-remnants"], "yarns/slate.toml");
    // Nor is a result put in its place.
    fs::write(folder.join("list.csv"), "mine").expect("written");
    mode("list.csv", 0o444);
    refused(&["stash", "list", "--format", "csv", "--output", "list.csv"], "list.csv");
    assert_eq!(read(&folder, "list.csv"), "mine");
    good(&folder, &["stash", "change", "a", "--weight", "13 g"]);
}

/// Hundreds of saves by hand, some by renaming and some in place, while commands change the file:
/// each is in the file, or beside it.
#[test]
fn what_is_saved_by_hand_while_a_command_writes_is_never_lost() {
    const SAVES: u32 = 600;
    let (_hold, folder) = workspace();
    let workspace = Folder::find(Some(&folder)).expect("found").expect("there");
    let stash = folder.join("stash.toml");
    let (done, made) = (AtomicBool::new(false), AtomicU32::new(0));
    let mut refused = 0;
    std::thread::scope(|scope| {
        scope.spawn(|| {
            for save in 0..SAVES {
                let text = format!("{}# By hand: {save}.\n", read(&folder, "stash.toml"));
                if save % 2 == 0 {
                    fs::write(folder.join("stash.toml~"), text).expect("written");
                    fs::rename(folder.join("stash.toml~"), &stash).expect("renamed");
                } else {
                    fs::write(&stash, text).expect("written");
                }
                std::thread::sleep(Duration::from_micros(u64::from(save % 7) * 700));
                // However slow the machine is: some changes come through.
                let seen = made.load(Ordering::Relaxed);
                while save % 100 == 99 && made.load(Ordering::Relaxed) == seen {
                    std::thread::sleep(Duration::from_millis(1));
                }
            }
            done.store(true, Ordering::Relaxed);
        });
        for turn in 0.. {
            if done.load(Ordering::Relaxed) {
                break;
            }
            let weight = format!("{} g", turn % 90 + 1).parse().expect("a mass");
            match workspace.change("stash change", &Basis::default(), |_| {
                Ok((vec![Edit::reweigh("a", weight)], ()))
            }) {
                Ok(_) => drop(made.fetch_add(1, Ordering::Relaxed)),
                Err(faults) => {
                    refused += u32::from(faults.iter().any(|f| f.code == Code::ChangedSince));
                }
            }
        }
    });
    good(&folder, &["stash", "change", "b", "--weight", "1 g"]);
    let texts: Vec<String> = fs::read_dir(&folder)
        .expect("listed")
        .flatten()
        .filter(|entry| entry.file_name().to_string_lossy().starts_with("stash.toml"))
        .map(|entry| fs::read_to_string(entry.path()).expect("a text"))
        .collect();
    for save in 0..SAVES {
        let line = format!("# By hand: {save}.\n");
        assert!(texts.iter().any(|text| text.contains(&line)), "{save} of {} files", texts.len());
    }
    assert!(refused > 0, "{made:?} made and none refused: no race was met");
}

/// As a kill leaves it between the exchange and the look at what came out.
#[test]
fn what_came_out_of_a_file_s_place_outlives_a_kill() {
    let (_hold, folder) = workspace();
    good(&folder, &["stash", "change", "a", "--weight", "12 g"]);
    let journal = read(&folder, ".oddments/journal");
    let open =
        journal.trim_end().rsplit_once('\n').map_or(String::new(), |lines| lines.0.to_owned());
    fs::write(folder.join(".oddments/journal"), open + "\n").expect("written");
    let out = ".oddments/.out-0123456789abcdef-fedcba9876543210-AbCdEf-stash.toml";
    fs::write(folder.join(out), "# Saved by hand.\n").expect("written");
    fs::write(folder.join(".oddments/.tmp-x"), "half wri").expect("written");
    let ran = run(&folder, &["stash", "list"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.err.contains("that text is kept as"), "{}", ran.err);
    assert_eq!(read(&folder, "stash.toml.kept-1"), "# Saved by hand.\n");
    assert_eq!(read(&folder, "stash.toml"), STASH.replace("20 g", "12 g"));
    assert!(!folder.join(out).exists() && !folder.join(".oddments/.tmp-x").exists());
    assert!(run(&folder, &["stash", "list"]).err.is_empty(), "said once");
    // A name that leads elsewhere is not followed.
    let away = ".oddments/.out-0-0-x-oddments.txt";
    fs::write(folder.join(away), "x").expect("written");
    good(&folder, &["stash", "change", "a", "--weight", "13 g"]);
    assert_eq!(read(&folder, away), "x");
}

#[cfg(unix)]
mod no_files {
    use super::*;

    fn pipe(path: &Path) {
        let made = std::process::Command::new("mkfifo").arg(path).status();
        assert!(made.expect("mkfifo runs").success());
    }

    fn socket(path: &Path) {
        drop(std::os::unix::net::UnixListener::bind(path).expect("bound"));
    }

    fn device(path: &Path) {
        std::os::unix::fs::symlink("/dev/zero", path).expect("linked");
    }

    fn inner(path: &Path) {
        fs::create_dir(path).expect("made");
    }

    const KINDS: [fn(&Path); 4] = [pipe, socket, device, inner];

    /// The workspace with something else in the place of a file.
    fn with(path: &str, put: fn(&Path)) -> (tempfile::TempDir, PathBuf) {
        let (hold, folder) = workspace();
        let path = folder.join(path);
        fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        if path.exists() {
            fs::remove_file(&path).expect("removed");
        }
        put(&path);
        (hold, folder)
    }

    #[test]
    fn in_the_place_of_the_knitters_files_they_are_told() {
        for path in [
            "stash.toml",
            "people.toml",
            "gifts.toml",
            "records.toml",
            "plan.toml",
            "machines.toml",
            "yarns/kelp.toml",
            "swatches/own.toml",
            "size-tables/own.toml",
        ] {
            for put in KINDS {
                let (_hold, folder) = with(path, put);
                for args in [&["stash", "list"][..], &["stash", "change", "a", "--weight", "1 g"]] {
                    let ran = run(&folder, args);
                    let told = ran.err.contains(path) && ran.err.contains("not a file");
                    // A change has no business with faults of files that it doesn't touch.
                    let goes_on = args[1] == "change" && path != "stash.toml";
                    assert_eq!(ran.code, Some(i32::from(!goes_on)), "{path} {args:?}: {}", ran.err);
                    assert!(told || goes_on, "{path} {args:?}: {}", ran.err);
                    assert!(goes_on || ran.err.contains("move it away"), "{}", ran.err);
                }
            }
        }
        for put in KINDS {
            let (_hold, folder) = with("oddments.toml", put);
            let ran = run(&folder, &["stash", "list", "--workspace", "."]);
            assert!(ran.code == Some(1) && ran.err.contains("not a file"), "{}", ran.err);
        }
    }

    #[test]
    fn in_the_place_of_the_program_s_own_files_reading_goes_on() {
        for path in [".oddments/lock", ".oddments/journal"] {
            for put in KINDS {
                let (_hold, folder) = with(path, put);
                let ran = run(&folder, &["stash", "list"]);
                assert!(ran.code == Some(0) && ran.out.contains("slate"), "{path}: {}", ran.err);
                for args in [&["stash", "change", "a", "--weight", "1 g"][..], &["undo"]] {
                    let ran = run(&folder, args);
                    assert_eq!(ran.code, Some(1), "{path} {args:?}: {}", ran.err);
                    assert!(ran.err.contains(path), "{path} {args:?}: {}", ran.err);
                }
                assert_eq!(read(&folder, "stash.toml"), STASH);
            }
        }
        for put in KINDS {
            let (_hold, folder) = with(".oddments/schemas/stash.json", put);
            good(&folder, &["stash", "change", "a", "--weight", "1 g"]);
        }
    }

    #[test]
    fn what_can_not_be_read_is_all_that_is_told() {
        let (_hold, folder) = with("people.toml", pipe);
        let gifts = "[[gift]]\nid = \"x\"\nperson = \"Ruan\"\ngarment = \"tam\"\n";
        let alone = |path: &str| {
            let ran = run(&folder, &["stash", "list"]);
            assert_eq!(ran.code, Some(1), "{path}: {}", ran.out);
            assert_eq!(ran.err.matches("error[").count(), 1, "{path}: {}", ran.err);
            assert!(ran.err.contains(path), "{path}: {}", ran.err);
        };
        fs::write(folder.join("gifts.toml"), gifts).expect("written");
        alone("people.toml");
        // What is no TOML tells as little of who is there.
        fs::remove_file(folder.join("people.toml")).expect("removed");
        fs::write(folder.join("people.toml"), "[[person]\n").expect("written");
        alone("people.toml");
        fs::write(folder.join("people.toml"), "").expect("written");
        let ran = run(&folder, &["stash", "list"]);
        assert!(ran.err.contains("there is no person `Ruan`"), "{}", ran.err);
        fs::write(folder.join("gifts.toml"), "").expect("written");
        // A whole folder, too.
        fs::remove_dir_all(folder.join("yarns")).expect("removed");
        pipe(&folder.join("yarns"));
        alone("yarns");
        fs::remove_file(folder.join("yarns")).expect("removed");
        fs::write(folder.join("stash.toml"), "").expect("written");
        let people = "[[person]]\nname = \"Ruan\"\nsize = \"lamp-room\"\n";
        fs::write(folder.join("people.toml"), people).expect("written");
        fs::create_dir(folder.join("size-tables")).expect("made");
        pipe(&folder.join("size-tables/own.toml"));
        alone("size-tables/own.toml");
    }

    #[test]
    fn in_the_place_of_a_lock_they_are_named_for_what_they_are() {
        for (path, put, told) in [
            (".oddments/lock", KINDS[0], "it is a pipe, a socket or a device, not a file"),
            (".oddments/lock", KINDS[1], "it is a pipe, a socket or a device, not a file"),
            (".oddments/lock", KINDS[3], "it is a folder, not a file"),
            (".oddments", KINDS[0], "it is no folder"),
        ] {
            let (_hold, folder) = workspace();
            let at = folder.join(path);
            if path == ".oddments" {
                fs::remove_dir_all(&at).expect("removed");
            } else if at.exists() {
                fs::remove_file(&at).expect("removed");
            }
            put(&at);
            let ran = run(&folder, &["stash", "change", "a", "--weight", "1 g"]);
            assert_eq!(ran.code, Some(1), "{path}: {}", ran.out);
            assert!(ran.err.contains(path) && ran.err.contains(told), "{path}: {}", ran.err);
            assert!(ran.err.contains("move it away"), "{path}: {}", ran.err);
        }
    }

    #[test]
    fn in_the_folder_of_garments_they_are_passed_over() {
        for put in KINDS {
            for path in ["garments/odd/plugin.toml", "garments/odd", "garments/square/notes.md"] {
                let (_hold, folder) = with(path, put);
                let ran = run(&folder, &["garment", "list"]);
                assert_eq!(ran.code, Some(0), "{path}: {}", ran.err);
            }
        }
    }

    #[test]
    fn in_the_place_of_a_place_the_server_opens_all_the_same() {
        for put in KINDS {
            let (_hold, folder) = with(".oddments/places/0123456789abcdef.toml", put);
            let places = Places::open(Some(folder.clone())).expect("opened");
            assert!(places.warnings.to_string().contains("not a file"), "{}", places.warnings);
            let place = store::Place {
                query: "garment=tam".into(),
                title: "Tam".into(),
                stop: 1,
                of: 9,
                revision: 0,
            };
            let put = places.put("0123456789abcdef", place.clone(), 0).expect("put");
            assert!(matches!(put, Put::Done(_)));
        }
        for put in KINDS {
            let (_hold, folder) = with(".oddments/places/lock", put);
            let places = Places::open(Some(folder)).expect("opened");
            assert_eq!(places.all(), Vec::new());
        }
    }

    /// What a knitter names is read as it comes.
    #[test]
    fn a_pipe_that_is_named_is_read() {
        let (_hold, folder) = workspace();
        let swatch = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/demo/swatches/standard.toml");
        let args = ["grade", "tam", "--sizes", "women-m", "--swatch"];
        let output = assert_cmd::Command::new(env!("CARGO_BIN_EXE_oddments"))
            .current_dir(&folder)
            .args(args)
            .arg("/dev/stdin")
            .pipe_stdin(swatch)
            .expect("read")
            .timeout(Duration::from_secs(60))
            .output()
            .expect("it starts");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let named = folder.join("named");
        pipe(&named);
        let mut writer = std::process::Command::new("sh")
            .args(["-c", "cat \"$0\" > \"$1\"", swatch])
            .arg(&named)
            .spawn()
            .expect("sh runs");
        let ran = run(&folder, &[&args[..], &["./named"]].concat());
        // Where nobody read it, it would wait for ever.
        writer.kill().expect("killed, or gone already");
        writer.wait().expect("ended");
        assert_eq!(ran.code, Some(0), "{}", ran.err);
    }
}

#[test]
fn a_device_at_another_server_does_not_set_a_place_back() {
    let folder = tempfile::tempdir().expect("a folder");
    let server = || {
        let places = Places::open(Some(folder.path().to_owned())).expect("opened");
        Server::with(Setup { places, ..setup() })
    };
    let (one, other) = (server(), server());
    let query = "garment=tam&sizes=women-m";
    let page = one.get(&format!("/machine?{query}"));
    let id = page.text().split("data-place=\"").nth(1).and_then(|rest| rest.split('"').next());
    let path = format!("/api/v1/places/{}", id.expect("an id"));
    let put = |server: &Server, stop: u32, revision: u64| {
        let place = json!({
            "query": query, "title": "Tam", "stop": stop, "of": 900, "revision": revision
        });
        server.send(json_request(Method::PUT, &path, &place))
    };
    assert_eq!(put(&one, 300, 0).status, StatusCode::OK);
    let anew = put(&other, 1, 0);
    assert_eq!(anew.status, StatusCode::CONFLICT);
    assert_eq!((&anew.json()["stop"], &anew.json()["revision"]), (&json!(300), &json!(1)));
    assert_eq!(one.get(&path).json()["stop"], 300);
    assert_eq!(put(&other, 301, 1).status, StatusCode::OK);
    assert!(one.get("/machine").text().contains("301 of 900 steps"));
    assert_eq!(one.get("/api/v1/places").json()[0]["stop"], 301);
}
