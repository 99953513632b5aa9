//! dovetally: maintenance and tooling inventory server for multi-spindle automatic bar machines.

use std::process::ExitCode;

fn main() -> ExitCode {
    dovetally_db::connection::quiet_sqlite_statistics();
    match dovetally::commands::run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            #[expect(clippy::print_stderr, reason = "the last word to whoever started the program")]
            {
                eprintln!("dovetally: {error}");
            }
            ExitCode::FAILURE
        }
    }
}
