//! Which gauge each yarn is knitted at: its own swatch, a swatch of the same thickness, or an
//! estimate from thickness alone.

use std::collections::BTreeMap;

use crate::Workbench;
use diag::Diagnostics;
use knit::machine::Machine;
use knit::stash::NamedSwatches;
use knit::stash::Yarn;
use knit::swatch::SwatchSet;
use report::plan_words::{no_bed, unswatched};
use store::workspace::Contents;
use units::YarnCount;

/// A machine and what is known of a thickness of yarn on it.
#[derive(Clone, Debug)]
pub(crate) struct Setup {
    /// Id of the swatch; `None`: estimated.
    pub swatch: Option<String>,
    pub machine: Machine,
    pub file: NamedSwatches,
}

/// How each yarn is knitted, by id.
#[derive(Clone, Debug, Default)]
pub(crate) struct Setups {
    pub all: Vec<Setup>,
    /// Index into `all` by yarn; without the yarns that no machine at hand can knit.
    pub of_yarn: BTreeMap<String, usize>,
    pub warnings: Diagnostics,
}

/// A bed knits yarns from half to twice its own thickness (common practice).
const BED_RANGE: f64 = 2.0;

/// The yarn that suits a pitch: the worsted count is the square of needles per inch over nine
/// (Spencer, *Knitting Technology*). `None` for a bed that no knitting yarn suits.
fn yarn_for(machine: &Machine) -> Option<YarnCount> {
    let per_inch = 25.4 / machine.pitch_mm;
    YarnCount::from_worsted(per_inch * per_inch / 9.0).ok()
}

impl Setups {
    /// Of every yarn that some remnant is of, before any record.
    pub fn of(contents: &Contents) -> Setups {
        let in_stash = |yarn: &&Yarn| contents.remnants.iter().any(|r| r.yarn == yarn.id);
        Setups::of_yarns(contents, contents.yarns.values().filter(in_stash).collect())
    }

    /// Of every yarn that is known, used up or not, before any record.
    pub fn of_all_yarns(contents: &Contents) -> Setups {
        Setups::of_yarns(contents, contents.yarns.values().collect())
    }

    fn of_yarns(contents: &Contents, mut yarns: Vec<&Yarn>) -> Setups {
        let mut setups = Setups::default();
        let beds = beds(contents);
        // Yarns with a swatch of their own first: the others may share it.
        yarns.sort_by_key(|yarn| own_swatch(contents, &beds, yarn).is_none());
        for yarn in yarns {
            if let Some(index) = setups.find(contents, &beds, yarn) {
                setups.of_yarn.insert(yarn.id.clone(), index);
            }
        }
        setups
    }

    /// Reads off the finished pieces in a setup's yarns what they say of it.
    pub fn learn(&mut self, bench: &Workbench, contents: &Contents, index: usize) {
        let own = self.of_yarn.iter().filter(|(_, setup)| **setup == index);
        let yarns: Vec<&str> = own.map(|(yarn, _)| yarn.as_str()).collect();
        let setup = &mut self.all[index];
        let (records, warnings) =
            bench.piece_records(contents, &yarns, &setup.machine, &setup.file);
        setup.file.set = setup.file.set.clone().with_records(records);
        self.warnings.extend(warnings);
    }

    /// How a yarn is knitted, with what its records say.
    ///
    /// # Errors
    /// No remnant of it, or no bed that takes it.
    pub fn learnt(
        &mut self,
        bench: &Workbench,
        contents: &Contents,
        yarn: &str,
    ) -> Result<&Setup, Diagnostics> {
        let index = self.of_yarn.get(yarn).copied().ok_or_else(|| no_bed(yarn))?;
        self.learn(bench, contents, index);
        Ok(&self.all[index])
    }

    fn find(&mut self, contents: &Contents, beds: &[&Machine], yarn: &Yarn) -> Option<usize> {
        let own = own_swatch(contents, beds, yarn).or_else(|| {
            let like = |s: &Swatched<'_>| s.1.set.yarn.knits_like(yarn.count);
            nearest(yarn.count, swatched(contents, beds).filter(like))
        });
        if let Some((id, file, machine)) = own {
            return Some(self.put(Setup {
                swatch: Some(id.to_owned()),
                machine: machine.clone(),
                file: file.clone(),
            }));
        }
        let (machine, _) = beds
            .iter()
            .filter_map(|bed| Some((*bed, yarn_for(bed)?.apart(yarn.count))))
            .filter(|(_, apart)| *apart <= BED_RANGE)
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        // The knitter's own hand on that bed says more than thickness alone.
        let known = nearest(
            yarn.count,
            swatched(contents, beds).filter(|(_, _, bed)| bed.id == machine.id),
        );
        let from = known.map(|(_, file, _)| &file.set);
        let set = SwatchSet::estimated(yarn.count, yarn.name.clone(), from);
        let file = NamedSwatches {
            name: yarn.name.clone(),
            machine: Some(machine.id.clone()),
            set,
            warnings: unswatched(&yarn.name).into(),
        };
        Some(self.put(Setup { swatch: None, machine: machine.clone(), file }))
    }

    fn put(&mut self, setup: Setup) -> usize {
        let same = |other: &Setup| {
            setup.swatch.is_some()
                && other.swatch == setup.swatch
                && other.machine.id == setup.machine.id
        };
        self.all.iter().position(same).unwrap_or_else(|| {
            self.all.push(setup);
            self.all.len() - 1
        })
    }

    /// Whether a yarn can be a section of a garment graded on the setup.
    pub fn suits(&self, yarn: &Yarn, setup: usize) -> bool {
        let Some(own) = self.of_yarn.get(&yarn.id) else { return false };
        let wanted = &self.all[setup];
        *own == setup
            || (self.all[*own].machine.id == wanted.machine.id
                && wanted.file.set.yarn.knits_like(yarn.count))
    }
}

/// The beds the knitter has: the one in the settings and those of the swatches; where nothing says,
/// any.
fn beds(contents: &Contents) -> Vec<&Machine> {
    let named = |machine: &&Machine| {
        contents.settings.machine.as_deref() == Some(machine.id.as_str())
            || contents.swatches.values().any(|s| s.machine.as_deref() == Some(machine.id.as_str()))
    };
    let own: Vec<&Machine> = contents.machines.iter().filter(named).collect();
    if own.is_empty() { contents.machines.iter().collect() } else { own }
}

/// A swatch by its id, and the bed it was knitted on.
type Swatched<'a> = (&'a str, &'a NamedSwatches, &'a Machine);

fn swatched<'a>(
    contents: &'a Contents,
    beds: &'a [&'a Machine],
) -> impl Iterator<Item = Swatched<'a>> {
    contents.swatches.iter().filter_map(|(id, file)| {
        let wanted = file.machine.as_deref().or(contents.settings.machine.as_deref());
        let bed = beds.iter().find(|bed| wanted.is_none_or(|id| bed.id == id))?;
        Some((id.as_str(), file, *bed))
    })
}

fn own_swatch<'a>(
    contents: &'a Contents,
    beds: &'a [&'a Machine],
    yarn: &Yarn,
) -> Option<Swatched<'a>> {
    swatched(contents, beds).find(|(id, _, _)| yarn.swatches.iter().any(|own| own == id))
}

/// The swatch of the yarn nearest in thickness.
fn nearest<'a>(
    count: YarnCount,
    swatches: impl Iterator<Item = Swatched<'a>>,
) -> Option<Swatched<'a>> {
    let apart = |(_, file, _): &Swatched<'a>| file.set.yarn.apart(count);
    swatches.min_by(|a, b| apart(a).total_cmp(&apart(b)))
}
