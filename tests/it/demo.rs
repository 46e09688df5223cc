//! Workspaces to try things in.

use std::path::PathBuf;

use serde_json::Value;

use crate::support::{Ran, oddments_in};

/// A workspace of one's own for a test.
pub struct Demo {
    // Removed when the test ends.
    _folder: tempfile::TempDir,
    pub path: PathBuf,
}

impl Demo {
    pub fn new() -> Demo {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("skerry");
        let demo = Demo { path, _folder: folder };
        let made = oddments_in(demo._folder.path(), &["init", "skerry", "--demo"]);
        assert_eq!(made.code, Some(0), "{}", made.err);
        demo
    }

    pub fn empty() -> Demo {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("own");
        let made = oddments_in(folder.path(), &["init", "own"]);
        assert_eq!(made.code, Some(0), "{}", made.err);
        Demo { path, _folder: folder }
    }

    pub fn run(&self, args: &[&str]) -> Ran {
        oddments_in(&self.path, args)
    }

    pub fn plan(&self, more: &[&str]) -> Value {
        let mut args = vec!["plan", "--today", "2026-09-01", "--work", "4", "--format", "json"];
        args.extend(more);
        let ran = self.run(&args);
        assert!(ran.code.is_some_and(|code| code < 2), "{}", ran.err);
        serde_json::from_str(&ran.out).expect("JSON")
    }

    pub fn text(&self, file: &str) -> String {
        std::fs::read_to_string(self.path.join(file)).expect("there")
    }

    pub fn toml(&self, file: &str) -> toml::Table {
        self.text(file).parse().expect("sound")
    }
}
