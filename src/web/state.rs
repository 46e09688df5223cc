use std::collections::BTreeSet;
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::time::{Duration, Instant};

use tokio::sync::Semaphore;

use super::guesses::Guesses;
use super::metrics::Metrics;
use super::peer::Peer;
use super::plan_jobs::PlanJobs;
use super::problem::{Answer, Problem};
use super::stamps::Stamps;
use super::visitor::carried;
use app::Ask;
pub use app::Asked as Graded;
use app::{
    Desk, Garments, LONGEST_LINE, LiveWorkspace, Names, Places, Workbench, WorkspaceEdit,
    YarnRequest,
};
use diag::{Code, Diagnostic, Diagnostics};
use knit::machine::Machine;
use knit::size_run::{Made, SizeRun};
use knit::stash::{NamedSwatches, Words};
use report::{PrintLook, Walk};
use script::Plugin;
use store::workspace::{Basis, ChangeMark, PastChange};
use units::LengthUnit;

/// How much is taken on at a time, and how long it may take.
#[derive(Clone, Debug)]
pub struct Bounds {
    /// Requests being answered, beyond which visitors are asked to come again.
    pub requests: usize,
    /// Requests without the token being answered; the others wait.
    pub strangers: usize,
    /// Runs being graded; the others wait.
    pub gradings: usize,
    /// How long a run waits for its turn.
    pub patience: Duration,
    /// How long a request may take until its answer begins.
    pub request_time: Duration,
    /// How long the head of a request may take to arrive.
    pub head_time: Duration,
    /// How long the body of a request, or a line of a batch, may take to arrive.
    pub body_time: Duration,
    /// How long an answer may lie there without a byte of it being taken.
    pub write_time: Duration,
    /// Bytes of a request's body, and of one sent to the login.
    pub body: usize,
    pub login_body: usize,
    /// Open connections, and those of one address.
    pub connections: usize,
    pub connections_of_one: usize,
    /// Batches being worked through, lines of one, and bytes of a line.
    pub batches: usize,
    pub batch_lines: usize,
    pub batch_line: usize,
}

impl Default for Bounds {
    fn default() -> Self {
        let cores = std::thread::available_parallelism().map_or(2, usize::from);
        Bounds {
            requests: 64,
            strangers: 8,
            gradings: cores,
            patience: Duration::from_secs(10),
            request_time: Duration::from_secs(30),
            head_time: Duration::from_secs(10),
            body_time: Duration::from_secs(30),
            write_time: Duration::from_secs(12),
            body: 256 << 10,
            login_body: 4 << 10,
            connections: 384,
            connections_of_one: 256,
            batches: 4,
            batch_lines: 50_000,
            batch_line: LONGEST_LINE,
        }
    }
}

/// What a server is made of, before it listens.
#[derive(Debug)]
pub struct Setup {
    pub bench: Workbench,
    pub workspace: Option<LiveWorkspace>,
    pub places: Places,
    /// The address and port listened on.
    pub address: IpAddr,
    pub port: u16,
    pub names: Vec<String>,
    pub token: Option<String>,
    /// Goes into what the cookie holds, which therefore nobody can work out from a guessed token.
    pub key: String,
    /// Servers in front, whose word for whom they ask is taken.
    pub fronts: Vec<IpAddr>,
    pub bounds: Bounds,
}

/// What all requests share.
#[derive(Clone)]
pub struct State(Arc<Shared>);

pub struct Shared {
    pub bench: Workbench,
    /// Sizes, machines and the list of garments are those of the bench, as the server began;
    /// all else in a workspace is read again when it changes.
    pub workspace: Option<LiveWorkspace>,
    pub plans: PlanJobs,
    pub places: Places,
    pub token: Option<String>,
    pub key: String,
    pub fronts: Vec<Peer>,
    pub guesses: Guesses,
    /// What the Host header may say.
    pub hosts: BTreeSet<String>,
    /// Where it listens.
    pub listens: SocketAddr,
    /// Listens on every address: any address will do for a host, but no strange name.
    pub any_address: bool,
    pub bounds: Bounds,
    pub metrics: Metrics,
    pub requests: Arc<Semaphore>,
    pub strangers: Arc<Semaphore>,
    pub batches: Arc<Semaphore>,
    pub stamps: Stamps,
    gradings: Arc<Semaphore>,
    /// Those of them that may be long at it: one fewer, so that who moves a slider never waits for who turns a
    /// garment about.
    long_gradings: Arc<Semaphore>,
    garments: Garments,
}

