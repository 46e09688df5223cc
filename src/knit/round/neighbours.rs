use super::Net;

/// By node, its neighbours along the cloth and the springs to them, in the order of the springs.
pub(super) struct Neighbours {
    /// Those of a node: `starts[n]..starts[n + 1]` of `to`.
    starts: Vec<u32>,
    to: Vec<(u32, u32)>,
}

impl Neighbours {
    /// Those of all nodes of a net.
    pub fn of(net: &Net) -> Neighbours {
        let along = || net.springs.iter().enumerate().filter(|(_, spring)| spring.along);
        let mut starts = vec![0u32; net.len() + 1];
        for (_, spring) in along() {
            starts[spring.a as usize + 1] += 1;
            starts[spring.b as usize + 1] += 1;
        }
        for n in 0..net.len() {
            starts[n + 1] += starts[n];
        }
        let mut next = starts.clone();
        let mut to = vec![(0, 0); starts.last().map_or(0, |last| *last as usize)];
        for (n, spring) in along() {
            for (own, other) in [(spring.a, spring.b), (spring.b, spring.a)] {
                let place = &mut next[own as usize];
                to[*place as usize] = (other, n as u32);
                *place += 1;
            }
        }
        Neighbours { starts, to }
    }

    /// One node after the other.
    pub fn iter(&self) -> impl Iterator<Item = &[(u32, u32)]> {
        self.starts.windows(2).map(|two| &self.to[two[0] as usize..two[1] as usize])
    }
}

impl std::ops::Index<usize> for Neighbours {
    type Output = [(u32, u32)];

    fn index(&self, node: usize) -> &[(u32, u32)] {
        &self.to[self.starts[node] as usize..self.starts[node + 1] as usize]
    }
}
