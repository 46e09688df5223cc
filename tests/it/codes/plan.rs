//! Plans and what they are made from.

use super::example::Example;
use super::example::How::Plan;
use diag::Code;
use plan::{Instance, Made, Points};

use crate::plan::remnant;

fn made(plan: &mut plan::Plan, gift: usize) -> &mut Made {
    plan.gifts[gift].as_mut().expect("made")
}

pub const EXAMPLES: &[Example] = &[
    Example { code: Code::PlanGifts, how: Plan(|_, p| drop(p.gifts.pop())) },
    Example { code: Code::PlanMust, how: Plan(|_, p| p.gifts[0] = None) },
    Example { code: Code::PlanPinned, how: Plan(|_, p| made(p, 1).option = 1) },
    Example { code: Code::PlanOption, how: Plan(|_, p| made(p, 0).option = 7) },
    Example { code: Code::PlanSections, how: Plan(|_, p| drop(made(p, 1).sections.pop())) },
    Example { code: Code::PlanYarn, how: Plan(|_, p| made(p, 0).sections[0][1].dg -= 1) },
    Example { code: Code::PlanRemnant, how: Plan(|_, p| made(p, 0).sections[0][0].remnant = 9) },
    Example { code: Code::PlanGroups, how: Plan(|i, _| i.remnants[2].group = 5) },
    Example { code: Code::PlanOverdrawn, how: Plan(|i, _| i.remnants[3].usable_dg = 299) },
    Example { code: Code::PlanJoin, how: Plan(|i, _| i.max_join = 1) },
    Example { code: Code::PlanChunk, how: Plan(|i, _| i.min_chunk_dg = 101) },
    Example { code: Code::PlanHours, how: Plan(|i, _| i.deadlines[1].minutes = vec![149]) },
    Example {
        code: Code::PlanContrast,
        how: Plan(|i, _| {
            i.gifts[1].options[0].sections[2].need_dg.insert(1, 60);
            i.remnants[2].group = 2;
        }),
    },
    Example {
        code: Code::PlanSame,
        how: Plan(|i, p| {
            i.gifts[1].options[0].sections[2].differs_from = None;
            i.remnants.push(remnant(0, 150));
            made(p, 1).sections[1][0].remnant = 4;
        }),
    },
    // What is no instance at all.
    Example { code: Code::PlanDue, how: Plan(|i, _| i.gifts[0].due = Some(2)) },
    Example { code: Code::PlanJoins, how: Plan(|i, _| i.max_join = 0) },
    Example {
        code: Code::PlanLink,
        how: Plan(|i, _| i.gifts[1].options[0].sections[0].same_as = Some(3)),
    },
    Example {
        code: Code::PlanMass,
        how: Plan(|i, _| i.remnants[0].usable_dg = Instance::HEAVIEST_DG + 1),
    },
    Example {
        code: Code::PlanNeed,
        how: Plan(|i, _| {
            i.gifts[1].options[1].sections[0].need_dg.insert(0, 0);
        }),
    },
    Example { code: Code::PlanPref, how: Plan(|i, _| i.gifts[0].options[0].pref = i64::MIN) },
    Example { code: Code::PlanPriority, how: Plan(|i, _| i.gifts[0].priority = i64::MAX) },
    Example { code: Code::PlanKept, how: Plan(|i, _| i.remnants[0].kept_for = Some([1].into())) },
    Example { code: Code::PlanKnitter, how: Plan(|i, _| i.gifts[0].options[0].knitter = 1) },
    Example { code: Code::PlanVariety, how: Plan(|i, _| i.variety = vec![vec![0, 1], vec![1]]) },
    Example { code: Code::PlanWeight, how: Plan(|i, _| i.weights.join = Points(-1)) },
];
