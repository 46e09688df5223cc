//! The keys of a request: the one table of them. A row says what a key is called in a query string
//! and in a form, what is told of it, and which field of [`Ask`] it fills. JSON (a body, a line of a
//! batch), the parser and the writer of query strings, "did you mean" and the description of the
//! interface all come from it.
//!
//! A new key is a row here. Where it stands in a form, `web/page_form.rs` says; the argument of the
//! command, `cli`.

use std::collections::BTreeMap;

use serde::{Deserialize, Deserializer};
use serde_json::Value;
use utoipa::ToSchema;

use script::{FIX, IN_TURN};

use super::key_words::{Bare, Named};
use super::swatch_keys::{SwatchAsk, reading_of};

/// A key of a query string.
#[derive(Clone, Copy, Debug)]
pub struct RequestKey {
    /// What it is called; of a family, what its keys begin with.
    pub name: &'static str,
    /// What is told of it; blank where only our own pages send it.
    pub doc: &'static str,
    pub example: Option<&'static str>,
    pub required: bool,
    shape: Shape,
    bears: Bears,
    bare: Bare,
    put: fn(&mut Draft, &str, String),
    pairs: fn(&Ask) -> Named,
}

/// A request while its keys are read one by one.
#[derive(Debug, Default)]
pub(super) struct Draft {
    pub ask: Ask,
    /// The swatch of one's own, still without readings.
    pub swatch: SwatchAsk,
    /// The unit of the form.
    pub unit: String,
    /// Readings by the place of their structure in [`STRUCTURES`].
    pub readings: BTreeMap<usize, Named>,
}

impl Draft {
    /// Whether that is a key like `plain.stitches`.
    pub fn is_reading(key: &str) -> bool {
        reading_of(key).is_some()
    }

    pub fn put_reading(&mut self, key: &str, text: String) {
        if let Some((at, field)) = reading_of(key) {
            self.readings.entry(at).or_default().push((field.to_owned(), text));
        }
    }
}

/// How a key stands in a query string. In the order in which keys are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Shape {
    /// Once, with a text.
    Text,
    /// A key for each name: `o.ease`, `o.wedges`.
    Family,
    /// As often as there is something to say.
    List,
    /// `yes`, or left out.
    Flag,
    /// The readings of swatches: `plain.stitches`. Their fields are a table of their own.
    Readings,
}

/// What a key bears upon.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Bears {
    /// What is done at the machine.
    Work,
    /// How it is shown.
    Look,
    /// How this answer is written out, or nothing: no link to the same run names it.
    Answer,
}

impl RequestKey {
    const fn new(name: &'static str, shape: Shape, doc: &'static str) -> RequestKey {
        RequestKey {
            name,
            doc,
            example: None,
            required: false,
            shape,
            bears: Bears::Work,
            bare: Bare::Stays,
            put: |_, _, _| {},
            pairs: |_| Named::new(),
        }
    }

    const fn text(name: &'static str, doc: &'static str) -> RequestKey {
        RequestKey::new(name, Shape::Text, doc)
    }

    /// Known, so that pages may send it, and told to nobody.
    const fn page(name: &'static str) -> RequestKey {
        RequestKey::new(name, Shape::Text, "").bears(Bears::Answer)
    }

    const fn example(mut self, example: &'static str) -> RequestKey {
        self.example = Some(example);
        self
    }

    const fn required(mut self) -> RequestKey {
        self.required = true;
        self
    }

    const fn bears(mut self, upon: Bears) -> RequestKey {
        self.bears = upon;
        self
    }

    const fn bare(mut self, bare: Bare) -> RequestKey {
        self.bare = bare;
        self
    }

    const fn puts(mut self, put: fn(&mut Draft, &str, String)) -> RequestKey {
        self.put = put;
        self
    }

    const fn tells(mut self, pairs: fn(&Ask) -> Named) -> RequestKey {
        self.pairs = pairs;
        self
    }

