//! Analyses made by hand: the same whatever the estimation does, so that pages and result files can be compared.
//!
//! Their numbers belong together (residual = diameter − fitted, shares add up to 1) but come from a straight line drawn
//! through each pass, not from the program's own fit.

use super::frozen_causes::{Story, tell};
use crate::made;
use taperwright::analysis::{Analysis, Options, analyse};
use taperwright::causes::{CauseKind, NextTest, NextTestKind};
use taperwright::conformity::{Joint, judge};
use taperwright::findings::{Finding, Severity};
use taperwright::quantities::{Interval, included_angle_arcsec, taper_per_foot_in, taper_per_length_mm};
use taperwright::shape::*;
use taperwright::trial::*;

/// What a frozen analysis is made from.
#[derive(Debug, Clone)]
pub struct Recipe {
    pub name: String,
    pub stations_mm: Vec<f64>,
    pub directions: Vec<Direction>,
    pub repeats: usize,
    pub taper_mm: f64,
    pub barrel_mm: f64,
    pub u_mm: f64,
    pub scatter_mm: f64,
    pub stray: Option<usize>,
}

impl Default for Recipe {
    /// Both directions, twelve stations, a taper that shows.
    fn default() -> Self {
        Self {
            name: "quay-lathe-spring".into(),
            stations_mm: (0..12).map(|place| 10.0 + 200.0 * f64::from(place) / 11.0).collect(),
            directions: vec![Direction::ToHeadstock, Direction::ToTailstock],
            repeats: 2,
            taper_mm: 0.0212,
            barrel_mm: -0.0007,
            u_mm: 0.0019,
            scatter_mm: 0.0011,
            stray: None,
        }
    }
}

/// Two collars, one reading each.
pub fn two_collars() -> Analysis {
    told(
        0,
        Story::CannotTell,
        Recipe {
            name: "two-collars".into(),
            stations_mm: vec![15.0, 200.0],
            directions: vec![Direction::ToHeadstock],
            repeats: 1,
            taper_mm: 0.031,
            u_mm: 0.0072,
            scatter_mm: 0.0,
            ..Recipe::default()
        },
    )
}

/// All readings equal.
pub fn all_equal() -> Analysis {
    let recipe = Recipe { name: "all-equal".into(), taper_mm: 0.0, barrel_mm: 0.0, scatter_mm: 0.0, u_mm: 0.0021, ..Recipe::default() };
    told(0, Story::Nothing, Recipe { directions: vec![Direction::ToHeadstock], repeats: 1, ..recipe })
}

/// Forty stations by six passes between centres, with a stray reading.
pub fn long_bar() -> Analysis {
    let mut long = told(
        0,
        Story::Tailstock,
        Recipe {
            name: "long-bar".into(),
            stations_mm: (0..40).map(|place| 20.0 + 24.0 * f64::from(place)).collect(),
            directions: vec![Direction::ToHeadstock; 6],
            repeats: 1,
            taper_mm: -0.0143,
            barrel_mm: 0.0068,
            u_mm: 0.0015,
            scatter_mm: 0.0024,
            stray: Some(57),
        },
    );
    long.trial.bar.holding = Holding::Centres;
    long
}

/// The usual one.
pub fn both_ways() -> Analysis {
    let mut analysis = told(0, Story::Bed, Recipe::default());
    let limit = |quantity, limit_mm: f64, over_mm, sense| Limit {
        criterion: Some("iso-1708-general".into()),
        quantity,
        limit_mm,
        over_mm,
        sense,
        floor_mm: 0.005,
        clause: Some("P1".into()),
        source: Some("ISO 1708:1989, from memory".into()),
        provenance: Some(Provenance::FromMemory),
        swing_from_mm: None,
        swing_to_mm: Some(800.0),
    };
    analysis.trial.acceptance.criteria = Some("iso-1708-general".into());
    analysis.trial.acceptance.title = Some("Lathes of general accuracy".into());
    analysis.trial.acceptance.limit = vec![
        limit(Quantity::Taper, 0.04, Some(300.0), Sense::LargerAtHeadstock),
        limit(Quantity::Barrel, 0.01, None, Sense::Either),
        limit(Quantity::DiameterConsistency, 0.04, Some(300.0), Sense::Either),
        limit(Quantity::LevelVariation, 0.04, None, Sense::Either),
        Limit { criterion: None, provenance: None, clause: None, ..limit(Quantity::Taper, 0.02, None, Sense::Either) },
    ];
    analysis.conformity = judge(&analysis.trial, &analysis.shape, Joint::default(), &[], 1);
    analysis
}

