//! A pattern for a class: many sizes, each with its figures; and the words and measures it is told in.

use std::collections::BTreeMap;

use app::{Colouring, YarnRequest, run_sheet};
use knit::size_run::SizeRun;
use knit::stash::Words;
use report::PrintLook;
use report::sheet::{Block, Document, Paper, SheetStep, pattern_sheet};
use scraper::{Html, Selector};
use serde_json::Value;
use units::LengthUnit;

use super::demo::Demo;
use super::server::{Server, command};
use super::sheet::{readable, sound};
use super::support::{bench, demo, grade, oddments_in};

fn run(garment: &str, sizes: &str) -> SizeRun {
    grade(garment, "standard", &demo("standard"), sizes, &[]).expect("graded")
}

fn sheet(run: &SizeRun, look: PrintLook, paper: Paper) -> Document {
    let colouring = Colouring::read(&YarnRequest::default(), run).expect("no yarn is asked for");
    run_sheet(run, &look, paper, &colouring).expect("made")
}

fn usual(run: &SizeRun) -> Document {
    sheet(run, PrintLook::new(LengthUnit::Cm), Paper::A4)
}

/// Without its pictures, which no step is in.
fn words_alone(run: &SizeRun) -> Document {
    pattern_sheet(run, &PrintLook::new(LengthUnit::Cm), Paper::A4, Vec::new())
}

/// A sheet as a knitter reads who makes one size of it: the letters looked up in her column, steps and chapters
/// of other sizes left out.
struct Reader<'a> {
    /// What all sizes are called, in order.
    all: &'a [String],
    own: &'a str,
    column: BTreeMap<String, String>,
    /// The depth of a step that is not hers: all that stands in it is not either.
    left_out: Option<usize>,
    steps: Vec<(usize, String)>,
}

impl Reader<'_> {
    fn read(document: &Document, all: &[String], own: &str) -> Vec<(usize, String)> {
        let mut reader =
            Reader { all, own, column: BTreeMap::new(), left_out: None, steps: Vec::new() };
        let (mut group, mut chapter) = (true, true);
        for block in &document.blocks {
            match block {
                Block::Heading { text, .. } => match text.strip_prefix("For ") {
                    Some(sizes) => group = reader.is_among(sizes),
                    None => chapter = reader.is_hers(text),
                },
                Block::Table(grid) if grid.title.starts_with("Figures by size") && group => {
                    if let Some(at) = grid.headings.iter().position(|head| head == own) {
                        let cells = grid.rows.iter().map(|row| (row[0].clone(), row[at].clone()));
                        reader.column.extend(cells);
                    }
                }
                Block::Steps(steps) if group && chapter => {
                    reader.left_out = None;
                    steps.iter().for_each(|step| reader.step(step));
                }
                _ => {}
            }
        }
        reader.steps
    }

    /// "A to C, E".
    fn is_among(&self, sizes: &str) -> bool {
        let place = |label: &str| {
            let at = self.all.iter().position(|known| known == label);
            at.unwrap_or_else(|| panic!("no size is called {label}: {sizes}"))
        };
        let own = place(self.own);
        sizes.split(", ").any(|span| match span.split_once(" to ") {
            Some((from, to)) => (place(from)..=place(to)).contains(&own),
            None => place(span) == own,
        })
    }

    /// What begins with sizes is for those.
    fn is_hers(&self, text: &str) -> bool {
        let (only, but) = (text.find(" only: "), text.strip_prefix("All sizes but "));
        if let Some(others) = but {
            return !self.is_among(others.split(": ").next().expect("sizes"));
        }
        let Some(end) = only else { return true };
        let sizes = text[..end].strip_prefix("Sizes ").or(text[..end].strip_prefix("Size "));
        self.is_among(sizes.expect("sizes"))
    }

    fn step(&mut self, step: &SheetStep) {
        if self.left_out.is_some_and(|depth| step.depth > depth) {
            return;
        }
        self.left_out = (!self.is_hers(&step.only)).then_some(step.depth);
        if self.left_out.is_some() {
            return;
        }
        let mut text = format!("{}{}", step.lead, step.text);
        for (letter, figure) in &self.column {
            if text.contains(letter.as_str()) {
                assert_ne!(figure, "-", "{}: {text}", self.own);
                text = text.replace(letter, figure);
            }
        }
        assert!(!text.contains('['), "{}: no figure for {text}", self.own);
        let hers = step.remarks.iter().filter_map(|remark| {
            let (sizes, list) = remark.split_once(": ")?;
            sizes.split(", ").any(|size| size == self.own).then_some(list)
        });
        for list in hers {
            text = text.replacen("(listed by size below)", list, 1);
        }
        assert!(!text.contains("listed by size"), "{}: {text} {:?}", self.own, step.remarks);
        let text = text.strip_prefix("After each round: ").map(str::to_owned).unwrap_or(text);
        self.steps.push((step.depth, text));
    }
}

