//! Plans that hold still: what a week does to an accepted plan, how hours are shared out, what pins, lots
//! and weights do to it. The workspaces are made here, on the demo's yarns and people; all figures are invented.

use serde_json::Value;

use crate::demo::Demo;

fn list<'a>(value: &'a Value, key: &str) -> &'a Vec<Value> {
    value[key].as_array().unwrap_or_else(|| panic!("`{key}` is a list in {value}"))
}

fn word<'a>(value: &'a Value, key: &str) -> &'a str {
    value[key].as_str().unwrap_or_else(|| panic!("`{key}` is a text in {value}"))
}

fn good(demo: &Demo, args: &[&str]) {
    let ran = demo.run(args);
    assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.err);
}

fn write(demo: &Demo, file: &str, text: &str) {
    std::fs::write(demo.path.join(file), text).expect("written");
}

fn gift<'a>(plan: &'a Value, id: &str) -> &'a Value {
    let mut own = list(plan, "gifts").iter().filter(|gift| gift["gift"] == id);
    own.next().unwrap_or_else(|| panic!("{id} is in {plan:#}"))
}

/// The garment of each gift, and the yarn and lot of each section, told from the plan alone.
fn way(gift: &Value) -> (String, Vec<(String, String, Value)>) {
    let of = |s: &Value| (word(s, "name").to_owned(), word(s, "yarn").to_owned(), s["lot"].clone());
    (word(gift, "garment").to_owned(), list(gift, "sections").iter().map(of).collect())
}

// ---- The week's replans ------------------------------------------------------------------

const YARNS: [&str; 12] = [
    "beacon",
    "buoy",
    "cormorant",
    "gorse",
    "lamp",
    "mackerel",
    "shoreline",
    "slate",
    "sunset",
    "thrift",
    "tide",
    "samphire",
];
const PEOPLE: [&str; 10] = [
    "Morwen", "Elowen", "Denzel", "Lowenna", "Cador", "Demelza", "Talan", "Wenna", "Rosen",
    "Austol",
];
const GARMENTS: [&str; 7] = [
    "\"hat\"",
    "[\"hat\", \"mitt\"]",
    "\"mitt\"",
    "[\"cuff\", \"headband\"]",
    "\"tam\"",
    "[\"mitten\", \"mitt\"]",
    "\"cuff\"",
];

/// 50 gifts for ten people from 80 remnants; small whole numbers from a recurrence.
fn household(change: u32) -> Demo {
    let demo = Demo::new();
    let mut state: u64 = 7;
    let mut draw = move |from: u64, to: u64| {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(from + (state >> 33) % (to - from + 1)).expect("small")
    };
    let mut stash = String::new();
    for n in 0..80 {
        let lot = match draw(0, 2) {
            0 => String::new(),
            _ => format!("lot = \"L{}\"\n", draw(1, 2)),
        };
        let yarn = YARNS[draw(0, 11)];
        let grams = draw(12, 60);
        stash.push_str(&format!(
            "[[remnant]]\nid = \"ball-{n}\"\nyarn = \"{yarn}\"\nweight = \"{grams} g\"\n{lot}\n"
        ));
    }
    let mut gifts = String::new();
    for n in 0..50 {
        let due = match draw(0, 2) {
            0 => String::new(),
            _ => format!("due = \"2026-{}-{}\"\n", 10 + draw(0, 2), 10 + draw(0, 9)),
        };
        gifts.push_str(&format!(
            "[[gift]]\nid = \"gift-{n}\"\nperson = \"{}\"\ngarment = {}\npriority = {}\n{due}\n",
            PEOPLE[n % 10],
            GARMENTS[draw(0, 6)],
            draw(1, 5),
        ));
    }
    write(&demo, "stash.toml", &stash);
    write(&demo, "gifts.toml", &gifts);
    write(&demo, "records.toml", "");
    let settings = demo.text("oddments.toml").replace("hours_a_week = 5", "hours_a_week = 9");
    write(&demo, "oddments.toml", &format!("{settings}change = {change}\n"));
    demo
}

