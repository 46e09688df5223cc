//! The pages that add and change what a workspace holds, and the way from an empty one to the first row.

use axum::body::Body;
use axum::http::{Method, StatusCode, header};

use crate::demo::Demo;
use crate::server::{Answer, Server, request};

fn post(server: &Server, path: &str, fields: &[(&str, &str)]) -> Answer {
    let body = serde_urlencoded::to_string(fields).expect("fields");
    let sent = request(Method::POST, path)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
    server.send(sent.body(body.into()).expect("a request"))
}

/// Sent, done, and led on to there.
fn goes(server: &Server, path: &str, fields: &[(&str, &str)], to: &str) {
    let answer = post(server, path, fields);
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{path}: {}", answer.text());
    assert_eq!(answer.header(header::LOCATION), to, "{path}");
}

/// The value of a hidden field of a page.
fn hidden(page: &Answer, name: &str) -> String {
    let (_, rest) = page
        .text()
        .split_once(&format!("name=\"{name}\" value=\""))
        .unwrap_or_else(|| panic!("no field {name}"));
    rest.split('"').next().expect("a value").to_owned()
}

/// The part of a page from one text to the next other.
fn between<'a>(page: &'a Answer, from: &str, to: &str) -> &'a str {
    let (_, rest) = page.text().split_once(from).unwrap_or_else(|| panic!("no {from}"));
    rest.split(to).next().expect("a part")
}

fn next_step(page: &Answer) -> &str {
    let step = between(page, "aria-current=\"step\"", "</li>");
    step.split("<h2>").nth(1).expect("a heading").split(" <span").next().expect("a title")
}

const YARN: [(&str, &str); 8] = [
    ("what", "save"),
    ("back", "start"),
    ("own", "dulse"),
    ("f.name", "Dulse"),
    ("f.yarn", "400 m/100 g"),
    ("c.name", "dulse"),
    ("c.shade", "#6b2f3a"),
    ("c.length", ""),
];

const SWATCH: [(&str, &str); 11] = [
    ("back", "start"),
    ("id", "dulse-plain"),
    ("of_yarn", "dulse"),
    ("machine", "standard"),
    ("yarn", "400 m/100 g"),
    ("plain.stitches", "40"),
    ("plain.widths", "13,4 13,5 13,4"),
    ("plain.rows", "60"),
    ("plain.heights", "14,2; 14,3; 14,3"),
    ("plain.dial", "7"),
    ("plain.state", "washed"),
];

#[test]
fn from_an_empty_workspace_to_the_machine_step_by_step() {
    let demo = Demo::empty();
    let server = Server::of(&demo);
    let first = server.get("/");
    assert_eq!(first.header(header::LOCATION), "/start");
    assert_eq!(next_step(&server.get("/start")), "Yarn");
    goes(&server, "/new/yarn", &YARN, "/start?did=save");
    let page = server.get("/start?did=save");
    assert!(page.text().contains("Dulse: 400 m in 100 g (250 tex), dulse"), "{}", page.text());
    assert_eq!(next_step(&page), "Swatch");
    // The way to the swatch knows the yarn.
    let at = between(&page, "href=\"/swatch?", "\"").replace("&#38;", "&");
    let swatch = server.get(&format!("/swatch?{at}"));
    assert!(swatch.text().contains("value=\"400 m/100 g\""), "{}", swatch.text());
    assert!(swatch.text().contains("<option value=\"dulse\" selected>"), "{}", swatch.text());
    goes(&server, "/swatch/save", &SWATCH, "/start?did=save");
    let page = server.get("/start");
    assert!(page.text().contains("29.8 stitches and 42.1 rows to 10 cm"), "{}", page.text());
    assert_eq!(next_step(&page), "Remnant");
    let remnant = [("what", "save"), ("back", "start"), ("f.yarn", "dulse"), ("f.weight", "78,5")];
    goes(&server, "/new/remnant", &remnant, "/start?did=save");
    let page = server.get("/start");
    assert!(page.text().contains("78 g in 1 ball, about 314 m"), "{}", page.text());
    assert_eq!(next_step(&page), "Person");
    let person = [("what", "save"), ("back", "start"), ("own", "Wenna"), ("f.size", "women-m")];
    goes(&server, "/new/person", &person, "/start?did=save");
    let page = server.get("/start");
    assert!(page.text().contains("Wenna: Women M"), "{}", page.text());
    assert_eq!(next_step(&page), "Garment");
    goes(&server, "/start", &[("garment", "mitten"), ("person", "Wenna")], "/start?did=add");
    let page = server.get("/start");
    assert!(page.text().contains("for Wenna: "), "{}", page.text());
    assert!(page.text().contains("g; the stash has 78 g as thick"), "{}", page.text());
    assert_eq!(next_step(&page), "Knit");
    let at = between(&page, "href=\"/machine?", "\"").replace("&#38;", "&");
    let machine = server.get(&format!("/machine?{at}"));
    assert_eq!(machine.status, StatusCode::OK, "{}", machine.text());
    assert!(at.contains("swatch_id=dulse-plain") && at.contains("sizes=women-m"), "{at}");
    // Whoever has begun finds the grading first.
    assert_eq!(server.get("/").header(header::LOCATION), "/grade");
}

