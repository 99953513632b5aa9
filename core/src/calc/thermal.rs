//! `thermal`: a size at 20 °C from a size measured warm, part and gauge of different metals.

use super::{
    answer::{Answer, Calculation, Source, Work},
    error::{CalculationError, Reader},
    schema,
};
use crate::length::LengthUnit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct Thermal;

/// The measurement. Against a setting master, as with a comparator, the gauge's temperature and expansion are the
/// master's.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "ThermalRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// The length read.
    #[schemars(transform = schema::positive_length)]
    pub measured_length: f64,
    /// The part's temperature, °C.
    #[schemars(range(min = -100, max = 500))]
    pub part_temperature_c: f64,
    /// The gauge's temperature, or the setting master's, °C.
    #[schemars(range(min = -100, max = 500))]
    pub gauge_temperature_c: f64,
    /// The part's expansion, millionths in a degree.
    #[schemars(range(min = -20, max = 1000))]
    pub part_ppm_per_c: f64,
    /// The gauge's expansion, or the setting master's, millionths in a degree.
    #[schemars(range(min = -20, max = 1000))]
    pub gauge_ppm_per_c: f64,
    /// Standard uncertainty of the length read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::not_negative_length)]
    pub measured_length_uncertainty: Option<f64>,
    /// Standard uncertainty of the part's temperature.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0, max = 1000))]
    pub part_temperature_c_uncertainty: Option<f64>,
    /// Standard uncertainty of the gauge's temperature.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0, max = 1000))]
    pub gauge_temperature_c_uncertainty: Option<f64>,
    /// Standard uncertainty of the part's expansion.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0, max = 1000))]
    pub part_ppm_per_c_uncertainty: Option<f64>,
    /// Standard uncertainty of the gauge's expansion.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0, max = 1000))]
    pub gauge_ppm_per_c_uncertainty: Option<f64>,
}

/// The size at the reference temperature.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "ThermalResult")]
pub struct AtReference {
    /// The length at 20 °C.
    pub length_at_20c: f64,
    /// Add it to the measured length; below zero for a warm part on a cool gauge.
    pub correction: f64,
    /// Its standard uncertainty, where any was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standard_uncertainty: Option<f64>,
}

/// The reference temperature of lengths, °C (ISO 1).
pub const REFERENCE_C: f64 = 20.0;

/// What to add to a length read, in its unit, to have it at 20 °C: `L·(α_g Δt_g − α_p Δt_p)/(1 + α_p Δt_p)`. Expansions
/// in millionths in a degree, temperatures in °C.
#[must_use]
pub fn correction(length: f64, (part_ppm, part_c): (f64, f64), (gauge_ppm, gauge_c): (f64, f64)) -> f64 {
    let part = part_ppm * (part_c - REFERENCE_C) / 1e6;
    let gauge = gauge_ppm * (gauge_c - REFERENCE_C) / 1e6;
    length * (gauge - part) / (1.0 + part)
}

/// A temperature or an expansion within reason.
fn within(reader: &mut Reader, pointer: &str, value: f64, low: f64, high: f64) -> f64 {
    let value = reader.number(pointer, value);
    if value < low || value > high {
        return reader.refuse(pointer, format!("must lie between {low} and {high}"));
    }
    value
}

