//! Secrets people sign in with: argon2id hashes, and secrets made for them.
//!
//! Hashing takes tens of milliseconds and 19 MiB on purpose. So it runs on blocking threads, only so many at a time, and
//! who comes when too many wait is told to come again.

use crate::problem::Problem;
use actix_web::web;
use argon2::{Algorithm, Argon2, Params, PasswordHasher, PasswordVerifier, Version, password_hash};
use std::{fmt, sync::Arc, time::Duration};
use tokio::{sync::Semaphore, time::timeout};

/// What a hash costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HashingCost {
    /// 19 MiB, two passes, one lane: OWASP's password storage cheat sheet (recalled).
    Standard,
    /// As little as the algorithm takes. Only for tests that sign in hundreds of times.
    CheapForTests,
}

impl HashingCost {
    fn params(self) -> Result<Params, password_hash::Error> {
        let (memory_kib, passes) = match self {
            Self::Standard => (19_456, 2),
            Self::CheapForTests => (Params::MIN_M_COST, 1),
        };
        Params::new(memory_kib, passes, 1, None).map_err(Into::into)
    }
}

/// Hashes and verifies secrets. Clones share their places.
#[derive(Clone)]
pub struct Passwords(Arc<Inner>);

struct Inner {
    hasher: Argon2<'static>,
    /// The hash of a secret that nobody has. An unknown badge is verified against it, and takes as long as a known one.
    nobody: String,
    places: Semaphore,
}

impl fmt::Debug for Passwords {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Passwords").field("params", self.0.hasher.params()).finish_non_exhaustive()
    }
}

/// How long a sign-in waits for its turn to be hashed.
const PATIENCE: Duration = Duration::from_secs(5);

impl Passwords {
    /// A hasher that works on at most `places` secrets at a time, about as many as there are processors.
    ///
    /// # Errors
    /// When the system gives no randomness.
    pub fn new(cost: HashingCost, places: usize) -> Result<Self, password_hash::Error> {
        let hasher = Argon2::new(Algorithm::Argon2id, Version::V0x13, cost.params()?);
        let nobody = hash(&hasher, &readable_secret().map_err(|_| password_hash::Error::Crypto)?)?;
        Ok(Self(Arc::new(Inner { hasher, nobody, places: Semaphore::new(places.max(1)) })))
    }

    /// The hash of a secret, as a PHC string with its own salt. Blocks; for commands and start-up.
    ///
    /// # Errors
    /// When the system gives no randomness.
    pub fn hash_blocking(&self, secret: &str) -> Result<String, password_hash::Error> {
        hash(&self.0.hasher, secret)
    }

    /// Whether the secret is the one that was hashed; without a hash it works as long, and the answer is no. Blocks.
    #[must_use]
    pub fn verify_blocking(&self, secret: &str, hash: Option<&str>) -> bool {
        let matches = self.0.hasher.verify_password(secret.as_bytes(), hash.unwrap_or(&self.0.nobody)).is_ok();
        matches && hash.is_some()
    }

    /// The hash of a secret, made on a blocking thread.
    ///
    /// # Errors
    /// 503 when too many wait; 500 when hashing fails.
    pub async fn hash(&self, secret: String) -> Result<String, Problem> {
        let this = self.clone();
        self.in_turn(move || this.hash_blocking(&secret)).await?.map_err(|error| Problem::internal(error.to_string()))
    }

    /// Whether the secret is the one that was hashed, found out on a blocking thread.
    ///
    /// # Errors
    /// 503 when too many wait.
    pub async fn verify(&self, secret: String, hash: Option<String>) -> Result<bool, Problem> {
        let this = self.clone();
        self.in_turn(move || this.verify_blocking(&secret, hash.as_deref())).await
    }

    async fn in_turn<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> Result<T, Problem> {
        let place = timeout(PATIENCE, self.0.places.acquire()).await.map_err(|_| Problem::busy(2))?;
        let _place = place.map_err(Problem::internal)?;
        web::block(work).await.map_err(Problem::internal)
    }
}

fn hash(hasher: &Argon2<'_>, secret: &str) -> Result<String, password_hash::Error> {
    let mut salt = [0; 16];
    getrandom::fill(&mut salt).map_err(|_| password_hash::Error::Crypto)?;
    Ok(hasher.hash_password_with_salt(secret.as_bytes(), &salt)?.to_string())
}

/// The letters of made secrets: no two that look or sound alike, and no vowels that make words.
const LETTERS: &[u8; 32] = b"23456789bcdfghjkmnpqrstvwxzBDGHR";

