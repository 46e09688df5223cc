//! A gift has a life: wished, set aside, on the machine, done or given up; and its yarn follows it.
//! And a name has one too: it can change, and whatever says it changes with it.

use axum::http::{Method, StatusCode};
use serde_json::{Value, json};

use app::{Places, PlanRequest, WorkbenchSources, Workspace, WorkspaceEdit, accept, plan_gifts};
use plan::SolveSettings;

use crate::demo::Demo;
use crate::server::{Server, json_request, problem};

/// Two gifts of the demo with yarn set aside: 12.5 g and 42 g for one, 27.3 g for the other.
const PLAN: &str = "# Mine, by hand.\n\n[[reservation]]\ngift = \"ruan-tam\"\nsection = \"band\"\n\
    remnant = \"slate-1\"\nweight = \"12.5 g\"\n\n[[reservation]]\ngift = 'ruan-tam'\n\
    section = \"hat\"\nremnant = \"heather-1\"\nweight = \"42 g\"\n\n# His.\n[[reservation]]\n\
    gift = \"jory-mittens\"\nsection = \"mitten\"\nremnant = \"heather-1\"\nweight = \"27.3 g\"\n";

/// What is left of it when the first is free.
const HIS: &str = "# Mine, by hand.\n\n# His.\n[[reservation]]\ngift = \"jory-mittens\"\n\
    section = \"mitten\"\nremnant = \"heather-1\"\nweight = \"27.3 g\"\n";

fn planned() -> Demo {
    let demo = Demo::new();
    write(&demo, "plan.toml", PLAN);
    demo
}

fn write(demo: &Demo, file: &str, text: &str) {
    std::fs::write(demo.path.join(file), text).expect("written");
}

fn good(demo: &Demo, args: &[&str]) -> String {
    let ran = demo.run(args);
    assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.err);
    ran.out
}

/// A refused command, which writes nothing: what it says.
fn refused(demo: &Demo, args: &[&str]) -> String {
    let files = ["stash.toml", "gifts.toml", "people.toml", "plan.toml", "records.toml"];
    let before = files.map(|file| demo.text(file));
    let ran = demo.run(args);
    assert_eq!(ran.code, Some(1), "{args:?}: {}{}", ran.out, ran.err);
    assert_eq!(files.map(|file| demo.text(file)), before, "{args:?}");
    ran.err
}

/// Gift and state of each row.
fn states(demo: &Demo, more: &[&str]) -> Vec<(String, String)> {
    let mut args = vec!["gifts", "list", "--format", "json"];
    args.extend(more);
    let rows: Value = serde_json::from_str(&good(demo, &args)).expect("JSON");
    let text = |row: &Value, key: &str| row[key].as_str().expect("a text").to_owned();
    let rows = rows.as_array().expect("rows").iter();
    rows.map(|row| (text(row, "Gift"), text(row, "State"))).collect()
}

fn state_of(demo: &Demo, gift: &str) -> String {
    let all = states(demo, &[]);
    all.into_iter().find(|(id, _)| id == gift).expect("the gift").1
}

/// Leaves these gifts alone in the file, so that a plan takes little time.
fn only(demo: &Demo, ids: &[&str]) {
    let text = demo.text("gifts.toml");
    let mut parts = text.split("[[gift]]");
    let head = parts.next().expect("a head").to_owned();
    let own = |part: &&str| ids.iter().any(|id| part.contains(&format!("id = \"{id}\"")));
    let kept: String = parts.filter(own).map(|part| format!("[[gift]]{part}")).collect();
    write(demo, "gifts.toml", &(head + &kept));
}

fn gifts_of(plan: &Value, key: &str) -> Vec<String> {
    let all = plan[key].as_array().expect("a list").iter();
    all.map(|gift| gift["gift"].as_str().expect("an id").to_owned()).collect()
}

#[test]
fn each_deed_leads_to_its_state_and_frees_what_it_frees() {
    let deeds = [
        (&["gifts", "begin", "ruan-tam"][..], "ruan-tam: on the machine\n", "on the machine", PLAN),
        (&["gifts", "keep", "ruan-tam"], "ruan-tam: set aside, kept fast\n", "set aside", PLAN),
        (
            &["gifts", "done", "ruan-tam"],
            "ruan-tam: done; free again: 12.5 g of slate-1 and 42 g of \
            heather-1 (weigh what it was knitted from: the stash has it as it was before)\n",
            "done",
            HIS,
        ),
        (
            &["gifts", "free", "ruan-tam"],
            "ruan-tam: wished; free again: 12.5 g of slate-1 and 42 g of \
            heather-1\n",
            "wished",
            HIS,
        ),
        (
            &["gifts", "give-up", "ruan-tam"],
            "ruan-tam: given up; free again: 12.5 g of slate-1 and \
            42 g of heather-1\n",
            "given up",
            HIS,
        ),
    ];
    let demo = planned();
    let gifts = demo.text("gifts.toml");
    assert_eq!(state_of(&demo, "ruan-tam"), "set aside");
    assert_eq!(state_of(&demo, "kitto-hat"), "wished");
    for (args, told, state, plan) in deeds {
        assert_eq!(good(&demo, args), told);
        assert_eq!(state_of(&demo, "ruan-tam"), state, "{args:?}");
        assert_eq!(demo.text("plan.toml"), plan, "{args:?}");
        // One undo takes all of it back.
        good(&demo, &["undo"]);
        assert_eq!((demo.text("gifts.toml"), demo.text("plan.toml")), (gifts.clone(), PLAN.into()));
    }
    // Several at once, in one change.
    let told = good(&demo, &["gifts", "free", "ruan-tam", "jory-mittens"]);
    assert_eq!(told.lines().count(), 2, "{told}");
    assert!(told.contains("jory-mittens: wished; free again: 27.3 g of heather-1"), "{told}");
    assert!(!demo.text("plan.toml").contains("[["), "{}", demo.text("plan.toml"));
    good(&demo, &["undo"]);
    assert_eq!(demo.text("plan.toml"), PLAN);
}

