//! Edges, whole and in part, counted by hand.

use super::*;
use crate::edge::{EdgeLength, EdgePlace, EdgeRange, EdgeUnit};

fn whole(place: EdgePlace) -> EdgeRange {
    EdgeRange { place, from: 0, to: None }
}

fn part(place: EdgePlace, from: u32, to: u32) -> EdgeRange {
    EdgeRange { place, from, to: Some(to) }
}

fn open(name: &str) -> EdgePlace {
    EdgePlace::Open(name.into())
}

fn left(piece: &str) -> EdgePlace {
    EdgePlace::Selvedge(piece.into(), Side::Left)
}

fn right(piece: &str) -> EdgePlace {
    EdgePlace::Selvedge(piece.into(), Side::Right)
}

fn begun(piece: &str) -> EdgePlace {
    EdgePlace::CastOn(piece.into())
}

fn ended(piece: &str) -> EdgePlace {
    EdgePlace::CastOff(piece.into())
}

fn join(how: Joint, first: EdgeRange, second: EdgeRange) -> Action {
    Action::Join { how, first, second }
}

fn pick_up(edge: EdgeRange, on: &str) -> Action {
    Action::PickUp { edge, span: span(on) }
}

/// `body`: 20 stitches wound on, 60 rows, cast off. `top`: 20 stitches on waste yarn, 30 rows, open.
fn pieces() -> Vec<Piece> {
    vec![
        piece("body", vec![cast_on("L10-R10", Structure::Plain), knit(60), off()]),
        piece("top", vec![waste_on("L10-R10", "start"), knit(30), scrap("end")]),
    ]
}

fn finished(finishing: Vec<Action>) -> Run {
    run_on(&machine(200, true), pieces(), finishing)
}

/// What is said of a finishing, but for loops that are left over.
fn told(finishing: Vec<Action>) -> Vec<&'static str> {
    codes(&finished(finishing)).into_iter().filter(|code| *code != "loops-left").collect()
}

fn of(count: u32, unit: EdgeUnit) -> EdgeLength {
    EdgeLength { count, unit }
}

#[test]
fn every_edge_measures_what_it_was_knitted_with() {
    let run = finished(vec![
        join(Joint::Graft, whole(open("start")), whole(begun("body"))),
        join(Joint::SewOn, part(open("end"), 0, 12), part(right("body"), 20, 40)),
        join(Joint::Seam, whole(ended("body")), part(left("top"), 5, 30)),
        Action::Gather(part(open("end"), 12, 20)),
        Action::Gather(part(left("body"), 0, 30)),
    ]);
    assert_eq!(codes(&run), [""; 0]);
    let lengths: Vec<_> = run.joins.values().map(|j| (j.first, j.second)).collect();
    use EdgeUnit::{Loops, Rows, Stitches};
    assert_eq!(
        lengths,
        [
            (of(20, Loops), Some(of(20, Stitches))),
            (of(12, Loops), Some(of(20, Rows))),
            (of(20, Stitches), Some(of(25, Rows))),
            (of(8, Loops), None),
            (of(30, Rows), None),
        ]
    );
    // Wound on and cast off 40; grafted 20, sewn on 12, gathered 8. Seamed along 25 rows and
    // gathered along 30, with two ends each time.
    let yarn = &run.sections[0];
    assert_eq!((yarn.sewn_loops, yarn.seam_rows, yarn.seam_stitches), (40 + 40, 55, 0));
    // Two ends a piece, and two for each of five joins.
    assert_eq!(yarn.tails, 4 + 10);
    // 20, then 12, then 25 rows, then 8 and 30.
    assert_eq!(run.work.sewn, 20 + 12 + 25 + 8 + 30);
}

#[test]
fn closed_edges_seamed_take_yarn_by_the_stitch() {
    let run = finished(vec![join(Joint::Seam, whole(begun("body")), whole(ended("body")))]);
    assert_eq!(run.sections[0].seam_stitches, 20);
    assert_eq!(run.work.sewn, 20);
    let run = finished(vec![join(Joint::Graft, whole(begun("body")), whole(ended("body")))]);
    assert_eq!(run.sections[0].sewn_loops, 40 + 20);
}

