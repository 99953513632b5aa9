//! What gauge control and the checks of holders refuse.

use crate::{Refused, shop::*};
use chrono::{DateTime, Utc};
use dovetally_core::{
    gauge::{
        GaugeMachine,
        impact_document::{DocumentFacts, close, judge},
        rebind::{Rebinding, rebind},
    },
    holder::{self, HolderCheckFields, HolderFinding},
    ids::MachineId,
    item::Condition,
    refusal::{Refusal, Rule},
};
use uuid::Uuid;

fn named(result: Result<(), Vec<Refusal>>) -> Vec<Rule> {
    result.err().map(|refusals| rules(&refusals)).unwrap_or_default()
}

fn rebound(accepted: bool, who: u128, last_used_at: Option<DateTime<Utc>>) -> Vec<Rule> {
    let gauge = gauge(1, person(1));
    let to = GaugeMachine { machine: MachineId::from_uuid(Uuid::from_u128(0x4_0002)), code: code("M-2") };
    named(rebind(&Rebinding {
        gauge: &gauge,
        to: &to,
        centers_may_have_moved_at: None,
        accepted,
        checked_at: start(),
        last_used_at,
        who: person(who),
    }))
}

fn cracked() -> Vec<Rule> {
    let check = HolderCheckFields {
        accepted: true,
        found: vec![HolderFinding::Cracked],
        taper_adjuster_free: Some(true),
        height_adjuster_free: Some(true),
        side_screw_free: Some(true),
        seat_clean: true,
        note: None,
        condition: None,
        next_check: None,
        performed_at: start(),
    };
    named(holder::judge(&code("H-1"), Condition::NeedsCheck, &check).map(drop))
}

pub(crate) fn refused() -> Vec<Refused> {
    let document = |closed| DocumentFacts { gauge: code("CG-1"), closed };
    vec![
        Refused::new("bound without an accepted check", &[Rule::RebindingNotAccepted], rebound(false, 1, None)),
        Refused::new("bound while another has it", &[Rule::RebindingWhileInUse], rebound(true, 2, None)),
        Refused::new("bound by a check before its last use", &[Rule::RebindingCheckTooOld], {
            rebound(true, 1, Some(start()))
        }),
        Refused::new("an outcome after the end", &[Rule::ImpactClosed], named(judge(&document(true), &[]))),
        Refused::new("an outcome of a run that goes on", &[Rule::ImpactRunGoing], named(judge(&document(false), &[1]))),
        Refused::new("closed while a run goes on", &[Rule::ImpactRunGoing], {
            named(close(&document(false), &[2], &[], 0))
        }),
        Refused::new("closed too early", &[Rule::ImpactNotWorkedThrough], named(close(&document(false), &[], &[1], 0))),
        Refused::new("a cracked holder accepted", &[Rule::HolderNotSound], cracked()),
    ]
}
