//! What is measured of a shape, and from where to where.

use crate::drawing::laid_flat::{LaidFlat, Zone};
use knit::program::Structure;

/// A measure of a piece: along or up, from where to where.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Dim {
    pub(super) across: bool,
    /// What it is of: several sizes may each have it.
    pub(super) what: String,
    pub(super) mm: f64,
    pub(super) count: u32,
    pub(super) counted: &'static str,
    pub(super) from: f64,
    pub(super) to: f64,
}

impl Dim {
    fn width(what: String, zone: &Zone) -> Dim {
        Dim {
            across: true,
            what,
            mm: zone.right - zone.left,
            count: zone.stitches,
            counted: "stitches",
            from: zone.left,
            to: zone.right,
        }
    }

    fn height(what: String, zone: &Zone) -> Dim {
        Dim {
            across: false,
            what,
            mm: zone.height(),
            count: zone.rows(),
            counted: counted(zone.structure),
            from: zone.from,
            to: zone.to,
        }
    }
}

fn counted(structure: Structure) -> &'static str {
    if structure == Structure::Circular { "rounds" } else { "rows" }
}

/// The measures of one shape: the width of each fabric, the top where it is narrower, the height of
/// each fabric and of all.
pub(super) fn dims(flat: &LaidFlat) -> Vec<Dim> {
    /// More stretches of fabric would need more dimension lines than the page holds.
    const MOST_ZONES: usize = 5;
    let zones: &[Zone] = if flat.zones.len() <= MOST_ZONES { &flat.zones } else { &[] };
    let several = zones.len() > 1;
    let mut dims = widths(zones);
    if dims.is_empty() {
        let widest = flat.zones.iter().max_by_key(|z| z.stitches);
        dims.extend(widest.map(|zone| Dim::width("width".to_owned(), zone)));
    }
    let top = last_row(flat).filter(|top| dims.iter().all(|d| (d.mm - top.mm).abs() > 0.5));
    dims.extend(top);
    if several {
        let height = |(nth, zone)| Dim::height(format!("height, {}", name(zones, nth)), zone);
        dims.extend(zones.iter().enumerate().map(height));
    }
    let one = flat.zones.iter().all(|z| z.structure == flat.zones[0].structure);
    dims.push(Dim {
        across: false,
        what: if several { "height in all" } else { "height" }.to_owned(),
        mm: flat.height,
        count: flat.rows,
        counted: if one { counted(flat.zones[0].structure) } else { "rows" },
        from: 0.0,
        to: flat.height,
    });
    dims
}

/// What a stretch of fabric is called; with its number where there are several of its structure.
fn name(zones: &[Zone], nth: usize) -> String {
    let zone = &zones[nth];
    let alike = |zones: &[Zone]| zones.iter().filter(|z| z.structure == zone.structure).count();
    let fabric = match zone.structure {
        Structure::Circular => "tube",
        other => other.name(),
    };
    if alike(zones) > 1 {
        format!("{fabric} {}", alike(&zones[..nth]) + 1)
    } else {
        fabric.to_owned()
    }
}

/// The widths that differ in place.
fn widths(zones: &[Zone]) -> Vec<Dim> {
    let mut dims = Vec::new();
    for (nth, zone) in zones.iter().enumerate() {
        if zones[..nth].iter().any(|z| (z.left, z.right) == (zone.left, zone.right)) {
            continue;
        }
        let what = match zones {
            [_] => "width".to_owned(),
            _ => format!("width, {}", name(zones, nth)),
        };
        dims.push(Dim::width(what, zone));
    }
    dims
}

fn last_row(flat: &LaidFlat) -> Option<Dim> {
    let (stitches, middle, width) = flat.top;
    (stitches > 0).then(|| Dim {
        across: true,
        what: "last row".to_owned(),
        mm: width,
        count: stitches,
        counted: "stitches",
        from: middle - width / 2.0,
        to: middle + width / 2.0,
    })
}
