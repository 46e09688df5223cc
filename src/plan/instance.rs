use std::collections::{BTreeMap, BTreeSet};

use super::{Faults, GiftFault, InstanceFault, Plan, Points, WeightOf};

/// A ball, cone or end of yarn. Masses in decigrams (0.1 g).
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Remnant {
    /// Yarns of one group look and knit alike; only they may be joined in a section.
    pub group: usize,
    /// What may be planned with: the mass less a reserve for tails and weighing errors.
    pub usable_dg: u32,
    /// What the scale says. Told to people; the plan works with `usable_dg` alone.
    pub mass_dg: u32,
    /// Lost once if anything is knitted from it: a ball to buy, a ball to open.
    pub opening: Points,
    /// The gifts that alone may be knitted from it; `None`: all.
    pub kept_for: Option<BTreeSet<usize>>,
    /// Where it lies: what it costs to bring it to a knitter is in [`Instance::travel`].
    pub place: usize,
}

/// A part of a garment that is knitted in one yarn group.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Section {
    /// Whether several remnants may be joined within it.
    pub joinable: bool,
    /// By yarn group, the decigrams to set aside. A group that is not listed doesn't suit.
    pub need_dg: BTreeMap<usize, u32>,
    /// By yarn group, what it gains to knit it from that one. A group that is not listed gains nothing.
    pub gain: BTreeMap<usize, Points>,
    /// The remnants that it may be knitted from, of the groups that suit; `None`: all.
    pub only_from: Option<BTreeSet<usize>>,
    /// Another section of the same option that must come from the same group.
    pub same_as: Option<usize>,
    /// Another section of the same option that must come from another group: a contrast.
    pub differs_from: Option<usize>,
    /// The match that it is part of, by number: all sections of a match come from one group, of whatever
    /// gifts they are, where these are made.
    pub matched: Option<usize>,
}

/// One way to make a gift: a garment, a size, a colouring.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct GiftOption {
    /// How well it is liked, in whole points.
    pub pref: i64,
    /// What else it gains, or loses: nothing changed since the last plan, hours saved.
    pub gain: Points,
    /// How far down the list of what would do it stands. Of plans of equal worth, one is taken whose gifts
    /// stand as far up as can be, a gift left out as far down as its last.
    pub rank: u32,
    /// Who knits it: an index into [`Deadline::minutes`] and [`Instance::travel`].
    pub knitter: usize,
    /// What it is. Gifts that ought to differ ([`Instance::variety`]) differ in this and in their yarn.
    pub kind: usize,
    /// Time at the machine and finishing, in minutes.
    pub minutes: u32,
    /// Its parts; an option without any needs no yarn.
    pub sections: Vec<Section>,
    /// Two sections each that must come from different groups: contrasts, beside
    /// [`Section::differs_from`].
    pub contrasts: Vec<(usize, usize)>,
    /// Two sections each that must come from one group where they come from one yarn
    /// ([`Instance::yarn_of`]): two lots of a shade may differ to the eye.
    pub one_lot: Vec<(usize, usize)>,
}

/// Something to be made for someone, in at most one of its options.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Gift {
    /// How much it matters: made, it gains this times [`Weights::priority`].
    pub priority: i64,
    /// Has to be made, whatever it displaces.
    pub must: bool,
    /// Has to be made, in this option. Implies `must`.
    pub pinned: Option<usize>,
    /// Index of its deadline; without one it counts against no hours.
    pub due: Option<usize>,
    /// The ways to make it; without any it can't be made.
    pub options: Vec<GiftOption>,
}

impl Gift {
    /// Whether it has to be made.
    pub fn is_must(&self) -> bool {
        self.must || self.pinned.is_some()
    }
}

/// A day by which gifts are due. Deadlines are listed in order of time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Deadline {
    /// By knitter, minutes from now until then; never falls from one deadline to the next. As many
    /// entries in each deadline, and as many as the options name knitters.
    pub minutes: Vec<u64>,
}

/// What a plan gains and loses.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Weights {
    /// For a gift made, times its priority.
    pub priority: Points,
    /// Times the liking of the option it is made in.
    pub pref: Points,
    /// Lost for each remnant in a section beyond its first.
    pub join: Points,
    /// Lost for each decigram left in a used remnant too small to be of use.
    pub drib: Points,
    /// Lost for each two gifts that ought to differ and are of one kind, and again if they share a
    /// yarn group.
    pub alike: Points,
}

