//! The screen on which a piece is closed: what is left of the yarn on the scale, the minutes, the record and the
//! gift it was. What it took is looked at before it is written, as everywhere.

use askama::Template;
use axum::Router;
use axum::extract::rejection::FormRejection;
use axum::extract::{Form, RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;

use super::format::one_size;
use super::gift_forms::look_of;
use super::gift_top::Slip;
use super::page_ask::asked;
use super::page_form::Choice;
use super::page_parts::{FaultView, Frame, html, page, views};
use super::place_api::place_id;
use super::posted::{Posted, grams_typed};
use super::problem::{Answer, Problem};
use super::record_pages::LookView;
use super::rests::new_key;
use super::state::{Deed, Shared, State};
use super::workspace_api::FinishedAsk;
use app::{Ask, Pairs, RecordRequest, pairs, record};
use diag::{Code, Diagnostic, Diagnostics};
use knit::stash::{GiftState, GiftWish, Remnant};
use report::said;
use store::workspace::Contents;
use units::Mass;

pub(super) fn routes() -> Router<State> {
    Router::new().route("/machine/finish", get(finish).post(note))
}

/// Fields of the form: what was knitted, and a row a ball: section, ball, what it weighs now.
const PIECE: &str = "piece_of";
const SECTION: &str = "section.";
const BALL: &str = "ball.";
const LEFT: &str = "left.";

/// Rows of a section that are there for balls nobody planned.
const SPARE: usize = 2;

#[derive(Template)]
#[template(path = "web/finish.html")]
struct FinishPage {
    frame: Frame,
    title: String,
    /// What was knitted, as the page's address says it.
    query: String,
    faults: Vec<FaultView>,
    /// What was done, in words; nothing is asked then.
    did: String,
    /// What there is in a workspace; `None` without one.
    desk: Option<Desk>,
}

struct Desk {
    slip: Slip,
    sections: Vec<SectionView>,
    balls: Vec<(String, String)>,
    gifts: Vec<Choice>,
    minutes: String,
    note: String,
    /// What would be noted.
    look: Option<LookView>,
    /// What was sent, to be sent again with the word that it is right.
    sent: Pairs,
    another_piece: bool,
    stands_by: bool,
}

struct SectionView {
    title: String,
    rows: Vec<RowView>,
    /// Those that are folded away.
    spare: Vec<RowView>,
}

struct RowView {
    nth: usize,
    section: String,
    ball: String,
    left: String,
}

/// What the page's address says beside what was knitted.
struct Finishing {
    ask: Ask,
    did: String,
    gift: String,
}

impl Finishing {
    fn read(query: &str) -> Answer<Finishing> {
        let (own, rest): (Pairs, Pairs) =
            pairs(query)?.into_iter().partition(|(key, _)| key == "did" || key == "gift");
        let (ask, _) = asked(Some(serde_urlencoded::to_string(&rest).unwrap_or_default()))?;
        let own = Posted(own);
        Ok(Finishing { ask, did: own.get("did").to_owned(), gift: own.get("gift").to_owned() })
    }
}

async fn finish(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let asked = Finishing::read(&query.unwrap_or_default())?;
    state
        .work(move |shared| {
            let sent = Posted(vec![("gift".to_owned(), asked.gift.clone())]);
            page(&headers, &finish_page(shared, &asked, &sent, None, None)?)
        })
        .await?
}

async fn note(
    Extract(state): Extract<State>,
    form: Result<Form<Pairs>, FormRejection>,
) -> Answer<Response> {
    let posted = Posted::read(form, "the page at the machine")?;
    let asked = Finishing::read(posted.get(PIECE))?;
    let gift = posted.get("gift").to_owned();
    let query = asked.ask.query();
    let (look, problem) = if posted.get("sure") == "yes" {
        match noted(&state, &asked, &posted).await {
            Ok(did) => {
                let own = [("did", did), ("gift", &*gift)];
                let own = serde_urlencoded::to_string(own).unwrap_or_default();
                let to = format!("/machine/finish?{query}&{own}");
                return Ok(Redirect::to(&to).into_response());
            }
            Err(problem) => (None, Some(problem)),
        }
    } else {
        match looked_at(&state, &asked, &posted).await {
            Ok(look) => (Some(look), None),
            Err(problem) => (None, Some(problem)),
        }
    };
    let status = problem.as_ref().map(|problem| problem.status);
    let view = state
        .work(move |shared| finish_page(shared, &asked, &posted, look, problem.as_ref()))
        .await??;
    let mut response = html(&view);
    if let Some(status) = status {
        *response.status_mut() = status;
    }
    Ok(response)
}

async fn looked_at(state: &State, asked: &Finishing, posted: &Posted) -> Answer<LookView> {
    let given = finished(&asked.ask, posted)?;
    state
        .work(move |shared| {
            let request: RecordRequest = given.request(shared)?;
            look_of(shared, &request)
        })
        .await?
}

/// Writes the record; which word says what came of it.
async fn noted(state: &State, asked: &Finishing, posted: &Posted) -> Answer<&'static str> {
    let given = finished(&asked.ask, posted)?;
    let request = state.brief(move |shared| given.request(shared)).await??;
    let basis = posted.basis(None)?;
    Ok(match state.edited(basis, move |edit| record(edit, &request).map(drop)).await? {
        Deed::Before(_) => "before",
        Deed::Done { .. } => "record",
    })
}