    /// The key of the table that is meant, and what follows where it is of a family.
    pub(super) fn find(key: &str) -> Option<(&'static RequestKey, &str)> {
        REQUEST_KEYS.iter().find_map(|known| Some((known, known.matched(key)?)))
    }

    fn matched<'k>(&self, key: &'k str) -> Option<&'k str> {
        match self.shape {
            Shape::Family => key.strip_prefix(self.name),
            Shape::Readings => Draft::is_reading(key).then_some(key),
            _ => (key == self.name).then_some(""),
        }
    }

    /// The names one may have meant.
    pub(super) fn names() -> impl Iterator<Item = &'static str> {
        let said = REQUEST_KEYS
            .iter()
            .filter(|key| !matches!(key.shape, Shape::Family | Shape::Readings))
            .filter(|key| key.name != PLACE_KEY);
        said.map(|key| key.name)
    }

    #[cfg(test)]
    pub(super) fn all() -> &'static [RequestKey] {
        REQUEST_KEYS
    }

    /// Those that are told to whoever reads how to ask.
    pub fn told() -> impl Iterator<Item = &'static RequestKey> {
        REQUEST_KEYS.iter().filter(|key| !key.doc.is_empty())
    }

    pub(super) fn put(&self, draft: &mut Draft, rest: &str, text: &str) {
        let text = self.bare.with_unit(text, &draft.unit);
        (self.put)(draft, rest, text);
    }

    /// The pairs that ask for the same, in a fixed order, of the keys that bear upon one of these.
    pub(super) fn pairs_of(ask: &Ask, upon: &[Bears]) -> Named {
        let mut keys: Vec<&RequestKey> =
            REQUEST_KEYS.iter().filter(|key| upon.contains(&key.bears)).collect();
        // Stable: keys of one shape stay in the order of the table.
        keys.sort_by_key(|key| key.shape);
        let pairs = |key: &&RequestKey| {
            let name = key.name;
            let of = move |(rest, text): (String, String)| (format!("{name}{rest}"), text);
            (key.pairs)(ask).into_iter().map(of).collect::<Named>()
        };
        keys.iter().flat_map(pairs).collect()
    }
}

/// A field of a request that a key fills.
trait Held {
    /// `name` is what follows the key of a family, else blank.
    fn put(&mut self, name: &str, text: String);
    /// What there is to say of it: the rest of the key, and the text.
    fn pairs(&self) -> Named;
}

impl Held for Option<String> {
    fn put(&mut self, _: &str, text: String) {
        *self = Some(text);
    }

    fn pairs(&self) -> Named {
        self.iter().map(|text| (String::new(), text.clone())).collect()
    }
}

impl Held for Vec<String> {
    fn put(&mut self, _: &str, text: String) {
        self.push(text);
    }

    fn pairs(&self) -> Named {
        self.iter().map(|text| (String::new(), text.clone())).collect()
    }
}

/// In the order of the names, and what is said last of one is what is meant: equal requests are
/// equal.
impl Held for Named {
    fn put(&mut self, name: &str, text: String) {
        match self.binary_search_by(|(known, _)| known.as_str().cmp(name)) {
            Ok(at) => self[at].1 = text,
            Err(at) => self.insert(at, (name.to_owned(), text)),
        }
    }

    fn pairs(&self) -> Named {
        self.clone()
    }
}

impl Held for bool {
    fn put(&mut self, _: &str, text: String) {
        *self = text == "yes";
    }

    fn pairs(&self) -> Named {
        self.then(|| (String::new(), "yes".to_owned())).into_iter().collect()
    }
}

/// The words of a field, where there are any.
fn said(text: Option<&String>) -> Named {
    let worded = text.filter(|text| !text.is_empty());
    worded.map(|text| (String::new(), text.clone())).into_iter().collect()
}

