//! The shipped garments' patterns, all of them in all sizes, read as a knitter reads them: numbers and
//! nouns agree, nothing is said of nothing, no end of yarn is left that no step sews with, and what can
//! hurt a child is said.

use app::GradeRequest;
use knit::size_run::{Made, SizeResult, SizeRun};
use knit::stash::Words;
use report::{PrintLook, pattern_text, techniques_text};
use units::LengthUnit;

use crate::support::{bench, demo};

/// Garments made otherwise than as they come, where other words are said.
const VARIANTS: [(&str, &[(&str, &str)]); 8] = [
    ("bootee", &[("cuff", "ribbed")]),
    ("hat", &[("brim", "rib 2x2"), ("join", "seamed"), ("band_pieces", "2")]),
    ("leg-warmer", &[("ends", "hem")]),
    ("mitten", &[("thumb", "none")]),
    ("mitten", &[("tip", "gathered")]),
    ("scarf", &[("fabric", "doubled")]),
    ("sock-flat", &[("mirror", "false")]),
    ("slipover", &[("welts", "hem")]),
];

fn graded(garment: &str, set: &[(&str, &str)]) -> SizeRun {
    let bench = bench();
    let plugin = bench.garment(garment).expect("a garment");
    bench
        .grade(&GradeRequest {
            plugin: &plugin,
            machine: bench.machine("standard").expect("a profile"),
            swatch: &demo("standard"),
            options: set.iter().map(|(n, v)| ((*n).to_owned(), (*v).to_owned())).collect(),
            sizes: "all".to_owned(),
            person: None,
        })
        .unwrap_or_else(|faults| panic!("{garment}, {set:?}: {faults:?}"))
}

/// A pattern of one size, on one line for each chapter.
struct Read<'a> {
    garment: &'a str,
    made: &'a Made,
    chapters: Vec<(String, String)>,
}

impl Read<'_> {
    fn finishing(&self) -> &str {
        let last = self.chapters.last().filter(|(title, _)| title == "Finishing");
        &last.expect("a finishing").1
    }

    fn all(&self) -> impl Iterator<Item = &str> {
        self.chapters.iter().map(|(_, text)| text.as_str())
    }
}

fn chapters(page: &str) -> Vec<(String, String)> {
    let chapters = page.split("\n## ").skip(1).map(|chapter| {
        let (title, text) = chapter.split_once('\n').expect("a heading");
        (title.to_owned(), text.split_whitespace().collect::<Vec<_>>().join(" "))
    });
    chapters.collect()
}

fn page(run: &SizeRun, unit: LengthUnit, words: Words) -> String {
    pattern_text(run, &PrintLook { words, each: true, ..PrintLook::new(unit) }, true)
}

