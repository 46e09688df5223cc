mod edges;
mod shaping;

use super::*;
use crate::program::{Beds, CastOnMethod, HangLoops};
use diag::Code;

fn machine(needles: u32, ribber: bool) -> Machine {
    Machine::new("test", "Test bed", 4.5, needles, ribber)
}

fn span(text: &str) -> Span {
    text.parse().expect("a span")
}

fn steps(actions: Vec<Action>) -> Vec<Step> {
    actions.into_iter().zip(1..).map(|(action, line)| Step { line, action }).collect()
}

fn piece(name: &str, actions: Vec<Action>) -> Piece {
    Piece { name: name.into(), title: name.into(), section: "yarn".into(), steps: steps(actions) }
}

fn cast_on(on: &str, structure: Structure) -> Action {
    Action::CastOn { span: span(on), structure, method: CastOnMethod::Wound, edge: None }
}

fn waste_on(on: &str, edge: &str) -> Action {
    Action::CastOn {
        span: span(on),
        structure: Structure::Plain,
        method: CastOnMethod::Waste,
        edge: Some(edge.into()),
    }
}

fn knit(rows: u32) -> Action {
    Action::Knit { rows }
}

fn off() -> Action {
    Action::CastOff { which: Which::All }
}

fn scrap(edge: &str) -> Action {
    Action::ScrapOff { edge: edge.into(), which: Which::All }
}

fn hang(edge: &str, needle: &str, loops: HangLoops) -> Action {
    Action::Hang { edge: edge.into(), needle: needle.parse().expect("a needle"), loops }
}

fn again(times: u32, actions: Vec<Action>) -> Action {
    Action::Repeat { times, steps: steps(actions) }
}

fn run_on(bed: &Machine, pieces: Vec<Piece>, finishing: Vec<Action>) -> Run {
    run(&Program { pieces, finishing: steps(finishing), ..Program::default() }, bed)
}

/// One piece on a full bed.
fn knitted(actions: Vec<Action>) -> Run {
    run_on(&machine(200, true), vec![piece("p", actions)], vec![])
}

fn codes(run: &Run) -> Vec<&'static str> {
    run.faults.iter().map(|f| f.diagnostic.code.as_str()).collect()
}

#[test]
fn a_square_counts_every_stitch() {
    let run = knitted(vec![cast_on("L20-R20", Structure::Plain), knit(60), off()]);
    assert_eq!(codes(&run), [""; 0]);
    let square = run.piece("p").expect("the piece");
    assert_eq!((square.widest, square.rows.len(), square.stitches), (40, 60, 2400));
    assert_eq!(square.rows_at, vec![60; 40]);
    assert_eq!(square.rows[0].from, Side::Right);
    assert_eq!(square.rows[59].counter, 60);
    // A wound cast-on and a cast-off take a loop each beside the rows.
    assert_eq!(run.sections[0].sewn_loops, 80);
}

fn back() -> Action {
    Action::Return(Which::AtSide(Side::Left, 1))
}

/// The needle comes back on the carriage's side, under the yarn, and that is meant.
fn meant() -> Action {
    Action::CarriageAt(Side::Left)
}

/// A triangle worked out by hand: 12 needles, one brought back every 2 rows from none. Rows on
/// the needles, from the working end: 2x12 - 1, 2x11 - 1 ... 1; stitches 12 x 12 = 144, and two
/// more passes of the two working needles' own.
#[test]
fn short_rows_make_the_triangle_that_arithmetic_gives() {
    let mut actions = vec![
        cast_on("L12-R2", Structure::Plain),
        knit(2),
        Action::Hold(Which::Span(span("L12-L1"))),
        again(11, vec![knit(1), meant(), back(), Action::Wrap, knit(1)]),
    ];
    actions.extend([knit(1), meant(), back(), knit(1), off()]);
    let run = knitted(actions);
    assert_eq!(codes(&run), [""; 0]);
    let fan = run.piece("p").expect("the piece");
    let expected: Vec<u32> = (0..12).map(|i| 2 + 1 + 2 * i).chain([2 + 24; 2]).collect();
    assert_eq!(fan.rows_at, expected);
    assert_eq!(fan.stitches, u64::from(expected.iter().sum::<u32>()));
    assert_eq!(fan.rows.len(), 26);
}

