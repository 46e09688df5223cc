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

fn counted(structure: Structure) -> &'static str {
    if structure == Structure::Circular { "rounds" } else { "rows" }
}

/// The measures of one shape: the width of each fabric, the top where it is narrower, the height of
/// each fabric and of all.
pub(super) fn dims(flat: &LaidFlat) -> Vec<Dim> {
    /// More stretches of fabric would need more dimension lines than the page holds.
    const MOST_ZONES: usize = 5;
    let mut dims = Vec::new();
    let name = |zone: &Zone, nth: usize| {
        let before = flat.zones[..nth].iter().filter(|z| z.structure == zone.structure).count();
        let all = flat.zones.iter().filter(|z| z.structure == zone.structure).count();
        let fabric = match zone.structure {
            Structure::Circular => "tube",
            other => other.name(),
        };
        if all > 1 { format!("{fabric} {}", before + 1) } else { fabric.to_owned() }
    };
    let zones: &[Zone] = if flat.zones.len() <= MOST_ZONES { &flat.zones } else { &[] };
    for (nth, zone) in zones.iter().enumerate() {
        let seen = zones[..nth].iter().any(|z| (z.left, z.right) == (zone.left, zone.right));
        if !seen {
            dims.push(Dim {
                across: true,
                what: if zones.len() > 1 {
                    format!("width, {}", name(zone, nth))
                } else {
                    "width".into()
                },
                mm: zone.right - zone.left,
                count: zone.stitches,
                counted: "stitches",
                from: zone.left,
                to: zone.right,
            });
        }
    }
    if dims.is_empty() {
        dims.extend(flat.zones.iter().max_by_key(|z| z.stitches).map(|zone| Dim {
            across: true,
            what: "width".into(),
            mm: zone.right - zone.left,
            count: zone.stitches,
            counted: "stitches",
            from: zone.left,
            to: zone.right,
        }));
    }
    let (stitches, middle, width) = flat.top;
    if stitches > 0 && dims.iter().all(|d| (d.mm - width).abs() > 0.5) {
        dims.push(Dim {
            across: true,
            what: "last row".into(),
            mm: width,
            count: stitches,
            counted: "stitches",
            from: middle - width / 2.0,
            to: middle + width / 2.0,
        });
    }
    if zones.len() > 1 {
        for (nth, zone) in zones.iter().enumerate() {
            dims.push(Dim {
                across: false,
                what: format!("height, {}", name(zone, nth)),
                mm: zone.height(),
                count: zone.rows(),
                counted: counted(zone.structure),
                from: zone.from,
                to: zone.to,
            });
        }
    }
    let one = flat.zones.iter().all(|z| z.structure == flat.zones[0].structure);
    dims.push(Dim {
        across: false,
        what: if zones.len() > 1 { "height in all".into() } else { "height".into() },
        mm: flat.height,
        count: flat.rows,
        counted: if one { counted(flat.zones[0].structure) } else { "rows" },
        from: 0.0,
        to: flat.height,
    });
    dims
}
