//! What to turn, from what was read in a setup: the calculations, asked with the stored machine, holder, tool design and
//! part.
//!
//! A reading is never refused for want of advice: what could not be calculated is said in words beside it.

mod history;

use self::history::{History, Measured};
use super::{
    discard::pieces_to_discard,
    event::{DepthReading, HeightReading, Recorded, SizeReading},
    plan::{FeatureKind, StationPlan},
    state::{Setup, StationState},
};
use crate::{
    adjuster::{Adjuster, AdjusterKind},
    calc::{
        AdjusterInput, Calculation, Limits, correction,
        drill_depth::{self, DrillDepth},
        form_diagnosis::{self, Adjusters, FormDiagnosis, Reading, Unknown},
        lateral_correction::{self, LateralCorrection},
        rounding::{Unit, rounded},
        setting_adjustment::{self, SettingAdjustment},
        slide_correction::{self, SlideCorrection},
    },
    length::{Length, LengthUnit},
    registry::tool_design::ToolDesignFields,
};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Of the width of a tolerance, the standard uncertainty of a measurement that takes a tenth of it (common practice, no
/// published source): expanded by 2, a tenth is two standard uncertainties either way.
const MEASURING_SHARE: f64 = 1.0 / 20.0;
/// Of the width of a tolerance, the scatter of a process that just fits it four standard deviations either way.
const PROCESS_SHARE: f64 = 1.0 / 8.0;

/// What is advised on a reading.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Advice {
    /// What to do, in words.
    pub sentence: String,
    /// How many pieces drop after a turn that were formed before it; zero where nothing is to be turned.
    pub pieces_to_discard: u64,
    /// The calculations' whole answers, in the order in which they are to be acted on.
    pub answers: Vec<Value>,
    /// What was assumed for want of a record, and what could not be calculated, in words.
    pub notes: Vec<String>,
}

impl Advice {
    /// Takes an answer over, or notes why there is none.
    fn take<C: Calculation>(&mut self, request: &C::Request) -> Option<C::Result> {
        let answer = match C::calculate(request) {
            Ok(answer) => answer,
            Err(error) => {
                self.note(format!("{} has no answer: {error}", C::NAME));
                return None;
            }
        };
        self.say(&answer.sentence);
        self.answers.extend(serde_json::to_value(&answer));
        Some(answer.result)
    }

    fn say(&mut self, sentence: &str) {
        if !self.sentence.is_empty() {
            self.sentence.push(' ');
        }
        self.sentence.push_str(sentence);
    }

    fn note(&mut self, note: impl Into<String>) {
        self.notes.push(note.into());
    }

    /// Closes the advice: what is in the machine already says nothing about a turn.
    fn finished(mut self, setup: &Setup, station: usize) -> Self {
        let turns = |answer: &Value| answer["corrections"].as_array().is_some_and(|turns| !turns.is_empty());
        if self.answers.iter().any(turns) {
            self.pieces_to_discard = pieces_to_discard(&setup.plan, station);
            match self.pieces_to_discard {
                0 => {}
                1 => self.say("The next piece was formed before the turn: throw it away before measuring again."),
                n => self.say(&format!(
                    "The next {n} pieces were formed before the turn: throw them away before measuring again."
                )),
            }
        }
        if self.sentence.is_empty() {
            "No screw is advised.".clone_into(&mut self.sentence);
        }
        self
    }
}

/// What is advised on sizes just read, of a piece from one `spindle` where that is known. `events` are the setup's so far,
/// `design` that of the tool at the station.
#[must_use]
pub fn on_sizes(
    setup: &Setup,
    events: &[Recorded],
    station: usize,
    spindle: Option<u8>,
    readings: &[SizeReading],
    design: Option<&ToolDesignFields>,
) -> Advice {
    let mut advice = Advice::default();
    let (plan, state) = (&setup.plan.stations[station], &setup.stations[station]);
    let unit = readings.first().map_or(LengthUnit::Millimetre, |reading| reading.value.unit());
    let history = History::of(setup, events, station);
    let measured: Vec<Measured<'_>> = plan
        .operation
        .features
        .iter()
        .filter_map(|feature| Measured::of(feature, spindle, readings, &history))
        .collect();
    let (diameters, others): (Vec<_>, Vec<_>) =
        measured.into_iter().partition(|measured| measured.feature.kind == FeatureKind::Diameter);
    form_or_slide(&mut advice, setup, plan, state, unit, &diameters, &history, design);
    for length in others.iter().filter(|measured| measured.feature.kind == FeatureKind::Length) {
        lateral(&mut advice, state, unit, length);
    }
    advice.finished(setup, station)
}

