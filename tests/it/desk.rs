//! The page at the machine: what changes is told apart, the way fits in few bytes, all of it without scripts, and
//! a finished piece is weighed, noted and its gift closed.

use axum::http::{Method, StatusCode, header};
use knit::size_run::Made;
use report::{ChangeOf, Walk, walk_folded, walk_json};
use serde_json::{Value, json};
use units::LengthUnit;

use crate::demo::Demo;
use crate::server::{Answer, Server, request};
use crate::support::{bench, demo, grade};

/// Every shipped garment in a small size and a large one.
fn each(mut check: impl FnMut(&str, &Made, &Walk, &Value)) {
    let swatch = demo("standard");
    let mut walked = 0;
    for id in bench().garment_ids() {
        let run = grade(&id, "standard", &swatch, "y5-6,men-xl", &[]).expect("graded");
        for (size, made) in run.good() {
            let walk = report::walk(&run, made, LengthUnit::Cm);
            let data = serde_json::from_str(&walk_json(&run, size, &walk)).expect("JSON");
            check(&format!("{id} {}", size.body.id), made, &walk, &data);
            walked += 1;
        }
    }
    assert!(walked > 25, "only {walked} walks");
}

/// Unfolds the way as the page does.
fn unfolded(folded: &Value) -> Vec<Value> {
    let sides = ["left", "right"];
    let at = |table: &str, list: &Value| -> Vec<Value> {
        let all = list.as_array().into_iter().flatten();
        all.map(|n| folded[table][n.as_u64().expect("a place") as usize].clone()).collect()
    };
    let flat = |value: &Value| -> Vec<i64> {
        value.as_array().into_iter().flatten().map(|n| n.as_i64().expect("a number")).collect()
    };
    let mut stops: Vec<Value> = Vec::new();
    let (mut spans, mut held, mut texts) = (json!([]), json!([]), [json!(null), json!(null)]);
    for entry in folded["stops"].as_array().expect("stops") {
        let times = entry.as_u64().unwrap_or(1);
        for _ in 0..times {
            let alike = entry.is_u64();
            if entry[2].is_array() {
                held = flat(&entry[2]).chunks(2).map(|ends| json!(ends)).collect();
            }
            let own = flat(&entry[1]);
            if own.len() > 2 {
                spans = own[2..].chunks(3).map(|span| json!(span)).collect();
            }
            let pass = alike || entry[1].is_array();
            let before = stops.last().cloned().unwrap_or(Value::Null);
            let (row, place) = (i64::from(pass), flat(&entry[4]));
            let after = |key: &str| before[key][1].as_i64().unwrap_or(0);
            let (piece, rows, counter, from, to) = match place.as_slice() {
                [piece, rows, done, counter, shown, from, to] => {
                    let piece = if *piece < 0 { json!(null) } else { json!(piece) };
                    (piece, [*rows, *done], [*counter, *shown], *from as usize, *to as usize)
                }
                _ => {
                    let from = usize::from(before["carriage"][1] == "right");
                    let (rows, counter) = (after("rows"), after("counter"));
                    let to = (from + row as usize) % 2;
                    let (rows, counter) = ([rows, rows + row], [counter, counter + row]);
                    (before["piece"].clone(), rows, counter, from, to)
                }
            };
            let more = match own.get(1) {
                Some(more) => *more,
                None => before["pass"]["more"].as_i64().unwrap_or(0) - 1,
            };
            if let Some(text) = own.first() {
                texts[from] = folded["passes"][*text as usize].clone();
            }
            let told = json!({ "text": texts[from], "more": more, "spans": spans });
            stops.push(json!({
                "piece": piece, "rows": rows, "counter": counter,
                "carriage": [sides[from], sides[to]],
                "deeds": at("deeds", &entry[0]), "changes": at("changes", &entry[3]),
                "pass": if pass { told } else { json!(null) }, "held": held,
            }));
        }
    }
    stops
}

