//! Pages of the workspace's entries: yarns, remnants, people, knitters and the settings, each with a
//! form that adds and changes what its file holds. What a form does is what the commands do.

use askama::Template;
use axum::Router;
use axum::extract::rejection::FormRejection;
use axum::extract::{Form, Path, RawQuery, State as Extract};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;

use super::entry_fields;
use super::entry_form::{COLOURS, FieldGroup, FieldSpec, OWN, Table, Wrong, changed, groups};
use super::gift_pages::NoWorkspace;
use super::gift_part::address_under;
use super::gift_top::{Slip, Step, rests_of};
use super::page_parts::{FaultView, Frame, html, page, views};
use super::posted::Posted;
use super::problem::{Answer, Problem};
use super::rests::new_key;
use super::state::{Deed, Shared, State};
use super::workspace_api::Kind;
use app::{Dependents, Pairs, Reserved, WorkspaceEdit, gift_stem, pairs};
use diag::{Code, Diagnostic, Diagnostics};
use knit::stash::Contents;
use report::Grid;
use serde_json::Value;
use store::workspace::{Basis, EntryKind, EntryName, Fields, Given, UndoAsk};

pub(super) fn routes() -> Router<State> {
    let mut router = Router::new();
    for sort in Sort::LISTED {
        router = router.route(
            sort.list(),
            get(move |s, h, q| list(sort, s, h, q))
                .post(move |state, form| act(sort, state, None, form)),
        );
    }
    for sort in Sort::FORMED {
        let new = format!("/new/{}", sort.word());
        router = router.route(
            &new,
            get(move |s, h, q| entry(sort, s, h, None, q))
                .post(move |state, form| act(sort, state, None, form)),
        );
        let own = format!("{}/{{key}}", sort.list());
        router = router.route(
            &own,
            get(move |s, h, Path(key): Path<String>, q| entry(sort, s, h, Some(key), q))
                .post(move |s, Path(key): Path<String>, form| act(sort, s, Some(key), form)),
        );
    }
    router = router.route("/new/swatch", get(async || Redirect::to("/swatch")));
    router.route(
        "/settings",
        get(|s, h, q| entry(Sort::Settings, s, h, Some(String::new()), q))
            .post(|s, form| act(Sort::Settings, s, Some(String::new()), form)),
    )
}

/// What an entry is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sort {
    Yarn,
    Swatch,
    Remnant,
    Person,
    Knitter,
    Settings,
}

impl Sort {
    /// Those with a form here: swatches have theirs where the gauge is worked out.
    const FORMED: [Sort; 4] = [Sort::Yarn, Sort::Remnant, Sort::Person, Sort::Knitter];
    const LISTED: [Sort; 5] =
        [Sort::Yarn, Sort::Swatch, Sort::Remnant, Sort::Person, Sort::Knitter];

    const fn kind(self) -> Option<Kind> {
        match self {
            Sort::Yarn => Some(Kind::Yarns),
            Sort::Swatch => Some(Kind::Swatches),
            Sort::Remnant => Some(Kind::Stash),
            Sort::Person => Some(Kind::People),
            Sort::Knitter => Some(Kind::Knitters),
            Sort::Settings => None,
        }
    }

