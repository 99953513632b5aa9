//! What the tests of charts have in common: a picture is read back by an XML parser, and values are measured on its axes.

use super::{
    Drawing, Setting, Size,
    format::{MINUS, Plain},
    svg::{LETTER, width_of},
};
use chrono::{DateTime, NaiveDate, Utc};
use roxmltree::{Document, Node};

pub(crate) const DESK: Setting<'static> =
    Setting { name: "desk", size: Size::WIDE, format: &Plain { decimal_mark: '.', zone: Utc } };
pub(crate) const PHONE: Setting<'static> =
    Setting { name: "phone", size: Size::NARROW, format: &Plain { decimal_mark: ',', zone: Utc } };

fn has_class(node: Node<'_, '_>, class: &str) -> bool {
    node.attribute("class").is_some_and(|classes| classes.split(' ').any(|own| own == class))
}

fn number(node: Node<'_, '_>, attribute: &str) -> f64 {
    node.attribute(attribute).unwrap_or_else(|| panic!("{node:?} has no {attribute}")).parse().unwrap()
}

/// Left, right, top and bottom of a text.
fn extent(node: Node<'_, '_>) -> [f64; 4] {
    let (x, y, width) = (number(node, "x"), number(node, "y"), width_of(node.text().unwrap_or_default()));
    let left = match node.attribute("text-anchor").unwrap() {
        "start" => x,
        "middle" => x - width / 2.0,
        _ => x - width,
    };
    [left, left + width, y - 0.8 * LETTER, y + 0.2 * LETTER]
}

/// Reads a picture, and holds it against what is true of every chart.
pub(crate) fn picture<'d>(drawing: &'d Drawing, setting: &Setting<'_>) -> Document<'d> {
    let document = Document::parse(&drawing.svg).unwrap_or_else(|error| panic!("{error}: {}", drawing.svg));
    let root = document.root_element();
    assert_eq!(root.tag_name().name(), "svg");
    assert_eq!(root.attribute("width"), Some(&*setting.size.width.to_string()));
    let tag = |name| ("http://www.w3.org/2000/svg", name);
    let title = root.children().find(|node| node.has_tag_name(tag("title"))).and_then(|node| node.text());
    assert_eq!(title, Some(drawing.title.as_str()));
    let summary = root.children().find(|node| node.has_tag_name(tag("desc"))).and_then(|node| node.text());
    assert_eq!(summary, Some(drawing.summary.as_str()));
    assert!(!drawing.title.contains('{') && !drawing.summary.contains('{'), "a place was not filled: {drawing:?}");
    for node in root.descendants().filter(Node::is_element) {
        for attribute in node.attributes() {
            let (name, value) = (attribute.name(), attribute.value());
            assert!(name != "style" && !name.starts_with("on"), "{node:?} {name}");
            assert!(!value.contains("NaN") && !value.contains("inf"), "{node:?} {name}={value}");
            assert!(name != "id" || value.starts_with(setting.name), "{value}");
            assert!(!matches!(name, "fill" | "stroke") || matches!(value, "none" | "currentColor"), "{name}={value}");
        }
        assert!(!matches!(node.tag_name().name(), "script" | "style" | "foreignObject" | "image"));
    }
    let words: Vec<Node<'_, '_>> =
        root.descendants().filter(|node| has_class(*node, "chart-text") && !has_class(*node, "chart-number")).collect();
    for (index, one) in words.iter().enumerate() {
        let a = extent(*one);
        assert!(a[0] >= -1.0 && a[1] <= setting.size.width + 1.0, "{:?} leaves the picture", one.text());
        assert!(!one.text().unwrap_or_default().contains('{'), "a place was not filled: {one:?}");
        for day in root.descendants().filter(|node| has_class(*node, "chart-day")) {
            let (x, top) = (number(day, "x1"), number(day, "y1"));
            let clear = x <= a[0] || x >= a[1] || top >= a[3] || number(day, "y2") <= a[2];
            assert!(clear, "a line runs through {:?} in {}", one.text(), drawing.svg);
        }
        for other in &words[index + 1..] {
            let b = extent(*other);
            let apart = a[1] <= b[0] || b[1] <= a[0] || a[3] <= b[2] || b[3] <= a[2];
            assert!(apart, "{:?} and {:?} overlap in {}", one.text(), other.text(), drawing.svg);
        }
    }
    assert!(drawing.table.rows.iter().all(|row| row.len() == drawing.table.columns.len()), "{:?}", drawing.table);
    let html = drawing.table.html();
    let table = Document::parse(&html).unwrap();
    let cells = table.descendants().filter(|node| node.has_tag_name("td") || node.attribute("scope") == Some("row"));
    assert_eq!(cells.count(), drawing.table.rows.len() * drawing.table.columns.len());
    document
}

