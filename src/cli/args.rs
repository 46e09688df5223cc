//! The commands with their arguments and help. The words are the product's own; each command
//! carries an example.

use std::net::{IpAddr, Ipv4Addr};
use std::path::PathBuf;

use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args as ClapArgs, ColorChoice, Parser, Subcommand, ValueEnum};

use super::round_args::RoundArgs;
use super::shared_args::{
    BenchArgs, OneSizeArgs, PlainRowArgs, RowArgs, Units, WordChoice, WorkArgs, WorkspaceArgs,
    number, options, whole,
};
use super::stripes_args::StripesArgs;
use super::workspace_args::{
    GiftsCommand, InitArgs, KnittersCommand, PeopleCommand, SchemaArgs, StashCommand,
    SwatchCommand, UndoArgs, YarnCommand,
};
use app::{Ask, CarryKeys, LineNumbers, MOST_EXTRA_ROWS, Serving};
use clap_complete::Shell;
use diag::Diagnostics;
use knit::gift_plan::Sparing;
use knit::stash::Aim;
use report::Format;
use report::sheet::Paper;

/// Sizes knitted garments for hand-operated flat-bed knitting machines.
#[derive(Parser, Debug)]
#[command(
    name = "oddments",
    version,
    max_term_width = 100,
    after_help = "\
Without files of your own everything runs on what is built in: the shipped garments, size table,
machine profiles and a demo swatch. Begin with:

  oddments grade tam

The examples that each command's --help shows work in the demo workspace, which you make by

  oddments init skerry --demo"
)]
pub(super) struct Args {
    #[command(subcommand)]
    pub command: Command,
    /// Colour in what is told on standard error; auto: in a terminal, unless NO_COLOR is set
    #[arg(long, global = true, value_enum, default_value_t, value_name = "WHEN")]
    #[arg(hide_possible_values = true, hide_default_value = true, display_order = 1000)]
    pub color: ColorChoice,
}

#[derive(Subcommand, Debug)]
pub(super) enum Command {
    /// Grade a garment: finished sizes, needles, rows and yarn for every size
    #[command(after_help = "\
Examples:
  oddments grade tam
  oddments grade tam --sizes y4..women-l --set wedges=6
  oddments grade tam --measure \"head_girth=58 cm\" --name Ruan --format json
  oddments grade mitten --machine bulky --format csv --output mittens.csv")]
    Grade(GradeArgs),
    /// Grade many: requests on standard input, answers on standard output, both JSON Lines
    #[command(after_help = "\
A request is a line like

  {\"id\": 1, \"garment\": \"tam\", \"machine\": \"standard\", \"sizes\": \"y4..women-l\",
   \"options\": {\"wedges\": 6}, \"measures\": {\"head_girth\": \"58 cm\"}}

of which only `garment` must be there. Its answer is a line with the number of the request's line,
its id, and `result` or `error`. Answers come in the order of the requests. A line that fails does
not end the batch. A blank line is counted and has no answer, unless `--blank answer` asks for one.

The command ends with 0 when every request was met, with 1 when every line was read and some answers
are an `error`, with 3 when it broke off: requests that can't be read, answers that can't be written,
files of your own that don't load. Standard error tells which. A reader that wants no more, as
`| head`, ends it with 0.

Examples:
  oddments batch requests.jsonl
  oddments batch requests.jsonl --jobs 1 --count-from 1001
  oddments batch requests.jsonl --lines none --blank answer")]
    Batch(BatchArgs),
    /// Print a size chart: body measures, or the finished sizes of a garment
    #[command(after_help = "\
Examples:
  oddments chart --measures head_girth,hand_girth --units both
  oddments chart --measures torso --sizes adults --sized-by chest_girth
  oddments chart tam --sizes babies,children --format markdown
  oddments chart tam --units both --format svg --output tam-sizes.svg")]
    Chart(ChartArgs),
    /// Write the pattern, row by row, for one size or several
    #[command(after_help = "\
Examples:
  oddments pattern tam --size y5-6
  oddments pattern tam --sizes y4..women-m --output tam.txt
  oddments pattern tam --size y5-6 --format svg --picture rows --output tam-rows.svg
  oddments pattern tam --size women-m --format svg --picture stripes --output tam.svg
  oddments pattern mitten --size women-m --format svg --picture stripes \\
    --yarn slate@12g --yarn shoreline --output mittens.svg
  oddments pattern tam --size women-m --format svg --picture round --from above --output tam.svg
  oddments pattern sock --size women-m --format glb --output sock.glb
  oddments pattern tam --size women-m --format pdf --output tam.pdf
  oddments pattern sock --size women-m --format pdf --techniques --output sock.pdf
  oddments pattern tam --sizes all --format pdf --words american --output class.pdf
  oddments pattern sock --sizes women --format pdf --each --output socks.pdf")]
    Pattern(PatternArgs),
    /// Go on with a garment that is half knitted: another gauge, rows too many, a ball that gives out
    #[command(after_help = "\
What is knitted stays, the numbers it has settled are kept, the others are chosen anew; the pattern
goes on from the row in hand. A number that came out otherwise is --fix: --fix band_stitches=190.

Examples:
  oddments carry-on tam --size women-m --at hat:140 --now \"plain=27x39\"
  oddments carry-on sock --size women-m --at sock:+80 --now \"plain=-3%x+2%\"
  oddments carry-on mitten --size women-m --at left:+22 --extra-rows 4
  oddments carry-on tam --size women-m --at hat:+0 --broken L17
  oddments carry-on scarf --size women-m --at scarf:200 --left \"18 g\"")]
    CarryOn(CarryOnArgs),
    /// Tell what a remnant of yarn reaches, or what garments need of it
    #[command(after_help = "\
