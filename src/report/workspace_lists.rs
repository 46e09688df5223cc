use super::grid::Grid;
use knit::stash::{Contents, GarmentChoice, GiftState, GiftWish, NamedSwatches, Person};
use knit::swatch::Gauge;
use units::LengthUnit;

fn grid(headings: &[&str], wordy: bool) -> Grid {
    let headings = headings.iter().map(|heading| (*heading).to_owned()).collect();
    Grid { wordy, ..Grid::new("", headings) }
}

/// An optional thing as a cell.
fn cell<T: ToString>(value: Option<T>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

fn grams(grams: f64) -> String {
    let text = format!("{grams:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// The remnants, all or of one yarn, in the order of the file: what there is of each, what is
/// reserved, how long it runs.
pub fn stash_list(contents: &Contents, yarn: Option<&str>) -> Grid {
    let unit = contents.settings.units;
    let long = format!("Length {}", unit.long_symbol());
    let mut grid = grid(&["Remnant", "Yarn", "Weight g", "Reserved g", &long, "Lot", "Note"], true);
    let reserved = contents.reserved_g();
    let (placed, kept) = (
        contents.remnants.iter().any(|remnant| remnant.place.is_some()),
        contents.remnants.iter().any(|remnant| remnant.keep_for.is_some()),
    );
    grid.headings.extend(placed.then(|| "Where".to_owned()));
    grid.headings.extend(kept.then(|| "Kept for".to_owned()));
    for remnant in contents.remnants.iter().filter(|r| yarn.is_none_or(|yarn| r.yarn == yarn)) {
        let count = contents.yarns.get(&remnant.yarn).map(|yarn| yarn.count);
        let metres = count.map(|count| count.mm_in(remnant.weight.grams()) / 1000.0);
        let mut row = vec![
            remnant.id.clone(),
            remnant.yarn.clone(),
            grams(remnant.weight.grams()),
            reserved.get(remnant.id.as_str()).map_or_else(String::new, |g| grams(*g)),
            metres.map_or_else(String::new, |metres| format!("{:.0}", unit.long(metres))),
            cell(remnant.lot.as_ref()),
            cell(remnant.note.as_ref()),
        ];
        row.extend(placed.then(|| cell(remnant.place.as_ref())));
        row.extend(kept.then(|| cell(remnant.keep_for.as_ref())));
        grid.rows.push(row);
    }
    grid
}

/// The yarns, with what there is of each.
pub fn yarn_list(contents: &Contents) -> Grid {
    let headings =
        ["Yarn", "Name", "m/100 g", "Class", "Fibres", "Care", "Colours", "Remnants", "In all g"];
    let mut grid = grid(&headings, true);
    let reserves = contents.yarns.values().any(|yarn| yarn.reserve.is_some());
    grid.headings.extend(reserves.then(|| "Reserve g".to_owned()));
    for (id, yarn) in &contents.yarns {
        let remnants: Vec<f64> = contents
            .remnants
            .iter()
            .filter(|remnant| remnant.yarn == *id)
            .map(|remnant| remnant.weight.grams())
            .collect();
        let families: Vec<&str> = yarn.colour_families().iter().map(|f| f.name()).collect();
        let mut row = vec![
            id.clone(),
            yarn.name.clone(),
            format!("{:.0}", yarn.count.metres_per_100_g()),
            cell(yarn.class),
            cell(yarn.fibres.as_ref()),
            cell(yarn.care),
            families.join(", "),
            remnants.len().to_string(),
            grams(remnants.iter().sum()),
        ];
        row.extend(reserves.then(|| cell(yarn.reserve.map(|mass| grams(mass.grams())))));
        grid.rows.push(row);
    }
    grid
}

/// The people, in the order of the file.
pub fn people_list(contents: &Contents) -> Grid {
    let unit = contents.settings.units;
    let mut grid =
        grid(&["Name", "Size", "Measures", "Likes", "Avoids", "Washes by", "Note"], true);
    for person in &contents.people {
        let measures: Vec<String> = person
            .measures
            .iter()
            .map(|(measure, length)| format!("{} {}", measure.label(), unit.show(length.mm())))
            .collect();
        grid.rows.push(vec![
            person.name.clone(),
            cell(person.size.as_ref()),
            measures.join(", "),
            likes(person),
            avoids(person),
            cell(person.wash.map(|wash| wash.name())),
            cell(person.note.as_ref()),
        ]);
    }
    grid
}

/// Who knits, in the order of the file.
pub fn knitter_list(contents: &Contents) -> Grid {
    let mut grid = grid(&["Name", "Machines", "Hours a week", "Where", "Note"], true);
    for knitter in &contents.knitters {
        grid.rows.push(vec![
            knitter.name.clone(),
            knitter.machines.join(", "),
            cell(knitter.hours_a_week),
            cell(knitter.place.as_ref()),
            cell(knitter.note.as_ref()),
        ]);
    }
    grid
}

fn likes(person: &Person) -> String {
    let colours = person.likes_colours.iter().map(|colour| colour.name());
    colours.chain(person.likes_garments.iter().map(String::as_str)).collect::<Vec<_>>().join(", ")
}

fn avoids(person: &Person) -> String {
    let fibres = person.avoids_fibres.iter().map(|fibre| fibre.name());
    fibres.chain(person.avoids_colours.iter().map(|c| c.name())).collect::<Vec<_>>().join(", ")
}

/// The gifts, all or for one person or in one state, in the order of the file.
pub fn gift_list(contents: &Contents, person: Option<&str>, state: Option<GiftState>) -> Grid {
    let headings = [
        "Gift", "Person", "Garment", "Priority", "Due", "Must", "Options", "Note", "State", "Kept",
    ];
    let mut grid = grid(&headings, true);
    let several = !contents.knitters.is_empty();
    grid.headings.extend(several.then(|| "Knitter".to_owned()));
    let theirs = contents.gifts.iter().filter(|g| person.is_none_or(|name| g.person == name));
    let mut many: Option<&str> = None;
    for gift in theirs.filter(|g| state.is_none_or(|state| contents.gift_state(g) == state)) {
        // Many of a kind are one row, that of the first.
        let entry = gift.piece.as_ref().map(|piece| piece.entry.as_str());
        if entry.is_some() && entry == many {
            continue;
        }
        many = entry;
        let options: Vec<String> =
            gift.options.iter().map(|(name, value)| format!("{name}={value}")).collect();
        let mut row = vec![
            gift.entry().to_owned(),
            gift.person.clone(),
            match &gift.garment {
                GarmentChoice::Any => GarmentChoice::ANY.to_owned(),
                GarmentChoice::OneOf(ids) => ids.join(", "),
            },
            gift.priority.to_string(),
            cell(gift.due),
            if gift.must { "yes".to_owned() } else { String::new() },
            options.join(", "),
            cell(gift.note.as_ref()),
            stands(contents, gift),
            if gift.keep { "yes".to_owned() } else { String::new() },
        ];
        row.extend(several.then(|| cell(contents.knitter_of(gift))));
        grid.rows.push(row);
    }
    grid
}

/// How a gift stands; of many how many stand so.
fn stands(contents: &Contents, gift: &GiftWish) -> String {
    if gift.piece.is_none() {
        return contents.gift_state(gift).name().to_owned();
    }
    let states = GiftState::ALL.iter().filter_map(|state| {
        let own = contents.pieces(gift.entry()).filter(|own| contents.gift_state(own) == *state);
        let count = own.count();
        (count > 0).then(|| format!("{count} {}", state.name()))
    });
    states.collect::<Vec<_>>().join(", ")
}

/// The swatches with the gauge of their plain fabric.
pub fn swatch_list(contents: &Contents) -> Grid {
    let (over, over_mm) = contents.settings.units.gauge_over();
    let headings = [
        "Swatch",
        "Name",
        "Machine",
        "Yarn m/100 g",
        &format!("Stitches to {over}"),
        &format!("Rows to {over}"),
    ];
    let mut grid = grid(&headings, true);
    for (id, file) in &contents.swatches {
        let plain = file.set.plain();
        grid.rows.push(vec![
            id.clone(),
            file.name.clone(),
            cell(file.machine.as_ref()),
            format!("{:.0}", file.set.yarn.metres_per_100_g()),
            format!("{:.1}", plain.stitches.per_ten.per_mm() * over_mm),
            format!("{:.1}", plain.rows.per_ten.per_mm() * over_mm),
        ]);
    }
    grid
}

/// One swatch: the gauge of each structure that was knitted, with its standard errors.
pub fn swatch_page(file: &NamedSwatches, unit: LengthUnit) -> Grid {
    use knit::program::Structure;
    let (over, over_mm) = unit.gauge_over();
    let headings = [
        "Structure",
        "State",
        "Dial",
        &format!("Stitches to {over}"),
        "+/-",
        &format!("Rows to {over}"),
        "+/- rows",
        "Weighed g",
    ];
    let mut grid = grid(&headings, false);
    let scale = over_mm / 100.0;
    for structure in Structure::ALL.into_iter().filter(|s| file.set.is_measured(*s)) {
        let gauge = file.set.gauge(structure);
        // What is knitted otherwise but looks like plain has plain's gauge: one row for both.
        if gauge.structure != structure {
            continue;
        }
        let Gauge { stitches, rows, dial, measured, weighed, .. } = gauge;
        grid.rows.push(vec![
            structure.name().to_owned(),
            cell(measured.map(|state| state.name())),
            cell(*dial),
            format!("{:.1}", stitches.per_ten.per_10_cm() * scale),
            format!("{:.1}", stitches.half_width() * scale),
            format!("{:.1}", rows.per_ten.per_10_cm() * scale),
            format!("{:.1}", rows.half_width() * scale),
            cell(weighed.map(|weighed| grams(weighed.mass.grams()))),
        ]);
    }
    grid
}
