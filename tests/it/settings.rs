//! What the workspace's settings say holds wherever a request is silent, at the command and over HTTP; what is
//! asked goes before them.

use super::demo::Demo;
use super::server::Server;

/// A demo whose settings have something else in this line.
fn with(from: &str, to: &str) -> Demo {
    let demo = Demo::new();
    let settings = demo.text("oddments.toml");
    assert!(settings.contains(from), "{settings}");
    std::fs::write(demo.path.join("oddments.toml"), settings.replacen(from, to, 1))
        .expect("written");
    demo
}

const COARSE: &str = "scale_step = \"24 g\"";

fn coarse() -> Demo {
    with("scale_step = \"1 g\"", COARSE)
}

#[test]
fn a_remnant_is_weighed_on_the_scale_of_the_settings() {
    let demo = coarse();
    let ask = ["reach", "--weight", "150 g", "--garment", "tam,hat", "--each"];
    let on = |more: &[&str]| {
        let ran = demo.run(&[&ask[..], more].concat());
        assert_eq!(ran.code, Some(0), "{ran:?}");
        ran.out
    };
    assert_eq!(on(&[]), on(&["--scale-step", "24 g"]));
    assert_ne!(on(&[]), on(&["--scale-step", "1 g"]), "a coarse scale is less sure");
    let server = Server::of(&demo);
    let path = "/api/v1/reach?weight=150+g&garment=tam,hat&each=yes";
    let over_http = |more: &str| server.get(&format!("{path}{more}")).json();
    assert_eq!(over_http(""), over_http("&scale_step=24+g"));
    assert_ne!(over_http(""), over_http("&scale_step=1+g"));
}

#[test]
fn what_is_left_is_weighed_on_the_scale_of_the_settings() {
    let demo = coarse();
    let ask = ["carry-on", "scarf", "--size", "women-m", "--at", "scarf:+200", "--left", "60 g"];
    let on = |more: &[&str]| {
        let ran = demo.run(&[&ask[..], more].concat());
        format!("{:?} {} {}", ran.code, ran.out, ran.err)
    };
    assert_eq!(on(&[]), on(&["--scale-step", "24 g"]));
    assert_ne!(on(&[]), on(&["--scale-step", "1 g"]));
    let server = Server::of(&demo);
    let of = "garment=scarf&sizes=women-m&stands=scarf:%2B200&left=60+g&format=text";
    let over_http =
        |more: &str| server.get(&format!("/api/v1/carry-on?{of}{more}")).text().to_owned();
    assert_eq!(over_http(""), over_http("&scale_step=24+g"));
    assert_ne!(over_http(""), over_http("&scale_step=1+g"));
}

/// A file that is silent means whole grams: another scale is written into it.
#[test]
fn a_swatch_is_weighed_on_the_scale_of_the_settings() {
    let add = [
        "swatch",
        "add",
        "ledge",
        "--state",
        "washed",
        "--yarn",
        "250 tex",
        "--machine",
        "mid",
        "--stitches",
        "30",
        "--widths",
        "14 cm",
        "--rows",
        "40",
        "--heights",
        "15 cm",
        "--weight",
        "9 g",
        "--weighed-stitches",
        "40",
        "--weighed-rows",
        "60",
    ];
    let written = |demo: &Demo, more: &[&str]| {
        let ran = demo.run(&[&add[..], more].concat());
        assert_eq!(ran.code, Some(0), "{ran:?}");
        let file = demo.toml("swatches/ledge.toml");
        file["swatch"][0].get("scale_step").map(ToString::to_string)
    };
    let step = |text: &str| Some(format!("\"{text}\""));
    assert_eq!(
        written(&with("scale_step = \"1 g\"", "scale_step = \"0.1 g\""), &[]),
        step("0.1 g")
    );
    assert_eq!(written(&coarse(), &["--scale-step", "0.5 g"]), step("0.5 g"));
    assert_eq!(written(&Demo::new(), &[]), None);
}

#[test]
fn lengths_are_in_the_unit_of_the_settings_over_http_too() {
    let demo = with("units = \"cm\"", "units = \"in\"");
    let server = Server::of(&demo);
    let of = "garment=tam&sizes=women-m&machine=standard";
    let pattern = ["pattern", "tam", "--size", "women-m", "--machine", "standard"];
    let silent = server.get(&format!("/api/v1/pattern?{of}&format=text"));
    assert_eq!(silent.text(), demo.run(&pattern).out);
    assert!(silent.text().contains(" in\n") || silent.text().contains(" in "), "{}", silent.text());
    let asked = server.get(&format!("/api/v1/pattern?{of}&format=text&units=cm"));
    assert_eq!(asked.text(), demo.run(&[&pattern[..], &["--units", "cm"]].concat()).out);
    assert_ne!(silent.text(), asked.text());
    let grade = server.get(&format!("/api/v1/grade?{of}&format=csv"));
    let ask = ["grade", "tam", "--sizes", "women-m", "--machine", "standard", "--format", "csv"];
    assert_eq!(grade.text(), demo.run(&ask).out);
    let chart = "/api/v1/chart?sizes=women&format=csv";
    assert_eq!(
        server.get(chart).text(),
        demo.run(&["chart", "--sizes", "women", "--format", "csv"]).out
    );
    for path in ["/grade", "/machine", "/chart"] {
        let silent = server.get(&format!("{path}?{of}"));
        let asked = server.get(&format!("{path}?{of}&units=in"));
        let other = server.get(&format!("{path}?{of}&units=cm"));
        assert!(silent.status.is_success(), "{path}: {}", silent.text());
        let lengths = |page: &str| page.matches(" in<").count() + page.matches(" in,").count();
        assert_eq!(lengths(silent.text()), lengths(asked.text()), "{path}");
        assert_ne!(silent.text(), other.text(), "{path}");
    }
}

/// A form that is sent as it stands asks for what is asked for without it.
#[test]
fn a_form_names_the_machine_of_the_settings() {
    let demo = Demo::empty();
    std::fs::write(demo.path.join("oddments.toml"), "machine = \"mid\"\n").expect("written");
    let page = Server::of(&demo).get("/grade?garment=hat&sizes=women-m");
    let page = scraper::Html::parse_document(page.text());
    let chosen = scraper::Selector::parse("select[name=machine] option[selected]").expect("sound");
    let chosen: Vec<&str> = page.select(&chosen).filter_map(|o| o.value().attr("value")).collect();
    assert_eq!(chosen, ["mid"]);
}
