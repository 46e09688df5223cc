//! The stitch graph of every shipped garment: its loops against the run's counts, and its shape against
//! what a knitter knows of it.

use std::collections::BTreeMap;

use knit::graph::{Graph, JoinKind, Made, Surface};
use knit::operation::Operation;
use knit::size_run;

use crate::support::{bench, demo, grade};

const SIZES: &str = "m3-6,y7-8,women-m,men-l";

/// Every garment in every of those sizes that it comes in.
fn each(
    machine: &str,
    set: &[&str],
    garments: &[String],
    mut look: impl FnMut(&str, &size_run::Made),
) {
    for garment in garments {
        let run = grade(garment, machine, &demo(machine), SIZES, set);
        for (size, made) in run.expect("a sound request").good() {
            look(&format!("{garment} {}", size.body.id), made);
        }
    }
}

fn drawn(whose: &str, made: &size_run::Made) -> Graph {
    match Graph::of(&made.garment.program, &made.graded.run) {
        Ok(graph) => graph,
        Err(why) => panic!("{whose}: {why}"),
    }
}

#[test]
fn every_stitch_of_every_garment_is_one_loop() {
    let mut seen = 0;
    each("standard", &[], &bench().garment_ids(), |whose, made| {
        let run = &made.graded.run;
        let graph = drawn(whose, made);
        // Of a rib's start the run counts the zigzag row as stitches, and here it is what was cast on.
        let mut pieces = vec![0u64; run.pieces.len() + 1];
        let mut sections = vec![0u64; run.sections.len()];
        let mut rows: BTreeMap<(u16, u32), u32> = BTreeMap::new();
        for stitch in &graph.loops {
            let counted = match stitch.made {
                Made::Knitted | Made::Laid => 1,
                Made::Start => 2,
                _ => 0,
            };
            pieces[usize::from(stitch.piece)] += counted;
            sections[usize::from(stitch.section)] += counted;
            if counted == 1 {
                *rows.entry((stitch.piece, stitch.row)).or_default() += 1;
            }
        }
        for (number, piece) in run.pieces.iter().enumerate() {
            assert_eq!(pieces[number], piece.stitches, "{whose}, {}", piece.name);
            for (row, of) in piece.rows.iter().enumerate() {
                assert_eq!(rows[&(number as u16, row as u32)], of.stitches, "{whose}, row {row}");
            }
        }
        for (number, section) in run.sections.iter().enumerate() {
            let stitches: u64 = section.stitches.values().sum();
            assert_eq!(sections[number], stitches, "{whose}, {}", section.name);
        }
        let took = |operation| run.work.operations.of(operation);
        assert_eq!(graph.hung, took(Operation::LoopHung), "{whose}");
        assert_eq!(graph.rehung, took(Operation::LoopRehung), "{whose}");
        assert_eq!(graph.picked_up, took(Operation::LoopPickedUp), "{whose}");
        let hung = graph.joins(JoinKind::Hung).count() as u32;
        assert!(hung >= graph.hung, "{whose}: {hung} of {} hung", graph.hung);
        let grafted = graph.joins(JoinKind::Grafted).count() as u32;
        assert!(grafted >= took(Operation::LoopGrafted), "{whose}: {grafted} grafted");
        seen += 1;
    });
    assert!(seen > 50, "{seen} sizes");
}

/// A part of a garment: its Euler characteristic, its openings, and edges that end hidden inside.
type Part = (i64, usize, usize);

/// The parts, and a line of a table.
fn shape(graph: &Graph) -> (Vec<Part>, String) {
    let surface = Surface::of(graph);
    assert_eq!(surface.one_sided, 0, "a garment has two sides");
    let handles = surface.handles(graph);
    let closed = surface.openings.is_empty();
    assert!(closed || handles.iter().all(|handles| *handles <= 0), "joins cross: {handles:?}");
    let mut parts: Vec<Part> =
        surface.eulers(graph).into_iter().map(|euler| (euler, 0, 0)).collect();
    for opening in &surface.openings {
        let part = &mut parts[surface.component[opening.loops[0] as usize] as usize];
        if opening.is_hidden() {
            part.2 += 1;
        } else {
            part.1 += 1;
        }
    }
    let line = format!(
        "{} loops, {} links, {} meshes, Euler {:?}, openings {:?}, {} inside, {} slits, handles {:?}",
        surface.vertices,
        surface.edges,
        surface.faces.len(),
        surface.eulers(graph),
        surface.openings.iter().map(|opening| opening.loops.len()).collect::<Vec<_>>(),
        graph.inside.len(),
        surface.slits().count(),
        surface.handles(graph),
    );
    (parts, line)
}

