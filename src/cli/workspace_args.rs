//! Arguments of the commands that keep a workspace.

use std::path::PathBuf;

use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args as ClapArgs, Subcommand};

use super::shared_args::{PlainRowArgs, WorkspaceArgs, number, whole};
use knit::stash::GiftState;

#[derive(ClapArgs, Debug)]
pub(super) struct InitArgs {
    /// A new or an empty folder
    pub folder: PathBuf,
    /// Fill it with the demo scenario: the keeper's family at Skerry Light, invented
    #[arg(long)]
    pub demo: bool,
}

#[derive(ClapArgs, Debug)]
pub(super) struct UndoArgs {
    /// Do again what was taken back last
    #[arg(long)]
    pub redo: bool,
    /// The change of that number and no other: later ones stay, unless they stand in the way
    #[arg(long, value_name = "NUMBER", value_parser = whole(1, u64::MAX))]
    pub change: Option<u64>,
    /// List the changes, with their numbers, and change nothing
    #[arg(long, conflicts_with_all = ["redo", "change"])]
    pub list: bool,
    #[command(flatten)]
    pub workspace: WorkspaceArgs,
}

#[derive(ClapArgs, Debug)]
pub(super) struct SchemaArgs {
    /// Kind of file; left out: the kinds are listed
    pub name: Option<String>,
    /// Write to this file instead of standard output
    #[arg(long, value_name = "FILE")]
    pub output: Option<PathBuf>,
}

