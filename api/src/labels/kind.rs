//! The kinds of labels: their sizes, as data.

use super::symbol::Symbology;

/// Where a label's symbols and texts are, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Kind {
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
    /// What is left free at each edge, for the printer and the knife.
    pub margin: f64,
    /// The square symbol on the left and the side of the square in which it stands; none where bars alone are printed.
    pub square: Option<(Symbology, f64)>,
    /// The height of a bar code below. It is left out where the code is too long for it and a square symbol is there;
    /// without one it stands beside a code that has room there, as high as the label.
    pub bars: Option<f64>,
    /// The largest letters of the code.
    pub code_letters: f64,
    /// The largest letters of other text.
    pub letters: f64,
}

/// The kinds of labels.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LabelKind {
    /// For a form tool or another small thing: Data Matrix and code.
    ToolTag,
    /// For a bin, a shelf or a machine, with what is in it.
    BinLabel,
    /// For a centre gauge, with the machine that it belongs to in plain words.
    GaugeTag,
    /// For the edge of a shelf: bars wide enough for the longest code.
    ShelfStrip,
    /// For the grinder: what to grind a tool to.
    Traveller,
}

impl LabelKind {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::ToolTag, Self::BinLabel, Self::GaugeTag, Self::ShelfStrip, Self::Traveller];

    /// The name in addresses.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::ToolTag => "tool-tag",
            Self::BinLabel => "bin-label",
            Self::GaugeTag => "gauge-tag",
            Self::ShelfStrip => "shelf-strip",
            Self::Traveller => "traveller",
        }
    }

    /// Reads the name; `None` for anything else.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }

    /// Its sizes.
    #[must_use]
    pub const fn sizes(self) -> Kind {
        match self {
            Self::ToolTag => Kind {
                width: 38.0,
                height: 15.0,
                margin: 1.0,
                square: Some((Symbology::DataMatrix, 12.5)),
                bars: None,
                code_letters: 4.5,
                letters: 2.2,
            },
            Self::BinLabel => Kind {
                width: 90.0,
                height: 40.0,
                margin: 2.0,
                square: Some((Symbology::Qr, 26.0)),
                bars: Some(9.0),
                code_letters: 11.0,
                letters: 3.2,
            },
            Self::GaugeTag => Kind {
                width: 70.0,
                height: 27.0,
                margin: 1.5,
                square: Some((Symbology::Qr, 24.0)),
                bars: None,
                code_letters: 5.0,
                letters: 4.0,
            },
            Self::ShelfStrip => Kind {
                width: 180.0,
                height: 26.0,
                margin: 2.0,
                square: None,
                bars: Some(13.0),
                code_letters: 16.0,
                letters: 3.0,
            },
            Self::Traveller => Kind {
                width: 140.0,
                height: 190.0,
                margin: 4.0,
                square: Some((Symbology::Qr, 30.0)),
                bars: Some(12.0),
                code_letters: 8.0,
                letters: 4.0,
            },
        }
    }
}
