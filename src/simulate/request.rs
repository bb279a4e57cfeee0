//! From a `[simulate]` table to files.

use super::{Chance, Nature, laid_out, log_files, read_off, true_diameters, truth_file};
use crate::findings::{Finding, Severity};
use crate::trial::{SimulationRequest, Trial};

/// Diameters at most in one simulated trial.
const MOST_READINGS: f64 = 1e7;

/// The stream of chance that nature draws from.
const NATURE: u64 = 0;

/// A file that a simulation made: its name inside the trial's folder, and its text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SimulatedFile {
    /// File name, such as `diameters.csv`.
    pub name: String,
    /// Whole text, LF line ends.
    pub text: String,
}

/// What a simulation made.
#[derive(Debug, Clone, PartialEq)]
pub struct SimulatedLogs {
    /// The logs that were asked for, then `truth.json`.
    pub files: Vec<SimulatedFile>,
    /// The same readings as a trial.
    pub trial: Trial,
    /// What is true.
    pub nature: Nature,
}

/// Logs of every kind that the trial's `[simulate]` table asks for, with the truth beside them.
///
/// The same trial and seed give the same bytes. Only `diameters`, `levels`, `indicator`, `clamp` and `moves` are known logs.
///
/// # Errors
/// Findings where the table is missing or asks for what cannot be: an unknown log, no settings, passes or repeats, stations outside the
/// bar, fewer than two stations, more than ten million readings, a negative noise factor, moves without feet or to a setting that is not
/// made, drift without a spindle speed.
pub fn simulate(trial: &Trial, seed: u64) -> Result<SimulatedLogs, Vec<Finding>> {
    let Some(request) = &trial.simulate else {
        return Err(vec![fault("simulate", "there is no [simulate] table", "add [simulate] and [simulate.truth] to trial.toml")]);
    };
    let faults = faults(trial, request);
    if !faults.is_empty() {
        return Err(faults);
    }
    let empty = laid_out(trial, request);
    let nature = Nature::stated(&empty, &request.truth, request.noise_factor, &mut Chance::new(seed, NATURE));
    let truths = true_diameters(&empty, &nature, seed);
    let filled = read_off(&empty, &nature, seed);
    let with_moves = request.logs.iter().any(|log| log == "moves");
    let mut files = log_files(&filled, with_moves);
    if !request.logs.iter().any(|log| log == "diameters") {
        files.retain(|file| file.name != "diameters.csv");
    }
    files.push(SimulatedFile { name: truth_file::NAME.to_owned(), text: truth_file::text(&filled, &nature, &truths, seed) });
    Ok(SimulatedLogs { files, trial: filled, nature })
}

/// A length in mm and, because settings may state it so, in inches, without the tail of a conversion: `106.68 mm (4.2 in)`.
fn both_units(length_mm: f64) -> String {
    let rounded = |value: f64| (1e4 * value).round() / 1e4;
    format!("{} mm ({} in)", rounded(length_mm), rounded(length_mm / crate::quantities::MM_PER_INCH))
}

fn faults(trial: &Trial, request: &SimulationRequest) -> Vec<Finding> {
    let mut faults = Vec::new();
    for log in &request.logs {
        if !["diameters", "levels", "indicator", "clamp", "moves"].contains(&log.as_str()) {
            faults.push(fault("simulate.logs", format!("unknown log \"{log}\""), "use diameters, levels, indicator, clamp or moves"));
        }
    }
    for (key, number) in
        [("simulate.settings", request.settings), ("simulate.passes", request.passes), ("simulate.repeats", request.repeats)]
    {
        if number == 0 {
            faults.push(fault(key, "0", "use a whole number from 1"));
        }
    }
    if !(request.noise_factor >= 0.0 && request.noise_factor.is_finite()) {
        faults.push(fault("simulate.noise_factor", request.noise_factor.to_string(), "use 0 for no noise, 1 for that of the data sheets"));
    }
    if request.stations_mm.len() == 1 {
        faults.push(fault("simulate.stations_mm", "one station", "give two or more"));
    }
    for station in &request.stations_mm {
        if !(*station >= 0.0 && *station <= trial.bar.length_mm) {
            let help = format!("stations lie from 0 to the bar's length, {}", both_units(trial.bar.length_mm));
            faults.push(fault("simulate.stations_mm", both_units(*station), help));
        }
    }
    if let Some(last) = request.moves.iter().map(|wanted| wanted.to_setting).max().filter(|last| *last >= request.settings) {
        faults.push(fault(
            "simulate.moves",
            format!("a move to setting {last}, but only {} settings", request.settings),
            format!("settings = {}", u64::from(last) + 1),
        ));
    }
    if readings(request) > MOST_READINGS {
        faults.push(fault("simulate", format!("{:.0} readings", readings(request)), "ask for fewer settings, passes, repeats or stations"));
    }
    if !request.moves.is_empty() && trial.machine.feet.is_none() {
        faults.push(fault(
            "simulate.moves",
            "moves of feet that nobody described",
            "add [machine.feet] with spacing_along_mm and spacing_across_mm",
        ));
    }
    if request.truth.thermal_drift_um_per_min.is_some_and(|drift| drift != 0.0) && trial.cutting.rpm.is_none() {
        faults.push(fault("simulate.truth.thermal_drift_um_per_min", "drift in a cut of unknown speed", "add rpm to [cutting]"));
    }
    faults
}

/// Diameters that a request asks for; without stations at least two.
fn readings(request: &SimulationRequest) -> f64 {
    [request.settings, request.passes, request.repeats].map(f64::from).iter().product::<f64>()
        * request.directions.len().max(1) as f64
        * request.stations_mm.len().max(2) as f64
}

fn fault(key: &str, found: impl Into<String>, help: impl Into<String>) -> Finding {
    Finding::new("cannot-simulate", Severity::Error, found.into(), help).in_file("trial.toml").in_column(key)
}

#[cfg(test)]
mod tests {
    use super::both_units;

    #[test]
    fn lengths_have_no_tail_of_their_conversion() {
        assert_eq!(both_units(4.2 * 25.4), "106.68 mm (4.2 in)");
        assert_eq!(both_units(180.0), "180 mm (7.0866 in)");
    }
}
