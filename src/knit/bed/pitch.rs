//! How the two beds stand to each other. A piece whose steps never say so has it set by the steps
//! that need it; in one whose steps do say so, a step that needs it otherwise is refused.

use super::*;

impl Bed<'_> {
    pub(super) fn set_pitch(&mut self, pitch: Pitch) -> Result<(), Diagnostic> {
        if !self.machine.ribber {
            return Err(Diagnostic::error(
                Code::NoRibber,
                format!("{} has one bed: there is no pitch to set", self.machine.title),
            )
            .hint("leave the step out"));
        }
        self.pitch = pitch;
        self.pitch_said = true;
        Ok(())
    }

    /// The pitch that what follows needs.
    ///
    /// # Errors
    /// When the beds stand otherwise and steps of this piece set them.
    pub(super) fn need_pitch(&mut self, pitch: Pitch) -> Result<(), Diagnostic> {
        if self.pitch == pitch {
            return Ok(());
        }
        if self.pitch_said {
            let (so, hint) = match pitch {
                Pitch::Facing => (
                    "the beds stand half a pitch apart: no needle faces another",
                    "set them to full pitch first: step.pitch({ needles = \"facing\" })",
                ),
                Pitch::Between => (
                    "the needles of the two beds face each other and would run into each other",
                    "set the beds half a pitch apart first: step.pitch({ needles = \"between\" })",
                ),
            };
            return Err(Diagnostic::error(Code::BedPitch, so).hint(hint));
        }
        self.pitch = pitch;
        self.mind.pitch = Some(pitch);
        Ok(())
    }

    /// Needles that face each other can't both knit.
    pub(super) fn check_facing(&mut self) -> Result<(), Diagnostic> {
        let both = |i: usize| {
            self.main[i].in_work() && self.ribber.get(i).is_some_and(|needle| needle.in_work())
        };
        if self.pitch == Pitch::Facing && self.reach().any(both) {
            return self.need_pitch(Pitch::Between);
        }
        Ok(())
    }

    /// Minds held needles that the carriage passes before the needles that knit, with yarn that has
    /// knitted nothing yet on this side of them.
    pub(super) fn mind_held(&mut self, entry: usize) {
        let far = |at: i32| (at - self.needle(entry).0).abs() > 1;
        if !self.yarn_at.is_none_or(far) {
            return;
        }
        let from = self.carriage;
        let mut beyond = self.reach().filter(|i| match from {
            Side::Left => *i < entry,
            Side::Right => *i > entry,
        });
        let held = |i: usize| self.main[i].position == Position::Holding;
        if beyond.any(held) {
            self.mind.past_held = Some(from);
        }
    }

    /// Warns where needles come back under the yarn and nobody says that they are meant to.
    pub(super) fn yarn_across(&mut self, back: Span) {
        self.warn_at(self.line, Code::YarnAcross, |bed| {
            (
                format!("bringing back {back} on the carriage's side leaves the yarn lying across"),
                bed.at_counter(),
                "do it while the carriage is on the other side; where it is meant, put `carriage_at` before it: \
                 the step itself says to keep the yarn underneath",
            )
        });
    }

    /// Minds the yarn where needles come back between it and the carriage.
    pub(super) fn mind_yarn(&mut self, back: &std::ops::RangeInclusive<usize>) {
        let Some(at) = self.yarn_at else { return };
        let (first, last) = (self.needle(*back.start()).0, self.needle(*back.end()).0);
        self.mind.under_yarn = match self.carriage {
            Side::Left => first < at,
            Side::Right => last > at,
        };
    }
}