/// An analysis from `recipe` in which the causes of setting `setting` tell `story`.
fn told(setting: u32, story: Story, recipe: Recipe) -> Analysis {
    let mut analysis = analysis(&recipe);
    tell(&mut analysis, setting, story);
    analysis
}

/// Whole-number noise with a period that no station pattern shares; −1 to 1.
fn ripple(place: usize) -> f64 {
    let spread = (place * 7_919 + 104_729) % 2_001;
    spread as f64 / 1_000.0 - 1.0
}

/// An analysis from `recipe`.
pub fn analysis(recipe: &Recipe) -> Analysis {
    let diameters = readings(recipe);
    let shape = shape(recipe, &diameters);
    Analysis {
        tested_length: Some(shape.tested_length),
        trial: trial(recipe, diameters),
        seed: 1,
        monte_carlo_draws: 100_000,
        shape: vec![shape],
        causes: Vec::new(),
        confounded: Vec::new(),
        balance: Vec::new(),
        vertical_misalignment: Vec::new(),
        predictions: vec![],
        evidence: vec![],
        posterior: None,
        contradictions: Vec::new(),
        correction: None,
        conformity: Vec::new(),
        next_tests: vec![NextTest {
            test: NextTestKind::Levels,
            settles: vec![CauseKind::BedTwist, CauseKind::HeadstockYaw],
            uncertainty_before_um: 14.2,
            uncertainty_after_um: 5.1,
            uncertainty_after_range_um: Some(Interval { low: 4.6, high: 5.9 }),
            minutes: 20.0,
            why: "A level sees twist directly, which diameters cannot part from a headstock out of line.".into(),
        }],
        findings: vec![
            Finding::new("no-direction", Severity::Note, "no direction of cut is logged", "add a column direction")
                .in_file("diameters.csv")
                .at_row(1),
        ],
        warnings: Vec::new(),
    }
}

fn readings(recipe: &Recipe) -> Vec<DiameterReading> {
    let (from, to) = ends(recipe);
    let mut readings = Vec::new();
    for (pass, direction) in recipe.directions.iter().enumerate() {
        for station in &recipe.stations_mm {
            for repeat in 0..recipe.repeats {
                let place = readings.len();
                let scaled = if to > from { 2.0 * (station - from) / (to - from) - 1.0 } else { 0.0 };
                let shape = 0.5 * recipe.taper_mm * scaled - recipe.barrel_mm * scaled * scaled;
                let stray = if recipe.stray == Some(place) { 9.0 * recipe.scatter_mm } else { 0.0 };
                let diameter = 38.0 - 0.1 * pass as f64 + shape + recipe.scatter_mm * ripple(place) + stray;
                let read_mm = (diameter * 1000.0).round() / 1000.0;
                readings.push(DiameterReading {
                    pass: pass as u32 + 1,
                    direction: *direction,
                    repeat: (recipe.repeats > 1).then_some(repeat as u32 + 1),
                    depth_mm: 0.05,
                    feed_mm_per_rev: 0.1,
                    ..DiameterReading::bare(Place { file: 1, row: place as u64 + 2 }, *station, read_mm)
                });
            }
        }
    }
    readings
}

fn ends(recipe: &Recipe) -> (f64, f64) {
    let low = recipe.stations_mm.iter().copied().fold(f64::INFINITY, f64::min);
    let high = recipe.stations_mm.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (low, high)
}

