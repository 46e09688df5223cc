//! Who comes in, who goes out, and what each is given room for.

use std::time::Duration;

use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use tower::ServiceExt;
use web::{Bounds, Setup};

use crate::server::{Answer, Server, json_request, problem, request, setup};

const TOKEN: &str = "kittiwake and fulmar";
const FORM: &str = "application/x-www-form-urlencoded";
const CLEAR: header::HeaderName = header::HeaderName::from_static("clear-site-data");

fn guarded(bounds: Bounds) -> Server {
    Server::with(Setup { token: Some(TOKEN.to_owned()), bounds, ..setup() })
}

fn form(path: &str, pairs: &[(&str, &str)]) -> axum::http::Request<Body> {
    let body = serde_urlencoded::to_string(pairs).expect("encoded");
    let request = request(Method::POST, path).header(header::CONTENT_TYPE, FORM);
    request.body(Body::from(body)).expect("a request")
}

/// The cookie of a visitor who logged in.
fn cookie(server: &Server) -> String {
    let answer = server.send(form("/login", &[("token", TOKEN)]));
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
    let cookie = answer.header(header::SET_COOKIE).split(';').next().expect("a pair");
    cookie.to_owned()
}

fn with_cookie(server: &Server, method: Method, path: &str, cookie: &str) -> Answer {
    let request = request(method, path).header(header::COOKIE, cookie);
    server.send(request.body(Body::empty()).expect("a request"))
}

#[test]
fn nobody_is_led_away_by_a_login() {
    let server = guarded(Bounds::default());
    for (next, leads) in [
        ("/grade?garment=tam&o.wedges=6", "/grade?garment=tam&o.wedges=6"),
        ("/\t/evil.example", "/"),
        ("/%09/evil.example", "/"),
        ("\t//evil.example", "/"),
        ("/\\evil.example", "/"),
        ("/%5cevil.example", "/"),
        ("//evil.example", "/"),
        ("/\n/evil.example", "/"),
        ("/ /evil.example", "/"),
        ("https://evil.example/", "/"),
        ("javascript:alert(1)", "/"),
    ] {
        let answer = server.send(form("/login", &[("token", TOKEN), ("next", next)]));
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{next:?}");
        assert_eq!(answer.header(header::LOCATION), leads, "{next:?}");
    }
    // As a link would have it, and what the form then sends.
    let page = server.get("/login?next=/%09/evil.example");
    assert!(page.text().contains("name=\"next\" value=\"/\""), "{}", page.text());
    // Whoever comes without a token is sent to the login of this server, whatever was asked for.
    for path in ["//evil.example/x", "/%09/evil.example", "/%5c/evil.example"] {
        let answer = server.get(path);
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{path}");
        assert!(answer.header(header::LOCATION).starts_with("/login?next=%2F"), "{path}");
    }
    // A server without a token sends nobody elsewhere either.
    let open =
        Server::new().send(form("/login", &[("token", "any"), ("next", "/\t/evil.example")]));
    assert_eq!(open.header(header::LOCATION), "/");
}

#[test]
fn whoever_logs_out_is_forgotten_on_the_device() {
    let server = guarded(Bounds::default());
    let cookie = cookie(&server);
    for path in [
        "/grade?garment=cuff&sizes=women-m",
        "/machine",
        "/garments",
        "/chart",
        "/swatch",
        "/nowhere",
    ] {
        let page = request(Method::GET, path).header(header::COOKIE, &cookie);
        let page = page.header(header::ACCEPT, "text/html").body(Body::empty());
        let page = server.send(page.expect("a request"));
        let form = "<form method=\"post\" action=\"/logout\"";
        assert!(page.text().contains(form), "{path}: {}", page.text());
    }
    // Nothing to log out of.
    assert!(!server.get("/login").text().contains("/logout"));
    assert!(!Server::new().get("/grade").text().contains("/logout"));

    let out = with_cookie(&server, Method::POST, "/logout", &cookie);
    assert_eq!((out.status, out.header(header::LOCATION)), (StatusCode::SEE_OTHER, "/login"));
    let gone = out.header(header::SET_COOKIE);
    assert!(gone.starts_with("oddments_visitor=;") && gone.contains("Max-Age=0"), "{gone}");
    assert!(gone.contains("Path=/") && gone.contains("HttpOnly"), "{gone}");
    // "storage" would take the rows along that wait on the device to be sent.
    assert_eq!(out.header(CLEAR), "\"cache\"");

    let link = with_cookie(&server, Method::GET, "/logout", &cookie);
    assert_eq!(link.status, StatusCode::METHOD_NOT_ALLOWED);
    assert!(link.headers.get(header::SET_COOKIE).is_none());
    for (name, value) in [("origin", "http://evil.example"), ("sec-fetch-site", "cross-site")] {
        let sent = request(Method::POST, "/logout").header(header::COOKIE, &cookie);
        let sent = server.send(sent.header(name, value).body(Body::empty()).expect("a request"));
        assert_eq!(sent.status, StatusCode::FORBIDDEN, "{name}");
        assert!(sent.headers.get(header::SET_COOKIE).is_none());
    }
    // A device whose cookie is of no use any more can be rid of it too.
    let old = with_cookie(&server, Method::POST, "/logout", "oddments_visitor=0123");
    assert_eq!(old.status, StatusCode::SEE_OTHER);
}

