//! What stands about the screws: what is done before, what is thrown away after, how the features stand, where to go on.

use super::{Asks, Known, advice_at, asked_for};
use crate::pages::{
    drawn::instant,
    frame::Frame,
    numbers::ShownLength,
    sizes::{self, allowed},
    wording::Phrase,
};
use dovetally_core::{
    adjuster::AdjusterKind,
    code::Code,
    setup::{
        advice::{Advice, AdvisedTurn},
        event::Event,
        state::Setup,
    },
};

/// A station with what is advised there.
pub(super) struct Elsewhere {
    pub(super) station: Code,
    pub(super) said: String,
}

/// How a feature stands, each sentence in the unit that was entered and in the other one.
pub(super) struct Stands {
    pub(super) said: ShownLength,
    pub(super) spread: Option<ShownLength>,
}

/// What has to be done before any of the screws is turned.
pub(super) fn before<'p>(
    frame: &'p Frame,
    setup: &Setup,
    station: usize,
    turns: &[AdvisedTurn<'_>],
) -> Vec<&'p Phrase> {
    let words = &frame.words.adjust;
    let any = |kinds: &[AdjusterKind]| turns.iter().any(|turn| kinds.contains(&turn.screw.kind()));
    let mut before = Vec::new();
    if setup.is_released() && any(&[AdjusterKind::Height, AdjusterKind::Taper, AdjusterKind::Lateral]) {
        before.push(&words.stop_run);
    }
    if setup.stations[station].clamped && any(&[AdjusterKind::Height]) {
        before.push(&words.unclamp);
    }
    before
}

/// The spindle of the last piece that was read at a station.
pub(super) fn last_spindle(known: &Known, station: usize) -> Option<u8> {
    let code = &known.at.walk.loaded.setup.plan.stations[station].code;
    known.at.walk.loaded.events.iter().rev().find_map(|recorded| match &recorded.event {
        Event::SizesRead { station, spindle, .. } | Event::DepthRead { station, spindle, .. } if station == code => {
            Some(*spindle)
        }
        _ => None,
    })?
}

/// What is thrown away after the turn, and what is measured then: the same spindle, so that one thing changed.
pub(super) fn throw_away(frame: &Frame, known: &Known, station: usize, advice: &Advice) -> String {
    let words = &frame.words.adjust;
    let spindle = last_spindle(known, station);
    let loaded = &known.at.walk.loaded;
    let away = loaded.setup.throw_away_after(&loaded.events, advice.pieces_to_discard, spindle);
    let phrase = match (away.pieces, spindle) {
        (0, _) => return words.throw_away_none.to_string(),
        (1, Some(_)) => &words.throw_away_one,
        (_, Some(_)) => &words.throw_away_many,
        (1, None) => &words.throw_away_one_any,
        (_, None) => &words.throw_away_many_any,
    };
    let spindle = spindle.map(|spindle| spindle.to_string()).unwrap_or_default();
    phrase.with("count", away.pieces).with("spindle", spindle).with("piece", away.piece).to_string()
}

/// How each feature stands that was measured since the last change.
pub(super) fn stands(frame: &Frame, setup: &Setup, station: usize) -> Vec<Stands> {
    let words = &frame.words.adjust;
    let plan = &setup.plan.stations[station];
    let of = setup.sizes_by_spindle(station).into_iter();
    let stands = of.filter_map(|of| {
        let feature = plan.feature(&of.feature)?;
        let mean = of.mean.or_else(|| of.sizes.last().map(|size| size.value))?;
        let (mean, range) = (frame.mark().calculated(mean), allowed(frame, feature));
        let stands = |mean, range| words.stands.with("feature", &of.feature).with("mean", mean).with("range", range);
        let spread = |spread| words.spread.with("feature", &of.feature).with("spread", spread).to_string();
        let apart = of.spread.filter(|apart| apart.picometres() > 0).map(|apart| frame.length(&apart));
        Some(Stands {
            said: ShownLength {
                entered: stands(mean.entered, range.entered).to_string(),
                other: stands(mean.other, range.other).to_string(),
            },
            spread: apart.map(|apart| ShownLength { entered: spread(apart.entered), other: spread(apart.other) }),
        })
    });
    stands.collect()
}