#[test]
fn a_turn_without_a_wrap_leaves_a_slit_and_is_said_once() {
    let run = knitted(vec![
        cast_on("L10-R10", Structure::Plain),
        knit(2),
        Action::Hold(Which::AtSide(Side::Left, 10)),
        again(4, vec![knit(1), meant(), back(), knit(1)]),
        Action::Return(Which::All),
        knit(2),
        off(),
    ]);
    assert_eq!(codes(&run), ["unwrapped-turn"]);
    assert!(run.knittable(), "a slit is ugly, not impossible");
}

#[test]
fn a_tube_takes_a_pass_a_bed_and_counts_both() {
    let run = knitted(vec![
        Action::CastOn {
            span: span("L15-R15"),
            structure: Structure::Circular,
            method: CastOnMethod::Rib,
            edge: None,
        },
        knit(20),
        Action::TransferToMain,
        scrap("toe"),
    ]);
    let tube = run.piece("p").expect("the piece");
    assert_eq!(tube.widest, 60);
    // 20 passes are 10 rounds: 10 rows on every needle of either bed.
    assert_eq!(tube.rows_at, vec![10; 30]);
    assert!(tube.rows.iter().all(|row| row.stitches == 30));
}

#[test]
fn ribs_put_their_loops_on_both_beds_and_come_off_as_one_edge() {
    for (structure, width) in [(Structure::Rib1x1, 40), (Structure::Rib2x2, 40)] {
        let run = run_on(
            &machine(200, true),
            vec![piece(
                "band",
                vec![
                    Action::CastOn {
                        span: span("L20-R20"),
                        structure,
                        method: CastOnMethod::Rib,
                        edge: None,
                    },
                    knit(16),
                    Action::TransferToMain,
                    scrap("top"),
                ],
            )],
            vec![Action::GatherEdge { edge: "top".into() }],
        );
        assert_eq!(codes(&run), [""; 0], "{structure}");
        assert_eq!(run.edge("top").expect("edge").loops, width);
        let band = run.piece("band").expect("band");
        // Rows, and the zigzag and tubular rows of the cast-on: two stitches a needle.
        assert_eq!(band.stitches, u64::from(width) * (16 + 2));
        assert_eq!(band.structure, structure);
    }
}

#[test]
fn loops_spread_over_points_land_evenly_and_none_is_left() {
    for (loops, points) in [(40u32, 40u32), (37, 40), (40, 37), (1, 40), (40, 20)] {
        let left = (loops / 2) as i32;
        let on = Span { left: Needle(-left), right: Needle(loops as i32 - left - 1) };
        let run = run_on(
            &machine(200, false),
            vec![
                piece("band", vec![waste_on(&on.to_string(), "foot"), knit(4), scrap("top")]),
                piece(
                    "hat",
                    vec![
                        cast_on("L5-R5", Structure::Plain),
                        again(
                            points,
                            vec![hang("top", "R5", HangLoops::SpreadOver(points)), knit(2)],
                        ),
                        off(),
                    ],
                ),
            ],
            vec![Action::GatherEdge { edge: "foot".into() }],
        );
        assert!(run.knittable(), "{loops} over {points}: {:?}", run.faults);
        let edge = run.edge("top").expect("edge");
        assert_eq!((edge.loops, edge.left, edge.points), (loops, 0, points));
        let odd = if loops < points { &edge.skipped } else { &edge.doubled };
        assert_eq!(odd.len() as u32, loops.abs_diff(points).min(points));
        // Even spacing: the gaps between the odd points differ by one at most.
        let gaps: Vec<u32> = odd.windows(2).map(|w| w[1].point - w[0].point).collect();
        if let (Some(least), Some(most)) = (gaps.iter().min(), gaps.iter().max()) {
            assert!(most - least <= 1, "{loops} over {points}: {gaps:?}");
        }
    }
}

fn plain_on() -> Action {
    cast_on("L10-R10", Structure::Plain)
}

