use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;

use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpSocket, TcpStream, UdpSocket};
use tokio_io_timeout::TimeoutStream;

use super::connections::Connections;
use super::peer::Peer;
use super::reply::fingerprint;
use super::state::{Bounds, Setup, State};
use super::visitor::Caller;
use app::{Listening, LiveWorkspace, Places, Serving, Workbench, Workspace};
use diag::{Code, Diagnostic, Diagnostics};

/// How long what is under way may take to end once the server is told to stop.
const GRACE: Duration = Duration::from_secs(10);

/// Serves until it is told to stop. `say` is told where.
///
/// # Errors
/// Faulty files, an address that can't be listened on.
pub fn serve(order: &Serving, say: &dyn Fn(&Listening)) -> Result<(), Diagnostics> {
    let workspace = Workspace::find(order.workspace.as_deref())?;
    let bench = match &workspace {
        Some(workspace) => workspace.bench(&order.sources)?,
        None => Workbench::open(&order.sources)?,
    };
    let places = Places::open(workspace.as_ref().map(|open| open.folder.path("")))?;
    // Who is logged in stays so when the server begins anew, where there is a folder to note it.
    let key = random_token()?;
    let key = workspace.as_ref().map_or(key.clone(), |open| open.folder.secret(key));
    let (token, made_up) = match &order.token {
        None if !order.address.is_loopback() => (Some(random_token()?), true),
        given => (given.clone(), false),
    };
    // Someone else's log is as good.
    let _ = tracing_subscriber::fmt().with_writer(std::io::stderr).with_ansi(false).try_init();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|error| cannot("can't start", &error))?;
    runtime.block_on(async {
        let listener = listen_at(order).map_err(|error| cannot("can't listen there", &error))?;
        let local = listener.local_addr().map_err(|error| cannot("can't listen there", &error))?;
        let reach = reached_at(local).await;
        let mut told = announced(local, reach, token.as_deref().filter(|_| made_up), &places);
        if order.port != 0 && local.port() != order.port {
            told.push_str(&format!("Port {} is taken: this is the next free one.\n", order.port));
        }
        told.push_str("Stop with Ctrl-C.\n");
        say(&Listening {
            told,
            here: address_with(on_this_machine(local), token.as_deref()),
            elsewhere: reach.map(|reach| address_with(reach, token.as_deref())),
        });
        let bounds = Bounds::default();
        let state = State::new(Setup {
            bench,
            workspace: workspace.map(|open| LiveWorkspace::new(open, order.sources.clone())),
            places,
            address: local.ip(),
            port: local.port(),
            names: order.names.clone(),
            token,
            key,
            fronts: order.behind.clone(),
            bounds,
        });
        run(listener, state, told_to_stop()).await;
        Ok(())
    })
}

/// Where the server is to be found, and what its visitors should know.
fn announced(
    local: SocketAddr,
    reach: Option<SocketAddr>,
    token: Option<&str>,
    places: &Places,
) -> String {
    let mut text = format!("Listening on http://{local}\n");
    if local.ip().is_unspecified() {
        let port = local.port();
        text.push_str(&match reach {
            Some(reach) => format!("From other devices: http://{reach}\n"),
            None => format!("From other devices: this machine's own address, port {port}\n"),
        });
    }
    if let Some(token) = token {
        text.push_str(&format!("Visitors are asked for this token: {token}\n"));
    }
    if !places.lasting() {
        text.push_str("Places at the machine are forgotten at the end: a workspace keeps them.\n");
    }
    for warning in places.warnings.iter() {
        text.push_str(&format!("warning: {warning}\n"));
    }
    text
}

/// The address with the token behind it, where browsers keep it to themselves: what follows `#` is sent to
/// nobody, and the page of the login reads it.
pub(super) fn address_with(address: SocketAddr, token: Option<&str>) -> String {
    match token {
        Some(token) => {
            let said = serde_urlencoded::to_string([("token", token)]).unwrap_or_default();
            format!("http://{address}/login#{said}")
        }
        None => format!("http://{address}/"),
    }
}

/// Where a browser on this machine finds a server that listens there.
fn on_this_machine(local: SocketAddr) -> SocketAddr {
    let ip = match local.ip() {
        IpAddr::V4(ip) if ip.is_unspecified() => Ipv4Addr::LOCALHOST.into(),
        IpAddr::V6(ip) if ip.is_unspecified() => Ipv6Addr::LOCALHOST.into(),
        ip => ip,
    };
    SocketAddr::new(ip, local.port())
}

/// Where other devices find a server that listens there, if any can. Of a server that listens everywhere it is the
/// address from which this machine speaks to its network. Nothing is sent to find it out.
pub(super) async fn reached_at(local: SocketAddr) -> Option<SocketAddr> {
    let ip = match local.ip() {
        ip if ip.is_loopback() => return None,
        ip if !ip.is_unspecified() => ip,
        ip => {
            // Any address beyond this network will do; these are nobody's (RFC 5737, RFC 3849).
            let (own, far) = match ip {
                IpAddr::V4(_) => ("0.0.0.0:0", "192.0.2.1:9"),
                IpAddr::V6(_) => ("[::]:0", "[2001:db8::1]:9"),
            };
            let socket = UdpSocket::bind(own).await.ok()?;
            socket.connect(far).await.ok()?;
            socket.local_addr().ok()?.ip()
        }
    };
    let there = !ip.is_loopback() && !ip.is_unspecified();
    there.then(|| SocketAddr::new(ip, local.port()))
}

