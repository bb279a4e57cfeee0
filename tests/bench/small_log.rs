//! From a 36-row log to the bytes of its page and result file, and the parts of that way. Run by `cargo bench --bench small_log`.
#![allow(clippy::expect_used, reason = "a benchmark may stop")]

use std::path::Path;
use taperwright::analysis::{Analysis, Options, analyse};
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
