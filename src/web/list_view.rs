//! A list of the workspace as a page shows it: its entries searched, sorted, filtered, one of them open to
//! be changed.

use std::cmp::Ordering;

use super::chip::Chip;
use super::gift_api::Turn;
use super::gift_part::address_under;
use super::knit_now::{Knit, of_gift};
use super::list_ask::ListAsk;
use super::page_form::{Choice, garment_choices, size_groups};
use super::posted::Posted;
use super::state::Shared;
use super::workspace_api::Kind;
use app::Workspace;
use knit::stash::{
    ColourFamily, Contents, GarmentChoice, GiftState, GiftWish, WashEffort, section_words,
};
use report::Grid;
use store::workspace::Tag;

/// Entries on one page.
const ON_A_PAGE: usize = 60;

/// A list, as much of it as is asked for.
pub(super) struct ListView {
    pub kind: &'static str,
    /// How many entries there are, and how many of them are left after search and filters.
    pub all: usize,
    pub found: usize,
    pub narrowed: bool,
    pub entries: Vec<EntryView>,
    pub words: String,
    pub orders: Vec<Choice>,
    pub filters: Vec<FilterView>,
    /// The query that shows it so, with nothing open.
    pub query: String,
    /// Queries of the entries before and after these.
    pub before: Option<String>,
    pub after: Option<String>,
}

pub(super) struct FilterView {
    pub name: &'static str,
    pub label: &'static str,
    pub choices: Vec<Choice>,
}

pub(super) struct EntryView {
    pub id: String,
    pub title: String,
    /// How many it wishes for, of many of a kind.
    pub count: usize,
    pub chips: Vec<Chip>,
    /// Headings and cells, those that are filled in.
    pub facts: Vec<(String, String)>,
    /// Of a gift, how it stands.
    pub state: String,
    /// Where it can be knitted at once.
    pub knit: Option<Knit>,
    /// The query that opens it.
    pub opens: String,
    pub edit: Option<EditView>,
    /// Where the rest of what is known of a person is.
    pub more: Option<String>,
}

/// What can be done to the open entry.
pub(super) struct EditView {
    pub tag: Tag,
    pub fields: Vec<EditField>,
    /// What a form weighs again.
    pub weighed: bool,
    /// What can be said of it: the words for a form, and for people.
    pub turns: Vec<(&'static str, &'static str)>,
    /// Yarn is set aside for it: a change says what becomes of that.
    pub set_aside: bool,
    pub picture: Option<Picture>,
}

pub(super) struct Picture {
    pub src: String,
    pub alt: String,
}

pub(super) struct EditField {
    pub name: &'static str,
    pub label: &'static str,
    pub value: String,
    /// As a browser calls it: `text`, `date`, `number`, `checkbox`; nothing where it is a choice.
    pub input: &'static str,
    pub choices: Vec<Choice>,
    /// How it is written; nothing where that goes without saying.
    pub help: String,
}

/// An entry before it is shown.
struct Row {
    cells: Vec<String>,
    tag: Tag,
    state: GiftState,
}

impl ListView {
    pub fn of(
        kind: Kind,
        shared: &Shared,
        workspace: &Workspace,
        ask: &ListAsk,
        posted: &Posted,
        planned: &[String],
    ) -> ListView {
        let contents = &workspace.contents;
        let Grid { headings, rows, tags, .. } = workspace.tagged(kind.of(), kind.grid(contents));
        let lister = Lister { kind, shared, contents, headings, ask, posted };
        let rows = rows.into_iter().zip(tags);
        let all: Vec<Row> = rows.map(|(cells, tag)| lister.row(cells, tag, planned)).collect();
        let total = all.len();
        let filters = lister.filters(&all);
        let mut found: Vec<Row> = all.into_iter().filter(|row| lister.keeps(row)).collect();
        lister.sort(&mut found);
        let from = ask.from.min(found.len().saturating_sub(1) / ON_A_PAGE * ON_A_PAGE);
        let to = (from + ON_A_PAGE).min(found.len());
        ListView {
            kind: kind.name(),
            all: total,
            found: found.len(),
            narrowed: ask.narrows(),
            entries: found[from..to].iter().map(|row| lister.entry(row, from)).collect(),
            words: ask.words.clone(),
            orders: lister.orders(),
            filters,
            query: ask.query(from, ""),
            before: (from > 0).then(|| ask.query(from.saturating_sub(ON_A_PAGE), "")),
            after: (to < found.len()).then(|| ask.query(to, "")),
        }
    }
}

