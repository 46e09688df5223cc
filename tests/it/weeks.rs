//! Weeks drawn by lot, eight of them, and forty where `ODDMENTS_TRIES` is 5, over HTTP: yarns whose swatches were weighed, a stash, people, gifts, plans, pieces
//! that take what they truly take, balls that turn out lighter, changes of mind. What a stitch takes is drawn as
//! widely as the estimates say that it may be, and known to the test alone.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::time::Duration;

use axum::http::{Method, StatusCode};
use knit::run::SectionRun;
use serde_json::{Value, json};
use store::parse_swatches;

use crate::demo::Demo;
use crate::server::{Answer, Server, json_request};
use crate::support::{grade, tries};

/// So many times `ODDMENTS_TRIES`.
const WEEKS: u32 = 8;
const TODAY: &str = "2026-11-30";

/// Numbers that look like chance and are the same each time.
struct Dice(u64);

impl Dice {
    /// From 0 to 1: a linear congruence with Knuth's MMIX figures (from memory).
    fn share(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn below(&mut self, most: usize) -> usize {
        (self.share() * most as f64) as usize
    }

    fn one<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + self.share() * (high - low)
    }

    /// About 1, with so large a standard deviation: twelve even draws, nearly normal.
    fn about_one(&mut self, spread: f64) -> f64 {
        1.0 + spread * ((0..12).map(|_| self.share()).sum::<f64>() - 6.0)
    }
}

/// What a yarn truly is.
struct Yarn {
    id: String,
    tex: f64,
    /// Width and height of a stitch, in mm.
    stitch: (f64, f64),
    /// Millimetres that a stitch takes in a piece, by fabric.
    loop_mm: BTreeMap<&'static str, f64>,
}

/// Spreads as the estimates state them: of a swatch against a piece, of a piece against its twin, of a
/// knitter against the model, of a yarn, of a fabric in a yarn, of her rib that nobody weighed, of ends and
/// seams, of a piece's minutes.
const SWATCH: f64 = 0.03;
const PIECE: f64 = 0.04;
const KNITTER: f64 = 0.05;
const YARN: f64 = 0.04;
const YARN_FABRIC: f64 = 0.02;
const RIB: f64 = 0.10;
const ENDS: f64 = 0.25;
/// An end is some 20 cm long before it is darned in, sewing takes half as much again as what is sewn (common
/// practice, no source).
const END_MM: f64 = 200.0;
const SEAM_TAKE_UP: f64 = 1.5;
const MINUTES: f64 = 0.20;

/// What a knitter truly is, in all that she knits: shares of what is expected of anybody.
struct Hand {
    all: f64,
    rib: f64,
    ends: f64,
    pace: f64,
}

impl Hand {
    fn new(dice: &mut Dice) -> Hand {
        Hand {
            all: dice.about_one(KNITTER),
            rib: dice.about_one(RIB),
            ends: dice.about_one(ENDS),
            pace: dice.about_one(0.25).max(0.4),
        }
    }
}

struct Week {
    number: u64,
    dice: Dice,
    demo: Demo,
    server: Server,
    yarns: Vec<Yarn>,
    /// What each remnant truly weighs.
    balls: BTreeMap<String, f64>,
    /// What the scale said of all that came into the house, and what was found missing.
    came: f64,
    missing: f64,
    /// Promises kept, and not kept: grams and minutes.
    grams: (u32, u32),
    minutes: (u32, u32),
    hand: Hand,
    planned: u32,
    recorded: u32,
    undone: u32,
}

/// What the scale shows.
fn scale(grams: f64) -> f64 {
    grams.round().max(0.0)
}

const GARMENTS: [&str; 6] = ["hat", "cuff", "mitten", "bootee", "tam", "headband"];
const SIZES: [&str; 8] = ["m3-6", "m12-18", "y4", "y7-8", "y11-12", "women-m", "women-xl", "men-l"];

