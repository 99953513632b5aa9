DROP INDEX holders_next_check;
DROP INDEX center_gauges_next_check;
