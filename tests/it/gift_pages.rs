//! The pages of the stash, the people, the wishes, the plans and the finished pieces, as a browser without
//! scripts gets them.

use std::collections::BTreeSet;
use std::time::Duration;

use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use serde_json::{Value, json};

use crate::demo::Demo;
use crate::server::{Answer, Server, problem, request};

fn form(server: &Server, fields: &[(&str, &str)]) -> Answer {
    let body = serde_urlencoded::to_string(fields).expect("fields");
    let sent = request(Method::POST, "/gifts/do")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
    server.send(sent.body(body.into()).expect("a request"))
}

fn page(server: &Server, path: &str) -> String {
    let answer = server.get(path);
    assert_eq!(answer.status, StatusCode::OK, "{path}: {}", answer.text());
    answer.text().replace("&#39;", "'").replace("&#38;", "&")
}

/// The ids of the entries that a list shows, in its order.
fn entries(page: &str) -> Vec<&str> {
    page.split("<li id=\"e-").skip(1).filter_map(|row| row.split('"').next()).collect()
}

/// The ids of all entries of a list that a page shows a part of: page after page.
fn all_entries(server: &Server, path: &str) -> Vec<String> {
    let and = if path.contains('?') { '&' } else { '?' };
    let mut all: Vec<String> = Vec::new();
    loop {
        let text = page(server, &format!("{path}{and}from={}", all.len()));
        all.extend(entries(&text).into_iter().map(str::to_owned));
        if !text.contains(">Those after</a>") {
            return all;
        }
    }
}

