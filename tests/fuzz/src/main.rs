//! Changes the inputs of one reader and keeps what takes a branch that no input before it took: libFuzzer with the readers of `tests/all/fuzz/readers.rs`.
//!
//! `READER=levels.csv target/fuzz/release/changed -dict=… folders…`; `WORDS=file` writes the dictionary and ends. `tests/fuzz/run.sh` does both for every reader.
#![no_main]

#[path = "../../all/fuzz/readers.rs"]
mod readers;

use libfuzzer_sys::fuzz_target;
use std::sync::OnceLock;

/// The place in `NAMES` of the reader that this run is for.
static KIND: OnceLock<usize> = OnceLock::new();

/// Of inputs that are accepted one in so many is analysed, chosen by its bytes: analysing takes a hundred times as long as reading.
const ANALYSED: u64 = 8;

/// Takes the reader from the environment, or writes the dictionary that was asked for.
fn begin() {
    if let Some(path) = std::env::var_os("WORDS") {
        let escaped = |word: &String| word.bytes().map(|byte| format!("\\x{byte:02X}")).collect::<String>();
        let lines: String = readers::words().iter().map(|word| format!("\"{}\"\n", escaped(word))).collect();
        std::process::exit(i32::from(std::fs::write(path, lines).is_err()));
    }
    let asked = std::env::var("READER").unwrap_or_default();
    match readers::NAMES.iter().position(|name| *name == asked) {
        Some(kind) => {
            let _ = KIND.set(kind);
        }
        None => {
            eprintln!("READER is one of {}", readers::NAMES.join(", "));
            std::process::exit(2);
        }
    }
}

/// A number that the bytes alone decide (FNV-1a).
fn hash(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xCBF2_9CE4_8422_2325, |sum, byte| (sum ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01B3))
}

fuzz_target!(init: begin(), |bytes: &[u8]| {
    if let Some(kind) = KIND.get().filter(|_| bytes.len() <= readers::LONGEST) {
        readers::answer(*kind, bytes, (hash(bytes) >> 32) % ANALYSED == 0);
    }
});