#[test]
fn a_gift_that_is_over_is_brought_back_by_wishing_alone() {
    let demo = planned();
    good(&demo, &["gifts", "done", "ruan-tam"]);
    for deed in ["begin", "free", "keep"] {
        let told = refused(&demo, &["gifts", deed, "ruan-tam"]);
        assert!(told.contains("error[gift-over]: `ruan-tam` is done already"), "{told}");
        assert!(told.contains("`oddments gifts wish ruan-tam`"), "{told}");
    }
    assert_eq!(good(&demo, &["gifts", "wish", "ruan-tam"]), "ruan-tam: wished\n");
    // One unknown among several: nothing is done to the others.
    let told = refused(&demo, &["gifts", "done", "ruan-tam", "kito-hat"]);
    assert!(told.contains("there is no gift `kito-hat`"), "{told}");
    assert!(told.contains("did you mean `kitto-hat`?"), "{told}");
    // Begun by mistake: its yarn stays set aside.
    good(&demo, &["gifts", "begin", "jory-mittens"]);
    assert_eq!(good(&demo, &["gifts", "wish", "jory-mittens"]), "jory-mittens: set aside\n");
    let bare = demo.run(&["gifts", "begin", "kitto-hat"]);
    assert!(bare.err.contains("nothing is set aside for `kitto-hat`"), "{}", bare.err);
}

#[test]
fn every_list_of_gifts_shows_how_they_stand() {
    let demo = planned();
    good(&demo, &["gifts", "done", "kitto-hat"]);
    assert_eq!(
        states(&demo, &["--state", "set aside"]),
        [("ruan-tam", "set aside"), ("jory-mittens", "set aside")]
            .map(|(a, b)| (a.into(), b.into()))
    );
    assert_eq!(states(&demo, &["--state", "done"]), [("kitto-hat".into(), "done".into())]);
    for (format, row) in [
        ("csv", "kitto-hat,Kitto,hat,4,2026-12-20,,,,done,"),
        ("markdown", "| kitto-hat | Kitto | hat | 4 | 2026-12-20 |  |  |  | done |"),
        ("table", "done"),
    ] {
        let list = good(&demo, &["gifts", "list", "--person", "Kitto", "--format", format]);
        assert!(list.contains(row), "{format}: {list}");
    }
    let server = Server::of(&demo);
    for format in ["csv", "text", "markdown"] {
        let list = server.get(&format!("/api/v1/lists/gifts?format={format}"));
        let list = list.text();
        assert!(list.contains("State") && list.contains("set aside"), "{format}: {list}");
    }
    let other = demo.run(&["gifts", "list", "--state", "knitted"]);
    assert_eq!(other.code, Some(2), "{}", other.err);
    // A state that is none is a fault of its line.
    write(&demo, "gifts.toml", &demo.text("gifts.toml").replace("\"done\"", "\"doen\""));
    let told = demo.run(&["gifts", "list"]).err;
    assert!(told.contains("`doen` is not a state of a gift"), "{told}");
    assert!(told.contains("did you mean `done`?"), "{told}");
}

#[test]
fn plans_leave_out_what_is_over_and_leave_alone_what_is_held() {
    let demo = Demo::new();
    let four = ["jory-mittens", "kitto-hat", "lowenna-cuff", "elowen-tam"];
    only(&demo, &four);
    demo.plan(&["--accept"]);
    let all = states(&demo, &["--state", "set aside"]);
    assert_eq!(all.len(), 4, "{all:?}");
    let aside = |gift: &str| -> Vec<toml::Value> {
        let plan = demo.toml("plan.toml");
        let list = plan["reservation"].as_array().expect("a list").clone();
        list.into_iter().filter(|r| r["gift"].as_str() == Some(gift)).collect()
    };
    let (held, kept) = (aside("jory-mittens"), aside("lowenna-cuff"));
    good(&demo, &["gifts", "begin", "jory-mittens"]);
    good(&demo, &["gifts", "keep", "lowenna-cuff"]);
    good(&demo, &["gifts", "give-up", "elowen-tam"]);
    let again = demo.plan(&["--again", "--accept"]);
    let mut told = gifts_of(&again, "gifts");
    told.extend(gifts_of(&again, "left_out"));
    assert_eq!(told, ["kitto-hat"], "only what is wished for and not held");
    assert_eq!((aside("jory-mittens"), aside("lowenna-cuff")), (held.clone(), kept));
    assert_eq!(aside("elowen-tam"), []);
    assert_eq!(aside("kitto-hat").len(), 1, "once, not twice");
    // What is held is not free for others: of each remnant no more is told to be there.
    let grams = |text: &str| text.trim_end_matches(" g").parse::<f64>().expect("grams");
    let chunk = &held[0];
    let remnant = chunk["remnant"].as_str().expect("an id");
    let stash = demo.toml("stash.toml");
    let all = stash["remnant"].as_array().expect("a list");
    let whole = all.iter().find(|r| r["id"].as_str() == Some(remnant)).expect("there");
    let had = again["remnants"].as_array().expect("a list").iter();
    let had = had.filter(|r| r["remnant"] == remnant).map(|r| r["had_grams"].as_f64().expect("g"));
    let free = grams(whole["weight"].as_str().expect("a text"))
        - grams(chunk["weight"].as_str().expect("a text"));
    assert!(had.clone().count() == 1 && had.clone().all(|had| had <= free + 1e-6), "{free}");
    // Kept no longer, it is planned again too.
    good(&demo, &["gifts", "keep", "lowenna-cuff", "--off"]);
    let told = gifts_of(&demo.plan(&["--again"]), "gifts");
    assert!(told.contains(&"lowenna-cuff".to_owned()), "{told:?}");
}