/// Of each feature that was measured, whether it is inside its limits, where nothing is advised on it.
pub(super) fn without_advice(frame: &Frame, setup: &Setup, station: usize) -> Vec<String> {
    let words = &frame.words.adjust;
    let plan = &setup.plan.stations[station];
    let said = setup.sizes_by_spindle(station).into_iter().filter_map(|of| {
        let feature = plan.feature(&of.feature)?;
        let inside = of.sizes.iter().all(|size| feature.tolerance.admit(feature.target, size.value));
        let phrase = if inside { &words.known_inside } else { &words.known_outside };
        Some(phrase.with("feature", &of.feature).to_string())
    });
    said.collect()
}

/// What the drift of a feature at a station comes to, where one stands out from the scatter.
pub(super) fn drift(frame: &Frame, known: &Known, station: usize) -> Option<String> {
    let code = &known.at.walk.loaded.setup.plan.stations[station].code;
    let here = known.wear.stations.iter().find(|wear| wear.station == *code)?;
    let feature = here.features.iter().find(|feature| feature.first.is_some())?;
    let first = feature.spindles.iter().find(|spindle| Some(spindle.spindle) == feature.first)?;
    let (Some(about), Some(earliest)) = (first.about, first.earliest) else {
        return Some(frame.told(&feature.sentence));
    };
    let said = frame.words.adjust.drifts.with("feature", &feature.feature).with("spindle", first.spindle);
    Some(said.with("about", instant(frame, about)).with("earliest", instant(frame, earliest)).to_string())
}

/// Where the next piece is measured, and how that is called: at this station while something is missing there.
pub(super) fn measure(frame: &Frame, setup: &Setup, station: usize) -> (String, String) {
    let words = &frame.words.adjust;
    let next =
        if setup.is_measured_all_round() { setup.next_to_measure_at(station) } else { setup.next_to_measure(None) };
    let id = setup.plan.setup;
    let Some(next) = next else { return (sizes::address(id, &[]), words.measure_again.to_string()) };
    let spindle = next.spindle.map(|spindle| spindle.to_string()).unwrap_or_default();
    let at = setup.plan.stations[next.station].code.as_str();
    let fields = [("station", at), ("feature", next.feature.as_str()), ("spindle", &spindle)];
    let said = words.measure_next.with("feature", &next.feature).with("spindle", &spindle).to_string();
    (sizes::address(id, &fields), said)
}

/// What the page says of lengths, told in the other unit.
pub(super) fn in_other_unit(frame: &Frame, asks: Asks, stands: &[Stands], advice: Option<&Advice>) -> Vec<String> {
    let turns = asks == Asks::Turns;
    let mut said = Vec::new();
    for feature in stands.iter().filter(|_| !turns) {
        said.push(feature.said.other.clone());
        said.extend(feature.spread.iter().filter(|_| asks == Asks::Alone).map(|spread| spread.other.clone()));
    }
    let Some(advice) = advice else { return said };
    if let Some(known) = advice.known_to.filter(|_| turns || asks == Asks::Alone) {
        said.push(frame.words.adjust.known_to.with("value", frame.mark().calculated(known).other).to_string());
    }
    let told = std::iter::once(&advice.sentence).chain(&advice.notes);
    said.extend(told.filter_map(|sentence| frame.told_in_other_unit(sentence)));
    said
}

/// What is advised at the other stations.
pub(super) fn elsewhere(frame: &Frame, setup: &Setup, station: usize) -> Vec<Elsewhere> {
    let words = &frame.words.adjust;
    let others = setup.plan.stations.iter().enumerate().filter(|(index, _)| *index != station);
    let told = others.map(|(index, plan)| {
        let phrase = match asked_for(setup, index, advice_at(setup, index).as_ref()) {
            Asks::Nothing => &words.advised_none,
            Asks::Turns => &words.advised_turn,
            Asks::Alone => &words.advised_alone,
            Asks::Look => &words.advised_look,
            Asks::Known => &words.advised_known,
        };
        Elsewhere { station: plan.code.clone(), said: phrase.to_string() }
    });
    told.collect()
}
