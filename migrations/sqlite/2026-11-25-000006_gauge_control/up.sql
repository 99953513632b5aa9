-- How checks of gauges are decided, to which machine a gauge was bound when, what a gauge that was found wrong has touched,
-- and checks of holders.

ALTER TABLE center_gauges ADD COLUMN check_interval_days INTEGER CHECK (check_interval_days BETWEEN 1 AND 3660);
ALTER TABLE holders ADD COLUMN check_interval_days INTEGER CHECK (check_interval_days BETWEEN 1 AND 3660);

CREATE TABLE gauge_control (
    id INTEGER PRIMARY KEY NOT NULL CHECK (id = 1),
    -- Exactly one of the two: the probability of conformance, or the guard band over the standard uncertainty.
    conformance DOUBLE PRECISION CHECK (conformance >= 0.5 AND conformance < 1),
    guard_factor DOUBLE PRECISION CHECK (guard_factor BETWEEN 0 AND 30),
    impact_when_undecided BOOLEAN NOT NULL,
    version BIGINT NOT NULL CHECK (version >= 1),
    updated_at TIMESTAMP NOT NULL,
    CHECK ((conformance IS NULL) <> (guard_factor IS NULL))
);

-- What a shop starts with: 95 %, by ISO 14253-1.
INSERT INTO gauge_control VALUES (1, 0.95, NULL, FALSE, 1, CURRENT_TIMESTAMP);

-- How a check was decided, for the gauge as it was found and as it was left. Checks of older days have no row.
CREATE TABLE gauge_decisions (
    check_id TEXT NOT NULL REFERENCES gauge_checks (id),
    state TEXT NOT NULL CHECK (state IN ('as_found', 'as_left')),
    conformance DOUBLE PRECISION CHECK (conformance >= 0.5 AND conformance < 1),
    guard_factor DOUBLE PRECISION CHECK (guard_factor BETWEEN 0 AND 30),
    nominal_pm BIGINT NOT NULL CHECK (nominal_pm > 0 AND nominal_pm <= 254000000000000),
    nominal_unit TEXT NOT NULL CHECK (nominal_unit IN ('in', 'mm')),
    lower_pm BIGINT NOT NULL CHECK (lower_pm BETWEEN -254000000000000 AND 254000000000000),
    lower_unit TEXT NOT NULL CHECK (lower_unit IN ('in', 'mm')),
    upper_pm BIGINT NOT NULL CHECK (upper_pm > lower_pm AND upper_pm <= 254000000000000),
    upper_unit TEXT NOT NULL CHECK (upper_unit IN ('in', 'mm')),
    -- None where the guard bands fill the limits; in the nominal height's unit.
    acceptance_lower_pm BIGINT,
    acceptance_upper_pm BIGINT CHECK (acceptance_upper_pm >= acceptance_lower_pm),
    proof TEXT NOT NULL CHECK (proof IN ('accept', 'reject', 'undecided')),
    conformance_probability DOUBLE PRECISION NOT NULL CHECK (conformance_probability BETWEEN 0 AND 1),
    PRIMARY KEY (check_id, state),
    CHECK ((conformance IS NULL) <> (guard_factor IS NULL)),
    CHECK ((acceptance_lower_pm IS NULL) = (acceptance_upper_pm IS NULL)),
    CHECK (proof <> 'accept' OR acceptance_lower_pm IS NOT NULL)
);

-- The day that a gauge's drift proposes for its next check, as it was said with the check.
CREATE TABLE gauge_check_proposals (
    check_id TEXT PRIMARY KEY NOT NULL REFERENCES gauge_checks (id),
    proposed_next_check DATE NOT NULL
);

-- To which machine a gauge was bound, from when until when.
CREATE TABLE gauge_bindings (
    gauge_id TEXT NOT NULL REFERENCES center_gauges (item_id),
    number INTEGER NOT NULL CHECK (number >= 1),
    machine_id TEXT NOT NULL REFERENCES machines (id),
    bound_from TIMESTAMP NOT NULL,
    -- None while it is bound to it.
    bound_until TIMESTAMP CHECK (bound_until >= bound_from),
    -- None for gauges that were bound before this was written down.
    bound_by TEXT REFERENCES people (id),
    -- The check against that machine; none for the first machine, whose check came later.
    check_id TEXT REFERENCES gauge_checks (id),
    PRIMARY KEY (gauge_id, number),
    CHECK ((check_id IS NULL) = (number = 1))
);
-- One machine at a time.
CREATE UNIQUE INDEX gauge_bindings_one_at_a_time ON gauge_bindings (gauge_id) WHERE bound_until IS NULL;
CREATE INDEX gauge_bindings_machine_id ON gauge_bindings (machine_id);
CREATE INDEX gauge_bindings_bound_by ON gauge_bindings (bound_by);
CREATE INDEX gauge_bindings_check_id ON gauge_bindings (check_id);

INSERT INTO gauge_bindings (gauge_id, number, machine_id, bound_from, bound_until, bound_by, check_id)
SELECT center_gauges.item_id, 1, center_gauges.machine_id, items.created_at, NULL, NULL, NULL
FROM center_gauges INNER JOIN items ON items.id = center_gauges.item_id;

