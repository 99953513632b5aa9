//! People: who there is, what they may do, a new secret, and that somebody has left.

use super::{
    forms::NotTaken,
    frame::{Frame, go_to, page, page_with},
    visit::{Faults, Sent, Visit},
    wording::{Filled, Phrase, section},
};
use crate::{
    app::people as app,
    conditional::ETag,
    extract::{IfMatch, MergePatch, Segments},
    principal::Administer,
    problem::{Problem, ProblemCode},
    transport::person::{NewPerson, NewSecret, PersonView, PersonWithSecret},
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use dovetally_core::people::Role;
use serde::Deserialize;
use serde_json::json;
use std::collections::BTreeMap;

section! {
    /// People.
    PeopleWords {
        title, add, badge, name, roles, state, active, left, active_choice, left_choice, left_why, new_title, new_lead, badge_why,
        roles_why, secret_why, go_new, one_title, changed_meanwhile, secret_title, secret_lead, secret_go, made_title, made,
        made_once, own_secret, given, to_people, to_person, only_administrator
    }
}

#[derive(Template)]
#[template(path = "pages/people.html")]
struct PeoplePage<'p> {
    frame: &'p Frame,
    people: &'p [PersonView],
}

impl PeoplePage<'_> {
    fn address(&self, person: &PersonView) -> String {
        address(&person.badge)
    }

    fn role(&self, role: &Role) -> &Phrase {
        self.frame.words.names.role(*role)
    }
}

/// Where a person's page is.
fn address(badge: &str) -> String {
    format!("/people/{}", app::segment(badge))
}

/// Shows everybody.
///
/// # Errors
/// A database error.
pub async fn list(visit: Visit<Administer>) -> Result<HttpResponse, Problem> {
    let people = visit.read(app::everybody).await?;
    page(&PeoplePage { frame: &visit.frame, people: &people })
}

/// What is written about a person, as it was typed; a field for each role that they have.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Typed {
    badge: String,
    name: String,
    secret: String,
    left: String,
    /// The version with which the form was shown.
    version: String,
    #[serde(flatten)]
    roles: BTreeMap<String, String>,
}

impl Typed {
    fn of(person: &PersonView) -> Result<Self, Problem> {
        Ok(Self {
            badge: person.badge.clone(),
            name: person.name.clone(),
            secret: String::new(),
            left: if person.disabled { "yes".to_owned() } else { "no".to_owned() },
            version: ETag::of_resource(person)?.opaque().to_owned(),
            roles: person.roles.iter().map(|role| (field_of(*role), "on".to_owned())).collect(),
        })
    }

    fn roles(&self) -> Vec<Role> {
        Role::ALL.iter().copied().filter(|role| self.roles.contains_key(&field_of(*role))).collect()
    }

    fn secret(&self) -> Option<String> {
        Some(self.secret.clone()).filter(|secret| !secret.is_empty())
    }
}

fn field_of(role: Role) -> String {
    format!("role-{role}")
}

#[derive(Template)]
#[template(path = "pages/person.html")]
struct PersonPage<'p> {
    frame: &'p Frame,
    typed: &'p Typed,
    new: bool,
    faults: Faults,
}

impl PersonPage<'_> {
    fn title(&self) -> Filled<'_> {
        self.frame.words.people.one_title.with("badge", &self.typed.badge)
    }

    fn address(&self) -> String {
        address(&self.typed.badge)
    }

    fn role(&self, role: &Role) -> &Phrase {
        self.frame.words.names.role(*role)
    }

    fn has(&self, role: &Role) -> bool {
        self.typed.roles.contains_key(&field_of(*role))
    }
}

#[derive(Template)]
#[template(path = "pages/secret.html")]
struct SecretPage<'p> {
    frame: &'p Frame,
    told: &'p PersonWithSecret,
    address: String,
}

/// Shows who has what secret now: this once, if it was made here.
fn secret_page(frame: &Frame, told: &PersonWithSecret) -> Result<HttpResponse, Problem> {
    page(&SecretPage { frame, told, address: address(&told.person.badge) })
}

