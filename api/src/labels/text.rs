//! Text in a box: as large as it may be and as small as it must be.

use super::symbol::mm;
use crate::drawing::escaped;
use std::fmt::Write;

/// More of a letter's height than a character takes across: exact for monospaced faces, ample for others.
pub(super) const ACROSS: f64 = 0.62;
/// From baseline to baseline, in letter heights.
const DOWN: f64 = 1.25;
/// Tries from the largest letters to the smallest.
const TRIES: u8 = 24;

/// A piece of text.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Item {
    pub(super) text: String,
    /// The largest and the smallest letters, in millimetres.
    pub(super) largest: f64,
    pub(super) smallest: f64,
    /// A code: broken anywhere, never left out. Else words, which may be left out from the last one on where there is no room.
    pub(super) is_code: bool,
    pub(super) bold: bool,
}

impl Item {
    pub(super) fn code(text: &str, largest: f64) -> Self {
        Self { text: text.to_owned(), largest, smallest: 1.8, is_code: true, bold: true }
    }

    pub(super) fn words(text: impl Into<String>, largest: f64) -> Self {
        Self { text: text.into(), largest, smallest: 1.6, is_code: false, bold: false }
    }

    /// What must not be left out.
    pub(super) fn essential(text: impl Into<String>, largest: f64) -> Self {
        Self { is_code: true, bold: true, ..Self::words(text, largest) }
    }

    fn lines(&self, letters: f64, width: f64) -> Vec<String> {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "characters across a label")]
        let most = (width / (ACROSS * letters)).floor().clamp(1.0, 1000.0) as usize;
        let mut lines = Vec::new();
        let mut line = String::new();
        let mut length = 0;
        for word in self.text.split_whitespace() {
            let size = word.chars().count();
            if length > 0 && length + 1 + size <= most {
                line.push(' ');
                line.push_str(word);
                length += 1 + size;
                continue;
            }
            if length > 0 {
                lines.push(std::mem::take(&mut line));
            }
            // Broken into parts of about one length, so that none is a single letter.
            let parts = size.div_ceil(most).max(1);
            let each = size.div_ceil(parts);
            let characters: Vec<char> = word.chars().collect();
            let mut pieces = characters.chunks(each.max(1)).map(String::from_iter).collect::<Vec<String>>();
            line = pieces.pop().unwrap_or_default();
            length = line.chars().count();
            lines.append(&mut pieces);
        }
        if length > 0 {
            lines.push(line);
        }
        lines
    }
}

/// A line of text where it stands.
#[derive(Clone, Debug, PartialEq)]
struct Line {
    text: String,
    letters: f64,
    bold: bool,
}

/// Text that fits in its box.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Fitted {
    lines: Vec<Line>,
    height: f64,
}

impl Fitted {
    /// Fits items into a box. Words that have no room at their smallest are left out, the last ones first; nothing where a
    /// code has none.
    pub(super) fn new(items: &[Item], width: f64, height: f64) -> Option<Self> {
        let mut kept: Vec<&Item> = items.iter().filter(|item| !item.text.trim().is_empty()).collect();
        loop {
            for attempt in (0..=TRIES).rev() {
                let share = f64::from(attempt) / f64::from(TRIES);
                let fitted = Self::at(&kept, share, width);
                if fitted.height <= height {
                    return Some(fitted);
                }
            }
            let last = kept.iter().rposition(|item| !item.is_code)?;
            kept.remove(last);
        }
    }

    fn at(items: &[&Item], share: f64, width: f64) -> Self {
        let mut lines = Vec::new();
        for item in items {
            let letters = item.smallest + share * (item.largest - item.smallest).max(0.0);
            let all = item.lines(letters, width);
            lines.extend(all.into_iter().map(|text| Line { text, letters, bold: item.bold }));
        }
        let height = lines.iter().map(|line| DOWN * line.letters).sum();
        Self { lines, height }
    }

    /// The lines as text elements below a point.
    pub(super) fn svg(&self, (x, top): (f64, f64)) -> String {
        let mut out = String::new();
        let mut baseline = top;
        for line in &self.lines {
            baseline += line.letters;
            let weight = if line.bold { " font-weight=\"bold\"" } else { "" };
            let _ = write!(
                out,
                "<text x=\"{}\" y=\"{}\" font-size=\"{}\" font-family=\"monospace\" fill=\"#000\"{weight}>{}</text>",
                mm(x),
                mm(baseline),
                mm(line.letters),
                escaped(&line.text)
            );
            baseline += (DOWN - 1.0) * line.letters;
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::{Fitted, Item};

    fn told(fitted: &Fitted) -> Vec<&str> {
        fitted.lines.iter().map(|line| line.text.as_str()).collect()
    }

    #[test]
    fn a_code_is_broken_and_never_cut() {
        let code = "ABCDEFGHIJKLMNOPQRSTUVWXYZ012345";
        let fitted = Fitted::new(&[Item::code(code, 5.0), Item::words("a form tool", 2.4)], 17.0, 11.0).unwrap();
        assert!(told(&fitted).concat().starts_with(code), "{fitted:?}");
        assert!(fitted.height <= 11.0);
        assert!(Fitted::new(&[Item::code(code, 5.0)], 4.0, 4.0).is_none());
    }

    #[test]
    fn words_give_way_to_the_code() {
        let items = [Item::code("FT-1", 5.0), Item::words("a name that is much too long for it", 3.0)];
        let fitted = Fitted::new(&items, 10.0, 4.0).unwrap();
        assert_eq!(told(&fitted), ["FT-1"]);
        let fitted = Fitted::new(&items, 40.0, 20.0).unwrap();
        assert_eq!(told(&fitted).join(" "), "FT-1 a name that is much too long for it");
    }
}
