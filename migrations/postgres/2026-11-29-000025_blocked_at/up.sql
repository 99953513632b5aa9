-- When an item was last judged not usable: no check that was done before says that it may be used again. What was only put
-- on record has no such instant.
ALTER TABLE items ADD COLUMN blocked_at TIMESTAMP;
UPDATE items SET blocked_at = updated_at WHERE condition <> 'usable' AND version > 1;
