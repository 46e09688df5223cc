//! What a yarn group can do as a whole: the sets of sections that its remnants can serve together.

/// A list of sets, each with what it loses in joins and ends. Sections are told by their place
/// among the items of the group.
#[derive(Clone, Debug, Default)]
pub(crate) struct Pool {
    /// By set, where it ends in `items`.
    ends: Vec<usize>,
    items: Vec<u32>,
    /// By set, what it loses, in tenths.
    cost: Vec<f64>,
    /// By set, the places that were looked at in packing it; [`EXACT`] where it loses just that. If
    /// not, it may lose more, or not go into the remnants at all.
    packed: Vec<u64>,
}

/// The packing of a set came to an end.
pub(crate) const EXACT: u64 = u64::MAX;

impl Pool {
    pub fn push(&mut self, items: &[u32], cost: f64, packed: u64) {
        self.items.extend_from_slice(items);
        self.ends.push(self.items.len());
        self.cost.push(cost);
        self.packed.push(packed);
    }

    pub fn len(&self) -> usize {
        self.ends.len()
    }

    /// How long it takes to go through it, in items.
    pub fn length(&self) -> usize {
        self.items.len() + self.ends.len()
    }

    pub fn set(&self, n: usize) -> &[u32] {
        let start = if n == 0 { 0 } else { self.ends[n - 1] };
        &self.items[start..self.ends[n]]
    }

    /// The sets, and what each earns where an item earns `value`.
    pub fn worths<'a>(&'a self, value: &'a [f64]) -> impl Iterator<Item = (f64, &'a [u32])> {
        (0..self.len()).map(move |n| {
            let set = self.set(n);
            let worth: f64 = set.iter().map(|item| value[*item as usize]).sum();
            (worth - self.cost[n], set)
        })
    }

    /// How many sets were packed with fewer places, to no end.
    pub fn packed_below(&self, places: u64) -> usize {
        self.packed.iter().filter(|packed| **packed < places).count()
    }

    /// The same with the sets packed anew that were packed with fewer places, to no end: `cost` gives
    /// what a set loses and with how many places it was packed, or `None` if it is no set of the group.
    pub fn packed_anew(
        &self,
        places: u64,
        mut cost: impl FnMut(&[u32]) -> Option<(f64, u64)>,
    ) -> Pool {
        let mut pool = Pool::default();
        for n in 0..self.len() {
            let known = Some((self.cost[n], self.packed[n])).filter(|(_, p)| *p >= places);
            if let Some((cost, packed)) = known.or_else(|| cost(self.set(n))) {
                pool.push(self.set(n), cost, packed);
            }
        }
        pool
    }

    pub fn all_items(&self) -> &[u32] {
        &self.items
    }

    /// The set that earns most, the first of several, and what it earns.
    pub fn best<'a>(&'a self, value: &'a [f64]) -> Option<(f64, &'a [u32])> {
        let mut best: Option<(f64, &'a [u32])> = None;
        for (worth, set) in self.worths(value) {
            if best.is_none_or(|(most, _)| worth > most) {
                best = Some((worth, set));
            }
        }
        best
    }

    /// The sets that `keep` wants, by what they earn and what is in them. `None` where that is all.
    pub fn filtered(
        &self,
        value: &[f64],
        mut keep: impl FnMut(f64, &[u32]) -> bool,
    ) -> Option<Pool> {
        let mut kept = Pool::default();
        for (n, (worth, set)) in self.worths(value).enumerate() {
            if keep(worth, set) {
                kept.push(set, self.cost[n], self.packed[n]);
            }
        }
        (kept.len() < self.len()).then_some(kept)
    }
}
