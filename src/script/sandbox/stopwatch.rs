#![allow(clippy::disallowed_methods, reason = "a deadline needs a clock")]

use std::time::{Duration, Instant};

/// How many times its deadline a call may take by the wall clock: on a machine that is busy with
/// other things it gets little of a processor, and still ends.
const WALL_TIMES: u32 = 20;

/// How long a call has run: by this thread's share of the processor, so that no good garment is
/// refused because the machine is busy. For limits only: no result depends on it but whether there
/// is one.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stopwatch {
    wall: Instant,
    busy: Option<Duration>,
}

impl Stopwatch {
    pub fn start() -> Stopwatch {
        Stopwatch { wall: Instant::now(), busy: busy() }
    }

    /// Whether a call on this thread is past its deadline.
    pub fn is_past(&self, deadline: Duration) -> bool {
        // The processor's time never runs ahead of the wall's, which is cheaper to ask.
        let wall = self.wall.elapsed();
        wall > deadline
            && (wall > deadline * WALL_TIMES
                || self.busy.zip(busy()).is_none_or(|(before, now)| now - before > deadline))
    }
}

/// What this thread has had of the processor; nothing where the system doesn't tell.
#[cfg(unix)]
fn busy() -> Option<Duration> {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    Duration::try_from(time).ok()
}

#[cfg(not(unix))]
fn busy() -> Option<Duration> {
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEADLINE: Duration = Duration::from_millis(20);

    #[test]
    fn work_is_counted() {
        let watch = Stopwatch::start();
        let mut turns = 0u64;
        while !watch.is_past(DEADLINE) {
            turns = std::hint::black_box(turns + 1);
        }
        assert!(turns > 0);
    }

    /// Asleep for twice the deadline, as where others have the processor.
    #[cfg(unix)]
    #[test]
    fn waiting_is_not() {
        let watch = Stopwatch::start();
        std::thread::sleep(DEADLINE * 2);
        assert!(!watch.is_past(DEADLINE));
        std::thread::sleep(DEADLINE * WALL_TIMES);
        assert!(watch.is_past(DEADLINE), "no end by the wall clock");
    }
}
