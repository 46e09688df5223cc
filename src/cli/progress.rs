//! What shows on a terminal that long work goes on. Nothing here decides whether there is one.

use std::fmt;
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

/// Work done sooner than this shows nothing: a line that only flashes disturbs.
const PATIENCE: Duration = Duration::from_millis(300);
const TICK: Duration = Duration::from_millis(120);

/// A line that moves until it is dropped.
pub(super) struct Busy {
    running: Option<(Sender<()>, JoinHandle<()>)>,
}

impl Busy {
    pub fn new(what: &str) -> Busy {
        let (stop, stopped) = mpsc::channel::<()>();
        let what = what.to_owned();
        let shown = thread::spawn(move || {
            let goes_on = |time| stopped.recv_timeout(time) == Err(RecvTimeoutError::Timeout);
            if !goes_on(PATIENCE) {
                return;
            }
            let line = ProgressBar::new_spinner().with_message(what);
            while goes_on(TICK) {
                line.tick();
            }
            line.finish_and_clear();
        });
        Busy { running: Some((stop, shown)) }
    }
}

impl Drop for Busy {
    fn drop(&mut self) {
        if let Some((stop, shown)) = self.running.take() {
            drop(stop);
            // The line must be gone before anything else is written; a line that failed is gone.
            let _ = shown.join();
        }
    }
}

/// A bar of how much is done, until it is dropped.
#[derive(Default)]
pub(super) struct Share {
    bar: Option<ProgressBar>,
}

impl Share {
    pub fn new(what: &str, whole: u64) -> Share {
        let style = ProgressStyle::with_template("{bar:24} {percent:>3} % {wide_msg}")
            .expect("a sound template");
        let bar = ProgressBar::new(whole).with_style(style).with_message(what.to_owned());
        bar.enable_steady_tick(TICK);
        Share { bar: Some(bar) }
    }

    /// So much is done, and this is how it stands.
    pub fn at(&self, done: u64, stands: fmt::Arguments<'_>) {
        if let Some(bar) = &self.bar {
            bar.set_position(done);
            bar.set_message(stands.to_string());
        }
    }
}

impl Drop for Share {
    fn drop(&mut self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}