/// What the bed refuses of casting on, of passes and of positions: the code, and what is done.
fn refused_at_needles() -> Vec<(&'static str, Vec<Action>)> {
    vec![
        ("off-bed", vec![cast_on("L101-R10", Structure::Plain)]),
        ("needle-taken", vec![plain_on(), cast_on("R5-R15", Structure::Plain), off()]),
        (
            "edge-unnamed",
            vec![Action::CastOn {
                span: span("L5-R5"),
                structure: Structure::Plain,
                method: CastOnMethod::Waste,
                edge: None,
            }],
        ),
        ("nothing-to-knit", vec![knit(2)]),
        ("nothing-to-knit", vec![plain_on(), Action::Hold(Which::All), knit(1), off()]),
        ("carriage-side", vec![plain_on(), knit(1), Action::CarriageAt(Side::Right), off()]),
        ("return-too-many", vec![plain_on(), Action::Return(Which::AtSide(Side::Left, 1)), off()]),
        ("return-not-held", vec![plain_on(), Action::Return(Which::Span(span("L10-L9"))), off()]),
        ("hold-too-many", vec![plain_on(), Action::Hold(Which::AtSide(Side::Left, 21)), off()]),
        ("hold-empty", vec![plain_on(), Action::Hold(Which::Span(span("R10-R11"))), off()]),
        (
            "hold-twice",
            vec![
                plain_on(),
                Action::Hold(Which::Span(span("L10-L9"))),
                Action::Hold(Which::Span(span("L10-L9"))),
                off(),
            ],
        ),
        ("wrap-nothing", vec![plain_on(), Action::Wrap, off()]),
    ]
}

/// What it refuses of edges, of the ribber and of what is left over.
fn refused_at_edges() -> Vec<(&'static str, Vec<Action>)> {
    vec![
        ("no-such-edge", vec![plain_on(), hang("bnad", "R10", HangLoops::Each(1)), off()]),
        (
            "hang-out-of-work",
            vec![waste_on("L10-R10", "top"), hang("top", "R50", HangLoops::Each(1)), off()],
        ),
        (
            "edge-empty",
            vec![
                waste_on("L1-R1", "top"),
                again(3, vec![hang("top", "R1", HangLoops::Each(1)), knit(1)]),
                off(),
            ],
        ),
        (
            "hang-over",
            vec![
                waste_on("L1-R1", "top"),
                again(3, vec![hang("top", "R1", HangLoops::SpreadOver(2)), knit(1)]),
                off(),
            ],
        ),
        (
            "jam",
            vec![waste_on("L5-R5", "top"), hang("top", "R1", HangLoops::Each(9)), knit(1), off()],
        ),
        ("ribber-empty", vec![plain_on(), Action::TransferToMain, off()]),
        ("ribber-loaded", vec![cast_on("L10-R10", Structure::Rib1x1), knit(2), off()]),
        ("stitches-left", vec![plain_on(), knit(4)]),
        (
            "rehang-mismatch",
            vec![
                waste_on("L5-R5", "top"),
                off(),
                Action::Rehang { edge: "top".into(), span: span("L5-R4"), beds: Beds::Main },
            ],
        ),
        (
            "decrease-too-many",
            vec![plain_on(), Action::Decrease { side: Side::Left, count: 20 }, off()],
        ),
        ("too-long", vec![plain_on(), again(1000, vec![knit(1000)])]),
        ("loops-left", vec![waste_on("L5-R5", "top"), knit(2), off()]),
        ("off-the-bed", vec![plain_on(), Action::GatherEdge { edge: "x".into() }, off()]),
    ]
}

#[test]
fn what_cannot_be_knitted_is_refused_with_a_hint() {
    let full = machine(200, true);
    let mut cases: Vec<(&Machine, &str, Vec<Action>)> = Vec::new();
    for (code, actions) in refused_at_needles().into_iter().chain(refused_at_edges()) {
        cases.push((&full, code, actions));
    }
    let single = machine(200, false);
    cases.push((&single, "no-ribber", vec![cast_on("L5-R5", Structure::Rib1x1)]));
    for (bed, code, actions) in cases {
        let run = run_on(bed, vec![piece("p", actions)], vec![]);
        let found = run.faults.iter().find(|f| f.diagnostic.code.as_str() == code);
        let found = found.unwrap_or_else(|| panic!("{code} not among {:?}", codes(&run)));
        assert!(!run.knittable(), "{code}");
        assert!(!found.diagnostic.context.is_empty(), "{code} says nothing of where");
        assert!(!found.diagnostic.hints.is_empty(), "{code} says nothing of what to do");
    }
}

/// A cast-on that is refused beside fabric: what was knitted on its needles before still counts.
#[test]
fn a_refused_step_leaves_the_bed_as_it_was() {
    let knitted_with = |refused: Vec<Action>| {
        let mut actions = vec![
            cast_on("L5-R5", Structure::Plain),
            knit(4),
            Action::CastOff { which: Which::AtSide(Side::Left, 2) },
        ];
        actions.extend(refused);
        actions.extend([knit(2), off()]);
        knitted(actions)
    };
    let sound = knitted_with(vec![]);
    let refused = knitted_with(vec![waste_on("L5-L4", "foot")]);
    assert_eq!(codes(&refused), ["cast-on-beside"]);
    let rows = |run: &Run| run.piece("p").expect("piece").rows_at.clone();
    assert_eq!(rows(&sound), [4, 4, 6, 6, 6, 6, 6, 6, 6, 6]);
    assert_eq!(rows(&refused), rows(&sound));
}

