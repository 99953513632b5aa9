-- The life of form tools: grinds, checks, edges, whose a tool is and what its owner consented to.

-- Circular designs: the radius along which arcs are measured, and the angle that a new tool has to give.
ALTER TABLE tool_designs ADD COLUMN tool_radius_pm BIGINT CHECK (tool_radius_pm > 0 AND tool_radius_pm <= 254000000000000);
ALTER TABLE tool_designs ADD COLUMN tool_radius_unit TEXT CHECK
    (tool_radius_unit IN ('in', 'mm') AND (tool_radius_pm IS NULL) = (tool_radius_unit IS NULL));
ALTER TABLE tool_designs ADD COLUMN usable_angle_deg DOUBLE PRECISION CHECK
    (usable_angle_deg IS NULL OR (usable_angle_deg > 0 AND usable_angle_deg <= 360 AND tool_radius_pm IS NOT NULL));
ALTER TABLE tool_designs ADD COLUMN lead_time_days INTEGER CHECK (lead_time_days BETWEEN 0 AND 3650);

-- Whose a tool is and what it is kept for; no row for the shop's own that serve any part.
CREATE TABLE tool_belongings (
    tool_id TEXT PRIMARY KEY NOT NULL REFERENCES form_tools (item_id),
    owner TEXT CHECK (length(owner) BETWEEN 1 AND 100),
    -- A customer's tool is always kept for a part.
    reserved_for TEXT NOT NULL REFERENCES parts (id)
);
CREATE INDEX tool_belongings_reserved_for ON tool_belongings (reserved_for);

CREATE TABLE tool_consents (
    id TEXT PRIMARY KEY NOT NULL,
    tool_id TEXT NOT NULL REFERENCES form_tools (item_id),
    kind TEXT NOT NULL CHECK (kind IN ('grind', 'scrap', 'lend')),
    part_id TEXT REFERENCES parts (id),
    given_by TEXT NOT NULL CHECK (length(given_by) BETWEEN 1 AND 100),
    valid_until DATE,
    note TEXT,
    recorded_by TEXT NOT NULL REFERENCES people (id),
    recorded_at TIMESTAMP NOT NULL,
    withdrawn_by TEXT REFERENCES people (id),
    withdrawn_at TIMESTAMP,
    version BIGINT NOT NULL CHECK (version >= 1),
    CHECK ((part_id IS NOT NULL) = (kind = 'lend')),
    CHECK ((withdrawn_by IS NULL) = (withdrawn_at IS NULL))
);
CREATE INDEX tool_consents_tool ON tool_consents (tool_id, recorded_at, id);
CREATE INDEX tool_consents_part_id ON tool_consents (part_id);
CREATE INDEX tool_consents_recorded_by ON tool_consents (recorded_by);
CREATE INDEX tool_consents_withdrawn_by ON tool_consents (withdrawn_by);

