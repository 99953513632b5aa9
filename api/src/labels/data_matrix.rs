//! Data Matrix ECC 200, ISO/IEC 16022.

use super::symbol::SymbolError;
use datamatrix::{DataMatrix, SymbolList};

/// Width and modules, row by row: the smallest square symbol that holds the text.
pub(super) fn modules(text: &str) -> Result<(usize, Vec<bool>), SymbolError> {
    let squares = SymbolList::default().enforce_square();
    let code = DataMatrix::encode(text.as_bytes(), squares).map_err(|_| SymbolError::Length)?;
    let bitmap = code.bitmap();
    let (width, height) = (bitmap.width(), bitmap.height());
    let mut dark = vec![false; width * height];
    for (x, y) in bitmap.pixels() {
        dark[y * width + x] = true;
    }
    Ok((width, dark))
}
