//! Beds as they are: not about the centre, with needles that don't knit. Pieces move there, and what is
//! counted stays what it was.

use std::collections::BTreeSet;

use axum::http::StatusCode;
use knit::machine::Machine;
use knit::needle::Needle;
use knit::size_run::SizeRun;
use serde_json::Value;

use app::GradeRequest;

use crate::server::{Server, problem};
use crate::support::{bench, demo, oddments, oddments_in};

/// Every shipped garment, in a small, a middle and a large size.
fn graded(id: &str, machine: &Machine) -> SizeRun {
    let bench = bench();
    let plugin = bench.garment(id).expect("it is shipped");
    let swatch = demo("standard");
    let request = GradeRequest {
        plugin: &plugin,
        machine,
        swatch: &swatch,
        options: Vec::new(),
        sizes: "m3-6,y5-6,women-m".to_owned(),
        person: None,
    };
    bench.grade(&request).expect("it can be asked for")
}

/// The needles that some row of a run knitted.
fn knitted(run: &SizeRun) -> BTreeSet<i32> {
    let rows = run.good().flat_map(|(_, made)| {
        made.graded.run.pieces.iter().flat_map(|piece| piece.spans.iter().map(|s| s.span))
    });
    rows.flat_map(|span| span.left.0..=span.right.0).collect()
}

#[test]
fn pieces_move_to_where_the_needles_knit_and_nothing_else_changes() {
    let whole = bench().machine("standard").expect("it is shipped").clone();
    // Two broken ones near the middle, and a bed that is not about the centre.
    let mine = whole.clone().with_needles("L90-R104").and_then(|m| m.without("L75,R100"));
    let mine = mine.expect("a bed");
    let like = mine.centred();
    let mut moved = 0;
    for id in store::shipped_plugin_ids() {
        let (there, thought) = (graded(id, &mine), graded(id, &like));
        let knits = knitted(&there);
        for broken in &mine.out_of_work {
            assert!(!knits.contains(&broken.0), "{id} knits on {broken}");
        }
        assert!(knits.iter().all(|n| mine.rail.contains(Needle(*n))), "{id} leaves the bed");
        moved += usize::from(knits != knitted(&thought));
        for (a, b) in there.sizes.iter().zip(&thought.sizes) {
            let (Some(a), Some(b)) = (a.good(), b.good()) else {
                assert_eq!(a.knittable(), b.knittable(), "{id}");
                continue;
            };
            assert_eq!(a.graded.finished, b.graded.finished, "{id}");
            assert_eq!(a.graded.counts, b.graded.counts, "{id}");
            assert_eq!(a.graded.yarn, b.graded.yarn, "{id}");
            assert_eq!(a.graded.run.work, b.graded.run.work, "{id}");
        }
    }
    assert!(moved > 3, "only {moved} garments had to move");
}

#[test]
fn a_piece_that_fits_nowhere_is_refused_with_the_way_out() {
    let every_tenth = (1..=9).map(|n| format!("L{0},R{0}", n * 10)).collect::<Vec<_>>().join(",");
    let asked = ["grade", "pullover", "--sizes", "women-m", "--out-of-work", &every_tenth];
    let ran = oddments(&asked);
    assert_eq!(ran.code, Some(1), "{ran:?}");
    assert!(ran.err.contains("hint:"), "{}", ran.err);
    assert!(!ran.err.contains("panicked"), "{}", ran.err);
}

#[test]
fn the_bed_is_asked_for_by_a_command_and_over_http() {
    let text = oddments(&["pattern", "tam", "--size", "y5-6", "--out-of-work", "L17"]).out;
    assert!(text.contains("200 needles, out of work L17"), "{text}");
    let json =
        oddments(&["grade", "tam", "--sizes", "y5-6", "--needles", "L90-R95", "--format", "json"]);
    let run: Value = serde_json::from_str(&json.out).expect("JSON");
    assert_eq!(run["machine"]["needles"], 185);
    assert_eq!(run["machine"]["bed"], "L90-R95");
    let server = Server::new();
    let answer = server.get("/api/v1/grade?garment=tam&sizes=y5-6&out_of_work=L17%2CR3");
    assert_eq!(answer.status, StatusCode::OK);
    let run: Value = serde_json::from_str(answer.text()).expect("JSON");
    assert_eq!(run["machine"]["out_of_work"], serde_json::json!(["L17", "R3"]));
    let answer = server.get("/api/v1/grade?garment=tam&needles=5");
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(problem(&answer, "needles").to_string().contains("a bed of 5 needles"));
}

#[test]
fn a_machine_of_ones_own_has_its_needles_and_the_demo_swatch_of_its_pitch() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("beds.toml");
    let entry = |needles: &str| {
        format!("[[machine]]\nid = \"loft\"\npitch = \"4.5 mm\"\nribber = true\n{needles}\n")
    };
    let ask = ["grade", "tam", "--sizes", "y5-6", "--machines", "beds.toml", "--machine", "loft"];
    std::fs::write(&file, entry("bed = \"L90-R95\"\nout_of_work = [\"L17\", \"R3-R4\"]"))
        .expect("written");
    let ran = oddments_in(folder.path(), &ask);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    assert!(ran.out.contains("185 needles, L90-R95, out of work L17 R3 R4"), "{}", ran.out);
    assert!(ran.err.contains("the demo swatch of a bed of the same pitch"), "{}", ran.err);
    // What can't be is placed at its line.
    for (needles, line, says) in [
        ("needles = 180\nbed = \"L90-R90\"", 5, "told twice"),
        ("", 2, "no `needles`"),
        ("needles = 4", 5, "a bed of 4 needles"),
        ("bed = \"wide\"", 5, "not a needle"),
        ("needles = 180\nout_of_work = [\"L95\"]", 6, "is not on the bed"),
    ] {
        std::fs::write(&file, entry(needles)).expect("written");
        let ran = oddments_in(folder.path(), &ask);
        assert_eq!(ran.code, Some(1), "{needles}: {ran:?}");
        assert!(ran.err.contains(says), "{needles}: {}", ran.err);
        assert!(ran.err.contains(&format!("beds.toml:{line}")), "{needles}: {}", ran.err);
    }
}
