//! What could hurt someone, and the usual caution about it. Advice only: local rules come first.

use super::body::{BodyPart, Measure, SizeGroup};
use super::garment::Garment;
use super::program::Action;

/// Cautions for one size. `group` is the wearer's; under three counts as a baby here.
pub fn cautions(garment: &Garment, primary: Option<&Measure>, group: SizeGroup) -> Vec<String> {
    let mut all = Vec::new();
    let worn = primary.and_then(|measure| measure.spec().part);
    if group == SizeGroup::Babies {
        // EN 14682 and ASTM F1816 / 16 CFR 1120 for cords; 16 CFR 1501 for small parts.
        all.push(
            "Baby: no ties, cords, buttons, beads or loose pompoms; follow your local rules on \
             children's clothing."
                .to_owned(),
        );
        match worn {
            // AAP 2022, Pediatrics 150(1) e2022057990 (detail from memory).
            Some(BodyPart::Head) => all.push(
                "Baby: take it off indoors and for sleep, so that the head does not overheat; \
                 follow your health service's advice."
                    .to_owned(),
            ),
            // A leg is pulled on over the toes, a sleeve over the fingers.
            Some(BodyPart::Hand | BodyPart::Foot | BodyPart::Leg | BodyPart::Torso) => all.push(
                "Baby: trim and darn in every end and float inside: a loose one can wind round a \
                 finger or toe."
                    .to_owned(),
            ),
            None => {}
        }
        all.push(
            "Baby: edges must not leave a mark on the skin; check the stretched girth.".to_owned(),
        );
    }
    if worn == Some(BodyPart::Foot) {
        // Common practice. Babies' sizes reach to where children walk, and a small foot may stand early.
        all.push(match group {
            SizeGroup::Babies => {
                "Baby: knitted soles slip: from when a child pulls itself up to stand, add a grip or \
                 put shoes on."
                    .to_owned()
            }
            _ => "Knitted soles slip on hard floors: add a grip or wear shoes.".to_owned(),
        });
    }
    let steams = garment
        .program
        .finishing
        .iter()
        .any(|step| matches!(&step.action, Action::Block(block) if block.steam));
    if steams {
        all.push(
            "Steam burns: keep hands and children clear of it, and follow the yarn's care label."
                .to_owned(),
        );
    } else if garment.program.finishing.iter().any(|s| matches!(s.action, Action::Block(_))) {
        all.push(
            "Blocking: follow the yarn's care label. If you steam instead of wetting, steam burns: \
             keep hands and children clear."
                .to_owned(),
        );
    }
    all.extend(garment.cautions.iter().cloned());
    all
}
