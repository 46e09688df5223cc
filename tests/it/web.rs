//! The server: the same results as the commands, and nothing for those who mean ill.

use std::net::IpAddr;
use std::time::Duration;

use app::{Places, Workbench, WorkbenchSources};
use assert_cmd::Command;
use axum::body::Body;
use axum::http::{Method, Request, StatusCode, header};
use serde_json::{Value, json};
use web::{self, Bounds, Setup, State};

use crate::server::{Server, command, json_request, problem, request, setup};
use crate::support::bench;

#[test]
fn every_format_comes_out_as_the_command_prints_it() {
    let server = Server::new();
    let sizes = "m6-12,women-m";
    let printed = command(&["grade", "tam", "--sizes", sizes, "--format", "json"]);
    let got = server.get(&format!("/api/v1/grade?garment=tam&sizes={sizes}"));
    assert_eq!((got.status, got.text()), (StatusCode::OK, printed.as_str()));
    let sent = server.post("/api/v1/grade", &json!({ "garment": "tam", "sizes": sizes }));
    assert_eq!(sent.text(), printed);
    for (format, flag) in [("text", "text"), ("markdown", "markdown"), ("json", "json")] {
        let printed = command(&["pattern", "tam", "--sizes", "y4..y9-10", "--format", flag]);
        let got =
            server.get(&format!("/api/v1/pattern?garment=tam&sizes=y4..y9-10&format={format}"));
        assert_eq!(got.text(), printed, "{format}");
    }
    for (format, flag) in [("csv", "csv"), ("text", "table"), ("markdown", "markdown")] {
        let printed =
            command(&["grade", "hat", "--sizes", "women", "--format", flag, "--units", "in"]);
        let got =
            server.get(&format!("/api/v1/grade?garment=hat&sizes=women&units=in&format={format}"));
        assert_eq!(got.text(), printed, "{format}");
    }
}

#[test]
fn options_measures_and_swatches_mean_what_they_mean_to_the_command() {
    let server = Server::new();
    let printed = command(&[
        "grade",
        "tam",
        "--machine",
        "mid",
        "--set",
        "wedges=8",
        "--measure",
        "head_girth=58 cm",
        "--name",
        "Ruan",
        "--format",
        "json",
    ]);
    let got =
        server.get("/api/v1/grade?garment=tam&machine=mid&o.wedges=8&m.head_girth=58&name=Ruan");
    assert_eq!(got.text(), printed);
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("own.toml");
    std::fs::write(
        &file,
        "name = \"harbour green\"\nyarn = \"400 m/100 g\"\n[[swatch]]\nstructure = \"plain\"\n\
         state = \"washed\"\nstitches = 40\nwidths = [\"13.4 cm\", \"13.5 cm\"]\nrows = 60\n\
         heights = [\"14.2 cm\"]\n",
    )
    .expect("written");
    let file = file.to_str().expect("a name");
    let printed =
        command(&["grade", "tam", "--swatch", file, "--sizes", "women", "--format", "json"]);
    let got = server.get(
        "/api/v1/grade?garment=tam&sizes=women&swatch_name=harbour+green&yarn=400+m/100+g\
         &plain.state=washed&plain.stitches=40&plain.widths=13.4,+13.5&plain.rows=60&plain.heights=14.2",
    );
    assert_eq!(got.text(), printed);
}

