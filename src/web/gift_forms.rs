//! The forms of the pages of the stash and the gifts. They are sent to one address; what they do is
//! what the commands do.

use axum::Router;
use axum::extract::rejection::FormRejection;
use axum::extract::{Form, State as Extract};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::post;

use super::gift_api::Turn;
use super::gift_pages::gift_page;
use super::gift_top::{GiftPage, Told, rests_of};
use super::list_ask::ListAsk;
use super::page_parts::{TableView, views};
use super::plan_api::{PlanAsk, job_of, set_aside, start};
use super::posted::{Posted, grams_typed};
use super::problem::{Answer, Problem};
use super::record_pages::LookView;
use super::state::{Deed, Shared, State};
use super::workspace_api::{FinishedAsk, Kind, known_garment};
use app::{Dependents, Pairs, RecordRequest, Reserved, pairs, record, record_look};
use diag::{Code, Diagnostic, Diagnostics};
use store::workspace::{Basis, Fields, Given, UndoAsk};

pub(super) fn routes() -> Router<State> {
    Router::new().route("/gifts/do", post(act))
}

async fn act(
    Extract(state): Extract<State>,
    form: Result<Form<Pairs>, FormRejection>,
) -> Answer<Response> {
    let posted = Posted::read(form, "the stash and the gifts")?;
    // What is finished is looked at first: nothing is written until it is said to be right.
    if posted.get("what") == "record" && posted.get("sure") != "yes" {
        return Ok(match looked_at(&state, &posted).await {
            Ok(look) => {
                let told = Told { posted, ..Told::default() };
                let show =
                    move |shared: &Shared| gift_page(GiftPage::Records, shared, told, Some(look));
                state.brief(show).await??
            }
            Err(problem) => refused(&state, posted, problem).await?,
        });
    }
    match done(&state, &posted).await {
        // A finished piece was looked at, and its warnings with it.
        Ok(went) if went.warnings.is_empty() || went.did == "record" => {
            Ok(Redirect::to(&went.to).into_response())
        }
        Ok(went) => {
            let pairs = shown(&posted);
            let problem = Some(Problem::warned(went.warnings));
            let told = Told { posted: Posted::default(), problem, did: went.did, pairs };
            let page = GiftPage::of(&posted);
            state.brief(move |shared| gift_page(page, shared, told, None)).await?
        }
        Err(problem) => refused(&state, posted, problem).await,
    }
}

/// The page with what is wrong above the form as it was filled in: nothing typed is lost.
async fn refused(state: &State, posted: Posted, problem: Problem) -> Answer<Response> {
    let status = problem.status;
    let (page, pairs) = (GiftPage::of(&posted), shown(&posted));
    let told = Told { posted, problem: Some(problem), did: String::new(), pairs };
    let mut response = state.brief(move |shared| gift_page(page, shared, told, None)).await??;
    *response.status_mut() = status;
    Ok(response)
}

/// What the page showed that a form was sent from.
fn shown(posted: &Posted) -> Pairs {
    let query = posted.get("back").split_once('?').map_or("", |(_, query)| query);
    pairs(query).unwrap_or_default()
}

/// Where to go on: what was done is said there.
fn there<T>(deed: &Deed<T>, posted: &Posted, section: &str) -> Went {
    let what = posted.get("what");
    let (what, warnings) = match deed {
        Deed::Before(_) => ("before", Diagnostics::new()),
        Deed::Done { written: false, .. } => ("nothing", Diagnostics::new()),
        Deed::Done { warnings, .. } => (what, warnings.clone()),
    };
    Went { to: back(posted, what, section), did: what.to_owned(), warnings }
}

/// The page that a form was sent from, as it was; for one that doesn't say, the page that leads to all.
fn back(posted: &Posted, did: &str, section: &str) -> String {
    let (page, id) = (GiftPage::of(posted), posted.get("id"));
    if posted.get("back").is_empty() {
        return format!("/gifts?did={did}#{section}");
    }
    let asked = ListAsk::of(&shown(posted));
    let query = asked.query(asked.from, "");
    let and = if query.is_empty() { "" } else { "&" };
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-';
    let at =
        if !id.is_empty() && id.chars().all(plain) { format!("#e-{id}") } else { String::new() };
    format!("{}?{query}{and}did={did}{at}", page.path())
}

/// Where it goes on.
struct Went {
    to: String,
    did: String,
    /// What there is to warn of: then the page is shown at once, with it.
    warnings: Diagnostics,
}

