//! `form-diagnosis`: infeed, height and taper errors together, from diameters measured along one form, and the screws
//! that mend them.

mod model;
mod plan;
mod request;
#[cfg(test)]
mod tests;

use super::{
    answer::{Answer, Calculation, Source, Work},
    correction::{AdjusterInput, leave_it_alone},
    error::{CalculationError, Reader},
    limits::Zone,
    rounding::{Unit, rounded},
    taper::RESOLVED,
};
use crate::{adjuster::AdjusterKind, length::LengthUnit};
use model::{Form, Point, Solution};
use schemars::JsonSchema;
use serde::Serialize;

pub use model::Unknown;
pub use request::{Adjusters, Reading, Request};

/// The calculation.
#[derive(Debug)]
pub struct FormDiagnosis;

/// The infeed error, at the pivot's `z`.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct InfeedError {
    /// Above zero: the tool stands too far from the axis.
    pub value: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// Whether it stands out from its uncertainty (95 %).
    pub significant: bool,
}

/// The height error.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct HeightError {
    /// Above zero: the edge lies toward +y; only its magnitude where the sign is not known.
    pub value: f64,
    /// Its standard uncertainty. Where only `h²` is seen and it is not significant: how far one standard uncertainty of
    /// `h²` would carry the height.
    pub standard_uncertainty: f64,
    /// Whether the readings tell up from down.
    pub sign_known: bool,
    /// Whether it stands out from its uncertainty (95 %).
    pub significant: bool,
    /// Where only `h²` is seen: the height that 95 % confidence does not exceed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub upper_95: Option<f64>,
    /// The height of another minimum, where there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub other_value: Option<f64>,
}

/// The taper error.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TaperError {
    /// The half angle; above zero the diameter grows away from the collet.
    pub half_angle_deg: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty_deg: f64,
    /// Whether it stands out from its uncertainty (95 %).
    pub significant: bool,
}

/// What the readings say.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "FormDiagnosisResult")]
pub struct Diagnosis {
    /// The infeed error, where solved for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub infeed: Option<InfeedError>,
    /// The height error, where solved for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height: Option<HeightError>,
    /// The taper error, where solved for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub taper: Option<TaperError>,
    /// Fitted less measured diameter, for every reading.
    pub residuals: Vec<f64>,
    /// Readings used less unknowns.
    pub degrees_of_freedom: usize,
    /// Sum of squared residuals over the squared standard uncertainty.
    pub chi_square: f64,
    /// Whether the readings fit a form that is only displaced.
    pub fits: bool,
    /// The number of the reading that does not fit and was left out, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub doubtful_reading: Option<usize>,
    /// Pairs of unknowns that these readings hardly separate (correlation at least 0.99).
    pub hardly_separated: Vec<[Unknown; 2]>,
    /// The diameters to expect after the corrections, for every reading.
    pub expected_diameters: Vec<f64>,
    /// How far removing the taper moves the form along the bar, away from the collet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lateral_shift: Option<f64>,
    /// Whether nothing is to be turned.
    pub leave_alone: bool,
}

/// One-sided 95 % point of the normal distribution.
const ONE_SIDED_95: f64 = 1.644_853_626_951_472_7;
/// The other minimum is out of the question when its chi-square is worse by this (95 %, one degree of freedom).
const OTHER_MINIMUM: f64 = 3.84;

impl HeightError {
    fn new(solution: &Solution, raked: bool, unit: Unit) -> Self {
        let (seen, uncertainty) = (solution.state[1], solution.uncertainty(Unknown::Height));
        if raked {
            let significant = seen.abs() > RESOLVED * uncertainty;
            let alone = solution.other.is_none_or(|(_, worse)| worse >= OTHER_MINIMUM);
            return Self {
                value: unit.outward(seen),
                standard_uncertainty: unit.outward(uncertainty),
                sign_known: significant && alone,
                significant,
                upper_95: None,
                other_value: solution.other.map(|(height, _)| unit.outward(height)),
            };
        }
        let root = |square: f64| square.max(0.0).sqrt();
        let significant = seen > ONE_SIDED_95 * uncertainty;
        let spread = if significant { uncertainty / (2.0 * root(seen)) } else { root(seen + uncertainty) - root(seen) };
        Self {
            value: unit.outward(root(seen)),
            standard_uncertainty: unit.outward(spread),
            sign_known: false,
            significant,
            upper_95: Some(unit.outward(root(seen + ONE_SIDED_95 * uncertainty))),
            other_value: None,
        }
    }
}

