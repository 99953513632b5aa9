//! The counter: what was scanned last, what is chosen for what comes next, the last moves.
//!
//! A scan is a form that is sent. Without scripts the whole page comes back; scripts send the same form in the same way,
//! keep it until it is answered, and put the parts of the page that come back in their places.

use super::{
    frame::{Frame, go_to, page, page_with},
    visit::{Sent, Visit},
    wording::{Phrase, ToldRefusal, section},
};
use crate::{
    app::{
        counter::{
            Answer, Chosen, Comes, Did, JobBack, Meant, OutForJob, Reply, out_for_job, scan_in, take_back_job_in,
        },
        ledger::last_moves,
    },
    principal::Move,
    problem::{Problem, ProblemCode},
    transport::movement::MovementView,
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use dovetally_core::{
    code::Code,
    item::{Condition, ItemKind, Purpose},
};
use dovetally_db::codes::CodeSubject;
use serde::Deserialize;
use std::collections::BTreeMap;

section! {
    /// The counter.
    CounterWords {
        title, scan, chosen, nobody, person, machine, job, place, waiting, drop, purpose, condition, condition_as, handed_out,
        taken_back, already_with, take_back, chose_person, chose_machine, chose_job, chose_place, dropped, who_takes, where_to,
        nothing_to_scan, not_for_counter, look_at, refused, unread, moves, no_moves, move_item, move_what, move_to, move_when,
        job_out, job_lead, job_go, job_nothing, job_done, job_item, job_more, stays_out, job_in_setup, kept
    }
}

/// The last moves that are shown.
const MOVES: i64 = 10;

/// One scan, with what was chosen when it was made.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Scan {
    code: String,
    person: String,
    name: String,
    machine: String,
    job: String,
    place: String,
    waiting: String,
    purpose: String,
    condition: String,
    /// What is no longer chosen: a field's name.
    drop: String,
    /// The reply to what the counter asked about this code.
    reply: String,
    /// The badge of whoever made it, where the browser kept it: it may be sent when somebody else is signed in.
    by: String,
}

impl Scan {
    fn chosen(&self) -> Chosen {
        let code = |text: &String| Code::parse(text).ok();
        let text = |text: &String| Some(text.clone()).filter(|text| !text.is_empty());
        let mut chosen = Chosen {
            person: text(&self.person),
            name: text(&self.name),
            machine: code(&self.machine),
            job: code(&self.job),
            place: code(&self.place),
            waiting: code(&self.waiting),
        };
        match self.drop.as_str() {
            "person" => (chosen.person, chosen.name) = (None, None),
            "machine" => chosen.machine = None,
            "job" => chosen.job = None,
            "place" => chosen.place = None,
            "waiting" => chosen.waiting = None,
            _ => {}
        }
        chosen
    }

    fn meant(&self) -> Meant {
        Meant {
            purpose: Purpose::from_name(&self.purpose).unwrap_or(Purpose::Use),
            condition: Condition::from_name(&self.condition),
            reply: match self.reply.as_str() {
                "take_back" => Some(Reply::TakeBack),
                "hand_out_more" => Some(Reply::HandOutMore),
                _ => None,
            },
        }
    }
}

/// What the last scan came to.
enum Shown {
    /// Nothing was scanned yet.
    Nothing,
    /// It was done, or it asks for something: one sentence, and what there is to know besides.
    Said { sentence: String, asks: bool, notices: Vec<String> },
    /// Perhaps scanned twice: the item is with whom it would be handed out to.
    Already { item: Code, sentence: String },
    /// Nothing that the counter moves; its own page, where it has one.
    Other { code: Code, sentence: String, page: Option<String> },
    /// A job's items, all to come back.
    Job { code: Code, out: Vec<OutForJob> },
    /// Refused.
    Refused { item: String, refusals: Vec<ToldRefusal>, sentence: String },
}

#[derive(Template)]
#[template(path = "pages/counter.html")]
struct CounterPage<'p> {
    frame: &'p Frame,
    result: Shown,
    chosen: Chosen,
    meant: Meant,
    moves: Vec<MovementView>,
}

