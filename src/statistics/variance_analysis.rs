//! One-way and nested analysis of variance, with the variances of random groups.

use super::doubled::Doubled;
use super::lack_of_fit::FTest;

/// One-way analysis of variance.
#[derive(Debug, Clone, PartialEq)]
pub struct OneWay {
    /// Groups with at least one value.
    pub groups: usize,
    /// Values.
    pub count: usize,
    /// Mean of all values.
    pub mean: f64,
    /// Sum of squares between groups.
    pub ss_between: f64,
    /// Sum of squares within groups.
    pub ss_within: f64,
    /// Degrees of freedom between groups.
    pub dof_between: f64,
    /// Degrees of freedom within groups.
    pub dof_within: f64,
    /// F test; `None` without degrees of freedom or scatter within groups.
    pub test: Option<FTest>,
    /// Effective group size `(N − Σnᵢ²/N)/(k − 1)`; `None` with one group.
    pub effective_size: Option<f64>,
    /// Whether all groups have the same size.
    pub balanced: bool,
}

/// Number, sum and squared deviations from the mean of a group, the sums in doubled precision.
#[derive(Debug, Clone, Copy)]
pub struct GroupSums {
    count: f64,
    total: Doubled,
    within: Doubled,
}

impl GroupSums {
    /// The sums of values each of which came as often as is said.
    #[must_use]
    pub fn of(values: &[(f64, f64)]) -> Self {
        let count: f64 = values.iter().map(|value| value.1).sum();
        let total = values.iter().fold(Doubled::default(), |sum, value| sum.plus_product(value.0, value.1));
        let mean = total.over(count.max(1.0));
        let within = values.iter().fold(Doubled::default(), |sum, value| {
            let deviation = mean.negated().plus(value.0);
            sum.plus_doubled(deviation.times_doubled(deviation).times(value.1))
        });
        Self { count, total, within }
    }
}

impl OneWay {
    /// Sums in doubled precision about doubled-precision means; `None` when empty or not finite.
    #[must_use]
    pub fn of(groups: &[Vec<f64>]) -> Option<Self> {
        let sums: Vec<GroupSums> =
            groups.iter().map(|group| GroupSums::of(&group.iter().map(|value| (*value, 1.0)).collect::<Vec<_>>())).collect();
        Self::of_sums(&sums)
    }

    /// As [`Self::of`], from the sums of each group.
    #[must_use]
    pub fn of_sums(groups: &[GroupSums]) -> Option<Self> {
        let filled: Vec<&GroupSums> = groups.iter().filter(|g| g.count > 0.0).collect();
        if filled.is_empty() || filled.iter().any(|g| !g.within.value().is_finite() || !g.total.value().is_finite()) {
            return None;
        }
        let n: f64 = filled.iter().map(|g| g.count).sum();
        let total = filled.iter().fold(Doubled::default(), |sum, g| sum.plus_doubled(g.total));
        let mean = total.over(n);
        let mut between = Doubled::default();
        let mut within = Doubled::default();
        let mut squares = 0.0;
        for group in &filled {
            let shift = group.total.over(group.count).plus_doubled(mean.negated());
            between = between.plus_doubled(shift.times_doubled(shift).times(group.count));
            within = within.plus_doubled(group.within);
            squares += group.count * group.count;
        }
        let k = filled.len();
        let (ss_between, ss_within) = (between.value().max(0.0), within.value().max(0.0));
        let (dof_between, dof_within) = (k as f64 - 1.0, n - k as f64);
        let first = filled.first().map_or(0.0, |g| g.count);
        Some(Self {
            groups: k,
            count: n as usize,
            mean: mean.value(),
            ss_between,
            ss_within,
            dof_between,
            dof_within,
            test: FTest::of(ss_between, dof_between, ss_within, dof_within),
            effective_size: (k > 1).then(|| (n - squares / n) / (n_minus_one(k))),
            balanced: filled.iter().all(|g| g.count == first),
        })
    }

    /// Share of the total sum of squares that lies between groups; `None` where nothing scatters.
    #[must_use]
    pub fn r_squared(&self) -> Option<f64> {
        let total = self.ss_between + self.ss_within;
        (total > 0.0).then(|| self.ss_between / total)
    }

    /// Mean square within groups; `None` without degrees of freedom.
    #[must_use]
    pub fn within_variance(&self) -> Option<f64> {
        (self.dof_within > 0.0).then(|| self.ss_within / self.dof_within)
    }

    /// Moment estimate of the variance between random groups, `(MS_b − MS_w)/n₀`: **may be negative**, and is reported as found.
    #[must_use]
    pub fn between_variance(&self) -> Option<f64> {
        Some((self.ss_between / self.dof_between - self.within_variance()?) / self.effective_size?)
    }