/// Reads names with what one would type for each.
fn typed<'de, D: Deserializer<'de>>(from: D) -> Result<Named, D::Error> {
    let values = BTreeMap::<String, Value>::deserialize(from)?;
    let mut all = Named::new();
    for (name, value) in values {
        match value {
            // What is fixed, as an object of its own.
            Value::Object(inner) if name == FIX_TABLE => {
                for (inner, value) in inner {
                    all.put(&format!("{FIX}{inner}"), as_typed(value));
                }
            }
            // The rows of each ball, by section.
            Value::Object(inner) if name == TURN_TABLE => {
                for (inner, value) in inner {
                    all.put(&format!("{IN_TURN}{inner}"), rows_typed(value));
                }
            }
            value => all.put(&name, as_typed(value)),
        }
    }
    Ok(all)
}

/// The name that what is fixed has as a table.
const FIX_TABLE: &str = "fix";

/// The name that sections in turn have as a table.
const TURN_TABLE: &str = "in_turn";

/// Whether it is a choice with a key of its own.
fn is_apart(name: &str) -> bool {
    name.starts_with(FIX) || name.starts_with(IN_TURN)
}

/// Choices whose names begin so, by what follows.
fn choices_behind(ask: &Ask, prefix: &str) -> Named {
    let named = |(name, text): &(String, String)| {
        Some((name.strip_prefix(prefix)?.to_owned(), text.clone()))
    };
    ask.options.iter().filter_map(named).collect()
}

/// Rows as one would type them: `[4, 4]` is `4,4`.
fn rows_typed(value: Value) -> String {
    match value {
        Value::Array(rows) => rows.into_iter().map(as_typed).collect::<Vec<_>>().join(","),
        other => as_typed(other),
    }
}

/// What is said to be made by hand; none of it is nothing said.
fn said_by_hand(text: String) -> Option<String> {
    Some(text).filter(|text| !matches!(text.trim(), "" | "no"))
}

fn hand_work<'de, D: Deserializer<'de>>(from: D) -> Result<Option<String>, D::Error> {
    let value = Option::<Value>::deserialize(from)?;
    Ok(value.filter(|value| !value.is_null()).map(as_typed).and_then(said_by_hand))
}

fn texts<'de, D: Deserializer<'de>>(from: D) -> Result<Named, D::Error> {
    Ok(BTreeMap::<String, String>::deserialize(from)?.into_iter().collect())
}

/// An option's value as one would type it.
fn as_typed(value: Value) -> String {
    match value {
        Value::String(text) => text,
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        other => other.to_string(),
    }
}

