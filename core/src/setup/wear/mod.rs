//! Wear while running: how each size drifts with the pieces made since the last setting, when it meets a limit, and by the
//! run's pace at which time of day.
//!
//! Spindles are never mixed in one trend: what lies between them is no drift. Sizes of each spindle make a trend of their
//! own, and of a feature the spindle that comes to its limit first speaks. The count of pieces is the number of the piece
//! measured, which counts all spindles' pieces since trial cutting began.

mod pace;

pub use pace::{Pace, PaceBasis, PastRuns};

use super::{
    advice::is_plausible,
    event::{DepthReading, Event, Recorded},
    plan::Feature,
    sizes::LastSize,
    state::Setup,
};
use crate::{
    calc::{
        Calculation,
        wear_trend::{self, WearTrend},
    },
    code::Code,
    length::{Length, LengthUnit},
};
use chrono::{DateTime, TimeDelta, Utc};
use serde_json::Value;

/// A drift and its scatter need so many readings.
const LEAST_READINGS: usize = 3;

/// The drift of one feature from one spindle.
#[derive(Clone, Debug, PartialEq)]
pub struct SpindleWear {
    /// The spindle.
    pub spindle: u8,
    /// Sizes since the last setting.
    pub readings: usize,
    /// How many more are needed before a drift is told; zero when it is told.
    pub more_readings: usize,
    /// The calculation's whole answer.
    pub trend: Option<Value>,
    /// Whether the drift stands out from the scatter.
    pub significant: bool,
    /// The number of the last piece measured.
    pub last_piece: u64,
    /// More pieces after it until the drift meets a limit.
    pub pieces_to_limit: Option<f64>,
    /// More pieces until a single piece may miss it, by the lower bound at 95 %.
    pub pieces_to_limit_low: Option<f64>,
    /// More pieces until a single piece misses it, by the upper bound at 95 %; none where the drift may be too slow.
    pub pieces_to_limit_high: Option<f64>,
    /// When the drift meets the limit, by the pace.
    pub about: Option<DateTime<Utc>>,
    /// When a single piece may miss it, by the pace and the lower bound.
    pub earliest: Option<DateTime<Utc>>,
    /// When a single piece misses it, by the pace and the upper bound.
    pub latest: Option<DateTime<Utc>>,
}

/// The drift of one feature.
#[derive(Clone, Debug, PartialEq)]
pub struct FeatureWear {
    /// The feature.
    pub feature: Code,
    /// Its smallest and largest size.
    pub limits: (Length, Length),
    /// Each spindle that was measured, in order.
    pub spindles: Vec<SpindleWear>,
    /// Sizes that no spindle was named for, and that are left out.
    pub without_spindle: usize,
    /// The spindle that comes to its limit first, by the lower bound.
    pub first: Option<u8>,
    /// Whether it holds until the instant asked for, by the lower bound; none where that cannot be said.
    pub holds_until: Option<bool>,
    /// In words.
    pub sentence: String,
}

/// One station with what was measured there.
#[derive(Clone, Debug, PartialEq)]
pub struct StationWear {
    /// Its code.
    pub station: Code,
    /// The tool in it.
    pub tool: Option<Code>,
    /// Its features.
    pub features: Vec<FeatureWear>,
}

/// Wear at all stations.
#[derive(Clone, Debug, PartialEq)]
pub struct Wear {
    /// The pace by which times are told.
    pub pace: Option<Pace>,
    /// Its stations, in the plan's order.
    pub stations: Vec<StationWear>,
    /// What comes first, in words.
    pub sentence: String,
    /// What was assumed, and what could not be told, in words.
    pub notes: Vec<String>,
}

/// A size with the piece's number and when it was measured, as the person says.
#[derive(Clone, Copy, Debug)]
struct Reading {
    spindle: Option<u8>,
    piece: u64,
    value: Length,
    at: DateTime<Utc>,
}

/// What is asked beside the setup.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Question {
    /// The end of the shift.
    pub until: Option<DateTime<Utc>>,
    /// Runs of the part on this machine in other setups.
    pub past: PastRuns,
}

/// The wear in a setup, from its events.
#[must_use]
pub fn wear(setup: &Setup, events: &[Recorded], question: Question) -> Wear {
    let mut notes = Vec::new();
    let pace = pace::pace(setup, events, question.past, &mut notes);
    let clock = pace.filter(|_| setup.is_released());
    match (pace, setup.is_released()) {
        (Some(_), false) => notes.push("No release is in force: pieces are told, and no time of day.".to_owned()),
        (None, true) => notes.push("The pace is not known yet: measure two pieces some time apart.".to_owned()),
        _ => {}
    }
    let mut stations = Vec::new();
    for (index, plan) in setup.plan.stations.iter().enumerate() {
        let features: Vec<FeatureWear> = plan
            .operation
            .features
            .iter()
            .filter_map(|feature| of_feature(setup, events, index, feature, clock, question.until))
            .collect();
        let tool = setup.stations[index].tool.as_ref().map(|tool| tool.code.clone());
        stations.push(StationWear { station: plan.code.clone(), tool, features });
    }
    let sentence = first_of_all(&stations);
    Wear { pace, stations, sentence, notes }
}

