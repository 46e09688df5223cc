//! Shaping anywhere, counted by hand.

use super::*;
use crate::program::{Fashion, Inset, Transfer, WorkingEnds};
use proptest::prelude::*;

fn fashion(ends: WorkingEnds, count: u32, inset: u32) -> Fashion {
    Fashion { ends, count, inset: Inset::Stitches(inset) }
}

fn one(side: Side) -> WorkingEnds {
    WorkingEnds::One(side)
}

fn at(side: Side, needle: &str) -> Fashion {
    let inset = Inset::Needle(needle.parse().expect("a needle"));
    Fashion { ends: one(side), count: 1, inset }
}

fn moved(from: &str, to: &str, eyelets: bool) -> Action {
    let on = |text: &str| match text.strip_prefix("ribber ") {
        Some(needles) => BedSpan { ribber: true, span: span(needles) },
        None => BedSpan { ribber: false, span: span(text) },
    };
    Action::Transfer(Transfer { from: on(from), to: on(to), eyelets, structure: Structure::Rib1x1 })
}

fn plain_on(on: &str) -> Action {
    cast_on(on, Structure::Plain)
}

/// A piece cast on over twenty stitches, with two rows, then these steps.
fn then(actions: Vec<Action>) -> Run {
    let mut all = vec![plain_on("L10-R10"), knit(2)];
    all.extend(actions);
    knitted(all)
}

fn only(run: &Run) -> &PieceRun {
    run.piece("p").expect("the piece")
}

/// The needles each of the last rows knitted.
fn last_rows(run: &Run, count: usize) -> Vec<String> {
    let piece = only(run);
    piece.rows[piece.rows.len() - count..]
        .iter()
        .map(|row| {
            let spans = piece.spans_of(row).iter();
            spans.map(|s| format!("{}{}", if s.ribber { "ribber " } else { "" }, s.span)).collect()
        })
        .map(|spans: Vec<String>| spans.join(" "))
        .collect()
}

fn sound(run: &Run) {
    assert_eq!(codes(run), [""; 0]);
    let tally = only(run).tally;
    assert_eq!(tally.made, tally.taken_in + tally.cast_off + tally.scrapped + tally.left);
}

/// The right half is held while the left half is shaped beside it: the end of what is in work is
/// held needle R10, and there six stitches pile up.
#[test]
fn at_a_held_neckline_the_old_decrease_jams_and_the_new_one_shapes() {
    let half = |shape: Action| {
        then(vec![
            knit(1),
            Action::Hold(Which::Span(span("R1-R10"))),
            again(6, vec![shape, knit(2)]),
            Action::BreakYarn,
            Action::Return(Which::All),
            Action::CastOff { which: Which::Span(span("L10-L7")) },
            Action::JoinYarn(Some(Side::Right)),
            knit(2),
            off(),
        ])
    };
    let old = half(Action::Decrease { side: Side::Right, count: 1 });
    assert!(codes(&old).contains(&"jam"), "{:?}", codes(&old));
    let new = half(Action::Narrow(fashion(one(Side::Right), 1, 0)));
    let piece = only(&new);
    // Rows on L10 .. L7, then each needle of the neck two rows less than the one before.
    assert_eq!(piece.rows_at[..10], [15, 15, 15, 15, 13, 11, 9, 7, 5, 3]);
    assert_eq!(piece.rows_at[10..], [5; 10]);
    assert_eq!((piece.tally.taken_in, piece.tally.cast_off), (6, 14));
    sound(&new);
}

#[test]
fn a_fashioned_decrease_moves_the_selvedge_in_whole() {
    let run = then(vec![
        Action::Narrow(fashion(one(Side::Left), 1, 2)),
        knit(2),
        Action::Narrow(fashion(one(Side::Right), 2, 1)),
        knit(2),
        Action::Narrow(fashion(WorkingEnds::Both, 1, 3)),
        knit(2),
        off(),
    ]);
    sound(&run);
    assert_eq!(last_rows(&run, 5), ["L9-R10", "L9-R8", "L9-R8", "L8-R7", "L8-R7"]);
    let piece = only(&run);
    // 1 + 2 + 1 + 1 taken in of 20, and 15 left.
    assert_eq!((piece.tally.made, piece.tally.taken_in, piece.tally.cast_off), (20, 5, 15));
    // Three stitches moved, then three, then four and four.
    assert_eq!(run.work.transferred, 14);
    let deeds: Vec<(Deed, String, Option<Side>)> = piece
        .events
        .iter()
        .filter(|e| e.deed == Deed::Decrease)
        .map(|e| (e.deed, e.needles.to_string(), e.side))
        .collect();
    let expected =
        [("L10", Side::Left), ("R9-R10", Side::Right), ("L9", Side::Left), ("R8", Side::Right)];
    let expected: Vec<_> =
        expected.map(|(n, side)| (Deed::Decrease, n.to_owned(), Some(side))).into();
    assert_eq!(deeds, expected);
}