/// Makes [`Ask`] and the table of its keys of the same rows. A row is a key, then the field that it
/// fills as JSON has it: `{ field }` where the key fills it with a text, `reads { field }` where the
/// row says how. A key of the query string alone has no field of its own.
macro_rules! request_keys {
    (
        $(
            $key:expr
            $(, { $(#[$meta:meta])* $field:ident : $type:ty })?
            $(, reads { $(#[$own_meta:meta])* $own_field:ident : $own_type:ty })?
            ;
        )*
    ) => {
        /// What to grade.
        #[derive(Clone, Debug, Default, PartialEq, Deserialize, ToSchema)]
        #[serde(deny_unknown_fields)]
        pub struct Ask {
            $(
                $( $(#[$meta])* pub $field: $type, )?
                $( $(#[$own_meta])* pub $own_field: $own_type, )?
            )*
        }

        /// All keys of a request.
        const REQUEST_KEYS: &[RequestKey] = &[
            $(
                $key
                $(
                    .puts(|draft, name, text| draft.ask.$field.put(name, text))
                    .tells(|ask| ask.$field.pairs())
                )?
            ),*
        ];
    };
}

/// Where the knitter is, which the page at the machine reads from its own address.
const PLACE_KEY: &str = "at";

request_keys! {
    RequestKey::text("garment", "A garment's id.").example("tam").required(), {
        /// A garment's id.
        #[schema(example = "tam")]
        garment: Option<String>
    };
    RequestKey::text("machine", "A machine profile's id.").example("standard"), {
        /// A machine profile's id; left out: the swatch's own, or standard.
        #[schema(example = "standard")]
        machine: Option<String>
    };
    RequestKey::text("needles", "The needles of the bed: how many about its centre, or the first and the last.")
        .example("L90-R95"), {
        /// The needles of the bed: how many about its centre (`180`), or the first and the last (`L90-R95`).
        #[schema(example = "L90-R95")]
        needles: Option<String>
    };
    RequestKey::text("out_of_work", "Needles that don't knit.").example("L17,R3-R4"), {
        /// Needles of it that don't knit: pieces are put where all do.
        #[schema(example = "L17,R3-R4")]
        out_of_work: Option<String>
    };
    RequestKey::text("by_hand", "What is made by hand, `rib`, `toe` or `grafting`, with commas between; `yes`: all of it. Ribs are knitted on a pair of needles.")
        .example("rib,toe")
        .puts(|draft, _, text| draft.ask.by_hand = said_by_hand(text))
        .tells(|ask| said(ask.by_hand.as_ref())),
    reads {
        /// What is made by hand: `rib` (on a pair of needles, where the machine has no ribber), `toe`, `grafting`,
        /// with commas between; `yes` or `true`: all of it.
        #[serde(default, deserialize_with = "hand_work")]
        #[schema(example = "rib,toe")]
        by_hand: Option<String>
    };
    RequestKey::text("sizes", "A list, a range, a group or `all`.")
        .example("y4..women-m")
        .puts(|draft, _, text| {
            draft.ask.sizes.get_or_insert(text);
        })
        .tells(|ask| ask.sizes.pairs()),
    reads {
        /// A list (`m3-6,y4`), a range (`y4..women-l`), a group or `all`.
        #[schema(example = "y4..women-m")]
        sizes: Option<String>
    };
    RequestKey::text("units", "`cm` or `in`.").bears(Bears::Look), {
        /// `cm` or `in`; data is in millimetres whatever it says.
        #[schema(example = "cm")]
        units: Option<String>
    };
    RequestKey::text("words", "Whose words of the trade are printed: `american` (bind off), `british` (cast off) or `usual`; left out: the workspace's.")
        .bears(Bears::Look), {
        /// `american` (bind off, gauge) or `british` (cast off, tension) or `usual`; left out: the workspace's. Data keeps the usual words.
        #[schema(example = "american")]
        words: Option<String>
    };
    RequestKey::new("o.", Shape::Family, "")
        .puts(|draft, name, text| draft.ask.options.put(name, text))
        .tells(|ask| ask.options.iter().filter(|(name, _)| !is_apart(name)).cloned().collect()),
    reads {
        /// Options of the garment, as one would type them; `fix.NAME` is a number that it would decide,
        /// `in_turn.SECTION` the rows of each ball that a section is knitted from.
        #[serde(default, deserialize_with = "typed")]
        #[schema(value_type = BTreeMap<String, String>, example = json!({"ease": "-8 %"}))]
        options: Named
    };
    // A number that is fixed is a choice as options are, and travels with them.
    RequestKey::new("fix.", Shape::Family, "")
        .puts(|draft, name, text| draft.ask.options.put(&format!("{FIX}{name}"), text))
        .tells(|ask| choices_behind(ask, FIX));
    // So are the balls that a section is knitted from in turn.
    RequestKey::new("in_turn.", Shape::Family, "")
        .puts(|draft, name, text| draft.ask.options.put(&format!("{IN_TURN}{name}"), text))
        .tells(|ask| choices_behind(ask, IN_TURN));
    RequestKey::new("m.", Shape::Family, "").bare(Bare::OfForm), {
        /// Made to measure: body measures with their units.
        #[serde(default, deserialize_with = "texts")]
        #[schema(value_type = BTreeMap<String, String>, example = json!({"head_girth": "58 cm"}))]
        measures: Named
    };
    RequestKey::text("name", "Whom the measures are of."), {
        /// Whom the measures are of.
        name: Option<String>
    };
    RequestKey::text("person", "A person of the workspace, by name: made to their measures, or in their size.")
        .example("Ruan"), {
        /// Or a person of the workspace, by name: made to their measures, or in their size. Measures and
        /// sizes that are asked for go before.
        #[serde(default)]
        person: Option<String>
    };
    RequestKey::new("", Shape::Readings, "")
        .puts(|draft, key, text| draft.put_reading(key, text))
        .tells(|ask| ask.swatch.iter().flat_map(SwatchAsk::readings).collect()),
    reads {
        /// The knitter's own swatches; left out: the demo swatch of the machine.
        swatch: Option<SwatchAsk>
    };
    RequestKey::text("swatch_id", "A swatch of the workspace, by its id."), {
        /// Or a swatch of the workspace, by its id.
        swatch_id: Option<String>
    };
    RequestKey::text("swatch_name", "")
        .puts(|draft, _, text| draft.swatch.name = Some(text))
        .tells(|ask| said(ask.swatch.as_ref().and_then(|swatch| swatch.name.as_ref())));
    RequestKey::text("yarn", "The yarn of one's own swatch, like `400 m/100 g`.")
        .puts(|draft, _, text| draft.swatch.yarn = text)
        .tells(|ask| said(ask.swatch.as_ref().map(|swatch| &swatch.yarn)));
    RequestKey::text("format", "How the answer is written out.").bears(Bears::Answer), {
        /// How the answer is written out.
        format: Option<String>
    };
    RequestKey::text("picture", "Which picture, as `svg`: `schematic`, `rows`, `stripes` or `round`.")
        .bears(Bears::Answer),
    {
        /// Which picture, as `svg`: `schematic`, `rows`, `stripes` or `round`.
        picture: Option<String>
    };
    RequestKey::text("paper", "What a sheet is printed on: `a4` or `letter`.")
        .bears(Bears::Answer),
    {
        /// What a sheet is printed on: `a4` or `letter`.
        paper: Option<String>
    };
    RequestKey::new("each", Shape::Flag, "`yes`: every size a pattern of its own, in one file.")
        .bears(Bears::Answer),
    {
        /// Every size a pattern of its own, in one file.
        #[serde(default)]
        each: bool
    };
    RequestKey::new("flat", Shape::Flag, "`yes`: a sheet without the garment in the round.")
        .bears(Bears::Answer),
    {
        /// A sheet without the garment in the round.
        #[serde(default)]
        flat: bool
    };
    // Typed beside the list of sizes, it is what is meant.
    RequestKey::page("range").puts(|draft, _, text| draft.ask.sizes = Some(text));
    RequestKey::page(PLACE_KEY);
    RequestKey::new(
        "ball",
        Shape::List,
        "A ball for the picture of the stripes, as `[SECTION=]YARN[@WEIGHT]`; may be given several\n\
         times.",
    )
    .bears(Bears::Look),
    {
        /// Balls for the picture of the stripes, in the order in which they are joined:
        /// `[SECTION=]YARN[@WEIGHT]`, a yarn of the workspace or of the demo.
        #[serde(default)]
        #[schema(example = json!(["shoreline@34g"]))]
        balls: Vec<String>
    };
    RequestKey::new(
        "start",
        Shape::List,
        "Where in its colours a first ball begins, as `[SECTION=]LENGTH`.",
    )
    .bears(Bears::Look)
    .bare(Bare::Of("m")),
    {
        /// Where in its colours a first ball begins: `[SECTION=]LENGTH`.
        #[serde(default)]
        #[schema(example = json!(["2.5 m"]))]
        starts: Vec<String>
    };
    RequestKey::new("match", Shape::Flag, "`yes`: match the second of a pair to the first.")
        .bears(Bears::Look),
    {
        /// Match the second of a pair to the first.
        #[serde(default)]
        matched: bool
    };
}
