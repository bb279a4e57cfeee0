//! The spread of slopes integrated over its prior, against brute force with full matrices (`tests/reference/spread.py`).

use super::fixture::text;
use super::tolerances::{Tolerance, assert_near};
use taperwright::statistics::mixed::{Coefficients, Group, NoisePrior, Row, SpreadPosterior, SpreadPrior, Terms, integrate_spread};

/// Stations, values and weights of a group, and which fixed coefficients its columns follow.
type Data = (Vec<f64>, Vec<f64>, Vec<f64>, Vec<usize>);

struct Case {
    name: &'static str,
    groups: Vec<Data>,
    columns: usize,
    fixed: usize,
    unit: [f64; 2],
    prior: SpreadPrior,
    noise: Option<NoisePrior>,
    contrast: Vec<f64>,
}

fn data(x: &[f64], y: &[f64], follows: &[usize]) -> Data {
    (x.to_vec(), y.to_vec(), vec![1.0; x.len()], follows.to_vec())
}

/// The cases of the reference script.
fn cases() -> Vec<Case> {
    let usual = SpreadPrior { dof: 3.0, multiple: 2.0 };
    let sheet = |u: f64| Some(NoisePrior { median: u, log_deviation: 1.5_f64.ln() });
    let mut three = vec![
        data(&[-1.0, -0.2, 0.4, 1.0], &[0.001, 0.004, 0.006, 0.012], &[0]),
        data(&[-1.0, 0.1, 1.0], &[-0.002, 0.003, 0.011], &[0]),
        data(&[-0.8, 0.0, 0.9], &[0.003, 0.002, 0.013], &[0]),
    ];
    three[0].2[2] = 2.0;
    three[2].2[1] = 3.0;
    let quiet = (0..7_i32).map(|k| {
        let first = 0.01 * f64::from(k) * f64::from((-1_i32).pow(k as u32)) / 7.0 + 0.004;
        data(&[-1.0, -0.3, 0.3, 1.0], &[first, 0.003, 0.009, 0.013 + 0.001 * f64::from(k % 3)], &[0])
    });
    let case = |name, groups, columns, fixed, unit, contrast: &[f64]| Case {
        name,
        groups,
        columns,
        fixed,
        unit,
        prior: usual,
        noise: None,
        contrast: contrast.to_vec(),
    };
    let bends = vec![
        data(&[-1.0, -0.5, 0.1, 0.6, 1.0], &[0.1, 0.15, 0.32, 0.5, 0.51], &[0, 1]),
        data(&[-0.9, -0.4, 0.0, 0.5, 0.9, 1.0], &[0.4, 0.3, 0.55, 0.5, 0.8, 0.7], &[0, 1]),
    ];
    let ways = vec![
        data(&[-1.0, 0.0, 0.5, 1.0], &[1.0, 1.4, 1.9, 2.2], &[0]),
        data(&[-1.0, -0.5, 0.0, 1.0], &[3.0, 3.1, 3.6, 4.0], &[1]),
        data(&[-1.0, 0.0, 1.0], &[0.0, 0.9, 1.1], &[0]),
    ];
    vec![
        Case { noise: sheet(0.002), ..case("three-passes", three, 1, 1, [0.5, 0.0], &[2.0]) },
        case("two-bends", bends, 2, 2, [0.6, 0.9], &[2.0, -1.5]),
        Case { noise: sheet(0.7), ..case("one-pass", vec![data(&[-1.0, 1.0], &[0.0, 2.0], &[0])], 1, 1, [0.5_f64.sqrt(), 0.0], &[2.0]) },
        Case { prior: SpreadPrior { dof: 1.0, multiple: 0.7 }, ..case("each-way", ways, 1, 2, [0.45, 0.0], &[0.5, 0.5]) },
        Case {
            noise: Some(NoisePrior { median: 0.01, log_deviation: 0.02 }),
            ..case("many-and-quiet", quiet.collect(), 1, 1, [0.4, 0.0], &[1.0])
        },
    ]
}