/// Makes a plan and gives the address of its page, and the plan as data.
fn planned(server: &Server, work: u64) -> (String, Value) {
    let begun = server.post("/api/v1/plans", &json!({ "today": "2026-09-01", "work": work }));
    assert_eq!(begun.status, StatusCode::ACCEPTED, "{}", begun.text());
    let id = begun.json()["id"].as_str().expect("an id").to_owned();
    for _ in 0..3_000 {
        let told = server.get(&format!("/api/v1/plans/{id}")).json();
        if told["state"] != "running" {
            assert_eq!(told["state"], "done", "{told}");
            return (format!("/gifts/plan/{id}"), told["plan"].clone());
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    panic!("the plan takes for ever");
}

/// The first link of a page to the machine.
fn to_the_machine(page: &str) -> &str {
    let (_, rest) = page.split_once("href=\"/machine?").expect("a way to the machine");
    rest.split('"').next().expect("an address")
}

const LISTS: [(&str, &str); 3] =
    [("/gifts/stash", "stash"), ("/gifts/people", "people"), ("/gifts/wishes", "gifts")];

#[test]
fn each_list_is_a_page_of_its_own_and_a_small_one() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    for (path, list) in LISTS {
        let text = page(&server, path);
        let rows = server.get(&format!("/api/v1/lists/{list}")).json();
        let rows = rows.as_array().expect("rows");
        let first = if list == "people" {
            "Name"
        } else {
            ["Remnant", "Gift"][usize::from(list == "gifts")]
        };
        let ids: Vec<&str> = rows.iter().map(|row| row[first].as_str().expect("an id")).collect();
        assert_eq!(all_entries(&server, path), ids, "{path}");
        assert!(text.len() < 60_000, "{path} has {} bytes", text.len());
        // Open, an entry is a form; no other is.
        let open = page(&server, &format!("{path}?edit={}", ids[0]));
        assert_eq!(open.matches("value=\"change\"").count(), 1, "{path}");
        assert!(open.len() < 60_000, "{path} has {} bytes", open.len());
    }
    for path in ["/gifts", "/gifts/plan", "/gifts/records", "/gifts/shop", "/phone"] {
        let text = page(&server, path);
        assert!(text.len() < 60_000, "{path} has {} bytes", text.len());
    }
    // What the one page had is found from the addresses that it had.
    let all = page(&server, "/gifts");
    for (path, section) in [
        ("/gifts/plan", "aside"),
        ("/gifts/wishes", "gifts"),
        ("/gifts/people", "people"),
        ("/gifts/stash", "stash"),
        ("/gifts/stash", "yarns"),
        ("/gifts/records", "finished"),
    ] {
        let (_, rest) = all.split_once(&format!("<section id=\"{section}\"")).expect(section);
        let own = rest.split("</section>").next().expect("its end");
        assert!(own.contains(&format!("href=\"{path}")), "{section}: {own}");
    }
    assert!(page(&server, "/gifts?what=record&garment=tam").contains("See what it took"));
}

#[test]
fn lists_are_searched_sorted_and_filtered_by_their_addresses() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let rows = server.get("/api/v1/lists/stash").json();
    let rows = rows.as_array().expect("rows");
    let weight = |id: &str| {
        let row = rows.iter().find(|row| row["Remnant"] == id).expect(id);
        let weight = &row["Weight g"];
        let typed = || weight.as_str().and_then(|text| text.parse::<f64>().ok());
        weight.as_f64().or_else(typed).expect("a number")
    };
    let of = |path: &str| -> Vec<f64> {
        all_entries(&server, path).iter().map(|id| weight(id)).collect()
    };
    let heavy = of("/gifts/stash?sort=-weight");
    assert_eq!(heavy.len(), rows.len());
    assert!(heavy.windows(2).all(|two| two[0] >= two[1]), "{heavy:?}");
    let light = of("/gifts/stash?sort=weight");
    assert!(light.windows(2).all(|two| two[0] <= two[1]), "{light:?}");
    let text = page(&server, "/gifts/stash?f.yarn=slate");
    let own: BTreeSet<&str> = entries(&text).into_iter().collect();
    let slate = rows.iter().filter(|row| row["Yarn"] == "slate");
    let slate: BTreeSet<&str> = slate.map(|row| row["Remnant"].as_str().expect("an id")).collect();
    assert!(!slate.is_empty());
    assert_eq!(own, slate);
    // The form shows what is set, and the way to a change keeps it.
    assert!(text.contains("<option value=\"slate\" selected>"), "{text}");
    let first = slate.first().expect("one");
    assert!(text.contains(&format!("f.yarn=slate&edit={first}#e-{first}")), "{text}");
    let text = page(&server, "/gifts/wishes?q=ruan%20tam");
    assert!(entries(&text).contains(&"ruan-tam"), "{text}");
    assert!(!entries(&text).contains(&"jory-mittens"));
    let text = page(&server, "/gifts/wishes?sort=due");
    let wishes = server.get("/api/v1/lists/gifts").json();
    let due = |id: &str| {
        let row = wishes.as_array().expect("rows").iter().find(|row| row["Gift"] == id).expect(id);
        row["Due"].as_str().unwrap_or_default().to_owned()
    };
    let days: Vec<String> = entries(&text).into_iter().map(due).collect();
    let with = days.iter().take_while(|day| !day.is_empty()).count();
    assert!(with > 3 && days[with..].iter().all(String::is_empty), "{days:?}");
    assert!(days[..with].windows(2).all(|two| two[0] <= two[1]), "{days:?}");
    // What is like nothing says so, and the way back.
    let none = page(&server, "/gifts/people?q=nobody%20at%20all");
    assert!(entries(&none).is_empty() && none.contains("Nothing is like that."), "{none}");
    // Words of an address stay words.
    let odd = page(&server, "/gifts/stash?q=%3Cscript%3E&sort=%3Cb%3E&f.yarn=%3Ci%3E");
    assert!(!odd.contains("<script>") && !odd.contains("<b>") && !odd.contains("<i>"), "{odd}");
}