fn shape(recipe: &Recipe, diameters: &[DiameterReading]) -> Shape {
    let (from, to) = ends(recipe);
    let length = to - from;
    let two = recipe.stations_mm.len() == 2;
    let curve_at = |station: f64| {
        let scaled = 2.0 * (station - from) / length - 1.0;
        0.5 * recipe.taper_mm * scaled - recipe.barrel_mm * scaled * scaled
    };
    let level = |pass: u32| 38.0 - 0.1 * f64::from(pass - 1);
    let count = diameters.len();
    let mut points: Vec<FittedReading> = diameters
        .iter()
        .enumerate()
        .map(|(place, reading)| {
            let fitted = level(reading.pass) + curve_at(reading.station_mm);
            let residual = reading.diameter_mm - fitted;
            FittedReading {
                place: reading.place,
                pass: reading.pass,
                direction: reading.direction,
                station_mm: reading.station_mm,
                cutting_order: place + 1,
                diameter_mm: reading.diameter_mm,
                fitted_mm: fitted,
                residual_mm: residual,
                studentised: (recipe.scatter_mm > 0.0).then(|| residual / recipe.scatter_mm),
                leverage: (4.0 / count as f64).min(1.0),
                cook: (recipe.scatter_mm > 0.0).then(|| (residual / recipe.scatter_mm).powi(2) / count as f64),
                rank: 0,
                outlier: recipe.stray == Some(place),
            }
        })
        .collect();
    let mut order: Vec<usize> = (0..points.len()).collect();
    order.sort_by(|a, b| points[*a].residual_mm.total_cmp(&points[*b].residual_mm));
    order.into_iter().enumerate().for_each(|(rank, place)| points[place].rank = rank + 1);
    let (u, k) = (recipe.u_mm, 2.11);
    let fit_u = 0.6 * u;
    let parts = [
        ("repeatability within a pass", 0.5 * u, Some(43.0), "standard deviation of residuals, carried to the taper by the fit"),
        ("spread from pass to pass", (0.36f64 - 0.25).sqrt() * u, Some(3.2), "half-t prior with the passes of this log"),
        ("temperature gradient along the bar", 0.7 * u, None, "rectangular, half-width 2 K, on 38 mm of mild steel"),
        ("station position", (1.0f64 - 0.36 - 0.49).sqrt() * u, None, "scale error of the stations, 0.5 mm"),
        ("gauge calibration", 0.0, None, "common to all readings: cancels in a difference"),
    ];
    let seen = 1 + usize::from(!two);
    Shape {
        setting: 0,
        tested_length: TestedLength { from, to, length },
        readings: count,
        passes: recipe.directions.len(),
        passes_in_shape: recipe.directions.len(),
        taper: Taper {
            value: recipe.taper_mm,
            standard_error: fit_u,
            dof: Some(9.3),
            fit_interval95: Interval::about(recipe.taper_mm, 2.25 * fit_u),
            plain_t_interval95: (count > 2).then(|| Interval::about(recipe.taper_mm, 1.02 * u)),
            standard_uncertainty: u,
            effective_dof: Some(17.4),
            interval95: Interval::about(recipe.taper_mm, k * u),
            per_300: taper_per_length_mm(recipe.taper_mm, length, 300.0),
            per_foot_in: taper_per_foot_in(recipe.taper_mm, length),
            angle_arcsec: included_angle_arcsec(recipe.taper_mm, length),
            robust: Robust { method: "huber 1.345".into(), value: recipe.taper_mm * 0.99 },
        },
        by_direction: by_direction(recipe),
        barrel: (!two).then(|| Barrel {
            value: recipe.barrel_mm,
            standard_error: 0.3 * u,
            dof: Some(9.3),
            standard_uncertainty: 0.35 * u,
            effective_dof: Some(12.0),
            interval95: Interval::about(recipe.barrel_mm, 0.75 * u),
        }),
        repeatability: if recipe.scatter_mm > 0.0 { 0.6 * recipe.scatter_mm } else { 0.000_289 },
        between_pass: (recipe.directions.len() > 1).then_some(0.4 * u),
        order: seen,
        lack_of_fit: (recipe.repeats > 1).then_some(LackOfFit { f: 0.83, dof1: 20.0, dof2: 24.0, p: 0.66 }),
        tests: tests(two),
        outliers: recipe
            .stray
            .map(|place| Outlier { file: "diameters.csv".into(), row: place as u64 + 2, residual: 0.0216, p: 0.000_012 })
            .into_iter()
            .collect(),
        outliers_untested: (count < if two { 2 } else { 3 } + recipe.directions.len() + 2)
            .then_some("it takes three readings more than the curve and the passes have terms; more stations or repeats would allow it"),
        budget: parts
            .into_iter()
            .map(|(component, part, dof, how)| BudgetRow {
                component: component.into(),
                standard_uncertainty: part,
                dof,
                share: (part / u).powi(2),
                how: how.into(),
            })
            .collect(),
        expanded: Expanded { value: k * u, coverage_factor: k, coverage_probability: 0.95 },
        monte_carlo: Some(MonteCarlo {
            standard_uncertainty: Some(1.02 * u),
            interval95: Interval::about(recipe.taper_mm, 2.05 * u),
            draws: 100_000,
            seed: 1,
        }),
        spread: Spread {
            source: if recipe.directions.len() >= 5 {
                SpreadSource::Estimated
            } else if recipe.directions.len() > 1 {
                SpreadSource::PriorAndPasses
            } else {
                SpreadSource::Prior
            },
            prior_scale_mm: (recipe.directions.len() < 5).then_some(u),
            between_standard_error_mm: (0.36f64 - 0.25).sqrt() * u,
            within_standard_error_mm: 0.5 * u,
        },
        slope_by_pass: false,
        orders: (1..=if two { 1 } else { 3 })
            .map(|order| OrderCandidate {
                order,
                f: Some([31.2, 1.4, 0.6][order - 1]),
                dof2: Some((count.saturating_sub(order + 2)) as f64),
                p: Some([0.000_02, 0.24, 0.44][order - 1]),
                added: (order > 1).then(|| AddedTerms {
                    beyond: 1,
                    f: [1.4, 1.0][order - 2],
                    dof1: (order - 1) as f64,
                    dof2: (count.saturating_sub(order + 2)) as f64,
                    p: [0.24, 0.38][order - 2],
                }),
                aicc: (count > 6).then(|| [-412.31, -411.02, -408.77][order - 1]),
                chosen: order == seen.min(if two { 1 } else { 2 }),
            })
            .collect(),
        pass_summaries: recipe
            .directions
            .iter()
            .enumerate()
            .map(|(pass, direction)| PassSummary {
                pass: pass as u32 + 1,
                direction: *direction,
                depth_mm: 0.05,
                feed_mm_per_rev: 0.1,
                readings: recipe.stations_mm.len() * recipe.repeats,
                in_shape: true,
                level_mm: level(pass as u32 + 1),
                taper_mm: Some(recipe.taper_mm + 0.2 * u * ripple(pass)),
                taper_standard_error_mm: (count > 2).then_some(0.5 * u),
            })
            .collect(),
        points,
        curve: (0..=50)
            .map(|place| {
                let station = from + length * f64::from(place) / 50.0;
                let deviation = curve_at(station);
                let wide = 0.4 * u * (1.0 + (f64::from(place) / 25.0 - 1.0).powi(2));
                CurvePoint { station_mm: station, deviation_mm: deviation, band: Interval::about(deviation, wide) }
            })
            .collect(),
        cannot_tell: vec![
            "Diameters alone cannot part a headstock out of line from a twisted bed: read a level along the bed, or run an indicator along a ground test bar."
                .into(),
        ],
    }
}