#[test]
fn a_plan_is_not_accepted_for_gifts_that_have_changed() {
    let demo = Demo::new();
    only(&demo, &["kitto-hat", "lowenna-cuff"]);
    let open = Workspace::require(Some(&demo.path)).expect("sound");
    let bench = open.bench(&WorkbenchSources::default()).expect("sound");
    let places = Places::open(None).expect("none");
    let request = PlanRequest {
        bench: &bench,
        contents: &open.contents,
        learning: open.learning(&bench),
        places: &places,
        number: open.state.number,
        today: store::workspace::parse_date("2026-09-01").expect("a day"),
        again: false,
        aim: None,
        explain: false,
    };
    let settings = SolveSettings { work_limit: 4000, ..SolveSettings::default() };
    let plan = plan_gifts(&request, &settings, &mut |_| {}).expect("a plan");
    assert_eq!(plan.gifts.len(), 2);
    // Whoever accepts says what was seen; even one who has looked again since is told.
    let accepted = |seen: &Workspace, again: bool| {
        let mut edit = WorkspaceEdit::open(Some(&demo.path)).expect("a workspace");
        accept(&mut edit, seen, &plan, again)
    };
    let now = || Workspace::require(Some(&demo.path)).expect("sound");
    for (args, told) in [
        (&["gifts", "done", "kitto-hat"][..], "`kitto-hat` is done since the plan was made"),
        (&["gifts", "begin", "kitto-hat"], "`kitto-hat` is on the machine since"),
        (&["gifts", "remove", "kitto-hat"], "`kitto-hat` was removed since"),
        (&["gifts", "change", "kitto-hat", "--garment", "tam"], "may no longer be a hat since"),
        (&["gifts", "change", "kitto-hat", "--person", "Ruan"], "is for Ruan, no longer for Kitto"),
    ] {
        good(&demo, args);
        let faults = accepted(&open, false).expect_err("it has changed").to_string();
        assert!(faults.contains("gift `kitto-hat`") && faults.contains("decide anew"), "{faults}");
        let faults = accepted(&now(), false).expect_err("it has changed").to_string();
        assert!(faults.contains(told) && faults.contains("plan again"), "{faults}");
        assert!(!demo.path.join("plan.toml").exists(), "nothing is set aside");
        good(&demo, &["undo"]);
    }
    assert_eq!(accepted(&open, false).expect("as it was"), 2);
    // Twice is not twice as much.
    let once = demo.text("plan.toml");
    let faults = accepted(&now(), false).expect_err("set aside already").to_string();
    assert!(faults.contains("has had its yarn set aside since"), "{faults}");
    accepted(&now(), true).expect("in the place of itself");
    assert_eq!(demo.text("plan.toml").matches("[[").count(), once.matches("[[").count());
    good(&demo, &["gifts", "keep", "kitto-hat"]);
    accepted(&now(), true).expect_err("one of them is kept fast");
}

#[test]
fn a_gift_is_not_made_into_another_under_its_yarn() {
    let demo = planned();
    for args in [
        &["gifts", "change", "ruan-tam", "--person", "Denzel"][..],
        &["gifts", "change", "ruan-tam", "--garment", "tam,hat"],
        &["gifts", "change", "ruan-tam", "--set", "wedges=5"],
        &["gifts", "change", "ruan-tam", "--pin", "band=slate-2"],
    ] {
        let told = refused(&demo, args);
        assert!(told.contains("error[in-use]"), "{told}");
        assert!(told.contains("12.5 g of slate-1 and 42 g of heather-1 are set aside"), "{told}");
        assert!(told.contains("`--free`") && told.contains("`--keep-yarn`"), "{told}");
        let kept: Vec<&str> = args.iter().copied().chain(["--keep-yarn"]).collect();
        good(&demo, &kept);
        assert_eq!(demo.text("plan.toml"), PLAN);
        good(&demo, &["undo"]);
        let free: Vec<&str> = args.iter().copied().chain(["--free"]).collect();
        let told = good(&demo, &free);
        assert!(told.contains("free again: 12.5 g of slate-1 and 42 g of heather-1"), "{told}");
        assert_eq!(demo.text("plan.toml"), HIS);
        good(&demo, &["undo"]);
    }
    // What makes no other garment of it, or says what stands there already, is no one's concern.
    for args in [
        &["gifts", "change", "ruan-tam", "--priority", "1", "--note", "soon"][..],
        &["gifts", "change", "ruan-tam", "--garment", "tam", "--person", "Ruan"],
        &["gifts", "change", "ruan-tam", "--set", "wedges=6", "--pin", "band=slate-1,slate-2"],
    ] {
        good(&demo, args);
    }
    assert_eq!(demo.text("plan.toml"), PLAN);
}

