-- How many of a tool's edges ended: what tells at a glance whether a design's edges are those that were learned from.
ALTER TABLE form_tools ADD COLUMN edges_ended INTEGER NOT NULL DEFAULT 0 CHECK (edges_ended >= 0);
UPDATE form_tools SET edges_ended = (SELECT count(*) FROM tool_edges WHERE tool_edges.tool_id = form_tools.item_id);