/// The sizes of a feature in which its drift is looked for, as they were recorded: since anything was last changed at its
/// station, each when the person says that it was measured.
#[must_use]
pub fn sizes(setup: &Setup, events: &[Recorded], station: usize, feature: &Feature) -> Vec<LastSize> {
    let size = |reading: Reading| LastSize {
        feature: feature.code.clone(),
        spindle: reading.spindle,
        piece: Some(reading.piece),
        value: reading.value,
        at: reading.at,
    };
    readings(setup, events, station, feature).into_iter().map(size).collect()
}

/// The sizes of a feature since anything was last changed at its station. Of what was formed before, nothing is taken:
/// the first piece that tells of the present setting divides them.
fn readings(setup: &Setup, events: &[Recorded], index: usize, feature: &Feature) -> Vec<Reading> {
    let (plan, first) = (&setup.plan.stations[index], setup.stations[index].first_good_piece);
    let mut found = Vec::new();
    for recorded in events {
        let at = recorded.occurred_at;
        let mut add = |spindle: Option<u8>, piece: u64, value: Length| {
            if piece >= first && is_plausible(feature, value) {
                found.push(Reading { spindle, piece, value, at });
            }
        };
        match &recorded.event {
            Event::SizesRead { station, piece, spindle, readings, .. } if *station == plan.code => {
                let of_feature = readings.iter().filter(|reading| reading.feature == feature.code);
                of_feature.for_each(|reading| add(*spindle, *piece, reading.value));
            }
            Event::DepthRead { station, piece, spindle, reading: DepthReading::Depth(depth), .. }
                if *station == plan.code && setup.depth_feature(index).as_ref() == Some(&feature.code) =>
            {
                add(*spindle, *piece, *depth);
            }
            Event::FirstPieceJudged { piece: Some(piece), readings, .. } => {
                let here = readings.iter().filter(|r| r.station == plan.code && r.feature == feature.code);
                here.for_each(|reading| add(reading.spindle, *piece, reading.value));
            }
            _ => {}
        }
    }
    found
}

fn of_feature(
    setup: &Setup,
    events: &[Recorded],
    index: usize,
    feature: &Feature,
    clock: Option<Pace>,
    until: Option<DateTime<Utc>>,
) -> Option<FeatureWear> {
    let all = readings(setup, events, index, feature);
    if all.is_empty() {
        return None;
    }
    let running = &setup.plan.running_spindles;
    // Where one spindle runs, no other can be meant.
    let only = (running.len() == 1).then(|| running[0]);
    let spindle_of = |reading: &Reading| reading.spindle.or(only);
    let limits = (feature.target.plus(feature.tolerance.lower()), feature.target.plus(feature.tolerance.upper()));
    let of_spindle = |spindle: u8| all.iter().copied().filter(|r| spindle_of(r) == Some(spindle)).collect::<Vec<_>>();
    let spindles: Vec<SpindleWear> = running
        .iter()
        .filter_map(|spindle| of_one(*spindle, &of_spindle(*spindle), feature.target.unit(), limits, clock))
        .collect();
    let without_spindle = all.iter().filter(|reading| spindle_of(reading).is_none()).count();
    let first = spindles
        .iter()
        .filter(|spindle| spindle.significant)
        .filter_map(|spindle| Some((spindle, last_good(spindle)?)))
        .min_by(|(_, one), (_, other)| one.total_cmp(other))
        .map(|(spindle, _)| spindle);
    let holds_until = until.zip(first.and_then(|first| first.earliest)).map(|(until, earliest)| earliest > until);
    let sentence = sentence(feature, &spindles, first, without_spindle, until.zip(holds_until));
    let first = first.map(|spindle| spindle.spindle);
    Some(FeatureWear { feature: feature.code.clone(), limits, spindles, without_spindle, first, holds_until, sentence })
}

/// The number of the piece up to which a single piece holds its limit, by the lower bound.
fn last_good(spindle: &SpindleWear) -> Option<f64> {
    Some(count(spindle.last_piece) + spindle.pieces_to_limit_low?)
}

