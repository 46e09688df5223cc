//! What was learnt is told: in words, each piece against the others, as a picture, as data, on a page.

use axum::http::{Method, StatusCode, header};
use roxmltree::{Document, Node};
use serde_json::{Value, json};

use crate::demo::Demo;
use crate::server::{Answer, Server, problem, request};

/// A tam in two sections, knitted to the demo's swatch.
fn tam(size: &str, band_g: f64, hat_g: f64, more: &str) -> String {
    let section = |grams: f64| format!("{{ before = \"200 g\", after = \"{} g\" }}", 200.0 - grams);
    format!(
        "\n[[record]]\ngarment = \"tam\"\nsize = \"{size}\"\nyarn = \"slate\"\nmachine = \"standard\"\n\
         swatch = \"standard\"\noptions = {{ wedges = 6 }}\nsections = {{ band = {}, hat = {} }}\n{more}\n",
        section(band_g),
        section(hat_g)
    )
}

/// The demo with more pieces in its records.
fn with(pieces: &[String]) -> Demo {
    let demo = Demo::new();
    let records = demo.text("records.toml") + &pieces.concat();
    std::fs::write(demo.path.join("records.toml"), records).expect("written");
    demo
}

/// Two like the demo's own, then one of twice as much, one of nearly nothing, one of no size, and one whose
/// sections were taken for each other.
fn odd_ones() -> Demo {
    with(&[
        tam("women-m", 12.0, 44.0, "date = \"2026-04-01\""),
        tam("women-l", 13.0, 47.0, ""),
        tam("women-m", 30.0, 100.0, ""),
        tam("women-m", 0.1, 0.1, ""),
        tam("women-zz", 12.0, 44.0, ""),
        tam("women-m", 44.0, 12.0, ""),
    ])
}

