/// How far a gift has come, as the knitter says: what a file of gifts holds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum GiftStage {
    /// Still to be knitted.
    #[default]
    Wished,
    /// Being knitted.
    OnMachine,
    /// Knitted; it needs no more yarn.
    Done,
    /// Not to be knitted after all.
    GivenUp,
}

impl GiftStage {
    /// Every stage, in the order of a gift's life.
    pub const ALL: [GiftStage; 4] =
        [GiftStage::Wished, GiftStage::OnMachine, GiftStage::Done, GiftStage::GivenUp];

    /// As files write it.
    pub const fn name(self) -> &'static str {
        match self {
            GiftStage::Wished => "wished",
            GiftStage::OnMachine => "on the machine",
            GiftStage::Done => "done",
            GiftStage::GivenUp => "given up",
        }
    }

    /// The stage of that name.
    pub fn parse(text: &str) -> Option<GiftStage> {
        GiftStage::ALL.into_iter().find(|stage| stage.name() == text)
    }

    /// Whether nothing more is knitted for it.
    pub const fn is_over(self) -> bool {
        matches!(self, GiftStage::Done | GiftStage::GivenUp)
    }
}
