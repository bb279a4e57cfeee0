//! Passes of four readings by hand: which are alike, and what is told of them together.

use super::{Alike, Key, OnePass};
use crate::causes::block::{Column, Known, Rows, Scale, Spread};
use crate::causes::design::LoggedRows;
use crate::causes::extent::MOST_PLACES;
use crate::causes::unknowns::{Meaning, Unknown};
use crate::causes::values::CauseKind;
use crate::trial::Place;

const VARIANCE: [f64; 4] = [1.0, 2.0, 1.0, 0.25];
const TERMS: [[f64; 4]; 2] = [[-0.09, -0.03, 0.03, 0.1], [0.5, -0.4, -0.3, 0.7]];

/// A pass with these readings, mm.
fn pass(number: u32, readings: [f64; 4]) -> OnePass {
    let column = |cause, factor: f64, values: [f64; 4]| Column {
        cause,
        scale: Scale::One,
        targets: vec![(0, factor)],
        known: Known::None,
        values: values.to_vec(),
    };
    let [slope, bend] = TERMS.map(|term| term.to_vec());
    OnePass {
        setting: 3,
        pass: number,
        rows: Rows {
            readings: readings.to_vec(),
            noise: vec![0; 4],
            variance: VARIANCE.to_vec(),
            random: vec![(Spread::Known(0.6), slope), (Spread::Barrel { factor: 0.9, noise: 0 }, bend)],
            columns: vec![column(Some(CauseKind::ToolWear), -0.5, [0.0, 0.2, 0.4, 0.7]), column(None, 0.25, [0.1, 0.1, 0.3, 0.2])],
            repeats: vec![(0, 2.0, 0.3)],
            bent: Some((0, 4, vec![0, 1, 2, 3])),
        },
        places: vec![Place { file: 0, row: 2 }; 4],
        stations: vec![10.0, 60.0, 110.0, 200.0],
    }
}

const Y: [[f64; 4]; 3] = [[0.0, 1.0, -0.5, 0.3], [0.7, 0.2, 0.1, -0.4], [-0.2, 0.5, 0.9, 1.1]];

fn unknowns() -> Vec<Unknown> {
    vec![Unknown { meaning: Meaning::LevelZero, sd: 3.0, flag: None }]
}

fn key() -> Key {
    (3, Vec::new())
}

/// How many passes each of what comes out stands for.
fn together(passes: impl IntoIterator<Item = OnePass>, most: usize) -> (Vec<f64>, Vec<f64>) {
    let (unknowns, noise) = (unknowns(), [0.002, 0.005]);
    let mut alike = Alike::new(&unknowns, &noise, most);
    let closed: Vec<LoggedRows> = passes.into_iter().flat_map(|pass| alike.take(key(), pass)).collect();
    let number = |rows: &[LoggedRows]| rows.iter().map(|rows| rows.passes).collect();
    (number(&closed), number(&alike.rest()))
}

#[test]
fn as_many_are_taken_together_as_may_be() {
    let same = || (1..=5).map(|number| pass(number, Y[0]));
    assert_eq!(together(same(), 1), (vec![1.0; 5], vec![]));
    assert_eq!(together(same(), 2), (vec![2.0, 2.0], vec![1.0]));
    assert_eq!(together(same(), 3), (vec![3.0], vec![2.0]));
    assert_eq!(together(same(), 5), (vec![], vec![5.0]));
}

/// Beyond the most places nothing is kept, but of passes one by one.
#[test]
fn beyond_the_bound_nothing_is_kept() {
    let (unknowns, noise) = (unknowns(), [0.002, 0.005]);
    for (places, most, taken, rest) in [(MOST_PLACES, 2, 0, 1), (MOST_PLACES + 1, 2, 0, 0), (MOST_PLACES + 1, 1, 1, 0)] {
        let mut alike = Alike::new(&unknowns, &noise, most);
        alike.places = places;
        assert_eq!((alike.take(key(), pass(1, Y[0])).len(), alike.rest().len()), (taken, rest), "{places} {most}");
    }
}

