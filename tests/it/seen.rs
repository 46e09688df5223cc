//! What was looked at may have changed by the time one acts: every change knows what it was made on.

use std::collections::BTreeMap;
use std::time::Duration;

use app::{Workspace, WorkspaceEdit};
use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use diag::Code;
use proptest::prelude::*;
use serde_json::{Value, json};
use store::workspace::{Edit, EntryKind, EntryName, Given, List, PastChange, UndoAsk, tag};

use crate::demo::Demo;
use crate::server::{Answer, Server, json_request, problem, request};

/// The number of the workspace, as an answer says it.
fn number(answer: &Answer) -> u64 {
    let text = answer.header(header::HeaderName::from_static("oddments-change"));
    let number = text.split('.').next().and_then(|number| number.parse().ok());
    number.unwrap_or_else(|| panic!("no number: `{text}`"))
}

/// A page's forms as a browser would send them.
struct Page {
    number: String,
    once: String,
    text: String,
}

impl Page {
    fn of(server: &Server, path: &str) -> Page {
        Page::read(server.get(path).text().to_owned(), path)
    }

    fn read(text: String, path: &str) -> Page {
        let hidden = |name: &str| {
            let mark = format!("name=\"{name}\" value=\"");
            let at = text.find(&mark).unwrap_or_else(|| panic!("{path} has no {name}"));
            text[at + mark.len()..].split('"').next().expect("a value").to_owned()
        };
        Page { number: hidden("seen"), once: hidden("once"), text }
    }

    /// Sends a form of this page.
    fn send(&self, server: &Server, fields: &[(&str, &str)]) -> Answer {
        let slip = [("seen", self.number.as_str()), ("once", self.once.as_str())];
        let all: Vec<_> = slip.iter().chain(fields).collect();
        let body = serde_urlencoded::to_string(all).expect("fields");
        let sent = request(Method::POST, "/gifts/do")
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
        server.send(sent.body(body.into()).expect("a request"))
    }

    /// The number in the button that takes back.
    fn takes_back(&self) -> String {
        let mark = "value=\"undo\"><input type=\"hidden\" name=\"change\" value=\"";
        let at = self.text.find(mark).expect("a button to take back");
        self.text[at + mark.len()..].split('"').next().expect("a number").to_owned()
    }
}

fn went_to(answer: &Answer, at: &str) {
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text());
    assert_eq!(answer.header(header::LOCATION), at);
}

/// Makes a plan and gives its id.
fn planned(server: &Server, ask: &Value) -> String {
    let begun = server.post("/api/v1/plans", ask);
    assert_eq!(begun.status, StatusCode::ACCEPTED, "{}", begun.text());
    let id = begun.json()["id"].as_str().expect("an id").to_owned();
    for _ in 0..3_000 {
        let state = server.get(&format!("/api/v1/plans/{id}")).json()["state"].clone();
        if state != "running" {
            assert_eq!(state, "done");
            return id;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    panic!("the plan takes for ever");
}

fn ask() -> Value {
    json!({ "today": "2026-09-01", "work": 2 })
}

fn accept(server: &Server, id: &str) -> Answer {
    server.post(&format!("/api/v1/plans/{id}/accept"), &json!({}))
}

/// Refused as outdated, in words with all of these in them; nothing is written.
fn outdated(demo: &Demo, words: &[&str], act: impl FnOnce() -> Answer) {
    let plan = || std::fs::read_to_string(demo.path.join("plan.toml")).ok();
    let before = plan();
    let answer = act();
    assert_eq!(answer.status, StatusCode::CONFLICT, "{}", answer.text());
    let body = problem(&answer, "outdated").to_string();
    for word in words {
        assert!(body.contains(word), "no `{word}` in {body}");
    }
    assert_eq!(plan(), before, "something was written");
}

/// Each gift and section has its yarn once.
fn set_aside_once(demo: &Demo) -> usize {
    let mut seen: BTreeMap<(String, String, String), usize> = BTreeMap::new();
    let plan = demo.toml("plan.toml");
    let empty = Vec::new();
    for entry in plan.get("reservation").and_then(toml::Value::as_array).unwrap_or(&empty) {
        let text = |key: &str| entry[key].as_str().expect("text").to_owned();
        *seen.entry((text("gift"), text("section"), text("remnant"))).or_default() += 1;
    }
    assert!(seen.values().all(|count| *count == 1), "set aside twice: {seen:?}");
    seen.len()
}

#[test]
fn a_plan_is_accepted_once_however_often_it_is_asked() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let id = planned(&server, &ask());
    let page = Page::of(&server, &format!("/gifts/plan/{id}"));
    let fields = [("what", "accept"), ("id", id.as_str())];
    went_to(&page.send(&server, &fields), "/gifts?did=accept#aside");
    let once = set_aside_once(&demo);
    assert!(once > 10, "{once}");
    // The second of a double click: the same form, sent again.
    went_to(&page.send(&server, &fields), "/gifts?did=before#aside");
    assert!(server.get("/gifts?did=before").text().contains("That was done already"));
    assert_eq!(set_aside_once(&demo), once);
    // The same plan from another page, and by a program.
    let other = Page::of(&server, &format!("/gifts/plan/{id}")).send(&server, &fields);
    assert_eq!(other.status, StatusCode::CONFLICT, "{}", other.text());
    assert!(other.text().contains("what is set aside has changed since"), "{}", other.text());
    outdated(&demo, &["what is set aside", "plan --accept"], || accept(&server, &id));
    assert_eq!(set_aside_once(&demo), once);
    // Taken back, it can be accepted again.
    assert_eq!(server.post("/api/v1/undo", &json!({})).status, StatusCode::OK);
    assert_eq!(accept(&server, &id).status, StatusCode::OK);
    assert_eq!(set_aside_once(&demo), once);
}

#[test]
fn two_commands_that_accept_at_once_set_yarn_aside_once() {
    let demo = Demo::new();
    let args = ["plan", "--accept", "--today", "2026-09-01", "--work", "2"];
    let ran: Vec<_> = std::thread::scope(|scope| {
        let both: Vec<_> = (0..2).map(|_| scope.spawn(|| demo.run(&args))).collect();
        both.into_iter().map(|one| one.join().expect("ended")).collect()
    });
    let refused: Vec<_> = ran.iter().filter(|ran| ran.err.contains("[outdated]")).collect();
    let accepted = ran.iter().filter(|ran| ran.err.contains("accepted: yarn is set aside")).count();
    // Where one began only after the other was done there was nothing left to plan.
    assert!(refused.len() <= 1 && accepted >= 1, "{ran:?}");
    for ran in refused {
        assert_eq!(ran.code, Some(1), "{}", ran.err);
        assert!(ran.err.contains("`plan --accept` of"), "{}", ran.err);
    }
    assert!(set_aside_once(&demo) > 10);
}

#[test]
fn an_older_plan_is_refused_once_another_is_accepted() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let older = planned(&server, &json!({ "today": "2026-09-01", "work": 2, "again": true }));
    let ran =
        demo.run(&["plan", "--accept", "--today", "2026-09-01", "--work", "2", "--seed", "7"]);
    assert!(ran.err.contains("accepted"), "{}", ran.err);
    let theirs = demo.text("plan.toml");
    outdated(&demo, &["what is set aside has changed since: change 1, `plan --accept` of"], || {
        accept(&server, &older)
    });
    assert_eq!(demo.text("plan.toml"), theirs);
}

