//! The workspace over HTTP: its lists, changes to them, what was finished, undo. Each change
//! is what the command of the same name does.

use axum::extract::rejection::{JsonRejection, PathRejection};
use axum::extract::{Json, Path, RawQuery, State as Extract};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::{Map, Value, json};
use utoipa::openapi::path::{Parameter, ParameterIn};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::api::body;
use super::format::{RUN_SHEETS, Sheet, clean, table_format};
use super::posted::Posted;
use super::problem::{Answer, Problem, ProblemBody, Refusals};
use super::query::QueryKey;
use super::reply::{PRIVATE, kept, tagged};
use super::rests::{self, freed_value, numbered, once_of, told, told_value};
use super::state::{Shared, State};
use app::{
    CountedPiece, Dependents, PieceAsk, RecordRequest, Removed, Reserved, WorkspaceEdit, gift_stem,
    record, record_look, weighing,
};
use diag::{Code, Diagnostic, Diagnostics};
use knit::stash::{Reservation, Sure};
use report::{self, Grid};
use store::workspace::{
    Basis, ChangeMark, Contents, EntryKind, EntryName, Fields, Given, List, PastChange, SeenEntry,
    UndoAsk, Undone, parse_date, today,
};

pub(super) fn routes() -> OpenApiRouter<State> {
    OpenApiRouter::new()
        .routes(routes!(list, add))
        .routes(routes!(entry, change, remove))
        .routes(routes!(undo))
        .routes(routes!(changes))
        .routes(routes!(finished))
}

/// A list of the workspace.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub(super) enum Kind {
    Stash,
    Yarns,
    People,
    Knitters,
    Gifts,
    Swatches,
}

impl Kind {
    pub const fn name(self) -> &'static str {
        match self {
            Kind::Stash => "stash",
            Kind::Yarns => "yarns",
            Kind::People => "people",
            Kind::Knitters => "knitters",
            Kind::Gifts => "gifts",
            Kind::Swatches => "swatches",
        }
    }

    /// What its entries are.
    pub const fn of(self) -> EntryKind {
        match self {
            Kind::Stash => EntryKind::Remnant,
            Kind::Yarns => EntryKind::Yarn,
            Kind::People => EntryKind::Person,
            Kind::Knitters => EntryKind::Knitter,
            Kind::Gifts => EntryKind::Gift,
            Kind::Swatches => EntryKind::Swatch,
        }
    }

    pub fn entry(self, key: &str) -> EntryName {
        EntryName::new(self.of(), key)
    }

    pub fn grid(self, contents: &Contents) -> Grid {
        match self {
            Kind::Stash => report::stash_list(contents, None),
            Kind::Yarns => report::yarn_list(contents),
            Kind::People => report::people_list(contents),
            Kind::Knitters => report::knitter_list(contents),
            Kind::Gifts => report::gift_list(contents, None, None),
            Kind::Swatches => report::swatch_list(contents),
        }
    }

    /// Adds an entry and gives its id.
    ///
    /// # Errors
    /// What is missing or wrong in it; a swatch, which is read from its readings.
    pub fn add(self, edit: &mut WorkspaceEdit, mut fields: Fields) -> Result<String, Diagnostics> {
        let mut own = |key: &str| {
            let at = fields.iter().position(|(name, _)| name == key)?;
            match fields.remove(at).1 {
                Given::Text(text) => Some(text),
                _ => None,
            }
        };
        let lacking = |what: &str| {
            Diagnostic::error(Code::Missing, format!("`{what}` is missing"))
                .hint("see /api/v1/openapi.json")
        };
        let stem_of = |key: &str, fields: &Fields| {
            fields.iter().find_map(|(name, given)| match given {
                Given::Text(text) if name == key => Some(text.clone()),
                _ => None,
            })
        };
        match self {
            Kind::Stash => {
                let id = own("id");
                let yarn = stem_of("yarn", &fields).ok_or_else(|| lacking("yarn"))?;
                edit.add("stash add", List::Stash, id.as_deref(), &yarn, fields)
            }
            Kind::Gifts => {
                let id = own("id");
                let many = fields.iter().any(|(key, _)| key == "count");
                let of_many = || stem_of("garment", &fields).filter(|_| many);
                let whom = stem_of("person", &fields).or_else(of_many);
                let whom = whom.ok_or_else(|| lacking("person"))?;
                edit.add("gifts add", List::Gifts, id.as_deref(), &gift_stem(&whom), fields)
            }
            Kind::People => {
                let name = own("name").ok_or_else(|| lacking("name"))?;
                edit.add("people add", List::People, Some(&name), "", fields)
            }
            Kind::Knitters => {
                let name = own("name").ok_or_else(|| lacking("name"))?;
                edit.add("knitters add", List::Knitters, Some(&name), "", fields)
            }
            Kind::Yarns => {
                let id = own("id").ok_or_else(|| lacking("id"))?;
                edit.add_yarn(&id, fields)?;
                Ok(id)
            }
            Kind::Swatches => Err(by_hand()),
        }
    }

    pub fn change(
        self,
        edit: &mut WorkspaceEdit,
        key: &str,
        fields: Fields,
        reserved: Reserved,
    ) -> Result<Vec<Reservation>, Diagnostics> {
        match self {
            Kind::Stash => edit.change_entry("stash change", List::Stash, key, fields, reserved),
            Kind::Gifts => edit.change_entry("gifts change", List::Gifts, key, fields, reserved),
            Kind::People => edit.change_entry("people change", List::People, key, fields, reserved),
            Kind::Knitters => {
                edit.change_entry("knitters change", List::Knitters, key, fields, reserved)
            }
            Kind::Yarns => edit.change_yarn(key, fields).map(|()| Vec::new()),
            Kind::Swatches => Err(by_hand()),
        }
    }

    pub fn remove(
        self,
        edit: &mut WorkspaceEdit,
        key: &str,
        dependents: Dependents,
    ) -> Result<Removed, Diagnostics> {
        let keys = [key.to_owned()];
        match self {
            Kind::Stash => edit.remove("stash remove", List::Stash, &keys, dependents),
            Kind::Gifts => edit.remove("gifts remove", List::Gifts, &keys, dependents),
            Kind::People => edit.remove("people remove", List::People, &keys, dependents),
            Kind::Knitters => edit.remove("knitters remove", List::Knitters, &keys, dependents),
            Kind::Yarns => edit.remove_yarn(key, dependents),
            Kind::Swatches => edit.remove_swatch(key).map(|()| Removed::default()),
        }
    }
}

