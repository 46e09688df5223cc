/// Sections that have to do with each other, in sets of two or more.
pub type SectionSets = Vec<Vec<String>>;

/// What cannot be read as sets of sections.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LoneSection;

/// Reads names of sections. Names alone are one set; `band+hat` is a set of its own.
///
/// # Errors
/// A set is of one section alone.
pub fn section_sets<'a>(
    words: impl IntoIterator<Item = &'a str>,
) -> Result<SectionSets, LoneSection> {
    let mut plain: Vec<String> = Vec::new();
    let mut sets = SectionSets::new();
    for word in words.into_iter().map(str::trim).filter(|word| !word.is_empty()) {
        if word.contains('+') {
            let mut set = Vec::new();
            word.split('+').map(str::trim).for_each(|name| add(&mut set, name));
            sets.push(set);
        } else {
            add(&mut plain, word);
        }
    }
    if !plain.is_empty() {
        sets.insert(0, plain);
    }
    if sets.iter().any(|set| set.len() < 2) { Err(LoneSection) } else { Ok(sets) }
}

/// Sets that share a section are one: what is the same as the same is the same.
pub fn merged(sets: SectionSets) -> SectionSets {
    let mut merged = SectionSets::new();
    for mut set in sets {
        let apart = |other: &Vec<String>| other.iter().all(|name| !set.contains(name));
        let (kept, joined): (SectionSets, SectionSets) = merged.into_iter().partition(apart);
        merged = kept;
        for name in joined.into_iter().flatten() {
            add(&mut set, &name);
        }
        merged.push(set);
    }
    merged
}

/// The sets as they are typed.
pub fn section_words(sets: &SectionSets) -> String {
    match sets.as_slice() {
        [one] => one.join(", "),
        sets => sets.iter().map(|set| set.join("+")).collect::<Vec<_>>().join(", "),
    }
}

fn add(set: &mut Vec<String>, name: &str) {
    if !name.is_empty() && !set.iter().any(|known| known == name) {
        set.push(name.to_owned());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sets(words: &[&str]) -> Option<SectionSets> {
        section_sets(words.iter().copied()).ok()
    }

    #[test]
    fn names_alone_are_one_set_and_pairs_are_their_own() {
        let of = |all: &[&[&str]]| {
            Some(all.iter().map(|set| set.iter().map(|n| (*n).to_owned()).collect()).collect())
        };
        assert_eq!(sets(&[]), of(&[]));
        assert_eq!(sets(&["band", " hat ", "band"]), of(&[&["band", "hat"]]));
        assert_eq!(sets(&["band + hat", "cuff+palm"]), of(&[&["band", "hat"], &["cuff", "palm"]]));
        assert_eq!(sets(&["a+b", "c", "d"]), of(&[&["c", "d"], &["a", "b"]]));
        for lone in [&["band"][..], &["band+band"], &["band+"], &["a+b", "c"]] {
            assert_eq!(sets(lone), None, "{lone:?}");
        }
    }

    #[test]
    fn sets_are_typed_as_they_are_read() {
        for words in ["", "band, hat", "a, b, c", "band+hat, cuff+palm", "c+d+e, a+b"] {
            let read = section_sets(words.split(',')).expect("sets");
            assert_eq!(section_words(&read), words);
        }
    }

    #[test]
    fn the_same_as_the_same_is_the_same() {
        let all = merged(sets(&["a+b", "c+d", "b+c", "e+f"]).expect("sets"));
        assert_eq!(all, [vec!["b", "c", "a", "d"], vec!["e", "f"]]);
    }
}
