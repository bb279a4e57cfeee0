//! The copy of the tree that is changed: every file that git would keep, with the changed sources among them.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A failure, told in a sentence.
pub type Failure = Box<dyn std::error::Error>;

/// What every changed source calls: whether a mutant is the one that is on.
const SWITCH: &str = r#"//! Which mutant is on; which are reached.
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering::Relaxed};
const UNREAD: u32 = u32::MAX;
const RECORDING: u32 = u32::MAX - 1;
static ACTIVE: AtomicU32 = AtomicU32::new(UNREAD);
static REACHED: [AtomicBool; @COUNT@] = [const { AtomicBool::new(false) }; @COUNT@];
#[inline(always)]
pub fn on(number: u32) -> bool {
    let active = ACTIVE.load(Relaxed);
    active == number || (active >= RECORDING && slow(number))
}
#[cold]
#[inline(never)]
fn slow(number: u32) -> bool {
    if ACTIVE.load(Relaxed) == UNREAD {
        let number = || std::env::var("MUTANT").ok().and_then(|text| text.parse().ok()).unwrap_or(0);
        ACTIVE.store(if std::env::var_os("MUTANTS_REACHED").is_some() { RECORDING } else { number() }, Relaxed);
    }
    if ACTIVE.load(Relaxed) != RECORDING {
        return ACTIVE.load(Relaxed) == number;
    }
    if !REACHED[number as usize].load(Relaxed) && !REACHED[number as usize].swap(true, Relaxed) {
        use std::io::Write;
        let path = std::env::var_os("MUTANTS_REACHED").unwrap_or_default();
        if let Ok(mut file) = std::fs::OpenOptions::new().append(true).create(true).open(path) {
            let _ = file.write_all(format!("{number}\n").as_bytes());
        }
    }
    false
}
"#;

/// The module with the switch, for mutants numbered 1 to `count`.
pub fn switch(count: usize) -> String {
    SWITCH.replace("@COUNT@", &(count + 1).to_string())
}

/// The files of the tree, relative, sorted: those that git tracks or would track.
pub fn files(root: &Path) -> Result<Vec<PathBuf>, Failure> {
    let output = Command::new("git").current_dir(root).args(["ls-files", "-z", "--cached", "--others", "--exclude-standard"]).output()?;
    if !output.status.success() {
        return Err(String::from_utf8_lossy(&output.stderr).into_owned().into());
    }
    let names = String::from_utf8(output.stdout)?;
    let mut found: Vec<PathBuf> = names.split('\0').filter(|name| !name.is_empty()).map(PathBuf::from).collect();
    found.retain(|name| root.join(name).is_file());
    found.sort();
    Ok(found)
}

/// Writes a file unless it is there with the same bytes, so that the compiler works only on what changed.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    if fs::read(path).is_ok_and(|there| there == bytes) {
        return Ok(());
    }
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    Ok(fs::write(path, bytes)?)
}

/// Copies the tree to `copy`, and removes from there what the tree no longer has. The manifest gets a workspace and light optimisation of the
/// house's own code; `lib.rs` gets the switch and no warnings; `documented` becomes a module of the integration tests.
pub fn copy(root: &Path, copy: &Path, documented: &str) -> Result<(), Failure> {
    let names = files(root)?;
    for name in &names {
        let mut bytes = fs::read(root.join(name))?;
        match name.to_str() {
            Some("Cargo.toml") => {
                let text = String::from_utf8(bytes)?.replace("[profile.dev]\n", "[profile.dev]\nopt-level = 1\n");
                let text = text.replace("[profile.dev.package.\"*\"]\n", "[profile.dev.package.\"*\"]\nopt-level = 0\n");
                bytes = format!("{text}\n[workspace]\n").into_bytes();
            }
            Some("src/lib.rs") => bytes = format!("#![allow(warnings, arithmetic_overflow, unconditional_panic, unconditional_recursion, clippy::all)]\n{}\npub mod mutants;\n", String::from_utf8(bytes)?).into_bytes(),
            Some("tests/all/main.rs") => bytes = format!("{}\nmod documented;\n", String::from_utf8(bytes)?).into_bytes(),
            // The changed sources, and no other file, are written by whoever numbers the mutants.
            Some(text) if text.starts_with("src/") && text.ends_with(".rs") && copy.join(name).is_file() => continue,
            _ => {}
        }
        write(&copy.join(name), &bytes)?;
    }
    write(&copy.join("tests/all/documented.rs"), documented.as_bytes())?;
    let kept: BTreeSet<PathBuf> = names.into_iter().collect();
    let mut folders = vec![copy.join("src"), copy.join("tests")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder)? {
            let path = entry?.path();
            let own = ["src/mutants.rs", "tests/all/documented.rs"].iter().any(|own| path.ends_with(own));
            if path.is_dir() {
                folders.push(path);
            } else if !own && !kept.contains(path.strip_prefix(copy)?) {
                fs::remove_file(path)?;
            }
        }
    }
    Ok(())
}

/// The examples of the documentation of `sources` (name and text), each a test of its own.
pub fn documented(sources: &[(PathBuf, String)]) -> String {
    let mut out = "//! The examples of the documentation.\n#![allow(warnings)]\n".to_owned();
    for (name, text) in sources {
        let mut inside: Option<String> = None;
        for (place, line) in text.lines().enumerate() {
            let line = line.trim_start();
            let Some(comment) = line.strip_prefix("///").or_else(|| line.strip_prefix("//!")) else { continue };
            let comment = comment.strip_prefix(' ').unwrap_or(comment);
            match (&mut inside, comment.trim()) {
                (None, "```") => inside = Some(String::new()),
                (Some(code), "```") => {
                    let word: String =
                        name.to_string_lossy().chars().map(|letter| if letter.is_ascii_alphanumeric() { letter } else { '_' }).collect();
                    out.push_str(&format!("#[test]\nfn {word}_{}() {{\n{code}}}\n", place + 1));
                    inside = None;
                }
                (Some(code), _) => {
                    code.push_str(comment.strip_prefix("# ").unwrap_or(comment));
                    code.push('\n');
                }
                (None, _) => {}
            }
        }
    }
    out
}
