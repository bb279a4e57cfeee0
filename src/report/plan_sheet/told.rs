//! The sentences of the sheet.

use super::super::prose::Prose;
use super::super::quantity::{Pen, Quantity, on_page};
use super::super::units::Units;
use super::super::words::minutes;
use crate::causes::{CauseKind, LIGHT_DEPTH_MM, MOST_PUSH_MM};
use crate::plan::{CLEAR_OF_JAWS_MM, Plan, PlanOption, Refusal, Stiff};
use crate::quantities::Interval;
use crate::trial::{GOOD_OVERHANG, Holding, MOST_OVERHANG};

/// Least radial depth that a tool cuts rather than rubs, mm (common practice, no source).
const LEAST_DEPTH_MM: f64 = 0.02;

/// A size in mm (or thou) to three figures.
pub fn fine(pen: Pen, value_mm: f64, name: &str) -> Quantity {
    pen.fine(value_mm, value_mm, on_page(name))
}

/// A length off the diameter or a depth, to two or three figures.
fn coarse(pen: Pen, value_mm: f64, name: &str) -> Quantity {
    let unit = pen.units.length();
    pen.with_unit(value_mm / unit.mm, super::super::number::decimals_for_figures(value_mm / unit.mm, 2).min(4), unit.symbol, on_page(name))
}

/// `1 pass`, `3 passes`.
pub fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// What is measured, in words: `3 light passes to the headstock and then a heavy one (4 times as deep), 5 stations, 2 readings at each`.
pub fn scheme(option: &PlanOption) -> String {
    let scheme = &option.scheme;
    let finishing = (scheme.cuts() - u32::from(scheme.heavy.is_some())) as usize;
    let passes = match scheme.heavy {
        Some(_) => counted(finishing, "light pass", "light passes"),
        None => counted(finishing, "pass", "passes"),
    };
    let ways = if scheme.both_ways { "in turn to the headstock and to the tailstock" } else { "to the headstock" };
    let heavy = match scheme.heavy {
        Some(times) if scheme.both_ways => format!(" and then a heavy one to the headstock ({times} times as deep)"),
        Some(times) => format!(" and then a heavy one ({times} times as deep)"),
        None => String::new(),
    };
    let stations = counted(scheme.stations_mm.len(), "station", "stations");
    let readings = counted(scheme.repeats as usize, "reading", "readings");
    format!("{passes} {ways}{heavy}, {stations}, {readings} at each")
}

/// What is measured besides the bar; empty where nothing is.
pub fn besides(option: &PlanOption) -> &'static str {
    match (option.scheme.levels, option.scheme.indicator) {
        (true, true) => "levels along the bed, and an indicator along a ground test bar",
        (true, false) => "levels along the bed",
        (false, true) => "an indicator along a ground test bar",
        (false, false) => "",
    }
}

/// The lead: what to do, what it costs, what it gives.
pub fn lead(plan: &Plan, option: &PlanOption, pen: Pen) -> Prose {
    let tested = option.scheme.stations_mm.last().zip(option.scheme.stations_mm.first()).map_or(0.0, |(last, first)| last - first);
    let prose = Prose::new("Measure ")
        .strong(scheme(option))
        .text(if besides(option).is_empty() { "" } else { "; and " })
        .strong(besides(option))
        .text(": ")
        .text(counted(option.scheme.readings(), "reading", "readings"))
        .text(" in about ")
        .number(pen.with_unit(option.minutes, 0, minutes(option.minutes), on_page("plan.minutes")))
        .text(", ")
        .number(coarse(pen, option.metal_mm, "plan.metal_mm"))
        .text(" off the diameter. The taper over ")
        .number(pen.length(tested, on_page("plan.tested_length_mm")))
        .text(" will then be known to ± ")
        .number(fine(pen, option.expanded_mm, "plan.expanded_mm"))
        .text(" (expanded uncertainty, 95 %).");
    let prose = match (plan.target.expanded_mm, option.meets) {
        (Some(wanted), Some(true)) => {
            prose.text(" Wanted is ± ").number(fine(pen, wanted, "plan.target_expanded_mm")).text(wanted_why(plan)).text(".")
        }
        (Some(wanted), _) => prose
            .text(" That is not enough: wanted is ± ")
            .number(fine(pen, wanted, "plan.target_expanded_mm"))
            .text(wanted_why(plan))
            .text(", and no scheme of up to eight passes with three readings at a station reaches it. A finer gauge, a longer tested length or steadier temperatures would."),
        _ => prose.text(
            " No limit is stated, so nothing says how sure is sure enough: state one in [[acceptance.limit]], or target_expanded_mm in [plan].",
        ),
    };
    match plan.detectable_mm() {
        Some(detectable) => {
            prose.text(" A taper of ").number(fine(pen, detectable, "plan.detectable_mm")).text(" or more will show with 90 % probability.")
        }
        None => prose,
    }
}

