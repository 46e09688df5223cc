//! Several who knit together: who knits what on which bed, what yarn travels, what is kept, what a plan
//! aims at. The keeper's family at Skerry Light and neighbours on other rocks, all invented.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use axum::http::StatusCode;
use plan::{
    Deadline, Gift, GiftOption, Instance, Points, Remnant, Section, SolveSettings, check, solve,
};
use serde_json::{Value, json};

use crate::demo::Demo;
use crate::server::Server;

fn good(demo: &Demo, args: &[&str]) -> String {
    let ran = demo.run(args);
    assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.err);
    ran.out
}

fn refused(demo: &Demo, args: &[&str]) -> String {
    let ran = demo.run(args);
    assert_ne!(ran.code, Some(0), "{args:?}: {}", ran.out);
    ran.err
}

fn write(demo: &Demo, file: &str, text: &str) {
    let path = demo.path.join(file);
    std::fs::create_dir_all(path.parent().expect("a folder")).expect("made");
    std::fs::write(path, text).expect("written");
}

const SLATE: &str = "yarn = \"400 m/100 g\"\nswatches = [\"standard\"]\ncare = \"machine 40\"\n\
    [[colour]]\nname = \"slate\"\nshade = \"#5a6570\"\n";

/// Hats for so many, each of whom wears M, and these balls of one yarn in grams.
fn hats(gifts: usize, balls: &[u32]) -> Demo {
    let demo = Demo::new();
    for file in ["people.toml", "gifts.toml", "stash.toml", "records.toml", "plan.toml"] {
        write(&demo, file, "");
    }
    write(&demo, "yarns/slate.toml", SLATE);
    for path in std::fs::read_dir(demo.path.join("yarns")).expect("a folder") {
        let path = path.expect("a file").path();
        if path.file_name().is_some_and(|name| name != "slate.toml") {
            std::fs::remove_file(path).expect("removed");
        }
    }
    let (mut people, mut wishes, mut stash) = (String::new(), String::new(), String::new());
    for n in 1..=gifts {
        writeln!(people, "[[person]]\nname = \"Keeper {n}\"\nsize = \"women-m\"\n").expect("text");
        writeln!(
            wishes,
            "[[gift]]\nid = \"hat-{n}\"\nperson = \"Keeper {n}\"\ngarment = \"hat\"\n"
        )
        .expect("text");
    }
    for (n, grams) in balls.iter().enumerate() {
        let n = n + 1;
        writeln!(
            stash,
            "[[remnant]]\nid = \"slate-{n}\"\nyarn = \"slate\"\nweight = \"{grams} g\"\n"
        )
        .expect("text");
    }
    write(&demo, "people.toml", &people);
    write(&demo, "gifts.toml", &wishes);
    write(&demo, "stash.toml", &stash);
    demo
}

fn list<'a>(plan: &'a Value, key: &str) -> &'a [Value] {
    plan[key].as_array().map_or(&[], Vec::as_slice)
}

fn text<'a>(value: &'a Value, key: &str) -> &'a str {
    value[key].as_str().unwrap_or_default()
}

/// Ids of the gifts made, with who knits each.
fn made(plan: &Value) -> BTreeMap<&str, &str> {
    list(plan, "gifts").iter().map(|gift| (text(gift, "gift"), text(gift, "knitter"))).collect()
}

/// The remnants that a gift is knitted from.
fn remnants_of<'a>(plan: &'a Value, gift: &str) -> BTreeSet<&'a str> {
    let own = list(plan, "gifts").iter().filter(|own| own["gift"] == gift);
    let sections = own.flat_map(|gift| list(gift, "sections"));
    sections.flat_map(|s| list(s, "takes")).map(|chunk| text(chunk, "remnant")).collect()
}

fn used(plan: &Value) -> (f64, usize) {
    let of = |r: &Value, key: &str| r[key].as_f64().expect("grams");
    let taken = list(plan, "remnants").iter().map(|r| of(r, "had_grams") - of(r, "left_grams"));
    let taken: Vec<f64> = taken.filter(|grams| *grams > 0.0).collect();
    (taken.iter().sum(), taken.len())
}

const MORWEN: [&str; 9] = [
    "knitters",
    "add",
    "Morwen",
    "--machine",
    "standard",
    "--hours-a-week",
    "6",
    "--where",
    "Skerry Light",
];
const TREEVE: [&str; 9] = [
    "knitters",
    "add",
    "Treeve",
    "--machine",
    "bulky",
    "--hours-a-week",
    "10",
    "--where",
    "Gull Rock",
];

