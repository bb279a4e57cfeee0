//! The tests: each alone once without a mutant, to know how long it takes and which mutants it reaches; then again with one.

use crate::compile::Binary;
use crate::mutant::Mutant;
use crate::tree::Failure;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// A test, with what it took and reached.
#[derive(Debug, Clone)]
pub struct Trial {
    /// `unit` or `all`, a blank, the test's path.
    pub name: String,
    binary: PathBuf,
    test: String,
    pub seconds: f64,
    pub reached: BTreeSet<u32>,
}

/// How a test ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    Passed,
    Failed,
    /// Longer than five times its own time and a second, by the clock of the processor; by that on the wall ten times and ten seconds.
    TooLong,
}

/// Tests that judge no number by something outside: what compares or quotes our own earlier output (`samples`, `guide`, `verify`, the snapshots of
/// pages), and what looks at form (pages, command line, readers given changed inputs, the house). A change that only they see is seen by no check of what it means.
const LEFT_OUT: [&str; 12] = [
    "samples::",
    "guide::",
    "history::the_example",
    "verify::",
    "page::",
    "command_line::",
    "at_home::",
    "many::",
    "fuzz::",
    "new_trial::",
    "plan::sheet::",
    "house::",
];

/// Names of the tests of a binary, without the ignored ones and those that judge no number.
fn names(binary: &Binary) -> Result<Vec<String>, Failure> {
    let list = |more: &[&str]| -> Result<BTreeSet<String>, Failure> {
        let output = Command::new(&binary.path).args(["--list", "--format", "terse"]).args(more).output()?;
        let text = String::from_utf8(output.stdout)?;
        Ok(text.lines().filter_map(|line| line.strip_suffix(": test")).map(str::to_owned).collect())
    };
    let ignored = list(&["--ignored"])?;
    Ok(list(&[])?.into_iter().filter(|name| !ignored.contains(name) && !LEFT_OUT.iter().any(|own| name.starts_with(own))).collect())
}

/// A test that takes no longer than this while it records is not timed again.
const QUICK: Duration = Duration::from_millis(200);

/// Memory that a test may ask for, kB: a mutant may ask for all.
const MEMORY_KB: u32 = 6_000_000;

/// Runs one test; `switch` is the variable and its value that say which mutant is on or where to record.
fn run(binary: &Path, test: &str, tree: &Path, seconds: f64, switch: (&str, &str)) -> Result<Ended, Failure> {
    let processor = (seconds * 5.0 + 1.0).ceil();
    let wall = Duration::from_secs_f64(seconds * 10.0 + 10.0);
    let mut child = Command::new("sh")
        .args(["-c", &format!("ulimit -v {MEMORY_KB} -t {processor}; exec \"$0\" \"$@\"")])
        .arg(binary)
        .args(["--exact", test, "--test-threads=1", "-q"])
        .current_dir(tree)
        .env("CARGO_MANIFEST_DIR", tree)
        .env("INSTA_UPDATE", "no")
        .env("INSTA_WORKSPACE_ROOT", tree)
        .env("RAYON_NUM_THREADS", "1")
        .env(switch.0, switch.1)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .process_group(0)
        .spawn()?;
    let begun = Instant::now();
    let mut pause = Duration::from_millis(1);
    loop {
        if let Some(status) = child.try_wait()? {
            use std::os::unix::process::ExitStatusExt;
            const OUT_OF_TIME: [i32; 2] = [24, 9];
            return Ok(match (status.success(), status.signal()) {
                (true, _) => Ended::Passed,
                (_, Some(signal)) if OUT_OF_TIME.contains(&signal) => Ended::TooLong,
                _ => Ended::Failed,
            });
        }
        if begun.elapsed() > wall {
            Command::new("kill").args(["-KILL", "--", &format!("-{}", child.id())]).status()?;
            child.wait()?;
            return Ok(Ended::TooLong);
        }
        std::thread::sleep(pause);
        pause = (pause * 2).min(Duration::from_millis(20));
    }
}

impl Trial {
    /// The test with a mutant on.
    pub fn with(&self, mutant: u32, tree: &Path) -> Result<Ended, Failure> {
        run(&self.binary, &self.test, tree, self.seconds, ("MUTANT", &mutant.to_string()))
    }
}

/// What is remembered of a test: seconds, and the numbers of the mutants that it reaches.
pub type Known = BTreeMap<String, (f64, BTreeSet<u32>)>;