impl CounterPage<'_> {
    fn purpose(&self, purpose: &Purpose) -> &Phrase {
        self.frame.words.names.purpose(*purpose)
    }

    fn comes_back_as(&self, condition: &Condition) -> bool {
        self.meant.condition == Some(*condition)
    }

    /// Whether any of it can come back from where it is.
    fn some_come_back(&self, out: &[OutForJob]) -> bool {
        out.iter().any(|item| item.in_setup_of.is_none())
    }

    /// Only the edge of a form tool is ground.
    fn may_need_grinding(&self, item: &OutForJob) -> bool {
        item.kind == ItemKind::FormTool
    }

    fn condition(&self, condition: &Condition) -> &Phrase {
        self.frame.words.names.condition(*condition)
    }
}

/// Shows it.
///
/// # Errors
/// A database error.
pub async fn show(visit: Visit<Move>) -> Result<HttpResponse, Problem> {
    let shown = answered(&visit, Shown::Nothing, Chosen::default(), Scan::default().meant()).await?;
    page(&shown)
}

/// Leads from where the forms are sent to where they are.
pub async fn form() -> HttpResponse {
    go_to("/counter")
}

async fn answered<'v>(
    visit: &'v Visit<Move>,
    result: Shown,
    chosen: Chosen,
    meant: Meant,
) -> Result<CounterPage<'v>, Problem> {
    let moves = visit.read(|connection| last_moves(connection, None, MOVES)).await?;
    Ok(CounterPage { frame: &visit.frame, result, chosen, meant, moves })
}

/// Does what a scan means and shows what came of it.
///
/// # Errors
/// 401 where somebody else made it; what is no refusal of a rule: the scan may be sent again.
pub async fn scan(visit: Visit<Move>, sent: Sent<Scan>) -> Result<HttpResponse, Problem> {
    only_by(&visit, &sent.form.by)?;
    let (chosen, meant) = (sent.form.chosen(), sent.form.meant());
    let scanned = sent.form.code.trim().to_owned();
    let words = &visit.frame.words.counter;
    if scanned.is_empty() {
        // Dropping a choice, or an empty box: nothing to record.
        let asks = sent.form.drop.is_empty();
        let sentence = if asks { words.nothing_to_scan.to_string() } else { String::new() };
        let result = if asks { Shown::Said { sentence, asks, notices: Vec::new() } } else { Shown::Nothing };
        return page(&answered(&visit, result, chosen, meant).await?);
    }
    let (asked, text) = (chosen.clone(), scanned.clone());
    let done: Result<Answer, Problem> =
        visit.perform(&sent, move |tx, who| scan_in(tx, who, &text, &asked, meant)).await;
    match done {
        Ok(Answer { did, chosen, dropped }) => {
            // How one item came back is no word about the next one; while it waits, it is.
            let waits = matches!(did, Did::AsksWho { .. } | Did::AsksWhere { .. } | Did::AlreadyWith { .. });
            let meant = Meant { condition: meant.condition.filter(|_| waits), ..meant };
            let mut result = said(&visit, did).await?;
            if let Shown::Said { notices, .. } = &mut result {
                notices.extend(dropped.iter().map(|code| words.dropped.with("code", code).to_string()));
            }
            page(&answered(&visit, result, chosen, meant).await?)
        }
        Err(problem) => refused(&visit, problem, scanned, chosen, meant).await,
    }
}

/// What a browser kept is sent only under whoever made it.
fn only_by(visit: &Visit<Move>, badge: &str) -> Result<(), Problem> {
    if badge.is_empty() || badge == visit.who().badge { Ok(()) } else { Err(Problem::unauthenticated()) }
}

/// The page of a refusal; what is no word about this scan is passed on, for the scan may be sent again.
async fn refused(
    visit: &Visit<Move>,
    problem: Problem,
    item: String,
    chosen: Chosen,
    meant: Meant,
) -> Result<HttpResponse, Problem> {
    let about_it = matches!(problem.code(), ProblemCode::Refused | ProblemCode::InvalidField | ProblemCode::Forbidden);
    if !about_it {
        return Err(problem);
    }
    let result = Shown::Refused {
        item,
        refusals: visit.frame.refusals(problem.refused_by()),
        sentence: visit.frame.told(&problem.parts().detail),
    };
    let status = StatusCode::from_u16(problem.code().status()).unwrap_or(StatusCode::CONFLICT);
    page_with(status, &answered(visit, result, chosen, meant).await?)
}

