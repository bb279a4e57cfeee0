//! What a number that nobody is likely to mean may have been: asked in the unit in which it was stated.

use crate::quantities::{ARCSEC_PER_RADIAN, MM_PER_INCH, MM_PER_THOU};

/// The unit in which a length was stated: its name, and how many millimetres it has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::ingest) struct StatedIn {
    pub(in crate::ingest) name: &'static str,
    pub(in crate::ingest) mm: f64,
}

impl StatedIn {
    /// The unit of `mm` millimetres; millimetres where none has so many.
    pub(in crate::ingest) fn of(mm: f64) -> Self {
        let known = [("µm", 1e-3), ("cm", 10.0), ("m", 1000.0), ("in", MM_PER_INCH), ("thou", MM_PER_THOU)];
        known.into_iter().find(|(_, factor)| *factor == mm).map_or(Self { name: "mm", mm: 1.0 }, |(name, mm)| Self { name, mm })
    }

    /// Inches where `inch` is true, else millimetres.
    pub(super) fn inches(inch: bool) -> Self {
        Self::of(if inch { MM_PER_INCH } else { 1.0 })
    }

    fn is_inch(self) -> bool {
        matches!(self.name, "in" | "thou")
    }

    /// The number that was stated.
    pub(in crate::ingest) fn stated(self, value_mm: f64) -> f64 {
        value_mm / self.mm
    }

    /// A length with its unit.
    pub(in crate::ingest) fn shown(self, value_mm: f64) -> String {
        format!("{} {}", shown(self.stated(value_mm)), self.name)
    }
}

/// Asks whether a length was read in another unit than it is stated in: each unit in which it lies within `usual_mm`, and what to write then.
pub(in crate::ingest) fn other_unit(value_mm: f64, unit: StatedIn, usual_mm: (f64, f64)) -> String {
    let read_in: &[(&str, f64)] = if unit.is_inch() {
        &[("in thousandths of an inch", MM_PER_THOU), ("in ten-thousandths of an inch", MM_PER_THOU / 10.0), ("in mm", 1.0)]
    } else {
        &[("in µm", 1e-3), ("in hundredths of a millimetre", 1e-2), ("in mm", 1.0)]
    };
    let stated = unit.stated(value_mm);
    asked(read_in.iter().filter(|(_, mm)| *mm != unit.mm).map(|(name, mm)| (*name, stated * mm, stated * mm / unit.mm)), usual_mm)
}

/// As [`other_unit`] of a slope, in mm/m or in inches a foot.
pub(super) fn other_slope(value_mm_per_m: f64, inch: bool, usual_mm_per_m: (f64, f64)) -> String {
    let stated = slope_stated(value_mm_per_m, inch);
    let name = if inch { "in thousandths of an inch a foot" } else { "in µm/m" };
    asked(std::iter::once((name, value_mm_per_m / 1000.0, stated / 1000.0)), usual_mm_per_m)
}

/// A slope as it was stated.
pub(super) fn slope_stated(value_mm_per_m: f64, inch: bool) -> f64 {
    if inch { value_mm_per_m * 12.0 / 1000.0 } else { value_mm_per_m }
}

/// Slopes across a bed that a level reads, mm/m.
const USUAL_ROLL_MM_PER_M: (f64, f64) = (0.002, 2.0);

/// As [`other_unit`] of a number in a column of rolls whose unit is `step` mm/m: which of the other units of a level makes it a roll that beds have.
pub(in crate::ingest) fn slopes_asked(stated: f64, step: f64) -> String {
    const UNITS: [(&str, f64); 6] = [
        ("in mm/m", 1.0),
        ("in µm/m", 1e-3),
        ("in inches a foot", 1000.0 / 12.0),
        ("in thousandths of an inch a foot", 1.0 / 12.0),
        ("in seconds of arc", 1000.0 / ARCSEC_PER_RADIAN),
        ("in m/m", 1000.0),
    ];
    let is_inch = (step - 1000.0 / 12.0).abs() < 1e-9 || (step - 100.0).abs() < 1e-9;
    let fits = |name: &str| if is_inch { !name.contains("arc") && name != "in m/m" } else { !name.contains("inch") };
    let other = UNITS.into_iter().filter(|(name, unit)| (unit / step - 1.0).abs() > 1e-9 && fits(name));
    let signed = asked(other.map(|(name, unit)| (name, stated.abs() * unit, stated.abs() * unit / step)), USUAL_ROLL_MM_PER_M);
    if stated < 0.0 { signed.replace("Then write ", "Then write -") } else { signed }
}

