use super::*;
use crate::bed;
use crate::edge::{EdgePlace, EdgeRange};
use crate::machine::Machine;
use crate::needle::{Side, Span};
use crate::program::{
    Action, Beds, CastOnMethod, Fashion, HangLoops, Inset, Joint, Piece, Program, Step, Structure,
    Transfer, Which, WorkingEnds,
};

fn span(text: &str) -> Span {
    text.parse().expect("a span")
}

fn steps(actions: Vec<Action>) -> Vec<Step> {
    actions.into_iter().zip(1..).map(|(action, line)| Step { line, action }).collect()
}

fn piece(name: &str, actions: Vec<Action>) -> Piece {
    Piece { name: name.into(), title: name.into(), section: "yarn".into(), steps: steps(actions) }
}

fn program(pieces: Vec<Piece>, finishing: Vec<Action>) -> Program {
    Program { pieces, finishing: steps(finishing), ..Program::default() }
}

fn drawn(pieces: Vec<Piece>, finishing: Vec<Action>) -> (Graph, Surface) {
    let program = program(pieces, finishing);
    let run = bed::run(&program, &Machine::new("test", "Test bed", 4.5, 200, true));
    let graph = match Graph::of(&program, &run) {
        Ok(graph) => graph,
        Err(why) => panic!("{why}: {:?}", run.faults),
    };
    let knitted = |made: &[Made]| graph.loops.iter().filter(|l| made.contains(&l.made)).count();
    let stitches: u64 = run.pieces.iter().map(|piece| piece.stitches).sum();
    let rib_starts = graph.loops.iter().filter(|l| l.made == Made::Start).count();
    let all = knitted(&[Made::Knitted, Made::Laid]) + 2 * rib_starts;
    assert_eq!(all as u64, stitches);
    let surface = Surface::of(&graph);
    assert_eq!(surface.one_sided, 0);
    (graph, surface)
}

fn cast_on(on: &str, structure: Structure, method: CastOnMethod, edge: Option<&str>) -> Action {
    Action::CastOn { span: span(on), structure, method, edge: edge.map(str::to_owned) }
}

fn wound(on: &str) -> Action {
    cast_on(on, Structure::Plain, CastOnMethod::Wound, None)
}

