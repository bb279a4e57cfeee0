//! What the readings alone say of the causes, their priors taken away: which can be told apart, and which only together.

use super::block::Local;
use super::design::Design;
use super::hyper::Values;
use super::reference::Reference;
use super::symmetric::Symmetric;
use super::unknowns::Meaning;
use super::values::CauseKind;
use nalgebra::{DMatrix, DVector};

/// Share of a cause's prior that is kept so that matrices can be inverted: far too little to inform anything.
const RIDGE: f64 = 1e-7;
/// A cause has evidence of its own when its standard error without priors is at most this share of its prior standard deviation.
const OWN_EVIDENCE: f64 = 0.5;
/// Eigenvalue of the scaled information below which a combination of curves counts as unseen.
const UNSEEN: f64 = 0.02;
/// Least share in an unseen combination that makes two causes belong together.
const LINKED: f64 = 0.03;

/// Information about the causes' parameters, deflection's force factor last, in units of their prior standard deviations.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Information {
    /// Index of each row's unknown; `None` for the force factor.
    pub(super) rows: Vec<Option<usize>>,
    /// Information matrix (inverse covariance) without the causes' priors.
    pub(super) matrix: DMatrix<f64>,
    /// Prior standard deviations of the rows.
    pub(super) sd: Vec<f64>,
    /// Share of its prior that each row keeps when priors are taken away: all of it for causes that are too small to matter by physics, whose
    /// freedom cannot hide anything else.
    pub(super) kept: Vec<f64>,
    /// The same where a straight cause is asked, beside which worn ways keep a prior (see [`Information::keep_way_wear`]).
    pub(super) kept_beside_ways: Vec<f64>,
}

/// Prior standard deviation of a log-normal force factor of median 1: `√((e^{s²} − 1)e^{s²})`, `s = ln factor`.
pub(super) fn force_sd(factor: f64) -> f64 {
    let variance = factor.ln().powi(2);
    (variance.exp_m1() * variance.exp()).sqrt()
}

/// Information at `values`, using only blocks for which `keep` holds; nuisances keep their priors.
pub(super) fn information(design: &Design, values: &Values, force_factor: f64, keep: impl Fn(usize) -> bool) -> Information {
    let model = &design.model;
    let n = model.unknowns.len();
    let mut bending = model.bending.clone();
    let mut local = Local::new();
    let mut equations = |force: f64| {
        let at = Values { force, ..values.clone() };
        bending.fill(&at);
        let mut joint = Symmetric::zeros(n + 1);
        for (b, block) in model.blocks.iter().enumerate().filter(|(b, _)| keep(*b)) {
            let _ = b;
            block.add_to(&at, &bending, &mut joint, &mut local);
        }
        joint
    };
    // Deflection's column is the change of what bending leaves with the force factor: −∂b/∂q, and half the curvature of the rest in q.
    let (q, step) = (values.force, 0.1 * values.force);
    let (middle, above, below) = (equations(q), equations(q + step), equations(q - step));
    let mut whole = DMatrix::zeros(n + 1, n + 1);
    for a in 0..n {
        for b in 0..=a {
            whole[(a, b)] = middle.get(a, b);
            whole[(b, a)] = middle.get(a, b);
        }
        let cross = (below.get(n, a) - above.get(n, a)) / (2.0 * step);
        whole[(a, n)] = cross;
        whole[(n, a)] = cross;
    }
    whole[(n, n)] = ((above.get(n, n) + below.get(n, n) - 2.0 * middle.get(n, n)) / (2.0 * step * step)).max(0.0);
    let nuisances = model.unknowns.iter().take_while(|u| u.flag.is_none()).count();
    for j in 0..nuisances {
        whole[(j, j)] += model.unknowns[j].sd.powi(-2);
        let pivot = whole[(j, j)];
        for a in j + 1..=n {
            let scaled = whole[(a, j)] / pivot;
            for b in j + 1..=n {
                let other = whole[(j, b)];
                whole[(a, b)] -= scaled * other;
            }
        }
    }
    let rows: Vec<Option<usize>> = (nuisances..n).map(Some).chain([None]).collect();
    let sd: Vec<f64> = rows.iter().map(|r| r.map_or_else(|| force_sd(force_factor), |u| model.unknowns[u].sd)).collect();
    let matrix = DMatrix::from_fn(rows.len(), rows.len(), |a, b| whole[(nuisances + a, nuisances + b)] * sd[a] * sd[b]);
    let kept = vec![RIDGE; rows.len()];
    Information { rows, matrix, sd, kept_beside_ways: kept.clone(), kept }
}

impl Information {
    /// Covariance of the normal posterior at the causes' full priors, in prior standard deviations.
    pub(super) fn covariance(&self) -> Option<DMatrix<f64>> {
        let n = self.rows.len();
        (&self.matrix + DMatrix::identity(n, n)).cholesky().map(|c| c.inverse())
    }

