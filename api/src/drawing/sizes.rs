//! Sizes of a feature while running, with its limits and the time at which the drift meets one.

use super::{
    Drawing, Format, Setting, Table,
    axis::{Counts, Range, seconds},
    frame::{Axis, Frame, Mark, Upright},
    svg::{Anchor, LETTER, Stroke},
    words::{Words, fill},
};
use crate::transport::{
    setup_station::LastSizeView,
    wear::{FeatureWearView, SpindleWearView},
};
use chrono::{DateTime, Utc};
use dovetally_core::length::LengthUnit;

/// The drift of one spindle from its last reading to the limit.
struct Ahead {
    spindle: u8,
    /// Seconds since 1970, and the size on the line then.
    from: (f64, f64),
    to: (f64, f64),
    earliest: DateTime<Utc>,
    about: DateTime<Utc>,
}

/// The line of the spindle that comes to a limit first, where a time of day is told.
fn ahead(wear: &FeatureWearView, sizes: &[LastSizeView]) -> Option<Ahead> {
    let first: &SpindleWearView = wear.spindles.iter().find(|spindle| Some(spindle.spindle) == wear.first)?;
    let (about, earliest) = (first.about?, first.earliest?);
    let told = |name: &str| first.trend.as_ref()?.get("result")?.get(name)?.as_f64();
    let (slope, intercept) = (told("slope")?, told("intercept")?);
    #[expect(clippy::cast_precision_loss, reason = "piece numbers are below 2^53")]
    let last_piece = first.last_piece as f64;
    let last = sizes.iter().filter(|size| size.piece == Some(first.last_piece)).map(|size| size.at).max();
    let last = last.or_else(|| sizes.iter().map(|size| size.at).max())?;
    let on_line = |pieces: f64| intercept + slope * pieces;
    Some(Ahead {
        spindle: first.spindle,
        from: (seconds(last), on_line(last_piece)),
        to: (seconds(about), on_line(last_piece + first.pieces_to_limit?)),
        earliest,
        about,
    })
}