fn by_hand() -> Diagnostics {
    Diagnostic::error(Code::Swatch, "a swatch is added from its readings")
        .hint("`oddments swatch add` does that, or write its file in the folder swatches")
        .into()
}

/// An entry's keys as the workspace's file has them. What they may be is the file's own business.
fn fields(entry: Map<String, Value>) -> Result<Fields, Diagnostics> {
    const MOST: usize = 60;
    let mut faults = Diagnostics::new();
    if entry.len() > MOST {
        return Err(
            Diagnostic::error(Code::Body, format!("an entry has at most {MOST} keys")).into()
        );
    }
    let fields = entry
        .into_iter()
        .filter_map(|(key, value)| {
            let given = given(&value, 2).map_err(|fault| faults.push(fault.context(key.clone())));
            Some((key, given.ok()?))
        })
        .collect();
    faults.into_result(fields)
}

fn given(value: &Value, deep: usize) -> Result<Given, Diagnostic> {
    let wrong = || {
        Diagnostic::error(Code::Body, "that is no value for a file of the workspace")
            .hint("texts, numbers, true or false, lists of texts, and keys with these")
    };
    let inner = |map: &Map<String, Value>| -> Result<Fields, Diagnostic> {
        map.iter().map(|(key, value)| Ok((key.clone(), given(value, deep - 1)?))).collect()
    };
    Ok(match value {
        Value::Null => Given::Nothing,
        Value::Bool(flag) => Given::Flag(*flag),
        Value::Number(number) => match (number.as_i64(), number.as_f64()) {
            (Some(whole), _) => Given::Whole(whole),
            (None, Some(number)) if number.is_finite() => Given::Number(number),
            _ => return Err(wrong()),
        },
        Value::String(text) => Given::text(text),
        Value::Array(items) if items.iter().all(Value::is_string) => {
            Given::Texts(items.iter().filter_map(Value::as_str).map(str::to_owned).collect())
        }
        Value::Array(items) if deep > 0 => {
            let tables = items.iter().map(|item| item.as_object().ok_or_else(wrong));
            Given::Tables(tables.map(|table| inner(table?)).collect::<Result<_, _>>()?)
        }
        Value::Object(map) if deep > 0 => Given::Merge(inner(map)?),
        _ => return Err(wrong()),
    })
}

