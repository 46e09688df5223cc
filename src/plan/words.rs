//! The one place where faults are put into words.

use diag::{Code, Diagnostic};

use super::{Breach, GiftFault, InstanceFault, MadeBreach, SectionBreach, WeightOf};

impl From<InstanceFault> for Diagnostic {
    fn from(fault: InstanceFault) -> Diagnostic {
        match fault {
            InstanceFault::Joins(max_join) => {
                Diagnostic::error(Code::PlanJoins, format!("{max_join} remnants to a section"))
                    .hint("allow 1 to 8 remnants in a section")
            }
            InstanceFault::NoChunk => {
                Diagnostic::error(Code::PlanChunk, "the least chunk is nothing")
                    .hint("make it 1 dg or more")
            }
            InstanceFault::Mass { remnant, usable_dg } => {
                Diagnostic::error(Code::PlanMass, format!("remnant {remnant} holds {usable_dg} dg"))
                    .hint("a remnant may hold 100 kg at most")
            }
            InstanceFault::Hours { deadline } => Diagnostic::error(
                Code::PlanHours,
                format!(
                    "fewer minutes until deadline {deadline} than until deadline {}",
                    deadline - 1
                ),
            )
            .hint("list deadlines in order of time, each with all minutes from now until then"),
            InstanceFault::Weight(of, weight) => {
                let of = match of {
                    WeightOf::Priority => "priority",
                    WeightOf::Liking => "liking",
                    WeightOf::Join => "join",
                    WeightOf::UselessEnd => "useless end",
                    WeightOf::Alike => "gifts that are alike",
                    WeightOf::Opening => "opening a remnant",
                    WeightOf::Travel => "bringing a remnant",
                };
                Diagnostic::error(Code::PlanWeight, format!("a weight of {weight} for {of}"))
                    .hint("a weight is at least 0 and at most 100 million points")
            }
            InstanceFault::Variety(gift) => Diagnostic::error(
                Code::PlanVariety,
                format!("gift {gift} among those that ought to differ"),
            )
            .hint("name gifts that there are, each in one set, and once"),
            InstanceFault::Kept { remnant, gift } => Diagnostic::error(
                Code::PlanKept,
                format!("kept for gift {gift}, which there is not"),
            )
            .context(format!("remnant {remnant}"))
            .hint("keep it for another, or for all"),
            InstanceFault::TooManyPoints => {
                Diagnostic::error(Code::PlanWeight, "the plan's points would be too many to add up")
                    .hint("lower the weights, the priorities or the likings")
            }
            InstanceFault::Gift { gift, fault } => {
                Diagnostic::from(fault).context(format!("gift {gift}"))
            }
        }
    }
}

impl From<GiftFault> for Diagnostic {
    fn from(fault: GiftFault) -> Diagnostic {
        match fault {
            GiftFault::Priority(priority) => {
                Diagnostic::error(Code::PlanPriority, format!("a priority of {priority}"))
                    .hint("use a small number, such as 1 to 5")
            }
            GiftFault::NoDeadline => {
                Diagnostic::error(Code::PlanDue, "due by a deadline there is not")
                    .hint("list the deadline")
            }
            GiftFault::NoOption => {
                Diagnostic::error(Code::PlanPinned, "pinned to an option it has not")
                    .hint("pin one of its options")
            }
            GiftFault::Pref { pref, .. } => {
                Diagnostic::error(Code::PlanPref, format!("a liking of {pref}"))
                    .hint("use a small number, such as 0 to 50")
            }
            GiftFault::Gain { gain, .. } => {
                Diagnostic::error(Code::PlanWeight, format!("a gain of {gain}"))
                    .hint("a gain is at most 100 million points, either way")
            }
            GiftFault::NoKnitter { knitter, .. } => Diagnostic::error(
                Code::PlanKnitter,
                format!("knitted by {knitter}, whose minutes are not listed"),
            )
            .hint("give each deadline the minutes of every knitter"),
            GiftFault::NoRemnant { remnant, .. } => Diagnostic::error(
                Code::PlanRemnant,
                format!("may be knitted from remnant {remnant}, which there is not"),
            )
            .hint("name another, or let it have all"),
            GiftFault::NoSection { .. } => {
                Diagnostic::error(Code::PlanLink, "linked to a section there is not")
                    .hint("name another")
            }
            GiftFault::NotItself { .. } => {
                Diagnostic::error(Code::PlanLink, "a section can't differ from itself")
                    .hint("name another")
            }
            GiftFault::Need { group, need_dg, .. } => Diagnostic::error(
                Code::PlanNeed,
                format!("a section needs {need_dg} dg of group {group}"),
            )
            .hint("a section needs something, and 100 kg at most"),
        }
    }
}

