//! Readings of stations, gauges by their data sheets, and intervals that carry the rest of the budget.

use super::bench_log::trial;
use super::fit_rules::{close, fit, passes, shape};
use taperwright::shape::{station_readings, taper_uncertainty};
use taperwright::statistics::distributions::t_quantile;
use taperwright::trial::Direction;

const H: Direction = Direction::ToHeadstock;
const T: Direction = Direction::ToTailstock;

/// Readings by pass and station, in cutting order, with number, mean and squares about it.
#[test]
fn readings_of_stations() {
    let log = trial(passes(&[(H, &[(0.0, 50.0), (0.0, 50.004), (100.0, 50.01)]), (T, &[(0.0, 49.8), (100.0, 49.83)])]), 1e-6);
    let rows = station_readings(&log, 0).unwrap();
    let told: Vec<(u32, Direction, f64, f64)> = rows.iter().map(|r| (r.pass, r.direction, r.station_mm, r.readings)).collect();
    assert_eq!(told, [(1, H, 100.0, 1.0), (1, H, 0.0, 2.0), (2, T, 0.0, 1.0), (2, T, 100.0, 1.0)]);
    for (row, (mean, square)) in rows.iter().zip([(50.01, 0.0), (50.002, 8e-6), (49.8, 0.0), (49.83, 0.0)]) {
        close(row.mean_mm, mean, 1e-12);
        close(row.squares_mm2, square, 1e-12);
    }
    assert!(station_readings(&trial(passes(&[(H, &[(5.0, 50.0)])]), 1e-6), 0).is_none());
}

/// A gauge counts by its data sheet: weights are inverse squares against the gauge that read most.
#[test]
fn gauges_count_by_their_data_sheets() {
    let mut readings = passes(&[(H, &[(0.0, 50.0), (0.0, 50.006), (100.0, 50.02), (100.0, 50.02)])]);
    readings[1].gauge = Some("other".into());
    let with = |u_mm: f64, own_mm: f64| {
        let mut log = trial(readings.clone(), 1e-6);
        log.gauge.diameter.u_mm = own_mm;
        log.gauge.diameter_named.insert("other".into(), taperwright::trial::DiameterGauge { u_mm, ..log.gauge.diameter.clone() });
        fit(&log)
    };
    // weight (2/4)² = ¼: the mean at the first station is 50 + 6/5 µm
    close(with(0.004, 0.002).taper.value, 0.02 - 0.006 / 5.0, 1e-12);
    close(with(0.001, 0.002).taper.value, 0.02 - 0.006 * 4.0 / 5.0, 1e-12);
    // a data sheet without a value leaves weights equal
    close(with(0.0, 0.002).taper.value, 0.02 - 0.003, 1e-12);
    close(with(0.004, 0.0).taper.value, 0.02 - 0.003, 1e-12);
    // the most used gauge gives the noise that stands in; of two used alike the one without a name
    let stands_in = |named: usize, resolution_mm: f64| {
        let mut readings = passes(&[(H, &[(0.0, 50.0), (30.0, 50.0), (60.0, 50.0), (100.0, 50.0)])]);
        readings.iter_mut().take(named).for_each(|r| r.gauge = Some("other".into()));
        let mut log = trial(readings, 0.001);
        log.gauge.diameter_named.insert("other".into(), taperwright::trial::DiameterGauge { u_mm: 0.005, ..log.gauge.diameter.clone() });
        if resolution_mm > 0.0 {
            (log.gauge.diameter.u_mm, log.gauge.diameter.resolution_mm) = (0.0, resolution_mm);
        }
        fit(&log).sigma_mm
    };
    close(stands_in(1, 0.0), 0.002, 2e-4);
    close(stands_in(2, 0.0), 0.002, 2e-4);
    close(stands_in(3, 0.0), 0.005, 5e-4);
    // without a value its rounding does, q/√12
    close(stands_in(0, 0.012), 0.012 / 12.0_f64.sqrt(), 4e-4);
}

/// The interval of a direction and of the barrel has the budget beside the fit, and t of a contrast's degrees of freedom.
#[test]
fn intervals_carry_the_rest_of_the_budget() {
    let rows = |shift: f64| -> Vec<(f64, f64)> {
        (0..6).map(|i| (40.0 * f64::from(i), 50.0 + shift * f64::from(i) + 0.0004 * f64::from((i * i * 3) % 7))).collect()
    };
    let all = [rows(0.001), rows(0.0013), rows(0.0021), rows(0.0018)];
    let mut log = trial(passes(&[(H, &all[0]), (H, &all[1]), (T, &all[2]), (T, &all[3])]), 0.01);
    log.gauge.diameter.u_mm = 0.0005;
    let (shape, fit) = (shape(&log), fit(&log));
    let other = shape.budget.iter().skip(2).map(|r| r.standard_uncertainty.powi(2)).sum::<f64>().sqrt();
    for (told, (direction, passes, contrast)) in shape.by_direction.iter().zip(&fit.by_direction) {
        assert_eq!((told.direction, told.passes, told.value), (*direction, *passes, contrast.value));
        close(told.standard_uncertainty, contrast.standard_error.hypot(other), 1e-12);
        // degrees of freedom by Welch and Satterthwaite, raised at most to where the interval is the fit's own
        let satterthwaite = contrast.dof.unwrap() * (told.standard_uncertainty / contrast.standard_error).powi(4);
        let factor = t_quantile(0.975, satterthwaite).unwrap().max(contrast.half_width95 / told.standard_uncertainty);
        close(told.interval95.half_width(), factor * told.standard_uncertainty, 1e-12);
        close(t_quantile(0.975, told.effective_dof.unwrap()).unwrap() / factor, 1.0, 1e-6);
    }
    let (barrel, contrast) = (shape.barrel.unwrap(), fit.barrel.unwrap());
    let resolution = shape.budget[2].standard_uncertainty;
    assert!(resolution > 0.0005);
    // both contrasts of the same readings round alike: in proportion to their within-pass errors
    let share = contrast.standard_error * contrast.within_share.sqrt() / (fit.taper.standard_error * fit.taper.within_share.sqrt());
    close(barrel.standard_uncertainty, contrast.standard_error.hypot(resolution * share), 1e-12);
    let bare = taper_uncertainty(&log, 0).unwrap();
    assert_eq!(
        (bare.value_mm, bare.standard_uncertainty_mm, bare.expanded_mm, bare.effective_dof),
        (shape.taper.value, shape.taper.standard_uncertainty, shape.expanded.value, shape.taper.effective_dof)
    );
}
