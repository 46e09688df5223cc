//! Steps and requests as data. The first byte picks: a program of steps for the bed, made from the
//! bytes; a line of a batch; or the record of a change as a workspace's journal holds it.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use app::{Ask, BatchLine};
use arbitrary::{Result, Unstructured};
use knit::bed::{self, MOST_PASSES, tree_size};
use knit::body::SizeTable;
use knit::edge::{EdgePlace, EdgeRange};
use knit::graph::{Graph, NotDrawn};
use knit::machine::Machine;
use knit::needle::{BedSpan, Needle, Side, Span};
use knit::program::{
    Action, Beds, Block, CastOnMethod, Fashion, HangLoops, Inset, Joint, Piece, Pitch, Program,
    Step, Structure, Transfer, Which, WorkingEnds,
};
use knit::run::{Laying, Run, SectionRun};
use store::workspace::{self, Folder, UndoAsk};
use store::{parse_swatches, read_text};

/// One input.
pub fn read(data: &[u8]) {
    let Some((kind, rest)) = data.split_first() else { return };
    match kind % 4 {
        0 => batch_line(rest),
        1 => journal_record(rest),
        _ => program(rest),
    }
}

// Requests.

fn batch_line(text: &[u8]) {
    if let Ok(ask) = BatchLine::read(text).ask {
        understood(&ask);
    }
}

static SIZES: LazyLock<SizeTable> =
    LazyLock::new(|| store::default_size_table().expect("sound tables"));

fn understood(ask: &Ask) {
    if let Ok(garment) = ask.garment() {
        assert!(!garment.contains(['/', '\\', '.']), "{garment:?} could be a path");
    }
    let _ = (ask.unit(), ask.person(SIZES.known()));
    // Each name once, or a link to the run would ask for another one.
    assert!(ask.options.is_sorted_by(|a, b| a.0 < b.0), "{:?}", ask.options);
    // What is read from a request is written as a swatch file's text, which must be sound TOML.
    if let Some(Ok(text)) = ask.swatch.as_ref().map(app::SwatchAsk::text)
        && let Err(faults) = parse_swatches("file.toml", &text)
    {
        assert!(faults.iter().all(|fault| fault.code.as_str() != "toml"), "{faults:?}");
    }
}

// The journal.

struct Bench {
    // Removed at the end.
    _home: tempfile::TempDir,
    root: PathBuf,
    files: Vec<(String, String)>,
    neighbour: PathBuf,
}

static BENCH: LazyLock<Bench> = LazyLock::new(|| {
    let home = tempfile::tempdir().expect("a folder");
    let root = home.path().join("own");
    let neighbour = home.path().join("neighbour.toml");
    let files = workspace::empty_files();
    workspace::make(&root, &files).expect("made");
    fs::write(&neighbour, NEIGHBOUR).expect("written");
    Bench { _home: home, root, files, neighbour }
});

const NEIGHBOUR: &str = "of = \"another\"\n";

