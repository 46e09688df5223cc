//! Requests.

use std::time::Duration;

use super::example::Example;
use super::example::How::{By, Get, Post};
use super::example::{JSON, answered, failed, sent};
use app::{Places, Reserved, WorkspaceEdit};
use axum::body::{Body, Bytes};
use axum::http::{Method, StatusCode, header};
use diag::Code;
use http_body_util::{Full, Limited};
use serde_json::json;
use store::Place;
use store::workspace::{Basis, Given, List};
use web::{Bounds, Setup};

use crate::demo::Demo;
use crate::server::{Server, json_request, request, setup};

pub const EXAMPLES: &[Example] = &[
    // What is asked for.
    Example { code: Code::NoGarment, how: Get("/api/v1/grade?garment=tma") },
    Example { code: Code::Outdated, how: By(|| patched("?seen=4000")) },
    Example { code: Code::Rests, how: By(|| patched("?seen=six")) },
    Example { code: Code::Repeated, how: By(added_twice) },
    Example { code: Code::Sizes, how: Get("/api/v1/grade?garment=tam&sizes=y3000") },
    Example { code: Code::NoMachine, how: Get("/api/v1/grade?garment=tam&machine=steam") },
    Example { code: Code::NoSwatch, how: Get("/api/v1/grade?garment=tam&swatch_id=none") },
    Example { code: Code::Units, how: Get("/api/v1/grade?garment=tam&units=furlong") },
    Example {
        code: Code::Doubtful,
        how: Get(
            "/api/v1/grade?garment=tam&yarn=400+m%2F100+g&plain.stitches=40&plain.widths=13,4,12",
        ),
    },
    Example { code: Code::Format, how: Get("/api/v1/grade?garment=tam&format=wool") },
    Example { code: Code::Option, how: Get("/api/v1/grade?garment=tam&o.wedges=x") },
    Example { code: Code::Decision, how: Get("/api/v1/grade?garment=tam&o.fix.wedges=x") },
    Example { code: Code::InTurn, how: Get("/api/v1/grade?garment=tam&in_turn.hat=4") },
    Example { code: Code::UnknownKey, how: Get("/api/v1/grade?garment=tam&wedges=6") },
    Example { code: Code::OneSize, how: Get("/api/v1/walk?garment=cuff&sizes=y4,women-m") },
    Example {
        code: Code::Picture,
        how: Get("/api/v1/pattern?garment=cuff&sizes=y4&format=svg&picture=oil"),
    },
    Example {
        code: Code::Paper,
        how: Get("/api/v1/pattern?garment=cuff&sizes=y4&format=html&paper=napkin"),
    },
    Example {
        code: Code::NoYarn,
        how: Get("/api/v1/pattern?garment=cuff&sizes=y4&format=svg&picture=stripes&ball=none"),
    },
    Example { code: Code::Risk, how: Get("/api/v1/reach?garment=tam&risk=200") },
    Example { code: Code::ReachesNothing, how: Get("/api/v1/reach?weight=0.1+g&sizes=women") },
    Example { code: Code::NoPage, how: Get("/api/v1/nowhere") },
    Example { code: Code::NoAsset, how: Get("/assets/none.css") },
    Example { code: Code::NoList, how: Get("/api/v1/lists/hats") },
    Example { code: Code::NoPlace, how: Get("/api/v1/places/none") },
    Example { code: Code::NoPlan, how: Get("/api/v1/plans/0123456789abcdef") },
    Example {
        code: Code::Query,
        how: By(|| {
            let many = "sizes=y4&".repeat(121);
            answered(&Server::new().get(&format!("/api/v1/grade?{many}garment=tam")))
        }),
    },
    // What is sent.
    Example { code: Code::Body, how: Post("/api/v1/grade", "{\"colour\": \"red\"}") },
    Example { code: Code::Json, how: Post("/api/v1/grade", "{\"garment\": ") },
    Example { code: Code::Work, how: Post("/api/v1/plans", "{\"work\": 0}") },
    Example { code: Code::Swatch, how: Post("/api/v1/lists/swatches", "{\"id\": \"own\"}") },
    Example {
        code: Code::ContentType,
        how: By(|| answered(&sent(&Server::new(), "/api/v1/grade", "text/plain", "{}"))),
    },
    Example {
        code: Code::Form,
        how: By(|| answered(&sent(&Server::new(), "/gifts/do", JSON, "{}"))),
    },
    Example { code: Code::Place, how: By(beyond_the_end) },
    Example { code: Code::TooManyPlaces, how: By(a_piece_too_many) },
    // Batches.
    Example { code: Code::LineTooLong, how: By(|| batch(&"x".repeat(300).into())) },
    Example { code: Code::TooManyLines, how: By(|| batch(&"{}\n".repeat(4).into())) },
    Example { code: Code::CutShort, how: By(cut_short) },
    // Who asks, and when.
    Example {
        code: Code::Method,
        how: By(|| {
            let sent = request(Method::DELETE, "/api/v1/grade").body(Body::empty());
            answered(&Server::new().send(sent.expect("a request")))
        }),
    },
    Example {
        code: Code::Host,
        how: By(|| {
            let sent = axum::http::Request::get("/grade").header(header::HOST, "evil.example");
            answered(&Server::new().send(sent.body(Body::empty()).expect("a request")))
        }),
    },
    Example {
        code: Code::CrossOrigin,
        how: By(|| {
            let sent = request(Method::POST, "/api/v1/grade")
                .header(header::ORIGIN, "http://evil.example")
                .body(Body::empty());
            answered(&Server::new().send(sent.expect("a request")))
        }),
    },
    Example {
        code: Code::Token,
        how: By(|| {
            let token = Some("kittiwake".to_owned());
            answered(&Server::with(Setup { token, ..setup() }).get("/api/v1/machines"))
        }),
    },
    Example { code: Code::Guesses, how: By(guess_on) },
    Example {
        code: Code::Busy,
        how: By(|| bounded(Bounds { requests: 0, ..Bounds::default() }, "/api/v1/machines")),
    },
    Example {
        code: Code::TooSlow,
        how: By(|| {
            // No run ever gets its turn.
            let request_time = Duration::from_millis(50);
            let bounds = Bounds { gradings: 0, request_time, ..Bounds::default() };
            bounded(bounds, "/api/v1/grade?garment=tam")
        }),
    },
    Example { code: Code::Weight, how: By(no_weight) },
    Example { code: Code::Planning, how: By(two_plans) },
];