/// The cookie is looked at without a wait: so nobody may be able to make one from a guessed token.
#[test]
fn a_cookie_cant_be_worked_out_from_the_token() {
    let cookie = cookie(&guarded(Bounds::default()));
    let other = Server::with(Setup {
        token: Some(TOKEN.to_owned()),
        key: "another secret".to_owned(),
        ..setup()
    });
    let answer = with_cookie(&other, Method::GET, "/api/v1/machines", &cookie);
    assert_eq!(answer.status, StatusCode::UNAUTHORIZED);
}

/// Wrong tokens count wherever they are shown. Whoever has the cookie never waits.
#[test]
fn guesses_wait_and_visitors_do_not() {
    let server = guarded(Bounds::default());
    let cookie = cookie(&server);
    let bearer = || {
        let sent = request(Method::GET, "/api/v1/machines");
        let sent = sent.header(header::AUTHORIZATION, "Bearer guillemot");
        sent.body(Body::empty()).expect("a request")
    };
    let login = || form("/login", &[("token", "guillemot")]);
    for sent in [login(), bearer(), login(), bearer(), login()] {
        assert_eq!(server.send(sent).status, StatusCode::UNAUTHORIZED);
    }
    let statuses: Vec<(StatusCode, bool)> = server.runtime.block_on(async {
        let asked = (0..8).map(|k| {
            let app = web::app(server.state.clone());
            tokio::spawn(app.oneshot(if k % 2 == 0 { login() } else { bearer() }))
        });
        let mut statuses = Vec::new();
        for one in asked.collect::<Vec<_>>() {
            let answer = one.await.expect("ended").expect("infallible");
            statuses.push((answer.status(), answer.headers().contains_key(header::RETRY_AFTER)));
        }
        statuses
    });
    let refused = |s: &&(StatusCode, bool)| **s == (StatusCode::TOO_MANY_REQUESTS, true);
    let looked_at = |s: &&(StatusCode, bool)| **s == (StatusCode::UNAUTHORIZED, false);
    assert!(statuses.iter().filter(refused).count() > 0, "{statuses:?}");
    assert_eq!(statuses.iter().filter(|s| refused(s) || looked_at(s)).count(), 8, "{statuses:?}");
    for _ in 0..3 {
        let good = with_cookie(&server, Method::GET, "/api/v1/machines", &cookie);
        assert_eq!(good.status, StatusCode::OK);
    }
    assert_eq!(server.get("/api/v1/health").status, StatusCode::OK);
}

#[test]
fn strangers_have_a_room_of_their_own_and_health_needs_none() {
    let none = Duration::from_millis(20);
    let full = guarded(Bounds { strangers: 0, patience: none, ..Bounds::default() });
    let cookie = cookie(&full);
    let stranger = full.get("/assets/paper.css");
    assert_eq!(stranger.status, StatusCode::SERVICE_UNAVAILABLE);
    problem(&stranger, "busy");
    let visitor = with_cookie(&full, Method::GET, "/assets/paper.css", &cookie);
    assert_eq!(visitor.status, StatusCode::OK);
    assert_eq!(full.get("/api/v1/health").status, StatusCode::OK);

    let full = guarded(Bounds { requests: 0, ..Bounds::default() });
    assert_eq!(full.get("/assets/paper.css").status, StatusCode::OK);
    assert_eq!(full.get("/api/v1/health").status, StatusCode::OK);
    let bearer = request(Method::GET, "/api/v1/machines");
    let bearer = bearer.header(header::AUTHORIZATION, format!("Bearer {TOKEN}"));
    let bearer = full.send(bearer.body(Body::empty()).expect("a request"));
    assert_eq!(bearer.status, StatusCode::SERVICE_UNAVAILABLE);
}

#[test]
fn a_login_is_short() {
    let server = guarded(Bounds::default());
    let long = "x".repeat(5 << 10);
    let answer = server.send(form("/login", &[("token", &long)]));
    assert_eq!(answer.status, StatusCode::PAYLOAD_TOO_LARGE);
    problem(&answer, "body");
    let mut sent = form("/login", &[("token", &long)]);
    sent.headers_mut().insert(header::ACCEPT, header::HeaderValue::from_static("text/html"));
    let page = server.send(sent);
    assert_eq!(page.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert!(page.text().contains("more was sent than is taken"), "{}", page.text());
    // As long as before elsewhere.
    let open = Server::new();
    let ask =
        serde_json::json!({ "garment": "cuff", "sizes": "women-m", "name": "x".repeat(200_000) });
    let answer = open.send(json_request(Method::POST, "/api/v1/grade", &ask));
    assert_ne!(answer.status, StatusCode::PAYLOAD_TOO_LARGE);
}
