//! Terms of the curve: lack of fit, order, direction.

use super::super::cut::Cut;
use super::super::pooled::PooledFit;
use super::super::taper_fit::TaperFit;
use super::super::{LackOfFit, OrderCandidate, ShapeTest};
use super::{LEVEL, made, not_made};
use crate::shape::zeros::unlike_zeros;
use crate::statistics::distributions::t_two_sided_p;
use crate::statistics::{PureError, Repeats};
use crate::trial::Trial;

/// F of lack of fit: repeats at one station within one pass are the pure error (e-Handbook of Statistical Methods, 4.4.4.6).
///
/// With two stations the only lack that the levels and the slope leave is that slopes of passes differ, which a slope a pass then takes away: another question.
///
/// # Errors
/// Why it cannot be made, with what would allow it: two stations, no repeats, no stations left over beyond the curve, repeats that agree exactly.
pub(super) fn lack_of_fit(cut: &Cut<'_>, drawn: &PooledFit<'_>) -> Result<LackOfFit, &'static str> {
    if cut.stations.len() < 3 {
        return Err(
            "Not made: two stations show a straight line and nothing beside it; more stations, with readings repeated at each, would allow it.",
        );
    }
    let mut pure = PureError::default();
    let sums = cut.sums();
    let group =
        |run: &usize| Repeats { count: cut.of_run(*run).len(), weight: cut.weight(*run), mean: sums.mean(*run), square: sums.square(*run) };
    let mut here = Vec::new();
    for pass in &cut.finishing {
        cut.each_place(pass, |runs| {
            here.clear();
            here.extend(runs.iter().map(group));
            pure.add_repeats(&here);
        });
    }
    if pure.dof < 1.0 {
        return Err("Not made: it needs readings repeated at one station within one pass; two readings at each station would allow it.");
    }
    if drawn.dof - pure.dof < 1.0 {
        return Err(
            "Not made: the curve has as many terms as there are stations to follow, so that it passes through the mean of each; more stations would allow it.",
        );
    }
    let test = pure.against(drawn.residual_square, drawn.dof).ok_or(
        "Not made: the repeated readings agree exactly, so that there is no scatter of their own to judge the stations against; a gauge that reads finer would allow it.",
    )?;
    Ok(LackOfFit { f: test.f, dof1: test.dof1, dof2: test.dof2, p: test.p })
}

/// Sentence on lack of fit.
pub(super) fn lack_test(lack: &Result<LackOfFit, &'static str>) -> ShapeTest {
    match lack {
        Err(why) => not_made("lack-of-fit", why),
        Ok(l) if l.p < LEVEL => made(
            "lack-of-fit",
            l.f,
            l.p,
            "The stations stray from the fitted curve by more than repeated readings explain (p below 0.05): there is shape that this curve does not follow.",
        ),
        Ok(l) => made(
            "lack-of-fit",
            l.f,
            l.p,
            "The stations stray from the fitted curve no more than repeated readings explain (p not below 0.05): no sign of further shape.",
        ),
    }
}

