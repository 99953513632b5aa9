//! Symbols of dark and light modules, with their quiet zones.

use super::{code_128, data_matrix, qr};
use std::fmt::Write;

/// The standards that symbols are made to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Symbology {
    /// QR code, ISO/IEC 18004.
    Qr,
    /// Data Matrix ECC 200, ISO/IEC 16022.
    DataMatrix,
    /// Code 128, ISO/IEC 15417.
    Code128,
}

impl Symbology {
    /// Light modules that the standard asks for on each side, at least. Data Matrix asks for one; two are given, for labels
    /// are cut by hand.
    #[must_use]
    pub const fn quiet(self) -> usize {
        match self {
            Self::Qr => 4,
            Self::DataMatrix => 2,
            Self::Code128 => 10,
        }
    }

    /// The narrowest module that is printed, in millimetres. A printer of 203 dots an inch puts a dot every 0.125 mm; of a label that
    /// is printed at 80 %, a module still has about two and a half of them.
    #[must_use]
    pub const fn narrowest_mm(self) -> f64 {
        match self {
            Self::Qr | Self::Code128 => 0.38,
            Self::DataMatrix => 0.4,
        }
    }

    /// A wider one gives no scanner more.
    #[must_use]
    pub const fn widest_mm(self) -> f64 {
        match self {
            Self::Qr => 0.8,
            Self::DataMatrix => 0.6,
            Self::Code128 => 0.5,
        }
    }
}

/// Why a text has no symbol.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SymbolError {
    /// It is longer than the largest symbol holds, or empty.
    #[error("the text does not fit in the symbol")]
    Length,
    /// A character that the symbol does not hold.
    #[error("the symbol holds only printable ASCII characters")]
    Characters,
}

/// A symbol, row by row; a bar code has one row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Symbol {
    symbology: Symbology,
    width: usize,
    dark: Vec<bool>,
}

impl Symbol {
    /// Encodes a text.
    ///
    /// # Errors
    /// [`SymbolError`] for what the symbol cannot hold.
    pub fn of(symbology: Symbology, text: &str) -> Result<Self, SymbolError> {
        if text.is_empty() {
            return Err(SymbolError::Length);
        }
        if !text.bytes().all(|byte| (b' '..=b'~').contains(&byte)) {
            return Err(SymbolError::Characters);
        }
        let (width, dark) = match symbology {
            Symbology::Qr => qr::modules(text)?,
            Symbology::DataMatrix => data_matrix::modules(text)?,
            Symbology::Code128 => {
                let dark = code_128::modules(text)?;
                (dark.len(), dark)
            }
        };
        Ok(Self { symbology, width, dark })
    }

    /// What it is made to.
    #[must_use]
    pub const fn symbology(&self) -> Symbology {
        self.symbology
    }

    /// Modules across, quiet zones included.
    #[must_use]
    pub const fn across(&self) -> usize {
        self.width + 2 * self.symbology.quiet()
    }

    /// Rows of modules, without quiet zones.
    const fn rows(&self) -> usize {
        self.dark.len() / self.width
    }

    /// The widest module with which it fits in so many millimetres, quiet zones included; none where that is narrower
    /// than is printed.
    #[must_use]
    pub fn module_in(&self, width_mm: f64) -> Option<f64> {
        let module = (width_mm / modules(self.across())).min(self.symbology.widest_mm());
        (module >= self.symbology.narrowest_mm()).then_some(module)
    }

    /// The dark modules as one path in millimetres, the quiet zone's corner at a point; bars are so many millimetres high.
    pub(super) fn path(&self, (x, y): (f64, f64), module: f64, bars: f64) -> String {
        let quiet = modules(self.symbology.quiet());
        let (down, height) = match self.symbology {
            Symbology::Code128 => (0.0, bars),
            Symbology::Qr | Symbology::DataMatrix => (quiet, module),
        };
        let mut path = String::new();
        for (row, line) in self.dark.chunks(self.width).enumerate() {
            let mut start = 0;
            for run in line.chunk_by(|one, other| one == other) {
                if run[0] {
                    let left = x + (quiet + modules(start)) * module;
                    let top = y + (down + modules(row)) * module;
                    let right = x + (quiet + modules(start + run.len())) * module;
                    let (left, top, right, bottom) = (mm(left), mm(top), mm(right), mm(top + height));
                    let _ = write!(path, "M{left} {top}H{right}V{bottom}H{left}Z");
                }
                start += run.len();
            }
        }
        path
    }

    /// How high it is in millimetres with its quiet zones; a bar code has none above and below.
    pub(super) fn height(&self, module: f64, bars: f64) -> f64 {
        match self.symbology {
            Symbology::Code128 => bars,
            Symbology::Qr | Symbology::DataMatrix => modules(self.rows() + 2 * self.symbology.quiet()) * module,
        }
    }
}

/// A number of modules as a number.
#[expect(clippy::cast_precision_loss, reason = "symbols have a few hundred modules")]
pub(super) const fn modules(count: usize) -> f64 {
    count as f64
}

/// Millimetres to a micrometre, without zeros that say nothing.
pub(super) fn mm(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}
