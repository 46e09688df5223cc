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

use super::ask::Ask;
use super::problem::{Answer, Problem, Refusals};
use super::state::State;
use crate::app::BatchLine;
use crate::diag::{Diagnostic, Diagnostics};
use crate::report;

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
    let fault = Diagnostic::error("content-type", "a batch is sent as JSON Lines")
        .hint("send it with Content-Type: application/x-ndjson");
    Err(Problem::new(axum::http::StatusCode::UNSUPPORTED_MEDIA_TYPE, fault))
}

struct Line {
    number: u64,
    text: Result<Vec<u8>, Diagnostic>,
}

async fn answer(state: State, line: Line) -> Bytes {
    let _under_way = state.metrics.begin_batch_line();
    let number = line.number;
    let answer = match line.text.map(|text| BatchLine::read(&text)) {
        Ok(BatchLine { id, ask: Ok(ask) }) => graded(&state, number, id, ask).await,
        Ok(BatchLine { id, ask: Err(fault) }) => failed(number, &id, &fault.into()),
        Err(fault) => failed(number, &Value::Null, &fault.into()),
    };
    answer.into()
}

async fn graded(state: &State, number: u64, id: Value, ask: Ask) -> String {
    loop {
        let own = id.clone();
        let outcome = state.graded(ask.clone(), move |_, _, graded| {
            Ok(report::batch_answer(number, &own, Ok(&graded.run)))
        });
        match outcome.await {
            Ok(answer) => return answer,
            // A batch waits its turn for as long as it takes.
            Err(problem) if problem.retry_after.is_some() => {}
            Err(problem) => return failed(number, &id, &problem.faults),
        }
    }
}

fn failed(number: u64, id: &Value, faults: &Diagnostics) -> String {
    report::batch_answer(number, id, Err(faults))
}

struct Splitter {
    body: Pin<Box<dyn Stream<Item = Result<Bytes, axum::Error>> + Send>>,
    buffer: Vec<u8>,
    /// Bytes of the buffer already looked through.
    seen: usize,
    /// In the middle of a line that is too long.
    skipping: bool,
    number: u64,
    ended: bool,
}

/// The lines of a body, each no longer than `longest`. Holds one line and one chunk of the body.
fn lines(body: Body, longest: usize, most: usize) -> impl Stream<Item = Line> + Send {
    let splitter = Splitter {
        body: Box::pin(body.into_data_stream()),
        buffer: Vec::new(),
        seen: 0,
        skipping: false,
        number: 0,
        ended: false,
    };
    stream::unfold(splitter, move |mut splitter| async move {
        let line = splitter.next(longest, most).await?;
        Some((line, splitter))
    })
}

impl Splitter {
    async fn next(&mut self, longest: usize, most: usize) -> Option<Line> {
        loop {
            if let Some(end) = self.buffer[self.seen..].iter().position(|b| *b == b'\n') {
                let rest = self.buffer.split_off(self.seen + end + 1);
                let mut line = std::mem::replace(&mut self.buffer, rest);
                line.pop();
                self.seen = 0;
                if let Some(line) = self.whole(line, longest, most) {
                    return Some(line);
                }
                continue;
            }
            self.seen = self.buffer.len();
            if self.buffer.len() > longest {
                // Let go of what can't become a line; what follows it up to the end of the line too.
                self.buffer.clear();
                self.seen = 0;
                self.skipping = true;
            }
            if self.ended {
                let last = std::mem::take(&mut self.buffer);
                self.seen = 0;
                if last.is_empty() && !self.skipping {
                    return None;
                }
                return self.whole(last, longest, most);
            }
            match tokio::time::timeout(PATIENCE, self.body.next()).await {
                Ok(Some(Ok(chunk))) => self.buffer.extend_from_slice(&chunk),
                Ok(None) => self.ended = true,
                Ok(Some(Err(_))) | Err(_) => {
                    // The client is gone or asleep: tell it, should it still listen.
                    self.ended = true;
                    self.skipping = false;
                    self.buffer.clear();
                    self.number += 1;
                    let fault =
                        Diagnostic::error("cut-short", "the rest of the batch did not come");
                    return Some(Line { number: self.number, text: Err(fault) });
                }
            }
        }
    }

    /// A line, unless it is blank.
    fn whole(&mut self, line: Vec<u8>, longest: usize, most: usize) -> Option<Line> {
        self.number += 1;
        let too_long = std::mem::take(&mut self.skipping) || line.len() > longest;
        let number = self.number;
        if number > most as u64 {
            self.ended = true;
            self.buffer.clear();
            self.body = Box::pin(stream::empty());
            let fault =
                Diagnostic::error("too-many-lines", format!("{most} lines are taken at most"))
                    .hint("send the rest as another batch");
            return Some(Line { number, text: Err(fault) });
        }
        if too_long {
            return Some(Line { number, text: Err(BatchLine::too_long(longest)) });
        }
        let blank = line.iter().all(u8::is_ascii_whitespace);
        (!blank).then_some(Line { number, text: Ok(line) })
    }
}
