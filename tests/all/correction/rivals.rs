//! Two ways in which it is done without statistics, on the same machines (common practice, no source).

use super::machine::Machine;
use taperwright::shape::fit_shapes;
use taperwright::trial::{Direction, Foot};

/// How a loop ended.
#[derive(Debug, Clone, Copy)]
pub struct End {
    pub moves: usize,
    pub true_taper_mm: f64,
    pub limit_mm: f64,
}

impl End {
    pub fn inside(&self) -> bool {
        self.true_taper_mm.abs() <= self.limit_mm
    }
}

/// The taper of the latest setting as cut to the headstock, as a user reads it off.
fn measured(machine: &Machine) -> f64 {
    let shapes = fit_shapes(&machine.log(), 1, 100).shapes;
    let last = shapes.last().unwrap();
    last.by_direction.iter().find(|d| d.direction == Direction::ToHeadstock).map_or(last.taper.value, |d| d.value)
}

/// A raise that a hand can set: whole steps of 5° on a screw of 1.25 mm.
fn settable(raise_mm: f64) -> f64 {
    let step = 1.25 * 5.0 / 360.0;
    (raise_mm / step).round() * step
}

fn until_inside(machine: &mut Machine, most: usize, mut next: impl FnMut(f64) -> f64) -> End {
    let limit_mm = machine.limit_mm();
    loop {
        let taper = measured(machine);
        let raise = settable(next(taper));
        if taper.abs() <= limit_mm || machine.told.len() >= most || raise == 0.0 {
            return End { moves: machine.told.len(), true_taper_mm: machine.true_taper_mm(), limit_mm };
        }
        machine.turn(Foot::TailstockRear, raise);
    }
}

/// An eighth of a turn the right way, then in proportion to what the last turn did.
pub fn proportional(machine: &mut Machine, most: usize) -> End {
    let eighth = 1.25 / 8.0;
    let mut last: Option<(f64, f64)> = None;
    until_inside(machine, most, |taper| {
        let raise = match last {
            Some((before, raised)) if (taper - before) * raised > 0.0 => -taper * raised / (taper - before),
            _ => -eighth * taper.signum(),
        };
        last = Some((taper, settable(raise)));
        raise
    })
}

/// Pure geometry: the bed follows its feet whole and the tool swings at centre height.
pub fn geometry(machine: &mut Machine, most: usize) -> End {
    let centre_height = machine.base.machine.centre_height_mm.unwrap();
    let feet = machine.base.machine.feet.clone().unwrap();
    let length = 198.0;
    let per_mm = 2.0 * centre_height * length / (feet.spacing_across_mm * feet.spacing_along_mm);
    until_inside(machine, most, |taper| -taper / per_mm)
}
