/// Plain search in linear time, for any bytes: where `word` begins and ends, counted from 1.
/// The machine's own takes the product of both lengths and can't be interrupted.
pub(super) fn plain_find(text: &[u8], word: &[u8], from: f64) -> Option<(usize, usize)> {
    let from = from as i64;
    let length = text.len() as i64;
    let start = if from < 0 { (length + from).max(0) } else { (from - 1).max(0) };
    let rest = text.get(usize::try_from(start).ok()?..)?;
    let found = match (std::str::from_utf8(rest), std::str::from_utf8(word)) {
        (Ok(rest), Ok(word)) => rest.find(word),
        _ => {
            // Byte by byte as characters, which `str::find` searches in linear time.
            let wide = |bytes: &[u8]| bytes.iter().map(|b| char::from(*b)).collect::<String>();
            let (rest, word) = (wide(rest), wide(word));
            rest.find(&word).map(|at| rest[..at].chars().count())
        }
    }?;
    let begin = start as usize + found + 1;
    Some((begin, begin + word.len() - 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_find_counts_as_the_language_does() {
        assert_eq!(plain_find(b"hello", b"l", 1.0), Some((3, 3)));
        assert_eq!(plain_find(b"hello", b"l", 4.0), Some((4, 4)));
        assert_eq!(plain_find(b"hello", b"lo", -2.0), Some((4, 5)));
        assert_eq!(plain_find(b"hello", b"h", -99.0), Some((1, 1)));
        assert_eq!(plain_find(b"hello", b"", 6.0), Some((6, 5)));
        assert_eq!(plain_find(b"hello", b"", 7.0), None);
        assert_eq!(plain_find(b"\xff\x80a", b"\x80", 1.0), Some((2, 2)));
        assert_eq!(plain_find("né".as_bytes(), "é".as_bytes(), 1.0), Some((2, 3)));
    }
}
