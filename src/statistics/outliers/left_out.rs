//! A fit with some of its readings left out.

use crate::statistics::repeated::{RunFit, RunRows};
use nalgebra::{DMatrix, DVector};

/// Sum of the leverages of the readings left out, and share of the residual sum of squares that goes with them, up to which the fit without them is
/// told from the fit with them: at most one digit in base two is lost.
const MOST: f64 = 0.5;

/// A fit, and what it becomes without some of its readings.
///
/// With `e` and `H` the residuals and the hat matrix of the fit, both times the roots of the weights, and `R` the readings left out
/// (Cook & Weisberg 1982, 2.2 and A.2; Belsley, Kuh & Welsch 1980, 2.1):
/// residuals become `e + H·ᵣ(I − Hᵣᵣ)⁻¹eᵣ`, leverages `h + h·ᵣ(I − Hᵣᵣ)⁻¹hᵣ·`, and the residual sum of squares `RSS − eᵣ'(I − Hᵣᵣ)⁻¹eᵣ`.
#[derive(Debug, Clone)]
pub(super) struct LeftOut {
    fit: RunFit,
    out: Vec<Out>,
    /// `(I − Hᵣᵣ)⁻¹`.
    inverse: DMatrix<f64>,
    /// `(I − Hᵣᵣ)⁻¹eᵣ`.
    pull: DVector<f64>,
    /// Sum of the leverages of those left out.
    leverage: f64,
    /// What goes with them of the residual sum of squares.
    square: f64,
}

/// A reading left out.
#[derive(Debug, Clone)]
struct Out {
    block: usize,
    /// Its basis vectors and its residual, times the root of its weight.
    vectors: Vec<f64>,
    residual: f64,
}

impl LeftOut {
    /// The fit as it is.
    pub fn of(fit: RunFit) -> Self {
        Self { fit, out: Vec::new(), inverse: DMatrix::zeros(0, 0), pull: DVector::zeros(0), leverage: 0.0, square: 0.0 }
    }

    /// The fit with all its readings.
    pub fn whole(&self) -> &RunFit {
        &self.fit
    }

    /// Number of readings left out.
    pub fn len(&self) -> usize {
        self.out.len()
    }

    /// Readings left in.
    pub fn readings(&self) -> f64 {
        self.fit.readings as f64 - self.out.len() as f64
    }

    /// Residual degrees of freedom: leverages below 1 leave the rank as it is.
    pub fn dof(&self) -> f64 {
        self.fit.dof() - self.out.len() as f64
    }

    /// Residual sum of squares of the readings left in.
    pub fn residual_square(&self) -> f64 {
        self.fit.residual_square - self.square
    }

    /// Leaves out the reading `value` of a run too. Whether the fit without it can be told; nothing else may be asked where it cannot.
    #[must_use]
    pub fn leave_out(&mut self, rows: &impl RunRows, block: usize, run: usize, value: f64) -> bool {
        let root = rows.weight(run).sqrt();
        let mut room = self.fit.basis.scratch();
        let residual = root * (value - self.fit.fitted(rows, block, run, &mut room));
        let mut vectors = vec![0.0; self.fit.basis.width()];
        self.fit.basis.at(rows, block, run, &mut room, &mut vectors);
        vectors.iter_mut().for_each(|vector| *vector *= root);
        self.out.push(Out { block, vectors, residual });
        self.solve()
    }

    /// The same with the first `number` of those left out only; `None` where it cannot be told.
    pub fn first(&self, number: usize) -> Option<Self> {
        let mut first = self.clone();
        first.out.truncate(number);
        first.solve().then_some(first)
    }

    fn solve(&mut self) -> bool {
        let size = self.out.len();
        let hat = DMatrix::from_fn(size, size, |a, b| match (self.out.get(a), self.out.get(b)) {
            (Some(a), Some(b)) => product(a.block, &a.vectors, b),
            _ => 0.0,
        });
        self.leverage = hat.trace();
        let Some(factor) = (DMatrix::identity(size, size) - hat).cholesky().filter(|_| self.leverage <= MOST) else { return false };
        let residuals = DVector::from_iterator(size, self.out.iter().map(|out| out.residual));
        self.pull = factor.solve(&residuals);
        self.square = residuals.dot(&self.pull);
        self.inverse = factor.inverse();
        self.square <= MOST * self.fit.residual_square
    }

