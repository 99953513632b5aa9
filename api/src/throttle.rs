//! Slowing down guesses at an account without locking anybody out.
//!
//! After a few failures each further attempt has to wait, longer each time up to half a minute; an attempt before its
//! time is answered with how long to wait, and does not make the wait longer. Somebody who keeps guessing at a
//! colleague's badge must not keep the colleague out: an address from which that account was signed in before has its
//! own count. Unknown badges are counted like known ones, so that the waiting tells nothing.

use chrono::{DateTime, TimeDelta, Utc};
use std::{
    collections::HashMap,
    fmt,
    net::IpAddr,
    sync::{Mutex, PoisonError},
};

/// Failures that cost nothing: people mistype.
const FREE: u32 = 4;
/// The longest wait.
const LONGEST: TimeDelta = TimeDelta::seconds(32);
/// After this long without an attempt a count is forgotten.
const FORGOTTEN: TimeDelta = TimeDelta::minutes(15);
/// Addresses remembered as an account's own.
const ADDRESSES: usize = 4;

/// What is left to an account after an attempt, should it fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Allowance {
    /// Further attempts without a wait.
    pub remaining: u32,
    /// Seconds until the next attempt, once there are none.
    pub wait: u64,
}

impl Allowance {
    /// Nothing is left for so many seconds.
    #[must_use]
    pub const fn spent(wait: u64) -> Self {
        Self { remaining: 0, wait }
    }

    /// The fields `RateLimit-Policy` and `RateLimit` of draft-ietf-httpapi-ratelimit-headers.
    #[must_use]
    pub fn fields(self) -> [(&'static str, String); 2] {
        let policy = format!("\"sign-in\";q={FREE};w={}", FORGOTTEN.num_seconds());
        [("ratelimit-policy", policy), ("ratelimit", format!("\"sign-in\";r={};t={}", self.remaining, self.wait))]
    }
}

/// Counts failed sign-ins per account, in memory: a restart forgets them, and that is harmless.
pub struct Throttle {
    most: usize,
    state: Mutex<State>,
}

#[derive(Default)]
struct State {
    counts: HashMap<(String, Option<IpAddr>), Count>,
    known: HashMap<String, Vec<IpAddr>>,
}

struct Count {
    failures: u32,
    last: DateTime<Utc>,
}

impl Count {
    /// When the next attempt may be made.
    fn open_at(&self) -> DateTime<Utc> {
        match self.failures.checked_sub(FREE) {
            None => self.last,
            Some(over) => self.last + TimeDelta::seconds(1_i64 << over.min(5)).min(LONGEST),
        }
    }
}

impl Throttle {
    /// A throttle that remembers at most this many accounts.
    #[must_use]
    pub fn remembering(most: usize) -> Self {
        Self { most: most.max(1), state: Mutex::default() }
    }

    /// Admits an attempt, counting it as failed until [`Throttle::succeeded`] says otherwise: so attempts at the same
    /// moment do not slip through together.
    ///
    /// # Errors
    /// The whole seconds to wait, at least one.
    pub fn admit(&self, account: &str, address: Option<IpAddr>, now: DateTime<Utc>) -> Result<Allowance, u64> {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        let key = state.key(account, address);
        if let Some(count) = state.counts.get(&key) {
            let wait = count.open_at().signed_duration_since(now);
            if wait > TimeDelta::zero() {
                return Err(u64::try_from((wait.num_milliseconds() + 999) / 1000).unwrap_or(1).max(1));
            }
        }
        if !state.counts.contains_key(&key) && state.counts.len() >= self.most {
            state.make_room(self.most, now);
        }
        let count = state.counts.entry(key).or_insert(Count { failures: 0, last: now });
        if now.signed_duration_since(count.last) > FORGOTTEN {
            count.failures = 0;
        }
        count.failures = count.failures.saturating_add(1);
        count.last = now;
        let wait = count.open_at().signed_duration_since(now).num_seconds();
        Ok(Allowance { remaining: FREE.saturating_sub(count.failures), wait: u64::try_from(wait).unwrap_or(0) })
    }

    /// Forgets an account's failures from here, and remembers the address as one of its own.
    pub fn succeeded(&self, account: &str, address: Option<IpAddr>) {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        let key = state.key(account, address);
        state.counts.remove(&key);
        let Some(address) = address else { return };
        if state.known.len() >= self.most && !state.known.contains_key(account) {
            // Whose own addresses are forgotten only loses the separate count.
            let some = state.known.keys().next().cloned();
            some.map(|account| state.known.remove(&account));
        }
        let known = state.known.entry(account.to_owned()).or_default();
        known.retain(|before| *before != address);
        known.push(address);
        if known.len() > ADDRESSES {
            known.remove(0);
        }
    }
}

impl State {
    fn key(&self, account: &str, address: Option<IpAddr>) -> (String, Option<IpAddr>) {
        let own = |address: &IpAddr| self.known.get(account).is_some_and(|known| known.contains(address));
        (account.to_owned(), address.filter(own))
    }

