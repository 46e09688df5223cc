use std::collections::{BTreeMap, BTreeSet};

use super::folder::{Folder, SETTINGS, Snapshot};
use super::reading::{Entries, Kind, Link};
use super::{gifts_file, people_file, plan_file, records_file, settings_file, stash_file};
use crate::field::Reading;
use crate::{
    default_machines, default_size_table, machine, parse_size_table, plugin_folders_in,
    shipped_plugin_ids, swatch, yarn,
};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::body::SizeTable;
use knit::stash::{Contents, GarmentChoice, Settings};

/// A file being read, where it points, and what it is.
struct Opened<'a> {
    reading: Reading<'a>,
    links: Vec<Link>,
}

/// Reads all files of a workspace and checks them against each other. The contents are what is
/// sound; the diagnostics are everything that is not.
pub(super) fn load(folder: &Folder, snapshot: &Snapshot) -> (Contents, Diagnostics) {
    let shown: BTreeMap<&str, String> =
        snapshot.texts.keys().map(|path| (path.as_str(), folder.shown(path))).collect();
    let mut files: Vec<Opened<'_>> = Vec::new();
    let open = |path: &str| {
        let (path, text) = snapshot.texts.get_key_value(path)?;
        Some(Reading::new(shown.get(path.as_str())?, text))
    };
    let mut known: BTreeMap<Kind, BTreeSet<String>> = BTreeMap::new();
    let mut faults = snapshot.faults.clone();
    faults.extend(snapshot.unreadable.values().cloned());
    for path in snapshot.unreadable.keys() {
        // It is there, so nothing that points to it points to nothing.
        let id = path.rsplit('/').next().and_then(|name| name.strip_suffix(".toml"));
        for kind in [Kind::Yarn, Kind::Swatch] {
            known.entry(kind).or_default().extend(id.map(str::to_owned));
        }
    }

    let mut sizes = default_size_table().unwrap_or_else(|found| {
        faults.extend(found);
        SizeTable::new()
    });
    let mut machines = default_machines().unwrap_or_else(|found| {
        faults.extend(found);
        Vec::new()
    });
    let mut settings = Settings::default();
    if let Some(mut reading) = open(SETTINGS) {
        let (found, links) = settings_file::read(&mut reading);
        settings = found;
        files.push(Opened { reading, links });
    }
    if let Some(mut reading) = open("machines.toml") {
        let own = machine::read_machines(&mut reading);
        machines.retain(|m| own.iter().all(|o| o.id != m.id));
        machines.extend(own);
        files.push(Opened { reading, links: Vec::new() });
    }
    let inside = |folder: &'static str| {
        let prefix = format!("{folder}/");
        snapshot.texts.keys().filter_map(move |path| {
            let stem = path.strip_prefix(&prefix)?.strip_suffix(".toml")?;
            Some((path.as_str(), stem.to_owned()))
        })
    };
    for (path, _) in inside("size-tables") {
        let Some(mut reading) = open(path) else { continue };
        match parse_size_table(reading.file, reading.text) {
            Ok((own, warnings)) => {
                sizes = sizes.merged_with(&own);
                reading.faults.extend(warnings);
            }
            Err(found) => reading.faults.extend(found),
        }
        files.push(Opened { reading, links: Vec::new() });
    }
    let mut swatches = BTreeMap::new();
    for (path, id) in inside("swatches") {
        let Some(mut reading) = open(path) else { continue };
        let (found, machine) = swatch::read_swatches(&mut reading);
        known.entry(Kind::Swatch).or_default().insert(id.clone());
        swatches.extend(found.map(|found| (id, found)));
        let link = |field: crate::field::Field<String>| Link {
            kind: Kind::Machine,
            id: field.get_ref().clone(),
            span: field.span(),
        };
        files.push(Opened { reading, links: machine.map(link).into_iter().collect() });
    }
    let mut yarns = BTreeMap::new();
    for (path, id) in inside("yarns") {
        let Some(mut reading) = open(path) else { continue };
        let (found, fields) = yarn::read_yarn(&mut reading);
        known.entry(Kind::Yarn).or_default().insert(id.clone());
        yarns.extend(found.map(|found| (id, found)));
        let links = fields
            .iter()
            .map(|f| Link { kind: Kind::Swatch, id: f.get_ref().clone(), span: f.span() })
            .collect();
        files.push(Opened { reading, links });
    }
    let mut contents = Contents {
        settings,
        yarns,
        remnants: Vec::new(),
        people: Vec::new(),
        gifts: Vec::new(),
        records: Vec::new(),
        reservations: Vec::new(),
        swatches,
        machines,
        sizes,
    };
    if let Some(mut reading) = open("stash.toml") {
        let entries = stash_file::read(&mut reading);
        contents.remnants = keep(entries, Some(Kind::Remnant), reading, &mut files, &mut known);
    }
    if let Some(mut reading) = open("people.toml") {
        let entries = people_file::read(&mut reading);
        contents.people = keep(entries, Some(Kind::Person), reading, &mut files, &mut known);
    }
    if let Some(mut reading) = open("gifts.toml") {
        let entries = gifts_file::read(&mut reading);
        contents.gifts = keep(entries, Some(Kind::Gift), reading, &mut files, &mut known);
    }
    if let Some(mut reading) = open("records.toml") {
        let entries = records_file::read(&mut reading);
        contents.records = keep(entries, None, reading, &mut files, &mut known);
    }
    if let Some(mut reading) = open("plan.toml") {
        let entries = plan_file::read(&mut reading);
        contents.reservations = keep(entries, None, reading, &mut files, &mut known);
    }
    let garments = shipped_plugin_ids().into_iter().map(str::to_owned);
    let own = folder.garments().map(|garments| plugin_folders_in(&garments));
    known.insert(Kind::Garment, garments.chain(own.into_iter().flatten()).collect());
    known.insert(Kind::Machine, contents.machines.iter().map(|m| m.id.clone()).collect());
    let names = contents.sizes.sizes().iter().flat_map(|s| s.aliases.iter().chain([&s.id]));
    known.insert(Kind::Size, names.map(|id| id.to_string()).collect());
    for file in files {
        faults.extend(linked(file, &known));
    }
    faults.extend(overdrawn(&contents));
    (contents, faults)
}

