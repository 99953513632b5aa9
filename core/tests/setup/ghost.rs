//! An independent reading of a setup's history. It knows nothing of the fold and nothing of the rules: it hears events
//! and tag-outs, remembers what they mean at the machine, and says when something happened that must never happen.

use dovetally_core::{
    adjuster::AdjusterKind,
    code::Code,
    ids::{ItemId, PersonId},
    setup::{
        event::{Event, FirstPieceReading, HeightPhase, HeightReading, SeatAnswers, Stock, TakenOut},
        plan::HolderMoveRecheck,
    },
};

/// One station, as somebody who stands beside the machine would know it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Seen {
    pub(crate) code: Code,
    pub(crate) holder: bool,
    pub(crate) seat_good: bool,
    pub(crate) moved_well: bool,
    pub(crate) tool: bool,
    pub(crate) height_good: bool,
    pub(crate) tight: bool,
    /// The height was read on a gauge here, inside the limit, since the tool was tightened.
    pub(crate) proven: bool,
    pub(crate) approach: bool,
    pub(crate) gauges: Vec<ItemId>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Ghost {
    pub(crate) stations: Vec<Seen>,
    pub(crate) tagged_out: bool,
    pub(crate) stock: bool,
    pub(crate) heat: Option<String>,
    pub(crate) index: bool,
    pub(crate) trial: bool,
    pub(crate) accepted: bool,
    /// The acceptance is a second setter's, where the shop wants an inspector's.
    pub(crate) provisionally: bool,
    /// A provisional release was made, and no inspector has judged what it made.
    pub(crate) unjudged: bool,
    pub(crate) released: bool,
    pub(crate) closed: bool,
    /// The machine's own gauge was found damaged, and not found right since.
    pub(crate) in_doubt: bool,
    pub(crate) workers: Vec<PersonId>,
    this_machines: Vec<ItemId>,
    /// Where the shop knows provisional releases: who inspects.
    pub(crate) inspectors: Option<Vec<PersonId>>,
    limit_picometres: i64,
}

impl Ghost {
    pub(crate) fn new(stations: &[Code], opened_by: PersonId, this_machines: &[ItemId]) -> Self {
        let unseen = |code: &Code| Seen {
            code: code.clone(),
            holder: false,
            seat_good: false,
            moved_well: true,
            tool: false,
            height_good: false,
            tight: false,
            proven: false,
            approach: false,
            gauges: Vec::new(),
        };
        Self {
            stations: stations.iter().map(unseen).collect(),
            tagged_out: false,
            stock: false,
            heat: None,
            index: false,
            trial: false,
            accepted: false,
            provisionally: false,
            unjudged: false,
            released: false,
            closed: false,
            in_doubt: false,
            workers: vec![opened_by],
            this_machines: this_machines.to_vec(),
            inspectors: None,
            limit_picometres: 50_000_000,
        }
    }

