//! The words of charts: a part of each language's wording file. Sentences have places in braces, which [`fill`] fills.

use serde::Deserialize;

/// All words of all charts.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Words {
    /// The day or time on an axis and in tables.
    pub when: String,
    /// What a row of a table tells.
    pub what: String,
    /// Of the drift of a gauge.
    pub drift: DriftWords,
    /// Of grinds left.
    pub grinds: GrindWords,
    /// Of a first piece.
    pub pieces: PieceWords,
    /// Of sizes over time.
    pub sizes: SizeWords,
    /// Of how long edges last.
    pub edges: EdgeWords,
    /// Of a supply on hand.
    pub supply: SupplyWords,
}

/// Words of a gauge's drift.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DriftWords {
    /// `{gauge}`, `{machine}`.
    pub title: String,
    /// `{count}`, `{found}`, `{lower}`, `{upper}`, `{unit}`.
    pub summary: String,
    /// Before the first check.
    pub no_checks: String,
    /// The axis: `{unit}`.
    pub axis: String,
    /// A check, as found.
    pub found: String,
    /// A check, as left.
    pub left: String,
    /// A check with its adjustments taken off, as the line sees it.
    pub drifted: String,
    /// The expanded uncertainty: `{factor}`.
    pub uncertainty: String,
    /// The limits.
    pub limits: String,
    /// Acceptance limits: the limits less their guard bands.
    pub acceptance: String,
    /// The line.
    pub line: String,
    /// Its interval: `{percent}`.
    pub interval: String,
    /// The next check's last day: `{day}`.
    pub next_check: String,
    /// The day proposed: `{day}`.
    pub proposed: String,
    /// Column: the height less the nominal one, `{unit}`.
    pub height: String,
    /// Column: from.
    pub from: String,
    /// Column: to.
    pub to: String,
}

/// Words of grinds left.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GrindWords {
    /// The title.
    pub title: String,
    /// `{tools}`, `{worst}`, `{left}`: tools in all, the worst one and its grinds.
    pub summary: String,
    /// Without tools.
    pub none: String,
    /// The key: `{most}` notches are drawn at most.
    pub notch: String,
    /// One grind left.
    pub one_left: String,
    /// `{count}` grinds left.
    pub many_left: String,
    /// No grind left: the edge in use is the last.
    pub last_edge: String,
    /// Out of use.
    pub retired: String,
    /// `{day}`.
    pub runs_out: String,
    /// Column: tool.
    pub tool: String,
    /// Column: grinds left.
    pub left: String,
    /// Column: run-out day.
    pub runs_out_on: String,
    /// In that column, where nothing runs out.
    pub lasts: String,
}

/// Words of a first piece.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PieceWords {
    /// The title.
    pub title: String,
    /// `{inside}`, `{all}`: sizes inside their limits, and in all.
    pub summary: String,
    /// Nothing measured yet.
    pub none: String,
    /// The smallest size allowed.
    pub smallest: String,
    /// The size wanted.
    pub target: String,
    /// The largest size allowed.
    pub largest: String,
    /// The key: a size inside its limits, with the spindle's number.
    pub inside: String,
    /// In the table: inside.
    pub inside_verdict: String,
    /// The key, and in the table: a size outside.
    pub outside: String,
    /// The key: so far outside that it stands at the edge.
    pub beyond: String,
    /// Column: station and feature.
    pub feature: String,
    /// Column: spindle.
    pub spindle: String,
    /// Column: size.
    pub size: String,
    /// Column: whether it is inside.
    pub verdict: String,
}

/// Words of sizes over time.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SizeWords {
    /// `{feature}`.
    pub title: String,
    /// `{count}`, `{last}`, `{smallest}`, `{largest}`, `{unit}`.
    pub summary: String,
    /// Nothing measured yet: `{smallest}`, `{largest}`, `{unit}`.
    pub none: String,
    /// Added to the summary: `{spindle}`, `{about}`, `{earliest}`.
    pub regrind: String,
    /// The axis and column: `{unit}`.
    pub size: String,
    /// The key: a size with the spindle's number.
    pub reading: String,
    /// In the table: a size.
    pub reading_row: String,
    /// The limits.
    pub limits: String,
    /// The drift, on to its limit.
    pub drift: String,
    /// Measure by: `{time}`.
    pub measure_by: String,
    /// Regrind about: `{time}`.
    pub regrind_about: String,
    /// Column: spindle.
    pub spindle: String,
    /// Column: piece.
    pub piece: String,
    /// In the column, where nobody said.
    pub unknown: String,
}

/// Words of how long edges last.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EdgeWords {
    /// `{design}`.
    pub title: String,
    /// `{worn}`, `{other}`.
    pub summary: String,
    /// Added where something was learned: `{expected}`, `{lower}`, `{upper}`.
    pub learned: String,
    /// Without edges.
    pub none: String,
    /// The axis: pieces on one edge.
    pub pieces: String,
    /// The axis: edges.
    pub edges: String,
    /// Worn edges.
    pub worn: String,
    /// Edges that ended otherwise, or are in use.
    pub other: String,
    /// What the distribution expects in each bar.
    pub fit: String,
    /// What nine of ten edges make: `{lower}`, `{upper}`.
    pub interval: String,
    /// The mean.
    pub mean: String,
}

/// Words of a supply on hand.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SupplyWords {
    /// `{supply}`, `{name}`.
    pub title: String,
    /// `{on_hand}`, `{minimum}`, `{unit}`.
    pub summary: String,
    /// The same, below the minimum.
    pub below: String,
    /// The axis and column: `{unit}`.
    pub on_hand: String,
    /// The minimum.
    pub minimum: String,
    /// Withdrawn.
    pub withdrawn: String,
    /// Received.
    pub received: String,
    /// Counted.
    pub counted: String,
    /// Column: by how much.
    pub change: String,
    /// The row of how it stands now.
    pub now: String,
}

#[cfg(test)]
pub(crate) use english::ENGLISH;

#[cfg(test)]
mod english {
    use super::Words;
    use std::sync::LazyLock;

    /// English, as the wording file has it.
    pub(crate) static ENGLISH: LazyLock<Words> = LazyLock::new(|| {
        let file: serde_json::Value = serde_json::from_str(include_str!("../../wording/en.json")).unwrap();
        serde_json::from_value(file["charts"].clone()).unwrap()
    });
}

/// Fills the places in braces. A place of another name stays as it is.
#[must_use]
pub fn fill(template: &str, values: &[(&str, &str)]) -> String {
    let mut out = String::with_capacity(template.len() + 16);
    let mut rest = template;
    while let Some((before, after)) = rest.split_once('{') {
        out.push_str(before);
        let named = after.split_once('}');
        match named.and_then(|(name, after)| Some((values.iter().find(|(known, _)| *known == name)?.1, after))) {
            Some((value, after)) => {
                out.push_str(value);
                rest = after;
            }
            None => {
                out.push('{');
                rest = after;
            }
        }
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use super::fill;

    #[test]
    fn places_are_filled_and_values_are_not_read_again() {
        assert_eq!(fill("{a} and {b}, {c}{", &[("a", "{b}"), ("b", "2")]), "{b} and 2, {c}{");
    }
}
