//! What raises a fault, and how it is run.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use app::{GradeRequest, Workbench, Workspace};
use axum::body::Body;
use axum::http::{Method, header};
use diag::{Code, Diagnostic, Diagnostics};
use knit::bed;
use knit::body::{Measure, SizeTable};
use knit::program::Program;
use plan::{Instance, Plan};
use script::{Plugin, PluginSource};
use serde_json::Value;

use super::comes_to;
use crate::demo::Demo;
use crate::plan::sound;
use crate::server::{Answer, Server, request};
use crate::support::{Ran, bench, demo, oddments_in};

/// A code, and something that raises it.
pub struct Example {
    pub code: Code,
    pub how: How,
}

/// Ways to raise a fault.
pub enum How {
    /// The body of a garment function.
    Script(&'static str),
    /// The steps of a garment's only piece.
    Steps(&'static str),
    /// As `Script`, in a small and a large size.
    Sizes(&'static str),
    /// Files of a garment; a good manifest where it has none.
    Sources(&'static [(&'static str, &'static [u8])]),
    /// A program on a bed with a ribber.
    Bed(fn() -> Program),
    /// A sound instance and plan, spoilt.
    Plan(fn(&mut Instance, &mut Plan)),
    /// A text of a new garment's file for another one, and the garment's check.
    Change(&'static str, &'static str, &'static str),
    /// A file put into a new garment's folder, and its check.
    Write(&'static str, &'static [u8]),
    /// A file taken out of it.
    Remove(&'static str),
    /// A file of a small workspace.
    File(&'static str, &'static str),
    /// Files of a small workspace and a command in it.
    In(&'static [(&'static str, &'static str)], &'static [&'static str]),
    /// A command in the demo workspace.
    Run(&'static [&'static str]),
    /// What is got from a server of the demo workspace.
    Get(&'static str),
    /// JSON sent to it.
    Post(&'static str, &'static str),
    /// Anything else; gives the codes that came out.
    By(fn() -> Vec<Code>),
}

/// What many examples share.
pub struct Stage {
    demo: Demo,
    server: Server,
    bench: Workbench,
}

impl Stage {
    pub fn new() -> Stage {
        let demo = Demo::new();
        let mut bench = bench();
        // Two sizes and two machines are enough to find a garment at fault.
        let mut few = SizeTable::of(bench.sizes.known().clone());
        for size in
            bench.sizes.sizes().iter().filter(|s| ["y4", "women-m"].contains(&s.id.as_str()))
        {
            few.push(size.clone()).expect("a size once");
        }
        bench.sizes = few;
        bench.machines.retain(|machine| ["standard", "mid"].contains(&machine.id.as_str()));
        Stage { server: Server::of(&demo), demo, bench }
    }
}

impl How {
    /// Runs it. Gives the codes that came out.
    pub fn codes(&self, stage: &Stage) -> Vec<Code> {
        match self {
            How::Script(body) => graded(stage, &script(body), "women-m"),
            How::Sizes(body) => graded(stage, &script(body), "y4,women-m"),
            How::Steps(steps) => {
                let body = format!(
                    "return {{ pieces = {{ piece{{ name = \"body\", steps = {{\n{steps}\n}} }} }} }}"
                );
                graded(stage, &script(&body), "women-m")
            }
            How::Sources(files) => {
                let files = files.iter().map(|(name, bytes)| ((*name).to_owned(), bytes.to_vec()));
                graded(stage, &files.collect(), "women-m")
            }
            How::Bed(program) => {
                let machine = stage.bench.machine("standard").expect("built in");
                let run = bed::run(&program(), machine);
                run.faults.iter().map(|fault| fault.diagnostic.code).collect()
            }
            How::Plan(spoil) => planned(*spoil),
            How::Change(file, from, to) => checked(stage, &|folder| {
                let path = folder.join(file);
                let text = fs::read_to_string(&path).expect("a file of the garment");
                assert_eq!(text.matches(from).count(), 1, "`{from}` should stand once in {file}");
                fs::write(path, text.replace(from, to)).expect("written");
            }),
            How::Write(file, bytes) => checked(stage, &|folder| {
                fs::write(folder.join(file), bytes).expect("written");
            }),
            How::Remove(file) => checked(stage, &|folder| {
                fs::remove_file(folder.join(file)).expect("removed");
            }),
            How::File(file, text) => {
                let hold = small(&[(file, text)]);
                match Workspace::require(Some(hold.path())) {
                    Ok(workspace) => codes(&workspace.warnings),
                    Err(faults) => codes(&faults),
                }
            }
            How::In(files, args) => ended(&oddments_in(small(files).path(), args)),
            How::Run(args) => ended(&stage.demo.run(args)),
            How::Get(path) => stated(&stage.server.get(path)),
            How::Post(path, text) => stated(&sent(&stage.server, path, JSON, text)),
            How::By(raise) => raise(),
        }
    }
}

pub const JSON: &str = "application/json";

const MANIFEST: &str = "id = \"body\"\ntitle = \"Body\"\nversion = \"1.0.0\"\napi = 1\n\
    summary = \"Tries things.\"\nmeasures = [\"head_girth\"]\nmeasure = \"head_girth\"\n\
    structures = [\"plain\"]\ngrows = [\"rows\"]\n[sections]\nbody = \"Body\"\n";

pub fn codes(faults: &Diagnostics) -> Vec<Code> {
    faults.iter().map(|fault| fault.code).collect()
}

/// The codes of what should have failed.
pub fn failed<T>(outcome: Result<T, impl Into<Diagnostics>>) -> Vec<Code> {
    outcome.err().map_or_else(Vec::new, |faults| codes(&faults.into()))
}

/// The code of a fault where only one can be.
pub fn one<T>(outcome: Result<T, Diagnostic>) -> Vec<Code> {
    failed(outcome)
}

fn named(text: &str) -> Option<Code> {
    Code::ALL.iter().copied().find(|code| code.as_str() == text)
}

/// The codes a command printed.
pub fn told(ran: &Ran) -> Vec<Code> {
    [printed(ran, "error["), printed(ran, "warning[")].concat()
}

fn printed(ran: &Ran, lead: &str) -> Vec<Code> {
    let code = |line: &str| named(line.strip_prefix(lead)?.split_once(']')?.0);
    ran.err.lines().filter_map(code).collect()
}

/// As `told`, of a command that ended as its gravest error says.
fn ended(ran: &Ran) -> Vec<Code> {
    let due = comes_to(&printed(ran, "error[")).map_or(0, |(_, _, exit, _)| exit);
    assert_eq!(ran.code, Some(due), "{}", ran.err);
    told(ran)
}

/// As `answered`, of an answer with the status that its gravest fault says.
fn stated(answer: &Answer) -> Vec<Code> {
    let codes = answered(answer);
    let status = answer.status.as_u16();
    let due = comes_to(&codes).is_some_and(|(_, _, _, statuses)| statuses.contains(&status));
    // No JSON at all has a status of its own.
    assert!(due || (status == 400 && codes.contains(&Code::Json)), "{status} {}", answer.text());
    codes
}

/// The codes of an answer.
pub fn answered(answer: &Answer) -> Vec<Code> {
    coded(answer.text())
}

/// The codes of a problem document, or of a batch's lines.
pub fn coded(text: &str) -> Vec<Code> {
    fn gather(value: &Value, found: &mut Vec<Code>) {
        match value {
            Value::Array(all) => all.iter().for_each(|value| gather(value, found)),
            Value::Object(map) => {
                found.extend(map.get("code").and_then(Value::as_str).and_then(named));
                map.values().for_each(|value| gather(value, found));
            }
            _ => {}
        }
    }
    let mut found = Vec::new();
    for line in text.lines() {
        if let Ok(value) = serde_json::from_str(line) {
            gather(&value, &mut found);
        }
    }
    found
}

pub fn sent(server: &Server, path: &str, kind: &str, text: &str) -> Answer {
    let sent = request(Method::POST, path).header(header::CONTENT_TYPE, kind);
    server.send(sent.body(Body::from(text.to_owned())).expect("a request"))
}

/// A small workspace with these files in it.
pub fn small(files: &[(&str, &str)]) -> tempfile::TempDir {
    let hold = tempfile::tempdir().expect("a folder");
    let own = [
        ("oddments.toml", "units = \"cm\"\n"),
        (
            "yarns/slate.toml",
            "yarn = \"400 m/100 g\"\n[[colour]]\nname = \"slate\"\nshade = \"#5a6570\"\n",
        ),
        ("stash.toml", "[[remnant]]\nid = \"a\"\nyarn = \"slate\"\nweight = \"60 g\"\n"),
        ("people.toml", "[[person]]\nname = \"Ruan\"\nsize = \"men-l\"\n"),
        ("gifts.toml", "[[gift]]\nid = \"g\"\nperson = \"Ruan\"\ngarment = \"tam\"\n"),
    ];
    for (file, text) in own.iter().chain(files) {
        let path = hold.path().join(file);
        fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        fs::write(path, text).expect("written");
    }
    hold
}

/// A new garment as the author's command makes it.
pub fn fresh(change: &dyn Fn(&Path)) -> (tempfile::TempDir, String) {
    let hold = tempfile::tempdir().expect("a folder");
    let folder = bench().new_garment("sea-band", hold.path()).expect("a new garment");
    change(&folder);
    let name = folder.to_str().expect("a plain path").to_owned();
    (hold, name)
}

fn checked(stage: &Stage, change: &dyn Fn(&Path)) -> Vec<Code> {
    let (_hold, name) = fresh(change);
    match stage.bench.check_garment(&name) {
        Ok(check) => codes(&check.findings),
        Err(faults) => codes(&faults),
    }
}

/// What many scripts begin with: a sound piece, a measure of it, and one of needles it never used.
const PARTS: &str = "local CAST_ON = step.cast_on{ needles = 'L9-R9', method = 'wound' }\n\
    local PIECE = piece{ name = 'body', steps = { CAST_ON, step.knit{ rows = 4 }, step.cast_off() } }\n\
    local NEAR = { name = 'near', target = 900, parts = { { piece = 'body', width = true } } }\n\
    local FAR = { name = 'far', target = 900, parts = { { piece = 'body', needles = 'L90-L80' } } }\n";

fn script(body: &str) -> BTreeMap<String, Vec<u8>> {
    let text = format!("{PARTS}return function(input)\n{body}\nend\n");
    BTreeMap::from([("init.luau".to_owned(), text.into_bytes())])
}

/// Grades a garment on the standard bed.
fn graded(stage: &Stage, files: &BTreeMap<String, Vec<u8>>, sizes: &str) -> Vec<Code> {
    let mut files = files.clone();
    files.entry("plugin.toml".to_owned()).or_insert_with(|| MANIFEST.as_bytes().to_vec());
    let source = PluginSource { folder: "plugins/body".to_owned(), files };
    let known: Vec<&str> = stage.bench.sizes.known().iter().map(Measure::name).collect();
    let plugin = match Plugin::load(source, &known) {
        Ok(plugin) => plugin,
        Err(faults) => return codes(&faults),
    };
    let run = stage.bench.grade(&GradeRequest {
        plugin: &plugin,
        machine: stage.bench.machine("standard").expect("built in"),
        swatch: &demo("standard"),
        options: Vec::new(),
        sizes: sizes.to_owned(),
        person: None,
    });
    match run {
        Ok(run) => {
            let sizes = run.sizes.iter().flat_map(|size| codes(size.diagnostics()));
            codes(&run.warnings).into_iter().chain(sizes).collect()
        }
        Err(faults) => codes(&faults),
    }
}

fn planned(spoil: fn(&mut Instance, &mut Plan)) -> Vec<Code> {
    let (mut instance, mut plan) = sound();
    spoil(&mut instance, &mut plan);
    let faults = Diagnostics::from(instance.validate());
    // A plan can be judged only for what is an instance.
    codes(&if faults.has_errors() { faults } else { plan::check(&instance, &plan).into() })
}
