//! Causes made by hand for the frozen analyses: five stories whose numbers add up.

use taperwright::analysis::Analysis;
use taperwright::causes::*;
use taperwright::quantities::Interval;
use taperwright::trial::{Direction, Place};

/// A story of one setting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Story {
    /// A level tells: it is the bed.
    Bed,
    /// Headstock or bed: the log cannot tell; warming cannot be looked for.
    CannotTell,
    /// Between centres with the tailstock over, and worn ways not settled.
    Tailstock,
    /// Everything is small.
    Nothing,
    /// Open causes, none of them in a group.
    Open,
}

fn change(estimate: f64, u: f64) -> ContributionUm {
    ContributionUm { estimate, standard_uncertainty: u, interval95: Interval::about(estimate, 1.96 * u) }
}

/// Contribution, its standard uncertainty, peak, material probability, verdict, reason.
type Line = (CauseKind, Option<(f64, f64, f64, f64)>, Verdict, &'static str);

fn lines(story: Story) -> [Line; 7] {
    use CauseKind::*;
    use Verdict::*;
    let ruled_out = |cause, reason| (cause, None, NotApplicable, reason);
    let told = "it changes the diameter by more than 4.0 µm with a probability of more than 99 %";
    let small = "too small to matter: the probability of more than 4.0 µm is 1 %";
    let held = "the bar was held in the chuck alone; no centre supported it";
    let mixed = "not separable: these logs show it only together with other causes; levels along the bed would tell";
    let drift =
        ruled_out(ThermalDrift, "the log has neither the time of cutting nor the spindle speed, so nobody knows how long the cut took");
    match story {
        Story::Bed => [
            (HeadstockYaw, Some((-1.2, 2.1, 1.9, 0.12)), NotSettled, mixed),
            (BedTwist, Some((21.4, 2.6, 21.4, 1.0)), Present, told),
            (ToolWear, Some((-0.9, 0.6, 0.9, 0.004)), Absent, small),
            (Deflection, Some((2.1, 0.8, 2.1, 0.02)), Absent, small),
            (WayWear, Some((0.1, 0.3, 0.4, 0.0)), Absent, small),
            ruled_out(TailstockOffset, held),
            drift,
        ],
        Story::CannotTell => [
            (HeadstockYaw, Some((12.3, 9.4, 12.9, 0.81)), NotSettled, mixed),
            (BedTwist, Some((7.1, 9.5, 9.8, 0.66)), NotSettled, mixed),
            (ToolWear, Some((-0.4, 0.3, 0.4, 0.001)), Absent, small),
            (Deflection, Some((1.6, 0.7, 1.6, 0.01)), Absent, small),
            (WayWear, Some((0.2, 0.4, 0.5, 0.002)), Absent, small),
            ruled_out(TailstockOffset, held),
            drift,
        ],
        Story::Tailstock => [
            ruled_out(HeadstockYaw, "between centres the bar runs from centre to centre, whatever way the spindle points"),
            ruled_out(BedTwist, "between centres the tailstock stands on the same bed and swings with the tool"),
            (ToolWear, Some((-2.2, 1.5, 2.2, 0.11)), NotSettled, mixed),
            (Deflection, Some((0.3, 0.2, 6.9, 0.97)), Present, told),
            (WayWear, Some((0.4, 1.1, 3.1, 0.3)), NotSettled, mixed),
            (TailstockOffset, Some((-13.1, 1.9, 13.1, 1.0)), Present, told),
            drift,
        ],
        Story::Nothing => [
            (HeadstockYaw, Some((0.1, 0.9, 0.7, 0.002)), Absent, small),
            (BedTwist, Some((-0.1, 0.9, 0.7, 0.002)), Absent, small),
            (ToolWear, Some((-0.2, 0.2, 0.2, 0.0)), Absent, small),
            (Deflection, Some((0.3, 0.2, 0.3, 0.0)), Absent, small),
            (WayWear, Some((0.0, 0.1, 0.1, 0.0)), Absent, small),
            ruled_out(TailstockOffset, held),
            (ThermalDrift, Some((0.0, 0.1, 0.1, 0.0)), Absent, small),
        ],
        Story::Open => [
            (HeadstockYaw, Some((3.0, 2.1, 3.2, 0.4)), NotSettled, mixed),
            (BedTwist, Some((-0.4, 0.9, 0.8, 0.01)), Absent, small),
            (ToolWear, Some((-0.7, 0.4, 0.7, 0.0)), Absent, small),
            (Deflection, Some((0.3, 0.2, 0.3, 0.0)), Absent, small),
            ruled_out(WayWear, "with fewer than three stations there is only a straight line"),
            ruled_out(TailstockOffset, held),
            drift,
        ],
    }
}

/// Adds the causes of `story` to a setting of `analysis`, with group, balance, fits and evidence.
pub fn tell(analysis: &mut Analysis, setting: u32, story: Story) {
    let lines = lines(story);
    for (cause, found, verdict, reason) in lines {
        analysis.causes.push(CauseEstimate {
            setting,
            cause,
            unit: cause.unit(),
            estimate: found.map(|(estimate, ..)| 0.02 * estimate),
            standard_uncertainty: found.map(|(_, u, ..)| 0.02 * u),
            interval95: found.map(|(estimate, u, ..)| Interval::about(0.02 * estimate, 0.04 * u)),
            contribution_um: found.map(|(estimate, u, ..)| change(estimate, u)),
            peak_um: found.map(|(_, u, peak, _)| change(peak, u)),
            presence_probability: found.map(|(.., material)| 0.5 + 0.5 * material),
            material_probability: found.map(|(.., material)| material),
            material_threshold_um: found.map(|_| 4.0),
            variance_removed: found.map(|(_, u, ..)| 1.0 / (1.0 + u)),
            verdict,
            reason: reason.into(),
        });
    }
    let sum: f64 = lines.iter().filter_map(|(_, found, ..)| found.map(|found| found.0)).sum();
    if story == Story::CannotTell {
        let causes = vec![CauseKind::HeadstockYaw, CauseKind::BedTwist];
        analysis.confounded.push(Confounded { setting, causes, sum_um: change(19.4, 1.4) });
    }
    let mut directions: Vec<Direction> =
        analysis.trial.diameters.iter().filter(|reading| reading.setting == setting).map(|reading| reading.direction).collect();
    directions.sort_unstable();
    directions.dedup();
    for direction in directions {
        let off = if direction == Direction::ToHeadstock { 0.4 } else { -5.9 };
        analysis.balance.push(Balance {
            setting,
            direction,
            end_difference_um: sum + off,
            sum_um: sum,
            sum_interval95_um: taperwright::quantities::Interval { low: sum - 3.1, high: sum + 3.1 },
            unexplained_um: off,
            standard_uncertainty_um: 1.7,
        });
    }
    analysis.evidence = vec![
        LogEvidence {
            log: "diameters",
            readings: analysis.trial.diameters.len(),
            refused: Vec::new(),
            learned: vec![Learned { setting, cause: CauseKind::ToolWear, without_um: 9.4, with_um: 0.6 }],
        },
        LogEvidence {
            log: "indicator",
            readings: 0,
            refused: vec!["a bar just turned in this chucking reads constant along its length whatever is wrong with the lathe".into()],
            learned: Vec::new(),
        },
    ];
    analysis.predictions = fits(analysis);
}

fn fits(analysis: &Analysis) -> Vec<Prediction> {
    let readings = analysis
        .trial
        .diameters
        .iter()
        .enumerate()
        .map(|(place, reading)| {
            let residual = 0.001 * ((place * 7 % 11) as f64 - 5.0) / 4.0;
            PredictedReading {
                place: reading.place,
                setting: reading.setting,
                pass: Some(reading.pass),
                station_mm: reading.station_mm,
                reading: reading.diameter_mm,
                predicted: reading.diameter_mm - residual,
                residual,
            }
        })
        .collect();
    let levels = (0..6)
        .map(|place| PredictedReading {
            place: Place { file: 1, row: 2 + place },
            setting: 0,
            pass: None,
            station_mm: 100.0 * place as f64,
            reading: 0.03 * place as f64,
            predicted: 0.03 * place as f64 - 0.002,
            residual: 0.002,
        })
        .collect();
    let fit = |log, gauge: &str, unit, readings, noise| Prediction {
        log,
        gauge: gauge.into(),
        unit,
        total: Vec::len(&readings),
        readings,
        means: false,
        stretch_mm: None,
        rms_residual: 0.9 * noise,
        noise,
        data_sheet: 1.1 * noise,
        interpretation: "The joint model reproduces these readings: they scatter 0.91 times as much as the data sheet says.".into(),
    };
    vec![fit("diameters", "diameter", "mm", readings, 0.0011), fit("levels", "level", "mm/m", levels, 0.004)]
}
