//! The page of the stash and the gifts: lists, forms that change them, plans. Forms are sent to one
//! address; what they do is what the commands do.

use askama::Template;
use axum::Router;
use axum::extract::rejection::FormRejection;
use axum::extract::{Form, Path, RawQuery, State as Extract};
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};

use super::page_form::{Choice, ChoiceGroup, garment_choices, size_groups};
use super::page_parts::{FaultView, Frame, TableView, html, page, views};
use super::plan_api::{PlanAsk, job_of, set_aside, start};
use super::plan_jobs::{PlanJob, Stage};
use super::problem::{Answer, Problem};
use super::state::{Shared, State};
use super::workspace_api::{FinishedAsk, Kind, known_garment};
use app::{Ask, Pairs, pairs};
use app::{Dependents, Reserved, record};
use diag::{Code, Diagnostic};
use knit::gift_plan::{GiftPlan, PlannedGift};
use knit::stash::{GarmentChoice, WashEffort};
use report::{self, Grid, plan_words};
use store::workspace::{Contents, Fields, Given, today};

pub(super) fn routes() -> Router<State> {
    Router::new()
        .route("/gifts", get(gifts))
        .route("/gifts/do", post(act))
        .route("/gifts/plan/{id}", get(plan))
}

/// What a form was sent with, to be shown again where it could not be done.
#[derive(Default)]
struct Posted(Pairs);

impl Posted {
    fn get(&self, key: &str) -> &str {
        self.0.iter().find(|(k, _)| k == key).map_or("", |(_, v)| v.trim())
    }

    /// What was typed into a field of a form; nothing where another form was sent.
    fn typed(&self, what: &str, key: &str) -> &str {
        if self.get("what") == what { self.get(key) } else { "" }
    }

    fn chosen(&self, what: &str, key: &str, value: &str) -> bool {
        self.typed(what, key) == value
    }

    /// A key for every field that is filled in.
    fn fields(&self, keys: &[&str]) -> Fields {
        keys.iter()
            .map(|key| ((*key).to_owned(), self.get(key)))
            .filter(|(_, value)| !value.is_empty())
            .map(|(key, value)| (key, Given::text(value)))
            .collect()
    }
}

#[derive(Template)]
#[template(path = "web/gifts.html")]
struct GiftsPage {
    frame: Frame,
    did: &'static str,
    faults: Vec<FaultView>,
    /// What may be removed with what points to it, since it alone could not be.
    stubborn: Option<(String, String)>,
    posted: Posted,
    stash: ListView,
    yarns: TableView,
    people: ListView,
    gifts: ListView,
    set_aside: TableView,
    /// Plans made lately: where, and what came of them.
    plans: Vec<(String, String)>,
    today: String,
    undo: Option<String>,
    redo: Option<String>,
    yarn_ids: Vec<(String, String)>,
    names: Vec<String>,
    gift_ids: Vec<(String, String)>,
    garments: Vec<Choice>,
    size_groups: Vec<ChoiceGroup>,
    washes: Vec<&'static str>,
    any: &'static str,
}

#[derive(Template)]
#[template(path = "web/no_workspace.html")]
struct NoWorkspace {
    frame: Frame,
}

/// A list whose entries can be taken out.
struct ListView {
    list: &'static str,
    title: &'static str,
    headings: Vec<String>,
    rows: Vec<Vec<String>>,
    /// Whether an entry can be weighed again.
    weighed: bool,
}

impl ListView {
    fn of(kind: Kind, title: &'static str, contents: &Contents) -> ListView {
        let Grid { headings, rows, .. } = kind.grid(contents);
        ListView { list: kind.name(), title, headings, rows, weighed: kind == Kind::Stash }
    }
}