/// What `fault` says of any size of any garment.
fn faults(fault: impl Fn(&Read<'_>) -> Vec<String>) -> Vec<String> {
    let mut found = Vec::new();
    let mut seen = 0;
    let plain = bench().garment_ids();
    let plain = plain.iter().map(|garment| (garment.as_str(), &[][..]));
    for (garment, set) in plain.chain(VARIANTS) {
        let run = graded(garment, set);
        let page = page(&run, LengthUnit::Cm, Words::Usual);
        let patterns: Vec<&str> = format_apart(&page);
        let good: Vec<_> = run.good().collect();
        // Sizes of one figure are one pattern: its first is read.
        assert!(patterns.len() <= good.len() && !patterns.is_empty(), "{garment} {set:?}");
        for text in patterns {
            let title = text.lines().next().unwrap_or_default();
            let of = |(size, _): &&(&SizeResult, &Made)| {
                title.ends_with(&format!(" {}", size.body.label))
            };
            let (_, made) = good.iter().find(of).unwrap_or_else(|| panic!("{title}"));
            let read = Read { garment, made, chapters: chapters(text) };
            let told = fault(&read).into_iter().map(|what| format!("{title} {set:?}: {what}"));
            found.extend(told);
            seen += 1;
        }
    }
    assert!(seen > 300, "{seen} patterns");
    found
}

fn format_apart(page: &str) -> Vec<&str> {
    let mut starts: Vec<usize> = page.match_indices("\n# ").map(|(at, _)| at + 1).collect();
    starts.insert(0, 0);
    let ends = starts.iter().skip(1).copied().chain([page.len()]);
    starts.iter().zip(ends).map(|(from, to)| &page[*from..to]).collect()
}

fn none(faults: Vec<String>) {
    let all = faults.len();
    assert!(all == 0, "{all}:\n{}", faults.into_iter().collect::<Vec<_>>().join("\n"));
}

fn plural(word: &str) -> bool {
    ["needles", "stitches", "rows", "loops", "rounds"].contains(&word)
}

#[test]
fn numbers_and_nouns_agree_and_no_word_is_said_twice() {
    none(faults(|read| {
        let mut found = Vec::new();
        for text in read.all() {
            let words: Vec<&str> = text.split(' ').collect();
            for pair in words.windows(2) {
                let noun = pair[1].trim_matches(|c: char| !c.is_alphabetic());
                if pair[0] == "1" && plural(noun) {
                    found.push(pair.join(" "));
                }
                if pair[0] == pair[1] && pair[0].chars().all(char::is_alphabetic) {
                    found.push(pair.join(" "));
                }
            }
            for five in words.windows(5) {
                if let [noun, from, "to", to, _] = five
                    && plural(noun.trim_start_matches('('))
                    && *from == to.trim_end_matches(')')
                {
                    found.push(five.join(" "));
                }
            }
            for never in ["(s)", ": 0 m", "`"] {
                if text.contains(never) {
                    found.push(never.to_owned());
                }
            }
        }
        found
    }));
}

/// How many ends of a length are left at the pieces, and how many steps of the finishing sew with one.
fn ends(read: &Read<'_>) -> (usize, usize) {
    let (_, pieces) = read.chapters.split_last().expect("a finishing");
    let left = pieces.iter().map(|(title, text)| {
        let alike = title.split_once("(knit ").and_then(|(_, n)| n.split(' ').next()?.parse().ok());
        let lower = text.to_lowercase();
        lower.matches("an end of ").count() * alike.unwrap_or(1)
    });
    let text = read.finishing();
    // The steps, each with its number before it.
    let mut steps: Vec<&str> = Vec::new();
    let mut rest = text;
    for number in 2.. {
        match rest.split_once(&format!(" {number}. ")) {
            Some((step, more)) => {
                steps.push(step);
                rest = more;
            }
            None => break,
        }
    }
    steps.push(rest);
    let own = |step: &str| {
        let sews = ["Graft ", "Draw an end ", "Run an end "].iter().any(|word| step.contains(word));
        let with = ["Sew with the end that hangs there", "Sew with the end at the cast-on edge"];
        let hangs = with.iter().any(|word| step.contains(word));
        let its_own =
            step.contains(" of the yarn for it.") || step.contains("left of the same end");
        usize::from(hangs || (sews && !its_own))
    };
    let same = "Do the same with the other one.";
    let (last, before) = steps.split_last().expect("a step");
    // All of it again.
    if last.ends_with(same) && last.trim_start_matches("1. ") == same {
        return (left.sum(), 2 * before.iter().map(|step| own(step)).sum::<usize>());
    }
    let used = steps.iter().map(|step| own(step) * (1 + step.matches(same).count()));
    (left.sum(), used.sum())
}

#[test]
fn every_end_that_is_left_to_sew_with_is_sewn_with() {
    none(faults(|read| {
        let (left, used) = ends(read);
        let said = format!("{left} ends left, {used} sewn with");
        if left > used { vec![said] } else { Vec::new() }
    }));
}

#[test]
fn ends_left_to_darn_in_are_darned_in() {
    none(faults(|read| {
        let left = read.all().any(|text| text.contains("an end to darn in"));
        let darned = read.finishing().to_lowercase().contains("darn");
        if left && !darned { vec!["no end is darned in".to_owned()] } else { Vec::new() }
    }));
}

/// What is patted, pinned or pulled to a width comes out at the width the pattern says it has: whole, flat in
/// two layers, as a tube over a form, or as wide as twice a radius.
#[test]
fn what_is_blocked_is_blocked_to_its_finished_size() {
    none(faults(|read| {
        let text = read.finishing();
        let Some((_, block)) = text.split_once("Block on ") else { return Vec::new() };
        let Some((before, _)) = block.split_once(" cm across") else { return Vec::new() };
        // Between its top and a circle round its rim: its note says so.
        if read.garment == "tam" {
            return Vec::new();
        }
        let told = before.rsplit(' ').next().unwrap_or_default();
        let cell = |mm: f64| LengthUnit::Cm.cell(mm);
        let sizes = read.made.graded.finished.iter().flat_map(|f| {
            let mm = f.mm;
            [mm, mm / 2.0, mm / std::f64::consts::PI, 2.0 * mm].map(cell)
        });
        let sizes: Vec<String> = sizes.collect();
        if sizes.iter().any(|size| size == told) {
            return Vec::new();
        }
        vec![format!("blocked to {told}, finished {sizes:?}")]
    }));
}

/// Babies' sizes reach to two years, and a child walks at one.
#[test]
fn what_is_worn_on_feet_tells_of_slippery_soles_and_babies_of_loose_ends() {
    none(faults(|read| {
        let care = read.chapters.iter().find(|(title, _)| title == "Take care");
        let care = care.map_or("", |(_, text)| text);
        let mut found = Vec::new();
        let foot = ["sock", "sock-flat", "bootee"].contains(&read.garment);
        if foot && care.matches("nitted soles slip").count() != 1 {
            found.push("soles slip".to_owned());
        }
        let worn = ["cardigan", "leg-warmer", "mitten", "mitt", "pullover", "slipover", "cuff"];
        let limb = foot || worn.contains(&read.garment);
        if limb && care.contains("Baby: edges") && !care.contains("darn in every end") {
            found.push("loose ends".to_owned());
        }
        found
    }));
}

#[test]
fn a_pattern_in_inches_has_no_centimetres() {
    let all: Vec<_> = report::Technique::ALL.to_vec();
    let how = techniques_text(&all, Words::American, false);
    let mut texts = vec![("techniques".to_owned(), how)];
    for garment in bench().garment_ids() {
        let run = graded(&garment, &[]);
        texts.push((garment, page(&run, LengthUnit::In, Words::American)));
    }
    for (whose, text) in texts {
        let words: Vec<&str> = text.split_whitespace().collect();
        let cm = |word: &str| word.trim_matches(|c: char| !c.is_alphanumeric()) == "cm";
        let found: Vec<String> =
            words.windows(6).filter(|six| cm(six[5])).map(|six| six.join(" ")).collect();
        assert_eq!(found, [""; 0], "{whose}");
        assert!(words.len() > 100, "{whose}: {}", words.len());
    }
}
