use knit::program::{Action, CastOnMethod, Joint, Program, Step};
use knit::size_run::SizeRun;

/// Something done by hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Technique {
    NeedlePositions,
    Weights,
    WasteCastOn,
    RibCastOn,
    WoundCastOn,
    ShortRows,
    BackToWork,
    Hang,
    TakeIn,
    BringIn,
    Transfer,
    LatchUp,
    ScrapOff,
    Rehang,
    PickUp,
    CastOff,
    Graft,
    Seam,
    Gather,
    Corner,
}

impl Technique {
    pub const ALL: [Technique; 20] = [
        Technique::NeedlePositions,
        Technique::Weights,
        Technique::WasteCastOn,
        Technique::RibCastOn,
        Technique::WoundCastOn,
        Technique::ShortRows,
        Technique::BackToWork,
        Technique::Hang,
        Technique::TakeIn,
        Technique::BringIn,
        Technique::Transfer,
        Technique::LatchUp,
        Technique::ScrapOff,
        Technique::Rehang,
        Technique::PickUp,
        Technique::CastOff,
        Technique::Graft,
        Technique::Seam,
        Technique::Gather,
        Technique::Corner,
    ];

    /// Where its words stand on the page: a word for an address.
    pub const fn id(self) -> &'static str {
        match self {
            Technique::NeedlePositions => "needle-positions",
            Technique::Weights => "weights",
            Technique::WasteCastOn => "waste-cast-on",
            Technique::RibCastOn => "rib-cast-on",
            Technique::WoundCastOn => "wound-cast-on",
            Technique::ShortRows => "short-rows",
            Technique::BackToWork => "back-to-work",
            Technique::Hang => "hang",
            Technique::TakeIn => "take-in",
            Technique::BringIn => "bring-in",
            Technique::Transfer => "transfer",
            Technique::LatchUp => "latch-up",
            Technique::ScrapOff => "scrap-off",
            Technique::Rehang => "rehang",
            Technique::PickUp => "pick-up",
            Technique::CastOff => "cast-off",
            Technique::Graft => "graft",
            Technique::Seam => "seam",
            Technique::Gather => "gather",
            Technique::Corner => "corner",
        }
    }

    /// How a step of a program is done, where it takes more than the carriage.
    pub fn of(action: &Action) -> Option<Technique> {
        Some(match action {
            Action::CastOn { method: CastOnMethod::Waste, .. } => Technique::WasteCastOn,
            Action::CastOn { method: CastOnMethod::Rib, .. } => Technique::RibCastOn,
            Action::CastOn { method: CastOnMethod::Wound, .. } => Technique::WoundCastOn,
            Action::Hold(_) | Action::Wrap => Technique::ShortRows,
            Action::Return(_) => Technique::BackToWork,
            Action::Hang { .. } => Technique::Hang,
            Action::Decrease { .. } | Action::Narrow(_) => Technique::TakeIn,
            Action::Increase { .. } | Action::Widen(_) => Technique::BringIn,
            Action::TransferToMain | Action::Transfer(_) => Technique::Transfer,
            Action::ToRib { .. } => Technique::LatchUp,
            Action::ScrapOff { .. } => Technique::ScrapOff,
            Action::Rehang { .. } => Technique::Rehang,
            Action::PickUp { .. } => Technique::PickUp,
            Action::CastOff { .. } => Technique::CastOff,
            Action::Graft { .. } | Action::Join { how: Joint::Graft, .. } => Technique::Graft,
            Action::Seam { .. } | Action::SewOn { .. } | Action::Join { .. } => Technique::Seam,
            Action::Gather(_) | Action::GatherEdge { .. } | Action::GatherSelvedge { .. } => {
                Technique::Gather
            }
            _ => return None,
        })
    }
}

/// What a garment takes, in the order of the page: the needle positions and the weights for all.
fn used_by(program: &Program) -> Vec<Technique> {
    let mut found = vec![Technique::NeedlePositions, Technique::Weights];
    for piece in &program.pieces {
        gather(&piece.steps, &mut found);
    }
    gather(&program.finishing, &mut found);
    // A heel or a thumb leaves a gap at each end.
    if found.contains(&Technique::ShortRows) || found.contains(&Technique::Rehang) {
        found.push(Technique::Corner);
    }
    found.sort_unstable();
    found.dedup();
    found
}

/// What some size of a run takes, in the order of the page.
pub fn used_in(run: &SizeRun) -> Vec<Technique> {
    let mut all: Vec<Technique> =
        run.good().flat_map(|(_, made)| used_by(&made.garment.program)).collect();
    all.sort_unstable();
    all.dedup();
    all
}

fn gather(steps: &[Step], found: &mut Vec<Technique>) {
    for step in steps {
        if let Action::Repeat { steps, .. } = &step.action {
            gather(steps, found);
        }
        found.extend(Technique::of(&step.action).filter(|one| !found.contains(one)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_has_its_words_and_its_picture() {
        let mut ids = Vec::new();
        for one in Technique::ALL {
            assert!(!ids.contains(&one.id()), "{one:?}");
            ids.push(one.id());
            assert!(one.steps().len() >= 2 && one.when().ends_with('.'), "{one:?}");
            let svg = one.picture().svg();
            let parsed = roxmltree::Document::parse(&svg).expect("well formed");
            let drawn = parsed.descendants().filter(|n| n.has_tag_name("path")).count();
            assert!(drawn > 2, "{one:?} shows nothing");
            let about =
                parsed.descendants().find(|n| n.has_tag_name("desc")).and_then(|n| n.text());
            assert!(about.is_some_and(|about| about.len() > 40), "{one:?} is not told in words");
        }
    }
}
