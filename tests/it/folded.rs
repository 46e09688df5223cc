//! The folded pattern unfolded again, from its words alone, against the program and its run: not a
//! row, a needle or a side may be lost on the way. Nothing here knows how it is folded.

use std::collections::VecDeque;

use knit::needle::Side;
use knit::program::{Action, Inset, Step, Which, WorkingEnds};
use knit::run::{Deed, NeedleEvent, PieceRun};
use knit::size_run::{Made, SizeRun};
use serde_json::Value;
use units::LengthUnit;

use crate::support::{bench, demo, grade};

const SIZES: &str = "newborn,m6-12,y2-3,y5-6,y13-14,women-m,men-m,men-xl";

/// What is done once, as a word list that both sides come to; and what the bed says of it.
#[derive(Clone, Debug, PartialEq)]
struct Done {
    what: String,
    needles: Option<String>,
    in_work: Option<u32>,
}

fn done(what: String) -> Done {
    Done { what, needles: None, in_work: None }
}

// What the program says, visit by visit.

struct Program<'a> {
    piece: &'a PieceRun,
    row: usize,
    events: VecDeque<NeedleEvent>,
    all: Vec<Done>,
}

impl Program<'_> {
    fn steps(&mut self, steps: &[Step]) {
        for step in steps {
            match &step.action {
                Action::Repeat { times, steps } => (0..*times).for_each(|_| self.steps(steps)),
                Action::CarriageAt(_) | Action::Mark(_) => {}
                Action::Knit { rows } => (0..*rows).for_each(|_| self.knit()),
                action => self.by_hand(action),
            }
        }
    }

    fn knit(&mut self) {
        let row = &self.piece.rows[self.row];
        self.row += 1;
        self.all.push(done(format!("row {:03} to the {}", row.counter, row.from.other())));
    }

    fn event(&mut self, deeds: &[Deed]) -> Option<NeedleEvent> {
        let next = self.events.front()?;
        let here = next.after_rows as usize == self.row && deeds.contains(&next.deed);
        here.then(|| self.events.pop_front()).flatten()
    }

    fn seen(&mut self, what: String, deed: Deed) {
        let event = self
            .event(&[deed])
            .unwrap_or_else(|| panic!("no {deed:?} for {what}: {:?}", self.events.front()));
        let needles = Some(event.needles.to_string());
        self.all.push(Done { what, needles, in_work: Some(event.in_work) });
    }

    fn by_hand(&mut self, action: &Action) {
        match action {
            Action::Hold(Which::AtSide(side, n)) => {
                self.seen(format!("hold {n} {side}"), Deed::Hold)
            }
            Action::Return(Which::AtSide(side, n)) => {
                self.seen(format!("back {n} {side}"), Deed::Return);
            }
            Action::Wrap => {
                let side = self.piece.rows[self.row - 1].from.other();
                self.seen(format!("wrap {side}"), Deed::Wrap);
            }
            Action::Decrease { side, count } => {
                self.seen(format!("take {count} {side} in 0"), Deed::Decrease);
            }
            Action::Increase { side, count } => {
                self.seen(format!("make {count} {side} in 0"), Deed::Increase);
            }
            Action::Narrow(fashion) | Action::Widen(fashion) => {
                let narrow = matches!(action, Action::Narrow(_));
                let deed = if narrow { Deed::Decrease } else { Deed::Increase };
                let verb = if narrow { "take" } else { "make" };
                let inset = match fashion.inset {
                    Inset::Stitches(n) => n.to_string(),
                    Inset::Needle(needle) => format!("at {needle}"),
                };
                let sides: &[Side] = match &fashion.ends {
                    WorkingEnds::One(side) => std::slice::from_ref(side),
                    WorkingEnds::Both => &[Side::Left, Side::Right],
                };
                for side in sides {
                    self.seen(format!("{verb} {} {side} in {inset}", fashion.count), deed);
                }
            }
            Action::Transfer(moved) => {
                self.event(&[Deed::Transfer]);
                self.all.push(done(format!("move {} to {}", moved.from.span, moved.to.span)));
            }
            Action::ScrapOff { .. } => {
                let event = self.event(&[Deed::ScrapOff]).expect("taken off");
                self.all.push(done(format!("off {}", event.needles)));
            }
            Action::Note(text) => self.all.push(done(format!("note {}", tidy(text)))),
            other => {
                let row = self.row;
                let own = |e: &NeedleEvent| e.after_rows as usize == row && belongs(other, e.deed);
                if self.events.front().is_some_and(own) {
                    self.events.pop_front();
                }
                self.all.push(done("other".into()));
            }
        }
    }
}