    /// Fitted value and leverage of a reading of a run without those left out. `room` is scratch space of the fit's basis.
    pub fn at(&self, rows: &impl RunRows, block: usize, run: usize, room: &mut [f64]) -> (f64, f64) {
        let fitted = self.fit.fitted(rows, block, run, room);
        let (row, vectors) = room.split_at_mut(rows.columns());
        let vectors = vectors.get_mut(..self.fit.basis.width()).unwrap_or_default();
        self.fit.basis.at(rows, block, run, row, vectors);
        let shared = DVector::from_iterator(self.out.len(), self.out.iter().map(|out| product(block, vectors, out)));
        let own: f64 = vectors.iter().map(|vector| vector * vector).sum();
        (fitted - shared.dot(&self.pull), (rows.weight(run) * (own + shared.dot(&(&self.inverse * &shared)))).clamp(0.0, 1.0))
    }

    /// What no standardised residual can exceed that was at most `size` with a leverage of at most `leverage` before readings were left out.
    ///
    /// By Cauchy and Schwarz a leverage grows by at most `g = h·T/(1 − T)`, `T` the sum of the leverages left out, and a residual by at most
    /// `√(g·Δ)`, `Δ` what left the residual sum of squares; a millionth is added for rounding.
    pub fn at_most(&self, size: f64, leverage: f64) -> f64 {
        let growth = leverage * self.leverage / (1.0 - self.leverage);
        let room = 1.0 - leverage - growth;
        if room > 0.0 { (1.0 + 1e-6) * (size + (growth * self.square).sqrt()) / room.sqrt() } else { f64::INFINITY }
    }
}

