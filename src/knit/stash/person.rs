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
        for fibre in &self.avoids_fibres {
            if fibres.is_some_and(|blend| blend.has(*fibre)) {
                why.push(format!("{} avoids {fibre}", self.name));
            }
        }
        let baby = group == Some(SizeGroup::Babies);
        if baby && care.is_none_or(|care| care.effort() != WashEffort::Machine) {
            why.push(match care {
                Some(care) => format!("a baby's yarn must wash in the machine, not `{care}`"),
                None => "a baby's yarn must wash in the machine, and nothing is said of this \
                         one's care"
                    .to_owned(),
            });
        } else if let (Some(most), Some(care)) = (self.wash, care)
            && care.effort() > most
        {
            why.push(format!("{} washes by {} at most, not `{care}`", self.name, most.name()));
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
        assert_eq!(person.objections(None, Some(&itchy), None).len(), 1);
        assert_eq!(person.objections(None, None, Some(Care::Hand)).len(), 0);
        assert_eq!(person.objections(None, Some(&itchy), Some(Care::DryClean)).len(), 2);
    }

    #[test]
    fn a_baby_needs_yarn_that_is_known_to_wash_in_the_machine() {
        let person = someone();
        let baby = Some(SizeGroup::Babies);
        assert!(person.objections(baby, None, Some(Care::Machine(30))).is_empty());
        assert_eq!(person.objections(baby, None, Some(Care::Hand)).len(), 1);
        assert_eq!(person.objections(baby, None, None).len(), 1);
    }
}
