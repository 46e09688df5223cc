use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use super::part_shelves::{part_names, part_shelves, with_parts};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::body::{Measure, Size, SizeTable};
use knit::estimate::TimeTable;
use knit::machine::Machine;
use knit::stash::{NamedSwatches, Reserve, Settings};
use knit::working_time::WorkingTime;
use script::{Declared, GarmentSource, Manifest, Plugin};
use store::workspace::Contents;
use units::Mass;

/// Files of the user's own that stand in for, or add to, what is built in.
#[derive(Clone, Debug, Default)]
pub struct WorkbenchSources {
    pub size_table: Option<PathBuf>,
    pub machines: Option<PathBuf>,
    /// A folder of garment folders, looked in before the shipped ones.
    pub garments: Option<PathBuf>,
}

/// Everything a use case needs to hand: size table, machine profiles, where garments are.
#[derive(Clone, Debug)]
pub struct Workbench {
    pub sizes: SizeTable,
    pub machines: Vec<Machine>,
    /// How long work takes whoever knits.
    pub working: WorkingTime,
    /// How whoever knits guards against running out of yarn.
    pub reserve: Reserve,
    /// What the scale shows of whoever knits.
    pub scale_step: Mass,
    garments: Option<PathBuf>,
    /// The shipped garments loaded so far, for these sizes: they can't change while the program runs.
    shipped: Arc<Mutex<BTreeMap<String, Plugin>>>,
    /// From the user's files.
    pub warnings: Diagnostics,
}

/// What a workbench begins with, before files that are named: built in, or of a workspace.
#[derive(Debug)]
pub(super) struct Base {
    pub sizes: SizeTable,
    pub machines: Vec<Machine>,
    pub times: TimeTable,
}

impl Base {
    pub fn of(contents: &Contents) -> Base {
        Base {
            sizes: contents.sizes.clone(),
            machines: contents.machines.clone(),
            times: contents.times.clone(),
        }
    }
}

pub(super) const DEFAULT_MACHINE: &str = "standard";

/// Pitches that differ by less are the same, rounded otherwise.
const SAME_PITCH_MM: f64 = 0.05;

impl Workbench {
    /// # Errors
    /// All faults of all files named.
    pub fn open(sources: &WorkbenchSources) -> Result<Workbench, Diagnostics> {
        let sizes = store::default_size_table()?;
        let (machines, times) = (store::default_machines()?, store::default_times()?);
        Workbench::open_over(Base { sizes, machines, times }, sources)
    }

    /// As [`open`](Self::open), with something else in place of what is built in.
    pub(super) fn open_over(
        base: Base,
        sources: &WorkbenchSources,
    ) -> Result<Workbench, Diagnostics> {
        let Base { mut sizes, mut machines, times } = base;
        let mut faults = Diagnostics::new();
        let mut warnings = Diagnostics::new();
        if let Some(path) = &sources.size_table {
            match read(path)
                .and_then(|(name, text)| store::parse_size_table_over(sizes.known(), &name, &text))
            {
                Ok((own, warned)) => {
                    sizes = sizes.merged_with(&own);
                    warnings.extend(warned);
                }
                Err(found) => faults.extend(found),
            }
        }
        if let Some(path) = &sources.machines {
            match read(path).and_then(|(name, text)| store::parse_machines(&name, &text)) {
                Ok(own) => {
                    machines.retain(|m| own.iter().all(|o| o.id != m.id));
                    machines.extend(own);
                }
                Err(found) => faults.extend(found),
            }
        }
        faults.into_result(Workbench {
            sizes,
            machines,
            working: WorkingTime::of_anybody(times),
            reserve: Reserve::default(),
            scale_step: Settings::default().scale_step,
            garments: sources.garments.clone(),
            shipped: Arc::default(),
            warnings,
        })
    }

    /// # Errors
    /// No machine profile of that id.
    pub fn machine(&self, id: &str) -> Result<&Machine, Diagnostic> {
        let known = self.machines.iter().map(|m| m.id.as_str());
        self.machines.iter().find(|m| m.id == id).ok_or_else(|| {
            let hint = match nearest(id, known.clone()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("the profiles are {}", known.collect::<Vec<_>>().join(", ")),
            };
            Diagnostic::error(Code::NoMachine, format!("there is no machine profile `{id}`"))
                .hint(hint)
        })
    }

    /// A swatch file, or the demo swatch of the machine, and the machine it goes with: the one
    /// asked for, else the one the swatch names, else the standard bed.
    ///
    /// # Errors
    /// Faults in the file, an unknown machine, a machine without a demo swatch.
    pub fn swatch_and_machine(
        &self,
        swatch: Option<&Path>,
        machine: Option<&str>,
    ) -> Result<(NamedSwatches, &Machine), Diagnostics> {
        match swatch {
            Some(path) => {
                let (name, text) = read(path)?;
                self.with_swatch(store::parse_swatches(&name, &text)?, machine)
            }
            None => {
                let found = self.machine(machine.unwrap_or(DEFAULT_MACHINE))?;
                match self.demo_swatch(found)? {
                    Some(file) => Ok((file, found)),
                    None => Err(Diagnostic::error(
                        Code::NoSwatch,
                        format!("there is no demo swatch for machine `{}`", found.id),
                    )
                    .hint("knit one and name its file with --swatch")
                    .into()),
                }
            }
        }
    }

