DROP TABLE booking_days;
DROP TABLE bookings;
DROP INDEX holders_style;
ALTER TABLE parts DROP COLUMN cycle_seconds;
DROP INDEX jobs_state;
ALTER TABLE jobs DROP COLUMN planned_end;
