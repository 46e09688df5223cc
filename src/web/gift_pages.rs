//! The page of the stash and the gifts: lists, forms that change them, plans. Forms are sent to one
//! address; what they do is what the commands do.

use askama::Template;
use axum::Router;
use axum::extract::{Path, RawQuery, State as Extract};
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::Response;
use axum::routing::get;

use super::gift_api::Turn;
use super::page_form::{Choice, ChoiceGroup, garment_choices, size_groups};
use super::page_parts::{FaultView, Frame, TableView, html, page, views};
use super::plan_api::job_of;
use super::plan_jobs::{PlanJob, Stage};
use super::posted::Posted;
use super::problem::{Answer, Problem};
use super::rests::new_key;
use super::state::{Shared, State};
use super::workspace_api::Kind;
use app::{Ask, Workspace, pairs};
use knit::gift_plan::{GiftPlan, PlannedGift};
use knit::stash::{GarmentChoice, GiftState, WashEffort};
use report::{self, Grid, group_words, plan_words};
use store::workspace::{Basis, ChangeMark, Contents, EntryKind, EntryName, PastChange, Tag, today};

pub(super) fn routes() -> Router<State> {
    Router::new().route("/gifts", get(gifts)).route("/gifts/plan/{id}", get(plan))
}

#[derive(Template)]
#[template(path = "web/gifts.html")]
pub(super) struct GiftsPage {
    frame: Frame,
    slip: Slip,
    did: &'static str,
    faults: Vec<FaultView>,
    /// What may be removed with what points to it, since it alone could not be.
    stubborn: Option<Stubborn>,
    posted: Posted,
    /// What a finished piece would be noted as.
    look: Option<LookView>,
    stash: ListView,
    yarns: TableView,
    people: ListView,
    gifts: ListView,
    set_aside: TableView,
    /// Plans made lately: where, and what came of them.
    plans: Vec<(String, String)>,
    today: String,
    undo: Option<Step>,
    redo: Option<Step>,
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
pub(super) struct NoWorkspace {
    pub frame: Frame,
}

/// What every form brings back: the state that the page was made from, and a key that no other page
/// has. What a form asks for twice is then done once.
pub(super) struct Slip {
    pub number: ChangeMark,
    pub once: String,
}

/// A change that a button takes back, or does again: that one and no other.
pub(super) struct Step {
    pub number: ChangeMark,
    pub told: String,
}

impl From<PastChange> for Step {
    fn from(change: PastChange) -> Step {
        // A command as one says it: `plan --accept` is "plan accept".
        let mut told = change.command.replace(" --", " ");
        let about = |name: &EntryName| (!name.key.is_empty()).then(|| name.key.clone());
        match change
            .entries
            .iter()
            .filter(|name| name.kind != EntryKind::Record)
            .collect::<Vec<_>>()
        {
            names if names.len() == 1 => told.extend(about(names[0]).map(|key| format!(" {key}"))),
            _ => {}
        }
        Step { number: change.mark, told }
    }
}

/// What a finished piece would be noted as, before it is.
pub(super) struct LookView {
    pub tables: [TableView; 2],
    pub lines: Vec<String>,
    /// Whether it is too far off to be learnt from unasked.
    pub odd: bool,
    /// Whether it is taken for the rest of a piece that was begun.
    pub joined: bool,
    pub warnings: Vec<FaultView>,
    /// Names and values of fields that say what it rests on.
    pub rests: Vec<(String, String)>,
}

/// What could not be removed alone, and what is looked at when it goes with what points to it.
struct Stubborn {
    list: String,
    id: String,
    rests: Vec<(String, String)>,
}

/// Fields of a form that say how entries are now: what comes back with other ones is refused.
pub(super) fn rests_of(
    contents: &Contents,
    names: impl IntoIterator<Item = EntryName>,
) -> Vec<(String, String)> {
    let tags = Basis::default().on(contents, names).entries;
    let field = |(name, tag): (EntryName, Option<Tag>)| Some((format!("tag.{name:#}"), tag?));
    tags.into_iter().filter_map(field).collect()
}

/// A list whose entries can be taken out.
struct ListView {
    list: &'static str,
    title: &'static str,
    headings: Vec<String>,
    rows: Vec<Vec<String>>,
    /// Of each row, by which a form says what it saw.
    tags: Vec<Tag>,
    /// Whether an entry can be weighed again.
    weighed: bool,
    /// What can be said of each entry: the words for a form, and for people.
    turns: Vec<Vec<(&'static str, &'static str)>>,
}

impl ListView {
    fn of(kind: Kind, title: &'static str, workspace: &Workspace) -> ListView {
        let grid = workspace.tagged(kind.of(), kind.grid(&workspace.contents));
        let Grid { headings, rows, tags, .. } = grid;
        let turns = vec![Vec::new(); rows.len()];
        let weighed = kind == Kind::Stash;
        ListView { list: kind.name(), title, headings, rows, tags, weighed, turns }
    }

