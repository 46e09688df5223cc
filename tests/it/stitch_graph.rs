//! The stitch graph of every shipped garment: its loops against the run's counts, and its shape against
//! what a knitter knows of it.

use std::collections::BTreeMap;

use knit::graph::{Graph, JoinKind, Made, Surface};
use knit::operation::Operation;
use knit::size_run;

use crate::support::{bench, demo, grade};

const SIZES: &str = "m3-6,y7-8,women-m,men-l";

/// Every garment in every of those sizes that it comes in.
fn each(set: &[&str], garments: &[String], mut look: impl FnMut(&str, &size_run::Made)) {
    for garment in garments {
        let run = grade(garment, "standard", &demo("standard"), SIZES, set);
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
    each(&[], &bench().garment_ids(), |whose, made| {
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

/// Euler characteristic and open edges of each part of a garment, the hidden ones left out.
fn shape(graph: &Graph) -> Vec<(i64, usize)> {
    let surface = Surface::of(graph);
    assert_eq!(surface.one_sided, 0, "a garment has two sides");
    let mut parts: Vec<(i64, usize)> =
        surface.eulers(graph).into_iter().map(|euler| (euler, 0)).collect();
    for opening in &surface.openings {
        if opening.is_hidden() {
            // A sheet joined on the inside: as if it were closed, so that the rest is seen alone.
            parts[surface.component[opening.loops[0] as usize] as usize].0 -= 1;
        } else {
            parts[surface.component[opening.loops[0] as usize] as usize].1 += 1;
        }
    }
    println!(
        "{} loops, {} links, {} meshes, Euler {:?}, openings {:?}, {} inside, widest mesh {}",
        surface.vertices,
        surface.edges,
        surface.faces.len(),
        surface.eulers(graph),
        surface.openings.iter().map(|o| (o.loops.len(), o.inside)).collect::<Vec<_>>(),
        graph.inside.len(),
        surface.faces.iter().map(|face| face.loops.len()).max().unwrap_or(0),
    );
    parts
}

/// What a knitter knows: how many parts, the Euler characteristic of each, and its openings.
fn known(garment: &str) -> Vec<(i64, usize)> {
    match garment {
        // A bag: open at the top of the sock, round the head, at the wrist.
        "hat" | "tam" => vec![(1, 1)],
        "sock" | "sock-flat" | "bootee" | "mitten" => vec![(1, 1); 2],
        // Flat cloth.
        "scarf" | "shawl" | "mitred-square" => vec![(1, 1)],
        "neck-ring" => vec![(0, 2)],
        "cuff" | "leg-warmer" => vec![(0, 2); 2],
        // A tube laid double and closed all along: a ring without an edge.
        "headband" => vec![(0, 0)],
        // Fingers, thumb, wrist.
        "mitt" => vec![(-1, 3); 2],
        // Head, trunk, arms.
        "pullover" | "slipover" => vec![(-2, 4)],
        // The front is open: one edge from hem to neck and back, and the arms.
        "cardigan" => vec![(-1, 3)],
        // A cap and two pockets of cloth for the ears, which all end inside its hem.
        "helmet" => vec![(0, 0)],
        other => panic!("what is {other}?"),
    }
}

/// Where a garment is not joined as a knitter would: what is found, and why.
const DEVIATE: [(&str, i64, &str); 0] = [];

#[test]
fn every_garment_has_the_openings_that_a_knitter_knows() {
    let mut wrong = Vec::new();
    each(&[], &bench().garment_ids(), |whose, made| {
        print!("{whose}: ");
        let found = shape(&drawn(whose, made));
        let garment = whose.split(' ').next().unwrap_or(whose);
        let mut expected = known(garment);
        for (_, handles, _) in DEVIATE.iter().filter(|(other, ..)| *other == whose) {
            for part in &mut expected {
                part.0 -= 2 * handles;
            }
        }
        if found != expected {
            wrong.push(format!("{whose}: {found:?}, not {expected:?}"));
        }
    });
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn other_makes_have_the_same_openings() {
    let mut wrong = Vec::new();
    for (garment, set) in [
        ("hat", "brim=rib 1x1"),
        ("mitten", "tip=gathered"),
        ("tam", "join=seamed"),
        ("tam", "band_pieces=2"),
    ] {
        each(&[set], &[garment.to_owned()], |whose, made| {
            print!("{whose} {set}: ");
            let found = shape(&drawn(whose, made));
            if found != known(garment) {
                wrong.push(format!("{whose} {set}: {found:?}"));
            }
        });
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
