//! The demo shop: an invented shop from readable files, loaded through the same rules as live data.
//!
//! The files hold what clients would send. Nothing is written around the rules: a file that breaks one does not load.

mod deeds;
mod history;
mod moments;

use self::{
    deeds::{Open, Step, live},
    history::History,
    moments::set_days,
};
use crate::{
    app::registry,
    config::Config,
    password::{Passwords, readable_secret},
    principal::Principal,
    problem::Problem,
    server::say,
};
use chrono::NaiveDate;
use dovetally_core::{
    ids::SessionId,
    people::Role,
    registry::person::{Person, PersonFields},
};
use dovetally_db::{Database, Tx, WriteMode, people};
use serde::{Deserialize, de::DeserializeOwned};
use serde_json::Value;
use std::{collections::BTreeMap, error::Error as StdError};

const PEOPLE: &str = include_str!("../../demo-data/people.json");
const PLACES: &str = include_str!("../../demo-data/places.json");
const MACHINES: &str = include_str!("../../demo-data/machines.json");
const TOOL_DESIGNS: &str = include_str!("../../demo-data/tool-designs.json");
const FORM_TOOLS: &str = include_str!("../../demo-data/form-tools.json");
const HOLDERS: &str = include_str!("../../demo-data/holders.json");
const CENTER_GAUGES: &str = include_str!("../../demo-data/center-gauges.json");
const OTHER_ITEMS: &str = include_str!("../../demo-data/other-items.json");
const PARTS: &str = include_str!("../../demo-data/parts.json");
const JOBS: &str = include_str!("../../demo-data/jobs.json");
const MAINTENANCE_PLANS: &str = include_str!("../../demo-data/maintenance-plans.json");
const SUPPLIES: &str = include_str!("../../demo-data/supplies.json");
const STORY: &str = include_str!("../../demo-data/story.json");

/// A person of the demo shop.
#[derive(Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct DemoPerson {
    badge: String,
    name: String,
    roles: Vec<Role>,
}

/// What was loaded: each badge with its secret.
pub struct Loaded {
    secrets: Vec<(String, String)>,
}

/// Loads the demo shop into an empty database. Nothing when somebody is on record already.
///
/// # Errors
/// When the files do not load.
pub fn load_if_empty(config: &Config, database: &Database) -> Result<Option<Loaded>, Box<dyn StdError>> {
    if database.read_blocking(people::any)? {
        return Ok(None);
    }
    let today = database.now().date_naive();
    let staff: Vec<DemoPerson> = read("people", PEOPLE, today)?;
    let passwords = Passwords::new(config.hashing, 1).map_err(|error| error.to_string())?;
    let mut secrets = Vec::new();
    let mut hashes = Vec::new();
    for person in &staff {
        let secret = match &config.demo_secret {
            Some(secret) => secret.reveal().to_owned(),
            None => readable_secret().map_err(|error| error.to_string())?,
        };
        hashes.push(passwords.hash_blocking(&secret).map_err(|error| error.to_string())?);
        secrets.push((person.badge.clone(), secret));
    }
    let shop = Shop::read(today)?;
    let history = config.demo_history.then(|| History::read(today)).transpose()?;
    database.write_blocking(WriteMode::Keep, move |tx| shop.load(tx, &staff, &hashes, history.as_ref()))?;
    Ok(Some(Loaded { secrets }))
}

/// Tells whoever started the program what to try.
pub fn greet(origin: &str, loaded: &Loaded) {
    say("");
    say("The demo shop is loaded. These people may sign in (badge  secret):");
    for (badge, secret) in &loaded.secrets {
        say(&format!("  {badge:<14} {secret}"));
    }
    say("");
    say(&format!("Try next: {origin}/ in a browser, signed in as one of them; {origin}/docs/ shows and tries every"));
    say("operation; the README walks through a setup.");
}

fn read<T: DeserializeOwned>(name: &str, text: &str, today: NaiveDate) -> Result<T, String> {
    let at = |error: &dyn std::fmt::Display| format!("demo-data/{name}.json: {error}");
    let mut value: Value = serde_json::from_str(text).map_err(|error| at(&error))?;
    set_days(&mut value, today);
    serde_path_to_error::deserialize(value).map_err(|error| at(&error))
}

