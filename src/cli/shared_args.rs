//! Arguments that several commands share, and the words they take.

use std::fmt::Display;
use std::path::PathBuf;
use std::str::FromStr;

use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args as ClapArgs, ValueEnum};

use app::{Ask, Named, WorkbenchSources};
use diag::{Code, Diagnostic, Diagnostics};
use knit::stash::Words;
use report::Format;
use script::{FIX, IN_TURN};
use units::LengthUnit;

#[derive(ClapArgs, Debug, Clone)]
pub(super) struct WorkspaceArgs {
    /// The workspace; left out: the one this folder lies in
    #[arg(long, value_name = "FOLDER")]
    pub workspace: Option<PathBuf>,
}

/// What to grade, on what.
#[derive(ClapArgs, Debug)]
pub(super) struct WorkArgs {
    /// A garment's id, or its folder
    pub garment: String,
    /// Sizes: a list (m3-6,y4), a range (y4..women-l), a group (babies, children, women, men) or all
    #[arg(long, default_value = "all")]
    pub sizes: String,
    /// Machine profile: fine, standard, mid, bulky, or one of your own; left out: the workspace's,
    /// the swatch's own, or standard
    #[arg(long, value_name = "ID")]
    pub machine: Option<String>,
    /// The needles of the bed: how many about its centre (180), or the first and the last (L90-R95)
    #[arg(long, value_name = "NEEDLES")]
    pub needles: Option<String>,
    /// Needles that don't knit, with commas between: pieces are put where all do
    #[arg(long, value_name = "NEEDLES")]
    pub out_of_work: Option<String>,
    /// What is made by hand: rib (on a pair of needles, where the machine has no ribber), toe, grafting, with
    /// commas between; alone: all of it
    #[arg(long, value_name = "WHAT", num_args = 0..=1, require_equals = true, default_missing_value = "yes")]
    pub by_hand: Option<String>,
    /// A swatch of the workspace, or a swatch file; left out: the workspace's for the machine, or
    /// the demo swatch
    #[arg(long, value_name = "ID|FILE")]
    pub swatch: Option<String>,
    /// An option of the garment; may be given several times
    #[arg(long, value_name = "NAME=VALUE")]
    pub set: Vec<String>,
    /// A number that the garment would choose; may be given several times
    #[arg(long, value_name = "NAME=NUMBER")]
    pub fix: Vec<String>,
    /// A section from two or more balls in turn, with the rows of each: hat=4,4; may be given several
    /// times
    #[arg(long, value_name = "SECTION=ROWS,ROWS")]
    pub in_turn: Vec<String>,
    /// Made to measure: a body measure with its unit; may be given several times
    #[arg(long, value_name = "NAME=LENGTH", conflicts_with = "sizes")]
    pub measure: Vec<String>,
    /// Whom the measures are of
    #[arg(long, requires = "measure")]
    pub name: Option<String>,
    /// Made to measure for someone of the workspace: by what was measured, and by the size for the rest
    #[arg(long, value_name = "NAME", conflicts_with_all = ["sizes", "measure"])]
    pub person: Option<String>,
    #[command(flatten)]
    pub bench: BenchArgs,
}

impl WorkArgs {
    /// What is asked for. The garment and the swatch may be a folder and a file.
    pub fn ask(&self) -> Result<Ask, Diagnostics> {
        let measures = key_values(&self.measure, "--measure")?;
        if self.name.as_deref().is_some_and(|name| name.trim().is_empty()) {
            return Err(Diagnostic::error(Code::Usage, "--name is blank")
                .hint("say whom the measures are of")
                .into());
        }
        Ok(Ask {
            garment: Some(self.garment.clone()),
            machine: self.machine.clone(),
            needles: self.needles.clone(),
            out_of_work: self.out_of_work.clone(),
            by_hand: self.by_hand.clone(),
            sizes: self.person.is_none().then(|| self.sizes.clone()),
            person: self.person.clone(),
            swatch_id: self.swatch.clone(),
            options: options(&self.set, &self.fix, &self.in_turn)?,
            measures,
            name: self.name.clone(),
            ..Ask::default()
        })
    }
}

/// One size, said as the commands do that are about one.
#[derive(ClapArgs, Debug)]
pub(super) struct OneSizeArgs {
    /// One size, in place of --sizes
    #[arg(long, value_name = "SIZE", conflicts_with_all = ["sizes", "measure", "person"])]
    pub size: Option<String>,
}

impl OneSizeArgs {
    pub fn add_to(&self, ask: Ask) -> Ask {
        Ask { sizes: self.size.clone().or(ask.sizes), ..ask }
    }
}

/// What is chosen of a garment: options that `--set` names, numbers that `--fix` does, and sections that
/// `--in-turn` does.
pub(super) fn options(
    set: &[String],
    fix: &[String],
    in_turn: &[String],
) -> Result<Named, Diagnostics> {
    let mut faults = Diagnostics::new();
    let mut read = |texts, flag| {
        key_values(texts, flag).unwrap_or_else(|found| {
            faults.extend(found);
            Named::new()
        })
    };
    let mut all = read(set, "--set");
    let fixed = read(fix, "--fix");
    let turns = read(in_turn, "--in-turn");
    all.extend(turns.into_iter().map(|(name, rows)| (format!("{IN_TURN}{name}"), rows)));
    all.extend(fixed.into_iter().map(|(name, number)| (format!("{FIX}{name}"), number)));
    faults.into_result(all)
}

