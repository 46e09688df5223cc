//! The sheet to print, read back by parsers that are not ours.

use app::{GradeRequest, Person};
use assert_cmd::Command;
use knit::size_run::SizeRun;
use lopdf::content::Content;
use lopdf::{Document as Pdf, Object};
use report::drawing::{Anchor, Canvas, Look, Weight};
use report::sheet::{Document, Paper, SheetPicture, pattern_sheet, sheet_html, sheet_pdf};
use report::{PrintLook, pattern_json};
use scraper::{Html, Selector};
use units::LengthUnit;

use super::support::{bench, demo, grade};

const FAMILIES: [&str; 12] = [
    "bootee",
    "cuff",
    "hat",
    "headband",
    "leg-warmer",
    "mitt",
    "mitten",
    "neck-ring",
    "pullover",
    "sock",
    "sock-flat",
    "tam",
];

fn run(garment: &str, sizes: &str) -> SizeRun {
    grade(garment, "standard", &demo("standard"), sizes, &[]).expect("graded")
}

fn picture() -> SheetPicture {
    let mut canvas = Canvas::new();
    let ink = "#203040".parse().expect("a shade");
    canvas.rect(5.0, 5.0, 80.0, 40.0, Look::edged(ink, 0.4));
    let look = (Anchor::Middle, Weight::Bold);
    canvas.text((45.0, 27.0), 5.0, look, ink, "PICTUREWORD");
    let drawing = canvas.finish("A box <drawn>", "A box with a word in it.", 90.0, 50.0);
    SheetPicture { heading: "Schematic".into(), drawing }
}

fn sheet(run: &SizeRun, paper: Paper) -> Document {
    pattern_sheet(run, &PrintLook::new(LengthUnit::Cm), paper, vec![picture()])
}

