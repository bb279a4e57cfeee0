//! Changed inputs to every reader: never a panic, never a hang, and what is accepted can be analysed.
//!
//! Inputs begin as the sample trials, the sheets and what earlier runs kept in `tests/corpus`; each is changed by bytes, words, lines and pieces of other inputs.
//! An input that is answered in a way that none before it was (its kind and the codes of its findings) is changed further. The corpus is replayed first,
//! then comes a fixed number of changes. The long run, guided by the branches that inputs take, is `tests/fuzz`; it chose the corpus.

mod readers;

use rand::seq::IndexedRandom;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;
use readers::{LONGEST, NAMES, WORDS, answer};
use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use taperwright::ingest::sha256_hex;

/// No input of that length may take longer to read, optimised or not.
const SLOWEST: Duration = Duration::from_secs(20);
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
    let known = |name: &str| NAMES.iter().position(|known| *known == name);
    NAMES.iter().position(|known| name == *known || name.starts_with(&format!("{known}-"))).or_else(|| match ending(name)?.as_str() {
        "csv" => known("diameters.csv"),
        "toml" => known("trial.toml"),
        "xlsx" => known("diameters.xlsx"),
        "ods" => known("diameters.ods"),
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

/// What a run did.
struct Run {
    inputs: u64,
    answers: usize,
    faults: Vec<String>,
}

/// Changes and reads until `enough` says so.
fn run(seed: u64, every: u64, reader: impl Fn(usize, &[u8], bool) -> String, mut enough: impl FnMut(u64) -> bool) -> Run {
    let mut rng = ChaCha20Rng::seed_from_u64(seed);
    let mut pool = corpus();
    let first = pool.len();
    let mut seen: BTreeSet<String> = BTreeSet::new();
    let mut run = Run { inputs: 0, answers: 0, faults: Vec::new() };
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
    let kept: BTreeSet<&str> = run.faults.iter().map(|fault| &fault["a panic: ".len()..]).collect();
    kept.into_iter().for_each(|path| std::fs::remove_file(path).expect("the input that was kept"));
}
