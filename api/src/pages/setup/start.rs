//! Starting a setup on a machine: for which job, with what the plan proposes, and what was done last time.

use super::{
    Tried, lead_on,
    lines::{Line, of_last_time},
    may, status_of, told,
    words::SetupStartWords,
};
use crate::{
    app::{
        floor::tag_outs_of,
        planning::read::{usual_kit, usual_list},
        registry::{Jobs, Machines, Parts, find},
        setups::{self, open_in},
    },
    extract::{Reference, Segments},
    pages::{
        floor::shown_tag_outs,
        frame::{Frame, page, page_with},
        visit::{Sent, Visit},
        wording::{Phrase, ToldRefusal},
    },
    principal::{Read, RecordSetup},
    problem::{Problem, ProblemCode},
    transport::{
        floor::FloorTagOut,
        last_time::SetupThen,
        planning::{Kit, ReadinessRow},
        setup::{NewSetup, NewSetupStation},
    },
};
use actix_web::{HttpResponse, web::Query};
use askama::Template;
use dovetally_core::{
    code::Code, ids::SetupId, planning::report::Readiness, registry::part::Part, setup::event::EventKind,
};
use dovetally_db::{Connection, codes, codes::CodeSubject, setups as records};
use serde::Deserialize;
use std::collections::BTreeMap;

/// What is chosen: a job, or a part without one; or what was scanned, which is either.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    job: String,
    part: String,
    code: String,
}

/// What starts a setup: for each station whether it is used, and what was picked for it.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Begin {
    part: String,
    job: String,
    /// `use-S1`, `tool-S1`, `holder-S1`.
    #[serde(flatten)]
    stations: BTreeMap<String, String>,
}

impl Begin {
    /// The stations that are used.
    fn used(&self) -> impl Iterator<Item = &str> {
        let yes = self.stations.iter().filter(|(_, value)| *value == "yes");
        yes.filter_map(|(name, _)| name.strip_prefix("use-"))
    }
}

/// One station that the part has work for.
struct StationChoice {
    code: Code,
    tool: Option<Picked>,
    holder: Option<Picked>,
}

/// What the plan picked, and where it is.
struct Picked {
    code: Code,
    at: String,
}

/// What is chosen, with what the records say of it.
struct Choice {
    part: Part,
    job: Option<Code>,
    stations: Vec<StationChoice>,
    kit: Option<Kit>,
    then: Option<SetupThen>,
}

struct Known {
    machine: Code,
    open: Option<SetupId>,
    tag_outs: Vec<FloorTagOut>,
    jobs: Vec<ReadinessRow>,
    choice: Option<Choice>,
    unknown: Option<String>,
}

#[derive(Template)]
#[template(path = "pages/setup_start.html")]
struct StartPage<'p> {
    frame: &'p Frame,
    known: &'p Known,
    /// What was sent, where it came to nothing.
    sent: Option<&'p Begin>,
    tried: Tried,
    refusals: Vec<ToldRefusal>,
    sentence: String,
}

impl StartPage<'_> {
    fn words(&self) -> &SetupStartWords {
        &self.frame.words.setup_start
    }

    fn here(&self) -> String {
        format!("/machines/{}/setups", self.known.machine)
    }

    fn open_address(&self, open: &SetupId) -> String {
        format!("/setups/{open}")
    }

    fn job_address(&self, row: &ReadinessRow) -> String {
        format!("{}?job={}", self.here(), row.outline.job)
    }

    /// Whether a station is ticked: all are until somebody has said otherwise.
    fn uses(&self, station: &Code) -> bool {
        self.sent.is_none_or(|sent| sent.used().any(|used| used == station.as_str()))
    }

    fn may(&self) -> bool {
        may(self.frame, EventKind::HolderSeated)
    }

    /// How a plan stands: a shape and a word.
    fn readiness(&self, state: &Readiness) -> (&'static str, &Phrase) {
        let words = self.words();
        match state {
            Readiness::Ready => ("good", &words.ready),
            Readiness::Conflict => ("wait", &words.conflict),
            Readiness::Short => ("stop", &words.short),
            Readiness::Closed => ("none", &words.closed),
        }
    }

    fn days(&self, row: &ReadinessRow) -> String {
        let days = self.words().days.with("from", self.frame.day(&row.outline.from));
        days.with("to", self.frame.day(&row.outline.to)).to_string()
    }

    fn pieces(&self, row: &ReadinessRow) -> String {
        self.words().pieces.with("made", row.outline.made).with("quantity", row.outline.quantity).to_string()
    }

    fn reasons(&self, kit: &Kit) -> Vec<ToldRefusal> {
        self.frame.refusals(&kit.reasons)
    }

    fn tag_outs(&self) -> Vec<String> {
        shown_tag_outs(self.frame, &self.known.tag_outs)
    }

    fn last_time(&self, choice: &Choice) -> Vec<Line> {
        of_last_time(self.frame, choice.then.as_ref())
    }
}

