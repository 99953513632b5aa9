//! A large shop, written behind the server's back: what years of work leave in the tables. The rows are made by SQL that
//! both databases understand; where they differ, [`Dialect`] knows how.

use crate::years;

/// How a database makes ids, times and days from numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Dialect {
    Sqlite,
    Postgres,
}

pub(crate) const MACHINES: u32 = 40;
pub(crate) const PEOPLE: u32 = 60;
pub(crate) const PLACES: u32 = 300;
pub(crate) const DESIGNS: u32 = 120;
pub(crate) const PARTS: u32 = 200;
pub(crate) const JOBS: u32 = 4_000;
/// Jobs that are still to be made.
const OPEN_JOBS: u32 = 400;
pub(crate) const FORM_TOOLS: u32 = 6_000;
pub(crate) const HOLDERS: u32 = 3_000;
pub(crate) const GAUGES: u32 = 500;
pub(crate) const OTHERS: u32 = 500;
pub(crate) const ITEMS: u32 = FORM_TOOLS + HOLDERS + GAUGES + OTHERS;
pub(crate) const MOVEMENTS: u32 = 1_000_000;
pub(crate) const SETUPS: u32 = 50_000;

/// The instant from which the shop's history is counted: 2025-01-01T00:00:00Z. Every movement and setup lies after it and
/// before the tests' own time.
const BEGIN: u32 = 1_735_689_600;
/// Seconds between two movements of the shop.
const MOVEMENT_EVERY: u32 = 50;
/// Seconds between the beginnings of two setups.
const SETUP_EVERY: u32 = 1_000;

impl Dialect {
    /// An id of the table with this number, from an expression that counts from 1.
    pub(crate) fn id(self, table: u32, number: &str) -> String {
        format!("('{table:08x}-0000-7000-8000-' || CAST(100000000000 + {number} AS TEXT))")
    }

    /// A time so many seconds after the beginning.
    pub(crate) fn time(self, seconds: &str) -> String {
        match self {
            Self::Sqlite => format!("strftime('%Y-%m-%d %H:%M:%S', {BEGIN} + {seconds}, 'unixepoch')"),
            Self::Postgres => format!("(to_timestamp({BEGIN} + {seconds}) AT TIME ZONE 'UTC')"),
        }
    }

    /// A day so many days from today.
    pub(crate) fn day(self, days: &str) -> String {
        match self {
            Self::Sqlite => format!("date('now', ({days}) || ' days')"),
            Self::Postgres => format!("(CURRENT_DATE + ({days})::int)"),
        }
    }

    /// Rows from 1 to a count, as `n(i)`.
    pub(crate) fn rows(count: u32) -> String {
        format!("WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < {count}) ")
    }

    /// Keys are not asked for while the rows go in; they fit each other by how they are made.
    pub(crate) const fn before(self) -> &'static str {
        match self {
            Self::Sqlite => "PRAGMA foreign_keys = OFF; PRAGMA synchronous = OFF; PRAGMA cache_size = -200000;",
            Self::Postgres => "SET session_replication_role = replica; SET synchronous_commit = off;",
        }
    }

    /// What the databases do by themselves while a shop is at work.
    pub(crate) const fn after(self) -> &'static str {
        match self {
            Self::Sqlite => "ANALYZE",
            Self::Postgres => "VACUUM ANALYZE",
        }
    }
}

const PLACE: u32 = 1;
pub(crate) const PERSON: u32 = 2;
pub(crate) const MACHINE: u32 = 3;
pub(crate) const DESIGN: u32 = 4;
pub(crate) const ITEM: u32 = 5;
const PART: u32 = 6;
pub(crate) const JOB: u32 = 7;
pub(crate) const SETUP: u32 = 8;
pub(crate) const RUN: u32 = 9;
const MOVEMENT: u32 = 10;
const CHANGE: u32 = 11;
const STATION: u32 = 12;
const CHECK: u32 = 13;
const BOOKING: u32 = 14;

/// The statements, in order. The demo shop is in the tables already: its machines, designs, parts and setups lend their
/// documents.
pub(crate) fn statements(d: Dialect) -> Vec<String> {
    let mut all = registry(d);
    all.extend(items(d));
    all.extend(bookings(d));
    all.extend(movements(d));
    all.extend(setups(d));
    all.extend(years::statements(d));
    all
}