-- A document of what a gauge has touched since it was last known to be right.
CREATE TABLE impacts (
    id TEXT PRIMARY KEY NOT NULL,
    gauge_id TEXT NOT NULL REFERENCES center_gauges (item_id),
    -- The machine it was bound to.
    machine_id TEXT NOT NULL REFERENCES machines (id),
    -- The check that found it wrong; none for a document that somebody raised by hand.
    check_id TEXT UNIQUE REFERENCES gauge_checks (id),
    reason TEXT NOT NULL CHECK (length(reason) BETWEEN 1 AND 1000),
    -- The time in doubt, both ends included. No beginning: there was no accepted check before. No end: it was not right yet.
    doubtful_since TIMESTAMP,
    doubtful_until TIMESTAMP CHECK (doubtful_until >= doubtful_since),
    raised_by TEXT NOT NULL REFERENCES people (id),
    raised_at TIMESTAMP NOT NULL,
    -- When it was last held against the records.
    up_to_date_at TIMESTAMP NOT NULL,
    closed_by TEXT REFERENCES people (id),
    closed_at TIMESTAMP,
    closing_note TEXT,
    version BIGINT NOT NULL CHECK (version >= 1),
    CHECK ((closed_by IS NULL) = (closed_at IS NULL)),
    CHECK ((closing_note IS NULL) = (closed_at IS NULL))
);
CREATE INDEX impacts_raised_at ON impacts (raised_at, id);
CREATE INDEX impacts_gauge ON impacts (gauge_id, raised_at, id);
CREATE INDEX impacts_machine_id ON impacts (machine_id);
CREATE INDEX impacts_raised_by ON impacts (raised_by);
CREATE INDEX impacts_closed_by ON impacts (closed_by);
-- One open document for one time of one gauge: who finds it wrong again adds to it.
CREATE UNIQUE INDEX impacts_one_open ON impacts (gauge_id, doubtful_since) WHERE closed_at IS NULL;
CREATE INDEX impacts_open ON impacts (raised_at, id) WHERE closed_at IS NULL;

CREATE TABLE impact_entries (
    impact_id TEXT NOT NULL REFERENCES impacts (id),
    number INTEGER NOT NULL CHECK (number >= 1),
    kind TEXT NOT NULL CHECK (kind IN ('setup', 'run', 'job', 'tool')),
    setup_id TEXT REFERENCES setups (id),
    run_id TEXT REFERENCES runs (id),
    job_id TEXT REFERENCES jobs (id),
    item_id TEXT REFERENCES items (id),
    pieces BIGINT CHECK (pieces >= 0),
    -- The events that show why, as a document.
    evidence TEXT NOT NULL,
    outcome TEXT CHECK (outcome IN ('cleared', 'reworked', 'scrapped', 'accepted_as_is', 'informed')),
    note TEXT CHECK (length(note) BETWEEN 1 AND 1000),
    judged_by TEXT REFERENCES people (id),
    judged_at TIMESTAMP,
    PRIMARY KEY (impact_id, number),
    UNIQUE (impact_id, setup_id),
    UNIQUE (impact_id, run_id),
    UNIQUE (impact_id, job_id),
    UNIQUE (impact_id, item_id),
    CHECK ((setup_id IS NOT NULL) = (kind = 'setup')),
    CHECK ((run_id IS NOT NULL) = (kind = 'run')),
    CHECK ((job_id IS NOT NULL) = (kind = 'job')),
    CHECK ((item_id IS NOT NULL) = (kind = 'tool')),
    CHECK ((outcome IS NULL) = (judged_by IS NULL)),
    CHECK ((outcome IS NULL) = (judged_at IS NULL)),
    CHECK ((outcome IS NULL) = (note IS NULL))
);
CREATE INDEX impact_entries_setup_id ON impact_entries (setup_id);
CREATE INDEX impact_entries_run_id ON impact_entries (run_id);
CREATE INDEX impact_entries_job_id ON impact_entries (job_id);
CREATE INDEX impact_entries_item_id ON impact_entries (item_id);
CREATE INDEX impact_entries_judged_by ON impact_entries (judged_by);

CREATE TABLE holder_checks (
    id TEXT PRIMARY KEY NOT NULL,
    holder_id TEXT NOT NULL REFERENCES holders (item_id),
    accepted BOOLEAN NOT NULL,
    -- What was found, as a list of names.
    found TEXT NOT NULL,
    taper_adjuster_free BOOLEAN,
    height_adjuster_free BOOLEAN,
    side_screw_free BOOLEAN,
    seat_clean BOOLEAN NOT NULL,
    note TEXT CHECK (length(note) BETWEEN 1 AND 1000),
    -- The holder's condition from this check on.
    condition TEXT NOT NULL CHECK (condition IN ('usable', 'needs_check', 'damaged', 'retired')),
    next_check DATE,
    performed_at TIMESTAMP NOT NULL,
    recorded_by TEXT NOT NULL REFERENCES people (id),
    recorded_at TIMESTAMP NOT NULL,
    CHECK (accepted = (condition = 'usable')),
    CHECK (NOT accepted OR seat_clean)
);
CREATE INDEX holder_checks_holder ON holder_checks (holder_id, recorded_at, id);
CREATE INDEX holder_checks_recorded_by ON holder_checks (recorded_by);
