//! Gifts, records and remnants of a whole workspace: the demo scenario through the commands, its plan
//! judged from outside the planner.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::demo::Demo;

fn list<'a>(value: &'a Value, key: &str) -> &'a Vec<Value> {
    value[key].as_array().unwrap_or_else(|| panic!("`{key}` is a list"))
}

fn word<'a>(value: &'a Value, key: &str) -> &'a str {
    value[key].as_str().unwrap_or_else(|| panic!("`{key}` is a text in {value}"))
}

fn grams(text: &str) -> f64 {
    text.strip_suffix(" g").and_then(|n| n.parse().ok()).unwrap_or_else(|| panic!("{text}"))
}

/// Read off the workspace's own files, not through the program.
fn remnants(demo: &Demo) -> BTreeMap<String, (String, f64)> {
    let stash = demo.toml("stash.toml");
    let list = stash["remnant"].as_array().expect("a list");
    let text = |table: &toml::Value, key: &str| table[key].as_str().expect("a text").to_owned();
    list.iter().map(|r| (text(r, "id"), (text(r, "yarn"), grams(&text(r, "weight"))))).collect()
}

#[test]
fn the_plan_of_the_demo_can_be_followed() {
    let demo = Demo::new();
    let plan = demo.plan(&[]);
    let made = list(&plan, "gifts");
    let out = list(&plan, "left_out");
    let wished = demo.toml("gifts.toml")["gift"].as_array().expect("a list").len();
    assert_eq!(made.len() + out.len(), wished);
    assert!(made.len() >= 25, "{} of {wished} gifts", made.len());

    // No yarn is used twice, and every section has at least what it is expected to take.
    let stash = remnants(&demo);
    let mut taken: BTreeMap<&str, f64> = BTreeMap::new();
    let people = demo.toml("people.toml");
    for gift in made {
        for section in list(gift, "sections") {
            let takes = list(section, "takes");
            let mut sum = 0.0;
            for chunk in takes {
                let id = word(chunk, "remnant");
                let (yarn, _) = &stash[id];
                assert_eq!(yarn, word(section, "yarn"), "one yarn a section");
                let g = chunk["grams"].as_f64().expect("grams");
                *taken.entry(id).or_default() += g;
                sum += g;
                assert!(takes.len() == 1 || g >= 5.0, "a chunk below the least useful one");
            }
            assert!(sum + 1e-9 >= section["need_grams"].as_f64().expect("grams"), "{gift}");
            let chance = section["chance_of_running_out"].as_f64().expect("a chance");
            assert!(chance <= 0.05 + 1e-6, "{chance} in {gift}");
        }
        // A baby's yarn washes in the machine, and nobody gets a fibre they avoid.
        let person = people["person"]
            .as_array()
            .and_then(|all| all.iter().find(|p| p["name"].as_str() == Some(word(gift, "person"))))
            .expect("a person");
        let size = person.get("size").and_then(toml::Value::as_str).unwrap_or_default();
        for section in list(gift, "sections") {
            let yarn = demo.toml(&format!("yarns/{}.toml", word(section, "yarn")));
            let care = yarn.get("care").and_then(toml::Value::as_str).unwrap_or_default();
            if size == "newborn" || size.starts_with('m') && !size.starts_with("men") {
                assert!(care.starts_with("machine"), "{size}: `{care}` in {gift}");
            }
            let fibres = yarn.get("fibres").and_then(toml::Value::as_str).unwrap_or_default();
            let avoided = person.get("avoid_fibres").and_then(toml::Value::as_array);
            for fibre in avoided.into_iter().flatten().filter_map(toml::Value::as_str) {
                assert!(!fibres.contains(fibre), "{fibre} in {gift}");
            }
        }
    }
    for (id, g) in &taken {
        assert!(*g <= stash[*id].1 + 1e-6, "{id}: {g} of {}", stash[*id].1);
    }
    for remnant in list(&plan, "remnants") {
        let used = taken.get(word(remnant, "remnant")).copied().unwrap_or(0.0);
        let left = remnant["left_grams"].as_f64().expect("grams");
        assert!((remnant["had_grams"].as_f64().expect("grams") - used - left).abs() < 1e-6);
    }
    // In the order of their days, each done when the ones before it are.
    let days: Vec<&str> = made.iter().filter_map(|gift| gift["due"].as_str()).collect();
    assert!(days.windows(2).all(|w| w[0] <= w[1]), "{days:?}");
    // Twice the same.
    assert_eq!(demo.plan(&["--threads", "1"]), plan);
}