impl Default for Weights {
    fn default() -> Self {
        Weights {
            priority: Points::whole(1000),
            pref: Points::whole(1),
            join: Points::whole(3),
            drib: Points(1),
            alike: Points::whole(5),
        }
    }
}

/// All that a plan is made from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Instance {
    /// The stash.
    pub remnants: Vec<Remnant>,
    /// By yarn group, the yarn that it is a lot of. A group that is not listed is a yarn of its own.
    pub yarn_of: BTreeMap<usize, usize>,
    /// By yarn group, what a whole ball weighs, in decigrams. A section may be joined once more for each
    /// whole ball that it takes: where a ball ends there is a join in any case. A group that is not
    /// listed has none.
    pub ball_dg: BTreeMap<usize, u32>,
    /// By match ([`Section::matched`]), the group that it must come from: what it is to match is there.
    pub match_group: BTreeMap<usize, usize>,
    /// What is wished for.
    pub gifts: Vec<Gift>,
    /// By rising time.
    pub deadlines: Vec<Deadline>,
    /// Sets of gifts that ought to differ: all for one person. No gift is in two sets.
    pub variety: Vec<Vec<usize>>,
    /// By knitter and place, what is lost once for each remnant that a gift of that knitter is knitted
    /// from and that lies there. What is not listed costs nothing.
    pub travel: Vec<Vec<Points>>,
    /// The least that is worth joining in, in decigrams. A section that needs less than twice
    /// this is knitted from one remnant.
    pub min_chunk_dg: u32,
    /// The most remnants in one section, whole balls aside: see [`Instance::most_joined`].
    pub max_join: usize,
    /// A used remnant with this much left or less is a useless end.
    pub drib_dg: u32,
    /// What gains and losses are worth.
    pub weights: Weights,
}

impl Default for Instance {
    fn default() -> Self {
        Instance {
            remnants: Vec::new(),
            yarn_of: BTreeMap::new(),
            ball_dg: BTreeMap::new(),
            match_group: BTreeMap::new(),
            gifts: Vec::new(),
            deadlines: Vec::new(),
            variety: Vec::new(),
            travel: Vec::new(),
            min_chunk_dg: 50,
            max_join: 3,
            drib_dg: 80,
            weights: Weights::default(),
        }
    }
}

impl Instance {
    /// The most remnants that may be joined in a section.
    pub const MOST_JOINED: usize = 8;
    /// The heaviest remnant, or need: 100 kg, in decigrams.
    pub const HEAVIEST_DG: u32 = 1_000_000;
    /// The largest weight, priority or liking, either way.
    const LARGEST_FACTOR: i64 = 1_000_000_000;
    /// All that could be gained or lost together stays below this many tenths, so that no sum
    /// can overflow and a double holds every one exactly.
    const LARGEST_TOTAL: i128 = 1 << 45;