#[test]
fn the_folded_way_is_the_way() {
    each(|name, _, walk, data| {
        let folded: Value = serde_json::from_str(&walk_folded(walk)).expect("JSON");
        assert_eq!(folded["rows"], data["rows"], "{name}");
        let stops = unfolded(&folded);
        let told = data["stops"].as_array().expect("stops");
        assert_eq!(stops.len(), told.len(), "{name}");
        for (at, (own, told)) in stops.iter().zip(told).enumerate() {
            for key in ["piece", "rows", "counter", "carriage", "pass", "held"] {
                assert_eq!(own[key], told[key], "{name}, stop {at}: {key}");
            }
            let deeds = told["deeds"].as_array().expect("deeds").iter();
            let deed = |deed: &Value| {
                let mut all = vec![deed["what"].clone(), deed["text"].clone()];
                let how = !deed["how"].is_null();
                all.extend((how || !deed["needles"].is_null()).then(|| deed["needles"].clone()));
                all.extend(how.then(|| deed["how"].clone()));
                Value::Array(all)
            };
            assert_eq!(own["deeds"], deeds.map(deed).collect::<Value>(), "{name}, stop {at}");
            let changes = told["changes"].as_array().expect("changes").iter();
            let changes: Value = changes.map(|own| json!([own["of"], own["text"]])).collect();
            assert_eq!(own["changes"], changes, "{name}, stop {at}");
        }
    });
}

/// The page and the way it goes without the server, of every garment in a large size.
#[test]
fn no_page_at_the_machine_is_large() {
    let server = Server::new();
    let mut seen = 0;
    for id in bench().garment_ids() {
        let query = format!("garment={id}&sizes=men-xl");
        let way = server.get(&format!("/machine/walk?{query}"));
        if way.status != StatusCode::OK {
            continue;
        }
        let page = server.get(&format!("/machine?{query}"));
        let bytes = page.bytes.len() + way.bytes.len();
        assert!(bytes < 60_000, "{id}: {} and {}", page.bytes.len(), way.bytes.len());
        seen += 1;
    }
    assert!(seen > 15, "only {seen} garments");
}

/// Told from the walk alone: what its words and places say has changed.
#[test]
fn every_change_is_told_and_nothing_else() {
    let (mut dials, mut carriages) = (0, 0);
    each(|name, made, walk, _| {
        let changes = |of: ChangeOf| {
            let all = walk.stops.iter().flat_map(|stop| &stop.changes);
            all.filter(move |change| change.of == of).count()
        };
        let finishing = usize::from(!made.garment.program.finishing.is_empty());
        assert_eq!(changes(ChangeOf::Piece), walk.pieces.len() - 1 + finishing, "{name}");
        let (mut dial, mut side) = (None::<String>, None);
        for (at, stop) in walk.stops.iter().enumerate() {
            let has = |of: ChangeOf| stop.changes.iter().any(|change| change.of == of);
            // "Dial 7." in the words of what is done by hand.
            for deed in &stop.deeds {
                let told = deed.text.split("Dial ").nth(1).and_then(|rest| rest.split(". ").next());
                let Some(told) = told.map(|told| told.trim_end_matches('.').to_owned()) else {
                    continue;
                };
                let other = dial.as_ref().is_some_and(|dial| *dial != told);
                assert_eq!(has(ChangeOf::Dial), other, "{name}, stop {at}: {told}");
                dials += usize::from(other);
                dial = Some(told);
            }
            if stop.piece.is_none() {
                continue;
            }
            let taken = side.is_some_and(|side| side != stop.carriage.0)
                || (stop.pass.is_none() && stop.carriage.0 != stop.carriage.1);
            assert!(!taken || has(ChangeOf::Carriage), "{name}, stop {at}: the carriage is moved");
            carriages += usize::from(taken);
            side = Some(stop.carriage.1);
        }
        let yarns = walk.stops.iter().flat_map(|stop| &stop.changes);
        let yarns: Vec<&str> = yarns
            .filter(|change| change.of == ChangeOf::Yarn)
            .map(|change| change.text.as_str())
            .collect();
        assert!(yarns.windows(2).all(|two| two[0] != two[1]), "{name}: {yarns:?}");
    });
    assert!(dials > 10 && carriages > 5, "{dials} dials, {carriages} carriages");
}