#[test]
fn forms_write_what_the_commands_write() {
    let (by_hand, served) = (Demo::empty(), Demo::empty());
    let server = Server::of(&served);
    goes(&server, "/new/yarn", &YARN, "/start?did=save");
    by_hand.run(&[
        "yarn",
        "add",
        "dulse",
        "--name",
        "Dulse",
        "--yarn",
        "400 m/100 g",
        "--colour",
        "dulse #6b2f3a",
    ]);
    assert_eq!(served.text("yarns/dulse.toml"), by_hand.text("yarns/dulse.toml"));
    let person = [
        ("what", "save"),
        ("own", "Jenna"),
        ("f.size", "women-m"),
        ("f.head_girth", "56,5"),
        ("f.wash", "machine"),
        ("f.likes.colours", "blue"),
        ("f.likes.colours", "grey"),
        ("f.avoid.fibres", "mohair"),
    ];
    goes(&server, "/new/person", &person, "/people?did=save");
    by_hand.run(&[
        "people",
        "add",
        "Jenna",
        "--size",
        "women-m",
        "--wash",
        "machine",
        "--measure",
        "head_girth=56,5 cm",
        "--likes-colour",
        "blue",
        "--likes-colour",
        "grey",
        "--avoids-fibre",
        "mohair",
    ]);
    let (own, others) = (served.toml("people.toml"), by_hand.toml("people.toml"));
    assert_eq!(own, others);
    let knitter = [
        ("what", "save"),
        ("own", "Wenna"),
        ("f.machines", "standard"),
        ("f.machines", "mid"),
        ("f.hours_a_week", "6,5"),
        ("f.where", "Skerry Light"),
    ];
    goes(&server, "/new/knitter", &knitter, "/knitters?did=save");
    by_hand.run(&[
        "knitters",
        "add",
        "Wenna",
        "--machine",
        "standard",
        "--machine",
        "mid",
        "--hours-a-week",
        "6,5",
        "--where",
        "Skerry Light",
    ]);
    assert_eq!(served.toml("knitters.toml"), by_hand.toml("knitters.toml"));
    goes(&server, "/swatch/save", &SWATCH[1..], "/swatches?did=save");
    by_hand.run(&[
        "swatch",
        "add",
        "dulse-plain",
        "--machine",
        "standard",
        "--yarn",
        "400 m/100 g",
        "--state",
        "washed",
        "--dial",
        "7",
        "--stitches",
        "40",
        "--widths",
        "13,4 cm 13,5 cm 13,4 cm",
        "--rows",
        "60",
        "--heights",
        "14,2 cm; 14,3 cm; 14,3 cm",
    ]);
    assert_eq!(served.toml("swatches/dulse-plain.toml"), by_hand.toml("swatches/dulse-plain.toml"));
    assert_eq!(served.toml("yarns/dulse.toml")["swatches"][0].as_str(), Some("dulse-plain"));
    // One change is one step back, the yarn's part of it included.
    let page = server.get("/swatches");
    let back = [("what", "undo"), ("change", &*hidden(&page, "change"))];
    goes(&server, "/swatches", &back, "/swatches?did=undo");
    assert!(!served.path.join("swatches/dulse-plain.toml").exists());
    assert!(!served.toml("yarns/dulse.toml").contains_key("swatches"));
}

/// A form's page, what is typed, the field that is wrong and what is said of it.
type Typed<'a> = (&'a str, &'a [(&'a str, &'a str)], &'a str, &'a str);

