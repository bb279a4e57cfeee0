//! Every row of the taper's budget by hand, and how rows combine.

use super::bench_log::{Normals, Truth, drawn, reading, trial};
use taperwright::shape::{BudgetRow, NoiseSource, Shape, fit_setting, fit_shapes};
use taperwright::statistics::distributions::t_quantile;
use taperwright::trial::{Direction, Holding, Trial};

fn shape(log: &Trial) -> Shape {
    fit_shapes(log, 1, 0).shapes.remove(0)
}

fn row<'a>(shape: &'a Shape, name: &str) -> &'a BudgetRow {
    shape.budget.iter().find(|r| r.component == name).unwrap()
}

#[track_caller]
fn close(found: f64, expected: f64, relative: f64) {
    let near = |v: f64| (v - expected).abs() <= relative * expected.abs();
    assert!(near(found), "{found} for {expected}");
    assert!(!near(expected * (1.0 + 2.0 * relative)), "the comparison accepts anything");
}

/// Four stations from 20 to 220 mm on a 30 mm bar, 40 µm of taper exactly, beside a second pass 0.5 mm thinner.
fn log() -> Trial {
    let rows = (0..8_u32).map(|i| {
        let (pass, place) = (i / 4, f64::from(i % 4));
        let z = 20.0 + 200.0 * place / 3.0;
        reading(u64::from(i) + 2, pass + 1, Direction::ToHeadstock, z, 30.0 - 0.5 * f64::from(pass) + 0.04 * place / 3.0)
    });
    trial(rows.collect(), 1e-5)
}

#[test]
fn each_row_by_hand() {
    let mut log = log();
    let diameter = 29.77; // 30 and 29.5, and half of 40 µm
    let root3 = 3.0_f64.sqrt();
    let s = shape(&log);
    close(s.taper.value, 0.04, 1e-9);
    close(row(&s, "temperature-gradient").standard_uncertainty, 11.5e-6 * diameter * 2.0 / root3, 1e-9);
    close(row(&s, "hand-warmed-gauge").standard_uncertainty, 11.5e-6 * diameter * 1.0 / root3, 1e-9);
    close(row(&s, "station-scale").standard_uncertainty, 0.04 * 0.5 / 200.0 / root3, 1e-9);
    assert!(row(&s, "temperature-gradient").how.contains("±2 K unlike"));
    // (4 h y + 2 y²)/D at 0.02 and 0.22 m with y = 0.08 mm/m: h is 0 ± 0.3 mm, the mean square of y² is 3 σ⁴
    let vertical = |from: f64, to: f64, height: f64| {
        let linear = 4.0 * height * 0.08 * (to - from) / diameter;
        linear.hypot(2.0 * root3 * 0.0064 * (to * to - from * from) / diameter)
    };
    close(row(&s, "vertical-misalignment").standard_uncertainty, vertical(0.02, 0.22, 0.3), 1e-9);
    assert!(row(&s, "vertical-misalignment").how.contains("0.08 mm/m, tool 0 ± 0.3 mm"));
    log.cutting.tool_height_mm = Some(-0.7);
    close(row(&shape(&log), "vertical-misalignment").standard_uncertainty, vertical(0.02, 0.22, 0.7), 1e-9);
    for holding in [Holding::Centres, Holding::ChuckAndCentre] {
        log.bar.holding = holding;
        close(row(&shape(&log), "vertical-misalignment").standard_uncertainty, vertical(0.0, 0.2, 0.7), 1e-9);
    }
    // a taper of −40 µm is as wrong by the stations, and temperatures read at each station are wrong by half a kelvin at most
    log.diameters.change(|_, r| r.diameter_mm = 60.0 - r.diameter_mm);
    log.conditions.temperature_spread_c = -2.0;
    let turned = shape(&log);
    close(row(&turned, "station-scale").standard_uncertainty, 0.04 * 0.5 / 200.0 / root3, 1e-9);
    close(row(&turned, "temperature-gradient").standard_uncertainty, 11.5e-6 * 30.23 * 2.0 / root3, 1e-9);
    log.diameters.change(|_, r| r.temperature_c = Some(20.0));
    let logged = shape(&log);
    close(row(&logged, "temperature-gradient").standard_uncertainty, 11.5e-6 * 30.23 * 0.5 / root3, 1e-9);
    assert!(row(&logged, "temperature-gradient").how.contains("read ±0.5 K wrong"));
    log.conditions.temperature_spread_c = 0.2;
    close(row(&shape(&log), "temperature-gradient").standard_uncertainty, 11.5e-6 * 30.23 * 0.2 / root3, 1e-9);
    log.conditions.temperature_spread_c = 2.0;
    log.diameters.change(|place, r| r.temperature_c = (place != 3).then_some(20.0));
    close(row(&shape(&log), "temperature-gradient").standard_uncertainty, 11.5e-6 * 30.23 * 2.0 / root3, 1e-9);
}