/// Where one knits all, neither lists nor plans know of knitters, places or yarn that is kept.
#[test]
fn one_knitter_sees_nothing_of_the_others() {
    let demo = Demo::new();
    let page = good(&demo, &["plan", "--today", "2026-09-01", "--work", "2"]);
    for word in ["Who knits", "travels", "is kept", "Its aim"] {
        assert!(!page.contains(word), "{word}: {page}");
    }
    let plan = demo.plan(&[]);
    for key in ["travels", "kept", "aim"] {
        assert!(plan.get(key).is_none(), "{key}");
    }
    assert!(list(&plan, "gifts").iter().all(|gift| gift.get("knitter").is_none()));
    for rows in ["stash", "gifts", "yarn"] {
        let csv = good(&demo, &[rows, "list", "--format", "csv"]);
        let first = csv.lines().next().expect("headings");
        for word in ["Where", "Kept for", "Knitter", "Reserve g"] {
            assert!(!first.split(',').any(|own| own == word), "{first}");
        }
    }
    let csv = good(&demo, &["plan", "--work", "1", "--format", "csv"]);
    assert!(csv.lines().next().is_some_and(|first| first.ends_with("to min")), "{csv}");
    assert!(!demo.path.join("knitters.toml").exists());
}

/// The list is kept like the others: added to, changed, renamed, taken from; each can be undone.
#[test]
fn knitters_are_kept_by_commands_and_undone() {
    let demo = Demo::new();
    good(&demo, &MORWEN);
    good(&demo, &TREEVE);
    assert!(demo.text("knitters.toml").contains("hours_a_week = 6\n"));
    let rows = good(&demo, &["knitters", "list", "--format", "csv"]);
    assert!(rows.contains("Morwen,standard,6,Skerry Light,"), "{rows}");
    let told = refused(&demo, &["knitters", "add", "treeve"]);
    assert!(told.contains("there is a knitter `Treeve` already"), "{told}");
    let told = refused(&demo, &["knitters", "change", "Treeve", "--machine", "bukly"]);
    assert!(
        told.contains("there is no machine profile `bukly`") && told.contains("bulky"),
        "{told}"
    );
    let told = refused(&demo, &["knitters", "change", "Treeve", "--hours-a-week", "169"]);
    assert!(told.contains("169 is out of range"), "{told}");
    good(&demo, &["gifts", "change", "derwa-gift", "--knitter", "Treeve"]);
    let told = refused(&demo, &["gifts", "change", "kitto-hat", "--knitter", "Trevee"]);
    assert!(told.contains("there is no knitter `Trevee`") && told.contains("Treeve"), "{told}");
    let told = refused(&demo, &["knitters", "remove", "Treeve"]);
    assert!(told.contains("`Treeve` is to knit derwa-gift"), "{told}");
    // A new name goes through the gifts too.
    good(&demo, &["knitters", "change", "Treeve", "--name", "Old Treeve"]);
    assert!(demo.text("gifts.toml").contains("knitter = \"Old Treeve\""));
    good(&demo, &["undo"]);
    assert!(demo.text("gifts.toml").contains("knitter = \"Treeve\""));
    good(&demo, &["gifts", "change", "derwa-gift", "--knitter", ""]);
    let before = demo.text("knitters.toml");
    good(&demo, &["knitters", "remove", "Treeve"]);
    assert!(!demo.text("knitters.toml").contains("Treeve"));
    good(&demo, &["undo"]);
    assert_eq!(demo.text("knitters.toml"), before);
    let schema = good(&demo, &["schema", "knitters"]);
    let schema: Value = serde_json::from_str(&schema).expect("JSON");
    let keys = &schema["properties"]["knitter"]["items"]["properties"];
    for key in ["name", "machines", "hours_a_week", "where", "note"] {
        assert!(keys[key].is_object(), "{key}");
    }
}

