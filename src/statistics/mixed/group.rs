use super::{Row, Terms};
use nalgebra::{Matrix2, Vector2};

/// Readings with equal columns and weights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeated {
    /// Their columns.
    pub z: [f64; 2],
    /// Their mean.
    pub mean: f64,
    /// Sum of their weights.
    pub weight: f64,
    /// How many there are.
    pub count: f64,
    /// Sum of weight times squared deviation from their mean.
    pub square: f64,
}

/// One group of readings, reduced to `Z'WZ`, `Z'Wy` and `y'Wy`.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// `Z'WZ`, 2 × 2; the second row and column are 0 where there is only one column.
    pub gram: Matrix2<f64>,
    /// `Z'Wy`.
    pub cross: Vector2<f64>,
    /// `y'Wy`.
    pub square: f64,
    /// Independent contrasts among the readings: `n`, or `n − 1` once a constant has been taken out.
    pub contrasts: f64,
    /// Fixed coefficients that this group's columns follow.
    pub terms: Terms,
}

impl Group {
    /// A group whose constant, if it has one, is among the columns. Rows are `(z, y, weight)`.
    #[must_use]
    pub fn new(rows: &[Row], terms: Terms) -> Self {
        let mut group = Self { gram: Matrix2::zeros(), cross: Vector2::zeros(), square: 0.0, contrasts: rows.len() as f64, terms };
        for &(z, y, weight) in rows {
            group.add(Vector2::from(z), y, weight);
        }
        group
    }

    /// As [`Group::centred`], of readings repeated at each row: `Σcount − 1` contrasts are left.
    #[must_use]
    pub fn repeated(rows: &[Repeated], terms: Terms) -> Self {
        let count: f64 = rows.iter().map(|row| row.count).sum();
        let means: Vec<Row> = rows.iter().map(|row| (row.z, row.mean, row.weight)).collect();
        let mut group = Self::centred(&means, terms);
        group.contrasts = (count - 1.0).max(0.0);
        group.square += rows.iter().map(|row| row.square).sum::<f64>();
        group
    }

    /// A group with a free constant of its own, taken out by weighted centring; `n − 1` contrasts are left.
    ///
    /// Centring first and multiplying afterwards keeps the digits that `Σz² − n z̄²` would lose.
    #[must_use]
    pub fn centred(rows: &[Row], terms: Terms) -> Self {
        let weights: f64 = rows.iter().map(|row| row.2).sum();
        let mut group =
            Self { gram: Matrix2::zeros(), cross: Vector2::zeros(), square: 0.0, contrasts: (rows.len() as f64 - 1.0).max(0.0), terms };
        if weights <= 0.0 {
            return group;
        }
        let mean = |pick: &dyn Fn(&Row) -> f64| rows.iter().map(|row| row.2 * pick(row)).sum::<f64>() / weights;
        // one place is its own mean: w·z/w may differ from z by a last digit, which would pass for a second place
        let place = rows.first().map_or([0.0, 0.0], |row| row.0);
        let alone = rows.iter().all(|row| row.0 == place);
        let z_mean = if alone { Vector2::from(place) } else { Vector2::new(mean(&|row| row.0[0]), mean(&|row| row.0[1])) };
        let y_mean = mean(&|row| row.1);
        for &(z, y, weight) in rows {
            group.add(Vector2::from(z) - z_mean, y - y_mean, weight);
        }
        group
    }

    fn add(&mut self, z: Vector2<f64>, y: f64, weight: f64) {
        self.gram += z * z.transpose() * weight;
        self.cross += z * (y * weight);
        self.square += y * y * weight;
    }

    /// Residual sum of squares of this group about its own curve, and the degrees of freedom of that.
    ///
    /// `y'Wy − (Z'Wy)'(Z'WZ)⁺(Z'Wy)` with `contrasts − rank` degrees of freedom. Columns that the stations cannot tell
    /// apart (relative determinant below 1e-10) count once.
    #[must_use]
    pub fn own_residual(&self) -> (f64, f64) {
        let (rank, solution) = self.own_coefficients();
        ((self.square - self.cross.dot(&solution)).max(0.0), (self.contrasts - rank).max(0.0))
    }

    /// Rank of `Z'WZ` and this group's own least-squares coefficients (0 for what it cannot tell).
    #[must_use]
    pub fn own_coefficients(&self) -> (f64, Vector2<f64>) {
        let (a, d) = (self.gram[(0, 0)], self.gram[(1, 1)]);
        let determinant = self.gram.determinant();
        if determinant > 1e-10 * a * d {
            let inverse = Matrix2::new(d, -self.gram[(0, 1)], -self.gram[(1, 0)], a) / determinant;
            return (2.0, inverse * self.cross);
        }
        if a > 0.0 {
            return (1.0, Vector2::new(self.cross[0] / a, 0.0));
        }
        if d > 0.0 {
            return (1.0, Vector2::new(0.0, self.cross[1] / d));
        }
        (0.0, Vector2::zeros())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three readings at −0.99: 3·0.99/3 is not 0.99 to the last digit. They leave two contrasts and say nothing of a slope.
    #[test]
    fn one_place_has_no_slope() {
        let z = [-0.99, 1.5 * 0.99 * 0.99 - 0.5];
        assert_ne!(3.0 * z[0] / 3.0, z[0]);
        let row = Repeated { z, mean: 0.3, weight: 3.0, count: 3.0, square: 0.02 };
        let group = Group::repeated(&[row], Terms::zeros());
        assert_eq!((group.gram, group.own_coefficients(), group.contrasts), (Matrix2::zeros(), (0.0, Vector2::zeros()), 2.0));
        assert!((group.own_residual().0 - 0.02).abs() < 1e-15 && group.own_residual().1 == 2.0);
        let two = Group::repeated(&[row, Repeated { z: [0.01, 0.0], ..row }], Terms::zeros());
        // two places one apart, three readings each: 6·½²
        assert!((two.gram[(0, 0)] - 1.5).abs() < 1e-15);
    }
}