/// Splits `name=value` texts.
pub(super) fn key_values(texts: &[String], flag: &str) -> Result<Named, Diagnostics> {
    let mut faults = Diagnostics::new();
    let pairs = texts
        .iter()
        .filter_map(|text| match text.split_once('=') {
            Some((key, value)) => Some((key.trim().to_owned(), value.trim().to_owned())),
            None => {
                faults.push(
                    Diagnostic::error(Code::Usage, format!("`{flag} {text}` has no `=` in it"))
                        .hint(format!("write it like `{flag} name=value`")),
                );
                None
            }
        })
        .collect();
    faults.into_result(pairs)
}

/// Reads a whole number within bounds. What is said of anything else names them.
pub(super) fn whole<N>(
    least: N,
    most: N,
) -> impl Fn(&str) -> Result<N, String> + Clone + Send + Sync + 'static
where
    N: Copy + PartialOrd + Display + FromStr + Send + Sync + 'static,
{
    move |text| {
        let number = text.parse().ok().filter(|number| (least..=most).contains(number));
        number.ok_or_else(|| format!("write a whole number from {least} to {most}"))
    }
}

/// Reads a number with a decimal point or comma.
pub(super) fn number(text: &str) -> Result<f64, String> {
    units::number(text).map_err(|fault| format!("{}: {}", fault.message, fault.hint))
}

/// Files of your own.
#[derive(ClapArgs, Debug, Clone)]
pub(super) struct BenchArgs {
    /// Size table that replaces or adds sizes
    #[arg(long, value_name = "FILE")]
    pub size_table: Option<PathBuf>,
    /// Machine profiles that replace or add to the built-in ones
    #[arg(long, value_name = "FILE")]
    pub machines: Option<PathBuf>,
    /// Folder of garment folders of your own; where it has a garment of a shipped one's name, yours
    /// is taken, with a warning
    #[arg(long, value_name = "FOLDER")]
    pub garments: Option<PathBuf>,
    /// The workspace whose settings, sizes, machines, swatches and garments are used; left out: the
    /// one this folder lies in, if any
    #[arg(long, value_name = "FOLDER")]
    pub workspace: Option<PathBuf>,
}

impl From<&BenchArgs> for WorkbenchSources {
    fn from(args: &BenchArgs) -> Self {
        WorkbenchSources {
            size_table: args.size_table.clone(),
            machines: args.machines.clone(),
            garments: args.garments.clone(),
        }
    }
}

#[derive(ClapArgs, Debug)]
pub(super) struct RowArgs {
    /// How rows are written out
    #[arg(long, value_parser = row_format(), default_value = "table")]
    pub format: Format,
    /// Unit of length; left out: the workspace's, or cm
    #[arg(long, value_enum)]
    pub units: Option<Units>,
    /// Write to this file instead of standard output
    #[arg(long, value_name = "FILE")]
    pub output: Option<PathBuf>,
}

#[derive(ClapArgs, Debug)]
pub(super) struct PlainRowArgs {
    /// How rows are written out
    #[arg(long, value_parser = row_format(), default_value = "table")]
    pub format: Format,
    /// Write to this file instead of standard output
    #[arg(long, value_name = "FILE")]
    pub output: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Units {
    Cm,
    In,
    Both,
}

impl Units {
    /// The unit asked for, or the usual one.
    pub fn one(given: Option<Units>, usual: LengthUnit) -> Result<LengthUnit, Diagnostics> {
        match given {
            None => Ok(usual),
            Some(Units::In) => Ok(LengthUnit::In),
            Some(Units::Cm) => Ok(LengthUnit::Cm),
            Some(Units::Both) => {
                Err(Diagnostic::error(Code::Usage, "both units at once are for charts")
                    .hint("use --units cm or --units in here")
                    .into())
            }
        }
    }

    pub fn all(given: Option<Units>, usual: LengthUnit) -> Vec<LengthUnit> {
        match given {
            None => vec![usual],
            Some(Units::Cm) => vec![LengthUnit::Cm],
            Some(Units::In) => vec![LengthUnit::In],
            Some(Units::Both) => vec![LengthUnit::Cm, LengthUnit::In],
        }
    }
}

/// Whose words of the trade.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum WordChoice {
    Usual,
    American,
    British,
}

impl WordChoice {
    pub const fn words(self) -> Words {
        match self {
            WordChoice::Usual => Words::Usual,
            WordChoice::American => Words::American,
            WordChoice::British => Words::British,
        }
    }
}

/// The formats of rows, by the names they have for themselves.
fn row_format() -> impl TypedValueParser<Value = Format> {
    PossibleValuesParser::new(Format::ALL.map(Format::name))
        .try_map(|name| Format::named(&name).ok_or("no format of rows"))
}
