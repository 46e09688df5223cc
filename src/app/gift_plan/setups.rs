//! Which gauge each yarn is knitted at: its own swatch, a swatch of the same thickness, or an
//! estimate from thickness alone.

use std::collections::BTreeMap;

use crate::app::Workbench;
use crate::diag::Diagnostics;
use crate::knit::machine::Machine;
use crate::knit::stash::Yarn;
use crate::knit::swatch::SwatchSet;
use crate::store::SwatchFile;
use crate::store::workspace::Contents;

/// A machine and what is known of a thickness of yarn on it.
#[derive(Clone, Debug)]
pub(in crate::app) struct Setup {
    /// Id of the swatch; `None`: estimated.
    pub swatch: Option<String>,
    pub machine: Machine,
    pub file: SwatchFile,
}

/// How each yarn is knitted, by id.
#[derive(Clone, Debug, Default)]
pub(in crate::app) struct Setups {
    pub all: Vec<Setup>,
    /// Index into `all` by yarn.
    pub of_yarn: BTreeMap<String, usize>,
    /// Yarns that no machine at hand can knit.
    pub unsuited: Vec<String>,
    pub warnings: Diagnostics,
}

/// Yarns whose thickness differs by less than this factor knit to one gauge (common practice:
/// balls of one class differ so much among themselves).
const SAME_THICKNESS: f64 = 1.12;
/// A bed knits yarns from half to twice its own thickness (common practice).
const BED_RANGE: f64 = 2.0;

/// Tex that suits a pitch: the worsted count is the square of needles per inch over nine (Spencer,
/// *Knitting Technology*).
fn tex_for(machine: &Machine) -> f64 {
    let per_inch = 25.4 / machine.pitch_mm;
    885.812 / (per_inch * per_inch / 9.0)
}

/// How far two thicknesses are apart, as a factor of at least 1.
fn apart(a: f64, b: f64) -> f64 {
    if a > b { a / b } else { b / a }
}

impl Setups {
    /// Of every yarn that some remnant is of.
    pub fn of(bench: &Workbench, contents: &Contents) -> Setups {
        let mut setups = Setups::default();
        let beds = beds(contents);
        let mut yarns: Vec<&Yarn> = contents
            .yarns
            .values()
            .filter(|yarn| contents.remnants.iter().any(|r| r.yarn == yarn.id))
            .collect();
        // Yarns with a swatch of their own first: the others may share it.
        yarns.sort_by_key(|yarn| own_swatch(contents, &beds, yarn).is_none());
        for yarn in yarns {
            match setups.find(contents, &beds, yarn) {
                Some(index) => {
                    setups.of_yarn.insert(yarn.id.clone(), index);
                }
                None => setups.unsuited.push(yarn.id.clone()),
            }
        }
        for (index, setup) in setups.all.iter_mut().enumerate() {
            let yarns: Vec<&str> = setups
                .of_yarn
                .iter()
                .filter(|(_, own)| **own == index)
                .map(|(id, _)| id.as_str())
                .collect();
            let (records, warnings) =
                bench.piece_records(contents, &yarns, &setup.machine, &setup.file);
            setups.warnings.extend(warnings);
            setup.file.set = setup.file.set.clone().with_records(records);
        }
        setups
    }

    fn find(&mut self, contents: &Contents, beds: &[&Machine], yarn: &Yarn) -> Option<usize> {
        let tex = yarn.count.tex();
        if let Some((id, file, machine)) = own_swatch(contents, beds, yarn) {
            return Some(self.put(Setup {
                swatch: Some(id.to_owned()),
                machine: machine.clone(),
                file: file.clone(),
            }));
        }
        let near = swatched(contents, beds)
            .filter(|(_, file, _)| apart(file.set.yarn.tex(), tex) <= SAME_THICKNESS)
            .min_by(|a, b| {
                apart(a.1.set.yarn.tex(), tex).total_cmp(&apart(b.1.set.yarn.tex(), tex))
            });
        if let Some((id, file, machine)) = near {
            return Some(self.put(Setup {
                swatch: Some(id.to_owned()),
                machine: machine.clone(),
                file: file.clone(),
            }));
        }
        let machine = beds
            .iter()
            .copied()
            .filter(|bed| apart(tex_for(bed), tex) <= BED_RANGE)
            .min_by(|a, b| apart(tex_for(a), tex).total_cmp(&apart(tex_for(b), tex)))?;
        // The knitter's own hand on that bed says more than thickness alone.
        let known =
            swatched(contents, beds).filter(|(_, _, bed)| bed.id == machine.id).min_by(|a, b| {
                apart(a.1.set.yarn.tex(), tex).total_cmp(&apart(b.1.set.yarn.tex(), tex))
            });
        let from = known.map(|(_, file, _)| &file.set);
        let set = SwatchSet::estimated(yarn.count, yarn.name.clone(), from);
        let file = SwatchFile {
            name: yarn.name.clone(),
            machine: Some(machine.id.clone()),
            set,
            warnings: Diagnostics::new(),
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
                && apart(wanted.file.set.yarn.tex(), yarn.count.tex()) <= SAME_THICKNESS)
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

/// Swatches with the bed each was knitted on.
fn swatched<'a>(
    contents: &'a Contents,
    beds: &'a [&'a Machine],
) -> impl Iterator<Item = (&'a str, &'a SwatchFile, &'a Machine)> {
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
) -> Option<(&'a str, &'a SwatchFile, &'a Machine)> {
    swatched(contents, beds).find(|(id, _, _)| yarn.swatches.iter().any(|own| own == id))
}