impl std::ops::Deref for State {
    type Target = Shared;

    fn deref(&self) -> &Shared {
        &self.0
    }
}

/// What came of a change.
#[derive(Debug)]
pub(super) enum Deed<T> {
    /// It is made; or it was so already, and nothing is written.
    Done { value: T, state: ChangeMark, written: bool, warnings: Diagnostics },
    /// It was made before, when it was asked for with the same one-time key.
    Before(PastChange),
}

impl State {
    pub fn new(setup: Setup) -> State {
        let port = setup.port;
        let mut known: Vec<String> = match setup.address {
            IpAddr::V4(v4) => vec![v4.to_string()],
            IpAddr::V6(v6) => vec![format!("[{v6}]")],
        };
        if setup.address.is_loopback() {
            known.extend(["localhost", "127.0.0.1", "[::1]"].map(str::to_owned));
        }
        let names = setup.names.iter().map(|name| name.to_ascii_lowercase());
        // Behind another server the port may be anything, so a name alone will do too.
        let mut hosts: BTreeSet<String> = names.clone().collect();
        known.extend(names);
        for host in known {
            hosts.insert(format!("{host}:{port}"));
            // Browsers leave the usual port out.
            if port == 80 {
                hosts.insert(host);
            }
        }
        State(Arc::new(Shared {
            bench: setup.bench,
            workspace: setup.workspace,
            plans: PlanJobs::default(),
            places: setup.places,
            token: setup.token,
            key: setup.key,
            fronts: setup.fronts.into_iter().map(Peer::from).collect(),
            guesses: Guesses::default(),
            hosts,
            listens: SocketAddr::new(setup.address, port),
            any_address: setup.address.is_unspecified(),
            requests: Arc::new(Semaphore::new(setup.bounds.requests)),
            strangers: Arc::new(Semaphore::new(setup.bounds.strangers)),
            batches: Arc::new(Semaphore::new(setup.bounds.batches)),
            gradings: Arc::new(Semaphore::new(setup.bounds.gradings)),
            long_gradings: Arc::new(Semaphore::new(setup.bounds.gradings.max(2) - 1)),
            metrics: Metrics::default(),
            bounds: setup.bounds,
            stamps: Stamps::default(),
            garments: Garments::default(),
        }))
    }

    /// Does work that takes time on a thread of its own, in its turn.
    pub(super) async fn work<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Shared) -> T + Send + 'static,
    ) -> Answer<T> {
        let wait = Arc::clone(&self.gradings).acquire_owned();
        let permit = match tokio::time::timeout(self.bounds.patience, wait).await {
            Ok(Ok(permit)) => permit,
            _ => return Err(Problem::busy()),
        };
        let state = self.clone();
        let done = tokio::task::spawn_blocking(carried(move || {
            // Held until the work is done, whether or not anyone still waits for it.
            let _permit = permit;
            let (result, took) = timed(|| work(&state));
            state.metrics.worked(took);
            result
        }));
        done.await.map_err(|_| broken())
    }

    /// Does something brief with the disk off the asynchronous threads. Once begun it is done to
    /// the end, even where the visitor hangs up or the server is told to stop.
    pub(super) async fn brief<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Shared) -> T + Send + 'static,
    ) -> Answer<T> {
        let state = self.clone();
        tokio::task::spawn_blocking(carried(move || work(&state))).await.map_err(|_| broken())
    }

    /// Makes a change to the workspace off the asynchronous threads, to the end once begun. What it
    /// names is what the path names: where that is not there, the path leads nowhere.
    pub(super) async fn edited<T: Send + 'static>(
        &self,
        basis: Basis,
        make: impl FnOnce(&mut WorkspaceEdit) -> Result<T, Diagnostics> + Send + 'static,
    ) -> Answer<Deed<T>> {
        let done = self
            .brief(move |shared| -> Answer<Deed<T>> {
                let live = shared.live().map_err(Problem::of_path)?;
                let mut edit = live.edit().resting_on(basis);
                match make(&mut edit) {
                    Ok(value) => Ok(Deed::Done {
                        value,
                        state: edit.state.unwrap_or_default(),
                        written: edit.written,
                        warnings: edit.warnings,
                    }),
                    Err(faults) => {
                        let twice = faults.iter().any(|fault| fault.code == Code::Repeated);
                        match edit.made_before().filter(|_| twice) {
                            Some(change) => Ok(Deed::Before(change)),
                            None => Err(Problem::of_path(faults)),
                        }
                    }
                }
            })
            .await?;
        if matches!(done, Ok(Deed::Done { written: true, .. })) {
            self.metrics.workspace_changed();
        }
        done
    }

    /// As [`graded`](Self::graded), for what may take seconds: a garment in the round, a sheet with its pictures.
    /// Who goes away while it waits for its turn leaves nothing behind to be worked on.
    pub(super) async fn graded_at_length<T: Send + 'static>(
        &self,
        ask: Ask,
        then: impl FnOnce(&Shared, &Ask, Graded) -> Answer<T> + Send + 'static,
    ) -> Answer<T> {
        let turn = Arc::clone(&self.long_gradings).acquire_owned();
        let turn = turn.await.map_err(|_| Problem::busy())?;
        let make = move |shared: &Shared, ask: &Ask, graded: Graded| {
            // Held until the work is done, whether or not anyone still waits for it.
            let _turn = turn;
            then(shared, ask, graded)
        };
        self.graded(ask, make).await
    }

    /// Grades in its turn and makes something of the run on the same thread.
    pub(super) async fn graded<T: Send + 'static>(
        &self,
        ask: Ask,
        then: impl FnOnce(&Shared, &Ask, Graded) -> Answer<T> + Send + 'static,
    ) -> Answer<T> {
        self.work(move |shared| {
            let graded = shared.grade(&ask)?;
            then(shared, &ask, graded)
        })
        .await?
    }
}