/// What the form says of the finished piece. Its options are those it was knitted with.
fn finished(ask: &Ask, posted: &Posted) -> Result<FinishedAsk, Diagnostics> {
    let mut faults = Diagnostics::new();
    let mut used = Vec::new();
    for (key, section) in &posted.0 {
        let Some(nth) = key.strip_prefix(SECTION) else { continue };
        let of = |family: &str| posted.get(&format!("{family}{nth}"));
        let (section, ball, left) = (section.trim(), of(BALL), of(LEFT));
        match (ball, left) {
            ("", "") => {}
            ("", _) => faults.push(
                Diagnostic::error(Code::Weight, format!("which ball of {section} weighs {left}?"))
                    .hint("choose it from the list beside the weight"),
            ),
            (_, "") => faults.push(
                Diagnostic::error(Code::Weight, format!("what does {ball} weigh now?"))
                    .hint("write it like 12 g, 0 where it is used up; empty the field of a ball that was not used"),
            ),
            _ => used.push(format!("{section}:{ball}={}", grams_typed(left))),
        }
    }
    faults.into_result(FinishedAsk {
        garment: ask.garment.clone().unwrap_or_default(),
        size: ask.name.clone().or_else(|| ask.sizes.clone()).unwrap_or_default(),
        used,
        options: ask.options.iter().cloned().collect(),
        ..FinishedAsk::of_form(posted)
    })
}

fn finish_page(
    shared: &Shared,
    asked: &Finishing,
    posted: &Posted,
    look: Option<LookView>,
    problem: Option<&Problem>,
) -> Answer<FinishPage> {
    let ask = &asked.ask;
    let graded = shared.grade(ask)?;
    let (size, made) = one_size(&graded.run)?;
    let words = shared.words(ask)?;
    let title = said(words, &format!("{}, {}", graded.run.garment.title, size.body.label));
    let own = made.graded.yarn.sections.iter();
    let sections: Vec<(String, String)> = own
        .map(|section| {
            let title = graded.run.garment.section_title(&section.name);
            (section.name.clone(), said(words, title))
        })
        .collect();
    Ok(FinishPage {
        frame: Frame::new(format!("{title}: weigh and note it"), "/machine"),
        title,
        query: ask.query(),
        faults: problem.map(|problem| views(&problem.faults)).unwrap_or_default(),
        did: did_words(shared, asked),
        desk: match &shared.workspace {
            Some(_) => Some(Desk::of(shared, ask, posted, &sections, look)?),
            None => None,
        },
    })
}

/// What was done, from the word in the address and the gift as it is now.
fn did_words(shared: &Shared, asked: &Finishing) -> String {
    let told = match asked.did.as_str() {
        "record" => {
            "Recorded: the balls are weighed again, and the yarn and your pace are known better."
        }
        "before" => {
            "That was recorded already, when it was sent the first time. Nothing is done twice."
        }
        _ => return String::new(),
    };
    let Ok(live) = shared.live() else { return told.to_owned() };
    let now = live.now();
    let contents = &now.workspace.contents;
    let gift = contents.gift(&asked.gift);
    let closed = gift.filter(|gift| contents.gift_state(gift) == GiftState::Done);
    match closed {
        Some(gift) => format!("{told} The gift {} is done.", gift.id),
        None => told.to_owned(),
    }
}

