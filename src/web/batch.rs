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
use tokio::sync::OwnedSemaphorePermit;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::problem::{Answer, Problem, Refusals};
use super::state::State;
use app::Ask;
use app::{BatchLine, LineNumbers, LineSplitter, RawLine};
use diag::{Code, Diagnostic, Diagnostics};

/// How long a client may leave a line unfinished.
const PATIENCE: Duration = Duration::from_secs(30);

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
    let lines = lines(request.into_body(), state.bounds.batch_line, state.bounds.batch_lines);
    // As many waiting as are worked on: the workers never want for work.
    let window = state.bounds.gradings * 2;
    let answers = lines
        .map(move |line| answer(state.clone(), line))
        .buffered(window)
        .map(move |bytes| with_permit(&permit, bytes));
    let kind = HeaderValue::from_static("application/x-ndjson");
    Ok(([(header::CONTENT_TYPE, kind)], Body::from_stream(answers)).into_response())
}

/// The permit is kept as long as the stream it is part of.
fn with_permit(_: &OwnedSemaphorePermit, bytes: Bytes) -> Result<Bytes, std::io::Error> {
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
    ended: bool,
}

/// The lines of a body, each no longer than `longest`, blank ones left out but counted. Holds one
/// line and one part of the body.
fn lines(body: Body, longest: usize, most: usize) -> impl Stream<Item = RawLine> + Send {
    let lines = Lines {
        body: Box::pin(body.into_data_stream()),
        part: Bytes::new(),
        splitter: LineSplitter::new(longest, 1),
        most: most as u64,
        ended: false,
    };
    stream::unfold(lines, async move |mut lines| {
        let line = lines.next_worded().await?;
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
                None => match tokio::time::timeout(PATIENCE, self.body.next()).await {
                    Ok(Some(Ok(part))) => {
                        self.part = part;
                        None
                    }
                    Ok(None) => {
                        self.ended = true;
                        self.splitter.rest()
                    }
                    // The client is gone or asleep: tell it, should it still listen.
                    Ok(Some(Err(_))) | Err(_) => {
                        let fault =
                            Diagnostic::error(Code::CutShort, "the rest of the batch did not come");
                        return Some(self.end_with(self.splitter.number(), fault));
                    }
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

    /// The last that is said; what may still come is not waited for.
    fn end_with(&mut self, number: u64, fault: Diagnostic) -> RawLine {
        self.ended = true;
        self.part = Bytes::new();
        self.body = Box::pin(stream::empty());
        RawLine { number, text: Err(fault) }
    }
}
