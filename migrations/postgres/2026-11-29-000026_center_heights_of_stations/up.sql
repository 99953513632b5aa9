-- The newest measurement at one station of a machine, or of the machine as a whole.
CREATE INDEX center_heights_station ON center_heights (machine_id, station, recorded_at, id);
