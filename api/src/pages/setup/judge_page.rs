//! The page on which pieces are judged: a box for each feature, and what was read told back.

use super::{
    Tried, Walk,
    judge::JudgeForm,
    may,
    words::{SetupWords, StepWords},
};
use crate::{
    pages::{
        frame::Frame,
        numbers::{ShownLength, near, read_length},
        visit::Faults,
        wording::{Phrase, ToldRefusal},
    },
    problem::Problem,
};
use askama::Template;
use dovetally_core::{
    code::Code,
    length::{Length, LengthUnit},
    people::Permission,
    setup::{event::EventKind, plan::Feature},
};

/// A box for one feature, of one spindle where every spindle is judged.
pub(super) struct FeatureBox {
    pub(super) name: String,
    pub(super) station: Code,
    pub(super) feature: Feature,
    pub(super) spindle: Option<u8>,
    pub(super) value: String,
}

/// One value told back: its box's words, what was read, how it stands to its limits.
pub(super) struct Row {
    pub(super) label: String,
    pub(super) shown: Option<ShownLength>,
    pub(super) state: (&'static str, String),
    pub(super) doubt: Option<String>,
}

/// What the page asks for.
pub(super) enum Ask {
    SomebodyElse,
    Refused,
    Measure,
    /// What is odd comes first. `good`: all was read and lies inside its limits.
    ReadBack {
        rows: Vec<Row>,
        doubted: bool,
        good: bool,
    },
}

#[derive(Template)]
#[template(path = "pages/setup_judge.html")]
pub(super) struct JudgePage<'p> {
    pub(super) frame: &'p Frame,
    pub(super) walk: &'p Walk,
    pub(super) kind: EventKind,
    pub(super) step: &'p StepWords,
    pub(super) boxes: Vec<FeatureBox>,
    pub(super) form: JudgeForm,
    pub(super) ask: Ask,
    pub(super) tried: Tried,
    pub(super) refusals: Vec<ToldRefusal>,
    pub(super) sentence: String,
    pub(super) faults: Faults,
}

impl<'p> JudgePage<'p> {
    pub(super) fn new(frame: &'p Frame, walk: &'p Walk, kind: EventKind, form: JudgeForm) -> Result<Self, Problem> {
        let step = frame.words.steps.of(kind, None).ok_or_else(|| Problem::not_found("step", kind))?;
        let ask = if may(frame, kind) { Ask::Measure } else { Ask::SomebodyElse };
        let boxes = boxes(walk, &form);
        let (refusals, sentence, faults) = (Vec::new(), String::new(), Faults::default());
        let tried = Tried::Looked;
        Ok(Self { frame, walk, kind, step, boxes, form, ask, tried, refusals, sentence, faults })
    }

    pub(super) fn reads_back(&self) -> bool {
        matches!(self.ask, Ask::ReadBack { .. })
    }

    /// What whoever sets does before a piece goes to be judged: measuring it.
    pub(super) fn measures_first(&self) -> Option<&Phrase> {
        let sizes = self.frame.words.steps.of(EventKind::SizesRead, None)?;
        let sets = self.kind == EventKind::FirstPieceJudged && self.frame.may(Permission::RecordSetup);
        sets.then_some(&sizes.name)
    }