/// What a plan of all gifts changes of the accepted one, and of how many. Nothing is accepted.
fn replanned(demo: &Demo, accepted: &Value) -> (u64, u64) {
    let plan = demo.plan(&["--again"]);
    let since = &plan["since_before"];
    let number = |key: &str| since[key].as_u64().unwrap_or_else(|| panic!("{key} in {since}"));
    // Counted once more, from the two plans alone.
    let told = |gift: &&Value| {
        let id = word(gift, "gift");
        list(accepted, "gifts").iter().any(|old| old["gift"] == id)
    };
    let now: Vec<&Value> = list(&plan, "gifts").iter().filter(told).collect();
    let other = now.iter().filter(|g| way(g) != way(self::gift(accepted, word(g, "gift"))));
    let dropped = list(since, "dropped").len() as u64;
    assert!(other.count() as u64 + dropped <= number("changed"), "{since}");
    for gift in &now {
        let same = way(gift) == way(self::gift(accepted, word(gift, "gift")));
        assert_eq!(
            same,
            !word(gift, "change").starts_with("other ") || word(gift, "change") == "other balls",
            "{gift:#}"
        );
    }
    (number("changed"), number("gifts"))
}

/// A ball that much is knitted from gets ten grams lighter.
fn a_ball_lighter(demo: &Demo, accepted: &Value) {
    let used = |r: &&Value| {
        let grams = |key: &str| r[key].as_f64().expect("grams");
        ((grams("had_grams") - grams("left_grams")) * 10.0) as u64
    };
    let ball = list(accepted, "remnants").iter().max_by_key(used).expect("a ball");
    let (id, had) = (word(ball, "remnant"), ball["had_grams"].as_f64().expect("grams"));
    let lighter = format!("{} g", had - 10.0);
    good(demo, &["stash", "change", id, "--weight", &lighter]);
}

#[test]
fn a_week_changes_few_gifts_of_an_accepted_plan() {
    type Turn = fn(&Demo, &Value);
    let turns: [(&str, Turn); 5] = [
        ("a ball 10 g lighter", a_ball_lighter),
        ("a gift added", |demo, _| {
            let new = ["gifts", "add", "--person", "Rosen", "--garment", "hat", "--priority", "5"];
            good(demo, &[&new[..], &["--due", "2026-11-20", "--id", "one-more"]].concat());
        }),
        ("a gift done", |demo, plan| {
            good(demo, &["gifts", "done", word(&list(plan, "gifts")[0], "gift")]);
        }),
        ("a person's gifts given up", |demo, plan| {
            let hers = list(plan, "gifts").iter().filter(|gift| gift["person"] == "Wenna");
            let ids: Vec<&str> = hers.map(|gift| word(gift, "gift")).collect();
            assert!(ids.len() > 2, "{ids:?}");
            good(demo, &[&["gifts", "give-up"][..], &ids].concat());
        }),
        ("half the hours a week", |demo, _| {
            let settings = demo.text("oddments.toml");
            write(
                demo,
                "oddments.toml",
                &settings.replace("hours_a_week = 9", "hours_a_week = 4.5"),
            );
        }),
    ];
    let changed = [0, 30].map(|change| {
        let demo = household(change);
        let accepted = demo.plan(&["--accept"]);
        let files = ["stash.toml", "gifts.toml", "plan.toml", "oddments.toml"];
        let texts = files.map(|file| demo.text(file));
        turns.map(|(_, turn)| {
            turn(&demo, &accepted);
            let changed = replanned(&demo, &accepted);
            files.iter().zip(&texts).for_each(|(file, text)| write(&demo, file, text));
            changed
        })
    });
    println!("| In the week | Gifts changed without it | Gifts changed |\n|---|---|---|");
    let (mut before, mut now) = (0, 0);
    for (nth, (what, _)) in turns.iter().enumerate() {
        let [(loose, of), (still, of_still)] = [changed[0][nth], changed[1][nth]];
        println!("| {what} | {loose} of {of} | {still} of {of_still} |");
        assert!(still * 4 <= of_still && still <= loose, "{what}: {still}, {loose}");
        before += loose;
        now += still;
    }
    assert!(now * 4 <= before, "{now} {before}");
}