fn keep<'a, T>(
    entries: Entries<T>,
    kind: Option<Kind>,
    reading: Reading<'a>,
    files: &mut Vec<Opened<'a>>,
    known: &mut BTreeMap<Kind, BTreeSet<String>>,
) -> Vec<T> {
    if let Some(kind) = kind {
        known.entry(kind).or_default().extend(entries.ids);
    }
    files.push(Opened { reading, links: entries.links });
    entries.sound
}

/// The faults of a file, with those of words that point to nothing, in the order of the file.
fn linked(mut file: Opened<'_>, known: &BTreeMap<Kind, BTreeSet<String>>) -> Vec<Diagnostic> {
    let none = BTreeSet::new();
    for link in file.links {
        let ids = known.get(&link.kind).unwrap_or(&none);
        if ids.contains(&link.id) {
            continue;
        }
        let (what, home) = link.kind.words();
        let any = (link.kind == Kind::Garment).then_some(GarmentChoice::ANY);
        let hint = match nearest(&link.id, ids.iter().map(String::as_str).chain(any)) {
            Some(near) => format!("did you mean `{near}`?"),
            None => home.to_owned(),
        };
        let fault = Diagnostic::error(Code::Unknown, format!("there is no {what} `{}`", link.id));
        file.reading.fault(&toml::Spanned::new(link.span, ()), fault.hint(hint));
    }
    let mut faults: Vec<Diagnostic> = file.reading.faults.into_iter().collect();
    faults.sort_by_key(|fault| fault.place.as_ref().map(|place| (place.line, place.column)));
    faults
}

/// More is reserved of a remnant than there is: the knitter used some, or weighed again.
fn overdrawn(contents: &Contents) -> Vec<Diagnostic> {
    let reserved = contents.reserved_g();
    let over = contents.remnants.iter().filter_map(|remnant| {
        let reserved = *reserved.get(remnant.id.as_str())?;
        // A tenth of a gram is what a plan's own rounding may add.
        (reserved > remnant.weight.grams() + 0.1).then(|| {
            let fault = format!(
                "remnant `{}` weighs {}, but {reserved:.1} g of it are reserved",
                remnant.id, remnant.weight
            );
            Diagnostic::warning(Code::Overdrawn, fault)
                .hint("plan again, or take reservations out of plan.toml")
        })
    });
    over.collect()
}