fn by_direction(recipe: &Recipe) -> Vec<DirectionTaper> {
    let mut seen = Vec::new();
    for direction in [Direction::ToHeadstock, Direction::ToTailstock] {
        let passes = recipe.directions.iter().filter(|each| **each == direction).count();
        if passes > 0 {
            let value = recipe.taper_mm + if direction == Direction::ToHeadstock { 0.0011 } else { -0.0011 };
            seen.push(DirectionTaper {
                direction,
                passes,
                value,
                standard_uncertainty: 1.2 * recipe.u_mm,
                effective_dof: Some(6.0),
                interval95: Interval::about(value, 2.5 * recipe.u_mm),
                calibration: 0.0,
            });
        }
    }
    seen
}

fn tests(two: bool) -> Vec<ShapeTest> {
    let made = |name: &'static str, statistic: f64, p: Option<f64>, interpretation: &str| ShapeTest {
        name,
        statistic: Some(statistic),
        p,
        interpretation: interpretation.into(),
    };
    if two {
        let names = [
            "lack-of-fit",
            "order",
            "direction",
            "durbin-watson",
            "runs",
            "normality",
            "equal-spread-passes",
            "equal-spread-stations",
            "influence",
            "period",
        ];
        return names
            .into_iter()
            .map(|name| ShapeTest {
                name,
                statistic: None,
                p: None,
                interpretation: "Two stations leave nothing over for this check.".into(),
            })
            .collect();
    }
    vec![
        made(
            "lack-of-fit",
            0.83,
            Some(0.66),
            "The curve misses the stations' means by no more than repeated readings differ: it follows the bar as far as this log can see.",
        ),
        made("order", 1.4, Some(0.24), "The bowed part is no larger than scatter would make it."),
        made("direction", 0.91, Some(0.38), "Passes cut either way give the same taper within their scatter."),
        made("durbin-watson", 1.92, Some(0.41), "Neighbours in cutting order are no more alike than chance makes them: no drift is seen."),
        made("runs", -0.3, Some(0.76), "Signs change about as often as chance would have it."),
        made("normality", 0.97, Some(0.03), "The tails are heavier than a bell: intervals may be a little too narrow."),
        made("equal-spread-passes", 1.1, Some(0.3), "All passes scatter alike as far as can be seen."),
        made("equal-spread-stations", 0.8, Some(0.64), "All stations scatter alike as far as can be seen."),
        made(
            "influence",
            0.21,
            None,
            "The reading that pulls most is line 9; without it the taper would move by a tenth of its uncertainty.",
        ),
        made("period", 4.2, Some(0.51), "No wave stands out from the scatter."),
    ]
}