/// Product of a row's basis vectors with those of a reading left out: level and slope are the block's own.
fn product(block: usize, vectors: &[f64], out: &Out) -> f64 {
    let own = if block == out.block { 0 } else { 2 };
    vectors.iter().zip(&out.vectors).skip(own).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::{Dense, RunSums, least_squares};

    const ROWS: usize = 60;

    fn design(blocks: &[usize]) -> DMatrix<f64> {
        DMatrix::from_fn(ROWS, 4, |row, column| {
            let x = -1.0 + 2.0 * (row % 20) as f64 / 19.0;
            if column == 3 { x * x } else { f64::from(u8::from(blocks[row] == column)) }
        })
    }

    /// Fitted values, leverages, degrees of freedom and squares without some readings are those of a fit to the others, and no other reading strays by more
    /// than is said; with one reading less or more it would be another fit.
    #[test]
    fn readings_left_out_are_as_if_they_had_not_been_there() {
        let blocks: Vec<usize> = (0..ROWS).map(|row| row / 20).collect();
        let design = design(&blocks);
        let dense = Dense::new(&design, &[20, 40]);
        let values: Vec<f64> =
            (0..ROWS).map(|row| (row as f64 * 1.7).sin() + 0.1 * row as f64 + if row % 23 == 4 { 1.5 } else { 0.0 }).collect();
        let whole = LeftOut::of(RunFit::of(&dense, &RunSums::of_rows(&dense, &values)));
        let mut room = whole.whole().basis.scratch();
        let standardised = |fit: &LeftOut, row: usize, room: &mut [f64]| {
            let (fitted, leverage) = fit.at(&dense, blocks[row], row, room);
            (values[row] - fitted).abs() / (1.0 - leverage).sqrt()
        };
        let gone = [4, 27, 50, 39];
        let mut without = whole.clone();
        for number in 0..=gone.len() {
            if let Some(last) = number.checked_sub(1) {
                assert!(without.leave_out(&dense, blocks[gone[last]], gone[last], values[gone[last]]));
            }
            let stay: Vec<usize> = (0..ROWS).filter(|row| !gone[..number].contains(row)).collect();
            let others = least_squares(&design.select_rows(&stay), &stay.iter().map(|row| values[*row]).collect::<Vec<_>>()).unwrap();
            let near = |a: f64, b: f64| (a - b).abs() < 1e-11;
            assert!(near(without.residual_square(), others.residual_sum_of_squares()), "{number}");
            assert_eq!((without.readings(), without.dof()), (stay.len() as f64, others.dof() as f64));
            assert_eq!(without.len(), number);
            // the bound, from the sum of the leverages and what left the squares
            let lever: f64 = gone[..number].iter().map(|row| whole.at(&dense, blocks[*row], *row, &mut room).1).sum();
            let growth = 0.1 * lever / (1.0 - lever);
            let drift = (growth * (whole.residual_square() - others.residual_sum_of_squares())).max(0.0).sqrt();
            assert!(near(without.at_most(2.0, 0.1), 1.000_001 * (2.0 + drift) / (0.9 - growth).sqrt()), "{number}");
            assert_eq!(without.at_most(2.0, 0.99).is_infinite(), lever > 0.01, "no room is left");
            let (most, leverage) = stay.iter().fold((0.0_f64, 0.0_f64), |(size, most), row| {
                let own = whole.at(&dense, blocks[*row], *row, &mut room).1;
                (size.max(standardised(&whole, *row, &mut room)), most.max(own))
            });
            for (place, row) in stay.iter().enumerate() {
                let (fitted, leverage) = without.at(&dense, blocks[*row], *row, &mut room);
                assert!(
                    near(values[*row] - fitted, others.residuals()[place]) && near(leverage, others.leverage()[place]),
                    "{number}, {row}"
                );
            }
            let now = stay.iter().fold(0.0_f64, |most, row| most.max(standardised(&without, *row, &mut room)));
            assert!(now <= without.at_most(most, leverage), "{number}: {now}");
            assert!(near(now, most) == (number == 0), "what is left out moves the others");
            // of readings that are gone too: their distance from the curve through the others
            for row in &gone[..number] {
                let fitted: f64 = (0..4).map(|column| design[(*row, column)] * others.coefficient(column).unwrap()).sum();
                assert!(near(without.at(&dense, blocks[*row], *row, &mut room).0, fitted));
            }
            let first = without.first(number.min(2)).unwrap();
            assert_eq!(near(first.residual_square(), without.residual_square()), number <= 2);
        }
    }

    /// A reading that holds more than half of the squares, or readings that hold the curve, are not told.
    #[test]
    fn what_would_lose_digits_is_not_told() {
        let blocks: Vec<usize> = (0..ROWS).map(|row| row / 20).collect();
        let design = design(&blocks);
        let dense = Dense::new(&design, &[20, 40]);
        for (wild, told) in [(3.0, true), (6.0, false)] {
            let values: Vec<f64> =
                (0..ROWS).map(|row| if row % 2 == 0 { 0.5 } else { -0.5 } + if row == 30 { wild } else { 0.0 }).collect();
            let mut fit = LeftOut::of(RunFit::of(&dense, &RunSums::of_rows(&dense, &values)));
            let share = {
                let mut others = fit.clone();
                let _ = others.leave_out(&dense, 1, 30, values[30]);
                1.0 - others.residual_square() / fit.residual_square()
            };
            assert_eq!(share < MOST, told, "{share}");
            assert_eq!(fit.leave_out(&dense, 1, 30, values[30]), told);
        }
        let values: Vec<f64> = (0..ROWS).map(|row| (row as f64).sin()).collect();
        let mut fit = LeftOut::of(RunFit::of(&dense, &RunSums::of_rows(&dense, &values)));
        let ends = [0, 19, 20, 39, 40, 59];
        let told: Vec<bool> = ends.iter().map(|row| fit.leave_out(&dense, blocks[*row], *row, values[*row])).collect();
        let mut room = fit.whole().basis.scratch();
        let mut sum = 0.0;
        for (row, told) in ends.iter().zip(told) {
            sum += fit.whole().leverage(&dense, blocks[*row], *row, &mut room);
            assert_eq!(told, sum <= MOST, "{sum}");
        }
        assert!(sum > MOST);
    }
}