fn kind_of<T>(given: Result<Path<T>, PathRejection>) -> Answer<T> {
    given.map(|Path(kind)| kind).map_err(|_| {
        Problem::of_path(
            Diagnostic::error(Code::NoList, "the workspace has no such list")
                .hint("the lists are stash, yarns, people, knitters, gifts and swatches"),
        )
    })
}

const LIST_KEYS: [QueryKey<Sheet>; 1] =
    [QueryKey::new("format", "`json`, `csv`, `text` or `markdown`.", |sheet, name| {
        *sheet = Sheet::parse(name, RUN_SHEETS)?;
        Ok(())
    })];

struct ListQuery;

impl IntoParams for ListQuery {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        QueryKey::parameters(&LIST_KEYS)
    }
}

/// A list of the workspace
#[utoipa::path(get, path = "/api/v1/lists/{list}", tag = "workspace",
    params(("list" = Kind, Path, description = "Which list"), ListQuery), responses(
    (status = 200, description = "A row an entry", content(
        (serde_json::Value = "application/json"), (String = "text/csv"),
        (String = "text/plain"), (String = "text/markdown"))),
    (status = 304, description = "Not changed since the tag sent"),
    (status = 404, description = "No such list, or no workspace", body = ProblemBody, content_type = "application/problem+json"),
    (status = "4XX", description = "What is wrong", body = ProblemBody, content_type = "application/problem+json")))]
async fn list(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    kind: Result<Path<Kind>, PathRejection>,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let kind = kind_of(kind)?;
    let mut sheet = Sheet::Json;
    QueryKey::read(&LIST_KEYS, query.as_deref(), "there is format=csv", &mut sheet)?;
    let (bytes, seen) = state
        .brief(move |shared| -> Answer<(Vec<u8>, ChangeMark)> {
            let now = shared.live().map_err(Problem::of_path)?.now();
            if now.faults.has_errors() {
                return Err(now.faults.into());
            }
            let grid = now.workspace.tagged(kind.of(), kind.grid(&now.workspace.contents));
            Ok((clean(grid.write(table_format(sheet))), now.workspace.state.clone()))
        })
        .await??;
    Ok(numbered(tagged(&headers, sheet.mime(), bytes), &seen))
}

/// An entry as its file has it
///
/// Its tag (`ETag`) is what `If-Match` of a change names: then nothing is changed that has changed
/// since.
#[utoipa::path(get, path = "/api/v1/lists/{list}/{id}", tag = "workspace",
    params(("list" = Kind, Path, description = "Which list"), ("id" = String, Path, description = "Which entry")), responses(
    (status = 200, description = "Its keys", body = serde_json::Value),
    (status = 304, description = "Not changed since the tag sent"),
    (status = 404, description = "No such entry", body = ProblemBody, content_type = "application/problem+json"),
    (status = "4XX", description = "What is wrong", body = ProblemBody, content_type = "application/problem+json")))]
async fn entry(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    at: Result<Path<(Kind, String)>, PathRejection>,
) -> Answer<Response> {
    let (kind, id) = kind_of(at)?;
    let seen = state
        .brief(move |shared| -> Answer<SeenEntry> {
            let live = shared.live().map_err(Problem::of_path)?;
            let found = live.edit().entry(&kind.entry(&id)).map_err(Problem::of_path)?;
            found.ok_or_else(|| {
                let fault = format!("there is no `{id}` in the list {}", kind.name());
                Problem::of_path(Diagnostic::error(Code::Nothing, fault))
            })
        })
        .await??;
    let bytes = serde_json::to_vec(&seen.values).unwrap_or_default();
    Ok(numbered(kept(&headers, "application/json", bytes, &seen.tag, PRIVATE), &seen.state))
}

