//! What was learnt, in words a knitter believes. The one place for each of these sentences.

use super::gift_words::{and, said_grams};
use knit::estimate::{HeldAgainst, Likely, PaceEffect, Standing};
use knit::taught::{Counts, Habit, HabitOf, PaceHabit, PieceTold, Taught, TimeTold};

/// What "the model" is, where the word is used.
const MODEL: &str = "The model knows a swatch's stitches and rows, and nothing of your hands. What you take \
    whatever the yarn is what is expected in one that was not weighed yet";

/// What was learnt of the yarn in a stitch, a sentence each; or that nothing is known yet.
pub fn habits(taught: &Taught) -> Vec<String> {
    if taught.habits.is_empty() {
        return vec![
            "Nothing is known of your hands yet: estimates go by the model alone, and are as wide as \
             that is unsure. Weigh a swatch, or note with `oddments record` what a finished piece took"
                .to_owned(),
        ];
    }
    let mut lines: Vec<String> = taught.habits.iter().map(habit).collect();
    if !taught.unknown.is_empty() {
        let names: Vec<String> = taught.unknown.iter().map(ToString::to_string).collect();
        lines.push(format!("Of {} nothing was weighed yet", and(&names)));
    }
    lines.push(MODEL.to_owned());
    lines
}

/// "Your rib 1x1 takes 6 % more yarn than the model; from 8 pieces and 1 swatch; 95 %: 2 to 10 % more".
pub fn habit(habit: &Habit) -> String {
    let more = more(habit.factor.middle);
    let than = if more == AS_MUCH { "as the model says" } else { "than the model says" };
    let says = match &habit.of {
        HabitOf::All => format!("Whatever the yarn, you take {more} of it {than}"),
        HabitOf::Fabric(fabric) => format!("Your {fabric} takes {more} yarn {than}"),
        HabitOf::Yarn { knitted, others } => {
            let others = match others {
                0 => String::new(),
                n => format!(" (and {n} more of that swatch)"),
            };
            format!("Of {}{others} you take {more} {than}", and(knitted))
        }
        HabitOf::Swatch(id) => reckoned(&format!("the swatch {id}"), &more),
        HabitOf::Guess(yarn) => {
            reckoned(&format!("the guess at {yarn}, which has no swatch"), &more)
        }
        HabitOf::FormerSwatch(id) => reckoned(&format!("the swatch {id} as it was before"), &more),
        HabitOf::FormerGuess(yarn) => {
            reckoned(&format!("the guess at {yarn} as it was before"), &more)
        }
    };
    format!("{says}; from {}; 95 %: {}", from(habit), between(habit.factor))
}

/// Of stitches that were reckoned from a gauge: what its shape and readings say, set right by the pieces.
fn reckoned(from: &str, more: &str) -> String {
    if more == AS_MUCH {
        return format!("A stitch takes just what {from} says");
    }
    format!("A stitch takes {more} than {from} says")
}

/// What was learnt of the time that work takes, a sentence each; or that nothing is known yet.
pub fn paces(taught: &Taught) -> Vec<String> {
    if taught.pace.is_empty() {
        return vec![
            "Nothing is known of your pace yet: hours go by the times of single operations. Note with \
             `oddments record --minutes` how long a piece took"
                .to_owned(),
        ];
    }
    let mut lines: Vec<String> = taught.pace.iter().map(pace).collect();
    lines.push(OPERATIONS.to_owned());
    lines
}

/// What the minutes are held against.
const OPERATIONS: &str =
    "Minutes by the operations: how often each is done, times what it takes by `times.toml`";

