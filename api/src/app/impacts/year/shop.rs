//! The demo shop under a clock that a test sets, and the steps of its setups.

use crate::{
    app::{custody, gauge_checks, holder_checks, setups},
    cli::ServeFlags,
    config::{Config, Environment},
    demo,
    extract::Reference,
    principal::Principal,
    problem::Problem,
    transport::setup_event::EventBody,
};
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::{
    code::Code,
    gauge::impact::{Entry, Touched, Window, touched},
    ids::{ItemId, RunId, SessionId, SetupId},
};
use dovetally_db::{
    Database, DatabaseUrl, FixedClock, OpenOptions, Tx, WriteMode,
    codes::{self, CodeSubject},
    impacts, people,
};
use dovetally_tests::postgres::PostgresDatabase;
use serde_json::{Value, json};
use std::{collections::BTreeSet, sync::Arc};
use uuid::Uuid;

pub(super) const OURS: &str = "CG-101";
pub(super) const OTHER: &str = "CG-104";

pub(super) fn at(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

/// The demo shop under a clock.
pub(super) struct Year {
    pub(super) database: Database,
    pub(super) clock: Arc<FixedClock>,
    // Dropped after the handle on the database.
    _folder: tempfile::TempDir,
    _server: Option<PostgresDatabase>,
}

impl Year {
    pub(super) fn begin(on_postgres: bool) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let server = on_postgres.then(PostgresDatabase::create);
        let url = match &server {
            Some(server) => DatabaseUrl::parse(server.url()).unwrap(),
            None => DatabaseUrl::Sqlite(folder.path().join("shop.db")),
        };
        let clock = Arc::new(FixedClock::at(at("2026-01-05T06:00:00Z")));
        let database = Database::open(OpenOptions::new(url, Arc::<FixedClock>::clone(&clock))).unwrap();
        let environment = Environment::from([
            ("DOVETALLY_DEMO_HISTORY".to_owned(), "none".to_owned()),
            ("DOVETALLY_DEMO_SECRET".to_owned(), "bar-stock-and-cutting-oil".to_owned()),
            ("DOVETALLY_HASHING".to_owned(), "cheap-for-tests".to_owned()),
        ]);
        let config = Config::load(&ServeFlags::default(), &environment).unwrap();
        assert!(demo::load_if_empty(&config, &database).unwrap().is_some());
        Self { database, clock, _folder: folder, _server: server }
    }

    /// Does something as somebody, a minute later.
    pub(super) fn by<T: Send + 'static>(
        &self,
        badge: &'static str,
        deed: impl Fn(&mut Tx<'_>, &Principal) -> Result<T, Problem> + Send + 'static,
    ) -> T {
        self.clock.advance(TimeDelta::minutes(1));
        let done = self.database.write_blocking(WriteMode::Keep, move |tx| {
            let who = principal(tx, badge)?;
            deed(tx, &who)
        });
        done.unwrap_or_else(|problem: Problem| panic!("{badge}: {problem:?}"))
    }

    pub(super) fn event(&self, badge: &'static str, setup: SetupId, event: Value) {
        let Value::Object(fields) = event.clone() else { panic!("{event}") };
        self.by(badge, move |tx, who| {
            let body = EventBody::parse(fields.clone())?;
            setups::take_in(tx, who, setup, &body, None)
                .map(drop)
                .map_err(|problem| Problem::internal(format!("{event}: {problem:?}")))
        });
    }

    /// An event that is refused: what is said against it.
    pub(super) fn refused(&self, badge: &'static str, setup: SetupId, event: Value) -> String {
        let Value::Object(fields) = event else { panic!("{event}") };
        let refused = self.database.write_blocking(WriteMode::Rehearse, move |tx| {
            let who = principal(tx, badge)?;
            let body = EventBody::parse(fields.clone())?;
            setups::take_in(tx, &who, setup, &body, None).map(drop)
        });
        format!("{:?}", refused.unwrap_err())
    }

    pub(super) fn check(&self, gauge: &'static str, as_found: f64, as_left: Option<f64>) {
        let inches = |value: f64| json!({"value": value, "unit": "in"});
        let mut check = json!({"as_found": inches(as_found), "standard_uncertainty": inches(0.000_05),
            "next_check": "2027-12-31"});
        if let Some(as_left) = as_left {
            check["as_left"] = inches(as_left);
        }
        self.by("inspector", move |tx, who| {
            let body = serde_json::from_value(check.clone()).map_err(Problem::internal)?;
            gauge_checks::record_in(tx, who, &code_of(gauge), &body).map(drop)
        });
    }

    pub(super) fn open(&self, job: bool) -> SetupId {
        let mut new = json!({"machine": "M-101", "part": "P-2001", "stations": [{"station": "S1"}, {"station": "S2"}]});
        if job {
            new["job"] = json!("J-5001");
        }
        self.by("setter", move |tx, who| {
            let body = serde_json::from_value(new.clone()).map_err(Problem::internal)?;
            setups::open_in(tx, who, &body).map(|opened| opened.1)
        })
    }

    /// Puts holder and tool in at a station.
    pub(super) fn put_in(&self, setup: SetupId, station: &str) {
        let (holder, tool) = if station == "S1" { ("HD-01", "FT-001") } else { ("HD-02", "FT-004") };
        let seat = json!({"kind": "holder_seated", "station": station, "holder": holder, "seat_clean": true,
            "seated_flush": true, "side_screw_free": true});
        self.event("setter", setup, seat);
        self.event("setter", setup, json!({"kind": "tool_inserted", "station": station, "form_tool": tool}));
    }

    /// Puts holder and tool in and sets the height at a station with a gauge.
    pub(super) fn set(&self, setup: SetupId, station: &str, gauge: &str) {
        self.put_in(setup, station);
        self.place(setup, station, gauge);
        self.read(setup, station, "before_clamping");
        self.event("setter", setup, json!({"kind": "tool_clamped", "station": station}));
        self.read(setup, station, "after_clamping");
        self.remove(setup, station, gauge);
    }

    pub(super) fn place(&self, setup: SetupId, station: &str, gauge: &str) {
        let placed = json!({"kind": "gauge_placed", "station": station, "gauge": gauge, "machine_stopped": true});
        self.event("setter", setup, placed);
    }

    pub(super) fn read(&self, setup: SetupId, station: &str, phase: &str) {
        self.event(
            "setter",
            setup,
            json!({"kind": "height_read", "station": station, "phase": phase, "on_gauge": true}),
        );
    }

    pub(super) fn remove(&self, setup: SetupId, station: &str, gauge: &str) {
        self.event("setter", setup, json!({"kind": "gauge_removed", "station": station, "gauge": gauge}));
    }

    /// From set stations to a release.
    pub(super) fn release(&self, setup: SetupId) {
        let inches = |value: f64| json!({"value": value, "unit": "in"});
        let bar = json!({"kind": "stock_fed", "bar_diameter": inches(0.6875), "bar_shape": "round"});
        self.event("setter", setup, bar);
        self.event("setter", setup, json!({"kind": "index_clearance_confirmed", "confirmed": true}));
        for station in ["S1", "S2"] {
            self.event("setter", setup, json!({"kind": "approach_read", "station": station, "gap": inches(0.01)}));
        }
        self.event("setter", setup, json!({"kind": "trial_cut_begun"}));
        let piece = self.database.read_blocking(move |connection| setups::load(connection, setup)).unwrap();
        let piece = piece.setup.stations.iter().map(|station| station.first_good_piece).max();
        let size = |station: &str, feature: &str, value| json!({"station": station, "feature": feature, "value": inches(value)});
        let judged = json!({"kind": "first_piece_judged", "accepted": true, "piece": piece, "readings":
            [size("S1", "D1", 0.505), size("S2", "D2", 0.4795), size("S2", "D3", 0.5992)]});
        self.event("inspector", setup, judged);
        self.event("setter", setup, json!({"kind": "run_released"}));
    }

    pub(super) fn stop(&self, setup: SetupId, pieces: u64) {
        self.event(
            "setter",
            setup,
            json!({"kind": "run_stopped", "pieces": pieces, "reason": "shift ends", "confirmed": true}),
        );
    }

    pub(super) fn close(&self, setup: SetupId) {
        self.event("setter", setup, json!({"kind": "closed", "reason": "order done"}));
    }

    /// A whole setup with these gauges at its two stations.
    pub(super) fn whole(&self, gauges: [&str; 2], pieces: u64, job: bool) -> SetupId {
        let setup = self.open(job);
        self.set(setup, "S1", gauges[0]);
        self.set(setup, "S2", gauges[1]);
        self.release(setup);
        self.stop(setup, pieces);
        self.close(setup);
        setup
    }

    pub(super) fn item(&self, code: &str) -> ItemId {
        let code = Code::parse(code).unwrap();
        let id = self.database.read_blocking(move |connection| codes::find_id(connection, CodeSubject::Item, &code));
        ItemId::from_uuid(id.unwrap().unwrap())
    }

    /// What the records say that our gauge has touched.
    pub(super) fn touched(&self, since: DateTime<Utc>, until: Option<DateTime<Utc>>) -> Vec<Entry> {
        let (gauge, window) = (self.item(OURS), Window { since: Some(since), until });
        let facts = self.database.read_blocking(move |connection| impacts::touched_setups(connection, gauge, window));
        touched(gauge, window, &facts.unwrap())
    }

    /// The runs among entries, by setup and number.
    pub(super) fn runs(&self, entries: &[Entry]) -> BTreeSet<(SetupId, i32)> {
        let run = |entry: &Entry| if let Touched::Run(id) = entry.touched { Some(id) } else { None };
        let ids: Vec<RunId> = entries.iter().filter_map(run).collect();
        let named = self.database.read_blocking(move |connection| impacts::named_runs(connection, &ids)).unwrap();
        named.into_iter().map(|run| (run.setup, run.number)).collect()
    }
}

