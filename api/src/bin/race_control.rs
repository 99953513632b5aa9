//! The program with pause points and removable locks, for the control arms of the race tests; never shipped.

use std::process::ExitCode;

fn main() -> ExitCode {
    dovetally::commands::main()
}
