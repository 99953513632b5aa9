DROP INDEX center_heights_station;