#[test]
fn what_has_yarn_or_wishes_goes_only_with_them() {
    let demo = planned();
    for (args, told, way) in [
        (
            &["gifts", "remove", "ruan-tam"][..],
            "for `ruan-tam` 12.5 g of slate-1 and 42 g of heather-1 are set aside",
            "--and-reservations",
        ),
        (
            &["stash", "remove", "heather-1"],
            "42 g for the hat of ruan-tam and 27.3 g for the mitten of jory-mittens",
            "gifts free ruan-tam jory-mittens",
        ),
        (
            &["stash", "remove", "slate-2"],
            "`ruan-tam` is to have its band from `slate-2`",
            "gifts change ruan-tam --pin band=",
        ),
        (
            &["stash", "change", "heather-1", "--yarn", "slate"],
            "42 g for the hat of ruan-tam and 27.3 g for the mitten of jory-mittens",
            "--keep-yarn",
        ),
        (
            &["people", "remove", "Ruan"],
            "ruan-tam (12.5 g of slate-1 and 42 g of heather-1 set aside)",
            "--and-gifts",
        ),
        (
            &["people", "remove", "Kitto"],
            "Kitto has gifts, which would be for nobody",
            "--and-gifts",
        ),
        (&["yarn", "remove", "heather"], "heather-1 (88 g)", "--and-remnants"),
    ] {
        let said = refused(&demo, args);
        assert!(said.contains(told) && said.contains(way), "{args:?}: {said}");
    }
    for (args, told) in [
        (
            &["gifts", "remove", "ruan-tam", "--and-reservations"][..],
            "removed ruan-tam; free again: 12.5 g of slate-1 and 42 g of heather-1\n",
        ),
        (
            &["stash", "remove", "slate-1", "--and-reservations"],
            "removed slate-1; free again: 12.5 g of slate-1; ruan-tam is no longer to have its band \
             from slate-1\n",
        ),
        (
            &["people", "remove", "Ruan", "--and-gifts"],
            "removed Ruan; with it went ruan-tam; free again: 12.5 g of slate-1 and 42 g of heather-1\n",
        ),
        (
            &["stash", "change", "heather-1", "--yarn", "slate", "--free"],
            "changed heather-1; free again: 12.5 g of slate-1 and 69.3 g of heather-1\n",
        ),
    ] {
        assert_eq!(good(&demo, args), told);
        good(&demo, &["gifts", "list"]);
        good(&demo, &["undo"]);
        assert_eq!(demo.text("plan.toml"), PLAN);
    }
    // Weighed below what is set aside: it is so, and it is said.
    let ran = demo.run(&["stash", "change", "heather-1", "--weight", "50 g"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.err.contains("weighs 50 g, but 69.3 g of it are reserved"), "{}", ran.err);
    assert!(ran.err.contains("42 g for the hat of ruan-tam"), "{}", ran.err);
    // Someone has grown whose yarn is set aside.
    let ran = demo.run(&["people", "change", "Ruan", "--measure", "head_girth=61 cm"]);
    assert!(ran.err.contains("yarn is set aside for ruan-tam in the size Ruan had"), "{}", ran.err);
    let ran = demo.run(&["yarn", "change", "slate", "--yarn", "380 m/100 g"]);
    let told = "of `slate` some is set aside by its old count, for ruan-tam";
    assert!(ran.err.contains(told), "{}", ran.err);
}

#[test]
fn over_http_a_state_frees_the_yarn_as_the_command_does() {
    let demo = planned();
    let server = Server::of(&demo);
    let patch = |at: &str, body: Value| {
        server.send(json_request(Method::PATCH, &format!("/api/v1/lists/{at}"), &body))
    };
    let done = patch("gifts/ruan-tam", json!({ "state": "done" }));
    assert_eq!(done.status, StatusCode::OK, "{}", done.text());
    assert_eq!(demo.text("plan.toml"), HIS);
    assert!(demo.text("gifts.toml").contains("state = \"done\""));
    problem(&patch("gifts/ruan-tam", json!({ "state": "on the machine" })), "gift-over");
    problem(&patch("gifts/ruan-tam", json!({ "state": "knitted" })), "word");
    assert_eq!(patch("gifts/ruan-tam", json!({ "state": null })).status, StatusCode::OK);
    assert_eq!(state_of(&demo, "ruan-tam"), "wished");
    let refused = patch("gifts/jory-mittens", json!({ "person": "Ruan" }));
    assert_eq!(refused.status, StatusCode::CONFLICT, "{}", refused.text());
    problem(&refused, "in-use");
    // A new name takes the way of the command, too.
    assert_eq!(patch("people/Jory", json!({ "name": "Jory B." })).status, StatusCode::OK);
    assert_eq!(patch("gifts/jory-mittens", json!({ "id": "mittens" })).status, StatusCode::OK);
    assert_eq!(patch("yarns/heather", json!({ "id": "ling" })).status, StatusCode::OK);
    assert!(demo.text("gifts.toml").contains("id = \"mittens\"\nperson = \"Jory B.\""));
    assert_eq!(demo.text("plan.toml"), HIS.replace("jory-mittens", "mittens"));
    assert!(demo.path.join("yarns/ling.toml").is_file());
}

#[test]
fn a_gift_ended_by_hand_with_yarn_set_aside_is_told() {
    let demo = planned();
    let gifts = demo.text("gifts.toml");
    let ended = gifts.replacen("id = \"ruan-tam\"\n", "id = \"ruan-tam\"\nstate = \"done\"\n", 1);
    write(&demo, "gifts.toml", &ended);
    let told = demo.run(&["gifts", "list"]).err;
    assert!(told.contains("`ruan-tam` is done, but 54.5 g are set aside for it"), "{told}");
    good(&demo, &["gifts", "done", "ruan-tam"]);
    assert_eq!(demo.text("plan.toml"), HIS);
    assert_eq!(demo.run(&["gifts", "list"]).err, "");
}

#[test]
fn a_new_name_goes_through_all_files_and_moves_nothing_else() {
    let demo = planned();
    let record = "\n[[record]]\ngarment = \"hat\"\nsize = 'Ruan' # himself\nyarn = \"heather\"\n\
        swatch = \"standard\"\nsections = { hat = { before = \"60 g\", after = \"9 g\" } }\n";
    write(&demo, "records.toml", &(demo.text("records.toml") + record));
    let files = ["gifts", "people", "stash", "plan", "records", "oddments"];
    let all = |demo: &Demo| files.map(|file| demo.text(&format!("{file}.toml"))).join("\0");
    let yarn = demo.text("yarns/heather.toml");
    let swatch = demo.text("swatches/standard.toml");
    let before = all(&demo);
    // Line ends, comments, quotes and order stay: only the words are others. The numbers are those
    // of the demo's files and of what is written above.
    for (args, words) in [
        (
            &["people", "change", "Ruan", "--new-name", "Ewan"][..],
            &[
                ("name = \"Ruan\"", "name = \"Ewan\"", 1),
                ("person = \"Ruan\"", "person = \"Ewan\"", 1),
                ("size = 'Ruan'", "size = 'Ewan'", 1),
            ][..],
        ),
        (
            &["yarn", "change", "heather", "--new-id", "ling"],
            &[("yarn = \"heather\"", "yarn = \"ling\"", 4)],
        ),
        (
            &["stash", "change", "slate-1", "--new-id", "doorstep"],
            &[("\"slate-1\"", "\"doorstep\"", 3)],
        ),
        (
            &["gifts", "change", "ruan-tam", "--new-id", "keeper"],
            &[("\"ruan-tam\"", "\"keeper\"", 2), ("'ruan-tam'", "'keeper'", 1)],
        ),
        (
            &["swatch", "rename", "standard", "lamp-room"],
            &[("swatch = \"standard\"", "swatch = \"lamp-room\"", 4)],
        ),
    ] {
        let mut expected = before.clone();
        for (old, new, times) in words {
            assert_eq!(expected.matches(old).count(), *times, "{old}");
            expected = expected.replace(old, new);
        }
        good(&demo, args);
        assert_eq!(all(&demo), expected, "{args:?}");
        assert_eq!(demo.run(&["gifts", "list"]).err, "", "all is sound");
        match args[0] {
            "yarn" => assert_eq!(demo.text("yarns/ling.toml"), yarn),
            "swatch" => assert_eq!(demo.text("swatches/lamp-room.toml"), swatch),
            _ => {}
        }
        good(&demo, &["undo"]);
        assert_eq!(all(&demo), before, "{args:?} taken back");
    }
    assert_eq!(demo.text("yarns/heather.toml"), yarn);
    assert!(!demo.path.join("yarns/ling.toml").exists());
}

#[test]
fn a_new_name_keeps_line_ends_and_says_what_stands_in_its_way() {
    let demo = planned();
    let crlf = |text: &str| format!("\u{feff}{}", text.replace('\n', "\r\n"));
    for file in ["gifts.toml", "people.toml"] {
        write(&demo, file, &crlf(&demo.text(file)));
    }
    let (gifts, people) = (demo.text("gifts.toml"), demo.text("people.toml"));
    // Other keys may change in the same breath.
    good(&demo, &["people", "change", "Ruan", "--name", "O'Dell", "--note", "the light"]);
    assert_eq!(demo.text("gifts.toml"), gifts.replace("\"Ruan\"", "\"O'Dell\""));
    let renamed = people.replace("\"Ruan\"", "\"O'Dell\"").replace("the keeper\"", "the light\"");
    assert_eq!(demo.text("people.toml"), renamed);
    good(&demo, &["undo"]);
    for (args, told) in [
        (&["people", "change", "Ruan", "--name", "jory"][..], "there is a person `Jory` already"),
        (&["people", "change", "Ruann", "--name", "Ewan"], "did you mean `Ruan`?"),
        (&["yarn", "change", "heather", "--new-id", "slate"], "there is a yarn `slate` already"),
        (&["gifts", "change", "ruan-tam", "--new-id", "kitto-hat"], "a gift `kitto-hat` already"),
        (&["stash", "change", "slate-1", "--new-id", "Slate 1"], "`Slate 1` can't be an id"),
        (&["swatch", "rename", "standard", "mid"], "there is a swatch `mid` already"),
        (&["swatch", "rename", "standard", "../out"], "`../out` can't be an id"),
    ] {
        let said = refused(&demo, args);
        assert!(said.contains(told), "{args:?}: {said}");
    }
    // In a file that can't be read the name might stand unseen.
    write(&demo, "records.toml", "[[record]\n");
    let said = refused(&demo, &["people", "change", "Ruan", "--name", "Ewan"]);
    assert!(said.contains("records.toml:1") && said.contains("through all files"), "{said}");
}

/// 12.5 g of one ball for a gift with a section more, and of another ball for two gifts.
#[test]
fn what_is_told_to_be_free_is_free_whatever_else_is_changed() {
    let demo = planned();
    // A gift with a part of its yarn can be neither knitted nor planned: all of it is free.
    for (args, told, left) in [
        (
            &["stash", "change", "slate-1", "--weight", "3 g", "--free"][..],
            "changed slate-1; free again: 12.5 g of slate-1 and 42 g of heather-1\n",
            HIS,
        ),
        (
            &["stash", "change", "slate-1", "--note", "hi", "--free"],
            "changed slate-1; free again: 12.5 g of slate-1 and 42 g of heather-1\n",
            HIS,
        ),
        (
            &["stash", "change", "slate-1", "--free"],
            "changed slate-1; free again: 12.5 g of slate-1 and 42 g of heather-1\n",
            HIS,
        ),
        (
            &["gifts", "change", "ruan-tam", "--note", "soon", "--free"],
            "changed ruan-tam; free again: 12.5 g of slate-1 and 42 g of heather-1\n",
            HIS,
        ),
        (
            &["gifts", "change", "ruan-tam", "--new-id", "keeper", "--free"],
            "changed keeper; free again: 12.5 g of slate-1 and 42 g of heather-1\n",
            HIS,
        ),
    ] {
        let ran = demo.run(args);
        assert_eq!((ran.code, ran.out.as_str()), (Some(0), told), "{args:?}: {}", ran.err);
        assert_eq!(ran.err, "", "{args:?}");
        assert_eq!(demo.text("plan.toml"), left, "{args:?}");
        good(&demo, &["undo"]);
    }
    // Kept at first, and freed by saying the same again.
    let hat = ["gifts", "change", "ruan-tam", "--garment", "hat", "--set", "wedges=", "--pin"];
    good(&demo, &[&hat[..], &["band=", "--keep-yarn"]].concat());
    assert_eq!(demo.text("plan.toml"), PLAN);
    good(&demo, &[&hat[..], &["band=", "--free"]].concat());
    assert_eq!(demo.text("plan.toml"), HIS);
    // Nothing is there to be freed: said so.
    let ran = demo.run(&["gifts", "change", "ruan-tam", "--note", "x", "--free"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(
        ran.err.contains("nothing is set aside for `ruan-tam`, so none is freed"),
        "{}",
        ran.err
    );
    // Weighed below what is set aside: for which gifts, and how it is freed.
    let ran = demo.run(&["stash", "change", "heather-1", "--weight", "5 g"]);
    assert!(ran.err.contains("27.3 g for the mitten of jory-mittens"), "{}", ran.err);
    assert!(ran.err.contains("`oddments stash change heather-1 --free`"), "{}", ran.err);
    assert!(ran.err.contains("`oddments gifts free jory-mittens`"), "{}", ran.err);
}

#[test]
fn over_http_yarn_is_freed_whatever_else_is_changed() {
    let demo = planned();
    let server = Server::of(&demo);
    let patch = |at: &str, body: Value| {
        server.send(json_request(Method::PATCH, &format!("/api/v1/lists/{at}?yarn=free"), &body))
    };
    assert_eq!(patch("stash/slate-1", json!({ "weight": "3 g" })).status, StatusCode::OK);
    assert!(!demo.text("plan.toml").contains("slate-1"), "{}", demo.text("plan.toml"));
    assert_eq!(patch("people/Ruan", json!({ "note": "away" })).status, StatusCode::OK);
    assert_eq!(demo.text("plan.toml"), HIS);
    // A name that stays says nothing of someone who isn't there.
    let nobody = patch("people/Nobody", json!({ "name": "Nobody" }));
    assert_eq!(nobody.status, StatusCode::NOT_FOUND, "{}", nobody.text());
}

#[test]
fn what_is_left_set_aside_for_a_gift_taken_out_by_hand_is_freed_by_its_name() {
    let demo = planned();
    let gifts = demo.text("gifts.toml");
    let without = |id: &str| {
        let parts = gifts.split_inclusive("[[gift]]").map(str::to_owned);
        let parts: Vec<String> = parts.collect();
        let own = format!("id = \"{id}\"");
        let at = parts.iter().position(|part| part.contains(&own)).expect("there");
        let rest = parts[at + 1..].concat();
        let before = parts[..at].concat();
        format!(
            "{}{rest}",
            before.strip_suffix("[[gift]]").expect("a head").to_owned() + "[[gift]]"
        )
    };
    write(&demo, "gifts.toml", &without("jory-mittens"));
    let told = demo.run(&["gifts", "list"]);
    assert_eq!(told.code, Some(1), "{}", told.out);
    assert!(told.err.contains("there is no gift `jory-mittens`"), "{}", told.err);
    assert!(told.err.contains("`oddments gifts free jory-mittens` frees"), "{}", told.err);
    let said = refused(&demo, &["gifts", "done", "jory-mittens"]);
    assert!(said.contains("`oddments gifts free jory-mittens` frees what is left"), "{said}");
    assert_eq!(
        good(&demo, &["gifts", "free", "jory-mittens"]),
        "jory-mittens: there is no such gift any more; free again: 27.3 g of heather-1\n"
    );
    assert_eq!(demo.text("plan.toml"), PLAN.split("\n# His.").next().expect("hers"));
    assert_eq!(demo.run(&["gifts", "list"]).err, "");
    // Once: then there is nothing of that name.
    let said = refused(&demo, &["gifts", "free", "jory-mittens"]);
    assert!(said.contains("there is no gift `jory-mittens`"), "{said}");
    // Over HTTP the gift has no state.
    write(&demo, "gifts.toml", &gifts);
    write(&demo, "plan.toml", PLAN);
    let server = Server::of(&demo);
    write(&demo, "gifts.toml", &without("jory-mittens"));
    let freed = server.post("/api/v1/gifts/jory-mittens/turn", &json!({ "to": "free" }));
    assert_eq!(freed.status, StatusCode::OK, "{}", freed.text());
    assert_eq!(
        (&freed.json()["state"], &freed.json()["freed"][0]["grams"]),
        (&Value::Null, &json!(27.3))
    );
}

#[test]
fn a_remnant_taken_out_by_hand_leaves_a_way_back_for_its_gifts() {
    let demo = planned();
    let stash = demo.text("stash.toml");
    write(&demo, "stash.toml", &stash.replace("id = \"slate-1\"", "id = \"slate-7\""));
    let told = demo.run(&["gifts", "list"]).err;
    assert!(told.contains("there is no remnant `slate-1`"), "{told}");
    assert!(told.contains("`oddments gifts free ruan-tam` frees what is set aside"), "{told}");
    assert!(told.contains("`oddments gifts change ruan-tam --pin band=`"), "{told}");
    good(&demo, &["gifts", "free", "ruan-tam"]);
    good(&demo, &["gifts", "change", "ruan-tam", "--pin", "band="]);
    assert_eq!(demo.run(&["gifts", "list"]).err, "");
}

#[test]
fn a_gift_that_becomes_another_garment_is_asked_what_it_keeps() {
    let demo = planned();
    let band = ["gifts", "change", "ruan-tam", "--garment", "headband", "--free"];
    let told = refused(&demo, &band);
    assert!(told.contains("`headband` has no option `wedges`"), "{told}");
    assert!(told.contains("`--set wedges=` takes it out"), "{told}");
    let sock = ["gifts", "change", "ruan-tam", "--garment", "sock", "--free", "--set", "wedges="];
    let told = refused(&demo, &sock);
    assert!(told.contains("`sock` has no section `band`"), "{told}");
    assert!(told.contains("`--pin band=` takes it out"), "{told}");
    good(&demo, &[&sock[..], &["--pin", "band="]].concat());
    // Over HTTP as by command.
    good(&demo, &["undo"]);
    let at = "/api/v1/lists/gifts/ruan-tam?yarn=free";
    let server = Server::of(&demo);
    let patch = |body: Value| server.send(json_request(Method::PATCH, at, &body));
    problem(&patch(json!({ "garment": "headband" })), "option");
    let whole = json!({ "garment": "headband", "options": null, "pinned": null });
    assert_eq!(patch(whole).status, StatusCode::OK);
}

#[test]
fn a_gift_that_names_what_no_garment_has_is_left_out_of_the_plan_alone() {
    let demo = Demo::new();
    only(&demo, &["ruan-tam", "kitto-hat"]);
    let gifts = demo.text("gifts.toml");
    write(&demo, "gifts.toml", &gifts.replacen("garment = \"tam\"", "garment = \"headband\"", 1));
    let plan = ["plan", "--today", "2026-09-01", "--work", "4", "--format", "json"];
    // The demo's gift has to be made: the plan of the others is there, and says that it lacks one.
    let ran = demo.run(&plan);
    assert_eq!(ran.code, Some(1), "{}", ran.err);
    assert!(ran.err.contains("and names what none of its garments has"), "{}", ran.err);
    assert_eq!(gifts_of(&serde_json::from_str(&ran.out).expect("JSON"), "gifts"), ["kitto-hat"]);
    write(&demo, "gifts.toml", &demo.text("gifts.toml").replacen("must = true\n", "", 1));
    let ran = demo.run(&plan);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.err.contains("warning[option]: `headband` has no option `wedges`"), "{}", ran.err);
    assert!(
        ran.err.contains("gift `ruan-tam`") && ran.err.contains("leaves it out"),
        "{}",
        ran.err
    );
    let plan: Value = serde_json::from_str(&ran.out).expect("JSON");
    assert_eq!(gifts_of(&plan, "gifts"), ["kitto-hat"]);
    assert_eq!(gifts_of(&plan, "left_out"), ["ruan-tam"]);
    let reasons = plan["left_out"][0].to_string();
    assert!(reasons.contains("`headband` has no option `wedges`"), "{reasons}");
    assert!(!reasons.contains("no yarn in the stash suits"), "{reasons}");
}

#[test]
fn nobody_is_called_as_a_size_is() {
    let demo = planned();
    let records = demo.text("records.toml");
    for args in [
        &["people", "change", "Ruan", "--new-name", "women-m"][..],
        &["people", "change", "Ruan", "--new-name", " nb "],
        &["people", "add", "women-m", "--size", "women-m"],
        &["people", "add", "5-6y", "--size", "women-m"],
    ] {
        let told = refused(&demo, args);
        assert!(told.contains("error[name]") && told.contains("is a size"), "{args:?}: {told}");
        assert_eq!(told.matches("error[").count(), 1, "{args:?}: {told}");
    }
    // Someone called so by hand is told of; a new name leaves the records of that size alone.
    let people = demo.text("people.toml");
    write(&demo, "people.toml", &people.replace("name = \"Ruan\"", "name = \"women-m\""));
    let gifts = demo.text("gifts.toml");
    write(&demo, "gifts.toml", &gifts.replace("person = \"Ruan\"", "person = \"women-m\""));
    let told = demo.run(&["people", "list"]).err;
    assert!(told.contains("warning[name]: `women-m` is a size"), "{told}");
    good(&demo, &["people", "change", "women-m", "--new-name", "Ruan"]);
    assert!(records.contains("size = \"women-m\""));
    assert_eq!(demo.text("records.toml"), records);
    assert_eq!((demo.text("people.toml"), demo.text("gifts.toml")), (people, gifts));
}

#[test]
fn a_name_that_stays_is_a_name_that_is_there() {
    let demo = planned();
    for (args, told) in [
        (&["people", "change", "Nobody", "--new-name", "Nobody"][..], "no person `Nobody`"),
        (&["gifts", "change", "nothing", "--new-id", "nothing"], "no gift `nothing`"),
        (&["stash", "change", "nothing", "--new-id", "nothing"], "no remnant `nothing`"),
        (&["yarn", "change", "nothing", "--new-id", "nothing"], "no yarn `nothing`"),
        (&["swatch", "rename", "nothing", "nothing"], "no swatch `nothing`"),
    ] {
        let said = refused(&demo, args);
        assert!(said.contains(told), "{args:?}: {said}");
    }
    good(&demo, &["people", "change", "Ruan", "--new-name", "Ruan"]);
    good(&demo, &["swatch", "rename", "standard", "standard"]);
    assert_eq!(demo.run(&["undo"]).code, Some(1), "no change was made");
}

#[test]
fn a_name_that_cannot_be_is_refused_once_and_in_its_own_words() {
    let demo = planned();
    let long = "x".repeat(81);
    for name in ["", "  ", "two\nlines", &long] {
        for args in [
            &["people", "change", "Kitto", "--new-name", name][..],
            &["people", "add", name, "--size", "women-m"],
        ] {
            let told = refused(&demo, args);
            assert!(
                told.contains("error[name]: this can't be a person's name"),
                "{args:?}: {told}"
            );
            assert_eq!(told.matches("error[").count(), 1, "{args:?}: {told}");
            assert!(!told.contains("\"\"\""), "{told}");
        }
    }
    for id in ["SLATE", "../x", ""] {
        for args in [
            &["yarn", "change", "slate", "--new-id", id][..],
            &["gifts", "change", "kitto-hat", "--new-id", id],
            &["stash", "change", "slate-1", "--new-id", id],
            &["swatch", "rename", "standard", id],
        ] {
            let told = refused(&demo, args);
            assert!(
                told.contains(&format!("error[id]: `{id}` can't be an id")),
                "{args:?}: {told}"
            );
            assert_eq!(told.matches("error[").count(), 1, "{args:?}: {told}");
        }
    }
    // Nothing else that is written in several lines is shown by its quotes.
    let told = refused(&demo, &["gifts", "change", "kitto-hat", "--due", "soon\nor later"]);
    assert!(told.contains("in `due`, which is not written"), "{told}");
}

#[test]
fn who_goes_takes_along_what_was_learnt_and_it_is_said() {
    let demo = planned();
    good(&demo, &["people", "add", "Rune", "--size", "women-m"]);
    let used = ["--used", "hat:heather-1=30 g"];
    good(&demo, &[&["record", "hat", "--size", "Rune"][..], &used].concat());
    good(&demo, &["gifts", "add", "--id", "rune-tam", "--person", "Rune", "--garment", "tam"]);
    good(&demo, &["gifts", "done", "rune-tam"]);
    let said = refused(&demo, &["people", "remove", "Rune"]);
    assert!(said.contains("gifts that are over name Rune: rune-tam (done)"), "{said}");
    assert!(
        said.contains("`--and-gifts`") && said.contains("records of what was knitted stay"),
        "{said}"
    );
    assert!(!said.contains("for nobody") && !said.contains("frees"), "{said}");
    let ran = demo.run(&["people", "remove", "Rune", "--and-gifts"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let told = "nothing is learnt any more of what was recorded for Rune: hat (heather, ";
    assert!(ran.err.contains("warning[record-unused]") && ran.err.contains(told), "{}", ran.err);
    assert!(ran.err.contains("`oddments undo` brings the person back"), "{}", ran.err);
    // Of whom nothing is recorded nothing is said.
    let ran = demo.run(&["people", "remove", "Kitto", "--and-gifts"]);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
}

#[test]
fn what_is_named_twice_is_told_once() {
    let demo = planned();
    let told = good(&demo, &["gifts", "done", "jory-mittens", "jory-mittens"]);
    assert_eq!(told.matches("free again").count(), 1, "{told}");
    assert_eq!(told.lines().count(), 1, "{told}");
    good(&demo, &["undo"]);
    let ids = ["ruan-tam", "jory-mittens", "ruan-tam"];
    let args = [&["gifts", "remove", "--and-reservations"][..], &ids].concat();
    let told = good(&demo, &args);
    assert!(told.starts_with("removed ruan-tam, jory-mittens; free again: 12.5 g"), "{told}");
    assert_eq!(
        good(&demo, &["people", "remove", "Kitto", "Kitto", "--and-gifts"])
            .matches("Kitto")
            .count(),
        1
    );
}

#[test]
fn a_gift_without_yarn_has_none_to_keep() {
    let demo = planned();
    good(&demo, &["gifts", "keep", "ruan-tam"]);
    write(&demo, "plan.toml", HIS);
    assert_eq!(good(&demo, &["gifts", "wish", "ruan-tam"]), "ruan-tam: wished\n");
    assert!(!demo.text("gifts.toml").contains("keep = true"));
    // Kept beforehand: said what it is good for.
    let ran = demo.run(&["gifts", "keep", "ruan-tam"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(
        ran.err.contains("nothing is set aside for `ruan-tam` that could be kept"),
        "{}",
        ran.err
    );
    assert!(ran.err.contains("`oddments gifts keep --off ruan-tam`"), "{}", ran.err);
}

#[test]
fn what_someone_can_have_is_held_against_what_is_set_aside() {
    let demo = planned();
    for args in [
        &["people", "change", "Ruan", "--avoids-fibre", "wool"][..],
        &["people", "change", "Ruan", "--avoids-colour", "grey"],
        &["people", "change", "Ruan", "--wash", "machine"],
    ] {
        let ran = demo.run(args);
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        let told = "yarn is set aside for ruan-tam by what Ruan could have before";
        assert!(ran.err.contains(told), "{args:?}: {}", ran.err);
        assert!(ran.err.contains("`oddments gifts free ruan-tam` and plan again"), "{}", ran.err);
    }
    let ran = demo.run(&["people", "change", "Kitto", "--avoids-fibre", "wool"]);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    let ran = demo.run(&["yarn", "change", "slate", "--care", "hand"]);
    let told = "of `slate` some is set aside by its old fibres and care, for ruan-tam";
    assert!(ran.err.contains(told), "{}", ran.err);
}