#[test]
fn an_entry_is_changed_in_its_place() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let change = |list: &str, id: &str, more: &[(&str, &str)], back: &str| {
        let own = [("what", "change"), ("list", list), ("id", id), ("back", back)];
        form(&server, &[&own[..], more].concat())
    };
    let back = "/gifts/stash?f.yarn=slate&sort=-weight";
    let sent = change("stash", "slate-1", &[("lot", "K9"), ("note", "")], back);
    assert_eq!(sent.status, StatusCode::SEE_OTHER, "{}", sent.text());
    let at = "/gifts/stash?sort=-weight&f.yarn=slate&did=change#e-slate-1";
    assert_eq!(sent.header(header::LOCATION), at);
    let shown = page(&server, at.split('#').next().expect("a path"));
    assert!(shown.contains("Changed.") && shown.contains("K9"), "{shown}");
    assert!(demo.text("stash.toml").contains("lot = \"K9\""), "{}", demo.text("stash.toml"));
    // A gift: blank fields are taken out, and what it may be is kept where it is several garments.
    let fields =
        [("garment", "mitt, cuff"), ("priority", "2"), ("due", ""), ("note", "in a hurry")];
    let sent = change("gifts", "morwen-mitts", &fields, "/gifts/wishes");
    assert_eq!(
        sent.header(header::LOCATION),
        "/gifts/wishes?did=change#e-morwen-mitts",
        "{}",
        sent.text()
    );
    let gifts = demo.toml("gifts.toml");
    let own = gifts["gift"].as_array().expect("a list").iter();
    let own = own.clone().find(|gift| gift["id"].as_str() == Some("morwen-mitts")).expect("there");
    assert_eq!(own["priority"].as_integer(), Some(2));
    assert_eq!(own["garment"].as_array().map(Vec::len), Some(2));
    assert!(own.get("due").is_none() && own.get("must").is_none(), "{own}");
    // What is wrong leaves the entry open, as it was typed.
    let wrong = change("gifts", "morwen-mitts", &[("priority", "seven")], "/gifts/wishes?q=morwen");
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    let text = wrong.text();
    assert!(text.contains("is no priority") && text.contains("value=\"seven\""), "{text}");
    assert_eq!(entries(text), ["morwen-mitts"], "the search is forgotten");
    // A page is gone back to only where it is one of ours.
    let away = change("stash", "slate-1", &[("lot", "K8")], "//evil.example/?q=x");
    assert_eq!(away.header(header::LOCATION), "/gifts/stash?q=x&did=change#e-slate-1");
}

#[test]
fn many_of_a_kind_are_one_row_with_their_number() {
    let demo = Demo::new();
    let more = "\n[[gift]]\nid = \"hats\"\ngarment = \"hat\"\ncount = 7\nsizes = \"women-m\"\n";
    let text = format!("{}{more}", demo.text("gifts.toml"));
    std::fs::write(demo.path.join("gifts.toml"), text).expect("written");
    let server = Server::of(&demo);
    let text = page(&server, "/gifts/wishes");
    assert!(entries(&text).contains(&"hats"), "{text}");
    assert!(!entries(&text).contains(&"hats-1"));
    let row = text.split("<li id=\"e-").find(|row| row.starts_with("hats\"")).expect("a row");
    assert!(row.contains("× 7") && row.contains("7 wished"), "{row}");
    // In a plan those that are made alike are one entry of the work.
    let (at, plan) = planned(&server, 4);
    let made = plan["gifts"].as_array().expect("gifts").iter();
    let hats =
        made.filter(|gift| gift["gift"].as_str().is_some_and(|id| id.starts_with("hats-"))).count();
    assert!(hats > 1, "{plan}");
    let text = page(&server, &at);
    let work = text.split("id=\"work\"").nth(1).and_then(|rest| rest.split("</section>").next());
    let rows = work.expect("the work").matches("<li value=").count();
    let all = plan["gifts"].as_array().expect("gifts").len();
    assert!(rows < all, "{rows} of {all}");
    assert!(text.contains(" × Close hat, ") && text.contains("all together"), "{text}");
}

