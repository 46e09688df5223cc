use super::{Blend, Care, ColourFamily, Fibre, WashEffort};
use crate::body::{Measure, SizeGroup, SizeId};
use units::Length;

/// Someone to knit for. The name is how gifts speak of them, so no two are alike.
#[derive(Clone, Debug, PartialEq)]
pub struct Person {
    /// What the knitter calls them.
    pub name: String,
    /// A size of the table; with measures beside it, these go before the table's.
    pub size: Option<SizeId>,
    /// The measures that were taken.
    pub measures: Vec<(Measure, Length)>,
    /// Colours they like.
    pub likes_colours: Vec<ColourFamily>,
    /// Ids of garments.
    pub likes_garments: Vec<String>,
    /// Fibres they don't wear.
    pub avoids_fibres: Vec<Fibre>,
    /// Colours they don't wear.
    pub avoids_colours: Vec<ColourFamily>,
    /// The most trouble they take over washing; `None`: any.
    pub wash: Option<WashEffort>,
    /// In the knitter's words.
    pub note: Option<String>,
}

impl Person {
    /// Anybody of a size.
    pub fn of_size(size: SizeId) -> Person {
        Person {
            name: size.to_string(),
            size: Some(size),
            measures: Vec::new(),
            likes_colours: Vec::new(),
            likes_garments: Vec::new(),
            avoids_fibres: Vec::new(),
            avoids_colours: Vec::new(),
            wash: None,
            note: None,
        }
    }

    /// Why a yarn of these fibres and this care won't do for them; empty when it will. `group` is
    /// the group of their size: a baby's things go through the machine, so a yarn that can't, or
    /// doesn't say, is refused (common practice, no source).
    pub fn objections(
        &self,
        group: Option<SizeGroup>,
        fibres: Option<&Blend>,
        care: Option<Care>,
    ) -> Vec<String> {
        let mut why = Vec::new();
        match fibres {
            Some(blend) => {
                let avoided = self.avoids_fibres.iter().filter(|fibre| blend.has(**fibre));
                why.extend(avoided.map(|fibre| format!("{} avoids {fibre}", self.name)));
            }
            // It may itch, or worse, whoever doesn't know what it is made of.
            None if !self.avoids_fibres.is_empty() => {
                let avoided: Vec<String> =
                    self.avoids_fibres.iter().map(ToString::to_string).collect();
                why.push(format!(
                    "{} avoids {}, and nothing is said of this one's fibres",
                    self.name,
                    avoided.join(" and ")
                ));
            }
            None => {}
        }
        let baby = group == Some(SizeGroup::Babies);
        if baby && care.is_none_or(|care| care.effort() != WashEffort::Machine) {
            why.push(match care {
                Some(care) => format!("a baby's yarn must wash in the machine, not `{care}`"),
                None => "a baby's yarn must wash in the machine, and nothing is said of this \
                         one's care"
                    .to_owned(),
            });
        } else if let Some(most) = self.wash.filter(|most| *most < WashEffort::DryClean) {
            let washes = format!("{} washes by {} at most", self.name, most.name());
            match care {
                Some(care) if care.effort() > most => why.push(format!("{washes}, not `{care}`")),
                None => why.push(format!("{washes}, and nothing is said of this one's care")),
                Some(_) => {}
            }
        }
        why
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn someone() -> Person {
        Person {
            name: "Tamsin".into(),
            size: None,
            measures: Vec::new(),
            likes_colours: Vec::new(),
            likes_garments: Vec::new(),
            avoids_fibres: vec!["mohair".parse().expect("a fibre")],
            avoids_colours: Vec::new(),
            wash: Some(WashEffort::Hand),
            note: None,
        }
    }

    #[test]
    fn fibres_and_washing_are_minded() {
        let person = someone();
        let itchy: Blend = "60 % mohair, 40 % silk".parse().expect("a blend");
        let soft: Blend = "100 % silk".parse().expect("a blend");
        let hand = Some(Care::Hand);
        assert_eq!(person.objections(None, Some(&itchy), hand), ["Tamsin avoids mohair"]);
        assert_eq!(person.objections(None, Some(&soft), hand).len(), 0);
        assert_eq!(person.objections(None, Some(&itchy), Some(Care::DryClean)).len(), 2);
    }

    #[test]
    fn what_nobody_knows_of_a_yarn_counts_against_it_for_whoever_minds() {
        let unknown = someone().objections(None, None, None);
        assert_eq!(
            unknown,
            [
                "Tamsin avoids mohair, and nothing is said of this one's fibres",
                "Tamsin washes by hand at most, and nothing is said of this one's care",
            ]
        );
        let easy = Person { avoids_fibres: Vec::new(), wash: None, ..someone() };
        assert_eq!(easy.objections(None, None, None).len(), 0);
        let dry = Person { wash: Some(WashEffort::DryClean), ..easy };
        assert_eq!(dry.objections(None, None, None).len(), 0);
    }

    #[test]
    fn a_baby_needs_yarn_that_is_known_to_wash_in_the_machine() {
        let person = someone();
        let baby = Some(SizeGroup::Babies);
        let soft: Blend = "100 % silk".parse().expect("a blend");
        assert!(person.objections(baby, Some(&soft), Some(Care::Machine(30))).is_empty());
        assert_eq!(person.objections(baby, Some(&soft), Some(Care::Hand)).len(), 1);
        assert_eq!(person.objections(baby, Some(&soft), None).len(), 1);
    }
}