#[test]
fn knitters_are_kept_over_http_too() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let treeve = json!({ "name": "Treeve", "machines": ["bulky"], "where": "Gull Rock" });
    let added = server.post("/api/v1/lists/knitters", &treeve);
    assert_eq!(added.status, StatusCode::CREATED, "{}", added.text());
    let entry = server.get("/api/v1/lists/knitters/Treeve").json();
    assert_eq!(entry["where"], "Gull Rock");
    assert!(server.get("/api/v1/lists/knitters").text().contains("Treeve"));
    let wrong = server.post("/api/v1/lists/knitters", &json!({ "name": "Ia", "machines": ["x"] }));
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", wrong.text());
    let undone = server.post("/api/v1/undo", &json!({}));
    assert_eq!(undone.status, StatusCode::OK, "{}", undone.text());
    assert_eq!(server.get("/api/v1/lists/knitters/Treeve").status, StatusCode::NOT_FOUND);
    let wrong = server.post("/api/v1/plans", &json!({ "aim": "use it up" }));
    assert!(wrong.text().contains("is no aim of a plan"), "{}", wrong.text());
}

/// A gift goes to whoever has its machine, or to whom it names; what nobody can knit is said.
#[test]
fn each_gift_goes_to_a_knitter_who_has_its_machine() {
    let demo = Demo::new();
    good(&demo, &MORWEN);
    good(&demo, &TREEVE);
    let plan = demo.plan(&[]);
    let mut by = BTreeSet::new();
    for gift in list(&plan, "gifts") {
        let knitter = text(gift, "knitter");
        let wanted = if knitter == "Treeve" { "bulky" } else { "standard" };
        assert_eq!(text(gift, "machine"), wanted, "{gift:#}");
        by.insert(knitter);
    }
    assert_eq!(by, ["Morwen", "Treeve"].into(), "both have something to knit");
    let page = good(&demo, &["plan", "--today", "2026-09-01", "--work", "2"]);
    assert!(page.contains(", by Morwen,") && page.contains("- Treeve: "), "{page}");
    // A hat of yarn for the standard bed, by someone who has only the bulky one.
    let demo = hats(1, &[90]);
    good(&demo, &MORWEN);
    good(&demo, &TREEVE);
    assert_eq!(made(&demo.plan(&[])), [("hat-1", "Morwen")].into());
    good(&demo, &["gifts", "change", "hat-1", "--knitter", "Treeve"]);
    let plan = demo.plan(&[]);
    let reasons = plan["left_out"][0]["reasons"].to_string();
    assert!(reasons.contains("Treeve, who is to knit it, has no Standard"), "{reasons}");
    good(&demo, &["gifts", "change", "hat-1", "--knitter", ""]);
    good(&demo, &["knitters", "change", "Morwen", "--hours-a-week", "0"]);
    let reasons = demo.plan(&[])["left_out"][0]["reasons"].to_string();
    assert!(reasons.contains("nobody who has time has the Standard"), "{reasons}");
}

/// Yarn goes to whoever is near, unless only another can knit it: then the way is told. A way costs
/// what the settings say.
#[test]
fn yarn_that_travels_is_told_and_costs() {
    let demo = hats(2, &[90, 90]);
    good(&demo, &MORWEN);
    good(&demo, &["knitters", "add", "Treeve", "--machine", "standard", "--where", "gull rock"]);
    good(&demo, &["stash", "change", "slate-1", "--where", "Skerry Light"]);
    good(&demo, &["stash", "change", "slate-2", "--where", "Gull Rock"]);
    let plan = demo.plan(&[]);
    assert_eq!(list(&plan, "travels").len(), 0, "each knits from what lies there");
    for (gift, knitter) in made(&plan) {
        let ball = if knitter == "Morwen" { "slate-1" } else { "slate-2" };
        assert_eq!(remnants_of(&plan, gift), [ball].into(), "{gift}");
    }
    let near = plan["objective"].as_f64().expect("points");
    for gift in ["hat-1", "hat-2"] {
        good(&demo, &["gifts", "change", gift, "--knitter", "Morwen"]);
    }
    let plan = demo.plan(&[]);
    let travels = list(&plan, "travels");
    assert_eq!(travels.len(), 1, "{plan:#}");
    assert_eq!((text(&travels[0], "remnant"), text(&travels[0], "from")), ("slate-2", "Gull Rock"));
    assert_eq!((text(&travels[0], "to"), text(&travels[0], "knitter")), ("Skerry Light", "Morwen"));
    let far = plan["objective"].as_f64().expect("points");
    assert!((near - far - 5.0).abs() < 1e-6, "{near} {far}");
    let page = good(&demo, &["plan", "--work", "1"]);
    assert!(page.contains("from Gull Rock to Skerry Light, for Morwen"), "{page}");
    let settings = demo.text("oddments.toml");
    write(&demo, "oddments.toml", &settings.replace("[weights]", "[weights]\ntravel = 50"));
    let far = demo.plan(&[])["objective"].as_f64().expect("points");
    assert!((near - far - 50.0).abs() < 1e-6, "{near} {far}");
    let rows = good(&demo, &["stash", "list", "--format", "csv"]);
    assert!(rows.lines().next().is_some_and(|first| first.contains("Where")), "{rows}");
}

