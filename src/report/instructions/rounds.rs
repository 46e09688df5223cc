//! Steps that come again with other figures, found for the written pattern: what is done on the
//! left and on the right at one time is one step, and what follows alike is one repeat.

use super::turns::Turns;
use knit::bed::step_size;
use knit::needle::{Side, Span};
use knit::program::{Action, Inset, Step, Which, WorkingEnds};
use knit::run::StepTrace;

/// Steps of a round that is looked for.
const LONGEST_ROUND: usize = 8;
/// Lines a fold must save where nothing is shaped: a shorter one reads no better. Of shaping it need
/// save none: other sizes have more of it, and read alike.
const LEAST_SAVED: i64 = 2;

/// What a step does, apart from its figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Doing {
    Knit,
    Hold,
    Return,
    Wrap,
    /// End stitches into their neighbours.
    Decrease,
    /// Empty needles beside the end.
    Increase,
    /// Stitches moved together, inwards.
    Narrow,
    /// Stitches moved together, outwards.
    Widen,
}

/// At which end it is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Place {
    /// It has no end.
    Anywhere,
    At(Side),
    Both,
    /// Where the carriage is, in each round.
    Near,
    /// Where the carriage is not.
    Far,
}

/// The needles dealt with on one side, the first and the last time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Track {
    pub side: Side,
    pub first: Span,
    pub last: Span,
}

/// A step that may come again with other figures, or all of it that was found alike.
#[derive(Clone, Debug)]
pub(super) struct Leaf<'a> {
    pub doing: Doing,
    pub place: Place,
    /// Rows, needles or stitches, round by round.
    pub counts: Turns,
    /// Stitches outside the shaping, round by round.
    pub insets: Turns,
    pub tracks: Vec<Track>,
    /// Of all visits.
    pub trace: StepTrace,
    /// The step of the program, where it is that one alone.
    pub own: Option<&'a Step>,
    /// The number of the first of its steps among the traces.
    pub id: usize,
}

/// A step of the written pattern.
#[derive(Clone, Debug)]
pub(super) enum Node<'a> {
    /// Told as it stands, by its number among the traces.
    Step(&'a Step, usize),
    Leaf(Leaf<'a>),
    Rounds {
        times: u32,
        leaves: Vec<Leaf<'a>>,
    },
}

impl<'a> Leaf<'a> {
    /// `None` for a step that is told as it stands.
    pub fn of(step: &'a Step, id: usize, trace: &StepTrace) -> Option<Self> {
        let moment = trace.first?;
        trace.after?;
        if trace.by_hand.is_some() {
            return None;
        }
        let (doing, place, count, inset) = match &step.action {
            Action::Knit { rows } => (Doing::Knit, Place::Anywhere, *rows, 0),
            Action::Hold(Which::AtSide(side, count)) => (Doing::Hold, Place::At(*side), *count, 0),
            Action::Return(Which::AtSide(side, count)) => {
                (Doing::Return, Place::At(*side), *count, 0)
            }
            Action::Wrap => (Doing::Wrap, Place::Anywhere, 1, 0),
            Action::Decrease { side, count } => (Doing::Decrease, Place::At(*side), *count, 0),
            Action::Increase { side, count } => (Doing::Increase, Place::At(*side), *count, 0),
            Action::Narrow(fashion) | Action::Widen(fashion) => {
                let Inset::Stitches(inset) = fashion.inset else { return None };
                let place = match fashion.ends {
                    WorkingEnds::One(side) => Place::At(side),
                    WorkingEnds::Both => Place::Both,
                };
                let narrow = matches!(step.action, Action::Narrow(_));
                let doing = if narrow { Doing::Narrow } else { Doing::Widen };
                (doing, place, fashion.count, inset)
            }
            _ => return None,
        };
        let side = match place {
            Place::At(side) => Some(side),
            Place::Anywhere if !trace.either_side => Some(moment.carriage),
            _ => None,
        };
        let track =
            || Some(Track { side: side?, first: trace.first_needles?, last: trace.last_needles? });
        Some(Leaf {
            doing,
            place,
            counts: Turns::of(count, 1),
            insets: Turns::of(inset, 1),
            tracks: if doing == Doing::Knit { Vec::new() } else { track().into_iter().collect() },
            trace: trace.clone(),
            own: Some(step),
            id,
        })
    }

    fn alike(&self, other: &Leaf<'_>) -> bool {
        (self.doing, self.place) == (other.doing, other.place)
    }

    /// The same by where the carriage is. `None` where that differs from visit to visit.
    fn by_carriage(mut self) -> Option<Self> {
        if let Place::At(side) = self.place {
            let moment = self.trace.first.filter(|_| !self.trace.either_side)?;
            self.place = if side == moment.carriage { Place::Near } else { Place::Far };
        }
        Some(self)
    }

    /// What is done on the other side at the same time, as one step.
    fn paired(&self, other: &Leaf<'a>) -> Option<Self> {
        let (Place::At(one), Place::At(two)) = (self.place, other.place) else { return None };
        let alike = self.doing == other.doing
            && one != two
            && (&self.counts, &self.insets) == (&other.counts, &other.insets)
            && (self.trace.first, self.trace.last) == (other.trace.first, other.trace.last);
        if !alike {
            return None;
        }
        let mut both = self.clone();
        both.place = Place::Both;
        both.own = None;
        both.tracks.extend(&other.tracks);
        both.tracks.sort_by_key(|track| track.side == Side::Right);
        both.trace.first_in_work = other.trace.first_in_work;
        both.trace.in_work = other.trace.in_work;
        both.trace.after = other.trace.after;
        both.trace.mind.and(other.trace.mind);
        Some(both)
    }

    /// What comes next with nothing between, as one step: rows are rows.
    fn with_rows(&self, next: &Leaf<'a>) -> Option<Self> {
        if (self.doing, next.doing) != (Doing::Knit, Doing::Knit) {
            return None;
        }
        let rows = self.counts.one()?.checked_add(next.counts.one()?)?;
        let mut both = self.clone();
        both.own = None;
        both.counts = Turns::of(rows, 1);
        both.trace.after = next.trace.after;
        Some(both)
    }

    /// Takes in what is done later. Its figures are taken in by whoever knows the rounds.
    fn then(&mut self, later: &Leaf<'a>) {
        let carriage = |trace: &StepTrace| trace.first.map(|moment| moment.carriage);
        self.trace.either_side |=
            later.trace.either_side || carriage(&self.trace) != carriage(&later.trace);
        self.trace.mind.and(later.trace.mind);
        self.trace.visits = self.trace.visits.saturating_add(later.trace.visits);
        self.trace.last = later.trace.last;
        self.trace.after = later.trace.after;
        self.trace.last_needles = later.trace.last_needles;
        self.trace.in_work = later.trace.in_work;
        for track in &later.tracks {
            match self.tracks.iter_mut().find(|known| known.side == track.side) {
                Some(known) => known.last = track.last,
                None => self.tracks.push(*track),
            }
        }
        self.tracks.sort_by_key(|track| track.side == Side::Right);
        self.own = None;
    }

    fn varies(&self) -> bool {
        self.counts.one().is_none() || self.insets.one().is_none()
    }
}

impl Node<'_> {
    /// The number of its first step among the traces.
    pub fn first(&self) -> usize {
        match self {
            Node::Step(_, id) => *id,
            Node::Leaf(leaf) => leaf.id,
            Node::Rounds { leaves, .. } => leaves.iter().map(|leaf| leaf.id).min().unwrap_or(0),
        }
    }

    /// The number behind its last step, as far as it is known.
    pub fn end(&self) -> usize {
        match self {
            Node::Step(step, id) => id + step_size(step),
            Node::Leaf(leaf) => leaf.id + 1,
            Node::Rounds { leaves, .. } => leaves.iter().map(|leaf| leaf.id + 1).max().unwrap_or(0),
        }
    }
}

