//! A temporary folder in which a test lays out a trial and reads it.

use std::path::Path;
use taperwright::findings::Finding;
use taperwright::ingest::{ReadOptions, Rejected, read_trial};
use taperwright::trial::Trial;

/// Writes `files` into a new folder and reads it as a trial.
pub fn read_folder(files: &[(&str, &str)]) -> Result<Trial, Rejected> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (name, text) in files {
        std::fs::write(folder.path().join(name), text).expect("a file");
    }
    read_trial(folder.path(), &ReadOptions::default())
}

/// Writes `bytes` as a lone log and reads it.
pub fn read_bytes(bytes: &[u8], options: &ReadOptions) -> Result<Trial, Rejected> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("spring.csv");
    std::fs::write(&path, bytes).expect("a file");
    read_trial(&path, options)
}

/// Reads a lone log that must be accepted.
pub fn good(text: &str) -> Trial {
    read_bytes(text.as_bytes(), &ReadOptions::default())
        .unwrap_or_else(|rejected| panic!("{text:?} was rejected: {:#?}", rejected.findings))
}

/// Station, diameter and pass of every reading.
pub fn readings(trial: &Trial) -> Vec<(f64, f64, u32)> {
    trial.diameters.iter().map(|reading| (reading.station_mm, reading.diameter_mm, reading.pass)).collect()
}

/// The finding of that code.
pub fn finding<'f>(findings: &'f [Finding], code: &str) -> &'f Finding {
    findings.iter().find(|finding| finding.code == code).unwrap_or_else(|| panic!("no {code} among {findings:#?}"))
}

/// The path of a file's folder, for tests that lay out several trials.
pub fn write(folder: &Path, name: &str, text: &str) {
    let path = folder.join(name);
    std::fs::create_dir_all(path.parent().expect("a folder")).expect("folders");
    std::fs::write(path, text).expect("a file");
}
