//! Wiring only: everything is in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    oddments::cli::run(oddments::web::serve)
}
