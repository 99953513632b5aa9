//! The frame of a chart: two axes with ticks, and a key of the marks below.

use super::{
    Setting,
    axis::{Counts, Range, Scale, Tick, fit_across, fit_upward, inside_across, instant, ticks},
    svg::{Anchor, LETTER, Stroke, Svg, width_of},
};

/// A line of text with room about it.
pub(crate) const ROW: f64 = 1.4 * LETTER;

/// One axis, as a chart asks for it.
#[derive(Clone, Debug)]
pub(crate) struct Axis {
    pub(crate) counts: Counts,
    pub(crate) range: Range,
    pub(crate) title: String,
}

/// A mark, as the key shows it.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Mark {
    Dot,
    Ring,
    Cross,
    Triangle,
    Stroke(Stroke),
    Bar,
    OpenBar,
}

/// Where a mark and its meaning stand in a key.
fn key_places(entries: &[(Mark, &str)], width: f64) -> (Vec<(f64, f64)>, f64) {
    let (mut x, mut row) = (4.0, 0.0);
    let mut places = Vec::with_capacity(entries.len());
    for (_, words) in entries {
        let wide = 34.0 + width_of(words);
        if x > 4.0 && x + wide > width {
            (x, row) = (4.0, row + 1.0);
        }
        places.push((x, row * ROW));
        x += wide;
    }
    (places, if entries.is_empty() { 0.0 } else { (row + 1.0) * ROW })
}

/// How high a key is.
pub(crate) fn key_height(entries: &[(Mark, &str)], width: f64) -> f64 {
    key_places(entries, width).1
}

/// Draws a key whose first row has its top at a height.
pub(crate) fn draw_key(svg: &mut Svg, entries: &[(Mark, &str)], width: f64, top: f64) {
    for ((mark, words), (x, y)) in entries.iter().zip(key_places(entries, width).0) {
        let (middle, baseline) = (top + y + ROW / 2.0, top + y + ROW / 2.0 + LETTER / 3.0);
        let at = (x + 11.0, middle);
        match mark {
            Mark::Dot => svg.circle("chart-key", at, 4.0, false),
            Mark::Ring => svg.circle("chart-key", at, 4.0, true),
            Mark::Cross => svg.cross("chart-key", at, 4.0),
            Mark::Triangle => svg.triangle("chart-key", at, 5.0),
            Mark::Stroke(stroke) => svg.line("chart-key", *stroke, (x, middle), (x + 22.0, middle)),
            Mark::Bar => svg.rect("chart-key", (x + 6.0, middle - 5.0), (10.0, 10.0), false),
            Mark::OpenBar => svg.rect("chart-key", (x + 6.0, middle - 5.0), (10.0, 10.0), true),
        }
        svg.text("chart-text", (x + 26.0, baseline), Anchor::Start, words);
    }
}

/// An upright line, as a chart asks for it.
#[derive(Clone, Debug)]
pub(crate) struct Upright {
    pub(crate) stroke: Stroke,
    pub(crate) value: f64,
    pub(crate) words: String,
}

/// The middle of words about a place, inside the picture and clear of upright lines that lie to the right of the place:
/// left of all of them, or right of all of them where that side has no room.
fn beside(x: f64, half: f64, width: f64, lines: &[f64]) -> f64 {
    const CLEAR: f64 = 4.0;
    let (least, most) = (half.min(width / 2.0), (width - half).max(width / 2.0));
    let middle = x.clamp(least, most);
    let touched = |line: &f64| (line - middle).abs() < half + CLEAR;
    if !lines.iter().any(touched) {
        return middle;
    }
    let left = lines.iter().copied().fold(f64::INFINITY, f64::min) - half - CLEAR;
    let right = lines.iter().copied().fold(f64::NEG_INFINITY, f64::max) + half + CLEAR;
    if left >= least || right > most { left.max(least) } else { right }
}

/// The plot inside its axes.
#[derive(Clone, Debug)]
pub(crate) struct Frame {
    pub(crate) x: Scale,
    pub(crate) y: Scale,
    pub(crate) svg: Svg,
    width: f64,
    height: f64,
    /// How many rows of words stand above the plot.
    rows_above: u8,
}

