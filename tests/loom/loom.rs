//! Two rows of needles, a carriage and a counter, worked by what the data of a pattern says and by
//! nothing else. It uses nothing of the program: what the bed knows it is not told, and where the two
//! disagree one of them is wrong.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};

/// What was done, or the first thing that can't be done or isn't as the data says.
pub type Worked<T> = Result<T, String>;

/// More loops on one needle than the carriage gets past.
const JAM: u32 = 6;
/// A loop is not drawn over more needles than this.
const REACH: i32 = 3;

#[derive(Clone, Copy, PartialEq)]
enum At {
    Out,
    Work,
    Held,
}

#[derive(Clone, Copy)]
struct Needle {
    at: At,
    loops: u32,
    wraps: u32,
    /// Empty on purpose: the next pass lays a loop on it.
    eyelet: bool,
}

const EMPTY: Needle = Needle { at: At::Out, loops: 0, wraps: 0, eyelet: false };
const FRESH: Needle = Needle { at: At::Work, loops: 1, wraps: 0, eyelet: false };

/// Loops that wait, each at its place, and how often some were hung.
#[derive(Default)]
struct Waiting {
    there: Vec<bool>,
    visits: u64,
    /// How many visits it is spread over, where it is.
    over: Option<u64>,
    piece: String,
    section: String,
}

impl Waiting {
    fn left(&self) -> usize {
        self.there.iter().filter(|there| **there).count()
    }

    fn next(&mut self, count: u64) -> Worked<()> {
        for _ in 0..count {
            let next = self.there.iter().position(|there| *there);
            self.there[next.ok_or("the edge has no loop left")?] = false;
        }
        Ok(())
    }
}

/// What a piece shows when it is done, and what was counted of it.
#[derive(Clone, Default)]
struct Sides {
    left: u64,
    right: u64,
    inner_left: u64,
    inner_right: u64,
    cast_on: u64,
    cast_off: u64,
    /// The section of its first row.
    section: Option<String>,
    rows: u64,
    rows_of: BTreeMap<String, u64>,
    stitches: u64,
    widest: u64,
    made: u64,
    taken_in: u64,
    scrapped: u64,
    reach: Option<(i32, i32)>,
}

/// What was seen at a step.
#[derive(Default)]
struct Seen {
    times: u64,
    from: Value,
    to: Value,
    first_needles: Value,
    last_needles: Value,
    counted: (u64, u64),
    in_work: (u64, u64),
    broken: bool,
}

/// What a step dealt with: needles, loops, places.
type Dealt = Option<((i32, i32), u64, u64)>;

pub struct Loom<'a> {
    left_end: i32,
    missing: BTreeSet<i32>,
    main: Vec<Needle>,
    ribber: Vec<Needle>,
    fabric: String,
    /// Rib that is latched up later: its needles, its columns, the rows before it.
    by_hand: Option<((i32, i32), u64, u64)>,
    on_right: bool,
    counter: u64,
    broken: bool,
    /// Where the yarn comes out of the fabric.
    yarn: Option<i32>,
    waiting: BTreeMap<String, Waiting>,
    pieces: BTreeMap<String, Sides>,
    own: Sides,
    name: String,
    /// Places the fabric is parted at: before this needle.
    parted: BTreeSet<i32>,
    section: String,
    sections: BTreeMap<String, BTreeMap<String, u64>>,
    /// Sections in the order in which they are met, and the ends left in each.
    ends: Vec<(String, u64)>,
    /// The edges of the step before, where that was a seam.
    seam: Vec<Value>,
    marks: BTreeMap<String, u64>,
    seen: Vec<Seen>,
    found: &'a Value,
    /// Passes of all pieces.
    pub passes: u64,
}

fn needle(text: &str) -> Worked<i32> {
    let number: i32 =
        text.get(1..).and_then(|n| n.parse().ok()).ok_or_else(|| format!("needle {text}"))?;
    match text.as_bytes().first() {
        Some(b'L') if number > 0 => Ok(-number),
        Some(b'R') if number > 0 => Ok(number - 1),
        _ => Err(format!("needle {text}")),
    }
}

fn run(value: &Value) -> Worked<(i32, i32)> {
    let text = value.as_str().ok_or_else(|| format!("no needles: {value}"))?;
    let (a, b) = text.split_once('-').unwrap_or((text, text));
    let (a, b) = (needle(a)?, needle(b)?);
    if a <= b { Ok((a, b)) } else { Err(format!("needles {text} run backwards")) }
}

fn named((a, b): (i32, i32)) -> Value {
    let one = |n: i32| if n < 0 { format!("L{}", -n) } else { format!("R{}", n + 1) };
    if a == b { one(a).into() } else { format!("{}-{}", one(a), one(b)).into() }
}

fn text<'v>(value: &'v Value, key: &str) -> Worked<&'v str> {
    value[key].as_str().ok_or_else(|| format!("no {key} in {value}"))
}

fn number(value: &Value, key: &str) -> Worked<u64> {
    value[key].as_u64().ok_or_else(|| format!("no {key} in {value}"))
}

fn list<'v>(value: &'v Value, key: &str) -> Worked<&'v [Value]> {
    Ok(value[key].as_array().ok_or_else(|| format!("no {key}"))?.as_slice())
}

fn same(what: &str, mine: &Value, said: &Value) -> Worked<()> {
    if mine == said { Ok(()) } else { Err(format!("{what}: {said} is said, {mine} is found")) }
}

fn width((a, b): (i32, i32)) -> u64 {
    (b - a + 1) as u64
}

fn hull(all: impl Iterator<Item = (i32, i32)>) -> Option<(i32, i32)> {
    all.reduce(|(a, b), (c, d)| (a.min(c), b.max(d)))
}

