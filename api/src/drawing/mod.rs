//! Charts, drawn on the server: a picture, one sentence and a table of the same numbers.
//!
//! A chart is a function from an answer of the program, words and a [`Format`] to a [`Drawing`]. Nothing here asks for the
//! time, reads a record or knows a language: what is said comes in as [`words`], what is written as numbers and days goes
//! through the format. The same input gives the same bytes.
//!
//! # Style
//!
//! Pictures carry presentation attributes only and no identifiers but those under the name that the caller gives, so that
//! they stand in a page under the strictest content policy. Every mark and every letter is `currentColor`: a chart is as
//! legible as the text around it, light or dark. What marks mean is told by shape and dash, never by colour. The style
//! sheet may say more, by class: `chart`, `chart-text`, `chart-axis`, `chart-grid`, `chart-limit`, `chart-guard`,
//! `chart-line`, `chart-band`, `chart-error`, `chart-point`, `chart-open`, `chart-cross`, `chart-day`, `chart-notch`,
//! `chart-bar`, `chart-bar-open`, `chart-count`, `chart-step`; of the arrow about a screw: `turn`, `turn-head`,
//! `turn-start`, `turn-way`, `turn-tip`, `turn-words`.

pub mod axis;
pub mod drift;
pub mod edges;
pub mod format;
mod frame;
pub mod grinds;
pub mod pieces;
pub mod sizes;
pub mod supply;
mod svg;
pub mod table;
#[cfg(test)]
mod testing;
pub mod turn;
pub mod words;

pub use format::Format;
pub(crate) use svg::escaped;
pub use table::Table;

/// A chart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drawing {
    /// What it shows.
    pub title: String,
    /// What it says, in one sentence.
    pub summary: String,
    /// The picture: an `svg` element with the title and the sentence inside.
    pub svg: String,
    /// The numbers that the picture shows.
    pub table: Table,
    /// The same with lengths in the unit that they were not entered in; none where there are no lengths.
    pub in_other_unit: Option<Table>,
}

/// How large a picture is, in its own units: one is a CSS pixel where it is shown at its natural size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Size {
    /// Width.
    pub width: f64,
    /// Height; charts with a row for each thing take as much as they need.
    pub height: f64,
}

impl Size {
    /// For a desk.
    pub const WIDE: Self = Self { width: 720.0, height: 360.0 };
    /// For a phone: letters stay as large as on a desk.
    pub const NARROW: Self = Self { width: 320.0, height: 300.0 };
}

/// What every chart is told.
#[derive(Clone, Copy)]
pub struct Setting<'a> {
    /// The name of this picture on its page, a letter first: its title and sentence are labelled by it.
    pub name: &'a str,
    /// How large.
    pub size: Size,
    /// How numbers and days are written.
    pub format: &'a dyn Format,
}

impl std::fmt::Debug for Setting<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Setting").field("name", &self.name).field("size", &self.size).finish_non_exhaustive()
    }
}