/// What is wrong with the form, each with the name of its field.
fn faults_of(frame: &Frame, problem: Problem) -> Result<Faults, Problem> {
    match problem.code() {
        ProblemCode::CodeTaken => return Faults::of_problem(frame, problem, &[("/badge", "badge")]),
        ProblemCode::InvalidField => {}
        _ => return Err(problem),
    }
    let words = &frame.words.people;
    let fields = [
        ("badge", "badge", &words.badge),
        ("name", "name", &words.name),
        ("roles", "roles", &words.roles),
        ("secret", "secret", &words.own_secret),
    ];
    Ok(NotTaken::of(frame, problem, &fields)?.faults)
}

fn shown(frame: &Frame, typed: &Typed, new: bool, faults: Faults) -> Result<HttpResponse, Problem> {
    let status = if faults.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    page_with(status, &PersonPage { frame, typed, new, faults })
}

/// Shows the form for somebody new.
///
/// # Errors
/// 500 when the template fails.
pub async fn ask(visit: Visit<Administer>) -> Result<HttpResponse, Problem> {
    shown(&visit.frame, &Typed::default(), true, Faults::default())
}

/// Puts somebody on record.
///
/// # Errors
/// What is no fault of the form.
pub async fn create(visit: Visit<Administer>, sent: Sent<Typed>) -> Result<HttpResponse, Problem> {
    let typed = &sent.form;
    let (badge, name) = (typed.badge.trim().to_owned(), typed.name.trim().to_owned());
    let new = NewPerson { badge, name, roles: typed.roles(), secret: typed.secret() };
    let (options, bytes) = sent.request();
    match app::created(&visit.guarded, options, bytes, new).await {
        Ok(told) => secret_page(&visit.frame, &told),
        Err(problem) => {
            let faults = faults_of(&visit.frame, problem)?;
            shown(&visit.frame, typed, true, faults)
        }
    }
}

/// Shows somebody.
///
/// # Errors
/// 404 when there is nobody.
pub async fn show(visit: Visit<Administer>, badge: Segments<String>) -> Result<HttpResponse, Problem> {
    let badge = badge.into_inner();
    let person = visit.read(move |connection| app::read(connection, &badge)).await?;
    shown(&visit.frame, &Typed::of(&person)?, false, Faults::default())
}

/// Changes what is written about somebody.
///
/// # Errors
/// 404; what is no fault of the form.
pub async fn change(
    visit: Visit<Administer>,
    badge: Segments<String>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    let badge = badge.into_inner();
    let typed = Typed { badge: badge.clone(), ..sent.form.clone() };
    let fields = json!({"name": typed.name.trim(), "roles": typed.roles(), "disabled": typed.left == "yes"});
    let patch = match fields {
        serde_json::Value::Object(fields) => MergePatch::of(fields)?,
        _ => return Err(Problem::internal("an object that is none")),
    };
    let condition = IfMatch::shown(&typed.version);
    let done: Result<(), Problem> =
        visit.perform(&sent, move |tx, who| app::change_in(tx, who, &badge, &condition, &patch).map(drop)).await;
    let words = &visit.frame.words.people;
    let Err(problem) = done else { return Ok(go_to("/people")) };
    let mut faults = Faults::default();
    match problem.code() {
        ProblemCode::InUse => faults.add("roles", &words.only_administrator),
        ProblemCode::PreconditionFailed => faults.add("name", &words.changed_meanwhile),
        _ => faults = faults_of(&visit.frame, problem)?,
    }
    shown(&visit.frame, &typed, false, faults)
}

/// A new secret, as it was typed; empty for one that the server makes.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TypedSecret {
    secret: String,
}

/// Leads from where a secret is sent to the person.
pub async fn form(badge: Segments<String>) -> HttpResponse {
    go_to(&address(&badge.into_inner()))
}

/// Gives somebody a new secret, which ends all their sessions.
///
/// # Errors
/// 404; what is no fault of the form.
pub async fn renew(
    visit: Visit<Administer>,
    badge: Segments<String>,
    sent: Sent<TypedSecret>,
) -> Result<HttpResponse, Problem> {
    let badge = badge.into_inner();
    let secret = Some(sent.form.secret.clone()).filter(|secret| !secret.is_empty());
    let (options, bytes) = sent.request();
    match app::renewed(&visit.guarded, options, bytes, badge.clone(), NewSecret { secret }).await {
        Ok(told) => secret_page(&visit.frame, &told),
        Err(problem) => {
            let faults = faults_of(&visit.frame, problem)?;
            let person = visit.read(move |connection| app::read(connection, &badge)).await?;
            shown(&visit.frame, &Typed::of(&person)?, false, faults)
        }
    }
}