/// The questions to those readings, of what they are called, what they make and what to write, that lie within `usual`.
fn asked<'a>(readings: impl Iterator<Item = (&'a str, f64, f64)>, usual: (f64, f64)) -> String {
    let questions: Vec<String> = readings
        .filter(|(_, makes, _)| (usual.0 * (1.0 - 1e-9)..=usual.1 * (1.0 + 1e-9)).contains(makes))
        .map(|(name, _, write)| format!("{name}? Then write {}", shown(write)))
        .collect();
    if questions.is_empty() { "look at the number and its unit".to_owned() } else { format!("is it {}", questions.join(". Is it ")) }
}

/// Largest radial depth of a test cut that is not asked about, mm; on a thin bar a tenth of its diameter.
const MOST_DEPTH_MM: f64 = 3.0;
/// The same as a share of the bar's diameter.
const MOST_DEPTH_SHARE: f64 = 0.1;
/// Radial depths of test cuts, mm.
const USUAL_DEPTH_MM: (f64, f64) = (0.02, 1.0);

/// What to ask about a radial depth of cut, where it is more than a test cut takes from a bar of that diameter.
pub(in crate::ingest) fn depth_asked(depth_mm: f64, diameter_mm: Option<f64>, unit: StatedIn) -> Option<String> {
    let most =
        diameter_mm.filter(|diameter| *diameter > 0.0).map_or(MOST_DEPTH_MM, |diameter| MOST_DEPTH_MM.min(MOST_DEPTH_SHARE * diameter));
    let usual = if unit.is_inch() { "0.001 to 0.02 in" } else { "0.02 to 0.5 mm" };
    (depth_mm > most).then(|| {
        format!(
            "{}. The depth is on the radius: this takes {} off the diameter; a test cut takes {usual} off the radius; it is used as stated",
            other_unit(depth_mm, unit, USUAL_DEPTH_MM),
            unit.shown(2.0 * depth_mm)
        )
    })
}

/// Largest feed that is not asked about, mm a revolution: above it threads are cut, not bars.
const MOST_FEED_MM_PER_REV: f64 = 2.0;
/// Feeds with which bars are finished, mm a revolution.
const USUAL_FEED_MM: (f64, f64) = (0.03, 0.5);

/// What to ask about a feed, where it is more than a bar is turned with.
pub(in crate::ingest) fn feed_asked(feed_mm_per_rev: f64, rpm: Option<f64>, unit: StatedIn) -> Option<String> {
    (feed_mm_per_rev > MOST_FEED_MM_PER_REV).then(|| {
        let other = other_unit(feed_mm_per_rev, unit, USUAL_FEED_MM);
        let stated = unit.stated(feed_mm_per_rev);
        let divided = rpm.filter(|rpm| *rpm > 0.0).map_or_else(
            || "divide it by the spindle’s speed".to_owned(),
            |rpm| format!("at {} rev/min write {}", shown(rpm), shown(round_to(stated / rpm, 3))),
        );
        let minute = format!("is it in {} a minute? Then {divided}", if unit.name == "in" { "inches" } else { unit.name });
        let questions = match other.strip_prefix("is ") {
            Some(asked) if unit.is_inch() => format!("is {asked}. I{}", minute.strip_prefix('i').unwrap_or(&minute)),
            Some(asked) => format!("{minute}. Is {asked}"),
            None => minute,
        };
        let usual = if unit.is_inch() { "0.002 to 0.012 in" } else { "0.05 to 0.3 mm" };
        format!("{questions}. A finishing feed is {usual} a revolution; it is used as stated")
    })
}

/// Most turns of a foot's screw in one move that are not asked about.
const MOST_TURNS: f64 = 3.0;
/// Farthest that a foot is raised or lowered in one move without a question, mm.
const MOST_RAISE_MM: f64 = 2.0;
/// Turns from which degrees are likelier than anything else.
const LIKE_DEGREES: f64 = 15.0;

