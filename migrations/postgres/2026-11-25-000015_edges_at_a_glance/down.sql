DROP INDEX tool_edges_design;
CREATE INDEX tool_edges_design ON tool_edges (design_id, ended_at);