#[test]
fn a_plan_is_a_shelf_that_empties_and_a_calendar() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let (at, plan) = planned(&server, 4);
    let text = page(&server, &at);
    let used: Vec<&Value> = plan["remnants"]
        .as_array()
        .expect("remnants")
        .iter()
        .filter(|own| own["left_grams"].as_f64() < own["had_grams"].as_f64())
        .collect();
    assert!(used.len() > 5, "{plan}");
    for ball in &used {
        let id = ball["remnant"].as_str().expect("an id");
        let (_, rest) = text.split_once(&format!("id=\"ball-{id}\">")).expect(id);
        let words = rest.split("</p>").next().expect("words");
        assert!(text.contains(&format!("aria-labelledby=\"ball-{id}\"")), "{id} has no words");
        assert!(
            words.starts_with(&format!("{:.1} g: ", ball["had_grams"].as_f64().expect("grams"))),
            "{words}"
        );
        // What goes to gifts and what is left is the ball.
        let grams = |text: &str| text.trim().split(' ').next().and_then(|g| g.parse::<f64>().ok());
        let to_gifts = words.split(": ").nth(1).expect("parts").split("; ");
        let sum: f64 = to_gifts.filter_map(grams).sum();
        let had = ball["had_grams"].as_f64().expect("grams");
        assert!((sum - had).abs() < 0.35, "{words}: {sum} of {had}");
    }
    // The hours of the weeks are those of the gifts.
    let weeks = text.split("id=\"weeks\"").nth(1).and_then(|rest| rest.split("</section>").next());
    let weeks = weeks.expect("the weeks");
    let told = weeks.split("<span class=\"faint\">").skip(1);
    let told: f64 = told
        .map(|rest| rest.split(" h<").next().and_then(|h| h.parse::<f64>().ok()).expect("hours"))
        .sum();
    let minutes = plan["gifts"].as_array().expect("gifts").iter();
    let minutes: f64 = minutes.map(|gift| gift["minutes"].as_f64().expect("minutes")).sum();
    let few = weeks.matches("<strong>2").count() as f64;
    assert!((told - minutes / 60.0).abs() <= 0.06 * few + 0.5, "{told} of {}", minutes / 60.0);
    assert!(weeks.contains("<strong>2026-09-01</strong>"), "{weeks}");
    // Worth is told in words; points are behind a fold, for whoever weighs them.
    let (open, folded) = text.split_once("<details><summary>In points").expect("points on demand");
    assert!(!open.contains("points"), "{open}");
    assert!(folded.contains("It is worth"), "{folded}");
    assert!(
        !text.contains("oddments plan") && !text.contains("--explain"),
        "a page names a command"
    );
}