/// The run of one size of it.
fn one_of(all: &SizeRun, nth: usize) -> SizeRun {
    SizeRun { sizes: vec![all.sizes[nth].clone()], ..all.clone() }
}

/// Whoever follows her own letters has the pattern of her own size, step by step and word by word.
#[test]
fn whoever_reads_her_size_alone_has_her_own_pattern() {
    let mut told = 0;
    for garment in bench().garment_ids() {
        let all = run(&garment, "all");
        let class = words_alone(&all);
        let counted = format!("{} sizes", all.good().count());
        let many = all.good().count() > 3;
        assert!(!many || class.title.ends_with(&counted), "{}", class.title);
        let labels: Vec<String> = all.good().map(|(size, _)| size.body.label.clone()).collect();
        for (nth, size) in all.sizes.iter().enumerate().filter(|(_, size)| size.good().is_some()) {
            let label = &size.body.label;
            let own = words_alone(&one_of(&all, nth));
            let alone = own.blocks.iter().filter_map(|block| match block {
                Block::Steps(steps) => Some(steps),
                _ => None,
            });
            let alone: Vec<(usize, String)> = alone
                .flatten()
                .map(|step| (step.depth, format!("{}{}", step.lead, step.text)))
                .collect();
            let hers = match labels.len() {
                // Few are in brackets, one has no others.
                ..=3 => continue,
                _ => Reader::read(&class, &labels, label),
            };
            assert_eq!(hers.len(), alone.len(), "{garment}, {label}");
            for (hers, alone) in hers.iter().zip(&alone) {
                assert_eq!(hers, alone, "{garment}, {label}");
                told += 1;
            }
        }
    }
    assert!(told > 8000, "{told}");
}