/// Each knitter has a queue and hours of their own.
#[test]
fn each_knitter_has_hours_and_a_queue_of_their_own() {
    let demo = hats(4, &[90, 90, 90, 90]);
    for n in 1..=4 {
        good(&demo, &["gifts", "change", &format!("hat-{n}"), "--due", "2026-09-15"]);
    }
    // A hat takes some two hours: in two weeks Morwen makes two, and nobody else has any time.
    good(&demo, &["knitters", "add", "Morwen", "--hours-a-week", "2.5"]);
    let alone = demo.plan(&[]);
    assert_eq!(list(&alone, "gifts").len(), 2, "{alone:#}");
    good(&demo, &["knitters", "add", "Treeve", "--hours-a-week", "2.5"]);
    let plan = demo.plan(&[]);
    let each = made(&plan);
    let of = |name: &str| each.values().filter(|own| **own == name).count();
    assert_eq!((of("Morwen"), of("Treeve")), (2, 2), "{each:?}");
    let mut done: BTreeMap<&str, f64> = BTreeMap::new();
    for gift in list(&plan, "gifts") {
        let minutes = gift["minutes"].as_f64().expect("minutes");
        let own = done.entry(text(gift, "knitter")).or_default();
        *own += minutes;
        let told = gift["done_after_minutes"].as_f64().expect("minutes");
        assert!((told - *own).abs() <= 2.0, "{told} {own}");
        assert!(*own <= 300.0 + 2.0 && gift["chance_of_being_late"].is_number(), "{gift:#}");
    }
}

/// What is accepted says who knits it, and who knits something set aside is not taken out.
#[test]
fn an_accepted_plan_remembers_who_knits_what() {
    let demo = hats(1, &[90]);
    good(&demo, &MORWEN);
    good(&demo, &["plan", "--accept", "--work", "1"]);
    assert!(demo.text("plan.toml").contains("knitter = \"Morwen\""), "{}", demo.text("plan.toml"));
    let rows = good(&demo, &["gifts", "list", "--format", "csv"]);
    assert!(rows.lines().nth(1).is_some_and(|row| row.ends_with(",Morwen")), "{rows}");
    let told = refused(&demo, &["knitters", "remove", "Morwen"]);
    assert!(told.contains("is to knit hat-1") && told.contains("gifts free hat-1"), "{told}");
    good(&demo, &["knitters", "change", "Morwen", "--name", "Wenn"]);
    assert!(demo.text("plan.toml").contains("knitter = \"Wenn\""));
    good(&demo, &["gifts", "free", "hat-1"]);
    good(&demo, &["knitters", "remove", "Wenn"]);
    let rows = good(&demo, &["gifts", "list", "--format", "csv"]);
    assert!(!rows.contains("Knitter"), "{rows}");
}

/// Only those it is kept for have it; what is kept for something else is not planned with.
#[test]
fn yarn_is_kept_for_a_gift_a_person_or_something_else() {
    let demo = hats(2, &[90, 90]);
    good(&demo, &["stash", "change", "slate-1", "--keep-for", "hat-2"]);
    good(&demo, &["stash", "change", "slate-2", "--keep-for", "a jumper one day"]);
    let plan = demo.plan(&[]);
    assert_eq!(made(&plan).into_keys().collect::<Vec<_>>(), ["hat-2"]);
    assert_eq!(remnants_of(&plan, "hat-2"), ["slate-1"].into());
    let kept = list(&plan, "kept");
    assert_eq!((text(&kept[0], "remnant"), text(&kept[0], "for")), ("slate-1", "hat-2"));
    assert_eq!(text(&kept[1], "for_something_else"), "a jumper one day");
    let page = good(&demo, &["plan", "--work", "1"]);
    assert!(page.contains("slate-1, 90.0 g: for hat-2 alone"), "{page}");
    assert!(page.contains("slate-2, 90.0 g: kept for a jumper one day"), "{page}");
    // For a person it is for all their gifts; another name of theirs follows.
    good(&demo, &["stash", "change", "slate-2", "--keep-for", "Keeper 1"]);
    let plan = demo.plan(&[]);
    assert_eq!(remnants_of(&plan, "hat-1"), ["slate-2"].into());
    good(&demo, &["people", "change", "Keeper 1", "--name", "Ebrel"]);
    good(&demo, &["gifts", "change", "hat-2", "--new-id", "grey-hat"]);
    let stash = demo.text("stash.toml");
    assert!(stash.contains("keep_for = \"Ebrel\"") && stash.contains("\"grey-hat\""), "{stash}");
    assert_eq!(list(&demo.plan(&[]), "gifts").len(), 2);
    let rows = good(&demo, &["stash", "list", "--format", "csv"]);
    assert!(rows.contains("Kept for") && rows.contains(",grey-hat"), "{rows}");
}

