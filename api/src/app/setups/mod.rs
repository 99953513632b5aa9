//! Setups: opening one, appending events, reading.
//!
//! Every write takes the machine's guard first, then the custody rows of what was scanned, in the order of their ids,
//! then reads. Whatever is decided rests on what nobody else can change until the commit.

mod advice;
mod append;
mod commands;
mod effects;
mod last_time;
mod load;
mod open;
mod read;
mod wear;

pub use append::append;
pub(crate) use append::{append_in, store};
pub use last_time::last_time;
pub(crate) use load::names;
pub use load::{Loaded, load, load_as_of, machine_facts};
pub use open::open;
pub(crate) use open::open_in;
pub use read::{SetupFilters, events, get, list};
pub use wear::wear;
