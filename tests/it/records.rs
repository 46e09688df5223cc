//! Records tell the truth: balls that several sections were knitted from, what each took, and the
//! gift that is done with it.

use axum::http::StatusCode;
use serde_json::{Value, json};

use crate::demo::Demo;
use crate::server::{Server, problem};

/// The demo with a ball of `beacon` of 64 g, as it was when the demo's own piece was begun.
fn with_a_ball() -> Demo {
    let demo = Demo::new();
    let ran = demo.run(&["stash", "change", "beacon-1", "--weight", "64 g"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    demo
}

fn tam<'a>(used: &[&'a str], more: &[&'a str]) -> Vec<&'a str> {
    let mut args = vec!["record", "tam", "--size", "y5-6", "--set", "wedges=6"];
    args.extend(used.iter().flat_map(|used| ["--used", used]));
    args.extend(more);
    args
}

/// Section, before and after of the last record.
fn last_record(demo: &Demo) -> Vec<(String, String, String)> {
    let records = demo.toml("records.toml");
    let last = records["record"].as_array().and_then(|all| all.last()).expect("a record").clone();
    let sections = last["sections"].as_table().expect("a table");
    let text = |value: &toml::Value| value.as_str().expect("a text").to_owned();
    sections.iter().map(|(n, s)| (n.clone(), text(&s["before"]), text(&s["after"]))).collect()
}

fn weight(demo: &Demo, id: &str) -> Option<String> {
    let stash = demo.toml("stash.toml");
    let all = stash["remnant"].as_array().expect("a list");
    let remnant = all.iter().find(|r| r["id"].as_str() == Some(id))?;
    remnant["weight"].as_str().map(str::to_owned)
}

fn row(section: &str, before: &str, after: &str) -> (String, String, String) {
    (section.to_owned(), before.to_owned(), after.to_owned())
}

/// 64 g, 54 g when the band is done, 16 g when the hat is: they took 10 g and 38 g.
#[test]
fn a_ball_in_two_sections_is_chained_by_weight_in_either_order() {
    let (band, hat) = ("band:beacon-1=54 g", "hat:beacon-1=16 g");
    for used in [[band, hat], [hat, band]] {
        let demo = with_a_ball();
        let ran = demo.run(&tam(&used, &[]));
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        let expected = [row("band", "64 g", "54 g"), row("hat", "54 g", "16 g")];
        assert_eq!(last_record(&demo), expected, "{used:?}");
        assert_eq!(weight(&demo, "beacon-1").as_deref(), Some("16 g"), "{used:?}");
        // As the demo's own file has it, which was weighed so.
        let records = demo.toml("records.toml");
        let all = records["record"].as_array().expect("a list");
        assert_eq!(all[1]["sections"], all[all.len() - 1]["sections"]);
        let lines: Vec<Vec<&str>> =
            ran.out.lines().map(|line| line.split_whitespace().collect()).collect();
        let at = |row: &[&str]| lines.iter().position(|line| line == row);
        let (first, then) = (
            at(&["band", "beacon-1", "64.0", "54.0", "10.0"]).expect("the band"),
            at(&["hat", "beacon-1", "54.0", "16.0", "38.0"]).expect("the hat"),
        );
        assert!(first < then, "{}", ran.out);
        assert!(lines.iter().any(|l| l.starts_with(&["hat", "beacon", "38.0"])), "{}", ran.out);
    }
}

/// Ball and section, in grams: 64 - 40 - 26 - 16 of one ball, and 20 g - 14 g of another.
#[test]
fn several_weighings_and_several_balls_of_a_section_add_up() {
    let demo = with_a_ball();
    let stash = demo.text("stash.toml");
    let more = "\n[[remnant]]\nid = \"beacon-9\"\nyarn = \"beacon\"\nweight = \"20 g\"\n";
    std::fs::write(demo.path.join("stash.toml"), stash + more).expect("written");
    let used =
        ["band:beacon-1=16 g", "hat:beacon-1=26 g", "hat:beacon-9=14 g", "hat:beacon-1=40 g"];
    let ran = demo.run(&tam(&used, &[]));
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    // The hat: 64 to 26 of one and 20 to 14 of the other.
    let expected = [row("band", "26 g", "16 g"), row("hat", "84 g", "40 g")];
    assert_eq!(last_record(&demo), expected);
    assert_eq!(weight(&demo, "beacon-1").as_deref(), Some("16 g"));
    assert_eq!(weight(&demo, "beacon-9").as_deref(), Some("14 g"));
}

#[test]
fn weighings_that_cannot_be_are_refused_in_words() {
    let demo = with_a_ball();
    let before = (demo.text("stash.toml"), demo.text("records.toml"));
    for (used, code, told) in [
        (&["band:beacon-1=70 g", "hat:beacon-1=16 g"][..], "heavier", "can't weigh 70 g now"),
        (
            &["band:beacon-1=16 g", "hat:beacon-1=16 g"],
            "no-yarn-used",
            "16 g of beacon-1 are left after the band and after the hat: one took nothing",
        ),
        (
            &["band:beacon-1=64 g", "hat:beacon-1=16 g"],
            "no-yarn-used",
            "the band took nothing of beacon-1: it weighed 64 g before too",
        ),
        (
            &["hat:beacon-1=16 g", "hat:beacon-1=16 g"],
            "no-yarn-used",
            "the hat is weighed twice with 16 g of beacon-1 left after it",
        ),
    ] {
        for more in [&[][..], &["--look"]] {
            let ran = demo.run(&tam(used, more));
            assert_eq!(ran.code, Some(1), "{used:?}: {}", ran.out);
            assert!(ran.err.contains(&format!("error[{code}]")), "{used:?}: {}", ran.err);
            assert!(ran.err.contains(told), "{used:?}: {}", ran.err);
            assert_eq!((demo.text("stash.toml"), demo.text("records.toml")), before);
        }
    }
}

#[test]
fn a_look_says_what_the_record_says_and_writes_nothing() {
    let demo = with_a_ball();
    let used = ["hat:beacon-1=16 g", "band:beacon-1=54 g"];
    let before = (demo.text("stash.toml"), demo.text("records.toml"));
    let look = demo.run(&tam(&used, &["--look"]));
    assert_eq!(look.code, Some(0), "{}", look.err);
    assert!(look.err.contains("nothing is written"), "{}", look.err);
    assert_eq!((demo.text("stash.toml"), demo.text("records.toml")), before);
    let told = demo.run(&["undo"]);
    assert!(told.out.starts_with("`stash change`"), "a look is no change: {}", told.out);
    assert_eq!(demo.run(&["undo", "--redo"]).code, Some(0));
    let real = demo.run(&tam(&used, &[]));
    assert_eq!(real.out, look.out);
}

/// 12.5 g of one ball and 47 g of another are set aside; the piece takes 11 g and 45 g of them.
#[test]
fn a_record_ends_its_gift_and_frees_what_is_left() {
    let demo = Demo::new();
    let plan = "[[reservation]]\ngift = \"ruan-tam\"\nsection = \"band\"\nremnant = \"slate-1\"\n\
        weight = \"12.5 g\"\n\n[[reservation]]\ngift = \"ruan-tam\"\nsection = \"hat\"\n\
        remnant = \"heather-1\"\nweight = \"47 g\"\n";
    std::fs::write(demo.path.join("plan.toml"), plan).expect("written");
    // 48 g and 88 g are in the demo's chest.
    let args = [
        "record",
        "tam",
        "--size",
        "Ruan",
        "--set",
        "wedges=6",
        "--gift",
        "ruan-tam",
        "--used",
        "band:slate-1=37 g",
        "--used",
        "hat:heather-1=43 g",
    ];
    let gifts = demo.text("gifts.toml");
    let ran = demo.run(&args);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""), "{}", ran.out);
    let told = "ruan-tam is done; free again: 1.5 g of slate-1 and 2 g of heather-1\n";
    assert!(ran.out.ends_with(told), "{}", ran.out);
    assert!(!demo.text("plan.toml").contains("[["), "{}", demo.text("plan.toml"));
    assert!(demo.text("gifts.toml").contains("state = \"done\""));
    let again = demo.run(&args);
    assert_eq!(again.code, Some(1), "{}", again.out);
    assert!(again.err.contains("error[gift-over]: `ruan-tam` is done already"), "{}", again.err);
    assert!(again.err.contains("`oddments gifts wish ruan-tam`"), "{}", again.err);
    // All of it in one change.
    assert_eq!(demo.run(&["undo"]).code, Some(0));
    assert_eq!((demo.text("plan.toml"), demo.text("gifts.toml")), (plan.to_owned(), gifts));
    assert_eq!(weight(&demo, "slate-1").as_deref(), Some("48 g"));
    // A pinned ball that its own gift uses up goes, and the gift waits for it no longer.
    let up = demo.run(&[
        "record",
        "tam",
        "--size",
        "Ruan",
        "--set",
        "wedges=6",
        "--gift",
        "ruan-tam",
        "--used",
        "band:slate-1=0 g",
        "--used",
        "hat:heather-1=48 g",
    ]);
    assert_eq!(up.code, Some(0), "{}", up.err);
    assert_eq!(weight(&demo, "slate-1"), None);
    assert!(demo.text("gifts.toml").contains("pinned = { band = [\"slate-2\"] }"));
}

