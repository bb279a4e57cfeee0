//! What the cut leaves by bending, at every pass and station, for given force factors and compliances.

use super::hyper::Values;
use crate::physics::Support;
use crate::physics::deflection::{Infeed, after_pass_mm, steady_mm};
use crate::trial::Direction;

/// One pass of a chain: its cut at force factor 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ChainPass {
    /// Direction of cut.
    pub(super) direction: Direction,
    /// The cut with stiffness at factor 1.
    pub(super) infeed: Infeed,
}

/// The passes of one setting in cutting order, and the stations at which any of them was measured.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Chain {
    /// Stations, mm.
    pub(super) stations: Vec<f64>,
    /// Passes in cutting order.
    pub(super) passes: Vec<ChainPass>,
    /// First entry of the chain in the table.
    pub(super) first: usize,
}

/// Diameters left by bending, mm: a table of chains, passes and stations.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Bending {
    chains: Vec<Chain>,
    support: Support,
    table: Vec<f64>,
    compliance: Vec<f64>,
}

impl Bending {
    /// A table for these chains (given with their first entries in order), all zero until [`Bending::fill`].
    pub(super) fn new(chains: Vec<Chain>, support: Support) -> Self {
        let size = chains.iter().map(|c| c.passes.len() * c.stations.len()).sum();
        Self { chains, support, table: vec![0.0; size], compliance: Vec::new() }
    }

    /// Fills the table for the force factors and compliances in `values`, by the recursion of [`crate::physics::deflection`].
    pub(super) fn fill(&mut self, values: &Values) {
        self.support.compliances = values.compliances;
        for chain in &self.chains {
            let n = chain.stations.len();
            self.compliance.clear();
            self.compliance.extend(chain.stations.iter().map(|z| self.support.compliance_mm_per_n(*z)));
            for (p, pass) in chain.passes.iter().enumerate() {
                let factor = match pass.direction {
                    Direction::ToHeadstock => values.force,
                    Direction::ToTailstock => values.force * values.to_tailstock,
                };
                let cut = Infeed { depth_mm: pass.infeed.depth_mm, stiffness_n_per_mm: pass.infeed.stiffness_n_per_mm * factor };
                let start = chain.first + p * n;
                for s in 0..n {
                    self.table[start + s] = if p == 0 {
                        steady_mm(cut.stiffness_n_per_mm * cut.depth_mm.max(0.0), self.compliance[s])
                    } else {
                        after_pass_mm(cut, self.compliance[s], self.table[start + s - n])
                    };
                }
            }
        }
    }

    /// The `count` entries from `first` on: one pass.
    pub(super) fn curve(&self, first: usize, count: usize) -> &[f64] {
        self.table.get(first..first + count).unwrap_or(&[])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::Compliances;
    use crate::physics::deflection::left_by_mm;
    use crate::trial::Holding;

    /// Two chains, passes both ways, a spring pass: the table holds what the physics leaves by each pass, with the factors of its direction.
    #[test]
    fn the_table_is_what_the_physics_leaves() {
        use Direction::{ToHeadstock, ToTailstock};
        let infeed = |depth_mm| Infeed { depth_mm, stiffness_n_per_mm: 180.0 };
        let pass = |direction, depth_mm| ChainPass { direction, infeed: infeed(depth_mm) };
        let first = vec![pass(ToHeadstock, 0.2), pass(ToTailstock, 0.05), pass(ToHeadstock, 0.0)];
        let second = vec![pass(ToTailstock, 0.1)];
        let chains = vec![
            Chain { stations: vec![20.0, 110.0, 200.0], passes: first, first: 0 },
            Chain { stations: vec![60.0, 180.0], passes: second, first: 9 },
        ];
        let compliances = Compliances::from_prior_units(15.0, 0.04);
        let support = Support::of_bar(&super::super::fixture::bar(Holding::ChuckAndCentre).bar, Compliances::RIGID);
        let held = Support { compliances, ..support.clone() };
        let values = Values {
            roll_arm: 150.0,
            gain: 1.0,
            force: 1.7,
            to_tailstock: 0.6,
            compliances,
            grip: 1.0,
            noise: Vec::new(),
            slope_spread: 0.0,
            barrel_spread: 0.0,
        };
        let mut bending = Bending::new(chains.clone(), support);
        bending.fill(&values);
        for chain in &chains {
            for p in 0..chain.passes.len() {
                let cuts: Vec<Infeed> = chain.passes[..=p]
                    .iter()
                    .map(|pass| {
                        let factor = if pass.direction == ToHeadstock { 1.7 } else { 1.7 * 0.6 };
                        Infeed { stiffness_n_per_mm: 180.0 * factor, ..pass.infeed }
                    })
                    .collect();
                let curve = bending.curve(chain.first + p * chain.stations.len(), chain.stations.len());
                for (z, found) in chain.stations.iter().zip(curve) {
                    let expected = left_by_mm(&cuts, held.compliance_mm_per_n(*z));
                    assert!((found - expected).abs() < 1e-15, "{z}: {found} {expected}");
                }
            }
        }
        assert!(bending.curve(10, 2).is_empty(), "beyond the table");
    }
}
