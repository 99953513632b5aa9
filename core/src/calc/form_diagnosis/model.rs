//! The model of `form-diagnosis` and its fit.
//!
//! A reading at `z` on a step whose edge stands at `(x, y)` on centre measures
//! `D = 2√((x + δ + (z − z₀) tan φ)² + (y + h)²)`: infeed `δ`, height `h`, taper `φ`. Without rake every `y` is zero and
//! only `h²` is seen; then `q = h²` is the unknown, and it may come out below zero, as noise around nothing does.

use crate::calc::{
    error::CalculationError,
    form_geometry::edge,
    least_squares::{Fit, FitError, Model, fit},
};
use nalgebra::SVector;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// What the readings can be solved for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[schemars(rename = "FormUnknown")]
pub enum Unknown {
    /// How far the tool stands out.
    Infeed,
    /// How high the edge stands.
    Height,
    /// How far the holder is swung.
    Taper,
}

impl Unknown {
    /// All three.
    pub const ALL: [Self; 3] = [Self::Infeed, Self::Height, Self::Taper];

    pub(super) const fn index(self) -> usize {
        match self {
            Self::Infeed => 0,
            Self::Height => 1,
            Self::Taper => 2,
        }
    }

    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Infeed => "infeed",
            Self::Height => "height",
            Self::Taper => "taper",
        }
    }
}

/// One reading, in millimetres.
#[derive(Clone, Copy, Debug)]
pub(super) struct Point {
    pub(super) x: f64,
    pub(super) y: f64,
    /// From the pivot, along the axis.
    pub(super) z: f64,
    pub(super) target: f64,
    pub(super) measured: f64,
}

impl Point {
    pub(super) fn new(smallest: f64, rake: f64, z: f64, target: f64, measured: f64) -> Self {
        let (x, y) = edge(smallest, target / 2.0, rake);
        Self { x, y, z, target, measured }
    }
}

/// `[δ, h or q, tan φ]`.
pub(super) type State = [f64; 3];

/// The readings of one form, and whether its height is seen as `h` or only as `h²`.
#[derive(Clone, Debug)]
pub(super) struct Form {
    pub(super) points: Vec<Point>,
    pub(super) uncertainty: f64,
    pub(super) raked: bool,
    pub(super) smallest: f64,
}

impl Form {
    /// The diameter of a point in a state and its derivatives; `None` where the tool would stand beyond the axis.
    fn diameter(&self, point: &Point, state: &State) -> Option<(f64, [f64; 3])> {
        let x = point.x + state[0] + point.z * state[2];
        let y = point.y + state[1];
        let square = if self.raked { x * x + y * y } else { x * x + state[1] };
        if x <= 0.0 || square <= 0.0 {
            return None;
        }
        let radius = square.sqrt();
        let by_x = 2.0 * x / radius;
        let by_height = if self.raked { 2.0 * y / radius } else { 1.0 / radius };
        Some((2.0 * radius, [by_x, by_height, by_x * point.z]))
    }

    /// The diameters that a state makes.
    pub(super) fn diameters(&self, state: &State) -> Vec<f64> {
        self.points.iter().map(|p| self.diameter(p, state).map_or(f64::NAN, |(d, _)| d)).collect()
    }

    /// The infeed at which a state makes the targets best, the other two standing as they are.
    pub(super) fn best_infeed(&self, state: &State) -> Option<f64> {
        let mut aimed = self.clone();
        for point in &mut aimed.points {
            point.measured = point.target;
        }
        let mut start = *state;
        start[0] = 0.0;
        let problem = Problem { form: &aimed, which: [Unknown::Infeed], others: start, skip: None };
        fit(&problem, SVector::from([0.0])).ok().map(|found| found.unknowns[0])
    }

    /// The standard uncertainty of a mean infeed, the other unknowns standing as they are.
    pub(super) fn mean_infeed_uncertainty(&self, state: &State) -> f64 {
        let weight: f64 = self.points.iter().filter_map(|p| self.diameter(p, state)).map(|(_, by)| by[0] * by[0]).sum();
        self.uncertainty / weight.sqrt()
    }
}

struct Problem<'a, const N: usize> {
    form: &'a Form,
    which: [Unknown; N],
    /// Where the unknowns stand that are not solved for.
    others: State,
    skip: Option<usize>,
}

impl<const N: usize> Problem<'_, N> {
    fn state(&self, unknowns: &SVector<f64, N>) -> State {
        let mut state = self.others;
        for (unknown, value) in self.which.iter().zip(unknowns.iter()) {
            state[unknown.index()] = *value;
        }
        state
    }
}

impl<const N: usize> Model<N> for Problem<'_, N> {
    fn len(&self) -> usize {
        self.form.points.len() - usize::from(self.skip.is_some())
    }

    fn residual(&self, index: usize, unknowns: &SVector<f64, N>) -> Option<(f64, SVector<f64, N>)> {
        let index = index + usize::from(self.skip.is_some_and(|skip| index >= skip));
        let point = &self.form.points[index];
        let (diameter, by) = self.form.diameter(point, &self.state(unknowns))?;
        let weight = 1.0 / self.form.uncertainty;
        Some(((diameter - point.measured) * weight, SVector::from_fn(|i, _| by[self.which[i].index()] * weight)))
    }
}

/// What the readings say.
#[derive(Clone, Debug)]
pub(super) struct Solution {
    pub(super) state: State,
    /// Covariance in the order infeed, height, taper; zero for what was not solved.
    pub(super) covariance: [[f64; 3]; 3],
    pub(super) chi_square: f64,
    pub(super) degrees_of_freedom: usize,
    /// The height of another minimum, and how much worse its chi-square is.
    pub(super) other: Option<(f64, f64)>,
    /// The reading that was left out because it does not fit, from 0.
    pub(super) left_out: Option<usize>,
}

