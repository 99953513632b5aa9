//! How long the edges of a design last: how many wore out and how many ended otherwise, by the pieces they made, with the
//! fitted distribution and the interval in which a fresh edge is expected to end.

use super::{
    Drawing, Setting, Table,
    axis::{Counts, Range},
    frame::{Axis, Frame, Mark},
    svg::Stroke,
    words::{Words, fill},
};
use dovetally_core::{
    code::Code,
    life::{
        edge::EdgeLives,
        left::{Basis, EdgesLeft, Experience},
    },
};

/// About so many bars.
const BARS: f64 = 12.0;
/// How many places the distribution is drawn at.
const STEPS: u8 = 60;

/// Edges in one bar.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Bar {
    worn: f64,
    other: f64,
}

/// The width of a bar: 1, 2 or 5 times a power of ten, at least one piece.
fn bar_width(longest: f64) -> f64 {
    let mut power = 1.0;
    loop {
        for mantissa in [1.0, 2.0, 5.0] {
            let width = mantissa * power;
            if longest < width * BARS || width >= 1e15 {
                return width;
            }
        }
        power *= 10.0;
    }
}

/// The bars up to the longest life. A life on the border of two stands in the upper one.
fn bars(lives: &EdgeLives, width: f64) -> Vec<Bar> {
    let mut bars: Vec<Bar> = Vec::new();
    let all = lives.failures.iter().map(|life| (life, true)).chain(lives.suspensions.iter().map(|life| (life, false)));
    for (life, worn) in all {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a dozen bars, lives above zero")]
        let index = (life / width).floor().clamp(0.0, BARS) as usize;
        if bars.len() <= index {
            bars.resize(index + 1, Bar::default());
        }
        let bar = &mut bars[index];
        if worn { bar.worn += 1.0 } else { bar.other += 1.0 }
    }
    bars
}

/// The Weibull distribution's share of edges that are worn by so many pieces.
fn worn_by(shape: f64, scale: f64, pieces: f64) -> f64 {
    -(-(pieces / scale).powf(shape)).exp_m1()
}