#[test]
fn another_colour_is_a_change_of_yarn() {
    let swatch = demo("standard");
    let run = grade("mitten", "standard", &swatch, "women-m", &["contrast_cuff=true"]);
    let run = run.expect("graded");
    let (_, made) = run.good().next().expect("a size");
    let walk = report::walk(&run, made, LengthUnit::Cm);
    let told = |section: &str| {
        let text = format!("Change yarn: {section}.");
        let all = walk.stops.iter().flat_map(|stop| &stop.changes);
        all.filter(|change| change.of == ChangeOf::Yarn && change.text == text).count()
    };
    // Off the cuff onto the hand, twice, and onto the second cuff.
    assert_eq!((told("Main yarn"), told("Contrast yarn")), (2, 1));
}

// ---- Told apart in grey

/// WCAG 2.1: relative luminance of a colour as the style sheet writes it.
fn luminance(colour: &str) -> f64 {
    let linear = |at: usize| {
        let of = u8::from_str_radix(&colour[at..at + 2], 16).expect("two digits");
        let part = f64::from(of) / 255.0;
        if part <= 0.04045 { part / 12.92 } else { ((part + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * linear(1) + 0.7152 * linear(3) + 0.0722 * linear(5)
}

fn contrast(one: &str, other: &str) -> f64 {
    let (one, other) = (luminance(one) + 0.05, luminance(other) + 0.05);
    one.max(other) / one.min(other)
}

/// Every value that the style sheet gives a name, in its order: light, dark by choice, dark by the device.
fn colours<'c>(css: &'c str, name: &str) -> Vec<&'c str> {
    let named = format!("{name}: ");
    css.split(&named).skip(1).map(|rest| &rest[..7]).collect()
}

#[test]
fn the_states_of_the_bed_differ_by_three_to_one_in_light_and_dark() {
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    let server = Server::new();
    let css = server.get("/assets/machine.css");
    let paper = server.get("/assets/paper.css");
    let states = ["--bed-rest", "--bed-held", "--bed-knits"].map(|name| colours(css.text(), name));
    let papers = colours(paper.text(), "--paper");
    for scheme in 0..3 {
        let [rest, held, knits] = states.each_ref().map(|all| all[scheme]);
        // The mark above the bed lies on the page itself.
        let pairs = [(rest, held), (rest, knits), (held, knits), (papers[scheme], knits)];
        for (one, other) in pairs {
            let ratio = contrast(one, other);
            assert!(ratio >= 3.0, "{one} and {other}: {ratio:.2}");
        }
    }
    assert!(states.iter().all(|all| all.len() == 3), "a scheme lacks a colour");
    // By the device or by choice, dark is the same.
    assert!(states.iter().all(|all| all[1] == all[2]));
}

// ---- Without scripts

fn link<'p>(page: &'p str, id: &str) -> (&'p str, &'p str) {
    let tag = page.split("<a ").find(|tag| tag.starts_with(&format!("id=\"{id}\""))).expect(id);
    let href = tag.split("href=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("href");
    let words = tag.split('>').nth(1).and_then(|rest| rest.split('<').next()).expect("words");
    (href, words)
}

fn followed(server: &Server, page: &Answer, id: &str) -> Answer {
    let (href, _) = link(page.text(), id);
    server.get(&href.replace("&#38;", "&").replace("&amp;", "&"))
}

#[test]
fn rows_in_one_go_are_taken_back_as_one_by_links() {
    let server = Server::new();
    let first = server.get("/machine?garment=sock&sizes=women-m&at=1");
    assert_eq!(link(first.text(), "rows").1, "Done all 20 rows, to 020");
    let after = followed(&server, &first, "rows");
    assert!(after.text().contains("step 21 of"));
    assert_eq!(link(after.text(), "back").1, "Take back 20 rows");
    let back = followed(&server, &after, "back");
    assert!(back.text().contains("step 1 of") && link(back.text(), "back").1 == "Back one");
    // A step on, there is no group to take back.
    let on = followed(&server, &after, "tick");
    assert_eq!(link(on.text(), "back").1, "Back one");
    // What changes stands above what is done.
    let change = after.text().split("id=\"changes\"").nth(1).expect("a banner");
    assert!(change.contains("class=\"of-dial\"") && change.contains("Dial 7."), "{change}");
    assert!(first.text().contains("aria-label=\"What changes here\" hidden"));
    // Behind the last step comes the scale.
    let last = server.get("/machine?garment=sock&sizes=women-m&at=100000");
    assert!(link(last.text(), "finish").0.starts_with("/machine/finish?garment=sock"));
}

/// A piece whose last step is done is to be weighed: the list of what is begun says so.
#[test]
fn what_is_done_leads_to_the_scale() {
    let server = Server::new();
    let query = "garment=cuff&sizes=women-m";
    let page = server.get(&format!("/machine?{query}"));
    let id = page.text().split("data-place=\"").nth(1).and_then(|rest| rest.split('"').next());
    let path = format!("/api/v1/places/{}", id.expect("an id"));
    for (stop, done) in [(71_u32, false), (72, true)] {
        let place = json!({ "query": query, "title": "Cuff", "stop": stop, "of": 72, "revision": stop - 71 });
        let put = server.send(crate::server::json_request(Method::PUT, &path, &place));
        assert_eq!(put.status, StatusCode::OK, "{}", put.text());
        let list = server.get("/machine");
        assert_eq!(list.text().contains("href=\"/machine/finish?garment=cuff"), done, "{stop}");
        let told = if done { "all 72 steps" } else { "71 of 72 steps" };
        assert!(list.text().contains(told), "{}", list.text());
    }
}

#[test]
fn the_page_goes_to_the_row_that_the_counter_shows() {
    let server = Server::new();
    let query = "/machine?garment=tam&sizes=women-m";
    let page = server.get(&format!("{query}&at=60&counter=33"));
    assert!(page.text().contains("class=\"figure\">033<"), "{}", page.text());
    assert!(page.text().contains("stands=hat%3A%2B33"), "{}", page.text());
    // A counter that the piece never shows leads nowhere, and so does one that is none.
    for counter in ["9999", "-3", "x"] {
        let page = server.get(&format!("{query}&at=60&counter={counter}"));
        assert!(page.text().contains("step 60 of"), "{counter}");
    }
    // The socks' second leg counts anew: the row of the piece in hand is meant.
    let sock = server.get("/machine?garment=sock&sizes=women-m&at=400&counter=10");
    assert!(sock.text().contains("Sock (2 of 2)"), "{}", sock.text());
}

#[test]
fn what_yarn_makes_is_a_page_that_says_what_the_interface_says() {
    let server = Server::new();
    let machine = server.get("/machine?garment=tam&sizes=women-m&o.wedges=6&at=60");
    assert!(machine.text().contains("/reach?garment=tam&#38;sizes=women-m&#38;o.wedges=6"));
    let query = "garment=tam&sizes=women-m&o.wedges=6&weight=34";
    let page = server.get(&format!("/reach?{query}"));
    let told = server.get(&format!("/api/v1/reach?{query}+g")).json();
    assert!(page.text().contains("What 34 g reaches"), "{}", page.text());
    let needs = told[0]["grams"].as_f64().or_else(|| told[0]["needs_g"].as_f64());
    let row = told.to_string();
    assert!(page.text().contains("Wedge tam") && row.contains("band"), "{needs:?} {row}");
    // Nothing is asked, and nothing worked out.
    let blank = server.get("/reach");
    assert!(blank.status == StatusCode::OK && !blank.text().contains("<table"));
    // Options are those of one garment: without it they are left out.
    let any = server.get("/reach?weight=34&sizes=women-m&garment=&o.wedges=6");
    assert!(any.text().contains("<table") && !any.text().contains("class=\"fault"));
    let wrong = server.get("/reach?weight=heavy");
    assert!(wrong.text().contains("class=\"fault"), "{}", wrong.text());
}

// ---- Weighed, noted and closed

const PIECE: &str = "garment=tam&sizes=men-l&o.wedges=6";

fn sent(server: &Server, fields: &[(&str, &str)]) -> Answer {
    let mut all = vec![("piece_of", PIECE)];
    all.extend(fields);
    let body = serde_urlencoded::to_string(all).expect("fields");
    let sent = request(Method::POST, "/machine/finish")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
    server.send(sent.body(body.into()).expect("a request"))
}

/// The fields of the form that says that it is right.
fn fields(page: &str) -> Vec<(String, String)> {
    let look = page.split("id=\"look\"").nth(1).and_then(|rest| rest.split("</form>").next());
    let inputs = look.expect("a look").split("<input type=\"hidden\" name=\"").skip(1);
    let field = |text: &str| {
        let mut parts = text.split('"');
        let (name, value) = (parts.next()?, parts.nth(1)?);
        Some((name.to_owned(), value.replace("&#38;", "&").replace("&amp;", "&")))
    };
    inputs.filter_map(field).collect()
}

#[test]
fn a_finished_piece_is_weighed_noted_and_its_gift_closed() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let before = demo.text("records.toml");
    let page = server.get(&format!("/machine/finish?{PIECE}"));
    assert!(page.text().contains("<legend>Band</legend>") && page.text().contains("slate-2"));
    let weighed = [
        ("section.1", "band"),
        ("ball.1", "slate-1"),
        ("left.1", "35"),
        ("section.4", "hat"),
        ("ball.4", "slate-2"),
        ("left.4", "26,5"),
        ("section.5", "hat"),
        ("ball.5", ""),
        ("left.5", ""),
        ("gift", "ruan-tam"),
        ("minutes", "214"),
    ];
    // It is looked at, and nothing is written.
    let look = sent(&server, &weighed);
    assert_eq!(look.status, StatusCode::OK, "{}", look.text());
    assert!(look.text().contains("Before it is written"), "{}", look.text());
    assert!(look.text().contains("ruan-tam is done"), "{}", look.text());
    assert_eq!(demo.text("records.toml"), before);
    let right = fields(look.text());
    let right: Vec<(&str, &str)> = right.iter().map(|(k, v)| (&**k, &**v)).collect();
    let right: Vec<(&str, &str)> = right.into_iter().filter(|(k, _)| *k != "piece_of").collect();
    let done = sent(&server, &right);
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text());
    let to = server.get(done.header(header::LOCATION));
    assert!(to.text().contains("Recorded: ") && to.text().contains("The gift ruan-tam is done."));
    // As knitted: the options go with it, which what is learnt rests on.
    let records = demo.toml("records.toml");
    let last = records["record"].as_array().and_then(|all| all.last()).expect("a record");
    assert_eq!(last["options"]["wedges"].as_integer(), Some(6), "{last}");
    assert_eq!(last["minutes"].as_integer(), Some(214));
    let stash = demo.text("stash.toml");
    assert!(stash.contains("26.5 g") && stash.contains("35 g"), "{stash}");
    // Sent twice, it is noted once.
    let noted = demo.text("records.toml");
    let again = sent(&server, &right);
    assert!(server.get(again.header(header::LOCATION)).text().contains("Nothing is done twice"));
    assert_eq!(demo.text("records.toml"), noted);
    // By the command it is the same record.
    let by_hand = Demo::new();
    let ran = by_hand.run(&[
        "record",
        "tam",
        "--size",
        "men-l",
        "--set",
        "wedges=6",
        "--minutes",
        "214",
        "--gift",
        "ruan-tam",
        "--used",
        "band:slate-1=35 g",
        "--used",
        "hat:slate-2=26.5 g",
    ]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert_eq!(by_hand.text("records.toml"), noted);
    assert_eq!(by_hand.text("stash.toml"), stash);
    assert_eq!(by_hand.text("gifts.toml"), demo.text("gifts.toml"));
}

#[test]
fn what_is_wrong_at_the_scale_is_said_and_what_was_typed_is_kept() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let before = demo.text("records.toml");
    let ball = ("ball.1", "slate-2");
    for (fields, fault) in [
        (vec![ball], "what does slate-2 weigh now?"),
        (vec![("left.1", "12")], "which ball of hat weighs 12?"),
        (vec![ball, ("left.1", "900")], "can&#39;t weigh 900 g now"),
        (vec![ball, ("left.1", "some")], "some"),
        (vec![("ball.1", "nowhere-9"), ("left.1", "1")], "nowhere-9"),
        (vec![ball, ("left.1", "12"), ("minutes", "long")], "long"),
        (vec![ball, ("left.1", "12"), ("gift", "nobody")], "nobody"),
        (vec![], "nothing was weighed"),
    ] {
        let mut all = vec![("section.1", "hat"), ("note", "by the lamp")];
        all.extend(fields);
        let answer = sent(&server, &all);
        assert!(answer.status.is_client_error(), "{all:?}: {}", answer.text());
        assert!(answer.text().contains(fault), "{all:?}: {}", answer.text());
        assert!(answer.text().contains("value=\"by the lamp\""), "{all:?}");
    }
    assert_eq!(demo.text("records.toml"), before);
}