pub(super) fn code_of(code: &str) -> Reference {
    Reference::Code(Code::parse(code).unwrap())
}

/// The shop with both gauges, two holders and two tools in the setter's hands, all in date.
pub(super) fn ready(on_postgres: bool) -> Year {
    let year = Year::begin(on_postgres);
    let hand_out = json!({"items": ["HD-01", "FT-001", "HD-02", "FT-004", OURS, OTHER], "person": "setter",
        "purpose": "use"});
    year.check(OTHER, 3.75, None);
    for holder in ["HD-01", "HD-02"] {
        year.by("inspector", move |tx, who| {
            let check = json!({"accepted": true, "taper_adjuster_free": true, "height_adjuster_free": true,
                "side_screw_free": true, "seat_clean": true, "next_check": "2027-12-31"});
            let check = serde_json::from_value(check).map_err(Problem::internal)?;
            holder_checks::record_in(tx, who, &code_of(holder), &check).map(drop)
        });
    }
    year.by("clerk", move |tx, who| {
        let body = serde_json::from_value(hand_out.clone()).map_err(Problem::internal)?;
        custody::check_out_in(tx, who, &body).map(drop)
    });
    year
}

/// Who controls gauges.
pub(super) fn inspector(tx: &mut Tx<'_>) -> Result<Principal, Problem> {
    principal(tx, "inspector")
}

fn principal(tx: &mut Tx<'_>, badge: &str) -> Result<Principal, Problem> {
    let found = people::find_by_badge(tx.connection(), badge)?.ok_or_else(|| Problem::not_found("person", badge))?;
    let session = SessionId::from_uuid(Uuid::nil());
    let (name, roles) = (found.fields.name, found.fields.roles);
    Ok(Principal { person: found.id, badge: found.badge, name, roles, session })
}