/// What is advised on a depth just read.
#[must_use]
pub fn on_depth(setup: &Setup, station: usize, reading: DepthReading) -> Advice {
    let mut advice = Advice::default();
    let plan = &setup.plan.stations[station];
    let asked = plan.operation.features.iter().find(|feature| feature.kind == FeatureKind::Depth);
    match (asked, reading) {
        (None, _) => advice.note("the part asks for no depth here"),
        (_, DepthReading::MouthDiameter(_)) => advice.note(
            "the drill's cone is not on record: the calculation drill-depth takes its angle and pilot with the mouth",
        ),
        (Some(feature), DepthReading::Depth(depth)) => {
            let unit = depth.unit();
            let screw = screw(&plan.adjusters, AdjusterKind::Depth);
            if screw.is_none() {
                advice.note("the station has no depth screw on record");
            }
            advice.take::<DrillDepth>(&drill_depth::Request {
                unit,
                target_depth: feature.target.value_in(unit),
                measured_depth: Some(depth.value_in(unit)),
                cone: None,
                adjuster: screw.map(|screw| AdjusterInput::from_stored(screw, unit)),
                depth_tolerance: Some(Limits::from_stored(feature.tolerance, unit)),
                aim: None,
                standard_uncertainty: None,
            });
        }
    }
    advice.finished(setup, station)
}

/// What is advised on a height just read; nothing when the edge is on the gauge.
#[must_use]
pub fn on_height(
    setup: &Setup,
    station: usize,
    reading: HeightReading,
    design: Option<&ToolDesignFields>,
) -> Option<Advice> {
    let HeightReading::Deviation(deviation) = reading else { return None };
    let mut advice = Advice::default();
    let state = &setup.stations[station];
    let limit = setup.plan.settings.height_limit;
    if deviation.abs() <= limit {
        advice.say(&format!("Leave it alone: {deviation} is within the limit of {limit}."));
        return Some(advice);
    }
    let Some(screw) = state.holder.as_ref().and_then(|holder| screw(&holder.adjusters, AdjusterKind::Height)) else {
        advice.note("the holder has no height screw on record");
        return Some(advice.finished(setup, station));
    };
    if state.clamped {
        advice.say("Loosen the tool first; its height screw is turned only then.");
    }
    let unit = deviation.unit();
    let clearance_deg = design.map_or(0.0, |design| design.clearance_deg);
    if design.is_none() {
        advice.note("the tool has no design on record: its ways are taken as upright");
    }
    match correction::height_screw(
        &AdjusterInput::from_stored(screw, unit),
        unit,
        deviation.value_in(unit),
        clearance_deg,
    ) {
        Ok(turn) => {
            advice.say(&turn.sentence);
            advice.answers.push(serde_json::json!({"corrections": [turn]}));
        }
        Err(error) => advice.note(format!("the turns of the height screw have no answer: {error}")),
    }
    // Nothing is cut yet that would have to be thrown away for it.
    Some(advice)
}

fn screw(adjusters: &[Adjuster], kind: AdjusterKind) -> Option<&Adjuster> {
    adjusters.iter().find(|screw| screw.kind() == kind)
}

