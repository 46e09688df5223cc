//! How a yarn is knitted, before anything is learnt of it: at its own swatch, a swatch of the same
//! thickness, or an estimate from thickness alone. And what it is called where weighings are held together.

use knit::estimate::{Id, THICKNESS_SPREAD};
use knit::machine::Machine;
use knit::stash::{Contents, FinishedPiece, NamedSwatches, Yarn};
use knit::swatch::SwatchSet;
use report::plan_words::unswatched;
use units::YarnCount;

/// A machine and what is known of a thickness of yarn on it.
#[derive(Clone, Debug)]
pub(crate) struct Setup {
    /// Id of the swatch; `None`: estimated.
    pub swatch: Option<String>,
    pub machine: Machine,
    pub file: NamedSwatches,
}

/// A bed knits yarns from half to twice its own thickness (common practice).
const BED_RANGE: f64 = 2.0;

/// The yarn that suits a pitch: the worsted count is the square of needles per inch over nine
/// (Spencer, *Knitting Technology*). `None` for a bed that no knitting yarn suits.
fn yarn_for(machine: &Machine) -> Option<YarnCount> {
    let per_inch = 25.4 / machine.pitch_mm;
    YarnCount::from_worsted(per_inch * per_inch / 9.0).ok()
}

/// How a yarn is knitted, before anything is learnt; `None`: no bed at hand takes it.
pub(crate) fn setup_of_yarn(contents: &Contents, yarn: &Yarn) -> Option<Setup> {
    setup_of(contents, &beds(contents), yarn)
}

pub(crate) fn setup_of(contents: &Contents, beds: &[&Machine], yarn: &Yarn) -> Option<Setup> {
    let own = own_swatch(contents, beds, yarn).or_else(|| {
        let like = |s: &Swatched<'_>| s.1.set.yarn.knits_like(yarn.count);
        nearest(yarn.count, swatched(contents, beds).filter(like))
    });
    if let Some((id, file, machine)) = own {
        let swatch = Some(id.to_owned());
        return Some(Setup { swatch, machine: machine.clone(), file: file.clone() });
    }
    let (machine, _) = beds
        .iter()
        .filter_map(|bed| Some((*bed, yarn_for(bed)?.apart(yarn.count))))
        .filter(|(_, apart)| *apart <= BED_RANGE)
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    // The knitter's own hand on that bed says more than thickness alone.
    let known =
        nearest(yarn.count, swatched(contents, beds).filter(|(_, _, bed)| bed.id == machine.id));
    let from = known.map(|(_, file, _)| &file.set);
    let set = SwatchSet::estimated(yarn.count, yarn.name.clone(), from);
    let file = NamedSwatches {
        name: yarn.name.clone(),
        machine: Some(machine.id.clone()),
        set: set.named(&unswatched_id(&yarn.id)),
        warnings: unswatched(&yarn.name).into(),
    };
    Some(Setup { swatch: None, machine: machine.clone(), file })
}

/// A gauge that a piece was knitted to and that is no more: its swatch was knitted anew or taken away, or the
/// guess at a yarn has given way to a swatch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Former {
    /// The swatch of that id, as it was.
    Swatch(String),
    /// The guess at the yarn of that id.
    Guess(String),
}

impl Former {
    const OF_SWATCH: &str = "former swatch ";
    const OF_GUESS: &str = "former guess at ";

    /// The one of a record.
    pub fn of(record: &FinishedPiece) -> Former {
        match &record.swatch {
            Some(id) => Former::Swatch(id.clone()),
            None => Former::Guess(record.yarn.clone()),
        }
    }

    /// The guess at a yarn as long as it has no swatch.
    pub fn guess(contents: &Contents, yarn: &str) -> Option<SwatchSet> {
        let setup = setup_of_yarn(contents, contents.yarns.get(yarn)?)?;
        setup.swatch.is_none().then_some(setup.file.set)
    }

    /// What a loop reckoned from it may be off by because of it, as a share: of a swatch that is no more, what
    /// a usual fabric's shape leaves open (28 x 40 to 10 cm).
    pub fn spread(&self) -> f64 {
        match self {
            Former::Swatch(_) => 0.02,
            Former::Guess(_) => THICKNESS_SPREAD,
        }
    }

    /// What it is called where weighings are held together.
    pub fn id(&self) -> Id {
        match self {
            Former::Swatch(id) => format!("{}{id}", Former::OF_SWATCH).into(),
            Former::Guess(yarn) => format!("{}{yarn}", Former::OF_GUESS).into(),
        }
    }

    /// The one that is called so.
    pub fn named(id: &str) -> Option<Former> {
        let swatch = id.strip_prefix(Former::OF_SWATCH).map(|id| Former::Swatch(id.to_owned()));
        let guess = || id.strip_prefix(Former::OF_GUESS).map(|id| Former::Guess(id.to_owned()));
        swatch.or_else(guess)
    }
}

/// What the gauge of a yarn without a swatch is called.
fn unswatched_id(yarn: &str) -> String {
    format!("no swatch of {yarn}")
}

/// The beds at hand: the one in the settings, those of the knitters and of the swatches; where nothing says,
/// any.
pub(crate) fn beds(contents: &Contents) -> Vec<&Machine> {
    let named = |machine: &&Machine| {
        contents.settings.machine.as_deref() == Some(machine.id.as_str())
            || contents.knitters.iter().any(|knitter| knitter.machines.contains(&machine.id))
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

pub(crate) fn own_swatch<'a>(
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

/// What a yarn is called where weighings are held together. Yarns that share a swatch are one yarn in
/// several colours: they go by the first of them.
pub(crate) fn yarn_id(contents: &Contents, yarn: &str) -> Id {
    let own = contents.yarns.get(yarn).map_or(&[][..], |yarn| yarn.swatches.as_slice());
    let shares = |other: &&Yarn| other.swatches.iter().any(|id| own.contains(id));
    let first = contents.yarns.values().find(shares);
    first.map_or(yarn, |first| first.id.as_str()).into()
}

/// The same of the yarn that a swatch is of.
pub(crate) fn swatch_yarn(contents: &Contents, swatch: &str) -> Id {
    let of = contents.yarns.values().find(|yarn| yarn.swatches.iter().any(|id| id == swatch));
    match of {
        Some(yarn) => yarn_id(contents, &yarn.id),
        None => format!("yarn of swatch {swatch}").into(),
    }
}
