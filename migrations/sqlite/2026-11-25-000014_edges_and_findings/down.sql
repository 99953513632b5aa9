DROP INDEX items_kind_condition;
DROP TABLE regrind_grinders;
ALTER TABLE tool_checks DROP COLUMN edge_cleared;
ALTER TABLE tool_checks DROP COLUMN edge_doubted;
DROP TABLE pieces_to_book;
DROP TABLE edge_turns;
ALTER TABLE tool_designs DROP COLUMN rake_tolerance_deg;
