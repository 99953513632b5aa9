//! The counter: what one scan means there, as the records have it.
//!
//! An item that is in the shop's hands is handed out, one that is out is taken back; but one that is with the very
//! person who is chosen was perhaps scanned twice, and is asked after. Everything else that is scanned is chosen for the
//! items that follow: whom they are for, for which machine and job, into which bin they go back. The rules are those of
//! custody; here it is only found out which of its requests a scan makes.

use super::{
    custody::{check_in_in, check_out_in},
    facts::{code_of, in_setup, scanned_item},
    ledger,
};
use crate::{
    principal::Principal,
    problem::Problem,
    transport::movement::{CheckIn, CheckInItem, CheckOut},
};
use dovetally_core::{
    code::Code,
    custody::ItemFacts,
    ids::{ItemId, JobId},
    item::{Condition, ItemKind, Keeper, Purpose},
    people::Permission,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    scan::Scanned,
};
use dovetally_db::{
    Connection, Tx,
    codes::{self, CodeSubject},
    custody::{self, KnownAs, MovementFilter},
    items::{self, ItemFilter},
    jobs, people, places,
};
use serde::{Deserialize, Serialize};

/// The most items that come back with one job: more than a kit ever has.
const MOST_OF_A_JOB: i64 = 200;
/// How far back an item's own place is looked for.
const MOVES_LOOKED_AT: i64 = 20;

/// What is chosen for the items that are scanned next.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Chosen {
    /// The badge of whoever they are for.
    pub(crate) person: Option<String>,
    /// That person's name.
    pub(crate) name: Option<String>,
    /// The machine they are for.
    pub(crate) machine: Option<Code>,
    /// The job they are for.
    pub(crate) job: Option<Code>,
    /// Where they go back to.
    pub(crate) place: Option<Code>,
    /// An item that waits for the badge or bin that it lacks.
    pub(crate) waiting: Option<Code>,
}

/// What one scan did.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Did {
    /// An item was handed out; what there is to know of it besides.
    HandedOut { item: Code, to: String, notices: Vec<Refusal> },
    /// An item is already with whom the next items are for: was it scanned twice, or does it come back?
    AlreadyWith { item: Code, name: String },
    /// An item was taken back.
    TakenBack { item: Code, place: Code, condition: Condition },
    /// Whom the next items are for.
    ChosePerson { name: String },
    /// Which machine.
    ChoseMachine { code: Code },
    /// Which job.
    ChoseJob { code: Code },
    /// Where they go back to.
    ChosePlace { code: Code },
    /// A job of which items are out: they can all come back at once.
    JobIsOut { code: Code },
    /// An item waits for the badge of whoever takes it.
    AsksWho { item: Code },
    /// An item waits for the bin that it goes to.
    AsksWhere { item: Code },
    /// A code of something that is not handed out.
    NotForCounter { code: Code, kind: String },
}

/// What one scan did, and what is chosen from now on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Answer {
    pub(crate) did: Did,
    pub(crate) chosen: Chosen,
    /// What is no longer chosen: the machine and the job of the person before, an item that waited.
    #[serde(default)]
    pub(crate) dropped: Vec<Code>,
}

/// How what is scanned is meant, beyond what is chosen.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Meant {
    /// What items are handed out for.
    pub(crate) purpose: Purpose,
    /// How items come back; as they are on record when nobody says.
    pub(crate) condition: Option<Condition>,
    /// The reply, where the counter has asked about this very code.
    pub(crate) reply: Option<Reply>,
}

/// A reply to what the counter asked about a code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Reply {
    /// The item comes back.
    TakeBack,
    /// More is handed out for the job.
    HandOutMore,
}

/// Does what a scan at the counter means.
///
/// # Errors
/// 409 with the rules that refuse it; 403 for what only the crib does.
pub(crate) fn scan_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    scanned: &str,
    chosen: &Chosen,
    meant: Meant,
) -> Result<Answer, Problem> {
    let text = code_of(scanned);
    let code = Code::parse(text).ok();
    let subject = match &code {
        Some(code) => codes::find(tx.connection(), code)?.map(|(kind, id)| (code.clone(), kind, id)),
        None => None,
    };
    let mut chosen = chosen.clone();
    let mut dropped = Vec::new();
    let did = match subject {
        Some((code, CodeSubject::Item, _)) => {
            let waited = chosen.waiting.clone();
            let did = item(tx, who, &code, &mut chosen, meant)?;
            // Only one item waits: what waited before it is not forgotten in silence.
            dropped.extend(waited.filter(|waited| chosen.waiting.as_ref() != Some(waited)));
            did
        }
        Some((code, CodeSubject::Machine, _)) => {
            chosen.machine = Some(code.clone());
            Did::ChoseMachine { code }
        }
        Some((code, CodeSubject::Place, _)) => {
            chosen.place = Some(code.clone());
            match chosen.waiting.take() {
                Some(waiting) => item(tx, who, &waiting, &mut chosen, meant)?,
                None => Did::ChosePlace { code },
            }
        }
        Some((code, CodeSubject::Job, id)) => {
            let filter = ItemFilter { job: Some(JobId::from_uuid(id)), ..ItemFilter::default() };
            let more = meant.reply == Some(Reply::HandOutMore);
            if more || items::page(tx.connection(), &filter, None, 1)?.is_empty() {
                chosen.job = Some(code.clone());
                Did::ChoseJob { code }
            } else {
                Did::JobIsOut { code }
            }
        }
        Some((code, other, _)) => Did::NotForCounter { code, kind: other.name().to_owned() },
        None => match people::find_by_badge(tx.connection(), text)? {
            Some(person) => {
                if chosen.person.as_ref().is_some_and(|before| *before != person.badge) {
                    dropped = chosen.machine.take().into_iter().chain(chosen.job.take()).collect();
                }
                chosen.person = Some(person.badge);
                chosen.name = Some(person.fields.name.clone());
                match chosen.waiting.take() {
                    Some(waiting) => item(tx, who, &waiting, &mut chosen, meant)?,
                    None => Did::ChosePerson { name: person.fields.name },
                }
            }
            None => {
                let refusal = Refusal::new(Rule::ItemUnknown, format!("{text} is not on record."));
                return Err(Problem::refusals(vec![refusal.about(Subject::new(SubjectKind::Item, text))]));
            }
        },
    };
    Ok(Answer { did, chosen, dropped })
}