#[test]
fn a_plan_is_refused_where_what_it_rests_on_has_changed() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let id = planned(&server, &ask());
    let plan = server.get(&format!("/api/v1/plans/{id}")).json()["plan"].clone();
    let first =
        plan["gifts"].as_array().expect("gifts").iter().find(|gift| gift["gift"] == "kitto-hat");
    let first = first.expect("made in the demo");
    let take = &first["sections"][0]["takes"][0];
    let remnant = take["remnant"].as_str().expect("an id");
    let weight = demo.toml("stash.toml")["remnant"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|own| own["id"].as_str() == Some(remnant))
        .map(|own| own["weight"].as_str().expect("a weight").to_owned())
        .expect("there");
    for (change, words) in [
        (
            vec!["gifts", "change", "kitto-hat", "--garment", "tam"],
            vec!["gift `kitto-hat` has changed since: change 1, `gifts change` of"],
        ),
        (
            vec!["people", "change", "Kitto", "--wash", "hand"],
            vec!["person `Kitto` has changed since", "`people change` of"],
        ),
        (
            vec!["stash", "change", remnant, "--weight", "0.5 g"],
            vec![remnant, "has changed since", "`stash change` of"],
        ),
        (
            vec!["gifts", "remove", "kitto-hat"],
            vec!["gift `kitto-hat` is gone since", "`gifts remove`"],
        ),
    ] {
        let ran = demo.run(&change);
        assert_eq!(ran.code, Some(0), "{change:?}: {}", ran.err);
        outdated(&demo, &words, || accept(&server, &id));
        assert_eq!(demo.run(&["undo"]).code, Some(0));
    }
    // Changed by hand, no command can be named.
    let stash = demo.text("stash.toml");
    let line = format!("id = \"{remnant}\"");
    let at = stash.find(&line).expect("there");
    let lighter = stash[at..].replacen(&format!("\"{weight}\""), "\"0.25 g\"", 1);
    std::fs::write(demo.path.join("stash.toml"), format!("{}{lighter}", &stash[..at]))
        .expect("written");
    outdated(&demo, &[&format!("remnant `{remnant}` has changed since, by hand")], || {
        accept(&server, &id)
    });
    std::fs::write(demo.path.join("stash.toml"), stash).expect("written");
    // What the plan does not rest on may change: a person is added, somebody else's ball weighed.
    assert_eq!(demo.run(&["people", "add", "Endelyn", "--size", "y5-6"]).code, Some(0));
    let accepted = accept(&server, &id);
    assert_eq!(accepted.status, StatusCode::OK, "{}", accepted.text());
    assert_eq!(accepted.json()["change"], number(&accepted));
    set_aside_once(&demo);
}

#[test]
fn a_button_takes_back_its_own_change_and_no_other() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let before = demo.text("stash.toml");
    assert_eq!(demo.run(&["stash", "add", "--yarn", "tide", "--weight", "18 g"]).code, Some(0));
    let page = Page::of(&server, "/gifts");
    assert!(page.text.contains("Take back: stash add tide-"), "the button doesn't say what");
    let change = page.takes_back();
    // Meanwhile somebody else adds a person.
    assert_eq!(demo.run(&["people", "add", "Endelyn", "--size", "y5-6"]).code, Some(0));
    let fields = [("what", "undo"), ("change", change.as_str())];
    went_to(&page.send(&server, &fields), "/gifts?did=undo#main");
    assert_eq!(demo.text("stash.toml"), before);
    assert!(demo.text("people.toml").contains("Endelyn"), "somebody else's change is gone");
    // A double click takes one back.
    went_to(&page.send(&server, &fields), "/gifts?did=before#main");
    assert!(demo.text("people.toml").contains("Endelyn"));
    // From another page: it is taken back already.
    let again = Page::of(&server, "/gifts").send(&server, &fields);
    assert_eq!(again.status, StatusCode::CONFLICT, "{}", again.text());
    assert!(again.text().contains("is taken back already"), "{}", again.text());
    // A later change to the same thing stands in the way, and is named.
    let added = server.post("/api/v1/lists/stash", &json!({ "yarn": "tide", "weight": "18 g" }));
    let (id, first) = (added.json()["id"].clone(), added.json()["change"].clone());
    let weigh = ["stash", "change", id.as_str().expect("an id"), "--weight", "9 g"];
    assert_eq!(demo.run(&weigh).code, Some(0));
    let refused = server.post("/api/v1/undo", &json!({ "change": first }));
    assert_eq!(refused.status, StatusCode::CONFLICT, "{}", refused.text());
    let told = problem(&refused, "in-the-way").to_string();
    assert!(told.contains("`stash change` of") && told.contains("stands in the way"), "{told}");
    // A person that a later gift is for can't be taken back from under it.
    let person =
        server.post("/api/v1/lists/people", &json!({ "name": "Ebrel", "size": "women-m" }));
    let wish = server.post("/api/v1/lists/gifts", &json!({ "person": "Ebrel", "garment": "tam" }));
    assert_eq!(wish.status, StatusCode::CREATED, "{}", wish.text());
    let refused = server.post("/api/v1/undo", &json!({ "change": person.json()["change"] }));
    assert!(refused.status.is_client_error(), "{}", refused.text());
    assert!(refused.text().contains("Ebrel"), "{}", refused.text());
    assert!(demo.text("people.toml").contains("Ebrel"));
}

