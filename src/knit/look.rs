//! How a coloured garment looks, as numbers: how bold its bands are and how evenly its colours are
//! spread. Only compares results; says nothing of taste.

use super::cloth::Cloth;
use super::colours::Shade;
use super::run::Run;
use super::swatch::SwatchSet;
use super::thread::{Paint, Palette};

/// A colour in CIELAB, D65 white: L* from 0 to 100, a* and b*.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lab {
    /// Lightness, 0 (black) to 100 (white).
    pub l: f64,
    /// Green (negative) to red.
    pub a: f64,
    /// Blue (negative) to yellow.
    pub b: f64,
}

/// White of sRGB: D65 with Y = 1 (IEC 61966-2-1).
const WHITE: (f64, f64, f64) = (0.9505, 1.0, 1.0890);
/// Side of the patches by which evenness is judged, in mm: about what one sees at a glance at
/// arm's length (our choice).
const PATCH_MM: f64 = 40.0;

impl Lab {
    /// sRGB to XYZ by IEC 61966-2-1, XYZ to L*a*b* by CIE 15:2004, 8.2.1.
    pub fn of(shade: Shade) -> Lab {
        let linear = |channel: u8| {
            let c = f64::from(channel) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        let (r, g, b) = (linear(shade.red), linear(shade.green), linear(shade.blue));
        let x = 0.4124 * r + 0.3576 * g + 0.1805 * b;
        let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
        let z = 0.0193 * r + 0.1192 * g + 0.9505 * b;
        let f = |t: f64| {
            const EDGE: f64 = 24.0 / 116.0;
            if t > EDGE.powi(3) { t.cbrt() } else { 841.0 / 108.0 * t + 16.0 / 116.0 }
        };
        let (x, y, z) = (f(x / WHITE.0), f(y / WHITE.1), f(z / WHITE.2));
        Lab { l: 116.0 * y - 16.0, a: 500.0 * (x - y), b: 200.0 * (y - z) }
    }

    /// The distance of two colours, dE*ab (CIE 15:2004, 8.2.2): 2 is just seen, 100 is black on
    /// white.
    pub fn distance(self, other: Lab) -> f64 {
        (self.l - other.l).hypot(self.a - other.a).hypot(self.b - other.b)
    }
}

/// What is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// High contrast, wide bands: see [`boldness`].
    Bold,
    /// The same mixture all over: see [`unevenness`].
    Even,
}

impl Look {
    /// The word on the command line and in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Look::Bold => "bold",
            Look::Even => "even",
        }
    }

    /// What its figures are in.
    pub const fn unit(self) -> &'static str {
        match self {
            Look::Bold => "dE mm",
            Look::Even => "dE",
        }
    }

    /// How far a coloured run is what is looked for, in [`unit`](Self::unit)s. `cloths` are the
    /// pieces of `run`, painted from the palette.
    pub fn measure(
        self,
        run: &Run,
        cloths: &[Cloth],
        (palette, swatches): (&Palette, &SwatchSet),
    ) -> f64 {
        match self {
            Look::Bold => boldness(run, cloths, palette, swatches),
            Look::Even => unevenness(run, cloths, palette, swatches),
        }
    }

    /// Whether one result is nearer to what is looked for.
    pub fn prefers(self, one: f64, other: f64) -> bool {
        match self {
            Look::Bold => one > other,
            Look::Even => one < other,
        }
    }
}

fn labs(palette: &Palette) -> Vec<Lab> {
    palette.colours.iter().map(|c| Lab::of(c.shade)).collect()
}

/// Where there is no yarn there is no colour: white, the page.
fn lab(labs: &[Lab], paint: Paint) -> Lab {
    const PAGE: Lab = Lab { l: 100.0, a: 0.0, b: 0.0 };
    paint.and_then(|p| labs.get(usize::from(p)).copied()).unwrap_or(PAGE)
}

fn row_mm(run: &Run, swatches: &SwatchSet, piece: usize, row: u32) -> f64 {
    let structure = run.pieces[piece].rows[row as usize].structure;
    swatches.gauge(structure.gauged_as()).rows.pitch_mm()
}

