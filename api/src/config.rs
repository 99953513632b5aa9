//! The configuration: one value, read once from flags and from an environment that tests can set.
//!
//! A key that starts with `DOVETALLY_` and is not known is an error: a misspelt setting that is ignored is a setting that
//! somebody relies on. All that is wrong is reported at once.

mod settings;

use crate::{
    browser::{BrowserSessions, CookieMode},
    cli::ServeFlags,
    password::HashingCost,
};
use chrono::TimeDelta;
use settings::Settings;
use std::{
    collections::BTreeMap,
    fmt,
    net::{IpAddr, SocketAddr},
    path::PathBuf,
};

/// The environment as the configuration sees it.
pub type Environment = BTreeMap<String, String>;

/// A text that does not show itself.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

impl Secret {
    /// The text itself.
    #[must_use]
    pub fn reveal(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("(set)")
    }
}

/// How log lines are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LogFormat {
    /// For people.
    Text,
    /// One JSON document a line, for programs.
    Json,
}

/// Everything that can be set.
#[derive(Clone, Debug)]
pub struct Config {
    /// Where the database is. Shown without its password.
    pub database: DatabaseSetting,
    /// Where to listen; port 0 takes any free one.
    pub listen: SocketAddr,
    /// Where the signing keys are, and the SQLite file when no database is named.
    pub data_folder: PathBuf,
    /// Load the demo shop into an empty database.
    pub demo: bool,
    /// Whether the demo shop comes with a year of history, or has just opened.
    pub demo_history: bool,
    /// One secret for all demo people instead of random ones.
    pub demo_secret: Option<Secret>,
    /// The address by which browsers and programs know this server: the tokens' issuer, and the origin that cookies are
    /// taken from. Without it, the address it listens on.
    pub public_url: Option<String>,
    /// Allow browser sessions without HTTPS.
    pub plain_http_sessions: bool,
    /// After so long without a request a browser's person signs in again.
    pub idle_timeout: TimeDelta,
    /// For how long an access token is valid.
    pub access_token_lifetime: TimeDelta,
    /// For how long a session can be refreshed.
    pub session_lifetime: TimeDelta,
    /// What to log, as a `tracing` filter.
    pub log: String,
    /// How to log.
    pub log_format: LogFormat,
    /// Threads that answer requests.
    pub workers: usize,
    /// Connections to PostgreSQL.
    pub database_connections: u32,
    /// What hashing a secret costs.
    pub hashing: HashingCost,
}

/// A database URL that hides its password when it is shown.
#[derive(Clone, PartialEq, Eq)]
pub struct DatabaseSetting(String);

impl DatabaseSetting {
    /// The URL itself.
    #[must_use]
    pub fn url(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for DatabaseSetting {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl fmt::Display for DatabaseSetting {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // The password can stand in the user part or in the query; what is shown has neither.
        let (scheme, rest) = self.0.split_once("://").unwrap_or(("", &self.0));
        if scheme.is_empty() {
            return f.write_str(&self.0);
        }
        let rest = rest.split('?').next().unwrap_or_default();
        match rest.rsplit_once('@') {
            Some((user, host)) => write!(f, "{scheme}://{}@{host}", user.split(':').next().unwrap_or_default()),
            None => write!(f, "{scheme}://{rest}"),
        }
    }
}

/// Everything that is wrong with a configuration.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ConfigErrors(Vec<String>);

impl ConfigErrors {
    /// One sentence each.
    #[must_use]
    pub fn sentences(&self) -> &[String] {
        &self.0
    }
}

impl fmt::Display for ConfigErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0.join("\n"))
    }
}

impl std::error::Error for ConfigErrors {}