    /// The demo swatch of a machine, or of a shipped one with the same pitch.
    fn demo_swatch(&self, machine: &Machine) -> Result<Option<NamedSwatches>, Diagnostics> {
        if let Some(own) = store::demo_swatch(&machine.id)? {
            return Ok(Some(own));
        }
        let alike = |like: &&Machine| (like.pitch_mm - machine.pitch_mm).abs() < SAME_PITCH_MM;
        for like in store::default_machines()?.iter().filter(alike) {
            if let Some(mut swatch) = store::demo_swatch(&like.id)? {
                swatch.machine = Some(machine.id.clone());
                swatch.warnings.push(
                    Diagnostic::warning(
                        Code::OtherMachine,
                        format!(
                            "`{}` has no swatch: the demo swatch of a bed of the same pitch is taken",
                            machine.id
                        ),
                    )
                    .hint("knit a swatch on it: `oddments swatch add` keeps one"),
                );
                return Ok(Some(swatch));
            }
        }
        Ok(None)
    }

    /// As [`swatch_and_machine`](Self::swatch_and_machine), from the text of a swatch file.
    ///
    /// # Errors
    /// Faults in the text, an unknown machine.
    pub fn swatch_of_text(
        &self,
        name: &str,
        text: &str,
        machine: Option<&str>,
    ) -> Result<(NamedSwatches, &Machine), Diagnostics> {
        self.with_swatch(store::parse_swatches(name, text)?, machine)
    }

    /// A swatch and the machine it goes with: the one asked for, else the one it names, else the
    /// standard bed.
    ///
    /// # Errors
    /// No such machine.
    pub fn with_swatch(
        &self,
        mut file: NamedSwatches,
        machine: Option<&str>,
    ) -> Result<(NamedSwatches, &Machine), Diagnostics> {
        let id = machine.or(file.machine.as_deref()).unwrap_or(DEFAULT_MACHINE);
        let found = self.machine(id)?;
        if let Some(own) = &file.machine
            && own != id
        {
            file.warnings.push(
                Diagnostic::warning(
                    Code::OtherMachine,
                    format!("the swatch was knitted on `{own}`, not on `{id}`"),
                )
                .hint("another bed gives another gauge: knit a swatch on the one you use"),
            );
        }
        Ok((file, found))
    }

    /// Ids of all garments at hand, each once.
    pub fn garment_ids(&self) -> Vec<String> {
        let mut ids: Vec<String> =
            store::shipped_plugin_ids().into_iter().map(str::to_owned).collect();
        if let Some(folder) = &self.garments {
            ids.extend(store::plugin_folders_in(folder));
        }
        ids.sort();
        ids.dedup();
        ids
    }

    /// Where the garment of that name is taken from, or the part of the name `parts/NAME`. What is
    /// nearest to the user wins: a folder named outright or lying in the working folder, then one in
    /// the folder of own garments, then a shipped one.
    pub fn garment_home(&self, name: &str) -> Option<GarmentHome> {
        let here = Path::new(name);
        if let Some(part) = name.strip_prefix("parts/").filter(|part| script::is_garment_id(part)) {
            let own = self.garments.as_ref().map(|folder| folder.join(name));
            let folder = [Some(here.to_owned()), own].into_iter().flatten();
            return match folder.into_iter().find(|folder| store::is_part(folder)) {
                Some(folder) => Some(GarmentHome::Folder(folder)),
                None => store::shipped_part(part).is_some().then_some(GarmentHome::Shipped),
            };
        }
        if name.contains(['/', '\\']) || store::is_plugin(here) {
            return Some(GarmentHome::Folder(here.to_owned()));
        }
        let own = self.garments.as_ref().map(|folder| folder.join(name));
        if let Some(own) = own.filter(|folder| store::is_plugin(folder)) {
            return Some(GarmentHome::Folder(own));
        }
        store::is_shipped_plugin(name).then_some(GarmentHome::Shipped)
    }

    /// Says so when a garment of that name hides another, and names both places.
    pub fn garment_clash(&self, name: &str) -> Option<Diagnostic> {
        let Some(GarmentHome::Folder(taken)) = self.garment_home(name) else { return None };
        if name.contains(['/', '\\']) {
            return None;
        }
        let own = self.garments.as_ref().map(|folder| folder.join(name));
        let own = own.filter(|folder| *folder != taken && store::is_plugin(folder));
        let hidden = match own {
            Some(own) => own.display().to_string(),
            None if store::is_shipped_plugin(name) => {
                format!("the shipped garment (plugins/{name})")
            }
            None => return None,
        };
        let taken = taken.display();
        Some(
            Diagnostic::warning(
                Code::GarmentClash,
                format!("there are two garments `{name}`: {taken} is taken and hides {hidden}"),
            )
            .hint(format!("rename {taken} to have both")),
        )
    }