#[test]
fn gifts_kept_fast_or_begun_do_not_move() {
    let demo = household(0);
    let accepted = demo.plan(&["--accept"]);
    let ids: Vec<&str> = list(&accepted, "gifts").iter().map(|gift| word(gift, "gift")).collect();
    good(&demo, &["gifts", "keep", ids[0]]);
    good(&demo, &["gifts", "begin", ids[1]]);
    let again = demo.plan(&["--again"]);
    let moved = list(&again, "gifts").iter().any(|g| g["gift"] == ids[0] || g["gift"] == ids[1]);
    assert!(!moved);
    assert_eq!(
        again["since_before"]["gifts"],
        accepted["gifts"].as_array().map_or(0, Vec::len) - 2
    );
    // A first plan has nothing to be held against.
    assert!(accepted["since_before"].is_null() && accepted["gifts"][0]["change"].is_null());
    let told = demo.run(&["plan", "--again", "--today", "2026-09-01", "--work", "1"]);
    assert!(told.out.contains("that were planned before change"), "{}", told.out);
}

// ---- Weights -----------------------------------------------------------------------------

#[test]
fn only_the_ratios_of_weights_count() {
    let planned = |by: f64| {
        let demo = Demo::new();
        let text = demo.text("oddments.toml");
        let (head, _) = text.split_once("[weights]").expect("weights");
        let of = |name: &str, weight: f64| format!("{name} = {:?}\n", weight * by);
        let weights = of("priority", 1000.0)
            + &of("preference", 20.0)
            + &of("join", 3.0)
            + &of("drib", 1.0)
            + &of("change", 30.0)
            + &of("travel", 5.0)
            + &of("alike", 5.0);
        write(&demo, "oddments.toml", &format!("{head}[weights]\n{weights}"));
        demo.plan(&[])
    };
    let plain = planned(1.0);
    for by in [0.001, 1000.0] {
        let plan = planned(by);
        assert_eq!(plan["gifts"], plain["gifts"], "{by}");
        // In the knitter's own points.
        for key in ["objective", "bound"] {
            let ratio = plan[key].as_f64().expect("points") / plain[key].as_f64().expect("points");
            assert!((ratio / by - 1.0).abs() < 1e-6, "{key} {ratio}");
        }
    }
}

// ---- Pins and lots -----------------------------------------------------------------------

/// A workspace of nothing but these remnants (id, grams, lot) of one yarn, for Wenna and Jago.
fn with_balls(balls: &[(&str, f64, &str)]) -> Demo {
    let demo = Demo::empty();
    good(&demo, &["yarn", "add", "kelp", "--yarn", "400 m/100 g", "--colour", "kelp=#335544"]);
    good(&demo, &["yarn", "add", "dulse", "--yarn", "400 m/100 g", "--colour", "dulse=#775544"]);
    good(&demo, &["people", "add", "Wenna", "--size", "women-m"]);
    good(&demo, &["people", "add", "Jago", "--size", "women-s"]);
    for (id, grams, lot) in balls {
        let weight = format!("{grams} g");
        let yarn = if id.starts_with("dulse") { "dulse" } else { "kelp" };
        let base = ["stash", "add", "--id", id, "--yarn", yarn, "--weight", &weight];
        good(&demo, &[&base[..], &["--lot", lot]].concat());
    }
    demo
}

