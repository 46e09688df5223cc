use std::time::Duration;

/// A source over this many bytes is refused before it is compiled: compilation runs outside the
/// other limits.
pub const MOST_SOURCE_BYTES: usize = 256 * 1024;

/// How far a script may go in one call.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Running time of one call, modules included.
    pub deadline: Duration,
    /// Bytes a call may have in use beyond what an empty machine takes. The default has room for
    /// 100,000 steps held at once (tested), far more than a garment with folded repeats has.
    pub memory: usize,
    /// Steps in a returned program, and steps it unfolds to.
    pub steps: usize,
    /// Passes of the carriage a program unfolds to.
    pub passes: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Limits {
            deadline: Duration::from_millis(200),
            memory: 64 << 20,
            steps: 1_000_000,
            passes: 1_000_000,
        }
    }
}
