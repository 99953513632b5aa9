//! All calculations, behind one signature: JSON text in, JSON text out. One generic endpoint serves them all.

use super::{
    answer::Calculation,
    error::CalculationError,
    schema::{answer_schema, request_schema},
};
use crate::field_error::FieldError;
use serde_json::{Value, error::Category};

/// One calculation behind the common signature.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    /// Its name on the wire.
    pub name: &'static str,
    /// Its version.
    pub version: u32,
    /// What it answers, in one sentence.
    pub answers: &'static str,
    /// A request as a shop might make it, in JSON.
    pub example: &'static str,
    /// The JSON Schema (draft 2020-12) of its requests, whole in itself: what it refers to stands in its `$defs`.
    pub request_schema: fn() -> Value,
    /// The JSON Schema of its answers, likewise.
    pub answer_schema: fn() -> Value,
    /// Reads a request's JSON, calculates, writes the answer's JSON.
    pub calculate: fn(&[u8]) -> Result<String, CalculationError>,
}

const fn entry<C: Calculation>() -> Entry {
    Entry {
        name: C::NAME,
        version: C::VERSION,
        answers: C::ANSWERS,
        example: C::EXAMPLE,
        request_schema: request_schema::<C>,
        answer_schema: answer_schema::<C>,
        calculate: calculate_json::<C>,
    }
}

/// Every calculation, in the order of their names.
pub const ALL: &[Entry] = &[
    entry::<super::approach::Approach>(),
    entry::<super::bar_stock::BarStock>(),
    entry::<super::capability::Capability>(),
    entry::<super::center_height_effect::CenterHeightEffect>(),
    entry::<super::circular_form_profile::CircularFormProfile>(),
    entry::<super::control_limits::ControlLimits>(),
    entry::<super::cutting::Cutting>(),
    entry::<super::drill_depth::DrillDepth>(),
    entry::<super::flat_form_profile::FlatFormProfile>(),
    entry::<super::form_diagnosis::FormDiagnosis>(),
    entry::<super::gauge_conformity::GaugeConformity>(),
    entry::<super::intermittent_demand::IntermittentDemand>(),
    entry::<super::lateral_correction::LateralCorrection>(),
    entry::<super::life_distribution::LifeDistribution>(),
    entry::<super::mtbf::Mtbf>(),
    entry::<super::regrind_outlook::RegrindOutlook>(),
    entry::<super::reorder::Reorder>(),
    entry::<super::screw_travel::ScrewTravel>(),
    entry::<super::setting_adjustment::SettingAdjustment>(),
    entry::<super::slide_correction::SlideCorrection>(),
    entry::<super::taper::Taper>(),
    entry::<super::thermal::Thermal>(),
    entry::<super::tool_life::ToolLife>(),
    entry::<super::uncertainty_budget::UncertaintyBudget>(),
    entry::<super::wear_trend::WearTrend>(),
];

/// The calculation of a name.
#[must_use]
pub fn find(name: &str) -> Option<&'static Entry> {
    ALL.iter().find(|entry| entry.name == name)
}

fn calculate_json<C: Calculation>(body: &[u8]) -> Result<String, CalculationError> {
    let request: C::Request = read(body)?;
    refuse_positional(body, &request)?;
    let answer = C::calculate(&request)?;
    let text = serde_json::to_string(&answer).map_err(|error| CalculationError::Malformed(error.to_string()))?;
    // The last line of defence: what is not a number is written as null, and an answer has no other null.
    if holds_null(&text) {
        return Err(CalculationError::field(
            "",
            "these numbers give no finite answer: some are too large or too small",
        ));
    }
    Ok(text)
}

/// serde takes an array for an object, its fields by position: no caller is to rely on that.
fn refuse_positional(body: &[u8], understood: &impl serde::Serialize) -> Result<(), CalculationError> {
    let malformed = |error: serde_json::Error| CalculationError::Malformed(error.to_string());
    let given: Value = serde_json::from_slice(body).map_err(malformed)?;
    let understood = serde_json::to_value(understood).map_err(malformed)?;
    match array_for_object(&given, &understood) {
        Some(pointer) => Err(CalculationError::field(pointer, "must be an object with named fields")),
        None => Ok(()),
    }
}

