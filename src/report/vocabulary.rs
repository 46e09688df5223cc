//! The words in which the trade differs between America and Britain, and how a text is said in one of
//! them. Source of the pairs: the lists of abbreviations and terms that the Craft Yarn Council
//! publishes, from memory, and the spelling of both countries.
//!
//! It is applied where a text is printed and nowhere else: programs, data and commands keep the
//! usual words.

use knit::stash::Words;

/// American, British: nothing is woven here, so that the word is free for ends. What is longer stands before what it holds.
const PAIRS: [(&str, &str); 53] = [
    ("is bound off", "is cast off"),
    ("are bound off", "are cast off"),
    ("was bound off", "was cast off"),
    ("were bound off", "were cast off"),
    ("be bound off", "be cast off"),
    ("been bound off", "been cast off"),
    ("bound-off edge", "cast-off edge"),
    ("bind-off", "cast-off"),
    ("bind-offs", "cast-offs"),
    ("bind off", "cast off"),
    ("binds off", "casts off"),
    ("binding off", "casting off"),
    ("bind them off", "cast them off"),
    ("bind it off", "cast it off"),
    ("stockinette", "stocking stitch"),
    ("seed stitch", "moss stitch"),
    ("work even", "work straight"),
    ("weave", "darn"),
    ("weaves", "darns"),
    ("weaving", "darning"),
    ("woven", "darned"),
    ("sweater", "jumper"),
    ("sweaters", "jumpers"),
    ("bootie", "bootee"),
    ("booties", "bootees"),
    ("selvage", "selvedge"),
    ("selvages", "selvedges"),
    ("color", "colour"),
    ("colors", "colours"),
    ("colored", "coloured"),
    ("coloring", "colouring"),
    ("colorway", "colourway"),
    ("colorways", "colourways"),
    ("multicolored", "multicoloured"),
    ("center", "centre"),
    ("centers", "centres"),
    ("centered", "centred"),
    ("centering", "centring"),
    ("meter", "metre"),
    ("meters", "metres"),
    ("centimeter", "centimetre"),
    ("centimeters", "centimetres"),
    ("millimeter", "millimetre"),
    ("millimeters", "millimetres"),
    ("gray", "grey"),
    ("grays", "greys"),
    ("fiber", "fibre"),
    ("fibers", "fibres"),
    ("toward", "towards"),
    ("molded", "moulded"),
    ("mold", "mould"),
    ("favorite", "favourite"),
    ("neighboring", "neighbouring"),
];

/// Said in Britain only. Not the other way: the machine's own tension, set at the dial, is called so
/// in both countries.
const BRITISH: [(&str, &str); 2] = [("gauge", "tension"), ("gauges", "tensions")];

/// The text in these words. What stands in backquotes is typed, and stays.
pub fn said(words: Words, text: &str) -> String {
    let turns: Vec<(&str, &str)> = match words {
        Words::Usual => return text.to_owned(),
        Words::American => PAIRS.iter().map(|(american, british)| (*british, *american)).collect(),
        Words::British => PAIRS.iter().chain(&BRITISH).copied().collect(),
    };
    let parts = text.split('`').enumerate();
    let parts = parts.map(|(nth, part)| match nth % 2 {
        0 => replaced(part, &turns),
        _ => part.to_owned(),
    });
    parts.collect::<Vec<_>>().join("`")
}

/// What those words are called elsewhere, for "Words used".
pub(crate) const fn called_elsewhere(words: Words) -> Option<&'static str> {
    match words {
        Words::Usual => None,
        Words::American => Some(
            "The words are American. Bind off: in Britain, cast off. Gauge: tension. Weave in: darn \
             in. Stockinette: stocking stitch.",
        ),
        Words::British => Some(
            "The words are British. Cast off: in America, bind off. Tension, in stitches and rows: \
             gauge. Darn in: weave in. Stocking stitch: stockinette.",
        ),
    }
}

/// Whole words only; capitals stay.
fn replaced(text: &str, turns: &[(&str, &str)]) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    let mut inside = false;
    while let Some(first) = rest.chars().next() {
        let found = turns.iter().find(|(from, _)| !inside && begins(rest, from));
        if let Some((from, to)) = found {
            out.push_str(&in_case(&rest[..from.len()], to));
            rest = &rest[from.len()..];
            inside = true;
            continue;
        }
        inside = first.is_alphanumeric();
        out.push(first);
        rest = &rest[first.len_utf8()..];
    }
    out
}

fn begins(text: &str, word: &str) -> bool {
    text.get(..word.len()).is_some_and(|start| start.eq_ignore_ascii_case(word))
        && !text[word.len()..].starts_with(char::is_alphanumeric)
}

fn in_case(was: &str, word: &str) -> String {
    let letters = || was.chars().filter(|c| c.is_alphabetic());
    if letters().count() > 1 && letters().all(char::is_uppercase) {
        return word.to_uppercase();
    }
    match was.starts_with(char::is_uppercase) {
        true => crate::letters::capital(word),
        false => word.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_words_are_said_in_their_case() {
        for (usual, american, british) in [
            ("Cast off L1-R3.", "Bind off L1-R3.", "Cast off L1-R3."),
            ("The edge is cast off.", "The edge is bound off.", "The edge is cast off."),
            ("the cast-off edge", "the bound-off edge", "the cast-off edge"),
            ("Gauge, plain; gauges", "Gauge, plain; gauges", "Tension, plain; tensions"),
            ("tension 4", "tension 4", "tension 4"),
            ("gauged, miscoloured", "gauged, miscoloured", "gauged, miscoloured"),
            ("COLOUR, Centre", "COLOR, Center", "COLOUR, Centre"),
            ("`--set colour=3` colour", "`--set colour=3` color", "`--set colour=3` colour"),
            ("é colour ж", "é color ж", "é colour ж"),
        ] {
            assert_eq!(said(Words::American, usual), american);
            assert_eq!(said(Words::British, usual), british);
            assert_eq!(said(Words::Usual, usual), usual);
        }
        assert_eq!(said(Words::British, "Bind off, gray"), "Cast off, grey");
    }

    #[test]
    fn said_twice_is_said_once() {
        for (american, british) in PAIRS {
            assert_eq!(said(Words::American, british), american);
            assert_eq!(said(Words::British, american), british);
            assert_eq!(said(Words::American, american), american);
            assert_eq!(said(Words::British, british), british);
        }
    }
}
