//! Lists of what to buy and what is said of gifts left out, through the commands.

use std::collections::BTreeMap;
use std::fs;
use std::time::Duration;

use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use serde_json::{Value, json};

use crate::demo::Demo;
use crate::server::{Answer, Server, problem, request};

fn texts(value: &Value) -> Vec<&str> {
    value.as_array().expect("a list").iter().map(|text| text.as_str().expect("a text")).collect()
}

/// A workspace whose stash is one end of yarn, with three gifts.
fn poor() -> Demo {
    let demo = Demo::new();
    let write = |file: &str, text: &str| fs::write(demo.path.join(file), text).expect("written");
    write("stash.toml", "[[remnant]]\nid = \"slate-1\"\nyarn = \"slate\"\nweight = \"16 g\"\n");
    write("plan.toml", "");
    write("records.toml", "");
    let gifts = ["kitto", "kitto-too", "kitto-three"].map(|id| {
        format!("[[gift]]\nid = \"{id}\"\nperson = \"Kitto\"\ngarment = \"hat\"\npriority = 3\n")
    });
    write("gifts.toml", &gifts.concat());
    demo
}

fn shop(demo: &Demo, more: &[&str]) -> Value {
    shop_within("40", demo, more)
}

/// The same within so many thousand units of work.
fn shop_within(work: &str, demo: &Demo, more: &[&str]) -> Value {
    let args = ["shop", "--today", "2026-09-01", "--work", work, "--format", "json"];
    let ran = demo.run(&[&args[..], more].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    serde_json::from_str(&ran.out).expect("JSON")
}

#[test]
fn the_list_makes_all_gifts_from_the_balls_it_names() {
    let demo = poor();
    let list = shop(&demo, &[]);
    assert_eq!(texts(&list["missing"]), [""; 0]);
    assert_eq!(list["plan"]["gifts"].as_array().expect("gifts").len(), 3);
    let balls = list["balls"].as_u64().expect("a number");
    assert!(balls >= 1 && list["proven"] == true && list["cost"] == list["least"], "{list}");
    // What the gifts take of each new ball and what is left of it are the ball.
    let mut taken: BTreeMap<&str, f64> = BTreeMap::new();
    for gift in list["plan"]["gifts"].as_array().expect("gifts") {
        for section in gift["sections"].as_array().expect("sections") {
            for chunk in section["takes"].as_array().expect("chunks") {
                let id = chunk["remnant"].as_str().expect("an id");
                *taken.entry(id).or_default() += chunk["grams"].as_f64().expect("grams");
            }
        }
    }
    let new: Vec<f64> =
        taken.iter().filter(|(id, _)| id.starts_with("new ")).map(|(_, grams)| *grams).collect();
    assert_eq!(new.len() as u64, balls);
    let left: f64 = list["buy"]
        .as_array()
        .expect("rows")
        .iter()
        .map(|row| row["left_grams"].as_f64().expect("grams"))
        .sum();
    let grams = list["grams"].as_f64().expect("grams");
    assert!((new.iter().sum::<f64>() + left - grams).abs() < 0.2, "{list}");
    // Nothing is written.
    assert_eq!(demo.text("plan.toml"), "");
}

#[test]
fn balls_and_prices_of_the_yarns_files_count() {
    let demo = poor();
    let told = demo.run(&["shop", "--money", "20"]);
    assert!(told.code == Some(1) && told.err.contains("no yarn has a price"), "{}", told.err);
    for yarn in ["slate", "shoreline"] {
        let file = format!("yarns/{yarn}.toml");
        let text = format!("ball_g = 100\nprice = 7.5\n{}", demo.text(&file));
        fs::write(demo.path.join(&file), text).expect("written");
    }
    let list = shop(&demo, &["--money", "8"]);
    assert!(list["price"].as_f64().expect("a price") <= 8.0, "{list}");
    assert_eq!(list["balls"], 1);
    assert_eq!(list["buy"][0]["ball_grams"], 100.0);
    assert_eq!(list["buy"][0]["ball_assumed"], false);
    assert!(!texts(&list["possible"]).is_empty());
    let page = demo.run(&["shop", "--today", "2026-09-01", "--work", "4", "--money", "7"]);
    assert!(page.out.contains("Nothing: "), "{}", page.out);
    // No priority is that high: nothing is wanted, nothing is bought.
    assert_eq!(shop(&demo, &["--from-priority", "9"])["balls"], 0);
    for (key, code) in [("ball_g = 0.2\n", "mass"), ("price = -1.0\n", "price")] {
        let text = format!("{key}{}", demo.text("yarns/tide.toml"));
        fs::write(demo.path.join("yarns/tide.toml"), text).expect("written");
        let told = demo.run(&["plan", "--work", "1"]);
        assert!(told.err.contains(code) || told.out.contains(code), "{}{}", told.out, told.err);
        let text = demo.text("yarns/tide.toml").replacen(key, "", 1);
        fs::write(demo.path.join("yarns/tide.toml"), text).expect("written");
    }
}

#[test]
fn each_gift_left_out_says_which_rule_excludes_which_yarn() {
    let demo = poor();
    let people = "[[person]]\nname = \"Kitto\"\nsize = \"men-m\"\n\
                  avoid = { colours = [\"grey\", \"blue\"] }\n";
    let plan = |more: &[&str]| {
        let args = ["plan", "--today", "2026-09-01", "--work", "2", "--explain"];
        demo.run(&[&args[..], more].concat())
    };
    let page = plan(&[]).out;
    // Yarn that would do and is too little is told with both weights.
    assert!(page.contains(" g, and ") && page.contains(" g are there: "), "{page}");
    assert!(page.contains("`oddments shop` lists the least to buy"), "{page}");
    fs::write(demo.path.join("people.toml"), people).expect("written");
    let page = plan(&[]).out;
    assert!(page.contains(" is out: Kitto avoids "), "{page}");
    assert!(!page.contains("no yarn in the stash suits"), "{page}");
    let told: Value = serde_json::from_str(&plan(&["--format", "json"]).out).expect("JSON");
    let excluded = &told["left_out"][0]["excluded"][0];
    assert_eq!(excluded["yarns"][0]["yarn"], "slate", "{told}");
    assert!(excluded["because"].as_str().expect("words").starts_with("Kitto avoids"), "{told}");
}

/// Begins a list and waits for it.
fn listed(server: &Server, ask: &Value) -> Value {
    let begun = server.post("/api/v1/shopping-lists", ask);
    assert_eq!(begun.status, StatusCode::ACCEPTED, "{}", begun.text());
    let at = begun.header(header::LOCATION).to_owned();
    assert_eq!(
        at,
        format!("/api/v1/shopping-lists/{}", begun.json()["id"].as_str().expect("an id"))
    );
    watched(server, &at)
}

fn watched(server: &Server, at: &str) -> Value {
    for _ in 0..3_000 {
        let told = server.get(at).json();
        if told["state"] != "running" {
            return told;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    panic!("the list takes for ever");
}

fn form(server: &Server, fields: &[(&str, &str)]) -> Answer {
    let body = serde_urlencoded::to_string(fields).expect("fields");
    let sent = request(Method::POST, "/gifts/shop")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
    server.send(sent.body(body.into()).expect("a request"))
}

fn priced(demo: &Demo) {
    for yarn in ["slate", "shoreline"] {
        let set = ["yarn", "change", yarn, "--ball-g", "100", "--price", "7.5"];
        assert_eq!(demo.run(&set).code, Some(0));
    }
}

#[test]
fn the_list_over_http_is_the_commands() {
    let demo = poor();
    priced(&demo);
    let server = Server::of(&demo);
    for (ask, args) in [
        (json!({}), &[][..]),
        (json!({ "by": "grams", "seed": 2 }), &["--by", "grams", "--seed", "2"]),
        (json!({ "by": "money", "from_priority": 3 }), &["--by", "money", "--from-priority", "3"]),
        (json!({ "money": 8, "again": true }), &["--money", "8", "--again"]),
        (json!({ "from_priority": 9 }), &["--from-priority", "9"]),
    ] {
        let mut whole = json!({ "today": "2026-09-01", "work": 40 });
        let keys = ask.as_object().expect("keys").clone();
        whole.as_object_mut().expect("keys").extend(keys);
        let told = listed(&server, &whole);
        assert_eq!(told["state"], "done", "{told}");
        assert_eq!(told["share"], 1.0);
        assert_eq!(told["list"], shop(&demo, args), "{ask}: not the command's list");
    }
    // Lists are no plans, and the other way round.
    let all = server.get("/api/v1/shopping-lists").json();
    let all = all.as_array().expect("lists");
    assert_eq!(all.len(), 5);
    assert_eq!(server.get("/api/v1/plans").json(), json!([]));
    let id = all[0]["id"].as_str().expect("an id");
    problem(&server.get(&format!("/api/v1/plans/{id}")), "no-plan");
    problem(&server.get("/api/v1/shopping-lists/0123456789abcdef"), "no-plan");
    // Nothing is written.
    assert_eq!(demo.text("plan.toml"), "");
}

#[test]
fn what_is_wrong_with_a_request_for_a_list_is_told() {
    let demo = poor();
    let server = Server::of(&demo);
    for (ask, code) in [
        (json!({ "money": -1 }), "price"),
        (json!({ "money": 1e300 }), "price"),
        (json!({ "money": 5, "by": "balls" }), "contrary"),
        (json!({ "money": 5, "from_priority": 2 }), "contrary"),
        (json!({ "by": "ball" }), "word"),
        (json!({ "work": 0 }), "work"),
        (json!({ "work": 2001 }), "work"),
        (json!({ "today": "soon" }), "date"),
        (json!({ "from_priority": 256 }), "body"),
        (json!({ "sparing": "balls" }), "body"),
    ] {
        problem(&server.post("/api/v1/shopping-lists", &ask), code);
    }
    assert_eq!(server.get("/api/v1/shopping-lists").json(), json!([]));
    // What only the search can tell is told with the list.
    let told = listed(&server, &json!({ "money": 20, "today": "2026-09-01", "work": 1 }));
    assert_eq!(told["state"], "failed");
    assert_eq!(told["errors"][0]["code"], "price", "{told}");
    problem(&Server::new().post("/api/v1/shopping-lists", &json!({})), "no-workspace");
}

#[test]
fn a_list_is_made_beside_no_plan_and_can_be_stopped() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let ask = json!({ "today": "2026-09-01", "work": 2000 });
    let begun = server.post("/api/v1/shopping-lists", &ask);
    let id = begun.json()["id"].as_str().expect("an id").to_owned();
    let at = format!("/api/v1/shopping-lists/{id}");
    for other in ["/api/v1/plans", "/api/v1/shopping-lists"] {
        let refused = problem(&server.post(other, &json!({})), "planning");
        assert!(refused["errors"][0]["hints"][0].as_str().expect("a hint").contains(&at));
    }
    let page = server.get(&format!("/gifts/shop/{id}"));
    assert!(page.text().contains("of the search done"), "{}", page.text());
    assert!(page.text().contains("http-equiv=\"refresh\""));
    let gone = server.send(request(Method::DELETE, &at).body(Body::empty()).expect("a request"));
    assert_eq!(gone.status, StatusCode::ACCEPTED);
    let told = watched(&server, &at);
    assert_eq!(told["state"], "done", "{told}");
    assert_eq!(told["list"]["plan"]["stopped"], true);
    // The place is free again.
    let plan = server.post("/api/v1/plans", &json!({ "today": "2026-09-01", "work": 2000 }));
    assert_eq!(plan.status, StatusCode::ACCEPTED, "{}", plan.text());
    problem(&server.post("/api/v1/shopping-lists", &ask), "planning");
    let plan = format!("/api/v1/plans/{}", plan.json()["id"].as_str().expect("an id"));
    server.send(request(Method::DELETE, &plan).body(Body::empty()).expect("a request"));
    watched(&server, &plan);
}

#[test]
fn the_page_of_what_to_buy_says_what_the_command_says() {
    let demo = poor();
    priced(&demo);
    let server = Server::of(&demo);
    assert!(server.get("/gifts").text().contains("href=\"/gifts/shop\""));
    assert!(server.get("/gifts/shop").text().contains("<h1>What to buy</h1>"));
    let when = [("what", "shop"), ("today", "2026-09-01"), ("work", "4")];
    let asked = |more: &[(&str, &str)]| {
        let sent = form(&server, &[&when[..], more].concat());
        assert_eq!(sent.status, StatusCode::SEE_OTHER, "{}", sent.text());
        let at = sent.header(header::LOCATION).to_owned();
        let id = at.strip_prefix("/gifts/shop/").expect("the page of a list");
        watched(&server, &format!("/api/v1/shopping-lists/{id}"));
        server.get(&at).text().replace("&#39;", "'")
    };
    // Fields of a choice that is not made don't count.
    for (fields, args) in [
        (&[("whom", "all"), ("by", "grams"), ("money", "x")][..], &["--by", "grams"][..]),
        (
            &[("whom", "priority"), ("from_priority", "3"), ("by", "money")],
            &["--from-priority", "3", "--by", "money"],
        ),
        (&[("whom", "money"), ("money", "8"), ("by", "grams")], &["--money", "8"]),
        (&[("whom", "money"), ("money", "7")], &["--money", "7"]),
    ] {
        let page = asked(fields);
        let said = ["shop", "--today", "2026-09-01", "--work", "4"];
        let said = demo.run(&[&said[..], args].concat());
        let lines: Vec<&str> = said.out.lines().skip(2).filter(|line| !line.is_empty()).collect();
        let prose = |line: &&&str| line.ends_with('.');
        assert!(lines.iter().filter(prose).count() >= 2, "{}", said.out);
        for line in lines.iter().filter(prose) {
            let line = line.trim_start_matches("- ");
            assert!(page.contains(line), "no `{line}` in {page}");
        }
        let list = shop_within("4", &demo, args);
        for row in list["buy"].as_array().expect("rows") {
            let head = format!("<th scope=\"row\">{}</th>", row["yarn"].as_str().expect("an id"));
            let at = page.find(&head).unwrap_or_else(|| panic!("no {head} in {page}"));
            let cells = page[at..].split("</tr>").next().expect("a row");
            assert!(cells.contains(&format!("<td>{}</td>", row["balls"])), "{cells}");
        }
        assert_eq!(page.contains("<table"), list["balls"] != 0, "{page}");
    }
}

#[test]
fn a_form_for_what_to_buy_that_is_wrong_keeps_what_was_typed() {
    let demo = poor();
    let server = Server::of(&demo);
    for (fields, said) in [
        (&[("whom", "money"), ("money", "<b>")][..], "is no sum of money"),
        (&[("whom", "money"), ("money", "-3")], "is no sum of money"),
        (&[("whom", "priority"), ("from_priority", "")], "is no priority"),
        (&[("whom", "all"), ("by", "needles")], "is nothing to spare"),
        (&[("whom", "all"), ("work", "long")], "is no whole number"),
        (&[("whom", "all"), ("work", "2001")], "work is from 1 to 2000"),
        (&[("whom", "all"), ("today", "soon")], "is no day"),
    ] {
        let answer = form(&server, &[&[("what", "shop")][..], fields].concat());
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", answer.text());
        assert!(answer.text().contains(said), "no `{said}` in {}", answer.text());
        assert!(!answer.text().contains("<b>"));
    }
    let again = form(&server, &[("what", "shop"), ("whom", "money"), ("money", "12 or so")]);
    assert!(again.text().contains("value=\"12 or so\""), "{}", again.text());
    assert!(again.text().contains("value=\"money\" selected"), "{}", again.text());
    assert_eq!(server.get("/api/v1/shopping-lists").json(), json!([]));
}

#[test]
fn a_plan_that_adds_yarn_says_that_each_way_is_alone() {
    let demo = poor();
    let server = Server::of(&demo);
    let ask = json!({ "today": "2026-09-01", "work": 2, "explain": true });
    let begun = server.post("/api/v1/plans", &ask);
    let id = begun.json()["id"].as_str().expect("an id").to_owned();
    let plan = watched(&server, &format!("/api/v1/plans/{id}"));
    assert!(plan["plan"]["left_out"].to_string().contains("\"add\""), "{plan}");
    let page = server.get(&format!("/gifts/plan/{id}"));
    assert!(page.text().contains("Each of these ways is told alone"), "{}", page.text());
    assert!(page.text().contains("href=\"/gifts/shop\""));
}

#[test]
fn ball_and_price_of_a_yarn_are_set_by_flags_and_over_http() {
    let by_hand = poor();
    let served = poor();
    priced(&by_hand);
    let file = |demo: &Demo| demo.toml("yarns/slate.toml");
    assert_eq!(file(&by_hand)["ball_g"].as_integer(), Some(100));
    assert_eq!(file(&by_hand)["price"].as_float(), Some(7.5));
    let server = Server::of(&served);
    let change = |entry: &Value| {
        let path = "/api/v1/lists/yarns/slate";
        server.send(crate::server::json_request(Method::PATCH, path, entry))
    };
    let changed = change(&json!({ "ball_g": 100, "price": 7.5 }));
    assert_eq!(changed.status, StatusCode::OK, "{}", changed.text());
    assert_eq!(served.text("yarns/slate.toml"), by_hand.text("yarns/slate.toml"));
    assert_eq!(server.get("/api/v1/lists/yarns/slate").json()["price"], 7.5);
    problem(&change(&json!({ "ball_g": 0.2 })), "mass");
    problem(&change(&json!({ "price": -1 })), "price");
    for (flag, told) in [("--ball-g=5001", "a ball of 5001 g"), ("--price=0.001", "a ball for")] {
        let ran = by_hand.run(&["yarn", "change", "slate", flag]);
        assert!(ran.code == Some(1) && ran.err.contains(told), "{flag}: {}", ran.err);
    }
    // Nought: it is not known any more.
    assert_eq!(by_hand.run(&["yarn", "change", "slate", "--ball-g=0", "--price=0"]).code, Some(0));
    assert!(!file(&by_hand).contains_key("ball_g") && !file(&by_hand).contains_key("price"));
    let add = ["yarn", "add", "dulse", "--yarn=400 m/100 g", "--colour=dulse #6b2f3a"];
    let ran = by_hand.run(&[&add[..], &["--ball-g=50", "--price=4.25"]].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert_eq!(by_hand.toml("yarns/dulse.toml")["price"].as_float(), Some(4.25));
}

/// A workspace whose only wish is a slipover for a grown woman.
fn slipover_wanted() -> Demo {
    let demo = poor();
    let gift = "[[gift]]\nid = \"slip\"\nperson = \"Morwen\"\ngarment = \"slipover\"\n";
    fs::write(demo.path.join("gifts.toml"), gift).expect("written");
    assert_eq!(demo.run(&["yarn", "change", "slate", "--ball-g=50"]).code, Some(0));
    demo
}

#[test]
fn what_takes_many_balls_is_bought_and_planned_from_them() {
    let demo = slipover_wanted();
    let list = shop(&demo, &["--by", "grams"]);
    assert_eq!(texts(&list["missing"]), [""; 0], "{list}");
    let of = |gift: &Value| gift["sections"][0]["takes"].as_array().expect("chunks").len();
    let takes = of(&list["plan"]["gifts"][0]);
    // Three pieces are all that may be joined of ends, by the settings; a ball ends where it ends.
    assert!(takes > 3, "{takes} balls");
    let row = &list["buy"][0];
    let (yarn, ball) = (row["yarn"].as_str().expect("a yarn"), &row["ball_grams"]);
    for _ in 0..row["balls"].as_u64().expect("a number") {
        let ball = format!("{ball} g");
        let add = ["stash", "add", "--yarn", yarn, "--lot", "new", "--weight", &ball];
        assert_eq!(demo.run(&add).code, Some(0));
    }
    let plan = ["plan", "--today=2026-09-01", "--work=40", "--format=json"];
    let planned: Value = serde_json::from_str(&demo.run(&plan).out).expect("JSON");
    assert_eq!(planned["left_out"], json!([]));
    assert_eq!(of(&planned["gifts"][0]), takes);
}

#[test]
fn of_ends_no_more_are_joined_than_the_settings_say() {
    let demo = slipover_wanted();
    // As much yarn in all, and a ball would hold it: these are ends of balls.
    assert_eq!(demo.run(&["yarn", "change", "slate", "--ball-g=400"]).code, Some(0));
    for _ in 0..5 {
        let add = ["stash", "add", "--yarn=slate", "--lot=new", "--weight=50 g"];
        assert_eq!(demo.run(&add).code, Some(0));
    }
    let plan = ["plan", "--today=2026-09-01", "--work=40", "--format=json"];
    let planned: Value = serde_json::from_str(&demo.run(&plan).out).expect("JSON");
    assert_eq!(planned["gifts"], json!([]));
}

#[test]
fn a_gift_is_graded_on_the_swatch_of_the_yarn_that_it_is_knitted_in() {
    let demo = poor();
    // A twin of the yarn, with a swatch of its own that knits just the same.
    let copy = |from: &str, to: &str, change: &dyn Fn(String) -> String| {
        let text = change(demo.text(from));
        fs::write(demo.path.join(to), text).expect("written");
    };
    copy("swatches/standard.toml", "swatches/another.toml", &|text| text);
    copy("yarns/slate.toml", "yarns/another.toml", &|text| {
        text.replace("\"standard\"", "\"another\"").replace("Skerry slate", "Another")
    });
    let stash = ["slate", "another"].map(|yarn| {
        format!("[[remnant]]\nid = \"{yarn}-1\"\nyarn = \"{yarn}\"\nweight = \"40 g\"\n")
    });
    fs::write(demo.path.join("stash.toml"), stash.concat()).expect("written");
    for gift in ["kitto", "kitto-too"] {
        let pin = ["gifts", "change", gift, "--pin"];
        let remnant = if gift == "kitto" { "hat=slate-1" } else { "hat=another-1" };
        assert_eq!(demo.run(&[&pin[..], &[remnant]].concat()).code, Some(0));
    }
    let plan = ["plan", "--today=2026-09-01", "--work=40", "--format=json"];
    let planned: Value = serde_json::from_str(&demo.run(&plan).out).expect("JSON");
    let gifts = planned["gifts"].as_array().expect("gifts");
    assert!(gifts.len() >= 2, "{planned}");
    for gift in gifts {
        let sections = gift["sections"].as_array().expect("sections");
        let main = sections.iter().find(|section| section["name"] == "hat").expect("a hat");
        let swatch = if main["yarn"] == "slate" { "standard" } else { "another" };
        assert_eq!(gift["swatch"], swatch, "{gift}");
    }
}

/// A scarf for a grown woman and nothing in the stash; balls of so many grams could be had.
fn scarf_wanted(ball_g: &str) -> Demo {
    let demo = Demo::empty();
    let yarn = ["yarn", "add", "kelp", "--yarn=400 m/100 g", "--colour=kelp=#335544", "--ball-g"];
    for args in [
        &[&yarn[..], &[ball_g]].concat()[..],
        &["people", "add", "Wenna", "--size", "women-m"],
        &["gifts", "add", "--person", "Wenna", "--garment", "scarf"],
    ] {
        let ran = demo.run(args);
        assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.err);
    }
    demo
}

/// Grams that the only gift takes, and its length where the yarn chose it.
fn taken(gift: &Value) -> (f64, Option<String>) {
    let takes = gift["sections"][0]["takes"].as_array().expect("chunks").iter();
    let length = gift["options"]["length"].as_str().map(str::to_owned);
    (takes.map(|chunk| chunk["grams"].as_f64().expect("grams")).sum(), length)
}

#[test]
fn new_balls_are_knitted_up_by_what_grows_with_the_yarn() {
    let demo = scarf_wanted("50");
    let list = shop(&demo, &[]);
    assert_eq!(texts(&list["missing"]), [""; 0], "{list}");
    let row = &list["buy"][0];
    let balls = row["balls"].as_u64().expect("a number");
    let (grams, length) = taken(&list["plan"]["gifts"][0]);
    // No fewer than it takes by itself, and as long as those go.
    assert!(length.is_some(), "{list}");
    assert!(grams > 50.0 * (balls - 1) as f64 && grams > 50.0 * balls as f64 - 5.0, "{grams} g");
    for _ in 0..balls {
        let add = ["stash", "add", "--yarn=kelp", "--lot=new", "--weight=50 g"];
        assert_eq!(demo.run(&add).code, Some(0));
    }
    let plan = ["plan", "--today=2026-09-01", "--work=40", "--format=json"];
    let planned: Value = serde_json::from_str(&demo.run(&plan).out).expect("JSON");
    assert_eq!(taken(&planned["gifts"][0]), (grams, length), "{planned}");
}

#[test]
fn where_no_balls_are_enough_for_all_of_it_fewer_make_it_smaller() {
    // Eight balls are all that may be joined: eight times ten grams are no scarf of her length.
    let demo = scarf_wanted("10");
    let list = shop(&demo, &[]);
    assert_eq!(texts(&list["missing"]), [""; 0], "{list}");
    let (grams, length) = taken(&list["plan"]["gifts"][0]);
    assert!(length.is_some() && grams <= 80.0, "{list}");
}
