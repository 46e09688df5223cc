//! What hands do in place of what some knitters can't, or would rather not: ribs on a pair of needles, which are
//! the bed's, and other ways to close a toe and in place of a graft.

use diag::{Code, Diagnostic};

use super::edge::{EdgePlace, EdgeRange};
use super::garment::Garment;
pub use super::hand_work::HandWork;
use super::program::{Action, CastOnMethod, Joint, Program, Step, Structure};

impl HandWork {
    /// Whether the garment of that id has all that is to be done by hand.
    ///
    /// # Errors
    /// What was asked for in so many words and isn't there.
    pub fn suits(self, id: &str, garment: &Garment) -> Result<(), Diagnostic> {
        // Plain `yes` says: all that there is.
        if !self.asked || self.is_all() {
            return Ok(());
        }
        let has = HandWork::in_program(&garment.program);
        let lacking = HandWork {
            rib: self.rib && !has.rib,
            toe: self.toe && !has.toe,
            grafting: self.grafting && !has.grafting,
            asked: false,
        };
        if lacking.is_none() {
            return Ok(());
        }
        let what: Vec<&str> = lacking
            .names()
            .into_iter()
            .map(|name| match name {
                "rib" => "rib",
                "toe" => "toe or tip that is grafted",
                _ => "graft",
            })
            .collect();
        let fault = Diagnostic::error(
            Code::Option,
            format!("`{id}` has no {} to be done by hand", what.join(" and no ")),
        );
        Err(match has.names().as_slice() {
            [] => fault.hint("it has neither ribs nor grafts as it is: leave the choice out"),
            names => fault.hint(format!("as it is it has {}", names.join(", "))),
        })
    }

    /// What a program has that can be done by hand.
    fn in_program(program: &Program) -> HandWork {
        let grafted = || program.finishing.iter().filter(|step| grafts(step));
        HandWork {
            rib: program.pieces.iter().any(|piece| ribs(&piece.steps)),
            toe: grafted().any(closes_round_end),
            grafting: grafted().next().is_some(),
            asked: false,
        }
    }
}

/// Told before the first graft.
const NO_GRAFT: &str = "In place of grafting: put the loops of the two edges on two knitting needles, the \
    sides that will be seen together, and cast them off with a third one, a loop of each at a time. It \
    leaves a ridge inside.";

/// Told behind it, where round ends are closed by hand too.
const OR_DRAWN_UP: &str = " Where both edges close a round end, such as a toe or a tip, an end drawn twice \
    through all their loops and pulled tight closes it as well.";

/// Told before the first graft of a round end, where that alone is done by hand.
const DRAWN_UP: &str = "In place of grafting this end: draw an end twice through all loops of both edges, one \
    edge after the other, pull it tight and fasten it off inside.";

/// A garment that is made by hand where it can be: its finishing tells of another way to graft.
pub fn without_grafting(garment: &mut Garment, work: HandWork) {
    let finishing = &mut garment.program.finishing;
    let (at, text) = match (work.grafting, work.toe) {
        (true, true) => (finishing.iter().position(grafts), format!("{NO_GRAFT}{OR_DRAWN_UP}")),
        (true, false) => (finishing.iter().position(grafts), NO_GRAFT.to_owned()),
        (false, true) => (finishing.iter().position(closes_round_end), DRAWN_UP.to_owned()),
        (false, false) => return,
    };
    if let Some(first) = at {
        finishing.insert(first, Step { line: 0, action: Action::Note(text) });
    }
}

fn grafts(step: &Step) -> bool {
    matches!(step.action, Action::Graft { .. } | Action::Join { how: Joint::Graft, .. })
}

/// Whether it grafts a toe or the tip of a mitten: an edge of it is called so.
fn closes_round_end(step: &Step) -> bool {
    let is_round = |name: &str| name.split(['-', '_']).any(|word| matches!(word, "toe" | "tip"));
    let open = |edge: &EdgeRange| matches!(&edge.place, EdgePlace::Open(name) if is_round(name));
    match &step.action {
        Action::Graft { first, second } => is_round(first) || is_round(second),
        Action::Join { how: Joint::Graft, first, second } => open(first) || open(second),
        _ => false,
    }
}

fn ribs(steps: &[Step]) -> bool {
    let is_rib = |structure: Structure| matches!(structure, Structure::Rib1x1 | Structure::Rib2x2);
    steps.iter().any(|step| match &step.action {
        Action::CastOn { structure, method: CastOnMethod::Rib, .. }
        | Action::ToRib { structure, .. } => is_rib(*structure),
        Action::Repeat { steps, .. } => ribs(steps),
        _ => false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_is_told_again() {
        for (typed, told) in [
            ("yes", "yes"),
            ("no", "no"),
            ("rib", "rib"),
            (" toe , rib", "rib,toe"),
            ("rib,toe,grafting", "yes"),
        ] {
            assert_eq!(HandWork::parse(typed).expect(typed).to_string(), told);
        }
        for (wrong, hint) in [
            ("perhaps", "rib, toe or grafting"),
            ("rib,toes", "`toe`"),
            ("", "`yes`"),
            ("rib,", "`yes`"),
        ] {
            let fault = HandWork::parse(wrong).expect_err("none");
            assert!(fault.to_string().contains("by hand"), "{fault}");
            assert!(fault.hints.iter().any(|told| told.contains(hint)), "{fault:?}");
        }
    }
}
