CREATE TABLE tool_edges_anew (
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
INSERT INTO tool_edges_anew (tool_id, number, design_id, pieces, ended, partly_ground, failed, ended_at)
    SELECT tool_id, number, design_id, pieces, ended, partly_ground, ended = 'worn' AND NOT partly_ground, ended_at FROM tool_edges;
DROP TABLE tool_edges;
ALTER TABLE tool_edges_anew RENAME TO tool_edges;
CREATE INDEX tool_edges_design ON tool_edges (design_id, ended_at, pieces, failed);
ALTER TABLE form_tools DROP COLUMN begun_before;
