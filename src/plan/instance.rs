use std::collections::BTreeMap;

use diag::{Code, Diagnostic, Diagnostics};

use super::Points;

/// A ball, cone or end of yarn. Masses in decigrams (0.1 g).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remnant {
    /// Yarns of one group look and knit alike; only they may be joined in a section.
    pub group: usize,
    /// What may be planned with: the mass less a reserve for tails and weighing errors.
    pub usable_dg: u32,
    /// What the scale says. Told to people; the plan works with `usable_dg` alone.
    pub mass_dg: u32,
}

/// A part of a garment that is knitted in one yarn group.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Section {
    /// Whether several remnants may be joined within it.
    pub joinable: bool,
    /// By yarn group, the decigrams to set aside. A group that is not listed doesn't suit.
    pub need_dg: BTreeMap<usize, u32>,
    /// Another section of the same option that must come from the same group.
    pub same_as: Option<usize>,
    /// Another section of the same option that must come from another group: a contrast.
    pub differs_from: Option<usize>,
}

/// One way to make a gift: a garment, a size, a colouring.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct GiftOption {
    /// How well it is liked, in whole points.
    pub pref: i64,
    /// Time at the machine and finishing, in minutes.
    pub minutes: u32,
    pub sections: Vec<Section>,
}

/// Something to be made for someone, in at most one of its options.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Gift {
    pub priority: i64,
    /// Has to be made, whatever it displaces.
    pub must: bool,
    /// Has to be made, in this option. Implies `must`.
    pub pinned: Option<usize>,
    /// Index of its deadline; without one it counts against no hours.
    pub due: Option<usize>,
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
    /// Minutes of one knitter from now until then; never falls from one deadline to the next.
    pub minutes: u64,
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
}

impl Default for Weights {
    fn default() -> Self {
        Weights {
            priority: Points::whole(1000),
            pref: Points::whole(1),
            join: Points::whole(3),
            drib: Points(1),
        }
    }
}

/// All that a plan is made from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Instance {
    pub remnants: Vec<Remnant>,
    pub gifts: Vec<Gift>,
    pub deadlines: Vec<Deadline>,
    /// The least that is worth joining in, in decigrams. A section that needs less than twice
    /// this is knitted from one remnant.
    pub min_chunk_dg: u32,
    /// The most remnants in one section.
    pub max_join: usize,
    /// A used remnant with this much left or less is a useless end.
    pub drib_dg: u32,
    pub weights: Weights,
}

