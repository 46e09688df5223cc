//! The workspace over HTTP: the same lists, changes and plans as by the commands.

use std::time::Duration;

use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use serde_json::{Value, json};

use crate::demo::Demo;
use crate::server::{Answer, Server, json_request, problem, request};

fn form(server: &Server, fields: &[(&str, &str)]) -> Answer {
    let body = serde_urlencoded::to_string(fields).expect("fields");
    let sent = request(Method::POST, "/gifts/do")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
    server.send(sent.body(body.into()).expect("a request"))
}

fn delete(server: &Server, path: &str) -> Answer {
    server.send(request(Method::DELETE, path).body(Body::empty()).expect("a request"))
}

/// Waits for a plan and gives it whole.
fn finished(server: &Server, id: &str) -> Value {
    for _ in 0..3_000 {
        let plan = server.get(&format!("/api/v1/plans/{id}")).json();
        if plan["state"] != "running" {
            return plan;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    panic!("the plan {id} takes for ever");
}

#[test]
fn lists_and_reach_are_what_the_commands_print() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    for (list, command) in [
        ("stash", "stash"),
        ("yarns", "yarn"),
        ("people", "people"),
        ("gifts", "gifts"),
        ("swatches", "swatch"),
    ] {
        for (format, flag) in
            [("json", "json"), ("csv", "csv"), ("text", "table"), ("markdown", "markdown")]
        {
            let printed = demo.run(&[command, "list", "--format", flag]);
            let got = server.get(&format!("/api/v1/lists/{list}?format={format}"));
            assert_eq!(got.status, StatusCode::OK, "{}", got.text());
            assert_eq!(got.text(), printed.out, "{list} {format}");
        }
    }
    for (query, args) in [
        ("weight=34+g&sizes=women", vec!["--weight", "34 g", "--sizes", "women"]),
        ("garment=tam,hat&risk=1+%25", vec!["--garment", "tam,hat", "--risk", "1 %"]),
        ("remnant=shoreline-1&each=yes", vec!["--remnant", "shoreline-1", "--each"]),
    ] {
        let mut command = vec!["reach", "--format", "json"];
        command.extend(args);
        let printed = demo.run(&command);
        assert_eq!(printed.code, Some(0), "{}", printed.err);
        let got = server.get(&format!("/api/v1/reach?{query}"));
        assert_eq!(got.text(), printed.out, "{query}");
    }
    problem(&server.get("/api/v1/reach"), "usage");
    problem(&server.get("/api/v1/reach?weight=0.1+g"), "reaches-nothing");
    problem(&server.get("/api/v1/reach?garment=..%2Fsecret"), "no-garment");
    // Graded on the workspace's own swatches and stripes in its own yarns, as the command does.
    let printed =
        demo.run(&["grade", "tam", "--swatch", "mid", "--sizes", "women", "--format", "json"]);
    let got = server.get("/api/v1/grade?garment=tam&swatch_id=mid&sizes=women");
    assert_eq!(got.text(), printed.out);
    let printed = demo.run(&[
        "pattern",
        "mitten",
        "--size",
        "women-m",
        "--format",
        "svg",
        "--picture",
        "stripes",
        "--yarn",
        "tide",
        "--start",
        "2 m",
    ]);
    assert_eq!(printed.code, Some(0), "{}", printed.err);
    let got = server.get(
        "/api/v1/pattern?garment=mitten&sizes=women-m&format=svg&picture=stripes&ball=tide&start=2",
    );
    assert_eq!(got.text(), printed.out);
}

#[test]
fn no_name_in_a_request_is_a_file() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let secret = demo.path.join("yarns/tide.toml");
    let secret = secret.to_str().expect("a name");
    let path = format!("garment=tam&sizes=women-m&format=svg&picture=stripes&ball={secret}");
    problem(&server.get(&format!("/api/v1/pattern?{path}")), "no-yarn");
    problem(&server.get("/api/v1/grade?garment=tam&swatch_id=swatches/mid.toml"), "no-swatch");
    problem(&server.get("/api/v1/reach?remnant=../stash.toml"), "unknown");
    for (list, key) in [("yarns", "../../evil"), ("yarns", "a/b"), ("stash", "../evil")] {
        let entry = json!({ "id": key, "yarn": "400 m/100 g", "name": "evil", "weight": "1 g" });
        let answer = server.post(&format!("/api/v1/lists/{list}"), &entry);
        assert!(answer.status.is_client_error(), "{list} {key}: {}", answer.text());
    }
    let removed = delete(&server, "/api/v1/lists/swatches/..%2Foddments");
    assert!(removed.status.is_client_error(), "{}", removed.text());
    assert!(demo.path.join("oddments.toml").is_file());
    let record = json!({ "garment": secret, "size": "women-m", "used": ["hat:tide-1=1 g"] });
    problem(&server.post("/api/v1/records", &record), "no-garment");
}

