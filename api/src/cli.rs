//! The command line.

use crate::config::{Config, ConfigErrors, Environment};
use clap::{Args, Parser, Subcommand};
use dovetally_core::people::Role;
use std::{net::SocketAddr, path::PathBuf};

/// Tooling, setting gauges and setups of multi-spindle automatic bar machines.
#[derive(Debug, Parser)]
#[command(name = "dovetally", version, about, propagate_version = true)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What the program can do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Serve the API and the pages. Without a database it makes an SQLite file in the data folder.
    Serve(ServeFlags),
    /// Bring the database's tables up to this version.
    Migrate(StorageFlags),
    /// Verify the ledger and the chain of changes; fails when something was altered.
    Verify(StorageFlags),
    /// Write a backup of the database, also while a server runs.
    Backup {
        /// The file to write; it must not exist.
        file: PathBuf,
        /// Which database.
        #[command(flatten)]
        storage: StorageFlags,
    },
    /// People.
    Person {
        /// What to do with them.
        #[command(subcommand)]
        command: PersonCommand,
    },
    /// Print the OpenAPI document.
    Openapi,
    /// Check the configuration and print it without its secrets.
    CheckConfig(ServeFlags),
}

/// What can be done with people.
#[derive(Debug, Subcommand)]
pub enum PersonCommand {
    /// Put a person on record and print the secret made for them, once.
    Add {
        /// What they sign in with.
        badge: String,
        /// Their name.
        #[arg(long)]
        name: String,
        /// A role; may be given several times.
        #[arg(long = "role", required = true, value_parser = role)]
        roles: Vec<Role>,
        /// Which database.
        #[command(flatten)]
        storage: StorageFlags,
    },
}

/// Which database.
#[derive(Clone, Debug, Default, Args)]
pub struct StorageFlags {
    /// sqlite:PATH or postgres://USER@HOST/NAME [environment: DATABASE_URL].
    #[arg(long, value_name = "URL")]
    pub database: Option<String>,
    /// Where keys and the SQLite file are [environment: DOVETALLY_DATA_FOLDER].
    #[arg(long, value_name = "DIR")]
    pub data_folder: Option<PathBuf>,
}

/// How to serve.
#[derive(Clone, Debug, Default, Args)]
pub struct ServeFlags {
    /// sqlite:PATH or postgres://USER@HOST/NAME [environment: DATABASE_URL].
    #[arg(long, value_name = "URL")]
    pub database: Option<String>,
    /// The address and port; port 0 takes any free one [environment: DOVETALLY_LISTEN].
    #[arg(long, value_name = "ADDR")]
    pub listen: Option<SocketAddr>,
    /// Where keys and the SQLite file are [environment: DOVETALLY_DATA_FOLDER].
    #[arg(long, value_name = "DIR")]
    pub data_folder: Option<PathBuf>,
    /// Load the demo shop into an empty database and print what to try.
    #[arg(long)]
    pub demo: bool,
}

impl From<&StorageFlags> for ServeFlags {
    fn from(flags: &StorageFlags) -> Self {
        Self { database: flags.database.clone(), data_folder: flags.data_folder.clone(), ..Self::default() }
    }
}

impl Command {
    /// The configuration of this command; `None` for one that needs none.
    ///
    /// # Errors
    /// All that is wrong with it.
    pub fn config(&self, environment: &Environment) -> Result<Option<Config>, ConfigErrors> {
        let flags = match self {
            Self::Serve(flags) | Self::CheckConfig(flags) => flags.clone(),
            Self::Migrate(storage) | Self::Verify(storage) | Self::Backup { storage, .. } => storage.into(),
            Self::Person { command: PersonCommand::Add { storage, .. } } => storage.into(),
            Self::Openapi => return Ok(None),
        };
        Config::load(&flags, environment).map(Some)
    }
}

fn role(name: &str) -> Result<Role, String> {
    Role::from_name(name).ok_or_else(|| {
        let names: Vec<_> = Role::ALL.iter().map(|role| role.name()).collect();
        format!("a role is one of {}", names.join(", "))
    })
}

#[cfg(test)]
mod tests {
    use super::{Cli, Command, PersonCommand};
    use crate::config::Environment;
    use clap::{CommandFactory, Parser};
    use dovetally_core::people::Role;

    fn command(line: &str) -> Result<Command, clap::Error> {
        Cli::try_parse_from(line.split(' ')).map(|cli| cli.command)
    }

    #[test]
    fn the_definition_is_sound() {
        Cli::command().debug_assert();
    }

    #[test]
    fn the_documented_lines_are_taken() {
        let line = "dovetally serve --database sqlite:a.sqlite --listen 127.0.0.1:0 --data-folder /tmp/d --demo";
        let config = command(line).unwrap().config(&Environment::new()).unwrap().unwrap();
        assert_eq!((config.database.url(), config.listen.port(), config.demo), ("sqlite:a.sqlite", 0, true));
        for line in ["serve", "migrate", "verify --database sqlite:a", "backup out.sqlite", "check-config --demo"] {
            let command = command(&format!("dovetally {line}")).unwrap();
            assert!(command.config(&Environment::new()).unwrap().is_some(), "{line}");
        }
        assert!(command("dovetally openapi").unwrap().config(&Environment::new()).unwrap().is_none());
        let line = "dovetally person add 4711 --name Ada --role setter --role inspector";
        let Command::Person { command: PersonCommand::Add { badge, name, roles, .. } } = command(line).unwrap() else {
            panic!("{line}")
        };
        assert_eq!((badge.as_str(), name.as_str(), roles), ("4711", "Ada", vec![Role::Setter, Role::Inspector]));
    }

    #[test]
    fn everything_else_is_refused() {
        for line in
            ["", "serve --listen here", "backup", "person add 1 --name A", "person add 1 --name A --role king", "play"]
        {
            assert!(command(&format!("dovetally {line}")).is_err(), "{line}");
        }
    }
}