/// The reserve of a yarn comes off its largest remnant, then the next.
#[test]
fn a_reserve_of_a_yarn_is_never_planned_with() {
    let demo = hats(3, &[60, 90, 70]);
    assert_eq!(list(&demo.plan(&[]), "gifts").len(), 3);
    good(&demo, &["yarn", "change", "slate", "--reserve-g", "100"]);
    let plan = demo.plan(&[]);
    let kept = list(&plan, "kept");
    let told: Vec<(&str, f64)> =
        kept.iter().map(|own| (text(own, "remnant"), own["grams"].as_f64().expect("g"))).collect();
    assert_eq!(told, [("slate-2", 90.0), ("slate-3", 10.0)]);
    assert_eq!(list(&plan, "gifts").len(), 2, "{plan:#}");
    let had: f64 =
        list(&plan, "remnants").iter().map(|r| r["had_grams"].as_f64().expect("g")).sum();
    assert!((had - 120.0).abs() < 1e-6, "{had}");
    let rows = good(&demo, &["yarn", "list", "--format", "csv"]);
    assert!(rows.contains("Reserve g") && rows.contains(",100"), "{rows}");
    let told = refused(&demo, &["yarn", "change", "slate", "--reserve-g=-1"]);
    assert!(told.contains("-1 is out of range"), "{told}");
    good(&demo, &["yarn", "change", "slate", "--reserve-g", "0"]);
    assert!(!demo.text("yarns/slate.toml").contains("reserve"));
}

/// Each aim is better than the others at what it aims at, and the plan says which it followed.
#[test]
fn a_plan_is_good_at_what_it_aims_at() {
    let demo = Demo::new();
    let aims = ["most gifts", "use up", "few balls", "least time"];
    let plans: Vec<Value> = aims.iter().map(|aim| demo.plan(&["--aim", aim])).collect();
    let minutes = |plan: &Value| -> f64 {
        list(plan, "gifts").iter().map(|gift| gift["minutes"].as_f64().expect("min")).sum()
    };
    for (aim, plan) in aims.iter().zip(&plans) {
        assert_eq!(text(plan, "aim"), *aim);
        assert_eq!(list(plan, "gifts").len(), list(&plans[0], "gifts").len(), "{aim}");
    }
    let [most, up, few, least] = &plans[..] else { panic!("four plans") };
    assert!(used(up).0 > used(most).0 + 50.0, "{:?} {:?}", used(up), used(most));
    assert!(used(few).1 < used(most).1, "{:?} {:?}", used(few), used(most));
    assert!(minutes(least) < minutes(most), "{} {}", minutes(least), minutes(most));
    // In the settings, and a weight of one's own.
    let settings = demo.text("oddments.toml");
    write(&demo, "oddments.toml", &format!("aim = \"few balls\"\n{settings}"));
    let plan = demo.plan(&[]);
    assert_eq!((text(&plan, "aim"), used(&plan).1), ("few balls", used(few).1));
    let page = good(&demo, &["plan", "--work", "1", "--aim", "use up"]);
    assert!(page.contains("Its aim: as many grams used up as can be."), "{page}");
    write(&demo, "oddments.toml", &settings.replace("[weights]", "[weights]\nball = 400"));
    assert!(used(&demo.plan(&[])).1 <= used(most).1);
    write(&demo, "oddments.toml", &format!("aim = \"most\"\n{settings}"));
    let told = refused(&demo, &["plan"]);
    assert!(told.contains("`most` is not an aim of a plan") || told.contains("aim"), "{told}");
}

