//! What is on hand of a supply over time, against its minimum.

use super::{
    Drawing, Setting, Table,
    axis::{Counts, Range, seconds},
    frame::{Axis, Frame, Mark},
    svg::Stroke,
    words::{Words, fill},
};
use crate::transport::supply::{SupplyMovementView, SupplyView};
use chrono::{DateTime, Utc};
use dovetally_core::supply::SupplyMovementKind;

/// A count of things as a number.
#[expect(clippy::cast_precision_loss, reason = "supplies are counted far below 2^53")]
const fn number(count: i64) -> f64 {
    count as f64
}

/// Draws what was on hand after each movement, in any order, and up to `now`.
#[must_use]
pub fn draw(
    supply: &SupplyView,
    movements: &[SupplyMovementView],
    now: DateTime<Utc>,
    words: &Words,
    setting: &Setting<'_>,
) -> Drawing {
    let (said, format) = (&words.supply, setting.format);
    let mut ledger: Vec<&SupplyMovementView> = movements.iter().collect();
    ledger.sort_by_key(|movement| movement.number);
    let now = ledger.last().map_or(now, |last| now.max(last.recorded_at));

    let times = ledger.iter().map(|movement| seconds(movement.recorded_at)).chain([seconds(now)]);
    let across = Range::over(times, 7.0 * 86_400.0);
    let before = ledger.first().map(|first| first.on_hand - first.change);
    let counts = ledger.iter().map(|movement| movement.on_hand).chain(before);
    let upward = Range::from_zero(counts.chain([supply.minimum, supply.on_hand]).map(number), 4.0);
    let marks: [(SupplyMovementKind, Mark, &str); 3] = [
        (SupplyMovementKind::Withdrawn, Mark::Dot, said.withdrawn.as_str()),
        (SupplyMovementKind::Received, Mark::Triangle, said.received.as_str()),
        (SupplyMovementKind::Counted, Mark::Ring, said.counted.as_str()),
    ];
    let mut key = vec![(Mark::Stroke(Stroke::LONG), said.minimum.as_str())];
    let present = marks.iter().filter(|(kind, ..)| ledger.iter().any(|movement| movement.kind == *kind));
    key.extend(present.map(|(_, mark, words)| (*mark, *words)));
    let axis_title = fill(&said.on_hand, &[("unit", &supply.unit)]);
    let x = Axis { counts: Counts::Time, range: across, title: words.when.to_owned() };
    let y = Axis { counts: Counts::Whole, range: upward, title: axis_title.clone() };
    let mut frame = Frame::new(setting, x, y, &key, 0);
    frame.level("chart-limit", Stroke::LONG, number(supply.minimum));

    // Between movements nothing changes: the line goes level and then up or down.
    let mut steps = Vec::with_capacity(2 * ledger.len() + 2);
    let mut on_hand = before.unwrap_or(supply.on_hand);
    if ledger.is_empty() {
        steps.push((across.low, number(on_hand)));
    }
    for movement in &ledger {
        let at = seconds(movement.recorded_at);
        steps.extend([(at, number(on_hand)), (at, number(movement.on_hand))]);
        on_hand = movement.on_hand;
    }
    steps.push((seconds(now), number(on_hand)));
    let places: Vec<(f64, f64)> = steps.iter().map(|(at, count)| frame.at(*at, *count)).collect();
    frame.svg.polyline("chart-step", Stroke::STRONG, &places);
    for movement in &ledger {
        let place = frame.at(seconds(movement.recorded_at), number(movement.on_hand));
        match movement.kind {
            SupplyMovementKind::Withdrawn => frame.svg.circle("chart-point", place, 3.5, false),
            SupplyMovementKind::Received => frame.svg.triangle("chart-received", place, 5.0),
            SupplyMovementKind::Counted => frame.svg.circle("chart-open", place, 5.0, true),
        }
    }

    let title = fill(&said.title, &[("supply", supply.code.as_str()), ("name", &supply.name)]);
    let whole = |count: i64| format.fixed(number(count), 0);
    let (now_on_hand, minimum) = (whole(supply.on_hand), whole(supply.minimum));
    let template = if supply.below_minimum { &said.below } else { &said.summary };
    let summary = fill(template, &[("on_hand", &now_on_hand), ("minimum", &minimum), ("unit", &supply.unit)]);
    let mut table = Table::new(&title, [&words.when, &words.what, &said.change, &axis_title]);
    for movement in &ledger {
        let what = marks.iter().find(|(kind, ..)| *kind == movement.kind).map_or("", |(.., words)| *words);
        let when = format.instant(movement.recorded_at);
        table.rows.push(vec![when, what.to_owned(), whole(movement.change), whole(movement.on_hand)]);
    }
    table.rows.push(vec![format.instant(now), said.now.to_owned(), String::new(), now_on_hand]);
    table.rows.push(vec![String::new(), said.minimum.to_owned(), String::new(), minimum]);
    Drawing { svg: frame.finish(setting, &title, &summary), title, summary, table, in_other_unit: None }
}

#[cfg(test)]
mod tests;
