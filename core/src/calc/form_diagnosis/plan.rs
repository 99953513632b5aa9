//! From a diagnosis to screws in working order: taper first, then height, then infeed, each with what it does to the
//! next. Lifting the tool along its inclined ways by `Δh` moves it in by `Δh·tan α` and takes `Δh/cos α` of screw;
//! swinging the holder about a pivot off the edge shifts the form along the bar.

use super::{
    Checked, HeightError,
    model::{Solution, State, Unknown},
};
use crate::{
    adjuster::Motion,
    calc::{
        correction::{Correction, Screw},
        taper::RESOLVED,
    },
};

/// The screws that were named.
pub(super) struct Screws {
    pub(super) infeed: Option<Screw>,
    pub(super) height: Option<Screw>,
    pub(super) taper: Option<Screw>,
}

/// What to turn, and what stands afterwards.
pub(super) struct Plan {
    pub(super) corrections: Vec<Correction>,
    pub(super) after: State,
    pub(super) lateral_shift: Option<f64>,
    pub(super) leave_alone: Option<String>,
    pub(super) sentence: String,
    pub(super) cautions: Vec<String>,
}

pub(super) fn taper_significant(solution: &Solution) -> bool {
    solution.state[2].abs() > RESOLVED * solution.uncertainty(Unknown::Taper)
}

pub(super) fn plan(checked: &Checked, solution: &Solution, height: Option<&HeightError>, settled: bool) -> Plan {
    let mut plan = Plan {
        corrections: Vec::new(),
        after: solution.state,
        lateral_shift: None,
        leave_alone: None,
        sentence: String::new(),
        cautions: Vec::new(),
    };
    if settled {
        plan.leave_alone = Some("every fitted diameter lies in the middle half of its limits".to_owned());
        return plan;
    }
    let mut pending = Vec::new();
    taper(checked, solution, &mut plan, &mut pending);
    let gauge_first = self::height(checked, solution, height, &mut plan, &mut pending);
    if gauge_first {
        pending.push(
            "put the gauge back and bring the edge to centre: these readings show a height error but not its sense; \
             then cut and measure again before the slide is moved"
                .to_owned(),
        );
    } else {
        infeed(checked, solution, &mut plan, &mut pending);
    }
    if plan.corrections.is_empty() && pending.is_empty() {
        plan.leave_alone = Some(
            if checked.smallest_move > 0.0 {
                "every error is smaller than these readings can resolve or than the smallest useful move"
            } else {
                "every error is smaller than these readings can resolve"
            }
            .to_owned(),
        );
    }
    let mut parts: Vec<String> = plan
        .corrections
        .iter()
        .enumerate()
        .map(|(i, correction)| format!("{}. {}", i + 1, correction.sentence))
        .collect();
    parts.extend(pending.iter().map(|text| {
        let mut letters = text.chars();
        letters.next().map_or(String::new(), |first| format!("{}{}.", first.to_uppercase(), letters.as_str()))
    }));
    plan.sentence = parts.join(" ");
    plan
}

fn taper(checked: &Checked, solution: &Solution, plan: &mut Plan, pending: &mut Vec<String>) {
    let slope = solution.state[2];
    let reach = checked.form.points.iter().map(|p| p.z.abs()).fold(0.0, f64::max);
    if !taper_significant(solution) || slope.abs() * reach < checked.smallest_move {
        return;
    }
    let Some(screw) = &checked.screws.taper else {
        pending.push(format!("a taper of {:.4} degrees stays: no taper screw was named", slope.atan().to_degrees()));
        return;
    };
    let motion = if slope > 0.0 { Motion::FarDiameterDown } else { Motion::FarDiameterUp };
    let effect = format!("and {:.4} degrees of half angle go", slope.atan().abs().to_degrees());
    plan.corrections.push(screw.correct(checked.unit, motion, screw.arm * slope.abs(), &effect, None));
    plan.after[2] = 0.0;
    if let Some(pivot) = checked.pivot_x {
        // The edge stands at −(pivot − r₁) from the pivot; turned back by φ it moves by −(pivot − r₁)·sin φ along z.
        let shift = -(pivot - checked.form.smallest) * slope.atan().sin();
        plan.lateral_shift = Some(shift);
        plan.cautions.push(format!(
            "Swinging the holder shifts the form {} {} the collet.",
            checked.unit.words(shift.abs()),
            if shift < 0.0 { "toward" } else { "away from" }
        ));
    }
    plan.cautions.push(
        "Moving the holder re-opens the approach and the first piece, and the height after clamping should be read \
         again. Retighten the holder and leave its side screw free."
            .to_owned(),
    );
}

