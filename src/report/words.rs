//! The words of the page and the rule behind each: no adjective without one.

use super::prose::Prose;
use super::quantity::{Pen, Quantity};
use crate::analysis::Analysis;
use crate::causes::{CauseKind, Verdict};
pub use crate::correction::{culprit, listed, next_test};
use crate::quantities::Interval;
pub use crate::quantities::{counted, sentence_case};
pub use crate::shape::component_words as component;
use crate::shape::{Shape, ShapeTest};
use crate::trial::{Direction, Holding, Material};
use serde::Serialize;

/// Tail probability below which a check counts as significant.
pub const SIGNIFICANCE: f64 = 0.05;

/// A word of the page and the rule by which it is used.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Rule {
    /// The word or phrase.
    pub word: &'static str,
    /// When the page uses it.
    pub when: &'static str,
}

/// Every judging word, with its rule.
pub const RULES: [Rule; 19] = [
    Rule {
        word: "larger at the tailstock end, larger at the headstock end",
        when: "the 95 % interval of the taper, from the whole budget, does not contain 0",
    },
    Rule {
        word: "parallel within what this log can see",
        when: "the 95 % interval of the taper contains 0 and is at most 2 mm wide. It is no proof of parallelism: the interval says how much taper the log leaves room for",
    },
    Rule { word: "barrel, hourglass", when: "the 95 % interval of the barrel lies wholly above 0, wholly below 0" },
    Rule { word: "no barrel or hourglass shows", when: "the 95 % interval of the barrel contains 0. It is no proof of straightness" },
    Rule { word: "give or take", when: "the expanded uncertainty at 95 % coverage (for barrel and causes: half of the 95 % interval)" },
    Rule {
        word: "significant, not significant",
        when: "the tail probability p of the check is below 0.05, is not. Not significant means: not seen here",
    },
    Rule { word: "flagged", when: "the generalised ESD test names the reading; it stays in the fit" },
    Rule {
        word: "the robust fit agrees, disagrees",
        when: "least-squares and robust taper lie within, lie more than one combined standard uncertainty apart",
    },
    Rule { word: "finishing cut", when: "the lightest depth and feed above 0 in the setting; heavier cuts inform causes only" },
    Rule {
        word: "large enough to matter",
        when: "the cause’s curve, largest minus smallest diameter over the tested stations, exceeds the larger of a fifth of the taper limit \
               (scaled to the tested length) and 2u of one reading",
    },
    Rule {
        word: "present",
        when: "the cause is large enough to matter with a probability of 95 % or more, and the readings alone, without the causes’ priors, \
               tell it from the others (standard error at most half of its prior standard deviation; of headstock, bed and tailstock beside worn ways \
               no wider than the default)",
    },
    Rule {
        word: "too small to matter",
        when: "the same with a probability of 5 % or less; without evidence of its own only where even the 97.5 % bound of the prior is too \
               small. It is a statement about size, not that nothing is there",
    },
    Rule { word: "not settled", when: "neither of the two. It does not mean that the cause is harmless: this log leaves it open" },
    Rule { word: "not applicable", when: "the way of holding or the log rules it out; the reason stands beside it" },
    Rule {
        word: "conforms, does not conform",
        when: "the probability that the limit holds is at least, the probability that it is broken is at least what the rule of decision asks for \
               (95 % where nobody states another; with simple acceptance the value alone decides)",
    },
    Rule {
        word: "not proven",
        when: "neither of the two, or no log shows the quantity; of spindle and tailstock also where the readings alone, without the causes’ priors, do not \
               tell it (standard error more than half of its prior standard deviation). It says nothing for or against the machine",
    },
    Rule {
        word: "not compared with its source, †",
        when: "the limit’s value was written down from memory or at second hand and compared with no copy of its source; it is not the source’s own text",
    },
    Rule {
        word: "it is …",
        when: "every cause of the setting that is present, the largest first; “at work” in its place where no taper shows over the whole length. \
               “The tool”, also where wear and warming are known only together and the whole interval of their sum is large enough to matter",
    },
    Rule {
        word: "this log cannot tell",
        when: "no cause of the setting is present and one or more are not settled; of causes that the readings know only together, those whose \
               sum is largest are named, if that sum’s interval does not contain 0",
    },
];

/// Whether the log shows a taper: its 95 % interval excludes nought.
#[must_use]
pub fn shows_taper(shape: &Shape) -> bool {
    !shape.taper.interval95.contains(0.0)
}

/// Which end is larger by the sign of a taper.
#[must_use]
pub fn larger_end(taper_mm: f64) -> &'static str {
    if taper_mm < 0.0 { "larger at the headstock end" } else { "larger at the tailstock end" }
}

/// What follows the size of a difference below 0, and of one above.
pub const LARGER_ENDS: [&str; 2] = [" larger at the headstock end", " larger at the tailstock end"];

/// Goes on with the ends of an interval as sizes, the smaller first, where the words before say the sign of both; of one that contains 0 each end has its own word after it.
pub fn interval(prose: Prose, ends: Interval, size: impl Fn(f64, &str) -> Quantity, [below, above]: [&str; 2]) -> Prose {
    let (low, high) = (size(ends.low, "0"), size(ends.high, "1"));
    if ends.low >= 0.0 {
        prose.number(low).text(" to ").number(high)
    } else if ends.high <= 0.0 {
        prose.number(high).text(" to ").number(low)
    } else {
        prose.text("from ").number(low).text(below).text(" to ").number(high).text(above)
    }
}

/// Whether a robust fit was made.
#[must_use]
pub fn has_robust(shape: &Shape) -> bool {
    let method = shape.taper.robust.method.to_lowercase();
    ["huber", "tukey"].iter().any(|name| method.contains(name))
}