#[test]
fn a_decrease_at_a_needle_leaves_the_doubled_stitch_there() {
    // L7 comes to hold two: two stitches stay whole outside it.
    let by_needle = then(vec![Action::Narrow(at(Side::Left, "L7")), knit(2), off()]);
    let by_inset = then(vec![Action::Narrow(fashion(one(Side::Left), 1, 2)), knit(2), off()]);
    sound(&by_needle);
    assert_eq!(by_needle.pieces, by_inset.pieces);
    // Widening at L8: the new stitch lies on L8, two stitches outside it on L10 and L9 move out.
    let by_needle = then(vec![Action::Widen(at(Side::Left, "L8")), knit(2), off()]);
    let by_inset = then(vec![Action::Widen(fashion(one(Side::Left), 1, 3)), knit(2), off()]);
    sound(&by_needle);
    assert_eq!(by_needle.pieces, by_inset.pieces);
    assert_eq!(last_rows(&by_needle, 1), ["L11-R10"]);
}

#[test]
fn a_fashioned_increase_takes_no_yarn_and_one_beside_the_end_is_wound() {
    let run = then(vec![Action::Widen(fashion(WorkingEnds::Both, 1, 2)), knit(2), off()]);
    sound(&run);
    assert_eq!(last_rows(&run, 1), ["L11-R11"]);
    // 20 wound on, 22 cast off, nothing between.
    assert_eq!(run.sections[0].sewn_loops, 42);
    assert_eq!(only(&run).tally.made, 22);
    let new: Vec<String> = only(&run)
        .events
        .iter()
        .filter(|e| e.deed == Deed::Increase)
        .map(|e| e.needles.to_string())
        .collect();
    assert_eq!(new, ["L9", "R9"]);
    let run = then(vec![Action::Widen(fashion(one(Side::Left), 1, 0)), knit(2), off()]);
    sound(&run);
    assert_eq!(run.sections[0].sewn_loops, 20 + 1 + 21);
}

/// With nothing held, and at the end itself, the new steps do to rows and needles what the old did.
#[test]
fn at_the_very_end_old_and_new_shape_alike() {
    let shaped = |narrow: Action, widen: Action| {
        let run =
            then(vec![again(4, vec![narrow, knit(2)]), again(3, vec![widen, knit(2)]), off()]);
        assert_eq!(codes(&run), [""; 0]);
        let piece = only(&run).clone();
        (piece.rows, piece.spans, piece.rows_at, piece.selvedges, run.sections, run.laid)
    };
    for side in [Side::Left, Side::Right] {
        let old = shaped(Action::Decrease { side, count: 1 }, Action::Increase { side, count: 1 });
        let new = shaped(
            Action::Narrow(fashion(one(side), 1, 0)),
            Action::Widen(fashion(one(side), 1, 0)),
        );
        assert_eq!(old.0, new.0);
        assert_eq!((old.1, old.3, old.4, old.5), (new.1, new.3, new.4, new.5));
    }
}

#[test]
fn an_eyelet_is_an_empty_needle_that_the_next_pass_fills() {
    let run = then(vec![moved("L3", "L2", true), moved("R3", "R4", true), knit(1), knit(1), off()]);
    sound(&run);
    assert_eq!(last_rows(&run, 2), ["L10-R10"; 2]);
    let tally = only(&run).tally;
    assert_eq!((tally.made, tally.taken_in, tally.cast_off), (22, 2, 20));
    // Emptied needles out of work make no eyelet but a ladder.
    let run = then(vec![moved("L3", "L2", false), knit(2), off()]);
    assert_eq!(codes(&run), ["no-loop", "stitches-left"], "a gap is not cast off across");
    assert_eq!(last_rows(&run, 1), ["L10-L4 L2-R10"]);
}

