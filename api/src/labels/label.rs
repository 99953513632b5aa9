//! One label.

use super::{
    address_of,
    kind::{Kind, LabelKind},
    symbol::{Symbol, SymbolError, Symbology, mm, modules},
    text::{ACROSS, Fitted, Item},
};
use crate::drawing::escaped;
use dovetally_core::code::Code;
use std::fmt::Write;

/// What a label says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    /// The code of what it is on.
    pub code: Code,
    /// Its name.
    pub name: String,
    /// What must be read without a scanner and is never left out: the machine of a gauge.
    pub essential: Vec<String>,
    /// What else is said, left out from the last line on where there is no room.
    pub further: Vec<String>,
}

/// Why a label cannot be printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LabelError {
    /// The symbol would be finer than a scanner reads.
    #[error("the symbol does not fit on this label: shorten the server's public address, or take a larger label")]
    Symbol,
    /// The letters would be smaller than people read.
    #[error("the text does not fit on this label: take a larger one")]
    Text,
    /// The text has no symbol.
    #[error(transparent)]
    Encoding(#[from] SymbolError),
}

/// A symbol as it is placed on its label.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// What it is made to.
    pub symbology: Symbology,
    /// What it says.
    pub text: String,
    /// The width of a module, in millimetres.
    pub module: f64,
    /// Left, top, width and height with its quiet zones, in millimetres.
    pub area: [f64; 4],
}

/// A label, laid out.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    kind: LabelKind,
    code: Code,
    symbols: Vec<Placed>,
    body: String,
}

/// Letters of so many millimetres are read from two metres (common practice, no published source: a two-hundredth of
/// the distance).
const FROM_THE_AISLE: f64 = 10.0;

/// Between a symbol and the text beside it; the quiet zone comes on top of it.
const GAP: f64 = 1.0;

impl Label {
    /// Lays a label out. A QR code says the address of the code under `public_address` where the shop's server has one; other symbols
    /// always say the code.
    ///
    /// # Errors
    /// [`LabelError`] where something has no room at the size at which it can be read.
    pub fn new(kind: LabelKind, said: &Said, public_address: Option<&str>) -> Result<Self, LabelError> {
        let sizes = kind.sizes();
        let mut items = vec![Item::code(said.code.as_str(), sizes.code_letters)];
        items.extend(said.essential.iter().map(|line| Item::essential(line, sizes.letters)));
        items.push(Item::words(&said.name, sizes.letters));
        items.extend(said.further.iter().map(|line| Item::words(line, sizes.letters)));
        Self::with_items(kind, &said.code, &items, &[], public_address)
    }

    /// The same with items of one's own: some beside the symbol, some below it.
    pub(super) fn with_items(
        kind: LabelKind,
        code: &Code,
        beside: &[Item],
        below: &[Item],
        public_address: Option<&str>,
    ) -> Result<Self, LabelError> {
        let sizes = kind.sizes();
        let (left, top) = (sizes.margin, sizes.margin);
        let (right, mut bottom) = (sizes.width - sizes.margin, sizes.height - sizes.margin);
        let mut label = Self { kind, code: code.clone(), symbols: Vec::new(), body: String::new() };

        let (mut text_left, mut head_bottom) = (left, top);
        if let Some((symbology, side)) = sizes.square {
            let text = match symbology {
                Symbology::Qr => address_of(code, public_address),
                Symbology::DataMatrix | Symbology::Code128 => code.to_string(),
            };
            let symbol = Symbol::of(symbology, &text)?;
            let module = symbol.module_in(side).ok_or(LabelError::Symbol)?;
            label.place(&symbol, text, (left, top), module, 0.0);
            text_left += side + GAP;
            head_bottom += side;
        }
        if let Some(height) = sizes.bars {
            let symbol = Symbol::of(Symbology::Code128, code.as_str())?;
            match symbol.module_in(right - left) {
                Some(module)
                    if sizes.square.is_none() && Self::has_room_beside(code, right - left, &symbol, module) =>
                {
                    label.place(&symbol, code.to_string(), (left, top), module, bottom - top);
                    text_left += modules(symbol.across()) * module + GAP;
                }
                Some(module) => {
                    bottom -= height;
                    label.place(&symbol, code.to_string(), (left, bottom), module, height);
                    bottom -= GAP;
                }
                None if sizes.square.is_none() => return Err(LabelError::Symbol),
                None => {}
            }
        }
        let head_bottom = if below.is_empty() { bottom } else { head_bottom.min(bottom) };
        let beside = Fitted::new(beside, right - text_left, head_bottom - top).ok_or(LabelError::Text)?;
        label.body.push_str(&beside.svg((text_left, top)));
        if !below.is_empty() {
            let top = head_bottom + GAP;
            let below = Fitted::new(below, right - left, bottom - top).ok_or(LabelError::Text)?;
            label.body.push_str(&below.svg((left, top)));
        }
        Ok(label)
    }

    /// Whether a code stands beside its bars in letters that are read from the aisle.
    fn has_room_beside(code: &Code, width: f64, symbol: &Symbol, module: f64) -> bool {
        let bars = modules(symbol.across()) * module;
        width - bars - GAP >= modules(code.as_str().len()) * ACROSS * FROM_THE_AISLE
    }

    fn place(&mut self, symbol: &Symbol, text: String, (x, y): (f64, f64), module: f64, bars: f64) {
        let path = symbol.path((x, y), module, bars);
        // Edges stay sharp where a dot of the printer is half covered.
        let _ = write!(self.body, "<path d=\"{path}\" fill=\"#000\" shape-rendering=\"crispEdges\"/>");
        let area = [x, y, modules(symbol.across()) * module, symbol.height(module, bars)];
        self.symbols.push(Placed { symbology: symbol.symbology(), text, module, area });
    }

    /// Its kind.
    #[must_use]
    pub const fn kind(&self) -> LabelKind {
        self.kind
    }

    /// The code of what it is on.
    #[must_use]
    pub const fn code(&self) -> &Code {
        &self.code
    }

    /// Its symbols.
    #[must_use]
    pub fn symbols(&self) -> &[Placed] {
        &self.symbols
    }

    /// Its inside, in millimetres from its corner.
    pub(super) fn body(&self) -> &str {
        &self.body
    }

    /// The label as a picture of its own.
    #[must_use]
    pub fn svg(&self) -> String {
        let Kind { width, height, .. } = self.kind.sizes();
        picture((width, height), self.code.as_str(), &self.body)
    }
}

/// A picture of so many millimetres: white ground, whatever the page around it looks like.
pub(super) fn picture((width, height): (f64, f64), title: &str, body: &str) -> String {
    let (width, height, title) = (mm(width), mm(height), escaped(title));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"label\" role=\"img\" width=\"{width}mm\" height=\"{height}mm\" \
         viewBox=\"0 0 {width} {height}\"><title>{title}</title><rect width=\"{width}\" height=\"{height}\" \
         fill=\"#fff\"/>{body}</svg>"
    )
}