/// What `nodes` come to, folded.
pub(super) fn folded(nodes: Vec<Node<'_>>) -> Vec<Node<'_>> {
    let nodes = paired(nodes);
    let mut folded = Vec::with_capacity(nodes.len());
    let mut at = 0;
    while at < nodes.len() {
        let Some(found) = best(&nodes, at) else {
            folded.push(nodes[at].clone());
            at += 1;
            continue;
        };
        // A better one that begins within it goes first.
        let reach = LONGEST_ROUND.min(found.nodes.saturating_sub(1));
        let later = (at + 1..=at + reach).filter_map(|from| best(&nodes, from));
        if later.map(|other| other.score).max().is_some_and(|score| score > found.score) {
            folded.push(nodes[at].clone());
            at += 1;
            continue;
        }
        at += found.nodes;
        folded.push(Node::Rounds { times: found.times, leaves: found.leaves });
    }
    // Rows that no repeat has taken in.
    two_as_one(folded, Leaf::with_rows)
}

/// Left and right at one time, as one.
pub(super) fn paired(nodes: Vec<Node<'_>>) -> Vec<Node<'_>> {
    two_as_one(nodes, Leaf::paired)
}

/// Each two leaves that follow each other as one, where `join` makes one of them.
fn two_as_one<'a>(
    nodes: Vec<Node<'a>>,
    join: impl Fn(&Leaf<'a>, &Leaf<'a>) -> Option<Leaf<'a>>,
) -> Vec<Node<'a>> {
    let mut all: Vec<Node<'a>> = Vec::with_capacity(nodes.len());
    for node in nodes {
        let both = match (all.last(), &node) {
            (Some(Node::Leaf(last)), Node::Leaf(next)) => join(last, next),
            _ => None,
        };
        match both {
            Some(both) => {
                all.pop();
                all.push(Node::Leaf(both));
            }
            None => all.push(node),
        }
    }
    all
}

/// Rounds that are alike but for their figures.
struct Found<'a> {
    times: u32,
    leaves: Vec<Leaf<'a>>,
    /// How many nodes it stands for.
    nodes: usize,
    score: i64,
}