#[test]
fn a_piece_that_is_not_what_the_gift_asks_for_is_doubted_and_recorded() {
    let demo = Demo::new();
    for (garment, size, used, told) in [
        ("hat", "men-l", "hat:heather-1=30 g", "`ruan-tam` is not to be a hat"),
        ("tam", "Denzel", "hat:heather-1=30 g", "is for Ruan, and this was made for Denzel"),
        (
            "tam",
            "men-s",
            "hat:heather-1=30 g",
            "is for Ruan, whose size is men-l, and this is men-s",
        ),
    ] {
        let args = ["record", garment, "--size", size, "--used", used, "--gift", "ruan-tam"];
        let ran = demo.run(&args);
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        assert!(ran.err.contains("warning[other-gift]") && ran.err.contains(told), "{}", ran.err);
        assert_eq!(demo.run(&["undo"]).code, Some(0));
    }
}

#[test]
fn a_ball_that_others_wait_for_is_not_used_up_unasked() {
    let demo = Demo::new();
    let plan = "[[reservation]]\ngift = \"jory-mittens\"\nsection = \"mitten\"\n\
        remnant = \"heather-1\"\nweight = \"27.3 g\"\n";
    std::fs::write(demo.path.join("plan.toml"), plan).expect("written");
    let hat = |used: &str| demo.run(&["record", "hat", "--size", "women-m", "--used", used]);
    let ran = hat("hat:heather-1=0 g");
    assert_eq!(ran.code, Some(1), "{}", ran.out);
    let told = "of `heather-1` some is set aside: 27.3 g for the mitten of jory-mittens";
    assert!(ran.err.contains(told), "{}", ran.err);
    assert!(ran.err.contains("`oddments gifts free jory-mittens`"), "{}", ran.err);
    let ran = hat("hat:slate-2=0 g");
    assert!(ran.err.contains("`ruan-tam` is to have its band from `slate-2`"), "{}", ran.err);
    assert!(ran.err.contains("gifts change ruan-tam --pin band="), "{}", ran.err);
    // Less is left than is set aside: recorded, and said.
    let ran = hat("hat:heather-1=20 g");
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.err.contains("weighs 20 g, but 27.3 g of it are reserved"), "{}", ran.err);
}

