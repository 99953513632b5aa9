-- What plans ask of a design's newest edges is answered from the index alone.
DROP INDEX tool_edges_design;
CREATE INDEX tool_edges_design ON tool_edges (design_id, ended_at, pieces, failed);
