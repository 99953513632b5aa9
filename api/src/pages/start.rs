//! The start: a box to scan into, the setup that this person goes on with, what they may do, and where they may look.

use super::{
    frame::{Frame, page},
    setup::offer::GoOn,
    visit::Visit,
    wording::{Phrase, section},
};
use crate::{principal::Read, problem::Problem};
use actix_web::HttpResponse;
use askama::Template;
use dovetally_core::people::Permission;

section! {
    /// The start.
    StartWords {
        title, lead, looks, go_on, scan, counter, counter_about, find, find_about, machines, machines_about, handover, handover_about, due,
        due_about, jobs, jobs_about, tool_life, tool_life_about, supplies, supplies_about, impacts, impacts_about, labels,
        labels_about, maintenance, maintenance_about, people, people_about, settings, settings_about
    }
}

/// A page to go to from the start.
struct Task {
    address: &'static str,
    /// Any of these lets a person in.
    any_of: &'static [Permission],
    /// Any of these gives a person something to do there; whoever has none of them has a look at most.
    to_do: &'static [Permission],
    name: fn(&StartWords) -> &Phrase,
    about: fn(&StartWords) -> &Phrase,
}

/// Where one moves things, for others or for oneself.
const MOVING: &[Permission] = &[Permission::MoveForAnyone, Permission::MoveForOneself];

/// What can be done, in the order in which it is shown: what happens most often first.
const TASKS: &[Task] = &[
    Task {
        address: "/counter",
        any_of: MOVING,
        to_do: MOVING,
        name: |words| &words.counter,
        about: |words| &words.counter_about,
    },
    Task {
        address: "/machines",
        any_of: &[Permission::Read],
        to_do: &[Permission::RecordSetup, Permission::JudgeFirstPiece, Permission::Maintain, Permission::CloseAnySetup],
        name: |words| &words.machines,
        about: |words| &words.machines_about,
    },
    Task {
        address: "/handover",
        any_of: &[Permission::TakeOver],
        to_do: &[Permission::TakeOver],
        name: |words| &words.handover,
        about: |words| &words.handover_about,
    },
    Task {
        address: "/find",
        any_of: &[Permission::Read],
        to_do: &[Permission::Read],
        name: |words| &words.find,
        about: |words| &words.find_about,
    },
    Task {
        address: "/due",
        any_of: &[Permission::Read],
        to_do: &[
            Permission::MoveForAnyone,
            Permission::BookItems,
            Permission::ControlGauges,
            Permission::CheckHolders,
            Permission::Grind,
            Permission::Maintain,
        ],
        name: |words| &words.due,
        about: |words| &words.due_about,
    },
    Task {
        address: "/jobs",
        any_of: &[Permission::Read],
        to_do: &[Permission::BookItems, Permission::WriteRegistry, Permission::RecordSetup],
        name: |words| &words.jobs,
        about: |words| &words.jobs_about,
    },
    Task {
        address: "/tool-life",
        any_of: &[Permission::Read],
        to_do: &[Permission::Grind, Permission::CheckTools, Permission::BookItems],
        name: |words| &words.tool_life,
        about: |words| &words.tool_life_about,
    },
    Task {
        address: "/supplies",
        any_of: &[Permission::Read],
        to_do: &[Permission::KeepSupplies],
        name: |words| &words.supplies,
        about: |words| &words.supplies_about,
    },
    Task {
        address: "/impacts",
        any_of: &[Permission::Read],
        to_do: &[Permission::ControlGauges],
        name: |words| &words.impacts,
        about: |words| &words.impacts_about,
    },
    Task {
        address: "/labels",
        any_of: &[Permission::Read],
        to_do: &[Permission::MoveForAnyone, Permission::WriteRegistry, Permission::Grind],
        name: |words| &words.labels,
        about: |words| &words.labels_about,
    },
    Task {
        address: "/maintenance",
        any_of: &[Permission::Read],
        to_do: &[Permission::Maintain, Permission::ReportFault],
        name: |words| &words.maintenance,
        about: |words| &words.maintenance_about,
    },
    Task {
        address: "/people",
        any_of: &[Permission::Administer],
        to_do: &[Permission::Administer],
        name: |words| &words.people,
        about: |words| &words.people_about,
    },
    Task {
        address: "/settings",
        any_of: &[Permission::Read],
        to_do: &[Permission::Administer],
        name: |words| &words.settings,
        about: |words| &words.settings_about,
    },
];

struct Link<'p> {
    address: &'p str,
    name: &'p Phrase,
    about: &'p Phrase,
}

#[derive(Template)]
#[template(path = "pages/start.html")]
struct StartPage<'p> {
    frame: &'p Frame,
    /// The setup that this person goes on with: where, what it is called, what is next there.
    go_on: Option<(String, String, String)>,
    tasks: Vec<Link<'p>>,
    /// Where this person has a look, and nothing to do.
    looks: Vec<Link<'p>>,
}

/// Shows it.
///
/// # Errors
/// A database error.
pub async fn show(visit: Visit<Read>) -> Result<HttpResponse, Problem> {
    let (who, now) = (visit.who().clone(), visit.guarded.database().now());
    let found = visit.read(move |connection| GoOn::of(connection, &who, now)).await?;
    let frame = &visit.frame;
    let words = &frame.words.start;
    let go_on =
        found.map(|setup| (setup.address(), words.go_on.with("place", setup.place()).to_string(), setup.about(frame)));
    let may = |any_of: &[Permission]| any_of.iter().any(|permission| frame.may(*permission));
    let open = TASKS.iter().filter(|task| may(task.any_of));
    let (tasks, looks): (Vec<&Task>, Vec<&Task>) = open.partition(|task| may(task.to_do));
    page(&StartPage { frame, go_on, tasks: links(words, &tasks), looks: links(words, &looks) })
}

fn links<'p>(words: &'p StartWords, tasks: &[&Task]) -> Vec<Link<'p>> {
    let link = |task: &&Task| Link { address: task.address, name: (task.name)(words), about: (task.about)(words) };
    tasks.iter().map(link).collect()
}