#[derive(Subcommand, Debug)]
pub(super) enum StashCommand {
    /// Add a remnant
    #[command(after_help = "\
Examples:
  oddments stash add --yarn slate --weight \"34 g\"
  oddments stash add --yarn shoreline --weight \"61 g\" --lot B7 --start \"2.5 m\"")]
    Add {
        /// An id of its own; left out: the yarn's with the next number
        #[arg(long)]
        id: Option<String>,
        /// The yarn's id
        #[arg(long, value_name = "ID")]
        yarn: String,
        /// What it weighs, without the cone: "34 g"
        #[arg(long, value_name = "MASS")]
        weight: String,
        #[command(flatten)]
        more: RemnantArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// List remnants, with what is reserved of them
    #[command(after_help = "\
Examples:
  oddments stash list
  oddments stash list --yarn slate --format json")]
    List {
        /// Only of this yarn
        #[arg(long, value_name = "ID")]
        yarn: Option<String>,
        #[command(flatten)]
        rows: PlainRowArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Change a remnant: a new weight, another note. An empty text takes a key out
    #[command(after_help = "\
Examples:
  oddments stash change slate-1 --weight \"12 g\"
  oddments stash change slate-1 --note \"\"
  oddments stash change slate-1 --new-id doorstep")]
    Change {
        /// The remnant's id
        id: String,
        /// Its id from now on; gifts and the plan follow
        #[arg(long, value_name = "ID")]
        new_id: Option<String>,
        /// The yarn's id
        #[arg(long, value_name = "ID")]
        yarn: Option<String>,
        /// What it weighs now
        #[arg(long, value_name = "MASS")]
        weight: Option<String>,
        #[command(flatten)]
        more: RemnantArgs,
        #[command(flatten)]
        reserved: ReservedArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Remove remnants that are used up
    #[command(after_help = "Example:\n  oddments stash remove bracken-1 gorse-3")]
    Remove {
        /// Ids of remnants
        #[arg(required = true)]
        ids: Vec<String>,
        /// Also take their reservations out of the plan, and let no gift wait for them
        #[arg(long)]
        and_reservations: bool,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
}

/// What becomes of yarn that is set aside for what is changed.
#[derive(ClapArgs, Debug)]
#[group(multiple = false)]
pub(super) struct ReservedArgs {
    /// Free the yarn that is set aside, so that it can be planned anew
    #[arg(long)]
    pub free: bool,
    /// Leave the yarn set aside that is
    #[arg(long)]
    pub keep_yarn: bool,
}

#[derive(ClapArgs, Debug)]
pub(super) struct RemnantArgs {
    /// The dye lot on the band
    #[arg(long)]
    pub lot: Option<String>,
    /// How far into the colour sequence the outer end is: "2.5 m"
    #[arg(long, value_name = "LENGTH")]
    pub start: Option<String>,
    /// Where it lies: the name of a place, as knitters say where they are
    #[arg(long = "where", value_name = "PLACE")]
    pub place: Option<String>,
    /// A gift's id or a person's name that alone may have it; anything else, and no plan touches it
    #[arg(long, value_name = "WHAT")]
    pub keep_for: Option<String>,
    /// Anything worth knowing
    #[arg(long)]
    pub note: Option<String>,
}

#[derive(Subcommand, Debug)]
pub(super) enum YarnCommand {
    /// Add a yarn
    #[command(after_help = "\
Examples:
  oddments yarn add dulse --yarn \"400 m/100 g\" --fibres \"75 % wool, 25 % polyamide\" \\
      --care \"machine 40\" --colour \"dulse #6b2f3a\"
  oddments yarn add kelp --yarn \"400 m/100 g\" --colour \"kelp #4f6b3a 4 m\" --colour \"foam #e9ead9 3 m\"")]
    Add {
        /// Its id: the name of its file
        id: String,
        #[command(flatten)]
        yarn: YarnArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// List the yarns
    #[command(after_help = "Example:\n  oddments yarn list --format csv")]
    List {
        #[command(flatten)]
        rows: PlainRowArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Change a yarn; colours given replace all it had. An empty text takes a key out
    #[command(after_help = "\
Examples:
  oddments yarn change slate --care \"machine 30\"
  oddments yarn change slate --ball-g 100 --price 7.50
  oddments yarn change slate --new-id skerry-slate")]
    Change {
        /// The yarn's id
        id: String,
        /// Its id from now on; its file, remnants and records follow
        #[arg(long, value_name = "ID")]
        new_id: Option<String>,
        #[command(flatten)]
        yarn: YarnArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Remove a yarn that no remnant is of
    #[command(after_help = "Example:\n  oddments yarn remove bracken --and-remnants")]
    Remove {
        /// The yarn's id
        id: String,
        /// Also remove its remnants and their reservations
        #[arg(long)]
        and_remnants: bool,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
}

#[derive(ClapArgs, Debug)]
pub(super) struct YarnArgs {
    /// What it is called
    #[arg(long)]
    pub name: Option<String>,
    /// The count: "400 m/100 g", "250 tex", "Nm 2/28"
    #[arg(long, value_name = "COUNT")]
    pub yarn: Option<String>,
    /// How thick, by the standard numbers from 0 to 7
    #[arg(long, value_name = "0-7")]
    pub class: Option<i64>,
    /// "75 % wool, 25 % polyamide"
    #[arg(long, value_name = "BLEND")]
    pub fibres: Option<String>,
    /// "machine 40", "hand" or "dry clean"
    #[arg(long)]
    pub care: Option<String>,
    /// Whether the colours begin again at the end
    #[arg(long, value_name = "true|false")]
    pub repeat: Option<bool>,
    /// So many grams of it are never planned with: 50. 0: none are kept back
    #[arg(long, value_name = "GRAMS", value_parser = number)]
    pub reserve_g: Option<f64>,
    /// What a new ball weighs, for lists of what to buy: 100. 0: it is not known
    #[arg(long, value_name = "GRAMS", value_parser = number)]
    pub ball_g: Option<f64>,
    /// What a new ball costs, in your money: 4.50. 0: it is not known
    #[arg(long, value_name = "AMOUNT", value_parser = number)]
    pub price: Option<f64>,
    /// A swatch knitted in it; may be given several times
    #[arg(long = "swatch", value_name = "ID")]
    pub swatches: Vec<String>,
    /// A stretch of colour: its name, its shade and, in a yarn of several, its length; may be
    /// given several times
    #[arg(long = "colour", value_name = "NAME #RRGGBB LENGTH")]
    pub colours: Vec<String>,
}

#[derive(Subcommand, Debug)]
pub(super) enum PeopleCommand {
    /// Add someone to knit for
    #[command(after_help = "\
Examples:
  oddments people add Jenna --size women-m --likes-colour blue --wash machine
  oddments people add Hocken --measure \"head_girth=58 cm\" --avoids-fibre mohair")]
    Add {
        /// What they are called
        name: String,
        #[command(flatten)]
        person: PersonArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// List the people
    #[command(after_help = "Example:\n  oddments people list --format markdown")]
    List {
        #[command(flatten)]
        rows: PlainRowArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Change what is known of someone. An empty text takes a key out
    #[command(after_help = "\
Examples:
  oddments people change Tamsin --measure \"head_girth=55 cm\"
  oddments people change Tamsin --new-name Tammy")]
    Change {
        /// What they are called
        name: String,
        /// What they are called from now on; their gifts and records follow
        #[arg(long = "name", visible_alias = "new-name", value_name = "NAME")]
        new_name: Option<String>,
        #[command(flatten)]
        person: PersonArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Remove people nothing is to be knitted for
    #[command(after_help = "Example:\n  oddments people remove Tamsin --and-gifts")]
    Remove {
        /// Names
        #[arg(required = true)]
        names: Vec<String>,
        /// Also remove their gifts and what is reserved for them
        #[arg(long)]
        and_gifts: bool,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
}

#[derive(ClapArgs, Debug)]
pub(super) struct PersonArgs {
    /// A size of the table, such as women-m
    #[arg(long)]
    pub size: Option<String>,
    /// A measure that was taken; may be given several times
    #[arg(long, value_name = "NAME=LENGTH")]
    pub measure: Vec<String>,
    /// A colour they like: red, blue, grey ...; may be given several times
    #[arg(long, value_name = "COLOUR")]
    pub likes_colour: Vec<String>,
    /// A garment they like; may be given several times
    #[arg(long, value_name = "ID")]
    pub likes_garment: Vec<String>,
    /// A fibre they can't wear; may be given several times
    #[arg(long, value_name = "FIBRE")]
    pub avoids_fibre: Vec<String>,
    /// A colour they don't want; may be given several times
    #[arg(long, value_name = "COLOUR")]
    pub avoids_colour: Vec<String>,
    /// The most trouble they take over washing: machine, hand or "dry clean"
    #[arg(long)]
    pub wash: Option<String>,
    /// Anything worth knowing
    #[arg(long)]
    pub note: Option<String>,
}

#[derive(Subcommand, Debug)]
pub(super) enum KnittersCommand {
    /// Add someone who knits: from then on plans say who knits what
    #[command(after_help = "\
Examples:
  oddments knitters add Wenna --machine standard --hours-a-week 6 --where \"Skerry Light\"
  oddments knitters add Hocken --machine bulky --machine mid --where \"Gull Rock\"")]
    Add {
        /// What they are called
        name: String,
        #[command(flatten)]
        knitter: KnitterArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// List the knitters
    #[command(after_help = "Example:\n  oddments knitters list --format markdown")]
    List {
        #[command(flatten)]
        rows: PlainRowArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Change what is known of a knitter. An empty text takes a key out
    #[command(after_help = "\
Examples:
  oddments knitters change Wenna --hours-a-week 0
  oddments knitters change Wenna --name Wenn")]
    Change {
        /// What they are called
        name: String,
        /// What they are called from now on; their gifts follow
        #[arg(long = "name", visible_alias = "new-name", value_name = "NAME")]
        new_name: Option<String>,
        #[command(flatten)]
        knitter: KnitterArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Remove knitters that no gift names
    #[command(after_help = "Example:\n  oddments knitters remove Hocken")]
    Remove {
        /// Names
        #[arg(required = true)]
        names: Vec<String>,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
}

#[derive(ClapArgs, Debug)]
pub(super) struct KnitterArgs {
    /// A machine they have: fine, standard, mid, bulky, or one of your own; may be given several
    /// times. Left out: any
    #[arg(long = "machine", value_name = "ID")]
    pub machines: Vec<String>,
    /// Hours a week at the machine; left out: as in the settings
    #[arg(long, value_name = "HOURS", value_parser = number)]
    pub hours_a_week: Option<f64>,
    /// Where they are: the name of a place, as remnants say where they lie
    #[arg(long = "where", value_name = "PLACE")]
    pub place: Option<String>,
    /// Anything worth knowing
    #[arg(long)]
    pub note: Option<String>,
}

#[derive(Subcommand, Debug)]
pub(super) enum GiftsCommand {
    /// Add something to knit for someone
    #[command(after_help = "\
Examples:
  oddments gifts add --person Tamsin --garment tam --set wedges=6 --due 2026-12-24
  oddments gifts add --person Ruan --garment \"anything warm\" --priority 5 --must
  oddments gifts add --id hats --garment hat --count 40 --sizes children --each-at-least 4 --due 2026-12-01")]
    Add {
        /// An id of its own; left out: the person's name with the next number
        #[arg(long)]
        id: Option<String>,
        #[command(flatten)]
        gift: GiftArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// List the gifts, with how each stands
    #[command(after_help = "\
Examples:
  oddments gifts list --person Tamsin
  oddments gifts list --state wished --format csv")]
    List {
        /// Only for this person
        #[arg(long, value_name = "NAME")]
        person: Option<String>,
        /// Only those that stand so
        #[arg(long, value_parser = gift_state())]
        state: Option<GiftState>,
        #[command(flatten)]
        rows: PlainRowArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Change a gift. An empty text takes a key out
    #[command(after_help = "\
Examples:
  oddments gifts change tamsin-hat --priority 5
  oddments gifts change tamsin-hat --garment hat --free
  oddments gifts change tamsin-hat --new-id tamsin-tam")]
    Change {
        /// The gift's id
        id: String,
        /// Its id from now on; the plan follows
        #[arg(long, value_name = "ID")]
        new_id: Option<String>,
        #[command(flatten)]
        gift: GiftArgs,
        #[command(flatten)]
        reserved: ReservedArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Remove gifts
    #[command(after_help = "Example:\n  oddments gifts remove tamsin-hat")]
    Remove {
        /// Ids of gifts
        #[arg(required = true)]
        ids: Vec<String>,
        /// Also take what is reserved for them out of the plan
        #[arg(long)]
        and_reservations: bool,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Begin gifts: they are on the machine, and no plan touches their yarn
    #[command(after_help = "Example:\n  oddments gifts begin tamsin-hat")]
    Begin(GiftIds),
    /// Say that gifts are knitted: they are planned no more, and what is left of their yarn is free
    #[command(after_help = "Example:\n  oddments gifts done tamsin-hat")]
    Done(GiftIds),
    /// Free what is set aside for gifts: they are wished for as before
    #[command(after_help = "Example:\n  oddments gifts free tamsin-hat jory-mittens")]
    Free(GiftIds),
    /// Give gifts up: they are planned no more, and their yarn is free
    #[command(after_help = "Example:\n  oddments gifts give-up elowen-tam")]
    GiveUp(GiftIds),
    /// Keep what is set aside for gifts: plans made with --again leave it alone
    #[command(after_help = "\
Examples:
  oddments gifts keep tamsin-hat
  oddments gifts keep tamsin-hat --off")]
    Keep {
        #[command(flatten)]
        gifts: GiftIds,
        /// Keep it no longer
        #[arg(long)]
        off: bool,
    },
    /// Wish again for gifts that were begun, done or given up
    #[command(after_help = "Example:\n  oddments gifts wish elowen-tam")]
    Wish(GiftIds),
}

#[derive(ClapArgs, Debug)]
pub(super) struct GiftIds {
    /// Ids of gifts
    #[arg(required = true)]
    pub ids: Vec<String>,
    #[command(flatten)]
    pub workspace: WorkspaceArgs,
}

/// A state that a gift is seen to be in: what is planned and not accepted is in no file.
fn gift_state() -> impl TypedValueParser<Value = GiftState> {
    let seen = GiftState::ALL.into_iter().filter(|state| *state != GiftState::Planned);
    PossibleValuesParser::new(seen.map(GiftState::name)).try_map(|name| {
        GiftState::parse(&name).ok_or_else(|| format!("`{name}` is no state of a gift"))
    })
}

#[derive(ClapArgs, Debug)]
pub(super) struct GiftArgs {
    /// Whom it is for
    #[arg(long, value_name = "NAME")]
    pub person: Option<String>,
    /// A garment, several with commas between, the first rather, or "anything warm"
    #[arg(long, value_name = "IDS")]
    pub garment: Option<String>,
    /// Many of a kind, for nobody by name: how many. They are called ID-1, ID-2 and so on
    #[arg(long, value_name = "NUMBER")]
    pub count: Option<i64>,
    /// Of many, the sizes they may be made in: children, or y4..y7-8, or several with commas between
    #[arg(long, value_name = "SIZES")]
    pub sizes: Option<String>,
    /// Of many, so many in each of the sizes; the others in whichever the yarn is for
    #[arg(long, value_name = "NUMBER")]
    pub each_at_least: Option<i64>,
    /// Who is to knit it, of the knitters there are; left out: whoever can
    #[arg(long, value_name = "NAME")]
    pub knitter: Option<String>,
    /// From 1 (if there is yarn left) to 5 (before all else)
    #[arg(long, value_name = "1-5")]
    pub priority: Option<i64>,
    /// The day it is wanted: 2026-12-24
    #[arg(long, value_name = "DAY")]
    pub due: Option<String>,
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
    /// A plan without it is no plan; `--must false` takes that back
    #[arg(long, num_args = 0..=1, default_missing_value = "true", value_name = "true|false")]
    pub must: Option<bool>,
    /// A section with the remnants it is to be knitted from; may be given several times
    #[arg(long, value_name = "SECTION=IDS")]
    pub pin: Vec<String>,
    /// Sections that are to be of one yarn and lot: band,hat; pairs of their own: band+hat,cuff+palm; an empty text
    /// takes it out
    #[arg(long, value_name = "SECTIONS")]
    pub same: Option<String>,
    /// Sections that are each to be of another yarn: band,hat; pairs of their own: band+hat,cuff+palm
    #[arg(long, value_name = "SECTIONS")]
    pub contrast: Option<String>,
    /// Gifts that are to be of one yarn and lot with it, by id; an empty text takes it out
    #[arg(long = "match", value_name = "IDS")]
    pub matches: Option<String>,
    /// Sections of one yarn may be of several dye lots; `--any-lot false` takes that back
    #[arg(long, num_args = 0..=1, default_missing_value = "true", value_name = "true|false")]
    pub any_lot: Option<bool>,
    /// Anything worth knowing
    #[arg(long)]
    pub note: Option<String>,
}

#[derive(Subcommand, Debug)]
pub(super) enum SwatchCommand {
    /// Note what was counted and measured on a swatch
    #[command(after_help = "\
Examples:
  oddments swatch add slate-plain --machine standard --yarn \"400 m/100 g\" --structure plain \\
      --state washed --stitches 40 --widths \"14.3 cm,14.2 cm\" --rows 60 --heights \"15 cm,14.9 cm\"
  oddments swatch add slate-plain --structure \"rib 1x1\" --stitches 60 --widths \"15.4 cm\" \\
      --rows 40 --heights \"10.1 cm\"")]
    Add(Box<SwatchAddArgs>),
    /// List the swatches with their gauge
    #[command(after_help = "Example:\n  oddments swatch list")]
    List {
        #[command(flatten)]
        rows: PlainRowArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Show the gauge of a swatch with its errors
    #[command(after_help = "Example:\n  oddments swatch show standard")]
    Show {
        /// The swatch's id
        id: String,
        #[command(flatten)]
        rows: PlainRowArgs,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Propose the dial number for a wished gauge, from the swatches of a yarn
    #[command(after_help = "\
Example:
  oddments swatch dial --yarn slate --stitches 29")]
    Dial(SwatchDialArgs),
    /// Give a swatch another id: yarns, records and settings follow
    #[command(after_help = "Example:\n  oddments swatch rename standard lamp-room")]
    Rename {
        /// The swatch's id
        id: String,
        /// Its id from now on
        new_id: String,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
    /// Remove a swatch
    #[command(after_help = "Example:\n  oddments swatch remove slate-plain")]
    Remove {
        /// The swatch's id
        id: String,
        #[command(flatten)]
        workspace: WorkspaceArgs,
    },
}

#[derive(ClapArgs, Debug)]
pub(super) struct SwatchDialArgs {
    /// The yarn's id
    #[arg(long, value_name = "ID")]
    pub yarn: String,
    /// The stitches wished for, to 10 cm
    #[arg(long, value_name = "NUMBER", value_parser = number)]
    pub stitches: f64,
    /// plain, rib 1x1 ...
    #[arg(long, default_value = "plain")]
    pub structure: String,
    /// The machine profile; left out: the workspace's, or standard
    #[arg(long, value_name = "ID")]
    pub machine: Option<String>,
    #[command(flatten)]
    pub workspace: WorkspaceArgs,
}

/// More stitches or rows than any swatch has.
const MOST_COUNTED: i64 = u32::MAX as i64;

#[derive(ClapArgs, Debug)]
pub(super) struct SwatchAddArgs {
    /// Its id: the name of its file. One that is there already gets another structure
    pub id: String,
    /// What it is called
    #[arg(long)]
    pub name: Option<String>,
    /// The machine profile it was knitted on
    #[arg(long, value_name = "ID")]
    pub machine: Option<String>,
    /// The count of its yarn: "400 m/100 g"
    #[arg(long, value_name = "COUNT")]
    pub yarn: Option<String>,
    /// plain, rib 1x1 ...
    #[arg(long, default_value = "plain")]
    pub structure: String,
    /// as knitted, rested or washed
    #[arg(long)]
    pub state: Option<String>,
    /// The tension dial
    #[arg(long, value_parser = number)]
    pub dial: Option<f64>,
    /// Stitches between the marks
    #[arg(long, value_parser = whole(0, MOST_COUNTED))]
    pub stitches: i64,
    /// Their width, measured once or oftener, with semicolons or blanks between
    #[arg(long, required = true, value_name = "LENGTHS")]
    pub widths: Vec<String>,
    /// Rows between the marks
    #[arg(long, value_parser = whole(0, MOST_COUNTED))]
    pub rows: i64,
    /// Their height, measured once or oftener, with semicolons or blanks between
    #[arg(long, required = true, value_name = "LENGTHS")]
    pub heights: Vec<String>,
    /// What the whole swatch weighs
    #[arg(long, value_name = "MASS", requires = "weighed_stitches", requires = "weighed_rows")]
    pub weight: Option<String>,
    /// Stitches of the whole swatch
    #[arg(long, requires = "weight", value_parser = whole(0, MOST_COUNTED))]
    pub weighed_stitches: Option<i64>,
    /// Rows of the whole swatch
    #[arg(long, requires = "weight", value_parser = whole(0, MOST_COUNTED))]
    pub weighed_rows: Option<i64>,
    /// What the scale shows: "1 g"; left out: the workspace's
    #[arg(long, value_name = "MASS", requires = "weight")]
    pub scale_step: Option<String>,
    #[command(flatten)]
    pub workspace: WorkspaceArgs,
}