fn wanted_why(plan: &Plan) -> &'static str {
    if plan.target.stated { ", as [plan] states" } else { ", a quarter of the limit" }
}

/// How the advised scheme was chosen.
pub fn chosen(plan: &Plan) -> &'static str {
    match (plan.target.expanded_mm.is_some(), plan.planned.bar.collars_mm.is_empty()) {
        (true, true) => {
            "Advised is the cheapest scheme that reaches what is wanted; of those that do, one with two passes and four stations or more comes \
             first, so that a curve shows. Where none reaches it, the cheapest of that kind that is at most 5 % less sure than the surest; \
             failing that, the surest."
        }
        (true, false) => {
            "Advised is the cheapest scheme that reaches what is wanted; of those that do, one with two passes or more comes first. Where none \
             reaches it, the cheapest of that kind that is at most 5 % less sure than the surest; failing that, the surest."
        }
        (false, _) => "Nothing says how sure is sure enough: three passes with two readings at each station are advised.",
    }
}

/// How sure the advised scheme's figures are, and how far a single test may be from them.
pub fn promise(option: &PlanOption, pen: Pen) -> Prose {
    Prose::new(format!("The advised scheme’s figures come from {} simulated logs that had no part in choosing it: U is known from them to ", option.logs))
        .number(pen.percent(option.relative_error, 1, on_page("plan.relative_error")))
        .text(
            " (standard error), and counts as enough only with two standard errors to spare. u and U are root mean squares over such tests; in a single \
             report U is above or below, with a standard deviation of ",
        )
        .number(fine(pen, option.scatter_mm, "plan.scatter_mm"))
        .text(".")
}

/// Why the bar must not be cut as planned, and what to do instead; `None` where it may be cut.
pub fn refusal(plan: &Plan, pen: Pen) -> Option<Prose> {
    let prose = match plan.stiffness.refusal? {
        Refusal::Overhang { diameters } => Prose::default()
            .strong("Do not cut this bar as it is held.")
            .text(" It stands out of the chuck’s jaws by ")
            .number(pen.with_unit(diameters, 1, "diameters", on_page("plan.overhang")))
            .text(format!(
                ". A chuck holds up to {GOOD_OVERHANG} diameters well, and {MOST_OVERHANG} at most, without a centre (common practice, no source). \
                 Let no more than "
            ))
            .number(pen.length((MOST_OVERHANG * plan.planned.bar.diameter_mm).floor(), on_page("plan.longest_mm")))
            .text(" stand out, put a centre under its end, or take a thicker bar"),
        Refusal::Depth { planned_mm, deepest_mm } => {
            let prose = Prose::default()
                .strong("Do not cut this bar as deep as planned.")
                .text(" Planned is a radial depth of ")
                .number(pen.cut(planned_mm, on_page("plan.depth_mm")));
            let deepest = (100.0 * deepest_mm).floor() / 100.0;
            let prose = if deepest < LEAST_DEPTH_MM {
                prose.text("; held like this it bears no cut: ")
            } else {
                prose.text("; held like this it bears at most ").number(pen.cut(deepest, on_page("plan.deepest_mm"))).text(": ")
            };
            let prose = if deepest_mm >= LIGHT_DEPTH_MM && plan.stiffness.overhang.is_some_and(|ratio| ratio > GOOD_OVERHANG) {
                prose.text(format!("more than {GOOD_OVERHANG} diameters out of a chuck, only light cuts"))
            } else {
                let most = pen.cut(MOST_PUSH_MM, on_page("plan.most_push_mm"));
                prose.text("deeper, the tool may push it aside by more than ").number(most)
            };
            prose.text(" (common practice, no source). Plan a lighter cut, let less of the bar stand free, or take a thicker bar")
        }
    };
    Some(prose.text("; then make the plan again. No reading is planned and no log is written for this cut."))
}