/// Rounding that hides the scatter is one error a station and pass, however often it is read there.
#[test]
fn resolution_by_hand() {
    let with = |repeats: u32| {
        let rows = (0..12 * repeats).map(|i| reading(u64::from(i) + 2, 1, Direction::ToHeadstock, 10.0 * f64::from(i / repeats), 40.0));
        let mut log = trial(rows.collect(), 0.02);
        log.gauge.diameter.u_mm = 0.001;
        let (s, fit) = (shape(&log), fit_setting(&log, 0).unwrap());
        let excess = 0.02_f64.powi(2) / 12.0 - fit.sigma_mm.powi(2);
        // Σ(x − x̄)² over the twelve stations from −1 to 1 is 143·4/121
        close(row(&s, "resolution").standard_uncertainty, 2.0 * (excess / (143.0 * 4.0 / 121.0)).sqrt(), 5e-3);
        assert!(row(&s, "resolution").how.contains("rounding to 0.02 mm") && row(&s, "resolution").dof.is_none());
        (fit.sigma_mm, row(&s, "repeatability").standard_uncertainty)
    };
    let fine =
        trial((0..5).map(|i| reading(i + 2, 1, Direction::ToHeadstock, 10.0 * i as f64, 40.0 + 1e-4 * (i * i % 3) as f64)).collect(), 1e-6);
    assert_eq!(row(&shape(&fine), "resolution").how, "rounding is already part of the scatter");
    let (once, thrice) = (with(1), with(3));
    close(once.1 / thrice.1 * thrice.0 / once.0, 3.0_f64.sqrt(), 5e-3);
}