/// Two gifts of one person differ, where nothing speaks against it.
#[test]
fn who_gets_two_gets_two_kinds() {
    let demo = hats(1, &[90, 90]);
    let gifts: String = ["one", "two"]
        .iter()
        .map(|id| {
            format!(
                "[[gift]]\nid = \"{id}\"\nperson = \"Keeper 1\"\ngarment = [\"hat\", \"headband\"]\n\n"
            )
        })
        .collect();
    write(&demo, "gifts.toml", &gifts);
    let plan = demo.plan(&[]);
    let kinds: BTreeSet<&str> = list(&plan, "gifts").iter().map(|g| text(g, "garment")).collect();
    assert_eq!(kinds.len(), 2, "{plan:#}");
}

/// Forty hats for nobody by name: one entry, a gift for each, so many of each size; what is said of one
/// is kept in the entry.
#[test]
fn many_of_a_kind_are_one_entry_and_a_gift_each() {
    let demo = hats(0, &[100, 100, 100]);
    let add = [
        "gifts",
        "add",
        "--id",
        "hats",
        "--garment",
        "hat",
        "--count",
        "12",
        "--sizes",
        "y4,y7-8,y11-12",
        "--each-at-least",
        "2",
        "--due",
        "2026-12-01",
    ];
    good(&demo, &add);
    assert!(demo.text("gifts.toml").contains("count = 12\n"), "{}", demo.text("gifts.toml"));
    let plan = demo.plan(&["--explain"]);
    let many = &list(&plan, "many")[0];
    let gifts = list(&plan, "gifts");
    assert_eq!((text(many, "gift"), &many["count"]), ("hats", &json!(12)));
    assert_eq!(many["made"], json!(gifts.len()));
    assert!((6..12).contains(&gifts.len()), "{many:#}");
    let sizes = many["sizes"].as_object().expect("sizes");
    assert_eq!(sizes.len(), 3, "{many:#}");
    assert!(sizes.values().all(|made| made.as_u64().is_some_and(|made| made >= 2)), "{many:#}");
    assert!(gifts.iter().all(|gift| gift["person"].is_null()));
    let page = good(&demo, &["plan", "--today", "2026-09-01", "--work", "4"]);
    assert!(page.contains(&format!("- hats: {} of 12: ", gifts.len())), "{page}");
    assert!(page.contains(" of 12 gifts can be made") && page.contains("more like it"), "{page}");
    assert!(!page.contains(" for :") && !page.contains("for (priority"), "{page}");
    // Yarn is set aside for single ones; the list stays one row.
    good(&demo, &["plan", "--today", "2026-09-01", "--work", "4", "--accept"]);
    assert!(demo.text("plan.toml").contains("gift = \"hats-1\""));
    let rows = good(&demo, &["gifts", "list", "--format", "csv"]);
    assert_eq!(rows.lines().count(), 2, "{rows}");
    assert!(rows.contains(" set aside"), "{rows}");
    // One is begun and done, the other way round by the name of the entry.
    good(&demo, &["gifts", "begin", "hats-2"]);
    let told = good(&demo, &["gifts", "done", "hats-1"]);
    assert!(told.contains("hats-1"), "{told}");
    let file = demo.toml("gifts.toml");
    let pieces = &file["gift"][0]["pieces"];
    assert_eq!(pieces["1"]["state"].as_str(), Some("done"));
    assert_eq!(pieces["2"]["state"].as_str(), Some("on the machine"));
    assert!(!demo.text("plan.toml").contains("\"hats-1\""), "its yarn is free");
    let rows = good(&demo, &["gifts", "list", "--format", "csv"]);
    assert!(rows.contains("1 on the machine") && rows.contains("1 done"), "{rows}");
    good(&demo, &["undo"]);
    assert!(demo.text("plan.toml").contains("\"hats-1\""));
    // The entry has another name, and all its pieces with it.
    good(&demo, &["gifts", "change", "hats", "--new-id", "school-hats"]);
    let after = demo.text("plan.toml");
    assert!(after.contains("\"school-hats-1\"") && !after.contains("\"hats-"), "{after}");
    let told = refused(&demo, &["gifts", "remove", "school-hats"]);
    assert!(told.contains("school-hats-"), "{told}");
    good(&demo, &["gifts", "free", "school-hats"]);
    assert!(!demo.text("plan.toml").contains("school-hats"), "{}", demo.text("plan.toml"));
    good(&demo, &["gifts", "remove", "school-hats"]);
    assert_eq!(list(&demo.plan(&[]), "gifts").len(), 0);
}

