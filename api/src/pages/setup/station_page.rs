//! A station's page: what it asks for, and what stands on it.

use super::{
    Tried, Walk,
    lines::{self, Line},
    may,
    reading::{Expected, ReadBack, Typed},
    station::{scanned, tapped},
    words::{SetupWords, StepWords},
};
use crate::{
    pages::{
        frame::Frame,
        gauge::STANDS_FOR,
        visit::Faults,
        wording::{Phrase, ToldRefusal},
    },
    problem::Problem,
    transport::setup_station::StationView,
};
use askama::Template;
use dovetally_core::{
    code::Code,
    gauge::GaugeVerdict,
    length::{Length, LengthUnit},
    machine::ToolFace,
    setup::{
        event::{EventKind, HeightPhase},
        plan::StationPlan,
    },
};

/// The verdict on a scanned gauge, and whose gauge it is.
pub(super) struct GaugeShown {
    pub(super) code: String,
    pub(super) verdict: GaugeVerdict,
    pub(super) machine: Option<Code>,
}

/// What the page asks for.
pub(super) enum Ask {
    /// Nothing is waited for here.
    Nothing,
    /// A step that whoever is signed in may not take.
    SomebodyElse,
    /// It is measured or corrected on another page.
    Elsewhere { address: String },
    /// Something is scanned.
    Scan,
    /// What was scanned is used.
    Use { code: String },
    /// A holder was scanned: how does it sit?
    Seat { code: String },
    /// The right gauge was scanned: is the machine stopped?
    Place { code: String },
    /// One tap.
    Tap,
    /// Whether the edge is on the gauge.
    Height,
    /// By how much it is not.
    Difference { typed: Typed },
    /// The gap before the cut.
    Gap { typed: Typed },
    /// What was typed, told back.
    ReadBack { typed: Typed, read: ReadBack },
}

#[derive(Template)]
#[template(path = "pages/setup_station.html")]
pub(super) struct StationPage<'p> {
    pub(super) frame: &'p Frame,
    pub(super) walk: &'p Walk,
    pub(super) view: &'p StationView,
    pub(super) plan: &'p StationPlan,
    pub(super) kind: Option<EventKind>,
    pub(super) ask: Ask,
    pub(super) gauge: Option<GaugeShown>,
    pub(super) tried: Tried,
    pub(super) refusals: Vec<ToldRefusal>,
    pub(super) sentence: String,
    pub(super) faults: Faults,
    pub(super) not_now: bool,
}

impl<'p> StationPage<'p> {
    pub(super) fn new(frame: &'p Frame, walk: &'p Walk, station: &Code) -> Result<Self, Problem> {
        let (view, plan) = walk.station(station).ok_or_else(|| Problem::not_found("station", station))?;
        Ok(Self {
            frame,
            walk,
            view,
            plan,
            kind: None,
            ask: Ask::Nothing,
            gauge: None,
            tried: Tried::Looked,
            refusals: Vec::new(),
            sentence: String::new(),
            faults: Faults::default(),
            not_now: false,
        })
    }

    /// Asks for a step as it is asked for before anything was typed; for a height, `off` for how much it is off the gauge.
    pub(super) fn asking(mut self, kind: Option<EventKind>, unit: &str, off: bool) -> Self {
        let frame = self.frame;
        self.kind = kind;
        self.ask = match kind {
            None => Ask::Nothing,
            Some(kind) if !may(frame, kind) => Ask::SomebodyElse,
            Some(EventKind::HeightRead) if off => {
                Ask::Difference { typed: Typed::empty(LengthUnit::from_sign(unit).unwrap_or(self.height_unit()), true) }
            }
            Some(EventKind::HeightRead) => Ask::Height,
            Some(EventKind::ApproachRead) => {
                Ask::Gap { typed: Typed::empty(LengthUnit::from_sign(unit).unwrap_or(self.gap_unit()), false) }
            }
            Some(kind) if tapped(kind, &self.plan.code).is_some() => Ask::Tap,
            Some(kind) if scanned(kind, &self.plan.code, "").is_some() => Ask::Scan,
            Some(kind) => {
                let step = self.walk.offered(Some(&self.plan.code), kind);
                Ask::Elsewhere {
                    address: step.map_or_else(|| self.walk.address(), |step| self.walk.step_address(step)),
                }
            }
        };
        self
    }