Examples:
  oddments reach --weight \"34 g\"
  oddments reach --weight \"34 g\" --garment hat,mitten --sizes children --each
  oddments reach --garment tam --risk \"2 %\"
  oddments reach --remnant shoreline-2")]
    Reach(ReachArgs),
    /// Plan all gifts at once from the whole stash
    #[command(after_help = "\
Examples:
  oddments plan
  oddments plan --explain --output plan.txt
  oddments plan --aim \"use up\"
  oddments plan --accept")]
    Plan(PlanArgs),
    /// What to buy so that all gifts can be made: the least yarn in whole balls, for all of them together
    #[command(after_help = "\
Examples:
  oddments shop
  oddments shop --from-priority 4 --by grams
  oddments shop --format csv --output list.csv")]
    Shop(ShopArgs),
    /// Note what a finished piece really took: estimates learn from it, and the stash is put right
    #[command(after_help = "\
Examples:
  oddments record tam --size women-m --used \"hat:shoreline-2=12 g\" --used \"band:slate-1=20 g\"
  oddments record hat --size Kitto --used \"hat:gorse-1=12 g\" --gift kitto-hat --minutes 95
  oddments record tam --size women-m --used \"band:lampglass-1=70 g\" --used \"hat:lampglass-1=32 g\" \\
      --look")]
    Record(RecordArgs),
    /// Tell what your pieces and swatches taught: how much yarn you take, and which pieces are odd
    #[command(after_help = "\
Each piece is held against what all others and the swatches say of it. One that is too far off is not
learnt from, and the command says what to do about it. CSV has the pieces alone, a row each.

Examples:
  oddments learnt
  oddments learnt --format csv --output pieces.csv
  oddments learnt --format svg --output learnt.svg")]
    Learnt(LearntArgs),
    /// List and show garments; make, check and test one of your own
    #[command(after_help = "\
Examples:
  oddments garment list
  oddments garment show tam")]
    Garment {
        #[command(subcommand)]
        command: GarmentCommand,
    },
    /// Make a workspace: a folder for yarns, remnants, people and gifts
    #[command(after_help = "\
Examples:
  oddments init my-knitting
  oddments init skerry --demo")]
    Init(InitArgs),
    /// Keep the remnants: add, list, change, remove
    #[command(after_help = "Example:\n  oddments stash add --yarn slate --weight \"34 g\"")]
    Stash {
        #[command(subcommand)]
        command: StashCommand,
    },
    /// Keep the yarns: add, list, change, remove
    #[command(after_help = "Example:\n  oddments yarn list")]
    Yarn {
        #[command(subcommand)]
        command: YarnCommand,
    },
    /// Keep the people to knit for: add, list, change, remove
    #[command(after_help = "Example:\n  oddments people add Jenna --size women-m")]
    People {
        #[command(subcommand)]
        command: PeopleCommand,
    },
    /// Keep those who knit, where several do: add, list, change, remove
    #[command(
        after_help = "Example:\n  oddments knitters add Wenna --machine standard --hours-a-week 6"
    )]
    Knitters {
        #[command(subcommand)]
        command: KnittersCommand,
    },
    /// Keep what is to be knitted for whom: add, list, change, remove, begin, done
    #[command(after_help = "Example:\n  oddments gifts add --person Tamsin --garment tam")]
    Gifts {
        #[command(subcommand)]
        command: GiftsCommand,
    },
    /// Keep the swatches: add, list, show, rename, remove
    #[command(after_help = "Example:\n  oddments swatch show standard")]
    Swatch {
        #[command(subcommand)]
        command: SwatchCommand,
    },
    /// Take back the last change to the workspace that a command made
    #[command(after_help = "\