#[test]
fn edges_that_do_not_match_are_not_grafted() {
    let graft = |first: &str, second: &str| {
        run_on(
            &machine(200, true),
            vec![
                piece("a", vec![waste_on("L5-R5", "a1"), knit(4), scrap("a2")]),
                piece("b", vec![waste_on("L5-R6", "b1"), knit(4), scrap("b2")]),
            ],
            vec![Action::Graft { first: first.into(), second: second.into() }],
        )
    };
    assert!(codes(&graft("a1", "b1")).contains(&"graft-mismatch"));
    assert!(codes(&graft("a1", "a1")).contains(&"graft-itself"));
    let good = graft("a1", "a2");
    assert_eq!(codes(&good), ["loops-left", "loops-left"], "only piece b's edges stay open");
}

#[test]
fn three_loops_warn_and_a_long_float_warns() {
    let run = knitted(vec![
        waste_on("L5-R5", "top"),
        hang("top", "R1", HangLoops::Each(2)),
        knit(1),
        Action::Return(Which::AtSide(Side::Left, 1)),
        off(),
    ]);
    assert!(codes(&run).contains(&"crowded-needle"));
    let run = knitted(vec![
        cast_on("L20-R20", Structure::Plain),
        Action::Hold(Which::Span(span("R5-R20"))),
        knit(2),
        off(),
    ]);
    assert!(codes(&run).contains(&"long-float"), "{:?}", codes(&run));
}

#[test]
fn casting_off_takes_the_yarn_along() {
    let at = |from: &str| {
        knitted(vec![
            cast_on("L20-R20", Structure::Plain),
            knit(2),
            Action::CastOff { which: Which::Span(span(from)) },
            knit(1),
            off(),
        ])
    };
    // The yarn hangs on the right: it lies beside R8 after that, and is nowhere near L8.
    assert_eq!(codes(&at("R9-R20")), [""; 0]);
    let other = knitted(vec![
        cast_on("L20-R20", Structure::Plain),
        knit(2),
        Action::CastOff { which: Which::Span(span("R9-R20")) },
        Action::Hold(Which::Span(span("R1-R8"))),
        knit(1),
        Action::Return(Which::All),
        knit(1),
        off(),
    ]);
    assert!(codes(&other).contains(&"long-float"), "{:?}", codes(&other));
}

#[test]
fn a_hem_is_closed_by_hanging_the_first_row_on_working_needles() {
    let run = run_on(
        &machine(200, false),
        vec![piece(
            "hem",
            vec![
                waste_on("L10-R10", "foot"),
                knit(20),
                Action::Rehang { edge: "foot".into(), span: span("L10-R10"), beds: Beds::Main },
                knit(1),
                off(),
            ],
        )],
        vec![],
    );
    assert_eq!(codes(&run), [""; 0]);
}

#[test]
fn a_fault_in_a_repeat_is_reported_once() {
    let run = knitted(vec![
        cast_on("L5-R5", Structure::Plain),
        again(50, vec![knit(1), Action::Wrap]),
        off(),
    ]);
    let faults: Vec<_> =
        run.faults.iter().filter(|f| f.diagnostic.code == Code::WrapNothing).collect();
    assert_eq!(faults.len(), 1);
    assert!(faults[0].diagnostic.context.iter().any(|c| c == "50 times in all"));
}

#[test]
fn traces_remember_the_first_and_the_last_time() {
    let run = knitted(vec![
        cast_on("L5-R5", Structure::Plain),
        again(3, vec![knit(2), Action::Decrease { side: Side::Left, count: 1 }]),
        off(),
    ]);
    let traces = &run.piece("p").expect("piece").traces;
    let decrease = &traces[3];
    assert_eq!(decrease.visits, 3);
    assert_eq!(decrease.first.map(|m| m.counter), Some(2));
    assert_eq!(decrease.last.map(|m| m.counter), Some(6));
    assert_eq!(decrease.first_needles.map(|n| n.to_string()).as_deref(), Some("L5"));
    assert_eq!(decrease.last_needles.map(|n| n.to_string()).as_deref(), Some("L3"));
    assert_eq!(decrease.in_work, 7);
}

