//! `oddments plan` and `oddments record`.

use super::args::{PlanArgs, RecordArgs, SearchArgs, SureOf};
use super::output::Output;
use super::shared_args::options;
use super::{Done, interrupt};
use app::{
    self, COUNTED, CountedPiece, PieceAsk, Places, PlanRequest, RecordRequest, Workbench,
    WorkbenchSources, Workspace, WorkspaceEdit, plan_gifts,
};
use diag::{Code, Diagnostic, Diagnostics};
use knit::stash::{Date, Sure};
use plan::{SolveSettings, StopFlag};
use store::workspace::{self, parse_date};

/// A workspace opened for a search, and how long to look. Ctrl-C ends it with the best so far.
pub(super) struct Search {
    open: Workspace,
    bench: Workbench,
    places: Places,
    today: Date,
    again: bool,
    pub settings: SolveSettings,
}

impl Search {
    pub fn begin(args: &SearchArgs, output: &mut Output) -> Result<Search, Diagnostics> {
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
        Ok(Search { open, bench, places, today, again: args.again, settings })
    }

    /// The usual aim, and nothing explained.
    pub fn request(&self) -> PlanRequest<'_> {
        PlanRequest {
            bench: &self.bench,
            contents: &self.open.contents,
            learning: self.open.learning(&self.bench),
            places: &self.places,
            number: self.open.state.number,
            today: self.today,
            again: self.again,
            aim: None,
            explain: false,
        }
    }
}

pub(super) fn plan(args: &PlanArgs, output: &mut Output) -> Done {
    let search = Search::begin(&args.search, output)?;
    let Search { open, settings, .. } = &search;
    let request = PlanRequest { aim: args.aim, explain: args.explain, ..search.request() };
    let bar = output.share("grading every gift in every yarn", settings.work_limit);
    let plan = plan_gifts(&request, settings, &mut |progress| {
        bar.at(
            progress.work,
            format_args!(
                "{} points, at most {} (Ctrl-C: enough)",
                progress.objective, progress.bound
            ),
        );
    });
    drop(bar);
    let plan = plan?;
    let faults = report::plan_words::diagnostics(&plan);
    output.diagnostics(&faults);
    let text = report::plan_page(&plan, args.rows.format);
    output.result(args.rows.output.as_deref(), &text)?;
    if args.accept {
        // Whoever stops a search has not said yes to what it found.
        if settings.stop.is_set() && !output.agreed("Keep the best so far?") {
            output.note("stopped: no yarn was set aside; `oddments plan --accept` looks again");
            return Ok(false);
        }
        let mut edit = WorkspaceEdit::open(args.search.workspace.workspace.as_deref())?;
        let accepted = app::accept(&mut edit, open, &plan, args.search.again)?;
        output.diagnostics(&edit.warnings);
        output.note(&if edit.written {
            format!(
                "accepted: yarn is set aside for {accepted} gifts in plan.toml; `oddments undo` takes it back"
            )
        } else {
            "there is no yarn to set aside: nothing is written".to_owned()
        });
    }
    Ok(!faults.has_errors())
}

pub(super) fn day(text: &str) -> Result<Date, Diagnostic> {
    parse_date(text).ok_or_else(|| {
        Diagnostic::error(Code::Date, format!("`{text}` is no day"))
            .hint("write it like 2026-12-01: year, month, day")
    })
}

pub(super) fn record(args: &RecordArgs, output: &mut Output) -> Done {
    let mut faults = Diagnostics::new();
    let mut used = Vec::new();
    for text in &args.used {
        match app::weighing(text) {
            Ok(weighed) => used.push(weighed),
            Err(fault) => faults.push(fault),
        }
    }
    let options = options(&args.set, &args.fix, &args.in_turn).unwrap_or_else(|found| {
        faults.extend(found);
        Vec::new()
    });
    faults.into_result(())?;
    let minutes = args.minutes.as_ref().map(|text| minutes(args, text, &options, output));
    let mut edit = WorkspaceEdit::open(args.workspace.workspace.as_deref())?;
    let request = RecordRequest {
        garment: args.garment.clone(),
        size: args.size.clone(),
        minutes: minutes.transpose()?,
        options,
        used,
        gift: args.gift.clone(),
        note: args.note.clone(),
        sure: args.sure.map_or_else(Sure::default, |of| match of {
            SureOf::All => Sure::ALL,
            SureOf::Grams => Sure { grams: true, minutes: false },
            SureOf::Minutes => Sure { grams: false, minutes: true },
        }),
        piece: args.piece.as_deref().map_or_else(PieceAsk::default, PieceAsk::typed),
        date: args.date.as_deref().map(day).transpose()?,
        today: workspace::today(),
    };
    // What it took is said first, and written only when it could be said.
    let told = output.busy("knitting it again to learn from what it took", || {
        app::record_look(&mut edit, &request)
    })?;
    output.diagnostics(&edit.warnings);
    output.result(None, &report::record_page(&told))?;
    if args.look {
        output.note("nothing is written: leave out --look to record it");
        return Ok(true);
    }
    let mut edit = WorkspaceEdit::open(args.workspace.workspace.as_deref())?;
    output.busy("writing it down", || app::record_as_told(&mut edit, &request, &told))?;
    Ok(true)
}

/// The minutes named, or those that were counted at the machine.
fn minutes(
    args: &RecordArgs,
    text: &str,
    options: &[(String, String)],
    output: &mut Output,
) -> Result<f64, Diagnostics> {
    let open = Workspace::require(args.workspace.workspace.as_deref())?;
    let places = Places::open(Some(open.folder.path("")))?;
    output.diagnostics(&places.warnings);
    let piece = CountedPiece { garment: &args.garment, size: &args.size, options };
    let minutes = piece.minutes(text, &open.contents, &places)?;
    if text.trim() == COUNTED {
        output.note(&format!("counted at the machine: {minutes:.0} min, pauses left out"));
    }
    Ok(minutes)
}