/// Whether a deed is of a step that is told as it stands.
fn belongs(action: &Action, deed: Deed) -> bool {
    match action {
        Action::CastOn { .. } => deed == Deed::CastOn,
        Action::Hold(_) => deed == Deed::Hold,
        Action::Return(_) => deed == Deed::Return,
        Action::Hang { .. } => deed == Deed::Hang,
        Action::Rehang { .. } => deed == Deed::Rehang,
        Action::TransferToMain => matches!(deed, Deed::TransferToMain | Deed::LatchUp),
        Action::CastOff { .. } => deed == Deed::CastOff,
        Action::ToRib { .. } => deed == Deed::ToRib,
        Action::PickUp { .. } => deed == Deed::PickUp,
        _ => false,
    }
}

fn programmed(steps: &[Step], piece: &PieceRun) -> Vec<Done> {
    let events = piece.events.iter().copied().collect();
    let mut program = Program { piece, row: 0, events, all: Vec::new() };
    program.steps(steps);
    assert_eq!(program.row, piece.rows.len(), "{}", piece.name);
    assert_eq!(program.events, [], "{}", piece.name);
    left_first(program.all)
}

/// What is done at both ends at one time is done in no order: the left end first.
fn left_first(mut all: Vec<Done>) -> Vec<Done> {
    for at in 1..all.len() {
        let (one, two) = (all[at - 1].clone(), all[at].clone());
        if one.what.contains(" right")
            && one.what.replace(" right", " left") == two.what
            && !one.what.starts_with("row")
        {
            (all[at - 1].what, all[at - 1].needles) = (two.what, two.needles);
            (all[at].what, all[at].needles) = (one.what, one.needles);
        }
    }
    all
}

// What the words say.

/// What the hands mind, beside the steps: no row and no needle is counted there.
const REMARKS: [&str; 5] = [
    "Some needles rest from here: ",
    "See that the first loop of ",
    "Held needles lie between the carriage and the work, ",
    "Set the beds half a pitch apart",
    "Set the beds to full pitch",
];

struct Line {
    depth: usize,
    numbered: bool,
    text: String,
}

/// A reader with a row counter and a carriage.
struct Reader {
    counter: u32,
    carriage: Side,
    all: Vec<Done>,
}

