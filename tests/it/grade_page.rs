//! The page of a garment as people look at it: one size first, what is chosen slid along, two side by
//! side.

use std::collections::BTreeSet;

use axum::body::Body;
use axum::http::{Method, StatusCode, header};

use crate::server::{Server, request};
use crate::support::bench;

/// Where each of these words begins, one after the other.
fn in_order(text: &str, words: &[&str]) {
    let mut from = 0;
    for word in words {
        let at = text[from..].find(word);
        from += at.unwrap_or_else(|| panic!("{word} does not come next in {text}"));
    }
}

/// A page without its pictures.
fn without_pictures(page: &str) -> String {
    let mut rest = page;
    let mut kept = String::new();
    while let Some((before, after)) = rest.split_once("<svg") {
        kept.push_str(before);
        rest = after.split_once("</svg>").expect("an end").1;
    }
    kept + rest
}

#[test]
fn one_size_comes_first_and_all_on_demand() {
    let server = Server::new();
    let page = server.get("/grade?garment=tam");
    in_order(
        page.text(),
        &[
            "<h2>Wedge tam, Women M</h2>",
            "<title>How the stripes fall: Wedge tam, Women M</title>",
            "<figure class=\"round\" id=\"round\" data-round=\"/api/v1/garments/tam/round?sizes=women-m\"",
            "picture=round\" alt=\"Wedge tam, Women M, in the round: ",
            "Finished sizes",
            "<caption>Yarn",
            "/machine?garment=tam&#38;sizes=women-m\">Knit it</a>",
            "Link to this run",
            "<form id=\"ask\"",
        ],
    );
    assert!(!page.text().contains("Men XL</th>"), "{}", page.text());
    let all = "/grade?garment=tam&#38;sizes=all";
    assert!(page.text().contains(&format!("href=\"{all}\">All sizes as a table")));
    let all = server.get(&all.replace("&#38;", "&"));
    assert!(all.text().contains("Men XL</th>") && all.text().contains("Knit it"), "{}", all.text());
    // Made to measure is one size too.
    let own = server.get("/grade?garment=tam&m.head_girth=58&name=Ruan");
    assert!(own.text().contains("<h2>Wedge tam, Ruan</h2>"), "{}", own.text());
}

#[test]
fn each_garment_opens_in_a_size_that_it_is_knitted_in() {
    let server = Server::new();
    for garment in bench().garment_ids() {
        let page = server.get(&format!("/grade/result?garment={garment}"));
        let text = page.text();
        assert!(text.contains(">Knit it</a>"), "{garment}: {text}");
        assert!(text.contains("<title>How the stripes fall"), "{garment}");
        assert!(text.contains("Look closely"), "{garment}");
    }
}

#[test]
fn two_sizes_or_two_yarns_stand_side_by_side() {
    let server = Server::new();
    let both = "/grade?garment=sock&sizes=y7-8&beside=men-xl&beside_ball=tide&start=1.5";
    let page = server.get(both);
    in_order(
        page.text(),
        &[
            "<h2>Circular socks, a pair, 7-8",
            "deep water",
            "<h2>Circular socks, a pair, Men XL</h2>",
        ],
    );
    assert_eq!(page.text().matches("<article").count(), 2);
    assert_eq!(page.text().matches("id=\"round\"").count(), 1);
    let share = "beside=men-xl&#38;beside_ball=tide\">Link to this run";
    assert!(page.text().contains(share), "{}", page.text());
    assert!(page.text().contains("value=\"men-xl\" selected"), "the choice is lost");
    let wrong = server.get("/grade?garment=sock&sizes=y7-8&beside_ball=seaweed");
    assert_eq!(wrong.text().matches("<article").count(), 1);
    assert!(wrong.text().contains("seaweed"), "{}", wrong.text());
}

