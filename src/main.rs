//! Wiring only: everything is in the library.

use std::process::ExitCode;

use mimalloc::MiMalloc;

/// The system's allocator scatters what many threads ask for in turn: a server took more with every thousand
/// requests. This one stays where it was after the first few thousand (`benches/memory`).
#[global_allocator]
static ALLOCATOR: MiMalloc = MiMalloc;

fn main() -> ExitCode {
    cli::run(web::serve)
}
