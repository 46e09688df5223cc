//! Whatever is changed, every line that the change is not about is there, byte for byte and in
//! order.

use proptest::prelude::*;

use super::tests::{edit_of, edited_at};
use super::{Edit, Given, List};

fn edited(text: &str, edit: Edit) -> String {
    edited_at("stash.toml", Some(text), &[edit])
}

fn likes(text: &str, all: &[&str]) -> String {
    let texts = all.iter().map(|text| (*text).to_owned()).collect();
    edited(text, edit_of("a", "likes", Given::Texts(texts)))
}

const LISTED: &str = "[[remnant]]\nid = \"a\"\nlikes = [ # all of them\n    # Of the sea.\n    'blue', # navy, rather\n\n    # Of the land.\n\n    \"green\",\n    \"red\" # only a little\n] # so far\nyarn = \"slate\"\n";

#[test]
fn what_stays_in_a_list_keeps_its_place_quotes_and_comments() {
    assert_eq!(likes(LISTED, &["blue", "green", "red"]), LISTED);
    let without_green = LISTED.replace("\n    \"green\",\n", "\n");
    assert_eq!(likes(LISTED, &["blue", "red"]), without_green.replace("land.\n\n\n", "land.\n\n"));
    let without_blue = LISTED.replace("    # Of the sea.\n    'blue', # navy, rather\n", "");
    assert_eq!(likes(LISTED, &["green", "red"]), without_blue);
    let more =
        LISTED.replace("\"red\" # only a little\n", "\"red\", # only a little\n    \"teal\"\n");
    assert_eq!(likes(LISTED, &["blue", "green", "red", "teal"]), more);
    let all_else = likes(LISTED, &["teal"]);
    assert!(all_else.contains("[ # all of them\n") && all_else.contains("# Of the land."));
    assert!(!all_else.contains("navy") && all_else.contains("] # so far\n"), "{all_else}");
}

#[test]
fn a_list_is_written_on_as_it_was_begun() {
    let cases: [(&str, &[&str], &str); 11] = [
        ("[\"x\"]", &["x", "y"], "[\"x\", \"y\"]"),
        ("[ 'x','y' ]", &["x", "y", "z"], "[ 'x','y',\"z\" ]"),
        ("[\"x\", \"y\", \"z\"]", &["y", "z"], "[\"y\", \"z\"]"),
        ("[\"x\", \"y\", \"z\"]", &["x", "z"], "[\"x\", \"z\"]"),
        ("[\"x\", \"y\"]", &["y", "x"], "[\"y\", \"x\"]"),
        ("[\n  \"x\",\n]", &["x", "y"], "[\n  \"x\",\n  \"y\",\n]"),
        ("[\n  \"x\", \"y\",\n  \"z\"\n]", &["y", "z"], "[\n  \"y\",\n  \"z\"\n]"),
        ("[\n  # none yet\n]", &["x"], "[\n  # none yet\n  \"x\",\n]"),
        ("[]", &["x", "y"], "[\"x\", \"y\"]"),
        ("[ \"x\"\n, 'y' # why\n, \"z\" ]", &["x", "y"], "[ \"x\"\n, 'y' # why\n ]"),
        ("[ \"x\", # c\n \"y\", ]", &["x"], "[ \"x\", # c\n ]"),
    ];
    for (before, texts, after) in cases {
        let text = |list: &str| format!("[[remnant]]\nid = 'a'\nlikes = {list}\n");
        assert_eq!(likes(&text(before), texts), text(after), "{before}");
    }
}

#[test]
fn a_list_within_a_table_is_changed_in_place_too() {
    let inner = LISTED.replace("likes = [", "[remnant.pinned]\nlikes = [");
    let pin = |texts: &[&str]| {
        let texts = texts.iter().map(|text| (*text).to_owned()).collect();
        let pins = Given::Merge(vec![("likes".to_owned(), Given::Texts(texts))]);
        edited(&inner, edit_of("a", "pinned", pins))
    };
    assert_eq!(pin(&["blue", "green", "red"]), inner);
    assert!(pin(&["blue", "red", "teal"]).contains("'blue', # navy, rather\n"));
    let gone = pin(&[]);
    assert!(!gone.contains("likes") && gone.contains("[remnant.pinned]\nyarn"), "{gone}");
}