/// Add an entry
///
/// Its keys are those of the workspace's file (`oddments schema` describes them), `id` may be left
/// out for a remnant or a gift. It is checked as the file is, and can be taken back by an undo.
#[utoipa::path(post, path = "/api/v1/lists/{list}", tag = "workspace",
    params(("list" = Kind, Path, description = "Which list")), request_body = serde_json::Value, responses(
    (status = 201, description = "Added: its id", body = serde_json::Value),
    (status = 404, description = "No such list, or no workspace", body = ProblemBody, content_type = "application/problem+json"),
    (status = "4XX", description = "What is wrong", body = ProblemBody, content_type = "application/problem+json")))]
async fn add(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    kind: Result<Path<Kind>, PathRejection>,
    RawQuery(query): RawQuery,
    given: Result<Json<Map<String, Value>>, JsonRejection>,
) -> Answer<Response> {
    let kind = kind_of(kind)?;
    let fields = fields(body(given)?)?;
    rests::nothing_more(&headers, query.as_deref())?;
    let basis = rests::of_headers(&headers, None)?;
    let deed = state.edited(basis, move |edit| kind.add(edit, fields)).await?;
    Ok(told(deed, |id, number| {
        let place = serde_urlencoded::to_string([("", &id)]).unwrap_or_default();
        let place = place.trim_start_matches('=').replace('+', "%20");
        let body = json!({ "id": id, "change": number });
        let mut response = (StatusCode::CREATED, Json(body)).into_response();
        let at = format!("/api/v1/lists/{}/{place}", kind.name());
        if let Ok(value) = HeaderValue::from_str(&at) {
            response.headers_mut().insert(header::LOCATION, value);
        }
        response
    }))
}

/// Change an entry
///
/// Sets the keys given; `null` takes one out. With `If-Match` (the entry's tag) or `seen` nothing is
/// changed that has changed since it was looked at.
#[utoipa::path(patch, path = "/api/v1/lists/{list}/{id}", tag = "workspace",
    params(("list" = Kind, Path, description = "Which list"), ("id" = String, Path, description = "Which entry"), ChangeQuery),
    request_body = serde_json::Value, responses(
    (status = 200, description = "Changed", body = serde_json::Value),
    (status = 404, description = "No such entry", body = ProblemBody, content_type = "application/problem+json"),
    (status = 409, description = "It has changed since", body = ProblemBody, content_type = "application/problem+json"),
    (status = "4XX", description = "What is wrong", body = ProblemBody, content_type = "application/problem+json")))]
async fn change(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    at: Result<Path<(Kind, String)>, PathRejection>,
    RawQuery(query): RawQuery,
    given: Result<Json<Map<String, Value>>, JsonRejection>,
) -> Answer<Response> {
    let (kind, id) = kind_of(at)?;
    let basis = rests::of_headers(&headers, Some(kind.entry(&id)))?;
    let mut ask = ChangeAsk { yarn: Reserved::Refuse, basis };
    let hint = "there are yarn=free, and seen= with what `Oddments-Change` said";
    QueryKey::read(&CHANGE_KEYS, query.as_deref(), hint, &mut ask)?;
    let ChangeAsk { yarn, basis } = ask;
    let fields = fields(body(given)?)?;
    if fields.is_empty() {
        return Err(Diagnostic::error(Code::Body, "nothing is to be changed").into());
    }
    let own = id.clone();
    let made = move |edit: &mut WorkspaceEdit| kind.change(edit, &own, fields, yarn);
    let deed = state.edited(basis, made).await?;
    Ok(told_value(deed, |freed| json!({ "id": id, "freed": freed_value(&freed) })))
}

/// How an entry is changed.
struct ChangeAsk {
    yarn: Reserved,
    basis: Basis,
}

const CHANGE_KEYS: [QueryKey<ChangeAsk>; 2] = [
    QueryKey::new(
        "yarn",
        "What becomes of yarn that is set aside for a gift, or of a remnant, that is changed: `free` \
         or `keep`. Nothing said: the change is refused.",
        |ask, said| {
            ask.yarn = match said {
                "free" => Reserved::Free,
                "keep" => Reserved::Keep,
                _ => {
                    return Err(Diagnostic::error(
                        Code::Usage,
                        format!("`yarn={said}` is neither"),
                    )
                    .hint("yarn=free or yarn=keep"));
                }
            };
            Ok(())
        },
    ),
    QueryKey { told: rests::SEEN.told, put: |ask, said| (rests::SEEN.put)(&mut ask.basis, said) },
];