fn trial(recipe: &Recipe, diameters: Vec<DiameterReading>) -> Trial {
    let rows = diameters.len() as u64;
    let mut trial = made::trial(Holding::Chuck);
    trial.identity = Identity {
        name: recipe.name.clone(),
        date: Some("2026-03-14".into()),
        purpose: Some("spring check".into()),
        measured_by: Some("the Saltmarsh Quay workshop".into()),
        ..Identity::default()
    };
    trial.machine.swing_mm = Some(230.0);
    trial.machine.feet = None;
    trial.bar.youngs_modulus_gpa = 210.0;
    trial.bar.length_mm = 220.0f64.max(recipe.stations_mm.iter().copied().fold(0.0, f64::max) + 20.0);
    trial.cutting.rpm = None;
    trial.gauge.diameter.name = Some("outside micrometer 25–50".into());
    trial.gauge.level.division_mm_per_m = None;
    trial.diameters = diameters.into();
    trial.assumed = vec![
        Assumption { key: "machine.roll_arm_mm".into(), value: 143.75.into(), why: "centre height × 1.25".into() },
        Assumption { key: "conditions.temperature_spread_c".into(), value: 2.0.into(), why: "not stated".into() },
    ];
    trial.inputs = vec![
        InputFile {
            file: "trial.toml".into(),
            sha256: "0123456789abcdef".repeat(4),
            bytes: 412,
            rows: 0,
            used: 0,
            flagged: 0,
            excluded: 0,
            packed: None,
        },
        InputFile {
            file: "diameters.csv".into(),
            sha256: "fedcba9876543210".repeat(4),
            bytes: 1_874,
            rows,
            used: rows,
            flagged: u64::from(recipe.stray.is_some()),
            excluded: 0,
            packed: None,
        },
    ];
    trial
}

/// Two settings of the feet, one pass each, with warnings.
pub fn two_settings() -> Analysis {
    let mut two = analysis(&Recipe { name: "two-settings".into(), directions: vec![Direction::ToHeadstock], ..Recipe::default() });
    let after = analysis(&Recipe { directions: vec![Direction::ToHeadstock], taper_mm: 0.0021, ..Recipe::default() });
    let mut second = after.shape;
    for shape in &mut second {
        shape.setting = 1;
        shape.taper.robust.value += 2.0 * shape.taper.standard_uncertainty;
    }
    two.shape.extend(second);
    two.trial.diameters.extend(after.trial.diameters.into_iter().map(|reading| DiameterReading { setting: 1, ..reading }));
    tell(&mut two, 0, Story::CannotTell);
    tell(&mut two, 1, Story::Open);
    two.warnings = vec![
        "One pass a setting: how much the taper changes from pass to pass is prior, not measured.".into(),
        "Setting 1: the robust fit differs from least squares by more than one standard uncertainty.".into(),
    ];
    two
}

/// What the program itself makes of the readings of `recipe`: for properties that hold whatever the numbers are.
pub fn live(recipe: &Recipe) -> Analysis {
    analyse(trial(recipe, readings(recipe)), Options { seed: 1, monte_carlo_draws: 2_000 })
}

/// Live analyses of unlike trials.
pub fn all_live() -> Vec<Analysis> {
    let one = Recipe { name: "live-one-pass".into(), directions: vec![Direction::ToHeadstock], repeats: 1, ..Recipe::default() };
    let two = Recipe { name: "live-two-collars".into(), stations_mm: vec![15.0, 200.0], scatter_mm: 0.0, ..one.clone() };
    let equal = Recipe { name: "live-all-equal".into(), taper_mm: 0.0, barrel_mm: 0.0, scatter_mm: 0.0, ..one.clone() };
    let many = Recipe {
        name: "live-six-passes".into(),
        stations_mm: (0..9).map(|place| 20.0 + 100.0 * f64::from(place)).collect(),
        directions: vec![Direction::ToHeadstock; 6],
        taper_mm: -0.0143,
        barrel_mm: 0.0068,
        stray: Some(37),
        ..one.clone()
    };
    let both = Recipe { name: "live-both-ways".into(), ..Recipe::default() };
    // The joint estimate takes a while without optimisation: once for all tests.
    static LIVE: std::sync::OnceLock<Vec<Analysis>> = std::sync::OnceLock::new();
    LIVE.get_or_init(|| [one, two, equal, many, both].iter().map(live).collect()).clone()
}