/// Where the `nth` stitch of a fabric lies, from the left: on the main bed, on the ribber.
fn lies(fabric: &str, nth: usize) -> (bool, bool) {
    match fabric {
        "rib 1x1" => (nth.is_multiple_of(2), nth % 2 == 1),
        "rib 2x2" => (nth % 4 < 2, nth % 4 >= 2),
        "circular" => (true, true),
        _ => (true, false),
    }
}

/// Knits a size of the data on the machine that it names; tells how many passes it took.
pub fn knit(machine: &Value, size: &Value) -> Worked<u64> {
    let mut loom = Loom::new(machine, &size["found"])?;
    for piece in list(size, "pieces")? {
        let name = text(piece, "name")?;
        loom.piece(name, piece).map_err(|fault| format!("piece {name}: {fault}"))?;
    }
    for (nth, step) in list(size, "finishing")?.iter().enumerate() {
        loom.off_the_bed(step).map_err(|fault| format!("finishing {nth}: {fault}"))?;
    }
    loom.last_look()?;
    Ok(loom.passes)
}

impl<'a> Loom<'a> {
    fn new(machine: &Value, found: &'a Value) -> Worked<Loom<'a>> {
        let rail = run(&machine["needles"])?;
        let missing = list(machine, "out_of_work")?.iter().map(|n| Ok(run(n)?.0));
        let both = machine["ribber"].as_bool().ok_or("no word of a ribber")?;
        let needles = width(rail) as usize;
        Ok(Loom {
            left_end: rail.0,
            missing: missing.collect::<Worked<_>>()?,
            main: vec![EMPTY; needles],
            ribber: vec![EMPTY; if both { needles } else { 0 }],
            fabric: "plain".into(),
            by_hand: None,
            on_right: true,
            counter: 0,
            broken: false,
            yarn: None,
            waiting: BTreeMap::new(),
            pieces: BTreeMap::new(),
            own: Sides::default(),
            name: String::new(),
            parted: BTreeSet::new(),
            section: String::new(),
            sections: BTreeMap::new(),
            ends: Vec::new(),
            seam: Vec::new(),
            marks: BTreeMap::new(),
            seen: Vec::new(),
            found,
            passes: 0,
        })
    }

    fn piece(&mut self, name: &str, piece: &Value) -> Worked<()> {
        self.name = name.to_owned();
        self.own = Sides::default();
        self.section = text(piece, "section")?.to_owned();
        self.sections.entry(self.section.clone()).or_default();
        self.leave(1, &self.section.clone());
        self.fabric = "plain".into();
        (self.on_right, self.counter, self.broken, self.yarn) = (true, 0, false, None);
        self.by_hand = None;
        self.parted.clear();
        let steps = list(piece, "steps")?;
        self.seen = Vec::new();
        self.seen.resize_with(steps.iter().map(size).sum(), Seen::default);
        self.work(steps, 0)?;
        self.compare(steps, 0)?;
        if self.in_work() > 0 || self.loops() > 0 {
            return Err(format!("{} loops are left on the bed", self.loops()));
        }
        self.compare_piece(&piece["found"])?;
        self.pieces.insert(name.to_owned(), std::mem::take(&mut self.own));
        Ok(())
    }

    fn work(&mut self, steps: &[Value], first: usize) -> Worked<()> {
        let mut id = first;
        for step in steps {
            let op = text(step, "op")?;
            let at = format!("RC {:03}, {op}", self.counter);
            let now = self.moment();
            let broken = self.broken;
            let seen = &mut self.seen[id];
            seen.times += 1;
            seen.broken = broken;
            if seen.times == 1 {
                seen.from = now;
            }
            let dealt = if op == "again" {
                let inside = list(step, "of")?;
                same("steps inside", &inside.len().into(), &step["steps"])?;
                for _ in 0..number(step, "times")? {
                    self.work(inside, id + 1)?;
                }
                None
            } else {
                self.act(op, step).map_err(|fault| format!("{at}: {fault}"))?
            };
            let (to, in_work) = (self.moment(), self.in_work());
            self.own.widest = self.own.widest.max(in_work);
            let seen = &mut self.seen[id];
            seen.to = to;
            seen.in_work.1 = in_work;
            if seen.times == 1 {
                seen.in_work.0 = in_work;
            }
            if let Some((needles, loops, over)) = dealt {
                seen.last_needles = named(needles);
                seen.counted = (loops, over);
                if seen.first_needles.is_null() {
                    seen.first_needles = named(needles);
                }
            }
            id += size(step);
        }
        Ok(())
    }

    /// What was seen at each step against what is said of it.
    fn compare(&self, steps: &[Value], first: usize) -> Worked<()> {
        let mut id = first;
        for step in steps {
            let seen = &self.seen[id];
            let mine = json!({
                "times": seen.times,
                "from": seen.from,
                "to": seen.to,
                "first_needles": seen.first_needles,
                "last_needles": seen.last_needles,
                "loops": seen.counted.0,
                "over": seen.counted.1,
                "in_work": [seen.in_work.0, seen.in_work.1],
                "yarn_broken": seen.broken,
            });
            let mut said = step["done"].clone();
            // What hands mind is words for them, and counts nothing.
            for words in ["mind", "by_hand", "carried", "joined"] {
                said.as_object_mut().ok_or("no done")?.remove(words);
            }
            same(text(step, "op")?, &mine, &said)?;
            if let Some(inside) = step["of"].as_array() {
                self.compare(inside, id + 1)?;
            }
            id += size(step);
        }
        Ok(())
    }

    fn compare_piece(&self, said: &Value) -> Worked<()> {
        let own = &self.own;
        let mine = json!({
            "rows": own.rows,
            "rows_of": own.rows_of,
            "needles": own.reach.map(named),
            "widest": own.widest,
            "stitches": own.stitches,
            "selvedges": { "left": own.left, "right": own.right },
            "loops": {
                "made": own.made, "taken_in": own.taken_in, "cast_off": own.cast_off,
                "scrapped": own.scrapped, "left": 0,
            },
        });
        same("the piece", &mine, said)?;
        // Whatever was made is somewhere.
        let gone = own.taken_in + own.cast_off + own.scrapped;
        same("loops made", &own.made.into(), &gone.into())
    }

    /// Nothing waits any more, and the sums are those that are said.
    fn last_look(&self) -> Worked<()> {
        for said in list(self.found, "edges")? {
            let name = text(said, "name")?;
            let edge = self.waiting.get(name).ok_or_else(|| format!("no edge {name}"))?;
            same("loops of an edge", &edge.there.len().into(), &said["loops"])?;
            same("visits to an edge", &edge.visits.into(), &said["points"])?;
            let visits = edge.over.unwrap_or(edge.visits);
            same("visits it is spread over", &edge.visits.into(), &visits.into())?;
            same("the piece of an edge", &edge.piece.as_str().into(), &said["piece"])?;
            if edge.left() > 0 {
                return Err(format!("{} loops of {name} are left over", edge.left()));
            }
        }
        same("edges", &self.waiting.len().into(), &list(self.found, "edges")?.len().into())?;
        same("marks", &json!(self.marks), &self.found["marks"])?;
        let said: BTreeMap<&str, &Value> = list(self.found, "sections")?
            .iter()
            .map(|section| Ok((text(section, "name")?, &section["stitches"])))
            .collect::<Worked<_>>()?;
        let ends = list(self.found, "sections")?.iter();
        let ends: Vec<Value> = ends.map(|said| json!([said["name"], said["ends"]])).collect();
        same("ends", &json!(self.ends), &json!(ends))?;
        same("sections", &json!(self.sections), &json!(said))
    }

    fn moment(&self) -> Value {
        json!({ "counter": self.counter, "carriage": if self.on_right { "right" } else { "left" } })
    }

    fn act(&mut self, op: &str, step: &Value) -> Worked<Dealt> {
        match op {
            "cast_on" => self.cast_on(step),
            "knit" => {
                for _ in 0..number(step, "rows")? {
                    self.pass()?;
                }
                Ok(None)
            }
            "carriage_at" => {
                let wanted = text(step, "side")? == "right";
                if wanted == self.on_right {
                    Ok(None)
                } else {
                    Err("the carriage is elsewhere".into())
                }
            }
            "hold" => self.hold(&step["which"]),
            "bring_back" => self.bring_back(&step["which"]),
            "wrap" => self.wrap(),
            "hang" => self.hang(step),
            "transfer_to_main" => self.transfer_to_main(),
            "decrease" => self.decrease(step),
            "increase" => self.increase(step),
            "scrap_off" | "cast_off" => self.take_off(op, step),
            "rest_ribber" | "both_beds" => {
                self.ribber.iter().find(|n| n.loops > 0).ok_or("the ribber is empty")?;
                self.fabric = if op == "both_beds" { "circular" } else { "plain" }.into();
                Ok(None)
            }
            "rehang" => self.rehang(step),
            "section" => {
                self.change_yarn(text(step, "name")?);
                Ok(None)
            }
            "pitch" => Ok(None),
            "reset_counter" => {
                self.counter = 0;
                Ok(None)
            }
            "mark" => {
                *self.marks.entry(text(step, "name")?.to_owned()).or_default() += 1;
                Ok(None)
            }
            "transfer" => self.transfer(step),
            "to_rib" => self.turn_to_rib(step),
            "pick_up" => self.pick_up(step),
            "break_yarn" if self.broken => Err("the yarn is broken already".into()),
            "break_yarn" => {
                self.end_yarn();
                self.broken = true;
                Ok(None)
            }
            "join_yarn" if !self.broken => Err("there is yarn in the feed".into()),
            "join_yarn" => {
                self.begin_yarn();
                if let Some(side) = step["side"].as_str() {
                    self.on_right = side == "right";
                }
                Ok(None)
            }
            "dial" | "note" => Ok(None),
            other => Err(format!("what is {other}?")),
        }
    }

    // Yarn.

    /// Ends that hang and are darned in later.
    fn leave(&mut self, ends: u64, section: &str) {
        match self.ends.iter_mut().find(|(name, _)| name == section) {
            Some((_, there)) => *there += ends,
            None => self.ends.push((section.to_owned(), ends)),
        }
    }

    fn end_yarn(&mut self) {
        let section = self.section.clone();
        self.leave(u64::from(!self.broken), &section);
        self.yarn = None;
    }

    fn begin_yarn(&mut self) {
        let section = self.section.clone();
        self.leave(1, &section);
        (self.broken, self.yarn) = (false, None);
    }

    /// The old yarn ends and the new one begins; the carriage takes it up where it is.
    fn change_yarn(&mut self, to: &str) {
        if to != self.section {
            let before = std::mem::replace(&mut self.section, to.to_owned());
            self.leave(u64::from(!self.broken), &before);
            self.leave(1, to);
            self.broken = false;
        }
        self.sections.entry(to.to_owned()).or_default();
    }

    // Needles.

    fn index(&self, needle: i32) -> Worked<usize> {
        let at = needle - self.left_end;
        if at < 0 || at >= self.main.len() as i32 || self.missing.contains(&needle) {
            return Err(format!("there is no needle {}", named((needle, needle))));
        }
        Ok(at as usize)
    }

    fn on_main(&self, needle: i32) -> Worked<Needle> {
        Ok(self.main[self.index(needle)?])
    }

    fn put(&mut self, needle: i32, state: Needle) -> Worked<()> {
        let at = self.index(needle)?;
        self.main[at] = state;
        if state.at != At::Out {
            self.reached(needle);
        }
        Ok(())
    }

    fn reached(&mut self, needle: i32) {
        let reach = self.own.reach.unwrap_or((needle, needle));
        self.own.reach = Some((reach.0.min(needle), reach.1.max(needle)));
    }

    fn which_are(&self, bed: &[Needle], is: impl Fn(&Needle) -> bool) -> Vec<i32> {
        let all = bed.iter().enumerate().filter(|(_, needle)| is(needle));
        all.map(|(at, _)| self.left_end + at as i32).collect()
    }

    fn mains(&self, is: impl Fn(&Needle) -> bool) -> Vec<i32> {
        self.which_are(&self.main, is)
    }

    fn ends(&self, is: impl Fn(&Needle) -> bool) -> Worked<(i32, i32)> {
        let all = self.mains(is);
        Ok((*all.first().ok_or("no such needle")?, *all.last().ok_or("no such needle")?))
    }

    fn in_work(&self) -> u64 {
        self.main.iter().chain(&self.ribber).filter(|n| n.at != At::Out).count() as u64
    }

    fn loops(&self) -> u64 {
        self.main.iter().chain(&self.ribber).map(|n| u64::from(n.loops)).sum()
    }

    fn one_bed(&self) -> Worked<()> {
        let loaded = self.ribber.iter().any(|n| n.at != At::Out);
        if self.by_hand.is_some() || (loaded && self.fabric != "plain") {
            return Err("the ribber is at work".into());
        }
        Ok(())
    }

    /// Loops onto a needle of the main bed; those that come to lie on others are taken in.
    fn load(&mut self, needle: i32, loops: u32, wraps: u32) -> Worked<()> {
        let mut state = self.on_main(needle)?;
        if state.at == At::Out {
            return Err(format!("{} is out of work", named((needle, needle))));
        }
        self.own.taken_in += u64::from(state.loops > 0 && loops > 0);
        state.loops += loops;
        state.wraps += wraps;
        self.put(needle, state)
    }

    // Steps.

    fn cast_on(&mut self, step: &Value) -> Worked<Dealt> {
        let (a, b) = run(&step["needles"])?;
        let (fabric, method) = (text(step, "structure")?, text(step, "method")?);
        let first = self.in_work() == 0;
        if !first && (fabric != "plain" || method != "wound") {
            return Err("beside fabric stitches are wound, and plain".into());
        }
        let mut made = 0;
        for (nth, n) in (a..=b).enumerate() {
            let at = self.index(n)?;
            let ribbed = self.ribber.get(at).is_some_and(|other| other.at != At::Out);
            if self.main[at].at != At::Out || ribbed {
                return Err(format!("{} is taken", named((n, n))));
            }
            let (main, other) = lies(fabric, nth);
            if main {
                self.main[at] = FRESH;
            }
            if other {
                *self.ribber.get_mut(at).ok_or("there is no ribber")? = FRESH;
            }
            self.reached(n);
            made += u64::from(main) + u64::from(other);
        }
        self.own.made += made;
        if first {
            self.fabric = fabric.into();
            (self.counter, self.on_right, self.broken, self.yarn) = (0, true, false, None);
            if method != "waste" {
                self.yarn = Some(b);
            }
        }
        if method == "rib" {
            self.count(2 * made);
        }
        match step["edge"].as_str() {
            Some(edge) => self.wait(edge, made),
            None if method == "waste" => return Err("open loops without a name".into()),
            None => self.own.cast_on += made,
        }
        Ok(Some(((a, b), width((a, b)), 0)))
    }

    fn wait(&mut self, edge: &str, loops: u64) {
        let (piece, section) = (self.name.clone(), self.section.clone());
        let new = Waiting { piece, section, ..Waiting::default() };
        let edge = self.waiting.entry(edge.to_owned()).or_insert(new);
        edge.there.extend((0..loops).map(|_| true));
    }

    /// Loops knitted, for the section that is on.
    fn count(&mut self, loops: u64) {
        self.own.stitches += loops;
        let swatch = if self.fabric == "circular" { "plain" } else { self.fabric.as_str() };
        let section = self.sections.entry(self.section.clone()).or_default();
        *section.entry(swatch.to_owned()).or_default() += loops;
    }

    fn pass(&mut self) -> Worked<()> {
        if self.broken {
            return Err("a pass without yarn".into());
        }
        let (main, other) = match self.fabric.as_str() {
            "plain" => (true, false),
            "circular" => (!self.on_right, self.on_right),
            _ => (true, true),
        };
        let (mut knitted, mut span) = (0, None::<(i32, i32)>);
        for (ribber, used) in [(false, main), (true, other)] {
            let left = self.left_end;
            let bed = if ribber { &mut self.ribber } else { &mut self.main };
            for (at, needle) in bed.iter_mut().enumerate() {
                if !used || needle.at != At::Work {
                    continue;
                }
                let n = left + at as i32;
                if needle.loops == 0 && !needle.eyelet {
                    return Err(format!("{} has no loop to knit", named((n, n))));
                }
                self.own.made += u64::from(needle.loops == 0);
                if needle.loops + needle.wraps.saturating_sub(2) >= JAM {
                    return Err(format!("{} loops on {}", needle.loops, named((n, n))));
                }
                *needle = FRESH;
                knitted += 1;
                span = hull(span.into_iter().chain([(n, n)]));
            }
        }
        let (a, b) = span.ok_or("no needle is knitted: the fabric drops off")?;
        self.turn((a, b))?;
        self.along_the_sides((a, b));
        self.yarn = Some(if self.on_right { a } else { b });
        self.on_right = !self.on_right;
        self.counter += 1;
        self.own.section.get_or_insert_with(|| self.section.clone());
        *self.own.rows_of.entry(self.fabric.clone()).or_default() += 1;
        self.own.rows += 1;
        self.passes += 1;
        self.count(knitted);
        Ok(())
    }

    /// A turn beside a held needle leaves a slit, unless the yarn was laid round that.
    fn turn(&self, (a, b): (i32, i32)) -> Worked<()> {
        let beside = if self.on_right { b + 1 } else { a - 1 };
        let held = self.index(beside).is_ok_and(|at| {
            let needle = self.main[at];
            needle.at == At::Held && needle.wraps == 0
        });
        if held && self.yarn.is_some() {
            return Err(format!("a slit beside {}", named((beside, beside))));
        }
        Ok(())
    }

    /// Whose selvedges the pass goes to: those of the piece, or of a part of it.
    fn along_the_sides(&mut self, (a, b): (i32, i32)) {
        let all = self.which_are(&self.main, |n| n.at != At::Out).into_iter();
        let all = all.chain(self.which_are(&self.ribber, |n| n.at != At::Out));
        let (left, right) = hull(all.map(|n| (n, n))).unwrap_or((a, b));
        if self.fabric == "circular" {
            self.own.left += u64::from(left == a);
            self.own.right += u64::from(right == b);
            return;
        }
        // A row over a parting joins what it parted.
        self.parted.retain(|at| *at <= a || *at > b);
        let part_of_left = left < a || self.parted.iter().any(|at| *at <= a);
        let part_of_right = right > b || self.parted.iter().any(|at| *at > b);
        if left < a {
            self.parted.insert(a);
        }
        if right > b {
            self.parted.insert(b + 1);
        }
        let own = &mut self.own;
        *(if part_of_left { &mut own.inner_left } else { &mut own.left }) += 1;
        *(if part_of_right { &mut own.inner_right } else { &mut own.right }) += 1;
    }

    fn hold(&mut self, which: &Value) -> Worked<Dealt> {
        let span = if which["all"] == true {
            self.ends(|n| n.at != At::Out)?
        } else if let Some(side) = which["side"].as_str() {
            let working = self.mains(|n| n.at == At::Work);
            outermost(&working, side, number(which, "count")?)?
        } else {
            run(&which["needles"])?
        };
        let mut moved = 0;
        for n in span.0..=span.1 {
            let needle = self.on_main(n)?;
            if needle.at == At::Out {
                return Err(format!("{} is out of work", named((n, n))));
            }
            moved += u64::from(needle.at == At::Work);
            self.put(n, Needle { at: At::Held, ..needle })?;
        }
        if moved == 0 {
            return Err("all are held already".into());
        }
        Ok(Some((span, width(span), 0)))
    }

    fn bring_back(&mut self, which: &Value) -> Worked<Dealt> {
        let held = self.mains(|n| n.at == At::Held);
        let span = if which["all"] == true {
            self.ends(|n| n.at == At::Held)?
        } else if let Some(side) = which["side"].as_str() {
            let (first, last) = self.ends(|n| n.at == At::Work).unwrap_or((i32::MAX, i32::MIN));
            let beyond = |n: &i32| if side == "left" { *n < first } else { *n > last };
            let beyond: Vec<i32> = held.into_iter().filter(beyond).collect();
            let near = if side == "left" { "right" } else { "left" };
            outermost(&beyond, near, number(which, "count")?)?
        } else {
            let span = run(&which["needles"])?;
            if (span.0..=span.1).any(|n| !held.contains(&n)) {
                return Err("not all of these are held".into());
            }
            span
        };
        for n in span.0..=span.1 {
            let needle = self.on_main(n)?;
            if needle.at == At::Held {
                self.put(n, Needle { at: At::Work, ..needle })?;
            }
        }
        Ok(Some((span, width(span), 0)))
    }

    fn wrap(&mut self) -> Worked<Dealt> {
        let (first, last) = self.ends(|n| n.at == At::Work)?;
        let n = if self.on_right { last + 1 } else { first - 1 };
        let needle = self.on_main(n)?;
        if needle.at != At::Held {
            return Err(format!("{} is not held", named((n, n))));
        }
        self.put(n, Needle { wraps: needle.wraps + 1, ..needle })?;
        Ok(Some(((n, n), 1, 0)))
    }

    fn hang(&mut self, step: &Value) -> Worked<Dealt> {
        let name = text(step, "edge")?;
        let n = run(&step["needle"])?.0;
        let edge = self.waiting.get_mut(name).ok_or_else(|| format!("no edge {name}"))?;
        edge.visits += 1;
        let over = step["over"].as_u64();
        if edge.visits > 1 && edge.over != over {
            return Err("spread over so many visits, and then over others".into());
        }
        edge.over = over;
        let due = match (step["loops"].as_u64(), step["over"].as_u64()) {
            (Some(loops), None) => loops,
            (None, Some(over)) if edge.visits <= over => {
                due_at(self.found, name, edge.visits, self.counter)?
            }
            _ => return Err("one visit more than the edge was spread over".into()),
        };
        edge.next(due)?;
        let before = self.on_main(n)?;
        let together = (u64::from(before.loops > 0) + due).saturating_sub(1);
        self.own.made += due;
        self.own.taken_in += if due > 0 { together } else { 0 };
        if before.at == At::Out {
            return Err(format!("{} is out of work", named((n, n))));
        }
        self.put(n, Needle { loops: before.loops + due as u32, ..before })?;
        Ok(Some(((n, n), due, 0)))
    }

    fn transfer_to_main(&mut self) -> Worked<Dealt> {
        if let Some((span, columns, before)) = self.by_hand.take() {
            self.fabric = "plain".into();
            let rows = self.own.rows - before;
            return if rows > 0 { Ok(Some((span, columns, rows))) } else { Err("no rib".into()) };
        }
        let loaded = self.which_are(&self.ribber, |n| n.at != At::Out);
        if loaded.is_empty() {
            return Err("the ribber is empty".into());
        }
        for n in loaded {
            let at = self.index(n)?;
            let from = std::mem::replace(&mut self.ribber[at], EMPTY);
            if self.main[at].at == At::Out {
                self.put(n, Needle { at: At::Work, ..EMPTY })?;
            }
            self.load(n, from.loops, 0)?;
        }
        self.fabric = "plain".into();
        let span = self.ends(|n| n.at != At::Out)?;
        Ok(Some((span, width(span), 0)))
    }

    /// The ends a shaping is at: outwards, where the end lies, stitches left whole outside it.
    fn shaped(&self, step: &Value, more: i32) -> Worked<Vec<(i32, i32, i32)>> {
        let working = match text(step, "end_of")? {
            "working" => self.ends(|n| n.at == At::Work)?,
            "in work" => self.ends(|n| n.at != At::Out)?,
            other => return Err(format!("an end of {other}?")),
        };
        let side = text(step, "side")?;
        let both = [("left", -1, working.0), ("right", 1, working.1)];
        let ends = both.into_iter().filter(|(name, ..)| side == "both" || side == *name);
        ends.map(|(_, out, end)| {
            let inset = match (step["inset"].as_i64(), step["at"].as_str()) {
                (_, Some(at)) => (end - needle(at)?) * out + more,
                (inset, None) => inset.unwrap_or(0) as i32,
            };
            if inset < 0 {
                Err("outside the working needles".into())
            } else {
                Ok((out, end, inset))
            }
        })
        .collect()
    }

    fn shift(&mut self, from: i32, to: i32) -> Worked<()> {
        let needle = self.on_main(from)?;
        if needle.loops == 0 {
            return Err(format!("{} has no loop to move", named((from, from))));
        }
        self.put(from, Needle { loops: 0, wraps: 0, ..needle })?;
        self.load(to, needle.loops, needle.wraps)
    }

    fn decrease(&mut self, step: &Value) -> Worked<Dealt> {
        self.one_bed()?;
        let count = number(step, "count")? as i32;
        let fashioned = text(step, "end_of")? == "working";
        if count == 0 || (fashioned && count > REACH) {
            return Err(format!("{count} taken in"));
        }
        let mut spans = Vec::new();
        for (out, end, inset) in self.shaped(step, -count)? {
            let at = |nth: i32| end - out * nth;
            if fashioned {
                for nth in (0..inset + count).rev() {
                    if self.on_main(at(nth + count))?.at != At::Work {
                        return Err("into a needle that does not knit".into());
                    }
                    self.shift(at(nth), at(nth + count))?;
                }
            } else {
                // One after the other into the neighbour.
                for nth in 0..count {
                    self.shift(at(nth), at(nth + 1))?;
                }
            }
            for nth in 0..count {
                self.put(at(nth), EMPTY)?;
            }
            spans.push((at(0).min(at(count - 1)), at(0).max(at(count - 1))));
        }
        let span = hull(spans.into_iter()).ok_or("at no end")?;
        Ok(Some((span, if fashioned { count as u64 } else { width(span) }, 0)))
    }

    fn increase(&mut self, step: &Value) -> Worked<Dealt> {
        self.one_bed()?;
        let count = number(step, "count")? as i32;
        let mut spans = Vec::new();
        for (out, end, inset) in self.shaped(step, 1)? {
            let at = |nth: i32| end - out * nth;
            for nth in -count..0 {
                if self.on_main(at(nth))?.at != At::Out {
                    return Err(format!("{} is taken", named((at(nth), at(nth)))));
                }
                self.put(at(nth), Needle { at: At::Work, ..EMPTY })?;
            }
            for nth in 0..inset {
                self.shift(at(nth), at(nth - count))?;
            }
            for nth in inset - count..inset {
                let fresh = self.on_main(at(nth))?;
                if fresh.loops > 0 {
                    return Err("a new stitch on a full needle".into());
                }
                self.put(at(nth), Needle { loops: 1, ..fresh })?;
            }
            self.own.made += count as u64;
            let (x, y) = (at(inset - count), at(inset - 1));
            spans.push((x.min(y), x.max(y)));
        }
        let span = hull(spans.into_iter()).ok_or("at no end")?;
        Ok(Some((span, count as u64, 0)))
    }

    fn chosen(&self, which: &Value) -> Worked<(i32, i32)> {
        let all = self.mains(|n| n.at != At::Out);
        if which["all"] == true {
            self.ends(|n| n.at != At::Out)
        } else if let Some(side) = which["side"].as_str() {
            outermost(&all, side, number(which, "count")?)
        } else {
            run(&which["needles"])
        }
    }

    fn take_off(&mut self, op: &str, step: &Value) -> Worked<Dealt> {
        self.one_bed()?;
        let span = self.chosen(&step["which"])?;
        for n in span.0..=span.1 {
            if self.on_main(n)?.loops == 0 {
                return Err(format!("{} has no loop", named((n, n))));
            }
            self.put(n, EMPTY)?;
        }
        let loops = width(span);
        if op == "scrap_off" {
            self.own.scrapped += loops;
            self.wait(text(step, "edge")?, loops);
        } else {
            self.own.cast_off += loops;
            if self.yarn.is_some_and(|n| span.0 <= n && n <= span.1) {
                self.yarn = Some(if self.on_right { span.0 } else { span.1 });
            }
        }
        if self.loops() == 0 {
            self.end_yarn();
        }
        Ok(Some((span, loops, 0)))
    }

    fn rehang(&mut self, step: &Value) -> Worked<Dealt> {
        let (name, span) = (text(step, "edge")?, run(&step["needles"])?);
        let edge = self.waiting.get_mut(name).ok_or_else(|| format!("no edge {name}"))?;
        let left = edge.left() as u64;
        edge.next(left)?;
        let tube = step["tube"] == true;
        same("loops of the edge", &left.into(), &(width(span) * if tube { 2 } else { 1 }).into())?;
        let mut full = 0;
        let empty = self.in_work() == 0;
        for n in span.0..=span.1 {
            let before = self.on_main(n)?;
            if before.at == At::Out {
                self.put(n, FRESH)?;
            } else {
                full += 1;
                self.put(n, Needle { loops: before.loops + 1, ..before })?;
            }
            if tube {
                let at = self.index(n)?;
                *self.ribber.get_mut(at).ok_or("there is no ribber")? = FRESH;
            }
        }
        if (full > 0 && full != left) || (tube && !empty) {
            return Err("some of these needles are taken".into());
        }
        self.own.made += left;
        self.own.taken_in += full;
        if tube {
            self.fabric = "circular".into();
        }
        if full == 0 {
            self.begin_yarn();
        }
        Ok(Some((span, width(span), 0)))
    }

    fn transfer(&mut self, step: &Value) -> Worked<Dealt> {
        let (from, to) = (run(&step["from"])?, run(&step["to"])?);
        let beds = (text(step, "from_bed")? == "ribber", text(step, "to_bed")? == "ribber");
        let far = (to.0 - from.0).abs();
        if width(from) != width(to) || far > REACH || (beds.0 == beds.1 && far == 0) {
            return Err("a loop for a needle, within reach".into());
        }
        let empty = self.ribber.iter().all(|n| n.at == At::Out);
        let stay = text(step, "emptied")? == "work";
        let mut moving = Vec::new();
        for n in from.0..=from.1 {
            let at = self.index(n)?;
            let bed = if beds.0 { &mut self.ribber } else { &mut self.main };
            let needle = bed.get_mut(at).ok_or("there is no ribber")?;
            if needle.loops == 0 {
                return Err(format!("{} has no loop", named((n, n))));
            }
            moving.push((needle.loops, needle.wraps));
            *needle = if stay { Needle { at: At::Work, eyelet: true, ..EMPTY } } else { EMPTY };
        }
        for (n, (loops, wraps)) in (to.0..=to.1).zip(&moving) {
            let at = self.index(n)?;
            let bed = if beds.1 { &mut self.ribber } else { &mut self.main };
            let needle = bed.get_mut(at).ok_or("there is no ribber")?;
            self.own.taken_in += u64::from(needle.loops > 0);
            needle.loops += loops;
            needle.wraps += wraps;
            if needle.at == At::Out {
                needle.at = At::Work;
            }
            self.reached(n);
        }
        if beds.1 && empty && self.fabric == "plain" {
            self.fabric = text(step, "structure")?.into();
        }
        if self.fabric.starts_with("rib") && self.ribber.iter().all(|n| n.at == At::Out) {
            self.fabric = "plain".into();
        }
        Ok(Some((from, moving.len() as u64, 0)))
    }

    fn turn_to_rib(&mut self, step: &Value) -> Worked<Dealt> {
        self.one_bed()?;
        let span = self.chosen(&step["which"])?;
        let fabric = text(step, "structure")?;
        let columns: Vec<i32> = (span.0..=span.1)
            .enumerate()
            .filter(|(nth, _)| lies(fabric, *nth).1)
            .map(|(_, n)| n)
            .collect();
        let count = columns.len() as u64;
        self.fabric = fabric.into();
        if self.ribber.is_empty() {
            self.by_hand = Some((span, count, self.own.rows));
            return Ok(Some((span, 0, count)));
        }
        for n in columns {
            let needle = self.on_main(n)?;
            if needle.at != At::Work || needle.loops == 0 {
                return Err(format!("{} does not knit", named((n, n))));
            }
            self.put(n, EMPTY)?;
            let at = self.index(n)?;
            self.ribber[at] = needle;
        }
        Ok(Some((span, count, 0)))
    }

    fn pick_up(&mut self, step: &Value) -> Worked<Dealt> {
        self.one_bed()?;
        let span = run(&step["needles"])?;
        let edge = &step["edge"];
        let (places, _) = self.use_edge(edge)?;
        let open = edge["name"].is_string();
        let needles = width(span);
        let begins = self.in_work() == 0;
        if begins {
            self.fabric = "plain".into();
            // With the end that the piece begins with, or with another.
            if self.own.rows > 0 {
                self.begin_yarn();
            }
            (self.broken, self.yarn) = (false, None);
        }
        let (mut hung, mut full) = (0, 0);
        for (nth, n) in (span.0..=span.1).enumerate() {
            let nth = nth as u64;
            let share =
                if open { places * (nth + 1) / needles - places * nth / needles } else { 1 };
            let before = self.on_main(n)?;
            let stands = u64::from(before.loops > 0);
            full += stands;
            if share + stands == 0 {
                return Err(format!("no loop for {}", named((n, n))));
            }
            self.own.made += share;
            self.own.taken_in += share + stands - 1;
            hung += share;
            let at = if before.at == At::Out { At::Work } else { before.at };
            self.put(n, Needle { at, loops: before.loops + share as u32, ..before })?;
        }
        if (full > 0 && full != needles) || (!open && places < needles) {
            return Err("not a loop for each needle".into());
        }
        Ok(Some((span, hung, places)))
    }

    // Edges.

    /// Takes what a stretch of an edge has: so many of what.
    fn use_edge(&mut self, edge: &Value) -> Worked<(u64, &'static str)> {
        let from = edge["from"].as_u64().unwrap_or(0);
        let (whole, of) = if let Some(name) = edge["name"].as_str() {
            let open = self.waiting.get_mut(name).ok_or_else(|| format!("no edge {name}"))?;
            if from == 0 && edge["to"].is_null() {
                let left = open.left() as u64;
                open.next(left)?;
                return if left > 0 {
                    Ok((left, "loops"))
                } else {
                    Err(format!("{name} is used up"))
                };
            }
            let to = edge["to"].as_u64().unwrap_or(open.there.len() as u64);
            let stretch = open.there.get_mut(from as usize..to as usize).ok_or("off the edge")?;
            if stretch.iter().any(|there| !there) {
                return Err(format!("loops of {name} are used twice"));
            }
            stretch.fill(false);
            (to, "loops")
        } else {
            self.closed(edge)?
        };
        let to = edge["to"].as_u64().unwrap_or(whole);
        if from >= to || to > whole {
            return Err(format!("{from} to {to} of an edge of {whole}"));
        }
        Ok((to - from, of))
    }

    fn closed(&self, edge: &Value) -> Worked<(u64, &'static str)> {
        let piece = text(edge, "piece")?;
        let sides = if piece == self.name { Some(&self.own) } else { self.pieces.get(piece) };
        let sides = sides.ok_or_else(|| format!("no piece {piece}"))?;
        let (count, of) = match text(edge, "side")? {
            "left" => (sides.left, "rows"),
            "right" => (sides.right, "rows"),
            "inner_left" => (sides.inner_left, "rows"),
            "inner_right" => (sides.inner_right, "rows"),
            "cast_on" => (sides.cast_on, "stitches"),
            "cast_off" => (sides.cast_off, "stitches"),
            other => return Err(format!("a side {other}?")),
        };
        if count > 0 { Ok((count, of)) } else { Err(format!("no such edge of {piece}")) }
    }

    fn yarn_of(&self, edge: &Value) -> Worked<String> {
        if let Some(name) = edge["name"].as_str() {
            return Ok(self
                .waiting
                .get(name)
                .ok_or_else(|| format!("no edge {name}"))?
                .section
                .clone());
        }
        let piece = text(edge, "piece")?;
        let first =
            self.pieces.get(piece).ok_or_else(|| format!("no piece {piece}"))?.section.clone();
        Ok(first.or_else(|| self.ends.first().map(|(name, _)| name.clone())).unwrap_or_default())
    }

    fn off_the_bed(&mut self, step: &Value) -> Worked<()> {
        self.name.clear();
        let seam_before = std::mem::take(&mut self.seam);
        let (first, second) = match text(step, "op")? {
            "note" | "block" => return Ok(()),
            "graft" | "seam" | "sew_on" => (&step["first"], Some(&step["second"])),
            "gather_edge" => (&step["edge"], None),
            "gather_selvedge" => (step, None),
            other => return Err(format!("what is {other}?")),
        };
        if Some(first) == second {
            return Err("an edge joined to itself".into());
        }
        // Loops are sewn with the yarn they are of.
        let open = second.filter(|second| !first["name"].is_string() && second["name"].is_string());
        let section = self.yarn_of(open.unwrap_or(first))?;
        // A seam that goes straight on where the step before it stopped is sewn on with the same end.
        let seam: Vec<Value> = match step["op"].as_str() {
            Some("seam") => vec![step["first"].clone(), step["second"].clone()],
            _ => Vec::new(),
        };
        let follows = |own: &Value, old: &Value| {
            ["name", "piece", "side"].iter().all(|key| own[*key] == old[*key])
                && own["from"].as_u64().is_some_and(|from| from > 0)
                && own["from"] == old["to"]
        };
        if !seam.iter().any(|own| seam_before.iter().any(|old| follows(own, old))) {
            self.leave(2, &section);
        }
        self.seam = seam;
        let mut length = |edge: &Value| -> Worked<Value> {
            let (count, of) = self.use_edge(edge)?;
            Ok(json!({ "count": count, "of": of }))
        };
        let mine = json!({ "first": length(first)?, "second": second.map(length).transpose()? });
        same("what is joined", &mine, &step["done"])
    }
}

/// A step with those inside it.
fn size(step: &Value) -> usize {
    1 + step["of"].as_array().map_or(0, |inside| inside.iter().map(size).sum())
}

/// The run of needles from the outermost on that side to the last of `count`.
fn outermost(needles: &[i32], side: &str, count: u64) -> Worked<(i32, i32)> {
    let count = count as usize;
    if count == 0 || count > needles.len() {
        return Err(format!("{count} needles of {}", needles.len()));
    }
    let chosen = match side {
        "left" => &needles[..count],
        "right" => &needles[needles.len() - count..],
        other => return Err(format!("a side {other}?")),
    };
    Ok((chosen[0], chosen[count - 1]))
}

/// Loops due at a visit, where an edge is spread over many.
fn due_at(found: &Value, name: &str, visit: u64, counter: u64) -> Worked<u64> {
    let edges = list(found, "edges")?;
    let edge =
        edges.iter().find(|edge| edge["name"] == name).ok_or_else(|| format!("no edge {name}"))?;
    for key in ["skipped", "doubled"] {
        for point in list(edge, key)? {
            if number(point, "point")? == visit {
                same("the counter at a visit", &counter.into(), &point["counter"])?;
                return number(point, "loops");
            }
        }
    }
    Ok(1)
}
