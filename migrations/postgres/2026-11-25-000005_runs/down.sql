DROP TABLE gauge_uses;
DROP TABLE run_items;
DROP TABLE runs;