fn tidy(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn side_of(code: &str) -> Side {
    match code {
        "COL" => Side::Left,
        "COR" => Side::Right,
        other => panic!("no side: {other}"),
    }
}

/// The figure of a round: "6 rows in the first 8 rounds, 8 rows in the last 3", "4 rows and 5 rows in
/// turn", "round by round 1 2 1 rows", or one for all.
fn figure(phrase: &str, round: usize, times: usize) -> u32 {
    let number = |text: &str| -> u32 {
        let words = text.split_whitespace();
        words.filter_map(|word| word.parse().ok()).next().unwrap_or(1)
    };
    if let Some(list) = phrase.strip_prefix("round by round ") {
        let all: Vec<u32> = list.split_whitespace().map_while(|n| n.parse().ok()).collect();
        assert_eq!(all.len(), times, "a figure for each round: {phrase}");
        return all[round];
    }
    // Up to which round each part goes. A part in turn has commas of its own.
    let mut parts: Vec<(String, usize)> = Vec::new();
    let mut rest = phrase;
    let mut upto = 0;
    while let Some((part, after)) = rest.split_once(" in the ") {
        let (span, next) = match after.split_once(", ") {
            Some((span, next)) => (span, next),
            None => (after, ""),
        };
        let rounds = span.split_whitespace().find_map(|word| word.parse().ok()).unwrap_or(1usize);
        upto += rounds;
        parts.push((part.to_owned(), upto));
        rest = next;
    }
    if parts.is_empty() {
        parts.push((phrase.to_owned(), times));
    }
    assert_eq!(parts.last().expect("a part").1, times, "all rounds are told: {phrase}");
    let mut from = 0;
    for (part, upto) in parts {
        if round < upto {
            let Some(turns) = part.strip_suffix(" in turn") else { return number(&part) };
            let turns: Vec<&str> = turns.split(" and ").flat_map(|t| t.split(", ")).collect();
            return number(turns[(round - from) % turns.len()]);
        }
        from = upto;
    }
    unreachable!("all rounds are told")
}

impl Reader {
    /// Reads lines, which are round `round` of `times`.
    fn read(&mut self, lines: &[Line], round: usize, times: usize, said: &mut [Vec<usize>]) {
        let mut at = 0;
        while at < lines.len() {
            let line = &lines[at];
            let inner = lines[at + 1..].iter().take_while(|l| l.depth > line.depth).count();
            let body = &lines[at + 1..=at + inner];
            if !line.numbered {
                at += 1;
                continue;
            }
            let before = self.all.len();
            let (text, led) = self.lead(&line.text);
            if inner > 0 {
                self.repeat(text, body, &mut said[at + 1..=at + inner]);
            } else if led || !self.own_lead(text) {
                self.line(text, led, round, times);
            }
            said[at].extend(before..self.all.len());
            at += 1 + inner;
        }
    }

    /// What stands before a step must be so.
    fn lead<'t>(&self, text: &'t str) -> (&'t str, bool) {
        for code in ["COL", "COR"] {
            let counter = format!("RC {:03} {code}: ", self.counter);
            for lead in [counter.as_str(), &format!("{code}: ")] {
                if let Some(rest) = text.strip_prefix(lead) {
                    assert_eq!(self.carriage, side_of(code), "{text}");
                    return (rest, true);
                }
            }
        }
        assert!(!text.starts_with("RC "), "the counter is at {:03}: {text}", self.counter);
        (text, false)
    }

    /// A line that sets the counter itself.
    fn own_lead(&mut self, text: &str) -> bool {
        let cast_on = text.starts_with("Cast on ") && text.contains(" needles, ");
        if cast_on {
            (self.counter, self.carriage) = (0, Side::Right);
            self.all.push(done("other".into()));
        }
        if text == "Set the row counter to 000, carriage on the right." {
            (self.counter, self.carriage) = (0, Side::Right);
            return true;
        }
        cast_on
            || text.starts_with("In what follows ") && text.contains("hang points")
            || REMARKS.iter().any(|remark| text.starts_with(remark))
    }

    fn repeat(&mut self, text: &str, body: &[Line], said: &mut [Vec<usize>]) {
        let times = text.split(' ').find_map(|word| word.parse().ok()).expect("so many times");
        let mut counters = Vec::new();
        let begun = self.counter;
        for round in 0..times {
            self.read(body, round, times, said);
            counters.push(self.counter);
        }
        let depth = body[0].depth;
        for remark in body.iter().filter(|line| !line.numbered && line.depth == depth) {
            self.counted(&remark.text, begun, &counters);
        }
    }

    /// Where the row counter stands after each round.
    fn counted(&self, text: &str, begun: u32, counters: &[u32]) {
        let told: Vec<u32> = text
            .split(|c: char| !c.is_ascii_digit())
            .filter_map(|word| word.parse().ok())
            .collect();
        if text.starts_with("The row counter shows ") {
            assert_eq!(told, counters, "{text}");
        } else if text.starts_with("The row counter goes up by ") {
            let each = (counters[0] - begun, counters[counters.len() - 1]);
            assert_eq!((told[0], told[1]), each, "{text}");
            let even = counters.windows(2).all(|pair| pair[1] - pair[0] == each.0);
            assert!(even, "{text}: {counters:?}");
        } else {
            assert!(text.starts_with("That is "), "{text}");
        }
        if let Some(at) = text.find("carriage ") {
            let code = text[at..].split([' ', '.']).find(|word| word.starts_with("CO"));
            assert_eq!(side_of(code.expect("a side")), self.carriage, "{text}");
        }
    }

    fn sides(&self, text: &str) -> Vec<Side> {
        if text.contains(" on each side") {
            vec![Side::Left, Side::Right]
        } else if text.contains(" on the side away from the carriage") {
            vec![self.carriage.other()]
        } else if text.contains(" on the side where the carriage is") {
            vec![self.carriage]
        } else if text.contains(" on the left") || text.contains("the left end") {
            vec![Side::Left]
        } else if text.contains(" on the right") || text.contains("the right end") {
            vec![Side::Right]
        } else {
            Vec::new()
        }
    }

    fn line(&mut self, text: &str, led: bool, round: usize, times: usize) {
        let of = |phrase: &str| figure(phrase, round, times);
        let shaping = |verb: &str, n: u32, inset: String, sides: Vec<Side>| -> Vec<Done> {
            let told = sides.into_iter().map(|side| format!("{verb} {n} {side} in {inset}"));
            told.map(done).collect()
        };
        // What is before the colon says what; what is behind it, how.
        let head = text.split(": ").next().unwrap_or(text);
        if let Some(rest) = text.strip_prefix("Knit ")
            && !rest.contains("waste yarn")
        {
            let phrase = rest.split(" to the ").next().expect("a phrase");
            self.knit(of(phrase.split('.').next().expect("a phrase")), text);
        } else if let Some((phrase, _)) = between(text, "Push ", " to holding position")
            && !self.sides(head).is_empty()
        {
            let phrase = upto_side(phrase);
            for side in self.sides(head) {
                self.all.push(done(format!("hold {} {side}", of(phrase))));
            }
        } else if let Some((phrase, _)) = between(text, "Bring ", " back to upper working position")
            && !self.sides(head).is_empty()
        {
            let phrase = upto_side(phrase);
            for side in self.sides(head) {
                self.all.push(done(format!("back {} {side}", of(phrase))));
            }
        } else if text.starts_with("Wrap: ") {
            self.all.push(done(format!("wrap {}", self.carriage)));
        } else if let Some(rest) = text.strip_prefix("Take ")
            && led
            && (rest.contains(" in on ") || rest.contains(" in at "))
        {
            let (phrase, _) = rest.split_once(" in on ").expect("a side");
            let inset = inset_of(head, &of);
            self.all.extend(shaping("take", of(phrase), inset, self.sides(head)));
        } else if let Some(rest) = text.strip_prefix("Make ")
            && led
        {
            let (phrase, _) = rest.split_once(" on ").expect("a side");
            let inset = inset_of(head, &of);
            self.all.extend(shaping("make", of(phrase), inset, self.sides(head)));
        } else if let Some((phrase, _)) = between(text, "Bring ", " beside the ") {
            let n = if phrase == "the empty needle" { 1 } else { of(phrase) };
            self.all.extend(shaping("make", n, "0".into(), self.sides(head)));
        } else if let Some((list, _)) = between(text, "Move one loop after the other: ", ". ") {
            self.all.extend(list.split(", ").map(|one| done(format!("move {one}"))));
        } else if let Some(rest) = text.strip_prefix("Move the loop").filter(|_| led) {
            let rest = rest.trim_start_matches('s').trim_start_matches(" of ");
            let mut words = rest.split([' ', ',', '.']).filter(|word| is_needles(word));
            let (from, to) = (words.next().expect("from"), words.next().expect("to"));
            self.all.push(done(format!("move {from} to {to}")));
        } else if let Some((_, list)) = text.split_once("needles only and take those loops off: ") {
            let list = list.split(". They wait").next().expect("a list");
            // Behind the needles what the loops are called later.
            let groups = list.split(", then ").filter_map(|one| one.split(' ').next());
            self.all.extend(groups.map(|needles| done(format!("off {needles}"))));
        } else if led && text.contains(" rows of waste yarn over ") {
            let (_, rest) = text.split_once(" rows of waste yarn over ").expect("needles");
            self.all.push(done(format!("off {}", rest.split(' ').next().expect("needles"))));
        } else if led {
            if text == "Set the row counter to 000." {
                self.counter = 0;
            }
            for side in [Side::Left, Side::Right] {
                if text.starts_with(&format!("Take the carriage to the {side} ")) {
                    self.carriage = side;
                }
            }
            self.all.push(done("other".into()));
        } else {
            self.all.push(done(format!("note {}", tidy(text))));
        }
    }

    fn knit(&mut self, rows: u32, text: &str) {
        for _ in 0..rows {
            self.counter += 1;
            self.carriage = self.carriage.other();
            self.all.push(done(format!("row {:03} to the {}", self.counter, self.carriage)));
        }
        for side in [Side::Left, Side::Right] {
            if text.contains(&format!(" to the {side}")) {
                assert_eq!(self.carriage, side, "{text}");
            }
        }
        if let Some((_, rest)) = text.split_once(" RC ") {
            let code = if self.carriage == Side::Left { "COL" } else { "COR" };
            assert_eq!(rest, format!("{:03}, {code}.", self.counter), "{text}");
        }
    }
}