/// What is remembered of tests, a line each, in the numbers of `all`; `names` are those that the numbers in the file meant. A mutant that was not there then
/// counts as reached by a test that reached one of its file.
pub fn remembered(path: &Path, names: &str, all: &[Mutant]) -> Known {
    let numbered: BTreeMap<&str, &str> = names.lines().filter_map(|line| line.split_once(' ')).collect();
    let there: BTreeSet<&str> = numbered.values().copied().collect();
    let entry = |line: &str| {
        let cells: Vec<&str> = line.split('\t').collect();
        let [seconds, name, reached] = cells.as_slice() else { return None };
        let reached: BTreeSet<&str> = reached.split(' ').filter_map(|number| numbered.get(number).copied()).collect();
        let files: BTreeSet<&str> = reached.iter().filter_map(|name| name.split(' ').next()).collect();
        let reaches = |mutant: &&Mutant| match there.contains(mutant.name.as_str()) {
            true => reached.contains(mutant.name.as_str()),
            false => files.contains(mutant.file.as_str()),
        };
        Some(((*name).to_owned(), (seconds.parse().ok()?, all.iter().filter(reaches).map(|mutant| mutant.number).collect())))
    };
    fs::read_to_string(path).unwrap_or_default().lines().filter_map(entry).collect()
}

/// Remembers tests for a later run whose mutants have the same numbers.
pub fn remember(trials: &[Trial], path: &Path) -> Result<(), Failure> {
    let line = |trial: &Trial| {
        let reached: Vec<String> = trial.reached.iter().map(u32::to_string).collect();
        format!("{:.4}\t{}\t{}\n", trial.seconds, trial.name, reached.join(" "))
    };
    Ok(fs::write(path, trials.iter().map(line).collect::<String>())?)
}

/// All tests that pass without a mutant; those that fail are named and left out. `jobs` side by side. Those that are `known` are not run.
pub fn trials(binaries: &[Binary], tree: &Path, jobs: usize, scratch: &Path, known: &Known) -> Result<Vec<Trial>, Failure> {
    let mut wanted = Vec::new();
    let mut before = Vec::new();
    for binary in binaries {
        for test in names(binary)? {
            let name = format!("{} {test}", binary.name);
            match known.get(&name) {
                Some((seconds, reached)) => {
                    before.push(Trial { name, binary: binary.path.clone(), test, seconds: *seconds, reached: reached.clone() })
                }
                None => wanted.push((binary, test)),
            }
        }
    }
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<Trial>> = Mutex::new(before);
    let work = |worker: usize| -> Result<(), String> {
        let record = scratch.join(format!("reached-{worker}"));
        while let Some((binary, test)) = wanted.get(next.fetch_add(1, Ordering::Relaxed)) {
            let told = |failure: Failure| failure.to_string();
            fs::write(&record, "").map_err(|failure| failure.to_string())?;
            let mut begun = Instant::now();
            let mut ended = run(&binary.path, test, tree, 120.0, ("MUTANTS_REACHED", &record.to_string_lossy())).map_err(told)?;
            let text = fs::read_to_string(&record).map_err(|failure| failure.to_string())?;
            // Timed apart, as recording slows it, unless it is quick all the same or will not be run again.
            if ended == Ended::Passed && !text.is_empty() && begun.elapsed() > QUICK {
                begun = Instant::now();
                ended = run(&binary.path, test, tree, 120.0, ("MUTANT", "0")).map_err(told)?;
            }
            let seconds = begun.elapsed().as_secs_f64();
            let name = format!("{} {test}", binary.name);
            if ended != Ended::Passed {
                eprintln!("left out, it fails without a mutant: {name}");
                continue;
            }
            let reached = text.lines().filter_map(|line| line.parse().ok()).collect();
            let trial = Trial { name, binary: binary.path.clone(), test: test.clone(), seconds, reached };
            done.lock().map_err(|failure| failure.to_string())?.push(trial);
        }
        Ok(())
    };
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..jobs).map(|worker| scope.spawn(move || work(worker))).collect();
        workers.into_iter().try_for_each(|worker| worker.join().unwrap_or_else(|_| Err("a worker stopped".to_owned())))
    })?;
    let mut found = done.into_inner()?;
    found.sort_by(|a, b| a.seconds.total_cmp(&b.seconds).then_with(|| a.name.cmp(&b.name)));
    Ok(found)
}
