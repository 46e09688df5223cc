//! What a remnant makes, over HTTP: as the command of the same name tells it.

use axum::extract::{RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use utoipa::IntoParams;
use utoipa::openapi::path::{Parameter, ParameterIn};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::format::{RUN_SHEETS, Sheet, clean, table_format};
use super::problem::{Answer, Problem, Refusals};
use super::query::{QueryKey, nothing_to_ask_for};
use super::reply::tagged;
use super::state::{Shared, State};
use super::workspace_api::known_garment;
use app::{Pairs, ReachAsk, accepted_chance, pairs};
use diag::{Code, Diagnostic, Diagnostics};
use report::Grid;
use script::IN_TURN;
use units::{Mass, UnitError};

pub(super) fn routes() -> OpenApiRouter<State> {
    OpenApiRouter::new().routes(routes!(reach))
}

/// What is asked for, and how the answer is written out.
pub(super) struct ReachAsked {
    reach: ReachAsk,
    sheet: Sheet,
}

fn mass(text: &str) -> Result<Mass, Diagnostic> {
    text.parse().map_err(UnitError::into_diagnostic)
}

/// What the key of a garment's option begins with.
pub(super) const OPTION: &str = "o.";

const REACH_KEYS: [QueryKey<ReachAsked>; 9] = [
    QueryKey::new(
        "weight",
        "What the remnant weighs, like `34 g`; left out: what the garments need.",
        |asked, text| mass(text).map(|weight| asked.reach.weight = Some(weight)),
    ),
    QueryKey::new("remnant", "A remnant of the workspace, in place of a weight.", |asked, id| {
        asked.reach.remnant = Some(id.to_owned());
        Ok(())
    }),
    QueryKey::new("scale_step", "The scale's smallest step; left out: the workspace's, or 1 g.", |asked, text| {
        mass(text).map(|step| asked.reach.scale_step = Some(step))
    }),
    QueryKey::new(
        "risk",
        "The chance of running out that is accepted; left out: the workspace's risk or reserve, or 5 %.",
        |asked: &mut ReachAsked, text| accepted_chance(text).map(|risk| asked.reach.risk = Some(risk)),
    )
    .example("5 %"),
    QueryKey::new(
        "garment",
        "Garments by id, with commas between; left out: all.",
        |asked, ids| {
            asked.reach.garments = ids.split(',').map(|id| id.trim().to_owned()).collect();
            Ok(())
        },
    ),
    QueryKey::new("sizes", "", |asked, sizes| {
        sizes.clone_into(&mut asked.reach.sizes);
        Ok(())
    }),
    QueryKey::new("machine", "A machine profile's id.", |asked, id| {
        asked.reach.machine = Some(id.to_owned());
        Ok(())
    }),
    QueryKey::new("each", "`yes`: a row for every size.", |asked, said| {
        asked.reach.each = said == "yes";
        Ok(())
    }),
    QueryKey::new("format", "", |asked, name| {
        Sheet::parse(name, RUN_SHEETS).map(|sheet| asked.sheet = sheet)
    }),
];

struct ReachQuery;

impl IntoParams for ReachQuery {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        let family = |name, doc| QueryKey::<ReachAsked>::new(name, doc, |_, _| Ok(()));
        let families = [
            family("o.NAME", "An option of the garments, as one would type it."),
            family(
                "in_turn.SECTION",
                "A section from balls in turn, with the rows of each: `4,4`; each ball has a row of its own.",
            ),
        ];
        let mut all = QueryKey::parameters(&REACH_KEYS);
        all.extend(QueryKey::parameters(&families));
        all
    }
}

/// What a remnant makes, or what garments take
#[utoipa::path(get, path = "/api/v1/reach", tag = "grade", params(ReachQuery), responses(
    (status = 200, description = "A row a garment and part", content(
        (serde_json::Value = "application/json"), (String = "text/csv"),
        (String = "text/plain"), (String = "text/markdown"))),
    (status = 304, description = "Not changed since the tag sent"),
    Refusals))]
async fn reach(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let asked = ReachAsked::of(&pairs(&query.unwrap_or_default())?)?;
    let mime = asked.sheet.mime();
    let bytes = state.work(move |shared| asked.answer(shared)).await??;
    Ok(tagged(&headers, mime, bytes))
}

impl ReachAsked {
    pub fn of(pairs: &Pairs) -> Answer<ReachAsked> {
        let mut faults = Diagnostics::new();
        let mut asked = ReachAsked { reach: ReachAsk::default(), sheet: Sheet::Json };
        for (key, value) in pairs {
            let value = value.trim();
            if value.is_empty() {
                continue;
            }
            let done = match QueryKey::find(&REACH_KEYS, key) {
                Some(known) => (known.put)(&mut asked, value),
                None if key.starts_with(OPTION) || key.starts_with(IN_TURN) => {
                    let name = key.strip_prefix(OPTION).unwrap_or(key);
                    asked.reach.options.push((name.to_owned(), value.to_owned()));
                    Ok(())
                }
                None => Err(nothing_to_ask_for(
                    key,
                    "say weight=34 g or remnant=ID, and garment, sizes, machine, risk, each, o.OPTION, in_turn.SECTION",
                )),
            };
            faults.extend(done.err());
        }
        if asked.reach.weight.is_some() && asked.reach.remnant.is_some() {
            faults.push(Diagnostic::error(Code::Usage, "give a weight or a remnant, not both"));
        }
        if asked.reach.is_empty() {
            faults.push(
                Diagnostic::error(Code::Usage, "reach needs a weight or a garment")
                    .hint("weight=34 g tells what a remnant makes, garment=tam what it needs"),
            );
        }
        Ok(faults.into_result(asked)?)
    }

    pub fn grid(&self, shared: &Shared) -> Answer<Grid> {
        let ask = &self.reach;
        for id in &ask.garments {
            known_garment(shared, id)?;
        }
        if ask.remnant.is_some() {
            shared.live().map_err(Problem::of_path)?;
        }
        let (remnant, reach, reserve) = shared.at_desk(|desk| {
            let remnant = desk.remnant(ask)?;
            let reach = ask.of(desk.bench, &remnant)?;
            Ok::<_, Diagnostics>((remnant, reach, ask.reserve(desk.bench)))
        })?;
        let (have, each) = (remnant.have, ask.each || remnant.have.is_none());
        let rows = reach.table(have, reserve, each)?;
        Ok(report::reach_grid(&rows, have, reserve, each))
    }

    fn answer(&self, shared: &Shared) -> Answer<Vec<u8>> {
        Ok(clean(self.grid(shared)?.write(table_format(self.sheet))))
    }
}