fn between<'t>(text: &'t str, before: &str, after: &str) -> Option<(&'t str, &'t str)> {
    text.strip_prefix(before)?.split_once(after)
}

fn upto_side(phrase: &str) -> &str {
    [" on the ", " on each "]
        .iter()
        .filter_map(|on| phrase.split(on).next())
        .min_by_key(|p| p.len())
        .expect("a phrase")
}

fn is_needles(word: &str) -> bool {
    word.starts_with(['L', 'R']) && word[1..].starts_with(|c: char| c.is_ascii_digit())
}

fn inset_of(head: &str, of: &impl Fn(&str) -> u32) -> String {
    if let Some((_, phrase)) = head.split_once(", in from the end ") {
        return of(phrase).to_string();
    }
    if let Some((before, _)) = head.split_once(" in from the end") {
        return before.rsplit(", ").next().expect("a figure").to_owned();
    }
    match head.rsplit_once(" at ") {
        Some((_, needle)) if is_needles(needle) => format!("at {needle}"),
        _ => "0".to_owned(),
    }
}

// Both, side by side.

/// The chapters of one size, with the texts as they are written.
fn chapters(run: &SizeRun) -> Vec<(String, Vec<Line>)> {
    let json: Value =
        serde_json::from_str(&report::pattern_json(run, LengthUnit::Cm)).expect("json");
    let folded = &json[0]["folded"][0]["chapters"];
    let chapters = folded.as_array().expect("chapters").iter().map(|chapter| {
        let lines = chapter["lines"].as_array().expect("lines").iter().map(|line| Line {
            depth: line["depth"].as_u64().expect("a depth") as usize,
            numbered: line["numbered"].as_bool().expect("told"),
            text: tidy(line["text"].as_str().expect("a text")),
        });
        (chapter["title"].as_str().expect("a title").to_owned(), lines.collect())
    });
    chapters.collect()
}