/// Everything checked and in millimetres.
struct Checked {
    form: Form,
    clearance: f64,
    solve_for: Vec<Unknown>,
    zones: Option<Vec<Zone>>,
    pivot_x: Option<f64>,
    smallest_move: f64,
    screws: plan::Screws,
    unit: Unit,
}

fn read(request: &Request) -> Result<Checked, CalculationError> {
    let mut reader = Reader::new(request.unit);
    let (clearance, rake) = reader.tool_angles(request.clearance_deg, request.rake_deg);
    let smallest = reader.positive_length("/smallest_diameter", request.smallest_diameter) / 2.0;
    let uncertainty = reader.positive_length("/diameter_standard_uncertainty", request.diameter_standard_uncertainty);
    reader.length("/pivot_z", request.pivot_z);
    let pivot_x = request.pivot_x.map(|x| reader.length("/pivot_x", x));
    let smallest_move = request.smallest_move.map_or(0.0, |m| reader.not_negative_length("/smallest_move", m));
    let unit = reader.unit;
    let mut points = Vec::with_capacity(request.readings.len());
    let mut zones = Vec::new();
    for (i, reading) in request.readings.iter().enumerate() {
        let pointer = |field: &str| format!("/readings/{i}/{field}");
        reader.length(&pointer("z"), reading.z);
        let target = reader.positive_length(&pointer("target_diameter"), reading.target_diameter);
        let measured = reader.positive_length(&pointer("measured_diameter"), reading.measured_diameter);
        if target / 2.0 < smallest {
            reader.refuse(pointer("target_diameter"), "a step must not be below the smallest diameter");
        }
        zones.extend(reading.limits.map(|limits| limits.read(&mut reader, &pointer("limits")).middle_half()));
        points.push(Point::new(smallest, rake, unit.difference(reading.z, request.pivot_z), target, measured));
    }
    let mut solve_for = request.solve_for.clone();
    solve_for.sort_unstable();
    solve_for.dedup();
    reader.refuse_if(
        solve_for.is_empty() || solve_for.len() != request.solve_for.len(),
        "/solve_for",
        "name at least one unknown, each once",
    );
    check_enough(&mut reader, request, &solve_for);
    let adjusters = request.adjusters.clone().unwrap_or_default();
    let mut screw = |adjuster: &Option<AdjusterInput>, name: &str, kind: AdjusterKind| {
        adjuster.as_ref().map(|input| input.read(&mut reader, &format!("/adjusters/{name}"), kind))
    };
    let screws = plan::Screws {
        infeed: screw(&adjusters.infeed, "infeed", AdjusterKind::Infeed),
        height: screw(&adjusters.height, "height", AdjusterKind::Height),
        taper: screw(&adjusters.taper, "taper", AdjusterKind::Taper),
    };
    reader.finish()?;
    let zones = (zones.len() == points.len()).then_some(zones);
    let form = Form { points, uncertainty, raked: rake != 0.0, smallest };
    Ok(Checked { form, clearance, solve_for, zones, pivot_x, smallest_move, screws, unit })
}

