//! The page at the machine: one step at a time, and what is begun.

use askama::Template;
use axum::Router;
use axum::extract::{RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use axum::routing::get;

use super::format::one_size;
use super::page_form::AskForm;
use super::page_parts::{FaultView, Frame, page, views};
use super::pages::{asked, manifest_of, with_garment};
use super::place_api::{place_id, worked_words};
use super::problem::Answer;
use super::state::{Shared, State};
use app::Ask;
use knit::run::Deed;
use report::{self, Stop, Technique, Walk, said};
use store::{Place, Worked};

pub(super) fn routes() -> Router<State> {
    Router::new().route("/machine", get(machine))
}

#[derive(Template)]
#[template(path = "web/machine.html")]
struct MachinePage {
    frame: Frame,
    title: String,
    place: String,
    /// Without the stop: the address of this piece.
    query: String,
    walk_url: String,
    lasting: bool,
    at: usize,
    of: usize,
    rows: u32,
    stop: Option<StopView>,
    next: Vec<StopView>,
    back: Option<String>,
    forward: Option<String>,
    grade: String,
    /// Where it is told how things are done by hand.
    techniques: String,
    /// Where it is said that it has come out otherwise.
    carry: String,
    /// Time counted so far, in words.
    worked: String,
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
    done: String,
}

struct StopView {
    piece: String,
    counter: String,
    side: &'static str,
    deeds: Vec<DeedView>,
    pass: String,
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
        StopView {
            piece: piece.map_or_else(|| "Finishing".to_owned(), |piece| piece.title.clone()),
            counter: if piece.is_some() { format!("{:03}", stop.counter.0) } else { "---".into() },
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
            pass: stop.pass.as_ref().map_or_else(String::new, |pass| pass.text.clone()),
        }
    }
}

async fn machine(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (ask, pairs) = asked(query)?;
    let at = pairs.iter().find(|(key, _)| key == "at").and_then(|(_, v)| v.parse().ok());
    state
        .work(move |shared| {
            let chosen = ask.sizes.is_some() || !ask.measures.is_empty() || ask.person.is_some();
            let mut faults = Vec::new();
            if ask.garment.is_some() && chosen {
                match machine_page(shared, &ask, at) {
                    Ok(view) => return page(&headers, &view),
                    Err(problem) => faults = views(&problem.faults),
                }
            }
            page(&headers, &machine_choose(shared, ask, faults))
        })
        .await?
}

fn machine_page(shared: &Shared, ask: &Ask, at: Option<usize>) -> Answer<MachinePage> {
    let graded = shared.grade(ask)?;
    let run = &graded.run;
    let (size, made) = one_size(run)?;
    let unit = ask.unit()?;
    let words = shared.words(ask)?;
    let walk = report::walk(run, made, unit).in_words(words);
    let place = place_id(ask);
    let of = walk.stops.len();
    let worked = shared.places.worked(&place);
    let kept = shared.places.get(&place).map(|place| place.stop as usize);
    let at = at.or(kept).unwrap_or(0).min(of);
    let title = said(words, &format!("{}, {}", run.garment.title, size.body.label));
    let query = ask.query();
    let to = |at: usize| format!("/machine?{query}&at={at}");
    Ok(MachinePage {
        frame: Frame::new(title.clone(), "/machine"),
        title,
        place,
        walk_url: format!("/api/v1/walk?{query}"),
        lasting: shared.places.lasting(),
        at,
        of,
        rows: walk.rows,
        stop: walk.stops.get(at).map(|stop| StopView::of(&walk, stop)),
        next: walk.stops.iter().skip(at + 1).take(3).map(|s| StopView::of(&walk, s)).collect(),
        back: at.checked_sub(1).map(to),
        forward: (at < of).then(|| to(at + 1)),
        grade: format!("/grade?{query}"),
        techniques: match &ask.words {
            Some(words) => format!("/techniques?words={words}"),
            None => "/techniques".to_owned(),
        },
        carry: ask.query_with(&[("stands", &walk.stands_at(at).unwrap_or_default())]),
        worked: worked_words(worked),
        record: if shared.workspace.is_some() { record_link(ask, worked) } else { String::new() },
        query,
    })
}

fn done_words(place: &Place, worked: Worked) -> String {
    let worked = worked_words(worked);
    let comma = if worked.is_empty() { "" } else { ", " };
    format!("{} of {} steps{comma}{worked}", place.stop, place.of)
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
