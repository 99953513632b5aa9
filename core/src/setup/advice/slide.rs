//! One diameter is the slide's: by the pieces of the present setting, or by all pieces and the moves between them.

use super::{
    Advice, PROCESS_SHARE,
    history::{History, Measured},
    words,
};
use crate::{
    adjuster::Adjuster,
    calc::{
        Calculation, Limits,
        setting_adjustment::{self, SettingAdjustment},
        slide_correction::{self, SlideCorrection},
    },
    length::{Length, LengthUnit},
    setup::{event::SizeReading, state::Setup},
};

/// After moves of the slide, all pieces since the tool was put in tell where the slide stands; before any, the pieces of
/// the present setting do.
pub(super) fn slide(
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
        let found = advice.take::<SlideCorrection>(&request);
        advice.expect(feature, found.map(|found| found.expected_diameter), unit);
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
    advice.known_to = Length::new(2.0 * found.result.standard_uncertainty, unit).ok();
    if found.result.leave_alone {
        let stands = feature.target.value_in(unit) + middle + found.result.estimated_deviation;
        advice.expect(feature, Some(stands), unit);
        return advice.say(&found.sentence);
    }
    // The screw goes by where all pieces say that the slide stands, not by the last one.
    let deviation = found.result.estimated_deviation;
    let side = if deviation > 0.0 { "above" } else { "below" };
    let (count, apart) = (pieces.len(), words(deviation.abs(), unit));
    advice.say(&format!("By all {count} pieces the setting stands {apart} {side} the middle of the limits."));
    request.measured_diameters = vec![feature.target.value_in(unit) + middle + deviation];
    request.diameter_standard_uncertainty = Some(found.result.standard_uncertainty);
    let found = advice.take::<SlideCorrection>(&request);
    advice.expect(feature, found.map(|found| found.expected_diameter), unit);
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

fn in_unit(millimetres: f64, unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::Millimetre => millimetres,
        LengthUnit::Inch => millimetres / 25.4,
    }
}