Examples:
  oddments undo
  oddments undo --redo")]
    Undo(UndoArgs),
    /// Print the JSON Schema of a kind of workspace file, for editors
    #[command(after_help = "\
Examples:
  oddments schema
  oddments schema stash --output stash.json
  oddments schema pattern")]
    Schema(SchemaArgs),
    /// Open the same on a phone or tablet beside the machine: pages, and an interface for programs
    #[command(after_help = "\
Examples:
  oddments serve
  oddments serve --open --new knitting
  oddments serve --listen 0.0.0.0:8017 --name lamp.home --workspace .
  oddments serve --listen 127.0.0.1:0")]
    Serve(ServeArgs),
    /// Print what lets a shell complete commands and flags with the Tab key
    #[command(after_help = "\
Examples:
  oddments completions bash
  oddments completions zsh --output _oddments
  oddments completions fish --output oddments.fish

Where your shell looks for it:
  bash        ~/.local/share/bash-completion/completions/oddments
  zsh         _oddments in a folder of $fpath
  fish        ~/.config/fish/completions/oddments.fish
  powershell  what $PROFILE names
  elvish      ~/.config/elvish/rc.elv")]
    Completions(CompletionsArgs),
    /// Print a page of the manual, as `man` reads it, or write all pages to a folder
    #[command(after_help = "\
Examples:
  oddments manual
  oddments manual garment check
  oddments manual --output man1")]
    Manual(ManualArgs),
}

#[derive(ClapArgs, Debug)]
pub(super) struct CompletionsArgs {
    /// The shell
    #[arg(value_enum)]
    pub shell: Shell,
    /// Write to this file instead of standard output
    #[arg(long, value_name = "FILE")]
    pub output: Option<PathBuf>,
}

#[derive(ClapArgs, Debug)]
pub(super) struct ManualArgs {
    /// The command, in its words: `garment check`; left out: the page of the whole
    pub command: Vec<String>,
    /// Write the page, and those of the commands below it, into this folder
    #[arg(long, value_name = "FOLDER")]
    pub output: Option<PathBuf>,
}

#[derive(ClapArgs, Debug)]
pub(super) struct ServeArgs {
    /// Address and port to listen on; port 0 takes a free one. An address that other machines can
    /// reach asks every visitor for the token
    ///
    /// Left out: 127.0.0.1:8017, and where that port is taken one of the next
    #[arg(long, value_name = "ADDRESS:PORT", value_parser = listening)]
    pub listen: Option<(IpAddr, u16)>,
    /// Open the pages in the browser
    #[arg(long)]
    pub open: bool,
    /// Print the address for a phone as a QR code, with the token in it; on a terminal that is done
    /// anyway where other devices can reach the server
    #[arg(long)]
    pub qr: bool,
    /// Serve the workspace in this folder, and make it first where there is none yet
    #[arg(long, value_name = "FOLDER", conflicts_with = "workspace")]
    pub new: Option<PathBuf>,
    /// What a visitor must show; left out: none on this machine alone, otherwise one is made up
    /// and printed
    #[arg(long, value_name = "TOKEN", value_parser = token)]
    pub token: Option<String>,
    /// A name the server may be called by, beside its address; may be given several times
    #[arg(long = "name", value_name = "HOST")]
    pub names: Vec<String>,
    /// A server in front of this one, such as a balancer, that writes `X-Forwarded-For`: whoever guesses
    /// the token through it is slowed down alone; may be given several times
    #[arg(long, value_name = "ADDRESS")]
    pub behind: Vec<IpAddr>,
    #[command(flatten)]
    pub bench: BenchArgs,
}

