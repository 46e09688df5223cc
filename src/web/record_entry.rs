//! The page of one finished piece: a weight that was noted wrong is put right there, or the piece taken out of the
//! records. Either is a change that can be taken back.

use askama::Template;
use axum::Router;
use axum::extract::rejection::FormRejection;
use axum::extract::{Form, Path, State as Extract};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;

use super::gift_pages::NoWorkspace;
use super::gift_part::record_address;
use super::gift_top::{GiftPage, Slip, rests_of};
use super::page_parts::{FaultView, Frame, html, views};
use super::posted::{Posted, grams_typed};
use super::problem::{Answer, Problem};
use super::rests::new_key;
use super::state::{Deed, Shared, State};
use app::{Pairs, record_at};
use diag::{Code, Diagnostic, Diagnostics};
use knit::stash::{Contents, FinishedPiece, Sure};
use store::workspace::{Fields, Given, record_name};
use units::{Mass, UnitError, number};

pub(super) fn routes() -> Router<State> {
    Router::new().route("/gifts/records/{key}", get(shown).post(act))
}

/// Fields of the form: by section what the scale showed.
const BEFORE: &str = "before.";
const AFTER: &str = "after.";

#[derive(Template)]
#[template(path = "web/record.html")]
struct RecordEntryPage {
    frame: Frame,
    slip: Slip,
    faults: Vec<FaultView>,
    action: String,
    /// Garment, size, yarn and day.
    what: String,
    sections: Vec<SectionView>,
    minutes: String,
    date: String,
    note: String,
    sure: bool,
    rests: Vec<(String, String)>,
}

struct SectionView {
    name: String,
    before: String,
    after: String,
}

async fn shown(Extract(state): Extract<State>, Path(key): Path<String>) -> Answer<Response> {
    state
        .brief(move |shared| {
            if shared.workspace.is_none() {
                return Ok(html(&NoWorkspace { frame: GiftPage::Records.frame() }));
            }
            Ok(html(&RecordEntryPage::of(shared, &key, None, &Diagnostics::new())?))
        })
        .await?
}

async fn act(
    Extract(state): Extract<State>,
    Path(key): Path<String>,
    form: Result<Form<Pairs>, FormRejection>,
) -> Answer<Response> {
    let posted = Posted::read(form, "a finished piece")?;
    match done(&state, &key, &posted).await {
        Ok(did) => {
            let to = format!("{}?did={did}#records", GiftPage::Records.path());
            Ok(Redirect::to(&to).into_response())
        }
        Err(problem) => {
            let status = problem.status;
            let again = move |shared: &Shared| -> Answer<Response> {
                // It may have gone meanwhile: then that is what there is to say.
                let live = shared.live().map_err(Problem::of_path)?.now();
                if piece_of(&live.workspace.contents, &key).is_err() {
                    return Err(problem);
                }
                let page = RecordEntryPage::of(shared, &key, Some(&posted), &problem.faults)?;
                Ok(html(&page))
            };
            let mut response = state.brief(again).await??;
            *response.status_mut() = status;
            Ok(response)
        }
    }
}

async fn done(state: &State, key: &str, posted: &Posted) -> Answer<&'static str> {
    let own = key.to_owned();
    let (did, deed) = match posted.get("what") {
        "save" => {
            let (form, name) = (posted.clone(), own.clone());
            let fields = state.brief(move |shared| changed(shared, &name, &form)).await??;
            if fields.is_empty() {
                return Ok("nothing");
            }
            let change = move |edit: &mut app::WorkspaceEdit| edit.change_record(&own, fields);
            ("change", state.edited(posted.basis(None)?, change).await?)
        }
        "remove" => {
            let remove = move |edit: &mut app::WorkspaceEdit| edit.remove_record(&own);
            ("remove", state.edited(posted.basis(None)?, remove).await?)
        }
        _ => {
            return Err(Diagnostic::error(
                Code::Form,
                "the form asks for nothing that can be done",
            )
            .hint("send it from the page of the finished piece")
            .into());
        }
    };
    Ok(match deed {
        Deed::Before(_) => "before",
        Deed::Done { written: false, .. } => "nothing",
        Deed::Done { .. } => did,
    })
}

fn piece_of<'c>(contents: &'c Contents, key: &str) -> Result<&'c FinishedPiece, Diagnostic> {
    record_at(contents, key).map(|at| &contents.records[at])
}

