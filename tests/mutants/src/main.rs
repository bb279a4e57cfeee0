//! Mutation runs: changes the numeric code of the house in thousands of small ways, one at a time, and sees whether its tests notice.
//!
//! `cargo run --release --manifest-path tests/mutants/Cargo.toml -- [--left] [--known] [--share 0.2] [--seed 1] [--budget 15] [--jobs 2] [--list] [src/physics …]`

mod compile;
mod explained;
mod mutant;
mod operators;
mod rewrite;
mod run;
mod table;
mod tree;
mod trials;
mod values;

use mutant::Mutant;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use table::Fate;
use tree::Failure;

/// Folders that are changed where none is named, those that decide first.
const FOLDERS: [&str; 5] = ["src/conformity", "src/physics", "src/causes", "src/shape", "src/statistics"];

/// What the command line asks for.
struct Asked {
    chosen: Vec<String>,
    /// Only mutants that the last table left alive and nobody explains, or does not know.
    left: bool,
    share: f64,
    seed: u64,
    budget: f64,
    jobs: usize,
    /// Only builds, times the tests and counts.
    count: bool,
    /// Only prints the names.
    list: bool,
    /// Tests that the last run has timed are not timed again, nor is what the compiler refused tried again: for who only adds tests.
    known: bool,
}

fn asked() -> Result<Asked, Failure> {
    let mut asked =
        Asked { chosen: Vec::new(), left: false, share: 1.0, seed: 1, budget: 15.0, jobs: 2, count: false, list: false, known: false };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut value = || words.next().ok_or(format!("{word} needs a value"));
        match word.as_str() {
            "--left" => asked.left = true,
            "--count" => asked.count = true,
            "--list" => asked.list = true,
            "--known" => asked.known = true,
            "--share" => asked.share = value()?.parse()?,
            "--seed" => asked.seed = value()?.parse()?,
            "--budget" => asked.budget = value()?.parse()?,
            "--jobs" => asked.jobs = value()?.parse()?,
            other if other.starts_with('-') => return Err(format!("unknown: {other}").into()),
            place => asked.chosen.push(place.to_owned()),
        }
    }
    if asked.chosen.is_empty() {
        asked.chosen = FOLDERS.iter().map(|&folder| folder.to_owned()).collect();
    }
    Ok(asked)
}

fn at_home() -> Result<(PathBuf, PathBuf), Failure> {
    let own = Path::new(env!("CARGO_MANIFEST_DIR"));
    let root = own.ancestors().nth(2).ok_or("no tree around this crate")?.to_path_buf();
    let place = root.join("target/mutants");
    fs::create_dir_all(&place)?;
    Ok((root, place))
}

