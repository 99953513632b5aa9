-- What setups' events tell of runs and of gauges used, kept beside them so that years of it can be asked at once. The
-- program's verification holds these rows against the events.

CREATE TABLE runs (
    id TEXT PRIMARY KEY NOT NULL,
    setup_id TEXT NOT NULL REFERENCES setups (id),
    -- Its number in the setup.
    number INTEGER NOT NULL CHECK (number >= 1),
    machine_id TEXT NOT NULL REFERENCES machines (id),
    part_id TEXT NOT NULL REFERENCES parts (id),
    job_id TEXT REFERENCES jobs (id),
    -- The number of the event that released it.
    released_sequence BIGINT NOT NULL CHECK (released_sequence >= 1),
    released_at TIMESTAMP NOT NULL,
    -- None while the release is in force.
    ended_at TIMESTAMP CHECK (ended_at >= released_at),
    -- None until they are booked.
    pieces BIGINT CHECK (pieces >= 0),
    UNIQUE (setup_id, number),
    CHECK (pieces IS NULL OR ended_at IS NOT NULL)
);
CREATE INDEX runs_machine ON runs (machine_id, released_at);
CREATE INDEX runs_part ON runs (part_id, released_at);
CREATE INDEX runs_job ON runs (job_id);

-- The holders and tools that a run ran with.
CREATE TABLE run_items (
    run_id TEXT NOT NULL REFERENCES runs (id),
    item_id TEXT NOT NULL REFERENCES items (id),
    station TEXT NOT NULL,
    PRIMARY KEY (run_id, item_id)
);
CREATE INDEX run_items_item ON run_items (item_id, run_id);

-- One row for each stay of a gauge in a machine.
CREATE TABLE gauge_uses (
    setup_id TEXT NOT NULL REFERENCES setups (id),
    -- The number of the event that placed it.
    placed_sequence BIGINT NOT NULL CHECK (placed_sequence >= 1),
    gauge_id TEXT NOT NULL REFERENCES center_gauges (item_id),
    machine_id TEXT NOT NULL REFERENCES machines (id),
    station TEXT NOT NULL,
    placed_at TIMESTAMP NOT NULL,
    removed_at TIMESTAMP CHECK (removed_at >= placed_at),
    -- The tool whose edge was last read on it.
    tool_id TEXT REFERENCES items (id),
    PRIMARY KEY (setup_id, placed_sequence)
);
CREATE INDEX gauge_uses_gauge ON gauge_uses (gauge_id, placed_at);
CREATE INDEX gauge_uses_machine ON gauge_uses (machine_id, placed_at);
CREATE INDEX gauge_uses_tool ON gauge_uses (tool_id, placed_at);
