-- Everything that has a code, machines with their guard, tool designs, serialised items, parts and jobs.

-- A code is unique over everything scannable and never used again; a renamed code stays here as an alias.
CREATE TABLE codes (
    code TEXT PRIMARY KEY NOT NULL CHECK (length(code) BETWEEN 1 AND 32 AND code = upper(code)),
    -- `removed`: of something that was taken off the records; it names nothing any more, and stays taken.
    subject_kind TEXT NOT NULL CHECK
        (subject_kind IN ('place', 'machine', 'tool_design', 'item', 'part', 'job', 'removed')),
    subject_id TEXT NOT NULL,
    alias BOOLEAN NOT NULL
);
CREATE INDEX codes_subject ON codes (subject_id);

CREATE TABLE places (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE REFERENCES codes (code),
    name TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('bin', 'shelf', 'cart', 'outside')),
    retired BOOLEAN NOT NULL,
    version BIGINT NOT NULL CHECK (version >= 1),
    created_at TIMESTAMP NOT NULL,
    updated_at TIMESTAMP NOT NULL
);

CREATE TABLE machines (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE REFERENCES codes (code),
    name TEXT NOT NULL,
    spindles INTEGER NOT NULL CHECK (spindles BETWEEN 1 AND 16),
    positions INTEGER NOT NULL CHECK (positions BETWEEN 1 AND 16),
    cutoff_position INTEGER NOT NULL CHECK (cutoff_position BETWEEN 1 AND positions),
    pieces_per_cycle INTEGER NOT NULL CHECK (pieces_per_cycle BETWEEN 1 AND 16),
    spindle_rotation TEXT NOT NULL CHECK (spindle_rotation IN ('clockwise', 'counterclockwise')),
    center_height_nominal_pm BIGINT NOT NULL CHECK (center_height_nominal_pm > 0 AND center_height_nominal_pm <= 254000000000000),
    center_height_nominal_unit TEXT NOT NULL CHECK (center_height_nominal_unit IN ('in', 'mm')),
    spindle_center_spread_pm BIGINT CHECK (spindle_center_spread_pm BETWEEN 0 AND 254000000000000),
    spindle_center_spread_unit TEXT CHECK (spindle_center_spread_unit IN ('in', 'mm')),
    -- The last instant at which the spindle centres may have moved; gauges checked before it are stale.
    centers_may_have_moved_at TIMESTAMP,
    retired BOOLEAN NOT NULL,
    version BIGINT NOT NULL CHECK (version >= 1),
    created_at TIMESTAMP NOT NULL,
    updated_at TIMESTAMP NOT NULL,
    CHECK ((spindle_center_spread_pm IS NULL) = (spindle_center_spread_unit IS NULL))
);

CREATE TABLE machine_stations (
    id TEXT PRIMARY KEY NOT NULL,
    machine_id TEXT NOT NULL REFERENCES machines (id),
    code TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 32 AND code = upper(code)),
    position INTEGER NOT NULL CHECK (position BETWEEN 1 AND 16),
    kind TEXT NOT NULL CHECK (kind IN ('cross_slide', 'end_slide')),
    tool_face TEXT NOT NULL CHECK (tool_face IN ('up', 'down')),
    adjusters TEXT NOT NULL,
    UNIQUE (machine_id, code),
    UNIQUE (machine_id, id)
);

-- The machine guard: every setup event, tag-out and centre-height record begins by raising the version here, and the
-- keys make a gauge in the machine and a release in force exclude each other.
CREATE TABLE machine_states (
    machine_id TEXT PRIMARY KEY NOT NULL REFERENCES machines (id),
    version BIGINT NOT NULL,
    mode TEXT NOT NULL CHECK (mode IN ('idle', 'gauge', 'running')),
    tagged_out BOOLEAN NOT NULL,
    CHECK (NOT (mode = 'running' AND tagged_out)),
    UNIQUE (machine_id, mode)
);

CREATE TABLE center_heights (
    id TEXT PRIMARY KEY NOT NULL,
    machine_id TEXT NOT NULL REFERENCES machines (id),
    measured_pm BIGINT NOT NULL CHECK (measured_pm > 0 AND measured_pm <= 254000000000000),
    measured_unit TEXT NOT NULL CHECK (measured_unit IN ('in', 'mm')),
    standard_uncertainty_pm BIGINT NOT NULL CHECK (standard_uncertainty_pm BETWEEN 0 AND 254000000000000),
    standard_uncertainty_unit TEXT NOT NULL CHECK (standard_uncertainty_unit IN ('in', 'mm')),
    reason TEXT NOT NULL,
    -- Whether work was done that can move the spindle centres.
    after_work BOOLEAN NOT NULL,
    performed_at TIMESTAMP NOT NULL,
    recorded_by TEXT NOT NULL REFERENCES people (id),
    recorded_at TIMESTAMP NOT NULL
);
CREATE INDEX center_heights_machine ON center_heights (machine_id, recorded_at, id);
CREATE INDEX center_heights_recorded_by ON center_heights (recorded_by);