impl Desk {
    fn of(
        shared: &Shared,
        ask: &Ask,
        posted: &Posted,
        sections: &[(String, String)],
        look: Option<LookView>,
    ) -> Answer<Desk> {
        let live = shared.live().map_err(Problem::of_path)?;
        let now = live.now();
        let contents = &now.workspace.contents;
        let sent_before = !posted.get(PIECE).is_empty();
        let likely = likely_gift(contents, ask).map_or("", |gift| gift.id.as_str());
        let gift = match posted.get("gift") {
            "" if !sent_before => likely,
            chosen => chosen,
        };
        let minutes = if sent_before {
            posted.get("minutes").to_owned()
        } else {
            let counted = shared.places.worked(&place_id(ask)).minutes();
            counted.map_or_else(String::new, |minutes| minutes.to_string())
        };
        let open = contents.gifts.iter().filter(|gift| !gift.stage.is_over());
        let may = open.filter(|wish| {
            wish.id == gift || ask.garment.as_deref().is_some_and(|own| wish.garment.allows(own))
        });
        let gifts = may.map(|wish| Choice {
            value: wish.id.clone(),
            label: format!("{}, {}", wish.id, wish.person),
            chosen: wish.id == gift,
        });
        let resent = |key: &str| {
            let own = [PIECE, "gift", "minutes", "note"].contains(&key);
            own || [SECTION, BALL, LEFT].iter().any(|family| key.starts_with(family))
        };
        Ok(Desk {
            slip: Slip {
                number: now.workspace.state.clone(),
                once: new_key()?,
                back: String::new(),
            },
            sections: rows(contents, gift, posted, sections),
            balls: contents.remnants.iter().map(|own| ball_choice(contents, own)).collect(),
            gifts: gifts.collect(),
            minutes,
            note: posted.get("note").to_owned(),
            another_piece: posted.get("piece") == "new",
            stands_by: posted.get("odd") == "right",
            sent: posted.0.iter().filter(|(key, _)| resent(key)).cloned().collect(),
            look,
        })
    }
}

fn ball_choice(contents: &Contents, remnant: &Remnant) -> (String, String) {
    let yarn = contents.yarns.get(&remnant.yarn).map_or(&remnant.yarn, |yarn| &yarn.name);
    let Remnant { id, weight, .. } = remnant;
    (id.clone(), format!("{yarn}, {}", grams(*weight)))
}

fn grams(weight: Mass) -> String {
    format!("{:.1} g", weight.grams())
}

/// The rows of each section: as they were sent, else where nothing was typed at all the balls that are set aside
/// for the gift, with room for others.
fn rows(
    contents: &Contents,
    gift: &str,
    posted: &Posted,
    sections: &[(String, String)],
) -> Vec<SectionView> {
    let mut nth = 0;
    let typed = |key: &str| key.starts_with(BALL) || key.starts_with(LEFT);
    let untouched = posted.0.iter().all(|(key, value)| value.trim().is_empty() || !typed(key));
    let of_section = |(name, title): &(String, String)| {
        let sent = posted.0.iter().filter_map(|(key, own)| {
            let at = key.strip_prefix(SECTION).filter(|_| own == name)?;
            let get = |family: &str| posted.get(&format!("{family}{at}")).to_owned();
            Some((get(BALL), get(LEFT)))
        });
        let mut balls: Vec<(String, String)> =
            sent.filter(|(ball, left)| !ball.is_empty() || !left.is_empty()).collect();
        if balls.is_empty() && untouched {
            let aside = contents.reservations.iter();
            let aside = aside.filter(|own| own.gift == gift && own.section == *name);
            balls.extend(aside.map(|own| (own.remnant.clone(), String::new())));
        }
        if balls.is_empty() {
            balls.push((String::new(), String::new()));
        }
        let mut row = |(ball, left): (String, String)| {
            nth += 1;
            RowView { nth, section: name.clone(), ball, left }
        };
        let rows = balls.into_iter().map(&mut row).collect();
        let spare = (0..SPARE).map(|_| row((String::new(), String::new()))).collect();
        SectionView { title: title.clone(), rows, spare }
    };
    sections.iter().map(of_section).collect()
}

/// The gift that a piece most likely is: for this person, or for one of this size, and the farthest on of them.
/// None where two are as likely.
fn likely_gift<'c>(contents: &'c Contents, ask: &Ask) -> Option<&'c GiftWish> {
    let garment = ask.garment.as_deref()?;
    let fits = |gift: &&GiftWish| {
        let person = contents.person(&gift.person);
        let size = person.and_then(|person| person.size.as_ref()).map(|size| size.as_str());
        let whose = ask.name.as_deref() == Some(&*gift.person)
            || (ask.name.is_none() && size.is_some() && size == ask.sizes.as_deref());
        let aside = contents.reservations.iter().filter(|own| own.gift == gift.id);
        let mut known = aside.filter_map(|own| own.knitted_as.as_ref()).peekable();
        let as_this = known.peek().is_none() || known.any(|own| own.garment == garment);
        !gift.stage.is_over() && whose && gift.garment.allows(garment) && as_this
    };
    let how_far = |gift: &GiftWish| match contents.gift_state(gift) {
        GiftState::OnMachine => 2,
        GiftState::SetAside => 1,
        _ => 0,
    };
    let all: Vec<&GiftWish> = contents.gifts.iter().filter(fits).collect();
    let farthest = all.iter().map(|gift| how_far(gift)).max()?;
    let mut best = all.into_iter().filter(|gift| how_far(gift) == farthest);
    best.next().filter(|_| best.next().is_none())
}