/// Runs all that is asked; whether nothing is left that no test kills and nobody explains.
fn work() -> Result<bool, Failure> {
    let asked = asked()?;
    let (root, place) = at_home()?;
    let (copy, built, table_file) = (place.join("tree"), place.join("built"), place.join("table.tsv"));
    // Only what is chosen is changed: the rest runs as fast as it is, and recording what a test reaches is quicker.
    let sources = compile::sources(&root, &asked.chosen)?;
    let texts: Vec<(PathBuf, String)> = sources.iter().map(|source| (source.name.clone(), source.text.clone())).collect();
    let mut all = mutant::mutants(&sources);
    if asked.list {
        all.iter().for_each(|mutant| println!("{}", mutant.name));
        return Ok(true);
    }
    tree::copy(&root, &copy, &tree::documented(&texts))?;
    let table_before = if asked.left { fs::read_to_string(&table_file).unwrap_or_default() } else { String::new() };
    let known = table::read(&table_before);
    let explanations = explained::names(&fs::read_to_string(root.join("tests/mutants/explained.md"))?);
    let settled = |mutant: &Mutant| known.get(&mutant.name).is_some_and(|fate| fate.is_killed() || explanations.contains(&mutant.name));
    // what is settled need not be compiled
    let spared: BTreeSet<u32> = all.iter().filter(|mutant| settled(mutant)).map(|mutant| mutant.number).collect();
    let refused_file = place.join("refused.txt");
    let refused_before = if asked.known { fs::read_to_string(&refused_file).unwrap_or_default() } else { String::new() };
    let refused_before: BTreeSet<&str> = refused_before.lines().collect();
    let mut begin_without: BTreeSet<u32> =
        all.iter().filter(|mutant| refused_before.contains(mutant.name.as_str())).map(|mutant| mutant.number).collect();
    begin_without.extend(&spared);
    let (mut refused, binaries) = compile::compile(&sources, &copy, &built, begin_without)?;
    refused.retain(|number| !spared.contains(number));
    eprintln!("compiled");
    let of_refused = all.extract_if(.., |mutant| refused.contains(&mutant.number)).map(|mutant| mutant.name + "\n");
    fs::write(&refused_file, of_refused.collect::<String>())?;
    eprintln!("{} mutants; the compiler refused {} more", all.len(), refused.len());
    // What a test reached is remembered by number; the names say which mutant a number was.
    let names: String = all.iter().map(|mutant| format!("{} {}\n", mutant.number, mutant.name)).collect();
    let (names_file, tests_file) = (place.join("names.txt"), place.join("tests.tsv"));
    let names_before = if asked.known { fs::read_to_string(&names_file).unwrap_or_default() } else { String::new() };
    let known_tests = if asked.known { trials::remembered(&tests_file, &names_before, &all) } else { BTreeMap::new() };
    let trials = trials::trials(&binaries, &copy, asked.jobs, &place, &known_tests)?;
    let seconds: f64 = trials.iter().map(|trial| trial.seconds).sum();
    eprintln!("{} tests, {seconds:.0} s together", trials.len());
    trials::remember(&trials, &tests_file)?;
    fs::write(&names_file, names)?;

    let chosen = |file: &str| asked.chosen.iter().position(|folder| Path::new(file).starts_with(folder));
    let mut wanted: Vec<Mutant> = all.into_iter().filter(|mutant| chosen(&mutant.file).is_some()).collect();
    if asked.share < 1.0 {
        wanted = mutant::sampled(wanted, asked.share, asked.seed);
    }
    let names: BTreeSet<&str> = wanted.iter().map(|mutant| mutant.name.as_str()).collect();
    let mut before = table::lines_but(&table_before, &names);
    let (kept, mut tried): (Vec<Mutant>, Vec<Mutant>) = wanted.into_iter().partition(settled);
    tried.sort_by_key(|mutant| (chosen(&mutant.file), mutant.number));
    eprintln!("{} mutants are tried", tried.len());
    if asked.count {
        return Ok(true);
    }
    let mut fates: Vec<(Mutant, Fate)> =
        kept.into_iter().filter_map(|mutant| known.get(&mutant.name).cloned().map(|fate| (mutant, fate))).collect();
    before.extend(fates.iter().map(|(mutant, fate)| table::line(mutant, fate)));
    fs::write(&table_file, before)?;
    let plan = run::Plan { tree: &copy, table: &table_file, jobs: asked.jobs, budget: asked.budget };
    fates.extend(run::run(&plan, &trials, &tried)?);
    told(&explanations, fates, asked.share >= 1.0)
}

/// Prints what is left and the sums; whether nothing is left.
fn told(explanations: &BTreeSet<String>, fates: Vec<(Mutant, Fate)>, whole: bool) -> Result<bool, Failure> {
    let stale = explained::stale(explanations, &fates, whole);
    let mut left = 0;
    let mut judged = Vec::new();
    for (mutant, fate) in fates {
        let is_explained = !fate.is_killed() && explanations.contains(&mutant.name);
        if !fate.is_killed() && !is_explained {
            left += 1;
            println!("{} line {}", explained::item(&mutant), mutant.line);
        }
        judged.push((mutant, fate, is_explained));
    }
    stale.iter().for_each(|sentence| println!("{sentence}"));
    print!("{}", table::sums(&judged));
    Ok(left == 0 && stale.is_empty())
}

fn main() -> ExitCode {
    match work() {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::from(1),
        Err(failure) => {
            eprintln!("{failure}");
            ExitCode::from(2)
        }
    }
}