/// What to ask about the turns of a foot's screw, where no lathe is levelled by so many; common practice, no source.
pub(in crate::ingest) fn turns_asked(turns: f64) -> Option<String> {
    let size = turns.abs();
    (size > MOST_TURNS).then(|| {
        let (what, parts) = if size >= LIKE_DEGREES { ("degrees", 360.0) } else { ("flats of a hexagon, six a turn", 6.0) };
        format!(
            "is it in {what}? Then write {}. A move that levels a lathe takes a fraction of a turn; it is used as stated",
            shown(round_to(turns / parts, 3))
        )
    })
}

/// What to ask about how far a foot was raised, where no lathe is levelled by so much in one move; common practice, no source.
pub(in crate::ingest) fn raise_asked(raise_mm: f64, unit: StatedIn) -> Option<String> {
    (raise_mm.abs() > MOST_RAISE_MM).then(|| {
        let other = other_unit(raise_mm.abs(), unit, (0.002, 1.0));
        let signed = if raise_mm < 0.0 { other.replace("Then write ", "Then write -") } else { other };
        format!("{signed}. A move that levels a lathe is a fraction of a millimetre; it is used as stated")
    })
}

/// A number without the tail of its conversion: six digits that count.
pub(in crate::ingest) fn shown(value: f64) -> String {
    round_to(value, 6).to_string()
}

/// A number rounded to so many digits that count.
fn round_to(value: f64, digits: i32) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    #[allow(clippy::cast_possible_truncation, reason = "a logarithm is small")]
    let scale = 10_f64.powi(digits - 1 - value.abs().log10().floor() as i32);
    if scale.is_finite() && scale > 0.0 { (value * scale).round() / scale } else { value }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_looked_for_in_the_unit_that_was_stated() {
        let depth = |stated: f64, unit: f64| depth_asked(stated * unit, Some(40.0), StatedIn::of(unit)).unwrap();
        assert!(depth(5.0, 1.0).starts_with("is it in hundredths of a millimetre? Then write 0.05. The depth"), "{}", depth(5.0, 1.0));
        let inch = depth(5.0, MM_PER_INCH);
        assert!(
            inch.starts_with("is it in thousandths of an inch? Then write 0.005. The depth") && inch.contains("takes 10 in off"),
            "{inch}"
        );
        assert!(depth(0.2, MM_PER_INCH).contains("is it in mm? Then write 0.00787402."), "{}", depth(0.2, MM_PER_INCH));
        assert_eq!(depth_asked(3.0, Some(40.0), StatedIn::of(1.0)), None);
        let feed = |stated: f64, unit: f64, rpm: Option<f64>| feed_asked(stated * unit, rpm, StatedIn::of(unit)).unwrap();
        let inch = feed(4.0, MM_PER_INCH, Some(600.0));
        assert!(
            inch.starts_with(
                "is it in thousandths of an inch? Then write 0.004. Is it in inches a minute? Then at 600 rev/min write 0.00667."
            ),
            "{inch}"
        );
        assert!(feed(10.0, 1.0, None).contains("Is it in hundredths of a millimetre? Then write 0.1."));
        assert!(!feed(80.0, 1.0, None).contains("hundredths"));
    }

    #[test]
    fn moves_are_asked_about_from_a_bound_on() {
        assert_eq!((turns_asked(3.0), turns_asked(-3.0), raise_asked(2.0, StatedIn::of(1.0))), (None, None, None));
        assert!(turns_asked(45.0).unwrap().contains("in degrees? Then write 0.125."));
        assert!(turns_asked(-4.0).unwrap().contains("a turn? Then write -0.667."));
        let raise = raise_asked(-20.0, StatedIn::of(1.0)).unwrap();
        assert!(raise.starts_with("is it in µm? Then write -0.02. Is it in hundredths of a millimetre? Then write -0.2."), "{raise}");
        assert!(raise_asked(2.0 * MM_PER_INCH, StatedIn::of(MM_PER_INCH)).unwrap().contains("thousandths of an inch? Then write 0.002."));
    }

    #[test]
    fn digits_that_count_are_shown() {
        assert_eq!(
            (shown(0.08 * MM_PER_INCH / MM_PER_INCH), shown(8e-5), shown(123_456_789.0), shown(0.0)),
            ("0.08".into(), "0.00008".into(), "123457000".into(), "0".into())
        );
    }
}