#[test]
fn over_http_a_record_has_its_chain_beside_the_rest() {
    let demo = with_a_ball();
    let server = Server::of(&demo);
    let sent = |used: &[&str]| -> Value {
        json!({ "garment": "tam", "size": "y5-6", "options": { "wedges": "6" }, "used": used })
    };
    let same = sent(&["band:beacon-1=16 g", "hat:beacon-1=16 g"]);
    problem(&server.post("/api/v1/records", &same), "no-yarn-used");
    let used = sent(&["hat:beacon-1=16 g", "band:beacon-1=54 g"]);
    let answer = server.post("/api/v1/records", &used);
    assert_eq!(answer.status, StatusCode::CREATED, "{}", answer.text());
    let told = answer.json();
    let link = |section: &str, before: f64, after: f64, took: f64| {
        json!({ "section": section, "remnant": "beacon-1", "yarn": "beacon",
            "before_grams": before, "after_grams": after, "took_grams": took })
    };
    assert_eq!(
        told["chain"],
        json!([link("band", 64.0, 54.0, 10.0), link("hat", 54.0, 16.0, 38.0)])
    );
    assert_eq!(told["gift"], Value::Null);
    assert_eq!(told["sections"][1]["took_grams"], 38.0);
    assert!(told["learnt"].as_array().is_some_and(|learnt| !learnt.is_empty()));
    assert_eq!(weight(&demo, "beacon-1").as_deref(), Some("16 g"));
}