/// The needles a line names as its first and its last, of the visits it stands for.
fn needles_agree(text: &str, visits: &[&Done]) {
    let Some((_, tail)) = text.rsplit_once(": ") else { return };
    let told = tail.split(['.', ',', ';']).flat_map(|part| part.split(' '));
    let mut told: Vec<&str> = told.filter(|word| is_needles(word)).collect();
    if told.is_empty() {
        return;
    }
    let mut named: Vec<(usize, &str)> = ["left", "right"]
        .into_iter()
        .filter_map(|side| Some((tail.find(&format!("on the {side} "))?, side)))
        .collect();
    named.sort_unstable();
    let sides: Vec<Vec<&Done>> = if named.is_empty() {
        vec![visits.to_vec()]
    } else {
        let on = |side: &str| {
            visits.iter().copied().filter(|d| d.what.contains(&format!(" {side}"))).collect()
        };
        named.iter().map(|(_, side)| on(side)).collect()
    };
    for visits in sides {
        let (first, last) = (&visits[0].needles, &visits[visits.len() - 1].needles);
        let first = first.as_deref().expect("needles");
        assert_eq!(told.remove(0), first, "{text}");
        if last.as_deref() != Some(first) {
            assert_eq!(Some(told.remove(0)), last.as_deref(), "{text}");
        }
    }
    assert!(told.is_empty(), "{text}");
}