/// The same of the data, where every word is compared and each step as data.
#[test]
fn the_data_of_a_class_has_each_size_of_its_own() {
    fn list(value: &Value) -> &[Value] {
        value.as_array().expect("a list")
    }
    let read = |run: &SizeRun| loom::read(&report::pattern_json(run, LengthUnit::Cm));
    let (mut lines, mut some) = (0, 0);
    for garment in bench().garment_ids() {
        let all = run(&garment, "all");
        let documents = read(&all);
        let classes: Vec<&Value> =
            list(&documents).iter().flat_map(|document| list(&document["together"])).collect();
        if all.good().count() == 1 {
            assert!(classes.is_empty(), "{garment}");
            continue;
        }
        for (nth, size) in all.sizes.iter().enumerate().filter(|(_, size)| size.good().is_some()) {
            let id = Value::from(size.body.id.to_string());
            let place = |of: &Value| list(&of["sizes"]).iter().position(|own| *own == id);
            let hers: Vec<&&Value> = classes.iter().filter(|c| place(c).is_some()).collect();
            let [class] = hers.as_slice() else { panic!("{garment} {id}: {}", hers.len()) };
            let alone = read(&one_of(&all, nth));
            let alone = list(&alone[0]["folded"][0]["chapters"]);
            let chapters = list(&class["chapters"]);
            let chapters: Vec<&Value> = chapters.iter().filter(|c| place(c).is_some()).collect();
            assert_eq!(chapters.len(), alone.len(), "{garment} {id}");
            for (chapter, alone) in chapters.into_iter().zip(alone) {
                assert_eq!(chapter["title"], alone["title"]);
                let pieces = &chapter["pieces"][place(chapter).expect("hers")];
                assert_eq!(*pieces, alone["pieces"][0], "{garment} {id}");
                let told = list(&chapter["lines"]);
                some += told.iter().filter(|line| place(line).is_none()).count();
                let told: Vec<&Value> = told.iter().filter(|l| place(l).is_some()).collect();
                assert_eq!(told.len(), list(&alone["lines"]).len(), "{garment} {id}");
                for (line, alone) in told.into_iter().zip(list(&alone["lines"])) {
                    let at = place(line).expect("hers");
                    assert_eq!(line["depth"], alone["depth"]);
                    assert_eq!(line["numbered"], alone["numbered"]);
                    if !line["steps"].is_null() {
                        assert_eq!(line["steps"][at], alone["steps"][0], "{garment} {id}");
                    }
                    if line["text"].as_str().is_some_and(|t| t.starts_with("After each round")) {
                        assert_eq!(line["figures"][0][at], alone["text"], "{garment} {id}");
                        continue;
                    }
                    let figures = list(&line["figures"]);
                    let figures: Vec<&Value> = figures.iter().map(|all| &all[at]).collect();
                    let own = list(&alone["figures"]);
                    let own: Vec<&Value> = own.iter().map(|all| &all[0]).collect();
                    assert_eq!(figures, own, "{garment} {id}: {}", line["text"]);
                    lines += 1;
                }
            }
        }
    }
    assert!(lines > 8000, "{lines}");
    assert!(some > 500, "{some} lines of others");
}

/// A wedge or a band more in some sizes parts no set of instructions: it is theirs, on paper, on the page and in
/// the text.
#[test]
fn what_some_sizes_have_is_told_as_theirs() {
    for (garment, sizes) in [("hat", "all"), ("tam", "all"), ("hat", "women,men"), ("tam", "women")]
    {
        let run = run(garment, sizes);
        let sheet = words_alone(&run);
        let heads = |prefix: &str| {
            let heads = sheet.blocks.iter().filter(
                |block| matches!(block, Block::Heading { text, .. } if text.starts_with(prefix)),
            );
            heads.count()
        };
        assert_eq!(heads("For "), 0, "{garment}, {sizes}: one set of instructions");
        assert_eq!(heads("Finishing"), 1, "{garment}, {sizes}");
        let steps = sheet.blocks.iter().filter_map(|block| match block {
            Block::Steps(steps) => Some(steps),
            _ => None,
        });
        let theirs: Vec<&SheetStep> =
            steps.flatten().filter(|step| !step.only.is_empty()).collect();
        assert!(!theirs.is_empty(), "{garment}, {sizes}");
        let text = report::pattern_text(&run, &PrintLook::new(LengthUnit::Cm), false);
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let page = report::sheet::sheet_html(&sheet);
        let html = Html::parse_document(&page);
        let only = Selector::parse("b.only").expect("a selector");
        let of_page: Vec<String> = html.select(&only).map(|part| part.text().collect()).collect();
        let of_sheet: Vec<String> = theirs.iter().map(|step| step.only.clone()).collect();
        assert_eq!(of_page, of_sheet, "{garment}, {sizes}");
        let paper = sound(&sheet, garment).join(" ");
        let paper = paper.split_whitespace().collect::<Vec<_>>().join(" ");
        for step in theirs {
            let whole = format!("{}{}{}", step.only, step.lead, step.text);
            assert!(text.contains(whole.trim()), "{whole}");
            assert!(paper.contains(step.only.trim()), "{}", step.only);
        }
        assert!(text.contains("A step that begins with sizes"), "{text}");
    }
}