impl Frame {
    /// Draws axes, and a key below them; leaves room for so many rows of words above.
    pub(crate) fn new(setting: &Setting<'_>, x: Axis, y: Axis, key: &[(Mark, &str)], rows_above: u8) -> Self {
        let (format, width) = (setting.format, setting.size.width);
        let top = ROW * (1.5 + f64::from(rows_above));
        let key_height = key_height(key, width);
        // A key of many rows does not press the plot flat.
        let height = setting.size.height.max(top + 120.0 + 2.4 * ROW + key_height);
        let bottom = height - key_height - 2.4 * ROW;
        let y_scale = Scale { range: y.range, from: bottom, to: top };
        let y_ticks = ticks(y.counts, y.range, format, |_| true, |found| fit_upward(found, y_scale));
        let widest = y_ticks.iter().map(|tick| width_of(&tick.label)).fold(0.0, f64::max);
        let left = (widest + 12.0).min(width / 2.0);
        let x_scale = Scale { range: x.range, from: left, to: width - 12.0 };
        let inside = |tick: &Tick| inside_across(tick, x_scale, width);
        let x_ticks = ticks(x.counts, x.range, format, inside, |found| fit_across(found, x_scale));
        let mut frame = Self { x: x_scale, y: y_scale, svg: Svg::default(), width, height, rows_above };
        frame.draw_axes(&x_ticks, &y_ticks);
        let mut across = x.title;
        if let (Counts::Time, Some(from), Some(to)) = (x.counts, instant(x.range.low), instant(x.range.high)) {
            let (from, to) = (format.day(format.local(from).date()), format.day(format.local(to).date()));
            across = if from == to { format!("{across}, {from}") } else { format!("{across}, {from} … {to}") };
        }
        frame.svg.text("chart-text", (width - 12.0, bottom + 2.1 * ROW), Anchor::End, &across);
        frame.svg.text("chart-text", (4.0, LETTER + 2.0), Anchor::Start, &y.title);
        draw_key(&mut frame.svg, key, width, height - key_height - 2.0);
        frame
    }

    fn draw_axes(&mut self, x_ticks: &[Tick], y_ticks: &[Tick]) {
        let (left, right, bottom) = (self.x.from, self.x.to, self.y.from);
        for tick in y_ticks {
            let y = self.y.at(tick.value);
            self.svg.line("chart-grid", Stroke::THIN.faint(), (left, y), (right, y));
            self.svg.text("chart-text chart-y", (left - 6.0, y + LETTER / 3.0), Anchor::End, &tick.label);
        }
        for tick in x_ticks {
            let x = self.x.at(tick.value);
            self.svg.line("chart-tick", Stroke::THIN, (x, bottom), (x, bottom + 5.0));
            self.svg.text("chart-text chart-x", (x, bottom + 5.0 + LETTER), Anchor::Middle, &tick.label);
        }
        self.svg.line("chart-axis", Stroke::THIN, (left, bottom), (right, bottom));
        self.svg.line("chart-axis", Stroke::THIN, (left, bottom), (left, self.y.to));
    }

    /// The place of a pair of values.
    pub(crate) fn at(&self, x: f64, y: f64) -> (f64, f64) {
        (self.x.at(x), self.y.at(y))
    }

    /// A level across the plot.
    pub(crate) fn level(&mut self, class: &str, stroke: Stroke, value: f64) {
        let y = self.y.at(value);
        self.svg.line(class, stroke, (self.x.from, y), (self.x.to, y));
    }

    /// Upright lines with words above each in a row of its own, the line farthest to the right in the top row: words of
    /// the rows below stand clear of the lines that come down past them.
    pub(crate) fn uprights(&mut self, lines: &[Upright]) {
        let mut order: Vec<&Upright> = lines.iter().collect();
        order.sort_by(|one, other| other.value.total_cmp(&one.value));
        debug_assert!(lines.len() <= usize::from(self.rows_above), "a row that has no room");
        for line in lines {
            let row = order.iter().position(|other| std::ptr::eq(*other, line)).unwrap_or(0);
            let x = self.x.at(line.value);
            let passing: Vec<f64> = order[..row].iter().map(|other| self.x.at(other.value)).collect();
            let y = 2.0 * ROW + passing.iter().map(|_| ROW).sum::<f64>() - 2.0;
            let half = width_of(&line.words) / 2.0;
            let middle = beside(x, half, self.width, &passing);
            self.svg.line("chart-day", line.stroke, (x, y + 4.0), (x, self.y.from));
            self.svg.text("chart-text chart-day-words", (middle, y), Anchor::Middle, &line.words);
        }
    }

