use std::collections::{BTreeMap, BTreeSet};

use super::folder::{Folder, SETTINGS, Snapshot};
use super::reading::{Entries, FileLink, LinkKind};
use super::{
    gifts_file, knitters_file, people_file, plan_file, records_file, settings_file, stash_file,
};
use crate::field::Reading;
use crate::plugin_folder::own_measures_in;
use crate::{
    default_machines, default_size_table, default_times, machine, parse_size_table_over,
    plugin_folders_in, shipped_plugin_ids, swatch, times, yarn,
};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::body::{Measures, SizeTable};
use knit::estimate::TimeTable;
use knit::machine::Machine;
use knit::stash::{Contents, GarmentChoice, GiftStage, NamedSwatches, Settings, Yarn};

/// A file being read, the names it gives, and where it points.
struct Opened<'a> {
    path: &'a str,
    reading: Reading<'a>,
    own: Vec<FileLink>,
    links: Vec<FileLink>,
}

impl<'a> Opened<'a> {
    /// A file that gives no names within it.
    fn pointing((path, reading): (&'a str, Reading<'a>), links: Vec<FileLink>) -> Self {
        Opened { path, reading, own: Vec::new(), links }
    }
}

/// The files of a workspace, as far as they are read.
struct Loading<'a> {
    snapshot: &'a Snapshot,
    /// By path, how a file is named to the knitter.
    shown: &'a BTreeMap<&'a str, String>,
    files: Vec<Opened<'a>>,
    /// What words may point to.
    known: BTreeMap<LinkKind, BTreeSet<String>>,
    /// What can't be said to be there or not, since what tells of it can't be read.
    unread: BTreeSet<LinkKind>,
    /// Those that are of no file that was read.
    faults: Diagnostics,
}

/// Reads all files of a workspace and checks them against each other. The contents are what is
/// sound; the diagnostics are everything that is not.
pub(super) fn load(folder: &Folder, snapshot: &Snapshot) -> (Contents, Diagnostics) {
    loaded(folder, snapshot, &mut |_, _| {})
}

/// As [`load`], with every word that names something in the workspace, be it where it has that name
/// or where it is pointed to: by the path of its file.
pub(super) fn load_with_words(
    folder: &Folder,
    snapshot: &Snapshot,
) -> (Contents, Vec<(String, FileLink)>, Diagnostics) {
    let mut words = Vec::new();
    let (contents, faults) = loaded(folder, snapshot, &mut |path, word| {
        words.push((path.to_owned(), word.clone()));
    });
    (contents, words, faults)
}

/// As [`load`]; each word that names something is shown to `word`, with the path of its file.
fn loaded(
    folder: &Folder,
    snapshot: &Snapshot,
    word: &mut dyn FnMut(&str, &FileLink),
) -> (Contents, Diagnostics) {
    let shown: BTreeMap<&str, String> =
        snapshot.texts.keys().map(|path| (path.as_str(), folder.shown(path))).collect();
    let mut loading = Loading::new(snapshot, &shown);
    let mut sizes = loading.or_told(default_size_table()).unwrap_or_default();
    let mut machines = loading.or_told(default_machines()).unwrap_or_default();
    let mut times = loading.or_told(default_times()).unwrap_or_default();
    let settings = loading.settings();
    loading.own_machines(&mut machines);
    loading.own_sizes(&mut sizes);
    loading.own_times(&mut times);
    let measures = with_measures_of_garments(folder, &sizes);
    let records = loading.entries("records.toml", None, records_file::read);
    let (records, record_lines) = records.into_iter().unzip();
    let contents = Contents {
        settings,
        swatches: loading.swatches(),
        yarns: loading.yarns(),
        remnants: loading.entries("stash.toml", Some(LinkKind::Remnant), stash_file::read),
        people: loading.entries("people.toml", Some(LinkKind::Person), |reading| {
            people_file::read(reading, &measures, &sizes)
        }),
        knitters: loading.entries("knitters.toml", Some(LinkKind::Knitter), knitters_file::read),
        gifts: loading.entries("gifts.toml", Some(LinkKind::Gift), |reading| {
            gifts_file::read(reading, &sizes)
        }),
        records,
        record_lines,
        reservations: loading.entries("plan.toml", None, plan_file::read),
        machines,
        sizes,
        times,
        measures,
    };
    loading.know(folder, &contents);
    let Loading { files, known, unread, mut faults, .. } = loading;
    for file in files {
        file.own.iter().chain(&file.links).for_each(|own| word(file.path, own));
        faults.extend(linked(file, &known, &unread));
    }
    faults.extend(overdrawn(&contents));
    faults.extend(left_aside(&contents));
    faults.extend(called_as_sizes(&contents));
    (contents, faults)
}

