//! `oddments serve`.

use super::args::ServeArgs;
use super::output::Output;
use super::{Done, Serve};

pub(super) fn serve(args: &ServeArgs, serve: Serve, output: &mut Output) -> Done {
    // A reader of standard output that went away doesn't stop the server.
    let say = |text: &str| drop(output.result(None, text));
    serve(&args.into(), &say)?;
    Ok(true)
}
