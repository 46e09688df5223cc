/// A small seeded generator (SplitMix64; Steele, Lea, Flood 2014, *Fast splittable pseudorandom
/// number generators*). The same seed gives the same numbers on any machine.
#[derive(Clone, Debug)]
pub(super) struct Random(u64);

impl Random {
    pub fn new(seed: u64) -> Random {
        Random(seed)
    }

    /// A generator of its own for each pair of numbers, whatever was drawn elsewhere.
    pub fn of(seed: u64, round: u64, chain: u64) -> Random {
        let mut mixed = Random(seed ^ round.wrapping_mul(0x9E6C_63D0_876A_9A69));
        let first = mixed.next();
        let mut own = Random(first ^ chain.wrapping_mul(0xD1B5_4A32_D192_ED03));
        Random(own.next())
    }

    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Below `n`, which is at least 1.
    pub fn below(&mut self, n: usize) -> usize {
        ((u128::from(self.next()) * n as u128) >> 64) as usize
    }

    /// In [0, 1).
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 * (1.0 / (1u64 << 53) as f64)
    }

    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}
