//! What happens to a setup from outside it: a tag-out of its machine, a tool or holder handed out of it.

use super::{
    Decision, Effect,
    holder_and_tool::{leaving_holder, leaving_tool},
};
use crate::{
    ids::{ItemId, TagOutId},
    item::Purpose,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    setup::{
        event::{Event, TakenOut, Withdrawal},
        state::Setup,
    },
};

/// What a tag-out does to the open setup of its machine. It always succeeds: a release in force is withdrawn, and a
/// trial ends, so that the machine has to be proven clear again once the tag-out is cleared.
#[must_use]
pub fn tag_out(setup: &Setup, tag_out: TagOutId) -> Decision {
    let withdrawal = Withdrawal::TagOut { tag_out };
    if setup.is_closed() {
        Decision::default()
    } else if setup.is_released() {
        Decision::of(Event::ReleaseWithdrawn { withdrawal }).with([Effect::ReleaseOff])
    } else if setup.trial {
        Decision::of(Event::TrialWithdrawn { withdrawal })
    } else {
        Decision::default()
    }
}

/// Takes a tool or holder out of an open setup because it is handed out to be ground or checked. Custody moves the item;
/// this is what the setup records.
///
/// # Errors
/// `setup-closed`; `machine-running` while a release is in force; `item-in-setup` for anything that is not a tool or holder in it: a
/// gauge is taken out at its station, with its own scan.
pub fn take_out(setup: &Setup, item: ItemId, purpose: Purpose) -> Result<Decision, Vec<Refusal>> {
    if setup.is_closed() {
        let sentence = format!("This setup of {} is {}.", setup.plan.machine_code, setup.state);
        let subject = Subject::new(SubjectKind::Setup, setup.plan.setup.to_string());
        return Err(vec![Refusal::new(Rule::SetupClosed, sentence).about(subject)]);
    }
    if setup.is_released() {
        let sentence = format!("Machine {} is released: nothing is taken out of it.", setup.plan.machine_code);
        let machine = Subject::coded(SubjectKind::Machine, &setup.plan.machine_code);
        return Err(vec![Refusal::new(Rule::MachineRunning, sentence).about(machine)]);
    }
    for (plan, state) in setup.plan.stations.iter().zip(&setup.stations) {
        let is_tool = state.tool.as_ref().is_some_and(|tool| tool.item == item);
        let is_holder = state.holder.as_ref().is_some_and(|holder| holder.item == item);
        if is_tool || is_holder {
            let what = if is_tool { TakenOut::Tool } else { TakenOut::Holder };
            let event = Event::ItemTakenOut { station: plan.code.clone(), item, what, purpose };
            let holder = if is_holder { leaving_holder(state) } else { None };
            return Ok(Decision::of(event).with(leaving_tool(state)).with(holder));
        }
    }
    let sentence = "Only a tool or holder that is in the setup is handed out of it.";
    Err(vec![Refusal::new(Rule::ItemInSetup, sentence)])
}
