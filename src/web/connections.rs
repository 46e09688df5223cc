//! The room for connections. Every visitor is let in; where the room is full, the one owed least is hung
//! up on. So whoever holds many open pushes out their own, and a new one gets its turn.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::task::AbortHandle;

use super::peer::Peer;

#[derive(Debug)]
pub struct Connections {
    /// Open at most, and from one address.
    most: usize,
    most_of_one: usize,
    /// Servers in front, behind which anybody may be.
    fronts: Vec<Peer>,
    room: Mutex<Room>,
}

#[derive(Debug, Default)]
struct Room {
    held: BTreeMap<u64, Held>,
    /// Those of each address, the one owed least first: whether it is worked on, its turn, its number.
    /// Kept so, since those who come in a crowd must be seen to quickly.
    of_one: BTreeMap<Peer, BTreeSet<(bool, u64, u64)>>,
    /// Counts arrivals and answers: what is owed goes by their order, no clock is needed.
    turn: u64,
}

#[derive(Debug)]
struct Held {
    peer: Peer,
    /// When it came, or was last answered.
    turn: u64,
    /// Requests of visitors being worked on.
    at_work: usize,
    task: Option<AbortHandle>,
}

/// One connection; dropped, it leaves the room.
#[derive(Debug)]
pub struct Connection {
    connections: Arc<Connections>,
    id: u64,
    /// Whether its visitor has shown the token.
    known: AtomicBool,
}

/// A visitor's request is worked on until this is dropped.
#[derive(Debug)]
pub struct AtWork(Arc<Connection>);

impl Connections {
    pub fn new(most: usize, most_of_one: usize, fronts: Vec<Peer>) -> Connections {
        Connections { most, most_of_one, fronts, room: Mutex::default() }
    }

    /// Takes one in, and says whether another was hung up on for it.
    pub fn take_in(self: &Arc<Self>, peer: Peer) -> (Arc<Connection>, bool) {
        let mut room = self.room();
        let turn = room.next_turn();
        room.put(turn, Held { peer, turn, at_work: 0, task: None });
        let of_one = room.of_one.get(&peer).map_or(0, BTreeSet::len);
        let leaves = if of_one > self.most_of_one && !self.fronts.contains(&peer) {
            room.owed_least(turn, Some(peer))
        } else if room.held.len() > self.most {
            room.owed_least(turn, None)
        } else {
            None
        };
        let leaves = leaves.and_then(|id| room.take(id));
        // Ending a task may drop what is in it at once, which takes the lock itself.
        drop(room);
        let (known, connections) = (AtomicBool::new(false), Arc::clone(self));
        let connection = Arc::new(Connection { connections, id: turn, known });
        (connection, hang_up(leaves))
    }

    /// Hangs up on the one owed least, and says whether there was one.
    pub fn make_room(&self) -> bool {
        let mut room = self.room();
        let leaves = room.owed_least(0, None).and_then(|id| room.take(id));
        drop(room);
        hang_up(leaves)
    }

    fn room(&self) -> MutexGuard<'_, Room> {
        self.room.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn hang_up(held: Option<Held>) -> bool {
    let task = held.and_then(|held| held.task);
    task.inspect(AbortHandle::abort).is_some()
}

impl Held {
    fn key(&self, id: u64) -> (bool, u64, u64) {
        (self.at_work > 0, self.turn, id)
    }
}

impl Room {
    fn next_turn(&mut self) -> u64 {
        self.turn += 1;
        self.turn
    }

    fn put(&mut self, id: u64, held: Held) {
        self.of_one.entry(held.peer).or_default().insert(held.key(id));
        self.held.insert(id, held);
    }

    fn take(&mut self, id: u64) -> Option<Held> {
        let held = self.held.remove(&id)?;
        if let Some(those) = self.of_one.get_mut(&held.peer) {
            those.remove(&held.key(id));
            if those.is_empty() {
                self.of_one.remove(&held.peer);
            }
        }
        Some(held)
    }

    fn change(&mut self, id: u64, change: impl FnOnce(&mut Held)) {
        if let Some(mut held) = self.take(id) {
            change(&mut held);
            self.put(id, held);
        }
    }