/// As the journal's lines are sealed: FNV-1a, 64 bits.
fn sealed(body: &str) -> String {
    let mut sum: u64 = 0xcbf2_9ce4_8422_2325;
    for byte in body.bytes() {
        sum = (sum ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
    }
    format!("{{\"sum\":\"{sum:016x}\",\"record\":{body}}}\n")
}

/// Each line of the text is a record, sealed as if we had written it: whatever it says, nothing
/// panics and nothing outside the workspace is touched.
fn journal_record(text: &[u8]) {
    let Ok(text) = str::from_utf8(text) else { return };
    let bench = &*BENCH;
    let journal: String = text.split('\n').map(sealed).collect();
    fs::write(bench.root.join(".oddments/journal"), journal).expect("written");
    let folder = Folder::find(Some(&bench.root)).expect("a workspace").expect("named");
    let _ = folder.undoable();
    let _ = folder.read();
    let undone = folder.undo(&UndoAsk::default());
    if undone.is_ok() {
        let _ = folder.undo(&UndoAsk::again());
    }
    let beside = fs::read_dir(bench.root.parent().expect("a home")).expect("read").count();
    assert_eq!(beside, 2, "something was made beside the workspace");
    assert_eq!(fs::read_to_string(&bench.neighbour).ok().as_deref(), Some(NEIGHBOUR));
    restore(&bench.root, &bench.files);
}

/// Puts back what was changed and takes away what was made.
fn restore(root: &Path, files: &[(String, String)]) {
    for entry in fs::read_dir(root).expect("read").flatten() {
        let name = entry.file_name();
        let ours = name == ".oddments" || files.iter().any(|(path, _)| name == path.as_str());
        match entry.file_type().expect("a type").is_dir() {
            _ if ours => {}
            true => fs::remove_dir_all(entry.path()).expect("removed"),
            false => fs::remove_file(entry.path()).expect("removed"),
        }
    }
    for (path, text) in files {
        let path = root.join(path);
        if read_text(&path).ok().as_ref() != Some(text) {
            fs::write(&path, text).expect("written");
        }
    }
}

// Programs.

fn program(data: &[u8]) {
    let mut bytes = Unstructured::new(data);
    let Ok(machine) = any_machine(&mut bytes) else { return };
    let Ok(program) = any_program(&mut bytes) else { return };
    let run = bed::run(&program, &machine);
    checked(&program, &machine, &run);
    // Followed loop by loop it comes to the same, or is not drawn.
    let drawn = Graph::of(&program, &run);
    assert!(!matches!(drawn, Err(NotDrawn::Differs { .. })), "{:?}", drawn.err());
    assert_eq!(run, bed::run(&program, &machine), "another run, another result");
}

const NAMES: [&str; 4] = ["a", "b", "c", "d"];
const NESTED: usize = 5;

fn any_name(bytes: &mut Unstructured<'_>) -> Result<String> {
    Ok((*bytes.choose(&NAMES)?).to_owned())
}

fn any_machine(bytes: &mut Unstructured<'_>) -> Result<Machine> {
    let needles = *bytes.choose(&[200, 110, 24, 3, 1])?;
    Ok(Machine::new("m", "the machine", 4.5, needles, bytes.arbitrary()?))
}

fn any_program(bytes: &mut Unstructured<'_>) -> Result<Program> {
    let mut pieces = Vec::new();
    for _ in 0..=bytes.int_in_range(0..=3)? {
        let (name, section) = (any_name(bytes)?, any_name(bytes)?);
        pieces.push(Piece { title: name.clone(), name, section, steps: any_steps(bytes, 0)? });
    }
    Ok(Program { pieces, finishing: any_steps(bytes, NESTED)?, ..Program::default() })
}

fn any_steps(bytes: &mut Unstructured<'_>, deep: usize) -> Result<Vec<Step>> {
    let mut steps = Vec::new();
    while !bytes.is_empty() && !bytes.ratio(1, 12)? {
        let line = u32::from(bytes.arbitrary::<u8>()?);
        steps.push(Step { line, action: any_action(bytes, deep)? });
    }
    Ok(steps)
}

fn any_side(bytes: &mut Unstructured<'_>) -> Result<Side> {
    Ok(if bytes.arbitrary()? { Side::Left } else { Side::Right })
}

/// Mostly on the bed; else anything that a name such as R65535 can say.
fn any_needle(bytes: &mut Unstructured<'_>) -> Result<Needle> {
    let most = *bytes.choose(&[3, 12, 12, 60, 100, 65_535])?;
    Ok(Needle(bytes.int_in_range(-most..=most - 1)?))
}

fn any_span(bytes: &mut Unstructured<'_>) -> Result<Span> {
    let (one, other) = (any_needle(bytes)?, any_needle(bytes)?);
    Ok(Span { left: one.min(other), right: one.max(other) })
}

/// Mostly few; else any number.
fn any_count(bytes: &mut Unstructured<'_>) -> Result<u32> {
    match bytes.arbitrary::<u8>()? {
        255 => bytes.arbitrary(),
        few => Ok(u32::from(few % 40)),
    }
}

fn any_which(bytes: &mut Unstructured<'_>) -> Result<Which> {
    Ok(match bytes.int_in_range(0..=2)? {
        0 => Which::All,
        1 => Which::Span(any_span(bytes)?),
        _ => Which::AtSide(any_side(bytes)?, any_count(bytes)?),
    })
}

fn any_beds(bytes: &mut Unstructured<'_>) -> Result<Beds> {
    Ok(if bytes.arbitrary()? { Beds::Main } else { Beds::Both })
}

fn any_bed_span(bytes: &mut Unstructured<'_>) -> Result<BedSpan> {
    Ok(BedSpan { ribber: bytes.arbitrary()?, span: any_span(bytes)? })
}

fn any_edge(bytes: &mut Unstructured<'_>) -> Result<EdgeRange> {
    let name = any_name(bytes)?;
    let place = match bytes.int_in_range(0..=4)? {
        0 => EdgePlace::Open(name),
        1 => EdgePlace::Selvedge(name, any_side(bytes)?),
        2 => EdgePlace::Inner(name, any_side(bytes)?),
        3 => EdgePlace::CastOn(name),
        _ => EdgePlace::CastOff(name),
    };
    let from = if bytes.arbitrary()? { 0 } else { any_count(bytes)? };
    let to = if bytes.arbitrary()? { None } else { Some(any_count(bytes)?) };
    Ok(EdgeRange { place, from, to })
}

fn any_fashion(bytes: &mut Unstructured<'_>) -> Result<Fashion> {
    let ends = match bytes.arbitrary()? {
        true => WorkingEnds::Both,
        false => WorkingEnds::One(any_side(bytes)?),
    };
    let inset = match bytes.arbitrary()? {
        true => Inset::Stitches(any_count(bytes)?),
        false => Inset::Needle(any_needle(bytes)?),
    };
    Ok(Fashion { ends, count: any_count(bytes)?, inset })
}

fn any_action(bytes: &mut Unstructured<'_>, deep: usize) -> Result<Action> {
    Ok(match bytes.int_in_range(0..=37)? {
        0 | 1 => Action::CastOn {
            span: any_span(bytes)?,
            structure: *bytes.choose(&Structure::ALL)?,
            method: *bytes.choose(&[
                CastOnMethod::Waste,
                CastOnMethod::Wound,
                CastOnMethod::Rib,
            ])?,
            edge: if bytes.arbitrary()? { Some(any_name(bytes)?) } else { None },
        },
        2..=4 => Action::Knit { rows: any_count(bytes)? },
        5 => Action::CarriageAt(any_side(bytes)?),
        6 | 7 if deep < NESTED => {
            Action::Repeat { times: any_count(bytes)?, steps: any_steps(bytes, deep + 1)? }
        }
        6 => Action::Block(Block {
            form: any_name(bytes)?,
            width_mm: bytes.arbitrary()?,
            steam: bytes.arbitrary()?,
            note: String::new(),
        }),
        7 => Action::GatherEdge { edge: any_name(bytes)? },
        8 => Action::Hold(any_which(bytes)?),
        9 => Action::Return(any_which(bytes)?),
        10 => Action::Wrap,
        11 => Action::Hang {
            edge: any_name(bytes)?,
            needle: any_needle(bytes)?,
            loops: match bytes.arbitrary()? {
                true => HangLoops::Each(any_count(bytes)?),
                false => HangLoops::SpreadOver(any_count(bytes)?),
            },
        },
        12 => Action::TransferToMain,
        13 => Action::Decrease { side: any_side(bytes)?, count: any_count(bytes)? },
        14 => Action::Increase { side: any_side(bytes)?, count: any_count(bytes)? },
        15 => Action::ScrapOff { edge: any_name(bytes)?, which: any_which(bytes)? },
        16 => Action::WorkBeds(any_beds(bytes)?),
        17 => Action::Rehang {
            edge: any_name(bytes)?,
            span: any_span(bytes)?,
            beds: any_beds(bytes)?,
        },
        18 => Action::CastOff { which: any_which(bytes)? },
        19 => Action::Dial(bytes.arbitrary()?),
        20 => Action::Section(any_name(bytes)?),
        21 => Action::ResetCounter,
        22 => Action::Note(any_name(bytes)?),
        23 => Action::Mark(any_name(bytes)?),
        24 => Action::Graft { first: any_name(bytes)?, second: any_name(bytes)? },
        25 => Action::GatherSelvedge { piece: any_name(bytes)?, side: any_side(bytes)? },
        26 => Action::Seam {
            first: (any_name(bytes)?, any_side(bytes)?),
            second: (any_name(bytes)?, any_side(bytes)?),
        },
        27 => Action::Narrow(any_fashion(bytes)?),
        28 => Action::Widen(any_fashion(bytes)?),
        29 => Action::Transfer(Transfer {
            from: any_bed_span(bytes)?,
            to: any_bed_span(bytes)?,
            eyelets: bytes.arbitrary()?,
            structure: *bytes.choose(&Structure::ALL)?,
        }),
        30 => {
            Action::ToRib { structure: *bytes.choose(&Structure::ALL)?, which: any_which(bytes)? }
        }
        31 => Action::PickUp { edge: any_edge(bytes)?, span: any_span(bytes)? },
        32 => Action::BreakYarn,
        33 => Action::JoinYarn(if bytes.arbitrary()? { Some(any_side(bytes)?) } else { None }),
        34 => Action::Join {
            how: *bytes.choose(&[Joint::Graft, Joint::Seam, Joint::SewOn])?,
            first: any_edge(bytes)?,
            second: any_edge(bytes)?,
        },
        35 => Action::Gather(any_edge(bytes)?),
        36 => Action::Pitch(*bytes.choose(&[Pitch::Facing, Pitch::Between])?),
        _ => Action::SewOn {
            edge: any_name(bytes)?,
            piece: any_name(bytes)?,
            side: any_side(bytes)?,
        },
    })
}

/// What holds of every run, knittable or not.
fn checked(program: &Program, machine: &Machine, run: &Run) {
    assert_eq!(run.pieces.len(), program.pieces.len());
    let rows: usize = run.pieces.iter().map(|piece| piece.rows.len()).sum();
    assert!(rows <= MOST_PASSES as usize, "{rows} rows");
    for (piece, ordered) in run.pieces.iter().zip(&program.pieces) {
        assert_eq!(piece.traces.len(), tree_size(&ordered.steps));
        assert_eq!(piece.rows_at.len(), piece.needles.map_or(0, |span| span.len() as usize));
        assert!(piece.tallest() as usize <= piece.rows.len());
        let beds = if machine.ribber { 2 } else { 1 };
        assert!(piece.widest <= beds * machine.needles());
        for row in &piece.rows {
            let knitted: u32 = piece.spans_of(row).iter().map(|bed| bed.span.len()).sum();
            assert_eq!(knitted, row.stitches);
        }
        for event in &piece.events {
            assert!(machine.rail.contains(event.needles.left));
            assert!(machine.rail.contains(event.needles.right));
        }
        let tally = piece.tally;
        let gone = tally.taken_in + tally.cast_off + tally.scrapped + tally.left;
        assert_eq!(tally.made, gone, "a stitch came from nowhere, or went there");
    }
    assert_eq!(laid(run), run.sections, "what is laid does not add up");
    for edge in &run.edges {
        assert!(edge.left <= edge.loops);
        assert!(!run.knittable() || edge.left == 0, "{edge:?} is left over");
    }
}

/// The sections summed anew from the yarn in the order in which it was laid. Each piece's rows are
/// laid once, in order.
fn laid(run: &Run) -> Vec<SectionRun> {
    let mut sections: Vec<SectionRun> = run
        .sections
        .iter()
        .map(|section| SectionRun {
            name: section.name.clone(),
            stitches: BTreeMap::new(),
            sewn_loops: 0,
            seam_rows: 0,
            seam_stitches: 0,
            float_needles: 0,
            tails: 0,
        })
        .collect();
    let mut done = vec![0; run.pieces.len()];
    let mut stitches = vec![0; run.pieces.len()];
    for laid in &run.laid {
        let section = &mut sections[usize::from(laid.section)];
        let mut add = |structure: Structure, count: u64| {
            *section.stitches.entry(structure.gauged_as()).or_insert(0) += count;
            stitches[laid.piece.expect("knitted at the machine") as usize] += count;
        };
        match laid.what {
            Laying::Rows { first, end } => {
                let piece = laid.piece.expect("knitted at the machine") as usize;
                assert_eq!(first, done[piece]);
                done[piece] = end;
                for row in &run.pieces[piece].rows[first as usize..end as usize] {
                    assert_eq!(row.section, laid.section);
                    add(row.structure, u64::from(row.stitches));
                }
            }
            Laying::Start { structure, stitches } => add(structure, u64::from(stitches)),
            Laying::SewnLoops(loops) => section.sewn_loops += u64::from(loops),
            Laying::Floats(needles) => section.float_needles += u64::from(needles),
            Laying::SeamRows(rows) => section.seam_rows += u64::from(rows),
            Laying::SeamStitches(stitches) => section.seam_stitches += u64::from(stitches),
            Laying::Tails(tails) => section.tails += tails,
        }
    }
    for ((piece, done), stitches) in run.pieces.iter().zip(done).zip(stitches) {
        assert_eq!(piece.rows.len(), done as usize);
        assert_eq!(piece.stitches, stitches);
    }
    sections
}