#[test]
fn a_form_sent_twice_does_one_thing() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let page = Page::of(&server, "/gifts");
    let count = |demo: &Demo| demo.toml("stash.toml")["remnant"].as_array().expect("a list").len();
    let before = count(&demo);
    let add =
        [("what", "add"), ("list", "stash"), ("yarn", "tide"), ("weight", "12 g"), ("lot", "")];
    went_to(&page.send(&server, &add), "/gifts?did=add#stash");
    went_to(&page.send(&server, &add), "/gifts?did=before#stash");
    assert_eq!(count(&demo), before + 1);
    // Another ball of the same weight, from the page as it is now, is another ball; and so is
    // another form of the same page.
    went_to(&Page::of(&server, "/gifts").send(&server, &add), "/gifts?did=add#stash");
    let other =
        [("what", "add"), ("list", "stash"), ("yarn", "tide"), ("weight", "13 g"), ("lot", "")];
    went_to(&page.send(&server, &other), "/gifts?did=add#stash");
    assert_eq!(count(&demo), before + 3);
    // Two at the same moment.
    let page = Page::of(&server, "/gifts");
    std::thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| assert_eq!(page.send(&server, &add).status, StatusCode::SEE_OTHER));
        }
    });
    assert_eq!(count(&demo), before + 4);
    // A plan asked for twice is one plan.
    let plan = [("what", "plan"), ("today", "2026-09-01")];
    let first = page.send(&server, &plan).header(header::LOCATION).to_owned();
    assert!(first.starts_with("/gifts/plan/"), "{first}");
    went_to(&page.send(&server, &plan), &first);
    let id = first.rsplit('/').next().expect("an id").to_owned();
    page.send(&server, &[("what", "stop"), ("id", &id)]);
    // Programs have a header for it.
    let key = header::HeaderName::from_static("idempotency-key");
    let post = || {
        let sent = request(Method::POST, "/api/v1/lists/stash")
            .header(header::CONTENT_TYPE, "application/json")
            .header(&key, "\"8e03978e\"")
            .body(json!({ "yarn": "tide", "weight": "3 g" }).to_string().into());
        server.send(sent.expect("a request"))
    };
    let (one, two) = (post(), post());
    assert_eq!((one.status, two.status), (StatusCode::CREATED, StatusCode::OK), "{}", two.text());
    assert_eq!(two.json()["repeated"], true);
    assert_eq!(two.json()["id"], one.json()["id"]);
    assert_eq!(count(&demo), before + 5);
}

#[test]
fn a_page_changes_nothing_that_changed_since_it_was_shown() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let page = Page::of(&server, "/gifts/stash?edit=shoreline-1");
    let mark = "<input type=\"hidden\" name=\"what\" value=\"weigh\"><input type=\"hidden\" name=\"tag\" value=\"";
    let row = page.text.split(mark).find(|part| part.contains("name=\"id\" value=\"shoreline-1\""));
    let tag = row.and_then(|row| row.split('"').next()).expect("a row with a tag").to_owned();
    assert_eq!(demo.run(&["stash", "change", "shoreline-1", "--weight", "7 g"]).code, Some(0));
    let weigh =
        [("what", "weigh"), ("id", "shoreline-1"), ("weight", "21 g"), ("tag", tag.as_str())];
    let refused = page.send(&server, &weigh);
    assert_eq!(refused.status, StatusCode::CONFLICT, "{}", refused.text());
    for words in ["remnant `shoreline-1` has changed since", "`stash change` of", "21 g"] {
        assert!(refused.text().contains(words), "no `{words}`: {}", refused.text());
    }
    assert!(demo.text("stash.toml").contains("\"7 g\""));
    let gone =
        [("what", "remove"), ("list", "stash"), ("id", "shoreline-1"), ("tag", tag.as_str())];
    assert_eq!(page.send(&server, &gone).status, StatusCode::CONFLICT);
    // Without the tag the number alone tells.
    assert_eq!(page.send(&server, &gone[..3]).status, StatusCode::CONFLICT);
    assert_eq!(demo.run(&["undo"]).code, Some(0));
    // What is as it was again may be changed.
    went_to(&page.send(&server, &weigh), "/gifts?did=weigh#stash");
}

#[test]
fn a_program_says_by_a_tag_or_a_number_what_it_saw() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let at = "/api/v1/lists/people/Kitto";
    let seen = server.get(at);
    assert_eq!(seen.status, StatusCode::OK, "{}", seen.text());
    assert_eq!(seen.json()["name"], "Kitto");
    let tag = seen.header(header::ETAG).to_owned();
    // The list tells the same tags.
    let rows = server.get("/api/v1/lists/people").json();
    let own = rows.as_array().expect("rows").iter().find(|row| row["Name"] == "Kitto");
    assert_eq!(format!("\"{}\"", own.expect("there")["tag"].as_str().expect("a tag")), tag);
    let patch = |tag: Option<&str>, query: &str, note: &str| {
        let mut sent =
            json_request(Method::PATCH, &format!("{at}{query}"), &json!({ "note": note }));
        if let Some(tag) = tag {
            sent.headers_mut().insert(header::IF_MATCH, tag.parse().expect("a value"));
        }
        server.send(sent)
    };
    let first = patch(Some(&tag), "", "one");
    assert_eq!(first.status, StatusCode::OK, "{}", first.text());
    assert_ne!(server.get(at).header(header::ETAG), tag, "another state, the same tag");
    let stale = patch(Some(&tag), "", "two");
    assert_eq!(stale.status, StatusCode::CONFLICT, "{}", stale.text());
    problem(&stale, "outdated");
    let number = number(&first);
    assert_eq!(patch(None, &format!("?seen={number}"), "three").status, StatusCode::OK);
    let told = patch(None, &format!("?seen={number}"), "four");
    assert!(problem(&told, "outdated").to_string().contains("change 2, `people change` of"));
    // The number of a journal that is no more.
    problem(&patch(None, "?seen=4000", "five"), "outdated");
    assert_eq!(patch(Some("*"), "", "six").status, StatusCode::OK);
    for (tag, query) in [(Some("six"), ""), (Some("\"a\", \"b\""), ""), (None, "?seen=six")] {
        problem(&patch(tag, query, "seven"), "rests");
    }
    // A change by hand has no number: the tag finds it.
    let tag = server.get(at).header(header::ETAG).to_owned();
    let by_hand = demo.text("people.toml").replace("note = \"six\"", "note = \"by hand\"");
    std::fs::write(demo.path.join("people.toml"), by_hand).expect("written");
    assert_eq!(patch(Some(&tag), "", "eight").status, StatusCode::CONFLICT);
    let gone = request(Method::DELETE, at).header(header::IF_MATCH, &tag).body(Body::empty());
    assert_eq!(server.send(gone.expect("a request")).status, StatusCode::CONFLICT);
    assert_eq!(server.get("/api/v1/lists/people/Nobody").status, StatusCode::NOT_FOUND);
    let changes = server.get("/api/v1/changes").json();
    let told: Vec<_> = changes.as_array().expect("a list").iter().collect();
    assert_eq!(told.len(), 3, "{changes}");
    assert_eq!(told[0]["about"], json!(["person `Kitto`"]));
}