#[test]
fn one_ball_is_pinned_to_two_gifts_and_to_two_sections() {
    let demo = with_balls(&[("kelp-1", 150.0, "A"), ("kelp-2", 90.0, "A")]);
    let add = |person: &str, id: &str, pins: &[&str]| {
        let base = ["gifts", "add", "--person", person, "--garment", "tam", "--id", id];
        let pins: Vec<&str> = pins.iter().flat_map(|pin| ["--pin", *pin]).collect();
        good(&demo, &[&base[..], &pins].concat());
    };
    add("Wenna", "one", &["band=kelp-1", "hat=kelp-1"]);
    add("Jago", "two", &["band=kelp-1"]);
    let plan = demo.plan(&[]);
    assert_eq!(list(&plan, "gifts").len(), 2, "{plan:#}");
    let takes = |id: &str, section: &str| -> Vec<String> {
        let own = list(gift(&plan, id), "sections").iter().filter(|s| s["name"] == section);
        own.flat_map(|s| list(s, "takes")).map(|t| word(t, "remnant").to_owned()).collect()
    };
    for (id, section) in [("one", "band"), ("one", "hat"), ("two", "band")] {
        assert_eq!(takes(id, section), ["kelp-1"], "{id} {section}");
    }
}

#[test]
fn a_gift_is_of_one_lot_unless_it_may_be_of_several() {
    // Enough of each lot for a part of a tam, of neither for the whole.
    let demo = with_balls(&[("kelp-1", 62.0, "A"), ("kelp-2", 62.0, "B")]);
    good(&demo, &["gifts", "add", "--person", "Wenna", "--garment", "tam", "--id", "tam"]);
    let parts = |plan: &Value| -> Vec<String> {
        let sections = list(plan, "gifts").iter().flat_map(|gift| list(gift, "sections"));
        sections.map(|s| format!("{} {}", word(s, "yarn"), word(s, "lot"))).collect()
    };
    assert_eq!(parts(&demo.plan(&[])), [""; 0]);
    good(&demo, &["gifts", "change", "tam", "--any-lot"]);
    let mut lots = parts(&demo.plan(&[]));
    lots.sort();
    assert_eq!(lots, ["kelp A", "kelp B"]);
    // Not even then is another lot a contrast.
    good(&demo, &["gifts", "change", "tam", "--contrast", "band+hat"]);
    assert_eq!(parts(&demo.plan(&[])), [""; 0]);
    good(&demo, &["gifts", "change", "tam", "--any-lot", "false", "--contrast", ""]);
    good(
        &demo,
        &["stash", "add", "--id", "kelp-3", "--yarn", "kelp", "--weight", "20 g", "--lot", "B"],
    );
    assert_eq!(parts(&demo.plan(&[])), ["kelp B", "kelp B"]);
    // A contrast takes another yarn, not another lot.
    good(&demo, &["gifts", "change", "tam", "--contrast", "band,hat"]);
    assert_eq!(parts(&demo.plan(&[])), [""; 0]);
    good(
        &demo,
        &["stash", "add", "--id", "dulse-1", "--yarn", "dulse", "--weight", "60 g", "--lot", "C"],
    );
    let mut contrast = parts(&demo.plan(&[]));
    contrast.sort();
    assert_eq!(contrast.len(), 2);
    assert!(contrast[0] == "dulse C" && contrast[1].starts_with("kelp"), "{contrast:?}");
    good(&demo, &["gifts", "change", "tam", "--contrast", "", "--same", "band,hat"]);
    let same = parts(&demo.plan(&[]));
    assert!(same.len() == 2 && same[0] == same[1], "{same:?}");
}

/// Yarn and lot of all that a plan makes, each once.
fn lots_of(plan: &Value) -> Vec<String> {
    let sections = list(plan, "gifts").iter().flat_map(|gift| list(gift, "sections"));
    let mut lots: Vec<String> =
        sections.map(|s| format!("{} {}", word(s, "yarn"), word(s, "lot"))).collect();
    lots.sort();
    lots.dedup();
    lots
}