#[test]
fn sheets_of_two_four_and_all_sizes_are_sound_on_both_papers() {
    let papers = [(Paper::A4, LengthUnit::Cm), (Paper::Letter, LengthUnit::In)];
    for (of, garment) in ["tam", "sock", "pullover"].into_iter().enumerate() {
        for (at, sizes) in
            ["women-m", "y5-6,women-m", "y5-6..y11-12", "all"].into_iter().enumerate()
        {
            let run = run(garment, sizes);
            // Each garment on both papers, and so many sizes on both.
            let (paper, unit) = papers[(of + at) % 2];
            let look = PrintLook { words: Words::American, ..PrintLook::new(unit) };
            let whose = format!("{garment}, {sizes}");
            sound(&pattern_sheet(&run, &look, paper, Vec::new()), &whose);
            let sheet = sheet(&run, look, paper);
            assert!(readable(&sheet, &whose) < 40, "{whose}");
            let head = |sought: &str| {
                sheet.blocks.iter().rposition(|block| {
                    matches!(block, Block::Heading { text, .. } if text.starts_with(sought))
                })
            };
            assert!(head("Finishing") < head("Schematic"), "{whose}");
        }
    }
}

#[test]
fn each_size_has_a_sheet_of_its_own_in_one_file() {
    let women = run("sock", "women");
    let look = PrintLook { each: true, ..PrintLook::new(LengthUnit::Cm) };
    let bound = sheet(&women, look, Paper::A4);
    let sections: Vec<&str> = bound
        .blocks
        .iter()
        .filter_map(|block| match block {
            Block::Heading { level: 2, text } => Some(text.as_str()),
            _ => None,
        })
        .collect();
    assert_eq!(sections.len(), 4);
    let text = report::pattern_text(&women, &look, false);
    for (section, (size, _)) in sections.iter().zip(women.good()) {
        assert!(section.ends_with(&size.body.label), "{section}");
        assert!(text.contains(&section.to_uppercase()), "{section}");
        let own = words_alone(&run("sock", size.body.id.as_str()));
        let steps = |of: &Document| {
            let all = of.blocks.iter().filter(|block| matches!(block, Block::Steps(_)));
            all.cloned().collect::<Vec<_>>()
        };
        assert!(steps(&own).iter().all(|step| steps(&bound).contains(step)), "{section}");
    }
    readable(&bound, "four sheets");
}

/// Beginnings and parts of words, so that no form of them slips through.
const BRITISH: [&str; 16] = [
    "cast off",
    "casts off",
    "casting off",
    "cast-off",
    "cast them off",
    "cast it off",
    "stocking st",
    "moss st",
    "colour",
    "centre",
    "grey",
    "selvedge",
    "darn",
    "bootee",
    "jumper",
    "metre",
];
const AMERICAN: [&str; 15] = [
    "bind",
    "bound off",
    "bound-off",
    "gauge",
    "stockinette",
    "seed st",
    "color",
    "center",
    "gray",
    "selvage",
    "weave",
    "bootie",
    "sweater",
    "skip",
    "toward ",
];