#[test]
fn what_is_left_out_is_told_with_a_way_in() {
    let demo = Demo::empty();
    for args in [
        &["yarn", "add", "kelp", "--yarn", "400 m/100 g", "--colour", "kelp=#335544"][..],
        &["stash", "add", "--yarn", "kelp", "--weight", "20 g"],
        &["people", "add", "Wenna", "--size", "women-m"],
        &["people", "add", "Jago", "--size", "men-l"],
        &["gifts", "add", "--person", "Wenna", "--garment", "hat", "--id", "wenna-hat"],
        &["gifts", "add", "--person", "Jago", "--garment", "mitten", "--id", "jago-mittens"],
    ] {
        let ran = demo.run(args);
        assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.err);
    }
    let plan = demo.plan(&["--explain"]);
    let out = list(&plan, "left_out");
    assert_eq!(out.len(), 2);
    for gift in out {
        assert!(!list(gift, "reasons").is_empty(), "{gift}");
    }
    let helped = out.iter().find(|gift| {
        list(gift, "ways")
            .iter()
            .any(|way| !way["add"].is_null() && list(way, "displaced").is_empty())
    });
    let gift = helped.expect("yarn lets some gift in");
    let way = list(gift, "ways")
        .iter()
        .find(|way| !way["add"].is_null() && list(way, "displaced").is_empty())
        .expect("found above");
    // The way holds: with the yarn in the stash, as many gifts more can be made.
    let yarn = word(&way["add"], "yarn");
    let more = way["add"]["grams"].as_f64().expect("grams");
    let weight = format!("{more:.1} g");
    let added = demo.run(&["stash", "add", "--yarn", yarn, "--weight", &weight]);
    assert_eq!(added.code, Some(0), "{}", added.err);
    let after = demo.plan(&[]);
    assert!(list(&after, "gifts").len() > list(&plan, "gifts").len(), "{way}");
}

#[test]
fn an_accepted_plan_keeps_its_yarn_and_can_be_taken_back() {
    let demo = Demo::new();
    let before = demo.text("stash.toml");
    let plan = demo.plan(&["--accept"]);
    let kept = demo.toml("plan.toml")["reservation"].as_array().expect("a list").len();
    let chunks: usize = list(&plan, "gifts")
        .iter()
        .flat_map(|gift| list(gift, "sections"))
        .map(|section| list(section, "takes").len())
        .sum();
    assert_eq!(kept, chunks);
    // What is planned is not planned again, and its yarn is spoken for.
    let rest = demo.plan(&[]);
    for gift in list(&rest, "gifts") {
        let id = word(gift, "gift");
        assert!(list(&plan, "gifts").iter().all(|g| word(g, "gift") != id), "{id} twice");
    }
    assert_eq!(demo.run(&["undo"]).code, Some(0));
    assert_eq!(demo.text("stash.toml"), before);
    assert!(!demo.path.join("plan.toml").exists() || !demo.text("plan.toml").contains("[["));
}

#[test]
fn a_record_puts_the_stash_right_and_moves_the_estimates() {
    let demo = Demo::new();
    let stash = remnants(&demo);
    let of_demo_count = |yarn: &str| {
        demo.toml(&format!("yarns/{yarn}.toml"))["yarn"].as_str() == Some("400 m/100 g")
    };
    let (id, (yarn, had)) = stash
        .iter()
        .filter(|(_, (yarn, _))| of_demo_count(yarn) && yarn != "slate" && yarn != "beacon")
        .max_by(|a, b| a.1.1.total_cmp(&b.1.1))
        .expect("a ball without a record");
    assert!(*had > 55.0, "{id} is enough for a hat");
    let reach = |demo: &Demo| -> f64 {
        let ran = demo.run(&[
            "reach",
            "--remnant",
            id,
            "--garment",
            "hat",
            "--sizes",
            "women-m",
            "--format",
            "json",
            "--each",
        ]);
        let rows: Value = serde_json::from_str(&ran.out).expect("JSON");
        let row = rows.as_array().expect("rows").iter().find(|r| r["In this yarn"] == "all");
        row.expect("the hat fits")["Needs g"].as_f64().expect("grams")
    };
    let before = reach(&demo);
    // A knitter who takes a tenth more than the model says.
    let after_g = had - before * 1.1;
    let used = format!("hat:{id}={after_g:.1} g");
    let ran = demo.run(&["record", "hat", "--size", "women-m", "--used", &used]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.contains("+") && ran.out.contains("finished piece"), "{}", ran.out);
    let left = remnants(&demo)[id].1;
    assert!((left - after_g).abs() < 0.06, "{left} {after_g}");
    let undone = demo.run(&["undo"]);
    assert_eq!(undone.code, Some(0), "{}", undone.err);
    assert_eq!(reach(&demo), before, "nothing is learnt of what is taken back");
    // Done again, and the estimate has moved towards it, not all the way.
    assert_eq!(demo.run(&["undo", "--redo"]).code, Some(0));
    let weight = format!("{had:.1} g");
    assert_eq!(demo.run(&["stash", "change", id, "--weight", &weight]).code, Some(0));
    let moved = reach(&demo);
    assert!(before * 1.005 < moved && moved < before * 1.1, "{before} {moved} of {yarn}");
    for (args, told) in [
        (["record", "hat", "--size", "women-m", "--used", "hat"], "can't be read"),
        (["record", "hat", "--size", "women-m", "--used", "hat:nope=1 g"], "no remnant `nope`"),
        (
            ["record", "hat", "--size", "women-m", "--used", &format!("hat:{id}=900 g")],
            "can't weigh",
        ),
        (["record", "hat", "--size", "women-m", "--used", &format!("hatt:{id}=1 g")], "no section"),
        (["record", "hat", "--size", "nobody", "--used", &format!("hat:{id}=1 g")], "nobody"),
    ] {
        let stash = demo.text("stash.toml");
        let ran = demo.run(&args);
        assert_ne!(ran.code, Some(0), "{args:?}");
        assert!(ran.err.contains(told), "{args:?}: {}", ran.err);
        assert_eq!(demo.text("stash.toml"), stash, "nothing is written");
    }
}