#[test]
fn gifts_that_are_to_match_are_of_one_lot() {
    // Of each lot enough for one tam.
    let demo = with_balls(&[("kelp-1", 90.0, "A"), ("kelp-2", 90.0, "B")]);
    for (person, id) in [("Wenna", "one"), ("Jago", "two")] {
        good(&demo, &["gifts", "add", "--person", person, "--garment", "tam", "--id", id]);
    }
    let made = |plan: &Value| list(plan, "gifts").len();
    assert_eq!(made(&demo.plan(&[])), 2);
    good(&demo, &["gifts", "change", "two", "--match", "one"]);
    let plan = demo.plan(&["--explain"]);
    assert_eq!((made(&plan), lots_of(&plan).len()), (1, 1), "{plan:#}");
    assert!(plan["left_out"].to_string().contains("it is to match "), "{plan:#}");
    let add = ["stash", "add", "--id", "kelp-3", "--yarn", "kelp", "--weight", "90 g"];
    good(&demo, &[&add[..], &["--lot", "B"]].concat());
    let plan = demo.plan(&["--accept"]);
    assert_eq!((made(&plan), lots_of(&plan)), (2, vec!["kelp B".to_owned()]), "{plan:#}");

    // What one has already binds the other.
    good(&demo, &["gifts", "keep", "one"]);
    good(&demo, &["gifts", "free", "two"]);
    let took =
        demo.toml("plan.toml")["reservation"][0]["remnant"].as_str().expect("a ball").to_owned();
    let other = if took == "kelp-2" { "kelp-3" } else { "kelp-2" };
    good(&demo, &["stash", "change", other, "--weight", "12 g"]);
    let ran = demo.run(&["plan", "--today", "2026-09-01", "--work", "20", "--explain"]);
    let told = "it is to match one, and too little is left of kelp, lot B";
    assert!(ran.out.contains(told), "{}{}", ran.out, ran.err);
    let ran = demo.run(&["gifts", "remove", "one", "--and-reservations"]);
    assert!(ran.code != Some(0) && ran.err.contains("change two --match"), "{}", ran.err);
    good(&demo, &["gifts", "change", "two", "--match", ""]);
    assert_eq!(lots_of(&demo.plan(&[])), ["kelp A"]);
}

#[test]
fn a_gift_that_is_done_still_binds_what_is_to_match_it() {
    let demo = with_balls(&[("kelp-1", 95.0, "A"), ("kelp-2", 95.0, "B"), ("kelp-3", 95.0, "B")]);
    let add = |id, more: &[&str]| {
        let tam = ["gifts", "add", "--person", "Wenna", "--garment", "tam", "--id", id];
        good(&demo, &[&tam[..], more].concat());
    };
    add("one", &["--pin", "band=kelp-2", "--pin", "hat=kelp-2"]);
    demo.plan(&["--accept"]);
    good(&demo, &["gifts", "done", "one"]);
    let knitted_in =
        || demo.toml("gifts.toml")["gift"][0].get("knitted_in").map(ToString::to_string);
    let noted = "{ band = [\"kelp\", \"B\"], hat = [\"kelp\", \"B\"] }";
    assert_eq!(knitted_in().as_deref(), Some(noted));
    good(&demo, &["stash", "change", "kelp-2", "--weight", "9 g"]);

    add("two", &["--match", "one"]);
    assert_eq!(lots_of(&demo.plan(&[])), ["kelp B"]);
    // Where none is left it does not go over to another lot.
    good(&demo, &["stash", "remove", "kelp-3"]);
    let told = || {
        let ran = demo.run(&["plan", "--today", "2026-09-01", "--work", "20", "--explain"]);
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        ran.out
    };
    let short = "it is to match one, and too little is left of kelp, lot B";
    assert!(told().contains(short), "{}", told());
    good(&demo, &["stash", "remove", "kelp-2"]);
    assert!(told().contains(short), "{}", told());
    // The yarn's new name is its name there too.
    good(&demo, &["yarn", "change", "kelp", "--new-id", "oarweed"]);
    assert_eq!(knitted_in(), Some(noted.replace("kelp", "oarweed")));
    assert!(told().contains("is left of oarweed, lot B"), "{}", told());
    // Wished for again it is of nothing.
    good(&demo, &["gifts", "wish", "one"]);
    assert_eq!(knitted_in(), None);
    good(&demo, &["gifts", "give-up", "one"]);
    assert_eq!(lots_of(&demo.plan(&[])), ["oarweed A"]);
}

