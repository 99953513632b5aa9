//! Grinds left: one notch for each, the tool with the fewest first.

use super::{
    Drawing, Setting, Table,
    format::Format,
    frame::{Mark, ROW, draw_key, key_height},
    svg::{Anchor, Svg, width_of},
    words::{GrindWords, Words, fill},
};
use crate::transport::tool_outlook::{DesignOutlookView, ToolOutlookView};
use chrono::NaiveDate;
use dovetally_core::{code::Code, item::Condition};

/// More grinds than can be counted at a glance are told by their number.
pub const MOST_NOTCHES: u64 = 12;

/// A tool with the grinds left in it.
#[derive(Clone, Copy, Debug)]
pub struct ToolGrinds<'a> {
    /// The tool.
    pub tool: &'a Code,
    /// Whole grinds left, the edge in use not counted.
    pub grinds_left: u64,
    /// Whether it is out of use.
    pub retired: bool,
    /// The day on which its design's tools run out; none where they last for all that is booked.
    pub runs_out: Option<NaiveDate>,
}

impl<'a> ToolGrinds<'a> {
    /// What is known of a tool, with what is known of its design.
    #[must_use]
    pub fn of(tool: &'a ToolOutlookView, design: Option<&DesignOutlookView>) -> Self {
        Self {
            tool: &tool.tool,
            grinds_left: tool.regrinds_left,
            retired: tool.condition == Condition::Retired,
            runs_out: design.and_then(|design| design.runs_out.as_ref()).map(|runs_out| runs_out.on),
        }
    }

    /// Worst first: fewest grinds, then the earliest day, then the code; what is out of use last.
    fn rank(&self) -> (bool, u64, NaiveDate, &str) {
        (self.retired, self.grinds_left, self.runs_out.unwrap_or(NaiveDate::MAX), self.tool.as_str())
    }

    fn words(&self, said: &GrindWords) -> String {
        match self.grinds_left {
            _ if self.retired => said.retired.to_owned(),
            0 => said.last_edge.to_owned(),
            1 => said.one_left.to_owned(),
            many => fill(&said.many_left, &[("count", &many.to_string())]),
        }
    }

    fn runs_out_words(&self, said: &GrindWords, format: &dyn Format) -> String {
        let day = |day| fill(&said.runs_out, &[("day", &format.day(day))]);
        self.runs_out.filter(|_| !self.retired).map(day).unwrap_or_default()
    }
}

const NOTCH_HEIGHT: f64 = 16.0;
/// Between a notch and the next: no narrower, for it is to be counted, and no wider than it needs to be.
const PITCH: (f64, f64) = (6.0, 12.0);

/// How rows are laid out: all on one line where there is room, else name, notches and state below each other.
#[derive(Clone, Copy, Debug)]
struct Layout {
    /// Where notches begin.
    notches: f64,
    pitch: f64,
    /// Where the state begins, on one line; none where it stands below.
    state: Option<f64>,
}