impl Default for Instance {
    fn default() -> Self {
        Instance {
            remnants: Vec::new(),
            gifts: Vec::new(),
            deadlines: Vec::new(),
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
    pub fn validate(&self) -> Diagnostics {
        let mut faults = Diagnostics::new();
        let mut say = |code, message: String, hint: &str| {
            faults.push(Diagnostic::error(code, message).hint(hint));
        };
        if self.max_join == 0 || self.max_join > Self::MOST_JOINED {
            say(
                Code::PlanJoins,
                format!("{} remnants to a section", self.max_join),
                "allow 1 to 8 remnants in a section",
            );
        }
        if self.min_chunk_dg == 0 {
            say(Code::PlanChunk, "the least chunk is nothing".into(), "make it 1 dg or more");
        }
        for (r, remnant) in self.remnants.iter().enumerate() {
            if remnant.usable_dg > Self::HEAVIEST_DG {
                say(
                    Code::PlanMass,
                    format!("remnant {r} holds {} dg", remnant.usable_dg),
                    "a remnant may hold 100 kg at most",
                );
            }
        }
        for (d, pair) in self.deadlines.windows(2).enumerate() {
            if pair[1].minutes < pair[0].minutes {
                say(
                    Code::PlanHours,
                    format!("fewer minutes until deadline {} than until deadline {d}", d + 1),
                    "list deadlines in order of time, each with all minutes from now until then",
                );
            }
        }
        let weights = [
            ("priority", self.weights.priority),
            ("liking", self.weights.pref),
            ("join", self.weights.join),
            ("useless end", self.weights.drib),
        ];
        for (name, weight) in weights {
            if !(0..=Self::LARGEST_FACTOR).contains(&weight.0) {
                say(
                    Code::PlanWeight,
                    format!("a weight of {weight} for {name}"),
                    "a weight is at least 0 and at most 100 million points",
                );
            }
        }
        for (g, gift) in self.gifts.iter().enumerate() {
            self.validate_gift(g, gift, &mut faults);
        }
        if !faults.has_errors() && self.spread() >= Self::LARGEST_TOTAL {
            faults.push(
                Diagnostic::error(
                    Code::PlanWeight,
                    "the plan's points would be too many to add up",
                )
                .hint("lower the weights, the priorities or the likings"),
            );
        }
        faults
    }

    fn validate_gift(&self, g: usize, gift: &Gift, faults: &mut Diagnostics) {
        let mut say = |code, message: String, hint: &str| {
            faults.push(Diagnostic::error(code, message).hint(hint).context(format!("gift {g}")));
        };
        let sane = -Self::LARGEST_FACTOR..=Self::LARGEST_FACTOR;
        if !sane.contains(&gift.priority) {
            say(
                Code::PlanPriority,
                format!("a priority of {}", gift.priority),
                "use a small number, such as 1 to 5",
            );
        }
        if gift.due.is_some_and(|due| due >= self.deadlines.len()) {
            say(Code::PlanDue, "due by a deadline there is not".into(), "list the deadline");
        }
        if gift.pinned.is_some_and(|option| option >= gift.options.len()) {
            say(
                Code::PlanPinned,
                "pinned to an option it has not".into(),
                "pin one of its options",
            );
        }
        for option in &gift.options {
            if !sane.contains(&option.pref) {
                say(
                    Code::PlanPref,
                    format!("a liking of {}", option.pref),
                    "use a small number, such as 0 to 50",
                );
            }
            for (s, section) in option.sections.iter().enumerate() {
                let links = [section.same_as, section.differs_from];
                if links.into_iter().flatten().any(|other| other >= option.sections.len()) {
                    say(Code::PlanLink, "linked to a section there is not".into(), "name another");
                }
                if section.differs_from == Some(s) {
                    say(
                        Code::PlanLink,
                        "a section can't differ from itself".into(),
                        "name another",
                    );
                }
                for (group, need) in &section.need_dg {
                    if *need == 0 || *need > Self::HEAVIEST_DG {
                        say(
                            Code::PlanNeed,
                            format!("a section needs {need} dg of group {group}"),
                            "a section needs something, and 100 kg at most",
                        );
                    }
                }
            }
        }
    }

    /// An upper limit of what all gains and losses could add up to, in tenths.
    fn spread(&self) -> i128 {
        let of = |points: Points| i128::from(points.0);
        let gifts: i128 = self
            .gifts
            .iter()
            .map(|gift| {
                let liked = gift.options.iter().map(|o| i128::from(o.pref).abs()).max();
                let sections = gift.options.iter().map(|o| o.sections.len()).max();
                let joins = sections.unwrap_or(0) * self.max_join;
                i128::from(gift.priority).abs() * of(self.weights.priority)
                    + liked.unwrap_or(0) * of(self.weights.pref)
                    + i128::try_from(joins).unwrap_or(i128::MAX / 4) * of(self.weights.join)
            })
            .sum();
        let ends: i128 = self
            .remnants
            .iter()
            .map(|r| i128::from(r.usable_dg.min(self.drib_dg)) * of(self.weights.drib))
            .sum();
        // A gift that must be made is worth more than all others together.
        let musts = self.gifts.iter().filter(|gift| gift.is_must()).count() + 1;
        (gifts + ends + 1) * 2 * i128::try_from(musts).unwrap_or(i128::MAX / 4)
    }

    /// What making a gift in an option gains, joins and ends left aside.
    pub(super) fn gain(&self, gift: usize, option: usize) -> Points {
        let gift = &self.gifts[gift];
        self.weights.priority.times(gift.priority)
            + self.weights.pref.times(gift.options[option].pref)
    }
}
