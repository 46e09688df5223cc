//! `oddments shop`.

use super::Done;
use super::args::ShopArgs;
use super::output::Output;
use super::plan::Search;
use app::{ShopRequest, money_to_spend};
use knit::gift_plan::ShoppingFor;

pub(super) fn shop(args: &ShopArgs, output: &mut Output) -> Done {
    let wanted = args.money.map_or(Ok(ShoppingFor::Gifts(args.from_priority)), money_to_spend)?;
    let search = Search::begin(&args.search, output)?;
    let request = ShopRequest { plan: search.request(), wanted, sparing: args.by };
    let list = output.busy("looking for the least to buy", || {
        app::shop(&request, &search.settings, &mut |_| {})
    })?;
    let faults = report::plan_words::diagnostics(&list.plan);
    output.diagnostics(&faults);
    output.result(args.rows.output.as_deref(), &report::shopping_page(&list, args.rows.format))?;
    Ok(!faults.has_errors())
}
