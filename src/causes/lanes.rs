//! The same arithmetic at several points side by side.
//!
//! What the joint estimate does at one point of its deviates it does at thousands, with other numbers and the same steps. Written for any
//! [`Number`], it runs on one point or on [`SIDE_BY_SIDE`] at once: loops and look-ups are then paid once, and a processor adds and
//! multiplies neighbours together. Each lane does what a single number would do, in the same order, so both give the same bits.

use super::hyper::Values;
use std::ops::{Add, AddAssign, Div, Mul, Sub, SubAssign};

/// Points that are worked out together.
pub(super) const SIDE_BY_SIDE: usize = 4;

/// A number, or several that do not meet.
pub(super) trait Number:
    Copy
    + PartialEq
    + std::fmt::Debug
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + AddAssign
    + SubAssign
    + Send
    + Sync
{
    /// Quantities at one point, or at as many as there are lanes.
    type Point: At<Self> + Clone + std::fmt::Debug + Send + Sync;
    /// A point a lane.
    fn at(point: impl FnMut(usize) -> Values) -> Self::Point;
    /// Zero in every lane.
    const ZERO: Self;
    /// The same number in every lane.
    fn splat(value: f64) -> Self;
    /// One number a lane.
    fn from_lanes(value: impl FnMut(usize) -> f64) -> Self;
    /// The number of one lane.
    fn lane(self, lane: usize) -> f64;
    /// A function of each lane's number.
    fn map(self, mut f: impl FnMut(f64) -> f64) -> Self {
        Self::from_lanes(|lane| f(self.lane(lane)))
    }
}

impl Number for f64 {
    type Point = Values;
    const ZERO: Self = 0.0;

    fn at(mut point: impl FnMut(usize) -> Values) -> Values {
        point(0)
    }

    fn splat(value: f64) -> Self {
        value
    }

    fn from_lanes(mut value: impl FnMut(usize) -> f64) -> Self {
        value(0)
    }

    fn lane(self, _: usize) -> f64 {
        self
    }
}

/// The numbers of [`SIDE_BY_SIDE`] points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lanes([f64; SIDE_BY_SIDE]);

impl Number for Lanes {
    type Point = [Values; SIDE_BY_SIDE];
    const ZERO: Self = Self([0.0; SIDE_BY_SIDE]);

    fn at(point: impl FnMut(usize) -> Values) -> Self::Point {
        std::array::from_fn(point)
    }

    #[inline]
    fn splat(value: f64) -> Self {
        Self([value; SIDE_BY_SIDE])
    }

    #[inline]
    fn from_lanes(value: impl FnMut(usize) -> f64) -> Self {
        Self(std::array::from_fn(value))
    }

    #[inline]
    fn lane(self, lane: usize) -> f64 {
        self.0[lane]
    }
}

impl Add for Lanes {
    type Output = Self;
    #[inline]
    fn add(self, other: Self) -> Self {
        Self(std::array::from_fn(|lane| self.0[lane] + other.0[lane]))
    }
}

impl Sub for Lanes {
    type Output = Self;
    #[inline]
    fn sub(self, other: Self) -> Self {
        Self(std::array::from_fn(|lane| self.0[lane] - other.0[lane]))
    }
}

impl Mul for Lanes {
    type Output = Self;
    #[inline]
    fn mul(self, other: Self) -> Self {
        Self(std::array::from_fn(|lane| self.0[lane] * other.0[lane]))
    }
}

impl Div for Lanes {
    type Output = Self;
    #[inline]
    fn div(self, other: Self) -> Self {
        Self(std::array::from_fn(|lane| self.0[lane] / other.0[lane]))
    }
}

impl AddAssign for Lanes {
    #[inline]
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl SubAssign for Lanes {
    #[inline]
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

/// Their sum, in their order.
pub(super) fn sum_of<T: Number>(numbers: impl Iterator<Item = T>) -> T {
    let mut sum = T::ZERO;
    numbers.for_each(|number| sum += number);
    sum
}

impl Lanes {
    /// The sum over all lanes.
    pub(super) fn total(self) -> f64 {
        self.0.iter().sum()
    }
}

/// Quantities at one point, or at as many as a [`Number`] has lanes.
pub(super) trait At<T: Number> {
    /// A function of the quantities of each lane.
    fn each(&self, f: impl FnMut(&Values) -> f64) -> T;
    /// The quantities of one lane.
    fn lane(&self, lane: usize) -> &Values;
}

impl At<f64> for Values {
    #[inline]
    fn each(&self, mut f: impl FnMut(&Values) -> f64) -> f64 {
        f(self)
    }

    fn lane(&self, _: usize) -> &Values {
        self
    }
}

impl At<Lanes> for [Values; SIDE_BY_SIDE] {
    #[inline]
    fn each(&self, mut f: impl FnMut(&Values) -> f64) -> Lanes {
        Lanes(std::array::from_fn(|lane| f(&self[lane])))
    }

    fn lane(&self, lane: usize) -> &Values {
        &self[lane]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each lane is what a single number would be.
    #[test]
    fn lanes_do_not_meet() {
        let (a, b) = ([1.5, -2.0, 0.1, 7.0], [0.3, 4.0, -0.7, 1e-3]);
        let (left, right) = (Lanes::from_lanes(|i| a[i]), Lanes::from_lanes(|i| b[i]));
        let (mut more, mut less) = (left, left);
        more += right;
        less -= right;
        for i in 0..SIDE_BY_SIDE {
            let found = [left + right, left - right, left * right, left / right, more, less].map(|n| n.lane(i));
            assert_eq!(found, [a[i] + b[i], a[i] - b[i], a[i] * b[i], a[i] / b[i], a[i] + b[i], a[i] - b[i]]);
            assert_eq!(left.map(|n| n * n).lane(i), a[i] * a[i]);
            assert_eq!((Lanes::splat(2.5).lane(i), Lanes::ZERO.lane(i)), (2.5, 0.0));
        }
        assert_ne!(left, left + Lanes::from_lanes(|i| if i == 2 { 1e-9 } else { 0.0 }), "one lane tells them apart");
    }
}