#[test]
fn what_is_wrong_is_told_at_its_field_and_nothing_typed_is_lost() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let table: &[Typed<'_>] = &[
        (
            "/new/yarn",
            &[
                ("own", "k"),
                ("f.yarn", "thick"),
                ("c.name", "k"),
                ("c.shade", "#111111"),
                ("c.length", ""),
            ],
            "f-yarn",
            "not a yarn count",
        ),
        (
            "/new/yarn",
            &[
                ("own", "k"),
                ("f.yarn", "1,400 m/100 g"),
                ("c.name", "k"),
                ("c.shade", "#111111"),
                ("c.length", ""),
            ],
            "f-yarn",
            "part thousands or decimals",
        ),
        (
            "/new/yarn",
            &[
                ("own", "Not An Id"),
                ("f.yarn", "400 m/100 g"),
                ("c.name", "k"),
                ("c.shade", "#111111"),
                ("c.length", ""),
            ],
            "own",
            "can&#39;t be an id",
        ),
        (
            "/new/yarn",
            &[
                ("own", "tide"),
                ("f.yarn", "400 m/100 g"),
                ("c.name", "k"),
                ("c.shade", "#111111"),
                ("c.length", ""),
            ],
            "own",
            "already",
        ),
        (
            "/new/yarn",
            &[
                ("own", "k"),
                ("f.yarn", "400 m/100 g"),
                ("f.fibres", "75 % wool"),
                ("c.name", "k"),
                ("c.shade", "#111111"),
                ("c.length", ""),
            ],
            "f-fibres",
            "add up to 75",
        ),
        (
            "/new/yarn",
            &[("own", "k"), ("f.yarn", "400 m/100 g"), ("f.ball_g", "fifty")],
            "f-ball_g",
            "not a number",
        ),
        (
            "/new/remnant",
            &[("f.yarn", "tide"), ("f.weight", "12,500")],
            "f-weight",
            "part thousands or decimals",
        ),
        ("/new/remnant", &[("f.yarn", "tide"), ("f.weight", "")], "f-weight", "nothing is typed"),
        ("/new/person", &[("own", "Kerra")], "f-size", "how large this person is"),
        ("/new/person", &[("own", "Ruan"), ("f.size", "women-m")], "own", "Ruan"),
        (
            "/new/person",
            &[("own", "Kerra"), ("f.head_girth", "wide")],
            "f-head_girth",
            "no number in front",
        ),
        (
            "/new/knitter",
            &[("own", "Kerra"), ("f.hours_a_week", "200")],
            "f-hours_a_week",
            "out of range",
        ),
        ("/settings", &[("f.scale_step", "light")], "f-scale_step", "no number in front"),
        ("/settings", &[("f.most_joins", "2,5")], "f-most_joins", "not a whole number"),
    ];
    let before: Vec<String> =
        ["people.toml", "stash.toml", "oddments.toml"].map(|file| demo.text(file)).into();
    for (path, fields, id, told) in table {
        let mut all = vec![("what", "save"), ("f.note", "<i>kept</i>")];
        all.extend_from_slice(fields);
        let answer = post(&server, path, &all);
        assert!(answer.status.is_client_error(), "{path} {fields:?}: {}", answer.text());
        let at = format!("id=\"{id}-wrong\"");
        let said = between(&answer, &at, "</div>");
        assert!(said.contains(told), "{path} {id}: {said}");
        assert!(
            answer.text().contains(&format!("<a href=\"#{id}\">")),
            "{path} {id}: no way to it"
        );
        for (name, value) in
            fields.iter().filter(|(name, value)| !value.is_empty() && *name != "c.shade")
        {
            let kept = answer.text().contains(&format!("value=\"{value}\""));
            assert!(kept, "{path}: {name} is lost: {}", answer.text());
        }
        assert!(!answer.text().contains("<i>kept"), "{path}");
    }
    let after: Vec<String> =
        ["people.toml", "stash.toml", "oddments.toml"].map(|file| demo.text(file)).into();
    assert_eq!(before, after);
    assert!(!demo.path.join("yarns/k.toml").exists());
    // The colours of a yarn have a place of their own.
    let none =
        post(&server, "/new/yarn", &[("what", "save"), ("own", "k"), ("f.yarn", "400 m/100 g")]);
    assert!(between(&none, "id=\"c-wrong\"", "</div>").contains("a yarn has a colour"));
}