    /// The gifts, with what can be said of each, and those that the newest plan has yarn for.
    fn of_gifts(title: &'static str, workspace: &Workspace, planned: &[String]) -> ListView {
        let mut list = ListView::of(Kind::Gifts, title, workspace);
        let at = |heading: &str| list.headings.iter().position(|own| own == heading);
        let (column, kept) = (at("State"), at("Kept"));
        for (row, turns) in list.rows.iter_mut().zip(&mut list.turns) {
            let Some(gift) = workspace.contents.gift(&row[0]) else { continue };
            let mut state = workspace.contents.gift_state(gift);
            if state == GiftState::Wished && planned.contains(&gift.id) {
                state = GiftState::Planned;
            }
            if let Some(column) = column {
                row[column] =
                    format!("{}{}", state.name(), if gift.keep { ", kept fast" } else { "" });
            }
            let sayable = Turn::ALL.iter().filter(|(turn, ..)| sayable(*turn, state, gift.keep));
            turns.extend(sayable.map(|(_, name, words)| (*name, *words)));
        }
        // How it stands goes beside its name; what nobody has filled in takes no room.
        let filled = |column: &usize| list.rows.iter().any(|row| !row[*column].is_empty());
        let others =
            (1..list.headings.len()).filter(|own| Some(*own) != column && Some(*own) != kept);
        let order: Vec<usize> =
            std::iter::once(0).chain(column).chain(others.filter(filled)).collect();
        for row in list.rows.iter_mut().chain([&mut list.headings]) {
            *row = order.iter().map(|at| row[*at].clone()).collect();
        }
        list
    }
}

pub(super) fn gifts_page(
    shared: &Shared,
    posted: Posted,
    problem: Option<&Problem>,
    did: &str,
    look: Option<LookView>,
) -> Answer<GiftsPage> {
    let live = shared.live().map_err(Problem::of_path)?;
    let now = live.now();
    let contents = &now.workspace.contents;
    let mut faults = problem.map(|problem| views(&problem.faults)).unwrap_or_default();
    faults.extend(views(&now.faults));
    let told: Vec<String> = faults.iter().map(|fault| fault.message.clone()).collect();
    let more = views(&now.workspace.warnings).into_iter();
    faults.extend(more.filter(|fault| !told.contains(&fault.message)));
    let what = posted.get("what");
    let stubborn =
        (problem.is_some_and(|told| told.faults.has_errors()) && what == "remove").then(|| {
            Stubborn {
                list: posted.get("list").to_owned(),
                id: posted.get("id").to_owned(),
                rests: rests_of(
                    contents,
                    [EntryKind::Gift, EntryKind::Remnant].map(EntryName::all),
                ),
            }
        });
    let (undo, redo) = now.workspace.folder.undoable();
    let mut yarns = report::yarn_list(contents);
    "Yarns".clone_into(&mut yarns.title);
    Ok(GiftsPage {
        frame: Frame::new("Stash and gifts", "/gifts"),
        slip: Slip { number: now.workspace.state.clone(), once: new_key()? },
        did: deed_words(did),
        faults,
        stubborn,
        stash: ListView::of(Kind::Stash, "Stash", &now.workspace),
        yarns: yarns.into(),
        people: ListView::of(Kind::People, "People", &now.workspace),
        gifts: ListView::of_gifts("Wishes", &now.workspace, &planned(shared)),
        set_aside: set_aside_table(contents),
        plans: shared.plans.all().iter().map(|job| (job.id.clone(), outcome(job))).collect(),
        today: today().to_string(),
        undo: undo.map(Step::from),
        redo: redo.map(Step::from),
        yarn_ids: contents.yarns.iter().map(|(id, y)| (id.clone(), y.name.clone())).collect(),
        names: contents.people.iter().map(|person| person.name.clone()).collect(),
        gift_ids: contents
            .gifts
            .iter()
            .filter(|gift| !gift.stage.is_over())
            .map(|gift| (gift.id.clone(), gift.person.clone()))
            .collect(),
        garments: garment_choices(shared, posted.get("garment")),
        size_groups: size_groups(shared, posted.get("size")).0,
        washes: WashEffort::ALL.map(WashEffort::name).to_vec(),
        any: GarmentChoice::ANY,
        look,
        posted,
    })
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

/// The gifts that the newest plan has yarn for.
fn planned(shared: &Shared) -> Vec<String> {
    let newest = shared.plans.all().into_iter().find_map(|job| match job.stage() {
        Stage::Done(planned) => Some(planned),
        _ => None,
    });
    let ids = newest.iter().flat_map(|planned| &planned.plan.gifts).map(|gift| gift.id.clone());
    ids.collect()
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
        Stage::Running | Stage::Listed(_) => {
            format!("{:.0} % of the search done", job.share() * 100.0)
        }
        Stage::Done(planned) => {
            let plan = &planned.plan;
            let all = plan.gifts.len() + plan.left_out.len();
            format!("{} of {all} gifts can be made", plan.gifts.len())
        }
        Stage::Failed(_) => "it failed".to_owned(),
    }
}

/// What was done, from the word in the address: nothing of the address itself is shown.
fn deed_words(did: &str) -> &'static str {
    match did {
        "add" => "Added.",
        "weigh" => "Weighed again.",
        "remove" => "Removed.",
        "undo" => "Taken back.",
        "redo" => "Done again.",
        "turn" => "Noted: how it stands is in the list, and what is set aside above it.",
        "record" => "Recorded: the remnants are weighed again, and the yarn is known better.",
        "accept" => "Accepted: the yarn is set aside.",
        "nothing" => "It was so already: nothing is written.",
        "before" => {
            "That was done already, when it was sent the first time. Nothing is done twice."
        }
        _ => "",
    }
}

