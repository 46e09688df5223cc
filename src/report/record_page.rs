use serde_json::{Value, json};

use super::gift_words::{and, said_grams};
use super::grade_tables::WITHIN;
use super::grid::{Format, Grid};
use super::minutes_told::MinutesTold;
use knit::estimate::{Minutes, NORMAL_95};
use knit::record::{Apart, BallWeighed, Joined, Learnt, Recorded, TakenSection, TimeTaken};
use knit::stash::{Contents, GiftState, WeighedSection};
use knit::yarn::LoopLength;

/// What a weighing is worth where the wool has taken up or lost water meanwhile: nothing.
pub(super) const SAME_ROOM: &str = "Weigh before and after in the same room, within days; let what was washed dry for \
    two days first";

/// What each section took of each ball, what it took against what was expected, and what was learnt.
pub fn record_page(recorded: &Recorded) -> String {
    let tables = record_tables(recorded).map(|grid| grid.write(Format::Table));
    let lines = record_lines(recorded).into_iter().map(|line| format!("{line}\n"));
    format!("{}{}", tables.join("\n"), lines.collect::<String>())
}

/// The balls on the scale, and what the sections took.
pub fn record_tables(recorded: &Recorded) -> [Grid; 2] {
    [ball_table(&recorded.chain), taken_table(&recorded.sections)]
}

/// What was learnt, and what has become of the gift: a line each.
pub fn record_lines(recorded: &Recorded) -> Vec<String> {
    let mut lines = vec![WITHIN.to_owned(), SAME_ROOM.to_owned()];
    lines.extend(recorded.joined.as_ref().map(joined_line));
    lines.extend(recorded.apart.as_ref().map(apart_line));
    lines.extend(counted_line(&recorded.sections));
    lines.extend(recorded.learnt.iter().map(learnt_line));
    lines.extend(recorded.time.as_ref().map(time_line));
    if let Some(ended) = &recorded.gift {
        let free: Vec<String> = ended
            .freed
            .iter()
            .map(|(id, grams)| format!("{} of {id}", said_grams(*grams)))
            .collect();
        let free = if !ended.planned {
            "nothing was set aside for it".to_owned()
        } else if free.is_empty() {
            "none of its yarn was left over".to_owned()
        } else {
            format!("free again: {}", and(&free))
        };
        lines.push(format!("{} is done; {free}", ended.gift));
    }
    lines
}

/// The same as [`record_lines`] for a page, which has a box for what the command has a flag for.
pub fn record_lines_on_page(recorded: &Recorded) -> Vec<String> {
    let flag = "record it with `--piece new`";
    let lines = record_lines(recorded).into_iter();
    lines.map(|line| line.replace(flag, "tick the box below")).collect()
}

/// What was finished and weighed, the latest first.
pub fn record_list(contents: &Contents) -> Grid {
    let headings = ["Day", "Garment", "Size", "Yarn", "Took g", "Minutes", "Note"];
    let mut grid = Grid::new("Finished", headings.map(str::to_owned).to_vec());
    grid.wordy = true;
    for piece in contents.records.iter().rev() {
        let took: f64 = piece.sections.iter().map(WeighedSection::used_g).sum();
        grid.rows.push(vec![
            piece.date.map_or_else(String::new, |day| day.to_string()),
            piece.garment.clone(),
            piece.size.clone(),
            piece.yarn.clone(),
            format!("{took:.1}"),
            piece.minutes.map_or_else(String::new, |minutes| format!("{minutes:.0}")),
            piece.note.clone().unwrap_or_default(),
        ]);
    }
    grid
}

fn ball_table(chain: &[BallWeighed]) -> Grid {
    let headings = ["Section", "Ball", "Before g", "After g", "Took g"].map(str::to_owned);
    let mut grid = Grid::new("On the scale", headings.to_vec());
    for link in chain {
        grid.rows.push(vec![
            link.section.clone(),
            link.remnant.clone(),
            format!("{:.1}", link.before.grams()),
            format!("{:.1}", link.after.grams()),
            format!("{:.1}", link.took_g()),
        ]);
    }
    grid
}

fn taken_table(sections: &[TakenSection]) -> Grid {
    let headings = ["Section", "Yarn", "Took g", "Expected g", "Differs"].map(str::to_owned);
    let mut grid = Grid::new("What it took", headings.to_vec());
    for section in sections {
        let expected = section.expected.grams();
        let differs = if expected > 0.0 {
            format!("{:+.0} %", (section.took_g / expected - 1.0) * 100.0)
        } else {
            "-".to_owned()
        };
        grid.rows.push(vec![
            section.section.clone(),
            section.yarn.clone(),
            format!("{:.1}", section.took_g),
            format!("{expected:.1} ± {:.1}", section.expected.next_within().half_width()),
            differs,
        ]);
    }
    grid
}

fn learnt_line(one: &Learnt) -> String {
    format!(
        "{}, {}: a stitch takes {:.2} mm ± {:.1} % now; before, {:.2} mm ± {:.1} % (from {})",
        one.yarn,
        one.structure,
        one.after.mm,
        unsure(&one.after) * 100.0,
        one.before.mm,
        unsure(&one.before) * 100.0,
        one.before.basis.words()
    )
}