#[test]
fn a_dart_closes_within_the_fabric() {
    // Half of the piece is moved in by one, from the side seam to the dart.
    let run = then(vec![again(3, vec![Action::Narrow(at(Side::Right, "R3")), knit(2)]), off()]);
    sound(&run);
    assert_eq!(last_rows(&run, 1), ["L10-R7"]);
    // R4 to R10 move: 7, then 6, then 5 stitches.
    assert_eq!(run.work.transferred, 18);
}

fn refused(actions: Vec<Action>) -> Vec<&'static str> {
    let mut all = actions;
    all.extend([knit(2), off()]);
    codes(&then(all))
}

#[test]
fn what_can_not_be_shaped_is_refused_and_leaves_the_bed_as_it_was() {
    use WorkingEnds::Both;
    let cases: Vec<(Action, &str)> = vec![
        (Action::Narrow(fashion(one(Side::Left), 0, 0)), "shape-outside"),
        (Action::Narrow(fashion(one(Side::Left), 1, 19)), "decrease-too-many"),
        (Action::Narrow(fashion(Both, 1, 9)), "decrease-too-many"),
        (Action::Narrow(fashion(one(Side::Left), 4, 0)), "transfer-far"),
        (Action::Narrow(at(Side::Left, "L10")), "shape-outside"),
        (Action::Narrow(at(Side::Right, "R15")), "shape-outside"),
        (Action::Widen(at(Side::Right, "R15")), "shape-outside"),
        (Action::Widen(fashion(one(Side::Left), 3, 2)), "increase-too-many"),
        (Action::Widen(fashion(one(Side::Left), 200, 0)), "off-bed"),
        (moved("L3-L2", "L1", true), "transfer-mismatch"),
        (moved("L3", "L3", true), "transfer-mismatch"),
        (moved("L15", "L14", true), "no-loop"),
        (moved("L10", "L6", true), "transfer-far"),
        (moved("ribber L3", "L3", false), "no-loop"),
        (Action::JoinYarn(None), "yarn-joined"),
        (Action::ToRib { structure: Structure::Rib1x1, which: Which::Span(span("L1")) }, "no-loop"),
    ];
    let untouched = then(vec![knit(2), off()]);
    for (action, code) in cases {
        assert_eq!(refused(vec![action.clone()]), [code], "{action:?}");
        let run = then(vec![action.clone(), knit(2), off()]);
        let (piece, whole) = (only(&run), only(&untouched));
        assert_eq!((&piece.rows, &piece.spans), (&whole.rows, &whole.spans), "{action:?}");
        assert_eq!(piece.tally, whole.tally, "{action:?}");
    }
}

#[test]
fn a_gap_or_a_held_needle_stops_the_stitches_that_move_together() {
    let gap = vec![moved("L8", "L7", true), Action::Narrow(fashion(one(Side::Left), 1, 2))];
    assert_eq!(refused(gap), ["decrease-into-gap"]);
    let held = vec![
        Action::Hold(Which::Span(span("L8"))),
        Action::Narrow(fashion(one(Side::Left), 1, 2)),
        Action::Return(Which::All),
    ];
    assert_eq!(refused(held), ["decrease-into-gap"]);
    // No room between the working end and what is held beside it.
    let full = vec![
        Action::Hold(Which::Span(span("R1-R10"))),
        Action::Widen(fashion(one(Side::Right), 1, 0)),
        Action::Return(Which::All),
    ];
    assert_eq!(refused(full), ["needle-taken"]);
}

#[test]
fn loops_that_cross_and_needles_that_fill_up_are_told() {
    assert_eq!(refused(vec![moved("L5", "L3", true)]), ["crossed-loops"]);
    let three = vec![moved("L5", "L4", true), moved("L3", "L4", true)];
    assert_eq!(refused(three), ["crowded-needle"]);
    let six = vec![
        moved("L5", "L4", true),
        moved("L3", "L4", true),
        moved("L4", "L3", true),
        moved("L2", "L3", true),
        moved("L3", "L2", true),
        moved("L1", "L2", true),
        moved("L2", "L1", true),
        moved("R1", "L1", true),
    ];
    let found = refused(six);
    assert!(found.contains(&"wide-eyelet"), "{found:?}");
    let side_by_side = vec![moved("L5-L4", "L3-L2", true)];
    assert_eq!(refused(side_by_side), ["crossed-loops", "wide-eyelet"]);
}