fn registry(d: Dialect) -> Vec<String> {
    let begin = d.time("0");
    let rows = Dialect::rows;
    let code = |prefix: &str| format!("'{prefix}-' || CAST(100000 + i AS TEXT)");
    let codes = |prefix: &str, kind: &str, table: u32, count: u32| {
        format!(
            "{}INSERT INTO codes (code, subject_kind, subject_id, alias) SELECT {}, '{kind}', {}, FALSE FROM n",
            rows(count),
            code(prefix),
            d.id(table, "i")
        )
    };
    vec![
        codes("PL", "place", PLACE, PLACES),
        codes("MA", "machine", MACHINE, MACHINES),
        codes("TD", "tool_design", DESIGN, DESIGNS),
        codes("PT", "part", PART, PARTS),
        codes("JB", "job", JOB, JOBS),
        codes("IT", "item", ITEM, ITEMS),
        format!(
            "{}INSERT INTO places (id, code, name, kind, retired, version, created_at, updated_at)
             SELECT {}, {}, 'Bin', 'bin', FALSE, 1, {begin}, {begin} FROM n",
            rows(PLACES), d.id(PLACE, "i"), code("PL"),
        ),
        format!(
            "{}INSERT INTO people (id, badge, name, secret_hash, disabled, version, created_at, updated_at)
             SELECT {}, 'person-' || CAST(i AS TEXT), 'Person', 'none', FALSE, 1, {begin}, {begin} FROM n",
            rows(PEOPLE), d.id(PERSON, "i"),
        ),
        format!(
            "{}INSERT INTO machines (id, code, name, spindles, positions, cutoff_position, pieces_per_cycle,
                 spindle_rotation, center_height_nominal_pm, center_height_nominal_unit, retired, version, created_at,
                 updated_at)
             SELECT {}, {}, 'Six-spindle', 6, 6, 6, 1, 'clockwise', 95250000000, 'in', FALSE, 1, {begin}, {begin} FROM n",
            rows(MACHINES), d.id(MACHINE, "i"), code("MA"),
        ),
        format!(
            "{}INSERT INTO machine_states (machine_id, version, mode, tagged_out) SELECT {}, 1, 'idle', FALSE FROM n",
            rows(MACHINES), d.id(MACHINE, "i"),
        ),
        format!(
            "{}INSERT INTO machine_stations (id, machine_id, code, position, kind, tool_face, adjusters)
             SELECT {}, {}, 'S' || CAST(1 + i % 4 AS TEXT), 1 + i % 4, 'cross_slide', 'up', '[]' FROM n",
            rows(MACHINES * 4), d.id(STATION, "i"), d.id(MACHINE, "(1 + (i - 1) / 4)"),
        ),
        format!(
            "{}INSERT INTO tool_designs (id, code, name, kind, tool_face, rake_deg, clearance_deg, steps, new_height_pm,
                 new_height_unit, minimum_height_pm, minimum_height_unit, grind_stock_pm, grind_stock_unit, holder_style,
                 expected_pieces_per_grind, retired, version, created_at, updated_at)
             SELECT {}, {}, name, kind, tool_face, rake_deg, clearance_deg, steps, new_height_pm, new_height_unit,
                 minimum_height_pm, minimum_height_unit, grind_stock_pm, grind_stock_unit,
                 'style-' || CAST(i % 12 AS TEXT), expected_pieces_per_grind, FALSE, 1, {begin}, {begin}
             FROM n, (SELECT * FROM tool_designs ORDER BY code LIMIT 1) AS like_this",
            rows(DESIGNS), d.id(DESIGN, "i"), code("TD"),
        ),
        format!(
            "{}INSERT INTO parts (id, code, name, retired, version, created_at, updated_at)
             SELECT {}, {}, 'Part', FALSE, 1, {begin}, {begin} FROM n",
            rows(PARTS), d.id(PART, "i"), code("PT"),
        ),
        format!(
            "{}INSERT INTO part_operations (part_id, station, tool_design_id, holder_style, features)
             SELECT {}, 'S' || CAST(1 + i % 3 AS TEXT), {}, 'style-' || CAST((1 + i % {DESIGNS}) % 12 AS TEXT), '[]' FROM n",
            rows(PARTS * 3), d.id(PART, "(1 + (i - 1) / 3)"), d.id(DESIGN, &format!("(1 + i % {DESIGNS})")),
        ),
        format!(
            "{}INSERT INTO jobs (id, code, part_id, machine_id, quantity, planned_start, state, version, created_at,
                 updated_at)
             SELECT {}, {}, {}, {}, 500 + 37 * (i % 400), {}, CASE WHEN i <= {OPEN_JOBS} THEN 'planned' ELSE 'done' END, 1, {begin}, {begin} FROM n",
            rows(JOBS), d.id(JOB, "i"), code("JB"), d.id(PART, &format!("(1 + i % {PARTS})")),
            d.id(MACHINE, &format!("(1 + i % {MACHINES})")), d.day("i % 60"),
        ),
    ]
}