/// Draws how long the edges of a design last.
#[must_use]
pub fn draw(
    design: &Code,
    lives: &EdgeLives,
    experience: &Experience,
    words: &Words,
    setting: &Setting<'_>,
) -> Drawing {
    let (said, format) = (&words.edges, setting.format);
    let learned = match experience.basis {
        Basis::Learned(learned) => Some(learned),
        Basis::Expected { .. } => None,
    };
    // Where one fresh edge is expected to end.
    let fresh = learned.map(|_| experience.pieces_left(&EdgesLeft { in_use: Vec::new(), fresh: 1 }));
    let interval = fresh.and_then(|fresh| fresh.interval);
    let longest = lives.failures.iter().chain(&lives.suspensions).copied().fold(0.0, f64::max);
    let width = bar_width(longest);
    let bars = bars(lives, width);
    let count: f64 = bars.iter().map(|bar| bar.worn + bar.other).sum();
    let starts = || std::iter::successors(Some(0.0), move |start| Some(start + width));
    let expected = |from: f64| {
        learned.map(|it| count * (worn_by(it.shape, it.scale, from + width) - worn_by(it.shape, it.scale, from)))
    };

    let across = Range {
        low: 0.0,
        high: starts().nth(bars.len().max(1)).unwrap_or(width).max(interval.map_or(0.0, |(_, upper)| upper * 1.02)),
    };
    // At a place, how many edges a bar about it would hold.
    let density: Vec<(f64, f64)> = learned.map_or_else(Vec::new, |it| {
        let places = (0..=STEPS).map(|step| across.high * f64::from(step) / f64::from(STEPS));
        let about = |pieces: f64| {
            let (low, high) = ((pieces - width / 2.0).max(0.0), pieces + width / 2.0);
            count * (worn_by(it.shape, it.scale, high) - worn_by(it.shape, it.scale, low))
        };
        places.map(|pieces| (pieces, about(pieces))).collect()
    });
    let heights = bars.iter().map(|bar| bar.worn + bar.other).chain(density.iter().map(|(_, height)| *height));
    let upward = Range::from_zero(heights, 4.0);

    let whole = |pieces: f64| format.fixed(pieces, 0);
    let nine_in_ten =
        interval.map(|(lower, upper)| fill(&said.interval, &[("lower", &whole(lower)), ("upper", &whole(upper))]));
    let mut key = vec![(Mark::Bar, said.worn.as_str()), (Mark::OpenBar, said.other.as_str())];
    if learned.is_some() {
        key.push((Mark::Stroke(Stroke::STRONG), said.fit.as_str()));
    }
    if let Some(words) = &nine_in_ten {
        key.push((Mark::Stroke(Stroke::THIN), words));
    }
    let x = Axis { counts: Counts::Whole, range: across, title: said.pieces.to_owned() };
    let y = Axis { counts: Counts::Whole, range: upward, title: said.edges.to_owned() };
    let mut frame = Frame::new(setting, x, y, &key, 1);
    for (bar, start) in bars.iter().zip(starts()) {
        let (left, right) = (frame.x.at(start) + 1.0, frame.x.at(start + width) - 1.0);
        let (floor, middle, top) = (frame.y.at(0.0), frame.y.at(bar.worn), frame.y.at(bar.worn + bar.other));
        let wide = (right - left).max(1.0);
        if bar.worn > 0.0 {
            frame.svg.rect("chart-bar", (left, middle), (wide, floor - middle), false);
        }
        if bar.other > 0.0 {
            frame.svg.rect("chart-bar-open", (left, top), (wide, middle - top), true);
        }
    }
    frame.curve("chart-line", Stroke::STRONG, &density);
    if let (Some((lower, upper)), Some(fresh)) = (interval, fresh) {
        // Above the bars: a bar with ends, and the mean as a ring.
        let y = frame.y.to - 8.0;
        let (from, to) = (frame.x.at(lower), frame.x.at(upper));
        frame.svg.line("chart-error", Stroke::THIN, (from, y), (to, y));
        for x in [from, to] {
            frame.svg.line("chart-cap", Stroke::THIN, (x, y - 5.0), (x, y + 5.0));
        }
        let mean = frame.x.at(fresh.expected);
        frame.svg.circle("chart-open", (mean, y), 4.0, true);
    }

    let title = fill(&said.title, &[("design", design.as_str())]);
    let (worn, other) = (lives.failures.len().to_string(), lives.suspensions.len().to_string());
    let mut summary =
        if bars.is_empty() { said.none.to_owned() } else { fill(&said.summary, &[("worn", &worn), ("other", &other)]) };
    let mut table = Table::new(&title, [&said.pieces, &said.worn, &said.other, &said.fit]);
    let fitted = |from| expected(from).map(|edges| format.fixed(edges, 2)).unwrap_or_default();
    for (bar, start) in bars.iter().zip(starts()) {
        let span = format!("{} … {}", whole(start), whole(start + width));
        table.rows.push(vec![span, whole(bar.worn), whole(bar.other), fitted(start)]);
    }
    if let (Some((lower, upper)), Some(fresh), Some(nine_in_ten)) = (interval, fresh, nine_in_ten) {
        let (expected, lower, upper) = (whole(fresh.expected), whole(lower), whole(upper));
        summary.push(' ');
        let facts = [("expected", &*expected), ("lower", &*lower), ("upper", &*upper)];
        summary.push_str(&fill(&said.learned, &facts));
        let row = |head: String| vec![head, String::new(), String::new(), String::new()];
        table.rows.push(row(format!("{}: {expected}", &said.mean)));
        table.rows.push(row(nine_in_ten));
    }
    Drawing { svg: frame.finish(setting, &title, &summary), title, summary, table, in_other_unit: None }
}

#[cfg(test)]
mod tests;
