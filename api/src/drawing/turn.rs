//! An arrow about a screw's head, as whoever turns the screw sees it: from its start at the top the way that is named.

use super::svg::{Anchor, Stroke, Svg, escaped, place};
use dovetally_core::adjuster::Turn;
use std::f64::consts::TAU;

/// Width and height of the picture.
const SIDE: f64 = 180.0;
/// The arrow's radius, and that of the screw's head.
const RADIUS: f64 = 70.0;
const HEAD: f64 = 44.0;
/// The least and the largest part of a turn that is drawn: less could not be seen, more would run into its own start.
const LEAST: f64 = 1.0 / 6.0;
const MOST: f64 = 7.0 / 8.0;
/// How much of a turn the arrow's head takes.
const TIP: f64 = 1.0 / 18.0;

/// Draws it. `name` labels it on its page, `title` says what it shows; `written` stands in the screw's head.
#[must_use]
pub fn draw(direction: Turn, turns: f64, name: &str, title: &str, written: &str) -> String {
    let middle = SIDE / 2.0;
    // Clockwise as it is seen: a picture's y runs down.
    let sense = match direction {
        Turn::Clockwise => 1.0,
        Turn::Counterclockwise => -1.0,
    };
    let at = |part: f64, radius: f64| {
        let angle = sense * part * TAU;
        (middle + radius * angle.sin(), middle - radius * angle.cos())
    };
    let whole = turns.clamp(LEAST, MOST);
    let shaft = whole - TIP;
    let mut svg = Svg::default();
    let corners: Vec<(f64, f64)> = (0..=6).map(|corner| at((f64::from(corner) + 0.5) / 6.0, HEAD)).collect();
    svg.polyline("turn-head", Stroke::STRONG, &corners);
    svg.line("turn-start", Stroke::STRONG, at(0.0, RADIUS - 8.0), at(0.0, RADIUS + 8.0));
    svg.text("turn-words", (middle, middle + 7.0), Anchor::Middle, written);
    let (from, to) = (at(0.0, RADIUS), at(shaft, RADIUS));
    let (tip, inner, outer) = (at(whole, RADIUS), at(shaft, RADIUS - 13.0), at(shaft, RADIUS + 13.0));
    let points = |points: &[(f64, f64)]| {
        points.iter().map(|(x, y)| format!("{} {}", place(*x), place(*y))).collect::<Vec<_>>().join("L")
    };
    let large = u8::from(shaft > 0.5);
    let sweep = u8::from(sense > 0.0);
    let radius = place(RADIUS);
    svg.arc("turn-way", &format!("M{}A{radius} {radius} 0 {large} {sweep} {}", points(&[from]), points(&[to])));
    svg.tip("turn-tip", &format!("M{}Z", points(&[tip, inner, outer])));
    let (side, name, title) = (place(SIDE), escaped(name), escaped(title));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"turn\" role=\"img\" viewBox=\"0 0 {side} {side}\" width=\"{side}\" \
         height=\"{side}\" font-family=\"sans-serif\" aria-labelledby=\"{name}-title\">\n<title id=\"{name}-title\">{title}</title>\n\
         {}</svg>",
        svg.body()
    )
}

#[cfg(test)]
mod tests {
    use super::{SIDE, draw};
    use dovetally_core::adjuster::Turn;
    use roxmltree::Document;

    /// The numbers of a path, in order.
    fn numbers(path: &str) -> Vec<f64> {
        let parts = path.split(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-')));
        parts.filter(|part| !part.is_empty()).map(|part| part.parse().unwrap()).collect()
    }

    /// The angle of a place about the middle, clockwise from the top, in turns.
    fn turned(x: f64, y: f64) -> f64 {
        let angle = (x - SIDE / 2.0).atan2(SIDE / 2.0 - y) / std::f64::consts::TAU;
        angle.rem_euclid(1.0)
    }

    #[test]
    fn the_arrow_goes_the_way_that_is_named() {
        for turns in [0.001, 0.1, 0.25, 1.0 / 3.0, 0.5, 0.6, 0.8, 1.0, 12.5] {
            for direction in [Turn::Clockwise, Turn::Counterclockwise] {
                let picture = draw(direction, turns, "t", "Turn it", "1/3");
                let document = Document::parse(&picture).unwrap();
                let path = |class: &str| {
                    let found = document.descendants().find(|node| node.attribute("class") == Some(class)).unwrap();
                    numbers(found.attribute("d").unwrap())
                };
                let way = path("turn-way");
                let [x1, y1, _, _, _, large, sweep, x2, y2] = way[..] else { panic!("{way:?}") };
                let clockwise = direction == Turn::Clockwise;
                assert_eq!(sweep > 0.5, clockwise, "an arc's sweep is clockwise where y runs down");
                assert!(turned(x1, y1) < 1e-6, "it begins at the top");
                let part = if clockwise { turned(x2, y2) } else { (1.0 - turned(x2, y2)).rem_euclid(1.0) };
                assert_eq!(large > 0.5, part > 0.5, "{turns} {direction}");
                let tip = path("turn-tip");
                let reached =
                    if clockwise { turned(tip[0], tip[1]) } else { (1.0 - turned(tip[0], tip[1])).rem_euclid(1.0) };
                assert!(reached > part, "the head points on");
                assert!((reached - turns.clamp(1.0 / 6.0, 0.875)).abs() < 1e-3, "{turns} {direction}: {reached}");
            }
        }
    }

    #[test]
    fn words_are_escaped_and_nothing_is_styled() {
        let picture = draw(Turn::Clockwise, 0.5, "t", "<b>", "1/2");
        assert!(picture.contains("&lt;b&gt;") && !picture.contains("style"), "{picture}");
        assert_eq!(Document::parse(&picture).unwrap().root_element().attribute("aria-labelledby"), Some("t-title"));
    }
}