#[test]
fn an_entry_is_changed_renamed_removed_and_brought_back() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let page = server.get("/people/Morwen");
    assert_eq!(page.status, StatusCode::OK, "{}", page.text());
    assert!(page.text().contains("value=\"mohair\" checked"), "{}", page.text());
    let tag = hidden(&page, "tag");
    let sent = [
        ("what", "save"),
        ("tag", tag.as_str()),
        ("own", "Morwenna"),
        ("f.size", "women-m"),
        ("f.hand_girth", "19"),
        ("f.avoid.colours", "white"),
        ("f.note", ""),
    ];
    // What was looked at is no longer so: nothing is written, and what was typed stays.
    demo.run(&["people", "change", "Morwen", "--note", "knits by night"]);
    let stale = post(&server, "/people/Morwen", &sent);
    assert_eq!(stale.status, StatusCode::CONFLICT, "{}", stale.text());
    assert!(stale.text().contains("value=\"Morwenna\""), "{}", stale.text());
    let tag = hidden(&server.get("/people/Morwen"), "tag");
    let mut fresh = sent;
    fresh[1].1 = &tag;
    let done = post(&server, "/people/Morwen", &fresh);
    assert!(
        done.status == StatusCode::SEE_OTHER || done.status == StatusCode::OK,
        "{}",
        done.text()
    );
    let people = demo.toml("people.toml");
    let all = people["person"].as_array().expect("people");
    let own = all.iter().find(|own| own["name"].as_str() == Some("Morwenna")).expect("renamed");
    assert_eq!(own["hand_girth"].as_str(), Some("19 cm"));
    assert!(own.get("likes").is_none_or(|likes| likes.get("garments").is_none()), "{own}");
    assert!(own["avoid"].get("fibres").is_none() && own.get("note").is_none(), "{own}");
    assert!(!demo.text("gifts.toml").contains("person = \"Morwen\"\n"), "a wish was left behind");
    // Someone with wishes goes only with them.
    let kept = post(&server, "/people/Ruan", &[("what", "remove")]);
    assert!(kept.status.is_client_error(), "{}", kept.text());
    assert!(kept.text().contains("Remove Ruan all the same"), "{}", kept.text());
    let gone = post(&server, "/people/Ruan", &[("what", "remove"), ("dependents", "yes")]);
    assert!(
        gone.status == StatusCode::SEE_OTHER || gone.status == StatusCode::OK,
        "{}",
        gone.text()
    );
    assert_eq!(server.get("/people/Ruan").status, StatusCode::NOT_FOUND);
    let list = server.get("/people?did=remove");
    assert!(
        list.text().contains("Removed.") && list.text().contains("Take back: people remove"),
        "{}",
        list.text()
    );
    goes(&server, "/people", &[("what", "undo")], "/people?did=undo");
    assert_eq!(server.get("/people/Ruan").status, StatusCode::OK);
    assert!(!server.get("/people?did=%3Cscript%3E").text().contains("did=<script"));
    // Saved as it was, it is not written.
    let tag = hidden(&server.get("/yarns/tide"), "tag");
    let colours: Vec<(String, String, String)> = demo.toml("yarns/tide.toml")["colour"]
        .as_array()
        .expect("colours")
        .iter()
        .map(|own| {
            let text = |key: &str| own[key].as_str().unwrap_or_default().to_owned();
            (
                text("name"),
                text("shade"),
                own.get("length").map_or(String::new(), |_| text("length")),
            )
        })
        .collect();
    let before = demo.text("yarns/tide.toml");
    let yarn = demo.toml("yarns/tide.toml");
    let text =
        |key: &str| yarn.get(key).and_then(toml::Value::as_str).unwrap_or_default().to_owned();
    let number = |key: &str| yarn.get(key).map_or(String::new(), ToString::to_string);
    let mut sent: Vec<(&str, String)> = vec![
        ("what", "save".into()),
        ("tag", tag),
        ("own", "tide".into()),
        ("f.name", text("name")),
        ("f.yarn", text("yarn")),
        ("f.fibres", text("fibres")),
        ("f.care", text("care")),
        ("f.class", number("class")),
        ("f.repeat", number("repeat")),
        ("f.reserve_g", number("reserve_g")),
        ("f.ball_g", number("ball_g")),
        ("f.price", number("price")),
    ];
    for swatch in yarn.get("swatches").and_then(toml::Value::as_array).into_iter().flatten() {
        sent.push(("f.swatches", swatch.as_str().expect("an id").into()));
    }
    for (name, shade, length) in colours {
        sent.extend([("c.name", name), ("c.shade", shade), ("c.length", length)]);
    }
    let sent: Vec<(&str, &str)> = sent.iter().map(|(key, text)| (*key, text.as_str())).collect();
    goes(&server, "/yarns/tide", &sent, "/yarns?did=nothing");
    assert_eq!(demo.text("yarns/tide.toml"), before);
}

