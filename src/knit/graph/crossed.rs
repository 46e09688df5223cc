//! Joins that cross: edges sewn together so that the cloth has a handle, as a ring has, and an open edge besides.

use super::{Graph, Surface};
use crate::program::Program;
use crate::run::Run;

/// Cloth that is joined across itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Crossed {
    /// The piece that most of it was knitted as: an index into [`Program::pieces`].
    pub piece: usize,
    /// The step of the finishing that joins it so: an index into [`Program::finishing`]; `None` where it came so
    /// from the bed.
    pub step: Option<usize>,
}

impl Surface {
    /// Parts whose joins cross. A tube that is closed into a ring has a handle too, and no open edge that is seen.
    pub fn crossed(&self, graph: &Graph, program: &Program, run: &Run) -> Vec<Crossed> {
        let handles = self.handles(graph);
        let open = |part: usize| {
            let own = |at: &u32| self.component[*at as usize] as usize == part;
            self.openings
                .iter()
                .any(|edge| !edge.is_hidden() && edge.loops.first().is_some_and(own))
        };
        let parts = (0..handles.len()).filter(|part| handles[*part] > 0 && open(*part));
        parts
            .map(|part| {
                let first = self.component.iter().position(|own| *own as usize == part);
                let step = first.and_then(|first| joined_so(first, program, run));
                Crossed { piece: self.mostly(graph, part), step }
            })
            .collect()
    }

    /// The piece that most loops of a part belong to.
    fn mostly(&self, graph: &Graph, part: usize) -> usize {
        let mut loops: Vec<u32> = Vec::new();
        for (stitch, _) in
            graph.loops.iter().zip(&self.component).filter(|(_, own)| **own as usize == part)
        {
            let piece = usize::from(stitch.piece);
            loops.resize(loops.len().max(piece + 1), 0);
            loops[piece] += 1;
        }
        (0..loops.len()).rev().max_by_key(|piece| loops[*piece]).unwrap_or_default()
    }
}

/// The first step of the finishing with which the part that a loop belongs to has a handle. Handles don't go away
/// again by joining more.
fn joined_so(first: usize, program: &Program, run: &Run) -> Option<usize> {
    let has_handle = |steps: usize| {
        let finishing = program.finishing[..steps].to_vec();
        let begun = Program { finishing, ..program.clone() };
        let Ok(graph) = Graph::of(&begun, run) else { return false };
        let surface = Surface::of(&graph);
        let handles = surface.handles(&graph);
        handles[surface.component[first] as usize] > 0
    };
    let (mut without, mut with) = (0, program.finishing.len());
    if has_handle(0) {
        return None;
    }
    while with - without > 1 {
        let middle = usize::midpoint(without, with);
        if has_handle(middle) { with = middle } else { without = middle }
    }
    Some(with - 1)
}
