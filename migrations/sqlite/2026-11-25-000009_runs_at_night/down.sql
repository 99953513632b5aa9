DROP INDEX runs_machine_part;
DROP INDEX setups_machine_part;
DROP TABLE spindle_spreads;
DROP TABLE center_height_spindles;
ALTER TABLE center_heights DROP COLUMN station;
ALTER TABLE shop_settings DROP COLUMN provisional_most_minutes;
ALTER TABLE shop_settings DROP COLUMN provisional_most_pieces;