/// The keys in which what was typed differs from what is noted.
fn changed(shared: &Shared, key: &str, posted: &Posted) -> Answer<Fields> {
    let now = shared.live().map_err(Problem::of_path)?.now();
    let piece = piece_of(&now.workspace.contents, key).map_err(Problem::of_path)?;
    let mut faults = Diagnostics::new();
    let mut fields = Fields::new();
    let sections = weights(piece, posted, &mut faults);
    if !sections.is_empty() {
        fields.push(("sections".to_owned(), Given::Merge(sections)));
    }
    let typed = |name: &str| posted.has(name).then(|| posted.get(name));
    if let Some(text) = typed("minutes").filter(|text| *text != minutes_of(piece)) {
        match minutes_given(text) {
            Ok(given) => fields.push(("minutes".to_owned(), given)),
            Err(fault) => faults.push(fault.into_diagnostic().context("minutes of work")),
        }
    }
    let date = piece.date.map_or_else(String::new, |day| day.to_string());
    for (name, known) in [("date", date), ("note", piece.note.clone().unwrap_or_default())] {
        if let Some(text) = typed(name).filter(|text| *text != known) {
            fields.push((name.to_owned(), texts_given(text)));
        }
    }
    let sure = posted.get("odd") == "right";
    if sure != is_sure(piece) {
        let given = if sure { Given::Flag(true) } else { Given::Nothing };
        fields.push(("sure".to_owned(), given));
    }
    Ok(faults.into_result(fields)?)
}

/// What the scale showed, of the sections in which it is to be another.
fn weights(piece: &FinishedPiece, posted: &Posted, faults: &mut Diagnostics) -> Fields {
    let mut sections = Fields::new();
    for section in &piece.sections {
        let mut own = Fields::new();
        for (of, key, known) in
            [(BEFORE, "before", section.before), (AFTER, "after", section.after)]
        {
            let name = format!("{of}{}", section.name);
            if !posted.has(&name) {
                continue;
            }
            match grams_typed(posted.get(&name)).parse::<Mass>() {
                Ok(mass) if mass == known => {}
                Ok(mass) => own.push((key.to_owned(), Given::text(mass.to_string()))),
                Err(fault) => {
                    faults
                        .push(fault.into_diagnostic().context(format!("{}, {key}", section.name)));
                }
            }
        }
        if !own.is_empty() {
            sections.push((section.name.clone(), Given::Merge(own)));
        }
    }
    sections
}

/// As the field has it, whose label says the unit.
fn grams(mass: Mass) -> String {
    mass.to_string().trim_end_matches(" g").to_owned()
}

fn texts_given(text: &str) -> Given {
    if text.is_empty() { Given::Nothing } else { Given::text(text) }
}

fn minutes_given(text: &str) -> Result<Given, UnitError> {
    if text.is_empty() {
        return Ok(Given::Nothing);
    }
    Ok(Given::typed(&number(text)?.to_string()))
}

fn minutes_of(piece: &FinishedPiece) -> String {
    piece.minutes.map_or_else(String::new, |minutes| minutes.to_string())
}

fn is_sure(piece: &FinishedPiece) -> bool {
    piece.sure != Sure::default()
}

impl RecordEntryPage {
    fn of(
        shared: &Shared,
        key: &str,
        posted: Option<&Posted>,
        faults: &Diagnostics,
    ) -> Answer<RecordEntryPage> {
        let now = shared.live().map_err(Problem::of_path)?.now();
        let contents = &now.workspace.contents;
        let piece = piece_of(contents, key).map_err(Problem::of_path)?;
        // What was typed goes before what is noted.
        let saving = posted.filter(|posted| posted.get("what") == "save");
        let typed = |name: &str, known: String| match saving {
            Some(posted) if posted.has(name) => posted.get(name).to_owned(),
            _ => known,
        };
        let sections = piece.sections.iter().map(|section| SectionView {
            before: typed(&format!("{BEFORE}{}", section.name), grams(section.before)),
            after: typed(&format!("{AFTER}{}", section.name), grams(section.after)),
            name: section.name.clone(),
        });
        let yarn = contents.yarns.get(&piece.yarn).map_or(&piece.yarn, |yarn| &yarn.name);
        let day = piece.date.map(|day| format!(", {day}")).unwrap_or_default();
        Ok(RecordEntryPage {
            frame: Frame::of_gifts("A finished piece", GiftPage::Records.path()),
            slip: Slip {
                number: now.workspace.state.clone(),
                once: new_key()?,
                back: String::new(),
            },
            faults: views(faults),
            action: record_address(piece),
            what: format!("{}, {}, in {yarn}{day}", piece.garment, piece.size),
            sections: sections.collect(),
            minutes: typed("minutes", minutes_of(piece)),
            date: typed("date", piece.date.map_or_else(String::new, |day| day.to_string())),
            note: typed("note", piece.note.clone().unwrap_or_default()),
            sure: saving.map_or_else(|| is_sure(piece), |posted| posted.get("odd") == "right"),
            rests: rests_of(contents, [record_name(piece)]),
        })
    }
}
