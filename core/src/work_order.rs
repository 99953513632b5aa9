//! Work orders: work that is to be done, or was, on a machine, an item or anything else; from a plan, or by hand.
//!
//! An order is open, then started, then done; or it is cancelled. It ends once, with a note of who ended it.

use crate::{
    code::Code,
    field_error::{FieldError, FieldErrors},
    findings::{Findings, RuleSet},
    ids::{MaintenancePlanId, PersonId, WorkOrderId},
    machine::MachineMode,
    maintenance::Maintained,
    names::named,
    refusal::{Refusal, Rule, Subject, SubjectKind},
};
use chrono::{DateTime, Utc};

named! {
    /// Where an order stands.
    WorkOrderState {
        /// Nobody has begun.
        Open = "open",
        /// Somebody is at it.
        Started = "started",
        /// The work is done.
        Done = "done",
        /// It was called off.
        Cancelled = "cancelled",
    }
}

named! {
    /// What work on a machine touched that the height of the spindle centres above the slides hangs on.
    Touched {
        /// Neither carrier nor slides.
        Nothing = "nothing",
        /// A slide or its ways.
        Slide = "slide",
        /// The spindle carrier, a spindle or its bearings.
        SpindleCarrier = "spindle_carrier",
    }
}

impl Touched {
    /// Whether the spindle centres may stand at another height above the slides afterwards.
    #[must_use]
    pub const fn may_move_centers(self) -> bool {
        matches!(self, Self::Slide | Self::SpindleCarrier)
    }
}

/// Who did something, and when by the server's time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// Who.
    pub by: PersonId,
    /// When.
    pub at: DateTime<Utc>,
}

/// A work order on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WorkOrder {
    /// Its id.
    pub id: WorkOrderId,
    /// The plan it was opened from, with its code.
    pub plan: Option<(MaintenancePlanId, Code)>,
    /// What it is about.
    pub subject: Maintained,
    /// What is to be done, or what is wrong.
    pub what: String,
    /// Whether something failed; counted for the machine's reliability.
    pub breakdown: bool,
    /// From when the machine was down.
    pub down_from: Option<DateTime<Utc>>,
    /// Until when.
    pub down_until: Option<DateTime<Utc>>,
    /// Where it stands.
    pub state: WorkOrderState,
    /// Who opened it.
    pub opened: Stamp,
    /// Who began.
    pub started: Option<Stamp>,
    /// Who ended it: did it or called it off.
    pub ended: Option<Stamp>,
    /// When the work was done, as the person says.
    pub done_at: Option<DateTime<Utc>>,
    /// What was done, or why it was called off.
    pub note: Option<String>,
    /// What the work touched; said of what is done, and of what was begun and called off.
    pub touched: Option<Touched>,
    /// Raised with every change.
    pub version: i64,
}

/// What the records know of the plan that an order is to be opened from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlanAtOpening {
    /// Its code.
    pub code: Code,
    /// Whether it is out of use.
    pub retired: bool,
    /// Its open order.
    pub open_order: Option<WorkOrderId>,
}

/// What whoever did the work says of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Completion {
    /// What was done.
    pub note: String,
    /// What the work touched.
    pub touched: Touched,
    /// When it was done.
    pub done_at: DateTime<Utc>,
    /// Whether something had failed; as reported when left out.
    pub breakdown: Option<bool>,
    /// From when the machine was down; as reported when left out.
    pub down_from: Option<DateTime<Utc>>,
    /// Until when; until the work was done when left out.
    pub down_until: Option<DateTime<Utc>>,
}

impl WorkOrder {
    /// Whether nothing more is done to it.
    #[must_use]
    pub const fn has_ended(&self) -> bool {
        matches!(self.state, WorkOrderState::Done | WorkOrderState::Cancelled)
    }

    /// What comes first, for sorting: a machine that is down, then whatever else failed, then what waits longest.
    #[must_use]
    pub fn urgency(&self) -> (bool, bool, DateTime<Utc>) {
        let down = self.down_from.is_some() && self.down_until.is_none() && self.subject.machine().is_some();
        (!down, !self.breakdown, self.opened.at)
    }

