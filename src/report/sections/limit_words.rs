//! A limit in words: what it allows, how its source states it, and where it comes from.

use crate::conformity::Judgement;
use crate::report::prose::Prose;
use crate::report::quantity::{Key, Pen, Quantity as Shown, in_result, on_page};
use crate::report::units::Units;
use crate::trial::{CriteriaFile, LimitStated, Provenance, Quantity, Sense};

/// Inches per foot in a millimetre per metre.
const IN_PER_FT: f64 = 12.0 / 1000.0;

/// A number in the judgement's unit.
pub(super) fn amount(judged: &Judgement, value: f64, u: f64, pen: Pen, key: Key) -> Shown {
    match judged.unit {
        "mm/m" if pen.units == Units::Inch => {
            let decimals = crate::report::decimals_for_uncertainty(u * IN_PER_FT);
            pen.with_unit(value * IN_PER_FT, decimals, "in/ft", key).of_value(value)
        }
        "mm/m" => pen.with_unit(value, crate::report::decimals_for_uncertainty(u), "mm/m", key),
        "" => pen.percent(value, crate::report::decimals_for_uncertainty(100.0 * u), key),
        _ => pen.difference(value, u, key),
    }
}

/// A limit, to the figures in which it was written.
fn bound(unit: &str, value: f64, pen: Pen, key: Key) -> Shown {
    let shown = match unit {
        "mm/m" if pen.units == Units::Inch => {
            let converted = value.abs() * IN_PER_FT;
            pen.with_unit(converted, crate::report::decimals_for_figures(converted, 2), "in/ft", key)
        }
        "mm/m" => pen.with_unit(value.abs(), crate::report::decimals_as_written(value.abs(), 4), "mm/m", key),
        "" => pen.percent(value, share_decimals(value), key),
        _ => {
            // three decimals of a millimetre, four where a limit was scaled to a length
            let whole = (1e3 * value - (1e3 * value).round()).abs() < 1e-6;
            pen.size(value, if whole { 0.004 } else { 0.0012 }, key)
        }
    };
    shown.of_value(value)
}

/// Decimals of a share in per cent as it was written, enough for one figure.
fn share_decimals(value: f64) -> usize {
    let percent = 100.0 * value;
    crate::report::decimals_as_written(percent, 2).max(crate::report::decimals_for_figures(percent, 1))
}

/// What a share is a share of.
fn of_what(quantity: Quantity, prose: Prose) -> Prose {
    if quantity == Quantity::AdjacentBands { prose.text(" of the end bands’ difference") } else { prose }
}

/// What the limit allows over the length that was tested.
pub(super) fn allowed(path: &str, judged: &Judgement, pen: Pen) -> Prose {
    let Some(allowed) = judged.allowed else { return stated(path, judged, pen) };
    let key = |end: usize| in_result(format!("{path}.allowed.{end}"));
    let high = bound(judged.unit, allowed.high, pen, key(1));
    let prose = if allowed.low.is_infinite() {
        Prose::new("at most ").number(high)
    } else {
        let low = bound(judged.unit, allowed.low, pen, key(0));
        let (negative, positive) = ways(judged.quantity);
        if judged.sense == Sense::Either {
            Prose::default().number(high).text(" either way")
        } else {
            Prose::default().number(low).text(format!(" {negative} to ")).number(high).text(format!(" {positive}"))
        }
    };
    let prose = of_what(judged.quantity, prose);
    match judged.length.filter(|_| judged.over.is_some()) {
        Some(length) => prose.text(" over ").number(pen.length(length, in_result(format!("{path}.length")))),
        None => prose,
    }
}

/// The limit as its source states it, with its floor where that has a part in what is allowed.
pub(super) fn stated(path: &str, judged: &Judgement, pen: Pen) -> Prose {
    let floor_mm = judged.floor.unwrap_or(0.0);
    let stated = LimitStated { limit_mm: judged.limit, over_mm: judged.over, sense: judged.sense, floor_mm };
    let key = |name: &str| {
        let place = format!("{path}.{name}");
        if name == "floor" { on_page(place) } else { in_result(place) }
    };
    in_words(judged.quantity, &stated, pen, key)
}

/// A limit as a criteria file states it, whose numbers stand under `path`; with the floor, which two limits may have unlike.
pub fn stated_limit(path: &str, quantity: Quantity, stated: &LimitStated, pen: Pen) -> Prose {
    in_words(quantity, stated, pen, |name| in_result(format!("{path}.{name}_mm")))
}

/// A limit in words; `key` names its numbers `limit`, `over` and `floor`. A floor of 0 is none.
///
/// `0.40 thou over 12 in, larger at the headstock end; at least 0.20 thou, and as much the other way`: scaled to a shorter length the limit does
/// not fall below the floor, and the floor is allowed the other way, too. The floor does not raise the limit itself.
fn in_words(quantity: Quantity, stated: &LimitStated, pen: Pen, key: impl Fn(&str) -> Key) -> Prose {
    let prose = of_what(quantity, Prose::default().number(bound(quantity.unit(), stated.limit_mm, pen, key("limit"))));
    let prose = match stated.over_mm {
        Some(over) => prose.text(" over ").number(pen.length(over, key("over"))),
        None => prose,
    };
    let way = sense(stated.sense);
    let prose = if way.is_empty() { prose } else { prose.text(format!(", {way}")) };
    let floor = || bound(quantity.unit(), stated.floor_mm, pen, key("floor"));
    let least = stated.floor_mm.min(stated.limit_mm);
    match (stated.floor_mm > 0.0, stated.over_mm.is_some(), way.is_empty()) {
        (false, _, true) | (true, false, true) => prose,
        (false, _, false) => prose.text(" only"),
        (true, false, false) => prose.text("; ").number(floor()).text(" the other way"),
        (true, true, true) => prose.text("; at least ").number(bound(quantity.unit(), least, pen, on_page("least"))),
        (true, true, false) if stated.floor_mm <= stated.limit_mm => {
            prose.text("; at least ").number(floor()).text(", and as much the other way")
        }
        (true, true, false) => {
            let least = bound(quantity.unit(), least, pen, on_page("least"));
            prose.text("; at least ").number(least).text(", and ").number(floor()).text(" the other way")
        }
    }
}

