-- What is in force is listed over all machines; what was cleared stays for years.
CREATE INDEX tag_outs_in_force ON tag_outs (placed_at, id) WHERE cleared_at IS NULL;
