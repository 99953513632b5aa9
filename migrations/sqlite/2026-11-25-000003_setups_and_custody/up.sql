-- Setups with their events and guards, custody with its ledger.

CREATE TABLE setups (
    id TEXT PRIMARY KEY NOT NULL,
    machine_id TEXT NOT NULL REFERENCES machines (id),
    part_id TEXT NOT NULL REFERENCES parts (id),
    job_id TEXT REFERENCES jobs (id),
    state TEXT NOT NULL CHECK (state IN ('setting', 'released', 'stopped', 'closed', 'abandoned')),
    -- What the setup was opened with: settings, stations, operations and features, so that its rules do not shift.
    opened_with TEXT NOT NULL,
    opened_by TEXT NOT NULL REFERENCES people (id),
    opened_at TIMESTAMP NOT NULL,
    closed_at TIMESTAMP,
    version BIGINT NOT NULL CHECK (version >= 1),
    CHECK ((closed_at IS NULL) = (state NOT IN ('closed', 'abandoned')))
);
-- One open setup a machine.
CREATE UNIQUE INDEX setups_one_open_a_machine ON setups (machine_id) WHERE closed_at IS NULL;
CREATE INDEX setups_machine_id ON setups (machine_id, opened_at, id);
CREATE INDEX setups_part_id ON setups (part_id, opened_at, id);
CREATE INDEX setups_job_id ON setups (job_id);
CREATE INDEX setups_opened_by ON setups (opened_by);
CREATE INDEX setups_opened_at ON setups (opened_at, id);

CREATE TABLE setup_events (
    setup_id TEXT NOT NULL REFERENCES setups (id),
    sequence BIGINT NOT NULL CHECK (sequence >= 1),
    kind TEXT NOT NULL,
    station TEXT,
    payload TEXT NOT NULL,
    payload_version INTEGER NOT NULL,
    recorded_by TEXT NOT NULL REFERENCES people (id),
    occurred_at TIMESTAMP NOT NULL,
    recorded_at TIMESTAMP NOT NULL,
    PRIMARY KEY (setup_id, sequence)
);
CREATE INDEX setup_events_recorded_by ON setup_events (recorded_by);

-- Items in an open setup; each in one at most. Rows leave when the item is taken out or the setup is closed.
CREATE TABLE items_in_setups (
    item_id TEXT PRIMARY KEY NOT NULL REFERENCES items (id),
    setup_id TEXT NOT NULL REFERENCES setups (id),
    station TEXT NOT NULL
);
CREATE INDEX items_in_setups_setup_id ON items_in_setups (setup_id);

CREATE TABLE gauges_in_machines (
    gauge_id TEXT PRIMARY KEY NOT NULL,
    machine_id TEXT NOT NULL,
    setup_id TEXT NOT NULL REFERENCES setups (id),
    station TEXT NOT NULL,
    mode TEXT NOT NULL CHECK (mode = 'gauge'),
    -- The gauge is cut to this machine, and the machine's mode says that a gauge is in it.
    FOREIGN KEY (gauge_id, machine_id) REFERENCES center_gauges (item_id, machine_id),
    FOREIGN KEY (machine_id, mode) REFERENCES machine_states (machine_id, mode),
    UNIQUE (setup_id, station)
);
CREATE INDEX gauges_in_machines_gauge ON gauges_in_machines (gauge_id, machine_id);
CREATE INDEX gauges_in_machines_machine ON gauges_in_machines (machine_id, mode);

CREATE TABLE releases_in_force (
    setup_id TEXT PRIMARY KEY NOT NULL REFERENCES setups (id),
    machine_id TEXT NOT NULL UNIQUE,
    mode TEXT NOT NULL CHECK (mode = 'running'),
    FOREIGN KEY (machine_id, mode) REFERENCES machine_states (machine_id, mode)
);
CREATE INDEX releases_in_force_machine ON releases_in_force (machine_id, mode);