/// A random secret that can be read out and typed: five groups of four, 100 bits.
///
/// # Errors
/// When the system gives no randomness.
pub fn readable_secret() -> Result<String, getrandom::Error> {
    let mut bytes = [0_u8; 20];
    getrandom::fill(&mut bytes)?;
    let mut secret = String::with_capacity(24);
    for (at, byte) in bytes.into_iter().enumerate() {
        if at > 0 && at % 4 == 0 {
            secret.push('-');
        }
        // 32 letters: five bits of each byte, so all are equally likely.
        secret.push(char::from(LETTERS[usize::from(byte % 32)]));
    }
    Ok(secret)
}

#[cfg(test)]
mod tests {
    use super::{HashingCost, Inner, LETTERS, Passwords, readable_secret};
    use std::{collections::BTreeSet, sync::Arc, time::Instant};
    use tokio::sync::Semaphore;

    fn cheap() -> Passwords {
        Passwords::new(HashingCost::CheapForTests, 2).unwrap()
    }

    #[test]
    fn the_standard_cost_is_the_recommended_one() {
        let passwords = Passwords::new(HashingCost::Standard, 1).unwrap();
        let hash = passwords.hash_blocking("secret").unwrap();
        assert!(hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{hash}");
    }

    #[test]
    fn only_the_secret_matches_and_each_hash_has_its_salt() {
        let passwords = cheap();
        let hash = passwords.hash_blocking("right").unwrap();
        assert_ne!(hash, passwords.hash_blocking("right").unwrap());
        assert!(passwords.verify_blocking("right", Some(&hash)));
        for wrong in ["", "Right", "right ", "wrong"] {
            assert!(!passwords.verify_blocking(wrong, Some(&hash)), "{wrong}");
        }
        assert!(!passwords.verify_blocking("right", Some("not a hash")));
        assert!(!passwords.verify_blocking("right", None));
        // A hash made at another cost still verifies: its cost stands in it.
        let standard = Passwords::new(HashingCost::Standard, 1).unwrap();
        assert!(standard.verify_blocking("right", Some(&hash)));
    }

    #[test]
    fn nobodys_own_secret_opens_nothing() {
        let hasher = cheap().0.hasher.clone();
        let nobody = super::hash(&hasher, "known").unwrap();
        let passwords = Passwords(Arc::new(Inner { hasher, nobody, places: Semaphore::new(1) }));
        assert!(!passwords.verify_blocking("known", None));
    }

    #[test]
    fn an_unknown_person_takes_as_long_as_a_known_one() {
        let passwords = Passwords::new(HashingCost::Standard, 1).unwrap();
        let hash = passwords.hash_blocking("right").unwrap();
        let time = |hash: Option<&str>| {
            let run = || {
                let start = Instant::now();
                assert!(!passwords.verify_blocking("wrong", hash));
                start.elapsed()
            };
            (0..5).map(|_| run()).min().unwrap_or_default()
        };
        let (known, unknown) = (time(Some(&hash)), time(None));
        // Without the work it would be a thousandth; the bounds only leave room for a busy machine.
        assert!(unknown > known / 3 && known > unknown / 3, "{known:?} and {unknown:?}");
    }

    #[actix_web::test]
    async fn hashing_waits_its_turn_and_more_than_the_places_get_through() {
        let passwords = cheap();
        let hash = passwords.hash("right".to_owned()).await.unwrap();
        let all = (0..16).map(|n| {
            let secret = if n % 2 == 0 { "right" } else { "wrong" };
            passwords.verify(secret.to_owned(), Some(hash.clone()))
        });
        let answers = futures_util::future::join_all(all).await;
        assert!(answers.into_iter().enumerate().all(|(n, answer)| answer.unwrap() == (n % 2 == 0)));
    }

    #[actix_web::test(start_paused = true)]
    async fn who_waits_too_long_is_told_to_come_again() {
        let passwords = cheap();
        let _all = passwords.0.places.acquire_many(2).await.unwrap();
        let problem = passwords.verify("x".to_owned(), None).await.unwrap_err();
        assert_eq!(problem.code().code(), "busy");
    }

    #[test]
    fn made_secrets_are_readable_and_differ() {
        assert_eq!(LETTERS.iter().collect::<BTreeSet<_>>().len(), 32);
        let mut letters = BTreeSet::new();
        let mut secrets = BTreeSet::new();
        for _ in 0..200 {
            let secret = readable_secret().unwrap();
            let groups: Vec<_> = secret.split('-').collect();
            assert!(groups.len() == 5 && groups.iter().all(|group| group.len() == 4), "{secret}");
            letters.extend(secret.bytes().filter(|b| *b != b'-'));
            secrets.insert(secret);
        }
        assert_eq!((secrets.len(), letters.len()), (200, 32));
        assert!(letters.iter().all(|letter| LETTERS.contains(letter)));
    }
}