#[test]
fn the_command_lists_changes_and_takes_one_back() {
    let demo = Demo::new();
    for args in [
        ["people", "add", "Endelyn", "--size", "y5-6"],
        ["people", "change", "Kitto", "--wash", "hand"],
        ["stash", "change", "shoreline-1", "--weight", "7 g"],
    ] {
        assert_eq!(demo.run(&args).code, Some(0));
    }
    let told = demo.run(&["undo", "--list"]);
    assert_eq!(told.code, Some(0), "{}", told.err);
    for words in ["remnant `shoreline-1`", "person `Kitto`", "people add"] {
        assert!(told.out.contains(words), "{}", told.out);
    }
    let back = demo.run(&["undo", "--change", "2"]);
    assert_eq!(back.code, Some(0), "{}", back.err);
    assert!(back.out.starts_with("`people change` of"), "{}", back.out);
    assert!(demo.run(&["undo", "--list"]).out.contains("taken back"));
    let twice = demo.run(&["undo", "--change", "2"]);
    assert_eq!(twice.code, Some(1));
    assert!(twice.err.contains("is taken back already"), "{}", twice.err);
    let none = demo.run(&["undo", "--change", "99"]);
    assert!(none.err.contains("there is no change 99"), "{}", none.err);
    let again = demo.run(&["undo", "--redo", "--change", "2"]);
    assert_eq!(again.code, Some(0), "{}", again.err);
    for _ in 0..3 {
        assert_eq!(demo.run(&["undo"]).code, Some(0));
    }
    assert_eq!(demo.run(&["undo"]).code, Some(1));
}

fn tags(workspace: &Workspace) -> BTreeMap<EntryName, String> {
    let ids = workspace.contents.remnants.iter().map(|r| EntryName::new(EntryKind::Remnant, &r.id));
    let names =
        workspace.contents.people.iter().map(|p| EntryName::new(EntryKind::Person, &p.name));
    let tag = |name: EntryName| (name.clone(), tag(&workspace.contents, &name).expect("there"));
    ids.chain(names).map(tag).collect()
}

proptest! {
    #![proptest_config(crate::support::tries(24))]

    /// Whichever change is taken back, only what it was about is as it was before it; all else stays.
    /// What stands in the way is a later change.
    #[test]
    fn one_change_of_many_is_taken_back_alone(
        steps in prop::collection::vec((0..4usize, 1..40u32, any::<bool>()), 2..9),
        which in any::<prop::sample::Index>(),
    ) {
        let demo = Demo::empty();
        let added = demo.run(&["yarn", "add", "slate", "--yarn", "400 m/100 g", "--colour", "slate #5a6570"]);
        prop_assert_eq!(added.code, Some(0));
        let open = || Workspace::require(Some(&demo.path)).expect("sound");
        let mut states: Vec<(u64, String, BTreeMap<EntryName, String>)> = Vec::new();
        for (nth, grams, remove) in steps {
            let before = tags(&open());
            let id = format!("r{nth}");
            let name = EntryName::new(EntryKind::Remnant, &id);
            let mass = format!("{grams} g").parse().expect("a mass");
            let edit = match (before.contains_key(&name), remove) {
                (true, true) => Edit::Remove { list: List::Stash, key: id.clone() },
                (true, false) => Edit::reweigh(&id, mass),
                (false, _) => {
                    let fields = [("id", id.clone()), ("yarn", "slate".into()), ("weight", format!("{grams} g"))];
                    let fields = fields.map(|(key, text)| (key.to_owned(), Given::text(text)));
                    Edit::Add { list: List::Stash, fields: fields.to_vec() }
                }
            };
            let mut change = WorkspaceEdit::open(Some(&demo.path)).expect("a workspace");
            change.edits("stash change", |_| Ok((vec![edit], ()))).expect("changed");
            let number = change.state.expect("a state").number;
            // Weighed again to the same weight, nothing has changed.
            if states.last().is_none_or(|(last, ..)| *last < number) && number > 1 {
                states.push((number, id, before));
            }
        }
        prop_assume!(!states.is_empty());
        let (number, id, before) = which.get(&states);
        let now = tags(&open());
        let mut undo = WorkspaceEdit::open(Some(&demo.path)).expect("a workspace");
        let name = EntryName::new(EntryKind::Remnant, id);
        let history: Vec<PastChange> = undo.history();
        let later = history.iter().any(|c| c.mark.number > *number && c.entries.contains(&name));
        match undo.undo(&UndoAsk::of(*number)) {
            Ok(_) => {
                prop_assert!(!later, "a later change to the same remnant was passed over");
                let mut wanted = now;
                match before.get(&name) {
                    Some(tag) => drop(wanted.insert(name, tag.clone())),
                    None => drop(wanted.remove(&name)),
                }
                prop_assert_eq!(tags(&open()), wanted);
            }
            Err(faults) => {
                prop_assert!(faults.iter().all(|f| f.code == Code::InTheWay
), "{}", faults);
                prop_assert!(states.last().is_some_and(|(last, ..)| last > number), "{}", faults);
                prop_assert_eq!(tags(&open()), now);
            }
        }
    }
}