impl Week {
    fn new(number: u64) -> Week {
        let mut dice = Dice(number.wrapping_mul(0x9E37_79B9_7F4A_7C15));
        let demo = Demo::empty();
        let hand = Hand::new(&mut dice);
        let yarns: Vec<Yarn> =
            (0..1 + dice.below(3)).map(|n| yarn(&demo, &mut dice, &hand, n)).collect();
        let server = Server::of(&demo);
        Week {
            number,
            dice,
            demo,
            server,
            yarns,
            balls: BTreeMap::new(),
            came: 0.0,
            missing: 0.0,
            grams: (0, 0),
            minutes: (0, 0),
            hand,
            planned: 0,
            recorded: 0,
            undone: 0,
        }
    }

    fn sound(&self, answer: Answer, what: &str) -> Answer {
        let status = answer.status;
        assert!(status.as_u16() < 500, "week {}, {what}: {status}: {}", self.number, answer.text());
        answer
    }

    fn get(&self, path: &str) -> Value {
        let answer = self.sound(self.server.get(path), path);
        assert_eq!(answer.status, StatusCode::OK, "{path}: {}", answer.text());
        answer.json()
    }

    fn post(&self, path: &str, body: &Value) -> Value {
        let answer = self.sound(self.server.post(path, body), path);
        assert!(answer.status.is_success(), "{path} {body}: {}", answer.text());
        answer.json()
    }

    fn patch(&self, path: &str, body: &Value) {
        let sent = self.server.send(json_request(Method::PATCH, path, body));
        let answer = self.sound(sent, path);
        assert!(answer.status.is_success(), "{path} {body}: {}", answer.text());
    }

    /// All that the knitter owns.
    fn files(&self) -> BTreeMap<String, Vec<u8>> {
        let names = ["stash.toml", "people.toml", "gifts.toml", "plan.toml", "records.toml"];
        let read = |name: &str| fs::read(self.demo.path.join(name)).unwrap_or_default();
        names.into_iter().map(|name| (name.to_owned(), read(name))).collect()
    }

    fn fill(&mut self) {
        for n in 0..12 {
            let grams = scale(self.dice.between(15.0, 100.0));
            let yarn = self.dice.one(&self.yarns).id.clone();
            let id = format!("ball-{n}");
            let lot = if self.dice.below(3) == 0 { "B" } else { "A" };
            let weight = format!("{grams} g");
            let ball = json!({ "id": id, "yarn": yarn, "weight": weight, "lot": lot });
            self.post("/api/v1/lists/stash", &ball);
            self.balls.insert(id, grams + self.dice.between(-0.5, 0.5));
            self.came += grams;
        }
        for name in ["Merryn", "Kitto", "Hocken", "Jenna", "Tamsin"] {
            let size = self.dice.one(&SIZES);
            self.post("/api/v1/lists/people", &json!({ "name": name, "size": size }));
            for _ in 0..1 + self.dice.below(2) {
                let garment = self.dice.one(&GARMENTS);
                let due = format!("2026-12-{:02}", 8 + self.dice.below(20));
                let wish = json!({ "person": name, "garment": garment, "due": due });
                self.post("/api/v1/lists/gifts", &wish);
            }
        }
    }

    /// Plans, accepts, and gives what was promised to whom.
    fn plan(&mut self, again: bool) -> Vec<Value> {
        let ask = json!({ "today": TODAY, "work": 3, "again": again });
        let begun = self.post("/api/v1/plans", &ask);
        let id = begun["id"].as_str().expect("an id").to_owned();
        let done = (0..600).find_map(|_| {
            let state = self.get(&format!("/api/v1/plans/{id}"));
            if state["state"] != "running" {
                return Some(state);
            }
            std::thread::sleep(Duration::from_millis(20));
            None
        });
        let done = done.expect("a plan in time");
        let gifts = done["plan"]["gifts"].as_array().expect("gifts").clone();
        let names: BTreeSet<&str> =
            gifts.iter().map(|gift| gift["gift"].as_str().expect("an id")).collect();
        assert_eq!(names.len(), gifts.len(), "week {}: a gift twice", self.number);
        if !gifts.is_empty() {
            self.post(&format!("/api/v1/plans/{id}/accept"), &json!({}));
        }
        self.planned += gifts.len() as u32;
        gifts
    }

