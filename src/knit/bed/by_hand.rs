//! Rib knitted by hand on a pair of needles, on a machine that has no second bed for it, or whose knitter
//! rather would. Its stitches lie on the needles of two beds here too, so that they are counted as ever;
//! only what is done and how long it takes is another.

use super::*;

/// Work on a pair of needles.
#[derive(Default)]
pub(super) struct InHand {
    /// The fabric is on them, not on the bed.
    pub now: bool,
    /// Rows of the piece that were knitted so.
    pub rows: u32,
    /// The step in hand is followed by one that takes all stitches off.
    pub taken_off_next: bool,
    /// What the step in hand did so.
    pub done: Option<ByHand>,
}

/// Whether the first of these steps that does anything takes all stitches off.
pub(super) fn taken_off_next(steps: &[Step]) -> bool {
    let mut next = steps.iter().map(|step| &step.action).filter(|action| looks_on(action));
    matches!(
        next.next(),
        Some(Action::ScrapOff { which: Which::All, .. } | Action::CastOff { which: Which::All },)
    )
}

fn looks_on(action: &Action) -> bool {
    !matches!(
        action,
        Action::Note(_)
            | Action::Mark(_)
            | Action::Dial(_)
            | Action::Section(_)
            | Action::ResetCounter
            | Action::CarriageAt(_)
    )
}

impl Bed<'_> {
    /// Whether a fabric of that structure is knitted by hand.
    pub(super) fn by_hand(&self, structure: Structure) -> bool {
        self.machine.by_hand.rib && matches!(structure, Structure::Rib1x1 | Structure::Rib2x2)
    }

    pub(super) fn cast_on_by_hand(&mut self, structure: Structure, loops: u32) {
        self.in_hand.now = true;
        self.in_hand.done = Some(ByHand::CastOn(structure));
        self.lay(Laying::SewnLoops(loops));
        self.took(Operation::StitchByHand, loops);
    }

    /// A row of the piece, of so many stitches.
    pub(super) fn row_by_hand(&mut self, stitches: u32) {
        self.in_hand.rows += 1;
        self.in_hand.done = Some(ByHand::Rows(self.structure));
        self.took(Operation::StitchByHand, stitches);
    }

    /// What of a repeat, or of a change of yarn, is done on needles: the rows it lies among.
    pub(super) fn amid_rows_by_hand(&self, action: &Action) -> Option<ByHand> {
        let amid = matches!(action, Action::Repeat { .. } | Action::Section(_));
        (self.in_hand.now && amid).then_some(ByHand::Rows(self.structure))
    }

    /// Plain fabric from the bed onto the needles.
    pub(super) fn take_in_hand(&mut self, structure: Structure, stitches: u32) {
        self.in_hand.now = true;
        self.in_hand.done = Some(ByHand::FromBed(structure));
        self.took(Operation::LoopScrapped, stitches);
    }

    /// The end of a rib: onto the bed, unless it is taken off the needles at once.
    pub(super) fn put_on_bed(&mut self, stitches: u32) {
        if self.in_hand.taken_off_next {
            self.in_hand.done = Some(ByHand::Stay);
            return;
        }
        self.in_hand.now = false;
        self.in_hand.done = Some(ByHand::OntoBed);
        self.took(Operation::LoopRehung, stitches);
    }

    /// Whether the stitches that are taken off were on the needles.
    pub(super) fn off_needles(&mut self) -> bool {
        let were = std::mem::take(&mut self.in_hand.now);
        if were {
            self.in_hand.done = Some(ByHand::Off);
        }
        were
    }
}