/// Half-width of its 95 % interval, as a share.
fn unsure(length: &LoopLength) -> f64 {
    length.within.half_width() / length.mm
}

fn time_line(time: &TimeTaken) -> String {
    let told = |minutes: &Minutes| {
        let told = MinutesTold::of(minutes);
        format!("{:.0} ({:.0} to {:.0})", told.mean, told.low, told.high)
    };
    format!(
        "It took {:.0} minutes of work, and about {} were expected. The next one: about {}. In brackets: \
         between what it lies, 95 times in a hundred",
        time.took,
        told(&time.expected),
        told(&time.next)
    )
}

fn time_value(time: &TimeTaken) -> Value {
    let told = |minutes: &Minutes| {
        let told = MinutesTold::of(minutes);
        json!({ "minutes": told.mean, "minutes_low": told.low, "minutes_high": told.high })
    };
    json!({ "took_minutes": time.took, "expected": told(&time.expected), "next": told(&time.next) })
}

/// By fabric.
fn stitches_value(section: &TakenSection) -> Value {
    let counts = section.stitches.iter();
    Value::Object(counts.map(|(fabric, n)| (fabric.name().to_owned(), json!(n))).collect())
}

/// "hat: 9000 stitches plain".
fn counted(section: &TakenSection) -> String {
    let counts = section.stitches.iter();
    let counts: Vec<String> = counts.map(|(fabric, n)| format!("{n} stitches {fabric}")).collect();
    format!("{}: {}", section.section, and(&counts))
}

/// What is written beside the weights, so that the piece goes on teaching what it did.
fn counted_line(sections: &[TakenSection]) -> Option<String> {
    let mut each: Vec<String> =
        sections.iter().filter(|own| !own.stitches.is_empty()).map(counted).collect();
    each.dedup();
    (!each.is_empty()).then(|| format!("Noted with it, as counted: {}", each.join("; ")))
}

fn joined_line(joined: &Joined) -> String {
    let day = joined.date.map_or_else(String::new, |day| format!(", recorded on {day}"));
    format!(
        "It goes on with piece {} ({}{day}): one piece, not two. Was it another one, record it with \
         `--piece new`",
        joined.piece,
        and(&joined.sections)
    )
}

fn apart_line(apart: &Apart) -> String {
    let day = apart.date.map_or_else(String::new, |day| format!(" on {day}"));
    format!(
        "It counts as a piece of its own. Is it the rest of the one recorded{day} ({}; records.toml:{}), write \
         `piece = \"{}\"` into that record: they are one piece then",
        and(&apart.sections),
        apart.line,
        apart.piece
    )
}

/// The same as a value.
pub fn record_value(recorded: &Recorded) -> Value {
    let Recorded { chain, sections, learnt, time, gift, joined, apart } = recorded;
    let chain: Vec<Value> = chain
        .iter()
        .map(|link| {
            json!({ "section": link.section, "remnant": link.remnant, "yarn": link.yarn,
                "before_grams": link.before.grams(), "after_grams": link.after.grams(),
                "took_grams": link.took_g() })
        })
        .collect();
    let gift = gift.as_ref().map(|ended| {
        let freed: Vec<Value> = ended
            .freed
            .iter()
            .map(|(id, grams)| json!({ "remnant": id, "grams": grams }))
            .collect();
        json!({ "gift": ended.gift, "state": GiftState::Done.name(), "freed": freed })
    });
    let sections: Vec<Value> = sections
        .iter()
        .map(|s| {
            json!({ "section": s.section, "yarn": s.yarn, "took_grams": s.took_g,
                "expected_grams": s.expected.grams(), "expected_error": s.expected.sd_of_next(),
                "expected_low": s.expected.next_within().low,
                "expected_high": s.expected.next_within().high, "stitches": stitches_value(s) })
        })
        .collect();
    let learnt: Vec<Value> = learnt
        .iter()
        .map(|one| {
            json!({ "yarn": one.yarn, "structure": one.structure.name(),
                "stitch_mm": one.after.mm, "relative_error": unsure(&one.after) / NORMAL_95,
                "within": unsure(&one.after),
                "before_mm": one.before.mm, "before_relative_error": unsure(&one.before) / NORMAL_95,
                "before_within": unsure(&one.before) })
        })
        .collect();
    let apart = apart.as_ref().map(|apart| {
        json!({ "piece": apart.piece, "sections": apart.sections, "line": apart.line,
            "date": apart.date.map(|date| date.to_string()) })
    });
    let joined = joined.as_ref().map(|joined| {
        json!({ "piece": joined.piece, "sections": joined.sections,
            "date": joined.date.map(|date| date.to_string()) })
    });
    json!({ "sections": sections, "learnt": learnt, "chain": chain, "gift": gift,
        "time": time.as_ref().map(time_value), "joined": joined, "apart": apart })
}