    pub(super) fn words(&self) -> &'p SetupWords {
        &self.frame.words.setup
    }

    pub(super) fn heading(&self) -> String {
        let words = self.words();
        let heading = words.station_heading.with("station", &self.plan.code);
        heading.with("machine", &self.walk.view.machine).with("part", &self.walk.view.part).to_string()
    }

    pub(super) fn here(&self) -> String {
        self.walk.station_address(&self.plan.code)
    }

    pub(super) fn step(&self) -> Option<&'p StepWords> {
        let phase = if self.view.clamped { HeightPhase::AfterClamping } else { HeightPhase::BeforeClamping };
        self.frame.words.steps.of(self.kind?, Some(phase))
    }

    pub(super) fn step_name(&self) -> String {
        self.step().map(|step| step.name.to_string()).unwrap_or_default()
    }

    pub(super) fn step_kind(&self) -> &'static str {
        self.kind.map_or("", EventKind::name)
    }

    /// Whether the page's own box takes the step's scan.
    pub(super) fn scans(&self) -> bool {
        matches!(self.ask, Ask::Scan)
    }

    /// Whether something is scanned, typed or told back: that comes first on the page.
    pub(super) fn comes_first(&self) -> bool {
        matches!(self.ask, Ask::Scan | Ask::Difference { .. } | Ask::Gap { .. } | Ask::ReadBack { .. })
    }

    /// Whether a typed value is told back.
    pub(super) fn reads_back(&self) -> bool {
        matches!(self.ask, Ask::ReadBack { .. })
    }

    /// Whether the step is told as it begins.
    pub(super) fn leads(&self) -> bool {
        !self.confirms() && !matches!(self.ask, Ask::Difference { .. } | Ask::ReadBack { .. })
    }

    /// Whether what was done came to nothing.
    pub(super) fn failed(&self) -> bool {
        let against = !self.refusals.is_empty() || !self.sentence.is_empty();
        !self.faults.is_empty() || (against && self.tried.failed())
    }

    /// The words of the one tap.
    pub(super) fn tap(&self) -> String {
        let said = self.kind.and_then(|kind| self.words().tap(kind));
        said.map_or_else(|| self.step_name(), ToString::to_string)
    }

    /// Whether what was scanned waits for a word about it: nothing else is read then.
    pub(super) fn confirms(&self) -> bool {
        matches!(self.ask, Ask::Seat { .. } | Ask::Place { .. })
    }

    /// Whether a scan is only judged before it is taken.
    pub(super) fn judges_first(&self) -> bool {
        matches!(self.kind, Some(EventKind::HolderSeated | EventKind::GaugePlaced))
    }

    pub(super) fn scan_label(&self) -> &'p Phrase {
        let words = self.words();
        match self.kind {
            Some(EventKind::HolderSeated | EventKind::HolderRemoved) => &words.scan_holder,
            Some(EventKind::GaugePlaced | EventKind::GaugeRemoved) => &words.scan_gauge,
            _ => &words.scan_tool,
        }
    }

    /// What was picked for the step, or asked for.
    pub(super) fn picked(&self) -> Option<String> {
        let words = self.words();
        let operation = &self.plan.operation;
        match self.kind? {
            EventKind::HolderSeated => match (&self.view.planned_holder, &operation.holder_style) {
                (Some(holder), _) => Some(words.picked_holder.with("holder", holder).to_string()),
                (None, Some(style)) => Some(words.any_holder.with("style", style).to_string()),
                (None, None) => None,
            },
            EventKind::ToolInserted => match (&self.view.planned_tool, &operation.tool_design) {
                (Some(tool), _) => Some(words.picked_tool.with("tool", tool).to_string()),
                (None, Some(design)) => Some(words.any_tool.with("design", &design.code).to_string()),
                (None, None) => None,
            },
            _ => None,
        }
    }

    /// Whether hands go into the machine for this step.
    pub(super) fn reaches_in(&self) -> bool {
        !matches!(self.kind, None | Some(EventKind::SizesRead | EventKind::DepthRead | EventKind::CrashReported))
    }

    pub(super) fn done(&self) -> Vec<Line> {
        lines::station(self.frame, self.view, self.plan)
    }

    pub(super) fn last_time(&self) -> Vec<Line> {
        lines::of_last_time_at(self.frame, self.walk.then.as_ref(), &self.plan.code)
    }

    /// What the last reading advises, where the step is to correct it. A new reading that is told back makes it an old one.
    pub(super) fn advice(&self) -> Option<String> {
        let corrects = matches!(self.kind, Some(EventKind::Adjusted | EventKind::HeightRead))
            && !matches!(self.ask, Ask::ReadBack { .. });
        self.view.advice.as_ref().filter(|_| corrects).map(|advice| self.frame.told(&advice.sentence))
    }

    /// Other steps that would be taken here.
    pub(super) fn others(&self) -> Vec<(String, String)> {
        let here = self.walk.view.next.iter().filter(|step| step.station.as_ref() == Some(&self.plan.code));
        let others = here.filter(|step| Some(step.kind) != self.kind);
        others.map(|step| (self.walk.step_address(step), self.walk.step_name(self.frame, step))).collect()
    }

    /// The verdict on the scanned gauge: a shape and words.
    pub(super) fn verdict(&self, gauge: &GaugeShown) -> (&'static str, &'p Phrase) {
        let words = self.words();
        match gauge.verdict {
            GaugeVerdict::Right if self.refusals.is_empty() => ("good", &words.gauge_right),
            GaugeVerdict::Wrong => ("stop", &words.gauge_wrong),
            GaugeVerdict::Right | GaugeVerdict::NotUsable => ("stop", &words.gauge_not),
        }
    }

    /// Whether a gauge was judged and nothing sent: what is said of it holds as long as its verdict.
    pub(super) fn is_only_judged(&self) -> bool {
        self.gauge.is_some() && self.tried == Tried::Scanned
    }

    pub(super) fn about_gauge(&self, gauge: &GaugeShown) -> String {
        let words = self.words();
        let machine = &self.walk.view.machine;
        match &gauge.machine {
            Some(owner) => words.gauge_of_whom.with("gauge", &gauge.code).with("owner", owner).with("machine", machine),
            None => words.gauge_of.with("gauge", &gauge.code).with("machine", machine),
        }
        .to_string()
    }

    pub(super) fn height_unit(&self) -> LengthUnit {
        let preferences = &self.frame.preferences;
        let limit = self.view.height_limit.as_ref().map(|limit| limit.shop.unit());
        preferences.box_unit(limit.unwrap_or(preferences.unit))
    }

    /// The gap that the station ran with last time.
    pub(super) fn gap_then(&self) -> Option<Length> {
        let then = self.walk.then.as_ref()?.stations.iter().find(|then| then.station == self.plan.code)?;
        then.gaps.last().copied()
    }

    pub(super) fn gap_unit(&self) -> LengthUnit {
        let part = self.plan.operation.features.first().map(|feature| feature.target.unit());
        let preferences = &self.frame.preferences;
        preferences.box_unit(self.gap_then().map(Length::unit).or(part).unwrap_or(preferences.unit))
    }

    /// Where a difference on the gauge is typed.
    pub(super) fn difference_address(&self) -> String {
        format!("{}&off=1", self.anew())
    }

    /// Where the step is asked for anew, with nothing scanned or typed for it.
    pub(super) fn anew(&self) -> String {
        format!("{}?step={}", self.here(), self.step_kind())
    }

    /// Which way a reading has which sign.
    pub(super) fn height_lead(&self) -> &'p Phrase {
        match self.plan.tool_face {
            ToolFace::Up => &self.words().height_lead_up,
            ToolFace::Down => &self.words().height_lead_down,
        }
    }

    pub(super) fn unit_change(&self, typed: &Typed) -> String {
        self.frame.unit_change(typed.other_unit())
    }

    pub(super) fn unit_address(&self, typed: &Typed) -> String {
        let off = if matches!(self.ask, Ask::Difference { .. }) { "&off=1" } else { "" };
        format!("{}{off}&unit={}", self.anew(), typed.other_unit().sign())
    }

    /// What a reading is compared with: the limit of a height, the gap of last time.
    pub(super) fn expected(&self, kind: EventKind) -> Option<Expected> {
        if kind == EventKind::ApproachRead {
            return self.gap_then().map(|gap| Expected { target: gap, width: gap });
        }
        let limit = self.view.height_limit.as_ref()?;
        let width = if limit.leaves_nothing { limit.shop } else { limit.limit };
        Some(Expected { target: Length::from_picometres(0, width.unit()), width })
    }
}
