ALTER TABLE tool_edges DROP CONSTRAINT tool_edges_check;
UPDATE tool_edges SET failed = (ended = 'worn' AND NOT partly_ground);
ALTER TABLE tool_edges ADD CONSTRAINT tool_edges_check CHECK (failed = (ended = 'worn' AND NOT partly_ground));
ALTER TABLE tool_edges DROP COLUMN begun_before;
ALTER TABLE form_tools DROP COLUMN begun_before;