#[test]
fn a_yarn_without_a_short_name_is_called_as_its_name() {
    let demo = Demo::empty();
    let server = Server::of(&demo);
    let mut yarn = YARN;
    yarn[2] = ("own", "");
    yarn[3] = ("f.name", "Tide Table");
    goes(&server, "/new/yarn", &yarn, "/start?did=save");
    goes(&server, "/new/yarn", &yarn, "/start?did=save");
    for id in ["tide-table", "tide-table-2"] {
        assert_eq!(demo.toml(&format!("yarns/{id}.toml"))["name"].as_str(), Some("Tide Table"));
    }
}

#[test]
fn settings_are_set_and_taken_out_again() {
    let demo = Demo::empty();
    let server = Server::of(&demo);
    let set = [
        ("what", "save"),
        ("f.units", "in"),
        ("f.machine", "mid"),
        ("f.hours_a_week", "7,5"),
        ("f.risk", "2,5 %"),
        ("f.scale_step", "0,1"),
        ("f.weights.drib", "4"),
    ];
    goes(&server, "/settings", &set, "/settings?did=save");
    let settings = demo.toml("oddments.toml");
    assert_eq!(settings["units"].as_str(), Some("in"));
    assert_eq!(settings["hours_a_week"].as_float(), Some(7.5));
    assert_eq!(settings["scale_step"].as_str(), Some("0,1 g"));
    assert_eq!(settings["weights"]["drib"].as_integer(), Some(4));
    let page = server.get("/settings?did=save");
    assert!(page.text().contains("Take back: settings"), "{}", page.text());
    assert!(page.text().contains("<option value=\"mid\" selected>"), "{}", page.text());
    goes(&server, "/settings", &[("what", "save"), ("f.units", "in")], "/settings?did=save");
    assert!(!demo.toml("oddments.toml").contains_key("machine"));
    goes(&server, "/settings", &[("what", "undo")], "/settings?did=undo");
    assert_eq!(demo.toml("oddments.toml")["machine"].as_str(), Some("mid"));
}