    /// Covariance with the causes' priors taken away but for what is `kept`.
    fn without_priors(&self, kept: &[f64]) -> Option<DMatrix<f64>> {
        (&self.matrix + DMatrix::from_diagonal(&DVector::from_column_slice(kept))).cholesky().map(|c| c.inverse())
    }

    /// Keeps the priors of the causes for which `small` holds in every setting.
    pub(super) fn keep_priors(&mut self, design: &Design, small: impl Fn(CauseKind) -> bool) {
        for ((row, kept), beside) in self.rows.iter().zip(&mut self.kept).zip(&mut self.kept_beside_ways) {
            let cause = row.map_or(Some(CauseKind::Deflection), |u| design.model.unknowns[u].meaning.cause());
            if cause.is_some_and(&small) {
                (*kept, *beside) = (1.0, 1.0);
            }
        }
    }

    /// Keeps of the prior of worn ways at least the precision `share` while headstock, bed or tailstock are asked, which make straight lines.
    ///
    /// Worn ways have no straight part, but curves that are as free as one likes would make one at places that were not tested, and roll at those of the
    /// levels: no level and no indicator could tell anything, the less the more stations the diameters have. Where a curved cause is asked they keep
    /// nothing: a bend is theirs as well as its own.
    pub(super) fn keep_way_wear(&mut self, design: &Design, share: f64) {
        for (row, kept) in self.rows.iter().zip(&mut self.kept_beside_ways) {
            if row.is_some_and(|u| design.model.unknowns[u].meaning.cause() == Some(CauseKind::WayWear)) {
                *kept = kept.max(share);
            }
        }
    }

    /// Rows of a cause in a setting, each with its factor in the cause's parameter (the worst place's value for worn ways).
    pub(super) fn functional(&self, design: &Design, cause: CauseKind, setting: u32) -> DVector<f64> {
        let model = &design.model;
        let root = design.chains.links.get(&setting).map(|l| l.root);
        let reference = design.references.iter().find(|r| r.main && r.setting == setting);
        let edge = reference
            .and_then(|r| r.columns.iter().find(|c| c.cause == Some(CauseKind::ToolWear)).and_then(|c| c.targets.first()).map(|(t, _)| *t));
        let worst = worst_place(design, setting);
        DVector::from_fn(self.rows.len(), |r, _| match self.rows[r] {
            None => f64::from(u8::from(cause == CauseKind::Deflection)),
            Some(u) => match &model.unknowns[u].meaning {
                Meaning::Yaw if cause == CauseKind::HeadstockYaw => 1.0,
                Meaning::Twist { root: own } if cause == CauseKind::BedTwist && Some(*own) == root => 1.0,
                Meaning::Drift if cause == CauseKind::ThermalDrift => 1.0,
                Meaning::Offset { setting: own } if cause == CauseKind::TailstockOffset && *own == setting => 1.0,
                Meaning::Wear { .. } if cause == CauseKind::ToolWear && Some(u) == edge => 1.0,
                Meaning::WayWear { index } if cause == CauseKind::WayWear => {
                    design.ways.as_ref().zip(worst).map_or(0.0, |(ways, z)| 1000.0 * ways.value(*index, z))
                }
                _ => 0.0,
            },
        }) // in the unknown's unit; times its prior standard deviation below
        .component_mul(&DVector::from_vec(self.sd.clone()))
    }

    /// Contribution of a cause in µm as a functional of the rows, in prior standard deviations: its end difference at `centre` moved by each row alone.
    pub(super) fn contribution(&self, design: &Design, reference: &Reference, cause: CauseKind, centre: &Values) -> DVector<f64> {
        let unknowns = &design.model.unknowns;
        let difference = |values: &Values, unknowns: &[f64]| 1000.0 * reference.end_difference_of(cause, values, unknowns);
        let zero = vec![0.0; unknowns.len()];
        let base = difference(centre, &zero);
        DVector::from_fn(self.rows.len(), |r, _| match self.rows[r] {
            None => {
                let more = Values { force: 1.1 * centre.force, ..centre.clone() };
                self.sd[r] * (difference(&more, &zero) - base) / (0.1 * centre.force)
            }
            Some(u) if unknowns[u].meaning.cause() == Some(cause) => {
                let mut unit = zero.clone();
                unit[u] = 1.0;
                self.sd[r] * (difference(centre, &unit) - base)
            }
            Some(_) => 0.0,
        })
    }

    /// Whether a cause has evidence of its own in a setting.
    pub(super) fn own_evidence(&self, design: &Design, cause: CauseKind, setting: u32) -> bool {
        let straight = matches!(cause, CauseKind::HeadstockYaw | CauseKind::BedTwist | CauseKind::TailstockOffset);
        let kept = if straight { &self.kept_beside_ways } else { &self.kept };
        self.tells(&self.functional(design, cause, setting), 1.0, kept)
    }