/// Where an array stands for what was understood as an object.
fn array_for_object(given: &Value, understood: &Value) -> Option<String> {
    match (given, understood) {
        (Value::Array(_), Value::Object(_)) => Some(String::new()),
        (Value::Object(given), Value::Object(understood)) => given.iter().find_map(|(name, field)| {
            let rest = array_for_object(field, understood.get(name)?)?;
            let mut pointer = String::new();
            push_key(&mut pointer, name);
            Some(pointer + &rest)
        }),
        (Value::Array(given), Value::Array(understood)) => {
            given.iter().zip(understood).enumerate().find_map(|(index, (item, understood))| {
                Some(format!("/{index}{}", array_for_object(item, understood)?))
            })
        }
        _ => None,
    }
}

/// Whether JSON text holds a null: outside of strings nothing else has an `n`.
fn holds_null(text: &str) -> bool {
    let (mut in_string, mut escaped) = (false, false);
    for byte in text.bytes() {
        match byte {
            _ if escaped => escaped = false,
            b'\\' if in_string => escaped = true,
            b'"' => in_string = !in_string,
            b'n' if !in_string => return true,
            _ => {}
        }
    }
    false
}

fn read<Q: serde::de::DeserializeOwned>(body: &[u8]) -> Result<Q, CalculationError> {
    let mut deserializer = serde_json::Deserializer::from_slice(body);
    let request = serde_path_to_error::deserialize(&mut deserializer).map_err(|error| {
        let mut pointer = String::new();
        for segment in error.path() {
            use serde_path_to_error::Segment;
            match segment {
                Segment::Seq { index } => pointer.push_str(&format!("/{index}")),
                Segment::Map { key } => push_key(&mut pointer, key),
                Segment::Enum { variant } => push_key(&mut pointer, variant),
                Segment::Unknown => {}
            }
        }
        refusal(pointer, error.inner())
    })?;
    deserializer.end().map_err(|error| refusal(String::new(), &error))?;
    Ok(request)
}

/// A JSON pointer's escapes, RFC 6901 section 3.
fn push_key(pointer: &mut String, key: &str) {
    pointer.push('/');
    pointer.push_str(&key.replace('~', "~0").replace('/', "~1"));
}

fn refusal(mut pointer: String, error: &serde_json::Error) -> CalculationError {
    let text = error.to_string();
    if text.starts_with("number out of range") {
        return CalculationError::field(pointer, "must be a finite number: this one is too large");
    }
    if error.classify() != Category::Data {
        return CalculationError::Malformed(format!("not JSON: {text}"));
    }
    // The position in the text helps nobody who has the field's name.
    let detail = text.split(" at line ").next().unwrap_or(&text).to_owned();
    // A missing field is not on the path, for it is not there; its name is in the sentence.
    if let Some(name) = detail.strip_prefix("missing field `").and_then(|rest| rest.strip_suffix('`')) {
        push_key(&mut pointer, name);
    }
    CalculationError::Refused(vec![FieldError { pointer, detail }])
}

#[cfg(test)]
mod tests {
    use super::{find, holds_null};

    #[test]
    fn an_array_is_no_object() {
        let slide = |adjuster: &str| {
            let body =
                format!(r#"{{"unit":"in","target_diameter":0.5,"measured_diameters":[0.504],"adjuster":{adjuster}}}"#);
            (find("slide-correction").unwrap().calculate)(body.as_bytes())
        };
        let named = r#"{"travel_per_turn":0.05,"clockwise_moves":"tool_in"}"#;
        assert!(slide(named).is_ok());
        let refused = slide(r#"["n",0.05,null,null,1.0,"tool_in",null,null,false,null]"#).unwrap_err();
        assert_eq!(refused.fields()[0].pointer, "/adjuster");
        let steps =
            r#"{"unit":"in","clearance_deg":12,"rake_deg":5,"smallest_diameter":0.5,"steps":[{"diameter":0.6},[0.7]]}"#;
        let refused = (find("flat-form-profile").unwrap().calculate)(steps.as_bytes()).unwrap_err();
        assert_eq!(refused.fields()[0].pointer, "/steps/1");
    }

    #[test]
    fn nulls_are_seen_outside_of_strings() {
        assert!(holds_null(r#"{"a":null}"#) && holds_null("[1.0,null]"));
        assert!(!holds_null(r#"{"null":"\\\"null","b":[true,false,1e5]}"#));
    }
}