impl From<&ServeArgs> for Serving {
    fn from(args: &ServeArgs) -> Self {
        let (address, port) = args.listen.unwrap_or(USUAL_LISTEN);
        Serving {
            sources: (&args.bench).into(),
            address,
            port,
            next_port: args.listen.is_none(),
            token: args.token.clone(),
            names: args.names.clone(),
            behind: args.behind.clone(),
            workspace: args.new.as_ref().or(args.bench.workspace.as_ref()).cloned(),
        }
    }
}

/// Where nobody said where to listen.
const USUAL_LISTEN: (IpAddr, u16) = (IpAddr::V4(Ipv4Addr::LOCALHOST), 8017);

/// `127.0.0.1:8017`, `[::1]:0`.
fn listening(text: &str) -> Result<(IpAddr, u16), String> {
    let split = text.rsplit_once(':').and_then(|(address, port)| {
        let address =
            address.strip_prefix('[').and_then(|a| a.strip_suffix(']')).unwrap_or(address);
        Some((address.parse().ok()?, port.parse().ok()?))
    });
    split.ok_or_else(|| "write an address and a port, like 127.0.0.1:8017 or [::1]:8017".to_owned())
}

/// Long enough that it can't be guessed.
fn token(text: &str) -> Result<String, String> {
    const LEAST: usize = 12;
    match text.chars().count() {
        n if n < LEAST => Err(format!("a token has at least {LEAST} characters")),
        n if n > 200 => Err("a token has at most 200 characters".to_owned()),
        _ => Ok(text.to_owned()),
    }
}

#[derive(Subcommand, Debug)]
pub(super) enum GarmentCommand {
    /// List the garments at hand
    #[command(after_help = "Example:\n  oddments garment list")]
    List {
        #[command(flatten)]
        bench: BenchArgs,
        #[command(flatten)]
        rows: PlainRowArgs,
    },
    /// Show what a garment needs, what may be chosen, and its pieces
    #[command(after_help = "Example:\n  oddments garment show tam")]
    Show {
        /// A garment's id, or its folder
        garment: String,
        #[command(flatten)]
        bench: BenchArgs,
    },
    /// Make the folder of a garment to begin with: it grades at once
    #[command(after_help = "\
Examples:
  oddments garment new sea-band
  oddments garment new sea-band --in garments")]
    New(NewArgs),
    /// Find what is wrong with a garment, over all sizes on every machine with a demo swatch
    #[command(after_help = "\
Examples:
  oddments garment check ./sea-band
  oddments garment check tam")]
    Check {
        /// A garment's folder, or its id
        garment: String,
        #[command(flatten)]
        bench: BenchArgs,
    },
    /// Run the cases of a garment (cases/*.toml) and show what differs
    #[command(after_help = "\
Examples:
  oddments garment test ./sea-band
  oddments garment test ./sea-band --bless")]
    Test(TestArgs),
}

#[derive(ClapArgs, Debug)]
pub(super) struct NewArgs {
    /// Its id, and the name of its folder: a letter, then a to z, 0 to 9 and -
    pub name: String,
    /// The folder to make it in, which is made too if need be; left out: this one
    #[arg(long = "in", value_name = "FOLDER")]
    pub folder: Option<PathBuf>,
    #[command(flatten)]
    pub bench: BenchArgs,
}

#[derive(ClapArgs, Debug)]
pub(super) struct TestArgs {
    /// A garment's folder, or its id
    pub garment: String,
    /// First write what comes out into the cases that expect other figures
    #[arg(long)]
    pub bless: bool,
    #[command(flatten)]
    pub bench: BenchArgs,
}

#[derive(ClapArgs, Debug)]
pub(super) struct GradeArgs {
    #[command(flatten)]
    pub work: WorkArgs,
    #[command(flatten)]
    pub one: OneSizeArgs,
    #[command(flatten)]
    pub rows: RowArgs,
    /// Whose words of the trade: american (bind off), british (cast off, tension) or usual; left out:
    /// the workspace's, or the usual ones
    #[arg(long, value_enum)]
    pub words: Option<WordChoice>,
}

impl GradeArgs {
    /// What is asked for.
    pub fn ask(&self) -> Result<Ask, Diagnostics> {
        Ok(self.one.add_to(self.work.ask()?))
    }
}