#[test]
fn of_many_that_match_each_other_one_that_is_done_binds_the_others() {
    let demo = with_balls(&[("kelp-1", 400.0, "A"), ("kelp-2", 400.0, "B")]);
    let hats = ["gifts", "add", "--id", "hats", "--garment", "hat", "--sizes", "women-m"];
    good(&demo, &[&hats[..], &["--count", "3", "--match", "hats"]].concat());
    demo.plan(&["--accept"]);
    let aside = demo.toml("plan.toml");
    let all = aside["reservation"].as_array().expect("a list");
    let of_first = all.iter().find(|own| own["gift"].as_str() == Some("hats-1"));
    let of_first = of_first.and_then(|own| own["remnant"].as_str()).expect("a ball").to_owned();
    let lot = if of_first == "kelp-1" { "A" } else { "B" };
    good(&demo, &["gifts", "done", "hats-1"]);
    let noted = demo.toml("gifts.toml")["gift"][0]["pieces"]["1"]["knitted_in"].to_string();
    assert!(noted.contains(&format!("[\"kelp\", \"{lot}\"]")), "{noted}");
    // Had the others their choice, both would be of the other ball: of this one there is enough for one.
    let of_it = all.iter().filter(|own| own["gift"].as_str() == Some("hats-1"));
    let of_it = of_it.map(|own| {
        let text = own["weight"].as_str().expect("a text");
        text.trim_end_matches(" g").parse::<f64>().expect("grams")
    });
    let grams: f64 = of_it.sum();
    let weight = format!("{:.0} g", 1.4 * grams);
    let left = ["stash", "change", of_first.as_str(), "--weight", &weight];
    good(&demo, &["gifts", "free", "hats-2", "hats-3"]);
    good(&demo, &left);
    let plan = demo.plan(&["--again"]);
    assert_eq!((list(&plan, "gifts").len(), lots_of(&plan)), (1, vec![format!("kelp {lot}")]));
}

#[test]
fn what_a_gift_was_knitted_in_is_a_yarn_and_a_lot() {
    let demo = with_balls(&[("kelp-1", 95.0, "A")]);
    good(&demo, &["gifts", "add", "--person", "Wenna", "--garment", "tam", "--id", "one"]);
    let before = demo.text("gifts.toml");
    for wrong in ["[]", "[\"\"]", "[\"kelp\", \"A\", \"B\"]", "[\"kelp\", \" \"]"] {
        write(
            &demo,
            "gifts.toml",
            &format!("{before}state = \"done\"\nknitted_in.hat = {wrong}\n"),
        );
        let ran = demo.run(&["gifts", "list"]);
        assert!(ran.code == Some(1) && ran.err.contains("can't be a yarn"), "{wrong}: {}", ran.err);
    }
    // A yarn that is gone is no fault: the gift is done.
    write(&demo, "gifts.toml", &format!("{before}state = \"done\"\nknitted_in.hat = \"bygone\"\n"));
    good(
        &demo,
        &["gifts", "add", "--person", "Jago", "--garment", "tam", "--id", "two", "--match", "one"],
    );
    assert_eq!(lots_of(&demo.plan(&[])), ["kelp A"]);
}