/// Ports that are tried after the one that is taken.
const MORE_PORTS: u16 = 20;

/// Listens where it is asked to, or at one of the next ports where that will do.
fn listen_at(order: &Serving) -> std::io::Result<TcpListener> {
    let mut port = order.port;
    loop {
        match listen((order.address, port).into()) {
            Err(error)
                if order.next_port
                    && error.kind() == std::io::ErrorKind::AddrInUse
                    && port < order.port.saturating_add(MORE_PORTS) =>
            {
                port += 1;
            }
            done => return done,
        }
    }
}

/// Answers on the listener until `stop` is done, then ends what is under way.
pub async fn run(listener: TcpListener, state: State, stop: impl Future<Output = ()>) {
    let service = super::app(state.clone());
    let Bounds { connections, connections_of_one, .. } = state.bounds;
    let connections = Connections::new(connections, connections_of_one, state.fronts.clone());
    let connections = Arc::new(connections);
    let graceful = GracefulShutdown::new();
    let mut server = http1::Builder::new();
    server
        .timer(TokioTimer::new())
        // Whoever sends the head of a request a byte at a time is hung up on.
        .header_read_timeout(state.bounds.head_time)
        .max_buf_size(64 << 10)
        .max_headers(60);
    tokio::pin!(stop);
    loop {
        let (stream, address) = tokio::select! {
            accepted = listener.accept() => match accepted {
                Ok(accepted) => accepted,
                Err(error) => {
                    // Out of file handles, most likely: somebody leaves for the next.
                    tracing::warn!(%error, "could not take a visitor in");
                    if connections.make_room() {
                        state.metrics.hung_up();
                    }
                    tokio::time::sleep(Duration::from_millis(50)).await;
                    continue;
                }
            },
            () = &mut stop => break,
        };
        let peer = Peer::from(address.ip());
        let (place, hung_up) = connections.take_in(peer);
        if hung_up {
            state.metrics.hung_up();
        }
        let shared = state.fronts.contains(&peer);
        let caller = Caller { peer, connection: Arc::clone(&place), shared };
        let inner = TowerToHyperService::new(service.clone());
        let service = service_fn(move |mut request: hyper::Request<Incoming>| {
            request.extensions_mut().insert(caller.clone());
            inner.call(request)
        });
        let stream = TokioIo::new(Box::pin(patient(stream, state.bounds.write_time)));
        let connection = graceful.watch(server.serve_connection(stream, service));
        let task = tokio::spawn(async move {
            // A visitor who hangs up is no fault.
            if let Err(error) = connection.await {
                tracing::debug!(%error, "a visitor was lost");
            }
        });
        place.ends_with(task.abort_handle());
    }
    drop(listener);
    // What is being planned ends with the best so far.
    state.plans.stop_all();
    if tokio::time::timeout(GRACE, graceful.shutdown()).await.is_err() {
        tracing::warn!("some visitors were still being answered");
    }
}

/// Listens with room for a crowd before the door: who finds none there tries again only a second later.
fn listen(address: SocketAddr) -> std::io::Result<TcpListener> {
    let socket = match address {
        SocketAddr::V4(_) => TcpSocket::new_v4()?,
        SocketAddr::V6(_) => TcpSocket::new_v6()?,
    };
    // Elsewhere it would let two programs listen on one port.
    #[cfg(unix)]
    socket.set_reuseaddr(true)?;
    socket.bind(address)?;
    socket.listen(4096)
}

/// Whoever takes nothing of an answer for so long is hung up on.
fn patient(stream: TcpStream, write_time: Duration) -> TimeoutStream<TcpStream> {
    let _ = stream.set_nodelay(true);
    let mut stream = TimeoutStream::new(stream);
    stream.set_write_timeout(Some(write_time));
    stream
}

/// Ctrl-C, or the signal that ends services.
async fn told_to_stop() {
    let interrupted = async {
        // Without a handler for it the program ends at once, as it should.
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    let terminated = async {
        match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
            Ok(mut signal) => {
                signal.recv().await;
            }
            Err(_) => std::future::pending::<()>().await,
        }
    };
    #[cfg(not(unix))]
    let terminated = std::future::pending::<()>();
    tokio::select! {
        () = interrupted => {},
        () = terminated => {},
    }
}

fn random_token() -> Result<String, Diagnostic> {
    let mut bytes = [0; 32];
    getrandom::fill(&mut bytes).map_err(|error| {
        Diagnostic::error(Code::Token, format!("can't make up a token: {error}"))
            .hint("give one with --token")
    })?;
    Ok(fingerprint(&bytes, 32))
}

fn cannot(what: &str, error: &std::io::Error) -> Diagnostic {
    Diagnostic::error(Code::Listen, format!("{what}: {error}"))
        .hint("is another program there? --listen 127.0.0.1:0 takes a free port")
}