impl Went {
    fn to(to: String) -> Went {
        Went { to, did: String::new(), warnings: Diagnostics::new() }
    }
}

/// Does what a form asks for, and says where to go on.
async fn done(state: &State, posted: &Posted) -> Answer<Went> {
    let what = posted.get("what").to_owned();
    let id = posted.get("id").to_owned();
    match what.as_str() {
        "add" => {
            let kind = kind(posted.get("list"))?;
            let fields = new_entry(kind, posted)?;
            let deed =
                state.edited(posted.basis(None)?, move |edit| kind.add(edit, fields)).await?;
            Ok(there(&deed, posted, kind.name()))
        }
        "change" => {
            let kind = kind(posted.get("list"))?;
            let fields = changed_entry(kind, posted)?;
            let reserved = match posted.get("yarn") {
                "free" => Reserved::Free,
                "keep" => Reserved::Keep,
                _ => Reserved::Refuse,
            };
            let basis = posted.basis(Some(kind.entry(&id)))?;
            let change = move |edit: &mut _| kind.change(edit, &id, fields, reserved).map(drop);
            Ok(there(&state.edited(basis, change).await?, posted, kind.name()))
        }
        "weigh" => Ok(there(&weigh_again(state, id, posted).await?, posted, "stash")),
        "remove" => {
            let kind = kind(posted.get("list"))?;
            let too = match posted.get("dependents") {
                "yes" => Dependents::Remove,
                _ => Dependents::Keep,
            };
            let basis = posted.basis(Some(kind.entry(&id)))?;
            let deed = state.edited(basis, move |edit| kind.remove(edit, &id, too)).await?;
            Ok(there(&deed, posted, kind.name()))
        }
        "undo" | "redo" => {
            let ask = UndoAsk {
                redo: what == "redo",
                change: posted.mark("change")?,
                once: posted.once(),
            };
            let basis = Basis::once(ask.once.clone());
            let deed = state.edited(basis, move |edit| edit.undo(&ask)).await?;
            Ok(there(&deed, posted, "main"))
        }
        "turn" => Ok(there(&turn(state, id, posted).await?, posted, "gifts")),
        "record" => Ok(there(&note_finished(state, posted).await?, posted, "stash")),
        "plan" => {
            let order = PlanAsk {
                today: Some(posted.get("today").to_owned()),
                again: posted.get("again") == "yes",
                explain: true,
                ..PlanAsk::default()
            }
            .order()?;
            Ok(Went::to(format!("/gifts/plan/{}", start(state, order, posted.once())?.id)))
        }
        "stop" => {
            let job = job_of(state, &id)?;
            job.stop();
            Ok(Went::to(format!("/gifts/plan/{}", job.id)))
        }
        "accept" => {
            let deed = set_aside(state, &id, Basis::once(posted.once())).await?;
            Ok(there(&deed, posted, "aside"))
        }
        _ => Err(Diagnostic::error(Code::Form, "the form asks for nothing that can be done")
            .hint("send it from the page of the stash and the gifts")
            .into()),
    }
}

async fn weigh_again(state: &State, id: String, posted: &Posted) -> Answer<Deed<()>> {
    let fields = posted.fields(&["weight"]);
    if fields.is_empty() {
        return Err(Diagnostic::error(Code::Weight, "what does it weigh?")
            .hint("write it like 12 g")
            .into());
    }
    let basis = posted.basis(Some(Kind::Stash.entry(&id)))?;
    let change =
        move |edit: &mut _| Kind::Stash.change(edit, &id, fields, Reserved::Refuse).map(drop);
    state.edited(basis, change).await
}

async fn turn(state: &State, id: String, posted: &Posted) -> Answer<Deed<()>> {
    let turn = Turn::parse(posted.get("to")).ok_or_else(|| {
        Diagnostic::error(Code::Form, "nothing of the kind can be said of a gift")
            .hint("choose what to say from the list beside it")
    })?;
    let basis = posted.basis(Some(Kind::Gifts.entry(&id)))?;
    state.edited(basis, move |edit| edit.turn_gifts(&[id], turn.deed()).map(drop)).await
}

/// What a finished piece would be noted as, and what that rests on.
async fn looked_at(state: &State, posted: &Posted) -> Answer<LookView> {
    let request = finished(state, posted).await?;
    state.brief(move |shared| look_of(shared, &request)).await?
}

