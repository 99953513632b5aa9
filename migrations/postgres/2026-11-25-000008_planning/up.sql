-- Planning: how long jobs last, and which items are kept for them on which days.

-- The last day of a job, where it is planned.
ALTER TABLE jobs ADD COLUMN planned_end DATE CHECK (planned_end >= planned_start);
-- Jobs that are still to be made, in the order in which they are planned.
CREATE INDEX jobs_state ON jobs (state, planned_start, code);

-- The time of one machine cycle on this part, in seconds, where it is known.
ALTER TABLE parts ADD COLUMN cycle_seconds DOUBLE PRECISION CHECK (cycle_seconds > 0 AND cycle_seconds <= 86400);

CREATE INDEX holders_style ON holders (style);

-- Items kept for jobs. What has ended stays for its history.
CREATE TABLE bookings (
    id TEXT PRIMARY KEY NOT NULL,
    job_id TEXT NOT NULL REFERENCES jobs (id),
    item_id TEXT NOT NULL REFERENCES items (id),
    -- The station's code for which it is kept.
    station TEXT NOT NULL CHECK (length(station) BETWEEN 1 AND 32 AND station = upper(station)),
    first_day DATE NOT NULL,
    last_day DATE NOT NULL CHECK (last_day >= first_day),
    booked_by TEXT NOT NULL REFERENCES people (id),
    booked_at TIMESTAMP NOT NULL,
    -- None for what the program ended: its job was changed, made or called off.
    ended_by TEXT REFERENCES people (id),
    ended_at TIMESTAMP,
    ended_because TEXT CHECK (length(ended_because) BETWEEN 1 AND 1000),
    version BIGINT NOT NULL CHECK (version >= 1),
    CHECK ((ended_at IS NULL) = (ended_because IS NULL)),
    CHECK (ended_by IS NULL OR ended_at IS NOT NULL)
);
CREATE INDEX bookings_job ON bookings (job_id, ended_at);
CREATE INDEX bookings_item ON bookings (item_id, ended_at);
CREATE INDEX bookings_booked_by ON bookings (booked_by);
CREATE INDEX bookings_ended_by ON bookings (ended_by);
CREATE INDEX bookings_in_force ON bookings (last_day) WHERE ended_at IS NULL;

-- One row for each day of each booking in force: an item is kept for one job on one day, whatever the program does.
CREATE TABLE booking_days (
    item_id TEXT NOT NULL REFERENCES items (id),
    day DATE NOT NULL,
    booking_id TEXT NOT NULL REFERENCES bookings (id),
    PRIMARY KEY (item_id, day)
);
CREATE INDEX booking_days_booking ON booking_days (booking_id);