const MOST_JOBS: u16 = 1024;
/// Whole numbers above it lose their last digit in most programs that read JSON.
const LAST_LINE: u64 = (1 << 53) - 1;

#[derive(ClapArgs, Debug)]
pub(super) struct BatchArgs {
    /// A file of requests, a JSON object a line; left out: standard input
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,
    /// Lines worked on at a time; left out: one for each core
    #[arg(long, value_name = "COUNT", value_parser = whole(1, MOST_JOBS))]
    pub jobs: Option<u16>,
    /// The `line` of an answer
    #[arg(long, value_enum, value_name = "WHICH", default_value = "count")]
    pub lines: Lines,
    /// What comes of a blank line
    #[arg(long, value_enum, value_name = "WHAT", default_value = "skip")]
    pub blank: Blank,
    /// The number of the first line, where the batch is part of a longer one
    #[arg(long, value_name = "NUMBER", default_value_t = 1, value_parser = whole(1, LAST_LINE))]
    pub count_from: u64,
    #[command(flatten)]
    pub bench: BenchArgs,
}

/// The `line` of an answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Lines {
    /// The number of its line, blank ones counted too
    Count,
    /// The `line` of the request, a whole number; none where the request has none or can't be read
    Request,
    /// No `line`: an answer is the same wherever its request stands
    None,
}

impl From<Lines> for LineNumbers {
    fn from(lines: Lines) -> LineNumbers {
        match lines {
            Lines::Count => LineNumbers::Counted,
            Lines::Request => LineNumbers::FromRequest,
            Lines::None => LineNumbers::LeftOut,
        }
    }
}

/// What comes of a blank line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Blank {
    /// Nothing: it is counted and has no answer
    Skip,
    /// An answer with an error, so that as many lines come out as went in
    Answer,
}

#[derive(ClapArgs, Debug)]
pub(super) struct PatternArgs {
    #[command(flatten)]
    pub work: WorkArgs,
    #[command(flatten)]
    pub one: OneSizeArgs,
    /// How the pattern is written out
    #[arg(long, value_enum, default_value = "text")]
    pub format: PatternFormat,
    /// With --format svg: what is drawn; left out: the schematic
    #[arg(long, value_enum)]
    pub picture: Option<Picture>,
    /// Every size a pattern of its own, one after another in one file
    #[arg(long)]
    pub each: bool,
    /// Whose words of the trade: american (bind off), british (cast off, tension) or usual; left out:
    /// the workspace's, or the usual ones
    #[arg(long, value_enum)]
    pub words: Option<WordChoice>,
    /// With how each thing is done by hand, in words and, on a sheet, in drawings
    #[arg(long)]
    pub techniques: bool,
    /// Paper of the html and pdf sheet; left out: a4, or letter with --units in
    #[arg(long, value_enum, value_name = "PAPER")]
    pub paper: Option<PaperSize>,
    /// Unit of length; both: in pictures; left out: the workspace's, or cm
    #[arg(long, value_enum)]
    pub units: Option<Units>,
    /// Write to this file instead of standard output
    #[arg(long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Leave the garment in the round out of the html and pdf sheet
    #[arg(long)]
    pub flat: bool,
    #[command(flatten)]
    pub stripes: StripesArgs,
    #[command(flatten)]
    pub round: RoundArgs,
}

impl PatternArgs {
    /// What is asked for, with its balls of yarn.
    pub fn ask(&self) -> Result<Ask, Diagnostics> {
        Ok(self.one.add_to(self.stripes.add_to(self.work.ask()?)))
    }
}

#[derive(ClapArgs, Debug)]
pub(super) struct ChartArgs {
    /// A garment's id or folder; left out: body measures
    pub garment: Option<String>,
    /// Body measures to show, with commas between: names, a part of the body (torso), or all; left out: the eight main ones
    #[arg(long, value_name = "NAMES", value_delimiter = ',')]
    pub measures: Vec<String>,
    /// Show what goes with this measure on average, as garments take it whose sizes go by it: chest_girth
    #[arg(long, value_name = "NAME")]
    pub sized_by: Option<String>,
    /// Sizes: a list, a range or a group
    #[arg(long, default_value = "all")]
    pub sizes: String,
    /// Machine profile; left out: the workspace's, the swatch's own, or standard
    #[arg(long, value_name = "ID")]
    pub machine: Option<String>,
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
    #[command(flatten)]
    pub bench: BenchArgs,
    /// How the chart is written out
    #[arg(long, value_enum, default_value = "table")]
    pub format: ChartFormat,
    /// Unit of length; left out: the workspace's, or cm
    #[arg(long, value_enum)]
    pub units: Option<Units>,
    /// Write to this file instead of standard output
    #[arg(long, value_name = "FILE")]
    pub output: Option<PathBuf>,
}

