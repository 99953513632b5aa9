//! Setups: opening one, appending events, reading.
//!
//! Every write takes the machine's guard first, then the custody rows of what was scanned, in the order of their ids,
//! then reads. Whatever is decided rests on what nobody else can change until the commit.

mod advice;
mod append;
mod commands;
mod effects;
mod go_on;
mod last_time;
mod load;
mod measured;
mod open;
mod read;
mod standings;
mod wear;

pub use append::append;
pub(crate) use append::{may_record, speaks_against, store, take_in};
pub(crate) use go_on::to_go_on_with;
pub(crate) use last_time::last_finished;
pub use last_time::last_time;
pub(crate) use load::shown;
pub use load::{Loaded, load, load_as_of, machine_facts};
pub(crate) use load::{names, show};
pub(crate) use measured::{MeasuredPiece, TurnedScrew, measured_in, turned_in};
pub use open::open;
pub(crate) use open::open_in;
pub use read::{SetupFilters, events, get, list};
pub use wear::wear;
pub(crate) use wear::wear_of;