    /// What forbids a spindle to turn, if anything does.
    pub(crate) fn forbids_turning(&self) -> Option<&'static str> {
        if self.tagged_out {
            return Some("it turns while the machine is tagged out");
        }
        if self.stations.iter().any(|seen| !seen.gauges.is_empty()) {
            return Some("it turns while a gauge is in the machine");
        }
        if self.stations.iter().any(|seen| !seen.holder || !seen.tool) {
            return Some("it turns with a holder or tool missing");
        }
        if self.stations.iter().any(|seen| !seen.seat_good || !seen.moved_well) {
            return Some("it turns on a seat that was answered false");
        }
        if self.stations.iter().any(|seen| !seen.tight || !seen.proven) {
            return Some("it turns with a height that was not rechecked after clamping");
        }
        if !self.stock || !self.index {
            return Some("it turns without the index proven clear, with stock in");
        }
        None
    }

    /// Whether a tool is tight at a height that was read on a gauge in doubt.
    pub(crate) fn relies_on_a_doubtful_gauge(&self) -> bool {
        self.in_doubt && self.stations.iter().any(|seen| seen.proven)
    }

    /// Hears one event. The answer is what must never happen, if it just did.
    pub(crate) fn hear(&mut self, by: PersonId, event: &Event) -> Option<&'static str> {
        if self.closed {
            return Some("something was recorded after closing");
        }
        if !matches!(
            event,
            Event::FirstPieceJudged { .. }
                | Event::HeldPiecesJudged { .. }
                | Event::ItemTakenOut { .. }
                | Event::ReleaseWithdrawn { .. }
                | Event::TrialWithdrawn { .. }
        ) && !self.workers.contains(&by)
        {
            self.workers.push(by);
            self.workers.sort();
        }
        let at = event.station().and_then(|code| self.stations.iter().position(|seen| seen.code == *code));
        match at {
            Some(at) => self.hear_at(at, event),
            None => self.hear_of_machine(by, event),
        }
    }

    fn hear_at(&mut self, at: usize, event: &Event) -> Option<&'static str> {
        let released = self.released;
        let seen = &mut self.stations[at];
        let mut wrong = None;
        match event {
            Event::HolderSeated { seat: SeatAnswers { seat_clean, seated_flush, side_screw_free }, .. } => {
                self.emptied(at);
                self.stations[at].holder = true;
                self.stations[at].seat_good = *seat_clean && *seated_flush && *side_screw_free;
                wrong = released.then_some("a holder was changed during a run");
            }
            Event::ToolInserted { .. } => {
                let holder = (seen.holder, seen.seat_good, seen.moved_well);
                self.emptied(at);
                let seen = &mut self.stations[at];
                (seen.holder, seen.seat_good, seen.moved_well) = holder;
                seen.tool = true;
                wrong = released.then_some("a tool was changed during a run");
            }
            Event::GaugePlaced { gauge, .. } => {
                if !self.this_machines.contains(gauge) {
                    wrong = Some("another machine's gauge was placed");
                } else if self.stations.iter().any(|seen| seen.gauges.contains(gauge)) {
                    wrong = Some("one gauge was placed twice");
                }
                self.stations[at].gauges.push(*gauge);
                self.trial = false;
            }
            Event::GaugeRemoved { gauge, .. } => seen.gauges.retain(|placed| placed != gauge),
            Event::HeightRead { phase, reading, .. } => {
                let good = match reading {
                    HeightReading::OnGauge => true,
                    HeightReading::Deviation(deviation) => deviation.picometres().abs() <= self.limit_picometres,
                };
                wrong = self.in_doubt.then_some("a height was read on a gauge in doubt");
                let good = good && !seen.gauges.is_empty();
                match phase {
                    HeightPhase::BeforeClamping => seen.height_good = good,
                    HeightPhase::AfterClamping => seen.proven = good && seen.tight,
                }
            }
            Event::ToolClamped { .. } => {
                wrong = (!seen.tool || !seen.height_good).then_some("a tool was clamped at a height that was not read");
                if seen.tight {
                    self.loosened(at);
                }
                self.stations[at].tight = true;
                self.stations[at].proven = false;
            }
            Event::ToolUnclamped { .. } => self.loosened(at),
            Event::ApproachRead { .. } => seen.approach = true,
            Event::Adjusted { adjusts, holder_move, recheck, .. } => {
                self.accepted = false;
                match adjusts {
                    AdjusterKind::Height => {
                        wrong = seen.tight.then_some("a height screw was turned on a clamped tool");
                        seen.height_good = false;
                        self.loosened(at);
                    }
                    AdjusterKind::Taper | AdjusterKind::Lateral => {
                        seen.moved_well =
                            holder_move.is_some_and(|left| left.holder_retightened && left.side_screw_free);
                        seen.approach = false;
                        if *recheck == Some(HolderMoveRecheck::Required) {
                            seen.proven = false;
                        }
                    }
                    AdjusterKind::Infeed => seen.approach = false,
                    AdjusterKind::Depth => {}
                }
            }
            Event::CrashReported { blocked, .. } => {
                for at in 0..self.stations.len() {
                    if blocked.contains(&self.stations[at].code) {
                        self.emptied(at);
                    }
                }
            }
            Event::ToolRemoved { .. } | Event::HolderRemoved { .. } | Event::ItemTakenOut { .. } => {
                wrong = released.then_some("a tool or holder was taken out during a run");
                let holder = (seen.holder, seen.seat_good, seen.moved_well);
                self.emptied(at);
                if matches!(event, Event::ToolRemoved { .. } | Event::ItemTakenOut { what: TakenOut::Tool, .. }) {
                    let seen = &mut self.stations[at];
                    (seen.holder, seen.seat_good, seen.moved_well) = holder;
                }
            }
            _ => {}
        }
        wrong
    }

    fn hear_of_machine(&mut self, by: PersonId, event: &Event) -> Option<&'static str> {
        let mut wrong = None;
        match event {
            Event::StockFed { stock: Stock { heat, .. } } => {
                let in_the_way =
                    self.stations.iter().any(|seen| !seen.gauges.is_empty() || !seen.tight || !seen.proven);
                wrong = in_the_way.then_some("stock was fed past a gauge or a tool that was not rechecked");
                if self.relies_on_a_doubtful_gauge() {
                    wrong = wrong.or(Some("stock was fed to a height that was read on a gauge in doubt"));
                }
                if !self.stock || self.heat != *heat {
                    self.index = false;
                    self.trial = false;
                    self.accepted = false;
                    self.stations.iter_mut().for_each(|seen| seen.approach = false);
                }
                self.stock = true;
                self.heat.clone_from(heat);
            }
            Event::IndexClearanceConfirmed => {
                wrong = self
                    .stations
                    .iter()
                    .any(|seen| !seen.gauges.is_empty())
                    .then_some("the carrier was turned with a gauge in the machine");
                self.index = self.stock;
            }
            Event::TrialCutBegun => {
                wrong = self.forbids_turning();
                if self.relies_on_a_doubtful_gauge() {
                    wrong = wrong.or(Some("it turns with a height that was read on a gauge in doubt"));
                }
                self.trial = true;
            }
            Event::FirstPieceJudged { accepted, readings, .. } => {
                // Every form is 10 mm ± 0.02 mm.
                let good =
                    |reading: &FirstPieceReading| (reading.value.picometres() - 10_000_000_000).abs() <= 20_000_000;
                let all_good =
                    self.stations.iter().all(|seen| readings.iter().any(|reading| reading.station == seen.code))
                        && readings.iter().all(good);
                self.accepted = *accepted && all_good && !self.workers.contains(&by);
                self.provisionally = self.inspectors.as_ref().is_some_and(|inspectors| !inspectors.contains(&by));
            }
            Event::HeldPiecesJudged { accepted, .. } => {
                if self.inspectors.as_ref().is_none_or(|inspectors| !inspectors.contains(&by)) {
                    wrong = Some("held pieces were judged by somebody who is no inspector");
                }
                self.unjudged = false;
                self.provisionally = false;
                if !*accepted {
                    self.accepted = false;
                }
            }
            Event::RunReleased { provisional, .. } => {
                wrong = self.forbids_turning();
                if self.relies_on_a_doubtful_gauge() {
                    wrong = wrong.or(Some("released with a height that was read on a gauge in doubt"));
                }
                if self.unjudged {
                    wrong = wrong.or(Some("released again before an inspector judged what is held"));
                }
                if self.provisionally != provisional.is_some() {
                    wrong = wrong.or(Some("a second setter's word carried a release without limits"));
                }
                self.unjudged |= provisional.is_some();
                if !self.accepted {
                    wrong = wrong.or(Some("released without a first piece that another person accepted"));
                }
                if !self.trial {
                    wrong = wrong.or(Some("released without a trial as everything stands"));
                }
                if self.stations.iter().any(|seen| !seen.approach) {
                    wrong = wrong.or(Some("released without an approach read"));
                }
                self.released = true;
            }
            Event::ReleaseWithdrawn { .. } => {
                self.released = false;
                self.trial = false;
            }
            Event::TrialWithdrawn { .. } => self.trial = false,
            Event::RunStopped { .. } => self.released = false,
            Event::Closed { .. } | Event::Abandoned { .. } => {
                let left = self.released || self.stations.iter().any(|seen| !seen.gauges.is_empty());
                wrong = left.then_some("closed with a gauge in the machine or a release in force");
                if self.unjudged {
                    wrong = wrong.or(Some("closed before an inspector judged what is held"));
                }
                self.closed = true;
            }
            _ => {}
        }
        wrong
    }

    fn loosened(&mut self, at: usize) {
        let seen = &mut self.stations[at];
        seen.tight = false;
        seen.proven = false;
        seen.approach = false;
        self.trial = false;
        self.accepted = false;
    }

    fn emptied(&mut self, at: usize) {
        self.loosened(at);
        let seen = &mut self.stations[at];
        seen.holder = false;
        seen.seat_good = false;
        seen.moved_well = true;
        seen.tool = false;
        seen.height_good = false;
        self.index = false;
    }
}
