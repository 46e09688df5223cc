//! The tutorial, step by step: each file block is written, each command run, in page order.

use std::fs;
use std::path::Path;

use crate::docs::{Shown, run_shown};

/// A fenced block: its info string, the line it begins on, its text.
struct Block<'a> {
    info: &'a str,
    line: usize,
    text: String,
}

fn blocks(page: &str) -> Vec<Block<'_>> {
    let mut all = Vec::new();
    let mut open: Option<Block<'_>> = None;
    for (number, line) in page.lines().enumerate() {
        match (line.strip_prefix("```"), open.take()) {
            (Some(info), None) => {
                open = Some(Block { info, line: number + 1, text: String::new() });
            }
            (Some(_), Some(block)) => all.push(block),
            (None, Some(mut block)) => {
                block.text.push_str(line);
                block.text.push('\n');
                open = Some(block);
            }
            (None, None) => {}
        }
    }
    assert!(open.is_none(), "a block is not closed");
    all
}

fn commands(block: &Block<'_>) -> Vec<Shown> {
    crate::docs::shown_in(block.text.lines(), block.line + 1)
}

#[test]
fn every_step_of_the_tutorial_works() {
    let page =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("plugins/TUTORIAL.md"))
            .expect("the tutorial");
    let folder = tempfile::tempdir().expect("a folder");
    let (mut files, mut runs) = (0, 0);
    for block in blocks(&page) {
        let mut words = block.info.split(' ');
        match (words.next(), words.next()) {
            (Some("console"), mode) => {
                for shown in commands(&block) {
                    let fault = run_shown(&shown, folder.path(), mode == Some("fails"));
                    assert!(
                        fault.is_none(),
                        "TUTORIAL.md:{}: {}",
                        shown.line,
                        fault.unwrap_or_default()
                    );
                    runs += 1;
                }
            }
            (Some(_), Some(file)) => {
                let path = folder.path().join(file);
                fs::create_dir_all(path.parent().expect("inside the folder")).expect("made");
                fs::write(path, &block.text).expect("written");
                files += 1;
            }
            _ => panic!("TUTORIAL.md:{}: a block that no test runs", block.line),
        }
    }
    assert!(files >= 6 && runs >= 8, "{files} files, {runs} commands");
}
