//! Wrong tokens, by the address they came from: whoever guesses waits before the next guess is even
//! looked at. Nobody else is touched by it.

use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use axum::http::StatusCode;

use super::peer::Peer;
use super::problem::Problem;
use diag::{Code, Diagnostic};

/// Wrong tokens that cost nothing: people mistype.
const FREE: u32 = 5;
const LONGEST: Duration = Duration::from_secs(10);
/// Guesses of one address that wait for their turn; more are not looked at.
const WAITING: usize = 2;
/// How long an address is remembered after its last wrong token, and how many are.
const MEMORY: Duration = Duration::from_secs(15 * 60);
const MOST: usize = 1_024;

#[derive(Debug, Default)]
pub struct Guesses(Mutex<Known>);

/// The addresses from which wrong tokens came; without one, all who come without an address.
#[derive(Debug, Default)]
struct Known(BTreeMap<Option<Peer>, Guesser>);

#[derive(Debug)]
struct Guesser {
    wrong: u32,
    waiting: usize,
    last: Instant,
    /// Nothing is looked at before.
    next: Instant,
}

/// One that waits, until it is dropped: a visitor may hang up meanwhile.
struct Waiting<'a>(&'a Guesses, Option<Peer>);

impl Guesses {
    /// Whether a token is right, told after the wait that its address has earned.
    ///
    /// # Errors
    /// Too many from there wait already.
    pub async fn look(
        &self,
        peer: Option<Peer>,
        is_right: impl Fn() -> bool,
    ) -> Result<bool, Problem> {
        let wait = {
            let mut known = self.known();
            match known.wait(peer, now())? {
                Some(wait) => wait,
                // Counted in the same step: those who come at once are counted one by one.
                None => return Ok(known.looked_at(peer, is_right(), now())),
            }
        };
        let waiting = Waiting(self, peer);
        tokio::time::sleep(wait).await;
        drop(waiting);
        Ok(self.known().looked_at(peer, is_right(), now()))
    }

    fn known(&self) -> MutexGuard<'_, Known> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Waiting<'_> {
    fn drop(&mut self) {
        if let Some(guesser) = self.0.known().0.get_mut(&self.1) {
            guesser.waiting = guesser.waiting.saturating_sub(1);
        }
    }
}

impl Known {
    /// How long the next guess of an address waits, which is then counted as waiting.
    fn wait(&mut self, peer: Option<Peer>, now: Instant) -> Result<Option<Duration>, Problem> {
        let Some(guesser) = self.0.get_mut(&peer) else { return Ok(None) };
        if guesser.waiting == 0 && now.saturating_duration_since(guesser.last) > MEMORY {
            self.0.remove(&peer);
            return Ok(None);
        }
        let begins = guesser.next.max(now);
        if guesser.waiting == 0 && begins == now {
            return Ok(None);
        }
        let wait = begins - now;
        if guesser.waiting >= WAITING {
            return Err(too_many(wait));
        }
        guesser.waiting += 1;
        guesser.next = begins + wait_after(guesser.wrong);
        Ok(Some(wait))
    }

    fn looked_at(&mut self, peer: Option<Peer>, right: bool, now: Instant) -> bool {
        if right {
            // Whoever waits still is counted anew.
            self.0.remove(&peer);
            return true;
        }
        if !self.0.contains_key(&peer) {
            self.make_room(now);
        }
        let new = Guesser { wrong: 0, waiting: 0, last: now, next: now };
        let guesser = self.0.entry(peer).or_insert(new);
        guesser.wrong = guesser.wrong.saturating_add(1);
        guesser.last = now;
        guesser.next = guesser.next.max(now + wait_after(guesser.wrong));
        false
    }

    /// Forgets those who are quiet, and where all guess, the one who has been quiet for longest.
    fn make_room(&mut self, now: Instant) {
        if self.0.len() < MOST {
            return;
        }
        self.0.retain(|_, guesser| now.saturating_duration_since(guesser.last) <= MEMORY);
        let oldest = self.0.iter().min_by_key(|(_, guesser)| guesser.last).map(|(peer, _)| *peer);
        if let Some(oldest) = oldest.filter(|_| self.0.len() >= MOST) {
            self.0.remove(&oldest);
        }
    }
}

/// Doubles with each wrong token, up to the longest.
fn wait_after(wrong: u32) -> Duration {
    match wrong.checked_sub(FREE) {
        None => Duration::ZERO,
        Some(more) => (Duration::from_millis(500) * (1 << more.min(5))).min(LONGEST),
    }
}

fn too_many(wait: Duration) -> Problem {
    let fault = Diagnostic::error(Code::Guesses, "too many wrong tokens came from this address")
        .hint("wait a little, then send the token that the program printed when it was started");
    let seconds = u32::try_from(wait.as_secs()).unwrap_or(0) + 1;
    let mut problem = Problem::new(StatusCode::TOO_MANY_REQUESTS, fault);
    problem.retry_after = Some(seconds);
    problem
}

#[allow(clippy::disallowed_methods, reason = "whoever guesses has to wait")]
fn now() -> Instant {
    Instant::now()
}

#[cfg(test)]
mod tests {
    use std::net::IpAddr;

    use super::*;

    fn peer(number: u32) -> Option<Peer> {
        Some(Peer::from(IpAddr::from(number.to_be_bytes())))
    }

    #[test]
    fn the_wait_grows_to_its_longest() {
        let waits: Vec<u128> = (0..12).map(|wrong| wait_after(wrong).as_millis()).collect();
        assert_eq!(waits, [0, 0, 0, 0, 0, 500, 1000, 2000, 4000, 8000, 10000, 10000]);
        assert_eq!(wait_after(u32::MAX), LONGEST);
    }

    #[test]
    fn guesses_are_looked_at_one_after_the_other_and_only_a_few_wait() {
        let (mut known, begun) = (Known::default(), now());
        for _ in 0..FREE {
            assert_eq!(known.wait(peer(1), begun).expect("looked at"), None);
            assert!(!known.looked_at(peer(1), false, begun));
        }
        let half = Duration::from_millis(500);
        assert_eq!(known.wait(peer(1), begun).expect("waits"), Some(half));
        assert_eq!(known.wait(peer(1), begun).expect("waits"), Some(2 * half));
        let refused = known.wait(peer(1), begun).expect_err("too many");
        assert_eq!(refused.status, StatusCode::TOO_MANY_REQUESTS);
        assert_eq!(refused.retry_after, Some(2));
        // Another address, and those without one, are not touched.
        assert_eq!(known.wait(peer(2), begun).expect("looked at"), None);
        assert_eq!(known.wait(None, begun).expect("looked at"), None);
    }

    #[test]
    fn the_right_token_and_time_are_forgiving() {
        let (mut known, begun) = (Known::default(), now());
        for _ in 0..20 {
            known.looked_at(peer(1), false, begun);
            known.looked_at(peer(2), false, begun);
        }
        assert!(known.looked_at(peer(1), true, begun));
        assert_eq!(known.wait(peer(1), begun).expect("looked at"), None);
        assert_eq!(known.wait(peer(2), begun + MEMORY * 2).expect("looked at"), None);
    }

    #[test]
    fn no_more_addresses_are_remembered_than_there_is_room_for() {
        let (mut known, begun) = (Known::default(), now());
        for number in 0..3_000 {
            known.looked_at(peer(number), false, begun + Duration::from_millis(number.into()));
        }
        assert_eq!(known.0.len(), MOST);
        assert!(known.0.contains_key(&peer(2_999)) && !known.0.contains_key(&peer(0)));
    }
}