fn told(demo: &Demo) -> Value {
    let ran = demo.run(&["learnt", "--format", "json"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    serde_json::from_str(&ran.out).expect("JSON")
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

#[test]
fn the_demo_s_pieces_teach_in_words() {
    let ran = Demo::new().run(&["learnt"]);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    insta::assert_snapshot!("learnt_demo", ran.out);
}

#[test]
fn every_format_tells_the_same_pieces() {
    let demo = odd_ones();
    let pieces = told(&demo)["pieces"].as_array().expect("pieces").clone();
    assert_eq!(pieces.len(), 8);
    let csv = demo.run(&["learnt", "--format", "csv"]).out;
    assert_eq!(csv.lines().count(), 9, "{csv}");
    let markdown = demo.run(&["learnt", "--format", "markdown"]).out;
    for (piece, row) in pieces.iter().zip(csv.lines().skip(1)) {
        let took = format!("{:.1}", number(&piece["took_grams"]));
        let cells: Vec<&str> = row.split(',').collect();
        assert_eq!((cells[1], cells[8]), ("tam", took.as_str()), "{row}");
        assert!(markdown.contains(&format!("| {took} |")), "{markdown}");
        let Some(expected) = piece["expected_grams"].as_f64() else {
            assert_eq!(cells[5], "-", "{row}");
            continue;
        };
        assert_eq!(cells[5], format!("{expected:.1}"), "{row}");
        let differs = number(&piece["took_grams"]) / expected - 1.0;
        assert!((number(&piece["differs"]) - differs).abs() < 1e-9, "{piece}");
        assert!(number(&piece["expected_low"]) < expected, "{piece}");
        assert!(expected < number(&piece["expected_high"]), "{piece}");
    }
}

#[test]
fn what_is_odd_is_said_with_what_to_do() {
    let demo = odd_ones();
    let value = told(&demo);
    let counts: Vec<&str> = value["pieces"]
        .as_array()
        .expect("pieces")
        .iter()
        .filter_map(|p| p["counts"].as_str())
        .collect();
    let expected =
        ["taken", "taken", "taken", "taken", "asked", "senseless", "left aside", "asked"];
    assert_eq!(counts, expected);
    let out = demo.run(&["learnt"]).out;
    let about = |record: &str| {
        let found = out.lines().find(|line| line.contains(&format!("orrect record {record} of")));
        found.unwrap_or_else(|| panic!("nothing of {record} in\n{out}"))
    };
    assert!(about("5").contains("took 130 g where"), "{}", about("5"));
    assert!(about("5").ends_with("write `sure = true` there"), "{}", about("5"));
    assert!(about("6").contains("can't have taken 0.2 g"), "{}", about("6"));
    assert!(!about("6").contains("sure"), "{}", about("6"));
    assert!(about("7").contains("there is no size `women-zz`"), "{}", about("7"));
    // As a whole it is as expected: what is odd is where the yarn went.
    assert!(about("8").contains("the band 44 g of it where"), "{}", about("8"));
    assert!(out.contains("let what was washed dry for two days first"), "{out}");
}

/// What doesn't count teaches nothing; who is sure of it says so, and then it does.
#[test]
fn a_piece_counts_when_the_knitter_is_sure() {
    let few = [tam("women-m", 12.0, 44.0, ""), tam("women-l", 13.0, 47.0, "")];
    let with_one = |more: &str| {
        let mut pieces = few.to_vec();
        pieces.push(tam("women-m", 20.0, 78.0, more));
        told(&with(&pieces))
    };
    let (without, asked, sure) = (told(&with(&few)), with_one(""), with_one("sure = true"));
    assert_eq!(asked["pieces"][4]["counts"], "asked");
    assert_eq!(sure["pieces"][4]["counts"], "taken");
    assert_eq!(
        (&sure["pieces"][4]["sure"], &sure["pieces"][4]["advice"]),
        (&json!(true), &Value::Null)
    );
    assert_eq!(asked["yarn"], without["yarn"]);
    let all = |told: &Value| number(&told["yarn"]["habits"][0]["factor"]);
    // It counts as the furthest that is believed unasked: four others are not outvoted by it.
    assert!(all(&sure) > all(&without) + 0.005, "{} {}", all(&sure), all(&without));
    assert!(all(&sure) < all(&without) + 0.03, "{} {}", all(&sure), all(&without));
    let pieces = |told: &Value| told["yarn"]["habits"][0]["pieces"].clone();
    assert_eq!((pieces(&without), pieces(&asked), pieces(&sure)), (json!(4), json!(4), json!(5)));
    // It lies apart from the others: pieces are held to be more uneven than before.
    let uneven = |told: &Value| number(&told["yarn"]["unevenness"]);
    assert!(uneven(&sure) > uneven(&without), "{} {}", uneven(&sure), uneven(&without));
}

#[test]
fn where_nothing_was_weighed_it_says_so() {
    let demo = Demo::empty();
    let ran = demo.run(&["learnt"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.contains("Nothing is known of your hands yet"), "{}", ran.out);
    assert!(ran.out.contains("none of yours was learnt from yet"), "{}", ran.out);
    assert!(!ran.out.contains("Finished pieces"), "{}", ran.out);
    let value = told(&demo);
    assert_eq!((&value["yarn"]["habits"], &value["pieces"]), (&json!([]), &json!([])));
    let csv = demo.run(&["learnt", "--format", "csv"]).out;
    assert_eq!(csv.lines().count(), 1, "{csv}");
    let svg = demo.run(&["learnt", "--format", "svg"]).out;
    assert!(svg.contains("No finished piece was weighed yet"), "{svg}");
    let page = Server::of(&demo).get("/learnt");
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.text().contains("Nothing is known of your hands yet"), "{}", page.text());
    assert!(!page.text().contains("<img src=\"/api"), "{}", page.text());
}

fn of_class<'a, 'd>(node: Node<'a, 'd>, class: &'static str) -> Vec<Node<'a, 'd>> {
    node.descendants().filter(|n| n.attribute("class") == Some(class)).collect()
}

fn length(node: &Node<'_, '_>, name: &str) -> f64 {
    node.attribute(name)
        .and_then(|text| text.parse().ok())
        .unwrap_or_else(|| panic!("{name} of {node:?}"))
}

/// Dots and bars lie where the figures say, to one scale.
#[test]
fn the_picture_shows_expected_against_taken() {
    let demo = odd_ones();
    let file = demo.path.join("learnt.svg");
    let ran = demo.run(&["learnt", "--format", "svg", "--output", "learnt.svg"]);
    assert_eq!((ran.code, ran.out.as_str()), (Some(0), ""), "{}", ran.err);
    let svg = std::fs::read_to_string(file).expect("written");
    let document = Document::parse(&svg).expect("well formed");
    let drawn = of_class(document.root(), "piece");
    let value = told(&demo);
    let held: Vec<&Value> = value["pieces"]
        .as_array()
        .expect("pieces")
        .iter()
        .filter(|piece| !piece["expected_grams"].is_null())
        .collect();
    assert_eq!((drawn.len(), held.len()), (6, 6));
    let mut scales = Vec::new();
    for (group, piece) in drawn.iter().zip(&held) {
        let share = |key: &str| number(&piece[key]) / number(&piece["expected_grams"]) - 1.0;
        let bar = of_class(*group, "expected");
        let wide = length(&bar[0], "width");
        let scale = wide / (share("expected_high") - share("expected_low"));
        scales.push(scale);
        let middle = length(&bar[0], "x") - scale * share("expected_low");
        let (dots, diamonds) = (of_class(*group, "taken"), of_class(*group, "asked"));
        if piece["counts"] == "taken" {
            assert_eq!((dots.len(), diamonds.len()), (1, 0));
            let off = (length(&dots[0], "cx") - middle) / scale;
            assert!((off - share("took_grams")).abs() < 0.002, "{piece}: {off}");
        } else {
            assert_eq!((dots.len(), diamonds.len()), (0, 1), "told apart by shape");
        }
        let beyond = share("took_grams").abs() > 0.6;
        assert_eq!(of_class(*group, "beyond").len(), usize::from(beyond), "{piece}");
    }
    assert!(scales.iter().all(|scale| (scale / scales[0] - 1.0).abs() < 0.01), "{scales:?}");
    let words = document.descendants().find(|n| n.has_tag_name("desc")).and_then(|n| n.text());
    let words = words.expect("words for who can't see it");
    assert!(words.contains("5 of 6 lie where 19 of 20 were expected"), "{words}");
    assert!(words.contains("took 130.0 g"), "{words}");
}

#[test]
fn the_page_and_the_route_tell_what_the_command_tells() {
    let demo = odd_ones();
    let server = Server::of(&demo);
    for (format, name) in [
        ("json", "json"),
        ("csv", "csv"),
        ("table", "text"),
        ("markdown", "markdown"),
        ("svg", "svg"),
    ] {
        let ran = demo.run(&["learnt", "--format", format]);
        let answer = server.get(&format!("/api/v1/learnt?format={name}"));
        assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
        assert_eq!(answer.text(), ran.out, "{format}");
    }
    assert_eq!(server.get("/api/v1/learnt").json(), told(&demo));
    problem(&server.get("/api/v1/learnt?format=wool"), "format");
    problem(&server.get("/api/v1/learnt?yarn=slate"), "unknown-key");
    let page = server.get("/learnt");
    assert_eq!(page.status, StatusCode::OK);
    let text = page.text();
    for line in told(&demo)["yarn"]["words"].as_array().expect("words") {
        let line = line.as_str().expect("a text").replace('\'', "&#39;");
        assert!(text.contains(&format!("<li>{line}</li>")), "{line}\n{text}");
    }
    assert!(text.contains("alt=\"Each finished piece, with what was expected"), "{text}");
    assert!(text.contains("data-label=\"Counts\">asked about</td>"), "{text}");
    assert!(text.contains("Correct record 6 of records.toml"), "{text}");
    assert!(server.get("/gifts").text().contains("href=\"/learnt\""), "a way there");
    let nowhere = Server::new();
    problem(&nowhere.get("/api/v1/learnt"), "no-workspace");
    assert!(nowhere.get("/learnt").text().contains("oddments init"));
}

/// What of a value is not as the description of it says.
fn misfits(doc: &Value, schema: &Value, value: &Value, at: &str, found: &mut Vec<String>) {
    if let Some(name) = schema["$ref"].as_str() {
        let named = doc.pointer(name.trim_start_matches('#')).expect("a schema of that name");
        return misfits(doc, named, value, at, found);
    }
    // What may be left out and has keys of its own.
    if let Some(ways) = schema["oneOf"].as_array() {
        let other = ways.iter().find(|way| way["type"] != "null").expect("something beside null");
        if !value.is_null() {
            misfits(doc, other, value, at, found);
        }
        return;
    }
    let types: Vec<&str> = match &schema["type"] {
        Value::Array(all) => all.iter().filter_map(Value::as_str).collect(),
        Value::String(one) => vec![one],
        other => panic!("{at}: {other} is no type"),
    };
    let fits = types.iter().any(|name| match *name {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "string" => value.is_string(),
        "integer" => value.is_u64() || value.is_i64(),
        "number" => value.is_number(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        _ => false,
    });
    if !fits {
        found.push(format!("{at}: {value} is none of {types:?}"));
    }
    for (nth, item) in value.as_array().into_iter().flatten().enumerate() {
        misfits(doc, &schema["items"], item, &format!("{at}[{nth}]"), found);
    }
    let Some(object) = value.as_object() else { return };
    for key in schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str) {
        if !object.contains_key(key) {
            found.push(format!("{at} lacks {key}"));
        }
    }
    for (key, inner) in object {
        match &schema["properties"][key] {
            Value::Null => found.push(format!("{at}: {key} is not described")),
            known => misfits(doc, known, inner, &format!("{at}.{key}"), found),
        }
    }
    for key in schema["properties"].as_object().into_iter().flat_map(|all| all.keys()) {
        if !object.contains_key(key) {
            found.push(format!("{at} never has {key}"));
        }
    }
}

#[test]
fn the_data_is_as_it_is_described() {
    for demo in [odd_ones(), Demo::empty()] {
        let server = Server::of(&demo);
        let doc = server.get("/api/v1/openapi.json").json();
        let content = &doc["paths"]["/api/v1/learnt"]["get"]["responses"]["200"]["content"];
        let schema = &content["application/json"]["schema"];
        let value = server.get("/api/v1/learnt").json();
        let mut found = Vec::new();
        misfits(&doc, schema, &value, "it", &mut found);
        assert!(found.is_empty(), "{found:#?}");
        // The check can fail.
        let mut other = value.clone();
        other["yarn"]["unevenness"] = json!("much");
        other["more"] = json!(1);
        misfits(&doc, schema, &other, "it", &mut found);
        assert_eq!(found.len(), 2, "{found:#?}");
    }
}

fn form(server: &Server, fields: &[(&str, &str)]) -> Answer {
    let body = serde_urlencoded::to_string(fields).expect("fields");
    let sent = request(Method::POST, "/gifts/do")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
    server.send(sent.body(body.into()).expect("a request"))
}

/// The demo with a ball of `beacon` that a tam can be knitted from.
fn with_a_ball() -> Demo {
    let demo = Demo::new();
    let ran = demo.run(&["stash", "change", "beacon-1", "--weight", "64 g"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    demo
}

/// The command names its flag for a piece that is about to be noted, the page has a box to tick; what is in
/// the file is stood by in the file.
#[test]
fn an_odd_piece_is_stood_by_where_it_is_noted() {
    const RIGHT: &str = "name=\"odd\" value=\"right\"";
    const ODD: &str = "hat:beacon-1=50 g";
    let odd = ["record", "tam", "--size", "women-m", "--used", ODD];
    let look = with_a_ball().run(&[&odd[..], &["--look"]].concat());
    assert_eq!(look.code, Some(0), "{}", look.err);
    assert!(look.err.contains("warning[record-odd]"), "{}", look.err);
    assert!(look.err.contains("record it with `--sure`"), "{}", look.err);
    assert!(look.err.contains("once it is noted write `sure = true`"), "{}", look.err);

    let demo = with_a_ball();
    let server = Server::of(&demo);
    let piece = |used: &'static str| {
        [("what", "record"), ("garment", "tam"), ("size", "women-m"), ("used", used)]
    };
    let usual = form(&server, &piece("hat:beacon-1=22 g"));
    assert_eq!(usual.status, StatusCode::OK, "{}", usual.text());
    assert!(!usual.text().contains(RIGHT), "nothing is odd about it");
    let asked = form(&server, &piece(ODD));
    assert!(asked.text().contains(RIGHT), "{}", asked.text());
    let noted = |more: &[(&str, &str)]| {
        let demo = with_a_ball();
        let server = Server::of(&demo);
        let fields = [&piece(ODD)[..], &[("sure", "yes")], more].concat();
        let answer = form(&server, &fields);
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text());
        let records = demo.toml("records.toml");
        let last =
            records["record"].as_array().and_then(|all| all.last()).expect("a record").clone();
        let counts = told(&demo)["pieces"][2]["counts"].clone();
        (last.get("sure").and_then(toml::Value::as_bool), counts)
    };
    assert_eq!(noted(&[]), (None, json!("asked")), "to write it is not to stand by it");
    assert_eq!(noted(&[("odd", "right")]), (Some(true), json!("taken")));
    // With minutes too: the weight and they are right as they were typed.
    let timed = [("odd", "right"), ("minutes", "190")];
    assert_eq!(noted(&timed), (Some(true), json!("taken")));
}