impl Shared {
    /// Meets a request with the workspace as it is now.
    pub fn at_desk<'s, T>(&'s self, meet: impl FnOnce(Desk<'s, '_>) -> T) -> T {
        let now = self.workspace.as_ref().map(|live| live.now().workspace);
        let names = Names::Ids(&self.garments);
        meet(Desk { bench: &self.bench, workspace: now.as_deref(), names })
    }

    /// A garment, and what is wrong with its files where an older version is given.
    pub fn garment(&self, id: &str) -> Result<(Plugin, Diagnostics), Diagnostics> {
        self.garments.get(&self.bench, id)
    }

    /// The workspace.
    ///
    /// # Errors
    /// The server was started without one.
    pub fn live(&self) -> Result<&LiveWorkspace, Diagnostic> {
        self.workspace.as_ref().ok_or_else(|| {
            Diagnostic::error(Code::NoWorkspace, "this server has no workspace").hint(
                "start it in one, or with --workspace FOLDER; `oddments init FOLDER` makes one",
            )
        })
    }

    /// The swatch and the machine asked for.
    pub fn swatch(&self, ask: &Ask) -> Result<(NamedSwatches, &Machine), Diagnostics> {
        self.at_desk(|desk| desk.swatch(ask))
    }

    /// Whose words of the trade are printed: those asked for, or the workspace's.
    pub fn words(&self, ask: &Ask) -> Result<Words, Diagnostic> {
        self.at_desk(|desk| desk.words(ask))
    }

    /// The unit that lengths are printed in: the one asked for, or the workspace's.
    pub fn unit(&self, ask: &Ask) -> Result<LengthUnit, Diagnostic> {
        self.at_desk(|desk| desk.unit(ask))
    }

    /// The way through a size at the machine, as what is asked for is printed.
    pub fn walk(&self, ask: &Ask, run: &SizeRun, made: &Made) -> Result<Walk, Diagnostics> {
        Ok(report::walk(run, made, self.unit(ask)?).in_words(self.words(ask)?))
    }

    /// How what is asked for is printed.
    pub fn look(&self, ask: &Ask) -> Result<PrintLook, Diagnostic> {
        Ok(PrintLook {
            unit: self.unit(ask)?,
            words: self.words(ask)?,
            each: ask.each,
            flat: ask.flat,
        })
    }

    /// The balls asked for, among the workspace's yarns and the demo's: a file's name is none.
    pub fn yarns(&self, ask: &Ask) -> YarnRequest {
        self.at_desk(|desk| desk.yarns(ask))
    }

    pub fn grade(&self, ask: &Ask) -> Result<Graded, Problem> {
        Ok(self.at_desk(|desk| desk.grade(ask))?)
    }
}

#[allow(clippy::disallowed_methods, reason = "the server tells how long its work takes")]
fn timed<T>(work: impl FnOnce() -> T) -> (T, Duration) {
    let begun = Instant::now();
    (work(), begun.elapsed())
}

fn broken() -> Problem {
    Diagnostic::error(Code::Internal, "something broke while working on this")
        .hint("what was asked for is not at fault: please report it")
        .into()
}