#[test]
fn the_balls_set_aside_for_its_gift_are_there_to_be_weighed() {
    let demo = Demo::new();
    std::fs::write(
        demo.path.join("plan.toml"),
        "[[reservation]]\ngift = \"ruan-tam\"\nsection = \"hat\"\nremnant = \"slate-2\"\nweight = \"46 g\"\n",
    )
    .expect("written");
    let set = demo.run(&["gifts", "list"]);
    assert_eq!(set.code, Some(0), "{}", set.err);
    let server = Server::of(&demo);
    // Of all tams for someone of this size it is the one whose yarn is set aside.
    let page = server.get(&format!("/machine/finish?{PIECE}"));
    assert!(page.text().contains("value=\"ruan-tam\" selected"), "{}", page.text());
    assert!(page.text().contains("value=\"slate-2\" list=\"balls\""), "{}", page.text());
}

#[test]
fn without_a_workspace_it_is_said_how_to_begin_one() {
    let server = Server::new();
    let page = server.get(&format!("/machine/finish?{PIECE}"));
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.text().contains("oddments init skerry"), "{}", page.text());
    assert!(!page.text().contains("<form method=\"post\" action=\"/machine/finish\""));
    let refused = sent(&server, &[("section.1", "hat"), ("ball.1", "slate-1"), ("left.1", "3")]);
    assert_eq!(refused.status, StatusCode::NOT_FOUND, "{}", refused.text());
}

