//! Sums in twice the working precision, by error-free transformations.
//!
//! Sources: Knuth (1969) for the sum, Dekker (1971) for the product (here with fused multiply-add), Ogita, Rump & Oishi (2005) for their use
//! in dot products.

/// A number held as an unevaluated sum of two doubles: about 32 digits.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Doubled {
    high: f64,
    low: f64,
}

/// `a + b` and its rounding error, exactly.
#[inline]
fn two_sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    let part = sum - a;
    (sum, (a - (sum - part)) + (b - part))
}

/// `a · b` and its rounding error, exactly (barring overflow and underflow).
#[inline]
fn two_product(a: f64, b: f64) -> (f64, f64) {
    let product = a * b;
    (product, a.mul_add(b, -product))
}

impl Doubled {
    /// The number `value`.
    #[must_use]
    pub fn new(value: f64) -> Self {
        Self { high: value, low: 0.0 }
    }

    /// The nearest double.
    #[must_use]
    pub fn value(self) -> f64 {
        self.high
    }

    /// The nearest double and the rest.
    #[must_use]
    pub fn parts(self) -> (f64, f64) {
        (self.high, self.low)
    }

    fn normalised(high: f64, low: f64) -> Self {
        let sum = high + low;
        Self { high: sum, low: low - (sum - high) }
    }

    /// `self + b`.
    #[inline]
    #[must_use]
    pub fn plus(self, b: f64) -> Self {
        let (sum, error) = two_sum(self.high, b);
        Self::normalised(sum, error + self.low)
    }

    /// `self + b`, both in doubled precision.
    #[inline]
    #[must_use]
    pub fn plus_doubled(self, b: Self) -> Self {
        let (sum, error) = two_sum(self.high, b.high);
        let (tail, tail_error) = two_sum(self.low, b.low);
        let first = Self::normalised(sum, error + tail);
        Self::normalised(first.high, first.low + tail_error)
    }

    /// `self + a·b`.
    #[inline]
    #[must_use]
    pub fn plus_product(self, a: f64, b: f64) -> Self {
        let (product, error) = two_product(a, b);
        let (sum, sum_error) = two_sum(self.high, product);
        Self::normalised(sum, sum_error + (error + self.low))
    }

    /// `self · b`.
    #[inline]
    #[must_use]
    pub fn times(self, b: f64) -> Self {
        let (product, error) = two_product(self.high, b);
        Self::normalised(product, self.low.mul_add(b, error))
    }

    /// `self · b`, both in doubled precision.
    #[inline]
    #[must_use]
    pub fn times_doubled(self, b: Self) -> Self {
        let (product, error) = two_product(self.high, b.high);
        Self::normalised(product, error + (self.high * b.low + self.low * b.high))
    }

    /// `self / b`.
    #[must_use]
    pub fn over(self, b: f64) -> Self {
        let first = self.high / b;
        let rest = self.plus_product(-first, b);
        let second = rest.value() / b;
        Self::normalised(first, second)
    }

    /// `−self`.
    #[must_use]
    pub fn negated(self) -> Self {
        Self { high: -self.high, low: -self.low }
    }
}

/// Sum in doubled precision.
#[must_use]
pub fn doubled_sum(values: &[f64]) -> Doubled {
    values.iter().fold(Doubled::default(), |sum, v| sum.plus(*v))
}
