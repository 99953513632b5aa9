//! The program with pause points and removable locks, for the control arms of the race tests; never shipped.

use std::process::ExitCode;

fn main() -> ExitCode {
    #[cfg(debug_assertions)]
    dovetally_db::race_control::allow();
    dovetally::commands::main()
}