impl Layout {
    fn of(tools: &[ToolGrinds<'_>], said: &GrindWords, format: &dyn Format, width: f64) -> Self {
        let most = f64::from(u32::try_from(MOST_NOTCHES).unwrap_or(u32::MAX));
        let widest = |text: &dyn Fn(&ToolGrinds<'_>) -> String| {
            tools.iter().map(|tool| width_of(&text(tool))).fold(0.0, f64::max)
        };
        let names = widest(&|tool| tool.tool.to_string());
        let states = widest(&|tool| tool.words(said)) + widest(&|tool| tool.runs_out_words(said, format));
        let beside = (width - names - states - 48.0) / most;
        if beside >= PITCH.0 {
            let (notches, pitch) = (names + 16.0, beside.min(PITCH.1));
            return Self { notches, pitch, state: Some(notches + most * pitch + 8.0) };
        }
        Self { notches: 4.0, pitch: ((width - 8.0) / most).min(PITCH.1), state: None }
    }

    /// How high a row is.
    fn row(self) -> f64 {
        if self.state.is_some() { NOTCH_HEIGHT + 10.0 } else { 2.0 * ROW + NOTCH_HEIGHT + 10.0 }
    }
}

/// Draws the grinds left in tools, in any order.
#[must_use]
pub fn draw(tools: &[ToolGrinds<'_>], words: &Words, setting: &Setting<'_>) -> Drawing {
    let (said, format, width) = (&words.grinds, setting.format, setting.size.width);
    let mut tools = tools.to_vec();
    tools.sort_by(|one, other| one.rank().cmp(&other.rank()));
    let most = MOST_NOTCHES.to_string();
    let notch = fill(&said.notch, &[("most", &most)]);
    let key = [(Mark::Bar, notch.as_str()), (Mark::OpenBar, said.last_edge.as_str())];

    let mut svg = Svg::default();
    let layout = Layout::of(&tools, said, format, width);
    let pitch = layout.pitch;
    let mut top = 4.0;
    for tool in &tools {
        let state = tool.words(said);
        let day = tool.runs_out_words(said, format);
        let name = top + ROW - 4.0;
        svg.text("chart-text chart-name", (4.0, name), Anchor::Start, tool.tool.as_str());
        let notches = if layout.state.is_some() { name - NOTCH_HEIGHT + 4.0 } else { top + ROW };
        let mut x = layout.notches;
        if tool.grinds_left == 0 && !tool.retired {
            svg.rect("chart-bar-open", (x, notches), (pitch * 0.6, NOTCH_HEIGHT), true);
        }
        for _ in 0..tool.grinds_left.min(MOST_NOTCHES) * u64::from(!tool.retired) {
            svg.rect("chart-notch", (x, notches), (pitch * 0.6, NOTCH_HEIGHT), false);
            x += pitch;
        }
        // Beside its notches where the state does not stand there.
        if layout.state.is_none() && tool.grinds_left > MOST_NOTCHES && !tool.retired {
            let count = tool.grinds_left.to_string();
            svg.text("chart-text chart-count", (x + 4.0, notches + NOTCH_HEIGHT - 4.0), Anchor::Start, &count);
        }
        let below = notches + NOTCH_HEIGHT + ROW - 4.0;
        let (at, baseline) = layout.state.map_or((4.0, below), |at| (at, name));
        svg.text("chart-text chart-state", (at, baseline), Anchor::Start, &state);
        // Beside the state where both fit, else beside the code.
        let beside = layout.state.is_some() || width_of(&state) + width_of(&day) + 24.0 <= width;
        let free = if beside { baseline } else { name };
        if !day.is_empty() {
            svg.text("chart-text chart-runs-out", (width - 4.0, free), Anchor::End, &day);
        }
        top += layout.row();
    }
    let height = top + key_height(&key, width) + 4.0;
    draw_key(&mut svg, &key, width, top);

    let summary = tools.first().map_or_else(
        || said.none.to_owned(),
        |worst| {
            let (count, left) = (tools.len().to_string(), worst.words(said));
            fill(&said.summary, &[("tools", &count), ("worst", worst.tool.as_str()), ("left", &left)])
        },
    );
    let mut table = Table::new(&said.title, [&said.tool, &said.left, &said.runs_out_on]);
    table.rows.extend(tools.iter().map(|tool| {
        let day = match (tool.retired, tool.runs_out) {
            (true, _) => said.retired.to_owned(),
            (false, None) => said.lasts.to_owned(),
            (false, Some(day)) => format.day(day),
        };
        vec![tool.tool.to_string(), tool.grinds_left.to_string(), day]
    }));
    let title = said.title.to_owned();
    Drawing {
        svg: svg.finish(setting.name, (width, height), &title, &summary),
        title,
        summary,
        table,
        in_other_unit: None,
    }
}

#[cfg(test)]
mod tests {
    use super::{MOST_NOTCHES, ToolGrinds, draw};
    use crate::drawing::{
        testing::{DESK, PHONE, by_class, picture},
        words::ENGLISH,
    };
    use dovetally_core::code::Code;

    #[test]
    fn one_notch_for_each_grind_and_the_worst_first() {
        let codes = ["FT-1", "FT-2", "FT-3", "FT-4", "FT-5"].map(|code| Code::parse(code).unwrap());
        let day = "2026-08-01".parse().unwrap();
        let of = |index: usize, grinds_left, retired, runs_out| ToolGrinds {
            tool: &codes[index],
            grinds_left,
            retired,
            runs_out,
        };
        let tools = [
            of(0, 7, false, Some(day)),
            of(1, 0, true, Some(day)),
            of(2, 3, false, None),
            of(3, 0, false, Some(day)),
            of(4, 400, false, None),
        ];
        for setting in [DESK, PHONE] {
            let drawing = draw(&tools, &ENGLISH, &setting);
            let order: Vec<&str> = drawing.table.rows.iter().map(|row| row[0].as_str()).collect();
            assert_eq!(order, ["FT-4", "FT-3", "FT-1", "FT-5", "FT-2"]);
            let left: Vec<&str> = drawing.table.rows.iter().map(|row| row[1].as_str()).collect();
            assert_eq!(left, ["0", "3", "7", "400", "0"]);
            let document = picture(&drawing, &setting);
            // Notches by the row in which they stand: beside its name, or just below.
            let rows = by_class(&document, "chart-name", "y");
            let notches = by_class(&document, "chart-notch", "y");
            let counted: Vec<usize> =
                rows.iter().map(|row| notches.iter().filter(|y| (-13.0..8.0).contains(&(**y - row))).count()).collect();
            assert_eq!(counted, [0, 3, 7, usize::try_from(MOST_NOTCHES).unwrap(), 0]);
            assert_eq!(by_class(&document, "chart-bar-open", "y").len(), 1, "the last edge alone");
            // Where the state stands below, the number stands where the notches end.
            let counts = by_class(&document, "chart-count", "y").len();
            assert_eq!(counts, usize::from(setting.size.width < 400.0));
            let days: Vec<&str> = drawing.table.rows.iter().map(|row| row[2].as_str()).collect();
            assert_eq!(days[0], "2026-08-01");
            assert_eq!(days[4], ENGLISH.grinds.retired);
            assert!(drawing.summary.contains("FT-4") && drawing.summary.contains("last edge"), "{}", drawing.summary);
        }
        let none = draw(&[], &ENGLISH, &DESK);
        assert_eq!(none.summary, ENGLISH.grinds.none);
        picture(&none, &DESK);
    }
}
