//! Minutes: the times of operations, what records and the page at the machine teach of them, and what
//! plans make of it.

use app::{Places, Put};
use axum::http::{Method, StatusCode};
use serde_json::{Value, json};
use store::Place;

use crate::demo::Demo;
use crate::server::{Server, json_request, problem};
use crate::support::{demo, grade};

fn work(demo: &Demo, garment: &str) -> Value {
    let ran = demo.run(&["grade", garment, "--sizes", "women-m", "--format", "json"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let run: Value = serde_json::from_str(&ran.out).expect("JSON");
    run["sizes"][0]["work"].clone()
}

fn minutes(demo: &Demo, garment: &str) -> (f64, f64, f64) {
    let work = work(demo, garment);
    let of = |key: &str| work[key].as_f64().expect("a number");
    (of("minutes"), of("minutes_low"), of("minutes_high"))
}

fn append(demo: &Demo, file: &str, text: &str) {
    let before = std::fs::read_to_string(demo.path.join(file)).unwrap_or_default();
    std::fs::write(demo.path.join(file), before + text).expect("written");
}

/// What common practice says a practised knitter takes, finishing included: three to four hours for socks,
/// an hour and a half to two and a half for a plain hat. The operations are stated one by one; this is
/// where they add up to.
#[test]
fn operations_add_up_to_what_practice_says() {
    for (garment, low, high) in [("sock", 180.0, 240.0), ("hat", 90.0, 150.0)] {
        let run = grade(garment, "standard", &demo("standard"), "women-m", &[]).expect("graded");
        let (_, made) = run.good().next().expect("it can be knitted");
        let by_operations = made.graded.work_minutes;
        let counts = made.graded.run.work.operations.by_name();
        assert!((low..=high).contains(&by_operations), "{garment}: {by_operations}, {counts:?}");
    }
}

/// Every operation has a time built in, and each says that it is practice.
#[test]
fn every_operation_has_a_time_and_a_source() {
    let table = store::default_times().expect("sound");
    let names: Vec<&str> = table.rows().map(|row| row.operation.as_str()).collect();
    let mut all: Vec<&str> =
        knit::operation::Operation::ALL.into_iter().map(knit::operation::Operation::name).collect();
    all.sort_unstable();
    assert_eq!(names, all);
    assert!(table.rows().all(|row| row.seconds > 0.0 && row.source.contains("common practice")));
}

#[test]
fn a_workspace_has_times_of_its_own() {
    let demo = Demo::empty();
    let (before, ..) = minutes(&demo, "hat");
    let passes = work(&demo, "hat")["passes"].as_f64().expect("a number");
    append(
        &demo,
        "times.toml",
        "[[time]]\noperation = \"pass\"\nseconds = 63\nsource = \"my watch\"\n",
    );
    let (after, ..) = minutes(&demo, "hat");
    // A minute more for each pass; the average lies above the median by what is not known of the pace.
    let sure = (0.35f64.powi(2) + 0.15f64.powi(2) + 0.20f64.powi(2)) / 2.0;
    assert!((after - before - passes * sure.exp()).abs() <= 1.0, "{before} {after} {passes}");
    let faulty = "[[time]]\noperation = \"loop hangs\"\nseconds = 8\n\n[[time]]\noperation = \"pass\"\n\
                  seconds = -3\n\n[[time]]\noperation = \"pass\"\nseconds = 4\n";
    std::fs::write(demo.path.join("times.toml"), faulty).expect("written");
    let ran = demo.run(&["grade", "hat", "--sizes", "women-m"]);
    assert_eq!(ran.code, Some(1), "{}", ran.err);
    for told in ["times.toml:2:", "did you mean `loop hung`?", "times.toml:7:", "from 0 to 36000"] {
        assert!(ran.err.contains(told), "{told}: {}", ran.err);
    }
}

fn hat_record(date: &str, yarn: &str, more: &str) -> String {
    format!(
        "\n[[record]]\ngarment = \"hat\"\nsize = \"women-m\"\nyarn = \"{yarn}\"\nmachine = \"standard\"\n\
         swatch = \"standard\"\nsections = {{ hat = {{ before = \"90 g\", after = \"40 g\" }} }}\n\
         date = \"{date}\"\n{more}"
    )
}

/// From records to what is told of the next one: somebody slower than thought is told more, surer.
#[test]
fn records_with_minutes_teach_a_pace() {
    let demo = Demo::new();
    let (thought, low, high) = minutes(&demo, "hat");
    for (day, took) in [(1, 260), (2, 240), (3, 236), (4, 230)] {
        let date = format!("2026-04-0{day}");
        append(&demo, "records.toml", &hat_record(&date, "slate", &format!("minutes = {took}\n")));
    }
    let (learnt, from, to) = minutes(&demo, "hat");
    assert!((190.0..260.0).contains(&learnt) && learnt > 1.4 * thought, "{thought} {learnt}");
    assert!(to / from < 0.7 * high / low, "{low} {high}, {from} {to}");
    // The pace is the knitter's: other garments are told more too, and less sure.
    let (sock, sock_low, sock_high) = minutes(&demo, "sock");
    let (sock_thought, ..) = minutes(&Demo::new(), "sock");
    assert!(sock > 1.2 * sock_thought && sock_high / sock_low > to / from, "{sock_thought} {sock}");
}

/// One record for each yarn, work done once: as many stripes, as many pieces would be wrong.
#[test]
fn a_striped_hat_is_one_piece() {
    let (one, striped) = (Demo::new(), Demo::new());
    append(&one, "records.toml", &hat_record("2026-04-01", "slate", "minutes = 200\n"));
    append(&striped, "records.toml", &hat_record("2026-04-01", "slate", "minutes = 200\n"));
    append(&striped, "records.toml", &hat_record("2026-04-01", "beacon", ""));
    assert_eq!(minutes(&one, "hat"), minutes(&striped, "hat"));
    append(&striped, "records.toml", &hat_record("2026-04-02", "beacon", ""));
    assert!(minutes(&striped, "hat").0 < minutes(&one, "hat").0, "a second one goes quicker");
}

#[test]
fn an_evening_with_the_telephone_is_asked_about() {
    let demo = Demo::new();
    let before = minutes(&demo, "hat");
    append(&demo, "records.toml", &hat_record("2026-04-01", "slate", "minutes = 2600\n"));
    let ran = demo.run(&["grade", "hat", "--sizes", "women-m"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(
        ran.err.contains("hat in women-m, 2026-04-01 took 2600 minutes, and half of such"),
        "{}",
        ran.err
    );
    // It counts as made, and teaches nothing else.
    let after = minutes(&demo, "hat");
    assert!((after.0 / before.0 - 0.9).abs() < 0.03, "{before:?} {after:?}");
    append(&demo, "records.toml", &hat_record("2026-04-02", "slate", "minutes = 0.5\n"));
    let ran = demo.run(&["grade", "hat", "--sizes", "women-m"]);
    assert!(
        ran.err.contains("records.toml:") && ran.err.contains("from 1 to 100000"),
        "{}",
        ran.err
    );
}

fn gifts_of(plan: &Value) -> Vec<(f64, f64, f64, f64)> {
    let gifts = plan["gifts"].as_array().expect("a list").iter();
    let of = |gift: &Value, key: &str| gift[key].as_f64().expect("a number");
    gifts
        .map(|gift| {
            let done = |end: &str| of(gift, &format!("done_after_minutes{end}"));
            (of(gift, "minutes"), done(""), done("_low"), done("_high"))
        })
        .collect()
}

/// Averages add up; what is not known of the pace does not average out over a plan.
#[test]
fn a_plan_is_told_as_one_sum() {
    let demo = Demo::new();
    let plan = demo.plan(&[]);
    let gifts = gifts_of(&plan);
    assert!(gifts.len() > 3, "{plan:#}");
    let mut sum = 0.0;
    for (minutes, done, low, high) in &gifts {
        sum += minutes;
        assert!((sum - done).abs() <= gifts.len() as f64, "{sum} {done}");
        assert!(low < done && done < high);
    }
    let (_, _, low, high) = gifts[gifts.len() - 1];
    let (_, _, first_low, first_high) = gifts[0];
    assert!(high / low < first_high / first_low, "sums are surer, as shares");
    // Were the gifts independent, a dozen would lie within less than a third of that, as logarithms.
    assert!(gifts.len() >= 12, "{}", gifts.len());
    let (all, one) = ((high / low).ln(), (first_high / first_low).ln());
    assert!(all > 0.5 * one, "the pace is one for all: {low} {high}, {first_low} {first_high}");
    for gift in plan["gifts"].as_array().expect("a list") {
        let late = gift["chance_of_being_late"].as_f64();
        // All days are still to come.
        assert_eq!(late.is_some(), !gift["due"].is_null(), "{gift:#}");
        assert!(late.is_none_or(|late| (0.0..=1.0).contains(&late)));
    }
    let told = demo.run(&["plan", "--today", "2026-09-01", "--work", "4"]);
    assert!(told.out.contains("95 times in a hundred"), "{}", told.out);
    assert!(told.out.contains(" when it is done"), "{}", told.out);
}

/// In the order of work the averages fit the hours there are: gifts whose day is past make no other late.
#[test]
fn gifts_are_told_in_an_order_that_keeps_their_days() {
    let demo = Demo::new();
    for today in ["2026-09-01", "2026-11-15"] {
        let ran = demo.run(&["plan", "--today", today, "--work", "4", "--format", "json"]);
        let plan: Value = serde_json::from_str(&ran.out).expect("JSON");
        let today: knit::stash::Date = today.parse().expect("a day");
        let gifts = plan["gifts"].as_array().expect("a list");
        let mut dated = 0;
        for (nth, gift) in gifts.iter().enumerate() {
            let day =
                gift["due"].as_str().map(|day| day.parse::<knit::stash::Date>().expect("a day"));
            let Some(day) = day.filter(|day| *day > today) else { continue };
            // Five hours a week; each average is rounded.
            let minutes = f64::from((day - today).get_days()) / 7.0 * 300.0;
            let done = gift["done_after_minutes"].as_f64().expect("a number");
            assert!(done <= minutes + nth as f64 + 1.0, "{gift:#}: {minutes}");
            assert!(gift["chance_of_being_late"].as_f64().is_some_and(|late| late < 0.6));
            dated += 1;
        }
        assert!(dated > 5, "{plan:#}");
    }
}

/// From a record to the plan: whoever is slower than thought is promised less.
#[test]
fn a_record_changes_what_a_plan_promises() {
    let demo = Demo::new();
    let before = gifts_of(&demo.plan(&[]));
    for day in 1..=4 {
        let date = format!("2026-04-0{day}");
        append(&demo, "records.toml", &hat_record(&date, "slate", "minutes = 240\n"));
    }
    let after = gifts_of(&demo.plan(&[]));
    let a_gift = |gifts: &[(f64, f64, f64, f64)]| {
        gifts.iter().map(|gift| gift.0).sum::<f64>() / gifts.len() as f64
    };
    assert!(a_gift(&after) > a_gift(&before), "{before:?} {after:?}");
}

const USED: [&str; 4] = ["--used", "band:beacon-1=54 g", "--used", "hat:beacon-1=16 g"];

fn with_a_ball() -> Demo {
    let demo = Demo::new();
    let ran = demo.run(&["stash", "change", "beacon-1", "--weight", "64 g"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    demo
}

#[test]
fn minutes_are_recorded_and_told() {
    let demo = with_a_ball();
    let mut args = vec!["record", "tam", "--size", "y5-6", "--set", "wedges=6"];
    args.extend(USED);
    for wrong in ["0", "-5", "NaN", "an hour", "1e9"] {
        let ran = demo.run(&[&args[..], &["--minutes", wrong]].concat());
        assert_ne!(ran.code, Some(0), "{wrong}");
        assert!(wrong.starts_with('-') || ran.err.contains("from 1 to 100000"), "{}", ran.err);
    }
    let ran = demo.run(&[&args[..], &["--minutes", "195"]].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.contains("It took 195 minutes of work, and about"), "{}", ran.out);
    let records = demo.toml("records.toml");
    let last = records["record"].as_array().and_then(|all| all.last()).expect("a record");
    assert_eq!(last["minutes"].as_integer(), Some(195));
}

/// An hour and twelve minutes at the machine, in steps of a minute, with a pause of an hour in it.
fn at_the_machine(demo: &Demo, query: &str, id: &str) {
    let places = Places::open(Some(demo.path.clone())).expect("opened");
    let mut now = 1_000_000;
    for step in 0..=73_u32 {
        let place = Place {
            query: query.to_owned(),
            title: "Tam, 5-6 years".to_owned(),
            stop: step,
            of: 900,
            revision: u64::from(step),
        };
        let put = places.put(id, place, now).expect("put");
        assert!(matches!(put, Put::Done(_)));
        now += if step == 40 { 3_600 } else { 60 };
    }
}

#[test]
fn what_the_machine_counted_is_recorded() {
    let demo = with_a_ball();
    let mut args =
        vec!["record", "tam", "--size", "y5-6", "--set", "wedges=6", "--minutes", "counted"];
    args.extend(USED);
    let ran = demo.run(&args);
    assert_eq!(ran.code, Some(1), "{}", ran.err);
    assert!(ran.err.contains("no-time-counted") && ran.err.contains("as a number"), "{}", ran.err);
    at_the_machine(&demo, "garment=tam&sizes=y5-6&o.wedges=6", "0123456789abcdef");
    let ran = demo.run(&args);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.err.contains("counted at the machine: 72 min"), "{}", ran.err);
    assert!(demo.text("records.toml").contains("minutes = 72\n"));
    // Another size was not counted.
    let mut other = args.clone();
    other[3] = "y7-8";
    assert!(demo.run(&other).err.contains("no-time-counted"));
    // Two that it could be.
    at_the_machine(&demo, "garment=tam&sizes=y5-6&o.wedges=6&machine=standard", "00000000000000ff");
    let ran = demo.run(&args);
    assert!(ran.err.contains("it could be any of 2 pieces"), "{}", ran.err);
}

#[test]
fn the_page_at_the_machine_tells_the_time_and_hands_it_on() {
    let demo = with_a_ball();
    let query = "garment=tam&sizes=y5-6&o.wedges=6";
    let server = Server::of(&demo);
    let page = server.get(&format!("/machine?{query}"));
    let id = page.text().split("data-place=\"").nth(1).and_then(|rest| rest.split('"').next());
    let id = id.expect("an id").to_owned();
    assert!(!page.text().contains("so far"));
    at_the_machine(&demo, query, &id);
    let page = server.get(&format!("/machine?{query}"));
    assert!(page.text().contains("1 h 12 min at the machine so far"), "{}", page.text());
    let link = "/gifts?what=record&amp;garment=tam&amp;size=y5-6&amp;minutes=72#finished";
    let as_is = link.replace("&amp;", "&#38;");
    assert!(page.text().contains(link) || page.text().contains(&as_is), "{}", page.text());
    let place = server.get(&format!("/api/v1/places/{id}")).json();
    assert_eq!(place["worked_seconds"], 72 * 60);
    assert!(server.get("/machine").text().contains("steps, 1 h 12 min at the machine so far"));
    let form = server.get("/gifts?what=record&garment=tam&size=y5-6&minutes=72");
    assert!(form.text().contains("name=\"minutes\" value=\"72\""), "{}", form.text());
    // Over HTTP, as a word and as a number.
    let record = json!({
        "garment": "tam", "size": "y5-6", "options": { "wedges": "6" }, "look": true,
        "used": ["band:beacon-1=54 g", "hat:beacon-1=16 g"], "minutes": "counted"
    });
    let told = server.post("/api/v1/records", &record);
    assert_eq!(told.status, StatusCode::OK, "{}", told.text());
    assert_eq!(told.json()["time"]["took_minutes"], 72.0);
    let mut number = record.clone();
    number["minutes"] = json!(195);
    assert_eq!(server.post("/api/v1/records", &number).json()["time"]["took_minutes"], 195.0);
    number["minutes"] = json!(-1);
    problem(&server.post("/api/v1/records", &number), "range");
    // A step that another device told already is refused, and counts no time.
    let late = json!({ "query": query, "title": "Tam", "stop": 9, "of": 900, "revision": 3 });
    let path = format!("/api/v1/places/{id}");
    let refused = server.send(json_request(Method::PUT, &path, &late));
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert_eq!(refused.json()["worked_seconds"], 72 * 60);
}

/// What was recorded a moment ago is known to the pages at once.
#[test]
fn a_server_learns_while_it_runs() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let told = |server: &Server| {
        let run = server.get("/api/v1/grade?garment=hat&sizes=women-m").json();
        run["sizes"][0]["work"]["minutes"].as_f64().expect("a number")
    };
    let before = told(&server);
    for day in 1..=3 {
        let date = format!("2026-04-0{day}");
        append(&demo, "records.toml", &hat_record(&date, "slate", "minutes = 260\n"));
    }
    let after = told(&server);
    assert!(after > 1.3 * before, "{before} {after}");
    assert_eq!(after, minutes(&demo, "hat").0);
}

/// Odd minutes are told with the rest of what was learnt, with their line; what is vouched for already is
/// not asked for again.
#[test]
fn odd_minutes_are_told_where_the_rest_is() {
    let demo = Demo::new();
    append(&demo, "records.toml", &hat_record("2026-04-01", "slate", "minutes = 2600\n"));
    let out = demo.run(&["learnt"]).out;
    let line = out.lines().find(|line| line.contains("took 2600 minutes")).expect("told");
    assert!(line.starts_with("The hat in Women M took 2600 minutes where"), "{line}");
    assert!(line.contains("in record 3 of records.toml:26"), "{line}");
    assert!(line.ends_with("write `sure = [\"minutes\"]` there"), "{line}");
    let server = Server::of(&demo);
    assert!(server.get("/learnt").text().contains("took 2600 minutes"));
    let minutes = server.get("/api/v1/learnt").json()["pieces"][2]["minutes"].clone();
    assert_eq!((&minutes["counts"], &minutes["took"]), (&json!("asked"), &json!(2600.0)));
    append(
        &demo,
        "records.toml",
        &hat_record("2026-04-02", "slate", "minutes = 90000\nsure = true\n"),
    );
    let ran = demo.run(&["grade", "hat", "--sizes", "women-m"]);
    let hints: Vec<&str> = ran.err.split("warning[").filter(|w| w.contains("90000")).collect();
    assert!(hints.len() == 1 && !hints[0].contains("sure"), "{}", ran.err);
}

/// No number fills a page.
#[test]
fn a_time_beyond_all_measure_is_refused_by_its_size() {
    let demo = Demo::empty();
    append(&demo, "times.toml", "[[time]]\noperation = \"pass\"\nseconds = 1e308\n");
    let ran = demo.run(&["grade", "hat", "--sizes", "women-m"]);
    assert!(ran.err.contains("1e308 seconds can't be so"), "{}", ran.err);
}