/// Which sections are of one yarn or differ, and which gifts match, as `gifts change` writes it.
#[test]
fn what_is_of_one_yarn_is_said_on_the_gifts_own_form() {
    let by_hand = Demo::new();
    let demo = Demo::new();
    let server = Server::of(&demo);
    let own = [
        ("what", "change"),
        ("list", "gifts"),
        ("id", "jory-mittens"),
        ("back", "/gifts/wishes"),
        ("garment", "mitten"),
        ("priority", "5"),
        ("due", "2026-11-15"),
        ("must", "yes"),
    ];
    let change = |more: &[(&str, &str)]| form(&server, &[&own[..], more].concat());
    let opened = || page(&server, "/gifts/wishes?edit=jory-mittens");
    let field = |page: &str, name: &str| {
        let (_, rest) = page.split_once(&format!(" name=\"{name}\"")).expect("the field");
        let (_, rest) = rest.split_once("value=\"").expect("its value");
        rest.split('"').next().expect("its end").to_owned()
    };
    let text = opened();
    assert!(text.contains("It has main, contrast."), "{text}");
    for name in ["same", "contrast", "match"] {
        assert_eq!(field(&text, name), "", "{name}");
    }
    let said = [("contrast", "main, contrast"), ("match", "morwen-mitts")];
    let sent = change(&[&said[..], &[("any_lot", "yes")]].concat());
    assert_eq!(sent.status, StatusCode::SEE_OTHER, "{}", sent.text());
    let typed = ["--contrast", "main,contrast", "--match", "morwen-mitts"];
    let command = ["gifts", "change", "jory-mittens", "--any-lot"];
    let ran = by_hand.run(&[&command[..], &typed].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let (one, other) = (demo.toml("gifts.toml"), by_hand.toml("gifts.toml"));
    let entry = |gifts: &toml::Table| {
        let all = gifts["gift"].as_array().expect("a list");
        all.iter().find(|gift| gift["id"].as_str() == Some("jory-mittens")).cloned()
    };
    assert_eq!(entry(&one), entry(&other));
    let text = opened();
    assert_eq!(field(&text, "same"), "");
    assert_eq!(field(&text, "contrast"), "main, contrast");
    assert_eq!(field(&text, "match"), "morwen-mitts");
    assert!(text.contains("name=\"any_lot\" value=\"yes\" checked"), "{text}");
    // What is wrong is told, what was typed stays, and nothing is written.
    for (name, value, told) in [
        ("contrast", "main, contarst", "did you mean `contrast`?"),
        ("same", "main", "it takes two sections"),
        ("match", "morwen-mits", "morwen-mits"),
        ("match", "jory-mittens", "can't be made to match itself"),
    ] {
        let sent = change(&[(name, value)]);
        assert_eq!(sent.status, StatusCode::UNPROCESSABLE_ENTITY, "{name} {value}");
        let text = sent.text().replace("&#39;", "'").replace("&#96;", "`");
        assert!(text.contains(told), "{name} {value}: {text}");
        assert_eq!(field(&text, name), value);
        assert_eq!(demo.toml("gifts.toml"), one, "{name} {value}");
    }
    // A form that doesn't have them leaves them.
    assert_eq!(change(&[]).status, StatusCode::SEE_OTHER);
    assert_eq!(demo.toml("gifts.toml"), one);
    let one_yarn = [("contrast", ""), ("same", "main+contrast")];
    assert_eq!(change(&one_yarn).status, StatusCode::SEE_OTHER);
    assert_eq!(field(&opened(), "same"), "main, contrast");
    // Blank takes them out.
    let blank = [("same", ""), ("contrast", ""), ("match", ""), ("any_lot", "")];
    assert_eq!(change(&blank).status, StatusCode::SEE_OTHER);
    let out = entry(&demo.toml("gifts.toml")).expect("there");
    assert!(blank.iter().all(|(key, _)| out.get(*key).is_none()), "{out}");
}

#[test]
fn the_next_gift_is_one_click_from_the_machine_in_its_own_measures() {
    let demo = Demo::new();
    let changed = ["people", "change", "Ruan", "--measure", "head_girth=61 cm"];
    let ran = demo.run(&changed);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let server = Server::of(&demo);
    let (at, plan) = planned(&server, 4);
    let gifts = plan["gifts"].as_array().expect("gifts");
    let own = gifts.iter().find(|gift| gift["gift"] == "ruan-tam").expect("it must be made");
    let text = page(&server, &at);
    assert!(text.contains("Knit this now"), "{text}");
    let work = text.split("id=\"work\"").nth(1).expect("the work");
    let row = work.split("<li value=").find(|row| row.contains("ruan-tam")).expect("a row");
    let query = to_the_machine(row).to_owned();
    for part in ["garment=tam", "person=Ruan", "o.wedges=6", "ball=band%3Dslate"] {
        assert!(query.contains(part), "no {part} in {query}");
    }
    assert!(query.contains(&format!("machine={}", own["machine"].as_str().expect("a machine"))));
    assert!(query.contains(&format!("swatch_id={}", own["swatch"].as_str().expect("a swatch"))));
    // The same walk as by the measures themselves, and another than by the size.
    let walk = |query: &str| {
        let answer = server.get(&format!("/api/v1/walk?{query}"));
        assert_eq!(answer.status, StatusCode::OK, "{query}: {}", answer.text());
        answer.json()["stops"].clone()
    };
    let sized = query.replace("person=Ruan", "sizes=men-l");
    assert_ne!(walk(&query), walk(&sized), "the head that was measured counts for nothing");
    let machine = page(&server, &format!("/machine?{query}"));
    assert!(machine.contains("id=\"tick\""), "{machine}");
    assert!(machine.contains("Ruan"), "whom it is for is not told");
    // Once accepted, the lists lead there too.
    let id = at.rsplit('/').next().expect("an id");
    assert_eq!(form(&server, &[("what", "accept"), ("id", id)]).status, StatusCode::SEE_OTHER);
    assert!(page(&server, "/gifts").contains("Knit this now"));
    let wishes = page(&server, "/gifts/wishes?q=ruan-tam");
    let after = to_the_machine(&wishes);
    assert!(after.contains("person=Ruan") && after.contains("o.wedges=6"), "{after}");
    assert_eq!(walk(after), walk(&query));
    // What was begun comes before all else.
    let begin = [("what", "turn"), ("id", "ruan-tam"), ("to", "begin")];
    assert_eq!(form(&server, &begin).status, StatusCode::SEE_OTHER);
    assert!(to_the_machine(&page(&server, "/gifts/plan")).contains("person=Ruan"));
}

#[test]
fn a_person_of_the_workspace_is_asked_for_by_name() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let graded = |query: &str| server.get(&format!("/api/v1/grade?garment=tam&{query}"));
    let size = demo.toml("people.toml");
    let size = size["person"].as_array().expect("a list").iter();
    let size = size.clone().find(|own| own["name"].as_str() == Some("Kerensa")).expect("there");
    let size = size["size"].as_str().expect("a size");
    let (by_name, by_size) = (graded("person=Kerensa"), graded(&format!("sizes={size}")));
    assert_eq!(by_name.status, StatusCode::OK, "{}", by_name.text());
    assert_eq!(by_name.json()["sizes"].as_array().map(Vec::len), Some(1), "{}", by_name.text());
    assert_eq!(by_name.json()["sizes"], by_size.json()["sizes"]);
    // Sizes that are asked for go before.
    assert_eq!(
        graded("person=Kerensa&sizes=y4").json()["sizes"],
        graded("sizes=y4").json()["sizes"]
    );
    let nobody = problem(&graded("person=Kerenza"), "nothing");
    assert!(nobody.to_string().contains("did you mean `Kerensa`?"), "{nobody}");
    let without = Server::new().get("/api/v1/grade?garment=tam&person=Kerensa");
    problem(&without, "no-workspace");
}

