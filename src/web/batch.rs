//! Many runs in one request: JSON Lines in, JSON Lines out, in order. So many lines are worked on
//! at a time; no more is read until the client has taken what is done.

use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;

use axum::body::{Body, Bytes};
use axum::extract::{Request, State as Extract};
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::{IntoResponse, Response};
use futures_util::stream::{self, Stream, StreamExt};
use serde_json::Value;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::connections::AtWork;
use super::problem::{Answer, Problem, Refusals};
use super::state::{Bounds, State};
use app::Ask;
use app::{BatchLine, LineNumbers, LineSplitter, RawLine};
use diag::{Code, Diagnostic, Diagnostics};

pub(super) const PATH: &str = "/api/v1/batch";

pub(super) fn routes() -> OpenApiRouter<State> {
    OpenApiRouter::new().routes(routes!(batch))
}

/// Grade many: JSON Lines in, JSON Lines out
///
/// Each line is what one would send to `/api/v1/grade`, and may have an `id`. Each line of the
/// answer has the number of its line, the `id`, and `result` or `error`; they come in order.
#[utoipa::path(post, path = "/api/v1/batch", tag = "grade",
    request_body(content = String, content_type = "application/x-ndjson"), responses(
    (status = 200, description = "A line for each line", body = String, content_type = "application/x-ndjson"),
    Refusals))]
async fn batch(Extract(state): Extract<State>, request: Request) -> Answer<Response> {
    check_type(request.headers())?;
    let permit = Arc::clone(&state.batches).try_acquire_owned().map_err(|_| Problem::busy())?;
    // Worked on to its last line.
    let at_work = request.extensions().get::<Arc<AtWork>>().cloned();
    let held = (permit, at_work);
    let lines = lines(request.into_body(), &state.bounds);
    // As many waiting as are worked on: the workers never want for work.
    let window = state.bounds.gradings * 2;
    let answers = lines
        .map(move |line| answer(state.clone(), line))
        .buffered(window)
        .map(move |bytes| holding(&held, bytes));
    let kind = HeaderValue::from_static("application/x-ndjson");
    Ok(([(header::CONTENT_TYPE, kind)], Body::from_stream(answers)).into_response())
}

/// What is held is kept as long as the stream it is part of.
fn holding<T>(_: &T, bytes: Bytes) -> Result<Bytes, std::io::Error> {
    Ok(bytes)
}

/// A form of another site can't send this type without asking first.
fn check_type(headers: &HeaderMap) -> Answer<()> {
    let kind = headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok());
    let kind = kind.and_then(|kind| kind.split(';').next()).map(str::trim);
    if matches!(kind, Some("application/x-ndjson" | "application/jsonl" | "application/json")) {
        return Ok(());
    }
    let fault = Diagnostic::error(Code::ContentType, "a batch is sent as JSON Lines")
        .hint("send it with Content-Type: application/x-ndjson");
    Err(Problem::new(axum::http::StatusCode::UNSUPPORTED_MEDIA_TYPE, fault))
}

async fn answer(state: State, line: RawLine) -> Bytes {
    let _under_way = state.metrics.begin_batch_line();
    let BatchLine { line, id, ask } = line.read(LineNumbers::Counted);
    let answer = match ask {
        Ok(ask) => graded(&state, line, id, ask).await,
        Err(fault) => failed(line, &id, &fault.into()),
    };
    answer.into()
}

async fn graded(state: &State, line: Option<u64>, id: Value, ask: Ask) -> String {
    loop {
        let own = id.clone();
        let outcome = state.graded(ask.clone(), move |_, _, graded| {
            Ok(report::batch_answer(line, &own, Ok(&graded.run)))
        });
        match outcome.await {
            Ok(answer) => return answer,
            // A batch waits its turn for as long as it takes.
            Err(problem) if problem.retry_after.is_some() => {}
            Err(problem) => return failed(line, &id, &problem.faults),
        }
    }
}

fn failed(line: Option<u64>, id: &Value, faults: &Diagnostics) -> String {
    report::batch_answer(line, id, Err(faults))
}

/// The lines of a body, as they come.
struct Lines {
    body: Pin<Box<dyn Stream<Item = Result<Bytes, axum::Error>> + Send>>,
    /// What has come and is not taken yet.
    part: Bytes,
    splitter: LineSplitter,
    /// Lines taken at most.
    most: u64,
    /// How long a line may take to arrive.
    patience: Duration,
    ended: bool,
}

/// The lines of a body, none longer or later than it may be, blank ones left out but counted. Holds one
/// line and one part of the body.
fn lines(body: Body, bounds: &Bounds) -> impl Stream<Item = RawLine> + Send + use<> {
    let lines = Lines {
        body: Box::pin(body.into_data_stream()),
        part: Bytes::new(),
        splitter: LineSplitter::new(bounds.batch_line, 1),
        most: bounds.batch_lines as u64,
        patience: bounds.body_time,
        ended: false,
    };
    stream::unfold(lines, async move |mut lines| {
        let line = match tokio::time::timeout(lines.patience, lines.next_worded()).await {
            Ok(line) => line?,
            // The client is asleep, or sends a byte now and then: tell it, should it still listen.
            Err(_) => lines.cut_short(),
        };
        Some((line, lines))
    })
}

impl Lines {
    async fn next_worded(&mut self) -> Option<RawLine> {
        while !self.ended {
            let (taken, line) = self.splitter.take(&self.part);
            drop(self.part.split_to(taken));
            let line = match line {
                Some(line) => Some(line),
                None => match self.body.next().await {
                    Some(Ok(part)) => {
                        self.part = part;
                        None
                    }
                    None => {
                        self.ended = true;
                        self.splitter.rest()
                    }
                    Some(Err(_)) => return Some(self.cut_short()),
                },
            };
            let Some(line) = line else { continue };
            if line.number > self.most {
                let most = self.most;
                let fault = Diagnostic::error(
                    Code::TooManyLines,
                    format!("{most} lines are taken at most"),
                )
                .hint("send the rest as another batch");
                return Some(self.end_with(line.number, fault));
            }
            if !line.is_blank() {
                return Some(line);
            }
        }
        None
    }

    fn cut_short(&mut self) -> RawLine {
        let fault = Diagnostic::error(Code::CutShort, "the rest of the batch did not come");
        self.end_with(self.splitter.number(), fault)
    }

    /// The last that is said; what may still come is not waited for.
    fn end_with(&mut self, number: u64, fault: Diagnostic) -> RawLine {
        self.ended = true;
        self.part = Bytes::new();
        self.body = Box::pin(stream::empty());
        RawLine { number, text: Err(fault) }
    }
}