#[test]
fn a_swatch_is_read_with_commas_and_a_doubtful_one_is_asked_about() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let query = |widths: &str| {
        let fields = [
            ("yarn", "400 m/100 g"),
            ("plain.stitches", "40"),
            ("plain.widths", widths),
            ("plain.rows", "60"),
            ("plain.heights", "14,2"),
        ];
        serde_urlencoded::to_string(fields).expect("a query")
    };
    // 40 stitches over 13.4 cm; as two readings they were 65 to 10 cm.
    let one = server.get(&format!("/swatch?{}", query("13,4")));
    assert!(one.text().contains("<td>29.9 ± "), "{}", one.text());
    for doubtful in ["13,4,12", "13,14"] {
        let asked = server.get(&format!("/swatch?{}", query(doubtful)));
        assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(asked.text().contains(&format!("value=\"{doubtful}\"")), "{}", asked.text());
        assert!(asked.text().contains("widths, plain swatch"), "{}", asked.text());
        let api = server.get(&format!("/api/v1/grade?garment=tam&{}", query(doubtful)));
        assert_eq!(api.json()["code"], "doubtful", "{}", api.text());
    }
    let mut wrong = SWATCH;
    wrong[6].1 = "13,4,12";
    let refused = post(&server, "/swatch/save", &wrong);
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", refused.text());
    assert!(refused.text().contains("value=\"13,4,12\""), "{}", refused.text());
    assert!(refused.text().contains("value=\"dulse-plain\""), "{}", refused.text());
    assert!(!demo.path.join("swatches/dulse-plain.toml").exists());
    // One that is there is changed where it is, its weighing and all, and can get another name.
    let page = server.get("/swatch?edit=standard");
    assert_eq!(page.status, StatusCode::OK, "{}", page.text());
    let tag = hidden(&page, "tag");
    let mut fields: Vec<(&str, String)> =
        vec![("edit", "standard".into()), ("id", "lamp-room".into()), ("tag", tag)];
    let old = demo.toml("swatches/standard.toml");
    fields.push(("yarn", old["yarn"].as_str().expect("a count").into()));
    fields.push(("machine", "standard".into()));
    let of = |own: &toml::Value, key: &str| match own.get(key) {
        Some(toml::Value::Array(all)) => {
            all.iter().filter_map(toml::Value::as_str).collect::<Vec<_>>().join("; ")
        }
        Some(toml::Value::String(text)) => text.clone(),
        Some(other) => other.to_string(),
        None => String::new(),
    };
    let mut keys: Vec<String> = Vec::new();
    let mut values: Vec<String> = Vec::new();
    for own in old["swatch"].as_array().expect("swatches") {
        let short = match own["structure"].as_str() {
            Some("rib 1x1") => "rib",
            Some("rib 2x2") => "rib2",
            _ => "plain",
        };
        for key in [
            "state",
            "dial",
            "stitches",
            "widths",
            "rows",
            "heights",
            "weight",
            "weighed_stitches",
            "weighed_rows",
            "scale_step",
        ] {
            keys.push(format!("{short}.{key}"));
            values.push(if (short, key) == ("plain", "stitches") {
                "41".into()
            } else {
                of(own, key)
            });
        }
    }
    for (key, value) in keys.iter().zip(values) {
        fields.push((key, value));
    }
    let sent: Vec<(&str, &str)> = fields.iter().map(|(key, text)| (*key, text.as_str())).collect();
    let done = post(&server, "/swatch/save", &sent);
    assert!(
        done.status == StatusCode::SEE_OTHER || done.status == StatusCode::OK,
        "{}",
        done.text()
    );
    assert!(!demo.path.join("swatches/standard.toml").exists());
    let new = demo.toml("swatches/lamp-room.toml");
    let (was, is) = (&old["swatch"][0], &new["swatch"][0]);
    assert_eq!(is["stitches"].as_integer(), Some(41));
    for key in ["widths", "heights", "rows", "weight", "weighed_stitches"] {
        assert_eq!(was.get(key), is.get(key), "{key}");
    }
}

#[test]
fn no_page_of_another_site_changes_anything_and_every_page_is_there() {
    let demo = Demo::empty();
    let server = Server::of(&demo);
    for path in [
        "/start",
        "/yarns",
        "/new/yarn",
        "/swatches",
        "/remnants",
        "/new/remnant",
        "/people",
        "/new/person",
        "/knitters",
        "/new/knitter",
        "/settings",
        "/swatch/save",
    ] {
        let sent = request(Method::POST, path)
            .header(header::ORIGIN, "http://elsewhere.example")
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
        let refused = server.send(sent.body(Body::from("what=save&own=x")).expect("a request"));
        assert_eq!(refused.status, StatusCode::FORBIDDEN, "{path}: {}", refused.text());
        if path != "/swatch/save" {
            let page = server.get(path);
            assert_eq!(page.status, StatusCode::OK, "{path}: {}", page.text());
        }
        let odd = post(&server, path, &[("what", "format-the-disk")]);
        assert!(odd.status.is_client_error(), "{path}: {}", odd.text());
    }
    // An empty list says what to do next.
    for (path, words) in [
        ("/yarns", "No yarn yet."),
        ("/swatches", "No swatch yet."),
        ("/remnants", "No yarn lies here yet."),
        ("/people", "Nobody yet."),
        ("/knitters", "Nobody yet, and nobody needed"),
    ] {
        assert!(server.get(path).text().contains(words), "{path}");
    }
    for path in ["/yarns/none", "/people/nobody", "/swatch?edit=none", "/remnants/..%2Fstash"] {
        assert_eq!(server.get(path).status, StatusCode::NOT_FOUND, "{path}");
    }
    // Without a workspace the pages say how to get one.
    let bare = Server::new();
    assert_eq!(bare.get("/").header(header::LOCATION), "/grade");
    for path in ["/start", "/yarns", "/people", "/settings"] {
        assert!(bare.get(path).text().contains("oddments init"), "{path}");
    }
    assert!(!bare.get("/swatch").text().contains("Save the swatch"));
}
