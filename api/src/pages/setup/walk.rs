//! A setup as its pages see it.

use crate::{
    app::setups::{self, Loaded, load},
    pages::{frame::Frame, wording::ToldRefusal},
    problem::Problem,
    transport::{
        last_time::SetupThen,
        setup::{NextView, SetupView},
        setup_station::StationView,
    },
};
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    ids::SetupId,
    setup::{
        event::{Event, EventKind, HeightPhase},
        plan::StationPlan,
        state::SetupState,
    },
};
use dovetally_db::{Connection, parts, people};

/// What was recorded last.
struct Recently {
    kind: EventKind,
    phase: Option<HeightPhase>,
    station: Option<Code>,
    by: String,
    at: DateTime<Utc>,
}

/// A setup with what every one of its pages shows.
pub(crate) struct Walk {
    pub(crate) view: SetupView,
    pub(crate) loaded: Loaded,
    pub(super) part_name: String,
    recently: Option<Recently>,
    pub(crate) then: Option<SetupThen>,
}

impl Walk {
    /// As it stands.
    ///
    /// # Errors
    /// 404 when there is no such setup.
    pub(crate) fn of(connection: &mut Connection, id: SetupId, now: DateTime<Utc>) -> Result<Self, Problem> {
        let loaded = load(connection, id)?;
        let view = setups::show(connection, &loaded, now)?;
        let part = parts::find(connection, loaded.row.part)?;
        let recently = match loaded.events.last() {
            None => None,
            Some(last) => {
                let by = people::find(connection, last.by)?;
                let phase = match &last.event {
                    Event::HeightRead { phase, .. } => Some(*phase),
                    _ => None,
                };
                Some(Recently {
                    kind: last.event.kind(),
                    phase,
                    station: last.event.station().cloned(),
                    by: by.map(|by| by.fields.name).unwrap_or_default(),
                    at: last.recorded_at,
                })
            }
        };
        let then = setups::last_finished(connection, loaded.row.machine, loaded.row.part, 1)?.into_iter().next();
        Ok(Self { part_name: part.map(|part| part.fields.name).unwrap_or_default(), view, loaded, recently, then })
    }

    pub(super) fn address(&self) -> String {
        format!("/setups/{}", self.view.id)
    }

    pub(super) fn station_address(&self, station: &Code) -> String {
        format!("{}/{station}", self.address())
    }

    /// Where a step is taken. Measuring and correcting have pages of their own.
    pub(super) fn step_address(&self, step: &NextView) -> String {
        let here = self.address();
        match (step.kind, &step.station) {
            (EventKind::SizesRead | EventKind::DepthRead, Some(station)) => self.sizes_address(Some(station)),
            (EventKind::Adjusted, Some(station)) => format!("{here}/adjust?station={station}"),
            (kind, Some(station)) => format!("{here}/{station}?step={kind}"),
            (kind, None) => format!("{here}/steps/{kind}"),
        }
    }

    /// The page on which sizes and depths are read.
    pub(super) fn sizes_address(&self, station: Option<&Code>) -> String {
        let here = self.address();
        station.map_or_else(|| format!("{here}/sizes"), |station| format!("{here}/sizes?station={station}"))
    }

    /// What is waited for, in the order of the work: a height is read again only where it does not call for something
    /// else first.
    pub(super) fn wanted(&self) -> impl Iterator<Item = &NextView> {
        let wanted = || self.view.next.iter().filter(|step| step.wanted);
        let calls_for = |other: &NextView| {
            matches!(other.kind, EventKind::ToolClamped | EventKind::ToolUnclamped | EventKind::Adjusted)
        };
        wanted().filter(move |step| {
            step.kind != EventKind::HeightRead
                || !wanted().any(|other| other.station == step.station && calls_for(other))
        })
    }

    pub(super) fn next(&self) -> Option<&NextView> {
        self.wanted().next()
    }

    pub(super) fn next_at(&self, station: &Code) -> Option<&NextView> {
        self.wanted().find(|step| step.station.as_ref() == Some(station))
    }

