//! Changed inputs to every reader: never a panic, never a hang, and what is accepted can be analysed.
//!
//! Inputs begin as the sample trials, the sheets and what earlier runs kept in `tests/corpus`; each is changed by bytes, words, lines and pieces of other inputs.
//! An input that is answered in a way that none before it was (its kind and the codes of its findings) is kept and changed further. The ordinary
//! test replays the corpus and a fixed number of changes; the long one runs for `FUZZ_SECONDS` (3,600 if not said) from `FUZZ_SEED`, and with `FUZZ_KEEP=1`
//! adds what it kept to the corpus.

use rand::seq::IndexedRandom;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;
use std::collections::{BTreeMap, BTreeSet};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use taperwright::analysis::{Options, analyse};
use taperwright::ingest::{ReadOptions, TrialFiles, TrialSource, read_files, sha256_hex};
use taperwright::trial::Origin;

/// The name under which a changed file is given to the reader.
const NAMES: [&str; 9] = [
    "diameters.csv",
    "levels.csv",
    "indicator.csv",
    "clamp.csv",
    "moves.csv",
    "trial.toml",
    "limits.toml",
    "diameters.xlsx",
    "diameters.ods",
];
/// Longest input, bytes.
const LONGEST: usize = 60_000;
/// No input of that length may take longer to read, optimised or not.
const SLOWEST: Duration = Duration::from_secs(20);
/// Words that readers treat in ways of their own.
const WORDS: [&str; 40] = [
    ",",
    ";",
    "\t",
    "\"",
    "\r",
    "\n",
    "\r\n",
    "#",
    "=",
    "[",
    "]]",
    "'''",
    "{",
    "\u{feff}",
    "\0",
    "−",
    "µ",
    "1e308",
    "-1e-308",
    "NaN",
    "inf",
    "0",
    "-0",
    "999999999999999999999",
    "1.5,2",
    "1 234",
    "٣",
    "20-May",
    "station_mm",
    "diameter_in",
    "pass",
    "exclude",
    "time",
    "14:05",
    "2026-02-30",
    "yes",
    "[[acceptance.limit]]",
    "[bar]",
    "length_mm = ",
    "collars_mm = [[0, 1e9]]",
];

fn small(path: &Path, into: &mut Vec<(usize, Vec<u8>)>) {
    let Ok(entries) = std::fs::read_dir(path) else { return };
    let mut paths: Vec<PathBuf> = entries.filter_map(Result::ok).map(|entry| entry.path()).collect();
    paths.sort();
    for path in paths {
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        if path.is_dir() {
            small(&path, into);
        } else if let Some(kind) = kind_of(&name) {
            let bytes = std::fs::read(&path).expect("a readable file");
            if bytes.len() <= LONGEST {
                into.push((kind, bytes));
            }
        }
    }
}

/// The reader that a file of the corpus or of a sample is for: corpus files are called `<kind>-<hash>`.
fn kind_of(name: &str) -> Option<usize> {
    let ending = |name: &str| name.rsplit('.').next().map(str::to_owned);
    NAMES.iter().position(|known| name == *known || name.starts_with(&format!("{known}-"))).or_else(|| match ending(name)?.as_str() {
        "csv" => Some(0),
        "toml" => Some(5),
        "xlsx" => Some(7),
        "ods" => Some(8),
        _ => None,
    })
}

fn corpus() -> Vec<(usize, Vec<u8>)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut all = Vec::new();
    for folder in ["sample-data", "tests/sheets", "src/ingest/criteria/sets", "tests/corpus"] {
        small(&root.join(folder), &mut all);
    }
    all
}

