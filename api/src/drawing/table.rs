//! The table beside a chart: the same numbers, for whoever reads rather than looks.

use super::svg::escaped;
use std::fmt::Write;

/// A table of texts. The first cell of a row names it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Table {
    /// What it holds.
    pub caption: String,
    /// The heads of its columns.
    pub columns: Vec<String>,
    /// Its rows, as many cells as there are columns.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    /// An empty one.
    pub(crate) fn new<'a>(caption: &str, columns: impl IntoIterator<Item = &'a String>) -> Self {
        Self { caption: caption.to_owned(), columns: columns.into_iter().cloned().collect(), rows: Vec::new() }
    }

    /// Whether it has no rows.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The table as HTML, escaped.
    #[must_use]
    pub fn html(&self) -> String {
        let mut out = format!("<table class=\"chart-table\"><caption>{}</caption><thead><tr>", escaped(&self.caption));
        for column in &self.columns {
            let _ = write!(out, "<th scope=\"col\">{}</th>", escaped(column));
        }
        out.push_str("</tr></thead><tbody>\n");
        for row in &self.rows {
            out.push_str("<tr>");
            for (index, cell) in row.iter().map(|cell| escaped(cell)).enumerate() {
                let _ = match index {
                    0 => write!(out, "<th scope=\"row\">{cell}</th>"),
                    _ => write!(out, "<td>{cell}</td>"),
                };
            }
            out.push_str("</tr>\n");
        }
        out.push_str("</tbody></table>");
        out
    }
}