/// Made to measure at the command as at a gift: by what was measured, and by the size for the rest.
#[test]
fn someone_of_the_workspace_is_made_to_measure_by_name() {
    let demo = Demo::new();
    let asked = |args: &[&str]| {
        let ran = demo.run(&[&["grade", "sock-flat", "--format", "json"][..], args].concat());
        assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.err);
        let run: Value = serde_json::from_str(&ran.out).expect("JSON");
        run["sizes"][0].clone()
    };
    // His foot was measured; its girth is that of his size.
    let (ruan, table) = (asked(&["--person", "Ruan"]), asked(&["--sizes", "men-l"]));
    assert_eq!(ruan["label"], "Ruan");
    let body = |size: &Value, name: &str| size["body"][name].as_f64().expect("a measure");
    assert_eq!(body(&ruan, "foot_length"), 275.0);
    assert_ne!(body(&table, "foot_length"), 275.0);
    assert_eq!(body(&ruan, "foot_girth"), body(&table, "foot_girth"));
    // Half-way too.
    let carried =
        ["carry-on", "tam", "--person", "Ruan", "--at", "hat:100", "--now", "plain=+2%x+0%"];
    assert_eq!(demo.run(&carried).code, Some(0));
    for (wrong, told) in [
        (&["--person", "Ruann"][..], "did you mean `Ruan`?"),
        (&["--person", "Ruan", "--sizes", "y4"], "cannot be used with"),
        (&["--person", "Ruan", "--measure", "head_girth=56 cm"], "cannot be used with"),
    ] {
        let ran = demo.run(&[&["grade", "tam"][..], wrong].concat());
        assert!(ran.code != Some(0) && ran.err.contains(told), "{wrong:?}: {}", ran.err);
    }
}