    /// Where to go from a station: to what is waited for there, or else anywhere.
    pub(super) fn next_address(&self, station: Option<&Code>) -> String {
        let next = station.and_then(|station| self.next_at(station)).or_else(|| self.next());
        next.map_or_else(|| self.address(), |step| self.step_address(step))
    }

    /// Where what is waited for is taken, at whatever station.
    pub(super) fn go_on(&self) -> String {
        self.next_address(None)
    }

    /// Whether a step would be taken now, whatever is scanned for it.
    pub(super) fn offered(&self, station: Option<&Code>, kind: EventKind) -> Option<&NextView> {
        self.view.next.iter().find(|step| step.kind == kind && step.station.as_ref() == station)
    }

    pub(super) fn station(&self, code: &Code) -> Option<(&StationView, &StationPlan)> {
        let plan = self.loaded.setup.plan.stations.iter().find(|plan| plan.code == *code)?;
        Some((self.view.stations.iter().find(|view| view.station == *code)?, plan))
    }

    /// Whether an item was picked for a station.
    pub(super) fn is_picked(&self, station: &Code, item: &Code) -> bool {
        let picked = self.station(station).map(|(view, _)| [&view.planned_holder, &view.planned_tool]);
        picked.is_some_and(|picked| picked.into_iter().flatten().any(|code| code == item))
    }

    pub(crate) fn is_over(&self) -> bool {
        matches!(self.view.state, SetupState::Closed | SetupState::Abandoned)
    }

    pub(super) fn is_released(&self) -> bool {
        self.view.state == SetupState::Released
    }

    /// What a release is told by that rests on a second setter's word, and until when it goes.
    pub(super) fn provisional(&self, frame: &Frame) -> Option<(String, DateTime<Utc>)> {
        let held = self.view.held.as_ref().filter(|held| held.in_force && self.is_released())?;
        Some((frame.words.setup.run_provisional.with("pieces", held.most_pieces).to_string(), held.until))
    }

    /// Its state: a shape and a word.
    pub(super) fn state(&self, frame: &Frame) -> (&'static str, String) {
        let words = &frame.words.setup;
        let (kind, phrase) = match self.view.state {
            SetupState::Setting => ("wait", &words.setting),
            SetupState::Released => ("good", &words.released),
            SetupState::Stopped => ("off", &words.stopped),
            SetupState::Closed => ("none", &words.closed),
            SetupState::Abandoned => ("none", &words.abandoned),
        };
        (kind, phrase.to_string())
    }

    /// How much blocks the release, in one line that is always in sight.
    pub(crate) fn blocks(&self, frame: &Frame) -> String {
        let words = &frame.words.setup;
        let phrase = match (self.view.blockers.len(), self.is_released()) {
            (0, _) => &words.blocks_none,
            (1, false) => &words.blocks_one,
            (_, false) => &words.blocks,
            (1, true) => &words.blocks_next_one,
            (_, true) => &words.blocks_next,
        };
        phrase.with("count", self.view.blockers.len()).to_string()
    }

    pub(crate) fn blockers(&self, frame: &Frame) -> Vec<ToldRefusal> {
        frame.refusals(&self.view.blockers)
    }

    /// What a step is called, where it is.
    pub(super) fn step_name(&self, frame: &Frame, step: &NextView) -> String {
        let words = &frame.words.setup;
        let name = frame.words.steps.of(step.kind, step.phase).map(|step| step.name.to_string()).unwrap_or_default();
        match &step.station {
            Some(station) => words.next_here.with("station", station).with("step", name).to_string(),
            None => name,
        }
    }

    /// What was recorded last, in words.
    pub(super) fn last_done(&self, frame: &Frame) -> Option<String> {
        let words = &frame.words.setup;
        let last = self.recently.as_ref()?;
        let step = frame.words.steps.of(last.kind, last.phase).map(|step| &step.done);
        let done = step.or_else(|| words.derived(last.kind))?;
        Some(match &last.station {
            Some(station) => {
                words.last_done_at.with("station", station).with("done", done).with("name", &last.by).to_string()
            }
            None => words.last_done.with("done", done).with("name", &last.by).to_string(),
        })
    }

    pub(super) fn last_at(&self) -> Option<DateTime<Utc>> {
        self.recently.as_ref().map(|last| last.at)
    }
}
