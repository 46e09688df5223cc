//! The room for connections. Every visitor is let in; where the room is full, the one owed least is hung
//! up on. So whoever holds many open pushes out their own, and a new one gets its turn.

use std::collections::BTreeMap;
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
        room.held.insert(turn, Held { peer, turn, at_work: 0, task: None });
        let of_one = room.held.values().filter(|held| held.peer == peer).count();
        let leaves = if of_one > self.most_of_one && !self.fronts.contains(&peer) {
            room.owed_least(turn, |held| held.peer == peer)
        } else if room.held.len() > self.most {
            room.owed_least(turn, |_| true)
        } else {
            None
        };
        let leaves = leaves.and_then(|id| room.held.remove(&id));
        // Ending a task may drop what is in it at once, which takes the lock itself.
        drop(room);
        let (known, connections) = (AtomicBool::new(false), Arc::clone(self));
        let connection = Arc::new(Connection { connections, id: turn, known });
        (connection, hang_up(leaves))
    }

    /// Hangs up on the one owed least, and says whether there was one.
    pub fn make_room(&self) -> bool {
        let mut room = self.room();
        let leaves = room.owed_least(0, |_| true).and_then(|id| room.held.remove(&id));
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

impl Room {
    fn next_turn(&mut self) -> u64 {
        self.turn += 1;
        self.turn
    }

    /// Of the address with the most, the one that has gone longest without an answer; none whose
    /// request is worked on while there is any other.
    fn owed_least(&self, but: u64, may: impl Fn(&Held) -> bool) -> Option<u64> {
        let mut of_one: BTreeMap<Peer, usize> = BTreeMap::new();
        for held in self.held.values() {
            *of_one.entry(held.peer).or_default() += 1;
        }
        let most = of_one.values().max().copied().unwrap_or(0);
        let fewer = |held: &Held| of_one.get(&held.peer).is_some_and(|count| *count < most);
        let others = self.held.iter().filter(|(id, held)| **id != but && may(held));
        let least = others.min_by_key(|(_, held)| (held.at_work > 0, fewer(held), held.turn));
        least.map(|(id, _)| *id)
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
        if let Some(held) = self.connections.room().held.get_mut(&self.id) {
            held.at_work += 1;
        }
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
        self.connections.room().held.remove(&self.id);
    }
}

impl Drop for AtWork {
    fn drop(&mut self) {
        let mut room = self.0.connections.room();
        let turn = room.next_turn();
        if let Some(held) = room.held.get_mut(&self.0.id) {
            held.at_work -= 1;
            held.turn = turn;
        }
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