impl Calculation for Thermal {
    const NAME: &'static str = "thermal";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "A size at 20 °C from a size measured warm, part and gauge of different metals.";
    const EXAMPLE: &'static str = r#"{"unit": "mm", "measured_length": 101.62, "part_temperature_c": 31, "gauge_temperature_c": 22,
        "part_ppm_per_c": 19, "gauge_ppm_per_c": 11.5, "part_temperature_c_uncertainty": 0.5}"#;
    type Request = Request;
    type Result = AtReference;

    fn calculate(request: &Request) -> Result<Answer<Request, AtReference>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let length = reader.positive_length("/measured_length", request.measured_length);
        let part_c = within(&mut reader, "/part_temperature_c", request.part_temperature_c, -100.0, 500.0);
        let gauge_c = within(&mut reader, "/gauge_temperature_c", request.gauge_temperature_c, -100.0, 500.0);
        let part_ppm = within(&mut reader, "/part_ppm_per_c", request.part_ppm_per_c, -20.0, 1000.0);
        let gauge_ppm = within(&mut reader, "/gauge_ppm_per_c", request.gauge_ppm_per_c, -20.0, 1000.0);
        let mut uncertainties = [0.0; 5];
        let given = [
            ("/measured_length_uncertainty", request.measured_length_uncertainty),
            ("/part_temperature_c_uncertainty", request.part_temperature_c_uncertainty),
            ("/gauge_temperature_c_uncertainty", request.gauge_temperature_c_uncertainty),
            ("/part_ppm_per_c_uncertainty", request.part_ppm_per_c_uncertainty),
            ("/gauge_ppm_per_c_uncertainty", request.gauge_ppm_per_c_uncertainty),
        ];
        for (i, (pointer, value)) in given.iter().enumerate() {
            if let Some(value) = *value {
                uncertainties[i] = if i == 0 {
                    reader.not_negative_length(pointer, value)
                } else {
                    let value = reader.not_negative(pointer, value);
                    reader.refuse_if(value > 1000.0, pointer, "must be at most 1000");
                    value
                };
            }
        }
        reader.finish()?;

        let unit = reader.unit;
        let (part_rise, gauge_rise) = (part_c - REFERENCE_C, gauge_c - REFERENCE_C);
        let change = correction(length, (part_ppm, part_c), (gauge_ppm, gauge_c));
        let at_20 = length + change;
        let [u_length, u_part_c, u_gauge_c, u_part_ppm, u_gauge_ppm] = uncertainties;
        let part_size = 1.0 + part_ppm * part_rise / 1e6;
        // Each input's share, then the products of two that remain where a rise or an expansion is itself zero.
        let shares = [
            at_20 / length * u_length,
            at_20 * part_ppm / 1e6 / part_size * u_part_c,
            length * gauge_ppm / 1e6 / part_size * u_gauge_c,
            at_20 * part_rise / 1e6 / part_size * u_part_ppm,
            length * gauge_rise / 1e6 / part_size * u_gauge_ppm,
            length * u_part_ppm * u_part_c / 1e6,
            length * u_gauge_ppm * u_gauge_c / 1e6,
        ];
        let uncertainty = given
            .iter()
            .any(|(_, value)| value.is_some())
            .then(|| shares.iter().map(|share| share * share).sum::<f64>().sqrt());

        let mut work = Work::new(unit);
        work.value("Δt part", "part above 20 °C", part_rise, "K");
        work.value("Δt gauge", "gauge or setting master above 20 °C", gauge_rise, "K");
        work.length("ΔL", "correction, added to the measured length", change);
        let sentence = format!(
            "At 20 °C the part measures {}: {} {} than read.",
            unit.words(at_20),
            unit.words(change.abs()),
            if change < 0.0 { "less" } else { "more" }
        );
        work.caution(
            "With a comparator the gauge's temperature and expansion are those of the setting master it was set with, at \
             the time it was set.",
        );
        if part_rise.abs() > 15.0 {
            work.caution("So far from 20 °C the part is hardly at one temperature: let it cool before a decision.");
        }
        let result = AtReference {
            length_at_20c: unit.outward(at_20),
            correction: unit.outward(change),
            standard_uncertainty: uncertainty.map(|u| unit.outward(u)),
        };
        Ok(work.answer::<Self>(
            request.clone(),
            result,
            sentence,
            &[
                Source::seen("D. A. Swyt, J. Res. NIST 99(1):31 (1994), reference temperature and expansion"),
                Source::recalled("ISO 1, reference temperature 20 °C"),
                Source::transcription("JCGM 100:2008 (GUM), Annex H.1, second-order terms"),
            ],
        ))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};
    use proptest::prelude::*;

    const BASE: &str = r#"{"unit": "mm", "measured_length": 100, "part_temperature_c": 30, "gauge_temperature_c": 20,
        "part_ppm_per_c": 20, "gauge_ppm_per_c": 11.5}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "thermal",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"measured_length": 0}"#, "/measured_length"),
                (r#"{"part_temperature_c": -300}"#, "/part_temperature_c"),
                (r#"{"gauge_temperature_c": 600}"#, "/gauge_temperature_c"),
                (r#"{"part_ppm_per_c": -21}"#, "/part_ppm_per_c"),
                (r#"{"gauge_ppm_per_c": 1001}"#, "/gauge_ppm_per_c"),
                (r#"{"gauge_ppm_per_c": null}"#, "/gauge_ppm_per_c"),
                (r#"{"measured_length_uncertainty": -1}"#, "/measured_length_uncertainty"),
                (r#"{"part_temperature_c_uncertainty": -1}"#, "/part_temperature_c_uncertainty"),
                (r#"{"gauge_temperature_c_uncertainty": 2000}"#, "/gauge_temperature_c_uncertainty"),
                (r#"{"part_ppm_per_c_uncertainty": -1}"#, "/part_ppm_per_c_uncertainty"),
                (r#"{"gauge_ppm_per_c_uncertainty": -1}"#, "/gauge_ppm_per_c_uncertainty"),
                (r#"{"temperature": 20}"#, "/temperature"),
            ],
        );
    }

    /// A warm part on a gauge at 20 °C: 100/1.0002, 0.019996 mm less (derived).
    #[test]
    fn a_warm_part_reads_large() {
        let got = answer(BASE, "thermal", "{}");
        assert!((at(&got, "/result/length_at_20c") - 100.0 / 1.0002).abs() < 1e-12);
        assert!((at(&got, "/result/correction") + 0.02 / 1.0002).abs() < 1e-15);
        assert!(got["result"].get("standard_uncertainty").is_none());
        // At 20 °C both, an unsure temperature still costs α·L·u(t): 100 · 20e-6 · 0.5 (derived).
        let cool = answer(BASE, "thermal", r#"{"part_temperature_c": 20, "part_temperature_c_uncertainty": 0.5}"#);
        assert!((at(&cool, "/result/standard_uncertainty") - 0.001).abs() < 1e-15);
        assert_eq!(at(&cool, "/result/correction"), 0.0);
    }

    proptest! {
        /// Part and gauge of one metal at one temperature read right whatever it is.
        #[test]
        fn equal_expansion_cancels(length in 0.1..1000.0_f64, t in -40.0..120.0_f64, ppm in 1.0..30.0_f64) {
            let change = serde_json::json!({"measured_length": length, "part_temperature_c": t, "gauge_temperature_c": t,
                "part_ppm_per_c": ppm, "gauge_ppm_per_c": ppm});
            let got = answer(BASE, "thermal", &change.to_string());
            prop_assert_eq!(at(&got, "/result/correction"), 0.0);
        }

        /// The uncertainty is what a change of each input by its uncertainty does (finite differences of the answer).
        #[test]
        fn uncertainty_follows_the_inputs(part_c in 22.0..60.0_f64, gauge_c in 15.0..30.0_f64, ppm in 5.0..25.0_f64) {
            let inputs = [("part_temperature_c", part_c, 0.4), ("gauge_temperature_c", gauge_c, 0.3), ("part_ppm_per_c", ppm, 0.5)];
            let mut base = serde_json::Map::new();
            for (name, value, _) in inputs {
                base.insert(name.to_owned(), value.into());
            }
            let size = |change: &serde_json::Map<String, serde_json::Value>| {
                at(&answer(BASE, "thermal", &serde_json::Value::Object(change.clone()).to_string()), "/result/length_at_20c")
            };
            let mut squares = 0.0;
            let mut asked = base.clone();
            for (name, value, u) in inputs {
                let mut moved = base.clone();
                moved.insert(name.to_owned(), (value + 1e-3).into());
                squares += ((size(&moved) - size(&base)) / 1e-3 * u).powi(2);
                asked.insert(format!("{name}_uncertainty"), u.into());
            }
            squares += (100.0 * 0.5 * 0.4 / 1e6_f64).powi(2);
            let got = at(&answer(BASE, "thermal", &serde_json::Value::Object(asked).to_string()), "/result/standard_uncertainty");
            prop_assert!((got / squares.sqrt() - 1.0).abs() < 1e-4, "{got} {}", squares.sqrt());
        }
    }
}