/// A tube's heel: the ribber rests, its loops wider than the short rows.
#[test]
fn a_heel_beside_a_resting_ribber_is_checked_for_slits() {
    let heel = |wrap: bool| {
        let turn = |action: Action| {
            let mut all = vec![action, knit(1)];
            all.extend(wrap.then_some(Action::Wrap));
            all
        };
        let (left, right) = (Which::AtSide(Side::Left, 1), Which::AtSide(Side::Right, 1));
        let mut out = turn(Action::Hold(left));
        out.extend(turn(Action::Hold(right)));
        let back = [Action::Return(left), knit(1), Action::Return(right), knit(1)];
        let mut actions = vec![
            Action::CastOn {
                span: span("L3-R3"),
                structure: Structure::Circular,
                method: CastOnMethod::Rib,
                edge: None,
            },
            knit(4),
            Action::WorkBeds(Beds::Main),
            again(1, out),
        ];
        actions.extend(back);
        actions.extend([Action::WorkBeds(Beds::Both), knit(4), Action::TransferToMain, off()]);
        knitted(actions)
    };
    let run = heel(true);
    assert_eq!(codes(&run), [""; 0]);
    let tube = run.piece("p").expect("the piece");
    let widths: Vec<u32> = tube.rows[4..8].iter().map(|row| row.stitches).collect();
    assert_eq!(widths, [5, 4, 5, 6]);
    // Once at each knit step that turns beside a held needle.
    assert_eq!(codes(&heel(false)), ["unwrapped-turn"; 2]);
}

#[test]
fn a_few_rows_are_eased_into_a_seam_and_more_are_said() {
    let seamed = |rows: u32| {
        run_on(
            &machine(200, false),
            vec![
                piece("a", vec![cast_on("L5-R5", Structure::Plain), knit(30), off()]),
                piece("b", vec![cast_on("L5-R5", Structure::Plain), knit(rows), off()]),
            ],
            vec![Action::Seam {
                first: ("a".into(), Side::Left),
                second: ("b".into(), Side::Right),
            }],
        )
    };
    assert_eq!(codes(&seamed(34)), [""; 0]);
    assert_eq!(codes(&seamed(35)), ["seam-uneven"]);
}

#[test]
fn winding_several_needles_away_from_the_yarn_warns() {
    let codes_of = |side: Side, count: u32| {
        codes(&knitted(vec![
            cast_on("L5-R5", Structure::Plain),
            knit(2),
            Action::Increase { side, count },
            knit(2),
            off(),
        ]))
    };
    // After two rows the carriage is on the right.
    assert_eq!(codes_of(Side::Right, 3), [""; 0]);
    assert_eq!(codes_of(Side::Left, 1), [""; 0]);
    assert_eq!(codes_of(Side::Left, 2), ["increase-away"]);
}

#[test]
fn a_stitch_is_not_worked_into_a_gap() {
    let run = run_on(
        &machine(200, false),
        vec![piece(
            "p",
            vec![
                cast_on("L5-R5", Structure::Plain),
                knit(2),
                Action::ScrapOff { edge: "gap".into(), which: Which::Span(span("L4-L3")) },
                Action::Decrease { side: Side::Left, count: 1 },
            ],
        )],
        vec![Action::GatherEdge { edge: "gap".into() }],
    );
    assert!(codes(&run).contains(&"decrease-into-gap"), "{:?}", codes(&run));
}

#[test]
fn a_piece_that_cannot_be_cast_on_says_so_and_nothing_that_follows_from_it() {
    let run = run_on(
        &machine(200, false),
        vec![
            piece(
                "band",
                vec![
                    cast_on("L20-R20", Structure::Rib1x1),
                    knit(16),
                    Action::TransferToMain,
                    scrap("top"),
                ],
            ),
            piece(
                "hat",
                vec![
                    cast_on("L5-R5", Structure::Plain),
                    again(40, vec![hang("top", "R5", HangLoops::Each(1)), knit(2)]),
                    off(),
                ],
            ),
        ],
        vec![Action::Seam {
            first: ("band".into(), Side::Left),
            second: ("band".into(), Side::Right),
        }],
    );
    assert_eq!(codes(&run), ["no-ribber"]);
}