/// What station 0 is, and how the first station keeps clear of what turns beside it.
pub fn origin(plan: &Plan, pen: Pen) -> Prose {
    if plan.planned.bar.holding == Holding::Centres {
        return Prose::new(
            "Station 0 is the end of the bar at the headstock centre. Keep tool, holder and carriage clear of the carrier that drives the bar; \
             where it is in the way of the first station, take the next place that is free and change the station in the log.",
        );
    }
    let first = plan.option().and_then(|option| option.scheme.stations_mm.first().copied()).unwrap_or(CLEAR_OF_JAWS_MM);
    let prose = Prose::new(
        "Station 0 is where the bar leaves the chuck’s jaws: “chuck face” in logs and settings means the front of the jaws. The bar’s length is \
         counted from there too. The first station stands ",
    );
    let clear = pen.length(CLEAR_OF_JAWS_MM, on_page("plan.clear_of_jaws_mm"));
    let prose = prose.number(pen.length(first, on_page("plan.first_station_mm"))).text(" from the jaws");
    if first >= CLEAR_OF_JAWS_MM {
        prose.text(", never less than ").number(clear).text(
            " on a plain bar, so that tool, holder and carriage stay clear of them and the gauge has room (common practice, no source).",
        )
    } else {
        prose
            .text(". ")
            .strong("That is near.")
            .text(" Less than ")
            .number(clear)
            .text(" seldom leaves tool, holder and carriage clear of the jaws and room for the gauge (common practice, no source).")
    }
}

/// Whether the bar is stiff enough, one paragraph each.
pub fn stiffness(plan: &Plan, pen: Pen) -> Vec<Prose> {
    let stiffness = &plan.stiffness;
    let range = Interval { low: stiffness.range_mm[0], high: stiffness.range_mm[1] };
    let mut out = Vec::new();
    let bends = Prose::new("At the planned depth and feed the tool pushes with about ")
        .number(pen.with_unit(stiffness.force_n, 0, "N", on_page("plan.force_n")))
        .text(" and leaves ")
        .number(pen.fine_end(stiffness.deflection_mm, range, on_page("plan.deflection_mm")))
        .text(" more diameter where the bar bends most than where it bends least (95 % range ")
        .number(pen.fine_end(range.low, range, on_page("plan.deflection_low_mm")))
        .text(" to ")
        .number(pen.fine_end(range.high, range, on_page("plan.deflection_high_mm")))
        .text(", since the force is known only to a factor). A cause begins to matter at ")
        .number(fine(pen, stiffness.threshold_mm, "plan.threshold_mm"))
        .text(": ");
    let verdict = match stiffness.verdict {
        Stiff::Enough => "the bar is stiff enough for this cut.",
        Stiff::Perhaps => "the bar may be stiff enough, but with a dull tool or a tougher material it bends enough to matter.",
        Stiff::No => "the bar is too slender for this cut.",
    };
    out.push(bends.strong(verdict));
    if let Some(share) = stiffness.share_of_limit(&plan.target).filter(|_| stiffness.verdict != Stiff::Enough) {
        let share = pen.percent(share, 0, on_page("plan.deflection_share"));
        out.push(Prose::new("The bending is about ").number(share).text(" of the limit."));
    }
    let yields = if plan.planned.bar.holding == Holding::Centres {
        "That is the bar alone. How far usual centres yield is not known beforehand; they may add about "
    } else {
        "That is the bar alone. How far a usual chuck yields is not known beforehand; it may add about "
    };
    out.push(Prose::new(yields).number(fine(pen, stiffness.support_adds_mm.abs(), "plan.support_adds_mm")).text(
        if stiffness.heavy_times.is_some() {
            ". A heavy pass beside the light ones shows bending and yielding together."
        } else {
            ". A heavy pass beside the light ones would show bending and yielding together, but held like this the bar does not bear one."
        },
    ));
    if stiffness.verdict != Stiff::Enough && !matches!(stiffness.refusal, Some(Refusal::Overhang { .. })) {
        let mut ways = Prose::new("To be safe, ");
        if let Some(depth) = stiffness.depth_that_fits_mm.filter(|depth| *depth >= LEAST_DEPTH_MM) {
            ways = ways.text("cut no deeper than ").number(coarse(pen, depth, "plan.depth_that_fits_mm")).text(" (radial), or ");
        }
        if let Some(length) = stiffness.length_that_fits_mm {
            let length = pen.length(length, on_page("plan.length_that_fits_mm"));
            ways = ways.text("let no more than ").number(length).text(" of the bar stand free, or ");
        }
        out.push(ways.text("take a thicker bar."));
    }
    match stiffness.overhang {
        Some(ratio) => {
            let begin = Prose::new("The bar stands out ").number(pen.with_unit(ratio, 1, "diameters", on_page("plan.overhang"))).text(". ");
            let rule = format!(
                "Without a centre a chuck holds up to {GOOD_OVERHANG} diameters well, and {MOST_OVERHANG} at most (common practice, no source)"
            );
            out.push(if ratio > MOST_OVERHANG {
                begin.text(rule).text(": ").strong("do not cut it like this; shorten it, or put a centre under its end.")
            } else if ratio > GOOD_OVERHANG {
                let light = pen.cut(LIGHT_DEPTH_MM, on_page("plan.light_depth_mm"));
                begin.text(rule).text(": light cuts only, no deeper than ").number(light).text(" (radial), and a full grip.")
            } else {
                begin.text(rule).text(".")
            });
        }
        None if plan.planned.bar.holding == Holding::Centres => out.push(Prose::new(
            "Between centres the bar shows the tailstock's offset and the tool, not the headstock and not the twist of the bed.",
        )),
        None => {}
    }
    out
}

