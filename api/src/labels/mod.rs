//! Labels: what is printed on them, as pictures of a stated size.
//!
//! A label is an SVG in millimetres, black on white whatever the page around it looks like: a symbol that a scanner reads, with
//! its quiet zone, and beside it what it says in letters. Its kind tells its size as data; a sheet lays labels out.
//! Nothing is shrunk below what a scanner reads from a printer of 203 dots an inch, also where a browser prints at 80 %:
//! what would have to be is refused.
//!
//! Printed at 100 % a label has the size that its `width` and `height` state, provided that the page is printed without margins of the
//! browser's own.

pub mod code_128;
mod data_matrix;
pub mod kind;
pub mod label;
mod qr;
pub mod sheet;
pub mod symbol;
mod text;
pub mod traveller;

pub use kind::{Kind, LabelKind};
pub use label::{Label, LabelError, Said};
pub use sheet::{Paper, Sheet, sheets};

use dovetally_core::code::Code;

/// What a QR code says: the address that a phone opens, where the shop's server has one, else the code itself.
#[must_use]
pub fn address_of(code: &Code, public_address: Option<&str>) -> String {
    match public_address {
        Some(address) => format!("{}/s/{code}", address.trim_end_matches('/')),
        None => code.to_string(),
    }
}

#[cfg(test)]
mod tests;