/// Returns whether the gauge has to settle the height before anything else is known.
fn height(
    checked: &Checked,
    solution: &Solution,
    found: Option<&HeightError>,
    plan: &mut Plan,
    pending: &mut Vec<String>,
) -> bool {
    let Some(found) = found.filter(|found| found.significant) else { return false };
    let error = if checked.form.raked { solution.state[1] } else { solution.state[1].max(0.0).sqrt() };
    if error.abs() < checked.smallest_move {
        return false;
    }
    if !found.sign_known {
        return true;
    }
    let Some(screw) = &checked.screws.height else {
        pending.push(format!("a height error of {} stays: no height screw was named", checked.unit.words(error)));
        return false;
    };
    let motion = if error > 0.0 { Motion::EdgeDown } else { Motion::EdgeUp };
    let (sine, cosine) = checked.clearance.sin_cos();
    let effect = format!("by {}", checked.unit.words(error.abs()));
    plan.corrections.push(screw.correct(checked.unit, motion, error.abs() / cosine, &effect, None));
    plan.after[1] = 0.0;
    plan.after[0] += error * sine / cosine;
    plan.cautions.push(
        "Turn the height screw only with the tool unclamped; clamp, and read the height on the gauge again. Along the \
         inclined ways a change of height also moves the tool in or out: the infeed below counts that in."
            .to_owned(),
    );
    false
}

fn infeed(checked: &Checked, solution: &Solution, plan: &mut Plan, pending: &mut Vec<String>) {
    if !checked.solve_for.contains(&Unknown::Infeed) {
        return;
    }
    let others_stay = plan.after[1] != 0.0 || plan.after[2] != 0.0;
    let best = if others_stay { checked.form.best_infeed(&plan.after).unwrap_or(0.0) } else { 0.0 };
    let out = plan.after[0] - best;
    let c = &solution.covariance;
    let uncertainty = if others_stay {
        checked.form.mean_infeed_uncertainty(&plan.after)
    } else {
        // δ + h·tan α, when the height was corrected; its variance with the covariance of the two.
        let t = if solution.state[1] == 0.0 { 0.0 } else { checked.clearance.tan() };
        (c[0][0] + t * t * c[1][1] + 2.0 * t * c[0][1]).max(0.0).sqrt()
    };
    if out.abs() <= RESOLVED * uncertainty || out.abs() < checked.smallest_move {
        return;
    }
    let Some(screw) = &checked.screws.infeed else {
        pending.push(format!(
            "the tool stands {} too far {}: no slide screw was named",
            checked.unit.words(out.abs()),
            if out > 0.0 { "out" } else { "in" }
        ));
        return;
    };
    let motion = if out > 0.0 { Motion::ToolIn } else { Motion::ToolOut };
    plan.after[0] = best;
    let first = checked.form.diameters(&plan.after).first().copied().unwrap_or(f64::NAN);
    let effect = format!("by {}", checked.unit.words(out.abs()));
    let expect = format!("{} at the first place measured", checked.unit.words(first));
    plan.corrections.push(screw.correct(checked.unit, motion, out.abs(), &effect, Some(&expect)));
    plan.cautions.push(
        "Pieces already formed at this station tell nothing about the new setting: throw them away first.".to_owned(),
    );
}