impl<'a> Loading<'a> {
    fn new(snapshot: &'a Snapshot, shown: &'a BTreeMap<&'a str, String>) -> Self {
        let mut known: BTreeMap<LinkKind, BTreeSet<String>> = BTreeMap::new();
        let mut faults = snapshot.faults.clone();
        faults.extend(snapshot.unreadable.values().cloned());
        let unread = snapshot.unreadable.keys().filter_map(|path| told_in(path)).collect();
        for path in snapshot.unreadable.keys() {
            // It is there, so nothing that points to it points to nothing.
            let id = path.rsplit('/').next().and_then(|name| name.strip_suffix(".toml"));
            for kind in [LinkKind::Yarn, LinkKind::Swatch] {
                known.entry(kind).or_default().extend(id.map(str::to_owned));
            }
        }
        Loading { snapshot, shown, files: Vec::new(), known, unread, faults }
    }

    /// What is built in; its faults, which a sound build has none of, are told.
    fn or_told<T>(&mut self, built_in: Result<T, Diagnostics>) -> Option<T> {
        built_in.map_err(|found| self.faults.extend(found)).ok()
    }

    fn open(&self, path: &str) -> Option<(&'a str, Reading<'a>)> {
        let (path, text) = self.snapshot.texts.get_key_value(path)?;
        Some((path, Reading::new(self.shown.get(path.as_str())?, text)))
    }

    /// The files of a folder, each with its name without the ending.
    fn inside(&self, folder: &str) -> Vec<((&'a str, Reading<'a>), String)> {
        let prefix = format!("{folder}/");
        let files = self.snapshot.texts.keys().filter_map(|path| {
            let stem = path.strip_prefix(&prefix)?.strip_suffix(".toml")?;
            Some((self.open(path)?, stem.to_owned()))
        });
        files.collect()
    }

    fn settings(&mut self) -> Settings {
        let Some(mut file) = self.open(SETTINGS) else { return Settings::default() };
        let (settings, links) = settings_file::read(&mut file.1);
        self.files.push(Opened::pointing(file, links));
        settings
    }

    fn own_machines(&mut self, machines: &mut Vec<Machine>) {
        let Some(mut file) = self.open("machines.toml") else { return };
        let own = machine::read_machines(&mut file.1);
        machines.retain(|m| own.iter().all(|o| o.id != m.id));
        machines.extend(own);
        self.files.push(Opened::pointing(file, Vec::new()));
    }

    fn own_times(&mut self, times: &mut TimeTable) {
        let Some(mut file) = self.open("times.toml") else { return };
        let own = times::read_times(&mut file.1);
        *times = TimeTable::new(times.rows().cloned().chain(own));
        self.files.push(Opened::pointing(file, Vec::new()));
    }

    fn own_sizes(&mut self, sizes: &mut SizeTable) {
        for (mut file, _) in self.inside("size-tables") {
            let reading = &mut file.1;
            match parse_size_table_over(sizes.known(), reading.file, reading.text) {
                Ok((own, warnings)) => {
                    *sizes = sizes.merged_with(&own);
                    reading.faults.extend(warnings);
                }
                Err(found) => {
                    reading.faults.extend(found);
                    self.unread.insert(LinkKind::Size);
                }
            }
            self.files.push(Opened::pointing(file, Vec::new()));
        }
    }

