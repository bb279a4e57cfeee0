//! What the cut leaves by bending, at every pass and station, for given force factors and compliances.

use super::lanes::{At, Number};
use crate::physics::deflection::{Infeed, after_pass_mm, steady_mm};
use crate::physics::{Support, TurnedPlace};
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
pub(super) struct Bending<T = f64> {
    chains: Vec<Chain>,
    /// The stations of each chain on the bar.
    places: Vec<Vec<TurnedPlace>>,
    table: Vec<T>,
    compliance: Vec<T>,
}

impl<T: Number> Bending<T> {
    /// A table for these chains (given with their first entries in order), all zero until [`Bending::fill`].
    pub(super) fn new(chains: Vec<Chain>, support: &Support) -> Self {
        let size = chains.iter().map(|c| c.passes.len() * c.stations.len()).sum();
        let places = chains.iter().map(|c| c.stations.iter().map(|z| support.at(*z)).collect()).collect();
        Self { chains, places, table: vec![T::ZERO; size], compliance: Vec::new() }
    }

    /// The same table for as many points as `U` has lanes, all zero.
    pub(super) fn like<U: Number>(&self) -> Bending<U> {
        Bending { chains: self.chains.clone(), places: self.places.clone(), table: vec![U::ZERO; self.table.len()], compliance: Vec::new() }
    }

    /// Fills the table for the force factors and compliances at a point, by the recursion of [`crate::physics::deflection`].
    pub(super) fn fill(&mut self, at: &impl At<T>) {
        let factors = [at.each(|values| values.force), at.each(|values| values.force * values.to_tailstock)];
        for (chain, places) in self.chains.iter().zip(&self.places) {
            let n = places.len();
            self.compliance.clear();
            self.compliance.extend(places.iter().map(|place| at.each(|values| place.compliance_mm_per_n(&values.compliances))));
            for (p, pass) in chain.passes.iter().enumerate() {
                let factor = match pass.direction {
                    Direction::ToHeadstock => factors[0],
                    Direction::ToTailstock => factors[1],
                };
                let start = chain.first + p * n;
                for s in 0..n {
                    let (compliance, before) = (self.compliance[s], if p == 0 { T::ZERO } else { self.table[start + s - n] });
                    self.table[start + s] = T::from_lanes(|lane| {
                        let stiffness_n_per_mm = pass.infeed.stiffness_n_per_mm * factor.lane(lane);
                        let cut = Infeed { depth_mm: pass.infeed.depth_mm, stiffness_n_per_mm };
                        if p == 0 {
                            steady_mm(stiffness_n_per_mm * cut.depth_mm.max(0.0), compliance.lane(lane))
                        } else {
                            after_pass_mm(cut, compliance.lane(lane), before.lane(lane))
                        }
                    });
                }
            }
        }
    }

    /// The `count` entries from `first` on: one pass.
    pub(super) fn curve(&self, first: usize, count: usize) -> &[T] {
        self.table.get(first..first + count).unwrap_or(&[])
    }
}

#[cfg(test)]
mod tests {
    use super::super::hyper::Values;
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
        let mut bending = Bending::new(chains.clone(), &support);
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