#[test]
fn the_first_entry_comes_below_what_the_file_begins_with() {
    let new = "[[remnant]]\nid = \"n\"\n";
    let add = Edit::Add { list: List::Stash, fields: vec![("id".into(), Given::text("n"))] };
    let schema = "#:schema ./.oddments/schemas/stash.json\n";
    let made = super::tests::edited_in("stash.toml", None, std::slice::from_ref(&add), true);
    assert_eq!(made, format!("{schema}\n{new}"));
    for words in [schema, "# Mine.\n\n# More.\n\n", "# Mine.\r\n\r\n# Such as\r\n# [[remnant]]\r\n"]
    {
        let text = edited(words, add.clone());
        assert!(text.starts_with(words), "{text}");
        let rest = text[words.len()..].replace("\r\n", "\n");
        assert_eq!(rest.trim_start(), new);
        assert_eq!(text.contains("\r\n"), words.contains("\r\n"));
    }
    assert_eq!(edited("# Cut", add.clone()), format!("# Cut\n\n{new}"));
}

#[test]
fn keys_at_the_top_come_below_what_the_file_begins_with() {
    let set = |before: Option<&str>, schemas| {
        let fields = vec![("name".to_owned(), Given::text("Slate"))];
        let edit = Edit::Set { path: "yarns/s.toml".into(), fields };
        super::tests::edited_in("yarns/s.toml", before, &[edit], schemas)
    };
    let schema = "#:schema ../.oddments/schemas/yarn.json\n";
    assert_eq!(set(None, true), format!("{schema}name = \"Slate\"\n"));
    let table = "\n# A colour.\n[[colour]]\nname = 'x'\n";
    let with = format!("{schema}name = \"Slate\"\n{table}");
    assert_eq!(set(Some(&format!("{schema}{table}")), true), with);
    let close = format!("{schema}{}", table.trim_start());
    assert_eq!(set(Some(&close), true), with);
}

const COLOURS: &str = "name = \"Slate\"\n\n# The colours.\n\n# by day\n[[colour]]\nname = 'day'\nshade = \"#123456\" # matched by eye\n\n# Of dusk.\n\n# by night\n[[colour]]\nname = \"night\"\n# The end.\n";

#[test]
fn tables_that_stay_keep_their_comments() {
    let colours = |all: &[&[(&str, &str)]]| {
        let fields = |table: &&[(&str, &str)]| {
            table.iter().map(|(key, text)| ((*key).to_owned(), Given::text(*text))).collect()
        };
        let tables = Given::Tables(all.iter().map(fields).collect());
        let fields = vec![("colour".to_owned(), tables)];
        edited_at(
            "yarns/s.toml",
            Some(COLOURS),
            &[Edit::Set { path: "yarns/s.toml".into(), fields }],
        )
    };
    let (day, night) = ([("name", "day"), ("shade", "#123456")], [("name", "night")]);
    assert_eq!(colours(&[&day, &night]), COLOURS);
    let repainted = [("name", "day"), ("shade", "#654321")];
    assert_eq!(colours(&[&repainted, &night]), COLOURS.replace("123456", "654321"));
    let text = colours(&[&day, &night, &[("name", "noon")]]);
    assert_eq!(text, COLOURS.replace("# The end", "\n[[colour]]\nname = \"noon\"\n# The end"));
    let text = colours(&[&night]);
    assert!(text.contains("# The colours.\n") && !text.contains("by day"), "{text}");
    assert!(text.contains("# Of dusk.\n\n# by night\n[[colour]]\nname = \"night\"\n"), "{text}");
    let text = colours(&[&day]);
    assert!(text.contains("# Of dusk.\n") && text.contains("# The end.\n"), "{text}");
    assert!(!text.contains("by night") && text.contains("matched by eye"), "{text}");
    let turned = colours(&[&night, &day]);
    let at = |what: &str| turned.find(what).expect("there");
    assert!(at("# by night") < at("'day'") && at("\"night\"") < at("# by day"), "{turned}");
}