    /// The files of a garment, by id or from a folder (see [`garment_home`](Self::garment_home)), and of
    /// the parts it is made with.
    ///
    /// # Errors
    /// Nothing of that name, or a folder that can't be read.
    pub fn garment_source(&self, name: &str) -> Result<GarmentSource, Diagnostics> {
        let (source, shelves) = match self.garment_home(name) {
            Some(GarmentHome::Folder(folder)) => {
                let shelves = part_shelves(&folder, self.garments.as_deref());
                (Some(store::read_plugin_folder(&folder)?), shelves)
            }
            Some(GarmentHome::Shipped) => (store::shipped_plugin(name), Vec::new()),
            None => (None, Vec::new()),
        };
        if let Some(source) = source {
            return Ok(with_parts(source, &shelves)?);
        }
        Err({
            let of_a_part = name.starts_with("parts/");
            let known = match of_a_part {
                true => part_names(self.garments.as_deref()),
                false => self.garment_ids(),
            };
            let hint = match nearest(name, known.iter().map(String::as_str)) {
                Some(near) => format!("did you mean `{near}`?"),
                None if of_a_part => format!("the parts are {}", known.join(", ")),
                None => {
                    format!("the garments are {}; or name a garment's folder", known.join(", "))
                }
            };
            let noun = if of_a_part { "part" } else { "garment" };
            Diagnostic::error(Code::NoGarment, format!("there is no {noun} `{name}`"))
                .hint(hint)
                .into()
        })
    }

    /// Loads a garment by id, or from a folder (see [`garment_home`](Self::garment_home)). A shipped one is
    /// loaded once.
    ///
    /// # Errors
    /// Nothing of that name, or all faults of its manifest and sources.
    pub fn garment(&self, name: &str) -> Result<Plugin, Diagnostics> {
        match self.garment_home(name) {
            Some(GarmentHome::Shipped) => self.shipped_garment(name),
            _ => load(self.garment_source(name)?, &self.sizes),
        }
    }

    /// A garment whose home is known to be with the program.
    ///
    /// # Errors
    /// As [`garment`](Self::garment).
    pub(super) fn shipped_garment(&self, name: &str) -> Result<Plugin, Diagnostics> {
        // A panic while it was held leaves a map whole: insertions are single steps.
        let shipped = || self.shipped.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(plugin) = shipped().get(name) {
            return Ok(plugin.clone());
        }
        let plugin = load(self.garment_source(name)?, &self.sizes)?;
        shipped().insert(name.to_owned(), plugin.clone());
        Ok(plugin)
    }

    /// The machines that have a demo swatch, with it.
    ///
    /// # Errors
    /// As [`store::demo_swatch`].
    pub(super) fn demo_beds(&self) -> Result<Vec<(&Machine, NamedSwatches)>, Diagnostics> {
        let mut beds = Vec::new();
        for machine in &self.machines {
            beds.extend(store::demo_swatch(&machine.id)?.map(|swatch| (machine, swatch)));
        }
        Ok(beds)
    }

    /// The sizes as the garment takes them: with the measures it makes known, and with what goes with
    /// the measure that its sizes go by.
    pub fn sizes_for(&self, manifest: &Manifest) -> SizeTable {
        self.sizes_knowing(manifest).sized_by(&manifest.sized_by)
    }

    /// The sizes with the measures that the garment makes known: what people are held against.
    pub(super) fn sizes_knowing(&self, manifest: &Manifest) -> SizeTable {
        // A clash was told when the garment was loaded.
        self.sizes.knowing(&manifest.own_measures).unwrap_or_else(|_| self.sizes.clone())
    }

    /// A size most people could wear, to show what a garment is like.
    pub fn middle_size(&self) -> Option<&Size> {
        let sizes = self.sizes.sizes();
        self.sizes.get("women-m").or_else(|| sizes.get(sizes.len() / 2))
    }
}

/// Where a garment is taken from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GarmentHome {
    Shipped,
    Folder(PathBuf),
}

/// Loads a garment whose bodies come from `sizes`.
pub(super) fn load(source: GarmentSource, sizes: &SizeTable) -> Result<Plugin, Diagnostics> {
    let known: Vec<&str> = sizes.known().iter().map(Measure::name).collect();
    let plugin = Plugin::load(source, &known)?;
    match sizes.knowing(&plugin.manifest.own_measures) {
        Ok(_) => Ok(plugin),
        Err(found) => {
            let mut faults = Diagnostics::new();
            faults.extend(found.into_iter().map(|(name, fault)| {
                match plugin.declared_at(Declared::Name("own_measures", &name)) {
                    Some(place) => fault.at(place),
                    None => fault,
                }
            }));
            Err(faults)
        }
    }
}

fn read(path: &Path) -> Result<(String, String), Diagnostics> {
    Ok((path.display().to_string(), store::read_text(path)?))
}