#[test]
fn no_garment_mixes_the_words_of_two_countries() {
    let mut told = 0;
    for id in bench().garment_ids() {
        let run = run(&id, "all");
        let first = run.sizes.iter().position(|size| size.knittable()).expect("a size");
        for (words, others) in
            [(Words::American, BRITISH.as_slice()), (Words::British, AMERICAN.as_slice())]
        {
            let look = PrintLook { words, ..PrintLook::new(LengthUnit::In) };
            let techniques = report::techniques_used(&run);
            // What pictures say is the same in any size.
            let shown = sheet(&one_of(&run, first), look, Paper::A4);
            let sheet = pattern_sheet(&run, &look, Paper::A4, Vec::new());
            let sheet = sheet.with_techniques(&techniques, words);
            let texts = [
                report::pattern_text(&run, &look, true),
                words_of(&report::sheet::sheet_html(&shown)),
                words_of(&report::sheet::sheet_html(&sheet)),
                report::grade_page(&run, look.unit, words, report::Format::Table),
                report::techniques_text(&techniques, words, false),
            ];
            for text in texts {
                let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
                // What the words are called elsewhere, said in so many words.
                let text = without(&text, "The words are", "stockinette.");
                let text = without(&text, "The words are", "stocking stitch.");
                let text = text.to_lowercase();
                for other in others {
                    let at = text.find(other);
                    let around = at.map(|at| text[..at].chars().rev().take(60).collect::<String>());
                    let around = around.map(|back| back.chars().rev().collect::<String>());
                    assert!(at.is_none(), "{id}, {words:?}: {around:?} {other}");
                }
                told += text.len();
            }
        }
    }
    assert!(told > 1_000_000, "{told}");
}

/// What is read of a page, pictures with it; names of parts in the source are for programs.
fn words_of(page: &str) -> String {
    let html = Html::parse_document(page);
    let main = Selector::parse("main").expect("a selector");
    html.select(&main).flat_map(|part| part.text()).collect::<Vec<_>>().join(" ")
}

fn without(text: &str, from: &str, to: &str) -> String {
    match text.split_once(from).and_then(|(before, rest)| Some((before, rest.split_once(to)?.1))) {
        Some((before, after)) => format!("{before}{after}"),
        None => text.to_owned(),
    }
}

#[test]
fn words_are_chosen_once_in_the_workspace_and_by_key() {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("oddments.toml"), "words = \"british\"\n").expect("written");
    let pattern = ["pattern", "tam", "--size", "women-m"];
    let british = oddments_in(folder.path(), &pattern);
    assert!(british.out.contains("- Tension, plain:"), "{}", british.out);
    let asked = oddments_in(folder.path(), &[&pattern[..], &["--words", "american"]].concat());
    assert!(asked.out.contains("- Gauge, plain:") && asked.out.contains("The words are American."));
    std::fs::write(folder.path().join("oddments.toml"), "words = \"britsh\"\n").expect("written");
    let wrong = oddments_in(folder.path(), &pattern);
    assert!(wrong.err.contains("did you mean `british`?"), "{}", wrong.err);
    let server = Server::new();
    let got = server.get("/api/v1/pattern?garment=tam&sizes=women-m&format=text&words=american");
    assert_eq!(got.text(), command(&[&pattern[..], &["--words", "american"]].concat()));
    let got = server.get("/api/v1/pattern?garment=tam&sizes=women&format=text&each=yes");
    assert_eq!(got.text(), command(&["pattern", "tam", "--sizes", "women", "--each"]));
    let wrong = server.get("/api/v1/pattern?garment=tam&sizes=women-m&format=text&words=scots");
    assert_eq!(wrong.status.as_u16(), 422, "{}", wrong.text());
}