fn gifts_page(
    shared: &Shared,
    posted: Posted,
    problem: Option<&Problem>,
    did: &str,
) -> Answer<GiftsPage> {
    let live = shared.live().map_err(Problem::of_path)?;
    let now = live.now();
    let contents = &now.workspace.contents;
    let mut faults = problem.map(|problem| views(&problem.faults)).unwrap_or_default();
    faults.extend(views(&now.faults));
    faults.extend(views(&now.workspace.warnings));
    let what = posted.get("what");
    let stubborn = (problem.is_some() && what == "remove")
        .then(|| (posted.get("list").to_owned(), posted.get("id").to_owned()));
    let (undo, redo) = now.workspace.folder.undoable();
    let mut yarns = report::yarn_list(contents);
    "Yarns".clone_into(&mut yarns.title);
    Ok(GiftsPage {
        frame: Frame::new("Stash and gifts", "/gifts"),
        did: deed_words(did),
        faults,
        stubborn,
        stash: ListView::of(Kind::Stash, "Stash", contents),
        yarns: yarns.into(),
        people: ListView::of(Kind::People, "People", contents),
        gifts: ListView::of(Kind::Gifts, "Wishes", contents),
        set_aside: set_aside_table(contents),
        plans: shared.plans.all().iter().map(|job| (job.id.clone(), outcome(job))).collect(),
        today: today().to_string(),
        undo: undo.map(spoken),
        redo: redo.map(spoken),
        yarn_ids: contents.yarns.iter().map(|(id, y)| (id.clone(), y.name.clone())).collect(),
        names: contents.people.iter().map(|person| person.name.clone()).collect(),
        gift_ids: contents.gifts.iter().map(|g| (g.id.clone(), g.person.clone())).collect(),
        garments: garment_choices(shared, posted.get("garment")),
        size_groups: size_groups(shared, posted.get("size")).0,
        washes: WashEffort::ALL.map(WashEffort::name).to_vec(),
        any: GarmentChoice::ANY,
        posted,
    })
}

/// What an accepted plan has set aside.
fn set_aside_table(contents: &Contents) -> TableView {
    let headings = ["Gift", "For", "Section", "Remnant", "Set aside g"].map(str::to_owned);
    let mut grid = Grid::new("Set aside", headings.to_vec());
    for reservation in &contents.reservations {
        grid.rows.push(vec![
            reservation.gift.clone(),
            contents.gift(&reservation.gift).map_or_else(String::new, |gift| gift.person.clone()),
            reservation.section.clone(),
            reservation.remnant.clone(),
            format!("{:.1}", reservation.weight.grams()),
        ]);
    }
    grid.into()
}

fn outcome(job: &PlanJob) -> String {
    match job.stage() {
        Stage::Running => format!("{:.0} % of the search done", job.share() * 100.0),
        Stage::Done(plan) => {
            let all = plan.gifts.len() + plan.left_out.len();
            format!("{} of {all} gifts can be made", plan.gifts.len())
        }
        Stage::Failed(_) => "it failed".to_owned(),
    }
}

/// A command as one says it: `plan --accept` is "plan accept".
fn spoken(command: String) -> String {
    command.replace(" --", " ")
}

/// What was done, from the word in the address: nothing of the address itself is shown.
fn deed_words(did: &str) -> &'static str {
    match did {
        "add" => "Added.",
        "weigh" => "Weighed again.",
        "remove" => "Removed.",
        "undo" => "Taken back.",
        "redo" => "Done again.",
        "record" => "Recorded: the remnants are weighed again, and the yarn is known better.",
        "accept" => "Accepted: the yarn is set aside.",
        _ => "",
    }
}

async fn gifts(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let asked = pairs(&query.unwrap_or_default())?;
    let did = asked.into_iter().find(|(key, _)| key == "did").map_or_else(String::new, |(_, v)| v);
    state
        .brief(move |shared| {
            if shared.workspace.is_none() {
                let frame = Frame::new("Stash and gifts", "/gifts");
                return page(&headers, &NoWorkspace { frame });
            }
            page(&headers, &gifts_page(shared, Posted::default(), None, &did)?)
        })
        .await?
}

async fn act(
    Extract(state): Extract<State>,
    form: Result<Form<Pairs>, FormRejection>,
) -> Answer<Response> {
    let posted = Posted(form.map(|Form(pairs)| pairs).map_err(|rejection| {
        let fault = Diagnostic::error(Code::Form, "the form can't be read")
            .hint("send it from the page of the stash and the gifts");
        Problem::new(rejection.status(), fault)
    })?);
    match done(&state, &posted).await {
        Ok(to) => Ok(Redirect::to(&to).into_response()),
        Err(problem) => {
            // Shown above the form as it was filled in: nothing typed is lost.
            let status = problem.status;
            let view =
                state.brief(move |shared| gifts_page(shared, posted, Some(&problem), "")).await??;
            let mut response = html(&view);
            *response.status_mut() = status;
            Ok(response)
        }
    }
}