impl ChartArgs {
    /// What is asked for of a garment.
    pub fn ask(&self, garment: &str) -> Result<Ask, Diagnostics> {
        Ok(Ask {
            garment: Some(garment.to_owned()),
            machine: self.machine.clone(),
            sizes: Some(self.sizes.clone()),
            swatch_id: self.swatch.clone(),
            options: options(&self.set, &self.fix, &self.in_turn)?,
            ..Ask::default()
        })
    }
}

/// Thousands of units of work: some four days of one core.
const MOST_WORK: u64 = 10_000_000;
/// No search has use for more at a time, and thousands only wait for one another.
const MOST_THREADS: u16 = 256;

/// One of these names, as what it stands for.
fn named<T: Clone + Send + Sync + 'static>(
    names: impl IntoIterator<Item = &'static str>,
    parse: fn(&str) -> Option<T>,
) -> impl TypedValueParser<Value = T> {
    PossibleValuesParser::new(names)
        .try_map(move |name| parse(&name).ok_or_else(|| format!("`{name}` is none of these")))
}

/// How a plan is looked for.
#[derive(ClapArgs, Debug)]
pub(super) struct SearchArgs {
    /// Plan gifts again that an accepted plan has set yarn aside for
    #[arg(long)]
    pub again: bool,
    /// Another number, another search
    #[arg(long, default_value_t = 1, value_parser = whole(0, u64::MAX))]
    pub seed: u64,
    /// How long to look, in thousands of units of work: some 30 are a second of one core
    #[arg(long, default_value_t = 100, value_parser = whole(0, MOST_WORK))]
    pub work: u64,
    /// Threads; 0: as many as there are cores. What is found does not depend on it
    #[arg(long, default_value_t = 0, value_parser = whole(0, MOST_THREADS))]
    pub threads: u16,
    /// The day from which the hours are counted; left out: today
    #[arg(long, value_name = "DAY")]
    pub today: Option<String>,
    #[command(flatten)]
    pub workspace: WorkspaceArgs,
}

#[derive(ClapArgs, Debug)]
pub(super) struct PlanArgs {
    /// Say of each gift left out why, and the least yarn that would let it in
    #[arg(long)]
    pub explain: bool,
    /// Set the yarn aside for these gifts; a search that Ctrl-C has ended is accepted only if you say so.
    /// Where a gift that must be made can't be, the others are accepted, and the command ends with 1
    #[arg(long)]
    pub accept: bool,
    /// What the plan is to be good at: "most gifts", "use up", "few balls" or "least time"; left out: as the
    /// settings say
    #[arg(long, value_parser = named(Aim::NAMES, Aim::parse))]
    pub aim: Option<Aim>,
    #[command(flatten)]
    pub search: SearchArgs,
    #[command(flatten)]
    pub rows: PlainRowArgs,
}

#[derive(ClapArgs, Debug)]
pub(super) struct ShopArgs {
    /// Only for gifts of this priority and above; left out: for all
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = whole(0, u8::MAX))]
    pub from_priority: u8,
    /// As much as so much money buys, of the yarns whose `price` is known
    #[arg(long, value_name = "AMOUNT", conflicts_with_all = ["from_priority", "by"], value_parser = number)]
    pub money: Option<f64>,
    /// What to buy the least of
    #[arg(long, default_value = Sparing::Balls.name(), value_parser = named(Sparing::NAMES, Sparing::parse))]
    pub by: Sparing,
    #[command(flatten)]
    pub search: SearchArgs,
    #[command(flatten)]
    pub rows: PlainRowArgs,
}