/// "Your work takes 8 % more time than its operations say; from 3 pieces; 95 %: 10 % less to 30 % more".
pub fn pace(habit: &PaceHabit) -> String {
    let more = more(habit.factor.middle);
    let than = if more == AS_MUCH { "as" } else { "than" };
    let says = match &habit.of {
        PaceEffect::Knitter => match habit.as_they_stand {
            // Practice is taken out of what is said of the knitter: the figures in the records are not that.
            Some(raw) => {
                let stood = self::more(raw);
                let than_stood = if stood == AS_MUCH { "as" } else { "than" };
                format!(
                    "Your {} took {stood} time {than_stood} {} operations say, practice and all; the first of a \
                     kind takes you {more} time {than} its operations say",
                    if habit.pieces == 1 { "piece" } else { "pieces" },
                    if habit.pieces == 1 { "its" } else { "their" }
                )
            }
            None => format!("Your work takes {more} time {than} its operations say"),
        },
        PaceEffect::Kind(garment) => format!("Beyond that, {garment} takes {more} time"),
        PaceEffect::Practice => {
            format!("When twice as many of a kind are made, one takes {more} time")
        }
    };
    let pieces = match habit.pieces {
        1 => "1 piece".to_owned(),
        n => format!("{n} pieces"),
    };
    format!("{says}; from {pieces}; 95 %: {}", between(habit.factor))
}

const AS_MUCH: &str = "as much";

fn percent(factor: f64) -> i64 {
    ((factor - 1.0) * 100.0).round() as i64
}

/// "6 % more", "3 % less", "as much".
fn more(factor: f64) -> String {
    match percent(factor) {
        0 => AS_MUCH.to_owned(),
        more @ 1.. => format!("{more} % more"),
        less => format!("{} % less", -less),
    }
}

/// "2 to 10 % more", "3 % less to 5 % more".
fn between(factor: Likely) -> String {
    match (percent(factor.low), percent(factor.high)) {
        (low, high) if low == high => more(factor.middle),
        (low @ 1.., high) => format!("{low} to {high} % more"),
        (low, high @ ..=-1) => format!("{} to {} % less", -high, -low),
        _ => format!("{} to {}", more(factor.low), more(factor.high)),
    }
}

/// "8 pieces and 1 swatch".
fn from(habit: &Habit) -> String {
    let of = |n: u32, one: &str, many: &str| match n {
        0 => None,
        1 => Some(format!("1 {one}")),
        n => Some(format!("{n} {many}")),
    };
    let both = [of(habit.pieces, "piece", "pieces"), of(habit.swatches, "swatch", "swatches")];
    and(&both.into_iter().flatten().collect::<Vec<_>>())
}

/// How uneven pieces are held to be.
pub fn unevenness(taught: &Taught) -> String {
    let share = |spread: f64| format!("{:.1} %", spread * 100.0);
    let usual = share(taught.usual_unevenness);
    if taught.pieces.iter().any(|piece| piece.counts.is_learnt_from()) {
        format!(
            "A piece of yours differs from its twin by {} or so; before any was weighed it was held to \
             be {usual}",
            share(taught.unevenness)
        )
    } else {
        format!(
            "A piece is held to differ from its twin by {usual} or so, as most knitters' do: none of \
             yours was learnt from yet"
        )
    }
}

/// Whether a piece counts: the word of its row.
pub fn counts(piece: &PieceTold) -> &'static str {
    match &piece.counts {
        Counts::Held(Standing::Taken) if piece.sure => "yes, you are sure",
        Counts::Held(Standing::Taken) => "yes",
        Counts::Held(Standing::Asked) => "asked about",
        Counts::Held(Standing::Senseless) => "can't be",
        Counts::LeftAside(_) => "left aside",
    }
}

/// "tam in women-m".
pub fn piece_name(piece: &PieceTold) -> String {
    format!("{} in {}", piece.garment, piece.label)
}

/// Whether the minutes of a piece count: the word of its row.
pub fn time_counts(time: &TimeTold) -> &'static str {
    match time.standing {
        Standing::Taken if time.sure => "yes, you are sure",
        Standing::Taken => "yes",
        Standing::Asked => "asked about",
        Standing::Senseless => "can't be",
    }
}

/// What is odd about the minutes of a piece, and what to do about it; `None` where they count.
pub fn time_advice(piece: &PieceTold) -> Option<String> {
    let time = piece.time.as_ref().filter(|time| time.standing != Standing::Taken)?;
    let (name, own, file, took) = (piece_name(piece), entries(piece), file(piece), time.took);
    Some(match time.expected {
        Some(likely) if time.standing == Standing::Asked => format!(
            "The {name} took {took:.0} minutes where {:.0} to {:.0} were likely, so no pace is learnt from \
             it. Were there long pauses? If so, correct `minutes` in {own} of {file}; if it is right, write \
             `sure = [\"minutes\"]` there",
            likely.low, likely.high
        ),
        _ => format!(
            "The {name} can't have taken {took:.0} minutes, so no pace is learnt from it. Correct `minutes` \
             in {own} of {file}"
        ),
    })
}

