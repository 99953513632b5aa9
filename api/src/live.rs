//! Telling open pages that something has changed: a stream of server-sent events for each.
//!
//! A stream carries no records, only the number of the last change: the page then asks for what it shows, under its own
//! session and rights. One task asks the database for that number while anybody listens, so that the changes of other
//! servers on the same database are seen too. A slow client holds one waiting event and no more: what it missed is in the
//! number that comes next.

use actix_web::{
    body::{BodySize, MessageBody},
    web::Bytes,
};
use dovetally_core::ids::SessionId;
use dovetally_db::{Database, Error, chain, sessions};
use std::{
    collections::BTreeSet,
    convert::Infallible,
    pin::Pin,
    sync::{Arc, Mutex, MutexGuard, PoisonError},
    task::{Context, Poll},
    time::Duration,
};
use tokio::sync::mpsc::{Receiver, Sender, channel, error::TrySendError};

/// Between two looks at the database.
const LOOKS_EVERY: Duration = Duration::from_millis(400);
/// A sign of life, and a look whether the listeners' sessions go on, after so many looks.
const ALIVE_AFTER: u32 = 12;
/// So many streams at once: each is an open connection.
const MOST_STREAMS: usize = 500;

/// Everybody who listens; cheap to clone.
#[derive(Clone, Debug, Default)]
pub struct Live(Arc<Mutex<Listeners>>);

#[derive(Debug, Default)]
struct Listeners {
    streams: Vec<Listener>,
    stopped: bool,
}

#[derive(Debug)]
struct Listener {
    session: SessionId,
    events: Sender<Bytes>,
    /// The number that it took last.
    told: i64,
}

/// Why nobody may listen now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotNow;

impl Live {
    /// Nobody listens yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// A stream for a session, whose first event says where the changes stand.
    ///
    /// # Errors
    /// When as many listen as may, or the server stops.
    pub fn listen(&self, session: SessionId, sequence: i64) -> Result<Events, NotNow> {
        let mut listeners = self.locked();
        listeners.streams.retain(|listener| !listener.events.is_closed());
        if listeners.stopped || listeners.streams.len() >= MOST_STREAMS {
            return Err(NotNow);
        }
        let (events, waiting) = channel(1);
        // There is room for one.
        let _ = events.try_send(changed(sequence));
        listeners.streams.push(Listener { session, events, told: sequence });
        Ok(Events(waiting))
    }

    /// Ends every stream, and takes no new one.
    pub fn stop(&self) {
        let mut listeners = self.locked();
        listeners.stopped = true;
        listeners.streams.clear();
    }

    /// Looks for changes and tells them, until the server stops.
    pub async fn run(self, database: Database) {
        let mut clock = tokio::time::interval(LOOKS_EVERY);
        clock.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
        let mut looks = 0_u32;
        loop {
            clock.tick().await;
            if self.locked().streams.is_empty() {
                continue;
            }
            looks = (looks + 1) % ALIVE_AFTER;
            let sessions = if looks == 0 { self.sessions() } else { BTreeSet::new() };
            let now = database.now();
            let looked = database.read(move |connection| {
                let mut ended = BTreeSet::new();
                for session in sessions {
                    if sessions::signed_in(connection, session, now)?.is_none() {
                        ended.insert(session);
                    }
                }
                Ok::<_, Error>((chain::head(connection)?.sequence, ended))
            });
            match looked.await {
                Ok((sequence, ended)) => {
                    self.locked().streams.retain(|listener| !ended.contains(&listener.session));
                    self.tell(sequence, looks == 0);
                }
                // Without a sign of life the pages say themselves that they are not live.
                Err(error) => tracing::warn!(%error, "could not look for changes"),
            }
        }
    }

    fn sessions(&self) -> BTreeSet<SessionId> {
        self.locked().streams.iter().map(|listener| listener.session).collect()
    }

    /// Tells everybody whom the number is news to, or all; whoever has not taken the event before is told again.
    fn tell(&self, sequence: i64, all: bool) {
        let event = changed(sequence);
        self.locked().streams.retain_mut(|listener| {
            if listener.told == sequence && !all {
                return true;
            }
            match listener.events.try_send(event.clone()) {
                Ok(()) => listener.told = sequence,
                Err(TrySendError::Full(_)) => {}
                Err(TrySendError::Closed(_)) => return false,
            }
            true
        });
    }

    fn locked(&self) -> MutexGuard<'_, Listeners> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// An event that says how many changes there are. A browser comes again a second after its stream broke.
fn changed(sequence: i64) -> Bytes {
    Bytes::from(format!("retry: 1000\nid: {sequence}\nevent: changes\ndata: {sequence}\n\n"))
}

/// One stream, as the body of an answer.
#[derive(Debug)]
pub struct Events(Receiver<Bytes>);

impl MessageBody for Events {
    type Error = Infallible;

    fn size(&self) -> BodySize {
        BodySize::Stream
    }

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Result<Bytes, Infallible>>> {
        self.0.poll_recv(context).map(|event| event.map(Ok))
    }
}

#[cfg(test)]
mod tests {
    use super::{Events, Live, MOST_STREAMS, NotNow};
    use dovetally_core::ids::SessionId;
    use uuid::Uuid;

    fn session() -> SessionId {
        SessionId::from_uuid(Uuid::from_u128(1))
    }

    fn heard(events: &mut Events) -> Vec<String> {
        let mut heard = Vec::new();
        while let Ok(event) = events.0.try_recv() {
            heard.push(String::from_utf8_lossy(&event).into_owned());
        }
        heard
    }

    #[test]
    fn a_stream_begins_with_where_the_changes_stand() {
        let live = Live::new();
        let mut events = live.listen(session(), 7).unwrap();
        assert_eq!(heard(&mut events), ["retry: 1000\nid: 7\nevent: changes\ndata: 7\n\n"]);
    }

    #[test]
    fn a_slow_client_holds_one_event_and_hears_the_next() {
        let live = Live::new();
        let mut events = live.listen(session(), 1).unwrap();
        for sequence in 2..=100 {
            live.tell(sequence, false);
        }
        assert_eq!(heard(&mut events).len(), 1);
        live.tell(100, false);
        assert!(heard(&mut events).concat().contains("data: 100\n"));
        live.tell(100, false);
        assert!(heard(&mut events).is_empty(), "nothing is news twice");
        live.tell(100, true);
        assert_eq!(heard(&mut events).len(), 1, "a sign of life");
    }

    #[test]
    fn so_many_may_listen_and_whoever_left_makes_room() {
        let live = Live::new();
        let mut streams: Vec<Events> = (0..MOST_STREAMS).map(|_| live.listen(session(), 1).unwrap()).collect();
        assert_eq!(live.listen(session(), 1).err(), Some(NotNow));
        drop(streams.pop());
        assert!(live.listen(session(), 1).is_ok());
    }

    #[test]
    fn a_server_that_stops_ends_every_stream() {
        let live = Live::new();
        let mut events = live.listen(session(), 1).unwrap();
        live.stop();
        assert_eq!(heard(&mut events).len(), 1);
        assert!(events.0.try_recv().is_err_and(|end| end == tokio::sync::mpsc::error::TryRecvError::Disconnected));
        assert_eq!(live.listen(session(), 1).err(), Some(NotNow));
    }
}
