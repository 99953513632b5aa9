//! Several diameters of one form are diagnosed together.

use super::{
    Advice, MEASURING_SHARE,
    history::{History, Measured},
    leaning_of_the_ways, screw,
    slide::slide,
    words,
};
use crate::{
    adjuster::{Adjuster, AdjusterKind},
    calc::{
        AdjusterInput, Limits,
        form_diagnosis::{self, Adjusters, FormDiagnosis, Reading, Unknown},
    },
    length::{Length, LengthUnit},
    registry::tool_design::ToolDesignFields,
    setup::{
        plan::StationPlan,
        state::{Setup, StationState},
    },
};
use serde_json::Value;

/// Several diameters of one form are diagnosed together; one alone is the slide's.
#[expect(clippy::too_many_arguments, reason = "what one station has on record, each by its name")]
pub(super) fn form_or_slide(
    advice: &mut Advice,
    setup: &Setup,
    plan: &StationPlan,
    state: &StationState,
    unit: LengthUnit,
    diameters: &[Measured<'_>],
    history: &History<'_>,
    design: Option<&ToolDesignFields>,
) {
    if diameters.is_empty() {
        return;
    }
    if let Some(request) = design.and_then(|design| form_request(advice, plan, state, unit, diameters, design)) {
        advice.note(format!(
            "each diameter is taken as measured with a standard uncertainty of {}: a tenth of the tightest tolerance is \
             two of them",
            words(request.diameter_standard_uncertainty, unit)
        ));
        advice.note("the holder is taken to swing at the zero of the form's lengths");
        let before = advice.sentence.clone();
        if let Some(found) = advice.take::<FormDiagnosis>(&request) {
            // Readings that no displacement of the form explains turn no screw.
            if !found.fits {
                advice.sentence = before;
                advice.say("These diameters do not fit a form that is only displaced: measure them again before a screw is turned.");
                if let Some(answer) = advice.answers.last_mut() {
                    answer["corrections"] = Value::Array(Vec::new());
                }
                return;
            }
            for (diameter, size) in diameters.iter().zip(&found.expected_diameters) {
                advice.expect(diameter.feature, Some(*size), unit);
            }
            // The infeed is a radius.
            let infeed = found.infeed.map(|infeed| 2.0 * 2.0 * infeed.standard_uncertainty);
            advice.known_to = infeed.and_then(|known| Length::new(known, unit).ok());
            return;
        }
    }
    // The tightest one decides where the slide goes.
    let tightest = diameters.iter().min_by(|a, b| a.width(unit).total_cmp(&b.width(unit)));
    let (Some(diameter), Some(screw)) = (tightest, screw(&plan.adjusters, AdjusterKind::Infeed)) else {
        advice.note("the station has no slide screw on record");
        return;
    };
    slide(advice, setup, unit, diameter, screw, history);
}

/// The request for form-diagnosis, where the readings lie at two places of the form at least.
fn form_request(
    advice: &mut Advice,
    plan: &StationPlan,
    state: &StationState,
    unit: LengthUnit,
    diameters: &[Measured<'_>],
    design: &ToolDesignFields,
) -> Option<form_diagnosis::Request> {
    let mut readings: Vec<Reading> = Vec::with_capacity(diameters.len());
    // One slide moves them all: the form is brought to the middle of their limits, as one alone would be.
    #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
    let aim = diameters.iter().map(|diameter| diameter.middle(unit)).sum::<f64>() / diameters.len() as f64;
    for diameter in diameters {
        let feature = diameter.feature;
        let mut steps = design.steps.iter().filter(|step| step.diameter == feature.target);
        let (Some(step), None) = (steps.next(), steps.next()) else {
            if diameters.len() > 1 {
                advice.note(format!(
                    "where {} lies on the form is not known, for not one step of the design has its diameter: no taper \
                     is looked for",
                    feature.code
                ));
            }
            return None;
        };
        let limits = Limits::from_stored(feature.tolerance, unit);
        let limits = Some(Limits { lower: limits.lower - aim, upper: limits.upper - aim });
        let reading = Reading::from_stored(unit, step.z, feature.target, feature.target);
        let target_diameter = reading.target_diameter + aim;
        readings.push(Reading { target_diameter, measured_diameter: diameter.mean(unit), limits, ..reading });
    }
    let mut places: Vec<f64> = readings.iter().map(|reading| reading.z).collect();
    places.sort_by(f64::total_cmp);
    places.dedup();
    // Two readings cannot give three unknowns: the height was set on the gauge.
    let solve_for = match places.len() {
        0 | 1 => return None,
        2 => vec![Unknown::Infeed, Unknown::Taper],
        _ => Unknown::ALL.to_vec(),
    };
    let holder: &[Adjuster] = state.holder.as_ref().map_or(&[], |holder| &holder.adjusters);
    let input =
        |adjusters: &[Adjuster], kind| screw(adjusters, kind).map(|screw| AdjusterInput::from_stored(screw, unit));
    let tightest = diameters.iter().map(|diameter| diameter.width(unit)).fold(f64::INFINITY, f64::min);
    let smallest = design.steps.iter().map(|step| step.diameter.value_in(unit)).fold(f64::INFINITY, f64::min) + aim;
    Some(form_diagnosis::Request {
        unit,
        clearance_deg: leaning_of_the_ways(design),
        rake_deg: design.rake_deg,
        smallest_diameter: smallest,
        readings,
        diameter_standard_uncertainty: tightest * MEASURING_SHARE,
        pivot_z: 0.0,
        pivot_x: None,
        solve_for,
        adjusters: Some(Adjusters {
            infeed: input(&plan.adjusters, AdjusterKind::Infeed),
            height: input(holder, AdjusterKind::Height),
            taper: input(holder, AdjusterKind::Taper),
        }),
        smallest_move: None,
    })
}