/// Draws the sizes of a feature, in any order, with what is told of its drift.
#[must_use]
pub fn draw(wear: &FeatureWearView, sizes: &[LastSizeView], words: &Words, setting: &Setting<'_>) -> Drawing {
    let (said, format) = (&words.sizes, setting.format);
    let unit = wear.smallest.unit();
    let mut sizes = sizes.to_vec();
    sizes.sort_by_key(|size| (size.at, size.piece, size.spindle));
    let (smallest, largest) = (wear.smallest.value(), wear.largest.value_in(unit));
    let values: Vec<(f64, f64)> = sizes.iter().map(|size| (seconds(size.at), size.value.value_in(unit))).collect();
    let ahead = ahead(wear, &sizes);

    let mut key = vec![(Mark::Stroke(Stroke::LONG), said.limits.as_str())];
    if !values.is_empty() {
        key.push((Mark::Dot, said.reading.as_str()));
    }
    if ahead.is_some() {
        key.push((Mark::Stroke(Stroke::DASHED), said.drift.as_str()));
    }
    let times = ahead.iter().flat_map(|ahead| [seconds(ahead.earliest), ahead.to.0]);
    let across = Range::over(values.iter().map(|(at, _)| *at).chain(times), 1800.0);
    let upward = Range::over(values.iter().map(|(_, value)| *value).chain([smallest, largest]), 1e-5);
    let axis_title = fill(&said.size, &[("unit", unit.sign())]);
    let x = Axis { counts: Counts::Time, range: across, title: words.when.to_owned() };
    let y = Axis { counts: Counts::Numbers, range: upward, title: axis_title.clone() };
    let mut frame = Frame::new(setting, x, y, &key, if ahead.is_some() { 2 } else { 0 });
    for limit in [smallest, largest] {
        frame.level("chart-limit", Stroke::LONG, limit);
    }
    let clock = |at: DateTime<Utc>| format.time(format.local(at));
    if let Some(ahead) = &ahead {
        frame.curve("chart-line", Stroke::DASHED, &[ahead.from, ahead.to]);
        let measure = fill(&said.measure_by, &[("time", &clock(ahead.earliest))]);
        let regrind = fill(&said.regrind_about, &[("time", &clock(ahead.about))]);
        frame.uprights(&[
            Upright { stroke: Stroke::DOTTED, value: seconds(ahead.earliest), words: measure },
            Upright { stroke: Stroke::DASHED, value: ahead.to.0, words: regrind },
        ]);
    }
    let mut numbers: Vec<((f64, f64), Vec<u8>)> = Vec::new();
    for ((at, value), size) in values.iter().zip(&sizes) {
        let place = frame.at(*at, *value);
        frame.svg.circle("chart-point", place, 3.5, false);
        let Some(spindle) = size.spindle else { continue };
        // Of dots that lie on each other every number is read.
        let touching = numbers.iter_mut().find(|((x, y), _)| (x - place.0).abs() < 9.0 && (y - place.1).abs() < 9.0);
        match touching {
            Some((_, spindles)) if spindles.contains(&spindle) => {}
            Some((_, spindles)) => spindles.push(spindle),
            None => numbers.push((place, vec![spindle])),
        }
    }
    for ((x, y), spindles) in &numbers {
        let words: Vec<String> = spindles.iter().map(u8::to_string).collect();
        frame.svg.text("chart-text chart-number", (x + 6.0, y + LETTER / 3.0), Anchor::Start, &words.join(", "));
    }

    let title = fill(&said.title, &[("feature", wear.feature.as_str())]);
    let (low, high) = (format.length(smallest), format.length(largest));
    let last = values.last().map(|(_, value)| format.length(*value));
    let count = values.len().to_string();
    let template = if last.is_some() { &said.summary } else { &said.none };
    let last = last.unwrap_or_default();
    let mut summary = fill(
        template,
        &[("count", &count), ("last", &last), ("smallest", &low), ("largest", &high), ("unit", unit.sign())],
    );
    if let Some(ahead) = &ahead {
        let (spindle, about, earliest) =
            (ahead.spindle.to_string(), format.instant(ahead.about), format.instant(ahead.earliest));
        summary.push(' ');
        let facts = [("spindle", &*spindle), ("about", &*about), ("earliest", &*earliest)];
        summary.push_str(&fill(&said.regrind, &facts));
    }
    let listed = Listed { wear, sizes: &sizes, ahead: ahead.as_ref(), words, format, title: &title };
    let (table, in_other_unit) = (listed.table(unit), Some(listed.table(unit.other())));
    Drawing { svg: frame.finish(setting, &title, &summary), title, summary, table, in_other_unit }
}

/// What the table lists.
struct Listed<'a> {
    wear: &'a FeatureWearView,
    sizes: &'a [LastSizeView],
    ahead: Option<&'a Ahead>,
    words: &'a Words,
    format: &'a dyn Format,
    title: &'a str,
}

impl Listed<'_> {
    fn table(&self, unit: LengthUnit) -> Table {
        let Self { wear, sizes, ahead, words, format, title } = *self;
        let (said, own) = (&words.sizes, wear.smallest.unit());
        let length = |value: f64| format.length_in(value, own, unit);
        let size = fill(&said.size, &[("unit", unit.sign())]);
        let mut table = Table::new(title, [&words.when, &words.what, &said.spindle, &said.piece, &size]);
        let unknown = || said.unknown.to_owned();
        for size in sizes {
            table.rows.push(vec![
                format.instant(size.at),
                said.reading_row.to_owned(),
                size.spindle.map_or_else(unknown, |spindle| spindle.to_string()),
                size.piece.map_or_else(unknown, |piece| piece.to_string()),
                length(size.value.value_in(own)),
            ]);
        }
        if let Some(ahead) = ahead {
            let spindle = ahead.spindle.to_string();
            for (at, template, size) in [
                (ahead.earliest, &said.measure_by, String::new()),
                (ahead.about, &said.regrind_about, length(ahead.to.1)),
            ] {
                let what = fill(template, &[("time", &format.time(format.local(at)))]);
                table.rows.push(vec![format.instant(at), what, spindle.clone(), String::new(), size]);
            }
        }
        for limit in [wear.smallest, wear.largest] {
            let empty = String::new;
            let limit = length(limit.value_in(own));
            table.rows.push(vec![empty(), said.limits.to_owned(), empty(), empty(), limit]);
        }
        table
    }
}

#[cfg(test)]
mod tests;