fn stitches_agree(text: &str, visits: &[&Done]) {
    let figure = |after: &str| -> Option<u32> {
        text.split_once(after)?.0.rsplit([' ', ',']).next()?.parse().ok()
    };
    let (each, last) = match (figure(" in work after the first time"), figure(" after the last.")) {
        (Some(first), Some(last)) => (Some(first), last),
        _ => match figure(" in work.") {
            Some(last) => (None, last),
            None => return,
        },
    };
    let both = text.contains(" on each side");
    if let Some(first) = each {
        assert_eq!(visits[usize::from(both)].in_work, Some(first), "{text}");
    }
    assert_eq!(visits[visits.len() - 1].in_work, Some(last), "{text}");
}

struct Compared {
    folded_lines: usize,
    done: usize,
}

fn compare(name: &str, run: &SizeRun, made: &Made) -> Compared {
    let program = &made.garment.program;
    let mut pieces = program.pieces.iter().zip(&made.graded.run.pieces);
    let mut chapters = chapters(run);
    let finishing = chapters.pop().expect("the finishing");
    assert_eq!(finishing.0, "Finishing");
    let mut compared = Compared { folded_lines: 0, done: 0 };
    for (title, lines) in chapters {
        let alike: usize = title
            .rsplit_once(" (knit ")
            .and_then(|(_, n)| n.strip_suffix(" alike)")?.parse().ok())
            .unwrap_or(1);
        let mut reader = Reader { counter: 0, carriage: Side::Right, all: Vec::new() };
        let mut said = vec![Vec::new(); lines.len()];
        reader.read(&lines, 0, 1, &mut said);
        let read = left_first(reader.all);
        for _ in 0..alike {
            let (piece, piece_run) = pieces.next().expect("a piece for each chapter");
            assert!(title.starts_with(&piece.title), "{name}: {title}");
            let wanted = programmed(&piece.steps, piece_run);
            for (nth, (read, wanted)) in read.iter().zip(&wanted).enumerate() {
                assert_eq!(read.what, wanted.what, "{name}, {title}: deed {nth}");
            }
            assert_eq!(read.len(), wanted.len(), "{name}, {title}");
            for (line, visits) in lines.iter().zip(&said) {
                let visits: Vec<&Done> = visits.iter().map(|at| &wanted[*at]).collect();
                if visits.first().is_some_and(|d| d.in_work.is_some()) {
                    needles_agree(&line.text, &visits);
                    stitches_agree(&line.text, &visits);
                }
            }
            compared.done += wanted.len();
        }
        compared.folded_lines += lines.len();
    }
    assert!(pieces.next().is_none(), "{name}: a piece without a chapter");
    compared
}

fn compare_sizes(garment: &str, sizes: &str, machine: &str, options: &[&str]) -> usize {
    let mut compared = 0;
    for size in sizes.split(',') {
        let Ok(run) = grade(garment, machine, &demo(machine), size, options) else { continue };
        for (of, made) in run.good() {
            let name = format!("{garment} {} {machine} {options:?}", of.body.id);
            let told = compare(&name, &run, made);
            assert!(told.done >= told.folded_lines / 2, "{name}");
            compared += 1;
        }
    }
    compared
}

#[test]
fn what_is_folded_unfolds_to_the_run_for_every_garment() {
    let compared: Vec<(String, usize)> = bench()
        .garment_ids()
        .into_iter()
        .map(|id| {
            let sizes = compare_sizes(&id, SIZES, "standard", &[]);
            (id, sizes)
        })
        .collect();
    assert!(compared.iter().all(|(_, sizes)| *sizes > 0), "{compared:?}");
    assert!(compared.iter().map(|(_, sizes)| sizes).sum::<usize>() > 90, "{compared:?}");
}

#[test]
fn what_is_folded_unfolds_to_the_run_in_every_manner_of_shaping() {
    let sampler = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/sampler");
    assert_eq!(compare_sizes(sampler, "women-m", "standard", &[]), 1);
    for options in [&["mitre=decreases"][..], &["stripe=4"], &["mitre=decreases", "stripe=6"]] {
        assert_eq!(compare_sizes("mitred-square", "women-m", "standard", options), 1);
    }
    for machine in ["fine", "mid", "bulky"] {
        for id in bench().garment_ids() {
            compare_sizes(&id, "m6-12,women-m", machine, &[]);
        }
    }
}

