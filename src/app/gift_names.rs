//! What a gift names of its garments: options and sections. A name that none of them has would
//! quietly be left out, and something else knitted than was asked for.

use super::Workbench;
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::in_turn::InTurn;
use knit::stash::{GarmentChoice, GiftWish, SectionSets, section_sets};
use script::{FIX, IN_TURN, Manifest, Plugin};
use store::workspace::{Fields, Given, flat};

/// The names given for a gift.
#[derive(Clone, Debug)]
pub struct GiftNames {
    pub garment: GarmentChoice,
    pub options: Vec<String>,
    /// What is typed for them.
    choices: Vec<(String, String)>,
    /// Sections that are knitted from balls in turn, with the rows of each as typed; the gift's own from before
    /// among them.
    turns: Vec<(String, String)>,
    /// Sections that remnants are pinned to.
    pub sections: Vec<String>,
    /// Sections that are to be the same or to differ.
    pub linked: Vec<String>,
    /// Whether the gift has them from before, and becomes another garment.
    from_before: bool,
}

impl From<&GiftWish> for GiftNames {
    fn from(wish: &GiftWish) -> Self {
        GiftNames {
            garment: wish.garment.clone(),
            options: wish.asked().map(|(name, _)| name.clone()).collect(),
            choices: wish.asked().cloned().collect(),
            turns: turns_in(&wish.options),
            sections: wish.pinned.iter().map(|(name, _)| name.clone()).collect(),
            linked: wish.same.iter().chain(&wish.contrast).flatten().cloned().collect(),
            from_before: false,
        }
    }
}

impl GiftNames {
    /// What the gift keeps of its names when these keys make another garment of it, and that would
    /// be left over: nothing where they name no garment.
    pub(super) fn kept(fields: &Fields, old: &GiftWish) -> Option<GiftNames> {
        let garment = garment_in(fields).filter(|garment| *garment != old.garment)?;
        let stays = |key: &str, name: &String| match value_in(fields, key) {
            None => true,
            // What is given anew is looked at with all that is given.
            Some(Given::Merge(inside)) => flat(inside).iter().all(|(own, _)| own != name),
            Some(_) => false,
        };
        let GiftNames { mut options, mut sections, mut choices, .. } = GiftNames::from(old);
        let mut linked = Vec::new();
        for (key, names) in [("same", &old.same), ("contrast", &old.contrast)] {
            let stays = |_: &&String| value_in(fields, key).is_none();
            linked.extend(names.iter().flatten().filter(stays).cloned());
        }
        options.retain(|name| stays("options", name));
        choices.retain(|(name, _)| stays("options", name));
        sections.retain(|name| stays("pinned", name));
        Some(GiftNames {
            garment,
            options,
            turns: turns_in(&choices),
            choices,
            sections,
            linked,
            from_before: true,
        })
    }

    /// What is named among an entry's keys; nothing where neither options nor sections are, or no
    /// garment is known. `old` is the gift as it was.
    pub(super) fn given(fields: &Fields, old: Option<&GiftWish>) -> Option<GiftNames> {
        let names = |key: &str| match value_in(fields, key) {
            Some(Given::Merge(inside)) => flat(inside)
                .into_iter()
                .filter(|(_, value)| !value.is_nothing())
                .map(|(name, _)| name)
                .collect(),
            _ => Vec::new(),
        };
        let (options, sections): (Vec<String>, Vec<String>) = (names("options"), names("pinned"));
        let garment = garment_in(fields).or_else(|| old.map(|old| old.garment.clone()))?;
        let mut linked = Vec::new();
        for key in ["same", "contrast"] {
            let sets = value_in(fields, key).and_then(sets_in);
            linked.extend(sets.into_iter().flatten().flatten());
        }
        let some = !options.is_empty() || !sections.is_empty() || !linked.is_empty();
        let choices: Vec<(String, String)> = match value_in(fields, "options") {
            Some(Given::Merge(inside)) => flat(inside)
                .into_iter()
                .filter_map(|(name, value)| Some((name, value.as_typed()?)))
                .collect(),
            _ => Vec::new(),
        };
        // What is given anew goes before what the gift has.
        let mut turns = turns_in(&choices);
        turns.extend(old.map_or_else(Vec::new, |old| turns_in(&old.options)));
        some.then_some(GiftNames {
            garment,
            options,
            choices,
            turns,
            sections,
            linked,
            from_before: false,
        })
    }

    /// The faults, with the garments at hand. Garments that can't be loaded are passed over:
    /// others tell of them.
    pub fn faults_on(&self, bench: &Workbench) -> Diagnostics {
        let ids = bench.garment_ids();
        let plugins: Vec<(&str, Plugin)> = ids
            .iter()
            .filter(|id| self.garment.allows(id))
            .filter_map(|id| Some((id.as_str(), bench.garment(id).ok()?)))
            .collect();
        self.faults(plugins.iter().map(|(id, plugin)| (*id, plugin)))
    }

    /// Whether a section is a ball of one that is knitted from balls in turn: `hat 2`.
    fn is_ball(&self, section: &str) -> bool {
        let of = |whole: &str| self.turns.iter().find(|(own, _)| own == whole);
        let turn = section.rsplit_once(' ').and_then(|(whole, _)| of(whole));
        let turn = turn.and_then(|(whole, rows)| InTurn::parse(whole, rows).ok().flatten());
        turn.is_some_and(|turn| InTurn::of_ball(&[turn], section).is_some())
    }