/// Whether there are readings enough, in places that can tell the unknowns apart; says how many more, and where.
fn check_enough(reader: &mut Reader, request: &Request, solve_for: &[Unknown]) {
    let readings = &request.readings;
    let asks = |unknown| solve_for.contains(&unknown);
    let distinct = |value: fn(&Reading) -> f64| readings.iter().any(|r| value(r) != value(&readings[0]));
    let another_z = asks(Unknown::Taper) && !distinct(|r| r.z);
    let another_diameter = asks(Unknown::Height) && asks(Unknown::Infeed) && !distinct(|r| r.target_diameter);
    let missing = solve_for.len().saturating_sub(readings.len());
    let place = match (another_z, another_diameter) {
        (true, true) => "at another z and on another diameter",
        (true, false) => "at another z",
        (false, true) => "on another diameter",
        (false, false) => "anywhere else along the form",
    };
    if missing > 0 {
        reader.refuse(
            "/readings",
            format!(
                "{} readings cannot give {} unknowns: measure {missing} more, {place}, or solve for fewer unknowns",
                readings.len(),
                solve_for.len()
            ),
        );
    } else if another_z && (asks(Unknown::Infeed) || readings.iter().all(|r| r.z == request.pivot_z)) {
        reader.refuse("/readings", format!("readings at one z cannot give taper: measure 1 more, {place}"));
    } else if another_diameter {
        reader.refuse(
            "/readings",
            format!("readings on one diameter cannot tell height from infeed: measure 1 more, {place}"),
        );
    }
}

impl Calculation for FormDiagnosis {
    const NAME: &'static str = "form-diagnosis";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "Infeed, height and taper errors together, from diameters measured along one form, with \
         their uncertainties and the screws that mend them.";
    const EXAMPLE: &'static str = r#"{"unit": "in", "clearance_deg": 12, "rake_deg": 8, "smallest_diameter": 0.4,
        "readings": [
            {"z": 0, "target_diameter": 0.4, "measured_diameter": 0.4021},
            {"z": 0.2, "target_diameter": 0.6, "measured_diameter": 0.6018},
            {"z": 0.4, "target_diameter": 0.5, "measured_diameter": 0.5024},
            {"z": 0.6, "target_diameter": 0.8, "measured_diameter": 0.8017, "limits": {"lower": -0.002, "upper": 0.001}},
            {"z": 0.9, "target_diameter": 0.7, "measured_diameter": 0.7028}],
        "diameter_standard_uncertainty": 0.0002, "pivot_z": 0.1,
        "adjusters": {
            "infeed": {"travel_per_turn": 0.05, "ratio": 0.5, "clockwise_moves": "tool_in", "has_stop": true},
            "height": {"threads": [{"per_inch": 28, "hand": "right"}], "clockwise_moves": "edge_up"},
            "taper": {"travel_per_turn": 0.04, "arm": 2.5, "clockwise_moves": "far_diameter_up"}}}"#;
    type Request = Request;
    type Result = Diagnosis;

    fn calculate(request: &Request) -> Result<Answer<Request, Diagnosis>, CalculationError> {
        let checked = read(request)?;
        let Checked { form, unit, solve_for, .. } = &checked;
        let unit = *unit;
        let solution = model::solve(form, solve_for)?;
        let asks = |unknown| solve_for.contains(&unknown);
        let height = asks(Unknown::Height).then(|| HeightError::new(&solution, form.raked, unit));
        let fits = solution.fit_probability() >= 0.01;

        let mut work = Work::new(unit);
        show(&mut work, &checked, &solution);
        let made = form.diameters(&solution.state);
        let settled = checked.zones.as_ref().is_some_and(|zones| {
            zones.iter().zip(&made).zip(&form.points).all(|((zone, made), point)| zone.holds(made - point.target))
        });
        let plan = plan::plan(&checked, &solution, height.as_ref(), settled);
        let expected = form.diameters(&plan.after);
        let infeed_uncertainty = solution.uncertainty(Unknown::Infeed);
        let half = solution.state[2].atan();
        let half_uncertainty = solution.uncertainty(Unknown::Taper) * half.cos().powi(2);
        let diagnosis = Diagnosis {
            infeed: asks(Unknown::Infeed).then(|| InfeedError {
                value: unit.outward(solution.state[0]),
                standard_uncertainty: unit.outward(infeed_uncertainty),
                significant: solution.state[0].abs() > RESOLVED * infeed_uncertainty,
            }),
            height,
            taper: asks(Unknown::Taper).then(|| TaperError {
                half_angle_deg: rounded(half.to_degrees()),
                standard_uncertainty_deg: rounded(half_uncertainty.to_degrees()),
                significant: plan::taper_significant(&solution),
            }),
            residuals: made.iter().zip(&form.points).map(|(made, p)| unit.outward(made - p.measured)).collect(),
            degrees_of_freedom: solution.degrees_of_freedom,
            chi_square: rounded(solution.chi_square),
            fits,
            doubtful_reading: solution.left_out.map(|index| index + 1),
            hardly_separated: hardly_separated(&solution, solve_for),
            expected_diameters: expected.iter().map(|diameter| unit.outward(*diameter)).collect(),
            lateral_shift: plan.lateral_shift.map(|shift| unit.outward(shift)),
            leave_alone: plan.leave_alone.is_some(),
        };
        caution(&mut work, request, &diagnosis);
        let sentence = match &plan.leave_alone {
            Some(reason) => leave_it_alone(reason),
            None => plan.sentence,
        };
        work.corrections = plan.corrections;
        for text in plan.cautions {
            work.caution(text);
        }
        work.caution_hands();
        Ok(work.answer::<Self>(
            request.clone(),
            diagnosis,
            sentence,
            &[
                Source::GEOMETRY,
                Source::recalled("weighted non-linear least squares: K. Levenberg (1944), D. W. Marquardt (1963)"),
            ],
        ))
    }
}