/// One change of an input.
fn change(bytes: &mut Vec<u8>, others: &[(usize, Vec<u8>)], rng: &mut ChaCha20Rng) {
    let place = |bytes: &[u8], rng: &mut ChaCha20Rng| rng.random_range(0..=bytes.len());
    let lines = |bytes: &[u8]| bytes.split(|byte| *byte == b'\n').map(<[u8]>::to_vec).collect::<Vec<_>>();
    match rng.random_range(0..10) {
        0 => {
            let at = place(bytes, rng);
            if let Some(byte) = bytes.get_mut(at) {
                *byte = rng.random();
            }
        }
        1 | 2 => {
            let (at, word) = (place(bytes, rng), WORDS.choose(rng).expect("words"));
            bytes.splice(at..at, word.bytes());
        }
        3 => {
            let (a, b) = (place(bytes, rng), place(bytes, rng));
            bytes.drain(a.min(b)..a.max(b).min(a.min(b) + 40));
        }
        4 => {
            let other = &others.choose(rng).expect("inputs").1;
            let (a, b, at) = (place(other, rng), place(other, rng), place(bytes, rng));
            let piece = other[a.min(b)..a.max(b).min(a.min(b) + 300)].to_vec();
            bytes.splice(at..at, piece);
        }
        5 => {
            let mut all = lines(bytes);
            let (a, b) = (rng.random_range(0..all.len()), rng.random_range(0..all.len()));
            all.swap(a, b);
            *bytes = all.join(&b'\n');
        }
        6 => {
            let mut all = lines(bytes);
            let (at, times) = (rng.random_range(0..all.len()), rng.random_range(1..200));
            let line = all[at].clone();
            all.splice(at..at, std::iter::repeat_n(line, times));
            *bytes = all.join(&b'\n');
        }
        7 => {
            // One number for another.
            let digits: Vec<usize> = (0..bytes.len()).filter(|i| bytes[*i].is_ascii_digit()).collect();
            if let Some(at) = digits.choose(rng) {
                bytes.splice(*at..=*at, WORDS[rng.random_range(17..28)].bytes());
            }
        }
        8 => {
            let at = place(bytes, rng);
            bytes.truncate(at);
        }
        _ => {
            let (from, to) = ([b',', b';', b'\t', b'.', b'\n'].choose(rng), [b',', b';', b'\t', b' ', b'\r'].choose(rng));
            let (from, to) = (*from.expect("marks"), *to.expect("marks"));
            bytes.iter_mut().filter(|byte| **byte == from).for_each(|byte| *byte = to);
        }
    }
    bytes.truncate(LONGEST);
}

/// How the reader answers: what the input is for, and the codes of its findings or that it is accepted. The trial is analysed when `whole`.
fn answer(kind: usize, bytes: &[u8], whole: bool) -> String {
    let log = b"station_mm,diameter_mm,pass,direction\n10,38.01,1,to-headstock\n90,38.02,1,to-headstock\n170,38.04,1,to-headstock\n\
        10,37.91,2,to-tailstock\n90,37.93,2,to-tailstock\n170,37.93,2,to-tailstock\n";
    let mut files = BTreeMap::from([("diameters.csv".to_owned(), Some(log.to_vec()))]);
    if NAMES[kind] == "limits.toml" {
        files.insert("trial.toml".to_owned(), Some(b"[acceptance]\ncriteria = \"limits.toml\"\n".to_vec()));
    }
    if NAMES[kind].ends_with("xlsx") || NAMES[kind].ends_with("ods") {
        files.clear();
    }
    files.insert(NAMES[kind].to_owned(), Some(bytes.to_vec()));
    let origin = Origin { source: TrialSource::Folder, name: "changed".into(), ..Origin::default() };
    match read_files(&TrialFiles::in_memory(&origin, files), &ReadOptions::default()) {
        Ok(trial) => {
            let codes: BTreeSet<&str> = trial.findings.iter().map(|f| f.code).collect();
            let told = format!("{} accepted {codes:?}", NAMES[kind]);
            if whole && trial.diameters.len() < 400 {
                let analysis = analyse(trial, Options { monte_carlo_draws: 1_000, ..Options::default() });
                assert!(analysis.shape.iter().all(|s| s.taper.value.is_finite()), "a taper that is no number");
            }
            told
        }
        Err(rejected) => {
            let codes: BTreeSet<&str> = rejected.findings.iter().map(|f| f.code).collect();
            format!("{} rejected {codes:?}", NAMES[kind])
        }
    }
}