#[derive(ClapArgs, Debug)]
pub(super) struct RecordArgs {
    /// The garment's id
    pub garment: String,
    /// Its size, or whom it was made to measure for
    #[arg(long, value_name = "SIZE")]
    pub size: String,
    /// What a remnant weighs now, after a section; for each section and remnant
    #[arg(long, value_name = "SECTION:REMNANT=WEIGHT", required = true)]
    pub used: Vec<String>,
    /// An option of the garment as it was knitted; may be given several times
    #[arg(long, value_name = "NAME=VALUE")]
    pub set: Vec<String>,
    /// A number that the garment would choose; may be given several times
    #[arg(long, value_name = "NAME=NUMBER")]
    pub fix: Vec<String>,
    /// A section from two or more balls in turn, with the rows of each: hat=4,4; may be given several
    /// times
    #[arg(long, value_name = "SECTION=ROWS,ROWS")]
    pub in_turn: Vec<String>,
    /// The gift it was: it is done, and what is left of its yarn is free again
    #[arg(long, value_name = "ID")]
    pub gift: Option<String>,
    /// Minutes of work on what was weighed, finishing included; `counted`: what the page at the machine counted
    #[arg(long, value_name = "MINUTES|counted")]
    pub minutes: Option<String>,
    /// The piece of the records that it goes on with, by its name there, or `new`; left out: the rest of the
    /// latest that lacks these sections, else a piece of its own
    #[arg(long, value_name = "PIECE|new")]
    pub piece: Option<String>,
    /// The day it was finished; left out: today
    #[arg(long, value_name = "DAY")]
    pub date: Option<String>,
    /// Say what each section took and what would be learnt, and write nothing
    #[arg(long)]
    pub look: bool,
    /// A word to remember it by
    #[arg(long)]
    pub note: Option<String>,
    /// It is right, however odd it looks: learn from it all the same. `--sure=grams`, `--sure=minutes`: of that
    /// alone
    #[arg(
        long,
        value_name = "WHAT",
        value_enum,
        num_args = 0..=1,
        require_equals = true,
        default_missing_value = "all"
    )]
    pub sure: Option<SureOf>,
    #[command(flatten)]
    pub workspace: WorkspaceArgs,
}

/// What of a record is right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum SureOf {
    All,
    Grams,
    Minutes,
}

#[derive(ClapArgs, Debug)]
pub(super) struct LearntArgs {
    /// How it is written out; svg: the picture, what was expected of each piece and what it took
    #[arg(long, value_enum, default_value = "table")]
    pub format: ChartFormat,
    /// Write to this file instead of standard output
    #[arg(long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    #[command(flatten)]
    pub workspace: WorkspaceArgs,
}

#[derive(ClapArgs, Debug)]
pub(super) struct CarryOnArgs {
    #[command(flatten)]
    pub work: WorkArgs,
    /// The size in hand, in place of --sizes
    #[arg(long, value_name = "SIZE", conflicts_with_all = ["sizes", "measure", "person"])]
    pub size: Option<String>,
    /// Where the work stands: the piece, and what the row counter shows; or with + its rows that are done
    #[arg(long, value_name = "PIECE:ROW")]
    pub at: String,
    /// Stitches and rows to 10 cm of the work from here on, or by how much they differ from the swatch;
    /// for each fabric
    #[arg(long, value_name = "FABRIC=STITCHESxROWS")]
    pub now: Vec<String>,
    /// Rows knitted beyond that place by mistake, like the last one
    #[arg(long, value_name = "ROWS", default_value_t = 0, value_parser = whole(0, MOST_EXTRA_ROWS))]
    pub extra_rows: u32,
    /// Needles that broke since, with commas between: pieces not yet begun are put where all knit
    #[arg(long, value_name = "NEEDLES")]
    pub broken: Option<String>,
    /// All the yarn that is left for it: the largest that it is enough for is made
    #[arg(long, value_name = "WEIGHT")]
    pub left: Option<String>,
    /// The scale's smallest step; left out: the workspace's, or 1 g
    #[arg(long, value_name = "WEIGHT")]
    pub scale_step: Option<String>,
    /// The chance of running out that you accept; left out: the workspace's risk or reserve, or 5 %
    #[arg(long, value_name = "PERCENT")]
    pub risk: Option<String>,
    /// How the page is written out
    #[arg(long, value_enum, default_value = "text")]
    pub format: CarryFormat,
    /// Unit of length; left out: the workspace's, or cm
    #[arg(long, value_enum)]
    pub units: Option<Units>,
    /// Whose words of the trade: american (bind off), british (cast off, tension) or usual; left out:
    /// the workspace's, or the usual ones
    #[arg(long, value_enum)]
    pub words: Option<WordChoice>,
    /// Write to this file instead of standard output
    #[arg(long, value_name = "FILE")]
    pub output: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum CarryFormat {
    Text,
    Markdown,
    Json,
}

impl CarryOnArgs {
    /// The garment that is in hand.
    pub fn ask(&self) -> Result<Ask, Diagnostics> {
        let ask = self.work.ask()?;
        Ok(Ask { sizes: self.size.clone().or(ask.sizes.clone()), ..ask })
    }