CREATE TABLE tag_outs (
    id TEXT PRIMARY KEY NOT NULL,
    machine_id TEXT NOT NULL REFERENCES machines (id),
    reason TEXT NOT NULL CHECK (length(reason) BETWEEN 1 AND 1000),
    placed_by TEXT NOT NULL REFERENCES people (id),
    placed_at TIMESTAMP NOT NULL,
    cleared_by TEXT REFERENCES people (id),
    cleared_at TIMESTAMP,
    cleared_note TEXT,
    version BIGINT NOT NULL CHECK (version >= 1),
    CHECK ((cleared_by IS NULL) = (cleared_at IS NULL))
);
CREATE INDEX tag_outs_machine ON tag_outs (machine_id, placed_at, id);
CREATE INDEX tag_outs_placed_at ON tag_outs (placed_at, id);
CREATE INDEX tag_outs_placed_by ON tag_outs (placed_by);
CREATE INDEX tag_outs_cleared_by ON tag_outs (cleared_by);

CREATE TABLE tool_designs (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE REFERENCES codes (code),
    name TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('flat', 'circular')),
    tool_face TEXT CHECK (tool_face IN ('up', 'down')),
    rake_deg DOUBLE PRECISION NOT NULL CHECK (rake_deg > -45 AND rake_deg < 45),
    clearance_deg DOUBLE PRECISION NOT NULL CHECK (clearance_deg >= 0 AND clearance_deg < 45),
    -- Profile steps, smallest diameter first, as a document.
    steps TEXT NOT NULL,
    new_height_pm BIGINT NOT NULL CHECK (new_height_pm > 0 AND new_height_pm <= 254000000000000),
    new_height_unit TEXT NOT NULL CHECK (new_height_unit IN ('in', 'mm')),
    minimum_height_pm BIGINT NOT NULL CHECK (minimum_height_pm > 0 AND minimum_height_pm <= new_height_pm),
    minimum_height_unit TEXT NOT NULL CHECK (minimum_height_unit IN ('in', 'mm')),
    grind_stock_pm BIGINT NOT NULL CHECK (grind_stock_pm > 0 AND grind_stock_pm <= 254000000000000),
    grind_stock_unit TEXT NOT NULL CHECK (grind_stock_unit IN ('in', 'mm')),
    holder_style TEXT NOT NULL,
    expected_pieces_per_grind BIGINT NOT NULL CHECK (expected_pieces_per_grind > 0),
    retired BOOLEAN NOT NULL,
    version BIGINT NOT NULL CHECK (version >= 1),
    created_at TIMESTAMP NOT NULL,
    updated_at TIMESTAMP NOT NULL
);

CREATE TABLE items (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE REFERENCES codes (code),
    kind TEXT NOT NULL CHECK (kind IN ('form_tool', 'holder', 'center_gauge', 'other')),
    name TEXT NOT NULL,
    condition TEXT NOT NULL CHECK (condition IN ('usable', 'needs_grinding', 'needs_check', 'damaged', 'retired')),
    version BIGINT NOT NULL CHECK (version >= 1),
    created_at TIMESTAMP NOT NULL,
    updated_at TIMESTAMP NOT NULL,
    UNIQUE (id, kind)
);
CREATE INDEX items_kind ON items (kind, code);

CREATE TABLE form_tools (
    item_id TEXT PRIMARY KEY NOT NULL,
    kind TEXT NOT NULL CHECK (kind = 'form_tool'),
    design_id TEXT NOT NULL REFERENCES tool_designs (id),
    height_pm BIGINT NOT NULL CHECK (height_pm > 0 AND height_pm <= 254000000000000),
    height_unit TEXT NOT NULL CHECK (height_unit IN ('in', 'mm')),
    regrind_count INTEGER NOT NULL CHECK (regrind_count >= 0),
    pieces_since_grind BIGINT NOT NULL CHECK (pieces_since_grind >= 0),
    pieces_total BIGINT NOT NULL CHECK (pieces_total >= pieces_since_grind),
    last_ground_at TIMESTAMP,
    checked_after_grind BOOLEAN NOT NULL,
    FOREIGN KEY (item_id, kind) REFERENCES items (id, kind)
);
CREATE INDEX form_tools_design_id ON form_tools (design_id);

CREATE TABLE holders (
    item_id TEXT PRIMARY KEY NOT NULL,
    kind TEXT NOT NULL CHECK (kind = 'holder'),
    style TEXT NOT NULL CHECK (length(style) BETWEEN 1 AND 64),
    adjusters TEXT NOT NULL,
    next_check DATE,
    FOREIGN KEY (item_id, kind) REFERENCES items (id, kind)
);

