use std::io::{self, IsTerminal, Write};
use std::path::Path;

use crate::diag::{self, Diagnostic, Diagnostics};
use crate::store;

/// Where results and diagnostics go.
pub(super) struct Output {
    colour: bool,
}

impl Output {
    pub fn new() -> Self {
        Output { colour: io::stderr().is_terminal() && !no_colour() }
    }

    /// Writes a result to the file, or to standard output. A reader that went away (`| head`) is
    /// not a fault.
    pub fn result(&self, file: Option<&Path>, text: &str) -> Result<(), Diagnostics> {
        self.bytes(file, diag::harmless(text).as_bytes())
    }

    /// The same for what is not text.
    pub fn bytes(&self, file: Option<&Path>, bytes: &[u8]) -> Result<(), Diagnostics> {
        if let Some(path) = file {
            return Ok(store::write_output(path, bytes)?);
        }
        let mut out = io::stdout().lock();
        match out.write_all(bytes).and_then(|()| out.flush()) {
            Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
                Err(Diagnostic::error("write", format!("can't write the result: {error}"))
                    .hint("is the disk full?")
                    .into())
            }
            _ => Ok(()),
        }
    }

    /// For results that come one by one.
    pub fn stream(&self) -> impl Write + use<> {
        io::stdout()
    }

    /// Whether results go to a terminal.
    pub fn is_terminal(&self) -> bool {
        io::stdout().is_terminal()
    }

    /// A line for people beside the result.
    pub fn note(&self, text: &str) {
        let _ = writeln!(io::stderr().lock(), "{}", diag::harmless(text));
    }

    pub fn diagnostics(&self, diagnostics: &Diagnostics) {
        let mut err = io::stderr().lock();
        for diagnostic in diagnostics.iter() {
            // Nothing is left to do when even the complaint can't be written.
            let _ = writeln!(err, "{}\n", diag::render(diagnostic, self.colour));
        }
    }
}

/// The NO_COLOR convention.
#[allow(clippy::disallowed_methods, reason = "a terminal's look may depend on the environment")]
fn no_colour() -> bool {
    std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty())
}
