//! The typeface pictures and sheets are set in, and how wide its words run.

use std::sync::LazyLock;

use ttf_parser::Face;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    Regular,
    Bold,
}

/// Family name in pictures; a browser without it falls back to its own sans serif.
pub const FAMILY: &str = "Noto Sans";

pub const REGULAR: &[u8] = notosans::REGULAR_TTF;
pub const BOLD: &[u8] = notosans::BOLD_TTF;

static FACES: LazyLock<[Option<Face<'static>>; 2]> =
    LazyLock::new(|| [REGULAR, BOLD].map(|bytes| Face::parse(bytes, 0).ok()));

/// Width of a text in the unit of `size` (the em), without kerning.
pub fn text_width(text: &str, size: f64, weight: Weight) -> f64 {
    let face = match weight {
        Weight::Regular => &FACES[0],
        Weight::Bold => &FACES[1],
    };
    let Some(face) = face else { return 0.6 * size * text.chars().count() as f64 };
    let advance = |c: char| {
        let glyph = face.glyph_index(c).unwrap_or_default();
        f64::from(face.glyph_hor_advance(glyph).unwrap_or_default())
    };
    text.chars().map(advance).sum::<f64>() * size / f64::from(face.units_per_em())
}