    pub(super) fn words(&self) -> &'p SetupWords {
        &self.frame.words.setup
    }

    pub(super) fn heading(&self) -> String {
        let heading = self.words().heading.with("machine", &self.walk.view.machine);
        heading.with("part", &self.walk.view.part).to_string()
    }

    pub(super) fn here(&self) -> String {
        format!("{}/steps/{}", self.walk.address(), self.kind)
    }

    /// Whether one piece is judged, whose number is named.
    pub(super) fn names_piece(&self) -> bool {
        self.kind == EventKind::FirstPieceJudged
    }

    pub(super) fn accept(&self) -> &'p Phrase {
        if self.names_piece() { &self.words().accept } else { &self.words().accept_held }
    }

    pub(super) fn every_spindle(&self) -> bool {
        self.walk.loaded.setup.plan.settings.first_piece_from_every_spindle
    }

    pub(super) fn spindles(&self) -> Vec<(String, bool)> {
        let running = self.walk.loaded.setup.plan.running_spindles.iter();
        running.map(|spindle| (spindle.to_string(), spindle.to_string() == self.form.spindle)).collect()
    }

    pub(super) fn piece_from(&self) -> String {
        self.words().piece_from.with("piece", first_piece(self.walk)).to_string()
    }

    /// What an acceptance by this person carries, where it carries less than a release without limits.
    pub(super) fn carries(&self) -> Option<String> {
        let allowed = self.walk.loaded.setup.plan.settings.provisional_release?;
        let in_full = self.frame.may(Permission::JudgeHeldPieces) || !self.names_piece();
        let words = self.words().accept_provisional.with("pieces", allowed.most_pieces);
        (!in_full).then(|| words.with("time", self.words().lasting(allowed.most_minutes)).to_string())
    }

    pub(super) fn label(&self, of: &FeatureBox) -> String {
        let words = self.words();
        let (feature, mark) = (&of.feature, self.frame.mark());
        let as_read = self.unit_of(of) == feature.target.unit();
        let limit = |deviation: Length| {
            let shown = mark.length(feature.target.plus(deviation));
            if as_read { shown.entered } else { shown.other }
        };
        let phrase = match of.spindle.filter(|_| self.every_spindle()) {
            Some(spindle) => words.feature_of_spindle.with("spindle", spindle).with("name", &feature.name),
            None => words.feature.with("name", &feature.name),
        };
        let phrase = phrase.with("feature", &feature.code).with("station", &of.station);
        phrase
            .with("lower", limit(feature.tolerance.lower()))
            .with("upper", limit(feature.tolerance.upper()))
            .to_string()
    }

    /// The unit of a box.
    pub(super) fn unit_of(&self, of: &FeatureBox) -> LengthUnit {
        LengthUnit::from_sign(&self.form.unit).unwrap_or_else(|| of.feature.target.unit())
    }

    /// The unit that the boxes are not in.
    pub(super) fn other_unit(&self) -> LengthUnit {
        self.boxes.first().map_or(self.frame.preferences.unit, |of| self.unit_of(of)).other()
    }

    /// What was typed, box by box, or what is wrong with it; a box that is left empty was not read.
    pub(super) fn read(&mut self) -> Vec<(usize, Length)> {
        let mut read = Vec::new();
        for (index, of) in self.boxes.iter().enumerate().filter(|(_, of)| !of.value.trim().is_empty()) {
            let length = read_length(&of.value, self.unit_of(of));
            let length = self.faults.read(of.name.clone(), length, |fault| self.frame.number_fault(fault));
            read.extend(length.map(|length| (index, length)));
        }
        if read.is_empty() && self.faults.is_empty() {
            let first = self.boxes.first().map(|of| of.name.clone()).unwrap_or_default();
            let words = self.words();
            self.faults.add(first, &words.judge_unread);
        }
        read
    }

    /// The piece's number; nothing was typed, or it is none.
    pub(super) fn piece(&mut self) -> Option<u64> {
        let typed = self.form.piece.trim();
        if typed.is_empty() || !self.names_piece() {
            return None;
        }
        let piece = typed.parse::<u64>().ok().filter(|piece| *piece > 0);
        if piece.is_none() {
            let words = self.words();
            self.faults.add("piece", &words.piece_bad);
        }
        piece
    }

    pub(super) fn told_back(&self, read: &[(usize, Length)]) -> Ask {
        let words = self.words();
        let mut good = true;
        let rows = self.boxes.iter().enumerate().map(|(index, of)| {
            let length = read.iter().find(|(at, _)| *at == index).map(|(_, length)| *length);
            let (target, tolerance) = (of.feature.target, &of.feature.tolerance);
            let inside = length.map(|length| tolerance.admit(target, length));
            good &= inside == Some(true);
            let state = match inside {
                Some(true) => ("good", words.judge_inside.to_string()),
                Some(false) => ("stop", words.judge_outside.to_string()),
                None => ("none", words.judge_missing.to_string()),
            };
            let width = tolerance.upper().minus(tolerance.lower());
            let odd = length.and_then(|length| near(target, width).doubt(length));
            Row {
                label: self.label(of),
                shown: length.map(|length| self.frame.length(&length)),
                state,
                doubt: length.zip(odd).map(|(length, odd)| self.frame.doubt(odd, &length, &target)),
            }
        });
        let mut rows: Vec<Row> = rows.collect();
        rows.sort_by_key(|row| row.doubt.is_none());
        let doubted = rows.iter().any(|row| row.doubt.is_some());
        Ask::ReadBack { rows, doubted, good }
    }
}

/// The first piece that every station formed as it is set now.
pub(super) fn first_piece(walk: &Walk) -> u64 {
    walk.view.stations.iter().map(|station| station.first_good_piece).max().unwrap_or(1)
}

fn boxes(walk: &Walk, form: &JudgeForm) -> Vec<FeatureBox> {
    let plan = &walk.loaded.setup.plan;
    let spindles: Vec<Option<u8>> = if plan.settings.first_piece_from_every_spindle {
        plan.running_spindles.iter().copied().map(Some).collect()
    } else {
        vec![form.spindle.parse().ok()]
    };
    let mut boxes = Vec::new();
    for spindle in spindles {
        for station in &plan.stations {
            for feature in &station.operation.features {
                let name = format!("r{}", boxes.len());
                let value = form.readings.get(&name).cloned().unwrap_or_default();
                let (station, feature) = (station.code.clone(), feature.clone());
                boxes.push(FeatureBox { name, station, feature, spindle, value });
            }
        }
    }
    boxes
}