/// The orders of a list: name, words, and the heading that it goes by.
const fn orders_of(kind: Kind) -> &'static [(&'static str, &'static str, &'static str)] {
    match kind {
        Kind::Stash => &[
            ("name", "by name", "Remnant"),
            ("-weight", "the heaviest first", "Weight g"),
            ("weight", "the lightest first", "Weight g"),
            ("yarn", "by yarn", "Yarn"),
        ],
        Kind::Gifts => &[
            ("due", "the soonest first", "Due"),
            ("-priority", "what matters most first", "Priority"),
            ("person", "by person", "Person"),
            ("state", "by how they stand", "State"),
            ("name", "by name", "Gift"),
        ],
        _ => &[("name", "by name", "Name"), ("size", "by size", "Size")],
    }
}

struct Lister<'a> {
    kind: Kind,
    shared: &'a Shared,
    contents: &'a Contents,
    headings: Vec<String>,
    ask: &'a ListAsk,
    posted: &'a Posted,
}

impl Lister<'_> {
    fn column(&self, heading: &str) -> Option<usize> {
        self.headings.iter().position(|own| own == heading)
    }

    fn cell<'r>(&self, row: &'r Row, heading: &str) -> &'r str {
        self.column(heading).and_then(|at| row.cells.get(at)).map_or("", String::as_str)
    }

    fn row(&self, mut cells: Vec<String>, tag: Tag, planned: &[String]) -> Row {
        let mut state = GiftState::Wished;
        if let Some(gift) = self.gift(&cells[0]) {
            state = self.contents.gift_state(gift);
            if state == GiftState::Wished && planned.contains(&gift.id) {
                state = GiftState::Planned;
            }
            if let Some(at) = self.column("State") {
                cells[at] =
                    format!("{}{}", state.name(), if gift.keep { ", kept fast" } else { "" });
            }
        }
        Row { cells, tag, state }
    }

    fn gift(&self, id: &str) -> Option<&GiftWish> {
        self.contents.gift(id).filter(|_| self.kind == Kind::Gifts)
    }

    /// The colours of the yarn of a remnant.
    fn families(&self, row: &Row) -> Vec<ColourFamily> {
        let yarn = self.contents.yarns.get(self.cell(row, "Yarn"));
        yarn.map(|yarn| yarn.colour_families()).unwrap_or_default()
    }

    fn filters(&self, rows: &[Row]) -> Vec<FilterView> {
        let filter = |name: &'static str, label, mut values: Vec<String>| {
            values.sort();
            values.dedup();
            values.retain(|value| !value.is_empty());
            let chosen = self.ask.filter(name);
            let choice = |value: String| Choice {
                chosen: value == chosen,
                label: self.filter_label(name, &value),
                value,
            };
            FilterView { name, label, choices: values.into_iter().map(choice).collect() }
        };
        let of =
            |heading: &str| rows.iter().map(|row| self.cell(row, heading).to_owned()).collect();
        let filters = match self.kind {
            Kind::Stash => {
                let families = rows.iter().flat_map(|row| self.families(row));
                vec![
                    filter("yarn", "Yarn", of("Yarn")),
                    filter("colour", "Colour", families.map(|f| f.name().to_owned()).collect()),
                    filter("where", "Where", of("Where")),
                ]
            }
            Kind::Gifts => {
                let states = GiftState::ALL.map(GiftState::name).map(str::to_owned);
                let there = |state: &String| rows.iter().any(|row| self.stands(row, state));
                vec![
                    filter("state", "How it stands", states.into_iter().filter(there).collect()),
                    filter("person", "For", of("Person")),
                    filter("knitter", "Who knits", of("Knitter")),
                ]
            }
            _ => vec![filter("size", "Size", of("Size"))],
        };
        filters.into_iter().filter(|filter| filter.choices.len() > 1).collect()
    }

    fn filter_label(&self, name: &str, value: &str) -> String {
        let yarn = self.contents.yarns.get(value).filter(|_| name == "yarn");
        yarn.map_or_else(|| value.to_owned(), |yarn| yarn.name.clone())
    }

    /// Whether it stands so, or of many at least one.
    fn stands(&self, row: &Row, state: &str) -> bool {
        let said = self.cell(row, "State");
        match self.gift(&row.cells[0]) {
            Some(_) => row.state.name() == state,
            None => {
                said.split(", ").any(|part| part.split_once(' ').is_some_and(|(_, s)| s == state))
            }
        }
    }

    fn keeps(&self, row: &Row) -> bool {
        let yarn = self.contents.yarns.get(self.cell(row, "Yarn"));
        let text = row.cells.join(" ").to_lowercase();
        let name = yarn.map(|yarn| yarn.name.to_lowercase()).unwrap_or_default();
        let words = self.ask.words.to_lowercase();
        let has = |word: &str| text.contains(word) || name.contains(word);
        let passes = |(filter, value): &(String, String)| match filter.as_str() {
            "yarn" => self.cell(row, "Yarn") == value,
            "colour" => self.families(row).iter().any(|family| family.name() == value),
            "where" => self.cell(row, "Where") == value,
            "state" => self.stands(row, value),
            "person" => self.cell(row, "Person") == value,
            "knitter" => self.cell(row, "Knitter") == value,
            "size" => self.cell(row, "Size") == value,
            _ => true,
        };
        words.split_whitespace().all(has) && self.ask.filters.iter().all(passes)
    }

    fn sort(&self, rows: &mut [Row]) {
        let name = self.ask.sort.as_str();
        let Some((_, _, heading)) = orders_of(self.kind).iter().find(|(own, ..)| *own == name)
        else {
            return;
        };
        let down = name.starts_with('-');
        rows.sort_by(|a, b| {
            let (a, b) = (self.cell(a, heading), self.cell(b, heading));
            // What nobody has filled in comes last, whichever way.
            match (a.is_empty(), b.is_empty()) {
                (false, false) if down => compare(b, a),
                (false, false) => compare(a, b),
                (one, other) => one.cmp(&other),
            }
        });
    }

    fn orders(&self) -> Vec<Choice> {
        let own = |(name, words, _): &(&str, &str, &str)| Choice {
            value: (*name).to_owned(),
            label: (*words).to_owned(),
            chosen: *name == self.ask.sort,
        };
        let first = Choice {
            value: String::new(),
            label: "as they were written down".to_owned(),
            chosen: self.ask.sort.is_empty(),
        };
        std::iter::once(first).chain(orders_of(self.kind).iter().map(own)).collect()
    }

    fn entry(&self, row: &Row, from: usize) -> EntryView {
        let id = row.cells[0].clone();
        let gift = self.gift(&id);
        let yarn = self.contents.yarns.get(self.cell(row, "Yarn"));
        // How it stands goes beside its name; what nobody has filled in takes no room.
        let apart =
            |heading: &str| self.kind == Kind::Gifts && ["State", "Kept"].contains(&heading);
        let facts = self.headings.iter().zip(&row.cells).skip(1);
        let facts = facts.filter(|(heading, cell)| !cell.is_empty() && !apart(heading));
        let facts =
            facts.map(|(heading, cell)| (heading.clone(), self.told(heading, cell))).collect();
        let open = self.ask.edit == id;
        EntryView {
            title: id.clone(),
            count: if self.kind == Kind::Gifts { self.contents.pieces(&id).count() } else { 0 },
            chips: yarn.map(Chip::of).into_iter().collect(),
            facts,
            state: self.cell(row, "State").to_owned(),
            knit: gift.and_then(|gift| of_gift(self.shared, self.contents, gift)),
            opens: self.ask.query(from, &id),
            edit: open.then(|| self.edit(row, gift)),
            more: (self.kind == Kind::People).then(|| address_under("/people", &id)),
            id,
        }
    }

    /// A cell in words: a yarn by its name, garments by their titles.
    fn told(&self, heading: &str, cell: &str) -> String {
        match heading {
            "Yarn" => {
                self.contents.yarns.get(cell).map_or_else(|| cell.to_owned(), |y| y.name.clone())
            }
            "Garment" => {
                let title = |id: &str| {
                    let known = self.shared.garment(id).ok();
                    known.map_or_else(|| id.to_owned(), |(plugin, _)| plugin.manifest.title.clone())
                };
                cell.split(", ").map(title).collect::<Vec<_>>().join(" or ")
            }
            _ => cell.to_owned(),
        }
    }

    fn edit(&self, row: &Row, gift: Option<&GiftWish>) -> EditView {
        let turns = gift.map(|gift| {
            let sayable =
                Turn::ALL.iter().filter(|(turn, ..)| sayable(*turn, row.state, gift.keep));
            sayable.map(|(_, name, words)| (*name, *words)).collect()
        });
        let garment = gift.and_then(|gift| match &gift.garment {
            GarmentChoice::OneOf(ids) => ids.first(),
            GarmentChoice::Any => None,
        });
        let person = gift.filter(|gift| !gift.person.is_empty()).map(|gift| gift.person.clone());
        EditView {
            tag: row.tag.clone(),
            fields: self.fields(row, gift),
            weighed: self.kind == Kind::Stash,
            turns: turns.unwrap_or_default(),
            set_aside: gift.is_some_and(|g| self.contents.set_aside(&g.id).next().is_some()),
            picture: garment.zip(person).map(|(garment, person)| picture(garment, &person)),
        }
    }

    fn fields(&self, row: &Row, gift: Option<&GiftWish>) -> Vec<EditField> {
        let text = |name, label, heading: &str| {
            self.field(row, name, label, "text", self.cell(row, heading))
        };
        let mut fields = match self.kind {
            Kind::Stash => vec![
                text("lot", "Lot", "Lot"),
                text("where", "Where it lies", "Where"),
                text("keep_for", "Kept for", "Kept for"),
            ],
            Kind::People => self.person_fields(row),
            _ => gift.map(|gift| self.gift_fields(row, gift)).unwrap_or_default(),
        };
        if self.kind != Kind::Gifts || gift.is_some() {
            fields.push(text("note", "Note", "Note"));
        }
        fields
    }

    fn person_fields(&self, row: &Row) -> Vec<EditField> {
        let size = self.typed(row, "size", self.cell(row, "Size"));
        let groups = size_groups(self.shared, &size).0.into_iter();
        // The first of each group is the whole group.
        let sizes = groups.flat_map(|group| group.choices.into_iter().skip(1));
        let wash = self.typed(row, "wash", self.cell(row, "Washes by"));
        let washes = WashEffort::ALL.map(WashEffort::name);
        vec![
            EditField {
                choices: [unsaid("by measures alone", &size)].into_iter().chain(sizes).collect(),
                ..self.field(row, "size", "Size", "", &size)
            },
            EditField {
                choices: choices("not said", &wash, &washes),
                ..self.field(row, "wash", "Washes by", "", &wash)
            },
        ]
    }

    fn gift_fields(&self, row: &Row, gift: &GiftWish) -> Vec<EditField> {
        let now = match &gift.garment {
            GarmentChoice::Any => GarmentChoice::ANY.to_owned(),
            GarmentChoice::OneOf(ids) => ids.join(", "),
        };
        let chosen = self.typed(row, "garment", &now);
        let mut garments = garment_choices(self.shared, &chosen);
        let any = GarmentChoice::ANY;
        garments.insert(
            0,
            Choice { value: any.to_owned(), label: any.to_owned(), chosen: chosen == any },
        );
        if let GarmentChoice::OneOf(ids) = &gift.garment
            && ids.len() > 1
        {
            let label = self.told("Garment", &now);
            garments.insert(0, Choice { chosen: chosen == now, value: now, label });
        }
        let mut fields = vec![
            EditField { choices: garments, ..self.field(row, "garment", "What", "", &chosen) },
            self.field(row, "priority", "Priority, 1 to 5", "number", &gift.priority.to_string()),
            self.field(row, "due", "Due", "date", self.cell(row, "Due")),
            self.field(row, "must", "It must be made", "checkbox", self.cell(row, "Must")),
        ];
        if !self.contents.knitters.is_empty() {
            let knitter = self.typed(row, "knitter", gift.knitter.as_deref().unwrap_or(""));
            let names: Vec<&str> = self.contents.knitters.iter().map(|k| k.name.as_str()).collect();
            fields.push(EditField {
                choices: choices("anybody", &knitter, &names),
                ..self.field(row, "knitter", "Who knits it", "", &knitter)
            });
        }
        fields.extend(self.yarn_fields(row, gift));
        fields
    }

    /// Which of its sections are to be of one yarn, which of several, and which gifts it is to match.
    fn yarn_fields(&self, row: &Row, gift: &GiftWish) -> Vec<EditField> {
        let sections = self.sections(&gift.garment);
        let said = !gift.same.is_empty() || !gift.contrast.is_empty() || gift.any_lot;
        let mut fields = Vec::new();
        let of_several = said || sections.len() != 1;
        if of_several {
            let known = match sections.as_slice() {
                [] => String::new(),
                names => format!("It has {}. ", names.join(", ")),
            };
            let pairs = match sections.as_slice() {
                [one, two, ..] => format!("Pairs of their own: {one}+{two}."),
                _ => "Pairs of their own: band+hat, cuff+palm.".to_owned(),
            };
            let sets = |name, label, sets, help| {
                self.helped(row, (name, label), &section_words(sets), help)
            };
            fields.push(sets(
                "same",
                "Sections of one yarn",
                &gift.same,
                format!("{known}Commas between. {pairs}"),
            ));
            fields.push(sets(
                "contrast",
                "Sections that differ",
                &gift.contrast,
                format!("Each of another yarn. {pairs}"),
            ));
        }
        fields.push(self.helped(
            row,
            ("match", "Of one yarn with"),
            &gift.matches.join(", "),
            "Short names of other gifts, commas between.".to_owned(),
        ));
        if of_several {
            let any_lot = if gift.any_lot { "yes" } else { "" };
            fields.push(self.field(row, "any_lot", "Dye lots may be mixed", "checkbox", any_lot));
        }
        fields
    }

    fn helped(
        &self,
        row: &Row,
        (name, label): (&'static str, &'static str),
        value: &str,
        help: String,
    ) -> EditField {
        EditField { help, ..self.field(row, name, label, "text", value) }
    }

    /// What the sections of a garment are called; none where it may be one of several.
    fn sections(&self, garment: &GarmentChoice) -> Vec<String> {
        let GarmentChoice::OneOf(ids) = garment else { return Vec::new() };
        let [only] = ids.as_slice() else { return Vec::new() };
        let found = self.shared.garment(only);
        found.map_or_else(
            |_| Vec::new(),
            |(plugin, _)| plugin.manifest.sections.iter().map(|s| s.name.clone()).collect(),
        )
    }

    fn field(
        &self,
        row: &Row,
        name: &'static str,
        label: &'static str,
        input: &'static str,
        value: &str,
    ) -> EditField {
        EditField {
            name,
            label,
            input,
            value: self.typed(row, name, value),
            choices: Vec::new(),
            help: String::new(),
        }
    }

    /// What was typed into a field of this entry and could not be done, or what it is.
    fn typed(&self, row: &Row, name: &str, value: &str) -> String {
        match self.posted.chosen("change", "id", &row.cells[0]) {
            true => self.posted.get(name).to_owned(),
            false => value.to_owned(),
        }
    }
}