async fn weigh_again(state: &State, id: String, posted: &Posted) -> Answer<()> {
    let fields = posted.fields(&["weight"]);
    if fields.is_empty() {
        return Err(Diagnostic::error(Code::Weight, "what does it weigh?")
            .hint("write it like 12 g")
            .into());
    }
    state.edited(move |edit| Kind::Stash.change(edit, &id, fields, Reserved::Refuse)).await
}

async fn note_finished(state: &State, posted: &Posted) -> Answer<()> {
    let given = |key: &str| Some(posted.get(key).to_owned()).filter(|text| !text.is_empty());
    let lines = posted.get("used").lines().map(|line| line.trim().to_owned());
    let request = FinishedAsk {
        garment: posted.get("garment").to_owned(),
        size: posted.get("size").to_owned(),
        used: lines.filter(|line| !line.is_empty()).collect(),
        options: std::collections::BTreeMap::new(),
        gift: given("gift"),
        note: given("note"),
    }
    .request()?;
    let garment = request.garment.clone();
    state.brief(move |shared| known_garment(shared, &garment)).await??;
    state.edited(move |edit| record(edit, &request)).await?;
    Ok(())
}

/// Does what a form asks for, and says where to go on.
async fn done(state: &State, posted: &Posted) -> Answer<String> {
    let what = posted.get("what").to_owned();
    let list = posted.get("list").to_owned();
    let id = posted.get("id").to_owned();
    let there = |section: &str| format!("/gifts?did={what}#{section}");
    match what.as_str() {
        "add" => {
            let kind = kind(&list)?;
            let fields = new_entry(kind, posted)?;
            state.edited(move |edit| kind.add(edit, fields)).await?;
            Ok(there(&list))
        }
        "weigh" => {
            weigh_again(state, id, posted).await?;
            Ok(there("stash"))
        }
        "remove" => {
            let kind = kind(&list)?;
            let too = match posted.get("dependents") {
                "yes" => Dependents::Remove,
                _ => Dependents::Keep,
            };
            state.edited(move |edit| kind.remove(edit, &id, too)).await?;
            Ok(there(&list))
        }
        "undo" | "redo" => {
            let redo = what == "redo";
            state.edited(move |edit| edit.undo(redo)).await?;
            Ok(there("main"))
        }
        "record" => {
            note_finished(state, posted).await?;
            Ok(there("stash"))
        }
        "plan" => {
            let order = PlanAsk {
                today: Some(posted.get("today").to_owned()),
                again: posted.get("again") == "yes",
                explain: true,
                ..PlanAsk::default()
            }
            .order()?;
            Ok(format!("/gifts/plan/{}", start(state, order)?.id))
        }
        "stop" => {
            let job = job_of(state, &id)?;
            job.stop();
            Ok(format!("/gifts/plan/{}", job.id))
        }
        "accept" => {
            set_aside(state, &id).await?;
            Ok(there("aside"))
        }
        _ => Err(Diagnostic::error(Code::Form, "the form asks for nothing that can be done")
            .hint("send it from the page of the stash and the gifts")
            .into()),
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
        let priority = posted.get("priority");
        if !priority.is_empty() {
            let priority = priority.parse().map_err(|_| {
                Diagnostic::error(Code::Priority, format!("`{priority}` is no priority"))
                    .hint("write a whole number from 1 to 5")
            })?;
            fields.push(("priority".to_owned(), Given::Whole(priority)));
        }
        if posted.get("must") == "yes" {
            fields.push(("must".to_owned(), Given::Flag(true)));
        }
    }
    Ok(fields)
}

// ---- A plan

#[derive(Template)]
#[template(path = "web/plan.html")]
struct PlanPage {
    frame: Frame,
    id: String,
    running: bool,
    percent: String,
    faults: Vec<FaultView>,
    made: Option<MadeView>,
}