    fn swatches(&mut self) -> BTreeMap<String, NamedSwatches> {
        let mut swatches = BTreeMap::new();
        for (mut file, id) in self.inside("swatches") {
            let (found, machine) = swatch::read_swatches(&mut file.1);
            self.known.entry(LinkKind::Swatch).or_default().insert(id.clone());
            swatches.extend(found.map(|mut found| {
                found.set = found.set.named(&id);
                (id, found)
            }));
            let links =
                machine.iter().map(|field| FileLink::to(LinkKind::Machine, field)).collect();
            self.files.push(Opened::pointing(file, links));
        }
        swatches
    }

    fn yarns(&mut self) -> BTreeMap<String, Yarn> {
        let mut yarns = BTreeMap::new();
        for (mut file, id) in self.inside("yarns") {
            let (found, fields) = yarn::read_yarn(&mut file.1);
            self.known.entry(LinkKind::Yarn).or_default().insert(id.clone());
            yarns.extend(found.map(|found| (id, found)));
            let links = fields.iter().map(|field| FileLink::to(LinkKind::Swatch, field)).collect();
            self.files.push(Opened::pointing(file, links));
        }
        yarns
    }

    /// The sound entries of a file; their ids are what words of that kind may point to.
    fn entries<T>(
        &mut self,
        path: &str,
        kind: Option<LinkKind>,
        read: impl Fn(&mut Reading<'_>) -> Entries<T>,
    ) -> Vec<T> {
        let Some((path, mut reading)) = self.open(path) else { return Vec::new() };
        let entries = read(&mut reading);
        let mut own = Vec::new();
        if let Some(kind) = kind {
            if entries.ids.is_empty() && reading.faults.has_errors() {
                self.unread.insert(kind);
            }
            let known = self.known.entry(kind).or_default();
            known.extend(entries.ids.iter().map(|(id, _)| id.clone()));
            known.extend(entries.pieces);
            let named = entries.ids.into_iter();
            own.extend(named.map(|(id, at)| {
                let (span, word) = (at.clone(), at);
                FileLink { kind, id, span, word, way_out: None }
            }));
        }
        self.files.push(Opened { path, reading, own, links: entries.links });
        entries.sound
    }

    /// Notes the garments, machines and sizes that words may point to.
    fn know(&mut self, folder: &Folder, contents: &Contents) {
        let garments = shipped_plugin_ids().into_iter().map(str::to_owned);
        let own = folder.garments().map(|garments| plugin_folders_in(&garments));
        let garments = garments.chain(own.into_iter().flatten()).collect();
        let machines = contents.machines.iter().map(|m| m.id.clone()).collect();
        let names = contents.sizes.sizes().iter().flat_map(|s| s.aliases.iter().chain([&s.id]));
        let sizes = names.map(|id| id.to_string()).collect();
        self.known.extend([
            (LinkKind::Garment, garments),
            (LinkKind::Machine, machines),
            (LinkKind::Size, sizes),
        ]);
    }
}

/// The measures of the sizes, and those that the workspace's garments make known. A garment whose
/// measures can't be is told of where it is loaded; of two that mean different things by one name the
/// first counts here, by the names of their folders, and the other won't take it for its own.
fn with_measures_of_garments(folder: &Folder, sizes: &SizeTable) -> Measures {
    let mut measures = sizes.known().clone();
    let Some(garments) = folder.garments() else { return measures };
    for name in plugin_folders_in(&garments) {
        for own in own_measures_in(&garments.join(name)) {
            // Lines are the garment's matter.
            let _ = measures.add(own.spec);
        }
    }
    measures
}

/// What a file or a folder tells of, alone or first of all.
fn told_in(path: &str) -> Option<LinkKind> {
    match path {
        "people.toml" => Some(LinkKind::Person),
        "knitters.toml" => Some(LinkKind::Knitter),
        "gifts.toml" => Some(LinkKind::Gift),
        "stash.toml" => Some(LinkKind::Remnant),
        "yarns" => Some(LinkKind::Yarn),
        "swatches" => Some(LinkKind::Swatch),
        path if path.starts_with("size-tables") => Some(LinkKind::Size),
        _ => None,
    }
}

/// The faults of a file, with those of words that point to nothing, in the order of the file. Where
/// what they point to can't be read, that alone is told.
fn linked(
    mut file: Opened<'_>,
    known: &BTreeMap<LinkKind, BTreeSet<String>>,
    unread: &BTreeSet<LinkKind>,
) -> Vec<Diagnostic> {
    let none = BTreeSet::new();
    let anything =
        |kind| matches!(kind, LinkKind::Wearer | LinkKind::KeptFor | LinkKind::KnittedIn);
    let sure = |link: &FileLink| !anything(link.kind) && !unread.contains(&link.kind);
    for link in file.links.into_iter().filter(sure) {
        let ids = known.get(&link.kind).unwrap_or(&none);
        if ids.contains(&link.id) {
            continue;
        }
        let (what, home) = link.kind.words();
        let any = (link.kind == LinkKind::Garment).then_some(GarmentChoice::ANY);
        let hint = match nearest(&link.id, ids.iter().map(String::as_str).chain(any)) {
            Some(near) => format!("did you mean `{near}`?"),
            None => home.to_owned(),
        };
        let fault = Diagnostic::error(Code::Unknown, format!("there is no {what} `{}`", link.id))
            .hint(hint)
            .maybe_hint(link.way_out);
        file.reading.fault(&toml::Spanned::new(link.span, ()), fault);
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
            let of_it = contents.reservations.iter().filter(|r| r.remnant == remnant.id);
            let shares: Vec<String> = of_it
                .clone()
                .map(|r| format!("{} for the {} of {}", r.weight, r.section, r.gift))
                .collect();
            let mut gifts: Vec<&str> = of_it.map(|r| r.gift.as_str()).collect();
            gifts.dedup();
            Diagnostic::warning(Code::Overdrawn, fault).context(shares.join(", ")).hint(format!(
                "plan again (`oddments plan --again`), free what is set aside of it (`oddments stash \
                 change {} --free`), or all that is for one gift: `oddments gifts free {}`",
                remnant.id,
                gifts.join("` or `oddments gifts free ")
            ))
        })
    });
    over.collect()
}

