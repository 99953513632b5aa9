-- How far a release may go that rests on a second setter's judgement; none where the shop does not know it.
ALTER TABLE shop_settings ADD COLUMN provisional_most_pieces BIGINT
    CHECK (provisional_most_pieces BETWEEN 1 AND 1000000);
ALTER TABLE shop_settings ADD COLUMN provisional_most_minutes INTEGER
    CHECK (provisional_most_minutes BETWEEN 1 AND 1440
        AND (provisional_most_minutes IS NULL) = (provisional_most_pieces IS NULL));

-- The station at which a centre height was measured; none for one that holds for the machine.
ALTER TABLE center_heights ADD COLUMN station TEXT CHECK (length(station) BETWEEN 1 AND 32);

-- What was found at each spindle.
CREATE TABLE center_height_spindles (
    center_height_id TEXT NOT NULL REFERENCES center_heights (id),
    spindle INTEGER NOT NULL CHECK (spindle BETWEEN 1 AND 16),
    measured_pm BIGINT NOT NULL CHECK (measured_pm > 0 AND measured_pm <= 254000000000000),
    measured_unit TEXT NOT NULL CHECK (measured_unit IN ('in', 'mm')),
    PRIMARY KEY (center_height_id, spindle)
);

-- How far a machine's spindle centres lie apart by the newest measurement of its spindles, for each station at which
-- they were measured; for the machine where the station is empty. One row to read with every step of a setup.
CREATE TABLE spindle_spreads (
    machine_id TEXT NOT NULL REFERENCES machines (id),
    station TEXT NOT NULL,
    center_height_id TEXT NOT NULL REFERENCES center_heights (id),
    spread_pm BIGINT NOT NULL CHECK (spread_pm BETWEEN 0 AND 254000000000000),
    spread_unit TEXT NOT NULL CHECK (spread_unit IN ('in', 'mm')),
    PRIMARY KEY (machine_id, station)
);
CREATE INDEX spindle_spreads_center_height ON spindle_spreads (center_height_id);

-- The last setups, and the last runs, of one part on one machine.
CREATE INDEX setups_machine_part ON setups (machine_id, part_id, opened_at, id);
CREATE INDEX runs_machine_part ON runs (machine_id, part_id, released_at);