fn items(d: Dialect) -> Vec<String> {
    let begin = d.time("0");
    let rows = Dialect::rows;
    let (holders, gauges, others) = (FORM_TOOLS + HOLDERS, FORM_TOOLS + HOLDERS + GAUGES, ITEMS);
    let item = |first: u32| d.id(ITEM, &format!("({first} + i)"));
    vec![
        format!(
            "{}INSERT INTO items (id, code, kind, name, condition, version, created_at, updated_at)
             SELECT {}, 'IT-' || CAST(100000 + i AS TEXT),
                 CASE WHEN i <= {FORM_TOOLS} THEN 'form_tool' WHEN i <= {holders} THEN 'holder'
                      WHEN i <= {gauges} THEN 'center_gauge' ELSE 'other' END, 'Item',
                 CASE WHEN i % 17 = 0 THEN 'needs_grinding' WHEN i % 23 = 0 THEN 'needs_check' ELSE 'usable' END,
                 1, {begin}, {begin} FROM n",
            rows(others), d.id(ITEM, "i"),
        ),
        format!(
            "{}INSERT INTO form_tools (item_id, kind, design_id, height_pm, height_unit, regrind_count, pieces_since_grind,
                 pieces_total, last_ground_at, checked_after_grind, edges_ended)
             SELECT {}, 'form_tool', d.id, d.minimum_height_pm + (d.new_height_pm - d.minimum_height_pm) * (i % 50) / 50,
                 d.new_height_unit, 3 + i % 7, i % 5000, 20000 + i % 5000, {begin}, TRUE, 5
             FROM n JOIN tool_designs d ON d.id = {}",
            rows(FORM_TOOLS), item(0), d.id(DESIGN, &format!("(1 + i % {DESIGNS})")),
        ),
        // Five edges of each tool that ended, three of them worn out.
        format!(
            "{}INSERT INTO tool_edges (tool_id, number, design_id, pieces, ended, partly_ground, failed, ended_at)
             SELECT {}, 1 + (i - 1) / {FORM_TOOLS}, {}, 3000 + (i * 37) % 4001,
                 CASE WHEN i % 5 < 3 THEN 'worn' ELSE 'early' END, FALSE, i % 5 < 3, {} FROM n",
            rows(FORM_TOOLS * 5), d.id(ITEM, &format!("(1 + (i - 1) % {FORM_TOOLS})")),
            d.id(DESIGN, &format!("(1 + (1 + (i - 1) % {FORM_TOOLS}) % {DESIGNS})")), d.time("i * 600"),
        ),
        format!(
            "{}INSERT INTO holders (item_id, kind, style, adjusters, next_check)
             SELECT {}, 'holder', 'style-' || CAST(i % 12 AS TEXT), '[]', {} FROM n",
            rows(HOLDERS), item(FORM_TOOLS), d.day("i % 400 - 5"),
        ),
        format!(
            "{}INSERT INTO center_gauges (item_id, kind, machine_id, nominal_pm, nominal_unit, lower_pm, lower_unit,
                 upper_pm, upper_unit, next_check, last_accepted_check_at)
             SELECT {}, 'center_gauge', {}, 95250000000, 'in', -12700000, 'in', 12700000, 'in', {}, {begin} FROM n",
            rows(GAUGES), item(FORM_TOOLS + HOLDERS), d.id(MACHINE, &format!("(1 + i % {MACHINES})")), d.day("i % 300 - 3"),
        ),
        format!(
            "INSERT INTO gauge_bindings (gauge_id, number, machine_id, bound_from)
             SELECT item_id, 1, machine_id, {begin} FROM center_gauges
             WHERE item_id NOT IN (SELECT gauge_id FROM gauge_bindings)"
        ),
        // Twelve checks of each gauge, one a month.
        format!(
            "{}INSERT INTO gauge_checks (id, gauge_id, machine_id, as_found_pm, as_found_unit, standard_uncertainty_pm,
                 standard_uncertainty_unit, accepted, next_check, performed_at, recorded_by, recorded_at)
             SELECT {}, {}, {}, 95250000000 + 300000 * (i / {GAUGES}) + 100000 * (i % 5), 'in', 1270000, 'in', TRUE, {}, {at},
                 {}, {at} FROM n",
            rows(GAUGES * 12), d.id(CHECK, "i"), d.id(ITEM, &format!("({} + 1 + i % {GAUGES})", FORM_TOOLS + HOLDERS)),
            d.id(MACHINE, &format!("(1 + (1 + i % {GAUGES}) % {MACHINES})")), d.day("30"), d.id(PERSON, "1"),
            at = d.time(&format!("2592000 * (i / {GAUGES}) + i % {GAUGES}")),
        ),
    ]
}