    /// In a sentence, and in an address.
    const fn word(self) -> &'static str {
        match self {
            Sort::Yarn => "yarn",
            Sort::Swatch => "swatch",
            Sort::Remnant => "remnant",
            Sort::Person => "person",
            Sort::Knitter => "knitter",
            Sort::Settings => "settings",
        }
    }

    /// The page that lists them; those of single ones lie under it.
    const fn list(self) -> &'static str {
        match self {
            Sort::Yarn => "/yarns",
            Sort::Swatch => "/swatches",
            Sort::Remnant => "/remnants",
            Sort::Person => "/people",
            Sort::Knitter => "/knitters",
            Sort::Settings => "/settings",
        }
    }

    const fn title(self) -> &'static str {
        match self {
            Sort::Yarn => "Yarns",
            Sort::Swatch => "Swatches",
            Sort::Remnant => "Remnants",
            Sort::Person => "Measures and likes",
            Sort::Knitter => "Knitters",
            Sort::Settings => "Settings",
        }
    }

    /// What to do where there are none.
    const fn when_empty(self) -> &'static str {
        match self {
            Sort::Yarn => {
                "No yarn yet. Take a ball and type what its band says: length by weight and the colours \
                 are enough. A swatch of it comes next."
            }
            Sort::Swatch => {
                "No swatch yet. Knit about 40 stitches by 60 rows, wash it, measure it, and save what you read: \
                 without one every size is a guess."
            }
            Sort::Person => {
                "Nobody yet. Add whom you knit for: a name and a size are enough, measures make it fit."
            }
            Sort::Knitter => {
                "Nobody yet, and nobody needed: you knit all of it. Where several knit, add each of them, \
                 yourself included, and plans say who knits what."
            }
            Sort::Remnant => {
                "No yarn lies here yet. Weigh a ball without its cone, and add it: plans are made of what \
                 there is."
            }
            Sort::Settings => "",
        }
    }

    /// What its own name is called in a file.
    const fn own(self) -> &'static str {
        match self {
            Sort::Person | Sort::Knitter => "name",
            _ => "id",
        }
    }

    fn entry(self, key: &str) -> EntryName {
        match self.kind() {
            Some(kind) => kind.entry(key),
            None => EntryName::all(EntryKind::Settings),
        }
    }

    fn fields(self, shared: &Shared, contents: &Contents) -> Vec<FieldSpec> {
        match self {
            Sort::Yarn => entry_fields::of_yarn(contents),
            Sort::Remnant => entry_fields::of_remnant(contents),
            Sort::Person => entry_fields::of_person(shared, contents),
            Sort::Knitter => entry_fields::of_knitter(contents),
            Sort::Settings => entry_fields::of_settings(contents),
            Sort::Swatch => Vec::new(),
        }
    }
}

/// An address of an entry: whatever its name holds.
pub(super) fn address(sort: Sort, key: &str) -> String {
    if sort == Sort::Swatch {
        let query = serde_urlencoded::to_string([("edit", key)]).unwrap_or_default();
        return format!("/swatch?{query}");
    }
    address_under(sort.list(), key)
}

// ---- A list

#[derive(Template)]
#[template(path = "web/entries.html")]
pub(super) struct ListPage {
    frame: Frame,
    slip: Slip,
    did: &'static str,
    faults: Vec<FaultView>,
    at: &'static str,
    lists: Vec<(&'static str, &'static str)>,
    word: &'static str,
    empty: &'static str,
    headings: Vec<String>,
    rows: Vec<RowView>,
    undo: Option<Step>,
    redo: Option<Step>,
}

struct RowView {
    key: String,
    href: String,
    cells: Vec<String>,
    /// Colours, as shades to paint.
    shades: Vec<String>,
}

fn did_words(did: &str) -> &'static str {
    match did {
        "save" => "Saved.",
        "remove" => "Removed.",
        "undo" => "Taken back.",
        "redo" => "Done again.",
        "nothing" => "It was so already: nothing is written.",
        "before" => {
            "That was done already, when it was sent the first time. Nothing is done twice."
        }
        _ => "",
    }
}

pub(super) fn list_page(
    shared: &Shared,
    sort: Sort,
    told: &Diagnostics,
    did: &str,
) -> Answer<ListPage> {
    let live = shared.live().map_err(Problem::of_path)?;
    let now = live.now();
    let contents = &now.workspace.contents;
    let mut faults = views(told);
    faults.extend(views(&now.faults));
    let mut grid =
        sort.kind().map_or_else(|| Grid::new("", Vec::new()), |kind| kind.grid(contents));
    // What nobody has filled in takes no room.
    let filled: Vec<usize> = (1..grid.headings.len())
        .filter(|at| grid.rows.iter().any(|row| !row[*at].is_empty()))
        .collect();
    let headings = std::iter::once(0).chain(filled.iter().copied());
    let headings = headings.filter_map(|at| grid.headings.get(at).cloned()).collect();
    let rows = grid.rows.drain(..).map(|row| RowView {
        href: address(sort, &row[0]),
        shades: shades_of(sort, contents, &row[0]),
        cells: filled.iter().map(|at| row[*at].clone()).collect(),
        key: row.into_iter().next().unwrap_or_default(),
    });
    let (undo, redo) = now.workspace.folder.undoable();
    Ok(ListPage {
        frame: Frame::of_gifts(sort.title(), sort.list()),
        slip: Slip { number: now.workspace.state.clone(), once: new_key()?, back: String::new() },
        did: did_words(did),
        faults,
        at: sort.list(),
        lists: Sort::LISTED.map(|own| (own.list(), own.title())).to_vec(),
        word: sort.word(),
        empty: sort.when_empty(),
        headings,
        rows: rows.collect(),
        undo: undo.map(Step::from),
        redo: redo.map(Step::from),
    })
}

