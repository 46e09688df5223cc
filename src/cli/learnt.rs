//! `oddments learnt`.

use super::Done;
use super::args::LearntArgs;
use super::output::Output;
use app::{WorkbenchSources, Workspace};
use report::drawing;

pub(super) fn learnt(args: &LearntArgs, output: &mut Output) -> Done {
    let open = Workspace::require(args.workspace.workspace.as_deref())?;
    output.diagnostics(&open.warnings);
    let bench = open.bench(&WorkbenchSources::default())?;
    output.diagnostics(&bench.warnings);
    let taught = output.busy("knitting every finished piece again", || open.taught(&bench));
    let text = match args.format.rows() {
        None => drawing::weighed_picture(&taught).svg(),
        Some(format) => report::learnt_page(&taught, format),
    };
    output.result(args.output.as_deref(), &text)?;
    Ok(true)
}