/// One setting a line, under the name by which it is set, in the words in which it is set.
impl fmt::Display for Config {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let set = |secret: bool| if secret { "(set)" } else { "(not set)" };
        let log_format = match self.log_format {
            LogFormat::Text => "text",
            LogFormat::Json => "json",
        };
        let hashing = match self.hashing {
            HashingCost::Standard => "standard",
            HashingCost::CheapForTests => "cheap-for-tests",
        };
        writeln!(f, "DATABASE_URL={}", self.database)?;
        writeln!(f, "DOVETALLY_LISTEN={}", self.listen)?;
        writeln!(f, "DOVETALLY_DATA_FOLDER={}", self.data_folder.display())?;
        writeln!(f, "DOVETALLY_DEMO_HISTORY={}", if self.demo_history { "year" } else { "none" })?;
        writeln!(f, "DOVETALLY_DEMO_SECRET={}", set(self.demo_secret.is_some()))?;
        writeln!(f, "DOVETALLY_PUBLIC_URL={}", self.public_url.as_deref().unwrap_or("(the address it listens on)"))?;
        writeln!(f, "DOVETALLY_PLAIN_HTTP_SESSIONS={}", self.plain_http_sessions)?;
        writeln!(f, "DOVETALLY_IDLE_MINUTES={}", self.idle_timeout.num_minutes())?;
        writeln!(f, "DOVETALLY_ACCESS_TOKEN_MINUTES={}", self.access_token_lifetime.num_minutes())?;
        writeln!(f, "DOVETALLY_SESSION_HOURS={}", self.session_lifetime.num_hours())?;
        writeln!(f, "DOVETALLY_LOG={}", self.log)?;
        writeln!(f, "DOVETALLY_LOG_FORMAT={log_format}")?;
        writeln!(f, "DOVETALLY_WORKERS={}", self.workers)?;
        writeln!(f, "DOVETALLY_DATABASE_CONNECTIONS={}", self.database_connections)?;
        write!(f, "DOVETALLY_HASHING={hashing}")
    }
}

impl Config {
    /// Reads flags, which come first, and the environment.
    ///
    /// # Errors
    /// All that is unknown, unreadable or too weak.
    pub fn load(flags: &ServeFlags, environment: &Environment) -> Result<Self, ConfigErrors> {
        let mut settings = Settings::of(environment);
        let folder = settings.text("DOVETALLY_DATA_FOLDER").unwrap_or_else(|| "dovetally-data".to_owned());
        let data_folder = flags.data_folder.clone().unwrap_or_else(|| PathBuf::from(folder));
        let named = settings.text("DATABASE_URL");
        let database = flags
            .database
            .clone()
            .or(named)
            .unwrap_or_else(|| format!("sqlite:{}", data_folder.join("dovetally.sqlite").display()));
        let listen = settings.parsed("DOVETALLY_LISTEN", "an address and port such as 127.0.0.1:8080");
        let workers = settings.number("DOVETALLY_WORKERS", 1..=256);
        let connections = settings.number("DOVETALLY_DATABASE_CONNECTIONS", 1..=256);
        let token_minutes = settings.number("DOVETALLY_ACCESS_TOKEN_MINUTES", 1..=60);
        let idle_minutes = settings.number("DOVETALLY_IDLE_MINUTES", 1..=1440);
        let session_hours = settings.number("DOVETALLY_SESSION_HOURS", 1..=720);
        let log_format =
            settings.chosen("DOVETALLY_LOG_FORMAT", &[("text", LogFormat::Text), ("json", LogFormat::Json)]);
        let hashing = settings.chosen(
            "DOVETALLY_HASHING",
            &[("standard", HashingCost::Standard), ("cheap-for-tests", HashingCost::CheapForTests)],
        );
        let listen = flags.listen.or(listen).unwrap_or_else(|| SocketAddr::from(([127, 0, 0, 1], 8080)));
        let public_url = settings.text("DOVETALLY_PUBLIC_URL");
        // Whoever tries the demo on their own machine has nothing to switch on first: nothing leaves it.
        let own_demo = flags.demo && listen.ip().is_loopback() && public_url.is_none();
        let demo_history = settings.chosen("DOVETALLY_DEMO_HISTORY", &[("year", true), ("none", false)]);
        let config = Self {
            database: DatabaseSetting(database),
            listen,
            data_folder,
            demo: flags.demo,
            demo_history: demo_history.unwrap_or(true),
            demo_secret: settings.text("DOVETALLY_DEMO_SECRET").map(Secret),
            public_url,
            plain_http_sessions: settings.switch("DOVETALLY_PLAIN_HTTP_SESSIONS").unwrap_or(own_demo),
            idle_timeout: TimeDelta::minutes(i64::from(idle_minutes.unwrap_or(60))),
            access_token_lifetime: TimeDelta::minutes(i64::from(token_minutes.unwrap_or(10))),
            session_lifetime: TimeDelta::hours(i64::from(session_hours.unwrap_or(24 * 14))),
            log: settings.text("DOVETALLY_LOG").unwrap_or_else(|| "info".to_owned()),
            log_format: log_format.unwrap_or(LogFormat::Text),
            workers: workers.and_then(|n| usize::try_from(n).ok()).unwrap_or_else(processors),
            database_connections: connections.unwrap_or(12),
            hashing: hashing.unwrap_or(HashingCost::Standard),
        };
        config.refuse_weakness(&mut settings);
        settings.finish().map(|()| config)
    }

