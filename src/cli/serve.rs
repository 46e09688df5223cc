//! `oddments serve`.

use std::path::Path;

use super::args::ServeArgs;
use super::output::Output;
use super::{Done, Serve};
use app::{Listening, Serving, Workspace, init_workspace};
use diag::Diagnostics;

pub(super) fn serve(args: &ServeArgs, serve: Serve, output: &mut Output) -> Done {
    let mut order = Serving::from(args);
    match &args.new {
        Some(folder) => make_once(folder, output)?,
        None if args.bench.workspace.is_none() => offer(&mut order, output)?,
        None => {}
    }
    let shows_code = args.qr || output.is_terminal();
    let say = |found: &Listening| {
        // A reader of standard output that went away doesn't stop the server.
        let _ = output.result(None, &found.told);
        let phone = found.elsewhere.as_ref().filter(|_| shows_code);
        if let Some(code) = phone.and_then(|address| report::qr_text(address).ok()) {
            let _ = output.result(None, &format!("For the camera of a phone:\n\n{code}\n"));
        }
        // Where there is no browser the address is printed all the same.
        if args.open && open::that_detached(&found.here).is_err() {
            output.note("no browser could be opened: type the address into one");
        }
    };
    serve(&order, &say)?;
    Ok(true)
}

/// Makes a workspace in the folder, unless it is one.
fn make_once(folder: &Path, output: &Output) -> Result<(), Diagnostics> {
    if Workspace::folder(Some(folder)).is_err() {
        init_workspace(folder, false)?;
        output.note(&format!("{} is a workspace now", folder.display()));
    }
    Ok(())
}

/// The folder that is offered for a new workspace.
const OFFERED: &str = "knitting";

/// Where there is no workspace, offers to make one: to a person at a terminal, who may say no. Once made it is
/// taken again the next time.
fn offer(order: &mut Serving, output: &Output) -> Result<(), Diagnostics> {
    if Workspace::find(None)?.is_some() || !output.is_terminal() {
        return Ok(());
    }
    let folder = Path::new(OFFERED);
    let question = format!("There is no workspace here. Make one in the folder {OFFERED}?");
    if Workspace::folder(Some(folder)).is_ok() {
        output.note(&format!("The workspace in the folder {OFFERED} is served"));
    } else if output.agreed(&question) {
        make_once(folder, output)?;
    } else {
        return Ok(());
    }
    order.workspace = Some(folder.to_owned());
    Ok(())
}