#[test]
fn a_finished_piece_is_looked_at_before_it_is_written() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let before = (demo.text("stash.toml"), demo.text("records.toml"));
    let page = Page::of(&server, "/gifts");
    let piece = [
        ("what", "record"),
        ("garment", "tam"),
        ("size", "women-m"),
        ("used", "hat:shoreline-1=2 g\nband:shoreline-1=24 g"),
        ("gift", "tamsin-hat"),
    ];
    let look = page.send(&server, &piece);
    assert_eq!(look.status, StatusCode::OK, "{}", look.text());
    assert!(look.text().contains("Before it is written"), "{}", look.text());
    assert_eq!((demo.text("stash.toml"), demo.text("records.toml")), before, "it was written");
    // What the form of the look sends: its own slip, and what it rests on.
    let shown = Page::read(look.text().to_owned(), "the look");
    let rests = |name: &str| {
        let mark = format!("<input type=\"hidden\" name=\"{name}\" value=\"");
        let at = shown.text.find(&mark).unwrap_or_else(|| panic!("no {name}"));
        shown.text[at + mark.len()..].split('"').next().expect("a value").to_owned()
    };
    let (ball, gift) = (rests("tag.remnant/shoreline-1"), rests("tag.gift/tamsin-hat"));
    let mut sure = piece.to_vec();
    sure.push(("sure", "yes"));
    sure.push(("tag.remnant/shoreline-1", &ball));
    sure.push(("tag.gift/tamsin-hat", &gift));
    // Weighed again meanwhile: what was looked at is not what would be written.
    assert_eq!(demo.run(&["stash", "change", "shoreline-1", "--weight", "30 g"]).code, Some(0));
    let refused = shown.send(&server, &sure);
    assert_eq!(refused.status, StatusCode::CONFLICT, "{}", refused.text());
    assert!(refused.text().contains("remnant `shoreline-1` has changed since"));
    assert_eq!(demo.run(&["undo"]).code, Some(0));
    went_to(&shown.send(&server, &sure), "/gifts?did=record#stash");
    went_to(&shown.send(&server, &sure), "/gifts?did=before#stash");
    let records = demo.toml("records.toml");
    assert_eq!(records["record"].as_array().expect("a list").len(), 3, "noted once");
    let last = &records["record"][2]["sections"];
    assert_eq!(last["band"]["after"].as_str(), Some("24 g"));
    assert_eq!(last["hat"]["before"].as_str(), Some("24 g"));
    // The gift is done, and no form offers it for another piece.
    let page = server.get("/gifts/records").text().to_owned();
    assert!(page.contains("<option value=\"kitto-hat\">"), "no gift is offered");
    assert!(!page.contains("<option value=\"tamsin-hat\">"), "a gift that is done is offered");
    let look = json!({ "garment": "cuff", "size": "women-m", "used": ["main:slate-1=30 g"], "look": true });
    let told = server.post("/api/v1/records", &look);
    assert_eq!(told.status, StatusCode::OK, "{}", told.text());
    assert_eq!(demo.toml("records.toml")["record"].as_array().expect("a list").len(), 3);
}

#[test]
fn the_page_follows_a_gift_through_its_life() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let state = || {
        let rows = server.get("/api/v1/lists/gifts").json();
        let own = rows.as_array().expect("rows").iter().find(|row| row["Gift"] == "kitto-hat");
        own.expect("there")["State"].as_str().expect("a word").to_owned()
    };
    assert_eq!(state(), "wished");
    let id = planned(&server, &ask());
    let shown = |word: &str| {
        let text = server.get("/gifts/wishes").text().to_owned();
        let row = text.split("<li ").find(|row| row.contains("id=\"e-kitto-hat\"")).expect("a row");
        assert!(row.contains(&format!("<span class=\"state\">{word}")), "{row}");
    };
    shown("planned");
    assert_eq!(accept(&server, &id).status, StatusCode::OK);
    shown("set aside");
    assert_eq!(state(), "set aside");
    let turn = |to: &str| {
        let fields = [("what", "turn"), ("id", "kitto-hat"), ("to", to)];
        Page::of(&server, "/gifts").send(&server, &fields)
    };
    for (to, word) in [
        ("keep", "set aside"),
        ("begin", "on the machine"),
        ("done", "done"),
        ("wish", "wished"),
        ("give-up", "given up"),
    ] {
        went_to(&turn(to), "/gifts?did=turn#gifts");
        assert_eq!(state(), word, "{to}");
    }
    assert!(!demo.text("plan.toml").contains("kitto-hat"), "its yarn is not free");
    assert_eq!(turn("free").status, StatusCode::CONFLICT);
    assert_eq!(turn("sing").status, StatusCode::UNPROCESSABLE_ENTITY);
    // Programs say the same, with the gift's tag.
    let at = "/api/v1/gifts/tamsin-hat/turn";
    let told = server.post(at, &json!({ "to": "free" }));
    assert_eq!(told.status, StatusCode::OK, "{}", told.text());
    assert_eq!(
        (told.json()["state"].as_str(), told.json()["gift"].as_str()),
        (Some("wished"), Some("tamsin-hat"))
    );
    assert!(!told.json()["freed"].as_array().expect("a list").is_empty(), "{}", told.text());
    let tag = server.get("/api/v1/lists/gifts/tamsin-hat").header(header::ETAG).to_owned();
    assert_eq!(server.post(at, &json!({ "to": "begin" })).status, StatusCode::OK);
    let mut stale = json_request(Method::POST, at, &json!({ "to": "done" }));
    stale.headers_mut().insert(header::IF_MATCH, tag.parse().expect("a value"));
    problem(&server.send(stale), "outdated");
    assert_eq!(
        server.post("/api/v1/gifts/nobody/turn", &json!({ "to": "done" })).status,
        StatusCode::NOT_FOUND
    );
    // Changed as something else while its yarn is set aside: refused, unless it is said what becomes
    // of the yarn.
    let ruan = |query: &str| {
        let path = format!("/api/v1/lists/gifts/ruan-tam{query}");
        server.send(json_request(
            Method::PATCH,
            &path,
            &json!({ "garment": "hat", "options": { "wedges": null }, "pinned": null }),
        ))
    };
    if demo.text("plan.toml").contains("ruan-tam") {
        assert_eq!(ruan("").status, StatusCode::CONFLICT);
        assert_eq!(ruan("?yarn=free").status, StatusCode::OK);
        assert!(!demo.text("plan.toml").contains("ruan-tam"));
    } else {
        panic!("the demo's first gift is not planned");
    }
}

