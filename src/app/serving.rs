use std::net::IpAddr;
use std::path::PathBuf;

use super::WorkbenchSources;

/// What a server is asked to be, whoever asks.
#[derive(Clone, Debug)]
pub struct Serving {
    pub sources: WorkbenchSources,
    /// Where to listen; port 0 takes a free one.
    pub address: IpAddr,
    pub port: u16,
    /// Whether one of the next ports will do where that one is taken.
    pub next_port: bool,
    /// What a visitor must show. Where the address can be reached from other machines and none is
    /// given, one is made up and told once.
    pub token: Option<String>,
    /// Names by which the server may be called beside its address.
    pub names: Vec<String>,
    /// Servers in front, whose word is taken for whom they ask.
    pub behind: Vec<IpAddr>,
    /// The workspace, where not the one the working folder lies in. Places at the machine are kept
    /// there; without one they are kept in memory.
    pub workspace: Option<PathBuf>,
}

/// Where a server is to be found, once it listens.
#[derive(Clone, Debug)]
pub struct Listening {
    /// In words, a line each.
    pub told: String,
    /// For a browser on this machine, with the token where one is asked for.
    pub here: String,
    /// For other devices, with the token, where any can reach it.
    pub elsewhere: Option<String>,
}
