//! What to turn, from what was read in a setup: the calculations, asked with the stored machine, holder, tool design and
//! part.
//!
//! A reading is never refused for want of advice: what could not be calculated is said in words beside it.

mod form;
mod history;
mod slide;
mod turns;

use self::{
    form::form_or_slide,
    history::{History, Measured},
};
use super::{
    discard::pieces_to_discard_at,
    event::{DepthReading, HeightReading, Recorded, SizeReading},
    height_limit::HeightLimit,
    plan::{Feature, FeatureKind, StationPlan},
    state::{Setup, StationState},
};
use crate::{
    adjuster::{Adjuster, AdjusterKind},
    calc::{
        AdjusterInput, Calculation, Limits, correction,
        drill_depth::{self, DrillDepth},
        lateral_correction::{self, LateralCorrection},
        rounding::{Unit, rounded},
        setting_adjustment::SettingAdjustment,
    },
    length::{Length, LengthUnit},
    registry::tool_design::{ToolDesignFields, ToolDesignKind},
};
pub(super) use history::is_plausible;
use serde::{Deserialize, Serialize};
use serde_json::Value;
pub use turns::{AdvisedTurn, Expected};

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
    /// The sizes to expect once it is done.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub expected: Vec<Expected>,
    /// How far the setting may lie from where the readings put it: two standard uncertainties of the diameter, either way.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub known_to: Option<Length>,
    /// Whether everything that was read is better left alone.
    #[serde(default)]
    pub leave_alone: bool,
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

    /// Notes the size to expect of a feature.
    fn expect(&mut self, feature: &Feature, size: Option<f64>, unit: LengthUnit) {
        let size = size.and_then(|size| Length::new(size, unit).ok());
        self.expected.extend(size.map(|size| Expected { feature: feature.code.clone(), size }));
    }

    /// Whether every calculation says so. What the pieces and moves say together is said by the screw's calculation where
    /// it is asked next.
    fn leaves_all_alone(&self) -> bool {
        let says = |answer: &Value| answer["result"]["leave_alone"] == true;
        let decides = |answer: &&Value| answer["calculation"] != SettingAdjustment::NAME || says(answer);
        self.answers.iter().any(says) && self.answers.iter().filter(decides).all(says)
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
    advice.leave_alone = advice.leaves_all_alone();
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
            advice.leave_alone = false;
        } else if !feature.tolerance.admit(feature.target, value) && advice.motions().is_empty() {
            advice.sentence =
                format!("{} is outside its limits: measure another piece from the same spindle at once.", feature.code);
            advice.leave_alone = false;
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
            let found = advice.take::<DrillDepth>(&drill_depth::Request {
                unit,
                target_depth: feature.target.value_in(unit),
                measured_depth: Some(depth.value_in(unit)),
                cone: None,
                adjuster: screw.map(|screw| AdjusterInput::from_stored(screw, unit)),
                depth_tolerance: Some(Limits::from_stored(feature.tolerance, unit)),
                aim: None,
                standard_uncertainty: None,
            });
            advice.expect(feature, found.map(|found| found.expected_depth), unit);
            advice.leave_alone = advice.leaves_all_alone();
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
    limit: HeightLimit,
    design: Option<&ToolDesignFields>,
) -> Option<Advice> {
    let HeightReading::Deviation(deviation) = reading else { return None };
    let mut advice = Advice::default();
    let state = &setup.stations[station];
    if limit.leaves_nothing() {
        let apart = limit.spread.map_or_else(String::new, |spread| format!(" by {}", spread.read_off()));
        advice.say(&format!("The spindles' centres differ{apart}: no height serves every spindle."));
        return Some(advice);
    }
    let limit = limit.limit;
    if reading.within(limit) {
        let unit = deviation.unit();
        let (read, limit) = (deviation.words_in(unit), limit.words_in(unit));
        advice.say(&format!("Leave it alone: {read} is within the limit of {limit}."));
        advice.leave_alone = true;
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

/// How far the ways lean along which a height screw lifts the tool: a flat tool's by its clearance, a circular one's not.
fn leaning_of_the_ways(design: &ToolDesignFields) -> f64 {
    match design.kind {
        ToolDesignKind::Flat => design.clearance_deg,
        ToolDesignKind::Circular => 0.0,
    }
}

fn words(value: f64, unit: LengthUnit) -> String {
    format!("{} {}", rounded(value), Unit(unit).sign())
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
    let found = advice.take::<LateralCorrection>(&lateral_correction::Request {
        unit,
        target_length: feature.target.value_in(unit),
        measured_length: length.mean(unit),
        measured_from,
        adjuster: AdjusterInput::from_stored(screw, unit),
        length_tolerance: Some(Limits::from_stored(feature.tolerance, unit)),
        aim: None,
        length_standard_uncertainty: None,
    });
    advice.expect(feature, found.map(|found| found.expected_length), unit);
}

impl Advice {
    /// Advice as an event keeps it.
    #[must_use]
    pub fn to_stored(&self) -> Option<Value> {
        serde_json::to_value(self).ok()
    }
}