-- Append-only; a tool's grinds are numbered without a gap, so that two cannot both follow the same one.
CREATE TABLE regrinds (
    id TEXT PRIMARY KEY NOT NULL,
    tool_id TEXT NOT NULL REFERENCES form_tools (item_id),
    number INTEGER NOT NULL CHECK (number >= 1),
    kind TEXT NOT NULL CHECK (kind IN ('full', 'touch_up', 'partial')),
    -- What the record said before it.
    height_on_record_pm BIGINT NOT NULL CHECK (height_on_record_pm > 0 AND height_on_record_pm <= 254000000000000),
    height_on_record_unit TEXT NOT NULL CHECK (height_on_record_unit IN ('in', 'mm')),
    height_before_pm BIGINT NOT NULL CHECK (height_before_pm > 0 AND height_before_pm <= 254000000000000),
    height_before_unit TEXT NOT NULL CHECK (height_before_unit IN ('in', 'mm')),
    height_after_pm BIGINT NOT NULL CHECK (height_after_pm > 0 AND height_after_pm <= height_on_record_pm),
    height_after_unit TEXT NOT NULL CHECK (height_after_unit IN ('in', 'mm')),
    stock_pm BIGINT CHECK (stock_pm > 0 AND stock_pm <= 254000000000000),
    stock_unit TEXT CHECK (stock_unit IN ('in', 'mm')),
    wear_land_pm BIGINT CHECK (wear_land_pm > 0 AND wear_land_pm <= 254000000000000),
    wear_land_unit TEXT CHECK (wear_land_unit IN ('in', 'mm')),
    clean_up_pm BIGINT CHECK (clean_up_pm BETWEEN 0 AND 254000000000000),
    clean_up_unit TEXT CHECK (clean_up_unit IN ('in', 'mm')),
    regrind_count INTEGER NOT NULL CHECK (regrind_count >= 0),
    pieces_on_edge BIGINT NOT NULL CHECK (pieces_on_edge >= 0),
    edge_ended TEXT CHECK (edge_ended IN ('worn', 'early', 'damaged')),
    wheel TEXT CHECK (length(wheel) BETWEEN 1 AND 100),
    dressed BOOLEAN NOT NULL,
    burn_seen BOOLEAN NOT NULL,
    rake_deg DOUBLE PRECISION CHECK (rake_deg > -45 AND rake_deg < 45),
    face_offset_pm BIGINT CHECK (face_offset_pm BETWEEN -254000000000000 AND 254000000000000),
    face_offset_unit TEXT CHECK (face_offset_unit IN ('in', 'mm')),
    profile_checked BOOLEAN NOT NULL,
    -- Whether the tool came out below its design's minimum and was retired with it.
    retired BOOLEAN NOT NULL,
    remarks TEXT NOT NULL,
    note TEXT CHECK (length(note) BETWEEN 1 AND 1000),
    occurred_at TIMESTAMP NOT NULL,
    recorded_by TEXT NOT NULL REFERENCES people (id),
    recorded_at TIMESTAMP NOT NULL,
    UNIQUE (tool_id, number),
    CHECK ((edge_ended IS NOT NULL) = (kind = 'full')),
    CHECK (kind <> 'touch_up' OR height_after_pm = height_on_record_pm),
    CHECK (kind = 'touch_up' OR height_after_pm < height_before_pm),
    CHECK ((stock_pm IS NULL) = (stock_unit IS NULL)),
    CHECK ((wear_land_pm IS NULL) = (wear_land_unit IS NULL)),
    CHECK ((clean_up_pm IS NULL) = (clean_up_unit IS NULL)),
    CHECK ((face_offset_pm IS NULL) = (face_offset_unit IS NULL))
);
CREATE INDEX regrinds_tool ON regrinds (tool_id, recorded_at, id);
CREATE INDEX regrinds_recorded_by ON regrinds (recorded_by);

CREATE TABLE tool_checks (
    id TEXT PRIMARY KEY NOT NULL,
    tool_id TEXT NOT NULL REFERENCES form_tools (item_id),
    -- The number of the tool's last grind when it was checked; zero for none.
    after_grind INTEGER NOT NULL CHECK (after_grind >= 0),
    accepted BOOLEAN NOT NULL,
    condition TEXT NOT NULL CHECK (condition IN ('usable', 'needs_grinding', 'damaged', 'retired')),
    profile_checked BOOLEAN NOT NULL,
    edge_sound BOOLEAN NOT NULL,
    height_pm BIGINT CHECK (height_pm > 0 AND height_pm <= 254000000000000),
    height_unit TEXT CHECK (height_unit IN ('in', 'mm')),
    rake_deg DOUBLE PRECISION CHECK (rake_deg > -45 AND rake_deg < 45),
    face_offset_pm BIGINT CHECK (face_offset_pm BETWEEN -254000000000000 AND 254000000000000),
    face_offset_unit TEXT CHECK (face_offset_unit IN ('in', 'mm')),
    found TEXT NOT NULL,
    remarks TEXT NOT NULL,
    note TEXT CHECK (length(note) BETWEEN 1 AND 1000),
    performed_at TIMESTAMP NOT NULL,
    recorded_by TEXT NOT NULL REFERENCES people (id),
    recorded_at TIMESTAMP NOT NULL,
    CHECK (accepted = (condition = 'usable')),
    CHECK ((height_pm IS NULL) = (height_unit IS NULL)),
    CHECK ((face_offset_pm IS NULL) = (face_offset_unit IS NULL))
);
CREATE INDEX tool_checks_tool ON tool_checks (tool_id, recorded_at, id);
CREATE INDEX tool_checks_recorded_by ON tool_checks (recorded_by);

-- Edges that ended. The edge in use is the tool's own count of pieces since its last full grind.
CREATE TABLE tool_edges (
    tool_id TEXT NOT NULL REFERENCES form_tools (item_id),
    number INTEGER NOT NULL CHECK (number >= 1),
    design_id TEXT NOT NULL REFERENCES tool_designs (id),
    pieces BIGINT NOT NULL CHECK (pieces >= 0),
    ended TEXT NOT NULL CHECK (ended IN ('worn', 'early', 'damaged', 'retired')),
    partly_ground BOOLEAN NOT NULL,
    -- Worn and never partly ground: a failure in the statistics; all else is a suspension.
    failed BOOLEAN NOT NULL,
    ended_at TIMESTAMP NOT NULL,
    PRIMARY KEY (tool_id, number),
    CHECK (failed = (ended = 'worn' AND NOT partly_ground))
);
CREATE INDEX tool_edges_design ON tool_edges (design_id, ended_at);
