//! What every request works with: the database, the keys, and what signing in needs.

use crate::{
    browser::BrowserSessions,
    live::Live,
    password::Passwords,
    throttle::Throttle,
    tokens::{AccessTokens, SigningKeys},
};
use chrono::TimeDelta;
use dovetally_db::Database;
use std::sync::Arc;

/// The parts of the running program; cheap to clone.
#[derive(Clone)]
pub struct Service(Arc<Parts>);

/// What a [`Service`] is made of.
pub struct Parts {
    /// The database.
    pub database: Database,
    /// The signing keys.
    pub keys: Arc<SigningKeys>,
    /// Access tokens under these keys.
    pub tokens: AccessTokens,
    /// How secrets are hashed.
    pub passwords: Passwords,
    /// What slows guessing down.
    pub throttle: Throttle,
    /// How long a session lasts.
    pub session_lifetime: TimeDelta,
    /// How browsers are signed in.
    pub browsers: BrowserSessions,
    /// Who is told of changes.
    pub live: Live,
}

impl Service {
    /// Puts the parts together.
    #[must_use]
    pub fn new(parts: Parts) -> Self {
        Self(Arc::new(parts))
    }

    /// The database.
    #[must_use]
    pub fn database(&self) -> &Database {
        &self.0.database
    }

    /// The signing keys.
    #[must_use]
    pub fn keys(&self) -> &SigningKeys {
        &self.0.keys
    }

    /// Access tokens.
    #[must_use]
    pub fn tokens(&self) -> &AccessTokens {
        &self.0.tokens
    }

    /// How secrets are hashed and compared.
    #[must_use]
    pub fn passwords(&self) -> &Passwords {
        &self.0.passwords
    }

    /// What slows guessing down.
    #[must_use]
    pub fn throttle(&self) -> &Throttle {
        &self.0.throttle
    }

    /// How long a session lasts from signing in.
    #[must_use]
    pub fn session_lifetime(&self) -> TimeDelta {
        self.0.session_lifetime
    }

    /// How browsers are signed in.
    #[must_use]
    pub fn browsers(&self) -> &BrowserSessions {
        &self.0.browsers
    }

    /// Who is told of changes.
    #[must_use]
    pub fn live(&self) -> &Live {
        &self.0.live
    }
}
