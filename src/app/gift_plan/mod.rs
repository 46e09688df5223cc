//! Gifts from a stash: turns a workspace into an instance for the solver, and its plan back into
//! garments, remnants and dates. Decides nothing itself; what weighs how much is in the settings.
//! Gives data, not a sentence: [`report::plan_words`] has the words.

mod acceptable;
mod changes;
mod draft;
mod out_of_time;
mod result;
mod scale;
pub(super) mod setups;
mod shopping;

use draft::Draft;
pub use shopping::{ShopRequest, money_to_spend, shop};

use std::collections::{BTreeMap, BTreeSet};

use super::gift_life::free_gifts;
use super::{Learning, Places, Workbench, Workspace, WorkspaceEdit};
use diag::Diagnostics;
use knit::gift_plan::{GiftPlan, PlannedGift, PlannedSection};
use knit::stash::{Aim, Date, GiftWish, KnittedAs, Reservation};
use plan::{self, Points, Progress, SolveSettings};
use report::plan_words::stash_changed;
use store::workspace::{Basis, Contents, Edit, EntryKind, EntryName, Given, List};
use units::Mass;

/// What to plan from.
#[derive(Clone, Copy, Debug)]
pub struct PlanRequest<'a> {
    pub bench: &'a Workbench,
    pub contents: &'a Contents,
    /// What all that was weighed there teaches.
    pub learning: &'a Learning,
    /// Where the pieces at the machine are: what is ticked there needs no hours any more.
    pub places: &'a Places,
    /// The number of that state of the workspace.
    pub number: u64,
    /// From when the hours until a due date are counted.
    pub today: Date,
    /// Plan gifts again that an accepted plan has set yarn aside for.
    pub again: bool,
    /// What the plan is to be good at; `None`: as the settings say.
    pub aim: Option<Aim>,
    /// Look for ways to let in what is left out.
    pub explain: bool,
}

impl PlanRequest<'_> {
    /// What the plan is to be good at, where anybody says.
    pub(super) fn aim(&self) -> Option<Aim> {
        self.aim.or(self.contents.settings.aim)
    }
}

/// Plans all gifts of a workspace at once.
///
/// # Errors
/// What makes it no instance: weights out of reason; an option or a section that none of a gift's
/// garments has. A gift that can't be made is not an error: the
/// plan says why.
pub fn plan_gifts(
    request: &PlanRequest<'_>,
    settings: &SolveSettings,
    progress: &mut dyn FnMut(Progress),
) -> Result<GiftPlan, Diagnostics> {
    let draft = Draft::of(request)?;
    let scale = draft.scale;
    let tenths = |points| Points((scale.told(points) * 10.0).round() as i64);
    let outcome = plan::solve(&draft.instance, settings, &mut |at| {
        progress(Progress { objective: tenths(at.objective), bound: tenths(at.bound), ..at });
    })?;
    Ok(result::gift_plan(request, &draft, &outcome, settings.stop.is_set()))
}

/// What stays set aside where gifts are planned: all of it, or with `again` what is held fast.
fn kept(contents: &Contents, again: bool) -> impl Iterator<Item = &Reservation> {
    let holds = |gift: &str| contents.gift(gift).is_some_and(GiftWish::holds);
    contents.reservations.iter().filter(move |reserved| !again || holds(&reserved.gift))
}

/// Sets the yarn of a plan aside in the workspace, beside what was set aside before, or (with
/// `again`) in the place of all that is not held fast. Gives the number of gifts. `seen` is what the
/// plan was made from.
///
/// # Errors
/// Something that the plan rests on has changed since: a gift or its person, a remnant, yarn or
/// swatch that it uses, what is set aside, sizes, settings; a gift that has yarn already. As
/// [`WorkspaceEdit::edits`].
pub fn accept(
    edit: &mut WorkspaceEdit,
    seen: &Workspace,
    plan: &GiftPlan,
    again: bool,
) -> Result<usize, Diagnostics> {
    edit.rest_on(basis(seen, plan));
    let fresh = reservations(plan);
    edit.edits("plan --accept", |contents| {
        let mut faults = acceptable::gifts_changed(contents, plan, again);
        let mut wanted: BTreeMap<&str, f64> = BTreeMap::new();
        for reservation in kept(contents, again).chain(&fresh) {
            *wanted.entry(&reservation.remnant).or_default() += reservation.weight.grams();
        }
        for (id, grams) in wanted {
            let there = contents.remnant(id).map_or(0.0, |remnant| remnant.weight.grams());
            if grams > there + 1e-6 {
                faults.push(stash_changed(id, grams, there));
            }
        }
        faults.into_result(())?;
        let stays: BTreeSet<&str> = kept(contents, again).map(|r| r.gift.as_str()).collect();
        let gone = contents.reservations.iter().map(|r| r.gift.as_str());
        let gone: BTreeSet<&str> = gone.filter(|gift| !stays.contains(gift)).collect();
        let gone = gone.into_iter().map(str::to_owned).collect();
        let edits = free_gifts(gone).into_iter().chain(Edit::set_aside(&fresh));
        let grown = plan.gifts.iter().filter_map(|gift| fixed(contents.gift(&gift.id)?, gift));
        let edits = edits.chain(grown).collect();
        Ok((edits, plan.gifts.len()))
    })
}

