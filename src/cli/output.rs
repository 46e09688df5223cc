use std::ffi::OsString;
use std::io::{self, BufRead, IsTerminal, Read, Write};
use std::path::Path;

use clap::ColorChoice;

use super::progress::{Busy, Share};
use diag::{self, Code, Diagnostic, Diagnostics};

/// Where results and diagnostics go.
pub(super) struct Output {
    colour: bool,
}

impl Output {
    pub fn new(colour: ColorChoice) -> Self {
        Output {
            colour: match colour {
                ColorChoice::Always => true,
                ColorChoice::Never => false,
                ColorChoice::Auto => moving() && !no_colour(),
            },
        }
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
                Err(Diagnostic::error(Code::Write, format!("can't write the result: {error}"))
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

    /// Asks the person at the terminal. Where there is none, nobody has agreed.
    pub fn agreed(&self, question: &str) -> bool {
        io::stdin().is_terminal()
            && io::stderr().is_terminal()
            && says_yes(question, &mut io::stdin().lock(), &mut io::stderr())
    }

    /// Does the work, and shows on a terminal that it goes on.
    pub fn busy<T>(&self, what: &str, work: impl FnOnce() -> T) -> T {
        let _shown = moving().then(|| Busy::new(what));
        work()
    }

    /// Shows how much of the work is done. On a terminal only.
    pub fn share(&self, what: &str, whole: u64) -> Share {
        if moving() { Share::new(what, whole) } else { Share::default() }
    }

    pub fn diagnostics(&self, diagnostics: &Diagnostics) {
        let mut err = io::stderr().lock();
        for diagnostic in diagnostics.iter() {
            // Nothing is left to do when even the complaint can't be written.
            let _ = writeln!(err, "{}\n", diag::render(diagnostic, self.colour));
        }
    }
}

/// Asks and reads an answer; all but a clear yes is a no.
fn says_yes(question: &str, from: &mut impl BufRead, to: &mut impl Write) -> bool {
    let mut answer = String::new();
    let asked = write!(to, "{question} [y/N] ").and_then(|()| to.flush());
    let heard = asked.and_then(|()| from.take(LONGEST_ANSWER).read_line(&mut answer));
    heard.is_ok() && matches!(answer.trim().to_lowercase().as_str(), "y" | "yes")
}

/// Bytes of an answer that are read.
const LONGEST_ANSWER: u64 = 100;

/// Whether diagnostics go to a terminal that can do more than print line after line.
fn moving() -> bool {
    io::stderr().is_terminal() && !set_to("TERM", |term| term == "dumb")
}

/// The NO_COLOR convention.
fn no_colour() -> bool {
    set_to("NO_COLOR", |value| !value.is_empty())
}

#[allow(clippy::disallowed_methods, reason = "a terminal's look may depend on the environment")]
fn set_to(name: &str, to: impl FnOnce(&OsString) -> bool) -> bool {
    std::env::var_os(name).is_some_and(|value| to(&value))
}

/// What `--color` asks for, read before the arguments are: their own faults have colours too.
pub(super) fn asked_colour(given: &[OsString]) -> ColorChoice {
    let word = |text: &str| text.parse::<ColorChoice>().ok();
    let mut given = given.iter().map(|argument| argument.to_string_lossy());
    let mut asked = ColorChoice::Auto;
    while let Some(argument) = given.next() {
        match (argument.as_ref(), argument.strip_prefix("--color=")) {
            ("--", _) => break,
            ("--color", _) => asked = given.next().and_then(|a| word(&a)).unwrap_or(asked),
            (_, Some(value)) => asked = word(value).unwrap_or(asked),
            _ => {}
        }
    }
    asked
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_clear_yes_is_one() {
        let mut all = Vec::new();
        let mut says = |answer: &[u8]| says_yes("Keep it?", &mut &*answer, &mut all);
        for yes in ["y\n", "Y", "yes\r\n", " YES \n"] {
            assert!(says(yes.as_bytes()), "{yes:?}");
        }
        for no in ["", "\n", "n\n", "no\n", "yes please\n", "\u{0}y\n", "y y\n", "\ny\n"] {
            assert!(!says(no.as_bytes()), "{no:?}");
        }
        assert!(!says(b"\xff\xfe\n"));
        assert!(!says(&[b'y'; 1000]));
        assert!(all.starts_with(b"Keep it? [y/N] Keep it?"));
    }

    #[test]
    fn the_colour_asked_for_is_known_before_the_arguments_are_sound() {
        let cases = [
            ("oddments grad --color never", ColorChoice::Never),
            ("oddments --color=always", ColorChoice::Always),
            ("oddments --color", ColorChoice::Auto),
            ("oddments --color=red", ColorChoice::Auto),
            ("oddments -- --color=always", ColorChoice::Auto),
        ];
        for (line, expected) in cases {
            let given: Vec<OsString> = line.split(' ').map(OsString::from).collect();
            assert_eq!(asked_colour(&given), expected, "{line}");
        }
    }
}
