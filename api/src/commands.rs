//! What the command line does.

use crate::{
    app::people::{badge_taken, check_new_badge, record_hired},
    browser::CookieMode,
    cli::{Cli, Command, PersonCommand},
    config::{Config, Environment, LogFormat},
    demo,
    openapi::document,
    password::{Passwords, readable_secret},
    problem::Problem,
    server::{self, say},
};
use clap::Parser;
use dovetally_core::{
    people::Role,
    registry::person::{Person, PersonFields},
};
use dovetally_db::{Database, DatabaseUrl, OpenOptions, SystemClock, WriteMode, people};
use std::{error::Error as StdError, path::Path, process::ExitCode, sync::Arc};

type Outcome = Result<(), Box<dyn StdError>>;

/// The whole program: does what the command line says, and says why when it cannot.
#[must_use]
pub fn main() -> ExitCode {
    dovetally_db::connection::quiet_sqlite_statistics();
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            #[expect(clippy::print_stderr, reason = "the last word to whoever started the program")]
            {
                eprintln!("dovetally: {error}");
                // Who starts the program is not a caller from outside: they may know the cause.
                let mut cause = error.source();
                while let Some(error) = cause {
                    eprintln!("  because: {error}");
                    cause = error.source();
                }
            }
            ExitCode::FAILURE
        }
    }
}

/// Reads the command line and does what it says.
///
/// # Errors
/// In words for whoever called.
fn run() -> Outcome {
    let cli = Cli::parse();
    let environment: Environment = std::env::vars().collect();
    let Some(config) = cli.command.config(&environment)? else {
        say(document(server::operations, server::TAGS).to_pretty_json()?.trim_end());
        return Ok(());
    };
    start_logging(&config)?;
    match cli.command {
        Command::Serve(_) => serve(&config),
        Command::Migrate(_) => {
            open(&config)?;
            say("the database is up to date");
            Ok(())
        }
        Command::Verify(_) => verify(&config),
        Command::Backup { file, .. } => backup(&config, &file),
        Command::Person { command: PersonCommand::Add { badge, name, roles, .. } } => {
            add_person(&config, badge, name, roles)
        }
        Command::CheckConfig(_) => {
            DatabaseUrl::parse(config.database.url())?;
            say(&format!("the configuration is sound\n{config}"));
            Ok(())
        }
        Command::Openapi => Ok(()),
    }
}

fn start_logging(config: &Config) -> Outcome {
    let filter = tracing_subscriber::EnvFilter::try_new(&config.log)?;
    let builder = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    match config.log_format {
        LogFormat::Text => builder.init(),
        LogFormat::Json => builder.json().init(),
    }
    Ok(())
}

/// Opens a database that must be there: a mistyped path is not taken for an empty shop.
fn open_existing(config: &Config) -> Result<Database, Box<dyn StdError>> {
    if let DatabaseUrl::Sqlite(path) = DatabaseUrl::parse(config.database.url())? {
        let filled = std::fs::metadata(&path).is_ok_and(|file| file.len() > 0);
        if !filled {
            return Err(format!("there is no database at {}", path.display()).into());
        }
    }
    open(config)
}

fn open(config: &Config) -> Result<Database, Box<dyn StdError>> {
    std::fs::create_dir_all(&config.data_folder)
        .map_err(|error| format!("the data folder {}: {error}", config.data_folder.display()))?;
    let url = DatabaseUrl::parse(config.database.url())?;
    let mut options = OpenOptions::new(url, Arc::new(SystemClock));
    options.connections = usize::try_from(config.database_connections)?;
    Ok(Database::open(options)?)
}

fn serve(config: &Config) -> Outcome {
    let database = open(config)?;
    let loaded = if config.demo { demo::load_if_empty(config, &database)? } else { None };
    let empty = database.read_blocking(|connection| people::any(connection).map(|any| !any))?;
    let demo_asked = config.demo;
    let (mode, reachable) = (config.browsers().mode, !config.listen.ip().is_loopback());
    server::serve(config, database, move |origin| {
        match mode {
            CookieMode::Https => {}
            CookieMode::PlainHttp if reachable => say(
                "browsers sign in over plain HTTP: whoever can listen on this network can take a session over; set DOVETALLY_PUBLIC_URL to an https:// address to end that",
            ),
            CookieMode::PlainHttp => {}
            CookieMode::Off => say(
                "browsers cannot sign in over plain HTTP: set DOVETALLY_PUBLIC_URL to this server's https:// address, or DOVETALLY_PLAIN_HTTP_SESSIONS=true on a network that is trusted",
            ),
        }
        if let Some(loaded) = &loaded {
            demo::greet(origin, loaded);
        } else if demo_asked {
            say("the database is not empty: the demo shop was not loaded, and secrets are as they were");
        } else if empty {
            say(
                "nobody is on record yet: add the first person with `dovetally person add BADGE --name NAME --role administrator`",
            );
        }
    })
}

fn verify(config: &Config) -> Outcome {
    let database = open_existing(config)?;
    let now = database.now();
    let verified = database.read_blocking(move |connection| dovetally_db::verify(connection, now))?;
    if verified.faults.is_empty() {
        say(&format!("{} changes are sound; the chain ends in {}", verified.changes, verified.chain_hash));
        return Ok(());
    }
    for fault in &verified.faults {
        say(fault);
    }
    Err("the records do not verify".into())
}

fn backup(config: &Config, file: &Path) -> Outcome {
    let database = open_existing(config)?;
    database.backup(file)?;
    say(&format!("backed up to {}", file.display()));
    Ok(())
}

fn add_person(config: &Config, badge: String, name: String, roles: Vec<Role>) -> Outcome {
    let fields = PersonFields { name, roles, disabled: false };
    let faults = [fields.check(), check_new_badge(&badge)].concat();
    if let Some(fault) = faults.first() {
        return Err(format!("{}: {}", fault.pointer.trim_start_matches('/'), fault.detail).into());
    }
    let secret = readable_secret().map_err(|error| error.to_string())?;
    let passwords = Passwords::new(config.hashing, 1).map_err(|error| error.to_string())?;
    let hash = passwords.hash_blocking(&secret).map_err(|error| error.to_string())?;
    let database = open(config)?;
    let shown = badge.clone();
    database.write_blocking(WriteMode::Keep, move |tx| {
        let now = tx.now();
        let person = Person {
            id: tx.new_id(),
            badge: badge.clone(),
            fields: fields.clone(),
            version: 1,
            created_at: now,
            updated_at: now,
        };
        people::insert(tx.connection(), &person, &hash).map_err(|error| badge_taken(error, &badge))?;
        record_hired(tx, &person)?;
        Ok::<_, Problem>(())
    })?;
    say(&format!("{shown} may sign in with the secret {secret} – it is shown only now"));
    Ok(())
}
