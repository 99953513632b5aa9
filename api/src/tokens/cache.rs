//! Which tokens were verified already.
//!
//! An Ed25519 check costs several times what the rest of a read costs. Only "this signature and these claims were good"
//! is kept, under the whole token's text; times and sessions are looked at on every request, and failures never kept.

use super::Bearer;
use std::{
    collections::HashMap,
    fmt,
    sync::{Mutex, PoisonError},
};

/// Bounded without bookkeeping: when the young half is full it becomes the old half, and what was old is dropped.
pub(super) struct VerifiedTokens {
    half: usize,
    halves: Mutex<Halves>,
}

#[derive(Default)]
struct Halves {
    young: HashMap<Box<str>, Bearer>,
    old: HashMap<Box<str>, Bearer>,
}

impl VerifiedTokens {
    /// Holds at most this many.
    pub(super) fn holding(most: usize) -> Self {
        Self { half: (most / 2).max(1), halves: Mutex::default() }
    }

    pub(super) fn get(&self, token: &str) -> Option<Bearer> {
        let mut halves = self.halves.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(bearer) = halves.young.get(token) {
            return Some(*bearer);
        }
        let (token, bearer) = halves.old.remove_entry(token)?;
        self.insert(&mut halves, token, bearer);
        Some(bearer)
    }

    pub(super) fn put(&self, token: &str, bearer: Bearer) {
        let mut halves = self.halves.lock().unwrap_or_else(PoisonError::into_inner);
        self.insert(&mut halves, token.into(), bearer);
    }

    fn insert(&self, halves: &mut Halves, token: Box<str>, bearer: Bearer) {
        if halves.young.len() >= self.half {
            halves.old = std::mem::take(&mut halves.young);
        }
        halves.young.insert(token, bearer);
    }
}

impl fmt::Debug for VerifiedTokens {
    /// Tokens are secrets: only how many.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let halves = self.halves.lock().unwrap_or_else(PoisonError::into_inner);
        write!(f, "VerifiedTokens({})", halves.young.len() + halves.old.len())
    }
}

#[cfg(test)]
mod tests {
    use super::{Bearer, VerifiedTokens};
    use dovetally_core::ids::{PersonId, SessionId};
    use uuid::Uuid;

    fn bearer(n: u128) -> Bearer {
        let (person, session) = (PersonId::from_uuid(Uuid::from_u128(n)), SessionId::from_uuid(Uuid::from_u128(n)));
        Bearer { person, session, not_before: 0, expires: 1 }
    }

    #[test]
    fn it_stays_within_its_bound_and_keeps_what_is_used() {
        let cache = VerifiedTokens::holding(8);
        cache.put("used", bearer(0));
        for n in 1..1000 {
            cache.put(&n.to_string(), bearer(n));
            assert_eq!(cache.get("used"), Some(bearer(0)), "after {n}");
            let halves = cache.halves.lock().unwrap();
            assert!(halves.young.len() + halves.old.len() <= 8);
        }
        assert_eq!(cache.get("1"), None);
        assert_eq!(cache.get("999"), Some(bearer(999)));
        assert!(!format!("{cache:?}").contains("used"));
    }
}