fn of_one(
    spindle: u8,
    readings: &[Reading],
    unit: LengthUnit,
    (lower, upper): (Length, Length),
    clock: Option<Pace>,
) -> Option<SpindleWear> {
    let last = readings.iter().max_by_key(|reading| reading.piece)?;
    let mut wear = SpindleWear {
        spindle,
        readings: readings.len(),
        more_readings: LEAST_READINGS.saturating_sub(readings.len()),
        trend: None,
        significant: false,
        last_piece: last.piece,
        pieces_to_limit: None,
        pieces_to_limit_low: None,
        pieces_to_limit_high: None,
        about: None,
        earliest: None,
        latest: None,
    };
    let points = readings.iter().map(|r| wear_trend::Reading { pieces: count(r.piece), value: r.value.value_in(unit) });
    // Readings of one and the same piece show no drift, however many.
    let Ok(answer) = WearTrend::calculate(&wear_trend::Request {
        unit,
        readings: points.collect(),
        lower_limit: Some(lower.value_in(unit)),
        upper_limit: Some(upper.value_in(unit)).filter(|_| lower < upper),
        confidence: 0.95,
    }) else {
        wear.more_readings = wear.more_readings.max(1);
        return Some(wear);
    };
    wear.significant = answer.result.significant;
    wear.pieces_to_limit = answer.result.pieces_to_limit;
    wear.pieces_to_limit_low = answer.result.pieces_to_limit_low;
    wear.pieces_to_limit_high = answer.result.pieces_to_limit_high;
    if wear.significant {
        let at = |pieces: Option<f64>| later(last.at, pieces?, clock?);
        wear.about = at(wear.pieces_to_limit);
        wear.earliest = at(wear.pieces_to_limit_low);
        wear.latest = at(wear.pieces_to_limit_high);
    }
    wear.trend = serde_json::to_value(&answer).ok();
    Some(wear)
}

/// So many pieces later, by a pace; nothing beyond what a clock can tell.
fn later(from: DateTime<Utc>, pieces: f64, pace: Pace) -> Option<DateTime<Utc>> {
    let minutes = 60.0 * pieces / pace.pieces_per_hour;
    // Beyond a year it is no time of day that anybody plans by.
    if !(0.0..=366.0 * 24.0 * 60.0).contains(&minutes) {
        return None;
    }
    #[expect(clippy::cast_possible_truncation, reason = "below a year of minutes")]
    from.checked_add_signed(TimeDelta::minutes(minutes.floor() as i64))
}

fn sentence(
    feature: &Feature,
    spindles: &[SpindleWear],
    first: Option<&SpindleWear>,
    without_spindle: usize,
    until: Option<(DateTime<Utc>, bool)>,
) -> String {
    let code = &feature.code;
    let Some(first) = first else {
        let missing = spindles.iter().map(|spindle| spindle.more_readings).min();
        return match missing {
            None => {
                format!("{code}: {without_spindle} sizes without a spindle say nothing of a drift: name the spindle.")
            }
            Some(0) => format!("{code}: no drift that stands out from the scatter."),
            Some(1) => format!("{code}: one more size of a spindle is needed to tell a drift."),
            Some(more) => format!("{code}: {more} more sizes of a spindle are needed to tell a drift."),
        };
    };
    let (Some(line), Some(low)) = (first.pieces_to_limit, first.pieces_to_limit_low) else {
        return format!("{code}: no limit lies on the side to which it drifts.");
    };
    let pieces = format!(
        "{code}, spindle {}: meets its limit {line:.0} pieces after piece {}; measure before {low:.0}.",
        first.spindle, first.last_piece
    );
    let (Some(about), Some(earliest)) = (first.about, first.earliest) else { return pieces };
    let shift = match until {
        None => String::new(),
        Some((until, true)) => format!(" It holds until {}.", clock_words(until)),
        Some((until, false)) => format!(" That is before {}.", clock_words(until)),
    };
    let measure_by = clock_words(earliest);
    let between = first.latest.map(|latest| format!(", between {measure_by} and {}", clock_words(latest)));
    let between = between.unwrap_or_default();
    format!("{pieces} Regrind about {}{between}; measure by {measure_by}.{shift}", clock_words(about))
}

fn clock_words(at: DateTime<Utc>) -> String {
    at.format("%F %H:%M UTC").to_string()
}

/// The feature whose limit is reached first, by the lower bound.
fn first_of_all(stations: &[StationWear]) -> String {
    let all = stations.iter().flat_map(|station| station.features.iter().map(move |feature| (station, feature)));
    let first = all
        .filter_map(|(station, feature)| {
            let first = feature.spindles.iter().find(|spindle| Some(spindle.spindle) == feature.first)?;
            Some((station, feature, last_good(first)?))
        })
        .min_by(|(.., one), (.., other)| one.total_cmp(other));
    match first {
        Some((station, feature, _)) => format!("Station {}: {}", station.station, feature.sentence),
        None => "No drift is told yet.".to_owned(),
    }
}

#[expect(clippy::cast_precision_loss, reason = "piece numbers are below 2^53")]
const fn count(pieces: u64) -> f64 {
    pieces as f64
}