fn known(
    connection: &mut Connection,
    machine: &Reference,
    asked: &Asked,
    now: chrono::DateTime<chrono::Utc>,
) -> Result<Known, Problem> {
    let machine = find::<Machines>(connection, machine)?.record;
    let open = records::open_on(connection, machine.id)?.map(|setup| setup.id);
    let jobs = usual_list(connection, now)?.items;
    let jobs = jobs.into_iter().filter(|row| row.outline.machine == machine.code).collect();
    let tag_outs = tag_outs_of(connection, machine.id)?;
    let mut known = Known { machine: machine.code, open, tag_outs, jobs, choice: None, unknown: None };
    let (job, part) = chosen(connection, asked)?;
    let text = [&asked.code, &asked.job, &asked.part].into_iter().find(|text| !text.trim().is_empty());
    let (part, job) = match (job, part) {
        (Some(code), _) => {
            let job = find::<Jobs>(connection, &Reference::Code(code))?;
            if job.fields.machine != machine.id {
                known.unknown = text.cloned();
                return Ok(known);
            }
            (find::<Parts>(connection, &Reference::Id(job.fields.part.uuid()))?, Some(job.code))
        }
        (None, Some(code)) => (find::<Parts>(connection, &Reference::Code(code))?, None),
        (None, None) => {
            known.unknown = text.cloned();
            return Ok(known);
        }
    };
    let kit = job.as_ref().map(|job| usual_kit(connection, job, now)).transpose()?;
    let then = setups::last_finished(connection, machine.id, part.id, 1)?.into_iter().next();
    let in_machine = |code: &Code| machine.fields.stations.iter().any(|station| station.code == *code);
    let stations = part.fields.operations.iter().map(|(code, _)| code).filter(|code| in_machine(code));
    let stations = stations.map(|code| {
        let of_kit = kit.as_ref().and_then(|kit| kit.stations.iter().find(|station| station.station == *code));
        let picked =
            |item: &crate::transport::planning::GivenItem| Picked { code: item.item.clone(), at: item.at.clone() };
        StationChoice {
            code: code.clone(),
            tool: of_kit.and_then(|station| station.form_tools.first()).map(picked),
            holder: of_kit.and_then(|station| station.holder.as_ref()).map(picked),
        }
    });
    let stations = stations.collect();
    known.choice = Some(Choice { part, job, stations, kit, then });
    Ok(known)
}

/// The job or the part that is asked for, whichever the text names.
fn chosen(connection: &mut Connection, asked: &Asked) -> Result<(Option<Code>, Option<Code>), Problem> {
    let text = [&asked.job, &asked.code, &asked.part].into_iter().find(|text| !text.trim().is_empty());
    let Some(code) = text.and_then(|text| Code::parse(text).ok()) else { return Ok((None, None)) };
    Ok(match codes::find(connection, &code)? {
        Some((CodeSubject::Job, _)) => (Some(code), None),
        Some((CodeSubject::Part, _)) => (None, Some(code)),
        _ => (None, None),
    })
}

/// Shows what can be set up on a machine, or what a chosen job asks for.
///
/// # Errors
/// 404 when there is no such machine.
pub async fn show(visit: Visit<Read>, path: Segments<Reference>, asked: Query<Asked>) -> Result<HttpResponse, Problem> {
    let (machine, asked) = (path.into_inner(), asked.into_inner());
    let now = visit.guarded.database().now();
    let known = visit.read(move |connection| known(connection, &machine, &asked, now)).await?;
    let (frame, tried) = (&visit.frame, Tried::Looked);
    page(&StartPage { frame, known: &known, sent: None, tried, refusals: Vec::new(), sentence: String::new() })
}

fn new_setup(machine: &Code, form: &Begin) -> Result<NewSetup, Problem> {
    let code = |text: &str, at: &str| Code::parse(text).map_err(|error| Problem::field(at, error.to_string()));
    let named = |name: &str| form.stations.get(name).map(String::as_str).filter(|text| !text.is_empty());
    let mut stations = Vec::new();
    for station in form.used() {
        let picked = |kind: &str| named(&format!("{kind}-{station}")).map(|text| code(text, "/stations")).transpose();
        let (form_tool, holder) = (picked("tool")?, picked("holder")?);
        stations.push(NewSetupStation { station: code(station, "/stations")?, form_tool, holder });
    }
    let job = Some(form.job.as_str()).filter(|job| !job.is_empty()).map(|job| code(job, "/job")).transpose()?;
    Ok(NewSetup { machine: machine.clone(), part: code(&form.part, "/part")?, job, stations })
}

/// Starts a setup.
///
/// # Errors
/// 404 when there is no such machine; what is no refusal of a rule.
pub async fn begin(
    visit: Visit<RecordSetup>,
    path: Segments<Reference>,
    sent: Sent<Begin>,
) -> Result<HttpResponse, Problem> {
    let machine = path.into_inner();
    let asked = Asked { job: sent.form.job.clone(), part: sent.form.part.clone(), code: String::new() };
    let now = visit.guarded.database().now();
    let known = visit.read(move |connection| known(connection, &machine, &asked, now)).await?;
    let opened: Result<SetupId, Problem> = match new_setup(&known.machine, &sent.form) {
        Ok(new) => visit.perform(&sent, move |tx, who| open_in(tx, who, &new).map(|(_, id)| id)).await,
        Err(problem) => Err(problem),
    };
    match opened {
        Ok(id) => lead_on(&visit, id, None).await,
        Err(problem) if matches!(problem.code(), ProblemCode::Refused | ProblemCode::InvalidField) => {
            let (refusals, mut sentence) = told(&visit.frame, &problem);
            if problem.code() == ProblemCode::InvalidField && sent.form.used().next().is_none() {
                sentence = visit.frame.words.setup_start.no_station.to_string();
            }
            let (frame, tried, sent) = (&visit.frame, Tried::Sent, Some(&sent.form));
            page_with(status_of(&problem), &StartPage { frame, known: &known, sent, tried, refusals, sentence })
        }
        Err(problem) => Err(problem),
    }
}
