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
/// # Errors
/// Why it cannot be made, with what would allow it: no repeats, no stations left over beyond the curve, repeats that agree exactly.
pub(super) fn lack_of_fit(cut: &Cut<'_>, drawn: &PooledFit<'_>) -> Result<LackOfFit, &'static str> {
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

/// Sentence on the chosen order.
pub(super) fn order_test(drawn: &PooledFit<'_>, orders: &[OrderCandidate]) -> ShapeTest {
    let tried = orders.iter().filter(|o| o.order > 1).collect::<Vec<_>>();
    let Some(first) = tried.first() else {
        return not_made(
            "order",
            "Not made: a bend cannot be tested with fewer than four distinct stations; the curve is a straight line by default.",
        );
    };
    let shown = tried.iter().find(|o| o.order == drawn.order).unwrap_or(first);
    let (Some(f), Some(p)) = (shown.f, shown.p) else {
        return not_made(
            "order",
            "Not made: no degrees of freedom, or no scatter, to judge a bend against; more stations or repeats would allow it.",
        );
    };
    let sentence = match drawn.order {
        1 => "A straight line is enough: no higher term has both p below 0.05 by F and a smaller AICc.".to_owned(),
        2 => "These passes bend along the bar: the second-order term has p below 0.05 by F and a smaller AICc. That counts the readings' scatter alone; whether the mean bend is more than what passes differ by, the sentence on barrel or hourglass says.".to_owned(),
        order => format!("These passes need a curve of order {order}: its terms have p below 0.05 by F and a smaller AICc, by the readings' scatter alone."),
    };
    made("order", f, p, sentence)
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
