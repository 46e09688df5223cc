//! The beginning: the way from an empty workspace to the first row, step by step. Each step that is done
//! shows what it gave, and the first that is not is the one to take next.

use askama::Template;
use axum::Router;
use axum::extract::rejection::FormRejection;
use axum::extract::{Form, RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;

use super::format::one_size;
use super::gift_pages::NoWorkspace;
use super::gift_top::Slip;
use super::page_form::{Choice, garment_choices};
use super::page_parts::{FaultView, Frame, html, page, views};
use super::posted::Posted;
use super::problem::{Answer, Problem};
use super::rests::new_key;
use super::state::{Deed, Shared, State};
use super::workspace_api::Kind;
use app::{Ask, Pairs, pairs};
use diag::{Diagnostics, harmless};
use knit::program::Structure;
use knit::stash::{Contents, GarmentChoice, GiftWish, Person};
use store::workspace::{Fields, Given};
use units::LengthUnit;

pub(super) fn routes() -> Router<State> {
    Router::new().route("/", get(first)).route("/start", get(start).post(wish))
}

/// Whoever has nothing yet begins at the beginning.
async fn first(Extract(state): Extract<State>) -> Answer<Redirect> {
    let empty = state.brief(|shared| {
        let live = shared.workspace.as_ref();
        live.is_some_and(|live| is_empty(&live.now().workspace.contents))
    });
    Ok(Redirect::to(if empty.await? { "/start" } else { "/grade" }))
}

fn is_empty(contents: &Contents) -> bool {
    contents.yarns.is_empty() && contents.remnants.is_empty() && contents.people.is_empty()
}

#[derive(Template)]
#[template(path = "web/start.html")]
struct StartPage {
    frame: Frame,
    slip: Slip,
    did: &'static str,
    faults: Vec<FaultView>,
    steps: Vec<StepView>,
    /// For the step in which a garment is chosen.
    names: Vec<Choice>,
    garments: Vec<Choice>,
}

struct StepView {
    title: &'static str,
    /// What it is good for.
    why: &'static str,
    /// What it gave, where it is done.
    gave: Vec<String>,
    next: bool,
    /// The step is a form of the page itself.
    choose: bool,
    href: String,
    button: &'static str,
    again: &'static str,
    faults: Vec<FaultView>,
}

impl StepView {
    fn new(title: &'static str, why: &'static str, gave: Vec<String>) -> StepView {
        StepView {
            title,
            why,
            gave,
            next: false,
            choose: false,
            href: String::new(),
            button: "",
            again: "",
            faults: Vec::new(),
        }
    }

    fn by(
        mut self,
        href: impl Into<String>,
        button: &'static str,
        again: &'static str,
    ) -> StepView {
        self.href = href.into();
        (self.button, self.again) = (button, again);
        self
    }
}

/// The way as far as the workspace's files show it. What is graded takes a moment.
fn steps(shared: &Shared, contents: &Contents) -> Vec<StepView> {
    let unit = contents.settings.units;
    let swatch_at = match contents.yarns.values().next() {
        Some(yarn) => {
            let count = format!("{:.0} m/100 g", yarn.count.metres_per_100_g());
            let of = [("yarn", count.as_str()), ("of_yarn", &yarn.id), ("back", "start")];
            format!("/swatch?{}", serde_urlencoded::to_string(of).unwrap_or_default())
        }
        None => "/swatch?back=start".to_owned(),
    };
    let mut steps = vec![
        StepView::new("Yarn", "What the band of a ball says.", yarns(contents)).by(
            "/new/yarn?back=start",
            "Add a yarn",
            "Add another",
        ),
        StepView::new(
            "Swatch",
            "A square knitted in it, measured: without it every size is a guess.",
            swatches(contents, unit),
        )
        .by(swatch_at, "Measure a swatch", "Measure another"),
        StepView::new(
            "Remnant",
            "How much of it there is, on the kitchen scale.",
            remnants(contents, unit),
        )
        .by("/new/remnant?back=start", "Weigh a ball", "Weigh another"),
        StepView::new("Person", "Whom it is for: a size is enough.", people(contents)).by(
            "/new/person?back=start",
            "Add a person",
            "Add another",
        ),
    ];
    // Whoever has chosen anew means the last one.
    let mut wishes = contents.gifts.iter().rev().filter(|gift| !gift.stage.is_over());
    let (garment, knit) = match wishes.find_map(|gift| chosen(shared, contents, gift)) {
        Some((garment, knit)) => (garment, knit),
        None => (
            StepView { choose: true, ..StepView::new("Garment", GARMENT_WHY, Vec::new()) },
            StepView::new("Knit", KNIT_WHY, Vec::new()),
        ),
    };
    steps.extend([garment, knit]);
    for step in &mut steps {
        let more = step.gave.len().saturating_sub(MOST_TOLD);
        step.gave.truncate(MOST_TOLD);
        step.gave.extend((more > 0).then(|| format!("and {more} more")));
    }
    if let Some(next) = steps.iter_mut().find(|step| step.gave.is_empty()) {
        next.next = true;
    }
    steps
}

/// Of a long list the page says how it begins.
const MOST_TOLD: usize = 4;

const GARMENT_WHY: &str = "Something small first: a mitten, a headband, a hat.";
const KNIT_WHY: &str = "Row by row, beside the machine.";

fn yarns(contents: &Contents) -> Vec<String> {
    let told = contents.yarns.values().map(|yarn| {
        let colours = yarn.colours.stretches().iter().map(|(colour, _)| colour.name.as_str());
        let mut names: Vec<&str> = Vec::new();
        colours.for_each(|name| {
            if !names.contains(&name) {
                names.push(name);
            }
        });
        let (name, count) = (&yarn.name, yarn.count);
        format!(
            "{name}: {:.0} m in 100 g ({count}), {}",
            count.metres_per_100_g(),
            names.join(", ")
        )
    });
    told.collect()
}

fn swatches(contents: &Contents, unit: LengthUnit) -> Vec<String> {
    let (over, mm) = unit.gauge_over();
    let told = contents.swatches.values().map(|file| {
        let gauge = file.set.gauge(Structure::Plain);
        let (stitches, rows) = (gauge.stitches.per_ten.per_mm(), gauge.rows.per_ten.per_mm());
        format!("{}: {:.1} stitches and {:.1} rows to {over}", file.name, stitches * mm, rows * mm)
    });
    told.collect()
}

fn remnants(contents: &Contents, unit: LengthUnit) -> Vec<String> {
    let told = contents.yarns.values().filter_map(|yarn| {
        let own = contents.remnants.iter().filter(|remnant| remnant.yarn == yarn.id);
        let grams: Vec<f64> = own.map(|remnant| remnant.weight.grams()).collect();
        let sum: f64 = grams.iter().sum();
        let long = unit.long(yarn.count.mm_in(sum) / 1000.0);
        let balls = if grams.len() == 1 { "1 ball" } else { &*format!("{} balls", grams.len()) };
        let told =
            format!("{}: {sum:.0} g in {balls}, about {long:.0} {}", yarn.name, unit.long_symbol());
        (!grams.is_empty()).then_some(told)
    });
    told.collect()
}

fn people(contents: &Contents) -> Vec<String> {
    let told = contents.people.iter().map(|person| {
        let size = person.size.as_ref().and_then(|id| contents.sizes.get(id.as_str()));
        let size = size.map(|size| size.label.clone());
        let measures = match person.measures.len() {
            0 => None,
            1 => Some("1 measure".to_owned()),
            many => Some(format!("{many} measures")),
        };
        let told: Vec<String> = size.into_iter().chain(measures).collect();
        format!("{}: {}", person.name, told.join(", "))
    });
    told.collect()
}

/// The garment wished for as it would come out, and the way to the machine.
fn chosen(shared: &Shared, contents: &Contents, gift: &GiftWish) -> Option<(StepView, StepView)> {
    let person = contents.person(&gift.person)?;
    let GarmentChoice::OneOf(ids) = &gift.garment else { return None };
    let ask = ask_of(shared, contents, person, ids.first()?);
    let mut garment = StepView::new("Garment", GARMENT_WHY, Vec::new());
    let mut knit = StepView::new("Knit", KNIT_WHY, Vec::new());
    match shared.grade(&ask).and_then(|graded| told_of(contents, &graded.run, &gift.person)) {
        Ok(told) => {
            garment.gave = told;
            garment = garment.by(format!("/grade?{}", ask.query()), "", "Look at it closely");
            knit = knit.by(format!("/machine?{}", ask.query()), "Knit it", "");
        }
        Err(problem) => {
            garment.choose = true;
            garment.faults = views(&problem.faults);
        }
    }
    Some((garment, knit))
}

/// What is asked for: by the person's measures where they are all that the garment needs, else by size.
fn ask_of(shared: &Shared, contents: &Contents, person: &Person, garment: &str) -> Ask {
    let mut ask = Ask { garment: Some(garment.to_owned()), ..Ask::default() };
    let manifest = shared.garment(garment).ok().map(|(plugin, _)| plugin.manifest);
    let has = |name: &String| person.measures.iter().any(|(own, _)| own.name() == name);
    let measured = manifest.is_some_and(|m| !m.measures.is_empty() && m.measures.iter().all(has));
    if measured || person.size.is_none() {
        let told = person.measures.iter().map(|(own, mm)| (own.name().to_owned(), mm.to_string()));
        ask.measures = told.collect();
        ask.name = Some(person.name.clone());
    } else {
        ask.sizes = person.size.as_ref().map(ToString::to_string);
    }
    let of_settings = contents.settings.machine.clone();
    let swatch = contents.settings.swatch.as_ref().or(contents.swatches.keys().next());
    let file = swatch.and_then(|id| contents.swatches.get(id));
    ask.machine = file.and_then(|file| file.machine.clone()).or(of_settings);
    ask.swatch_id = swatch.cloned();
    ask
}

fn told_of(
    contents: &Contents,
    run: &knit::size_run::SizeRun,
    person: &str,
) -> Answer<Vec<String>> {
    let unit = contents.settings.units;
    let (_, made) = one_size(run)?;
    let sizes: Vec<String> = (made.graded.finished.iter().take(3))
        .map(|own| format!("{} {}", own.title.to_lowercase(), unit.show(own.mm)))
        .collect();
    let grams = made.graded.yarn.need.grams();
    // Only what knits to this gauge can be knitted from.
    let alike = |remnant: &&knit::stash::Remnant| {
        let yarn = contents.yarns.get(&remnant.yarn);
        yarn.is_some_and(|yarn| run.swatches.yarn.knits_like(yarn.count))
    };
    let have = contents.remnants.iter().filter(alike);
    let have: f64 = have.map(|remnant| remnant.weight.grams()).sum();
    Ok(vec![
        format!("{} for {person}: {}", run.garment.title, sizes.join(", ")),
        format!("It takes about {grams:.0} g; the stash has {have:.0} g as thick as the swatch."),
    ])
}

fn start_page(
    shared: &Shared,
    posted: &Posted,
    told: &Diagnostics,
    did: &str,
) -> Answer<StartPage> {
    let live = shared.live().map_err(Problem::of_path)?;
    let now = live.now();
    let contents = &now.workspace.contents;
    let mut faults = views(told);
    faults.extend(views(&now.faults));
    let names = contents.people.iter().map(|person| Choice {
        value: person.name.clone(),
        label: harmless(&person.name).into_owned(),
        chosen: posted.get("person") == person.name,
    });
    let garment = match posted.get("garment") {
        "" => "mitten",
        typed => typed,
    };
    Ok(StartPage {
        frame: Frame::new("The beginning", "/start"),
        slip: Slip { number: now.workspace.state.clone(), once: new_key()?, back: String::new() },
        did: match did {
            "save" | "add" => "Saved.",
            "nothing" => "It was so already: nothing is written.",
            "before" => "That was done already. Nothing is done twice.",
            _ => "",
        },
        faults,
        names: names.collect(),
        garments: garment_choices(shared, garment),
        steps: steps(shared, contents),
    })
}

async fn start(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let asked = pairs(&query.unwrap_or_default())?;
    let did = asked.into_iter().find(|(key, _)| key == "did").map_or_else(String::new, |(_, v)| v);
    // A garment is graded to say what it takes: in its turn.
    state
        .work(move |shared| {
            if shared.workspace.is_none() {
                let frame = Frame::new("The beginning", "/start");
                return page(&headers, &NoWorkspace { frame });
            }
            page(&headers, &start_page(shared, &Posted::default(), &Diagnostics::new(), &did)?)
        })
        .await?
}

/// Wishes for the garment chosen.
async fn wish(
    Extract(state): Extract<State>,
    form: Result<Form<Pairs>, FormRejection>,
) -> Answer<Response> {
    let posted = Posted::read(form, "the beginning")?;
    let text = |key: &str| (key.to_owned(), Given::text(posted.get(key)));
    let fields: Fields = vec![text("person"), text("garment")];
    let basis = posted.basis(None)?;
    let deed = state.edited(basis, move |edit| Kind::Gifts.add(edit, fields)).await;
    let (status, told, did) = match deed {
        Ok(Deed::Before(_)) => return Ok(Redirect::to("/start?did=before").into_response()),
        Ok(Deed::Done { warnings, .. }) if warnings.is_empty() => {
            return Ok(Redirect::to("/start?did=add").into_response());
        }
        Ok(Deed::Done { warnings, .. }) => (axum::http::StatusCode::OK, warnings, "add"),
        Err(problem) => (problem.status, problem.faults, ""),
    };
    let view = state.work(move |shared| start_page(shared, &posted, &told, did)).await??;
    let mut response = html(&view);
    *response.status_mut() = status;
    Ok(response)
}