/// Where a limit comes from, and whether anybody read it there.
pub(super) fn source(judged: &Judgement, file: Option<&CriteriaFile>) -> String {
    let mut parts: Vec<String> = Vec::new();
    let file = file.filter(|_| judged.criterion != "trial.toml");
    match file {
        Some(file) => parts.push(format!("the file {}, which names as its source", file.name)),
        None if judged.criterion == "trial.toml" => parts.push("stated for this trial".to_owned()),
        None => {}
    }
    parts.extend(judged.source.clone());
    parts.extend(judged.clause.as_ref().filter(|clause| *clause != "none").map(|clause| format!("clause {clause}")));
    match judged.provenance {
        Some(Provenance::FromMemory) => {
            parts.push("value not compared with its source: written down from memory or at second hand".to_owned())
        }
        Some(Provenance::Read) if file.is_some() => parts.push("the file says that its value was read there".to_owned()),
        Some(Provenance::Read) => parts.push("value read there".to_owned()),
        None => {}
    }
    parts.join("; ").replacen("which names as its source; ", "which names as its source ", 1)
}

/// The quantity in words.
pub fn name(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Taper => "taper",
        Quantity::Barrel => "barrel",
        Quantity::DiameterConsistency => "consistency of diameter",
        Quantity::AdjacentBands => "adjacent bands",
        Quantity::Roundness => "roundness",
        Quantity::SpindleParallelismHorizontal => "spindle along carriage (horizontal)",
        Quantity::SpindleParallelismVertical => "spindle along carriage (vertical)",
        Quantity::LevelVariation => "level along the bed",
        Quantity::TailstockHeight => "height of the tailstock",
        Quantity::TailstockOffset => "offset of the tailstock",
    }
}

/// What negative and positive mean.
fn ways(quantity: Quantity) -> (&'static str, &'static str) {
    match quantity {
        Quantity::Barrel => ("thinner in the middle", "thicker in the middle"),
        Quantity::SpindleParallelismHorizontal | Quantity::TailstockOffset => ("towards the tool", "away from it"),
        Quantity::SpindleParallelismVertical | Quantity::TailstockHeight => ("downwards", "upwards"),
        _ => ("larger at the headstock end", "larger at the tailstock end"),
    }
}

fn sense(sense: Sense) -> &'static str {
    match sense {
        Sense::Either => "",
        Sense::LargerAtHeadstock => "larger at the headstock end",
        Sense::LargerAtTailstock => "larger at the tailstock end",
        Sense::Barrel => "thicker in the middle",
        Sense::Hourglass => "thinner in the middle",
        Sense::TowardsTool => "towards the tool",
        Sense::AwayFromTool => "away from the tool",
        Sense::Upwards => "upwards",
        Sense::Downwards => "downwards",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_never_reads_nought() {
        let said = |limit_mm: f64| {
            let stated = LimitStated { limit_mm, over_mm: None, sense: Sense::Either, floor_mm: 0.0 };
            stated_limit("limit", Quantity::AdjacentBands, &stated, Pen { units: Units::Millimetre }).plain().replace('\u{202f}', " ")
        };
        let shares = [0.75, 0.07, 0.125, 0.005, 0.000_04].map(|limit| said(limit).replace(" of the end bands’ difference", ""));
        assert_eq!(shares, ["75 %", "7 %", "12.5 %", "0.5 %", "0.004 %"]);
    }

    #[test]
    fn the_stated_limit_names_its_floor() {
        let said = |limit_mm: f64, over_mm: Option<f64>, sense: Sense, floor_mm: f64| {
            let stated = LimitStated { limit_mm, over_mm, sense, floor_mm };
            stated_limit("limit", Quantity::Taper, &stated, Pen { units: Units::Inch }).plain().replace('\u{202f}', " ")
        };
        let (headstock, foot, limit) = (Sense::LargerAtHeadstock, Some(304.8), 0.01016);
        assert_eq!(
            said(limit, foot, headstock, 0.005),
            "0.40 thou over 12 in, larger at the headstock end; at least 0.20 thou, and as much the other way"
        );
        assert_eq!(
            said(0.00254, foot, headstock, 0.005),
            "0.10 thou over 12 in, larger at the headstock end; at least 0.10 thou, and 0.20 thou the other way"
        );
        assert_eq!(said(limit, None, headstock, 0.005), "0.40 thou, larger at the headstock end; 0.20 thou the other way");
        assert_eq!(said(limit, foot, headstock, 0.0), "0.40 thou over 12 in, larger at the headstock end only");
        assert_eq!(said(limit, foot, Sense::Either, 0.005), "0.40 thou over 12 in; at least 0.20 thou");
        assert_eq!(said(limit, foot, Sense::Either, 0.0), "0.40 thou over 12 in");
        assert_eq!(said(limit, None, Sense::Either, 0.005), "0.40 thou");
    }
}
