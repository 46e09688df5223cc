use super::problem::Problem;
use super::{Chunk, Instance, Made, Plan};

/// The remnants a section is knitted from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Chunks {
    len: u8,
    of: [(u32, i32); Instance::MOST_JOINED],
}

impl Chunks {
    pub fn one(remnant: usize, dg: i64) -> Chunks {
        let mut chunks = Chunks::default();
        chunks.push(remnant, dg);
        chunks
    }

    #[allow(clippy::cast_possible_truncation, reason = "validated to be far smaller")]
    pub fn push(&mut self, remnant: usize, dg: i64) {
        self.of[usize::from(self.len)] = (remnant as u32, dg as i32);
        self.len += 1;
    }

    pub fn iter(&self) -> impl Iterator<Item = (usize, i64)> + '_ {
        self.of[..usize::from(self.len)].iter().map(|(r, dg)| (*r as usize, i64::from(*dg)))
    }

    pub fn len(&self) -> usize {
        usize::from(self.len)
    }

    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// The remnant of the first chunk.
    pub fn first(&self) -> Option<usize> {
        self.iter().next().map(|(r, _)| r)
    }
}

/// A plan in the making: what is drawn from where, and what it is worth so far.
#[derive(Clone, Debug)]
pub(super) struct Layout {
    /// By remnant, what is left.
    pub room: Vec<i64>,
    /// By group, what none of its remnants has more than. It is told anew where all are looked at, so
    /// that many a section is known not to fit without.
    pub most: Vec<i64>,
    /// By remnant, the chunks drawn from it.
    pub takers: Vec<u32>,
    /// By gift, the option it is made in.
    pub choice: Vec<Option<usize>>,
    /// By section; empty unless its option is chosen, or is being tried.
    pub chunks: Vec<Chunks>,
    /// By match, the groups that its sections are placed in, and how many in each; more than one only
    /// while it is seen whether they go together.
    pub matched: Vec<Vec<(usize, u32)>>,
    /// By knitter and deadline, minutes of the gifts due by then.
    pub minutes: Vec<i64>,
    /// Gains less costs, in tenths, bonuses of musts included.
    pub value: i64,
}

impl Layout {
    pub fn new(problem: &Problem) -> Layout {
        Layout {
            room: problem.usable.clone(),
            most: vec![i64::MAX; problem.groups.len()],
            takers: vec![0; problem.usable.len()],
            choice: vec![None; problem.gifts.len()],
            chunks: vec![Chunks::default(); problem.sections.len()],
            matched: vec![Vec::new(); problem.matches],
            minutes: vec![0; problem.minutes.len()],
            value: 0,
        }
    }

    /// Says what is left of a remnant.
    pub fn refill(&mut self, problem: &Problem, r: usize, dg: i64) {
        self.room[r] = dg;
        let most = &mut self.most[problem.group_of[r]];
        *most = dg.max(*most);
    }

    pub fn end_cost(problem: &Problem, room: i64, takers: u32) -> i64 {
        if takers > 0 && room <= problem.drib { room * problem.drib_cost } else { 0 }
    }

    /// What drawing `dg` more from a remnant costs, for a section that is not placed.
    pub fn draw_cost(&self, problem: &Problem, section: usize, r: usize, dg: i64) -> i64 {
        let opening = if self.takers[r] == 0 { problem.opening[r] } else { 0 };
        Self::end_cost(problem, self.room[r] - dg, 1)
            - Self::end_cost(problem, self.room[r], self.takers[r])
            + opening
            + self.travel_cost(problem, section, r)
    }

    /// What it costs to bring a remnant to a section, unless another of its gift has it already.
    fn travel_cost(&self, problem: &Problem, section: usize, r: usize) -> i64 {
        if problem.travel.is_empty() {
            return 0;
        }
        let mut own = problem.options[problem.sections[section].option].sections.clone();
        let there = own.any(|s| s != section && self.chunks[s].iter().any(|(other, _)| other == r));
        if there { 0 } else { problem.travel_cost(section, r) }
    }

    /// What a section loses by the group that its chunks are of.
    fn fee(problem: &Problem, section: usize, chunks: &Chunks) -> i64 {
        chunks.first().map_or(0, |r| problem.sections[section].fee(problem.group_of[r]))
    }

    pub fn place(&mut self, problem: &Problem, section: usize, chunks: Chunks) {
        self.value -= Self::fee(problem, section, &chunks);
        for (n, (r, dg)) in chunks.iter().enumerate() {
            self.value -= self.draw_cost(problem, section, r, dg);
            self.room[r] -= dg;
            self.takers[r] += 1;
            if n > 0 {
                self.value -= problem.join_cost;
            }
        }
        self.chunks[section] = chunks;
        if let Some((number, group)) = Self::match_of(problem, section, &chunks) {
            let groups = &mut self.matched[number];
            match groups.iter_mut().find(|(own, _)| *own == group) {
                Some((_, count)) => *count += 1,
                None => groups.push((group, 1)),
            }
        }
    }