#[test]
fn a_gift_that_nothing_was_set_aside_for_leaves_no_yarn_over() {
    let demo = Demo::new();
    let args =
        ["record", "hat", "--size", "Kitto", "--gift", "kitto-hat", "--used", "hat:heather-1=50 g"];
    let ran = demo.run(&args);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.ends_with("kitto-hat is done; nothing was set aside for it\n"), "{}", ran.out);
}

/// A piece that took half of what was likely is noted, and asked about: nothing is learnt from it until the
/// knitter says that it is right.
#[test]
fn a_piece_that_stands_out_is_asked_about() {
    let told = |sure: bool| {
        let demo = Demo::new();
        let mut args = vec!["record", "tam", "--size", "women-m", "--set", "wedges=6"];
        args.extend(["--used", "band:slate-1=42 g", "--used", "hat:slate-1=22 g"]);
        args.extend(sure.then_some("--sure"));
        let ran = demo.run(&args);
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        (ran, demo.text("records.toml"))
    };
    let (asked, noted) = told(false);
    assert!(
        asked.err.contains("warning[record-odd]: this piece took 26.0 g, where"),
        "{}",
        asked.err
    );
    assert!(asked.err.contains("sure = true"), "{}", asked.err);
    assert!(!noted.contains("sure") && noted.matches("[[record]]").count() == 3, "{noted}");
    let learnt = |out: &str| {
        out.lines().filter(|l| l.contains("a stitch takes")).map(str::to_owned).collect::<Vec<_>>()
    };
    let unmoved = learnt(&asked.out);
    assert!(!unmoved.is_empty(), "{}", asked.out);
    for line in &unmoved {
        let mm = |part: &str| {
            part.split(" mm").next().and_then(|t| t.rsplit(' ').next()).map(str::to_owned)
        };
        let (now, before) = line.split_once(" now; before, ").expect("both");
        assert_eq!(mm(now), mm(before), "{line}");
    }
    let (sure, noted) = told(true);
    assert!(!sure.err.contains("record-odd"), "{}", sure.err);
    assert!(noted.contains("sure = true"), "{noted}");
    assert_ne!(learnt(&sure.out), unmoved);
}

/// What a piece was expected on is noted with it: the machine and the swatch.
#[test]
fn a_record_names_the_swatch_it_was_expected_on() {
    let demo = with_a_ball();
    let ran = demo.run(&tam(&["hat:beacon-1=16 g", "band:beacon-1=54 g"], &[]));
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let records = demo.text("records.toml");
    let last = records.rsplit("[[record]]").next().expect("an entry");
    assert!(
        last.contains("machine = \"standard\"") && last.contains("swatch = \"standard\""),
        "{last}"
    );
}

