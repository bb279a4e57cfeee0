//! From a 36-row log to the bytes of its page and result file, and the parts of that way; the joint estimate also of a typical trial. Run by `cargo bench --bench small_log`.
#![allow(clippy::expect_used, reason = "a benchmark may stop")]

use std::path::Path;
use taperwright::analysis::{Analysis, Options, analyse};
use taperwright::causes::{CausesOutcome, estimate_causes};
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::report::{PageOptions, page_html, result_json};
use taperwright::trial::Trial;

fn main() {
    divan::main();
}

fn log() -> Trial {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bench/small-log.csv");
    read_trial(&path, &ReadOptions::default()).expect("the log is good")
}

/// 200 readings in two settings with a move between, levels before and after; made by `taperwright simulate`.
fn typical() -> Trial {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bench/typical");
    read_trial(&path, &ReadOptions::default()).expect("the trial is good")
}

fn analysis() -> Analysis {
    analyse(log(), Options::default())
}

fn rendered(analysis: &Analysis) -> String {
    page_html(analysis, &PageOptions::default()).expect("the page can be made")
}

#[divan::bench]
fn read() -> Trial {
    log()
}

#[divan::bench]
fn analysed(bencher: divan::Bencher<'_, '_>) {
    bencher.with_inputs(log).bench_values(|trial| analyse(trial, Options::default()));
}

#[divan::bench]
fn page(bencher: divan::Bencher<'_, '_>) {
    let analysis = analysis();
    bencher.bench_local(|| rendered(&analysis));
}

#[divan::bench]
fn result_file(bencher: divan::Bencher<'_, '_>) {
    let analysis = analysis();
    bencher.bench_local(|| result_json(&analysis));
}

#[divan::bench]
fn whole() -> (String, String) {
    let analysis = analysis();
    (rendered(&analysis), result_json(&analysis))
}

#[divan::bench]
fn causes_alone(bencher: divan::Bencher<'_, '_>) {
    let trial = log();
    bencher.bench_local(|| -> CausesOutcome { estimate_causes(&trial, 1) });
}

#[divan::bench]
fn causes_alone_of_a_typical_trial(bencher: divan::Bencher<'_, '_>) {
    let trial = typical();
    bencher.bench_local(|| -> CausesOutcome { estimate_causes(&trial, 1) });
}