struct ChangeQuery;

impl IntoParams for ChangeQuery {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        QueryKey::parameters(&CHANGE_KEYS)
    }
}

/// How an entry is removed.
struct RemoveAsk {
    dependents: Dependents,
    basis: Basis,
}

const REMOVE_KEYS: [QueryKey<RemoveAsk>; 2] = [
    QueryKey::new("dependents", "`yes`: what points to it goes too.", |ask, said| {
        if said == "yes" {
            ask.dependents = Dependents::Remove;
        }
        Ok(())
    }),
    QueryKey { told: rests::SEEN.told, put: |ask, said| (rests::SEEN.put)(&mut ask.basis, said) },
];

struct RemoveQuery;

impl IntoParams for RemoveQuery {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        QueryKey::parameters(&REMOVE_KEYS)
    }
}

/// Remove an entry
///
/// What points to it is a reason to refuse, unless it goes too.
#[utoipa::path(delete, path = "/api/v1/lists/{list}/{id}", tag = "workspace",
    params(("list" = Kind, Path, description = "Which list"), ("id" = String, Path, description = "Which entry"), RemoveQuery), responses(
    (status = 200, description = "Removed", body = serde_json::Value),
    (status = 404, description = "No such entry", body = ProblemBody, content_type = "application/problem+json"),
    (status = "4XX", description = "What is wrong", body = ProblemBody, content_type = "application/problem+json")))]
async fn remove(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    at: Result<Path<(Kind, String)>, PathRejection>,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (kind, id) = kind_of(at)?;
    let basis = rests::of_headers(&headers, Some(kind.entry(&id)))?;
    let mut ask = RemoveAsk { dependents: Dependents::Keep, basis };
    let hint = "there are dependents=yes, and seen= with what `Oddments-Change` said";
    QueryKey::read(&REMOVE_KEYS, query.as_deref(), hint, &mut ask)?;
    let own = id.clone();
    let RemoveAsk { dependents, basis } = ask;
    let deed = state.edited(basis, move |edit| kind.remove(edit, &own, dependents)).await?;
    Ok(told_value(
        deed,
        |gone| json!({ "id": id, "freed": freed_value(&gone.freed), "gifts": gone.gifts }),
    ))
}

/// Which change to take back.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
struct BackAsk {
    /// Do again what was taken back last.
    redo: bool,
    /// That change and no other, by its number or as `Oddments-Change` says it; left out: the last
    /// one.
    #[serde(deserialize_with = "not_null")]
    change: Option<ChangeRef>,
}

/// A change that is `null` was none: it doesn't stand for the last one.
fn not_null<'de, D: Deserializer<'de>>(given: D) -> Result<Option<ChangeRef>, D::Error> {
    ChangeRef::deserialize(given).map(Some)
}

/// A change by its number, or as `Oddments-Change` says it.
#[derive(Debug, Serialize, Deserialize, ToSchema)]
#[serde(untagged)]
enum ChangeRef {
    Number(u64),
    Mark(String),
}

impl ChangeRef {
    fn mark(self) -> Result<ChangeMark, Diagnostic> {
        match self {
            ChangeRef::Number(number) => Ok(number.into()),
            ChangeRef::Mark(text) => rests::mark_of(&text),
        }
    }
}

/// The changes that there were
///
/// The oldest first, as far back as the journal goes.
#[utoipa::path(get, path = "/api/v1/changes", tag = "workspace", responses(
    (status = 200, description = "Number, command, time, what it was about, whether it is taken back", body = serde_json::Value),
    (status = 304, description = "Not changed since the tag sent"),
    (status = 404, description = "No workspace", body = ProblemBody, content_type = "application/problem+json")))]