/// A form may send nothing but what a request knows, in whatever is left blank.
#[test]
fn forms_send_keys_of_a_request() {
    let server = Server::new();
    for page in ["/grade", "/swatch", "/machine", "/chart"] {
        let shown = server.get(page);
        // Fields may stand before the form that they belong to.
        let from = if page == "/grade" { "fields what" } else { "<form" };
        let form = shown.text().split_once(from).and_then(|(_, rest)| rest.split_once("</form>"));
        let (form, _) = form.expect("a form");
        let names = form.split(" name=\"").skip(1).filter_map(|rest| rest.split('"').next());
        let names: Vec<&str> = names.collect();
        assert!(names.contains(&"garment"), "{page}: {names:?}");
        let query: String = names.iter().map(|name| format!("{name}=&")).collect();
        let got = server.get(&format!("{page}?{query}"));
        assert_eq!(got.status, StatusCode::OK, "{page}?{query}: {}", got.text());
    }
    let got = server.get("/grade?garmnet=");
    assert_eq!(got.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[test]
fn charts_and_tables_are_those_of_the_commands() {
    let server = Server::new();
    let printed = command(&["chart", "--measures", "head_girth,hand_girth", "--format", "csv"]);
    let got = server.get("/api/v1/chart?measures=head_girth,hand_girth&format=csv");
    assert_eq!(got.text(), printed);
    let printed =
        command(&["chart", "tam", "--sizes", "babies", "--units", "both", "--format", "markdown"]);
    let by_chest = "measures=torso&sizes=adults&sized_by=chest_girth";
    let got = server.get(&format!("/api/v1/chart?{by_chest}&format=csv"));
    let theirs = ["--measures", "torso", "--sizes", "adults", "--sized-by", "chest_girth"];
    assert_eq!(got.text(), command(&[&["chart"], &theirs[..], &["--format", "csv"]].concat()));
    let page = server.get(&format!("/chart?{by_chest}"));
    let page = page.text();
    assert!(page.contains("60.5") && page.contains("goes with the chest girth"), "{page}");
    assert!(page.contains("<option value=\"torso\" selected>"), "{page}");
    assert!(page.contains("measures=torso&#38;sized_by=chest_girth&#38;format=csv"), "{page}");
    problem(&server.get("/api/v1/chart?sized_by=head_girth"), "measure");
    problem(&server.get("/api/v1/chart?garment=tam&sized_by=chest_girth"), "usage");
    let sizes = server.get("/api/v1/sizes").json();
    let chest = sizes["measures"].as_array().into_iter().flatten();
    let chest = chest.clone().find(|measure| measure["name"] == "chest_girth").expect("known");
    assert_eq!((&chest["part"], &chest["main"]), (&json!("torso"), &json!(false)));
    assert_eq!(server.get("/api/v1/garments/tam").json()["sized_by"], "head_girth");
    let got = server.get("/api/v1/chart?garment=tam&sizes=babies&units=both&format=markdown");
    assert_eq!(got.text(), printed);
    let garments = server.get("/api/v1/garments").json();
    let ids: Vec<&str> = garments["garments"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|g| g["id"].as_str().expect("an id"))
        .collect();
    assert_eq!(ids, bench().garment_ids());
    assert_eq!(server.get("/api/v1/garments/tam").json()["options"][0]["name"], "ease");
    assert_eq!(server.get("/api/v1/machines").json()["machines"].as_array().expect("m").len(), 4);
    assert_eq!(server.get("/api/v1/sizes").json()["sizes"].as_array().expect("s").len(), 21);
}

#[test]
fn a_size_that_cant_be_knitted_stays_in_the_list_with_its_reasons() {
    let server = Server::new();
    let got = server.get("/api/v1/grade?garment=sock&sizes=women-m,men-xl&machine=bulky");
    assert_eq!(got.status, StatusCode::OK);
    let printed = command(&[
        "grade",
        "sock",
        "--sizes",
        "women-m,men-xl",
        "--machine",
        "bulky",
        "--format",
        "json",
    ]);
    assert_eq!(got.text(), printed);
}

#[test]
fn swatch_readings_give_a_gauge_with_its_error_and_what_that_moves() {
    let server = Server::new();
    let question = json!({
        "swatch": { "yarn": "400 m/100 g", "swatch": [{
            "structure": "plain", "stitches": 40, "widths": ["14.2 cm", "14.3 cm", "14.4 cm"],
            "rows": 60, "heights": ["15 cm", "15.1 cm", "14.9 cm"] }] },
        "garment": "tam", "size": "women-m",
    });
    let got = server.post("/api/v1/swatch", &question);
    assert_eq!(got.status, StatusCode::OK, "{}", got.text());
    let body = got.json();
    let plain = &body["swatches"]["plain"];
    assert!((plain["stitches_per_10_cm"].as_f64().expect("a number") - 27.97).abs() < 0.02);
    assert!(plain["stitches_error"].as_f64().expect("a number") > 0.0);
    assert_eq!(body["swatches"]["rib 1x1"]["estimated"], true);
    let finished = body["finished"].as_array().expect("finished");
    assert!(finished.iter().all(|f| f["error_mm"].as_f64().expect("a number") > 0.0));
}

#[test]
fn a_result_has_a_tag_and_is_not_sent_twice() {
    let server = Server::new();
    for path in [
        "/api/v1/grade?garment=cuff&sizes=women-m",
        "/api/v1/pattern?garment=cuff&sizes=women-m",
        "/api/v1/machines",
        "/api/v1/openapi.json",
        "/grade?garment=cuff&sizes=women-m",
        "/assets/paper.css",
    ] {
        let first = server.get(path);
        let tag = first.header(header::ETAG).to_owned();
        assert!(tag.starts_with('"') && tag.len() == 34, "{path}: {tag}");
        assert!(!first.header(header::CACHE_CONTROL).is_empty(), "{path}");
        let again = |tag: &str| {
            let again = request(Method::GET, path).header(header::IF_NONE_MATCH, tag);
            server.send(again.body(Body::empty()).expect("a request"))
        };
        let same = again(&format!("\"other\", {tag}"));
        assert_eq!((same.status, same.bytes.len()), (StatusCode::NOT_MODIFIED, 0), "{path}");
        assert_eq!(same.header(header::ETAG), tag);
        assert_eq!(again("\"other\"").status, StatusCode::OK);
    }
    let one = server.get("/api/v1/grade?garment=cuff&sizes=women-m");
    let other = server.get("/api/v1/grade?garment=cuff&sizes=women-l");
    assert_ne!(one.header(header::ETAG), other.header(header::ETAG));
}

#[test]
fn whatever_is_wrong_is_a_problem_document_with_a_hint() {
    let server = Server::new();
    for (path, status, code) in [
        ("/api/v1/grade", 422, "no-garment"),
        ("/api/v1/grade?garment=tma", 422, "no-garment"),
        ("/api/v1/grade?garment=tam&sizes=y3000", 422, "sizes"),
        ("/api/v1/grade?garment=tam&machine=steam", 422, "no-machine"),
        ("/api/v1/grade?garment=tam&units=furlong", 422, "units"),
        ("/api/v1/grade?garment=tam&format=wool", 422, "format"),
        ("/api/v1/grade?garment=tam&o.wedges=banana", 422, "option"),
        ("/api/v1/grade?garment=tam&m.head_girth=-3", 422, "unit"),
        ("/api/v1/grade?garment=tam&wedges=6", 422, "unknown-key"),
        ("/api/v1/grade?garment=tam&plain.stitches=x", 422, "count"),
        ("/api/v1/walk?garment=tam&sizes=all", 422, "one-size"),
        ("/api/v1/garments/none", 404, "no-garment"),
        ("/api/v1/places/none", 404, "no-place"),
        ("/api/v1/nowhere", 404, "no-page"),
        ("/assets/none.css", 404, "no-asset"),
    ] {
        let answer = server.get(path);
        assert_eq!(answer.status.as_u16(), status, "{path}: {}", answer.text());
        let body = problem(&answer, code);
        let hinted = body["errors"]
            .as_array()
            .expect("errors")
            .iter()
            .any(|e| !e["hints"].as_array().expect("hints").is_empty());
        assert!(hinted || status == 404, "{path}: {body}");
    }
    let near = server.get("/api/v1/grade?garment=tma").json();
    assert_eq!(near["errors"][0]["hints"][0], "did you mean `tam`?");
    let several =
        server.get("/api/v1/grade?garment=tam&o.wedges=x&sizes=y3000&units=furlong").json();
    assert!(several["errors"].as_array().expect("errors").len() >= 3, "{several}");
    // For a person it is a page.
    let page = request(Method::GET, "/nowhere").header(header::ACCEPT, "text/html,*/*");
    let page = server.send(page.body(Body::empty()).expect("a request"));
    assert_eq!(page.status, StatusCode::NOT_FOUND);
    assert!(page.text().contains("<h1>There is nothing here</h1>"), "{}", page.text());
}

#[test]
fn malformed_and_oversized_bodies_are_refused() {
    let server = Server::new();
    let raw = |kind: &str, body: &str| {
        let request = request(Method::POST, "/api/v1/grade").header(header::CONTENT_TYPE, kind);
        server.send(request.body(Body::from(body.to_owned())).expect("a request"))
    };
    let bad = raw("application/json", "{\"garment\": ");
    assert_eq!(bad.status, StatusCode::BAD_REQUEST);
    problem(&bad, "json");
    let unknown = raw("application/json", "{\"garment\": \"tam\", \"colour\": \"red\"}");
    assert_eq!(unknown.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(problem(&unknown, "body")["detail"].as_str().expect("text").contains("colour"));
    let typed = raw("text/plain", "{\"garment\": \"tam\"}");
    assert_eq!(typed.status, StatusCode::UNSUPPORTED_MEDIA_TYPE);
    problem(&typed, "content-type");
    let large = raw("application/json", &format!("{{\"garment\": \"{}\"}}", "x".repeat(300 << 10)));
    assert_eq!(large.status, StatusCode::PAYLOAD_TOO_LARGE);
    problem(&large, "body");
    let deep = raw("application/json", &"[".repeat(100_000));
    // A list where a text should be: refused before its depth matters.
    assert_eq!(deep.status, StatusCode::UNPROCESSABLE_ENTITY);
    let deep = raw("application/json", &format!("{{\"options\": {{\"a\": {}", "[".repeat(100_000)));
    assert_eq!(deep.status, StatusCode::BAD_REQUEST);
    problem(&deep, "json");
    let method =
        server.send(request(Method::DELETE, "/api/v1/grade").body(Body::empty()).expect("r"));
    assert_eq!(method.status, StatusCode::METHOD_NOT_ALLOWED);
    problem(&method, "method");
}

#[test]
fn no_path_reaches_the_disk() {
    let folder = tempfile::tempdir().expect("a folder");
    // A garment that is there, but not in the folder of garments.
    let secret = folder.path().join("secret");
    std::fs::create_dir(&secret).expect("made");
    for file in ["plugin.toml", "init.luau"] {
        let from = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/square");
        std::fs::copy(from.join(file), secret.join(file)).expect("copied");
    }
    let server = Server::new();
    let absolute = secret.to_str().expect("a name");
    for name in [
        absolute,
        "../plugins/tam",
        "./tam",
        "plugins/tam",
        "..",
        ".",
        "tam/",
        "tam\\..\\hat",
        "fixtures/square",
        "tam\0",
        "%2e%2e",
        "",
    ] {
        let query = serde_urlencoded::to_string([("garment", name)]).expect("encoded");
        for path in ["/api/v1/grade", "/api/v1/pattern", "/api/v1/walk"] {
            let answer = server.get(&format!("{path}?{query}&sizes=women-m"));
            assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{path} {name}");
            problem(&answer, "no-garment");
        }
        let sent = server.post("/api/v1/grade", &json!({ "garment": name, "sizes": "women-m" }));
        problem(&sent, "no-garment");
    }
    for path in [
        "/assets/..%2f..%2fCargo.toml",
        "/assets/%2e%2e/%2e%2e/Cargo.toml",
        "/garments/..%2f..%2fplugins%2ftam",
        "/api/v1/garments/%2fetc%2fpasswd",
        "/api/v1/places/..%2f..%2fx",
        "/../Cargo.toml",
        "//etc/passwd",
    ] {
        assert_eq!(server.get(path).status, StatusCode::NOT_FOUND, "{path}");
    }
}

#[test]
fn every_answer_carries_its_headers() {
    let server = Server::new();
    for path in [
        "/grade?garment=cuff&sizes=women-m",
        "/api/v1/health",
        "/assets/form.js",
        "/nowhere",
        "/",
        "/api/v1/grade",
    ] {
        let answer = server.get(path);
        let policy = answer.header(header::CONTENT_SECURITY_POLICY);
        assert!(policy.starts_with("default-src 'none'; script-src 'self';"), "{path}: {policy}");
        assert!(policy.contains("frame-ancestors 'none'") && !policy.contains("unsafe"), "{path}");
        assert_eq!(answer.header(header::X_CONTENT_TYPE_OPTIONS), "nosniff", "{path}");
        assert_eq!(answer.header(header::REFERRER_POLICY), "same-origin", "{path}");
        assert!(!answer.header(header::CACHE_CONTROL).is_empty(), "{path}");
    }
    let refused = Request::get("/grade").header(header::HOST, "evil.example");
    let refused = server.send(refused.body(Body::empty()).expect("a request"));
    assert!(!refused.header(header::CONTENT_SECURITY_POLICY).is_empty());
}

/// No page asks another host for anything, nor holds script or style that the policy forbids.
#[test]
fn pages_keep_to_their_own_policy() {
    let server = Server::new();
    for path in [
        "/grade?garment=tam&sizes=women",
        "/machine",
        "/machine?garment=tam&sizes=women-m",
        "/machine?garment=sock&sizes=women-m&at=29",
        "/machine/finish?garment=tam&sizes=women-m",
        "/reach?garment=tam&sizes=women-m&weight=34",
        "/swatch",
        "/chart",
        "/chart?garment=tam&units=in",
        "/garments",
        "/garments/tam",
        "/login",
    ] {
        let page = server.get(path);
        assert_eq!(page.status, StatusCode::OK, "{path}");
        let text = page.text();
        assert!(text.starts_with("<!doctype html>"), "{path}");
        for foreign in ["src=\"http", "href=\"http", "src=\"//", " style=\"", " onclick", "<style"]
        {
            assert!(!text.contains(foreign), "{path} has {foreign}");
        }
        for script in text.split("<script").skip(1) {
            assert!(script.starts_with(" src=\"/assets/"), "{path}: a script in the page");
        }
        // No link leads nowhere.
        for href in text.split("href=\"").skip(1).filter_map(|rest| rest.split('"').next()) {
            let href = href.replace("&#38;", "&").replace("&amp;", "&");
            if href.starts_with('#')
                || href.contains("/api/v1/pattern?")
                || href.starts_with("/machine?")
            {
                continue;
            }
            let status = server.get(&href).status;
            assert!(
                status.is_success() || status.is_redirection(),
                "{path}: {href} gives {status}"
            );
        }
    }
}

#[test]
fn only_its_own_host_and_origin_may_write() {
    let server = Server::new();
    let host = |host: &str| {
        let request = Request::get("/api/v1/health").header(header::HOST, host);
        server.send(request.body(Body::empty()).expect("a request")).status
    };
    assert_eq!(host("127.0.0.1:8017"), StatusCode::OK);
    assert_eq!(host("LocalHost:8017"), StatusCode::OK);
    for other in
        ["evil.example", "evil.example:8017", "127.0.0.1:80", "127.0.0.1", "10.0.0.1:8017", ""]
    {
        assert_eq!(host(other), StatusCode::MISDIRECTED_REQUEST, "{other}");
    }
    let none = Request::get("/api/v1/health").body(Body::empty()).expect("a request");
    assert_eq!(server.send(none).status, StatusCode::BAD_REQUEST);

    let ask = json!({ "garment": "cuff", "sizes": "women-m" }).to_string();
    let write = |extra: &[(&str, &str)]| {
        let mut request =
            request(Method::POST, "/api/v1/grade").header(header::CONTENT_TYPE, "application/json");
        for (name, value) in extra {
            request = request.header(*name, *value);
        }
        server.send(request.body(Body::from(ask.clone())).expect("a request")).status
    };
    assert_eq!(write(&[]), StatusCode::OK);
    assert_eq!(
        write(&[("origin", "http://127.0.0.1:8017"), ("sec-fetch-site", "same-origin")]),
        StatusCode::OK
    );
    for bad in [
        ("origin", "http://evil.example"),
        ("origin", "null"),
        ("origin", "http://127.0.0.1:9"),
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
    ] {
        assert_eq!(write(&[bad]), StatusCode::FORBIDDEN, "{bad:?}");
    }
}

#[test]
fn an_open_address_takes_addresses_and_named_hosts_but_no_strange_names() {
    let server = Server::with(Setup {
        address: IpAddr::from([0, 0, 0, 0]),
        names: vec!["Lamp.home".to_owned()],
        token: Some("a long enough token".to_owned()),
        ..setup()
    });
    let host = |host: &str| {
        let request = Request::get("/api/v1/health").header(header::HOST, host);
        server.send(request.body(Body::empty()).expect("a request")).status
    };
    for ours in
        ["192.168.1.7:8017", "lamp.home:8017", "lamp.home", "[fe80::1]:8017", "localhost:8017"]
    {
        assert_eq!(host(ours), StatusCode::OK, "{ours}");
    }
    assert_eq!(host("evil.example:8017"), StatusCode::MISDIRECTED_REQUEST);
}

#[test]
fn a_token_is_asked_for_and_never_sent_back() {
    let token = "kittiwake and fulmar";
    let server = Server::with(Setup { token: Some(token.to_owned()), ..setup() });
    let api = server.get("/api/v1/machines");
    assert_eq!(api.status, StatusCode::UNAUTHORIZED);
    assert_eq!(api.header(header::WWW_AUTHENTICATE), "Bearer");
    problem(&api, "token");
    let page = server.get("/grade?garment=tam");
    assert_eq!(page.status, StatusCode::SEE_OTHER);
    assert_eq!(page.header(header::LOCATION), "/login?next=%2Fgrade%3Fgarment%3Dtam");
    assert_eq!(server.get("/login").status, StatusCode::OK);
    let bearer = |shown: &str| {
        let request = request(Method::GET, "/api/v1/machines")
            .header(header::AUTHORIZATION, format!("Bearer {shown}"));
        server.send(request.body(Body::empty()).expect("a request")).status
    };
    assert_eq!(bearer(token), StatusCode::OK);
    for wrong in ["", "kittiwake", "kittiwake and fulmar!", "Kittiwake and fulmar"] {
        assert_eq!(bearer(wrong), StatusCode::UNAUTHORIZED, "{wrong}");
    }
    let login = |shown: &str, next: &str| {
        let form =
            serde_urlencoded::to_string([("token", shown), ("next", next)]).expect("encoded");
        let request = request(Method::POST, "/login")
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
        server.send(request.body(Body::from(form)).expect("a request"))
    };
    let wrong = login("guess guess guess", "/grade");
    assert_eq!(wrong.status, StatusCode::UNAUTHORIZED);
    assert!(wrong.headers.get(header::SET_COOKIE).is_none());
    let right = login(token, "//evil.example");
    assert_eq!((right.status, right.header(header::LOCATION)), (StatusCode::SEE_OTHER, "/"));
    let cookie = right.header(header::SET_COOKIE).to_owned();
    for part in ["HttpOnly", "SameSite=Strict", "Path=/"] {
        assert!(cookie.contains(part), "{cookie}");
    }
    assert!(!cookie.contains("kittiwake"), "the token itself is in the cookie");
    let pair = cookie.split(';').next().expect("a pair");
    let with = |pair: &str| {
        let request = request(Method::GET, "/api/v1/machines").header(header::COOKIE, pair);
        server.send(request.body(Body::empty()).expect("a request")).status
    };
    assert_eq!(with(&format!("a=b; {pair}")), StatusCode::OK);
    assert_eq!(with(&pair[..pair.len() - 1]), StatusCode::UNAUTHORIZED);
}

#[test]
fn a_batch_of_two_thousand_lines_comes_back_in_order_and_never_all_at_once() {
    let server = Server::new();
    let sizes = |k| match k {
        0 => "women-m",
        5 => "y4",
        _ => "nonsense",
    };
    let mut lines = String::new();
    for n in 0..2_000 {
        lines.push_str(&match n % 10 {
            9 => "{ this is no JSON\n".to_owned(),
            k => json!({ "id": n, "garment": "cuff", "sizes": sizes(k) }).to_string() + "\n",
        });
    }
    let request = request(Method::POST, "/api/v1/batch")
        .header(header::CONTENT_TYPE, "application/x-ndjson")
        .body(Body::from(lines))
        .expect("a request");
    let answer = server.send(request);
    assert_eq!(answer.status, StatusCode::OK);
    let answers: Vec<Value> =
        answer.text().lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
    assert_eq!(answers.len(), 2_000);
    for (n, answer) in answers.iter().enumerate() {
        assert_eq!(answer["line"], n + 1);
        match n % 10 {
            9 => assert_eq!(answer["error"]["code"], "json"),
            k if sizes(k) == "nonsense" => assert_eq!(answer["error"]["code"], "sizes", "{answer}"),
            k => {
                assert_eq!(answer["id"], n);
                assert_eq!(answer["result"]["sizes"][0]["size"], sizes(k));
            }
        }
    }
    let single = server.get("/api/v1/grade?garment=cuff&sizes=women-m").json();
    assert_eq!(answers[0]["result"], single);
    let metrics = server.get("/api/v1/metrics");
    let most = metrics
        .text()
        .lines()
        .find_map(|line| line.strip_prefix("oddments_batch_in_flight_max "))
        .and_then(|value| value.parse::<usize>().ok())
        .expect("a gauge");
    assert!((1..=Bounds::default().gradings * 2).contains(&most), "{most} lines at once");
}

#[test]
fn a_batch_gives_the_same_bytes_on_the_command_line() {
    let swatch = json!({
        "yarn": "400 m/100 g",
        "swatch": [{
            "structure": "plain", "stitches": 40, "widths": ["13.4 cm", "13.5 cm"],
            "rows": 60, "heights": ["14.2 cm", "14.3 cm"],
        }],
    });
    let lines = [
        json!({ "id": "a", "garment": "tam", "sizes": "y4..y8", "options": { "wedges": 6 } }),
        json!({ "garment": "cuff", "machine": "bulky", "measures": { "wrist_girth": "17 cm" } }),
        json!({ "garment": "cuff", "swatch": swatch, "sizes": "women-m", "units": "in" }),
        json!({ "id": 4, "garment": "cuff", "swatch": { "yarn": "no yarn" } }),
        json!({ "garment": "../tam" }),
        json!({ "garment": "tem", "sizes": "all" }),
        json!({ "garment": "tam", "sizes": "nobody", "units": "ell", "options": { "x": true } }),
        json!({ "garment": "tam", "picture": 3 }),
        json!([1, 2]),
    ];
    let mut text: String = lines.iter().map(|line| line.to_string() + "\n").collect();
    text.push_str(&format!("\n{}\nno JSON", "x".repeat(70_000)));
    let request = request(Method::POST, "/api/v1/batch")
        .header(header::CONTENT_TYPE, "application/x-ndjson")
        .body(Body::from(text.clone()))
        .expect("a request");
    let served = Server::new().send(request);
    let mut command = Command::cargo_bin("oddments").expect("built");
    let told = command.arg("batch").write_stdin(text).output().expect("run");
    assert_eq!(served.text().lines().count(), lines.len() + 2);
    assert_eq!(served.text(), String::from_utf8_lossy(&told.stdout));
}

#[test]
fn a_batch_bounds_its_lines() {
    let bounds = Bounds { batch_line: 200, batch_lines: 3, ..Bounds::default() };
    let server = Server::with(Setup { bounds, ..setup() });
    let line = json!({ "garment": "cuff", "sizes": "women-m" }).to_string();
    let long = "x".repeat(5_000);
    let body = format!("\n{long}\n{line}\n{line}\n{line}");
    let send = |kind: &str, body: String| {
        let request = request(Method::POST, "/api/v1/batch").header(header::CONTENT_TYPE, kind);
        server.send(request.body(Body::from(body)).expect("a request"))
    };
    let answer = send("application/x-ndjson", body);
    let codes: Vec<(Value, Value)> = answer
        .text()
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).expect("JSON"))
        .map(|a| (a["line"].clone(), a["error"]["code"].clone()))
        .collect();
    let expected = [
        (json!(2), json!("line-too-long")),
        (json!(3), Value::Null),
        (json!(4), json!("too-many-lines")),
    ];
    assert_eq!(codes, expected, "{}", answer.text());
    assert_eq!(send("text/plain", line).status, StatusCode::UNSUPPORTED_MEDIA_TYPE);
}

#[test]
fn whoever_comes_when_there_is_no_room_is_asked_to_come_again() {
    let bounds = Bounds { requests: 0, ..Bounds::default() };
    let server = Server::with(Setup { bounds, ..setup() });
    let answer = server.get("/api/v1/machines");
    assert_eq!(answer.status, StatusCode::SERVICE_UNAVAILABLE);
    assert_eq!(answer.header(header::RETRY_AFTER), "1");
    problem(&answer, "busy");
    let bounds = Bounds { gradings: 0, patience: Duration::from_millis(20), ..Bounds::default() };
    let server = Server::with(Setup { bounds, ..setup() });
    let answer = server.get("/api/v1/grade?garment=tam");
    assert_eq!(answer.status, StatusCode::SERVICE_UNAVAILABLE);
}

#[test]
fn a_place_is_kept_for_all_devices_and_outlives_the_server() {
    let folder = tempfile::tempdir().expect("a folder");
    let with_folder = || Setup {
        places: Places::open(Some(folder.path().to_owned())).expect("opened"),
        ..setup()
    };
    let server = Server::with(with_folder());
    let page = server.get("/machine?garment=tam&sizes=women-m");
    let id =
        page.text().split("data-place=\"").nth(1).and_then(|r| r.split('"').next()).expect("an id");
    let path = format!("/api/v1/places/{id}");
    assert_eq!(server.get(&path).status, StatusCode::NOT_FOUND);
    let put = |server: &Server, stop: u32, revision: u64, query: &str| {
        let place = json!({ "query": query, "title": "Tam", "stop": stop, "of": 900, "revision": revision });
        server.send(json_request(Method::PUT, &path, &place))
    };
    let query = "garment=tam&sizes=women-m";
    assert_eq!(put(&server, 30, 0, query).json()["revision"], 1);
    // Another device that had not seen it yet.
    let late = put(&server, 31, 0, query);
    assert_eq!(late.status, StatusCode::CONFLICT);
    assert_eq!(late.json()["stop"], 30);
    assert_eq!(put(&server, 31, 1, query).status, StatusCode::OK);
    let strange = put(&server, 31, 2, "garment=hat&sizes=women-m");
    assert_eq!(strange.status, StatusCode::UNPROCESSABLE_ENTITY);
    drop(server);
    let server = Server::with(with_folder());
    assert_eq!(server.get(&path).json()["stop"], 31);
    assert!(server.get("/machine?garment=tam&sizes=women-m").text().contains("step 31 of"));
    assert!(server.get("/machine").text().contains("31 of 900 steps"));
    assert_eq!(server.get("/api/v1/places").json().as_array().expect("a list").len(), 1);
}

#[test]
fn the_walk_is_the_walk_of_the_report() {
    let server = Server::new();
    let walk = server.get("/api/v1/walk?garment=tam&sizes=women-m").json();
    let grade = server.get("/api/v1/grade?garment=tam&sizes=women-m").json();
    let rows: u64 = grade["sizes"][0]["pieces"]
        .as_array()
        .expect("pieces")
        .iter()
        .map(|p| p["rows"].as_u64().expect("rows"))
        .sum();
    assert_eq!(walk["rows"], rows);
    let passes = walk["stops"].as_array().expect("stops").iter().filter(|s| !s["pass"].is_null());
    assert_eq!(passes.count() as u64, rows);
}

#[test]
fn the_description_lists_every_route_and_every_one_answers() {
    let server = Server::new();
    let doc = server.get("/api/v1/openapi.json").json();
    assert_eq!(doc["info"]["title"], "oddments");
    let paths = doc["paths"].as_object().expect("paths");
    let mut operations = 0;
    for (path, methods) in paths {
        for (method, operation) in methods.as_object().expect("methods") {
            operations += 1;
            assert!(operation["summary"].is_string(), "{method} {path}");
            let real = path.replace("{id}", "tam").replace("{list}", "stash");
            let method = method.to_uppercase().parse::<Method>().expect("a method");
            let answer =
                server.send(request(method, &real).body(Body::empty()).expect("a request"));
            assert_ne!(answer.status, StatusCode::METHOD_NOT_ALLOWED, "{path}");
            let unrouted =
                answer.status == StatusCode::NOT_FOUND && answer.text().contains("no-page");
            assert!(!unrouted, "{path}");
        }
    }
    // Whatever the sources route under /api must be described.
    let folder = format!("{}/src/web", env!("CARGO_MANIFEST_DIR"));
    let sources = std::fs::read_dir(folder).expect("a folder").filter_map(|entry| {
        let path = entry.expect("an entry").path();
        let rust = path.extension().is_some_and(|ending| ending == "rs");
        rust.then(|| std::fs::read_to_string(path).expect("a source"))
    });
    let sources: Vec<String> = sources.collect();
    let declared: usize = sources.iter().map(|text| text.matches("#[utoipa::path(").count()).sum();
    assert_eq!(operations, declared);
    let past = sources.iter().any(|text| text.contains(".route(\"/api"));
    assert!(!past, "routed past the description");
}

#[test]
fn a_faulty_garment_is_shown_with_file_and_line_and_the_last_good_one_still_graded() {
    let folder = tempfile::tempdir().expect("a folder");
    let own = folder.path().join("square");
    std::fs::create_dir(&own).expect("made");
    let fixture = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/square");
    for file in ["plugin.toml", "init.luau"] {
        std::fs::copy(fixture.join(file), own.join(file)).expect("copied");
    }
    let sources = WorkbenchSources {
        garments: Some(folder.path().to_owned()),
        ..WorkbenchSources::default()
    };
    let server =
        Server::with(Setup { bench: Workbench::open(&sources).expect("opened"), ..setup() });
    let good = server.get("/api/v1/grade?garment=square&sizes=women-m");
    assert_eq!(good.status, StatusCode::OK, "{}", good.text());
    let script = own.join("init.luau");
    let text = std::fs::read_to_string(&script).expect("read");
    std::fs::write(&script, text.replace("local side,", "local side, = oops")).expect("written");
    let still = server.get("/api/v1/grade?garment=square&sizes=women-m");
    assert_eq!(still.text(), good.text());
    let page = server.get("/garments/square");
    assert!(page.text().contains("init.luau:2"), "{}", page.text());
    let page = server.get("/grade?garment=square&sizes=women-m");
    assert!(page.text().contains("init.luau:2"), "{}", page.text());
}

/// With a listener: what a client sees on the wire, and one who sends its head a byte at a time.
#[test]
fn on_a_real_connection() {
    use std::io::{Read, Write};
    let bounds = Bounds { head_time: Duration::from_millis(400), ..Bounds::default() };
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("runs");
    let listener = runtime.block_on(tokio::net::TcpListener::bind("127.0.0.1:0")).expect("bound");
    let port = listener.local_addr().expect("an address").port();
    let state = State::new(Setup { port, bounds, ..setup() });
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let served = runtime.spawn(web::run(listener, state, async {
        let _ = stopped.await;
    }));
    let connect = || {
        let stream = std::net::TcpStream::connect(("127.0.0.1", port)).expect("connected");
        stream.set_read_timeout(Some(Duration::from_secs(20))).expect("set");
        stream
    };
    let mut stream = connect();
    write!(
        stream,
        "GET /api/v1/health HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n"
    )
    .expect("sent");
    let mut text = String::new();
    stream.read_to_string(&mut text).expect("read");
    assert!(text.starts_with("HTTP/1.1 200 OK\r\n"), "{text}");
    assert!(text.contains("content-security-policy: default-src 'none'"), "{text}");

    // Hung up on, though it keeps sending.
    let mut slow = connect();
    let begun = std::time::Instant::now();
    let mut dropped = false;
    for byte in b"GET /api/v1/health HTTP/1.1\r\nX-A: ".iter().chain([b'a'; 400].iter()) {
        if slow.write_all(&[*byte]).is_err() {
            dropped = true;
            break;
        }
        std::thread::sleep(Duration::from_millis(25));
    }
    assert!(dropped, "still served after {:?}", begun.elapsed());

    let _ = stop.send(());
    runtime.block_on(served).expect("ended in order");
    assert!(std::net::TcpStream::connect(("127.0.0.1", port)).is_err(), "still listening");
}

/// The command itself: prints where it listens, and ends in order when told to.
#[cfg(unix)]
#[test]
fn the_command_serves_and_stops() {
    use std::io::{BufRead, BufReader, Read, Write};
    let program = assert_cmd::cargo::cargo_bin!("oddments");
    let mut child = std::process::Command::new(program)
        .args(["serve", "--listen", "127.0.0.1:0"])
        .stdout(std::process::Stdio::piped())
        .spawn()
        .expect("started");
    let mut lines = BufReader::new(child.stdout.take().expect("piped")).lines();
    let first = lines.next().expect("a line").expect("text");
    let address = first.strip_prefix("Listening on http://").expect("an address").to_owned();
    let mut stream = std::net::TcpStream::connect(&address).expect("connected");
    write!(stream, "GET /grade HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n")
        .expect("sent");
    let mut text = String::new();
    stream.read_to_string(&mut text).expect("read");
    assert!(text.contains("Wedge tam"), "{text}");
    let id = child.id().to_string();
    assert!(
        std::process::Command::new("kill").args(["-TERM", &id]).status().expect("run").success()
    );
    assert!(child.wait().expect("ended").success());
}
