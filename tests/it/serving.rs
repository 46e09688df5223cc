//! `oddments serve` as a command: a port that is taken, the browser, the code for a phone, a new workspace.

use std::io::{BufRead, BufReader, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use axum::http::header;
use rqrr::PreparedImage;
use web::Setup;

use crate::server::{Server, setup};

/// A server that ends when it is let go.
struct Served {
    child: Child,
    lines: std::io::Lines<BufReader<std::process::ChildStdout>>,
}

impl Served {
    fn begin(folder: &Path, args: &[&str], path: Option<&Path>) -> Served {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin!("oddments"));
        command.arg("serve").args(args).current_dir(folder);
        if let Some(path) = path {
            command.env("PATH", path);
        }
        let mut child = command
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("started");
        let lines = BufReader::new(child.stdout.take().expect("piped")).lines();
        Served { child, lines }
    }

    /// What it says up to the line that says how to stop it, that included.
    fn said(&mut self) -> Vec<String> {
        let mut said = Vec::new();
        for line in self.lines.by_ref() {
            let line = line.expect("text");
            let last = line.starts_with("Stop with");
            said.push(line);
            if last {
                break;
            }
        }
        said
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

#[test]
fn where_the_usual_port_is_taken_the_next_one_is_and_it_says_so() {
    // Whoever has it, it is taken.
    let _held = TcpListener::bind("127.0.0.1:8017");
    let folder = folder();
    let mut served = Served::begin(folder.path(), &[], None);
    let said = served.said();
    let address = said[0].strip_prefix("Listening on http://").expect("an address").to_owned();
    assert_ne!(address, "127.0.0.1:8017");
    assert!(said.iter().any(|line| line.starts_with("Port 8017 is taken")), "{said:?}");
    TcpStream::connect(&address).expect("connected");
    // Asked for by name, a port that is taken is a fault as ever.
    let mut own = Command::new(assert_cmd::cargo::cargo_bin!("oddments"));
    let ran = own.args(["serve", "--listen", &address]).output().expect("run");
    assert_eq!(ran.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&ran.stderr).contains("can't listen there"));
}

#[cfg(unix)]
#[test]
fn the_browser_is_opened_at_the_address_with_the_token() {
    use std::os::unix::fs::PermissionsExt;
    let folder = folder();
    let opener = folder.path().join("xdg-open");
    let opened = folder.path().join("opened");
    let script = format!("#!/bin/sh\necho \"$1\" > '{}'\n", opened.display());
    std::fs::write(&opener, script).expect("written");
    std::fs::set_permissions(&opener, std::fs::Permissions::from_mode(0o755)).expect("made to run");
    let args = ["--listen", "127.0.0.1:0", "--open", "--token", "kittiwake & fulmar"];
    let mut served = Served::begin(folder.path(), &args, Some(folder.path()));
    let said = served.said();
    let address = said[0].strip_prefix("Listening on ").expect("an address");
    let wanted = format!("{address}/login#token=kittiwake+%26+fulmar\n");
    for _ in 0..200 {
        if std::fs::read_to_string(&opened).is_ok_and(|text| text == wanted) {
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("opened was {:?}, not {wanted:?}", std::fs::read_to_string(&opened));
}

#[test]
fn without_a_browser_it_serves_all_the_same() {
    let folder = folder();
    let empty = folder.path().join("empty");
    std::fs::create_dir(&empty).expect("made");
    let args = ["--listen", "127.0.0.1:0", "--open"];
    let mut served = Served::begin(folder.path(), &args, Some(&empty));
    let said = served.said();
    let address = said[0].strip_prefix("Listening on http://").expect("an address");
    let mut stream = TcpStream::connect(address).expect("connected");
    write!(stream, "GET /api/v1/health HTTP/1.1\r\nHost: {address}\r\n\r\n").expect("sent");
    let mut first = String::new();
    BufReader::new(stream).read_line(&mut first).expect("an answer");
    assert!(first.contains("200"), "{first}");
}

/// What a phone's camera reads in a square of modules.
fn read(modules: &[Vec<bool>]) -> String {
    const SCALE: usize = 4;
    let side = modules.len() * SCALE;
    let lit = |x: usize, y: usize| if modules[y / SCALE][x / SCALE] { 0 } else { 255 };
    let mut image = PreparedImage::prepare_from_greyscale(side, side, lit);
    let grids = image.detect_grids();
    assert_eq!(grids.len(), 1, "no code is found");
    grids[0].decode().expect("it reads").1
}

#[test]
fn the_code_in_the_terminal_holds_the_address_and_the_token() {
    let folder = folder();
    // An address of the loopback net that is not the usual one can't be reached either; 0.0.0.0 can.
    let mut served = Served::begin(folder.path(), &["--listen", "0.0.0.0:0", "--qr"], None);
    let said = served.said();
    let token =
        said.iter().find_map(|line| line.strip_prefix("Visitors are asked for this token: "));
    let token = token.expect("one is made up").to_owned();
    let Some(reach) = said.iter().find_map(|line| line.strip_prefix("From other devices: http://"))
    else {
        // A machine without a network has no address for others: it says so in words.
        assert!(said.iter().any(|line| line.contains("this machine's own address")), "{said:?}");
        return;
    };
    let reach = reach.to_owned();
    let code = served.lines.by_ref().map(|line| line.expect("text"));
    let code =
        code.skip_while(|line| !line.starts_with('█')).take_while(|line| line.starts_with('█'));
    let mut modules: Vec<Vec<bool>> = Vec::new();
    for line in code {
        modules.push(line.chars().map(|c| matches!(c, ' ' | '▄')).collect());
        modules.push(line.chars().map(|c| matches!(c, ' ' | '▀')).collect());
    }
    modules.truncate(modules[0].len());
    assert_eq!(read(&modules), format!("http://{reach}/login#token={token}"));
}

#[test]
fn a_workspace_is_made_when_asked_for_and_never_in_a_script_alone() {
    let folder = folder();
    let mut served = Served::begin(folder.path(), &["--listen", "127.0.0.1:0"], None);
    served.said();
    drop(served);
    assert!(
        std::fs::read_dir(folder.path()).expect("there").next().is_none(),
        "something was made"
    );
    let args = ["--listen", "127.0.0.1:0", "--new", "knitting"];
    for _ in 0..2 {
        let mut served = Served::begin(folder.path(), &args, None);
        let said = served.said();
        assert!(!said.iter().any(|line| line.contains("are forgotten")), "{said:?}");
        assert!(folder.path().join("knitting/stash.toml").exists());
    }
    // What is there and no workspace is left alone.
    let other = folder.path().join("other");
    std::fs::create_dir(&other).expect("made");
    std::fs::write(other.join("letter.txt"), "dear Wenna").expect("written");
    let mut own = Command::new(assert_cmd::cargo::cargo_bin!("oddments"));
    let ran =
        own.args(["serve", "--new", "other"]).current_dir(folder.path()).output().expect("run");
    assert_eq!(ran.status.code(), Some(1), "{}", String::from_utf8_lossy(&ran.stderr));
    assert_eq!(std::fs::read_dir(&other).expect("there").count(), 1);
}

#[test]
fn the_page_for_a_phone_is_shown_to_whoever_came_in_and_kept_nowhere() {
    let alone = Server::new().get("/phone");
    assert!(alone.text().contains("Only this device reaches the server"), "{}", alone.text());
    let token = "kittiwake and fulmar".to_owned();
    let address = std::net::IpAddr::from([192, 0, 2, 7]);
    let server = Server::with(Setup { token: Some(token), address, ..setup() });
    let ask = |name: header::HeaderName, value: &str| {
        let sent = axum::http::Request::get("/phone").header(header::HOST, "192.0.2.7:8017");
        server.send(sent.header(name, value).body(axum::body::Body::empty()).expect("a request"))
    };
    let stranger = ask(header::ACCEPT, "text/html");
    assert_eq!(stranger.status, axum::http::StatusCode::SEE_OTHER);
    let page = ask(header::AUTHORIZATION, "Bearer kittiwake and fulmar");
    assert_eq!(page.status, axum::http::StatusCode::OK, "{}", page.text());
    assert_eq!(page.header(header::CACHE_CONTROL), "no-store");
    assert!(!page.text().contains("kittiwake"), "the token is written out");
    // The dark modules, as the path draws them.
    let path = page.text().split("<path d=\"").nth(1).and_then(|rest| rest.split('"').next());
    let path = path.expect("a code");
    let side = page.text().split("viewBox=\"0 0 ").nth(1).and_then(|rest| rest.split(' ').next());
    let side: usize = side.and_then(|side| side.parse().ok()).expect("a side");
    let mut modules = vec![vec![false; side]; side];
    for step in path.split('M').skip(1) {
        let (x, rest) = step.split_once(' ').expect("two numbers");
        let y = rest.split('h').next().expect("a number");
        modules[y.parse::<usize>().expect("a row")][x.parse::<usize>().expect("a column")] = true;
    }
    assert_eq!(read(&modules), "http://192.0.2.7:8017/login#token=kittiwake+and+fulmar");
}
