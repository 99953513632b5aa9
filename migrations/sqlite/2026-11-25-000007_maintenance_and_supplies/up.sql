-- Maintenance plans and work orders; supplies with their ledger.

-- Plans and supplies have codes too. SQLite cannot change a check, so the table is made anew under its own name. What
-- refers to it is held to it at the commit: a code that was lost on the way would fail the whole migration.
PRAGMA defer_foreign_keys = ON;
CREATE TABLE codes_before AS SELECT code, subject_kind, subject_id, alias FROM codes;
DROP TABLE codes;
CREATE TABLE codes (
    code TEXT PRIMARY KEY NOT NULL CHECK (length(code) BETWEEN 1 AND 32 AND code = upper(code)),
    -- `removed`: of something that was taken off the records; it names nothing any more, and stays taken.
    subject_kind TEXT NOT NULL CHECK (subject_kind IN
        ('place', 'machine', 'tool_design', 'item', 'part', 'job', 'maintenance_plan', 'supply', 'removed')),
    subject_id TEXT NOT NULL,
    alias BOOLEAN NOT NULL
);
INSERT INTO codes (code, subject_kind, subject_id, alias)
SELECT code, subject_kind, subject_id, alias FROM codes_before;
DROP TABLE codes_before;
CREATE INDEX codes_subject ON codes (subject_id);

CREATE TABLE maintenance_plans (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE REFERENCES codes (code),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    machine_id TEXT REFERENCES machines (id),
    item_id TEXT REFERENCES items (id),
    -- Anything that has no record of its own, in words.
    other TEXT CHECK (length(other) BETWEEN 1 AND 200),
    -- Texts, as documents.
    steps TEXT NOT NULL,
    cautions TEXT NOT NULL,
    every_days BIGINT CHECK (every_days BETWEEN 1 AND 3650),
    every_pieces BIGINT CHECK (every_pieces BETWEEN 1 AND 1000000000),
    every_setups BIGINT CHECK (every_setups BETWEEN 1 AND 100000),
    every_running_hours BIGINT CHECK (every_running_hours BETWEEN 1 AND 100000),
    due_from_percent INTEGER NOT NULL CHECK (due_from_percent BETWEEN 1 AND 100),
    -- Null while it was never done: then use counts from when the plan was put on record.
    last_done_at TIMESTAMP,
    retired BOOLEAN NOT NULL,
    version BIGINT NOT NULL CHECK (version >= 1),
    created_at TIMESTAMP NOT NULL,
    updated_at TIMESTAMP NOT NULL,
    CHECK ((CASE WHEN machine_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN item_id IS NULL THEN 0 ELSE 1 END)
        + (CASE WHEN other IS NULL THEN 0 ELSE 1 END) = 1),
    CHECK (every_days IS NOT NULL OR every_pieces IS NOT NULL OR every_setups IS NOT NULL
        OR every_running_hours IS NOT NULL),
    CHECK (other IS NULL OR (every_pieces IS NULL AND every_setups IS NULL AND every_running_hours IS NULL))
);
CREATE INDEX maintenance_plans_machine ON maintenance_plans (machine_id, code);
CREATE INDEX maintenance_plans_item ON maintenance_plans (item_id, code);

CREATE TABLE work_orders (
    id TEXT PRIMARY KEY NOT NULL,
    plan_id TEXT REFERENCES maintenance_plans (id),
    machine_id TEXT REFERENCES machines (id),
    item_id TEXT REFERENCES items (id),
    other TEXT CHECK (length(other) BETWEEN 1 AND 200),
    what TEXT NOT NULL CHECK (length(what) BETWEEN 1 AND 1000),
    -- Whether something failed; counted for the machine's reliability, from `down_from` on.
    breakdown BOOLEAN NOT NULL,
    down_from TIMESTAMP,
    down_until TIMESTAMP CHECK (down_until >= down_from),
    state TEXT NOT NULL CHECK (state IN ('open', 'started', 'done', 'cancelled')),
    opened_by TEXT NOT NULL REFERENCES people (id),
    opened_at TIMESTAMP NOT NULL,
    started_by TEXT REFERENCES people (id),
    started_at TIMESTAMP,
    -- Who did it, or called it off.
    ended_by TEXT REFERENCES people (id),
    ended_at TIMESTAMP,
    -- When the work was done, as the person says.
    done_at TIMESTAMP,
    note TEXT CHECK (length(note) BETWEEN 1 AND 2000),
    touched TEXT CHECK (touched IN ('nothing', 'slide', 'spindle_carrier')),
    version BIGINT NOT NULL CHECK (version >= 1),
    CHECK ((CASE WHEN machine_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN item_id IS NULL THEN 0 ELSE 1 END)
        + (CASE WHEN other IS NULL THEN 0 ELSE 1 END) = 1),
    CHECK (NOT (breakdown AND plan_id IS NOT NULL)),
    CHECK (NOT breakdown OR machine_id IS NULL OR down_from IS NOT NULL),
    CHECK (down_from IS NULL OR machine_id IS NOT NULL),
    CHECK (down_until IS NULL OR down_from IS NOT NULL),
    CHECK ((started_by IS NULL) = (started_at IS NULL)),
    CHECK ((ended_by IS NOT NULL) = (state IN ('done', 'cancelled'))),
    CHECK ((ended_at IS NOT NULL) = (state IN ('done', 'cancelled'))),
    -- It ends with a note.
    CHECK ((note IS NOT NULL) = (state IN ('done', 'cancelled'))),
    CHECK ((done_at IS NOT NULL) = (state = 'done')),
    CHECK ((touched IS NOT NULL) = (state = 'done')),
    CHECK (touched IS NULL OR touched = 'nothing' OR machine_id IS NOT NULL)
);
-- One open order a plan.
CREATE UNIQUE INDEX work_orders_one_open_a_plan ON work_orders (plan_id) WHERE ended_at IS NULL;
CREATE INDEX work_orders_plan ON work_orders (plan_id, opened_at, id);
CREATE INDEX work_orders_machine ON work_orders (machine_id, opened_at, id);
CREATE INDEX work_orders_item ON work_orders (item_id, opened_at, id);
CREATE INDEX work_orders_opened_at ON work_orders (opened_at, id);
CREATE INDEX work_orders_open ON work_orders (opened_at, id) WHERE ended_at IS NULL;
CREATE INDEX work_orders_breakdowns ON work_orders (opened_at, id) WHERE breakdown;
CREATE INDEX work_orders_failures ON work_orders (machine_id, down_from) WHERE breakdown;
CREATE INDEX work_orders_opened_by ON work_orders (opened_by);
CREATE INDEX work_orders_started_by ON work_orders (started_by);
CREATE INDEX work_orders_ended_by ON work_orders (ended_by);