impl Solution {
    pub(super) fn uncertainty(&self, unknown: Unknown) -> f64 {
        self.covariance[unknown.index()][unknown.index()].max(0.0).sqrt()
    }

    /// The probability of a chi-square at least this large when the readings fit; 1 when nothing is left over.
    pub(super) fn fit_probability(&self) -> f64 {
        probability(self.chi_square, self.degrees_of_freedom)
    }
}

fn probability(chi_square: f64, degrees_of_freedom: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
    ChiSquared::new(degrees_of_freedom as f64).map_or(1.0, |distribution| distribution.sf(chi_square))
}

/// Below this probability the readings do not fit together.
const MISFIT: f64 = 1e-4;
/// At least this probability, and they do.
const FITTING: f64 = 1e-2;

/// Solves, and when one reading alone spoils the fit, solves without it and says which.
pub(super) fn solve(form: &Form, which: &[Unknown]) -> Result<Solution, CalculationError> {
    let whole = solve_without(form, which, None)?;
    let left = form.points.len().saturating_sub(1);
    if whole.fit_probability() >= MISFIT || left <= which.len() {
        return Ok(whole);
    }
    let mut fits: Vec<Solution> =
        (0..form.points.len()).filter_map(|skip| solve_without(form, which, Some(skip)).ok()).collect();
    fits.sort_by(|a, b| a.chi_square.total_cmp(&b.chi_square));
    match fits.as_slice() {
        // Only when every other reading left out instead still misfits is this one the culprit.
        [best, second, ..] if best.fit_probability() >= FITTING && second.fit_probability() < MISFIT => {
            Ok(best.clone())
        }
        _ => Ok(whole),
    }
}

fn solve_without(form: &Form, which: &[Unknown], skip: Option<usize>) -> Result<Solution, CalculationError> {
    match *which {
        [a] => solve_n(form, [a], skip),
        [a, b] => solve_n(form, [a, b], skip),
        [a, b, c] => solve_n(form, [a, b, c], skip),
        _ => Err(CalculationError::field("/solve_for", "name at least one unknown, each once")),
    }
}

fn solve_n<const N: usize>(
    form: &Form,
    which: [Unknown; N],
    skip: Option<usize>,
) -> Result<Solution, CalculationError> {
    let problem = Problem { form, which, others: [0.0; 3], skip };
    let height = which.iter().position(|unknown| *unknown == Unknown::Height);
    #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
    let mean = form.points.iter().map(|p| (p.measured - p.target) / 2.0).sum::<f64>() / form.points.len() as f64;
    let start = |h: f64| {
        SVector::<f64, N>::from_fn(|i, _| match which[i] {
            Unknown::Infeed => mean,
            Unknown::Height => h,
            Unknown::Taper => 0.0,
        })
    };
    let (best, other) = match height {
        // Both senses of height are tried: each can be a minimum of its own. The third start mirrors the better of the
        // two in the mean fall of the face, about which the sum of squares is nearly even.
        Some(at) if form.raked => {
            let offset = 0.02 * form.smallest;
            let mut found: Vec<Fit<N>> =
                [offset, -offset].into_iter().filter_map(|h| fit(&problem, start(h)).ok()).collect();
            if found.is_empty() {
                found.push(fit(&problem, start(0.0)).map_err(|error| refusal(error, &which))?);
            }
            found.sort_by(|a, b| a.sum_of_squares.total_cmp(&b.sum_of_squares));
            #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
            let fall = form.points.iter().map(|p| p.y).sum::<f64>() / form.points.len() as f64;
            found.extend(fit(&problem, start(-2.0 * fall - found[0].unknowns[at])).ok());
            found.sort_by(|a, b| a.sum_of_squares.total_cmp(&b.sum_of_squares));
            let best = found.swap_remove(0);
            let apart = |fit: &&Fit<N>| (fit.unknowns[at] - best.unknowns[at]).abs() > 1e-6 * form.smallest;
            let other = found
                .iter()
                .filter(apart)
                .min_by(|a, b| a.sum_of_squares.total_cmp(&b.sum_of_squares))
                .map(|fit| (fit.unknowns[at], fit.sum_of_squares - best.sum_of_squares));
            (best, other)
        }
        _ => (fit(&problem, start(0.0)).map_err(|error| refusal(error, &which))?, None),
    };
    let mut covariance = [[0.0; 3]; 3];
    for (i, a) in which.iter().enumerate() {
        for (j, b) in which.iter().enumerate() {
            covariance[a.index()][b.index()] = best.covariance[(i, j)];
        }
    }
    Ok(Solution {
        state: problem.state(&best.unknowns),
        covariance,
        chi_square: best.sum_of_squares,
        degrees_of_freedom: problem.len() - N,
        other,
        left_out: skip,
    })
}

fn refusal(error: FitError, which: &[Unknown]) -> CalculationError {
    let detail = match error {
        FitError::Singular(at) => {
            let names: Vec<&str> = which.iter().take(at).map(|unknown| unknown.name()).collect();
            format!(
                "these readings cannot separate {} from {}: measure at other places along the form and on diameters that \
                 differ more, or solve for fewer unknowns",
                which.get(at).map_or("one unknown", |unknown| unknown.name()),
                if names.is_empty() { "nothing".to_owned() } else { names.join(" and ") },
            )
        }
        FitError::NoStart | FitError::NotConverged => {
            "these readings fit no form that is only displaced: check the target diameters and the places".to_owned()
        }
    };
    CalculationError::field("/readings", detail)
}
