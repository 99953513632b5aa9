DROP TABLE holder_checks;
DROP TABLE impact_entries;
DROP TABLE impacts;
DROP TABLE gauge_bindings;
DROP TABLE gauge_check_proposals;
DROP TABLE gauge_decisions;
DROP TABLE gauge_control;
ALTER TABLE holders DROP COLUMN check_interval_days;
ALTER TABLE center_gauges DROP COLUMN check_interval_days;