/// Writes into a gift how large its yarn makes it, so that it is knitted and recorded as it was planned, and
/// takes out what an earlier plan wrote there.
fn fixed(wish: &GiftWish, gift: &PlannedGift) -> Option<Edit> {
    let stands = |option: &&(String, String)| wish.options.contains(option);
    let stale = wish.scaled.iter().filter(stands).map(|(name, _)| (name.clone(), Given::Nothing));
    let mut options: Vec<(String, Given)> = stale.collect();
    let mut scaled: Vec<(String, Given)> =
        wish.scaled.iter().map(|(name, _)| (name.clone(), Given::Nothing)).collect();
    if let Some((name, value)) = &gift.scaled {
        for list in [&mut options, &mut scaled] {
            list.retain(|(other, _)| other != name);
            list.push((name.clone(), Given::Text(value.clone())));
        }
    }
    let fields = [("options", options), ("scaled", scaled)]
        .into_iter()
        .filter(|(_, given)| !given.is_empty())
        .map(|(key, given)| (key.to_owned(), Given::Merge(given)));
    let fields: Vec<_> = fields.collect();
    let key = gift.id.clone();
    (!fields.is_empty()).then_some(Edit::Change { list: List::Gifts, key, fields })
}

/// What a plan rests on.
fn basis(seen: &Workspace, plan: &GiftPlan) -> Basis {
    use EntryKind::{
        Gift, Knitter, Machine, Person, Remnant, SetAside, Settings, Size, Swatch, Yarn,
    };
    let whole = [SetAside, Settings, Size, Knitter].map(EntryName::all);
    let of_gift = |gift: &PlannedGift| {
        let swatch = gift.swatch.iter().map(|id| EntryName::new(Swatch, id));
        let own = [(Gift, &gift.id), (Person, &gift.person), (Machine, &gift.machine)];
        let own = own.map(|(kind, key)| EntryName::new(kind, key));
        // Of many for nobody by name there is no person to rest on.
        own.into_iter().filter(|name| !name.key.is_empty()).chain(swatch).collect::<Vec<_>>()
    };
    let of_section = |section: &PlannedSection| {
        let remnants = section.chunks.iter().map(|(id, _)| EntryName::new(Remnant, id));
        remnants.chain([EntryName::new(Yarn, &section.yarn)]).collect::<Vec<_>>()
    };
    let sections = plan.gifts.iter().flat_map(|gift| &gift.sections);
    let names = plan.gifts.iter().flat_map(of_gift).chain(sections.flat_map(of_section));
    let basis = Basis { seen: Some(seen.state.clone()), ..Basis::default() };
    basis.on(&seen.contents, whole.into_iter().chain(names))
}

/// The yarn a plan sets aside, in the order of the gifts.
fn reservations(plan: &GiftPlan) -> Vec<Reservation> {
    let mut all = Vec::new();
    for gift in &plan.gifts {
        let knitted_as = KnittedAs {
            garment: gift.garment.clone(),
            machine: gift.machine.clone(),
            swatch: gift.swatch.clone(),
        };
        for section in &gift.sections {
            for (remnant, grams) in &section.chunks {
                all.push(Reservation {
                    gift: gift.id.clone(),
                    section: section.name.clone(),
                    remnant: remnant.clone(),
                    weight: Mass::from_grams(*grams).unwrap_or_default(),
                    knitted_as: Some(knitted_as.clone()),
                    knitter: gift.knitter.clone(),
                });
            }
        }
    }
    all
}
