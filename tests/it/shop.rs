//! Lists of what to buy and what is said of gifts left out, through the commands.

use std::collections::BTreeMap;
use std::fs;

use serde_json::Value;

use crate::demo::Demo;

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
    let args = ["shop", "--today", "2026-09-01", "--work", "4", "--format", "json"];
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