#[test]
fn a_loop_is_joined_once_and_by_its_place() {
    let shoulders = |second: (u32, u32)| {
        told(vec![
            join(Joint::Graft, part(open("end"), 0, 7), part(ended("body"), 0, 7)),
            join(Joint::Graft, part(open("end"), second.0, second.1), part(ended("body"), 13, 20)),
        ])
    };
    assert_eq!(shoulders((13, 20)), [""; 0]);
    assert_eq!(shoulders((6, 13)), ["edge-empty"]);
    let run = finished(vec![
        join(Joint::Graft, part(open("end"), 0, 7), part(ended("body"), 0, 7)),
        join(Joint::Graft, part(open("end"), 13, 20), part(ended("body"), 13, 20)),
    ]);
    // The neck between the shoulders, and the other edge, are still open.
    assert_eq!((run.edges[1].loops, run.edges[1].left), (20, 6));
    assert_eq!(codes(&run), ["loops-left"; 2]);
    // All that is left, in one.
    let run = finished(vec![
        join(Joint::Graft, part(open("end"), 0, 7), part(ended("body"), 0, 7)),
        join(Joint::SewOn, whole(open("end")), part(right("body"), 0, 20)),
        Action::Gather(whole(open("start"))),
    ]);
    assert_eq!(codes(&run), [""; 0]);
    assert_eq!(run.joins[&1].first, of(13, EdgeUnit::Loops));
}

#[test]
fn edges_that_are_not_there_are_refused() {
    let gather = |edge: EdgeRange| told(vec![Action::Gather(edge)]);
    assert_eq!(gather(part(left("body"), 30, 61)), ["edge-range"]);
    assert_eq!(gather(part(left("body"), 30, 30)), ["edge-range"]);
    assert_eq!(gather(part(open("end"), 0, 21)), ["edge-range"]);
    assert_eq!(gather(whole(left("back"))), ["no-such-piece"]);
    assert_eq!(gather(whole(open("back"))), ["no-such-edge"]);
    assert_eq!(gather(whole(begun("top"))), ["no-such-edge"], "its cast-on is open");
    assert_eq!(gather(whole(ended("top"))), ["no-such-edge"]);
    let twice = vec![Action::Gather(whole(open("end"))), Action::Gather(whole(open("end")))];
    assert_eq!(told(twice), ["edge-empty"]);
    let itself = |a, b| told(vec![join(Joint::Seam, a, b)]);
    assert_eq!(itself(whole(left("body")), whole(left("body"))), ["graft-itself"]);
    assert_eq!(itself(part(left("body"), 0, 31), part(left("body"), 30, 60)), ["graft-itself"]);
    assert_eq!(itself(part(left("body"), 0, 30), part(left("body"), 30, 60)), [""; 0]);
}

#[test]
fn what_differs_too_much_is_eased_with_a_word() {
    let joined = |a, b| told(vec![join(Joint::Seam, a, b)]);
    // 60 rows to 30, 20 stitches to 10, 12 loops to 60 rows, 20 stitches to 15 rows.
    assert_eq!(joined(whole(left("body")), whole(left("top"))), ["seam-uneven"]);
    assert_eq!(joined(whole(begun("body")), part(ended("body"), 0, 10)), ["seam-uneven"]);
    assert_eq!(joined(part(open("end"), 0, 12), whole(left("body"))), ["seam-uneven"]);
    assert_eq!(joined(whole(begun("body")), part(left("body"), 0, 15)), ["seam-uneven"]);
    // A few rows, and stitches to rows as they are in most fabric.
    assert_eq!(joined(part(left("body"), 0, 34), whole(left("top"))), [""; 0]);
    assert_eq!(joined(whole(begun("body")), whole(left("top"))), [""; 0]);
}

#[test]
fn a_graft_with_loops_left_over_is_told() {
    let grafted = |loops: u32| {
        told(vec![join(Joint::Graft, part(open("start"), 0, 20), part(open("end"), 0, loops))])
    };
    assert_eq!(grafted(20), [""; 0]);
    assert_eq!(grafted(19), ["graft-eased"]);
    assert_eq!(grafted(12), ["seam-uneven"]);
    // Closed stitches have no loops to be left over.
    let closed = join(Joint::Graft, part(begun("body"), 0, 20), part(ended("body"), 0, 19));
    assert_eq!(told(vec![closed]), [""; 0]);
}