#[test]
fn what_is_wrong_with_many_is_told_at_its_place() {
    let demo = hats(1, &[90]);
    let entry = "[[gift]]\nid = \"hats\"\ngarment = \"hat\"\n";
    for (more, told) in [
        ("count = 3\n", "there is no `sizes`"),
        ("sizes = \"children\"\n", "there is no `count`"),
        ("count = 0\nsizes = \"children\"\n", "0 is out of range"),
        ("count = 3\nsizes = \"childern\"\n", "childern"),
        (
            "count = 3\nsizes = [\"y4\", \"y7-8\"]\neach_at_least = 2\n",
            "2 of each of 2 sizes are not in 3",
        ),
        ("count = 3\nsizes = \"y4\"\nperson = \"Keeper 1\"\n", "for nobody by name"),
        (
            "count = 3\nsizes = \"y4\"\npieces = { 4 = { keep = true } }\n",
            "there is no piece 4 of 3",
        ),
        ("count = 3\nsizes = \"y4\"\npinned = { hat = \"slate-1\" }\n", "pinned to no remnant"),
        ("", "there is no `person`"),
        (
            "count = 2\nsizes = \"y4\"\n[[gift]]\nid = \"hats-2\"\nperson = \"Keeper 1\"\n\
          garment = \"hat\"\n",
            "`hats-2` is one of many already",
        ),
    ] {
        write(&demo, "gifts.toml", &format!("{entry}{more}"));
        let ran = refused(&demo, &["gifts", "list"]);
        assert!(ran.contains(told) && ran.contains("gifts.toml:"), "{more}: {ran}");
    }
    write(&demo, "gifts.toml", &format!("{entry}count = 3\nsizes = \"y4\"\n"));
    let told = refused(&demo, &["gifts", "change", "hats-2", "--priority", "5"]);
    assert!(told.contains("`hats-2` is one of 3 in `hats`"), "{told}");
    let told = refused(&demo, &["gifts", "remove", "hats-2"]);
    assert!(told.contains("it can't be taken out alone"), "{told}");
    let told = refused(&demo, &["gifts", "change", "hats-2", "--new-id", "other"]);
    assert!(told.contains("it has no name of its own"), "{told}");
}

/// The same at the solver, looked over by the checker, which shares no code with it.
#[test]
fn a_large_plan_of_six_knitters_passes_the_checker() {
    const KNITTERS: usize = 6;
    let mut draw = 17u64;
    let mut below = |n: u64| {
        draw = draw.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (draw >> 33) % n
    };
    let mut instance = Instance {
        deadlines: (1..=3u64)
            .map(|d| Deadline {
                minutes: (0..KNITTERS as u64).map(|k| d * (300 + 60 * k)).collect(),
            })
            .collect(),
        travel: (0..KNITTERS)
            .map(|k| (0..4).map(|p| Points::whole(if p == k % 4 { 0 } else { 5 })).collect())
            .collect(),
        ..Instance::default()
    };
    for _ in 0..600 {
        let usable_dg = 150 + below(700) as u32;
        let (group, place) = (below(40) as usize, below(4) as usize);
        let mass_dg = usable_dg + 10;
        instance.remnants.push(Remnant { group, usable_dg, mass_dg, place, ..Remnant::default() });
    }
    for _ in 0..300 {
        let groups: Vec<usize> = (0..3).map(|_| below(40) as usize).collect();
        let (grams, minutes) = (200 + below(400) as u32, 90 + below(120) as u32);
        let need_dg = groups.iter().map(|group| (*group, grams)).collect();
        let section = Section { joinable: true, need_dg, ..Section::default() };
        let able = (0..KNITTERS).filter(|_| below(3) > 0);
        let options: Vec<GiftOption> = able
            .map(|knitter| {
                let sections = vec![section.clone()];
                GiftOption { knitter, minutes, sections, ..GiftOption::default() }
            })
            .collect();
        let due = Some(below(3) as usize);
        let priority = 1 + below(5) as i64;
        instance.gifts.push(Gift { priority, due, options, ..Gift::default() });
    }
    instance.remnants[0].kept_for = Some([3, 4].into());
    let settings = SolveSettings { work_limit: 2000, ..SolveSettings::default() };
    let outcome = solve(&instance, &settings, &mut |_| {}).expect("a sound instance");
    assert!(check(&instance, &outcome.plan).is_empty());
    let made = outcome.plan.gifts.iter().flatten().count();
    // Hours for some fifty: each knitter has from 15 to 30 in all.
    assert!(made > 30, "{made}");
    let knitters: BTreeSet<usize> = instance
        .gifts
        .iter()
        .zip(&outcome.plan.gifts)
        .filter_map(|(gift, made)| Some(gift.options[made.as_ref()?.option].knitter))
        .collect();
    assert_eq!(knitters.len(), KNITTERS, "everyone has something to knit");
}