/// How bold the bands are, in dE*ab times mm. Along each needle the stitches are cut into bands of
/// one colour; where two bands meet, their colour distance counts with the square of the narrower
/// band's height, over the height of all fabric. Bands of one height h mm in two colours d apart
/// give about d times h: strong contrast and wide bands both count.
pub fn boldness(run: &Run, cloths: &[Cloth], palette: &Palette, swatches: &SwatchSet) -> f64 {
    let labs = labs(palette);
    let (mut sum, mut whole) = (0.0, 0.0);
    for (piece, cloth) in cloths.iter().enumerate() {
        for column in &cloth.columns {
            let mut before: Option<(Paint, f64)> = None;
            let mut band: Option<(Paint, f64)> = None;
            let mut meet = |one: Option<(Paint, f64)>, other: (Paint, f64)| {
                if let Some((paint, mm)) = one {
                    sum +=
                        lab(&labs, paint).distance(lab(&labs, other.0)) * mm.min(other.1).powi(2);
                }
            };
            for (row, paint) in column.rows.iter().zip(&column.paints) {
                let mm = row_mm(run, swatches, piece, *row);
                whole += mm;
                match &mut band {
                    Some((same, high)) if same == paint => *high += mm,
                    Some(done) => {
                        meet(before, *done);
                        before = Some(*done);
                        band = Some((*paint, mm));
                    }
                    None => band = Some((*paint, mm)),
                }
            }
            if let Some(last) = band {
                meet(before, last);
            }
        }
    }
    if whole > 0.0 { sum / whole } else { 0.0 }
}

/// How unevenly the colours are spread, in dE*ab: the fabric of each piece is cut into patches of
/// about 4 by 4 cm; the root of the mean square, by stitches, of the distances between a patch's
/// mean colour and that of the whole garment. Nought: every patch has the garment's own mixture.
pub fn unevenness(run: &Run, cloths: &[Cloth], palette: &Palette, swatches: &SwatchSet) -> f64 {
    let labs = labs(palette);
    let mut patches: Vec<(Lab, f64)> = Vec::new();
    for (piece, cloth) in cloths.iter().enumerate() {
        let stitch = swatches.gauge(run.pieces[piece].structure.gauged_as()).stitches.pitch_mm();
        let mut own: std::collections::BTreeMap<(u32, u32), (Lab, f64)> = Default::default();
        let first = cloth.columns.iter().map(|c| c.needle.0).min().unwrap_or(0);
        for column in &cloth.columns {
            let across = (f64::from(column.needle.0 - first) * stitch / PATCH_MM) as u32;
            let mut high = 0.0;
            for (row, paint) in column.rows.iter().zip(&column.paints) {
                let at = (across, (high / PATCH_MM) as u32);
                let (sum, count) = own.entry(at).or_default();
                let lab = lab(&labs, *paint);
                *sum = Lab { l: sum.l + lab.l, a: sum.a + lab.a, b: sum.b + lab.b };
                *count += 1.0;
                high += row_mm(run, swatches, piece, *row);
            }
        }
        patches.extend(own.into_values());
    }
    let whole = patches.iter().map(|(_, count)| count).sum::<f64>();
    if whole == 0.0 {
        return 0.0;
    }
    let mean = |sum: Lab, count: f64| Lab { l: sum.l / count, a: sum.a / count, b: sum.b / count };
    let all = patches.iter().fold(Lab::default(), |sum, (lab, _)| Lab {
        l: sum.l + lab.l,
        a: sum.a + lab.a,
        b: sum.b + lab.b,
    });
    let all = mean(all, whole);
    let square: f64 =
        patches.iter().map(|(sum, count)| count * mean(*sum, *count).distance(all).powi(2)).sum();
    (square / whole).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The corners of sRGB in CIELAB, D65, as tabulated in common references (from memory).
    #[test]
    fn known_colours_come_out_where_they_belong() {
        for (shade, l, a, b) in [
            ("#ffffff", 100.0, 0.0, 0.0),
            ("#000000", 0.0, 0.0, 0.0),
            ("#ff0000", 53.24, 80.09, 67.20),
            ("#0000ff", 32.30, 79.19, -107.86),
            ("#808080", 53.59, 0.0, 0.0),
        ] {
            let lab = Lab::of(shade.parse().expect("a shade"));
            assert!((lab.l - l).abs() < 0.1, "{shade} {lab:?}");
            assert!((lab.a - a).abs() < 0.1 && (lab.b - b).abs() < 0.1, "{shade} {lab:?}");
        }
    }
}