#[test]
fn a_plan_of_nothing_is_not_offered_to_be_accepted() {
    let demo = Demo::empty();
    let server = Server::of(&demo);
    for path in ["/gifts", "/gifts/plan"] {
        let text = page(&server, path);
        assert!(text.contains("There is no yarn in the stash yet"), "{text}");
        assert!(text.contains("Nothing is wished for"), "{text}");
        assert!(!text.contains("Make a plan</button>"), "{text}");
    }
    for args in [
        &["people", "add", "Ebrel", "--size", "women-m"][..],
        &["gifts", "add", "--person", "Ebrel", "--garment", "tam"],
    ] {
        let ran = demo.run(args);
        assert_eq!(ran.code, Some(0), "{}", ran.err);
    }
    let server = Server::of(&demo);
    let (at, plan) = planned(&server, 2);
    assert_eq!(plan["gifts"], json!([]));
    let text = page(&server, &at);
    assert!(!text.contains("Accept"), "{text}");
    assert!(
        text.contains("There is no yarn in the stash yet")
            && text.contains("href=\"/gifts/stash\""),
        "{text}"
    );
    // Each empty list says what to do next.
    for (path, words) in [
        ("/gifts/stash", "Weigh what is left of a ball"),
        ("/gifts/records", "Nothing is recorded yet"),
    ] {
        assert!(page(&server, path).contains(words), "{path}");
    }
}

