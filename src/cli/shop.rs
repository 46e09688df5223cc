//! `oddments shop`.

use super::args::{ShopArgs, SparingOf};
use super::output::Output;
use super::plan::day;
use super::{Done, interrupt};
use app::{Places, PlanRequest, ShopRequest, WorkbenchSources, Workspace, money_to_spend};
use diag::Diagnostic;
use knit::gift_plan::{ShoppingFor, Sparing};
use plan::{SolveSettings, StopFlag};
use store::workspace;

pub(super) fn shop(args: &ShopArgs, output: &mut Output) -> Done {
    let wanted = wanted(args)?;
    let open = Workspace::require(args.workspace.workspace.as_deref())?;
    output.diagnostics(&open.warnings);
    let today = args.today.as_ref().map_or_else(|| Ok(workspace::today()), |text| day(text))?;
    let bench = open.bench(&WorkbenchSources::default())?;
    output.diagnostics(&bench.warnings);
    let places = Places::open(Some(open.folder.path("")))?;
    output.diagnostics(&places.warnings);
    let stop = StopFlag::new();
    interrupt::sets(stop.clone());
    let settings = SolveSettings {
        seed: args.seed,
        work_limit: args.work * 1000,
        threads: args.threads.into(),
        stop,
    };
    let plan = PlanRequest {
        bench: &bench,
        contents: &open.contents,
        learning: open.learning(&bench),
        places: &places,
        number: open.state.number,
        today,
        again: args.again,
        aim: None,
        explain: false,
    };
    let sparing = match args.by {
        SparingOf::Balls => Sparing::Balls,
        SparingOf::Grams => Sparing::Grams,
        SparingOf::Money => Sparing::Money,
    };
    let request = ShopRequest { plan, wanted, sparing };
    let list = output
        .busy("looking for the least to buy", || app::shop(&request, &settings, &mut |_| {}))?;
    let faults = report::plan_words::diagnostics(&list.plan);
    output.diagnostics(&faults);
    output.result(args.rows.output.as_deref(), &report::shopping_page(&list, args.rows.format))?;
    Ok(!faults.has_errors())
}

fn wanted(args: &ShopArgs) -> Result<ShoppingFor, Diagnostic> {
    args.money.map_or(Ok(ShoppingFor::Gifts(args.from_priority)), money_to_spend)
}