fn shades_of(sort: Sort, contents: &Contents, key: &str) -> Vec<String> {
    let yarn = contents.yarns.get(key).filter(|_| sort == Sort::Yarn);
    let stretches = yarn.iter().flat_map(|yarn| yarn.colours.stretches());
    stretches.map(|(colour, _)| colour.shade.to_string()).collect()
}

async fn list(
    sort: Sort,
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let did = asked(query.as_deref(), "did")?;
    state
        .brief(move |shared| {
            if shared.workspace.is_none() {
                return page(
                    &headers,
                    &NoWorkspace { frame: Frame::of_gifts(sort.title(), sort.list()) },
                );
            }
            page(&headers, &list_page(shared, sort, &Diagnostics::new(), &did)?)
        })
        .await?
}

fn asked(query: Option<&str>, key: &str) -> Answer<String> {
    let all = pairs(query.unwrap_or_default())?;
    Ok(all.into_iter().find(|(own, _)| own == key).map_or_else(String::new, |(_, text)| text))
}

// ---- One entry

#[derive(Template)]
#[template(path = "web/entry.html")]
struct EntryPage {
    frame: Frame,
    slip: Slip,
    did: &'static str,
    /// What is about no field.
    faults: Vec<FaultView>,
    /// Fields that something is wrong with: where, and what they are called.
    wrong: Vec<(String, String)>,
    action: String,
    list: (&'static str, &'static str),
    word: &'static str,
    /// The entry's tag; empty for a new one.
    tag: String,
    /// Its key; empty for a new one, and for the settings.
    key: String,
    is_new: bool,
    back: String,
    groups: Vec<FieldGroup>,
    colours: Option<Vec<ColourRow>>,
    colour_faults: Vec<FaultView>,
    /// Whether yarn is set aside of it, and something is to be said of that.
    set_aside: bool,
    can_go: bool,
    /// What it rests on that it goes with what points to it; none where that is not asked for.
    stubborn: Option<Vec<(String, String)>>,
    undo: Option<Step>,
}

/// A stretch of colour as fields.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct ColourRow {
    name: String,
    shade: String,
    length: String,
}

impl ColourRow {
    fn is_blank(&self) -> bool {
        self.name.is_empty() && self.length.is_empty()
    }
}

fn shown_colours(entry: &Table) -> Vec<ColourRow> {
    let text = |row: &Value, key: &str| row[key].as_str().unwrap_or_default().to_owned();
    let all = entry.get("colour").and_then(Value::as_array).into_iter().flatten();
    all.map(|row| ColourRow {
        name: text(row, "name"),
        shade: text(row, "shade"),
        length: text(row, "length"),
    })
    .collect()
}

fn typed_colours(posted: &Posted) -> Vec<ColourRow> {
    let all = |key: &str| {
        let own = posted.0.iter().filter(move |(own, _)| own == key);
        own.map(|(_, text)| text.trim().to_owned()).collect::<Vec<_>>()
    };
    let (names, shades, lengths) = (all("c.name"), all("c.shade"), all("c.length"));
    let rows = names.into_iter().zip(shades).zip(lengths);
    rows.map(|((name, shade), length)| ColourRow { name, shade, length }).collect()
}

/// The colours as they are written, where they are others than the entry's.
fn changed_colours(entry: &Table, posted: &Posted, wrong: &mut Wrong) -> Option<(String, Given)> {
    let typed: Vec<ColourRow> =
        typed_colours(posted).into_iter().filter(|row| !row.is_blank()).collect();
    if typed == shown_colours(entry) {
        if typed.is_empty() {
            wrong.put(COLOURS, no_colour());
        }
        return None;
    }
    if typed.is_empty() {
        wrong.put(COLOURS, no_colour());
    }
    if typed.iter().any(|row| row.name.is_empty()) {
        let fault = Diagnostic::error(Code::Missing, "a stretch of colour has no name");
        wrong.put(COLOURS, fault.hint("call it what you like: it stands in the pattern"));
    }
    let table = |row: ColourRow| {
        let mut fields = vec![
            ("name".to_owned(), Given::text(row.name)),
            ("shade".to_owned(), Given::text(row.shade)),
        ];
        if !row.length.is_empty() {
            fields.push(("length".to_owned(), Given::text(units::with_unit(&row.length, "m"))));
        }
        fields
    };
    Some(("colour".to_owned(), Given::Tables(typed.into_iter().map(table).collect())))
}