/// A demo with a plan accepted, which is change 1.
fn planned_demo() -> Demo {
    let demo = Demo::new();
    let ran = demo.run(&["plan", "--accept", "--today", "2026-09-01", "--work", "2"]);
    assert!(ran.err.contains("accepted"), "{}", ran.err);
    demo
}

fn good(demo: &Demo, args: &[&str]) {
    let ran = demo.run(args);
    assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.err);
}

/// Refused with that code and these words; nothing is written.
fn refused(demo: &Demo, args: &[&str], code: &str, words: &[&str]) {
    let files = || {
        ["plan.toml", "gifts.toml", "stash.toml", "people.toml"]
            .map(|file| std::fs::read_to_string(demo.path.join(file)).ok())
    };
    let before = files();
    let ran = demo.run(args);
    assert_eq!(ran.code, Some(1), "{args:?}: {}{}", ran.out, ran.err);
    assert!(ran.err.contains(&format!("error[{code}]")), "{args:?}: {}", ran.err);
    for word in words {
        assert!(ran.err.contains(word), "{args:?}, no `{word}`: {}", ran.err);
    }
    assert_eq!(files(), before, "{args:?}: something was written");
}

#[test]
fn an_undo_takes_no_yarn_from_a_gift_that_is_begun_or_kept() {
    let demo = planned_demo();
    let back = ["undo", "--change", "1"];
    good(&demo, &["gifts", "begin", "kitto-hat"]);
    refused(
        &demo,
        &back,
        "in-the-way",
        &["change 2, `gifts begin` of", "`oddments undo --change 2` comes before it"],
    );
    good(&demo, &["undo"]);
    good(&demo, &["gifts", "keep", "kitto-hat"]);
    refused(&demo, &back, "in-the-way", &["`gifts keep` of"]);
    good(&demo, &["undo"]);
    good(&demo, &back);
}

#[test]
fn no_undo_sets_the_same_yarn_aside_twice() {
    let demo = planned_demo();
    good(&demo, &["gifts", "free", "ruan-tam"]);
    // Another wish takes what has become free.
    good(&demo, &["gifts", "add", "--person", "Ruan", "--garment", "tam", "--priority", "5"]);
    good(&demo, &["gifts", "give-up", "ruan-tam"]);
    good(&demo, &["plan", "--accept", "--today", "2026-09-01", "--work", "2", "--output", "p.txt"]);
    refused(&demo, &["undo", "--change", "2"], "in-the-way", &["stands in the way"]);
    // In order, everything goes back.
    for _ in 0..4 {
        good(&demo, &["undo"]);
    }
    assert!(demo.text("plan.toml").contains("ruan-tam"));
    // Where nothing but the weights would tell: a freed gift's yarn was planned for others since.
    let demo = planned_demo();
    good(&demo, &["gifts", "free", "ruan-tam"]);
    good(&demo, &["gifts", "add", "--person", "Denzel", "--garment", "tam", "--priority", "5"]);
    good(&demo, &["plan", "--accept", "--today", "2026-09-01", "--work", "2", "--output", "p.txt"]);
    let taken = demo.text("plan.toml").contains("denzel-");
    assert!(taken, "nobody has taken the yarn");
    let ran = demo.run(&["undo", "--change", "2"]);
    assert!(!demo.run(&["stash", "list"]).err.contains("overdrawn"), "{}{}", ran.out, ran.err);
}

#[test]
fn a_plan_with_nothing_in_it_is_no_change() {
    let demo = planned_demo();
    good(&demo, &["people", "change", "Tamsin", "--note", "precious"]);
    let stash = demo.text("stash.toml");
    let lines: String = stash
        .lines()
        .take_while(|line| !line.starts_with("[["))
        .map(|l| format!("{l}\n"))
        .collect();
    let demo = Demo::new();
    for file in ["records.toml", "gifts.toml"] {
        std::fs::write(demo.path.join(file), "").expect("written");
    }
    std::fs::write(demo.path.join("stash.toml"), lines).expect("written");
    good(&demo, &["people", "change", "Tamsin", "--note", "precious"]);
    let ran = demo.run(&["plan", "--accept", "--today", "2026-09-01", "--work", "1"]);
    assert!(ran.err.contains("there is no yarn to set aside: nothing is written"), "{}", ran.err);
    assert!(!ran.err.contains("takes it back"), "{}", ran.err);
    let server = Server::of(&demo);
    let id = planned(&server, &ask());
    let accepted = accept(&server, &id);
    assert_eq!(accepted.json()["written"], false, "{}", accepted.text());
    let page = Page::of(&server, &format!("/gifts/plan/{id}"));
    let sent = page.send(&server, &[("what", "accept"), ("id", id.as_str())]);
    went_to(&sent, "/gifts?did=nothing#aside");
}