/// A tool of each job's part is kept for it, of done jobs until they were done.
fn bookings(d: Dialect) -> Vec<String> {
    let rows = Dialect::rows;
    let begin = d.time("0");
    // The first operation of a job's part is at station S2.
    let tool = d.id(ITEM, &format!("((3 * (i % {PARTS}) + 1) % {DESIGNS} + {DESIGNS} * (1 + (i / 40) % 49))"));
    let day = d.day("i % 60");
    vec![
        format!(
            "{}INSERT INTO bookings (id, job_id, item_id, station, first_day, last_day, booked_by, booked_at, ended_at,
                 ended_because, version)
             SELECT {}, {}, {tool}, 'S2', {day}, {day}, {}, {begin}, CASE WHEN i > {OPEN_JOBS} THEN {begin} END,
                 CASE WHEN i > {OPEN_JOBS} THEN 'done' END, 1 FROM n",
            rows(JOBS),
            d.id(BOOKING, "i"),
            d.id(JOB, "i"),
            d.id(PERSON, "1"),
        ),
        format!(
            "{}INSERT INTO booking_days (item_id, day, booking_id) SELECT {tool}, {day}, {} FROM n",
            rows(OPEN_JOBS),
            d.id(BOOKING, "i"),
        ),
    ]
}

fn movements(d: Dialect) -> Vec<String> {
    let rows = Dialect::rows;
    let (item, sequence) = (format!("(1 + (i - 1) % {ITEMS})"), format!("(1 + (i - 1) / {ITEMS})"));
    // An item goes out to a person and back to its place in turn; every tenth is out at the end.
    let out = format!("((({sequence} + CASE WHEN {item} % 10 = 0 THEN 1 ELSE 0 END) % 2) = 0)");
    let place = d.id(PLACE, &format!("(1 + {item} % {PLACES})"));
    let person = d.id(PERSON, &format!("(1 + ({item} + {sequence} / 2) % {PEOPLE})"));
    let at = d.time(&format!("i * {MOVEMENT_EVERY}"));
    let job = format!("CASE WHEN {item} % 7 = 0 THEN {} END", d.id(JOB, &format!("(1 + {item} % {JOBS})")));
    vec![
        format!(
            "{}INSERT INTO movements (id, item_id, item_sequence, kind, from_kind, from_place_id, from_person_id, to_kind,
                 to_place_id, to_person_id, condition, purpose, due, job_id, recorded_by, occurred_at, recorded_at)
             SELECT {}, {}, {sequence},
                 CASE WHEN {sequence} = 1 THEN 'registered' WHEN {out} THEN 'checked_out' ELSE 'checked_in' END,
                 CASE WHEN {sequence} = 1 THEN NULL WHEN {out} THEN 'place' ELSE 'person' END,
                 CASE WHEN {sequence} > 1 AND {out} THEN {place} END,
                 CASE WHEN {sequence} > 1 AND NOT {out} THEN {person} END,
                 CASE WHEN {out} THEN 'person' ELSE 'place' END,
                 CASE WHEN NOT {out} THEN {place} END, CASE WHEN {out} THEN {person} END,
                 'usable', CASE WHEN {out} THEN 'use' END, CASE WHEN {out} THEN {} END,
                 CASE WHEN {out} THEN {job} END, {}, {at}, {at} FROM n",
            rows(MOVEMENTS), d.id(MOVEMENT, "i"), d.id(ITEM, &item), d.day(&format!("{item} % 30 - 3")),
            d.id(PERSON, &format!("(1 + i % {PEOPLE})")),
        ),
        format!(
            "INSERT INTO custody (item_id, held_by, place_id, person_id, purpose, due, job_id, since, movement_sequence)
             SELECT item_id, to_kind, to_place_id, to_person_id, purpose, due, job_id, recorded_at, item_sequence
             FROM movements WHERE item_sequence = {} AND id >= {}",
            MOVEMENTS / ITEMS, d.id(MOVEMENT, "0"),
        ),
        // The chain's links are not asked for by what is measured here.
        format!(
            "{}INSERT INTO changes (sequence, id, kind, subject_kind, subject_id, subject_version, recorded_at, state, digest,
                 chain_hash)
             SELECT 1000000 + i, {}, 'dovetally.movement.recorded', 'movement', {}, 1, {at}, '{{}}', '', '' FROM n",
            rows(MOVEMENTS), d.id(CHANGE, "i"), d.id(MOVEMENT, "i"),
        ),
    ]
}

