//! The sizes of a piece, each feature against its own limits: all bands are drawn alike, so that it is seen at once which
//! size lies where in its tolerance.

use super::{
    Drawing, Setting, Table,
    frame::{Mark, ROW, draw_key, key_height, levels},
    svg::{Anchor, LETTER, Stroke, Svg, width_of},
    words::{PieceWords, Words, fill},
};
use dovetally_core::{
    code::Code,
    length::{Length, LengthUnit},
    setup::{event::FirstPieceReading, plan::Feature},
};

/// A size from one spindle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measured {
    /// The spindle; none where nobody said.
    pub spindle: Option<u8>,
    /// The size.
    pub value: Length,
}

/// A feature with its limits and what was measured of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MeasuredFeature<'a> {
    /// The station that makes it.
    pub station: &'a Code,
    /// The feature.
    pub feature: &'a Code,
    /// The smallest size allowed.
    pub smallest: Length,
    /// The size wanted.
    pub target: Length,
    /// The largest size allowed; above the smallest.
    pub largest: Length,
    /// What was measured.
    pub sizes: Vec<Measured>,
}

impl<'a> MeasuredFeature<'a> {
    /// A feature of a station's operation, with those of a first piece's readings that are of it.
    #[must_use]
    pub fn of(station: &'a Code, feature: &'a Feature, readings: &[FirstPieceReading]) -> Self {
        let own = readings.iter().filter(|reading| reading.station == *station && reading.feature == feature.code);
        Self {
            station,
            feature: &feature.code,
            smallest: feature.target.plus(feature.tolerance.lower()),
            target: feature.target,
            largest: feature.target.plus(feature.tolerance.upper()),
            sizes: own.map(|reading| Measured { spindle: reading.spindle, value: reading.value }).collect(),
        }
    }

    fn holds(&self, value: Length) -> bool {
        self.smallest <= value && value <= self.largest
    }

    /// Where a size lies: 0 at the smallest allowed, 1 at the largest. Where both are one, on it or far away.
    fn share(&self, value: Length) -> f64 {
        let (past, width) = (value.minus(self.smallest).millimetres(), self.largest.minus(self.smallest).millimetres());
        if width > 0.0 {
            past / width
        } else if past == 0.0 {
            0.5
        } else {
            past.signum() * f64::MAX
        }
    }
}

/// So far beyond its limits, in widths of the tolerance, a size still stands where it lies; farther out it is told by an arrow.
const BEYOND: f64 = 0.75;