#[test]
fn changes_write_what_the_commands_write_and_can_be_taken_back() {
    let by_hand = Demo::new();
    let served = Demo::new();
    let server = Server::of(&served);
    let before = served.text("stash.toml");
    let ran = by_hand.run(&["stash", "add", "--yarn", "tide", "--weight", "18 g", "--lot", "B2"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let added = server
        .post("/api/v1/lists/stash", &json!({ "yarn": "tide", "weight": "18 g", "lot": "B2" }));
    assert_eq!(added.status, StatusCode::CREATED, "{}", added.text());
    let id = added.json()["id"].as_str().expect("an id").to_owned();
    assert_eq!(added.header(header::LOCATION), format!("/api/v1/lists/stash/{id}"));
    assert_eq!(served.text("stash.toml"), by_hand.text("stash.toml"));
    let changed = server.send(json_request(
        Method::PATCH,
        &format!("/api/v1/lists/stash/{id}"),
        &json!({ "weight": "12.5 g", "lot": null }),
    ));
    assert_eq!(changed.status, StatusCode::OK, "{}", changed.text());
    by_hand.run(&["stash", "change", &id, "--weight", "12.5 g", "--lot", ""]);
    assert_eq!(served.text("stash.toml"), by_hand.text("stash.toml"));
    // What is there is there at once, also for what is changed by hand beside the server.
    let ran = served.run(&["people", "add", "Endelyn", "--size", "y5-6"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(server.get("/api/v1/lists/people").text().contains("Endelyn"));
    let wish = json!({ "person": "Endelyn", "garment": ["hat", "tam"], "priority": 4,
        "due": "2026-12-20", "options": { "ease": "-5 %" }, "must": true });
    let added = server.post("/api/v1/lists/gifts", &wish);
    assert_eq!(added.json()["id"], "endelyn-1", "{}", added.text());
    assert!(served.text("gifts.toml").contains("garment = [\"hat\", \"tam\"]"));
    let misspelt = json!({ "person": "Endelyn", "garment": "tam", "options": { "wedgs": 6 } });
    let refused = problem(&server.post("/api/v1/lists/gifts", &misspelt), "option");
    assert_eq!(refused["errors"][0]["hints"][0], "did you mean `wedges`?");
    // Someone with wishes stays, unless they go too.
    let kept = delete(&server, "/api/v1/lists/people/Endelyn");
    assert_eq!(kept.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", kept.text());
    let gone = delete(&server, "/api/v1/lists/people/Endelyn?dependents=yes");
    assert_eq!(gone.status, StatusCode::OK);
    assert!(!served.text("gifts.toml").contains("endelyn-1"));
    for _ in 0..5 {
        let undone = server.post("/api/v1/undo", &json!({}));
        assert_eq!(undone.status, StatusCode::OK, "{}", undone.text());
    }
    assert_eq!(served.text("stash.toml"), before);
    problem(&server.post("/api/v1/undo", &json!({})), "nothing");
    let again = server.post("/api/v1/undo", &json!({ "redo": true }));
    assert_eq!(again.json()["command"], "stash add");
}

#[test]
fn what_is_wrong_with_an_entry_is_told_and_nothing_is_written() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let before = demo.text("stash.toml");
    for (entry, word) in [
        (json!({ "yarn": "tide" }), "weight"),
        (json!({ "yarn": "tide", "weight": "12" }), "12"),
        (json!({ "yarn": "seaweed", "weight": "12 g" }), "seaweed"),
        (json!({ "yarn": "tide", "weight": "12 g", "colour": "red" }), "colour"),
        (json!({ "yarn": "tide", "weight": ["12 g", 3] }), "value"),
        (json!({ "yarn": "tide", "weight": { "a": { "b": { "c": 1 } } } }), "value"),
        (json!({ "weight": "12 g" }), "yarn"),
    ] {
        let answer = server.post("/api/v1/lists/stash", &entry);
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{entry}: {}", answer.text());
        assert!(answer.text().contains(word), "{entry}: {}", answer.text());
    }
    assert_eq!(server.get("/api/v1/lists/hats").status, StatusCode::NOT_FOUND);
    let none = server.send(json_request(
        Method::PATCH,
        "/api/v1/lists/stash/none",
        &json!({ "weight": "1 g" }),
    ));
    assert!(none.status.is_client_error(), "{}", none.text());
    assert_eq!(demo.text("stash.toml"), before);
}

#[test]
fn a_plan_is_watched_accepted_and_taken_back() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let begun = server.post("/api/v1/plans", &json!({ "today": "2026-09-01", "work": 4 }));
    assert_eq!(begun.status, StatusCode::ACCEPTED, "{}", begun.text());
    let id = begun.json()["id"].as_str().expect("an id").to_owned();
    assert_eq!(begun.header(header::LOCATION), format!("/api/v1/plans/{id}"));
    // One at a time.
    let other = server.post("/api/v1/plans", &json!({}));
    if other.status != StatusCode::ACCEPTED {
        problem(&other, "planning");
    }
    let done = finished(&server, &id);
    assert_eq!(done["state"], "done", "{done}");
    assert_eq!(done["share"], 1.0);
    assert_eq!(done["plan"], demo.plan(&[]), "not the command's plan");
    let page = server.get(&format!("/gifts/plan/{id}"));
    assert!(page.text().contains("gifts can be made</h1>"), "{}", page.text());
    let first = &done["plan"]["gifts"][0];
    let take = &first["sections"][0]["takes"][0];
    for word in [&first["person"], &first["gift"], &take["remnant"]] {
        assert!(page.text().contains(word.as_str().expect("a word")), "{word}");
    }
    let accepted = server.post(&format!("/api/v1/plans/{id}/accept"), &json!({}));
    assert_eq!(accepted.json()["gifts"], done["plan"]["gifts"].as_array().expect("gifts").len());
    assert!(demo.text("plan.toml").contains(take["remnant"].as_str().expect("an id")));
    assert!(server.get("/gifts").text().contains("Take back: plan accept"));
    server.post("/api/v1/undo", &json!({}));
    assert!(!server.get("/gifts").text().contains("Take back: plan accept"));
    assert_eq!(server.get("/api/v1/plans/0123456789abcdef").status, StatusCode::NOT_FOUND);
    problem(&server.post("/api/v1/plans", &json!({ "today": "soon" })), "date");
    problem(&server.post("/api/v1/plans", &json!({ "work": 0 })), "work");
}

#[test]
fn a_long_plan_is_stopped_and_keeps_its_best() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let begun = server.post("/api/v1/plans", &json!({ "today": "2026-09-01", "work": 2000 }));
    let id = begun.json()["id"].as_str().expect("an id").to_owned();
    problem(&server.post("/api/v1/plans", &json!({})), "planning");
    let early = server.post(&format!("/api/v1/plans/{id}/accept"), &json!({}));
    problem(&early, "planning");
    assert!(server.get(&format!("/gifts/plan/{id}")).text().contains("of the search done"));
    assert_eq!(delete(&server, &format!("/api/v1/plans/{id}")).status, StatusCode::ACCEPTED);
    let done = finished(&server, &id);
    assert_eq!(done["state"], "done", "{done}");
    assert_eq!(done["plan"]["stopped"], true);
    assert!(!done["plan"]["gifts"].as_array().expect("gifts").is_empty());
}

#[test]
fn the_page_does_the_same_with_forms_alone() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let page = server.get("/gifts");
    assert_eq!(page.status, StatusCode::OK, "{}", page.text());
    for section in ["plan", "aside", "gifts", "people", "stash", "yarns", "finished"] {
        assert!(page.text().contains(&format!("<section id=\"{section}\"")), "{section}");
    }
    let add = |weight: &str| {
        let fields = [
            ("what", "add"),
            ("list", "stash"),
            ("yarn", "tide"),
            ("weight", weight),
            ("lot", "<b>B2"),
        ];
        form(&server, &fields)
    };
    let wrong = add("twelve");
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    // What was typed is still there, as text and not as a tag.
    assert!(wrong.text().contains("value=\"twelve\""), "{}", wrong.text());
    assert!(wrong.text().contains("value=\"&#60;b&#62;B2\""), "{}", wrong.text());
    let right = add("12 g");
    assert_eq!(right.status, StatusCode::SEE_OTHER, "{}", right.text());
    assert_eq!(right.header(header::LOCATION), "/gifts?did=add#stash");
    assert!(demo.text("stash.toml").contains("12 g"));
    let weighed = form(&server, &[("what", "weigh"), ("id", "shoreline-1"), ("weight", "7.5 g")]);
    assert_eq!(weighed.status, StatusCode::SEE_OTHER, "{}", weighed.text());
    let person = demo.toml("gifts.toml")["gift"][0]["person"].as_str().expect("a name").to_owned();
    let remove = [("what", "remove"), ("list", "people"), ("id", person.as_str())];
    let kept = form(&server, &remove);
    assert_eq!(kept.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(kept.text().contains(&format!("Remove {person} all the same")), "{}", kept.text());
    let mut all = remove.to_vec();
    all.push(("dependents", "yes"));
    assert_eq!(form(&server, &all).status, StatusCode::SEE_OTHER);
    assert_eq!(form(&server, &[("what", "undo")]).status, StatusCode::SEE_OTHER);
    assert!(demo.text("people.toml").contains(&person));
    let planned = form(&server, &[("what", "plan"), ("today", "2026-09-01")]);
    let at = planned.header(header::LOCATION).to_owned();
    assert!(at.starts_with("/gifts/plan/"), "{at}");
    let id = at.rsplit('/').next().expect("an id");
    form(&server, &[("what", "stop"), ("id", id)]);
    finished(&server, id);
    let accepted = form(&server, &[("what", "accept"), ("id", id)]);
    assert_eq!(accepted.header(header::LOCATION), "/gifts?did=accept#aside");
    assert!(server.get("/gifts?did=accept").text().contains("Accepted: the yarn is set aside."));
    assert!(!server.get("/gifts?did=%3Cscript%3E").text().contains("<script>"));
    assert_eq!(
        form(&server, &[("what", "format-the-disk")]).status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
}

#[test]
fn a_finished_piece_is_recorded_as_by_the_command() {
    let by_hand = Demo::new();
    let served = Demo::new();
    let server = Server::of(&served);
    let used = "hat:shoreline-1=20 g";
    let ran = by_hand.run(&["record", "tam", "--size", "women-m", "--used", used]);
    let sent = json!({ "garment": "tam", "size": "women-m", "used": [used] });
    let answer = server.post("/api/v1/records", &sent);
    if ran.code == Some(0) {
        assert_eq!(answer.status, StatusCode::CREATED, "{}", answer.text());
        assert!(answer.json()["sections"][0]["took_grams"].as_f64().expect("grams") > 0.0);
    } else {
        panic!("{}", ran.err);
    }
    assert_eq!(served.text("records.toml"), by_hand.text("records.toml"));
    assert_eq!(served.text("stash.toml"), by_hand.text("stash.toml"));
    let wrong = form(
        &server,
        &[("what", "record"), ("garment", "tam"), ("size", "women-m"), ("used", "no such thing")],
    );
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.text().contains("no such thing</textarea>"), "{}", wrong.text());
}

#[test]
fn without_a_workspace_the_page_says_how_to_get_one() {
    let server = Server::new();
    for path in ["/api/v1/lists/stash", "/api/v1/lists/gifts?format=csv"] {
        assert_eq!(server.get(path).status, StatusCode::NOT_FOUND);
        problem(&server.get(path), "no-workspace");
    }
    problem(&server.post("/api/v1/plans", &json!({})), "no-workspace");
    problem(&server.post("/api/v1/undo", &json!({})), "no-workspace");
    let page = server.get("/gifts");
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.text().contains("oddments init"), "{}", page.text());
}

#[test]
fn while_a_file_is_faulty_the_last_good_state_stands() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    assert!(server.get("/api/v1/lists/people").text().contains("Morwen"));
    let good = demo.text("people.toml");
    std::fs::write(demo.path.join("people.toml"), format!("{good}\n[[person]]\nname = "))
        .expect("written");
    let page = server.get("/gifts");
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.text().contains("people.toml:"), "the place is not told");
    assert!(page.text().contains("Morwen"), "the last good state is gone");
    // Data is never told as whole when it is not.
    assert_eq!(server.get("/api/v1/lists/people").status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(server.get("/api/v1/grade?garment=tam&sizes=women-m").status, StatusCode::OK);
    std::fs::write(demo.path.join("people.toml"), good).expect("written");
    assert_eq!(server.get("/api/v1/lists/people").status, StatusCode::OK);
}