#[test]
fn a_pass_over_cast_off_stitches_floats_within_the_row() {
    let neck = Action::CastOff { which: Which::Span(span("L3-R3")) };
    let run = then(vec![
        neck,
        knit(2),
        Action::ScrapOff { edge: "l".into(), which: Which::Span(span("L10-L4")) },
        Action::CastOff { which: Which::Span(span("R4-R10")) },
    ]);
    assert_eq!(codes(&run)[0], "long-float");
}

fn rib_amid(structure: Structure) -> Vec<Action> {
    vec![
        plain_on("L10-R10"),
        knit(4),
        Action::ToRib { structure, which: Which::All },
        knit(6),
        Action::TransferToMain,
        knit(4),
        off(),
    ]
}

#[test]
fn rib_amid_a_piece_is_the_same_fabric_with_a_ribber_and_by_hand() {
    for (structure, columns) in [(Structure::Rib1x1, 10), (Structure::Rib2x2, 10)] {
        let steps = || vec![piece("p", rib_amid(structure))];
        let with = run_on(&machine(200, true), steps(), vec![]);
        let by_hand = run_on(&machine(200, false), steps(), vec![]);
        for run in [&with, &by_hand] {
            sound(run);
            let stitches = &run.sections[0].stitches;
            assert_eq!(stitches[&structure], 120);
            assert_eq!(stitches[&Structure::Plain], 160);
        }
        assert_eq!(with.sections, by_hand.sections);
        assert_eq!((with.work.transferred, with.work.latched), (columns, 0));
        assert_eq!((by_hand.work.transferred, by_hand.work.latched), (0, 6 * columns));
    }
}

#[test]
fn a_rib_by_hand_is_latched_up_before_anything_else_is_shaped() {
    let run = |step: Action| {
        let actions = vec![
            plain_on("L10-R10"),
            knit(4),
            Action::ToRib { structure: Structure::Rib1x1, which: Which::All },
            knit(2),
            step,
            Action::TransferToMain,
            off(),
        ];
        codes(&run_on(&machine(200, false), vec![piece("p", actions)], vec![]))
    };
    assert_eq!(run(knit(2)), [""; 0]);
    assert_eq!(run(Action::Narrow(fashion(one(Side::Left), 1, 0))), ["ribber-loaded"]);
    assert_eq!(run(moved("L3", "L2", true)), ["ribber-loaded"]);
    let empty = vec![
        plain_on("L10-R10"),
        knit(4),
        Action::ToRib { structure: Structure::Rib1x1, which: Which::All },
        Action::TransferToMain,
        knit(2),
        Action::TransferToMain,
        off(),
    ];
    let run = run_on(&machine(200, false), vec![piece("p", empty)], vec![]);
    assert_eq!(codes(&run), ["ribber-empty"]);
}

#[test]
fn single_loops_go_over_to_the_ribber_and_back() {
    let run = then(vec![
        moved("L5-L4", "ribber L5-L4", false),
        knit(2),
        moved("ribber L5-L4", "L5-L4", false),
        knit(2),
        off(),
    ]);
    sound(&run);
    assert_eq!(last_rows(&run, 4)[..2], ["L10-L6 L3-R10 ribber L5-L4"; 2]);
    assert_eq!(last_rows(&run, 2), ["L10-R10"; 2]);
    let none = run_on(
        &machine(200, false),
        vec![piece(
            "p",
            vec![plain_on("L10-R10"), moved("L5", "ribber L5", false), knit(2), off()],
        )],
        vec![],
    );
    assert_eq!(codes(&none), ["no-ribber"]);
}

/// The two sides of a neck, one after the other: the second begins at its own side with new yarn.
#[test]
fn a_yarn_is_broken_and_joined_on_the_other_side() {
    let run = then(vec![
        Action::Hold(Which::Span(span("L10-L1"))),
        again(3, vec![Action::Narrow(fashion(one(Side::Left), 1, 2)), knit(2)]),
        Action::BreakYarn,
        Action::CastOff { which: Which::Span(span("R4-R10")) },
        Action::Return(Which::All),
        Action::JoinYarn(Some(Side::Left)),
        Action::CarriageAt(Side::Left),
        again(3, vec![Action::Narrow(fashion(one(Side::Right), 1, 2)), knit(2)]),
        off(),
    ]);
    sound(&run);
    // At the start, at the break, at the join, at the end.
    assert_eq!((run.sections[0].tails, run.work.yarns_joined), (4, 1));
    assert_eq!(last_rows(&run, 1), ["L10-L4"]);
    let dropped = then(vec![Action::BreakYarn, knit(3), Action::BreakYarn, off()]);
    assert_eq!(codes(&dropped), ["yarn-broken"; 2]);
    assert_eq!(only(&dropped).rows.len(), 2, "nothing is knitted without yarn");
}

