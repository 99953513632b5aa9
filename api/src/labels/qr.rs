//! QR codes, ISO/IEC 18004.

use super::symbol::SymbolError;
use qrcode::{Color, EcLevel, QrCode};

/// Width and modules, row by row. Level M restores about 15 % of the symbol: labels of a machine shop get dirty.
pub(super) fn modules(text: &str) -> Result<(usize, Vec<bool>), SymbolError> {
    let code = QrCode::with_error_correction_level(text, EcLevel::M).map_err(|_| SymbolError::Length)?;
    Ok((code.width(), code.to_colors().into_iter().map(|color| color == Color::Dark).collect()))
}
