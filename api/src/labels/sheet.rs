//! Labels on sheets of paper.

use super::{
    kind::LabelKind,
    label::{Label, picture},
    symbol::mm,
};
use std::fmt::Write;

/// Paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Paper {
    /// 210 mm × 297 mm (ISO 216).
    A4,
    /// 8.5 in × 11 in (ANSI/ASME Y14.1 size A).
    Letter,
    /// A roll or a tape on which each label is a page.
    EachItsOwn,
}

impl Paper {
    /// The name in addresses.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "letter",
            Self::EachItsOwn => "each",
        }
    }

    /// Reads the name; `None` for anything else.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::A4, Self::Letter, Self::EachItsOwn].into_iter().find(|paper| paper.name() == name)
    }
}

/// Free at each edge of a sheet: office printers do not print there.
const EDGE: f64 = 8.0;
/// Between labels, for the knife.
const GAP: f64 = 2.0;

/// Where labels of one kind stand on a sheet, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    /// Width of the paper.
    pub width: f64,
    /// Height of the paper.
    pub height: f64,
    /// Labels side by side.
    pub columns: usize,
    /// Labels above each other.
    pub rows: usize,
    /// The first label's left edge.
    pub left: f64,
    /// The first label's upper edge.
    pub top: f64,
    /// From one label's left edge to the next one's.
    pub across: f64,
    /// From one label's upper edge to the next one's.
    pub down: f64,
    /// Whether each label's edge is drawn, for the knife.
    pub edges: bool,
}

/// How many labels of a size stand beside each other in so much room, and where the first begins: they stand in the middle.
fn along(paper: f64, label: f64) -> (usize, f64) {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "labels on a sheet")]
    let count = ((paper - 2.0 * EDGE + GAP) / (label + GAP)).floor().max(1.0) as usize;
    let used = super::symbol::modules(count) * (label + GAP) - GAP;
    (count, (paper - used) / 2.0)
}

impl Sheet {
    /// The sheet for a kind of label.
    #[must_use]
    pub fn of(kind: LabelKind, paper: Paper) -> Self {
        let label = kind.sizes();
        let (width, height) = match paper {
            Paper::A4 => (210.0, 297.0),
            Paper::Letter => (215.9, 279.4),
            Paper::EachItsOwn => {
                let (width, height) = (label.width, label.height);
                return Self {
                    width,
                    height,
                    columns: 1,
                    rows: 1,
                    left: 0.0,
                    top: 0.0,
                    across: width,
                    down: height,
                    edges: false,
                };
            }
        };
        let ((columns, left), (rows, top)) = (along(width, label.width), along(height, label.height));
        let (across, down) = (label.width + GAP, label.height + GAP);
        Self { width, height, columns, rows, left, top, across, down, edges: true }
    }

    /// How many labels it holds.
    #[must_use]
    pub const fn holds(&self) -> usize {
        self.columns * self.rows
    }

    /// The upper left corner of a label on its sheet, counted row by row from zero.
    #[must_use]
    pub fn corner(&self, index: usize) -> (f64, f64) {
        let (column, row) = (index % self.columns, index / self.columns);
        let (column, row) = (super::symbol::modules(column), super::symbol::modules(row));
        (self.left + column * self.across, self.top + row * self.down)
    }
}

/// Lays labels of one kind out on sheets, a picture for each. The first `used` places of the first sheet are left free: a
/// sheet of stickers is often begun.
#[must_use]
pub fn sheets(labels: &[Label], sheet: &Sheet, used: usize) -> Vec<String> {
    let used = used % sheet.holds();
    let mut free: Vec<Option<&Label>> = vec![None; used];
    free.extend(labels.iter().map(Some));
    let page = |places: &[Option<&Label>]| {
        let mut body = String::new();
        for (index, label) in places.iter().enumerate() {
            let Some(label) = label else { continue };
            let (x, y) = sheet.corner(index);
            let _ = write!(body, "<g transform=\"translate({} {})\">", mm(x), mm(y));
            if sheet.edges {
                let sizes = label.kind().sizes();
                let (width, height) = (mm(sizes.width), mm(sizes.height));
                let _ = write!(
                    body,
                    "<rect width=\"{width}\" height=\"{height}\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.1\"/>"
                );
            }
            body.push_str(label.body());
            body.push_str("</g>");
        }
        let titles: Vec<&str> = places.iter().flatten().map(|label| label.code().as_str()).collect();
        picture((sheet.width, sheet.height), &titles.join(", "), &body)
    };
    if labels.is_empty() { Vec::new() } else { free.chunks(sheet.holds()).map(page).collect() }
}
