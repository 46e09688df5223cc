use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Asks a running solver to come to an end with the best it has. Clones share one flag.
#[derive(Clone, Debug, Default)]
pub struct StopFlag(Arc<AtomicBool>);

impl StopFlag {
    /// A flag that is not set, shared with nobody yet.
    pub fn new() -> StopFlag {
        StopFlag::default()
    }

    /// Asks for the end; it can't be taken back.
    pub fn set(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether the end has been asked for.
    pub fn is_set(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}