CREATE TABLE center_gauges (
    item_id TEXT PRIMARY KEY NOT NULL,
    kind TEXT NOT NULL CHECK (kind = 'center_gauge'),
    -- Exactly one machine, never none.
    machine_id TEXT NOT NULL REFERENCES machines (id),
    nominal_pm BIGINT NOT NULL CHECK (nominal_pm > 0 AND nominal_pm <= 254000000000000),
    nominal_unit TEXT NOT NULL CHECK (nominal_unit IN ('in', 'mm')),
    lower_pm BIGINT NOT NULL CHECK (lower_pm BETWEEN -254000000000000 AND 254000000000000),
    lower_unit TEXT NOT NULL CHECK (lower_unit IN ('in', 'mm')),
    upper_pm BIGINT NOT NULL CHECK (upper_pm BETWEEN lower_pm AND 254000000000000),
    upper_unit TEXT NOT NULL CHECK (upper_unit IN ('in', 'mm')),
    next_check DATE,
    -- The last accepted check against this machine.
    last_accepted_check_at TIMESTAMP,
    UNIQUE (item_id, machine_id),
    FOREIGN KEY (item_id, kind) REFERENCES items (id, kind)
);
CREATE INDEX center_gauges_machine_id ON center_gauges (machine_id);

-- The stations a gauge is limited to; none means every station of its machine.
CREATE TABLE center_gauge_stations (
    gauge_id TEXT NOT NULL,
    machine_id TEXT NOT NULL,
    station_id TEXT NOT NULL,
    PRIMARY KEY (gauge_id, station_id),
    FOREIGN KEY (gauge_id, machine_id) REFERENCES center_gauges (item_id, machine_id),
    FOREIGN KEY (machine_id, station_id) REFERENCES machine_stations (machine_id, id)
);
CREATE INDEX center_gauge_stations_gauge ON center_gauge_stations (gauge_id, machine_id);
CREATE INDEX center_gauge_stations_station ON center_gauge_stations (machine_id, station_id);

CREATE TABLE gauge_checks (
    id TEXT PRIMARY KEY NOT NULL,
    gauge_id TEXT NOT NULL REFERENCES center_gauges (item_id),
    machine_id TEXT NOT NULL REFERENCES machines (id),
    as_found_pm BIGINT NOT NULL CHECK (as_found_pm > 0 AND as_found_pm <= 254000000000000),
    as_found_unit TEXT NOT NULL CHECK (as_found_unit IN ('in', 'mm')),
    as_left_pm BIGINT CHECK (as_left_pm > 0 AND as_left_pm <= 254000000000000),
    as_left_unit TEXT CHECK (as_left_unit IN ('in', 'mm')),
    standard_uncertainty_pm BIGINT NOT NULL CHECK (standard_uncertainty_pm BETWEEN 0 AND 254000000000000),
    standard_uncertainty_unit TEXT NOT NULL CHECK (standard_uncertainty_unit IN ('in', 'mm')),
    accepted BOOLEAN NOT NULL,
    certificate TEXT,
    next_check DATE NOT NULL,
    performed_at TIMESTAMP NOT NULL,
    recorded_by TEXT NOT NULL REFERENCES people (id),
    recorded_at TIMESTAMP NOT NULL,
    CHECK ((as_left_pm IS NULL) = (as_left_unit IS NULL))
);
CREATE INDEX gauge_checks_gauge ON gauge_checks (gauge_id, recorded_at, id);
CREATE INDEX gauge_checks_machine_id ON gauge_checks (machine_id);
CREATE INDEX gauge_checks_recorded_by ON gauge_checks (recorded_by);

CREATE TABLE parts (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE REFERENCES codes (code),
    name TEXT NOT NULL,
    retired BOOLEAN NOT NULL,
    version BIGINT NOT NULL CHECK (version >= 1),
    created_at TIMESTAMP NOT NULL,
    updated_at TIMESTAMP NOT NULL
);

CREATE TABLE part_operations (
    part_id TEXT NOT NULL REFERENCES parts (id),
    -- The station's code; the same part may run on several machines with such a station.
    station TEXT NOT NULL CHECK (length(station) BETWEEN 1 AND 32 AND station = upper(station)),
    tool_design_id TEXT REFERENCES tool_designs (id),
    holder_style TEXT,
    features TEXT NOT NULL,
    PRIMARY KEY (part_id, station)
);
CREATE INDEX part_operations_tool_design_id ON part_operations (tool_design_id);

CREATE TABLE jobs (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE REFERENCES codes (code),
    part_id TEXT NOT NULL REFERENCES parts (id),
    machine_id TEXT NOT NULL REFERENCES machines (id),
    quantity BIGINT NOT NULL CHECK (quantity > 0),
    planned_start DATE NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('planned', 'done', 'cancelled')),
    version BIGINT NOT NULL CHECK (version >= 1),
    created_at TIMESTAMP NOT NULL,
    updated_at TIMESTAMP NOT NULL
);
CREATE INDEX jobs_part_id ON jobs (part_id);
CREATE INDEX jobs_machine_id ON jobs (machine_id);