-- What is counted and not numbered.
CREATE TABLE supplies (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE REFERENCES codes (code),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    unit TEXT NOT NULL CHECK (length(unit) BETWEEN 1 AND 32),
    minimum BIGINT NOT NULL CHECK (minimum BETWEEN 0 AND 1000000000),
    reorder_quantity BIGINT NOT NULL CHECK (reorder_quantity BETWEEN 1 AND 1000000000),
    lead_time_days BIGINT NOT NULL CHECK (lead_time_days BETWEEN 1 AND 3650),
    place_id TEXT REFERENCES places (id),
    retired BOOLEAN NOT NULL,
    -- As the last movement has it.
    on_hand BIGINT NOT NULL CHECK (on_hand >= 0),
    movements BIGINT NOT NULL CHECK (movements >= 0),
    version BIGINT NOT NULL CHECK (version >= 1),
    created_at TIMESTAMP NOT NULL,
    updated_at TIMESTAMP NOT NULL
);
CREATE INDEX supplies_place_id ON supplies (place_id);
CREATE INDEX supplies_below_minimum ON supplies (code) WHERE on_hand < minimum;

-- The ledger of supplies. Append-only. Each row but the first refers to the one before it and to what was on hand then:
-- the numbers have no gap, no row follows two, and what is on hand is the sum, whatever the code does.
CREATE TABLE supply_movements (
    supply_id TEXT NOT NULL REFERENCES supplies (id),
    number BIGINT NOT NULL CHECK (number >= 1),
    id TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL CHECK (kind IN ('withdrawn', 'received', 'counted')),
    previous_number BIGINT,
    on_hand_before BIGINT NOT NULL,
    change BIGINT NOT NULL,
    on_hand BIGINT NOT NULL CHECK (on_hand >= 0),
    counted BIGINT CHECK (counted >= 0),
    work_order_id TEXT REFERENCES work_orders (id),
    machine_id TEXT REFERENCES machines (id),
    note TEXT CHECK (length(note) BETWEEN 1 AND 1000),
    recorded_by TEXT NOT NULL REFERENCES people (id),
    -- For a count the moment it refers to, else when it was recorded.
    occurred_at TIMESTAMP NOT NULL,
    recorded_at TIMESTAMP NOT NULL,
    PRIMARY KEY (supply_id, number),
    UNIQUE (supply_id, number, on_hand),
    UNIQUE (supply_id, previous_number, on_hand_before),
    FOREIGN KEY (supply_id, previous_number, on_hand_before)
        REFERENCES supply_movements (supply_id, number, on_hand),
    CHECK ((previous_number IS NULL) = (number = 1)),
    CHECK (previous_number IS NULL OR previous_number = number - 1),
    CHECK (previous_number IS NOT NULL OR on_hand_before = 0),
    CHECK (on_hand = on_hand_before + change),
    CHECK (kind <> 'withdrawn' OR change < 0),
    CHECK (kind <> 'received' OR change > 0),
    CHECK ((counted IS NOT NULL) = (kind = 'counted')),
    CHECK (occurred_at <= recorded_at)
);
CREATE INDEX supply_movements_occurred ON supply_movements (supply_id, occurred_at);
CREATE INDEX supply_movements_counts ON supply_movements (supply_id, occurred_at) WHERE counted IS NOT NULL;
CREATE INDEX supply_movements_work_order ON supply_movements (work_order_id, recorded_at);
CREATE INDEX supply_movements_machine_id ON supply_movements (machine_id);
CREATE INDEX supply_movements_recorded_by ON supply_movements (recorded_by);

-- What plans count is summed over years of runs.
CREATE INDEX runs_usage ON runs (machine_id, released_at, ended_at, pieces);
