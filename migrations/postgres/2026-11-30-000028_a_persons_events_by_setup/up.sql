-- Where somebody worked last is asked of the open setups, not of all that they ever recorded.
DROP INDEX setup_events_recorded_by;
CREATE INDEX setup_events_recorded_by ON setup_events (recorded_by, setup_id, recorded_at);