async fn said(visit: &Visit<Move>, did: Did) -> Result<Shown, Problem> {
    let words = &visit.frame.words.counter;
    let names = &visit.frame.words.names;
    let mut told = Vec::new();
    let mut asks = false;
    let sentence = match did {
        Did::HandedOut { item, to, notices } => {
            let kept = visit.frame.refusals(&notices).into_iter();
            told = kept.map(|notice| words.kept.with("sentence", notice.sentence).to_string()).collect();
            words.handed_out.with("item", item).with("to", to).to_string()
        }
        Did::TakenBack { item, place, condition } => {
            let filled = words.taken_back.with("item", item).with("place", place);
            filled.with("condition", names.condition(condition)).to_string()
        }
        Did::ChosePerson { name } => words.chose_person.with("name", name).to_string(),
        Did::ChoseMachine { code } => words.chose_machine.with("code", code).to_string(),
        Did::ChoseJob { code } => words.chose_job.with("code", code).to_string(),
        Did::ChosePlace { code } => words.chose_place.with("code", code).to_string(),
        Did::AsksWho { item } => {
            asks = true;
            words.who_takes.with("item", item).to_string()
        }
        Did::AsksWhere { item } => {
            asks = true;
            words.where_to.with("item", item).to_string()
        }
        Did::AlreadyWith { item, name } => {
            let sentence = words.already_with.with("item", &item).with("name", name).to_string();
            return Ok(Shown::Already { item, sentence });
        }
        Did::NotForCounter { code, kind } => {
            let page = (kind == CodeSubject::Supply.name()).then(|| format!("/supplies/{code}"));
            let kind = visit.frame.told(&kind.replace('_', " "));
            let sentence = words.not_for_counter.with("code", &code).with("kind", kind).to_string();
            return Ok(Shown::Other { code, sentence, page });
        }
        Did::JobIsOut { code } => {
            let job = code.clone();
            let out = visit.read(move |connection| out_for_job(connection, &job)).await?;
            return Ok(Shown::Job { code, out });
        }
    };
    Ok(Shown::Said { sentence, asks, notices: told })
}

/// A job's return: the job, and for each of its items how it comes back, under its code.
#[derive(Debug, Deserialize)]
pub struct JobReturn {
    job: String,
    /// The badge of whoever filled it in, where the browser kept it.
    #[serde(default)]
    by: String,
    #[serde(flatten)]
    items: BTreeMap<String, String>,
}

/// Takes back what the page showed of a job, each as it is said to come.
///
/// # Errors
/// 401 where somebody else filled it in; 422 for what is no job; what is no refusal of a rule.
pub async fn take_back_job(visit: Visit<Move>, sent: Sent<JobReturn>) -> Result<HttpResponse, Problem> {
    only_by(&visit, &sent.form.by)?;
    let job = Code::parse(&sent.form.job).map_err(|error| Problem::field("/job", error.to_string()))?;
    let mut told = Vec::new();
    for (code, comes) in &sent.form.items {
        let code = Code::parse(code).map_err(|error| Problem::field(format!("/{code}"), error.to_string()))?;
        let comes = match (comes.as_str(), Condition::from_name(comes)) {
            ("", _) => Comes::AsRecorded,
            ("out", _) => Comes::Not,
            (_, Some(condition)) => Comes::As(condition),
            _ => return Err(Problem::field(format!("/{code}"), "is no way to come back")),
        };
        told.push((code, comes));
    }
    let (meant, named) = (Scan::default().meant(), job.clone());
    let done: Result<JobBack, Problem> =
        visit.perform(&sent, move |tx, who| take_back_job_in(tx, who, &job, &told)).await;
    match done {
        Ok(JobBack { back, out }) => {
            let words = &visit.frame.words.counter;
            let said = words.job_done.with("job", &named).with("count", back.len()).with("out", out.len()).to_string();
            let result = Shown::Said { sentence: said, asks: false, notices: Vec::new() };
            page(&answered(&visit, result, Chosen::default(), meant).await?)
        }
        Err(problem) => refused(&visit, problem, named.to_string(), Chosen::default(), meant).await,
    }
}