    /// What is knitted and sewn in each section: it is counted on the bed, and no promise.
    fn counted(&self, garment: &str, size: &str, swatch: &str) -> Vec<SectionRun> {
        let text = fs::read_to_string(self.demo.path.join(format!("swatches/{swatch}.toml")));
        let swatch = parse_swatches(swatch, &text.expect("a swatch")).expect("sound");
        let run = grade(garment, "standard", &swatch, size, &[]).expect("a run");
        let (_, made) = run.good().next().expect("a size");
        made.graded.run.sections.clone()
    }

    /// Knits a gift from the balls that were set aside, weighs and records it.
    fn knit(&mut self, gift: &Value) {
        let text = |value: &Value| value.as_str().expect("a text").to_owned();
        let (id, garment, person) =
            (text(&gift["gift"]), text(&gift["garment"]), text(&gift["person"]));
        let people = self.get("/api/v1/lists/people");
        let of = people.as_array().expect("people").iter().find(|row| row["Name"] == person);
        let size = text(&of.expect("somebody")["Size"]);
        let ask = format!("garment={garment}&sizes={size}&swatch_id={}", text(&gift["swatch"]));
        let graded = self.get(&format!("/api/v1/grade?{ask}&format=json"))["sizes"][0].clone();
        let counted = self.counted(&garment, &size, &text(&gift["swatch"]));
        let mut used = Vec::new();
        let twin = self.dice.about_one(PIECE);
        for section in gift["sections"].as_array().expect("sections") {
            let yarn = self.yarns.iter().find(|yarn| section["yarn"] == yarn.id).expect("known");
            let name = text(&section["name"]);
            let of = counted.iter().find(|own| own.name == name).expect("the section");
            let knitted: f64 = (of.stitches.iter())
                .map(|(fabric, count)| yarn.loop_mm[fabric.name()] * *count as f64)
                .sum();
            let told = graded["yarn"]["sections"].as_array().expect("sections");
            let told = told.iter().find(|own| own["name"] == name).expect("the section");
            let (across, up) = yarn.stitch;
            // A sewn loop is a stitch of plain fabric; a float goes past its needles as they stand.
            let sewn = f64::from(of.tails) * END_MM
                + of.sewn_loops as f64 * yarn.loop_mm["plain"]
                + of.seam_rows as f64 * up * SEAM_TAKE_UP
                + of.seam_stitches as f64 * across * SEAM_TAKE_UP
                + of.float_needles as f64 * across;
            let mut need = (knitted * twin + sewn * self.hand.ends) * yarn.tex / 1e6;
            let (low, high) = (told["grams_low"].as_f64(), told["grams_high"].as_f64());
            let kept = low.expect("low") <= need && need <= high.expect("high");
            if kept {
                self.grams.0 += 1
            } else {
                self.grams.1 += 1
            }
            let takes = section["takes"].as_array().expect("chunks");
            for (nth, take) in takes.iter().enumerate() {
                let remnant = text(&take["remnant"]);
                let there = self.balls.get_mut(&remnant).expect("a ball");
                let aside = take["grams"].as_f64().expect("grams");
                // The last ball is knitted from as long as there is yarn, set aside or not.
                let wanted = if nth + 1 == takes.len() { need } else { need.min(aside) };
                let taken = wanted.min(*there);
                *there -= taken;
                need -= taken;
                used.push(format!("{name}:{remnant}={} g", scale(*there)));
            }
        }
        let told = |name: &str| graded["work"][name].as_f64().expect("minutes");
        let minutes =
            (told("minutes") * self.hand.pace * self.dice.about_one(MINUTES)).round().max(1.0);
        let kept = told("minutes_low") <= minutes && minutes <= told("minutes_high");
        if kept {
            self.minutes.0 += 1
        } else {
            self.minutes.1 += 1
        }
        let record = json!({
            "garment": garment, "size": size, "used": used, "gift": id, "minutes": minutes,
        });
        self.post("/api/v1/records", &record);
        self.recorded += 1;
    }