    /// Whether the readings alone tell `functional`, in which worn ways have no part: by the rule of [`OWN_EVIDENCE`], against `share` of its full prior
    /// variance.
    pub(super) fn carries(&self, functional: &DVector<f64>, share: f64) -> bool {
        self.tells(functional, share, &self.kept_beside_ways)
    }

    fn tells(&self, functional: &DVector<f64>, share: f64, kept: &[f64]) -> bool {
        let prior = share * functional.norm_squared();
        let Some(covariance) = self.without_priors(kept) else { return false };
        prior > 0.0 && functional.dot(&(covariance * functional)) <= OWN_EVIDENCE * OWN_EVIDENCE * prior
    }

    /// Groups of causes of one setting that the readings know only together.
    ///
    /// Causes without evidence of their own are compared with all others taken into account (Schur complement, priors away) and scaled to unit
    /// information: combinations with almost no information are unseen, and causes that take part in the same one belong together.
    pub(super) fn groups(&self, design: &Design, setting: u32, causes: &[CauseKind]) -> Vec<Vec<CauseKind>> {
        // Worn ways have several curves and no straight part: they are left to their own verdict.
        let open = causes.iter().copied().filter(|c| *c != CauseKind::WayWear && !self.own_evidence(design, *c, setting));
        let row_of = |cause: CauseKind| {
            let f = self.functional(design, cause, setting);
            (0..f.len()).find(|r| f[*r] != 0.0).map(|row| (cause, row))
        };
        let (open, rows): (Vec<CauseKind>, Vec<usize>) = open.filter_map(row_of).unzip();
        let rest: Vec<usize> = (0..self.rows.len()).filter(|r| !rows.contains(r)).collect();
        let pick = |a: &[usize], b: &[usize]| DMatrix::from_fn(a.len(), b.len(), |i, j| self.matrix[(a[i], b[j])]);
        let mut reduced = pick(&rows, &rows);
        if !rest.is_empty() {
            let kept = DVector::from_iterator(rest.len(), rest.iter().map(|r| self.kept[*r].max(1e-3)));
            let ridged = pick(&rest, &rest) + DMatrix::from_diagonal(&kept);
            let Some(factor) = ridged.cholesky() else { return Vec::new() };
            let cross = pick(&rest, &rows);
            reduced -= cross.transpose() * factor.solve(&cross);
        }
        let scale: Vec<f64> = (0..rows.len()).map(|i| reduced[(i, i)].max(0.0).sqrt()).collect();
        let seen: Vec<usize> = (0..rows.len()).filter(|i| scale[*i] > 1e-3).collect();
        if seen.len() < 2 {
            return Vec::new();
        }
        let scaled = DMatrix::from_fn(seen.len(), seen.len(), |i, j| reduced[(seen[i], seen[j])] / (scale[seen[i]] * scale[seen[j]]));
        let eigen = scaled.symmetric_eigen();
        let mut unseen = DMatrix::zeros(seen.len(), seen.len());
        for (k, value) in eigen.eigenvalues.iter().enumerate() {
            if *value < UNSEEN {
                let v = eigen.eigenvectors.column(k);
                unseen += v * v.transpose();
            }
        }
        let mut label: Vec<usize> = (0..seen.len()).collect();
        for i in 0..seen.len() {
            for j in 0..i {
                if unseen[(i, j)].abs() > LINKED {
                    let (from, to) = (label[i].max(label[j]), label[i].min(label[j]));
                    label.iter_mut().for_each(|l| *l = if *l == from { to } else { *l });
                }
            }
        }
        (0..seen.len())
            .filter_map(|l| {
                let group: Vec<CauseKind> = (0..seen.len()).filter(|i| label[*i] == l).map(|i| open[seen[i]]).collect();
                (group.len() > 1).then_some(group)
            })
            .collect()
    }
}

/// The tested place on the bed where worn ways may show most: largest prior standard deviation of their curve, mm.
pub(super) fn worst_place(design: &Design, setting: u32) -> Option<f64> {
    let ways = design.ways.as_ref()?;
    let reference = design.references.iter().find(|r| r.main && r.setting == setting)?;
    let size = |z: f64| (0..ways.len()).map(|c| ways.value(c, z).powi(2)).sum::<f64>();
    reference.stations.iter().copied().max_by(|a, b| size(*a).total_cmp(&size(*b)).then(b.total_cmp(a)))
}

#[cfg(test)]
mod tests {
    use super::force_sd;

    /// Mean `e^{s²/2}` and second moment `e^{2s²}` of a log-normal factor of median 1, by hand: s² = ln² 1.5 = 0.164402 and ln² 3 = 1.206949.
    #[test]
    fn the_force_factors_standard_deviation_is_that_of_a_log_normal() {
        for (factor, expected) in [(1.5, 0.458_95), (3.0, 2.798_9)] {
            assert!((force_sd(factor) - expected).abs() < 2e-4, "{factor}: {}", force_sd(factor));
        }
    }
}