/// What a hand-out tells besides its movements.
#[derive(Deserialize)]
struct Noticed {
    #[serde(default)]
    notices: Vec<Refusal>,
}

/// Hands an item out, or takes it back.
fn item(tx: &mut Tx<'_>, who: &Principal, code: &Code, chosen: &mut Chosen, meant: Meant) -> Result<Did, Problem> {
    let facts = known(tx, code)?;
    // Who says that it comes back means nothing else, wherever it is by now.
    if meant.reply == Some(Reply::TakeBack) {
        return back(tx, who, &facts, chosen, meant);
    }
    if !is_out(&facts) {
        return out(tx, who, &facts, chosen, meant);
    }
    let with = holder(tx.connection(), &facts)?;
    match with.filter(|with| chosen.person.as_ref() == Some(&with.key)) {
        Some(with) => Ok(Did::AlreadyWith { item: facts.code, name: with.name }),
        None => back(tx, who, &facts, chosen, meant),
    }
}

fn known(tx: &mut Tx<'_>, code: &Code) -> Result<ItemFacts, Problem> {
    let today = tx.now().date_naive();
    match scanned_item(tx.connection(), code.as_str(), today)? {
        Scanned::Known(facts) => Ok(facts),
        _ => Err(Problem::not_found("item", code)),
    }
}

/// Whether an item is in nobody's bin here.
pub(crate) fn is_out(facts: &ItemFacts) -> bool {
    facts.whereabouts.outside || !matches!(facts.whereabouts.keeper, Keeper::Place(_))
}

fn out(tx: &mut Tx<'_>, who: &Principal, facts: &ItemFacts, chosen: &mut Chosen, meant: Meant) -> Result<Did, Problem> {
    // The crib hands out to somebody; anybody else takes for themselves.
    if chosen.person.is_none() && who.may(Permission::MoveForAnyone) {
        chosen.waiting = Some(facts.code.clone());
        return Ok(Did::AsksWho { item: facts.code.clone() });
    }
    let body = CheckOut {
        items: vec![facts.code.to_string()],
        person: chosen.person.clone(),
        machine: chosen.machine.clone(),
        job: chosen.job.clone(),
        due: None,
        purpose: meant.purpose,
        occurred_at: None,
    };
    let Noticed { notices } = check_out_in(tx, who, &body)?.read()?;
    let to = chosen.name.clone().unwrap_or_else(|| who.name.clone());
    Ok(Did::HandedOut { item: facts.code.clone(), to, notices })
}

fn back(
    tx: &mut Tx<'_>,
    who: &Principal,
    facts: &ItemFacts,
    chosen: &mut Chosen,
    meant: Meant,
) -> Result<Did, Problem> {
    let place = match &chosen.place {
        Some(place) => Some(place.clone()),
        None => own_place(tx.connection(), facts.item)?,
    };
    let Some(place) = place else {
        chosen.waiting = Some(facts.code.clone());
        return Ok(Did::AsksWhere { item: facts.code.clone() });
    };
    let condition = meant.condition.unwrap_or_else(|| as_it_comes(facts));
    let body = CheckIn {
        items: vec![CheckInItem { code: facts.code.to_string(), place: place.clone(), condition }],
        person: holder(tx.connection(), facts)?.map(|with| with.key),
        occurred_at: None,
    };
    check_in_in(tx, who, &body)?;
    Ok(Did::TakenBack { item: facts.code.clone(), place, condition })
}

/// Whoever has an item; nobody where it is at a machine or outside.
fn holder(connection: &mut Connection, facts: &ItemFacts) -> Result<Option<KnownAs>, Problem> {
    match facts.whereabouts.keeper {
        Keeper::Person(_) => Ok(Some(custody::known_as(connection, facts.whereabouts.keeper)?)),
        Keeper::Place(_) | Keeper::Machine(_) => Ok(None),
    }
}

