//! Writing SVG: elements with presentation attributes, escaped text, numbers to a hundredth.

use std::fmt::Write;

/// Text as it may stand between tags and in quoted attributes. Characters that XML cannot hold are left out.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            '\0'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => {}
            other => out.push(other),
        }
    }
    out
}

/// A coordinate to a hundredth, without zeros that say nothing.
pub(crate) fn place(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if matches!(text, "-0" | "") { "0".to_owned() } else { text.to_owned() }
}

/// Where text stands beside its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

impl Anchor {
    const fn name(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Middle => "middle",
            Self::End => "end",
        }
    }
}

/// The size of letters.
pub(crate) const LETTER: f64 = 12.0;

/// More than a text of this many characters takes in any usual sans-serif face.
pub(crate) fn width_of(text: &str) -> f64 {
    text.chars().map(|_| 0.62 * LETTER).sum()
}

/// The inside of a picture.
#[derive(Clone, Debug, Default)]
pub(crate) struct Svg {
    body: String,
}

impl Svg {
    fn push(&mut self, element: std::fmt::Arguments<'_>) {
        // Writing to a string cannot fail.
        let _ = self.body.write_fmt(element);
        self.body.push('\n');
    }

    /// A straight stroke.
    pub(crate) fn line(&mut self, class: &str, stroke: Stroke, (x1, y1): (f64, f64), (x2, y2): (f64, f64)) {
        let (x1, y1, x2, y2) = (place(x1), place(y1), place(x2), place(y2));
        let stroke = stroke.attributes();
        self.push(format_args!("<line class=\"{class}\" x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\" {stroke}/>"));
    }

    /// A stroke through points.
    pub(crate) fn polyline(&mut self, class: &str, stroke: Stroke, points: &[(f64, f64)]) {
        let points: Vec<String> = points.iter().map(|(x, y)| format!("{},{}", place(*x), place(*y))).collect();
        let (points, stroke) = (points.join(" "), stroke.attributes());
        self.push(format_args!("<polyline class=\"{class}\" points=\"{points}\" fill=\"none\" {stroke}/>"));
    }

    /// A filled dot, or with `open` a ring.
    pub(crate) fn circle(&mut self, class: &str, (x, y): (f64, f64), radius: f64, open: bool) {
        let (x, y, radius) = (place(x), place(y), place(radius));
        let paint = if open { OPEN } else { FILLED };
        self.push(format_args!("<circle class=\"{class}\" cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" {paint}/>"));
    }

    /// A filled box, or with `open` its outline.
    pub(crate) fn rect(&mut self, class: &str, (x, y): (f64, f64), (width, height): (f64, f64), open: bool) {
        let (x, y, width, height) = (place(x), place(y), place(width), place(height));
        let paint = if open { OPEN_DASHED } else { FILLED };
        self.push(format_args!(
            "<rect class=\"{class}\" x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" {paint}/>"
        ));
    }

    /// A diagonal cross about a point.
    pub(crate) fn cross(&mut self, class: &str, (x, y): (f64, f64), reach: f64) {
        let (left, right, top, bottom) = (place(x - reach), place(x + reach), place(y - reach), place(y + reach));
        let stroke = Stroke::THIN.attributes();
        self.push(format_args!(
            "<path class=\"{class}\" d=\"M{left} {top}L{right} {bottom}M{left} {bottom}L{right} {top}\" fill=\"none\" {stroke}/>"
        ));
    }

    /// A filled triangle about a point.
    pub(crate) fn triangle(&mut self, class: &str, (x, y): (f64, f64), reach: f64) {
        let (left, right, top, bottom, middle) =
            (place(x - reach), place(x + reach), place(y - reach), place(y + reach), place(x));
        self.push(format_args!(
            "<path class=\"{class}\" d=\"M{middle} {top}L{right} {bottom}L{left} {bottom}Z\" {FILLED}/>"
        ));
    }

    /// A strong open stroke along a path.
    pub(crate) fn arc(&mut self, class: &str, path: &str) {
        self.push(format_args!(
            "<path class=\"{class}\" d=\"{path}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"9\"/>"
        ));
    }

    /// What is within a closed path, filled.
    pub(crate) fn tip(&mut self, class: &str, path: &str) {
        self.push(format_args!("<path class=\"{class}\" d=\"{path}\" {FILLED}/>"));
    }

    /// What was drawn so far.
    pub(crate) fn body(&self) -> &str {
        &self.body
    }

    /// Text whose baseline runs through a point.
    pub(crate) fn text(&mut self, class: &str, (x, y): (f64, f64), anchor: Anchor, text: &str) {
        let (x, y, anchor, text) = (place(x), place(y), anchor.name(), escaped(text));
        self.push(format_args!(
            "<text class=\"{class}\" x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\" font-size=\"{LETTER}\" fill=\"currentColor\">{text}</text>"
        ));
    }

    /// The whole picture.
    pub(crate) fn finish(self, name: &str, (width, height): (f64, f64), title: &str, summary: &str) -> String {
        let (width, height, name) = (place(width), place(height), escaped(name));
        let (title, summary, body) = (escaped(title), escaped(summary), self.body);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"chart\" role=\"img\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" \
             height=\"{height}\" font-family=\"sans-serif\" aria-labelledby=\"{name}-title {name}-summary\">\n\
             <title id=\"{name}-title\">{title}</title>\n<desc id=\"{name}-summary\">{summary}</desc>\n{body}</svg>"
        )
    }
}

const FILLED: &str = "fill=\"currentColor\"";
const OPEN: &str = "fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.5\"";
const OPEN_DASHED: &str = "fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.5\" stroke-dasharray=\"3 2\"";

/// How a stroke is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Stroke {
    width: f64,
    dashes: &'static str,
    opacity: f64,
}

impl Stroke {
    pub(crate) const THIN: Self = Self { width: 1.0, dashes: "", opacity: 1.0 };
    pub(crate) const STRONG: Self = Self { width: 2.0, dashes: "", opacity: 1.0 };
    /// For what is told and not measured.
    pub(crate) const DASHED: Self = Self { width: 1.5, dashes: "6 4", opacity: 1.0 };
    /// For bounds within limits.
    pub(crate) const DOTTED: Self = Self { width: 1.5, dashes: "2 3", opacity: 1.0 };
    /// For days and limits between sets of dashes.
    pub(crate) const LONG: Self = Self { width: 1.5, dashes: "10 3 2 3", opacity: 1.0 };

    /// For what only guides the eye.
    pub(crate) const fn faint(self) -> Self {
        Self { opacity: 0.25, ..self }
    }

    fn attributes(self) -> String {
        let mut text = format!("stroke=\"currentColor\" stroke-width=\"{}\"", place(self.width));
        if !self.dashes.is_empty() {
            let _ = write!(text, " stroke-dasharray=\"{}\"", self.dashes);
        }
        if self.opacity < 1.0 {
            let _ = write!(text, " stroke-opacity=\"{}\"", place(self.opacity));
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::{escaped, place};

    #[test]
    fn text_cannot_leave_its_place() {
        assert_eq!(escaped("<a b=\"c\">&'\u{1}\n"), "&lt;a b=&quot;c&quot;&gt;&amp;&#39; ");
    }

    #[test]
    fn places_are_short() {
        assert_eq!([place(12.0), place(0.104), place(-0.001), place(-3.25)], ["12", "0.1", "0", "-3.25"]);
        assert_eq!(place(100.0), "100");
    }
}