/// Yarn is still set aside for a gift that needs none: someone wrote its state by hand.
fn left_aside(contents: &Contents) -> Vec<Diagnostic> {
    let over = contents.gifts.iter().filter(|gift| gift.stage.is_over());
    let left = over.filter_map(|gift| {
        let grams: f64 = contents.set_aside(&gift.id).map(|r| r.weight.grams()).sum();
        (grams > 0.0).then(|| {
            let fault = format!(
                "`{}` is {}, but {grams:.1} g are set aside for it",
                gift.id,
                gift.stage.name()
            );
            let command = if gift.stage == GiftStage::Done { "done" } else { "give-up" };
            Diagnostic::warning(Code::InUse, fault)
                .hint(format!("`oddments gifts {command} {}` frees them", gift.id))
        })
    });
    left.collect()
}

/// People whose name is a size's: someone wrote it by hand. A record of that name is of the person.
fn called_as_sizes(contents: &Contents) -> Vec<Diagnostic> {
    let called = contents.people.iter().filter(|p| contents.sizes.get(&p.name).is_some());
    let told = called.map(|person| {
        let fault = format!("`{}` is a size, and someone is called so in people.toml", person.name);
        Diagnostic::warning(Code::Name, fault)
            .hint("wherever a size or a person can be named the person is meant: rename them")
    });
    told.collect()
}
