//! Links the C++ library that the script engine needs into the program, so that it is one file to
//! carry about. On Linux with GCC only: elsewhere that library is part of the system, or no archive
//! of it need be there. Where there is none, the program asks for the shared one, as by default.

#![allow(
    clippy::disallowed_methods,
    reason = "a build script is told by its environment and makes files"
)]

use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    println!("cargo::rerun-if-changed=build.rs");
    if let Some(archive) = archive() {
        // A folder that holds the archive and no shared library is searched first.
        let folder = Path::new(&asked("OUT_DIR")).join("cxx");
        fs::create_dir_all(&folder)?;
        fs::copy(archive, folder.join("libstdc++.a"))?;
        println!("cargo::rustc-link-search=native={}", folder.display());
    }
    Ok(())
}

/// The C++ library of the compiler that builds the script engine.
fn archive() -> Option<PathBuf> {
    if asked("CARGO_CFG_TARGET_OS") != "linux" || asked("CARGO_CFG_TARGET_ENV") != "gnu" {
        return None;
    }
    let compiler = cc::Build::new().cpp(true).cargo_warnings(false).try_get_compiler().ok()?;
    if !compiler.is_like_gnu() {
        return None;
    }
    let told = compiler.to_command().arg("-print-file-name=libstdc++.a").output().ok()?;
    // What it does not find, it gives back as it was asked for.
    let archive = PathBuf::from(String::from_utf8(told.stdout).ok()?.trim());
    archive.is_absolute().then_some(archive).filter(|archive| archive.is_file())
}

fn asked(name: &str) -> String {
    env::var(name).unwrap_or_default()
}