/// What a run did.
struct Run {
    inputs: u64,
    kept: Vec<(usize, Vec<u8>)>,
    answers: usize,
    faults: Vec<String>,
}

/// Changes and reads until `enough` says so.
fn run(seed: u64, every: u64, reader: impl Fn(usize, &[u8], bool) -> String, mut enough: impl FnMut(u64) -> bool) -> Run {
    let mut rng = ChaCha20Rng::seed_from_u64(seed);
    let mut pool = corpus();
    let first = pool.len();
    let mut seen: BTreeSet<String> = BTreeSet::new();
    let mut run = Run { inputs: 0, kept: Vec::new(), answers: 0, faults: Vec::new() };
    let mut fault = |kind: usize, bytes: &[u8], what: &str| {
        let hash = sha256_hex(bytes);
        let path = std::env::temp_dir().join(format!("{}-{}", NAMES[kind], &hash[..12]));
        std::fs::write(&path, bytes).expect("room for the input");
        run.faults.push(format!("{what}: {}", path.display()));
    };
    let mut inputs = 0;
    while !enough(inputs) {
        let replay = inputs < first as u64;
        let (kind, mut bytes) = if replay { pool[inputs as usize].clone() } else { pool.choose(&mut rng).expect("inputs").clone() };
        if !replay {
            (0..rng.random_range(1..5)).for_each(|_| change(&mut bytes, &pool, &mut rng));
        }
        let start = Instant::now();
        match catch_unwind(AssertUnwindSafe(|| reader(kind, &bytes, inputs % every == 0))) {
            Ok(told) => {
                if seen.insert(told) && !replay {
                    pool.push((kind, bytes.clone()));
                }
            }
            Err(_) => fault(kind, &bytes, "a panic"),
        }
        if start.elapsed() > SLOWEST {
            fault(kind, &bytes, "too slow");
        }
        inputs += 1;
    }
    run.inputs = inputs;
    run.answers = seen.len();
    run.kept = pool.split_off(first);
    run
}

#[test]
fn changed_inputs_are_read_or_refused() {
    let run = run(20_261_126, 40, answer, |inputs| inputs >= 2_500);
    assert!(run.faults.is_empty(), "{:#?}", run.faults);
    assert!(run.answers > 60, "changes must reach many answers: {}", run.answers);
}

#[test]
fn a_reader_that_panics_is_caught() {
    let reader = |kind: usize, bytes: &[u8], _: bool| {
        assert!(!bytes.windows(3).any(|word| word == b"NaN"), "a reader made to be bad");
        NAMES[kind].to_owned()
    };
    let run = run(1, 1, reader, |inputs| inputs >= 600);
    assert!(!run.faults.is_empty() && run.faults.iter().all(|fault| fault.starts_with("a panic: ")), "{:?}", run.faults);
    run.faults.iter().for_each(|fault| std::fs::remove_file(&fault["a panic: ".len()..]).expect("the input that was kept"));
}

#[test]
#[ignore = "an hour by itself"]
fn changed_inputs_for_long() {
    let number = |name: &str, usual: u64| std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(usual);
    let (seconds, seed) = (number("FUZZ_SECONDS", 3_600), number("FUZZ_SEED", 1));
    let start = Instant::now();
    let run = run(seed, 25, answer, |_| start.elapsed() > Duration::from_secs(seconds));
    println!("{} inputs in {seconds} s from seed {seed}, {} different answers, {} inputs kept", run.inputs, run.answers, run.kept.len());
    if number("FUZZ_KEEP", 0) == 1 {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus");
        std::fs::create_dir_all(&folder).expect("the corpus");
        for (kind, bytes) in run.kept.iter().filter(|(_, bytes)| bytes.len() < 2_000) {
            std::fs::write(folder.join(format!("{}-{}", NAMES[*kind], &sha256_hex(bytes)[..12])), bytes).expect("room");
        }
    }
    assert!(run.faults.is_empty(), "{:#?}", run.faults);
}
