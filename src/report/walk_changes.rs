//! What changes at a stop beside the row: another piece, another yarn, another dial, the carriage set or taken
//! elsewhere. Read on in a hurry it is missed, so it is told apart from what is done by hand.

use knit::needle::Side;
use knit::program::{Action, Beds, CastOnMethod, Structure};
use knit::run::ByHand;

/// What kind of change.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ChangeOf {
    Piece,
    Yarn,
    Dial,
    Carriage,
}

impl ChangeOf {
    /// In the order in which they are told.
    pub const ALL: [ChangeOf; 4] =
        [ChangeOf::Piece, ChangeOf::Yarn, ChangeOf::Dial, ChangeOf::Carriage];

    /// The words in data, and the label beside the text.
    pub const fn name(self) -> &'static str {
        match self {
            ChangeOf::Piece => "piece",
            ChangeOf::Yarn => "yarn",
            ChangeOf::Dial => "dial",
            ChangeOf::Carriage => "carriage",
        }
    }
}

/// Something else than before, from a stop on.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    pub of: ChangeOf,
    pub text: String,
}

/// What is threaded.
#[derive(Clone, Debug, PartialEq)]
enum Yarn {
    Waste,
    /// Of a section, by its title.
    Good(String),
}

/// How the machine stands: nothing is known before the first thing is done.
#[derive(Debug, Default)]
pub(super) struct Setting {
    yarn: Option<Yarn>,
    /// The good yarn that was threaded last.
    good: Option<String>,
    dial: Option<String>,
    /// The ribber rests.
    resting: bool,
    /// What has changed since the last stop.
    changed: Vec<Change>,
}

impl Setting {
    /// What has changed, of each kind once: the last of it.
    pub fn take(&mut self) -> Vec<Change> {
        let all = std::mem::take(&mut self.changed);
        let last = |of| all.iter().rev().find(|change| change.of == of).cloned();
        ChangeOf::ALL.into_iter().filter_map(last).collect()
    }

    fn change(&mut self, of: ChangeOf, text: String) {
        self.changed.push(Change { of, text });
    }

    pub fn piece(&mut self, text: String) {
        self.change(ChangeOf::Piece, text);
    }

    pub fn good_yarn(&mut self, title: &str) {
        let yarn = Some(Yarn::Good(title.to_owned()));
        if self.yarn == yarn {
            return;
        }
        let again = self.good.as_deref() == Some(title);
        let text = if again { "The good yarn again" } else { "Change yarn" };
        if self.yarn.is_some() {
            self.change(ChangeOf::Yarn, format!("{text}: {title}."));
        }
        self.yarn = yarn;
        self.good = Some(title.to_owned());
    }

    fn waste_yarn(&mut self) {
        if self.yarn.replace(Yarn::Waste).is_some_and(|yarn| yarn != Yarn::Waste) {
            self.change(ChangeOf::Yarn, "Waste yarn.".to_owned());
        }
    }

    /// The dial as it is told; nothing where nobody knows it.
    pub fn dial(&mut self, told: &str) {
        let told = told.trim();
        if told.is_empty() {
            return;
        }
        if self.dial.replace(told.to_owned()).is_some_and(|dial| dial != told) {
            self.change(ChangeOf::Dial, told.to_owned());
        }
    }

    /// What an action does to yarn and beds. `title` is that of the section it is knitted in.
    pub fn act(&mut self, action: &Action, by_hand: Option<ByHand>, title: &str) {
        match action {
            Action::CastOn { method: CastOnMethod::Waste, .. } => self.waste_yarn(),
            Action::CastOn { .. } => self.good_yarn(title),
            Action::ScrapOff { .. } if by_hand.is_none() => self.waste_yarn(),
            Action::Section(_) => self.good_yarn(title),
            Action::WorkBeds(beds) => {
                let resting = *beds == Beds::Main;
                if std::mem::replace(&mut self.resting, resting) != resting {
                    let text = if resting {
                        "The ribber rests: its carriage slips both ways."
                    } else {
                        "Both carriages knit round again."
                    };
                    self.change(ChangeOf::Carriage, text.to_owned());
                }
            }
            _ => {}
        }
        if matches!(action, Action::CastOn { .. } | Action::TransferToMain) {
            self.resting = false;
        }
    }
}

/// The fabric whose dial is set with an action, as its words say it.
pub(super) fn dials(action: &Action, by_hand: Option<ByHand>, begins: bool) -> Option<Structure> {
    if let Some(by_hand) = by_hand {
        return (by_hand == ByHand::OntoBed).then_some(Structure::Plain);
    }
    match action {
        Action::CastOn { structure, .. } if begins => Some(*structure),
        Action::ToRib { structure, .. } => Some(*structure),
        Action::TransferToMain => Some(Structure::Plain),
        Action::PickUp { .. } if begins => Some(Structure::Plain),
        _ => None,
    }
}

/// The carriage taken to a side between two rows.
pub(super) fn carriage_taken(to: Side) -> Change {
    Change {
        of: ChangeOf::Carriage,
        text: format!("The carriage goes to the {to} without knitting."),
    }
}