#[test]
fn a_match_follows_a_new_name_and_is_told_where_it_is_wrong() {
    let demo = with_balls(&[("kelp-1", 90.0, "A")]);
    good(&demo, &["gifts", "add", "--person", "Wenna", "--garment", "tam", "--id", "one"]);
    good(
        &demo,
        &["gifts", "add", "--person", "Jago", "--garment", "tam", "--id", "two", "--match", "one"],
    );
    good(&demo, &["gifts", "change", "one", "--new-id", "first"]);
    assert_eq!(demo.toml("gifts.toml")["gift"][1]["match"][0].as_str(), Some("first"));
    for (line, told) in [
        ("match = \"nobody\"", "there is no gift `nobody`"),
        ("match = [\"first\", \"two\"]", "match itself"),
        ("contrast = [\"band+hat\", \"hat\"]", "two sections"),
        ("same = [\"band+hat\"]\ncontrast = [\"hat\", \"band\"]", "to differ"),
    ] {
        let text = "[[gift]]\nid = \"first\"\nperson = \"Wenna\"\ngarment = \"tam\"\n\n\
                    [[gift]]\nid = \"two\"\nperson = \"Jago\"\ngarment = \"tam\"\n";
        write(&demo, "gifts.toml", &format!("{text}{line}\n"));
        let ran = demo.run(&["plan"]);
        let at = format!("gifts.toml:{}", 9 + line.matches('\n').count() + 1);
        assert!(ran.code != Some(0) && ran.err.contains(told), "{line}: {}", ran.err);
        assert!(ran.err.contains(&at) && ran.err.contains("hint"), "{line}: {}", ran.err);
    }
}

#[test]
fn what_can_not_be_is_refused_where_it_is_typed() {
    let demo = Demo::new();
    for (args, told) in [
        (&["--set", "wedges=66"][..], "wedges"),
        (&["--contrast", "band"], "two sections"),
        (&["--same", "band,hta"], "hat"),
        (&["--same", "band,hat", "--contrast", "hat,band"], "to differ"),
        (&["--contrast", "band+hat,band"], "two sections"),
        (&["--same", "band+hta"], "hat"),
        (&["--match", "ruan-tam"], "match itself"),
        (&["--match", "ruan-tan"], "did you mean"),
    ] {
        let before = demo.text("gifts.toml");
        let ran = demo.run(&[&["gifts", "change", "ruan-tam"][..], args].concat());
        assert!(ran.code.is_some_and(|code| code != 0), "{args:?}");
        assert!(ran.err.contains(told), "{args:?}: {}", ran.err);
        assert_eq!(demo.text("gifts.toml"), before);
    }
    good(&demo, &["gifts", "change", "ruan-tam", "--set", "wedges=5"]);
}

// ---- Hours -------------------------------------------------------------------------------

/// A cuff for each of these gifts (id, priority, due), at so many hours a week.
fn cuffs(hours: f64, gifts: &[(&str, &str, &str)]) -> Demo {
    let demo = with_balls(&[("kelp-1", 400.0, "A")]);
    let settings = demo
        .text("oddments.toml")
        .replace("# hours_a_week = 6", &format!("hours_a_week = {hours} #"));
    assert!(settings.contains("\nhours_a_week"), "{settings}");
    write(&demo, "oddments.toml", &settings);
    for (id, priority, due) in gifts {
        let mut args = vec!["gifts", "add", "--person", "Wenna", "--garment", "cuff", "--id", id];
        args.extend(["--priority", priority]);
        if !due.is_empty() {
            args.extend(["--due", due]);
        }
        good(&demo, &args);
    }
    demo
}

fn minutes(gift: &Value) -> f64 {
    gift["minutes"].as_f64().expect("minutes")
}

fn order(plan: &Value) -> Vec<&str> {
    list(plan, "gifts").iter().map(|gift| word(gift, "gift")).collect()
}

