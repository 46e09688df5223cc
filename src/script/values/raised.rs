use std::fmt;

use diag::Diagnostic;

/// Diagnostics on their way through the machine as an error value.
#[derive(Debug)]
pub(crate) struct Raised(pub Vec<Diagnostic>);

impl fmt::Display for Raised {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, fault) in self.0.iter().enumerate() {
            write!(f, "{}{fault}", if at > 0 { "; " } else { "" })?;
        }
        Ok(())
    }
}

impl std::error::Error for Raised {}

pub(crate) fn raise(faults: Vec<Diagnostic>) -> mlua::Error {
    mlua::Error::external(Raised(faults))
}

pub(crate) fn raise_one(fault: Diagnostic) -> mlua::Error {
    raise(vec![fault])
}
