//! Wiring only: everything is in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::run(web::serve)
}
