//! The page at the machine: one step at a time, and what is begun.

use askama::Template;
use axum::Router;
use axum::extract::{RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use axum::routing::get;

use super::assets::asset_url;
use super::format::one_size;
use super::page_ask::{asked, manifest_of, with_garment};
use super::page_form::AskForm;
use super::page_parts::{FaultView, Frame, page, views};
use super::place_api::{place_id, worked_words};
use super::problem::Answer;
use super::reach_pages::reach_query;
use super::reply::tagged_small;
use super::state::{Shared, State};
use app::{Ask, Pairs, pairs};
use knit::run::Deed;
use report::{self, Stop, Technique, Walk, said};
use store::{Place, Worked};

pub(super) fn routes() -> Router<State> {
    Router::new().route("/machine", get(machine)).route("/machine/walk", get(walk))
}

/// What the page says of itself beside what is knitted: the step at which rows were done in one go, and what the
/// knitter's counter shows.
const FROM: &str = "from";
const COUNTER: &str = "counter";

#[derive(Template)]
#[template(path = "web/machine.html")]
struct MachinePage {
    frame: Frame,
    machine_css: String,
    title: String,
    place: String,
    /// Without the stop: the address of this piece.
    query: String,
    /// The same as fields of a form.
    pairs: Pairs,
    walk_url: String,
    lasting: bool,
    at: usize,
    of: usize,
    rows: u32,
    stop: Option<StopView>,
    /// Whether something changes at this stop beside the row.
    changes: bool,
    on_bed: bool,
    next: Vec<StopView>,
    /// Where it goes back to, and the words of it; on, with all rows that are alike; on by one.
    back: Option<(String, String)>,
    together: Option<(String, String)>,
    forward: Option<String>,
    grade: String,
    /// Where it is told how things are done by hand.
    techniques: String,
    /// Where it is said that it has come out otherwise, and what yarn that is left makes instead.
    carry: String,
    reach: String,
    /// Time counted so far, in words.
    worked: String,
    /// Where the rest is weighed and the piece noted.
    finish: String,
    /// Where the finished piece is recorded, in a workspace.
    record: String,
}

#[derive(Template)]
#[template(path = "web/machine_choose.html")]
struct MachineChoose {
    frame: Frame,
    form: AskForm,
    faults: Vec<FaultView>,
    begun: Vec<Begun>,
}

struct Begun {
    title: String,
    href: String,
    /// Where it is weighed and noted, once its last step is done.
    finish: String,
    done: String,
}

struct StopView {
    piece: String,
    counter: String,
    side: &'static str,
    deeds: Vec<DeedView>,
    pass: String,
    /// What changes: its kind, and the words of it.
    changes: Vec<(&'static str, String)>,
    /// How much there is to say: the less, the larger.
    length: &'static str,
}

struct DeedView {
    what: &'static str,
    text: String,
    /// Where it is told how it is done.
    how: Option<&'static str>,
}

impl StopView {
    fn of(walk: &Walk, stop: &Stop) -> StopView {
        let piece = stop.piece.and_then(|piece| walk.pieces.get(piece as usize));
        let pass = stop.pass.as_ref().map_or_else(String::new, |pass| pass.text.clone());
        let texts = stop.deeds.iter().map(|deed| &deed.text).chain([&pass]);
        let length = match texts.map(|text| text.chars().count()).sum::<usize>() {
            0..=40 => "short",
            41..=140 => "middle",
            141..=320 => "long",
            _ => "longest",
        };
        let changes = stop.changes.iter();
        StopView {
            piece: piece.map_or_else(|| "Finishing".to_owned(), |piece| piece.title.clone()),
            counter: if piece.is_some() { shown(stop.counter.0) } else { "---".into() },
            side: if piece.is_some() { stop.carriage.0.name() } else { "off" },
            deeds: stop
                .deeds
                .iter()
                .map(|deed| DeedView {
                    what: deed.deed.map_or("note", Deed::name),
                    text: deed.text.clone(),
                    how: deed.how.map(Technique::id),
                })
                .collect(),
            changes: changes.map(|change| (change.of.name(), change.text.clone())).collect(),
            pass,
            length,
        }
    }
}

/// A row counter's figures.
fn shown(counter: u32) -> String {
    format!("{counter:03}")
}

/// What is knitted, with what the page alone knows of where one is.
struct Asked {
    ask: Ask,
    at: Option<usize>,
    from: Option<usize>,
    counter: Option<u32>,
}

impl Asked {
    fn read(query: Option<String>) -> Answer<Asked> {
        let (own, rest): (Pairs, Pairs) = pairs(&query.unwrap_or_default())?
            .into_iter()
            .partition(|(key, _)| key == FROM || key == COUNTER);
        let (ask, rest) = asked(Some(serde_urlencoded::to_string(&rest).unwrap_or_default()))?;
        let said = |all: &Pairs, key: &str| {
            all.iter().find(|(own, _)| own == key).map(|(_, value)| value.trim().to_owned())
        };
        let number = |all: &Pairs, key: &str| said(all, key).and_then(|value| value.parse().ok());
        Ok(Asked {
            ask,
            at: number(&rest, "at"),
            from: number(&own, FROM),
            counter: said(&own, COUNTER).and_then(|value| value.parse().ok()),
        })
    }
}

async fn machine(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let asked = Asked::read(query)?;
    state
        .work(move |shared| {
            let ask = &asked.ask;
            let chosen = ask.sizes.is_some() || !ask.measures.is_empty() || ask.person.is_some();
            let mut faults = Vec::new();
            if ask.garment.is_some() && chosen {
                match machine_page(shared, &asked) {
                    Ok(view) => return page(&headers, &view),
                    Err(problem) => faults = views(&problem.faults),
                }
            }
            page(&headers, &machine_choose(shared, asked.ask, faults))
        })
        .await?
}

/// The whole way in few bytes, which the page goes without the server.
async fn walk(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (ask, _) = asked(query)?;
    let bytes = state
        .graded(ask, |shared, ask, graded| {
            let (_, made) = one_size(&graded.run)?;
            let walk = shared.walk(ask, &graded.run, made)?;
            Ok(report::walk_folded(&walk).into_bytes())
        })
        .await?;
    Ok(tagged_small(&headers, "application/json", bytes))
}

/// Where the buttons lead from a stop.
struct Ways {
    back: Option<(String, String)>,
    together: Option<(String, String)>,
    forward: Option<String>,
}

impl Ways {
    fn of(walk: &Walk, query: &str, at: usize, from: Option<usize>) -> Ways {
        let to = |at: usize| format!("/machine?{query}&at={at}");
        let rows = |at: usize| walk.stops.get(at).map_or(walk.rows, |stop| stop.rows.0);
        let back = match from.filter(|from| *from < at) {
            Some(from) => {
                Some((to(from), format!("Take back {} rows", rows(at).saturating_sub(rows(from)))))
            }
            None => at.checked_sub(1).map(|before| (to(before), "Back one".to_owned())),
        };
        let more = walk.stops.get(at).and_then(|stop| stop.pass.as_ref()).map_or(0, |p| p.more);
        let last = walk.stops.get(at + more as usize).filter(|_| more > 0);
        let together = last.map(|last| {
            let words = format!("Done all {} rows, to {}", more + 1, shown(last.counter.1));
            (format!("{}&{FROM}={at}", to(at + 1 + more as usize)), words)
        });
        Ways { back, together, forward: (at < walk.stops.len()).then(|| to(at + 1)) }
    }
}

fn machine_page(shared: &Shared, asked: &Asked) -> Answer<MachinePage> {
    let ask = &asked.ask;
    let graded = shared.grade(ask)?;
    let run = &graded.run;
    let (size, made) = one_size(run)?;
    let words = shared.words(ask)?;
    let walk = shared.walk(ask, run, made)?;
    let place = place_id(ask);
    let of = walk.stops.len();
    let worked = shared.places.worked(&place);
    let kept = shared.places.get(&place).map(|place| place.stop as usize);
    let at = asked.at.or(kept).unwrap_or(0).min(of);
    let at = asked.counter.and_then(|counter| walk.stop_shown(at, counter)).unwrap_or(at);
    let title = said(words, &format!("{}, {}", run.garment.title, size.body.label));
    let query = ask.query();
    let Ways { back, together, forward } = Ways::of(&walk, &query, at, asked.from);
    let stop = walk.stops.get(at);
    Ok(MachinePage {
        frame: Frame::new(title.clone(), "/machine"),
        machine_css: asset_url("machine.css"),
        title,
        place,
        pairs: pairs(&query)?,
        walk_url: format!("/machine/walk?{query}"),
        lasting: shared.places.lasting(),
        at,
        of,
        rows: walk.rows,
        changes: stop.is_some_and(|stop| !stop.changes.is_empty()),
        on_bed: stop.is_some_and(|stop| stop.piece.is_some()),
        stop: stop.map(|stop| StopView::of(&walk, stop)),
        next: walk.stops.iter().skip(at + 1).take(3).map(|s| StopView::of(&walk, s)).collect(),
        back,
        together,
        forward,
        grade: format!("/grade?{query}"),
        techniques: match &ask.words {
            Some(words) => format!("/techniques?words={words}"),
            None => "/techniques".to_owned(),
        },
        carry: ask.query_with(&[("stands", &walk.stands_at(at).unwrap_or_default())]),
        reach: reach_query(ask),
        worked: worked_words(worked),
        finish: format!("/machine/finish?{query}"),
        record: if shared.workspace.is_some() { record_link(ask, worked) } else { String::new() },
        query,
    })
}

fn done_words(place: &Place, worked: Worked) -> String {
    let worked = worked_words(worked);
    let comma = if worked.is_empty() { "" } else { ", " };
    let Place { stop, of, .. } = place;
    let steps =
        if stop == of { format!("all {of} steps") } else { format!("{stop} of {of} steps") };
    format!("{steps}{comma}{worked}")
}

/// The form in which a finished piece is recorded, filled in as far as the machine knows.
fn record_link(ask: &Ask, worked: Worked) -> String {
    let size = ask.person.as_ref().or(ask.name.as_ref()).or(ask.sizes.as_ref());
    let minutes = worked.minutes().map(|minutes| minutes.to_string());
    let pairs = [
        ("what", Some("record")),
        ("garment", ask.garment.as_deref()),
        ("size", size.map(String::as_str)),
        ("minutes", minutes.as_deref()),
    ];
    let given = pairs.into_iter().filter_map(|(key, value)| Some((key, value?)));
    let query = serde_urlencoded::to_string(given.collect::<Vec<_>>()).unwrap_or_default();
    format!("/gifts?{query}#finished")
}

fn machine_choose(shared: &Shared, ask: Ask, faults: Vec<FaultView>) -> MachineChoose {
    let mut ask = with_garment(shared, ask);
    ask.sizes = ask.sizes.or_else(|| Some("women-m".to_owned()));
    let manifest = manifest_of(shared, &ask);
    let begun = shared
        .places
        .all()
        .into_iter()
        .filter(|(_, place)| place.stop > 0)
        .map(|(id, place)| Begun {
            href: format!("/machine?{}", place.query),
            finish: match place.stop == place.of {
                true => format!("/machine/finish?{}", place.query),
                false => String::new(),
            },
            done: done_words(&place, shared.places.worked(&id)),
            title: place.title,
        })
        .collect();
    MachineChoose {
        frame: Frame::new("At the machine", "/machine"),
        form: AskForm::new(shared, &ask, manifest.as_deref()),
        faults,
        begun,
    }
}