/// What a knitter knows of a garment: its parts, and the shape and the openings of each.
fn known(garment: &str) -> Vec<Part> {
    match garment {
        // A bag: open round the head.
        "hat" | "tam" => vec![(1, 1, 0)],
        // Open at the ankle, at the wrist; a thumb is closed like a finger.
        "sock" | "sock-flat" | "bootee" | "mitten" => vec![(1, 1, 0); 2],
        // Flat cloth.
        "scarf" | "shawl" | "mitred-square" => vec![(1, 1, 0)],
        "neck-ring" => vec![(0, 2, 0)],
        "cuff" | "leg-warmer" => vec![(0, 2, 0); 2],
        // A tube laid double and closed all along: a ring without an edge.
        "headband" => vec![(0, 0, 0)],
        // Fingers, thumb, wrist.
        "mitt" => vec![(-1, 3, 0); 2],
        // Head, trunk, arms.
        "pullover" | "slipover" => vec![(-2, 4, 0)],
        // The front is open: one edge from hem to neck and back, and the arms.
        "cardigan" => vec![(-1, 3, 0)],
        // A cap and two pockets for the ears: each a disc whose edge ends hidden in the hem.
        "helmet" => vec![(3, 0, 3)],
        other => panic!("what is {other}?"),
    }
}

#[test]
fn every_garment_has_the_openings_that_a_knitter_knows() {
    let (mut wrong, mut seen) = (Vec::new(), 0);
    each("standard", &[], &bench().garment_ids(), |whose, made| {
        let (found, line) = shape(&drawn(whose, made));
        println!("{whose}: {line}");
        let (garment, _) = whose.split_once(' ').expect("a garment and its size");
        if found != known(garment) {
            wrong.push(format!("{whose}: {found:?}, not {:?}", known(garment)));
        }
        seen += 1;
    });
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(seen > 50, "{seen} sizes");
}

/// What is cast on closed is all that stays open of these: the tops of socks, the bands of tams, mittens' cuffs.
#[test]
fn openings_are_as_long_as_what_was_cast_on() {
    let garments = ["sock", "tam", "mitten"].map(str::to_owned);
    each("standard", &[], &garments, |whose, made| {
        let surface = Surface::of(&drawn(whose, made));
        let edges = made.graded.run.pieces.iter().flat_map(|piece| &piece.cast_on);
        let cast_on: u32 = edges.map(|edge| edge.stitches).sum();
        let open: usize = surface.openings.iter().map(|opening| opening.loops.len()).sum();
        assert_eq!(open, cast_on as usize, "{whose}");
    });
}

/// Nothing but the program and its run decides: twice the same, and each loop's neighbours know it.
#[test]
fn a_graph_is_the_same_twice_and_agrees_with_itself() {
    each("standard", &[], &["bootee".to_owned(), "helmet".to_owned()], |whose, made| {
        let graph = drawn(whose, made);
        assert_eq!(graph, drawn(whose, made), "{whose}");
        let surface = Surface::of(&graph);
        // Each side of a link lies in one mesh or along one open edge.
        let meshes: usize = surface.faces.iter().map(|face| face.loops.len()).sum();
        let edges: usize = surface.openings.iter().map(|opening| opening.loops.len()).sum();
        assert_eq!(meshes + edges, 2 * graph.links.len(), "{whose}");
        for at in 0..graph.loops.len() as u32 {
            for (_, across, _) in graph.around(at) {
                let back = graph.around(across).any(|(_, here, _)| here == at);
                assert!(back, "{whose}: {at} and {across}");
            }
        }
    });
}

#[test]
fn other_makes_and_beds_have_the_same_openings() {
    let mut wrong = Vec::new();
    for (machine, garment, set) in [
        ("standard", "hat", "brim=rib 1x1"),
        ("standard", "mitten", "tip=gathered"),
        ("standard", "tam", "join=seamed"),
        ("standard", "tam", "band_pieces=2"),
        ("standard", "pullover", "welts=hem"),
        ("bulky", "hat", "brim=hem"),
        ("bulky", "mitten", "tip=gathered"),
        ("bulky", "pullover", "welts=hem"),
        ("bulky", "sock-flat", ""),
        ("bulky", "cardigan", ""),
        // Wider above a plain cuff: loops wound beside the rows that a seam takes.
        ("mid", "mitten", ""),
        ("mid", "mitt", ""),
    ] {
        let set: Vec<&str> = Some(set).filter(|set| !set.is_empty()).into_iter().collect();
        each(machine, &set, &[garment.to_owned()], |whose, made| {
            let (found, line) = shape(&drawn(whose, made));
            println!("{whose} {set:?} on {machine}: {line}");
            let mut expected = known(garment);
            if set.contains(&"welts=hem") {
                // The lower edge is closed on the needles: it ends hidden in its hem.
                expected = vec![(-2, 3, 1)];
            }
            if machine == "mid" {
                // Without a ribber the cuff is a hem.
                for part in &mut expected {
                    (part.1, part.2) = (part.1 - 1, part.2 + 1);
                }
            }
            if found != expected {
                wrong.push(format!("{whose} {set:?} on {machine}: {found:?}"));
            }
        });
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