fn no_colour() -> Diagnostic {
    Diagnostic::error(Code::Missing, "a yarn has a colour")
        .hint("name one and choose its shade; a yarn of several has a line for each")
}

/// An entry as its file has it, with its tag; nothing for a new one.
fn entry_now(shared: &Shared, sort: Sort, key: Option<&str>) -> Answer<(Table, String)> {
    let Some(key) = key else { return Ok((Table::new(), String::new())) };
    let live = shared.live().map_err(Problem::of_path)?;
    let found = live.edit().entry(&sort.entry(key)).map_err(Problem::of_path)?;
    let seen = found.ok_or_else(|| {
        let fault = format!("there is no {} `{key}`", sort.word());
        Problem::of_path(
            Diagnostic::error(Code::Nothing, fault).hint(format!("see {}", sort.list())),
        )
    })?;
    match serde_json::to_value(&seen.values) {
        Ok(Value::Object(mut table)) => {
            table.insert(OWN.to_owned(), Value::String(key.to_owned()));
            Ok((table, seen.tag))
        }
        _ => Err(Diagnostic::error(Code::Internal, "an entry could not be read").into()),
    }
}

/// How a form went wrong.
struct Refused {
    posted: Posted,
    wrong: Wrong,
}

fn entry_page(
    shared: &Shared,
    sort: Sort,
    key: Option<&str>,
    back: &str,
    did: &str,
    refused: Option<Refused>,
) -> Answer<EntryPage> {
    let (entry, tag) = entry_now(shared, sort, key)?;
    let now = shared.live().map_err(Problem::of_path)?.now();
    let contents = &now.workspace.contents;
    let specs = sort.fields(shared, contents);
    let (posted, wrong) = match refused {
        Some(Refused { posted, wrong }) => (Some(posted), wrong),
        None => (None, Wrong::default()),
    };
    let saving = posted.as_ref().filter(|posted| posted.get("what") == "save");
    let stubborn = posted.as_ref().is_some_and(|posted| posted.get("what") == "remove");
    let rests = || rests_of(contents, [EntryKind::Gift, EntryKind::Remnant].map(EntryName::all));
    let mut faults = wrong.rest();
    faults.extend(views(&now.faults));
    let fields = groups(&specs, &entry, saving, &wrong);
    let colour_faults = wrong.at(COLOURS);
    let mut named: Vec<(String, String)> = fields
        .iter()
        .flat_map(|group| &group.fields)
        .filter(|field| !field.faults.is_empty())
        .map(|field| (field.id.clone(), field.label.clone()))
        .collect();
    if !colour_faults.is_empty() {
        named.push(("c-0".to_owned(), "Colours".to_owned()));
    }
    let name = key.unwrap_or_default();
    let title = match (sort, key) {
        (Sort::Settings, _) => "Settings".to_owned(),
        (_, None) => format!("A new {}", sort.word()),
        (_, Some(key)) => key.to_owned(),
    };
    Ok(EntryPage {
        frame: Frame::of_gifts(title, sort.list()),
        slip: Slip { number: now.workspace.state.clone(), once: new_key()?, back: String::new() },
        did: did_words(did),
        faults,
        wrong: named,
        action: match key {
            None => format!("/new/{}", sort.word()),
            Some("") => sort.list().to_owned(),
            Some(key) => address(sort, key),
        },
        list: (sort.list(), sort.title()),
        word: sort.word(),
        tag,
        key: name.to_owned(),
        is_new: key.is_none(),
        back: if back == "start" { "start".to_owned() } else { String::new() },
        groups: fields,
        colours: (sort == Sort::Yarn).then(|| colour_rows(&entry, saving)),
        colour_faults,
        set_aside: sort == Sort::Remnant
            && contents.reservations.iter().any(|own| own.remnant == name),
        can_go: key.is_some() && sort != Sort::Settings,
        stubborn: stubborn.then(rests),
        undo: now.workspace.folder.undoable().0.map(Step::from).filter(|_| !did.is_empty()),
    })
}

/// The stretches there are, and blank ones to fill in.
fn colour_rows(entry: &Table, posted: Option<&Posted>) -> Vec<ColourRow> {
    const BLANK: usize = 3;
    let mut rows = posted.map_or_else(|| shown_colours(entry), typed_colours);
    rows.retain(|row| !row.is_blank());
    let blank = ColourRow { shade: "#888888".to_owned(), ..ColourRow::default() };
    rows.resize(rows.len() + BLANK, blank);
    rows
}

