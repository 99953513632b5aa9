DROP INDEX setup_events_recorded_by;
CREATE INDEX setup_events_recorded_by ON setup_events (recorded_by);