/// A cause in words.
pub fn cause(cause: CauseKind) -> &'static str {
    match cause {
        CauseKind::HeadstockYaw => "headstock out of line",
        CauseKind::BedTwist => "twisted bed",
        CauseKind::ToolWear => "wear of the tool",
        CauseKind::Deflection => "bending of the bar",
        CauseKind::WayWear => "worn ways",
        CauseKind::TailstockOffset => "tailstock beside the axis",
        CauseKind::ThermalDrift => "warming of the tool",
    }
}

/// Causes in words, joined.
pub fn causes(list: &[CauseKind]) -> String {
    let names: Vec<&str> = list.iter().map(|one| cause(*one)).collect();
    match names.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        Some((last, _)) => (*last).to_owned(),
        None => "none".to_owned(),
    }
}

/// What a scheme cannot show.
pub fn cannot(option: &PlanOption) -> &'static str {
    match (option.scheme.stations_mm.len(), option.scheme.cuts()) {
        (2, 1) => "barrel, hourglass, and whether another pass would agree",
        (2, _) => "barrel and hourglass",
        (3, 1) => "a curve beyond barrel, and whether another pass would agree",
        (3, _) => "a curve beyond barrel",
        (_, 1) => "whether another pass would agree",
        _ => "–",
    }
}

/// Largest nose radius of a tool for the test, mm (common practice, no source), and the size that tools in inches have there.
const NOSE_MM: f64 = 0.4;
const NOSE_IN: &str = "1/64";

/// What a good test needs (common practice, no source).
pub fn good_test(units: Units) -> Vec<String> {
    let nose = if units == Units::Inch { format!("{NOSE_IN} in") } else { format!("{NOSE_MM} mm") };
    let mut lines: Vec<String> = GOOD_TEST.iter().map(|line| (*line).to_owned()).collect();
    lines.insert(1, format!("A sharp tool with a nose radius of at most {nose}, set on centre height."));
    lines
}

const GOOD_TEST: [&str; 11] = [
    "Warm the lathe up for 20 to 30 minutes at the speed of the test.",
    "Lock the top slide, and leave the cross slide alone from the beginning of a pass to its end.",
    "Oil on the work, and enough speed that no built-up edge forms.",
    "Turn a relief groove at the end of each pass, clear of the jaws, so that every pass begins and ends in air.",
    "Leave the bar in the chuck, unmoved, until all passes are measured.",
    "Stop the spindle. Take off burrs, wipe bar and gauge.",
    "Wait until the bar has come to room temperature; do not hold gauge or bar longer than needed.",
    "The same hand and the same ratchet for all readings; zero the gauge before and after.",
    "Where two readings are asked for at a station, take the second at 90° to the first; of three, each at 60° to the one before.",
    "Measure the stations of a pass in one go, before the next cut.",
    "When a sale or a purchase hangs on it, repeat the whole test with a second bar.",
];