    /// Drops what is forgotten anyway; if that is nothing, the quarter with the fewest failures, so that nobody washes an
    /// account's count away by trying many others once.
    fn make_room(&mut self, most: usize, now: DateTime<Utc>) {
        self.counts.retain(|_, count| now.signed_duration_since(count.last) <= FORGOTTEN);
        if self.counts.len() < most {
            return;
        }
        let mut order: Vec<_> = self.counts.values().map(|count| (count.failures, count.last)).collect();
        order.sort_unstable();
        let Some(bound) = order.get(order.len() / 4).copied() else { return };
        self.counts.retain(|_, count| (count.failures, count.last) > bound);
    }
}

impl fmt::Debug for Throttle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Throttle").field("most", &self.most).finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::Throttle;
    use chrono::{DateTime, TimeDelta, Utc};
    use std::net::{IpAddr, Ipv4Addr};

    fn at(milliseconds: i64) -> DateTime<Utc> {
        DateTime::from_timestamp_millis(1_800_000_000_000 + milliseconds).unwrap()
    }

    const HOME: Option<IpAddr> = Some(IpAddr::V4(Ipv4Addr::new(10, 0, 0, 1)));
    const AWAY: Option<IpAddr> = Some(IpAddr::V4(Ipv4Addr::new(10, 0, 0, 2)));

    /// Guesses as fast as it may; the times, in seconds, at which guesses were admitted.
    fn guess(throttle: &Throttle, account: &str, from: Option<IpAddr>, guesses: usize) -> Vec<i64> {
        let (mut now, mut admitted) = (0, Vec::new());
        while admitted.len() < guesses {
            match throttle.admit(account, from, at(now * 1000)) {
                Ok(_) => admitted.push(now),
                Err(wait) => now += i64::try_from(wait).unwrap(),
            }
        }
        admitted
    }

    #[test]
    fn the_wait_grows_to_its_bound_and_never_becomes_a_lock() {
        let throttle = Throttle::remembering(100);
        let times = guess(&throttle, "setter", AWAY, 14);
        let waits: Vec<_> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
        assert_eq!(waits, [0, 0, 0, 1, 2, 4, 8, 16, 32, 32, 32, 32, 32]);
    }

    #[test]
    fn an_attempt_before_its_time_does_not_make_the_wait_longer() {
        let throttle = Throttle::remembering(100);
        for _ in 0..6 {
            while throttle.admit("setter", AWAY, at(0)).is_ok() {}
        }
        assert_eq!(throttle.admit("setter", AWAY, at(1)), Err(1));
        assert_eq!(throttle.admit("setter", AWAY, at(999)), Err(1));
        assert_eq!(throttle.admit("setter", AWAY, at(1000)).map(|left| left.remaining), Ok(0));
    }

    #[test]
    fn attempts_at_the_same_moment_do_not_slip_through_together() {
        let throttle = Throttle::remembering(100);
        let admitted = (0..1000).filter(|_| throttle.admit("setter", AWAY, at(0)).is_ok()).count();
        assert_eq!(admitted, 4);
    }

    #[test]
    fn guesses_from_many_addresses_are_counted_together() {
        let throttle = Throttle::remembering(100);
        let from = |n: u8| Some(IpAddr::V4(Ipv4Addr::new(10, 0, 1, n)));
        let admitted = (0..100).filter(|n| throttle.admit("setter", from(*n), at(0)).is_ok()).count();
        assert_eq!(admitted, 4);
    }

    #[test]
    fn success_and_time_clear_the_count() {
        let throttle = Throttle::remembering(100);
        guess(&throttle, "setter", AWAY, 9);
        throttle.succeeded("setter", AWAY);
        assert_eq!(guess(&throttle, "setter", AWAY, 4), [0, 0, 0, 0]);
        let later = at(0) + TimeDelta::minutes(16);
        assert!((0..4).all(|_| throttle.admit("setter", AWAY, later).is_ok()));
    }

    #[test]
    fn who_guesses_elsewhere_does_not_keep_the_person_out() {
        let throttle = Throttle::remembering(100);
        throttle.admit("setter", HOME, at(0)).unwrap();
        throttle.succeeded("setter", HOME);
        guess(&throttle, "setter", AWAY, 12);
        assert!(throttle.admit("setter", HOME, at(0)).is_ok());
        // And the person's own mistakes are slowed down too.
        assert!((0..10).any(|_| throttle.admit("setter", HOME, at(0)).is_err()));
        assert!(throttle.admit("clerk", AWAY, at(0)).is_ok(), "others are not concerned");
    }

    #[test]
    fn it_stays_within_its_bound_and_cannot_be_washed_out() {
        let throttle = Throttle::remembering(64);
        guess(&throttle, "setter", AWAY, 9);
        let now = 200_000;
        for n in 0..10_000 {
            throttle.admit(&format!("nobody-{n}"), AWAY, at(now)).unwrap();
            throttle.succeeded(&format!("somebody-{n}"), HOME);
            let state = throttle.state.lock().unwrap();
            assert!(state.counts.len() <= 64 && state.known.len() <= 64);
        }
        assert!(throttle.admit("setter", AWAY, at(now)).is_ok());
        assert_eq!(throttle.admit("setter", AWAY, at(now)), Err(32), "the count is still there");
    }
}