/// Degrees of freedom: those of the scatter are readings less the terms of each pass's own curve, and the data sheet's beside few of them; the spread has what
/// the fit leaves it, so that by Welch and Satterthwaite both rows give the fit's, which is one part of the budget.
#[test]
fn degrees_of_freedom() {
    let (mut log_alone, mut with_sheet, mut left) = (0, 0, 0);
    for (case, (passes, back, stations, repeats)) in [
        (1, 0, 2, 1),
        (1, 0, 5, 1),
        (1, 1, 5, 2),
        (2, 0, 2, 1),
        (4, 0, 5, 1),
        (6, 0, 2, 1),
        (6, 0, 10, 1),
        (3, 3, 6, 1),
        (8, 0, 4, 6),
        (7, 0, 8, 1),
        (8, 0, 8, 1),
    ]
    .into_iter()
    .enumerate()
    {
        let truth = Truth { taper: 0.02, barrel: -0.004, sigma: 0.002, between: if case > 8 { 0.0 } else { 0.002 } };
        let log = trial(drawn(&mut Normals::new(19, case as u64), truth, passes, back, stations, repeats, 200.0), 1e-5);
        let (s, fit) = (shape(&log), fit_setting(&log, 0).unwrap());
        // a level and a slope a pass, and a bend from three stations on; the sheet's factor of 1.5 is worth 1/(2 ln² 1.5) = 3.04
        let terms = if stations > 2 { 3.0 } else { 2.0 };
        let own = f64::from((passes + back) * stations * repeats) - f64::from(passes + back) * terms;
        let own = own.max(0.0);
        let sheet = 0.5 / 1.5_f64.ln().powi(2);
        match fit.noise {
            NoiseSource::Log => {
                log_alone += 1;
                close(s.budget[0].dof.unwrap(), own, 1e-12);
            }
            NoiseSource::LogAndDataSheet => {
                with_sheet += 1;
                close(s.budget[0].dof.unwrap(), own + sheet, 1e-9);
            }
            NoiseSource::DataSheet => assert_eq!(s.budget[0].dof, None),
        }
        let by_row = |rows: &[BudgetRow]| rows.iter().filter_map(|r| Some(r.standard_uncertainty.powi(4) / r.dof?)).sum::<f64>();
        match s.budget[1].dof {
            Some(_) => {
                left += 1;
                close(s.taper.standard_error.powi(4) / by_row(&s.budget[..2]), s.taper.dof.unwrap(), 1e-9);
            }
            None if s.budget[1].standard_uncertainty == 0.0 => close(s.budget[0].standard_uncertainty, s.taper.standard_error, 1e-12),
            // one degree of freedom would be too many, or the scatter accounts for all of it
            None => {
                let with_one = by_row(&s.budget[..2]) + s.budget[1].standard_uncertainty.powi(4);
                let fit = s.taper.standard_error.powi(4) / s.taper.dof.unwrap();
                assert!(with_one < fit || by_row(&s.budget[..2]) >= fit * (1.0 - 1e-9), "{with_one} {fit}");
            }
        }
        assert!(s.budget[2..].iter().all(|r| r.dof.is_none()));
        let others: f64 = s.budget[2..].iter().map(|r| r.standard_uncertainty.powi(2)).sum();
        let all = (s.taper.standard_error.powi(2) + others).powi(2) / (s.taper.standard_error.powi(4) / s.taper.dof.unwrap());
        let factor = t_quantile(0.975, all).unwrap().max(s.taper.fit_interval95.half_width() / s.taper.standard_uncertainty);
        close(s.expanded.coverage_factor, factor, 1e-9);
        close(t_quantile(0.975, s.taper.effective_dof.unwrap()).unwrap(), factor, 1e-6);
        assert_eq!(s.expanded.coverage_probability, 0.95);
        let variance: f64 = s.budget.iter().map(|r| r.standard_uncertainty.powi(2)).sum();
        s.budget.iter().filter(|r| r.share > 0.0).for_each(|r| close(r.share, r.standard_uncertainty.powi(2) / variance, 1e-9));
    }
    assert!(log_alone >= 3 && with_sheet >= 3 && left >= 4, "{log_alone} {with_sheet} {left}");
}

#[test]
fn the_budget_says_where_its_rows_come_from() {
    let truth = Truth { taper: 0.02, barrel: 0.0, sigma: 0.002, between: 0.002 };
    let how = |passes: u32, stations: u32, step_mm: f64| {
        let log = trial(drawn(&mut Normals::new(29, 0), truth, passes, 0, stations, 1, 200.0), step_mm);
        let s = shape(&log);
        [0, 1].map(|place| s.budget[place].how.clone())
    };
    let [scatter, spread] = how(6, 10, 1e-5);
    assert!(scatter.contains("own pass's curve") && spread.contains("restricted maximum likelihood"));
    let [scatter, spread] = how(2, 4, 1e-5);
    assert!(scatter.contains("data sheet together") && spread.contains("these few passes"));
    let [scatter, spread] = how(1, 10, 1.0);
    assert!(scatter.contains("rounding hides") && spread.contains("prior alone"));
}