#[test]
fn a_group_reads_who_knits_what_and_what_travels() {
    let demo = Demo::new();
    let knitters = "[[knitter]]\nname = \"Wenna\"\nwhere = \"Skerry Light\"\nhours_a_week = 4\n\n\
         [[knitter]]\nname = \"Hedra\"\nwhere = \"Gull Rock\"\nhours_a_week = 3\n";
    std::fs::write(demo.path.join("knitters.toml"), knitters).expect("written");
    let ran = demo.run(&["stash", "change", "slate-1", "--where", "Gull Rock"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let server = Server::of(&demo);
    let (at, plan) = planned(&server, 4);
    let text = page(&server, &at);
    let weeks = text.split("id=\"weeks\"").nth(1).expect("the weeks");
    let gifts = plan["gifts"].as_array().expect("gifts");
    let knitters: BTreeSet<&str> =
        gifts.iter().filter_map(|gift| gift["knitter"].as_str()).collect();
    assert_eq!(knitters.len(), 2, "{plan}");
    for knitter in knitters {
        assert!(weeks.contains(&format!("<h3>{knitter}</h3>")), "{knitter} has no calendar");
    }
    assert!(text.contains("<h2>Who knits</h2>"), "{text}");
    let id = at.rsplit('/').next().expect("an id");
    assert_eq!(form(&server, &[("what", "accept"), ("id", id)]).status, StatusCode::SEE_OTHER);
    let decided = page(&server, "/gifts/plan");
    let each = decided.split("id=\"each\"").nth(1).and_then(|rest| rest.split("</section>").next());
    let each = each.expect("who knits what");
    for gift in gifts {
        let id = gift["gift"].as_str().expect("an id");
        assert!(each.contains(&format!("<li>{id}, set aside")), "{id} is nobody's: {each}");
    }
}

#[test]
fn an_address_that_leads_nowhere_says_where_to_go() {
    let server = Server::new();
    let asks = |path: &str| {
        let sent = request(Method::GET, path).header(header::ACCEPT, "text/html,*/*");
        server.send(sent.body(Body::empty()).expect("a request"))
    };
    let lost = asks("/gifts/stashh");
    assert_eq!(lost.status, StatusCode::NOT_FOUND);
    let text = lost.text();
    assert!(lost.header(header::CONTENT_TYPE).starts_with("text/html"), "{text}");
    assert!(text.contains("<h1>There is nothing here</h1>"), "{text}");
    assert!(text.contains("did you mean /gifts/stash?"), "{text}");
    for way in ["/grade", "/gifts", "/machine", "/garments"] {
        let ways = text.split("Where to go").nth(1).expect("ways");
        assert!(ways.contains(&format!("href=\"{way}\"")), "no way to {way}");
    }
    // Programs are told the same as data, whatever they say they accept.
    for path in ["/api/v1/nowhere", "/api/nothing"] {
        problem(&asks(path), "no-page");
    }
    problem(&server.get("/nowhere"), "no-page");
    let odd = asks("/%3Cscript%3E");
    assert!(!odd.text().contains("<script>"), "{}", odd.text());
}

#[test]
fn pages_name_no_commands_where_something_is_wrong() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let kept = form(&server, &[("what", "remove"), ("list", "people"), ("id", "Ruan")]);
    assert_eq!(kept.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", kept.text());
    assert!(kept.text().contains("Remove Ruan all the same"), "{}", kept.text());
    for command in ["oddments ", "--and-gifts", "--person"] {
        assert!(!kept.text().contains(&format!("`{command}")), "{}", kept.text());
    }
}

/// The address of the first finished piece that the page lists: the latest.
fn latest_record(server: &Server) -> String {
    let text = page(server, "/gifts/records");
    let (_, rest) = text.split_once("href=\"/gifts/records/").expect("a finished piece");
    format!("/gifts/records/{}", rest.split('"').next().expect("an address"))
}

fn sent(server: &Server, path: &str, fields: &[(&str, &str)]) -> Answer {
    let body = serde_urlencoded::to_string(fields).expect("fields");
    let sent = request(Method::POST, path)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
    server.send(sent.body(body.into()).expect("a request"))
}

/// The hidden fields of a page's first form that saves, as they are sent back.
fn hidden_fields(text: &str) -> Vec<(String, String)> {
    let (_, form) =
        text.split_once("<form method=\"post\" action=\"/gifts/records/").expect("a form");
    let form = form.split("</form>").next().expect("its end");
    let hidden = form.split("<input type=\"hidden\" name=\"").skip(1);
    hidden
        .map(|rest| {
            let mut parts = rest.split('"');
            let name = parts.next().expect("a name").to_owned();
            (name, parts.nth(1).expect("a value").to_owned())
        })
        .collect()
}

#[test]
fn a_finished_piece_that_was_noted_wrong_is_put_right_or_taken_away_and_either_is_taken_back() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let file = || std::fs::read_to_string(demo.path.join("records.toml")).expect("records");
    let before = file();
    let at = latest_record(&server);
    let text = page(&server, &at);
    assert!(text.contains("name=\"after.hat\" value=\"16\""), "{text}");
    let hidden = hidden_fields(&text);
    let with = |more: &[(&'static str, &'static str)]| {
        let own = hidden.iter().map(|(name, value)| (name.as_str(), value.as_str()));
        own.chain(more.iter().copied()).collect::<Vec<_>>()
    };
    // What can't be is said, and what was typed is still there.
    let wrong = sent(&server, &at, &with(&[("before.hat", "54"), ("after.hat", "sixteen")]));
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", wrong.text());
    assert!(wrong.text().contains("value=\"sixteen\""), "{}", wrong.text());
    let more = sent(&server, &at, &with(&[("before.hat", "54"), ("after.hat", "61")]));
    assert!(more.text().contains("took no yarn at all"), "{}", more.text());
    assert_eq!(file(), before);
    let right = with(&[("before.hat", "54"), ("after.hat", "14,5"), ("minutes", "210")]);
    let done = sent(&server, &at, &right);
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text());
    assert_eq!(done.header(header::LOCATION), "/gifts/records?did=change#records");
    let wanted = before.replace("after = \"16 g\"", "after = \"14.5 g\"");
    let wanted = wanted.replace("minutes = 200 ", "minutes = 210 ");
    assert_eq!(file(), wanted, "more than the weight and the minutes has changed");
    assert!(page(&server, "/gifts/records?did=change").contains("Take back: record change"));
    // The piece as it was is no more: whoever saves it now is told.
    let stale = sent(&server, &at, &right);
    assert_eq!(stale.status, StatusCode::NOT_FOUND, "{}", stale.text());
    let gone = latest_record(&server);
    let hidden = hidden_fields(&page(&server, &gone));
    let mut away: Vec<(&str, &str)> =
        hidden.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    away.retain(|(name, _)| *name != "what");
    away.push(("what", "remove"));
    assert_eq!(sent(&server, &gone, &away).status, StatusCode::SEE_OTHER);
    assert_eq!(file().matches("[[record]]").count(), before.matches("[[record]]").count() - 1);
    assert!(file().contains("y5-6") != before.contains("y5-6"), "another piece went");
    for _ in 0..2 {
        let text = page(&server, "/gifts/records");
        let (_, rest) =
            text.split_once("name=\"change\" value=\"").expect("something to take back");
        let change = rest.split('"').next().expect("a number");
        let undone = form(&server, &[("what", "undo"), ("change", change)]);
        assert_eq!(undone.status, StatusCode::SEE_OTHER, "{}", undone.text());
    }
    assert_eq!(file(), before, "it is not all as it was");
    assert_eq!(server.get("/gifts/records/none").status, StatusCode::NOT_FOUND);
}