#[test]
fn no_id_comes_twice_and_no_page_is_heavy() {
    let server = Server::new();
    for path in [
        "/grade?garment=tam",
        "/grade?garment=pullover&sizes=men-xl&beside=y7-8&beside_ball=tide",
        "/grade?garment=sock&sizes=all",
        "/garments",
        "/garments/mitten",
        "/grade/close?garment=tam&piece=hat",
    ] {
        let page = server.get(path);
        assert_eq!(page.status, StatusCode::OK, "{path}: {}", page.text());
        let mut seen = BTreeSet::new();
        for id in page.text().split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()) {
            assert!(seen.insert(id), "{path}: {id} comes twice");
        }
        let bare = without_pictures(page.text());
        assert!(bare.len() < 60_000, "{path}: {} bytes without pictures", bare.len());
    }
}

/// The stripes go along the yarn; its lengths add up to the same.
#[test]
fn another_start_moves_the_stripes() {
    let server = Server::new();
    let mut seen = BTreeSet::new();
    for start in ["0", "0.7", "1.5", "2.5"] {
        let page = server.get(&format!("/grade/result?garment=tam&sizes=women-m&start={start}"));
        let svg = page.text().split("</svg>").next().expect("a picture").to_owned();
        let svg = svg.split("<g class=\"view\"").nth(1).expect("a view").to_owned();
        assert!(seen.insert(svg), "start {start} shows the same as another");
    }
}

/// Both ends of each slider, and its place, are what the option takes.
#[test]
fn what_a_slider_writes_is_taken() {
    let server = Server::new();
    let mut slid = 0;
    for garment in ["tam", "sock", "pullover"] {
        for units in ["cm", "in"] {
            let at = format!("garment={garment}&sizes=women-m&units={units}");
            let page = server.get(&format!("/grade?{at}"));
            for input in page.text().split("<input type=\"range\"").skip(1) {
                let input = input.split('>').next().expect("a tag");
                let of = |name: &str| {
                    let (_, rest) = input.split_once(&format!(" {name}=\"")).expect(name);
                    rest.split('"').next().expect("a value").to_owned()
                };
                let Some(option) = of("data-of").strip_prefix("o-").map(str::to_owned) else {
                    continue;
                };
                for end in ["min", "max", "value"] {
                    let typed = format!("{} {}", of(end), of("data-unit"));
                    let pair = [(format!("o.{option}"), typed.trim().to_owned())];
                    let query = serde_urlencoded::to_string(pair).expect("encoded");
                    // The ends without the pictures: the keys are read by the same code.
                    let route = if end == "value" { "/grade/result" } else { "/api/v1/grade" };
                    let answer = server.get(&format!("{route}?{at}&{query}"));
                    let refused = answer.text().contains(" is not a");
                    assert!(!refused, "{garment} {option} {typed}: {}", answer.text());
                    slid += 1;
                }
            }
            assert!(page.text().contains("data-of=\"start\""), "no slider along the colours");
        }
    }
    assert!(slid > 60, "{slid}");
}

#[test]
fn the_list_of_garments_has_their_pictures() {
    let server = Server::new();
    let page = server.get("/garments");
    for garment in bench().garment_ids() {
        let at = format!("/garments/{garment}/picture");
        assert!(page.text().contains(&format!("<img src=\"{at}\" alt=\"")), "{garment}");
        let picture = server.get(&at);
        assert_eq!(picture.status, StatusCode::OK, "{garment}: {}", picture.text());
        assert_eq!(picture.header(header::CONTENT_TYPE), "image/svg+xml");
        assert!(
            picture.header(header::CACHE_CONTROL).contains("max-age"),
            "it is asked for each time"
        );
        assert!(picture.text().starts_with("<svg") && picture.text().contains("<desc>"));
    }
    assert_eq!(server.get("/garments/seaweed/picture").status, StatusCode::NOT_FOUND);
}