/// The body's foot and the sock's are two lengths: nothing calls both by one name.
#[test]
fn body_and_finished_measures_stand_apart() {
    for garment in ["sock", "tam", "mitten", "pullover"] {
        let run = run(garment, "women");
        for text in [
            report::grade_page(&run, LengthUnit::Cm, Words::Usual, report::Format::Csv),
            report::finished_chart(&run, &[LengthUnit::Cm, LengthUnit::In])
                .write(report::Format::Csv),
        ] {
            let heads: Vec<&str> = text.lines().next().expect("headings").split(',').collect();
            // How sure the hours and the yarn are has one name in the file, and is no measure.
            let heads: Vec<&str> = heads
                .into_iter()
                .filter(|head| *head != "95 % from" && !head.contains('"'))
                .collect();
            for head in &heads {
                assert_eq!(heads.iter().filter(|other| other == &head).count(), 1, "{heads:?}");
            }
            assert!(heads[1].starts_with("Body: "), "{heads:?}");
        }
        let tables = report::grade_tables(&run, LengthUnit::Cm);
        assert!(tables[0].title.starts_with("Finished sizes"));
        assert!(tables[1].title.starts_with("Body measures"));
        let one = self::run(garment, "women-m");
        let text = report::pattern_text(&one, &PrintLook::new(LengthUnit::Cm), false);
        let (body, finished) = (text.find("Body measures\n"), text.find("Finished sizes\n"));
        assert!(body.is_some() && body < finished, "{text}");
        let json: serde_json::Value = serde_json::from_str(&report::grade_page(
            &one,
            LengthUnit::Cm,
            Words::Usual,
            report::Format::Json,
        ))
        .expect("json");
        for measure in json["sizes"][0]["finished"].as_array().expect("measures") {
            let named = measure["measure"].as_str();
            assert_eq!(named.is_some(), measure["body_title"].is_string(), "{measure}");
            if let Some(name) = named {
                assert_eq!(measure["body_mm"], json["sizes"][0]["body"][name]);
                assert_ne!(measure["body_title"], measure["title"]);
            }
        }
    }
}

#[test]
fn inches_are_fractions_for_people_and_decimals_for_programs() {
    let sock = ["--sizes", "women", "--units", "in"];
    let grade = |format| command(&[&["grade", "sock"], &sock[..], &["--format", format]].concat());
    assert!(grade("table").contains(" 1/4"), "{}", grade("table"));
    assert!(grade("markdown").contains(" 1/4 |"));
    let csv = grade("csv");
    assert!(!csv.contains('/') && csv.contains(".25,"), "{csv}");
    let chart = command(&[&["chart", "sock"], &sock[..], &["--format", "json"]].concat());
    assert!(!chart.contains('/') && chart.contains(".25"), "{chart}");
    let body = command(&["chart", "--sizes", "women", "--units", "in", "--format", "csv"]);
    assert!(!body.contains('/') && body.contains(".25"), "{body}");
    let tam = |format| {
        command(&[
            "pattern",
            "tam",
            "--sizes",
            "women-m,women-l",
            "--units",
            "in",
            "--format",
            format,
        ])
    };
    assert!(tam("text").is_ascii() && tam("text").contains("1/4"), "{}", tam("text"));
    assert!(tam("html").contains('¼') && !tam("html").contains(" 1/4 in"));
    assert!(!tam("json").contains("1/4") && tam("json").contains(".25"));
}

/// The typeface of the sheet has the signs for fractions.
#[test]
fn the_sheet_prints_fractions() {
    let run = run("sock", "women");
    let look = PrintLook::new(LengthUnit::In);
    let texts = sound(&pattern_sheet(&run, &look, Paper::Letter, Vec::new()), "sock").join(" ");
    assert!(texts.contains('¼') || texts.contains('½'), "{texts}");
}