    /// Everything that cannot be of a new one, by the fields of its body.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require_text(&self.what, 1000, "/what");
        if let Maintained::Other(words) = &self.subject {
            errors.require_text(words, 200, "/subject/other");
        }
        errors.require(
            !self.breakdown || self.plan.is_none(),
            "/breakdown",
            "an order from a plan is no breakdown: open one of its own for what failed",
        );
        errors.require(
            self.down_from.is_none() || self.subject.machine().is_some(),
            "/down_from",
            "only a machine is down",
        );
        errors.into_vec()
    }

    fn about(&self) -> Subject {
        Subject::new(SubjectKind::WorkOrder, self.id.to_string())
    }

    fn not_ended(&self, findings: &mut Findings) {
        findings.add_if(self.has_ended(), || {
            let sentence = format!("The work order on {} is {} already.", self.subject.name(), self.state);
            Refusal::new(Rule::WorkOrderEnded, sentence).saw(self.state.name()).about(self.about())
        });
    }

    /// Begins the work.
    ///
    /// # Errors
    /// When it has begun or ended before.
    pub fn start(mut self, stamp: Stamp) -> Result<Self, Vec<Refusal>> {
        let mut findings = Findings::under(RuleSet::ALL);
        self.not_ended(&mut findings);
        findings.add_if(self.state == WorkOrderState::Started, || {
            let sentence = format!("The work order on {} was started before.", self.subject.name());
            Refusal::new(Rule::WorkOrderStarted, sentence).about(self.about())
        });
        settled(findings)?;
        self.state = WorkOrderState::Started;
        self.started = Some(stamp);
        self.version += 1;
        Ok(self)
    }

    /// Everything that cannot be of calling this order off, by the fields of its body. Work on a machine that was begun says
    /// what it touched: half of it may have moved the spindle centres as well as the whole.
    #[must_use]
    pub fn check_cancellation(&self, reason: &str, touched: Option<Touched>) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require_text(reason, 2000, "/note");
        let begun_on_machine = self.state == WorkOrderState::Started && self.subject.machine().is_some();
        errors.require(
            touched.is_some() || !begun_on_machine,
            "/touched",
            "the work was begun: say what it touched until it was called off",
        );
        self.touches_a_machine(touched, &mut errors);
        errors.into_vec()
    }

    fn touches_a_machine(&self, touched: Option<Touched>, errors: &mut FieldErrors) {
        errors.require(
            self.subject.machine().is_some() || touched.is_none_or(|touched| touched == Touched::Nothing),
            "/touched",
            "only work on a machine touches its slides or its spindle carrier: open an order on the machine for that",
        );
    }

    /// Calls it off. `mode` is the guard's of the machine it is about.
    ///
    /// # Errors
    /// When it has ended before; when what was done of it may have moved the spindle centres of a machine that is released.
    pub fn cancel(
        mut self,
        reason: String,
        touched: Option<Touched>,
        mode: Option<MachineMode>,
        stamp: Stamp,
    ) -> Result<Self, Vec<Refusal>> {
        let mut findings = Findings::under(RuleSet::ALL);
        self.not_ended(&mut findings);
        self.not_while_running(touched, mode, &mut findings);
        settled(findings)?;
        self.state = WorkOrderState::Cancelled;
        self.ended = Some(stamp);
        self.note = Some(reason);
        self.touched = touched;
        self.version += 1;
        Ok(self)
    }

    /// A release that is in force rests on heights that no longer tell anything once the centres have moved.
    fn not_while_running(&self, touched: Option<Touched>, mode: Option<MachineMode>, findings: &mut Findings) {
        let moved = touched.is_some_and(Touched::may_move_centers);
        findings.add_if(moved && mode == Some(MachineMode::Running), || {
            let name = self.subject.name();
            let sentence = format!("Machine {name} is released, and its spindle centres may have moved.");
            Refusal::new(Rule::MachineRunning, sentence)
                .clears("Stop the run first, then record what was done.")
                .about(Subject::new(SubjectKind::Machine, name))
        });
    }

    /// Everything that cannot be of a completion of this order, by the fields of its body. Nothing lies ahead of `latest`.
    #[must_use]
    pub fn check_completion(&self, completion: &Completion, latest: DateTime<Utc>) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        let on_machine = self.subject.machine().is_some();
        errors.require_text(&completion.note, 2000, "/note");
        self.touches_a_machine(Some(completion.touched), &mut errors);
        for (at, pointer) in [(completion.down_from, "/down_from"), (completion.down_until, "/down_until")] {
            errors.require(at.is_none_or(|at| at <= latest), pointer, "lies ahead of the server's time");
        }
        errors.require(
            completion.breakdown != Some(true) || self.plan.is_none(),
            "/breakdown",
            "an order from a plan is no breakdown: open one of its own for what failed",
        );
        errors.require(on_machine || completion.down_from.is_none(), "/down_from", "only a machine is down");
        let down_from = completion.down_from.or(self.down_from);
        errors.require(
            completion.down_until.is_none() || down_from.is_some(),
            "/down_until",
            "say from when the machine was down",
        );
        if let Some(from) = down_from {
            let until = completion.down_until.unwrap_or(completion.done_at);
            let pointer = if completion.down_until.is_some() { "/down_until" } else { "/down_from" };
            errors.require(from <= until, pointer, "the machine is down from before until after");
        }
        errors.into_vec()
    }

    /// Ends it as done. `mode` is the guard's of the machine it is about.
    ///
    /// # Errors
    /// When it has ended before; when the work may have moved the spindle centres of a machine that is released.
    pub fn finish(
        mut self,
        completion: Completion,
        mode: Option<MachineMode>,
        stamp: Stamp,
    ) -> Result<Self, Vec<Refusal>> {
        let mut findings = Findings::under(RuleSet::ALL);
        self.not_ended(&mut findings);
        self.not_while_running(Some(completion.touched), mode, &mut findings);
        settled(findings)?;
        self.state = WorkOrderState::Done;
        self.breakdown = completion.breakdown.unwrap_or(self.breakdown);
        self.down_from = completion.down_from.or(self.down_from);
        if self.breakdown && self.subject.machine().is_some() && self.down_from.is_none() {
            // A machine that broke down was down: at the latest from when that was said.
            self.down_from = Some(self.opened.at.min(completion.done_at));
        }
        self.down_until = self.down_from.map(|_| completion.down_until.unwrap_or(completion.done_at));
        self.done_at = Some(completion.done_at);
        self.note = Some(completion.note);
        self.touched = Some(completion.touched);
        self.ended = Some(stamp);
        self.version += 1;
        Ok(self)
    }
}

/// Whether an order may be opened from a plan.
///
/// # Errors
/// When the plan is out of use, or has an open order.
pub fn open_from(plan: &PlanAtOpening) -> Result<(), Vec<Refusal>> {
    let mut findings = Findings::under(RuleSet::ALL);
    let about = || Subject::coded(SubjectKind::MaintenancePlan, &plan.code);
    findings.add_if(plan.retired, || {
        Refusal::new(Rule::PlanRetired, format!("Plan {} is out of use.", plan.code)).about(about())
    });
    if let Some(order) = plan.open_order {
        findings.add(plan_order_open(&plan.code).saw(order.to_string()));
    }
    settled(findings)
}

/// The refusal of a second open order of a plan.
#[must_use]
pub fn plan_order_open(plan: &Code) -> Refusal {
    Refusal::new(Rule::PlanOrderOpen, format!("Plan {plan} has an open work order."))
        .about(Subject::coded(SubjectKind::MaintenancePlan, plan))
}

fn settled(findings: Findings) -> Result<(), Vec<Refusal>> {
    if findings.is_empty() { Ok(()) } else { Err(findings.into_refusals()) }
}