-- Where each item is now, exactly one of place, person and machine.
CREATE TABLE custody (
    item_id TEXT PRIMARY KEY NOT NULL REFERENCES items (id),
    held_by TEXT NOT NULL CHECK (held_by IN ('place', 'person', 'machine')),
    place_id TEXT REFERENCES places (id),
    person_id TEXT REFERENCES people (id),
    machine_id TEXT REFERENCES machines (id),
    purpose TEXT CHECK (purpose IN ('use', 'grind', 'check')),
    due DATE,
    job_id TEXT REFERENCES jobs (id),
    -- The machine it was handed out for, wherever it is.
    for_machine_id TEXT REFERENCES machines (id),
    since TIMESTAMP NOT NULL,
    -- The number of the last movement; raising it is the lock on the item.
    movement_sequence BIGINT NOT NULL CHECK (movement_sequence >= 1),
    CHECK ((place_id IS NOT NULL) = (held_by = 'place')),
    CHECK ((person_id IS NOT NULL) = (held_by = 'person')),
    CHECK ((machine_id IS NOT NULL) = (held_by = 'machine'))
);
CREATE INDEX custody_place_id ON custody (place_id);
CREATE INDEX custody_person_id ON custody (person_id);
CREATE INDEX custody_machine_id ON custody (machine_id);
CREATE INDEX custody_job_id ON custody (job_id);
CREATE INDEX custody_for_machine_id ON custody (for_machine_id);
CREATE INDEX custody_due ON custody (due);

-- The ledger. Append-only; an item's movements are numbered without a gap, so that two movements cannot both follow
-- the same one.
CREATE TABLE movements (
    id TEXT PRIMARY KEY NOT NULL,
    item_id TEXT NOT NULL REFERENCES items (id),
    item_sequence BIGINT NOT NULL CHECK (item_sequence >= 1),
    kind TEXT NOT NULL CHECK (kind IN ('registered', 'checked_out', 'checked_in', 'transferred', 'setup')),
    from_kind TEXT CHECK (from_kind IN ('place', 'person', 'machine')),
    from_place_id TEXT REFERENCES places (id),
    from_person_id TEXT REFERENCES people (id),
    from_machine_id TEXT REFERENCES machines (id),
    to_kind TEXT NOT NULL CHECK (to_kind IN ('place', 'person', 'machine')),
    to_place_id TEXT REFERENCES places (id),
    to_person_id TEXT REFERENCES people (id),
    to_machine_id TEXT REFERENCES machines (id),
    condition TEXT NOT NULL CHECK (condition IN ('usable', 'needs_grinding', 'needs_check', 'damaged', 'retired')),
    purpose TEXT CHECK (purpose IN ('use', 'grind', 'check')),
    due DATE,
    job_id TEXT REFERENCES jobs (id),
    for_machine_id TEXT REFERENCES machines (id),
    setup_id TEXT REFERENCES setups (id),
    recorded_by TEXT NOT NULL REFERENCES people (id),
    occurred_at TIMESTAMP NOT NULL,
    recorded_at TIMESTAMP NOT NULL,
    UNIQUE (item_id, item_sequence),
    CHECK ((to_place_id IS NOT NULL) = (to_kind = 'place')),
    CHECK ((to_person_id IS NOT NULL) = (to_kind = 'person')),
    CHECK ((to_machine_id IS NOT NULL) = (to_kind = 'machine')),
    CHECK ((from_kind IS NULL) = (item_sequence = 1))
);
CREATE INDEX movements_recorded_at ON movements (recorded_at, id);
CREATE INDEX movements_item ON movements (item_id, recorded_at, id);
CREATE INDEX movements_from_place ON movements (from_place_id);
CREATE INDEX movements_from_person ON movements (from_person_id, recorded_at, id);
CREATE INDEX movements_from_machine ON movements (from_machine_id, recorded_at, id);
CREATE INDEX movements_to_place ON movements (to_place_id);
CREATE INDEX movements_to_person ON movements (to_person_id, recorded_at, id);
CREATE INDEX movements_to_machine ON movements (to_machine_id, recorded_at, id);
CREATE INDEX movements_job_id ON movements (job_id);
CREATE INDEX movements_for_machine_id ON movements (for_machine_id);
CREATE INDEX movements_setup_id ON movements (setup_id);
CREATE INDEX movements_recorded_by ON movements (recorded_by);
