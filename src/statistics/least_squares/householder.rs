//! Householder factorisation of a tall matrix held column by column.

/// `X = QR` with reflections kept in place of the columns that they cleared.
#[derive(Debug, Clone)]
pub(super) struct Factor {
    rows: usize,
    columns: usize,
    /// Reflection vectors, one block of `rows` a kept column, zero above their pivot.
    reflections: Vec<f64>,
    /// `2/vᵀv` of each reflection; 0 for none.
    strengths: Vec<f64>,
    /// `R`, rank × rank, upper triangle, column by column.
    upper: Vec<f64>,
    /// Which columns were kept, in order.
    kept: Vec<usize>,
}

impl Factor {
    /// Factors `matrix` (`rows` values a column). A column of which less than `tolerance` of its length is left after those before it is not kept.
    pub(super) fn new(matrix: &[f64], rows: usize, tolerance: f64) -> Self {
        let columns = matrix.len() / rows.max(1);
        let limit = rows.min(columns);
        let mut factor = Self {
            rows,
            columns,
            reflections: Vec::with_capacity(limit * rows),
            strengths: Vec::with_capacity(limit),
            upper: Vec::new(),
            kept: Vec::new(),
        };
        let mut transformed_columns: Vec<f64> = Vec::with_capacity(limit * limit);
        let mut work = vec![0.0; rows];
        for (index, column) in matrix.chunks_exact(rows.max(1)).enumerate() {
            let rank = factor.kept.len();
            work.copy_from_slice(column);
            let length = norm(&work);
            factor.apply_transpose(&mut work);
            let (head, tail) = work.split_at_mut(rank);
            let rest = norm(tail);
            if rest <= tolerance * length || rest == 0.0 {
                continue;
            }
            let Some(first) = tail.first_mut() else { break };
            let diagonal = if *first > 0.0 { -rest } else { rest };
            *first -= diagonal;
            let square: f64 = tail.iter().map(|v| v * v).sum();
            transformed_columns.extend_from_slice(head);
            transformed_columns.push(diagonal);
            head.fill(0.0);
            factor.reflections.extend_from_slice(&work);
            factor.strengths.push(2.0 / square);
            factor.kept.push(index);
        }
        let rank = factor.kept.len();
        factor.upper = vec![0.0; rank * rank];
        let mut rest = transformed_columns.as_slice();
        for (j, column) in factor.upper.chunks_exact_mut(rank.max(1)).enumerate() {
            let (part, after) = rest.split_at((j + 1).min(rest.len()));
            if let Some(slots) = column.get_mut(..part.len()) {
                slots.copy_from_slice(part);
            }
            rest = after;
        }
        factor
    }

    pub(super) fn rank(&self) -> usize {
        self.kept.len()
    }

    pub(super) fn rows(&self) -> usize {
        self.rows
    }

    pub(super) fn columns(&self) -> usize {
        self.columns
    }

    pub(super) fn kept(&self) -> &[usize] {
        &self.kept
    }

    /// Column `j` of `R`, down to its diagonal.
    fn upper_column(&self, j: usize) -> &[f64] {
        let rank = self.rank();
        self.upper.get(j * rank..j * rank + j + 1).unwrap_or(&[])
    }

    /// `vector ← Qᵀ vector`.
    pub(super) fn apply_transpose(&self, vector: &mut [f64]) {
        for (k, (reflection, strength)) in self.reflections.chunks_exact(self.rows.max(1)).zip(&self.strengths).enumerate() {
            reflect(reflection, *strength, k, vector);
        }
    }

    /// `vector ← Q vector`.
    pub(super) fn apply(&self, vector: &mut [f64]) {
        for (k, (reflection, strength)) in self.reflections.chunks_exact(self.rows.max(1)).zip(&self.strengths).enumerate().rev() {
            reflect(reflection, *strength, k, vector);
        }
    }

    /// `x ← R⁻¹ x`, for the first rank entries.
    pub(super) fn solve_upper(&self, x: &mut [f64]) {
        for j in (0..self.rank()).rev() {
            let column = self.upper_column(j);
            let (Some((diagonal, above)), Some(value)) = (column.split_last(), x.get(j).copied()) else { return };
            let solved = value / diagonal;
            if let Some(slot) = x.get_mut(j) {
                *slot = solved;
            }
            x.iter_mut().zip(above).for_each(|(slot, entry)| *slot -= entry * solved);
        }
    }

    /// `x ← R⁻ᵀ x`, for the first rank entries.
    pub(super) fn solve_upper_transpose(&self, x: &mut [f64]) {
        for j in 0..self.rank() {
            let column = self.upper_column(j);
            let Some((diagonal, above)) = column.split_last() else { return };
            let known: f64 = above.iter().zip(x.iter()).map(|(entry, value)| entry * value).sum();
            if let Some(slot) = x.get_mut(j) {
                *slot = (*slot - known) / diagonal;
            }
        }
    }

    /// Diagonal of `Q₁Q₁ᵀ`: the leverage of each row.
    pub(super) fn leverage(&self) -> Vec<f64> {
        let mut leverage = vec![0.0; self.rows];
        let mut unit = vec![0.0; self.rows];
        for k in 0..self.rank() {
            unit.fill(0.0);
            if let Some(slot) = unit.get_mut(k) {
                *slot = 1.0;
            }
            self.apply(&mut unit);
            leverage.iter_mut().zip(&unit).for_each(|(sum, q)| *sum += q * q);
        }
        leverage.iter_mut().for_each(|h| *h = h.min(1.0));
        leverage
    }
}

#[inline]
fn reflect(reflection: &[f64], strength: f64, pivot: usize, vector: &mut [f64]) {
    let (Some(v), Some(x)) = (reflection.get(pivot..), vector.get_mut(pivot..)) else { return };
    let projection: f64 = v.iter().zip(x.iter()).map(|(a, b)| a * b).sum::<f64>() * strength;
    x.iter_mut().zip(v).for_each(|(b, a)| *b -= projection * a);
}

/// Length of a column scaled to entries of about 1.
fn norm(vector: &[f64]) -> f64 {
    vector.iter().map(|v| v * v).sum::<f64>().sqrt()
}