    /// What makes it no instance at all: references to nothing, magnitudes out of reason.
    pub fn validate(&self) -> Faults<InstanceFault> {
        let mut faults = Faults::default();
        if self.max_join == 0 || self.max_join > Self::MOST_JOINED {
            faults.push(InstanceFault::Joins(self.max_join));
        }
        if self.min_chunk_dg == 0 {
            faults.push(InstanceFault::NoChunk);
        }
        for (remnant, Remnant { usable_dg, kept_for, .. }) in self.remnants.iter().enumerate() {
            if *usable_dg > Self::HEAVIEST_DG {
                faults.push(InstanceFault::Mass { remnant, usable_dg: *usable_dg });
            }
            let unknown = kept_for.iter().flatten().filter(|gift| **gift >= self.gifts.len());
            for gift in unknown {
                faults.push(InstanceFault::Kept { remnant, gift: *gift });
            }
        }
        for (d, pair) in self.deadlines.windows(2).enumerate() {
            let falls = pair[0].minutes.iter().zip(&pair[1].minutes).any(|(a, b)| b < a);
            if falls || pair[0].minutes.len() != pair[1].minutes.len() {
                faults.push(InstanceFault::Hours { deadline: d + 1 });
            }
        }
        let weights = [
            (WeightOf::Priority, self.weights.priority),
            (WeightOf::Liking, self.weights.pref),
            (WeightOf::Join, self.weights.join),
            (WeightOf::UselessEnd, self.weights.drib),
            (WeightOf::Alike, self.weights.alike),
        ];
        let openings = self.remnants.iter().map(|r| (WeightOf::Opening, r.opening));
        let travel = self.travel.iter().flatten().map(|cost| (WeightOf::Travel, *cost));
        let mut told = BTreeSet::new();
        for (of, weight) in weights.into_iter().chain(openings).chain(travel) {
            if !(0..=Self::LARGEST_FACTOR).contains(&weight.0) && told.insert((of, weight)) {
                faults.push(InstanceFault::Weight(of, weight));
            }
        }
        for (gift, wanted) in self.gifts.iter().enumerate() {
            self.validate_gift(wanted, |fault| faults.push(InstanceFault::Gift { gift, fault }));
        }
        let mut varied = BTreeSet::new();
        for gift in self.variety.iter().flatten() {
            if *gift >= self.gifts.len() || !varied.insert(*gift) {
                faults.push(InstanceFault::Variety(*gift));
            }
        }
        if faults.is_empty() && self.spread() >= Self::LARGEST_TOTAL {
            faults.push(InstanceFault::TooManyPoints);
        }
        faults
    }

    fn validate_gift(&self, gift: &Gift, mut say: impl FnMut(GiftFault)) {
        let sane = -Self::LARGEST_FACTOR..=Self::LARGEST_FACTOR;
        if !sane.contains(&gift.priority) {
            say(GiftFault::Priority(gift.priority));
        }
        if gift.due.is_some_and(|due| due >= self.deadlines.len()) {
            say(GiftFault::NoDeadline);
        }
        if gift.pinned.is_some_and(|option| option >= gift.options.len()) {
            say(GiftFault::NoOption);
        }
        for (o, option) in gift.options.iter().enumerate() {
            if !sane.contains(&option.pref) {
                say(GiftFault::Pref { option: o, pref: option.pref });
            }
            let gains = option.sections.iter().flat_map(|s| s.gain.values());
            for gain in gains.chain([&option.gain]).filter(|gain| !sane.contains(&gain.0)) {
                say(GiftFault::Gain { option: o, gain: *gain });
            }
            let day = self.deadlines.first();
            if day.is_some_and(|day| option.knitter >= day.minutes.len()) {
                say(GiftFault::NoKnitter { option: o, knitter: option.knitter });
            }
            for (a, b) in option.contrasts.iter().chain(&option.one_lot) {
                if *a.max(b) >= option.sections.len() {
                    say(GiftFault::NoSection { option: o, section: *a });
                } else if a == b {
                    say(GiftFault::NotItself { option: o, section: *a });
                }
            }
            for (s, section) in option.sections.iter().enumerate() {
                let links = [section.same_as, section.differs_from];
                if links.into_iter().flatten().any(|other| other >= option.sections.len()) {
                    say(GiftFault::NoSection { option: o, section: s });
                }
                if section.differs_from == Some(s) {
                    say(GiftFault::NotItself { option: o, section: s });
                }
                for remnant in section.only_from.iter().flatten() {
                    if *remnant >= self.remnants.len() {
                        say(GiftFault::NoRemnant { option: o, section: s, remnant: *remnant });
                    }
                }
                for (group, need) in &section.need_dg {
                    if *need == 0 || *need > Self::HEAVIEST_DG {
                        say(GiftFault::Need {
                            option: o,
                            section: s,
                            group: *group,
                            need_dg: *need,
                        });
                    }
                }
            }
        }
    }

