DROP TABLE parts_counted;
DROP TABLE work_called_off;
ALTER TABLE runs DROP COLUMN pieces_are;
