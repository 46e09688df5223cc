//! The stitch graph of every shipped garment: loops against counts, and its shape against what a knitter
//! knows of it.

use knit::graph::{Graph, Surface};

use crate::support::{bench, demo, grade};

#[test]
fn table() {
    for garment in bench().garment_ids() {
        let size = match garment.as_str() {
            "bootee" | "helmet" => "m6-12",
            _ => "women-m",
        };
        let run = match grade(&garment, "standard", &demo("standard"), size, &[]) {
            Ok(run) => run,
            Err(why) => {
                println!("{garment}: {why:?}");
                continue;
            }
        };
        for (_, made) in run.good() {
            let now = std::time::Instant::now();
            match Graph::of(&made.garment.program, &made.graded.run) {
                Err(why) => println!("{garment}: {why}"),
                Ok(graph) => {
                    let surface = Surface::of(&graph);
                    let ms = now.elapsed().as_millis();
                    let hidden = surface.openings.iter().filter(|o| o.is_hidden()).count();
                    println!(
                        "{garment}: V {} E {} F {} euler {} per {:?} openings {:?} hidden {hidden} inside {} onesided {} biggest face {} ms {ms}",
                        surface.vertices,
                        surface.edges,
                        surface.faces.len(),
                        surface.euler(),
                        surface.eulers(&graph),
                        surface.openings.iter().map(|o| o.loops.len()).collect::<Vec<_>>(),
                        graph.inside.len(),
                        surface.one_sided,
                        surface.faces.iter().map(|f| f.loops.len()).max().unwrap_or(0),
                    );
                }
            }
        }
    }
}
