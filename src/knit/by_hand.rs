//! What hands do in place of what some knitters can't: another way for grafts. Rib by hand is the bed's.

use super::garment::Garment;
use super::program::{Action, Joint, Step};

/// Told before the first graft.
const NO_GRAFT: &str = "In place of grafting: put the loops of the two edges on two knitting needles, the \
    sides that will be seen together, and cast them off with a third one, a loop of each at a time. It \
    leaves a ridge inside. Where both edges close a round end, such as a toe or a tip, an end drawn twice \
    through all their loops and pulled tight closes it as well.";

/// A garment that is made by hand where it can be: its finishing tells of another way to graft.
pub fn without_grafting(garment: &mut Garment) {
    let grafts = |step: &Step| {
        matches!(step.action, Action::Graft { .. } | Action::Join { how: Joint::Graft, .. })
    };
    let finishing = &mut garment.program.finishing;
    if let Some(first) = finishing.iter().position(grafts) {
        finishing.insert(first, Step { line: 0, action: Action::Note(NO_GRAFT.to_owned()) });
    }
}