    /// Of the address with the most, the one that has gone longest without an answer; none whose
    /// request is worked on while there is any other.
    fn owed_least(&self, but: u64, only: Option<Peer>) -> Option<u64> {
        let may = self.of_one.iter().filter(|(peer, _)| only.is_none_or(|only| **peer == only));
        let firsts = may.filter_map(|(_, those)| {
            let (at_work, turn, id) = those.iter().find(|(_, _, id)| *id != but)?;
            Some((*at_work, Reverse(those.len()), *turn, *id))
        });
        firsts.min().map(|(_, _, _, id)| id)
    }
}

impl Connection {
    /// What is ended where it must leave.
    pub fn ends_with(&self, task: AbortHandle) {
        if let Some(held) = self.connections.room().held.get_mut(&self.id) {
            held.task = Some(task);
        }
    }

    pub fn at_work(self: &Arc<Self>) -> AtWork {
        self.connections.room().change(self.id, |held| held.at_work += 1);
        AtWork(Arc::clone(self))
    }

    pub fn is_known(&self) -> bool {
        self.known.load(Ordering::Relaxed)
    }

    pub fn knows(&self) {
        self.known.store(true, Ordering::Relaxed);
    }
}

impl Drop for Connection {
    fn drop(&mut self) {
        self.connections.room().take(self.id);
    }
}

impl Drop for AtWork {
    fn drop(&mut self) {
        let mut room = self.0.connections.room();
        let turn = room.next_turn();
        room.change(self.0.id, |held| {
            held.at_work -= 1;
            held.turn = turn;
        });
    }
}

#[cfg(test)]
mod tests {
    use std::net::IpAddr;

    use super::*;

    fn peer(last: u8) -> Peer {
        Peer::from(IpAddr::from([192, 0, 2, last]))
    }

    fn room(most: usize, most_of_one: usize) -> Arc<Connections> {
        Arc::new(Connections::new(most, most_of_one, vec![peer(99)]))
    }

    /// Takes one in and forgets its handle, as a task would keep it.
    fn come(room: &Arc<Connections>, last: u8) -> Arc<Connection> {
        room.take_in(peer(last)).0
    }

    fn is_in(connection: &Connection) -> bool {
        connection.connections.room().held.contains_key(&connection.id)
    }

    #[test]
    fn whoever_waited_longest_without_an_answer_leaves() {
        let room = room(3, 3);
        let [first, second, third] = [1, 1, 1].map(|last| come(&room, last));
        drop(first.at_work());
        let fourth = come(&room, 1);
        assert!(is_in(&first) && !is_in(&second) && is_in(&third) && is_in(&fourth));
    }

    #[test]
    fn whoever_holds_the_most_leaves_first() {
        let room = room(4, 4);
        let lone = come(&room, 1);
        let crowd = [2, 2, 2].map(|last| come(&room, last));
        let other = come(&room, 3);
        assert!(is_in(&lone) && is_in(&other));
        assert_eq!(crowd.map(|one| is_in(&one)), [false, true, true]);
    }

    #[test]
    fn what_is_worked_on_stays_while_there_is_any_other() {
        let room = room(3, 3);
        let [first, second, third] = [1, 1, 2].map(|last| come(&room, last));
        let working = [first.at_work(), second.at_work()];
        let fourth = come(&room, 1);
        assert!(is_in(&first) && is_in(&second) && !is_in(&third) && is_in(&fourth));
        let fourth_working = fourth.at_work();
        let fifth = come(&room, 2);
        // All others are worked on: one must leave, of the address with the most.
        assert!(!is_in(&first) && is_in(&second) && is_in(&fifth));
        drop((working, fourth_working));
    }

    #[test]
    fn one_address_has_its_share_and_a_server_in_front_all() {
        let room = room(8, 2);
        let [first, second, third] = [1, 1, 1].map(|last| come(&room, last));
        assert!(!is_in(&first) && is_in(&second) && is_in(&third));
        let through = [99; 5].map(|last| come(&room, last));
        assert!(through.iter().all(|one| is_in(one)));
    }

    #[test]
    fn whoever_hangs_up_makes_room() {
        let room = room(2, 2);
        let [first, second] = [1, 2].map(|last| come(&room, last));
        drop(second);
        let third = come(&room, 3);
        assert!(is_in(&first) && is_in(&third));
    }
}