/// Sizes told together, each with the very figures it has alone.
#[test]
fn each_size_keeps_its_own_figures_in_the_brackets() {
    let told = |garment: &str, sizes: &str| -> Value {
        let run = grade(garment, "standard", &demo("standard"), sizes, &[]).expect("graded");
        serde_json::from_str(&report::pattern_json(&run, LengthUnit::Cm)).expect("json")
    };
    let lines = |pattern: &Value| -> Vec<Value> {
        let chapters = pattern["chapters"].as_array().expect("chapters").iter();
        chapters.flat_map(|c| c["lines"].as_array().expect("lines").clone()).collect()
    };
    let mut together = 0;
    for garment in ["pullover", "cardigan", "slipover", "leg-warmer", "sock-flat", "tam"] {
        let all = told(garment, "all");
        let groups = all.as_array().expect("groups").iter();
        for folded in groups.flat_map(|g| g["folded"].as_array().expect("folded")) {
            let sizes = folded["sizes"].as_array().expect("sizes");
            for (nth, size) in sizes.iter().enumerate().step_by(3) {
                let alone = told(garment, size.as_str().expect("an id"));
                let alone = lines(&alone[0]["folded"][0]);
                let brackets = lines(folded);
                assert_eq!(alone.len(), brackets.len(), "{garment} {size}");
                for (alone, brackets) in alone.iter().zip(&brackets) {
                    let figures: Vec<&Value> = figures(brackets).map(|all| &all[nth]).collect();
                    let own: Vec<&Value> = figures_of_one(alone, brackets);
                    assert_eq!(figures, own, "{garment} {size}: {}", brackets["text"]);
                }
            }
            together += sizes.len().saturating_sub(1);
        }
    }
    assert!(together > 60, "only {together} sizes told with another");
}

fn figures(line: &Value) -> impl Iterator<Item = &Value> {
    line["figures"].as_array().expect("figures").iter()
}

/// Where the counter stands may be told size by size, each in its own words.
fn figures_of_one<'v>(alone: &'v Value, brackets: &Value) -> Vec<&'v Value> {
    if brackets["text"].as_str().is_some_and(|text| text.starts_with("After each round: ")) {
        return vec![&alone["text"]];
    }
    figures(alone).map(|one| &one[0]).collect()
}

/// What is written for people is what the data calls folded, and the data still has every step.
#[test]
fn the_data_has_the_steps_and_the_words() {
    for garment in ["mitred-square", "cardigan", "sock-flat"] {
        let run = grade(garment, "standard", &demo("standard"), "women-m", &[]).expect("graded");
        let text = tidy(&report::pattern_text(&run, &report::PrintLook::new(LengthUnit::Cm), true));
        let mut rest = text.as_str();
        for line in chapters(&run).iter().flat_map(|(_, lines)| lines) {
            let at = rest.find(&line.text).unwrap_or_else(|| panic!("{garment}: {}", line.text));
            rest = &rest[at + line.text.len()..];
        }
        let (_, made) = run.good().next().expect("knittable");
        let json: Value =
            serde_json::from_str(&report::pattern_json(&run, LengthUnit::Cm)).expect("json");
        let lines = json[0]["chapters"].as_array().expect("chapters").iter();
        let lines: Vec<&Value> =
            lines.flat_map(|c| c["lines"].as_array().expect("lines")).collect();
        let steps = lines.iter().filter(|line| !line["steps"].is_null()).count();
        let widths = made.garment.program.pieces.iter().map(|p| told_steps(&p.steps));
        assert!(steps >= widths.sum::<usize>(), "{garment}: {steps} steps");
    }
}

/// Steps that have a line of their own in the unfolded pattern, at the least.
fn told_steps(steps: &[Step]) -> usize {
    let each = steps.iter().map(|step| match &step.action {
        Action::CarriageAt(_) | Action::Mark(_) => 0,
        Action::Repeat { times, steps } => told_steps(steps) + usize::from(*times > 1),
        _ => 1,
    });
    each.sum()
}
