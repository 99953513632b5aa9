//! What to turn, from what was read in a setup: the calculations, asked with the stored machine, holder, tool design and
//! part.
//!
//! A reading is never refused for want of advice: what could not be calculated is said in words beside it.

mod history;

use self::history::{History, Measured, is_plausible};
use super::{
    discard::pieces_to_discard_at,
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
    registry::tool_design::{ToolDesignFields, ToolDesignKind},
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

    /// The motions that are advised.
    fn motions(&self) -> Vec<&str> {
        let turns = self.answers.iter().filter_map(|answer| answer["corrections"].as_array()).flatten();
        turns.filter_map(|turn| turn["moves"].as_str()).collect()
    }

    /// Closes the advice: what has to be done before the turns, and what is in the machine already says nothing about
    /// them. `moved` are the stations whose work the turns move.
    fn finished(mut self, setup: &Setup, moved: &[usize]) -> Self {
        let motions = self.motions();
        let lifts = motions.iter().any(|motion| motion.starts_with("edge_"));
        let holder =
            lifts || motions.iter().any(|motion| motion.starts_with("far_diameter_") || motion.ends_with("_collet"));
        let turns = !motions.is_empty();
        if holder && setup.is_released() {
            self.sentence
                .insert_str(0, "Stop the run and book its pieces first: a holder's screws are not turned in a run. ");
        }
        if lifts && moved.iter().any(|station| setup.stations[*station].clamped) {
            self.say("Loosen the tool before its height screw is turned.");
        }
        if turns {
            self.pieces_to_discard = pieces_to_discard_at(&setup.plan, moved);
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
    // The side screw moves the holder: what the slide does comes after it.
    for length in others.iter().filter(|measured| measured.feature.kind == FeatureKind::Length) {
        lateral(&mut advice, state, unit, length);
    }
    form_or_slide(&mut advice, setup, plan, state, unit, &diameters, &history, design);
    look_at_the_piece(&mut advice, plan, readings);
    advice.finished(setup, &[station])
}

/// The piece in hand is never passed over for the mean of others: a slip is named, and a size outside its limits is not
/// left alone.
fn look_at_the_piece(advice: &mut Advice, plan: &StationPlan, readings: &[SizeReading]) {
    let known = |reading: &SizeReading| plan.feature(&reading.feature).map(|feature| (feature, reading.value));
    for (feature, value) in readings.iter().filter_map(known) {
        if !is_plausible(feature, value) {
            advice.say(&format!(
                "{} reads {value}, and {} is wanted: check the reading and its unit before a screw is turned.",
                feature.code, feature.target
            ));
        } else if !feature.tolerance.admit(feature.target, value) && advice.motions().is_empty() {
            advice.sentence =
                format!("{} is outside its limits: measure another piece from the same spindle at once.", feature.code);
        }
    }
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
    let affected =
        screw(&plan.adjusters, AdjusterKind::Depth).map(|screw| screw.affects.as_slice()).unwrap_or_default();
    let mut moved: Vec<usize> = affected.iter().filter_map(|code| setup.plan.index_of(code)).collect();
    moved.push(station);
    advice.finished(setup, &moved)
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
        return Some(advice.finished(setup, &[station]));
    };
    if state.clamped {
        advice.say("Loosen the tool first; its height screw is turned only then.");
    }
    let unit = deviation.unit();
    let clearance_deg = design.map_or(0.0, leaning_of_the_ways);
    if clearance_deg == 0.0 {
        advice.note("the ways along which the tool is lifted are taken as upright");
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
            }
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

/// How far the ways lean along which a height screw lifts the tool: a flat tool's by its clearance, a circular one's not.
fn leaning_of_the_ways(design: &ToolDesignFields) -> f64 {
    match design.kind {
        ToolDesignKind::Flat => design.clearance_deg,
        ToolDesignKind::Circular => 0.0,
    }
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
    let spindle = diameter.sizes.last().and_then(|(spindle, _)| *spindle);
    // Pieces of one spindle only: what differs between spindles is no noise of one.
    let of_spindle = |sizes: &[(&SizeReading, Option<u8>, f64)]| -> Vec<(f64, f64)> {
        let same = sizes.iter().filter(|(reading, from, _)| reading.feature == feature.code && *from == spindle);
        same.map(|(reading, _, moved)| (reading.value.value_in(unit), in_unit(*moved, unit))).collect()
    };
    let earlier = of_spindle(&history.sizes[..history.since_change]);
    let mut now = of_spindle(&history.sizes[history.since_change..]);
    now.extend(values.last().map(|size| (size.value_in(unit), in_unit(history.moved, unit))));
    let sigma = diameter.width(unit) * PROCESS_SHARE;
    let followed = follows(&earlier, &now, sigma);
    if earlier.is_empty() || !followed {
        if !followed {
            advice.note("the sizes did not follow the slide's last turn: look for lost motion or the stop; what was before it is left out");
        }
        let mut spindles: Vec<u8> = diameter.sizes.iter().filter_map(|(spindle, _)| *spindle).collect();
        spindles.sort_unstable();
        if spindles == setup.plan.running_spindles && values.len() == spindles.len() {
            request.spindles = u32::try_from(spindles.len()).ok();
        }
        advice.take::<SlideCorrection>(&request);
        return;
    }
    let pieces: Vec<(f64, f64)> = earlier.into_iter().chain(now).collect();
    let after = |i: usize| pieces.get(i + 1).map_or(0.0, |(_, moved)| moved - pieces[i].1);
    let scatter = words(sigma, unit);
    advice.note(format!("pieces of one setting are taken to scatter by {scatter}: an eighth of the tolerance"));
    let middle = diameter.middle(unit);
    let tolerance = Limits::from_stored(limits, unit);
    let moves = SettingAdjustment::calculate(&setting_adjustment::Request {
        unit,
        target: feature.target.value_in(unit) + middle,
        measured: pieces.iter().map(|(size, _)| *size).collect(),
        applied: Some((0..pieces.len()).map(after).collect()),
        process_standard_deviation: sigma,
        tolerance: Some(Limits { lower: tolerance.lower - middle, upper: tolerance.upper - middle }),
        smallest_move: None,
    });
    let found = match moves {
        Ok(answer) => answer,
        Err(error) => return advice.note(format!("{} has no answer: {error}", SettingAdjustment::NAME)),
    };
    advice.answers.extend(serde_json::to_value(&found));
    if found.result.leave_alone {
        return advice.say(&found.sentence);
    }
    // The screw goes by where all pieces say that the slide stands, not by the last one.
    let deviation = found.result.estimated_deviation;
    let side = if deviation > 0.0 { "above" } else { "below" };
    let (count, apart) = (pieces.len(), words(deviation.abs(), unit));
    advice.say(&format!("By all {count} pieces the setting stands {apart} {side} the middle of the limits."));
    request.measured_diameters = vec![feature.target.value_in(unit) + middle + deviation];
    request.diameter_standard_uncertainty = Some(found.result.standard_uncertainty);
    advice.take::<SlideCorrection>(&request);
}

/// Whether the pieces of the present setting are where those before it and the moves between say, within three standard
/// deviations of the difference. Each with its size and the moves made before it.
fn follows(earlier: &[(f64, f64)], now: &[(f64, f64)], sigma: f64) -> bool {
    #[expect(clippy::cast_precision_loss, reason = "counts of pieces")]
    let (m, n) = (earlier.len() as f64, now.len() as f64);
    if m == 0.0 || n == 0.0 {
        return true;
    }
    let unmoved =
        |pieces: &[(f64, f64)], count: f64| pieces.iter().map(|(size, moved)| size - moved).sum::<f64>() / count;
    (unmoved(now, n) - unmoved(earlier, m)).abs() <= 3.0 * sigma * (1.0 / m + 1.0 / n).sqrt()
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