struct Shop {
    places: Vec<<registry::Places as registry::Registered>::New>,
    machines: Vec<<registry::Machines as registry::Registered>::New>,
    tool_designs: Vec<<registry::ToolDesigns as registry::Registered>::New>,
    form_tools: Vec<<registry::FormTools as registry::Registered>::New>,
    holders: Vec<<registry::Holders as registry::Registered>::New>,
    center_gauges: Vec<<registry::CenterGauges as registry::Registered>::New>,
    other_items: Vec<<registry::OtherItems as registry::Registered>::New>,
    parts: Vec<<registry::Parts as registry::Registered>::New>,
    jobs: Vec<<registry::Jobs as registry::Registered>::New>,
    maintenance_plans: Vec<<registry::MaintenancePlans as registry::Registered>::New>,
    supplies: Vec<<registry::Supplies as registry::Registered>::New>,
    story: Vec<Step>,
}

impl Shop {
    fn read(today: NaiveDate) -> Result<Self, String> {
        Ok(Self {
            places: read("places", PLACES, today)?,
            machines: read("machines", MACHINES, today)?,
            tool_designs: read("tool-designs", TOOL_DESIGNS, today)?,
            form_tools: read("form-tools", FORM_TOOLS, today)?,
            holders: read("holders", HOLDERS, today)?,
            center_gauges: read("center-gauges", CENTER_GAUGES, today)?,
            other_items: read("other-items", OTHER_ITEMS, today)?,
            parts: read("parts", PARTS, today)?,
            jobs: read("jobs", JOBS, today)?,
            maintenance_plans: read("maintenance-plans", MAINTENANCE_PLANS, today)?,
            supplies: read("supplies", SUPPLIES, today)?,
            story: read("story", STORY, today)?,
        })
    }

    /// All in one transaction, the year before it too: an interrupted loading leaves an empty database.
    fn load(
        &self,
        tx: &mut Tx<'_>,
        staff: &[DemoPerson],
        hashes: &[String],
        history: Option<&History>,
    ) -> Result<(), Problem> {
        let now = tx.now();
        if let Some(history) = history {
            tx.set_time(history.opening);
        }
        let mut known = BTreeMap::new();
        for (person, hash) in staff.iter().zip(hashes) {
            known.insert(person.badge.clone(), hire(tx, person, hash)?);
        }
        let who = |badge: &str| known.get(badge).ok_or_else(|| Problem::not_found("demo person", badge));
        let supervisor = who("supervisor")?;
        all::<registry::Places>(tx, supervisor, &self.places)?;
        all::<registry::Machines>(tx, supervisor, &self.machines)?;
        all::<registry::ToolDesigns>(tx, supervisor, &self.tool_designs)?;
        all::<registry::FormTools>(tx, supervisor, &self.form_tools)?;
        all::<registry::Holders>(tx, supervisor, &self.holders)?;
        all::<registry::CenterGauges>(tx, supervisor, &self.center_gauges)?;
        all::<registry::OtherItems>(tx, supervisor, &self.other_items)?;
        all::<registry::Parts>(tx, supervisor, &self.parts)?;
        all::<registry::MaintenancePlans>(tx, who("maintainer")?, &self.maintenance_plans)?;
        all::<registry::Supplies>(tx, supervisor, &self.supplies)?;
        if let Some(history) = history {
            history.live(tx, &known)?;
            tx.set_time(now);
        }
        all::<registry::Jobs>(tx, supervisor, &self.jobs)?;
        let mut open = Open::default();
        for (index, step) in self.story.iter().enumerate() {
            live(tx, who(&step.by)?, &step.deed, &mut open)
                .map_err(|problem| Problem::internal(format!("demo-data/story.json, step {index}: {problem:?}")))?;
        }
        Ok(())
    }
}

fn all<R: registry::Registered>(tx: &mut Tx<'_>, who: &Principal, things: &[R::New]) -> Result<(), Problem> {
    for thing in things {
        registry::create_in::<R>(tx, who, thing).map_err(|problem| {
            Problem::internal(format!("demo-data: {} {}: {problem:?}", R::RESOURCE, R::code_of_new(thing)))
        })?;
    }
    Ok(())
}

fn hire(tx: &mut Tx<'_>, person: &DemoPerson, hash: &str) -> Result<Principal, Problem> {
    let now = tx.now();
    let hired = Person {
        id: tx.new_id(),
        badge: person.badge.clone(),
        fields: PersonFields { name: person.name.clone(), roles: person.roles.clone(), disabled: false },
        version: 1,
        created_at: now,
        updated_at: now,
    };
    people::insert(tx.connection(), &hired, hash)?;
    crate::app::people::record_hired(tx, &hired)?;
    Ok(Principal {
        person: hired.id,
        badge: hired.badge,
        name: hired.fields.name,
        roles: hired.fields.roles,
        session: SessionId::from_uuid(uuid::Uuid::nil()),
    })
}