    /// What is said of it.
    pub fn keys(&self) -> CarryKeys {
        CarryKeys {
            at: self.at.clone(),
            now: self.now.clone(),
            extra_rows: self.extra_rows,
            broken: self.broken.clone(),
            left: self.left.clone(),
            scale_step: self.scale_step.clone(),
            risk: self.risk.clone(),
        }
    }
}

#[derive(ClapArgs, Debug)]
pub(super) struct ReachArgs {
    /// What the remnant weighs; left out: what the garments need
    #[arg(long, value_name = "WEIGHT")]
    pub weight: Option<String>,
    /// A remnant of the workspace, in place of a weight
    #[arg(long, value_name = "ID", conflicts_with_all = ["weight", "swatch", "machine"])]
    pub remnant: Option<String>,
    /// The scale's smallest step; left out: the workspace's, or 1 g
    #[arg(long, value_name = "WEIGHT")]
    pub scale_step: Option<String>,
    /// The chance of running out that you accept; left out: the workspace's risk or reserve, or 5 %
    #[arg(long, value_name = "PERCENT")]
    pub risk: Option<String>,
    /// Garments to look at, with commas between; left out: all
    #[arg(long, value_name = "GARMENTS", value_delimiter = ',')]
    pub garment: Vec<String>,
    /// Sizes: a list, a range or a group
    #[arg(long, default_value = "all")]
    pub sizes: String,
    /// An option of the garments; may be given several times
    #[arg(long, value_name = "NAME=VALUE")]
    pub set: Vec<String>,
    /// A section from two or more balls in turn, with the rows of each: hat=4,4; each ball has a row of
    /// its own. May be given several times
    #[arg(long, value_name = "SECTION=ROWS,ROWS")]
    pub in_turn: Vec<String>,
    /// A row for each size, not only the largest that is covered
    #[arg(long)]
    pub each: bool,
    /// Machine profile; left out: the workspace's, the swatch's own, or standard
    #[arg(long, value_name = "ID")]
    pub machine: Option<String>,
    /// A swatch of the workspace, or a swatch file; left out: the workspace's for the machine, or
    /// the demo swatch
    #[arg(long, value_name = "ID|FILE")]
    pub swatch: Option<String>,
    #[command(flatten)]
    pub bench: BenchArgs,
    #[command(flatten)]
    pub rows: PlainRowArgs,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum PatternFormat {
    Text,
    Markdown,
    Json,
    /// A sheet to print, with boxes to tick, as one HTML file
    Html,
    /// The same sheet as PDF
    Pdf,
    /// A picture: see --picture
    Svg,
    /// The garment in the round as a solid (glTF 2.0, binary), for programs that show and print solids
    Glb,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Picture {
    /// The pieces to scale with their measures, sizes nested
    Schematic,
    /// The needles row by row, for one size
    Rows,
    /// The garment in the colours of its yarn, for one size
    Stripes,
    /// The garment in the round as it is worn, sizes side by side
    Round,
}

/// Rows, or a picture of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum ChartFormat {
    Table,
    Json,
    Csv,
    Markdown,
    Svg,
}

impl ChartFormat {
    /// How rows are written out; none for the picture.
    pub const fn rows(self) -> Option<Format> {
        match self {
            ChartFormat::Table => Some(Format::Table),
            ChartFormat::Json => Some(Format::Json),
            ChartFormat::Csv => Some(Format::Csv),
            ChartFormat::Markdown => Some(Format::Markdown),
            ChartFormat::Svg => None,
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum PaperSize {
    /// 210 x 297 mm
    A4,
    /// 8.5 x 11 in
    Letter,
}

impl PaperSize {
    pub const fn paper(self) -> Paper {
        match self {
            PaperSize::A4 => Paper::A4,
            PaperSize::Letter => Paper::Letter,
        }
    }
}