async fn changes(Extract(state): Extract<State>, headers: HeaderMap) -> Answer<Response> {
    let history = state
        .brief(|shared| {
            let mut edit = shared.live().map_err(Problem::of_path)?.edit();
            Ok::<_, Problem>(edit.history())
        })
        .await??;
    let told = |change: &PastChange| {
        let about: Vec<String> = change.entries.iter().map(ToString::to_string).collect();
        json!({ "change": change.mark.number, "command": change.command, "time": change.time,
                "about": about, "taken_back": change.taken_back })
    };
    let all: Vec<Value> = history.iter().map(told).collect();
    let bytes = serde_json::to_vec(&all).unwrap_or_default();
    Ok(tagged(&headers, "application/json", bytes))
}

/// Take back a change
///
/// The last one, or the one named: later ones stay, unless they stand in the way.
#[utoipa::path(post, path = "/api/v1/undo", request_body = BackAsk, tag = "workspace", responses(
    (status = 200, description = "What was taken back", body = serde_json::Value),
    (status = 404, description = "Nothing to take back", body = ProblemBody, content_type = "application/problem+json"),
    (status = "4XX", description = "What is wrong", body = ProblemBody, content_type = "application/problem+json")))]
async fn undo(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
    given: Result<Json<BackAsk>, JsonRejection>,
) -> Answer<Response> {
    let BackAsk { redo, change } = body(given)?;
    rests::nothing_more(&headers, query.as_deref())?;
    let change = change.map(ChangeRef::mark).transpose()?;
    let ask = UndoAsk { redo, change, once: once_of(&headers)? };
    let basis = Basis::once(ask.once.clone());
    let deed = state.edited(basis, move |edit| edit.undo(&ask)).await?;
    Ok(told_value(deed, |undone| {
        let Undone { change, command, time, files, .. } = undone;
        json!({ "command": command, "time": time, "files": files, "undone": change })
    }))
}

/// Minutes as a number, or as they are typed.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
pub(super) enum MinutesGiven {
    Number(f64),
    Text(String),
}

/// What of a record is right: all of it, or what is named.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
pub(super) enum SureGiven {
    All(bool),
    Some(Vec<String>),
}

impl Default for SureGiven {
    fn default() -> Self {
        SureGiven::All(false)
    }
}

impl SureGiven {
    /// As the form of a page says it. `sure` there says that what was looked at is to be written; that an odd
    /// piece is right, the weight and the minutes both, is another matter.
    fn typed(posted: &Posted) -> SureGiven {
        SureGiven::All(posted.get("odd") == "right")
    }

    fn read(self) -> Result<Sure, Diagnostic> {
        let names = match self {
            SureGiven::All(true) => return Ok(Sure::ALL),
            SureGiven::All(false) => return Ok(Sure::default()),
            SureGiven::Some(names) => names,
        };
        names.iter().try_fold(Sure::default(), |sure, name| {
            let own = Sure::named(name).ok_or_else(|| {
                Diagnostic::error(Code::Word, format!("`{name}` is nothing to be sure of"))
                    .hint("true for all of it, or a list of `grams` and `minutes`")
            });
            own.map(|own| sure.or(own))
        })
    }
}

/// A finished piece.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct FinishedAsk {
    /// The garment's id.
    #[schema(example = "tam")]
    pub garment: String,
    /// Its size, or whom it was made to measure for.
    #[schema(example = "women-m")]
    pub size: String,
    /// What remnants weigh now, after a section: `SECTION:REMNANT=WEIGHT`.
    #[schema(example = json!(["hat:shoreline-2=12 g"]))]
    pub used: Vec<String>,
    /// Options as it was knitted.
    #[serde(default)]
    pub options: std::collections::BTreeMap<String, String>,
    /// The gift it was: what was set aside for it is free again.
    pub gift: Option<String>,
    /// Minutes of work on it, finishing included, or `counted`: what the page at the machine counted.
    #[schema(value_type = Option<Value>, example = 95)]
    pub minutes: Option<MinutesGiven>,
    pub note: Option<String>,
    /// It is right, however odd it looks: learn from it all the same. Of a list only what it names: `grams`,
    /// `minutes`.
    #[serde(default)]
    #[schema(value_type = Option<Value>, example = true)]
    pub sure: SureGiven,
    /// The piece of the records that it goes on with, by its name there, or `new`. Left out: the rest of the
    /// latest that lacks these sections, else a piece of its own.
    pub piece: Option<String>,
    /// The day it was finished, like `2026-03-01`; left out: today.
    pub date: Option<String>,
    /// Say what it took and what would be learnt, and write nothing.
    #[serde(default)]
    pub look: bool,
}