/// Whether robust and least-squares taper are within one combined standard uncertainty.
#[must_use]
pub fn robust_agrees(shape: &Shape) -> bool {
    (shape.taper.robust.value - shape.taper.value).abs() <= shape.taper.standard_uncertainty
}

/// A direction of cut in words.
#[must_use]
pub fn direction(direction: Direction) -> &'static str {
    match direction {
        Direction::ToHeadstock => "to the headstock",
        Direction::ToTailstock => "to the tailstock",
    }
}

/// The unit of a time that is shown in whole minutes.
#[must_use]
pub fn minutes(count: f64) -> &'static str {
    if count.round() == 1.0 { "minute" } else { "minutes" }
}

/// A way of holding in words.
#[must_use]
pub fn holding(holding: Holding) -> &'static str {
    match holding {
        Holding::Chuck => "in the chuck, free at the other end",
        Holding::Centres => "between centres",
        Holding::ChuckAndCentre => "in the chuck and on the tailstock centre",
    }
}

/// A material in words.
#[must_use]
pub fn material(material: Material) -> &'static str {
    match material {
        Material::MildSteel => "mild steel",
        Material::AlloySteel => "alloy steel",
        Material::Stainless => "stainless steel",
        Material::CastIron => "grey cast iron",
        Material::Aluminium => "aluminium",
        Material::Brass => "brass",
    }
}

/// The question that a check answers.
#[must_use]
pub fn question(test: &str) -> &'static str {
    match test {
        "lack-of-fit" => "Does the fitted curve follow the bar?",
        "order" => "Straight, bowed or S-shaped?",
        "direction" => "Do the two directions of cut agree?",
        "durbin-watson" => "Do readings taken one after the other hang together?",
        "runs" => "Do signs of the residuals change as chance would have it?",
        "normality" => "Is the scatter bell-shaped?",
        "equal-spread-passes" => "Do all passes scatter alike?",
        "equal-spread-stations" => "Do all stations scatter alike?",
        "influence" => "Does one reading carry the result?",
        "period" => "Is there a wave along the bar?",
        _ => "A further check",
    }
}

/// The name of a check in the trade of statistics.
#[must_use]
pub fn test_name(test: &str) -> &'static str {
    match test {
        "lack-of-fit" => "lack of fit against pure error (F)",
        "order" => "order of the polynomial (F of the terms added)",
        "direction" => "difference of taper between directions",
        "durbin-watson" => "Durbin–Watson, in cutting order",
        "runs" => "runs, in cutting order",
        "normality" => "normality of residuals",
        "equal-spread-passes" => "equal spread over passes",
        "equal-spread-stations" => "equal spread over stations",
        "influence" => "largest Cook’s distance",
        "period" => "periodogram of residuals",
        _ => "check",
    }
}

/// The outcome of a check in a word.
#[must_use]
pub fn outcome(test: &ShapeTest) -> &'static str {
    match (test.statistic, test.p) {
        (_, Some(p)) if p < SIGNIFICANCE => "significant",
        (_, Some(_)) => "not significant",
        (Some(_), None) => "see the sentence",
        (None, None) => "not made",
    }
}

/// The sentences for the top; where there is one setting they need not name it.
#[must_use]
pub fn warnings(analysis: &Analysis, pen: Pen) -> Vec<String> {
    let prefix = match analysis.shape.as_slice() {
        [only] => format!("Setting {}: ", only.setting),
        _ => String::new(),
    };
    let without = |warning: &String| sentence_case(warning.strip_prefix(&prefix).unwrap_or(warning));
    analysis.warnings.iter().map(|warning| pen.sentence(&without(warning))).collect()
}

/// A cause in the words of the trade.
#[must_use]
pub fn cause_name(cause: CauseKind) -> &'static str {
    match cause {
        CauseKind::HeadstockYaw => "headstock out of line",
        CauseKind::BedTwist => "twisted bed",
        CauseKind::ToolWear => "tool wear",
        CauseKind::Deflection => "bending under the cut",
        CauseKind::WayWear => "worn ways",
        CauseKind::TailstockOffset => "tailstock set over",
        CauseKind::ThermalDrift => "warming of tool and holder",
    }
}

/// What a cause does, as the beginning of a sentence that goes on with the change of diameter.
#[must_use]
pub fn cause_makes(cause: CauseKind) -> &'static str {
    match cause {
        CauseKind::HeadstockYaw => "the headstock, out of line with the carriage’s path, makes",
        CauseKind::BedTwist => "the twist of the bed makes",
        CauseKind::ToolWear => "the wear of the tool makes",
        CauseKind::Deflection => "bending under the cut makes",
        CauseKind::WayWear => "the wear of the ways makes",
        CauseKind::TailstockOffset => "the tailstock, set over, makes",
        CauseKind::ThermalDrift => "the warming of tool and holder makes",
    }
}

/// A verdict in words.
#[must_use]
pub fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Present => "present",
        Verdict::Absent => "too small to matter",
        Verdict::NotSettled => "not settled",
        Verdict::NotApplicable => "not applicable",
    }
}

/// The sign that stands beside a verdict, in text as in the picture.
#[must_use]
pub fn verdict_sign(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Present => "●",
        Verdict::Absent => "□",
        Verdict::NotSettled => "○",
        Verdict::NotApplicable => "–",
    }
}

#[cfg(test)]
mod tests {
    use super::minutes;

    #[test]
    fn one_minute_is_no_minutes() {
        assert_eq!([0.4, 0.6, 1.4, 1.6].map(minutes), ["minutes", "minute", "minute", "minutes"]);
    }
}
