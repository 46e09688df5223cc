//! What tells one text from another.

use std::hash::Hasher;

use fnv::FnvHasher;

/// FNV-1a, 64 bits: finds slips and cut lines; it is no seal against a forger.
pub(super) fn sum(text: &str) -> String {
    sum_of(text.as_bytes())
}

pub(super) fn sum_of(bytes: &[u8]) -> String {
    let mut hasher = FnvHasher::default();
    hasher.write(bytes);
    format!("{:016x}", hasher.finish())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The sums are of the published algorithm, whoever works them out: vectors of its authors.
    #[test]
    fn sums_are_as_published() {
        let published =
            [("", "cbf29ce484222325"), ("a", "af63dc4c8601ec8c"), ("foobar", "85944171f73967e8")];
        for (text, wanted) in published {
            assert_eq!(sum(text), wanted, "{text}");
        }
    }
}