/// Wrong tokens, many at once.
fn guess_on() -> Vec<Code> {
    let token = Some("kittiwake".to_owned());
    let server = Server::with(Setup { token, ..setup() });
    let guess = || {
        let sent = request(Method::GET, "/api/v1/machines");
        let sent = sent.header(header::AUTHORIZATION, "Bearer puffin");
        server.send(sent.body(Body::empty()).expect("a request"))
    };
    std::thread::scope(|scope| {
        let asked: Vec<_> = (0..16).map(|_| scope.spawn(guess)).collect();
        let answers = asked.into_iter().map(|one| one.join().expect("an answer"));
        let refused: Vec<_> =
            answers.filter(|answer| answer.status == StatusCode::TOO_MANY_REQUESTS).collect();
        answered(refused.first().expect("one was not looked at"))
    })
}

fn bounded(bounds: Bounds, path: &str) -> Vec<Code> {
    answered(&Server::with(Setup { bounds, ..setup() }).get(path))
}

/// A batch to a server that takes three lines of two hundred bytes.
fn batch(body: &Bytes) -> Vec<Code> {
    batch_of(Body::from(body.clone()))
}

fn batch_of(body: Body) -> Vec<Code> {
    let bounds = Bounds { batch_line: 200, batch_lines: 3, ..Bounds::default() };
    let sent = request(Method::POST, "/api/v1/batch").header(header::CONTENT_TYPE, JSON);
    answered(&Server::with(Setup { bounds, ..setup() }).send(sent.body(body).expect("a request")))
}

/// A body that breaks off.
fn cut_short() -> Vec<Code> {
    let whole = Full::new(Bytes::from_static(b"{\"garment\": \"cuff\"}\n"));
    batch_of(Body::new(Limited::new(whole, 5)))
}

/// A place beyond the last step of a piece.
fn beyond_the_end() -> Vec<Code> {
    let server = Server::new();
    let query = "garment=cuff&sizes=women-m";
    let page = server.get(&format!("/machine?{query}"));
    let rest = page.text().split("data-place=\"").nth(1).expect("a place");
    let id = rest.split('"').next().expect("an id");
    let place = json!({ "query": query, "title": "Cuff", "stop": 9, "of": 8, "revision": 0 });
    answered(&server.send(json_request(Method::PUT, &format!("/api/v1/places/{id}"), &place)))
}

fn a_piece_too_many() -> Vec<Code> {
    let places = Places::open(None).expect("opened");
    let begun = Place {
        query: "garment=cuff".to_owned(),
        title: "Cuff".to_owned(),
        stop: 1,
        of: 9,
        revision: 0,
    };
    (0..1_001)
        .flat_map(|nth| failed(places.put(&format!("{nth:016x}"), begun.clone(), 0)))
        .collect()
}

/// A plan asked for while another waits for its turn.
fn two_plans() -> Vec<Code> {
    let demo = Demo::empty();
    let one_at_a_time = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .max_blocking_threads(1)
        .build()
        .expect("a runtime");
    let server = Server { runtime: one_at_a_time, ..Server::of(&demo) };
    let (done, wait) = std::sync::mpsc::channel::<()>();
    server.runtime.spawn_blocking(move || wait.recv());
    let begin = || server.post("/api/v1/plans", &json!({ "work": 1 }));
    assert_eq!(begin().status, StatusCode::ACCEPTED);
    let second = begin();
    drop(done);
    answered(&second)
}

/// A form to weigh a remnant again, left empty. A page shows no codes: the fault is known by its words.
fn no_weight() -> Vec<Code> {
    let demo = Demo::new();
    let kind = "application/x-www-form-urlencoded";
    let page = sent(&Server::of(&demo), "/gifts/do", kind, "what=weigh&id=shoreline-1&weight=");
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", page.text());
    let told = page.text().contains("what does it weigh?");
    told.then_some(Code::Weight).into_iter().collect()
}

/// An entry changed on the strength of a number.
fn patched(query: &str) -> Vec<Code> {
    let path = format!("/api/v1/lists/stash/shoreline-1{query}");
    let request = json_request(Method::PATCH, &path, &json!({ "weight": "1 g" }));
    answered(&Server::of(&Demo::new()).send(request))
}

/// Two changes with one key. A page and a program are told what was done the first time; whoever
/// makes the change itself is refused.
fn added_twice() -> Vec<Code> {
    let demo = Demo::new();
    let weighed = |weight: &str| {
        let basis = Basis::once(Some("a key".to_owned()));
        let edit = WorkspaceEdit::open(Some(&demo.path)).expect("a workspace");
        let fields = vec![("weight".to_owned(), Given::text(weight))];
        let (mut edit, reserved) = (edit.resting_on(basis), Reserved::default());
        edit.change_entry("stash change", List::Stash, "shoreline-1", fields, reserved)
    };
    assert!(weighed("2 g").is_ok());
    failed(weighed("1 g"))
}