/// A step of a random piece: mostly what goes on, now and then what can't be.
fn any_step() -> impl Strategy<Value = Action> {
    let side = || prop_oneof![Just(Side::Left), Just(Side::Right)];
    let ends = prop_oneof![side().prop_map(WorkingEnds::One), Just(WorkingEnds::Both)];
    let fashioned =
        (ends, 1..3_u32, 0..4_u32).prop_map(|(ends, count, inset)| fashion(ends, count, inset));
    let needle = || -14..14_i32;
    let run = |from: i32, count: i32| Span { left: Needle(from), right: Needle(from + count) };
    prop_oneof![
        4 => (1..4_u32).prop_map(knit),
        2 => fashioned.clone().prop_map(Action::Narrow),
        2 => fashioned.prop_map(Action::Widen),
        3 => (needle(), 0..2_i32, -3..4_i32, any::<bool>(), any::<bool>(), any::<bool>()).prop_map(
            move |(at, count, by, eyelets, from, to)| Action::Transfer(Transfer {
                from: BedSpan { ribber: from, span: run(at, count) },
                to: BedSpan { ribber: to, span: run(at + by, count) },
                eyelets,
                structure: Structure::Rib1x1,
            })
        ),
        1 => (needle(), 0..4_i32).prop_map(move |(at, n)| Action::Hold(Which::Span(run(at, n)))),
        1 => Just(Action::Return(Which::All)),
        1 => Just(Action::ToRib { structure: Structure::Rib2x2, which: Which::All }),
        2 => Just(Action::TransferToMain),
        1 => Just(Action::BreakYarn),
        1 => side().prop_map(|side| Action::JoinYarn(Some(side))),
        1 => (side(), 1..4_u32).prop_map(|(side, count)| Action::CastOff { which: Which::AtSide(side, count) }),
        1 => (side(), 1..4_u32).prop_map(|(side, count)| Action::ScrapOff {
            edge: "open".into(),
            which: Which::AtSide(side, count),
        }),
        1 => (side(), 1..3_u32).prop_map(|(side, count)| Action::Decrease { side, count }),
        1 => (needle(), 1..3_u32).prop_map(|(at, n)| Action::Hang {
            edge: "open".into(),
            needle: Needle(at),
            loops: HangLoops::Each(n),
        }),
        1 => needle().prop_map(move |at| Action::PickUp {
            edge: crate::edge::EdgeRange {
                place: crate::edge::EdgePlace::Selvedge("p".into(), Side::Left),
                from: 0,
                to: None,
            },
            span: run(at, 2),
        }),
    ]
}

proptest! {
    // A file of old failures would lie among the floors.
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Every stitch put on the bed is taken in, cast off, scrapped, or left and counted as a fault,
    /// whatever is asked for and whatever is refused on the way.
    #[test]
    fn stitches_are_conserved(actions in proptest::collection::vec(any_step(), 1..40), ribber in any::<bool>()) {
        let mut all = vec![plain_on("L10-R10"), knit(2)];
        all.extend(actions);
        all.push(Action::TransferToMain);
        let run = run_on(&machine(60, ribber), vec![piece("p", all)], vec![]);
        let piece = only(&run);
        let tally = piece.tally;
        prop_assert_eq!(tally.made, tally.taken_in + tally.cast_off + tally.scrapped + tally.left);
        // After so many refusals the bed gives up, and says no more.
        let refused = run.faults.iter().filter(|f| f.diagnostic.severity == Severity::Error).count();
        if refused < MOST_FAULTS {
            prop_assert_eq!(codes(&run).contains(&"stitches-left"), tally.left > 0);
        }
        let events = piece.events.iter().rev().take(1);
        for event in events {
            prop_assert!(event.in_work >= tally.left);
        }
        // What was knitted is what the rows say, on either bed.
        let rows: u64 = piece.rows.iter().map(|row| u64::from(row.stitches)).sum();
        prop_assert_eq!(rows, piece.stitches);
    }
}

