//! dovetally: maintenance and tooling inventory server for multi-spindle automatic bar machines.

use std::process::ExitCode;

fn main() -> ExitCode {
    dovetally::commands::main()
}
