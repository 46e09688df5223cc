//! The use cases over HTTP: an interface for programs under `/api/v1`, and pages for a phone or a
//! tablet beside the machine. Knows `app` and what is below it, never the command line.
//!
//! What holds here:
//! - Nothing of a request reaches the file system. Garments are looked up among the known ids; a
//!   place's id is sixteen hexadecimal digits or nothing.
//! - Every answer, faults included, carries the headers of `guard`; every fault is a
//!   [`Problem`], as JSON for programs and as a page for people.
//! - Grading is done off the asynchronous threads and so many at a time; whoever comes when there
//!   is no room is asked to come again.
//! - Everything a page needs comes from this program: no other host is ever asked.

mod api;
mod assets;
mod batch;
mod carry_api;
mod carry_pages;
mod chip;
mod connections;
mod entry_fields;
mod entry_form;
mod entry_pages;
mod finish_pages;
mod format;
mod gift_api;
mod gift_forms;
mod gift_pages;
mod gift_part;
mod gift_top;
mod grade_pages;
mod guard;
mod guesses;
mod knit_now;
mod learnt_api;
mod learnt_pages;
mod list_ask;
mod list_view;
mod login;
mod machine_pages;
mod metrics;
mod nav;
mod page_ask;
mod page_form;
mod page_parts;
mod page_words;
mod pages;
mod peer;
mod phone_pages;
mod place_api;
mod plan_api;
mod plan_jobs;
mod plan_pages;
mod plan_view;
mod posted;
mod problem;
mod problem_page;
mod query;
mod reach_api;
mod reach_pages;
mod record_entry;
mod record_pages;
mod reply;
mod rests;
mod round_api;
mod run_view;
mod server;
mod shop_api;
mod shop_pages;
mod stamps;
mod start_pages;
mod state;
mod swatch_pages;
mod technique_pages;
mod visitor;
mod workspace_api;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware::from_fn_with_state;
use utoipa::OpenApi;
use utoipa_axum::router::OpenApiRouter;

pub use problem::Problem;
pub use server::{run, serve};
pub use state::{Bounds, Setup, State};

#[derive(OpenApi)]
#[openapi(
    info(
        title = "oddments",
        description = "Sizes knitted garments for hand-operated flat-bed knitting machines. \
            Faults are problem documents (RFC 9457) with `code`, and `errors` that say what, where \
            and what to do about it.",
        license(name = "MIT")
    ),
    components(schemas(problem::ProblemBody, problem::FaultBody, workspace_api::Kind))
)]
struct ApiDoc;

/// The interface for programs and its description, from the same list.
fn api_parts() -> (Router<State>, utoipa::openapi::OpenApi) {
    OpenApiRouter::with_openapi(ApiDoc::openapi())
        .merge(api::routes())
        .merge(place_api::routes())
        .merge(batch::routes())
        .merge(workspace_api::routes())
        .merge(gift_api::routes())
        .merge(reach_api::routes())
        .merge(round_api::routes())
        .merge(carry_api::routes())
        .merge(learnt_api::routes())
        .merge(plan_api::routes())
        .merge(shop_api::routes())
        .split_for_parts()
}

/// The whole server but for the listener.
pub fn app(state: State) -> Router {
    let (api, _) = api_parts();
    Router::new()
        .merge(api)
        .merge(pages::routes())
        .merge(grade_pages::routes())
        .merge(gift_pages::routes())
        .merge(gift_forms::routes())
        .merge(record_entry::routes())
        .merge(plan_pages::routes())
        .merge(shop_pages::routes())
        .merge(learnt_pages::routes())
        .merge(machine_pages::routes())
        .merge(carry_pages::routes())
        .merge(finish_pages::routes())
        .merge(reach_pages::routes())
        .merge(swatch_pages::routes())
        .merge(entry_pages::routes())
        .merge(start_pages::routes())
        .merge(technique_pages::routes())
        .merge(phone_pages::routes())
        .merge(login::routes())
        .merge(assets::routes())
        .fallback(problem::no_such_page)
        .method_not_allowed_fallback(problem::no_such_method)
        // The guard has read the body, as long as it may be.
        .layer(DefaultBodyLimit::disable())
        .layer(from_fn_with_state(state.clone(), guard::guard))
        .with_state(state)
}

/// The description of the interface as JSON.
pub fn openapi_json() -> String {
    let (_, doc) = api_parts();
    // Plain data: it can't fail to be written down.
    serde_json::to_string_pretty(&doc).unwrap_or_default()
}