/// What a finished piece would be noted as.
pub(super) fn look_of(shared: &Shared, request: &RecordRequest) -> Answer<LookView> {
    let live = shared.live().map_err(Problem::of_path)?;
    let now = live.now();
    let mut edit = live.edit();
    let recorded = record_look(&mut edit, request)?;
    let names = recorded.chain.iter().map(|link| Kind::Stash.entry(&link.remnant));
    let names = names.chain(request.gift.iter().map(|id| Kind::Gifts.entry(id)));
    let rests = rests_of(&now.workspace.contents, names);
    Ok(LookView {
        tables: report::record_tables(&recorded).map(TableView::from),
        lines: report::record_lines_on_page(&recorded),
        joined: recorded.joined.is_some(),
        odd: edit.warnings.iter().any(|told| told.code == Code::RecordOdd),
        warnings: views(&edit.warnings),
        rests,
    })
}

async fn note_finished(state: &State, posted: &Posted) -> Answer<Deed<()>> {
    let request = finished(state, posted).await?;
    state.edited(posted.basis(None)?, move |edit| record(edit, &request).map(drop)).await
}

async fn finished(state: &State, posted: &Posted) -> Answer<RecordRequest> {
    let lines = posted.get("used").split(['\n', ';']).map(|line| weighed_line(line.trim()));
    let request = FinishedAsk {
        garment: posted.get("garment").to_owned(),
        size: posted.get("size").to_owned(),
        used: lines.filter(|line| !line.is_empty()).collect(),
        ..FinishedAsk::of_form(posted)
    };
    let request = state.brief(move |shared| request.request(shared)).await??;
    let garment = request.garment.clone();
    state.brief(move |shared| known_garment(shared, &garment)).await??;
    Ok(request)
}

/// `section:remnant=weight` as the command takes it, with grams behind a bare number.
fn weighed_line(line: &str) -> String {
    match line.rsplit_once('=') {
        Some((ball, weight)) => format!("{ball}={}", grams_typed(weight)),
        None => line.to_owned(),
    }
}

fn kind(list: &str) -> Answer<Kind> {
    [Kind::Stash, Kind::People, Kind::Gifts]
        .into_iter()
        .find(|kind| kind.name() == list)
        .ok_or_else(|| Diagnostic::error(Code::Form, "there is no such list").into())
}

fn new_entry(kind: Kind, posted: &Posted) -> Answer<Fields> {
    let mut fields = match kind {
        Kind::Stash => posted.fields(&["yarn", "weight", "lot", "note"]),
        Kind::People => posted.fields(&["name", "size", "wash", "note"]),
        _ => posted.fields(&["person", "garment", "due", "note"]),
    };
    if kind == Kind::Gifts {
        fields.extend(priority(posted)?);
        if posted.get("must") == "yes" {
            fields.push(("must".to_owned(), Given::Flag(true)));
        }
    }
    Ok(fields)
}

fn priority(posted: &Posted) -> Answer<Option<(String, Given)>> {
    let text = posted.get("priority");
    if text.is_empty() {
        return Ok(None);
    }
    let priority = text.parse().map_err(|_| {
        Diagnostic::error(Code::Priority, format!("`{text}` is no priority"))
            .hint("write a whole number from 1 to 5")
    })?;
    Ok(Some(("priority".to_owned(), Given::Whole(priority))))
}

/// Keys of a gift that hold several names, typed with commas between.
const LISTS: [&str; 3] = ["same", "contrast", "match"];

/// What a form changes of an entry: of the fields that it has, all; what was made blank is taken out.
fn changed_entry(kind: Kind, posted: &Posted) -> Answer<Fields> {
    let keys: &[&str] = match kind {
        Kind::Stash => &["lot", "where", "keep_for", "note"],
        Kind::People => &["size", "wash", "note"],
        _ => &["garment", "due", "knitter", "same", "contrast", "match", "note"],
    };
    let sent = keys.iter().filter(|key| posted.has(key));
    let given = |key: &&str| match posted.get(key) {
        "" => Given::Nothing,
        text if LISTS.contains(key) => Given::listed(text),
        text if *key == "garment" && text.contains(", ") => Given::listed(text),
        text => Given::text(text),
    };
    let mut fields: Fields = sent.map(|key| ((*key).to_owned(), given(key))).collect();
    if kind == Kind::Gifts {
        fields.extend(priority(posted)?);
        fields.push(("must".to_owned(), ticked(posted, "must")));
        if posted.has("any_lot") {
            fields.push(("any_lot".to_owned(), ticked(posted, "any_lot")));
        }
    }
    Ok(fields)
}

fn ticked(posted: &Posted, key: &str) -> Given {
    if posted.get(key) == "yes" { Given::Flag(true) } else { Given::Nothing }
}