/// Each of what the model says of a pass makes it another one; a column may differ by less than 0.0005 of the noise: with a prior of 3 and a factor of a half, and 2/13 of the change in the mean, by 7.88·10⁻⁷.
#[test]
fn what_the_model_says_of_a_pass_decides() {
    let changed = |change: &dyn Fn(&mut OnePass)| {
        let mut other = pass(2, Y[1]);
        change(&mut other);
        together([pass(1, Y[0]), other], 7)
    };
    let (alike, apart) = ((vec![], vec![2.0]), (vec![1.0], vec![1.0]));
    assert_eq!(changed(&|_| {}), alike);
    assert_eq!(changed(&|p| p.rows.columns[0].values[0] += 7.5e-7), alike);
    assert_eq!(changed(&|p| p.rows.columns[0].values[0] += 8.2e-7), apart);
    assert_eq!(changed(&|p| p.rows.columns[0].values.iter_mut().for_each(|value| *value += 0.5)), alike, "a level of a pass's own");
    let changes: [&dyn Fn(&mut OnePass); 10] = [
        &|p| p.rows.noise = vec![1; 4],
        &|p| p.rows.variance[1] = 2.5,
        &|p| p.rows.random[1].1[2] = 0.0,
        &|p| p.rows.columns.truncate(1),
        &|p| p.stations[3] = 201.0,
        &|p| p.rows.bent = Some((0, 5, vec![0, 1, 2, 3])),
        &|p| p.rows.bent = Some((0, 4, vec![0, 1, 2, 2])),
        &|p| p.rows.bent = None,
        &|p| p.rows.columns[0].cause = None,
        &|p| p.rows.columns[0].targets = vec![(0, 0.5)],
    ];
    for (number, change) in changes.iter().enumerate() {
        assert_eq!(changed(change), apart, "change {number}");
    }
    // of two gauges, with a reading that was not logged, or of three random terms: by itself at once
    let alone: [&dyn Fn(&mut OnePass); 3] = [&|p| p.rows.noise[3] = 1, &|p| p.places[2].file = usize::MAX, &|p| {
        p.rows.random.push((Spread::Known(1.0), vec![1.0, 0.0, 0.0, 1.0]))
    }];
    for (number, change) in alone.iter().enumerate() {
        assert_eq!(changed(change), (vec![1.0], vec![1.0]), "{number}");
        let mut one = pass(1, Y[0]);
        change(&mut one);
        assert_eq!(together([one], 7), (vec![1.0], vec![]), "{number}");
    }
}

/// Mean and contrasts of two and of three passes, whose columns differ a little, from their readings written out.
#[test]
fn mean_and_contrasts_of_few_passes() {
    mean_and_contrasts(&Y[..2]);
    mean_and_contrasts(&Y);
}

fn mean_and_contrasts(y: &[[f64; 4]]) {
    let passes = y.len() as f64;
    let (unknowns, noise) = (unknowns(), [0.002, 0.005]);
    let mut alike = Alike::new(&unknowns, &noise, 7);
    for (number, readings) in (1..).zip(y) {
        let mut own = pass(number, *readings);
        own.rows.columns[0].values[2] += 3e-7 * f64::from(number - 1);
        assert!(alike.take(key(), own).is_empty());
    }
    let told = alike.rest().remove(0);
    assert_eq!((told.passes, told.pass, told.setting), (passes, Some(1), 3));
    let weighed = |a: &[f64], b: &[f64]| (0..4).map(|i| a[i] * b[i] / VARIANCE[i]).sum::<f64>();
    let centred = |v: [f64; 4]| {
        let mean = weighed(&v, &[1.0; 4]) / 6.5;
        v.map(|x| x - mean)
    };
    let is = |found: f64, expected: f64| (found - expected).abs() < 1e-12 * expected.abs().max(1.0);
    let near = |found: f64, expected: f64| assert!(is(found, expected), "{found} for {expected}");
    let mean: [f64; 4] = std::array::from_fn(|i| y.iter().map(|y| y[i]).sum::<f64>() / passes);
    told.rows.readings.iter().zip(mean).for_each(|(found, mean)| near(*found, mean));
    near(told.rows.columns[0].values[2], 0.4 + 3e-7 * 0.5 * (passes - 1.0));
    near(told.rows.columns[0].values[3], 0.7);
    told.rows.variance.iter().zip(VARIANCE).for_each(|(found, one)| near(*found, one / passes));
    let root = passes.sqrt();
    assert_eq!(
        [told.rows.random[0].0, told.rows.random[1].0],
        [Spread::Known(0.6 / root), Spread::Barrel { factor: 0.9 / root, noise: 0 }]
    );
    assert_eq!(told.rows.repeats, [(0, passes * 6.5 - 4.0, 0.0)]);
    let contrasts = told.block.contrasts().unwrap();
    assert_eq!((contrasts.passes, contrasts.noise), (passes - 1.0, 0));
    // three degrees of freedom for each contrast, and two of repeated readings for each pass
    near(contrasts.dof, (passes - 1.0) * 3.0 + passes * 2.0);
    let terms = TERMS.map(centred);
    let rest: Vec<[f64; 4]> = y.iter().map(|y| centred(std::array::from_fn(|i| y[i] - mean[i]))).collect();
    for a in 0..2 {
        for b in 0..2 {
            near(contrasts.gram[a][b], weighed(&terms[a], &terms[b]));
            near(contrasts.products[a][b], rest.iter().map(|d| weighed(d, &terms[a]) * weighed(d, &terms[b])).sum());
        }
    }
    near(contrasts.square, rest.iter().map(|d| weighed(d, d)).sum::<f64>() + passes * 0.3);
    let first = told.rows.columns[0].values[2];
    assert!(
        !is(first, 0.4) && !is(contrasts.square, contrasts.square * (1.0 + 1e-9)),
        "the first pass's column, and other squares, are told apart"
    );
}
