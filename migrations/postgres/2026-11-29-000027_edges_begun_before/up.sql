-- An edge that was cutting before its tool came on record, nobody knows for how many pieces: what it cut since is no edge's life.
ALTER TABLE form_tools ADD COLUMN begun_before BOOLEAN NOT NULL DEFAULT FALSE;
UPDATE form_tools SET begun_before = TRUE
    WHERE height_pm < (SELECT new_height_pm FROM tool_designs WHERE tool_designs.id = form_tools.design_id)
    AND NOT EXISTS (SELECT 1 FROM tool_edges WHERE tool_edges.tool_id = form_tools.item_id);

ALTER TABLE tool_edges ADD COLUMN begun_before BOOLEAN NOT NULL DEFAULT FALSE;
ALTER TABLE tool_edges DROP CONSTRAINT tool_edges_check;
-- Worn, begun on record and never partly ground: a failure in the statistics; all else is a suspension.
ALTER TABLE tool_edges ADD CONSTRAINT tool_edges_check
    CHECK (failed = (ended = 'worn' AND NOT partly_ground AND NOT begun_before));