#[test]
fn the_dial_comes_from_the_knitters_own_swatches() {
    let demo = Demo::new();
    // The demo has one plain swatch of such yarn on the standard bed, at dial 7.
    let few = demo.run(&["swatch", "dial", "--yarn", "slate", "--stitches", "29"]);
    assert_eq!(few.code, Some(1));
    assert!(few.err.contains("a second swatch"), "{}", few.err);
    let added = demo.run(&[
        "swatch",
        "add",
        "slate-tight",
        "--machine",
        "standard",
        "--yarn",
        "400 m/100 g",
        "--state",
        "washed",
        "--dial",
        "5",
        "--stitches",
        "40",
        "--widths",
        "12.9 cm,12.9 cm",
        "--rows",
        "60",
        "--heights",
        "13.6 cm",
    ]);
    assert_eq!(added.code, Some(0), "{}", added.err);
    let found = demo.run(&["swatch", "dial", "--yarn", "slate", "--stitches", "29.5"]);
    // 28.0 at 7 and 31.0 at 5: a straight line of widths has 29.5 at dial 5.9, so 6.
    assert!(found.out.starts_with("Dial 6 for plain"), "{} {}", found.out, found.err);
    let far = demo.run(&["swatch", "dial", "--yarn", "slate", "--stitches", "45"]);
    assert_eq!(far.code, Some(1));
    assert!(far.err.contains("the swatches go from 5.0 to 7.0"), "{}", far.err);
}

#[test]
fn pictures_take_the_workspaces_own_yarns() {
    let demo = Demo::new();
    let stripes = |yarn: &str| {
        demo.run(&[
            "pattern",
            "headband",
            "--size",
            "women-m",
            "--format",
            "svg",
            "--picture",
            "stripes",
            "--yarn",
            yarn,
        ])
    };
    let own = stripes("mackerel@60g");
    assert_eq!(own.code, Some(0), "{}", own.err);
    let name = demo.toml("yarns/mackerel.toml")["name"].as_str().expect("a name").to_owned();
    assert!(own.out.contains(&name), "the ball is told: {name}");
    let slip = stripes("mackrel");
    assert_eq!(slip.code, Some(1));
    assert!(slip.err.contains("did you mean `mackerel`?"), "{}", slip.err);
}

#[test]
fn a_yarn_nobody_swatched_says_so() {
    let demo = Demo::empty();
    for args in [
        &["yarn", "add", "kelp", "--yarn", "400 m/100 g", "--colour", "kelp #335544"][..],
        &["stash", "add", "--yarn", "kelp", "--weight", "60 g", "--id", "kelp-1"],
    ] {
        assert_eq!(demo.run(args).code, Some(0), "{args:?}");
    }
    let told = demo.run(&["reach", "--remnant", "kelp-1", "--garment", "hat"]);
    assert_eq!(told.code, Some(0), "{}", told.err);
    assert!(told.err.contains("warning[unswatched]"), "{}", told.err);
    let added = demo.run(&[
        "swatch",
        "add",
        "kelp",
        "--machine",
        "standard",
        "--yarn",
        "400 m/100 g",
        "--state",
        "washed",
        "--stitches",
        "40",
        "--widths",
        "14.3 cm",
        "--rows",
        "60",
        "--heights",
        "15 cm",
    ]);
    assert_eq!(added.code, Some(0), "{}", added.err);
    let told = demo.run(&["reach", "--remnant", "kelp-1", "--garment", "hat"]);
    assert!(!told.err.contains("warning[unswatched]"), "{}", told.err);
}
