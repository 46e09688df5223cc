use super::grid::Grid;
use script::Manifest;

/// All garments, a row each.
pub fn garment_list(manifests: &[&Manifest]) -> Grid {
    let headings = ["Garment", "Title", "What it is"].map(str::to_owned).to_vec();
    let mut grid = Grid { wordy: true, ..Grid::new("", headings) };
    for manifest in manifests {
        let pair = if manifest.pair { " (a pair)" } else { "" };
        grid.rows.push(vec![
            manifest.id.clone(),
            format!("{}{pair}", manifest.title),
            manifest.summary.clone(),
        ]);
    }
    grid
}

/// One garment: what it needs and what may be chosen.
pub fn garment_page(manifest: &Manifest) -> String {
    let mut text = format!(
        "{} ({} {})\n{}\n\n",
        manifest.title, manifest.id, manifest.version, manifest.summary
    );
    text.push_str(&format!("Body measures: {}\n", manifest.measures.join(", ")));
    for own in &manifest.own_measures {
        let spec = &own.spec;
        text.push_str(&format!("  {}: {}, {}\n", spec.name, spec.title, spec.meaning));
    }
    if manifest.sized_by != manifest.measure {
        text.push_str(&format!("Sizes go by: {}\n", manifest.sized_by));
    }
    let structures: Vec<&str> = manifest.structures.iter().map(|s| s.name()).collect();
    text.push_str(&format!("Swatches: {}\n", structures.join(", ")));
    let sections: Vec<&str> = manifest.sections.iter().map(|s| s.title.as_str()).collect();
    text.push_str(&format!("Yarn sections: {}\n\n", sections.join(", ")));
    text.push_str("Options, as --set NAME=VALUE:\n");
    for option in &manifest.options {
        let default =
            option.default.as_ref().map_or_else(|| "auto".to_owned(), |v| option.kind.show(v));
        text.push_str(&format!(
            "  {}  ({}; default {default})\n      {}\n",
            option.name,
            option.kind.describe(),
            option.help
        ));
        if option.scales {
            text.push_str(
                "      Left on auto, reach and plan make it as large as the yarn goes.\n",
            );
        }
    }
    text
}