/// Whether the passes are more than straight: the comparison that decided for the drawn curve (of two that did, the clearer), or the nearest to deciding where
/// that is a straight line.
///
/// Its p is multiplied by the number of curves that were tried beyond the straight line, so that all of them together find a bend in at most one straight
/// bar in twenty (Bonferroni's inequality). The curve that is drawn is [`choose_order`](super::super::order::choose_order)'s, whatever this says.
pub(super) fn order_test(drawn: &PooledFit<'_>, orders: &[OrderCandidate]) -> ShapeTest {
    let tried = orders.iter().filter(|o| o.order > 1).count();
    if tried == 0 {
        return not_made(
            "order",
            "Not made: a bend cannot be tested with fewer than four distinct stations; the curve is a straight line by default.",
        );
    }
    let compared = || orders.iter().filter_map(|o| Some((o.order, o.added?)));
    let decided = if drawn.order > 1 {
        let last = compared().find(|(order, _)| *order == drawn.order);
        let before = last.and_then(|(_, added)| compared().find(|(order, _)| *order == added.beyond));
        last.into_iter().chain(before).min_by(|a, b| a.1.p.total_cmp(&b.1.p))
    } else {
        compared().min_by(|a, b| a.1.p.total_cmp(&b.1.p))
    };
    let Some((order, added)) = decided else {
        return not_made(
            "order",
            "Not made: no degrees of freedom, or no scatter, to judge a bend against; more stations or repeats would allow it.",
        );
    };
    let p = (tried as f64 * added.p).min(1.0);
    let mut sentence = match (drawn.order, p < LEVEL) {
        (1, false) => "A straight line is enough: the passes show no bend beyond chance (p not below 0.05).".to_owned(),
        (1, true) => "A straight line is drawn, since AICc is no smaller with a bend; but F by itself finds a bend (p below 0.05): more stations or repeats would tell.".to_owned(),
        (2, true) => "These passes bend along the bar (p below 0.05 by F, and a smaller AICc). That counts the readings' scatter alone; whether the mean bend is more than what passes differ by, the sentence on barrel or hourglass says.".to_owned(),
        (drawn, true) => {
            format!("These passes need a curve of order {drawn} (p below 0.05 by F, and a smaller AICc), by the readings' scatter alone.")
        }
        (drawn, false) => format!(
            "A curve of order {drawn} is drawn, since by itself it has p below 0.05 and a smaller AICc; as two curves were tried it is no sure sign of a bend (p not below 0.05)."
        ),
    };
    let terms = if added.dof1 > 1.0 { "terms" } else { "term" };
    sentence.push_str(&format!(" F is that of the {terms} by which order {order} goes beyond order {}", added.beyond));
    sentence.push_str(if tried > 1 { "; its p counts twice, since two curves were tried." } else { "." });
    made("order", added.f, p, sentence)
}

/// Unlike tapers in the two directions, by the mixed model: `F = (difference/standard error)²` with 1 and its degrees of freedom.
///
/// The spread between passes is in the standard error, so that passes which differ from one another do not pass for directions
/// that differ; nor do gauges whose zeros are exchanged between the directions (of infinite degrees of freedom, JCGM 100:2008, G.4.1).
pub(super) fn direction_test(trial: &Trial, cut: &Cut<'_>, fitted: &TaperFit) -> ShapeTest {
    const NAME: &str = "direction";
    let one_way = cut.finishing.iter().all(|p| Some(p.direction) == cut.finishing.first().map(|first| first.direction));
    if one_way {
        return not_made(
            NAME,
            "Not made: all finishing passes were cut one way; a pass cut the other way would show what turns over with the direction.",
        );
    }
    let Some(difference) = fitted.direction_difference else {
        return not_made(NAME, "Not made: the passes of one direction have no slope; two stations or more in each would allow it.");
    };
    let zeros = unlike_zeros(trial, cut, fitted).difference;
    let standard_error = difference.standard_error.hypot(zeros);
    let t = difference.value / standard_error;
    let dof = difference.dof.map_or(f64::INFINITY, |dof| dof * (standard_error / difference.standard_error).powi(4));
    match t_two_sided_p(t, dof) {
        Some(p) if p < LEVEL => made(
            NAME,
            t * t,
            p,
            "The taper depends on the direction of cut (p below 0.05): part of it is not the machine's geometry but turns over with the cut, as tool wear and warming do.",
        ),
        Some(p) => made(
            NAME,
            t * t,
            p,
            "The taper does not differ between the directions of cut by more than scatter and spread between passes explain (p not below 0.05).",
        ),
        None => not_made(NAME, "Not made: the ratio could not be formed."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_level_itself_is_not_below_it() {
        let said = |p: f64| lack_test(&Ok(LackOfFit { f: 3.0, dof1: 2.0, dof2: 9.0, p })).interpretation;
        assert!(
            said(0.05).contains("p not below 0.05") && said(0.049_999).contains("p below 0.05") && said(0.9).contains("p not below 0.05")
        );
    }
}