/// The page at the machine, the way through it as data, and what goes on from the middle are printed too.
#[test]
fn work_in_hand_is_told_in_the_words_chosen() {
    let demo = Demo::new();
    let of_scarf = "garment=scarf&sizes=women-m";
    let settings = demo.text("oddments.toml");
    let with = |words: &str| format!("words = \"{words}\"\n{settings}");
    std::fs::write(demo.path.join("oddments.toml"), with("american")).expect("written");
    let server = Server::of(&demo);
    let walk = server.get(&format!("/api/v1/walk?{of_scarf}"));
    assert!(
        walk.text().contains("Bind off") && !walk.text().contains("ast off"),
        "{}",
        walk.text()
    );
    let walk = walk.json();
    let stops = walk["stops"].as_array().expect("stops");
    let bound =
        stops.iter().position(|stop| stop.to_string().contains("Bind off")).expect("a stop");
    let pages = [
        (format!("/machine?{of_scarf}&at={bound}"), "Bind off"),
        (format!("/carry-on?{of_scarf}&stands=scarf:212&extra_rows=0&now.plain=29x41"), "Bind off"),
        (format!("/api/v1/carry-on?{of_scarf}&stands=scarf:212&format=text"), "bind off"),
        ("/techniques".to_owned(), "bind off"),
        (format!("/grade?{of_scarf}"), "Gauge"),
        (format!("/api/v1/pattern?{of_scarf}&format=text"), "Bind off"),
        (format!("/api/v1/pattern?{of_scarf}&format=html"), "Bind off"),
    ];
    for (path, american) in pages {
        let text = read(&server.get(&path));
        assert!(text.to_lowercase().contains(&american.to_lowercase()), "{path}: {text}");
        // The form of the sizes lets one choose among all words.
        let chooses = path.starts_with("/grade");
        assert!(chooses || !text.to_lowercase().contains("cast off,"), "{path}");
    }
    // Asked for, they go before the workspace's; the machine's links ask for them too.
    let british = server.get(&format!("/machine?{of_scarf}&at={bound}&words=british"));
    assert!(british.text().contains("Cast off"), "{}", british.text());
    let how = "/techniques?words=british";
    assert!(british.text().contains(how), "{}", british.text());
    assert!(read(&server.get(how)).contains("Cast off"));
    let usual = server.get(&format!("/machine?{of_scarf}&at={bound}&words=usual"));
    assert!(usual.text().contains("Cast off"), "{}", usual.text());
    let carry =
        ["carry-on", "scarf", "--size", "women-m", "--at", "scarf:212", "--now", "plain=29x41"];
    let american = demo.run(&carry);
    assert!(
        american.out.contains("Bind off") && !american.out.contains("Cast off"),
        "{}",
        american.out
    );
    let british = demo.run(&[&carry[..], &["--words", "british"]].concat());
    assert!(
        british.out.contains("Cast off") && !british.out.contains("Bind off"),
        "{}",
        british.out
    );
}

/// What a page says, without the names of its parts.
fn read(answer: &super::server::Answer) -> String {
    assert!(answer.status.is_success(), "{}", answer.text());
    match answer.text().contains("<main") {
        true => words_of(answer.text()),
        false => answer.text().to_owned(),
    }
}

/// A page of a schematic has pieces on it: its scale and key never stand alone. Parts of a row chart are alike in
/// height.
#[test]
fn no_page_of_pictures_holds_a_strip() {
    let mut schematics = 0;
    for garment in ["hat", "tam", "mitten", "sock", "pullover", "mitt"] {
        for sizes in ["women-m", "y5-6..y11-12"] {
            let sheet = usual(&run(garment, sizes));
            let mut parts: BTreeMap<String, Vec<f64>> = BTreeMap::new();
            let mut heading = String::new();
            for block in &sheet.blocks {
                match block {
                    Block::Heading { text, .. } => heading.clone_from(text),
                    Block::Picture(drawing) => {
                        if let Some((title, _)) = heading.split_once(", part ") {
                            parts.entry(title.to_owned()).or_default().push(drawing.height_mm);
                        }
                        schematics += usize::from(heading.starts_with("Schematic"));
                    }
                    _ => {}
                }
            }
            for (title, heights) in parts {
                let tallest = heights.iter().copied().fold(0.0, f64::max);
                let least = heights.iter().copied().fold(f64::MAX, f64::min);
                // A key with its scale is some 50 mm tall.
                let enough = if title == "Schematic" { 75.0 } else { tallest / 2.0 };
                assert!(least > enough, "{garment}, {sizes}: {title} {heights:?}");
            }
        }
    }
    assert!(schematics >= 12, "{schematics}");
}
