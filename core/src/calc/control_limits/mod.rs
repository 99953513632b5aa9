//! `control-limits`: limits and signals of individuals, X-bar/R, EWMA and CUSUM charts.

#[cfg(test)]
mod tests;

use super::{
    answer::{Answer, Calculation, Source, Work},
    control_constants::{Constants, SUBGROUP_SIZES, constants},
    error::{CalculationError, Reader, finite},
    rounding::rounded,
    schema,
    summary::mean,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct ControlLimits;

/// The kind of chart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[schemars(rename = "ControlChart")]
pub enum Chart {
    /// Single readings, limits from moving ranges of two.
    Individuals,
    /// Means and ranges of subgroups.
    XbarR,
    /// Exponentially weighted moving average.
    Ewma,
    /// Cumulated sums of deviations.
    Cusum,
}

/// What EWMA and CUSUM charts are told.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "ControlChartParameters")]
pub struct Parameters {
    /// EWMA: the weight of the newest reading, above 0 and up to 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::fraction)]
    pub lambda: Option<f64>,
    /// The centre: the mean of the readings where an EWMA chart names none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub center: Option<f64>,
    /// EWMA: the process's standard deviation, from moving ranges when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive)]
    pub standard_deviation: Option<f64>,
    /// EWMA: the limits, in standard deviations of the average; 3 when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive)]
    pub width: Option<f64>,
    /// CUSUM: the allowance, in the readings' unit; half of the shift to find.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::not_negative)]
    pub k: Option<f64>,
    /// CUSUM: the decision limit, in the readings' unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive)]
    pub h: Option<f64>,
}

/// The readings, of one spindle: a subgroup never mixes spindles.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "ControlLimitsRequest")]
pub struct Request {
    /// The kind of chart.
    pub chart: Chart,
    /// Single readings in order, in any one unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub readings: Option<Vec<f64>>,
    /// Subgroups of equal size in order, for an X-bar/R chart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub subgroups: Option<Vec<Vec<f64>>>,
    /// For EWMA and CUSUM charts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parameters: Option<Parameters>,
}

/// The companion chart of ranges.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "ControlChartRanges")]
pub struct Ranges {
    /// The mean range.
    pub center: f64,
    /// The upper limit of ranges.
    pub upper: f64,
    /// The lower limit of ranges.
    pub lower: f64,
    /// The ranges, in order.
    pub statistic: Vec<f64>,
    /// Numbers, from 1, of the ranges outside.
    pub signals: Vec<usize>,
}

/// The chart.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "ControlLimitsResult")]
pub struct Drawn {
    /// The centre line.
    pub center: f64,
    /// The upper limit; of a CUSUM chart, of the sums.
    pub upper: f64,
    /// The lower limit; of a CUSUM chart, of the negative sums.
    pub lower: f64,
    /// What is plotted, in order: readings, means, averages, or sums of deviations upward.
    pub statistic: Vec<f64>,
    /// CUSUM: the sums of deviations downward, as numbers not above zero.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub statistic_low: Option<Vec<f64>>,
    /// Numbers, from 1, of the readings or subgroups outside.
    pub signals: Vec<usize>,
    /// Ranges: of subgroups, or moving ranges of single readings.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ranges: Option<Ranges>,
    /// The standard deviation of single readings that the limits rest on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standard_deviation: Option<f64>,
}

/// Mean range over standard deviation of two readings, as every printed table rounds it: so that limits agree with
/// published charts, which use it.
const MOVING_RANGE_D2: f64 = 1.128;
/// Upper limit of a moving range, in mean moving ranges, as printed.
const MOVING_RANGE_D4: f64 = 3.267;

/// Numbers, from 1, of the values outside; on a limit is inside, and last bits do not decide.
fn outside(values: &[f64], lower: f64, upper: f64) -> Vec<usize> {
    let slack = 1e-12 * (lower.abs().max(upper.abs()));
    let out = |value: f64| value > upper + slack || value < lower - slack;
    values.iter().enumerate().filter(|(_, value)| out(**value)).map(|(i, _)| i + 1).collect()
}

fn all_rounded(values: &[f64]) -> Vec<f64> {
    values.iter().copied().map(rounded).collect()
}

fn moving_ranges(readings: &[f64]) -> Vec<f64> {
    readings.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect()
}

/// Single readings, each checked.
fn read_readings(reader: &mut Reader, request: &Request, least: usize) -> Vec<f64> {
    reader.refuse_if(request.subgroups.is_some(), "/subgroups", "belongs to an xbar_r chart");
    let readings = request.readings.clone().unwrap_or_default();
    if readings.len() < least {
        reader.refuse(
            "/readings",
            format!("this chart needs at least {least} readings: {} more", least - readings.len()),
        );
    }
    for (i, value) in readings.iter().enumerate() {
        plausible(reader, &format!("/readings/{i}"), *value);
    }
    readings
}

/// A reading small enough that no sum of many overflows.
fn plausible(reader: &mut Reader, pointer: &str, value: f64) -> f64 {
    let value = reader.number(pointer, value);
    if value.abs() > 1e100 { reader.refuse(pointer, "is no reading") } else { value }
}

fn individuals(readings: &[f64]) -> Drawn {
    let center = mean(readings);
    let ranges = moving_ranges(readings);
    let mean_range = mean(&ranges);
    let deviation = mean_range / MOVING_RANGE_D2;
    let (lower, upper) = (center - 3.0 * deviation, center + 3.0 * deviation);
    Drawn {
        center: rounded(center),
        upper: rounded(upper),
        lower: rounded(lower),
        statistic: all_rounded(readings),
        statistic_low: None,
        signals: outside(readings, lower, upper),
        ranges: Some(Ranges {
            center: rounded(mean_range),
            upper: rounded(MOVING_RANGE_D4 * mean_range),
            lower: 0.0,
            signals: outside(&ranges, 0.0, MOVING_RANGE_D4 * mean_range),
            statistic: all_rounded(&ranges),
        }),
        standard_deviation: Some(rounded(deviation)),
    }
}

fn xbar_r(subgroups: &[Vec<f64>], known: &Constants) -> Drawn {
    let means: Vec<f64> = subgroups.iter().map(|subgroup| mean(subgroup)).collect();
    let ranges: Vec<f64> = subgroups
        .iter()
        .map(|subgroup| {
            subgroup.iter().copied().fold(f64::NEG_INFINITY, f64::max)
                - subgroup.iter().copied().fold(f64::INFINITY, f64::min)
        })
        .collect();
    let (center, mean_range) = (mean(&means), mean(&ranges));
    let (lower, upper) = (center - known.a2 * mean_range, center + known.a2 * mean_range);
    let (least, greatest) = (known.d3_limit * mean_range, known.d4_limit * mean_range);
    Drawn {
        center: rounded(center),
        upper: rounded(upper),
        lower: rounded(lower),
        signals: outside(&means, lower, upper),
        statistic: all_rounded(&means),
        statistic_low: None,
        ranges: Some(Ranges {
            center: rounded(mean_range),
            upper: rounded(greatest),
            lower: rounded(least),
            signals: outside(&ranges, least, greatest),
            statistic: all_rounded(&ranges),
        }),
        standard_deviation: Some(rounded(mean_range / known.d2)),
    }
}

/// Limits of the settled average: `center ± width · s · √(λ/(2 − λ))`. The average starts at the centre.
fn ewma(readings: &[f64], lambda: f64, center: f64, deviation: f64, width: f64) -> Drawn {
    let mut average = center;
    let averages: Vec<f64> = readings
        .iter()
        .map(|reading| {
            average += lambda * (reading - average);
            average
        })
        .collect();
    let half = width * deviation * (lambda / (2.0 - lambda)).sqrt();
    Drawn {
        center: rounded(center),
        upper: rounded(center + half),
        lower: rounded(center - half),
        signals: outside(&averages, center - half, center + half),
        statistic: all_rounded(&averages),
        statistic_low: None,
        ranges: None,
        standard_deviation: Some(rounded(deviation)),
    }
}

/// Two one-sided sums: `S⁺ = max(0, S⁺ + x − center − k)` and `S⁻ = max(0, S⁻ + center − k − x)`, shown as `−S⁻`.
fn cusum(readings: &[f64], center: f64, k: f64, h: f64) -> Drawn {
    let (mut high, mut low) = (0.0_f64, 0.0_f64);
    let (up, down): (Vec<f64>, Vec<f64>) = readings
        .iter()
        .map(|reading| {
            high = (high + (reading - center) - k).max(0.0);
            low = (low - (reading - center) - k).max(0.0);
            (high, -low)
        })
        .unzip();
    let mut signals = outside(&up, -h, h);
    signals.extend(outside(&down, -h, h));
    signals.sort_unstable();
    signals.dedup();
    Drawn {
        center: rounded(center),
        upper: rounded(h),
        lower: rounded(-h),
        statistic: all_rounded(&up),
        statistic_low: Some(all_rounded(&down)),
        signals,
        ranges: None,
        standard_deviation: None,
    }
}

/// Refuses the parameters that the chart does not know.
fn refuse_others(reader: &mut Reader, parameters: &Parameters, chart: Chart) {
    let ewma = chart == Chart::Ewma;
    let cusum = chart == Chart::Cusum;
    for (name, given, known) in [
        ("lambda", parameters.lambda.is_some(), ewma),
        ("center", parameters.center.is_some(), ewma || cusum),
        ("standard_deviation", parameters.standard_deviation.is_some(), ewma),
        ("width", parameters.width.is_some(), ewma),
        ("k", parameters.k.is_some(), cusum),
        ("h", parameters.h.is_some(), cusum),
    ] {
        reader.refuse_if(given && !known, &format!("/parameters/{name}"), "does not belong to this chart");
    }
}

fn draw(request: &Request) -> Result<Drawn, CalculationError> {
    let mut reader = Reader::unitless();
    let parameters = request.parameters.unwrap_or_default();
    refuse_others(&mut reader, &parameters, request.chart);
    let needed = |reader: &mut Reader, name: &str, value: Option<f64>| match value {
        Some(value) => value,
        None => reader.refuse(format!("/parameters/{name}"), "this chart needs it"),
    };
    match request.chart {
        Chart::Individuals => {
            let readings = read_readings(&mut reader, request, 2);
            reader.finish()?;
            Ok(individuals(&readings))
        }
        Chart::XbarR => {
            reader.refuse_if(request.readings.is_some(), "/readings", "belongs to the charts of single readings");
            let subgroups = request.subgroups.clone().unwrap_or_default();
            reader.refuse_if(subgroups.is_empty(), "/subgroups", "give at least one subgroup");
            let size = subgroups.first().map_or(0, Vec::len);
            for (i, subgroup) in subgroups.iter().enumerate() {
                let pointer = format!("/subgroups/{i}");
                reader.refuse_if(subgroup.len() != size, &pointer, format!("every subgroup has {size} readings"));
                for (j, value) in subgroup.iter().enumerate() {
                    plausible(&mut reader, &format!("{pointer}/{j}"), *value);
                }
            }
            reader.refuse_if(
                !subgroups.is_empty() && !SUBGROUP_SIZES.contains(&size),
                "/subgroups/0",
                "a subgroup has from 2 to 25 readings",
            );
            reader.finish()?;
            let known =
                constants(size).ok_or_else(|| CalculationError::field("/subgroups/0", "no constants are known"))?;
            Ok(xbar_r(&subgroups, &known))
        }
        Chart::Ewma => {
            let least = if parameters.standard_deviation.is_some() { 1 } else { 2 };
            let readings = read_readings(&mut reader, request, least);
            let lambda = needed(&mut reader, "lambda", parameters.lambda);
            if parameters.lambda.is_some() {
                reader.fraction("/parameters/lambda", lambda);
            }
            let width = reader.positive("/parameters/width", parameters.width.unwrap_or(3.0));
            let center = parameters.center.map(|center| plausible(&mut reader, "/parameters/center", center));
            let deviation = parameters.standard_deviation.map(|s| reader.positive("/parameters/standard_deviation", s));
            reader.finish()?;
            let deviation = deviation.unwrap_or_else(|| mean(&moving_ranges(&readings)) / MOVING_RANGE_D2);
            let drawn = ewma(&readings, lambda, center.unwrap_or_else(|| mean(&readings)), deviation, width);
            finite(drawn.upper, "/parameters/width", "limit")?;
            Ok(drawn)
        }
        Chart::Cusum => {
            let readings = read_readings(&mut reader, request, 1);
            let center = needed(&mut reader, "center", parameters.center);
            let k = needed(&mut reader, "k", parameters.k);
            let h = needed(&mut reader, "h", parameters.h);
            if parameters.center.is_some() {
                plausible(&mut reader, "/parameters/center", center);
            }
            if parameters.k.is_some() {
                reader.not_negative("/parameters/k", k);
            }
            if parameters.h.is_some() {
                reader.positive("/parameters/h", h);
            }
            reader.finish()?;
            Ok(cusum(&readings, center, k, h))
        }
    }
}

impl Calculation for ControlLimits {
    const NAME: &'static str = "control-limits";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "Limits and signals of individuals, X-bar/R, EWMA and CUSUM charts.";
    const EXAMPLE: &'static str = r#"{"chart": "xbar_r", "subgroups": [[0.5002, 0.5004, 0.5001, 0.5003], [0.5003, 0.5005, 0.5002, 0.5002],
        [0.5001, 0.5004, 0.5003, 0.5004], [0.5004, 0.5006, 0.5003, 0.5005]]}"#;
    type Request = Request;
    type Result = Drawn;

    fn calculate(request: &Request) -> Result<Answer<Request, Drawn>, CalculationError> {
        let drawn = draw(request)?;
        let mut work = Work::unitless(None);
        work.number("CL", "centre line", drawn.center);
        work.number("UCL", "upper limit", drawn.upper);
        work.number("LCL", "lower limit", drawn.lower);
        let spread = drawn.ranges.as_ref().map_or(0, |ranges| ranges.signals.len());
        let listed: Vec<String> = drawn.signals.iter().map(ToString::to_string).collect();
        let sentence = match (drawn.signals.as_slice(), spread) {
            ([], 0) => "No signal: leave the setting alone.".to_owned(),
            ([], _) => "No signal in the level, but a range lies outside its limits: the scatter changed.".to_owned(),
            ([only], _) => format!("Signal at number {only}: look for a cause before the setting is touched."),
            _ => format!("Signals at numbers {}: look for a cause before the setting is touched.", listed.join(", ")),
        };
        let plotted = drawn.statistic.len();
        if plotted < 20 && matches!(request.chart, Chart::Individuals | Chart::XbarR) {
            work.caution(format!(
                "Limits from only {plotted} points are provisional; compute them again from 20 or more."
            ));
        }
        work.caution("Never mix spindles in a subgroup or in a row of readings: each spindle has its own size.");
        Ok(work.answer::<Self>(
            request.clone(),
            drawn,
            sentence,
            &[Source::transcription("NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2")],
        ))
    }
}