#[test]
fn a_piece_is_looked_at_stitch_by_stitch() {
    let server = Server::new();
    let page = server.get("/grade/result?garment=mitten&sizes=y7-8");
    let links: Vec<String> = page
        .text()
        .split("href=\"/grade/close?")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .map(|query| format!("/grade/close?{}", query.replace("&#38;", "&")))
        .collect();
    assert!(!links.is_empty(), "{}", page.text());
    for link in &links {
        let close = server.get(link);
        assert_eq!(close.status, StatusCode::OK, "{link}");
        assert!(close.text().contains("class=\"knit\""), "{link}");
    }
    let none = server.get("/grade/close?garment=mitten&sizes=y7-8&piece=seaweed");
    assert_eq!(none.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(none.text().contains("its pieces are"), "{}", none.text());
}

/// What comes over the air is a third of what it says; it is the same to the byte.
#[test]
fn pages_and_what_they_load_are_sent_small_to_who_takes_them_so() {
    let server = Server::new();
    let asked = |path: &str| {
        let asked = request(Method::GET, path).header(header::ACCEPT_ENCODING, "gzip, deflate");
        server.send(asked.body(Body::empty()).expect("a request"))
    };
    let page = server.get("/machine?garment=tam&sizes=women-m");
    let mut all = vec!["/machine?garment=tam&sizes=women-m".to_owned()];
    for part in page.text().split("\"/assets/").skip(1) {
        let name = part.split('"').next().expect("an address");
        all.extend((!name.starts_with("mark.svg")).then(|| format!("/assets/{name}")));
    }
    assert!(all.len() > 3, "{all:?}");
    let mut sum = 0;
    for path in &all {
        let (whole, small) = (server.get(path), asked(path));
        assert!(!whole.headers.contains_key(header::CONTENT_ENCODING), "{path}");
        assert_eq!(small.header(header::CONTENT_ENCODING), "deflate", "{path}");
        assert_eq!(small.header(header::VARY), "accept-encoding", "{path}");
        let opened = miniz_oxide::inflate::decompress_to_vec_zlib(&small.bytes).expect("deflated");
        assert_eq!(opened, whole.bytes, "{path}");
        sum += small.bytes.len();
        let known = request(Method::GET, path)
            .header(header::ACCEPT_ENCODING, "deflate")
            .header(header::IF_NONE_MATCH, small.header(header::ETAG));
        let known = server.send(known.body(Body::empty()).expect("a request"));
        assert_eq!(known.status, StatusCode::NOT_MODIFIED, "{path}");
        assert!(known.bytes.is_empty(), "{path}");
    }
    assert!(sum < 40_000, "{sum} bytes");
}

/// Only the ways to lie that a garment has are offered, and its words are in the unit of the page.
#[test]
fn a_garment_in_the_round_is_told_in_the_units_of_the_page_and_lies_as_it_can() {
    let server = Server::new();
    let poses = |garment: &str| -> Vec<String> {
        let page = server.get(&format!("/grade/result?garment={garment}&sizes=women-m"));
        let tools = page.text().split("data-pose=\"").skip(1);
        tools.map(|rest| rest.split('"').next().expect("a pose").to_owned()).collect()
    };
    assert_eq!(poses("tam"), ["worn", "plate", "nothing"]);
    assert_eq!(poses("mitten"), ["worn", "nothing"]);
    let words = |units: &str| {
        let path = format!("/grade/result?garment=tam&sizes=women-m&units={units}");
        let page = server.get(&path);
        let (_, rest) = page.text().split_once("data-words=\"").expect("words");
        rest.split('"').next().expect("words").to_owned()
    };
    assert!(words("cm").contains(" cm") && !words("cm").contains(" in,"), "{}", words("cm"));
    assert!(words("in").contains(" in,") && !words("in").contains(" cm"), "{}", words("in"));
    // A garment's own page turns it as well.
    let own = server.get("/garments/tam");
    assert!(own.text().contains("/assets/round.js"), "{}", own.text());
}