fn waste(on: &str, edge: &str) -> Action {
    cast_on(on, Structure::Plain, CastOnMethod::Waste, Some(edge))
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

fn again(times: u32, actions: Vec<Action>) -> Action {
    Action::Repeat { times, steps: steps(actions) }
}

fn graft(first: &str, second: &str) -> Action {
    Action::Graft { first: first.into(), second: second.into() }
}

fn seam(piece: &str) -> Action {
    Action::Seam { first: (piece.into(), Side::Left), second: (piece.into(), Side::Right) }
}

fn lengths(surface: &Surface) -> Vec<usize> {
    surface.openings.iter().map(|opening| opening.loops.len()).collect()
}

/// Vertices, edges, faces, Euler characteristic, lengths of the openings.
fn sums(surface: &Surface) -> (usize, usize, usize, i64, Vec<usize>) {
    let (v, e, f) = (surface.vertices, surface.edges, surface.faces.len());
    (v, e, f, surface.euler(), lengths(surface))
}

#[test]
fn a_rectangle_is_a_disc_whose_edge_goes_round_it() {
    let (graph, surface) = drawn(vec![piece("p", vec![wound("L4-R4"), knit(5), off()])], vec![]);
    // 8 stitches in the cast-on and in each of 5 rows.
    let (across, up) = (6 * 7, 5 * 8);
    assert_eq!(sums(&surface), (48, across + up, 35, 1, vec![2 * (8 + 6) - 4]));
    assert!(surface.faces.iter().all(|face| face.loops.len() == 4 && face.row_ends == 0));
    assert_eq!(surface.components, 1);
    let third = graph.loops.iter().position(|l| l.row == 2 && l.made == Made::Knitted);
    let third = third.expect("a loop of the third row") as u32;
    // It begins on the right: the loop below it was the last of its row.
    assert_eq!(graph.parents(third).collect::<Vec<_>>(), [third - 1]);
    assert_eq!(graph.children(third).count(), 1);
}

#[test]
fn a_seam_makes_a_tube_of_a_rectangle() {
    let flat = piece("p", vec![wound("L4-R4"), knit(5), off()]);
    let (_, surface) = drawn(vec![flat], vec![seam("p")]);
    assert_eq!((surface.euler(), lengths(&surface)), (0, vec![8, 8]));
    assert!(surface.faces.iter().all(|face| face.loops.len() == 4));
}

/// A tube of 16 on two beds, its foot open, closed at the top by grafting.
fn bag() -> Vec<Action> {
    vec![
        cast_on("L4-R4", Structure::Circular, CastOnMethod::Wound, None),
        knit(12),
        Action::WorkBeds(Beds::Main),
        scrap("front"),
        Action::TransferToMain,
        scrap("back"),
    ]
}

#[test]
fn a_tube_of_two_beds_is_a_bag_once_its_top_is_grafted() {
    let (graph, surface) = drawn(vec![piece("p", bag())], vec![graft("front", "back")]);
    assert_eq!((surface.euler(), lengths(&surface)), (1, vec![16]));
    assert_eq!(graph.loops.iter().filter(|l| l.ribber).count(), 8 * 7);
}

#[test]
fn a_tube_of_two_beds_has_two_openings() {
    let mut steps = bag();
    for step in &mut steps {
        if matches!(step, Action::ScrapOff { .. }) {
            *step = off();
        }
    }
    let (_, surface) = drawn(vec![piece("p", steps)], vec![]);
    // The last round stands a row higher where it ends.
    assert_eq!((surface.euler(), lengths(&surface)), (0, vec![17, 16]));
}

/// A strip with wedges of short rows, its last row grafted to its first.
fn wedges(wrapped: bool) -> Vec<Action> {
    let mut wedge = vec![
        Action::Hold(Which::AtSide(Side::Right, 3)),
        knit(1),
        Action::Wrap,
        knit(1),
        Action::Return(Which::All),
        knit(2),
    ];
    if !wrapped {
        wedge.remove(2);
    }
    // The carriage is on the left before a wedge.
    vec![waste("L6-R6", "foot"), knit(1), again(5, wedge), scrap("head")]
}

#[test]
fn short_rows_leave_slits_only_where_nothing_was_wrapped() {
    for (wrapped, slits) in [(true, 0), (false, 5)] {
        let (graph, surface) =
            drawn(vec![piece("p", wedges(wrapped))], vec![graft("head", "foot")]);
        assert_eq!(surface.euler(), 0, "{:?}", lengths(&surface));
        assert_eq!(surface.openings.len(), 2);
        let found = surface.faces.iter().filter(|face| face.row_ends > 1).count();
        assert_eq!(found, slits);
        let wraps = graph.loops.iter().filter(|l| l.made == Made::Wrap).count();
        assert_eq!(wraps, 5 - slits);
    }
}

#[test]
fn a_heel_on_one_bed_of_a_tube_leaves_it_a_bag() {
    let turn = |side: Side| vec![Action::Hold(Which::AtSide(side, 1)), knit(1), Action::Wrap];
    let back = |side: Side| vec![Action::Return(Which::AtSide(side, 1)), knit(1)];
    let mut steps = vec![
        cast_on("L6-R6", Structure::Circular, CastOnMethod::Wound, None),
        knit(13),
        Action::WorkBeds(Beds::Main),
    ];
    for _ in 0..4 {
        // The carriage is on the left, and the row goes to the right.
        steps.extend(turn(Side::Right));
        steps.extend(turn(Side::Left));
    }
    for _ in 0..4 {
        steps.extend(back(Side::Right));
        steps.extend(back(Side::Left));
    }
    steps.extend([
        Action::WorkBeds(Beds::Both),
        knit(12),
        Action::WorkBeds(Beds::Main),
        scrap("front"),
        Action::TransferToMain,
        scrap("back"),
    ]);
    let (_, surface) = drawn(vec![piece("p", steps)], vec![graft("front", "back")]);
    assert_eq!((surface.euler(), surface.openings.len()), (1, 1), "{:?}", lengths(&surface));
}

fn fashion(count: u32) -> Fashion {
    Fashion { ends: WorkingEnds::Both, count, inset: Inset::Stitches(2) }
}

#[test]
fn stitches_made_and_taken_in_inside_the_edge_leave_a_disc() {
    for count in [1, 2] {
        let grow = again(3, vec![Action::Widen(fashion(count)), knit(2)]);
        let shrink = again(3, vec![Action::Narrow(fashion(1)), knit(2)]);
        let steps = vec![wound("L6-R6"), knit(2), grow, shrink, off()];
        let (graph, surface) = drawn(vec![piece("p", steps)], vec![]);
        assert_eq!((surface.euler(), surface.openings.len()), (1, 1));
        let made = graph.loops.iter().filter(|l| l.made == Made::Increased).count();
        assert_eq!(made, 3 * 2 * count as usize);
        let sides = [Side::Left, Side::Right]
            .map(|side| graph.loops.iter().filter(|l| l.leaning == Some(Leaning(side))).count());
        assert_eq!(sides, [3, 3]);
    }
}

#[test]
fn a_seam_passes_below_the_loops_that_were_wound_beside_its_rows() {
    for count in [1, 2] {
        let grow = |side: Side| Action::Increase { side, count };
        let wider = again(3, vec![grow(Side::Left), grow(Side::Right), knit(2)]);
        let steps = vec![wound("L4-R4"), knit(4), wider, knit(2), off()];
        let (graph, surface) = drawn(vec![piece("p", steps)], vec![seam("p")]);
        assert_eq!((surface.euler(), surface.openings.len()), (0, 2), "{:?}", lengths(&surface));
        assert_eq!(surface.handles(&graph), [0]);
    }
}

#[test]
fn a_seam_that_takes_stretches_in_the_wrong_order_is_found() {
    let stretch = |side: Side, from: u32, to: u32| EdgeRange {
        place: EdgePlace::Selvedge("p".into(), side),
        from,
        to: Some(to),
    };
    let flat = || piece("p", vec![wound("L4-R4"), knit(12), off()]);
    let two = |order: [(u32, u32); 2]| {
        let seams = [(0, 4), (8, 12)].into_iter().zip(order).map(|((a, b), (c, d))| Action::Join {
            how: Joint::Seam,
            first: stretch(Side::Left, a, b),
            second: stretch(Side::Right, c, d),
        });
        let program = program(vec![flat()], seams.collect());
        let run = bed::run(&program, &Machine::new("test", "Test bed", 4.5, 200, true));
        let graph = Graph::of(&program, &run).expect("drawn");
        Surface::of(&graph).crossed(&graph, &program, &run)
    };
    assert_eq!(two([(0, 4), (8, 12)]), []);
    // The lower end of one side to the upper of the other, and the other way round.
    assert_eq!(two([(8, 12), (0, 4)]), [Crossed { piece: 0, step: Some(1) }]);
}

#[test]
fn a_doubled_hem_is_joined_on_the_inside() {
    let hem = Action::Rehang { edge: "hem".into(), span: span("L4-R4"), beds: Beds::Main };
    let steps = vec![waste("L4-R4", "hem"), knit(8), hem, knit(4), off()];
    let (graph, surface) = drawn(vec![piece("p", steps)], vec![]);
    assert_eq!((graph.inside.len(), graph.rehung), (8, 8));
    assert_eq!((surface.euler(), surface.components), (1, 1));
}

#[test]
fn two_pieces_closed_together_on_the_needles_are_one_cloth() {
    let part = |name: &str| piece(name, vec![wound("L4-R4"), knit(6), scrap(name)]);
    let onto =
        |name: &str| Action::Rehang { edge: name.into(), span: span("L4-R4"), beds: Beds::Main };
    for rows in [0, 1] {
        let join = piece("join", vec![onto("a"), onto("b"), knit(rows), off()]);
        let (graph, surface) = drawn(vec![part("a"), part("b"), join], vec![]);
        assert_eq!((surface.euler(), surface.openings.len()), (1, 1));
        assert_eq!(graph.joins(JoinKind::Hung).count(), 8);
        assert!(graph.inside.is_empty());
    }
}

#[test]
fn loops_picked_up_along_a_selvedge_go_on_from_it() {
    let side = EdgeRange { place: EdgePlace::Selvedge("p".into(), Side::Right), from: 0, to: None };
    let band = vec![Action::PickUp { edge: side, span: span("L5-R5") }, knit(3), off()];
    let pieces = vec![piece("p", vec![wound("L4-R4"), knit(14), off()]), piece("band", band)];
    let (graph, surface) = drawn(pieces, vec![]);
    assert_eq!((surface.euler(), surface.openings.len(), graph.picked_up), (1, 1, 10));
    // Of a right edge the last row comes to lie on the left: the same side stays out.
    let (row, _) = graph.joins(JoinKind::PickedUp).next().expect("a loop picked up");
    assert_eq!(graph.loops[row as usize].row, 13);
}

#[test]
fn what_crosses_is_told_and_not_drawn() {
    let on = |on: &str| crate::needle::BedSpan { ribber: false, span: span(on) };
    let cross = |from: &str, to: &str| {
        Action::Transfer(Transfer {
            from: on(from),
            to: on(to),
            eyelets: true,
            structure: Structure::Plain,
        })
    };
    let steps = vec![wound("L4-R4"), knit(2), cross("L1", "R2"), knit(2), off()];
    let program = self::program(vec![piece("p", steps)], vec![]);
    let run = bed::run(&program, &Machine::new("test", "Test bed", 4.5, 200, true));
    let why = Graph::of(&program, &run).expect_err("loops cross");
    assert!(why.to_string().starts_with("not drawn yet: loops that cross"), "{why}");
    let steps = vec![wound("L6-R6"), knit(2), Action::Narrow(fashion(2)), knit(2), scrap("a")];
    let finishing = vec![Action::GatherEdge { edge: "a".into() }];
    let program = self::program(vec![piece("p", steps)], finishing);
    let run = bed::run(&program, &Machine::new("test", "Test bed", 4.5, 200, true));
    assert!(matches!(Graph::of(&program, &run), Err(NotDrawn::NotYet { line: 3, .. })));
}

#[test]
fn needles_that_come_back_go_on_from_the_row_below() {
    // As a tam grows: one needle more in every two rows.
    let steps = vec![
        waste("L8-R8", "foot"),
        Action::Hold(Which::AtSide(Side::Left, 10)),
        again(9, vec![knit(1), Action::Return(Which::AtSide(Side::Left, 1)), knit(1)]),
        Action::Return(Which::All),
        knit(8),
        scrap("head"),
    ];
    let (_, surface) = drawn(vec![piece("p", steps)], vec![graft("head", "foot")]);
    assert_eq!((surface.euler(), surface.openings.len()), (0, 2), "{:?}", lengths(&surface));
    assert_eq!(surface.faces.iter().map(|face| face.row_ends).max(), Some(1));
}

#[test]
fn a_band_hung_at_a_selvedge_joins_loop_by_loop() {
    for (side, needle) in [(Side::Right, "R4"), (Side::Left, "L4")] {
        let band = vec![
            cast_on("L6-R6", Structure::Rib1x1, CastOnMethod::Rib, None),
            knit(4),
            Action::TransferToMain,
            scrap("top"),
        ];
        let hang = Action::Hang {
            edge: "top".into(),
            needle: needle.parse().expect("a needle"),
            loops: HangLoops::SpreadOver(20),
        };
        let hat = vec![waste("L4-R4", "foot"), again(20, vec![hang, knit(1)]), scrap("head")];
        let finishing = vec![
            seam("band"),
            graft("head", "foot"),
            Action::GatherSelvedge { piece: "hat".into(), side: side.other() },
        ];
        let (graph, surface) = drawn(vec![piece("band", band), piece("hat", hat)], finishing);
        assert_eq!(graph.hung, 12);
        assert_eq!(graph.joins(JoinKind::Hung).count(), 12);
        assert_eq!(graph.joins(JoinKind::Grafted).count(), 8);
        assert_eq!(graph.joins(JoinKind::Gathered).count(), 20);
        assert_eq!((surface.euler(), lengths(&surface)), (1, vec![12]));
        // In the order of the edge, from its left, while the hat grows.
        let hung: Vec<(i32, u32)> = graph
            .joins(JoinKind::Hung)
            .map(|(loops, row)| {
                (graph.loops[loops as usize].needle.0, graph.loops[row as usize].row)
            })
            .collect();
        assert!(hung.is_sorted(), "{hung:?}");
        let turned = graph.links.iter().any(|link| link.turned);
        assert_eq!(turned, side == Side::Left, "on the left the band's other side comes out");
    }
}

#[test]
fn decreases_lean_and_leave_triangles() {
    let steps = vec![
        wound("L4-R4"),
        knit(2),
        Action::Decrease { side: Side::Left, count: 1 },
        knit(2),
        off(),
    ];
    let (graph, surface) = drawn(vec![piece("p", steps)], vec![]);
    assert_eq!(surface.euler(), 1);
    assert_eq!(surface.openings.len(), 1);
    let leaning: Vec<Leaning> = graph.loops.iter().filter_map(|l| l.leaning).collect();
    assert_eq!(leaning, [Leaning(Side::Left)]);
    assert_eq!(surface.faces.iter().filter(|face| face.loops.len() == 3).count(), 1);
}

#[test]
fn a_stretch_is_joined_with_the_same_side_out() {
    let flat = piece("p", vec![wound("L4-R4"), knit(12), off()]);
    let of = |from: u32, to: u32| EdgeRange {
        place: EdgePlace::Selvedge("p".into(), Side::Left),
        from,
        to: Some(to),
    };
    let fold = Action::Join { how: Joint::Seam, first: of(0, 6), second: of(6, 12) };
    let (graph, surface) = drawn(vec![flat], vec![fold]);
    // Folded at the middle: its first row to its last.
    let rows: Vec<(u32, u32)> = graph
        .joins(JoinKind::Seamed)
        .map(|(a, b)| (graph.loops[a as usize].row, graph.loops[b as usize].row))
        .collect();
    assert_eq!(rows.first(), Some(&(0, 11)));
    assert_eq!(rows.last(), Some(&(5, 6)));
    assert_eq!(surface.openings.len(), 1);
}

#[test]
fn what_is_refused_has_no_graph() {
    let program = program(vec![piece("p", vec![wound("L4-R4"), knit(2)])], vec![]);
    let run = bed::run(&program, &Machine::new("test", "Test bed", 4.5, 200, true));
    assert_eq!(Graph::of(&program, &run), Err(NotDrawn::Refused));
}

#[test]
fn a_rib_has_the_ribbers_loops_between_those_of_the_main_bed() {
    for (structure, behind) in [(Structure::Rib1x1, "mrmrmrmr"), (Structure::Rib2x2, "mmrrmmrr")] {
        let steps = vec![
            cast_on("L4-R4", structure, CastOnMethod::Rib, None),
            knit(3),
            Action::TransferToMain,
            off(),
        ];
        let (graph, surface) = drawn(vec![piece("p", steps)], vec![]);
        // Zigzag and tubular rows, and three more.
        assert_eq!((surface.euler(), lengths(&surface)), (1, vec![2 * (8 + 5) - 4]));
        let mut row = vec![graph.loops.iter().position(|l| l.row == 1).expect("a row") as u32 - 1];
        // The row before begins on the left and was knitted from the right.
        while let Some((_, next, _)) = graph.around(row[row.len() - 1]).find(|n| n.2 == Slot::Right)
        {
            row.push(next);
        }
        let seen: String =
            row.iter().map(|at| if graph.loops[*at as usize].ribber { 'r' } else { 'm' }).collect();
        assert_eq!(seen, behind);
        let last = graph.loops.last().expect("loops");
        // The start is two rows, both counted.
        assert_eq!((last.nth, last.row), (5 * 8 - 1, 2));
    }
}

#[test]
fn a_tube_closed_into_a_ring_has_a_handle_and_no_edge() {
    let flat = piece("p", vec![waste("L4-R4", "foot"), knit(9), scrap("head")]);
    let (graph, surface) = drawn(vec![flat], vec![seam("p"), graft("head", "foot")]);
    assert_eq!((surface.euler(), lengths(&surface)), (0, vec![]));
    assert_eq!(surface.handles(&graph), [1]);
}

#[test]
fn parts_that_nothing_joins_are_counted_apart() {
    let flat = |name: &str| piece(name, vec![wound("L4-R4"), knit(5), off()]);
    let (graph, surface) = drawn(vec![flat("p"), flat("q")], vec![]);
    assert_eq!((surface.components, surface.eulers(&graph)), (2, vec![1, 1]));
}

#[test]
fn an_edge_sewn_along_more_rows_takes_them_all_in() {
    let strip = piece("strip", vec![wound("L2-R2"), knit(30), off()]);
    let open = piece("open", vec![wound("L5-R5"), knit(4), scrap("head")]);
    let sewn = Action::SewOn { edge: "head".into(), piece: "strip".into(), side: Side::Right };
    let (graph, surface) = drawn(vec![strip, open], vec![sewn]);
    assert_eq!((surface.euler(), surface.openings.len(), surface.components), (1, 1, 1));
    // Three rows to a loop, each row once.
    let joins: Vec<(u32, u32)> = graph.joins(JoinKind::SewnOn).collect();
    assert_eq!(joins.len(), 30);
    for three in joins.chunks(3) {
        assert!(three.iter().all(|join| join.0 == three[0].0));
    }
}

#[test]
fn an_eyelet_is_a_loop_drawn_through_nothing() {
    let on = |on: &str| crate::needle::BedSpan { ribber: false, span: span(on) };
    let eyelet = Action::Transfer(Transfer {
        from: on("L1"),
        to: on("R1"),
        eyelets: true,
        structure: Structure::Plain,
    });
    let steps = vec![wound("L4-R4"), knit(2), eyelet, knit(2), off()];
    let (graph, surface) = drawn(vec![piece("p", steps)], vec![]);
    assert_eq!((surface.euler(), surface.openings.len()), (1, 1));
    let laid = graph.loops.iter().position(|l| l.made == Made::Laid).expect("a loop") as u32;
    assert_eq!((graph.parents(laid).count(), graph.children(laid).count()), (0, 1));
}

#[test]
fn a_run_of_another_program_is_told_apart() {
    let bed = Machine::new("test", "Test bed", 4.5, 200, true);
    let of = |rows: u32| program(vec![piece("p", vec![wound("L4-R4"), knit(rows), off()])], vec![]);
    let run = bed::run(&of(5), &bed);
    for rows in [4, 6] {
        assert!(matches!(Graph::of(&of(rows), &run), Err(NotDrawn::Differs { .. })), "{rows}");
    }
}