#[test]
fn a_plan_made_again_keeps_what_stays() {
    let entry = |remnant: &str, weight: &str| {
        format!("[[reservation]]\ngift = 'g'\nremnant = \"{remnant}\"\nweight = \"{weight}\"")
    };
    let head = "#:schema ./.oddments/schemas/plan.json\n\n";
    let plan = format!(
        "{head}{} # light\n\n# keep\n{}\n\n# gone\n{}\n# The end.\n",
        entry("a", "5 g"),
        entry("b", "6 g"),
        entry("c", "7 g")
    );
    let add = |remnant: &str, weight: &str| Edit::Add {
        list: List::Plan,
        fields: [("gift", "g"), ("remnant", remnant), ("weight", weight)]
            .map(|(key, text)| (key.to_owned(), Given::text(text)))
            .to_vec(),
    };
    let (key, values) = ("gift", vec!["g".to_owned()]);
    let clear = Edit::RemoveWhere { list: List::Plan, key, values };
    let again = |adds: &[Edit]| {
        let edits = [std::slice::from_ref(&clear), adds].concat();
        edited_at("plan.toml", Some(&plan), &edits)
    };
    assert_eq!(again(&[add("c", "7 g"), add("a", "5 g"), add("b", "6 g")]), plan);
    assert_eq!(
        again(&[add("d", "1 g"), add("b", "9 g"), add("a", "5 g")]),
        format!(
            "{head}{} # light\n\n# keep\n{}\n\n{}\n# The end.\n",
            entry("a", "5 g"),
            entry("b", "9 g"),
            entry("d", "1 g").replace("'g'", "\"g\"")
        )
    );
    assert_eq!(again(&[]), format!("{head}# The end.\n"));
}

#[test]
fn a_key_goes_with_its_own_comment_and_no_other() {
    let text = "[[remnant]]\nid = 'a'\n\n# Weighed in spring.\n\n# by hand\nweight = '5 g'\n\n[[remnant]]\nid = 'b'\n";
    let gone = edited(text, edit_of("a", "weight", Given::Nothing));
    assert!(gone.contains("# Weighed in spring.\n") && !gone.contains("by hand"), "{gone}");
    let text = text.replace("'5 g'\n", "'5 g'\nyarn = 'slate'\n");
    let gone = edited(&text, edit_of("a", "weight", Given::Nothing));
    assert!(gone.contains("# Weighed in spring.\n\nyarn = 'slate'\n"), "{gone}");
}

#[test]
fn a_text_of_several_lines_says_the_same_whatever_the_line_ends() {
    for note in ["a\nb\n", "a\r\nb", "\n'''\n\"\"\"", "\t \t \t \t \tx \t\n"] {
        for text in ["[[remnant]]\r\nid = 'a'\r\n", "[[remnant]]\nid = 'a'\n"] {
            let written = edited(text, edit_of("a", "note", Given::text(note)));
            let read: toml::Table = written.parse().expect("sound");
            let value = &read["remnant"].as_array().expect("a list")[0]["note"];
            assert_eq!(value.as_str(), Some(note), "{written:?}");
        }
    }
}

/// A line, and whose it is: an entry's, and within it an item's of its list.
#[derive(Clone, Debug, PartialEq)]
struct Line {
    text: String,
    entry: Option<usize>,
    item: Option<usize>,
}

#[derive(Clone, Debug)]
enum Step {
    Reweigh(usize),
    Remove(usize),
    Likes(usize, Vec<bool>, bool),
    Add,
}

const ITEMS: usize = 3;

/// The lines of an entry, drawn from `bits`.
fn entry(entry: usize, mut bits: u32) -> Vec<(String, Option<usize>, Option<usize>)> {
    let mut draw = || {
        bits = bits.rotate_right(1);
        bits & 1 == 1
    };
    let mut lines = Vec::new();
    if draw() {
        lines.push((format!("# A word on nothing. {entry}"), None, None));
        lines.push((String::new(), None, None));
    }
    let mut own = |text: String, item| lines.push((text, Some(entry), item));
    if draw() {
        own(format!("  # About {entry} é"), None);
    }
    own("[[remnant]]".to_owned() + if draw() { " # here" } else { "" }, None);
    own(format!("id = 'e{entry}'"), None);
    if draw() {
        own("note = '''".to_owned(), None);
        own("  as it is \t \t \t \t".to_owned(), None);
        own("# no comment'''".to_owned(), None);
    }
    own("likes = [".to_owned() + if draw() { " # some" } else { "" }, None);
    for item in 0..ITEMS {
        if draw() {
            own(format!("    # on {item}"), Some(item));
        }
        own(format!("    'i{item}',{}", if draw() { " # so" } else { "" }), Some(item));
    }
    own("]".to_owned(), None);
    own(format!("weight   = \"20 g\"{}", if draw() { "# weighed" } else { "" }), None);
    lines.push((String::new(), None, None));
    lines
}

