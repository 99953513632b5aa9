-- Every instant at which a machine's spindle centres may have moved; the machine's own column keeps the last one.
CREATE TABLE centers_moved (
    machine_id TEXT NOT NULL REFERENCES machines (id),
    moved_at TIMESTAMP NOT NULL,
    PRIMARY KEY (machine_id, moved_at)
);
INSERT INTO centers_moved (machine_id, moved_at)
SELECT id, centers_may_have_moved_at FROM machines WHERE centers_may_have_moved_at IS NOT NULL;
CREATE INDEX gauge_uses_placed_at ON gauge_uses (placed_at, setup_id, placed_sequence);