    /// The match of a section, and the group that it is placed in.
    fn match_of(problem: &Problem, section: usize, chunks: &Chunks) -> Option<(usize, usize)> {
        Some((problem.sections[section].matched?, problem.group_of[chunks.first()?]))
    }

    /// Whether what a section is to match lets it come from a group.
    pub fn matches(&self, problem: &Problem, section: usize, group: usize) -> bool {
        let number = problem.sections[section].matched;
        number.is_none_or(|number| self.matched[number].iter().all(|(own, _)| *own == group))
    }

    pub fn lift(&mut self, problem: &Problem, section: usize) {
        let chunks = std::mem::take(&mut self.chunks[section]);
        if let Some((number, group)) = Self::match_of(problem, section, &chunks) {
            let groups = &mut self.matched[number];
            groups.iter_mut().filter(|(own, _)| *own == group).for_each(|(_, count)| *count -= 1);
            groups.retain(|(_, count)| *count > 0);
        }
        self.value += Self::fee(problem, section, &chunks);
        for (n, (r, dg)) in chunks.iter().enumerate() {
            self.refill(problem, r, self.room[r] + dg);
            self.takers[r] -= 1;
            self.value += self.draw_cost(problem, section, r, dg);
            if n > 0 {
                self.value += problem.join_cost;
            }
        }
    }

    /// Whether there are hours for an option.
    pub fn has_hours(&self, problem: &Problem, option: usize) -> bool {
        let wanted = problem.options[option].minutes;
        problem.window(option).all(|d| wanted <= problem.minutes[d] - self.minutes[d])
    }

    /// What a gift loses, made in an option whose sections are placed, by being like others that it ought
    /// to differ from.
    pub fn alike_cost(&self, problem: &Problem, option: usize) -> i64 {
        let own = &problem.options[option];
        let Some(set) = problem.set_of[own.gift] else { return 0 };
        let others = problem.sets[set].iter().filter(|other| **other != own.gift);
        let cost = |other: &usize| {
            let Some(theirs) = self.choice[*other] else { return 0 };
            i64::from(problem.options[theirs].kind == own.kind)
                + i64::from(self.shares_group(problem, option, theirs))
        };
        others.map(cost).sum::<i64>() * problem.alike_cost
    }

    fn shares_group(&self, problem: &Problem, a: usize, b: usize) -> bool {
        let groups = |option: usize| {
            let chunks = &self.chunks[problem.options[option].sections.clone()];
            chunks.iter().filter_map(|c| Some(problem.group_of[c.first()?]))
        };
        groups(a).any(|group| groups(b).any(|other| other == group))
    }

    /// Books a gift in an option whose sections are placed.
    pub fn choose(&mut self, problem: &Problem, option: usize) {
        let flat = &problem.options[option];
        self.choice[flat.gift] = Some(option);
        self.value += flat.gain - self.alike_cost(problem, option);
        self.book(problem, option, flat.minutes);
    }

    pub fn book(&mut self, problem: &Problem, option: usize, minutes: i64) {
        for d in problem.window(option) {
            self.minutes[d] += minutes;
        }
    }

    /// Makes a gift in an option, its sections knitted from `chunks`.
    pub fn make(&mut self, problem: &Problem, option: usize, chunks: &[Chunks]) {
        for (section, chunks) in problem.options[option].sections.clone().zip(chunks) {
            self.place(problem, section, *chunks);
        }
        self.choose(problem, option);
    }

    /// Takes a gift out; says how it was made.
    pub fn unmake(&mut self, problem: &Problem, gift: usize) -> Option<(usize, Vec<Chunks>)> {
        let option = self.choice[gift].take()?;
        self.value += self.alike_cost(problem, option);
        let flat = &problem.options[option];
        let sections = flat.sections.clone();
        let chunks = self.chunks[sections.clone()].to_vec();
        for section in sections.rev() {
            self.lift(problem, section);
        }
        self.value -= flat.gain;
        self.book(problem, option, -flat.minutes);
        Some((option, chunks))
    }

    pub fn to_plan(&self, problem: &Problem) -> Plan {
        let gifts = self
            .choice
            .iter()
            .map(|choice| {
                let option = &problem.options[(*choice)?];
                let sections = self.chunks[option.sections.clone()]
                    .iter()
                    .map(|chunks| {
                        let mut all: Vec<Chunk> = chunks
                            .iter()
                            .map(|(remnant, dg)| Chunk {
                                remnant,
                                dg: u32::try_from(dg).unwrap_or(0),
                            })
                            .collect();
                        all.sort_unstable_by_key(|chunk| chunk.remnant);
                        all
                    })
                    .collect();
                Some(Made { option: option.original, sections })
            })
            .collect();
        Plan { gifts }
    }
}