/// Several yarns in a section and several sections of a ball, a bare number being grams.
#[test]
fn a_finished_piece_is_noted_with_all_its_balls() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let used = "band:slate-1=38; hat:slate-1=20,5\nhat:slate-2=64 g";
    let fields = [("what", "record"), ("garment", "tam"), ("size", "women-m"), ("used", used)];
    let look = form(&server, &fields);
    assert_eq!(look.status, StatusCode::OK, "{}", look.text());
    let text = look.text();
    assert!(text.contains("Before it is written"), "{text}");
    for (ball, after) in [("slate-1", "38.0"), ("slate-1", "20.5"), ("slate-2", "64.0")] {
        assert!(text.contains(&format!("<td>{ball}</td>")), "{ball}: {text}");
        assert!(text.contains(&format!("<td>{after}</td>")), "{after}: {text}");
    }
}

#[test]
fn people_and_their_measures_lead_to_each_other() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let people = page(&server, "/gifts/people?edit=Ruan");
    assert!(people.contains("href=\"/people\">Measures and likes</a>"), "{people}");
    assert!(people.contains("href=\"/people/Ruan\">All measures"), "{people}");
    let measures = page(&server, "/people");
    assert!(measures.contains("<h1>Measures and likes</h1>"), "{measures}");
    assert!(measures.contains("href=\"/gifts/people\">People</a>"), "{measures}");
    assert!(page(&server, "/remnants").contains("href=\"/gifts/stash\">Stash</a>"));
}
