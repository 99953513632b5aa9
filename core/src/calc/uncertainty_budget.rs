//! `uncertainty-budget`: combined and expanded uncertainty, with effective degrees of freedom.

use super::{
    answer::{Answer, Calculation, Source, Work},
    distributions::student_quantile,
    error::{CalculationError, Reader, finite},
    rounding::rounded,
    schema,
};
use crate::length::LengthUnit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct UncertaintyBudget;

/// One contribution.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "UncertaintyComponent")]
pub struct Component {
    /// What contributes.
    #[schemars(length(min = 1))]
    pub name: String,
    /// Its standard uncertainty, in a unit of its own.
    #[schemars(transform = schema::not_negative)]
    pub standard_uncertainty: f64,
    /// Change of the result with it, in the budget's unit over its own.
    #[serde(default = "one")]
    pub sensitivity: f64,
    /// How well its uncertainty is known; infinite when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive)]
    pub degrees_of_freedom: Option<f64>,
}

const fn one() -> f64 {
    1.0
}

const fn usual_coverage() -> f64 {
    0.95
}

/// The budget.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "UncertaintyBudgetRequest")]
pub struct Request {
    /// The unit of the result and of standard uncertainty times sensitivity.
    pub unit: LengthUnit,
    /// The contributions, independent of each other.
    #[schemars(length(min = 1))]
    pub components: Vec<Component>,
    /// The probability that the expanded uncertainty covers.
    #[serde(default = "usual_coverage")]
    #[schemars(transform = schema::probability)]
    pub coverage: f64,
}

/// One line of the budget.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "UncertaintyContribution")]
pub struct Contribution {
    /// What contributes.
    pub name: String,
    /// Standard uncertainty times sensitivity, a magnitude.
    pub contribution: f64,
    /// Its share of the combined variance.
    pub share: f64,
}

/// The uncertainty.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "UncertaintyBudgetResult")]
pub struct Uncertainty {
    /// Combined standard uncertainty.
    pub combined: f64,
    /// Effective degrees of freedom by Welch and Satterthwaite; absent where infinite.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub effective_degrees_of_freedom: Option<f64>,
    /// Student's t of the coverage, with the degrees of freedom rounded down to a whole number.
    pub coverage_factor: f64,
    /// Coverage factor times combined uncertainty.
    pub expanded: f64,
    /// Every line, in the order given.
    pub contributions: Vec<Contribution>,
}