/// "records.toml:12 and :20": where its entries begin, as far as that is known.
fn file(piece: &PieceTold) -> String {
    let all: Vec<String> = piece.lines.iter().map(|line| format!(":{line}")).collect();
    format!("records.toml{}", and(&all))
}

/// Which entries of the records it is: "record 3", "records 3 and 4".
pub fn entries(piece: &PieceTold) -> String {
    let numbers: Vec<String> = piece.entries.iter().map(ToString::to_string).collect();
    format!("record{} {}", if numbers.len() == 1 { "" } else { "s" }, and(&numbers))
}

/// What is odd about a weighed swatch, and what to do about it.
pub fn swatch_advice(swatch: &HeldAgainst) -> String {
    let (name, weighs) = (&swatch.record, said_grams(swatch.taken));
    match swatch.expected {
        Some(likely) if swatch.standing == Standing::Asked => format!(
            "The swatch {name} weighs {weighs} where {:.1} to {:.1} g were likely, so estimates don't learn \
             from it. Weigh it again, and count its stitches and rows; if it is right, write `sure = true` \
             beside the weight in its file",
            likely.low, likely.high
        ),
        _ => format!(
            "The swatch {name} can't weigh {weighs}, so estimates don't learn from it. Correct the weight \
             in its file, or take it out"
        ),
    }
}

/// What is odd about a piece, and what to do about it; `None` where it counts.
pub fn advice(piece: &PieceTold) -> Option<String> {
    let (name, own, took) = (piece_name(piece), entries(piece), said_grams(piece.took_g));
    match &piece.counts {
        Counts::Held(Standing::Taken) => None,
        Counts::Held(Standing::Asked) => Some(format!(
            "The {name} took {took}{}, so estimates don't learn from it. Was it weighed in the same room \
             before and after, and dry? If not, correct {own} of {} or take it out; if it is \
             right, write `sure = {}` there",
            likely(piece),
            file(piece),
            // Whoever vouches for the weight doesn't thereby for the minutes.
            if piece.time.is_some() { "[\"grams\"]" } else { "true" }
        )),
        Counts::Held(Standing::Senseless) => Some(format!(
            "The {name} can't have taken {took}, so estimates don't learn from it. Correct {own} of {}, \
             or take it out",
            file(piece)
        )),
        Counts::LeftAside(why) => Some(format!(
            "The {name} is left aside: {why}. Correct {own} of {}, or take it out",
            file(piece)
        )),
    }
}