/// Told to stop while writes come in: what was answered as done is in the files, and each in whole.
#[cfg(unix)]
#[test]
fn a_server_that_is_stopped_loses_no_accepted_write() {
    use std::io::{BufRead, BufReader, Read, Write};
    let demo = Demo::new();
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin!("oddments"))
        .args(["serve", "--listen", "127.0.0.1:0"])
        .current_dir(&demo.path)
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::null())
        .spawn()
        .expect("started");
    let mut lines = BufReader::new(child.stdout.take().expect("piped")).lines();
    let first = lines.next().expect("a line").expect("text");
    let address = first.strip_prefix("Listening on http://").expect("an address").to_owned();
    let add = |id: &str| -> Option<bool> {
        let body = json!({ "id": id, "yarn": "tide", "weight": "3 g" }).to_string();
        let mut stream = std::net::TcpStream::connect(&address).ok()?;
        write!(
            stream,
            "POST /api/v1/lists/stash HTTP/1.1\r\nHost: {address}\r\nContent-Type: application/json\r\n\
             Content-Length: {}\r\nConnection: close\r\n\r\n{body}",
            body.len()
        )
        .ok()?;
        let mut text = String::new();
        stream.read_to_string(&mut text).ok()?;
        Some(text.starts_with("HTTP/1.1 201"))
    };
    let begun = std::sync::atomic::AtomicUsize::new(0);
    let accepted: Vec<String> = std::thread::scope(|scope| {
        let writers: Vec<_> = (0..4)
            .map(|writer| {
                let (add, begun) = (&add, &begun);
                scope.spawn(move || {
                    let mut done = Vec::new();
                    for nth in 0..1000 {
                        let id = format!("storm-{writer}-{nth}");
                        match add(&id) {
                            Some(true) => {
                                begun.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                                done.push(id);
                            }
                            _ => break,
                        }
                    }
                    done
                })
            })
            .collect();
        // In the middle of it, however slow the machine is.
        for _ in 0..3_000 {
            if begun.load(std::sync::atomic::Ordering::Relaxed) >= 12 {
                break;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        let id = child.id().to_string();
        let told = std::process::Command::new("kill").args(["-TERM", &id]).status().expect("run");
        assert!(told.success());
        writers.into_iter().flat_map(|writer| writer.join().expect("ended")).collect()
    });
    assert!(child.wait().expect("ended").success());
    assert!(!accepted.is_empty(), "no write was accepted before the end");
    let stash = demo.toml("stash.toml");
    let there: Vec<&str> = stash["remnant"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|remnant| remnant["id"].as_str().expect("an id"))
        .collect();
    for id in &accepted {
        assert!(there.contains(&id.as_str()), "{id} was accepted and is not there");
    }
    assert_eq!(demo.run(&["stash", "list"]).code, Some(0));
}