    /// Restricted maximum likelihood for random groups of equal size, in closed form; `None` when unbalanced or without degrees of freedom.
    ///
    /// Where the moment estimate is not negative it is the answer; else the variance between groups is 0 and the other is the total mean square
    /// (Searle, Casella & McCulloch 1992, section 4.2).
    #[must_use]
    pub fn balanced_reml(&self) -> Option<RandomGroups> {
        if !self.balanced {
            return None;
        }
        let size = self.count as f64 / self.groups as f64;
        let moment = self.between_variance()?;
        let (between, within) = if moment > 0.0 {
            (moment, self.within_variance()?)
        } else {
            (0.0, (self.ss_between + self.ss_within) / (self.dof_between + self.dof_within))
        };
        let group_variance = within + size * between;
        let n = self.count as f64;
        let criterion = (n - 1.0) * (2.0 * std::f64::consts::PI).ln()
            + self.dof_within * within.ln()
            + self.dof_between * group_variance.ln()
            + n.ln()
            + self.ss_within / within
            + self.ss_between / group_variance;
        Some(RandomGroups {
            mean: self.mean,
            standard_error: (group_variance / n).sqrt(),
            between_sd: between.sqrt(),
            within_sd: within.sqrt(),
            criterion,
            at_boundary: moment <= 0.0,
        })
    }
}

fn n_minus_one(k: usize) -> f64 {
    k as f64 - 1.0
}

/// Random groups: overall mean and the two standard deviations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RandomGroups {
    /// Mean.
    pub mean: f64,
    /// Its standard error, `√((σ² + nτ²)/N)`.
    pub standard_error: f64,
    /// Standard deviation between groups, τ.
    pub between_sd: f64,
    /// Standard deviation within groups, σ.
    pub within_sd: f64,
    /// Minus twice the restricted log-likelihood.
    pub criterion: f64,
    /// Whether the variance between groups came out at 0.
    pub at_boundary: bool,
}

/// Balanced nested analysis: groups, subgroups within them, readings within those.
#[derive(Debug, Clone, PartialEq)]
pub struct Nested {
    /// Sums of squares: between groups, between subgroups within groups, within subgroups.
    pub sums_of_squares: [f64; 3],
    /// Their degrees of freedom.
    pub dofs: [f64; 3],
    /// Test of groups against subgroups.
    pub groups_test: Option<FTest>,
    /// Test of subgroups against readings.
    pub subgroups_test: Option<FTest>,
    /// Moment estimates of the three variances in the same order; **may be negative**, reported as found.
    pub variances: [f64; 3],
}

impl Nested {
    /// From `readings[group][subgroup]`; `None` unless every subgroup has the same number of readings, every group the same number of subgroups, and
    /// each level has degrees of freedom (Box, Hunter & Hunter 1978, section 17.3; e-Handbook 3.2.3.3).
    #[must_use]
    pub fn of(readings: &[Vec<Vec<f64>>]) -> Option<Self> {
        let groups = readings.len();
        let subgroups = readings.first()?.len();
        let repeats = readings.first()?.first()?.len();
        let even = readings.iter().all(|g| g.len() == subgroups && g.iter().all(|s| s.len() == repeats));
        if !even || groups < 2 || subgroups < 2 || repeats < 2 {
            return None;
        }
        let all: Vec<Vec<f64>> = readings.iter().flatten().cloned().collect();
        let merged: Vec<Vec<f64>> = readings.iter().map(|g| g.concat()).collect();
        let fine = OneWay::of(&all)?;
        let coarse = OneWay::of(&merged)?;
        // Between subgroups directly, not as a difference of large sums.
        let mut ss_sub = 0.0;
        for group in readings {
            ss_sub += OneWay::of(group)?.ss_between;
        }
        let (g, s, r) = (groups as f64, subgroups as f64, repeats as f64);
        let sums_of_squares = [coarse.ss_between, ss_sub, fine.ss_within];
        let dofs = [g - 1.0, g * (s - 1.0), g * s * (r - 1.0)];
        let [a, b, c] = [sums_of_squares[0] / dofs[0], sums_of_squares[1] / dofs[1], sums_of_squares[2] / dofs[2]];
        Some(Self {
            sums_of_squares,
            dofs,
            groups_test: FTest::of(sums_of_squares[0], dofs[0], sums_of_squares[1], dofs[1]),
            subgroups_test: FTest::of(sums_of_squares[1], dofs[1], sums_of_squares[2], dofs[2]),
            variances: [(a - b) / (s * r), (b - c) / r, c],
        })
    }
}
