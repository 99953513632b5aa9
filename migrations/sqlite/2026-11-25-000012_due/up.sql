-- What is due next, over all gauges and holders.
CREATE INDEX center_gauges_next_check ON center_gauges (next_check);
CREATE INDEX holders_next_check ON holders (next_check);