/// Several diameters of one form are diagnosed together; one alone is the slide's.
#[expect(clippy::too_many_arguments, reason = "what one station has on record, each by its name")]
fn form_or_slide(
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
    if let Some(request) = design.and_then(|design| form_request(plan, state, unit, diameters, design)) {
        advice.note(format!(
            "each diameter is taken as measured with a standard uncertainty of {}: a tenth of the tightest tolerance is \
             two of them",
            words(request.diameter_standard_uncertainty, unit)
        ));
        advice.note("the holder is taken to swing at the zero of the form's lengths");
        if advice.take::<FormDiagnosis>(&request).is_some() {
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
    plan: &StationPlan,
    state: &StationState,
    unit: LengthUnit,
    diameters: &[Measured<'_>],
    design: &ToolDesignFields,
) -> Option<form_diagnosis::Request> {
    let mut readings: Vec<Reading> = Vec::with_capacity(diameters.len());
    for diameter in diameters {
        let step = design.steps.iter().find(|step| step.diameter == diameter.feature.target)?;
        let limits = Some(Limits::from_stored(diameter.feature.tolerance, unit));
        let reading = Reading::from_stored(unit, step.z, diameter.feature.target, step.diameter);
        readings.push(Reading { measured_diameter: diameter.mean(unit), limits, ..reading });
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
    let smallest = design.steps.iter().map(|step| step.diameter.value_in(unit)).fold(f64::INFINITY, f64::min);
    Some(form_diagnosis::Request {
        unit,
        clearance_deg: design.clearance_deg,
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

/// After moves of the slide, all pieces since the tool was put in tell where the slide stands; before any, the pieces of
/// the present setting do.
fn slide(
    advice: &mut Advice,
    setup: &Setup,
    unit: LengthUnit,
    diameter: &Measured<'_>,
    screw: &Adjuster,
    history: &History<'_>,
) {
    let (feature, limits) = (diameter.feature, diameter.feature.tolerance);
    let values: Vec<Length> = diameter.sizes.iter().map(|(_, size)| *size).collect();
    let mut request = slide_correction::Request::from_stored(unit, feature.target, &values, screw, Some(limits));
    let earlier: Vec<(f64, f64)> = history.sizes[..history.since_change]
        .iter()
        .filter(|(reading, ..)| reading.feature == feature.code)
        .map(|(reading, _, moved)| (reading.value.value_in(unit), in_unit(*moved, unit)))
        .collect();
    if earlier.is_empty() {
        let mut spindles: Vec<u8> = diameter.sizes.iter().filter_map(|(spindle, _)| *spindle).collect();
        spindles.sort_unstable();
        spindles.dedup();
        if spindles == setup.plan.running_spindles && values.len() == spindles.len() {
            request.spindles = u32::try_from(spindles.len()).ok();
        }
        advice.take::<SlideCorrection>(&request);
        return;
    }
    let now = in_unit(history.moved, unit);
    let pieces: Vec<(f64, f64)> =
        earlier.into_iter().chain(values.iter().map(|size| (size.value_in(unit), now))).collect();
    let after = |i: usize| pieces.get(i + 1).map_or(0.0, |(_, moved)| moved - pieces[i].1);
    let sigma = diameter.width(unit) * PROCESS_SHARE;
    let scatter = words(sigma, unit);
    advice.note(format!("pieces of one setting are taken to scatter by {scatter}: an eighth of the tolerance"));
    let moves = advice.take::<SettingAdjustment>(&setting_adjustment::Request {
        unit,
        target: feature.target.value_in(unit),
        measured: pieces.iter().map(|(size, _)| *size).collect(),
        applied: Some((0..pieces.len()).map(after).collect()),
        process_standard_deviation: sigma,
        tolerance: Some(Limits::from_stored(limits, unit)),
        smallest_move: None,
    });
    // The screw goes by where all pieces say that the slide stands, not by the last one.
    if let Some(found) = moves.filter(|found| !found.leave_alone) {
        request.measured_diameters = vec![feature.target.value_in(unit) + found.estimated_deviation];
        request.diameter_standard_uncertainty = Some(found.standard_uncertainty);
        advice.take::<SlideCorrection>(&request);
    }
}

fn words(value: f64, unit: LengthUnit) -> String {
    format!("{} {}", rounded(value), Unit(unit).sign())
}

fn in_unit(millimetres: f64, unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::Millimetre => millimetres,
        LengthUnit::Inch => millimetres / 25.4,
    }
}

/// Where the form lies along the bar is the side screw's.
fn lateral(advice: &mut Advice, state: &StationState, unit: LengthUnit, length: &Measured<'_>) {
    let feature = length.feature;
    let Some(measured_from) = feature.measured_from else {
        advice.note(format!(
            "the part does not say from which end {} is measured: no side screw is advised",
            feature.code
        ));
        return;
    };
    let Some(screw) = state.holder.as_ref().and_then(|holder| screw(&holder.adjusters, AdjusterKind::Lateral)) else {
        advice.note(format!("the holder has no side screw on record for {}", feature.code));
        return;
    };
    advice.take::<LateralCorrection>(&lateral_correction::Request {
        unit,
        target_length: feature.target.value_in(unit),
        measured_length: length.mean(unit),
        measured_from,
        adjuster: AdjusterInput::from_stored(screw, unit),
        length_tolerance: Some(Limits::from_stored(feature.tolerance, unit)),
        aim: None,
        length_standard_uncertainty: None,
    });
}

impl Advice {
    /// Advice as an event keeps it.
    #[must_use]
    pub fn to_stored(&self) -> Option<Value> {
        serde_json::to_value(self).ok()
    }
}