async fn gifts(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let asked = pairs(&query.unwrap_or_default())?;
    let did =
        asked.iter().find(|(key, _)| key == "did").map_or_else(String::new, |(_, v)| v.clone());
    // The page at the machine sends whoever is done here, with what it knows.
    let posted =
        Posted(if asked.iter().any(|(key, _)| key == "what") { asked } else { Vec::new() });
    state
        .brief(move |shared| {
            if shared.workspace.is_none() {
                let frame = Frame::new("Stash and gifts", "/gifts");
                return page(&headers, &NoWorkspace { frame });
            }
            page(&headers, &gifts_page(shared, posted, None, &did, None)?)
        })
        .await?
}

// ---- A plan

#[derive(Template)]
#[template(path = "web/plan.html")]
struct PlanPage {
    frame: Frame,
    slip: Slip,
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
    /// That ways in which add yarn are told each alone.
    each_alone: &'static str,
    cautions: Vec<(String, String)>,
    remnants: TableView,
    untouched: usize,
    waste: Vec<String>,
    times: &'static str,
    goodness: String,
    /// How many gifts change, where gifts of an accepted plan were planned again.
    changes: String,
    /// What can't be done by its day.
    not_in_time: Vec<String>,
    aim: String,
    /// Who knits, what travels, what is kept: headings and lines.
    groups: Vec<(&'static str, Vec<String>)>,
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
    /// What has become of it since the accepted plan.
    change: &'static str,
    /// Where the pattern is, for a size of the table.
    grade: String,
    takes: Vec<String>,
}

struct LeftOutView {
    /// The gift, and whom it is for.
    name: String,
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
            what: format!("{}, {}", gift.title, gift.size_told()),
            due: due(gift.due),
            machine: group_words::bed_of(gift),
            hours: plan_words::hours_of(gift),
            unswatched: if gift.swatch.is_none() { plan_words::UNSWATCHED } else { "" },
            change: plan_words::change_of(gift).unwrap_or_default(),
            grade: grade_link(shared, gift),
            takes: plan_words::takes(gift),
        });
        let left_out = group_words::left_out(plan).into_iter().map(|(name, gift)| LeftOutView {
            name,
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
            each_alone: if plan_words::adds_yarn(plan) { plan_words::EACH_ALONE } else { "" },
            cautions: cautions.collect(),
            untouched,
            remnants: remnants.into(),
            waste: plan.waste().map(|(machine, m)| format!("{machine}: {m:.0} m")).collect(),
            times: plan_words::TIMES,
            goodness: plan_words::goodness(plan),
            not_in_time: plan_words::not_in_time(plan),
            changes: plan_words::changes(plan).unwrap_or_default(),
            aim: group_words::aim(plan).unwrap_or_default(),
            groups: group_words::lists(plan),
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
            options: gift.scaled.iter().cloned().collect(),
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
                slip: Slip { number: ChangeMark::default(), once: new_key()? },
                percent: format!("{:.0}", job.share() * 100.0),
                id,
                running: false,
                faults: Vec::new(),
                made: None,
            };
            match job.stage() {
                Stage::Running | Stage::Listed(_) => view.running = true,
                Stage::Done(planned) => {
                    view.faults = views(&plan_words::diagnostics(&planned.plan));
                    view.made = Some(MadeView::of(shared, &planned.plan));
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
