//! What the hands do and no step counts: weights, pitch, ends of yarn, held needles on the yarn's way.

use knit::program::{Action, CastOnMethod, Step};
use knit::size_run::SizeRun;
use units::LengthUnit;

use crate::support::{demo, grade};

fn graded(garment: &str, size: &str) -> SizeRun {
    grade(garment, "standard", &demo("standard"), size, &[]).expect("graded")
}

/// The written pattern, with single blanks.
fn told(run: &SizeRun) -> String {
    let text = report::pattern_text(run, &report::PrintLook::new(LengthUnit::Cm), true);
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn pattern(garment: &str) -> String {
    told(&graded(garment, "women-m"))
}

/// The words stand in that order.
fn in_order(text: &str, words: &[&str]) {
    let mut rest = text;
    for word in words {
        let at = rest.find(word).unwrap_or_else(|| panic!("`{word}` is missing in {rest}"));
        rest = &rest[at + word.len()..];
    }
}

const SIZED: [(&str, &str); 18] = [
    ("bootee", "m6-12"),
    ("cardigan", "women-m"),
    ("cuff", "women-m"),
    ("hat", "women-m"),
    ("headband", "women-m"),
    ("helmet", "y5-6"),
    ("leg-warmer", "women-m"),
    ("mitred-square", "women-m"),
    ("mitt", "women-m"),
    ("mitten", "women-m"),
    ("neck-ring", "women-m"),
    ("pullover", "women-m"),
    ("scarf", "women-m"),
    ("shawl", "women-m"),
    ("slipover", "women-m"),
    ("sock", "women-m"),
    ("sock-flat", "women-m"),
    ("tam", "women-m"),
];

fn any(steps: &[Step], is: &impl Fn(&Action) -> bool) -> bool {
    steps.iter().any(|step| match &step.action {
        Action::Repeat { steps, .. } => any(steps, is),
        action => is(action),
    })
}

/// Every garment: weights where loops begin, once where short rows begin, and never two lines of rows
/// after one another.
#[test]
fn the_pattern_says_what_is_hung_and_minded() {
    for (garment, size) in SIZED {
        let run = graded(garment, size);
        let text = told(&run);
        let (_, made) = run.good().next().unwrap_or_else(|| panic!("{garment} can't be knitted"));
        for piece in &made.garment.program.pieces {
            let wound = |action: &Action| {
                matches!(action, Action::CastOn { method: CastOnMethod::Wound, .. })
            };
            let waste = |action: &Action| {
                matches!(action, Action::CastOn { method: CastOnMethod::Waste, .. })
            };
            if any(&piece.steps, &waste) {
                in_order(
                    &text,
                    &["in a colour that is nowhere", "hang claw weights", "ravel cord"],
                );
            }
            if any(&piece.steps, &wound) {
                assert!(text.contains("claw weight"), "{garment}");
            }
        }
        let chapters: Vec<&str> = text.split("## ").collect();
        for chapter in &chapters {
            let begins = chapter.matches("Some needles rest from here: ").count();
            assert!(begins <= 1, "{garment}: {chapter}");
            if chapter.contains("Wrap: ") {
                assert_eq!(begins, 1, "{garment}: {chapter}");
            }
        }
        assert!(!text.contains("times as long as the row"), "{garment}");
    }
}

#[test]
fn a_tube_is_set_to_full_pitch_before_its_loops_are_transferred() {
    let text = pattern("sock");
    in_order(
        &text,
        &[
            "half a pitch apart",
            "back as a tube",
            "Set the beds to full pitch, so that their needles face each other.",
            "Transfer every ribber loop",
            "cover it",
        ],
    );
}

#[test]
fn needles_that_come_back_beside_the_carriage_keep_the_yarn_underneath() {
    for garment in ["tam", "hat"] {
        let text = pattern(garment);
        let text = text.split("## Hat").nth(1).expect("the hat");
        assert!(text.contains("L22. Keep the yarn underneath.") || garment == "hat", "{text}");
        let back = text.matches(" back to upper working position").count();
        assert_eq!(text.matches("Keep the yarn underneath.").count(), back, "{garment}: {text}");
    }
    // A heel brings them back away from the carriage.
    assert!(!pattern("sock").contains("Keep the yarn underneath."));
}

/// Three times the width and a hand for a graft, half as much again and two hands for a seam, a thumb's
/// girth and side from one end.
#[test]
fn ends_are_as_long_as_what_they_sew() {
    // 46 loops of 100 / 28 mm: 164 mm.
    let tam = pattern("tam");
    in_order(&tam, &["leaving an end of 60 cm to graft with", "Take 35 cm of the yarn for it."]);
    assert!(tam.contains("go on loop for loop"), "{tam}");
    // 26 rows of rib and 94 plain ones of about 2.5 mm: 300 mm.
    let mitten = pattern("mitten");
    in_order(&mitten, &["Leave an end of 70 cm, to sew the side with.", "Knit the zigzag row"]);
    // 16 loops and 30 cm, 26 rows half as much again and 20 cm.
    in_order(
        &mitten,
        &[
            "leaving an end of 70 cm to draw the edge up with",
            "Sew with what is left of the same end.",
            "Sew with the end at the cast-on edge.",
        ],
    );
    assert_eq!(mitten.matches("of the yarn for it").count(), 0, "the wound loops have their own");
}

/// The plate lies between the top as knitted and the rim.
#[test]
fn the_plate_is_as_wide_as_top_and_rim_allow() {
    let text = pattern("tam");
    assert!(text.contains("such as a plate, 28.9 cm across."), "{text}");
    in_order(&text, &["draw the band's edge in underneath", "waste yarn"]);
}