async fn entry(
    sort: Sort,
    Extract(state): Extract<State>,
    headers: HeaderMap,
    key: Option<String>,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (back, did) = (asked(query.as_deref(), "back")?, asked(query.as_deref(), "did")?);
    state
        .brief(move |shared| {
            if shared.workspace.is_none() {
                return page(
                    &headers,
                    &NoWorkspace { frame: Frame::of_gifts(sort.title(), sort.list()) },
                );
            }
            page(&headers, &entry_page(shared, sort, key.as_deref(), &back, &did, None)?)
        })
        .await?
}

// ---- What a form does

async fn act(
    sort: Sort,
    Extract(state): Extract<State>,
    key: Option<String>,
    form: Result<Form<Pairs>, FormRejection>,
) -> Answer<Response> {
    let posted = Posted::read(form, sort.title())?;
    let done = match posted.get("what") {
        "undo" | "redo" => taken_back(&state, &posted).await,
        "remove" => removed(&state, sort, key.as_deref(), &posted).await,
        "save" if sort != Sort::Swatch => saved(&state, sort, key.clone(), &posted).await,
        _ => Err(Failed::Problem(
            Diagnostic::error(Code::Form, "the form asks for nothing that can be done")
                .hint(format!("send it from {}", sort.list()))
                .into(),
        )),
    };
    let back = posted.get("back").to_owned();
    match done {
        Ok((did, warnings)) if warnings.is_empty() => {
            let to = if back == "start" { "/start" } else { sort.list() };
            let to = format!("{to}?did={did}");
            Ok(Redirect::to(&to).into_response())
        }
        Ok((did, warnings)) => told(&state, sort, did, warnings).await,
        Err(Failed::Problem(problem)) if sort == Sort::Swatch => {
            let faults = problem.faults;
            let view = state.brief(move |shared| list_page(shared, sort, &faults, "")).await??;
            let mut response = html(&view);
            *response.status_mut() = problem.status;
            Ok(unkept(response))
        }
        Err(Failed::Problem(problem)) if posted.get("what") != "remove" => Err(problem),
        Err(failed) => {
            let (status, wrong) = match failed {
                Failed::Wrong(status, wrong) => (status, wrong),
                Failed::Problem(problem) => {
                    let mut wrong = Wrong::default();
                    problem.faults.iter().for_each(|fault| wrong.put("", fault.clone()));
                    (problem.status, wrong)
                }
            };
            let view = state
                .brief(move |shared| {
                    let refused = Refused { posted, wrong };
                    entry_page(shared, sort, key.as_deref(), &back, "", Some(refused))
                })
                .await??;
            let mut response = html(&view);
            *response.status_mut() = status;
            Ok(unkept(response))
        }
    }
}

/// What was done, with what there is to warn of.
async fn told(
    state: &State,
    sort: Sort,
    did: &'static str,
    warnings: Diagnostics,
) -> Answer<Response> {
    let view = state
        .brief(move |shared| -> Answer<Response> {
            if sort != Sort::Settings {
                return Ok(html(&list_page(shared, sort, &warnings, did)?));
            }
            let mut wrong = Wrong::default();
            warnings.iter().for_each(|fault| wrong.put("", fault.clone()));
            let refused = Some(Refused { posted: Posted::default(), wrong });
            Ok(html(&entry_page(shared, sort, Some(""), "", did, refused)?))
        })
        .await??;
    Ok(unkept(view))
}

pub(super) fn unkept(mut response: Response) -> Response {
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    response
}

/// Why nothing was done.
enum Failed {
    /// What was typed is wrong, field by field.
    Wrong(StatusCode, Wrong),
    Problem(Problem),
}

impl From<Problem> for Failed {
    fn from(problem: Problem) -> Self {
        Failed::Problem(problem)
    }
}

impl From<Diagnostic> for Failed {
    fn from(fault: Diagnostic) -> Self {
        Failed::Problem(fault.into())
    }
}