/// How an item comes back when nobody says otherwise: as it is on record, but from grinding for its check.
fn as_it_comes(facts: &ItemFacts) -> Condition {
    let ground = facts.purpose == Some(Purpose::Grind) && facts.kind == ItemKind::FormTool;
    if ground && facts.condition != Condition::Retired { Condition::NeedsCheck } else { facts.condition }
}

/// Where an item goes back to: the place in the shop that it last lay in, if that is still in use.
fn own_place(connection: &mut Connection, item: ItemId) -> Result<Option<Code>, Problem> {
    let filter = MovementFilter { item: Some(item), ..MovementFilter::default() };
    for moved in custody::movements_page(connection, &filter, None, MOVES_LOOKED_AT)? {
        let Keeper::Place(place) = moved.to else { continue };
        if custody::known_as(connection, moved.to)?.outside {
            continue;
        }
        let found = places::find(connection, place)?;
        return Ok(found.filter(|place| !place.fields.retired).map(|place| place.code));
    }
    Ok(None)
}

/// One item that is out for a job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct OutForJob {
    /// The item.
    pub(crate) item: ItemId,
    /// Its code.
    pub(crate) code: Code,
    /// What it is.
    pub(crate) kind: ItemKind,
    /// Who or what has it.
    pub(crate) with: String,
    /// How it comes back when nobody says otherwise.
    pub(crate) condition: Condition,
    /// The machine in whose open setup it is: it does not come back from there.
    pub(crate) in_setup_of: Option<Code>,
}

/// What is out for a job, by code.
///
/// # Errors
/// 404 when there is no such job.
pub(crate) fn out_for_job(connection: &mut Connection, job: &Code) -> Result<Vec<OutForJob>, Problem> {
    let id = codes::find_id(connection, CodeSubject::Job, job)?.map(JobId::from_uuid);
    let id = id.ok_or_else(|| Problem::not_found("job", job))?;
    if jobs::find(connection, id)?.is_none() {
        return Err(Problem::not_found("job", job));
    }
    let filter = ItemFilter { job: Some(id), ..ItemFilter::default() };
    let out = items::page(connection, &filter, None, MOST_OF_A_JOB)?;
    let mut shown = Vec::with_capacity(out.len());
    for item in out {
        let now = custody::find(connection, item.id)?.ok_or_else(|| Problem::not_found("item", &item.code))?;
        let with = custody::known_as(connection, now.keeper)?.name;
        let kind = item.fields.kind;
        let ground = now.purpose == Some(Purpose::Grind) && kind == ItemKind::FormTool;
        let condition = if ground { Condition::NeedsCheck } else { item.fields.condition };
        let in_setup_of = in_setup(connection, item.id)?.map(|place| place.machine);
        shown.push(OutForJob { item: item.id, code: item.code, kind, with, condition, in_setup_of });
    }
    Ok(shown)
}

/// How one item of a job comes back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Comes {
    /// As it is on record.
    AsRecorded,
    /// In this condition.
    As(Condition),
    /// It is not here: it stays out.
    Not,
}

/// What came back of a job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct JobBack {
    /// What was taken back.
    pub(crate) back: Vec<Code>,
    /// What stays out.
    pub(crate) out: Vec<Code>,
}

/// Takes back of a job what is said to come: all of that or, where a rule refuses one, none. What is not named stays out:
/// it went out since whoever says so looked, and nobody said that it is here.
///
/// # Errors
/// 409 with every item's refusals; 403 for what others have, without the permission.
pub(crate) fn take_back_job_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    job: &Code,
    said: &[(Code, Comes)],
) -> Result<JobBack, Problem> {
    let comes = |code: &Code| said.iter().find(|(named, _)| named == code).map_or(Comes::Not, |(_, comes)| *comes);
    let mut told = JobBack { back: Vec::new(), out: Vec::new() };
    let mut refusals = Vec::new();
    let all = out_for_job(tx.connection(), job)?;
    // All at once and in the order of their ids, as everywhere; then what is judged cannot change.
    let ids: Vec<ItemId> = all.iter().map(|item| item.item).collect();
    ledger::take_items(tx, &ids)?;
    for item in all {
        let condition = match comes(&item.code) {
            Comes::Not => {
                told.out.push(item.code);
                continue;
            }
            Comes::AsRecorded => None,
            Comes::As(condition) => Some(condition),
        };
        let facts = known(tx, &item.code)?;
        let meant = Meant { purpose: Purpose::Use, condition, reply: Some(Reply::TakeBack) };
        match back(tx, who, &facts, &mut Chosen::default(), meant) {
            Ok(Did::TakenBack { item, .. }) => told.back.push(item),
            Ok(_) => {
                let words =
                    format!("{} has no place of its own: scan it alone, with the bin that it goes to", item.code);
                return Err(Problem::field(format!("/{}", item.code), words));
            }
            Err(problem) if !problem.refused_by().is_empty() => refusals.extend_from_slice(problem.refused_by()),
            Err(problem) => return Err(problem),
        }
    }
    if refusals.is_empty() { Ok(told) } else { Err(Problem::refusals(refusals)) }
}