impl Calculation for UncertaintyBudget {
    const NAME: &'static str = "uncertainty-budget";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "Combined and expanded uncertainty, with effective degrees of freedom.";
    const EXAMPLE: &'static str = r#"{"unit": "mm", "components": [
        {"name": "calibration of the micrometer", "standard_uncertainty": 0.001, "degrees_of_freedom": 20},
        {"name": "repeated readings", "standard_uncertainty": 0.0015, "degrees_of_freedom": 9},
        {"name": "temperature of the part", "standard_uncertainty": 0.8, "sensitivity": 0.00024}]}"#;
    type Request = Request;
    type Result = Uncertainty;

    fn calculate(request: &Request) -> Result<Answer<Request, Uncertainty>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        reader.refuse_if(request.components.is_empty(), "/components", "give at least one component");
        let mut lines = Vec::with_capacity(request.components.len());
        for (i, component) in request.components.iter().enumerate() {
            let pointer = |field: &str| format!("/components/{i}/{field}");
            reader.refuse_if(component.name.trim().is_empty(), &pointer("name"), "must not be blank");
            let u = reader.not_negative(&pointer("standard_uncertainty"), component.standard_uncertainty);
            let c = reader.number(&pointer("sensitivity"), component.sensitivity);
            let degrees =
                component.degrees_of_freedom.map(|degrees| reader.positive(&pointer("degrees_of_freedom"), degrees));
            lines.push(((u * c).abs(), degrees));
        }
        let coverage = reader.between("/coverage", request.coverage, 0.0, 1.0);
        reader.finish()?;

        let largest = finite(lines.iter().map(|(u, _)| *u).fold(0.0, f64::max), "/components", "uncertainty")?;
        if largest == 0.0 {
            return Err(CalculationError::field("/components", "every component is zero: nothing is uncertain"));
        }
        // Scaled by the largest, so that no square overflows or vanishes.
        let scaled = |u: f64| u / largest;
        let variance: f64 = lines.iter().map(|(u, _)| scaled(*u).powi(2)).sum();
        let combined = finite(largest * variance.sqrt(), "/components", "uncertainty")?;
        let spread: f64 =
            lines.iter().filter_map(|(u, degrees)| degrees.map(|degrees| scaled(*u).powi(4) / degrees)).sum();
        let effective = (spread > 0.0).then(|| variance * variance / spread).filter(|degrees| degrees.is_finite());
        // Rounded down, as the Guide does; the last bits of a whole number do not cost one.
        let whole = effective
            .map(|degrees| (degrees * (1.0 + 1e-12)).floor())
            .map(|whole| if whole < 1.0 { effective.unwrap_or(1.0) } else { whole });
        let factor = student_quantile(0.5 + coverage / 2.0, whole.unwrap_or(f64::INFINITY));
        let expanded = finite(factor * combined, "/coverage", "expanded uncertainty")?;

        let mut work = Work::unitless(Some(request.unit));
        work.value("u", "combined standard uncertainty, the root of the sum of squares", combined, request.unit.sign());
        if let Some(effective) = effective {
            work.number("ν", "effective degrees of freedom, u⁴ / Σ(uᵢ⁴/νᵢ)", effective);
        }
        work.number("k", "coverage factor, Student's t with ν rounded down", factor);
        let sentence = format!(
            "U = {:.3e} {} covers {:.4} % with k = {factor:.2}.",
            expanded,
            request.unit.sign(),
            100.0 * coverage
        );
        if effective.is_some_and(|degrees| degrees < 5.0) {
            work.caution("Few degrees of freedom: the largest component rests on few observations; take more.");
        }
        let contributions = request
            .components
            .iter()
            .zip(&lines)
            .map(|(component, (u, _))| Contribution {
                name: component.name.clone(),
                contribution: rounded(*u),
                share: rounded(scaled(*u).powi(2) / variance),
            })
            .collect();
        let uncertainty = Uncertainty {
            combined: rounded(combined),
            effective_degrees_of_freedom: effective.map(rounded),
            coverage_factor: rounded(factor),
            expanded: rounded(expanded),
            contributions,
        };
        Ok(work.answer::<Self>(
            request.clone(),
            uncertainty,
            sentence,
            &[Source::transcription("JCGM 100:2008 (GUM), 5.1, G.4 and Annex H.1")],
        ))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};
    use proptest::prelude::*;

    const BASE: &str = r#"{"unit": "mm", "components": [
        {"name": "gauge", "standard_uncertainty": 0.003, "degrees_of_freedom": 10},
        {"name": "temperature", "standard_uncertainty": 0.5, "sensitivity": 0.008}]}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "uncertainty-budget",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"components": []}"#, "/components"),
                (r#"{"components": [{"name": "a", "standard_uncertainty": 0}]}"#, "/components"),
                (r#"{"components": [{"name": " ", "standard_uncertainty": 1}]}"#, "/components/0/name"),
                (
                    r#"{"components": [{"name": "a", "standard_uncertainty": -1}]}"#,
                    "/components/0/standard_uncertainty",
                ),
                (
                    r#"{"components": [{"name": "a", "standard_uncertainty": 1, "degrees_of_freedom": 0}]}"#,
                    "/components/0/degrees_of_freedom",
                ),
                (
                    r#"{"components": [{"name": "a", "standard_uncertainty": 1e300, "sensitivity": 1e300}]}"#,
                    "/components",
                ),
                (r#"{"components": [{"name": "a"}]}"#, "/components/0/standard_uncertainty"),
                (r#"{"coverage": 1}"#, "/coverage"),
                (r#"{"coverage": 0}"#, "/coverage"),
                (r#"{"k": 2}"#, "/k"),
            ],
        );
    }

    /// 0.003 and 0.004 make 0.005; ν = 0.005⁴/(0.003⁴/10) = 77.16, so t of 77 (derived; t from scipy 1.17).
    #[test]
    fn a_right_triangle_of_uncertainties() {
        let got = answer(BASE, "uncertainty-budget", "{}");
        assert!((at(&got, "/result/combined") - 0.005).abs() < 1e-16);
        assert!((at(&got, "/result/effective_degrees_of_freedom") - 6250.0 / 81.0).abs() < 1e-10);
        assert!((at(&got, "/result/coverage_factor") - T_77).abs() < 1e-11);
        assert!((at(&got, "/result/contributions/1/share") - 0.64).abs() < 1e-14);
        let sure = answer(BASE, "uncertainty-budget", r#"{"components": [{"name": "a", "standard_uncertainty": 1}]}"#);
        assert!((at(&sure, "/result/coverage_factor") - 1.959_963_984_540_054).abs() < 1e-13);
        assert!(sure["result"].get("effective_degrees_of_freedom").is_none());
    }

    const T_77: f64 = 1.9912543953883846;

    proptest! {
        /// More of anything never makes less, and expanded scales with its components.
        #[test]
        fn budgets_scale_and_grow(u in 1e-6..1.0_f64, v in 1e-6..1.0_f64, more in 0.0..1.0_f64, degrees in 1.0..50.0_f64, scale in 1e-3..1e3_f64) {
            let ask = |u: f64, v: f64| {
                let change = serde_json::json!({"components": [
                    {"name": "a", "standard_uncertainty": u, "degrees_of_freedom": degrees},
                    {"name": "b", "standard_uncertainty": v, "degrees_of_freedom": degrees}]});
                answer(BASE, "uncertainty-budget", &change.to_string())
            };
            let base = ask(u, v);
            prop_assert!(at(&ask(u + more, v), "/result/combined") >= at(&base, "/result/combined"));
            let ratio = at(&ask(scale * u, scale * v), "/result/expanded") / at(&base, "/result/expanded");
            prop_assert!((ratio / scale - 1.0).abs() < 1e-10, "{ratio} {scale}");
            let effective = at(&base, "/result/effective_degrees_of_freedom");
            prop_assert!(effective >= degrees * (1.0 - 1e-12) && effective <= 2.0 * degrees * (1.0 + 1e-12));
        }
    }
}