fn setups(d: Dialect) -> Vec<String> {
    let rows = Dialect::rows;
    let opened = d.time(&format!("i * {SETUP_EVERY}"));
    let begun = d.time(&format!("i * {SETUP_EVERY} + 600"));
    let ended = d.time(&format!("i * {SETUP_EVERY} + 30000"));
    let machine = d.id(MACHINE, &format!("(1 + i % {MACHINES})"));
    let part = d.id(PART, &format!("(1 + i % {PARTS})"));
    let tool = |which: u32| d.id(ITEM, &format!("(1 + (i * 3 + {which}) % {FORM_TOOLS})"));
    let holder = |which: u32| d.id(ITEM, &format!("({FORM_TOOLS} + 1 + (i * 3 + {which}) % {HOLDERS})"));
    let like_this = "(SELECT * FROM setups ORDER BY opened_at LIMIT 1) AS like_this";
    let mut all = vec![
        format!(
            "{}INSERT INTO setups (id, machine_id, part_id, job_id, state, opened_with, opened_by, opened_at, closed_at, version)
             SELECT {}, {machine}, {part}, {}, 'closed', opened_with, {}, {opened}, {ended}, 20 FROM n, {like_this}",
            rows(SETUPS), d.id(SETUP, "i"), d.id(JOB, &format!("(1 + i % {JOBS})")), d.id(PERSON, "(1 + i % 8)"),
        ),
        format!(
            "{}INSERT INTO setup_events (setup_id, sequence, kind, station, payload, payload_version, recorded_by, occurred_at,
                 recorded_at)
             SELECT {}, sequence, kind, station, payload, payload_version, recorded_by, {begun}, {begun}
             FROM n, (SELECT * FROM setup_events WHERE setup_id = (SELECT id FROM setups
                 WHERE id NOT LIKE '{SETUP:08x}-%' ORDER BY opened_at LIMIT 1) AND sequence <= 12) AS e",
            rows(SETUPS), d.id(SETUP, "i"),
        ),
        format!(
            "{}INSERT INTO runs (id, setup_id, number, machine_id, part_id, job_id, released_sequence, released_at, ended_at,
                 pieces)
             SELECT {}, {}, 1, {machine}, {part}, {}, 20, {begun}, {ended}, 200 + i % 3000 FROM n",
            rows(SETUPS), d.id(RUN, "i"), d.id(SETUP, "i"), d.id(JOB, &format!("(1 + i % {JOBS})")),
        ),
    ];
    for which in 0..3 {
        for item in [tool(which), holder(which)] {
            all.push(format!(
                "{}INSERT INTO run_items (run_id, item_id, station) SELECT {}, {item}, 'S{}' FROM n",
                rows(SETUPS),
                d.id(RUN, "i"),
                which + 1,
            ));
        }
        all.push(format!(
            "{}INSERT INTO gauge_uses (setup_id, placed_sequence, gauge_id, machine_id, station, placed_at, removed_at, tool_id)
             SELECT {}, {}, {}, {machine}, 'S{}', {opened}, {begun}, {} FROM n",
            rows(SETUPS), d.id(SETUP, "i"), which + 1,
            d.id(ITEM, &format!("({} + 1 + i % {GAUGES})", FORM_TOOLS + HOLDERS)), which + 1, tool(which),
        ));
    }
    all
}