    /// The faults, with these garments; those the gift doesn't allow don't count.
    pub(super) fn faults<'a>(
        &self,
        garments: impl Iterator<Item = (&'a str, &'a Plugin)>,
    ) -> Diagnostics {
        let plugins: Vec<(&str, &Plugin)> =
            garments.filter(|(id, _)| self.garment.allows(id)).collect();
        let own: Vec<(&str, &Manifest)> =
            plugins.iter().map(|(id, plugin)| (*id, &*plugin.manifest)).collect();
        let mut faults = Diagnostics::new();
        if own.is_empty() {
            return faults;
        }
        let options = own.iter().flat_map(|(_, m)| m.options.iter().map(|o| o.name.as_str()));
        let sections = own.iter().flat_map(|(_, m)| m.sections.iter().map(|s| s.name.as_str()));
        for (what, given, known) in [
            ("option", &self.options, options.collect::<Vec<_>>()),
            ("section", &self.sections, sections.clone().collect()),
            ("section", &self.linked, sections.collect()),
        ] {
            let taken = |name: &&String| {
                known.contains(&name.as_str())
                    || what == "section" && self.is_ball(name)
                    || what == "option" && plugins.iter().any(|(_, plugin)| plugin.takes(name))
            };
            for name in given.iter().filter(|name| !taken(name)) {
                let fault = unknown(what, name, &own, &known);
                let linked = self.linked.contains(name);
                faults.push(match self.from_before {
                    true if linked => linked_left_over(fault),
                    true => left_over(what, name, fault),
                    false => fault,
                });
            }
        }
        faults.extend(self.choices.iter().filter_map(|choice| refused(choice, &plugins)));
        faults
    }
}

/// Why no garment takes what is typed for a choice, of those that know its name.
fn refused(choice: &(String, String), plugins: &[(&str, &Plugin)]) -> Option<Diagnostic> {
    let mut why = None;
    for (_, plugin) in plugins.iter().filter(|(_, plugin)| plugin.takes(&choice.0)) {
        match plugin.manifest.parse_options(std::slice::from_ref(choice)) {
            Ok(_) => return None,
            Err(faults) => why = why.or_else(|| faults.iter().next().cloned()),
        }
    }
    why
}

/// Sections in turn among choices, with the rows of each ball as typed.
fn turns_in(choices: &[(String, String)]) -> Vec<(String, String)> {
    let turn = |(name, rows): &(String, String)| {
        Some((name.strip_prefix(IN_TURN)?.to_owned(), rows.clone()))
    };
    choices.iter().filter_map(turn).collect()
}

/// A name that a gift has from before has to be taken out, not to be put right.
fn left_over(what: &str, name: &str, fault: Diagnostic) -> Diagnostic {
    let (flag, name) = match (what, name.strip_prefix(FIX), name.strip_prefix(IN_TURN)) {
        ("option", Some(decision), _) => ("--fix", decision),
        ("option", None, Some(section)) => ("--in-turn", section),
        ("option", None, None) => ("--set", name),
        _ => ("--pin", name),
    };
    let hint = format!("the gift has it from before: `{flag} {name}=` takes it out");
    Diagnostic { hints: vec![hint], ..fault }
}

fn linked_left_over(fault: Diagnostic) -> Diagnostic {
    let hint = "the gift has it from before: `--same ''` or `--contrast ''` takes it out";
    Diagnostic { hints: vec![hint.to_owned()], ..fault }
}

/// Sections in sets, as they are given; nothing where they can't be read.
pub(super) fn sets_in(given: &Given) -> Option<SectionSets> {
    match given {
        Given::Texts(words) => section_sets(words.iter().map(String::as_str)).ok(),
        Given::Text(word) => section_sets([word.as_str()]).ok(),
        given => given.is_nothing().then(SectionSets::new),
    }
}

fn value_in<'f>(fields: &'f Fields, key: &str) -> Option<&'f Given> {
    fields.iter().find(|(name, _)| name == key).map(|(_, given)| given)
}

fn garment_in(fields: &Fields) -> Option<GarmentChoice> {
    match value_in(fields, "garment")? {
        Given::Text(any) if any.trim() == GarmentChoice::ANY => Some(GarmentChoice::Any),
        Given::Text(one) => Some(GarmentChoice::OneOf(vec![one.trim().to_owned()])),
        Given::Texts(ids) => Some(GarmentChoice::OneOf(ids.clone())),
        _ => None,
    }
}

fn unknown(what: &str, name: &str, own: &[(&str, &Manifest)], known: &[&str]) -> Diagnostic {
    if let Some(section) = name.strip_prefix(IN_TURN).filter(|_| what == "option") {
        let sections = own.iter().flat_map(|(_, m)| m.sections.iter().map(|s| s.name.as_str()));
        return unknown("section", section, own, &sections.collect::<Vec<_>>());
    }
    if let Some(decision) = name.strip_prefix(FIX).filter(|_| what == "option") {
        let whose = match own {
            [(only, _)] => format!("`{only}` decides no `{decision}`"),
            _ => format!("none of its garments decides a `{decision}`"),
        };
        return Diagnostic::error(Code::Decision, whose)
            .hint("`oddments garment show NAME` lists the numbers that can be fixed");
    }
    let whose = match own {
        [(only, _)] => format!("`{only}` has no {what} `{name}`"),
        _ => format!("none of its garments has a {what} `{name}`").replace("a option", "an option"),
    };
    let mut all = known.to_vec();
    all.sort_unstable();
    all.dedup();
    let hint = match nearest(name, all.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None if all.is_empty() => format!("leave the {what} out"),
        None => format!("use one of: {}", all.join(", ")),
    };
    Diagnostic::error(if what == "option" { Code::Option } else { Code::NoSection }, whose)
        .hint(hint)
}