fn file(entries: &[u32], ends: &[bool]) -> Vec<Line> {
    let mut all = vec![("#:schema ./x.json".to_owned(), None, None), (String::new(), None, None)];
    all.extend(entries.iter().enumerate().flat_map(|(i, bits)| entry(i, *bits)));
    all.push(("# The end.".to_owned(), None, None));
    let ends = ends.iter().cycle().map(|crlf| if *crlf { "\r\n" } else { "\n" });
    let lines = all.into_iter().zip(ends);
    lines.map(|((text, entry, item), end)| Line { text: text + end, entry, item }).collect()
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        (0..5usize).prop_map(Step::Reweigh),
        (0..5usize).prop_map(Step::Remove),
        (0..5usize, prop::collection::vec(any::<bool>(), ITEMS), any::<bool>())
            .prop_map(|(entry, kept, new)| Step::Likes(entry, kept, new)),
        Just(Step::Add),
    ]
}

/// The change, and the lines that are to be there after it but for new ones.
fn taken(lines: &[Line], step: &Step, fresh: &str) -> Option<(Edit, Vec<Line>)> {
    let there = |entry: usize| lines.iter().any(|line| line.entry == Some(entry));
    let mut after = lines.to_vec();
    let edit = match step {
        Step::Reweigh(entry) if there(*entry) => {
            for line in after.iter_mut().filter(|line| line.entry == Some(*entry)) {
                if line.text.starts_with("weight") {
                    line.text = line.text.replace("20 g", "12 g");
                }
            }
            edit_of(&format!("e{entry}"), "weight", Given::text("12 g"))
        }
        Step::Remove(entry) if there(*entry) => {
            after.retain(|line| line.entry != Some(*entry));
            Edit::Remove { list: List::Stash, key: format!("e{entry}") }
        }
        Step::Likes(entry, kept, new) if there(*entry) => {
            let has = |item: usize| {
                lines.iter().any(|line| line.entry == Some(*entry) && line.item == Some(item))
            };
            let stays = |item: usize| kept[item] && has(item);
            after.retain(|line| line.entry != Some(*entry) || line.item.is_none_or(stays));
            let mut texts: Vec<String> =
                (0..ITEMS).filter(|item| stays(*item)).map(|item| format!("i{item}")).collect();
            texts.extend(new.then(|| fresh.to_owned()));
            edit_of(&format!("e{entry}"), "likes", Given::Texts(texts))
        }
        Step::Add => {
            let fields = vec![("id".to_owned(), Given::text(fresh))];
            Edit::Add { list: List::Stash, fields }
        }
        _ => return None,
    };
    Some((edit, after))
}

/// The lines with something in them, less those that tell of something new.
fn old_lines(text: &str) -> Vec<&str> {
    let mut lines: Vec<&str> =
        text.split_inclusive('\n').filter(|line| !line.trim().is_empty()).collect();
    while let Some(at) = lines.iter().position(|line| line.contains("fresh")) {
        let new_entry = lines[at].starts_with("id");
        lines.drain(at - usize::from(new_entry)..=at);
    }
    lines
}

proptest! {
    #[test]
    fn every_other_line_is_there_and_in_order(
        entries in prop::collection::vec(any::<u32>(), 0..5),
        ends in prop::collection::vec(any::<bool>(), 1..40),
        steps in prop::collection::vec(step(), 1..6),
        (bom, cut) in any::<(bool, bool)>(),
    ) {
        let mut lines = file(&entries, &ends);
        if cut && let Some(last) = lines.last_mut() {
            last.text = last.text.trim_end().to_owned();
        }
        let whole: String = lines.iter().map(|line| line.text.as_str()).collect();
        let mut text = format!("{}{whole}", if bom { "\u{feff}" } else { "" });
        for (i, step) in steps.iter().enumerate() {
            let Some((edit, after)) = taken(&lines, step, &format!("fresh-{i}")) else { continue };
            text = edited(&text, edit);
            lines = after;
            prop_assert_eq!(text.starts_with('\u{feff}'), bom);
            let plain = text.trim_start_matches('\u{feff}');
            prop_assert!(plain.parse::<toml::Table>().is_ok(), "{}", plain);
            let wanted: Vec<&str> = lines.iter().map(|line| line.text.as_str()).collect();
            let wanted: Vec<&str> = wanted.into_iter().filter(|l| !l.trim().is_empty()).collect();
            let there = old_lines(plain);
            // A last line that had no end has one where something new comes below it.
            let ended = |lines: &[&str]| {
                let mut lines: Vec<String> = lines.iter().map(|line| (*line).to_owned()).collect();
                if cut && let Some(last) = lines.last_mut() {
                    last.truncate(last.trim_end().len());
                }
                lines
            };
            prop_assert_eq!(ended(&there), ended(&wanted));
        }
    }
}