#[test]
fn a_seam_that_goes_on_along_an_edge_wants_no_end_of_its_own() {
    let seams = |second: EdgeRange, note: bool| {
        let mut finishing =
            vec![join(Joint::Seam, part(left("body"), 0, 20), part(right("body"), 0, 20))];
        if note {
            finishing.push(Action::Note("Look at it.".into()));
        }
        finishing.push(join(Joint::Seam, second, part(left("top"), 0, 20)));
        let run = finished(finishing);
        (run.sections[0].tails, run.work.operations.of(Operation::SewingBegun))
    };
    let apart = seams(part(left("body"), 30, 50), false);
    let on = seams(part(left("body"), 20, 40), false);
    assert_eq!((on.0, on.1), (apart.0 - 2, apart.1 - 1));
    assert_eq!(seams(part(left("body"), 20, 40), true), apart, "something lies between");
}

/// A band begun on the selvedge of another piece: 45 needles, three loops to every four rows.
#[test]
fn a_piece_begins_on_picked_up_loops() {
    let band = |edge, on: &str| {
        let mut all = pieces();
        all.push(piece("band", vec![pick_up(edge, on), knit(8), off()]));
        run_on(&machine(200, true), all, vec![Action::Gather(whole(open("start")))])
    };
    let run = band(whole(right("body")), "L22-R23");
    assert_eq!(codes(&run), ["loops-left"], "only `end` is still open");
    let knitted = run.piece("band").expect("the band");
    assert_eq!((knitted.widest, knitted.stitches), (45, 360));
    let event = knitted.events[0];
    assert_eq!((event.deed, event.loops, event.over), (Deed::PickUp, 45, 60));
    assert_eq!((knitted.tally.made, knitted.tally.cast_off), (45, 45));
    assert_eq!(run.work.picked_up, 45);
    // The piece's two ends and no more: it begins with its own.
    assert_eq!(run.sections[0].tails, 2 + 2 + 2 + 2);
    // Along a cast-on edge, and along part of a cast-off one.
    assert_eq!(codes(&band(whole(begun("body")), "L10-R10")), ["loops-left"]);
    assert_eq!(codes(&band(part(ended("body"), 5, 15), "L5-R5")), ["loops-left"]);
    // Open loops all go on: 20 on 15 needles, two on every third.
    let run = band(whole(open("end")), "L7-R8");
    assert_eq!(codes(&run), [""; 0]);
    let knitted = run.piece("band").expect("the band");
    assert_eq!((knitted.tally.made, knitted.tally.taken_in), (20, 5));
    let short = band(part(right("body"), 0, 44), "L22-R23");
    assert!(codes(&short).contains(&"pick-up-short"));
}

/// The gusset of a heel: loops of the piece's own selvedge, beside what is on the bed.
#[test]
fn loops_of_the_piece_on_the_bed_are_picked_up_beside_it() {
    let run = knitted(vec![
        cast_on("L10-R10", Structure::Plain),
        knit(20),
        pick_up(part(left("p"), 4, 20), "L20-L11"),
        knit(1),
        off(),
    ]);
    assert_eq!(codes(&run), [""; 0]);
    let piece = run.piece("p").expect("the piece");
    assert_eq!((piece.widest, piece.rows[20].stitches), (30, 30));
    // On needles that all carry a loop the two are joined.
    let run = knitted(vec![
        cast_on("L10-R10", Structure::Plain),
        knit(40),
        pick_up(part(left("p"), 0, 20), "L10-R10"),
        knit(1),
        off(),
    ]);
    assert_eq!(codes(&run), [""; 0]);
    assert_eq!(run.piece("p").expect("the piece").tally.taken_in, 20);
    let mixed = knitted(vec![
        cast_on("L10-R10", Structure::Plain),
        knit(40),
        pick_up(part(left("p"), 0, 20), "R6-R15"),
        off(),
    ]);
    assert_eq!(codes(&mixed), ["needle-taken"]);
}

#[test]
fn closed_edges_lie_by_needle_however_they_were_made() {
    let run = knitted(vec![
        cast_on("L10-R10", Structure::Plain),
        knit(10),
        cast_on("L15-L11", Structure::Plain),
        knit(10),
        Action::CastOff { which: Which::Span(span("R6-R10")) },
        knit(2),
        off(),
    ]);
    let piece = run.piece("p").expect("the piece");
    let needles =
        |edges: &[ClosedEdge]| edges.iter().map(|e| e.needles.to_string()).collect::<Vec<_>>();
    assert_eq!(needles(&piece.cast_on), ["L15-L11", "L10-R10"]);
    assert_eq!(needles(&piece.cast_off), ["L15-R5", "R6-R10"]);
}