    /// Some small change, and back again: to the byte.
    fn change_and_undo(&mut self) {
        let mut marks = vec![self.files()];
        for n in 0..1 + self.dice.below(3) {
            match self.dice.below(3) {
                0 => {
                    let at = format!("/api/v1/lists/stash/ball-{}", self.dice.below(12));
                    let answer = self.server.send(json_request(
                        Method::PATCH,
                        &at,
                        &json!({ "note": format!("note {n}") }),
                    ));
                    // A ball that was used up is no entry any more.
                    let answer = self.sound(answer, &at);
                    if answer.status == StatusCode::NOT_FOUND {
                        continue;
                    }
                }
                1 => self.patch(
                    "/api/v1/lists/people/Jenna",
                    &json!({ "note": format!("told {n} times") }),
                ),
                _ => {
                    let ball = json!({ "yarn": self.yarns[0].id, "weight": "7 g" });
                    self.post("/api/v1/lists/stash", &ball);
                }
            }
            marks.push(self.files());
        }
        while marks.len() > 1 {
            marks.pop();
            self.post("/api/v1/undo", &json!({}));
            self.undone += 1;
            let before = marks.last().expect("one left");
            assert!(self.files() == *before, "week {}: undo is not to the byte", self.number);
        }
    }

    /// A ball that is no one's weighs less than was thought.
    fn lighter(&mut self) {
        let stash = self.get("/api/v1/lists/stash");
        let rows = stash.as_array().expect("rows");
        let free = rows.iter().find(|row| {
            row["Reserved g"].as_f64().is_none()
                && row["Weight g"].as_f64().is_some_and(|g| g > 12.0)
        });
        let Some(row) = free else { return };
        let (id, grams) = (row["Remnant"].as_str().expect("an id"), row["Weight g"].as_f64());
        let grams = grams.expect("grams");
        self.patch(
            &format!("/api/v1/lists/stash/{id}"),
            &json!({ "weight": format!("{} g", grams - 5.0) }),
        );
        *self.balls.get_mut(id).expect("a ball") -= 5.0;
        self.missing += 5.0;
    }

    /// Stash before and what was taken: nothing is lost, to the scale's step.
    fn settle(&self) {
        let stash = self.get("/api/v1/lists/stash");
        let rows = stash.as_array().expect("rows");
        let rest: f64 = rows.iter().filter_map(|row| row["Weight g"].as_f64()).sum();
        let records = match fs::read_to_string(self.demo.path.join("records.toml")) {
            Ok(text) => text.parse::<toml::Table>().expect("sound"),
            // Nothing was finished.
            Err(_) => toml::Table::new(),
        };
        let all = records.get("record").and_then(|all| all.as_array()).cloned().unwrap_or_default();
        let grams = |value: &toml::Value| {
            let text = value.as_str().expect("a weight").trim_end_matches(" g");
            text.parse::<f64>().expect("grams")
        };
        let taken: f64 = (all.iter())
            .flat_map(|record| record["sections"].as_table().expect("sections").values())
            .map(|section| grams(&section["before"]) - grams(&section["after"]))
            .sum();
        let open = self.came - taken - self.missing - rest;
        assert!(open.abs() < 0.05, "week {}: {open} g are lost", self.number);
        for (id, truly) in &self.balls {
            let said = rows.iter().find(|row| row["Remnant"] == *id);
            let said = said.and_then(|row| row["Weight g"].as_f64()).unwrap_or(0.0);
            assert!((said - truly).abs() <= 1.01, "week {}: {id} {said} {truly}", self.number);
        }
    }
}

