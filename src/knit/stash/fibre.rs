use std::fmt;
use std::str::FromStr;

use diag::nearest;
use units::UnitError;

/// A fibre that yarn is spun of, by the name it has on labels in the European Union: Regulation
/// (EU) No 1007/2011, Annex I (the names are from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fibre(&'static str);

/// Names, and after each the other words people use for it.
const FIBRES: [(&str, &[&str]); 24] = [
    ("wool", &["merino", "merino wool", "lambswool", "virgin wool"]),
    ("alpaca", &[]),
    ("llama", &[]),
    ("camel", &[]),
    ("cashmere", &[]),
    ("mohair", &[]),
    ("angora", &[]),
    ("yak", &[]),
    ("silk", &[]),
    ("cotton", &[]),
    ("flax", &["linen"]),
    ("hemp", &[]),
    ("ramie", &[]),
    ("jute", &[]),
    ("acrylic", &[]),
    ("polyamide", &["nylon"]),
    ("polyester", &[]),
    ("polypropylene", &[]),
    ("elastane", &[]),
    ("viscose", &["rayon", "bamboo viscose"]),
    ("modal", &[]),
    ("lyocell", &[]),
    ("metallised fibre", &["metallic"]),
    ("other fibres", &["other"]),
];

impl Fibre {
    /// All there are, as labels name them.
    pub fn all() -> impl Iterator<Item = Fibre> {
        FIBRES.iter().map(|(name, _)| Fibre(name))
    }

    /// Its name on labels.
    pub const fn name(self) -> &'static str {
        self.0
    }
}

impl FromStr for Fibre {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let word = text.trim().to_lowercase();
        let found = FIBRES.iter().find(|(name, others)| *name == word || others.contains(&&*word));
        found.map(|(name, _)| Fibre(name)).ok_or_else(|| {
            let names = FIBRES.iter().flat_map(|(name, others)| others.iter().chain([name]));
            let hint = match nearest(&word, names.copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => {
                    let names: Vec<&str> = FIBRES.iter().map(|(name, _)| *name).collect();
                    format!("the fibres are {}", names.join(", "))
                }
            };
            UnitError::new(format!("`{}` is not a fibre", text.trim()), hint)
        })
    }
}

impl fmt::Display for Fibre {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.0)
    }
}