/// Three hundred gifts, six hundred balls, six who knit on four rocks: looked over from outside, by what
/// the plan itself says.
#[test]
fn a_plan_of_six_knitters_keeps_to_their_hours_and_tells_every_way() {
    let balls: Vec<u32> = (0..600).map(|n| 20 + (n * 37) % 70).collect();
    let demo = hats(300, &balls);
    let places = ["Skerry Light", "Gull Rock", "Cormorant Stack", "The Anvil"];
    let stash = demo.text("stash.toml");
    let placed: String = stash
        .split_inclusive("weight")
        .enumerate()
        .map(|(n, part)| {
            part.replacen("weight", &format!("where = \"{}\"\nweight", places[n % 4]), 1)
        })
        .collect();
    write(&demo, "stash.toml", &placed.replace("\nwhere = \"Skerry Light\"\nwhere", "\nwhere"));
    let mut knitters = String::new();
    for (n, name) in ["Morwen", "Treeve", "Senara", "Ia", "Petroc", "Zenna"].iter().enumerate() {
        writeln!(
            knitters,
            "[[knitter]]\nname = \"{name}\"\nmachines = [\"standard\"]\nhours_a_week = {}\n\
             where = \"{}\"\n",
            3 + n,
            places[n % 4]
        )
        .expect("text");
    }
    write(&demo, "knitters.toml", &knitters);
    let due: String = demo
        .text("gifts.toml")
        .replace("garment = \"hat\"", "garment = \"hat\"\ndue = \"2026-10-06\"");
    write(&demo, "gifts.toml", &due);
    let plan = demo.plan(&[]);
    let gifts = list(&plan, "gifts");
    assert!(gifts.len() > 50, "{}", gifts.len());
    let stash: BTreeMap<String, (f64, String)> = demo.toml("stash.toml")["remnant"]
        .as_array()
        .expect("remnants")
        .iter()
        .map(|r| {
            let said = |key: &str| r[key].as_str().expect("a text").to_owned();
            let grams = said("weight").trim_end_matches(" g").parse().expect("grams");
            (said("id"), (grams, said("where")))
        })
        .collect();
    let home: BTreeMap<&str, (f64, &str)> =
        [("Morwen", 0), ("Treeve", 1), ("Senara", 2), ("Ia", 3), ("Petroc", 4), ("Zenna", 5)]
            .map(|(name, n)| (name, (f64::from(3 + n) * 60.0 * 5.0, places[n as usize % 4])))
            .into();
    let (mut minutes, mut taken) = (BTreeMap::<&str, f64>::new(), BTreeMap::<&str, f64>::new());
    let mut ways: BTreeMap<(&str, &str), f64> = BTreeMap::new();
    for gift in gifts {
        let knitter = text(gift, "knitter");
        *minutes.entry(knitter).or_default() += gift["minutes"].as_f64().expect("minutes");
        for chunk in list(gift, "sections").iter().flat_map(|section| list(section, "takes")) {
            let (remnant, grams) = (text(chunk, "remnant"), chunk["grams"].as_f64().expect("g"));
            *taken.entry(remnant).or_default() += grams;
            if stash[remnant].1 != home[knitter].1 {
                *ways.entry((remnant, knitter)).or_default() += grams;
            }
        }
    }
    for (knitter, minutes) in &minutes {
        // Each average is rounded.
        assert!(*minutes <= home[knitter].0 + gifts.len() as f64, "{knitter}: {minutes}");
    }
    for (remnant, grams) in taken {
        assert!(grams <= stash[remnant].0 + 0.05, "{remnant}: {grams}");
    }
    let told = list(&plan, "travels").iter().map(|way| {
        ((text(way, "remnant"), text(way, "knitter")), way["grams"].as_f64().expect("grams"))
    });
    let told: BTreeMap<(&str, &str), f64> = told.collect();
    assert_eq!(told.keys().collect::<Vec<_>>(), ways.keys().collect::<Vec<_>>());
    assert!(told.iter().all(|(way, grams)| (grams - ways[way]).abs() < 0.05), "{told:?} {ways:?}");
}
