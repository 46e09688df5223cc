//! Numbers as a compiled chunk holds them.

/// Reads a compiled chunk from its beginning. `None`: it ends too soon, or a number is too long.
pub(super) struct Reader<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Reader<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        Reader { bytes, at: 0 }
    }

    pub fn at(&self) -> usize {
        self.at
    }

    pub fn is_done(&self) -> bool {
        self.at == self.bytes.len()
    }

    /// What was read since `from`.
    pub fn since(&self, from: usize) -> &'a [u8] {
        &self.bytes[from..self.at]
    }

    pub fn take(&mut self, count: usize) -> Option<&'a [u8]> {
        let taken = self.bytes.get(self.at..self.at.checked_add(count)?)?;
        self.at += count;
        Some(taken)
    }

    pub fn byte(&mut self) -> Option<u8> {
        self.take(1).map(|bytes| bytes[0])
    }

    /// Four bytes, the lowest first.
    pub fn word(&mut self) -> Option<u32> {
        let bytes: [u8; 4] = self.take(4)?.try_into().ok()?;
        Some(u32::from_le_bytes(bytes))
    }

    /// Seven bits a byte, the lowest first.
    pub fn number(&mut self) -> Option<u64> {
        let mut number = 0;
        for shift in (0..63).step_by(7) {
            let byte = self.byte()?;
            number |= u64::from(byte & 127) << shift;
            if byte & 128 == 0 {
                return Some(number);
            }
        }
        // The tenth byte of a number of 64 bits holds the last one.
        Some(number | u64::from(self.byte()?) << 63)
    }

    /// A number of things to come.
    pub fn count(&mut self) -> Option<usize> {
        usize::try_from(self.number()?).ok()
    }

    /// Passes over `count` numbers.
    pub fn numbers(&mut self, count: usize) -> Option<()> {
        (0..count).try_for_each(|_| self.number().map(drop))
    }
}

/// Writes a number as [`Reader::number`] reads it.
pub(super) fn put_number(out: &mut Vec<u8>, mut number: u64) {
    while number > 127 {
        out.push((number & 127) as u8 | 128);
        number >>= 7;
    }
    out.push(number as u8);
}

/// Writes a word as [`Reader::word`] reads it.
pub(super) fn put_word(out: &mut Vec<u8>, word: u32) {
    out.extend(word.to_le_bytes());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_come_back() {
        for number in [0, 1, 127, 128, 300, u64::from(u32::MAX), u64::MAX >> 1, u64::MAX] {
            let mut bytes = Vec::new();
            put_number(&mut bytes, number);
            let mut reader = Reader::new(&bytes);
            assert_eq!(reader.number(), Some(number));
            assert!(reader.is_done());
            assert_eq!(Reader::new(&bytes[..bytes.len() - 1]).number(), None);
        }
    }
}
