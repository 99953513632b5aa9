-- An edge that was cutting before its tool came on record, nobody knows for how many pieces: what it cut since is no edge's life.
ALTER TABLE form_tools ADD COLUMN begun_before BOOLEAN NOT NULL DEFAULT FALSE;
UPDATE form_tools SET begun_before = TRUE
    WHERE height_pm < (SELECT new_height_pm FROM tool_designs WHERE tool_designs.id = form_tools.design_id)
    AND NOT EXISTS (SELECT 1 FROM tool_edges WHERE tool_edges.tool_id = form_tools.item_id);

-- The check of a table cannot be changed here, so the table is made anew; nothing refers to it.
CREATE TABLE tool_edges_anew (
    tool_id TEXT NOT NULL REFERENCES form_tools (item_id),
    number INTEGER NOT NULL CHECK (number >= 1),
    design_id TEXT NOT NULL REFERENCES tool_designs (id),
    pieces BIGINT NOT NULL CHECK (pieces >= 0),
    ended TEXT NOT NULL CHECK (ended IN ('worn', 'early', 'damaged', 'retired')),
    partly_ground BOOLEAN NOT NULL,
    -- Worn, begun on record and never partly ground: a failure in the statistics; all else is a suspension.
    failed BOOLEAN NOT NULL,
    ended_at TIMESTAMP NOT NULL,
    begun_before BOOLEAN NOT NULL DEFAULT FALSE,
    PRIMARY KEY (tool_id, number),
    CHECK (failed = (ended = 'worn' AND NOT partly_ground AND NOT begun_before))
);
INSERT INTO tool_edges_anew (tool_id, number, design_id, pieces, ended, partly_ground, failed, ended_at)
    SELECT tool_id, number, design_id, pieces, ended, partly_ground, failed, ended_at FROM tool_edges;
DROP TABLE tool_edges;
ALTER TABLE tool_edges_anew RENAME TO tool_edges;
CREATE INDEX tool_edges_design ON tool_edges (design_id, ended_at, pieces, failed);