fn show(work: &mut Work, checked: &Checked, solution: &Solution) {
    for unknown in &checked.solve_for {
        match unknown {
            Unknown::Infeed => {
                work.length("δ", "infeed error at the pivot", solution.state[0]);
            }
            Unknown::Height if checked.form.raked => work.length("h", "height error", solution.state[1]),
            Unknown::Height => {
                let per = checked.unit.inward(1.0);
                let square = match checked.unit.0 {
                    LengthUnit::Inch => "in2",
                    LengthUnit::Millimetre => "mm2",
                };
                work.value(
                    "q",
                    "square of the height error; below zero, noise",
                    solution.state[1] / (per * per),
                    square,
                );
            }
            Unknown::Taper => work.number("tan φ", "taper error", solution.state[2]),
        }
    }
    work.number("χ²", "sum of squared residuals over the squared standard uncertainty", solution.chi_square);
    work.number("p", "probability of a larger χ² when the readings fit", solution.fit_probability());
}

fn hardly_separated(solution: &Solution, solve_for: &[Unknown]) -> Vec<[Unknown; 2]> {
    let mut pairs = Vec::new();
    for (i, &a) in solve_for.iter().enumerate() {
        for &b in &solve_for[i + 1..] {
            let product = solution.uncertainty(a) * solution.uncertainty(b);
            if solution.covariance[a.index()][b.index()].abs() >= 0.99 * product {
                pairs.push([a, b]);
            }
        }
    }
    pairs
}

fn caution(work: &mut Work, request: &Request, diagnosis: &Diagnosis) {
    if let Some(number) = diagnosis.doubtful_reading {
        let reading = &request.readings[number - 1];
        work.caution(format!(
            "Reading {number} ({} at z = {}) does not fit the others and was left out: measure it again.",
            reading.measured_diameter, reading.z
        ));
    } else if !diagnosis.fits {
        work.caution(
            "These readings do not fit a form that is only displaced: measure again, and check the tool's profile and the \
             stated uncertainty.",
        );
    }
    if diagnosis.degrees_of_freedom == 0 {
        work.caution("No reading is left over: nothing checks that these fit.");
    }
    for [a, b] in &diagnosis.hardly_separated {
        work.caution(format!(
            "These readings hardly separate {} from {}: measure farther apart and on diameters that differ more.",
            a.name(),
            b.name()
        ));
    }
}