struct MadeView {
    title: String,
    gifts: Vec<GiftView>,
    left_out: Vec<LeftOutView>,
    cautions: Vec<(String, String)>,
    remnants: TableView,
    untouched: usize,
    waste: Vec<String>,
    goodness: String,
}

struct GiftView {
    gift: String,
    person: String,
    what: String,
    due: String,
    machine: String,
    /// At the machine, and gone by when it is done.
    hours: (String, String),
    unswatched: &'static str,
    /// Where the pattern is, for a size of the table.
    grade: String,
    takes: Vec<String>,
}

struct LeftOutView {
    gift: String,
    person: String,
    about: String,
    reasons: Vec<String>,
    ways: Vec<String>,
}

impl MadeView {
    fn of(shared: &Shared, plan: &GiftPlan) -> MadeView {
        let all = plan.gifts.len() + plan.left_out.len();
        let due = |day: Option<knit::stash::Date>| {
            day.map_or_else(String::new, |day| format!("due {day}"))
        };
        let gifts = plan.gifts.iter().map(|gift| GiftView {
            gift: gift.id.clone(),
            person: gift.person.clone(),
            what: format!("{}, {}", gift.title, gift.size_label),
            due: due(gift.due),
            machine: gift.machine_title.clone(),
            hours: plan_words::hours_of(gift),
            unswatched: if gift.swatch.is_none() { plan_words::UNSWATCHED } else { "" },
            grade: grade_link(shared, gift),
            takes: plan_words::takes(gift),
        });
        let left_out = plan.left_out.iter().map(|gift| LeftOutView {
            gift: gift.id.clone(),
            person: gift.person.clone(),
            about: [format!("priority {}", gift.priority), due(gift.due)]
                .into_iter()
                .filter(|text| !text.is_empty())
                .collect::<Vec<_>>()
                .join(", "),
            reasons: plan_words::reasons(gift),
            ways: plan_words::ways_in(gift),
        });
        let cautions = plan.cautions().into_iter().map(|(caution, gifts)| {
            let whose: Vec<&str> =
                gifts.iter().filter_map(|nth| plan.gifts.get(nth - 1)).map(|g| &*g.id).collect();
            (whose.join(", "), caution.to_owned())
        });
        let (mut remnants, untouched) = plan_words::remnants_left(plan);
        "What is left of each remnant used".clone_into(&mut remnants.title);
        MadeView {
            title: format!("{} of {all} gifts can be made", plan.gifts.len()),
            gifts: gifts.collect(),
            left_out: left_out.collect(),
            cautions: cautions.collect(),
            untouched,
            remnants: remnants.into(),
            waste: plan.waste().map(|(machine, m)| format!("{machine}: {m:.0} m")).collect(),
            goodness: plan_words::goodness(plan),
        }
    }
}

/// The run a gift comes from, where a size of the table will do; someone's own measures would not
/// be in the address.
fn grade_link(shared: &Shared, gift: &PlannedGift) -> String {
    let sizes = shared.bench.sizes.sizes();
    let size = sizes.iter().find(|size| size.label == gift.size_label);
    size.map_or_else(String::new, |size| {
        let ask = Ask {
            garment: Some(gift.garment.clone()),
            machine: Some(gift.machine.clone()),
            sizes: Some(size.id.to_string()),
            swatch_id: gift.swatch.clone(),
            ..Ask::default()
        };
        format!("/grade?{}", ask.query())
    })
}

async fn plan(Extract(state): Extract<State>, Path(id): Path<String>) -> Answer<Response> {
    state
        .brief(move |shared| -> Answer<Response> {
            let job = job_of(shared, &id)?;
            let mut view = PlanPage {
                frame: Frame::new("Plan of gifts", "/gifts"),
                percent: format!("{:.0}", job.share() * 100.0),
                id,
                running: false,
                faults: Vec::new(),
                made: None,
            };
            match job.stage() {
                Stage::Running => view.running = true,
                Stage::Done(plan) => {
                    view.faults = views(&plan_words::diagnostics(&plan));
                    view.made = Some(MadeView::of(shared, &plan));
                }
                Stage::Failed(faults) => view.faults = views(&faults),
            }
            let mut response = html(&view);
            response
                .headers_mut()
                .insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
            Ok(response)
        })
        .await?
}