    /// An upper limit of what all gains and losses could add up to, in tenths.
    fn spread(&self) -> i128 {
        let of = |points: Points| i128::from(points.0);
        let farthest = self.travel.iter().flatten().max().map_or(0, |cost| of(*cost));
        let size = |n: usize| i128::try_from(n).unwrap_or(i128::MAX / 4);
        let section_gain = |section: &Section| {
            section.gain.values().map(|gain| of(*gain).abs()).max().unwrap_or(0)
        };
        let option_gain = |option: &GiftOption| {
            of(option.gain).abs() + option.sections.iter().map(section_gain).sum::<i128>()
        };
        let gifts: i128 = self
            .gifts
            .iter()
            .map(|gift| {
                let liked = gift.options.iter().map(|o| i128::from(o.pref).abs()).max();
                let sections = gift.options.iter().map(|o| o.sections.len()).max();
                let joins = sections.unwrap_or(0) * self.most_in_any();
                let gained = gift.options.iter().map(option_gain).max();
                i128::from(gift.priority).abs() * of(self.weights.priority)
                    + liked.unwrap_or(0) * of(self.weights.pref)
                    + size(joins) * (of(self.weights.join) + farthest)
                    + gained.unwrap_or(0)
            })
            .sum();
        let ends: i128 = self
            .remnants
            .iter()
            .map(|r| i128::from(r.usable_dg.min(self.drib_dg)) * of(self.weights.drib))
            .sum();
        let opened: i128 = self.remnants.iter().map(|r| of(r.opening)).sum();
        let pairs: i128 = self.variety.iter().map(|set| size(set.len() * set.len())).sum();
        let ends = ends + opened + pairs * of(self.weights.alike);
        // A gift that must be made is worth more than all others together.
        let musts = self.gifts.iter().filter(|gift| gift.is_must()).count() + 1;
        (gifts + ends + 1) * 2 * i128::try_from(musts).unwrap_or(i128::MAX / 4)
    }

    /// The remnants of a group that a section of a gift may be knitted from.
    pub(super) fn remnants_for(
        &self,
        gift: usize,
        section: &Section,
        group: usize,
    ) -> impl Iterator<Item = usize> {
        let all = self.remnants.iter().enumerate();
        let may = move |(r, remnant): &(usize, &Remnant)| {
            remnant.group == group
                && remnant.kept_for.as_ref().is_none_or(|gifts| gifts.contains(&gift))
                && section.only_from.as_ref().is_none_or(|only| only.contains(r))
        };
        all.filter(may).map(|(r, _)| r)
    }

    /// By remnant, the decigrams that a plan leaves.
    pub fn left_by(&self, plan: &Plan) -> Vec<u32> {
        let mut left: Vec<u32> = self.remnants.iter().map(|r| r.usable_dg).collect();
        for chunk in plan.gifts.iter().flatten().flat_map(|made| made.sections.iter().flatten()) {
            left[chunk.remnant] = left[chunk.remnant].saturating_sub(chunk.dg);
        }
        left
    }

    /// The most decigrams that a section of a gift could draw from a group, of whose remnants so much
    /// is left: from one, or from as many as may be joined.
    pub fn most_dg(&self, gift: usize, section: &Section, group: usize, left: &[u32]) -> u32 {
        let need = section.need_dg.get(&group).copied().unwrap_or(0);
        let mut rooms: Vec<u32> =
            self.remnants_for(gift, section, group).map(|r| left[r]).collect();
        rooms.sort_unstable_by(|a, b| b.cmp(a));
        let single = rooms.first().copied().unwrap_or(0);
        if !section.joinable || u64::from(need) < 2 * u64::from(self.min_chunk_dg) {
            return single;
        }
        let parts = rooms.iter().filter(|room| **room >= self.min_chunk_dg);
        let parts = parts.take(self.most_joined(group, need));
        single.max(parts.fold(0u32, |sum, room| sum.saturating_add(*room)))
    }

    /// The most remnants of a group in a section that needs so much of it.
    pub fn most_joined(&self, group: usize, need_dg: u32) -> usize {
        let balls = self.ball_dg.get(&group).map_or(0, |ball| need_dg / (*ball).max(1));
        let more = usize::try_from(balls).unwrap_or(Self::MOST_JOINED);
        self.max_join.saturating_add(more).min(Self::MOST_JOINED)
    }

    /// The most remnants that any section may have.
    pub fn most_in_any(&self) -> usize {
        if self.ball_dg.is_empty() { self.max_join } else { Self::MOST_JOINED }
    }

    /// What making a gift in an option gains, joins and ends left aside.
    pub(super) fn gain(&self, gift: usize, option: usize) -> Points {
        let gift = &self.gifts[gift];
        self.weights.priority.times(gift.priority)
            + self.weights.pref.times(gift.options[option].pref)
            + gift.options[option].gain
    }
}