fn best<'a>(nodes: &[Node<'a>], at: usize) -> Option<Found<'a>> {
    let mut best: Option<Found<'a>> = None;
    for by_carriage in [false, true] {
        for length in 1..=LONGEST_ROUND {
            let Some(found) = rounds(&nodes[at..], length, by_carriage) else { continue };
            if best.as_ref().is_none_or(|best| found.score > best.score) {
                best = Some(found);
            }
        }
    }
    best
}

/// The rounds of so many steps that `nodes` begin with.
fn rounds<'a>(nodes: &[Node<'a>], length: usize, by_carriage: bool) -> Option<Found<'a>> {
    let mut leaves: Vec<Leaf<'a>> = Vec::new();
    let (mut times, mut taken) = (0u32, 0);
    while let Some((parts, over, next)) = parts(&nodes[taken..], length, by_carriage) {
        let model = if leaves.is_empty() { &parts[0] } else { &leaves };
        let alike = |part: &Vec<Leaf<'a>>| part.iter().zip(model).all(|(a, b)| a.alike(b));
        let Some(more) = u32::try_from(parts.len()).ok().and_then(|n| n.checked_mul(over)) else {
            break;
        };
        if !parts.iter().all(alike) || !take_in(&mut leaves, &parts, over) {
            break;
        }
        times = times.saturating_add(more);
        taken += next;
    }
    let tellable = |leaf: &Leaf<'_>| leaf.counts.tellable() && leaf.insets.tellable();
    if times < 2 || !leaves.iter().all(tellable) {
        return None;
    }
    let told = lines(&leaves);
    let before: i64 = nodes[..taken].iter().map(node_lines).sum();
    let saved = before - told;
    let vary = leaves.iter().filter(|leaf| leaf.varies()).count() as i64;
    // By the carriage is told where it says more in fewer lines.
    let score = saved * 4 - vary - i64::from(by_carriage);
    let shaped = leaves.len() > 1 && leaves.iter().any(|leaf| leaf.place != Place::Anywhere);
    let least = if shaped { 0 } else { LEAST_SAVED };
    (saved >= least).then_some(Found { times, leaves, nodes: taken, score })
}

/// Takes in parts that are done in turn, `over` times. False where their figures take turns so
/// often that nobody would read them.
fn take_in<'a>(leaves: &mut Vec<Leaf<'a>>, parts: &[Vec<Leaf<'a>>], over: u32) -> bool {
    /// Rounds of a repeat that is written out.
    const MOST_OVER: u32 = 120;
    let first = parts[0].iter();
    let even = parts.iter().all(|part| {
        let same = |(a, b): (&Leaf<'_>, &Leaf<'_>)| {
            (&a.counts, &a.insets) == (&b.counts, &b.insets) && !b.varies()
        };
        part.iter().zip(first.clone()).all(same)
    });
    if !even
        && (parts.len() > 1 && over > MOST_OVER || over > 1 && parts[0].iter().any(Leaf::varies))
    {
        return false;
    }
    let begun = !leaves.is_empty();
    for (nth, part) in parts.iter().enumerate() {
        if nth == 0 && !begun {
            leaves.clone_from(part);
            continue;
        }
        for (leaf, later) in leaves.iter_mut().zip(part) {
            leaf.then(later);
        }
    }
    let (turns, each) = if even { (1, over * parts.len() as u32) } else { (over, 1) };
    for (place, leaf) in leaves.iter_mut().enumerate() {
        if !begun {
            (leaf.counts, leaf.insets) = (Turns::none(), Turns::none());
        }
        for _ in 0..turns {
            for part in parts.iter().take(if even { 1 } else { parts.len() }) {
                leaf.counts.join_all(&part[place].counts, each);
                leaf.insets.join_all(&part[place].insets, each);
            }
        }
    }
    true
}

type Parts<'a> = (Vec<Vec<Leaf<'a>>>, u32, usize);

/// The parts that come next, how often they are done in turn, and the nodes they stand for.
fn parts<'a>(nodes: &[Node<'a>], length: usize, by_carriage: bool) -> Option<Parts<'a>> {
    let seen =
        |leaf: &Leaf<'a>| if by_carriage { leaf.clone().by_carriage() } else { Some(leaf.clone()) };
    if let Node::Rounds { times, leaves } = nodes.first()? {
        if leaves.is_empty() || leaves.len() % length != 0 {
            return None;
        }
        let parts = leaves.chunks(length).map(|part| part.iter().map(seen).collect());
        return Some((parts.collect::<Option<_>>()?, *times, 1));
    }
    let part = nodes.get(..length)?.iter().map(|node| match node {
        Node::Leaf(leaf) => seen(leaf),
        _ => None,
    });
    Some((vec![part.collect::<Option<_>>()?], 1, length))
}

fn knits(leaves: &[Leaf<'_>]) -> bool {
    leaves.iter().any(|leaf| leaf.doing == Doing::Knit)
}

/// Lines of a repeat: what begins it, its steps, and where the row counter stands.
fn lines(leaves: &[Leaf<'_>]) -> i64 {
    1 + leaves.len() as i64 + i64::from(knits(leaves))
}

fn node_lines(node: &Node<'_>) -> i64 {
    match node {
        Node::Step(..) | Node::Leaf(_) => 1,
        Node::Rounds { leaves, .. } => lines(leaves),
    }
}