impl FinishedAsk {
    /// What a form of any page says besides the piece and its weights.
    pub fn of_form(posted: &Posted) -> FinishedAsk {
        let given = |key: &str| posted.given(key);
        FinishedAsk {
            gift: given("gift"),
            minutes: given("minutes").map(MinutesGiven::Text),
            note: given("note"),
            sure: SureGiven::typed(posted),
            piece: given("piece"),
            date: given("date"),
            ..FinishedAsk::default()
        }
    }

    /// # Errors
    /// Weighings and minutes that can't be read; time counted for no piece, or for several.
    pub fn request(self, shared: &Shared) -> Result<RecordRequest, Diagnostics> {
        let mut faults = Diagnostics::new();
        let options: Vec<(String, String)> = self.options.into_iter().collect();
        let piece = CountedPiece { garment: &self.garment, size: &self.size, options: &options };
        let minutes = self.minutes.and_then(|given| {
            let minutes = match given {
                MinutesGiven::Number(minutes) => return Some(minutes),
                MinutesGiven::Text(text) => shared.live().and_then(|live| {
                    piece.minutes(&text, &live.now().workspace.contents, &shared.places)
                }),
            };
            minutes.map_err(|fault| faults.push(fault)).ok()
        });
        let used = self
            .used
            .iter()
            .filter_map(|text| weighing(text).map_err(|fault| faults.push(fault)).ok());
        let used = used.collect();
        let sure = self.sure.read().map_err(|fault| faults.push(fault)).unwrap_or_default();
        let date = self.date.as_deref().map(|text| {
            parse_date(text).ok_or_else(|| {
                Diagnostic::error(Code::Date, format!("`{text}` is no day"))
                    .hint("write it like 2026-12-01: year, month, day")
            })
        });
        let date = date.transpose().map_err(|fault| faults.push(fault)).unwrap_or_default();
        faults.into_result(RecordRequest {
            garment: self.garment,
            size: self.size,
            minutes,
            options,
            used,
            gift: self.gift,
            note: self.note,
            sure,
            piece: self.piece.as_deref().map_or_else(PieceAsk::default, PieceAsk::typed),
            date,
            today: today(),
        })
    }
}

/// Record a finished piece
///
/// Weighs the remnants anew and learns from what the piece took.
#[utoipa::path(post, path = "/api/v1/records", request_body = FinishedAsk, tag = "workspace", responses(
    (status = 200, description = "With `look`: what it took, and what would be learnt", body = serde_json::Value),
    (status = 201, description = "What it took, and what was learnt", body = serde_json::Value),
    (status = 404, description = "No workspace", body = ProblemBody, content_type = "application/problem+json"),
    Refusals))]
async fn finished(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
    given: Result<Json<FinishedAsk>, JsonRejection>,
) -> Answer<Response> {
    let ask = body(given)?;
    let look = ask.look;
    let request = state.brief(move |shared| ask.request(shared)).await??;
    rests::nothing_more(&headers, query.as_deref())?;
    let basis = rests::of_headers(&headers, None)?;
    let garment = request.garment.clone();
    state.brief(move |shared| known_garment(shared, &garment)).await??;
    if look {
        let value = state
            .brief(move |shared| -> Answer<Value> {
                let mut edit = shared.live().map_err(Problem::of_path)?.edit();
                Ok(report::record_value(&record_look(&mut edit, &request)?))
            })
            .await??;
        return Ok(Json(value).into_response());
    }
    let deed = state.edited(basis, move |edit| record(edit, &request)).await?;
    Ok(told(deed, |recorded, _| {
        (StatusCode::CREATED, Json(report::record_value(&recorded))).into_response()
    }))
}

/// Garments are named by id over HTTP, never by folder.
pub(super) fn known_garment(shared: &Shared, id: &str) -> Result<(), Diagnostics> {
    shared.garment(id).map(drop)
}