impl Case {
    fn groups(&self) -> Vec<Group> {
        let group = |(x, y, w, follows): &Data| {
            let mut terms = Terms::zeros();
            follows.iter().enumerate().for_each(|(column, coefficient)| terms[(column, *coefficient)] = 1.0);
            let bend = |x: f64| if self.columns > 1 { 1.5 * x * x - 0.5 } else { 0.0 };
            let rows: Vec<Row> = x.iter().zip(y).zip(w).map(|((x, y), w)| ([*x, bend(*x)], *y, *w)).collect();
            Group::centred(&rows, terms)
        };
        self.groups.iter().map(group).collect()
    }

    fn posterior(&self) -> SpreadPosterior {
        integrate_spread(&self.groups(), self.fixed, self.columns, self.unit, self.prior, self.noise).unwrap()
    }

    fn contrast(&self) -> Coefficients {
        let mut contrast = Coefficients::zeros();
        contrast.iter_mut().zip(&self.contrast).for_each(|(slot, value)| *slot = *value);
        contrast
    }
}

#[test]
fn intervals_agree_with_brute_force() {
    let expected = text("reference/spread.csv");
    for case in cases() {
        let line = expected.lines().find(|line| line.starts_with(case.name)).unwrap();
        let wanted: Vec<f64> = line.split(',').skip(1).map(|cell| cell.parse().unwrap()).collect();
        let posterior = case.posterior();
        let found = posterior.interval(&case.contrast());
        let median = posterior.sigma_median;
        let numbers = [found.value, found.standard_error, found.dof.unwrap(), found.half_width95, found.within / median, median];
        // Where no data sheet holds the noise its density is skew, and its sum a little less close.
        let tolerances = match case.noise {
            Some(_) => [1e-8, 2e-5, 1e-3, 3e-4, 1e-8],
            None => [3e-5, 2e-4, 5e-3, 5e-4, 3e-5],
        };
        for ((number, wanted), tolerance) in numbers.iter().zip(&wanted).zip(tolerances) {
            let tolerance = Tolerance::Relative(tolerance);
            assert_near(case.name, *number, *wanted, tolerance);
        }
        // a Cauchy prior has no mean square
        if case.prior.dof > 2.0 {
            let variance = case.contrast().dot(&(posterior.mean_unscaled_covariance() * case.contrast()));
            assert_near(case.name, variance, wanted[6], Tolerance::Relative(0.03));
        }
        // The reference gives its own median of the spread as a place of its grid; two terms have a coarser grid here.
        assert_near(case.name, posterior.relative_spread_median(0), wanted[7], Tolerance::Relative(0.03));
        assert_near(case.name, median, wanted[5], Tolerance::Relative(0.003));
    }
}

/// Without spread and with a known noise the posterior is normal; of nothing it says nothing; and without noise there is none.
#[test]
fn at_the_ends_of_the_prior() {
    let mut case = cases().remove(0);
    case.prior.multiple = 1e-9;
    case.noise = Some(NoisePrior { median: 0.01, log_deviation: 1e-9 });
    let found = case.posterior().interval(&case.contrast());
    let groups = case.groups();
    let weight: f64 = groups.iter().map(|group| group.gram[(0, 0)]).sum();
    let error = 2.0 * 0.01 / weight.sqrt();
    assert_eq!(found.dof, None);
    for (number, wanted) in [(found.standard_error, error), (found.half_width95, 1.959_963_984_540_054 * error), (found.within, error)] {
        assert_near("normal", number, wanted, Tolerance::Relative(1e-6));
    }
    assert!(!Tolerance::Relative(1e-6).accepts(error * 1.000_01, error));
    let nothing = case.posterior().interval(&Coefficients::zeros());
    assert_eq!((nothing.value, nothing.standard_error, nothing.dof, nothing.half_width95, nothing.within), (0.0, 0.0, None, 0.0, 0.0));
    // two readings of one pass leave no scatter to learn the noise from
    let one = cases().remove(2);
    assert!(integrate_spread(&one.groups(), 1, 1, one.unit, one.prior, None).is_none());
    let exact = Group::centred(&[([-1.0, 0.0], 1.0, 1.0), ([0.0, 0.0], 2.0, 1.0), ([1.0, 0.0], 3.0, 1.0)], one.groups()[0].terms);
    assert!(integrate_spread(&[exact], 1, 1, one.unit, one.prior, None).is_none(), "readings on a line");
}