    fn refuse_weakness(&self, settings: &mut Settings<'_>) {
        if self.demo_secret.as_ref().is_some_and(|secret| secret.reveal().len() < 8) {
            settings.refuse("DOVETALLY_DEMO_SECRET has fewer than 8 characters");
        }
        let reachable = !self.listen.ip().is_loopback();
        if reachable && self.hashing == HashingCost::CheapForTests {
            settings.refuse("DOVETALLY_HASHING=cheap-for-tests is taken only on a loopback address");
        }
        if reachable && self.demo_secret.is_some() && self.demo {
            settings.refuse(
                "one demo secret for all people is taken only on a loopback address; leave it out for random ones",
            );
        }
        if let Some(url) = &self.public_url {
            let (scheme, authority) = url.split_once("://").unwrap_or_default();
            if !matches!(scheme, "http" | "https") || authority.is_empty() || authority.contains(['/', '?', '#', '@']) {
                settings.refuse("DOVETALLY_PUBLIC_URL is http:// or https:// and a host, without a path");
            }
        }
        if self.public_url.as_ref().is_some_and(|url| url.starts_with("https://")) && self.plain_http_sessions {
            settings.refuse("DOVETALLY_PLAIN_HTTP_SESSIONS makes no sense with an https:// DOVETALLY_PUBLIC_URL");
        }
    }

    /// How browsers are signed in.
    #[must_use]
    pub fn browsers(&self) -> BrowserSessions {
        let https = self.public_url.as_ref().is_some_and(|url| url.starts_with("https://"));
        let mode = match (https, self.plain_http_sessions) {
            (true, _) => CookieMode::Https,
            (false, true) => CookieMode::PlainHttp,
            (false, false) => CookieMode::Off,
        };
        BrowserSessions { mode, idle: self.idle_timeout, public_url: self.public_url.clone() }
    }

    /// The tokens' issuer and the origin of our own pages, for the address that was bound.
    #[must_use]
    pub fn origin(&self, bound: SocketAddr) -> String {
        self.public_url.clone().unwrap_or_else(|| {
            // Listening on every address, the one that surely reaches us is the loopback one.
            let host = match bound.ip() {
                ip if ip.is_unspecified() => "127.0.0.1".to_owned(),
                IpAddr::V4(ip) => ip.to_string(),
                IpAddr::V6(ip) => format!("[{ip}]"),
            };
            format!("http://{host}:{}", bound.port())
        })
    }
}

fn processors() -> usize {
    std::thread::available_parallelism().map_or(2, std::num::NonZero::get)
}

#[cfg(test)]
mod tests;