type Went = Result<(&'static str, Diagnostics), Failed>;

pub(super) fn went<T>(deed: Deed<T>, did: &'static str) -> (&'static str, Diagnostics) {
    match deed {
        Deed::Before(_) => ("before", Diagnostics::new()),
        Deed::Done { written: false, .. } => ("nothing", Diagnostics::new()),
        Deed::Done { warnings, .. } => (did, warnings),
    }
}

async fn taken_back(state: &State, posted: &Posted) -> Went {
    let redo = posted.get("what") == "redo";
    let ask = UndoAsk { redo, change: posted.mark("change")?, once: posted.once() };
    let basis = Basis::once(ask.once.clone());
    let deed = state.edited(basis, move |edit| edit.undo(&ask)).await?;
    Ok(went(deed, if redo { "redo" } else { "undo" }))
}

async fn removed(state: &State, sort: Sort, key: Option<&str>, posted: &Posted) -> Went {
    let named = Some(posted.get("id")).filter(|_| sort == Sort::Swatch);
    let (Some(kind), Some(key)) = (sort.kind(), key.or(named)) else {
        return Err(Diagnostic::error(Code::Form, "there is nothing to remove").into());
    };
    let too = match posted.get("dependents") {
        "yes" => Dependents::Remove,
        _ => Dependents::Keep,
    };
    let (basis, key) = (posted.basis(Some(kind.entry(key)))?, key.to_owned());
    let deed = state.edited(basis, move |edit| kind.remove(edit, &key, too)).await?;
    Ok(went(deed, "remove"))
}

async fn saved(state: &State, sort: Sort, key: Option<String>, posted: &Posted) -> Went {
    let form = Posted(posted.0.clone());
    let own = key.clone();
    let (specs, fields, wrong) =
        state.brief(move |shared| read(shared, sort, own.as_deref(), &form)).await??;
    if !wrong.is_empty() {
        return Err(Failed::Wrong(StatusCode::UNPROCESSABLE_ENTITY, wrong));
    }
    if key.is_some() && fields.is_empty() {
        return Ok(("nothing", Diagnostics::new()));
    }
    let basis = posted.basis(key.as_ref().map(|key| sort.entry(key)))?;
    let reserved = match posted.get("yarn") {
        "free" => Reserved::Free,
        "keep" => Reserved::Keep,
        _ => Reserved::Refuse,
    };
    let deed = state.edited(basis, move |edit| write(edit, sort, key, fields, reserved)).await;
    match deed {
        Ok(deed) => Ok(went(deed, "save")),
        Err(problem) => {
            let wrong = Wrong::of_files(&problem.faults, &specs, posted);
            Err(Failed::Wrong(problem.status, wrong))
        }
    }
}

type Read = (Vec<FieldSpec>, Fields, Wrong);

/// What a form would have written.
fn read(shared: &Shared, sort: Sort, key: Option<&str>, posted: &Posted) -> Answer<Read> {
    let (entry, _) = entry_now(shared, sort, key)?;
    let now = shared.live().map_err(Problem::of_path)?.now();
    let specs = sort.fields(shared, &now.workspace.contents);
    let mut wrong = Wrong::default();
    for spec in specs.iter().filter(|spec| spec.required && spec.typed(posted).is_empty()) {
        let fault = Diagnostic::error(Code::Missing, format!("{}: nothing is typed", spec.label));
        wrong.put(&spec.name(), fault.hint("without it nothing can be written"));
    }
    let mut fields = changed(&specs, &entry, posted, &mut wrong);
    if sort == Sort::Yarn {
        fields.extend(changed_colours(&entry, posted, &mut wrong));
    }
    let own = match (posted.get(OWN), sort, key) {
        ("", Sort::Yarn, None) => yarn_id(&now.workspace.contents, posted),
        (typed, ..) => typed.to_owned(),
    };
    if !own.is_empty() && key != Some(own.as_str()) {
        fields.insert(0, (sort.own().to_owned(), Given::text(own)));
    }
    // What is new needs no keys that take something out.
    if key.is_none() {
        fields.retain(|(_, given)| !given.is_nothing());
    }
    Ok((specs, fields, wrong))
}

/// An id for a yarn that was given none: after its name or its first colour, with a number where that is
/// taken.
fn yarn_id(contents: &Contents, posted: &Posted) -> String {
    let named =
        [posted.get("f.name"), posted.get("c.name")].into_iter().find(|name| !name.is_empty());
    let stem = named.map_or_else(|| "yarn".to_owned(), gift_stem);
    let mut ids =
        std::iter::once(stem.clone()).chain((2..).map(|number| format!("{stem}-{number}")));
    ids.find(|id| !contents.yarns.contains_key(id)).unwrap_or(stem)
}

fn write(
    edit: &mut WorkspaceEdit,
    sort: Sort,
    key: Option<String>,
    fields: Fields,
    reserved: Reserved,
) -> Result<(), Diagnostics> {
    match (sort.kind(), key) {
        (None, _) => edit.change_settings(fields),
        (Some(kind), None) => kind.add(edit, fields).map(drop),
        (Some(kind), Some(key)) => kind.change(edit, &key, fields, reserved).map(drop),
    }
}
