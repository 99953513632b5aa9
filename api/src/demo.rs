//! The demo shop: an invented shop from readable files, loaded through the same rules as live data.
//!
//! The files hold what clients would send. Nothing is written around the rules: a file that breaks one does not load.

use crate::{
    app::{custody, gauge_checks, registry, setups, supplies, tag_outs, work_orders},
    config::Config,
    extract::Reference,
    password::{Passwords, readable_secret},
    principal::Principal,
    problem::Problem,
    server::say,
    transport::{
        gauge_check::NewGaugeCheck,
        movement::{CheckIn, CheckOut, Transfer},
        setup::NewSetup,
        setup_event::EventBody,
        supply::{NewCount, NewReceipt, NewWithdrawal},
        tag_out::NewTagOut,
        work_order::{FinishWorkOrder, NewWorkOrder},
    },
};
use chrono::{Days, NaiveDate};
use dovetally_core::{
    code::Code,
    ids::{SessionId, SetupId, WorkOrderId},
    people::Role,
    registry::person::{Person, PersonFields},
};
use dovetally_db::{Database, Tx, WriteMode, people};
use serde::{Deserialize, de::DeserializeOwned};
use serde_json::{Map, Value};
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

/// One thing that somebody does.
#[derive(Clone, Deserialize)]
struct Step {
    by: String,
    #[serde(flatten)]
    deed: Deed,
}

#[derive(Clone, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Deed {
    CheckOut(CheckOut),
    CheckIn(CheckIn),
    Transfer(Transfer),
    GaugeCheck {
        gauge: Code,
        check: NewGaugeCheck,
    },
    TagOut(NewTagOut),
    /// Opens a setup; later steps name its machine.
    OpenSetup(NewSetup),
    SetupEvent {
        machine: Code,
        event: Map<String, Value>,
    },
    /// Opens a work order; later steps name it by what is to be done.
    OpenWorkOrder(NewWorkOrder),
    StartWorkOrder {
        what: String,
    },
    FinishWorkOrder {
        what: String,
        done: FinishWorkOrder,
    },
    SupplyReceived {
        supply: Code,
        receipt: NewReceipt,
    },
    SupplyWithdrawn {
        supply: Code,
        withdrawal: NewWithdrawal,
    },
    SupplyCounted {
        supply: Code,
        count: NewCount,
    },
}

/// What later steps of the story go on with.
#[derive(Default)]
struct Open {
    setups: BTreeMap<Code, SetupId>,
    orders: BTreeMap<String, WorkOrderId>,
}

impl Open {
    fn order(&self, what: &str) -> Result<WorkOrderId, Problem> {
        self.orders.get(what).copied().ok_or_else(|| Problem::not_found("open demo work order", what))
    }
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
    database.write_blocking(WriteMode::Keep, move |tx| shop.load(tx, &staff, &hashes))?;
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
    say(&format!("Try next: {origin}/docs/ shows and tries every operation; the README walks through a setup."));
}

fn read<T: DeserializeOwned>(name: &str, text: &str, today: NaiveDate) -> Result<T, String> {
    let at = |error: &dyn std::fmt::Display| format!("demo-data/{name}.json: {error}");
    let mut value: Value = serde_json::from_str(text).map_err(|error| at(&error))?;
    set_days(&mut value, today);
    serde_path_to_error::deserialize(value).map_err(|error| at(&error))
}

/// `"today+30"` stands for a day, so that the shop is as fresh in ten years as it is now.
fn set_days(value: &mut Value, today: NaiveDate) {
    match value {
        Value::String(text) => {
            let days = text.strip_prefix("today+").and_then(|days| days.parse().ok());
            if let Some(day) = days.and_then(|days| today.checked_add_days(Days::new(days))) {
                *text = day.to_string();
            }
        }
        Value::Array(items) => items.iter_mut().for_each(|item| set_days(item, today)),
        Value::Object(members) => members.values_mut().for_each(|member| set_days(member, today)),
        _ => {}
    }
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

    fn load(&self, tx: &mut Tx<'_>, staff: &[DemoPerson], hashes: &[String]) -> Result<(), Problem> {
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
        all::<registry::Jobs>(tx, supervisor, &self.jobs)?;
        all::<registry::MaintenancePlans>(tx, who("maintainer")?, &self.maintenance_plans)?;
        all::<registry::Supplies>(tx, supervisor, &self.supplies)?;
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

fn live(tx: &mut Tx<'_>, who: &Principal, deed: &Deed, open: &mut Open) -> Result<(), Problem> {
    match deed {
        Deed::CheckOut(body) => custody::check_out_in(tx, who, body).map(drop),
        Deed::CheckIn(body) => custody::check_in_in(tx, who, body).map(drop),
        Deed::Transfer(body) => custody::transfer_in(tx, who, body).map(drop),
        Deed::GaugeCheck { gauge, check } => {
            gauge_checks::record_in(tx, who, &Reference::Code(gauge.clone()), check).map(drop)
        }
        Deed::TagOut(body) => tag_outs::place_in(tx, who, body).map(drop),
        Deed::OpenSetup(new) => {
            let setup = setups::open_in(tx, who, new)?;
            open.setups.insert(new.machine.clone(), setup.1);
            Ok(())
        }
        Deed::SetupEvent { machine, event } => {
            let setup = open.setups.get(machine).ok_or_else(|| Problem::not_found("open demo setup", machine))?;
            let event = EventBody::parse(event.clone())?;
            setups::append_in(tx, who, *setup, &event, None).map(drop)
        }
        Deed::OpenWorkOrder(new) => {
            let (_, order) = work_orders::open_in(tx, who, new)?;
            open.orders.insert(new.what.clone().unwrap_or_default(), order);
            Ok(())
        }
        Deed::StartWorkOrder { what } => work_orders::start_in(tx, who, open.order(what)?).map(drop),
        Deed::FinishWorkOrder { what, done } => work_orders::finish_in(tx, who, open.order(what)?, done).map(drop),
        Deed::SupplyReceived { supply, receipt } => {
            supplies::receive_in(tx, who, &Reference::Code(supply.clone()), receipt).map(drop)
        }
        Deed::SupplyWithdrawn { supply, withdrawal } => {
            supplies::withdraw_in(tx, who, &Reference::Code(supply.clone()), withdrawal).map(drop)
        }
        Deed::SupplyCounted { supply, count } => {
            supplies::count_in(tx, who, &Reference::Code(supply.clone()), count).map(drop)
        }
    }
}