/// What was likely in its place: of the whole, and of the section that is furthest off.
fn likely(piece: &PieceTold) -> String {
    let whole = piece.expected.map_or_else(String::new, |likely| {
        format!(" where {:.0} to {:.0} g were likely", likely.low, likely.high)
    });
    let section = piece.furthest.as_ref().map_or_else(String::new, |furthest| {
        let took = said_grams(furthest.took_g);
        format!(", the {} {took} of it where {:.0} g were", furthest.name, furthest.expected_g)
    });
    format!("{whole}{section}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use knit::program::Structure;
    use knit::taught::SectionTold;

    fn within(middle: f64, low: f64, high: f64) -> Likely {
        Likely { middle, low, high }
    }

    fn of(of: HabitOf, factor: Likely, pieces: u32, swatches: u32) -> String {
        habit(&Habit { of, factor, pieces, swatches })
    }

    #[test]
    fn habits_are_told_as_a_knitter_would() {
        let yarn = HabitOf::Yarn { knitted: vec!["beacon".into(), "slate".into()], others: 14 };
        assert_eq!(
            of(HabitOf::Fabric(Structure::Rib1x1), within(1.06, 1.02, 1.1), 8, 1),
            "Your rib 1x1 takes 6 % more yarn than the model says; from 8 pieces and 1 swatch; 95 %: 2 to \
             10 % more"
        );
        assert_eq!(
            of(HabitOf::All, within(0.97, 0.92, 1.02), 1, 0),
            "Whatever the yarn, you take 3 % less of it than the model says; from 1 piece; 95 %: 8 % less to 2 % more"
        );
        assert_eq!(
            of(yarn, within(0.9, 0.85, 0.95), 0, 2),
            "Of beacon and slate (and 14 more of that swatch) you take 10 % less than the model says; from 2 swatches; 95 %: 5 to \
             15 % less"
        );
        assert_eq!(
            of(HabitOf::Swatch("standard".into()), within(1.001, 0.96, 1.04), 2, 0),
            "A stitch takes just what the swatch standard says; from 2 pieces; 95 %: 4 % less to 4 % more"
        );
        // An end that rounds to nought is no per cent.
        assert_eq!(between(within(1.03, 1.001, 1.05)), "as much to 5 % more");
        assert_eq!(between(within(0.97, 0.95, 0.998)), "5 % less to as much");
        assert_eq!(between(within(1.03, 1.03, 1.03)), "3 % more");
    }

    fn piece(counts: Counts) -> PieceTold {
        PieceTold {
            entries: vec![3, 4],
            garment: "tam".into(),
            size: "women-m".into(),
            label: "women-m".into(),
            lines: Vec::new(),
            yarns: vec!["slate".into(), "beacon".into()],
            date: None,
            note: None,
            took_g: 90.0,
            expected: Some(within(50.0, 42.0, 59.6)),
            furthest: None,
            counts,
            sure: false,
            time: None,
        }
    }

    #[test]
    fn what_is_odd_says_what_to_do() {
        let asked = advice(&piece(Counts::Held(Standing::Asked))).expect("advice");
        assert!(asked.contains("took 90 g where 42 to 60 g were likely"), "{asked}");
        assert!(asked.contains("correct records 3 and 4 of records.toml"), "{asked}");
        assert!(asked.ends_with("write `sure = true` there"), "{asked}");
        let furthest = SectionTold { name: "band".into(), took_g: 46.0, expected_g: 11.2 };
        let of_one = PieceTold { furthest: Some(furthest), ..piece(Counts::Held(Standing::Asked)) };
        let told = advice(&of_one).expect("advice");
        assert!(
            told.contains("60 g were likely, the band 46 g of it where 11 g were, so"),
            "{told}"
        );
        let senseless = advice(&piece(Counts::Held(Standing::Senseless))).expect("advice");
        assert!(senseless.contains("can't have taken 90 g"), "{senseless}");
        assert!(!senseless.contains("sure"), "nobody can stand by it: {senseless}");
        let left = advice(&piece(Counts::LeftAside("no such size".into()))).expect("advice");
        assert!(left.contains("left aside: no such size. Correct"), "{left}");
        assert_eq!(advice(&piece(Counts::Held(Standing::Taken))), None);
    }

    #[test]
    fn what_is_not_known_is_said() {
        let nothing = Taught {
            pace: Vec::new(),
            habits: Vec::new(),
            unknown: vec![Structure::Plain, Structure::Rib1x1, Structure::Rib2x2],
            unevenness: 0.03,
            usual_unevenness: 0.03,
            pieces: Vec::new(),
            odd_swatches: Vec::new(),
        };
        let told = habits(&nothing);
        assert_eq!(told.len(), 1);
        assert!(told[0].starts_with("Nothing is known of your hands yet"), "{told:?}");
        assert!(unevenness(&nothing).contains("3.0 % or so, as most knitters' do"));
        let some = Taught {
            habits: vec![Habit {
                of: HabitOf::All,
                factor: within(1.0, 0.9, 1.1),
                pieces: 1,
                swatches: 0,
            }],
            unevenness: 0.024,
            pieces: vec![piece(Counts::Held(Standing::Taken))],
            ..nothing
        };
        assert!(
            habits(&some)
                .contains(&"Of plain, rib 1x1 and rib 2x2 nothing was weighed yet".to_owned())
        );
        assert!(unevenness(&some).starts_with("A piece of yours differs from its twin by 2.4 %"));
    }
}
