//! What is no length, in the page's units: slopes and temperatures.

use super::number::{decimals_as_written, decimals_for_uncertainty};
use super::quantity::{Key, Pen, Quantity};
use super::units::Units;

/// Inches per foot in a millimetre per metre.
const IN_PER_FT: f64 = 12.0 / 1000.0;
/// Degrees Fahrenheit in a degree Celsius, and the temperature of 0 °C.
const F_PER_C: f64 = 1.8;
const F_AT_0_C: f64 = 32.0;

/// A temperature in °C as °F.
#[must_use]
pub fn fahrenheit(celsius: f64) -> f64 {
    F_AT_0_C + F_PER_C * celsius
}

/// A difference of temperature in K as degrees Fahrenheit.
#[must_use]
pub fn fahrenheit_degrees(kelvin: f64) -> f64 {
    F_PER_C * kelvin
}

impl Pen {
    /// A slope kept in mm/m, rounded to `u_mm_per_m`.
    #[must_use]
    pub fn slope(&self, mm_per_m: f64, u_mm_per_m: f64, key: Key) -> Quantity {
        match self.units {
            Units::Millimetre => self.with_unit(mm_per_m, decimals_for_uncertainty(u_mm_per_m), "mm/m", key),
            Units::Inch => {
                let decimals = decimals_for_uncertainty(IN_PER_FT * u_mm_per_m);
                self.with_unit(IN_PER_FT * mm_per_m, decimals, "in/ft", key).of_value(mm_per_m)
            }
        }
    }

    /// A slope of a data sheet, as it was written.
    #[must_use]
    pub fn slope_as_written(&self, mm_per_m: f64, key: Key) -> Quantity {
        match self.units {
            Units::Millimetre => self.with_unit(mm_per_m, decimals_as_written(mm_per_m, 4), "mm/m", key),
            Units::Inch => {
                let shown = IN_PER_FT * mm_per_m;
                self.with_unit(shown, decimals_as_written(shown, 6), "in/ft", key).of_value(mm_per_m)
            }
        }
    }

    /// A temperature kept in °C, with one decimal.
    #[must_use]
    pub fn temperature(&self, celsius: f64, key: Key) -> Quantity {
        match self.units {
            Units::Millimetre => self.with_unit(celsius, 1, "°C", key),
            Units::Inch => self.with_unit(fahrenheit(celsius), 1, "°F", key).of_value(celsius),
        }
    }

    /// A difference of temperature kept in K, with one decimal.
    #[must_use]
    pub fn temperature_difference(&self, kelvin: f64, key: Key) -> Quantity {
        match self.units {
            Units::Millimetre => self.with_unit(kelvin, 1, "K", key),
            Units::Inch => self.with_unit(fahrenheit_degrees(kelvin), 1, "°F", key).of_value(kelvin),
        }
    }

    /// The temperature at which lengths hold (ISO 1:2022).
    #[must_use]
    pub fn reference_temperature(&self) -> &'static str {
        match self.units {
            Units::Millimetre => "20\u{202f}°C",
            Units::Inch => "68\u{202f}°F",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::quantity::on_page;
    use super::*;

    #[test]
    fn inch_pages_have_feet_and_fahrenheit() {
        let shown = |units: Units| {
            let pen = Pen { units };
            let key = || on_page("x");
            // 0.0001 in/ft is 0.0083333 mm/m; 68 °F is 20 °C; 1 degree F is 5/9 K
            [
                pen.slope_as_written(0.1 / 12.0, key()),
                pen.slope(0.5, 0.02, key()),
                pen.temperature(20.0, key()),
                pen.temperature_difference(5.0 / 9.0, key()),
            ]
            .map(|each| each.plain().replace('\u{202f}', " "))
        };
        assert_eq!(shown(Units::Inch), ["0.0001 in/ft", "0.00600 in/ft", "68.0 °F", "1.0 °F"]);
        assert_eq!(shown(Units::Millimetre), ["0.0083 mm/m", "0.500 mm/m", "20.0 °C", "0.6 K"]);
        assert_ne!(fahrenheit(20.0), fahrenheit_degrees(20.0));
    }
}