#[test]
fn a_key_is_good_for_one_request() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let send = |method: Method, path: &str, body: &Value| {
        let mut sent = json_request(method, path, body);
        let key = header::HeaderName::from_static("idempotency-key");
        sent.headers_mut().insert(key, "\"shared\"".parse().expect("a value"));
        server.send(sent)
    };
    let person = json!({ "name": "Ebrel", "size": "women-m" });
    assert_eq!(send(Method::POST, "/api/v1/lists/people", &person).status, StatusCode::CREATED);
    assert_eq!(send(Method::POST, "/api/v1/lists/people", &person).json()["repeated"], true);
    let other = json!({ "name": "Endelyn", "size": "women-m" });
    for (method, path, body) in [
        (Method::POST, "/api/v1/lists/people", other),
        (Method::PATCH, "/api/v1/lists/people/Kitto", json!({ "note": "x" })),
        (Method::DELETE, "/api/v1/lists/people/Ebrel", json!({})),
        (Method::POST, "/api/v1/undo", json!({})),
        (Method::POST, "/api/v1/gifts/kitto-hat/turn", json!({ "to": "begin" })),
    ] {
        let answer = send(method, path, &body);
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{path}: {}", answer.text());
        assert!(problem(&answer, "rests").to_string().contains("used for something else"));
    }
    assert!(
        !demo.text("people.toml").contains("Endelyn") && demo.text("people.toml").contains("Ebrel")
    );
    // A plan is no change, but its key is its own too.
    let plan = |work: u64| {
        let mut sent = json_request(
            Method::POST,
            "/api/v1/plans",
            &json!({ "work": work, "today": "2026-09-01" }),
        );
        let key = header::HeaderName::from_static("idempotency-key");
        sent.headers_mut().insert(key, "\"plan\"".parse().expect("a value"));
        server.send(sent)
    };
    let first = plan(1).json()["id"].clone();
    assert_eq!(plan(1).json()["id"], first);
    assert_eq!(plan(2).status, StatusCode::UNPROCESSABLE_ENTITY);
    // What can't be minded is not taken without a word.
    for (method, path, body) in [
        (Method::POST, "/api/v1/undo", json!({})),
        (Method::POST, "/api/v1/lists/people", json!({ "name": "Ysolt", "size": "y4" })),
        (Method::POST, "/api/v1/records", json!({ "garment": "cuff", "size": "y4", "used": [] })),
    ] {
        let mut sent = json_request(method.clone(), path, &body);
        sent.headers_mut().insert(header::IF_MATCH, "\"nope\"".parse().expect("a value"));
        problem(&server.send(sent), "rests");
        let asked = json_request(method, &format!("{path}?seen=0"), &body);
        problem(&server.send(asked), "unknown-key");
    }
    let gone =
        json_request(Method::DELETE, "/api/v1/lists/people/Ebrel?dependants=yes", &json!({}));
    problem(&server.send(gone), "unknown-key");
}

#[test]
fn a_number_of_another_journal_or_a_forgotten_one_is_refused() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    good(&demo, &["people", "add", "Endelyn", "--size", "y5-6"]);
    let page = Page::of(&server, "/gifts");
    let change = page.takes_back();
    // Begun anew, the journal counts from 1 again.
    std::fs::remove_file(demo.path.join(".oddments/journal")).expect("there");
    good(&demo, &["people", "add", "Ebrel", "--size", "y5-6"]);
    let fields = [("what", "undo"), ("change", change.as_str())];
    let refused = page.send(&server, &fields);
    assert_eq!(refused.status, StatusCode::CONFLICT, "{}", refused.text());
    assert!(refused.text().contains("the journal was begun anew"), "{}", refused.text());
    assert!(demo.text("people.toml").contains("Ebrel"));
    // The oldest changes are forgotten: what happened since is not known any more.
    let seen = server.get("/api/v1/lists/people/Kitto");
    let seen = seen.header(header::HeaderName::from_static("oddments-change")).to_owned();
    good(&demo, &["people", "change", "Kitto", "--wash", "hand"]);
    for nth in 0..40 {
        let note = format!("{nth}{}", "x".repeat(60_000));
        let patch =
            json_request(Method::PATCH, "/api/v1/lists/people/Ruan", &json!({ "note": note }));
        assert_eq!(server.send(patch).status, StatusCode::OK);
    }
    let path = format!("/api/v1/lists/people/Kitto?seen={seen}");
    let late = server.send(json_request(Method::PATCH, &path, &json!({ "wash": "machine" })));
    assert_eq!(late.status, StatusCode::CONFLICT, "{}", late.text());
    problem(&late, "outdated");
    assert!(demo.text("people.toml").contains("wash = \"hand\""));
}

#[test]
fn a_gift_is_seen_with_its_yarn() {
    let demo = planned_demo();
    let server = Server::of(&demo);
    let at = "/api/v1/lists/gifts/kitto-hat";
    let tag = server.get(at).header(header::ETAG).to_owned();
    good(&demo, &["gifts", "free", "kitto-hat"]);
    let mut begin =
        json_request(Method::POST, "/api/v1/gifts/kitto-hat/turn", &json!({ "to": "begin" }));
    begin.headers_mut().insert(header::IF_MATCH, tag.parse().expect("a value"));
    problem(&server.send(begin), "outdated");
    // Begun without any yarn set aside: done, and the page says what there is to warn of.
    let begun = Page::of(&server, "/gifts")
        .send(&server, &[("what", "turn"), ("id", "kitto-hat"), ("to", "begin")]);
    assert_eq!(begun.status, StatusCode::OK, "{}", begun.text());
    assert!(begun.text().contains("nothing is set aside for `kitto-hat`"), "{}", begun.text());
    assert!(begun.text().contains("Noted:"), "{}", begun.text());
    // Removed with what points to it: a gift that was added by hand meanwhile is not among it.
    let page = Page::of(&server, "/gifts");
    let remove = [("what", "remove"), ("list", "people"), ("id", "Denzel")];
    let kept = page.send(&server, &remove);
    assert!(kept.text().contains("Remove Denzel all the same"), "{}", kept.text());
    let mark = "name=\"tag.gift/\" value=\"";
    let from = kept.text().find(mark).expect("what it rests on") + mark.len();
    let gifts = kept.text()[from..].split('"').next().expect("a tag").to_owned();
    let by_hand = format!(
        "{}\n[[gift]]\nid = \"late\"\nperson = \"Denzel\"\ngarment = \"cuff\"\n",
        demo.text("gifts.toml")
    );
    std::fs::write(demo.path.join("gifts.toml"), by_hand).expect("written");
    let mut all = remove.to_vec();
    all.extend([("dependents", "yes"), ("tag.gift/", gifts.as_str())]);
    let refused = page.send(&server, &all);
    assert_eq!(refused.status, StatusCode::CONFLICT, "{}", refused.text());
    assert!(demo.text("gifts.toml").contains("\"late\""));
}