fn tidy(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The instructions as they are written for people, from the pattern as data.
fn instructions(run: &SizeRun) -> Vec<String> {
    let json: serde_json::Value =
        serde_json::from_str(&pattern_json(run, LengthUnit::Cm)).expect("json");
    let mut all = Vec::new();
    for group in json.as_array().expect("groups") {
        let folded = group["folded"].as_array().expect("folded").iter();
        for chapter in folded.flat_map(|told| told["chapters"].as_array().expect("chapters")) {
            for line in chapter["lines"].as_array().expect("lines") {
                all.push(tidy(line["text"].as_str().expect("text")));
            }
        }
    }
    assert!(all.len() > 5);
    all
}

/// Every instruction stands in the text, one after another.
fn in_order(text: &str, run: &SizeRun, whose: &str) {
    let mut rest = text;
    for line in instructions(run) {
        let at =
            rest.find(&line).unwrap_or_else(|| panic!("{whose}: not in order: {line}\n{text}"));
        rest = &rest[at + line.len()..];
    }
}

fn all(html: &Html, selector: &str) -> Vec<String> {
    let selector = Selector::parse(selector).expect("a selector");
    html.select(&selector).map(|e| tidy(&e.text().collect::<String>())).collect()
}

fn count(html: &Html, selector: &str) -> usize {
    html.select(&Selector::parse(selector).expect("a selector")).count()
}

#[test]
fn the_page_holds_the_pattern_with_its_boxes() {
    for (garment, sizes) in
        [("tam", "women-m"), ("sock", "y4,women-m"), ("mitten", "women-m,women-l,men-m")]
    {
        let run = run(garment, sizes);
        let sheet = sheet(&run, Paper::A4);
        let page = sheet_html(&sheet);
        let html = Html::parse_document(&page);
        assert!(html.errors.is_empty(), "{garment}: {:?}", html.errors);
        in_order(&all(&html, ".steps .text").join(" "), &run, garment);
        assert_eq!(count(&html, "input[type=checkbox]"), sheet.boxes(), "{garment}");
        assert_eq!(all(&html, "h1"), [tidy(&sheet.title)]);
        // No level is left out on the way down.
        let selector = Selector::parse("h1,h2,h3,h4").expect("a selector");
        let mut last = 0;
        for heading in html.select(&selector) {
            let level = heading.value().name().as_bytes()[1] - b'0';
            assert!(level <= last + 1, "{garment}: h{level} after h{last}");
            last = level;
        }
        let heads = all(&html, "h2");
        let at = |name: &str| heads.iter().position(|h| h == name).expect("a section");
        assert!(at("Sizes") < at("What you need") && at("What you need") < at("Words used"));
        assert!(at("Words used") < at("Schematic"));
        assert_eq!(count(&html, "thead th:not([scope=col])"), 0);
        assert!(count(&html, "tbody th[scope=row]") > 0);
        assert_eq!(count(&html, "script, link, img, iframe, object"), 0);
        let outside = page.replace("http://www.w3.org/2000/svg", "");
        for way in ["http:", "https:", "url(", "@import", "//"] {
            assert!(!outside.contains(way), "{garment}: {way}");
        }
    }
}

/// A step done once has a box; a repeat a box for each round, in tens above sixty.
#[test]
fn boxes_are_steps_and_rounds() {
    let run = run("tam", "women-m");
    let html = Html::parse_document(&sheet_html(&sheet(&run, Paper::A4)));
    let json: serde_json::Value =
        serde_json::from_str(&pattern_json(&run, LengthUnit::Cm)).expect("json");
    let lines: Vec<&serde_json::Value> = json[0]["folded"][0]["chapters"]
        .as_array()
        .expect("chapters")
        .iter()
        .flat_map(|c| c["lines"].as_array().expect("lines"))
        .collect();
    let times = |line: &&&serde_json::Value| {
        let text = line["text"].as_str().expect("text");
        text.contains("Do this ") || text.contains("Work what follows ")
    };
    let repeats = lines.iter().filter(|l| l["depth"] == 0).filter(times).count();
    let once = lines.iter().filter(|l| l["depth"] == 0 && l["numbered"] == true).count() - repeats;
    assert_eq!(count(&html, "label > input"), once);
    let rounds = &run.sizes[0].good().expect("knittable").graded.counts;
    let wedges = rounds.iter().find(|c| c.name == "wedges").expect("counted").value;
    let rows = Selector::parse(".ticks").expect("a selector");
    let boxes = Selector::parse("input").expect("a selector");
    let first = html.select(&rows).next().expect("the wedges are a repeat");
    assert_eq!(first.select(&boxes).count() as u64, wedges);
}

/// The person's name is the way in for words that are not ours.
fn hostile(name: &str) -> SizeRun {
    let bench = bench();
    let plugin = bench.garment("tam").expect("shipped");
    bench
        .grade(&GradeRequest {
            plugin: &plugin,
            machine: bench.machine("standard").expect("built in"),
            swatch: &demo("standard"),
            options: Vec::new(),
            sizes: "all".into(),
            person: Some(Person {
                name: name.into(),
                measures: vec![(
                    bench.sizes.known().named("head_girth").expect("a measure"),
                    "58 cm".parse().expect("a length"),
                )],
            }),
        })
        .expect("graded")
}

#[test]
fn names_stay_words() {
    let name = "<script>alert(1)</script>\"'&amp;";
    let run = hostile(name);
    let page = sheet_html(&sheet(&run, Paper::A4));
    let html = Html::parse_document(&page);
    assert_eq!(count(&html, "script"), 0);
    assert!(all(&html, "h1")[0].contains(name), "{:?}", all(&html, "h1"));
    assert!(all(&html, "title")[0].contains(name));
}

struct Piece {
    x: f64,
    y: f64,
    /// Height of the type in points.
    size: f64,
}

fn number(object: &Object) -> f64 {
    f64::from(object.as_float().expect("a number"))
}

fn times(a: [f64; 6], b: [f64; 6]) -> [f64; 6] {
    [
        a[0] * b[0] + a[1] * b[2],
        a[0] * b[1] + a[1] * b[3],
        a[2] * b[0] + a[3] * b[2],
        a[2] * b[1] + a[3] * b[3],
        a[4] * b[0] + a[5] * b[2] + b[4],
        a[4] * b[1] + a[5] * b[3] + b[5],
    ]
}

/// Where each piece of text begins, in points from the lower left corner.
fn pieces(pdf: &Pdf, page: lopdf::ObjectId) -> Vec<Piece> {
    let content = Content::decode(&pdf.get_page_content(page)).expect("sound");
    let unit = [1.0, 0.0, 0.0, 1.0, 0.0, 0.0];
    let (mut matrix, mut saved, mut text) = (unit, Vec::new(), unit);
    let (mut found, mut size) = (Vec::new(), 0.0);
    for operation in &content.operations {
        let six = || {
            let mut six = [0.0; 6];
            for (to, from) in six.iter_mut().zip(&operation.operands) {
                *to = number(from);
            }
            six
        };
        match operation.operator.as_str() {
            "q" => saved.push(matrix),
            "Q" => matrix = saved.pop().expect("saved before"),
            "cm" => matrix = times(six(), matrix),
            "BT" => text = unit,
            "Tf" => size = number(&operation.operands[1]),
            "Tm" => text = six(),
            "Tj" | "TJ" => {
                let all = times(text, matrix);
                found.push(Piece { x: all[4], y: all[5], size: size * all[2].hypot(all[3]) });
            }
            _ => {}
        }
    }
    found
}

fn read(bytes: &[u8]) -> (Pdf, Vec<String>) {
    let pdf = Pdf::load_mem(bytes).expect("a PDF");
    let texts = pdf
        .get_pages()
        .keys()
        .map(|page| tidy(&pdf.extract_text(&[*page]).expect("text")))
        .collect();
    (pdf, texts)
}

/// What must hold of any sheet as PDF; gives its pages' texts.
pub fn sound(document: &Document, whose: &str) -> Vec<String> {
    let bytes = sheet_pdf(document).expect("made");
    let (pdf, texts) = read(&bytes);
    let (width, height) = document.paper.mm();
    let (width, height) = (width * 72.0 / 25.4, height * 72.0 / 25.4);
    let count = texts.len();
    for ((number_, id), text) in pdf.get_pages().iter().zip(&texts) {
        let page = pdf.get_dictionary(*id).expect("a page");
        let media = page.get(b"MediaBox").and_then(Object::as_array).expect("a size");
        assert!((number(&media[2]) - width).abs() < 0.1, "{whose}");
        assert!((number(&media[3]) - height).abs() < 0.1, "{whose}");
        assert!(text.contains(&format!("{number_} of {count}")), "{whose}, {number_}: {text}");
        let pieces = pieces(&pdf, *id);
        assert!(pieces.len() > 1, "{whose}: page {number_} is empty");
        for piece in pieces {
            let inside =
                (40.0..width - 40.0).contains(&piece.x) && (25.0..height - 35.0).contains(&piece.y);
            assert!(inside, "{whose}, page {number_}: text at {}, {}", piece.x, piece.y);
        }
    }
    texts
}

/// No type is too small to read at the machine, in pictures neither; gives how many pages there are.
pub fn readable(document: &Document, whose: &str) -> usize {
    let bytes = sheet_pdf(document).expect("made");
    let (pdf, texts) = read(&bytes);
    for (page, id) in pdf.get_pages() {
        for piece in pieces(&pdf, id) {
            assert!(piece.size >= 8.999, "{whose}, page {page}: type of {} pt", piece.size);
        }
    }
    texts.len()
}

#[test]
fn the_pdf_holds_the_pattern_on_pages_of_the_paper() {
    for (paper, garment, sizes) in
        [(Paper::A4, "tam", "women-m"), (Paper::Letter, "sock", "y4,women-m")]
    {
        let run = run(garment, sizes);
        let document = sheet(&run, paper);
        let texts = sound(&document, garment);
        assert!(texts.len() > 1, "{garment}");
        // Heads and numbers of pages stand between the words of a step that goes over.
        let mut body = texts.join(" ");
        for page in 1..=texts.len() {
            body = body.replace(&format!("{page} of {}", texts.len()), " ");
        }
        let (first, rest) = body.split_at(tidy(&document.title).len() + 4);
        let body = format!("{first}{}", rest.replace(&tidy(&document.title), " "));
        in_order(&tidy(&body), &run, garment);
        // Glyphs of a picture are placed one by one.
        assert!(body.replace(' ', "").contains("PICTUREWORD"), "{garment}: {body}");
    }
}

#[test]
fn the_pdf_is_the_same_each_time_and_names_itself() {
    let run = run("hat", "women-m");
    let document = sheet(&run, Paper::A4);
    let bytes = sheet_pdf(&document).expect("made");
    assert!(bytes == sheet_pdf(&document).expect("made"), "two runs differ");
    let (pdf, _) = read(&bytes);
    let root = pdf.catalog().expect("a catalog");
    assert_eq!(root.get(b"Lang").and_then(Object::as_str).expect("a language"), b"en");
    for key in [b"Outlines".as_slice(), b"StructTreeRoot"] {
        assert!(root.has(key), "{}", String::from_utf8_lossy(key));
    }
    let fonts: Vec<_> = pdf
        .objects
        .values()
        .filter_map(|object| object.as_dict().ok())
        .filter(|dict| dict.has_type(b"FontDescriptor"))
        .collect();
    assert!(!fonts.is_empty());
    for font in fonts {
        assert!(font.has(b"FontFile2") || font.has(b"FontFile3"), "not embedded: {font:?}");
    }
}

#[test]
fn every_family_has_its_sheet() {
    for garment in FAMILIES {
        let all = run(garment, "all");
        let html = Html::parse_document(&sheet_html(&sheet(&all, Paper::Letter)));
        assert!(html.errors.is_empty(), "{garment}: {:?}", html.errors);
        let (size, _) = all.good().next().expect("some size can be knitted");
        let one = run(garment, size.body.id.as_str());
        let document = sheet(&one, Paper::Letter);
        let html = Html::parse_document(&sheet_html(&document));
        assert!(html.errors.is_empty(), "{garment}: {:?}", html.errors);
        sound(&document, garment);
    }
}

#[test]
fn twenty_one_sizes_fit_the_page() {
    let run = run("tam", "all");
    let document = sheet(&run, Paper::A4);
    let text = sound(&document, "tam").join(" ");
    for size in &run.sizes {
        assert!(text.contains(&size.body.label), "{}", size.body.label);
    }
    assert!(text.contains("Fullness"), "the last column");
}

#[test]
fn long_and_strange_names_are_broken_not_clipped() {
    let run = hostile(&format!("{}\u{1b}[31m\u{202e}ж 漢", "W".repeat(300)));
    let document = sheet(&run, Paper::A4);
    let texts = sound(&document, "a long name").join("");
    // Broken over lines: all of them are there.
    assert!(texts.matches('W').count() >= 300);
    assert!(!texts.contains('\u{1b}'));
}

fn oddments(arguments: &[&str]) -> std::process::Output {
    Command::new(env!("CARGO_BIN_EXE_oddments")).args(arguments).output().expect("runs")
}

#[test]
fn the_command_writes_sheets() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("tam.pdf");
    let file = path.to_str().expect("a path");
    let done = oddments(&["pattern", "tam", "--size", "y5-6", "--format", "pdf", "--output", file]);
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    assert!(done.stdout.is_empty());
    let written = std::fs::read(&path).expect("written");
    assert!(written.starts_with(b"%PDF-"));
    // Into a pipe the bytes come out as they are.
    let piped = oddments(&["pattern", "tam", "--size", "y5-6", "--format", "pdf"]);
    assert!(piped.stdout == written);
    let inches =
        oddments(&["pattern", "tam", "--size", "y5-6", "--format", "html", "--units", "in"]);
    assert!(String::from_utf8_lossy(&inches.stdout).contains("size: letter"));
    let paper = oddments(&["pattern", "tam", "--size", "y5-6", "--paper", "a4"]);
    assert_eq!(paper.status.code(), Some(2));
}