    /// A line through pairs of values, as far as it lies inside the plot.
    pub(crate) fn curve(&mut self, class: &str, stroke: Stroke, values: &[(f64, f64)]) {
        for part in inside(values, self.y.range) {
            let places: Vec<(f64, f64)> = part.iter().map(|(x, y)| self.at(*x, *y)).collect();
            self.svg.polyline(class, stroke, &places);
        }
    }

    /// The whole picture.
    pub(crate) fn finish(self, setting: &Setting<'_>, title: &str, summary: &str) -> String {
        self.svg.finish(setting.name, (self.width, self.height), title, summary)
    }
}

/// The parts of a line whose values lie in a range, cut where it leaves.
fn inside(values: &[(f64, f64)], range: Range) -> Vec<Vec<(f64, f64)>> {
    let mut parts: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut open = false;
    for pair in values.windows(2) {
        let Some((from, to)) = cut(pair[0], pair[1], range) else {
            open = false;
            continue;
        };
        match parts.last_mut() {
            Some(part) if open => part.push(to),
            _ => parts.push(vec![from, to]),
        }
        open = to == pair[1];
    }
    parts
}

/// The part of a straight line whose values lie in a range.
fn cut(from: (f64, f64), to: (f64, f64), range: Range) -> Option<((f64, f64), (f64, f64))> {
    let rise = to.1 - from.1;
    if rise == 0.0 {
        return range.holds(from.1).then_some((from, to));
    }
    let (one, other) = ((range.low - from.1) / rise, (range.high - from.1) / rise);
    let (enter, leave) = (one.min(other).max(0.0), one.max(other).min(1.0));
    let on = |share: f64| {
        if share == 0.0 {
            from
        } else if share == 1.0 {
            to
        } else {
            (from.0 + share * (to.0 - from.0), from.1 + share * rise)
        }
    };
    (enter < leave).then(|| (on(enter), on(leave)))
}

/// Levels for words about places along a line, such that none touches another on its level.
pub(crate) fn levels(places: &[(f64, f64)]) -> Vec<u8> {
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by(|one, other| places[*one].0.total_cmp(&places[*other].0));
    let mut ends: Vec<f64> = Vec::new();
    let mut found = vec![0; places.len()];
    for index in order {
        let (middle, width) = places[index];
        let start = middle - width / 2.0;
        let level = ends.iter().position(|end| end + 2.0 <= start).unwrap_or(ends.len());
        if level == ends.len() {
            ends.push(0.0);
        }
        ends[level] = middle + width / 2.0;
        found[index] = u8::try_from(level).unwrap_or(u8::MAX);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::{Range, beside, inside, levels};

    #[test]
    fn a_line_is_cut_where_it_leaves() {
        let range = Range { low: 0.0, high: 10.0 };
        let parts = inside(&[(0.0, -10.0), (2.0, 10.0), (3.0, 20.0), (4.0, 0.0)], range);
        assert_eq!(parts, [vec![(1.0, 0.0), (2.0, 10.0)], vec![(3.5, 10.0), (4.0, 0.0)]]);
        assert!(inside(&[(0.0, 11.0), (1.0, 11.0)], range).is_empty());
        assert!(inside(&[(0.0, 5.0)], range).is_empty());
    }

    #[test]
    fn words_stand_clear_of_lines_that_pass_them() {
        let at = |x, lines: &[f64]| beside(x, 50.0, 300.0, lines);
        assert_eq!([at(150.0, &[]), at(10.0, &[]), at(295.0, &[])], [150.0, 50.0, 250.0], "inside the picture");
        assert_eq!(at(150.0, &[250.0]), 150.0, "no line passes");
        assert_eq!(at(150.0, &[180.0]), 126.0, "left of the line");
        assert_eq!(at(60.0, &[70.0]), 124.0, "right of it where the left has no room");
    }

    #[test]
    fn words_that_would_touch_are_stacked() {
        assert_eq!(levels(&[(0.0, 10.0), (5.0, 10.0), (30.0, 10.0), (12.5, 10.0)]), [0, 1, 0, 0]);
    }
}