fn mind(run: &Run, step: usize) -> crate::run::Mind {
    only(run).traces[step].mind
}

fn tube() -> Action {
    let (span, method) = (span("L5-R5"), CastOnMethod::Rib);
    Action::CastOn { span, structure: Structure::Circular, method, edge: None }
}

/// Loops go to the needle that faces them, so the beds are set to full pitch for it.
#[test]
fn a_transfer_sets_the_beds_to_full_pitch() {
    let off = || Action::CastOff { which: Which::All };
    let run = knitted(vec![tube(), knit(4), Action::TransferToMain, off()]);
    assert!(run.faults.is_empty(), "{:?}", run.faults);
    assert_eq!(mind(&run, 0).pitch, Some(Pitch::Between));
    assert_eq!(mind(&run, 2).pitch, Some(Pitch::Facing));
    // In rib each needle faces an empty one: nothing is to be set.
    let rib = cast_on("L5-R5", Structure::Rib1x1);
    let run = knitted(vec![rib, knit(4), Action::TransferToMain, off()]);
    assert!(run.faults.is_empty(), "{:?}", run.faults);
    assert_eq!(mind(&run, 2).pitch, None);
}

/// Where steps set the pitch, what needs it otherwise is refused.
#[test]
fn a_step_that_needs_another_pitch_is_refused() {
    let set = Action::Pitch;
    let off = || Action::CastOff { which: Which::All };
    let refused = |actions: Vec<Action>| {
        knitted(actions).faults.iter().any(|fault| fault.diagnostic.code == Code::BedPitch)
    };
    let all =
        |before: Pitch, then: Vec<Action>| [vec![set(before), tube(), knit(4)], then].concat();
    let transfer = || Action::TransferToMain;
    assert!(refused(all(Pitch::Between, vec![transfer(), off()])));
    assert!(!refused(all(Pitch::Between, vec![set(Pitch::Facing), transfer(), off()])));
    assert!(refused(all(Pitch::Facing, Vec::new())), "a tube can't be cast on at full pitch");
    assert!(refused(all(Pitch::Between, vec![set(Pitch::Facing), knit(2)])), "nor knitted");
    let moved = moved("ribber L3", "L3", false);
    assert!(refused(all(Pitch::Between, vec![moved.clone()])));
    // Rib knits at either.
    let rib = cast_on("L5-R5", Structure::Rib1x1);
    assert!(refused(vec![set(Pitch::Between), rib.clone(), knit(4), transfer(), off()]));
    assert!(!refused(vec![set(Pitch::Facing), rib, knit(4), transfer(), off()]));
}

/// After loops were moved amid a tube the beds go half a pitch apart again for the next row.
#[test]
fn rows_of_a_tube_set_the_pitch_back() {
    let run = knitted(vec![tube(), knit(4), moved("ribber L3", "L3", false), knit(2)]);
    assert_eq!(mind(&run, 2).pitch, Some(Pitch::Facing));
    assert_eq!(mind(&run, 3).pitch, Some(Pitch::Between));
}

/// A needle that comes back beside the carriage has the yarn across it; away from it, none.
#[test]
fn the_yarn_is_minded_on_the_carriages_side() {
    let short = |back: Side| {
        let hold = |side| Action::Hold(Which::AtSide(side, 3));
        then(vec![
            hold(Side::Left),
            knit(1),
            Action::Wrap,
            knit(1),
            hold(Side::Right),
            knit(1),
            Action::Return(Which::AtSide(back, 1)),
        ])
    };
    assert!(mind(&short(Side::Left), 8).under_yarn, "the carriage is on the left");
    assert!(!mind(&short(Side::Right), 8).under_yarn);
}

/// New yarn from beyond held needles must not be knitted across them.
#[test]
fn held_needles_before_the_work_are_minded() {
    let half = |held: Side| {
        then(vec![
            Action::Hold(Which::AtSide(held, 10)),
            Action::BreakYarn,
            Action::JoinYarn(None),
            knit(2),
        ])
    };
    assert_eq!(mind(&half(Side::Right), 5).past_held, Some(Side::Right));
    assert_eq!(mind(&half(Side::Left), 5).past_held, None);
}