#[test]
fn what_stands_in_the_way_is_named_with_the_way_round_it() {
    let demo = Demo::new();
    good(&demo, &["people", "change", "Tamsin", "--new-name", "Tammy"]);
    good(&demo, &["gifts", "add", "--person", "Tammy", "--garment", "hat"]);
    refused(
        &demo,
        &["undo", "--change", "1"],
        "in-the-way",
        &["change 2, `gifts add` of", "Tammy", "`oddments undo --change 2` comes before it"],
    );
    // Three notes taken back one after another: done again only in their order, which is said.
    let demo = Demo::new();
    for note in ["one", "two", "three"] {
        good(&demo, &["people", "change", "Tamsin", "--note", note]);
    }
    for _ in 0..3 {
        good(&demo, &["undo"]);
    }
    let first = ["undo", "--redo", "--change", "3"];
    refused(&demo, &first, "in-the-way", &["`oddments undo --redo --change 1` comes before it"]);
    refused(
        &demo,
        &["undo", "--change", "6"],
        "nothing",
        &["change 6 is an undo itself, of change 1"],
    );
    for change in ["1", "2", "3"] {
        good(&demo, &["undo", "--redo", "--change", change]);
    }
    assert!(demo.text("people.toml").contains("\"three\""));
    // Something else was changed since it was taken back: it stays listed, and is done again by name.
    good(&demo, &["undo"]);
    good(&demo, &["people", "change", "Jory", "--note", "later"]);
    refused(&demo, &["undo", "--redo"], "nothing", &["something else was changed since"]);
    let listed = demo.run(&["undo", "--list"]).out;
    assert!(
        listed.lines().any(|line| line.starts_with("3 ") && line.ends_with("taken back")),
        "{listed}"
    );
    good(&demo, &["undo", "--redo", "--change", "3"]);
    assert!(demo.text("people.toml").contains("\"three\""));
}

#[test]
fn a_file_that_cannot_be_read_does_not_pass_for_an_empty_one() {
    let demo = planned_demo();
    let whole = demo.text("plan.toml");
    std::fs::write(demo.path.join("plan.toml"), format!("{whole}garbage\n")).expect("written");
    for args in [
        &["gifts", "remove", "morwen-mitts"][..],
        &["gifts", "change", "tamsin-hat", "--garment", "mitten"],
        &["gifts", "free", "jory-mittens"],
        &["gifts", "give-up", "ruan-tam"],
        &["stash", "remove", "tide-2"],
        &["people", "remove", "Jory", "--and-gifts"],
        &[
            "record",
            "mitten",
            "--size",
            "Jory",
            "--gift",
            "jory-mittens",
            "--used",
            "main:tide-1=12 g",
        ],
    ] {
        let ran = demo.run(args);
        assert_eq!(ran.code, Some(1), "{args:?}: {}{}", ran.out, ran.err);
        assert!(ran.err.contains("mend plan.toml first"), "{args:?}: {}", ran.err);
    }
    // What has nothing to do with it goes on.
    good(&demo, &["stash", "add", "--yarn", "tide", "--weight", "9 g"]);
    std::fs::write(demo.path.join("plan.toml"), whole).expect("written");
    good(&demo, &["gifts", "list"]);
    for (file, args) in [
        ("gifts.toml", &["people", "remove", "Cador"][..]),
        ("people.toml", &["gifts", "add", "--person", "Nobody", "--garment", "hat"]),
    ] {
        let whole = demo.text(file);
        std::fs::write(demo.path.join(file), format!("{whole}garbage\n")).expect("written");
        let ran = demo.run(args);
        assert_eq!(ran.code, Some(1), "{args:?}: {}{}", ran.out, ran.err);
        std::fs::write(demo.path.join(file), whole).expect("written");
    }
}

#[test]
fn a_gift_keeps_all_its_yarn_or_none_and_what_was_not_weighed_is_said() {
    let demo = planned_demo();
    let plan = demo.toml("plan.toml");
    let own = |wanted: &str| -> Vec<(String, String)> {
        let text = |entry: &toml::Value, key: &str| entry[key].as_str().expect("text").to_owned();
        let all = plan["reservation"].as_array().expect("a list").iter();
        let theirs = all.filter(|entry| entry["gift"].as_str() == Some(wanted));
        theirs.map(|entry| (text(entry, "section"), text(entry, "remnant"))).collect()
    };
    let ruan = own("ruan-tam");
    assert!(ruan.len() > 1, "{ruan:?}");
    let (_, ball) = ruan.last().expect("some");
    let ran = demo.run(&["stash", "change", ball, "--free"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(!demo.text("plan.toml").contains("ruan-tam"), "half of it is set aside still");
    good(&demo, &["undo"]);
    // One section of two is weighed.
    let (section, ball) = ruan.last().expect("some");
    let (other, left) = ruan.first().expect("some");
    let used = format!("{section}:{ball}=1 g");
    let ran = demo.run(&["record", "tam", "--size", "Ruan", "--gift", "ruan-tam", "--used", &used]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let told = format!("nothing was weighed for the {other}: {left} weighs what it did before");
    assert!(ran.err.contains(&told), "{}", ran.err);
    // Words for sizes are nobody's name.
    for name in ["all", "women", "MEN-L", "y4..women-l", "y4,women-m"] {
        refused(
            &demo,
            &["people", "add", name, "--size", "men-l"],
            "name",
            &["can't be a person's name"],
        );
    }
    let server = Server::of(&demo);
    let twice = "/api/v1/lists/gifts/tamsin-hat?seen=1&seen=2";
    problem(&server.send(json_request(Method::PATCH, twice, &json!({ "note": "x" }))), "rests");
}

/// Whoever takes back what they were told was theirs must not take back somebody else's change.
#[test]
fn what_changed_nothing_has_no_number_to_take_back() {
    let demo = planned_demo();
    let server = Server::of(&demo);
    let id = planned(&server, &ask());
    let patch = |note: &str| {
        let path = "/api/v1/lists/people/Kitto";
        server.send(json_request(Method::PATCH, path, &json!({ "note": note })))
    };
    assert_eq!(patch("theirs").json()["change"], 2);
    // Every gift has its yarn: there is nothing to set aside.
    let accepted = accept(&server, &id);
    assert_eq!((accepted.status, &accepted.json()["written"]), (StatusCode::OK, &json!(false)));
    let again = patch("theirs");
    for answer in [&accepted, &again] {
        assert_eq!(answer.json()["change"], Value::Null, "{}", answer.text());
        assert_eq!(number(answer), 2, "the state is told all the same");
        let back = server.post("/api/v1/undo", &json!({ "change": answer.json()["change"] }));
        assert!(back.status.is_client_error(), "{}", back.text());
    }
    assert!(demo.text("people.toml").contains("\"theirs\""), "somebody else's change is gone");
}