fn yarn(demo: &Demo, dice: &mut Dice, hand: &Hand, n: usize) -> Yarn {
    let metres = *dice.one(&[400.0, 420.0, 380.0]);
    let (tex, id) = (1e5 / metres, format!("yarn-{n}"));
    let (stitches, rows) = (dice.between(27.0, 30.0), dice.between(38.0, 42.0));
    // What the swatch truly took is what the model says of its gauge, and off it as far as it says.
    let area = (100.0 / stitches) * (100.0 / rows);
    let own = hand.all * dice.about_one(YARN);
    let mut of = |ratio: f64| (19.0 * area).sqrt() * own * ratio * dice.about_one(YARN_FABRIC);
    let (plain, rib) = (of(1.0), of(0.90 * hand.rib));
    let grams = 60.0 * 90.0 * plain * tex / 1e6;
    let measured = |count: f64, per_ten: f64| format!("\"{:.1} cm\"", 10.0 * count / per_ten);
    let swatch = format!(
        "yarn = \"{metres} m/100 g\"\nmachine = \"standard\"\n\n[[swatch]]\nstructure = \"plain\"\n\
         state = \"washed\"\nstitches = 40\nwidths = [{}]\nrows = 60\nheights = [{}]\n\
         weight = \"{grams:.1} g\"\nweighed_stitches = 60\nweighed_rows = 90\nscale_step = \"0.1 g\"\n",
        measured(40.0, stitches),
        measured(60.0, rows),
    );
    let about = format!(
        "name = \"Yarn {n}\"\nyarn = \"{metres} m/100 g\"\nswatches = [\"swatch-{n}\"]\n\n\
         [[colour]]\nname = \"slate\"\nshade = \"#5a6570\"\n"
    );
    for (folder, name, text) in
        [("swatches", format!("swatch-{n}"), swatch), ("yarns", id.clone(), about)]
    {
        let folder = demo.path.join(folder);
        fs::create_dir_all(&folder).expect("a folder");
        fs::write(folder.join(format!("{name}.toml")), text).expect("written");
    }
    let in_pieces = dice.about_one(SWATCH);
    let loops = [("plain", plain), ("circular", plain), ("rib 1x1", rib), ("rib 2x2", rib)];
    let loop_mm = loops.into_iter().map(|(fabric, mm)| (fabric, mm * in_pieces)).collect();
    Yarn { id, tex, stitch: (100.0 / stitches, 100.0 / rows), loop_mm }
}

/// Six days of knitting, and of what comes between.
fn lived(number: u64) -> Week {
    let mut week = Week::new(number);
    week.fill();
    let mut open = week.plan(false);
    for day in 0..6 {
        match (open.is_empty(), week.dice.below(5)) {
            (false, 0..=2) => {
                let gift = open.remove(0);
                week.knit(&gift);
            }
            (_, 3) => {
                week.lighter();
                open = week.plan(true);
            }
            _ => week.change_and_undo(),
        }
        if day == 3 {
            let likes = json!({ "likes": { "colours": ["grey"] } });
            week.patch("/api/v1/lists/people/Kitto", &likes);
        }
    }
    week.settle();
    week
}

#[test]
fn weeks_lose_no_gram_and_promise_no_more_than_is_kept() {
    let weeks = u64::from(tries(WEEKS).cases);
    // One after the other: what grades and plans has the threads.
    let lived: Vec<Week> = (1..=weeks).map(lived).collect();
    let sum = |of: fn(&Week) -> (u32, u32)| {
        lived.iter().map(of).fold((0, 0), |sum, own| (sum.0 + own.0, sum.1 + own.1))
    };
    eprintln!("week planned recorded undone lost g  grams kept  minutes kept");
    for week in &lived {
        eprintln!(
            "{:4} {:7} {:8} {:6} {:6} {:7} of {:3} {:8} of {:3}",
            week.number,
            week.planned,
            week.recorded,
            week.undone,
            week.missing,
            week.grams.0,
            week.grams.0 + week.grams.1,
            week.minutes.0,
            week.minutes.0 + week.minutes.1,
        );
    }
    let promised = [sum(|week| week.grams), sum(|week| week.minutes)];
    eprintln!("promises kept and not: grams {:?}, minutes {:?}", promised[0], promised[1]);
    // One in twenty may lie outside: of 478 and 401 promises of 120 weeks 24 and 24 do. What a week draws holds for all its pieces, so that they lie outside
    // together: three standard deviations of as many weeks as miss at once.
    for (kept, not) in promised {
        let all = f64::from(kept + not);
        assert!(all > weeks as f64, "{all} promises");
        let most = 0.05 + 3.0 * (0.05f64 * 0.95 / weeks as f64).sqrt();
        assert!(f64::from(not) / all <= most, "{not} of {all} are not kept");
    }
}
