//! Compiles the changed tree; mutants that the compiler refuses are taken out until it compiles.

use crate::operators::{Site, sites, test_modules};
use crate::rewrite::{Placed, rewritten};
use crate::tree::{self, Failure};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// A source file with its sites, and the number of the first change in it; the others follow in order.
pub struct Source {
    /// Relative to the tree.
    pub name: PathBuf,
    pub text: String,
    pub sites: Vec<Site>,
    pub first: u32,
}

/// The binaries with tests.
pub struct Binary {
    pub path: PathBuf,
    /// `unit` or `all`.
    pub name: &'static str,
}

/// All sources of the tree; sites only of those below one of `chosen` (folders or files, such as `src/physics`) that are not for tests alone.
pub fn sources(root: &Path, chosen: &[String]) -> Result<Vec<Source>, Failure> {
    let mut texts = Vec::new();
    let mut only_tests: BTreeSet<PathBuf> = BTreeSet::new();
    for name in tree::files(root)? {
        if !name.starts_with("src") || name.extension().is_none_or(|ending| ending != "rs") {
            continue;
        }
        let text = fs::read_to_string(root.join(&name))?;
        let folder = if name.ends_with("mod.rs") || name.ends_with("lib.rs") { name.with_file_name("") } else { name.with_extension("") };
        for module in test_modules(&text)? {
            only_tests.insert(folder.join(format!("{module}.rs")));
            // with all that is below it
            only_tests.insert(folder.join(module));
        }
        texts.push((name, text));
    }
    let mut next = 1;
    let mut all = Vec::new();
    for (name, text) in texts {
        let wanted = chosen.iter().any(|place| name.starts_with(place)) && !only_tests.iter().any(|own| name.starts_with(own));
        let sites = if wanted { sites(&text)? } else { Vec::new() };
        let first = next;
        next += sites.iter().map(|site| site.changes.len() as u32).sum::<u32>();
        all.push(Source { name, text, sites, first });
    }
    Ok(all)
}

/// How many mutants there are before the compiler has seen them.
pub fn count(sources: &[Source]) -> usize {
    sources.iter().flat_map(|source| &source.sites).map(|site| site.changes.len()).sum()
}

/// Writes the changed sources without those `refused`; where each mutant stands, by file.
fn write_changed(sources: &[Source], copy: &Path, refused: &BTreeSet<u32>) -> Result<BTreeMap<PathBuf, Vec<Placed>>, Failure> {
    let mut places = BTreeMap::new();
    for source in sources {
        if source.name.ends_with("lib.rs") && source.sites.is_empty() {
            continue;
        }
        let mut number = source.first;
        let mut numbered = Vec::new();
        for site in &source.sites {
            let mut own = Vec::new();
            for _ in &site.changes {
                own.push((!refused.contains(&number)).then_some(number));
                number += 1;
            }
            numbered.push((site, own));
        }
        let (text, placed) = rewritten(&source.text, &numbered);
        tree::write(&copy.join(&source.name), text.as_bytes())?;
        places.insert(source.name.clone(), placed);
    }
    tree::write(&copy.join("src/mutants.rs"), tree::switch(count(sources)).as_bytes())?;
    Ok(places)
}

/// Mutants to which an error of the compiler points: those whose own branch holds it, else those of the narrowest site around it.
fn blamed(message: &Value, places: &BTreeMap<PathBuf, Vec<Placed>>) -> Vec<u32> {
    let spans = message["spans"].as_array().map(Vec::as_slice).unwrap_or_default();
    let (primary, secondary): (Vec<&Value>, Vec<&Value>) = spans.iter().partition(|span| span["is_primary"].as_bool() == Some(true));
    for span in primary.into_iter().chain(secondary) {
        let Some(placed) = span["file_name"].as_str().and_then(|name| places.get(Path::new(name))) else { continue };
        let at = span["byte_start"].as_u64().unwrap_or(0) as usize..span["byte_end"].as_u64().unwrap_or(0) as usize;
        let holds = |range: &std::ops::Range<usize>| range.start <= at.start && at.end <= range.end;
        let own: Vec<u32> = placed.iter().filter(|one| holds(&one.branch)).map(|one| one.number).collect();
        if !own.is_empty() {
            return own;
        }
        let around = placed.iter().filter(|one| holds(&one.site)).min_by_key(|one| one.site.len());
        if let Some(narrowest) = around {
            return placed.iter().filter(|one| one.site == narrowest.site).map(|one| one.number).collect();
        }
    }
    Vec::new()
}

fn cargo(copy: &Path, built: &Path, arguments: &[&str]) -> Result<(bool, Vec<Value>), Failure> {
    let output = Command::new("cargo")
        .current_dir(copy)
        .args(arguments)
        .args(["--offline", "--message-format=json", "--target-dir"])
        .arg(built)
        .stderr(Stdio::piped())
        .output()?;
    let lines = String::from_utf8_lossy(&output.stdout).into_owned();
    let messages: Vec<Value> = lines.lines().filter_map(|line| serde_json::from_str(line).ok()).collect();
    if messages.is_empty() {
        return Err(String::from_utf8_lossy(&output.stderr).into_owned().into());
    }
    Ok((output.status.success(), messages))
}

/// Takes out what the compiler refuses, beginning without `refused`, then builds the tests: the numbers refused, and the binaries.
pub fn compile(sources: &[Source], copy: &Path, built: &Path, mut refused: BTreeSet<u32>) -> Result<(BTreeSet<u32>, Vec<Binary>), Failure> {
    loop {
        let places = write_changed(sources, copy, &refused)?;
        let (done, messages) = cargo(copy, built, &["check", "--lib"])?;
        if done {
            break;
        }
        let errors: Vec<&Value> = messages.iter().map(|line| &line["message"]).filter(|message| message["level"] == "error").collect();
        let before = refused.len();
        errors.iter().for_each(|error| refused.extend(blamed(error, &places)));
        eprintln!("the compiler refused {} mutants", refused.len() - before);
        if refused.len() == before {
            let told: Vec<&str> = errors.iter().filter_map(|error| error["rendered"].as_str()).collect();
            return Err(format!("errors that no mutant explains:\n{}", told.join("\n")).into());
        }
    }
    let (done, messages) = cargo(copy, built, &["test", "--no-run", "--lib", "--test", "all"])?;
    if !done {
        let told: Vec<&str> = messages.iter().filter_map(|line| line["message"]["rendered"].as_str()).collect();
        return Err(told.join("\n").into());
    }
    let made = messages.iter().filter(|line| line["profile"]["test"] == true);
    let binaries = made.filter_map(|line| {
        let path = PathBuf::from(line["executable"].as_str()?);
        let name = if line["target"]["kind"][0] == "test" { "all" } else { "unit" };
        Some(Binary { path, name })
    });
    Ok((refused, binaries.collect()))
}
