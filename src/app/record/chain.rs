//! Balls on the scale, section after section: the heavier a ball was after a section, the earlier
//! that section was knitted from it.

use std::collections::BTreeMap;

use crate::unknown;
use diag::{Code, Diagnostic, Diagnostics};
use knit::record::BallWeighed;
use knit::stash::{Contents, Remnant, WeighedSection};
use units::Mass;

/// What the sections of a piece in one yarn weighed.
pub(super) type Weighings = Vec<WeighedSection>;

/// Every weighing of a piece, the balls in the order in which they are first named, each from its
/// weight in the stash downwards.
#[derive(Clone, Debug, Default)]
pub(super) struct Chain {
    pub links: Vec<BallWeighed>,
}

impl Chain {
    /// Puts the weighings in order, whatever order they were given in; what can't be is told.
    pub fn of(
        contents: &Contents,
        used: &[(String, String, Mass)],
        faults: &mut Diagnostics,
    ) -> Chain {
        let mut balls: Vec<(&Remnant, Vec<(&str, Mass)>)> = Vec::new();
        for (section, id, after) in used {
            let Some(remnant) = contents.remnant(id) else {
                let known = contents.remnants.iter().map(|r| r.id.as_str());
                faults.push(unknown("remnant", id, known, "stash"));
                continue;
            };
            match balls.iter_mut().find(|(ball, _)| ball.id == *id) {
                Some((_, weighed)) => weighed.push((section, *after)),
                None => balls.push((remnant, vec![(section, *after)])),
            }
        }
        let mut links = Vec::new();
        for (ball, mut weighed) in balls {
            weighed.sort_by(|a, b| b.1.grams().total_cmp(&a.1.grams()));
            let told = faults.iter().count();
            faults.extend(impossible(ball, &weighed));
            if faults.iter().count() == told {
                links.extend(linked(ball, &weighed));
            }
        }
        Chain { links }
    }

    /// What each ball weighs at the end.
    pub fn last_weights(&self) -> impl Iterator<Item = (&str, Mass)> {
        let next = self.links.iter().skip(1).map(Some).chain([None]);
        let last = |(link, next): (&'_ BallWeighed, Option<&BallWeighed>)| {
            next.is_none_or(|next| next.remnant != link.remnant)
        };
        self.links
            .iter()
            .zip(next)
            .filter(move |pair| last(*pair))
            .map(|(link, _)| (link.remnant.as_str(), link.after))
    }

    /// Balls of which nothing is left.
    pub fn used_up(&self) -> impl Iterator<Item = &str> {
        self.last_weights().filter(|(_, weight)| weight.grams() <= 0.0).map(|(id, _)| id)
    }

    /// What went into a gift's sections of a ball, in grams.
    pub fn took_of(&self, remnant: &str) -> f64 {
        let of_it = self.links.iter().filter(|link| link.remnant == remnant);
        of_it.map(BallWeighed::took_g).sum()
    }

    /// By yarn, the sections that were knitted in it: what was on the scale before and after, over
    /// all balls of a section.
    pub fn by_yarn(&self) -> BTreeMap<&str, Weighings> {
        let mut sums: BTreeMap<(&str, &str), (f64, f64)> = BTreeMap::new();
        let mut last: Option<&BallWeighed> = None;
        for link in &self.links {
            let sum = sums.entry((&link.yarn, &link.section)).or_default();
            let goes_on =
                last.is_some_and(|l| l.remnant == link.remnant && l.section == link.section);
            if goes_on {
                // The ball was weighed in the middle of the section: one weighing, not two.
                sum.1 -= link.took_g();
            } else {
                sum.0 += link.before.grams();
                sum.1 += link.after.grams();
            }
            last = Some(link);
        }
        let mut yarns: BTreeMap<&str, Weighings> = BTreeMap::new();
        for ((yarn, section), (before, after)) in sums {
            let mass = |grams: f64| Mass::from_grams(grams.max(0.0)).unwrap_or_default();
            let name = section.to_owned();
            let weighed = WeighedSection { name, before: mass(before), after: mass(after) };
            yarns.entry(yarn).or_default().push(weighed);
        }
        yarns
    }
}

fn linked<'a>(
    ball: &'a Remnant,
    weighed: &'a [(&str, Mass)],
) -> impl Iterator<Item = BallWeighed> + 'a {
    let before = [ball.weight].into_iter().chain(weighed.iter().map(|(_, after)| *after));
    weighed.iter().zip(before).map(|((section, after), before)| BallWeighed {
        section: (*section).to_owned(),
        remnant: ball.id.clone(),
        yarn: ball.yarn.clone(),
        before,
        after: *after,
    })
}

/// What the weighings of a ball, heaviest first, can't have been.
fn impossible(ball: &Remnant, weighed: &[(&str, Mass)]) -> Option<Diagnostic> {
    let (first, heaviest) = weighed.first()?;
    let id = &ball.id;
    if heaviest.grams() > ball.weight.grams() {
        let fault = format!("{id} weighed {} and can't weigh {heaviest} now", ball.weight);
        let hint = "yarn only leaves a remnant: weigh again, or `oddments stash change`";
        return Some(Diagnostic::error(Code::Heavier, fault).hint(hint));
    }
    let hint =
        "leave out what took nothing, or weigh again: after each section, what the ball weighs";
    let nothing = |fault: String| Some(Diagnostic::error(Code::NoYarnUsed, fault).hint(hint));
    if heaviest.grams() >= ball.weight.grams() {
        let fault = format!("the {first} took nothing of {id}: it weighed {heaviest} before too");
        return nothing(fault);
    }
    let same = weighed.windows(2).find(|pair| pair[0].1.grams() <= pair[1].1.grams())?;
    let (one, other, after) = (same[0].0, same[1].0, same[0].1);
    nothing(if one == other {
        format!("the {one} is weighed twice with {after} of {id} left after it")
    } else {
        format!("{after} of {id} are left after the {one} and after the {other}: one took nothing")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ball(grams: f64) -> Remnant {
        Remnant {
            id: "beacon-1".into(),
            yarn: "beacon".into(),
            weight: Mass::from_grams(grams).expect("a mass"),
            lot: None,
            start: None,
            place: None,
            keep_for: None,
            note: None,
        }
    }

    #[test]
    fn a_ball_weighed_in_the_middle_of_a_section_counts_once() {
        let g = |grams: f64| Mass::from_grams(grams).expect("a mass");
        let ball = ball(64.0);
        let weighed = [("hat", g(40.0)), ("hat", g(26.0)), ("band", g(16.0))];
        let chain = Chain { links: linked(&ball, &weighed).collect() };
        let sections = &chain.by_yarn()["beacon"];
        let told: Vec<(&str, f64, f64)> =
            sections.iter().map(|s| (s.name.as_str(), s.before.grams(), s.after.grams())).collect();
        assert_eq!(told, [("band", 26.0, 16.0), ("hat", 64.0, 26.0)]);
        assert_eq!(chain.last_weights().collect::<Vec<_>>(), [("beacon-1", g(16.0))]);
    }
}
