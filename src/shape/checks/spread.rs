//! Whether the scatter is the same everywhere.

use super::super::ShapeTest;
use super::super::cut::{Cut, ONE_PLACE};
use super::super::pooled::PooledFit;
use super::residuals::scaled;
use super::{LEVEL, made, not_made};
use crate::statistics::{Atoms, EqualSpread};

/// Brown and Forsythe's test between passes.
pub(super) fn between_passes(cut: &Cut<'_>, drawn: &PooledFit<'_>, atoms: &Atoms) -> ShapeTest {
    const NAME: &str = "equal-spread-passes";
    let mut groups = EqualSpread::default();
    let (mut group, mut room) = (Vec::new(), drawn.fit.basis.scratch());
    for (block, pass) in cut.finishing.iter().enumerate() {
        group.clear();
        pass.runs.clone().for_each(|run| group.extend(scaled(drawn, atoms, block, run, &mut room).into_iter().flatten()));
        add(&mut groups, &mut group);
    }
    match enough(drawn, &groups) {
        None => not_made(NAME, "Not made: it needs two passes with six readings each; another pass or more stations would allow it."),
        Some((f, p)) if p < LEVEL => made(
            NAME,
            f,
            p,
            "Some passes scatter more than others (p below 0.05): one standard deviation does not do them all justice; see the residuals by pass.",
        ),
        Some((f, p)) => made(NAME, f, p, "Readings scatter alike in all passes (p not below 0.05)."),
    }
}

/// Brown and Forsythe's test between stations, or between thirds of the tested length where stations have few readings.
pub(super) fn between_stations(cut: &Cut<'_>, drawn: &PooledFit<'_>, atoms: &Atoms) -> ShapeTest {
    const NAME: &str = "equal-spread-stations";
    let sorted = cut.runs_by_place();
    let x = |run: &u32| cut.place(*run as usize).x;
    let mut groups = EqualSpread::default();
    let (mut group, mut room) = (Vec::new(), drawn.fit.basis.scratch());
    let mut add_run = |group: &mut Vec<(f64, f64)>, run: &u32| {
        let run = *run as usize;
        group.extend(scaled(drawn, atoms, cut.pass_of(run), run, &mut room).into_iter().flatten());
    };
    for place in sorted.chunk_by(|a, b| (x(a) - x(b)).abs() < ONE_PLACE) {
        group.clear();
        place.iter().for_each(|run| add_run(&mut group, run));
        add(&mut groups, &mut group);
    }
    let mut places = "stations";
    if groups.groups() < 2 {
        places = "thirds of the bar";
        groups = EqualSpread::default();
        let third = |x: f64| if x < -1.0 / 3.0 { 0 } else { usize::from(x <= 1.0 / 3.0) + 2 * usize::from(x > 1.0 / 3.0) };
        for part in 0..3 {
            group.clear();
            sorted.iter().filter(|run| third(x(run)) == part).for_each(|run| add_run(&mut group, run));
            add(&mut groups, &mut group);
        }
    }
    match enough(drawn, &groups) {
        None => not_made(
            NAME,
            "Not made: it needs six readings at two stations, or in two thirds of the bar; repeats or more stations would allow it.",
        ),
        Some((f, p)) if p < LEVEL => made(
            NAME,
            f,
            p,
            format!(
                "Some {places} scatter more than others (p below 0.05): look for chatter, a rough place or a hard one to measure there."
            ),
        ),
        Some((f, p)) => made(NAME, f, p, format!("Readings scatter alike in all {places} (p not below 0.05).")),
    }
}

/// Readings of a group from which it is tested: with fewer the test finds something in 8 % of sound logs (`tests/proofs/checks.md`).
const ENOUGH: f64 = 6.0;

/// Adds a group that is large enough.
fn add(groups: &mut EqualSpread, group: &mut [(f64, f64)]) {
    if group.iter().map(|value| value.1).sum::<f64>() >= ENOUGH {
        groups.add(group);
    }
}

fn enough(drawn: &PooledFit<'_>, groups: &EqualSpread) -> Option<(f64, f64)> {
    let tested = if drawn.dof < 3.0 { None } else { groups.test() };
    tested.map(|t| (t.f, t.p))
}