/// The last piece that is told of.
fn last_piece(demo: &Demo) -> Value {
    let ran = demo.run(&["learnt", "--format", "json"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let told: Value = serde_json::from_str(&ran.out).expect("JSON");
    told["pieces"].as_array().and_then(|all| all.last()).expect("a piece").clone()
}

/// Someone who grows: what was knitted for them was as large as they were then. Without what was counted the
/// same record is held against today's measures.
#[test]
fn a_piece_goes_on_teaching_what_it_did_when_its_wearer_has_grown() {
    let demo = Demo::new();
    let args = ["record", "hat", "--size", "Jory", "--used", "hat:heather-1=50 g"];
    let look = demo.run(&[&args[..], &["--look"]].concat());
    assert!(look.out.contains("Noted with it, as counted: hat: "), "{}", look.out);
    let ran = demo.run(&args);
    assert_eq!((ran.code, &ran.out), (Some(0), &look.out), "{}", ran.err);
    let toml = demo.toml("records.toml");
    let record = toml["record"].as_array().and_then(|all| all.last()).expect("a record").clone();
    let plain = record["stitches"]["hat"]["plain"].as_integer().expect("a count");
    assert!(plain > 1_000, "{record}");
    let loop_mm = record["loop_mm"]["plain"].as_float().expect("a length");
    assert!((8.0..20.0).contains(&loop_mm), "{record}");
    let before = last_piece(&demo);
    let grown = |demo: &Demo| {
        let people = demo.text("people.toml");
        let (head, own) = people.split_once("name = \"Jory\"").expect("Jory");
        let (own, others) = own.split_once("\n\n").unwrap_or((own, ""));
        let own: Vec<&str> =
            own.lines().filter(|l| !l.starts_with("measures") && !l.starts_with("size")).collect();
        let now = format!("{head}name = \"Jory\"{}\nsize = \"men-xl\"\n\n{others}", own.join("\n"));
        std::fs::write(demo.path.join("people.toml"), now).expect("written");
        last_piece(demo)["expected_grams"].as_f64().expect("grams")
    };
    let expected = before["expected_grams"].as_f64().expect("grams");
    assert_eq!(grown(&demo), expected);
    // The same without what was counted.
    let records = demo.text("records.toml");
    let bare: Vec<&str> = records
        .lines()
        .filter(|l| !["stitches", "sewing_m", "loop_mm"].iter().any(|key| l.starts_with(key)))
        .collect();
    std::fs::write(demo.path.join("records.toml"), bare.join("\n")).expect("written");
    let today = last_piece(&demo)["expected_grams"].as_f64().expect("grams");
    assert!(today > 1.1 * expected, "{today} {expected}");
}

/// The band on one day and the crown on another are one piece, each against its own minutes.
#[test]
fn sections_recorded_apart_are_one_piece() {
    let demo = with_a_ball();
    let band = ["--date", "2026-04-01", "--minutes", "60"];
    let ran = demo.run(&tam(&["band:beacon-1=54 g"], &band));
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let of_band = last_piece(&demo);
    let ran = demo.run(&tam(&["hat:beacon-1=16 g"], &["--date", "2026-04-05", "--minutes", "140"]));
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(
        ran.out.contains("It goes on with piece 3 (band, recorded on 2026-04-01)"),
        "{}",
        ran.out
    );
    let whole = last_piece(&demo);
    assert_eq!((&of_band["records"], &whole["records"]), (&json!([3]), &json!([3, 4])));
    assert_eq!((&whole["took_grams"], &whole["minutes"]["took"]), (&json!(48.0), &json!(200.0)));
    let minutes = |piece: &Value| piece["minutes"]["expected"].as_f64().expect("minutes");
    assert!(minutes(&of_band) < 0.6 * minutes(&whole), "{} {}", minutes(&of_band), minutes(&whole));
    // The crown of another one, said to be so; and what is missing of a piece that is named.
    assert_eq!(demo.run(&["stash", "change", "beacon-1", "--weight", "64 g"]).code, Some(0));
    let other = demo.run(&tam(&["hat:beacon-1=26 g"], &["--piece", "new"]));
    assert!(!other.out.contains("goes on with"), "{}", other.out);
    assert_eq!(last_piece(&demo)["records"], json!([5]));
    let rest = demo.run(&tam(&["band:beacon-1=16 g"], &["--piece", "5"]));
    assert_eq!(rest.code, Some(0), "{}", rest.err);
    assert_eq!(last_piece(&demo)["records"], json!([5, 6]));
    let wrong = demo.run(&tam(&["band:beacon-1=6 g"], &["--piece", "55"]));
    assert!(wrong.err.contains("error[no-piece-noted]: there is no piece `55`"), "{}", wrong.err);
}

/// Whoever vouches for the weight does not thereby for the minutes, nor the other way round.
#[test]
fn weight_and_minutes_are_stood_by_apart() {
    let told = |sure: &[&str]| {
        let demo = with_a_ball();
        let used = ["band:beacon-1=54 g", "hat:beacon-1=40 g"];
        let ran = demo.run(&tam(&used, &[&["--minutes", "9000"], sure].concat()));
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        let piece = last_piece(&demo);
        let records = demo.text("records.toml");
        let sure = records.lines().last().filter(|l| l.starts_with("sure")).map(str::to_owned);
        (piece["counts"].clone(), piece["minutes"]["counts"].clone(), sure)
    };
    let (asked, taken) = (json!("asked"), json!("taken"));
    assert_eq!(told(&[]), (asked.clone(), asked.clone(), None));
    let all = Some("sure = true".to_owned());
    assert_eq!(told(&["--sure"]), (taken.clone(), taken.clone(), all));
    let grams = Some("sure = [\"grams\"]".to_owned());
    assert_eq!(told(&["--sure=grams"]), (taken.clone(), asked.clone(), grams));
    let minutes = Some("sure = [\"minutes\"]".to_owned());
    assert_eq!(told(&["--sure=minutes"]), (asked, taken, minutes));
}

/// What is in use says by what, whoever else asks for it to go.
#[test]
fn what_records_are_of_is_not_taken_away() {
    let demo = Demo::new();
    let ran = demo.run(&["swatch", "remove", "standard"]);
    assert!(ran.err.contains("error[in-use]: the swatch `standard` is in use"), "{}", ran.err);
    assert!(ran.err.contains("tam in women-m (records.toml:4)"), "{}", ran.err);
    assert_eq!(ran.err.matches("error[").count(), 1, "{}", ran.err);
    let ran = demo.run(&["yarn", "remove", "beacon", "--and-remnants"]);
    assert!(ran.err.contains("a record is of it: tam in y5-6 (records.toml:14)"), "{}", ran.err);
}

/// A record from before pieces had names may be the beginning of this one: only the knitter knows.
#[test]
fn a_record_that_names_no_piece_is_told_how_to_be_joined() {
    let demo = Demo::new();
    let old = "\n[[record]]\ngarment = \"hat\"\nsize = \"women-m\"\nyarn = \"shoreline\"\nmachine = \"standard\"\n\
        swatch = \"standard\"\noptions = { in_turn.hat = \"4,4\" }\nsections = { \"hat 1\" = { before = \"50 g\", after = \"27 g\" } }\n\
        date = \"2026-03-01\"\n";
    let file = format!("{}{old}", demo.text("records.toml"));
    let line = file.lines().count() - 8;
    std::fs::write(demo.path.join("records.toml"), file).expect("written");
    let rest =
        ["record", "hat", "--size", "women-m", "--in-turn", "hat=4,4", "--date", "2026-03-02"];
    let rest = [&rest[..], &["--used", "hat 2:slate-1=26 g"]].concat();
    let look = demo.run(&[&rest[..], &["--look"]].concat());
    let told = look.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("recorded on 2026-03-01 (hat 1; records.toml:"), "{look:?}");
    assert!(told.contains(&format!("records.toml:{line})")), "{line}: {told}");
    let new = demo.run(&[&rest[..], &["--piece", "new"]].concat());
    assert!(!new.out.contains("piece of its own"), "{new:?}");
    // What it says to write joins them.
    let piece = told.split("`piece = \"").nth(1).and_then(|rest| rest.split('"').next());
    let piece = piece.expect("a name");
    let last = demo.toml("records.toml")["record"].as_array().and_then(|all| all.last()).cloned();
    assert_eq!(last.expect("a record")["piece"].as_str(), Some(piece));
    let pieces = |demo: &Demo| demo.run(&["learnt", "--format", "csv"]).out.matches("hat").count();
    let apart = pieces(&demo);
    let named = demo.text("records.toml").replacen(old, &format!("{old}piece = \"{piece}\"\n"), 1);
    std::fs::write(demo.path.join("records.toml"), named).expect("written");
    assert!(pieces(&demo) < apart, "{apart}");
}
