/// The plain word for a colour: what people say they like. No two words for one thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ColourFamily {
    /// Red.
    Red,
    /// Orange.
    Orange,
    /// Yellow.
    Yellow,
    /// Green.
    Green,
    /// Blue.
    Blue,
    /// Purple.
    Purple,
    /// Pink.
    Pink,
    /// Brown: a dark orange.
    Brown,
    /// White: light, next to no colour.
    White,
    /// Grey.
    Grey,
    /// Black: dark, of whatever hue.
    Black,
}

impl ColourFamily {
    /// All of them, round the circle, then brown and those without a hue.
    pub const ALL: [ColourFamily; 11] = [
        ColourFamily::Red,
        ColourFamily::Orange,
        ColourFamily::Yellow,
        ColourFamily::Green,
        ColourFamily::Blue,
        ColourFamily::Purple,
        ColourFamily::Pink,
        ColourFamily::Brown,
        ColourFamily::White,
        ColourFamily::Grey,
        ColourFamily::Black,
    ];

    /// The word in files.
    pub const fn name(self) -> &'static str {
        match self {
            ColourFamily::Red => "red",
            ColourFamily::Orange => "orange",
            ColourFamily::Yellow => "yellow",
            ColourFamily::Green => "green",
            ColourFamily::Blue => "blue",
            ColourFamily::Purple => "purple",
            ColourFamily::Pink => "pink",
            ColourFamily::Brown => "brown",
            ColourFamily::White => "white",
            ColourFamily::Grey => "grey",
            ColourFamily::Black => "black",
        }
    }

    /// The family of that name, in any case; `gray` is `grey`.
    pub fn parse(text: &str) -> Option<ColourFamily> {
        let text = text.trim().to_lowercase();
        let text = if text == "gray" { "grey" } else { text.as_str() };
        ColourFamily::ALL.into_iter().find(|family| family.name() == text)
    }

    /// The word for a shade, from its red, green and blue parts. The bounds of hue, lightness
    /// and chroma are a choice of ours: people don't agree on them either.
    pub fn of_rgb(red: u8, green: u8, blue: u8) -> ColourFamily {
        let [r, g, b] = [red, green, blue].map(|part| f64::from(part) / 255.0);
        let (least, most) = (r.min(g).min(b), r.max(g).max(b));
        let (light, spread) = ((least + most) / 2.0, most - least);
        if light < 0.12 {
            return ColourFamily::Black;
        }
        if light > 0.84 && spread < 0.15 {
            return ColourFamily::White;
        }
        if spread < 0.09 {
            return ColourFamily::Grey;
        }
        let sector = if most == r {
            ((g - b) / spread).rem_euclid(6.0)
        } else if most == g {
            (b - r) / spread + 2.0
        } else {
            (r - g) / spread + 4.0
        };
        match sector * 60.0 {
            hue if !(15.0..345.0).contains(&hue) && light > 0.7 => ColourFamily::Pink,
            hue if (12.0..45.0).contains(&hue) && light < 0.42 => ColourFamily::Brown,
            hue if !(14.0..345.0).contains(&hue) => ColourFamily::Red,
            hue if hue < 42.0 => ColourFamily::Orange,
            hue if hue < 68.0 => ColourFamily::Yellow,
            hue if hue < 172.0 => ColourFamily::Green,
            hue if hue < 256.0 => ColourFamily::Blue,
            hue if hue < 300.0 => ColourFamily::Purple,
            _ if light > 0.5 => ColourFamily::Pink,
            hue if hue < 330.0 => ColourFamily::Purple,
            _ => ColourFamily::Red,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_shades_have_their_plain_names() {
        let cases = [
            ((0xc0, 0x1c, 0x28), "red"),
            ((0xff, 0x8c, 0x1a), "orange"),
            ((0xf5, 0xd5, 0x3a), "yellow"),
            ((0x2e, 0x8b, 0x57), "green"),
            ((0x23, 0x4a, 0x8f), "blue"),
            ((0x7b, 0x2f, 0xa8), "purple"),
            ((0xf4, 0x9a, 0xb5), "pink"),
            ((0x6b, 0x42, 0x26), "brown"),
            ((0xf3, 0xef, 0xe6), "white"),
            ((0x8a, 0x8c, 0x90), "grey"),
            ((0x10, 0x10, 0x14), "black"),
        ];
        for ((r, g, b), name) in cases {
            assert_eq!(ColourFamily::of_rgb(r, g, b).name(), name);
            assert_eq!(ColourFamily::parse(name).map(ColourFamily::name), Some(name));
        }
    }
}
