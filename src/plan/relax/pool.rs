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
    /// By set, whether it loses just that; if not, it may lose more, or not go into the remnants at all.
    exact: Vec<bool>,
}

impl Pool {
    pub fn push(&mut self, items: &[u32], cost: f64, exact: bool) {
        self.items.extend_from_slice(items);
        self.ends.push(self.items.len());
        self.cost.push(cost);
        self.exact.push(exact);
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

    /// How many sets are not known exactly.
    pub fn inexact(&self) -> usize {
        self.exact.iter().filter(|exact| !**exact).count()
    }

    /// The same with the sets that are not known exactly looked into: `cost` gives what a set loses
    /// and whether it is exact, or `None` if it is no set of the group.
    pub fn looked_into(&self, mut cost: impl FnMut(&[u32]) -> Option<(f64, bool)>) -> Pool {
        let mut pool = Pool::default();
        for n in 0..self.len() {
            let known = Some((self.cost[n], true)).filter(|_| self.exact[n]);
            if let Some((cost, exact)) = known.or_else(|| cost(self.set(n))) {
                pool.push(self.set(n), cost, exact);
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
                kept.push(set, self.cost[n], self.exact[n]);
            }
        }
        (kept.len() < self.len()).then_some(kept)
    }
}