impl From<Breach> for Diagnostic {
    fn from(breach: Breach) -> Diagnostic {
        match breach {
            Breach::Instance(fault) => fault.into(),
            Breach::Gifts { planned, wanted } => Diagnostic::error(
                Code::PlanGifts,
                format!("{planned} gifts planned, {wanted} wanted"),
            ),
            Breach::NoGift(gift) => {
                Diagnostic::error(Code::PlanGifts, format!("there is no gift {gift}"))
            }
            Breach::Must { gift } => {
                Diagnostic::error(Code::PlanMust, "has to be made, and is not")
                    .context(format!("gift {gift}"))
            }
            Breach::Overdrawn { remnant, drawn_dg, usable_dg } => Diagnostic::error(
                Code::PlanOverdrawn,
                format!("{drawn_dg} dg drawn from a remnant with {usable_dg} dg"),
            )
            .context(format!("remnant {remnant}")),
            Breach::Hours { deadline, minutes, there, .. } => {
                Diagnostic::error(Code::PlanHours, format!("{minutes} minutes of work in {there}"))
                    .context(format!("deadline {deadline}"))
            }
            Breach::Made { gift, breach } => {
                Diagnostic::from(breach).context(format!("gift {gift}"))
            }
        }
    }
}

impl From<MadeBreach> for Diagnostic {
    fn from(breach: MadeBreach) -> Diagnostic {
        let (code, message) = match breach {
            MadeBreach::NoOption { option, options } => {
                (Code::PlanOption, format!("made in option {option} of {options}"))
            }
            MadeBreach::Pinned { option } => {
                (Code::PlanPinned, format!("made in option {option}, pinned to another"))
            }
            MadeBreach::Sections { made, wanted } => {
                (Code::PlanSections, format!("{made} of {wanted} sections"))
            }
            MadeBreach::Section { section, breach } => {
                let (code, message) = breach.words();
                (code, format!("section {section}: {message}"))
            }
        };
        Diagnostic::error(code, message)
    }
}

impl SectionBreach {
    fn words(self) -> (Code, String) {
        match self {
            SectionBreach::NoRemnant(remnant) => {
                (Code::PlanRemnant, format!("no remnant {remnant}"))
            }
            SectionBreach::Twice(remnant) => {
                (Code::PlanRemnant, format!("remnant {remnant} twice"))
            }
            SectionBreach::Groups(groups) => {
                (Code::PlanGroups, format!("yarns of {groups} groups"))
            }
            SectionBreach::NoYarn => (Code::PlanYarn, "no yarn".to_owned()),
            SectionBreach::Unsuited(group) => {
                (Code::PlanGroups, format!("group {group} does not suit"))
            }
            SectionBreach::Amount { total_dg, need_dg } => {
                (Code::PlanYarn, format!("{total_dg} dg for a need of {need_dg} dg"))
            }
            SectionBreach::NotJoinable => (Code::PlanJoin, "can't be joined".to_owned()),
            SectionBreach::TooSmallToJoin => (Code::PlanJoin, "too small to be joined".to_owned()),
            SectionBreach::TooManyJoined(count) => {
                (Code::PlanJoin, format!("{count} remnants joined"))
            }
            SectionBreach::SmallChunk(dg) => (Code::PlanChunk, format!("a chunk of {dg} dg")),
            SectionBreach::Kept(remnant) => {
                (Code::PlanKept, format!("remnant {remnant}, which is kept for others"))
            }
            SectionBreach::NotFrom(remnant) => {
                (Code::PlanRemnant, format!("remnant {remnant}, which it may not be knitted from"))
            }
            SectionBreach::NotSame(other) => {
                (Code::PlanSame, format!("not of the group of section {other}"))
            }
            SectionBreach::NoContrast(other) => {
                (Code::PlanContrast, format!("no contrast to section {other}"))
            }
            SectionBreach::NoMatch(Some(gift)) => {
                (Code::PlanSame, format!("does not match gift {gift}"))
            }
            SectionBreach::NoMatch(None) => {
                (Code::PlanSame, "does not match what is there".to_owned())
            }
        }
    }
}