fn unsaid(label: &str, chosen: &str) -> Choice {
    Choice { value: String::new(), label: label.to_owned(), chosen: chosen.is_empty() }
}

/// Words to choose from, and none of them.
fn choices(none: &str, chosen: &str, words: &[&str]) -> Vec<Choice> {
    let choice = |word: &&str| Choice {
        value: (*word).to_owned(),
        label: (*word).to_owned(),
        chosen: *word == chosen,
    };
    std::iter::once(unsaid(none, chosen)).chain(words.iter().map(choice)).collect()
}

/// Numbers by what they are worth, all else by its letters.
fn compare(a: &str, b: &str) -> Ordering {
    match (a.parse::<f64>(), b.parse::<f64>()) {
        (Ok(a), Ok(b)) => a.total_cmp(&b),
        _ => a.to_lowercase().cmp(&b.to_lowercase()),
    }
}

/// A garment as someone would have it.
fn picture(garment: &str, person: &str) -> Picture {
    let query =
        [("garment", garment), ("person", person), ("format", "svg"), ("picture", "schematic")];
    Picture {
        src: format!("/api/v1/pattern?{}", serde_urlencoded::to_string(query).unwrap_or_default()),
        alt: format!("Schematic of {garment} for {person}"),
    }
}

/// Whether it makes sense to say that of a gift.
fn sayable(turn: Turn, state: GiftState, keep: bool) -> bool {
    let over = matches!(state, GiftState::Done | GiftState::GivenUp);
    let has_yarn = matches!(state, GiftState::SetAside | GiftState::OnMachine);
    match turn {
        Turn::Begin => !over && state != GiftState::OnMachine,
        Turn::Done | Turn::GiveUp => !over,
        Turn::Free => has_yarn,
        Turn::Keep => has_yarn && !keep,
        Turn::LetGo => has_yarn && keep,
        Turn::Wish => over,
    }
}