/// An attribute of all marks of a class, in the order in which they are drawn.
pub(crate) fn by_class(document: &Document<'_>, class: &str, attribute: &str) -> Vec<f64> {
    let marks = document.descendants().filter(|node| has_class(*node, class));
    marks.map(|node| number(node, attribute)).collect()
}

/// The middles of crosses and triangles of a class.
pub(crate) fn crosses(document: &Document<'_>, class: &str) -> Vec<(f64, f64)> {
    let marks = document.descendants().filter(|node| has_class(*node, class));
    marks
        .map(|node| {
            let path = node.attribute("d").unwrap();
            let numbers: Vec<f64> = path
                .split(['M', 'L', 'Z', ' '])
                .filter(|part| !part.is_empty())
                .map(|part| part.parse().unwrap())
                .collect();
            let x = if path.ends_with('Z') { numbers[0] } else { f64::midpoint(numbers[0], numbers[2]) };
            (x, f64::midpoint(numbers[1], numbers[3]))
        })
        .collect()
}

/// The points of a line of a class; the first such line.
pub(crate) fn points(document: &Document<'_>, class: &str) -> Vec<(f64, f64)> {
    let Some(line) = document.descendants().find(|node| has_class(*node, class)) else { return Vec::new() };
    let pairs = line.attribute("points").unwrap().split(' ').map(|pair| pair.split_once(',').unwrap());
    pairs.map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap())).collect()
}

/// A number as a chart writes it.
pub(crate) fn read(text: &str) -> f64 {
    text.replace(MINUS, "-").replace(',', ".").parse().unwrap_or_else(|_| panic!("{text} is no number"))
}

/// An instant as tables and axes write it, in seconds since 1970.
pub(crate) fn read_time(text: &str) -> f64 {
    let day = |text: &str| text.parse::<NaiveDate>().unwrap_or_else(|_| panic!("{text} is no day"));
    let at: DateTime<Utc> = match text.len() {
        4 => day(&format!("{text}-01-01")).and_time(chrono::NaiveTime::MIN).and_utc(),
        7 => day(&format!("{text}-01")).and_time(chrono::NaiveTime::MIN).and_utc(),
        10 => day(text).and_time(chrono::NaiveTime::MIN).and_utc(),
        _ => format!("{}:00Z", text.replace(' ', "T")).parse().unwrap(),
    };
    super::axis::seconds(at)
}

/// An axis as it is drawn: places back to values.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ruler {
    place: f64,
    value: f64,
    slope: f64,
}

impl Ruler {
    fn through(places: &[f64], values: &[f64]) -> Self {
        assert_eq!(places.len(), values.len());
        let last = places.len() - 1;
        assert!(last > 0, "an axis with one tick measures nothing");
        let slope = (values[last] - values[0]) / (places[last] - places[0]);
        let ruler = Self { place: places[0], value: values[0], slope };
        for (place, value) in places.iter().zip(values) {
            ruler.assert(*place, *value);
        }
        ruler
    }

    /// The upward axis.
    pub(crate) fn upward(document: &Document<'_>) -> Self {
        let labels = document.descendants().filter(|node| has_class(*node, "chart-y"));
        let values: Vec<f64> = labels.map(|node| read(node.text().unwrap())).collect();
        Self::through(&by_class(document, "chart-grid", "y1"), &values)
    }

    /// The axis across, whose labels are read so.
    pub(crate) fn across(document: &Document<'_>, read: impl Fn(&str) -> f64) -> Self {
        let labels = document.descendants().filter(|node| has_class(*node, "chart-x"));
        let values: Vec<f64> = labels.map(|node| read(node.text().unwrap())).collect();
        Self::through(&by_class(document, "chart-tick", "x1"), &values)
    }

    /// The value at a place.
    pub(crate) fn value(&self, place: f64) -> f64 {
        self.value + (place - self.place) * self.slope
    }

    /// Holds the value at a place against what it should be, to the hundredths that places are written in.
    pub(crate) fn assert(&self, place: f64, expected: f64) {
        let got = self.value(place);
        assert!((got - expected).abs() <= 0.06 * self.slope.abs(), "{got} is drawn for {expected}");
    }
}