/// Text on its ground has the contrast that WCAG 2.2 asks of it (success criterion 1.4.3: 4.5 to 1),
/// by day and by night; the figures are the style sheet's own.
#[test]
fn the_html_sheet_has_enough_contrast() {
    use knit::colours::Shade;
    let css = include_str!("../../src/report/templates/sheet.css");
    let (light, rest) =
        css.split_once("@media screen and (prefers-color-scheme: dark)").expect("two");
    let (dark, _) = rest.split_once("\n}").expect("a block");
    for (scheme, block) in [("light", light), ("dark", dark)] {
        let shade = |name: &str| -> Shade {
            let key = format!("--{name}: ");
            let at = block.find(&key).unwrap_or_else(|| panic!("{scheme} has {name}")) + key.len();
            block[at..at + 7].parse().expect("a shade")
        };
        for (ink, ground) in
            [("ink", "ground"), ("soft", "ground"), ("accent", "ground"), ("ink", "care")]
        {
            let contrast = shade(ink).contrast(shade(ground));
            assert!(contrast >= 4.5, "{scheme}: {ink} on {ground} has {contrast:.2}");
        }
        let edge = shade("care-edge").contrast(shade("care"));
        assert!(edge >= 3.0, "{scheme}: the edge of the box has {edge:.2}");
    }
}