#[test]
fn hours_count_for_all() {
    // How long one takes.
    let one = minutes(&cuffs(100.0, &[("only", "3", "")]).plan(&[])["gifts"][0]) / 60.0;
    let gifts =
        [("dated", "3", "2026-09-08"), ("overdue", "4", "2026-08-01"), ("undated", "5", "")];
    // Time for one until the day: the one that is late already matters more and is made first. The other could be
    // made with more hours, on a later day, or in the place of nobody.
    let demo = cuffs(one * 1.5, &gifts);
    let plan = demo.plan(&[]);
    assert_eq!(order(&plan), ["overdue", "undated"], "{plan:#}");
    let late = &plan["out_of_time"][0];
    assert_eq!((word(late, "gift"), word(late, "due")), ("dated", "2026-09-08"));
    let rate = late["hours_a_week"].as_f64().expect("hours");
    assert!((rate - 2.0 * one).abs() < 0.2, "{late} {one}");
    let left = late["minutes_left"].as_f64().expect("minutes");
    assert!((left - one * 30.0).abs() < 3.0, "{late}");
    // What is said to help helps.
    let more = cuffs(rate, &gifts);
    assert_eq!(order(&more.plan(&[])), ["overdue", "dated", "undated"]);
    good(&demo, &["gifts", "change", "dated", "--due", word(late, "by")]);
    assert_eq!(order(&demo.plan(&[])), ["overdue", "dated", "undated"]);
    // One that matters less waits until those with a day are done, and makes none late.
    good(&demo, &["gifts", "change", "dated", "--due", "2026-09-08"]);
    good(&demo, &["gifts", "change", "overdue", "--priority", "2"]);
    let plan = demo.plan(&[]);
    assert_eq!(order(&plan), ["dated", "overdue", "undated"]);
    let done: Vec<f64> = list(&plan, "gifts")
        .iter()
        .map(|g| g["done_after_minutes"].as_f64().expect("minutes"))
        .collect();
    assert!(done.windows(2).all(|w| w[0] < w[1]), "{done:?}");
    let told = demo.run(&["plan", "--today", "2026-09-01", "--work", "1"]);
    assert!(told.err.contains("it is planned as early as"), "{}", told.err);
}

#[test]
fn what_is_begun_or_set_aside_takes_its_hours() {
    let one = minutes(&cuffs(100.0, &[("only", "3", "")]).plan(&[])["gifts"][0]) / 60.0;
    let demo = cuffs(one * 1.5, &[("begun", "3", "2026-09-08")]);
    demo.plan(&["--accept"]);
    good(&demo, &["gifts", "begin", "begun"]);
    let add = ["gifts", "add", "--person", "Jago", "--garment", "cuff", "--priority", "5"];
    good(&demo, &[&add[..], &["--id", "next", "--due", "2026-09-08"]].concat());
    let plan = demo.plan(&[]);
    assert_eq!(order(&plan), [""; 0], "{plan:#}");
    assert_eq!(plan["out_of_time"][0]["gift"], "next");
    let told = demo.run(&["plan", "--today", "2026-09-01", "--work", "1"]);
    assert!(
        told.out.contains("Too few hours") && told.out.contains("hours a week"),
        "{}",
        told.out
    );
    // Done, it takes none.
    good(&demo, &["gifts", "done", "begun"]);
    assert_eq!(order(&demo.plan(&[])), ["next"]);
    // Set aside and too late by itself: that is told too.
    demo.plan(&["--accept"]);
    let settings = demo.text("oddments.toml");
    let at = settings.find("hours_a_week = ").expect("hours") + "hours_a_week = ".len();
    write(&demo, "oddments.toml", &format!("{}0.1 #{}", &settings[..at], &settings[at..]));
    let late = demo.plan(&[])["out_of_time"][0].clone();
    assert_eq!((word(&late, "gift"), late["held"].as_bool()), ("next", Some(true)));
}
