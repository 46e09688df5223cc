//! What all pages of the stash and the gifts have at their top: what was done, what is wrong, what can be
//! taken back.

pub(super) use super::gift_part::GiftPage;
use super::page_parts::{FaultView, Frame, views};
use super::posted::Posted;
use super::problem::{Answer, Problem};
use super::rests::new_key;
use super::state::Shared;
use app::{Pairs, Workspace};
use store::workspace::{Basis, ChangeMark, Contents, EntryKind, EntryName, PastChange, Tag};

impl GiftPage {
    pub fn frame(self) -> Frame {
        Frame::of_gifts(self.title(), self.path())
    }

    /// The page that a form was sent from, as the form says it; else the one that it is about.
    pub fn of(posted: &Posted) -> GiftPage {
        let back = posted.get("back");
        let path = back.split('?').next().unwrap_or_default();
        if let Some((page, ..)) = GiftPage::ALL.iter().find(|(_, own, _)| *own == path) {
            return *page;
        }
        match (posted.get("what"), posted.get("list")) {
            ("weigh", _) | (_, "stash") => GiftPage::Stash,
            (_, "people") => GiftPage::People,
            ("turn", _) | (_, "gifts") => GiftPage::Wishes,
            ("record", _) => GiftPage::Records,
            ("plan" | "stop" | "accept", _) => GiftPage::Plan,
            _ => GiftPage::All,
        }
    }
}

/// What every form brings back: the state that the page was made from, and a key that no other page
/// has. What a form asks for twice is then done once.
pub(super) struct Slip {
    pub number: ChangeMark,
    pub once: String,
    /// The page to come back to, with what it showed; blank where that is of no account.
    pub back: String,
}

/// A change that a button takes back, or does again: that one and no other.
pub(super) struct Step {
    pub number: ChangeMark,
    pub told: String,
}

impl From<PastChange> for Step {
    fn from(change: PastChange) -> Step {
        // A command as one says it: `plan --accept` is "plan accept".
        let mut told = change.command.replace(" --", " ");
        let about = |name: &EntryName| (!name.key.is_empty()).then(|| name.key.clone());
        match change
            .entries
            .iter()
            .filter(|name| name.kind != EntryKind::Record)
            .collect::<Vec<_>>()
        {
            names if names.len() == 1 => told.extend(about(names[0]).map(|key| format!(" {key}"))),
            _ => {}
        }
        Step { number: change.mark, told }
    }
}

/// What could not be removed alone, and what is looked at when it goes with what points to it.
pub(super) struct Stubborn {
    pub list: String,
    pub id: String,
    pub rests: Vec<(String, String)>,
}

/// Fields of a form that say how entries are now: what comes back with other ones is refused.
pub(super) fn rests_of(
    contents: &Contents,
    names: impl IntoIterator<Item = EntryName>,
) -> Vec<(String, String)> {
    let tags = Basis::default().on(contents, names).entries;
    let field = |(name, tag): (EntryName, Option<Tag>)| Some((format!("tag.{name:#}"), tag?));
    tags.into_iter().filter_map(field).collect()
}

/// The top of a page.
pub(super) struct GiftTop {
    pub slip: Slip,
    pub title: &'static str,
    pub did: &'static str,
    pub faults: Vec<FaultView>,
    /// What may be removed with what points to it, since it alone could not be.
    pub stubborn: Option<Stubborn>,
    pub undo: Option<Step>,
    pub redo: Option<Step>,
}

/// What was asked of a page, and what came of a form that was sent from it.
#[derive(Default)]
pub(super) struct Told {
    pub posted: Posted,
    pub problem: Option<Problem>,
    pub did: String,
    /// What the page shows, as its query has it.
    pub pairs: Pairs,
}

impl GiftTop {
    /// `back`: the address of the page, with what it shows.
    pub fn of(
        page: GiftPage,
        shared: &Shared,
        workspace: &Workspace,
        told: &Told,
        back: String,
    ) -> Answer<GiftTop> {
        let now = shared.live().map_err(Problem::of_path)?.now();
        let mut faults =
            told.problem.as_ref().map(|problem| views(&problem.faults)).unwrap_or_default();
        faults.extend(views(&now.faults));
        let said: Vec<String> = faults.iter().map(|fault| fault.message.clone()).collect();
        let more = views(&workspace.warnings).into_iter();
        faults.extend(more.filter(|fault| !said.contains(&fault.message)));
        let (undo, redo) = workspace.folder.undoable();
        Ok(GiftTop {
            slip: Slip { number: workspace.state.clone(), once: new_key()?, back },
            title: page.title(),
            did: deed_words(&told.did),
            faults,
            stubborn: stubborn(&workspace.contents, told),
            undo: undo.map(Step::from),
            redo: redo.map(Step::from),
        })
    }
}

fn stubborn(contents: &Contents, told: &Told) -> Option<Stubborn> {
    let refused = told.problem.as_ref().is_some_and(|problem| problem.faults.has_errors());
    (refused && told.posted.get("what") == "remove").then(|| Stubborn {
        list: told.posted.get("list").to_owned(),
        id: told.posted.get("id").to_owned(),
        rests: rests_of(contents, [EntryKind::Gift, EntryKind::Remnant].map(EntryName::all)),
    })
}

/// What was done, from the word in the address: nothing of the address itself is shown.
fn deed_words(did: &str) -> &'static str {
    match did {
        "add" => "Added.",
        "change" => "Changed.",
        "weigh" => "Weighed again.",
        "remove" => "Removed.",
        "undo" => "Taken back.",
        "redo" => "Done again.",
        "turn" => {
            "Noted: how it stands is in the list of wishes, and what is set aside on the page Plan."
        }
        "record" => "Recorded: the remnants are weighed again, and the yarn is known better.",
        "accept" => "Accepted: the yarn is set aside.",
        "nothing" => "It was so already: nothing is written.",
        "before" => {
            "That was done already, when it was sent the first time. Nothing is done twice."
        }
        _ => "",
    }
}
