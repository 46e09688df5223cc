use knit::stash::Yarn;

/// The colours of a yarn as a small picture: stripes in their order, with their names.
pub(super) struct Chip {
    pub stripes: Vec<Stripe>,
    /// What the colours are called.
    pub words: String,
}

pub(super) struct Stripe {
    /// Where it begins and how wide it is, in hundredths of the chip.
    pub at: String,
    pub wide: String,
    /// As an SVG has it.
    pub fill: String,
}

/// Stripes that can be told from each other in a chip.
const MOST: usize = 8;

impl Chip {
    pub fn of(yarn: &Yarn) -> Chip {
        let stretches = yarn.colours.stretches();
        let shown = &stretches[..stretches.len().min(MOST)];
        let whole: f64 = shown.iter().map(|(_, mm)| mm).sum();
        let mut at = 0.0_f64;
        let stripes = shown.iter().map(|(colour, mm)| {
            let wide = mm / whole * 100.0;
            let stripe = Stripe {
                at: format!("{at:.1}"),
                wide: format!("{wide:.1}"),
                fill: colour.shade.to_string(),
            };
            at += wide;
            stripe
        });
        let stripes = stripes.collect();
        let families: Vec<&str> =
            yarn.colour_families().iter().map(|family| family.name()).collect();
        Chip { stripes, words: families.join(", ") }
    }
}
