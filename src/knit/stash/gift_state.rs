use super::GiftStage;

/// How a gift stands, as a knitter is shown it: its stage, and where it is wished, what plans have
/// done for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum GiftState {
    /// Nothing is set aside for it.
    Wished,
    /// A plan has yarn for it that is not set aside yet. The files know of no such plan: whoever
    /// holds one says so.
    Planned,
    /// An accepted plan has set yarn aside for it.
    SetAside,
    /// As [`GiftStage::OnMachine`].
    OnMachine,
    /// As [`GiftStage::Done`].
    Done,
    /// As [`GiftStage::GivenUp`].
    GivenUp,
}

impl GiftState {
    /// Every state, in the order of a gift's life.
    pub const ALL: [GiftState; 6] = [
        GiftState::Wished,
        GiftState::Planned,
        GiftState::SetAside,
        GiftState::OnMachine,
        GiftState::Done,
        GiftState::GivenUp,
    ];

    /// As a knitter reads it.
    pub const fn name(self) -> &'static str {
        match self {
            GiftState::Wished => GiftStage::Wished.name(),
            GiftState::Planned => "planned",
            GiftState::SetAside => "set aside",
            GiftState::OnMachine => GiftStage::OnMachine.name(),
            GiftState::Done => GiftStage::Done.name(),
            GiftState::GivenUp => GiftStage::GivenUp.name(),
        }
    }

    /// The state of that name.
    pub fn parse(text: &str) -> Option<GiftState> {
        GiftState::ALL.into_iter().find(|state| state.name() == text)
    }
}
