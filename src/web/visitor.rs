//! What is known of whoever asks.

use std::sync::Arc;

use super::connections::Connection;
use super::peer::Peer;

/// Where a request comes from; one that came over no listener comes from nowhere.
#[derive(Clone, Debug)]
pub struct Caller {
    pub peer: Peer,
    pub connection: Arc<Connection>,
    /// A server in front asks for anybody: what one visitor has shown says nothing of the next.
    pub shared: bool,
}

/// How far a request is trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Has shown the token, or none is asked for.
    Visitor,
    Stranger,
}

tokio::task_local! {
    /// Whether the visitor is logged in on this device.
    static LOGGED_IN: bool;
}

/// Does the work of a request, whose pages then know whether there is anything to log out of.
pub async fn for_visitor<T>(logged_in: bool, work: impl Future<Output = T>) -> T {
    LOGGED_IN.scope(logged_in, work).await
}

pub fn is_logged_in() -> bool {
    LOGGED_IN.try_with(|logged_in| *logged_in).unwrap_or(false)
}

/// The same work, for another thread.
pub fn carried<T>(work: impl FnOnce() -> T) -> impl FnOnce() -> T {
    let logged_in = is_logged_in();
    move || LOGGED_IN.sync_scope(logged_in, work)
}
