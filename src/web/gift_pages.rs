//! The pages of the stash and the gifts: one that leads to the others, the lists, the finished pieces.
//! Forms are sent to one address; what they do is what the commands do.

use askama::Template;
use axum::Router;
use axum::extract::{RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use axum::routing::get;

use super::gift_top::{GiftPage, GiftTop, Told};
use super::knit_now::{Knit, next_gift};
use super::list_ask::ListAsk;
use super::list_view::ListView;
use super::page_form::{Choice, ChoiceGroup, garment_choices, size_groups};
use super::page_parts::{Frame, TableView, html, page};
use super::plan_pages::{plan_index, planned_gifts, plans_made, what_is_missing};
use super::posted::Posted;
use super::problem::{Answer, Problem};
use super::record_pages::{LookView, record_page};
use super::state::{Shared, State};
use super::workspace_api::Kind;
use app::pairs;
use knit::stash::{Contents, GarmentChoice, WashEffort};
use store::workspace::today;

pub(super) fn routes() -> Router<State> {
    let of = |page: GiftPage| {
        get(move |state: Extract<State>, headers: HeaderMap, query: RawQuery| {
            shown(page, state, headers, query)
        })
    };
    GiftPage::ALL
        .into_iter()
        .fold(Router::new(), |routes, (page, path, _)| routes.route(path, of(page)))
}

#[derive(Template)]
#[template(path = "web/no_workspace.html")]
pub(super) struct NoWorkspace {
    pub frame: Frame,
}

/// The page that leads to the others.
#[derive(Template)]
#[template(path = "web/gifts.html")]
struct GiftsPage {
    frame: Frame,
    top: GiftTop,
    posted: Posted,
    today: String,
    /// What a plan lacks: where to get it, and what it is.
    missing: Vec<(&'static str, &'static str)>,
    plans: Vec<(String, String)>,
    next: Option<Knit>,
    set_aside: usize,
    /// How many there are, and what they are called.
    people: Summary,
    wishes: Summary,
    stash: Summary,
    yarns: Summary,
    finished: usize,
}

struct Summary {
    count: usize,
    names: String,
}

impl Summary {
    /// Names that say what kind of list it is; a card is no list.
    const MOST: usize = 12;

    fn of<'a>(names: impl Iterator<Item = &'a str>) -> Summary {
        let all: Vec<&str> = names.collect();
        let mut names = all.iter().take(Summary::MOST).copied().collect::<Vec<_>>().join(", ");
        if all.len() > Summary::MOST {
            names.push_str(" …");
        }
        Summary { count: all.len(), names }
    }
}

/// A list of the workspace, with the form that adds to it.
#[derive(Template)]
#[template(path = "web/gift_list.html")]
struct GiftListPage {
    frame: Frame,
    top: GiftTop,
    posted: Posted,
    list: ListView,
    yarns: TableView,
    yarn_ids: Vec<(String, String)>,
    names: Vec<String>,
    garments: Vec<Choice>,
    size_groups: Vec<ChoiceGroup>,
    washes: Vec<&'static str>,
    any: &'static str,
}

/// Any of the pages: after a form that could not be done, with what was typed; before a finished piece is
/// written, with what it would be.
pub(super) fn gift_page(
    which: GiftPage,
    shared: &Shared,
    told: Told,
    look: Option<LookView>,
) -> Answer<Response> {
    Ok(match which {
        GiftPage::All => html(&gifts(shared, told)?),
        GiftPage::Stash => html(&list(Kind::Stash, which, shared, told)?),
        GiftPage::People => html(&list(Kind::People, which, shared, told)?),
        GiftPage::Wishes => html(&list(Kind::Gifts, which, shared, told)?),
        GiftPage::Plan => html(&plan_index(shared, told)?),
        GiftPage::Records => html(&record_page(shared, told, look)?),
    })
}

async fn shown(
    which: GiftPage,
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let asked = pairs(&query.unwrap_or_default())?;
    let value = |key: &str| asked.iter().find(|(k, _)| k == key).map(|(_, v)| v.clone());
    let did = value("did").unwrap_or_default();
    // The page at the machine sends whoever is done here, with what it knows.
    let posted = Posted(if value("what").is_some() { asked.clone() } else { Vec::new() });
    let which = match posted.get("what") {
        "record" if which == GiftPage::All => GiftPage::Records,
        _ => which,
    };
    state
        .brief(move |shared| {
            if shared.workspace.is_none() {
                return page(&headers, &NoWorkspace { frame: which.frame() });
            }
            let told = Told { posted, problem: None, did, pairs: asked };
            gift_page(which, shared, told, None)
        })
        .await?
}

fn gifts(shared: &Shared, told: Told) -> Answer<GiftsPage> {
    let now = shared.live().map_err(Problem::of_path)?.now();
    let contents = &now.workspace.contents;
    let top = GiftTop::of(GiftPage::All, shared, &now.workspace, &told, String::new())?;
    Ok(GiftsPage {
        frame: GiftPage::All.frame(),
        top,
        today: today().to_string(),
        missing: what_is_missing(contents),
        plans: plans_made(shared),
        next: next_gift(shared, contents).map(|(_, knit)| knit),
        set_aside: gifts_set_aside(contents),
        people: Summary::of(contents.people.iter().map(|person| person.name.as_str())),
        wishes: Summary::of(contents.gifts.iter().map(|gift| gift.id.as_str())),
        stash: Summary::of(contents.remnants.iter().map(|remnant| remnant.id.as_str())),
        yarns: Summary::of(contents.yarns.values().map(|yarn| yarn.name.as_str())),
        finished: contents.records.len(),
        posted: told.posted,
    })
}

fn gifts_set_aside(contents: &Contents) -> usize {
    contents.gifts.iter().filter(|gift| contents.set_aside(&gift.id).next().is_some()).count()
}

fn list(kind: Kind, which: GiftPage, shared: &Shared, told: Told) -> Answer<GiftListPage> {
    let now = shared.live().map_err(Problem::of_path)?.now();
    let contents = &now.workspace.contents;
    let mut ask = ListAsk::of(&told.pairs);
    // What could not be done stays open, as it was typed.
    if ["change", "weigh", "turn"].contains(&told.posted.get("what")) {
        told.posted.get("id").clone_into(&mut ask.edit);
    }
    let planned = planned_gifts(shared);
    let list = ListView::of(kind, shared, &now.workspace, &ask, &told.posted, &planned);
    let back = format!("{}?{}", which.path(), list.query);
    let mut yarns = report::yarn_list(contents);
    "Yarns".clone_into(&mut yarns.title);
    Ok(GiftListPage {
        frame: which.frame(),
        top: GiftTop::of(which, shared, &now.workspace, &told, back)?,
        list,
        yarns: yarns.into(),
        yarn_ids: contents.yarns.iter().map(|(id, y)| (id.clone(), y.name.clone())).collect(),
        names: contents.people.iter().map(|person| person.name.clone()).collect(),
        garments: garment_choices(shared, told.posted.typed("add", "garment")),
        size_groups: size_groups(shared, told.posted.typed("add", "size")).0,
        washes: WashEffort::ALL.map(WashEffort::name).to_vec(),
        any: GarmentChoice::ANY,
        posted: told.posted,
    })
}