/// Draws the sizes of a piece.
#[must_use]
pub fn draw(features: &[MeasuredFeature<'_>], words: &Words, setting: &Setting<'_>) -> Drawing {
    let (said, width) = (&words.pieces, setting.size.width);
    let key = [
        (Mark::Dot, said.inside.as_str()),
        (Mark::Cross, said.outside.as_str()),
        (Mark::Triangle, said.beyond.as_str()),
    ];
    let (left, right) = (16.0, width - 16.0);
    let at = |share: f64| left + (share + BEYOND) / (1.0 + 2.0 * BEYOND) * (right - left);
    let mut svg = Svg::default();
    let heads = [(at(0.0), &said.smallest, Anchor::Middle), (at(1.0), &said.largest, Anchor::Middle)];
    for (x, head, anchor) in heads {
        svg.text("chart-text chart-x", (x, LETTER + 2.0), anchor, head);
    }
    let mut top = ROW + 4.0;
    for feature in features {
        top = draw_feature(&mut svg, feature, said, top, (left, right), &at);
    }
    let height = top + key_height(&key, width) + 8.0;
    draw_key(&mut svg, &key, width, top + 4.0);

    let sizes = || features.iter().flat_map(|feature| feature.sizes.iter().map(move |size| (feature, size)));
    let inside = sizes().filter(|(feature, size)| feature.holds(size.value)).count().to_string();
    let all = sizes().count();
    let summary = if all == 0 {
        said.none.to_owned()
    } else {
        fill(&said.summary, &[("inside", &inside), ("all", &all.to_string())])
    };
    let in_other_unit = Some(table(features, said, setting, LengthUnit::other));
    let table = table(features, said, setting, |own| own);
    let title = said.title.to_owned();
    Drawing { svg: svg.finish(setting.name, (width, height), &title, &summary), title, summary, table, in_other_unit }
}

/// The numbers; each feature's in the unit that `shown` makes of its own.
fn table(
    features: &[MeasuredFeature<'_>],
    said: &PieceWords,
    setting: &Setting<'_>,
    shown: fn(LengthUnit) -> LengthUnit,
) -> Table {
    let columns =
        [&said.feature, &said.spindle, &said.size, &said.smallest, &said.target, &said.largest, &said.verdict];
    let mut table = Table::new(&said.title, columns);
    for feature in features {
        let own = feature.target.unit();
        let unit = shown(own);
        let length =
            |length: Length| format!("{} {}", setting.format.length_in(length.value_in(own), own, unit), unit.sign());
        let limits = [feature.smallest, feature.target, feature.largest].map(length);
        let name = format!("{} {}", feature.station, feature.feature);
        let row = |spindle: String, size: String, verdict: &str| {
            let mut row = vec![name.clone(), spindle, size];
            row.extend(limits.clone());
            row.push(verdict.to_owned());
            row
        };
        if feature.sizes.is_empty() {
            table.rows.push(row(String::new(), String::new(), &said.none));
        }
        for size in &feature.sizes {
            let spindle = size.spindle.map(|spindle| spindle.to_string()).unwrap_or_default();
            let verdict = if feature.holds(size.value) { &said.inside_verdict } else { &said.outside };
            table.rows.push(row(spindle, length(size.value), verdict));
        }
    }
    table
}

/// Draws one feature, and tells where it ends.
fn draw_feature(
    svg: &mut Svg,
    feature: &MeasuredFeature<'_>,
    said: &PieceWords,
    top: f64,
    (left, right): (f64, f64),
    at: &impl Fn(f64) -> f64,
) -> f64 {
    let name = format!("{} {}", feature.station, feature.feature);
    let shares: Vec<f64> = feature.sizes.iter().map(|size| feature.share(size.value)).collect();
    let numbers: Vec<String> =
        feature.sizes.iter().map(|size| size.spindle.map(|spindle| spindle.to_string()).unwrap_or_default()).collect();
    let places: Vec<(f64, f64)> = shares
        .iter()
        .zip(&numbers)
        .map(|(share, number)| (at(share.clamp(-BEYOND, 1.0 + BEYOND)), width_of(number).max(9.0)))
        .collect();
    let levels = levels(&places);
    let rows = f64::from(levels.iter().max().map_or(1, |level| level + 1));
    let line = top + ROW + rows * ROW + 8.0;
    svg.text("chart-text chart-name", (4.0, top + ROW - 4.0), Anchor::Start, &name);
    svg.line("chart-axis", Stroke::THIN, (left, line), (right, line));
    for share in [0.0, 1.0] {
        svg.line("chart-limit", Stroke::STRONG, (at(share), line - 9.0), (at(share), line + 9.0));
    }
    let target = at(feature.share(feature.target).clamp(0.0, 1.0));
    svg.line("chart-target", Stroke::THIN, (target, line - 5.0), (target, line + 5.0));
    if feature.sizes.is_empty() {
        svg.text("chart-text", (at(0.5), line - 6.0), Anchor::Middle, &said.none);
    }
    for ((((x, _), level), size), (share, number)) in
        places.iter().zip(&levels).zip(&feature.sizes).zip(shares.iter().zip(&numbers))
    {
        let place = (*x, line);
        if feature.holds(size.value) {
            svg.circle("chart-point", place, 4.0, false);
        } else if (-BEYOND..=1.0 + BEYOND).contains(share) {
            svg.cross("chart-cross", place, 5.0);
        } else {
            svg.triangle("chart-beyond", place, 5.0);
        }
        if !number.is_empty() {
            let y = line - 10.0 - f64::from(*level) * ROW;
            svg.text("chart-text chart-number", (*x, y), Anchor::Middle, number);
        }
    }
    line + 16.0
}

#[cfg(test)]
mod tests {
    use super::{Measured, MeasuredFeature, draw};
    use crate::drawing::{
        testing::{DESK, PHONE, by_class, crosses, picture},
        words::ENGLISH,
    };
    use dovetally_core::{code::Code, length::Length, length::LengthUnit};

    fn inch(value: f64) -> Length {
        Length::new(value, LengthUnit::Inch).unwrap()
    }

    fn feature<'a>(station: &'a Code, code: &'a Code, sizes: &[(u8, f64)]) -> MeasuredFeature<'a> {
        MeasuredFeature {
            station,
            feature: code,
            smallest: inch(0.374),
            target: inch(0.375),
            largest: inch(0.375),
            sizes: sizes
                .iter()
                .map(|(spindle, value)| Measured { spindle: Some(*spindle), value: inch(*value) })
                .collect(),
        }
    }

    #[test]
    fn sizes_stand_where_they_lie_in_their_tolerance() {
        let (station, code) = (Code::parse("S1").unwrap(), Code::parse("D1").unwrap());
        let sizes = [(1, 0.3745), (2, 0.374), (3, 0.3752), (4, 0.5), (5, 0.3745)];
        for (setting, half) in [(DESK, "0.5 in"), (PHONE, "0,5 in")] {
            let drawing = draw(&[feature(&station, &code, &sizes)], &ENGLISH, &setting);
            let document = picture(&drawing, &setting);
            let limits = by_class(&document, "chart-limit", "x1");
            let share = |x: f64| (x - limits[0]) / (limits[1] - limits[0]);
            let inside: Vec<f64> = by_class(&document, "chart-point", "cx").into_iter().map(share).collect();
            for (got, expected) in inside.iter().zip([0.5, 0.0, 0.5]) {
                assert!((got - expected).abs() < 1e-3, "{inside:?}");
            }
            let outside = crosses(&document, "chart-cross");
            assert!((share(outside[0].0) - 1.2).abs() < 1e-3, "{outside:?}");
            let beyond = crosses(&document, "chart-beyond");
            assert!((share(beyond[0].0) - 1.75).abs() < 1e-3, "far outside stands at the edge: {beyond:?}");
            assert_eq!(drawing.summary, "3 of 5 sizes lie inside their limits.");
            let verdicts: Vec<&str> = drawing.table.rows.iter().map(|row| row[6].as_str()).collect();
            assert_eq!(verdicts, ["inside", "inside", "outside", "outside", "inside"]);
            assert_eq!(drawing.table.rows[3][2], half);
        }
    }

    #[test]
    fn nothing_measured_and_limits_without_width_are_drawn() {
        let (station, code) = (Code::parse("S1").unwrap(), Code::parse("D1").unwrap());
        let nothing = feature(&station, &code, &[]);
        let mut narrow = feature(&station, &code, &[(1, 0.375), (2, 0.376), (3, 0.374)]);
        narrow.smallest = narrow.largest;
        let drawing = draw(&[nothing.clone(), narrow], &ENGLISH, &PHONE);
        picture(&drawing, &PHONE);
        assert_eq!(drawing.summary, "1 of 3 sizes lie inside their limits.");
        assert_eq!(draw(&[nothing], &ENGLISH, &DESK).summary, ENGLISH.pieces.none);
    }
}