#[test]
fn a_program_made_to_be_slow_is_stopped() {
    // A repeat of no times over a long body, walked past again and again.
    let long: Vec<Action> = (0..20_000).map(|_| knit(1)).collect();
    let run = knitted(vec![
        cast_on("L5-R5", Structure::Plain),
        again(90_000, vec![again(0, long)]),
        off(),
    ]);
    assert!(codes(&run).contains(&"too-long"), "{:?}", codes(&run));
    // An error that comes back for ever.
    let run = knitted(vec![
        cast_on("L5-R5", Structure::Plain),
        again(90_000, vec![hang("nowhere", "R5", HangLoops::Each(1))]),
        off(),
    ]);
    assert_eq!(codes(&run), ["no-such-edge"]);
    assert!(run.faults[0].diagnostic.context.iter().any(|c| c == "200 times in all"));
}

#[test]
fn a_needle_loaded_beyond_counting_still_jams() {
    let run = knitted(vec![
        waste_on("L100-R100", "top"),
        Action::Hold(Which::Span(span("L100-L1"))),
        knit(1),
        knit(1),
        again(4, vec![knit(1), Action::Wrap, knit(1)]),
        hang("top", "L1", HangLoops::Each(200)),
        Action::Return(Which::All),
        knit(1),
        off(),
    ]);
    assert!(codes(&run).contains(&"jam"), "{:?}", codes(&run));
}

#[test]
fn rows_on_the_same_needles_share_their_spans() {
    let run = knitted(vec![cast_on("L20-R20", Structure::Plain), knit(60), off()]);
    let square = run.piece("p").expect("piece");
    assert_eq!(square.spans.len(), 1);
    assert!(square.rows.iter().all(|row| square.spans_of(row)[0].span == span("L20-R20")));
}

#[test]
fn an_increase_of_any_count_is_refused_or_done() {
    for count in [0, 20, 21, i32::MAX as u32, i32::MAX as u32 + 1, u32::MAX] {
        for side in [Side::Left, Side::Right] {
            let actions = vec![
                cast_on("L5-R5", Structure::Plain),
                knit(2),
                Action::Increase { side, count },
                Action::CastOff { which: Which::All },
            ];
            let program = Program { pieces: vec![piece("p", actions)], ..Program::default() };
            let run = run(&program, &machine(20, false));
            let codes: Vec<_> =
                run.faults.iter().map(|fault| fault.diagnostic.code.as_str()).collect();
            let due = if count == 0 { "increase-none" } else { "off-bed" };
            assert_eq!(codes, [due], "{count} on the {side}");
        }
    }
}

/// Counted by hand: what takes time is counted once each, and what is done between two passes in one go.
#[test]
fn what_takes_time_is_counted_as_it_happens() {
    use crate::operation::Operation::*;
    let short_rows =
        again(3, vec![Action::Hold(Which::AtSide(Side::Left, 1)), knit(1), Action::Wrap, knit(1)]);
    let run = run_on(
        &machine(200, true),
        vec![
            piece("a", vec![waste_on("L10-R10", "start"), knit(40), short_rows, scrap("end")]),
            piece("b", vec![cast_on("L5-R5", Structure::Plain), knit(20), off()]),
        ],
        vec![
            Action::Graft { first: "start".into(), second: "end".into() },
            Action::GatherSelvedge { piece: "b".into(), side: Side::Right },
        ],
    );
    assert!(run.knittable(), "{:?}", run.faults);
    let count = |operation| run.work.operations.of(operation);
    assert_eq!(count(Pass), run.work.passes);
    // Eight waste rows at both ends of the first piece.
    assert_eq!(count(Pass), 8 + 40 + 6 + 8 + 20);
    assert_eq!((count(GettingReady), count(PieceSetUp), count(RibSetUp)), (1, 2, 0));
    assert_eq!((count(WasteThreaded), count(WasteDrawnOut)), (3, 2));
    assert_eq!((count(WeightsMoved), count(NeedleMoved), count(NeedleWrapped)), (2 + 1, 3, 3));
    // Cast on; hold and wrap three times each; scrapped off: the latter straight after a pass, as all are.
    assert_eq!(count(HandsToNeedles), 1 + 6 + 1 + 1 + 1);
    assert_eq!((count(LoopWound), count(LoopCastOff)), (10, 10));
    assert_eq!((count(SewingBegun), count(LoopGrafted), count(RowGathered)), (2, 20, 20));
    let tails: u32 = run.sections.iter().map(|section| section.tails).sum();
    assert_eq!(count(EndDarned), tails);
}
